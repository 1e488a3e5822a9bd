"""The instructor's decisions: marks that are set by hand, and values that are accepted, with the reason (R14).

They are applied to marks that were worked out as always, so they survive grading again.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import lru_cache

from trainer.lab.answers import FilledForm
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, HandMark, Marked, Verdict, part_of, section_mark

__all__ = [
    "Decision",
    "Override",
    "apply",
    "has_cell",
    "has_effect",
    "marks_of_part",
    "most_marks",
    "parts_by_hand_of",
    "row_called",
    "rows_of",
]


_MOST_OF_A_PART = 1000
_WORDS = {"full": Fraction(1), "half": Fraction(1, 2), "none": Fraction(0)}
"""Words for marks, as parts of what a cell counts."""


class Decision(Enum):
    """What the instructor decides about a cell."""

    ACCEPT = "accept this value"
    MARKS = "marks"
    STRIKE = "strike"
    """A spoilt question counts for nobody: marks and marks to be had without it."""
    USE_FILE = "use this file"
    """About no cell: of several files of the trainee this one counts. Value names it; sheet, row and question are ""."""
    BY_HAND = "marked by hand"
    """About no cell: the marks of a part that is no sheet, such as work at the bench."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """One decision."""

    trainee: str
    """An id; "" for everybody."""
    section: str
    row: str
    """As the sheet, or for a missing row the results, call it; "" for every row."""
    question: str
    """"" for every question of the sheet."""
    decision: Decision
    value: str
    """The accepted value as it is typed, or the marks: full, half, none, or a number; of several cells, for all together."""
    reason: str
    part: str = ""
    """What is marked by hand; sheet, row and question are "" then, and value is as marks_of_part reads it."""
    attempt: int | None = None
    """Which attempt it is about; None for every one."""
    is_attempt_named: bool = True
    """Whether the row names it, or the trainee has one alone. A row about one trainee that names none is about the first."""

    def is_for(self, trainee: str, attempt: int) -> bool:
        """Whether it is about this attempt of a trainee, called by the id."""
        is_theirs = self.trainee.casefold() in ("", trainee.casefold())
        return is_theirs and self.attempt in (None, attempt)


def apply(marked: Marked, trainee: str, overrides: Sequence[Override], *, attempt: int = 1) -> Marked:
    """The marks with the decisions that are about this attempt of the trainee; of several about one cell the last counts. One
    about cells that carry no marks, such as those of a row too many that costs nothing, changes nothing.
    """
    about = [each for each in overrides if each.is_for(trainee, attempt)]
    own = [each for each in about if each.decision is Decision.BY_HAND or has_effect(each, marked.cells)]
    if not own:
        return marked
    parts = [_part(override, marked.cells) for override in own]
    cells = []
    for each in marked.cells:
        cell = each
        for override, part in zip(own, parts, strict=True):
            cell = _decided(each, override, part) or cell
        cells.append(cell)
    sections = [
        section_mark(
            section.section,
            [cell for cell in cells if cell.section == section.section],
            Fraction(section.out_of) - _struck(section.section, marked.cells, cells),
        )
        for section in marked.sections
    ]
    # of a sheet that was struck altogether nothing is left to be told
    shares = [old.out_of for old in marked.sections]
    left = tuple(each for each, share in zip(sections, shares, strict=True) if each.out_of or not share)
    return replace(marked, cells=tuple(cells), sections=left, by_hand=tuple(_by_hand(own)))


def parts_by_hand_of(trainee: str, attempt: int, overrides: Sequence[Override]) -> tuple[HandMark, ...]:
    """The parts that were marked by hand of this trainee alone: of somebody who handed no workbook in, a row about all says
    nothing.
    """
    return tuple(_by_hand([each for each in overrides if each.trainee and each.is_for(trainee, attempt)]))


def marks_of_part(text: str) -> tuple[Decimal, Decimal] | None:
    """Marks of a part and what it counts, beside the 100 of the sheets: more than 0, at most 1000; None for another text.

    >>> marks_of_part("17.5 of 20"), marks_of_part("17/20"), marks_of_part("21 of 20")
    ((Decimal('17.5'), Decimal('20')), (Decimal('17'), Decimal('20')), None)
    """
    number = r"(\d{1,4}(?:[.,]\d{1,3})?)"
    found = re.fullmatch(rf"{number}\s*(?:of|/)\s*{number}", tidy(text).casefold(), flags=re.ASCII)
    if found is None:
        return None
    marks, out_of = (Decimal(each.replace(",", ".")) for each in found.groups())
    return (marks, out_of) if 0 < out_of <= _MOST_OF_A_PART and marks <= out_of else None


def _by_hand(own: Sequence[Override]) -> Iterator[HandMark]:
    """The parts that are marked by hand, in the order of their first rows; a row about the trainee goes before one about all."""
    rows: dict[str, Override] = {}
    for each in sorted(own, key=lambda each: each.trainee != ""):
        if each.decision is Decision.BY_HAND:
            rows[each.part.casefold()] = each
    names = dict.fromkeys(each.part.casefold() for each in own)
    for name in names:
        if (row := rows.get(name)) and (counts := marks_of_part(row.value)):
            yield HandMark(part=row.part, marks=counts[0], out_of=counts[1], comment=row.reason)


def _struck(section: str, before: Sequence[CellMark], after: Sequence[CellMark]) -> Fraction:
    """What of a section's share nobody can earn any more."""
    pairs = zip(before, after, strict=True)
    return sum((old.out_of - new.out_of for old, new in pairs if old.section == section), Fraction(0))


