"""What is tried on a lab's network: the trials that prove a key, and that show what a wrong cell does.

A network that a trainee configured may be broken in any way; every trial ends all the same.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cached_property, lru_cache
from ipaddress import IPv4Address, IPv4Network
from itertools import permutations
from typing import NamedTuple

from trainer.lab.leases import first_numbers
from trainer.lab.questions.protection import guarded_ports, untrusted_link_ports
from trainer.lab.scenario import TEST_STATION, GatewayPlace, Scenario, Vlan
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import Mac, usable_address
from trainer.network.changes import changes
from trainer.network.devices import FixedAddress, Network, PortName, PortRef, Station
from trainer.network.dhcp import renew, request_lease, start
from trainer.network.packets import Delivered, Dropped, Outcome, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trials import (
    forge,
    rogue_offer,
    rogue_on_link,
    stops_ping,
    without_guard,
    without_snooping,
)

__all__ = [
    "Site",
    "Trial",
    "TrialKind",
    "TrialName",
    "Tried",
    "Visitor",
    "not_tried",
    "plugged_in",
    "renewals",
    "trials_on",
    "try_network",
    "visitors",
    "visitors_of",
]


class TrialKind(Enum):
    """What was tried."""

    # each stands once; the hash of its word would be asked for a hundred thousand times a paper
    __hash__ = object.__hash__

    LEASE = "lease"
    RENEWAL = "renewal of a lease"
    LAST_LEASE = "last lease that is needed"
    BINDINGS = "binding table"
    BROADCAST = "broadcast"
    PING = "ping between stations"
    REACH = "ping to a needed address"
    ROGUE_SERVER = "rogue server"
    ROGUE_ON_LINK = "rogue server on a link"
    FORGED_ADDRESS = "forged source address"
    FORGED_MAC = "forged source MAC"


_WANTED_DROPS = {
    TrialKind.ROGUE_SERVER: Reason.PORT_NOT_TRUSTED,
    TrialKind.ROGUE_ON_LINK: Reason.PORT_NOT_TRUSTED,
    TrialKind.FORGED_ADDRESS: Reason.SOURCE_NOT_BOUND,
    TrialKind.FORGED_MAC: Reason.SOURCE_NOT_BOUND,
}
"""What protects in the trials of a protection."""


_PINGS = (TrialKind.PING, TrialKind.REACH)
_ROGUES = (TrialKind.ROGUE_SERVER, TrialKind.ROGUE_ON_LINK)
_FORGERIES = (TrialKind.FORGED_ADDRESS, TrialKind.FORGED_MAC)

_SUBJECTS = {
    TrialKind.LEASE: "{source}",
    TrialKind.RENEWAL: "{source}",
    TrialKind.PING: "{source} to {target}",
    TrialKind.REACH: "{source} to {target}",
    TrialKind.ROGUE_SERVER: "{source} offers an address to {target}",
    TrialKind.ROGUE_ON_LINK: "a rogue server on link {source} to switch {target}",
    TrialKind.FORGED_ADDRESS: "{source} sends to the server with the address of {target}",
    TrialKind.FORGED_MAC: "{source} sends to the server with the MAC of {target}",
}
TrialName = tuple[TrialKind, str, str]
"""Kind, source and target."""


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One thing to try, on whichever network of the lab."""

    kind: TrialKind
    source: str
    """The station that asks or attacks, or the link on which a rogue server is put."""
    target: str = ""
    """The station or switch it is aimed at, or whose address or MAC is borrowed; "" for a lease."""
    port: PortRef | None = None
    """The port behind which a rogue server is plugged into a link; None for all others."""

    @cached_property
    def name(self) -> TrialName:
        return self.kind, self.source, self.target

    @cached_property
    def subject(self) -> str:
        """From whom to whom, in words."""
        return _SUBJECTS[self.kind].format(source=self.source, target=self.target)

    @property
    def is_attack(self) -> bool:
        return self.kind in _WANTED_DROPS

    def run(self, running: Running, unprotected: Running | None = None) -> "Tried":
        """Makes the trial. unprotected: the same network with what stops the attack off, if a control is asked for.

        Made once more it may end otherwise: since then other stations may have got their leases.
        """
        if self.kind in _PINGS:
            stations = running.stations
            drop = stops_ping(running, stations[self.source], stations[self.target])
            return self.answered if drop is None else Tried(self, drop)
        make = _MAKES[self.kind]
        control = None if unprotected is None else make(self, unprotected)
        assert not isinstance(control, Lease), "nothing protects against a lease"
        return Tried(self, make(self, running), control)

    @cached_property
    def answered(self) -> "Tried":
        """The trial, where it is a ping that is answered: the same on whichever network."""
        return Tried(trial=self, outcome=Delivered(self.target))


