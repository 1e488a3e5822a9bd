"""Labs with a way out, through every command."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled
from read_configuration import read_configuration
from sending import probe

from trainer import cli
from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.brief import given_tables
from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import CellRef
from trainer.lab.house_rules import HouseRule
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import SECTIONS
from trainer.lab.rows import PortRow, RouteRow, VlanRow, WrittenRow
from trainer.lab.scenario import OUTSIDE, TEST_STATION, Scenario, WayOut
from trainer.lab.trials import TrialKind
from trainer.marking.marker import mark
from trainer.marking.marks import Verdict
from trainer.network.devices import SwitchName
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Running
from trainer.pages.drawing import draw_topology
from trainer.records import from_record, to_record
from trainer.sheets.answer_book import write_key_book
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form
from trainer.store import Sitting

RAW = changed(way_out="A")
(LAB,) = draw(exercise_of(RAW), 1)
CHAIN = {"A": "", "B": "A", "C": "B"}
(LONG,) = draw(exercise_of(changed(way_out="C", tables=shaped(CHAIN))), 1)
(PLAIN,) = draw(exercise_of(changed()), 1)
KEY = derive_key(LAB)


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


def out_of(lab: Scenario) -> WayOut:
    assert lab.way_out is not None
    return lab.way_out


def row_of_default(lab: Scenario, switch: str) -> WrittenRow:
    """The row in which a key's texts have the default route of a switch."""
    keys = [row.key for row in SECTIONS["routes"].rows(lab)]
    return WrittenRow("Route", keys.index(RouteRow(SwitchName(switch), None)) + 1)


def changed_row(lab: Scenario, row: WrittenRow, **texts: str) -> dict[CellRef, str]:
    return {**key_texts(lab), **{CellRef(f"routes.{question}", row): text for question, text in texts.items()}}


def test_each_switch_needs_a_default_route_the_one_with_the_way_out_over_the_neighbour():
    for lab in (LAB, LONG):
        key, out = derive_key(lab), out_of(lab)
        for switch in lab.switches:
            row = RouteRow(switch.name, None)
            assert row == f"{switch.name} to outside"
            assert RouteRow.read(row) == row
            route = [key.values[CellRef(f"routes.{each}", row)] for each in ("destination", "mask", "next_hop")]
            assert [str(route[0]), route[1]] == ["0.0.0.0", 0]
            assert (route[2] == out.neighbour) is (switch.name == out.at.switch)
        assert out.at.port in lab.port_names(out.at.switch)
        assert key.values[CellRef("protection.trusted", SECTIONS["protection"].row(out.at.switch))].isdisjoint(
            {out.at.port}
        )
    assert not any("outside" in row.key for row in SECTIONS["routes"].rows(PLAIN))


def test_what_is_given_is_printed_and_a_rule_says_what_to_do():
    out = out_of(LAB)
    given = dict(given_tables(LAB)[0].rows)
    assert given["Neighbour outside"] == str(out.neighbour)
    assert given["Test address beyond"] == str(out.test_address)
    assert str(out.at) in given["Way out"]
    assert "default route, on switch A over the neighbour outside" in HouseRule.ROUTES.text(LAB)
    assert "outside" not in HouseRule.ROUTES.text(PLAIN)
    assert {"Way out", "Neighbour outside"}.isdisjoint(dict(given_tables(PLAIN)[0].rows))


@pytest.mark.parametrize("lab", [LAB, LONG], ids=["two", "chain"])
def test_the_test_address_is_reached_from_every_station_and_back(lab: Scenario):
    tried = [each for each in prove(lab, derive_key(lab)).trials if TEST_STATION in each.subject]
    assert sum(each.kind is TrialKind.PING for each in tried) == 2 * len(lab.stations)
    links = [each.subject for each in prove(lab, derive_key(lab)).trials if each.kind is TrialKind.ROGUE_ON_LINK]
    assert f"a rogue server on link {out_of(lab).name} to switch {out_of(lab).at.switch}" in links


def test_a_packet_for_an_unused_address_of_the_block_ends_at_the_way_out():
    network = build(LONG, derive_key(LONG)).network
    running = Running(network)
    unused = LONG.block.broadcast_address - 1
    outcome = probe(running, running.stations[LONG.server.name], unused)
    assert isinstance(outcome, Dropped)
    assert (outcome.at, outcome.reason) == ("C", Reason.NO_ROUTE)
    without = replace(network, switches=tuple(replace(each, discards=()) for each in network.switches))
    circled = probe(Running(without), running.stations[LONG.server.name], unused)
    assert isinstance(circled, Dropped)
    assert circled.reason is Reason.TTL_EXPIRED, "what the route to nowhere is for (RFC 4632 5.1)"


def test_a_route_of_the_blocks_length_goes_before_the_route_to_nowhere():
    texts = key_texts(LAB)
    row = next(cell.row for cell, text in texts.items() if cell.question == "routes.switch" and text == "A")
    texts[CellRef("routes.destination", row)] = str(LAB.block.network_address)
    texts[CellRef("routes.mask", row)] = f"/{LAB.block.prefixlen}"
    marked = mark(LAB, filled(texts))
    assert marked.works.pings.shown == marked.works.pings.of


def test_its_configuration_is_read_as_it_was_shown():
    network = build(LAB, KEY).network
    assert read_configuration(json.loads(json.dumps(show_configuration(network)))) == network
    assert network.switches[0].discards == (LAB.block,)


