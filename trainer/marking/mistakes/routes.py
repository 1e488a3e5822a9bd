"""Mistakes on sheet Routes: where a switch sends packets for networks that it is not connected to."""

from collections.abc import Iterator
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.form import Question, RowKey
from trainer.lab.questions import routes, subnets
from trainer.lab.questions.routes import required_route
from trainer.lab.scenario import RouteRule, UnknownAddresses
from trainer.marking.equivalence import Fate
from trainer.marking.mistakes.evidence import (
    connected_networks,
    gateways,
    is_reserved,
    link_ends,
    link_networks,
    neighbours,
    own_addresses,
    own_network,
    planned_networks,
    pool_range,
    server_address,
    station_addresses,
    switch_names,
    vlan_networks,
    vlan_of,
    written,
    written_rows,
)
from trainer.marking.mistakes.mistake import HALF, Claim, Lapse, Mistake, WrongCell
from trainer.network.addresses import network_at
from trainer.network.devices import SwitchName

__all__ = ["ROUTE_MISTAKES"]

_SWITCH = frozenset({routes.ROUTE_SWITCH.id})
_DESTINATION = frozenset({routes.DESTINATION.id})
_MASK = frozenset({routes.ROUTE_MASK_OF.id})
_NEXT_HOP = frozenset({routes.NEXT_HOP.id})
_ALL = _SWITCH | _DESTINATION | _MASK | _NEXT_HOP
_EXTRA = frozenset({Lapse.EXTRA})
_MISSING = frozenset({Lapse.MISSING})
_DEFAULT = IPv4Network("0.0.0.0/0")


# What is written ------------------------------------------------------------------------------------------------------


def _written_network(cell: WrongCell) -> IPv4Network | None:
    """Destination and mask of the trainee's row, taken together."""
    destination, length = written(cell, routes.DESTINATION), written(cell, routes.ROUTE_MASK_OF)
    return None if destination is None or length is None else network_at(destination, length)


def _switch(cell: WrongCell) -> SwitchName | None:
    """The switch whose table the row stands in: as it should be, or as written in a row that is not asked for."""
    if cell.key_row is not None:
        return required_route(cell.key_row)[0]
    here: SwitchName | None = written(cell, routes.ROUTE_SWITCH)
    return here


def _written_routes(cell: WrongCell, switch: str) -> Iterator[tuple[IPv4Network, IPv4Address]]:
    """All routes that the trainee wrote for a switch, as far as it takes them."""
    for row in written_rows(cell, routes.ROUTES.id):
        destination, length = cell.answers.get(routes.DESTINATION, row), cell.answers.get(routes.ROUTE_MASK_OF, row)
        next_hop = cell.answers.get(routes.NEXT_HOP, row)
        here = cell.answers.get(routes.ROUTE_SWITCH, row) == switch
        if here and destination is not None and length is not None and next_hop is not None:
            network = network_at(destination, length)
            if network.network_address == destination:
                yield network, next_hop


def _fates(cell: WrongCell, start: SwitchName, goal: SwitchName) -> set[Fate]:
    """What becomes of packets that one switch sends to the VLAN networks of another one."""
    return {cell.ways.fate(start, vlan.number) for vlan in cell.scenario.vlans if vlan.switch == goal}


def _has_host_bits(cell: WrongCell) -> bool:
    """Whether the destination of the row is no network address under the mask of the row."""
    network = _written_network(cell)
    return network is not None and written(cell, routes.DESTINATION) != network.network_address


def _is_host(cell: WrongCell) -> bool:
    """Whether the destination has host bits under its mask; where another network starts, other texts say more."""
    starts = {each.network_address for each in vlan_networks(cell).values()}
    return cell.value != cell.expected and _has_host_bits(cell) and cell.value not in starts and not _is_on_link(cell)


def _is_exchanged(cell: WrongCell, row: RowKey, key_row: RowKey) -> bool:
    """Whether a written row has destination and next hop of a row of the key, each in the other's column; of a mask that is
    missing also whether it stands there.
    """
    if cell.answers.get(routes.ROUTE_SWITCH, row) != required_route(key_row)[0]:
        return False
    is_missing_mask = cell.lapse is Lapse.MISSING and cell.question is routes.ROUTE_MASK_OF
    if is_missing_mask and cell.answers.get(routes.ROUTE_MASK_OF, row) != cell.expected:
        return False

    def holds(written_in: Question[IPv4Address], meant_for: Question[IPv4Address]) -> bool:
        right = (meant_for.answer(cell.scenario, cell.so_far, key_row), cell.key.value(meant_for, key_row))
        return any(cell.answers.get(written_in, row) == each for each in right)

    return holds(routes.DESTINATION, routes.NEXT_HOP) and holds(routes.NEXT_HOP, routes.DESTINATION)


# Switch ---------------------------------------------------------------------------------------------------------------


def _is_unknown_switch(cell: WrongCell) -> bool:
    return cell.value not in switch_names(cell)


