"""What the written rows of an open section count for, whatever their cells hold."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Self

from trainer.lab.form import RowKey
from trainer.marking.explanation import Explanation
from trainer.marking.matching import Matched
from trainer.marking.plans import Plans

__all__ = ["Counted", "Equivalence", "StandIn", "costing_a_cell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """How the cells of a row of the key are marked whose job is done by rows that differ from it."""

    credit: Fraction
    """What each cell earns: 1, or a part where an explanation says why."""
    remark: str = ""
    explanation: Explanation | None = None
    does_more: bool = False
    """Whether those rows do the job of other rows of the key as well. Else the cells by themselves count where they earn more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """How the rows of a section are to be marked."""

    matched: Matched
    """Which written rows are marked as which rows of the key. Those whose job others do are meant for none."""
    stand_ins: Mapping[RowKey, StandIn]
    """By row of the key whose job is done by written rows, whichever; it counts where the cells by themselves are not right."""
    carriers: Mapping[RowKey, str]
    """Extra rows that do the job of a row of the key which was not written, and the remark that tells it."""
    harmless: Mapping[RowKey, Fraction]
    """Extra rows that do no harm, and how much of a right row each cancels all the same, 0 to 1."""

    @classmethod
    def by_cells(cls, matched: Matched) -> Self:
        """Where no row does the job of another, and each counts by its own cells."""
        return cls(matched=matched, stand_ins={}, carriers={}, harmless={})


Equivalence = Callable[[Plans, Matched, Callable[[RowKey, RowKey], bool]], Counted]
"""What rows count for: by the plans of the form, the match by content, and whether all cells of a written row (first) are
right as those of a row of the key (second)."""


def costing_a_cell(matched: Matched, cells: int, is_needless: Callable[[RowKey], bool]) -> Counted:
    """Of a section whose needless rows cost one cell each. cells: of a row."""
    harmless = {row: Fraction(1, cells) for row in matched.extras if is_needless(row)}
    return Counted(matched=matched, stand_ins={}, carriers={}, harmless=harmless)
