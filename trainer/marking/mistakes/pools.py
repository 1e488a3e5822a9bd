"""Mistakes on sheet Pools, and in lease times wherever they are asked."""

from trainer.lab.form import CellRef
from trainer.lab.kinds import INFINITE
from trainer.lab.questions import bindings, pools
from trainer.marking.mistakes.evidence import (
    link_networks,
    own_gateway,
    own_network,
    server_address,
    station_addresses,
    vlan_networks,
    vlan_of,
    written,
)
from trainer.marking.mistakes.mistake import HALF, Claim, Lapse, Mistake, WrongCell
from trainer.network.addresses import first_usable, last_usable

__all__ = ["POOL_MISTAKES"]

_FIRST = frozenset({pools.POOL_FIRST.id})
_LAST = frozenset({pools.POOL_LAST.id})
_ENDS = _FIRST | _LAST
_POOL_LEASE = frozenset({pools.POOL_LEASE.id})
_LEASES = _POOL_LEASE | {bindings.BINDING_LEASE.id}
_ALL = frozenset(question.id for question in pools.POOLS.questions)
_UNITS = (24, 60, 1440, 3600, 86400)


def _written_range(cell: WrongCell) -> range:
    """What the pool holds as the trainee wrote it, as plain numbers; empty where an end is missing."""
    first, last = written(cell, pools.POOL_FIRST), written(cell, pools.POOL_LAST)
    return range(0) if first is None or last is None else range(int(first), int(last) + 1)


def _are_ends_swapped(cell: WrongCell) -> bool:
    other = pools.POOL_LAST if cell.question is pools.POOL_FIRST else pools.POOL_FIRST
    row = cell.key_row
    return (
        row is not None
        and cell.value != cell.expected
        and written(cell, other) == cell.expected
        and cell.value == other.answer(cell.scenario, cell.so_far, row)
    )


def _is_reversed(cell: WrongCell) -> bool:
    first, last = written(cell, pools.POOL_FIRST), written(cell, pools.POOL_LAST)
    return cell.value != cell.expected and first is not None and last is not None and first > last


def _is_kept_range(cell: WrongCell) -> bool:
    """The addresses kept for fixed stations stand where the pool should."""
    network = own_network(cell)
    if network is None or cell.value == cell.expected:
        return False
    lowest = int(first_usable(network))
    kept = range(lowest, lowest + cell.scenario.rules.kept_for_fixed)
    held = _written_range(cell)
    return len(kept) > 1 and len(held) > 0 and held[0] in kept[:2] and held[-1] == kept[-1]


