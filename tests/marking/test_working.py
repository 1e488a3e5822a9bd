"""What of a paper's own network works: beside its marks, whatever these are."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from damaged_answers import randomly_damaged
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from filled_forms import filled
from on_request import many
from random_papers import EXERCISES, lab_of

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.answers import read_answers
from trainer.lab.build import build
from trainer.lab.faults.settings import must_work as faults_of_must_work
from trainer.lab.form import CellRef, SoFar
from trainer.lab.key import completed, derive_key
from trainer.lab.layout import extremes
from trainer.lab.questions import QUESTIONS, subnets
from trainer.lab.rows import RowKey
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Scenario
from trainer.lab.trials import Site, Trial, TrialKind, Visitor, plugged_in, trials_on, try_network, visitors
from trainer.lab.works import Count, MustWork, ToPass, Works
from trainer.marking import experiments
from trainer.marking.experiments import Laboratory
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.marking.overrides import Decision, Override, apply
from trainer.marking.plans import plans_of
from trainer.network.devices import Network, SwitchName
from trainer.network.dhcp import start
from trainer.network.packets import Delivered, Dropped
from trainer.network.topology import Lease, Running
from trainer.network.trials import without_guard, without_snooping
from trainer.study.quick_lab import quick_lab

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
FREE = draw(exercise_of(changed(order="free", gateway="free", link_ends="free")), 1)[0]
MUST = MustWork(leases=100, pings=80, attacks=90)
FULL = "leases 6 of 6, pings 100 of 100, attacks stopped 25 of 25"


def paper(lab: Scenario, **changes: str) -> Marked:
    """The key with other texts in some cells: question with __ for the dot, then _row_ and the row."""
    texts = key_texts(lab)
    for name, text in changes.items():
        question, _, row = name.partition("_row_")
        texts[CellRef(question.replace("__", "."), RowKey(row.replace("_", " ")))] = text
    return mark(lab, filled({cell: text for cell, text in texts.items() if text}))


def works(marked: Marked) -> Works:
    assert marked.works is not None
    return marked.works


def counts(marked: Marked) -> dict[str, int]:
    return {sort: count.shown for sort, count in works(marked).counts()}


TRUSTS_ALL = {f"protection__trusted_row_{switch}": "1-24" for switch in "AB"} | {
    f"protection__guarded_row_{switch}": "none" for switch in "AB"
}


def test_all_that_the_key_shows_works_in_a_right_paper():
    assert works(paper(LAB)).line == FULL


@pytest.mark.parametrize("seed", many(range(40), (0, 8, 9)))
def test_all_that_is_counted_works_in_a_right_paper_of_any_lab(seed: int):
    """In small networks the last needed address is one that the pool hands out, so nobody visits there."""
    found = works(paper(quick_lab(random.Random(seed))))
    assert all(count.shown == count.of for _, count in found.counts()), found.line


@pytest.mark.parametrize("exercise", sorted(EXERCISES))
@pytest.mark.parametrize("seed", many(range(5), (0,)))
def test_what_was_proved_of_the_key_is_what_is_found_when_it_is_tried(exercise: str, seed: int):
    lab = lab_of(exercise, seed)
    key = key_texts(lab)
    for texts in (key, *(damaged_texts(lab, seed, cells) for cells in (1, 2, 4, 30))):
        form = filled({cell: text for cell, text in texts.items() if text})
        assert mark(lab, form, is_key_proved=True) == mark(lab, form)


def test_a_network_that_is_the_keys_is_not_tried_again(monkeypatch: pytest.MonkeyPatch):
    form, tried = filled(key_texts(LAB)), []

    def counted(*network: Any, **how: Any) -> Any:
        tried.append(network)
        return try_network(*network, **how)

    monkeypatch.setattr(experiments, "try_network", counted)
    assert works(mark(LAB, form, is_key_proved=True)).line == FULL
    assert not tried
    assert works(mark(LAB, form)).line == FULL
    assert len(tried) == 1


def test_nothing_works_in_an_untouched_one():
    assert set(counts(mark(LAB, filled({}))).values()) == {0}


def test_who_trusts_every_port_and_guards_none_stops_no_attack_and_does_not_pass():
    found = paper(LAB, **TRUSTS_ALL)
    assert found.percent > 80
    assert works(found).line == FULL.replace("25 of 25", "0 of 25")
    assert ToPass(pass_mark=60, must_work=MUST).missing(found.works, found.marks, found.out_of) == (
        "60 reached, but 0 of 25 attacks are stopped; 23 are needed."
    )


def test_without_a_trusted_port_on_the_servers_switch_no_lease_is_granted():
    found = paper(LAB, protection__trusted_row_A="none")
    assert found.percent > 90
    assert counts(found)["leases"] == 0
    assert "0 of 6 leases are granted" in ToPass(pass_mark=60, must_work=MUST).missing(
        found.works, found.marks, found.out_of
    )


def test_an_attack_that_fails_for_another_reason_is_not_stopped():
    """Nothing at all gets out of the stations of B, so nothing shows what protects there; the seven attacks on A are stopped."""
    found = paper(LAB, **{f"ports__vlan_row_B/{port}": "" for port in range(1, 7)})
    assert counts(found)["attacks"] == 7


def test_a_lease_counts_only_if_it_can_be_renewed():
    """Requests go through the relay agent; a renewal goes by the routes."""
    found = paper(LAB, stations__gateway_row_DHCP_server="10.20.2.238")
    assert counts(found)["leases"] < 6


def test_the_instructors_decisions_do_not_touch_it():
    found = paper(LAB, **TRUSTS_ALL)
    decision = Override(
        trainee="", section="protection", row="", question="protection.trusted", decision=Decision.MARKS, value="full", reason="!"
    )  # fmt: skip
    decided = apply(found, LAB.trainee.id, [decision])
    assert decided.marks > found.marks
    assert decided.works == found.works


def test_sheets_that_are_not_asked_count_as_the_key():
    sections = tuple(
        replace(share, asked=Asked.YES if share.section == "subnets" else Asked.NO) for share in LAB.sections
    )
    lab = replace(LAB, sections=sections)
    texts = {cell: text for cell, text in key_texts(lab).items() if cell.question.startswith("subnets.")}
    assert works(mark(lab, filled(texts))).line == FULL


def test_what_a_lab_lacks_is_none():
    vlans = tuple(replace(vlan, is_snooped=False, is_guarded=False) for vlan in LAB.vlans)
    stations = tuple(
        replace(each, fixed_number=each.fixed_number or 2 + place) for place, each in enumerate(LAB.stations)
    )
    found = works(mark(replace(LAB, vlans=vlans, stations=stations), filled({})))
    assert (found.leases, found.attacks) == (None, None)
    assert found.pings is not None


@pytest.mark.parametrize("filling", FILLINGS[1:3], ids=lambda filling: filling.shows)
def test_another_way_that_is_right_works_as_the_key_does(filling):
    assert (
        works(mark(LAB, filled({cell: text for cell, text in filling.fill(LAB, key_texts(LAB)).items() if text}))).line
        == FULL
    )


def test_a_free_gateway_anywhere_takes_nothing_from_what_works():
    """Where a visitor would stand on the trainee's own gateway it stands on the key's."""
    texts = key_texts(FREE)
    for vlan in FREE.vlans:
        first = texts[CellRef("subnets.first", RowKey(str(vlan.number)))]
        network, _, last = first.rpartition(".")
        fixed = {each.fixed_number for each in FREE.stations if each.vlan == vlan.id}
        number = next(number for number in range(2, 11) if number not in fixed)
        gateway = f"{network}.{int(last) + number - 1}"
        for cell, text in list(texts.items()):
            if text == first and cell.question != "subnets.first":
                texts[cell] = gateway
    found = mark(FREE, filled(texts))
    assert found.percent == 100
    assert all(count.shown == count.of for _, count in works(found).counts())


def damaged(number: int) -> Marked:
    return mark(LAB, filled(damaged_texts(LAB, number)))


def damaged_texts(lab: Scenario, number: int, cells: int | None = None) -> dict[CellRef, str]:
    """cells: how many are damaged; None for 15 to 50."""
    rng = random.Random(number)
    answers = randomly_damaged(lab, derive_key(lab), rng, cells=rng.randint(15, 50) if cells is None else cells)
    return {cell: QUESTIONS[cell.question].kind.show(value) for cell, value in answers.values.items()}


PAPERS = 100
DAMAGED_LABS = (LAB, FREE, draw(exercise_of(changed(way_out="A", vlan_numbers="may repeat")), 1)[0])


@pytest.mark.parametrize("number", many(range(PAPERS), (0, 1, 2)))
def test_the_line_of_a_damaged_paper_is_a_fresh_count(number: int):
    lab = DAMAGED_LABS[number % len(DAMAGED_LABS)]
    plans = plans_of(lab, read_answers(filled(damaged_texts(lab, number))))
    laboratory = Laboratory(lab, plans.answers, plans.so_far)
    own = completed(lab, plans.answers, plans.so_far, lab.asked)
    assert laboratory.works == counted_anew(lab, build(lab, own).network, laboratory.guests)


def counted_anew(lab: Scenario, network: Network, guests: Sequence[Visitor]) -> Works:
    """Everything that the key's network shows, each trial on a network that was switched on for it alone."""
    key = SoFar(lab)
    sites = {
        vlan.id: Site(subnets.network_of(key, vlan.id), key.value(subnets.GATEWAY, subnets.row_of(vlan.id)))
        for vlan in lab.vlans
    }
    interfaces = {(each.name, interface.place) for each in network.switches for interface in each.interfaces}
    present = [each for each in guests if (each[0].at.switch, each[1].number) in interfaces]

    def switched_on() -> tuple[Running, Mapping[str, Lease | Dropped]]:
        return start(network.with_visitors(plugged_in(guests)))

    def alike(trial: Trial) -> tuple[object, ...]:
        """Visitors without their numbers, which a gateway of one's own choice moves; attacks by who makes them."""
        ends = (trial.source, "" if trial.is_attack and trial.port is None else trial.target)
        return trial.kind, *(each.partition(" (no.")[0] for each in ends)

    own = {alike(each): each for each in trials_on(lab, present)}

    def shows(wanted: Trial) -> bool:
        trial = own.get(alike(wanted))
        if trial is None:
            return False
        without = without_snooping if trial.kind in (TrialKind.ROGUE_SERVER, TrialKind.ROGUE_ON_LINK) else without_guard
        control = trial.run(without(switched_on()[0])).outcome if trial.is_attack else None
        return trial.run(switched_on()[0]).works and (control is None or isinstance(control, Delivered))

    def has_lease(name: str) -> bool:
        running, leases = switched_on()
        return isinstance(leases[name], Lease) and Trial(kind=TrialKind.RENEWAL, source=name).run(running).works

    trials = trials_on(lab, visitors(lab, sites))
    leases = [has_lease(each.name) for each in lab.stations if each.fixed_number is None]
    pings, attacks = ([shows(each) for each in trials if each.is_attack is attack] for attack in (False, True))
    return Works(leases=counted(leases), pings=counted(pings), attacks=counted(attacks))


