"""What is said about a cell that is not right: the mistake that fits, what the value depends on, an example, the way to it."""

from dataclasses import replace
from functools import cached_property
from typing import Any

from trainer.lab.dependencies import rests_on
from trainer.lab.form import CellRef, Question, RowKey, Section
from trainer.lab.questions import SECTIONS
from trainer.marking.dependencies import named
from trainer.marking.explanation import Explanation
from trainer.marking.mistakes.catalogue import explain
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.parallel import Parallel
from trainer.marking.plans import Plans
from trainer.marking.standard import Standard

__all__ = ["Explainer", "wrong_cell"]


def wrong_cell(
    plans: Plans, question: Question[Any, Any], flaw: Flaw, row: RowKey, key_row: RowKey | None, expected: Any
) -> WrongCell:
    """A cell that is not right, with all that a mistake may look at.

    row: as the trainee's sheet calls it; key_row: as the key does, None for an extra row; expected: what is right there.
    """
    cell = CellRef(question.id, row)
    return WrongCell(
        plan=plans.view,
        section=_section_of(question),
        question=question,
        flaw=flaw,
        row=row,
        key_row=key_row,
        value=plans.answers.values.get(cell),
        unreadable=plans.read.unreadable.get(cell),
        expected=expected,
    )


class Explainer:
    """Explains the cells of one form."""

    def __init__(self, plans: Plans, standard: Standard) -> None:
        self._plans = plans
        self._standard = standard

    def said(self, wrong: WrongCell) -> Explanation:
        """What is said of the cell. Of a row that was not written, or that no rule asks for, no more than the mistake: what
        it should be about is not to be given away.
        """
        said = explain(wrong)
        if wrong.key_row is None or wrong.flaw is Flaw.MISSING:
            return said
        return replace(
            said,
            rests_on=self._rests_on(wrong.question, wrong.flaw, wrong.key_row),
            example=self._parallel.example(wrong.question, wrong.key_row, wrong.expected),
            derivation=self._derivation(wrong.question, wrong.key_row, wrong.expected),
        )

    @cached_property
    def _parallel(self) -> Parallel:
        return Parallel(self._plans.scenario)

    def _derivation(self, question: Question[Any, Any], key: RowKey, expected: Any) -> str:
        """How the right value is come by: with it in its own cell, and around it the values that it follows from."""
        plans = self._plans
        follows = question.may_follow and expected == question.answer(plans.scenario, plans.so_far, key)
        around = plans.given if follows else {}
        right = {**around, CellRef(question.id, key): expected}
        return question.reason(plans.scenario, plans.with_values(right), key)

    def _rests_on(self, question: Question[Any, Any], flaw: Flaw, key: RowKey) -> str:
        """What a written value should have been worked out from, and whether that is right."""
        if flaw is Flaw.BLANK or not question.may_follow:
            return ""
        scenario = self._plans.scenario
        if question.choice is not None and self._is_free(question, key):
            return question.choice.rests_on
        used = [
            each for each in rests_on(scenario, self._plans.so_far, question, key) if each.section in scenario.asked
        ]
        wrong = [each for each in used if not self._standard.has_right(each)]
        right = [each for each in used if each not in wrong]
        told = []
        if right:
            told.append(f"{named(scenario, right)}, right as written")
        if wrong:
            told.append(f"{named(scenario, wrong)} (look there first)")
        return "; and on ".join(told)

    def _is_free(self, question: Question[Any, Any], key: RowKey) -> bool:
        """Whether the Brief leaves the value to the trainee."""
        plans = self._plans
        value = plans.key.value(question, key)
        return question.accepts(plans.scenario, plans.answers, plans.so_far, key, value) is not None


def _section_of(question: Question[Any, Any]) -> Section[Any]:
    return SECTIONS[question.section]
