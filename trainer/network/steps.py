"""The words of every step that a trial can show. Running.note makes them, and only while somebody listens."""

from collections.abc import Sequence
from ipaddress import IPv4Address

from trainer.network import causes
from trainer.network.addresses import Mac
from trainer.network.devices import Interface, Missing, Part, PortRef, Relay, SettingId, Station, SwitchName
from trainer.network.packets import Dropped, Packet, Payload
from trainer.network.paths import Ingress, Member, Segment
from trainer.network.routing import Entry
from trainer.network.topology import Lease, Running
from trainer.network.trace import Lookup, Step

__all__ = [
    "address_found",
    "answer",
    "arrival",
    "bound",
    "broadcast",
    "declined",
    "delivery",
    "end_of_exchange",
    "end_of_packet",
    "false_server",
    "heard_by_relay",
    "heard_by_server",
    "in_use",
    "learning",
    "neighbour",
    "no_address_found",
    "no_pool",
    "pool",
    "route",
    "sending",
    "trust",
]


# --- A packet's way ---------------------------------------------------------------------------------------------------


def sending(running: Running, station: Station, packet: Packet) -> Step:
    """A station sends a packet of its own."""
    addresses = f"a packet from {IPv4Address(packet.source)} to {IPv4Address(packet.destination)}"
    return Step(
        at=station.name,
        lookup=Lookup.SENDING,
        subject=addresses if packet.payload is Payload.DATA else f"a {packet.payload.value}, {addresses}",
        found=_gateway_in_words(running, station),
        decided_by=(causes.port_setting(running, station), *causes.own_settings(running, station)),
    )


def _gateway_in_words(running: Running, station: Station) -> str:
    host = running.host(station)
    if host is None:
        return "it has no address"
    length = host.mask.bit_count()
    gateway = "no gateway" if host.gateway is None else f"gateway {IPv4Address(host.gateway)}"
    return f"its address is {IPv4Address(host.address)}/{length}, {gateway}"


def arrival(_: Running, at: str, address: int) -> Step:
    """A device takes a packet that is for itself."""
    return Step(at=at, lookup=Lookup.RECEIVED, subject=str(IPv4Address(address)), found="the address is its own")


def route(_: Running, switch: SwitchName, destination: int, entry: Entry | None) -> Step:
    """A switch looks into its routing table."""
    settings: tuple[SettingId, ...] = ()
    if entry is None:
        found = "no route leads there"
    else:
        place = entry.interface.place
        where = f"on VLAN {place}" if isinstance(place, int) else f"on port {place}"
        settings = (entry.because,)
        if entry.route is None:
            found = f"connected network {entry.interface.network} {where}"
        else:
            found = f"static route to {entry.route.destination}, next hop {entry.route.next_hop} {where}"
            settings = (*settings, SettingId(switch, Part.ROUTE, entry.route.key, "destination"))
    subject = str(IPv4Address(destination))
    return Step(at=switch, lookup=Lookup.ROUTE, subject=subject, found=found, decided_by=settings)


def neighbour(
    running: Running, asker: Member, address: int, owners: Sequence[Member], because: SettingId | Missing
) -> Step:
    """A device asks who has an address (ARP)."""
    settings = [because]
    if asker.interface is not None:
        settings.append(SettingId(asker.name, asker.interface.part, str(asker.interface.place), "address"))
    if asker.station is not None:
        settings += causes.own_settings(running, asker.station)
    settings += causes.address_settings(running, owners)
    if not owners:
        settings += causes.nearby_interfaces(running, asker.segment, address)
    return Step(
        at=asker.name,
        lookup=Lookup.NEIGHBOUR,
        subject=str(IPv4Address(address)),
        found=" and ".join(f"{owner.name} answers" for owner in owners) or "nobody answers",
        decided_by=tuple(dict.fromkeys(settings)),
    )


def end_of_packet(_: Running, dropped: Dropped) -> Step:
    """A packet is dropped."""
    return _dropped("the packet", dropped)


def _dropped(what: str, dropped: Dropped) -> Step:
    found, because = dropped.reason.value, dropped.because
    return Step(at=dropped.at, lookup=Lookup.DROPPED, subject=what, found=found, decided_by=(because,))


# --- Snooping and source guard ----------------------------------------------------------------------------------------


def trust(_: Running, port: PortRef, setting: SettingId | Missing) -> Step:
    """A port lets a server message in, or does not."""
    is_trusted = isinstance(setting, SettingId)
    found = "the port is trusted" if is_trusted else "the port is not trusted, so it is dropped"
    return Step(at=port.switch, lookup=Lookup.TRUST, subject=f"port {port}", found=found, decided_by=(setting,))


def bound(running: Running, ingress: Ingress, address: int, mac: Mac, what: str, dropped: Dropped | None) -> Step:
    """Source guard looks for the row of a sender. what: what it sent."""
    port = ingress.port
    guard = SettingId(port.switch, Part.GUARD, port.port)
    settings = (guard,) if dropped is None else (dropped.because, guard)
    return Step(
        at=port.switch,
        lookup=Lookup.BINDING,
        subject=f"{what} of {IPv4Address(address)}, {mac}, that comes in on port {port}",
        found="there is a row for it" if dropped is None else "there is no row for it, so it is dropped",
        decided_by=(*settings, *causes.sender_settings(running, port)),
    )