class Tried(NamedTuple):
    """One trial and what became of it. A tuple, because an experiment makes hundreds."""

    trial: Trial
    outcome: Lease | Outcome
    control: Outcome | None = None
    """The same with that one protection off; None where nothing is protected or no control was asked for."""

    @property
    def kind(self) -> TrialKind:
        return self.trial.kind

    @property
    def source(self) -> str:
        return self.trial.source

    @property
    def target(self) -> str:
        return self.trial.target

    @property
    def name(self) -> TrialName:
        """The same for a trial, whichever network of the lab it is made on."""
        return self.trial.name

    @property
    def subject(self) -> str:
        return self.trial.subject

    @property
    def is_attack(self) -> bool:
        return self.trial.is_attack

    @property
    def works(self) -> bool:
        """Whether the lease was granted or the ping answered; for an attack, whether the protection stopped it."""
        wanted = _WANTED_DROPS.get(self.kind)
        if wanted is None:
            return not isinstance(self.outcome, Dropped)
        return isinstance(self.outcome, Dropped) and self.outcome.reason is wanted

    @property
    def fails(self) -> bool:
        """Whether there is no lease or no answer; for an attack, whether it got through. An attack that is stopped by
        something else than the protection it is aimed at neither works nor fails: it shows nothing.
        """
        return isinstance(self.outcome, Delivered if self.trial.kind in _WANTED_DROPS else Dropped)


# --- How each kind is made --------------------------------------------------------------------------------------------


def _ask_for_lease(trial: Trial, running: Running) -> Lease | Outcome:
    return request_lease(running, running.stations[trial.source])


def _renew(trial: Trial, running: Running) -> Outcome:
    return renew(running, running.stations[trial.source]).unicast or Delivered(trial.source)


def _offer(trial: Trial, running: Running) -> Outcome:
    return rogue_offer(running, running.stations[trial.source], running.stations[trial.target])


def _offer_on_link(trial: Trial, running: Running) -> Outcome:
    assert trial.port is not None, "a rogue server on a link is plugged in somewhere"
    return rogue_on_link(running, trial.port)


def _forge_address(trial: Trial, running: Running) -> Outcome:
    """0.0.0.0 where the other station has no address to borrow."""
    host = running.host(running.stations[trial.target])
    borrowed = IPv4Address(0 if host is None else host.address)
    return forge(running, running.stations[trial.source], _server(running), address=borrowed)


def _forge_mac(trial: Trial, running: Running) -> Outcome:
    other = running.stations[trial.target]
    return forge(running, running.stations[trial.source], _server(running), mac=other.mac)


def _server(running: Running) -> Station:
    server = running.network.server
    assert server is not None, "every lab has a server"
    return running.stations[server.station]


_MAKES: Mapping[TrialKind, Callable[[Trial, Running], Lease | Outcome]] = {
    TrialKind.LEASE: _ask_for_lease,
    TrialKind.RENEWAL: _renew,
    TrialKind.ROGUE_SERVER: _offer,
    TrialKind.ROGUE_ON_LINK: _offer_on_link,
    TrialKind.FORGED_ADDRESS: _forge_address,
    TrialKind.FORGED_MAC: _forge_mac,
}
"""All but pings, of which there are most: Trial.run makes them itself."""
_WITHOUT_ITS_PROTECTION = {
    TrialKind.ROGUE_SERVER: without_snooping,
    TrialKind.ROGUE_ON_LINK: without_snooping,
    TrialKind.FORGED_ADDRESS: without_guard,
    TrialKind.FORGED_MAC: without_guard,
}


# --- What is tried on a lab -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Site:
    """Where a VLAN lies and who its gateway is, for those who visit it."""

    network: IPv4Network
    gateway: IPv4Address | None


Visitor = tuple[Station, VlanId]
"""A station that is only there for trials, and its VLAN."""


def visitors(scenario: Scenario, sites: Mapping[VlanId, Site]) -> tuple[Visitor, ...]:
    """A visitor at the first and at the last needed address of every network, unless a station has it or will get it.

    sites: by VLAN.
    """
    return tuple(each for vlan in scenario.vlans for each in visitors_of(scenario, vlan, sites[vlan.id]))


def visitors_of(scenario: Scenario, vlan: Vlan, site: Site) -> tuple[Visitor, ...]:
    """Those of one network."""
    found = []
    taken = {station.fixed_number for station in scenario.stations if station.vlan == vlan.id}
    taken.update(first_numbers(scenario, vlan.id))
    for place, number in zip(("first", "last"), _needed_hosts(scenario, vlan), strict=True):
        if number in taken:
            continue
        taken.add(number)
        at = _number_beside(scenario, site, number)
        fixed = FixedAddress(
            address=usable_address(site.network, at),
            prefix_length=site.network.prefixlen,
            gateway=site.gateway,
        )
        visitor = Station(
            name=f"{place} needed address of VLAN {vlan.id} (no. {at})",
            mac=Mac(f"visitor {vlan.id} {place}"),
            at=PortRef(vlan.switch, PortName(f"visitor {vlan.id} {place}")),
            uses_dhcp=False,
            fixed=fixed,
        )
        found.append((visitor, vlan.id))
    return tuple(found)


