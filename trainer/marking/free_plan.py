"""Which network cells of a free plan are wrong: one wrong cell charges no right one.

What else stands in a row says where its network was meant to lie. A network cell that the others contradict is wrong by
itself, and they follow from what was meant. Of networks that share addresses those are wrong whose change mends all.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar
from trainer.lab.questions import links, subnets
from trainer.lab.rows import LinkRow
from trainer.lab.scenario import Order, Scenario
from trainer.network.addresses import network_at

__all__ = ["FreePlan", "free_plan"]

_NO_ANSWERS = Answers(values={}, rows={})
_FEWEST = 2
"""So many cells have to agree on another place before what stands in the network's own cell is no longer believed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreePlan:
    """What is found of the network cells of a plan that the Brief leaves free; nothing where it leaves none."""

    meant: Mapping[CellRef, IPv4Address] = field(default_factory=dict)
    """Where networks lie by the other cells of their rows, whose own cell says something else, or nothing."""
    misplaced: frozenset[CellRef] = frozenset()
    """Cells that break the rule: no multiple of the network's size, outside the block, or wrong of those that overlap."""
    misplaced_by_size: frozenset[CellRef] = frozenset()
    """The same, if the networks had the right sizes."""
    left: Mapping[CellRef, IPv4Address] = field(default_factory=dict)
    """Where networks can lie whose own cell is blank or misplaced: off all that lie where they may, and so that all find room.
    Absent where the right networks leave none."""

    def accepts(self, cell: CellRef) -> bool:
        """Whether what stands in a network cell keeps the rule, and is what the other cells of the row go by."""
        return cell not in self.meant and cell not in self.misplaced

    def accepts_by_size(self, cell: CellRef) -> bool:
        """Whether it would, if the networks had the right sizes: a wrong size is charged there and not in every place."""
        return cell not in self.meant and cell not in self.misplaced_by_size


@dataclass(frozen=True, slots=True)
class _Place:
    """A network cell, the question that says how long the network is, and those that are worked out from both."""

    cell: CellRef
    question: Question[IPv4Address, Any]
    length: Question[int, Any]
    worked_out: tuple[Question[IPv4Address, Any], ...]


def free_plan(scenario: Scenario, written: Mapping[CellRef, Any], key: SoFar) -> FreePlan:
    """What is found of a form's network cells. written: its readable values; key: the key's own."""
    if scenario.rules.order is not Order.FREE:
        return FreePlan()
    places = tuple(_places(scenario))
    meant = {}
    for place in places:
        found = _meant(scenario, written, key, place)
        if found is not None:
            meant[place.cell] = found
    values = {**written, **meant}
    misplaced = set(_misplaced(scenario, places, values, key))
    sizes = {cell: value for cell, value in values.items() if cell.question not in _LENGTHS}
    return FreePlan(
        meant=meant,
        misplaced=frozenset(misplaced),
        misplaced_by_size=frozenset(_misplaced(scenario, places, sizes, key)),
        left=_left(scenario, places, {cell: value for cell, value in values.items() if cell not in misplaced}, key),
    )


_LENGTHS = (subnets.PREFIX_LENGTH_OF.id, links.LINK_MASK.id)


def _places(scenario: Scenario) -> Iterator[_Place]:
    for vlan in scenario.vlans:
        cell = CellRef(subnets.NETWORK_ADDRESS.id, subnets.row_of(vlan.id))
        ends = (subnets.FIRST_USABLE, subnets.LAST_USABLE, subnets.BROADCAST_ADDRESS)
        yield _Place(cell, subnets.NETWORK_ADDRESS, subnets.PREFIX_LENGTH_OF, ends)
    for link in scenario.links:
        cell = CellRef(links.LINK_NETWORK.id, LinkRow(link.name))
        yield _Place(cell, links.LINK_NETWORK, links.LINK_MASK, (links.FIRST_ADDRESS, links.SECOND_ADDRESS))


