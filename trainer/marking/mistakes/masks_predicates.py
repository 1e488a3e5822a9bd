"""What tells mistakes in masks and prefix lengths apart. A mask is read as its length, the number of its ones."""

import re
from ipaddress import IPv4Address
from typing import Any

from trainer.lab.form import CellRef, Question
from trainer.lab.questions import subnets
from trainer.lab.unreadable import TextFlaw, Unreadable
from trainer.marking.mistakes.mistake import WrongCell
from trainer.marking.mistakes.question_groups import ADDRESS_QUESTIONS
from trainer.network.addresses import network_at

__all__ = [
    "counts_host_bits",
    "covers_neighbour",
    "differs_from_prefix",
    "forgets_reserved_two",
    "is_a_links",
    "is_all_ones",
    "is_all_zeros",
    "is_another_networks",
    "is_classful",
    "is_in_wrong_octet",
    "is_lab_address",
    "is_one_bit_long",
    "is_one_bit_short",
    "is_rounded_to_octet",
    "is_too_long",
    "is_too_short",
    "is_too_short_and_covers_others",
    "leaves_no_hosts",
    "stands_behind_address",
    "would_hold_many",
    "would_hold_two",
]

_LENGTH_BEHIND = re.compile(r"/\s*\d{1,2}$")


# What stands where a mask should --------------------------------------------------------------------------------------


def is_lab_address(cell: WrongCell) -> bool:
    """An address of this lab, where it is no mask as well."""
    why = cell.unreadable
    if not isinstance(why, Unreadable) or why.flaw not in (TextFlaw.ONES_APART, TextFlaw.ONES_ON_HOST_SIDE):
        return False
    return IPv4Address(why.part) in cell.scenario.block


def stands_behind_address(cell: WrongCell) -> bool:
    """In another cell of the row, as in "172.20.4.0/23"."""
    return any(_has_length_behind(cell, each) for each in cell.section.questions if each.id in ADDRESS_QUESTIONS)


def _has_length_behind(cell: WrongCell, question: Question[IPv4Address, Any]) -> bool:
    return _LENGTH_BEHIND.search(cell.plan.texts.get(CellRef(question.id, cell.row), "")) is not None


# Lengths that are wrong for a reason of their own ---------------------------------------------------------------------


def is_all_zeros(cell: WrongCell) -> bool:
    return cell.holds(0)


def is_all_ones(cell: WrongCell) -> bool:
    return cell.holds(32)


def leaves_no_hosts(cell: WrongCell) -> bool:
    return cell.holds(31)


def counts_host_bits(cell: WrongCell) -> bool:
    return cell.holds(32 - cell.expected)


def is_classful(cell: WrongCell) -> bool:
    """Drawing in other networks, as it mostly does; where it does not, other texts say more."""
    first_octet = int(cell.scenario.block.network_address) >> 24
    classful = 8 if first_octet < 128 else 16 if first_octet < 192 else 24
    return cell.holds(classful) and is_too_short(cell) and _covers_others(cell)


def is_rounded_to_octet(cell: WrongCell) -> bool:
    return cell.value in (8, 16, 24) and cell.expected % 8 != 0


def is_in_wrong_octet(cell: WrongCell) -> bool:
    return bool(cell.value % 8 == cell.expected % 8 != 0)


def forgets_reserved_two(cell: WrongCell) -> bool:
    if cell.vlan is None or not is_too_long(cell):
        return False
    return 2 ** (32 - cell.value) - cell.vlan.addresses_needed in (0, 1)


# Too long and too short -----------------------------------------------------------------------------------------------


def is_one_bit_long(cell: WrongCell) -> bool:
    return cell.offset == 1


def is_one_bit_short(cell: WrongCell) -> bool:
    return cell.offset == -1


def is_too_long(cell: WrongCell) -> bool:
    return cell.offset > 0


def is_too_short(cell: WrongCell) -> bool:
    return cell.offset < 0


def covers_neighbour(cell: WrongCell) -> bool:
    return is_one_bit_short(cell) and _covers_others(cell)


def is_too_short_and_covers_others(cell: WrongCell) -> bool:
    return is_too_short(cell) and _covers_others(cell)


def _covers_others(cell: WrongCell) -> bool:
    """Whether the network of the row's VLAN, under the mask in this cell, holds addresses of another of the plan."""
    if cell.vlan is None:
        return False
    start = cell.plan.as_written.value(subnets.NETWORK_ADDRESS, subnets.row_of(cell.vlan.id))
    return cell.meets_others(network_at(start, cell.value))


# Whose mask it is -----------------------------------------------------------------------------------------------------


def is_another_networks(cell: WrongCell) -> bool:
    own = None if cell.vlan is None else cell.vlan.id
    return any(cell.holds(each.prefixlen) for number, each in cell.plan.networks.items() if number != own)


def is_a_links(cell: WrongCell) -> bool:
    return cell.holds(cell.scenario.link_length)


def differs_from_prefix(cell: WrongCell) -> bool:
    """From the usable one that the trainee wrote in the same row."""
    return bool(cell.beside(subnets.PREFIX_LENGTH_OF) == cell.expected)


def would_hold_many(cell: WrongCell) -> bool:
    return bool(cell.value < 30)


def would_hold_two(cell: WrongCell) -> bool:
    return cell.value in (30, 31)
