"""What an answer is worth: verdicts and exact marks.

Marks are decimal numbers. A section's share is divided among its cells in thousandths, so that they add up to it
exactly; what a cell earns is rounded half up to a thousandth, here and nowhere else. Everything above is a sum.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from trainer.lab.coded import Coded
from trainer.lab.form import RowKey
from trainer.lab.works import Works
from trainer.marking.mistakes.mistake import Explanation

__all__ = ["CellMark", "Marked", "SectionMark", "Verdict", "earned", "shared_out", "shown"]

_THOUSANDTH = Decimal("0.001")


class Verdict(Coded):
    """What is found of a cell."""

    RIGHT = "right", "right"
    FOLLOWS = "follows", "follows"
    """Right, because it follows from the trainee's own earlier answer."""
    PARTLY = "partly", "partly"
    """Half right, or a part of a list."""
    WRONG = "wrong", "wrong"
    BLANK = "blank", "blank"
    UNREADABLE = "unreadable", "unreadable"
    EXTRA = "extra", "extra"
    """In a row that no rule asks for."""
    MISSING = "missing", "missing"
    """In a row that should have been written and was not."""

    @property
    def is_full(self) -> bool:
        return self in (Verdict.RIGHT, Verdict.FOLLOWS)


@dataclass(frozen=True, slots=True, kw_only=True)
class CellMark:
    """One cell, what was found of it and what it is worth."""

    section: str
    question: str
    row: RowKey
    """The row as the sheet calls it; for a missing row what it should have been about."""
    given: str
    expected: str
    """What is right here: by follow-through where that holds, else by the key. Empty for an extra row."""
    verdict: Verdict
    marks: Decimal
    """Negative for a wrong extra row, which cancels a right one."""
    out_of: Decimal
    explanation: Explanation | None = None
    remark: str = ""
    """A sentence about a cell that earns its marks although it differs from the key."""
    by_plan: bool = field(default=False, metadata={"added later": True})
    """Whether the key has another value than what is right here by the trainee's own plan."""
    decision: str = field(default="", metadata={"added later": True})
    """The instructor's reason, where the marks are set by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionMark:
    """A section's marks: the sum of its cells, never below zero."""

    section: str
    marks: Decimal
    out_of: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """A marked form."""

    cells: tuple[CellMark, ...]
    sections: tuple[SectionMark, ...]
    works: Works | None = field(default=None, metadata={"added later": True})
    """What of the trainee's own network works; no part of the marks. None where it was not tried yet."""

    @property
    def marks(self) -> Decimal:
        return sum((section.marks for section in self.sections), Decimal(0))

    @property
    def out_of(self) -> Decimal:
        return sum((section.out_of for section in self.sections), Decimal(0))

    @property
    def percent(self) -> Decimal:
        """0 to 100, rounded half up to a tenth."""
        share = self.marks * 100 / self.out_of if self.out_of else Decimal(0)
        return share.quantize(Decimal("0.1"), ROUND_HALF_UP)


def shared_out(share: int, cells: int) -> tuple[Decimal, ...]:
    """The share divided among so many cells as evenly as thousandths allow; the sum is the share exactly.

    >>> [str(part) for part in shared_out(1, 3)]
    ['0.334', '0.333', '0.333']
    """
    if not cells:
        return ()
    each, rest = divmod(share * 1000, cells)
    return tuple(Decimal(each + (place < rest)) * _THOUSANDTH for place in range(cells))


def earned(out_of: Decimal, credit: Fraction) -> Decimal:
    """What a cell earns: its part of the share times the credit, 0 to 1."""
    exact = Fraction(out_of) * credit
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_THOUSANDTH, ROUND_HALF_UP)


def section_mark(section: str, cells: Sequence[CellMark], share: int) -> SectionMark:
    """Sums a section up; wrong extras cancel, but never below zero (marking rules R1 and R9)."""
    total = sum((cell.marks for cell in cells), Decimal(0))
    return SectionMark(section=section, marks=max(total, Decimal(0)), out_of=Decimal(share))


def shown(number: Decimal) -> str:
    """Marks as text: without superfluous zeros, never in powers of ten.

    >>> shown(Decimal("20.000")), shown(Decimal("0.570")), shown(Decimal("0.000"))
    ('20', '0.57', '0')
    """
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
