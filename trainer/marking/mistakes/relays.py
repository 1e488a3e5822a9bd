"""Mistakes on sheet Relays: who hands a request on, to whom, and what it writes into it."""

from trainer.lab.questions import relays
from trainer.lab.scenario import Vlan
from trainer.marking.mistakes.evidence import (
    gateways,
    is_reserved,
    link_networks,
    neighbours,
    other_gateways,
    own_addresses,
    own_gateway,
    own_network,
    pool_range,
    server_address,
    station_addresses,
    vlan_networks,
    vlan_of,
    written,
    written_rows,
)
from trainer.marking.mistakes.mistake import HALF, Claim, Lapse, Mistake, WrongCell

__all__ = ["RELAY_MISTAKES"]

_VLAN = frozenset({relays.RELAY_VLAN.id})
_TARGET = frozenset({relays.RELAY_TARGET.id})
_GIADDR = frozenset({relays.RELAY_ADDRESS.id})
_ALL = _VLAN | _TARGET | _GIADDR
_EXTRA = frozenset({Lapse.EXTRA})
_MISSING = frozenset({Lapse.MISSING})


def _meant(cell: WrongCell) -> Vlan | None:
    """The VLAN that the trainee's row names."""
    number = written(cell, relays.RELAY_VLAN)
    return None if number is None else cell.scenario.vlan_by_number.get(number)


def _is_server_vlan(cell: WrongCell) -> bool:
    return bool(cell.value == cell.scenario.server.vlan)


def _has_no_clients(cell: WrongCell) -> bool:
    vlan = cell.scenario.vlan_by_number.get(cell.value)
    return vlan is not None and not cell.scenario.dhcp_stations(vlan.number)


def _is_written_twice(cell: WrongCell) -> bool:
    number = written(cell, relays.RELAY_VLAN)
    others = [row for row in written_rows(cell, relays.RELAYS.id) if row != cell.row]
    return number is not None and any(cell.answers.get(relays.RELAY_VLAN, row) == number for row in others)


def _repeats_another_row(cell: WrongCell) -> bool:
    return cell.value != cell.expected and _is_written_twice(cell)


def _is_on_another_switch(cell: WrongCell) -> bool:
    named, right = cell.scenario.vlan_by_number.get(cell.value), vlan_of(cell)
    return named is not None and right is not None and named.switch != right.switch


def _is_own_gateway(cell: WrongCell) -> bool:
    return bool(cell.value == own_gateway(cell) != cell.expected)


def _is_server_gateway(cell: WrongCell) -> bool:
    home = gateways(cell)[cell.scenario.server.vlan]
    return bool(cell.value == home != cell.expected)


def _is_own_address(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    return vlan is not None and cell.value != cell.expected and cell.value in own_addresses(cell, vlan.switch)


def _is_broadcast(cell: WrongCell) -> bool:
    if cell.value == cell.expected:
        return False
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values())
    ends = {each.broadcast_address for each in networks if each.prefixlen < 31}
    return int(cell.value) == 0xFFFFFFFF or cell.value in ends


def _is_network(cell: WrongCell) -> bool:
    return cell.value != cell.expected and is_reserved(cell, cell.value) and not _is_broadcast(cell)


def _is_reserved(cell: WrongCell) -> bool:
    return cell.value != cell.expected and is_reserved(cell, cell.value)


def _is_next_hop(cell: WrongCell) -> bool:
    vlan = vlan_of(cell)
    return vlan is not None and cell.value != cell.expected and cell.value in neighbours(cell, vlan.switch)


def _is_other_gateway(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in other_gateways(cell)


def _is_client(cell: WrongCell) -> bool:
    clients = {address for name, address in station_addresses(cell).items() if name != cell.scenario.server.name}
    pools = (pool_range(cell, vlan.number) for vlan in cell.scenario.dhcp_vlans)
    return cell.value != cell.expected and (cell.value in clients or any(int(cell.value) in each for each in pools))


def _is_beside_server(cell: WrongCell) -> bool:
    home = vlan_networks(cell)[cell.scenario.server.vlan]
    return cell.value != cell.expected and cell.value in home


def _is_in_plan(cell: WrongCell) -> bool:
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values())
    return cell.value != cell.expected and any(cell.value in each for each in networks)


def _is_nobody(cell: WrongCell) -> bool:
    return cell.value != cell.expected and cell.value in cell.scenario.block and not _is_in_plan(cell)


def _is_zero(cell: WrongCell) -> bool:
    return int(cell.value) == 0


