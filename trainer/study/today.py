"""What is due today, what comes next and why."""

import random
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import zip_longest

from trainer.lab.concepts import Concept
from trainer.listing import listed
from trainer.study.asks import KINDS, concept_of
from trainer.study.next_lab import ShortLab, is_time_for_a_lab, lab_about, whole_lab
from trainer.study.order import RESTS_ON, is_open, leads_to
from trainer.study.replay import SECURE_FROM, Study

__all__ = [
    "AT_ONCE",
    "RIGHT_A_DAY",
    "Today",
    "of_concept",
    "of_today",
    "questions_ahead",
    "round_before_next",
    "round_of",
    "round_of_today",
    "weak",
    "why_next",
]

AT_ONCE = 8
"""Questions in a round, about five minutes."""
RIGHT_A_DAY = 3
"""After three right a kind rests for the day: nine in one session were no better than three after one and four weeks
(Rohrer and Taylor 2006)."""


_MOST_WEAK = 3
"""Concepts of marked work that are taken up at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """What stands on the start screen."""

    day: date
    """Today; never before the last day of the log, whatever the clock says."""
    is_clock_back: bool
    """Whether the clock says an earlier day than the log."""
    due: tuple[str, ...]
    """Kinds of questions that come back today, the longest due first."""
    next: Concept | None
    """The earliest open concept that is not secure and not done for today."""
    lab: ShortLab | None
    """The lab that comes next, for the next concept or, where all are secure, as a whole; None where short questions do, or
    nothing.
    """
    rests: tuple[Concept, ...]
    """Open concepts that are not secure, and that are done for today."""
    waits: Concept | None
    """The first concept that is not open yet."""
    right: Mapping[str, int]
    """By kind: right answers at the first try today."""


def of_today(study: Study, today: date) -> Today:
    """today: the date by the clock."""
    day = today if study.last is None else max(today, study.last.day)
    right = study.right_on_last_day if study.days and study.days[-1] == day else {}
    known = {ask for kinds in KINDS.values() for ask in kinds}
    due = sorted((card.due, ask) for ask, card in study.cards.items() if ask in known and card.due <= day)
    is_back = [(ask, study.cards[ask].last) for _, ask in due]
    opened = [each for each in Concept if is_open(each, study.secure) and not study.concepts[each].is_secure]
    rests = tuple(each for each in opened if _is_done(each, right))
    following = next((each for each in opened if each not in rests), None)
    return Today(
        day=day,
        is_clock_back=day != today,
        due=tuple(ask for ask, last in is_back if last < day),
        next=following,
        lab=_lab(following, study, day),
        rests=rests,
        waits=next((each for each in Concept if not is_open(each, study.secure)), None),
        right=right,
    )


def _lab(following: Concept | None, study: Study, day: date) -> ShortLab | None:
    if following is not None:
        return lab_about(following, study) if is_time_for_a_lab(following, study, day) else None
    return whole_lab(study, day) if len(study.secure) == len(Concept) else None


def _is_done(concept: Concept, right: Mapping[str, int]) -> bool:
    """Whether as much was right today as a day needs: three, or one of each kind."""
    kinds = KINDS[concept]
    return sum(right.get(each, 0) for each in kinds) >= max(RIGHT_A_DAY, len(kinds))


def why_next(concept: Concept, waits: Concept | None, secure: Collection[Concept]) -> str:
    """Why it comes next, in a few words. waits: the first concept that is not open yet."""
    after = [each.title for each in leads_to(concept)]
    if after:
        return f"{listed(after)} {'depends' if len(after) == 1 else 'depend'} on it"
    if waits is not None:
        first = listed([each.title for each in RESTS_ON[waits] if each not in secure])
        return f"it needs nothing before it; {waits.title} opens once {first} is secure"
    return "it needs nothing before it" if not RESTS_ON[concept] else "it is the last one"


def weak(judged: Mapping[Concept, tuple[int, int]]) -> tuple[Concept, ...]:
    """The concepts of marked work to begin with, at most three, in the order in which they rest on each other.

    judged: how many cells of each were right, and how many were asked.
    """
    found = [concept for concept in Concept if concept in judged and _is_weak(*judged[concept])]
    return tuple(found[:_MOST_WEAK])


def _is_weak(right: int, asked: int) -> bool:
    return right < SECURE_FROM * asked


def round_of(concepts: Sequence[Concept], right: Mapping[str, int]) -> tuple[str, ...]:
    """A round about these concepts, in turn; nothing where there are none."""
    if not concepts:
        return ()
    share = -(-AT_ONCE // len(concepts))
    by_concept = [of_concept(each, right, share) for each in concepts]
    in_turn = [ask for asks in zip_longest(*by_concept) for ask in asks if ask is not None]
    return tuple(in_turn[:AT_ONCE])


def round_of_today(today: Today, rng: random.Random) -> tuple[str, ...]:
    """The kinds of a round: what is due, eight at most and mixed; the rest is of the next concept."""
    due = _mixed(today, rng)
    new = () if today.next is None else of_concept(today.next, today.right, AT_ONCE - len(due), due)
    return (*due, *new)


def round_before_next(today: Today, rng: random.Random) -> tuple[str, ...]:
    """The same; where a lab comes next what is due alone."""
    return round_of_today(today, rng) if today.lab is None else _mixed(today, rng)


def questions_ahead(today: Today) -> int:
    """How many questions that round has."""
    due = today.due[:AT_ONCE]
    if today.next is None or today.lab is not None:
        return len(due)
    return len(due) + len(of_concept(today.next, today.right, AT_ONCE - len(due), due))


def _mixed(today: Today, rng: random.Random) -> tuple[str, ...]:
    due = list(today.due[:AT_ONCE])
    rng.shuffle(due)
    return tuple(_apart(due))


def of_concept(
    concept: Concept, right: Mapping[str, int], count: int = AT_ONCE, before: Sequence[str] = ()
) -> tuple[str, ...]:
    """So many questions of one concept, its kinds in turn, each until three a day would be right.

    before: kinds that the round holds already.
    """
    left = {ask: RIGHT_A_DAY - right.get(ask, 0) - before.count(ask) for ask in KINDS[concept]}
    found: list[str] = []
    while len(found) < count and any(each > 0 for each in left.values()):
        for ask, many in left.items():
            if many > 0 and len(found) < count:
                found.append(ask)
                left[ask] -= 1
    return tuple(found)


def _apart(due: Sequence[str]) -> list[str]:
    """The kinds with two of one concept side by side as rarely as may be."""
    waiting, found = list(due), list[str]()
    while waiting:
        last = concept_of(found[-1]) if found else None
        ask = next((each for each in waiting if concept_of(each) is not last), waiting[0])
        waiting.remove(ask)
        found.append(ask)
    return found
