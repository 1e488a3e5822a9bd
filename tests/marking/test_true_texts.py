"""What is said of whole workbooks in which one misunderstanding runs through: it must be true of that trainee's network."""

import os
import random
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from ipaddress import IPv4Address
from typing import Any

import pytest
from catalogue_examples import EXAMPLES
from catalogue_labs import (
    FREE,
    LAB,
    NAMES_LAB,
    NAMESAKES_LAB,
    OTHER_LAB,
    OTHER_RULES,
    QUESTIONS,
    RANDOM_LABS,
    RANGES,
    TREE,
    Lab,
    made,
    plausible,
    section_of,
)
from drawn_labs import changed, draw, exercise_of, shaped
from filled_forms import filled
from on_request import many

from trainer.commands.demo_class import key_texts
from trainer.commands.exercises import ready_made
from trainer.lab.build import build
from trainer.lab.exercise_form import RawExercise
from trainer.lab.form import Answers, CellRef, Role, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.plan import after
from trainer.lab.questions import FORM, SECTIONS, links, pools, routes, subnets
from trainer.lab.rows import LinkRow, WrittenRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import GatewayPlace, Scenario, Trainee, Vlan
from trainer.lab.trials import Site, TrialKind, Tried, try_network, visitors
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.mistakes.catalogue import MISTAKES, explain
from trainer.marking.mistakes.mistake import Claim, Flaw, Mistake, WrongCell
from trainer.network.addresses import first_usable, network_at
from trainer.network.topology import Lease
from trainer.sheets.exercise_book import read_exercise_book

Texts = dict[CellRef, str]
Values = dict[CellRef, Any]


def lab_of(raw: RawExercise, **settings: str) -> Scenario:
    return draw(exercise_of(replace(raw, settings={**raw.settings, **settings})), 1)[0]


def ready_made_lab(name: str) -> Scenario:
    (file,) = (each.file for each in ready_made() if each.file.stem == name)
    return draw(replace(read_exercise_book(file.read_bytes()), trainees=(Trainee(id="c00"),)), 1)[0]


SMALL = lab_of(HARBOUR)
LABS = (SMALL, lab_of(OTHER_RULES), ready_made_lab("tree-of-five"))
CHAIN = shaped({"A": "", "B": "A", "C": "B", "D": "C", "E": "D"})


def row_of(vlan: Vlan) -> RowKey:
    return subnets.row_of(vlan.id)


def key_of(lab: Scenario) -> SoFar:
    return SoFar(lab)


def worked_out(lab: Scenario, chosen: Values) -> Texts:
    """The whole form, consistently worked out from what was chosen, even from what cannot be."""
    so_far = SoFar(lab, chosen, takes_all=True)
    values = {
        CellRef(question.id, row.key): so_far.value(question, row.key)
        for section in FORM
        for row in (*section.rows(lab), *section.set_already(lab))
        for question in section.questions_in(lab)
    }
    return key_texts(lab, Answers(values=values, rows={}))


def key_plan(lab: Scenario) -> Values:
    """All networks where the key has them."""
    key = key_of(lab)
    return {
        **{
            CellRef("subnets.network", row_of(each)): key.value(subnets.NETWORK_ADDRESS, row_of(each))
            for each in lab.vlans
        },
        **{
            CellRef("links.network", RowKey(each.name)): key.value(links.LINK_NETWORK, LinkRow(each.name))
            for each in lab.links
        },
    }


def said(lab: Scenario, texts: Texts) -> dict[CellRef, str]:
    """The mistake that is named in each cell that is not right."""
    return {
        CellRef(cell.question, cell.row): cell.explanation.mistake for cell in marked(lab, texts) if cell.explanation
    }


def mistake_of(cell: CellMark) -> str:
    return cell.explanation.mistake if cell.explanation else ""


def marked(lab: Scenario, texts: Texts) -> tuple[CellMark, ...]:
    return mark(lab, filled({cell: text for cell, text in texts.items() if text})).cells


def names(said_of: Mapping[CellRef, str], section: str = "") -> set[str]:
    return {name for cell, name in said_of.items() if cell.question.startswith(section)} - {"easier-by-own-error"}


def exchanged(texts: Texts, one: CellRef, other: CellRef) -> Texts:
    return {**texts, one: texts[other], other: texts[one]}


