"""What is drawn as a fault-finding lab: one explanation, decoys without effect, equal difficulty, nothing that tells which."""

import os
import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest
from repair_labs import LEVELS, drawn, faulty_exercise, kept_lab, mill

from trainer.errors import TrainerError
from trainer.lab.brief import brief
from trainer.lab.build import build
from trainer.lab.draw import draw_class, draw_lab
from trainer.lab.form import Answers, CellRef, section_of
from trainer.lab.key import derive_key
from trainer.lab.kinds import ROUTE_MASK
from trainer.lab.proof import prove
from trainer.lab.questions import repair_shares, routes
from trainer.lab.questions.faults import FAULTS
from trainer.lab.repair import drawing
from trainer.lab.repair.cases import Workshop
from trainer.lab.repair.drawing import NoFaultFound, Repairer, in_users_words
from trainer.lab.repair.found import first_line_of, found_tables, lines_of, with_edits, with_slips
from trainer.lab.repair.observing import Seen, View, complaint_of, observe, to_observe
from trainer.lab.repair.sheet import Edit, FaultKind, RepairDraw, RepairRules, SymptomSort
from trainer.lab.repair.slips import Slip, all_slips, is_right_too
from trainer.lab.repair.trying import Bench, comes_out
from trainer.lab.rows import RouteRow
from trainer.lab.scenario import RouteRule, Scenario, Trainee
from trainer.lab.trials import TrialKind
from trainer.marking.marker import mark
from trainer.marking.repair.diagnosis import as_plan, filled_plan
from trainer.pages.handout import handout_document
from trainer.pages.html import as_html
from trainer.sheets.answer_book import write_answer_book

VARIANTS: dict[str, tuple[int, dict[str, Any]]] = {
    "level 1": (1, {}),
    "level 2": (2, {}),
    "level 3": (3, {}),
    "level 4": (4, {}),
    "level 5": (4, {"level": 5}),
    "three faults": (1, {"level": None, "faults": 3, "decoys": 1, "counters": True}),
    "three faults, three decoys, no counters": (4, {"level": None, "faults": 3, "decoys": 3, "counters": False}),
    "two faults, no decoys, no counters": (1, {"level": None, "faults": 2, "decoys": 0, "counters": False}),
}
"""Of which ready-made exercise, and which of its settings are others."""
SHEETS = 4
"""So many labs of each class are looked at."""
CLASSES = range(16 if os.environ.get("TRAINER_NIGHTLY") else 1)
"""Of every variant: 32 sheets, and 512 at night."""


class Looked:
    """A lab, looked at anew."""

    def __init__(self, lab: Scenario) -> None:
        assert lab.repair is not None
        self.lab, self.repair = lab, lab.repair
        self.key = derive_key(lab)
        self.looks = to_observe(lab, tables=self.repair.has_tables, counters=self.repair.has_counters)
        self.found = with_edits(self.key, (*self.repair.faults, *self.repair.decoys))

    def view(self, answers: Answers) -> View:
        return observe(self.lab, build(self.lab, answers).network, self.looks)

    @property
    def rows(self) -> set[tuple[str, str]]:
        return self.rows_of(self.repair.faults[: self.repair.of_one_explanation])

    def rows_of(self, edits: Sequence[Edit]) -> set[tuple[str, str]]:
        return {(section_of(each.question), each.row) for each in edits}


def assert_one_explanation(looked: Looked) -> None:
    """Of every slip, or pair of slips, only such as lie in the rows of the faults show the same."""
    seen, slips = looked.view(looked.found), all_slips(looked.lab, looked.key)
    singles = {slip: looked.view(with_slips(looked.key, [slip])) for slip in slips}
    alike: list[Sequence[Slip]] = [(slip,) for slip, view in singles.items() if view == seen]
    healthy = looked.view(looked.key)
    bad = {look for look in looked.looks if seen[look] != healthy[look]}
    touched = {slip: {look for look in looked.looks if singles[slip][look] != healthy[look]} for slip in slips}
    within = [slip for slip in slips if touched[slip] and touched[slip] <= bad]
    for size in range(2, looked.repair.of_one_explanation + 1):
        assert alike == [], "no smaller set of slips shows the same"
        near = [each for each in combinations(within, size) if set().union(*(touched[slip] for slip in each)) == bad]
        alike = [each for each in near if looked.view(with_slips(looked.key, each)) == seen]
    rows = [{(slip.line[0], str(slip.line[1])) for slip in slips} for slips in alike]
    assert all(each == looked.rows for each in rows)
    assert alike


