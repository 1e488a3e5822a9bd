"""Source guard: source address validation on a port by the binding table (RFC 7039, RFC 7513 8.1 and 8.2)."""

from ipaddress import IPv4Address

from trainer.network import causes
from trainer.network.addresses import Mac
from trainer.network.devices import Part, SettingId
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.topology import Ingress, Running
from trainer.network.trace import Lookup

__all__ = ["check", "check_sender"]


def check(running: Running, ingress: Ingress, packet: Packet) -> Dropped | None:
    """None where the port lets the packet in.

    A guarded port passes a packet whose (port, VLAN, MAC, source address) has a row. A DHCP client message without
    an address passes (RFC 7513 8.2); one with an address needs its row as any other packet does.
    """
    if not ingress.is_guarded or (packet.payload is Payload.DHCP_REQUEST and packet.source == 0):
        return None
    return _check(running, ingress, packet.source_mac, packet.source, "a packet")


def check_sender(running: Running, ingress: Ingress, mac: Mac, address: int) -> Dropped | None:
    """The same for the sender of an ARP message; a probe has no sender's address and passes (RFC 7513 8.2, RFC 5227 1.1)."""
    if address == 0 or not ingress.is_guarded:
        return None
    return _check(running, ingress, mac, address, "an ARP message")


def _check(running: Running, ingress: Ingress, mac: Mac, address: int, what: str) -> Dropped | None:
    port = ingress.port
    is_bound = running.is_bound(ingress, mac, address)
    if is_bound and running.steps is None:
        return None
    guard = SettingId(port.switch, Part.GUARD, port.port)
    because = guard if is_bound else causes.not_bound(running, ingress, mac, address)
    if running.steps is not None:
        subject = f"{what} of {IPv4Address(address)}, {mac}, that comes in on port {port}"
        found = "there is a row for it" if is_bound else "there is no row for it, so it is dropped"
        running.note(
            port.switch, Lookup.BINDING, subject, found, because, guard, *causes.sender_settings(running, port)
        )
    return None if is_bound else Dropped(port.switch, Reason.SOURCE_NOT_BOUND, because)
