"""Short questions of the second kind: one slip is put into a right network, the network is tried, and it is asked what fails.

Right is the trial that changed, wrong are trials that did not: they are made, never thought up.
"""

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from trainer.lab.build import build
from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import bindings, links, pools, ports, protection, relays, routes, stations, subnets
from trainer.lab.rows import PortRow, RouteRow, StationRow, SwitchRow, VlanRow
from trainer.lab.scenario import Scenario, StationPlan
from trainer.lab.trials import TrialKind, Tried, try_network
from trainer.lab.vlan_id import VlanId
from trainer.network.topology import Running
from trainer.network.trace import render
from trainer.network.trials import traced
from trainer.study.question import Judged

__all__ = ["HAPPENS", "HappensQuestion", "Slip", "happens_question"]

_LETTERS = "abcd"
_LAST_STEPS = 5
"""Of a packet's way so many steps are told, the last ones."""
_ASKED = {
    TrialKind.LEASE: "Who gets no lease?",
    TrialKind.PING: "Which ping is not answered?",
    TrialKind.ROGUE_SERVER: "Which rogue offer gets through?",
    TrialKind.FORGED_ADDRESS: "Which forged packet gets through?",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slipped:
    """A network that is right but for one slip."""

    words: str
    """What is not as it should be."""
    values: Mapping[CellRef, Any]
    """Cells that hold something else than the key; None for a cell of a row that is not there."""
    gone: tuple[tuple[str, RowKey], ...] = ()
    """Rows of open sections that are not there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One sort of slip, and what it is tried by."""

    ask: str
    """happens.<what>, stable for ever: it stands in logs."""
    concept: Concept
    tried_by: TrialKind
    made: Callable[[Scenario, SoFar, random.Random], _Slipped]


def _without_row(section: str, row: RowKey, words: str) -> _Slipped:
    return _Slipped(words=words, values={}, gone=((section, row),))


def _other(scenario: Scenario, switch: str, rng: random.Random) -> VlanId:
    """A VLAN of another switch with stations in it."""
    used = {each.vlan for each in scenario.stations}
    return rng.choice([each.id for each in scenario.vlans if each.switch != switch and each.id in used])


def _no_route(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    switch = rng.choice(scenario.switches).name
    vlan = _other(scenario, switch, rng)
    words = f"Switch {switch} has no route to the network of VLAN {vlan}; every other switch has all of its routes."
    return _without_row(routes.ROUTES.id, RouteRow(switch, vlan), words)


def _no_way_back(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    """The route back to clients, on the switch of the server."""
    home = scenario.server.at.switch
    vlan = rng.choice([each for each in scenario.dhcp_vlans if each.switch != home])
    words = f"Switch {home} has no route back to the network of VLAN {vlan.number}; every other switch has all of its routes."
    return _without_row(routes.ROUTES.id, RouteRow(home, vlan.number), words)


def _no_relay(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    vlan = rng.choice([each for each in scenario.dhcp_vlans if each.number != scenario.server.vlan])
    words = f"VLAN {vlan.number} on switch {vlan.switch} has no relay agent; the other VLANs have theirs."
    return _without_row(relays.RELAYS.id, VlanRow(vlan.number), words)


def _wrong_gateway(scenario: Scenario, key: SoFar, rng: random.Random) -> _Slipped:
    fixed = [each for each in scenario.stations if each.fixed_number is not None and not each.is_server]
    station = rng.choice(fixed)
    vlan = rng.choice([each.number for each in scenario.vlans if each.number != station.vlan])
    gateway = key.value(subnets.GATEWAY, VlanRow(vlan))
    cell = CellRef(stations.STATION_GATEWAY.id, StationRow(station.name))
    words = f"{station.name} of VLAN {station.vlan} has the gateway of VLAN {vlan} set on it."
    return _Slipped(words=words, values={cell: gateway})


def _wrong_router(scenario: Scenario, key: SoFar, rng: random.Random) -> _Slipped:
    vlan = rng.choice(scenario.dhcp_vlans)
    other = rng.choice([each.number for each in scenario.vlans if each.number != vlan.number])
    cell = CellRef(pools.POOL_ROUTER.id, VlanRow(vlan.number))
    words = f"The pool of VLAN {vlan.number} hands out the gateway of VLAN {other} as router."
    return _Slipped(words=words, values={cell: key.value(subnets.GATEWAY, VlanRow(other))})


def _own_end(scenario: Scenario, key: SoFar, rng: random.Random) -> _Slipped:
    switch = rng.choice(scenario.switches).name
    vlan = _other(scenario, switch, rng)
    goal = scenario.vlan_by_id[vlan].switch
    own = links.end_address(key, scenario.link_towards(switch, goal), switch)
    cell = CellRef(routes.NEXT_HOP.id, RouteRow(switch, vlan))
    words = f"On switch {switch} the route to VLAN {vlan} names switch {switch}'s own address on the link as next hop."
    return _Slipped(words=words, values={cell: own})


def _not_trusted(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    """On a switch at the end of a way, so that others still get their leases."""
    home = scenario.server.at.switch
    ends = [each for each in scenario.switches if len(scenario.ports_entered(home, each.name)) > 1]
    row = SwitchRow(rng.choice(ends).name)
    words = f"Switch {row.switch} snoops and trusts no port; all other switches trust what they should."
    return _Slipped(words=words, values={CellRef(protection.TRUSTED.id, row): frozenset()})


def _trusted_too_much(scenario: Scenario, key: SoFar, rng: random.Random) -> _Slipped:
    """Of a fixed station: where a port is trusted no lease is learnt, so source guard would stop a client there."""
    hearing = {each.number for each in scenario.dhcp_vlans if each.is_snooped}
    station = rng.choice([each for each in scenario.stations if each.vlan in hearing and each.fixed_number is not None])
    row = SwitchRow(station.at.switch)
    cell = CellRef(protection.TRUSTED.id, row)
    words = f"Switch {row.switch} trusts port {station.at} of {station.name} too, beside the ports that it should."
    return _Slipped(words=words, values={cell: key.value(protection.TRUSTED, row) | {station.at.port}})


def _not_guarded(scenario: Scenario, key: SoFar, rng: random.Random) -> _Slipped:
    guarded = protection.guarded_ports(scenario)
    station = rng.choice([each for each in scenario.stations if each.at in guarded])
    row = SwitchRow(station.at.switch)
    cell = CellRef(protection.GUARDED.id, row)
    words = f"Port {station.at} of {station.name} is not guarded; all others are that should be."
    return _Slipped(words=words, values={cell: key.value(protection.GUARDED, row) - {station.at.port}})


def _not_bound(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    guarded = protection.guarded_ports(scenario)
    station = rng.choice([each for each in scenario.stations if each.at in guarded and each.fixed_number is not None])
    words = f"The binding table has no row for {station.name}, which has a fixed address on a guarded port."
    return _without_row(bindings.BINDINGS.id, StationRow(station.name), words)


def _in_another_vlan(scenario: Scenario, _key: SoFar, rng: random.Random) -> _Slipped:
    fixed = [each for each in scenario.stations if each.fixed_number is not None and not each.is_server]
    station = rng.choice(fixed)
    others = [
        each.number for each in scenario.vlans if each.switch == station.at.switch and each.number != station.vlan
    ]
    vlan = rng.choice(others)
    words = f"Port {station.at} of {station.name}, a station of VLAN {station.vlan}, carries VLAN {vlan} instead."
    return _Slipped(words=words, values={CellRef(ports.PORT_VLAN.id, PortRow(station.at)): vlan})


_ALL = (
    Slip(ask="happens.gateway", concept=Concept.GATEWAY, tried_by=TrialKind.PING, made=_wrong_gateway),
    Slip(ask="happens.port", concept=Concept.PORTS, tried_by=TrialKind.PING, made=_in_another_vlan),
    Slip(ask="happens.next_hop", concept=Concept.ROUTES, tried_by=TrialKind.PING, made=_own_end),
    Slip(ask="happens.no_route", concept=Concept.ROUTES, tried_by=TrialKind.PING, made=_no_route),
    Slip(ask="happens.way_back", concept=Concept.RETURN_PATH, tried_by=TrialKind.LEASE, made=_no_way_back),
    Slip(ask="happens.router", concept=Concept.POOL, tried_by=TrialKind.PING, made=_wrong_router),
    Slip(ask="happens.relay", concept=Concept.RELAY, tried_by=TrialKind.LEASE, made=_no_relay),
    Slip(ask="happens.trust", concept=Concept.SNOOPING, tried_by=TrialKind.LEASE, made=_not_trusted),
    Slip(ask="happens.rogue", concept=Concept.SNOOPING, tried_by=TrialKind.ROGUE_SERVER, made=_trusted_too_much),
    Slip(ask="happens.binding", concept=Concept.BINDINGS, tried_by=TrialKind.PING, made=_not_bound),
    Slip(ask="happens.guard", concept=Concept.GUARD, tried_by=TrialKind.FORGED_ADDRESS, made=_not_guarded),
)
HAPPENS: Mapping[str, Slip] = {each.ask: each for each in _ALL}
"""By what stands in the log."""


@dataclass(frozen=True, kw_only=True)
class HappensQuestion:
    """One slip, and four trials of which one changed."""

    scenario: Scenario
    slip: Slip
    words: str
    choices: tuple[Tried, ...]
    """As they went in the network with the slip."""
    right: int
    """Which of the choices changed, from 0."""
    running: Running
    """The network with the slip."""

    @property
    def ask(self) -> str:
        return self.slip.ask

    @property
    def row(self) -> str:
        return self.choices[self.right].subject

    @property
    def concept(self) -> Concept:
        return self.slip.concept

    @property
    def prompt(self) -> tuple[str, ...]:
        offered = (f"{letter}) {each.subject}" for letter, each in zip(_LETTERS, self.choices, strict=True))
        return (
            *_plan(self.scenario, self.choices, self.words),
            f"{self.words} All else is as it should be.",
            f"{_ASKED[self.slip.tried_by]} {'; '.join(offered)}",
        )

    @property
    def likeness(self) -> str:
        return ""

    @property
    def example(self) -> tuple[str, ...]:
        """None: what happens in another network says nothing of this one."""
        return ()

    @cached_property
    def steps(self) -> tuple[str, ...]:
        """What the slip is, and what each device looked up in the trial that changed."""
        chosen = self.choices[self.right]
        lines = [line.rstrip(".") for line in render(traced(chosen.trial.run, self.running).steps)]
        first, *others = lines[-_LAST_STEPS:]
        begins = "at the end of its way" if len(lines) > _LAST_STEPS else "on its way"
        return (self.words.rstrip("."), f"{begins} {first}", *others, f"so {self.answer}")

    @property
    def answer(self) -> str:
        return f"{_LETTERS[self.right]}) {self.choices[self.right].subject}"

    @property
    def written_like(self) -> str:
        return "a"

    def takes(self, text: str) -> bool:
        return _letter(text) is not None

    def judge(self, text: str) -> Judged:
        """Right is the trial that changed."""
        place = _letter(text)
        if place == self.right:
            return Judged(is_right=True, verdict="right")
        if place is None:
            return Judged(is_right=False, verdict="unreadable", explanation="Write one letter, a to d.")
        chosen = self.choices[place]
        told = "is stopped as before" if chosen.is_attack else "goes as before"
        return Judged(
            is_right=False,
            verdict="wrong",
            mistake=f"{self.ask}.unchanged",
            explanation=f"Tried: {chosen.subject} {told}, for the slip is not on its way.",
            hint=f"Which of the four {'packets' if chosen.is_attack else 'ways'} meets what is not as it should be?",
        )


def _letter(text: str) -> int | None:
    found = text.strip().casefold().rstrip(").")
    return _LETTERS.index(found) if len(found) == 1 and found in _LETTERS else None


def _plan(scenario: Scenario, choices: Sequence[Tried], words: str) -> tuple[str, ...]:
    """What has to be known of the network: its switches with their VLANs, and the stations that are spoken of."""
    switches = []
    for switch in scenario.switches:
        own = [str(each.number) for each in scenario.vlans if each.switch == switch.name]
        switches.append(f"{switch.name} with VLANs {', '.join(own)}")
    named = {name for each in choices for name in (each.source, each.target)} | {scenario.server.name}
    told = [each for each in scenario.stations if each.name in named or each.name in words]
    return (
        f"Links: {', '.join(link.name for link in scenario.links)}. Switches: {'; '.join(switches)}.",
        f"Stations: {'; '.join(_told(each, scenario) for each in told)}.",
    )


def _told(station: StationPlan, scenario: Scenario) -> str:
    vlan = scenario.vlan_by_id[station.vlan]
    kind = "asks for a lease" if station.fixed_number is None else "fixed address"
    guarded = ", guarded" if station.at in protection.guarded_ports(scenario) else ""
    snooped = ", snooped" if vlan.is_snooped else ""
    return f"{station.name} at {station.at}, VLAN {station.vlan}{snooped} ({kind}{guarded})"


def happens_question(ask: str, scenario: Scenario, rng: random.Random) -> HappensQuestion:
    """A slip of that sort in a lab, with one trial that changed and three that did not.

    Raises LookupError where the lab has too few of either; another lab has enough.
    """
    slip = HAPPENS[ask]
    key = derive_key(scenario)
    slipped = slip.made(scenario, SoFar(scenario), rng)
    _, before = try_network(scenario, build(scenario, key).network, (), with_controls=False)
    running, after = try_network(
        scenario, build(scenario, key.changed(slipped.values, without=slipped.gone)).network, (), with_controls=False
    )
    went = {each.name: each for each in before}
    both = [(went[each.name], each) for each in after if each.kind is slip.tried_by and each.name in went]
    changed = [each for was, each in both if was.works and each.fails]
    same = [each for was, each in both if was.works and each.works]
    if not changed or len(same) < len(_LETTERS) - 1:
        raise LookupError(f"{ask}: {len(changed)} trials changed, {len(same)} did not")
    chosen = [rng.choice(changed), *rng.sample(same, len(_LETTERS) - 1)]
    order = rng.sample(range(len(chosen)), len(chosen))
    return HappensQuestion(
        scenario=scenario,
        slip=slip,
        words=slipped.words,
        choices=tuple(chosen[place] for place in order),
        right=order.index(0),
        running=running,
    )
