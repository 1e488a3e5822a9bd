"""What is right in a cell: values in, RIGHT, FOLLOWS or nothing out."""

import random
from dataclasses import replace
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from filled_forms import plans_with

from trainer.lab.form import CellRef, RowKey
from trainer.lab.questions import QUESTIONS, SECTIONS, cell_called
from trainer.lab.rows import StationRow, VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.following_for_half import is_easier
from trainer.marking.marks import Verdict
from trainer.marking.standard import Standard

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
WRONG_SIZE = {("subnets.prefix", "30"): "22"}
"""VLAN 30 comes first, so its network ends elsewhere and every other one lies behind it."""


def judged(lab: Scenario, changes: dict[tuple[str, str], str], question: str, row: str, text: str) -> Verdict | None:
    asked = QUESTIONS[question]
    return Standard(plans_with(lab, changes)).judged(asked, asked.kind.read(text), cell_called(question, row).row)


@pytest.mark.parametrize(
    ("changes", "question", "row", "text", "verdict"),
    [
        ({}, "subnets.broadcast", "30", "10.20.1.255", Verdict.RIGHT),
        ({}, "subnets.broadcast", "30", "10.20.3.255", None),
        (WRONG_SIZE, "subnets.prefix", "30", "22", None),
        (WRONG_SIZE, "subnets.broadcast", "30", "10.20.1.255", Verdict.RIGHT),
        (WRONG_SIZE, "subnets.broadcast", "30", "10.20.3.255", Verdict.FOLLOWS),
        # nothing follows from a length that no network may have (R4)
        ({("subnets.prefix", "30"): "31"}, "subnets.mask", "30", "255.255.255.254", None),
        # a copy of what is given follows from nothing (R6)
        ({("ports.vlan", "B/1"): "20"}, "bindings.vlan", "Tills 1", "20", None),
        # the gateway as written is wrong; the station's would follow from it, or from the right one in the own plan (R2)
        ({("subnets.gateway", "10"): "10.20.2.230"}, "stations.gateway", "DHCP server", "10.20.2.230", Verdict.FOLLOWS),
        (
            {("subnets.network", "10"): "10.20.3.0", ("subnets.gateway", "10"): "10.20.3.9"},
            "stations.gateway",
            "DHCP server",
            "10.20.3.1",
            Verdict.FOLLOWS,
        ),
    ],
)
def test_a_value_is_right_or_follows_or_neither(
    changes: dict[tuple[str, str], str], question: str, row: str, text: str, verdict: Verdict | None
) -> None:
    assert judged(LAB, changes, question, row, text) is verdict


def test_nothing_is_right_where_nothing_is_written() -> None:
    assert Standard(plans_with(LAB, {})).judged(QUESTIONS["subnets.mask"], None, VlanRow(30)) is None


def test_without_follow_through_only_the_key_is_right() -> None:
    lab = replace(LAB, rules=replace(LAB.rules, follow_through=False))
    assert judged(lab, WRONG_SIZE, "subnets.broadcast", "30", "10.20.3.255") is None
    assert judged(lab, WRONG_SIZE, "subnets.broadcast", "30", "10.20.1.255") is Verdict.RIGHT


def test_what_is_expected_follows_from_the_own_plan_and_is_the_keys_where_that_leaves_the_block() -> None:
    standard = Standard(plans_with(LAB, WRONG_SIZE))
    assert str(standard.expected(QUESTIONS["subnets.broadcast"], VlanRow(30))) == "10.20.3.255"
    assert str(standard.expected(QUESTIONS["subnets.network"], VlanRow(20))) == "10.20.2.0"


def test_a_choice_that_keeps_the_rules_is_right_and_then_the_keys_value_is_not() -> None:
    (lab,) = draw(exercise_of(changed(tables=shaped({"A": "", "B": "A"}), gateway="free")), 1)
    row = VlanRow(lab.vlans[0].id)
    key = Standard(plans_with(lab, {}))
    first = key.expected(QUESTIONS["subnets.gateway"], row)
    last = key.expected(QUESTIONS["subnets.last"], row)
    changes = {("subnets.gateway", row): str(last)}
    assert judged(lab, changes, "subnets.gateway", row, str(last)) is Verdict.RIGHT
    broadcast = str(last + 1)
    assert judged(lab, {("subnets.gateway", row): broadcast}, "subnets.gateway", row, broadcast) is None
    if row in {each.key for each in SECTIONS["pools"].rows(lab)}:
        assert judged(lab, changes, "pools.router", row, str(last)) is Verdict.RIGHT
        assert judged(lab, changes, "pools.router", row, str(first)) is None


@pytest.mark.parametrize("seed", range(3))
def test_in_whatever_order_cells_are_asked_about_the_answers_are_the_same(seed: int) -> None:
    gateways = dict.fromkeys((("subnets.gateway", "10"), ("stations.gateway", "DHCP server")), "10.20.2.230")
    plans = plans_with(LAB, {**WRONG_SIZE, **gateways, ("links.network", "A-B"): "10.20.3.0"})
    cells: list[tuple[str, RowKey, Any]] = [
        (cell.question, cell.row, value)
        for cell, value in plans.answers.values.items()
        if SECTIONS[cell.question.split(".")[0]].open is None
    ]

    def asked(standard: Standard) -> dict[CellRef, Verdict | None]:
        return {CellRef(name, row): standard.judged(QUESTIONS[name], value, row) for name, row, value in cells}

    in_order = asked(Standard(plans))
    assert set(in_order.values()) == {Verdict.RIGHT, Verdict.FOLLOWS, None}
    random.Random(seed).shuffle(cells)
    assert asked(Standard(plans)) == in_order


def test_what_an_error_made_easier_is_told_with_the_cell_that_did() -> None:
    """A worked example of our marking rules: /23 is needed, and /24 ends at an octet (R5); /22 is no easier."""
    for length, mask, is_told in (("24", 24, True), ("22", 22, False)):
        plans = plans_with(LAB, {("subnets.prefix", "30"): length})
        said = is_easier(plans, Standard(plans), QUESTIONS["subnets.mask"], mask, VlanRow(30))
        assert (said is not None) is is_told
        if said is not None:
            assert said.hint == "Put Subnets 30: Prefix length right first. What is this value then?"


def test_what_is_the_keys_own_value_is_not_easier_to_come_by() -> None:
    plans = plans_with(LAB, {("subnets.prefix", "30"): "24"})
    assert is_easier(plans, Standard(plans), QUESTIONS["subnets.mask"], 23, VlanRow(30)) is None


def test_a_gateway_that_follows_and_is_the_stations_own_address_contradicts_it() -> None:
    """The server has usable address no. 5; the gateway is written as that one."""
    asked = QUESTIONS["stations.gateway"]
    assert asked.contradiction is not None
    plans = plans_with(LAB, {("subnets.gateway", "10"): "10.20.2.229"})
    for text, is_told in (("10.20.2.229", True), ("10.20.2.225", False)):
        told = asked.contradiction(LAB, plans.so_far, StationRow("DHCP server"), asked.kind.read(text))
        assert told.startswith("By those, station and gateway have one address") is is_told
        assert bool(told) is is_told
