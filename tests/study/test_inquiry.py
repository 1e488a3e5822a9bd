"""Asking for one thing at a time in a network with faults: help with what is typed, nothing told unasked, the half-split way."""

from dataclasses import replace

import pytest
from repair_labs import kept_lab
from repair_papers import fault_row, form, key_texts

from trainer.lab.brief import found_sheets, practice_brief
from trainer.lab.key import derive_key
from trainer.lab.repair.found import lines_of, with_edits
from trainer.lab.repair.sheet import SymptomSort
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.pages.handout import handout_document
from trainer.pages.html import as_html
from trainer.sheets.answer_book import write_answer_book, write_practice_book
from trainer.sheets.intake import read_book
from trainer.study.fading import filled_in
from trainer.study.inquiry import Inquiry, Question
from trainer.study.support import FULL_EXAMPLE

NAME = "faults-harmless"


def one_by_one(name: str = NAME) -> Scenario:
    lab = kept_lab(name)
    assert lab.repair is not None
    return replace(lab, repair=replace(lab.repair, is_one_by_one=True))


INQUIRY = Inquiry(one_by_one())


def told(question: Question | str) -> Question:
    assert isinstance(question, Question), question
    return question


# --- Asking -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["A routes", "a Routes", "A rout"])
def test_a_look_prints_the_lines_of_a_table_as_found(typed: str):
    look = told(INQUIRY.look(typed))
    lab = INQUIRY.scenario
    assert lab.repair is not None
    found = with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys))
    lines = [each for each in lines_of(lab, found).values() if each.section.id == "routes" and each.device == "A"]
    assert look.name == "A routes"
    assert [line.split() for line in look.lines[1:]] == [" ".join(each.texts).split() for each in lines]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "What can be looked at:"),
        ("C routes", "There is no device 'C'."),
        ("A routs", "A has no table 'routs'. Did you mean Routes? On A: "),
        ("A", "On A: VLAN interfaces, "),
        ("hots pools", "There is no device 'hots'. Did you mean hosts?"),
        ("A p", "A has no table 'p'."),
    ],
)
def test_error_a_look_that_is_not_understood_gets_help(typed: str, said: str):
    answer = INQUIRY.look(typed)
    assert isinstance(answer, str)
    assert answer.startswith(said)


def test_every_symptom_is_told_by_its_number_and_in_words():
    repair = INQUIRY.repair
    for symptom in repair.symptoms[1:]:
        words = {
            SymptomSort.LEASE: f"lease {symptom.source.lower()}",
            SymptomSort.PING: f"ping {symptom.target} to {symptom.source}",
            SymptomSort.ATTACK: f"attack on {symptom.source}",
            SymptomSort.COUNTER: f"counter {symptom.tried}",
        }[symptom.sort]
        for typed in (symptom.id, symptom.id.lower(), symptom.id[1:], words):
            answer = told(INQUIRY.try_out(typed))
            assert (answer.name, answer.lines) == (symptom.id, (f"{symptom.id}  {symptom.tried}: {symptom.seen}",))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "What can be tried:"),
        ("S1", "S1 is what users say."),
        ("S99", "There is no S99. try alone lists all."),
        ("lease", "Which one? try lease "),
        ("lease the moon", "Nobody tried 'lease the moon'. "),
        ("T1", "Tests are not made yet: how they come out is for you to predict on sheet Tests."),
        ("everything", "Nobody tried 'everything'. try alone lists all that was tried."),
    ],
)
def test_error_a_try_that_is_not_understood_gets_help(typed: str, said: str):
    answer = INQUIRY.try_out(typed)
    assert isinstance(answer, str)
    assert answer.startswith(said)


def test_what_is_seen_with_the_lines_put_right_that_are_called_causes():
    failing = next(each for each in INQUIRY.repair.symptoms[1:] if each.faults)
    mended = INQUIRY.try_again(failing.id, form(key_texts(NAME)))
    assert "with A9 put right" in mended
    assert mended.endswith(f"(before: {failing.seen})")
    decoy = INQUIRY.repair.decoys[0]
    wrong = INQUIRY.try_again(failing.id, form(fault_row(1, decoy.line, decoy.column, decoy.right)))
    assert wrong.endswith(f"{failing.seen} (as it was)")
    for nothing in (None, form({})):
        assert INQUIRY.try_again(failing.id, nothing).startswith("Nothing is named yet")
    assert INQUIRY.try_again("S99", None).startswith("There is no S99")


# --- Nothing is told unasked ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [NAME, "faults-two"])
def test_nothing_that_was_found_or_seen_is_printed(name: str):
    """The files are the same whatever is found, and whatever is seen but for the complaint."""
    lab, key = one_by_one(name), derive_key(one_by_one(name))
    assert lab.repair is not None
    assert found_sheets(lab, key) == {}
    assert filled_in(lab, FULL_EXAMPLE) == ()
    first, *rest = lab.repair.symptoms
    unseen = tuple(replace(each, seen="", faults=()) for each in rest)
    faults = tuple(replace(each, line="Z1", value="", column="", right="") for each in lab.repair.faults)
    other = replace(lab, repair=replace(lab.repair, symptoms=(first, *unseen), faults=faults, way=(), vector=()))
    for write in (
        lambda lab: write_answer_book(lab, derive_key(lab)),
        lambda lab: write_practice_book(lab, derive_key(lab), (), frozenset(), ()),
    ):
        assert write(lab) == write(other)
    pages = [as_html([handout_document(each, "", derive_key(each), practice_brief(each), ())]) for each in (lab, other)]
    assert pages[0] == pages[1]
    assert b"try S2" in pages[0]
    assert read_book(write_answer_book(lab, key))


# --- Beside the half-split way ----------------------------------------------------------------------------------------


def test_what_was_asked_is_compared_with_the_half_split_way():
    """Before the faults are found nothing is told of it; then how many explanations were left after each question."""
    assert INQUIRY.listed(["S2", "A routes"])[0] == "You asked for S2 and look A routes."
    assert INQUIRY.listed([])[0] == "You asked for nothing yet."
    assert not INQUIRY.is_solved(mark(INQUIRY.scenario, form({})))
    assert INQUIRY.is_solved(mark(INQUIRY.scenario, form(key_texts(NAME))))
    head, own, best = INQUIRY.compared(["S2", "B routes", "A routes"])
    left = [int(each.rsplit(" ", 1)[1]) for each in own.partition(":")[2].split(", ")]
    assert left == sorted(left, reverse=True)
    assert [each.rsplit(" ", 1)[0].strip() for each in own.partition(":")[2].split(", ")] == [
        "S2",
        "look B routes",
        "look A routes",
    ]
    assert head.startswith("You asked for 3 things; the half-split way asks for ")
    assert f"S1 alone leaves {INQUIRY.repair.vector[0]} slips." in head
    steps = best.partition(":")[2].split(", ")
    assert f"asks for {len(steps)}." in head
    assert int(steps[-1].rsplit(" ", 1)[1]) >= 1
    nothing, own, _ = INQUIRY.compared([])
    assert "nothing" in own
    assert f"and {INQUIRY.repair.vector[0]} explanations would have been left" in nothing
