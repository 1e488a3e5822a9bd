"""The cells of one fault-finding form, and which of its rows is meant for which deviation."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey
from trainer.lab.repair.sheet import Edit
from trainer.marking.explanation import Explanation
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.mistakes.neutral import why_in_words
from trainer.marking.repair.diagnosis import Diagnosis, WrittenFault
from trainer.marking.repair.words import explained

__all__ = ["DEVICE", "LINE", "NOTHING", "TABLE", "Cells", "Match", "matched"]

LINE, TABLE, DEVICE = 3, 2, 1
"""What the line of a fault counts; what is left of it for the right table, and for the right device."""
NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Match:
    """Which row is meant for which deviation of the key."""

    rows: Mapping[str, WrittenFault]
    """By the line of the deviation."""
    worth: Mapping[str, int]
    """What the line of that row earns."""
    extras: tuple[WrittenFault, ...]
    """Rows that are meant for none."""


def matched(diagnosis: Diagnosis) -> Match:
    """Rows by what they say, never by their place (R8): first by the line, then by table and device; what is left of the causes
    stands for faults that are not named, and has been paid for. A line that is named again stands for no other.
    """
    repair = diagnosis.repair
    left = list(diagnosis.written)
    rows: dict[str, WrittenFault] = {}
    worth: dict[str, int] = {}
    for edit in (*repair.faults, *repair.decoys):
        here = [each for each in left if each.is_at(edit)]
        if here:
            best = max(here, key=lambda each, edit=edit: each.column.casefold() == edit.column.casefold())  # type: ignore[misc]
            rows[edit.line], worth[edit.line] = best, LINE
            left.remove(best)
    for least in (TABLE, DEVICE, 0):
        for fault in repair.faults:
            named = {each.line_name for each in rows.values()} - {None}
            near = [
                each
                for each in left
                if each.is_cause and each.line_name not in named and _worth(diagnosis, each, fault) >= least
            ]
            if fault.line not in rows and near:
                rows[fault.line], worth[fault.line] = near[0], _worth(diagnosis, near[0], fault)
                left.remove(near[0])
    return Match(rows, worth, tuple(left))


def _worth(diagnosis: Diagnosis, written: WrittenFault, fault: Edit) -> int:
    right = diagnosis.lines[fault.line]
    if written.line is None or written.line.device != right.device:
        return 0
    return TABLE if written.line.section is right.section else DEVICE


class Cells:
    """Makes the marks of single cells."""

    def __init__(self, diagnosis: Diagnosis, match: Match) -> None:
        self.diagnosis = diagnosis
        self.repair = diagnosis.repair
        self.match = match

    def mends(self, written: WrittenFault) -> bool:
        """Whether the row is part of repairs that together are right, in whatever lines."""
        causes = self.diagnosis.causes
        if not self.repair.faults:
            return False
        return self.diagnosis.mends_everything and written in causes and not any(map(written.contradicts, causes))

    def value(self, question: Question[Any, Any], row: RowKey) -> Any:
        return self.diagnosis.read.answers.get(question, row)

    def without_value(self, question: Question[Any, Any], row: RowKey, right: Any, out_of: Fraction) -> CellMark:
        """A cell that is blank, or that cannot be read."""
        cell = CellRef(question.id, row)
        if cell not in self.diagnosis.read.unreadable:
            return self.mark(question, row, Verdict.BLANK, NOTHING, out_of, right, explained("blank"))
        text = self.diagnosis.read.texts.get(cell, "")
        said = explained("not-readable", text=why_in_words(self.diagnosis.read.unreadable[cell], text, question.kind))
        return self.mark(question, row, Verdict.UNREADABLE, NOTHING, out_of, right, said)

    def mark(
        self,
        question: Question[Any, Any],
        row: RowKey,
        verdict: Verdict,
        marks: Fraction,
        out_of: Fraction,
        right: Any,
        said: Explanation | None = None,
        *,
        remark: str = "",
    ) -> CellMark:
        return CellMark(
            section=question.section,
            question=question.id,
            row=row,
            given=self.diagnosis.read.texts.get(CellRef(question.id, row), ""),
            expected="" if right is None else question.kind.show(right),
            verdict=verdict,
            marks=marks,
            out_of=out_of,
            explanation=said,
            remark=remark,
        )
