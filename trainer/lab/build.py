"""From answers to a network: the only place where what stands in cells becomes what devices are set to."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from ipaddress import IPv4Network
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey
from trainer.lab.kinds import BindingType, Routed
from trainer.lab.questions import bindings, links, pools, ports, protection, relays, routes, stations, subnets
from trainer.lab.scenario import Scenario, StationPlan, SwitchPlan
from trainer.network.addresses import has_host_bits
from trainer.network.devices import (
    BindingRow,
    Cable,
    DhcpServer,
    FixedAddress,
    Interface,
    Network,
    Part,
    Pool,
    Port,
    PortName,
    Relay,
    Route,
    SettingId,
    Station,
    Switch,
)

__all__ = ["Built", "build"]


@dataclass(frozen=True, slots=True)
class Built:
    """A network, and which cells its settings came from."""

    network: Network
    where: Mapping[SettingId, tuple[CellRef, ...]]


class _Cells:
    """The answers, and a note of every setting that is taken from them."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers
        self.where: dict[SettingId, tuple[CellRef, ...]] = {}

    def note(self, setting: SettingId, row: RowKey, *questions: Question[Any]) -> None:
        self.where[setting] = tuple(CellRef(question.id, row) for question in questions)


def build(scenario: Scenario, answers: Answers) -> Built:
    """The network that the answers configure. A setting with a blank cell is not made, nor one that no device could hold.

    Cables, stations and what is plugged in where are given; everything else comes from the answers. Answers that
    predict (giaddr, dynamic binding rows) configure nothing.
    """
    cells = _Cells(answers)
    network = Network(
        switches=tuple(_switch(scenario, cells, switch) for switch in scenario.switches),
        cables=tuple(Cable(link.first, link.second) for link in scenario.links),
        stations=tuple(_station(cells, station) for station in scenario.stations),
        server=DhcpServer(station=scenario.server.name, pools=tuple(_pools(scenario, cells))),
    )
    return Built(network, cells.where)


