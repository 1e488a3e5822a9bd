"""Mistakes on sheet Bindings: the rows that tie a station's address and MAC to its port."""

from trainer.lab.form import CellRef, RowKey
from trainer.lab.kinds import INFINITE, BindingType
from trainer.lab.questions import bindings, pools, protection, subnets
from trainer.lab.questions.protection import guarded_ports
from trainer.lab.scenario import StationPlan
from trainer.marking.mistakes.evidence import (
    PortRole,
    bound_elsewhere,
    gateways,
    is_reserved,
    link_networks,
    own_network,
    pool_range,
    port_role,
    server_address,
    station_addresses,
    station_at,
    station_of,
    switch_names,
    vlan_networks,
    written,
)
from trainer.marking.mistakes.mistake import Claim, Lapse, Mistake, WrongCell

__all__ = ["BINDING_MISTAKES"]

_PORT = frozenset({bindings.BINDING_PORT.id})
_VLAN = frozenset({bindings.BINDING_VLAN.id})
_MAC = frozenset({bindings.BINDING_MAC.id})
_ADDRESS = frozenset({bindings.BINDING_ADDRESS.id})
_TYPE = frozenset({bindings.BINDING_TYPE_OF.id})
_LEASE = frozenset({bindings.BINDING_LEASE.id})
_ALL = _PORT | _VLAN | _MAC | _ADDRESS | _TYPE | _LEASE
_EXTRA = frozenset({Lapse.EXTRA})
_MISSING = frozenset({Lapse.MISSING})


def _role(cell: WrongCell) -> PortRole:
    return port_role(cell, str(cell.value.switch), str(cell.value.port))


def _is_unknown_switch(cell: WrongCell) -> bool:
    return cell.value.switch not in switch_names(cell)


def _is_link_port(cell: WrongCell) -> bool:
    return _role(cell) in (PortRole.UPLINK, PortRole.DOWNLINK)


def _is_server_port(cell: WrongCell) -> bool:
    return cell.value != cell.expected and _role(cell) is PortRole.SERVER


def _is_other_letter(cell: WrongCell) -> bool:
    return bool(cell.value.port == cell.expected.port and cell.value.switch != cell.expected.switch)


def _is_other_station_port(cell: WrongCell) -> bool:
    return cell.value != cell.expected and _role(cell) is PortRole.STATION


def _is_port_not_in_use(cell: WrongCell) -> bool:
    return _role(cell) is PortRole.UNUSED


def _is_server_vlan(cell: WrongCell) -> bool:
    return bool(cell.value == cell.scenario.server.vlan != cell.expected)


def _is_server_mac(cell: WrongCell) -> bool:
    return bool(cell.value == cell.scenario.server.mac != cell.expected)


def _is_group_mac(cell: WrongCell) -> bool:
    return int(cell.value[:2], 16) & 1 == 1


def _is_mac_of_another(cell: WrongCell) -> bool:
    return cell.value != cell.expected and any(cell.value == each.mac for each in cell.scenario.stations)


def _is_reversed_mac(cell: WrongCell) -> bool:
    return bool("-".join(reversed(cell.value.split("-"))) == cell.expected != cell.value)


def _is_mac_slip(cell: WrongCell) -> bool:
    """A few digits changed, or the same digits in another order."""
    changed = sum(one != other for one, other in zip(cell.value, cell.expected, strict=True))
    return changed > 0 and (changed <= 4 or sorted(cell.value) == sorted(cell.expected))


def _is_no_mac_of_lab(cell: WrongCell) -> bool:
    return cell.value != cell.expected and not _is_mac_of_another(cell)


def _is_reserved_address(cell: WrongCell) -> bool:
    return cell.value != cell.expected and is_reserved(cell, cell.value)


