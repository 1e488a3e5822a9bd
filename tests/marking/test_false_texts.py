"""Sentences that examiners found false in some labs: each on a case that showed it, with what a network does there."""

from typing import Any

import pytest
from catalogue_examples import a_route, a_row, listed
from catalogue_labs import FREE_LAB, LAB, NAMES_LAB, OTHER_LAB, Lab, extra_row, missing_row, wrong_cell
from filled_forms import filled

from trainer.commands.demo_class import key_texts
from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef, RowKey
from trainer.lab.key import derive_key
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind, Tried, try_network
from trainer.marking.explanation import Explanation
from trainer.marking.marker import mark
from trainer.marking.mistakes.catalogue import explain
from trainer.marking.mistakes.mistake import WrongCell

SERVER_ROW = a_row("server", lambda lab: lab.shown("stations.address", "server"), "static", "infinite")


def failing(scenario: Scenario, answers: Answers) -> list[Tried]:
    _, results = try_network(scenario, build(scenario, answers).network, (), with_controls=False)
    return [each for each in results if each.fails]


def fails_with(cell: WrongCell) -> list[Tried]:
    return failing(cell.scenario, cell.plan.answers)


def only_of(name: str, failed: list[Tried]) -> bool:
    """Whether each trial that fails is one of that station's."""
    return bool(failed) and all(name in (each.source, each.target) for each in failed)


def right_station(lab: Lab, spec: Any) -> str:
    return str(lab.station(spec).name)


# Bindings and protection ----------------------------------------------------------------------------------------------


def test_a_row_with_another_stations_address_locks_out_the_rows_own_station_alone() -> None:
    cell = wrong_cell(LAB, "bindings.address", (5, 0), lambda lab: lab.shown("stations.address", (5, 1)))
    said = explain(cell)
    assert said.mistake == "binding-ip-of-another-host"
    assert said.consequence == (
        "The station of this row is locked out, because its own address has no row; the other station is not."
    )
    assert only_of(right_station(LAB, (5, 0)), [each for each in fails_with(cell) if not each.is_attack])


def test_of_a_missing_relay_row_nobody_is_said_to_fill_giaddr_in() -> None:
    row = missing_row(LAB, "relays", 2, [])
    giaddr = WrongCell(**{**vars_of(row), "question": QUESTIONS["relays.giaddr"]})
    said, of_row = explain(giaddr), explain(row)
    assert said.consequence == "Nobody carries the requests of its clients to the server, so they get no address."
    assert (said.explanation, said.consequence, said.hint) == (of_row.explanation, of_row.consequence, of_row.hint), (
        "one row that was not written is one cause"
    )
    stopped = {each.source for each in fails_with(row) if each.kind is TrialKind.LEASE}
    assert stopped == {each.name for each in LAB.scenario.dhcp_stations(LAB.vlans[2].id)}


def vars_of(cell: WrongCell) -> dict[str, Any]:
    return {name: getattr(cell, name) for name in WrongCell.__dataclass_fields__}


def with_guarded_server(*, row: bool) -> Answers:
    guarded = CellRef("protection.guarded", RowKey(LAB.scenario.server.at.switch))
    cell = extra_row(LAB, "bindings", SERVER_ROW if row else {}, {})
    answers = cell.plan.answers
    ports = answers.values[guarded] | {LAB.scenario.server.at.port}
    return answers.changed({guarded: ports})


def test_a_row_for_the_server_is_looked_at_where_its_port_is_guarded() -> None:
    said = explain(extra_row(LAB, "bindings", SERVER_ROW, {}))
    assert said.mistake == "binding-for-server"
    assert said.consequence == "While its port is not guarded, the row is never looked at."
    assert failing(LAB.scenario, with_guarded_server(row=False))
    assert failing(LAB.scenario, with_guarded_server(row=True)) == []


def test_a_guarded_server_is_locked_out_without_a_row_only() -> None:
    said = explain(wrong_cell(LAB, "protection.guarded", "A", listed("protection.guarded", "A", "server")))
    assert said.mistake == "guard-on-server-port"
    assert said.consequence.startswith("Without a row ")


