"""Where networks lie in the block, and which addresses are what in them (by the rules of the Brief)."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.scenario import GatewayPlace, Order, Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import (
    fewest_needed,
    first_usable,
    last_usable,
    next_multiple,
    prefix_length_for,
    usable_count,
)
from trainer.network.devices import SwitchName

__all__ = [
    "Stretch",
    "after",
    "gateway_of",
    "is_inside_block",
    "lengths_in_order",
    "needs_served",
    "pool_size",
    "smallest_block_length",
    "stretches",
]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Networks that are placed one behind the other from a multiple of the stretch's own size on."""

    length: int
    """Prefix length of the smallest block that holds them."""
    vlans: tuple[VlanId, ...]
    """In the order in which they are placed."""


def stretches(scenario: Scenario, length_of: Callable[[VlanId], int]) -> tuple[Stretch, ...]:
    """How the VLAN networks follow one another in the block (rule Order).

    length_of: the prefix length of a VLAN. Shortest first, equal ones in the order of table Networks. With a range a
    switch each switch's networks are a stretch of their own, shortest stretch length first, equal ones in the order of
    the switches; else each network is one.
    """
    numbers = [vlan.id for vlan in scenario.vlans]
    if scenario.rules.order is not Order.AS_LISTED:
        numbers.sort(key=length_of)
    if scenario.rules.order is not Order.RANGE_A_SWITCH:
        return tuple(Stretch(length_of(number), (number,)) for number in numbers)
    found = []
    for switch in scenario.switches:
        own = tuple(number for number in numbers if scenario.vlan_by_id[number].switch == switch.name)
        if own:
            found.append(Stretch(smallest_block_length([length_of(number) for number in own]), own))
    return tuple(sorted(found, key=lambda stretch: stretch.length))


def after(previous: IPv4Network | None, block: IPv4Network, prefix_length: int) -> IPv4Address:
    """Where the next network starts: at the next multiple of its own size behind the one before it."""
    free = int(block.network_address) if previous is None else int(previous.broadcast_address) + 1
    return IPv4Address(min(next_multiple(free, 2 ** (32 - prefix_length)), 0xFFFFFFFF))


def gateway_of(network: IPv4Network, place: GatewayPlace) -> IPv4Address:
    """The gateway's address in a network (rule Gateway); where it is free, the key takes the first usable one."""
    return last_usable(network) if place is GatewayPlace.LAST_USABLE else first_usable(network)


def pool_size(prefix_length: int, kept_for_fixed: int, gateway: GatewayPlace) -> int:
    """How many addresses the pool of such a network holds at least, 0 or more (rule Pools). prefix_length: 0 to 30.

    A free gateway may be the last usable address, which is then in no pool.
    """
    return max(usable_count(prefix_length) - kept_for_fixed - (0 if gateway is GatewayPlace.FIRST_USABLE else 1), 0)


def needs_served(
    prefix_length: int, kept_for_fixed: int, gateway: GatewayPlace, fixed_stations: int
) -> tuple[int, int] | None:
    """Which addresses needed give a network this prefix length and a pool for all of them but the gateway and the fixed
    stations: the lowest and the highest; None where no number does. prefix_length: 1 to 30.

    >>> needs_served(26, 10, GatewayPlace.FIRST_USABLE, 1), needs_served(28, 10, GatewayPlace.FIRST_USABLE, 0)
    ((31, 54), None)
    """
    usable = usable_count(prefix_length)
    low, pool = fewest_needed(prefix_length), pool_size(prefix_length, kept_for_fixed, gateway)
    high = min(usable, pool + 1 + fixed_stations)
    return (low, high) if pool and low <= high else None


def is_inside_block(scenario: Scenario, address: IPv4Address) -> bool:
    """Whether an address can belong to the lab at all (R4: follow-through ends outside the given block)."""
    return address in scenario.block


def lengths_in_order(
    addresses_needed: Sequence[int], homes: Sequence[SwitchName], links: int, link_length: int, order: Order
) -> tuple[int, ...]:
    """Prefix lengths of all networks of a lab, or of its ranges, in the order in which they are placed.

    homes: the switch of each network. A free plan is given the room that largest first takes.
    """
    lengths = [prefix_length_for(needed) for needed in addresses_needed]
    if order is Order.RANGE_A_SWITCH:
        own = (
            sorted(length for length, home in zip(lengths, homes, strict=True) if home == switch)
            for switch in dict.fromkeys(homes)
        )
        lengths = [smallest_block_length(each) for each in own]
    if order is not Order.AS_LISTED:
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
