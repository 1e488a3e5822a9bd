"""Finding the row with the column headings: one rule for every workbook that comes back, wherever the row has moved to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.lab.kinds import tidy
from trainer.sheets.intake import ReturnedSheet

__all__ = ["HeadRow", "find_head_row"]


@dataclass(frozen=True, slots=True)
class HeadRow:
    """The row with the headings."""

    row: int
    texts: Mapping[str, int]
    """Column by what stands in the row, in small letters; of two alike the first."""

    def columns(self, headings: Iterable[str]) -> dict[str, int]:
        """The columns of those of the headings that stand in the row, whatever case they are written in."""
        return {heading: self.texts[heading.casefold()] for heading in headings if heading.casefold() in self.texts}


def find_head_row(sheet: ReturnedSheet, headings: Iterable[str]) -> HeadRow | None:
    """The row that holds most of the headings, of several the first; None where no row holds any."""
    wanted = {heading.casefold() for heading in headings}
    rows: dict[int, dict[str, int]] = {}
    for (row, column), cell in sorted(sheet.cells.items()):
        rows.setdefault(row, {}).setdefault(tidy(cell.text).casefold(), column)
    best = max(rows, key=lambda row: len(wanted & rows[row].keys()), default=None)
    return None if best is None or not wanted & rows[best].keys() else HeadRow(best, rows[best])
