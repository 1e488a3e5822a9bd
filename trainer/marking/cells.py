"""What one cell earns (`CellMarker.written`). If it is right, all, or half where an error made it easier; if it is not, half
where it follows from an error that leads to what cannot be, else what its list or the right idea in it earns, else nothing.

What is right is left to standard.py, how much a part is to credit.py, why a wrong cell is explained as it is to mistakes/ (by
explaining.py), and which row of the key a row is meant for to open_rows.py, which may mark a row anew after this.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey
from trainer.marking.credit import EASIER, LEADS_OUTSIDE, part_of_set
from trainer.marking.explaining import Explainer, wrong_cell
from trainer.marking.explanation import Explanation
from trainer.marking.following_for_half import is_easier, leads_outside
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.mistakes.catalogue import credit_of
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.plans import Plans
from trainer.marking.standard import Standard

__all__ = ["CellMarker", "MarkedCell"]

_VERDICTS = {
    Flaw.WRONG: Verdict.WRONG,
    Flaw.BLANK: Verdict.BLANK,
    Flaw.UNREADABLE: Verdict.UNREADABLE,
    Flaw.MISSING: Verdict.MISSING,
    Flaw.EXTRA: Verdict.EXTRA,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedCell:
    """A cell as marked."""

    mark: CellMark
    wrong: WrongCell | None = None
    """The cell as mistakes look at it, and as it is tried; None where its value is right or follows, or others do its job."""
    follows_in: RowKey | None = None
    """Where it is right because it follows from the trainee's own earlier answers: its row, as the key calls it."""


class CellMarker:
    """Marks the cells of one form, each by itself: in whatever order, with the same result."""

    def __init__(self, plans: Plans) -> None:
        self.plans = plans
        self.standard = Standard(plans)
        self._explainer = Explainer(plans, self.standard)

    def written(self, question: Question[Any, Any], row: RowKey, key: RowKey, out_of: Fraction) -> MarkedCell:
        """A cell of a row that is asked for; row: as the trainee's sheet calls it, key: as the key does."""
        value = self.plans.answers.values.get(CellRef(question.id, row))
        verdict = self.standard.judged(question, value, key)
        if verdict is None:
            led_outside = leads_outside(self.plans, self.standard, question, value, key)
            if led_outside is None:
                return self._wrong(question, row, key, out_of)
            return self._half(question, row, key, out_of * LEADS_OUTSIDE, out_of, led_outside)
        easier = is_easier(self.plans, self.standard, question, value, key)
        if easier is not None:
            return self._half(question, row, key, out_of * EASIER, out_of, easier)
        by_key = verdict is Verdict.RIGHT and not self.plans.has_choices
        expected = self.plans.key.value(question, key) if by_key else self.standard.expected(question, key)
        follows = verdict is Verdict.FOLLOWS
        remark = self._why_it_follows(question, key, value) if follows else ""
        mark = self._mark(question, row, verdict, out_of, out_of, remark=remark, right=(key, expected))
        return MarkedCell(mark=mark, follows_in=key if follows else None)

    def missing(self, question: Question[Any, Any], key: RowKey, out_of: Fraction) -> MarkedCell:
        """A cell of a row that was not written."""
        expected = self.standard.expected(question, key)
        wrong = wrong_cell(self.plans, question, Flaw.MISSING, key, key, expected)
        return self._explained(wrong, out_of, Fraction(0), takes_credit=False)

    def needless(self, question: Question[Any, Any], row: RowKey, cancels: Fraction) -> MarkedCell:
        """A cell of a row that belongs to no row of the key; cancels: the marks of a right one that it takes away."""
        wrong = wrong_cell(self.plans, question, Flaw.EXTRA, row, None, None)
        said = self._explainer.said(wrong)
        mark = self._mark(question, row, Verdict.EXTRA, -cancels, Fraction(0), explanation=said)
        return MarkedCell(mark=mark, wrong=wrong)

    def carrier(self, question: Question[Any, Any], row: RowKey, remark: str) -> MarkedCell:
        """A cell of a row that is no row of the key but does the job of one: nothing to mark, but worth a word."""
        return MarkedCell(mark=self._mark(question, row, Verdict.RIGHT, Fraction(0), Fraction(0), remark=remark))

    def _wrong(self, question: Question[Any, Any], row: RowKey, key: RowKey, out_of: Fraction) -> MarkedCell:
        cell = CellRef(question.id, row)
        value = self.plans.answers.values.get(cell)
        part = Fraction(0)
        if value is None:
            flaw = Flaw.UNREADABLE if cell in self.plans.read.unreadable else Flaw.BLANK
        else:
            flaw = Flaw.WRONG
            part = part_of_set(value, self.plans.key.value(question, key)) if question.kind.is_set else part
        wrong = wrong_cell(self.plans, question, flaw, row, key, self.standard.expected(question, key))
        is_idea = flaw is Flaw.WRONG and not part and cell not in self.plans.copied
        return self._explained(wrong, out_of, part, takes_credit=is_idea)

    def _explained(self, wrong: WrongCell, out_of: Fraction, part: Fraction, *, takes_credit: bool) -> MarkedCell:
        """takes_credit: whether the right idea in it earns what its mistake leaves, where it is no part of a list."""
        assert wrong.key_row is not None
        said = self._explainer.said(wrong)
        credit = credit_of(said.mistake) if takes_credit else part
        mark = self._mark(
            wrong.question,
            wrong.row,
            Verdict.PARTLY if credit else _VERDICTS[wrong.flaw],
            out_of * credit,
            out_of,
            explanation=said,
            right=(wrong.key_row, wrong.expected),
        )
        return MarkedCell(mark=mark, wrong=wrong)

    def _half(
        self,
        question: Question[Any, Any],
        row: RowKey,
        key: RowKey,
        marks: Fraction,
        out_of: Fraction,
        said: Explanation,
    ) -> MarkedCell:
        """A cell that follows correctly from an error, and does not earn all of it."""
        right = key, self.plans.key.value(question, key)
        return MarkedCell(mark=self._mark(question, row, Verdict.PARTLY, marks, out_of, explanation=said, right=right))

    def _mark(
        self,
        question: Question[Any, Any],
        row: RowKey,
        verdict: Verdict,
        marks: Fraction,
        out_of: Fraction,
        *,
        explanation: Explanation | None = None,
        remark: str = "",
        right: tuple[RowKey, Any] | None = None,
    ) -> CellMark:
        """right: the row of the key and what is right there; None for a row that no rule asks for."""
        return CellMark(
            section=question.section,
            question=question.id,
            row=row,
            given=self.plans.read.texts.get(CellRef(question.id, row), ""),
            expected="" if right is None else question.kind.show(right[1]),
            verdict=verdict,
            marks=marks,
            out_of=out_of,
            explanation=explanation,
            by_plan=right is not None and right[1] != self.plans.key.value(question, right[0]),
            remark=remark,
        )

    def _why_it_follows(self, question: Question[Any, Any], key: RowKey, value: Any) -> str:
        """What is said of a value that follows from earlier answers; a conflict that follows too is not kept silent."""
        plans = self.plans
        remark = "Right: it follows from your own earlier answers."
        if value != question.answer(plans.scenario, plans.so_far, key):
            remark = "Right: it fits your own plan, although a cell that it depends on is not right."
        conflict = question.contradiction(plans.scenario, plans.so_far, key, value) if question.contradiction else ""
        return f"{remark} {conflict}".rstrip()
