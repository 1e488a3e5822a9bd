"""What the instructor describes, as values: ranges to draw from, the roll, and what is asked."""

import random
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from ipaddress import IPv4Network
from typing import Any

from trainer.lab.coded import Coded
from trainer.lab.plan import lengths_in_order, needs_served
from trainer.lab.repair.sheet import RepairRules
from trainer.lab.scenario import Resits, Rules, Saved, SectionShare, Trainee
from trainer.lab.works import MustWork, ToPass
from trainer.network.addresses import LONGEST_NETWORK
from trainer.network.devices import SwitchName

__all__ = [
    "ANY_SWITCH",
    "EACH_SWITCH",
    "LEVELS",
    "SERVER_NAME",
    "Exercise",
    "ExerciseKind",
    "ListedNetwork",
    "ListedSwitch",
    "Numbers",
    "Shape",
    "give_one",
    "station_names",
]

SERVER_NAME = "DHCP server"
_SHORTEST_NETWORK = 16
"""Prefix length for the most addresses that may be needed."""
EACH_SWITCH, ANY_SWITCH = SwitchName("each"), SwitchName("any")
"""In table Switches: a row for all that have none. In table Networks: a network on every switch; on one that is drawn."""


class ExerciseKind(Coded):
    """What trainees do with the network."""

    PLAN = "plan", "plan"
    FAULTS = "faults", "faults"
    """They find what is wrong with it."""


LEVELS = {
    1: RepairRules(faults=1, decoys=0, has_counters=True),
    2: RepairRules(faults=1, decoys=2, has_counters=True),
    3: RepairRules(faults=1, decoys=2, has_counters=False),
    4: RepairRules(faults=2, decoys=2, has_counters=True),
    5: RepairRules(faults=2, decoys=2, has_counters=True, hides_second=True),
}
"""What the levels of fault-finding exercises stand for. The last is for practice alone: who finds the first fault has to see what
comes next."""


class Shape(Coded):
    """How the switches are joined. All shapes are trees: a ring has no single right set of routes."""

    AS_LISTED = "as-listed", "as listed"
    CHAIN = "chain", "chain"
    STAR = "star", "star"
    TREE = "tree", "tree"
    ANY = "any", "any"


