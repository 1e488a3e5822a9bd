"""Forms filled in in any way: the network they configure can be tried, and each drop leads to a cell or to what is missing.

TRAINER_NIGHTLY=1 fills in 3000 forms at random, else 60.
"""

import os
import random
from functools import cache
from ipaddress import IPv4Address
from itertools import permutations
from typing import Any

from drawn_labs import bakery, changed, draw, exercise_of, shaped
from every_trial import drops
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from single_errors import single_errors, with_cells

from trainer.lab.build import Built, build
from trainer.lab.form import Answers, CellRef, Question, RowKey
from trainer.lab.key import derive_key
from trainer.lab.kinds import (
    ADDRESS,
    BINDING_TYPE,
    DESTINATION,
    DOTTED_MASK,
    LEASE,
    MAC,
    MASK,
    PORT,
    PORT_SET,
    PORT_USE,
    PREFIX_LENGTH,
    ROUTE_MASK,
    ROUTED,
    SWITCH,
    VLAN,
    VLAN_SET,
    BindingType,
)
from trainer.lab.questions import FORM
from trainer.lab.scenario import Scenario
from trainer.network.addresses import Mac
from trainer.network.devices import Missing, Part, PortName, PortRef, SwitchName
from trainer.network.dhcp import request_lease
from trainer.network.packets import Dropped
from trainer.network.topology import Running
from trainer.network.trials import ping, traced

COUNT = 3000 if os.environ.get("TRAINER_NIGHTLY") else 60

OPEN_ROWS = {Part.ROUTE, Part.RELAY, Part.BINDING}
"""Parts that are rows of an open section: what is missing there has no cell."""


def test_every_part_of_a_device_is_set_up_in_a_section_and_its_cells_tell_the_same():
    lab = bakery()
    built = build(lab, derive_key(lab))
    sections = {part: built.section(Missing("A", part, "nowhere")) for part in Part}
    for setting, cells in built.where.items():
        assert built.section(setting) is sections[setting.part]
        assert {cell.question.split(".")[0] for cell in cells} <= {sections[setting.part].id}, setting


def leads_to_a_cell(built: Built, drop: Dropped) -> bool:
    """Whether the cause of the drop is a cell of the form, or something that is not there."""
    return bool(built.cells(drop.because)) or isinstance(drop.because, Missing)


# --- Every single error ------------------------------------------------------------------------------------------------


def test_every_drop_of_every_single_error_leads_to_a_cell_or_to_what_is_missing():
    scenario = bakery()
    key = derive_key(scenario)
    seen = set()
    for _, _, _, wrong in single_errors(scenario, key):
        built = build(scenario, with_cells(key, wrong))
        for drop in drops(built.network):
            assert leads_to_a_cell(built, drop), drop
            seen.add(drop.reason)
    assert len(seen) >= 9, "the errors make the network fail in many ways"


def first_drop(built: Built):
    """The first lease or ping that fails, with the steps that led there; None where all is well."""
    running = Running(built.network)
    stations = built.network.stations
    for station in stations:
        if station.uses_dhcp:
            found = traced(request_lease, running, station)
            if isinstance(found.result, Dropped):
                return found
    for source, target in permutations(stations, 2):
        if ping(running, source, target).drop is not None:
            return traced(lambda *pinged: ping(*pinged).drop, running, source, target)
    return None


def test_the_drop_mostly_names_the_wrong_cell_and_the_steps_always_do():
    """Where two settings contradict each other, nothing tells which is wrong; then the other one is a suspect.

    A row of an open section that is not whole is as if it were not there: what is named is missing then.
    """
    scenario = bakery()
    key = derive_key(scenario)
    named, suspected, unnamed = 0, 0, []
    for question, row, error, wrong in single_errors(scenario, key):
        built = build(scenario, with_cells(key, wrong))
        found = first_drop(built)
        if found is None:
            continue
        cell = CellRef(question, RowKey(row))
        if cell in built.cells(found.result.because):
            named += 1
        elif any(cell in built.cells(each) for step in found.steps for each in step.decided_by):
            suspected += 1
        elif not (isinstance(found.result.because, Missing) and found.result.because.part in OPEN_ROWS):
            unnamed.append((question, row, error, str(found.result)))
    assert unnamed == []
    assert named > 8 * suspected


