"""Values as JSON and back: frozen dataclasses by their fields, everything else by its text.

Reading is by the type that is asked for, so a record holds no type names, and nothing but the asked type can come out.
A field that came after records had been written says so in its metadata, {"added later": True}: records without it stay
readable, and it has its default. An ordinary default gives no such permission, so that what is lost is noticed.
A field whose metadata say {"flat": True} has no place of its own in the record: the fields of its value stand there
beside the others. So code may gather fields into a value, and records stay as they are. Words are written as codes. A number
that has a name (a class over int, with `read`) is written by its name where that is no plain number.
"""

import types
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from ipaddress import IPv4Address, IPv4Network
from typing import Any, NewType, TypeVar, Union, get_args, get_origin, get_type_hints

__all__ = ["RecordError", "from_record", "to_record"]

T = TypeVar("T")
_BY_TEXT = (IPv4Address, IPv4Network, Decimal, Fraction)
_ADDED_LATER = "added later"
_FLAT = "flat"


class RecordError(ValueError):
    """A record does not have the form that is asked for; the text says where."""


def to_record(value: Any) -> Any:
    """The value as dicts, lists, texts, numbers, truth values and None."""
    if value is None or type(value) in (bool, int):
        return value
    if isinstance(value, int):
        return int(value) if str(value).isdigit() else str(value)
    if isinstance(value, str):
        return str(value)  # of a row its text
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, _BY_TEXT):
        return str(value)
    if isinstance(value, tuple):
        return [to_record(each) for each in value]
    assert is_dataclass(value), f"{type(value).__name__} has no record form"
    record: dict[str, Any] = {}
    for each in fields(value):
        part = to_record(getattr(value, each.name))
        record |= part if _FLAT in each.metadata else {each.name: part}
    return record


def from_record(wanted: type[T], record: Any) -> T:
    """The value of the wanted type. Raises RecordError where the record is of another form."""
    value: T = _read(wanted, record, wanted.__name__)
    return value


def _read(wanted: Any, record: Any, at: str) -> Any:
    if isinstance(wanted, NewType):
        wanted = wanted.__supertype__
    origin = get_origin(wanted)
    try:
        if origin in (Union, types.UnionType):
            inner = next(each for each in get_args(wanted) if each is not type(None))
            return None if record is None else _read(inner, record, at)
        if origin is tuple:
            return tuple(_each(get_args(wanted), record, at))
        if is_dataclass(wanted):
            return _read_dataclass(wanted, record, at)
        if isinstance(wanted, type) and issubclass(wanted, Enum):
            return wanted(record)
        if wanted in _BY_TEXT and isinstance(record, str):
            return _from_text(wanted, record)
    except (ValueError, ArithmeticError) as error:
        if isinstance(error, RecordError):
            raise
        raise RecordError(f"{at}: {record!r} is not a {wanted.__name__}") from error
    if wanted in (int, bool) and type(record) is wanted:
        return record
    if (
        isinstance(wanted, type)
        and issubclass(wanted, int)
        and wanted not in (int, bool)
        and type(record) in (int, str)
    ):
        return _from_name(wanted, record, at)
    if isinstance(wanted, type) and issubclass(wanted, str) and type(record) is str:
        return wanted(record)
    raise RecordError(f"{at}: {record!r} is not of the expected form")


def _from_name(wanted: Any, record: int | str, at: str) -> Any:
    try:
        return wanted.read(str(record))
    except ValueError as error:
        raise RecordError(f"{at}: {record!r} is not a {wanted.__name__}") from error


def _from_text(wanted: Any, text: str) -> Any:
    """An address, a network or a number. ValueError for a number that is none, such as NaN."""
    value = wanted(text)
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(text)
    return value


def _each(args: tuple[Any, ...], record: Any, at: str) -> list[Any]:
    if not isinstance(record, list):
        raise RecordError(f"{at}: {record!r} is not a list")
    if args[-1] is Ellipsis:
        return [_read(args[0], each, f"{at}[{place}]") for place, each in enumerate(record)]
    if len(args) != len(record):
        raise RecordError(f"{at}: {len(record)} values where {len(args)} belong")
    return [
        _read(wanted, each, f"{at}[{place}]") for place, (wanted, each) in enumerate(zip(args, record, strict=True))
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """How a dataclass stands in a record."""

    hints: Mapping[str, Any]
    """The type of each field, in order."""
    flat: frozenset[str]
    """Fields whose values stand in the record by their own fields."""
    names: tuple[str, ...]
    """What the record may hold."""
    needed: frozenset[str]
    """What it has to hold."""


@cache
def _form_of(kind: Any) -> _Form:
    """Worked out once a type: its hints are slow to come by, and a class's marks hold thousands of values."""
    hints = get_type_hints(kind)
    flat = {each.name for each in fields(kind) if _FLAT in each.metadata}
    names: list[str] = []
    needed: set[str] = set()
    for each in fields(kind):
        if each.name in flat:
            inner = _form_of(hints[each.name])
            names += inner.names
            needed |= inner.needed
        else:
            names.append(each.name)
            needed |= {each.name} if _ADDED_LATER not in each.metadata else set()
    in_order = {each.name: hints[each.name] for each in fields(kind)}
    return _Form(hints=in_order, flat=frozenset(flat), names=tuple(names), needed=frozenset(needed))


def _read_dataclass(wanted: Any, record: Any, at: str) -> Any:
    form = _form_of(wanted)
    if not isinstance(record, Mapping) or not form.needed <= record.keys() <= set(form.names):
        raise RecordError(f"{at}: the fields are not {', '.join(form.names)}")
    return _built(wanted, record, at)


def _built(wanted: Any, record: Mapping[str, Any], at: str) -> Any:
    """The value, from a record that holds what is needed and may hold more."""
    form = _form_of(wanted)
    values = {}
    for name, hint in form.hints.items():
        if name in form.flat:
            values[name] = _built(hint, record, at)
        elif name in record:
            values[name] = _read(hint, record[name], f"{at}.{name}")
    return wanted(**values)
