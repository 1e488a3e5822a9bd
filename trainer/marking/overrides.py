"""The instructor's decisions: marks that are set by hand, and values that are accepted, with the reason (R14).

They are applied to marks that were worked out as always, so they survive grading again.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.marks import CellMark, Marked, Verdict, part_of, section_mark

__all__ = ["Decision", "Override", "apply", "has_effect", "most_marks", "row_called", "rows_of"]


class Decision(Enum):
    """What the instructor decides about a cell."""

    ACCEPT = "accept this value"
    MARKS = "marks"
    USE_FILE = "use this file"
    """About no cell: of several files of the trainee this one counts. Value names it; sheet, row and question are ""."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """One decision."""

    trainee: str
    """An id; "" for everybody."""
    section: str
    row: str
    """As the sheet, or for a missing row the results, call it; "" for every row."""
    question: str
    decision: Decision
    value: str
    """The accepted value as it is typed, or the marks: full, half, none, or a number."""
    reason: str


def apply(marked: Marked, trainee: str, overrides: Sequence[Override]) -> Marked:
    """The marks with the decisions that are about this trainee; of several about one cell the last counts."""
    own = [each for each in overrides if each.trainee.casefold() in ("", trainee.casefold())]
    if not own:
        return marked
    cells = []
    for each in marked.cells:
        cell = each
        for override in own:
            cell = _decided(each, override) or cell
        cells.append(cell)
    sections = tuple(
        section_mark(section.section, [cell for cell in cells if cell.section == section.section], int(section.out_of))
        for section in marked.sections
    )
    return replace(marked, cells=tuple(cells), sections=sections)


def has_effect(override: Override, cells: Iterable[CellMark]) -> bool:
    """Whether the decision is about any of these cells, and about what is written there."""
    return any(_decided(cell, override) is not None for cell in cells)


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


def most_marks(scenario: Scenario, question: str) -> Fraction:
    """What a cell of the question counts; nothing where its sheet is not asked."""
    of = SECTIONS[question.partition(".")[0]]
    share = next((each.share for each in scenario.sections if each.section == of.id), 0)
    return part_of(share, len(of.rows(scenario)) * of.counts_in(scenario)) * of.question(question).counts


def _decided(cell: CellMark, override: Override) -> CellMark | None:
    """The cell as the override has it; None where it is about another cell or another value."""
    if (cell.section, cell.question) != (override.section, override.question):
        return None
    if override.row and override.row.casefold() != cell.row.casefold():
        return None
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
    words = {"full": Fraction(1), "half": Fraction(1, 2), "none": Fraction(0)}
    word = tidy(value).casefold()
    if word in words:
        return cell.out_of * words[word]
    return min(max(Fraction(word.replace(",", ".")), Fraction(0)), cell.out_of)


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
