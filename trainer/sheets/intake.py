"""The distrustful reader of what comes back: bytes in, the texts of all cells out, or one sentence why not.

Rules of this file: values only, never a formula's working, a style, a link or a macro; a cell that cannot be taken as
typed text is still handed over, with its trouble, and never stops the reading; a file that says two things at once
(a cell or a sheet twice) is refused rather than guessed at. How a file is unpacked and parsed safely is in
`package.py`, what one cell shows in `returned_cells.py`, the parts beside the sheets in
`returned_parts.py`.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from trainer.errors import UnreadableFile
from trainer.sheets.cell_names import cell_name, column_number
from trainer.sheets.package import (
    SAVE_A_COPY,
    Attributes,
    DamagedPart,
    Package,
    Relationship,
    Visitor,
)
from trainer.sheets.returned_cells import ReturnedCell, Tables, Trouble, read_cell, small_number
from trainer.sheets.returned_parts import (
    ASK_FOR_OURS,
    Properties,
    SheetEntry,
    read_formats,
    read_index,
    read_properties,
    read_strings,
)

__all__ = ["ReturnedBook", "ReturnedCell", "ReturnedSheet", "Trouble", "read_book"]

MAX_CELLS = 60_000
"""Filled cells of the whole book; a lab has about 500, fifty switches about 20,000."""
MAX_FOREIGN = 300_000
"""Characters of texts in cells that hold others than ASCII; beyond it such texts are not read. To tidy them is dear; an
exercise with a class of a thousand has 60,000."""
MAX_MERGE = 400
"""Cells of one merge that are spelled out; a trainee merges a row or a block of the form, not half the sheet."""
MAX_MERGED = 2_000
"""Cells spelled out for all merges of one sheet."""
LAST_ROW = 1_048_576
LAST_COLUMN = 16_384
"""Ends of a sheet (the column is XFD): common practice of spreadsheet programs."""

_MERGED_CELL = ReturnedCell(text="", trouble=Trouble.MERGED)
_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
_LONGEST_REFERENCE = len("XFD1048576")

Position = tuple[int, int]
"""Row and column of a cell, both from 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedSheet:
    """What one worksheet says."""

    name: str
    is_hidden: bool
    cells: Mapping[Position, ReturnedCell]
    """By (row, column), both from 1; blank cells are absent, unless a merge covers them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnedBook:
    """What a returned file says."""

    sheets: tuple[ReturnedSheet, ...]
    """The worksheets in their order; sheets that are only a chart are left out."""
    defined_names: Mapping[str, str]
    """Names that hold for the whole book and what each stands for, without "="; at most 200 characters of each."""
    properties: Properties
    notices: tuple[str, ...]
    """What the instructor should know about the file: sentences."""


def read_book(data: bytes) -> ReturnedBook:
    """Everything that a returned .xlsx file says in its cells.

    Raises UnreadableFile, and nothing else, whatever the bytes; its text says what the file is and what to do.
    """
    try:
        return _read_package(Package(data))
    except UnreadableFile:
        raise
    except Exception as error:  # one file out of thirty must not stop the others, whatever was overlooked here
        raise UnreadableFile(f"The file is damaged in a way that was not foreseen. {SAVE_A_COPY}") from error


def _read_package(package: Package) -> ReturnedBook:
    part = package.workbook_part()
    arrows = package.relationships(part)
    index = read_index(package, part)
    notices = _notices(arrows)
    try:
        formats = read_formats(package, _target(arrows, "styles"))
    except DamagedPart:
        formats = ()
        notices.append(
            "The number formats could not be read, so a date may show as a number. Save a copy as .xlsx and use it if one does."
        )
    try:
        properties = read_properties(package, _target(package.relationships(""), "core-properties"))
    except DamagedPart:
        properties = Properties()
        notices.append("The file's properties could not be read; nothing depends on them.")
    tables = Tables(
        strings=read_strings(package, _target(arrows, "sharedStrings")),
        formats=formats,
        counts_from_1904=index.counts_from_1904,
    )
    return ReturnedBook(
        sheets=tuple(_read_sheets(package, index.entries, arrows, tables, notices)),
        defined_names=index.defined_names,
        properties=properties,
        notices=tuple(notices),
    )


def _target(arrows: Mapping[str, Relationship], kind: str) -> str | None:
    return next((arrow.target for arrow in arrows.values() if arrow.kind == kind and not arrow.is_external), None)


def _notices(arrows: Mapping[str, Relationship]) -> list[str]:
    kinds = {arrow.kind for arrow in arrows.values()}
    notices = []
    if not kinds.isdisjoint({"vbaProject", "xlMacrosheet"}):
        notices.append("Macros in the file were not run.")
    if "externalLink" in kinds:
        notices.append("Links to other files were not followed.")
    return notices


def _read_sheets(
    package: Package, entries: list[SheetEntry], arrows: Mapping[str, Relationship], tables: Tables, notices: list[str]
) -> Iterator[ReturnedSheet]:
    """The worksheets in order; what is left out of them is told in notices.

    Raises UnreadableFile where two share a name or a part, or where one has no part.
    """
    names: set[str] = set()
    parts: set[str] = set()
    room, foreign_room = MAX_CELLS, MAX_FOREIGN
    for entry in entries:
        title = f"Sheet {entry.name[:40]!r}"
        if entry.name.casefold() in names:
            raise UnreadableFile(f"{title} is in the workbook twice: the file is damaged. {SAVE_A_COPY}")
        names.add(entry.name.casefold())
        arrow = arrows.get(entry.relationship)
        if arrow is None or arrow.is_external:
            raise DamagedPart(f"{title} is missing from the file. {SAVE_A_COPY}")
        if arrow.kind != "worksheet":
            continue
        if arrow.target.lower() in parts:
            raise UnreadableFile(f"{title} shares its cells with another sheet: the file is damaged. {SAVE_A_COPY}")
        parts.add(arrow.target.lower())
        reader = _SheetReader(title, tables, room, foreign_room)
        package.walk(arrow.target, reader.visitor(), called=title)
        room -= len(reader.cells)
        if 0 <= foreign_room < reader.foreign:
            notices.append(
                f"The workbook has more than {MAX_FOREIGN:,} letters with marks or of other scripts, far more than any filled "
                f"one; in {title} and after it no more of them are read. {ASK_FOR_OURS}"
            )
        foreign_room -= reader.foreign
        yield ReturnedSheet(name=entry.name, is_hidden=entry.is_hidden, cells=reader.cells_and_merges())


class _SheetReader:
    """Takes one worksheet part apart into its cells."""

    def __init__(self, title: str, tables: Tables, room: int, foreign_room: int) -> None:
        """`title` begins a message; `room` is the number of filled cells that may still come, `foreign_room` that of the
        characters in texts that are not all ASCII.
        """
        self.cells: dict[Position, ReturnedCell] = {}
        self.foreign = 0
        """Characters so far of texts that are not all ASCII."""
        self._title = title
        self._tables = tables
        self._room = room
        self._foreign_room = foreign_room
        self._merges: list[str] = []
        self._row = 0
        self._column = 0
        self._kind = "n"
        self._style = ""
        self._value: list[str] | None = None
        self._formula: list[str] | None = None
        self._text_goes_to: list[str] | None = None
        self._reading_aids = 0

    def visitor(self) -> Visitor:
        return Visitor(
            root="worksheet",
            opening={
                "row": self._open_row,
                "c": self._open_cell,
                "v": self._open_value,
                "f": self._open_formula,
                "is": self._open_inline_string,
                "t": self._open_text,
                "rPh": self._open_reading_aid,
                "mergeCell": self._open_merge,
            },
            closing={
                "c": self._close_cell,
                "v": self._close_text,
                "f": self._close_text,
                "t": self._close_text,
                "rPh": self._close_reading_aid,
            },
            text=self._take_text,
        )

    def cells_and_merges(self) -> Mapping[Position, ReturnedCell]:
        """The cells, and the blank ones that a merge covers; past the limits a merge is not spelled out."""
        cells = dict(self.cells)
        room = MAX_MERGED
        for reference in self._merges:
            covered = _covered_by(reference)
            room -= len(covered)
            if room < 0:
                break
            for position in covered:
                cells.setdefault(position, _MERGED_CELL)
        return cells

    def _open_row(self, attributes: Attributes) -> None:
        number = attributes.get("r", str(self._row + 1))
        row = small_number(number)
        if row is None or not 1 <= row <= LAST_ROW:
            raise self._impossible("row", number)
        self._row, self._column = row, 0

    def _open_cell(self, attributes: Attributes) -> None:
        reference = attributes.get("r")
        if reference is None:
            self._column += 1
        else:
            position = _position(reference)
            if position is None:
                raise self._impossible("cell", reference)
            self._row, self._column = position
        self._kind = attributes.get("t", "n")
        self._style = attributes.get("s", "")
        self._value = self._formula = self._text_goes_to = None

    def _open_value(self, _attributes: Attributes) -> None:
        self._value = self._text_goes_to = []

    def _open_formula(self, _attributes: Attributes) -> None:
        self._formula = self._text_goes_to = []

    def _open_inline_string(self, _attributes: Attributes) -> None:
        self._value = []

    def _open_text(self, _attributes: Attributes) -> None:
        if self._reading_aids == 0:
            self._text_goes_to = self._value

    def _close_text(self) -> None:
        self._text_goes_to = None

    def _open_reading_aid(self, _attributes: Attributes) -> None:
        self._reading_aids += 1

    def _close_reading_aid(self) -> None:
        self._reading_aids -= 1

    def _open_merge(self, attributes: Attributes) -> None:
        if len(self._merges) < MAX_MERGED:
            self._merges.append(attributes.get("ref", ""))

    def _take_text(self, piece: str) -> None:
        if self._text_goes_to is not None:
            self._text_goes_to.append(piece)

    def _close_cell(self) -> None:
        if self._value is None and self._formula is None:
            return
        cell = read_cell(
            kind=self._kind,
            style=self._style,
            value="".join(self._value or ()),
            formula=None if self._formula is None else "".join(self._formula),
            tables=self._tables,
        )
        self._value = self._formula = None
        if cell is not None:
            self._keep(cell)

    def _keep(self, cell: ReturnedCell) -> None:
        position = (self._row, self._column)
        if position in self.cells:
            reference = cell_name(self._row, self._column)
            raise UnreadableFile(f"{self._title} holds cell {reference} twice: the file is damaged. {SAVE_A_COPY}")
        if len(self.cells) >= self._room:
            raise UnreadableFile(f"The workbook has more than {MAX_CELLS:,} filled cells. {ASK_FOR_OURS}")
        if not cell.text.isascii():
            self.foreign += len(cell.text)
            if self.foreign > self._foreign_room:
                cell = ReturnedCell(text="", trouble=Trouble.TOO_LONG)
        self.cells[position] = cell

    def _impossible(self, what: str, found: str) -> UnreadableFile:
        return UnreadableFile(
            f"{self._title} has an impossible {what}, {found[:12]!r}: the file is damaged. {SAVE_A_COPY}"
        )


def _position(reference: str) -> Position | None:
    """Row and column of "C7", or None where there is no such cell."""
    return _found_position(reference) if len(reference) <= _LONGEST_REFERENCE else None


@lru_cache(maxsize=8192)
def _found_position(reference: str) -> Position | None:
    """Found once for all sheets: those of a class have much the same cells."""
    found = _REFERENCE.fullmatch(reference)
    if found is None:
        return None
    row, column = int(found[2]), column_number(found[1])
    return (row, column) if row <= LAST_ROW and column <= LAST_COLUMN else None


def _covered_by(merge: str) -> list[Position]:
    """The cells that a merge such as "A1:B2" hides, which are all but its first; none of a merge past the limit."""
    first, _, last = merge.partition(":")
    start, end = _position(first), _position(last)
    if start is None or end is None:
        return []
    rows, columns = range(start[0], end[0] + 1), range(start[1], end[1] + 1)
    if len(rows) * len(columns) > MAX_MERGE:
        return []
    return [(row, column) for row in rows for column in columns if (row, column) != start]
