"""What is seen of a network: leases, pings both ways, binding tables, attacks, counters. Two networks of which the same is seen
cannot be told apart by it.

Devices tell what they count: the DHCP server whom it heard and to whom it made an offer, a switch on which ports server
messages and packets of senders without a row were dropped (for real devices the tests in tests/kernel count the same).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from trainer.lab.leases import in_words
from trainer.lab.repair.sheet import SymptomSort
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind, trials_on
from trainer.network import guard
from trainer.network.devices import Missing, Network, Part
from trainer.network.dhcp import request_lease
from trainer.network.packets import Dropped, Icmp, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import Lookup, Step
from trainer.network.trials import heard, ping

__all__ = [
    "ANSWERED",
    "NOTHING",
    "NO_ATTACK",
    "NO_LEASE",
    "Seen",
    "View",
    "complains",
    "complaint_of",
    "failing",
    "is_noticed",
    "observe",
    "to_observe",
]

ANSWERED, NOTHING, NO_LEASE = "answered", "nothing", "no lease"
NO_ATTACK = "none got through"
_TOLD = {Icmp.NETWORK_UNREACHABLE: "network unreachable", Icmp.TIME_EXCEEDED: "time exceeded"}
_ATTACK_WORDS = {
    TrialKind.ROGUE_SERVER: "a false DHCP server at {}",
    TrialKind.ROGUE_ON_LINK: "a false DHCP server on link {}",
    TrialKind.FORGED_ADDRESS: "a forged address from {}",
}
"""The attacks that are tried. Forged MACs are left for what can be tried next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One thing to look at, whatever the network shows of it."""

    sort: SymptomSort
    source: str
    """The station that asks, or the switch that is attacked or asked for its counters; "" where the server is asked."""
    target: str = ""
    """Of a ping."""
    counter: str = ""
    """Which counter."""

    @property
    def tried(self) -> str:
        """What was done, in words."""
        if self.sort is SymptomSort.LEASE:
            return f"{self.source} asks for a lease"
        if self.sort is SymptomSort.PING:
            return f"{self.source} pings {self.target}; and {self.target} pings {self.source}"
        if self.sort is SymptomSort.ATTACK:
            return f"false DHCP servers and forged addresses on switch {self.source}"
        return _LEARNT.format(self.source) if self.sort is SymptomSort.TABLE else self.counter


View = Mapping[Seen, str]
"""What was seen of everything that was looked at."""

_LEARNT = "ports of switch {} on which it learnt a binding row"
_HEARD = "stations that the DHCP server heard"
_OFFERED = "stations that the DHCP server made an offer to"
_DROPPED = "ports of switch {} on which DHCP server messages were dropped"
_GUARDED = "ports of switch {} on which source guard dropped packets"


def to_observe(scenario: Scenario, *, tables: bool, counters: bool) -> tuple[Seen, ...]:
    """What is looked at in a lab, in order."""
    return tuple(_to_observe(scenario, tables=tables, counters=counters))


def _to_observe(scenario: Scenario, *, tables: bool, counters: bool) -> Iterator[Seen]:
    of_snooped = {vlan.switch for vlan in scenario.vlans if vlan.is_snooped}
    snooping = [plan.name for plan in scenario.switches if plan.name in of_snooped]
    for station in scenario.stations:
        if station.fixed_number is None:
            yield Seen(sort=SymptomSort.LEASE, source=station.name)
    for source, target in _pairs(scenario):
        yield Seen(sort=SymptomSort.PING, source=source, target=target)
    for name in snooping if tables else ():
        yield Seen(sort=SymptomSort.TABLE, source=name)
    for switch in _attacked(scenario):
        yield Seen(sort=SymptomSort.ATTACK, source=switch)
    if counters:
        yield Seen(sort=SymptomSort.COUNTER, source="", counter=_HEARD)
        yield Seen(sort=SymptomSort.COUNTER, source="", counter=_OFFERED)
        guarding = {vlan.switch for vlan in scenario.vlans if vlan.is_guarded}
        for words, switches in ((_DROPPED, snooping), (_GUARDED, guarding)):
            for plan in scenario.switches:
                if plan.name in switches:
                    yield Seen(sort=SymptomSort.COUNTER, source=plan.name, counter=words.format(plan.name))


def _pairs(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """The server and one client and one fixed station of every VLAN, then neighbours in table Networks."""
    server = scenario.server.name
    first: list[str] = []
    for vlan in scenario.vlans:
        here = [each for each in scenario.stations if each.vlan == vlan.id and not each.is_server]
        clients = [each.name for each in here if each.fixed_number is None][:1]
        fixed = [each.name for each in here if each.fixed_number is not None][:1]
        for name in (*clients, *fixed):
            yield server, name
        first += (*clients, *fixed)[:1]
    yield from pairwise(first)


def _attacked(scenario: Scenario) -> tuple[str, ...]:
    attacked = {vlan.switch for vlan in scenario.vlans if vlan.is_snooped or vlan.is_guarded}
    return tuple(switch.name for switch in scenario.switches if switch.name in attacked)


@dataclass(slots=True)
class _Counters:
    """Notes what devices count while stations ask for their leases and ping each other."""

    asking: str = ""
    heard: set[str] = field(default_factory=set)
    offered: set[str] = field(default_factory=set)
    not_trusted: set[tuple[str, str]] = field(default_factory=set)
    """Switch and port."""
    not_bound: set[tuple[str, str]] = field(default_factory=set)

    def note(self, step: Step) -> None:
        settings = step.decided_by
        if step.lookup in (Lookup.POOL, Lookup.ADDRESS):
            self.heard.add(self.asking)
        elif step.lookup is Lookup.ANSWER:
            self.offered.add(self.asking)
        elif step.lookup is Lookup.TRUST and isinstance(settings[0], Missing):
            self.not_trusted.add((settings[0].device, settings[0].key))
        elif step.lookup is Lookup.BINDING and len(settings) > 1 and settings[1].part is Part.GUARD:
            self.not_bound.add((settings[1].device, settings[1].key))


def observe(scenario: Scenario, network: Network, looks: Sequence[Seen]) -> View:
    """Switches the network on and looks at it; looks: of to_observe."""
    running, counters = Running(network), _Counters()
    view: dict[Seen, str] = {}
    with running.observed_by(counters):
        leases = dict(_leases(running, counters))
    for look in looks:
        if look.sort is SymptomSort.LEASE:
            lease = leases[look.source]
            view[look] = NO_LEASE if isinstance(lease, Dropped) else in_words(lease)
        elif look.sort is SymptomSort.PING:
            view[look] = _pinged(running, look, counters)
    attacks = _attacks(scenario, running) if any(each.sort is SymptomSort.ATTACK for each in looks) else {}
    for look in looks:
        if look.sort is SymptomSort.ATTACK:
            view[look] = "; ".join(attacks.get(look.source, ())) or NO_ATTACK
        elif look.sort is SymptomSort.TABLE:
            view[look] = _learnt(running, look.source)
        elif look.sort is SymptomSort.COUNTER:
            view[look] = _counted(look, counters)
    return view


def _leases(running: Running, counters: _Counters) -> Iterator[tuple[str, Lease | Dropped]]:
    """The stations ask one after the other, as when the network is switched on (dhcp.start)."""
    for station in running.network.stations:
        if station.uses_dhcp and station.fixed is None:
            counters.asking = station.name
            yield station.name, request_lease(running, station)


def _pinged(running: Running, look: Seen, counters: _Counters) -> str:
    """Both ways. Devices are listened to only where something is dropped: listening takes time."""
    ends = running.stations[look.source], running.stations[look.target]
    told = []
    for source, target in (ends, ends[::-1]):
        result = ping(running, source, target)
        if result.drop is not None:
            with running.observed_by(counters):
                ping(running, source, target)
                _asks_in_vain(running, result.drop)
        senses = heard(running, source, result)
        if senses.answered:
            told.append(ANSWERED)
        elif senses.error is None:
            told.append(NOTHING)
        else:
            told.append(f"{_TOLD[senses.error]}, says {senses.teller}")
    return f"{told[0]}; {told[1]}"


def _asks_in_vain(running: Running, drop: Dropped) -> None:
    """A station that nobody answers has asked for an address all the same, and source guard checks ARP too (RFC 7513 8.2)."""
    station = running.stations.get(drop.at)
    if station is None or drop.reason not in (Reason.NO_ANSWER, Reason.DUPLICATE_ADDRESS):
        return
    ingress, host = running.ingress(station), running.host(station)
    if ingress is not None and host is not None:
        guard.check_sender(running, ingress, station.mac, host.address)


def _attacks(scenario: Scenario, running: Running) -> Mapping[str, list[str]]:
    """By switch the attacks that got through."""
    through: dict[str, list[str]] = {}
    for trial in trials_on(scenario, ()):
        if trial.kind in _ATTACK_WORDS:
            at = running.stations[trial.source].at.switch if trial.port is None else trial.port.switch
            if trial.run(running).fails:
                through.setdefault(at, []).append(_ATTACK_WORDS[trial.kind].format(trial.source))
    return through


def _learnt(running: Running, switch: str) -> str:
    static = {row for each in running.network.switches if each.name == switch for row in each.static_rows}
    ports = {row.port for name, row in running.rows if name == switch and row not in static}
    return ", ".join(sorted(ports, key=int)) or "none"


def _counted(look: Seen, counters: _Counters) -> str:
    if look.counter == _HEARD:
        return str(len(counters.heard))
    if look.counter == _OFFERED:
        return str(len(counters.offered))
    ports = counters.not_trusted if look.counter == _DROPPED.format(look.source) else counters.not_bound
    here = sorted((port for switch, port in ports if switch == look.source), key=int)
    return ", ".join(here) or "none"


# --- What is wrong ----------------------------------------------------------------------------------------------------


def failing(view: View) -> frozenset[Seen]:
    """What a user would notice: no lease, no answer, an attack that gets through."""
    return frozenset(look for look in view if complains(view, look))


def complains(view: View, look: Seen) -> bool:
    """Whether a user would notice that."""
    return is_noticed(look.sort, view[look])


def is_noticed(sort: SymptomSort, seen: str) -> bool:
    """Whether a user would notice what was seen of a thing of that sort."""
    if sort is SymptomSort.LEASE:
        return seen == NO_LEASE
    if sort is SymptomSort.PING:
        return seen != f"{ANSWERED}; {ANSWERED}"
    return sort is SymptomSort.ATTACK and seen != NO_ATTACK


def complaint_of(view: View) -> Seen | None:
    """The first thing that a user notices; None where that is nothing."""
    return next((look for look in view if complains(view, look)), None)
