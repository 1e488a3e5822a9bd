"""Marks are exact: shares add up, and rounding happens in one place."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.marking.marks import earned, shared_out


@given(st.integers(0, 100), st.integers(1, 500))
def test_the_parts_of_a_share_add_up_to_it_and_differ_by_a_thousandth_at_most(share: int, cells: int) -> None:
    parts = shared_out(share, cells)
    assert sum(parts) == share
    assert max(parts) - min(parts) <= Decimal("0.001")


def test_a_section_without_cells_shares_nothing_out() -> None:
    assert shared_out(10, 0) == ()


@pytest.mark.parametrize(
    ("out_of", "credit", "wanted"),
    [
        ("0.571", Fraction(1), "0.571"),
        ("0.571", Fraction(1, 2), "0.286"),  # 0.2855, half up
        ("1.667", Fraction(2, 3), "1.111"),  # 1.11133...
        ("1.667", Fraction(0), "0.000"),
    ],
)
def test_what_a_cell_earns_is_rounded_half_up_to_a_thousandth(out_of: str, credit: Fraction, wanted: str) -> None:
    assert str(earned(Decimal(out_of), credit)) == wanted