def test_a_guarded_and_trusted_port_lets_through_what_has_a_row() -> None:
    said = explain(
        wrong_cell(
            LAB,
            *("protection.guarded", "B", listed("protection.guarded", "B", ("B", "A"))),
            {("protection.trusted", "B"): listed("protection.trusted", "B")},
        )
    )
    assert "nothing gets through" not in f"{said.explanation} {said.consequence}"


def test_where_the_servers_port_is_left_out_for_a_link_its_offers_are_told() -> None:
    text = listed("protection.trusted", "A", ("A", "B"), without=("server",))
    cell = wrong_cell(LAB, "protection.trusted", "A", text)
    said = explain(cell)
    assert said.explanation == "You trust the link and leave out the server's own port: its offers are dropped there."
    assert any(each.kind is TrialKind.LEASE for each in fails_with(cell))
    assert any(each.is_attack for each in fails_with(cell))


def test_a_binding_with_the_servers_address_promises_no_lease_to_a_fixed_station() -> None:
    said = explain(wrong_cell(LAB, "bindings.address", (5, 0), lambda lab: lab.shown("stations.address", "server")))
    assert said.explanation.endswith("The row holds the station's own address, leased or fixed.")


# Pools and addresses --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("column", ["first", "last"])
def test_of_exchanged_pool_ends_no_missing_lease_is_promised(column: str) -> None:
    """Servers turn the two round, or refuse the pool."""
    other = {"first": "last", "last": "first"}[column]
    also = {(f"pools.{other}", 2): lambda lab: lab.shown(f"pools.{column}", 2)}
    said = explain(wrong_cell(LAB, f"pools.{column}", 2, lambda lab: lab.shown(f"pools.{other}", 2), also))
    assert said.mistake == "scope-ends-swapped"
    assert "lease" not in said.consequence


def test_of_a_pool_with_one_end_nobody_counts_what_lies_between_two() -> None:
    both = wrong_cell(LAB, "pools.last", 2, lambda lab: lab.at(2, 14))
    alone = wrong_cell(LAB, "pools.last", 2, lambda lab: lab.at(2, 14), {("pools.first", 2): ""})
    assert explain(both).mistake == "scope-pool-too-small"
    assert explain(alone).mistake == "scope-ends-early"


@pytest.mark.parametrize("question", ["subnets.gateway", "pools.router"])
def test_a_gateway_at_the_pools_start_is_not_said_to_be_lent(question: str) -> None:
    """A server that looks before it lends passes it over (RFC 2131 3.1)."""
    said = explain(wrong_cell(LAB, question, 2, lambda lab: lab.shown("pools.first", 2)))
    assert said.mistake == "gateway-is-pool-start"
    assert said.consequence.startswith("A client may get the same address; ")


def test_a_pool_one_too_low_is_not_blamed_on_the_gateway_in_it() -> None:
    """The gateway is in it because of its other end."""
    also = {("pools.last", 2): lambda lab: lab.at(2, -2)}
    said = explain(wrong_cell(OTHER_LAB, "pools.first", 2, lambda lab: lab.at(2, 10), also))
    assert said.mistake == "scope-starts-one-early"
    assert said.explanation.startswith("The pool starts one address early")


@pytest.mark.parametrize("address", ["127.0.0.5", "224.0.0.5", "0.3.0.5"])
@pytest.mark.parametrize(
    ("question", "row"), [("stations.address", (3, 2)), ("relays.server", 2), ("subnets.gateway", 2)]
)
def test_an_address_of_no_device_belongs_to_nobody_else(question: str, row: Any, address: str) -> None:
    cell = wrong_cell(LAB, question, row, address)
    said = explain(cell)
    assert said.mistake == "address-of-no-device"
    assert said.consequence == "No device can be given such an address, and nothing answers there."
    assert fails_with(cell)


def test_outside_the_block_nothing_is_said_of_owners_and_ways() -> None:
    said = explain(wrong_cell(LAB, "stations.address", (3, 2), "10.1.2.77"))
    assert said.consequence == "It is not the lab's to use, and no network set up by the rules holds it."


def test_the_address_of_a_station_in_another_vlan_leaves_that_one_alone() -> None:
    cell = wrong_cell(LAB, "stations.address", (3, 2), lambda lab: lab.shown("stations.address", (5, 0)))
    said = explain(cell)
    assert said.mistake == "host-address-of-another-station"
    assert said.consequence.endswith("in another VLAN only the other one is.")
    assert only_of(right_station(LAB, (3, 2)), [each for each in fails_with(cell) if not each.is_attack])


