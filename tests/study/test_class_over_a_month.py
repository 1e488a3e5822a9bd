"""A simulated class that practises over a month with the real command: nobody gets stuck, never too much is due, and what
is secure stays known.

A learner has a skill for each concept, in logits beside the standard exercise, that grows with each question and fades a
little with each day. Whether an answer is right is drawn from it. Most practise on most days.
"""

import os
import random
from collections import Counter
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import pytest
from learners import Desk, commands, typing_at

from trainer.commands import practise as practise_command
from trainer.commands import quick, start
from trainer.commands.demo_class import key_texts
from trainer.commands.lab_log import LabLog
from trainer.commands.practice_labs import exercise_called, practice_folder, take_up
from trainer.commands.study_world import StudyWorld
from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef
from trainer.lab.key import derive_key
from trainer.lab.questions import QUESTIONS
from trainer.marking.marks import Verdict
from trainer.marking.practice import Progress, SeenCell
from trainer.sheets.filling import fill_in
from trainer.study.asks import concept_of
from trainer.study.happens import HAPPENS
from trainer.study.labs import Wanted, support_for
from trainer.study.next_lab import ShortLab
from trainer.study.replay import Study, replayed
from trainer.study.support import chance
from trainer.study.today import of_today
from trainer.study_files import log_of

MOST_DUE = 15
LEARNT, FADES = 0.35, 0.02
"""Logits that a question adds, and that a day takes."""


@dataclass
class Learner:
    """Somebody who answers by skill."""

    rng: random.Random
    start: int
    skill: Counter[Concept] = field(default_factory=Counter)
    asked: int = 0
    labs: int = 0

    def knows(self, concept: Concept, help_given: int) -> bool:
        """Whether an answer is right; a full example and a rule make it likelier."""
        theta = self.start + self.skill[concept] + {1: 1.5, 2: 0.8, 3: 0.4}.get(help_given, 0.0)
        self.skill[concept] += LEARNT
        self.asked += 1
        return self.rng.random() < chance(theta)

    def sleep(self) -> None:
        for concept in self.skill:
            self.skill[concept] = max(0.0, self.skill[concept] - FADES)


