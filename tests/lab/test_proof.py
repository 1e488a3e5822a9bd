"""The proof of a key: right keys pass it, wrong ones do not, and what it cannot see is listed here in full."""

import os
from collections.abc import Iterable
from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from single_errors import SingleError, cell, single_errors, with_cells

from trainer.lab.exercise import Exercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.kinds import (
    BindingType,
)
from trainer.lab.proof import ProofFailed, _trial, prove
from trainer.lab.questions import FORM, pools
from trainer.lab.questions.subnets import network_of
from trainer.lab.scenario import OptionServer, Scenario, VlanNumbers, WayOut
from trainer.lab.trials import Trial, TrialKind, Tried
from trainer.network.addresses import Mac, usable_address
from trainer.network.devices import Missing, Part, PortName, PortRef, SwitchName
from trainer.network.packets import Delivered, Dropped, Reason

CHAIN = {"A": "", "B": "A", "C": "B"}
STAR = {"A": "", "B": "A", "C": "A", "D": "A"}
TREE = {"A": "", "B": "A", "C": "B", "D": "B", "E": "A"}
SERVER_IN_THE_MIDDLE = {"B": "", "A": "B", "C": "B"}

OF_OPTIONS = {TrialKind.BROADCAST}
"""Kinds of trial that only labs with an option ask for (tests/test_options.py)."""

LABS = [
    pytest.param({"gateway": gateway, "link_lengths": link, "order": order}, None, id=f"{gateway}, {link}, {order}")
    for gateway in ("first usable", "last usable")
    for link in ("/30", "/31")
    for order in ("largest first", "as listed")
] + [
    pytest.param({"gateway": "first usable", "link_lengths": "/30"}, CHAIN, id="a chain of three"),
    pytest.param({"gateway": "last usable", "link_lengths": "/31"}, CHAIN, id="a chain of three, last usable, /31"),
    pytest.param({"order": "as listed"}, STAR, id="a star of four, as listed"),
    pytest.param({"gateway": "last usable"}, TREE, id="a tree of five"),
    pytest.param({"link_lengths": "/31"}, SERVER_IN_THE_MIDDLE, id="the server in the middle"),
]


# --- Right keys -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("choices", "links"), LABS)
def test_the_key_of_a_drawn_lab_is_proved(choices, links):
    exercise = exercise_of(changed(tables=None if links is None else shaped(links), **choices))
    for scenario in draw(exercise, 3):
        proof = prove(scenario, derive_key(scenario))
        assert all(trial.as_wanted for trial in proof.trials)
        kinds = set(TrialKind) - OF_OPTIONS
        assert all(proof.count(kind) for kind in kinds), "every kind of trial was made"


def test_every_kind_of_trial_is_made_as_often_as_the_lab_asks_for():
    scenario = bakery()
    proof = prove(scenario, derive_key(scenario))
    assert {kind: proof.count(kind) for kind in TrialKind if kind not in OF_OPTIONS} == {
        TrialKind.LEASE: 6,
        TrialKind.RENEWAL: 6,
        TrialKind.LAST_LEASE: 3,
        TrialKind.BINDINGS: 2,
        TrialKind.PING: 9 * 8,
        TrialKind.REACH: 10 * 3 - 2,
        TrialKind.ROGUE_SERVER: 8,
        TrialKind.ROGUE_ON_LINK: 1,
        TrialKind.FORGED_ADDRESS: 8,
        TrialKind.FORGED_MAC: 8,
    }


def test_a_protective_trial_is_stored_with_its_control():
    """It counts only if the same trial with the protection off gets through."""
    scenario = bakery()
    trials = prove(scenario, derive_key(scenario)).trials
    protective = {
        TrialKind.ROGUE_SERVER,
        TrialKind.ROGUE_ON_LINK,
        TrialKind.FORGED_ADDRESS,
        TrialKind.FORGED_MAC,
    }
    assert all(bool(trial.control) == (trial.kind in protective) for trial in trials)
    assert {trial.control for trial in trials if trial.kind is TrialKind.FORGED_MAC} == {"arrived at DHCP server"}


BY_GUARD = Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"))
BY_ROUTING = Dropped("B", Reason.NO_ROUTE, Missing("B", Part.ROUTE, "10.20.2.229"))
ARRIVED = Delivered("DHCP server", ("Tills 1", "B", "A", "DHCP server"))


