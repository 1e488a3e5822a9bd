r"""What is printed reaches the terminal as text: names and answers that others wrote cannot steer it, nor stop the program.

A character that would (control codes, marks that turn the direction of writing), or that the terminal's encoding lacks,
is printed as \uXXXX. In JSON that is the character itself, so what other programs read is not changed.
"""

import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

__all__ = ["beneath", "in_one_line", "readable_output"]

_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that change the direction of writing (Unicode Standard Annex 9, section 2)."""


class _Readable:
    """A stream that escapes what steers a terminal, and is otherwise the one beneath."""

    def __init__(self, beneath: TextIO) -> None:
        self.beneath = beneath

    def __getattr__(self, name: str) -> Any:
        return getattr(self.beneath, name)

    def write(self, text: str) -> int:
        known = self.beneath.encoding or "utf-8"
        self.beneath.write("".join(each if each == "\n" else _escaped(each, known) for each in text))
        return len(text)


@contextmanager
def readable_output() -> Iterator[None]:
    """Escapes in standard output and standard error while the block runs."""
    out, err = cast("TextIO", _Readable(sys.stdout)), cast("TextIO", _Readable(sys.stderr))
    with redirect_stdout(out), redirect_stderr(err):
        yield


def beneath(stream: TextIO) -> TextIO:
    """The stream without escaping, for a line that is meant to be written over."""
    return stream.beneath if isinstance(stream, _Readable) else stream


def in_one_line(name: str) -> str:
    r"""A name of a file that others chose, as it stands inside a line.

    >>> in_one_line("a\nb.xlsx"), in_one_line("Zoë.xlsx")
    ('a\\u000ab.xlsx', 'Zoë.xlsx')
    """
    return "".join(_escaped(each, "utf-8") for each in name)


def _escaped(character: str, encoding: str) -> str:
    if character.isascii():
        return character if character.isprintable() else f"\\u{ord(character):04x}"
    is_steering = character in _TURNING or unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        is_steering = True
    if not is_steering:
        return character
    units = character.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[place : place + 4]}" for place in range(0, len(units), 4))
