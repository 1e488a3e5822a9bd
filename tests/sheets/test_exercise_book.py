"""The exercise workbook: written and read back, found wherever it was moved, and every problem told with sheet and cell."""

import io
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import openpyxl
import pytest
from book_values import cell_at, cells_with_places, names, sheet_named, values
from drawn_labs import changed, exercise_of, shaped
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import ExerciseProblems, Problem
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import SETTINGS, TABLES
from trainer.lab.questions import FORM
from trainer.lab.sample import HARBOUR
from trainer.sheets.book import Cell, DropDown, Sheet, Style
from trainer.sheets.cell_names import cell_name
from trainer.sheets.exercise_book import _is_left_out, exercise_book, read_exercise_book, write_exercise_book

BOOK = exercise_book(HARBOUR)
TEMPLATE = write_exercise_book(HARBOUR)
"""The same as a file."""
SHEETS = ["Start", "Exercise", "Switches", "Networks", "Marks", "Trainees"]
FIRST_ROW = 6
"""The first row of a table that is the instructor's; title, headings and explanations stand above."""
Change = Callable[[openpyxl.Workbook], None]
Cells = Mapping[tuple[str, str], object]


def loaded(data: bytes = TEMPLATE) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(data))


def saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def read_after(change: Change, data: bytes = TEMPLATE) -> Exercise:
    book = loaded(data)
    change(book)
    return read_exercise_book(saved(book))


def typed(cells: Cells) -> Change:
    """Types values into cells, by sheet and cell."""

    def change(book: openpyxl.Workbook) -> None:
        for (sheet, cell), value in cells.items():
            book[sheet][cell] = value

    return change


def problems_after(change: Change) -> tuple[Problem, ...]:
    with pytest.raises(ExerciseProblems) as refused:
        read_after(change)
    return refused.value.problems


# --- Written ----------------------------------------------------------------------------------------------------------


def test_the_workbook_has_its_six_sheets():
    assert names(BOOK) == SHEETS


def test_framed_cells_hold_the_sample():
    for table in TABLES:
        sheet = sheet_named(BOOK, table.sheet)
        for row, texts in enumerate(HARBOUR.tables[table.id], FIRST_ROW):
            for column, field in enumerate(table.fields, 1):
                style = Style.GIVEN if table.labelled and column == 1 else Style.ASKED
                assert cell_at(sheet, row, column) == Cell(texts[field.id], style)


def test_there_are_spare_rows_below_every_table_but_the_one_that_is_complete():
    for table in TABLES:
        framed = sum(cell.style is Style.ASKED for (_, column), cell in _cells(table.sheet) if column == 2)
        assert framed == len(HARBOUR.tables[table.id]) + table.spare_rows


def _cells(title: str) -> Iterator[tuple[tuple[int, int], Cell]]:
    return cells_with_places(sheet_named(BOOK, title))


def test_every_setting_and_column_says_what_may_be_written():
    labelled = {row[0]: row[2] for row in values(sheet_named(BOOK, "Exercise"), 3) if len(row) > 2}
    for group in SETTINGS:
        for field in group.fields:
            assert labelled[field.heading] == field.may_write
    for table in TABLES:
        explained = values(sheet_named(BOOK, table.sheet), FIRST_ROW - 2)[0]
        assert explained[: len(table.fields)] == [field.may_write for field in table.fields]


def test_every_closed_choice_has_a_list_to_choose_from_beside_its_setting_or_below_its_heading():
    settings_sheet = values(sheet_named(BOOK, "Exercise"))
    labels = {row[0]: number for number, row in enumerate(settings_sheet, 1) if row}
    assert sheet_named(BOOK, "Exercise").layout.drop_downs == tuple(
        DropDown(field.choices, f"B{labels[field.heading]}")
        for group in SETTINGS
        for field in group.fields
        if field.choices
    )
    for table in TABLES:
        sheet = sheet_named(BOOK, table.sheet)
        assert sheet.layout.drop_downs == tuple(
            DropDown(field.choices, f"{cell_name(FIRST_ROW, column)}:{cell_name(len(sheet.rows), column)}")
            for column, field in enumerate(table.fields, 1)
            if field.choices
        )


