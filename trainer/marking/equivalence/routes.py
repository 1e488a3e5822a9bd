"""Which written routes do the job although they differ from the key, such as a default route, which do no harm, and which make
routing loops (rule Routes). `count_routes` decides what each row counts for, by `deliveries`: which routes of the key are
delivered, and by what.

Where the written routes take packets is left to written_routes.py (`Forwarding.lead_on`), what the cells earn in the end to
open_rows.py, which compares a `StandIn` with the cells by themselves.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from ipaddress import IPv4Address
from typing import Any

from trainer.lab.form import Question, RowKey, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import links
from trainer.lab.questions.routes import DESTINATION, NEXT_HOP, ROUTE_MASK_OF, ROUTE_SWITCH, ROUTES
from trainer.lab.rows import RouteRow
from trainer.lab.scenario import RouteRule, Scenario, UnknownAddresses
from trainer.listing import listed
from trainer.marking.credit import CIRCLES
from trainer.marking.equivalence.counted import Counted, StandIn
from trainer.marking.explanation import Explanation
from trainer.marking.matching import Matched
from trainer.marking.mistakes import half_right
from trainer.marking.plans import Plans
from trainer.marking.written_routes import Circle, Fate, Forwarding, networks_with_switches
from trainer.network.addresses import has_host_bits, network_at
from trainer.network.devices import SwitchName

__all__ = ["Delivery", "count_routes", "deliveries", "is_harmless"]

_CARRIES = "This route carries packets for several networks; their marks stand with those networks."


@dataclass(frozen=True, slots=True)
class Delivery:
    """How the routes of a switch take packets to a VLAN network, or out of the lab."""

    goal: str
    """Such as "VLAN 30"."""
    carriers: tuple[RowKey, ...]
    """The written rows that carry them, all of them towards the right neighbour."""
    arrives: bool
    """Whether the routes of the switches behind take the packets on, all the way."""


def count_routes(plans: Plans, matched: Matched, is_right: Callable[[RowKey, RowKey], bool]) -> Counted:
    """What the written routes count for; is_right: whether a written row is right in all its cells as a row of the key."""
    if _are_as_in_key(plans, matched, is_right):
        return Counted.by_cells(matched)
    delivered = dict(deliveries(plans.scenario, plans.forwarding))
    for key in _done_by_others(delivered, matched.row_for, is_right):
        if _is_that_row(plans, matched, key, delivered):
            del delivered[key]
        else:
            matched = matched.without([key])
    carriers = {
        row for key, delivery in delivered.items() if key not in matched.row_for for row in delivery.carriers
    }.intersection(matched.extras)
    harmless = [row for row in matched.extras if is_harmless(plans, row)]
    circles = _circles_by_row(plans.forwarding, delivered, matched.row_for, harmless)
    is_forbidden = plans.scenario.rules.unknown_addresses is UnknownAddresses.DROPPED
    jobs = Counter(row for delivery in delivered.values() for row in delivery.carriers)
    stand_ins = {
        key: replace(
            _stand_in(delivery, matched.row_for.get(key), circles.get(key, ()), is_forbidden=is_forbidden),
            does_more=any(jobs[row] > 1 for row in delivery.carriers),
        )
        for key, delivery in delivered.items()
    }
    return Counted(
        matched=matched,
        stand_ins=stand_ins,
        carriers=dict.fromkeys(carriers, _CARRIES),
        harmless={row: CIRCLES if is_forbidden and row in circles else Fraction(0) for row in harmless},
    )


def _are_as_in_key(plans: Plans, matched: Matched, is_right: Callable[[RowKey, RowKey], bool]) -> bool:
    """Whether the written routes are the key's and no others, so that none has to stand for another."""
    keys = [row.key for row in ROUTES.rows(plans.scenario)]
    if matched.extras or not all(key in matched.row_for for key in keys):
        return False
    questions = ROUTES.questions_in(plans.scenario)
    return all(
        is_right(row := matched.row_for[key], key)
        and all(plans.answers.get(each, row) == plans.key.value(each, key) for each in questions)
        for key in keys
    )


def deliveries(scenario: Scenario, forwarding: Forwarding) -> Mapping[RowKey, Delivery]:
    """For each required route (a row of the key) how it is delivered; those that are not are absent."""
    if scenario.rules.route_rule is RouteRule.ONE_A_NETWORK:
        return {}
    found: dict[RowKey, Delivery] = {}
    for row in ROUTES.rows(scenario):
        switch, vlan = row.key.switch, row.key.vlan
        if forwarding.lead_on(row.key):
            entries = forwarding.entries(switch, vlan)
            used = {entry.route.key: entry for entry in entries if entry is not None and entry.route is not None}
            found[row.key] = Delivery(
                goal="the network outside" if vlan is None else f"VLAN {vlan}",
                carriers=tuple(RowKey(key) for key in used),
                arrives=forwarding.fate(switch, vlan) is Fate.ARRIVES,
            )
    return found


def _done_by_others(
    delivered: Mapping[RowKey, Delivery],
    row_for: Mapping[RowKey, RowKey],
    is_right: Callable[[RowKey, RowKey], bool],
) -> list[RowKey]:
    """The rows of the key whose own written row carries nothing and is not right, for others do its job."""
    return [
        key
        for key, delivery in delivered.items()
        if (row := row_for.get(key)) is not None and row not in delivery.carriers and not is_right(row, key)
    ]


