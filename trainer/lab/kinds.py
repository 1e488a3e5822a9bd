"""How a value is written: reading what people type, showing what we print. A kind knows no sheet and no question.

Reading is generous about form and strict about meaning: what can only be meant one way is read, what could be meant
two ways is not (marking rules R10 and R11).
"""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from ipaddress import AddressValueError, IPv4Address
from typing import Any, Generic, TypeVar

from trainer.lab.unreadable import NotReadable, TextFlaw, Unreadable
from trainer.network.addresses import Mac, MaskError, length_of_mask, mac, mask_of
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "ADDRESS",
    "BINDING_TYPE",
    "DESTINATION",
    "DOTTED_MASK",
    "INFINITE",
    "LEASE",
    "MAC",
    "MASK",
    "PORT",
    "PORT_SET",
    "PORT_USE",
    "PREFIX_LENGTH",
    "ROUTED",
    "ROUTE_MASK",
    "SWITCH",
    "VLAN",
    "VLAN_SET",
    "BindingType",
    "Kind",
    "PortUse",
    "Routed",
    "is_default_word",
    "tidy",
    "why_unreadable",
]

T = TypeVar("T")

INFINITE = 0xFFFFFFFF
"""A lease without end, in seconds (RFC 2131 3.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind(Generic[T]):
    """A kind of value: `read(show(value)) == value` for every value."""

    name: str
    """What it is called in a sentence, with its article: "an address"."""
    reads: Callable[[str], T]
    """The value of a text without a remark. Raises NotReadable. The text has been tidied and is not empty."""
    show: Callable[[T], str]
    example: str
    choices: tuple[str, ...] = ()
    """All that can be written, where that is a short list."""
    is_set: bool = False
    """Several values in one cell, in any order."""
    members: str = ""
    """Of several values in one cell: what they are."""
    width: int = 16
    """Columns a value needs on a sheet."""

    def read(self, text: str) -> T:
        """The value of a text that has been tidied and is not empty; a remark in brackets behind a value is passed over.
        Raises NotReadable.
        """
        try:
            return self.reads(text)
        except NotReadable:
            value, remark = _remark_behind(text)
            if not remark:
                raise
            found = self.reads(value)
            if _is_another(remark, found, self.reads):
                raise
            return found

    def can_read(self, text: str) -> bool:
        """Whether a text, tidied, is a value of this kind."""
        try:
            self.read(text)
        except NotReadable:
            return False
        return True


class BindingType(Enum):
    """How a binding row came to be."""

    DYNAMIC = "dynamic"
    STATIC = "static"


class Routed(Enum):
    """The word for a port that carries no VLAN."""

    ROUTED = "routed"


ROUTED = Routed.ROUTED
PortUse = int | Routed
"""The VLAN of an access port, or routed."""

_NONE_WORDS = {"none", "-", "no", "nothing", "n/a", "empty", "no ports", "no port", "no vlans", "no vlan"}


def _remark_behind(text: str) -> tuple[str, str]:
    """A value, and the remark in brackets behind it; "" where there is none: "dynamic (DHCP)" is "dynamic", "DHCP"."""
    match = re.fullmatch(r"(.*[^\s(])\s*\(([^()]*)\)", text)
    return (match[1], match[2].strip() or "()") if match else (text, "")


def _is_another(remark: str, value: T, reads: Callable[[str], T]) -> bool:
    """Whether what stands in brackets is a second value, another than the one in front of it."""
    try:
        return reads(remark) != value
    except NotReadable:
        return False


class _Plain(dict[int, str | None]):
    """For every character the plain one that is meant: digits 0 to 9, "-" for any dash, nothing for what is invisible."""

    def __missing__(self, code: int) -> str | None:
        each = chr(code)
        plain = None if unicodedata.category(each) == "Cf" else each
        self[code] = str(unicodedata.digit(each)) if each.isdigit() else plain
        return self[code]


_PLAIN = _Plain({ord(dash): "-" for dash in "‐‑‒–—―−⁃﹣－"})


def tidy(text: str) -> str:
    r"""The text as a reader takes it: one form of digits, dashes and blanks, nothing invisible, no leading apostrophe.

    >>> tidy(" 10.0.0.1\u00a0")
    '10.0.0.1'
    """
    return _tidied(text) if len(text) <= _OFTEN_THE_SAME else _tidied.__wrapped__(text)


_OFTEN_THE_SAME = 40
"""Characters of most answers, labels and headings, which return in all papers of a class."""


@lru_cache(maxsize=4096)
def _tidied(text: str) -> str:
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text).translate(_PLAIN)
    return " ".join(text.split()).removeprefix("'").strip()


@lru_cache(maxsize=1024)
def _address(text: str) -> IPv4Address:
    """An address; blanks beside the dots and an attached prefix length are passed over (R11)."""
    plain = re.sub(r"\s*\.\s*", ".", text)
    plain = re.sub(r"\s*/\s*(?:[12]?\d|3[0-2])$", "", plain)
    if "." not in plain and plain.count(",") == 3:
        plain = re.sub(r"\s*,\s*", ".", plain)
    try:
        return IPv4Address(plain)
    except AddressValueError as error:
        raise _no_address(plain) from error


def _no_address(plain: str) -> NotReadable:
    numbers = plain.partition("/")[0].strip().split(".")
    if all(_is_number(each) for each in numbers):
        if len(numbers) != 4:
            return NotReadable(TextFlaw.NOT_FOUR_NUMBERS, str(len(numbers)))
        for number in numbers:
            if int(number[:9]) > 255:
                return NotReadable(TextFlaw.NUMBER_TOO_LARGE, number)
        for number in numbers:
            if len(number) > 1 and number.startswith("0"):
                return NotReadable(TextFlaw.LEADING_ZERO, number)
    parts = plain.split(".")
    if len(parts) != 4:
        return NotReadable(TextFlaw.NOT_FOUR_PARTS, str(len(parts)))
    return NotReadable(TextFlaw.NOT_A_NUMBER, next(part for part in parts if not _is_number(part)))


def _destination(text: str) -> IPv4Address:
    """An address, or a word for the destination of a default route."""
    return IPv4Address(0) if is_default_word(text) else _address(text)


def is_default_word(text: str) -> bool:
    """Whether a tidied text is a word for the destination of a default route, which says its mask as well (R11)."""
    return text.casefold() in _DEFAULT_WORDS


_DEFAULT_WORDS = {"default", "any", "default route"}


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _dotted_mask(text: str) -> int:
    if re.fullmatch(r"/?\s*\d+", text):
        raise NotReadable(TextFlaw.LENGTH_FOR_DOTTED)
    address = _address(text)
    try:
        return length_of_mask(address)
    except MaskError as error:
        raise _no_mask(address, text) from error


def _no_mask(address: IPv4Address, text: str) -> NotReadable:
    if text != str(address):
        return NotReadable(TextFlaw.NO_MASK)
    is_inverted = not int(address) & (int(address) + 1)
    return NotReadable(TextFlaw.ONES_ON_HOST_SIDE if is_inverted else TextFlaw.ONES_APART, text)


def _prefix_length(text: str) -> int:
    """A prefix length or a dotted mask (R11)."""
    match = re.fullmatch(r"[/+]?\s*(\d+)(?:\.0)?", text)
    if match is None:
        if text.count(".") != 3:
            raise NotReadable(TextFlaw.NO_LENGTH)
        return _dotted_mask(text)
    digits = match[1]
    if int(digits[:9]) > 32:
        raise NotReadable(TextFlaw.PAST_LAST_BIT)
    if len(digits) > 3:
        raise NotReadable(TextFlaw.NO_LENGTH)
    return int(digits)


def _vlan(text: str) -> int:
    """A VLAN number. Numbers that no VLAN can have are read too, so that the mark can say why they are wrong."""
    plain = re.sub(r"^vlan\s*[-#:]?\s*", "", text, flags=re.IGNORECASE | re.ASCII)
    plain = plain.removesuffix(".0").removeprefix("+")
    if not _is_number(plain) or len(plain) > 10:
        raise NotReadable(TextFlaw.NO_VLAN_NUMBER)
    return int(plain)


def _port_use(text: str) -> PortUse:
    if text.casefold() in ("routed", "routed port", "route", "l3", "layer 3"):
        return ROUTED
    try:
        return _vlan(text)
    except NotReadable as error:
        raise NotReadable(TextFlaw.NO_PORT_USE) from error


def _port(text: str) -> PortRef:
    match = re.fullmatch(
        r"(?:port\s*)?([A-Za-z]{1,2})\s*[/:.\- ]?\s*(?:port\s*)?0*(\d{1,4})", text, flags=re.IGNORECASE | re.ASCII
    )
    if match is None:
        if re.fullmatch(r"(?:port\s*)?\d{1,4}", text, flags=re.IGNORECASE | re.ASCII):
            raise NotReadable(TextFlaw.PORT_WITHOUT_SWITCH)
        if re.fullmatch(r"(?:switch\s*)?[A-Z]\s*/?", text, flags=re.IGNORECASE | re.ASCII):
            raise NotReadable(TextFlaw.SWITCH_WITHOUT_PORT)
        raise NotReadable(TextFlaw.NO_PORT)
    return PortRef(SwitchName(match[1].upper()), PortName(match[2]))


_SWITCH_BEFORE_A_NUMBER = r"\b(?:[A-Z]\s*[/:.]?\s*|(?!or|to)[A-Z]{2}[/:.]?)(?=\d)"
"""One letter, or two without a blank behind them: "3 or 5" are two answers and "3 to 5" is a range, not switches OR and TO."""


def _number_set(text: str, most: int) -> frozenset[int]:
    """Numbers and ranges with commas, semicolons or blanks between them; "none" for no number at all."""
    if text.casefold() in _NONE_WORDS:
        return frozenset()
    if re.fullmatch(r"(?i)(all|any|every|both)(\s+\w+)?", text):
        raise NotReadable(TextFlaw.SAYS_ALL)
    plain = re.sub(rf"(?i)\b(?:vlans?|ports?|and)\b|{_SWITCH_BEFORE_A_NUMBER}", " ", text)
    plain = re.sub(r"\s*-\s*", "-", plain)
    numbers: set[int] = set()
    for part in re.split(r"[,;+&\s]+", plain.strip(" ,;.")):
        match = re.fullmatch(r"(\d{1,4})(?:\.0)?(?:-(\d{1,4}))?", part)
        if match is None:
            raise NotReadable(TextFlaw.NO_LIST)
        low, high = int(match[1]), int(match[2] or match[1])
        if not low <= high <= most:
            raise NotReadable(TextFlaw.NO_RANGE, part)
        numbers.update(range(low, high + 1))
    return frozenset(numbers)


def _port_set(text: str) -> frozenset[PortName]:
    return frozenset(PortName(str(number)) for number in _number_set(text, 999))


def _vlan_set(text: str) -> frozenset[int]:
    return _number_set(text, 4095)


def _show_set(values: frozenset[int] | frozenset[PortName]) -> str:
    return ", ".join(map(str, sorted(map(int, values)))) or "none"


def _read_mac(text: str) -> Mac:
    try:
        return mac(re.sub(r"\s+", "-" if len(text.split()) == 6 else "", text))
    except ValueError as error:
        raise _no_mac(text) from error


def _no_mac(text: str) -> NotReadable:
    plain = re.sub(r"[\s.:-]", "", text)
    if not re.fullmatch(r"[0-9A-Fa-f]+", plain):
        return NotReadable(TextFlaw.NOT_HEXADECIMAL)
    if len(plain) == 12:
        return NotReadable(TextFlaw.NO_MAC)
    return NotReadable(TextFlaw.TOO_FEW_DIGITS if len(plain) < 12 else TextFlaw.TOO_MANY_DIGITS)


_UNITS = {
    "s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1,
    "m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
    "h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
    "d": 86400, "day": 86400, "days": 86400,
}  # fmt: skip
_ENDLESS = {"no end", "infinite", "infinity", "permanent", "static", "forever", "never", "unlimited", str(INFINITE)}


def _lease(text: str) -> int:
    """Seconds. A number without a unit counts as seconds, as the protocol does (RFC 2131 3.3)."""
    if text.casefold() in _ENDLESS:
        return INFINITE
    plain = re.sub(r"(?<=\d)[, '](?=\d{3}(?!\d))", "", text)
    match = re.fullmatch(r"(\d{1,10})(?:[.,](\d{1,2}))?\s*([A-Za-z]*)\.?", plain)
    if match is None or match[3].casefold() not in {*_UNITS, ""}:
        is_clock_time = re.fullmatch(r"\d{1,2}:\d{2}(?::\d{2})?(?:\s*[A-Za-z.]+)?", text)
        raise NotReadable(TextFlaw.CLOCK_TIME if is_clock_time else TextFlaw.NO_LEASE)
    hundredths = int(match[1]) * 100 + int((match[2] or "0").ljust(2, "0"))
    seconds = hundredths * _UNITS.get(match[3].casefold(), 1) // 100
    if seconds > INFINITE:
        raise NotReadable(TextFlaw.TOO_LONG)
    return seconds


def _show_lease(seconds: int) -> str:
    if seconds == INFINITE:
        return "no end"
    for unit, length in (("h", 3600), ("min", 60)):
        if seconds % length == 0:
            return f"{seconds // length} {unit}"
    return f"{seconds} s"


def _switch(text: str) -> SwitchName:
    """A letter, or the letter with the switch's place behind it in brackets, as sheet Given prints it."""
    match = re.fullmatch(
        r"(?:(?:switch|sw)\s+|switch)?([A-Z]{1,2})(?:\s*\(.*\))?", text, flags=re.IGNORECASE | re.ASCII
    )
    if match is None:
        raise NotReadable(TextFlaw.NO_SWITCH)
    return SwitchName(match[1].upper())


