"""What a cell, or a whole section, is worked out from: found by watching which values its answers ask for."""

from collections.abc import Mapping
from contextlib import suppress
from functools import lru_cache
from typing import Any, TypeVar

from trainer.lab.form import CellRef, Question, RowKey, SoFar
from trainer.lab.questions import FORM, QUESTIONS
from trainer.lab.scenario import Scenario

__all__ = ["all_it_rests_on", "rests_on", "sections_rest_on"]

T = TypeVar("T")


def rests_on(scenario: Scenario, so_far: SoFar, question: Question[Any, Any], row: RowKey) -> tuple[CellRef, ...]:
    """The cells whose values the right value of a cell is worked out from, each once, in the order in which they are used.

    Only those it is worked out from directly; rows are called as in the key.
    """
    watched = _Watched(scenario, so_far)
    with suppress(ValueError):  # from values that cannot be nothing may be worked out, but they were asked for
        question.answer(scenario, watched, row)
    return tuple(dict.fromkeys(watched.used))


def all_it_rests_on(
    scenario: Scenario, so_far: SoFar, question: Question[Any, Any], row: RowKey
) -> tuple[CellRef, ...]:
    """The same with what those are worked out from in turn, back to what is given."""
    found = dict.fromkeys(rests_on(scenario, so_far, question, row))
    ahead = list(found)
    while ahead:
        cell = ahead.pop()
        new = [each for each in rests_on(scenario, so_far, QUESTIONS[cell.question], cell.row) if each not in found]
        found |= dict.fromkeys(new)
        ahead += new
    return tuple(found)


@lru_cache(maxsize=128)
def sections_rest_on(scenario: Scenario) -> Mapping[str, frozenset[str]]:
    """For each section of the form the others that its values are worked out from directly."""
    key = SoFar(scenario)
    return {
        section.id: frozenset(
            cell.section
            for row in section.rows(scenario)
            for question in section.questions_in(scenario)
            for cell in rests_on(scenario, key, question, row.key)
        )
        - {section.id}
        for section in FORM
    }


class _Watched(SoFar):
    """The values so far, and a note of those that were asked for."""

    def __init__(self, scenario: Scenario, so_far: SoFar) -> None:
        super().__init__(scenario)
        self.used: list[CellRef] = []
        self._so_far = so_far

    def value(self, question: Question[T, Any], row: RowKey) -> T:
        self.used.append(CellRef(question.id, row))
        return self._so_far.value(question, row)
