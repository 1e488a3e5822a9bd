"""Results as comma-separated text that any gradebook takes in."""

import csv
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.marking.marks import shown
from trainer.results.grades import TraineeGrade

__all__ = ["csv_text"]

_DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
"""What makes a spreadsheet program take a text for a formula, after look-alikes have been made plain (NFKC)."""


@dataclass(frozen=True, slots=True)
class _Text:
    """Collects what the csv module writes, without a file."""

    parts: list[str]

    def write(self, text: str) -> None:
        self.parts.append(text)


def csv_text(sections: Sequence[str], grades: Sequence[TraineeGrade], *, decimal_comma: bool) -> str:
    """A line with headings, then one a trainee: id, name, group, per cent, marks, out of, marks by sheet.

    Who has handed nothing in has empty cells there, not 0. With a decimal comma the separator is a semicolon.
    """
    out = _Text([])
    writer = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    titles = [SECTIONS[section].title for section in sections]
    writer.writerow(["id", "name", "group", "percent", "marks", "out of", *titles])
    for grade in grades:
        trainee, marked = grade.trainee, grade.marked
        numbers: list[Decimal] = []
        if marked is not None:
            by_section = {section.section: section.marks for section in marked.sections}
            numbers = [grade.percent, grade.marks, marked.out_of]
            numbers += [by_section.get(section, Decimal(0)) for section in sections]
        texts = [_number(number, decimal_comma=decimal_comma) for number in numbers] or [""] * (3 + len(sections))
        writer.writerow([*(_safe(text) for text in (trainee.id, trainee.name, trainee.group)), *texts])
    return "".join(out.parts)


def _number(number: Decimal, *, decimal_comma: bool) -> str:
    return shown(number).replace(".", ",") if decimal_comma else shown(number)


def _safe(text: str) -> str:
    """The text, with an apostrophe in front where a spreadsheet program would reckon with it."""
    return f"'{text}" if unicodedata.normalize("NFKC", text).startswith(_DANGEROUS) else text
