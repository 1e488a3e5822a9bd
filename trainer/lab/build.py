"""From answers to a network: the only place where what stands in cells becomes what devices are set to."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from ipaddress import IPv4Network
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, Section
from trainer.lab.kinds import BindingType, Routed
from trainer.lab.questions import (
    SECTIONS,
    bindings,
    links,
    pools,
    ports,
    protection,
    relays,
    routes,
    stations,
    subnets,
)
from trainer.lab.rows import LinkRow, PortRow, StationRow, SwitchRow
from trainer.lab.scenario import OUTSIDE, TEST_STATION, Scenario, StationPlan, SwitchPlan, WayOut
from trainer.network.addresses import Mac, first_usable, has_host_bits
from trainer.network.devices import (
    BindingRow,
    Cable,
    DhcpOptions,
    DhcpServer,
    FixedAddress,
    Interface,
    Missing,
    Network,
    Part,
    Pool,
    Port,
    PortName,
    PortRef,
    Relay,
    Route,
    SettingId,
    Station,
    Switch,
    SwitchName,
)

__all__ = ["Built", "build", "rebuilt"]

_CONFIGURED_ON: Mapping[Part, Section[Any]] = {
    Part.VLAN: ports.PORTS,
    Part.VLAN_INTERFACE: subnets.SUBNETS,
    Part.ROUTED_PORT: links.LINKS,
    Part.PORT: ports.PORTS,
    Part.STATION: stations.STATIONS,
    Part.ROUTE: routes.ROUTES,
    Part.POOL: pools.POOLS,
    Part.RELAY: relays.RELAYS,
    Part.SNOOPING: protection.PROTECTION,
    Part.TRUST: protection.PROTECTION,
    Part.GUARD: protection.PROTECTION,
    Part.BINDING: bindings.BINDINGS,
}
"""The section in which a part of a device is set up."""
_CONFIGURING = tuple(dict.fromkeys(each.id for each in _CONFIGURED_ON.values()))
"""The sections that set something."""
_SETTINGS_REST_ON: Mapping[str, Collection[str]] = {
    subnets.SUBNETS.id: {subnets.SUBNETS.id, links.LINKS.id},
    links.LINKS.id: {subnets.SUBNETS.id, links.LINKS.id},
    pools.POOLS.id: {pools.POOLS.id, subnets.SUBNETS.id},
}
"""The sections whose settings rest on the answers of others, too: interfaces are set together, and a pool that is missing is
known by the gateway that asks for it.
"""


@dataclass(frozen=True)
class Built:
    """A network, and which cells its settings came from."""

    scenario: Scenario
    answers: Answers
    network: Network
    like: "tuple[Built, str] | None" = None
    """Of one that was rebuilt: from which one, and the section that was set anew."""

    @property
    def where(self) -> Mapping[SettingId | Missing, tuple[CellRef, ...]]:
        """For every setting that a drop can name the cells that made it, the likeliest to be wrong first; and for what can
        be missing the cell that would have to say it. What is a row of an open section (a route, a relay agent, a binding
        row) has no cell while it is missing.
        """
        return {setting: cells for section in _CONFIGURING for setting, cells in self.settings_of(section).items()}

    def cells(self, setting: SettingId | Missing) -> tuple[CellRef, ...]:
        """The cells that made a setting, or that would have to say what is missing; none for a row that is not there."""
        return self.settings_of(_CONFIGURED_ON[setting.part].id).get(setting, ())

    def settings_of(self, section: str) -> Mapping[SettingId | Missing, tuple[CellRef, ...]]:
        """The settings that a section makes. Most networks are built for what they do, and nobody asks this of them."""
        if self.like is not None and self.like[1] not in _SETTINGS_REST_ON.get(section, {section}):
            return self.like[0].settings_of(section)
        known = self._notes.get(section)
        if known is None:
            cells = _NotedCells(self.answers)
            _rebuilt(self.scenario, cells, self.network, section)
            known = self._notes[section] = cells.where
        return known

    @cached_property
    def _notes(self) -> dict[str, Mapping[SettingId | Missing, tuple[CellRef, ...]]]:
        return {}

    def section(self, setting: SettingId | Missing) -> Section[Any]:
        """Where to look for a setting, or for what is missing: the section of its cells, or the one of such a row."""
        cells = self.cells(setting)
        return SECTIONS[cells[0].section] if cells else _CONFIGURED_ON[setting.part]


class _Cells:
    """The answers that a network is built from."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers

    @cached_property
    def routes_on(self) -> Mapping[SwitchName, list[RowKey]]:
        """The rows of routes by their switch."""
        found = defaultdict(list)
        for row in self.answers.rows.get(routes.ROUTES.id, ()):
            switch = self.answers.get(routes.ROUTE_SWITCH, row)
            if switch is not None:
                found[switch].append(row)
        return found

    @cached_property
    def bindings_on(self) -> Mapping[SwitchName, list[RowKey]]:
        """The binding rows by the switch of their port."""
        found = defaultdict(list)
        for row in self.answers.rows.get(bindings.BINDINGS.id, ()):
            at = self.answers.get(bindings.BINDING_PORT, row)
            if at is not None:
                found[at.switch].append(row)
        return found

    def note(self, setting: SettingId | Missing, row: RowKey, *questions: Question[Any, Any]) -> None:
        """Takes a note of a setting and the cells that make it, if notes are taken."""

    def note_fields(
        self, device: str, part: Part, key: str, row: RowKey, **fields: tuple[Question[Any, Any], ...]
    ) -> None:
        """The same for a setting of each field."""


