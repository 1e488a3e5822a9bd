"""Sheets on paper: no page for a few rows alone."""

import pytest

from trainer.sheets.book import Cell, PrintSetup, Row, Style
from trainer.sheets.paging import print_setup


def pages_of(rows: int, height: float, *, widths: tuple[float, ...] = (60,)) -> int:
    """Into how many pages a sheet of such rows shall fit; 0 for as many as it needs."""
    some = [Row((Cell("x", Style.PLAIN),), height)] * rows
    return print_setup(some, widths, landscape=True, head_rows=(1, 2)).pages_high


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


@pytest.mark.parametrize(
    ("rows", "width", "setup"),
    [
        (35, 60, (False, 1)),
        (46, 60, (False, 1)),  # 920 points on 755: 0.82
        (47, 60, (False, 0)),
        (20, 107, (True, 1)),  # 646 points on 523: 0.81
        (32, 107, (True, 0)),
    ],
)
def test_a_sheet_to_read_is_one_page_where_that_leaves_8_points(rows: int, width: int, setup: tuple[bool, int]):
    some = [Row((Cell("x", Style.PLAIN),), 20)] * rows
    found = print_setup(some, (width,), landscape=True, is_to_read=True)
    assert (found.is_landscape, found.pages_high) == setup


def test_rows_behind_the_last_cell_take_no_room():
    rows = [Row((Cell("x", Style.PLAIN),), 20)] * 25
    assert print_setup([*rows, *[Row(height=20)] * 3], (60,), landscape=True).pages_high == 0


def test_direction_and_repeated_rows_are_those_asked_for():
    assert print_setup([], (60,), landscape=False, head_rows=(1, 5)) == PrintSetup(
        is_landscape=False, pages_high=0, head_rows=(1, 5)
    )


@pytest.mark.parametrize(
    ("widths", "pages"),
    [
        ((10,) * 14, 1),  # 896 points on 770: 0.86
        ((10,) * 16, 2),  # 0.75, which makes 7.5 points of 10
    ],
)
def test_a_sheet_that_would_be_printed_in_less_than_8_points_takes_two_pages_side_by_side(
    widths: tuple[int, ...], pages: int
):
    rows = [Row((Cell("x", Style.PLAIN),), 20)] * 5
    assert print_setup(rows, widths, landscape=True, may_be_two_wide=True).pages_wide == pages
    assert print_setup(rows, widths, landscape=True).pages_wide == 1
