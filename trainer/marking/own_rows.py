"""Cells that were marked in a row of the key, because a written row was meant for it: they are put where they were written."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from trainer.lab.form import RowKey
from trainer.lab.questions import SECTIONS
from trainer.marking.marks import CellMark, Verdict

__all__ = ["in_own_rows"]

_LEAST_SHARED = 2
"""So many texts of a written row are right in the row that it was meant for, in whichever columns."""


def in_own_rows(cells: Iterable[CellMark]) -> tuple[CellMark, ...]:
    """The cells; what is marked in a row of the key because a written row was meant for it, and has the same said of it,
    stands in the written row: exchanged columns are one slip, and no row too many.
    """
    rows: dict[tuple[str, RowKey], list[CellMark]] = {}
    for cell in cells:
        rows.setdefault((cell.section, cell.row), []).append(cell)
    meant: dict[tuple[str, RowKey], list[CellMark]] = {}
    free = [row for row, some in rows.items() if not _stands(some[0]) and some[0].verdict is Verdict.PARTLY]
    for row, some in list(rows.items()):
        if some[0].verdict is not Verdict.EXTRA or any(cell.marks for cell in some):
            continue
        alike = {each: _shared(some, rows[each]) for each in free if _is_said_alike(some, rows[each])}
        best = max(alike, key=alike.__getitem__, default=None)
        if best is not None and alike[best] >= _LEAST_SHARED:
            free.remove(best)
            meant[row] = rows.pop(best)
    return tuple(cell for row, some in rows.items() for cell in (_put(some, meant[row]) if row in meant else some))


def _is_said_alike(some: Sequence[CellMark], others: Sequence[CellMark]) -> bool:
    said = {None if cell.explanation is None else cell.explanation.mistake for cell in (*some, *others)}
    return len(said) == 1 and None not in said and len(some) == len(others)


def _shared(written: Iterable[CellMark], marked: Iterable[CellMark]) -> int:
    """How many of the written texts are right somewhere in the other row."""
    return len({cell.given for cell in written} & {cell.expected for cell in marked})


def _stands(cell: CellMark) -> bool:
    """Whether its row stands on the trainee's sheet."""
    rows = SECTIONS[cell.section].open
    return rows is None or rows.called(cell.row) is not None


def _put(written: Iterable[CellMark], marked: Sequence[CellMark]) -> Iterator[CellMark]:
    """The cells as they were marked, with what was written in them."""
    given = {cell.question: cell for cell in written}
    for cell in marked:
        yield replace(cell, row=given[cell.question].row, given=given[cell.question].given)