@pytest.mark.parametrize(
    ("protected", "control", "counts"),
    [
        pytest.param(BY_GUARD, ARRIVED, True, id="dropped, and without the protection it arrives"),
        pytest.param(BY_GUARD, BY_ROUTING, False, id="it would not have arrived anyway"),
        pytest.param(BY_ROUTING, ARRIVED, False, id="dropped for another reason"),
        pytest.param(ARRIVED, ARRIVED, False, id="it got through"),
    ],
)
def test_a_protective_trial_counts_only_if_the_protection_is_what_stopped_it(protected, control, counts):
    """A trial that could not fail proves nothing (common practice, no source)."""
    trial = Trial(kind=TrialKind.FORGED_ADDRESS, source="Tills 1", target="Ovens 1")
    tried = Tried(trial=trial, outcome=protected, control=control)
    assert _trial(tried).as_wanted is counts


def test_the_key_of_the_lab_made_by_hand_is_the_plan_worked_out_on_paper():
    """Largest first (rule 3), each at the next multiple of its size (RFC 4632 5.1)."""
    key = derive_key(bakery())
    planned = {row: f"{cell(key, 'subnets.network', row)}/{cell(key, 'subnets.prefix', row)}" for row in VLANS}
    assert planned == {
        "30": "10.20.0.0/23",
        "20": "10.20.2.0/25",
        "40": "10.20.2.128/26",
        "50": "10.20.2.192/27",
        "10": "10.20.2.224/28",
    }
    assert str(cell(key, "links.network", "A-B")) == "10.20.2.240"


VLANS = ("10", "20", "30", "40", "50")


# --- Keys with one wrong setting, and what is said of them ------------------------------------------------------------


def ip(text: str) -> IPv4Address:
    return IPv4Address(text)


def ports(*names: int) -> frozenset[PortName]:
    return frozenset(PortName(str(name)) for name in names)


