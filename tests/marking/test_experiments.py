"""Experiments: what is said of a wrong cell is what its network does, checked by building that network anew."""

import os
import random
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from filled_forms import filled
from on_request import many

from trainer.commands.demo_class import key_texts
from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef, Role, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, QUESTIONS, SECTIONS, subnets
from trainer.lab.rows import VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Reveal, Scenario
from trainer.lab.trials import Site, TrialKind, TrialName, Tried, try_network, visitors
from trainer.lab.unreadable import NotReadable
from trainer.marking.findings import CHANGED_NOTHING
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked

LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
CHAIN = {"A": "", "B": "A", "C": "B"}
NUMBER = re.compile(r"(\d+) (lease|ping|rogue offer|forged packet)s?\b")


def marked_with(lab: Scenario, changes: Mapping[tuple[str, str], str]) -> Marked:
    texts = {**key_texts(lab), **{CellRef(question, RowKey(row)): text for (question, row), text in changes.items()}}
    return mark(lab, filled(texts))


def seen(lab: Scenario, changes: Mapping[tuple[str, str], str], cell: tuple[str, str] | None = None) -> str:
    """What is said to have been seen of a cell; of the only changed one where none is named."""
    question, row = cell or next(iter(changes))
    for each in marked_with(lab, changes).cells:
        if (each.question, each.row) == (question, row):
            return "" if each.explanation is None else each.explanation.seen
    raise AssertionError(f"no such cell: {question} {row}")


# --- What is said -----------------------------------------------------------------------------------------------------


def test_a_cell_that_stops_packets_is_told_with_what_comes_back():
    """The return route of the server's side: RFC 2131 4.1, the answer goes to giaddr."""
    assert seen(LAB, {("routes.next_hop", "Route 1"): "10.20.2.241"}) == (
        "With this right, 2 leases (Tills 1, Tills 2) and 38 pings (DHCP server to Tills 1, DHCP server to Tills 2, ...) "
        "come back in your network."
    )


def test_a_protection_that_is_missing_is_told_by_what_gets_through():
    assert seen(LAB, {("protection.guarded", "B"): "1, 2, 3, 4, 5"}) == (
        "With this right, 2 forged packets (Cameras sends to the server with the address of Ovens 1, Cameras sends to the "
        "server with the MAC of Ovens 1) are stopped in your network."
    )


def test_a_trusted_link_that_leads_away_from_the_server_lets_a_false_server_in():
    """R9's harmful extra, by the attack that is aimed at it."""
    assert seen(LAB, {("protection.trusted", "A"): "1, 24"}) == (
        "With this right, 1 rogue offer (a rogue server on link A-B to switch A) is stopped in your network."
    )
    told = steps(LAB, {("protection.trusted", "A"): "1, 24"})
    assert told[0] == "rogue offer: a rogue server on link A-B to switch A"
    assert told[-1] == "A checks a DHCP server message that comes in on port A/24: the port is trusted."


def test_what_another_error_masks_is_told_with_the_place_to_look_at():
    changes = {("pools.router", "30"): "10.20.0.2", ("relays.server", "Relay 2"): "10.20.2.230"}
    text = seen(LAB, changes)
    assert text.startswith("In an otherwise right network it stops 28 pings (DHCP server to Tills 1, ")
    assert "In yours, putting it right is not enough: " in text
    assert text.endswith("see sheet Relays, row Relay 2, and mend both).")
    assert seen(LAB, changes, ("relays.server", "Relay 2")).startswith(
        "With this right, 2 leases (Tills 1, Tills 2) and "
    )


def test_a_cell_that_changes_nothing_is_said_to():
    """A mask one bit too short at the server: nobody has the addresses that now seem to be next door."""
    assert seen(LAB, {("stations.mask", "DHCP server"): "255.255.255.224"}) == (CHANGED_NOTHING)


def test_values_of_a_pool_that_are_exchanged_are_tried_together():
    key = key_texts(LAB)
    first, router = (key[CellRef(f"pools.{cell}", RowKey("20"))] for cell in ("first", "router"))
    changes = {("pools.first", "20"): router, ("pools.router", "20"): first}
    for cell in ("first", "router"):
        text = seen(LAB, changes, (f"pools.{cell}", "20"))
        assert text.startswith("With both right, ")
        assert " pings (" in text