def counted(shown: Sequence[bool]) -> Count | None:
    return Count(shown=sum(shown), of=len(shown)) if shown else None


@pytest.mark.parametrize("count", many((2, 10), (2,)))
def test_papers_that_would_pass_by_their_marks_fail_where_the_network_must_work(count: int):
    rule, found = ToPass(pass_mark=60, must_work=MUST), []
    for number in range(60):
        each = damaged(number)
        if Decimal(60) <= each.percent < 99 and MUST.short(works(each)):
            found.append(each)
            assert rule.missing(each.works, each.marks, each.out_of).startswith("60 reached, but ")
        if len(found) == count:
            return
    pytest.fail(f"only {len(found)} such papers")


@pytest.mark.parametrize("links", [{"A": "", "B": "A"}, {"A": "", "B": "A", "C": "B"}], ids=["two", "chain"])
def test_error_what_check_says_a_lab_lacks_is_what_no_trial_shows(links: dict[str, str]):
    """Exercises with every mixture of stations and protection; what `check` refuses is what a drawn lab has none of."""
    rng = random.Random(len(links))
    for _ in range(20):
        tables = shaped(links)
        networks = [
            ("0", "0") if not place else (rng.choice("002"), rng.choice("001"))
            for place, _ in enumerate(tables["networks"])
        ]
        exercise = exercise_of(changed(tables=shaped(links)))
        rows = tuple(
            replace(
                row,
                dhcp_stations=int(dhcp),
                fixed_stations=int(fixed),
                is_snooped=rng.random() < 0.3,
                is_guarded=rng.random() < 0.2,
            )
            for row, (dhcp, fixed) in zip(exercise.networks, networks, strict=True)
        )
        way_out = rng.choice((None, None, SwitchName("A"), SwitchName("B")))
        exercise = replace(exercise, networks=rows, must_work=MUST, way_out=way_out)
        refused = {
            sort
            for each in extremes(exercise)
            for fault in faults_of_must_work(each)
            for sort in ("leases", "pings", "attacks")
            if sort in fault.fix
        }
        lab = draw(exercise, 1)[0]
        plans = plans_of(lab, read_answers(filled({})))
        found = Laboratory(lab, plans.answers, plans.so_far).works
        assert refused == {"leases", "pings", "attacks"} - {sort for sort, _ in found.counts()}