SABOTAGE = [
    pytest.param(
        {("subnets.gateway", "20"): ip("10.20.2.2")},
        "lease, Ovens 1",
        "10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.2; "
        "the key predicts 10.20.2.11 /25, router 10.20.2.2, 6 h through relay 10.20.2.1",
        id="a gateway one too high",
    ),
    pytest.param(
        {("subnets.gateway", "40"): ip("10.20.2.193")},
        "lease, Tills 1",
        "dropped at B: nobody answers at that address (network of VLAN interface 40, B)",
        id="a gateway that overlaps the next network",
    ),
    pytest.param(
        {("subnets.mask", "20"): 26},
        "lease, Ovens 1",
        "10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.1; "
        "the key predicts 10.20.2.11 /26, router 10.20.2.1, 6 h through relay 10.20.2.1",
        id="a mask of a VLAN interface one bit long",
    ),
    pytest.param(
        {("subnets.mask", "50"): 26},
        "lease, Tills 1",
        "dropped at B: nobody answers at that address (network of VLAN interface 50, B)",
        id="a mask of a VLAN interface one bit short",
    ),
    pytest.param(
        {("ports.vlan", "B/6"): 40},
        "ping between stations, DHCP server to Cameras",
        "dropped at B: nobody answers at that address (port 6, B)",
        id="an access port in another VLAN",
    ),
    pytest.param(
        {("ports.vlan", "A/24"): 20},
        "lease, Tills 1",
        "dropped at B: nobody answers at that address (port 24, A)",
        id="a link port in a VLAN",
    ),
    pytest.param(
        {("ports.vlan", "B/1"): None},
        "lease, Tills 1",
        "dropped at Tills 1: the port carries no VLAN and no address (no port 1, B)",
        id="an access port that is not set",
    ),
    pytest.param(
        {("links.first", "A-B"): ip("10.20.2.242"), ("links.second", "A-B"): ip("10.20.2.241")},
        "lease, Tills 1",
        "dropped at B: no route leads to the destination (next hop of static route B to 10, B)",
        id="both addresses of a link swapped",
    ),
    pytest.param(
        {("links.first", "A-B"): ip("10.20.2.240")},
        "lease, Tills 1",
        "dropped at B: nobody answers at that address (address of routed port 24, A)",
        id="the network address as an end of a link",
    ),
    pytest.param(
        {("links.mask", "A-B"): 31},
        "lease, Tills 1",
        "dropped at B: no route leads to the destination (network of routed port 23, B)",
        id="a mask of a link one bit long",
    ),
    pytest.param(
        {("routes", "A to 50"): None},
        "ping between stations, DHCP server to Cameras",
        "dropped at A: no route leads to the destination (no static route 10.20.2.196, A)",
        id="a route missing on the server's side",
    ),
    pytest.param(
        {("routes", "B to 10"): None},
        "lease, Tills 1",
        "dropped at B: no route leads to the destination (no static route 10.20.2.229, B)",
        id="the route back to the server missing",
    ),
    pytest.param(
        {("routes", "B to 20"): None},
        "ping between stations, Ovens 1 to Tills 1",
        "dropped at B: no route leads to the destination (no static route 10.20.2.11, B)",
        id="a route missing between networks without the server",
    ),
    pytest.param(
        {("routes.mask", "A to 30"): 24},
        "ping to a needed address, DHCP server to last needed address of VLAN 30 (no. 300)",
        "dropped at A: no route leads to the destination (destination of static route A to 30, A)",
        id="a mask of a route one bit long",
    ),
    pytest.param(
        {("routes.mask", "B to 10"): 29},
        "ping to a needed address, first needed address of VLAN 30 (no. 2) to last needed address of VLAN 10 (no. 12)",
        "dropped at B: no route leads to the destination (destination of static route B to 10, B)",
        id="a mask of the route to the server one bit long",
    ),
    pytest.param(
        {("routes.next_hop", "A to 30"): ip("10.20.2.241")},
        "lease, Tills 1",
        "dropped at A: no route leads to the destination (next hop of static route A to 30, A)",
        id="a next hop that is the switch itself",
    ),
    pytest.param(
        {("routes.next_hop", "A to 40"): ip("10.20.2.129")},
        "lease, Scales 1",
        "dropped at A: no route leads to the destination (next hop of static route A to 40, A)",
        id="a next hop beyond the neighbour",
    ),
    pytest.param(
        {("routes.switch", "A to 40"): SwitchName("B")},
        "lease, Scales 1",
        "dropped at A: no route leads to the destination (no static route 10.20.2.129, A)",
        id="a route on the other switch",
    ),
    pytest.param(
        {("routes.destination", "A to 50"): ip("10.20.2.128")},
        "ping between stations, DHCP server to Cameras",
        "dropped at A: no route leads to the destination (no static route 10.20.2.196, A)",
        id="a route to another network",
    ),
    pytest.param(
        {("pools.first", "30"): ip("10.20.0.1")},
        "lease, Tills 1",
        "10.20.0.3 /23, router 10.20.0.1, 6 h through relay 10.20.0.1; "
        "the key predicts 10.20.0.11 /23, router 10.20.0.1, 6 h through relay 10.20.0.1",
        id="a pool that starts at the gateway",
    ),
    pytest.param(
        {("pools.first", "30"): ip("10.20.0.10")},
        "lease, Tills 1",
        "10.20.0.10 /23, router 10.20.0.1, 6 h through relay 10.20.0.1; "
        "the key predicts 10.20.0.11 /23, router 10.20.0.1, 6 h through relay 10.20.0.1",
        id="a pool that starts one too low",
    ),
    pytest.param(
        {("pools.first", "40"): ip("10.20.2.135")},
        "lease, Scales 1",
        "10.20.2.136 /26, router 10.20.2.129, 6 h through relay 10.20.2.129; "
        "the key predicts 10.20.2.139 /26, router 10.20.2.129, 6 h through relay 10.20.2.129",
        id="a pool that starts at a fixed station",
    ),
    pytest.param(
        {("pools.last", "40"): ip("10.20.2.139")},
        "lease, Scales 2",
        "dropped at DHCP server: the pool has no free address left (last address of address pool 40, DHCP server)",
        id="a pool too small for its stations",
    ),
    pytest.param(
        {("pools.mask", "20"): 24},
        "lease, Ovens 1",
        "10.20.2.11 /24, router 10.20.2.1, 6 h through relay 10.20.2.1; "
        "the key predicts 10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.1",
        id="a mask of a pool one bit short",
    ),
    pytest.param(
        {("pools.router", "20"): ip("10.20.2.2")},
        "lease, Ovens 1",
        "10.20.2.11 /25, router 10.20.2.2, 6 h through relay 10.20.2.1; "
        "the key predicts 10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.1",
        id="a wrong router",
    ),
    pytest.param(
        {("pools.last", "40"): None},
        "lease, Scales 1",
        (
            "dropped at DHCP server: the server has no pool for the network the request came from "
            "(no address pool 10.20.2.129, DHCP server)"
        ),
        id="a pool without a last address",
    ),
    pytest.param(
        {("relays", "30"): None},
        "lease, Tills 1",
        "dropped at B: no relay agent listens on the VLAN and the server is not in it (no relay agent 30, B)",
        id="a relay agent missing",
    ),
    pytest.param(
        {("relays.server", "30"): ip("10.20.2.230")},
        "lease, Tills 1",
        "dropped at A: nobody answers at that address (target of relay agent 30, B)",
        id="a relay target one off",
    ),
    pytest.param(
        {("relays.server", "20"): ip("10.20.2.225")},
        "lease, Ovens 1",
        "dropped at A: no DHCP server is at the relay target (target of relay agent 20, A)",
        id="a relay target that is the server's gateway",
    ),
    pytest.param(
        {("pools.lease", "20"): 3600},
        "lease, Ovens 1",
        "10.20.2.11 /25, router 10.20.2.1, 1 h through relay 10.20.2.1; "
        "the key predicts 10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.1",
        id="a lease of another duration than rule 9 says",
    ),
    pytest.param(
        {("relays.giaddr", "30"): ip("10.20.2.242")},
        "lease, Tills 1",
        "10.20.0.11 /23, router 10.20.0.1, 6 h through relay 10.20.0.1; "
        "the key predicts 10.20.0.11 /23, router 10.20.0.1, 6 h through relay 10.20.2.242",
        id="a giaddr that is the address of the uplink",
    ),
    pytest.param(
        {("bindings.address", "Ovens 2"): ip("10.20.2.11")},
        "lease, Ovens 2",
        "10.20.2.12 /25, router 10.20.2.1, 6 h through relay 10.20.2.1; "
        "the key predicts 10.20.2.11 /25, router 10.20.2.1, 6 h through relay 10.20.2.1",
        id="a dynamic row with the address of the client before it",
    ),
    pytest.param(
        {("protection.trusted", "A"): frozenset()},
        "lease, Ovens 1",
        "dropped at A: a DHCP server message came in on a port that is not trusted (no trusted port 1, A)",
        id="no trust at the server's port",
    ),
    pytest.param(
        {("protection.trusted", "B"): frozenset()},
        "lease, Tills 1",
        "dropped at B: a DHCP server message came in on a port that is not trusted (no trusted port 23, B)",
        id="no trust at the uplink",
    ),
    pytest.param(
        {("protection.trusted", "B"): ports(23, 5)},
        "rogue server, Scales 3 offers an address to Scales 1",
        "arrived at Scales 1; with the protection off: arrived at Scales 1",
        id="trust at a fixed station's port",
    ),
    pytest.param(
        {("protection.trusted", "B"): ports(23, 1)},
        "ping between stations, DHCP server to Tills 1",
        "dropped at B: source guard found no binding row for the sender (trusted port 1, B)",
        id="trust at a client's port",
    ),
    pytest.param(
        {("protection.snooped", "A"): frozenset({10})},
        "ping between stations, DHCP server to Ovens 1",
        "dropped at A: source guard found no binding row for the sender (no DHCP snooping 20, A)",
        id="a snooped VLAN missing",
    ),
    pytest.param(
        {("protection.snooped", "B"): frozenset()},
        "ping between stations, DHCP server to Tills 1",
        "dropped at B: source guard found no binding row for the sender (no DHCP snooping 30, B)",
        id="no snooping on a switch at all",
    ),
    pytest.param(
        {("protection.guarded", "B"): ports(1, 2, 3, 4, 5)},
        "forged source address, Cameras sends to the server with the address of Ovens 1",
        "arrived at DHCP server; with the protection off: arrived at DHCP server",
        id="guard missing on a fixed station's port",
    ),
    pytest.param(
        {("protection.guarded", "A"): ports(3)},
        "forged source address, Ovens 1 sends to the server with the address of Ovens 2",
        "arrived at DHCP server; with the protection off: arrived at DHCP server",
        id="guard missing on a client's port",
    ),
    pytest.param(
        {("protection.guarded", "A"): ports(1, 2, 3)},
        "lease, Ovens 1",
        "dropped at A: source guard found no binding row for the sender (no binding row A/1, A)",
        id="guard on the server's port",
    ),
    pytest.param(
        {("protection.guarded", "B"): ports(1, 2, 3, 4, 5, 6, 23)},
        "lease, Tills 1",
        "dropped at B: source guard found no binding row for the sender (source guard 23, B)",
        id="guard on the uplink",
    ),
    pytest.param(
        {("bindings", "Scales 3"): None},
        "ping between stations, DHCP server to Scales 3",
        "dropped at B: source guard found no binding row for the sender (no binding row B/5, B)",
        id="a static row missing",
    ),
    pytest.param(
        {("bindings.mac", "Scales 3"): Mac("02-00-00-00-00-09")},
        "ping between stations, DHCP server to Scales 3",
        "dropped at B: source guard found no binding row for the sender (MAC of binding row Scales 3, B)",
        id="a static row with another MAC",
    ),
    pytest.param(
        {("bindings.port", "Cameras"): PortRef(SwitchName("B"), PortName("5"))},
        "ping between stations, DHCP server to Cameras",
        "dropped at B: source guard found no binding row for the sender (port of binding row Cameras, B)",
        id="a static row for another port",
    ),
    pytest.param(
        {("bindings.type", "Cameras"): BindingType.DYNAMIC},
        "ping between stations, DHCP server to Cameras",
        "dropped at B: source guard found no binding row for the sender (no binding row B/6, B)",
        id="a static row called dynamic",
    ),
    pytest.param(
        {("stations.address", "DHCP server"): ip("10.20.2.230")},
        "lease, Ovens 1",
        "dropped at A: nobody answers at that address (target of relay agent 20, A)",
        id="the server at another address",
    ),
    pytest.param(
        {("stations.gateway", "DHCP server"): ip("10.20.2.230")},
        "lease, Ovens 1",
        "dropped at DHCP server: nobody answers at that address (gateway of station DHCP server)",
        id="the server with a wrong gateway",
    ),
    pytest.param(
        {("stations.gateway", "Scales 3"): ip("10.20.2.193")},
        "ping between stations, DHCP server to Scales 3",
        "dropped at Scales 3: the gateway is not in the station's own network (gateway of station Scales 3)",
        id="a station with another network's gateway",
    ),
    pytest.param(
        {("stations.mask", "Cameras"): 26},
        "ping between stations, DHCP server to Cameras",
        "dropped at Cameras: nobody answers at that address (mask of station Cameras)",
        id="a station with too wide a mask",
    ),
    pytest.param(
        {("stations.address", "Cameras"): ip("10.20.2.193")},
        "ping between stations, DHCP server to Cameras",
        "dropped at B: another device has the address and took the packet (address of station Cameras)",
        id="a station with the gateway's address",
    ),
    pytest.param(
        {("stations.address", "Cameras"): ip("10.20.2.223")},
        "ping between stations, DHCP server to Cameras",
        "dropped at B: the destination is a network address or a broadcast address (address of station Cameras)",
        id="a station with the broadcast address",
    ),
]