def changed_columns(texts: Texts, *changes: tuple[str, Callable[[str], str]]) -> Texts:
    """Every text of these columns, rewritten."""
    return {
        cell: next((change(text) for column, change in changes if column == cell.question), text)
        for cell, text in texts.items()
    }


def plus(step: int) -> Callable[[str], str]:
    return lambda text: str(IPv4Address(text) + step)


def with_routes(lab: Scenario, rows: list[tuple[str, str, str, str]]) -> Texts:
    """The key with these rows on sheet Routes: switch, destination, mask, next hop."""
    texts = {cell: text for cell, text in key_texts(lab).items() if not cell.question.startswith("routes.")}
    for number, row in enumerate(rows, 1):
        for question, text in zip(routes.ROUTES.questions, row, strict=True):
            texts[CellRef(question.id, WrittenRow("Route", number))] = text
    return texts


def end_of(lab: Scenario, here: str, there: str) -> str:
    """The far end of the link between two switches."""
    link = next(each for each in lab.links if {each.first.switch, each.second.switch} == {here, there})
    far = link.first if link.first.switch == there else link.second
    return str(links.end_address(key_of(lab), link, far.switch))


def default(lab: Scenario, here: str, there: str) -> tuple[str, str, str, str]:
    return here, "0.0.0.0", "/0", end_of(lab, here, there)


# Sizes, order and places ----------------------------------------------------------------------------------------------


def one_bit_short(lab: Scenario, vlan: Vlan) -> Values:
    return {CellRef("subnets.prefix", row_of(vlan)): key_of(lab).value(subnets.PREFIX_LENGTH_OF, row_of(vlan)) - 1}


@pytest.mark.parametrize("order", ["as listed", "largest first"])
@pytest.mark.parametrize("place", [1, 4, 7])
def test_a_network_drawn_too_large_covers_no_neighbour_that_was_moved_on(order: str, place: int) -> None:
    lab = lab_of(TREE, order=order, block_length="/18")
    cell = CellRef("subnets.prefix", row_of(lab.vlans[place]))
    assert said(lab, worked_out(lab, one_bit_short(lab, lab.vlans[place])))[cell] == "mask-twice-the-size"


@pytest.mark.parametrize("place", range(5))
def test_a_network_drawn_too_large_covers_the_neighbour_that_stayed(place: int) -> None:
    vlan = SMALL.vlans[place]
    texts = worked_out(SMALL, {**key_plan(SMALL), **one_bit_short(SMALL, vlan)})
    key = key_of(SMALL)
    claimed = network_at(
        key.value(subnets.NETWORK_ADDRESS, row_of(vlan)), key.value(subnets.PREFIX_LENGTH_OF, row_of(vlan)) - 1
    )
    starts = (start for cell, start in key_plan(SMALL).items() if cell.row != row_of(vlan))
    assert any(start in claimed for start in starts)
    assert said(SMALL, texts)[CellRef("subnets.prefix", row_of(vlan))] == "mask-one-bit-short"


def test_at_the_empty_end_of_a_free_plan_a_network_too_large_covers_nobody() -> None:
    lab = lab_of(FREE, block_length="/18")
    vlan = lab.vlans[1]
    chosen = {**key_plan(lab), **one_bit_short(lab, vlan)}
    length = chosen[CellRef("subnets.prefix", row_of(vlan))]
    chosen[CellRef("subnets.network", row_of(vlan))] = network_at(lab.block[-1], length).network_address
    assert said(lab, worked_out(lab, chosen))[CellRef("subnets.prefix", row_of(vlan))] == "mask-twice-the-size"


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
def test_where_every_network_is_one_bit_short_and_moved_on_none_covers_another(lab: Scenario) -> None:
    chosen = {cell: value for vlan in lab.vlans for cell, value in one_bit_short(lab, vlan).items()}
    found = said(lab, worked_out(lab, chosen))
    assert {found[CellRef("subnets.prefix", row_of(vlan))] for vlan in lab.vlans} == {"mask-twice-the-size"}


