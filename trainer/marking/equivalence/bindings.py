"""Binding rows that nobody asked for and that do no harm: the decision is wrong, and costs one cell (R9)."""

from collections.abc import Callable

from trainer.lab.form import Answers, RowKey
from trainer.lab.questions.bindings import BINDING_MAC, BINDING_PORT, BINDINGS
from trainer.lab.scenario import Scenario
from trainer.marking.equivalence.counted import Counted, costing_a_cell
from trainer.marking.matching import Matched
from trainer.marking.plans import Plans

__all__ = ["count_bindings"]


def count_bindings(plans: Plans, matched: Matched, _is_right: Callable[[RowKey, RowKey], bool]) -> Counted:
    """What the written binding rows count for."""
    needed = frozenset(row.key for row in BINDINGS.rows(plans.scenario))
    return costing_a_cell(
        matched,
        len(BINDINGS.questions_in(plans.scenario)),
        lambda row: _is_needless_binding(plans.scenario, plans.answers, needed, row),
    )


def _is_needless_binding(scenario: Scenario, answers: Answers, needed: frozenset[RowKey], row: RowKey) -> bool:
    """A row about a station that needs none. Its port is not guarded, so it lets nobody through who would be stopped."""
    port, mac = answers.get(BINDING_PORT, row), answers.get(BINDING_MAC, row)
    return any(
        station.name not in needed
        and (port, mac) != (None, None)
        and port in (None, station.at)
        and mac in (None, station.mac)
        for station in scenario.stations
    )
