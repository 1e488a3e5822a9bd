"""What is wrong with an exercise, and where it stands."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from trainer.lab.exercise import Exercise, give_one
from trainer.lab.unread import until_unread

__all__ = ["Check", "Fault", "FieldRef", "each_row", "fault_in_row", "first_without_its_own", "repeated"]

R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class FieldRef:
    """A field of an exercise workbook: a table ("exercise" for the settings), a row of it (from 0), a field's id."""

    table: str
    row: int | None
    """None for a setting, and where the column as a whole is meant."""
    field: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with an exercise; the sheet reader turns its field into a sheet and a cell."""

    at: FieldRef
    found: str
    wanted: str
    fix: str


Check = Callable[[Exercise], Iterator[Fault]]
"""What is wrong in one respect. A check that looks at an unread field ends there (lab/unread.py)."""


def each_row(rows: Callable[[Exercise], Sequence[R]], check: Callable[[Exercise, R], Iterator[Fault]]) -> Check:
    """A check that is made for each row by itself, so that an unread cell of one row hides nothing of another."""

    def check_of_all(exercise: Exercise) -> Iterator[Fault]:
        for row in rows(exercise):
            yield from until_unread(check(exercise, row))

    return check_of_all


def fault_in_row(table: str, row: int, field: str, found: str, wanted: str, fix: str) -> Fault:
    return Fault(at=FieldRef(table, row, field), found=found, wanted=wanted, fix=fix)


def repeated(values: Iterator[tuple[int, object]]) -> Iterator[tuple[int, object]]:
    """Of values with their places those that stood before."""
    seen = set()
    for place, value in values:
        if value in seen:
            yield place, value
        seen.add(value)


def first_without_its_own(offers: Iterable[tuple[int, Iterable[object]]]) -> int | None:
    """The first place that cannot have a value of its own beside those before it; None where all can."""
    places, values = [], []
    taken: dict[object, int] = {}
    for place, offered in offers:
        places.append(place)
        values.append(offered)
        if not give_one(len(values) - 1, values, taken, set()):
            return place
    return None