def test_pool_ends_that_are_exchanged_do_no_harm():
    """The server turns them round."""
    key = key_texts(LAB)
    first, last = (key[CellRef(f"pools.{end}", VlanRow(20))] for end in ("first", "last"))
    text = seen(LAB, {("pools.first", "20"): last, ("pools.last", "20"): first}, ("pools.first", "20"))
    assert text == CHANGED_NOTHING


def test_on_an_empty_sheet_with_open_rows_what_is_learnt_is_not_tried_with_what_is_typed():
    """Learnt rows come by themselves; those that are typed in let fixed stations through."""
    key = key_texts(LAB)
    empty = {(cell.question, cell.row): "" for cell in key if cell.question.startswith("bindings.")}
    found = {}
    for each in marked_with(LAB, empty).cells:
        if each.section == "bindings" and each.explanation is not None and each.explanation.seen:
            found.setdefault(each.explanation.mistake, set()).add(each.explanation.seen)
    assert found["binding-missing-for-client"] == {CHANGED_NOTHING}
    assert all(seen.startswith("With these rows, ") for seen in found["guard-without-binding"])


def test_a_trial_that_is_only_made_once_the_cell_is_right_is_not_said_to_stay():
    """A network is written where the server's lies, whose gateway is written one higher: that address is the first that the
    network needs, so that only without the wrong gateway somebody can be there to be pinged.
    """
    changes = {("subnets.network", "50"): "10.20.2.224", ("subnets.gateway", "10"): "10.20.2.226"}
    assert seen(LAB, changes, ("subnets.gateway", "10")).startswith(
        "With this right, 6 leases (Ovens 1, Ovens 2, ...) and 76 pings"
    )


def test_what_works_because_other_values_go_with_it_is_not_said_to_fail():
    """A gateway at the other end, and all that is copied from it: no trial fails, and none is said to."""
    key = key_texts(LAB)
    relay = next(cell.row for cell, text in key.items() if cell.question == "relays.vlan" and text == "40")
    followers = (("stations.gateway", "Scales 3"), ("pools.router", "40"), ("relays.giaddr", relay))
    changes = dict.fromkeys((("subnets.gateway", "40"), *followers), "10.20.2.190")
    text = seen(LAB, changes, ("subnets.gateway", "40"))
    assert text.startswith("In your network it works, because other values match it. With this right alone, 36 pings")


def test_what_stops_because_something_is_put_right_is_told_beside_what_comes_back():
    """The guard that is left out lets Cameras' packets through; its row is of the wrong type, so with the guard it is cut off."""
    changes = {("protection.guarded", "B"): "1, 2, 3, 4, 5", ("bindings.type", "Binding 8"): "dynamic"}
    text = seen(LAB, changes, ("protection.guarded", "B"))
    assert "2 forged packets" in text
    assert re.search(r" stopped in your network, but \d+ pings \(.*\) stop: put right what matches it as well\.$", text)


def test_an_attack_that_another_error_lets_through_as_well_is_not_said_to_be_stopped():
    """An invented row for a client's port, where the guard is left out too."""
    row = {"port": "B/1", "vlan": "30", "mac": "02-00-00-00-00-04", "address": "10.20.2.11", "type": "static"}
    changes = {("protection.guarded", "B"): "2, 3, 4, 5, 6", ("bindings.lease", "Binding 9"): "infinite"}
    changes |= {(f"bindings.{name}", "Binding 9"): text for name, text in row.items()}
    text = seen(LAB, changes, ("bindings.port", "Binding 9"))
    assert text.endswith("; in yours another error does the same.")


def test_a_sheet_that_is_right_is_not_to_be_looked_at():
    """On A - B - C packets to C's network go back and forth between A and B: the offer comes back in on A's downlink, which
    rightly is not trusted.
    """
    (lab,) = draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}))), 1)
    key = key_texts(lab)
    far = [vlan.number for vlan in lab.vlans if vlan.switch == "C" and lab.dhcp_stations(vlan.id)]
    rows = {row.key: f"Route {number}" for number, row in enumerate(SECTIONS["routes"].rows(lab), 1)}
    back = key[
        CellRef(
            "routes.next_hop",
            RowKey(
                next(
                    name
                    for row, name in rows.items()
                    if row.startswith("B to ")
                    and row.split()[-1] in {str(vlan.number) for vlan in lab.vlans if vlan.switch == "A"}
                )
            ),
        )
    ]
    changes = {("routes.next_hop", rows[f"B to {far[0]}"]): back}
    changes |= {
        (f"routes.{name}", rows[f"A to {far[0]}"]): "" for name in ("switch", "destination", "mask", "next_hop")
    }
    texts = {each.explanation.seen for each in marked_with(lab, changes).cells if each.explanation is not None}
    assert texts
    assert not [text for text in texts if "see sheet Protection" in text]


