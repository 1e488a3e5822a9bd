"""The wrong values that people set, each as a function of the right plan and a row of it: none where it cannot be made there."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar
from trainer.lab.kinds import ROUTED
from trainer.lab.questions import links, ports, protection, stations, subnets
from trainer.lab.rows import LinkRow, PortRow, RouteRow, StationRow, SwitchRow, VlanRow
from trainer.lab.scenario import Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import Mac, first_usable, last_usable
from trainer.network.devices import PortName, PortRef

__all__ = [
    "Plan",
    "Values",
    "far_end_of_network",
    "far_gateway",
    "gateway_of_another",
    "links_network",
    "longer",
    "mac_of_another",
    "missing",
    "network_of_link",
    "next_block",
    "none_of_them",
    "off_by_one",
    "other_end",
    "other_port",
    "other_vlan_here",
    "other_vlan_of_row",
    "others_end",
    "own_address",
    "own_end",
    "relay_of_another",
    "routed",
    "router_is_server",
    "router_of_another",
    "shorter",
    "snooped_too",
    "target_is_gateway",
    "target_is_servers_gateway",
    "vlan_elsewhere",
    "vlan_of_row",
    "vlan_of_station",
    "vlan_on_link",
    "with_link_port",
    "with_station_port",
    "without_one",
]


@dataclass(frozen=True, slots=True)
class Plan:
    """The right plan, as slips look at it."""

    scenario: Scenario
    key: Answers
    so_far: SoFar

    def value(self, question: Question[Any, Any], row: RowKey) -> Any:
        return self.key.values[CellRef(question.id, row)]

    def other_gateways(self, vlan: VlanId) -> Iterator[IPv4Address]:
        """The gateway of the next VLAN in table Networks."""
        every = [each.id for each in self.scenario.vlans]
        following = every[(every.index(vlan) + 1) % len(every)]
        if following != vlan:
            yield self.value(subnets.GATEWAY, subnets.row_of(following))


Values = Callable[[Plan, Any], Iterator[Any]]
"""The wrong values that a slip makes in a row of the key; none where it cannot be made there."""


def missing(_plan: Plan, _row: RowKey) -> Iterator[None]:
    yield None


def longer(question: Question[int, Any]) -> Values:
    def values(plan: Plan, row: Any) -> Iterator[int]:
        length = plan.value(question, row)
        if length < 30:
            yield length + 1

    return values


def shorter(question: Question[int, Any]) -> Values:
    def values(plan: Plan, row: Any) -> Iterator[int]:
        yield plan.value(question, row) - 1

    return values


def other_end(plan: Plan, row: VlanRow) -> Iterator[IPv4Address]:
    """The usable address at the other end."""
    network = subnets.network_of(plan.so_far, row.vlan)
    yield first_usable(network)
    yield last_usable(network)


def next_block(question: Question[IPv4Address, Any], vlan_of: Callable[[Plan, Any], VlanId]) -> Values:
    """The same address one network further on."""

    def values(plan: Plan, row: Any) -> Iterator[IPv4Address]:
        size = subnets.network_of(plan.so_far, vlan_of(plan, row)).num_addresses
        moved = plan.value(question, row) + size
        if moved in plan.scenario.block:
            yield moved

    return values


def network_of_link(plan: Plan, row: LinkRow) -> Iterator[IPv4Address]:
    if plan.scenario.link_length < 31:
        yield links.network_of(plan.so_far, row).network_address


def others_end(question: Question[IPv4Address, Any]) -> Values:
    def values(plan: Plan, row: LinkRow) -> Iterator[IPv4Address]:
        other = links.SECOND_ADDRESS if question is links.FIRST_ADDRESS else links.FIRST_ADDRESS
        yield plan.value(other, row)

    return values


def other_vlan_here(plan: Plan, row: PortRow) -> Iterator[int]:
    """Another VLAN of the switch, on a station's port."""
    used = plan.value(ports.PORT_VLAN, row)
    if used is not ROUTED:
        here = [each.number for each in plan.scenario.vlans if each.switch == row.port.switch and each.number != used]
        yield from here[:1]


def vlan_elsewhere(plan: Plan, row: PortRow) -> Iterator[int]:
    used = plan.value(ports.PORT_VLAN, row)
    if used is not ROUTED:
        there = [each.number for each in plan.scenario.vlans if each.switch != row.port.switch]
        yield from there[:1]


def routed(plan: Plan, row: PortRow) -> Iterator[Any]:
    if plan.value(ports.PORT_VLAN, row) is not ROUTED:
        yield ROUTED


def vlan_on_link(plan: Plan, row: PortRow) -> Iterator[int]:
    if plan.value(ports.PORT_VLAN, row) is ROUTED:
        yield from [each.number for each in plan.scenario.vlans if each.switch == row.port.switch][:1]


def vlan_of_station(plan: Plan, row: StationRow) -> VlanId:
    return plan.scenario.station_by_name[row.station].vlan


def gateway_of_another(plan: Plan, row: StationRow) -> Iterator[IPv4Address]:
    yield from plan.other_gateways(vlan_of_station(plan, row))


