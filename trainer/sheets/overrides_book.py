"""The workbook with the instructor's decisions: made once by us, from then on the instructor's alone and only read."""

import re
from collections.abc import Collection, Mapping
from difflib import get_close_matches
from typing import TypeVar

from trainer.errors import OverrideProblems, Problem
from trainer.lab.kinds import tidy
from trainer.lab.questions import FORM, SECTIONS
from trainer.marking.overrides import Decision, Override
from trainer.sheets.cells import drop_down, put, put_row, set_up_page, set_widths
from trainer.sheets.intake import ReturnedSheet, read_book
from trainer.sheets.placement import cell_name
from trainer.sheets.saving import new_workbook, to_bytes

__all__ = ["read_overrides_book", "write_overrides_book"]

T = TypeVar("T")

_SHEET = "Overrides"
_HEADINGS = ("Trainee", "Sheet", "Row", "Question", "Decision", "Value", "Reason")
_WIDTHS = (14, 16, 18, 26, 20, 22, 60)
_MAY_WRITE = (
    "an id, or all",
    "a sheet of the form",
    "as on the sheet, or all",
    "the column's heading",
    "choose one",
    "the value; or full, half, none, a number",
    "printed on the feedback",
)
_HEAD_ROW, _SPARE_ROWS = 4, 20


def write_overrides_book() -> bytes:
    """An empty one."""
    workbook = new_workbook("Overrides")
    sheet = workbook.create_sheet(_SHEET)
    set_widths(sheet, _WIDTHS)
    put(sheet, 1, 1, "The instructor's decisions", "title")
    put(sheet, 2, 1, "Read at every grade. A row changes the marks of one cell, for one trainee or for all.", "note")
    put_row(sheet, _HEAD_ROW, _HEADINGS, "column")
    put_row(sheet, _HEAD_ROW + 1, _MAY_WRITE, "small")
    first, last = _HEAD_ROW + 2, _HEAD_ROW + 1 + _SPARE_ROWS
    for row in range(first, last + 1):
        put_row(sheet, row, [""] * len(_HEADINGS), "asked")
    drop_down(sheet, [section.title for section in FORM], f"B{first}:B{last}")
    drop_down(sheet, [each.value for each in Decision], f"E{first}:E{last}")
    sheet.freeze_panes = f"A{first}"
    set_up_page(sheet, _SHEET, landscape=True, head_rows=(1, _HEAD_ROW))
    return to_bytes(workbook)


def read_overrides_book(data: bytes, trainees: Collection[str]) -> tuple[Override, ...]:
    """The decisions in a workbook, in order. trainees: the ids of the sitting.

    Raises OverrideProblems with everything that is wrong, each with its cell; UnreadableFile for no workbook.
    """
    sheet = next((each for each in read_book(data).sheets if tidy(each.name).casefold() == _SHEET.casefold()), None)
    if sheet is None:
        raise OverrideProblems(
            (_problem("", "no sheet Overrides", "decisions stand on a sheet of that name", "Name it so."),)
        )
    reader = _Reader(sheet, trainees)
    overrides = tuple(reader.rows())
    if reader.problems:
        raise OverrideProblems(tuple(reader.problems))
    return overrides


def _problem(cell: str, found: str, wanted: str, fix: str) -> Problem:
    return Problem(sheet=_SHEET, cell=cell, found=found, wanted=wanted, fix=fix)


class _Reader:
    """Reads the rows below the headings."""

    def __init__(self, sheet: ReturnedSheet, trainees: Collection[str]) -> None:
        self._sheet = sheet
        self._trainees = {each.casefold(): each for each in trainees}
        self.problems: list[Problem] = []

    def rows(self) -> list[Override]:
        head, columns = self._head()
        missing = [heading for heading in _HEADINGS if heading.casefold() not in columns]
        if missing:
            wanted = "decisions are read by their headings"
            self.problems.append(_problem("", f"no column headed {', '.join(missing)}", wanted, "Write it as it was."))
            return []
        found = []
        for row in sorted({row for row, _ in self._sheet.cells if row > head}):
            texts = {heading: self._text(row, columns[heading.casefold()]) for heading in _HEADINGS}
            if any(texts.values()) and tuple(texts.values()) != _MAY_WRITE:
                cells = {heading: cell_name(row, columns[heading.casefold()]) for heading in _HEADINGS}
                override = self._override(texts, cells)
                if override is not None:
                    found.append(override)
        return found

    def _head(self) -> tuple[int, Mapping[str, int]]:
        """The row with most of the headings, and its columns by heading."""
        by_row: dict[int, dict[str, int]] = {}
        for (row, column), cell in sorted(self._sheet.cells.items()):
            text = tidy(cell.text).casefold()
            if text in {heading.casefold() for heading in _HEADINGS}:
                by_row.setdefault(row, {}).setdefault(text, column)
        head = max(by_row, key=lambda row: len(by_row[row]), default=0)
        return head, by_row.get(head, {})

    def _text(self, row: int, column: int) -> str:
        cell = self._sheet.cells.get((row, column))
        return "" if cell is None else tidy(cell.text)

    def _override(self, texts: Mapping[str, str], cells: Mapping[str, str]) -> Override | None:
        before = len(self.problems)
        titles = {section.title.casefold(): section.id for section in FORM}
        trainee = self._one_of(texts, cells, "Trainee", {**self._trainees, "all": ""})
        section = self._one_of(texts, cells, "Sheet", titles)
        headings = {}
        if section:
            headings = {question.heading.casefold(): question.id for question in SECTIONS[section].questions}
        question = self._one_of(texts, cells, "Question", headings) if headings else None
        decision = self._one_of(texts, cells, "Decision", {each.value: each for each in Decision})
        for heading in ("Row", "Value", "Reason"):
            if not texts[heading]:
                self._refuse(cells[heading], "", f"a decision has a {heading.casefold()}", "Write one.")
        if decision is Decision.MARKS and texts["Value"] and not _is_marks(texts["Value"]):
            wanted = "marks are full, half, none, or a number from 0 on"
            self._refuse(cells["Value"], texts["Value"], wanted, "Write one of these.")
        if len(self.problems) > before or trainee is None or section is None or question is None or decision is None:
            return None
        return Override(
            trainee=trainee,
            section=section,
            row="" if texts["Row"].casefold() == "all" else texts["Row"],
            question=question,
            decision=decision,
            value=texts["Value"],
            reason=texts["Reason"],
        )

    def _one_of(
        self, texts: Mapping[str, str], cells: Mapping[str, str], heading: str, known: Mapping[str, T]
    ) -> T | None:
        text = texts[heading]
        if text.casefold() in known:
            return known[text.casefold()]
        near = get_close_matches(text.casefold(), known, n=1, cutoff=0.5)
        fix = f"Did you mean {near[0]}?" if near else "Write one of these."
        self._refuse(cells[heading], text, f"one of these stands here: {', '.join(list(known)[:12])}", fix)
        return None

    def _refuse(self, cell: str, text: str, wanted: str, fix: str) -> None:
        self.problems.append(_problem(cell, repr(text) if text else "nothing", wanted, fix))


def _is_marks(text: str) -> bool:
    return text.casefold() in ("full", "half", "none") or re.fullmatch(r"\d{1,3}([.,]\d{1,3})?", text) is not None
