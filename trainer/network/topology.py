"""A network in operation: who is in earshot of whom, and what has been learnt since it was switched on.

Compiled once from a Network; only dhcp.start adds to it (leases and learnt binding rows), and only while it starts.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address

from trainer.network.addresses import Mac, mask_bits
from trainer.network.devices import (
    BindingRow,
    Interface,
    Network,
    PortName,
    PortRef,
    Station,
    Switch,
    SwitchName,
)
from trainer.network.routing import RoutingTable, build_table, usable_interfaces

__all__ = ["Host", "Lease", "Member", "Running", "Segment"]

Segment = tuple[SwitchName, int | PortName]
"""A piece of layer 2 on one switch: a VLAN, or a routed port by itself. Cables join segments to broadcast domains."""


@dataclass(frozen=True, slots=True)
class Lease:
    """What a client was granted (RFC 2131 3.1)."""

    address: IPv4Address
    prefix_length: int
    router: IPv4Address | None
    lease_seconds: int
    pool: str
    relay_address: IPv4Address | None
    """giaddr (RFC 2131 table 1): the address of the relay agent that heard the client; None if the server heard it."""


@dataclass(frozen=True, slots=True)
class Host:
    """The addresses a station works with just now, as plain numbers."""

    address: int
    mask: int
    gateway: int | None


@dataclass(frozen=True, slots=True)
class Member:
    """Somebody who can send and hear frames on a segment: a station, or a switch with an interface there."""

    name: str
    segment: Segment
    mac: Mac
    station: Station | None = None
    interface: Interface | None = None


class Running:
    """A network in operation."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.switches: dict[SwitchName, Switch] = {switch.name: switch for switch in network.switches}
        self.tables: dict[SwitchName, RoutingTable] = {s.name: build_table(s) for s in network.switches}
        self.interfaces = {s.name: usable_interfaces(s) for s in network.switches}
        self.own_addresses = {
            name: frozenset(int(interface.address) for interface in interfaces)
            for name, interfaces in self.interfaces.items()
        }
        self.segments: dict[PortRef, Segment] = {
            PortRef(switch.name, port.name): (switch.name, port.name if port.vlan is None else port.vlan)
            for switch in network.switches
            for port in switch.ports
        }
        self.guarded = frozenset(
            PortRef(switch.name, port) for switch in network.switches for port in switch.guarded_ports
        )
        self.trusted = frozenset(
            PortRef(switch.name, port) for switch in network.switches for port in switch.trusted_ports
        )
        self.checked = frozenset(self._ports_checked_for_replies())
        self.leases: dict[str, Lease] = {}
        self.rows: set[tuple[SwitchName, BindingRow]] = {
            (switch.name, row) for switch in network.switches for row in switch.static_rows
        }
        self._bound = {_row_key(name, row) for name, row in self.rows}
        self._roads: dict[Segment, list[tuple[Segment, PortRef]]] = {}
        for cable in network.cables:
            first, second = self.segments.get(cable.first), self.segments.get(cable.second)
            if first is not None and second is not None:
                self._roads.setdefault(first, []).append((second, cable.second))
                self._roads.setdefault(second, []).append((first, cable.first))
        self._reach: dict[Segment, dict[Segment, tuple[PortRef, ...]]] = {}
        self._members: dict[Segment, dict[int, list[Member]]] = {}
        for name, interfaces in self.interfaces.items():
            for interface in interfaces:
                member = Member(name, (name, interface.place), switch_mac(name), interface=interface)
                self._add_member(member, int(interface.address))
        for station in network.stations:
            host = self.host(station)
            if host is not None:
                self._add_station(station, host.address)

    def host(self, station: Station) -> Host | None:
        """The addresses of a station: the fixed ones, or those of its lease; None without either."""
        if station.fixed is not None:
            fixed = station.fixed
            gateway = None if fixed.gateway is None else int(fixed.gateway)
            return Host(int(fixed.address), mask_bits(fixed.prefix_length), gateway)
        lease = self.leases.get(station.name)
        if lease is None:
            return None
        router = None if lease.router is None else int(lease.router)
        return Host(int(lease.address), mask_bits(lease.prefix_length), router)

    def owners(self, segment: Segment, address: int) -> Iterator[Member]:
        """Everybody in the broadcast domain of the segment who answers for the address, nearest first."""
        for reached in self.domain(segment):
            yield from self._members.get(reached, {}).get(address, ())

    def domain(self, segment: Segment) -> dict[Segment, tuple[PortRef, ...]]:
        """The segments a broadcast from this one reaches, each with the ports it enters on the way, in order."""
        known = self._reach.get(segment)
        if known is None:
            known = {segment: ()}
            waiting = deque([segment])
            while waiting:
                here = waiting.popleft()
                for there, entered in self._roads.get(here, ()):
                    if there not in known:
                        known[there] = (*known[here], entered)
                        waiting.append(there)
            self._reach[segment] = known
        return known

    def is_bound(self, port: PortRef, mac: Mac, address: int) -> bool:
        """Whether the binding table has a row for this port, its VLAN, this MAC and this address."""
        segment = self.segments.get(port)
        return segment is not None and (port, segment[1], mac, address) in self._bound

    def grant(self, station: Station, lease: Lease) -> None:
        """The station takes the lease, and answers for its address from now on."""
        self.leases[station.name] = lease
        self._add_station(station, int(lease.address))

    def learn(self, switch: SwitchName, row: BindingRow) -> None:
        """The switch enters a dynamic row."""
        self.rows.add((switch, row))
        self._bound.add(_row_key(switch, row))

    def resumed_in(self, network: Network) -> "Running":
        """The given network with the leases and the learnt rows of this one: nobody starts anew."""
        resumed = Running(network)
        for station in network.stations:
            lease = self.leases.get(station.name)
            if lease is not None:
                resumed.grant(station, lease)
        for switch, row in self.rows:
            resumed.learn(switch, row)
        return resumed

    def _add_station(self, station: Station, address: int) -> None:
        segment = self.segments.get(station.at)
        if segment is not None:
            self._add_member(Member(station.name, segment, station.mac, station=station), address)

    def _add_member(self, member: Member, address: int) -> None:
        self._members.setdefault(member.segment, {}).setdefault(address, []).append(member)

    def _ports_checked_for_replies(self) -> Iterator[PortRef]:
        """House rule: access ports in a snooped VLAN, and every routed port of a switch that snoops at all."""
        for switch in self.network.switches:
            for port in switch.ports:
                snooped = bool(switch.snooped_vlans) if port.vlan is None else port.vlan in switch.snooped_vlans
                if snooped:
                    yield PortRef(switch.name, port.name)


def switch_mac(name: SwitchName) -> Mac:
    """A name for the MAC address of a switch; no form asks for it, so no number is made up."""
    return Mac(f"switch {name}")


def _row_key(switch: SwitchName, row: BindingRow) -> tuple[PortRef, int, Mac, int]:
    return PortRef(switch, row.port), row.vlan, row.mac, int(row.address)