def test_steps_end_in_what_went_wrong():
    """A pool that begins at the gateway: the first client meets a duplicate. Made once more the lease is granted, so its steps
    would tell of another case.
    """
    first = SoFar(LAB).value(subnets.GATEWAY, subnets.row_of(30))
    changes = {("pools.first", "30"): str(first)}
    for each in marked_with(LAB, changes).cells:
        if each.explanation is not None and each.explanation.steps:
            assert "enters a dynamic row" not in each.explanation.steps[-1]
            assert "0.0.0.0 to 0.0.0.0" not in " ".join(each.explanation.steps)


def test_a_cell_that_configures_nothing_says_nothing_of_its_neighbours():
    changes = {("subnets.first", "30"): "one", ("subnets.gateway", "30"): "two"}
    assert seen(LAB, changes, ("subnets.first", "30")) == ""
    assert seen(LAB, changes, ("subnets.gateway", "30")).startswith("With this right, ")


def test_a_lease_that_comes_with_another_value_is_told_by_what_differs():
    assert seen(LAB, {("pools.lease", "20"): "1 h"}) == (
        "With this right, 2 leases (Ovens 1, Ovens 2) would have another lease time."
    )


@pytest.mark.parametrize("cell", [("subnets.broadcast", "30"), ("subnets.prefix", "20"), ("relays.giaddr", "Relay 1")])
def test_cells_that_configure_nothing_are_not_tried(cell: tuple[str, str]):
    assert QUESTIONS[cell[0]].role is not Role.CONFIGURES
    assert seen(LAB, {cell: "31" if cell[0] == "subnets.prefix" else "10.20.0.99"}) == ""


def test_what_follows_from_the_own_plan_is_put_right_in_the_own_plan():
    """Wrong prefix, everything else by it, one gateway wrong: right is what follows from the own plan."""
    changes = {
        ("subnets.prefix", "50"): "28",
        ("subnets.mask", "50"): "255.255.255.240",
        ("subnets.last", "50"): "10.20.2.206",
        ("subnets.broadcast", "50"): "10.20.2.207",
        ("stations.mask", "Cameras"): "255.255.255.240",
        ("routes.mask", "Route 3"): "/28",
        ("stations.gateway", "Cameras"): "10.20.2.205",
    }
    text = seen(LAB, changes, ("stations.gateway", "Cameras"))
    assert text.startswith("With this right, ")
    assert "Cameras" in text


def consequence(lab: Scenario, changes: Mapping[tuple[str, str], str]) -> str:
    (cell,) = (each for each in marked_with(lab, changes).cells if each.explanation is not None)
    assert cell.explanation is not None
    return cell.explanation.consequence


def test_one_port_that_another_switch_trusts_too_is_not_called_that_switchs_list():
    """F10: B's port 1 is a client's; that A trusts its own port 1 may be chance."""
    (cell,) = (
        each for each in marked_with(LAB, {("protection.trusted", "B"): "1"}).cells if each.explanation is not None
    )
    assert cell.explanation is not None
    assert cell.explanation.mistake.startswith("trust-")
    assert cell.explanation.mistake != "trust-list-of-another-switch"


def test_trust_on_a_downlink_promises_nothing_of_the_rest():
    """The server's own port is left out as well: it does not work."""
    changes = {("protection.trusted", "A"): "24"}
    assert "works" not in consequence(LAB, changes)
    assert "come back" in seen(LAB, changes)


def test_what_is_only_predicted_drops_no_packet():
    """A learnt row and giaddr come about whatever is written; a typed row does not."""
    assert consequence(LAB, {("bindings.mac", "Binding 1"): "02-00-00-00-00-99"}) == (
        "The switch learns this row by itself, so its table shows something else than you predict."
    )
    assert consequence(LAB, {("relays.giaddr", "Relay 1"): "10.20.2.229"}).startswith("The relay agent fills giaddr in")
    assert "drops" in consequence(LAB, {("bindings.mac", "Binding 8"): "02-00-00-00-00-99"})


