"""A short question of the first kind: one cell of a lab that is right but for it, marked as the form's cells are."""

import random
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from trainer.lab.answers import CellText, FilledForm, read_answers
from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef, Question, RowKey, SoFar, section_of
from trainer.lab.key import derive_key
from trainer.lab.kinds import ADDRESS, tidy
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.cells import CellMarker
from trainer.marking.parallel import Parallel
from trainer.marking.plans import plans_of
from trainer.study.prompts import CELL_ASKS
from trainer.study.question import Judged

__all__ = ["CellQuestion", "cell_question", "rows_asked"]


@dataclass(frozen=True, kw_only=True)
class CellQuestion:
    """One cell of a lab."""

    scenario: Scenario
    question: Question[Any, Any]
    key_row: RowKey
    """As the key calls it."""

    @property
    def ask(self) -> str:
        return self.question.id

    @property
    def row(self) -> str:
        return str(self.key_row)

    @property
    def concept(self) -> Concept:
        concept = self.question.concept
        assert isinstance(concept, Concept), "nothing about faults is asked alone"
        return concept

    @cached_property
    def key(self) -> SoFar:
        """The lab's right values."""
        return SoFar(self.scenario)

    @cached_property
    def expected(self) -> Any:
        """The right value."""
        return self.key.value(self.question, self.key_row)

    @property
    def prompt(self) -> tuple[str, ...]:
        return (CELL_ASKS[self.ask].prompt(self.scenario, self.key, self.key_row),)

    @property
    def likeness(self) -> str:
        """The lengths that are printed and the end of the answer."""
        printed = re.findall(r"/\d+", " ".join(self.prompt))
        return " ".join((*printed, self.answer.rpartition(".")[2] if printed else self.answer))

    @property
    def example(self) -> tuple[str, ...]:
        if not Parallel(self.scenario).example(self.question, self.key_row, self.expected):
            return ()  # copied, or it would have the answer in it
        other, row = Parallel(self.scenario).same(self.key_row, self.question.section)
        if not CELL_ASKS[self.ask].is_for(other, row):
            return ()
        there = CellQuestion(scenario=other, question=self.question, key_row=row)
        return (f"Example: {there.prompt[0]}", f"  {'; '.join(there.steps)}")

    @property
    def steps(self) -> tuple[str, ...]:
        why = _without_rules(self.question.reason(self.scenario, self.key, self.key_row))
        parts = [each.strip() for each in re.split(r";(?![^()]*\))", why)]
        return (*parts, f"so {self.answer}")

    @property
    def answer(self) -> str:
        return self.question.kind.show(self.expected)

    def takes(self, text: str) -> bool:
        """Digits, or a word that the question knows; of an address more than the last number, which may have been meant as a
        part of it.
        """
        tidied = tidy(text)
        if self.question.kind.can_read(tidied):
            return True
        is_part = self.question.kind.name == ADDRESS.name and re.fullmatch(r"[.,]?\d+", tidied) is not None
        return any(each.isdigit() for each in tidied) and not is_part

    @property
    def written_like(self) -> str:
        return self.question.kind.example

    def judge(self, text: str) -> Judged:
        """The mark of this cell in a form in which all others are right."""
        row = self._row_on_sheet
        form = self._filled({CellRef(self.ask, row): CellText(text)})
        cells = CellMarker(plans_of(self.scenario, read_answers(form)))
        mark = cells.written(self.question, row, self.key_row, Fraction(1)).mark
        said = mark.explanation
        return Judged(
            is_right=mark.verdict.is_full,
            verdict=mark.verdict.value,
            mistake="" if said is None else said.mistake,
            explanation="" if said is None else said.explanation,
            consequence="" if said is None else said.consequence,
            hint="" if said is None else said.hint,
        )

    @cached_property
    def _row_on_sheet(self) -> RowKey:
        section = SECTIONS[section_of(self.ask)]
        if section.open is None:
            return self.key_row
        keys = [row.key for row in section.rows(self.scenario)]
        return section.open.named(keys.index(self.key_row) + 1)

    def _filled(self, texts: dict[CellRef, CellText]) -> FilledForm:
        """The whole form as the key fills it in, with other texts in some cells."""
        right: dict[CellRef, CellText] = {}
        rows: dict[str, tuple[RowKey, ...]] = {}
        values = derive_key(self.scenario).values
        for section_id in self.scenario.asked:
            section = SECTIONS[section_id]
            keys = [row.key for row in section.rows(self.scenario)]
            names: list[RowKey] = (
                [*keys] if section.open is None else [*map(section.open.named, range(1, len(keys) + 1))]
            )
            if section.open is not None:
                rows[section_id] = tuple(names)
            for key, name in zip(keys, names, strict=True):
                for question in section.questions_in(self.scenario):
                    shown = question.kind.show(values[CellRef(question.id, key)])
                    right[CellRef(question.id, name)] = CellText(shown)
        return FilledForm(texts={**right, **texts}, rows=rows)


def _without_rules(text: str) -> str:
    """The text without the rules of a Brief that it names, for a short question has none; what they say is printed."""
    return re.sub(r"\brule [A-Z]\w+: ", "", text)


def rows_asked(scenario: Scenario, ask: str) -> tuple[RowKey, ...]:
    """The rows of a lab that a question is asked of alone."""
    section = SECTIONS[section_of(ask)]
    return tuple(row.key for row in section.rows(scenario) if CELL_ASKS[ask].is_for(scenario, row.key))


def cell_question(ask: str, scenario: Scenario, rng: random.Random) -> CellQuestion:
    """One of the lab's cells that the question asks for."""
    return CellQuestion(scenario=scenario, question=QUESTIONS[ask], key_row=rng.choice(rows_asked(scenario, ask)))
