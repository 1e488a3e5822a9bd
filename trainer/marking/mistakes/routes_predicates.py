"""What tells mistakes on sheet Routes apart: in the cells of a row, and in whole rows."""

from collections.abc import Iterator
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import Question
from trainer.lab.questions import routes, subnets
from trainer.lab.rows import RouteRow
from trainer.lab.scenario import RouteRule, UnknownAddresses
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.written_routes import Fate
from trainer.network.addresses import DEFAULT_ROUTE, network_at
from trainer.network.devices import SwitchName

__all__ = [
    "are_exchanged",
    "circles",
    "has_host_bits",
    "has_rival",
    "is_at_destination",
    "is_broadcast",
    "is_carried_by_another",
    "is_circling_default",
    "is_connected",
    "is_counted_for_another",
    "is_default_against_the_rule",
    "is_default_astray",
    "is_default_beside_rows",
    "is_destination",
    "is_end_of_a_link",
    "is_host",
    "is_in_a_network",
    "is_in_no_network",
    "is_neighbour",
    "is_no_neighbour_of_next_hop",
    "is_not_adjacent",
    "is_on_connected",
    "is_own_address",
    "is_short",
    "is_short_for_start",
    "is_station",
    "is_summary",
    "is_table_empty",
    "is_taken_astray",
    "is_taken_in_circles",
    "is_taken_the_right_way",
    "is_too_wide",
    "is_unknown_switch",
    "is_written_twice",
    "is_zero_with_length",
    "is_zero_without_mask",
    "leads_to_connected",
    "leads_to_link",
    "leads_to_nowhere",
    "leads_to_part",
    "leads_to_plan_that_cannot_be",
    "leads_to_what_cannot_be",
    "loops",
    "owns_next_hop",
    "starts_a_network",
    "stops_both",
    "stops_offers",
    "stops_replies",
    "stops_requests",
    "switch_of",
    "written_network",
]


# What is written ------------------------------------------------------------------------------------------------------


def written_network(cell: WrongCell) -> IPv4Network | None:
    """Destination and mask of the trainee's row, taken together."""
    destination, length = cell.beside(routes.DESTINATION), cell.beside(routes.ROUTE_MASK_OF)
    return None if destination is None or length is None else network_at(destination, length)


def switch_of(cell: WrongCell) -> SwitchName | None:
    """The switch whose table the row stands in: as it should be, or as written in a row that is not asked for."""
    return cell.key_row.switch if isinstance(cell.key_row, RouteRow) else cell.beside(routes.ROUTE_SWITCH)


def _written_routes(cell: WrongCell, switch: str) -> Iterator[tuple[IPv4Network, IPv4Address]]:
    """All routes that the trainee wrote for a switch, as far as it takes them."""
    answers = cell.plan.answers
    for row in cell.plan.rows(routes.ROUTES.id):
        destination, length = answers.get(routes.DESTINATION, row), answers.get(routes.ROUTE_MASK_OF, row)
        next_hop = answers.get(routes.NEXT_HOP, row)
        here = answers.get(routes.ROUTE_SWITCH, row) == switch
        if here and destination is not None and length is not None and next_hop is not None:
            network = network_at(destination, length)
            if network.network_address == destination:
                yield network, next_hop


def _written_to(cell: WrongCell, network: IPv4Network) -> list[IPv4Address]:
    """The next hops of all routes to a network that the trainee wrote for the switch of the row."""
    switch = switch_of(cell)
    return [] if switch is None else [hop for each, hop in _written_routes(cell, switch) if each == network]


def has_host_bits(cell: WrongCell) -> bool:
    """Whether the destination of the row is no network address under the mask of the row."""
    network = written_network(cell)
    return network is not None and cell.beside(routes.DESTINATION) != network.network_address


# Switch ---------------------------------------------------------------------------------------------------------------


def is_unknown_switch(cell: WrongCell) -> bool:
    return cell.value not in cell.plan.switch_names


def is_at_destination(cell: WrongCell) -> bool:
    return cell.vlan is not None and cell.holds(cell.vlan.switch)


def owns_next_hop(cell: WrongCell) -> bool:
    next_hop = cell.beside(routes.NEXT_HOP)
    return next_hop is not None and next_hop in cell.plan.own_addresses(cell.value)


def is_no_neighbour_of_next_hop(cell: WrongCell) -> bool:
    next_hop = cell.beside(routes.NEXT_HOP)
    return not is_unknown_switch(cell) and next_hop not in cell.plan.neighbours(cell.value)


# Destination ----------------------------------------------------------------------------------------------------------


