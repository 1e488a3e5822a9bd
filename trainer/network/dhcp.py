"""The DHCP exchange: client, relay agent, server (RFC 2131, RFC 1542).

The client is a table first: what it is in, what it hears, what it is in then. What has no entry has no place in the
exchange.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Address

from trainer.network import causes, guard, snooping, steps
from trainer.network.devices import (
    DhcpServer,
    Interface,
    Missing,
    Network,
    Part,
    Pool,
    Relay,
    SettingId,
    Station,
    SwitchName,
)
from trainer.network.forwarding import enter, send_from_station, send_from_switch
from trainer.network.packets import Delivered, Dropped, Packet, Payload, Reason
from trainer.network.topology import Ingress, Lease, Member, Running, Segment, switch_mac

__all__ = ["NEXT_STATE", "ClientState", "Message", "Renewal", "offer", "renew", "request_lease", "start"]


class ClientState(Enum):
    """States of a client that has no lease yet (RFC 2131 figure 5)."""

    INIT = "INIT"
    SELECTING = "SELECTING"
    REQUESTING = "REQUESTING"
    BOUND = "BOUND"


class Message(Enum):
    """DHCP messages of the first exchange (RFC 2132 9.6)."""

    DISCOVER = 1
    OFFER = 2
    REQUEST = 3
    ACK = 5
    NAK = 6


NEXT_STATE = {
    ClientState.INIT: {Message.DISCOVER: ClientState.SELECTING},
    ClientState.SELECTING: {Message.OFFER: ClientState.REQUESTING},
    ClientState.REQUESTING: {Message.ACK: ClientState.BOUND, Message.NAK: ClientState.INIT},
    ClientState.BOUND: {},
}
"""DISCOVER is sent by the client itself, the others are heard. REQUEST is sent on entering REQUESTING."""


@dataclass(frozen=True, slots=True)
class _Heard:
    """A client message as the server hears it."""

    by_relay: SwitchName | None
    relay_interface: Interface | None
    """None where the server is in the client's own broadcast domain (giaddr 0)."""


def start(network: Network) -> tuple[Running, dict[str, Lease | Dropped]]:
    """Switches the network on: its DHCP stations ask for a lease one after the other, in the order listed.

    Gives the network in operation, and for each DHCP station its lease or what stopped it.
    """
    running = Running(network)
    results: dict[str, Lease | Dropped] = {}
    for station in network.stations:
        if station.uses_dhcp and station.fixed is None:
            results[station.name] = request_lease(running, station)
    return running, results


def request_lease(running: Running, client: Station) -> Lease | Dropped:
    """Takes the client through the exchange; the lease is granted and learnt, or the drop says what stopped it."""
    state = NEXT_STATE[ClientState.INIT][Message.DISCOVER]
    ingress = running.ingress(client)
    if ingress is None:
        return _ended(running, Dropped(client.name, Reason.PORT_DOWN, causes.port_setting(running, client)))
    heard = _reaches_server(running, client, ingress)
    if isinstance(heard, Dropped):
        return _ended(running, heard)
    lease = offer(running, heard.relay_interface)
    if isinstance(lease, Dropped):
        return _ended(running, lease)
    for message in (Message.OFFER, Message.ACK):
        running.note(steps.answer, _server(running).station, message.name, client, lease.address)
        stopped = _reaches_client(running, client, ingress.segment, heard)
        if stopped is not None:
            return _ended(running, stopped)
        state = NEXT_STATE[state][message]
    assert state is ClientState.BOUND
    taken = next(_answering(running, ingress.segment, int(lease.address)), None)
    running.grant(client, lease)
    snooping.learn(running, client, lease)
    if taken is not None:
        because = SettingId(_server(running).station, Part.POOL, lease.pool, "first")
        return _ended(running, Dropped(taken.name, Reason.DUPLICATE_ADDRESS, because))
    return lease


def _answering(running: Running, segment: Segment, address: int) -> Iterator[Member]:
    """Those near the segment whose answer to an ARP probe for the address gets there (RFC 5227 2.1.1): source guard
    checks it on its way.
    """
    for owner in running.owners(segment, address):
        own = None if owner.station is None else running.ingress(owner.station)
        entered = running.domain(owner.segment)[segment]
        passed = entered if own is None else (own, *entered)
        if all(guard.check_sender(running, each, owner.mac, address) is None for each in passed):
            yield owner


