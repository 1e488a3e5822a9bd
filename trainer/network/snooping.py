"""DHCP snooping: which DHCP messages a port lets in, and which rows are learnt from them (RFC 7513)."""

from trainer.network import steps
from trainer.network.devices import BindingRow, Missing, Part, SettingId, Station
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.paths import Ingress
from trainer.network.topology import Lease, Running

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
    running.note(steps.trust, port, setting)
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
        running.note(steps.learning, client, vlan, lease)