def test_a_lab_is_kept_and_read_again():
    assert from_record(Scenario, json.loads(json.dumps(to_record(LAB)))) == LAB


def test_one_default_route_does_the_job_of_all_on_a_switch_behind():
    way = FILLINGS[2]
    marked = mark(LAB, filled(way.fill(LAB, key_texts(LAB))))
    assert marked.marks == 100
    assert marked.works.pings.shown == marked.works.pings.of


MISTAKES = {
    "route-out-to-one-network": {"destination": str(out_of(LAB).test_network.network_address), "mask": "/24"},
    "route-next-hop-is-test-address": {"next_hop": str(out_of(LAB).test_address)},
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_wrong_way_out_is_told_and_seen(mistake: str):
    marked = mark(LAB, filled(changed_row(LAB, row_of_default(LAB, "A"), **MISTAKES[mistake])))
    told = {each.explanation.mistake for each in marked.cells if each.explanation is not None}
    assert mistake in told
    assert marked.marks < 100


def test_halves_of_all_addresses_do_what_a_default_route_does_and_the_test_network_does_not():
    row, more = row_of_default(LAB, "B"), WrittenRow("Route", 11)
    hop = key_texts(LAB)[CellRef("routes.next_hop", row)]
    halves = changed_row(LAB, row, destination="0.0.0.0", mask="/1")
    halves |= {
        CellRef(f"routes.{question}", more): text
        for question, text in (("switch", "B"), ("destination", "128.0.0.0"), ("mask", "/1"), ("next_hop", hop))
    }
    assert mark(LAB, filled(halves)).marks == 100
    alone = changed_row(LAB, row, destination="203.0.113.0", mask="/24")
    assert any(not each.verdict.is_full for each in mark(LAB, filled(alone)).cells)


def test_a_missing_default_route_is_told_as_such():
    row = row_of_default(LAB, "A")
    texts = {cell: text for cell, text in key_texts(LAB).items() if cell.row != row}
    marked = mark(LAB, filled(texts))
    missing = [each for each in marked.cells if each.verdict is Verdict.MISSING]
    assert {each.row for each in missing} == {"A to outside"}
    assert {each.explanation.mistake for each in missing} == {"route-out-missing"}
    assert marked.works.pings.shown < marked.works.pings.of


def test_a_port_outward_that_carries_a_vlan_closes_the_way_out():
    cell = CellRef("ports.vlan", PortRow(out_of(LAB).at))
    marked = mark(LAB, filled({**key_texts(LAB), cell: str(LAB.vlans[0].number)}))
    (wrong,) = (each for each in marked.cells if not each.verdict.is_full)
    assert wrong.question == "ports.vlan"
    assert TEST_STATION in wrong.explanation.seen


def test_error_a_way_out_on_no_switch_or_without_a_port_is_refused():
    (fault,) = read_exercise(changed(way_out="F"))
    assert (fault.at.field, fault.fix) == ("way_out", "Write one of A, B, or none.")
    (fault,) = read_exercise(changed(way_out="7"))
    assert "the letter of a switch" in fault.wanted
    (fault,) = read_exercise(changed(way_out="A", cells={("switches", 0, "link_ports"): "21"}))
    assert fault.at.field == "link_ports"
    assert "the way out among them" in fault.wanted


def test_the_drawing_shows_and_tells_it():
    for key in (None, KEY):
        picture = draw_topology(LAB, key)
        assert f"test {out_of(LAB).test_address}" in picture.description
        assert OUTSIDE in picture.description
        assert picture.description.startswith("2 switches")


def test_the_key_workbook_is_read_back_and_earns_everything():
    assert mark(LAB, read_form(read_book(write_key_book(LAB, KEY)), LAB).filled).marks == 100


def test_every_command_takes_it_beside_numbers_that_repeat(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    raw = changed(RAW, vlan_numbers="may repeat", tables={"trainees": RAW.tables["trainees"][:1]})
    file = tmp_path / "out.xlsx"
    file.write_bytes(write_exercise_book(raw))
    assert run("check", file) == 0
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    sitting = Sitting.open(tmp_path / "s")
    scenario = sitting.scenario(sitting.register().labs[0].lab)
    texts = changed_row(scenario, row_of_default(scenario, "B"), next_hop=str(out_of(scenario).neighbour))
    vlan = scenario.dhcp_vlans[0]
    heard = CellRef("subnets.heard", VlanRow(vlan.id))
    texts[heard] = f"{texts[heard]}, {scenario.links[0].end_at(vlan.switch).port}"
    handout = sitting.handout_file(scenario)
    (sitting.returned / handout.name).write_bytes(fill_in(handout.read_bytes(), scenario, texts))
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 0
    (graded,) = json.loads(capsys.readouterr().out)["graded"]
    lost = [cell for cell in graded["cells"] if cell["verdict"] not in ("right", "follows")]
    assert {(cell["question"], cell["mistake"]) for cell in lost} == {
        ("routes.next_hop", "route-next-hop-outside-is-far"),
        ("subnets.heard", "broadcast-over-routed-port"),
    }
    assert run("results", sitting.folder) == 0
    assert run("key", sitting.folder) == 0
    pages = [path.read_text(encoding="utf-8") for path in sitting.folder.rglob("*.html")]
    assert any("Route to nowhere" in page and " on A" in page and "ANSWER KEY" in page for page in pages)
    assert any("Neighbour outside" in page and " on A" in page and "To fill in" in page for page in pages)