def plugged_in(guests: Iterable[Visitor]) -> tuple[tuple[Station, int], ...]:
    """The visitors, each with the number of the VLAN that its port is in."""
    return tuple((visitor, vlan.number) for visitor, vlan in guests)


def _number_beside(scenario: Scenario, site: Site, number: int) -> int:
    """The number itself; where the gateway may be anywhere and is there, the first, which another plan's gateway has."""
    is_free = scenario.rules.gateway is GatewayPlace.FREE
    return 1 if is_free and usable_address(site.network, number) == site.gateway else number


def _needed_hosts(scenario: Scenario, vlan: Vlan) -> tuple[int, int]:
    """Numbers of the lowest and the highest usable address that a host of the network may need."""
    if scenario.rules.gateway is GatewayPlace.LAST_USABLE:
        return 1, vlan.addresses_needed - 1
    return 2, vlan.addresses_needed


def try_network(
    scenario: Scenario,
    network: Network,
    guests: Sequence[Visitor],
    *,
    with_controls: bool,
    like: Running | None = None,
    trials: Sequence[Trial] | None = None,
    known: Mapping[TrialName, Tried] | None = None,
) -> tuple[Running, tuple[Tried, ...]]:
    """Switches the network on and tries it; gives the network in operation and the trials in order.

    with_controls: whether attacks are tried without their protection too; like: a network of which much is set up alike;
    trials: what is tried after the leases, where that is known; known: how the network that is alike was tried, so that
    trials that no change can touch are not made again. Of these the outcome is as before, but not what is to blame for it.
    Without one that is alike: how those trials end of which it is known beforehand.
    """
    running, leases = start(network.with_visitors(plugged_in(guests)), like)
    unprotected = _unprotected(running) if with_controls else {}
    as_before = {} if known is None else known if like is None else _as_before(known, like, running)
    return running, (
        *(Tried(trial=_lease(name), outcome=outcome) for name, outcome in leases.items()),
        *(
            as_before.get(each.name) or each.run(running, unprotected.get(each.kind))
            for each in (trials_on(scenario, guests) if trials is None else trials)
        ),
    )


def _as_before(known: Mapping[TrialName, Tried], before: Running, after: Running) -> Mapping[TrialName, Tried]:
    """The trials for which nothing has changed between the two networks. A forged packet goes to the server."""
    changed = changes(before, after)
    if changed is None:
        return {}
    touching = dict.fromkeys(_PINGS, (changed.pinging, changed.pinging))
    if _server(after).name not in changed.placed | changed.reached:
        touching |= dict.fromkeys(_FORGERIES, (changed.sending, changed.placed))
    if changed.offering is not None:
        touching |= dict.fromkeys(_ROGUES, (changed.placed | changed.offering, changed.placed))
    return {
        name: tried
        for name, tried in known.items()
        if (touched := touching.get(name[0])) is not None and name[1] not in touched[0] and name[2] not in touched[1]
    }


def trials_on(scenario: Scenario, guests: Sequence[Visitor]) -> tuple[Trial, ...]:
    """What is tried once all stations have asked for their leases, in order."""
    stations, visiting = tuple(each.name for each in scenario.stations), [visitor for visitor, _ in guests]
    return (
        *_pings(stations),
        *_pings_outside(scenario),
        *_reaches(scenario, visiting),
        *_rogues(scenario, guests),
        *_rogues_on_links(scenario),
        *_forgeries(scenario, [*stations, *(visitor.name for visitor in visiting)]),
    )


def renewals(scenario: Scenario) -> tuple[Trial, ...]:
    """Every lease is renewed by unicast (RFC 2131 4.3.2); that it could be by broadcast does not count."""
    return tuple(
        Trial(kind=TrialKind.RENEWAL, source=each.name) for each in scenario.stations if each.fixed_number is None
    )


def _unprotected(running: Running) -> Mapping[TrialKind, Running]:
    """For every kind of attack the network without what stops it."""
    networks = {without: without(running) for without in (without_snooping, without_guard)}
    return {kind: networks[without] for kind, without in _WITHOUT_ITS_PROTECTION.items()}


@lru_cache(maxsize=1024)
def _lease(station: str) -> Trial:
    return Trial(kind=TrialKind.LEASE, source=station)


