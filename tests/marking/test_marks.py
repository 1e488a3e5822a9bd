"""Marks are exact: cells add up to their sheet, and rounding happens once a sheet."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from said_of_a_cell import CELL

from trainer.marking.marks import Marked, exact, part_of, section_mark, shown


@given(st.integers(0, 100), st.integers(1, 500))
def test_the_parts_of_a_share_are_equal_and_add_up_to_it(share: int, cells: int) -> None:
    assert part_of(share, cells) * cells == share


def test_a_section_without_cells_shares_nothing_out() -> None:
    assert part_of(10, 0) == 0


def of_a_sheet(*marks: Fraction) -> Decimal:
    return section_mark("subnets", [replace(CELL, marks=each) for each in marks], 25).marks


@pytest.mark.parametrize(
    ("marks", "wanted"),
    [
        ((Fraction(1, 3),) * 3, "1"),
        ((Fraction(1, 3),) * 2, "0.667"),
        ((Fraction(1, 2000),), "0.001"),  # half up
        ((Fraction(1, 3), Fraction(-1)), "0"),  # never below zero
        ((Fraction(25, 84),) * 42, "12.5"),  # in thousandths a cell it was 12.499 or 12.498, by which cells they were
    ],
)
def test_a_sheet_is_rounded_once_half_up_to_a_thousandth(marks: tuple[Fraction, ...], wanted: str) -> None:
    assert of_a_sheet(*marks) == Decimal(wanted)


@given(st.lists(st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(1)]), min_size=1, max_size=60))
def test_a_sheet_is_within_half_a_thousandth_of_what_its_cells_earn(credit: list[Fraction]) -> None:
    part = part_of(25, len(credit))
    assert abs(Fraction(of_a_sheet(*(part * each for each in credit))) - part * sum(credit)) <= Fraction(1, 2000)


def test_everything_above_a_sheet_is_a_sum() -> None:
    sheets = tuple(section_mark(name, [replace(CELL, marks=Fraction(1, 3))] * 2, 10) for name in ("subnets", "links"))
    marked = Marked(cells=(), sections=sheets)
    assert (marked.marks, marked.out_of) == (Decimal("1.334"), Decimal(20))


@pytest.mark.parametrize(
    ("number", "short", "long"), [("12.4995", "12.5", "12.5"), ("12.499", "12.5", "12.499"), ("0.04", "0", "0.04")]
)
def test_one_decimal_is_shown_and_a_thousandth_told_to_programs(number: str, short: str, long: str) -> None:
    assert (shown(Decimal(number)), exact(Decimal(number))) == (short, long)