def learning(_: Running, client: Station, vlan: int, lease: Lease) -> Step:
    """A switch enters a dynamic row."""
    found = f"enters a dynamic row for port {client.at.port}, VLAN {vlan}, {client.mac}, {lease.address}"
    return Step(at=client.at.switch, lookup=Lookup.LEARNING, subject=client.name, found=found)


def false_server(_: Running, port: PortRef) -> Step:
    """A rogue server was plugged into a link."""
    found = f"it was plugged in at port {port}"
    return Step(at="a rogue server", lookup=Lookup.SENDING, subject="a DHCP server message", found=found)


# --- The DHCP exchange ------------------------------------------------------------------------------------------------


def broadcast(running: Running, client: Station, segment: Segment) -> Step:
    """A client asks everybody near."""
    return Step(
        at=client.name,
        lookup=Lookup.SENDING,
        subject="a DHCP client message to everybody near",
        found=f"it is in {_in_words(segment)}",
        decided_by=(causes.port_setting(running, client),),
    )


def heard_by_server(_: Running, server: Station, client: Station) -> Step:
    """The server hears a client without a relay agent."""
    found = "it is in the same broadcast domain"
    return Step(at=server.name, lookup=Lookup.RELAY, subject=client.name, found=found)


def heard_by_relay(running: Running, client: Station, switch: SwitchName, interface: Interface, relay: Relay) -> Step:
    """A relay agent hears a client and fills in giaddr."""
    target = SettingId(switch, Part.RELAY, relay.key, "target")
    own_address = SettingId(switch, interface.part, str(interface.place), "address")
    server = running.network.server
    agrees = () if server is None else (causes.address_of(running, running.network.station(server.station)),)
    return Step(
        at=switch,
        lookup=Lookup.RELAY,
        subject=client.name,
        found=f"its relay agent sends it to {relay.target} with giaddr {interface.address}",
        decided_by=(target, own_address, *agrees),
    )


def pool(_: Running, server: str, asked_from: IPv4Address, key: str) -> Step:
    """The server finds a pool for the network a request came from."""
    named = SettingId(server, Part.POOL, key, "network")
    return Step(at=server, lookup=Lookup.POOL, subject=str(asked_from), found=f"pool {key}", decided_by=(named,))


def no_pool(_: Running, server: str, asked_from: IPv4Address, cause: SettingId | Missing) -> Step:
    """The server has no pool for it."""
    return Step(at=server, lookup=Lookup.POOL, subject=str(asked_from), found="there is none", decided_by=(cause,))


def address_found(_: Running, server: str, key: str, address: IPv4Address) -> Step:
    """The server has an address left in the pool."""
    return Step(
        at=server,
        lookup=Lookup.ADDRESS,
        subject=key,
        found=f"{address} is the lowest",
        decided_by=tuple(SettingId(server, Part.POOL, key, end) for end in ("first", "last")),
    )


def in_use(_: Running, server: str, address: IPv4Address) -> Step:
    """The server passes over an address that answers."""
    return Step(at=server, lookup=Lookup.CHECK, subject=str(address), found="it is, and is passed over")


def declined(running: Running, client: Station, lease: Lease, owner: Member) -> Step:
    """A client finds its new address in use (RFC 5227 2.1.1) and does not take it (RFC 2131 3.1 step 5)."""
    server = running.network.server
    pool = () if server is None else (SettingId(server.station, Part.POOL, lease.pool, "first"),)
    return Step(
        at=client.name,
        lookup=Lookup.NEIGHBOUR,
        subject=str(lease.address),
        found=f"{owner.name} answers, so it declines the address",
        decided_by=(*pool, *causes.address_settings(running, (owner,))),
    )


def no_address_found(_: Running, server: str, key: str) -> Step:
    """The server has no address left in the pool."""
    settings = tuple(SettingId(server, Part.POOL, key, end) for end in ("last", "first"))
    return Step(at=server, lookup=Lookup.ADDRESS, subject=key, found="none is left", decided_by=settings)


def answer(_: Running, server: str, message: str, client: Station, address: IPv4Address) -> Step:
    """The server answers a client."""
    return Step(at=server, lookup=Lookup.ANSWER, subject=message, found=f"{address} for {client.name}")


def delivery(_: Running, client: Station, segment: tuple[SwitchName, int | str]) -> Step:
    """A relay agent hands the server's answer on to its client."""
    found = f"it goes out to {_in_words(segment)}"
    return Step(at=segment[0], lookup=Lookup.DELIVERY, subject=client.name, found=found)


def end_of_exchange(_: Running, dropped: Dropped) -> Step:
    """The client gets no lease."""
    return _dropped("the DHCP message", dropped)


def _in_words(segment: tuple[SwitchName, int | str]) -> str:
    switch, place = segment
    return f"VLAN {place} on switch {switch}" if isinstance(place, int) else f"routed port {switch}/{place}"
