"""Values that follow correctly from an error and earn half: it led to what cannot be (R4), or it made them easier to come by
(R5). Both are computed, not judged.
"""

from ipaddress import IPv4Network
from typing import Any

from trainer.lab.dependencies import all_it_rests_on
from trainer.lab.form import CellRef, Question, RowKey, SoFar
from trainer.lab.questions import QUESTIONS
from trainer.lab.questions.subnets import NETWORK_ADDRESS, PREFIX_LENGTH_OF, network_of
from trainer.lab.scenario import Order, Scenario
from trainer.lab.vlan_id import VlanId
from trainer.marking.dependencies import first_errors, named
from trainer.marking.explanation import Explanation
from trainer.marking.mistakes import half_right
from trainer.marking.mistakes.question_groups import NETWORK_QUESTIONS
from trainer.marking.plans import Plans
from trainer.marking.standard import Standard

__all__ = ["is_easier", "is_easier_there", "leads_outside"]


def is_easier(
    plans: Plans, standard: Standard, question: Question[Any, Any], value: Any, row: RowKey
) -> Explanation | None:
    """What is said of a right value that follows from an error and was easier to come by than the key's; else None.

    row: as the key calls it.
    """
    if question.worked_out_from is None or value == plans.key.value(question, row):
        return None
    vlan = question.worked_out_from(plans.scenario, row)
    if not is_easier_there(plans.scenario, plans.so_far, plans.key, vlan):
        return None
    moved_by = _what_moves(plans, standard, vlan)
    return half_right.easier(named(plans.scenario, moved_by), [named(plans.scenario, [cell]) for cell in moved_by])


def leads_outside(
    plans: Plans, standard: Standard, question: Question[Any, Any], value: Any, row: RowKey
) -> Explanation | None:
    """What is said of a value that follows correctly from an error which leads to what cannot be; None where it does not.

    row: as the key calls it.
    """
    if not standard.follows_from_what_cannot_be(question, value, row):
        return None
    cells = first_errors(plans.scenario, plans.answers, plans.beyond, question, row)
    from_what = _what_it_leads_to(plans, question, row)
    where = named(plans.scenario, cells)
    return half_right.led_outside(from_what, where, [named(plans.scenario, [cell]) for cell in cells])


def _what_it_leads_to(plans: Plans, question: Question[Any, Any], row: RowKey) -> str:
    if question.id in NETWORK_QUESTIONS:
        return "your own plan, which leaves the block here"
    if plans.view.is_outside_block(all_it_rests_on(plans.scenario, plans.beyond, question, row)):
        return "your network, which lies outside the block"
    return "your own plan, in which a network cannot be as it is"


def is_easier_there(scenario: Scenario, so_far: SoFar, key: SoFar, vlan: VlanId) -> bool:
    """Whether the VLAN's network, as the trainee planned it, asks for less than the key's.

    In a free plan its place is the trainee's choice, so only its length is looked at.
    """
    theirs, keys = network_of(so_far, vlan), network_of(key, vlan)
    demands = _demands_of_length if scenario.rules.order is Order.FREE else _demands
    return any(less < more for less, more in zip(demands(theirs), demands(keys), strict=True))


def _demands(network: IPv4Network) -> tuple[bool, ...]:
    starts_in_mid_octet = int(network.network_address) & 0xFF != 0
    return (*_demands_of_length(network), starts_in_mid_octet)


def _demands_of_length(network: IPv4Network) -> tuple[bool, ...]:
    ends_within_an_octet = network.prefixlen % 8 != 0
    spans_the_third_octet = network.prefixlen < 24
    return ends_within_an_octet, spans_the_third_octet


def _what_moves(plans: Plans, standard: Standard, vlan: VlanId) -> tuple[CellRef, ...]:
    """Which cells of sheet Subnets that are not right make the VLAN's network another one."""
    wrong = {
        cell: value
        for cell, value in plans.given.items()
        if QUESTIONS[cell.question] in (PREFIX_LENGTH_OF, NETWORK_ADDRESS) and not standard.has_right(cell)
    }
    network = network_of(SoFar(plans.scenario, wrong), vlan)
    without = (({each: wrong[each] for each in wrong if each != cell}, cell) for cell in wrong)
    return tuple(cell for others, cell in without if network_of(SoFar(plans.scenario, others), vlan) != network)
