"""Errors planted in right workbooks: each is charged where it stands and nowhere else, and answers that are right in
another way lose nothing.

TRAINER_NIGHTLY=1 looks at every cell of 20 labs and at 200 keys and rewritings; else at fewer.
"""

import os
import random
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pytest
from filled_forms import LAB, filled
from on_request import many
from planted_labs import labs, wrong_text

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.form import CellRef, RowKey, SoFar
from trainer.lab.questions import FORM, QUESTIONS
from trainer.lab.rows import LinkRow, VlanRow, WrittenRow
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict

IS_NIGHTLY = bool(os.environ.get("TRAINER_NIGHTLY"))
LABS = 20 if IS_NIGHTLY else 4
CATCH_ALL = {"unclassified", "typing-slip", "typing-slip-unreadable", "blank", "not-readable"}
"""Explanations that would fit any cell."""


def marked_with(lab: Scenario, changes: Mapping[CellRef, str]) -> Marked:
    return mark(lab, filled({**key_texts(lab), **changes}))


@pytest.mark.parametrize("number", range(200 if IS_NIGHTLY else 12))
def test_keys_and_rewritings_of_them_earn_everything(number: int):
    """Other notation, other order, one default route instead of several where that delivers."""
    lab = labs(200 if IS_NIGHTLY else 12)[number]
    key = key_texts(lab)
    ways = FILLINGS[:3] if len(lab.switches) == 2 else FILLINGS[:2]
    for way in ways:
        marked = mark(lab, filled(way.fill(lab, dict(key))))
        assert marked.marks == marked.out_of == Decimal(100), way.shows


@pytest.mark.parametrize("number", many(range(LABS), (0,)))
def test_a_single_error_costs_its_own_cell_and_no_other(number: int):
    """Unless the planted value does the job all the same, which the remark says then."""
    lab = labs(LABS)[number]
    rng = random.Random(number)
    planted = explained = 0
    cells = sorted(key_texts(lab).items(), key=lambda each: (each[0].question, each[0].row))
    for cell, right in cells if IS_NIGHTLY else rng.sample(cells, 60):
        marked = marked_with(lab, {cell: wrong_text(lab, cell, right, rng)})
        lost = [each for each in marked.cells if not each.verdict.is_full]
        if not lost:
            assert any(each.remark for each in marked.cells), cell
            continue
        own = [each for each in lost if (each.question, each.row) == (cell.question, cell.row)]
        if own and len(lost) == 1:
            planted += 1
            explained += _mistake(own[0]) not in CATCH_ALL
            continue
        assert _is_one_row_that_fits_no_other(cell, lost) or _is_refused(own, lost), (cell, lost)
    assert explained >= 0.97 * planted > 30


def _mistake(cell: CellMark) -> str:
    assert cell.explanation is not None
    return cell.explanation.mistake


def _is_one_row_that_fits_no_other(cell: CellRef, lost: list[CellMark]) -> bool:
    """A value that makes an open row somebody else's: it is told as one extra and one missing row, and costs one row."""
    section = cell.question.split(".")[0]
    of_section = all(each.section == section for each in lost)
    return of_section and {each.verdict for each in lost} <= {Verdict.EXTRA, Verdict.MISSING, Verdict.WRONG}


def _is_refused(own: list[CellMark], lost: list[CellMark]) -> bool:
    """What follows from the planted value is easier (R5)."""
    return bool(own) and all(each in own or _mistake(each) == "easier-by-own-error" for each in lost)


@pytest.mark.parametrize("count", [2, 4, 6])
def test_several_errors_at_once_are_charged_once_each(count: int):
    """In cells of different sheets, none of which another one rests on: lists, ports, links' ends, leases."""
    lab = labs(4)[0]
    rng = random.Random(count)
    key = key_texts(lab)
    independent: list[CellRef] = [
        CellRef("ports.vlan", RowKey(str(lab.stations[1].at))),
        CellRef("protection.trusted", RowKey("A")),
        CellRef("protection.guarded", RowKey("B")),
        CellRef("pools.lease", VlanRow(lab.dhcp_vlans[0].id)),
        CellRef("bindings.type", WrittenRow("Binding", 1)),
        CellRef("subnets.broadcast", VlanRow(lab.vlans[0].id)),
    ]
    some = independent[:count]
    marked = marked_with(lab, {cell: wrong_text(lab, cell, key[cell], rng) for cell in some})
    lost = {(each.question, each.row) for each in marked.cells if not each.verdict.is_full}
    assert lost == {(cell.question, cell.row) for cell in some}


def test_what_follows_from_a_root_error_is_named_with_it():
    """F6. The prefix length of VLAN 40 one bit long, and a wrong MAC from which nothing follows."""
    key = SoFar(LAB)
    cell = CellRef("subnets.prefix", VlanRow(40))
    by_own_plan = SoFar(LAB, {cell: 27})
    changes = {cell: "27", CellRef("bindings.mac", WrittenRow("Binding", 1)): "02-00-00-00-00-FF"}
    followed = []
    for section in FORM:
        for number, row in enumerate(section.rows(LAB), 1):
            name = row.key if section.open is None else section.open.named(number)
            for question in section.questions_in(LAB):
                value = by_own_plan.value(question, row.key)
                if value != key.value(question, row.key) and question.id != cell.question:
                    changes[CellRef(question.id, name)] = question.kind.show(value)
                    followed.append(f"{section.title} {name}: {question.heading}")
    wrong = [each for each in marked_with(LAB, changes).cells if not each.verdict.is_full]
    told = {each.question: each.explanation.followed for each in wrong if each.explanation is not None}
    assert told == {"subnets.prefix": tuple(followed), "bindings.mac": ()}
    assert len(followed) > 10


