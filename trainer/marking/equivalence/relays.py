"""Relay agents that nobody asked for and that do no harm: the decision is wrong, and costs one cell (R9)."""

from collections.abc import Callable

from trainer.lab.form import Answers, RowKey
from trainer.lab.questions.relays import RELAY_SWITCH, RELAY_TARGET, RELAY_VLAN, RELAYS
from trainer.lab.scenario import Vlan
from trainer.marking.equivalence.counted import Counted, costing_a_cell
from trainer.marking.matching import Matched
from trainer.marking.plans import Plans
from trainer.network.devices import SwitchName

__all__ = ["count_relays"]


def count_relays(plans: Plans, matched: Matched, _is_right: Callable[[RowKey, RowKey], bool]) -> Counted:
    """What the written relay agents count for."""
    needed = {plans.scenario.vlan_by_id[row.key.vlan] for row in RELAYS.rows(plans.scenario)}
    cells = len(RELAYS.questions_in(plans.scenario))
    return costing_a_cell(matched, cells, lambda row: _is_needless_relay(plans, needed, row))


def _is_needless_relay(plans: Plans, needed: set[Vlan], row: RowKey) -> bool:
    """A relay agent in a VLAN that needs none; or a second row that hands on to where the first does. One that hands requests
    on to somebody else as well is harmful.
    """
    answers = plans.answers
    place, target = _place_of(answers, row), answers.get(RELAY_TARGET, row)
    number, switch = place
    if number is None:
        return False
    named = {vlan for vlan in plans.scenario.vlans_numbered(number) if switch in (None, vlan.switch)}
    others = [each for each in answers.rows.get(RELAYS.id, ()) if each != row and _place_of(answers, each) == place]
    return not named & needed or any(target == answers.get(RELAY_TARGET, each) for each in others)


def _place_of(answers: Answers, row: RowKey) -> tuple[int | None, SwitchName | None]:
    """Where a relay agent stands; without its switch where no VLAN number stands twice."""
    return answers.get(RELAY_VLAN, row), answers.get(RELAY_SWITCH, row)
