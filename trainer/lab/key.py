"""The key: every question of the form answered by its own rule."""

from trainer.lab.form import Answers, CellRef, SoFar
from trainer.lab.questions import FORM
from trainer.lab.scenario import Scenario

__all__ = ["derive_key"]


def derive_key(scenario: Scenario) -> Answers:
    """The right answers to all sections, asked or not; open rows are called by what they are about."""
    so_far = SoFar(scenario)
    values = {}
    open_rows = {}
    for section in FORM:
        rows = (*section.rows(scenario), *section.set_already(scenario))
        if section.open is not None:
            open_rows[section.id] = tuple(row.key for row in rows)
        for row in rows:
            for question in section.questions:
                values[CellRef(question.id, row.key)] = so_far.value(question, row.key)
    return Answers(values=values, rows=open_rows)
