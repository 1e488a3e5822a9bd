"""What tells mistakes on sheet Pools apart, and those in lease times wherever they are asked."""

from typing import Any

from trainer.lab.form import CellRef, Question
from trainer.lab.kinds import INFINITE
from trainer.lab.questions import pools
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import WrongCell
from trainer.network.addresses import first_usable, last_usable, network_at

__all__ = [
    "are_ends_swapped",
    "hands_out_fixed",
    "hands_out_gateway",
    "has_other_unit",
    "is_another_time",
    "is_count_as_last_octet",
    "is_doubled",
    "is_endless",
    "is_in_server_network",
    "is_kept_range",
    "is_last_kept",
    "is_one_late",
    "is_renewal_time",
    "is_reversed",
    "is_row_empty",
    "is_the_only_gap",
    "is_too_small",
    "is_zero",
    "keeps_nothing",
    "lacks_unit",
    "leaves_out_last",
    "lies_beyond_mask",
    "lies_too_high",
    "lies_too_low",
    "should_be_endless",
    "starts_one_early_with_gateway",
]

_ALL = frozenset(question.id for question in pools.POOLS.questions)
_UNITS = (24, 60, 1440, 3600, 86400)


# Cells and rows that are empty ----------------------------------------------------------------------------------------


def is_the_only_gap(cell: WrongCell) -> bool:
    """Whether the pool is whole otherwise, so that it hands addresses out."""
    others: tuple[Question[Any, Any], ...] = (pools.POOL_FIRST, pools.POOL_LAST, pools.POOL_MASK, pools.POOL_LEASE)
    return all(cell.beside(question) is not None for question in others)


def is_row_empty(cell: WrongCell) -> bool:
    """Whether nothing stands in the whole row; a sheet on which nothing stands at all is another matter."""
    written: set[CellRef] = {*cell.plan.answers.values, *(ref for ref, text in cell.plan.texts.items() if text)}
    rows = {ref.row for ref in written if ref.question in _ALL}
    return bool(rows) and cell.row not in rows


# Both ends ------------------------------------------------------------------------------------------------------------


def _written_range(cell: WrongCell) -> range:
    """What the pool holds as the trainee wrote it, as plain numbers; empty where an end is missing."""
    first, last = cell.beside(pools.POOL_FIRST), cell.beside(pools.POOL_LAST)
    return range(0) if first is None or last is None else range(int(first), int(last) + 1)


def _has_both_ends(cell: WrongCell) -> bool:
    return None not in (cell.beside(pools.POOL_FIRST), cell.beside(pools.POOL_LAST))


def are_ends_swapped(cell: WrongCell) -> bool:
    other = pools.POOL_LAST if cell.question is pools.POOL_FIRST else pools.POOL_FIRST
    row = cell.key_row
    is_right_there = row is not None and cell.holds(cell.right_by_plan(other, row))
    return is_right_there and bool(cell.beside(other) == cell.expected)


def is_reversed(cell: WrongCell) -> bool:
    first, last = cell.beside(pools.POOL_FIRST), cell.beside(pools.POOL_LAST)
    return first is not None and last is not None and first > last


def is_kept_range(cell: WrongCell) -> bool:
    """The part reserved for static addresses stands where the pool should."""
    if cell.network is None:
        return False
    lowest = int(first_usable(cell.network))
    kept = range(lowest, lowest + cell.scenario.rules.kept_for_fixed)
    held = _written_range(cell)
    return len(kept) > 1 and len(held) > 0 and held[0] in kept[:2] and held[-1] == kept[-1]


def hands_out_gateway(cell: WrongCell) -> bool:
    """Whether this end of the pool is why the gateway lies in it."""
    if cell.gateway is None or not _holds_gateway(cell):
        return False
    gateway = cell.gateway
    return bool(gateway < cell.expected if cell.question is pools.POOL_FIRST else gateway > cell.expected)


def _holds_gateway(cell: WrongCell) -> bool:
    return cell.gateway is not None and int(cell.gateway) in _written_range(cell)


def hands_out_fixed(cell: WrongCell) -> bool:
    held = _written_range(cell)
    return cell.vlan is not None and any(int(each) in held for each in cell.plan.fixed_addresses(cell.vlan.id))


def is_in_server_network(cell: WrongCell) -> bool:
    return address.is_outside_own_network(cell) and cell.is_in(cell.plan.server_network)