def are_exchanged(cell: WrongCell) -> bool:
    """Destination and next hop, in a row that is meant for one of the key or in one too many."""
    if cell.flaw is Flaw.WRONG and cell.question in (routes.ROUTE_SWITCH, routes.ROUTE_MASK_OF):
        return False
    meant = (
        (cell.key_row,)
        if isinstance(cell.key_row, RouteRow)
        else (row.key for row in routes.ROUTES.rows(cell.scenario))
    )
    return any(_is_exchanged(cell, key_row) for key_row in meant)


def _is_exchanged(cell: WrongCell, key_row: RouteRow) -> bool:
    """Whether its row has destination and next hop of a row of the key, each in the other's column."""
    answers, row = cell.plan.answers, cell.row
    if answers.get(routes.ROUTE_SWITCH, row) != key_row.switch:
        return False

    def holds(written_in: Question[IPv4Address, Any], meant_for: Question[IPv4Address, Any]) -> bool:
        written = answers.get(written_in, row)
        return written in {cell.right_by_plan(meant_for, key_row), cell.plan.key.value(meant_for, key_row)}

    return holds(routes.DESTINATION, routes.NEXT_HOP) and holds(routes.NEXT_HOP, routes.DESTINATION)


def is_zero_with_length(cell: WrongCell) -> bool:
    destination, length = cell.beside(routes.DESTINATION), cell.beside(routes.ROUTE_MASK_OF)
    return destination is not None and int(destination) == 0 and length not in (None, 0)


def is_zero_without_mask(cell: WrongCell) -> bool:
    if cell.flaw is Flaw.WRONG and cell.question is not routes.DESTINATION:
        return False
    destination = cell.beside(routes.DESTINATION)
    return destination is not None and int(destination) == 0 and cell.beside(routes.ROUTE_MASK_OF) is None


def is_default_against_the_rule(cell: WrongCell) -> bool:
    return cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK and _is_default(cell)


def is_default_astray(cell: WrongCell) -> bool:
    return _is_default(cell) and not _leads_on(cell)


def _is_default(cell: WrongCell) -> bool:
    return written_network(cell) == DEFAULT_ROUTE and not has_host_bits(cell)


def _leads_on(cell: WrongCell) -> bool:
    """Whether the written routes hand packets for the network of the row to the neighbour on the way."""
    return isinstance(cell.key_row, RouteRow) and cell.plan.forwarding.lead_on(cell.key_row)


def is_host(cell: WrongCell) -> bool:
    """Whether the destination has host bits under its mask; where another network starts, other texts say more."""
    return has_host_bits(cell) and not starts_a_network(cell) and not address.is_on_link(cell)


def is_broadcast(cell: WrongCell) -> bool:
    return cell.value in cell.plan.broadcast_addresses


def is_station(cell: WrongCell) -> bool:
    return cell.plan.is_for_stations(cell.value) or address.is_server(cell)


def is_connected(cell: WrongCell) -> bool:
    """The start of a network that the switch is connected to."""
    return any(cell.holds(each.network_address) for each in _connected(cell))


def _connected(cell: WrongCell) -> tuple[IPv4Network, ...]:
    switch = switch_of(cell)
    return () if switch is None else cell.plan.connected_networks(switch)


def starts_a_network(cell: WrongCell) -> bool:
    return cell.value in cell.plan.starts


def is_in_a_network(cell: WrongCell) -> bool:
    return cell.is_in(*cell.plan.networks.values())


def is_in_no_network(cell: WrongCell) -> bool:
    """And yet in the block."""
    return (
        not address.is_outside_block(cell) and address.is_outside_plan(cell) and not cell.is_in(*cell.plan.all_networks)
    )


# Mask -----------------------------------------------------------------------------------------------------------------


def is_short(cell: WrongCell) -> bool:
    return cell.offset < 0


def is_short_for_start(cell: WrongCell) -> bool:
    return is_short(cell) and has_host_bits(cell)


def is_too_wide(cell: WrongCell) -> bool:
    return is_short(cell) and _covers_what_is_not_behind(cell)


def is_summary(cell: WrongCell) -> bool:
    return (
        cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK
        and is_short(cell)
        and not is_short_for_start(cell)
        and not _covers_what_is_not_behind(cell)
    )


def _covers_what_is_not_behind(cell: WrongCell) -> bool:
    """Whether the written route covers networks of the plan that are not behind its next hop."""
    network, row = written_network(cell), cell.key_row
    if network is None or not isinstance(row, RouteRow) or row.vlan is None:
        return False
    scenario = cell.scenario
    behind = scenario.link_towards(row.switch, scenario.vlan_by_id[row.vlan].switch)
    covered = (scenario.vlan_by_id[other] for other, each in cell.plan.networks.items() if each.overlaps(network))
    return any(
        vlan.switch == row.switch or scenario.link_towards(row.switch, vlan.switch) != behind for vlan in covered
    )


