"""Which setting to name when a packet is dropped: the one that is wrong, as far as the network by itself can tell.

Asked only when something is dropped. A device that finds nobody knows no more than that; but the network also knows
who has the address, which interface is down and why, and what stands at the other end of the cable. So the fault is
looked for where a technician would look next. Where two settings contradict each other and nothing tells which of them
is right, the one is named that the device itself complains about.
"""

from collections.abc import Iterator, Sequence
from ipaddress import IPv4Address

from trainer.network.addresses import Mac, dotted, mask_bits
from trainer.network.devices import (
    BindingRow,
    DhcpServer,
    Interface,
    Missing,
    Part,
    Pool,
    PortRef,
    Route,
    SettingId,
    Station,
    SwitchName,
)
from trainer.network.paths import Ingress, Member, Segment
from trainer.network.routing import RefusedInterface
from trainer.network.topology import Host, Running

__all__ = [
    "address_in_use",
    "address_of",
    "address_settings",
    "gateway_elsewhere",
    "gateway_of",
    "mask_of",
    "nearby_interfaces",
    "no_address",
    "no_gateway",
    "no_neighbour",
    "no_pool",
    "no_relay",
    "no_route",
    "not_bound",
    "own_settings",
    "past_its_network",
    "port_setting",
    "sender_settings",
    "whose_address",
]

Cause = SettingId | Missing


# --- Settings of stations ---------------------------------------------------------------------------------------------


def address_of(running: Running, station: Station) -> SettingId:
    """Where the station has its address from: its own setting, or the pool."""
    return _setting_of(running, station, "address", "first")


def gateway_of(running: Running, station: Station) -> SettingId:
    """Where the station has its gateway from: its own setting, or the pool's router option."""
    return _setting_of(running, station, "gateway", "router")


def own_settings(running: Running, station: Station) -> list[SettingId]:
    """All that decides to whom a station sends."""
    return [each(running, station) for each in (gateway_of, mask_of, address_of)]


def address_settings(running: Running, members: Sequence[Member]) -> list[SettingId]:
    """Where each of the members has its address from."""
    return [
        _interface_setting(each.name, each.interface, "address")
        if each.station is None
        else address_of(running, each.station)
        for each in members
    ]


def nearby_interfaces(running: Running, segment: Segment, address: int) -> list[SettingId]:
    """Interfaces in the broadcast domain whose network holds the address that nobody answers for."""
    return [
        _interface_setting(switch, interface, "address")
        for switch, place in running.domain(segment)
        for interface in running.switches[switch].interfaces
        if interface.place == place and _holds(interface, address)
    ]


def sender_settings(running: Running, port: PortRef) -> list[SettingId]:
    """Where the station on a port has its address from; nothing where no station is plugged in."""
    return [address_of(running, station) for station in running.network.stations if station.at == port]


def whose_address(running: Running, address: int) -> SettingId | None:
    """Where the station that works with the address has it from; None where no station does."""
    station = running.station_with(address)
    return None if station is None else address_of(running, station)


def mask_of(running: Running, station: Station) -> SettingId:
    """Where the station has its mask from: its own setting, or the pool."""
    return _setting_of(running, station, "mask", "network")


def _setting_of(running: Running, station: Station, own: str, of_pool: str) -> SettingId:
    lease, server = running.leases.get(station.name), running.network.server
    if station.fixed is None and lease is not None and server is not None:
        return SettingId(server.station, Part.POOL, lease.pool, of_pool)
    return SettingId(station.name, Part.STATION, station.name, own)


def no_address(running: Running, station: Station) -> Cause:
    """A station has no address: none is set, there is no lease, or it is one that no device may have."""
    if station.fixed is not None or station.name in running.leases:
        return address_of(running, station)
    return Missing(station.name, Part.STATION, station.name, "lease" if station.uses_dhcp else "address")


def no_gateway(running: Running, station: Station) -> Missing:
    setting = gateway_of(running, station)
    return Missing(setting.device, setting.part, setting.key, setting.field)


def gateway_elsewhere(running: Running, station: Station, segment: Segment) -> SettingId:
    """The gateway is outside the station's own network. If somebody has it next door all the same, the mask or the
    address is at fault.
    """
    host = running.host(station)
    assert host is not None
    assert host.gateway is not None
    owner = next(iter(running.owners(segment, host.gateway)), None)
    if owner is None or owner.interface is None:
        return gateway_of(running, station)
    return mask_of(running, station) if _holds(owner.interface, host.address) else address_of(running, station)


