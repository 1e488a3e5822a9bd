"""What a drawing of a lab's network says: what is given, and with the key what is right. Nothing of where it stands."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.form import Answers
from trainer.lab.questions import links, protection, relays, routes, stations, subnets
from trainer.lab.repair.observing import is_noticed
from trainer.lab.repair.sheet import SymptomSort
from trainer.lab.rows import LinkRow, StationRow, SwitchRow
from trainer.lab.scenario import Link, Scenario, StationPlan, SwitchPlan, Vlan
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "LinkView",
    "NetworkView",
    "PortMark",
    "PortView",
    "RouteView",
    "StationState",
    "StationView",
    "SwitchView",
    "VlanView",
    "view",
]


_OUT = SwitchName("out")
"""What stands in the square of the network outside, where a switch has its letter."""


class StationState(Enum):
    """What was seen of a station in a network with faults."""

    ANSWERS = "answers"
    NO_ANSWER = "no answer"
    NO_LEASE = "no lease"


class PortMark(Enum):
    """What protects a port, or lets the server's messages in."""

    TRUSTED = "T"
    GUARDED = "G"


@dataclass(frozen=True, slots=True)
class PortView:
    """A used port."""

    name: PortName
    marks: tuple[PortMark, ...]

    @property
    def text(self) -> str:
        return " ".join((self.name, *(mark.value for mark in self.marks)))


@dataclass(frozen=True, slots=True, kw_only=True)
class StationView:
    """A station on its port."""

    name: str
    port: PortView
    address: str
    """"DHCP", "no. 5", or with the key its fixed address; behind it what was seen of a station in trouble."""
    is_server: bool
    state: StationState | None = None
    """None where nobody looked, and with the key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VlanView:
    """A VLAN of a switch; without the key it has no network and nothing of the rest."""

    number: int
    name: str
    addresses_needed: int
    stations: tuple[StationView, ...]
    network: IPv4Network | None = None
    gateway: IPv4Address | None = None
    is_snooped: bool = False
    relay_target: IPv4Address | None = None


@dataclass(frozen=True, slots=True)
class RouteView:
    """The routes of a switch over one next hop."""

    goals: tuple[str, ...]
    """A switch's name for all its VLAN networks; any other destination by itself."""
    next_hop: IPv4Address


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchView:
    """A switch with its VLANs."""

    name: SwitchName
    place: str
    vlans: tuple[VlanView, ...]
    routes: tuple[RouteView, ...]
    is_outside: bool = False
    """Whether it is no switch of the lab, but stands for the network outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkView:
    """A routed link; with the key it has a network, and each end an address."""

    name: str
    ends: tuple[tuple[SwitchName, PortView], tuple[SwitchName, PortView]]
    network: IPv4Network | None = None
    addresses: tuple[IPv4Address, IPv4Address] | None = None

    def end_at(self, switch: SwitchName) -> PortView:
        """The port of the link on that switch."""
        return next(port for name, port in self.ends if name == switch)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkView:
    """A lab's network."""

    lab_number: str
    block: IPv4Network
    switches: tuple[SwitchView, ...]
    links: tuple[LinkView, ...]
    has_key: bool


def view(scenario: Scenario, key: Answers | None) -> NetworkView:
    """What is given; with the key also addresses, routes, trusted and guarded ports, snooped VLANs and relay agents."""
    reader = _Reader(scenario, key)
    return NetworkView(
        lab_number=scenario.lab_number,
        block=scenario.block,
        switches=(*(reader.switch(switch) for switch in scenario.switches), *reader.outside()),
        links=(*(reader.link(link) for link in scenario.links), *reader.link_outward()),
        has_key=key is not None,
    )


