"""What is said to come of cells by which no device is set: they predict what the network will do, or describe the plan."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from catalogue_examples import EXAMPLES
from catalogue_labs import LAB, NAMESAKES_LAB, QUESTIONS, missing_row, section_of, wrong_cell

from trainer.lab.form import CellRef, Role
from trainer.lab.kinds import BindingType
from trainer.lab.questions import bindings
from trainer.marking.mistakes.catalogue import BY_QUESTION, explain
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.mistakes.neutral import neutral
from trainer.marking.mistakes.predicted import where_no_device_is_set

PREDICTED = (
    *[("subnets.heard", 2), ("relays.giaddr", 2), ("bindings.lease", (3, 0)), ("bindings.lease", (3, 2))],
    ("bindings.mac", (3, 0)),
)
"""Cells by which no device is set; of the VLAN's stations the first has a lease, the last a fixed address."""
DESCRIBED = tuple(
    (each.id, 0 if section_of(each.id) == "links" else 2) for each in QUESTIONS.values() if each.role is Role.DESCRIBES
)
SET = (("bindings.mac", (3, 2)), ("relays.server", 2), ("subnets.gateway", 2))
"""Cells by which one is set."""
LEARNT = tuple((each.id, (3, 0)) for each in bindings.BINDINGS.questions)


def test_every_question_is_here_that_sets_no_device() -> None:
    here = {question for question, _ in (*PREDICTED, *DESCRIBED)}
    assert here >= {each.id for each in QUESTIONS.values() if each.role is not Role.CONFIGURES}


@pytest.mark.parametrize(("question", "row"), PREDICTED)
@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "",
            "The network does the same without this cell, by which no device is set: only your prediction is missing.",
        ),
        (
            "?!",
            "The network does the same whatever stands in this cell, by which no device is set: only your prediction cannot be "
            "compared with it.",
        ),
    ],
)
def test_nothing_is_said_to_follow_from_a_prediction_that_is_none(
    question: str, row: Any, text: str, said: str
) -> None:
    assert explain(wrong_cell(NAMESAKES_LAB, question, row, text)).consequence == said


@pytest.mark.parametrize(("question", "row"), DESCRIBED)
def test_of_a_description_that_cannot_be_read_it_is_said_that_nobody_can_build_from_it(question: str, row: int) -> None:
    assert explain(wrong_cell(LAB, question, row, "?!")).consequence == (
        "No device is set by this cell, but nobody can build from a plan that cannot be read here."
    )
    assert explain(wrong_cell(LAB, question, row, "")).consequence == (
        "The step is missing, and so is what should follow from it."
    )


@pytest.mark.parametrize(("question", "row"), SET)
def test_of_a_cell_that_sets_a_device_it_is_said_what_the_device_does(question: str, row: Any) -> None:
    assert explain(wrong_cell(NAMESAKES_LAB, question, row, "")).consequence == (
        "The step is missing, and so is what should follow from it."
    )
    assert explain(wrong_cell(NAMESAKES_LAB, question, row, "?!")).consequence == (
        "The setting is missing on the device, as if the cell were empty."
    )


# Over all that can be said --------------------------------------------------------------------------------------------

OF_A_SETTING = re.compile(
    r"\brefuse|\bset up|\bsets? up\b|\bsetting|\benter|\bthe device\b|\bevery device\b|\bA device (takes|refuses|would)"
    r"|\b[Tt]wo interfaces claim|\blocked out\b|\bcut off\b|\bdrops\b|\blets?\b|\bClients\b|\bThe server counts\b"
)
"""What only a device does that is set by the cell."""
WITH_ITS_CONDITION = re.compile(
    r"[Ww]hoever (sets up|builds)|set up (from|by)|Set up from|[Ww]ith such a mask|by which no device is set|No device is set"
)


def speaks_of_a_setting(consequence: str) -> bool:
    return bool(OF_A_SETTING.search(consequence)) and not WITH_ITS_CONDITION.search(consequence)


def cells_that_set_none() -> Iterator[WrongCell]:
    """Every such cell blank, unreadable and wrong, and in rows that the switch learns too many and too few."""
    for question, row in dict.fromkeys((*PREDICTED, *DESCRIBED, *LEARNT)):
        unreadable = unread(question, row)
        yield from (unreadable, *(replace(unreadable, flaw=each, unreadable=None) for each in (Flaw.BLANK, Flaw.WRONG)))
    for question in bindings.BINDINGS.questions:
        yield replace(missing_row(LAB, "bindings", (3, 0), ()), question=question)
        yield replace(missing_row(LAB, "bindings", (3, 0), "all"), question=question)


def unread(question: str, row: Any) -> WrongCell:
    """A cell of which the reader says in words of its own why it cannot be read."""
    return replace(wrong_cell(NAMESAKES_LAB, question, row, "?!"), unreadable="The cell shows an error.")


def can_be_said(cell: WrongCell) -> Iterator[str]:
    """The consequences of all mistakes that can be made in it, whichever is made out, and of none."""
    if cell.flaw is Flaw.MISSING:  # by its own row alone
        yield explain(cell).consequence
        return
    yield neutral(cell).consequence
    for mistake in BY_QUESTION[cell.question.id]:
        if cell.flaw in mistake.flaws:
            yield where_no_device_is_set(cell) or mistake.consequence


def test_nothing_is_said_of_a_devices_setting_where_no_device_is_set() -> None:
    found = [
        (cell.question.id, cell.flaw, said)
        for cell in cells_that_set_none()
        for said in can_be_said(cell)
        if not said or speaks_of_a_setting(said)
    ]
    assert found == []


def test_no_example_of_the_catalogue_says_so_either() -> None:
    for mistake, cell in (each.values for each in EXAMPLES):
        in_a_row = cell.flaw in (Flaw.MISSING, Flaw.EXTRA)
        if cell.question.role is not Role.CONFIGURES and not in_a_row:
            assert not speaks_of_a_setting(explain(cell).consequence), mistake


@pytest.mark.parametrize("written", ["static", "dynamic"])
def test_a_row_too_many_sets_something_only_where_it_is_typed_in(written: str) -> None:
    own = {each.id: each.consequence for each in BY_QUESTION["bindings.port"] if Flaw.EXTRA in each.flaws}
    by_itself = (
        "A switch learns such a row by itself or not at all, so its table shows something else than you predict."
    )
    rows = [
        cell
        for mistake, cell in (each.values for each in EXAMPLES)
        if mistake in own and cell.section is bindings.BINDINGS
    ]
    assert rows
    for cell in rows:
        said = explain(with_type(cell, BindingType(written)))
        assert said.consequence == (own[said.mistake] if written == "static" else by_itself)


def with_type(cell: WrongCell, written: BindingType) -> WrongCell:
    """The cell in a row that is said to be of that type."""
    answers = cell.plan.answers
    values = {**answers.values, CellRef(bindings.BINDING_TYPE_OF.id, cell.row): written}
    return replace(cell, plan=replace(cell.plan, answers=replace(answers, values=values)))


def test_the_check_finds_what_is_said_of_a_setting() -> None:
    assert speaks_of_a_setting("A device would refuse what is written here.")
    assert speaks_of_a_setting("Every device refuses such a value.")
    assert speaks_of_a_setting("The setting is missing on the device, as if the cell were empty.")
    for question, row in SET:
        assert any(map(speaks_of_a_setting, can_be_said(unread(question, row))))