# Masks, ports and plans -----------------------------------------------------------------------------------------------


def test_a_classful_mask_where_nothing_shows_promises_nothing() -> None:
    said = explain(wrong_cell(LAB, "stations.mask", (3, 2), "255.255.0.0"))
    assert said.mistake == "mask-classful-default"
    assert (
        said.consequence == "Where another network falls under this mask, it looks local; elsewhere nothing shows yet."
    )


def test_on_sheet_subnets_nobody_is_sent_to_sheet_subnets() -> None:
    said = explain(wrong_cell(LAB, "subnets.prefix", 2, "27"))
    assert said.hint == "How many addresses does this VLAN need, and how many bits count them?"


def test_a_fixed_station_in_a_vlan_of_another_switch_keeps_its_address() -> None:
    said = explain(wrong_cell(LAB, "ports.vlan", (3, 2), lambda lab: lab.number(5)))
    assert said.mistake == "vlan-of-another-switch"
    assert said.consequence == "The station reaches no gateway; a DHCP client gets no address."


def test_what_is_no_one_value_is_sent_to_the_brief() -> None:
    said = explain(wrong_cell(LAB, "subnets.gateway", 2, "10.0.0.1 or 10.0.0.2"))
    assert said.mistake == "two-values"
    assert said.explanation.endswith(" cannot be read as one value, so it counts as none: write it as the Brief shows.")


def test_a_list_with_a_port_of_nobody_for_a_stations_is_not_said_to_do_no_harm() -> None:
    """One number is wrong: nobody is on that port, and the station whose port it is goes unguarded."""
    listed = "protection.guarded"

    def text(lab: Lab) -> str:
        _first, *rest = sorted(lab.members(listed, "B"), key=int)
        return ", ".join([*rest, lab.unused_port()])

    said = explain(wrong_cell(LAB, listed, "B", text))
    assert said.mistake != "guard-on-unused-port"
    assert "source address it likes" in said.consequence


# Routes ---------------------------------------------------------------------------------------------------------------


def test_two_routes_to_one_network_are_no_matter_of_luck() -> None:
    rival = a_route("A", lambda lab: lab.at(2, 0), "/23", lambda lab: lab.end(2, 1))
    said = explain(extra_row(LAB, "routes", rival, {}))
    assert said.mistake == "route-rival-row"
    assert said.consequence.startswith("A switch keeps one of the two or divides the traffic by source and destination")


def test_a_row_whose_network_another_row_carries_is_told_so() -> None:
    row = a_route("A", lambda lab: lab.at(2, 0), "/23", "192.168.1.1")
    also = {("routes.destination", ("A", 2)): "0.0.0.0", ("routes.mask", ("A", 2)): "0"}
    cell = extra_row(LAB, "routes", row, also)
    assert explain(cell).explanation == (
        "This row does not do its job; another row carries this network. Check its destination and next hop."
    )
    assert fails_with(cell) == []


def test_a_broadcast_address_as_destination_is_not_called_a_host() -> None:
    said = explain(wrong_cell(LAB, "routes.destination", ("A", 2), lambda lab: lab.at(2, -1)))
    assert said.mistake == "route-dest-host-bits"
    assert "is not the first address of a network" in said.explanation


def test_a_route_that_arrives_names_the_network_it_arrives_at() -> None:
    """One default route on the outermost switch: right, and said of each network for itself."""
    lab = LAB.scenario
    texts = dict(key_texts(lab))
    rows = [cell.row for cell, text in texts.items() if cell.question == "routes.switch" and text == "D"]
    for row in rows[1:]:
        for column in ("switch", "destination", "mask", "next_hop"):
            texts[CellRef(f"routes.{column}", row)] = ""
    texts |= {CellRef("routes.destination", rows[0]): "0.0.0.0", CellRef("routes.mask", rows[0]): "/0"}
    cells = mark(lab, filled({cell: text for cell, text in texts.items() if text})).cells
    told = {each.row: each.remark for each in cells if each.section == "routes" and each.remark.startswith("Right: ")}
    assert len(told) >= len(rows) - 1
    assert all(
        f"every packet to VLAN {row.rpartition(' ')[2]} arrives." in remark
        for row, remark in told.items()
        if " to " in row
    )