def assert_decoys_do_nothing(looked: Looked) -> None:
    """With them all trials go as without, whichever faults are mended, and with all of them mended the proof's trials pass."""
    bench = Bench(looked.lab, looked.key)
    faults = looked.repair.faults
    for without in (each for size in range(len(faults) + 1) for each in combinations(faults, size)):
        plain = bench.running(with_edits(looked.key, without))
        beside = bench.running(with_edits(looked.key, (*without, *looked.repair.decoys)))
        for trial in bench.trials.values():
            assert trial.run(plain).works == trial.run(beside).works, trial.subject
        assert plain.leases.keys() == beside.leases.keys()
        assert all(plain.leases[name].address == lease.address for name, lease in beside.leases.items())
    view = looked.view(with_edits(looked.key, looked.repair.decoys))
    assert view == looked.view(looked.key)


def assert_decoys_are_wrong(looked: Looked) -> None:
    """Each of them costs something where the whole plan is asked: what a rule calls right is nothing to name."""
    plan = as_plan(looked.lab)
    for decoy in looked.repair.decoys:
        marked = mark(plan, filled_plan(plan, with_edits(looked.key, [decoy])))
        assert any(cell.marks < cell.out_of for cell in marked.cells), decoy


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
    lines = lines_of(looked.lab, looked.found)
    for edit in (*looked.repair.faults, *looked.repair.decoys):
        assert edit.value in lines[edit.line].texts
    bench = Bench(looked.lab, looked.key)
    found, mended = bench.running(looked.found), bench.running(with_edits(looked.key, looked.repair.decoys))
    for test in looked.repair.tests:
        trial = bench.trials[TrialKind[test.kind], test.source, test.target]
        assert (test.found, test.mended) == (comes_out(trial, found), comes_out(trial, mended))
        for number, fault in enumerate(looked.repair.faults, 1):
            left = bench.running(with_edits(looked.key, [fault]))
            is_shown = comes_out(trial, left) is not test.mended
            assert test.proves(number) == (test.separates and (is_shown or test.shows is None))
    for number, _ in enumerate(looked.repair.faults, 1):
        assert any(test.proves(number) for test in looked.repair.tests), "every fault has a test that shows it"
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
@pytest.mark.parametrize("seed", CLASSES)
@pytest.mark.parametrize("variant", VARIANTS)
def test_every_drawn_sheet_has_one_explanation(variant: str, seed: int):
    """And the labs of a class are equally hard, and not the same."""
    level, settings = VARIANTS[variant]
    labs = drawn(level, seed, SHEETS, **settings)
    first = labs[0].repair
    assert first is not None
    for lab in labs:
        looked = Looked(lab)
        rules = faulty_rules(level, settings)
        assert (len(looked.repair.faults), len(looked.repair.decoys)) == (rules.faults, rules.decoys)
        assert looked.repair.has_counters is rules.has_counters
        assert looked.repair.vector == first.vector
        assert [each.slip for each in looked.repair.faults] == [each.slip for each in first.faults]
        assert len(looked.repair.symptoms) == len(first.symptoms)
        assert_one_explanation(looked)
        assert_decoys_do_nothing(looked)
        assert_decoys_are_wrong(looked)
        assert_printed_is_seen(looked)
        if looked.repair.hides_second:
            assert_the_second_shows_later(looked)
    assert labs[1].repair is not None
    assert first.faults != labs[1].repair.faults


def faulty_rules(level: int, settings: dict[str, Any]) -> RepairRules:
    rules = replace(faulty_exercise(LEVELS[level - 1]), **settings).repair_rules
    assert rules is not None
    return rules


