"""What no trial of a lab sends: a packet to any address at all, and an ARP message with another's address."""

from ipaddress import IPv4Address

from trainer.network import guard
from trainer.network.devices import Station
from trainer.network.forwarding import send_own
from trainer.network.packets import Delivered, Outcome
from trainer.network.topology import Running

__all__ = ["forge_arp", "probe"]


def probe(running: Running, source: Station, destination: IPv4Address) -> Outcome:
    """One packet from the station to any address at all."""
    return send_own(running, source, int(destination))


def forge_arp(running: Running, sender: Station, victim: Station, address: IPv4Address) -> Outcome:
    """An ARP message from one station to another in the same broadcast domain, in which the sender claims an address.

    Source guard checks the sender's address of ARP as it checks that of IPv4 (RFC 7513 8.2).
    """
    own, others = running.ingress(sender), running.ingress(victim)
    assert own is not None
    assert others is not None
    for ingress in (own, *running.domain(own.segment)[others.segment]):
        dropped = guard.check_sender(running, ingress, sender.mac, int(address))
        if dropped is not None:
            return dropped
    return Delivered(victim.name, (sender.name, victim.name))
