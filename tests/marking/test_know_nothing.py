"""Who knows nothing earns next to nothing, whatever is asked; and what only has to be read off counts little."""

import pytest
from filled_forms import filled
from know_nothing import EXERCISES, PAPERS, PLANS, labs, most, right_texts
from on_request import many

from trainer.lab.form import SoFar
from trainer.lab.kinds import ADDRESS, DESTINATION
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.marking.effort import Effort, effort_by_section, effort_of
from trainer.marking.marker import mark

MOST = {"all blank": 0, "one value a kind": 15, "copies only": 15, "random": 15, "everything listed": 15}
"""Per cent."""
PLAIN = ("links-and-routes",)
"""Of this one the plain test command sees to it."""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("exercise", many(EXERCISES, PLAIN))
def test_a_paper_of_somebody_who_knows_nothing_earns_little(exercise: str, paper: str):
    assert most(exercise, paper) <= MOST[paper]


@pytest.mark.parametrize("exercise", many(PLANS, ("addressing",)))
def test_the_addresses_of_another_lab_earn_half_at_most(exercise: str):
    """Copying outside the block must not pay: all else is this lab's own (R4)."""
    lab, other = labs(exercise)
    theirs: dict[str, list[str]] = {}
    for cell, text in right_texts(other).items():
        theirs.setdefault(cell.question, []).append(text)
    copied = {
        cell: theirs[cell.question].pop(0) if QUESTIONS[cell.question].kind in (ADDRESS, DESTINATION) else text
        for cell, text in right_texts(lab).items()
    }
    cells = [
        each for each in mark(lab, filled(copied)).cells if QUESTIONS[each.question].kind in (ADDRESS, DESTINATION)
    ]
    assert 0 < sum(each.marks for each in cells) * 2 <= sum(each.out_of for each in cells)


@pytest.mark.parametrize("exercise", PLANS)
def test_what_is_copied_counts_as_read_off_in_every_lab(exercise: str):
    for lab in labs(exercise):
        so_far = SoFar(lab)
        for section in SECTIONS.values():
            for row in section.rows(lab):
                for question in section.questions_in(lab):
                    if effort_of(lab, so_far, question, row.key) is Effort.COPIED:
                        assert question.is_read_off, question.id


def test_the_cells_of_the_template_are_told_apart_by_what_they_ask_for():
    cells = effort_by_section(labs("two-switches")[0])
    told = {section: tuple(each[effort] for effort in Effort) for section, each in cells.items()}
    assert told == {
        "subnets": (0, 5, 30),
        "links": (1, 0, 3),
        "ports": (11, 0, 0),
        "stations": (0, 6, 3),
        "routes": (5, 15, 0),
        "pools": (3, 6, 6),
        "relays": (3, 6, 0),
        "protection": (0, 0, 6),
        "bindings": (40, 5, 3),
    }


def test_what_is_read_off_counts_a_fifth_and_sheets_still_add_up():
    assert {question.counts for question in QUESTIONS.values()} == {1, 5}
    for section in SECTIONS.values():
        for lab in labs("two-switches"):
            assert section.counts_in(lab) == sum(question.counts for question in section.questions_in(lab))