@pytest.mark.parametrize("step", [2, 64, 256])
def test_the_network_of_a_link_of_two_addresses_is_not_called_one_of_its_ends(step: int) -> None:
    lab = lab_of(TREE, link_lengths="/31", block_length="/18")
    row = LinkRow(lab.links[0].name)
    cell = CellRef("links.network", row)
    found = said(lab, worked_out(lab, {cell: key_of(lab).value(links.LINK_NETWORK, row) + step}))
    assert found[cell] in ("network-next-or-previous-block", "link-network-elsewhere")


def ordered(lab: Scenario, order: Callable[[Vlan], Any]) -> Texts:
    """A plan without gaps in another order, the links where the key has them."""
    key, chosen, previous = key_of(lab), key_plan(lab), None
    for vlan in sorted(lab.vlans, key=order):
        length = key.value(subnets.PREFIX_LENGTH_OF, row_of(vlan))
        previous = network_at(after(previous, lab.block, length), length)
        chosen[CellRef("subnets.network", row_of(vlan))] = previous.network_address
    return worked_out(lab, chosen)


def test_sorted_by_size_where_each_switch_has_a_range_is_called_that() -> None:
    lab = lab_of(RANGES)
    lengths = {vlan: key_of(lab).value(subnets.PREFIX_LENGTH_OF, row_of(vlan)) for vlan in lab.vlans}
    found = said(lab, ordered(lab, lengths.__getitem__))
    assert {name for cell, name in found.items() if cell.question == "subnets.network"} == {
        "network-sorted-by-size-only"
    }


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
@pytest.mark.parametrize("order", [lambda vlan: vlan.addresses_needed, lambda vlan: vlan.number])
def test_a_plan_in_another_order_is_no_exchange_of_two_rows(lab: Scenario, order: Callable[[Vlan], Any]) -> None:
    texts = ordered(lab, order)
    key = key_of(lab)
    moved = [
        vlan
        for vlan in lab.vlans
        if texts[CellRef("subnets.network", row_of(vlan))] != str(key.value(subnets.NETWORK_ADDRESS, row_of(vlan)))
    ]
    assert len(moved) != 2
    assert "rows-exchanged" not in names(said(lab, texts), "subnets.network")


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
@pytest.mark.parametrize("step", [65536, -65536])
def test_in_a_plan_outside_the_block_one_network_is_at_fault_and_all_that_follows_is_half_right(
    lab: Scenario, step: int
) -> None:
    """R4. The networks behind the first one follow from it, as all addresses do."""
    key = key_texts(lab)
    texts = worked_out(lab, {cell: value + step for cell, value in key_plan(lab).items()})
    moved = {cell for cell, text in texts.items() if text != key[cell]}
    charged = {CellRef(cell.question, cell.row): cell for cell in marked(lab, texts) if not cell.verdict.is_full}
    assert set(charged) == moved
    wrong = [cell for cell in charged.values() if cell.verdict is Verdict.WRONG]
    assert [(cell.question, mistake_of(cell)) for cell in wrong] == [("subnets.network", "network-outside-parent")]
    halves = [cell for cell in charged.values() if cell not in wrong]
    assert {mistake_of(cell) for cell in halves} == {"follows-to-what-cannot-be"}
    assert all(cell.marks == cell.out_of / 2 for cell in halves)


# Addresses in a network -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
def test_broadcasts_right_in_a_plan_one_octet_away_are_not_called_full_by_mistake(lab: Scenario) -> None:
    shifted = worked_out(lab, {cell: value + 65536 for cell, value in key_plan(lab).items()})
    texts = {
        cell: shifted[cell] if cell.question == "subnets.broadcast" else text for cell, text in key_texts(lab).items()
    }
    assert "broadcast-assumes-255" not in names(said(lab, texts))
    assert "broadcast-assumes-255" not in names(said(lab, shifted))


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
def test_a_gateway_at_the_far_end_does_not_shift_the_count_of_stations(lab: Scenario) -> None:
    """Only a gateway before the station can have been left out of the count."""
    texts = changed_columns(key_texts(lab), ("stations.address", plus(1)))
    is_first = lab.rules.gateway is GatewayPlace.FIRST_USABLE
    assert names(said(lab, texts), "stations.address") == {
        "host-number-one-too-far" if is_first else "host-number-counted-past"
    }