def port_setting(running: Running, station: Station) -> Cause:
    """The setting of the port that the station is plugged into; missing where the port is not set."""
    port = station.at
    if port in running.ingresses:
        return SettingId(port.switch, Part.PORT, port.port)
    return Missing(port.switch, Part.PORT, port.port)


def address_in_use(running: Running, owners: Sequence[Member]) -> SettingId:
    """Of several devices with one address: a station before a lease before a switch, whose address is the gateway."""
    ordered = sorted(
        owners, key=lambda each: (each.station is None, each.station is None or each.station.fixed is None)
    )
    return address_settings(running, ordered)[0]


# --- Nobody answers ---------------------------------------------------------------------------------------------------


def no_neighbour(running: Running, asker: Member, address: int, otherwise: Cause) -> Cause:
    """Nobody in the asker's broadcast domain answers for the address. otherwise: where the asker has the address from."""
    for dead in _dead_interfaces(running, asker.segment):
        if _holds(dead[1].interface, address):
            return _why_dead(running, dead)
    claimant = running.station_with(address)
    if asker.station is not None:
        host = running.host(asker.station)
        if host is not None and host.gateway == address:
            return _why_no_gateway(running, asker.station, asker.segment, address, otherwise)
        return otherwise if claimant is None else _why_not_next_door(running, asker.station, claimant)
    if claimant is not None and asker.interface is not None:
        return _why_not_found(running, asker.interface, claimant)
    return _silent_end(running, asker.segment) or otherwise


def _dead_interfaces(running: Running, segment: Segment) -> Iterator[tuple[SwitchName, RefusedInterface]]:
    """Interfaces that are down and would be in earshot, or stand on the asker's own switch."""
    if not any(table.refused_interfaces for table in running.tables.values()):
        return
    switch = segment[0]
    domain = running.domain(segment)
    near = {ingress.port for each in running.ingresses.values() for ingress in each if ingress.segment in domain}
    for cable in running.network.cables:
        near |= {cable.first, cable.second} if {cable.first, cable.second} & near else set()
    for name, table in running.tables.items():
        for refused in table.refused_interfaces:
            place = refused.interface.place
            in_earshot = (name, place) in domain if isinstance(place, int) else PortRef(name, place) in near
            if in_earshot or name == switch:
                yield name, refused


def _why_dead(running: Running, dead: tuple[SwitchName, RefusedInterface]) -> Cause:
    """What keeps the interface down; where no port carries its VLAN, the port of a station that takes it for its gateway."""
    switch, refused = dead
    if refused.because.part is Part.VLAN:
        for station in running.network.stations:
            host = running.host(station)
            if station.at.switch == switch and host is not None and host.gateway == int(refused.interface.address):
                return port_setting(running, station)
    return refused.because


def _why_not_found(running: Running, interface: Interface, station: Station) -> Cause:
    """A switch looks for a station on the wrong segment: the port is wrong, or the address is one of another network."""
    host = running.host(station)
    assert host is not None
    if running.ingress(station) is None or host.gateway == int(interface.address):
        return port_setting(running, station)
    return address_of(running, station)


def _why_not_next_door(running: Running, asker: Station, other: Station) -> Cause:
    """A station looks next door for one that is not there: its mask is too wide, the other one has an address that its
    own gateway does not go with, or one of the two ports is wrong.
    """
    own, host, ingress = running.host(asker), running.host(other), running.ingress(asker)
    assert own is not None
    assert host is not None
    assert ingress is not None
    if (own.address ^ host.address) & host.mask:
        return mask_of(running, asker)
    if _is_at_odds(host):
        return address_of(running, other)
    finds_gateway = own.gateway is not None and bool(running.owners(ingress.segment, own.gateway))
    return port_setting(running, other if finds_gateway else asker)


def _why_no_gateway(running: Running, station: Station, segment: Segment, address: int, otherwise: Cause) -> Cause:
    """A station's gateway does not answer: the port is in another VLAN, or its VLAN has no interface."""
    switch, place = segment
    interfaces = running.switches[switch].interfaces
    if any(int(each.address) == address and each.place != place for each in interfaces):
        return port_setting(running, station)
    if isinstance(place, int) and not any(each.place == place for each in interfaces):
        return Missing(switch, Part.VLAN_INTERFACE, str(place))
    return otherwise


