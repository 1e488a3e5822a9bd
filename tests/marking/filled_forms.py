"""Forms to mark: the key of a lab, with changes."""

from collections.abc import Mapping
from dataclasses import replace

from drawn_labs import bakery, exercise_of

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import CellText, FilledForm, read_answers
from trainer.lab.form import CellRef, RowKey
from trainer.lab.questions import SECTIONS, cell_called
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.plans import Plans, plans_of

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
"""The lab made by hand, with the shares of the sample."""


def filled(texts: Mapping[CellRef, str]) -> FilledForm:
    rows: dict[str, dict[RowKey, None]] = {}
    for cell in texts:
        section = cell.question.split(".")[0]
        if SECTIONS[section].open is not None:
            rows.setdefault(section, {})[cell.row] = None
    return FilledForm(
        texts={cell: CellText(text) for cell, text in texts.items()},
        rows={section: tuple(keys) for section, keys in rows.items()},
    )


def plans_with(lab: Scenario, changes: Mapping[tuple[str, str], str]) -> Plans:
    """The plans of a form that holds the key but for some cells, which are named by question and row."""
    texts = {**key_texts(lab), **{cell_called(question, row): text for (question, row), text in changes.items()}}
    return plans_of(lab, read_answers(filled(texts)))