def test_every_choice_of_a_list_is_one_that_can_be_read():
    for field in [field for group in SETTINGS for field in group.fields] + [
        field for table in TABLES for field in table.fields
    ]:
        for choice in field.choices:
            field.read(choice)


def test_the_sheets_of_the_form_are_explained_where_they_are_chosen():
    rows = values(sheet_named(BOOK, "Marks"), FIRST_ROW)
    assert {row[0]: row[3] for row in rows} == {section.title: section.asks for section in FORM}


def test_no_formula_no_comment_and_nothing_hidden_is_in_the_workbook():
    for sheet in loaded().worksheets:
        assert sheet.sheet_state == "visible"
        assert not sheet.merged_cells.ranges
        for row in sheet.iter_rows():
            assert all(cell.comment is None and cell.data_type in ("s", "n") for cell in row)
            assert {cell.data_type for cell in row if cell.value is not None} <= {"s"}


def test_headings_stay_in_sight():
    assert sheet_named(BOOK, "Exercise").layout.frozen_at == "C3"
    for table in TABLES:
        layout = sheet_named(BOOK, table.sheet).layout
        assert (layout.frozen_at, layout.printing.head_rows) == (f"B{FIRST_ROW}", (1, FIRST_ROW - 3))


# --- Read back --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "raw",
    [
        HARBOUR,
        changed(code="QUAY-3", date="", minutes="", one_lab_for_all="one for all", lease_hours="4, 6-8"),
        changed(order="as listed", gateway="last usable", link_lengths="/30; /31", route_rule="one a network"),
        changed(tables=shaped({"A": "", "B": "A", "C": "B", "D": "B"})),
    ],
    ids=["the sample", "other settings", "other network settings", "four switches"],
)
def test_an_exercise_written_and_read_back_is_the_same(raw):
    assert read_exercise_book(write_exercise_book(raw)) == exercise_of(raw)


def swap_columns(book: openpyxl.Workbook) -> None:
    for table in TABLES:
        sheet = book[table.sheet]
        for row in range(3, sheet.max_row + 1):
            first, last = sheet.cell(row, 1), sheet.cell(row, len(table.fields))
            first.value, last.value = last.value, first.value


def shift(book: openpyxl.Workbook) -> None:
    for table in TABLES:
        book[table.sheet].insert_rows(1, 2)
        book[table.sheet].insert_cols(1)
        book[table.sheet]["A1"] = "ours"


def leave_rows_blank(book: openpyxl.Workbook) -> None:
    book["Trainees"].insert_rows(FIRST_ROW)
    book["Trainees"].insert_rows(FIRST_ROW + 5, 3)
    book["Networks"].insert_rows(FIRST_ROW + 2)
    book["Exercise"].insert_rows(5, 2)


def without_explanations(book: openpyxl.Workbook) -> None:
    for table in TABLES:
        book[table.sheet].delete_rows(4, 2)
    del book["Start"]


def rename(book: openpyxl.Workbook) -> None:
    for sheet in book.worksheets:
        title = sheet.title
        sheet.title = "x"
        sheet.title = f" {title.upper()}"


def shout(book: openpyxl.Workbook) -> None:
    for table in TABLES:
        for cell in book[table.sheet][3]:
            cell.value = f"{str(cell.value or '').upper()}\u00a0"
    for row in range(3, book["Exercise"].max_row + 1):
        cell = book["Exercise"].cell(row, 1)
        cell.value = str(cell.value or "").upper()


def turn_the_settings(book: openpyxl.Workbook) -> None:
    sheet = book["Exercise"]
    pairs = [(sheet.cell(row, 1).value, sheet.cell(row, 2).value) for row in range(3, 26)]
    for row, (label, value) in enumerate(reversed(pairs), 3):
        sheet.cell(row, 1).value, sheet.cell(row, 2).value = label, value