def is_too_small(cell: WrongCell) -> bool:
    """Asks for both ends: of one alone nobody can say how much lies between."""
    if cell.vlan is None or not _has_both_ends(cell) or not address.is_in_own_network(cell):
        return False
    needed = cell.vlan.addresses_needed - cell.scenario.rules.kept_for_fixed
    return len(_written_range(cell)) < min(needed, _right_size(cell))


def _right_size(cell: WrongCell) -> int:
    row = cell.key_row
    assert row is not None, "pools have fixed rows"
    first, last = (cell.right_by_plan(each, row) for each in (pools.POOL_FIRST, pools.POOL_LAST))
    return max(int(last) - int(first) + 1, 1)


# One end --------------------------------------------------------------------------------------------------------------


def keeps_nothing(cell: WrongCell) -> bool:
    return cell.network is not None and cell.holds(first_usable(cell.network))


def starts_one_early_with_gateway(cell: WrongCell) -> bool:
    """Where the gateway lies in the pool besides, which is not why it is wrong: it would be without a gateway there."""
    return cell.offset == -1 and _holds_gateway(cell)


def is_last_kept(cell: WrongCell) -> bool:
    return cell.offset == -1


def is_one_late(cell: WrongCell) -> bool:
    """A pool that lends the gateway's address is not nearly right."""
    return cell.offset == 1 and not _holds_gateway(cell)


def is_count_as_last_octet(cell: WrongCell) -> bool:
    """With the other three numbers those of the network's start, where it is not just the answer of another row."""
    if cell.network is None or not address.is_outside_own_network(cell) or _is_right_in_another_row(cell):
        return False
    start = int(cell.network.network_address) & ~255
    return int(cell.value) - start - cell.scenario.rules.kept_for_fixed in (0, 1)


def _is_right_in_another_row(cell: WrongCell) -> bool:
    others = (row.key for row in cell.section.rows(cell.scenario) if row.key != cell.key_row)
    return any(cell.holds(cell.right_by_plan(cell.question, row)) for row in others)


def leaves_out_last(cell: WrongCell) -> bool:
    is_one_short = cell.network is not None and last_usable(cell.network) == cell.expected and cell.offset == -1
    return is_one_short and not _holds_gateway(cell)


def lies_too_low(cell: WrongCell) -> bool:
    """By the trainee's own plan and by the key: where these contradict each other, neither way is told."""
    return address.is_in_own_network(cell) and cell.offset < 0 and cell.value < _by_key(cell)


def lies_too_high(cell: WrongCell) -> bool:
    """By the trainee's own plan and by the key."""
    return address.is_in_own_network(cell) and cell.offset > 0 and cell.value > _by_key(cell)


def lies_beyond_mask(cell: WrongCell) -> bool:
    """Whether, by the mask of the row, which is right, the address is not in the network of the row's other end."""
    other = pools.POOL_LAST if cell.question is pools.POOL_FIRST else pools.POOL_FIRST
    length, end = cell.beside(pools.POOL_MASK), cell.beside(other)
    if length is None or end is None or cell.key_row is None:
        return False
    mask: Question[Any, Any] = pools.POOL_MASK
    return length == cell.plan.key.value(mask, cell.key_row) and cell.value not in network_at(end, length)


def _by_key(cell: WrongCell) -> Any:
    question: Question[Any, Any] = cell.question
    assert cell.key_row is not None
    return cell.plan.key.value(question, cell.key_row)


# Leases ---------------------------------------------------------------------------------------------------------------


def is_endless(cell: WrongCell) -> bool:
    return cell.holds(INFINITE)


def should_be_endless(cell: WrongCell) -> bool:
    return bool(cell.expected == INFINITE)


def is_zero(cell: WrongCell) -> bool:
    return cell.holds(0)


def is_another_time(cell: WrongCell) -> bool:
    """One that ends, where another one that ends is right."""
    return not is_endless(cell) and not should_be_endless(cell)


def lacks_unit(cell: WrongCell) -> bool:
    return cell.text.isdecimal() and has_other_unit(cell)


def has_other_unit(cell: WrongCell) -> bool:
    return is_another_time(cell) and any(
        cell.value * unit == cell.expected or cell.value == cell.expected * unit for unit in _UNITS
    )


def is_renewal_time(cell: WrongCell) -> bool:
    return is_another_time(cell) and bool(cell.value * 2 == cell.expected or cell.value * 8 == cell.expected * 7)


def is_doubled(cell: WrongCell) -> bool:
    return is_another_time(cell) and cell.holds(cell.expected * 2)
