"""What follows from a wrong cell, and where things go wrong first: a root cause with what came of it (feedback rules F5, F6)."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from trainer.lab.dependencies import all_it_rests_on
from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar, section_of
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.listing import first_few

__all__ = ["dependents", "first_errors", "named"]

_MOST_ROWS = 4
"""So many rows of one column are named."""


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


def first_errors(
    scenario: Scenario, answers: Answers, as_written: SoFar, question: Question[Any, Any], row: RowKey
) -> tuple[CellRef, ...]:
    """Of all that the value of a cell rests on the written cells where something goes wrong for the first time: they are not
    what follows from what was written before them. Rows that trainees write themselves are left out.

    as_written: all readable values, those too from which nothing may follow.
    """
    return tuple(
        cell
        for cell in all_it_rests_on(scenario, as_written, question, row)
        if SECTIONS[cell.section].open is None
        and cell in answers.values
        and not _follows(scenario, answers, as_written, cell)
    )


def _follows(scenario: Scenario, answers: Answers, as_written: SoFar, cell: CellRef) -> bool:
    """Whether a written value is one that follows from those before it, or one that the Brief leaves free."""
    question, value = QUESTIONS[cell.question], answers.values[cell]
    is_accepted = question.accepts(scenario, answers, as_written, cell.row, value)
    if is_accepted is not None:
        return is_accepted
    try:
        return bool(value == question.answer(scenario, as_written, cell.row))
    except ValueError:
        return False


def named(scenario: Scenario, cells: Collection[CellRef]) -> str:
    """Cells by sheet and row: "Subnets 40: Network address, Prefix length"; a whole column as "every row"."""
    rows_of: dict[str, list[RowKey]] = {}
    for cell in cells:
        rows_of.setdefault(cell.question, []).append(cell.row)
    headings: dict[str, list[str]] = {}
    for question_id, rows in rows_of.items():
        section = SECTIONS[section_of(question_id)]
        is_whole = len(rows) > 1 and len(rows) == len(section.rows(scenario))
        place = f"{section.title}, every row" if is_whole else f"{section.title} {first_few(rows, _MOST_ROWS)}"
        headings.setdefault(place, []).append(section.question(question_id).heading)
    return "; ".join(f"{place}: {', '.join(words)}" for place, words in headings.items())