def test_a_gateway_that_takes_the_servers_address_is_told() -> None:
    lab = ready_made_lab("tree-of-five")
    lab = replace(
        lab, stations=tuple(replace(each, fixed_number=1) if each.is_server else each for each in lab.stations)
    )
    key = key_of(lab)
    firsts = {
        CellRef("subnets.gateway", row_of(each)): first_usable(subnets.network_of(key, each.id)) for each in lab.vlans
    }
    found = said(lab, worked_out(lab, firsts))
    servers = CellRef("subnets.gateway", subnets.row_of(lab.server.vlan))
    assert {name for cell, name in found.items() if cell == servers} == {"gateway-takes-a-stations-address"}
    assert {name for cell, name in found.items() if cell != servers} == {"gateway-at-wrong-end"}
    follows = next(
        each
        for each in marked(lab, worked_out(lab, firsts))
        if (each.question, each.row) == ("stations.gateway", lab.server.name)
    )
    assert follows.verdict is Verdict.FOLLOWS
    assert "station and gateway have one address" in follows.remark


@pytest.mark.parametrize("vlan", [each for each in lab_of(FREE).vlans if not lab_of(FREE).dhcp_stations(each.id)])
def test_where_there_is_no_pool_no_gateway_lies_in_one(vlan: Vlan) -> None:
    """The network starts at no multiple of its size, and the gateway was counted from there."""
    lab = lab_of(FREE)
    start = network_at(lab.block[-1], 24).network_address + 20
    chosen = {
        **key_plan(lab),
        CellRef("subnets.network", row_of(vlan)): start,
        CellRef("subnets.gateway", row_of(vlan)): start + 1,
    }
    found = said(lab, worked_out(lab, chosen))
    assert found[CellRef("subnets.network", row_of(vlan))] == "own-plan-off-boundary"
    assert CellRef("subnets.gateway", row_of(vlan)) not in found


# Pools ----------------------------------------------------------------------------------------------------------------


def test_the_ends_of_two_pools_exchanged_are_called_that() -> None:
    here, other = (row_of(vlan) for vlan in SMALL.dhcp_vlans[:2])
    texts = key_texts(SMALL)
    for question in (pools.POOL_FIRST, pools.POOL_LAST):
        texts = exchanged(texts, CellRef(question.id, here), CellRef(question.id, other))
    assert set(said(SMALL, texts).values()) == {"rows-exchanged"}


@pytest.mark.parametrize("donor", SMALL.dhcp_vlans)
@pytest.mark.parametrize("vlan", SMALL.dhcp_vlans)
def test_a_pools_start_copied_from_another_row_is_no_count_taken_for_a_number(vlan: Vlan, donor: Vlan) -> None:
    texts = key_texts(SMALL)
    cell = CellRef("pools.first", row_of(vlan))
    found = said(SMALL, {**texts, cell: texts[CellRef("pools.first", row_of(donor))]})
    assert found == ({} if vlan == donor else {cell: "scope-network-of-another-vlan"})


# Routes ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unknown_addresses", ["may loop", "dropped"])
def test_what_gets_into_a_routing_loop_further_on_does_not_arrive(unknown_addresses: str) -> None:
    (lab,) = draw(exercise_of(changed(tables=CHAIN, unknown_addresses=unknown_addresses, block_length="/19")), 1)
    texts = with_routes(
        lab, [default(lab, "A", "B"), *(default(lab, here, back) for here, back in ("BA", "CB", "DC", "ED"))]
    )
    ends = {str(vlan.number): vlan.switch for vlan in lab.vlans}
    cells = [cell for cell in marked(lab, texts) if cell.section == "routes" and cell.verdict is not Verdict.EXTRA]
    assert all("every packet" not in cell.remark for cell in cells if goes_from_a_past_b(cell, ends))
    if unknown_addresses == "may loop":
        remarks = {cell.remark for cell in cells if goes_from_a_past_b(cell, ends)}
        assert remarks == {
            f"Right on this switch: delivered by Route 1. Packets to VLAN {vlan} do not arrive, because of another "
            "switch's routes."
            for vlan, switch in ends.items()
            if switch in ("C", "D", "E")
        }
    missing = {cell.explanation.mistake for cell in cells if cell.verdict is Verdict.MISSING and cell.explanation}
    assert missing == {"route-missing-and-circles"}


