"""From a Book to a file: what a book says stands in the file, text stays text, and the same book gives the same bytes."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal

import pytest
from book_values import cells_with_places
from drawn_labs import bakery, draw
from hypothesis import given, settings
from hypothesis import strategies as st
from opened_books import loaded, parts, words_of_the_library_in
from openpyxl.worksheet.worksheet import Worksheet
from repair_labs import kept_lab

from trainer.commands.demo_class import key_texts
from trainer.commands.exercises import EXERCISES
from trainer.commands.reading import read_exercise_file
from trainer.lab.key import derive_key
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Reveal, Scenario
from trainer.marking.marker import mark
from trainer.sheets.answer_book import answer_book, key_book, practice_book, write_answer_book
from trainer.sheets.book import Book, Cell, DropDown, Layout, PrintSetup, Row, Sheet, Style, cells_of
from trainer.sheets.exercise_book import exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.marked_book import marked_book
from trainer.sheets.openpyxl_file import with_texts, written_cell_by_cell
from trainer.sheets.overrides_book import overrides_book
from trainer.sheets.returned_book import read_form
from trainer.sheets.saving import to_bytes
from trainer.sheets.style import FONT, LOOKS

PRINTING = PrintSetup(is_landscape=True, pages_high=2, head_rows=(1, 2))
LAYOUT = Layout(
    widths=(12, 30.5),
    printing=PRINTING,
    drop_downs=(DropDown(("yes", "no"), "B2:B3"), DropDown(("A",), "A3")),
    frozen_at="B3",
    is_protected=True,
)
ROWS = (
    Row(cells_of(("Boats", "Moored"), Style.COLUMN), height=30),
    Row(),
    Row((Cell("Ketch", Style.GIVEN), Cell("", Style.ASKED))),
    Row(height=6),
    Row((Cell(Decimal("12.345"), Style.NUMBER), Cell("12.345", Style.NUMBER), Cell(Decimal(7), Style.NUMBER))),
)
SHEET = Sheet(name="Quay", layout=LAYOUT, rows=ROWS, footer="Quay & pier")
PLAIN = Sheet(
    name="Notes",
    layout=Layout(widths=(20,), printing=PrintSetup(is_landscape=False, pages_high=0, head_rows=None)),
    rows=(Row((Cell("one", Style.PLAIN),)),),
    footer="Notes",
)
BOOK = Book(title="Boats", identifier="BOA-TEST", sheets=(SHEET, PLAIN), defined_names=(("ketch", "Quay!$A$3"),))
DATA = to_bytes(BOOK)
QUAY, NOTES = loaded(DATA)["Quay"], loaded(DATA)["Notes"]


def with_text(text: str, style: Style = Style.PLAIN) -> bytes:
    """A file with that text in its first cell."""
    return to_bytes(replace(BOOK, sheets=(replace(PLAIN, rows=(Row((Cell(text, style),)),)),)))


def first_cell(data: bytes) -> tuple[object, str]:
    cell = loaded(data)["Notes"]["A1"]
    return cell.value, cell.data_type


# --- Cells ------------------------------------------------------------------------------------------------------------


def test_every_cell_stands_in_its_place_with_its_style():
    for sheet in BOOK.sheets:
        saved = loaded(DATA)[sheet.name]
        for (row, column), cell in cells_with_places(sheet):
            found = saved.cell(row, column)
            number = cell.value if isinstance(cell.value, str) else float(cell.value)
            assert (found.value or "", found.style) == (number, cell.style.value)
    assert (QUAY.max_row, QUAY.max_column) == (5, 3)


def test_a_number_can_be_reckoned_with_and_shows_no_superfluous_zeros_beside_text_of_the_same_style():
    cells = [QUAY.cell(5, column) for column in (1, 2, 3)]
    assert [cell.data_type for cell in cells] == ["n", "s", "n"]
    assert [cell.number_format for cell in cells] == ["0.0", "@", "0"]


@pytest.mark.parametrize("style", Style)
def test_every_style_looks_as_it_is_declared(style: Style):
    cell, look = loaded(with_text("x", style))["Notes"]["A1"], LOOKS[style]
    font, border = cell.font, cell.border
    assert (font.name, font.sz, font.b, font.color.rgb) == (FONT, look.size, look.is_bold, look.colour)
    assert cell.fill.fill_type == (None if look.fill is None else "solid")
    assert look.fill is None or cell.fill.start_color.rgb == look.fill
    sides = [side for side in (border.left, border.right, border.top, border.bottom) if side and side.style]
    wanted = [] if look.frame is None else [(look.frame.weight, look.frame.colour)] * 4
    assert [(side.style, side.color.rgb) for side in sides] == wanted
    placed = cell.alignment
    assert (placed.wrap_text or False, placed.horizontal, placed.vertical) == (
        look.wraps,
        look.horizontal,
        look.vertical,
    )
    assert cell.number_format == "@"


def test_only_cells_that_are_asked_are_unlocked():
    unlocked = [style for style in Style if not loaded(with_text("x", style))["Notes"]["A1"].protection.locked]
    assert unlocked == [Style.ASKED]


# --- Text stays text --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "#N/A", "<b>", "&amp;", "1e3", "10-12", "TRUE", '"; x']
)
def test_text_stays_text_whatever_it_looks_like(text: str):
    assert first_cell(with_text(text)) == (text, "s")
    assert "<f>" not in parts(with_text(text))["xl/worksheets/sheet1.xml"]


def test_a_text_that_looks_like_an_escape_is_read_as_it_was_written():
    assert read_book(with_text("_x0041_")).sheets[0].cells[1, 1].text == "_x0041_"


def test_control_characters_and_half_characters_are_blanks():
    assert first_cell(with_text("Zo\u00eb\x00\x1b\ud800\tA\nB\ufffe\uffff")) == ("Zo\u00eb    A\nB  ", "s")


def test_a_very_long_text_is_cut_with_a_mark():
    assert first_cell(with_text("9" * 40_000)) == ("9" * 1999 + "\u2026", "s")
    assert first_cell(with_text("9" * 2000)) == ("9" * 2000, "s")


@settings(max_examples=40)
@given(st.text(max_size=50), st.text(max_size=50))
def test_any_text_gives_a_file_that_opens(text: str, other: str):
    sheet = replace(SHEET, rows=(Row((Cell(text, Style.TEXT),)),), footer=other)
    book = replace(BOOK, title=other, sheets=(sheet,))
    assert len(read_book(to_bytes(book)).sheets) == 1


# --- What a sheet is like ---------------------------------------------------------------------------------------------


def test_columns_and_rows_are_as_wide_and_high_as_said():
    assert [QUAY.column_dimensions[letter].width for letter in "AB"] == [12, 30.5]
    assert [QUAY.row_dimensions[row].height for row in range(1, 6)] == [30, None, None, 6, None]


def test_headings_stay_in_sight_on_the_screen_and_on_paper():
    assert (QUAY.freeze_panes, QUAY.print_title_rows) == ("B3", "$1:$2")
    assert (NOTES.freeze_panes, NOTES.print_title_rows) == (None, None)


@pytest.mark.parametrize(("sheet", "orientation", "high"), [(QUAY, "landscape", 2), (NOTES, "portrait", 0)])
def test_a_sheet_prints_one_page_wide_on_a4(sheet: Worksheet, orientation: str, high: int):
    setup = sheet.page_setup
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (setup.orientation, setup.paperSize, setup.fitToWidth, setup.fitToHeight) == (orientation, 9, 1, high)
    assert not sheet.sheet_view.showGridLines


def test_an_ampersand_in_the_footer_is_an_ampersand():
    assert (QUAY.oddFooter.left.text, QUAY.oddFooter.right.text) == ("Quay && pier", "&P / &N")


def test_no_code_of_a_header_or_footer_comes_of_a_title():
    words = "Berths &[Page] &P &[Tab]\nand more"
    book = replace(BOOK, sheets=(replace(PLAIN, footer=words),))
    assert to_bytes(book) == written_cell_by_cell(book)
    assert loaded(to_bytes(book))["Notes"].oddFooter.left.text.startswith("Berths && [Page] &&P && [Tab]")


LONGEST_FOOTER = 255
"""Characters that a header or footer may have (ECMA-376 part 1, 18.3.1.46, quoted from memory)."""


def test_a_long_footer_is_no_longer_than_it_may_be():
    sheet = loaded(to_bytes(replace(BOOK, sheets=(replace(PLAIN, footer="&" * 300),))))["Notes"]
    assert 100 < len(sheet.oddFooter.left.text) + len(sheet.oddFooter.right.text) < LONGEST_FOOTER


def test_a_list_warns_and_locks_nobody_out():
    found = QUAY.data_validations.dataValidation
    assert [(each.formula1, str(each.sqref)) for each in found] == [('"yes,no"', "B2:B3"), ('"A"', "A3")]
    assert {(each.type, each.errorStyle, each.allow_blank) for each in found} == {("list", "warning", True)}


def test_a_protected_sheet_has_no_password_and_columns_may_be_made_wider():
    allowed = QUAY.protection
    assert allowed.sheet
    assert not allowed.password
    assert allowed.hashValue is None
    assert (allowed.formatColumns, allowed.formatRows, allowed.formatCells) == (False, False, False)
    assert not NOTES.protection.sheet


# --- The file ---------------------------------------------------------------------------------------------------------


def test_the_file_holds_the_sheets_in_order_the_title_and_the_spares():
    book = loaded(DATA)
    assert book.sheetnames == ["Quay", "Notes"]
    assert (book.properties.title, book.properties.identifier) == ("Boats", "BOA-TEST")
    assert {name: each.attr_text for name, each in book.defined_names.items()} == {"ketch": "Quay!$A$3"}
    assert book.security is None or book.security.workbookPassword is None


def test_equal_books_give_the_same_bytes():
    assert to_bytes(replace(BOOK, sheets=tuple(replace(sheet) for sheet in BOOK.sheets))) == DATA


def test_no_word_that_the_library_writes_by_itself_is_in_the_file():
    assert words_of_the_library_in(DATA) == []


# --- The quick way and the readable one -------------------------------------------------------------------------------


TEXTS = st.text(max_size=30)
NUMBERS = st.decimals(-(10**9), 10**9, allow_nan=False, places=3)
CELLS = st.builds(Cell, TEXTS | NUMBERS, st.sampled_from(Style))
HEIGHTS = st.none() | st.floats(1, 400)
MADE_ROWS = st.lists(st.builds(Row, st.lists(CELLS, max_size=4).map(tuple), HEIGHTS), max_size=5).map(tuple)


@pytest.mark.parametrize("title", ["Boats, 2024-03-01T10:00:00Z", " Boats of 2024-03-01T10:00:00Z ", "{title} {} %s"])
def test_a_title_stays_as_it_is_whatever_it_looks_like(title: str):
    book = replace(BOOK, title=title)
    assert loaded(to_bytes(book)).properties.title == title
    assert to_bytes(book) == written_cell_by_cell(book)


@given(MADE_ROWS, MADE_ROWS, TEXTS, TEXTS, st.sampled_from(["", "BOA-TEST", "<&>"]))
@settings(max_examples=30)
def test_the_quick_way_writes_the_bytes_of_the_readable_one(
    rows: tuple[Row, ...], more: tuple[Row, ...], footer: str, title: str, identifier: str
):
    sheets = (replace(SHEET, rows=rows, footer=footer), replace(PLAIN, rows=more))
    book = replace(BOOK, title=title, identifier=identifier, sheets=sheets)
    assert to_bytes(book) == written_cell_by_cell(book)


def all_labs() -> Iterator[Scenario]:
    """One of each ready-made exercise; those with faults, which take long to draw, are kept ones."""
    for file in sorted(EXERCISES.glob("*.xlsx")):
        if not file.stem.startswith("faults"):
            yield from draw(read_exercise_file(file), 1)


def some_labs() -> Iterator[Scenario]:
    yield bakery()
    yield kept_lab("faults-two")


@pytest.mark.parametrize("labs", [some_labs, pytest.param(all_labs, marks=pytest.mark.many)])
def test_every_workbook_is_written_alike_in_both_ways(labs: Callable[[], Iterator[Scenario]]):
    for lab in labs():
        key = derive_key(lab)
        texts = {ref: text for number, (ref, text) in enumerate(key_texts(lab).items()) if number % 7}
        marked = mark(lab, read_form(read_book(fill_in(write_answer_book(lab, key), lab, texts)), lab).filled)
        for book in (
            answer_book(lab, key),
            key_book(lab, key),
            practice_book(lab, key, filled_in=list(texts)[:9]),
            marked_book(lab, marked, ("Ropes & <nets>",), reveal=Reveal.ANSWERS),
        ):
            assert to_bytes(book) == written_cell_by_cell(book)
    for book in (exercise_book(HARBOUR), overrides_book()):
        assert to_bytes(book) == written_cell_by_cell(book)


# --- Typing into a file -----------------------------------------------------------------------------------------------


def test_texts_typed_into_a_file_stand_in_their_cells_with_the_looks_that_were_there():
    data = with_texts(DATA, {("Quay", 3, 2): "=1+1", ("Quay", 3, 1): "", ("Notes", 1, 1): "two"})
    asked = loaded(data)["Quay"]["B3"]
    assert (asked.value, asked.data_type, asked.style) == ("=1+1", "s", "asked")
    assert loaded(data)["Quay"]["A3"].value is None
    assert first_cell(data) == ("two", "s")
    assert loaded(data)["Quay"]["B1"].value == "Moored"