def _silent_end(running: Running, segment: Segment) -> Missing | None:
    """The far end of a link, where it has no interface at all."""
    for switch, place in running.domain(segment):
        if (switch, place) != segment and not any(each.place == place for each in running.switches[switch].interfaces):
            part = Part.VLAN_INTERFACE if isinstance(place, int) else Part.ROUTED_PORT
            return Missing(switch, part, str(place))
    return None


# --- No way there -----------------------------------------------------------------------------------------------------


def no_route(running: Running, switch: SwitchName, destination: int) -> Cause:
    """The switch knows no way: its route is refused or too narrow, its interface is down or too narrow, or a route is
    missing.
    """
    table = running.tables[switch]
    refused = table.refused_for(destination)
    if refused is not None:
        return _why_refused(running, switch, refused)
    for dead in table.refused_interfaces:
        if _holds(dead.interface, destination):
            return _why_dead(running, (switch, dead))
    station = running.station_with(destination)
    cause = None if station is None else _why_not_covered(running, switch, station)
    return cause or Missing(switch, Part.ROUTE, dotted(destination))


def _why_not_covered(running: Running, switch: SwitchName, station: Station) -> Cause | None:
    """A station's address lies outside everything the switch knows: the address is not of the station's network, or an
    interface or a route leaves it out that takes in its gateway.
    """
    host, ingress = running.host(station), running.ingress(station)
    assert host is not None
    if _is_at_odds(host):
        return address_of(running, station)
    table = running.tables[switch]
    if ingress is not None and ingress.segment[0] == switch:
        place = ingress.segment[1]
        if isinstance(place, int) and not any(each.place == place for each in running.switches[switch].interfaces):
            return Missing(switch, Part.VLAN_INTERFACE, str(place))
    for interface in table.interfaces:
        if int(interface.address) == host.gateway:
            return _interface_setting(switch, interface, "network")
    entry = None if host.gateway is None else table.lookup(host.gateway)
    if entry is not None and entry.route is not None:
        return SettingId(switch, Part.ROUTE, entry.route.key, "destination")
    return None


def _why_refused(running: Running, switch: SwitchName, route: Route) -> Cause:
    """A route's next hop is in no connected network, or is no neighbour's address there."""
    next_hop = int(route.next_hop)
    table = running.tables[switch]
    is_near = any(_holds(interface, next_hop) for interface in table.interfaces)
    for dead in () if is_near else table.refused_interfaces:
        if _holds(dead.interface, next_hop):
            return _why_dead(running, (switch, dead))
    unset = None
    for cable in running.network.cables:
        for here, there in ((cable.first, cable.second), (cable.second, cable.first)):
            if here.switch != switch:
                continue
            own = next((each for each in running.switches[switch].interfaces if each.place == here.port), None)
            if _has(running, there, next_hop) and own is not None:
                return _interface_setting(switch, own, "address" if is_near else "network")
            unset = unset or (here if own is None else None)
    if unset is not None and not is_near:
        return Missing(switch, Part.ROUTED_PORT, unset.port)
    return SettingId(switch, Part.ROUTE, route.key, "next_hop")


def _has(running: Running, port: PortRef, address: int) -> bool:
    """Whether the routed port is set to the address, up or down."""
    interfaces = running.switches[port.switch].interfaces
    return any(each.place == port.port and int(each.address) == address for each in interfaces)


# --- DHCP -------------------------------------------------------------------------------------------------------------


def no_relay(running: Running, client: Station, segment: Segment) -> Cause:
    """Nobody hands a client's request on: the server next door has no address, or the VLAN has no relay agent or no
    interface to put into giaddr.
    """
    server = running.network.server
    if server is not None:
        station = running.network.station(server.station)
        ingress = running.ingress(station)
        is_near = ingress is not None and ingress.segment in running.domain(segment)
        if is_near and running.host(station) is None:
            return no_address(running, station)
    switch, place = segment
    settings = running.switches[switch]
    for dead in running.tables[switch].refused_interfaces:
        if dead.interface.place == place:
            return _why_dead(running, (switch, dead))
    has_relay = any(relay.vlan == place for relay in settings.relays)
    has_interface = any(interface.place == place for interface in settings.interfaces)
    if has_relay and isinstance(place, int):
        return Missing(switch, Part.VLAN_INTERFACE, str(place))
    if has_interface:
        return Missing(switch, Part.RELAY, str(place))
    return port_setting(running, client)


