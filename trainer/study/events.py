"""What a learner's log holds: one event a line, each with the beginning of the digest of the line before.

The digest shows accidents and quick edits. Whoever wants to can forge a log, so it never counts as marks.

A line that cannot be read, as a power cut leaves one, is read over and counted. The next event begins a line of its own,
and its digest is that of the torn line, so that nothing is ever taken out of the file.
"""

import hashlib
import json
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from functools import lru_cache

from trainer.records import RecordError, from_record, to_record

__all__ = ["Begun", "Event", "Log", "Moment", "Session", "Tried", "in_order", "lines_of", "read_log"]

_DIGEST = 16
"""Hexadecimal digits of a line's SHA-256 that the next line holds: 64 bits, enough against accidents."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A time on the learner's clock."""

    at: datetime
    """UTC, to the second."""
    day: date
    """The date where the learner is."""

    @classmethod
    def of(cls, local: datetime) -> "Moment":
        """The moment of a time that knows its zone."""
        return cls(at=local.astimezone(UTC).replace(microsecond=0), day=local.date())


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A learner begins, begins again, or says until when."""

    learner: str = ""
    """What the learner is called; "" where nobody said."""
    start: int | None = field(default=None, metadata={"added later": True})
    """-1, 0 or 1: planned subnets never, a few times, often. None where it was not asked."""
    until: str | None = field(default=None, metadata={"added later": True})
    """The day of an examination, as 2026-12-18; "" takes one back, None leaves it as it was."""
    again: bool = False
    """Whether all that stands before counts no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session begins or ends."""

    session: str
    what: str
    """quick, lab or after."""
    ends: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A cell or question that somebody tried, from the first try to the last.

    Of a cell of a lab that is filled in over several saves there is a line whenever more is known of it; the last one counts,
    in the place of the first.
    """

    session: str
    lab: str
    """The lab's number; "quick" for one that was drawn for this question alone."""
    ask: str
    """The question's id; of the second kind happens.<what>."""
    row: str = ""
    first: str
    """Code of the first try's verdict."""
    mistake: str = ""
    """What the catalogue made out in the first try; "" where nothing, or where it was right."""
    rung: int = 0
    """The highest rung that was asked for: 0 none, 1 hint, 2 explanation, 3 steps."""
    shown: bool = False
    """Whether the answer was asked for."""
    right: bool
    """Whether it was right in the end."""
    support: int
    """1 a full example beside it, 2 and 3 the rule in a line, 4 what is given alone, 5 in another setting."""
    d: str = "0"
    """How hard it was, in logits beside the standard exercise, as a decimal number."""


Event = Begun | Session | Tried
_KINDS: dict[str, type[Event]] = {"begun": Begun, "session": Session, "tried": Tried}
_NAMES = {kind: name for name, kind in _KINDS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A log as it was read."""

    events: tuple[tuple[Moment, Event], ...] = ()
    torn: int = 0
    """Lines that could not be read."""
    edited: int = 0
    """Lines whose digest is not that of the line before: something was changed, taken out or put in there."""
    last: str = ""
    """Digest of the last line; "" of an empty log."""
    is_open: bool = False
    """Whether the last line lacks its end."""


def lines_of(events: Sequence[Event], moment: Moment, log: Log) -> tuple[str, ...]:
    """The texts that are put at the end of the log one after the other, each with its line feed; one more before the first where
    the last line was torn.
    """
    found = []
    before, end_of_torn = log.last, "\n" if log.is_open else ""
    for event in events:
        record = {
            "at": moment.at.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "day": moment.day.isoformat(),
            "event": _NAMES[type(event)],
            **{name: value for name, value in to_record(event).items() if value is not None},
            "prev": before,
        }
        line = json.dumps(record, ensure_ascii=False, separators=(",", ":"))
        found.append(f"{end_of_torn}{line}\n")
        before, end_of_torn = _digest(line.encode("utf-8")), ""
    return tuple(found)


def _digest(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()[:_DIGEST]


def read_log(data: bytes) -> Log:
    """All that a log's bytes hold, whatever stands there."""
    events: list[tuple[Moment, Event]] = []
    torn = edited = 0
    last = ""
    lines = data.split(b"\n")
    for line in lines:
        if not line.strip():
            continue
        found = _event(line)
        if found is None:
            torn += 1
        else:
            moment, event, before = found
            edited += before != last
            events.append((moment, event))
        last = _digest(line)
    return Log(events=tuple(events), torn=torn, edited=edited, last=last, is_open=bool(lines[-1].strip()))


@lru_cache(maxsize=2**15)
def _event(line: bytes) -> tuple[Moment, Event, str] | None:
    """None where the line holds no event of ours, so that one of a later version is read over too. What was read once is
    remembered: a log is read again for every line that is added, and only ever grows.
    """
    try:
        record = json.loads(line.decode("utf-8"))
        moment = Moment(
            at=datetime.strptime(record.pop("at"), "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC),
            day=date.fromisoformat(record.pop("day")),
        )
        kind, before = _KINDS[record.pop("event")], record.pop("prev")
        return moment, from_record(kind, record), before
    except (ValueError, KeyError, TypeError, AttributeError, RecordError, RecursionError):
        return None


def in_order(events: Sequence[tuple[Moment, Event]]) -> tuple[tuple[Moment, Event], ...]:
    """The events with times that never run back.

    A clock that was set back, or that ran ahead for a while, leaves events whose times do not fit the others. The most
    that agree keep their times; each of the others has that of the one before it that was kept, or else of the first.
    """
    kept = _longest_that_rises([moment.at for moment, _ in events])
    found: list[tuple[Moment, Event]] = []
    for place, (moment, event) in enumerate(events):
        before = found[-1][0] if found else events[min(kept)][0]
        time = moment if place in kept else before
        day = max(time.day, before.day) if found else time.day  # another time zone may turn days round
        found.append((replace(time, day=day), event))
    return tuple(found)


def _longest_that_rises(times: Sequence[datetime]) -> frozenset[int]:
    """Places of the most times of which none is before the one in front of it (patience sorting)."""
    ends: list[datetime] = []
    places: list[int] = []
    before: list[int | None] = []
    for place, time in enumerate(times):
        pile = bisect_right(ends, time)
        before.append(places[pile - 1] if pile else None)
        ends[pile : pile + 1] = [time]
        places[pile : pile + 1] = [place]
    found = set()
    at = places[-1] if places else None
    while at is not None:
        found.add(at)
        at = before[at]
    return frozenset(found)