class _NotedCells(_Cells):
    """The answers, and a note of every setting that is taken from them."""

    def __init__(self, answers: Answers) -> None:
        super().__init__(answers)
        self.where: dict[SettingId | Missing, tuple[CellRef, ...]] = {}

    def note(self, setting: SettingId | Missing, row: RowKey, *questions: Question[Any, Any]) -> None:
        self.where[setting] = tuple(CellRef(question.id, row) for question in questions)

    def note_fields(
        self, device: str, part: Part, key: str, row: RowKey, **fields: tuple[Question[Any, Any], ...]
    ) -> None:
        for field, questions in fields.items():
            self.note(SettingId(device, part, key, field), row, *questions)


def build(scenario: Scenario, answers: Answers) -> Built:
    """The network that the answers configure. A setting with a blank cell is not made, nor one that no device could hold.

    Cables, stations, what is plugged in where and all of a way out are given; everything else comes from the answers. Answers
    that predict (giaddr, dynamic binding rows) configure nothing.
    """
    return Built(scenario, answers, _network(scenario, _Cells(answers)))


def rebuilt(built: Built, answers: Answers, section: Section[Any]) -> Built:
    """The network of answers that differ in one section from those of a network that is built: what the other sections set
    is taken over as it is.
    """
    network = _rebuilt(built.scenario, _Cells(answers), built.network, section.id)
    return Built(built.scenario, answers, network, like=(built, section.id) if section.id in _CONFIGURING else None)


def _rebuilt(scenario: Scenario, cells: _Cells, before: Network, section: str) -> Network:
    """A network in which what one section sets is set anew."""
    if section == stations.STATIONS.id:
        known = tuple(_station(cells, station) for station in scenario.stations)
        return replace(before, stations=(*known, *before.stations[len(known) :]))
    if section == pools.POOLS.id:
        return replace(before, server=_server(scenario, cells))
    if section not in _ON_SWITCHES:
        return _network(scenario, cells)
    switches = tuple(
        _switch(scenario, cells, plan, switch, {section})
        for plan, switch in zip(scenario.switches, before.switches, strict=False)
    )
    return replace(before, switches=(*switches, *before.switches[len(switches) :]))


def _network(scenario: Scenario, cells: _Cells) -> Network:
    outside = () if scenario.way_out is None else (scenario.way_out,)
    return Network(
        switches=(
            *(_switch(scenario, cells, plan, _bare(scenario, plan), _ON_SWITCHES) for plan in scenario.switches),
            *(_outside(scenario, each) for each in outside),
        ),
        cables=(
            *(Cable(link.first, link.second) for link in scenario.links),
            *(Cable(each.at, _OUTWARD) for each in outside),
        ),
        stations=(
            *(_station(cells, station) for station in scenario.stations),
            *(_test_station(each) for each in outside),
        ),
        server=_server(scenario, cells),
    )


