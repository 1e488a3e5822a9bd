"""Saves of a practice lab: the bakery's, made by hand, its form filled in by the key but for some cells."""

from collections.abc import Mapping
from functools import cache

from drawn_labs import bakery

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.marking.practice import Progress
from trainer.sheets.cell_names import cell_name
from trainer.sheets.placement import cell_places

LAB = bakery()
KEY = key_texts(LAB)
NAMES = {
    cell: (SECTIONS[section].title, cell_name(*at))
    for section in LAB.asked
    for cell, at in cell_places(SECTIONS[section], LAB).items()
}
START = Progress(lab=LAB.lab_number)


def at(name: str) -> CellRef:
    """The cell that is called so: "Subnets D6"."""
    return next(cell for cell, where in NAMES.items() if " ".join(where) == name)


def marked(changes: Mapping[str, str] | None = None, texts: Mapping[CellRef, str] = KEY) -> Marked:
    """The key's answers marked, but for some cells; "" leaves a cell blank."""
    written = {**texts, **{at(name): text for name, text in (changes or {}).items()}}
    written = {cell: text for cell, text in written.items() if text}
    rows = {
        section: tuple(dict.fromkeys(cell.row for cell in NAMES if cell.question.startswith(f"{section}.")))
        for section in LAB.asked
        if SECTIONS[section].open is not None
    }
    return mark(LAB, FilledForm(texts={cell: CellText(text) for cell, text in written.items()}, rows=rows))


@cache
def whole() -> Marked:
    return marked()