def goes_from_a_past_b(cell: CellMark, ends: Mapping[str, str]) -> bool:
    switch, _, vlan = cell.row.partition(" to ")
    return switch == "A" and ends.get(vlan) in ("C", "D", "E")


def test_a_default_route_where_one_a_network_is_asked_covers_what_is_missing() -> None:
    lab = lab_of(HARBOUR, route_rule="one a network")
    key = key_texts(lab)
    of_a = [cell.row for cell, text in key.items() if cell.question == "routes.switch" and text == "A"]
    rows = [("A", *(key[CellRef(question.id, row)] for question in routes.ROUTES.questions[1:])) for row in of_a]
    found = said(lab, with_routes(lab, [*rows, default(lab, "B", "A")]))
    assert set(found.values()) == {"route-default-against-the-rule", "route-missing-but-taken-along"}


def with_default_on_b(lab: Scenario, texts: Texts, next_hop: str) -> Texts:
    """One default route on B in place of its rows, where every route that works is right."""
    rows = [cell.row for cell, text in texts.items() if cell.question == "routes.switch" and text == "B"]
    first = dict(zip(routes.ROUTES.questions, ("B", "0.0.0.0", "/0", next_hop), strict=True))
    return texts | {
        CellRef(question.id, row): text if row == rows[0] else "" for row in rows for question, text in first.items()
    }


def test_a_default_route_over_a_link_that_was_moved_carries_what_it_carries() -> None:
    cell = CellRef("links.network", LinkRow(SMALL.links[0].name))
    moved = key_of(SMALL).value(links.LINK_NETWORK, cell.row) + 4
    texts = worked_out(SMALL, {cell: moved})
    wrong = said(SMALL, with_default_on_b(SMALL, texts, texts[CellRef("links.first", cell.row)]))
    assert set(wrong) == {cell}


def test_a_link_port_that_carries_a_vlan_is_no_fault_of_the_routes() -> None:
    texts = with_default_on_b(SMALL, key_texts(SMALL), end_of(SMALL, "B", "A"))
    cell = CellRef("ports.vlan", RowKey(str(SMALL.links[0].second)))
    assert said(SMALL, {**texts, cell: str(SMALL.vlans[1].number)}) == {cell: "link-port-in-a-vlan"}


@pytest.mark.parametrize("lab", many([*LABS, ready_made_lab("links-and-routes")], LABS[:1]))
def test_a_destination_with_host_bits_is_called_that(lab: Scenario) -> None:
    """The gateway, the broadcast address: each with the mask of the network."""
    texts = key_texts(lab)
    assert names(said(lab, changed_columns(texts, ("routes.destination", plus(1))))) == {"route-dest-host-bits"}
    ends = {
        cell: str(network_at(IPv4Address(text), int(texts[CellRef("routes.mask", cell.row)][1:])).broadcast_address)
        for cell, text in texts.items()
        if cell.question == "routes.destination"
    }
    assert names(said(lab, {**texts, **ends})) == {"route-dest-host-bits"}
    wide = said(lab, changed_columns(texts, ("routes.mask", lambda _text: "/16")))
    assert names(wide) == {"route-mask-shorter-than-start"}


@pytest.mark.parametrize("lab", many([*LABS, ready_made_lab("links-and-routes")], LABS[:1]))
def test_a_length_behind_the_destination_is_seen(lab: Scenario) -> None:
    texts = key_texts(lab)
    attached = {
        cell: text + texts[CellRef("routes.mask", cell.row)] if cell.question == "routes.destination" else text
        for cell, text in texts.items()
        if cell.question != "routes.mask"
    }
    assert names(said(lab, attached)) == {"mask-in-address-cell"}


def test_a_default_route_without_its_mask_is_told() -> None:
    row = WrittenRow("Route", 1)
    texts = {**key_texts(SMALL), CellRef("routes.destination", row): "0.0.0.0", CellRef("routes.mask", row): ""}
    assert said(SMALL, texts) == {
        CellRef("routes.destination", row): "route-default-without-mask",
        CellRef("routes.mask", row): "route-default-without-mask",
    }


# Exchanged ------------------------------------------------------------------------------------------------------------


def with_columns_exchanged(texts: Texts, rows: set[RowKey]) -> Texts:
    for row in rows:
        texts = exchanged(texts, CellRef("routes.destination", row), CellRef("routes.next_hop", row))
    return texts


