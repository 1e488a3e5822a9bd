"""Source guard: source address validation on a port by the binding table (RFC 7039, RFC 7513 8.1 and 8.2)."""

from trainer.network import causes, steps
from trainer.network.addresses import Mac
from trainer.network.packets import Dropped, Packet, Payload, Reason
from trainer.network.paths import Ingress
from trainer.network.topology import Running

__all__ = ["check", "check_sender"]


def check(running: Running, ingress: Ingress, packet: Packet, source_mac: Mac) -> Dropped | None:
    """None where the port lets the packet in. source_mac: of the frame it comes in, which each router makes anew.

    A guarded port passes a packet whose (port, VLAN, MAC, source address) has a row. A DHCP client message without
    an address passes (RFC 7513 8.2); one with an address needs its row as any other packet does.
    """
    if not ingress.is_guarded or (packet.payload is Payload.DHCP_REQUEST and packet.source == 0):
        return None
    return _check(running, ingress, source_mac, packet.source, "a packet")


def check_sender(running: Running, ingress: Ingress, mac: Mac, address: int) -> Dropped | None:
    """The same for the sender of an ARP message; a probe has no sender's address and passes (RFC 7513 8.2, RFC 5227 1.1)."""
    if address == 0 or not ingress.is_guarded:
        return None
    return _check(running, ingress, mac, address, "an ARP message")


def _check(running: Running, ingress: Ingress, mac: Mac, address: int, what: str) -> Dropped | None:
    is_bound = running.is_bound(ingress, mac, address)
    dropped = None
    if not is_bound:
        cause = causes.not_bound(running, ingress, mac, address)
        dropped = Dropped(ingress.port.switch, Reason.SOURCE_NOT_BOUND, cause)
    if running.is_observed:
        running.note(steps.bound, ingress, address, mac, what, dropped)
    return dropped
