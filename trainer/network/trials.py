"""Things to try on a network in operation. A protective trial counts only beside its control.

The control is the same trial with that one protection off: if the control's packet does not arrive either, the trial
shows nothing.
"""

from dataclasses import dataclass
from ipaddress import IPv4Address

from trainer.network.addresses import Mac
from trainer.network.devices import Station
from trainer.network.forwarding import enter, send_from_station
from trainer.network.packets import Delivered, Dropped, Outcome, Packet, Payload
from trainer.network.topology import Running

__all__ = ["Ping", "forge", "ping", "probe", "rogue_offer", "without_guard", "without_snooping"]


@dataclass(frozen=True, slots=True)
class Ping:
    """An echo request and, where it arrives, its reply."""

    request: Outcome
    reply: Outcome | None

    @property
    def drop(self) -> Dropped | None:
        """What stopped the request or the reply; None where both arrived."""
        if isinstance(self.request, Dropped):
            return self.request
        return self.reply if isinstance(self.reply, Dropped) else None


def ping(running: Running, source: Station, target: Station) -> Ping:
    """The source asks, the target answers to the address that asked (RFC 1122 3.2.2.6)."""
    there, back = running.host(source), running.host(target)
    if back is None:
        missing = send_from_station(running, target, _packet(target, 0, 0))
        return Ping(missing, None)
    request = send_from_station(running, source, _packet(source, 0 if there is None else there.address, back.address))
    if not isinstance(request, Delivered) or there is None:
        return Ping(request, None)
    if request.at != target.name:
        return Ping(request, request)
    return Ping(request, send_from_station(running, target, _packet(target, back.address, there.address)))


def probe(running: Running, source: Station, destination: IPv4Address) -> Outcome:
    """One packet from the station to any address at all."""
    host = running.host(source)
    return send_from_station(running, source, _packet(source, 0 if host is None else host.address, int(destination)))


def rogue_offer(running: Running, rogue: Station, victim: Station) -> Outcome:
    """A false DHCP server's OFFER from one station to another in the same broadcast domain.

    The rogue sends from its own address, so that source guard does not hide what snooping does.
    """
    host = running.host(rogue)
    segment, target = running.segments.get(rogue.at), running.segments.get(victim.at)
    if host is None or segment is None or target is None:
        return send_from_station(running, rogue, _packet(rogue, 0, 0))
    assert target in running.domain(segment), "a rogue server fools its own VLAN only"
    message = Packet(
        source=host.address,
        destination=0xFFFFFFFF,
        source_mac=rogue.mac,
        payload=Payload.DHCP_REPLY,
    )
    stopped = enter(running, rogue.at, segment, target, message)
    return stopped or Delivered(victim.name, (rogue.name, victim.name))


def forge(
    running: Running,
    sender: Station,
    target: Station,
    *,
    address: IPv4Address | None = None,
    mac: Mac | None = None,
) -> Outcome:
    """A packet from the sender to the target with another source address, another source MAC, or both."""
    own, other = running.host(sender), running.host(target)
    if own is None or other is None:
        return send_from_station(running, sender if own is None else target, _packet(sender, 0, 0))
    packet = Packet(
        source=own.address if address is None else int(address),
        destination=other.address,
        source_mac=sender.mac if mac is None else mac,
    )
    return send_from_station(running, sender, packet)


def without_snooping(running: Running) -> Running:
    """The same network in operation, leases and rows as learnt, with snooping off: the control of a rogue server."""
    return running.resumed_in(running.network.without_snooping())


def without_guard(running: Running) -> Running:
    """The same network in operation with source guard off: the control of a forged source."""
    return running.resumed_in(running.network.without_guard())


def _packet(station: Station, source: int, destination: int) -> Packet:
    return Packet(source=source, destination=destination, source_mac=station.mac)
