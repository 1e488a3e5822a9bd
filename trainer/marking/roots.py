"""Which right cells follow from which wrong one: a root cause and what came of it (feedback rule F6)."""

from collections.abc import Iterable, Mapping
from typing import Any

from trainer.lab.form import CellRef, SoFar
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import Scenario

__all__ = ["followers"]


def followers(
    scenario: Scenario, wrong: Mapping[CellRef, Any], following: Iterable[CellRef]
) -> dict[CellRef, list[CellRef]]:
    """For each wrong cell those of the following ones that would have another value without it.

    wrong: usable values of the trainee's own by cell; following: cells that are right by follow-through. Rows are called
    as in the key.
    """
    with_all = SoFar(scenario, wrong)
    cells = list(following)
    found: dict[CellRef, list[CellRef]] = {}
    for root in wrong:
        without = SoFar(scenario, {cell: value for cell, value in wrong.items() if cell != root})
        for cell in cells:
            question = QUESTIONS[cell.question]
            if without.value(question, cell.row) != with_all.value(question, cell.row):
                found.setdefault(root, []).append(cell)
    return found
