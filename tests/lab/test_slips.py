"""What people set wrongly: every slip is recognised by the mistake it names, and every sort of slip can be made."""

import random
from dataclasses import replace

import pytest
from drawn_labs import changed, exercise_of
from repair_labs import kept_lab, mill

from trainer.lab.answers import read_answers
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.key import derive_key
from trainer.lab.questions import SECTIONS
from trainer.lab.repair.found import edit_of, found_tables, with_edits, with_slips
from trainer.lab.repair.slips import SLIPS, all_slips
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import RouteRule, Scenario, Trainee
from trainer.marking.cells import CellMarker
from trainer.marking.marker import section_cells
from trainer.marking.plans import plans_of
from trainer.marking.repair.diagnosis import as_plan, filled_plan

OPEN_LAB = {("networks", 4, "is_snooped"): "no", ("networks", 4, "is_guarded"): "no"}


def harbour(cells: dict[tuple[str, int, str], str] | None = None) -> Scenario:
    exercise = exercise_of(HARBOUR if cells is None else changed(cells=cells))
    rng = random.Random(1)
    common = draw_for_class(exercise, rng)
    return draw_scenario(exercise, common, Trainee(id="h01"), "AAA-AAAA", 0, rng)


LABS = {"harbour": harbour(), "cameras open": harbour(OPEN_LAB), "mill": mill()}


@pytest.mark.parametrize(
    "lab", ["mill", *(pytest.param(name, marks=pytest.mark.many) for name in LABS if name != "mill")]
)
def test_every_slip_is_recognised_by_the_mistake_it_names(lab: str):
    """Where summary routes are right a wider one is none, so it is looked at where one route a network is asked."""
    scenario = as_plan(LABS[lab])
    scenario = replace(scenario, rules=replace(scenario.rules, route_rule=RouteRule.ONE_A_NETWORK))
    key = derive_key(scenario)
    named = {each.id: each.mistakes for each in SLIPS}
    wrong = []
    for slip in all_slips(scenario, key):
        plans = plans_of(scenario, read_answers(filled_plan(scenario, with_slips(key, [slip]))))
        cells = [each.mark for each in section_cells(SECTIONS[slip.line[0]], 10, CellMarker(plans))]
        of_slip = [each for each in cells if slip.is_missing_row or each.question == slip.cell.question]
        seen = {each.explanation.mistake for each in of_slip if each.explanation}
        if not seen & named[slip.sort]:
            wrong.append((slip.sort, slip.cell, slip.value, seen))
    assert wrong == [], wrong


def test_every_sort_of_slip_can_be_made_somewhere():
    made = {slip.sort for lab in LABS.values() for slip in all_slips(lab, derive_key(lab))}
    assert made == {each.id for each in SLIPS}
    assert len({each.id for each in SLIPS}) == len(SLIPS)
    assert all(each.mistakes for each in SLIPS)


def test_no_two_slips_of_a_lab_make_the_same_network_and_none_is_right():
    lab = LABS["harbour"]
    key = derive_key(lab)
    slips = all_slips(lab, key)
    assert len({(slip.cell, slip.value) for slip in slips}) == len(slips)
    assert all(slip.is_missing_row or key.values[slip.cell] != slip.value for slip in slips)


def test_roles_name_no_place():
    """So that trainees get the same slip elsewhere."""
    for slip in all_slips(LABS["harbour"], derive_key(LABS["harbour"])):
        assert not any(character.isdigit() for character in slip.role)


@pytest.mark.parametrize("name", ["faults-harmless", "faults-two"])
def test_an_edit_as_it_is_kept_makes_the_same_network_and_stands_in_its_line(name: str):
    """Of every slip: what is printed in its line is the wrong value, and what should be there is the key's."""
    lab = kept_lab(name)
    key = derive_key(lab)
    for slip in all_slips(lab, key):
        found = with_slips(key, [slip])
        edit = edit_of(lab, key, found, slip)
        assert with_edits(key, [edit]) == found
        lines = {line.id: line for table in found_tables(lab, found) for line in table.lines}
        if edit.is_missing_row:
            assert lines[edit.line].row is None
        else:
            assert edit.value in lines[edit.line].texts
            assert edit.value != edit.right