def turn_the_marks(book: openpyxl.Workbook) -> None:
    sheet = book["Marks"]
    cells = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=FIRST_ROW)]
    for row, moved in zip(sheet.iter_rows(min_row=FIRST_ROW), reversed(cells), strict=True):
        for cell, value in zip(row, moved, strict=True):
            cell.value = value


@pytest.mark.parametrize(
    "change",
    [swap_columns, shift, leave_rows_blank, without_explanations, rename, shout, turn_the_settings],
    ids=lambda change: change.__name__,
)
def test_what_was_moved_is_found(change: Change):
    assert read_after(change) == exercise_of(HARBOUR)


@pytest.mark.parametrize("row", [4, 5])
def test_a_row_inserted_among_the_explanations_is_passed_over(row: int):
    def insert(book: openpyxl.Workbook) -> None:
        book["Trainees"].insert_rows(row)

    assert read_after(insert) == exercise_of(HARBOUR)


def test_sections_may_stand_in_any_order():
    exercise = read_after(turn_the_marks)
    assert sorted(exercise.sections, key=str) == sorted(exercise_of(HARBOUR).sections, key=str)


def test_numbers_that_a_program_made_of_texts_are_read_as_they_were_meant():
    change = typed(
        {
            ("Exercise", "B8"): 75,
            ("Exercise", "B19"): 10.0,
            ("Networks", "A6"): 1,
            ("Networks", "F7"): 2.0,
            ("Marks", "C6"): 20,
        }
    )
    assert read_after(change) == exercise_of(HARBOUR)


def test_a_class_that_is_pasted_is_the_class():
    def paste(book: openpyxl.Workbook) -> None:
        sheet = book["Trainees"]
        sheet.delete_rows(FIRST_ROW, 40)
        for row, (number, name) in enumerate((("k1", "Ada Vintner"), ("k2", "Bo Quist")), FIRST_ROW):
            sheet.cell(row, 1, number)
            sheet.cell(row, 2, name)

    assert [(each.id, each.name, each.attempt) for each in read_after(paste).trainees] == [
        ("k1", "Ada Vintner", 1),
        ("k2", "Bo Quist", 1),
    ]


def test_notes_beside_a_table_are_passed_over():
    assert read_after(typed({("Networks", "L9"): "ask the head", ("Trainees", "H40"): "x"})) == exercise_of(HARBOUR)


@pytest.mark.parametrize("blank", [" ", "\u00a0", "\u200b"])
def test_a_row_that_only_looks_filled_is_no_row(blank: str):
    assert read_after(typed({("Trainees", "B35"): blank})) == exercise_of(HARBOUR)


def test_a_blank_beside_a_value_means_nothing():
    assert read_after(typed({("Exercise", "B4"): " HARBOUR-2\u00a0", ("Trainees", "A6"): "h01 "})) == exercise_of(
        HARBOUR
    )


# --- Problems, with their cells ---------------------------------------------------------------------------------------

