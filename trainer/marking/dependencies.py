"""What a cell rests on, and what follows from it: where to look first (feedback rule F5), and a root cause with what came
of it (F6).
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any, TypeVar

from trainer.lab.form import CellRef, Question, RowKey, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario

__all__ = ["dependents", "named", "rests_on"]

T = TypeVar("T")


def dependents(
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


def rests_on(scenario: Scenario, so_far: SoFar, question: Question[Any, Any], row: RowKey) -> tuple[CellRef, ...]:
    """The cells whose values the right value of a cell is worked out from, each once, in the order in which they are used.

    Only those it is worked out from directly; rows are called as in the key.
    """
    watched = _Watched(scenario, so_far)
    question.answer(scenario, watched, row)
    return tuple(dict.fromkeys(watched.used))


def named(cells: Collection[CellRef]) -> str:
    """Cells by sheet and row: "Subnets 40: Network address, Prefix length"; a whole column without its rows."""
    rows_of: dict[str, list[RowKey]] = {}
    for cell in cells:
        rows_of.setdefault(cell.question, []).append(cell.row)
    headings: dict[str, list[str]] = {}
    for question_id, rows in rows_of.items():
        section = SECTIONS[question_id.partition(".")[0]]
        place = f"{section.title} {rows[0]}" if len(rows) == 1 else f"{section.title}, every row"
        headings.setdefault(place, []).append(section.question(question_id).heading)
    return "; ".join(f"{place}: {', '.join(words)}" for place, words in headings.items())


class _Watched(SoFar):
    """The values so far, and a note of those that were asked for."""

    def __init__(self, scenario: Scenario, so_far: SoFar) -> None:
        super().__init__(scenario)
        self.used: list[CellRef] = []
        self._so_far = so_far

    def value(self, question: Question[T, Any], row: RowKey) -> T:
        self.used.append(CellRef(question.id, row))
        return self._so_far.value(question, row)
