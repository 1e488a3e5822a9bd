"""What a person reads in one returned cell, and why it may be no typed text.

Rule of this file: whatever stands in the file, there is an answer; a value that makes no sense is a trouble, never an
exception. Sections of ECMA-376 are quoted from memory.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from typing import NamedTuple

from trainer.sheets.number_formats import NumberFormat, decimal_text, shown_date, shown_time

__all__ = [
    "MAX_TEXT",
    "ReturnedCell",
    "Shown",
    "Tables",
    "Trouble",
    "cut",
    "plain_text",
    "read_cell",
    "shown_text",
    "small_number",
]

MAX_TEXT = 32_767
"""Characters that a spreadsheet program takes in one cell."""
MAX_SHOWN = 200
"""Characters kept of what only ends up in a message: a formula, a damaged value, an error."""
MAX_NUMBER = 400
"""Characters of a number; the longest decimal that a program writes has about 330."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_WHOLE_NUMBER = re.compile(r"[+-]?[0-9]{1,21}")
_ISO_DATE = re.compile(r"(\d{4}-\d\d-\d\d)(?:T(\d\d:\d\d:\d\d)(?:\.\d+)?Z?)?", re.ASCII)
_ISO_TIME = re.compile(r"T?(\d\d:\d\d:\d\d)(?:\.\d+)?Z?", re.ASCII)
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_LINE_END = re.compile("\r\n|[\r\x0b\x0c\x85\u2028\u2029]")
_UNWANTED = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\ufffe\uffff]")
_MOST_PILED = 30
"""Marks on one letter that are kept; no script needs more (Unicode Standard Annex 15, section 13). Putting them in order
takes the square of their number."""
_MOST_LIGATURES = 3
_MAY_BE_LIGATURES = range(0x300, 0x1F300)
_TEXT_KINDS = frozenset({"str", "inlineStr"})

Shown = tuple[str, "Trouble | None"]
"""The text of a cell and its trouble."""


class Trouble(Enum):
    """Why a cell cannot be taken as typed text."""

    DATE = "date"
    """The spreadsheet program made a date of what was typed, as it does with 1/24."""
    TIME = "time"
    """It made a time or a duration of it, as it does with 00:10:20."""
    ERROR_VALUE = "error value"
    """The cell shows an error such as #N/A."""
    NO_RESULT = "no result"
    """A formula that no spreadsheet program has worked out."""
    DAMAGED = "damaged"
    """The file does not say what the cell shows: a lost text, a number that is none."""
    TRUTH_VALUE = "truth value"
    """It made TRUE or FALSE of it."""
    PERCENT = "percent"
    """It made a percentage of it: 24% is kept as 0.24."""
    TOO_LONG = "too long"
    """More text than a cell can hold; cut."""
    MERGED = "merged"
    """Covered by its neighbour, with which it was merged."""


