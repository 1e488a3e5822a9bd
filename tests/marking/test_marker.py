"""Marking: cases in text (tests/cases/marking.md), and what must hold whatever is written."""

import os
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from ipaddress import IPv4Network
from pathlib import Path

import pytest
from filled_forms import LAB, filled
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import FilledForm
from trainer.lab.form import CellRef, RowKey
from trainer.lab.rows import VlanRow, WrittenRow
from trainer.marking.marker import mark
from trainer.marking.marks import Verdict, exact

CASES_FILE = Path(__file__).parents[1] / "cases" / "marking.md"
Case = tuple[str, list[tuple[str, ...]]]


def cases() -> list[Case]:
    """Title and instructions of every case in the file."""
    found: list[Case] = []
    for line in CASES_FILE.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            found.append((line[3:], []))
        elif found and " | " in line:
            found[-1][1].append(tuple(part.strip() for part in (line + " ").split("|")))
    return found


@pytest.mark.parametrize("case", cases(), ids=lambda case: case[0])
def test_the_cases_of_the_file_are_marked_as_it_says(case: Case) -> None:
    _title, steps = case
    texts = key_texts(LAB)
    wanted: dict[CellRef, str] = {}
    marks: dict[str, str] = {}
    for step in steps:
        match step:
            case ("write", question, row, text):
                texts[CellRef(question, RowKey(row))] = text
            case ("find", question, row, verdict):
                wanted[CellRef(question, RowKey(row))] = verdict
            case ("marks", section, number):
                marks[section] = number
            case _:
                pytest.fail(f"not an instruction: {step}")
    marked = mark(LAB, filled(texts))
    found = {CellRef(cell.question, cell.row): cell.verdict for cell in marked.cells}
    assert {cell: found[cell].value for cell in wanted} == wanted
    extra = {cell.row for cell, verdict in wanted.items() if verdict == "extra"}
    unnamed = {
        cell: verdict
        for cell, verdict in found.items()
        if cell not in wanted and not verdict.is_full and cell.row not in extra
    }
    assert unnamed == {}
    sums = {section.section: exact(section.marks) for section in marked.sections}
    assert {section: sums[section] for section in marks} == marks


def test_the_key_earns_full_marks_and_says_nothing() -> None:
    marked = mark(LAB, filled(key_texts(LAB)))
    assert (marked.marks, marked.out_of) == (Decimal(100), Decimal(100))
    assert {cell.verdict for cell in marked.cells} == {Verdict.RIGHT}
    assert all(cell.explanation is None for cell in marked.cells)


def test_an_untouched_form_earns_nothing_and_every_cell_is_explained() -> None:
    marked = mark(LAB, FilledForm(texts={}, rows={}))
    assert marked.marks == 0
    assert {cell.verdict for cell in marked.cells} == {Verdict.BLANK, Verdict.MISSING}
    assert all(cell.explanation is not None and cell.explanation.explanation for cell in marked.cells)


def test_the_cells_of_a_section_add_up_to_its_share() -> None:
    marked = mark(LAB, FilledForm(texts={}, rows={}))
    for section in marked.sections:
        parts = [cell.out_of for cell in marked.cells if cell.section == section.section]
        assert sum(parts) == section.out_of


def test_in_whatever_order_sections_are_marked_every_cell_gets_the_same() -> None:
    """What is found of a cell rests on what is written, never on what was marked before it."""
    texts = key_texts(LAB)
    texts |= {CellRef("subnets.prefix", VlanRow(30)): "/24", CellRef("subnets.gateway", VlanRow(10)): "10.20.2.230"}
    texts |= {CellRef("stations.gateway", RowKey("DHCP server")): "10.20.2.230"}
    texts |= {CellRef("routes.next_hop", WrittenRow("Route", 1)): "10.20.2.241", CellRef("pools.mask", VlanRow(30)): ""}
    marked = mark(LAB, filled(texts))
    backwards = mark(replace(LAB, sections=LAB.sections[::-1]), filled(texts))
    assert any(cell.explanation is not None and cell.explanation.followed for cell in marked.cells)
    assert sorted(backwards.cells, key=str) == sorted(marked.cells, key=str)


