"""One trainee's drawn network, and what is asked about it. Everything here is printed on the trainee's sheets."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network
from itertools import pairwise
from typing import TypeVar

from trainer.lab.coded import Coded
from trainer.lab.repair.sheet import Repair
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import Mac
from trainer.network.devices import DhcpOptions, PortName, PortRef, SwitchName

__all__ = [
    "OUTSIDE",
    "TEST_STATION",
    "Asked",
    "GatewayPlace",
    "Link",
    "LinkEnds",
    "OptionServer",
    "Order",
    "Resits",
    "Reveal",
    "RouteRule",
    "Rules",
    "Saved",
    "Scenario",
    "SectionShare",
    "StationPlan",
    "SwitchPlan",
    "Trainee",
    "UnknownAddresses",
    "Vlan",
    "VlanNumbers",
    "WayOut",
]


K = TypeVar("K")
V = TypeVar("V")


class Order(Coded):
    """In which order networks are placed in the block (rule Order)."""

    LARGEST_FIRST = "largest-first", "largest first"
    AS_LISTED = "as-listed", "as listed"
    RANGE_A_SWITCH = "a-range-a-switch", "a range a switch"
    FREE = "free", "free"
    """Any plan that fits is right."""


class GatewayPlace(Coded):
    """Which usable address the gateway has (rule Gateway)."""

    FIRST_USABLE = "first-usable", "first usable"
    LAST_USABLE = "last-usable", "last usable"
    FREE = "free", "free"
    """Any usable address is right that is in no pool and of no fixed station."""


class LinkEnds(Coded):
    """Which switch has the lower address of a link (rule Links)."""

    FIRST_NAMED = "first-named", "first-named"
    FREE = "free", "free"


class UnknownAddresses(Coded):
    """What may become of packets for addresses that nobody has (rule Routes)."""

    DROPPED = "dropped", "dropped"
    MAY_CIRCLE = "may-go-in-circles", "may loop"


class VlanNumbers(Coded):
    """Whether two switches may use one VLAN number, for different networks."""

    SEPARATE = "separate", "separate"
    MAY_REPEAT = "may-repeat", "may repeat"


class OptionServer(Coded):
    """Which server an option of the pools names (RFC 2132)."""

    NONE = "none", "none"
    DHCP_SERVER = "dhcp-server", "the DHCP server"


class Resits(Coded):
    """Which attempt of a trainee counts in the results."""

    LAST = "last", "last"
    BEST = "best", "best"
    CAPPED = "capped", "capped"
    """The best, where an attempt after the first earns the pass mark at most."""


class Saved(Coded):
    """Which of several files of one lab counts."""

    LAST = "last", "last"
    FIRST = "first", "first"


class RouteRule(Coded):
    """Which static routes are right (rule Routes)."""

    ANY_THAT_WORK = "any-that-work", "any that work"
    ONE_A_NETWORK = "one-a-network", "one a network"


class Reveal(Coded):
    """What trainees see on their feedback page; each includes the one before."""

    MARKS = "marks", "marks"
    HINTS = "hints", "hints"
    EXPLANATIONS = "explanations", "explanations"
    ANSWERS = "answers", "answers"


class Asked(Coded):
    """Whether a section is to be filled in, is printed with the right answers, or is left out."""

    YES = "yes", "yes"
    GIVEN = "given", "given"
    NO = "no", "no"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trainee:
    """A row of the roll."""

    id: str
    name: str = ""
    group: str = ""
    attempt: int = 1
    is_excused: bool = field(default=False, metadata={"added later": True})
    """Stands in the results as excused where nothing was handed in."""
    extra_minutes: int = field(default=0, metadata={"added later": True})
    """Time beyond that of the exercise; a lab's own `minutes` has it already."""

    @property
    def called(self) -> str:
        """Id and name, as people are listed."""
        return f"{self.id} {self.name}".rstrip()

    def is_of(self, group: str | None) -> bool:
        """Whether the trainee is in a group, whatever case it is written in; None stands for everybody."""
        return group is None or self.group.casefold() == group.casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchPlan:
    """A switch of the lab."""

    name: SwitchName
    place: str
    asks_routes: bool
    """False: the static routes of this switch are set already, and nobody asks for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vlan:
    """A VLAN and the network that belongs to it."""

    number: int
    """2 to 4094 (RFC 4363 VlanId; 1 is left to the ports nobody has configured)."""
    name: str
    switch: SwitchName
    addresses_needed: int
    """The gateway is counted, network and broadcast address are not."""
    is_snooped: bool
    is_guarded: bool
    may_repeat: bool = field(default=False, metadata={"added later": True})
    """Whether another switch of the lab may use the number for another network."""

    @property
    def id(self) -> VlanId:
        """What tells it apart from every other VLAN of the lab."""
        return VlanId.on(self.switch, self.number) if self.may_repeat else VlanId(self.number)


@dataclass(frozen=True, slots=True, kw_only=True)
class StationPlan:
    """A station and where it is plugged in."""

    name: str
    vlan: VlanId
    at: PortRef
    mac: Mac
    fixed_number: int | None
    """"Usable address no. 5" as 5; None for a station that asks for a lease."""
    is_server: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A routed link between two switches."""

    first: PortRef
    second: PortRef

    @property
    def name(self) -> str:
        return f"{self.first.switch}-{self.second.switch}"

    def end_at(self, switch: SwitchName) -> PortRef:
        """The port of the link on that switch."""
        return self.first if self.first.switch == switch else self.second