def test_nobody_is_put_where_only_the_trainees_gateway_stands():
    """Gateways at the other end throughout, all else by that: the last needed address of a full network is a gateway's."""
    vlans = tuple(replace(vlan, addresses_needed=14) if vlan.id == 10 else vlan for vlan in LAB.vlans)
    lab = replace(LAB, vlans=vlans)
    key = SoFar(lab)
    rows = [subnets.row_of(vlan.id) for vlan in vlans]
    own_plan = SoFar(lab, {CellRef("subnets.gateway", row): key.value(subnets.LAST_USABLE, row) for row in rows})
    changes = {}
    for section in FORM:
        for number, row in enumerate(section.rows(lab), 1):
            name = row.key if section.open is None else section.open.named(number)
            for question in section.questions_in(lab):
                changes[question.id, name] = question.kind.show(own_plan.value(question, row.key))
    texts = [seen(lab, changes, ("subnets.gateway", row)) for row in rows]
    assert all(texts)
    assert not [text for text in texts if "claim one address" in text]


def steps(lab: Scenario, changes: Mapping[tuple[str, str], str]) -> tuple[str, ...]:
    (cell,) = (each for each in marked_with(lab, changes).cells if each.explanation is not None)
    assert cell.explanation is not None
    return cell.explanation.steps


def test_one_trial_that_goes_wrong_is_told_step_by_step():
    """Worked out whatever trainees may see: that is decided when it is shown."""
    changes = {("routes.next_hop", "Route 1"): "10.20.2.241"}
    told = steps(LAB, changes)
    assert steps(replace(LAB, rules=replace(LAB.rules, reveal=Reveal.MARKS)), changes) == told
    assert told[:2] == (
        "lease: Tills 1",
        "Tills 1 sends a DHCP client message to everybody near: it is in VLAN 30 on switch B.",
    )
    assert told[-2:] == (
        "A looks up the way to 10.20.0.1: no route leads there.",
        "A drops the packet: no route leads to the destination.",
    )


def test_an_attack_that_gets_through_is_told_to_its_end():
    told = steps(LAB, {("protection.guarded", "B"): "1, 2, 3, 4, 5"})
    assert told[0] == "forged packet: Cameras sends to the server with the address of Ovens 1"
    assert told[-1] == "DHCP server receives the packet to 10.20.2.229: the address is its own."


@pytest.mark.parametrize(
    ("cell", "wrong", "rests_on"),
    [
        (("subnets.broadcast", "50"), "10.20.2.222", "Subnets 50: Network address, Prefix length, right as written"),
        (
            ("subnets.network", "50"),
            "10.20.2.0",
            "Subnets, every row: Prefix length; Subnets 40: Network address, right as written",
        ),
        (("routes.next_hop", "Route 1"), "10.20.2.241", "Links A-B: Address of the second switch, right as written"),
        (("relays.server", "Relay 1"), "10.20.2.230", "Stations DHCP server: Address, right as written"),
        (("pools.lease", "20"), "1 h", ""),
        (("pools.router", "20"), "", ""),
    ],
)
def test_a_wrong_cell_is_told_with_the_earlier_cells_it_rests_on(cell: tuple[str, str], wrong: str, rests_on: str):
    """F5, the rung of the consequence."""
    found = next(each for each in marked_with(LAB, {cell: wrong}).cells if (each.question, each.row) == cell)
    assert found.explanation is not None
    assert found.explanation.rests_on == rests_on


def test_of_several_earlier_cells_the_one_that_is_not_right_is_to_be_looked_at_first():
    changes = {("subnets.prefix", "50"): "/28", ("subnets.broadcast", "50"): "10.20.2.222"}
    found = next(
        each for each in marked_with(LAB, changes).cells if each.question == "subnets.broadcast" and each.row == "50"
    )
    assert found.explanation is not None
    assert found.explanation.rests_on == (
        "Subnets 50: Network address, right as written; and on Subnets 50: Prefix length (look there first)"
    )


# --- What is said is what happens -------------------------------------------------------------------------------------


def tried(lab: Scenario, answers: Answers) -> dict[TrialName, Tried]:
    plan = SoFar(lab, answers.values, SoFar(lab))
    sites = {
        vlan.id: Site(subnets.network_of(plan, vlan.id), plan.value(subnets.GATEWAY, subnets.row_of(vlan.id)))
        for vlan in lab.vlans
    }
    _, results = try_network(lab, build(lab, answers).network, visitors(lab, sites), with_controls=False)
    return {each.name: each for each in results}


def counts(results: dict[TrialName, Tried]) -> dict[str, int]:
    found: dict[str, int] = {}
    words = {
        TrialKind.LEASE: "lease",
        TrialKind.PING: "ping",
        TrialKind.REACH: "ping",
        TrialKind.ROGUE_SERVER: "rogue offer",
        TrialKind.ROGUE_ON_LINK: "rogue offer",
    }
    for (kind, *_), each in results.items():
        if each.fails:
            word = words.get(kind, "forged packet")
            found[word] = found.get(word, 0) + 1
    return found


