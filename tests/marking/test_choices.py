"""Exercises that leave choices: every plan that keeps the rules earns full marks, and what rests on it follows from it."""

import random
from collections.abc import Iterator
from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from typing import Any

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.commands.demo_class import key_texts
from trainer.lab.form import Answers, CellRef, Choice, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM, QUESTIONS, SECTIONS, links, routes, subnets
from trainer.lab.rows import LinkRow, VlanRow, WrittenRow
from trainer.lab.scenario import LinkEnds, Scenario
from trainer.marking.marker import mark
from trainer.network.addresses import last_usable, network_at

FREE = {"order": "free", "gateway": "free", "link_ends": "free", "block_length": "/19"}


def free_lab(**settings_: str) -> Scenario:
    tables = shaped({"A": "", "B": "A", "C": "B"})
    (lab,) = draw(exercise_of(changed(tables=tables, **{**FREE, **settings_})), 1)
    return lab


def own_plan(lab: Scenario, seed: int) -> dict[CellRef, Any]:
    """A plan that keeps the rules and is not the key's: networks anywhere in the block, other gateways, ends swapped."""
    rng = random.Random(seed)
    key = SoFar(lab)
    values: dict[CellRef, Any] = {}
    used: list[IPv4Network] = []

    def place(length: int) -> IPv4Network:
        while True:
            number = rng.randrange(lab.block.num_addresses)
            network = network_at(lab.block.network_address + number, length)
            if not any(network.overlaps(other) for other in used):
                used.append(network)
                return network

    for vlan in lab.vlans:
        row = subnets.row_of(vlan.id)
        network = place(key.value(subnets.PREFIX_LENGTH_OF, row))
        fixed = {station.fixed_number for station in lab.stations if station.vlan == vlan.id}
        free = [network[number] for number in range(1, lab.rules.kept_for_fixed + 1) if number not in fixed]
        values[CellRef(subnets.NETWORK_ADDRESS.id, row)] = network.network_address
        values[CellRef(subnets.GATEWAY.id, row)] = rng.choice([*free, last_usable(network)])
    for link in lab.links:
        network = place(lab.link_length)
        row = LinkRow(link.name)
        values[CellRef(links.LINK_NETWORK.id, row)] = network.network_address
        values[CellRef(links.FIRST_ADDRESS.id, row)] = network[rng.choice((1, 2))]
    return values


def texts_of(lab: Scenario, chosen: dict[CellRef, Any]) -> dict[CellRef, str]:
    """The whole form, worked out from what was chosen."""
    so_far = SoFar(lab, chosen)
    values = {
        CellRef(question.id, row.key): so_far.value(question, row.key)
        for section in FORM
        for row in (*section.rows(lab), *section.set_already(lab))
        for question in section.questions_in(lab)
    }
    return key_texts(lab, Answers(values=values, rows={}))


@settings(max_examples=40)
@given(st.integers(0, 10**6))
def test_any_plan_that_keeps_the_rules_earns_full_marks(seed: int) -> None:
    lab = free_lab()
    marked = mark(lab, filled(texts_of(lab, own_plan(lab, seed))))
    assert [cell for cell in marked.cells if not cell.verdict.is_full] == []
    assert marked.marks == 100


def test_the_key_of_a_free_plan_earns_full_marks() -> None:
    lab = free_lab()
    assert mark(lab, filled(key_texts(lab))).marks == 100


def test_a_value_of_the_key_is_wrong_where_it_contradicts_ones_own_plan() -> None:
    lab = free_lab()
    own = texts_of(lab, own_plan(lab, 1))
    key = key_texts(lab)
    row = WrittenRow("Route", 1)
    cell = CellRef(routes.DESTINATION.id, row)
    assert own[cell] != key[cell]
    marked = mark(lab, filled({**own, cell: key[cell]}))
    assert {(each.question, each.row) for each in marked.cells if not each.verdict.is_full} == {(cell.question, row)}


def test_of_two_networks_that_overlap_the_one_further_down_is_charged() -> None:
    lab = free_lab()
    chosen = own_plan(lab, 2)
    first, second = (CellRef(subnets.NETWORK_ADDRESS.id, subnets.row_of(vlan.id)) for vlan in lab.vlans[1:3])
    chosen[second] = chosen[first]
    del chosen[CellRef(subnets.GATEWAY.id, second.row)]
    marked = mark(lab, filled(texts_of(lab, chosen)))
    wrong = [each for each in marked.cells if not each.verdict.is_full]
    assert [(each.question, each.row) for each in wrong] == [(second.question, second.row)]
    assert wrong[0].explanation is not None
    assert wrong[0].explanation.mistake == "own-plan-overlaps"