PLANTED: list[tuple[Cells, list[str]]] = [
    (
        {("Exercise", "B4"): "my lab!"},
        [
            "Exercise!B4: found 'my lab!'; a code has 3 to 20 letters, digits and hyphens, and starts with a letter or "
            "digit. Write one such as HARBOUR-2."
        ],
    ),
    ({("Exercise", "B5"): None}, ["Exercise!B5: found nothing; a title stands here. Write one."]),
    (
        {("Exercise", "B8"): "an hour"},
        ["Exercise!B8: found 'an hour'; a whole number from 1 to 10000 stands here. Write one."],
    ),
    (
        {("Exercise", "B9"): "two each"},
        ["Exercise!B9: found 'two each'; one of these stands here: one each; one for all. Choose one from the list."],
    ),
    (
        {("Exercise", "B13"): "198.51.100.0/24"},
        [
            "Exercise!B13: found '198.51.100.0/24'; only private ranges (RFC 1918) are drawn from: 10.0.0.0/8, "
            "172.16.0.0/12, 192.168.0.0/16 or parts of them. Write one of these, with its prefix length."
        ],
    ),
    (
        {("Exercise", "B13"): "192.168.4.0/24"},
        [
            "Exercise!B13: found 192.168.4.0/24; the networks of a lab take a block of /22, and no range holds one. "
            "Write a shorter prefix, such as 172.16.0.0/12, or ask for smaller networks."
        ],
    ),
    (
        {("Exercise", "B14"): "/24"},
        [
            "Exercise!B14: found /24; the networks of a lab take a block of /22. Write /22 or shorter, or the word smallest."
        ],
    ),
    (
        {("Exercise", "B17"): "/29"},
        [
            "Exercise!B17: found '/29'; one value, a range or a list of numbers from 30 to 31 stands here. "
            "Write it like 30, 30-31, or any."
        ],
    ),
    (
        {("Exercise", "B21"): "9"},
        [
            "Exercise!B21: found 9; the server stands in one of the networks of sheet Networks. Write the No. of that network."
        ],
    ),
    (
        {("Exercise", "B30"): "101"},
        ["Exercise!B30: found '101'; a whole number from 0 to 100 stands here. Write one."],
    ),
    (
        {("Switches", "D7"): "15-24"},
        [
            "Switches!D7: found 15-24 beside station ports 1-20; a port is for a station or for a link, not for both. "
            "Write ranges that do not meet, such as 1-20 and 21-24."
        ],
    ),
    (
        {("Switches", "E6"): "B"},
        [
            "Switches!E7: found a link between B and A; the two are joined already, and a ring of switches has no single "
            "right set of routes. Take one link of the ring away."
        ],
    ),
    (
        {("Networks", "E8"): "3"},
        [
            "Networks!E8: found 3; with 10 addresses reserved for static stations, its pool is too small to serve so many. "
            "Write numbers of 15-21, or lower 'Reserved for static' on sheet Exercise."
        ],
    ),
    (
        {("Networks", "B9"): "C"},
        ["Networks!B9: found 'C'; a network is on a switch of sheet Switches. Write one of A, B."],
    ),
    (
        {("Networks", "C6"): "120", ("Networks", "C7"): "120"},
        [
            "Networks!C7: found 120; every network of a lab has a VLAN number of its own, and the other rows need these. "
            "Write a VLAN number that is free, or a wider choice."
        ],
    ),
    (
        {("Networks", "H8"): "perhaps"},
        ["Networks!H8: found 'perhaps'; yes or no stands here. Choose one from the list."],
    ),
    (
        {("Marks", "C6"): "25"},
        ["Marks!C6: found 105 in all; the shares of the sections that are asked add up to 100. Take away 5."],
    ),
    (
        {("Marks", "B7"): "maybe"},
        ["Marks!B7: found 'maybe'; one of these stands here: yes; given; no. Choose one from the list."],
    ),
    (
        {("Trainees", "A8"): "H01"},
        [
            "Trainees!A8: found 'H01'; no two trainees have the same id, capital or small letters alike. Write another id."
        ],
    ),
    (
        {("Trainees", "A9"): "Zo\u00eb 1"},
        [
            "Trainees!A9: found 'Zo\u00eb 1'; an id stands in file names: 1 to 20 letters a to z, digits, hyphens, "
            "underscores and dots inside. Write one such as h01."
        ],
    ),
    (
        {("Trainees", "A10"): None},
        ["Trainees!A10: found nothing; an id stands here. Write one."],
    ),
    (
        {("Trainees", "D11"): "second"},
        ["Trainees!D11: found 'second'; a whole number from 1 to 99 stands here. Write one."],
    ),
]


