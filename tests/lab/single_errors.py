"""Keys with a wrong cell: every cell near its value and blank, every row missing."""

from collections.abc import Iterator
from typing import Any

from trainer.lab.form import Answers, CellRef, RowKey
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
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Scenario
from trainer.network.addresses import Mac
from trainer.network.devices import PortName, PortRef, SwitchName


def cell(answers: Answers, question: str, row: str) -> Any:
    return answers.values[CellRef(question, RowKey(row))]


def with_cells(key: Answers, wrong: dict[tuple[str, str], Any]) -> Answers:
    """The key with other values in some cells; None makes a cell blank, or takes an open row out."""
    values = {
        CellRef(question, RowKey(row)): value for (question, row), value in wrong.items() if question not in key.rows
    }
    assert values.keys() <= key.values.keys()
    return key.changed(values, without=[(place, RowKey(row)) for place, row in wrong if place in key.rows])


def wrong_values(scenario: Scenario, kind: object, value: Any, row: RowKey) -> Iterator[tuple[str, Any]]:
    """Wrong values that are near the right one, each with a name."""
    other_vlans = [vlan.number for vlan in scenario.vlans if vlan.number != value]
    if kind in (ADDRESS, DESTINATION):
        yield "one higher", value + 1
        if int(value):
            yield "one lower", value - 1
    elif kind in (DOTTED_MASK, MASK, ROUTE_MASK, PREFIX_LENGTH):
        yield "one bit long", value + 1
        if value:
            yield "one bit short", value - 1
    elif kind is VLAN:
        yield "another VLAN", other_vlans[0]
    elif kind is PORT_USE:
        yield from ((f"VLAN {other}", other) for other in other_vlans)
        if value is not ROUTED:
            yield "routed", ROUTED
    elif kind is VLAN_SET:
        for vlan in scenario.vlans:
            yield f"{'without' if vlan.number in value else 'with'} {vlan.number}", value ^ {vlan.number}
    elif kind is PORT_SET:
        switch = scenario.vlan_by_id[row.vlan].switch if isinstance(row, VlanRow) else SwitchName(row)
        for name in scenario.port_names(switch):
            yield f"{'without' if name in value else 'with'} {name}", value ^ {name}
    elif kind is PORT:
        yield "another port", PortRef(value.switch, PortName("19"))
    elif kind is MAC:
        yield "another MAC", Mac(value[:-2] + "FF")
    elif kind is LEASE:
        yield "an hour less", value - 3600
    elif kind is SWITCH:
        yield "another switch", next(each.name for each in scenario.switches if each.name != value)
    elif kind is BINDING_TYPE:
        yield "the other type", BindingType.STATIC if value is BindingType.DYNAMIC else BindingType.DYNAMIC
    else:
        raise AssertionError(f"{kind} needs wrong values of its own")


SingleError = tuple[str, str, str, dict[tuple[str, str], Any]]
"""Question or section, row, what is wrong, and the change."""


def single_errors(scenario: Scenario, key: Answers) -> Iterator[SingleError]:
    """Every cell near its value and blank, every row missing."""
    for section in FORM:
        for row in section.rows(scenario):
            for question in section.questions_in(scenario):
                value = cell(key, question.id, row.key)
                for error, wrong in wrong_values(scenario, question.kind, value, row.key):
                    yield question.id, row.key, error, {(question.id, row.key): wrong}
                if question.id not in NEVER_BLANK:
                    yield question.id, row.key, "blank", {(question.id, row.key): None}
            if section.open is not None:
                yield section.id, row.key, "row missing", {(section.id, row.key): None}


NEVER_BLANK = {"subnets.network", "subnets.mask", "pools.first"}
"""A key has them (prove asserts it): without them there is no plan to send visitors to, and no lease to foretell."""
