"""Marks a fault-finding form: sheets Symptoms, Faults and Tests.

Only what comes from a fault, and only tests that come out otherwise once it is mended, can earn anything; to see a fault behind
what is as it should be, or to call another test telling, cancels one (R9). So whoever writes the same everywhere earns nothing.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from trainer.lab.answers import FilledForm, read_answers
from trainer.lab.questions.faults import FAULTS
from trainer.lab.questions.symptoms import SYMPTOM_FAULT, SYMPTOMS
from trainer.lab.questions.tests import AS_FOUND, MENDED, TESTS
from trainer.lab.repair.sheet import PrintedTest, Symptom, SymptomSort
from trainer.lab.rows import SymptomRow, TryRow
from trainer.lab.scenario import Scenario
from trainer.marking.marks import CellMark, Marked, Verdict, section_mark
from trainer.marking.repair.cells import NOTHING, Cells, matched
from trainer.marking.repair.diagnosis import Diagnosis, MarkPlan
from trainer.marking.repair.faults import FaultCells
from trainer.marking.repair.words import explained

__all__ = ["mark_diagnosis"]


def mark_diagnosis(scenario: Scenario, filled: FilledForm, mark_plan: MarkPlan) -> Marked:
    """Marks a fault-finding form. Whatever stands in it, it is marked."""
    diagnosis = Diagnosis(scenario, read_answers(filled), mark_plan)
    match = matched(diagnosis)
    marked_by = {
        SYMPTOMS.id: _SymptomCells(diagnosis, match).marked,
        FAULTS.id: FaultCells(diagnosis, match).marked,
        TESTS.id: _TestCells(diagnosis, match).marked,
    }
    cells: list[CellMark] = []
    sections = []
    for share in scenario.sections:
        found = list(marked_by[share.section](share.share))
        cells += found
        sections.append(section_mark(share.section, found, share.share))
    return Marked(cells=tuple(cells), sections=tuple(sections), works=diagnosis.works)


class _SymptomCells(Cells):
    """The cells of sheet Symptoms."""

    def marked(self, share: int) -> Iterator[CellMark]:
        """Only what comes from a fault counts; to see a fault behind another cancels one. Where nothing is wrong, the complaint
        counts.
        """
        counting = sum(map(self._counts, self.repair.symptoms))
        part = Fraction(share, counting) if counting else NOTHING
        for number, symptom in enumerate(self.repair.symptoms, 1):
            row, right = SymptomRow(number), frozenset(symptom.faults)
            given = self.value(SYMPTOM_FAULT, row)
            out_of = part if self._counts(symptom) else NOTHING
            if given is None:
                yield self.without_value(SYMPTOM_FAULT, row, right, out_of)
                continue
            meant = frozenset(self._key_number(each) for each in given)
            earned = Fraction(max(0, len(meant & right) - len(meant - right)), len(right)) if right else NOTHING
            if meant == right:
                yield self.mark(SYMPTOM_FAULT, row, Verdict.RIGHT, out_of, out_of, right)
            elif not right:
                said = explained("symptom-has-no-fault")
                cancels = NOTHING if self._counts(symptom) else part
                yield self.mark(SYMPTOM_FAULT, row, Verdict.WRONG, -cancels, out_of, right, said)
            else:
                said = explained("symptom-other-fault" if given else "symptom-not-explained")
                verdict = Verdict.PARTLY if earned else Verdict.WRONG
                yield self.mark(SYMPTOM_FAULT, row, verdict, part * earned, part, right, said)

    def _counts(self, symptom: Symptom) -> bool:
        return bool(symptom.faults) or (not self.repair.faults and symptom.sort is SymptomSort.COMPLAINT)

    def _key_number(self, number: int) -> int:
        """Which fault of the key a number stands for: the one that a row of the same line is meant for; 0 where it is none."""
        line = next((each.line_name for each in self.diagnosis.written if each.row.number == number), None)
        for place, fault in enumerate(self.repair.faults, 1):
            row = self.match.rows.get(fault.line)
            if row is not None and line is not None and row.line_name == line and self.match.worth[fault.line]:
                return place
        return 0


class _TestCells(Cells):
    """The cells of sheet Tests."""

    def marked(self, share: int) -> Iterator[CellMark]:
        """Tests that come out otherwise once all is mended count, both cells together; to call another one so cancels one. Where
        nothing is wrong all of them count.
        """
        telling = sum(map(self._counts, self.repair.tests))
        part = Fraction(share, 2 * telling) if telling else NOTHING
        for number, test in enumerate(self.repair.tests, 1):
            yield from self._tested(test, TryRow(number), part)

    def _counts(self, test: PrintedTest) -> bool:
        return test.separates or not self.repair.faults

    def _tested(self, test: PrintedTest, row: TryRow, part: Fraction) -> Iterator[CellMark]:
        given = self.value(AS_FOUND, row), self.value(MENDED, row)
        rights = test.found, test.mended
        follows = self._follows(test, given)
        if self._counts(test) and (given == rights or follows):
            verdict = Verdict.RIGHT if given == rights else Verdict.FOLLOWS
            remark = "" if given == rights else "Right: it follows from the repair that you name."
            for question, right in zip((AS_FOUND, MENDED), rights, strict=True):
                yield self.mark(question, row, verdict, part, part, right, remark=remark)
            return
        wrong = [value is None or value is not right for value, right in zip(given, rights, strict=True)]
        out_of = 2 * part / sum(wrong) if self._counts(test) and any(wrong) else NOTHING
        calls_telling = not self._counts(test) and None not in given and given[0] is not given[1] and not follows
        for question, value, right, is_wrong in zip((AS_FOUND, MENDED), given, rights, wrong, strict=True):
            cancels = 2 * part if calls_telling and question is MENDED else NOTHING
            if cancels:
                said = explained("test-shows-nothing")
                yield self.mark(question, row, Verdict.WRONG, -cancels, NOTHING, right, said)
            elif not is_wrong:
                remark = "Right; it counts together with the cell beside it." if self._counts(test) else ""
                yield self.mark(question, row, Verdict.RIGHT, NOTHING, NOTHING, right, remark=remark)
            elif value is None:
                yield self.without_value(question, row, right, out_of)
            else:
                said = explained("test-as-found" if question is AS_FOUND else "test-mended")
                yield self.mark(question, row, Verdict.WRONG, NOTHING, out_of, right, said)

    def _follows(self, test: PrintedTest, given: tuple[Any, Any]) -> bool:
        """Whether this is what the network would do after the trainee's own repairs, if these do anything."""
        if not self.diagnosis.causes or given[0] is not test.found or given[1] is None:
            return False
        return self.diagnosis.does_something and given[1] is self.diagnosis.own_outcome(test)
