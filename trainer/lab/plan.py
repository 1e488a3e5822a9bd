"""Where networks lie in the block, and which addresses are what in them (rules 1 to 6 of the Brief)."""

from collections.abc import Callable, Sequence
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.scenario import GatewayPlace, Order, Scenario
from trainer.network.addresses import (
    first_usable,
    last_usable,
    next_multiple,
    prefix_length_for,
)

__all__ = ["after", "gateway_of", "is_inside_block", "lengths_in_order", "smallest_block_length", "vlan_order"]


def vlan_order(scenario: Scenario, length_of: Callable[[int], int]) -> tuple[int, ...]:
    """VLAN numbers in the order in which their networks are placed.

    length_of: the prefix length of a VLAN. Shortest first, equal ones in the order of table Networks (rule 3).
    """
    numbers = [vlan.number for vlan in scenario.vlans]
    if scenario.order is Order.LARGEST_FIRST:
        numbers.sort(key=length_of)
    return tuple(numbers)


def after(previous: IPv4Network | None, block: IPv4Network, prefix_length: int) -> IPv4Address:
    """Where the next network starts: at the next multiple of its own size behind the one before it."""
    free = int(block.network_address) if previous is None else int(previous.broadcast_address) + 1
    return IPv4Address(min(next_multiple(free, 2 ** (32 - prefix_length)), 0xFFFFFFFF))


def gateway_of(network: IPv4Network, place: GatewayPlace) -> IPv4Address:
    """The gateway's address in a network (rule 4)."""
    return first_usable(network) if place is GatewayPlace.FIRST_USABLE else last_usable(network)


def is_inside_block(scenario: Scenario, address: IPv4Address) -> bool:
    """Whether an address can belong to the lab at all (R4: follow-through ends outside the given block)."""
    return address in scenario.block


def lengths_in_order(addresses_needed: Sequence[int], links: int, link_length: int, order: Order) -> tuple[int, ...]:
    """Prefix lengths of all networks of a lab, in the order in which they are placed."""
    lengths = [prefix_length_for(needed) for needed in addresses_needed]
    if order is Order.LARGEST_FIRST:
        lengths.sort()
    return (*lengths, *[link_length] * links)


def smallest_block_length(lengths: Sequence[int]) -> int:
    """Prefix length of the smallest block that holds networks of these lengths, placed in this order.

    ValueError where not even the whole address space would do.
    """
    end = 0
    for length in lengths:
        end = next_multiple(end, 2 ** (32 - length)) + 2 ** (32 - length)
    if end > 2**32:
        raise ValueError("the networks hold more addresses than there are")
    return min(32 - (end - 1).bit_length(), *lengths)
