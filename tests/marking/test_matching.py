"""The assignment of rows, against every assignment there is."""

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from trainer.marking.matching import best_assignment

TABLES = st.integers(1, 5).flatmap(
    lambda columns: st.lists(st.lists(st.integers(0, 9), min_size=columns, max_size=columns), min_size=1, max_size=5)
)


def total(likeness: list[list[int]], assigned: tuple[int | None, ...]) -> int:
    return sum(likeness[row][column] for row, column in enumerate(assigned) if column is not None)


def best_total(likeness: list[list[int]]) -> int:
    """By trying all: each row takes a column or none."""
    rows, columns = len(likeness), len(likeness[0])
    places = [*range(columns), *[None] * rows]
    return max(total(likeness, choice) for choice in set(permutations(places, rows)))


@given(TABLES)
def test_no_other_assignment_has_a_larger_sum(likeness: list[list[int]]) -> None:
    assert total(likeness, best_assignment(likeness)) == best_total(likeness)


@given(TABLES)
def test_no_column_is_given_twice_and_no_pair_without_likeness_is_made(likeness: list[list[int]]) -> None:
    assigned = best_assignment(likeness)
    columns = [column for column in assigned if column is not None]
    assert len(columns) == len(set(columns))
    assert all(likeness[row][column] > 0 for row, column in enumerate(assigned) if column is not None)


def test_tables_without_rows_or_columns_are_assigned_nothing() -> None:
    assert best_assignment([]) == ()
    assert best_assignment([[], []]) == (None, None)
