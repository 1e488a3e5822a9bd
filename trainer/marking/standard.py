"""What is right in a cell (R2, R3): the key's value, one that keeps the Brief's rules where a choice is left, or what follows
from the trainee's own earlier answers. `Standard.judged` decides whether a written value is one of these, `Standard.expected`
which one is told to the trainee.

The values themselves are worked out by each question's own `answer` (lab/questions/), the plans that they are worked out from by
plans.py. What a cell earns is left to cells.py.
"""

from functools import cache
from typing import Any

from trainer.lab.dependencies import rests_on
from trainer.lab.form import CellRef, Question, RowKey, SoFar, Unique
from trainer.lab.kinds import ADDRESS
from trainer.lab.questions import QUESTIONS
from trainer.lab.questions.subnets import network_of
from trainer.lab.scenario import Order
from trainer.marking.marks import Verdict
from trainer.marking.plans import Plans
from trainer.network.addresses import LONGEST_NETWORK

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
        """What is right here by the trainee's own plan; the key's value where nothing usable follows. In a free plan a network
        lies where the rest of its row says, or in a place that is left for it.
        """
        cell = CellRef(question.id, row)
        free = self._plans.free
        own_place = free.meant.get(cell, free.left.get(cell))
        if own_place is not None:
            return own_place
        if question.may_follow:
            follows = question.answer(self._plans.scenario, self._plans.so_far, row)
            if question.is_usable(self._plans.scenario, follows):
                return follows
        return self._plans.key.value(question, row)

    def _judge(self, question_id: str, value: Any, row: RowKey) -> Verdict | None:
        question, plans = QUESTIONS[question_id], self._plans
        is_accepted = self._is_accepted(question, value, row, plans.so_far)
        if is_accepted is not None:
            return Verdict.RIGHT if is_accepted else self._by_right_sizes(question, value, row)
        is_own_choice = question.may_follow and plans.has_choices
        if value == (self.expected(question, row) if is_own_choice else plans.key.value(question, row)):
            return Verdict.RIGHT
        follows = question.may_follow and (
            value == self.expected(question, row) or value == self._with_what_it_rests_on_right(question, row)
        )
        return Verdict.FOLLOWS if follows else None

    def _by_right_sizes(self, question: Question[Any, Any], value: Any, row: RowKey) -> Verdict | None:
        """Of a choice that breaks a rule of the Brief: FOLLOWS where it would not if the sizes of the networks were right."""
        plans = self._plans
        fits = self._is_accepted(question, value, row, plans.with_right_sizes)
        return Verdict.FOLLOWS if fits and plans.scenario.rules.follow_through else None

    def _is_accepted(self, question: Question[Any, Any], value: Any, row: RowKey, so_far: SoFar) -> bool | None:
        """Where the Brief leaves a choice, whether a value keeps its rules; None where it leaves none."""
        plans, cell = self._plans, CellRef(question.id, row)
        is_own_place = question.must_differ is Unique.NETWORK and plans.scenario.rules.order is Order.FREE
        if is_own_place and value == plans.free.meant.get(cell):
            return True
        if is_own_place and value == plans.answers.values.get(cell):
            return plans.free.accepts_by_size(cell) if so_far is plans.with_right_sizes else plans.free.accepts(cell)
        return question.accepts(plans.scenario, plans.answers, so_far, row, value)

    def follows_from_what_cannot_be(self, question: Question[Any, Any], value: Any, row: RowKey) -> bool:
        """Whether a value that is neither right nor follows would, if values counted that cannot be: outside the block, or a
        length that no VLAN or link can have (R4). Not where two cells became equal that must differ.
        """
        plans = self._plans
        if value is None or not question.may_follow or not plans.scenario.rules.follow_through:
            return False
        if self._is_accepted(question, value, row, plans.so_far) is not None and question.must_differ is Unique.NETWORK:
            return False
        if question.kind is ADDRESS and self._has_no_ends(question, row):
            return False
        return bool(value == self.beyond(question, row))

    def beyond(self, question: Question[Any, Any], row: RowKey) -> Any:
        """What follows from values that cannot be as well; None where nothing does."""
        try:
            return question.answer(self._plans.scenario, self._plans.beyond, row)
        except ValueError:  # past the last address that there is
            return None

    def _has_no_ends(self, question: Question[Any, Any], row: RowKey) -> bool:
        """Whether it is worked out from a network so small that its addresses are one and the same, or two."""
        if question.worked_out_from is None:
            return False
        vlan = question.worked_out_from(self._plans.scenario, row)
        return network_of(self._plans.beyond, vlan).prefixlen > LONGEST_NETWORK

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