@dataclass(frozen=True, slots=True)
class Renewal:
    """What became of a client's wish to keep its lease."""

    drop: Dropped | None
    """What stopped the request or the answer; None where the lease is renewed."""


def renew(running: Running, client: Station) -> Renewal:
    """Half-way through its lease the client asks the server itself, and the server answers it directly.

    RFC 2131 4.3.2 (RENEWING), 4.4.5: both are unicast with giaddr 0, so no relay agent has a part in it. The client's
    network and the server's need routes both ways, source guard wants the client's row, and snooping checks the answer.
    """
    server = running.network.server
    host = running.host(client)
    if server is None or client.name not in running.leases or host is None:
        return Renewal(
            Dropped(client.name, Reason.NO_ADDRESS, Missing(client.name, Part.STATION, client.name, "lease"))
        )
    station = running.network.station(server.station)
    there = running.host(station)
    if there is None:
        return Renewal(Dropped(station.name, Reason.NO_ADDRESS, causes.no_address(running, station)))
    request = Packet(
        source=host.address,
        destination=there.address,
        source_mac=client.mac,
        payload=Payload.DHCP_REQUEST,
    )
    outcome = send_from_station(running, client, request)
    if isinstance(outcome, Dropped):
        return Renewal(outcome)
    if outcome.at != station.name:
        return Renewal(Dropped(outcome.at, Reason.NO_SERVER_THERE, causes.address_of(running, station), outcome.path))
    answer = Packet(source=there.address, destination=host.address, source_mac=station.mac, payload=Payload.DHCP_REPLY)
    outcome = send_from_station(running, station, answer)
    if isinstance(outcome, Delivered) and outcome.at != client.name:
        because = causes.address_of(running, client)
        return Renewal(Dropped(outcome.at, Reason.DUPLICATE_ADDRESS, because, outcome.path))
    return Renewal(outcome if isinstance(outcome, Dropped) else None)


def offer(running: Running, relay_interface: Interface | None) -> Lease | Dropped:
    """What the server offers: the lowest address that is not leased.

    Its pools are those whose network holds giaddr, or the server's own address where giaddr is 0 (RFC 2131 4.3.1); of
    several the first that has an address left. That, that the lowest free address is taken, and that nobody is asked
    whether it is in use, are rules of this lab.
    """
    server = _server(running)
    station = running.network.station(server.station)
    host = running.host(station)
    assert host is not None, "a server without an address hears nothing"
    asked_from = IPv4Address(host.address) if relay_interface is None else relay_interface.address
    fitting = [pool for pool in server.pools if asked_from in pool.network]
    if not fitting:
        cause = causes.no_pool(running, station, asked_from, relay_interface)
        running.note(steps.no_pool, station.name, asked_from, cause)
        return Dropped(server.station, Reason.NO_POOL, cause)
    leased = {lease.address for lease in running.leases.values()}
    for pool in fitting:
        running.note(steps.pool, station.name, asked_from, pool.key)
        address = next((each for each in _addresses(pool) if each not in leased), None)
        if address is not None:
            running.note(steps.address_found, station.name, pool.key, address)
            relay_address = None if relay_interface is None else relay_interface.address
            return Lease(address, pool.prefix_length, pool.router, pool.lease_seconds, pool.key, relay_address)
        why = "it starts behind its end" if pool.first > pool.last else "none is left"
        running.note(steps.no_address_found, station.name, pool.key, why)
    empty = SettingId(server.station, Part.POOL, fitting[0].key, "last")
    return Dropped(server.station, Reason.POOL_EMPTY, empty)


def _reaches_server(running: Running, client: Station, ingress: Ingress) -> _Heard | Dropped:
    """The client's broadcast on its way to the server: directly, or through the first relay agent that gets it there."""
    segment = ingress.segment
    message = Packet(source=0, destination=0xFFFFFFFF, source_mac=client.mac, payload=Payload.DHCP_REQUEST)
    running.note(steps.broadcast, client, segment)
    if _server_is_near(running, segment):
        server = running.network.station(_server(running).station)
        server_ingress = running.ingress(server)
        assert server_ingress is not None, "a server that is near has a port"
        if enter(running, ingress, segment, server_ingress.segment, message) is None:
            running.note(steps.heard_by_server, server, client)
            return _Heard(None, None)
    failed: Dropped | None = None
    for switch, interface, relay in _relays(running, segment):
        stopped = enter(running, ingress, segment, (switch, interface.place), message)
        result = stopped or _relayed(running, client, switch, interface, relay)
        if not isinstance(result, Dropped):
            return result
        failed = failed or result
    return failed or Dropped(client.at.switch, Reason.NO_RELAY, causes.no_relay(running, client, segment))