@pytest.mark.parametrize(("wrong", "trial", "seen"), SABOTAGE)
def test_error_a_key_with_one_wrong_setting_fails_its_proof(wrong, trial, seen):
    """The text names the lab, the trial, and what was seen: where the packet was dropped, why, because of what."""
    scenario = bakery()
    key = derive_key(scenario)
    with pytest.raises(ProofFailed) as failure:
        prove(scenario, with_cells(key, wrong))
    assert str(failure.value) == (
        f"Lab BUN-TEST failed its proof and was not written. Trial: {trial}. Seen: {seen}. That is a fault of this program: "
        "please send us the exercise workbook."
    )


def key_that_follows(scenario: Scenario, wrong: dict[tuple[str, str], Any]) -> Answers:
    """A key with some wrong values and everything that rests on them worked out from there, without a contradiction."""
    right = derive_key(scenario)
    given = {CellRef(question, RowKey(row)): value for (question, row), value in wrong.items()}
    questions: dict[str, Question[Any, Any]] = {each.id: each for section in FORM for each in section.questions}
    so_far = SoFar(scenario, given)
    return Answers(
        values={each: so_far.value(questions[each.question], each.row) for each in right.values}, rows=right.rows
    )


CONSISTENT = [
    pytest.param(
        {("subnets.prefix", "20"): 26},
        "ping to a needed address, DHCP server to last needed address of VLAN 20 (no. 100)",
        "dropped at B: nobody answers at that address",
        id="one network planned a bit too small",
    ),
    pytest.param(
        {("subnets.network", "20"): IPv4Address("10.20.1.128")},
        "ping between stations, Ovens 1 to Tills 1",
        "dropped at Tills 1: nobody answers at that address",
        id="one network planned onto another's addresses",
    ),
    pytest.param(
        {("stations.address", "DHCP server"): IPv4Address("10.20.2.225")},
        "lease, Ovens 1",
        "dropped at A: no DHCP server is at the relay target",
        id="the server on its gateway's address, relays and all",
    ),
]