def _bare(scenario: Scenario, plan: SwitchPlan) -> Switch:
    """A switch on which no section has set anything yet."""
    return Switch(name=plan.name, discards=(scenario.block,) if _has_way_out(scenario, plan) else ())


_ON_SWITCHES = frozenset(
    each.id
    for each in (
        ports.PORTS, subnets.SUBNETS, links.LINKS, routes.ROUTES, relays.RELAYS, protection.PROTECTION, bindings.BINDINGS,
    )
)  # fmt: skip
"""The sections that set something on switches."""


def _switch(scenario: Scenario, cells: _Cells, plan: SwitchPlan, before: Switch, sections: Collection[str]) -> Switch:
    """A switch on which these sections are set anew."""
    made: dict[str, Any] = {}
    if ports.PORTS.id in sections:
        made["ports"] = tuple(_ports(scenario, cells, plan))
    if subnets.SUBNETS.id in sections or links.LINKS.id in sections:
        made["interfaces"] = (
            *_vlan_interfaces(scenario, cells, plan),
            *_routed_interfaces(scenario, cells, plan),
            *_interface_outward(scenario, plan),
        )
    if routes.ROUTES.id in sections:
        made["routes"] = tuple(_routes(cells, plan))
    if relays.RELAYS.id in sections:
        made["relays"] = tuple(_relays(scenario, cells, plan))
    if protection.PROTECTION.id in sections:
        made |= _protection(scenario, cells, plan)
    if bindings.BINDINGS.id in sections:
        made["static_rows"] = tuple(_static_rows(cells, plan))
    return replace(before, **made) if made else before


