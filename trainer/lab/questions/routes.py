"""Sheet Routes: the static routes of every switch (rule 8)."""

from ipaddress import IPv4Address

from trainer.lab.form import OpenRows, Question, Role, Row, RowKey, Section, SoFar
from trainer.lab.kinds import ADDRESS, ROUTE_MASK, SWITCH
from trainer.lab.questions import subnets
from trainer.lab.questions.links import end_address
from trainer.lab.scenario import Scenario
from trainer.network.devices import SwitchName

__all__ = ["DESTINATION", "NEXT_HOP", "ROUTES", "ROUTE_MASK_OF", "ROUTE_SWITCH", "required_route"]


def required_route(row: RowKey) -> tuple[SwitchName, int]:
    """The switch and the VLAN of a row of the key: on that switch, to that VLAN's network."""
    switch, _, vlan = row.partition(" to ")
    return SwitchName(switch), int(vlan)


def _rows(scenario: Scenario, *, asked: bool) -> tuple[Row, ...]:
    return tuple(
        Row(RowKey(f"{switch.name} to {vlan.number}"))
        for switch in scenario.switches
        for vlan in scenario.vlans
        if vlan.switch != switch.name and switch.asks_routes is asked
    )


def _switch(_scenario: Scenario, _so_far: SoFar, row: RowKey) -> SwitchName:
    return required_route(row)[0]


def _destination(_scenario: Scenario, so_far: SoFar, row: RowKey) -> IPv4Address:
    return subnets.network_of(so_far, required_route(row)[1]).network_address


def _mask(_scenario: Scenario, so_far: SoFar, row: RowKey) -> int:
    return so_far.value(subnets.PREFIX_LENGTH_OF, subnets.row_of(required_route(row)[1]))


def _next_hop(scenario: Scenario, so_far: SoFar, row: RowKey) -> IPv4Address:
    switch, vlan = required_route(row)
    goal = scenario.vlan_by_number[vlan].switch
    link = scenario.link_towards(switch, goal)
    neighbour = scenario.route_between(switch, goal)[1]
    return end_address(so_far, link, neighbour)


ROUTE_SWITCH = Question(
    id="routes.switch",
    heading="Switch",
    kind=SWITCH,
    role=Role.CONFIGURES,
    answer=_switch,
    may_follow=False,
    weight=2,
)
DESTINATION = Question(
    id="routes.destination",
    heading="Destination network",
    kind=ADDRESS,
    role=Role.CONFIGURES,
    answer=_destination,
    weight=4,
)
ROUTE_MASK_OF = Question(
    id="routes.mask", heading="Mask or prefix length", kind=ROUTE_MASK, role=Role.CONFIGURES, answer=_mask
)
NEXT_HOP = Question(
    id="routes.next_hop", heading="Next hop", kind=ADDRESS, role=Role.CONFIGURES, answer=_next_hop, weight=2
)

ROUTES = Section(
    id="routes",
    title="Routes",
    asks="the static routes of every switch",
    note="Rule 8. There are more rows than you need.",
    given=("Row",),
    questions=(ROUTE_SWITCH, DESTINATION, ROUTE_MASK_OF, NEXT_HOP),
    rows=lambda scenario: _rows(scenario, asked=True),
    set_already=lambda scenario: _rows(scenario, asked=False),
    open=OpenRows(
        label="Route",
        least=4,
        printed=lambda scenario: sum(switch.asks_routes for switch in scenario.switches) * len(scenario.vlans),
    ),
)