def _is_network_address(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value == network.network_address


def _is_broadcast_address(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value == network.broadcast_address


def _keeps_nothing(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value != cell.expected and cell.value == first_usable(network)


def _is_last_kept(cell: WrongCell) -> bool:
    return bool(int(cell.value) == int(cell.expected) - 1)


def _is_one_late(cell: WrongCell) -> bool:
    return bool(int(cell.value) == int(cell.expected) + 1)


def _is_count_as_last_octet(cell: WrongCell) -> bool:
    """With the other three numbers those of the network's start, where it is not just the answer of another row."""
    network, kept = own_network(cell), cell.scenario.rules.kept_for_fixed
    if network is None or not _is_outside(cell) or _is_right_in_another_row(cell):
        return False
    start = int(network.network_address) & ~255
    return int(cell.value) in (start + kept, start + kept + 1)


def _is_right_in_another_row(cell: WrongCell) -> bool:
    others = (row.key for row in cell.section.rows(cell.scenario) if row.key != cell.key_row)
    return any(cell.value == cell.question.answer(cell.scenario, cell.so_far, row) for row in others)


def _hands_out(cell: WrongCell, address: object) -> bool:
    return cell.value != cell.expected and isinstance(address, int) and address in _written_range(cell)


def _hands_out_gateway(cell: WrongCell) -> bool:
    gateway = own_gateway(cell)
    return gateway is not None and _hands_out(cell, int(gateway))


def _hands_out_fixed(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    addresses = station_addresses(cell)
    return vlan is not None and any(
        _hands_out(cell, int(addresses[each.name]))
        for each in cell.scenario.stations
        if each.vlan == vlan.number and each.fixed_number is not None
    )


def _is_in_server_network(cell: WrongCell) -> bool:
    network = own_network(cell)
    home = vlan_networks(cell)[cell.scenario.server.vlan]
    return network is not None and cell.value not in network and cell.value in home


def _is_in_other_vlan(cell: WrongCell) -> bool:
    network = own_network(cell)
    inside = any(cell.value in each for each in vlan_networks(cell).values())
    return network is not None and cell.value not in network and inside


def _is_outside(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value not in network


def _stops_at_octet(cell: WrongCell) -> bool:
    network = own_network(cell)
    if network is None:
        return False
    slice_end = int(network.network_address) | 255
    return slice_end < int(network.broadcast_address) and slice_end - int(cell.value) in (0, 1)


def _is_too_small(cell: WrongCell) -> bool:
    vlan, network = vlan_of(cell), own_network(cell)
    if vlan is None or network is None or cell.value not in network or cell.value == cell.expected:
        return False
    return len(_written_range(cell)) < min(
        vlan.addresses_needed - cell.scenario.rules.kept_for_fixed, _right_size(cell)
    )


def _right_size(cell: WrongCell) -> int:
    row = cell.key_row
    assert row is not None, "pools have fixed rows"
    first, last = (each.answer(cell.scenario, cell.so_far, row) for each in (pools.POOL_FIRST, pools.POOL_LAST))
    return max(int(last) - int(first) + 1, 1)


def _leaves_out_last(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.expected == last_usable(network) and int(cell.value) == int(cell.expected) - 1


def _ends_early(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value in network and cell.value < cell.expected


def _starts_late(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value in network and cell.value > cell.expected


def _is_server(cell: WrongCell) -> bool:
    return bool(cell.value == server_address(cell) != cell.expected)


def _is_the_only_gap(cell: WrongCell) -> bool:
    """Whether the pool is whole otherwise, so that it hands addresses out."""
    others = (pools.POOL_FIRST, pools.POOL_LAST, pools.POOL_MASK, pools.POOL_LEASE)
    return all(CellRef(question.id, cell.row) in cell.answers.values for question in others)


def _is_row_empty(cell: WrongCell) -> bool:
    """Whether nothing stands in the whole row; a sheet on which nothing stands at all is another matter."""
    rows = {ref.row for ref in cell.answers.values if ref.question in _ALL}
    rows |= {ref.row for ref, text in cell.texts.items() if ref.question in _ALL and text}
    return bool(rows) and cell.row not in rows


def _is_on_link(cell: WrongCell) -> bool:
    return any(cell.value in each for each in link_networks(cell).values())


def _is_endless(cell: WrongCell) -> bool:
    return bool(cell.value == INFINITE != cell.expected)


def _is_zero(cell: WrongCell) -> bool:
    return bool(cell.value == 0)


def _is_finite(cell: WrongCell) -> bool:
    return bool(INFINITE not in (cell.value, cell.expected) and cell.value != cell.expected)


def _lacks_unit(cell: WrongCell) -> bool:
    return cell.text.isdecimal() and _has_other_unit(cell)


def _has_other_unit(cell: WrongCell) -> bool:
    return _is_finite(cell) and any(
        cell.value * unit == cell.expected or cell.value == cell.expected * unit for unit in _UNITS
    )


def _is_renewal_time(cell: WrongCell) -> bool:
    return _is_finite(cell) and bool(cell.value * 2 == cell.expected or cell.value * 8 == cell.expected * 7)


def _is_doubled(cell: WrongCell) -> bool:
    return _is_finite(cell) and bool(cell.value == cell.expected * 2)


POOL_MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        id="scope-router-missing",
        questions=frozenset({pools.POOL_ROUTER.id}),
        priority=9,
        lapses=frozenset({Lapse.BLANK}),
        fits=_is_the_only_gap,
        explanation="This cell is empty, so the pool tells its clients no gateway.",
        consequence="Clients get an address and reach their neighbours, but never leave their VLAN.",
        claim=Claim.NO_ANSWER,
        hint="Besides an address and a mask, what does a client need to reach other networks?",
        source="RFC 2132 section 3.5",
    ),
    Mistake(
        id="scope-missing-for-relayed-vlan",
        questions=_ALL,
        priority=8,
        lapses=frozenset({Lapse.BLANK}),
        fits=_is_row_empty,
        explanation="This VLAN has clients, and the server has no pool for it: the whole row is empty.",
        consequence="The server hears the requests of this VLAN and makes no offer, so clients there get no lease.",
        claim=Claim.NO_LEASE,
        hint="Out of which addresses can the server make an offer to a client of this VLAN?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-ends-swapped",
        questions=_ENDS,
        priority=9,
        fits=_are_ends_swapped,
        explanation="First and last address of the pool stand in each other's column.",
        consequence="A pool that starts behind its end holds no address, so its clients get no lease.",
        claim=Claim.NO_LEASE,
        hint="Which of your two addresses is the lower one?",
        source="common practice, no source",
    ),
    Mistake(
        id="scope-range-and-exclusion-swapped",
        questions=_ENDS,
        priority=10,
        fits=_is_kept_range,
        explanation="You wrote the addresses that are kept for fixed stations. The pool is what the server may lend.",
        consequence="Just the addresses that must stay free go to clients, and fixed stations run into conflicts.",
        claim=Claim.NONE,
        hint="Which addresses may the server give away, and which should it leave alone?",
        source="RFC 2131 section 2.2; rule Pools of this lab",
    ),
    Mistake(
        id="scope-start-is-network",
        questions=_FIRST,
        priority=11,
        fits=_is_network_address,
        explanation="The pool starts with the network address, which no client can use.",
        consequence="The server refuses the pool, or lends an address that does not work.",
        claim=Claim.NO_ANSWER,
        hint="Which is the lowest address that a device can have in this network?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="scope-end-is-broadcast",
        questions=_LAST,
        priority=11,
        fits=_is_broadcast_address,
        explanation="The pool ends with the broadcast address, which no client can use.",
        consequence="If a server takes such a pool at all, the client that is lent its last address cannot use it.",
        claim=Claim.NONE,
        hint="Which is the highest address that a device can have in this network?",
        source="RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="scope-is-server-address",
        questions=_ENDS,
        priority=11,
        fits=_is_server,
        explanation="{given} is the address of the server itself. A pool holds addresses for others to use.",
        consequence=(
            "If a client is ever told to take it, two devices have the server's address and nobody "
            "gets a lease any more."
        ),
        claim=Claim.NONE,
        hint="For whom is this pool, and in which network are they?",
        source="RFC 2131 section 2.2; RFC 5227 section 1",
    ),
    Mistake(
        id="scope-keeps-nothing-back",
        questions=_FIRST,
        priority=12,
        fits=_keeps_nothing,
        explanation=(
            "The pool starts with the very first usable address. Rule Pools keeps the first ones for fixed stations."
        ),
        consequence="The first clients get addresses that a fixed station, or the gateway, may have.",
        claim=Claim.NONE,
        hint="How many usable addresses does rule Pools leave out at the start?",
        source="RFC 2131 section 2.2; rule Pools of this lab",
    ),
    Mistake(
        id="scope-for-wrong-subnet",
        questions=_ENDS,
        priority=13,
        fits=_is_in_server_network,
        explanation="{given} lies in the network of the server. Relayed clients need a pool in their own network.",
        consequence="Clients get no offer, or sooner or later one that does not fit their network.",
        claim=Claim.NONE,
        hint="Where does the request come from: the server's network or the client's?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-network-of-another-vlan",
        questions=_ENDS,
        priority=14,
        fits=_is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN.",
        consequence="Clients of this VLAN get no offer, or sooner or later one that does not fit their network.",
        claim=Claim.NONE,
        hint="Do VLAN, address and router of this row belong together?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-range-reversed",
        questions=_ENDS,
        priority=15,
        fits=_is_reversed,
        explanation="The pool starts behind its end.",
        consequence="Such a pool holds no address, so no client of this VLAN gets a lease.",
        claim=Claim.NO_LEASE,
        hint="Which of your two addresses is the lower one?",
        source="common practice, no source",
    ),
    Mistake(
        id="scope-stops-at-octet",
        questions=_LAST,
        priority=15,
        fits=_stops_at_octet,
        explanation="The pool stops where the last number is full for the first time. This network goes on after that.",
        consequence="Once the addresses below are lent, later clients get none.",
        claim=Claim.NONE,
        hint="How often does the third number count up inside this network?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="scope-hands-out-gateway",
        questions=_ENDS,
        priority=16,
        fits=_hands_out_gateway,
        explanation="The gateway lies in the pool as you wrote it.",
        consequence="Sooner or later a client gets its address, and the VLAN loses its way out at random.",
        claim=Claim.NONE,
        hint="Which addresses of this network belong to a device already?",
        source="RFC 2131 section 2.2; RFC 5227 section 1",
    ),
    Mistake(
        id="scope-start-is-last-kept",
        questions=_FIRST,
        priority=17,
        fits=_is_last_kept,
        explanation="{given} is the last of the addresses kept for fixed stations. The pool starts behind them.",
        consequence="The first client gets an address that a fixed station may have.",
        claim=Claim.OTHER_LEASE,
        hint="Are the kept addresses counted with the last one, or without it?",
        source="rule Pools of this lab; RFC 2131 section 2.2",
        credit=HALF,
    ),
    Mistake(
        id="scope-hands-out-static",
        questions=_ENDS,
        priority=18,
        fits=_hands_out_fixed,
        explanation="A station with a fixed address lies in the pool as you wrote it.",
        consequence="A client may get the same address, and both lose their connections.",
        claim=Claim.NONE,
        hint="Which fixed addresses has this VLAN, and does the pool leave them out?",
        source="RFC 2131 section 2.2; RFC 5227 section 1",
    ),
    Mistake(
        id="scope-start-one-late",
        questions=_FIRST,
        priority=18,
        fits=_is_one_late,
        explanation="The pool starts one address late: a usable one behind the kept ones is left out.",
        consequence="Every lease is one address off the plan, and one address is never used.",
        claim=Claim.OTHER_LEASE,
        hint="Which number has the first usable address that is not kept?",
        source="rule Pools of this lab; common practice, no source",
        credit=HALF,
    ),
    Mistake(
        id="scope-start-count-as-octet",
        questions=_FIRST,
        priority=12,
        fits=_is_count_as_last_octet,
        explanation=(
            "You took the count of kept addresses for the last number. It is counted from the first usable address."
        ),
        consequence="The pool starts in another network, and the server refuses it or lends the wrong addresses.",
        claim=Claim.NONE,
        hint="At which last number does this network start?",
        source="rule Pools of this lab; common practice, no source",
    ),
    Mistake(
        id="scope-on-a-link",
        questions=_ENDS,
        priority=14,
        fits=_is_on_link,
        explanation="{given} is on a link between switches. No client lives there, and none asks from there.",
        consequence="Clients of this VLAN get no offer, or sooner or later one that does not fit their network.",
        claim=Claim.NONE,
        hint="Where do the clients live: in a VLAN, or on a link between switches?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-range-outside-subnet",
        questions=_ENDS,
        priority=20,
        fits=_is_outside,
        explanation="{given} is outside the network of this pool.",
        consequence="Clients of this VLAN get no offer, or sooner or later one that does not fit their network.",
        claim=Claim.NONE,
        hint="Between which two addresses does this network lie?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-leaves-out-last",
        questions=_LAST,
        priority=21,
        fits=_leaves_out_last,
        explanation="The last usable address is left out, as if the gateway stood there. It does not in this lab.",
        consequence="One address is never lent, and the last client may go without.",
        claim=Claim.NONE,
        hint="At which end of the network is the gateway?",
        source="rules Gateway and Pools of this lab; common practice, no source",
        credit=HALF,
    ),
    Mistake(
        id="scope-pool-too-small",
        questions=_ENDS,
        priority=22,
        fits=_is_too_small,
        explanation="The pool holds fewer addresses than this VLAN needs beside its kept ones.",
        consequence="Once its few addresses are lent, the next clients get none.",
        claim=Claim.NONE,
        hint="How many addresses lie between your two ends, and how many are needed?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="scope-ends-early",
        questions=_LAST,
        priority=31,
        fits=_ends_early,
        explanation=(
            "The pool ends before the network does. Rule Pools takes it to the last usable address that is free."
        ),
        consequence="The addresses above are never lent, although the plan counts on them.",
        claim=Claim.NONE,
        hint="Which is the last usable address, and does the gateway stand there?",
        source="rule Pools of this lab; common practice, no source",
    ),
    Mistake(
        id="scope-starts-late",
        questions=_FIRST,
        priority=31,
        fits=_starts_late,
        explanation="The pool starts later than rule Pools says, and leaves out addresses that could be lent.",
        consequence="Every lease comes out at another address than planned, and some addresses are never used.",
        claim=Claim.OTHER_LEASE,
        hint="How many usable addresses are kept for fixed stations?",
        source="rule Pools of this lab; common practice, no source",
    ),
    Mistake(
        id="scope-starts-early",
        questions=_FIRST,
        priority=32,
        fits=_ends_early,
        explanation="The pool starts among the addresses that rule Pools keeps for fixed stations.",
        consequence="A client may get an address that is meant for a fixed station.",
        claim=Claim.NONE,
        hint="How many usable addresses are kept for fixed stations?",
        source="rule Pools of this lab; RFC 2131 section 2.2",
    ),
    Mistake(
        id="lease-zero",
        questions=_LEASES,
        priority=9,
        fits=_is_zero,
        explanation="A lease of no length is over as soon as it is given.",
        consequence="Clients give their address back at once, or never take it.",
        claim=Claim.OTHER_LEASE,
        hint="For how long does sheet Given lend an address?",
        source="RFC 2131 section 3.3; RFC 2132 section 9.2",
    ),
    Mistake(
        id="lease-without-end",
        questions=_POOL_LEASE,
        priority=10,
        fits=_is_endless,
        explanation="{given} lends the address for ever. The lab lends it for a time.",
        consequence="Addresses of clients that left never come back, and one day the pool is empty.",
        claim=Claim.OTHER_LEASE,
        hint="For how long does sheet Given lend an address?",
        source="RFC 2131 section 3.3",
    ),
    Mistake(
        id="lease-without-unit",
        questions=_LEASES,
        priority=12,
        fits=_lacks_unit,
        explanation="{given} stands there without its unit, and then counts in seconds, as the protocol does.",
        consequence="Clients come back to renew every few moments, or far too late.",
        claim=Claim.OTHER_LEASE,
        hint="Which unit belongs to your number?",
        source="RFC 2131 section 3.3; RFC 2132 section 9.2",
    ),
    Mistake(
        id="scope-lease-unit",
        questions=_LEASES,
        priority=15,
        fits=_has_other_unit,
        explanation="The number may be right, but its unit is not.",
        consequence="Clients renew far too often, or keep their addresses far too long.",
        claim=Claim.OTHER_LEASE,
        hint="In which unit does sheet Given name the lease?",
        source="RFC 2131 section 3.3; RFC 2132 section 9.2",
        credit=HALF,
    ),
    Mistake(
        id="lease-is-renewal-time",
        questions=_LEASES,
        priority=16,
        fits=_is_renewal_time,
        explanation=(
            "{given} is when a client asks for more time. "
            "The lease is how long it may keep the address without an answer."
        ),
        consequence="A server set up so makes its clients ask twice as often as planned.",
        claim=Claim.OTHER_LEASE,
        hint="What happens to the address when the whole time is over?",
        source="RFC 2131 section 4.4.5",
    ),
    Mistake(
        id="lease-doubled",
        questions=_LEASES,
        priority=17,
        fits=_is_doubled,
        explanation="{given} is twice the time for which this lab lends addresses.",
        consequence="Addresses of clients that left stay taken twice as long.",
        claim=Claim.OTHER_LEASE,
        hint="What is granted at the first request, before any renewal, and where does it stand?",
        source="RFC 2131 section 4.4.5",
    ),
    Mistake(
        id="lease-not-as-given",
        questions=_LEASES,
        priority=30,
        fits=_is_finite,
        explanation="{given} is not the time for which this lab lends addresses.",
        consequence="Clients renew at other times than planned, and the table shows another time.",
        claim=Claim.OTHER_LEASE,
        hint="For how long does sheet Given lend an address?",
        source="RFC 2131 section 3.3; the time itself is given",
    ),
)
