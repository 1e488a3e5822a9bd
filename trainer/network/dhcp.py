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
from trainer.network.forwarding import enter, send_from_station, send_from_switch, send_own
from trainer.network.packets import Delivered, Dropped, Packet, Payload, Reason
from trainer.network.paths import Ingress, Member, Segment, WayToServer
from trainer.network.topology import Host, Lease, Running, switch_mac

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


def start(network: Network, like: Running | None = None) -> tuple[Running, dict[str, Lease | Dropped]]:
    """Switches the network on: its DHCP stations ask for a lease one after the other, in the order listed.

    Gives the network in operation, and for each DHCP station its lease or what stopped it. like: a network of which much is
    set up alike (Running).
    """
    running = Running(network, like)
    results: dict[str, Lease | Dropped] = {}
    for station in network.stations:
        if station.uses_dhcp and station.fixed is None:
            results[station.name] = request_lease(running, station)
    return running, results


def request_lease(running: Running, client: Station) -> Lease | Dropped:
    """Takes the client through the exchange; the lease is granted and learnt, or the drop says what stopped it.

    Server and client both find out whether somebody has the address already (RFC 2131 3.1, 4.4.1); one that is in use
    is passed over.
    """
    ingress = running.ingress(client)
    if ingress is None:
        return _ended(running, Dropped(client.name, Reason.PORT_DOWN, causes.port_setting(running, client)))
    way = running.memory.to_server.get(ingress.segment) or _reaches_server(running, client, ingress)
    if isinstance(way, Dropped):
        return _ended(running, way)
    while True:
        lease = _exchanged(running, client, ingress, way)
        if isinstance(lease, Dropped):
            return _ended(running, lease)
        owner = next(_answering(running, client, ingress.segment, int(lease.address)), None)
        if owner is None:
            break
        running.note(steps.declined, client, lease, owner)
        running.declined.add(lease.address)
    running.grant(client, lease)
    snooping.learn(running, client, lease)
    return lease


def _exchanged(running: Running, client: Station, ingress: Ingress, way: WayToServer) -> Lease | Dropped:
    """What the client is granted before it looks whether somebody has the address."""
    lease = offer(running, client, way.relay_interface)
    if isinstance(lease, Dropped):
        return lease
    state = NEXT_STATE[ClientState.INIT][Message.DISCOVER]
    stopped = None
    for message in (Message.OFFER, Message.ACK):
        running.note(steps.answer, _server(running).station, message.name, client, lease.address)
        if running.memory.from_server.get(ingress.segment) != way:  # where one gets through, so do all
            stopped = _reaches_client(running, client, ingress.segment, way)
        if stopped is not None:
            return stopped
        running.memory.keep(running.memory.from_server, ingress.segment, way)
        state = NEXT_STATE[state][message]
    assert state is ClientState.BOUND
    return lease


def _answering(running: Running, client: Station, segment: Segment, address: int) -> Iterator[Member]:
    """Those near the client whose answer to its ARP probe for the address gets there (RFC 2131 4.4.1, RFC 5227 2.1.1):
    source guard checks it on its way.
    """
    for owner in running.owners(segment, address):
        if owner.station is client:
            continue
        own = None if owner.station is None else running.ingress(owner.station)
        entered = running.domain(owner.segment)[segment]
        passed = entered if own is None else (own, *entered)
        if all(guard.check_sender(running, each, owner.mac, address) is None for each in passed):
            yield owner


@dataclass(frozen=True, slots=True)
class Renewal:
    """What became of a client's wish to keep its lease."""

    unicast: Dropped | None
    """What stopped it half-way through the lease; None where it is renewed then."""
    broadcast: Dropped | None = None
    """What stopped it at seven eighths of the lease as well; None where it was not needed, or did it."""

    @property
    def drop(self) -> Dropped | None:
        """What the lease is lost for; None where the client keeps it."""
        return None if self.broadcast is None else self.unicast


def renew(running: Running, client: Station) -> Renewal:
    """The client asks the server itself first (T1), then everybody near (T2); RFC 2131 4.4.5."""
    host = running.host(client)
    if running.network.server is None or client.name not in running.leases or host is None:
        none = Dropped(client.name, Reason.NO_ADDRESS, Missing(client.name, Part.STATION, client.name, "lease"))
        return Renewal(none, none)
    unicast = _renewed(running, client, host)
    return Renewal(unicast, None if unicast is None else _rebound(running, client, host))


