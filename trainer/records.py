"""Values as JSON and back: frozen dataclasses by their fields, everything else by its text.

Reading is by the type that is asked for, so a record holds no type names, and nothing but the asked type can come out.
A field that came after records had been written says so in its metadata, {"added later": True}: records without it stay
readable, and it has its default. An ordinary default gives no such permission, so that what is lost is noticed.
A field whose metadata say {"flat": True} has no place of its own in the record: the fields of its value stand there
beside the others. So code may gather fields into a value, and records stay as they are. Words are written as codes. A number
that has a name (a class over int, with `read`) is written by its name where that is no plain number.
"""

import types
from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, fields, is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache, partial
from ipaddress import IPv4Address, IPv4Network
from itertools import repeat
from sys import intern
from typing import Any, NewType, TypeVar, Union, get_args, get_origin, get_type_hints

__all__ = ["RecordError", "from_record", "to_record"]

T = TypeVar("T")
_PLAIN = frozenset({type(None), bool, int, str})
"""What stands in records as it is."""
_BY_TEXT = (IPv4Address, IPv4Network, Decimal, Fraction)
_ADDED_LATER = "added later"
_FLAT = "flat"
_KEPT_AS = "kept as"
"""A field's name in records, where the field is called otherwise since."""


class RecordError(ValueError):
    """A record does not have the form that is asked for; the text says where."""


def to_record(value: Any) -> Any:
    """The value as dicts, lists, texts, numbers, truth values and None."""
    kind: Any = type(value)
    return _writer(kind)(value)


@cache
def _writer(kind: Any) -> "_Writer":
    """What makes a record of a value of that type; found once a type."""
    if kind in _PLAIN:
        return _as_it_is
    if issubclass(kind, int):
        return lambda value: int(value) if str(value).isdigit() else str(value)
    if issubclass(kind, str):
        return str  # of a row its text
    if issubclass(kind, Enum):
        return lambda value: value.value
    if issubclass(kind, _BY_TEXT):
        return str
    if issubclass(kind, tuple):
        names = getattr(kind, "_fields", None)
        if names is None:
            return lambda value: [each if type(each) in _PLAIN else to_record(each) for each in value]
        return lambda value: dict(zip(names, map(to_record, value), strict=True))
    assert is_dataclass(kind), f"{kind.__name__} has no record form"
    return _fields_writer(kind)


def _kept_as(field: Field[Any]) -> str:
    return str(field.metadata.get(_KEPT_AS, field.name))


def _as_it_is(value: Any) -> Any:
    return value


def _fields_writer(kind: Any) -> "_Writer":
    """What makes a record of such a dataclass."""
    parts = [(each.name, _kept_as(each), _FLAT in each.metadata) for each in fields(kind)]

    def written(value: Any) -> dict[str, Any]:
        record: dict[str, Any] = {}
        for name, kept_as, is_flat in parts:
            part = getattr(value, name)
            if is_flat:
                record |= to_record(part)
            else:
                record[kept_as] = part if type(part) in _PLAIN else to_record(part)
        return record

    return written


def from_record(wanted: type[T], record: Any) -> T:
    """The value of the wanted type. Raises RecordError where the record is of another form."""
    try:
        kind: Any = wanted
        value: T = _reader(kind)(record)
    except _NotOfForm as error:
        raise RecordError(f"{wanted.__name__}{error.where}: {error.what}") from error
    return value


class _NotOfForm(RecordError):
    """What was found in place of a value. Where is put together on the way out, so that nothing is made of it else."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what
        self.where = ""


_Reader = Callable[[Any], Any]
_Writer = Callable[[Any], Any]


@cache
def _reader(wanted: Any) -> _Reader:
    """What reads a value of that type. Worked out once a type: a class's marks hold hundreds of thousands of values."""
    if isinstance(wanted, NewType):
        return _reader(wanted.__supertype__)
    origin = get_origin(wanted)
    if origin in (Union, types.UnionType):
        return _optional(_reader(next(each for each in get_args(wanted) if each is not type(None))))
    if origin is tuple:
        return _tuple(get_args(wanted))
    if is_dataclass(wanted) or hasattr(wanted, "_fields"):
        return partial(_read_dataclass, wanted)
    assert isinstance(wanted, type), f"{wanted} has no record form"
    if issubclass(wanted, Enum):
        return _tried(wanted, wanted)
    if wanted in _BY_TEXT:
        return _tried(wanted, partial(_from_text, wanted), str)
    if wanted in (int, bool):
        return _plain(wanted, wanted)
    if issubclass(wanted, int):
        return _tried(wanted, lambda record: wanted.read(str(record)), int, str)  # type: ignore[attr-defined]
    assert issubclass(wanted, str), f"{wanted} has no record form"
    return _plain(str, wanted)