def assert_the_second_shows_later(looked: Looked) -> None:
    """Beside the first nothing is seen of it; with the first mended, what is seen leads to it and no further."""
    first, second = looked.repair.faults
    found, later = looked.view(with_edits(looked.key, [first])), looked.view(with_edits(looked.key, [second]))
    assert looked.view(looked.found) == found != later
    assert complaint_of(later) is not None
    alike = [slip for slip in all_slips(looked.lab, looked.key) if looked.view(with_slips(looked.key, [slip])) == later]
    assert {(slip.line[0], str(slip.line[1])) for slip in alike} == looked.rows_of([second])


# --- No fault ---------------------------------------------------------------------------------------------------------


def test_a_lab_without_a_fault_shows_what_the_plan_shows_and_does_not_say_so():
    lab = kept_lab("no-fault")
    looked = Looked(lab)
    assert looked.view(looked.found) == looked.view(looked.key)
    assert_decoys_do_nothing(looked)
    assert {each.faults for each in looked.repair.symptoms} == {()}
    assert not any(test.separates for test in looked.repair.tests)
    other = kept_lab("faults-harmless")
    assert other.repair is not None
    assert looked.repair.printed_faults == other.repair.printed_faults
    assert "One setting is wrong, or none" in brief(lab)[0].lines[0][1]
    with_fault = replace(
        lab, repair=replace(looked.repair, faults=looked.repair.decoys[:1], decoys=looked.repair.decoys[1:])
    )
    assert (
        brief(with_fault)[0] == brief(replace(lab, repair=replace(looked.repair, decoys=looked.repair.decoys[1:])))[0]
    )