@dataclass(frozen=True, slots=True)
class Numbers:
    """Numbers to draw from: one value, a range or a list of both. Both ends count."""

    ranges: tuple[tuple[int, int], ...]
    """Lowest first; no two of them meet."""

    def __iter__(self) -> Iterator[int]:
        for low, high in self.ranges:
            yield from range(low, high + 1)

    def __len__(self) -> int:
        return sum(high - low + 1 for low, high in self.ranges)

    def __contains__(self, number: object) -> bool:
        return any(low <= number <= high for low, high in self.ranges if isinstance(number, int))

    def __str__(self) -> str:
        return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in self.ranges)

    @property
    def lowest(self) -> int:
        return min(low for low, _ in self.ranges)

    @property
    def highest(self) -> int:
        return max(high for _, high in self.ranges)

    def draw(self, rng: random.Random) -> int:
        return self.sample(rng, 1)[0]

    def within(self, ranges: Iterable[tuple[int, int]]) -> "Numbers":
        """Those that lie in one of the ranges, whose both ends count and of which no two meet; there may be none.

        >>> str(Numbers(((31, 62), (70, 70))).within([(31, 54), (63, 117)]))
        '31-54, 70'
        """
        shared = ((max(low, least), min(high, most)) for low, high in self.ranges for least, most in ranges)
        return Numbers(tuple((low, high) for low, high in shared if low <= high))

    def sample(self, rng: random.Random, count: int) -> list[int]:
        """Different numbers in random order; as many as asked for, or all there are."""
        known = range(self.lowest, self.highest + 1) if len(self.ranges) == 1 else list(self)
        return rng.sample(known, min(count, len(self)))


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedSwitch:
    """A row of table Switches."""

    name: SwitchName
    places: tuple[str, ...]
    station_ports: Numbers
    link_ports: Numbers
    linked_to: tuple[SwitchName, ...]
    asks_routes: bool
    source: int
    """Row of the table, from 0, that this one was written in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedNetwork:
    """A row of table Networks."""

    number: int
    """The instructor's own number for the row, not the VLAN's."""
    switch: SwitchName
    vlans: Numbers
    names: tuple[str, ...]
    addresses_needed: Numbers
    dhcp_stations: int
    fixed_stations: int
    is_snooped: bool
    is_guarded: bool
    source: int
    """Row of the table, from 0, that this one was written in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """An exercise as the instructor describes it. Rows keep the order of the workbook."""

    code: str
    title: str
    date: str
    minutes: int | None
    one_lab_for_all: bool
    switch_count: Numbers | None
    """How many switches are drawn; None: those that are listed."""
    shape: Shape
    address_ranges: tuple[IPv4Network, ...]
    block_length: int | None
    """None: the smallest block that holds all networks."""
    link_lengths: Numbers
    lease_hours: Numbers
    server_network: int
    way_out: SwitchName | None = field(default=None, metadata={"added later": True})
    """The switch that has one."""
    rules: Rules = field(metadata={"flat": True})
    pass_mark: int
    must_work: MustWork | None = field(default=None, metadata={"added later": True})
    """What has to work for a pass beside the marks; None: nothing has to."""
    resits: Resits = field(default=Resits.LAST, metadata={"added later": True})
    saved: Saved = field(default=Saved.LAST, metadata={"added later": True})
    print_names: bool = field(default=False, metadata={"added later": True})
    """Whether handouts bear the trainees' names."""
    kind: ExerciseKind = field(default=ExerciseKind.PLAN, metadata={"added later": True})
    level: int | None = field(default=None, metadata={"added later": True})
    """How hard the faults are to find; None: as the next three say."""
    faults: int | None = field(default=None, metadata={"added later": True})
    decoys: int | None = field(default=None, metadata={"added later": True})
    counters: bool | None = field(default=None, metadata={"added later": True})
    no_fault: bool = field(default=False, metadata={"added later": True})
    """Whether some labs have no fault at all."""
    switches: tuple[ListedSwitch, ...]
    networks: tuple[ListedNetwork, ...]
    sections: tuple[SectionShare, ...]
    trainees: tuple[Trainee, ...]

    def parts(self) -> Mapping[str, object]:
        """Every setting and every table, by its id."""
        parts: dict[str, object] = {}
        for each in fields(self):
            value = getattr(self, each.name)
            inside = (
                {inner.name: getattr(value, inner.name) for inner in fields(Rules)} if each.name == "rules" else None
            )
            parts |= inside or {each.name: value}
        return parts

    def taking(self, names: Collection[str], other: "Exercise") -> "Exercise":
        """The exercise with some of its settings, by their ids, as another one has them."""
        of_rules: dict[str, Any] = {each.name: getattr(other.rules, each.name) for each in fields(Rules)}
        own: dict[str, Any] = {each.name: getattr(other, each.name) for each in fields(self)}
        rules = replace(self.rules, **{name: value for name, value in of_rules.items() if name in names})
        return replace(self, **{name: value for name, value in own.items() if name in names} | {"rules": rules})

    def minutes_for(self, trainee: Trainee) -> int | None:
        """The time that a trainee has, the extra minutes included; None where none is set."""
        return None if self.minutes is None else self.minutes + trainee.extra_minutes

    @property
    def repair_rules(self) -> RepairRules | None:
        """How hard the faults are to find; None where the network is to be planned."""
        if self.kind is ExerciseKind.PLAN:
            return None
        if self.level is not None:
            rules = LEVELS[self.level]
        else:
            assert self.faults is not None, "the exercise was checked"
            assert self.decoys is not None, "the exercise was checked"
            rules = RepairRules(faults=self.faults, decoys=self.decoys, has_counters=bool(self.counters))
        return replace(rules, may_have_none=self.no_fault, has_tables=True)

    @property
    def to_pass(self) -> ToPass:
        """What a pass takes."""
        return ToPass(pass_mark=self.pass_mark, must_work=self.must_work)

    @property
    def links(self) -> tuple[tuple[SwitchName, SwitchName], ...]:
        """The two switches of each link, the one listed first named first. Links that lead nowhere are left out."""
        order = [switch.name for switch in self.switches]
        pairs = ((switch.name, other) for switch in self.switches for other in switch.linked_to if other in order)
        return tuple((first, second) for first, second in (sorted(pair, key=order.index) for pair in pairs))

    def widest_lengths(self) -> tuple[int, ...]:
        """Prefix lengths of all networks when every drawn size is the largest."""
        homes = [network.switch for network in self.networks]
        needed = [(self.drawn_needs(each) or each.addresses_needed).highest for each in self.networks]
        return lengths_in_order(needed, homes, len(self.links), self.link_lengths.lowest, self.rules.order)

    def separate_labs(self, block_length: int) -> int:
        """How many blocks of that length the address ranges hold, so how many labs have addresses of their own."""
        return sum(
            2 ** (block_length - each.prefixlen) for each in self.address_ranges if each.prefixlen <= block_length
        )

    def stations_of(self, network: ListedNetwork) -> int:
        """All stations of a network, the DHCP server among them."""
        return network.dhcp_stations + network.fixed_stations + (network.number == self.server_network)

    def needs_served(self, network: ListedNetwork) -> tuple[tuple[int, int], ...]:
        """Which addresses needed the network's pool serves, of a /30 up to a /16, lowest first; the gateway and the fixed
        stations take none of it. A network without DHCP stations has no pool that could be short.
        """
        fixed = self.stations_of(network) - network.dhcp_stations
        found = (
            needs_served(length, self.rules.kept_for_fixed, self.rules.gateway, fixed)
            for length in range(LONGEST_NETWORK, _SHORTEST_NETWORK - 1, -1)
        )
        return tuple(each for each in found if each)

    def drawn_needs(self, network: ListedNetwork) -> Numbers:
        """What the network's addresses needed are drawn from: numbers that leave its pool short are not."""
        if not network.dhcp_stations:
            return network.addresses_needed
        return network.addresses_needed.within(self.needs_served(network))


def station_names(network: str, stations: int) -> tuple[str, ...]:
    """What the stations of a network are called: after it, with a number where there are several.

    >>> station_names("Cranes", 2), station_names("Cameras", 1)
    (('Cranes 1', 'Cranes 2'), ('Cameras',))
    """
    return (network,) * stations if stations < 2 else tuple(f"{network} {number}" for number in range(1, stations + 1))


def give_one(row: int, offers: Sequence[Iterable[object]], taken: dict[object, int], tried: set[object]) -> bool:
    """Gives the row one of its offers, moving rows that came before if need be; taken says who has what.

    Augmenting paths, as in every textbook on matching: rows are given one value each, or it is shown that they cannot.
    """
    for value in offers[row]:
        if value in tried:
            continue
        tried.add(value)
        if value not in taken or give_one(taken[value], offers, taken, tried):
            taken[value] = row
            return True
    return False