def _optional(reader: _Reader) -> _Reader:
    return lambda record: None if record is None else reader(record)


def _plain(kind: type, wanted: type) -> _Reader:
    """Reads what stands in the record as it is."""

    def read(record: Any) -> Any:
        if type(record) is not kind:
            raise _unexpected(record)
        if isinstance(record, str) and wanted is str:
            return intern(record)  # a class's marks hold each word thousands of times
        return record if wanted is kind else wanted(record)

    return read


def _tried(wanted: type, make: _Reader, *kinds: type) -> _Reader:
    """Reads what can be made a value; kinds: what may stand in the record for it, () for anything."""

    def read(record: Any) -> Any:
        if kinds and type(record) not in kinds:
            raise _unexpected(record)
        try:
            return make(record)
        except (ValueError, ArithmeticError) as error:
            raise _NotOfForm(f"{record!r} is not a {wanted.__name__}") from error

    return read


def _unexpected(record: Any) -> _NotOfForm:
    return _NotOfForm(f"{record!r} is not of the expected form")


@lru_cache(maxsize=4096)
def _from_text(wanted: Any, text: str) -> Any:
    """An address, a network or a number. ValueError for a number that is none, such as NaN."""
    value = wanted(text)
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(text)
    return value


def _tuple(args: tuple[Any, ...]) -> _Reader:
    """Reads a list: as many values of one type as there are, or one of each type."""
    any_number = args[-1] is Ellipsis
    readers = tuple(_reader(each) for each in args if each is not Ellipsis)

    def read(record: Any) -> Any:
        if not isinstance(record, list):
            raise _NotOfForm(f"{record!r} is not a list")
        if not any_number and len(readers) != len(record):
            raise _NotOfForm(f"{len(record)} values where {len(readers)} belong")
        found: list[Any] = []
        try:
            for reader, each in zip(repeat(readers[0]) if any_number else readers, record, strict=False):
                found.append(reader(each))
        except _NotOfForm as error:
            error.where = f"[{len(found)}]{error.where}"
            raise
        return tuple(found)

    return read


@dataclass(frozen=True, slots=True, kw_only=True)
class _Form:
    """How a dataclass stands in a record."""

    readers: Mapping[str, _Reader]
    """Of each field that has a place of its own, by its name in the record."""
    called: Mapping[str, str]
    """What fields are called now whose name in the record is another one."""
    flat: Mapping[str, Any]
    """The type of each field whose value stands in the record by its own fields."""
    names: Mapping[str, None]
    """What the record may hold, in order."""
    needed: frozenset[str]
    """What it has to hold."""


@cache
def _form_of(kind: Any) -> _Form:
    """Worked out once a type: its hints are slow to come by."""
    hints = get_type_hints(kind)
    if not is_dataclass(kind):  # a tuple with names
        readers = {name: _reader(hint) for name, hint in hints.items()}
        return _Form(readers=readers, called={}, flat={}, names=dict.fromkeys(hints), needed=frozenset(hints))
    flat = {each.name: hints[each.name] for each in fields(kind) if _FLAT in each.metadata}
    names: list[str] = []
    needed: set[str] = set()
    for each in fields(kind):
        if each.name in flat:
            inner = _form_of(hints[each.name])
            names += inner.names
            needed |= inner.needed
        else:
            names.append(_kept_as(each))
            needed |= {_kept_as(each)} if _ADDED_LATER not in each.metadata else set()
    own = [each for each in fields(kind) if each.name not in flat]
    return _Form(
        readers={_kept_as(each): _reader(hints[each.name]) for each in own},
        called={_kept_as(each): each.name for each in own if _KEPT_AS in each.metadata},
        flat=flat,
        names=dict.fromkeys(names),
        needed=frozenset(needed),
    )


def _read_dataclass(wanted: Any, record: Any) -> Any:
    form = _form_of(wanted)
    if not isinstance(record, Mapping) or not form.needed <= record.keys() <= form.names.keys():
        raise _NotOfForm(f"the fields are not {', '.join(form.names)}")
    return _built(wanted, record)


def _built(wanted: Any, record: Mapping[str, Any]) -> Any:
    """The value, from a record that holds what is needed and may hold more."""
    form = _form_of(wanted)
    values = {}
    name = ""
    try:
        for name, reader in form.readers.items():
            if name in record:
                values[form.called.get(name, name)] = reader(record[name])
    except _NotOfForm as error:
        error.where = f".{name}{error.where}"
        raise
    for name, kind in form.flat.items():
        values[name] = _built(kind, record)
    return wanted(**values)