@pytest.mark.parametrize("lab", many([*LABS, ready_made_lab("links-and-routes")], LABS[:1]))
def test_destination_and_next_hop_in_each_others_column_are_called_that(lab: Scenario) -> None:
    texts = key_texts(lab)
    rows = {cell.row for cell in texts if cell.question == "routes.switch"}
    for some in (rows, {WrittenRow("Route", 1)}):
        assert set(said(lab, with_columns_exchanged(texts, some)).values()) == {"route-dest-nexthop-swapped"}


@pytest.mark.parametrize("lab", many([*LABS, ready_made_lab("links-and-routes")], LABS[:1]))
def test_the_ends_of_a_link_exchanged_are_called_that_at_both(lab: Scenario) -> None:
    row = LinkRow(lab.links[0].name)
    ends = CellRef("links.first", row), CellRef("links.second", row)
    assert said(lab, exchanged(key_texts(lab), *ends)) == dict.fromkeys(ends, "p2p-ends-swapped")


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
def test_first_and_last_usable_exchanged_are_called_that(lab: Scenario) -> None:
    for vlan in lab.vlans:
        ends = CellRef("subnets.first", row_of(vlan)), CellRef("subnets.last", row_of(vlan))
        assert said(lab, exchanged(key_texts(lab), *ends)) == dict.fromkeys(ends, "host-range-columns-exchanged")


@pytest.mark.parametrize("lab", many(LABS, LABS[:1]))
def test_two_rows_of_pools_exchanged_are_called_that(lab: Scenario) -> None:
    here, other = (row_of(vlan) for vlan in lab.dhcp_vlans[:2])
    texts = key_texts(lab)
    for question in SECTIONS["pools"].questions_in(lab):
        texts = exchanged(texts, CellRef(question.id, here), CellRef(question.id, other))
    assert set(said(lab, texts).values()) == {"rows-exchanged"}


COLUMNS = (
    ("bindings.mac", "bindings.address"),
    ("bindings.port", "bindings.vlan"),
    ("bindings.type", "bindings.lease"),
    ("relays.server", "relays.giaddr"),
    ("stations.address", "stations.gateway"),
    ("subnets.network", "subnets.broadcast"),
    ("pools.first", "pools.router"),
)


@pytest.mark.parametrize("columns", COLUMNS, ids=" and ".join)
def test_two_columns_exchanged_in_one_row_or_in_all_are_called_that(columns: tuple[str, str]) -> None:
    """A lease without end may be called static, which is right in either column."""
    texts = key_texts(SMALL)
    rows = [cell.row for cell in texts if cell.question == columns[0]]
    rows = [row for row in rows if texts[CellRef(columns[1], row)] != "no end"]
    for some in (rows[:1], rows):
        wrong = texts
        for row in some:
            wrong = exchanged(wrong, *(CellRef(column, row) for column in columns))
        found = said(SMALL, wrong)
        for row in some:
            assert {found[CellRef(column, row)] for column in columns} == {"columns-exchanged"}


# What is said to follow ------------------------------------------------------------------------------------------------

IS_NIGHTLY = bool(os.environ.get("TRAINER_NIGHTLY"))
BY_ID = {mistake.id: mistake for mistake in MISTAKES}
SHOWN_BY = {
    TrialKind.LEASE: Claim.NO_LEASE,
    TrialKind.PING: Claim.NO_ANSWER,
    TrialKind.REACH: Claim.NO_ANSWER,
    TrialKind.ROGUE_SERVER: Claim.ATTACK_PASSES,
    TrialKind.ROGUE_ON_LINK: Claim.ATTACK_PASSES,
    TrialKind.FORGED_ADDRESS: Claim.ATTACK_PASSES,
    TrialKind.FORGED_MAC: Claim.ATTACK_PASSES,
}


def tried(lab: Scenario, answers: Answers) -> dict[Any, Tried]:
    """All trials on the network that the answers make; nobody visits a gateway's address."""
    plan = SoFar(lab, answers.values, SoFar(lab))
    rows = {vlan.id: row_of(vlan) for vlan in lab.vlans}
    sites = {
        number: Site(subnets.network_of(plan, number), plan.value(subnets.GATEWAY, row)) for number, row in rows.items()
    }
    gateways = {site.gateway for site in sites.values()}
    guests = [each for each in visitors(lab, sites) if each[0].fixed and each[0].fixed.address not in gateways]
    _, results = try_network(lab, build(lab, answers).network, guests, with_controls=False)
    return {each.name: each for each in results}


