"""A simulated class that practises over a month with the real command: nobody gets stuck, never too much is due, and what
is secure stays known.

A learner has a skill for each concept, in logits beside the standard exercise, that grows with each question and fades a
little with each day. Whether an answer is right is drawn from it. Most practise on most days.
"""

import os
import random
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from learners import Desk, typing_at

from trainer.commands import quick, start
from trainer.lab.concepts import Concept
from trainer.study.asks import concept_of
from trainer.study.happens import HAPPENS
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
    lines += ["", "quit"]

    def answer(_prompt: str) -> str | None:
        asked = asking[0].asking if asking else None
        if asked is None:
            return lines.pop(0)
        question = asked.question
        right = question.answer[0] if question.ask in HAPPENS else question.answer
        if asked.tries == 0 and asked.rung == 0:
            return right if learner.knows(question.concept, asked.level) else wrong_answer(question.ask, right)
        return "hint" if asked.rung == 0 else right

    monkeypatch.setattr(quick.Round, "ask_next", noted)
    world = typing_at(answer, day, learner.rng)
    start.run(out, start.Wishes(), lab=lambda _: 0, others={}, world=world)
    monkeypatch.undo()


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
                assert today.due or today.next or len(studied(out).secure) == len(Concept), "stuck"
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