def _is_at_destination(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    return vlan is not None and bool(cell.value == vlan.switch)


def _owns_next_hop(cell: WrongCell) -> bool:
    next_hop = written(cell, routes.NEXT_HOP)
    return next_hop is not None and cell.value != cell.expected and next_hop in own_addresses(cell, cell.value)


def _is_another_switch(cell: WrongCell) -> bool:
    """One that is no neighbour of the next hop."""
    next_hop = written(cell, routes.NEXT_HOP)
    is_another = cell.value != cell.expected and cell.value in switch_names(cell)
    return is_another and next_hop not in neighbours(cell, cell.value)


# Destination ----------------------------------------------------------------------------------------------------------


def _are_exchanged(cell: WrongCell) -> bool:
    """In a row matched with one of the key, in the row that a missing one was written as, or in that row itself."""
    if cell.lapse is Lapse.WRONG and (cell.value == cell.expected or cell.question.id in _SWITCH | _MASK):
        return False
    rows = written_rows(cell, routes.ROUTES.id) if cell.lapse is Lapse.MISSING else (cell.row,)
    meant = [row.key for row in cell.section.rows(cell.scenario)] if cell.key_row is None else [cell.key_row]
    return any(_is_exchanged(cell, row, key_row) for row in rows for key_row in meant)


def _is_zero_with_length(cell: WrongCell) -> bool:
    destination, length = written(cell, routes.DESTINATION), written(cell, routes.ROUTE_MASK_OF)
    return cell.value != cell.expected and destination is not None and int(destination) == 0 and length not in (None, 0)


def _is_default(cell: WrongCell) -> bool:
    network = _written_network(cell)
    return network == _DEFAULT and not _has_host_bits(cell) and cell.value != cell.expected


def _is_default_against_the_rule(cell: WrongCell) -> bool:
    return cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK and _is_default(cell)


def _is_default_astray(cell: WrongCell) -> bool:
    return _is_default(cell) and cell.key_row is not None and not cell.ways.lead_on(cell.key_row)


def _is_zero_without_mask(cell: WrongCell) -> bool:
    if cell.lapse is Lapse.WRONG and cell.question is not routes.DESTINATION:
        return False
    destination = written(cell, routes.DESTINATION)
    return destination is not None and int(destination) == 0 and written(cell, routes.ROUTE_MASK_OF) is None


def _is_gateway(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in gateways(cell).values()


def _is_broadcast(cell: WrongCell) -> bool:
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values())
    ends = {each.broadcast_address for each in networks if each.prefixlen < 31}
    return cell.value != cell.expected and cell.value in ends


def _is_station(cell: WrongCell) -> bool:
    pools = (pool_range(cell, vlan.number) for vlan in cell.scenario.dhcp_vlans)
    return cell.value != cell.expected and (
        cell.value in station_addresses(cell).values()
        or cell.value == server_address(cell)
        or any(int(cell.value) in each for each in pools)
    )


def _is_on_link(cell: WrongCell) -> bool:
    return cell.value != cell.expected and any(cell.value in each for each in link_networks(cell).values())


def _is_connected(cell: WrongCell) -> bool:
    switch = _switch(cell)
    return switch is not None and any(cell.value == each.network_address for each in connected_networks(cell, switch))


def _is_inside_own(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value != cell.expected and cell.value in network


def _is_another_network(cell: WrongCell) -> bool:
    starts = {each.network_address for each in vlan_networks(cell).values()}
    return cell.value != cell.expected and cell.value in starts


def _is_within_another(cell: WrongCell) -> bool:
    return cell.value != cell.expected and any(cell.value in each for each in vlan_networks(cell).values())


def _is_in_no_network(cell: WrongCell) -> bool:
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values(), *planned_networks(cell).values())
    return cell.value in cell.scenario.block and not any(cell.value in each for each in networks)


# Mask -----------------------------------------------------------------------------------------------------------------


def _covered(cell: WrongCell) -> tuple[IPv4Network, ...]:
    """Networks of the plan that the written route covers though they are not behind its next hop."""
    network, row = _written_network(cell), cell.key_row
    if network is None or row is None:
        return ()
    switch, number = required_route(row)
    vlans = cell.scenario.vlan_by_number
    towards = cell.scenario.link_towards(switch, vlans[number].switch)
    return tuple(
        each
        for other, each in vlan_networks(cell).items()
        if each.overlaps(network)
        and (vlans[other].switch == switch or cell.scenario.link_towards(switch, vlans[other].switch) != towards)
    )


def _is_short(cell: WrongCell) -> bool:
    return bool(cell.value < cell.expected)


def _is_too_wide(cell: WrongCell) -> bool:
    return _is_short(cell) and bool(_covered(cell))


def _is_summary(cell: WrongCell) -> bool:
    return (
        _is_short(cell)
        and not _is_short_for_start(cell)
        and not _covered(cell)
        and cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK
    )


def _is_short_for_start(cell: WrongCell) -> bool:
    destination = written(cell, routes.DESTINATION)
    return (
        _is_short(cell)
        and destination is not None
        and network_at(destination, cell.value).network_address != destination
    )


# Next hop -------------------------------------------------------------------------------------------------------------


def _is_own_address(cell: WrongCell) -> bool:
    switch = _switch(cell)
    return switch is not None and cell.value != cell.expected and cell.value in own_addresses(cell, switch)


def _is_destination(cell: WrongCell) -> bool:
    return bool(cell.expected != cell.value == written(cell, routes.DESTINATION))


def _is_reserved_hop(cell: WrongCell) -> bool:
    return cell.value != cell.expected and is_reserved(cell, cell.value)


def _is_far_gateway(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    return vlan is not None and cell.value != cell.expected and cell.value == gateways(cell)[vlan.number]


def _is_any_gateway(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in gateways(cell).values()


def _loops(cell: WrongCell) -> bool:
    switch = _switch(cell)
    if switch is None or cell.value == cell.expected:
        return False
    neighbour, vlan = neighbours(cell, switch).get(cell.value), vlan_of(cell)
    if neighbour is None or vlan is None or vlan.switch == neighbour:
        return False
    hops = {each.next_hop for each in cell.ways.entries(neighbour, vlan.number) if each is not None}
    return any(int(address) in hops for address, end in neighbours(cell, neighbour).items() if end == switch)


def _is_wrong_neighbour(cell: WrongCell) -> bool:
    switch = _switch(cell)
    return switch is not None and cell.value != cell.expected and cell.value in neighbours(cell, switch)


def _is_nobody_on_connected(cell: WrongCell) -> bool:
    switch = _switch(cell)
    return (
        switch is not None
        and cell.value != cell.expected
        and any(cell.value in each for each in connected_networks(cell, switch))
    )


def _is_far_end_of_far_link(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in link_ends(cell).values()


def _is_not_adjacent(cell: WrongCell) -> bool:
    switch = _switch(cell)
    return switch is not None and not any(cell.value in each for each in connected_networks(cell, switch))


# Rows -----------------------------------------------------------------------------------------------------------------


def _is_table_empty(cell: WrongCell) -> bool:
    switch = _switch(cell)
    rows = written_rows(cell, routes.ROUTES.id)
    return switch is not None and not any(cell.answers.get(routes.ROUTE_SWITCH, row) == switch for row in rows)


def _ends(cell: WrongCell) -> tuple[SwitchName, SwitchName] | None:
    """The switch of a missing route, and the switch behind which its network lies."""
    switch, vlan = _switch(cell), vlan_of(cell)
    return None if switch is None or vlan is None else (switch, vlan.switch)


def _knows_no_way(cell: WrongCell) -> bool:
    """Whether no other row of the switch matches the network either."""
    switch, vlan = _switch(cell), vlan_of(cell)
    return switch is not None and vlan is not None and cell.ways.fate(switch, vlan.number) is Fate.NO_ROUTE


def _is_taken_along(cell: WrongCell) -> bool:
    """Whether another row of the switch matches the whole network."""
    switch, vlan = _switch(cell), vlan_of(cell)
    if switch is None or vlan is None:
        return False
    return all(each is not None and each.route is not None for each in cell.ways.entries(switch, vlan.number))


def _is_taken_the_right_way(cell: WrongCell) -> bool:
    is_forbidden = cell.scenario.rules.route_rule is RouteRule.ONE_A_NETWORK
    return is_forbidden and _is_taken_along(cell) and cell.key_row is not None and cell.ways.lead_on(cell.key_row)


def _is_taken_in_circles(cell: WrongCell) -> bool:
    switch, vlan = _switch(cell), vlan_of(cell)
    if switch is None or vlan is None or not _is_taken_along(cell):
        return False
    return cell.ways.fate(switch, vlan.number) is Fate.CIRCLES


def _is_taken_astray(cell: WrongCell) -> bool:
    return _is_taken_along(cell) and cell.key_row is not None and not cell.ways.lead_on(cell.key_row)


def _leads_to_what_cannot_be(cell: WrongCell) -> bool:
    """Whether the route was written, to where the trainee planned the network and none of this lab can be."""
    switch, vlan = _switch(cell), vlan_of(cell)
    if switch is None or vlan is None:
        return False
    planned = planned_networks(cell)[vlan.number]
    return planned != vlan_networks(cell)[vlan.number] and any(
        network == planned for network, _ in _written_routes(cell, switch)
    )


def _is_counted_for_another(cell: WrongCell) -> bool:
    """Whether the route was written, to a place where by the key another network lies, which the row counts for."""
    switch, vlan = _switch(cell), vlan_of(cell)
    if switch is None or vlan is None:
        return False
    planned = planned_networks(cell)[vlan.number]
    starts = {
        cell.key.value(subnets.NETWORK_ADDRESS, subnets.row_of(each.number))
        for each in cell.scenario.vlans
        if each != vlan
    }
    is_written = any(network == planned for network, _ in _written_routes(cell, switch))
    return is_written and planned.network_address in starts


def _stops_offers(cell: WrongCell) -> bool:
    """On the server's switch, to a VLAN whose clients ask through a relay agent, and whose requests arrive."""
    ends, vlan = _ends(cell), vlan_of(cell)
    server = cell.scenario.server
    if ends is None or vlan is None or ends[0] != server.at.switch or not cell.scenario.dhcp_stations(vlan.number):
        return False
    return _knows_no_way(cell) and cell.ways.fate(ends[1], server.vlan) is Fate.ARRIVES


def _stops_requests(cell: WrongCell) -> bool:
    """To the server's network, on a switch that has clients."""
    ends, vlan = _ends(cell), vlan_of(cell)
    if ends is None or vlan is None or vlan.number != cell.scenario.server.vlan:
        return False
    return _knows_no_way(cell) and any(each.switch == ends[0] for each in cell.scenario.dhcp_vlans)


def _stops_replies(cell: WrongCell) -> bool:
    """Where packets of the far network arrive at this switch, which then cannot answer."""
    ends = _ends(cell)
    return ends is not None and _knows_no_way(cell) and Fate.ARRIVES in _fates(cell, ends[1], ends[0])


def _stops_both(cell: WrongCell) -> bool:
    ends = _ends(cell)
    return ends is not None and _knows_no_way(cell) and _fates(cell, ends[1], ends[0]) == {Fate.NO_ROUTE}


def _is_just_missing(_cell: WrongCell) -> bool:
    return True


def _is_extra_to_what_cannot_be(cell: WrongCell) -> bool:
    network = _written_network(cell)
    return network in planned_networks(cell).values() and network not in vlan_networks(cell).values()


def _is_extra_default(cell: WrongCell) -> bool:
    return _written_network(cell) == _DEFAULT


def _is_extra_default_beside_rows(cell: WrongCell) -> bool:
    """Whether every far network behind the next hop has a row of its own, so that the default adds nothing."""
    switch, next_hop = written(cell, routes.ROUTE_SWITCH), written(cell, routes.NEXT_HOP)
    if not _is_extra_default(cell) or switch not in switch_names(cell) or next_hop is None:
        return False
    behind = neighbours(cell, switch).get(next_hop)
    own_rows = [network for network, _ in _written_routes(cell, switch)]
    far = [each for each in cell.scenario.vlans if each.switch != switch]
    return behind is not None and all(
        vlan_networks(cell)[each.number] in own_rows
        for each in far
        if cell.scenario.route_between(switch, each.switch)[1] == behind
    )


def _is_extra_circle(cell: WrongCell) -> bool:
    is_forbidden = cell.scenario.rules.unknown_addresses is UnknownAddresses.DROPPED
    return is_forbidden and any(cell.row in circle.rows for circle in cell.ways.circles)


def _is_extra_default_circle(cell: WrongCell) -> bool:
    return _is_extra_default(cell) and _is_extra_circle(cell)


def _is_extra_connected(cell: WrongCell) -> bool:
    switch, network = written(cell, routes.ROUTE_SWITCH), _written_network(cell)
    return switch is not None and network is not None and network in connected_networks(cell, switch)


def _is_extra_twice(cell: WrongCell) -> bool:
    switch, network = written(cell, routes.ROUTE_SWITCH), _written_network(cell)
    if switch is None or network is None:
        return False
    return sum(each == network for each, _ in _written_routes(cell, switch)) > 1


def _is_extra_rival(cell: WrongCell) -> bool:
    switch, network = written(cell, routes.ROUTE_SWITCH), _written_network(cell)
    if switch is None or network is None:
        return False
    return len({next_hop for each, next_hop in _written_routes(cell, switch) if each == network}) > 1


def _is_extra_link(cell: WrongCell) -> bool:
    network = _written_network(cell)
    return network is not None and any(network.subnet_of(each) for each in link_networks(cell).values())


def _is_extra_part(cell: WrongCell) -> bool:
    network = _written_network(cell)
    return network is not None and any(
        network.subnet_of(each) and network != each for each in vlan_networks(cell).values()
    )


def _is_extra_to_nowhere(cell: WrongCell) -> bool:
    network = _written_network(cell)
    planned = (*vlan_networks(cell).values(), *planned_networks(cell).values())
    return network is not None and not any(network.overlaps(each) for each in planned)


ROUTE_MISTAKES: tuple[Mistake, ...] = (
    # Switch
    Mistake(
        id="route-switch-not-in-lab",
        questions=_SWITCH,
        priority=8,
        fits=_is_unknown_switch,
        explanation="The lab has no switch {given}.",
        consequence="Nobody can tell from the row on which device the route is to be set.",
        claim=Claim.NONE,
        hint="Which letters have the switches on sheet Given?",
        source="common practice, no source",
    ),
    Mistake(
        id="route-switch-is-next-hop",
        questions=_SWITCH,
        priority=9,
        fits=_owns_next_hop,
        explanation=(
            "The next hop of this row is an address of switch {given} itself. "
            "The route belongs on the switch that sends there."
        ),
        consequence="The switch drops the packets or refuses the route: it cannot hand a packet to itself.",
        claim=Claim.NO_ANSWER,
        hint="Who looks along the link at this next hop?",
        source="RFC 1812 section 5.2.4.3 and section 7.4",
    ),
    Mistake(
        id="route-switch-is-destination",
        questions=_SWITCH,
        priority=10,
        fits=_is_at_destination,
        explanation="Switch {given} is connected to this network already and knows it without a route.",
        consequence="The switch that needs the route has none, and packets stop there.",
        claim=Claim.NO_ANSWER,
        hint="Which switch cannot see this network on its own interfaces?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="route-of-another-switch",
        questions=_SWITCH,
        priority=11,
        fits=_is_another_switch,
        explanation="On switch {given} this row leads nowhere: the next hop is not its neighbour on the way.",
        consequence="The route stays without effect there, and is missing where it is needed.",
        claim=Claim.NO_ANSWER,
        hint="Standing on which switch can you reach this next hop directly?",
        source="RFC 1812 section 5.2.4.2 and section 5.2.4.3",
    ),
    # Destination
    Mistake(
        id="route-dest-nexthop-swapped",
        questions=_ALL,
        priority=7,
        lapses=frozenset({Lapse.WRONG, Lapse.MISSING, Lapse.EXTRA}),
        fits=_are_exchanged,
        explanation="Destination and next hop of this route are exchanged: each stands in the other's column.",
        consequence="No packet for the far network follows this row.",
        claim=Claim.NONE,
        hint="Does the row make sense when you read it aloud: to reach this, send to that?",
        source="RFC 1812 section 7.4",
        credit=HALF,
    ),
    Mistake(
        id="route-default-wrong-mask",
        questions=_DESTINATION | _MASK,
        priority=8,
        fits=_is_zero_with_length,
        explanation=(
            "A default route has zeros in the destination and in the mask. "
            "With any other mask it no longer matches every address."
        ),
        consequence="The route matches addresses that nobody uses, and all else stays out of reach.",
        claim=Claim.NO_ANSWER,
        hint="How many bits have to agree if every packet should match?",
        source="RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-default-without-mask",
        questions=_ALL,
        priority=10,
        lapses=frozenset({Lapse.WRONG, Lapse.BLANK, Lapse.EXTRA}),
        fits=_is_zero_without_mask,
        explanation="A default route needs its mask as well: zeros only, the prefix length zero. Without it the row is no route.",
        consequence="The device refuses the row, so no packet takes this way.",
        claim=Claim.NONE,
        hint="How many bits have to agree if every packet should match, and which mask says so?",
        source="RFC 4632 section 5.1; how to write in this lab",
    ),
    Mistake(
        id="route-dest-host-bits",
        questions=_DESTINATION,
        priority=9,
        fits=_is_host,
        explanation=(
            "Under the mask of this row {given} is the address of a host. The destination of a route is a network "
            "address, whose host bits are all zeros."
        ),
        consequence="The equipment refuses the route, as if it had not been written.",
        claim=Claim.NO_ANSWER,
        hint="What is left of your address when you keep the bits under the mask only?",
        source="common practice, no source",
    ),
    Mistake(
        id="route-dest-is-gateway",
        questions=_DESTINATION,
        priority=10,
        fits=_is_gateway,
        explanation="{given} is a gateway. A route leads to a network, whose host bits are all zeros.",
        consequence="With the mask of a network the equipment refuses it, and with a mask of ones only it leads to one address.",
        claim=Claim.NO_ANSWER,
        hint="Does this route lead to one device or to a whole network?",
        source="RFC 1812 section 7.4 and section 2.2.5.2",
    ),
    Mistake(
        id="route-default-against-the-rule",
        questions=_DESTINATION | _MASK,
        priority=9,
        fits=_is_default_against_the_rule,
        explanation=(
            "This is a default route, and rule Routes asks for a row for each network here. "
            "It takes packets for addresses along that nobody has."
        ),
        consequence="A packet for an address that nobody has is carried on, instead of being dropped at once.",
        claim=Claim.NONE,
        hint="What does rule Routes say about default routes?",
        source="rule Routes of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-default-instead-of-specific",
        questions=_DESTINATION | _MASK,
        priority=9,
        fits=_is_default_astray,
        explanation=(
            "A default route would be right here if it took the packets for this network to the neighbour on the way. "
            "By your rows they do not go there."
        ),
        consequence="Packets to this network leave in another direction, or find no usable route.",
        claim=Claim.NO_ANSWER,
        hint="Which neighbour stands on the way, and which of your rows on this switch decides for this network?",
        source="RFC 1812 section 5.2.4.3; rule Routes of this lab",
    ),
    Mistake(
        id="route-dest-is-broadcast",
        questions=_DESTINATION,
        priority=11,
        fits=_is_broadcast,
        explanation="{given} is the last address of a network. A route names a network by its first.",
        consequence="With the mask of a network the equipment refuses it, and with a mask of ones only it leads to one address.",
        claim=Claim.NO_ANSWER,
        hint="Are the host bits of a network address zeros or ones?",
        source="RFC 1122 section 3.2.1.3; RFC 1812 section 2.2.5.2",
    ),
    Mistake(
        id="route-to-connected-network",
        questions=_DESTINATION,
        priority=11,
        fits=_is_connected,
        explanation="This switch is connected to {given} and knows that network without a route.",
        consequence="The row is not needed, and the route that is needed is missing.",
        claim=Claim.NO_ANSWER,
        hint="Which networks does this switch see on its own interfaces?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="route-dest-is-link",
        questions=_DESTINATION,
        priority=12,
        fits=_is_on_link,
        explanation="{given} is on a link between switches. Routes lead to the networks where the stations are.",
        consequence="Packets for the stations still find no route, and are dropped.",
        claim=Claim.NO_ANSWER,
        hint="To which addresses do the stations of this lab send?",
        source="rule Routes of this lab; RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-dest-is-station",
        questions=_DESTINATION,
        priority=13,
        fits=_is_station,
        explanation="{given} is an address for a station. A route leads to a whole network.",
        consequence="With the mask of a network the equipment refuses it, and with a mask of ones only it leads to one address.",
        claim=Claim.NO_ANSWER,
        hint="What is left of the address when you keep the bits under the mask only?",
        source="RFC 1812 section 7.4 and section 2.2.5.2",
    ),
    Mistake(
        id="route-dest-inside-network",
        questions=_DESTINATION,
        priority=14,
        fits=_is_inside_own,
        explanation="{given} lies inside the network, but not at its start. In a destination every host bit is a zero.",
        consequence="With the mask of a network the equipment refuses it, and with a mask of ones only it leads to one address.",
        claim=Claim.NO_ANSWER,
        hint="What is left of the address when you keep the bits under the mask only?",
        source="RFC 1812 section 2.2.5.2; RFC 4632 section 3.1",
    ),
    Mistake(
        id="route-dest-another-network",
        questions=_DESTINATION,
        priority=15,
        fits=_is_another_network,
        explanation="{given} starts the network of another VLAN, which this row is not about.",
        consequence="One network is still out of reach, and another may be sent the wrong way.",
        claim=Claim.NO_ANSWER,
        hint="Which far networks have a row on this switch, and which has none?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-dest-within-another-network",
        questions=_DESTINATION,
        priority=20,
        fits=_is_within_another,
        explanation="{given} lies in the network of another VLAN.",
        consequence="A part of that network is sent another way, and the one meant stays out of reach.",
        claim=Claim.NO_ANSWER,
        hint="Between which two addresses lies the network of this row?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-dest-in-no-network",
        questions=_DESTINATION,
        priority=21,
        fits=_is_in_no_network,
        explanation="At {given} there is no network in your plan.",
        consequence="The route matches packets that nobody sends, and the network meant stays out of reach.",
        claim=Claim.NO_ANSWER,
        hint="What does sheet Subnets say about the VLAN of this row?",
        source="RFC 1812 section 5.2.4.3",
    ),
    # Mask
    Mistake(
        id="route-mask-shorter-than-start",
        questions=_MASK,
        priority=16,
        fits=_is_short_for_start,
        explanation=(
            "With so short a mask the destination is no network address any more: some of its host bits are ones."
        ),
        consequence="The equipment refuses the route, as if it had not been written.",
        claim=Claim.NO_ANSWER,
        hint="Does the destination change when you lay your mask over it?",
        source="RFC 4632 section 3.1; the refusal: common practice, no source",
    ),
    Mistake(
        id="route-summary-too-wide",
        questions=_MASK,
        priority=19,
        fits=_is_too_wide,
        explanation="The mask is too short: the route covers networks that do not lie behind this neighbour.",
        consequence=(
            "Where no longer mask leads elsewhere, packets to the other covered networks go the wrong way and are lost."
        ),
        claim=Claim.NONE,
        hint="Which first and last address does your route cover, and who lies between them?",
        source="RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-summary-not-asked",
        questions=_MASK,
        priority=11,
        fits=_is_summary,
        explanation=(
            "The route takes several networks together. It would work, but rule Routes asks for one row a network here."
        ),
        consequence="Nothing breaks today; a network added elsewhere in that range would be sent the wrong way.",
        claim=Claim.NO_HARM,
        hint="Which networks does your route cover, and what does rule Routes ask?",
        source="rule Routes of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-mask-too-short",
        questions=_MASK,
        priority=25,
        fits=_is_short,
        explanation="With so short a mask the route takes in more than the network that it is meant for.",
        consequence="Packets for other addresses are sent the same way.",
        claim=Claim.NONE,
        hint="Which first and last address does your route cover, and which ones has the network?",
        source="RFC 4632 section 5.1; RFC 1812 section 5.2.4.3",
    ),
    # Next hop
    Mistake(
        id="route-next-hop-own-address",
        questions=_NEXT_HOP,
        priority=10,
        fits=_is_own_address,
        explanation=(
            "{given} is an address of this switch itself. A next hop is the neighbour that takes the packet on."
        ),
        consequence="The switch refuses the route or drops the packets: it cannot hand a packet to itself.",
        claim=Claim.NO_ANSWER,
        hint="Looking along the link from this switch, whose address do you need: the near end's or the far end's?",
        source="RFC 1812 section 5.2.4.3 and section 7.4",
    ),
    Mistake(
        id="route-next-hop-is-destination",
        questions=_NEXT_HOP,
        priority=9,
        fits=_is_destination,
        explanation="{given} is the destination again. A next hop is the device that takes the packet on.",
        consequence="No device has this address, so the route stays without effect.",
        claim=Claim.NO_ANSWER,
        hint="Which device stands between this switch and the far network?",
        source="RFC 1812 section 7.4",
    ),
    Mistake(
        id="route-next-hop-network-or-broadcast",
        questions=_NEXT_HOP,
        priority=11,
        fits=_is_reserved_hop,
        explanation="{given} is a network or broadcast address, not the address of a device.",
        consequence="Nobody answers for it, and packets to the far network are dropped.",
        claim=Claim.NO_ANSWER,
        hint="Which device has this address?",
        source="RFC 1812 section 5.2.4.3; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="route-next-hop-is-far-gateway",
        questions=_NEXT_HOP,
        priority=12,
        fits=_is_far_gateway,
        explanation=(
            "{given} is the gateway in the far network. "
            "This switch is not connected there and cannot hand a packet over."
        ),
        consequence="The route stays without effect, as its next hop would need a route itself.",
        claim=Claim.NO_ANSWER,
        hint="Which address of the next switch is on a link that this switch is on, too?",
        source="RFC 1812 section 5.2.4.2 and section 5.2.4.3",
    ),
    Mistake(
        id="route-next-hop-is-another-gateway",
        questions=_NEXT_HOP,
        priority=13,
        fits=_is_any_gateway,
        explanation=(
            "{given} is the gateway of another VLAN on a far switch. Between switches packets go over the link."
        ),
        consequence="The route stays without effect, as its next hop would need a route itself.",
        claim=Claim.NO_ANSWER,
        hint="Which two addresses are on the link, and which is the neighbour's?",
        source="RFC 1812 section 5.2.4.2 and section 5.2.4.3",
    ),
    Mistake(
        id="route-next-hop-is-station",
        questions=_NEXT_HOP,
        priority=13,
        fits=_is_station,
        explanation="{given} is an address for a station. Stations do not carry packets for others.",
        consequence="What is sent there is thrown away, if it arrives at all.",
        claim=Claim.NO_ANSWER,
        hint="Which kind of device passes packets from network to network?",
        source="RFC 1122 section 3.3.1.2; RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-loop",
        questions=_NEXT_HOP,
        priority=14,
        fits=_loops,
        explanation="The neighbour at {given} sends packets for this network back to you, by your own routes.",
        consequence="Packets go to and fro until their time to live is used up.",
        claim=Claim.NO_ANSWER,
        hint="When you follow one packet from switch to switch, do you come back to where you were?",
        source="RFC 1812 section 5.3.1; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-next-hop-wrong-neighbour",
        questions=_NEXT_HOP,
        priority=15,
        fits=_is_wrong_neighbour,
        explanation="{given} is a neighbour of this switch, but the network does not lie behind it.",
        consequence="Packets go the wrong way and are dropped there.",
        claim=Claim.NO_ANSWER,
        hint="Which neighbour do you pass first on the way to this network?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-next-hop-on-a-far-link",
        questions=_NEXT_HOP,
        priority=16,
        fits=_is_far_end_of_far_link,
        explanation="{given} is an end of a link further on. A next hop is on a link of this switch.",
        consequence="The route stays without effect, as its next hop would need a route itself.",
        claim=Claim.NO_ANSWER,
        hint="Which is the first switch on the way, and at which address does it hear you?",
        source="RFC 1812 section 5.2.4.2 and section 5.2.4.3",
    ),
    Mistake(
        id="route-next-hop-connected-but-nobody",
        questions=_NEXT_HOP,
        priority=17,
        fits=_is_nobody_on_connected,
        explanation="{given} is in a network of this switch, but no switch in your plan has that address.",
        consequence="Nobody answers for it, and packets to the far network are dropped.",
        claim=Claim.NO_ANSWER,
        hint="At which end of which link do you find this address?",
        source="RFC 1812 section 5.2.7.1",
    ),
    Mistake(
        id="route-next-hop-not-adjacent",
        questions=_NEXT_HOP,
        priority=20,
        fits=_is_not_adjacent,
        explanation="{given} is in no network that this switch is connected to.",
        consequence="The route stays without effect, and the network behind it is out of reach.",
        claim=Claim.NO_ANSWER,
        hint="Which networks is this switch connected to, and in which of them is your next hop?",
        source="RFC 1812 section 5.2.4.2 and section 5.2.4.3",
    ),
    # Rows that are missing
    Mistake(
        id="route-missing-planned-elsewhere",
        questions=_ALL,
        priority=24,
        lapses=_MISSING,
        fits=_leads_to_what_cannot_be,
        explanation="Your row for this network leads to where you planned it, and no network of this lab can be there.",
        consequence="The route is of no use before the network itself is right.",
        claim=Claim.NONE,
        hint="What is said about this network on sheet Subnets?",
        source="rule Block of this lab; common practice, no source",
    ),
    Mistake(
        id="route-missing-counted-for-another",
        questions=_ALL,
        priority=24,
        lapses=_MISSING,
        fits=_is_counted_for_another,
        explanation=(
            "You wrote a row to where you planned this network. By the rules another network lies there, and the row "
            "counts for that one."
        ),
        consequence="A switch set up by the rules sends packets for another network along this row.",
        claim=Claim.NONE,
        hint="Which network has this place by rule Order, and where does the network of this row belong?",
        source="rule Order of this lab; common practice, no source",
    ),
    Mistake(
        id="route-missing-but-taken-along",
        questions=_ALL,
        priority=25,
        lapses=_MISSING,
        fits=_is_taken_the_right_way,
        explanation=(
            "Another row of this switch takes packets for this network the right way already, but rule Routes asks for "
            "a row for each network."
        ),
        consequence="A network that is added elsewhere in the range of that row would be sent the same way.",
        claim=Claim.NONE,
        hint="Which networks have a row of their own on this switch, and which one has none?",
        source="rule Routes of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-missing-and-circles",
        questions=_ALL,
        priority=26,
        lapses=_MISSING,
        fits=_is_taken_in_circles,
        explanation=(
            "This network has no row of its own on this switch. "
            "Another row takes its packets along, and from there they go in circles."
        ),
        consequence="Packets go to and fro until their time to live is used up.",
        claim=Claim.NO_ANSWER,
        hint="Which row of this switch matches an address of this network, and where does the next switch send it?",
        source="RFC 1812 section 5.3.1; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-missing-and-astray",
        questions=_ALL,
        priority=26,
        lapses=_MISSING,
        fits=_is_taken_astray,
        explanation=(
            "This network has no row of its own on this switch. "
            "Another row takes its packets along, to a neighbour that is not on the way."
        ),
        consequence="Packets go the wrong way and are dropped there.",
        claim=Claim.NO_ANSWER,
        hint="Which row of this switch matches an address of this network, and where does it send?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-missing-for-whole-switch",
        questions=_ALL,
        priority=27,
        lapses=_MISSING,
        fits=_is_table_empty,
        explanation="There is no route at all for one of the switches. Each switch decides alone, by its own table.",
        consequence="Packets that come to that switch for a far network are dropped there.",
        claim=Claim.NO_ANSWER,
        hint="Which switches have to know far networks: only those on the server's side?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="relay-no-return-route",
        questions=_ALL,
        priority=28,
        lapses=_MISSING,
        fits=_stops_offers,
        explanation=(
            "A route is missing on the server's side, to a VLAN with clients. "
            "The server answers to the relay agent's address there."
        ),
        consequence="The request arrives and the offer never comes back, so clients there get no lease.",
        claim=Claim.NO_LEASE,
        hint="To which address does the server send its offer, and who on the way knows that network?",
        source="RFC 2131 section 4.1; RFC 1542 section 4.1.2",
    ),
    Mistake(
        id="route-missing-to-server",
        questions=_ALL,
        priority=29,
        lapses=_MISSING,
        fits=_stops_requests,
        explanation="A route to the server's network is missing on a switch with clients.",
        consequence="The relay agent cannot send a request on, so clients there get no address.",
        claim=Claim.NO_LEASE,
        hint="How does a relayed request find the server?",
        source="RFC 1542 section 4.1.1; RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-missing-return",
        questions=_ALL,
        priority=30,
        lapses=_MISSING,
        fits=_stops_replies,
        explanation=(
            "A route is missing: packets from that network arrive, but this switch knows no way to it, so neither replies "
            "nor packets from here get there."
        ),
        consequence="A ping from there is heard and not answered; one from here fails at the first switch.",
        claim=Claim.NO_ANSWER,
        hint="Which switch does the reply meet first, and what does it know about the network where the ping began?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-missing-both",
        questions=_ALL,
        priority=31,
        lapses=_MISSING,
        fits=_stops_both,
        explanation=(
            "A route is missing, and the other direction has none either. There is no way between the two networks."
        ),
        consequence="A ping fails at the first switch, which knows no route.",
        claim=Claim.NO_ANSWER,
        hint="If you list switch by switch which row moves a packet on, where does the list stop?",
        source="RFC 1812 section 5.2.4.3 and section 5.2.7.1",
    ),
    Mistake(
        id="route-missing-here",
        questions=_ALL,
        priority=32,
        lapses=_MISSING,
        fits=_is_just_missing,
        explanation="A route is missing: this switch has no row that leads to that network.",
        consequence="Packets that come to this switch for that network do not get there.",
        claim=Claim.NO_ANSWER,
        hint="Which far networks have a row on this switch, and which has none?",
        source="RFC 1812 section 5.2.4.3",
    ),
    # Rows that nobody asked for
    Mistake(
        id="route-extra-host-bits",
        questions=_ALL,
        priority=9,
        lapses=_EXTRA,
        fits=_has_host_bits,
        explanation=(
            "Under its mask the destination of this row is the address of a host. "
            "The destination of a route is a network address."
        ),
        consequence="The equipment refuses the route, as if it had not been written.",
        claim=Claim.NONE,
        hint="What is left of the destination when you keep the bits under the mask only?",
        source="common practice, no source",
    ),
    Mistake(
        id="route-extra-to-what-cannot-be",
        questions=_ALL,
        priority=10,
        lapses=_EXTRA,
        fits=_is_extra_to_what_cannot_be,
        explanation="This row leads to a network as you planned it, and no network of this lab can be like that.",
        consequence="The route is of no use before the network itself is right.",
        claim=Claim.NONE,
        hint="What is said about this network on sheet Subnets?",
        source="rule Block of this lab; common practice, no source",
    ),
    Mistake(
        id="route-rival-row",
        questions=_ALL,
        priority=10,
        lapses=_EXTRA,
        fits=_is_extra_rival,
        explanation="For this destination the switch has another row with another next hop. Only one of the two can be right.",
        consequence="A switch may take either of them or share the traffic, so it is luck whether a packet arrives.",
        claim=Claim.NONE,
        hint="Which of the two neighbours is nearer to that network?",
        source="common practice, no source",
    ),
    Mistake(
        id="route-duplicate-row",
        questions=_ALL,
        priority=10,
        lapses=_EXTRA,
        fits=_is_extra_twice,
        explanation="The same route is written twice for the same switch.",
        consequence="The second row changes nothing.",
        claim=Claim.NONE,
        hint="Does anything appear twice when you sort your rows by switch and destination?",
        source="common practice, no source",
    ),
    Mistake(
        id="route-defaults-circle",
        questions=_ALL,
        priority=11,
        lapses=_EXTRA,
        fits=_is_extra_default_circle,
        explanation="Two neighbours point their default routes at each other, which rule Routes forbids.",
        consequence="Packets to unused addresses go to and fro until their time to live is used up.",
        claim=Claim.NONE,
        hint="What happens to a packet for an address that nobody has?",
        source="rule Routes of this lab; RFC 4632 section 5.1; RFC 1812 section 5.3.1",
    ),
    Mistake(
        id="route-extra-circles",
        questions=_ALL,
        priority=11,
        lapses=_EXTRA,
        fits=_is_extra_circle,
        explanation="This route and one of a neighbour's send each other packets for unused addresses, which rule Routes "
        "forbids.",
        consequence="Packets to unused addresses go to and fro until their time to live is used up.",
        claim=Claim.NONE,
        hint="Which addresses does this route take that no network of the lab holds, and where does the neighbour send them?",
        source="rule Routes of this lab; RFC 4632 section 5.1; RFC 1812 section 5.3.1",
    ),
    Mistake(
        id="route-default-not-needed",
        questions=_ALL,
        priority=12,
        lapses=_EXTRA,
        fits=_is_extra_default_beside_rows,
        explanation="This default route stands beside rows that lead to the same networks already.",
        consequence="Packets to unused addresses are carried on, instead of being dropped at once.",
        claim=Claim.NONE,
        hint="Which network would be out of reach without this row?",
        source="rule Routes of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="route-extra-to-connected-network",
        questions=_ALL,
        priority=13,
        lapses=_EXTRA,
        fits=_is_extra_connected,
        explanation="The switch of this row is connected to that network and knows it without a route.",
        consequence="The row has no effect, as what is connected comes first.",
        claim=Claim.NO_HARM,
        hint="Which networks does this switch see on its own interfaces?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="route-extra-to-link",
        questions=_ALL,
        priority=14,
        lapses=_EXTRA,
        fits=_is_extra_link,
        explanation="This row leads to a link network. Stations do not send there, and rule Routes does not count it.",
        consequence="Nothing changes between stations; at work such a route helps to test and manage switches.",
        claim=Claim.NO_HARM,
        hint="Which stations have an address in that network?",
        source="rule Routes of this lab; common practice, no source",
    ),
    Mistake(
        id="route-extra-part-of-network",
        questions=_ALL,
        priority=15,
        lapses=_EXTRA,
        fits=_is_extra_part,
        explanation="This row covers only a part of a network. A longer mask wins over a shorter one.",
        consequence="A part of the network may be sent another way than the rest.",
        claim=Claim.NONE,
        hint="Which of your rows covers the whole of that network?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="route-extra-to-nowhere",
        questions=_ALL,
        priority=16,
        lapses=_EXTRA,
        fits=_is_extra_to_nowhere,
        explanation="No VLAN network of your plan lies where this row leads.",
        consequence="The route matches packets that nobody should send, and carries them on.",
        claim=Claim.NONE,
        hint="Which VLAN did you write this row for?",
        source="RFC 1812 section 5.2.4.3",
    ),
)