@pytest.mark.many
def test_labs_without_a_fault_are_drawn_where_the_exercise_allows_it(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(drawing, "NONE_IN", 1)
    repairs = [lab.repair for lab in drawn(2, 1, 2, no_fault=True)]
    assert [each.faults if each else None for each in repairs] == [(), ()]
    assert all(each and len(each.decoys) == 2 and len(each.tests) == 8 for each in repairs)
    assert all(lab.repair and lab.repair.faults for lab in drawn(2, 1, 1))


@pytest.mark.parametrize("name", ["faults-harmless", "faults-two", "same-address"])
def test_nothing_that_is_handed_out_tells_a_decoy_from_a_fault(name: str):
    """Workbook and handout are the same byte for byte when faults and decoys change places."""
    lab = kept_lab(name)
    assert lab.repair is not None
    key = derive_key(lab)
    repair = lab.repair
    swapped = replace(repair, faults=repair.decoys, decoys=repair.faults) if len(repair.faults) == 2 else None
    same_count = swapped or replace(repair, faults=repair.decoys[:1], decoys=(*repair.decoys[1:], *repair.faults))
    for other in (same_count, replace(same_count, vector=(1,), way=(), explanations=9)):
        other_lab = replace(lab, repair=other)
        assert write_answer_book(other_lab, derive_key(other_lab)) == write_answer_book(lab, key)
        handouts = [as_html([handout_document(each, "", derive_key(each))]) for each in (lab, other_lab)]
        assert handouts[0] == handouts[1]


def test_the_faults_stand_in_the_printed_lines():
    lab = kept_lab("faults-two")
    looked = Looked(lab)
    lines = {line.id: line for table in found_tables(lab, looked.found) for line in table.lines}
    for edit in (*looked.repair.faults, *looked.repair.decoys):
        assert edit.value in lines[edit.line].texts


# --- The worked example -----------------------------------------------------------------------------------------------

MILL_RULES = RepairRules(faults=1, decoys=1, has_counters=True, has_tables=True)


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


def test_the_answers_of_the_worked_example_come_out():
    """The faults of a class draw, found in the mill: what its key says, and what a technician concludes."""
    lab, workshop = mill(), Workshop(mill(), MILL_RULES)
    back, offices = RouteRow(lab.switches[0].name, 40), RouteRow(lab.switches[1].name, 30)
    fault = next(each for each in workshop.slips if each.sort == "routes-own-end" and each.cell.row == back)
    decoy = next(each for each in workshop.slips if each.sort == "routes-mask-short" and each.cell.row == offices)
    case = workshop.case((fault,))
    assert case is not None
    draw = RepairDraw(rules=MILL_RULES, faults=(fault.kind,), decoys=(decoy.kind,), separating=4, vector=case.hardness)
    repair = Repairer(workshop).repair(draw, random.Random(1))
    assert repair is not None
    solved = replace(lab, repair=repair, sections=repair_shares())
    key = derive_key(solved)
    lines = lines_of(solved, with_edits(key, (*repair.faults, *repair.decoys)))
    told = {
        row.line: tuple(key.values[CellRef(question.id, row)] for question in FAULTS.questions[1:4])
        for row in key.rows["faults"]
    }
    assert list(told.values()) == [
        ("Next hop", "192.168.25.130", FaultKind.CAUSE),
        ("Mask or prefix length", "/27", FaultKind.HARMLESS),
    ]
    printed = [lines[name].texts[1:] for name in told]
    assert printed == [("192.168.25.0", "/26", "192.168.25.129"), ("192.168.25.64", "/26", "192.168.25.129")]
    assert [name[0] for name in told] == ["A", "B"]
    explained = {each.tried: each.faults for each in repair.symptoms}
    assert repair.symptoms[0].seen == '"Looms 1 gets no address."'
    assert explained["Looms 2 asks for a lease"] == (1,)
    assert explained["Offices 1 asks for a lease"] == explained["stations that the DHCP server heard"] == ()
    telling = [each for each in repair.tests if each.separates]
    assert {(each.found.word, each.mended.word) for each in telling} == {("no answer", "answered")}
    assert all(each.proves(1) for each in telling)


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


def test_a_wider_route_is_no_decoy_where_summary_routes_are_right():
    one_a_network, workshop = mill(), Workshop(mill(), MILL_RULES)
    summaries = replace(one_a_network, rules=replace(one_a_network.rules, route_rule=RouteRule.ANY_THAT_WORK))
    wider = [slip for slip in workshop.slips if slip.sort == "routes-mask-short"]
    assert wider
    assert all(is_right_too(summaries, slip) and not is_right_too(one_a_network, slip) for slip in wider)
    assert not any(is_right_too(summaries, slip) for slip in workshop.slips if slip not in wider)


def test_a_pool_that_begins_with_a_stations_address_is_no_decoy():
    """Whoever is offered it declines and asks again, which a kernel test showed: leases come in another order then."""
    lab = replace(mill(), rules=replace(mill().rules, kept_for_fixed=2))
    workshop = Workshop(lab, MILL_RULES)
    stations = tuple(replace(each, vlan=lab.vlans[2].id) if each.name == "Pumps" else each for each in lab.stations)
    beside = Workshop(replace(lab, stations=stations), MILL_RULES)
    for shop, is_harmless in ((workshop, True), (beside, False)):
        low = next(each for each in shop.slips if each.sort == "pools-first-low" and str(each.cell.row) == "40")
        assert shop.bench.changes_nothing([], [low]) is is_harmless


# --- What is seen -----------------------------------------------------------------------------------------------------


def test_source_guard_counts_the_question_of_a_station_that_nobody_answers():
    """A fixed station in another VLAN asks for its gateway; the check of ARP (RFC 7513 8.2) drops that, as kernels do."""
    workshop = Workshop(mill(), MILL_RULES)
    pumps = next(each for each in workshop.slips if each.sort == "ports-other-vlan" and str(each.cell.row) == "B/7")
    seen = {look.tried: text for look, text in workshop.view((pumps,)).items()}
    assert seen["ports of switch B on which source guard dropped packets"] == "7"
    assert seen["DHCP server pings Pumps; and Pumps pings DHCP server"].endswith("; nothing")


def test_a_switch_that_snoops_too_little_learns_no_rows():
    workshop = Workshop(mill(), MILL_RULES)
    learnt = [look for look in workshop.looks if look.sort is SymptomSort.TABLE]
    assert [workshop.healthy[look] for look in learnt] == ["1, 2", "3, 4"]
    off = next(each for each in workshop.slips if each.sort == "protection-snooping-off" and str(each.cell.row) == "B")
    assert [workshop.view((off,))[look] for look in learnt] == ["1, 2", "none"]


# --- What somebody says -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sort", "seen", "said"),
    [
        (SymptomSort.LEASE, "no lease", '"Server gets no address."'),
        (SymptomSort.PING, "answered; nothing", '"Looms 1 gets no answer from Server."'),
        (SymptomSort.PING, "nothing; nothing", '"Looms 1 gets no answer from Server."'),
        (SymptomSort.PING, "nothing; answered", '"Server gets no answer from Looms 1."'),
        (
            SymptomSort.ATTACK,
            "a forged address from Looms 1",
            '"On switch Server something gets through that has to be stopped."',
        ),
    ],
)
def test_a_user_tells_of_what_he_sees(sort: SymptomSort, seen: str, said: str):
    assert in_users_words(Seen(sort=sort, source="Server", target="Looms 1"), seen) == said


