"""A round of short questions: what was typed, and what is said to it. It prints nothing and reads nothing.

The rungs: not yet; a hint, from the second wrong answer on or when asked for; what is wrong and what the network does
(why); the steps; the answer, after a try alone. Nothing is a grade (feedback rules F4, F5, F7).
"""

import random
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from trainer.lab.concepts import Concept
from trainer.marking.practice import EXPLANATION, HINT, STEPS
from trainer.study.asks import called_kind, concept_of, drawn
from trainer.study.events import Tried
from trainer.study.question import Judged, ShortQuestion
from trainer.study.quick_lab import QUICK
from trainer.study.replay import score
from trainer.study.rules_in_a_line import RULES
from trainer.study.support import FULL_EXAMPLE, ONLY_GIVEN, OTHER_SETTING, difficulty
from trainer.study.today import RIGHT_A_DAY

__all__ = ["WORDS", "Round"]

WORDS = (
    "Type the answer, or one of: hint, why, steps, answer (after a try), skip, quit.",
    "hint leads on, why says what is wrong, steps shows the way, answer is the last resort.",
)
_MOST = 12
"""Questions in a round, with those that come again because they went wrong."""


@dataclass(slots=True)
class Asking:
    """A question that is being asked."""

    question: ShortQuestion
    level: int
    """Of support, 1 to 5."""
    first: Judged | None = None
    last: Judged | None = None
    """What was found of the last wrong answer."""
    tries: int = 0
    rung: int = 0
    shown: bool = False


