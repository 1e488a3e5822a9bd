"""Files that grow in one dimension at a time: none takes long or much memory, whatever the program does with it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from drawn_labs import bakery
from growing import DIMENSIONS, LARGEST, grown
from workbooks import Book, of_returned, parts_of, zipped

from trainer.lab.key import derive_key
from trainer.sheets.answer_book import write_key_book
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form

MOST_LOADS, MOST_MEGABYTES = (
    80,
    300,
)  # some thirty times what a paper took when this was set (2.7 loads); for the whole process


SOME = tuple(DIMENSIONS)[::18]
MORE = tuple(DIMENSIONS) if os.environ.get("TRAINER_NIGHTLY") else tuple(DIMENSIONS)[1::18]


@pytest.mark.parametrize("dimensions", [SOME, pytest.param(MORE, marks=pytest.mark.many)], ids=["some", "more"])
def test_no_file_takes_long_or_much_in_whatever_dimension_it_grows(dimensions: tuple[str, ...]):
    script = Path(__file__).with_name("measure_growth.py")
    done = subprocess.run([sys.executable, str(script), *dimensions], check=True, capture_output=True)
    measured = json.loads(done.stdout)
    assert len(measured["times"]) == 2 * len(dimensions)
    assert {name: times for name, times in measured["times"].items() if times > MOST_LOADS} == {}
    assert (measured["most_megabytes"] or 0) < MOST_MEGABYTES


@pytest.fixture(scope="module")
def book() -> Book:
    lab = bakery()
    return of_returned(read_book(write_key_book(lab, derive_key(lab))))


def test_the_files_are_as_large_as_they_are_said_to_be(book: Book):
    sizes = {
        name: len(grown(book, name)) for name in ("columns_of_labels", "merges", "rows_of_open_sections", "formats")
    }
    assert all(100_000 < size <= LARGEST for size in sizes.values()), sizes


def test_columns_too_far_to_the_right_are_not_read_and_it_is_said(book: Book):
    book = book.copied()
    book["Subnets"].cells[7, 201] = "a note"
    form = read_form(read_book(zipped(parts_of(book))), bakery())
    assert form.notices == ("Subnets: what stands to the right of column GR is not read. Move answers to the left.",)


def test_rows_with_one_label_past_the_twentieth_are_not_read_and_it_is_said(book: Book):
    book = book.copied()
    label = book["Subnets"].cells[6, 1]
    for row in range(50, 75):
        book["Subnets"].cells[row, 1] = label
    form = read_form(read_book(zipped(parts_of(book))), bakery())
    assert form.notices == (
        f"Subnets: more than 20 rows are labelled {label!r}; those from A69 on are not read. Delete what is not needed.",
    )


def test_sheets_with_the_same_headings_past_the_twentieth_are_not_read_and_it_is_said(book: Book):
    book = book.copied()
    for number in range(25):
        book.copy_sheet("Subnets", f"copy {number}")
    form = read_form(read_book(zipped(parts_of(book))), bakery())
    assert form.notices == (
        "More than 20 sheets have the headings of Subnets; those from 'copy 20' on are not read. Delete what is not needed.",
    )


def test_answers_that_are_too_long_together_are_not_read_and_it_is_said(book: Book):
    book = book.copied()
    for row, column in list(book["Subnets"].cells):
        if row > 5 and column > 3:
            book["Subnets"].cells[row, column] = "1 " * 900
    form = read_form(read_book(zipped(parts_of(book))), bakery())
    assert form.notices[0] == (
        "All answers together are far longer than those of any filled workbook; what has more than 200 characters is not "
        "read. Take out of it what is no answer."
    )
    spoilt = [typed for cell, typed in form.filled.texts.items() if typed.trouble]
    assert {cell.question.partition(".")[0] for cell in form.where if form.filled.texts.get(cell) in spoilt} == {
        "subnets"
    }
    assert {len(typed.text) for typed in spoilt} == {200}


def test_marks_and_other_scripts_without_end_are_not_read_and_it_is_said(book: Book):
    book = book.copied()
    for row in range(100, 300):
        book["Subnets"].cells[row, 30] = "å" * 2_000
    form = read_form(read_book(zipped(parts_of(book))), bakery())
    assert form.notices == (
        "The workbook has more than 300,000 letters with marks or of other scripts, far more than any filled one; in Sheet "
        "'Subnets' and after it no more of them are read. Ask for the workbook that was handed out.",
    )
    assert all(not typed.trouble for typed in form.filled.texts.values())
