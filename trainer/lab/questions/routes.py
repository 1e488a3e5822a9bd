"""Sheet Routes: the static routes of every switch."""

from collections.abc import Iterator, Mapping
from ipaddress import IPv4Address

from trainer.lab.concepts import Concept
from trainer.lab.form import OpenRows, Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import ADDRESS, ROUTE_MASK, SWITCH, is_default_word
from trainer.lab.kinds import DESTINATION as DESTINATION_KIND
from trainer.lab.questions import subnets
from trainer.lab.questions.links import end_address
from trainer.lab.rows import About, RouteRow
from trainer.lab.scenario import Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import DEFAULT_ROUTE
from trainer.network.devices import SwitchName

__all__ = ["DESTINATION", "NEXT_HOP", "ROUTES", "ROUTE_MASK_OF", "ROUTE_SWITCH"]


def _rows(scenario: Scenario, *, asked: bool) -> tuple[Row[RouteRow], ...]:
    return tuple(
        Row(RouteRow(switch.name, goal))
        for switch in scenario.switches
        if switch.asks_routes is asked
        for goal in _goals(scenario, switch.name)
    )


def _goals(scenario: Scenario, switch: SwitchName) -> Iterator[VlanId | None]:
    """The VLANs of other switches; None for all that lies outside, where there is a way out."""
    yield from (vlan.id for vlan in scenario.vlans if vlan.switch != switch)
    if scenario.way_out is not None:
        yield None


def _switch(_scenario: Scenario, _so_far: SoFar, row: RouteRow) -> SwitchName:
    return row.switch


def _destination(_scenario: Scenario, so_far: SoFar, row: RouteRow) -> IPv4Address:
    return DEFAULT_ROUTE.network_address if row.vlan is None else subnets.network_of(so_far, row.vlan).network_address


def _mask(_scenario: Scenario, so_far: SoFar, row: RouteRow) -> int:
    return (
        DEFAULT_ROUTE.prefixlen
        if row.vlan is None
        else so_far.value(subnets.PREFIX_LENGTH_OF, subnets.row_of(row.vlan))
    )


def _next_hop(scenario: Scenario, so_far: SoFar, row: RouteRow) -> IPv4Address:
    goal = _goal(scenario, row)
    if goal == row.switch:
        assert scenario.way_out is not None, "no other route leads to the switch itself"
        return scenario.way_out.neighbour
    link = scenario.link_towards(row.switch, goal)
    neighbour = scenario.route_between(row.switch, goal)[1]
    return end_address(so_far, link, neighbour)


def _goal(scenario: Scenario, row: RouteRow) -> SwitchName:
    """The last switch of the lab on the way."""
    if row.vlan is None:
        assert scenario.way_out is not None, "such rows are in labs with a way out"
        return scenario.way_out.at.switch
    return scenario.vlan_by_id[row.vlan].switch


def _why_switch(scenario: Scenario, _so_far: SoFar, row: RouteRow) -> str:
    goal = _goal(scenario, row)
    if row.vlan is None:
        return f"the way out is on switch {goal}, and every switch has to be told of it"
    return f"VLAN {row.vlan} is on switch {goal}, so {row.switch} has to be told the way"


def _why_destination(_scenario: Scenario, _so_far: SoFar, row: RouteRow) -> str:
    return "all that no other route takes" if row.vlan is None else f"the network of VLAN {row.vlan}"


def _why_mask(_scenario: Scenario, _so_far: SoFar, row: RouteRow) -> str:
    return "a default route fits every address" if row.vlan is None else f"the length of VLAN {row.vlan}'s network"


def _why_next_hop(scenario: Scenario, _so_far: SoFar, row: RouteRow) -> str:
    switch, goal = row.switch, _goal(scenario, row)
    if goal == switch:
        return f"sheet Given: the neighbour outside, on the way out of switch {switch}"
    way = scenario.route_between(switch, goal)
    link = scenario.link_towards(switch, goal)
    onward = f" (the way: {', '.join(way)})" if len(way) > 2 else ""
    return f"the address of neighbour {way[1]} on link {link.name}{onward}"


def _said_by_destination(texts: Mapping[str, str]) -> int | None:
    """The length that a word for the default route has said already."""
    return 0 if is_default_word(texts.get(DESTINATION.id, "")) else None


def _switches(scenario: Scenario) -> tuple[str, ...]:
    return tuple(switch.name for switch in scenario.switches)


ROUTE_SWITCH = Question(
    id="routes.switch",
    heading="Switch",
    kind=SWITCH,
    role=Role.CONFIGURES,
    answer=_switch,
    reason=_why_switch,
    concept=Concept.RETURN_PATH,
    how=lambda _: (
        "Take one switch after the other: each has to be told the way to every VLAN network that is not its own."
    ),
    chosen_from=_switches,
    may_follow=False,
    match_weight=2,
    is_read_off=True,
)
DESTINATION = Question(
    id="routes.destination",
    heading="Destination network",
    kind=DESTINATION_KIND,
    role=Role.CONFIGURES,
    answer=_destination,
    reason=_why_destination,
    concept=Concept.ROUTES,
    how=lambda _: "Write the network address of that VLAN.",
    match_weight=4,
)
ROUTE_MASK_OF = Question(
    id="routes.mask",
    heading="Mask or prefix length",
    kind=ROUTE_MASK,
    said_beside=_said_by_destination,
    role=Role.CONFIGURES,
    answer=_mask,
    reason=_why_mask,
    concept=Concept.ROUTES,
    how=lambda _: "Write the prefix length of that network.",
    is_read_off=True,
)
NEXT_HOP = Question(
    id="routes.next_hop",
    heading="Next hop",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_next_hop,
    reason=_why_next_hop,
    concept=Concept.ROUTES,
    how=lambda _: "See over which link the way goes on, and write the neighbour's address on that link.",
    word="next hop: the address to which a switch hands the packet on",
    match_weight=2,
)

ROUTES = Section(
    id="routes",
    title="Routes",
    asks="the static routes of every switch",
    about=About.ROUTE,
    decided_by=(HouseRule.ROUTES,),
    how_to_write="There are more rows than you need.",
    given=("Row",),
    questions=(ROUTE_SWITCH, DESTINATION, ROUTE_MASK_OF, NEXT_HOP),
    rows=lambda scenario: _rows(scenario, asked=True),
    set_already=lambda scenario: _rows(scenario, asked=False),
    open=OpenRows(
        label="Route",
        least=4,
        printed=lambda scenario: (
            sum(switch.asks_routes for switch in scenario.switches)
            * (len(scenario.vlans) + (scenario.way_out is not None))
        ),
    ),
)
