"""People who practise in tests: a clock that is set by hand, and lines that are typed."""

import random
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta

from trainer.commands import start
from trainer.commands.study_world import StudyWorld
from trainer.study.events import Begun, Event, Log, Moment, Tried, lines_of, read_log

MONDAY = date(2026, 11, 30)


def moment(day: int = 0, hour: int = 9) -> Moment:
    """A moment so many days after a Monday."""
    at = datetime.combine(MONDAY + timedelta(days=day), time(hour), tzinfo=UTC)
    return Moment(at=at, day=at.date())


def tried(ask: str = "subnets.prefix", **more: object) -> Tried:
    """A try that is right at once with what is given alone, but for what is said otherwise."""
    return Tried(**{"session": "s", "lab": "quick", "ask": ask, "first": "right", "right": True, "support": 4, **more})  # type: ignore[arg-type]


def logged(*events: tuple[Moment, Event], start: int | None = 0) -> bytes:
    """The bytes of a log that holds them, behind a beginning."""
    data = b""
    first: list[tuple[Moment, Event]] = [] if start is None else [(moment(), Begun(start=start))]
    for when, event in (*first, *events):
        data += lines_of([event], when, read_log(data))[0].encode()
    return data


def log(*events: tuple[Moment, Event], start: int | None = 0) -> Log:
    return read_log(logged(*events, start=start))


def commands(**others: object) -> start.Commands:
    """Ways from the first screen that lead nowhere, but for those that are given."""
    nowhere: dict[str, object] = {
        "lab": lambda _: 7,
        "next_lab": lambda _: 7,
        "lesson": lambda _name, _as_text: 0,
        "progress": lambda: 0,
    }
    return start.Commands(**{**nowhere, **others})  # type: ignore[arg-type]


class Desk:
    """A keyboard and a clock. Lines are typed one by one; at their end all input ends."""

    def __init__(self, *lines: str, day: int = 0, seed: int = 1) -> None:
        self.lines = list(lines)
        self.asked: list[str] = []
        self.day = day
        self.world = StudyWorld(ask=self._ask, now=self._now, rng=random.Random(seed))

    def _ask(self, prompt: str) -> str | None:
        self.asked.append(prompt)
        return self.lines.pop(0) if self.lines else None

    def _now(self) -> datetime:
        return moment(self.day).at


def typing_at(answer: Callable[[str], str | None], day: int, rng: random.Random) -> StudyWorld:
    """A world, so many days after the Monday, in which somebody answers what is asked."""
    return StudyWorld(ask=answer, now=lambda: moment(day).at, rng=rng)