class _Reader:
    def __init__(self, scenario: Scenario, key: Answers | None) -> None:
        self.scenario = scenario
        self.key = key
        self.networks = {} if key is None else {vlan.id: _network(key, vlan) for vlan in scenario.vlans}

    def switch(self, plan: SwitchPlan) -> SwitchView:
        return SwitchView(
            name=plan.name,
            place=plan.place,
            vlans=tuple(self.vlan(vlan) for vlan in self.scenario.vlans if vlan.switch == plan.name),
            routes=() if self.key is None else self.routes(self.key, plan.name),
        )

    def vlan(self, vlan: Vlan) -> VlanView:
        row = subnets.row_of(vlan.id)
        key = self.key
        return VlanView(
            number=vlan.number,
            name=vlan.name,
            addresses_needed=vlan.addresses_needed,
            stations=tuple(self.station(each) for each in self.scenario.stations if each.vlan == vlan.id),
            network=self.networks.get(vlan.id),
            gateway=key.get(subnets.GATEWAY, row) if key else None,
            is_snooped=vlan.number in (key.get(protection.SNOOPED, SwitchRow(vlan.switch)) or ()) if key else False,
            relay_target=_relay_target(key, vlan) if key else None,
        )

    def station(self, plan: StationPlan) -> StationView:
        given = "DHCP" if plan.fixed_number is None else f"no. {plan.fixed_number}"
        address = self.key.get(stations.STATION_ADDRESS, StationRow(plan.name)) if self.key else None
        state = None if self.key else _state(self.scenario, plan.name)
        if state in (StationState.NO_ANSWER, StationState.NO_LEASE):
            given = f"{given}, {state.value}"
        return StationView(
            name=plan.name,
            port=self.port(plan.at),
            address=given if address is None else str(address),
            is_server=plan.is_server,
            state=state,
        )

    def port(self, at: PortRef) -> PortView:
        row = SwitchRow(at.switch)
        marks = []
        if self.key is not None:
            for mark, question in ((PortMark.TRUSTED, protection.TRUSTED), (PortMark.GUARDED, protection.GUARDED)):
                if at.port in (self.key.get(question, row) or ()):
                    marks.append(mark)
        return PortView(at.port, tuple(marks))

    def link(self, link: Link) -> LinkView:
        ends = ((link.first.switch, self.port(link.first)), (link.second.switch, self.port(link.second)))
        row = LinkRow(link.name)
        first, second = (
            self.key.get(links.address_question(link, end.switch), row) if self.key else None
            for end in (link.first, link.second)
        )
        length = self.key.get(links.LINK_MASK, row) if self.key else None
        if first is None or second is None or length is None:
            return LinkView(name=link.name, ends=ends)
        network = IPv4Network((first, length), strict=False)
        return LinkView(name=link.name, ends=ends, network=network, addresses=(first, second))

    def outside(self) -> Iterator[SwitchView]:
        """The network outside, drawn as a switch without VLANs."""
        out = self.scenario.way_out
        if out is not None:
            yield SwitchView(name=_OUT, place=f"test {out.test_address}", vlans=(), routes=(), is_outside=True)

    def link_outward(self) -> Iterator[LinkView]:
        out = self.scenario.way_out
        if out is not None:
            ends = ((out.at.switch, self.port(out.at)), (_OUT, PortView(PortName("1"), ())))
            yield LinkView(name=out.name, ends=ends, network=out.network, addresses=(out.address, out.neighbour))

    def routes(self, key: Answers, switch: SwitchName) -> tuple[RouteView, ...]:
        """By next hop, in the order of the key."""
        reached: dict[IPv4Address, list[IPv4Network]] = {}
        for row in key.rows.get(routes.ROUTES.id, ()):
            destination, length = key.get(routes.DESTINATION, row), key.get(routes.ROUTE_MASK_OF, row)
            next_hop = key.get(routes.NEXT_HOP, row)
            is_here = key.get(routes.ROUTE_SWITCH, row) == switch
            if is_here and destination is not None and length is not None and next_hop is not None:
                reached.setdefault(next_hop, []).append(IPv4Network((destination, length)))
        return tuple(RouteView(self.goals(networks), next_hop) for next_hop, networks in reached.items())

    def goals(self, reached: list[IPv4Network]) -> tuple[str, ...]:
        """Switches all of whose VLAN networks are reached by their names, whatever else is reached by itself."""
        names, left = [], list(reached)
        for switch in self.scenario.switches:
            own = [self.networks[vlan.id] for vlan in self.scenario.vlans if vlan.switch == switch.name]
            if own and all(network in left for network in own):
                names.append(switch.name)
                left = [network for network in left if network not in own]
        return (*names, *map(str, left))


def _state(scenario: Scenario, station: str) -> StationState | None:
    """Whether it got its lease, and answered the DHCP server, as far as that is printed."""
    symptoms = () if scenario.repair is None or scenario.repair.is_one_by_one else scenario.repair.symptoms
    in_trouble = {
        each.sort: is_noticed(each.sort, each.seen)
        for each in symptoms
        if (each.sort, each.source) == (SymptomSort.LEASE, station)
        or (each.sort, each.source, each.target) == (SymptomSort.PING, scenario.server.name, station)
    }
    if in_trouble.get(SymptomSort.LEASE):
        return StationState.NO_LEASE
    if SymptomSort.PING in in_trouble:
        return StationState.NO_ANSWER if in_trouble[SymptomSort.PING] else StationState.ANSWERS
    return None


def _network(key: Answers, vlan: Vlan) -> IPv4Network | None:
    row = subnets.row_of(vlan.id)
    address, length = key.get(subnets.NETWORK_ADDRESS, row), key.get(subnets.PREFIX_LENGTH_OF, row)
    return None if address is None or length is None else IPv4Network((address, length))


def _relay_target(key: Answers, vlan: Vlan) -> IPv4Address | None:
    row = subnets.row_of(vlan.id)
    return key.get(relays.RELAY_TARGET, row) if row in key.rows.get(relays.RELAYS.id, ()) else None