# Next hop -------------------------------------------------------------------------------------------------------------


def is_own_address(cell: WrongCell) -> bool:
    switch = switch_of(cell)
    return switch is not None and cell.value in cell.plan.own_addresses(switch)


def is_destination(cell: WrongCell) -> bool:
    return cell.holds(cell.beside(routes.DESTINATION))


def loops(cell: WrongCell) -> bool:
    """Whether the neighbour that is named sends packets for the network back, by the written routes."""
    switch, vlan = switch_of(cell), cell.vlan
    neighbour = None if switch is None else cell.plan.neighbours(switch).get(cell.value)
    if neighbour is None or vlan is None or vlan.switch == neighbour:
        return False
    hops = {each.next_hop for each in cell.plan.forwarding.entries(neighbour, vlan.id) if each is not None}
    return any(int(hop) in hops for hop, end in cell.plan.neighbours(neighbour).items() if end == switch)


def is_neighbour(cell: WrongCell) -> bool:
    switch = switch_of(cell)
    return switch is not None and cell.value in cell.plan.neighbours(switch)


def is_end_of_a_link(cell: WrongCell) -> bool:
    return cell.value in cell.plan.link_ends.values()


def is_on_connected(cell: WrongCell) -> bool:
    return cell.is_in(*_connected(cell))


def is_not_adjacent(cell: WrongCell) -> bool:
    return not is_on_connected(cell)


# Rows that are missing ------------------------------------------------------------------------------------------------


def leads_to_what_cannot_be(cell: WrongCell) -> bool:
    """Whether the route was written, to where the trainee planned the network and none of this lab can be."""
    if cell.vlan is None:
        return False
    planned = cell.plan.planned_networks[cell.vlan.id]
    return planned != cell.plan.networks[cell.vlan.id] and bool(_written_to(cell, planned))


def is_counted_for_another(cell: WrongCell) -> bool:
    """Whether the route was written, to a place where by the key another network lies, which the row counts for."""
    if cell.vlan is None:
        return False
    planned = cell.plan.planned_networks[cell.vlan.id]
    others = (each.id for each in cell.scenario.vlans if each != cell.vlan)
    starts = {cell.plan.key.value(subnets.NETWORK_ADDRESS, subnets.row_of(number)) for number in others}
    return planned.network_address in starts and bool(_written_to(cell, planned))


def is_taken_the_right_way(cell: WrongCell) -> bool:
    return cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK and _is_taken_along(cell) and _leads_on(cell)


def is_taken_in_circles(cell: WrongCell) -> bool:
    return _is_taken_along(cell) and _fate(cell) is Fate.CIRCLES


def is_taken_astray(cell: WrongCell) -> bool:
    return _is_taken_along(cell) and not _leads_on(cell)


def _is_taken_along(cell: WrongCell) -> bool:
    """Whether another row of the switch matches the whole network."""
    ends = _ends(cell)
    if ends is None or cell.vlan is None:
        return False
    entries = cell.plan.forwarding.entries(ends[0], cell.vlan.id)
    return all(each is not None and each.route is not None for each in entries)


def _ends(cell: WrongCell) -> tuple[SwitchName, SwitchName] | None:
    """The switch of a missing route, and the switch behind which its network lies."""
    switch = switch_of(cell)
    return None if switch is None or cell.vlan is None else (switch, cell.vlan.switch)


def _fate(cell: WrongCell) -> Fate | None:
    """What becomes of packets that the switch of a missing route sends to its network."""
    switch = switch_of(cell)
    return None if switch is None or cell.vlan is None else cell.plan.forwarding.fate(switch, cell.vlan.id)


def _fates_back(cell: WrongCell) -> set[Fate]:
    """What becomes of packets that the switch behind a missing route sends to the VLAN networks of this one."""
    ends = _ends(cell)
    if ends is None:
        return set()
    here, there = ends
    return {cell.plan.forwarding.fate(there, vlan.id) for vlan in cell.scenario.vlans if vlan.switch == here}


def is_table_empty(cell: WrongCell) -> bool:
    """Whether the switch has no row at all."""
    switch, answers = switch_of(cell), cell.plan.answers
    rows = cell.plan.rows(routes.ROUTES.id)
    return switch is not None and not any(answers.get(routes.ROUTE_SWITCH, row) == switch for row in rows)


