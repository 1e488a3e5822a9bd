"""Results as comma-separated text that any gradebook takes in."""

import csv
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.lab.works import Works
from trainer.marking.marks import exact
from trainer.results.grades import TraineeGrade

__all__ = ["csv_text", "harmless"]

_DANGEROUS = ("=", "+", "-", "@")
"""What makes a spreadsheet program take a text for a formula, after look-alikes have been made plain (NFKC)."""

_WORKS = ("leases", "leases of", "pings", "pings of", "attacks stopped", "attacks of")


@dataclass(frozen=True, slots=True)
class _Text:
    """Collects what the csv module writes, without a file."""

    parts: list[str]

    def write(self, text: str) -> None:
        self.parts.append(text)


def csv_text(
    sections: Sequence[str], parts: Sequence[str], grades: Sequence[TraineeGrade], *, decimal_comma: bool
) -> str:
    """A line with headings, then one a trainee: id, name, group, per cent, marks, out of, marks by sheet and by part, and
    what works of what the key shows: leases, pings, attacks stopped. What a lab has none of is empty.

    Who has handed nothing in has empty cells there, not 0. With a decimal comma the separator is a semicolon.
    """
    out = _Text([])
    writer = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    titles = [SECTIONS[section].title for section in sections]
    writer.writerow(["id", "name", "group", "percent", "marks", "out of", *titles, *map(harmless, parts), *_WORKS])
    for grade in grades:
        trainee, marked = grade.trainee, grade.marked
        numbers: list[Decimal] = []
        if marked is not None:
            by_section = {section.section: section.marks for section in marked.sections}
            numbers = [grade.percent, grade.marks, marked.out_of]
            numbers += [by_section.get(section, Decimal(0)) for section in sections]
        texts = [_number(number, decimal_comma=decimal_comma) for number in numbers] or [""] * (3 + len(sections))
        given = [grade.by_hand(part) for part in parts]
        texts += ["" if each is None else _number(each.marks, decimal_comma=decimal_comma) for each in given]
        who = [harmless(text) for text in (trainee.id, trainee.name, trainee.group)]
        writer.writerow([*who, *texts, *_works(grade.works)])
    return "".join(out.parts)


def _works(works: Works | None) -> list[str]:
    counts = dict(works.counts()) if works else {}
    pairs = [counts.get(sort) for sort in ("leases", "pings", "attacks")]
    return [str(number) for count in pairs for number in ((count.shown, count.of) if count else ("", ""))]


def _number(number: Decimal, *, decimal_comma: bool) -> str:
    return exact(number).replace(".", ",") if decimal_comma else exact(number)


def harmless(text: str) -> str:
    """The text, with an apostrophe wherever a spreadsheet program would begin to reckon with it.

    That is at its start, and behind whatever some program takes for the end of a cell: comma, semicolon, tab, line
    break, quotation mark. Common practice, no source.

    >>> harmless("=1+1"), harmless("Ann;=1+1"), harmless("Ann-Marie O'Neill")
    ("'=1+1", "Ann;'=1+1", "Ann-Marie O'Neill")
    """
    pieces = re.split(r'([,;\t\r\n"])', text)
    pieces[::2] = [f"'{piece}" if _is_dangerous(piece) else piece for piece in pieces[::2]]
    return ("'" if text.startswith(("\t", "\r")) else "") + "".join(pieces)


def _is_dangerous(piece: str) -> bool:
    return unicodedata.normalize("NFKC", piece).lstrip().startswith(_DANGEROUS)
