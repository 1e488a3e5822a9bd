"""Every ready-made exercise: set, proved, keyed and graded; all labs of a class different, and no key cell shared."""

from dataclasses import replace
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from drawn_labs import draw

from trainer.cli import main
from trainer.commands.exercises import ready_made
from trainer.lab.exercise import Exercise
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM
from trainer.lab.scenario import Asked, Trainee
from trainer.marking.marker import mark
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.exercise_book import read_exercise_book
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form

FILES = [pytest.param(each.file, id=each.file.stem) for each in ready_made()]


def class_of(file: Path, count: int) -> Exercise:
    exercise = read_exercise_book(file.read_bytes())
    return replace(exercise, trainees=tuple(Trainee(id=f"c{number:02}") for number in range(count)))


def test_seven_exercises_lead_from_easy_to_hard(capsys: pytest.CaptureFixture[str]) -> None:
    assert [each.step for each in ready_made()] == [1, 2, 3, 4, 5, 6, 7]
    assert all(each.trains for each in ready_made())
    assert main(["exercises"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "1  addressing: Every tree its number"
    assert all(len(line) <= 80 for line in lines[:-1])


@pytest.mark.parametrize("file", FILES)
def test_labs_are_proved_their_keys_earn_everything_and_untouched_ones_nothing(file: Path) -> None:
    for lab in draw(class_of(file, 3), 3):
        key = derive_key(lab)
        assert prove(lab, key).trials
        full = mark(lab, read_form(read_book(write_key_book(lab, key)), lab).filled)
        assert (full.marks, full.out_of) == (100, 100)
        assert mark(lab, read_form(read_book(write_answer_book(lab, key)), lab).filled).marks == 0


@pytest.mark.parametrize("file", FILES)
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


@pytest.mark.parametrize("file", FILES)
def test_all_labs_of_a_class_are_equally_long(file: Path) -> None:
    """Row counts and prefix lengths are drawn once for the class (a free plan's key is largest first for all)."""
    labs = draw(class_of(file, 8), 8)
    rows = {tuple(len(section.rows(lab)) for section in FORM) for lab in labs}
    lengths = {
        tuple(value for cell, value in derive_key(lab).values.items() if cell.question == "subnets.prefix")
        for lab in labs
    }
    assert len(rows) == len(lengths) == 1
