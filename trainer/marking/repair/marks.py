"""Marks a fault-finding form: sheets Symptoms, Faults and Tests.

Only what comes from a fault, and only tests that come out otherwise once it is mended, can earn anything; to see a fault behind
what is as it should be, or to call another test telling, cancels one (R9). So whoever writes the same everywhere earns nothing.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cached_property
from itertools import permutations
from typing import Any

from trainer.lab.answers import FilledForm, read_answers
from trainer.lab.questions.faults import FAULTS
from trainer.lab.questions.symptoms import SYMPTOM_FAULT, SYMPTOMS
from trainer.lab.questions.tests import AS_FOUND, MENDED, TESTS
from trainer.lab.repair.sheet import PrintedTest, Symptom, SymptomSort
from trainer.lab.rows import SymptomRow, TryRow
from trainer.lab.scenario import Scenario
from trainer.marking.credit import ANOTHER_DEVICE
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
            meant = self._meant(given, self._places)
            earned = self._earned(meant, right)
            if meant == right and (earned == 1 or not right):
                yield self.mark(SYMPTOM_FAULT, row, Verdict.RIGHT, out_of, out_of, right)
            elif not right:
                said = explained("symptom-has-no-fault")
                cancels = NOTHING if self._counts(symptom) else part
                yield self.mark(SYMPTOM_FAULT, row, Verdict.WRONG, -cancels, out_of, right, said)
            else:
                mistake = "symptom-other-fault" if given else "symptom-not-explained"
                said = explained("symptom-line-not-found" if meant == right else mistake)
                verdict = Verdict.PARTLY if earned else Verdict.WRONG
                yield self.mark(SYMPTOM_FAULT, row, verdict, part * earned, part, right, said)

    def _counts(self, symptom: Symptom) -> bool:
        return bool(symptom.faults) or (not self.repair.faults and symptom.sort is SymptomSort.COMPLAINT)

    def _earned(self, meant: frozenset[int], right: frozenset[int]) -> Fraction:
        """The part of a symptom's marks. A fault that stands on another device than its row says is the right idea in the wrong
        instance: the line is charged on sheet Faults, here half is left.
        """
        earned = sum((ANOTHER_DEVICE if each in self._lost else Fraction(1) for each in meant & right), NOTHING)
        return max(earned - len(meant - right), NOTHING) / len(right) if right else NOTHING

    def _meant(self, given: frozenset[int], places: Mapping[str, int]) -> frozenset[int]:
        """Which faults of the key numbers stand for; 0 where one stands for none. places: by the lines that the rows name."""
        lines = {each.row.number: each.line.id for each in self.diagnosis.written if each.line is not None}
        return frozenset(places.get(lines.get(each, ""), 0) for each in given)

    @cached_property
    def _named(self) -> Mapping[int, str]:
        """By the place of a fault in the key the line that the row names which is meant for it."""
        rows = {place: self.match.rows.get(fault.line) for place, fault in enumerate(self.repair.faults, 1)}
        return {place: row.line.id for place, row in rows.items() if row is not None and row.line is not None}

    @cached_property
    def _lost(self) -> frozenset[int]:
        """The faults for which a row stands that names another device, and mends nothing."""
        faults = {place: self.repair.faults[place - 1].line for place in self._named}
        return frozenset(
            place
            for place, line in faults.items()
            if not self.match.worth[line] and not self.mends(self.match.rows[line])
        )

    @cached_property
    def _places(self) -> Mapping[str, int]:
        """By the line that a row names the fault that its number stands for. Of several rows of which none finds its fault the
        symptoms decide which is meant for which, in the trainee's favour.
        """
        known = {line: place for place, line in self._named.items() if place not in self._lost}
        lost = sorted(self._lost)
        ways = (
            known | {self._named[place]: other for place, other in zip(lost, order, strict=True)}
            for order in permutations(lost)
        )
        return max(ways, key=self._earned_in_all)

    def _earned_in_all(self, places: Mapping[str, int]) -> Fraction:
        symptoms = {SymptomRow(number): each for number, each in enumerate(self.repair.symptoms, 1)}
        given = {row: self.value(SYMPTOM_FAULT, row) or frozenset() for row in symptoms}
        return sum(
            (self._earned(self._meant(given[row], places), frozenset(each.faults)) for row, each in symptoms.items()),
            NOTHING,
        )


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
