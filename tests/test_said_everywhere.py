"""Page, marked workbook and terminal tell the same parts of one remark, in one order and behind the same words."""

import io
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import bakery
from said_of_a_cell import CELL

from trainer.commands.practice_lines import reason_lines
from trainer.lab.form import CellRef
from trainer.lab.scenario import Reveal
from trainer.marking.marks import Marked, SectionMark
from trainer.marking.practice import ToDo
from trainer.marking.said import IN_A_LINE, Label, may_see, said
from trainer.pages.blocks import texts_of
from trainer.pages.feedback import feedback_document
from trainer.sheets.marked_book import write_marked_book

LAB = bakery()
MARKED = Marked(cells=(CELL,), sections=(SectionMark(section=CELL.section, marks=Decimal(0), out_of=Decimal(20)),))
ALL = tuple((part.label, part.text) for part in said((CELL,)))


def on_the_page(reveal: Reveal) -> str:
    return " ".join(texts_of(feedback_document(LAB, MARKED, (), reveal=reveal).blocks))


def in_the_workbook(reveal: Reveal) -> str:
    book = openpyxl.load_workbook(io.BytesIO(write_marked_book(LAB, MARKED, (), reveal=reveal)))
    return " ".join(str(cell.value) for row in book["Subnets"].iter_rows() for cell in row if cell.value)


def told(text: str, parts: Iterable[tuple[Label, str]]) -> list[Label]:
    """Labels of the parts that stand in the text, in the order in which they do."""
    return [
        label
        for _, label in sorted(
            ((text.index(part), label) for label, part in parts if part in text), key=lambda found: found[0]
        )
    ]


@pytest.mark.parametrize("reveal", Reveal)
def test_page_and_workbook_tell_the_same_in_the_same_order(reveal: Reveal):
    """The workbook what fits into a line; but for the right value, which the page tells at once."""
    parts = [(label, text) for label, text in ALL if label is not Label.RIGHT]
    page, workbook = told(on_the_page(reveal), parts), told(in_the_workbook(reveal), parts)
    expected = [label for label, _ in parts if label in may_see(reveal)]
    assert page == expected
    assert workbook == [label for label in expected if label in IN_A_LINE]


@pytest.mark.parametrize("label", [label for label, _ in ALL if label.words and label is not Label.RIGHT])
def test_a_part_stands_behind_its_words_wherever_it_is_told(label: Label):
    text = dict(ALL)[label]
    page, workbook = on_the_page(Reveal.ANSWERS), in_the_workbook(Reveal.ANSWERS)
    for shown in (page, workbook) if label in IN_A_LINE else (page,):
        before = shown[: shown.index(text)].rstrip().removesuffix(":")
        assert before.endswith(label.words)


def test_the_terminal_tells_what_is_asked_for_in_the_same_order():
    names = {CellRef(CELL.question, CELL.row): ("Subnets", "I7")}
    lines = " ".join(line.strip() for line in reason_lines([ToDo(cells=(CELL,), tries=1)], names))
    assert told(lines, ALL) == [Label.EXPLANATION, Label.CONSEQUENCE, Label.SEEN, Label.RESTS_ON]
    assert "What the network does: It stops. Tried: With this right" in lines


def test_the_readme_can_be_read_in_one_go():
    """A new instructor reads it before the first class."""
    assert len((Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8").splitlines()) < 350
