"""A worked example with other numbers: the same step in another lab of the same shape (feedback rule F5, the rung below the
answer).

Its sizes and times are drawn from the lab's number, for each network by itself: no number of it lies at a fixed distance from
the right one, so nobody learns to read the answer off it.
"""

import hashlib
from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import Question, RowKey, Section, SoFar
from trainer.lab.kinds import DOTTED_MASK, MASK, PREFIX_LENGTH, ROUTE_MASK
from trainer.lab.plan import needs_served
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario, Vlan
from trainer.network.addresses import fewest_needed, mask_of, prefix_length_for, usable_count

__all__ = ["Parallel"]

_BLOCKS = (IPv4Network("10.64.0.0/10"), IPv4Network("172.16.0.0/12"))
"""Of these ranges (RFC 1918) the other lab takes the one in which the trainee's does not lie."""
_ROOM = 2
"""So many bits the other lab's block is larger, since some of its networks are."""
_LENGTHS_THERE = range(23, 30)
"""What networks of the other lab may have, but each another one than here."""
_LONGEST_LEASE = 48
"""Hours."""
_LENGTHS = {PREFIX_LENGTH.name, MASK.name, DOTTED_MASK.name, ROUTE_MASK.name}


class Parallel:
    """Another lab, as alike as can be while every number of the plan is another one."""

    def __init__(self, scenario: Scenario) -> None:
        numbers = _other_numbers(scenario)
        vlans = {
            vlan.id: replace(vlan, number=numbers[vlan.number], addresses_needed=_other_size(scenario, vlan))
            for vlan in scenario.vlans
        }
        self._scenario = replace(
            scenario,
            block=_other_block(scenario.block),
            lease_hours=_other_lease(scenario),
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
        section = SECTIONS[question.section]
        there = self._row_there(section, row)
        value = question.kind.show(self._key.value(question, there))
        why = question.reason(self._scenario, self._key, there)
        text = f"In another lab, {section.title} {there}: {question.heading} is {value}; {why}."
        return "" if any(form in text for form in _forms(question, expected)) else text

    def same(self, row: RowKey, section_id: str) -> tuple[Scenario, RowKey]:
        """The other lab, and its row that stands where this one stands."""
        return self._scenario, self._row_there(SECTIONS[section_id], row)

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


def _other_size(scenario: Scenario, vlan: Vlan) -> int:
    """Addresses needed that give another length, and room for the stations and the pool; where none do, one more or less."""
    own = prefix_length_for(vlan.addresses_needed)
    stations = [each for each in scenario.stations if each.vlan == vlan.id]
    fixed = [each.fixed_number for each in stations if each.fixed_number is not None]
    fewest = max(len(stations) + 1, *fixed) if fixed else len(stations) + 1
    offers = []
    for length in _LENGTHS_THERE:
        low, high = max(fewest_needed(length), fewest), usable_count(length)
        if len(stations) > len(fixed):
            rules = scenario.rules
            served = needs_served(length, rules.kept_for_fixed, rules.gateway, len(fixed)) or (1, 0)
            low, high = max(low, served[0]), min(high, served[1])
        if length != own and low <= high:
            offers.append((low, high))
    if not offers:
        return vlan.addresses_needed + 1
    low, high = offers[_drawn(scenario, f"length {vlan.id}", len(offers))]
    return low + _drawn(scenario, f"size {vlan.id}", high - low + 1)


def _other_lease(scenario: Scenario) -> int:
    """Another number of hours."""
    hours = 1 + _drawn(scenario, "lease", _LONGEST_LEASE - 1)
    return hours if hours < scenario.lease_hours else hours + 1


def _drawn(scenario: Scenario, what: str, count: int) -> int:
    """A number from 0 to count - 1, always the same one for a lab."""
    digest = hashlib.sha256(f"{scenario.lab_number} {what}".encode()).digest()
    return int.from_bytes(digest[:8]) % count


def _forms(question: Question[Any, Any], value: Any) -> tuple[str, ...]:
    """How the right value could be written."""
    if question.kind.name in _LENGTHS:
        return f"/{value}", str(mask_of(value)), f" is {value};"
    if isinstance(value, IPv4Address):
        return (str(value),)
    return (f" {question.kind.show(value)}",)
