"""What a returned workbook is, before its answers are read: whose lab it says it is, and whether anybody wrote it at all."""

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from trainer.lab.kinds import tidy
from trainer.sheets.cell_names import cell_name, column_number
from trainer.sheets.intake import ReturnedBook
from trainer.sheets.placement import (
    KEY_WORDS,
    LAB_LABEL,
    LAB_NUMBER_NAME,
    MARKED_WORDS,
    NEVER_SAVED,
    TRAINEE_LABEL,
)

__all__ = ["Paper", "lab_number_in_name", "lab_numbers_in", "paper_of"]

_LONGEST_LABEL = 60
"""Characters of a cell that may be a label or a lab number, with what is invisible in it; longer ones are not looked at."""
_LONGEST_ID = 200
"""Characters of the cell with a trainee's id and name."""
_MOST_PLACES = 200
"""Places of lab numbers and trainees that are looked at; a workbook has one of each a sheet."""
_YEARS = range(1990, 2101)
"""Times of others are none: that of a clock that was never set, or of a program that writes always the same."""

_LAB_NUMBER = re.compile(r"[A-Z2-9]{3}-[A-Z2-9]{4}")
_NAMED_CELL = re.compile(r"('(?:[^']|'')+'|[^'!]+)!\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")
_MARKED_TITLE = re.compile(rf"{re.escape(MARKED_WORDS)}.{{1,40}}   \(", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What a returned workbook says of itself."""

    numbers: tuple[str, ...]
    """The lab numbers in it, no number twice: first those in visible cells, then the spares."""
    shown: tuple[tuple[str, str], ...]
    """Those in visible cells, each with the first place where it stands, such as "Brief!B2"."""
    trainees: tuple[tuple[str, str], ...]
    """The ids of trainees in visible cells, in small letters, each with the first place where it stands."""
    is_key: bool
    """A visible title says that it is the key."""
    is_marked: bool
    """It is a marked workbook, as trainees get it back."""
    saved_at: float | None
    """When the program that wrote it saved it, in seconds of the system's clock; None where it does not say."""


def paper_of(book: ReturnedBook) -> Paper:
    """What a workbook says of itself."""
    numbers: dict[str, str] = {}
    trainees: dict[str, str] = {}
    for place, (label, where, text) in enumerate(_beside(book)):
        if place >= _MOST_PLACES:
            break
        if label == TRAINEE_LABEL:
            trainees.setdefault(text.split()[0].casefold(), where)
        elif number := _lab_number(text):
            numbers.setdefault(number, where)
    texts = [cell.text for sheet in book.sheets for cell in sheet.cells.values()]
    return Paper(
        numbers=tuple(dict.fromkeys((*numbers, *_spares(book)))),
        shown=tuple(numbers.items()),
        trainees=tuple(trainees.items()),
        is_key=any(text.startswith(KEY_WORDS) for text in texts),
        is_marked=any(text.startswith(MARKED_WORDS) and _MARKED_TITLE.match(text) for text in texts),
        saved_at=_seconds(book.properties.modified),
    )


def _seconds(written: str) -> float | None:
    """A time of the file's properties (a W3C date and time, in Universal Time where it names no other); None for none."""
    try:
        time = datetime.fromisoformat(written)
    except ValueError:
        return None
    if written == NEVER_SAVED or time.year not in _YEARS:
        return None
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()


def lab_numbers_in(book: ReturnedBook) -> tuple[str, ...]:
    """The lab numbers of a workbook, as Paper has them."""
    return paper_of(book).numbers


def lab_number_in_name(name: str, known: Collection[str]) -> str:
    """The one of the known lab numbers that stands in the name of a file; "" where none does, or several do."""
    words = tidy(name).upper()
    found = {
        number  # of a thousand labs most are told by the first look, which is cheap
        for number in known
        if number in words and re.search(rf"(?<![A-Z0-9]){re.escape(number)}(?![A-Z0-9])", words)
    }
    return found.pop() if len(found) == 1 else ""


def _beside(book: ReturnedBook) -> Iterator[tuple[str, str, str]]:
    """The label, the place and the text of each cell to the right of one of the two labels; blank ones are left out."""
    labels = {label.casefold(): label for label in (LAB_LABEL, TRAINEE_LABEL)}
    for sheet in book.sheets:
        found = [
            (row, column, labels[text])
            for (row, column), cell in sheet.cells.items()
            if len(cell.text) <= _LONGEST_LABEL and (text := tidy(cell.text).casefold()) in labels
        ]
        for row, column, label in sorted(found):
            beside = sheet.cells.get((row, column + 1))
            if beside is not None and (text := tidy(beside.text[:_LONGEST_ID])):
                yield label, f"{sheet.name}!{cell_name(row, column + 1)}", text


def _spares(book: ReturnedBook) -> Iterator[str]:
    """Lab numbers in the cell that the defined name points to, and in the core properties."""
    return filter(None, map(_lab_number, (_named_cell(book), book.properties.identifier)))


def _lab_number(text: str) -> str:
    number = tidy(text[:_LONGEST_LABEL]).upper()
    return number if _LAB_NUMBER.fullmatch(number) else ""


def _named_cell(book: ReturnedBook) -> str:
    """The text of the cell that the defined name for the lab number points to, or ""."""
    found = _NAMED_CELL.fullmatch(book.defined_names.get(LAB_NUMBER_NAME, ""))
    if found is None:
        return ""
    name = found[1].strip("'").replace("''", "'").casefold()
    place = (int(found[3]), column_number(found[2]))
    texts = (sheet.cells[place].text for sheet in book.sheets if sheet.name.casefold() == name and place in sheet.cells)
    return next(texts, "")
