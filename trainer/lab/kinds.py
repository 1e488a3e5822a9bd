"""How a value is written: reading what people type, showing what we print. A kind knows no sheet and no question.

Reading is generous about form and strict about meaning: what can only be meant one way is read, what could be meant
two ways is not (marking rules R10 and R11).
"""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from ipaddress import AddressValueError, IPv4Address
from typing import Generic, TypeVar

from trainer.network.addresses import Mac, MaskError, length_of_mask, mac, mask_of
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "ADDRESS",
    "BINDING_TYPE",
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
    "NotReadable",
    "PortUse",
    "Routed",
    "tidy",
]

T = TypeVar("T")

INFINITE = 0xFFFFFFFF
"""A lease without end, in seconds (RFC 2131 3.3)."""


class NotReadable(ValueError):
    """What was typed is no value of its kind; the text is a sentence that says why and how to write it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind(Generic[T]):
    """A kind of value: `read(show(value)) == value` for every value."""

    name: str
    """What it is called in a sentence, with its article: "an address"."""
    read: Callable[[str], T]
    """Raises NotReadable. The text has been tidied and is not empty."""
    show: Callable[[T], str]
    example: str
    choices: tuple[str, ...] = ()
    """All that can be written, where that is a short list."""
    is_set: bool = False
    """Several values in one cell, in any order."""
    width: int = 16
    """Columns a value needs on a sheet."""


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

_TWO_VALUES = re.compile(r"[,;|+]|\bor\b|\band\b|\s", re.IGNORECASE)
_NONE_WORDS = {"none", "-", "no", "nothing", "n/a", "empty"}


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
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text).translate(_PLAIN)
    return " ".join(text.split()).removeprefix("'").strip()


def _address(text: str) -> IPv4Address:
    """An address; blanks beside the dots and an attached prefix length are passed over (R11)."""
    plain = re.sub(r"\s*\.\s*", ".", text)
    plain = re.sub(r"\s*/\s*(?:[12]?\d|3[0-2])$", "", plain)
    if "." not in plain and plain.count(",") == 3:
        plain = re.sub(r"\s*,\s*", ".", plain)
    try:
        return IPv4Address(plain)
    except AddressValueError as fault:
        raise NotReadable(_why_no_address(plain, text)) from fault


def _why_no_address(plain: str, text: str) -> str:
    if _holds_two(text, lambda part: IPv4Address(part.split("/")[0])):
        return f"{text!r} holds more than one value; two values in a cell count as none."
    numbers = plain.split(".")
    if len(numbers) != 4:
        return (
            f"{text!r} is not an address: an address has four numbers with dots between them, this has {len(numbers)}."
        )
    for number in numbers:
        if not (number.isascii() and number.isdigit()):
            return f"{text!r} is not an address: {number!r} is not a number."
        if len(number) > 1 and number.startswith("0"):
            return f"{text!r} starts a number with 0, which some devices read as octal: write it without the 0."
        if int(number[:9]) > 255:
            return f"{text!r} is not an address: {number} is more than 255."
    return f"{text!r} is not an address: write it like 172.20.4.1."


def _holds_two(text: str, read: Callable[[str], object]) -> bool:
    parts = [part for part in _TWO_VALUES.split(text) if part]
    found = 0
    for part in parts:
        try:
            read(part)
        except ValueError:
            continue
        found += 1
    return found > 1


def _dotted_mask(text: str) -> int:
    if re.fullmatch(r"/?\s*\d{1,2}", text):
        raise NotReadable(
            f"{text!r} is a prefix length; this cell asks for the mask in dotted form, like 255.255.255.0."
        )
    address = _address(text)
    try:
        return length_of_mask(address)
    except MaskError as fault:
        raise NotReadable(f"{text!r} is not a mask: it has a 0 bit before a 1 bit.") from fault


def _prefix_length(text: str) -> int:
    """A prefix length or a dotted mask (R11)."""
    match = re.fullmatch(r"[/+]?\s*(\d{1,3})(?:\.0)?", text)
    if match is None:
        if text.count(".") != 3:
            raise NotReadable(f"{text!r} is neither a prefix length such as /26 nor a mask such as 255.255.255.192.")
        return _dotted_mask(text)
    length = int(match[1])
    if length > 32:
        raise NotReadable(f"{text!r} is not a prefix length: it runs from 0 to 32.")
    return length


def _whole_number(text: str, what: str) -> int:
    plain = text.removesuffix(".0").removeprefix("+")
    if not (plain.isascii() and plain.isdigit()) or len(plain) > 10:
        if _holds_two(text, int):
            raise NotReadable(f"{text!r} holds more than one value; two values in a cell count as none.")
        raise NotReadable(f"{text!r} is not {what}.")
    return int(plain)


def _vlan(text: str) -> int:
    """A VLAN number. Numbers that no VLAN can have are read too, so that the mark can say why they are wrong."""
    return _whole_number(
        re.sub(r"^vlan\s*[-#:]?\s*", "", text, flags=re.IGNORECASE | re.ASCII), "a VLAN number such as 120"
    )


def _port_use(text: str) -> PortUse:
    if text.casefold() in ("routed", "routed port", "route", "l3", "layer 3"):
        return ROUTED
    try:
        return _vlan(text)
    except NotReadable as fault:
        raise NotReadable(f"{text!r} is neither a VLAN number nor the word routed.") from fault


def _port(text: str) -> PortRef:
    match = re.fullmatch(
        r"(?:port\s*)?([A-Za-z]{1,2})\s*[/:.\- ]?\s*(?:port\s*)?0*(\d{1,4})", text, flags=re.IGNORECASE | re.ASCII
    )
    if match is None:
        if re.fullmatch(r"(?:port\s*)?\d{1,4}", text, flags=re.IGNORECASE | re.ASCII):
            raise NotReadable(f"{text!r} does not say on which switch: write the port like B/7.")
        raise NotReadable(f"{text!r} is not a port: write it like B/7.")
    return PortRef(SwitchName(match[1].upper()), PortName(match[2]))


def _number_set(text: str, what: str, most: int) -> frozenset[int]:
    """Numbers and ranges with commas, semicolons or blanks between them; "none" for no number at all."""
    if text.casefold() in _NONE_WORDS:
        return frozenset()
    plain = re.sub(r"(?i)\b(?:vlans?|ports?|and)\b|\b[A-Z]{1,2}\s*/\s*(?=\d)", " ", text)
    plain = re.sub(r"\s*-\s*", "-", plain)
    numbers: set[int] = set()
    for part in re.split(r"[,;+&\s]+", plain.strip(" ,;.")):
        match = re.fullmatch(r"(\d{1,4})(?:\.0)?(?:-(\d{1,4}))?", part)
        if match is None:
            raise NotReadable(f"{text!r} is not a list of {what}: write it like 3, 5, 9, or none.")
        low, high = int(match[1]), int(match[2] or match[1])
        if not low <= high <= most:
            raise NotReadable(f"{text!r} holds {part!r}, which is no range of {what}: write it like 3-9.")
        numbers.update(range(low, high + 1))
    return frozenset(numbers)


def _port_set(text: str) -> frozenset[PortName]:
    return frozenset(PortName(str(number)) for number in _number_set(text, "port numbers", 999))


def _vlan_set(text: str) -> frozenset[int]:
    return _number_set(text, "VLAN numbers", 4095)


def _show_set(values: frozenset[int] | frozenset[PortName]) -> str:
    return ", ".join(map(str, sorted(map(int, values)))) or "none"


def _read_mac(text: str) -> Mac:
    try:
        return mac(re.sub(r"\s+", "-" if len(text.split()) == 6 else "", text))
    except ValueError as fault:
        raise NotReadable(f"{text!r} is not a MAC address: it needs twelve hexadecimal digits.") from fault


_UNITS = {
    "s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1,
    "m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
    "h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
    "d": 86400, "day": 86400, "days": 86400,
}  # fmt: skip
_ENDLESS = {"infinite", "infinity", "permanent", "static", "forever", "never", "unlimited", str(INFINITE)}


def _lease(text: str) -> int:
    """Seconds. A number without a unit counts as seconds, as the protocol does (RFC 2131 3.3)."""
    if text.casefold() in _ENDLESS:
        return INFINITE
    match = re.fullmatch(r"(\d{1,10})(?:[.,](\d{1,2}))?\s*([A-Za-z]*)\.?", text)
    if match is None or match[3].casefold() not in {*_UNITS, ""}:
        raise NotReadable(
            f"{text!r} is not a lease: write it with its unit, like 6 h, 360 min or 21600 s, or infinite."
        )
    hundredths = int(match[1]) * 100 + int((match[2] or "0").ljust(2, "0"))
    seconds = hundredths * _UNITS.get(match[3].casefold(), 1) // 100
    if seconds > INFINITE:
        raise NotReadable(f"{text!r} is longer than a lease can be; write infinite for one without end.")
    return seconds


def _show_lease(seconds: int) -> str:
    if seconds == INFINITE:
        return "infinite"
    for unit, length in (("h", 3600), ("min", 60)):
        if seconds % length == 0:
            return f"{seconds // length} {unit}"
    return f"{seconds} s"


def _switch(text: str) -> SwitchName:
    """A letter, or the letter with the switch's place behind it in brackets, as sheet Given prints it."""
    match = re.fullmatch(r"(?:switch\s*)?([A-Z]{1,2})(?:\s*\(.*\))?", text, flags=re.IGNORECASE | re.ASCII)
    if match is None:
        raise NotReadable(f"{text!r} is not the letter of a switch: write it like A.")
    return SwitchName(match[1].upper())