def _renewed(running: Running, client: Station, host: Host) -> Dropped | None:
    """RENEWING: both messages are unicast with giaddr 0, so no relay agent has a part in it (RFC 2131 4.3.2).

    The client's network and the server's need routes both ways, source guard wants the client's row, and snooping
    checks the answer.
    """
    station = running.stations[_server(running).station]
    there = running.host(station)
    if there is None:
        return Dropped(station.name, Reason.NO_ADDRESS, causes.no_address(running, station))
    request = Packet(
        source=host.address,
        destination=there.address,
        source_mac=client.mac,
        payload=Payload.DHCP_REQUEST,
    )
    outcome = send_from_station(running, client, request)
    if isinstance(outcome, Dropped):
        return outcome
    if outcome.at != station.name:
        return Dropped(outcome.at, Reason.NO_SERVER_THERE, causes.address_of(running, station), outcome.path)
    answer = Packet(source=there.address, destination=host.address, source_mac=station.mac, payload=Payload.DHCP_REPLY)
    outcome = send_from_station(running, station, answer)
    if isinstance(outcome, Delivered) and outcome.at != client.name:
        return Dropped(outcome.at, Reason.ANOTHER_ANSWERS, causes.address_of(running, client), outcome.path)
    return outcome if isinstance(outcome, Dropped) else None


def _rebound(running: Running, client: Station, host: Host) -> Dropped | None:
    """REBINDING: the request is broadcast, with the client's address, and relayed as the first one was."""
    ingress = running.ingress(client)
    if ingress is None:
        return Dropped(client.name, Reason.PORT_DOWN, causes.port_setting(running, client))
    way = _reaches_server(running, client, ingress, source=host.address)
    if isinstance(way, Dropped):
        return way
    offered = offer(running, client, way.relay_interface)
    if isinstance(offered, Dropped):
        return offered
    if int(offered.address) != host.address:
        lease = running.leases[client.name]
        because = SettingId(_server(running).station, Part.POOL, lease.pool, "network")
        return Dropped(_server(running).station, Reason.NOT_ITS_ADDRESS, because)
    return _reaches_client(running, client, ingress.segment, way)


def offer(running: Running, client: Station, relay_interface: Interface | None) -> Lease | Dropped:
    """What the server offers: the client's present address, else the lowest that is neither leased nor in use.

    Its pools are those whose network holds giaddr, or the server's own address where giaddr is 0 (RFC 2131 4.3.1); of
    several the first that has an address left. That, and that the lowest free address is taken, are rules of this lab.
    """
    server = _server(running)
    station = running.stations[server.station]
    refused = running.refused_pool
    if refused is not None:
        return Dropped(station.name, Reason.SERVER_REFUSES, causes.past_its_network(running, server, refused))
    host = running.host(station)
    assert host is not None, "a server without an address hears nothing"
    asked_from = IPv4Address(host.address) if relay_interface is None else relay_interface.address
    fitting = [pool for pool in server.pools if pool.serves(asked_from)]
    if not fitting:
        cause = causes.no_pool(running, station, asked_from, relay_interface)
        running.note(steps.no_pool, station.name, asked_from, cause)
        return Dropped(server.station, Reason.NO_POOL, cause)
    for pool in fitting:
        running.note(steps.pool, station.name, asked_from, pool.key)
        address = _free_address(running, client, pool, station)
        if address is not None:
            running.note(steps.address_found, station.name, pool.key, address)
            relay_address = None if relay_interface is None else relay_interface.address
            return Lease(
                address=address,
                prefix_length=pool.prefix_length,
                router=pool.router,
                lease_seconds=pool.lease_seconds,
                pool=pool.key,
                relay_address=relay_address,
                options=pool.options,
            )
        running.note(steps.no_address_found, station.name, pool.key)
    return Dropped(server.station, Reason.POOL_EMPTY, SettingId(server.station, Part.POOL, fitting[0].key, "last"))


def _free_address(running: Running, client: Station, pool: Pool, server: Station) -> IPv4Address | None:
    """The client's present address if it is of the pool, else the lowest free one; None where none is left."""
    present = running.leases.get(client.name)
    if present is not None and present.pool == pool.key:
        return present.address
    unavailable = {*running.leased_elsewhere, *(int(address) for address in running.declined)}
    unavailable.update(int(lease.address) for lease in running.leases.values())
    for number in range(int(pool.lowest), int(pool.highest) + 1):
        if number in unavailable:
            continue
        if not _is_in_use(running, server, number):
            return IPv4Address(number)
        running.note(steps.in_use, server.name, IPv4Address(number))
    return None


def _is_in_use(running: Running, server: Station, address: int) -> bool:
    """Whether the address is the server's own, or an echo request to it is answered (RFC 2131 3.1 step 2)."""
    host = running.host(server)
    if host is None or not running.is_claimed(address):
        return False
    if address == host.address:
        return True
    asked = send_own(running, server, address)
    if isinstance(asked, Dropped):
        return asked.reason is Reason.DUPLICATE_ADDRESS  # whoever answers first
    other = running.stations.get(asked.at)
    if other is None:
        switch = SwitchName(asked.at)
        answered = send_from_switch(running, switch, Packet(address, host.address, switch_mac(switch)))
    else:
        answered = send_from_station(running, other, Packet(address, host.address, other.mac))
    return isinstance(answered, Delivered) and answered.at == server.name