@pytest.mark.parametrize(("wrong", "trial", "seen"), CONSISTENT)
def test_error_a_plan_that_is_wrong_without_contradicting_itself_fails_its_proof(wrong, trial, seen):
    scenario = bakery()
    with pytest.raises(ProofFailed) as failure:
        prove(scenario, key_that_follows(scenario, wrong))
    assert f"Trial: {trial}. Seen: {seen}" in str(failure.value)


def test_a_plan_that_follows_from_right_values_is_the_key():
    scenario = bakery()
    assert key_that_follows(scenario, {}) == derive_key(scenario)


# --- Every single error there is, and those the proof cannot see -------------------------------------------------------


ALL = "every row"
DYNAMIC = ("Ovens 1", "Ovens 2", "Tills 1", "Tills 2", "Scales 1", "Scales 2")
NEAR_AND_BLANK = ("one higher", "one lower", "blank")

BLIND: list[tuple[str, tuple[str, ...], str | tuple[str, ...], str]] = [
    ("subnets.network", ("one higher",), ALL, "with the prefix length it still names the same network"),
    ("subnets.prefix", ("one bit long", "one bit short", "blank"), ALL, "describes: no device is given it"),
    ("subnets.first", NEAR_AND_BLANK, ALL, "describes: no device is given it"),
    ("subnets.last", NEAR_AND_BLANK, ALL, "describes: no device is given it"),
    ("subnets.broadcast", NEAR_AND_BLANK, ALL, "describes: no device is given it"),
    ("links.network", NEAR_AND_BLANK, ALL, "describes: no device is given it"),
    ("links.mask", ("one bit short",), ALL, "the two ends still agree, and nobody else has those addresses"),
    ("stations.mask", ("one bit long",), ALL, "the gateway is still inside: neighbours take a detour through it"),
    ("stations.mask", ("one bit short",), ("DHCP server",), "nobody has the addresses that now seem to be next door"),
    (
        "routes.mask",
        ("one bit short",),
        ALL,
        "connected networks are longer, and the rest is nobody's or goes there too",
    ),
    ("pools.last", ("one higher", "one lower"), ALL, "no pool is used to its end"),
    ("protection.snooped", ("without 10",), ("A",), "only the server is in VLAN 10, so nobody can be fooled there"),
    ("protection.snooped", ("with 30", "with 40", "with 50"), ("A",), "the switch has no such VLAN"),
    ("protection.snooped", ("with 10", "with 20"), ("B",), "the switch has no such VLAN"),
]
"""Single errors in the key of bakery() that its proof cannot see, and why: question, errors, rows, reason."""