OUTSIDE, TEST_STATION = SwitchName("outside"), "test address outside"
"""What the neighbour outside, and the station beyond it that is pinged, are called."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """A routed port to a network outside. All of it is given, and set on that switch already but for what the port is."""

    at: PortRef
    network: IPv4Network
    """Of the link outward."""
    address: IPv4Address
    """Of the switch on that port."""
    neighbour: IPv4Address
    """To whom everything goes that is not of the lab."""
    test_network: IPv4Network
    test_address: IPv4Address
    """Of somebody in the test network, to be reached from everywhere."""

    @property
    def name(self) -> str:
        return f"{self.at.switch}-{OUTSIDE}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionShare:
    """Whether a section is asked, and its share of the total in per cent, 0 to 100."""

    section: str
    asked: Asked
    share: int


_OPTIONS = tuple(each.name for each in fields(DhcpOptions))
"""Of each option an exercise has a setting of the same name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How a lab is planned and marked: the settings that it takes over from its exercise as they are."""

    order: Order
    gateway: GatewayPlace
    link_ends: LinkEnds
    kept_for_fixed: int
    """So many usable addresses at the start of every network are in no pool."""
    route_rule: RouteRule
    unknown_addresses: UnknownAddresses
    follow_through: bool
    dns_server: OptionServer = field(default=OptionServer.NONE, metadata={"added later": True})
    vlan_numbers: VlanNumbers = field(default=VlanNumbers.SEPARATE, metadata={"added later": True})
    reveal: Reveal
    """What trainees see. It may change after a lab was drawn: what the sitting's exercise says now is what they see."""

    @property
    def numbers_may_repeat(self) -> bool:
        return self.vlan_numbers is VlanNumbers.MAY_REPEAT

    @property
    def options_given(self) -> Mapping[str, OptionServer]:
        """The options that every pool tells its clients, by field of DhcpOptions, each with the server that it names."""
        servers: dict[str, OptionServer] = {name: getattr(self, name) for name in _OPTIONS}
        return {name: server for name, server in servers.items() if server is not OptionServer.NONE}

    @property
    def has_choices(self) -> bool:
        """Whether some answer is the trainee's own choice, so that later ones are right only if they follow from it."""
        return Order.FREE is self.order or GatewayPlace.FREE is self.gateway or LinkEnds.FREE is self.link_ends


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """A lab: the network to plan, and how the plan is marked. Switches and links form a tree."""

    lab_number: str
    exercise_code: str
    title: str
    date: str
    minutes: int | None
    trainee: Trainee
    block: IPv4Network
    link_length: int
    """30 or 31 (RFC 3021)."""
    lease_hours: int
    switches: tuple[SwitchPlan, ...]
    vlans: tuple[Vlan, ...]
    stations: tuple[StationPlan, ...]
    """In the order in which they start."""
    links: tuple[Link, ...]
    way_out: WayOut | None = field(default=None, metadata={"added later": True})
    sections: tuple[SectionShare, ...]
    rules: Rules = field(metadata={"flat": True})
    repair: Repair | None = field(default=None, metadata={"added later": True})
    """What is wrong with the network as it is found; None where the lab is to be planned."""

    @cached_property
    def server(self) -> StationPlan:
        return next(station for station in self.stations if station.is_server)

    @cached_property
    def vlan_by_id(self) -> dict[VlanId, Vlan]:
        return {vlan.id: vlan for vlan in self.vlans}

    def vlans_numbered(self, number: int) -> tuple[Vlan, ...]:
        """The VLANs that have a number: one or none, where numbers may repeat one a switch at most."""
        return self._by_number.get(number, ())

    def vlan_on(self, switch: SwitchName, number: int) -> Vlan | None:
        """The VLAN that has a number on a switch."""
        return next((vlan for vlan in self.vlans_numbered(number) if vlan.switch == switch), None)

    @cached_property
    def _by_number(self) -> dict[int, tuple[Vlan, ...]]:
        return _grouped((vlan.number, vlan) for vlan in self.vlans)

    def vlans_of(self, switch: SwitchName) -> tuple[Vlan, ...]:
        """The VLANs of a switch, in order."""
        return self._vlans_by_switch.get(switch, ())

    @cached_property
    def _vlans_by_switch(self) -> dict[SwitchName, tuple[Vlan, ...]]:
        return _grouped((vlan.switch, vlan) for vlan in self.vlans)

    def links_of(self, switch: SwitchName) -> tuple[Link, ...]:
        """The links that end on a switch, in order."""
        return self._links_by_switch.get(switch, ())

    @cached_property
    def _links_by_switch(self) -> dict[SwitchName, tuple[Link, ...]]:
        return _grouped((end.switch, link) for link in self.links for end in (link.first, link.second))

    @cached_property
    def station_by_name(self) -> dict[str, StationPlan]:
        return {station.name: station for station in self.stations}

    @cached_property
    def link_by_name(self) -> dict[str, Link]:
        return {link.name: link for link in self.links}

    @cached_property
    def asked(self) -> tuple[str, ...]:
        """Ids of the sections to be filled in."""
        return tuple(share.section for share in self.sections if share.asked is Asked.YES)

    def stations_of(self, vlan: VlanId) -> tuple[StationPlan, ...]:
        """The stations of a VLAN, in the order in which they start."""
        return self._stations_by_vlan.get(vlan, ())

    @cached_property
    def _stations_by_vlan(self) -> dict[VlanId, tuple[StationPlan, ...]]:
        return _grouped((each.vlan, each) for each in self.stations)

    def dhcp_stations(self, vlan: VlanId) -> tuple[StationPlan, ...]:
        """The stations of a VLAN that ask for a lease, in the order in which they start."""
        return tuple(each for each in self.stations_of(vlan) if each.fixed_number is None)

    def turn_of(self, station: StationPlan) -> int:
        """How many stations of its VLAN ask for a lease before it: 0 for the first (rule Leases)."""
        return self.dhcp_stations(station.vlan).index(station)

    def leases_needed(self, vlan: VlanId) -> int:
        """How many leases the VLAN's pool has to hold: addresses needed but for the gateway's and the fixed stations'."""
        fixed = sum(station.fixed_number is not None for station in self.stations_of(vlan))
        return self.vlan_by_id[vlan].addresses_needed - 1 - fixed

    @cached_property
    def dhcp_vlans(self) -> tuple[Vlan, ...]:
        """The VLANs with stations that ask for a lease."""
        return tuple(vlan for vlan in self.vlans if self.dhcp_stations(vlan.id))

    def route_between(self, start: SwitchName, goal: SwitchName) -> tuple[SwitchName, ...]:
        """The switches on the only way from start to goal, both included."""
        return self._ways[start][goal]

    def ports_entered(self, start: SwitchName, goal: SwitchName) -> tuple[PortRef, ...]:
        """The link ports on which a packet comes in on its way from start to goal."""
        way = self.route_between(start, goal)
        return tuple(self._link_between(here, there).end_at(there) for here, there in pairwise(way))

    @cached_property
    def ports_of_answers(self) -> frozenset[PortRef]:
        """The ports on which the server's answers to its clients come in."""
        home = self.server.at
        entered = {port for vlan in self.dhcp_vlans for port in self.ports_entered(home.switch, vlan.switch)}
        return frozenset({*entered, home}) if self.dhcp_vlans else frozenset()

    def _link_between(self, one: SwitchName, other: SwitchName) -> Link:
        return self._joined[one, other]

    @cached_property
    def _joined(self) -> dict[tuple[SwitchName, SwitchName], Link]:
        """The link of two neighbours, either first."""
        ends = [(link.first.switch, link.second.switch, link) for link in self.links]
        return {pair: link for one, other, link in ends for pair in ((one, other), (other, one))}

    def link_towards(self, start: SwitchName, goal: SwitchName) -> Link:
        """The first link on the way; start and goal differ."""
        return self._link_between(start, self.route_between(start, goal)[1])

    @cached_property
    def _ways(self) -> dict[SwitchName, dict[SwitchName, tuple[SwitchName, ...]]]:
        neighbours: dict[SwitchName, list[SwitchName]] = {switch.name: [] for switch in self.switches}
        for link in self.links:
            neighbours[link.first.switch].append(link.second.switch)
            neighbours[link.second.switch].append(link.first.switch)
        ways = {}
        for start in neighbours:
            found: dict[SwitchName, tuple[SwitchName, ...]] = {start: (start,)}
            waiting = [start]
            for here in waiting:
                for there in neighbours[here]:
                    if there not in found:
                        found[there] = (*found[here], there)
                        waiting.append(there)
            ways[start] = found
        return ways

    @cached_property
    def link_ends(self) -> tuple[tuple[str, PortRef], ...]:
        """The routed ports, each with the name of its link; the way out is one of them."""
        ends = [(link.name, end) for link in self.links for end in (link.first, link.second)]
        return (*ends, *([] if self.way_out is None else [(self.way_out.name, self.way_out.at)]))

    def port_names(self, switch: SwitchName) -> tuple[PortName, ...]:
        """The used ports of a switch, stations' and links', lowest first."""
        return self._used_ports.get(switch, ())

    @cached_property
    def _used_ports(self) -> dict[SwitchName, tuple[PortName, ...]]:
        used = [*(station.at for station in self.stations), *(end for _, end in self.link_ends)]
        ports = _grouped((ref.switch, ref.port) for ref in used)
        return {switch: tuple(sorted(names, key=int)) for switch, names in ports.items()}


def _grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, tuple[V, ...]]:
    """What belongs to each key, in order."""
    found: dict[K, list[V]] = {}
    for key, value in pairs:
        found.setdefault(key, []).append(value)
    return {key: tuple(values) for key, values in found.items()}
