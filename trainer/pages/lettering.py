"""Lettering of drawings: how wide a text is at most, whatever font draws it, and how it is fitted into its room.

A drawing asks for a generic font, so nobody knows the true widths. These are those of a wide one, rounded up; a text in
a narrower font leaves some room free.
"""

import unicodedata
from dataclasses import dataclass
from functools import lru_cache

__all__ = ["ELLIPSIS", "Fitted", "clean", "fitted", "flowed", "width_of"]

ELLIPSIS = "…"
_BOLD = 1.18
"""How much wider bold letters are."""
_WIDTHS = {
    character: width
    for width, characters in (
        (0.32, "ijl'|I.,:;! "),
        (0.42, "ftrJ()[]/\\-`·"),
        (0.58, 'csvxyzkLF*"_'),
        (0.65, "abdeghnopqu0123456789?$EPTYZS"),
        (0.79, "wABCDGHKNOQRUVX&{}"),
        (0.85, "+=<>#^~"),
        (1.02, "mMW%@"),
    )
    for character in characters
}
_LETTER, _CAPITAL, _FULL, _OTHER = 0.65, 0.76, 1.05, 0.95
_TURNING = {0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
"""Characters that turn the direction of what follows (Unicode Standard Annex 9, 2)."""


@lru_cache(maxsize=4096)
def _width(character: str) -> float:
    """In parts of the font's size."""
    if unicodedata.category(character) in ("Mn", "Me", "Cf"):
        return 0.0
    if character in _WIDTHS:
        return _WIDTHS[character]
    if unicodedata.east_asian_width(character) in "WF":
        return _FULL if ord(character) < 0x1F000 else 1.4
    if ord(character) > 0x2FF and not 0x370 <= ord(character) < 0x600:
        return _OTHER
    return _CAPITAL if character.isupper() else _LETTER


@lru_cache(maxsize=4096)
def width_of(text: str, size: float, *, is_bold: bool = False) -> float:
    """How wide a line is at most, in the unit of the font's size."""
    return sum(map(_width, text)) * size * (_BOLD if is_bold else 1)


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """The text on one line; characters that XML 1.0 forbids or that turn the direction of writing show as U+FFFD."""
    line = " ".join(text.split())
    if line.isascii() and line.isprintable():
        return line
    return "".join(["\N{REPLACEMENT CHARACTER}" if _is_refused(character) else character for character in line])


def _is_refused(character: str) -> bool:
    code = ord(character)
    return code in _TURNING or unicodedata.category(character) in ("Cc", "Cs") or code & 0xFFFE == 0xFFFE


@dataclass(frozen=True, slots=True)
class Fitted:
    """A text broken into lines."""

    lines: tuple[str, ...]
    is_shortened: bool


@lru_cache(maxsize=4096)
def fitted(text: str, room: float, size: float, *, most_lines: int, is_bold: bool = False) -> Fitted:
    """The text in lines no wider than the room, broken at spaces where there are any; what is too long ends in an ellipsis."""
    left = text
    lines: list[str] = []
    while left and len(lines) < most_lines:
        line = _first_line(left, room, size, is_bold)
        lines.append(line.rstrip())
        left = left[len(line) :].lstrip()
    if left and lines:
        last = lines[-1]
        while last and width_of(last + ELLIPSIS, size, is_bold=is_bold) > room:
            last = last[:-1]
        lines[-1] = last.rstrip() + ELLIPSIS
    return Fitted(tuple(lines), bool(left))


def _first_line(text: str, room: float, size: float, is_bold: bool) -> str:
    used, end, last_space = 0.0, len(text), 0
    for place, character in enumerate(text):
        used += width_of(character, size, is_bold=is_bold)
        if used > room:
            end = max(place, 1)
            break
        if character == " ":
            last_space = place + 1
    else:
        return text
    if last_space:
        return text[:last_space]
    while end < len(text) and end > 1 and unicodedata.category(text[end])[0] == "M":
        end -= 1
    return text[:end]


def flowed(items: tuple[str, ...], room: float, size: float, between: str) -> tuple[str, ...]:
    """Items one behind the other on lines no wider than the room; an item is only broken where it fills a line alone."""
    lines: list[str] = []
    for item in items:
        joined = lines[-1] + between + item if lines else item
        if lines and width_of(joined, size) <= room:
            lines[-1] = joined
        else:
            lines.extend(fitted(item, room, size, most_lines=99).lines)
    return tuple(lines)
