"""The words of short questions about one cell. Everything that decides the answer is printed with it.

A prompt gives values that lead to the answer and not the answer itself; what could only be copied is not asked.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from trainer.lab.form import Question, SoFar
from trainer.lab.questions import bindings, links, pools, ports, protection, relays, routes, stations, subnets
from trainer.lab.rows import LinkRow, PortRow, StationRow, SwitchRow, VlanRow
from trainer.lab.scenario import GatewayPlace, Link, Order, Scenario
from trainer.lab.vlan_id import VlanId
from trainer.listing import first_few
from trainer.network.addresses import network_at

__all__ = ["CELL_ASKS", "CellAsk"]

Prompt = Callable[[Scenario, SoFar, Any], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellAsk:
    """A question of the form that is asked alone."""

    question: Question[Any, Any]
    prompt: Prompt
    """What is printed: givens and the question, in one paragraph."""
    is_for: Callable[[Scenario, Any], bool] = lambda _scenario, _row: True
    """Rows that it is asked of: those in which something has to be worked out."""


def _named(scenario: Scenario, vlan: VlanId) -> str:
    return f"VLAN {vlan} ({scenario.vlan_by_id[vlan].name})"


def _network(so_far: SoFar, vlan: int) -> str:
    """A network as its address and its length, as cells say it."""
    return f"{so_far.value(subnets.NETWORK_ADDRESS, VlanRow(vlan))}/{so_far.value(subnets.PREFIX_LENGTH_OF, VlanRow(vlan))}"


def _gateways(scenario: Scenario, so_far: SoFar) -> str:
    found = (
        f"{_named(scenario, each.id)} on switch {each.switch}: {so_far.value(subnets.GATEWAY, VlanRow(each.number))}"
        for each in scenario.vlans
    )
    return f"Gateways: {'; '.join(found)}."


def _ends(scenario: Scenario, so_far: SoFar) -> str:
    """The addresses of both ends of every link."""
    found = []
    for link in scenario.links:
        ends = (f"{end.switch} has {links.end_address(so_far, link, end.switch)}" for end in (link.first, link.second))
        found.append(f"{link.name}: {', '.join(ends)}")
    return f"Links: {'; '.join(found)}."


# Subnets --------------------------------------------------------------------------------------------------------------


def _prefix(scenario: Scenario, _so_far: SoFar, row: VlanRow) -> str:
    needed = scenario.vlan_by_id[row.vlan].addresses_needed
    return (
        f"{_named(scenario, row.vlan)} needs {needed} addresses, the gateway's among them. Prefix length of the smallest "
        "network that holds them?"
    )


def _mask(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    return f"VLAN {row.vlan} has the prefix length /{so_far.value(subnets.PREFIX_LENGTH_OF, row)}. Its mask with dots?"


def _place(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    before = subnets.placed_before(scenario, so_far, row)
    assert before is not None, "the first network only copies the block"
    length = so_far.value(subnets.PREFIX_LENGTH_OF, row)
    is_by_size = scenario.rules.order is Order.LARGEST_FIRST
    order = "largest first" if is_by_size else "in the order of a list, whatever their size"
    return (
        f"Networks are placed {order}, each at the next multiple of its own size. VLAN {before.vlan} has {before.network}; "
        f"behind it comes VLAN {row.vlan} with /{length}. Its network address?"
    )


def _has_one_before(scenario: Scenario, row: VlanRow) -> bool:
    return subnets.placed_before(scenario, SoFar(scenario), row) is not None


def _of_network(asked: str) -> Prompt:
    def prompt(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
        return f"VLAN {row.vlan} has the network {_network(so_far, row.vlan)}. {asked}?"

    return prompt


def _gateway(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    place = "first" if scenario.rules.gateway is GatewayPlace.FIRST_USABLE else "last"
    return (
        f"VLAN {row.vlan} has the network {_network(so_far, row.vlan)}. The gateway has the {place} usable address. "
        "Which one is that?"
    )


# Links and ports ------------------------------------------------------------------------------------------------------


def _link_network(scenario: Scenario, so_far: SoFar, row: LinkRow) -> str:
    names = [link.name for link in scenario.links]
    place = names.index(row.link)
    if place:
        previous = f"link {names[place - 1]} with {links.network_of(so_far, LinkRow(names[place - 1]))}"
    else:
        last = subnets.last_placed(scenario, so_far)
        previous = f"VLAN {last.vlan} with {last.network}, the last of the VLANs"
    return (
        f"Links lie behind all VLANs, each at the next multiple of its own size. Before link {row.link} lies {previous}. "
        f"A link has /{scenario.link_length}. Network address of link {row.link}?"
    )


def _link_end(which: int) -> Prompt:
    def prompt(scenario: Scenario, so_far: SoFar, row: LinkRow) -> str:
        link = scenario.link_by_name[row.link]
        switch = (link.first, link.second)[which].switch
        network = network_at(so_far.value(links.LINK_NETWORK, row), so_far.value(links.LINK_MASK, row))
        return (
            f"Link {row.link} has the network {network}. The switch that is named first has the lower usable address, the "
            f"other one the higher. Address of switch {switch}?"
        )

    return prompt


def _port(scenario: Scenario, _so_far: SoFar, row: PortRow) -> str:
    """With all that is plugged into the switch, so that the answer is looked up and not copied."""
    switch = row.port.switch
    own = [each for each in scenario.stations if each.at.switch == switch]
    plugged = {str(each.at): each.name for each in own}
    for link in scenario.links:
        for end, other in ((link.first, link.second), (link.second, link.first)):
            if end.switch == switch:
                plugged[str(end)] = f"cable to switch {other.switch}"
    return (
        f"Switches are joined by routed links. Switch {switch} has the stations "
        f"{', '.join(f'{each.name} (VLAN {each.vlan})' for each in own)}. Plugged in: "
        f"{', '.join(f'{port} {what}' for port, what in sorted(plugged.items()))}. "
        f"What does port {row.port} carry: a VLAN number, or the word routed?"
    )


# Stations and routes --------------------------------------------------------------------------------------------------


def _station_address(scenario: Scenario, so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    return (
        f"VLAN {station.vlan} has the network {_network(so_far, station.vlan)}. {station.name} has its usable address "
        f"no. {station.fixed_number}. Which one is that?"
    )


def _station_gateway(scenario: Scenario, so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    return (
        f"{_gateways(scenario, so_far)} {station.name} is a station of VLAN {station.vlan}. Which gateway is set on it?"
    )


def _route_switch(scenario: Scenario, so_far: SoFar, row: Any) -> str:
    return (
        f"{_ends(scenario, so_far)} A route to VLAN {row.vlan} on switch {scenario.vlan_by_id[row.vlan].switch} has the "
        f"next hop {so_far.value(routes.NEXT_HOP, row)}. On which switch does it stand?"
    )


def _destination(_scenario: Scenario, so_far: SoFar, row: Any) -> str:
    last = subnets.LAST_USABLE
    return (
        f"The highest station of VLAN {row.vlan} is {so_far.value(last, VlanRow(row.vlan))} with /"
        f"{so_far.value(subnets.PREFIX_LENGTH_OF, VlanRow(row.vlan))}. Destination network of a route to that VLAN?"
    )


def _route_mask(_scenario: Scenario, so_far: SoFar, row: Any) -> str:
    vlan = VlanRow(row.vlan)
    return (
        f"The network of VLAN {row.vlan} runs from {so_far.value(subnets.NETWORK_ADDRESS, vlan)} to "
        f"{so_far.value(subnets.BROADCAST_ADDRESS, vlan)}. Prefix length of a route to it?"
    )


def _next_hop(scenario: Scenario, so_far: SoFar, row: Any) -> str:
    return (
        f"{_ends(scenario, so_far)} VLAN {row.vlan} is on switch {scenario.vlan_by_id[row.vlan].switch}. Next hop of the "
        f"route to it on switch {row.switch}?"
    )


# Pools and relay agents -----------------------------------------------------------------------------------------------


def _pool_first(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    return (
        f"VLAN {row.vlan} has the network {_network(so_far, row.vlan)}. The first {scenario.rules.kept_for_fixed} usable "
        "addresses are reserved for static addresses; the pool begins behind them. Its first address?"
    )


def _pool_last(_scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    return (
        f"VLAN {row.vlan} has the network {_network(so_far, row.vlan)} and the gateway "
        f"{so_far.value(subnets.GATEWAY, row)}. The pool goes as far up as it can. Its last address?"
    )


def _pool_router(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
    return f"{_gateways(scenario, so_far)} Which router does the pool of VLAN {row.vlan} hand out?"


def _server_address(scenario: Scenario, so_far: SoFar) -> str:
    server = scenario.server
    return (
        f"{server.name} has {so_far.value(stations.STATION_ADDRESS, StationRow(server.name))} in VLAN {server.vlan} on switch "
        f"{server.at.switch}."
    )


def _relay(asked: str) -> Prompt:
    def prompt(scenario: Scenario, so_far: SoFar, row: VlanRow) -> str:
        given = f"{_server_address(scenario, so_far)} {_gateways(scenario, so_far)}"
        return f"{given} A relay agent works in VLAN {row.vlan}. {asked}?"

    return prompt


# Protection and bindings ----------------------------------------------------------------------------------------------


def _snooped(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> str:
    found = (f"{each.number} on {each.switch}: {'yes' if each.is_snooped else 'no'}" for each in scenario.vlans)
    return f"Snooping is wanted: {'; '.join(found)}. Snooped VLANs of switch {row.switch}?"


def _plugged(scenario: Scenario) -> str:
    server = scenario.server
    return f"Links: {'; '.join(map(_ports_of, scenario.links))}. {server.name} is plugged in at {server.at}."


def _ports_of(link: Link) -> str:
    return f"{link.first} to {link.second}"


def _trusted(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> str:
    snooping = sorted({vlan.switch for vlan in scenario.vlans if vlan.is_snooped})
    asking = (f"{vlan.number} on {vlan.switch}" for vlan in scenario.dhcp_vlans)
    return (
        f"{_plugged(scenario)} Clients that ask for a lease: VLANs {', '.join(asking)}. Switches that snoop: "
        f"{', '.join(snooping)}. Trusted is only what the server's messages come in on, and only where a switch snoops. Trusted "
        f"ports of switch {row.switch}?"
    )


def _guarded(scenario: Scenario, _so_far: SoFar, row: SwitchRow) -> str:
    here = [each for each in scenario.stations if each.at.switch == row.switch]
    vlans = [vlan for vlan in scenario.vlans if vlan.switch == row.switch]
    marked = (f"VLAN {vlan.number}: {'yes' if vlan.is_guarded else 'no'}" for vlan in vlans)
    plugged = (f"{each.name} (VLAN {each.vlan}) at {each.at}" for each in here)
    return (
        f"Source guard is wanted: {'; '.join(marked)}; never at the DHCP server. Switch {row.switch} has {'; '.join(plugged)}. "
        f"Guarded ports of switch {row.switch}?"
    )


def _binding_address(scenario: Scenario, so_far: SoFar, row: StationRow) -> str:
    station = scenario.station_by_name[row.station]
    asking = [each.name for each in scenario.dhcp_stations(station.vlan)]
    return (
        f"The pool of VLAN {station.vlan} begins at {so_far.value(pools.POOL_FIRST, VlanRow(station.vlan))} and hands out the "
        f"lowest free address. They start in this order: {first_few(asking, len(asking))}. Address of {station.name} in the "
        "binding table?"
    )


def _is_dynamic(scenario: Scenario, row: StationRow) -> bool:
    return scenario.station_by_name[row.station].fixed_number is None


def _gets(scenario: Scenario, row: StationRow) -> str:
    return "asks for a lease" if _is_dynamic(scenario, row) else "has a fixed address on a guarded port"


def _binding_type(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return f"{row.station} {_gets(scenario, row)}. Type of its row in the binding table: dynamic or static?"


def _binding_lease(scenario: Scenario, _so_far: SoFar, row: StationRow) -> str:
    return (
        f"All pools lease for {scenario.lease_hours} h. {row.station} {_gets(scenario, row)}. Lease in its row of the binding "
        "table, or the words no end?"
    )


_ALL = (
    CellAsk(question=subnets.PREFIX_LENGTH_OF, prompt=_prefix),
    CellAsk(question=subnets.MASK, prompt=_mask),
    CellAsk(question=subnets.NETWORK_ADDRESS, prompt=_place, is_for=_has_one_before),
    CellAsk(question=subnets.FIRST_USABLE, prompt=_of_network("First usable address")),
    CellAsk(question=subnets.LAST_USABLE, prompt=_of_network("Last usable address")),
    CellAsk(question=subnets.BROADCAST_ADDRESS, prompt=_of_network("Broadcast address")),
    CellAsk(question=subnets.GATEWAY, prompt=_gateway),
    CellAsk(question=links.LINK_NETWORK, prompt=_link_network),
    CellAsk(question=links.FIRST_ADDRESS, prompt=_link_end(0)),
    CellAsk(question=links.SECOND_ADDRESS, prompt=_link_end(1)),
    CellAsk(question=ports.PORT_VLAN, prompt=_port),
    CellAsk(question=stations.STATION_ADDRESS, prompt=_station_address),
    CellAsk(question=stations.STATION_GATEWAY, prompt=_station_gateway),
    CellAsk(question=routes.ROUTE_SWITCH, prompt=_route_switch),
    CellAsk(question=routes.DESTINATION, prompt=_destination),
    CellAsk(question=routes.ROUTE_MASK_OF, prompt=_route_mask),
    CellAsk(question=routes.NEXT_HOP, prompt=_next_hop),
    CellAsk(question=pools.POOL_FIRST, prompt=_pool_first),
    CellAsk(question=pools.POOL_LAST, prompt=_pool_last),
    CellAsk(question=pools.POOL_ROUTER, prompt=_pool_router),
    CellAsk(question=relays.RELAY_TARGET, prompt=_relay("Server address that is set on it")),
    CellAsk(question=relays.RELAY_ADDRESS, prompt=_relay("giaddr that it fills in")),
    CellAsk(question=protection.SNOOPED, prompt=_snooped),
    CellAsk(question=protection.TRUSTED, prompt=_trusted),
    CellAsk(question=protection.GUARDED, prompt=_guarded),
    CellAsk(question=bindings.BINDING_ADDRESS, prompt=_binding_address, is_for=_is_dynamic),
    CellAsk(question=bindings.BINDING_TYPE_OF, prompt=_binding_type),
    CellAsk(question=bindings.BINDING_LEASE, prompt=_binding_lease),
)
CELL_ASKS: Mapping[str, CellAsk] = {each.question.id: each for each in _ALL}
"""By question id."""