ANY_TEXT = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        ["", "none", "0.0.0.0", "255.255.255.255", "/0", "/32", "A", "B/23", "1-999", "infinite", "static"]
    ),
    st.ip_addresses(v=4).map(str),
    st.integers(-1, 5000).map(str),
)
CELLS = sorted(key_texts(LAB), key=lambda cell: (cell.question, cell.row))


@settings(max_examples=1000 if os.environ.get("TRAINER_NIGHTLY") else 25)
@given(st.dictionaries(st.sampled_from(CELLS), ANY_TEXT, max_size=40), st.booleans())
def test_any_text_in_any_cell_is_marked(texts: dict[CellRef, str], from_the_key: bool) -> None:
    written = {**key_texts(LAB), **texts} if from_the_key else texts
    marked = mark(LAB, filled(written))
    assert Decimal(0) <= marked.marks <= marked.out_of == 100
    assert sum((section.marks for section in marked.sections), Decimal(0)) == marked.marks
    for cell in marked.cells:
        assert cell.verdict.is_full or cell.explanation is not None
        assert cell.verdict is Verdict.EXTRA or Decimal(0) <= cell.marks <= cell.out_of


@settings(max_examples=60)
@given(st.permutations(range(1, 6)), st.permutations(range(1, 4)))
def test_the_order_of_open_rows_costs_nothing(routes: list[int], relays: list[int]) -> None:
    texts = {}
    for cell, text in key_texts(LAB).items():
        order = {"Route": routes, "Relay": relays}.get(cell.row.split(" ")[0])
        row = cell.row
        if order is not None:
            label, number = cell.row.split(" ")
            row = RowKey(f"{label} {order[int(number) - 1]}")
        texts[CellRef(cell.question, row)] = text
    assert mark(LAB, filled(texts)).marks == 100


WORKED_EXAMPLE = [
    # cell, key, trainee A writes /22, marks, trainee B writes /24, marks
    ("subnets.prefix", "23", "22", 0, "24", 0),
    ("subnets.mask", "255.255.254.0", "255.255.252.0", 1, "255.255.255.0", Fraction(1, 2)),
    ("subnets.broadcast", "10.20.65.255", "10.20.67.255", 1, "10.20.64.255", Fraction(1, 2)),
    ("subnets.last", "10.20.65.254", "10.20.67.254", 1, "10.20.64.254", Fraction(1, 2)),
]
"""The worked example of our marking rules (505 addresses needed; R3 for trainee A, R5 for trainee B), as printed there, but
for the count of hosts, which the form does not ask for."""


@pytest.mark.parametrize("block", ["10.20.64.0/21", "10.20.64.0/22"])
@pytest.mark.parametrize("trainee", ["A", "B"])
def test_the_worked_example_of_the_marking_rules_comes_out_as_printed(trainee: str, block: str) -> None:
    """In the smaller block A's network is as large as the block: that is wrong, and can be worked with all the same."""
    vlans = tuple(replace(vlan, addresses_needed=505) if vlan.id == 30 else vlan for vlan in LAB.vlans)
    lab = replace(LAB, block=IPv4Network(block), vlans=vlans)
    texts = key_texts(lab)
    credits_: dict[str, Fraction | int] = {}
    for question, key, by_a, credit_a, by_b, credit_b in WORKED_EXAMPLE:
        cell = CellRef(question, VlanRow(30))
        assert texts[cell] == key
        texts[cell], credits_[question] = (by_a, credit_a) if trainee == "A" else (by_b, credit_b)
    marked = mark(lab, filled(texts))
    for cell in marked.cells:
        if cell.row == "30" and cell.question in credits_:
            assert cell.marks == cell.out_of * Fraction(credits_[cell.question]), cell.question
