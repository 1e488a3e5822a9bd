"""Finding the row with the column headings: one rule for every workbook that comes back, wherever the row has moved to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.lab.kinds import tidy
from trainer.sheets.intake import ReturnedSheet

__all__ = ["HeadRow", "TextsByRow", "find_head_row", "texts_by_row"]

_LONGEST_HEADING = 100
"""Characters; what is longer is no heading of ours, and is not looked at."""
_MOST_ALIKE = 20
"""Columns of a row with the same text that are kept."""

TextsByRow = Mapping[int, Mapping[str, tuple[int, ...]]]
"""For each row the columns in which a text stands, in small letters."""


@dataclass(frozen=True, slots=True)
class HeadRow:
    """The row with the headings."""

    row: int
    texts: Mapping[str, tuple[int, ...]]
    """The columns by what stands in the row, in small letters."""

    def columns(self, headings: Iterable[str]) -> dict[str, int]:
        """The columns of those of the headings that stand in the row, whatever case they are in; of two alike the first."""
        return {heading: self.columns_of(heading)[0] for heading in headings if self.columns_of(heading)}

    def columns_of(self, heading: str) -> tuple[int, ...]:
        """All columns with that heading, from left to right."""
        return self.texts.get(heading.casefold(), ())


def find_head_row(sheet: ReturnedSheet, headings: Iterable[str]) -> HeadRow | None:
    """The row that holds most of the headings, of several the first; None where no row holds any."""
    rows = texts_by_row(sheet)
    wanted = {heading.casefold() for heading in headings}
    best = max(rows, key=lambda row: len(wanted & rows[row].keys()), default=None)
    return None if best is None or not wanted & rows[best].keys() else HeadRow(best, rows[best])


def texts_by_row(sheet: ReturnedSheet) -> TextsByRow:
    """The short texts of a sheet, for whoever looks for several rows of headings in it."""
    rows: dict[int, dict[str, tuple[int, ...]]] = {}
    for (row, column), cell in sorted(sheet.cells.items()):
        if len(cell.text) <= _LONGEST_HEADING:
            texts = rows.setdefault(row, {})
            text = tidy(cell.text).casefold()
            alike = texts.get(text, ())
            if len(alike) < _MOST_ALIKE:
                texts[text] = (*alike, column)
    return rows