def _binding_type(text: str) -> BindingType:
    word = {"manual": "static", "dhcp": "dynamic", "learnt": "dynamic", "learned": "dynamic"}.get(
        text.casefold(), text.casefold()
    )
    try:
        return BindingType(word)
    except ValueError as fault:
        raise NotReadable(f"{text!r} is neither dynamic nor static.") from fault


ADDRESS: Kind[IPv4Address] = Kind(name="an address", read=_address, show=str, example="172.20.4.1", width=16)
DOTTED_MASK: Kind[int] = Kind(
    name="a dotted mask", read=_dotted_mask, show=lambda n: str(mask_of(n)), example="255.255.255.192", width=16
)
MASK: Kind[int] = Kind(
    name="a mask", read=_prefix_length, show=lambda n: str(mask_of(n)), example="255.255.255.192", width=16
)
ROUTE_MASK: Kind[int] = Kind(
    name="a mask or prefix length", read=_prefix_length, show=lambda n: f"/{n}", example="/20", width=16
)
PREFIX_LENGTH: Kind[int] = Kind(name="a prefix length", read=_prefix_length, show=str, example="26", width=8)
VLAN: Kind[int] = Kind(name="a VLAN number", read=_vlan, show=str, example="120", width=8)
PORT_USE: Kind[PortUse] = Kind(
    name="a VLAN number or the word routed",
    read=_port_use,
    show=lambda use: use.value if isinstance(use, Routed) else str(use),
    example="120",
    width=16,
)
PORT: Kind[PortRef] = Kind(name="a port", read=_port, show=str, example="B/7", width=8)
PORT_SET: Kind[frozenset[PortName]] = Kind(
    name="a list of ports", read=_port_set, show=_show_set, example="3, 5, 9", is_set=True, width=22
)
VLAN_SET: Kind[frozenset[int]] = Kind(
    name="a list of VLANs", read=_vlan_set, show=_show_set, example="120, 300", is_set=True, width=22
)
MAC: Kind[Mac] = Kind(name="a MAC address", read=_read_mac, show=str, example="02-00-5E-00-53-01", width=20)
LEASE: Kind[int] = Kind(name="a lease", read=_lease, show=_show_lease, example="6 h", width=10)
SWITCH: Kind[SwitchName] = Kind(name="the letter of a switch", read=_switch, show=str, example="A", width=9)
BINDING_TYPE: Kind[BindingType] = Kind(
    name="the word dynamic or static",
    read=_binding_type,
    show=lambda kind: kind.value,
    example="static",
    choices=("dynamic", "static"),
    width=10,
)
