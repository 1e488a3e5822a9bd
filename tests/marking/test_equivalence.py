"""What rows of open sections count for besides their cells: the form in, who delivers and who does no harm out."""

from dataclasses import replace
from fractions import Fraction

import pytest
from drawn_labs import bakery, exercise_of
from filled_forms import plans_with

from trainer.lab.form import RowKey
from trainer.lab.questions import SECTIONS
from trainer.lab.rows import WrittenRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import RouteRule, Scenario, UnknownAddresses
from trainer.marking.cells import CellMarker
from trainer.marking.equivalence import Counted, count_rows
from trainer.marking.marks import Verdict
from trainer.marking.matching import Matched
from trainer.marking.open_rows import mark_open_rows

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
TO_A, TO_B = "10.20.2.241", "10.20.2.242"
"""The ends of the one link, as next hops."""
KEYS = tuple(row.key for row in SECTIONS["routes"].rows(LAB))
"""A's routes to B's networks, then B's to A's."""
WRITTEN = {key: WrittenRow("Route", number) for number, key in enumerate(KEYS, 1)}
Changes = dict[tuple[str, str], str]


def row(name: str, switch: str, destination: str, mask: str, next_hop: str) -> Changes:
    texts = {"switch": switch, "destination": destination, "mask": mask, "next_hop": next_hop}
    return {(f"routes.{question}", name): text for question, text in texts.items()}


def blank(*names: RowKey) -> Changes:
    return {change: "" for name in names for change in row(name, "", "", "", "")}


def counted(lab: Scenario, changes: Changes, extras: tuple[str, ...], missing: tuple[RowKey, ...] = ()) -> Counted:
    """Where all rows of the key are written in order but the missing ones, and the extra ones behind them."""
    names = tuple(RowKey(each) for each in extras)
    row_for = {key: name for key, name in WRITTEN.items() if key not in missing}
    alike = {name: frozenset[RowKey]() for name in (*row_for.values(), *names)}
    matched = Matched(row_for=row_for, extras=names, alike=alike)
    return count_rows("routes", plans_with(lab, changes), matched, lambda name, key: WRITTEN[key] == name)


OF_A = tuple(key for key in KEYS if key.startswith("A"))
DEFAULT = row("Route 9", "A", "0.0.0.0", "/0", TO_B)


def test_a_default_route_carries_what_was_not_written_and_is_told_as_a_carrier() -> None:
    found = counted(LAB, {**blank(*(WRITTEN[key] for key in OF_A)), **DEFAULT}, ("Route 9",), missing=OF_A)
    assert set(found.stand_ins) == set(KEYS)
    assert {found.stand_ins[key].remark for key in OF_A} == {
        f"Right: delivered by Route 9; every packet to VLAN {key.rpartition(' ')[2]} arrives." for key in OF_A
    }
    assert {each.credit for each in found.stand_ins.values()} == {Fraction(1)}
    assert set(found.carriers) == {"Route 9"}


def test_a_default_route_beside_every_route_carries_nothing_and_does_no_harm() -> None:
    found = counted(LAB, DEFAULT, ("Route 9",))
    assert found.carriers == {}
    assert found.harmless == {"Route 9": Fraction(0)}


def test_a_route_that_leads_astray_is_not_harmless() -> None:
    found = counted(LAB, row("Route 9", "B", "10.20.0.0", "/22", "10.9.9.9"), ("Route 9",))
    assert found.harmless == {}


@pytest.mark.parametrize(("may", "costs"), [("DROPPED", Fraction(1, 2)), ("MAY_CIRCLE", Fraction(0))])
def test_defaults_that_send_packets_back_and_forth_cost_half_a_row_each_where_that_is_forbidden(
    may: str, costs: Fraction
) -> None:
    lab = replace(LAB, rules=replace(LAB.rules, unknown_addresses=UnknownAddresses[may]))
    both = {**DEFAULT, **row("Route 10", "B", "0.0.0.0", "/0", TO_A)}
    assert counted(lab, both, ("Route 9", "Route 10")).harmless == {"Route 9": costs, "Route 10": costs}


def test_where_one_route_a_network_is_asked_nothing_stands_in() -> None:
    lab = replace(LAB, rules=replace(LAB.rules, route_rule=RouteRule.ONE_A_NETWORK))
    found = counted(lab, {**blank(*(WRITTEN[key] for key in OF_A)), **DEFAULT}, ("Route 9",), missing=OF_A)
    assert found.stand_ins == {}
    assert found.carriers == {}
    assert found.harmless == {"Route 9": Fraction(0)}, "but it takes nothing the wrong way"


def test_one_wrong_next_hop_beside_a_legal_default_is_charged_in_its_cell() -> None:
    """Its next hop is nobody's, so that the default takes the packets; all the same it is the row of that network."""
    wrong = {("routes.next_hop", WRITTEN[OF_A[0]]): "10.9.9.9"}
    names = {key: name for key, name in WRITTEN.items() if key != OF_A[0]}
    plans = plans_with(LAB, {**DEFAULT, **wrong})
    matched = Matched(row_for=WRITTEN, extras=(WrittenRow("Route", 9),), alike={})
    found = count_rows("routes", plans, matched, lambda name, key: names.get(key) == name)
    assert found.matched == matched
    assert OF_A[0] not in found.stand_ins
    assert set(names) == set(found.stand_ins)


@pytest.mark.parametrize("section", ["pools", "protection"])
def test_rows_of_a_section_that_declares_no_equivalence_count_by_their_cells(section: str) -> None:
    matched = Matched(row_for={RowKey("key"): RowKey("1")}, extras=(RowKey("2"),), alike={})
    found = count_rows(section, plans_with(LAB, {}), matched, lambda _name, _key: False)
    assert found == Counted(matched=matched, stand_ins={}, carriers={}, harmless={})


def test_rows_of_an_open_section_with_an_empty_key_cost_nothing() -> None:
    """What they cancel is a right row, and there is none."""
    cells = list(mark_open_rows(SECTIONS["relays"], [], Fraction(0), CellMarker(plans_with(LAB, {}))))
    assert {cell.mark.verdict for cell in cells} == {Verdict.EXTRA}
    assert {cell.mark.marks for cell in cells} == {0}


def test_an_extra_row_cancels_what_its_filled_cells_count_in_its_first_cell() -> None:
    filled = sum(SECTIONS["routes"].question(f"routes.{each}").counts for each in ("switch", "destination", "mask"))
    texts = row("Route 9", "A", str(LAB.block.network_address), f"/{LAB.block.prefixlen}", "")
    plans = plans_with(LAB, texts)
    cells = list(mark_open_rows(SECTIONS["routes"], KEYS, Fraction(1), CellMarker(plans)))
    assert [cell.mark.marks for cell in cells if cell.mark.row == "Route 9"] == [-filled, 0, 0]
    assert sum(cell.mark.marks for cell in cells) == SECTIONS["routes"].counts_in(LAB) * len(KEYS) - filled
    assert len(cells) == 4 * len(KEYS) + 3
