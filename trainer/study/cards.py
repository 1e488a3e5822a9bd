"""When a kind of question comes back: package fsrs, one card a kind, made anew from the events each time.

A card counts whole days: every answer is taken as given at noon of its day, and of a day's answers to one kind only the
first counts. The package was fitted on facts, not on procedures, so no chance of recall is ever shown.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache

from fsrs import Card, Rating, Scheduler

__all__ = ["CardState", "card_after", "rating_of"]

_SHARE_LEFT = 5
"""Before an examination a gap is a fifth of the days left at most (Cepeda et al. 2008: 20 to 40 % for a week, 5 to 10 %
for a year)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardState:
    """What follows from the answers to one kind of question."""

    last: date
    """The day of the last answer."""
    due: date
    """The day from which on it is asked again."""


@cache
def _scheduler() -> Scheduler:
    return Scheduler(
        enable_fuzzing=False, learning_steps=(), relearning_steps=(), desired_retention=0.9, maximum_interval=60
    )


def rating_of(score: float) -> Rating:
    """Good where the first try was right, Hard where it took a hint or a second try, else Again; never Easy."""
    return Rating.Good if score == 1 else Rating.Hard if score > 0 else Rating.Again


def card_after(answers: Sequence[tuple[date, Rating]], until: date | None = None) -> CardState:
    """The card after answers, a day each, of days that rise; at least one. until: the day of an examination."""
    card = Card(card_id=0, due=_noon(answers[0][0]))
    for day, rating in answers:
        card, _ = _scheduler().review_card(card, rating, review_datetime=_noon(day))
    last = answers[-1][0]
    gap = card.due - _noon(last)
    if until is not None and last < until:
        gap = min(gap, timedelta(days=max(1, (until - last).days // _SHARE_LEFT)))
    return CardState(last=last, due=last + timedelta(days=gap.days))


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12), tzinfo=UTC)