def practise(learner: Learner, out: Path, day: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """One session: Enter, eight questions or so, quit. A wrong answer is followed by a hint, a second try, the answer."""
    asking: list[quick.Round] = []
    ask_next = quick.Round.ask_next

    def noted(asked: quick.Round) -> tuple[str, ...]:
        asking[:] = [asked]
        return ask_next(asked)

    lines = [str(learner.start + 2)] if day == 0 else []
    lines += ["", "", "quit"]

    def answer(prompt: str) -> str | None:
        asked = asking[0].asking if asking else None
        if asked is None:
            return "" if "read it" in prompt else lines.pop(0)
        question = asked.question
        right = question.answer[0] if question.ask in HAPPENS else question.answer
        if asked.tries == 0 and asked.rung == 0:
            return right if learner.knows(question.concept, asked.level) else wrong_answer(question.ask, right)
        return "hint" if asked.rung == 0 else right

    monkeypatch.setattr(quick.Round, "ask_next", noted)
    world = typing_at(answer, day, learner.rng)

    def lab(following: ShortLab) -> int:
        learner.labs += 1
        (fill_in_a_workbook if learner.labs == 1 else fill_in_cells)(learner, following, out, day, world)
        return 0

    start.run(out, start.Wishes(), commands(next_lab=lab), world=world)
    monkeypatch.undo()


def fill_in_a_workbook(learner: Learner, lab: ShortLab, out: Path, _day: int, world: StudyWorld) -> None:
    """The lab by the real command: what the learner knows first, then all that is right, then quit."""
    saves = 0
    time = 0.0

    def typed() -> str | None:
        nonlocal saves, time
        time += 1
        if time % 4 != 1:  # time to look at the save
            return None
        saves += 1
        if saves > 2:
            return "quit"
        sitting = practice_folder(exercise_called(lab.exercise).exercise, out)
        scenario = sitting.scenario(sitting.register().labs[-1].lab)
        file, filled_in = sitting.handout_file(scenario), sitting.progress(scenario.lab_number).filled_in
        right = {cell: text for cell, text in key_texts(scenario).items() if cell.section in scenario.asked}
        if saves == 1:
            support = sitting.progress(scenario.lab_number).support
            right = {
                cell: text if cell in filled_in or learner.knows(of_cell(cell), support) else "203.0.113.7"
                for cell, text in right.items()
            }
        file.write_bytes(fill_in(file.read_bytes(), scenario, right))
        return None

    around = practise_command.Surroundings(typed=typed, clock=lambda: time, sleep=lambda _: None)
    practise_command.run(
        lab.exercise,
        out,
        once=None,
        new=False,
        wanted=Wanted(sheets=lab.sheets),
        new_if_done=True,
        around=around,
        world=world,
    )


def of_cell(cell: CellRef) -> Concept:
    concept = QUESTIONS[cell.question].concept
    assert isinstance(concept, Concept)
    return concept


@cache
def drawn_lab(exercise: str, sheets: tuple[str, ...], support: int, folder: Path) -> Progress:
    """A lab as it is handed out, one for all who get such a lab: its cells, none of them tried."""
    practised = exercise_called(exercise)
    sitting = practice_folder(practised.exercise, folder)
    scenario = take_up(practised, sitting, Wanted(sheets=sheets, support=support), new=True).scenario
    cells = [cell for cell in derive_key(scenario).values if cell.section in scenario.asked]
    seen = tuple(SeenCell(cell=cell, verdict=Verdict.BLANK, tries=0) for cell in cells)
    return replace(sitting.progress(scenario.lab_number), seen=seen)


def fill_in_cells(learner: Learner, lab: ShortLab, out: Path, day: int, world: StudyWorld) -> None:
    """The same without a workbook: what a look at it would note, for all labs but a learner's first."""
    log = log_of(out, None)
    support = support_for(replayed(log.read(), concept_of), exercise_called(lab.exercise).exercise, lab.sheets)
    handed_out = replace(drawn_lab(lab.exercise, lab.sheets, support, out.parent), lab=f"LAB-{day}")
    noted = LabLog(log, world)
    noted.begin()
    seen = []
    for each in handed_out.seen:
        knows = each.cell in handed_out.filled_in or learner.knows(of_cell(each.cell), support)
        first = Verdict.RIGHT if knows else Verdict.WRONG
        seen.append(replace(each, verdict=Verdict.RIGHT, first=first))
    assert noted.end(replace(handed_out, seen=tuple(seen)), handed_out) is not None


def wrong_answer(ask: str, right: str) -> str:
    """Something that is a try and is not right; no lab has such an address."""
    return next(letter for letter in "abcd" if letter != right) if ask in HAPPENS else "203.0.113.7"


def studied(out: Path) -> Study:
    return replayed(log_of(out, None).read(), concept_of)


def check_a_class(people: int, days: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Study]:
    found = []
    for number in range(people):
        rng = random.Random(number)
        learner, out = Learner(rng=rng, start=number % 3 - 1), tmp_path / str(number)
        was_secure: set[Concept] = set()
        lost = 0
        for day in range(days):
            if day and rng.random() < 0.15:
                learner.sleep()
                continue
            if day:
                today = of_today(studied(out), Desk(day=day).world.moment.day)
                assert len(today.due) <= MOST_DUE, (number, day, today.due)
                assert today.due or today.next or today.lab or len(studied(out).secure) == len(Concept), "stuck"
            before = learner.asked
            practise(learner, out, day, monkeypatch)
            knows_all = len(studied(out).secure) == len(Concept)
            assert learner.asked > before or knows_all, f"learner {number} found nothing to do on day {day}"
            learner.sleep()
            secure = set(studied(out).secure)
            lost += len(was_secure - secure)
            was_secure = secure
        assert lost <= 2, f"learner {number} lost {lost} concepts that were secure"
        found.append(studied(out))
    return found


def test_a_learner_over_three_days(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (found,) = check_a_class(1, 3, tmp_path, monkeypatch)
    assert found.concepts[Concept.SIZE].theta > (found.start or 0)


@pytest.mark.many
def test_a_class_over_a_month(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """200 people over 30 days with TRAINER_NIGHTLY, which takes half an hour; else two over six days."""
    people, days, slowest, middle = (200, 30, 3, 6) if os.environ.get("TRAINER_NIGHTLY") else (2, 6, 0, 1)
    found = check_a_class(people, days, tmp_path, monkeypatch)
    secure = sorted(len(each.secure) for each in found)
    assert secure[0] >= slowest, "the slowest can cut a block up"
    assert secure[people // 2] >= middle
    assert all(each.concepts[Concept.SIZE].theta > (each.start or 0) + 1 for each in found), "all get on"
