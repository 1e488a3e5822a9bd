"""The key: every question of the form answered by its own rule."""

from collections.abc import Collection

from trainer.lab.form import Answers, CellRef, SoFar
from trainer.lab.questions import FORM, form_of
from trainer.lab.scenario import Scenario

__all__ = ["completed", "derive_key"]


def derive_key(scenario: Scenario, key: SoFar | None = None) -> Answers:
    """The right answers to all sections, asked or not; open rows are called by what they are about.

    key: the values of the key, where some of them are known already.
    """
    so_far = SoFar(scenario) if key is None else key
    values = {}
    open_rows = {}
    for section in form_of(scenario):
        rows = (*section.rows(scenario), *section.set_already(scenario))
        if section.open is not None:
            open_rows[section.id] = tuple(row.key for row in rows)
        questions = section.questions_in(scenario)
        for row in rows:
            for question in questions:
                values[CellRef(question.id, row.key)] = so_far.value(question, row.key)
    return Answers(values=values, rows=open_rows)


def completed(
    scenario: Scenario, answers: Answers, so_far: SoFar, sections: Collection[str], key: SoFar | None = None
) -> Answers:
    """The answers to these sections, and to all others what follows from the values so far; rows that are set already too.

    Of values that nothing follows from, such as what a port carries, the key's. key: its values, where some are known.
    """
    key = SoFar(scenario) if key is None else key
    values = {cell: value for cell, value in answers.values.items() if cell.section in sections}
    open_rows = {}
    for section in FORM:
        is_answered = section.id in sections
        added = (*(() if is_answered else section.rows(scenario)), *section.set_already(scenario))
        questions = section.questions_in(scenario)
        for row in added:
            for question in questions:
                source = so_far if question.may_follow else key
                values[CellRef(question.id, row.key)] = source.value(question, row.key)
        if section.open is not None:
            written = answers.rows.get(section.id, ()) if is_answered else ()
            open_rows[section.id] = (*written, *(row.key for row in added))
    return Answers(values=values, rows=open_rows)
