"""What a learner knows and what is due, by replay of the log's events. Nothing else is kept.

y of a concept in a session, or on a day, is the mean of its tries: 1 for a first try that is right without a hint, a half
after a hint or a second try, 0 after an explanation, steps or the answer. Secure is a concept with y of 0.85 at least,
with what is given alone, on three practice days in a row; a day counts from three tries on. It is secure no more after
two practice days in a row with y under a half (common practice, no source).
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import groupby

from trainer.lab.concepts import Concept
from trainer.marking.practice import EXPLANATION
from trainer.study.cards import CardState, card_after, rating_of
from trainer.study.events import Begun, Event, Log, Moment, Session, Tried, in_order
from trainer.study.order import is_open
from trainer.study.quick_lab import QUICK
from trainer.study.support import ONLY_GIVEN, level, moved

__all__ = [
    "DAYS_TO_SECURE",
    "SECURE_FROM",
    "TRIES_A_DAY",
    "ConceptState",
    "Study",
    "events_that_count",
    "replayed",
    "score",
]

DAYS_TO_SECURE = 3
SECURE_FROM, _LOST_UNDER = 0.85, 0.5
_DAYS_TO_LOSE = 2
TRIES_A_DAY = 3
"""From so many tries on a day counts."""

ConceptOf = Callable[[str], Concept | None]
"""The concept of a question by its id; None where no question is called so any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConceptState:
    """How far somebody is with one concept."""

    theta: float
    """Rating in logits."""
    sessions: int
    row: int
    """Right practice days in a row, up to those that make it secure."""
    is_secure: bool
    last: date | None
    """The last day on which it was tried; None where it never was."""
    last_lab: date | None = None
    """The last day on which it was tried in a lab; None where it never was."""
    alone: tuple[float, int] | None = None
    """What the tries of its last practice day with what is given alone are worth together, and how many there were; None where
    there were none.
    """
    mistakes: Mapping[str, int] = field(default_factory=dict)
    """How often each mistake of the catalogue was made at the first try."""

    @property
    def level(self) -> int:
        """Of support, 1 to 5."""
        return level(self.theta)


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """What follows from a log."""

    learner: str
    start: int | None
    """None where nobody has begun."""
    until: date | None
    concepts: Mapping[Concept, ConceptState]
    cards: Mapping[str, CardState]
    """By question kind; those that were asked alone once at least, or met in a lab when their concept was open."""
    right_on_last_day: Mapping[str, int]
    """By question kind: right answers at the first try on the last practice day."""
    last: Moment | None
    """Of the last event; None of an empty log."""
    days: tuple[date, ...]
    """Practice days, each once."""
    answers_shown: int
    tried: int
    open_sessions: Mapping[str, date]
    """Sessions that began and did not end, with the day: a window that is still open, or one that was closed by a power cut."""

    @property
    def secure(self) -> tuple[Concept, ...]:
        """The concepts that are secure, in order."""
        return tuple(concept for concept, state in self.concepts.items() if state.is_secure)


def score(tried: Tried) -> float:
    """What a try says of its concept: 1, a half, or 0 where from an explanation on the answer is not the learner's own."""
    if not tried.right or tried.shown or tried.rung >= EXPLANATION:
        return 0.0
    return 1.0 if tried.first in ("right", "follows") and not tried.rung else 0.5


def replayed(log: Log, concept_of: ConceptOf) -> Study:
    """The state that the log's events make. The same log makes the same state, however often."""
    events = events_that_count(log)
    begun = [event for _, event in events if isinstance(event, Begun)]
    start = next((each.start for each in reversed(begun) if each.start is not None), None)
    until = next((each.until for each in reversed(begun) if each.until is not None), None) or None
    tries = [
        (moment, event, concept)
        for moment, event in _one_a_cell(events)
        if (concept := concept_of(event.ask)) is not None
    ]
    by_concept: dict[Concept, list[tuple[Moment, Tried]]] = {concept: [] for concept in Concept}
    for moment, event, concept in tries:
        by_concept[concept].append((moment, event))
    last = events[-1][0] if events else None
    last_day = tries[-1][0].day if tries else None
    right: dict[str, int] = defaultdict(int)
    for moment, event, _ in tries:
        if moment.day == last_day:
            right[event.ask] += score(event) == 1
    until_day = None if until is None else _day(until)
    concepts = {concept: _concept_state(own, start or 0) for concept, own in by_concept.items()}
    secure = {concept for concept, state in concepts.items() if state.is_secure}
    return Study(
        learner=next((each.learner for each in reversed(begun) if each.learner), ""),
        start=start,
        until=until_day,
        concepts=concepts,
        cards=_cards(tries, secure, until_day),
        right_on_last_day=dict(right),
        last=last,
        days=tuple(dict.fromkeys(moment.day for moment, _, _ in tries)),
        answers_shown=sum(event.shown for _, event, _ in tries),
        tried=len(tries),
        open_sessions=_open_sessions(events),
    )