# --- Anything at all ----------------------------------------------------------------------------------------------------


@cache
def labs() -> tuple[tuple[Scenario, Answers], ...]:
    """Two switches, a chain of three with links of two addresses, a star; each with its key."""
    drawn = [
        draw(exercise_of(changed(tables=shaped(links), **choices)), 1)[0]
        for links, choices in (
            ({"A": "", "B": "A", "C": "B"}, {"link_lengths": "/31", "gateway": "last usable"}),
            ({"A": "", "B": "A", "C": "A", "D": "A"}, {"dns_server": "the DHCP server"}),
        )
    ]
    return tuple((scenario, derive_key(scenario)) for scenario in (bakery(), *drawn))


def any_value(rng: random.Random, kind: object, key: Answers, scenario: Scenario) -> Any:
    """A value that a cell of the kind can hold, mostly one that stands somewhere in the key or near it."""
    known = [value for value in key.values.values() if isinstance(value, IPv4Address)]
    vlans = [*(vlan.number for vlan in scenario.vlans), 1, 0, 4095, 9_999_999_999]
    ports = [PortName(str(number)) for number in (*range(1, 25), 48, 999)]
    letters = [*(switch.name for switch in scenario.switches), SwitchName("ZZ")]
    macs = [*(station.mac for station in scenario.stations), Mac("FF-FF-FF-FF-FF-FF")]
    special = [0, 1, 0x7F000001, 0xE0000005, 0xFFFFFFFF, rng.getrandbits(32)]
    near = IPv4Address(min(max(int(rng.choice(known)) + rng.randint(-2, 2), 0), 0xFFFFFFFF))
    return {
        **dict.fromkeys((ADDRESS, DESTINATION), near if rng.random() < 0.9 else IPv4Address(rng.choice(special))),
        **dict.fromkeys(
            (MASK, DOTTED_MASK, ROUTE_MASK, PREFIX_LENGTH), rng.choice([24, 25, 26, 30, rng.randint(0, 32)])
        ),
        VLAN: rng.choice(vlans),
        PORT_USE: rng.choice([*vlans, ROUTED]),
        PORT: PortRef(rng.choice(letters), rng.choice(ports)),
        PORT_SET: frozenset(rng.sample(ports, rng.randint(0, 4))),
        VLAN_SET: frozenset(rng.sample(vlans, rng.randint(0, 3))),
        MAC: rng.choice(macs),
        LEASE: rng.choice([0, 1, 21600, 0xFFFFFFFF]),
        SWITCH: rng.choice(letters),
        BINDING_TYPE: rng.choice(list(BindingType)),
    }[kind]


def any_form(rng: random.Random, scenario: Scenario, key: Answers) -> Answers:
    """The key with a share of its cells changed or blank, rows left out, and rows that nobody asked for."""
    share = rng.choice([0.01, 0.05, 0.2, 1.0])
    values: dict[CellRef, Any] = {}
    rows = {}
    for section in FORM:
        keys = [row.key for row in section.rows(scenario)]
        if section.open is not None:
            keys = [each for each in keys if rng.random() >= share / 2]
            keys += [section.open.named(95 + extra) for extra in range(rng.randint(0, 3))]
            rng.shuffle(keys)
            rows[section.id] = tuple(keys)
        for row in keys:
            for question in section.questions_in(scenario):
                value = _value(rng, question, row, key, scenario, share)
                if value is not None:
                    values[CellRef(question.id, row)] = value
    return Answers(values=values, rows=rows)


def _value(
    rng: random.Random, question: Question[Any, Any], row: RowKey, key: Answers, scenario: Scenario, share: float
) -> Any:
    if rng.random() >= share and CellRef(question.id, row) in key.values:
        return key.values[CellRef(question.id, row)]
    return None if rng.random() < 0.2 else any_value(rng, question.kind, key, scenario)


@settings(max_examples=COUNT, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9))
def test_whatever_a_form_holds_every_trial_ends_and_every_drop_leads_somewhere(seed):
    rng = random.Random(seed)
    scenario, key = rng.choice(labs())
    built = build(scenario, any_form(rng, scenario, key))
    known = [value for value in key.values.values() if isinstance(value, IPv4Address)]
    for drop in drops(built.network, tuple(rng.sample(known, 3))):
        assert leads_to_a_cell(built, drop), drop
