"""What rows of the form are about. A row is still the text that is printed on its sheet, and carries what that text means.

Here alone a row's text is made of what it is about, and read again.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import Enum
from functools import lru_cache
from typing import Any, ClassVar, NoReturn, Self, TypeVar, cast

from trainer.lab.vlan_id import VlanId
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "About",
    "LineRow",
    "LinkRow",
    "PortRow",
    "RouteRow",
    "RowKey",
    "StationRow",
    "SwitchRow",
    "SymptomRow",
    "TryRow",
    "VlanRow",
    "WrittenRow",
]

_VLAN = r"[1-9][0-9]{0,3}(?: on [A-Z]{1,2})?"
_SWITCH = r"[^\s/-]+"
_OUT = "outside"
_set = object.__setattr__

F = TypeVar("F", bound=Callable[..., Any])


def _kept(make: F) -> F:
    """Marking asks for rows all the time: of one thing there is one row, made once."""
    return cast("F", lru_cache(maxsize=10_000)(make))


class RowKey(str):
    """A row by the text on its sheet: "561", "A-B", "B/7", "Cranes 2", "A to 30", "Route 1".

    Rows are equal where their texts are, so that a row by its text alone, as records hold it, finds the same cells. What a
    row is about only the classes below know; `Section.row` makes one of them of a text. They cannot be changed.
    """

    __slots__: ClassVar[tuple[str, ...]] = ()

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"a row cannot be changed: {self!r}.{name} = {value!r}")

    def __reduce__(self) -> tuple[Any, ...]:
        """Copied and sent to other processes by what it is about."""
        return type(self), tuple(getattr(self, each) for each in type(self).__slots__) or (str(self),)

    @classmethod
    def read(cls, text: str) -> Self:
        """The row that is called so. Raises ValueError where none can be."""
        return cls(_match(r".+", text, cls)[0])


class VlanRow(RowKey):
    """The row of a VLAN: "561"; where numbers may repeat "30 on B"."""

    __slots__ = ("vlan",)
    vlan: VlanId

    @_kept
    def __new__(cls, vlan: int) -> Self:
        """vlan: a VlanId, or the number of a VLAN in a lab where no number stands twice."""
        row = str.__new__(cls, str(vlan))
        _set(row, "vlan", VlanId(vlan))
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(VlanId.read(_match(_VLAN, text, cls)[0]))


class LinkRow(RowKey):
    """The row of a link: "A-B"."""

    __slots__ = ("link",)
    link: str
    """Its name."""

    @_kept
    def __new__(cls, link: str) -> Self:
        row = str.__new__(cls, link)
        _set(row, "link", link)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(_match(f"{_SWITCH}-{_SWITCH}", text, cls)[0])


class PortRow(RowKey):
    """The row of a port: "B/7"."""

    __slots__ = ("port",)
    port: PortRef

    @_kept
    def __new__(cls, port: PortRef) -> Self:
        row = str.__new__(cls, str(port))
        _set(row, "port", port)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        match = _match(f"({_SWITCH})/([0-9]+)", text, cls)
        return cls(PortRef(SwitchName(match[1]), PortName(match[2])))


class StationRow(RowKey):
    """The row of a station: "Cranes 2"."""

    __slots__ = ("station",)
    station: str
    """Its name."""

    @_kept
    def __new__(cls, station: str) -> Self:
        row = str.__new__(cls, station)
        _set(row, "station", station)
        return row


class SwitchRow(RowKey):
    """The row of a switch: "A"."""

    __slots__ = ("switch",)
    switch: SwitchName

    @_kept
    def __new__(cls, switch: SwitchName) -> Self:
        row = str.__new__(cls, switch)
        _set(row, "switch", switch)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(SwitchName(_match(_SWITCH, text, cls)[0]))


class RouteRow(RowKey):
    """A row of the key, of the route on a switch to a VLAN's network: "A to 30", "A to 30 on B"; or out of the lab."""

    __slots__ = ("switch", "vlan")
    switch: SwitchName
    vlan: VlanId | None
    """None for the default route, to all that lies outside."""

    @_kept
    def __new__(cls, switch: SwitchName, vlan: int | None) -> Self:
        row = str.__new__(cls, f"{switch} to {_OUT if vlan is None else vlan}")
        _set(row, "switch", switch)
        _set(row, "vlan", None if vlan is None else VlanId(vlan))
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        match = _match(f"({_SWITCH}) to ({_VLAN}|{_OUT})", text, cls)
        return cls(SwitchName(match[1]), None if match[2] == _OUT else VlanId.read(match[2]))


class SymptomRow(RowKey):
    """The row of something that was seen: "S3"."""

    __slots__ = ("number",)
    number: int

    @_kept
    def __new__(cls, number: int) -> Self:
        row = str.__new__(cls, f"S{number}")
        _set(row, "number", number)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(int(_match("S([1-9][0-9]{0,2})", text, cls)[1]))


class TryRow(RowKey):
    """The row of something that was not tried yet: "T3"."""

    __slots__ = ("number",)
    number: int

    @_kept
    def __new__(cls, number: int) -> Self:
        row = str.__new__(cls, f"T{number}")
        _set(row, "number", number)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(int(_match("T([1-9][0-9]{0,2})", text, cls)[1]))


class LineRow(RowKey):
    """A row of the key, of a line of the network as found: "A7"; "none" where nothing is wrong."""

    __slots__ = ("line",)
    line: str

    @_kept
    def __new__(cls, line: str) -> Self:
        row = str.__new__(cls, line)
        _set(row, "line", line)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        return cls(_match("[A-Z]{1,2}[1-9][0-9]{0,2}|none", text, cls)[0])


class WrittenRow(RowKey):
    """A row that a trainee writes, by its printed label and number: "Route 1". What it is about its cells say."""

    __slots__ = ("label", "number")
    label: str
    number: int

    @_kept
    def __new__(cls, label: str, number: int) -> Self:
        row = str.__new__(cls, f"{label} {number}")
        _set(row, "label", label)
        _set(row, "number", number)
        return row

    @classmethod
    def read(cls, text: str) -> Self:
        match = _match(r"(.+) (0|[1-9][0-9]{0,3})", text, cls)
        return cls(match[1], int(match[2]))


class About(Enum):
    """What the rows of a section are about, by which the key calls them."""

    VLAN = "VLAN"
    LINK = "link"
    PORT = "port"
    STATION = "station"
    SWITCH = "switch"
    ROUTE = "route"
    """From a switch to a VLAN's network."""
    SYMPTOM = "symptom"
    LINE = "line"
    """Of the network as found."""
    TEST = "test"

    @property
    def row_type(self) -> type[RowKey]:
        """The type of such rows."""
        return _ROW_TYPES[self]


_ROW_TYPES: dict[About, type[RowKey]] = {
    About.VLAN: VlanRow,
    About.LINK: LinkRow,
    About.PORT: PortRow,
    About.STATION: StationRow,
    About.SWITCH: SwitchRow,
    About.ROUTE: RouteRow,
    About.SYMPTOM: SymptomRow,
    About.LINE: LineRow,
    About.TEST: TryRow,
}


def _match(pattern: str, text: str, wanted: type[RowKey]) -> re.Match[str]:
    match = re.fullmatch(pattern, text)
    if match is None:
        raise ValueError(f"{text!r} is not the text of a {wanted.__name__}; that matches {pattern}")
    return match
