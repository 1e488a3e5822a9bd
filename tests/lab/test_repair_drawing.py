"""What is drawn as a fault-finding lab: one explanation, decoys without effect, equal difficulty, nothing that tells which."""

import os
import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import pytest
from repair_labs import drawn, faulty_exercise, kept_lab, mill

from trainer.errors import TrainerError
from trainer.lab.build import build
from trainer.lab.exercise import LEVELS as RULES
from trainer.lab.form import Answers, CellRef
from trainer.lab.key import derive_key
from trainer.lab.kinds import ROUTE_MASK
from trainer.lab.proof import prove
from trainer.lab.questions import routes
from trainer.lab.repair import drawing
from trainer.lab.repair.drawing import NoFaultFound, Workshop, draw_class, draw_lab
from trainer.lab.repair.found import found_tables, with_edits, with_slips
from trainer.lab.repair.observing import View, complaint_of, observe, to_observe
from trainer.lab.repair.sheet import RepairRules
from trainer.lab.repair.slips import Slip, all_slips
from trainer.lab.repair.trying import Bench, comes_out
from trainer.lab.rows import RouteRow
from trainer.lab.scenario import Scenario, Trainee
from trainer.lab.trials import TrialKind
from trainer.sheets.answer_book import write_answer_book

SEEDS = [(1 + seed % 4, seed) for seed in range(500 if os.environ.get("TRAINER_NIGHTLY") == "1" else 8)]


class Looked:
    """A lab, looked at anew."""

    def __init__(self, lab: Scenario) -> None:
        assert lab.repair is not None
        self.lab, self.repair = lab, lab.repair
        self.key = derive_key(lab)
        self.looks = to_observe(lab, counters=self.repair.has_counters)
        self.found = with_edits(self.key, (*self.repair.faults, *self.repair.decoys))

    def view(self, answers: Answers) -> View:
        return observe(self.lab, build(self.lab, answers).network, self.looks)

    @property
    def rows(self) -> set[tuple[str, str]]:
        return {(each.question.partition(".")[0], each.row) for each in self.repair.faults}


def assert_one_explanation(looked: Looked) -> None:
    """Of every slip, or pair of slips, only such as lie in the rows of the faults show the same."""
    seen, slips = looked.view(looked.found), all_slips(looked.lab, looked.key)
    singles = {slip: looked.view(with_slips(looked.key, [slip])) for slip in slips}
    alike: list[Sequence[Slip]] = [(slip,) for slip, view in singles.items() if view == seen]
    if len(looked.repair.faults) > 1:
        assert alike == [], "no single slip shows what two show"
        bad = {look for look in looked.looks if seen[look] != looked.view(looked.key)[look]}
        healthy = looked.view(looked.key)
        touched = {slip: {look for look in looked.looks if singles[slip][look] != healthy[look]} for slip in slips}
        near = [pair for pair in combinations(slips, 2) if touched[pair[0]] | touched[pair[1]] == bad]
        alike = [pair for pair in near if looked.view(with_slips(looked.key, pair)) == seen]
    rows = [{(slip.line[0], str(slip.line[1])) for slip in slips} for slips in alike]
    assert all(each == looked.rows for each in rows)
    assert alike


def assert_decoys_do_nothing(looked: Looked) -> None:
    """With them all trials go as without, and the network with the faults mended passes the proof's trials."""
    bench = Bench(looked.lab, looked.key)
    for without in (looked.repair.faults, ()):
        plain = bench.running(with_edits(looked.key, without))
        beside = bench.running(with_edits(looked.key, (*without, *looked.repair.decoys)))
        for trial in bench.trials.values():
            assert trial.run(plain).works == trial.run(beside).works, trial.subject
        assert plain.leases.keys() == beside.leases.keys()
        assert all(plain.leases[name].address == lease.address for name, lease in beside.leases.items())
    view = looked.view(with_edits(looked.key, looked.repair.decoys))
    assert view == looked.view(looked.key)


def assert_printed_is_seen(looked: Looked) -> None:
    """Symptoms and tests say what the network does."""
    view, healthy = looked.view(looked.found), looked.view(looked.key)
    complaint = complaint_of(view)
    assert complaint is not None
    assert complaint.source in looked.repair.symptoms[0].seen
    for symptom, look in zip(looked.repair.symptoms[1:], looked.looks, strict=True):
        assert (symptom.tried, symptom.seen) == (look.tried, view[look])
        if view[look] != healthy[look]:
            assert symptom.faults, symptom
    bench = Bench(looked.lab, looked.key)
    found, mended = bench.running(looked.found), bench.running(with_edits(looked.key, looked.repair.decoys))
    for test in looked.repair.tests:
        trial = bench.trials[TrialKind[test.kind], test.source, test.target]
        assert (test.found, test.mended) == (comes_out(trial, found), comes_out(trial, mended))
    assert 2 <= sum(test.separates for test in looked.repair.tests) <= 4
    assert len(looked.repair.tests) == 8
    assert looked.repair.vector[0] >= 8
    assert list(looked.repair.vector) == sorted(looked.repair.vector, reverse=True)


@pytest.mark.parametrize("name", ["faults-harmless", pytest.param("faults-two", marks=pytest.mark.many)])
def test_what_is_seen_leads_to_the_rows_of_the_faults_and_no_further(name: str):
    looked = Looked(kept_lab(name))
    assert_one_explanation(looked)
    assert_decoys_do_nothing(looked)
    assert_printed_is_seen(looked)
    assert prove(looked.lab, looked.key).trials


