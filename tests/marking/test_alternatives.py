"""Right answers that differ from the key lose nothing: some forty families in every ready-made exercise that asks for routes."""

import pytest
from alternatives import DEFAULTS, NOTATION, Family, of_switch, with_routes, written
from filled_forms import filled
from on_request import many
from planted_labs import labs
from random_papers import EXERCISES, lab_of

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark

ROUTED = [each for each in sorted(EXERCISES) if "routes" in lab_of(each, 0).asked]
FEWEST = 40


def asked_texts(lab: Scenario) -> dict[CellRef, str]:
    return {cell: text for cell, text in key_texts(lab).items() if cell.question.partition(".")[0] in lab.asked}


def families(lab: Scenario) -> list[Family]:
    """Those that write something else than the key in that lab."""
    switches = sum(each.asks_routes for each in lab.switches)
    every = [*NOTATION, *(family for place in range(min(switches, 2)) for family in of_switch(lab, place))]
    key = asked_texts(lab)
    return [each for each in every if each.write(lab, dict(key)) != key]


@pytest.mark.parametrize("exercise", many(ROUTED, ("links-and-routes",)))
def test_no_right_alternative_loses_marks(exercise: str) -> None:
    lab = lab_of(exercise, 1)
    found = families(lab)
    assert len(found) >= FEWEST
    for family in found:
        marked = mark(lab, filled(family.write(lab, asked_texts(lab))))
        lost = [(each.question, each.row, each.given) for each in marked.cells if each.marks != each.out_of]
        assert (marked.marks, lost) == (marked.out_of, []), family.name


@pytest.mark.parametrize("wide", ["a default", "two halves of everything", "the private ranges"])
def test_what_is_legal_beside_a_wrong_next_hop_costs_nothing(wide: str) -> None:
    """On a switch with two neighbours, one of which cannot take what is sent to the other: the error is in the next hop (R2)."""
    lab = labs(2)[1]
    key = asked_texts(lab)
    rows = written(key)
    first, second = dict.fromkeys(row[3] for row in rows if row[0] == "B")
    place = next(place for place, row in enumerate(rows) if (row[0], row[3]) == ("B", first))
    unusable = str(lab.block.broadcast_address)
    wrong = [(*row[:3], unusable) if each == place else row for each, row in enumerate(rows)]
    beside = [("B", start, mask, second) for start, mask in DEFAULTS[wide]]
    alone = mark(lab, filled(with_routes(dict(key), wrong))).marks
    assert alone == mark(lab, filled(with_routes(dict(key), [*wrong, *beside]))).marks < 100