@pytest.mark.parametrize(("cells", "wanted"), PLANTED, ids=[str(next(iter(cells.items()))) for cells, _ in PLANTED])
def test_error_a_planted_fault_is_told_with_its_cell_and_in_full(cells: Cells, wanted: list[str]):
    assert list(map(str, problems_after(typed(cells)))) == wanted


def test_error_every_problem_is_told_at_once_sheet_by_sheet():
    cells = {
        ("Trainees", "D7"): "x",
        ("Trainees", "A8"): "h01",
        ("Networks", "H8"): "perhaps",
        ("Exercise", "B4"): "!",
        ("Exercise", "B30"): "101",
        ("Switches", "D7"): "15-24",
    }
    found = problems_after(typed(cells))
    assert sorted((each.sheet, each.cell) for each in found) == sorted(cells)
    assert list(dict.fromkeys(each.sheet for each in found)) == ["Exercise", "Switches", "Networks", "Trainees"]


def test_error_a_fault_in_a_moved_cell_is_told_where_it_stands():
    def move(book: openpyxl.Workbook) -> None:
        book["Networks"]["H8"] = "perhaps"
        book["Networks"].insert_rows(7, 2)
        book["Networks"].insert_cols(1)

    assert [f"{each.sheet}!{each.cell}" for each in problems_after(move)] == ["Networks!I10"]


# --- Sheets, rows and columns that are missing ------------------------------------------------------------------------


@pytest.mark.parametrize("title", SHEETS[1:])
def test_error_a_missing_sheet_is_told(title: str):
    def drop(book: openpyxl.Workbook) -> None:
        del book[title]

    assert [str(each) for each in problems_after(drop)] == [
        f"{title}: found no sheet of that name; an exercise workbook has the sheets that 'trainer template' writes. "
        "Name the sheet as it was, or start from a new template."
    ]


def test_error_a_missing_setting_is_told():
    def drop(book: openpyxl.Workbook) -> None:
        book["Exercise"].delete_rows(16)

    assert [str(each) for each in problems_after(drop)] == [
        "Exercise: found no row labelled Gateway; sheets are read by their headings and labels. "
        "Write it as the template has it, or start from a new template."
    ]


@pytest.mark.parametrize("label", ["DNS server", "VLAN numbers", "Way out"])
def test_a_workbook_from_before_there_was_such_a_setting_is_read_as_if_it_were_blank(label: str):
    def drop(book: openpyxl.Workbook) -> None:
        sheet = book["Exercise"]
        sheet.delete_rows(next(row for row in range(1, 99) if sheet.cell(row, 1).value == label))

    assert read_after(drop) == read_after(lambda _: None)


def test_a_workbook_from_before_resits_and_excuses_is_read_as_if_their_cells_were_blank():
    def make_older(book: openpyxl.Workbook) -> None:
        sheet = book["Exercise"]
        sheet.delete_rows(next(row for row in range(1, 99) if sheet.cell(row, 1).value == "Re-sits count"))
        book["Trainees"].delete_cols(5)
        book["Trainees"]["E3"] = "Course"

    assert read_after(make_older) == read_after(lambda _: None)


def test_a_workbook_from_before_its_labels_and_words_were_changed_is_read_as_ever():
    def make_older(book: openpyxl.Workbook) -> None:
        rows = {row[0].value: row for row in book["Exercise"].iter_rows()}
        rows["Reserved for static"][0].value = "Kept for fixed"
        rows["Unknown addresses"][1].value = "may go in circles"

    def as_it_is(book: openpyxl.Workbook) -> None:
        rows = {row[0].value: row for row in book["Exercise"].iter_rows()}
        rows["Unknown addresses"][1].value = "may loop"

    assert read_after(make_older) == read_after(as_it_is)