def _is_that_row(plans: Plans, matched: Matched, key: RowKey, delivered: Mapping[RowKey, Delivery]) -> bool:
    """Whether a row that is meant for one of the key, whose job others do, is that very row with an error: this is charged
    in its cell then, and not as a row too many. Not one that does no harm, or may be meant for a row that is missing elsewhere.
    """
    row = matched.row_for[key]
    asked: tuple[Question[Any, Any], ...] = ROUTES.questions
    missing = {each.key for each in ROUTES.rows(plans.scenario)} - matched.row_for.keys() - delivered.keys()
    if matched.alike.get(row, frozenset()) & missing or is_harmless(plans, row):
        return False
    wrong = sum(
        plans.answers.get(each, row) not in (plans.key.value(each, key), plans.so_far.value(each, key))
        for each in asked
    )
    return wrong <= 1


def is_harmless(plans: Plans, row: RowKey) -> bool:
    """Whether a route that nobody asked for takes nothing the wrong way.

    Every network of the lab that it covers lies behind its next hop or on the switch itself, or its next hop is a neighbour
    and longer prefixes take the packets; it does not cut a piece out of a network on the switch itself. A destination with
    host bits is no network.
    """
    scenario, answers, so_far = plans.scenario, plans.answers, plans.so_far
    switch, next_hop = answers.get(ROUTE_SWITCH, row), answers.get(NEXT_HOP, row)
    destination, length = answers.get(DESTINATION, row), answers.get(ROUTE_MASK_OF, row)
    if switch is None or destination is None or length is None or has_host_bits(destination, length):
        return False
    if switch not in {plan.name for plan in scenario.switches}:
        return False
    prefix = network_at(destination, length)
    covered = [
        (network, homes) for network, homes in networks_with_switches(scenario, so_far) if network.overlaps(prefix)
    ]
    if any(switch in homes and network.prefixlen < length for network, homes in covered):
        return False
    if scenario.way_out is not None and not prefix.subnet_of(scenario.block):
        out = NEXT_HOP.answer(scenario, so_far, RouteRow(switch, None))
        if next_hop != out and not plans.forwarding.lead_on(RouteRow(switch, None)):
            return False
    neighbours = {_neighbour(scenario, so_far, switch, each.name) for each in scenario.switches if each.name != switch}
    if scenario.way_out is not None and scenario.way_out.at.switch == switch:
        neighbours.add(scenario.way_out.neighbour)
    return all(
        switch in homes
        or next_hop in {_neighbour(scenario, so_far, switch, home) for home in homes}
        or (next_hop in neighbours and plans.forwarding.is_taken_by_longer(switch, network, length))
        for network, homes in covered
    )


def _neighbour(scenario: Scenario, so_far: SoFar, here: SwitchName, there: SwitchName) -> IPv4Address:
    """The neighbour's address on the way from one switch to another."""
    link = scenario.link_towards(here, there)
    return links.end_address(so_far, link, scenario.route_between(here, there)[1])


def _circles_by_row(
    forwarding: Forwarding,
    delivered: Mapping[RowKey, Delivery],
    row_for: Mapping[RowKey, RowKey],
    harmless: Sequence[RowKey],
) -> Mapping[RowKey, Sequence[Circle]]:
    """Where a circle is charged or told, once for each of its routes: by the row of the key that the route stands for,
    else the first that it delivers, else by the route itself. A circle with a route that is wrong anyway, or that loses
    packets for networks too, is not (R2).
    """
    right = {row for delivery in delivered.values() for row in delivery.carriers} | set(harmless)
    found: dict[RowKey, list[Circle]] = defaultdict(list)
    for circle in forwarding.circles:
        is_told = right.issuperset(circle.rows) and circle.rows not in forwarding.losing
        for row in circle.rows if is_told else ():
            by_it = [key for key, delivery in delivered.items() if row in delivery.carriers]
            own = [key for key in by_it if row_for.get(key) == row]
            found[next(iter(own or by_it), row)].append(circle)
    return found


# --- In words ---------------------------------------------------------------------------------------------------------


def _stand_in(delivery: Delivery, own: RowKey | None, circles: Sequence[Circle], *, is_forbidden: bool) -> StandIn:
    """How a required route is marked that is delivered by rows that differ from the key's (rule Routes).

    own: the written row that is meant for it; circles: those that are told here;
    is_forbidden: whether packets must not circle.
    """
    if circles and is_forbidden:
        does = "It delivers" if delivery.arrives else "On this switch it leads the right way"
        return StandIn(credit=CIRCLES, explanation=_told_of(circles, does))
    what = "a wider route than the key's" if own in delivery.carriers else f"delivered by {listed(delivery.carriers)}"
    remark = f"Right: {what}; every packet to {delivery.goal} arrives."
    if not delivery.arrives:
        remark = (
            f"Right on this switch: {what}. "
            f"Packets to {delivery.goal} do not arrive, because of another switch's routes."
        )
    for circle in circles:
        remark += (
            f" By {listed(circle.rows)} packets to unused addresses get into a routing loop, which rule {HouseRule.ROUTES} "
            "allows."
        )
    return StandIn(credit=Fraction(1), remark=remark)


def _told_of(circles: Sequence[Circle], does: str) -> Explanation:
    rows = listed(list(dict.fromkeys(row for circle in circles for row in circle.rows)))
    switches = listed(list(dict.fromkeys(switch for circle in circles for switch in circle.switches)))
    return half_right.circles(does, rows, switches)
