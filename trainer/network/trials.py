"""Things to try on a network in operation. A protective trial counts only beside its control.

The control is the same trial with that one protection off: if the control's packet does not arrive either, the trial
shows nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Address
from typing import Concatenate, Generic, ParamSpec, TypeVar

from trainer.network import causes, guard, snooping, steps
from trainer.network.addresses import Mac
from trainer.network.devices import Missing, Part, PortRef, Station, SwitchName
from trainer.network.forwarding import enter, own_to_host, send_from_station, send_from_switch, send_own
from trainer.network.packets import Delivered, Dropped, Icmp, Outcome, Packet, Payload, Reason
from trainer.network.topology import Running, switch_mac
from trainer.network.trace import Step, Tracer

__all__ = [
    "Heard",
    "Ping",
    "Traced",
    "forge",
    "heard",
    "hearers",
    "ping",
    "rogue_offer",
    "rogue_on_link",
    "stops_ping",
    "traced",
    "without_guard",
    "without_snooping",
]

_ON_LINK = Mac("rogue server on a link")
"""Nobody asks for the MAC address of a device that is only there for a trial, so no number is made up."""

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Traced(Generic[R]):
    """What a trial gave, and the steps that led there."""

    result: R
    steps: tuple[Step, ...]


def traced(
    trial: Callable[Concatenate[Running, P], R], running: Running, *arguments: P.args, **options: P.kwargs
) -> Traced[R]:
    """Makes a trial and notes its steps: `traced(ping, running, source, target)`. Works for every trial here and for
    dhcp.request_lease and dhcp.renew.
    """
    tracer = Tracer()
    with running.observed_by(tracer):
        result = trial(running, *arguments, **options)
    return Traced(result, tuple(tracer.steps))


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
        return Ping(send_own(running, target, 0), None)
    request = _meant_for(running, target, send_own(running, source, back.address))
    if isinstance(request, Dropped) or there is None:
        return Ping(request, None)
    return Ping(request, _meant_for(running, source, send_own(running, target, there.address)))


def stops_ping(running: Running, source: Station, target: Station) -> Dropped | None:
    """What stops a ping; None where it is answered. As ping tells, but without the ways of those that are."""
    there, back = running.host(source), running.host(target)
    if there is None or back is None:
        lost = send_own(running, target, 0) if back is None else send_own(running, source, back.address)
        assert isinstance(lost, Dropped), "nobody without an address sends anything"
        return lost
    request = own_to_host(running, source, there, back.address, target.name)
    dropped = None if request is None else _meant_for(running, target, request)
    if isinstance(dropped, Dropped):
        return dropped
    reply = own_to_host(running, target, back, there.address, source.name)
    dropped = None if reply is None else _meant_for(running, source, reply)
    return dropped if isinstance(dropped, Dropped) else None


def _meant_for(running: Running, target: Station, outcome: Outcome) -> Outcome:
    """The outcome, where a packet that another device took counts as dropped there: two claim the target's address."""
    if isinstance(outcome, Dropped) or outcome.at == target.name:
        return outcome
    return Dropped(outcome.at, Reason.ANOTHER_ANSWERS, causes.address_of(running, target), outcome.path)


@dataclass(frozen=True, slots=True)
class Heard:
    """What whoever sent a ping sees of it for sure: an answer, or an error that a switch tells by its routing table."""

    answered: bool
    error: Icmp | None = None
    """None where it sees none, or one that is open (packets.Icmp)."""
    teller: str = ""
    """The switch that tells the error."""


def heard(running: Running, source: Station, result: Ping) -> Heard:
    """What the source of a ping sees.

    The switch that drops a request tells the source, from its address on the way back (RFC 1812 4.3.2.4), if the
    message gets there (RFC 1812 4.3.3.1, 5.2.7.1, 5.3.1). Who drops the reply tells the target, so the source hears
    nothing. It is a hint, not a verdict: real switches limit how many of these they send (RFC 1812 4.3.2.8).
    """
    drop, host = result.drop, running.host(source)
    if drop is None:
        return Heard(answered=True)
    error = drop.reason.icmp
    if drop is not result.request or error is None or host is None:
        return Heard(answered=False)
    switch = SwitchName(drop.at)
    back = running.tables[switch].lookup(host.address)
    if back is None:
        return Heard(answered=False)
    message = Packet(source=int(back.interface.address), destination=host.address, source_mac=switch_mac(switch))
    if _lost(send_from_switch(running, switch, message), source):
        return Heard(answered=False)
    return Heard(answered=False, error=error, teller=switch)


def _lost(outcome: Outcome, target: Station) -> bool:
    return isinstance(outcome, Dropped) or outcome.at != target.name


def rogue_offer(running: Running, rogue: Station, victim: Station) -> Outcome:
    """A rogue DHCP server's OFFER from one station to another in the same broadcast domain.

    The rogue sends from its own address, so that source guard does not hide what snooping does.
    """
    host, own, others = running.host(rogue), running.ingress(rogue), running.ingress(victim)
    if host is None or own is None:
        return send_from_station(running, rogue, _packet(rogue, 0, 0))
    if others is None or others.segment not in running.domain(own.segment):
        return _out_of_earshot(running, victim)
    message = Packet(
        source=host.address,
        destination=0xFFFFFFFF,
        source_mac=rogue.mac,
        payload=Payload.DHCP_REPLY,
    )
    stopped = enter(running, own, own.segment, others.segment, message)
    return stopped or Delivered(victim.name, (rogue.name, victim.name))


def rogue_on_link(running: Running, port: PortRef) -> Outcome:
    """A rogue DHCP server's message that comes in on a routed port, as from a device that was plugged into the link.

    Delivered where the switch lets it in; what it is handed on to is not followed.
    """
    ingress = next(iter(running.ingresses.get(port, ())), None)
    if ingress is None:
        return Dropped(port.switch, Reason.PORT_DOWN, Missing(port.switch, Part.PORT, port.port))
    running.note(steps.false_server, port)
    message = Packet(source=0, destination=0xFFFFFFFF, source_mac=_ON_LINK, payload=Payload.DHCP_REPLY)
    stopped = snooping.check(running, ingress, message) or guard.check(running, ingress, message, message.source_mac)
    return stopped or Delivered(port.switch)


def hearers(running: Running, sender: Station) -> tuple[Station, ...]:
    """The other stations that hear what a station sends to all: those of its broadcast domain, which ends at routed ports."""
    own = running.ingress(sender)
    if own is None:
        return ()
    domain = running.domain(own.segment)
    others = ((each, running.ingress(each)) for each in running.stations.values() if each.name != sender.name)
    return tuple(each for each, ingress in others if ingress is not None and ingress.segment in domain)


def _out_of_earshot(running: Running, victim: Station) -> Dropped:
    """What is sent to all in a VLAN does not get to a station whose port carries another one, or none."""
    return Dropped(victim.name, Reason.OUT_OF_EARSHOT, causes.port_setting(running, victim))


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