def _binding_type(text: str) -> BindingType:
    word = {"manual": "static", "dhcp": "dynamic", "learnt": "dynamic", "learned": "dynamic"}.get(
        text.casefold(), text.casefold()
    )
    try:
        return BindingType(word)
    except ValueError as error:
        raise NotReadable(TextFlaw.NO_BINDING_TYPE) from error


ADDRESS: Kind[IPv4Address] = Kind(name="an address", reads=_address, show=str, example="172.20.4.1", width=16)
DESTINATION: Kind[IPv4Address] = Kind(name="an address", reads=_destination, show=str, example="172.20.4.0", width=16)
DOTTED_MASK: Kind[int] = Kind(
    name="a dotted mask", reads=_dotted_mask, show=lambda n: str(mask_of(n)), example="255.255.255.192", width=18
)
MASK: Kind[int] = Kind(
    name="a mask", reads=_prefix_length, show=lambda n: str(mask_of(n)), example="255.255.255.192", width=18
)
ROUTE_MASK: Kind[int] = Kind(
    name="a mask or prefix length", reads=_prefix_length, show=lambda n: f"/{n}", example="/20", width=16
)
PREFIX_LENGTH: Kind[int] = Kind(name="a prefix length", reads=_prefix_length, show=str, example="26", width=8)
VLAN: Kind[int] = Kind(name="a VLAN number", reads=_vlan, show=str, example="120", width=8)
PORT_USE: Kind[PortUse] = Kind(
    name="a VLAN number or the word routed",
    reads=_port_use,
    show=lambda use: use.value if isinstance(use, Routed) else str(use),
    example="120",
    width=16,
)
PORT: Kind[PortRef] = Kind(name="a port", reads=_port, show=str, example="B/7", width=8)
PORT_SET: Kind[frozenset[PortName]] = Kind(
    name="a list of ports",
    reads=_port_set,
    show=_show_set,
    example="3, 5, 9",
    is_set=True,
    members="port numbers",
    width=22,
)
VLAN_SET: Kind[frozenset[int]] = Kind(
    name="a list of VLANs",
    reads=_vlan_set,
    show=_show_set,
    example="120, 300",
    is_set=True,
    members="VLAN numbers",
    width=22,
)
MAC: Kind[Mac] = Kind(name="a MAC address", reads=_read_mac, show=str, example="02-00-5E-00-53-01", width=20)
LEASE: Kind[int] = Kind(name="a lease", reads=_lease, show=_show_lease, example="6 h", width=10)
SWITCH: Kind[SwitchName] = Kind(name="the letter of a switch", reads=_switch, show=str, example="A", width=9)
BINDING_TYPE: Kind[BindingType] = Kind(
    name="the word dynamic or static",
    reads=_binding_type,
    show=lambda kind: kind.value,
    example="static",
    choices=("dynamic", "static"),
    width=10,
)


