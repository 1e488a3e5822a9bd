"""What tells the mistakes on sheet Subnets apart: where networks start and end, and which address is what in them."""

from collections.abc import Callable
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.plan import after
from trainer.lab.questions import pools, subnets
from trainer.lab.scenario import Order
from trainer.lab.vlan_id import VlanId
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import WrongCell
from trainer.network.addresses import first_usable, last_usable, network_at

__all__ = [
    "are_ends_exchanged",
    "ends_any_network",
    "ends_in_255",
    "follows_other_order",
    "has_host_bits",
    "is_a_fixed_stations",
    "is_a_stations",
    "is_all_ones",
    "is_at_other_end",
    "is_next_block",
    "is_next_block_inside_another",
    "is_next_start",
    "is_off_boundary",
    "is_one_before",
    "is_pool_start",
    "is_right_a_row_off",
    "is_sorted_by_size_only",
    "leaves_gap",
    "lies_too_high",
    "lies_too_low",
    "misses_carry",
    "overlaps",
    "skips_fixed",
    "skips_gateway",
    "starts_another_network",
    "starts_any_network",
]


def _in_its_network(test: Callable[[IPv4Address, IPv4Network], bool]) -> Callable[[WrongCell], bool]:
    """Makes a predicate of a test of the address in the cell against the network that the row is about."""

    def fits(cell: WrongCell) -> bool:
        return cell.network is not None and test(cell.value, cell.network)

    return fits


# Where a network starts -----------------------------------------------------------------------------------------------


@_in_its_network
def has_host_bits(start: IPv4Address, network: IPv4Network) -> bool:
    return start in network and start != network.network_address


@_in_its_network
def is_off_boundary(start: IPv4Address, network: IPv4Network) -> bool:
    return start not in network and start != network_at(start, network.prefixlen).network_address


@_in_its_network
def is_next_block(start: IPv4Address, network: IPv4Network) -> bool:
    return abs(int(start) - int(network.network_address)) == network.num_addresses


def is_next_block_inside_another(cell: WrongCell) -> bool:
    return is_next_block(cell) and overlaps(cell)


def starts_another_network(cell: WrongCell) -> bool:
    return any(cell.holds(each.network_address) for each in cell.other_networks)


def overlaps(cell: WrongCell) -> bool:
    return cell.network is not None and cell.meets_others(network_at(cell.value, cell.network.prefixlen))


def lies_too_high(cell: WrongCell) -> bool:
    return cell.offset > 0


def lies_too_low(cell: WrongCell) -> bool:
    return cell.offset < 0


def leaves_gap(cell: WrongCell) -> bool:
    """Whether the address before the network is nobody's in the trainee's own plan."""
    before = int(cell.value) - 1
    return lies_too_high(cell) and not any(
        int(each.network_address) <= before <= int(each.broadcast_address) for each in cell.other_networks
    )


def is_sorted_by_size_only(cell: WrongCell) -> bool:
    return cell.scenario.rules.order is Order.RANGE_A_SWITCH and _follows_order(cell, Order.LARGEST_FIRST)


def follows_other_order(cell: WrongCell) -> bool:
    others = (order for order in (Order.AS_LISTED, Order.LARGEST_FIRST) if order is not cell.scenario.rules.order)
    return any(_follows_order(cell, order) for order in others)


def _follows_order(cell: WrongCell, order: Order) -> bool:
    return cell.vlan is not None and cell.holds(_starts_in(cell, order)[cell.vlan.id])


def _starts_in(cell: WrongCell, order: Order) -> dict[VlanId, IPv4Address]:
    """Where networks of the lengths so far would start, one behind the other, as listed or largest first."""
    lengths = {number: network.prefixlen for number, network in cell.plan.networks.items()}
    numbers = list(lengths)
    if order is Order.LARGEST_FIRST:
        numbers.sort(key=lengths.__getitem__)
    starts: dict[VlanId, IPv4Address] = {}
    previous: IPv4Network | None = None
    for number in numbers:
        starts[number] = after(previous, cell.scenario.block, lengths[number])
        previous = network_at(starts[number], lengths[number])
    return starts


def misses_carry(cell: WrongCell) -> bool:
    return abs(cell.offset) == 256


def is_right_a_row_off(cell: WrongCell) -> bool:
    """By the key, in the row of another VLAN."""
    rows = [subnets.row_of(vlan.id) for vlan in cell.scenario.vlans]
    return any(cell.holds(cell.plan.key.value(cell.question, row)) for row in rows if row != cell.key_row)


# Where it ends --------------------------------------------------------------------------------------------------------


@_in_its_network
def is_next_start(end: IPv4Address, network: IPv4Network) -> bool:
    return int(end) == int(network.broadcast_address) + 1


@_in_its_network
def ends_in_255(end: IPv4Address, network: IPv4Network) -> bool:
    """Where the last number of the right answer is not full, and the numbers before it fit."""
    slices = range(int(network.network_address) >> 8, (int(network.broadcast_address) >> 8) + 1)
    return int(end) & 255 == 255 != int(network.broadcast_address) & 255 and int(end) >> 8 in slices


def skips_gateway(cell: WrongCell) -> bool:
    step = 1 if cell.question is subnets.FIRST_USABLE else -1
    return cell.gateway is not None and cell.gateway == cell.expected and cell.offset == step


def skips_fixed(cell: WrongCell) -> bool:
    return cell.offset == cell.scenario.rules.kept_for_fixed


@_in_its_network
def is_at_other_end(end: IPv4Address, network: IPv4Network) -> bool:
    return end in (first_usable(network), last_usable(network))


def are_ends_exchanged(cell: WrongCell) -> bool:
    ends = (cell.beside(subnets.FIRST_USABLE), cell.beside(subnets.LAST_USABLE))
    return cell.network is not None and ends == (last_usable(cell.network), first_usable(cell.network))


def is_one_before(cell: WrongCell) -> bool:
    return cell.offset == -1


def is_all_ones(cell: WrongCell) -> bool:
    return int(cell.value) == 0xFFFFFFFF


# Gateways -------------------------------------------------------------------------------------------------------------


def starts_any_network(cell: WrongCell) -> bool:
    return address.is_reserved(cell) and any(cell.holds(each.network_address) for each in cell.mended.all_networks)


def ends_any_network(cell: WrongCell) -> bool:
    return address.is_reserved(cell) and not starts_any_network(cell)


def is_a_fixed_stations(cell: WrongCell) -> bool:
    """Whether a station of this VLAN has the address for good."""
    return cell.vlan is not None and cell.value in cell.plan.fixed_addresses(cell.vlan.id)


def is_a_stations(cell: WrongCell) -> bool:
    return address.is_in_own_network(cell) and address.is_any_station(cell)


def is_pool_start(cell: WrongCell) -> bool:
    if cell.vlan is None or not cell.scenario.dhcp_stations(cell.vlan.id):
        return False
    return cell.holds(cell.plan.so_far.value(pools.POOL_FIRST, subnets.row_of(cell.vlan.id)))
