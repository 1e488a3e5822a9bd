"""Mistakes on sheet Subnets: where networks start and end, and which address is what in them."""

from collections.abc import Callable
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.form import RowKey
from trainer.lab.plan import after
from trainer.lab.questions import links, pools, stations, subnets
from trainer.lab.scenario import Order
from trainer.marking.mistakes.evidence import (
    is_reserved,
    link_networks,
    other_gateways,
    other_networks,
    own_gateway,
    own_network,
    planned_networks,
    server_address,
    station_addresses,
    vlan_networks,
    vlan_of,
    written,
)
from trainer.marking.mistakes.mistake import HALF, Claim, Mistake, WrongCell
from trainer.network.addresses import first_usable, last_usable, network_at

__all__ = ["ADDRESSING"]

_NETWORK = frozenset({subnets.NETWORK_ADDRESS.id})
_ANY_NETWORK = frozenset({subnets.NETWORK_ADDRESS.id, links.LINK_NETWORK.id})
_FIRST = frozenset({subnets.FIRST_USABLE.id})
_LAST = frozenset({subnets.LAST_USABLE.id})
_RANGE = _FIRST | _LAST
_BROADCAST = frozenset({subnets.BROADCAST_ADDRESS.id})
_INTERFACE = frozenset({subnets.GATEWAY.id})
_GATEWAY_TOLD = frozenset({stations.STATION_GATEWAY.id, pools.POOL_ROUTER.id})
_GATEWAY = _INTERFACE | _GATEWAY_TOLD
_SUBNET_ADDRESSES = _NETWORK | _RANGE | _BROADCAST | _INTERFACE


def _in_own_network(test: Callable[[IPv4Address, IPv4Network], bool]) -> Callable[[WrongCell], bool]:
    """A test of the value against the network that the row is about."""

    def fits(cell: WrongCell) -> bool:
        network = own_network(cell)
        return network is not None and test(cell.value, network)

    return fits


def _is_start(address: IPv4Address, network: IPv4Network) -> bool:
    return address == network.network_address


def _is_broadcast(address: IPv4Address, network: IPv4Network) -> bool:
    return address == network.broadcast_address


def _is_next_start(address: IPv4Address, network: IPv4Network) -> bool:
    return int(address) == int(network.broadcast_address) + 1


def _has_host_bits(address: IPv4Address, network: IPv4Network) -> bool:
    return address in network and address != network.network_address


def _is_off_boundary(address: IPv4Address, network: IPv4Network) -> bool:
    return address not in network and address != network_at(address, network.prefixlen).network_address


def _is_next_block(address: IPv4Address, network: IPv4Network) -> bool:
    return abs(int(address) - int(network.network_address)) == network.num_addresses


def _is_outside(address: IPv4Address, network: IPv4Network) -> bool:
    return address not in network


def _ends_in_255(address: IPv4Address, network: IPv4Network) -> bool:
    """Where the last number of the right answer is not full, and the numbers before it fit."""
    slices = range(int(network.network_address) >> 8, (int(network.broadcast_address) >> 8) + 1)
    return int(address) & 255 == 255 != int(network.broadcast_address) & 255 and int(address) >> 8 in slices


def _stops_at_octet(address: IPv4Address, network: IPv4Network) -> bool:
    """At the end of the first slice of 256 addresses, while the network goes on."""
    slice_end = int(network.network_address) | 255
    return slice_end < int(network.broadcast_address) and slice_end - int(address) in (0, 1)


def _is_gateway(cell: WrongCell) -> bool:
    return bool(cell.value == own_gateway(cell) != cell.expected)


def _is_outside_block(cell: WrongCell) -> bool:
    return cell.value not in cell.scenario.block


def _starts_another_network(cell: WrongCell) -> bool:
    return cell.value != cell.expected and any(cell.value == each.network_address for each in other_networks(cell))


def _overlaps(cell: WrongCell) -> bool:
    network = own_network(cell)
    if network is None or cell.value == cell.expected:
        return False
    claimed = network_at(cell.value, network.prefixlen)
    return any(claimed.overlaps(each) for each in other_networks(cell))


def _lies_too_high(cell: WrongCell) -> bool:
    return bool(int(cell.value) > int(cell.expected))


