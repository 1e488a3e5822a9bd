"""How the answers of a fault-finding sheet are written."""

import re

from trainer.lab.kinds import Kind
from trainer.lab.repair.sheet import NO_FAULT, FaultKind, OutcomeOfTest
from trainer.lab.unreadable import NotReadable, TextFlaw

__all__ = ["COLUMN", "FAULT_KIND", "FAULT_NUMBERS", "FREE_TEXT", "LINE", "OUTCOME", "TEST_NAME"]


_NO_FAULT_WORDS = ("none", "no fault", "nothing", "no line")


def _line(text: str) -> str:
    if text.casefold() in _NO_FAULT_WORDS:
        return NO_FAULT
    match = re.fullmatch(r"(?:line\s+)?([A-Z]{1,2})\s*[/-]?\s*0*([1-9]\d{0,2})", text, flags=re.IGNORECASE | re.ASCII)
    if match is None:
        raise NotReadable(TextFlaw.NO_LINE)
    return match[1].upper() + match[2]


def _test(text: str) -> str:
    match = re.fullmatch(r"(?:test\s+)?T?\s*0*([1-9]\d?)", text, flags=re.IGNORECASE | re.ASCII)
    if match is None:
        raise NotReadable(TextFlaw.NO_TEST)
    return f"T{match[1]}"


def _fault_kind(text: str) -> FaultKind:
    found = next((each for each in FaultKind if each.word == text.casefold()), None)
    if found is None:
        raise NotReadable(TextFlaw.NO_FAULT_KIND)
    return found


_OTHER_WORDS = {"none": "no answer", "nothing": "no answer", "unanswered": "no answer", "not answered": "no answer"}


def _outcome(text: str) -> OutcomeOfTest:
    word = _OTHER_WORDS.get(text.casefold(), text.casefold())
    found = next((each for each in OutcomeOfTest if each.word == word), None)
    if found is None:
        raise NotReadable(TextFlaw.NO_OUTCOME)
    return found


def _fault_numbers(text: str) -> frozenset[int]:
    if text.casefold() in (*_NO_FAULT_WORDS, "-", "no"):
        return frozenset()
    parts = re.split(r"[,;.+&/\s]+", re.sub(r"(?i)\bfaults?\b|\band\b", " ", text).strip(" ,;."))
    if not all(re.fullmatch(r"[1-9]", part) for part in parts):
        raise NotReadable(TextFlaw.NO_FAULT_NUMBERS)
    return frozenset(map(int, parts))


def _show_numbers(numbers: frozenset[int]) -> str:
    return ", ".join(map(str, sorted(numbers))) or "none"


LINE: Kind[str] = Kind(name="a line of a sheet Found", reads=_line, show=str, example="A7", width=8)
COLUMN: Kind[str] = Kind(
    name="the heading of a column", reads=lambda text: text, show=str, example="Next hop", width=24
)
FREE_TEXT: Kind[str] = Kind(
    name="what should stand there", reads=lambda text: text, show=str, example="172.20.4.1", width=36
)
FAULT_KIND: Kind[FaultKind | None] = Kind(
    name="the word cause or harmless",
    reads=_fault_kind,
    show=lambda each: "" if each is None else each.word,
    example="cause",
    choices=tuple(each.word for each in FaultKind),
    width=12,
)
TEST_NAME: Kind[str] = Kind(name="a test of sheet Tests", reads=_test, show=str, example="T3", width=8)
OUTCOME: Kind[OutcomeOfTest] = Kind(
    name="how a test comes out",
    reads=_outcome,
    show=lambda each: each.word,
    example="no answer",
    choices=tuple(each.word for each in OutcomeOfTest),
    width=14,
)
FAULT_NUMBERS: Kind[frozenset[int]] = Kind(
    name="numbers of faults, or none",
    reads=_fault_numbers,
    show=_show_numbers,
    example="1, 2",
    is_set=True,
    members="numbers of faults",
    width=14,
)
