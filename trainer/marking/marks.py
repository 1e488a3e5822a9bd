"""What an answer is worth: verdicts and exact marks.

What a cell earns is an exact fraction: its part of the sheet's share times a credit. A sheet's marks are rounded once, half up to
a thousandth, in `section_mark` and nowhere else; everything above is a sum of these.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from operator import attrgetter
from typing import Any

from trainer.lab.coded import Coded
from trainer.lab.form import Question, RowKey
from trainer.lab.works import Works
from trainer.marking.explanation import Explanation

__all__ = [
    "CellMark",
    "HandMark",
    "Marked",
    "SectionMark",
    "Verdict",
    "exact",
    "in_tenths",
    "part_of",
    "section_mark",
    "shown",
    "too_many",
    "worth_of",
]

_THOUSANDTH, _TENTH = Decimal("0.001"), Decimal("0.1")


class Verdict(Coded):
    """What is found of a cell."""

    RIGHT = "right", "right"
    FOLLOWS = "follows", "follows"
    """Right, because it follows from the trainee's own earlier answer."""
    PARTLY = "partly", "partly"
    """Half right, or a part of a list."""
    AGAIN = "again", "charged once"
    """Wrong, by the same slip of form as another cell of the sheet, where it is charged."""
    WRONG = "wrong", "wrong"
    BLANK = "blank", "blank"
    UNREADABLE = "unreadable", "unreadable"
    EXTRA = "extra", "extra"
    """In a row that no rule asks for."""
    MISSING = "missing", "missing"
    """In a row that should have been written and was not."""
    STRUCK = "struck", "struck out"
    """The instructor took it out for everybody: whatever stands there, nothing is counted."""

    @property
    def is_full(self) -> bool:
        """Whether there is nothing to put right."""
        return self in _FULL


_FULL = frozenset({Verdict.RIGHT, Verdict.FOLLOWS, Verdict.STRUCK})


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
    marks: Fraction
    """Negative for a wrong extra row, which cancels what is right elsewhere on the sheet."""
    out_of: Fraction
    explanation: Explanation | None = None
    remark: str = ""
    """A sentence about a cell that earns its marks although it differs from the key."""
    by_plan: bool = field(default=False, metadata={"added later": True})
    """Whether the key has another value than what is right here by the trainee's own plan."""
    decision: str = field(default="", metadata={"added later": True})
    """The instructor's reason, where the marks are set by hand."""

    # between processes go hundreds of thousands; the ways of dataclass look up the fields for each
    def __getstate__(self) -> tuple[Any, ...]:
        return _values_of_cell(self)

    def __setstate__(self, values: tuple[Any, ...]) -> None:
        for put, value in zip(_CELL_SLOTS, values, strict=True):
            put(self, value)


_CELL_FIELDS = tuple(each.name for each in fields(CellMark))
_CELL_SLOTS = tuple(getattr(CellMark, name).__set__ for name in _CELL_FIELDS)
_values_of_cell = attrgetter(*_CELL_FIELDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionMark:
    """A section's marks: the sum of its cells, never below zero, rounded half up to a thousandth."""

    section: str
    marks: Decimal
    out_of: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMark:
    """Marks of a part that is no sheet of ours, such as work at the bench; the instructor gives them."""

    part: str
    marks: Decimal
    out_of: Decimal
    """Beside the 100 of the sheets."""
    comment: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """A marked form."""

    cells: tuple[CellMark, ...]
    sections: tuple[SectionMark, ...]
    works: Works | None = field(default=None, metadata={"added later": True})
    """What of the trainee's own network works; no part of the marks. None where it was not tried yet."""
    by_hand: tuple[HandMark, ...] = field(default=(), metadata={"added later": True})

    @property
    def marks(self) -> Decimal:
        sheets = sum((section.marks for section in self.sections), Decimal(0))
        return sum((part.marks for part in self.by_hand), sheets)

    @property
    def out_of(self) -> Decimal:
        sheets = sum((section.out_of for section in self.sections), Decimal(0))
        return sum((part.out_of for part in self.by_hand), sheets)

    @property
    def percent(self) -> Decimal:
        """0 to 100, rounded half up to a tenth: to be shown, never to be decided on."""
        share = self.marks * 100 / self.out_of if self.out_of else Decimal(0)
        return share.quantize(_TENTH, ROUND_HALF_UP)


def too_many(cells: Iterable[CellMark]) -> str:
    """How many cells take marks away, behind how many are right; "" where none does."""
    count = sum(cell.marks.numerator < 0 for cell in cells)
    return f", {count} too many" if count else ""


def part_of(share: int, cells: int) -> Fraction:
    """What each of so many cells counts of a share, which is in per cent of the total.

    >>> part_of(1, 3)
    Fraction(1, 3)
    """
    return Fraction(share, cells) if cells else Fraction(0)


def worth_of(part: Fraction, questions: Iterable[Question[Any, Any]]) -> dict[str, Fraction]:
    """What each cell of these questions is worth, by question; part: what 1 of what they count is worth."""
    return {question.id: part * question.counts for question in questions}


def section_mark(section: str, cells: Sequence[CellMark], share: int | Fraction) -> SectionMark:
    """Sums a section up and rounds it; wrong extras cancel, but never below zero (marking rules R1 and R9)."""
    total = max(_sum(cell.marks for cell in cells), Fraction(0))
    return SectionMark(
        section=section, marks=_rounded(total, _THOUSANDTH), out_of=_rounded(Fraction(share), _THOUSANDTH)
    )


def _sum(marks: Iterable[Fraction]) -> Fraction:
    """Exact; marks with one denominator, as most of a sheet have, are added up as whole numbers."""
    numerators: dict[int, int] = {}
    for each in marks:
        numerators[each.denominator] = numerators.get(each.denominator, 0) + each.numerator
    return sum((Fraction(number, denominator) for denominator, number in numerators.items()), Fraction(0))


def shown(number: Decimal | Fraction) -> str:
    """Marks for people to read: rounded half up to a tenth, without superfluous zeros, never in powers of ten.

    >>> shown(Decimal("20.000")), shown(Decimal("12.499")), shown(Fraction(1, 3)), shown(Decimal("0.000"))
    ('20', '12.5', '0.3', '0')
    """
    return _plain(_rounded(number, _TENTH))


def in_tenths(number: Decimal | Fraction) -> str:
    """Marks below each other in a table: rounded half up, always with one decimal.

    >>> in_tenths(Decimal("20.000")), in_tenths(Decimal("12.499")), in_tenths(Fraction(1, 3))
    ('20.0', '12.5', '0.3')
    """
    return f"{_rounded(number, _TENTH):.1f}"


def exact(number: Decimal | Fraction) -> str:
    """Marks for other programs, and for whoever has to write them: to a thousandth, as sheets are summed up.

    >>> exact(Decimal("20.000")), exact(Decimal("12.499")), exact(Fraction(1, 3))
    ('20', '12.499', '0.333')
    """
    return _plain(_rounded(number, _THOUSANDTH))


def _rounded(number: Decimal | Fraction, step: Decimal) -> Decimal:
    """Half up, away from zero for what is taken away. Exact, in whole numbers."""
    (over, under), (step_over, step_under) = number.as_integer_ratio(), step.as_integer_ratio()
    half_steps = abs(over) * step_under * 2 // (under * step_over)
    whole = (half_steps + 1) // 2
    return (-whole if over < 0 else whole) * step


def _plain(number: Decimal) -> str:
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