def _switch(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Switch:
    row = RowKey(plan.name)
    answers = cells.answers
    snooped = answers.get(protection.SNOOPED, row) or frozenset()
    trusted = answers.get(protection.TRUSTED, row) or frozenset()
    guarded = answers.get(protection.GUARDED, row) or frozenset()
    for part, question, members in (
        (Part.SNOOPING, protection.SNOOPED, snooped),
        (Part.TRUST, protection.TRUSTED, trusted),
        (Part.GUARD, protection.GUARDED, guarded),
    ):
        for member in members:
            cells.note(SettingId(plan.name, part, str(member)), row, question)
    return Switch(
        name=plan.name,
        ports=tuple(_ports(scenario, cells, plan)),
        interfaces=(*_vlan_interfaces(scenario, cells, plan), *_routed_interfaces(scenario, cells, plan)),
        routes=tuple(_routes(cells, plan)),
        relays=tuple(_relays(scenario, cells, plan)),
        snooped_vlans=snooped,
        trusted_ports=trusted,
        guarded_ports=guarded,
        static_rows=tuple(_static_rows(cells, plan)),
    )


def _ports(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Port]:
    for name in scenario.port_names(plan.name):
        row = RowKey(f"{plan.name}/{name}")
        use = cells.answers.get(ports.PORT_VLAN, row)
        if use is not None:
            cells.note(SettingId(plan.name, Part.PORT, name), row, ports.PORT_VLAN)
            yield Port(name=name, vlan=None if isinstance(use, Routed) else use)


def _vlan_interfaces(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Interface]:
    for vlan in scenario.vlans:
        row = subnets.row_of(vlan.number)
        address = cells.answers.get(subnets.GATEWAY, row)
        length = cells.answers.get(subnets.MASK, row)
        if vlan.switch == plan.name and address is not None and length is not None:
            for field, question in (("address", subnets.GATEWAY), ("network", subnets.MASK)):
                cells.note(SettingId(plan.name, Part.VLAN_INTERFACE, str(vlan.number), field), row, question)
            yield Interface(place=vlan.number, address=address, prefix_length=length)


def _routed_interfaces(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Interface]:
    for link in scenario.links:
        if plan.name not in (link.first.switch, link.second.switch):
            continue
        row = RowKey(link.name)
        question = links.address_question(link, plan.name)
        address = cells.answers.get(question, row)
        length = cells.answers.get(links.LINK_MASK, row)
        if address is not None and length is not None:
            port: PortName = link.end_at(plan.name).port
            cells.note(SettingId(plan.name, Part.ROUTED_PORT, port, "address"), row, question)
            cells.note(SettingId(plan.name, Part.ROUTED_PORT, port, "network"), row, links.LINK_MASK)
            yield Interface(place=port, address=address, prefix_length=length)


def _routes(cells: _Cells, plan: SwitchPlan) -> Iterator[Route]:
    """A destination with host bits is refused, whatever they are (common practice, no source)."""
    for row in cells.answers.rows.get(routes.ROUTES.id, ()):
        destination = cells.answers.get(routes.DESTINATION, row)
        length = cells.answers.get(routes.ROUTE_MASK_OF, row)
        next_hop = cells.answers.get(routes.NEXT_HOP, row)
        if cells.answers.get(routes.ROUTE_SWITCH, row) != plan.name:
            continue
        if destination is None or length is None or next_hop is None or has_host_bits(destination, length):
            continue
        cells.note(SettingId(plan.name, Part.ROUTE, row, "next_hop"), row, routes.NEXT_HOP)
        yield Route(key=row, destination=IPv4Network((destination, length)), next_hop=next_hop)


def _relays(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Relay]:
    """A relay agent stands on the switch whose VLAN it names; a VLAN that no switch has makes none."""
    for row in cells.answers.rows.get(relays.RELAYS.id, ()):
        number = cells.answers.get(relays.RELAY_VLAN, row)
        target = cells.answers.get(relays.RELAY_TARGET, row)
        vlan = None if number is None else scenario.vlan_by_number.get(number)
        if vlan is not None and vlan.switch == plan.name and target is not None:
            cells.note(SettingId(plan.name, Part.RELAY, row, "target"), row, relays.RELAY_TARGET)
            yield Relay(key=row, vlan=vlan.number, target=target)


def _static_rows(cells: _Cells, plan: SwitchPlan) -> Iterator[BindingRow]:
    for row in cells.answers.rows.get(bindings.BINDINGS.id, ()):
        at = cells.answers.get(bindings.BINDING_PORT, row)
        vlan = cells.answers.get(bindings.BINDING_VLAN, row)
        mac = cells.answers.get(bindings.BINDING_MAC, row)
        address = cells.answers.get(bindings.BINDING_ADDRESS, row)
        if cells.answers.get(bindings.BINDING_TYPE_OF, row) is not BindingType.STATIC:
            continue
        if at is not None and at.switch == plan.name and vlan is not None and mac is not None and address is not None:
            yield BindingRow(port=at.port, vlan=vlan, mac=mac, address=address)


def _station(cells: _Cells, plan: StationPlan) -> Station:
    row = RowKey(plan.name)
    fixed = None
    if plan.fixed_number is not None:
        address = cells.answers.get(stations.STATION_ADDRESS, row)
        length = cells.answers.get(stations.STATION_MASK, row)
        gateway = cells.answers.get(stations.STATION_GATEWAY, row)
        if address is not None and length is not None:
            fixed = FixedAddress(address=address, prefix_length=length, gateway=gateway)
            cells.note(SettingId(plan.name, Part.STATION, plan.name, "gateway"), row, stations.STATION_GATEWAY)
    return Station(name=plan.name, mac=plan.mac, at=plan.at, uses_dhcp=plan.fixed_number is None, fixed=fixed)


def _pools(scenario: Scenario, cells: _Cells) -> Iterator[Pool]:
    for vlan in scenario.dhcp_vlans:
        row = subnets.row_of(vlan.number)
        first = cells.answers.get(pools.POOL_FIRST, row)
        last = cells.answers.get(pools.POOL_LAST, row)
        length = cells.answers.get(pools.POOL_MASK, row)
        lease_seconds = cells.answers.get(pools.POOL_LEASE, row)
        if first is not None and last is not None and length is not None and lease_seconds is not None:
            for field, question in (
                ("first", pools.POOL_FIRST),
                ("last", pools.POOL_LAST),
                ("router", pools.POOL_ROUTER),
            ):
                cells.note(SettingId(scenario.server.name, Part.POOL, row, field), row, question)
            yield Pool(
                key=row,
                first=first,
                last=last,
                prefix_length=length,
                router=cells.answers.get(pools.POOL_ROUTER, row),
                lease_seconds=lease_seconds,
            )