def stops_offers(cell: WrongCell) -> bool:
    """On the server's switch, to a VLAN whose clients ask through a relay agent, and whose requests arrive."""
    ends, vlan, server = _ends(cell), cell.vlan, cell.scenario.server
    if ends is None or vlan is None or ends[0] != server.at.switch or not cell.scenario.dhcp_stations(vlan.id):
        return False
    return _fate(cell) is Fate.NO_ROUTE and cell.plan.forwarding.fate(ends[1], server.vlan) is Fate.ARRIVES


def stops_requests(cell: WrongCell) -> bool:
    """To the server's network, on a switch that has clients."""
    if cell.vlan is None or cell.vlan.id != cell.scenario.server.vlan:
        return False
    has_clients = any(each.switch == switch_of(cell) for each in cell.scenario.dhcp_vlans)
    return has_clients and _fate(cell) is Fate.NO_ROUTE


def stops_replies(cell: WrongCell) -> bool:
    """Where packets of the far network arrive at this switch, which then cannot answer."""
    return _fate(cell) is Fate.NO_ROUTE and Fate.ARRIVES in _fates_back(cell)


def stops_both(cell: WrongCell) -> bool:
    return _fate(cell) is Fate.NO_ROUTE and _fates_back(cell) == {Fate.NO_ROUTE}


# Rows that nobody asked for -------------------------------------------------------------------------------------------


def leads_to_plan_that_cannot_be(cell: WrongCell) -> bool:
    network = written_network(cell)
    return network in cell.plan.planned_networks.values() and network not in cell.plan.networks.values()


def is_written_twice(cell: WrongCell) -> bool:
    network = written_network(cell)
    return network is not None and len(_written_to(cell, network)) > 1


def has_rival(cell: WrongCell) -> bool:
    """Whether the same destination has another next hop in another row."""
    network = written_network(cell)
    return network is not None and len(set(_written_to(cell, network))) > 1


def is_default_beside_rows(cell: WrongCell) -> bool:
    """Whether every far network behind the next hop has a row of its own, so that the default adds nothing."""
    switch, next_hop = cell.beside(routes.ROUTE_SWITCH), cell.beside(routes.NEXT_HOP)
    is_default = written_network(cell) == DEFAULT_ROUTE
    if not is_default or switch is None or switch not in cell.plan.switch_names or next_hop is None:
        return False
    behind = cell.plan.neighbours(switch).get(next_hop)
    own_rows = [network for network, _ in _written_routes(cell, switch)]
    far = [each for each in cell.scenario.vlans if each.switch != switch]
    return behind is not None and all(
        cell.plan.networks[each.id] in own_rows
        for each in far
        if cell.scenario.route_between(switch, each.switch)[1] == behind
    )


def circles(cell: WrongCell) -> bool:
    is_forbidden = cell.scenario.rules.unknown_addresses is UnknownAddresses.DROPPED
    return is_forbidden and any(cell.row in circle.rows for circle in cell.plan.forwarding.circles)


def is_circling_default(cell: WrongCell) -> bool:
    return written_network(cell) == DEFAULT_ROUTE and circles(cell)


def leads_to_connected(cell: WrongCell) -> bool:
    return written_network(cell) in _connected(cell)


def leads_to_link(cell: WrongCell) -> bool:
    network = written_network(cell)
    return network is not None and any(network.subnet_of(each) for each in cell.plan.link_networks.values())


def leads_to_part(cell: WrongCell) -> bool:
    network = written_network(cell)
    return network is not None and any(
        network.subnet_of(each) and network != each for each in cell.plan.networks.values()
    )


def is_carried_by_another(cell: WrongCell) -> bool:
    """Whether other rows carry all packets for a far network that this row is written for, all the way."""
    network, switch = written_network(cell), switch_of(cell)
    if network is None or switch is None:
        return False
    forwarding = cell.plan.forwarding
    for row in routes.ROUTES.rows(cell.scenario):
        here, vlan = row.key.switch, row.key.vlan
        if (
            here == switch
            and vlan is not None
            and cell.plan.networks[vlan] == network
            and forwarding.fate(here, vlan) is Fate.ARRIVES
        ):
            entries = forwarding.entries(here, vlan)
            return all(each is not None and each.route is not None and each.route.key != cell.row for each in entries)
    return False


def leads_to_nowhere(cell: WrongCell) -> bool:
    network = written_network(cell)
    planned = (*cell.plan.networks.values(), *cell.plan.planned_networks.values())
    return network is not None and not any(network.overlaps(each) for each in planned)
