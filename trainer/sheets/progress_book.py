"""The workbook of the instructor's overview: who is how far, days practised, the commonest mistakes. And a learner's own, which
holds the log, so that it can be sent in its place and shows what is sent.

Neither ever counts as marks: whoever wants to can write a log by hand.
"""

from decimal import Decimal

from trainer.lab.concepts import Concept
from trainer.sheets.book import Book
from trainer.sheets.intake import ReturnedBook
from trainer.sheets.saving import to_bytes
from trainer.sheets.table_sheet import table_sheet
from trainer.study.overview import Overview, Person

__all__ = ["log_in_book", "progress_book", "write_own_book", "write_progress_book"]

_MISTAKE_WIDTH = 90
_LOG, _LINE_WIDTH, _HEADS = "Log", 120, 3


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


def write_own_book(person: Person, log: bytes) -> bytes:
    """The learner's own workbook, as a file. log: the bytes of the log, whose lines stand on a sheet of their own."""
    concepts = table_sheet(
        "Concepts",
        "How far you are; it is no grade and never counts as marks",
        ("Concept", "How it stands", "Last tried", "Comes back"),
        (18, 30, 14, 14),
        [(concept.title, person.own_word(concept), *_days(person, concept)) for concept in Concept],
    )
    lines = [line for line in log.decode("utf-8", errors="replace").split("\n") if line.strip()]
    sheet = table_sheet(
        _LOG,
        "Every line of your log: who gets this workbook sees this, and nothing else of you",
        ("Line",),
        (_LINE_WIDTH,),
        [(line,) for line in lines],
    )
    return to_bytes(Book(title="Progress", sheets=(concepts, sheet)))


def _days(person: Person, concept: Concept) -> tuple[str, str]:
    last, back = person.study.concepts[concept].last, person.comes_back(concept)
    return ("" if last is None else last.isoformat(), "" if back is None else back.isoformat())


def log_in_book(book: ReturnedBook) -> bytes:
    """The log that a learner's own workbook holds; nothing where it holds none."""
    sheet = next((each for each in book.sheets if each.name == _LOG), None)
    cells = {} if sheet is None else sheet.cells
    lines = [cell.text for (row, column), cell in sorted(cells.items()) if column == 1 and row > _HEADS]
    return "".join(f"{line}\n" for line in lines).encode("utf-8", errors="replace")
