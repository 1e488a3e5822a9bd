"""Who knows nothing earns next to nothing, whatever is asked; and what only has to be read off counts little."""

import pytest
from know_nothing import PAPERS, labs, percent
from on_request import many

from trainer.lab.form import SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.marking.effort import Effort, effort_by_section, effort_of

LABS = labs()
MOST = {"all blank": 0, "one value a kind": 16, "copies only": 15, "random": 15, "everything listed": 15}
"""Per cent. One value a kind knows which text is right most often, which nobody knows."""
KNOWN = {("links-and-routes", "one value a kind"): 26}
"""What earns more, as measured: one route written in all rows is taken for every route of its switch."""

PLAIN = ("links-and-routes",)
"""Of this one the plain test command sees to it."""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("exercise", many(LABS, PLAIN))
def test_a_paper_of_somebody_who_knows_nothing_earns_little(exercise: str, paper: str):
    assert max(percent(lab, paper) for lab in LABS[exercise]) <= KNOWN.get((exercise, paper), MOST[paper])


@pytest.mark.parametrize("exercise", LABS)
def test_what_is_copied_counts_as_read_off_in_every_lab(exercise: str):
    for lab in LABS[exercise]:
        so_far = SoFar(lab)
        for section in SECTIONS.values():
            for row in section.rows(lab):
                for question in section.questions_in(lab):
                    if effort_of(lab, so_far, question, row.key) is Effort.COPIED:
                        assert question.is_read_off, question.id


def test_the_cells_of_the_template_are_told_apart_by_what_they_ask_for():
    cells = effort_by_section(LABS["two-switches"][0])
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
        for lab in LABS["two-switches"]:
            assert section.counts_in(lab) == sum(question.counts for question in section.questions_in(lab))
