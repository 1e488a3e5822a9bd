"""What a cell asks of whoever fills it in: to copy, to repeat an earlier value, or to work one out.

It is found out from what the question's `answer` asks for, and from whether the value hangs on how large the networks are.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from enum import Enum
from typing import Any

from trainer.lab.dependencies import rests_on
from trainer.lab.form import Question, RowKey, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario

__all__ = ["Effort", "effort_by_section", "effort_of"]


class Effort(Enum):
    """What it takes to come by the right value of a cell."""

    COPIED = "copied"
    """It is printed on sheet Given, or a word that is always the same."""
    REPEATED = "repeated"
    """It is the value of an earlier cell."""
    WORKED_OUT = "worked out"
    """It is reckoned, or put together of several things."""


def effort_by_section(scenario: Scenario) -> Mapping[str, Mapping[Effort, int]]:
    """For each section that is asked how many of its cells ask for what."""
    so_far = SoFar(scenario)
    return {section: Counter(_of_section(scenario, so_far, section)) for section in scenario.asked}


def effort_of(scenario: Scenario, so_far: SoFar, question: Question[Any, Any], row: RowKey) -> Effort:
    """so_far: the key's values; row: as the key calls it. Whatever is asked about faults is concluded, not read."""
    if question.kind.is_set or scenario.repair is not None:
        return Effort.WORKED_OUT
    value = so_far.value(question, row)
    rests = rests_on(scenario, so_far, question, row)
    for cell in rests:
        earlier = QUESTIONS[cell.question]
        if so_far.value(earlier, cell.row) == value:
            is_copy = effort_of(scenario, so_far, earlier, cell.row) is Effort.COPIED
            return Effort.COPIED if is_copy else Effort.REPEATED
    return Effort.WORKED_OUT if rests or _is_reckoned(scenario, question, row, value) else Effort.COPIED


def _of_section(scenario: Scenario, so_far: SoFar, section: str) -> Iterator[Effort]:
    of = SECTIONS[section]
    for row in of.rows(scenario):
        for question in of.questions_in(scenario):
            yield effort_of(scenario, so_far, question, row.key)


def _is_reckoned(scenario: Scenario, question: Question[Any, Any], row: RowKey, value: Any) -> bool:
    """Whether it is another value where every network needs more than twice as many addresses."""
    vlans = tuple(replace(vlan, addresses_needed=2 * vlan.addresses_needed + 2) for vlan in scenario.vlans)
    larger = replace(scenario, vlans=vlans)
    return bool(SoFar(larger).value(question, row) != value)