def own_address(plan: Plan, row: StationRow) -> Iterator[IPv4Address]:
    yield plan.value(stations.STATION_ADDRESS, row)


def far_end_of_network(plan: Plan, row: StationRow) -> Iterator[IPv4Address]:
    network = subnets.network_of(plan.so_far, vlan_of_station(plan, row))
    yield first_usable(network)
    yield last_usable(network)


def own_end(plan: Plan, row: RouteRow) -> Iterator[IPv4Address]:
    home = plan.scenario.vlan_by_id[vlan_of_row(plan, row)].switch
    link = plan.scenario.link_towards(row.switch, home)
    yield plan.value(links.address_question(link, row.switch), LinkRow(link.name))


def links_network(plan: Plan, row: RouteRow) -> Iterator[IPv4Address]:
    home = plan.scenario.vlan_by_id[vlan_of_row(plan, row)].switch
    yield from network_of_link(plan, LinkRow(plan.scenario.link_towards(row.switch, home).name))


def far_gateway(plan: Plan, row: RouteRow) -> Iterator[IPv4Address]:
    yield plan.value(subnets.GATEWAY, subnets.row_of(vlan_of_row(plan, row)))


def off_by_one(question: Question[IPv4Address, Any], step: int) -> Values:
    def values(plan: Plan, row: Any) -> Iterator[IPv4Address]:
        yield plan.value(question, row) + step

    return values


def router_of_another(plan: Plan, row: VlanRow) -> Iterator[IPv4Address]:
    yield from plan.other_gateways(row.vlan)


def router_is_server(plan: Plan, _row: VlanRow) -> Iterator[IPv4Address]:
    yield plan.value(stations.STATION_ADDRESS, StationRow(plan.scenario.server.name))


def target_is_gateway(plan: Plan, row: VlanRow) -> Iterator[IPv4Address]:
    yield plan.value(subnets.GATEWAY, row)


def target_is_servers_gateway(plan: Plan, _row: VlanRow) -> Iterator[IPv4Address]:
    yield plan.value(subnets.GATEWAY, subnets.row_of(plan.scenario.server.vlan))


def relay_of_another(plan: Plan, row: VlanRow) -> Iterator[int]:
    """On another VLAN of the same switch."""
    switch = plan.scenario.vlan_by_id[vlan_of_row(plan, row)].switch
    others = [each.number for each in plan.scenario.vlans if each.switch == switch and each.id != row.vlan]
    yield from others[:1]


def without_one(question: Question[frozenset[Any], Any]) -> Values:
    def values(plan: Plan, row: SwitchRow) -> Iterator[frozenset[Any]]:
        members = plan.value(question, row)
        for each in sorted(members, key=int):
            yield members - {each}

    return values


def none_of_them(question: Question[frozenset[Any], Any]) -> Values:
    def values(plan: Plan, row: SwitchRow) -> Iterator[frozenset[Any]]:
        if len(plan.value(question, row)) > 1:
            yield frozenset()

    return values


def snooped_too(plan: Plan, row: SwitchRow) -> Iterator[frozenset[int]]:
    """A VLAN of the switch that should not be snooped."""
    members = plan.value(protection.SNOOPED, row)
    for vlan in plan.scenario.vlans:
        if vlan.switch == row.switch and vlan.number not in members:
            yield members | {vlan.number}


def with_station_port(question: Question[frozenset[PortName], Any]) -> Values:
    def values(plan: Plan, row: SwitchRow) -> Iterator[frozenset[PortName]]:
        members = plan.value(question, row)
        for station in plan.scenario.stations:
            if station.at.switch == row.switch and station.at.port not in members:
                yield members | {station.at.port}

    return values


def with_link_port(question: Question[frozenset[PortName], Any]) -> Values:
    def values(plan: Plan, row: SwitchRow) -> Iterator[frozenset[PortName]]:
        members = plan.value(question, row)
        for link in plan.scenario.links:
            for end in (link.first, link.second):
                if end.switch == row.switch and end.port not in members:
                    yield members | {end.port}

    return values


def other_port(plan: Plan, row: StationRow) -> Iterator[PortRef]:
    """The port of another station of the switch."""
    at = plan.scenario.station_by_name[row.station].at
    others = [each.at for each in plan.scenario.stations if each.at.switch == at.switch and each.at != at]
    yield from others[:1]


def other_vlan_of_row(plan: Plan, row: StationRow) -> Iterator[int]:
    station = plan.scenario.station_by_name[row.station]
    here = [each.number for each in plan.scenario.vlans if each.switch == station.at.switch]
    yield from [each for each in here if each != station.vlan.number][:1]


def mac_of_another(plan: Plan, row: StationRow) -> Iterator[Mac]:
    names = [each.name for each in plan.scenario.stations]
    yield plan.scenario.stations[(names.index(row.station) + 1) % len(names)].mac


def vlan_of_row(_plan: Plan, row: VlanRow | RouteRow) -> VlanId:
    assert row.vlan is not None, "a network with faults has no way out"
    return row.vlan