@cache
def right_leases(lab: Scenario) -> dict[Any, Lease]:
    results = tried(lab, derive_key(lab))
    assert not [each for each in results.values() if each.fails]
    return {name: each.outcome for name, each in results.items() if isinstance(each.outcome, Lease)}


def shown(lab: Scenario, answers: Answers) -> frozenset[Claim]:
    """What the trials on the network that the answers make show."""
    results = tried(lab, answers)
    found = {SHOWN_BY[each.kind] for each in results.values() if each.fails}
    leases = ((results[name].outcome, right) for name, right in right_leases(lab).items())
    if any(isinstance(lease, Lease) and lease != right for lease, right in leases):
        found.add(Claim.OTHER_LEASE)
    return frozenset(found or {Claim.NO_HARM})


def claiming(cell: WrongCell) -> Mistake | None:
    """The mistake that is said first, if its own consequence is said, claims something, and can be tried."""
    said = explain(cell)
    mistake = BY_ID.get(said.mistake)
    whole_row = cell.flaw in (Flaw.MISSING, Flaw.EXTRA)
    questions = cell.section.questions if whole_row else (cell.question,)
    if mistake is None or said.consequence != mistake.consequence or mistake.claim is Claim.NONE:
        return None
    return mistake if any(question.role is Role.CONFIGURES for question in questions) else None


CLAIMING = [(claiming(each.values[1]), each) for each in EXAMPLES]


@pytest.mark.parametrize(("mistake", "cell"), [example for mistake, example in CLAIMING if mistake is not None])
def test_a_consequence_is_what_the_network_of_its_own_example_does(mistake: str, cell: WrongCell) -> None:
    assert BY_ID[mistake].claim in shown(cell.scenario, cell.plan.answers)


def test_every_claim_is_tried_on_an_example() -> None:
    tried_ones = {mistake.id for mistake, _ in CLAIMING if mistake is not None}
    assert tried_ones == {each.id for each in MISTAKES if each.claim is not Claim.NONE}


def planted(lab: Lab, rng: random.Random) -> Iterator[WrongCell]:
    """Every cell that configures a device with a plausible wrong value, and every row left out, all else right."""
    values, rows = lab.filled()
    for cell, right in lab.key.values.items():
        section, question = SECTIONS[section_of(cell.question)], QUESTIONS[cell.question]
        if question.role is not Role.CONFIGURES:
            continue
        row = lab.label(section.id, cell.row)
        wrong = rng.choice(sorted(plausible(lab, question, right), key=str))
        changed_values = {**values, CellRef(question.id, row): wrong}
        yield made(lab, section, question, Flaw.WRONG, row, cell.row, question.kind.show(wrong), changed_values, rows)
    for section_id, labels in lab.labels.items():
        section = SECTIONS[section_id]
        for key_row, row in labels.items():
            kept = {each: value for each, value in values.items() if each.row != row}
            left = {**rows, section_id: tuple(each for each in rows[section_id] if each != row)}
            yield made(lab, section, section.questions[0], Flaw.MISSING, key_row, key_row, "", kept, left)


@pytest.mark.parametrize("number", many(range(60 if IS_NIGHTLY else 5), (0, 1)))
def test_a_fresh_network_with_a_planted_error_does_what_its_consequence_claims(number: int) -> None:
    labs = (LAB, OTHER_LAB, NAMES_LAB, NAMESAKES_LAB, *RANDOM_LABS)
    confirmed: Counter[str] = Counter()
    for cell in planted(labs[number % len(labs)], random.Random(number)):
        mistake = claiming(cell)
        if mistake is not None and cell.value != cell.expected and confirmed[mistake.id] < 3:
            network = shown(cell.scenario, cell.plan.answers)
            assert mistake.claim in network, (mistake.id, cell.question.id, cell.key_row, cell.text, network)
            confirmed[mistake.id] += 1
    assert len(confirmed) > 20
