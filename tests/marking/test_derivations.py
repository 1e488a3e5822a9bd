""" "Why that" beside a right value: it leads to that value, never to what the trainee wrote."""

import random
import re
from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled
from on_request import many
from planted_labs import labs, wrong_text

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef, SoFar
from trainer.lab.questions import QUESTIONS
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Reveal, Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Verdict


def wrong_cells(lab: Scenario, changes: dict[CellRef, str]) -> list[CellMark]:
    marked = mark(lab, filled({**key_texts(lab), **changes}))
    return [each for each in marked.cells if each.verdict in (Verdict.WRONG, Verdict.PARTLY)]


@pytest.mark.parametrize("number", many(range(4), (0,)))
def test_beside_a_single_wrong_cell_stands_what_the_key_page_says(number: int):
    """Rows of open sheets are left out: there the key calls the row otherwise. It is worked out whatever may be seen."""
    lab = replace(labs(4)[number], rules=replace(labs(4)[number].rules, reveal=Reveal.MARKS))
    key, rng = SoFar(lab), random.Random(number)
    told = 0
    texts = key_texts(lab)
    one_each = {cell.question: cell for cell in rng.sample(list(texts), len(texts))}
    for cell in one_each.values():
        question, right = QUESTIONS[cell.question], texts[cell]
        if cell.question.partition(".")[0] in ("routes", "bindings", "relays"):
            continue
        for each in wrong_cells(lab, {cell: wrong_text(lab, cell, right, rng)}):
            if CellRef(each.question, each.row) == cell and each.explanation is not None:
                told += 1
                assert each.explanation.derivation == question.reason(lab, key, cell.row), cell
    assert told > 15


def test_a_wrong_prefix_length_is_not_argued_for():
    """Whoever wrote one bit too much is told the length that the number of addresses asks for (RFC 4632 3.1)."""
    lab = replace(labs(4)[0], rules=replace(labs(4)[0].rules, reveal=Reveal.ANSWERS))
    for vlan in lab.vlans[:3]:
        cell = CellRef("subnets.prefix", VlanRow(vlan.id))
        right = SoFar(lab).value(QUESTIONS[cell.question], cell.row)
        for length in (right - 1, right + 1):
            said = next(
                each.explanation
                for each in wrong_cells(lab, {cell: f"/{length}"})
                if CellRef(each.question, each.row) == cell
            )
            assert said is not None
            numbers = list(map(int, re.findall(r"\d+", said.derivation)))
            assert numbers[-1] == right
            assert numbers[2] < vlan.addresses_needed + 2 <= numbers[3] == 2 ** (32 - right)


@pytest.mark.parametrize("order", ["largest first", "as listed", "a range a switch"])
def test_with_two_wrong_networks_the_second_is_told_from_the_one_it_lies_behind(order: str):
    """What follows from a network in the wrong place: the answer shown beside it is the next multiple of its size behind the
    network that the words name, by the standard library's arithmetic.
    """
    (lab,) = draw(exercise_of(changed(tables=shaped({"A": "", "B": "A"}), order=order, reveal="answers")), 1)
    rows = [CellRef("subnets.network", VlanRow(vlan.id)) for vlan in lab.vlans]
    key = SoFar(lab)
    checked = 0
    for first in rows:
        moved = str(IPv4Address(int(key.value(QUESTIONS[first.question], first.row)) + 2048))
        for second in rows[rows.index(first) - 1 :][:1]:
            changes = {first: moved, second: str(lab.block.network_address + 4)}
            said = next(each for each in wrong_cells(lab, changes) if CellRef(each.question, each.row) == second)
            assert said.explanation is not None
            named = re.findall(r"\(([\d./]+), up to ", said.explanation.derivation)
            if named:
                size = 2 ** (32 - key.value(QUESTIONS["subnets.prefix"], second.row))
                behind = int(IPv4Network(named[0]).broadcast_address) + 1
                assert int(IPv4Address(said.expected)) == -(-behind // size) * size
                checked += 1
    assert checked
