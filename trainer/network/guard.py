"""Source guard: source address validation on a port by the binding table (RFC 7039, RFC 7513 8.1 and 8.2)."""

from trainer.network.addresses import Mac
from trainer.network.devices import Missing, Part, PortRef, SettingId
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.topology import Running

__all__ = ["check", "check_sender"]


def check(running: Running, port: PortRef, packet: Packet) -> Dropped | None:
    """None where the port lets the packet in.

    A guarded port passes a packet whose (port, VLAN, MAC, source address) has a row. A DHCP client message without
    an address passes (RFC 7513 8.2); one with an address needs its row as any other packet does.
    """
    if packet.payload is Payload.DHCP_REQUEST and packet.source == 0:
        return None
    return _check(running, port, packet.source_mac, packet.source)


def check_sender(running: Running, port: PortRef, mac: Mac, address: int) -> Dropped | None:
    """The same for the sender of an ARP message; a probe has no sender's address and passes (RFC 7513 8.2, RFC 5227 1.1)."""
    return None if address == 0 else _check(running, port, mac, address)


def _check(running: Running, port: PortRef, mac: Mac, address: int) -> Dropped | None:
    if port not in running.guarded or running.is_bound(port, mac, address):
        return None
    segment = running.segments.get(port)
    because = (
        Missing(port.switch, Part.BINDING, str(port))
        if segment is not None and isinstance(segment[1], int)
        else SettingId(port.switch, Part.GUARD, port.port)
    )
    return Dropped(port.switch, Reason.SOURCE_NOT_BOUND, because)