def _server_is_near(running: Running, segment: Segment) -> bool:
    """Whether the server works in the broadcast domain of the segment."""
    server = running.network.server
    station = None if server is None else running.network.station(server.station)
    if station is None or running.host(station) is None:
        return False
    ingress = running.ingress(station)
    return ingress is not None and ingress.segment in running.domain(segment)


def _relays(running: Running, segment: Segment) -> Iterator[tuple[SwitchName, Interface, Relay]]:
    """The relay agents that hear a broadcast on the segment: enabled on a VLAN whose interface is up (RFC 1542 4.1.1)."""
    domain = running.domain(segment)
    for switch in running.network.switches:
        for interface in running.tables[switch.name].interfaces:
            if (switch.name, interface.place) in domain:
                for relay in switch.relays:
                    if relay.vlan == interface.place:
                        yield switch.name, interface, relay


def _relayed(
    running: Running, client: Station, switch: SwitchName, interface: Interface, relay: Relay
) -> _Heard | Dropped:
    """The request that the relay agent sends to its target, with giaddr filled in (RFC 1542 4.1.1).

    Where the target is not the server's address, that is what is wrong, wherever the request ends.
    """
    target = SettingId(switch, Part.RELAY, relay.key, "target")
    running.note(steps.heard_by_relay, client, switch, interface, relay)
    packet = Packet(
        source=int(interface.address),
        destination=int(relay.target),
        source_mac=switch_mac(switch),
        payload=Payload.DHCP_REQUEST,
    )
    outcome = send_from_switch(running, switch, packet)
    server = running.network.server
    if isinstance(outcome, Dropped):
        return outcome if server is None else _blamed(running, server, relay, target, outcome)
    if server is None or outcome.at != server.station:
        return Dropped(outcome.at, Reason.NO_SERVER_THERE, target)
    return _Heard(switch, interface)


def _blamed(running: Running, server: DhcpServer, relay: Relay, target: SettingId, dropped: Dropped) -> Dropped:
    """The drop of a relayed request, because of what would have stopped it even with everything else in order."""
    station = running.network.station(server.station)
    host = running.host(station)
    if host is None:
        because = causes.no_address(running, station)
    elif host.address != int(relay.target):
        because = target
    else:
        return dropped
    return Dropped(dropped.at, dropped.reason, because, dropped.path)


def _reaches_client(running: Running, client: Station, client_segment: Segment, heard: _Heard) -> Dropped | None:
    """The server's answer: to giaddr and out of the relay's VLAN interface, or straight to the client (RFC 2131 4.1)."""
    server = running.network.station(_server(running).station)
    host, ingress = running.host(server), running.ingress(server)
    assert host is not None, "a server without an address hears nothing"
    assert ingress is not None, "nor does one without a port"
    answer = Packet(source=host.address, destination=0xFFFFFFFF, source_mac=server.mac, payload=Payload.DHCP_REPLY)
    if heard.relay_interface is None or heard.by_relay is None:
        return enter(running, ingress, ingress.segment, client_segment, answer)
    to_relay = Packet(
        source=host.address,
        destination=int(heard.relay_interface.address),
        source_mac=server.mac,
        payload=Payload.DHCP_REPLY,
    )
    outcome = send_from_station(running, server, to_relay)
    if isinstance(outcome, Dropped):
        return outcome
    if outcome.at != heard.by_relay:
        because = SettingId(heard.by_relay, Part.VLAN_INTERFACE, str(heard.relay_interface.place), "address")
        return Dropped(outcome.at, Reason.NOT_THE_RELAY, because)
    segment = (heard.by_relay, heard.relay_interface.place)
    running.note(steps.delivery, client, segment)
    return enter(running, None, segment, client_segment, answer)


def _addresses(pool: Pool) -> Iterator[IPv4Address]:
    return (IPv4Address(number) for number in range(int(pool.first), int(pool.last) + 1))


def _server(running: Running) -> DhcpServer:
    server = running.network.server
    assert server is not None, "only a network with a server gets as far as an offer"
    return server


def _ended(running: Running, dropped: Dropped) -> Dropped:
    """The drop that ends an exchange."""
    running.note(steps.end_of_exchange, dropped)
    return dropped