def _part(override: Override, cells: Sequence[CellMark]) -> Fraction | None:
    """Of marks that are a number for all cells together, each cell's part of what it counts; None of other decisions."""
    if override.decision is not Decision.MARKS or (override.row and override.question):
        return None
    if tidy(override.value).casefold() in _WORDS:
        return None
    whole = sum((cell.out_of for cell in cells if _is_about(override, cell)), Fraction(0))
    return min(_number(override.value) / whole, Fraction(1)) if whole else Fraction(0)


def has_effect(override: Override, cells: Iterable[CellMark]) -> bool:
    """Whether the decision is about any of these cells, and about what is written there, and there are marks to decide on."""
    carry = (cell for cell in cells if cell.out_of or cell.marks or cell.decision)
    return any(_decided(cell, override) is not None for cell in carry)


def has_cell(override: Override, cells: Iterable[CellMark]) -> bool:
    """Whether the decision is about any of these cells, whatever is written there."""
    return any(_is_about(override, cell) for cell in cells)


def rows_of(scenario: Scenario, section: str) -> tuple[str, ...]:
    """The rows of a section that a decision may name: as printed, and as missing rows are called in the results."""
    of = SECTIONS[section]
    return tuple(dict.fromkeys(str(row.key) for row in (*of.printed_rows(scenario), *of.rows(scenario))))


def row_called(scenario: Scenario, section: str, name: str) -> str | None:
    """The row that is meant by a typed name; None for none. In open sections trainees may have added rows of any number."""
    wanted = tidy(name).casefold()
    for row in rows_of(scenario, section):
        if tidy(row).casefold() == wanted:
            return row
    rows = SECTIONS[section].open
    if rows is None:
        return None
    added = rows.called(wanted)
    return None if added == rows.named(0) else added


def most_marks(scenario: Scenario, section: str, question: str, row: str) -> Fraction:
    """What the cells of a question count, in one row or in all ("" for all, of questions too); nothing where the sheet is not
    asked.
    """
    of = SECTIONS[section]
    if scenario.repair is not None:  # what a cell counts there depends on what was found
        counted = [
            each for each in _blank(scenario).cells if each.section == section and question in ("", each.question)
        ]
        of_question = sum((each.out_of for each in counted), Fraction(0))
        return of_question if not row else max((each.out_of for each in counted), default=Fraction(0))
    share = next((each.share for each in scenario.sections if each.section == of.id), 0)
    rows = len(of.rows(scenario))
    counts = sum(each.counts for each in of.questions_in(scenario) if question in ("", each.id))
    return part_of(share, rows * of.counts_in(scenario)) * counts * (1 if row else rows)


@lru_cache(maxsize=64)
def _blank(scenario: Scenario) -> Marked:
    """A form of that lab on which nothing is written, as it is marked."""
    return mark(scenario, FilledForm(texts={}, rows={}))


def _is_about(override: Override, cell: CellMark) -> bool:
    if cell.section != override.section or override.question not in ("", cell.question):
        return False
    return not override.row or override.row.casefold() == cell.row.casefold()


def _decided(cell: CellMark, override: Override, part: Fraction | None = None) -> CellMark | None:
    """The cell as the override has it; None where it is about another cell or another value.

    part: of what the cell counts, where the marks are for several cells together.
    """
    if not _is_about(override, cell):
        return None
    if override.decision is Decision.STRIKE:
        return replace(
            cell,
            marks=Fraction(0),
            out_of=Fraction(0),
            verdict=Verdict.STRUCK,
            explanation=None,
            remark="",
            decision=f"This does not count for anybody. {override.reason}",
        )
    if part is not None:
        return _with_marks(cell, cell.out_of * part, override)
    if override.decision is Decision.ACCEPT:
        return _with_marks(cell, cell.out_of, override) if _is_same(cell, override.value) else None
    return _with_marks(cell, _marks(cell, override.value), override)


def _is_same(cell: CellMark, accepted: str) -> bool:
    """Whether what was written means the accepted value, as the question's kind reads it.

    What the kind cannot read is compared as text, so that an unreadable way of writing can be accepted too.
    """
    kind = SECTIONS[cell.section].question(cell.question).kind
    given, wanted = tidy(cell.given), tidy(accepted)
    if not given:
        return False
    if kind.can_read(given) and kind.can_read(wanted):
        return bool(kind.read(given) == kind.read(wanted))
    return given.casefold() == wanted.casefold()


def _marks(cell: CellMark, value: str) -> Fraction:
    word = tidy(value).casefold()
    if word in _WORDS:
        return cell.out_of * _WORDS[word]
    return min(max(_number(value), Fraction(0)), cell.out_of)


def _number(value: str) -> Fraction:
    return Fraction(tidy(value).replace(",", "."))


def _with_marks(cell: CellMark, marks: Fraction, override: Override) -> CellMark:
    """The cell with these marks. A cell of an extra row has none of its own: setting them takes its deduction away."""
    verdict = cell.verdict
    is_only_freed = verdict is Verdict.EXTRA and override.decision is Decision.MARKS
    if not is_only_freed and (not verdict.is_full or marks < cell.out_of):
        verdict = Verdict.RIGHT if marks == cell.out_of else Verdict.PARTLY if marks else Verdict.WRONG
    return replace(
        cell,
        marks=marks,
        verdict=verdict,
        explanation=None if verdict.is_full else cell.explanation,
        remark="",
        decision=override.reason,
    )
