"""What the rows of sheet Faults are worth.

Any repair that makes the network right as a plan is right, in whatever lines it is. A harmless deviation that is accused, or
any other line beside the faults, cancels a line (R9).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from trainer.lab.form import CellRef, Question, SoFar
from trainer.lab.questions.faults import FAULT_COLUMN, FAULT_KIND_OF, FAULT_LINE, FAULT_TEST, FAULTS, SHOULD_BE
from trainer.lab.repair.found import WHOLE_ROW
from trainer.lab.repair.sheet import NO_FAULT, Edit, FaultKind, Repair
from trainer.lab.rows import LineRow
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.repair.cells import DEVICE, LINE, NOTHING, TABLE, Cells, Match
from trainer.marking.repair.diagnosis import Diagnosis, WrittenFault
from trainer.marking.repair.words import explained, hint_of, seen_of

__all__ = ["FaultCells", "way_in_words"]

_OTHERS = 1
"""What each other cell of a fault counts, and a harmless deviation that is named as such."""
_A_FAULT, _A_DECOY = LINE + 4 * _OTHERS, _OTHERS


_TRIED = frozenset({"fault-other-line", "fault-other-table", "fault-elsewhere", "fault-harmless-accused"})
"""Mistakes about a line whose repair is tried: the hint names a symptom that it leaves."""


class FaultCells(Cells):
    """The cells of sheet Faults."""

    def __init__(self, diagnosis: Diagnosis, match: Match) -> None:
        super().__init__(diagnosis, match)
        self._way = way_in_words(diagnosis.repair)

    def marked(self, share: int) -> Iterator[CellMark]:
        """First the deviations of the key, then what else is accused."""
        units = _A_FAULT * max(len(self.repair.faults), 1) + _A_DECOY * len(self.repair.decoys)
        part = Fraction(share, units)
        if not self.repair.faults:
            yield self._none_said(part * _A_FAULT)
        for fault in self.repair.faults:
            yield from self._fault(fault, part)
        for decoy in self.repair.decoys:
            yield from self._decoy(decoy, part)
        for extra in self.match.extras:
            if self.repair.faults or not extra.says_none:
                yield from self._extra(extra, part)

    def _none_said(self, out_of: Fraction) -> CellMark:
        """That nothing is wrong, in a network in which nothing is; beside an accused line it is no answer (R10)."""
        written = next((each for each in self.match.extras if each.says_none), None)
        if written is None:
            said = explained("fault-none-not-said")
            return self.mark(FAULT_LINE, LineRow(NO_FAULT), Verdict.MISSING, NOTHING, out_of, NO_FAULT, said)
        if any(each.is_cause and each.line_name is not None for each in self.diagnosis.written if not each.says_none):
            said = explained("fault-none-and-one")
            return self.mark(FAULT_LINE, written.row, Verdict.WRONG, NOTHING, out_of, NO_FAULT, said)
        return self.mark(FAULT_LINE, written.row, Verdict.RIGHT, out_of, out_of, NO_FAULT)

    def _fault(self, fault: Edit, part: Fraction) -> Iterator[CellMark]:
        written = self.match.rows.get(fault.line)
        key = LineRow(fault.line)
        rights = {
            each: each.answer(self.diagnosis.scenario, SoFar(self.diagnosis.scenario), key) for each in FAULTS.questions
        }
        if written is None:
            for question in FAULTS.questions:
                out_of = part * (LINE if question is FAULT_LINE else _OTHERS)
                said = explained("fault-not-named", derivation=self._why(question, key))
                yield self.mark(question, key, Verdict.MISSING, NOTHING, out_of, rights[question], said)
            return
        yield self._line(written, fault, part * LINE)
        yield self._column(written, fault, part)
        yield self._should_be(written, fault, part)
        if self.match.worth[fault.line] < TABLE and not self.mends(written):
            said = explained("fault-elsewhere", seen=self._seen([written]))
            yield self.mark(FAULT_KIND_OF, written.row, Verdict.WRONG, NOTHING, part, rights[FAULT_KIND_OF], said)
            if written.line is None:
                yield self.mark(FAULT_TEST, written.row, Verdict.WRONG, NOTHING, part, rights[FAULT_TEST], said)
                return
        else:
            yield self._kind(written, FaultKind.CAUSE, "fault-called-harmless", part)
        yield self._test(written, fault, part, rights[FAULT_TEST])

    def _why(self, question: Question[Any, Any], key: LineRow) -> str:
        if question is FAULT_LINE:
            return self._way
        return question.reason(self.diagnosis.scenario, SoFar(self.diagnosis.scenario), key)

    def _line(self, written: WrittenFault, fault: Edit, out_of: Fraction) -> CellMark:
        row = written.row
        if self.mends(written):
            remark = "" if written.is_at(fault) else "Right: with what you name mended, the network does all it should."
            return self.mark(FAULT_LINE, row, Verdict.RIGHT, out_of, out_of, fault.line, remark=remark)
        if written.is_at(fault):
            return self.mark(FAULT_LINE, row, Verdict.RIGHT, out_of, out_of, fault.line)
        if written.line_name is None:
            return self.without_value(FAULT_LINE, row, fault.line, out_of)
        worth = self.match.worth[fault.line]
        mistake = {TABLE: "fault-other-line", DEVICE: "fault-other-table"}.get(worth, "fault-elsewhere")
        if written.says_none:
            mistake = "fault-none-said"
        elif written.line is None:
            mistake = "fault-no-such-line"
        elif any(written.is_at(decoy) for decoy in self.repair.decoys):
            mistake = "fault-harmless-accused"
        is_tried = written.change is not None and mistake in _TRIED
        hint = hint_of(*self.diagnosis.not_explained([written])) if is_tried else ""
        said = explained(mistake, seen=self._seen([written]), derivation=self._way, hint=hint)
        verdict = Verdict.PARTLY if worth else Verdict.WRONG
        return self.mark(FAULT_LINE, row, verdict, out_of * worth / LINE, out_of, fault.line, said)

    def _column(self, written: WrittenFault, fault: Edit, out_of: Fraction) -> CellMark:
        if not written.column and fault.column != WHOLE_ROW:
            return self.without_value(FAULT_COLUMN, written.row, fault.column, out_of)
        is_there = written.is_at(fault) and _is_column(written, fault)
        if is_there or self.mends(written):
            return self.mark(FAULT_COLUMN, written.row, Verdict.RIGHT, out_of, out_of, fault.column)
        said = explained("fault-column" if written.is_at(fault) else "fault-elsewhere", seen=self._seen([written]))
        return self.mark(FAULT_COLUMN, written.row, Verdict.WRONG, NOTHING, out_of, fault.column, said)

    def _should_be(self, written: WrittenFault, fault: Edit, out_of: Fraction) -> CellMark:
        if not written.should_be:
            return self.without_value(SHOULD_BE, written.row, fault.right, out_of)
        if self._is_keys_value(written, fault) or self.mends(written):
            return self.mark(SHOULD_BE, written.row, Verdict.RIGHT, out_of, out_of, fault.right)
        mistake = "fault-value" if written.change is not None else "fault-value-unreadable"
        if not written.is_at(fault):
            mistake = "fault-elsewhere"
        elif not written.column and not fault.is_missing_row:
            mistake = "fault-without-column"
        elif not _is_column(written, fault):
            mistake = "fault-column"
        else:
            as_planned = self.diagnosis.in_a_plan(written, fault)
            if as_planned is not None and 0 < as_planned.marks < as_planned.out_of:
                earned = out_of * as_planned.marks / as_planned.out_of
                said = (
                    None
                    if as_planned.explanation is None
                    else replace(as_planned.explanation, seen=self._seen([written]))
                )
                return self.mark(SHOULD_BE, written.row, Verdict.PARTLY, earned, out_of, fault.right, said)
        said = explained(mistake, seen=self._seen([written]))
        return self.mark(SHOULD_BE, written.row, Verdict.WRONG, NOTHING, out_of, fault.right, said)

    def _is_keys_value(self, written: WrittenFault, fault: Edit) -> bool:
        """Whether what is written is the value of the key, in any notation."""
        if not written.is_at(fault) or written.change is None or written.line is None:
            return False
        if fault.is_missing_row:
            shown = " ".join(
                each.kind.show(written.change[CellRef(each.id, cell)])
                for each in written.line.questions
                for cell in [written.new_row]
                if cell is not None
            )
            return shown == fault.right
        key = self.diagnosis.key.values
        return all(cell.question == fault.question and key.get(cell) == value for cell, value in written.change.items())

    def _kind(self, written: WrittenFault, right: FaultKind, mistake: str, out_of: Fraction) -> CellMark:
        if written.kind is None:
            return self.without_value(FAULT_KIND_OF, written.row, right, out_of)
        if written.kind is right:
            return self.mark(FAULT_KIND_OF, written.row, Verdict.RIGHT, out_of, out_of, right)
        said = explained(mistake, seen=self._seen([written]))
        return self.mark(FAULT_KIND_OF, written.row, Verdict.WRONG, NOTHING, out_of, right, said)

    def _test(self, written: WrittenFault, fault: Edit, out_of: Fraction, right: str) -> CellMark:
        """Any test that shows this fault. Of another line any that comes out otherwise once all is mended, or once it is as the
        trainee mends it.
        """
        if written.test is None:
            return self.without_value(FAULT_TEST, written.row, right, out_of)
        test = next((each for each in self.repair.tests if each.id == written.test), None)
        if test is None:
            said = explained("fault-no-such-test")
        elif test.proves(self.repair.faults.index(fault) + 1) or (
            not written.is_at(fault)
            and (test.separates or (self.diagnosis.causes and self.diagnosis.own_outcome(test) is not test.found))
        ):
            return self.mark(FAULT_TEST, written.row, Verdict.RIGHT, out_of, out_of, test.id)
        else:
            said = explained("fault-test-shows-nothing")
        return self.mark(FAULT_TEST, written.row, Verdict.WRONG, NOTHING, out_of, right, said)

    def _decoy(self, decoy: Edit, part: Fraction) -> Iterator[CellMark]:
        """Named as harmless it earns its mark; accused it cancels a line."""
        written, key = self.match.rows.get(decoy.line), LineRow(decoy.line)
        if written is None:
            said = explained("fault-harmless-not-named")
            yield self.mark(FAULT_LINE, key, Verdict.MISSING, NOTHING, part, decoy.line, said)
            return
        is_accused = written.kind is FaultKind.CAUSE
        said = explained("fault-harmless-accused", seen=self._seen([written]))
        if is_accused:
            yield self.mark(FAULT_LINE, written.row, Verdict.WRONG, -part * LINE, NOTHING, decoy.line, said)
        else:
            yield self.mark(FAULT_LINE, written.row, Verdict.RIGHT, NOTHING, NOTHING, decoy.line)
        yield self._kind(written, FaultKind.HARMLESS, "fault-harmless-called-cause", part)

    def _extra(self, extra: WrittenFault, part: Fraction) -> Iterator[CellMark]:
        """A line that is no deviation; it cancels one where it is accused, unless the repairs together are right, and where it is
        called harmless what a harmless one earns. Of a line that another row names another value cancels a value (R10), the
        same one nothing.
        """
        if self.mends(extra):
            remark = "Part of your repair, which mends everything."
            yield self.mark(FAULT_LINE, extra.row, Verdict.RIGHT, NOTHING, NOTHING, None, remark=remark)
            return
        others = [each for each in self.match.rows.values() if each.line_name == extra.line_name]
        counts = LINE if not others else 0 if any(map(extra.says_the_same, others)) else _OTHERS
        if not extra.is_cause:
            counts = 0 if others else _A_DECOY
        cancels = part * counts if extra.line_name is not None else NOTHING
        mistake = "fault-named-twice" if others else "fault-as-planned"
        if extra.line is None:
            mistake = "fault-none-said" if extra.says_none else "fault-no-such-line"
        said = explained(mistake, seen=self._seen([extra]))
        yield self.mark(FAULT_LINE, extra.row, Verdict.EXTRA, -cancels, NOTHING, None, said)

    def _seen(self, rows: Sequence[WrittenFault]) -> str:
        """What comes back with the trainee's repair of these rows."""
        if any(each.change is None for each in rows):
            return ""
        return seen_of(*self.diagnosis.comes_back(rows))


def _is_column(written: WrittenFault, fault: Edit) -> bool:
    """Of a missing row the column is said by its line."""
    return fault.is_missing_row or written.column.casefold() == fault.column.casefold()


def way_in_words(repair: Repair) -> str:
    """The shortest way to the row: the symptoms that tell most, and how many explanations are left after each."""
    if not repair.way:
        return ""
    told: list[str] = []
    for step in repair.way:
        what = step.symptom or "what else fails and what does not"
        told.append(f"{what} leaves {step.left}" + (f" of {repair.explanations} explanations" if not told else ""))
    rows = "all in one row" if repair.of_one_explanation == 1 else "all in the same rows"
    last = repair.way[-1].left
    return f"{'; '.join(told)}{f', {rows}' if last > 1 else ''}"
