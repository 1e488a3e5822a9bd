"""Words that are chosen from, each with the code that records hold."""

from enum import Enum
from typing import Self

__all__ = ["Coded"]


class Coded(Enum):
    """A closed set whose members have a code and a word: NAME = code, word.

    The code, small letters and hyphens, is the member's value. It is what records hold, so it never changes. The word is
    what people read and write, and may be changed at any time.
    """

    # each member stands once; the hash of its name would be asked for with every look-up
    __hash__ = object.__hash__

    _value_: str
    word: str

    def __new__(cls, code: str, word: str) -> Self:
        member = object.__new__(cls)
        member._value_ = code
        member.word = word
        return member

    @classmethod
    def _missing_(cls, value: object) -> Self | None:
        """Records from before there were codes hold the words of that time: the codes, with blanks for hyphens."""
        code = value.replace(" ", "-") if isinstance(value, str) else None
        return next((each for each in cls if each.value == code), None)
