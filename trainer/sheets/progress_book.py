"""The workbook of the instructor's overview: who is how far, days practised, the commonest mistakes.

It never counts as marks: whoever wants to can write a log by hand.
"""

from decimal import Decimal

from trainer.lab.concepts import Concept
from trainer.sheets.book import Book
from trainer.sheets.saving import to_bytes
from trainer.sheets.table_sheet import table_sheet
from trainer.study.overview import Overview

__all__ = ["progress_book", "write_progress_book"]

_MISTAKE_WIDTH = 90


def write_progress_book(overview: Overview) -> bytes:
    """The file of progress_book."""
    return to_bytes(progress_book(overview))


def progress_book(overview: Overview) -> Book:
    """A row a person, a column a concept; then practice and mistakes."""
    concepts = table_sheet(
        "Concepts",
        "Who is how far, by name; it is no grade and never counts as marks",
        ("Name", *(concept.title for concept in Concept)),
        (24, *(18.0 for _ in Concept)),
        [(person.name, *(person.word(concept) for concept in Concept)) for person in overview.people],
        frozen_at="B4",
    )
    practice = table_sheet(
        "Practice",
        "Days practised, what was tried, answers asked for",
        ("Name", "Days", "Last day", "Tried", "Answers asked for"),
        (24, 10, 14, 10, 18),
        [
            (
                person.name,
                Decimal(len(person.study.days)),
                person.study.days[-1].isoformat() if person.study.days else "",
                Decimal(person.study.tried),
                Decimal(person.study.answers_shown),
            )
            for person in overview.people
        ],
    )
    mistakes = table_sheet(
        "Mistakes",
        "The commonest mistake of each concept at a first try",
        ("Concept", "People", "Times", "What was wrong"),
        (18, 10, 10, _MISTAKE_WIDTH),
        [(each.concept.title, Decimal(each.people), Decimal(each.times), each.words) for each in overview.mistakes],
    )
    return Book(title="Progress", sheets=(concepts, practice, mistakes))
