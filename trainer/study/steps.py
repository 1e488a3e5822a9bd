"""How a row is worked out, step by step, with the numbers of one lab: for whoever has not done it before.

What is done comes from `Question.how`, the numbers from the question's own answer and reason, and the order from what its
answers are worked out from. There is no second rule book.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from trainer.lab.dependencies import rests_on
from trainer.lab.form import CellRef, Question, Row, RowKey, Section, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario

__all__ = ["STEP_HEADINGS", "Step", "Worked", "grouped", "in_working_order", "worked_row"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One cell of a row, and the way to it."""

    question: Question[Any, Any]
    how: str
    """What is done, without numbers."""
    starts_from: str
    """Values of other sheets that it is worked out from: "Subnets 31: Gateway 172.16.4.193"; "" where there are none."""
    reason: str
    value: str

    @property
    def heading(self) -> str:
        return self.question.heading

    @property
    def in_numbers(self) -> str:
        """The same with the lab's numbers: "Prefix length 27: 20 needed + network and broadcast = 22: ..."."""
        start = f" ({self.starts_from})" if self.starts_from else ""
        return f"{self.heading} {self.value}: {self.reason}{start}"


STEP_HEADINGS = ("Step", "What you do", "In another lab", "Word")
"""Of the columns in which a worked row is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A row of a lab, worked out."""

    section: Section[Any]
    row: RowKey
    given: str
    """What is printed of the row: "VLAN 31, Network Tills, Addresses needed 20"; of a row that is written, what it is about."""
    steps: tuple[Step, ...]

    @property
    def title(self) -> str:
        """Of the table that shows it: "Subnets: VLAN 31, Network Tills, Addresses needed 20"."""
        return f"{self.section.title}: {self.given}"

    @property
    def lines(self) -> tuple[tuple[str, str, str, str], ...]:
        """Its steps under STEP_HEADINGS."""
        return tuple(
            (f"{number} {step.heading}", step.how, step.in_numbers, step.question.word)
            for number, step in enumerate(self.steps, 1)
        )


def in_working_order(scenario: Scenario, section: Section[Any]) -> tuple[Question[Any, Any], ...]:
    """The questions of a section, each behind those of its row that it is worked out from; else as on the sheet."""
    key, rows = SoFar(scenario), section.rows(scenario)
    ahead = list(section.questions_in(scenario))
    rests = {question.id: {ref.question for ref in _of_rows(scenario, key, question, rows)} for question in ahead}
    found: list[Question[Any, Any]] = []
    while ahead:
        waiting = {question.id for question in ahead}
        found.append(next(each for each in ahead if not (rests[each.id] - {each.id}) & waiting))
        ahead.remove(found[-1])
    return tuple(found)


def _of_rows(
    scenario: Scenario, key: SoFar, question: Question[Any, Any], rows: Sequence[Row[Any]]
) -> Iterator[CellRef]:
    for row in rows:
        yield from rests_on(scenario, key, question, row.key)


def grouped(scenario: Scenario, section: Section[Any]) -> tuple[tuple[Question[Any, Any], ...], ...]:
    """The questions in working order, those together that follow one another and ask for one concept; each by itself where
    all ask for the same.
    """
    groups: list[list[Question[Any, Any]]] = []
    for question in in_working_order(scenario, section):
        if groups and groups[-1][0].concept is question.concept:
            groups[-1].append(question)
        else:
            groups.append([question])
    if len(groups) == 1:
        groups = [[question] for question in groups[0]]
    return tuple(map(tuple, groups))


def worked_row(scenario: Scenario, section_id: str, row: Row[Any]) -> Worked:
    """A row of a section with the key's values."""
    section, key = SECTIONS[section_id], SoFar(scenario)
    pairs = zip(section.given, row.given, strict=False)
    return Worked(
        section=section,
        row=row.key,
        given=", ".join(f"{heading} {text}" for heading, text in pairs) or str(row.key),
        steps=tuple(
            Step(
                question=question,
                how=question.how(scenario),
                starts_from=_starts_from(scenario, key, question, row.key),
                reason=question.reason(scenario, key, row.key),
                value=question.kind.show(key.value(question, row.key)),
            )
            for question in in_working_order(scenario, section)
        ),
    )


def _starts_from(scenario: Scenario, key: SoFar, question: Question[Any, Any], row: RowKey) -> str:
    """The values of one row of another sheet; of the own sheet they stand in other steps, and where they come from several
    rows the reason tells what matters of them.
    """
    section = question.section
    cells = [cell for cell in rests_on(scenario, key, question, row) if cell.section != section]
    places = {(cell.section, cell.row) for cell in cells}
    if len(places) != 1:
        return ""
    sheet, other_row = places.pop()
    values = [f"{other.heading} {other.kind.show(key.value(other, other_row))}" for other in _questions(cells)]
    return f"{SECTIONS[sheet].title} {other_row}: {', '.join(values)}"


def _questions(cells: Sequence[CellRef]) -> list[Question[Any, Any]]:
    return [QUESTIONS[cell.question] for cell in cells]
