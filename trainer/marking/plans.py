"""The plans that one form is marked by: the key's, the trainee's own as far as something may follow from it, and as written."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from trainer.lab.answers import ReadForm
from trainer.lab.form import Answers, CellRef, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS, subnets
from trainer.lab.scenario import Scenario
from trainer.marking.free_plan import FreePlan, free_plan
from trainer.marking.plan_view import PlanView
from trainer.marking.written_routes import Forwarding

__all__ = ["Plans", "plans_of"]

_COPIES = 3
"""So many times the same value is no plan but a copy, and nothing follows from it (R5). Twice may be a slip, and is charged
as one."""


@dataclass(frozen=True, kw_only=True)
class Plans:
    """One form as it was read, and the plans it is marked by."""

    scenario: Scenario
    read: ReadForm
    given: Mapping[CellRef, Any]
    """Written values from which later ones may follow; none where the exercise follows nothing through."""
    copied: frozenset[CellRef]
    """Cells that hold what another one holds although they must differ: no right idea is seen in them."""
    key: SoFar
    so_far: SoFar
    """The trainee's own plan: usable values of those given, the key's elsewhere."""
    beyond: SoFar
    """The same with values that cannot be, such as addresses outside the block: what follows from these counts half (R4)."""
    free: FreePlan
    """What is found of the network cells where their places are the trainee's choice."""
    as_written: SoFar
    """All readable values, those too from which nothing may follow; the key's elsewhere."""

    @property
    def answers(self) -> Answers:
        return self.read.answers

    @cached_property
    def has_choices(self) -> bool:
        """Whether some answer is the trainee's own choice; asked of every cell."""
        return self.scenario.rules.has_choices

    def with_values(self, given: Mapping[CellRef, Any]) -> SoFar:
        """The plan that such values make; the key's where they are not usable."""
        return SoFar(self.scenario, given, self.key)

    @cached_property
    def with_right_sizes(self) -> SoFar:
        """The trainee's own plan with networks of the right sizes: a wrong size is charged there and not in every place."""
        return self.with_values(
            {cell: value for cell, value in self.given.items() if cell.question != subnets.PREFIX_LENGTH_OF.id}
        )

    @cached_property
    def view(self) -> PlanView:
        """The form as mistakes look at it."""
        return PlanView(
            scenario=self.scenario,
            answers=self.answers,
            texts=self.read.texts,
            so_far=self.so_far,
            as_written=self.as_written,
            key=self.key,
            forwarding=self.forwarding,
            free=self.free,
        )

    @cached_property
    def forwarding(self) -> Forwarding:
        """Where the written routes take packets, in the trainee's own plan."""
        return Forwarding(self.scenario, self.answers, self.so_far, self.key)


def plans_of(scenario: Scenario, read: ReadForm) -> Plans:
    """The plans of a form. Only cells that are asked for count."""
    asked = {question.id for section in scenario.asked for question in SECTIONS[section].questions_in(scenario)}
    written = {cell: value for cell, value in read.answers.values.items() if cell.question in asked}
    key = SoFar(scenario)
    free = free_plan(scenario, written, key)
    given: dict[CellRef, Any] = {}
    if scenario.rules.follow_through:
        own = _without_one_for_all(_without_what_is_given(scenario, written), key)
        given = _without_repeated(own, _COPIES) | dict(free.meant)
    return Plans(
        scenario=scenario,
        read=read,
        given=given,
        copied=frozenset(written.keys() - _without_repeated(written, 2).keys()),
        key=key,
        so_far=SoFar(scenario, {**free.left, **given}, key) if scenario.rules.follow_through else key,
        beyond=SoFar(scenario, _without_copies_of_what_cannot_be(scenario, given), key, takes_all=True),
        free=free,
        as_written=SoFar(scenario, written, key, takes_all=True),
    )


def _without_repeated(given: Mapping[CellRef, Any], many: int) -> dict[CellRef, Any]:
    """Without values that are written so many times or more where each device or network has its own, or three times in a row:
    as a link's network and both its ends.
    """
    differ = {cell: what for cell in given if (what := QUESTIONS[cell.question].must_differ)}
    counts = Counter((what, given[cell]) for cell, what in differ.items())
    in_row = Counter((cell.section, cell.row, given[cell]) for cell in differ)

    def is_copy(cell: CellRef, value: Any) -> bool:
        section = cell.section
        return counts[differ[cell], value] >= many or in_row[section, cell.row, value] >= _COPIES

    return {cell: value for cell, value in given.items() if cell not in differ or not is_copy(cell, value)}


def _without_one_for_all(given: Mapping[CellRef, Any], key: SoFar) -> dict[CellRef, Any]:
    """Without a length that is written for three networks or more, each of which has one of its own: such as /24 throughout."""
    rows: dict[tuple[str, Any], list[CellRef]] = defaultdict(list)
    for cell, value in given.items():
        if QUESTIONS[cell.question].given_to_copy is not None:
            rows[cell.question, value].append(cell)
    copied: set[CellRef] = set()
    for cells in rows.values():
        if len({key.value(QUESTIONS[cell.question], cell.row) for cell in cells}) >= _COPIES:
            copied.update(cells)
    return {cell: value for cell, value in given.items() if cell not in copied}


def _without_what_is_given(scenario: Scenario, written: Mapping[CellRef, Any]) -> dict[CellRef, Any]:
    """Without what the Brief gives where it is written for several rows, as the block's own length for several networks: that
    is copied, while one may be taken for the whole block by mistake (R4).
    """
    given = {question.id: question.given_to_copy(scenario) for question in QUESTIONS.values() if question.given_to_copy}
    copies = {cell for cell, value in written.items() if cell.question in given and value == given[cell.question]}
    counts = Counter(cell.question for cell in copies)
    return {cell: value for cell, value in written.items() if cell not in copies or counts[cell.question] < 2}


def _without_copies_of_what_cannot_be(scenario: Scenario, given: Mapping[CellRef, Any]) -> dict[CellRef, Any]:
    """Without values that cannot be and are written twice: under one question, or in two cells of a network that must differ.

    Those are copied from somewhere, and nothing follows from a copy (R4).
    """
    unusable = {cell for cell, value in given.items() if not QUESTIONS[cell.question].is_usable(scenario, value)}
    by_question = Counter((cell.question, given[cell]) for cell in unusable)
    differ = {cell for cell in unusable if QUESTIONS[cell.question].differs_in_row}
    in_row = Counter((cell.section, cell.row, given[cell]) for cell in differ)
    copied = {
        cell
        for cell in unusable
        if by_question[cell.question, given[cell]] > 1
        or (cell in differ and in_row[cell.section, cell.row, given[cell]] > 1)
    }
    return {cell: value for cell, value in given.items() if cell not in copied}
