"""What self-study has of the world outside, so that a test need not wait for days: a clock, a keyboard, chance."""

import random
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime

from trainer.errors import TrainerError
from trainer.study.events import Moment

__all__ = ["StudyWorld", "read_day"]


def _now() -> datetime:
    return datetime.now().astimezone()


def _typed(prompt: str) -> str | None:
    """The next line; None where there is no more."""
    try:
        return input(prompt)
    except EOFError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyWorld:
    """The world of one session."""

    ask: Callable[[str], str | None] = _typed
    """Shows a prompt and gives the line that is typed; None at the end of all input."""
    now: Callable[[], datetime] = _now
    """Local time that knows its zone."""
    rng: random.Random = field(default_factory=lambda: random.Random(secrets.randbits(64)))

    @property
    def moment(self) -> Moment:
        return Moment.of(self.now())


def read_day(text: str, today: date) -> date:
    """The day of an examination, written 2026-12-18. Raises TrainerError where it is none, or is over."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError as error:
        raise TrainerError(f"--until: found {text!r}; a day is wanted, written like {today.isoformat()}.") from error
    if day <= today:
        raise TrainerError(f"--until: found {text!r}; that day is over. Write a later one, or none to take it back.")
    return day