def planted(lab: Scenario, rng: random.Random) -> Iterator[tuple[CellRef, str, RowKey, str]]:
    """A wrong value of the lab's own for every cell that configures a device: cell, text, row of the key, right text."""
    texts = key_texts(lab)
    for section in FORM:
        for number, row in enumerate(section.rows(lab), 1):
            name = row.key if section.open is None else section.open.named(number)
            for question in section.questions_in(lab):
                cell = CellRef(question.id, name)
                others = sorted(
                    {text for other, text in texts.items() if other.question == question.id} - {texts[cell]}
                )
                if question.role is Role.CONFIGURES and others:
                    yield cell, rng.choice(others), row.key, texts[cell]


@pytest.mark.parametrize("every", (1, 4) if os.environ.get("TRAINER_NIGHTLY") else (4,))
@pytest.mark.parametrize(
    "shape",
    [pytest.param(None, id="two switches"), pytest.param(CHAIN, id="a chain of three", marks=pytest.mark.many)],
)
def test_a_fresh_network_with_the_planted_error_does_what_is_said(shape: dict[str, str] | None, every: int):
    """In a workbook that is right but for one cell, what comes back is what fails in a right network with that cell wrong."""
    lab = LAB if shape is None else draw(exercise_of(changed(tables=shaped(shape))), 1)[0]
    key = derive_key(lab)
    confirmed = 0
    cells = list(planted(lab, random.Random(7)))
    for cell, wrong, key_row, _ in cells[::every]:
        marked = marked_with(lab, {(cell.question, cell.row): wrong})
        found = next((each for each in marked.cells if (each.question, each.row) == (cell.question, cell.row)), None)
        if (
            found is None
            or found.explanation is None
            or found.row != cell.row
            or "With this" not in found.explanation.seen
        ):
            continue
        if "would have " in found.explanation.seen:
            continue
        values = {**key.values, CellRef(cell.question, key_row): QUESTIONS[cell.question].kind.read(wrong)}
        wanted = counts(tried(lab, replace(key, values=values)))
        told = {word: int(number) for number, word in NUMBER.findall(found.explanation.seen)}
        assert told == wanted, f"{cell} {wrong}: {found.explanation.seen}"
        confirmed += 1
    assert confirmed > 40 // every


# --- What is never said -----------------------------------------------------------------------------------------------


def texts_of(cell: CellMark) -> str:
    said = cell.explanation
    if said is None:
        return ""
    return f"{said.explanation} {said.consequence} {said.seen} {said.hint} {said.rests_on} {said.example}"


@pytest.mark.parametrize("papers", many((4, 12), (4,)))
def test_no_text_gives_away_the_right_address_mask_or_mac_or_a_port(papers: int):
    """In any notation. What the trainee wrote may be repeated, so a right value that was written elsewhere is let be."""
    rng = random.Random(11)
    looked_at = 0
    for lab in (LAB, *draw(exercise_of(changed(tables=shaped(CHAIN))), 3)):
        cells = list(planted(lab, rng))
        for _ in range(papers):
            some = rng.sample(cells, 4)
            marked = marked_with(lab, {(cell.question, cell.row): wrong for cell, wrong, _, _ in some})
            for cell in marked.cells:
                text = texts_of(cell)
                if not text or not cell.expected:
                    continue
                looked_at += 1
                for notation in notations(cell):
                    assert not re.search(rf"(?<![\w.]){re.escape(notation)}(?![\w.])", text), (cell, text)
                assert not re.search(r"\b[A-Z]{1,2}/\d", text.replace(cell.given, "")), text
    assert looked_at > 12 * papers


def notations(cell: CellMark) -> Iterator[str]:
    """The expected address, mask or MAC in the notations that people know."""
    question = SECTIONS[cell.section].question(cell.question)
    kind = question.kind.name
    try:
        value = question.kind.read(cell.expected)
    except NotReadable:
        return
    if isinstance(value, IPv4Address):
        yield str(value)
        yield f"{int(value):08X}"
    elif "mask" in kind:
        yield str(IPv4Address((0xFFFFFFFF << (32 - value)) & 0xFFFFFFFF))
        yield f"/{value}"
    elif kind == "a MAC address":
        digits = str(value).replace("-", "")
        yield from (str(value), str(value).replace("-", ":"), digits, digits.lower(), str(value).lower())