class ReturnedCell(NamedTuple):
    """One cell that is not blank, or that a merge covers. A tuple, because a book has many hundreds."""

    text: str
    """What a person would read in the cell; numbers as the shortest decimal, lines separated by a line feed, no other
    control character but the tab. Spaces are left as they are. With a trouble: what the cell shows, as a date in ISO
    8601 form, "#N/A", "TRUE", "24%"; a formula without a result is shown itself, from its "=" on."""
    trouble: Trouble | None = None
    is_formula: bool = False
    """The text is the saved result of a formula; it was not worked out again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """What the cells of a book point into."""

    strings: tuple[str, ...]
    """The shared texts as they stand in the file; what they show is worked out for those that a cell points to."""
    formats: tuple[NumberFormat, ...]
    """The number format of each cell format."""
    counts_from_1904: bool
    """Whether days are counted from 1904 instead of 1900."""
    _known: dict[int, Shown] = field(default_factory=dict)

    def shown(self, index: int) -> Shown:
        """What a shared text shows."""
        if index not in self._known:
            self._known[index] = shown_text(self.strings[index])
        return self._known[index]


def read_cell(*, kind: str, style: str, value: str, formula: str | None, tables: Tables) -> ReturnedCell | None:
    """The cell as a person reads it, or None where it shows nothing (a formula's result may be the empty text).

    `kind` and `style` are the attributes "t" and "s" of the element `c` (ECMA-376 part 1, 18.3.1.4), `value` is the
    text of its `v` or of all its runs, "" where there is none.
    """
    if not value or (value.isspace() and kind not in _TEXT_KINDS):
        if formula is None or kind in _TEXT_KINDS:
            return None
        return ReturnedCell(text=cut(f"={formula}"), trouble=Trouble.NO_RESULT, is_formula=True)
    text, trouble = _shown(kind, style, value, tables)
    if not text and trouble is None:
        return None
    return ReturnedCell(text, trouble, formula is not None)


def shown_text(value: str) -> Shown:
    """What a text shows, cut where it is longer than any spreadsheet program takes."""
    if len(value) > MAX_TEXT:
        return plain_text(value[:MAX_TEXT]), Trouble.TOO_LONG
    return plain_text(value), None


def plain_text(text: str) -> str:
    r"""The text with its escapes undone (`ST_Xstring`, ECMA-376 part 1, 22.9.2.19) and its control characters dropped.

    Every line end becomes a line feed; tabs stay. Half a surrogate pair is dropped, and of marks piled up on one letter
    those past the thirtieth; where more than three letters stand for whole phrases, each becomes a replacement sign.

    >>> plain_text("10.0.0.1_x000D_\n10.0.0.2"), plain_text("_x005F_x0041_")
    ('10.0.0.1\n10.0.0.2', '_x0041_')
    """
    if "_x" in text:
        text = _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text)
    if text.isascii() and text.isprintable():
        return text
    text = text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "ignore")
    if len(_ligature().findall(text)) > _MOST_LIGATURES:
        text = _ligature().sub("\ufffd", text)
    return _piled().sub(r"\1", _UNWANTED.sub("", _LINE_END.sub("\n", text)))


@cache
def _piled() -> re.Pattern[str]:
    """Marks on one letter; put together when the first text that is not ASCII comes, since that takes 100 ms."""
    marks = re.escape("".join(chr(code) for code in range(0x300, 0x1F000) if unicodedata.combining(chr(code))))
    return re.compile(f"([{marks}]{{{_MOST_PILED}}})[{marks}]+")


@cache
def _ligature() -> re.Pattern[str]:
    """Single letters that stand for whole phrases; U+FDFA becomes eighteen when a text is tidied."""
    found = [chr(code) for code in _MAY_BE_LIGATURES if len(unicodedata.normalize("NFKC", chr(code))) > 4]
    return re.compile(f"[{re.escape(''.join(found))}]")


def cut(text: str) -> str:
    """The beginning of a text, fit for a message."""
    return plain_text(text[:MAX_SHOWN])


def small_number(digits: str) -> int | None:
    """The number that up to seven ASCII digits spell; None where they are more, or something else."""
    return int(digits) if len(digits) <= 7 and digits.isascii() and digits.isdigit() else None


def _shown(kind: str, style: str, value: str, tables: Tables) -> Shown:
    """What a value shows by its kind (`ST_CellType`, ECMA-376 part 1, 18.18.11)."""
    if kind == "n":
        return _shown_number(value.strip(), _format_of(style, tables), counts_from_1904=tables.counts_from_1904)
    if kind == "s":
        index = small_number(value)
        return ("", Trouble.DAMAGED) if index is None or index >= len(tables.strings) else tables.shown(index)
    return _SHOWN_BY_KIND.get(kind, _shown_damaged)(value)


def _format_of(style: str, tables: Tables) -> NumberFormat:
    """Plain where the style is not in the table: a wrong look does not make a number wrong."""
    index = small_number(style)
    return NumberFormat.PLAIN if index is None or index >= len(tables.formats) else tables.formats[index]


def _shown_number(value: str, number_format: NumberFormat, *, counts_from_1904: bool) -> Shown:
    if len(value) > MAX_NUMBER or not _NUMBER.fullmatch(value):
        return _shown_damaged(value)
    number = float(value)
    if abs(number) == float("inf"):  # 00005e005304 typed in a General cell comes near to this
        return cut(value.upper()), None
    text = str(int(value)) if _WHOLE_NUMBER.fullmatch(value) else decimal_text(number)
    match number_format:
        case NumberFormat.PLAIN:
            return text, None
        case NumberFormat.PERCENT:
            return f"{decimal_text(number * 100)}%", Trouble.PERCENT
        case NumberFormat.DATE:
            # A number that is no date shows as a row of hash signs; the number says more.
            return shown_date(number, counts_from_1904=counts_from_1904) or text, Trouble.DATE
        case NumberFormat.TIME | NumberFormat.ELAPSED:
            return shown_time(number, elapsed=number_format is NumberFormat.ELAPSED) or text, Trouble.TIME


def _shown_truth_value(value: str) -> Shown:
    if value not in ("0", "1", "true", "false"):
        return _shown_damaged(value)
    return "TRUE" if value in ("1", "true") else "FALSE", Trouble.TRUTH_VALUE


def _shown_error_value(value: str) -> Shown:
    return cut(value), Trouble.ERROR_VALUE


def _shown_iso_date(value: str) -> Shown:
    """Strict files may keep a date as ISO 8601 text instead of a number."""
    if found := _ISO_DATE.fullmatch(value):
        day, clock = found.groups()
        return day if clock in (None, "00:00:00") else f"{day} {clock}", Trouble.DATE
    if found := _ISO_TIME.fullmatch(value):
        return found[1], Trouble.TIME
    return _shown_damaged(value)


def _shown_damaged(value: str) -> Shown:
    return cut(value), Trouble.DAMAGED


_SHOWN_BY_KIND: Mapping[str, Callable[[str], Shown]] = {
    "str": shown_text,
    "inlineStr": shown_text,
    "b": _shown_truth_value,
    "e": _shown_error_value,
    "d": _shown_iso_date,
}
