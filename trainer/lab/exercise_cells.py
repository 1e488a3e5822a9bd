"""What a cell of the exercise workbook may hold: for each kind of cell a function that makes readers, text to value.

A reader raises WrongText. The text has been tidied; "" is a blank cell.
"""

import re
from collections.abc import Callable
from ipaddress import IPv4Network
from typing import TypeVar

from trainer.lab.coded import Coded
from trainer.lab.exercise import Numbers
from trainer.lab.questions import FORM
from trainer.lab.works import MustWork
from trainer.network.devices import SwitchName

__all__ = [
    "DRAWN_RANGES",
    "PRIVATE_RANGES",
    "YES_NO",
    "WrongText",
    "address_ranges",
    "addresses_needed",
    "block_length",
    "filled",
    "must_work",
    "names",
    "no_unless_yes",
    "number",
    "number_or_blank",
    "numbers",
    "one_for_all",
    "per_cent",
    "ports",
    "section",
    "switch_count",
    "switch_name",
    "switch_names",
    "text",
    "vlan_numbers",
    "way_out",
    "word",
    "words_of",
    "yes",
    "yes_or_blank",
    "yes_unless_no",
]

C = TypeVar("C", bound=Coded)

PRIVATE_RANGES = tuple(map(IPv4Network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")))
"""RFC 1918 3."""
DRAWN_RANGES = tuple(map(IPv4Network, ("10.64.0.0/10", "172.16.0.0/12", "192.168.0.0/16")))
"""What the word any stands for: the lower quarter of 10.0.0.0/8 is left to the networks that a school may run itself."""


_MOST_ADDRESSES = 65_534


class WrongText(ValueError):
    """What a cell holds is not what may stand there; holds what would be right and what to do."""

    def __init__(self, wanted: str, fix: str) -> None:
        self.wanted, self.fix = wanted, fix
        super().__init__(wanted)


def text(written: str) -> str:
    return written


def filled(what: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if not text:
            raise WrongText(f"{what} stands here", "Write one.")
        return text

    return read


def number(low: int, high: int, *, blank: int | None = None) -> Callable[[str], int | None]:
    def read(text: str) -> int | None:
        if not text and blank is not None:
            return blank
        _refuse_date(text, f"a whole number from {low} to {high}", may_be_range=False)
        plain = text.removesuffix(".0")
        if not (plain.isascii() and plain.isdigit()) or len(plain) > 9 or not low <= int(plain) <= high:
            raise WrongText(f"a whole number from {low} to {high} stands here", "Write one.")
        return int(plain)

    return read


def _refuse_date(text: str, wanted: str, *, may_be_range: bool) -> None:
    """What a spreadsheet program makes of 11-14 or 1/24 that is typed into a cell which is no text."""
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)(?: .*)?", text, re.ASCII)
    if match:
        year, month, day = map(int, match.groups())
        # a day of 1 was not typed: the second number was a year then
        low, high = (month, year % 100) if day == 1 else sorted((month, day))
        perhaps = f", perhaps {low}-{high}" if may_be_range and low < high else ""
        raise WrongText(
            f"{wanted} stands here, and the spreadsheet program made a date of what was typed",
            f"Format the cell as Text and type it again{perhaps}.",
        )


def per_cent(*, blank: int | None = None) -> Callable[[str], int | None]:
    """0 to 100, as a whole number."""
    read = number(0, 100, blank=blank)

    def read_per_cent(text: str) -> int | None:
        if match := re.fullmatch(r"(\d{1,3})\s*%", text, re.ASCII):
            raise WrongText(
                "a whole number stands here, which is per cent already; with the sign % the program keeps a hundredth of it",
                f"Format the cell as Text and write {match[1]}.",
            )
        if match := re.fullmatch(r"0[.,](\d{1,2})", text, re.ASCII):
            raise WrongText(
                "a whole number from 0 to 100 stands here, in per cent, not a part of 1",
                f"Write {int(match[1].ljust(2, '0'))}.",
            )
        return read(text)

    return read_per_cent


def number_or_blank(low: int, high: int) -> Callable[[str], int | None]:
    read = number(low, high)
    return lambda text: read(text) if text else None


def numbers(low: int, high: int) -> Callable[[str], Numbers]:
    """One value, a range, a list of both, or the word any."""

    def read(text: str) -> Numbers:
        if text.casefold() == "any":
            return Numbers(((low, high),))
        _refuse_date(text, f"one value, a range or a list of numbers from {low} to {high}", may_be_range=True)
        ranges = []
        for part in re.split(r"\s*[,;]\s*", text.removesuffix(".0")):
            match = re.fullmatch(r"/?(\d{1,9})(?:\s*-\s*/?(\d{1,9}))?", part)
            first, last = (int(match[1]), int(match[2] or match[1])) if match else (1, 0)
            if not (match and low <= first <= last <= high):
                raise WrongText(
                    f"one value, a range or a list of numbers from {low} to {high} stands here",
                    f"Write it like {low}, {low}-{min(high, low + 10)}, or any.",
                )
            ranges.append((first, last))
        return Numbers(_merged(ranges))

    return read


def vlan_numbers(text: str) -> Numbers:
    try:
        return numbers(2, 4094)(text)
    except WrongText as error:
        if text.casefold() == "any" or not re.search(r"(?<![\d/])0*1(?!\d)", text):
            raise
        raise WrongText(
            "numbers from 2 to 4094 stand here; VLAN 1 is the one that every port is in from the start (IEEE 802.1Q), so labs "
            "leave it alone",
            "Begin with 2 or higher.",
        ) from error


def addresses_needed(text: str) -> Numbers:
    match = re.search(r"/(\d{1,2})(?!\d)", text, re.ASCII)
    if match:
        room = 2 ** max(0, 32 - int(match[1])) - 2
        many = f"; /{match[1]} has room for {room}" if 2 <= room <= _MOST_ADDRESSES else ""
        raise WrongText(
            f"a number of addresses stands here, and {match[0]} is the length of a prefix{many}",
            f"Write {room if many else 62}, or a range such as {room // 2 if many and room > 5 else 31}-{room if many else 62}.",
        )
    return numbers(2, _MOST_ADDRESSES)(text)


def _merged(ranges: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The same numbers in ranges that do not meet, so that none stands there twice."""
    merged: list[tuple[int, int]] = []
    for low, high in sorted(ranges):
        if merged and low <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return tuple(merged)


def names(text: str) -> tuple[str, ...]:
    found = tuple(part.strip() for part in text.split(",") if part.strip())
    if not found:
        raise WrongText("a name stands here, or a list of names to draw from", "Write one.")
    if any(len(name) > 30 for name in found):
        raise WrongText("a name has at most 30 characters", "Write a shorter one.")
    return found


def word(words: type[C], *, blank: C | None = None) -> Callable[[str], C]:
    def read(text: str) -> C:
        if not text and blank is not None:
            return blank
        for each in words:
            if text.casefold() in (each.word.casefold(), each.value.replace("-", " ")):  # the code is its first word
                return each
        raise WrongText(
            f"one of these stands here: {'; '.join(each.word for each in words)}", "Choose one from the list."
        )

    return read


def yes(text: str) -> bool:
    if text.casefold() not in ("yes", "no"):
        raise WrongText("yes or no stands here", "Choose one from the list.")
    return text.casefold() == "yes"


def yes_or_blank(text: str) -> bool | None:
    if text.casefold() not in ("yes", "no", ""):
        raise WrongText("yes or no stands here, or nothing", "Choose one from the list, or leave the cell blank.")
    return yes(text) if text else None


def yes_unless_no(text: str) -> bool:
    return yes_or_blank(text) is not False


def no_unless_yes(text: str) -> bool:
    return yes_or_blank(text) is True


def one_for_all(text: str) -> bool:
    if text.casefold() not in ("one each", "one for all"):
        raise WrongText("one of these stands here: one each; one for all", "Choose one from the list.")
    return text.casefold() == "one for all"


def address_ranges(text: str) -> tuple[IPv4Network, ...]:
    if text.casefold() == "any":
        return DRAWN_RANGES
    found: list[IPv4Network] = []
    for part in re.split(r"\s*[,;]\s*", text):
        try:
            network = IPv4Network(part)
        except ValueError as error:
            raise WrongText(
                f"private address ranges stand here (RFC 1918), and {part!r} is none", "Write it like 172.16.0.0/12."
            ) from error
        if not re.search(r"/\d{1,2}$", part) or not any(network.subnet_of(private) for private in PRIVATE_RANGES):
            raise WrongText(
                "only private ranges (RFC 1918) are drawn from: 10.0.0.0/8, 172.16.0.0/12, 192.168.0.0/16 or parts of them",
                "Write one of these, with its prefix length.",
            )
        if any(network.overlaps(other) for other in found):
            raise WrongText(f"ranges do not overlap, and {part} overlaps another", "Take one of them out.")
        found.append(network)
    return tuple(found)


def block_length(text: str) -> int | None:
    if text.casefold() in ("", "smallest"):
        return None
    read = number(8, 30)
    try:
        return read(text.removeprefix("/"))
    except WrongText as error:
        raise WrongText("the word smallest or a length from /8 to /30 stands here", "Write it like /21.") from error


def must_work(text: str) -> MustWork | None:
    """Shares by sort, in any order: "leases 100, pings 80, attacks 90"; None for a blank cell."""
    shares: dict[str, int] = {}
    for part in re.split(r"\s*[,;]\s*", text) if text else ():
        match = re.fullmatch(r"(leases|pings|attacks)\s+(\d{1,3})\s*%?", part, re.IGNORECASE | re.ASCII)
        if match is None or int(match[2]) > 100 or match[1].casefold() in shares:
            raise WrongText(
                "leases, pings and attacks stand here, each once with a share from 0 to 100 per cent, or nothing",
                "Write it like leases 100, pings 80, attacks 90.",
            )
        shares[match[1].casefold()] = int(match[2])
    return MustWork(**shares) if shares else None


def switch_name(*words: SwitchName) -> Callable[[str], SwitchName]:
    """A letter, for many switches two, or one of the words."""

    def read(text: str) -> SwitchName:
        if text.casefold() in words:
            return SwitchName(text.casefold())
        if not re.fullmatch(r"[A-Za-z]{1,2}", text):
            also = "".join(f", or the word {each}" for each in words)
            raise WrongText(f"the letter of a switch stands here{also}", "Write one such as A.")
        return SwitchName(text.upper())

    return read


def way_out(text: str) -> SwitchName | None:
    if text.casefold() in ("", "none"):
        return None
    try:
        return switch_name()(text)
    except WrongText as error:
        raise WrongText("the word none or the letter of a switch stands here", "Write one such as A.") from error


def ports(text: str) -> Numbers | None:
    """None for the word any: what it stands for depends on the other column."""
    return None if text.casefold() == "any" else numbers(1, 999)(text)


def switch_count(text: str) -> Numbers | None:
    if text.casefold() in ("", "as listed"):
        return None
    try:
        return numbers(2, 50)(text)
    except WrongText as error:
        raise WrongText(
            "the words as listed, a number or a range from 2 to 50 stand here", "Write it like 3-4."
        ) from error


def switch_names(text: str) -> tuple[SwitchName, ...]:
    return tuple(switch_name()(part) for part in re.split(r"[,;\s]+", text) if part)


def section(text: str) -> str:
    """The id of a section, by its title."""
    for each in FORM:
        if text.casefold() == each.title.casefold():
            return each.id
    titles = ", ".join(each.title for each in FORM)
    raise WrongText(f"one of the sheets of the form stands here: {titles}", "Write its title as it was.")


YES_NO = ("yes", "no")


def words_of(words: type[Coded]) -> tuple[str, ...]:
    return tuple(each.word for each in words)