@lru_cache(maxsize=16)
def _pings(stations: tuple[str, ...]) -> tuple[Trial, ...]:
    return tuple(
        Trial(kind=TrialKind.PING, source=source, target=target) for source, target in permutations(stations, 2)
    )


def _pings_outside(scenario: Scenario) -> Iterator[Trial]:
    """From every station to the test address beyond the way out, and back."""
    for station in scenario.stations if scenario.way_out is not None else ():
        yield Trial(kind=TrialKind.PING, source=station.name, target=TEST_STATION)
        yield Trial(kind=TrialKind.PING, source=TEST_STATION, target=station.name)


def _reaches(scenario: Scenario, guests: Sequence[Station]) -> Iterator[Trial]:
    """To each needed address and back again, from the server and from one visitor on every switch: each switch's own
    route or interface has to cover the address.
    """
    by_switch = {visitor.at.switch: visitor.name for visitor in reversed(guests)}
    for visitor in guests:
        for partner in (scenario.server.name, *by_switch.values()):
            if partner != visitor.name:
                yield Trial(kind=TrialKind.REACH, source=partner, target=visitor.name)


def _rogues(scenario: Scenario, guests: Sequence[Visitor]) -> Iterator[Trial]:
    """In every snooped VLAN each station but the server plays a false one: for a client, else for another station, else for a
    visitor, as all of them hear what is sent to all.
    """
    for vlan in scenario.vlans:
        if not vlan.is_snooped:
            continue
        here = [station.name for station in scenario.stations if station.vlan == vlan.id]
        clients = [station.name for station in scenario.dhcp_stations(vlan.id)]
        hearers = [*clients, *here, *(visitor.name for visitor, where in guests if where == vlan.id)]
        for rogue in here:
            hearer = next((name for name in hearers if name != rogue), None)
            if hearer is not None and rogue != scenario.server.name:
                yield Trial(kind=TrialKind.ROGUE_SERVER, source=rogue, target=hearer)


def _rogues_on_links(scenario: Scenario) -> Iterator[Trial]:
    """On every link a rogue server, towards each of its switches that looks for such messages there."""
    checked = untrusted_link_ports(scenario)
    for name, end in scenario.link_ends:
        if end in checked:
            yield Trial(kind=TrialKind.ROGUE_ON_LINK, source=name, target=end.switch, port=end)


def _forgeries(scenario: Scenario, stations: Sequence[str]) -> Iterator[Trial]:
    """Every station on a port that should be guarded sends with the address of another, and with another MAC."""
    guarded, server = guarded_ports(scenario), scenario.server.name
    for plan in scenario.stations:
        if plan.at in guarded:
            other = next((each for each in stations if each not in (plan.name, server)), server)
            for kind in (TrialKind.FORGED_ADDRESS, TrialKind.FORGED_MAC):
                yield Trial(kind=kind, source=plan.name, target=other)


# --- What is not tried ------------------------------------------------------------------------------------------------


def not_tried(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    """What the trials leave out, and why: attacks that nothing of the plan is to stop, and what no trial here can show."""
    return tuple(_left_out(scenario))


def _left_out(scenario: Scenario) -> Iterator[tuple[str, str]]:
    server = scenario.server.name
    yield f"a rogue server at {server}", "its port is trusted: what comes in there is let through"
    open_vlans = [vlan for vlan in scenario.vlans if not vlan.is_snooped]
    if open_vlans:
        yield f"a rogue server in {_listed(open_vlans)}", "not snooped, so nothing is to stop it"
    checked, snooping = untrusted_link_ports(scenario), {vlan.switch for vlan in scenario.vlans if vlan.is_snooped}
    ends = [(name, end) for name, end in scenario.link_ends if end not in checked]
    trusted = [f"{name} towards {end.switch}" for name, end in ends if end.switch in snooping]
    if trusted:
        yield (
            f"a rogue server on link {', '.join(trusted)}",
            "the server's messages come in there, so the port is trusted",
        )
    unchecked = [f"{name} towards {end.switch}" for name, end in ends if end.switch not in snooping]
    if unchecked:
        yield f"a rogue server on link {', '.join(unchecked)}", "nothing is snooped on that switch"
    guarded = guarded_ports(scenario)
    unguarded = [each.name for each in scenario.stations if each.at not in guarded]
    yield f"forged sources at {', '.join(unguarded)}", "source guard is not wanted on those ports"
    yield "ARP messages that claim another's address", "by this lab's rules they are checked as the forged packets are"
    yield "load, restarts, cables and power", "no trial here can show them: try them at the bench"


def _listed(vlans: Sequence[Vlan]) -> str:
    return f"VLAN{'s' if len(vlans) > 1 else ''} {', '.join(str(vlan.id) for vlan in vlans)}"
