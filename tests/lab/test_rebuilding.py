"""A network in which one section is set anew is the one that all its answers build."""

import random
from ipaddress import IPv4Address

import pytest
from damaged_answers import randomly_damaged
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from on_request import many
from single_errors import with_cells

from trainer.lab.build import build, rebuilt
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM
from trainer.lab.questions.faults import FAULTS
from trainer.network.devices import Missing, Part

LABS = {
    "two switches": bakery,
    "a chain of three": lambda: draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}))), 1)[0],
    "a way out": lambda: draw(exercise_of(changed(way_out="A")), 1)[0],
    "repeated numbers": lambda: draw(exercise_of(changed(vlan_numbers="may repeat")), 1)[0],
}


@pytest.mark.parametrize("lab", LABS)
@pytest.mark.parametrize("seed", many(range(40), (0, 1)))
def test_what_one_section_sets_anew_is_what_all_of_them_build(lab: str, seed: int):
    scenario = LABS[lab]()
    before = randomly_damaged(scenario, derive_key(scenario), random.Random(-seed))
    built = build(scenario, before)
    after = randomly_damaged(scenario, before, random.Random(seed), cells=40)
    for section in FORM:
        answers = with_section_of(after, before, section.id)
        again, whole = rebuilt(built, answers, section), build(scenario, answers)
        assert again.network == whole.network, section.id
        assert again.where == whole.where, section.id


def with_section_of(these: Answers, others: Answers, section: str) -> Answers:
    """The others, with one section of these."""
    values = {cell: value for cell, value in others.values.items() if cell.section != section}
    values |= {cell: value for cell, value in these.values.items() if cell.section == section}
    return Answers(
        values=values, rows={**others.rows, **({section: these.rows[section]} if section in these.rows else {})}
    )


def test_what_no_section_sets_has_no_cell():
    built = build(LABS["two switches"](), derive_key(LABS["two switches"]()))
    assert built.cells(Missing("A", Part.VLAN, "7")) == ()


def test_a_section_of_which_nobody_knows_what_it_sets_is_built_whole():
    """Whoever adds one that sets something elsewhere than on switches gets the right network, if not the fastest."""
    scenario = bakery()
    key = derive_key(scenario)
    moved = with_cells(key, {("pools.router", "20"): IPv4Address("10.20.2.2")})
    again, whole = rebuilt(build(scenario, key), moved, FAULTS), build(scenario, moved)
    assert (again.network, again.where) == (whole.network, whole.where)
