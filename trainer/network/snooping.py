"""DHCP snooping: which DHCP messages a port lets in, and which rows are learnt from them (RFC 7513)."""

from trainer.network.devices import BindingRow, Missing, Part, PortRef, Station
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.topology import Lease, Running

__all__ = ["check", "learn"]


def check(running: Running, port: PortRef, packet: Packet) -> Dropped | None:
    """None where the port lets the packet in.

    A server message is let in only through a trusted port, wherever replies are checked (RFC 7513 8.2). That routed
    ports are checked too is a rule of this lab: RFC 7513 4.3.3 would let a reply to a relay agent pass.
    """
    if packet.payload is not Payload.DHCP_REPLY or port not in running.checked or port in running.trusted:
        return None
    return Dropped(port.switch, Reason.PORT_NOT_TRUSTED, Missing(port.switch, Part.TRUST, port.port))


def learn(running: Running, client: Station, lease: Lease) -> None:
    """Enters a row after the ACK: on an untrusted access port in a snooped VLAN (RFC 7513 6.4.2.1, 4.2.1)."""
    segment = running.segments.get(client.at)
    if segment is None or client.at in running.trusted or client.at not in running.checked:
        return
    vlan = segment[1]
    if isinstance(vlan, int):
        running.learn(
            client.at.switch,
            BindingRow(port=client.at.port, vlan=vlan, mac=client.mac, address=lease.address),
        )
