"""The DHCP exchange: client, relay agent, server (RFC 2131, RFC 1542).

The client is a table first: what it is in, what it hears, what it is in then. What has no entry has no place in the
exchange.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Address

from trainer.network import snooping
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
from trainer.network.topology import Lease, Running, Segment, switch_mac

__all__ = ["NEXT_STATE", "ClientState", "Message", "offer", "request_lease", "start"]


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
    heard = _reaches_server(running, client)
    if isinstance(heard, Dropped):
        return heard
    lease = offer(running, heard.relay_interface)
    if isinstance(lease, Dropped):
        return lease
    for message in (Message.OFFER, Message.ACK):
        stopped = _reaches_client(running, client, heard)
        if stopped is not None:
            return stopped
        state = NEXT_STATE[state][message]
    assert state is ClientState.BOUND
    segment = running.segments[client.at]
    taken = next(running.owners(segment, int(lease.address)), None)
    running.grant(client, lease)
    snooping.learn(running, client, lease)
    if taken is not None:
        because = SettingId(_server(running).station, Part.POOL, lease.pool, "first")
        return Dropped(taken.name, Reason.DUPLICATE_ADDRESS, because)
    return lease


def offer(running: Running, relay_interface: Interface | None) -> Lease | Dropped:
    """What the server offers: the lowest address of the pool that is not leased.

    The pool is the one whose network holds giaddr, or the server's own address where giaddr is 0 (RFC 2131 4.3.1).
    That the lowest free address is taken, and that nobody is asked whether it is in use, are rules of this lab.
    """
    server = _server(running)
    host = running.host(running.network.station(server.station))
    assert host is not None, "a server without an address hears nothing"
    asked_from = IPv4Address(host.address) if relay_interface is None else relay_interface.address
    pool = next((pool for pool in server.pools if asked_from in pool.network), None)
    if pool is None:
        return Dropped(server.station, Reason.NO_POOL, Missing(server.station, Part.POOL, str(asked_from)))
    leased = {lease.address for lease in running.leases.values()}
    address = next((each for each in _addresses(pool) if each not in leased), None)
    if address is None:
        return Dropped(server.station, Reason.POOL_EMPTY, SettingId(server.station, Part.POOL, pool.key, "last"))
    relay_address = None if relay_interface is None else relay_interface.address
    return Lease(address, pool.prefix_length, pool.router, pool.lease_seconds, pool.key, relay_address)


def _reaches_server(running: Running, client: Station) -> _Heard | Dropped:
    """The client's broadcast on its way to the server: directly, or through the first relay agent that gets it there."""
    segment = running.segments.get(client.at)
    if segment is None:
        return Dropped(client.name, Reason.PORT_DOWN, Missing(client.at.switch, Part.PORT, client.at.port))
    message = Packet(source=0, destination=0xFFFFFFFF, source_mac=client.mac, payload=Payload.DHCP_REQUEST)
    server = running.network.server
    station = None if server is None else running.network.station(server.station)
    domain = running.domain(segment)
    if station is not None and running.host(station) is not None:
        server_segment = running.segments.get(station.at)
        if server_segment in domain:
            stopped = enter(running, client.at, segment, server_segment, message)
            if stopped is None:
                return _Heard(None, None)
    failed: Dropped | None = None
    for switch, interface, relay in _relays(running, segment):
        stopped = enter(running, client.at, segment, (switch, interface.place), message)
        result = stopped or _relayed(running, switch, interface, relay)
        if not isinstance(result, Dropped):
            return result
        failed = failed or result
    at = client.at.switch
    return failed or Dropped(at, Reason.NO_RELAY, Missing(at, Part.RELAY, str(segment[1])))


def _relays(running: Running, segment: Segment) -> Iterator[tuple[SwitchName, Interface, Relay]]:
    """The relay agents that hear a broadcast on the segment: enabled on a VLAN whose interface is up (RFC 1542 4.1.1)."""
    domain = running.domain(segment)
    for switch in running.network.switches:
        for interface in running.interfaces[switch.name]:
            if (switch.name, interface.place) in domain:
                for relay in switch.relays:
                    if relay.vlan == interface.place:
                        yield switch.name, interface, relay


def _relayed(running: Running, switch: SwitchName, interface: Interface, relay: Relay) -> _Heard | Dropped:
    """The request that the relay agent sends to its target, with giaddr filled in (RFC 1542 4.1.1)."""
    packet = Packet(
        source=int(interface.address),
        destination=int(relay.target),
        source_mac=switch_mac(switch),
        payload=Payload.DHCP_REQUEST,
    )
    outcome = send_from_switch(running, switch, packet)
    if isinstance(outcome, Dropped):
        return outcome
    server = running.network.server
    if server is None or outcome.at != server.station:
        because = SettingId(switch, Part.RELAY, relay.key, "target")
        return Dropped(outcome.at, Reason.NO_SERVER_THERE, because)
    return _Heard(switch, interface)


def _reaches_client(running: Running, client: Station, heard: _Heard) -> Dropped | None:
    """The server's answer: to giaddr and out of the relay's VLAN interface, or straight to the client (RFC 2131 4.1)."""
    server = running.network.station(_server(running).station)
    host = running.host(server)
    assert host is not None, "a server without an address hears nothing"
    client_segment = running.segments[client.at]
    answer = Packet(source=host.address, destination=0xFFFFFFFF, source_mac=server.mac, payload=Payload.DHCP_REPLY)
    if heard.relay_interface is None or heard.by_relay is None:
        return enter(running, server.at, running.segments[server.at], client_segment, answer)
    to_relay = Packet(
        source=host.address,
        destination=int(heard.relay_interface.address),
        source_mac=server.mac,
        payload=Payload.DHCP_REPLY,
    )
    outcome = send_from_station(running, server, to_relay)
    if isinstance(outcome, Dropped):
        return outcome
    if not isinstance(outcome, Delivered) or outcome.at != heard.by_relay:
        because = SettingId(heard.by_relay, Part.VLAN_INTERFACE, str(heard.relay_interface.place), "address")
        return Dropped(outcome.at, Reason.NOT_THE_RELAY, because)
    return enter(running, None, (heard.by_relay, heard.relay_interface.place), client_segment, answer)


def _addresses(pool: Pool) -> Iterator[IPv4Address]:
    return (IPv4Address(number) for number in range(int(pool.first), int(pool.last) + 1))


def _server(running: Running) -> DhcpServer:
    server = running.network.server
    assert server is not None, "only a network with a server gets as far as an offer"
    return server
