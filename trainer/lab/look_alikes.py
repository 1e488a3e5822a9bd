"""Letters that look like the right ones: a Cyrillic or Greek letter in a MAC address, the letter O for the digit 0.

Such a cell is never guessed at, because the device would not take it either; but the reason is told, since nobody can
see it. Common practice, no source: the lists hold what looks alike in the fonts of spreadsheet programs.
"""

import unicodedata
from typing import Any

from trainer.lab.kinds import Kind

__all__ = ["look_alike"]

_LETTERS = str.maketrans(
    "АВСЕНІЈКМОРЅТУХавсеіјкморѕтухԁһΑΒΕΖΗΙΚΜΝΟΡΤΥΧαοικνρυχ",
    "ABCEHIJKMOPSTYXabceijkmopstyxdhABEZHIKMNOPTYXaoikvpux",
)
"""Cyrillic and Greek letters, capital and small, and the Latin ones they are taken for."""
_DIGITS = str.maketrans("OoIl", "0011")
"""Latin letters and the digits they are taken for."""


def look_alike(text: str, kind: Kind[Any]) -> str:
    """A sentence where a text that is no value of its kind would be one but for letters that look like others; else ""."""
    latin = text.translate(_LETTERS)
    if latin != text and (kind.can_read(latin) or kind.can_read(latin.translate(_DIGITS))):
        letter, meant = next((a, b) for a, b in zip(text, latin, strict=True) if a != b)
        alphabet = unicodedata.name(letter).split()[0].title()
        return f"{text!r} holds a {alphabet} letter that only looks like {meant}. Type it again with Latin letters and digits."
    has_digit = len(text) == 1 or any(each.isdigit() for each in text)
    digits = text.translate(_DIGITS) if has_digit else text  # "all" is a word
    if digits != text and kind.can_read(digits):
        letter, meant = next((a, b) for a, b in zip(text, digits, strict=True) if a != b)
        name = f"small letter {letter}" if letter.islower() else f"letter {letter}"
        return f"{text!r} has the {name} where the digit {meant} belongs. Type it again with digits."
    return ""
