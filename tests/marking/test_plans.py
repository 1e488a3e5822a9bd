"""From what is written to the plans a form is marked by (R4, R5)."""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from drawn_labs import bakery, exercise_of
from filled_forms import plans_with

from trainer.lab.form import CellRef, RowKey
from trainer.lab.questions import QUESTIONS, cell_called, subnets
from trainer.lab.rows import VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
ROWS = ("10", "20", "30", "40", "50")


def given(changes: dict[tuple[str, str], str]) -> set[tuple[str, str]]:
    """Which of the changed cells something may follow from."""
    found = plans_with(LAB, changes).given
    return {(question, row) for question, row in changes if CellRef(question, RowKey(row)) in found}


def test_what_follows_is_worked_out_from_what_is_written_and_the_key_stays_the_key() -> None:
    plans = plans_with(LAB, {("subnets.network", "10"): "10.20.3.0"})
    row = subnets.row_of(10)
    assert plans.so_far.value(subnets.BROADCAST_ADDRESS, row) == IPv4Address("10.20.2.239")
    assert plans.so_far.value(subnets.NETWORK_ADDRESS, row) == IPv4Address("10.20.3.0")
    assert plans.key.value(subnets.NETWORK_ADDRESS, row) == IPv4Address("10.20.2.224")


@pytest.mark.parametrize(("times", "is_plan"), [(1, True), (2, True), (3, False)])
def test_one_value_for_three_networks_is_no_plan(times: int, is_plan: bool) -> None:
    changes = {("subnets.network", row): "10.20.3.192" for row in ROWS[:times]}
    assert given(changes) == (set(changes) if is_plan else set())


def test_a_value_that_two_cells_hold_is_a_copy_where_they_must_differ() -> None:
    plans = plans_with(LAB, {("subnets.network", "10"): "10.20.2.0", ("subnets.prefix", "10"): "25"})
    assert plans.copied == {CellRef("subnets.network", VlanRow(10)), CellRef("subnets.network", VlanRow(20))}


@pytest.mark.parametrize(
    ("one", "other", "row"),
    [
        ("subnets.network", "subnets.broadcast", "10"),
        ("subnets.first", "subnets.last", "10"),
        ("links.first", "links.second", "A-B"),
        ("pools.first", "pools.last", "20"),
    ],
)
def test_nothing_follows_from_what_cannot_be_where_two_cells_hold_it_that_must_differ(
    one: str, other: str, row: str
) -> None:
    """R4: nothing follows from a copy. Written once, it is an error that may be followed through for half."""
    outside = "198.51.100.9"

    def value(changes: dict[tuple[str, str], str]) -> str:
        return str(plans_with(LAB, changes).beyond.value(QUESTIONS[one], cell_called(one, row).row))

    assert value({(one, row): outside}) == outside
    assert value({(one, row): outside, (other, row): outside}) != outside


@pytest.mark.parametrize("question", ["subnets.prefix", "subnets.mask", "pools.mask"])
def test_the_length_of_the_block_may_be_meant_once_and_is_copied_where_it_stands_twice(question: str) -> None:
    once = {(question, "20"): "255.255.252.0" if question != "subnets.prefix" else "22"}
    assert given(once) == set(once)
    twice = {(question, row): once[question, "20"] for row in ("20", "30")}
    assert given(twice) == set()


def test_no_question_lets_what_is_given_be_copied_but_lengths_of_networks() -> None:
    given_to = {each.id: each.given_to_copy(LAB) for each in QUESTIONS.values() if each.given_to_copy is not None}
    assert given_to == dict.fromkeys(("subnets.prefix", "subnets.mask", "stations.mask", "pools.mask"), 22)


def test_nothing_follows_where_the_exercise_follows_nothing_through() -> None:
    plans = plans_with(
        replace(LAB, rules=replace(LAB.rules, follow_through=False)), {("subnets.network", "10"): "10.20.3.0"}
    )
    assert not plans.given
    assert plans.so_far.value(subnets.NETWORK_ADDRESS, subnets.row_of(10)) == IPv4Address("10.20.2.224")
    assert plans.as_written.value(subnets.NETWORK_ADDRESS, subnets.row_of(10)) == IPv4Address("10.20.3.0")


def test_what_is_written_on_a_sheet_that_is_not_asked_for_counts_for_nothing() -> None:
    shares = tuple(
        replace(each, asked=Asked.GIVEN if each.section == "subnets" else each.asked) for each in LAB.sections
    )
    plans = plans_with(replace(LAB, sections=shares), {("subnets.network", "10"): "10.20.3.0"})
    assert plans.as_written.value(subnets.NETWORK_ADDRESS, subnets.row_of(10)) == IPv4Address("10.20.2.224")