# --- Lines ------------------------------------------------------------------------------------------------------------


def test_lines_are_numbered_from_another_number_in_every_lab():
    """So that of two labs of a class the fault's line hardly ever has one name."""
    starts = [first_line_of(f"AAA-{number:04}") for number in range(600)]
    alike = sum(one == other for one, other in combinations(starts, 2))
    assert {min(starts), max(starts)} == {1, 60}
    assert alike / (600 * 599 / 2) < 0.02
    lab = kept_lab("faults-two")
    assert lab.repair is not None
    shifted = replace(lab, repair=replace(lab.repair, first_line=41))
    found = with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys))
    assert [int(name[1:]) - 40 for name in lines_of(shifted, found)] == [int(name[1:]) for name in lines_of(lab, found)]


# --- How often ---------------------------------------------------------------------------------------------------------


def test_a_class_gets_faults_that_many_labs_have(monkeypatch: pytest.MonkeyPatch):
    """Of faults that hardly another lab has as hard a class of thirty would never see its end."""
    exercise = faulty_exercise("faults-one")
    rules = exercise.repair_rules
    assert rules is not None
    draws = [RepairDraw(rules=rules, faults=(), decoys=(), separating=often, vector=()) for often in (0, 0, 1, 0)]
    monkeypatch.setattr(drawing, "_that_can_be_wanted", lambda *_: iter(draws))
    monkeypatch.setattr(drawing, "_had_again", lambda _exercise, _common, wanted, _rng: wanted.separating)
    drawn_for = draw_class(exercise, random.Random(1))
    assert drawn_for.repair is draws[2], "none is had often, so the one that is had most often"
    monkeypatch.setattr(
        drawing, "_that_can_be_wanted", lambda *_: iter([*draws[:2], replace(draws[0], separating=2), *draws])
    )
    often = draw_class(exercise, random.Random(1)).repair
    assert often is not None
    assert often.separating == 2
    monkeypatch.setattr(drawing, "_that_can_be_wanted", lambda *_: iter(draws[:1]))
    with pytest.raises(NoFaultFound, match="No lab of this exercise can be drawn"):
        draw_class(exercise, random.Random(1))


# --- Refusals ---------------------------------------------------------------------------------------------------------


def test_error_where_no_lab_is_as_hard_as_the_classs(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(drawing, "_MOST_DRAWS", 1)
    monkeypatch.setattr(drawing, "_had_again", lambda *_: drawing._OFTEN)
    exercise = faulty_exercise("faults-one")
    common = draw_class(exercise, random.Random(1))
    assert common.repair is not None
    other = replace(common, repair=replace(common.repair, vector=(1,)))
    with pytest.raises(NoFaultFound, match="1 labs were drawn for t1, and none was as hard as the class's"):
        draw_lab(exercise, other, Trainee(id="t1"), "AAA-AAAA", 0, random.Random(1))
    assert issubclass(NoFaultFound, TrainerError)