def test_the_proof_sees_every_single_error_except_those_listed():
    scenario = bakery()
    errors = list(single_errors(scenario, derive_key(scenario)))
    assert len(errors) > 450
    assert unseen(scenario, errors) == blind(scenario)


def unseen(scenario: Scenario, errors: Iterable[SingleError]) -> set[tuple[str, str, str]]:
    """Those that a key with them in it is proved with: question, error, row."""
    key, found = derive_key(scenario), set()
    for question, row, error, wrong in errors:
        try:
            prove(scenario, with_cells(key, wrong))
        except ProofFailed:
            continue
        found.add((question, error, row))
    return found


def blind(scenario: Scenario) -> set[tuple[str, str, str]]:
    """The list above, written out: question, error, row."""
    rows = {question.id: section.rows(scenario) for section in FORM for question in section.questions}
    written_out = set()
    for question, errors, which, reason in BLIND:
        assert reason
        for row in [each.key for each in rows[question]] if which == ALL else which:
            for error in errors:
                written_out.add((question, error, row))
    return written_out


def with_every_option() -> Scenario:
    """bakery() with all that only some labs ask: every option of the pools, VLAN numbers that may repeat, a way out."""
    scenario = bakery()
    way_out = WayOut(
        at=PortRef(SwitchName("A"), PortName("23")),
        network=IPv4Network("198.51.100.0/30"),
        address=ip("198.51.100.1"),
        neighbour=ip("198.51.100.2"),
        test_network=IPv4Network("203.0.113.0/24"),
        test_address=ip("203.0.113.5"),
    )
    options = dict.fromkeys(pools.OPTIONS, OptionServer.DHCP_SERVER)
    rules = replace(scenario.rules, **options, vlan_numbers=VlanNumbers.MAY_REPEAT)
    return replace(scenario, rules=rules, way_out=way_out)