def _leaves_gap(cell: WrongCell) -> bool:
    """Whether the address before the network is nobody's in the trainee's own plan."""
    before = int(cell.value) - 1
    return _lies_too_high(cell) and not any(
        int(each.network_address) <= before <= int(each.broadcast_address) for each in other_networks(cell)
    )


def _lies_too_low(cell: WrongCell) -> bool:
    return bool(int(cell.value) < int(cell.expected))


def _follows_order(cell: WrongCell, order: Order) -> bool:
    vlan = vlan_of(cell)
    return vlan is not None and cell.value != cell.expected and cell.value == _starts_in(cell, order).get(vlan.number)


def _is_sorted_by_size_only(cell: WrongCell) -> bool:
    return cell.scenario.rules.order is Order.RANGE_A_SWITCH and _follows_order(cell, Order.LARGEST_FIRST)


def _follows_other_order(cell: WrongCell) -> bool:
    others = (order for order in (Order.AS_LISTED, Order.LARGEST_FIRST) if order is not cell.scenario.rules.order)
    return any(_follows_order(cell, order) for order in others)


def _starts_in(cell: WrongCell, order: Order) -> dict[int, IPv4Address]:
    """Where networks of the lengths so far would start, one behind the other, as listed or largest first."""
    lengths = {
        vlan.number: cell.so_far.value(subnets.PREFIX_LENGTH_OF, subnets.row_of(vlan.number))
        for vlan in cell.scenario.vlans
    }
    numbers = list(lengths)
    if order is Order.LARGEST_FIRST:
        numbers.sort(key=lengths.__getitem__)
    starts: dict[int, IPv4Address] = {}
    previous: IPv4Network | None = None
    for number in numbers:
        starts[number] = after(previous, cell.scenario.block, lengths[number])
        previous = network_at(starts[number], lengths[number])
    return starts


def _slipped_a_row(cell: WrongCell) -> bool:
    rows = [subnets.row_of(vlan.number) for vlan in cell.scenario.vlans]
    others = {_right_in(cell, row) for row in rows if row != cell.key_row}
    return cell.value != cell.expected and cell.value in others


def _right_in(cell: WrongCell, row: RowKey) -> object:
    return cell.key.value(cell.question, row)


def _misses_carry(cell: WrongCell) -> bool:
    return abs(int(cell.value) - int(cell.expected)) == 256


def _skips_gateway(cell: WrongCell) -> bool:
    step = 1 if cell.question is subnets.FIRST_USABLE else -1
    return cell.expected == own_gateway(cell) and int(cell.value) == int(cell.expected) + step


def _skips_fixed(cell: WrongCell) -> bool:
    return bool(int(cell.value) == int(cell.expected) + cell.scenario.rules.kept_for_fixed)


def _is_at_other_end(cell: WrongCell) -> bool:
    network = own_network(cell)
    return (
        network is not None
        and cell.value != cell.expected
        and cell.value in (first_usable(network), last_usable(network))
    )


def _are_ends_exchanged(cell: WrongCell) -> bool:
    network = own_network(cell)
    if network is None or cell.value == cell.expected:
        return False
    ends = (written(cell, subnets.FIRST_USABLE), written(cell, subnets.LAST_USABLE))
    return ends == (last_usable(network), first_usable(network))


def _is_last_before_broadcast(cell: WrongCell) -> bool:
    return bool(int(cell.value) == int(cell.expected) - 1)


def _is_inside(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value in network and cell.value != cell.expected


def _is_all_ones(cell: WrongCell) -> bool:
    return int(cell.value) == 0xFFFFFFFF


def _is_any_start(cell: WrongCell) -> bool:
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values())
    return is_reserved(cell, cell.value) and any(cell.value == each.network_address for each in networks)


def _is_any_broadcast(cell: WrongCell) -> bool:
    return is_reserved(cell, cell.value) and not _is_any_start(cell)


def _is_server(cell: WrongCell) -> bool:
    return bool(cell.value == server_address(cell) != cell.expected)