def _protection(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> dict[str, frozenset[Any]]:
    row = SwitchRow(plan.name)
    snooped = cells.answers.get(protection.SNOOPED, row) or frozenset()
    trusted = cells.answers.get(protection.TRUSTED, row) or frozenset()
    guarded = cells.answers.get(protection.GUARDED, row) or frozenset()
    for part, question, members in (
        (Part.SNOOPING, protection.SNOOPED, snooped),
        (Part.TRUST, protection.TRUSTED, trusted),
        (Part.GUARD, protection.GUARDED, guarded),
    ):
        for member in members:
            cells.note(SettingId(plan.name, part, str(member)), row, question)
    for name in scenario.port_names(plan.name):
        cells.note(Missing(plan.name, Part.TRUST, name), row, protection.TRUSTED)
    for vlan in scenario.vlans:
        cells.note(Missing(plan.name, Part.SNOOPING, str(vlan.number)), row, protection.SNOOPED)
    return {"snooped_vlans": snooped, "trusted_ports": trusted, "guarded_ports": guarded}


def _ports(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Port]:
    for name in scenario.port_names(plan.name):
        row = PortRow(PortRef(plan.name, name))
        use = cells.answers.get(ports.PORT_VLAN, row)
        if use is None:
            cells.note(Missing(plan.name, Part.PORT, name), row, ports.PORT_VLAN)
        else:
            cells.note(SettingId(plan.name, Part.PORT, name), row, ports.PORT_VLAN)
            yield Port(name=name, vlan=None if isinstance(use, Routed) else use)


def _vlan_interfaces(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Interface]:
    for vlan in scenario.vlans_of(plan.name):
        row = subnets.row_of(vlan.id)
        address = cells.answers.get(subnets.GATEWAY, row)
        length = cells.answers.get(subnets.MASK, row)
        device, part, key = plan.name, Part.VLAN_INTERFACE, str(vlan.number)
        if address is None or length is None:
            cells.note(Missing(device, part, key), row, *_blank(cells, row, subnets.GATEWAY, subnets.MASK))
            continue
        network = (subnets.MASK, subnets.GATEWAY)
        cells.note_fields(device, part, key, row, address=(subnets.GATEWAY,), network=network)
        yield Interface(place=vlan.number, address=address, prefix_length=length)


def _routed_interfaces(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Interface]:
    for link in scenario.links_of(plan.name):
        row = LinkRow(link.name)
        question = links.address_question(link, plan.name)
        address = cells.answers.get(question, row)
        length = cells.answers.get(links.LINK_MASK, row)
        port: PortName = link.end_at(plan.name).port
        device, part = plan.name, Part.ROUTED_PORT
        if address is None or length is None:
            cells.note(Missing(device, part, port), row, *_blank(cells, row, question, links.LINK_MASK))
            continue
        cells.note_fields(device, part, port, row, address=(question,), network=(links.LINK_MASK, question))
        yield Interface(place=port, address=address, prefix_length=length)


def _has_way_out(scenario: Scenario, plan: SwitchPlan) -> bool:
    return scenario.way_out is not None and scenario.way_out.at.switch == plan.name


def _interface_outward(scenario: Scenario, plan: SwitchPlan) -> Iterator[Interface]:
    out = scenario.way_out
    if out is not None and _has_way_out(scenario, plan):
        yield Interface(place=out.at.port, address=out.address, prefix_length=out.network.prefixlen)


_OUTWARD, _BEYOND = PortRef(OUTSIDE, PortName("1")), PortRef(OUTSIDE, PortName("2"))
_TEST_VLAN, _TEST_MAC = 10, Mac("06-00-5E-00-53-01")
"""A locally administered address (RFC 9542 2.1.1), as no drawn station has one."""


def _outside(scenario: Scenario, out: WayOut) -> Switch:
    """The neighbour: it knows the test network and the summary way back to the lab, and nothing else."""
    return Switch(
        name=OUTSIDE,
        ports=(Port(name=_OUTWARD.port, vlan=None), Port(name=_BEYOND.port, vlan=_TEST_VLAN)),
        interfaces=(
            Interface(place=_OUTWARD.port, address=out.neighbour, prefix_length=out.network.prefixlen),
            Interface(
                place=_TEST_VLAN,
                address=first_usable(out.test_network),
                prefix_length=out.test_network.prefixlen,
            ),
        ),
        routes=(Route(key="way back", destination=scenario.block, next_hop=out.address),),
    )


def _test_station(out: WayOut) -> Station:
    fixed = FixedAddress(
        address=out.test_address, prefix_length=out.test_network.prefixlen, gateway=first_usable(out.test_network)
    )
    return Station(name=TEST_STATION, mac=_TEST_MAC, at=_BEYOND, uses_dhcp=False, fixed=fixed)


def _blank(cells: _Cells, row: RowKey, *questions: Question[Any, Any]) -> tuple[Question[Any, Any], ...]:
    """Those that have no answer."""
    return tuple(question for question in questions if cells.answers.get(question, row) is None)


def _routes(cells: _Cells, plan: SwitchPlan) -> Iterator[Route]:
    """A destination with host bits is refused, whatever they are (common practice, no source)."""
    for row in cells.routes_on.get(plan.name, ()):
        destination = cells.answers.get(routes.DESTINATION, row)
        length = cells.answers.get(routes.ROUTE_MASK_OF, row)
        next_hop = cells.answers.get(routes.NEXT_HOP, row)
        if destination is None or length is None or next_hop is None or has_host_bits(destination, length):
            continue
        target = (routes.ROUTE_MASK_OF, routes.DESTINATION)
        cells.note_fields(plan.name, Part.ROUTE, row, row, next_hop=(routes.NEXT_HOP,), destination=target)
        yield Route(key=row, destination=IPv4Network((destination, length)), next_hop=next_hop)


def _relays(scenario: Scenario, cells: _Cells, plan: SwitchPlan) -> Iterator[Relay]:
    """A relay agent stands on the switch whose VLAN it names; a VLAN that no switch has, or not that one, makes none."""
    for row in cells.answers.rows.get(relays.RELAYS.id, ()):
        number = cells.answers.get(relays.RELAY_VLAN, row)
        target = cells.answers.get(relays.RELAY_TARGET, row)
        vlan = None if number is None else scenario.vlan_on(plan.name, number)
        is_here = not scenario.rules.numbers_may_repeat or cells.answers.get(relays.RELAY_SWITCH, row) == plan.name
        if vlan is not None and is_here and target is not None:
            cells.note(SettingId(plan.name, Part.RELAY, row, "target"), row, relays.RELAY_TARGET)
            yield Relay(key=row, vlan=vlan.number, target=target)


def _static_rows(cells: _Cells, plan: SwitchPlan) -> Iterator[BindingRow]:
    for row in cells.bindings_on.get(plan.name, ()):
        at = cells.answers.get(bindings.BINDING_PORT, row)
        vlan = cells.answers.get(bindings.BINDING_VLAN, row)
        mac = cells.answers.get(bindings.BINDING_MAC, row)
        address = cells.answers.get(bindings.BINDING_ADDRESS, row)
        if cells.answers.get(bindings.BINDING_TYPE_OF, row) is not BindingType.STATIC:
            continue
        if at is not None and vlan is not None and mac is not None and address is not None:
            cells.note_fields(
                plan.name,
                Part.BINDING,
                row,
                row,
                port=(bindings.BINDING_PORT,),
                vlan=(bindings.BINDING_VLAN,),
                mac=(bindings.BINDING_MAC,),
                address=(bindings.BINDING_ADDRESS,),
            )
            yield BindingRow(port=at.port, vlan=vlan, mac=mac, address=address, key=row)


def _station(cells: _Cells, plan: StationPlan) -> Station:
    row = StationRow(plan.name)
    fixed = None
    if plan.fixed_number is not None:
        address = cells.answers.get(stations.STATION_ADDRESS, row)
        length = cells.answers.get(stations.STATION_MASK, row)
        gateway = cells.answers.get(stations.STATION_GATEWAY, row)
        device, part = plan.name, Part.STATION
        if address is None or length is None:
            blank = _blank(cells, row, stations.STATION_ADDRESS, stations.STATION_MASK)
            cells.note(Missing(device, part, plan.name, "address"), row, *blank)
        else:
            fixed = FixedAddress(address=address, prefix_length=length, gateway=gateway)
            cells.note(Missing(device, part, plan.name, "gateway"), row, stations.STATION_GATEWAY)
            cells.note_fields(
                device,
                part,
                plan.name,
                row,
                address=(stations.STATION_ADDRESS,),
                mask=(stations.STATION_MASK,),
                gateway=(stations.STATION_GATEWAY,),
            )
    return Station(name=plan.name, mac=plan.mac, at=plan.at, uses_dhcp=plan.fixed_number is None, fixed=fixed)


def _server(scenario: Scenario, cells: _Cells) -> DhcpServer:
    return DhcpServer(station=scenario.server.name, pools=tuple(_pools(scenario, cells)))


def _pools(scenario: Scenario, cells: _Cells) -> Iterator[Pool]:
    server, part = scenario.server.name, Part.POOL
    for vlan in scenario.dhcp_vlans:
        row = subnets.row_of(vlan.id)
        first = cells.answers.get(pools.POOL_FIRST, row)
        last = cells.answers.get(pools.POOL_LAST, row)
        length = cells.answers.get(pools.POOL_MASK, row)
        lease_seconds = cells.answers.get(pools.POOL_LEASE, row)
        if first is None or last is None or length is None or lease_seconds is None:
            needed = (pools.POOL_FIRST, pools.POOL_LAST, pools.POOL_MASK, pools.POOL_LEASE)
            asked_from = cells.answers.get(subnets.GATEWAY, row)
            cells.note(Missing(server, part, str(asked_from)), row, *_blank(cells, row, *needed))
            continue
        cells.note(Missing(server, part, row, "router"), row, pools.POOL_ROUTER)
        cells.note_fields(
            server,
            part,
            row,
            row,
            first=(pools.POOL_FIRST,),
            last=(pools.POOL_LAST,),
            network=(pools.POOL_MASK, pools.POOL_FIRST),
            router=(pools.POOL_ROUTER,),
        )
        yield Pool(
            key=row,
            first=first,
            last=last,
            prefix_length=length,
            router=cells.answers.get(pools.POOL_ROUTER, row),
            lease_seconds=lease_seconds,
            options=DhcpOptions(**{name: cells.answers.get(each, row) for name, each in pools.OPTIONS.items()}),
        )
