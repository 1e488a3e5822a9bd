"""Values as JSON and back: frozen dataclasses by their fields, everything else by its text.

Reading is by the type that is asked for, so a record holds no type names, and nothing but the asked type can come out.
A field that came after records had been written says so in its metadata, {"added later": True}: records without it stay
readable, and it has its default. An ordinary default gives no such permission, so that what is lost is noticed.
"""

import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from ipaddress import IPv4Address, IPv4Network
from typing import Any, NewType, TypeVar, Union, get_args, get_origin, get_type_hints

__all__ = ["RecordError", "from_record", "to_record"]

T = TypeVar("T")
_BY_TEXT = (IPv4Address, IPv4Network, Decimal)
_ADDED_LATER = "added later"


class RecordError(ValueError):
    """A record does not have the form that is asked for; the text says where."""


def to_record(value: Any) -> Any:
    """The value as dicts, lists, texts, numbers, truth values and None."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, _BY_TEXT):
        return str(value)
    if isinstance(value, tuple):
        return [to_record(each) for each in value]
    assert is_dataclass(value), f"{type(value).__name__} has no record form"
    return {each.name: to_record(getattr(value, each.name)) for each in fields(value)}


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
    except (ValueError, ArithmeticError) as fault:
        if isinstance(fault, RecordError):
            raise
        raise RecordError(f"{at}: {record!r} is not a {wanted.__name__}") from fault
    if wanted in (int, str, bool) and type(record) is wanted:
        return record
    raise RecordError(f"{at}: {record!r} is not of the expected form")


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


def _read_dataclass(wanted: Any, record: Any, at: str) -> Any:
    hints = get_type_hints(wanted)
    names = [each.name for each in fields(wanted)]
    needed = {each.name for each in fields(wanted) if _ADDED_LATER not in each.metadata}
    if not isinstance(record, Mapping) or not needed <= set(record) <= set(names):
        raise RecordError(f"{at}: the fields are not {', '.join(names)}")
    return wanted(**{name: _read(hints[name], record[name], f"{at}.{name}") for name in names if name in record})