# What keeps a text from being read ------------------------------------------------------------------------------------

_BETWEEN_VALUES = re.compile(r"[,;|+]|\bor\b|\band\b|\s", re.IGNORECASE)
_PLACEHOLDERS = ("?", "tbd", "todo", "x", "dunno", "idk")
_LOOKED_AT = 200
"""Characters of a text in which several values or a remark are looked for."""


def why_unreadable(text: str, kind: Kind[Any], refused: NotReadable) -> Unreadable:
    """What keeps a tidied text from being a value of a kind: a flaw that a text of any kind can have, or else the one for
    which the kind refused it.
    """
    if not kind.is_set and _holds_two_values(text[:_LOOKED_AT], kind):
        return Unreadable(TextFlaw.TWO_VALUES)
    if not text.strip("?.! ") or text.casefold() in _PLACEHOLDERS:
        return Unreadable(TextFlaw.PLACEHOLDER)
    if _has_remark(text[:_LOOKED_AT], kind):
        return Unreadable(TextFlaw.REMARK)
    return refused.why


def _holds_two_values(text: str, kind: Kind[Any]) -> bool:
    split = (_BETWEEN_VALUES.split(text), text.split("/"))
    return any(sum(kind.can_read(part) for part in parts if part) > 1 for parts in split)


def _has_remark(text: str, kind: Kind[Any]) -> bool:
    """Whether a value stands first, and behind it words that are none: "20 Ovens", "10.20.2.1 (first)"."""
    value, _, rest = text.replace("(", " (").strip().partition(" ")
    return re.search(r"[^\W\d]{3}", rest) is not None and kind.can_read(value.rstrip(",;:"))
