"""A round of short questions: what was typed, and what is said to it. It prints nothing and reads nothing.

The rungs: not yet; a hint, from the second wrong answer on or when asked for; what is wrong and what the network does
(why); the steps, before a try with other numbers; the answer, after a try alone. Nothing is a grade (feedback rules F4, F5, F7).
"""

import random
import re
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
from trainer.study.rules_in_a_line import rule_of
from trainer.study.support import FULL_EXAMPLE, ONLY_GIVEN, OTHER_SETTING, difficulty
from trainer.study.today import RIGHT_A_DAY

__all__ = ["ON_PAGE", "TYPED", "Round", "Wording"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """What is said of the words and buttons by which somebody asks for help."""

    all: tuple[str, ...]
    """What there is."""
    hint: str
    steps: str


TYPED = Wording(
    all=(
        "Type the answer, or one of: hint, why, steps, answer (after a try), skip, quit.",
        "hint leads on, why says what is wrong, steps shows the way, answer is the last resort.",
    ),
    hint="type hint",
    steps="type steps",
)
ON_PAGE = Wording(
    all=("Hint leads on, Why says what is wrong, Steps shows the way, Answer is the last resort.",),
    hint="press Hint",
    steps="press Steps",
)
_TRIES_TO_VARY = 8
"""So many questions are drawn at most before one comes again that is the same sum as one of the round."""
_AGAIN = "The same with other numbers comes again in this round."
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
    told: list[str] = field(default_factory=list)
    """What was said of it, so that nothing is said twice."""


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
    wording: Wording = TYPED
    asking: Asking | None = None
    asked: int = 0
    done: list[Tried] = field(default_factory=list)
    has_left: bool = False
    _again: set[str] = field(default_factory=set)
    """Kinds that have come once more because they went wrong, with other numbers."""
    _met: set[tuple[str, str]] = field(default_factory=set)
    """Questions of this round, as kinds and likenesses."""
    _printed: list[str] = field(default_factory=list)
    """Examples that were shown, in which an answer would stand to be copied."""

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
        for _ in range(_TRIES_TO_VARY):
            question = drawn(ask, self.rng, in_another_setting=level == OTHER_SETTING)
            if not self._is_known(question):
                break
        self._met.add((ask, question.likeness))
        self._printed += question.example if level == FULL_EXAMPLE else ()
        return level, question

    def _is_known(self, question: ShortQuestion) -> bool:
        """Whether it is the same sum as one before, or its answer stands in an example of this round."""
        if not question.likeness:
            return False
        word = re.compile(rf"(?<![\w.]){re.escape(question.answer)}(?![\w.]*\d)")
        return (question.ask, question.likeness) in self._met or any(map(word.search, self._printed))

    def obey(self, line: str) -> tuple[str, ...]:
        """What is said to a typed line. Afterwards `asking` is None where the question is done."""
        asking = self.asking
        assert asking is not None, "somebody asks before anybody answers"
        text = line.strip()
        match text.casefold():
            case "":
                return self.wording.all
            case "hint":
                return self._hint(asking)
            case "why":
                return self._why(asking)
            case "steps" if not asking.tries and asking.question.example:
                asking.rung = max(asking.rung, HINT)
                return asking.question.example
            case "steps" | "answer" if not asking.tries:
                return (f"Try it first: any answer is better than none. Or {self.wording.hint}.",)
            case "steps":
                asking.rung = STEPS
                return (*asking.question.steps, *((_AGAIN,) if self._may_come_again(asking) else ()))
            case "answer":
                asking.shown = True
                line = f"{asking.question.answer}: {'; '.join(asking.question.steps[:-1])}."
                return (line, *self._finish(asking, is_right=False))
            case "skip":
                again = self._finish(asking, is_right=False)
                return ("Left out.", *again) if again else ("Left out. It comes again another day.",)
            case _ if not asking.question.takes(text):
                like = asking.question.written_like
                return (
                    f"{text!r} is no answer to this question, so it is no try. It is written like {like}.",
                    *self.wording.all,
                )
            case _:
                return self._judge(asking, text)

    def _judge(self, asking: Asking, text: str) -> tuple[str, ...]:
        found = asking.question.judge(text)
        asking.tries += 1
        asking.first = found if asking.first is None else asking.first
        if found.is_right:
            lines = self._right(asking)
            return (*lines, *self._finish(asking, is_right=True))
        asking.last = found
        if asking.tries == 1:
            return (f"Not yet. Try once more, or {self.wording.hint}.",)
        return (f"Not yet. {self._hint(asking)[0]}",)

    def _right(self, asking: Asking) -> tuple[str, ...]:
        reason = "; ".join(asking.question.steps[:-1])
        return (f"Right: {reason}.",) if asking.tries == 1 else (f"Right, at try {asking.tries}: {reason}.",)

    def _hint(self, asking: Asking) -> tuple[str, ...]:
        """What leads on and was not said yet: the hint, the rule, what is wrong; then that the steps are left."""
        question, last = asking.question, asking.last
        ahead = [(rule_of(question.ask, question.concept), HINT)]
        if last is not None:
            ahead = [(last.hint, HINT), *ahead, (_reason(last), EXPLANATION)]
        for text, rung in ahead:
            if text and text not in asking.told:
                asking.rung = max(asking.rung, rung)
                asking.told.append(text)
                return (text,)
        return (f"That was every hint. To see how it is worked out, {self.wording.steps}.",)

    def _why(self, asking: Asking) -> tuple[str, ...]:
        if asking.last is None:
            return (f"Nothing is wrong yet. Answer, or {self.wording.hint}.",)
        asking.rung = max(asking.rung, EXPLANATION)
        asking.told.append(_reason(asking.last))
        return (_reason(asking.last),)

    def _finish(self, asking: Asking, *, is_right: bool) -> tuple[str, ...]:
        """Notes the try; a question that was left out before any try, and without help, is none. Says whether it comes again."""
        self.asking = None
        question, first = asking.question, asking.first
        if first is None and not asking.rung and not asking.shown:
            return ()
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
            return () if asking.rung == STEPS else (_AGAIN,)
        return ()

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
    rule = (rule_of(question.ask, question.concept),)
    if level == FULL_EXAMPLE:
        return question.example or rule
    return rule if level < ONLY_GIVEN else ()


def _reason(found: Judged) -> str:
    return " ".join(filter(None, (found.explanation, found.consequence)))


def _counted(kinds: Mapping[str, int]) -> str:
    return "; ".join(f"{name} {count} times" if count > 1 else name for name, count in kinds.items())
