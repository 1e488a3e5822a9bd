"""Cells and pages: how high text is, and no page for a few rows alone."""

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trainer.sheets.cells import put, set_up_page, set_widths, text_height

ONE, TWO, THREE = (round(lines * 12.2 + 3, 1) for lines in (1, 2, 3))


@pytest.mark.parametrize(
    ("text", "height"),
    [
        ("", ONE),
        ("ten digits", ONE),
        ("1234567890", ONE),
        ("12345678901", TWO),
        ("12345 678901", TWO),
        ("1234567 1234567 1234567", THREE),
        ("1\n2\n3", THREE),
        ("iiiiiiiiiiiiiii", ONE),
        ("mmmmmmmmmmm", TWO),
        ("\u65e5\u672c\u8a9e\u65e5\u672c\u8a9e\u65e5", TWO),
    ],
)
def test_text_is_as_high_as_its_lines(text: str, height: float):
    """In a column of 13, ten digits wide without its inset."""
    assert text_height(text, 13) == height


def pages_of(rows: int, height: float, *, widths: tuple[float, ...] = (60,), one_page: bool = False) -> int:
    """Into how many pages a sheet of such rows shall fit; 0 for as many as it needs."""
    workbook = Workbook()
    sheet = workbook.active
    assert isinstance(sheet, Worksheet)
    set_widths(sheet, widths)
    for row in range(1, rows + 1):
        put(sheet, row, 1, "x", "plain")
        sheet.row_dimensions[row].height = height
    set_up_page(sheet, "x", landscape=True, one_page=one_page, head_rows=(1, 2))
    return int(sheet.page_setup.fitToHeight)


@pytest.mark.parametrize(
    ("rows", "pages"),
    [
        (10, 0),
        (25, 0),  # 25 rows of 20 points fill the 508 points of a page
        (26, 1),
        (31, 1),
        (33, 0),  # too much to be squeezed into one
        (49, 2),
    ],
)
def test_a_last_page_of_a_few_rows_is_saved(rows: int, pages: int):
    assert pages_of(rows, 20) == pages


def test_a_wide_sheet_that_is_printed_small_has_more_rows_on_a_page():
    assert pages_of(45, 20, widths=(128, 128)) == 0
    assert pages_of(55, 20, widths=(128, 128)) == 1


def test_rows_that_are_as_high_as_a_page_stay_on_pages_of_their_own():
    assert pages_of(5, 500) == 0


def test_a_sheet_that_shall_be_one_page_is_one():
    assert pages_of(90, 20, one_page=True) == 1
