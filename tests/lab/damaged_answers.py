"""Answers with wrong cells, as trainees write them: at random."""

import random
from ipaddress import IPv4Address
from typing import Any

from trainer.lab.form import Answers, CellRef, Role, RowKey
from trainer.lab.kinds import (
    ADDRESS,
    BINDING_TYPE,
    DESTINATION,
    LEASE,
    MAC,
    PORT,
    PORT_SET,
    PORT_USE,
    ROUTED,
    SWITCH,
    VLAN,
    VLAN_SET,
    BindingType,
)
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.network.addresses import Mac
from trainer.network.devices import PortName, PortRef, SwitchName


def written_row(section: str, number: int) -> RowKey:
    """A row that a trainee has written into an open section, called as its sheet calls it."""
    form = SECTIONS[section].open
    assert form is not None, f"{section} is not open"
    return form.named(number)


def randomly_damaged(lab: Scenario, key: Answers, rng: random.Random, cells: int | None = None) -> Answers:
    """The key with so many of its configuring cells blank or wrong, each in a way its kind allows; rows may be copied."""
    values = dict(key.values)
    rows = {section: list(each) for section, each in key.rows.items()}
    places = [cell for cell in values if QUESTIONS[cell.question].role is Role.CONFIGURES]
    for cell in rng.sample(places, min(len(places), rng.randint(0, 12) if cells is None else cells)):
        value = _another(lab, values, cell, rng)
        if value is None:
            del values[cell]
        else:
            values[cell] = value
    if cells is None:
        for section, keys in rows.items():
            if keys and rng.random() < 0.2:
                original, copy = rng.choice(keys), written_row(section, len(keys) + 1)
                keys.append(copy)
                values.update(
                    {
                        CellRef(cell.question, copy): value
                        for cell, value in tuple(values.items())
                        if cell.row == original and cell.question.startswith(f"{section}.")
                    }
                )
    return Answers(values=values, rows={section: tuple(keys) for section, keys in rows.items()})


def _another(lab: Scenario, values: dict[CellRef, Any], cell: CellRef, rng: random.Random) -> Any:
    """Another value of the cell's kind, often one that stands elsewhere in the form; None leaves the cell blank."""
    if rng.random() < 0.15:
        return None
    kind = QUESTIONS[cell.question].kind
    value = values[cell]
    ports = [PortName(str(number)) for number in range(1, 25)]
    vlans = [vlan.number for vlan in lab.vlans] + [4095]
    if kind in (ADDRESS, DESTINATION):
        elsewhere = [each for each in values.values() if isinstance(each, IPv4Address)]
        near = IPv4Address(int(value) ^ 1 << rng.randrange(12))
        return rng.choice([near, rng.choice(elsewhere)])
    if kind in (VLAN, PORT_USE):
        return rng.choice([*vlans, ROUTED] if kind is PORT_USE else vlans)
    if kind is SWITCH:
        return rng.choice([switch.name for switch in lab.switches] + [SwitchName("Z")])
    if kind is MAC:
        return rng.choice([station.mac for station in lab.stations] + [Mac("02-00-00-00-00-FF")])
    if kind is PORT:
        return PortRef(rng.choice(lab.switches).name, rng.choice(ports))
    if kind is PORT_SET:
        return value ^ frozenset(rng.sample(ports, 2))
    if kind is VLAN_SET:
        return value ^ frozenset(rng.sample(vlans, 2))
    if kind is BINDING_TYPE:
        return BindingType.DYNAMIC if value is BindingType.STATIC else BindingType.STATIC
    if kind is LEASE:
        return rng.choice([600, 7200, 2**32 - 1])
    return max(0, min(32, value + rng.choice([-8, -2, -1, 1, 2, 8])))
