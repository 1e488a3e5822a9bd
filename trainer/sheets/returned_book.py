"""Finding the answers in a returned workbook: sheet by name, column by heading, row by its visible label.

Never by position, lock, drop-down or hidden data: all of these get lost on the way (what comes back was measured).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Any

from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import CellRef, RowKey, Section
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.sheets.cell_names import cell_name, column_name
from trainer.sheets.headings import HeadRow, find_head_row, texts_by_row
from trainer.sheets.intake import ReturnedBook, ReturnedCell, ReturnedSheet, Trouble

__all__ = ["ReturnedForm", "read_form"]

LONGEST_ANSWER = 2_000
"""Characters of an answer; a list of 300 VLANs has about 1,500. What is longer is no answer, and not looked at further."""
MOST_ROWS = 60
"""Rows of an open section that are read, beside twice as many as were printed; every further one costs time in marking."""
ROOM_FOR_TEXT, ROOM_A_CELL = 20_000, 40
"""Characters of all answers together, and for each cell that is asked: what is longer would take long to mark. Answers have
about a dozen each."""
_STEPS = (200, 100, 40, 16)
"""Where there is no room, answers longer than this are not read, then those longer than the next."""
MOST_COLUMNS = 200
"""Columns of a sheet that are looked at; the widest of ours has a dozen."""
MOST_ALIKE = 20
"""Rows with one label, and sheets for one section, that are looked at."""
_SHOWN = 200
"""Characters kept of a text that is too long for an answer."""

_TYPE_AGAIN = "Format the cell as Text and type it again."
_TROUBLES = {
    Trouble.DATE: f"The spreadsheet program turned what you typed into a date. {_TYPE_AGAIN}",
    Trouble.TIME: f"The spreadsheet program turned what you typed into a time. {_TYPE_AGAIN}",
    Trouble.ERROR_VALUE: "The cell shows an error. Type the value itself.",
    Trouble.NO_RESULT: "The cell holds a formula without a result. Type the value itself.",
    Trouble.DAMAGED: "What stands in the cell is damaged. Type it again.",
    Trouble.TRUTH_VALUE: f"The spreadsheet program turned what you typed into TRUE or FALSE. {_TYPE_AGAIN}",
    Trouble.PERCENT: f"The spreadsheet program turned what you typed into a percentage. {_TYPE_AGAIN}",
    Trouble.TOO_LONG: "The cell holds far more text than an answer has. Type the answer alone.",
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


def read_form(book: ReturnedBook, scenario: Scenario) -> ReturnedForm:
    """The answers to the sections that are asked. Whatever is missing counts as blank and is said in a notice."""
    sheets = _Sheets([_looked_at(sheet) for sheet in book.sheets], scenario)
    wide = [sheet.name for sheet in book.sheets if any(column > MOST_COLUMNS for _, column in sheet.cells)]
    texts: dict[CellRef, CellText] = {}
    where: dict[CellRef, tuple[str, str]] = {}
    rows: dict[str, tuple[RowKey, ...]] = {}
    notices: list[str] = []
    for section_id in scenario.asked:
        reader = sheets.read(SECTIONS[section_id])
        if reader is None:
            continue
        texts |= reader.texts
        where |= reader.where
        notices += reader.notices
        if SECTIONS[section_id].open is not None:
            rows[section_id] = tuple(reader.labels)
    longest = _cut_to_room(texts, ROOM_FOR_TEXT + ROOM_A_CELL * len(where))
    if longest:
        notices.insert(
            0,
            f"All answers together are far longer than those of any filled workbook; what has more than {longest} characters "
            "is not read. Take out of it what is no answer.",
        )
    filled = FilledForm(texts=texts, rows=rows)
    if wide:
        last = column_name(MOST_COLUMNS)
        notices.insert(
            0, f"{_listed(wide)}: what stands to the right of column {last} is not read. Move answers to the left."
        )
    return ReturnedForm(filled=filled, where=where, notices=(*book.notices, *sheets.notices(), *notices))


def _cut_to_room(texts: dict[CellRef, CellText], room: int) -> int:
    """Cuts the longest texts until all fit into the room; gives how long one may be, 0 where nothing was cut."""
    longest = 0
    for step in _STEPS:
        if sum(len(typed.text) for typed in texts.values()) <= room:
            break
        longest = step
        for cell, typed in texts.items():
            if len(typed.text) > step:
                texts[cell] = CellText(typed.text[:step], typed.trouble or _TROUBLES[Trouble.TOO_LONG])
    return longest


def _looked_at(sheet: ReturnedSheet) -> ReturnedSheet:
    """The sheet without what stands too far to the right; of texts that are no answers the beginning."""
    cells = {place: _shortened(cell) for place, cell in sorted(sheet.cells.items()) if place[1] <= MOST_COLUMNS}
    return replace(sheet, cells=cells)


def _shortened(cell: ReturnedCell) -> ReturnedCell:
    """The cell, or its beginning where it is longer than an answer, as it stands there or as a reader takes it.

    One letter may stand for many (U+FDFA for eighteen).
    """
    if len(cell.text) <= LONGEST_ANSWER and (cell.text.isascii() or len(tidy(cell.text)) <= LONGEST_ANSWER):
        return cell
    return cell._replace(text=tidy(cell.text[:_SHOWN])[:_SHOWN], trouble=cell.trouble or Trouble.TOO_LONG)


def _either(titles: Sequence[str]) -> str:
    """Such as: Links, Routes or Pools."""
    return " or ".join(filter(None, (", ".join(titles[:-1]), titles[-1])))


class _Sheets:
    """Finds the sheet of each section: by its name, else by its headings; where two would do, by the answers on them."""

    def __init__(self, sheets: Sequence[ReturnedSheet], scenario: Scenario) -> None:
        self._scenario = scenario
        self._named: dict[str, list[ReturnedSheet]] = {}
        for sheet in sheets:
            self._named.setdefault(tidy(sheet.name).casefold(), []).append(sheet)
        ours = {section.title.casefold() for section in SECTIONS.values()}
        self._others = [
            (sheet, texts_by_row(sheet)) for name, sheets in self._named.items() if name not in ours for sheet in sheets
        ]
        self._absent: list[str] = []
        """Titles of the sheets that there are not."""
        self._in_place: list[tuple[str, str]] = []
        """Of sheets that are called otherwise: title and name."""
        self._said: list[str] = []

    def notices(self) -> Iterator[str]:
        """What is to be said about the choice of the sheets that were read; what holds for several is said once."""
        if self._absent:
            title = _either(self._absent)
            if len(self._absent) == 1:
                yield (
                    f"There is no sheet {title}; it counts as not answered. If its answers stand on another sheet, call that "
                    f"one {title}."
                )
            else:
                yield (
                    f"There is no sheet {title}; they count as not answered. If their answers stand on other sheets, give "
                    "those these names."
                )
        if len(self._in_place) == 1:
            ((title, name),) = self._in_place
            yield f"There is no sheet {title}; {name!r} has its headings and is graded in its place."
        elif self._in_place:
            pairs = ", ".join(f"{name!r} as {title}" for title, name in self._in_place)
            titles = _either([title for title, _ in self._in_place])
            yield f"There is no sheet {titles}; sheets with the same headings are graded in their place: {pairs}."
        yield from self._said

    def read(self, section: Section[Any]) -> "_SectionReader | None":
        """The section as it was read."""
        title = section.title
        named = [self._reader(section, sheet) for sheet in self._named.get(title.casefold(), ())[:MOST_ALIKE]]
        alike = list(islice(self._with_headings_of(section), MOST_ALIKE + 1))
        copies = [self._reader(section, sheet) for sheet in alike[:MOST_ALIKE]]
        if len(alike) > MOST_ALIKE:
            self._said.append(
                f"More than {MOST_ALIKE} sheets have the headings of {title}; those from {alike[-1].name!r} on are not "
                "read. Delete what is not needed."
            )
        filled = [each for each in (*named, *copies) if each.answers]
        if not named and not copies:
            self._absent.append(title)
            return None
        best = filled[0] if filled else (*named, *copies)[0]
        rival = next((each for each in filled if each.answers != best.answers), None)
        if rival is None:
            if best not in named and named:
                self._said.append(f"Sheet {title} is blank; {best.name!r} has its headings and is graded in its place.")
            elif best not in named:
                self._in_place.append((title, best.name))
            return best
        one, other = best.first_difference(rival)
        if named:
            self._said.append(
                f"Sheets {best.name!r} and {rival.name!r} hold different answers, first in {one} and {other}; {best.name!r} "
                f"counts. If the other is meant, delete {best.name!r} and call the other {title}."
            )
            return best
        self._said.append(
            f"There is no sheet {title}; {best.name!r} and {rival.name!r} both have its headings and hold different answers, "
            f"first in {one} and {other}, so neither counts. Call the right one {title}."
        )
        return None

    def _reader(self, section: Section[Any], sheet: ReturnedSheet) -> "_SectionReader":
        reader = _SectionReader(section, self._scenario, sheet)
        reader.read()
        return reader

    def _with_headings_of(self, section: Section[Any]) -> Iterator[ReturnedSheet]:
        """The sheets that are called like none of ours and have a row with all headings of the section."""
        headings = (*section.given, *(question.heading for question in section.questions_in(self._scenario)))
        wanted = {heading.casefold() for heading in headings}
        for sheet, texts in self._others:
            if any(wanted <= row.keys() for row in texts.values()):
                yield sheet


class _SectionReader:
    """Reads one section off a sheet."""

    def __init__(self, section: Section[Any], scenario: Scenario, sheet: ReturnedSheet) -> None:
        self._section = section
        self._questions = section.questions_in(scenario)
        self._sheet = sheet
        self._wanted = {row.key.casefold(): row.key for row in section.printed_rows(scenario)}
        self._most_rows = MOST_ROWS + 2 * len(self._wanted)
        self.name = sheet.name
        self.texts: dict[CellRef, CellText] = {}
        self.where: dict[CellRef, tuple[str, str]] = {}
        self.labels: list[RowKey] = []
        self.notices: list[str] = []
        self._formulas: list[str] = []
        self._other_digits: list[str] = []
        self._rows_of_column: dict[int, list[int]] = {}
        for row, column in sheet.cells:  # they come in order
            self._rows_of_column.setdefault(column, []).append(row)

    @cached_property
    def answers(self) -> dict[CellRef, str]:
        """What stands in the cells once they were read, tidied; blank ones are left out."""
        texts = {cell: tidy(typed.text) for cell, typed in self.texts.items()}
        return {cell: text for cell, text in texts.items() if text}

    def first_difference(self, other: "_SectionReader") -> tuple[str, str]:
        """The first cell in which two readings of a section differ, by its place on the one sheet and on the other."""
        mine, others = self.answers, other.answers
        cell = next(cell for cell in (*self.where, *other.where) if mine.get(cell) != others.get(cell))
        one, two = ("!".join(each.where[cell]) if cell in each.where else each.name for each in (self, other))
        return one, two

    def read(self) -> None:
        questions = [question.heading for question in self._questions]
        head = find_head_row(self._sheet, (*self._section.given, *questions))
        if head is None:
            self.notices.append(
                f"{self.name}: the row with the headings was not found; the sheet is not graded. Write the headings "
                f"back above the answers: {', '.join((self._section.given[0], *questions))}."
            )
            return
        label_column = self._label_column(head)
        if label_column is None:
            self.notices.append(
                f"{self.name}: no column is headed {self._section.given[0]!r}; it is not graded. Write the heading into row "
                f"{head.row}, above the labels of the rows."
            )
            return
        rows = self._rows(head, label_column)
        columns: dict[str, int] = {}
        for heading in questions:
            found = head.columns_of(heading)
            if found:
                columns[heading] = self._one_of_columns(heading, head.row, found, rows)
        unheaded = [heading for heading in questions if heading not in columns]
        if unheaded:
            self.notices.append(
                f"{self.name}: no column is headed {', '.join(unheaded)}; counts as not answered. Write the heading into "
                f"row {head.row}, above its answers."
            )
        for label, places in rows.items():
            self._read_row(label, self._one_of_rows(label, label_column, places, columns), columns)
        self._note_odd_cells()
        missing = [name for name in self._wanted.values() if name not in rows]
        if missing and self._section.open is None:
            self.notices.append(
                f"{self.name}: no row is labelled {', '.join(missing)}; counts as not answered. Write the label into column "
                f"{column_name(label_column)}, beside its answers."
            )

    def _label_column(self, head: HeadRow) -> int | None:
        """Of several columns with the heading of the labels the one that holds most of them."""
        columns = head.columns_of(self._section.given[0])
        if len(columns) < 2:
            return columns[0] if columns else None
        return max(columns, key=lambda column: (len(self._rows(head, column, note=False)), -column))

    def _rows(self, head: HeadRow, column: int, *, note: bool = True) -> dict[RowKey, list[int]]:
        """The rows below the headings by their label; past the limit they are not looked at."""
        rows: dict[RowKey, list[int]] = {}
        too_many: dict[RowKey, int] = {}
        for row in self._rows_of_column.get(column, ()):
            label = self._label(row, column) if row > head.row else None
            if label is None:
                continue
            if len(rows.get(label, ())) >= MOST_ALIKE:
                too_many.setdefault(label, row)
                continue
            if label not in rows and len(rows) >= self._most_rows:
                if note:
                    self.notices.append(
                        f"{self.name}: more than {self._most_rows} rows are filled in; those from {cell_name(row, column)} "
                        "on are not read. Delete what is not needed."
                    )
                break
            rows.setdefault(label, []).append(row)
        if note and too_many:
            label, row = next(iter(too_many.items()))
            self.notices.append(
                f"{self.name}: more than {MOST_ALIKE} rows are labelled {label!r}; those from {cell_name(row, column)} on are "
                "not read. Delete what is not needed."
            )
        return rows

    def _one_of_columns(
        self, heading: str, head_row: int, columns: Sequence[int], rows: Mapping[RowKey, list[int]]
    ) -> int:
        """Of several columns with one heading the first with answers; where others hold different ones it is said."""
        if len(columns) == 1:
            return columns[0]
        found = {column: [self._text(row, column) for places in rows.values() for row in places] for column in columns}
        filled = [column for column in columns if any(found[column])] or list(columns)
        rival = next((column for column in filled if found[column] != found[filled[0]]), None)
        if rival is not None:
            self.notices.append(
                f"{self.name}: {cell_name(head_row, filled[0])} and {cell_name(head_row, rival)} are both headed "
                f"{heading!r}, with different answers below; {cell_name(head_row, filled[0])} counts. Delete the other "
                "heading, or this one if the other is meant."
            )
        return filled[0]

    def _one_of_rows(self, label: RowKey, label_column: int, rows: Sequence[int], columns: Mapping[str, int]) -> int:
        """Of several rows with one label the first with answers; where others hold different ones it is said."""
        if len(rows) == 1:
            return rows[0]
        found = {row: [self._text(row, column) for column in columns.values()] for row in rows}
        filled = [row for row in rows if any(found[row])] or list(rows)
        rival = next((row for row in filled if found[row] != found[filled[0]]), None)
        if rival is not None:
            one, other = cell_name(filled[0], label_column), cell_name(rival, label_column)
            self.notices.append(
                f"{self.name}: {one} and {other} are both labelled {label!r}, with different answers; {one} counts. Mend the "
                "label that is wrong, or delete the row that does not count."
            )
        return filled[0]

    def _read_row(self, label: RowKey, row: int, columns: Mapping[str, int]) -> None:
        self.labels.append(label)
        for question in self._questions:
            column = columns.get(question.heading)
            if column is None:
                continue
            cell_ref = CellRef(question.id, label)
            self.where[cell_ref] = (self.name, cell_name(row, column))
            cell = self._sheet.cells.get((row, column))
            if cell is not None:
                self.texts[cell_ref] = CellText(cell.text, "" if cell.trouble is None else _TROUBLES[cell.trouble])
                if cell.is_formula and cell.trouble is None:
                    self._formulas.append(cell_name(row, column))
                if not cell.text.isascii() and any(each.isdigit() and not each.isascii() for each in cell.text):
                    self._other_digits.append(cell_name(row, column))

    def _note_odd_cells(self) -> None:
        """Says which cells were read as something else than what is written in them."""
        if self._formulas:
            what = "a formula; its saved result is" if len(self._formulas) == 1 else "formulas; their saved results are"
            holds = "holds" if len(self._formulas) == 1 else "hold"
            self.notices.append(f"{self.name}: {_listed(self._formulas)} {holds} {what} marked.")
        if self._other_digits:
            is_written = "is" if len(self._other_digits) == 1 else "are"
            self.notices.append(
                f"{self.name}: {_listed(self._other_digits)} {is_written} written in digits of another script; they were read "
                "as 0 to 9."
            )

    def _text(self, row: int, column: int) -> str:
        cell = self._sheet.cells.get((row, column))
        return "" if cell is None else tidy(cell.text)

    def _label(self, row: int, column: int) -> RowKey | None:
        """The row's label; in open sections any row that carries the section's word and a number is one."""
        text = self._text(row, column)
        wanted = self._wanted.get(text.casefold())
        if wanted is not None or self._section.open is None:
            return wanted
        return self._section.open.called(text)


def _listed(cells: Sequence[str]) -> str:
    """Names of cells; of many the first eight."""
    return ", ".join(cells[:8]) + (" ..." if len(cells) > 8 else "")