def _meant(scenario: Scenario, written: Mapping[CellRef, Any], key: SoFar, place: _Place) -> IPv4Address | None:
    """Where the other cells of a row say that its network lies, if more of them do than agree with its own cell."""
    row, own = place.cell.row, written.get(place.cell)
    ends = {each: written.get(CellRef(each.id, row)) for each in place.worked_out}
    length_cell = CellRef(place.length.id, row)
    lengths = dict.fromkeys((_length(written, key, place), key.value(place.length, row)))

    def agree(start: IPv4Address | None) -> int:
        """How many of the others go by it, whether the length of the row is right or not."""
        if start is None:
            return 0
        plans = [
            SoFar(scenario, {**written, place.cell: start, length_cell: each}, key, takes_all=True) for each in lengths
        ]
        return max(
            sum(value is not None and _fits(scenario, each, row, question, value) for question, value in ends.items())
            for each in plans
        )

    starts = dict.fromkeys(
        network_at(value, length).network_address for value in ends.values() if value is not None for length in lengths
    )
    if not starts:
        return None
    best = max(starts, key=agree)
    return best if agree(best) >= _FEWEST and agree(best) > agree(own) else None


def _fits(
    scenario: Scenario, so_far: SoFar, row: RowKey, question: Question[IPv4Address, Any], value: IPv4Address
) -> bool:
    """Whether a value follows from the network, as one of the ends that are free where they are."""
    accepted = question.accepts(scenario, _NO_ANSWERS, so_far, row, value)
    if accepted is not None:
        return accepted
    try:
        return question.answer(scenario, so_far, row) == value
    except ValueError:  # past the last address that there is
        return False


def _length(values: Mapping[CellRef, Any], key: SoFar, place: _Place) -> int:
    written: int | None = values.get(CellRef(place.length.id, place.cell.row))
    return key.value(place.length, place.cell.row) if written is None else written


def _misplaced(
    scenario: Scenario, places: Sequence[_Place], values: Mapping[CellRef, Any], key: SoFar
) -> Iterator[CellRef]:
    """The cells whose networks do not lie where one may."""
    lying: dict[CellRef, IPv4Network] = {}
    for place in places:
        start = values.get(place.cell)
        if start is None:
            continue
        network = network_at(start, _length(values, key, place))
        if network.network_address != start or not network.subnet_of(scenario.block):
            yield place.cell
        else:
            lying[place.cell] = network
    while lying:
        worst = max(lying, key=partial(_meets, lying, list(lying)))
        if not _meets(lying, list(lying), worst)[0]:
            return
        yield worst
        del lying[worst]


def _left(
    scenario: Scenario, places: Sequence[_Place], values: Mapping[CellRef, Any], key: SoFar
) -> dict[CellRef, IPv4Address]:
    """Where the networks without a right place can lie, so that nothing that is right has to move. Room is kept for networks
    whose length is to be put right; where that is too much to ask, for those that are written.
    """
    found: dict[CellRef, IPv4Address] = {}
    for lengths in (_widest, _length):
        found = _placed(scenario, places, values, key, lengths)
        if all(place.cell in values or place.cell in found for place in places):
            break
    return found


def _placed(
    scenario: Scenario,
    places: Sequence[_Place],
    values: Mapping[CellRef, Any],
    key: SoFar,
    length_of: Callable[[Mapping[CellRef, Any], SoFar, _Place], int],
) -> dict[CellRef, IPv4Address]:
    """Each where the key has it if that is free, else at the first multiple of its size. The largest is placed first: sizes
    are powers of two, so whatever room there is then holds all that fit.
    """
    taken = [network_at(values[each.cell], length_of(values, key, each)) for each in places if each.cell in values]
    found: dict[CellRef, IPv4Address] = {}
    ahead = [(length_of(values, key, each), each) for each in places if each.cell not in values]
    for length, place in sorted(ahead, key=lambda each: each[0]):
        if length < scenario.block.prefixlen:
            continue
        keys = network_at(key.value(place.question, place.cell.row), length)
        offers = (keys, *scenario.block.subnets(new_prefix=length))
        network = next((each for each in offers if not any(each.overlaps(other) for other in taken)), None)
        if network is not None:
            taken.append(network)
            found[place.cell] = network.network_address
    return found


def _widest(values: Mapping[CellRef, Any], key: SoFar, place: _Place) -> int:
    """The shorter of the length that is written and the right one."""
    right: int = key.value(place.length, place.cell.row)
    return min(_length(values, key, place), right)


def _meets(lying: Mapping[CellRef, IPv4Network], order: Sequence[CellRef], cell: CellRef) -> tuple[int, int]:
    """With how many others a network shares addresses; of equal ones the later row is charged."""
    shared = sum(lying[cell].overlaps(other) for each, other in lying.items() if each != cell)
    return shared, order.index(cell)
