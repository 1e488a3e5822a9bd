"""Rows of the form are texts that know what they are about; their section makes them of those texts again."""

import copy
import pickle
import re
from collections.abc import Iterator
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from hypothesis import given
from hypothesis import strategies as st

from trainer.lab.form import CellRef, RowKey, Section
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.rows import About, LinkRow, PortRow, RouteRow, StationRow, SwitchRow, VlanRow, WrittenRow
from trainer.lab.scenario import Scenario
from trainer.network.devices import PortName, PortRef, SwitchName

A, B = SwitchName("A"), SwitchName("B")
ONE_OF_EACH = (
    ("subnets", "30", VlanRow(30)),
    ("links", "A-B", LinkRow("A-B")),
    ("ports", "B/7", PortRow(PortRef(B, PortName("7")))),
    ("stations", "Cranes 2", StationRow("Cranes 2")),
    ("routes", "A to 30", RouteRow(A, 30)),
    ("routes", "Route 1", WrittenRow("Route", 1)),
    ("relays", "30", VlanRow(30)),
    ("relays", "Relay 12", WrittenRow("Relay", 12)),
    ("protection", "B", SwitchRow(B)),
    ("bindings", "Cranes 2", StationRow("Cranes 2")),
    ("bindings", "Binding 3", WrittenRow("Binding", 3)),
)


def labs() -> list[Scenario]:
    """The bakery, and labs of three switches in a row: one was set up already, and every choice is left in some."""
    chain = shaped({"A": "", "B": "A", "C": "B"})
    choices: list[dict[str, str]] = [{}, {"order": "free", "gateway": "free", "link_ends": "free"}]
    return [bakery(), *(lab for each in choices for lab in draw(exercise_of(changed(tables=chain, **each)), 3))]


def about(row: RowKey) -> tuple[type[RowKey], dict[str, Any]]:
    """The type of a row and all that it carries."""
    return type(row), {name: getattr(row, name) for name in type(row).__slots__}


def rows_of(section: Section[Any], lab: Scenario) -> Iterator[RowKey]:
    for row in (*section.rows(lab), *section.set_already(lab), *section.printed_rows(lab)):
        yield row.key


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_a_row_of_a_lab_is_made_again_of_its_text(section: Section[Any]):
    for lab in labs():
        for row in rows_of(section, lab):
            again = section.row(str(row))
            assert again == row
            assert about(again) == about(row)
            assert len(about(row)[1]) > 0


@pytest.mark.parametrize(("section", "text", "row"), ONE_OF_EACH)
def test_a_text_says_what_its_row_is_about(section: str, text: str, row: RowKey):
    assert about(SECTIONS[section].row(text)) == about(row)


@given(vlan=st.integers(1, 4094), switch=st.sampled_from("ABCXYZ"), number=st.integers(0, 9999))
def test_every_vlan_switch_port_and_number_makes_a_row_that_can_be_read(vlan: int, switch: str, number: int):
    name = SwitchName(switch)
    rows = (VlanRow(vlan), SwitchRow(name), RouteRow(name, vlan), PortRow(PortRef(name, PortName(str(number)))))
    for row in rows:
        assert about(type(row).read(str(row))) == about(row)
    assert about(SECTIONS["routes"].row(f"Route {number}")) == about(WrittenRow("Route", number))


@pytest.mark.parametrize(
    ("section", "text", "words"),
    [
        ("subnets", "030", "'030' is not the text of a VlanRow; that matches [1-9][0-9]{0,3}"),
        ("subnets", "A-B", "'A-B' is not the text of a VlanRow; that matches [1-9][0-9]{0,3}"),
        ("subnets", "Route 1", "'Route 1' is not the text of a VlanRow"),
        ("subnets", "٣٠", "'٣٠' is not the text of a VlanRow"),
        ("links", "AB", "'AB' is not the text of a LinkRow"),
        ("ports", "B7", "'B7' is not the text of a PortRow"),
        ("stations", "", "'' is not the text of a StationRow"),
        ("routes", "A to B", "'A to B' is not the text of a RouteRow"),
        ("routes", "Relay 1", "'Relay 1' is not the text of a RouteRow"),
        ("relays", "Route 1", "'Route 1' is not the text of a VlanRow"),
        ("protection", "A/7", "'A/7' is not the text of a SwitchRow"),
    ],
)
def test_error_a_text_that_no_row_of_the_section_has(section: str, text: str, words: str):
    with pytest.raises(ValueError, match=f"^{re.escape(words)}"):
        SECTIONS[section].row(text)


@pytest.mark.parametrize("row", [row for *_, row in ONE_OF_EACH], ids=str)
def test_a_row_is_its_text_wherever_a_text_will_do(row: RowKey):
    by_text = RowKey(str(row))
    assert row == by_text == str(row)
    assert {CellRef("x", row): 1}[CellRef("x", by_text)] == 1
    assert f"{row}" == str(row)


@pytest.mark.parametrize("row", [*(row for *_, row in ONE_OF_EACH), RowKey("30")], ids=repr)
def test_a_row_arrives_whole_in_another_process(row: RowKey):
    for arrived in (pickle.loads(pickle.dumps(row)), copy.copy(row), copy.deepcopy(row)):
        assert arrived == row
        assert about(arrived) == about(row)


def test_error_a_row_cannot_be_changed():
    with pytest.raises(AttributeError, match=r"a row cannot be changed: '30'\.vlan = 40"):
        VlanRow(30).vlan = 40
    with pytest.raises(AttributeError, match="a row cannot be changed"):
        LinkRow("A-B").vlan = 40  # type: ignore[attr-defined]


def test_each_thing_that_rows_are_about_has_a_type_of_its_own():
    assert len({each.row_type for each in About}) == len(About)
    assert {section.about for section in SECTIONS.values()} == set(About)
