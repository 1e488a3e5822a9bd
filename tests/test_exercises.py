"""Every ready-made exercise: set, proved, keyed and graded; all labs of a class different, and no key cell shared."""

import random
from dataclasses import replace
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from drawn_labs import changed, draw, exercise_of
from on_request import many
from write_exercises import anew

from trainer.cli import main
from trainer.commands.exercises import ready_made
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.form import SoFar
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM, pools, subnets
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Trainee
from trainer.marking.marker import mark
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.exercise_book import read_exercise_book
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form

FILES = [each.file for each in ready_made()]
SOME = [file for file in FILES if file.stem in ("addressing", "two-switches")]


def _name(file: Path | None) -> str:
    return "template" if file is None else file.stem


def class_of(file: Path, count: int) -> Exercise:
    exercise = read_exercise_book(file.read_bytes())
    return replace(exercise, trainees=tuple(Trainee(id=f"c{number:02}") for number in range(count)))


def test_eleven_exercises_lead_from_easy_to_hard(capsys: pytest.CaptureFixture[str]) -> None:
    assert [each.step for each in ready_made()] == list(range(1, 12))
    assert all(each.trains for each in ready_made())
    assert main(["exercises"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "1  addressing: Every tree its number"
    assert all(len(line) <= 80 for line in lines[:-1])


@pytest.mark.parametrize("file", many(FILES, SOME), ids=_name)
def test_labs_are_proved_their_keys_earn_everything_and_untouched_ones_nothing(file: Path) -> None:
    for lab in draw(class_of(file, 3), 3):
        key = derive_key(lab)
        assert prove(lab, key).trials
        full = mark(lab, read_form(read_book(write_key_book(lab, key)), lab).filled)
        assert (full.marks, full.out_of) == (100, 100)
        assert mark(lab, read_form(read_book(write_answer_book(lab, key)), lab).filled).marks == 0


@pytest.mark.parametrize("file", FILES, ids=_name)
def test_no_two_of_thirty_trainees_share_an_asked_address(file: Path) -> None:
    """Follows from the address slots, as long as they suffice; masks and words may well be the same."""
    labs = draw(class_of(file, 30), 30)
    asked = {share.section for share in labs[0].sections if share.asked is Asked.YES}
    questions = {question.id for section in FORM if section.id in asked for question in section.questions}
    seen: dict[IPv4Address, str] = {}
    for lab in labs:
        for cell, value in derive_key(lab).values.items():
            if cell.question in questions and isinstance(value, IPv4Address) and value in lab.block:
                assert seen.setdefault(value, lab.lab_number) == lab.lab_number
    assert len({lab.lab_number for lab in labs}) == 30
    assert len({lab.block for lab in labs}) == 30


@pytest.mark.parametrize("file", many([*FILES, None], [*SOME, None]), ids=_name)
def test_every_pool_serves_what_its_network_needs(file: Path | None) -> None:
    """Needed addresses but for the gateway's and the fixed stations', in 300 draws for a class."""
    exercise = exercise_of(HARBOUR) if file is None else read_exercise_book(file.read_bytes())
    for seed in range(300):
        rng = random.Random(seed)
        common = draw_for_class(exercise, rng)
        lab = draw_scenario(exercise, common, Trainee(id="c01"), "ABC-DEFG", 0, rng)
        so_far = SoFar(lab)
        for vlan in lab.dhcp_vlans:
            row = subnets.row_of(vlan.id)
            held = int(so_far.value(pools.POOL_LAST, row)) - int(so_far.value(pools.POOL_FIRST, row)) + 1
            fixed = sum(each.vlan == vlan.id and each.fixed_number is not None for each in lab.stations)
            assert held >= vlan.addresses_needed - 1 - fixed, (seed, vlan)


def test_numbers_of_a_wider_range_that_leave_the_pool_short_are_never_drawn() -> None:
    """The template's ranges were as wide as the sizes of networks before."""
    wide = {("networks", row, "addresses_needed"): text for row, text in ((1, "63-126"), (2, "255-510"), (3, "31-62"))}
    exercise = exercise_of(changed(cells=wide))
    drawn = {draw_for_class(exercise, random.Random(seed)).addresses_needed[1:4] for seed in range(3000)}
    assert [(min(each), max(each)) for each in zip(*drawn, strict=True)] == [(63, 117), (255, 501), (31, 54)]


@pytest.mark.parametrize("file", FILES, ids=_name)
def test_every_exercise_says_what_this_version_says(file: Path) -> None:
    """All that explains the form, and every new setting. If not: python tests/write_exercises.py."""

    def texts(data: bytes) -> dict[tuple[str, tuple[int, int]], str]:
        return {(sheet.name, at): cell.text for sheet in read_book(data).sheets for at, cell in sheet.cells.items()}

    assert texts(file.read_bytes()) == texts(anew(file.read_bytes()))


def test_places_say_what_the_brief_says_of_them() -> None:
    """The island in the middle is the main one; a water works begins at the spring and ends at the filters."""
    read = {each.file.stem: class_of(each.file, 12) for each in ready_made()}
    for lab in draw(read["star-of-four"], 12):
        assert [switch.place for switch in lab.switches if switch.name == "A"] == ["Main island"]
        assert all("A" in (link.first.switch, link.second.switch) for link in lab.links)
    for lab in draw(read["relays-and-pools"], 12):
        assert [switch.place for switch in lab.switches][::2] == ["Spring house", "Filter works"]


@pytest.mark.parametrize("file", FILES, ids=_name)
def test_all_labs_of_a_class_are_equally_long(file: Path) -> None:
    """Row counts and prefix lengths are drawn once for the class (a free plan's key is largest first for all)."""
    labs = draw(class_of(file, 8), 8)
    rows = {tuple(len(section.rows(lab)) for section in FORM) for lab in labs}
    lengths = {
        tuple(value for cell, value in derive_key(lab).values.items() if cell.question == "subnets.prefix")
        for lab in labs
    }
    assert len(rows) == len(lengths) == 1


@pytest.mark.parametrize("file", [each.file for each in ready_made()], ids=lambda file: file.stem)
def test_a_ready_made_exercise_gives_the_time_that_check_asks_for(file: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["check", str(file)]) == 0
    assert "That is short" not in capsys.readouterr().out
