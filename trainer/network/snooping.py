"""DHCP snooping: which DHCP messages a port lets in, and which rows are learnt from them (RFC 7513)."""

from trainer.network.devices import BindingRow, Missing, Part, SettingId, Station
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.topology import Ingress, Lease, Running
from trainer.network.trace import Lookup

__all__ = ["check", "learn"]


def check(running: Running, ingress: Ingress, packet: Packet) -> Dropped | None:
    """None where the port lets the packet in.

    A server message is let in only through a trusted port, wherever replies are checked (RFC 7513 8.2). That routed
    ports are checked too is a rule of this lab: RFC 7513 4.3.3 would let a reply to a relay agent pass.
    """
    if packet.payload is not Payload.DHCP_REPLY or not ingress.checks_replies:
        return None
    port = ingress.port
    name = Part.TRUST, port.port
    setting = SettingId(port.switch, *name) if ingress.is_trusted else Missing(port.switch, *name)
    if running.steps is not None:
        found = "the port is trusted" if ingress.is_trusted else "the port is not trusted, so it is dropped"
        running.note(port.switch, Lookup.TRUST, f"port {port}", found, setting)
    return Dropped(port.switch, Reason.PORT_NOT_TRUSTED, setting) if isinstance(setting, Missing) else None


def learn(running: Running, client: Station, lease: Lease) -> None:
    """Enters a row after the ACK: on an untrusted access port in a snooped VLAN (RFC 7513 6.4.2.1, 4.2.1)."""
    ingress = running.ingress(client)
    if ingress is None or ingress.is_trusted or not ingress.checks_replies:
        return
    vlan = ingress.segment[1]
    if isinstance(vlan, int):
        switch, port = client.at.switch, client.at.port
        running.learn(switch, BindingRow(port=port, vlan=vlan, mac=client.mac, address=lease.address))
        if running.steps is not None:
            found = f"enters a dynamic row for port {port}, VLAN {vlan}, {client.mac}, {lease.address}"
            running.note(switch, Lookup.LEARNING, client.name, found)
