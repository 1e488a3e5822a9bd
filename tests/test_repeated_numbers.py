"""Labs in which two switches use one VLAN number for different networks; through every command go those of test_way_out."""

import json
from collections import Counter

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled

from trainer import cli
from trainer.commands.demo_class import key_texts
from trainer.lab.build import build
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import CellRef
from trainer.lab.house_rules import HouseRule
from trainer.lab.key import derive_key
from trainer.lab.proof import ProofFailed, prove
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.rows import RouteRow, VlanRow
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind
from trainer.lab.vlan_id import VlanId
from trainer.marking.marker import mark
from trainer.network.devices import PortName, SwitchName
from trainer.network.topology import Running
from trainer.network.trials import hearers
from trainer.records import from_record, to_record
from trainer.sheets.answer_book import write_key_book
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form

REPEATED = changed(vlan_numbers="may repeat")
(LAB,) = draw(exercise_of(REPEATED), 1)
(PLAIN,) = draw(exercise_of(changed()), 1)
KEY = derive_key(LAB)
A, B = SwitchName("A"), SwitchName("B")
NAMESAKE = next(vlan for vlan in LAB.dhcp_vlans if vlan.switch == B and LAB.vlan_on(A, vlan.number))
"""A VLAN with clients on B whose number A has too."""


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


@pytest.mark.parametrize(("text", "number"), [("30", 30), ("30 on B", 30), ("4094 on ZZ", 4094), ("2 on AB", 2)])
def test_a_vlan_is_called_by_its_number_and_where_that_repeats_by_its_switch(text: str, number: int):
    vlan = VlanId.read(text)
    assert (str(vlan), vlan.number) == (text, number)
    assert VlanRow.read(text) == text
    assert VlanRow.read(text).vlan == vlan
    assert RouteRow.read(f"A to {text}").vlan == vlan


@pytest.mark.parametrize("text", ["0", "x", "30 on", "30 on b", "30 on ABC", "30 at B", ""])
def test_what_is_no_name_of_a_vlan_is_refused(text: str):
    with pytest.raises(ValueError, match="is not the name of a VLAN"):
        VlanId.read(text)


def test_no_two_vlans_have_one_name():
    names = [
        VlanId.on(SwitchName(switch), number) for switch in ("A", "B", "Z", "AA", "AB") for number in (2, 30, 4094)
    ]
    assert len({*names, *(VlanId(number) for number in (2, 30, 4094))}) == len(names) + 3


def test_numbers_repeat_on_switches_and_never_on_one():
    for lab in draw(exercise_of(REPEATED), 12):
        assert len({(vlan.switch, vlan.number) for vlan in lab.vlans}) == len(lab.vlans)
        assert max(Counter(vlan.number for vlan in lab.vlans).values()) == 2
        assert len(lab.vlan_by_id) == len(lab.vlans)
    for lab in draw(exercise_of(changed()), 12):
        assert len({vlan.number for vlan in lab.vlans}) == len(lab.vlans)


def test_few_numbers_do_for_many_switches_only_where_they_may_repeat():
    tables = shaped({"A": "", "B": "A", "C": "B"})
    narrow = {**tables, "networks": tuple({**row, "vlans": "10-12"} for row in tables["networks"])}
    assert not isinstance(read_exercise(changed(tables=narrow, vlan_numbers="may repeat")), tuple)
    assert [each.at.field for each in read_exercise(changed(tables=narrow))] == ["vlans"]
    narrow = {**tables, "networks": tuple({**row, "vlans": "10-11"} for row in tables["networks"])}
    assert [each.at.field for each in read_exercise(changed(tables=narrow, vlan_numbers="may repeat"))] == ["vlans"]


def test_only_such_labs_ask_for_a_relays_switch_and_for_who_hears_a_broadcast():
    for section, question in (("relays", "relays.switch"), ("subnets", "subnets.heard")):
        assert QUESTIONS[question] in SECTIONS[section].questions_in(LAB)
        assert QUESTIONS[question] not in SECTIONS[section].questions_in(PLAIN)
    assert "30 on B" in HouseRule.PORTS.text(LAB)
    assert "30 on B" not in HouseRule.PORTS.text(PLAIN)


def test_a_lab_is_kept_and_read_again():
    assert from_record(Scenario, json.loads(json.dumps(to_record(LAB)))) == LAB
    assert to_record(LAB.stations[0])["vlan"] == str(LAB.stations[0].vlan)
    plain = to_record(PLAIN)
    assert all(type(each["vlan"]) is int for each in plain["stations"])
    for each in plain["vlans"]:
        del each["may_repeat"]
    del plain["vlan_numbers"], plain["way_out"]
    assert from_record(Scenario, plain) == PLAIN, "as labs were kept before"


def test_a_broadcast_is_heard_in_its_own_vlan_alone_and_the_proof_tries_it():
    tried = [each for each in prove(LAB, KEY).trials if each.kind is TrialKind.BROADCAST]
    assert len(tried) == len(LAB.stations)
    running = Running(build(LAB, KEY).network)
    for station in LAB.stations:
        heard = {each.name for each in hearers(running, running.stations[station.name])}
        assert heard == {each.name for each in LAB.stations if each.vlan == station.vlan} - {station.name}


def test_a_proof_fails_where_a_vlan_goes_over_the_link():
    """Both ends of the link as access ports of that number: then one VLAN hears the other."""
    link = LAB.links[0]
    values = dict(KEY.values)
    for end in (link.first, link.second):
        values[CellRef("ports.vlan", SECTIONS["ports"].row(str(end)))] = NAMESAKE.number
    joined = build(LAB, type(KEY)(values=values, rows=KEY.rows)).network
    running = Running(joined)
    station = next(each for each in LAB.stations if each.vlan == NAMESAKE.id)
    assert any(each.at.switch == A for each in hearers(running, running.stations[station.name]))
    cell = CellRef("subnets.heard", VlanRow(NAMESAKE.id))
    wider = {**KEY.values, cell: KEY.values[cell] | {PortName("1")}}
    with pytest.raises(ProofFailed, match="broadcast"):
        prove(LAB, type(KEY)(values=wider, rows=KEY.rows))


def test_a_relay_agent_on_the_namesakes_switch_is_wrong_and_loses_the_leases():
    texts = key_texts(LAB)
    row = next(
        cell.row
        for cell, text in texts.items()
        if cell.question == "relays.vlan"
        and text == str(NAMESAKE.number)
        and texts[CellRef("relays.switch", cell.row)] == B
    )
    marked = mark(LAB, filled({**texts, CellRef("relays.switch", row): "A"}))
    (wrong,) = (each for each in marked.cells if not each.verdict.is_full)
    assert (wrong.question, wrong.explanation.mistake) == ("relays.switch", "relay-switch-of-namesake")
    assert "lease" in wrong.explanation.seen
    assert marked.works.leases.shown == marked.works.leases.of - len(LAB.dhcp_stations(NAMESAKE.id))


def test_the_key_workbook_is_read_back_and_earns_everything():
    assert mark(LAB, read_form(read_book(write_key_book(LAB, KEY)), LAB).filled).marks == 100
