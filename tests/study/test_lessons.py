"""Lessons: what they say is true of the lab they are drawn from, and their pictures can be read and told."""

import random
import re
from functools import cache
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from learners import Desk, logged, moment, tried
from picture_parts import faults

from trainer.commands import learn
from trainer.lab.concepts import Concept
from trainer.lab.form import SoFar
from trainer.lab.questions import bindings, pools, relays, subnets
from trainer.lab.rows import StationRow, VlanRow
from trainer.network.addresses import prefix_length_for
from trainer.pages.blocks import Figure, texts_of
from trainer.pages.html import as_html
from trainer.pages.lesson_page import lesson_document, lesson_text
from trainer.pages.lesson_pictures import lesson_pictures
from trainer.study.lesson import Lesson, lesson_of

SEEDS = (1, 2)


@cache
def lesson(seed: int) -> Lesson:
    return lesson_of(random.Random(seed))


@pytest.mark.parametrize("concept", Concept)
def test_every_concept_has_a_lesson_with_rule_picture_example_and_words(concept: Concept):
    texts = [lesson_text(concept, lesson(seed)) for seed in SEEDS]
    for text in texts:
        assert [line for line in text.splitlines() if line.startswith("#")] == ["# Worked example", "# Words"]
        assert "**Rule.** " in text
        assert text.count("[picture]") == 1
        assert "{" not in text
        assert len(text.splitlines()) <= 32
        assert max(map(len, re.split(r"(?<=[.?:])\s", text))) < 260, "short sentences"
    assert texts[0] != texts[1], "fresh numbers each time"


@pytest.mark.parametrize("concept", Concept)
def test_the_pictures_can_be_read_and_are_told_in_words(concept: Concept):
    for seed in SEEDS:
        pictures = lesson_pictures(concept, lesson(seed))
        assert pictures
        for each in pictures:
            assert faults(each) == []
            assert len(each.description) > 80
        document = lesson_document(concept, lesson(seed))
        assert sum(isinstance(block, Figure) for block in document.blocks) == len(pictures)
        said = texts_of(document.blocks)
        assert all(each.description in said for each in pictures)
        assert as_html([document]).count(b"<svg") == len(pictures)


@pytest.mark.parametrize("seed", range(1, 6))
def test_what_a_lesson_says_is_what_the_rules_say(seed: int):
    told = lesson(seed)
    values, key, row = told.values, SoFar(told.scenario), VlanRow(told.vlan.number)
    network = told.network
    assert values["length"] == prefix_length_for(told.vlan.addresses_needed) == network.prefixlen
    assert int(str(values["half"])) < int(str(values["with_two"])) <= int(str(values["size"])) == network.num_addresses
    assert values["first"] == key.value(subnets.FIRST_USABLE, row)
    assert values["last"] == key.value(subnets.LAST_USABLE, row)
    assert values["broadcast"] == key.value(subnets.BROADCAST_ADDRESS, row)
    assert values["pool_last"] == key.value(pools.POOL_LAST, row)
    assert values["giaddr"] == values["gateway"] == key.value(relays.RELAY_ADDRESS, row)
    assert values["network_address"] + int(str(values["fixed_number"])) == values["fixed_address"]  # type: ignore[operator]
    before = subnets.network_of(key, values["before_vlan"])  # type: ignore[arg-type]
    assert before == values["before"]
    assert IPv4Address(int(before.broadcast_address) + 1) == values["behind_before"] <= network.network_address
    assert told.binding_lines[0].address == str(values["client_address"])
    assert values["client_address"] == key.value(bindings.BINDING_ADDRESS, StationRow(told.client.name))


def test_the_ways_are_those_that_the_network_takes():
    told = lesson(1)
    switches = [f"switch {each}" for each in told.scenario.route_between(told.traveller.at.switch, told.vlan.switch)]
    assert [hop.name for hop in told.way] == [told.traveller.name, *switches, told.fixed.name]
    assert [hop.name for hop in told.way_back] == [told.fixed.name, *reversed(switches), told.traveller.name]
    assert [hop.found.split()[0] for hop in told.way[1:-1]] == ["static", "static", "connected"]
    assert str(told.values["next_hop"]) in told.way[1].found
    assert str(told.values["next_hop_back"]) in told.way_back[1].found


def test_guard_lets_the_own_packet_through_and_stops_what_is_borrowed():
    assert [each.passes for each in lesson(1).packets] == [True, False, False]


def test_learn_writes_the_lesson_of_what_comes_next_and_prints_it_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    folder = tmp_path / "practice"
    folder.mkdir()
    events = [(moment(day), tried(session=f"s{day}")) for day in range(3) for _ in range(3)]
    (folder / "log.jsonl").write_bytes(logged(*events))
    assert learn.run(None, tmp_path, as_text=True, world=Desk(day=3).world) == 0
    out = capsys.readouterr().out
    assert f"Lesson Place: {folder / 'lesson-place.html'}" in out
    assert "Rule. Go to the address behind the network before." in out
    assert "Short questions about it: trainer quick place" in out
    assert "<svg" in (folder / "lesson-place.html").read_text(encoding="utf-8")
    assert learn.run("return-path", tmp_path, world=Desk().world) == 0
    assert (folder / "lesson-return-path.html").is_file()