def no_pool(running: Running, server: Station, asked_from: IPv4Address, interface: Interface | None) -> Cause:
    """No pool's network holds giaddr: a pool has a wrong mask or first address, or there is none for that network.

    interface: the relay agent's; None where the server heard the client itself. A server that finds its own gateway
    nowhere near is plugged into the wrong VLAN.
    """
    assert running.network.server is not None
    host, ingress = running.host(server), running.ingress(server)
    if interface is None and host is not None and ingress is not None and host.gateway is not None:
        gateways = {int(each.address) for switch in running.network.switches for each in switch.interfaces}
        if host.gateway in gateways and not running.owners(ingress.segment, host.gateway):
            return port_setting(running, server)
    for pool in running.network.server.pools:
        in_network = interface is not None and (_holds(interface, int(pool.first)) or _holds(interface, int(pool.last)))
        if in_network or pool.router == asked_from:
            return SettingId(server.name, Part.POOL, pool.key, "network")
    return Missing(server.name, Part.POOL, str(asked_from))


def past_its_network(running: Running, server: DhcpServer, pool: Pool) -> SettingId:
    """A pool's last address lies outside its first one's network: of first, last and mask the one that does not go with
    the network of the pool's router; the last address where nothing tells.
    """
    homes = [each for switch in running.network.switches for each in switch.interfaces]
    home = next((each for each in homes if pool.router is not None and _holds(each, int(pool.router))), None)
    field = "last"
    if home is not None and not _holds(home, int(pool.first)):
        field = "first"
    elif home is not None and _holds(home, int(pool.last)):
        field = "network"
    return SettingId(server.station, Part.POOL, pool.key, field)


# --- Source guard -----------------------------------------------------------------------------------------------------


def not_bound(running: Running, ingress: Ingress, mac: Mac, address: int) -> Cause:
    """A guarded port has no row for a sender. A station that is who it says it is lacks its row for a reason."""
    port = ingress.port
    station = running.station_at(port)
    if station is None:
        return SettingId(port.switch, Part.GUARD, port.port)
    host = running.host(station)
    missing = Missing(port.switch, Part.BINDING, str(port))
    if mac != station.mac or host is None or host.address != address:
        return missing
    if station.fixed is not None:
        return _nearest_row(running, ingress, mac, address) or missing
    if not ingress.checks_replies:
        return Missing(port.switch, Part.SNOOPING, str(ingress.segment[1]))
    if ingress.is_trusted:
        return SettingId(port.switch, Part.TRUST, port.port)
    return missing


def _nearest_row(running: Running, ingress: Ingress, mac: Mac, address: int) -> SettingId | None:
    """The field that keeps a static row from being the station's: the only one that is wrong."""
    for switch in running.network.switches:
        for row in switch.static_rows:
            wrong = list(_wrong_fields(switch.name, row, ingress, mac, address))
            if len(wrong) == 1:
                return SettingId(switch.name, Part.BINDING, row.key, wrong[0])
    return None


def _wrong_fields(switch: SwitchName, row: BindingRow, ingress: Ingress, mac: Mac, address: int) -> Iterator[str]:
    if PortRef(switch, row.port) != ingress.port:
        yield "port"
    if row.vlan != ingress.segment[1]:
        yield "vlan"
    if row.mac != mac:
        yield "mac"
    if int(row.address) != address:
        yield "address"


def _is_at_odds(host: Host) -> bool:
    """Whether the gateway lies outside the station's own network."""
    return host.gateway is not None and bool((host.gateway ^ host.address) & host.mask)


def _holds(interface: Interface, address: int) -> bool:
    return not (int(interface.address) ^ address) & mask_bits(interface.prefix_length)


def _interface_setting(device: str, interface: Interface | None, field: str) -> SettingId:
    assert interface is not None, "a member that is no station is an interface"
    return SettingId(device, interface.part, str(interface.place), field)
