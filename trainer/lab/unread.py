"""Values of which some fields could not be read.

A workbook with one bad cell is still looked through for everything else that is wrong. So the exercise is made all the
same, with UNREAD where the cell was, and whoever asks for that field is stopped: what depends on the cell is left open,
and nothing else. Nobody has to say beforehand which fields a check looks at.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields
from functools import cache
from typing import Any, Final, TypeVar, cast

__all__ = ["UNREAD", "Unread", "known", "made", "until_unread", "with_values"]

T = TypeVar("T")
R = TypeVar("R")


class _Mark:
    """The type of UNREAD."""

    def __repr__(self) -> str:
        return "UNREAD"


UNREAD: Final = _Mark()
"""Stands in a field whose cell could not be read."""


class Unread(Exception):
    """Somebody looked at a field that could not be read; the text is the field's name."""


class _Guarded:
    """Mixed into a type: every look at one of its fields goes through here, from its own methods too."""

    __slots__ = ()

    def __getattribute__(self, name: str) -> Any:
        value = super().__getattribute__(name)
        if value is UNREAD:
            raise Unread(name)
        return value


@cache
def _guarded(kind: type[Any]) -> type[Any]:
    return type(kind.__name__, (_Guarded, kind), {"__slots__": ()})


def made(kind: Callable[..., T], /, **values: Any) -> T:
    """A dataclass value, of which some fields may be UNREAD."""
    assert isinstance(kind, type)
    plain = kind.__bases__[1] if issubclass(kind, _Guarded) else kind
    is_whole = all(value is not UNREAD for value in values.values())
    return cast("T", (plain if is_whole else _guarded(plain))(**values))


def with_values(value: T, /, **others: Any) -> T:
    """The same value but for some fields. Unlike dataclasses.replace it copies unread fields without looking at them."""
    kept = {each.name: object.__getattribute__(value, each.name) for each in fields(cast("Any", value))}
    return made(type(value), **{**kept, **others})


def until_unread(found: Iterator[T]) -> Iterator[T]:
    """What is found before somebody looks at an unread field."""
    try:
        yield from found
    except Unread:
        return


def known(rows: Sequence[R], look: Callable[[R], T]) -> Iterator[tuple[int, T]]:
    """What is seen in each row, with the row's place, from 0; rows in which it could not be read are left out."""
    for place, row in enumerate(rows):
        try:
            seen = look(row)
        except Unread:
            continue
        yield place, seen