def test_the_proof_sees_every_single_error_in_what_only_some_labs_ask():
    """A DNS server was once compared with its own cell, and a station's own port was heard by nobody."""
    plain, scenario = bakery(), with_every_option()
    known = {(question, row) for question, row, _, _ in single_errors(plain, derive_key(plain))}
    errors = [each for each in single_errors(scenario, derive_key(scenario)) if each[:2] not in known]
    options = {question.id for question in pools.OPTIONS.values()}
    assert options | {"relays.switch", "subnets.heard", "routes.next_hop"} <= {question for question, *_ in errors}
    assert unseen(scenario, errors) == set()


@pytest.mark.many
def test_with_every_option_the_proof_sees_what_it_sees_without_but_for_routes_beside_a_default_route():
    """Where B's default route takes everything to A, nothing is lost without its other routes."""
    scenario = with_every_option()
    found = unseen(scenario, single_errors(scenario, derive_key(scenario)))
    beside = {each for each in found if each[0].startswith("routes") and each[2] in ("B to 10", "B to 20")}
    no_shorter = {("routes.mask", "one bit short", row) for row in ("A to outside", "B to outside")}
    assert found - beside == blind(scenario) - beside - no_shorter


def test_error_a_key_with_another_dns_server_than_the_brief_gives_is_not_proved():
    """Rule Pools: the DHCP server's own address (RFC 2132 3.8 is the option that tells of it)."""
    scenario = bakery()
    scenario = replace(scenario, rules=replace(scenario.rules, dns_server=OptionServer.DHCP_SERVER))
    key = with_cells(derive_key(scenario), {("pools.dns", "30"): ip("10.20.0.0")})
    with pytest.raises(ProofFailed) as failure:
        prove(scenario, key)
    assert (
        "Trial: lease, Tills 1. Seen: 10.20.0.11 /23, router 10.20.0.1, DNS server 10.20.0.0, 6 h through relay 10.20.0.1; "
        "the key predicts 10.20.0.11 /23, router 10.20.0.1, DNS server 10.20.2.229, 6 h through relay 10.20.0.1."
    ) in str(failure.value)


# --- Exercises of every make ------------------------------------------------------------------------------------------

one_section_asked = ({"section": "Subnets", "asked": "yes", "share": "100"},)


@st.composite
def small_exercises(draw_from: st.DrawFn):
    """Exercise workbooks whose networks are so tight that every border is met; not all of them can be set."""
    letters = "ABC"[: draw_from(st.integers(2, 3))]
    linked = {"A": "", "B": "A", "C": draw_from(st.sampled_from("AB"))}
    networks = []
    for place in range(draw_from(st.integers(1, 4))):
        dhcp, fixed = draw_from(st.sampled_from([0, 0, 1, 2, 2, 3])), draw_from(st.integers(0, 2))
        needed = max(2, dhcp + fixed + (place == 0) + 1) + draw_from(st.sampled_from([0, 0, 1, 2, 5, 30]))
        snooped = draw_from(st.booleans())
        networks.append(
            {
                "number": str(place + 1),
                "switch": draw_from(st.sampled_from(letters)),
                "vlans": "any",
                "names": f"Room {place}",
                "addresses_needed": str(needed),
                "dhcp_stations": str(dhcp),
                "fixed_stations": str(fixed),
                "is_snooped": "yes" if snooped else "no",
                "is_guarded": draw_from(st.sampled_from(["yes", "no"])) if snooped or not dhcp else "no",
            }
        )
    return changed(
        tables={
            "switches": tuple(
                {
                    "name": each,
                    "places": each,
                    "station_ports": "1-30",
                    "link_ports": "31-34",
                    "linked_to": linked[each],
                }
                for each in letters
            ),
            "networks": tuple(networks),
            "sections": one_section_asked,
        },
        gateway=draw_from(st.sampled_from(["first usable", "last usable"])),
        order=draw_from(st.sampled_from(["largest first", "as listed"])),
        link_lengths=draw_from(st.sampled_from(["/30", "/31"])),
        kept_for_fixed=str(draw_from(st.integers(0, 8))),
    )


