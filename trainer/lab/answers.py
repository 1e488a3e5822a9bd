"""From the text in cells to values: every cell is read by its question's kind; of what cannot be read it is kept why."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from trainer.lab.form import Answers, CellRef, RowKey
from trainer.lab.kinds import tidy, why_unreadable
from trainer.lab.look_alikes import look_alike
from trainer.lab.questions import QUESTIONS, SECTIONS, cell_called
from trainer.lab.unreadable import NotReadable, Unreadable

__all__ = ["CellText", "FilledForm", "ReadForm", "read_answers"]


class CellText(NamedTuple):
    """What stands in a cell, as a person would read it there."""

    text: str
    trouble: str = ""
    """A sentence where the cell holds something that cannot be taken as typed, such as a date; else empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledForm:
    """A filled form as text. Cells that are blank may be absent."""

    texts: Mapping[CellRef, CellText]
    rows: Mapping[str, tuple[RowKey, ...]]
    """For each open section its written rows, by their label on the sheet, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadForm:
    """A filled form as values."""

    answers: Answers
    texts: Mapping[CellRef, str]
    """Every cell that is not blank, tidied."""
    unreadable: Mapping[CellRef, Unreadable | str]
    """Cells whose text is no value of their kind: what keeps it from being one; or a sentence, where something else stands
    there than was meant, so that no mistake can be made out in it: what a spreadsheet program made of it, or letters that
    only look like the right ones."""


def read_answers(filled: FilledForm) -> ReadForm:
    """Reads every cell, whatever stands there, and what its row is about. Raises ValueError where a section has no row that
    could be called so.
    """
    values: dict[CellRef, Any] = {}
    texts: dict[CellRef, str] = {}
    unreadable: dict[CellRef, Unreadable | str] = {}
    for place, typed in filled.texts.items():
        cell, text = _with_typed_row(place), tidy(typed.text)
        if typed.trouble:
            texts[cell], unreadable[cell] = text, typed.trouble
        elif text:
            texts[cell] = text
            kind = QUESTIONS[cell.question].kind
            try:
                values[cell] = kind.read(text)
            except NotReadable as refused:
                unreadable[cell] = look_alike(text, kind) or why_unreadable(text, kind, refused)
    values |= _said_beside(filled, texts)
    written = {cell.row for cell in texts}
    rows = {
        section: tuple(SECTIONS[section].row(row) for row in keys if row in written)
        for section, keys in filled.rows.items()
    }
    return ReadForm(answers=Answers(values=values, rows=rows), texts=texts, unreadable=unreadable)


def _with_typed_row(cell: CellRef) -> CellRef:
    """The cell, whose row says what it is about; readers of sheets give such rows at once."""
    if type(cell.row) is not RowKey:
        return cell
    return cell_called(cell.question, cell.row)


def _said_beside(filled: FilledForm, texts: Mapping[CellRef, str]) -> dict[CellRef, Any]:
    """The values of blank cells of open rows that another cell of the row has said already."""
    found: dict[CellRef, Any] = {}
    for section, rows in filled.rows.items():
        questions = SECTIONS[section].questions
        for row in rows:
            of_row = {each.id: texts[ref] for each in questions if (ref := CellRef(each.id, row)) in texts}
            for question in questions:
                value = question.said_beside(of_row) if question.id not in of_row else None
                if value is not None:
                    found[CellRef(question.id, row)] = value
    return found