def _reaches_server(running: Running, client: Station, ingress: Ingress, source: int = 0) -> WayToServer | Dropped:
    """The client's broadcast on its way to the server: directly, or through the first relay agent that gets it there.

    source: the client's own address, once it has one.
    """
    segment = ingress.segment
    message = Packet(source=source, destination=0xFFFFFFFF, source_mac=client.mac, payload=Payload.DHCP_REQUEST)
    running.note(steps.broadcast, client, segment)
    if _server_is_near(running, segment):
        server = running.stations[_server(running).station]
        server_ingress = running.ingress(server)
        assert server_ingress is not None, "a server that is near has a port"
        if enter(running, ingress, segment, server_ingress.segment, message) is None:
            running.note(steps.heard_by_server, server, client)
            return _kept(running, segment, source, WayToServer())
    failed: Dropped | None = None
    for switch, interface, relay in _relays(running, segment):
        stopped = enter(running, ingress, segment, (switch, interface.place), message)
        result = stopped or _relayed(running, client, switch, interface, relay)
        if not isinstance(result, Dropped):
            return result if failed else _kept(running, segment, source, result)
        failed = failed or result
    return failed or Dropped(client.at.switch, Reason.NO_RELAY, causes.no_relay(running, client, segment))


def _kept(running: Running, segment: Segment, source: int, way: WayToServer) -> WayToServer:
    """The first way that there is, remembered for the other clients of the segment: without an address all are let in
    alike (RFC 7513 8.2).
    """
    return way if source else running.memory.keep(running.memory.to_server, segment, way)


def _server_is_near(running: Running, segment: Segment) -> bool:
    """Whether the server works in the broadcast domain of the segment."""
    server = running.network.server
    station = None if server is None else running.stations[server.station]
    if station is None or running.host(station) is None:
        return False
    ingress = running.ingress(station)
    return ingress is not None and ingress.segment in running.domain(segment)


def _relays(running: Running, segment: Segment) -> Iterator[tuple[SwitchName, Interface, Relay]]:
    """The relay agents that hear a broadcast on the segment: enabled on a VLAN whose interface is up (RFC 1542 4.1.1)."""
    domain = running.domain(segment)
    for compiled in running.compiled.values():
        for interface, relay in compiled.relays:
            if (compiled.switch.name, interface.place) in domain:
                yield compiled.switch.name, interface, relay


def _relayed(
    running: Running, client: Station, switch: SwitchName, interface: Interface, relay: Relay
) -> WayToServer | Dropped:
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
    return WayToServer(switch, interface)


def _blamed(running: Running, server: DhcpServer, relay: Relay, target: SettingId, dropped: Dropped) -> Dropped:
    """The drop of a relayed request, because of what would have stopped it even with everything else in order."""
    station = running.stations[server.station]
    host = running.host(station)
    if host is None:
        because = causes.no_address(running, station)
    elif host.address != int(relay.target):
        because = target
    else:
        return dropped
    return Dropped(dropped.at, dropped.reason, because, dropped.path)


def _reaches_client(running: Running, client: Station, client_segment: Segment, way: WayToServer) -> Dropped | None:
    """The server's answer: to giaddr and out of the relay's VLAN interface, or straight to the client (RFC 2131 4.1)."""
    server = running.stations[_server(running).station]
    host, ingress = running.host(server), running.ingress(server)
    assert host is not None, "a server without an address hears nothing"
    assert ingress is not None, "nor does one without a port"
    answer = Packet(source=host.address, destination=0xFFFFFFFF, source_mac=server.mac, payload=Payload.DHCP_REPLY)
    if way.relay_interface is None or way.relay is None:
        return enter(running, ingress, ingress.segment, client_segment, answer)
    to_relay = Packet(
        source=host.address,
        destination=int(way.relay_interface.address),
        source_mac=server.mac,
        payload=Payload.DHCP_REPLY,
    )
    outcome = send_from_station(running, server, to_relay)
    if isinstance(outcome, Dropped):
        return outcome
    if outcome.at != way.relay:
        because = SettingId(way.relay, Part.VLAN_INTERFACE, str(way.relay_interface.place), "address")
        return Dropped(outcome.at, Reason.NOT_THE_RELAY, because)
    segment = (way.relay, way.relay_interface.place)
    running.note(steps.delivery, client, segment)
    return enter(running, None, segment, client_segment, answer)


def _server(running: Running) -> DhcpServer:
    server = running.network.server
    assert server is not None, "only a network with a server gets as far as an offer"
    return server


def _ended(running: Running, dropped: Dropped) -> Dropped:
    """The drop that ends an exchange."""
    running.note(steps.end_of_exchange, dropped)
    return dropped