@settings(
    max_examples=400 if os.environ.get("TRAINER_NIGHTLY") else 150,
    suppress_health_check=list(HealthCheck),
)
@given(small_exercises())
def test_every_exercise_without_faults_has_keys_that_are_proved(raw):
    exercise = read_exercise(raw)
    assume(isinstance(exercise, Exercise))
    (scenario,) = draw(exercise, 1)
    prove(scenario, derive_key(scenario))


def tight(needed: str, dhcp: str, fixed: str, guarded: str = "no", **settings: str):
    """The sample with a network of that make and, on it, nothing else but the server's network."""
    row = {"number": "2", "switch": "A", "vlans": "any", "names": "Room", "is_snooped": "yes", "is_guarded": guarded}
    room = {**row, "addresses_needed": needed, "dhcp_stations": dhcp, "fixed_stations": fixed}
    servers = {**room, "number": "1", "names": "Servers", "addresses_needed": "12"}
    servers |= {"dhcp_stations": "0", "fixed_stations": "0", "is_guarded": "no"}
    return changed(tables={"networks": (servers, room), "sections": one_section_asked}, **settings)


@pytest.mark.parametrize(
    ("needed", "gateway", "lease", "place"),
    [
        pytest.param("15", "first usable", 14, 24, id="the pool holds more than are needed"),
        pytest.param("21", "first usable", 20, 30, id="every address of the pool is needed"),
        pytest.param("20", "last usable", 19, 29, id="the one behind the pool is the gateway's"),
    ],
)
def test_the_last_address_that_is_needed_is_leased(needed, gateway, lease, place):
    """Rule Pools: with 10 reserved for static stations the pool starts at no. 11."""
    (scenario,) = draw(exercise_of(tight(needed, "2", "0", gateway=gateway)), 1)
    key = derive_key(scenario)
    (trial,) = (each for each in prove(scenario, key).trials if each.kind is TrialKind.LAST_LEASE)
    vlan = scenario.dhcp_vlans[0].number
    network = network_of(SoFar(scenario, key.values), vlan)
    assert trial.subject == f"lease no. {lease} in VLAN {vlan}"
    assert trial.seen.startswith(f"{network[place]} /27, ")


def test_a_network_whose_own_stations_take_every_lease_can_be_set():
    (scenario,) = draw(exercise_of(tight("3", "2", "0", kept_for_fixed="3")), 1)
    assert prove(scenario, derive_key(scenario)).count(TrialKind.LAST_LEASE) == 0


def test_error_a_pool_that_ends_before_the_last_needed_address_is_not_proved():
    scenario = bakery()
    key = derive_key(scenario)
    last = ("pools.last", "20")
    needed = usable_address(network_of(SoFar(scenario, key.values), 20), 10 + 99)
    prove(scenario, with_cells(key, {last: needed}))
    with pytest.raises(ProofFailed, match=r"last lease that is needed, lease no\. 99 in VLAN 20\."):
        prove(scenario, with_cells(key, {last: needed - 1}))


def test_the_key_of_a_lab_from_before_pools_had_to_serve_their_need_is_proved_and_says_so():
    lab = bakery()
    vlans = tuple(replace(vlan, addresses_needed=62) if vlan.id == 40 else vlan for vlan in lab.vlans)
    short = replace(lab, vlans=vlans)
    subjects = [each.subject for each in prove(short, derive_key(short)).trials if each.kind is TrialKind.LAST_LEASE]
    assert "lease no. 52 in VLAN 40 (drawn before pools had to hold all; it needs 60)" in subjects


def test_a_network_with_a_single_needed_address_beside_the_gateway_can_be_set():
    (scenario,) = draw(exercise_of(tight("2", "0", "0")), 1)
    prove(scenario, derive_key(scenario))


def test_a_lab_with_a_single_station_beside_the_server_can_be_set():
    raw = tight("12", "0", "1", guarded="yes")
    row = {**raw.tables["networks"][1], "number": "1", "addresses_needed": "3"}
    (scenario,) = draw(exercise_of(changed(raw, tables={"networks": (row,)})), 1)
    prove(scenario, derive_key(scenario))