def _is_other_gateway(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in other_gateways(cell)


def _is_on_link(cell: WrongCell) -> bool:
    return any(cell.value in network for network in link_networks(cell).values())


def _is_in_other_vlan(cell: WrongCell) -> bool:
    network = own_network(cell)
    inside = {number for number, each in vlan_networks(cell).items() if cell.value in each}
    return network is not None and cell.value not in network and bool(inside)


def _is_outside_plan(cell: WrongCell) -> bool:
    return not any(
        cell.value in network for network in (*vlan_networks(cell).values(), *planned_networks(cell).values())
    )


def _has_a_fixed_station(cell: WrongCell) -> bool:
    """Whether a station of this VLAN has the address for good."""
    vlan, addresses = vlan_of(cell), station_addresses(cell)
    return cell.value != cell.expected and any(
        cell.value == addresses[station.name]
        for station in cell.scenario.stations
        if station.fixed_number is not None and vlan is not None and station.vlan == vlan.number
    )


def _is_station(cell: WrongCell) -> bool:
    return _is_inside(cell) and cell.value in station_addresses(cell).values()


def _is_pool_start(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    if vlan is None or not cell.scenario.dhcp_stations(vlan.number):
        return False
    first = cell.so_far.value(pools.POOL_FIRST, subnets.row_of(vlan.number))
    return bool(cell.value == first != cell.expected)


ADDRESSING: tuple[Mistake, ...] = (
    # Where a network starts
    Mistake(
        id="network-is-broadcast",
        questions=_ANY_NETWORK,
        priority=10,
        fits=_in_own_network(_is_broadcast),
        explanation="{given} is the highest address of this network. The network address is the lowest.",
        consequence="A device refuses it as a network, or takes it for a network of another size.",
        claim=Claim.NONE,
        hint="Are the host bits of a network address all zeros or all ones?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-is-gateway",
        questions=_NETWORK,
        priority=11,
        fits=_is_gateway,
        explanation=(
            "{given} is the gateway, a device inside the network. "
            "The network address names all of it and belongs to no device."
        ),
        consequence="A device rounds it down in silence, and the written plan no longer matches what is set.",
        claim=Claim.NONE,
        hint="Which of the two has no host bit that is a one?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-has-host-bits",
        questions=_ANY_NETWORK,
        priority=12,
        fits=_in_own_network(_has_host_bits),
        explanation=(
            "{given} lies inside this network, but not at its start. In a network address every host bit is a zero."
        ),
        consequence="A device refuses it or rounds it down, and the written plan no longer matches what is set.",
        claim=Claim.NONE,
        hint="What is left of your address when you keep the bits under the mask only?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="network-outside-parent",
        questions=_NETWORK,
        priority=12,
        fits=_is_outside_block,
        explanation=(
            "{given} is not in the block that was given for this lab. All networks of the plan come from there."
        ),
        consequence="It may belong to somebody else, and whoever sets up the lab by the rules looks for this network elsewhere.",
        claim=Claim.NONE,
        hint="Which are the first and the last address of the block on sheet Given?",
        source="RFC 4632 section 3.1; rule Block of this lab",
    ),
    Mistake(
        id="network-sorted-by-size-only",
        questions=_NETWORK,
        priority=13,
        fits=_is_sorted_by_size_only,
        explanation=(
            "At {given} the network would start if all were sorted by size. "
            "Here rule Order gives each switch a range of its own, and sorts by size inside it."
        ),
        consequence="Where the networks of several switches are mixed, no single route takes in those of one switch alone.",
        claim=Claim.NONE,
        hint="Which networks belong to one switch, and how large is the range that holds them all?",
        source="rule Order of this lab; RFC 4632 section 5.1",
    ),
    Mistake(
        id="network-order-not-followed",
        questions=_NETWORK,
        priority=13,
        fits=_follows_other_order,
        explanation=(
            "The network would start at {given} if the order of rule Order were another one. "
            "Size and table order are two things."
        ),
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint="By what does rule Order of the Brief sort the networks?",
        source="rule Order of this lab; common practice, no source",
    ),
    Mistake(
        id="network-of-another-row",
        questions=_ANY_NETWORK,
        priority=14,
        fits=_starts_another_network,
        explanation="At {given} another network of your plan starts.",
        consequence="Two interfaces claim the same addresses, and one of the two networks cannot be reached.",
        claim=Claim.NONE,
        hint="Which row of your plan holds this address already?",
        source="RFC 1812 section 5.2.4.2; the slip: common practice, no source",
    ),
    Mistake(
        id="network-not-on-boundary",
        questions=_ANY_NETWORK,
        priority=15,
        fits=_in_own_network(_is_off_boundary),
        explanation="A network can start only at a multiple of its own size, and {given} is none.",
        consequence="What a device really sets up starts earlier than you wrote.",
        claim=Claim.NONE,
        hint="When you count up from the start of the block in steps of this size, do you land on your address?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-next-or-previous-block",
        questions=_ANY_NETWORK,
        priority=16,
        fits=_in_own_network(_is_next_block),
        explanation="{given} would be a start for a network of this size, one step beside the right one.",
        consequence="Where another network holds that place, both overlap and one of them is unreachable.",
        claim=Claim.NONE,
        hint="Where does each network before this one end, in the order of rule Order?",
        source="RFC 4632 section 3.1",
        credit=HALF,
    ),
    Mistake(
        id="subnets-overlap",
        questions=_ANY_NETWORK,
        priority=20,
        fits=_overlaps,
        explanation="A network at {given} shares addresses with another one of your plan.",
        consequence="The switch refuses the second interface, or sends packets into the wrong VLAN.",
        claim=Claim.NONE,
        hint="If you sort all first and last addresses in one list, which ranges touch?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="octet-carry",
        questions=_SUBNET_ADDRESSES,
        priority=25,
        fits=_misses_carry,
        explanation=(
            "The last number is right and the one before it is one off. A carry was missed or made once too often."
        ),
        consequence="What is set up lies in another stretch of the block, and may lie in somebody else's network.",
        claim=Claim.NONE,
        hint="What happens to the number on the left when the last one is full?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="network-leaves-gap",
        questions=_NETWORK,
        priority=32,
        fits=_leaves_gap,
        explanation=(
            "{given} lies behind the place that rule Order gives to this network, and leaves addresses unused "
            "before it."
        ),
        consequence="The addresses left out may be missing at the end of the block.",
        claim=Claim.NONE,
        hint="Which is the first free multiple of this size behind the network before?",
        source="rule Order of this lab; common practice, no source",
    ),
    Mistake(
        id="network-too-late",
        questions=_NETWORK,
        priority=33,
        fits=_lies_too_high,
        explanation="{given} lies behind the place that rule Order gives to this network.",
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint="Which networks come before this one by rule Order, and where does the last of them end?",
        source="rule Order of this lab; common practice, no source",
    ),
    Mistake(
        id="network-too-early",
        questions=_NETWORK,
        priority=32,
        fits=_lies_too_low,
        explanation="{given} lies before the place that rule Order gives to this network.",
        consequence="A switch set up by the rule and one set up by your plan disagree about where this network is.",
        claim=Claim.NONE,
        hint="Which networks come before this one by rule Order, and where does the last of them end?",
        source="rule Order of this lab; common practice, no source",
    ),
    # First and last usable address
    Mistake(
        id="host-range-stops-at-octet",
        questions=_LAST | _BROADCAST,
        priority=11,
        fits=_in_own_network(_stops_at_octet),
        explanation="You stopped where the last number is full for the first time. This network goes on after that.",
        consequence="A part of the network is never used, and a pool built on it is too small.",
        claim=Claim.NONE,
        hint="How often does the third number count up inside this one network?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="host-range-columns-exchanged",
        questions=_RANGE,
        priority=10,
        fits=_are_ends_exchanged,
        explanation="First and last usable address are exchanged: each stands in the other's column.",
        consequence="A pool that is built on such a range holds no address.",
        claim=Claim.NONE,
        hint="Which of your two addresses is the lower one?",
        source="RFC 1122 section 3.2.1.3; the slip: common practice, no source",
    ),
    Mistake(
        id="host-range-ends-swapped",
        questions=_RANGE,
        priority=11,
        fits=_is_at_other_end,
        explanation="{given} is the usable address at the other end of this network.",
        consequence="Whoever builds from this row takes the wrong end for the start or the end of the range.",
        claim=Claim.NONE,
        hint="Which end of the network does this column ask for?",
        source="RFC 1122 section 3.2.1.3; the slip: common practice, no source",
    ),
    Mistake(
        id="first-host-is-network",
        questions=_FIRST,
        priority=12,
        fits=_in_own_network(_is_start),
        explanation="{given} is the network address itself, which is given to no device.",
        consequence="An interface refuses this address.",
        claim=Claim.NONE,
        hint="May all host bits of a device's address be zeros?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="last-host-is-broadcast",
        questions=_LAST,
        priority=12,
        fits=_in_own_network(_is_broadcast),
        explanation="{given} is the broadcast address, which is given to no device.",
        consequence="An interface refuses this address, as it stands for all devices of the network.",
        claim=Claim.NONE,
        hint="May all host bits of a device's address be ones?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="last-host-is-next-network",
        questions=_LAST,
        priority=12,
        fits=_in_own_network(_is_next_start),
        explanation="{given} is past the end: it is the first address that does not belong to this network any more.",
        consequence="A device with this address is in another network, and its neighbours do not find it.",
        claim=Claim.NONE,
        hint="Where does this network end when you count all its addresses, its start included?",
        source="RFC 1122 section 3.2.1.3; RFC 4632 section 3.1",
    ),
    Mistake(
        id="host-range-skips-gateway",
        questions=_RANGE,
        priority=13,
        fits=_skips_gateway,
        explanation="You left the gateway out. It has one of the usable addresses, like any other device.",
        consequence="The count of usable addresses comes out one short, and so does a size worked out from it.",
        claim=Claim.NONE,
        hint="Is the gateway a device of this network, or is its address reserved?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-range-skips-fixed",
        questions=_FIRST,
        priority=13,
        fits=_skips_fixed,
        explanation="You left out the addresses kept for fixed stations. They are in no pool, yet they can be used.",
        consequence="Fixed stations would stand outside the range that the plan calls usable.",
        claim=Claim.NONE,
        hint="Does this column ask about the pool or about the whole network?",
        source="RFC 1122 section 3.2.1.3; rule Pools of this lab",
    ),
    Mistake(
        id="row-slipped",
        questions=_SUBNET_ADDRESSES - _NETWORK - _INTERFACE,
        priority=18,
        fits=_slipped_a_row,
        explanation="{given} would be right for another VLAN of this sheet.",
        consequence="Whoever builds from this row sets up the addresses of another network.",
        claim=Claim.NONE,
        hint="Does your answer lie between the network address and the end of this very row?",
        source="common practice, no source",
    ),
    Mistake(
        id="host-range-not-the-end",
        questions=_RANGE,
        priority=30,
        fits=_is_inside,
        explanation="{given} is inside this network, but not the outermost address that a device can have.",
        consequence="Addresses of the network stay unused although the plan counts on them.",
        claim=Claim.NONE,
        hint="Which address lies next to the reserved one at this end?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="host-range-outside-subnet",
        questions=_RANGE,
        priority=31,
        fits=_in_own_network(_is_outside),
        explanation="{given} is not in the network of this row.",
        consequence="The plan claims addresses that belong to another network, or to nobody.",
        claim=Claim.NONE,
        hint="Does it lie between the network address and the broadcast address of this row?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="range-in-another-network",
        questions=_RANGE | _BROADCAST,
        priority=26,
        fits=_is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN. Each row of this sheet stays within its own network.",
        consequence="The plan claims addresses that another VLAN is using.",
        claim=Claim.NONE,
        hint="Where does the network of this row end, and where does the next one start?",
        source="RFC 4632 section 3.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="range-on-a-link",
        questions=_RANGE | _BROADCAST,
        priority=27,
        fits=_is_on_link,
        explanation=("{given} is on a link between switches. The links have networks of their own."),
        consequence="The plan gives an address of a link to the stations of a VLAN.",
        claim=Claim.NONE,
        hint="Where does the network of this row end, and what lies behind it?",
        source="RFC 4632 section 3.1; rule Order of this lab",
    ),
    # Broadcast address
    Mistake(
        id="broadcast-all-ones",
        questions=_BROADCAST,
        priority=4,
        fits=_is_all_ones,
        explanation=(
            "{given} means everybody on this wire, whatever the network. Asked is the broadcast address of one network."
        ),
        consequence="Sent from a far network, it would never arrive: no switch hands it on.",
        claim=Claim.NONE,
        hint="Which of the bits stay as they are in this network, and which become ones?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-last-host",
        questions=_BROADCAST,
        priority=12,
        fits=_is_last_before_broadcast,
        explanation=(
            "{given} is the last address that a device can have. In the broadcast address every host bit is a one."
        ),
        consequence="A device set to this address would answer, while a broadcast reaches nobody.",
        claim=Claim.NONE,
        hint="Is the last bit of your answer a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-next-network",
        questions=_BROADCAST,
        priority=12,
        fits=_in_own_network(_is_next_start),
        explanation=(
            "{given} is one past the end of this network: another one would start there. "
            "The broadcast address is the last one of this network."
        ),
        consequence="A packet sent there leaves the network and reaches none of its stations as a broadcast.",
        claim=Claim.NONE,
        hint="Which address do you get when every host bit of this network becomes a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-is-network",
        questions=_BROADCAST,
        priority=12,
        fits=_in_own_network(_is_start),
        explanation=(
            "{given} is the network address, where every host bit is a zero. In the broadcast address they are ones."
        ),
        consequence="A broadcast sent there is taken for the old form and may be dropped by every station.",
        claim=Claim.NONE,
        hint="Which of the two special addresses of a network is the highest?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-assumes-255",
        questions=_BROADCAST,
        priority=14,
        fits=_in_own_network(_ends_in_255),
        explanation=("The last number is full only if the host bits fill it. In this network they do not."),
        consequence="The address belongs to another network, so no station of this one takes it for a broadcast.",
        claim=Claim.NONE,
        hint="How many host bits has this network, and in which numbers do they stand?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-inside-subnet",
        questions=_BROADCAST,
        priority=30,
        fits=_is_inside,
        explanation="{given} is an ordinary address of this network. The broadcast address is the very last.",
        consequence="A device may be given this address, so a broadcast would reach one device at most.",
        claim=Claim.NONE,
        hint="Which address do you get when you turn every host bit into a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="broadcast-outside-subnet",
        questions=_BROADCAST,
        priority=31,
        fits=_in_own_network(_is_outside),
        explanation="{given} is no address of this network.",
        consequence="A packet sent there leaves the network and reaches none of its stations as a broadcast.",
        claim=Claim.NONE,
        hint="Where do you come out when you count up from the network address by the size of the network?",
        source="RFC 1122 section 3.2.1.3",
    ),
    # Gateways: on the interface, in stations, in pools
    Mistake(
        id="gateway-is-network",
        questions=_GATEWAY,
        priority=10,
        fits=_is_any_start,
        explanation="{given} is a network address. It names a whole network and is given to no device.",
        consequence="Stations find nobody at this address, so they reach nothing outside their network.",
        claim=Claim.NO_ANSWER,
        hint="Is any host bit of your answer a one?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="gateway-is-broadcast",
        questions=_GATEWAY,
        priority=10,
        fits=_is_any_broadcast,
        explanation="{given} is the broadcast address of a network. It stands for all devices and is given to none.",
        consequence="Stations cannot use it as their way out, so they reach nothing outside their network.",
        claim=Claim.NO_ANSWER,
        hint="Is any host bit of your answer a zero?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="gateway-takes-a-stations-address",
        questions=_INTERFACE,
        priority=10,
        fits=_has_a_fixed_station,
        explanation=(
            "{given} is also the address of a station of this VLAN, by its number in table Stations. "
            "Rule Gateway names another one."
        ),
        consequence="Two devices answer for one address, and connections of the whole VLAN break off at random.",
        claim=Claim.NO_ANSWER,
        hint="Which usable address does rule Gateway name, and which numbers does table Stations give away?",
        source="RFC 5227 section 1; rule Gateway of this lab",
    ),
    Mistake(
        id="gateway-at-wrong-end",
        questions=_INTERFACE,
        priority=11,
        fits=_is_at_other_end,
        explanation=(
            "{given} is at the wrong end of the network. Rule Gateway says which usable address it has in this lab."
        ),
        consequence=(
            "Stations that are set up by the rule look for their way out at the other end, and reach "
            "nothing outside their network."
        ),
        claim=Claim.NO_ANSWER,
        hint="Which usable address does rule Gateway of the Brief name?",
        source="rule Gateway of this lab; common practice, no source",
        credit=HALF,
    ),
    Mistake(
        id="gateway-is-dhcp-server",
        questions=_GATEWAY,
        priority=12,
        fits=_is_server,
        explanation=(
            "{given} is the DHCP server. It hands out addresses and carries no packets from network to network."
        ),
        consequence="Stations may reach their neighbours, but nothing beyond them answers.",
        claim=Claim.NO_ANSWER,
        hint="Which device has an address in this VLAN and in other networks as well?",
        source="RFC 2132 section 3.5; RFC 1122 section 3.3.1.2",
    ),
    Mistake(
        id="gateway-of-other-vlan",
        questions=_GATEWAY,
        priority=13,
        fits=_is_other_gateway,
        explanation=(
            "{given} is the gateway of another VLAN. A gateway stands in the same network as the stations that use it."
        ),
        consequence="Stations cannot reach it directly, so their packets stay inside the VLAN.",
        claim=Claim.NO_ANSWER,
        hint="Under the mask of this VLAN, are your answer and a station of it in the same network?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-is-link-address",
        questions=_GATEWAY,
        priority=14,
        fits=_is_on_link,
        explanation=(
            "{given} is on a link between switches. Stations use the address of their switch in their own VLAN."
        ),
        consequence="Stations cannot reach it directly, so nothing outside the VLAN answers.",
        claim=Claim.NO_ANSWER,
        hint="Which address of the switch can a station reach without help from anybody?",
        source="RFC 1122 section 3.3.1.1",
    ),
    Mistake(
        id="gateway-is-pool-start",
        questions=_GATEWAY,
        priority=15,
        fits=_is_pool_start,
        explanation="{given} is the first address of the pool, which goes to the first client that asks.",
        consequence="A client is lent this very address, so the other stations find no way out there.",
        claim=Claim.NO_ANSWER,
        hint="Which addresses of this network does the server never give away?",
        source="RFC 2131 section 2.2; RFC 5227 section 1",
        credit=HALF,
    ),
    Mistake(
        id="gateway-is-a-station",
        questions=_GATEWAY,
        priority=16,
        fits=_is_station,
        explanation="{given} belongs to a station. A station does not carry packets from network to network.",
        consequence="Packets for other networks arrive at that station and are thrown away there.",
        claim=Claim.NO_ANSWER,
        hint="Which device stands between this VLAN and the rest of the lab?",
        source="RFC 1122 section 3.3.1.2",
        credit=HALF,
    ),
    Mistake(
        id="iface-in-other-vlan-subnet",
        questions=_INTERFACE,
        priority=17,
        fits=_is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN.",
        consequence="This VLAN has no way out, and the switch looks for the other network behind the wrong interface.",
        claim=Claim.NO_ANSWER,
        hint="Between which two addresses of this row should the gateway lie?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="iface-address-outside-plan",
        questions=_INTERFACE,
        priority=20,
        fits=_is_outside_plan,
        explanation="{given} is in none of the VLAN networks you planned.",
        consequence="The VLAN has no way out: no station can reach an interface with this address.",
        claim=Claim.NO_ANSWER,
        hint="Which range did you plan for this VLAN, and does the address lie in it?",
        source="RFC 1812 section 5.2.4.2",
    ),
    Mistake(
        id="iface-not-the-agreed-address",
        questions=_INTERFACE,
        priority=24,
        fits=_is_inside,
        explanation="{given} is in the right network, but rule Gateway names another address of it.",
        consequence="Stations that expect the gateway where the rule puts it get no answer.",
        claim=Claim.NO_ANSWER,
        hint="Which usable address does rule Gateway of the Brief name?",
        source="rule Gateway of this lab; common practice, no source",
        credit=HALF,
    ),
    Mistake(
        id="gateway-in-other-vlan",
        questions=_GATEWAY_TOLD,
        priority=17,
        fits=_is_in_other_vlan,
        explanation=(
            "{given} lies in the network of another VLAN. A gateway stands in the same network as those that use it."
        ),
        consequence="The station finds that its way out is itself far away, and stays cut off.",
        claim=Claim.NO_ANSWER,
        hint="Between which two addresses lies the network of this VLAN?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-outside-subnet",
        questions=_GATEWAY_TOLD,
        priority=20,
        fits=_in_own_network(_is_outside),
        explanation="{given} is not in the network of this VLAN.",
        consequence="The station finds that its way out is itself far away, and stays cut off.",
        claim=Claim.NO_ANSWER,
        hint="Under the mask of this VLAN, are your answer and a station of it in the same network?",
        source="RFC 1122 section 3.3.1.1; RFC 2132 section 3.5",
    ),
    Mistake(
        id="gateway-not-the-switch",
        questions=_GATEWAY_TOLD,
        priority=24,
        fits=_is_inside,
        explanation="{given} is in the right network, but the switch does not have this address.",
        consequence="Stations send everything for other networks to an address where nobody answers.",
        claim=Claim.NO_ANSWER,
        hint="Which address did you write for the VLAN interface on sheet Subnets?",
        source="RFC 1122 section 3.3.1.2",
        credit=HALF,
    ),
)