def test_error_a_label_that_may_be_missing_is_not_taken_for_missing_when_it_is_misspelt():
    def misspell(book: openpyxl.Workbook) -> None:
        sheet = book["Exercise"]
        sheet.cell(
            next(row for row in range(1, 99) if sheet.cell(row, 1).value == "Re-sits count"), 1
        ).value = "Re-sits"
        book["Trainees"]["E3"] = "Excuse"

    assert [str(each) for each in problems_after(misspell)] == [
        f"{where}; sheets are read by their headings and labels. "
        "Write it as the template has it, or start from a new template."
        for where in (
            "Exercise: found no row labelled Re-sits count",
            "Trainees: found no column headed Excused",
        )
    ]


@pytest.mark.parametrize(("label", "is_left_out"), [("dns server", True), ("ntp servers", False)])
def test_a_label_that_is_much_like_that_of_another_setting_may_be_missing(label: str, is_left_out: bool):
    """Workbooks from before a second option of the pools have the first one's label only."""
    (dns_server,) = (field for group in SETTINGS for field in group.fields if field.id == "dns_server")
    another = replace(dns_server, id="ntp_server", heading="NTP server")
    assert _is_left_out(another, [label], [dns_server, another]) == is_left_out


def test_error_missing_columns_are_told_all_at_once():
    def drop(book: openpyxl.Workbook) -> None:
        book["Networks"].delete_cols(8, 2)
        book["Trainees"].delete_cols(1)

    assert [str(each) for each in problems_after(drop)] == [
        f"{sheet}: found no column headed {heading}; sheets are read by their headings and labels. "
        "Write it as the template has it, or start from a new template."
        for sheet, heading in (("Networks", "Snooping"), ("Networks", "Source guard"), ("Trainees", "Id"))
    ]


def test_error_a_table_without_its_headings_is_told():
    def wipe(book: openpyxl.Workbook) -> None:
        for cell in book["Trainees"][3]:
            cell.value = None
        book["Trainees"]["A1"] = None

    assert [str(each) for each in problems_after(wipe)] == [
        "Trainees: found no row with the headings Id, Name, Group, Attempt, Excused, Minutes; "
        "sheets are read by their headings and labels. "
        "Write it as the template has it, or start from a new template."
    ]


def test_error_a_table_without_rows_is_told_below_its_headings():
    def empty(book: openpyxl.Workbook) -> None:
        book["Trainees"].delete_rows(FIRST_ROW, 60)

    assert [str(each) for each in problems_after(empty)] == [
        "Trainees!A4: found 0 trainees; a sitting has 1 to 10000 trainees. Paste the class into this sheet: id and name."
    ]


# --- Whatever is typed ------------------------------------------------------------------------------------------------


def framed(sheet: Sheet) -> list[tuple[str, str]]:
    return [(sheet.name, cell_name(*at)) for at, cell in cells_with_places(sheet) if cell.style is Style.ASKED]


FRAMED = [place for title in SHEETS[1:] for place in framed(sheet_named(BOOK, title))]
TEXT = st.one_of(
    st.text(alphabet=st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"), max_size=20),
    st.text(alphabet="0123456789-,;/. ABany", max_size=12),
    st.sampled_from(
        ["any", "none", "yes", "no", "0", "-1", "1e5", "=1+1", "#N/A", "10.0.0.0/8", "999999999", "each", "given"]
    ),
    st.integers(-5, 99999),
    st.booleans(),
)


@settings(max_examples=1000 if os.environ.get("TRAINER_NIGHTLY") else 40)
@given(st.dictionaries(st.sampled_from(FRAMED), TEXT, min_size=1, max_size=4))
def test_error_any_text_in_any_framed_cell_is_read_or_refused_with_a_place(cells: Cells):
    try:
        exercise, problems = read_after(typed(cells)), ()
    except ExerciseProblems as refused:
        exercise, problems = None, refused.problems
    assert exercise is not None or problems
    for problem in problems:
        assert problem.sheet in SHEETS
        assert problem.found
        assert problem.wanted
        assert not problem.wanted.endswith(".")
        assert problem.fix.endswith(".")
