"""Which row of another lab shows best how a row is worked out, and gives nothing of it away."""

from collections.abc import Sequence
from typing import Any

from trainer.lab.dependencies import rests_on
from trainer.lab.form import Question, Row, RowKey, SoFar
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.study.steps import Worked, worked_row

__all__ = ["example_for"]


def example_for(scenario: Scenario, other: Scenario, section_id: str, row: RowKey | None) -> Worked | None:
    """A row of the other lab, worked out: one that rests on as much as any there does, and where nothing that follows has the
    value that is right in the own row; None where the other lab has no such sheet.

    row: of the own lab, as its key calls it; None for a row that is still to be found.
    """
    section = SECTIONS[section_id]
    rows = section.rows(other)
    if not rows:
        return None
    key, own = SoFar(other), SoFar(scenario)
    questions = section.questions_in(other)
    telling = [
        question
        for question in questions
        if row is not None and question.may_follow and not _is_of_the_rules(key, question, rows)
    ]

    def shows(there: Row[Any]) -> tuple[bool, int]:
        """Whether it keeps the answers, and how much of the way it shows."""
        is_silent = not any(key.value(question, there.key) == own.value(question, row) for question in telling)
        way = {cell for question in questions for cell in rests_on(other, key, question, there.key)}
        return is_silent, len(way)

    return worked_row(other, section_id, max(rows, key=shows))


def _is_of_the_rules(key: SoFar, question: Question[Any, Any], rows: Sequence[Row[Any]]) -> bool:
    """Whether the value is the same in every row, since a rule or sheet Given says it."""
    return len({str(key.value(question, row.key)) for row in rows}) == 1
