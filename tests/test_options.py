"""Labs with what few exercises have, through every command: options that the pools tell, such as a DNS server."""

import json
from dataclasses import fields
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import changed, draw, exercise_of
from filled_forms import filled

from trainer import cli
from trainer.commands.demo_class import FILLINGS, Filling, key_texts
from trainer.lab.brief import given_tables
from trainer.lab.build import build
from trainer.lab.form import CellRef
from trainer.lab.house_rules import HouseRule
from trainer.lab.key import derive_key
from trainer.lab.questions import SECTIONS
from trainer.lab.questions.pools import OPTIONS
from trainer.lab.rows import StationRow, VlanRow
from trainer.lab.scenario import OptionServer
from trainer.marking.effort import effort_by_section
from trainer.marking.marker import mark
from trainer.marking.marks import Verdict
from trainer.network.devices import DhcpOptions
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form
from trainer.store import Sitting

NAMES = changed(dns_server="the DHCP server")
(LAB,) = draw(exercise_of(NAMES), 1)
(PLAIN,) = draw(exercise_of(changed()), 1)
POOLS = SECTIONS["pools"]


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


@pytest.fixture
def sitting(tmp_path: Path) -> Sitting:
    """Two trainees' labs with a DNS server."""
    trainees = tuple(NAMES.tables["trainees"][:2])
    file = tmp_path / "names.xlsx"
    file.write_bytes(write_exercise_book(changed(NAMES, tables={"trainees": trainees})))
    assert run("check", file) == 0
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    return Sitting.open(tmp_path / "s")


def test_only_a_lab_with_a_dns_server_asks_for_it() -> None:
    assert [each.heading for each in POOLS.questions_in(LAB)][-1] == "DNS server"
    assert POOLS.questions_in(PLAIN) == POOLS.questions_in(LAB)[:-1]
    for lab, count in ((LAB, 7 + 1), (PLAIN, 7)):
        sheet = openpyxl.load_workbook(BytesIO(write_answer_book(lab, derive_key(lab))))["Pools"]
        assert sum(cell.value is not None for cell in sheet[5]) == count


def test_every_option_has_its_question_in_their_order() -> None:
    assert tuple(OPTIONS) == tuple(each.name for each in fields(DhcpOptions))


@pytest.mark.parametrize("option", OPTIONS)
def test_an_option_is_asked_given_and_a_rule_of_the_brief_where_the_exercise_says_so_and_nowhere_else(
    option: str,
) -> None:
    (lab,) = draw(exercise_of(changed(**{option: "the DHCP server"})), 1)
    heading = OPTIONS[option].heading
    assert set(POOLS.questions_in(lab)) - set(POOLS.questions_in(PLAIN)) == {OPTIONS[option]}
    assert set(given_tables(lab)[0].rows) - set(given_tables(PLAIN)[0].rows) >= {
        (f"{heading} of every pool", "the DHCP server")
    }
    assert f" {heading}: the DHCP server, " in HouseRule.POOLS.text(lab)
    assert heading not in HouseRule.POOLS.text(PLAIN)
    server = build(lab, derive_key(lab)).network.server
    assert server is not None
    assert {each.name for each in fields(DhcpOptions) for pool in server.pools if getattr(pool.options, each.name)} == {
        option
    }


def test_what_cells_ask_of_whoever_fills_them_in_is_told_of_the_cells_that_there_are() -> None:
    for lab, questions in ((LAB, 6), (PLAIN, 5)):
        assert sum(effort_by_section(lab)["pools"].values()) == questions * len(lab.dhcp_vlans)


def test_the_right_dns_server_is_the_dhcp_servers_own_address_and_follows_from_it() -> None:
    key = derive_key(LAB)
    server = CellRef("stations.address", StationRow(LAB.server.name))
    cells = [cell for cell in key.values if cell.question == "pools.dns"]
    assert len(cells) == len(LAB.dhcp_vlans)
    assert {key.values[cell] for cell in cells} == {key.values[server]}
    texts = key_texts(LAB)
    moved = str(key.values[server] + 1)
    own = {
        cell: moved for cell, text in texts.items() if cell == server or cell.question in ("pools.dns", "relays.server")
    }
    marked = mark(LAB, filled({**texts, **own}))
    assert {cell.verdict for cell in marked.cells if cell.question == "pools.dns"} == {Verdict.FOLLOWS}


def test_the_pools_of_the_network_tell_of_it() -> None:
    key = derive_key(LAB)
    server = build(LAB, key).network.server
    assert server is not None
    assert {pool.options.dns_server for pool in server.pools} == {
        key.values[CellRef("stations.address", StationRow("DHCP server"))]
    }
    plain = build(PLAIN, derive_key(PLAIN)).network.server
    assert plain is not None
    assert {pool.options.dns_server for pool in plain.pools} == {None}


def test_what_a_wrong_one_does_is_seen_in_the_leases() -> None:
    cell = CellRef("pools.dns", VlanRow(LAB.dhcp_vlans[0].id))
    gateway = key_texts(LAB)[CellRef("subnets.gateway", cell.row)]
    marked = mark(LAB, filled({**key_texts(LAB), cell: gateway}))
    (wrong,) = (each for each in marked.cells if not each.verdict.is_full)
    assert wrong.explanation is not None
    assert wrong.explanation.mistake == "scope-dns-is-router"
    assert "DNS server" in wrong.explanation.seen


def test_it_is_given_and_a_rule_of_the_brief_where_it_is_asked() -> None:
    assert ("DNS server of every pool", "the DHCP server") in given_tables(LAB)[0].rows
    assert not any("DNS" in text for row in given_tables(PLAIN)[0].rows for text in row)


def test_its_key_workbook_is_read_back_and_earns_everything() -> None:
    key = derive_key(LAB)
    assert mark(LAB, read_form(read_book(write_key_book(LAB, key)), LAB).filled).marks == 100


@pytest.mark.parametrize("filling", FILLINGS, ids=lambda filling: filling.shows)
def test_every_way_to_fill_a_workbook_in_is_marked(filling: Filling) -> None:
    texts = filling.fill(LAB, key_texts(LAB))
    assert 0 < mark(LAB, filled(texts)).marks <= 100


def test_every_command_takes_it(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    register = sitting.register()
    assert register.exercise.rules.dns_server is OptionServer.DHCP_SERVER
    for lab in register.labs:
        scenario = sitting.scenario(lab.lab)
        texts = dict(key_texts(scenario))
        if lab is register.labs[0]:
            cell = CellRef("pools.dns", VlanRow(scenario.dhcp_vlans[0].id))
            texts[cell] = texts[CellRef("subnets.gateway", cell.row)]
        file = sitting.handout_file(scenario)
        (sitting.returned / file.name).write_bytes(fill_in(file.read_bytes(), scenario, texts))
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 0
    graded = json.loads(capsys.readouterr().out)["graded"]
    lost = [cell for each in graded for cell in each["cells"] if cell["verdict"] == "wrong"]
    assert [(cell["question"], cell["mistake"]) for cell in lost] == [("pools.dns", "scope-dns-is-router")]
    assert run("results", sitting.folder) == 0
    assert run("key", sitting.folder) == 0
    pages = [path.read_text(encoding="utf-8") for path in sitting.folder.rglob("*.html")]
    assert len(pages) > 4
    assert any("DNS server" in page and "ANSWER KEY" in page for page in pages)
    assert any("DNS server" in page and "To fill in" in page for page in pages)