@pytest.mark.many
@pytest.mark.parametrize(("level", "seed"), SEEDS)
def test_every_drawn_sheet_has_one_explanation(level: int, seed: int):
    labs = drawn(level, seed, 2)
    repairs = [lab.repair for lab in labs]
    assert all(each is not None and each.vector == repairs[0].vector for each in repairs if repairs[0] is not None)
    looked = Looked(labs[0])
    assert len(looked.repair.faults) == RULES[level].faults
    assert len(looked.repair.decoys) == RULES[level].decoys
    assert_one_explanation(looked)
    assert_decoys_do_nothing(looked)
    assert_printed_is_seen(looked)


@pytest.mark.many
def test_labs_of_a_sitting_are_equally_hard_and_not_the_same():
    labs = drawn(1, 1, 2)
    one, other = (lab.repair for lab in labs)
    assert one is not None
    assert other is not None
    assert one.vector == other.vector
    assert [each.slip for each in one.faults] == [each.slip for each in other.faults]
    assert len(one.symptoms) == len(other.symptoms)
    assert one.faults != other.faults


@pytest.mark.parametrize("name", ["faults-harmless", "faults-two"])
def test_nothing_that_is_handed_out_tells_a_decoy_from_a_fault(name: str):
    """The workbook is the same byte for byte when faults and decoys change places."""
    lab = kept_lab(name)
    assert lab.repair is not None
    key = derive_key(lab)
    repair = lab.repair
    swapped = replace(repair, faults=repair.decoys, decoys=repair.faults) if len(repair.faults) == 2 else None
    same_count = swapped or replace(repair, faults=repair.decoys[:1], decoys=(*repair.decoys[1:], *repair.faults))
    for other in (same_count, replace(same_count, vector=(1,), way=(), explanations=9)):
        other_lab = replace(lab, repair=other)
        assert write_answer_book(other_lab, derive_key(other_lab)) == write_answer_book(lab, key)


def test_the_faults_stand_in_the_printed_lines():
    lab = kept_lab("faults-two")
    looked = Looked(lab)
    lines = {line.id: line for table in found_tables(lab, looked.found) for line in table.lines}
    for edit in (*looked.repair.faults, *looked.repair.decoys):
        assert edit.value in lines[edit.line].texts


# --- The worked example -----------------------------------------------------------------------------------------------

MILL_RULES = RepairRules(faults=1, decoys=1, has_counters=True)


def test_the_worked_example_comes_out():
    """A wrong next hop on A towards the looms: heard, answered, not dropped by snooping, so it is the way back; what is left
    lies in one row, and the line decides.
    """
    lab = mill()
    workshop = Workshop(lab, MILL_RULES)
    back = RouteRow(lab.switches[0].name, 40)
    fault = next(each for each in workshop.slips if each.sort == "routes-own-end" and each.cell.row == back)
    assert str(fault.value) == "192.168.25.129"
    case = workshop.case((fault,))
    assert case is not None
    seen = {look.tried: text for look, text in case.view.items()}
    assert case.complaint.tried == "Looms 1 asks for a lease"
    assert seen["Looms 2 asks for a lease"] == "no lease"
    assert seen["Offices 1 asks for a lease"] == "192.168.25.75 /27, router 192.168.25.65, 5 h"
    assert seen["Offices 2 asks for a lease"] == "192.168.25.76 /27, router 192.168.25.65, 5 h"
    assert seen["DHCP server pings Pumps; and Pumps pings DHCP server"] == "answered; answered"
    assert seen["stations that the DHCP server heard"] == "4"
    assert seen["stations that the DHCP server made an offer to"] == "4"
    assert {seen[f"ports of switch {name} on which DHCP server messages were dropped"] for name in "AB"} == {"none"}
    left = [slip for (slip,), view in case.views.items() if view == case.view]
    assert {slip.line for slip in left} == {("routes", back)}
    assert {slip.sort for slip in left} >= {
        "routes-missing",
        "routes-own-end",
        "routes-far-gateway",
        "routes-links-network",
    }
    assert case.vector[0] > case.vector[-1] == len(left)
    assert case.explanations == len(workshop.slips)


def test_the_decoy_of_the_worked_example_does_nothing():
    """B's route to the offices with /26, where /27 is meant."""
    lab = mill()
    workshop = Workshop(lab, MILL_RULES)
    back, offices = RouteRow(lab.switches[0].name, 40), RouteRow(lab.switches[1].name, 30)
    fault = next(each for each in workshop.slips if each.sort == "routes-own-end" and each.cell.row == back)
    decoy = next(
        each for each in workshop.slips if each.cell == CellRef(routes.ROUTE_MASK_OF.id, offices) and each.value == 26
    )
    assert workshop.bench.changes_nothing([fault], [decoy])
    assert not workshop.bench.changes_nothing([], [fault])
    assert ROUTE_MASK.show(decoy.value) == "/26"


# --- Refusals ---------------------------------------------------------------------------------------------------------


def test_error_where_no_lab_is_as_hard_as_the_classs(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(drawing, "_MOST_DRAWS", 1)
    exercise = faulty_exercise("faults-one")
    common = draw_class(exercise, random.Random(1))
    assert common.repair is not None
    other = replace(common, repair=replace(common.repair, vector=(1,)))
    with pytest.raises(NoFaultFound, match="1 labs were drawn for t1, and none was as hard as the class's"):
        draw_lab(exercise, other, Trainee(id="t1"), "AAA-AAAA", 0, random.Random(1))
    assert issubclass(NoFaultFound, TrainerError)
