"""Text in cells: what a file can hold of it, and how high it is."""

import math
import re
import unicodedata
from functools import lru_cache

__all__ = ["LONGEST", "printable", "text_height", "text_width", "writable"]

LONGEST = 2000
"""Characters of one cell; longer text is cut, with a mark that says so."""
_LINE = 12.2
"""Height of a line of text in points: our font at 10 points has 11.64, whole pixels make 12 of it."""
_INSET = 3
"""What indent, borders and rounding take of a column's width."""
_BROADEST = 1.5
"""Digits."""
_NARROW = frozenset(" !'(),-./:;I[]\\fijlrt|")
_WIDE = frozenset("#%+<=>@MW^mw~\u00bd\u2026")
"""Characters of half and of one and a half times the width of a digit, which a column's width is counted in; measured in
our font, in which all others are about as wide as a digit.
"""


def printable(text: str) -> str:
    """As it stands in a cell: writable, not too long, and never taken for an escape.

    A text that looks like the format's own escape, _x0041_, is escaped itself (ECMA-376 part 1, 22.9.2.19, from memory).
    """
    text = writable(text)
    text = text if len(text) <= LONGEST else text[: LONGEST - 1] + "\u2026"
    return re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)


def writable(text: str) -> str:
    """With blanks for what no XML document may hold: control characters, lone surrogates, U+FFFE and U+FFFF."""
    if text.isprintable():
        return text
    return "".join(each if each == "\n" or _may_stand(each) else " " for each in text)


def _may_stand(character: str) -> bool:
    return unicodedata.category(character) not in {"Cc", "Cs"} and character not in "\ufffe\uffff"


@lru_cache(maxsize=4096)
def text_width(text: str) -> float:
    """The width of a column that holds the text in one line, in digits of our font.

    >>> text_width("255.255.255.0"), text_width("dynamic")
    (14.8, 10.1)
    """
    return round(sum(map(_breadth, text)) + _INSET, 1)


@lru_cache(maxsize=4096)
def text_height(text: str, width: float) -> float:
    """The height in points that wrapped text needs in a column of that width; programs do not work it out by themselves.

    >>> text_height("", 20), text_height("Reading rooms 2", 20), text_height("Reading rooms 2", 15)
    (15.2, 15.2, 27.4)
    """
    lines = sum(_lines(line, max(1, width - _INSET)) for line in text.split("\n"))
    return round(lines * _LINE + 3, 1)


def _lines(text: str, width: float) -> int:
    """The lines that text fills, broken at blanks, and inside words that are longer than a line."""
    if len(text) * _BROADEST <= width:
        return 1
    lines, used = 1, 0.0
    for word in text.split(" "):
        breadth = sum(map(_breadth, word))
        if used and used + breadth > width:
            lines, used = lines + 1, 0.0
        used += breadth
        full = max(0, math.ceil(used / width) - 1)
        lines, used = lines + full, used - full * width + _breadth(" ")
    return lines


@lru_cache(maxsize=1024)
def _breadth(character: str) -> float:
    """In digits of our font."""
    if character in _NARROW:
        return 0.6
    return _BROADEST if character in _WIDE or unicodedata.east_asian_width(character) in "WF" else 1.0