def events_that_count(log: Log) -> Sequence[tuple[Moment, Event]]:
    """The events since somebody began again last, in order."""
    events = in_order(log.events)
    again = [place for place, (_, event) in enumerate(events) if isinstance(event, Begun) and event.again]
    return events[again[-1] :] if again else events


def _one_a_cell(events: Iterable[tuple[Moment, Event]]) -> Iterator[tuple[Moment, Tried]]:
    """The tries; those of one cell of a lab as one, in the session and at the time of the first."""
    found: dict[object, tuple[Moment, Tried]] = {}
    for place, (moment, event) in enumerate(events):
        if not isinstance(event, Tried):
            continue
        cell = place if event.lab == QUICK else (event.lab, event.ask, event.row)
        when, first = found.get(cell, (moment, event))
        found[cell] = when, replace(event, session=first.session, first=first.first, mistake=first.mistake)
    return iter(found.values())


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _open_sessions(events: Iterable[tuple[Moment, Event]]) -> Mapping[str, date]:
    found: dict[str, date] = {}
    for moment, event in events:
        if isinstance(event, Session):
            if event.ends:
                found.pop(event.session, None)
            else:
                found[event.session] = moment.day
    return found


def _concept_state(tries: Sequence[tuple[Moment, Tried]], start: int) -> ConceptState:
    theta, sessions = float(start), 0
    by_session: dict[str, list[Tried]] = defaultdict(list)
    mistakes: dict[str, int] = defaultdict(int)
    for _, event in tries:
        by_session[event.session].append(event)
        if event.mistake:
            mistakes[event.mistake] += 1
    for own in by_session.values():
        d = sum(_number(each.d) for each in own) / len(own)
        theta = moved(theta, d, _mean(own), sessions)
        sessions += 1
    row, is_secure = _days_in_a_row(tries)
    last = _last_day(tries)
    alone = [score(event) for moment, event in tries if moment.day == last and event.support >= ONLY_GIVEN]
    return ConceptState(
        theta=theta,
        sessions=sessions,
        row=row,
        is_secure=is_secure,
        last=last,
        alone=(sum(alone), len(alone)) if alone else None,
        last_lab=_last_day([each for each in tries if each[1].lab != QUICK]),
        mistakes=dict(mistakes),
    )


def _last_day(tries: Sequence[tuple[Moment, Tried]]) -> date | None:
    return tries[-1][0].day if tries else None


def _days_in_a_row(tries: Sequence[tuple[Moment, Tried]]) -> tuple[int, bool]:
    """How many right days in a row there are now, and whether the concept is secure."""
    row, bad, is_secure = 0, 0, False
    for _, of_day in groupby(tries, key=lambda each: each[0].day):
        alone = [event for _, event in of_day if event.support >= ONLY_GIVEN]
        if not alone:
            continue
        y = _mean(alone)
        if y >= SECURE_FROM:
            bad, row = 0, row + (len(alone) >= TRIES_A_DAY)
        else:
            bad, row = bad + 1 if y < _LOST_UNDER else 0, 0
        is_secure = (is_secure and bad < _DAYS_TO_LOSE) or row >= DAYS_TO_SECURE
    return min(row, DAYS_TO_SECURE), is_secure


def _cards(
    tries: Sequence[tuple[Moment, Tried, Concept]], secure: Collection[Concept], until: date | None
) -> Mapping[str, CardState]:
    """Of a day's answers to one kind only the first counts.

    What was met in labs alone comes back once its concept is open: a whole lab would else bring back every kind at once, those
    that nobody is ready for among them.
    """
    alone = {event.ask for _, event, _ in tries if event.lab == QUICK}
    tries = [each for each in tries if each[1].ask in alone or is_open(each[2], secure)]
    firsts: dict[str, dict[date, float]] = defaultdict(dict)
    for moment, event, _ in tries:
        firsts[event.ask].setdefault(moment.day, score(event))
    return {
        ask: card_after([(day, rating_of(found)) for day, found in days.items()], until) for ask, days in firsts.items()
    }


def _mean(tries: Sequence[Tried]) -> float:
    return sum(map(score, tries)) / len(tries)


def _number(text: str) -> float:
    """How hard a try was; the standard where the log says something that is no number."""
    try:
        found = float(text)
    except ValueError:
        return 0.0
    return max(-5.0, min(5.0, found)) if found == found else 0.0  # noqa: PLR0124  # not a number is no number
