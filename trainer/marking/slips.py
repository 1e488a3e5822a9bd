"""Slips of form that are made in several cells of a sheet: charged once, told in the others (marking rule R15)."""

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.lab.form import RowKey
from trainer.lab.kinds import LEASE
from trainer.marking.cells import MarkedCell
from trainer.marking.marks import Verdict
from trainer.marking.mistakes.catalogue import how_charged
from trainer.marking.mistakes.mistake import Charged

__all__ = ["charged_once"]

_MADE_IN = frozenset({Verdict.WRONG, Verdict.PARTLY, Verdict.UNREADABLE, Verdict.BLANK})
"""A row that is missing, or one too many, is no slip of form."""


def charged_once(cells: Sequence[MarkedCell]) -> list[MarkedCell]:
    """The cells of a sheet. Where the same slip was made again they earn what they are worth, and say where it is charged."""
    first: dict[Hashable, RowKey] = {}
    rows: dict[Hashable, set[RowKey]] = defaultdict(set)
    found = []
    columns = _columns(cells)
    for cell in cells:
        slip, often = _slip(cell, columns), _often(cell)
        if slip is None or often is Charged.EACH_TIME:
            found.append(cell)
            continue
        row = cell.mark.row
        is_charged = not rows[slip] or (often is Charged.ONE_ROW and row == first[slip])
        first.setdefault(slip, row)
        rows[slip].add(row)
        found.append(cell if is_charged else _told(cell, first[slip]))
    return found


def _often(cell: MarkedCell) -> Charged:
    said = cell.mark.explanation
    return Charged.EACH_TIME if said is None else how_charged(said.mistake)


def _columns(cells: Sequence[MarkedCell]) -> dict[tuple[str, RowKey], frozenset[str]]:
    """By mistake and row the columns in which it was made there."""
    found: dict[tuple[str, RowKey], set[str]] = defaultdict(set)
    for cell in cells:
        if cell.mark.explanation is not None:
            found[cell.mark.explanation.mistake, cell.mark.row].add(cell.mark.question)
    return {place: frozenset(columns) for place, columns in found.items()}


def _slip(cell: MarkedCell, columns: Mapping[tuple[str, RowKey], frozenset[str]]) -> Hashable | None:
    """What makes two slips the same: the entry of the catalogue, which says how the right value was rewritten; of a time also
    how many times too long it is, of exchanged columns which they are. None where a cell holds no slip.
    """
    mark, wrong = cell.mark, cell.wrong
    if wrong is None or mark.explanation is None or mark.verdict not in _MADE_IN:
        return None
    is_time = wrong.question.kind is LEASE and isinstance(wrong.value, int) and wrong.expected
    mistake = mark.explanation.mistake
    if how_charged(mistake) is Charged.ONE_ROW:
        return mistake, columns[mistake, mark.row]
    return mistake, Fraction(wrong.value, wrong.expected) if is_time else None


def _told(cell: MarkedCell, where: RowKey) -> MarkedCell:
    said = cell.mark.explanation
    assert said is not None
    words = f"{said.explanation} The same slip is charged once on a sheet, here in {where}."
    explanation = replace(said, explanation=words)
    return replace(
        cell, mark=replace(cell.mark, verdict=Verdict.AGAIN, marks=cell.mark.out_of, explanation=explanation)
    )