def test_a_cell_that_is_right_but_for_a_wrong_one_it_rests_on_is_right():
    """R2, B8: VLAN 30 one bit long, all else by that plan, then one pool starts too late; the bindings fit the plan."""
    key, cell = SoFar(LAB), CellRef("subnets.prefix", VlanRow(30))
    by_own_plan = SoFar(LAB, {cell: 24})
    changes = {cell: "24"}
    for section in FORM:
        for number, row in enumerate(section.rows(LAB), 1):
            name = row.key if section.open is None else section.open.named(number)
            for question in section.questions_in(LAB):
                value = by_own_plan.value(question, row.key)
                if value != key.value(question, row.key) and question.id != cell.question:
                    changes[CellRef(question.id, name)] = question.kind.show(value)
    first = CellRef("pools.first", VlanRow(20))
    changes[first] = str(by_own_plan.value(QUESTIONS["pools.first"], first.row) + 7)
    marked = marked_with(LAB, changes)
    wrong = {(each.question, each.row) for each in marked.cells if each.verdict is Verdict.WRONG}
    assert wrong == {("subnets.prefix", "30"), ("pools.first", "20")}
    bindings = cells_of(marked, "bindings.address")
    assert all(each.verdict.is_full for each in bindings)
    remarks = {each.remark for each in bindings}
    assert "Right: it fits your own plan, although a cell that it depends on is not right." in remarks


# --- An adversarial trainee -------------------------------------------------------------------------------------------


def section_marks(marked: Marked, section: str) -> tuple[Decimal, Decimal]:
    found = next(each for each in marked.sections if each.section == section)
    return found.marks, found.out_of


def cells_of(marked: Marked, question: str) -> list[CellMark]:
    return [cell for cell in marked.cells if cell.question == question]


@pytest.mark.parametrize("question", ["protection.trusted", "protection.guarded"])
def test_whoever_lists_every_port_gains_nothing_and_is_told_why(question: str):
    """R9: a wrong member cancels a right one, never below zero."""
    lab = labs(4)[0]
    every = {CellRef(question, RowKey(each.name)): "1-24" for each in lab.switches}
    for cell in cells_of(marked_with(lab, every), question):
        assert cell.marks == 0, cell
        assert cell.explanation is not None
        assert "very" in cell.explanation.explanation, "it says that every port is listed"


def test_whoever_writes_every_route_and_a_default_gains_nothing():
    lab = labs(4)[0]
    key = key_texts(lab)
    hops = [
        key[CellRef(question, LinkRow(link.name))] for link in lab.links for question in ("links.first", "links.second")
    ]
    texts: dict[CellRef, str] = {cell: text for cell, text in key.items() if not cell.question.startswith("routes.")}
    destinations = [("0.0.0.0", "/0")] + [
        (
            key[CellRef("subnets.network", VlanRow(vlan.id))],
            key[CellRef("subnets.mask", VlanRow(vlan.id))],
        )
        for vlan in lab.vlans
    ]
    rows = [
        (switch.name, destination, mask, hop)
        for switch in lab.switches
        for destination, mask in destinations
        for hop in hops
    ]
    for number, row in enumerate(rows, 1):
        for question, text in zip(("switch", "destination", "mask", "next_hop"), row, strict=True):
            texts[CellRef(f"routes.{question}", WrittenRow("Route", number))] = text
    marked = mark(lab, filled(texts))
    assert section_marks(marked, "routes")[0] == 0
    assert all(cell.explanation is not None for cell in marked.cells if cell.verdict is Verdict.EXTRA)


@pytest.mark.parametrize("section", [section.id for section in FORM])
def test_whoever_writes_two_answers_in_a_cell_gains_nothing_but_by_lists(section: str):
    """R10. Lists take several values; there a wrong one cancels a right one (R9)."""
    lab = labs(4)[0]
    key = key_texts(lab)
    doubled: dict[CellRef, str] = {}
    for cell, text in key.items():
        others = sorted({other for each, other in key.items() if each.question == cell.question} - {text})
        if cell.question.startswith(f"{section}.") and others:
            doubled[cell] = f"{text} or {others[0]}"
    marked = marked_with(lab, doubled)
    for cell in marked.cells:
        if CellRef(cell.question, cell.row) in doubled:
            assert cell.marks <= 0, cell
            assert cell.explanation is not None


def test_whoever_copies_what_is_given_everywhere_gains_nothing():
    """The block, a station's MAC, a port and a VLAN number in every cell of their kind."""
    lab = labs(4)[0]
    station = lab.stations[1]
    given: dict[str, Any] = {
        "an address": lab.block.network_address,
        "a dotted mask": lab.block.netmask,
        "a mask": lab.block.netmask,
        "a mask or prefix length": f"/{lab.block.prefixlen}",
        "a prefix length": lab.block.prefixlen,
        "a MAC address": station.mac,
        "a port": station.at,
        "a VLAN number": station.vlan,
    }
    texts = {
        cell: str(given[QUESTIONS[cell.question].kind.name])
        for cell in key_texts(lab)
        if QUESTIONS[cell.question].kind.name in given
    }
    marked = mark(lab, filled(texts))
    assert all(cell.marks <= 0 for cell in marked.cells if cell.verdict is not Verdict.RIGHT)
    assert marked.marks < 4, "what is really right where it was copied to"