def _is_server(cell: WrongCell) -> bool:
    return bool(cell.value == server_address(cell) != cell.expected)


def _is_on_link(cell: WrongCell) -> bool:
    return cell.value != cell.expected and any(cell.value in each for each in link_networks(cell).values())


def _is_in_client_network(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value != cell.expected and cell.value in network


def _is_elsewhere(cell: WrongCell) -> bool:
    network = own_network(cell)
    return network is not None and cell.value not in network


def _is_client_vlan_missing(cell: WrongCell) -> bool:
    return vlan_of(cell) is not None


def _is_every_relay_missing(_cell: WrongCell) -> bool:
    return not written_rows(_cell, relays.RELAYS.id)


def _names_server_vlan(cell: WrongCell) -> bool:
    vlan = _meant(cell)
    return vlan is not None and vlan.number == cell.scenario.server.vlan


def _names_vlan_without_clients(cell: WrongCell) -> bool:
    vlan = _meant(cell)
    return vlan is not None and not cell.scenario.dhcp_stations(vlan.number)


def _names_no_vlan(cell: WrongCell) -> bool:
    return written(cell, relays.RELAY_VLAN) is not None and _meant(cell) is None


RELAY_MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        id="relay-on-server-vlan",
        questions=_VLAN,
        priority=12,
        fits=_is_server_vlan,
        explanation="VLAN {given} is the server's. The relay agent belongs where the clients send their broadcasts.",
        consequence="Nobody picks up the clients' broadcasts, and they wait for an address in vain.",
        claim=Claim.NO_LEASE,
        hint="On which VLAN interface does a client's request come in?",
        source="RFC 1542 section 4.1 and section 4.1.1",
    ),
    Mistake(
        id="relay-vlan-written-twice",
        questions=_VLAN,
        priority=12,
        fits=_repeats_another_row,
        explanation="Another of your rows is about VLAN {given} already.",
        consequence="One VLAN has its requests sent twice, and another has nobody who sends them on.",
        claim=Claim.NO_LEASE,
        hint="Which VLAN with clients has no row yet?",
        source="RFC 1542 section 4.1.1; the slip: common practice, no source",
    ),
    Mistake(
        id="relay-vlan-without-clients",
        questions=_VLAN,
        priority=13,
        fits=_has_no_clients,
        explanation="Nobody in VLAN {given} asks for a lease: its stations have fixed addresses.",
        consequence="This relay agent never hears a request, while a VLAN with clients has none.",
        claim=Claim.NO_LEASE,
        hint="Which VLANs have stations that ask for an address?",
        source="RFC 1542 section 4.1.1; rule Relays of this lab",
    ),
    Mistake(
        id="relay-on-wrong-switch",
        questions=_VLAN,
        priority=15,
        fits=_is_on_another_switch,
        explanation="VLAN {given} is on another switch than the one whose clients this row serves.",
        consequence="Nobody picks up the broadcasts of the clients meant here, and they wait in vain.",
        claim=Claim.NO_LEASE,
        hint="Which switch has the gateway that this row names?",
        source="RFC 1542 section 4.1",
    ),
    Mistake(
        id="relay-target-is-gateway",
        questions=_TARGET,
        priority=10,
        fits=_is_own_gateway,
        explanation=(
            "{given} is the relay agent's own address in the client's VLAN. The request goes on to the DHCP server."
        ),
        consequence="The request never leaves the switch, and clients wait in vain.",
        claim=Claim.NO_LEASE,
        hint="Who should receive the request in the end?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-is-server-gateway",
        questions=_TARGET,
        priority=11,
        fits=_is_server_gateway,
        explanation="{given} is the gateway in front of the server, not the server.",
        consequence="The request ends at a switch that runs no server, and is thrown away there.",
        claim=Claim.NO_LEASE,
        hint="Two devices of the server's VLAN have fixed addresses: which of them lends addresses?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-own-address",
        questions=_TARGET,
        priority=12,
        fits=_is_own_address,
        explanation="{given} is an address of the relaying switch itself.",
        consequence="The switch sends the request to itself, and no server ever sees it.",
        claim=Claim.NO_LEASE,
        hint="Which device has to see the request, and has it this address?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-is-broadcast",
        questions=_TARGET,
        priority=4,
        fits=_is_broadcast,
        explanation="{given} is a broadcast address. Asked is the one address of the server.",
        consequence="Switches do not carry broadcasts from network to network, so the server hears nothing.",
        claim=Claim.NO_LEASE,
        hint="A relay agent is there because broadcasts stop: what kind of address gets across?",
        source="RFC 1542 section 4.1.1; RFC 1812 section 5.3.5; RFC 2644",
    ),
    Mistake(
        id="relay-target-is-network",
        questions=_TARGET,
        priority=12,
        fits=_is_network,
        explanation="{given} names a whole network, not the server.",
        consequence="The request cannot be delivered to anybody, and clients wait in vain.",
        claim=Claim.NO_LEASE,
        hint="Which single device should receive the request?",
        source="RFC 1542 section 4.1.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="relay-target-is-next-hop",
        questions=_TARGET,
        priority=13,
        fits=_is_next_hop,
        explanation="{given} is the neighbouring switch. A relay agent names the server, and the routes find the way.",
        consequence="The neighbour gets a request that it has no use for, and drops it.",
        claim=Claim.NO_LEASE,
        hint="Which setting decides the way, and which one the receiver?",
        source="RFC 1542 section 4.1.1; RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="relay-target-another-gateway",
        questions=_TARGET,
        priority=14,
        fits=_is_other_gateway,
        explanation="{given} is the gateway of another VLAN. No server runs there.",
        consequence="The request ends at a switch that has no use for it, and clients wait in vain.",
        claim=Claim.NO_LEASE,
        hint="On which row of sheet Stations does the server stand?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-is-client",
        questions=_TARGET,
        priority=15,
        fits=_is_client,
        explanation="{given} is for an ordinary station. It lends no addresses.",
        consequence="The request reaches a station that does not answer it, or nobody.",
        claim=Claim.NO_LEASE,
        hint="On which row of sheet Stations does the server stand?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-beside-server",
        questions=_TARGET,
        priority=16,
        fits=_is_beside_server,
        explanation="{given} is in the server's network, but the server has another address there.",
        consequence="Nobody answers at that address, and clients wait in vain.",
        claim=Claim.NO_LEASE,
        hint="Which address did you write for the server on sheet Stations?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-other-host",
        questions=_TARGET,
        priority=20,
        fits=_is_in_plan,
        explanation="{given} is not the DHCP server of this lab.",
        consequence="The request reaches a device that does not answer it, or nobody.",
        claim=Claim.NO_LEASE,
        hint="On which row of sheet Stations does the server stand?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-target-nobody",
        questions=_TARGET,
        priority=21,
        fits=_is_nobody,
        explanation="{given} is in no network of your plan, so no server can be there.",
        consequence="No route leads to that address, and the request is dropped by the first switch.",
        claim=Claim.NO_LEASE,
        hint="On which row of sheet Stations does the server stand?",
        source="RFC 1812 section 5.2.4.3",
    ),
    Mistake(
        id="relay-giaddr-is-zero",
        questions=_GIADDR,
        priority=4,
        fits=_is_zero,
        explanation="{given} is what a client sends. The relay agent fills this field in when it finds it so.",
        consequence="The server would take the request for one of its own network, and offer nothing that fits.",
        claim=Claim.NONE,
        hint="What does the relay agent write there when it takes a request on?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-giaddr-is-server",
        questions=_GIADDR,
        priority=11,
        fits=_is_server,
        explanation="{given} is the server. This field names the relay agent.",
        consequence="The server would answer to itself, and the client would hear nothing.",
        claim=Claim.NONE,
        hint="To whom does the server send its answer when a relay agent stands between?",
        source="RFC 2131 section 4.1; RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-giaddr-is-uplink",
        questions=_GIADDR,
        priority=12,
        fits=_is_on_link,
        explanation=(
            "{given} is on a link. Into the request goes the address of the interface that heard the client, not "
            "of the one that sends on."
        ),
        consequence="The server looks for a pool of the link's network, finds none and keeps silent.",
        claim=Claim.NONE,
        hint="The server picks the pool by this field: which address tells it where the client is?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="relay-giaddr-is-server-side",
        questions=_GIADDR,
        priority=12,
        fits=_is_server_gateway,
        explanation="{given} is the interface in front of the server. The field holds the one on the client's side.",
        consequence="The server looks for a pool of its own network, and the client gets no offer.",
        claim=Claim.NONE,
        hint="On which interface did the client's broadcast come in?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="relay-giaddr-is-reserved",
        questions=_GIADDR,
        priority=13,
        fits=_is_reserved,
        explanation="{given} is a network or broadcast address. The field holds the address of an interface.",
        consequence="The server has no single device to send its answer to.",
        claim=Claim.NONE,
        hint="Which device writes this field, and which address has it there?",
        source="RFC 1542 section 4.1.1; RFC 1122 section 3.2.1.3",
    ),
    Mistake(
        id="relay-giaddr-other-vlan",
        questions=_GIADDR,
        priority=14,
        fits=_is_other_gateway,
        explanation="{given} is the relay agent's address in another VLAN.",
        consequence="The server picks the pool of that VLAN and offers an address that does not fit the client.",
        claim=Claim.NONE,
        hint="On which interface did the broadcast of this client come in?",
        source="RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="relay-giaddr-is-client",
        questions=_GIADDR,
        priority=15,
        fits=_is_client,
        explanation="{given} is for a station. The field holds an address of the relay agent.",
        consequence="The server sends its answer to a station that cannot hand it on.",
        claim=Claim.NONE,
        hint="Which device writes this field, and which address has it there?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 4.1",
    ),
    Mistake(
        id="relay-giaddr-not-the-relay",
        questions=_GIADDR,
        priority=20,
        fits=_is_in_client_network,
        explanation="The network is right, but no interface of the relay agent has the address {given}.",
        consequence="The server sends its offer to an address where no relay agent listens.",
        claim=Claim.NONE,
        hint="Which address did you write for the VLAN interface on sheet Subnets?",
        source="RFC 1542 section 4.1.1 and section 4.1.2",
        credit=HALF,
    ),
    Mistake(
        id="relay-giaddr-elsewhere",
        questions=_GIADDR,
        priority=25,
        fits=_is_elsewhere,
        explanation="{given} is not in the network of the client.",
        consequence="The server picks the pool by this field, and finds the wrong one or none.",
        claim=Claim.NONE,
        hint="In which network is the interface that hears the client?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 4.3.1",
    ),
    Mistake(
        id="relay-missing-everywhere",
        questions=_ALL,
        priority=29,
        lapses=_MISSING,
        fits=_is_every_relay_missing,
        explanation=(
            "Not one relay agent is written. "
            "A broadcast stops at the edge of its VLAN, and the server is behind that edge."
        ),
        consequence="Only clients in the server's own VLAN would ever get an address.",
        claim=Claim.NO_LEASE,
        hint="Who carries a request from a client's VLAN to the server?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 3.1",
    ),
    Mistake(
        id="relay-missing-for-vlan",
        questions=_ALL,
        priority=30,
        lapses=_MISSING,
        fits=_is_client_vlan_missing,
        explanation="A VLAN with clients has no relay agent, and the server stands elsewhere.",
        consequence="Clients there get no address from the server, while those of other VLANs do.",
        claim=Claim.NO_LEASE,
        hint="For each VLAN with clients: is the server in it, and if not, who carries the request across?",
        source="RFC 1542 section 4.1.1; RFC 2131 section 3.1",
    ),
    Mistake(
        id="relay-not-needed",
        questions=_ALL,
        priority=20,
        lapses=_EXTRA,
        fits=_names_server_vlan,
        explanation="The server stands in this VLAN itself. It hears every broadcast there without help.",
        consequence="A request there reaches the server twice: once directly and once relayed.",
        claim=Claim.NONE,
        hint="Can a client of this VLAN reach the server with a plain broadcast?",
        source="RFC 1542 section 4.1.1",
    ),
    Mistake(
        id="relay-row-twice",
        questions=_ALL,
        priority=21,
        lapses=_EXTRA,
        fits=_is_written_twice,
        explanation="This VLAN has a row already.",
        consequence="Each request is sent on twice, and the server works for nothing.",
        claim=Claim.NONE,
        hint="Does a VLAN appear twice when you sort your rows?",
        source="RFC 1542 section 4.1.1; the slip: common practice, no source",
    ),
    Mistake(
        id="relay-for-vlan-without-clients",
        questions=_ALL,
        priority=22,
        lapses=_EXTRA,
        fits=_names_vlan_without_clients,
        explanation="Nobody in this VLAN asks for a lease, so there is nothing to send on.",
        consequence="The relay agent waits for requests that never come.",
        claim=Claim.NO_HARM,
        hint="Which VLANs have stations that ask for an address?",
        source="RFC 1542 section 4.1.1; rule Relays of this lab",
    ),
    Mistake(
        id="relay-for-unknown-vlan",
        questions=_ALL,
        priority=23,
        lapses=_EXTRA,
        fits=_names_no_vlan,
        explanation="This row is about a VLAN that the lab does not have.",
        consequence="No switch has an interface in it, so no relay agent comes up.",
        claim=Claim.NO_HARM,
        hint="Which numbers are in table Networks?",
        source="common practice, no source",
    ),
)
