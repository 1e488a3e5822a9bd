"""What is tried on a lab's network: the trials that prove a key, and that show what a wrong cell does.

A network that a trainee configured may be broken in any way; every trial ends all the same.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.questions.protection import guarded_ports, untrusted_link_ports
from trainer.lab.scenario import GatewayPlace, Scenario, Vlan
from trainer.network.addresses import Mac, usable_address
from trainer.network.devices import FixedAddress, Network, PortName, PortRef, Station, SwitchName
from trainer.network.dhcp import request_lease, start
from trainer.network.packets import Delivered, Dropped, Outcome, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import Step
from trainer.network.trials import (
    Ping,
    Traced,
    forge,
    ping,
    rogue_offer,
    rogue_on_link,
    traced,
    without_guard,
    without_snooping,
)

__all__ = ["Site", "TrialKind", "TrialName", "Tried", "Visitor", "retraced", "try_network", "visitors"]


class TrialKind(Enum):
    """What was tried."""

    LEASE = "lease"
    RENEWAL = "renewal of a lease"
    BINDINGS = "binding table"
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


_SUBJECTS = {
    TrialKind.LEASE: "{source}",
    TrialKind.PING: "{source} to {target}",
    TrialKind.REACH: "{source} to {target}",
    TrialKind.ROGUE_SERVER: "{source} offers an address to {target}",
    TrialKind.ROGUE_ON_LINK: "a false server on link {source} to switch {target}",
    TrialKind.FORGED_ADDRESS: "{source} sends to the server with the address of {target}",
    TrialKind.FORGED_MAC: "{source} sends to the server with the MAC of {target}",
}
TrialName = tuple[TrialKind, str, str]
"""Kind, source and target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One trial and what became of it."""

    kind: TrialKind
    source: str
    """The station that asks or attacks, or the link on which a false server was put."""
    target: str = ""
    """The station or switch it is aimed at, or whose address or MAC is borrowed; "" for a lease."""
    outcome: Lease | Outcome
    control: Outcome | None = None
    """The same with that one protection off; None where nothing is protected or no control was asked for."""

    @property
    def name(self) -> TrialName:
        """The same for a trial, whichever network of the lab it is made on."""
        return self.kind, self.source, self.target

    @property
    def subject(self) -> str:
        """From whom to whom, in words."""
        return _SUBJECTS[self.kind].format(source=self.source, target=self.target)

    @property
    def is_attack(self) -> bool:
        return self.kind in _WANTED_DROPS

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
        return isinstance(self.outcome, Delivered) if self.is_attack else not self.works


@dataclass(frozen=True, slots=True)
class Site:
    """Where a VLAN lies and who its gateway is, for those who visit it."""

    network: IPv4Network
    gateway: IPv4Address | None


Visitor = tuple[Station, int]
"""A station that is only there for trials, and its VLAN."""


def visitors(scenario: Scenario, sites: Mapping[int, Site]) -> tuple[Visitor, ...]:
    """A visitor at the first and at the last needed address of every network, unless a station has it or will get it.

    sites: by VLAN number.
    """
    found = []
    for vlan in scenario.vlans:
        site = sites[vlan.number]
        taken = {station.fixed_number for station in scenario.stations if station.vlan == vlan.number}
        taken.update(
            range(
                scenario.rules.kept_for_fixed + 1,
                scenario.rules.kept_for_fixed + len(scenario.dhcp_stations(vlan.number)) + 1,
            )
        )
        for place, number in zip(("first", "last"), _needed_hosts(scenario, vlan), strict=True):
            if number in taken:
                continue
            taken.add(number)
            fixed = FixedAddress(
                address=usable_address(site.network, number),
                prefix_length=site.network.prefixlen,
                gateway=site.gateway,
            )
            visitor = Station(
                name=f"{place} needed address of VLAN {vlan.number} (no. {number})",
                mac=Mac(f"visitor {vlan.number} {place}"),
                at=PortRef(vlan.switch, PortName(f"visitor {vlan.number} {place}")),
                uses_dhcp=False,
                fixed=fixed,
            )
            found.append((visitor, vlan.number))
    return tuple(found)


def _needed_hosts(scenario: Scenario, vlan: Vlan) -> tuple[int, int]:
    """Numbers of the lowest and the highest usable address that a host of the network may need."""
    if scenario.rules.gateway is GatewayPlace.LAST_USABLE:
        return 1, vlan.addresses_needed - 1
    return 2, vlan.addresses_needed


def try_network(
    scenario: Scenario, network: Network, guests: Sequence[Visitor], *, with_controls: bool
) -> tuple[Running, tuple[Tried, ...]]:
    """Switches the network on and tries it; gives the network in operation and the trials in order.

    with_controls: whether attacks are tried without their protection too.
    """
    running, leases = start(network.with_visitors(guests))
    unsnooped = without_snooping(running) if with_controls else None
    tried = (
        *(Tried(kind=TrialKind.LEASE, source=name, outcome=outcome) for name, outcome in leases.items()),
        *_pings(running, network.stations),
        *_reaches(scenario, running, [visitor for visitor, _ in guests]),
        *_rogues(scenario, running, unsnooped),
        *_rogues_on_links(scenario, running, unsnooped),
        *_forgeries(scenario, running, with_controls=with_controls),
    )
    return running, tried


def _pings(running: Running, stations: tuple[Station, ...]) -> Iterator[Tried]:
    for source in stations:
        for target in stations:
            if source is not target:
                yield _ping(running, TrialKind.PING, source, target)


def _ping(running: Running, kind: TrialKind, source: Station, target: Station) -> Tried:
    outcome = ping(running, source, target).drop or Delivered(target.name)
    return Tried(kind=kind, source=source.name, target=target.name, outcome=outcome)


def _reaches(scenario: Scenario, running: Running, guests: Sequence[Station]) -> Iterator[Tried]:
    """To each needed address and back again, from the server and from one visitor on every switch: each switch's own
    route or interface has to cover the address.
    """
    server = running.network.station(scenario.server.name)
    by_switch = {visitor.at.switch: visitor for visitor in reversed(guests)}
    for visitor in guests:
        for partner in (server, *by_switch.values()):
            if partner is not visitor:
                yield _ping(running, TrialKind.REACH, partner, visitor)


def _rogues(scenario: Scenario, running: Running, unprotected: Running | None) -> Iterator[Tried]:
    """In every snooped VLAN with DHCP stations each station plays a false server for another one."""
    for vlan in scenario.dhcp_vlans:
        if not vlan.is_snooped:
            continue
        rogues = [station for station in scenario.stations if station.vlan == vlan.number and not station.is_server]
        victims = scenario.dhcp_stations(vlan.number)
        for rogue in rogues:
            victim = next((each for each in victims if each is not rogue), None)
            if victim is not None:
                yield Tried(
                    kind=TrialKind.ROGUE_SERVER,
                    source=rogue.name,
                    target=victim.name,
                    outcome=_offered(running, rogue.name, victim.name),
                    control=None if unprotected is None else _offered(unprotected, rogue.name, victim.name),
                )


def _rogues_on_links(scenario: Scenario, running: Running, unprotected: Running | None) -> Iterator[Tried]:
    """On every link a false server, towards each of its switches that looks for such messages there."""
    checked = untrusted_link_ports(scenario)
    for link in scenario.links:
        for end in (link.first, link.second):
            if end in checked:
                yield Tried(
                    kind=TrialKind.ROGUE_ON_LINK,
                    source=link.name,
                    target=end.switch,
                    outcome=rogue_on_link(running, end),
                    control=None if unprotected is None else rogue_on_link(unprotected, end),
                )


def _offered(running: Running, rogue: str, victim: str) -> Outcome:
    return rogue_offer(running, running.network.station(rogue), running.network.station(victim))


def _forgeries(scenario: Scenario, running: Running, *, with_controls: bool) -> Iterator[Tried]:
    """Every station on a port that should be guarded sends with the address of another, and with another MAC."""
    unprotected = without_guard(running) if with_controls else None
    guarded = guarded_ports(scenario)
    server = running.network.station(scenario.server.name)
    for plan in scenario.stations:
        if plan.at not in guarded:
            continue
        station = running.network.station(plan.name)
        others = (each for each in running.network.stations if each.name not in (plan.name, server.name))
        other = next(others, server)
        borrowed = _address_of(running, other)
        yield Tried(
            kind=TrialKind.FORGED_ADDRESS,
            source=station.name,
            target=other.name,
            outcome=forge(running, station, server, address=borrowed),
            control=None if unprotected is None else forge(unprotected, station, server, address=borrowed),
        )
        yield Tried(
            kind=TrialKind.FORGED_MAC,
            source=station.name,
            target=other.name,
            outcome=forge(running, station, server, mac=other.mac),
            control=None if unprotected is None else forge(unprotected, station, server, mac=other.mac),
        )


def _address_of(running: Running, station: Station) -> IPv4Address:
    """0.0.0.0 where the station has none."""
    host = running.host(station)
    return IPv4Address(0 if host is None else host.address)


def retraced(scenario: Scenario, running: Running, tried: Tried) -> tuple[Tried, tuple[Step, ...]]:
    """A trial that was made on the network, made once more, and its steps.

    What became of it may differ: since then other stations may have got their leases.
    """
    again = _again(scenario, running, tried)
    outcome = again.result.drop or Delivered(tried.target) if isinstance(again.result, Ping) else again.result
    return replace(tried, outcome=outcome, control=None), again.steps


def _again(scenario: Scenario, running: Running, tried: Tried) -> Traced[Any]:
    if tried.kind is TrialKind.ROGUE_ON_LINK:
        link = next(link for link in scenario.links if link.name == tried.source)
        return traced(rogue_on_link, running, link.end_at(SwitchName(tried.target)))
    stations = {station.name: station for station in running.network.stations}
    source, server = stations[tried.source], stations[scenario.server.name]
    if tried.kind is TrialKind.LEASE:
        return traced(request_lease, running, source)
    target = stations[tried.target]
    if tried.kind is TrialKind.ROGUE_SERVER:
        return traced(rogue_offer, running, source, target)
    if tried.kind is TrialKind.FORGED_ADDRESS:
        return traced(forge, running, source, server, address=_address_of(running, target))
    if tried.kind is TrialKind.FORGED_MAC:
        return traced(forge, running, source, server, mac=target.mac)
    return traced(ping, running, source, target)
