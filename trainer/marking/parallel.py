"""A worked example with other numbers: the same step in another lab of the same shape (feedback rule F5, the rung below the
answer).
"""

from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import Question, RowKey, Section, SoFar
from trainer.lab.kinds import DOTTED_MASK, MASK, PREFIX_LENGTH, ROUTE_MASK
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario, Vlan
from trainer.network.addresses import mask_of

__all__ = ["Parallel"]

_BLOCKS = (IPv4Network("10.64.0.0/10"), IPv4Network("172.16.0.0/12"))
"""Of these ranges (RFC 1918) the other lab takes the one in which the trainee's does not lie."""
_ROOM = 2
"""So many bits the other lab's block is larger, since some of its networks are."""
_SMALL = 60
"""Networks that need fewer addresses are doubled in the other lab, larger ones halved: each gets another length."""
_LENGTHS = {PREFIX_LENGTH.name, MASK.name, DOTTED_MASK.name, ROUTE_MASK.name}


class Parallel:
    """Another lab, as alike as can be while every number of the plan is another one."""

    def __init__(self, scenario: Scenario) -> None:
        numbers = _other_numbers(scenario)
        vlans = {
            vlan.id: replace(vlan, number=numbers[vlan.number], addresses_needed=_other_size(vlan))
            for vlan in scenario.vlans
        }
        self._scenario = replace(
            scenario,
            block=_other_block(scenario.block),
            lease_hours=scenario.lease_hours + 1,
            vlans=tuple(vlans.values()),
            stations=tuple(replace(each, vlan=vlans[each.vlan].id) for each in scenario.stations),
        )
        self._mine = scenario
        self._key = SoFar(self._scenario)

    def example(self, question: Question[Any, Any], row: RowKey, expected: Any) -> str:
        """How the same cell is worked out there, in a sentence; "" where it would be the same value, or is copied.

        row: as the key of the trainee's lab calls it; expected: what is right there, of which nothing may be given away.
        """
        if not question.may_follow:
            return ""
        section = SECTIONS[question.id.partition(".")[0]]
        there = self._row_there(section, row)
        value = question.kind.show(self._key.value(question, there))
        why = question.reason(self._scenario, self._key, there)
        text = f"In another lab, {section.title} {there}: {question.heading} is {value}; {why}."
        return "" if any(form in text for form in _forms(question, expected)) else text

    def _row_there(self, section: Section[Any], row: RowKey) -> RowKey:
        """The row of the other lab that stands where this one stands."""
        pairs = zip(
            (*section.rows(self._mine), *section.set_already(self._mine)),
            (*section.rows(self._scenario), *section.set_already(self._scenario)),
            strict=True,
        )
        there: RowKey = next(there.key for here, there in pairs if here.key == row)
        return there


def _other_numbers(scenario: Scenario) -> dict[int, int]:
    """For each number another one: what is equal in the trainee's lab is equal there."""
    taken = dict.fromkeys(vlan.number for vlan in scenario.vlans)
    free = (number for number in range(11, 4094, 10) if number not in taken)
    return dict(zip(taken, free, strict=False))


def _other_block(block: IPv4Network) -> IPv4Network:
    home = next(each for each in _BLOCKS if not each.overlaps(block))
    return IPv4Network((home.network_address, max(block.prefixlen - _ROOM, home.prefixlen)))


def _other_size(vlan: Vlan) -> int:
    needed = vlan.addresses_needed
    return 2 * needed + 2 if needed < _SMALL else needed // 2 - 2


def _forms(question: Question[Any, Any], value: Any) -> tuple[str, ...]:
    """How the right value could be written."""
    if question.kind.name in _LENGTHS:
        return f"/{value}", str(mask_of(value)), f" is {value};"
    if isinstance(value, IPv4Address):
        return (str(value),)
    return (question.kind.show(value),)