def _is_gateway(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in gateways(cell).values()


def _is_server(cell: WrongCell) -> bool:
    return bool(cell.value == server_address(cell) != cell.expected)


def _is_of_another_station(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in station_addresses(cell).values()


def _client(cell: WrongCell) -> StationPlan | None:
    """The station of the row, if it asks for its address."""
    station = station_of(cell)
    return station if station is not None and station.fixed_number is None else None


def _counts_from_the_end(cell: WrongCell) -> bool:
    station = _client(cell)
    if station is None or cell.value == cell.expected:
        return False
    turn = cell.scenario.dhcp_stations(station.vlan).index(station)
    held = pool_range(cell, station.vlan)
    return len(held) > turn and int(cell.value) == held[-1 - turn]


def _is_out_of_turn(cell: WrongCell) -> bool:
    station = _client(cell)
    return station is not None and cell.value != cell.expected and int(cell.value) in pool_range(cell, station.vlan)


def _is_not_lent(cell: WrongCell) -> bool:
    station, network = _client(cell), own_network(cell)
    return (
        station is not None
        and network is not None
        and cell.value in network
        and cell.value != cell.expected
        and int(cell.value) not in pool_range(cell, station.vlan)
    )


def _is_on_link(cell: WrongCell) -> bool:
    return any(cell.value in each for each in link_networks(cell).values())


def _is_in_other_vlan(cell: WrongCell) -> bool:
    network = own_network(cell)
    inside = any(cell.value in each for each in vlan_networks(cell).values())
    return network is not None and cell.value not in network and inside


def _is_outside(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value not in network


def _is_not_own_fixed(cell: WrongCell) -> bool:
    return cell.value != cell.expected and _client(cell) is None


def _is_learnt_for_fixed(cell: WrongCell) -> bool:
    return cell.value is BindingType.DYNAMIC and cell.expected is BindingType.STATIC


def _is_by_hand_for_client(cell: WrongCell) -> bool:
    return cell.value is BindingType.STATIC and cell.expected is BindingType.DYNAMIC


def _contradicts_lease(cell: WrongCell) -> bool:
    lease = written(cell, bindings.BINDING_LEASE)
    is_endless = lease == INFINITE
    return cell.value != cell.expected and lease is not None and is_endless != (cell.value is BindingType.STATIC)


def _is_finite_for_fixed(cell: WrongCell) -> bool:
    return bool(cell.expected == INFINITE != cell.value)


def _is_endless_for_client(cell: WrongCell) -> bool:
    return bool(cell.value == INFINITE != cell.expected)


def _differs_from_pool(cell: WrongCell) -> bool:
    station = _client(cell)
    if station is None or cell.value == cell.expected:
        return False
    lease = cell.answers.get(pools.POOL_LEASE, subnets.row_of(station.vlan))
    return lease is not None and lease == cell.expected


def _is_guarded_without_row(cell: WrongCell) -> bool:
    station = station_of(cell)
    if station is None or station.fixed_number is None:
        return False
    guarded = cell.answers.values.get(_guard_cell(station))
    return guarded is not None and station.at.port in guarded


def _guard_cell(station: StationPlan) -> CellRef:
    return CellRef(protection.GUARDED.id, RowKey(station.at.switch))


def _is_fixed_station_missing(cell: WrongCell) -> bool:
    station = station_of(cell)
    return station is not None and station.fixed_number is not None


def _is_client_missing(cell: WrongCell) -> bool:
    return _client(cell) is not None


def _named(cell: WrongCell) -> StationPlan | None:
    """The station that a row of the trainee is about, by its port, its MAC or its address."""
    port, mac = written(cell, bindings.BINDING_PORT), written(cell, bindings.BINDING_MAC)
    address = written(cell, bindings.BINDING_ADDRESS)
    addresses = station_addresses(cell)
    for station in cell.scenario.stations:
        if mac == station.mac or port == station.at or (address is not None and address == addresses[station.name]):
            return station
    return None


def _names_server(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and named.is_server


def _repeats_a_row(cell: WrongCell) -> bool:
    return any(
        written(cell, question) is not None and bound_elsewhere(cell, question, written(cell, question))
        for question in (bindings.BINDING_MAC, bindings.BINDING_ADDRESS)
    )


def _names_unguarded_fixed(cell: WrongCell) -> bool:
    named = _named(cell)
    return (
        named is not None
        and named.fixed_number is not None
        and not named.is_server
        and named.at not in guarded_ports(cell.scenario)
    )


def _names_unsnooped_client(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and named.fixed_number is None and not cell.scenario.vlan_by_number[named.vlan].is_snooped


def _names_switch(cell: WrongCell) -> bool:
    port, address = written(cell, bindings.BINDING_PORT), written(cell, bindings.BINDING_ADDRESS)
    on_link = port is not None and port_role(cell, str(port.switch), str(port.port)) in (
        PortRole.UPLINK,
        PortRole.DOWNLINK,
    )
    at_switch = address is not None and (
        address in gateways(cell).values() or any(address in each for each in link_networks(cell).values())
    )
    return on_link or at_switch


def _names_empty_port(cell: WrongCell) -> bool:
    port = written(cell, bindings.BINDING_PORT)
    return port is not None and station_at(cell, str(port)) is None


BINDING_MISTAKES: tuple[Mistake, ...] = (
    # Port
    Mistake(
        id="binding-port-unknown-switch",
        questions=_PORT,
        priority=9,
        fits=_is_unknown_switch,
        explanation="{given} is on a switch that the lab does not have.",
        consequence="The row can be entered nowhere, and the station has none.",
        claim=Claim.NONE,
        hint="Which letters have the switches of the lab?",
        source="common practice, no source",
    ),
    Mistake(
        id="binding-wrong-switch",
        questions=_PORT,
        priority=10,
        fits=_is_other_letter,
        explanation="The number of the port is right, its switch is not.",
        consequence="The switch that hears the station has no row for it and locks it out.",
        claim=Claim.NO_ANSWER,
        hint="Which switch is the first to receive the frames of this station?",
        source="RFC 7513 section 4.3.2 and section 5",
    ),
    Mistake(
        id="binding-port-is-uplink",
        questions=_PORT,
        priority=11,
        fits=_is_link_port,
        explanation="{given} leads to another switch. A row names the port where the station itself is plugged in.",
        consequence="The row does not match the station's port, so the station is locked out.",
        claim=Claim.NO_ANSWER,
        hint="Where does the cable of this station end?",
        source="RFC 7513 section 4.2.1 and section 5",
    ),
    Mistake(
        id="binding-port-of-server",
        questions=_PORT,
        priority=12,
        fits=_is_server_port,
        explanation=(
            "{given} is the server's port. A row names where the station is plugged in, not who gave it the address."
        ),
        consequence="The row does not match the station's port, so the station is locked out.",
        claim=Claim.NO_ANSWER,
        hint="Where does the cable of this station end?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-port-other-client",
        questions=_PORT,
        priority=14,
        fits=_is_other_station_port,
        explanation="At {given} another station is plugged in.",
        consequence="The station is locked out at its true port.",
        claim=Claim.NO_ANSWER,
        hint="Which port stands beside the name of this station in table Stations?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-port-not-in-use",
        questions=_PORT,
        priority=20,
        fits=_is_port_not_in_use,
        explanation="Nothing is plugged in at {given}.",
        consequence="The station is locked out at its true port, and a stranger at this one would not be.",
        claim=Claim.NO_ANSWER,
        hint="Which port stands beside the name of this station in table Stations?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    # VLAN
    Mistake(
        id="binding-vlan-of-server",
        questions=_VLAN,
        priority=12,
        fits=_is_server_vlan,
        explanation="VLAN {given} is the server's. The row holds the VLAN of the port where the station is plugged in.",
        consequence="The row never matches, and guard drops what the station sends.",
        claim=Claim.NO_ANSWER,
        hint="In which VLAN is the access port of this station?",
        source="RFC 7513 section 5",
    ),
    # MAC
    Mistake(
        id="binding-mac-of-switch-or-server",
        questions=_MAC,
        priority=11,
        fits=_is_server_mac,
        explanation="{given} belongs to the server. The row needs the MAC address of the station on the port.",
        consequence="The station's own frames do not match the row, and guard drops them.",
        claim=Claim.NO_ANSWER,
        hint="Which device is at the end of the cable on this port?",
        source="RFC 7039 section 3.2; RFC 7513 section 5",
    ),
    Mistake(
        id="binding-mac-is-group",
        questions=_MAC,
        priority=12,
        fits=_is_group_mac,
        explanation="{given} stands for a group of stations. A station sends with an address of its own.",
        consequence="No frame can come from this address, so the station is locked out.",
        claim=Claim.NO_ANSWER,
        hint="What does the lowest bit of the first pair of digits say?",
        source="RFC 9542 section 2.1",
    ),
    Mistake(
        id="binding-mac-of-another-host",
        questions=_MAC,
        priority=13,
        fits=_is_mac_of_another,
        explanation="{given} belongs to another station of the lab.",
        consequence="The station on this port matches no row, and guard drops what it sends.",
        claim=Claim.NO_ANSWER,
        hint="Can you follow one line of table Stations from name to port to MAC address?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-mac-reversed",
        questions=_MAC,
        priority=11,
        fits=_is_reversed_mac,
        explanation="The pairs of digits stand in the wrong direction.",
        consequence="The station's own frames do not match the row, and guard drops them.",
        claim=Claim.NO_ANSWER,
        hint="With which pair does the address begin in table Stations?",
        source="RFC 9542 section 1.1; the slip: common practice, no source",
    ),
    Mistake(
        id="binding-mac-slip",
        questions=_MAC,
        priority=15,
        fits=_is_mac_slip,
        explanation="{given} is like the address of this station, but not the same. Digits were changed in copying.",
        consequence="One wrong digit is another device, so guard drops what the station sends.",
        claim=Claim.NO_ANSWER,
        hint="Do you get the same when you compare pair by pair with table Stations?",
        source="RFC 7513 section 8.1; the slip: common practice, no source",
    ),
    Mistake(
        id="binding-mac-not-in-lab",
        questions=_MAC,
        priority=30,
        fits=_is_no_mac_of_lab,
        explanation="No station of the lab has the MAC address {given}.",
        consequence="The station on this port does not match the row, and guard drops what it sends.",
        claim=Claim.NO_ANSWER,
        hint="In which line of table Stations did you look?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    # Address
    Mistake(
        id="binding-ip-is-reserved",
        questions=_ADDRESS,
        priority=10,
        fits=_is_reserved_address,
        explanation="{given} is a network or broadcast address, which no station has.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="Which single device does this row let through?",
        source="RFC 1122 section 3.2.1.3; RFC 7513 section 5",
    ),
    Mistake(
        id="binding-ip-is-gateway",
        questions=_ADDRESS,
        priority=11,
        fits=_is_gateway,
        explanation="{given} is a gateway. The row holds the address of the station.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="Which source address stands in the packets of this station?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-ip-of-server",
        questions=_ADDRESS,
        priority=11,
        fits=_is_server,
        explanation="{given} is the DHCP server. The row holds the address that it gave to the station.",
        consequence="The station is locked out, and could send in the name of the server.",
        claim=Claim.NO_ANSWER,
        hint="Which source address stands in the packets of this station?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-ip-of-another-host",
        questions=_ADDRESS,
        priority=12,
        fits=_is_of_another_station,
        explanation="{given} belongs to another station of the lab, or is lent to one that starts at another turn.",
        consequence="The packets of both stations fail the check.",
        claim=Claim.NO_ANSWER,
        hint="In which order do the stations of this VLAN start?",
        source="RFC 7513 section 5 and section 8.1; rule Leases of this lab",
    ),
    Mistake(
        id="binding-ip-counted-from-end",
        questions=_ADDRESS,
        priority=13,
        fits=_counts_from_the_end,
        explanation="You gave out the pool from its end. Rule Leases takes the lowest free address.",
        consequence="The switch learns another address than your table says.",
        claim=Claim.NONE,
        hint="At which end of the pool does the server start in this lab?",
        source="rule Leases of this lab; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="binding-ip-out-of-turn",
        questions=_ADDRESS,
        priority=15,
        fits=_is_out_of_turn,
        explanation="{given} is in the pool, but another address is the lowest free one when this station starts.",
        consequence="The switch learns another address than your table says.",
        claim=Claim.NONE,
        hint="How many stations of this VLAN have started before, and where does the pool begin?",
        source="rule Leases of this lab; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="binding-ip-not-in-pool",
        questions=_ADDRESS,
        priority=16,
        fits=_is_not_lent,
        explanation="{given} is in the right network, but not in the pool. The server lends nothing outside it.",
        consequence="The station is locked out, because the address it gets has no row.",
        claim=Claim.NONE,
        hint="Which is the first address of the pool on sheet Pools?",
        source="RFC 2131 section 4.3.1; rule Pools of this lab",
    ),
    Mistake(
        id="binding-ip-on-link",
        questions=_ADDRESS,
        priority=17,
        fits=_is_on_link,
        explanation="{given} is on a link between switches. No station is there.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="In which network is the station of this row?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    Mistake(
        id="binding-ip-of-other-vlan",
        questions=_ADDRESS,
        priority=18,
        fits=_is_in_other_vlan,
        explanation="{given} lies in the network of another VLAN.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="Which VLAN stands in this row, and which range belongs to it?",
        source="RFC 7513 section 5; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="binding-ip-outside-networks",
        questions=_ADDRESS,
        priority=20,
        fits=_is_outside,
        explanation="{given} is in no VLAN network of your plan.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="Which range did you plan for the VLAN of this row?",
        source="RFC 7513 section 5",
    ),
    Mistake(
        id="binding-ip-not-as-planned",
        questions=_ADDRESS,
        priority=30,
        fits=_is_not_own_fixed,
        explanation="{given} is in the right network, but is not the address that this station has by your own plan.",
        consequence="The station is locked out, because its true address has no row.",
        claim=Claim.NO_ANSWER,
        hint="Which address did you write for it on sheet Stations?",
        source="RFC 7513 section 5 and section 8.1",
    ),
    # Type and lease
    Mistake(
        id="binding-type-contradicts-lease",
        questions=_TYPE,
        priority=10,
        fits=_contradicts_lease,
        explanation=(
            "Type and lease of this row do not go together. "
            "One of them speaks of a learnt row, the other of a row written by hand."
        ),
        consequence="A row that ends is not one that stays, so nobody knows when this station is cut off.",
        claim=Claim.NONE,
        hint="Where does this station have its address from?",
        source="RFC 7513 section 5; rule Bindings of this lab",
    ),
    Mistake(
        id="binding-learnt-for-fixed-station",
        questions=_TYPE,
        priority=12,
        fits=_is_learnt_for_fixed,
        explanation="The station of this row never asks for an address, so the switch can learn nothing about it.",
        consequence="If nobody enters the row, guard locks the station out.",
        claim=Claim.NO_ANSWER,
        hint="Which message does a switch learn from, and does this station ever cause one?",
        source="RFC 7513 section 4.2.3 and section 8.1; rule Bindings of this lab",
    ),
    Mistake(
        id="binding-by-hand-for-client",
        questions=_TYPE,
        priority=12,
        fits=_is_by_hand_for_client,
        explanation="The station of this row asks for its address, and the switch learns the row from the answer.",
        consequence=(
            "Entered by hand, the row stays when the address has gone to somebody else, and locks that station out."
        ),
        claim=Claim.NONE,
        hint="Who tells the switch about the address of this station?",
        source="RFC 7513 section 4.2.3; rule Bindings of this lab",
    ),
    Mistake(
        id="binding-static-with-lease-time",
        questions=_LEASE,
        priority=8,
        fits=_is_finite_for_fixed,
        explanation="This station has a fixed address, so its row is entered by hand and never runs out.",
        consequence="When the time is over the row goes, and the station is cut off although nobody changed anything.",
        claim=Claim.NONE,
        hint="Does this station ever renew a lease, and if not, when should its row end?",
        source="RFC 2131 section 3.3; rows entered by hand: rule Bindings of this lab",
    ),
    Mistake(
        id="binding-dynamic-without-end",
        questions=_LEASE,
        priority=8,
        fits=_is_endless_for_client,
        explanation="This station has its address on loan. Its row lives as long as the lease.",
        consequence="When the address goes to another client, the old row still ties it to the old port.",
        claim=Claim.NONE,
        hint="Who decides how long this station may use its address?",
        source="RFC 7513 section 5; RFC 2131 section 2.2",
    ),
    Mistake(
        id="binding-lease-differs-from-pool",
        questions=_LEASE,
        priority=20,
        fits=_differs_from_pool,
        explanation=(
            "{given} is not what your own pool grants. "
            "The row holds the time that was granted, not the time that is left."
        ),
        consequence="The table of the switch shows another time than yours.",
        claim=Claim.NONE,
        hint="Which lease did you write for this VLAN on sheet Pools?",
        source="rule Bindings of this lab; RFC 7513 section 5",
    ),
    # Rows
    Mistake(
        id="guard-without-binding",
        questions=_ALL,
        priority=28,
        lapses=_MISSING,
        fits=_is_guarded_without_row,
        explanation=(
            "You guard the port of a station with a fixed address and wrote no row for it. "
            "Nothing else tells the switch its address."
        ),
        consequence="Every packet of the station is dropped, as if its cable were unplugged.",
        claim=Claim.NO_ANSWER,
        hint="With what does the switch compare each packet, and where does that come from?",
        source="RFC 7513 section 8.1 and section 8.2",
    ),
    Mistake(
        id="binding-missing-for-static-host",
        questions=_ALL,
        priority=30,
        lapses=_MISSING,
        fits=_is_fixed_station_missing,
        explanation="A station with a fixed address has no row. It never asks for one, so snooping never learns it.",
        consequence="As soon as guard is on, this station is cut off, while clients with leases work.",
        claim=Claim.NONE,
        hint="How does a switch learn a row, and does this station ever do that?",
        source="RFC 7513 section 4.2.3 and section 8.1",
    ),
    Mistake(
        id="binding-missing-for-client",
        questions=_ALL,
        priority=31,
        lapses=_MISSING,
        fits=_is_client_missing,
        explanation=(
            "A client in a snooped VLAN has no row in your table. The switch learns one when the lease is granted."
        ),
        consequence="The table of the switch shows a row that yours has not.",
        claim=Claim.NONE,
        hint="Which clients have started, and is each of them in your table?",
        source="RFC 7513 section 4.2.3; rule Bindings of this lab",
    ),
    Mistake(
        id="binding-duplicate",
        questions=_ALL,
        priority=10,
        lapses=_EXTRA,
        fits=_repeats_a_row,
        explanation="Another row of yours holds the same MAC or IP address.",
        consequence="A station has one row; with two of them one ties it to a port where it is not.",
        claim=Claim.NONE,
        hint="Does an address appear twice when you sort your rows?",
        source="RFC 7513 section 5",
    ),
    Mistake(
        id="binding-for-server",
        questions=_ALL,
        priority=11,
        lapses=_EXTRA,
        fits=_names_server,
        explanation="The server needs no row: its port is trusted and not guarded.",
        consequence="The row is never looked at.",
        claim=Claim.NO_HARM,
        hint="On which ports does the switch compare packets with its table?",
        source="rules Guard and Bindings of this lab; RFC 7513 section 4.2.1",
    ),
    Mistake(
        id="binding-for-switch",
        questions=_ALL,
        priority=12,
        lapses=_EXTRA,
        fits=_names_switch,
        explanation="This row is about a switch or a link. The table is about stations on access ports.",
        consequence="The row is never looked at, as link ports are not guarded.",
        claim=Claim.NO_HARM,
        hint="Which station does this row let through?",
        source="rules Guard and Bindings of this lab; RFC 7513 section 4.2.1",
    ),
    Mistake(
        id="binding-for-unguarded-station",
        questions=_ALL,
        priority=13,
        lapses=_EXTRA,
        fits=_names_unguarded_fixed,
        explanation="This station has a fixed address and its port is not guarded, so it needs no row.",
        consequence="The row is never looked at.",
        claim=Claim.NO_HARM,
        hint="What stands under Source guard for the network of this station?",
        source="rules Guard and Bindings of this lab; common practice, no source",
    ),
    Mistake(
        id="binding-for-unsnooped-client",
        questions=_ALL,
        priority=13,
        lapses=_EXTRA,
        fits=_names_unsnooped_client,
        explanation="The VLAN of this client is not snooped, so the switch learns no row about it.",
        consequence="The table of the switch has no such row.",
        claim=Claim.NONE,
        hint="What stands under Snooping for the network of this client?",
        source="RFC 7513 section 4.2.3; rule Bindings of this lab",
    ),
    Mistake(
        id="binding-for-empty-port",
        questions=_ALL,
        priority=14,
        lapses=_EXTRA,
        fits=_names_empty_port,
        explanation="Nothing is plugged in at the port of this row.",
        consequence="The row lets a stranger in who comes with this address.",
        claim=Claim.NONE,
        hint="Which station stands at this port in table Stations?",
        source="RFC 7513 section 5",
    ),
)
