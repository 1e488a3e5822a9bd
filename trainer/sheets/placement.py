"""Which row and column a question stands in: one rule for all that write the form. Readers go by labels and headings."""

from collections.abc import Sequence
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, Section
from trainer.lab.scenario import Scenario

__all__ = [
    "BRIEF_SHEET",
    "GIVEN_SHEET",
    "HEAD_ROW",
    "KEY_WORDS",
    "LAB_LABEL",
    "MARKED_WORDS",
    "NEVER_SAVED",
    "NOTES_SHEET",
    "STEPS_SHEET",
    "TRAINEE_LABEL",
    "cell_places",
    "given_widths",
    "printed_labels",
    "shown_answers",
    "width_of",
]

BRIEF_SHEET, GIVEN_SHEET = "Brief", "Given"
STEPS_SHEET, NOTES_SHEET = "Steps", "Notes"
"""Of a workbook to practise on: how a row is worked out, and room for sums."""
LAB_LABEL, TRAINEE_LABEL = "Lab number", "Trainee"
LAB_NUMBER_NAME = "lab_number"
"""The defined name of the cell with the lab number: a spare, should its label get lost."""
KEY_WORDS = "ANSWER KEY - "
"""What every title of a key workbook begins with."""
MARKED_WORDS = "Marked - "
"""What every title of a marked workbook begins with."""
NEVER_SAVED = "2020-01-01T00:00:00Z"
"""The time in every workbook of ours: fixed, so that runs can be compared. Nobody has saved a file that still says it."""
HEAD_ROW = 5
"""The row of the column headings on every sheet of the form; identity and a note stand above."""


def cell_places(section: Section[Any], scenario: Scenario) -> dict[CellRef, tuple[int, int]]:
    """Row and column, from 1, in which the questions of a section stand on its sheet. Open rows are called by their printed
    label.
    """
    columns = [(each.id, column) for column, each in enumerate(section.questions_in(scenario), len(section.given) + 1)]
    return {
        CellRef(question, row.key): (number, column)
        for number, row in enumerate(section.printed_rows(scenario), HEAD_ROW + 1)
        for question, column in columns
    }


def printed_labels(section: Section[Any], scenario: Scenario) -> tuple[tuple[str, ...], ...]:
    """The printed cells of each row, from HEAD_ROW + 1 on."""
    return tuple(row.given for row in section.printed_rows(scenario))


def shown_answers(section: Section[Any], scenario: Scenario, answers: Answers) -> dict[CellRef, str]:
    """Answers to all rows of the key as text, in the cells of the sheet: an open section's rows stand in the first ones."""
    texts = {}
    questions = section.questions_in(scenario)
    for number, row in enumerate(section.rows(scenario), 1):
        name = row.key if section.open is None else section.open.named(number)
        for question in questions:
            texts[CellRef(question.id, name)] = question.kind.show(answers.values[CellRef(question.id, row.key)])
    return texts


def width_of(question: Question[object, Any]) -> int:
    """Columns wide enough for a value and for the heading's words."""
    return max(question.kind.width, *(len(word) + 4 for word in question.heading.split()))


def given_widths(section: Section[Any], labels: Sequence[Sequence[str]]) -> list[int]:
    """Columns wide enough for the printed cells of every row and for the words of their headings.

    >>> from trainer.lab.questions import SECTIONS
    >>> given_widths(SECTIONS["ports"], [("A/2", "DHCP server"), ("A/3", "Reading rooms 2")])
    [13, 18]
    """
    words = (max(map(len, heading.split())) for heading in section.given)
    texts = (
        (max(map(len, cells), default=0) for cells in zip(*labels, strict=True)) if labels else [0] * len(section.given)
    )
    return [max(_LEAST_GIVEN, word + 2, text + 3) for word, text in zip(words, texts, strict=True)]


_LEAST_GIVEN = 13
"""Room for the labels above the table, such as Lab number."""