@dataclass(slots=True)
class Round:
    """Questions one after the other. level_of: the level of support of a concept, as it was when the session began."""

    session: str
    rng: random.Random
    waiting: list[str]
    """Kinds still to be asked, in order."""
    level_of: Callable[[Concept], int]
    right_before: Mapping[str, int]
    """By kind: right today before this round."""
    asking: Asking | None = None
    asked: int = 0
    done: list[Tried] = field(default_factory=list)
    has_left: bool = False
    _again: set[str] = field(default_factory=set)
    """Kinds that have come once more because they went wrong, with other numbers."""

    def ask_next(self) -> tuple[str, ...]:
        """Draws the next question and gives its lines; nothing where none is left."""
        while self.waiting and self._right_today(self.waiting[0]) >= RIGHT_A_DAY:
            self.waiting.pop(0)
        if not self.waiting:
            self.asking = None
            return ()
        ask = self.waiting.pop(0)
        self.asked += 1
        level, question = self._drawn(ask)
        self.asking = Asking(question=question, level=level)
        head = f"{self.asked} of {self.asked + len(self.waiting)}, {called_kind(ask)}"
        return (head, *question.prompt, *_beside(question, level))

    def _drawn(self, ask: str) -> tuple[int, ShortQuestion]:
        concept = concept_of(ask)
        assert concept is not None, "a kind that waits is known"
        level = self.level_of(concept)
        return level, drawn(ask, self.rng, in_another_setting=level == OTHER_SETTING)

    def obey(self, line: str) -> tuple[str, ...]:
        """What is said to a typed line. Afterwards `asking` is None where the question is done."""
        asking = self.asking
        assert asking is not None, "somebody asks before anybody answers"
        text = line.strip()
        match text.casefold():
            case "":
                return WORDS
            case "hint":
                return self._hint(asking)
            case "why":
                return self._why(asking)
            case "steps":
                asking.rung = STEPS
                more = (
                    ("The same with other numbers comes again in this round.",) if self._may_come_again(asking) else ()
                )
                return (*asking.question.steps, *more)
            case "answer" if not asking.tries and asking.rung < STEPS:
                return ("Try it first: any answer is better than none. Or type steps.",)
            case "answer":
                asking.shown = True
                lines = (f"{asking.question.answer}: {'; '.join(asking.question.steps[:-1])}.",)
                self._finish(asking, is_right=False)
                return lines
            case "skip":
                self._finish(asking, is_right=False)
                return ("Left out. It comes again another day.",)
            case _ if not asking.question.takes(text):
                return (f"{text!r} is no answer to this question, so it is no try.", *WORDS)
            case _:
                return self._judge(asking, text)

    def _judge(self, asking: Asking, text: str) -> tuple[str, ...]:
        found = asking.question.judge(text)
        asking.tries += 1
        asking.first = found if asking.first is None else asking.first
        if found.is_right:
            lines = self._right(asking)
            self._finish(asking, is_right=True)
            return lines
        asking.last = found
        if asking.tries == 1:
            return ("Not yet. Try once more, or type hint.",)
        asking.rung = max(asking.rung, HINT)
        return (f"Not yet. {found.hint or found.explanation}",)

    def _right(self, asking: Asking) -> tuple[str, ...]:
        reason = "; ".join(asking.question.steps[:-1])
        return (f"Right: {reason}.",) if asking.tries == 1 else (f"Right, at try {asking.tries}: {reason}.",)

    def _hint(self, asking: Asking) -> tuple[str, ...]:
        if asking.rung >= HINT and asking.last is not None:
            return self._why(asking)
        asking.rung = max(asking.rung, HINT)
        hint = asking.last.hint if asking.last is not None else ""
        return (hint or RULES[asking.question.concept],)

    def _why(self, asking: Asking) -> tuple[str, ...]:
        if asking.last is None:
            return ("Nothing is wrong yet. Type an answer, or hint.",)
        asking.rung = max(asking.rung, EXPLANATION)
        return (" ".join(filter(None, (asking.last.explanation, asking.last.consequence))),)

    def _finish(self, asking: Asking, *, is_right: bool) -> None:
        """Notes the try; a question that was left out before any try, and without help, is none."""
        self.asking = None
        question, first = asking.question, asking.first
        if first is None and not asking.rung and not asking.shown:
            return
        tried = Tried(
            session=self.session,
            lab=QUICK,
            ask=question.ask,
            row=question.row,
            first="blank" if first is None else first.verdict,
            mistake="" if first is None else first.mistake,
            rung=asking.rung,
            shown=asking.shown,
            right=is_right,
            support=asking.level,
            d=difficulty(asking.level),
        )
        self.done.append(tried)
        if score(tried) < 1 and self._may_come_again(asking):
            self._again.add(question.ask)
            self.waiting.append(question.ask)

    def _may_come_again(self, asking: Asking) -> bool:
        """Whether the kind has its place once more in this round."""
        return asking.question.ask not in self._again and self.asked + len(self.waiting) < _MOST

    def leave(self) -> None:
        """Somebody leaves in the middle: a question that was tried, or helped with, counts as not right."""
        self.has_left = True
        if self.asking is not None:
            self._finish(self.asking, is_right=False)

    def _right_today(self, ask: str) -> int:
        return self.right_before.get(ask, 0) + sum(each.ask == ask and score(each) == 1 for each in self.done)

    def summary(self) -> tuple[str, ...]:
        """What went right at the first try and what went with help. No score."""
        alone = Counter(called_kind(each.ask) for each in self.done if score(each) == 1)
        helped = Counter(called_kind(each.ask) for each in self.done if score(each) < 1)
        lines = []
        if alone:
            lines.append(f"Right at the first try: {_counted(alone)}.")
        if helped:
            lines.append(f"With help, or not yet: {_counted(helped)}.")
        return tuple(lines)


def _beside(question: ShortQuestion, level: int) -> tuple[str, ...]:
    """What stands beside the question by the level of support."""
    if level == FULL_EXAMPLE:
        return tuple(filter(None, (question.example or RULES[question.concept],)))
    return (f"Rule: {RULES[question.concept]}",) if level < ONLY_GIVEN else ()


def _counted(kinds: Mapping[str, int]) -> str:
    return "; ".join(f"{name} {count} times" if count > 1 else name for name, count in kinds.items())
