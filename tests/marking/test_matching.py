"""The assignment of rows, against every assignment there is."""

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from trainer.lab.form import RowKey
from trainer.marking.matching import Matched, best_assignment, match_rows

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


# --- Rows of a key ----------------------------------------------------------------------------------------------------

RIGHT = {RowKey("red"): (("A",), (1, 10)), RowKey("blue"): (("A",), (2,)), RowKey("green"): (("B",), (3,))}
"""Two columns; of the first row two values are right in the second."""


def matched(written: dict[str, tuple[object, ...]]) -> Matched:
    rows = {RowKey(name): values for name, values in written.items()}
    return match_rows(RIGHT, rows, weights=(1, 2), least=2)


def test_a_row_is_meant_for_what_it_agrees_with_by_any_of_the_right_values() -> None:
    found = matched({"1": ("A", 10), "2": ("C", 2), "3": ("B", 1)})
    assert found.row_for == {"red": "1", "blue": "2"}
    assert found.extras == ("3",)
    assert found.alike == {"1": {"red"}, "2": {"blue"}, "3": {"red"}}


def test_a_row_that_agrees_too_little_is_meant_for_none_and_resembles_none() -> None:
    found = matched({"1": ("B", 7), "2": (None, None)})
    assert found.row_for == {}
    assert found.extras == ("1", "2")
    assert found.alike == {"1": frozenset(), "2": frozenset()}


def test_a_second_copy_of_a_row_is_an_extra_one() -> None:
    found = matched({"1": ("A", 1), "2": ("A", 1)})
    assert found.row_for == {"red": "1"}
    assert found.extras == ("2",)
    assert found.alike["2"] == {"red"}


def test_a_row_that_does_no_job_is_an_extra_one_behind_the_others() -> None:
    found = matched({"1": ("A", 1), "2": ("A", 2), "3": ("C", 9)}).without([RowKey("red"), RowKey("green")])
    assert found.row_for == {"blue": "2"}
    assert found.extras == ("3", "1")


@given(st.permutations(["1", "2", "3"]))
def test_in_whatever_order_rows_are_written_each_is_meant_for_the_same(order: list[str]) -> None:
    rows = {"1": ("A", 1), "2": ("A", 2), "3": ("B", 3)}
    assert matched({name: rows[name] for name in order}).row_for == {"red": "1", "blue": "2", "green": "3"}


def test_a_row_with_two_columns_exchanged_is_meant_for_the_row_whose_values_it_holds() -> None:
    keys = {RowKey("A to 10"): [["A"], ["net 10"], ["hop"]], RowKey("A to 20"): [["A"], ["net 20"], ["hop"]]}
    exchanged = {RowKey("Route 1"): ["A", "hop", "net 20"]}
    found = match_rows(keys, exchanged, weights=[2, 4, 2], least=4)
    assert (found.row_for, found.extras) == ({RowKey("A to 20"): RowKey("Route 1")}, ())
    one_only = match_rows(keys, {RowKey("Route 1"): ["A", "hop", "net 30"]}, weights=[2, 4, 2], least=4)
    assert one_only.row_for == {}, "one value in another column says nothing"
    beside = match_rows(keys, {**exchanged, RowKey("Route 2"): ["A", "net 20", "hop"]}, weights=[2, 4, 2], least=4)
    assert beside.row_for == {RowKey("A to 20"): RowKey("Route 2")}, "the right row goes before"