# What follows, and what a value depends on ----------------------------------------------------------------------------


def explained(lab: Scenario, changes: dict[tuple[str, str], str], cell: tuple[str, str]) -> Explanation:
    texts = {**key_texts(lab), **{CellRef(question, RowKey(row)): text for (question, row), text in changes.items()}}
    found = next(each for each in mark(lab, filled(texts)).cells if (each.question, each.row) == cell)
    assert found.explanation is not None
    return found.explanation


def test_what_follows_from_a_network_outside_the_block_names_the_cell_to_start_at() -> None:
    also = {("subnets.network", 2): "172.15.0.0"}
    said = explain(wrong_cell(LAB, "pools.first", 2, "172.15.0.11", also))
    assert said.explanation == (
        "Correctly worked out from your network, which lies outside the block. "
        f"Start at Subnets {LAB.number(2)}: Network address."
    )
    assert said.first_errors == (f"Subnets {LAB.number(2)}: Network address",)


def test_a_place_in_a_free_plan_depends_on_its_own_length_alone() -> None:
    row = FREE_LAB.number(1)
    said = explained(FREE_LAB.scenario, {("subnets.network", row): FREE_LAB.at(1, 64)}, ("subnets.network", row))
    assert said.rests_on == "this row's length, and must overlap no other network of yours"


def test_a_gateway_in_a_free_plan_depends_on_no_cell_but_its_network() -> None:
    row = FREE_LAB.number(3)
    said = explained(FREE_LAB.scenario, {("subnets.gateway", row): FREE_LAB.at(3, -1)}, ("subnets.gateway", row))
    assert said.rests_on == "the network of this row, and must lie in no pool and be no station's"


def test_no_cell_is_named_twice_among_those_that_a_value_depends_on() -> None:
    lab, row = LAB.scenario, LAB.number(2)
    changes = {("subnets.prefix", row): "26", ("subnets.broadcast", row): LAB.at(2, 5)}
    said = explained(lab, changes, ("subnets.broadcast", row))
    assert said.rests_on == (
        f"Subnets {row}: Network address, right as written; and on Subnets {row}: Prefix length (look there first)"
    )


def test_a_lease_that_sheets_still_empty_hide_is_not_said_to_change_nothing() -> None:
    """Without routes and relays no client asks; once they are there, this cell decides its lease."""
    lab, row = LAB.scenario, LAB.number(2)
    texts = {
        cell: text
        for cell, text in key_texts(lab).items()
        if cell.question.partition(".")[0] not in ("relays", "routes")
    }
    texts[CellRef("pools.lease", RowKey(row))] = "1 h"
    told = seen(lab, texts, "pools.lease", row)
    assert told.startswith("In an otherwise right network ")
    assert "would have another lease time because of it" in told


def test_a_pool_without_a_dns_server_is_not_said_to_have_another_one() -> None:
    lab, row = NAMES_LAB.scenario, NAMES_LAB.number(2)
    texts = key_texts(lab)
    del texts[CellRef("pools.dns", RowKey(row))]
    right = "With this right, 2 leases (Ferry tickets 1, Ferry tickets 2) would have a DNS server."
    assert seen(lab, texts, "pools.dns", row) == right
    without = {cell: text for cell, text in texts.items() if not cell.question.startswith(("relays.", "routes."))}
    hidden = seen(lab, without, "pools.dns", row)
    assert "2 leases (Ferry tickets 1, Ferry tickets 2) would have no DNS server because of it" in hidden


def seen(lab: Scenario, texts: dict[CellRef, str], question: str, row: str) -> str:
    """What was seen when a cell was tried."""
    found = next(each for each in mark(lab, filled(texts)).cells if (each.question, each.row) == (question, row))
    assert found.explanation is not None
    return found.explanation.seen


def test_the_key_has_nothing_said_of_it() -> None:
    lab = LAB.scenario
    assert failing(lab, derive_key(lab)) == []
    assert not [each for each in mark(lab, filled(key_texts(lab))).cells if each.explanation]