@pytest.mark.parametrize("called", ["subnets.last", "stations.gateway", "pools.first"])
def test_any_question_may_leave_a_choice_and_says_what_it_depends_on(
    called: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is declared there is all that marking asks of it."""
    lab, question = free_lab(), QUESTIONS[called]
    free = replace(question, choice=Choice(accepts=lambda *_: False, rests_on="nothing but luck"))
    section = SECTIONS[question.section]
    questions = tuple(free if each is question else each for each in section.questions)
    monkeypatch.setitem(SECTIONS, section.id, replace(section, questions=questions))
    monkeypatch.setitem(QUESTIONS, question.id, free)
    right = key_texts(lab)
    marked = mark(lab, filled({cell: "192.0.2.1" if cell.question == called else text for cell, text in right.items()}))
    said = [each.explanation for each in marked.cells if each.question == called]
    assert {each.rests_on for each in said if each is not None} == {"nothing but luck"}


def test_without_a_choice_the_ends_of_a_link_may_not_be_swapped() -> None:
    lab = free_lab(link_ends="first-named", order="largest first", gateway="first usable")
    assert lab.rules.link_ends is LinkEnds.FIRST_NAMED
    row = LinkRow(lab.links[0].name)
    texts = key_texts(lab)
    first, second = CellRef("links.first", row), CellRef("links.second", row)
    texts[first], texts[second] = texts[second], texts[first]
    marked = mark(lab, filled(texts))
    assert not next(each for each in marked.cells if each.question == "links.first" and each.row == row).verdict.is_full


@pytest.mark.parametrize("longer", [-1, 1])
def test_in_a_free_plan_a_wrong_size_is_charged_once_and_not_in_every_place_that_it_runs_into(longer: int) -> None:
    lab = free_lab()
    texts = key_texts(lab)
    for vlan in lab.vlans:
        cell = CellRef("subnets.prefix", VlanRow(vlan.id))
        length = SoFar(lab).value(subnets.PREFIX_LENGTH_OF, cell.row) + longer
        marked = mark(lab, filled({**texts, cell: f"/{length}"}))
        assert [each.row for each in marked.cells if not each.verdict.is_full] == [cell.row]
        assert sum(not each.verdict.is_full for each in marked.cells) == 1


def test_what_an_earlier_error_made_easier_names_that_error() -> None:
    """A network of the first VLAN that ends at an octet, and every row behind it by that: the hint leads to the first."""
    (lab,) = draw(exercise_of(changed(order="as listed", block_length="/18")), 1)
    first = VlanRow(lab.vlans[0].id)
    plan = SoFar(lab, {CellRef("subnets.prefix", first): 24})
    texts = {
        cell: plan_text(plan, cell) if cell.question.startswith("subnets.") else text
        for cell, text in key_texts(lab).items()
    }
    eased = [
        each
        for each in mark(lab, filled(texts)).cells
        if each.explanation is not None and each.explanation.mistake == "easier-by-own-error"
    ]
    assert eased
    for each in eased:
        assert each.explanation is not None
        assert f"Put Subnets {first}: Prefix length right first" in each.explanation.hint


def plan_text(plan: SoFar, cell: CellRef) -> str:
    question = QUESTIONS[cell.question]
    return question.kind.show(plan.value(question, cell.row))


def test_routes_of_a_switch_that_is_not_asked_are_taken_as_set() -> None:
    tables = shaped({"A": "", "B": "A", "C": "B"})
    switches = tuple({**row, "asks_routes": "no" if row["name"] == "B" else "yes"} for row in tables["switches"])
    (lab,) = draw(exercise_of(changed(tables={**tables, "switches": switches})), 1)
    assert {row.key.switch for row in routes.ROUTES.rows(lab)} == {"A", "C"}
    assert {row.switch for row in derive_key(lab).rows["routes"]} == {"A", "B", "C"}
    assert mark(lab, filled(key_texts(lab))).marks == 100


def test_a_transit_switch_without_clients_needs_routes_and_no_protection() -> None:
    """A - B - C with networks on A and C only: B forwards, checks nothing, and trusts nobody (rule 12)."""
    tables = shaped({"A": "", "B": "A", "C": "B"})
    networks = tuple(row for row in tables["networks"] if row["switch"] != "B")
    (lab,) = draw(exercise_of(changed(tables={**tables, "networks": networks})), 1)
    key = derive_key(lab)
    assert prove(lab, key).trials
    assert {row for row in key.rows["routes"] if row.startswith("B to ")} == {
        f"B to {vlan.number}" for vlan in lab.vlans
    }
    texts = key_texts(lab)
    assert {texts[CellRef(f"protection.{what}", RowKey("B"))] for what in ("snooped", "trusted", "guarded")} == {"none"}
    assert mark(lab, filled(texts)).marks == 100


@pytest.mark.parametrize("home", ["A", "B", "C"])
def test_the_server_may_stand_on_any_switch(home: str) -> None:
    tables = shaped({"A": "", "B": "A", "C": "B"})
    first, *others = tables["networks"]
    (lab,) = draw(exercise_of(changed(tables={**tables, "networks": ({**first, "switch": home}, *others)})), 1)
    assert lab.server.at.switch == home
    assert prove(lab, derive_key(lab)).trials
    assert mark(lab, filled(key_texts(lab))).marks == 100


def ranges(lab: Scenario) -> Iterator[tuple[str, list[IPv4Network]]]:
    key = SoFar(lab)
    for switch in lab.switches:
        yield switch.name, [subnets.network_of(key, vlan.id) for vlan in lab.vlans if vlan.switch == switch.name]


@pytest.mark.parametrize("seed", range(5))
def test_with_a_range_a_switch_one_aligned_range_holds_a_switchs_networks_and_no_others(seed: int) -> None:
    """So that one summary route reaches a switch; checked with the standard library's own arithmetic."""
    tables = shaped({"A": "", "B": "A", "C": "A", "D": "C"})
    (lab,) = draw(exercise_of(changed(tables=tables, order="a range a switch")), 1, bytes([seed]) * 32)
    found = dict(ranges(lab))
    for name, networks in found.items():
        low = min(int(network.network_address) for network in networks)
        high = max(int(network.broadcast_address) for network in networks)
        cover = IPv4Network((low, 32))
        while int(cover.broadcast_address) < high or IPv4Address(low) not in cover:
            cover = cover.supernet()
        others = [network for other, each in found.items() if other != name for network in each]
        assert not any(cover.overlaps(network) for network in others)
    assert mark(lab, filled(key_texts(lab))).marks == 100
