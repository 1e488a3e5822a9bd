"""What is right in a cell (R2, R3): by the key, by a choice that the Brief leaves, or by the trainee's own earlier answers."""

from functools import cache
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey
from trainer.lab.questions import QUESTIONS
from trainer.marking.dependencies import rests_on
from trainer.marking.marks import Verdict
from trainer.marking.plans import Plans

__all__ = ["Standard"]


class Standard:
    """What one form is held against. Rows are called as in the key; the same question has the same answer whenever asked."""

    def __init__(self, plans: Plans) -> None:
        self._plans = plans
        self._judged = cache(self._judge)

    def judged(self, question: Question[Any, Any], value: Any, row: RowKey) -> Verdict | None:
        """RIGHT by the key or by a choice that the Brief leaves, FOLLOWS by the trainee's own earlier answers, or None.

        Where a choice is left, what rests on it is right only if it follows from the trainee's own.
        """
        return None if value is None else self._judged(question.id, value, row)

    def has_right(self, cell: CellRef) -> bool:
        """Whether what the trainee wrote in a cell of a fixed row is right."""
        question = QUESTIONS[cell.question]
        return self.judged(question, self._plans.answers.get(question, cell.row), cell.row) is not None

    def expected(self, question: Question[Any, Any], row: RowKey) -> Any:
        """What is right here, given the trainee's earlier answers."""
        if question.may_follow:
            follows = question.answer(self._plans.scenario, self._plans.so_far, row)
            if question.is_usable(self._plans.scenario, follows):
                return follows
        return self._plans.key.value(question, row)

    def _judge(self, question_id: str, value: Any, row: RowKey) -> Verdict | None:
        question, plans = QUESTIONS[question_id], self._plans
        if question.accepts is not None:
            is_accepted = question.accepts(plans.scenario, plans.answers, plans.so_far, row, value)
            if is_accepted is not None:
                return Verdict.RIGHT if is_accepted else self._by_right_sizes(question, value, row)
        is_own_choice = question.may_follow and plans.scenario.rules.has_choices
        if value == (self.expected(question, row) if is_own_choice else plans.key.value(question, row)):
            return Verdict.RIGHT
        follows = question.may_follow and (
            value == self.expected(question, row) or value == self._with_what_it_rests_on_right(question, row)
        )
        return Verdict.FOLLOWS if follows else None

    def _by_right_sizes(self, question: Question[Any, Any], value: Any, row: RowKey) -> Verdict | None:
        """Of a choice that breaks a rule of the Brief: FOLLOWS where it would not if the sizes of the networks were right."""
        plans = self._plans
        assert question.accepts is not None
        fits = question.accepts(plans.scenario, plans.answers, plans.with_right_sizes, row, value)
        return Verdict.FOLLOWS if fits and plans.scenario.rules.follow_through else None

    def _with_what_it_rests_on_right(self, question: Question[Any, Any], row: RowKey) -> Any:
        """What would be right if the cells it rests on were, in the trainee's own plan: right as well, for their error has
        been charged (R2). None where they are right, or nothing follows.
        """
        plans = self._plans
        wrong = {
            cell: self.expected(asked, cell.row)
            for cell in rests_on(plans.scenario, plans.so_far, question, row)
            if not self.judged(asked := QUESTIONS[cell.question], plans.so_far.value(asked, cell.row), cell.row)
        }
        if not wrong or not plans.scenario.rules.follow_through:
            return None
        value = question.answer(plans.scenario, plans.with_values({**plans.given, **wrong}), row)
        return value if question.is_usable(plans.scenario, value) else None
