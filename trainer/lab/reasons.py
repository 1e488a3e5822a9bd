"""Why each value of the key is what it is, in one line: worked out from the scenario and the values so far, as the value is.

For whoever holds the key at the bench, and for worked examples. A reason names the rule of the Brief by its title.
"""

from collections.abc import Callable
from typing import Any

from trainer.lab.form import Question, RowKey, SoFar
from trainer.lab.questions import bindings, links, pools, ports, protection, relays, routes, stations, subnets
from trainer.lab.questions.protection import guarded_ports
from trainer.lab.scenario import GatewayPlace, Link, LinkEnds, Order, Scenario, StationPlan
from trainer.network.addresses import last_usable, mask_of
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = ["reason"]

Reason = Callable[[Scenario, SoFar, RowKey], str]


def reason(scenario: Scenario, so_far: SoFar, question: Question[Any], row: RowKey) -> str:
    """One line that leads to the right value of a cell by the values so far; row: as the key calls it.

    >>> from trainer.lab.questions.subnets import FIRST_USABLE
    >>> _REASONS[FIRST_USABLE.id](None, None, RowKey("20"))
    'one above the network address'
    """
    return _REASONS[question.id](scenario, so_far, row)


# --- Subnets and links ------------------------------------------------------------------------------------------------


def _prefix_length(scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    needed = scenario.vlan_by_number[int(row)].addresses_needed
    host_bits = 32 - so_far.value(subnets.PREFIX_LENGTH_OF, row)
    return (
        f"{needed} needed + network and broadcast = {needed + 2}: more than {2 ** (host_bits - 1)}, at most {2**host_bits} "
        f"= 2^{host_bits}; 32 - {host_bits} = {32 - host_bits}"
    )


def _network_address(scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    size = subnets.network_of(so_far, int(row)).num_addresses
    if scenario.rules.order is Order.FREE:
        return f"rule Order leaves it free; the key takes the next multiple of {size}"
    before = subnets.placed_before(scenario, so_far, row)
    stretch = subnets.stretch_of(scenario, so_far, row)
    if scenario.rules.order is Order.RANGE_A_SWITCH and stretch.vlans[0] == int(row):
        size = 2 ** (32 - stretch.length)
        switch = scenario.vlan_by_number[int(row)].switch
        where = "at the start of the block" if before is None else f"at the next multiple of {size}"
        return f"rule Order: first in the range of switch {switch}, {size} addresses {where}"
    if before is None:
        return "rule Order: it comes first, at the start of the block"
    return f"rule Order: behind VLAN {before.vlan} ({before.network}), at the next multiple of {size}"


def _broadcast_address(_scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    size = subnets.network_of(so_far, int(row)).num_addresses
    return f"the last of {size} addresses: network address + {size - 1}"


_GATEWAYS = {
    GatewayPlace.FIRST_USABLE: "rule Gateway: the first usable address",
    GatewayPlace.LAST_USABLE: "rule Gateway: the last usable address",
    GatewayPlace.FREE: "rule Gateway leaves it free; the key takes the first usable address",
}


def _dotted_mask(_scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    length = so_far.value(subnets.PREFIX_LENGTH_OF, row)
    whole, rest = divmod(length, 8)
    octets = f"{whole} octets of 255" if whole else ""
    part = f"{rest} ones = {str(mask_of(rest)).split('.', 1)[0]}" if rest else ""
    return f"/{length}: {' and '.join(filter(None, (octets, part)))}"


def _link_network(scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    size = 2 ** (32 - scenario.link_length)
    if scenario.rules.order is Order.FREE:
        return f"rule Order leaves it free; the key takes the next multiple of {size}"
    names = [link.name for link in scenario.links]
    last = subnets.last_placed(scenario, so_far)
    if names.index(row):
        previous = names[names.index(row) - 1]
        behind = f"link {previous} ({links.network_of(so_far, RowKey(previous))})"
    elif scenario.rules.order is Order.RANGE_A_SWITCH:
        behind = f"the last range, that of switch {scenario.vlan_by_number[last.vlan].switch}"
    else:
        behind = f"VLAN {last.vlan} ({last.network})"
    return f"rule Order: links come last; behind {behind}, at the next multiple of {size}"


def _link_mask(scenario: Scenario, _so_far: SoFar, _row: RowKey) -> str:
    if scenario.link_length == 31:
        return "rule Links: /31, both addresses are ends (RFC 3021)"
    return f"rule Links: /{scenario.link_length}, {2 ** (32 - scenario.link_length)} addresses, 2 of them usable"


def _link_end(scenario: Scenario, row: RowKey, *, is_first: bool) -> str:
    link = scenario.link_by_name[row]
    switch = (link.first if is_first else link.second).switch
    if scenario.rules.link_ends is LinkEnds.FREE:
        return (
            f"either end is right for {switch} (rule Links)" if is_first else f"the one that {link.first.switch} leaves"
        )
    return f"rule Links: {switch} is named {'first: the lower' if is_first else 'second: the higher'} usable address"


# --- Ports and stations -----------------------------------------------------------------------------------------------


def _port_use(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    station = next((each for each in scenario.stations if str(each.at) == row), None)
    if station is not None:
        return f"{station.name} is plugged in, a station of VLAN {station.vlan}"
    link = next(link for link in scenario.links if row in (str(link.first), str(link.second)))
    return f"link {link.name} is plugged in: a routed port carries no VLAN"


def _station_address(scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    station = scenario.station_by_name[row]
    return f"usable address no. {station.fixed_number} of {subnets.network_of(so_far, station.vlan)}"


def _vlan_of_station(scenario: Scenario, row: RowKey) -> int:
    return scenario.station_by_name[row].vlan


# --- Routes -----------------------------------------------------------------------------------------------------------


def _route_switch(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    switch, vlan = routes.required_route(row)
    return f"VLAN {vlan} is on switch {scenario.vlan_by_number[vlan].switch}, so {switch} has to be told the way"


def _next_hop(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    switch, vlan = routes.required_route(row)
    way = scenario.route_between(switch, scenario.vlan_by_number[vlan].switch)
    link = scenario.link_towards(switch, way[-1])
    onward = f" (the way: {', '.join(way)})" if len(way) > 2 else ""
    return f"the address of neighbour {way[1]} on link {link.name}{onward}"


# --- DHCP -------------------------------------------------------------------------------------------------------------


def _pool_first(scenario: Scenario, _so_far: SoFar, _row: RowKey) -> str:
    kept = scenario.rules.kept_for_fixed
    return f"rule Pools: usable address no. {kept + 1}; the first {kept} are kept for fixed addresses"


def _pool_last(_scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    if so_far.value(subnets.GATEWAY, row) == last_usable(subnets.network_of(so_far, int(row))):
        return "rule Pools: the one before the last usable address, which is the gateway's"
    return "rule Pools: the last usable address"


def _relay_vlan(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    clients = len(scenario.dhcp_stations(int(row)))
    asks = f"{clients} stations there ask" if clients > 1 else "1 station there asks"
    return f"{asks} for a lease, and the server is in VLAN {scenario.server.vlan}"


def _giaddr(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    switch = scenario.vlan_by_number[int(row)].switch
    return f"the address of switch {switch} in VLAN {row}, where the request is heard (RFC 1542 4.1.1)"


# --- Protection -------------------------------------------------------------------------------------------------------


def _snooped(_scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    if not so_far.value(protection.SNOOPED, row):
        return f"no VLAN of switch {row} is marked yes under Snooping"
    return f"the VLANs of switch {row} that are marked yes under Snooping"


def _trusted(scenario: Scenario, so_far: SoFar, row: RowKey) -> str:
    switch = SwitchName(row)
    if not so_far.value(protection.SNOOPED, row):
        return "rule Snooping: no VLAN is snooped here, so nothing is checked"
    trusted = [PortRef(switch, port) for port in _in_order(so_far.value(protection.TRUSTED, row))]
    if not trusted:
        return "no message of the DHCP server comes in here"
    return f"messages of the DHCP server come in from {' and from '.join(_plugged(scenario, port) for port in trusted)}"


def _plugged(scenario: Scenario, port: PortRef) -> str:
    link = next((link for link in scenario.links if port in (link.first, link.second)), None)
    if link is None:
        return f"the server itself at {port}"
    return f"switch {_other_end(link, port).switch} at {port}"


def _other_end(link: Link, port: PortRef) -> PortRef:
    return link.second if link.first == port else link.first


def _in_order(names: frozenset[PortName]) -> list[PortName]:
    return sorted(names, key=int)


def _guarded(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    guarded = guarded_ports(scenario)
    names = [
        station.name for station in scenario.stations if station.at in guarded and station.at.switch == SwitchName(row)
    ]
    if not names:
        return f"no station of switch {row} is in a network marked yes under Source guard"
    return f"{_listed(names)}: in networks marked yes under Source guard"


def _listed(names: list[str]) -> str:
    shown = names[:3]
    return ", ".join(shown) + (f" and {len(names) - len(shown)} more" if len(names) > len(shown) else "")


# --- Bindings ---------------------------------------------------------------------------------------------------------


def _binding_address(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    station = scenario.station_by_name[row]
    if station.fixed_number is not None:
        return "its fixed address"
    turn = scenario.dhcp_stations(station.vlan).index(station)
    if not turn:
        return f"the first of VLAN {station.vlan} to start: the first address of the pool"
    return f"no. {turn + 1} of VLAN {station.vlan} to start: the first address of the pool + {turn}"


def _binding_type(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    station = scenario.station_by_name[row]
    if _is_fixed(station):
        return "its address is fixed and its port guarded, so the row is entered by hand"
    return "learnt from the server's answer, in a snooped VLAN"


def _binding_lease(scenario: Scenario, _so_far: SoFar, row: RowKey) -> str:
    return (
        "rule Bindings: static rows are infinite" if _is_fixed(scenario.station_by_name[row]) else "as its pool grants"
    )


def _is_fixed(station: StationPlan) -> bool:
    return station.fixed_number is not None


_REASONS: dict[str, Reason] = {
    subnets.NETWORK_ADDRESS.id: _network_address,
    subnets.PREFIX_LENGTH_OF.id: _prefix_length,
    subnets.FIRST_USABLE.id: lambda _scenario, _so_far, _row: "one above the network address",
    subnets.LAST_USABLE.id: lambda _scenario, _so_far, _row: "one below the broadcast address",
    subnets.BROADCAST_ADDRESS.id: _broadcast_address,
    subnets.GATEWAY.id: lambda scenario, _so_far, _row: _GATEWAYS[scenario.rules.gateway],
    subnets.MASK.id: _dotted_mask,
    links.LINK_NETWORK.id: _link_network,
    links.LINK_MASK.id: _link_mask,
    links.FIRST_ADDRESS.id: lambda scenario, _so_far, row: _link_end(scenario, row, is_first=True),
    links.SECOND_ADDRESS.id: lambda scenario, _so_far, row: _link_end(scenario, row, is_first=False),
    ports.PORT_VLAN.id: _port_use,
    stations.STATION_ADDRESS.id: _station_address,
    stations.STATION_MASK.id: lambda scenario, _so_far, row: (
        f"as VLAN {_vlan_of_station(scenario, row)}'s interface has it"
    ),
    stations.STATION_GATEWAY.id: lambda scenario, _so_far, row: (
        f"the gateway of VLAN {_vlan_of_station(scenario, row)}: the VLAN interface of its switch"
    ),
    routes.ROUTE_SWITCH.id: _route_switch,
    routes.DESTINATION.id: lambda _scenario, _so_far, row: f"the network of VLAN {routes.required_route(row)[1]}",
    routes.ROUTE_MASK_OF.id: lambda _scenario, _so_far, row: (
        f"the length of VLAN {routes.required_route(row)[1]}'s network"
    ),
    routes.NEXT_HOP.id: _next_hop,
    pools.POOL_FIRST.id: _pool_first,
    pools.POOL_LAST.id: _pool_last,
    pools.POOL_MASK.id: lambda _scenario, _so_far, row: f"as VLAN {row}'s interface has it",
    pools.POOL_ROUTER.id: lambda _scenario, _so_far, row: f"the gateway of VLAN {row}",
    pools.POOL_LEASE.id: lambda scenario, _so_far, _row: f"sheet Given: {scenario.lease_hours} h for every pool",
    relays.RELAY_VLAN.id: _relay_vlan,
    relays.RELAY_TARGET.id: lambda scenario, _so_far, _row: f"the fixed address of {scenario.server.name}",
    relays.RELAY_ADDRESS.id: _giaddr,
    protection.SNOOPED.id: _snooped,
    protection.TRUSTED.id: _trusted,
    protection.GUARDED.id: _guarded,
    bindings.BINDING_PORT.id: lambda _scenario, _so_far, row: f"{row} is plugged in there",
    bindings.BINDING_VLAN.id: lambda _scenario, _so_far, row: f"the VLAN of {row}",
    bindings.BINDING_MAC.id: lambda _scenario, _so_far, row: f"the MAC of {row} in table Stations",
    bindings.BINDING_ADDRESS.id: _binding_address,
    bindings.BINDING_TYPE_OF.id: _binding_type,
    bindings.BINDING_LEASE.id: _binding_lease,
}
