"""Finding the answers in a returned workbook: sheet by name, column by heading, row by its visible label.

Never by position, lock, drop-down or hidden data: all of these get lost on the way (what comes back was measured).
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import CellRef, RowKey, Section
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.sheets.headings import find_head_row
from trainer.sheets.intake import ReturnedBook, ReturnedCell, ReturnedSheet, Trouble
from trainer.sheets.placement import KEY_WORDS, LAB_LABEL, cell_name, place

__all__ = ["ReturnedForm", "is_answer_key", "lab_numbers_in", "lab_numbers_shown", "read_form"]

_LAB_NUMBER = re.compile(r"[A-Z2-9]{3}-[A-Z2-9]{4}")

_TROUBLES = {
    Trouble.DATE: "The spreadsheet program turned what you typed into a date. Format the cell as Text and type it again.",
    Trouble.TIME: "The spreadsheet program turned what you typed into a time. Format the cell as Text and type it again.",
    Trouble.ERROR_VALUE: "The cell shows an error. Type the value itself.",
    Trouble.NO_RESULT: "The cell holds a formula without a result. Type the value itself.",
    Trouble.DAMAGED: "What stands in the cell is damaged. Type it again.",
    Trouble.TRUTH_VALUE: "The spreadsheet program turned what you typed into TRUE or FALSE. Format the cell as Text.",
    Trouble.PERCENT: "The spreadsheet program turned what you typed into a percentage. Format the cell as Text.",
    Trouble.TOO_LONG: "The cell holds far more text than an answer has.",
    Trouble.MERGED: "The cell is merged with its neighbour. Undo the merging and type the value.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedForm:
    """What was found in a returned workbook."""

    filled: FilledForm
    where: Mapping[CellRef, tuple[str, str]]
    """For each cell found its sheet and its name there, such as ("Subnets", "D7")."""
    notices: tuple[str, ...]
    """What the instructor should know: sheets, columns or rows that were not found, formulas in cells."""


def lab_numbers_in(book: ReturnedBook) -> tuple[str, ...]:
    """The lab numbers that stand in a workbook, in visible cells first; the core property as a spare. No number twice."""
    found = list(lab_numbers_shown(book))
    spare = tidy(book.identifier).upper()
    if _LAB_NUMBER.fullmatch(spare):
        found.append(spare)
    return tuple(dict.fromkeys(found))


def lab_numbers_shown(book: ReturnedBook) -> tuple[str, ...]:
    """The lab numbers that stand in visible cells. No number twice."""
    return tuple(dict.fromkeys(number for sheet in book.sheets for number in _lab_numbers_on(sheet)))


def _lab_numbers_on(sheet: ReturnedSheet) -> Iterator[str]:
    for (row, column), cell in sorted(sheet.cells.items()):
        if tidy(cell.text).casefold() == LAB_LABEL.casefold():
            beside = sheet.cells.get((row, column + 1))
            number = tidy(beside.text).upper() if beside is not None else ""
            if _LAB_NUMBER.fullmatch(number):
                yield number


def is_answer_key(book: ReturnedBook) -> bool:
    """Whether a visible title says that it is the key, and no trainee's work."""
    return any(cell.text.startswith(KEY_WORDS) for sheet in book.sheets for cell in sheet.cells.values())


def read_form(book: ReturnedBook, scenario: Scenario) -> ReturnedForm:
    """The answers to the sections that are asked. Whatever is missing counts as blank and is said in a notice."""
    sheets = {tidy(sheet.name).casefold(): sheet for sheet in book.sheets}
    texts: dict[CellRef, CellText] = {}
    where: dict[CellRef, tuple[str, str]] = {}
    rows: dict[str, tuple[RowKey, ...]] = {}
    notices = list(book.notices)
    for section_id in scenario.asked:
        section = SECTIONS[section_id]
        sheet = sheets.get(section.title.casefold())
        if sheet is None:
            notices.append(f"There is no sheet {section.title}; it counts as not answered.")
            continue
        reader = _SheetReader(section, scenario, sheet)
        reader.read()
        texts |= reader.texts
        where |= reader.where
        notices += reader.notices
        if section.open is not None:
            rows[section_id] = tuple(reader.labels)
    filled = FilledForm(texts=texts, rows=rows)
    return ReturnedForm(filled=filled, where=where, notices=tuple(notices))


class _SheetReader:
    """Reads one section off its sheet."""

    def __init__(self, section: Section, scenario: Scenario, sheet: ReturnedSheet) -> None:
        self._section = section
        self._sheet = sheet
        self._wanted = {label[0].casefold(): RowKey(label[0]) for label in place(section, scenario).labels}
        self.texts: dict[CellRef, CellText] = {}
        self.where: dict[CellRef, tuple[str, str]] = {}
        self.labels: list[RowKey] = []
        self.notices: list[str] = []

    def read(self) -> None:
        questions = [question.heading for question in self._section.questions]
        head = find_head_row(self._sheet, (*self._section.given, *questions))
        if head is None:
            self.notices.append(
                f"{self._sheet.name}: the row with the headings was not found; the sheet is not graded."
            )
            return
        columns = head.columns((self._section.given[0], *questions))
        label_column = columns.get(self._section.given[0])
        if label_column is None:
            self.notices.append(
                f"{self._sheet.name}: no column is headed {self._section.given[0]!r}; it is not graded."
            )
            return
        unheaded = [heading for heading in questions if heading not in columns]
        if unheaded:
            self.notices.append(
                f"{self._sheet.name}: no column is headed {', '.join(unheaded)}; counts as not answered."
            )
        rows = [row for row, column in sorted(self._sheet.cells) if column == label_column and row > head.row]
        for row in rows:
            self._read_row(row, label_column, columns)
        missing = [name for key, name in self._wanted.items() if key not in {label.casefold() for label in self.labels}]
        if missing and self._section.open is None:
            self.notices.append(f"{self._sheet.name}: no row is labelled {', '.join(missing)}; counts as not answered.")

    def _read_row(self, row: int, label_column: int, columns: Mapping[str, int]) -> None:
        label = self._label(row, label_column)
        if label is None:
            return
        if label in self.labels:
            self.notices.append(f"{self._sheet.name}: two rows are labelled {label!r}; the first one counts.")
            return
        self.labels.append(label)
        for question in self._section.questions:
            column = columns.get(question.heading)
            if column is None:
                continue
            cell_ref = CellRef(question.id, label)
            self.where[cell_ref] = (self._sheet.name, cell_name(row, column))
            cell = self._sheet.cells.get((row, column))
            if cell is not None:
                self.texts[cell_ref] = CellText(cell.text, _trouble(cell))
                if cell.is_formula and cell.trouble is None:
                    name = cell_name(row, column)
                    self.notices.append(f"{self._sheet.name}!{name} holds a formula; its saved result is marked.")

    def _label(self, row: int, column: int) -> RowKey | None:
        """The row's label; in open sections any row that carries the section's word and a number is one."""
        text = tidy(self._sheet.cells[(row, column)].text)
        wanted = self._wanted.get(text.casefold())
        if wanted is not None or self._section.open is None:
            return wanted
        word = self._section.open.label
        match = re.fullmatch(rf"{re.escape(word)} (\d{{1,4}})", text, flags=re.IGNORECASE | re.ASCII)
        return RowKey(f"{word} {int(match[1])}") if match else None


def _trouble(cell: ReturnedCell) -> str:
    return "" if cell.trouble is None else _TROUBLES[cell.trouble]
