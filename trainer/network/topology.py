"""A network in operation: who is in earshot of whom, and what has been learnt since it was switched on.

Compiled once from a Network; only dhcp.start adds to it (leases and learnt binding rows), and only while it starts.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from ipaddress import IPv4Address
from typing import Concatenate, NamedTuple, ParamSpec

from trainer.network.addresses import Mac, is_reserved, mask_bits
from trainer.network.devices import (
    BindingRow,
    DhcpOptions,
    Network,
    Pool,
    Port,
    PortName,
    PortRef,
    Station,
    Switch,
    SwitchName,
)
from trainer.network.paths import Ingress, Member, Memory, Segment
from trainer.network.routing import RoutingTable, build_table
from trainer.network.trace import Observer, Step

__all__ = ["Compiled", "Host", "Lease", "Running", "switch_mac"]

P = ParamSpec("P")

_RowKey = tuple[SwitchName, PortName, int, Mac, int]
"""What makes two binding rows one: switch, port, VLAN, MAC, address."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lease:
    """What a client was granted (RFC 2131 3.1)."""

    address: IPv4Address
    prefix_length: int
    router: IPv4Address | None
    lease_seconds: int
    pool: str
    relay_address: IPv4Address | None
    """giaddr (RFC 2131 table 1): the address of the relay agent that heard the client; None if the server heard it."""
    options: DhcpOptions = field(default_factory=DhcpOptions)
    """What the client was told besides, as its pool has it."""


class Host(NamedTuple):
    """The addresses a station works with just now, as plain numbers."""

    address: int
    mask: int
    gateway: int | None


class Compiled:
    """What a switch by itself makes of its settings."""

    def __init__(self, switch: Switch, like: "Compiled | None" = None) -> None:
        """like: of the same switch, of which much may be set up alike; what rests on the same settings is taken over."""
        self.switch = switch
        self.mac = switch_mac(switch.name)
        self.ingresses: dict[PortRef, tuple[Ingress, ...]]
        self.trunks: frozenset[PortRef]
        self.as_data_sees: dict[PortRef, tuple[tuple[Segment, bool], ...]]
        """Every port that is on: the segments it leads into, and whether source guard looks at what comes in."""
        self.table: RoutingTable
        self.own_addresses: frozenset[int]
        self.members: tuple[Member, ...]
        self.bound: dict[_RowKey, tuple[SwitchName, BindingRow]]
        if like is not None and _sets_alike(like.switch, switch, "ports", *_PROTECTION):
            self.ingresses, self.trunks, self.as_data_sees = like.ingresses, like.trunks, like.as_data_sees
        else:
            ports = [(PortRef(switch.name, port.name), port) for port in switch.ports]
            self.ingresses = {ref: tuple(_ingresses(switch, ref, port)) for ref, port in ports}
            self.trunks = frozenset(ref for ref, port in ports if port.trunk_vlans)
            self.as_data_sees = {
                ref: tuple((way_in.segment, way_in.is_guarded) for way_in in each)
                for ref, each in self.ingresses.items()
            }
        if like is not None and _sets_alike(like.switch, switch, "ports", "interfaces", "routes", "discards"):
            self.table, self.own_addresses, self.members = like.table, like.own_addresses, like.members
        else:
            self.table = build_table(switch)
            self.own_addresses = frozenset(int(interface.address) for interface in self.table.interfaces)
            self.members = tuple(
                Member(switch.name, (switch.name, each.place), self.mac, interface=each)
                for each in self.table.interfaces
            )
        self.relays = tuple(
            (interface, relay)
            for interface in (self.table.interfaces if switch.relays else ())
            for relay in switch.relays
            if relay.vlan == interface.place
        )
        """The relay agents that are on, each with the interface on whose VLAN it listens."""
        if like is not None and _sets_alike(like.switch, switch, "static_rows"):
            self.bound = like.bound
        else:
            self.bound = {_row_key(switch.name, row): (switch.name, row) for row in switch.static_rows}


_PROTECTION = ("snooped_vlans", "trusted_ports", "guarded_ports")


def _sets_alike(one: Switch, other: Switch, *settings: str) -> bool:
    return all(getattr(one, each) == getattr(other, each) for each in settings)


class Running:
    """A network in operation."""

    def __init__(self, network: Network, like: "Running | None" = None) -> None:
        """like: a network of which much may be set up alike; what a switch makes of the same settings is taken over."""
        self.network = network
        self.switches: dict[SwitchName, Switch] = {switch.name: switch for switch in network.switches}
        self.stations: dict[str, Station] = {station.name: station for station in network.stations}
        known = {} if like is None else like.compiled
        self.compiled: dict[SwitchName, Compiled] = {
            each.name: _compiled(each, known.get(each.name)) for each in network.switches
        }
        compiled = self.compiled.values()
        self.tables: dict[SwitchName, RoutingTable] = {each.switch.name: each.table for each in compiled}
        self.own_addresses = {each.switch.name: each.own_addresses for each in compiled}
        self.ingresses: dict[PortRef, tuple[Ingress, ...]] = {}
        """Of every port that is on: one for each VLAN it carries, or one for the routed port itself."""
        self.bound: dict[_RowKey, tuple[SwitchName, BindingRow]] = {}
        """The rows of the binding tables, by what a guarded port looks for."""
        for each in compiled:
            self.ingresses.update(each.ingresses)
            self.bound.update(each.bound)
        self.trunks: frozenset[PortRef] = frozenset().union(*(each.trunks for each in compiled))
        self.is_guarded = any(switch.guarded_ports for switch in network.switches)
        pools = () if network.server is None else network.server.pools
        self.refused_pool: Pool | None = next((pool for pool in pools if pool.is_refused), None)
        """The first that keeps the server from starting."""
        self.leases: dict[str, Lease] = {}
        self.declined: set[IPv4Address] = set()
        """Addresses that clients found in use, which the server hands out no more (RFC 2131 4.3.3)."""
        self.leased_elsewhere: set[int] = set()
        """Addresses that are leased to stations of which nothing else is known."""
        self.memory = Memory()
        self.is_observed = False
        """Whether somebody listens, so that every step has to be made."""
        self._observer: Observer | None = None
        self.hosts: dict[str, Host | None] = {}
        """Of every station by its name what `host` gives."""
        self._by_address: dict[int, Station] | None = None
        self._by_port: dict[PortRef, Station] | None = None
        self._plugged = {
            station.name: next(iter(self.ingresses.get(station.at, ())), None)
            for station in network.stations
            if not self.trunks or station.at not in self.trunks
        }
        self._roads: dict[Segment, list[tuple[Segment, Ingress]]] = {}
        for cable in network.cables:
            self._join(cable.first, cable.second)
        self._reach: dict[Segment, dict[Segment, tuple[Ingress, ...]]] = {}
        self.members: dict[int, list[Member]] = {}
        """Who answers for an address, in whatever segment."""
        for member in (each for switch in compiled for each in switch.members):
            assert member.interface is not None
            self._add_member(member, int(member.interface.address))
        for station in network.stations:
            if like is not None and station.fixed is not None and like.stations.get(station.name) is station:
                self._settle(station, like.hosts[station.name])
            else:
                self._settle(station, self._host(station))

    @property
    def rows(self) -> set[tuple[SwitchName, BindingRow]]:
        """The binding tables: static rows and what was learnt, each with its switch."""
        return set(self.bound.values())

    def host(self, station: Station) -> Host | None:
        """The addresses of a station: the fixed ones, or those of its lease; None without either.

        An address that no device may have is refused, as if none were set (RFC 1122 3.2.1.3).
        """
        return self.hosts.get(station.name)

    def station_with(self, address: int) -> Station | None:
        """A station that works with the address, wherever it is plugged in; of several the first."""
        if self._by_address is None:
            hosts = ((station, self.hosts.get(station.name)) for station in reversed(self.network.stations))
            self._by_address = {host.address: station for station, host in hosts if host is not None}
        return self._by_address.get(address)

    def station_at(self, port: PortRef) -> Station | None:
        """The station that is plugged in there; of several the first."""
        if self._by_port is None:
            self._by_port = {station.at: station for station in reversed(self.network.stations)}
        return self._by_port.get(port)

    def ingress(self, station: Station) -> Ingress | None:
        """The way in for what the station sends: its port, where that carries a VLAN untagged or is routed."""
        return self._plugged.get(station.name)

    def owners(self, segment: Segment, address: int) -> list[Member]:
        """Everybody in the broadcast domain of the segment who answers for the address, nearest first."""
        claimants = self.members.get(address, [])
        if len(claimants) == 1 and claimants[0].segment == segment:
            return claimants
        domain = self.domain(segment) if claimants else {}
        near = [each for each in claimants if each.segment in domain]
        if len(near) > 1:
            places = list(domain)
            near.sort(key=lambda each: places.index(each.segment))
        return near

    def is_claimed(self, address: int) -> bool:
        """Whether any device that is switched on has the address, wherever it is plugged in."""
        return address in self.members

    def domain(self, segment: Segment) -> dict[Segment, tuple[Ingress, ...]]:
        """The segments a broadcast from this one reaches, each with the ports on the way that check frames, in order."""
        known = self._reach.get(segment)
        if known is None:
            known = {segment: ()}
            waiting = deque([segment])
            while waiting:
                here = waiting.popleft()
                for there, entered in self._roads.get(here, ()):
                    if there not in known:
                        known[there] = (*known[here], entered) if entered.checks else known[here]
                        waiting.append(there)
            self._reach[segment] = known
        return known

    def is_bound(self, ingress: Ingress, mac: Mac, address: int) -> bool:
        """Whether the binding table has a row for this port, its VLAN, this MAC and this address."""
        return (ingress.port.switch, ingress.port.port, ingress.segment[1], mac, address) in self.bound

    def grant(self, station: Station, lease: Lease) -> None:
        """The station takes the lease, and answers for its address from now on."""
        if self.leases.get(station.name) == lease:
            return
        assert station.name not in self.leases, "a client keeps the address it has"
        self.leases[station.name] = lease
        if self.is_claimed(int(lease.address)):
            self.memory.forget()
        self.memory.forget_drops()
        self._settle(station, self._host(station))

    def learn(self, switch: SwitchName, row: BindingRow) -> None:
        """The switch enters a dynamic row."""
        self.learn_all([(switch, row)])

    def learn_all(self, rows: Iterable[tuple[SwitchName, BindingRow]]) -> None:
        """Several rows, each with its switch."""
        self.memory.forget_drops()
        for switch, row in rows:
            self.bound.setdefault(_row_key(switch, row), (switch, row))

    @contextmanager
    def observed_by(self, observer: Observer) -> Iterator[None]:
        """While it lasts the observer hears every step."""
        before = self._observer, self.memory
        self._observer, self.memory = observer, Memory(keeps=False)
        self.is_observed = True
        try:
            yield
        finally:
            self._observer, self.memory = before
            self.is_observed = self._observer is not None
            self.memory.forget()  # somebody may have joined meanwhile

    def note(self, words: Callable[Concatenate["Running", P], Step], *arguments: P.args, **options: P.kwargs) -> None:
        """Tells whoever listens of a step; where nobody does, the words are not made."""
        if self._observer is not None:
            self._observer.note(words(self, *arguments, **options))

    def resumed_in(self, network: Network) -> "Running":
        """The given network with the leases and the learnt rows of this one: nobody starts anew."""
        resumed = Running(network, like=self)
        for station in network.stations:
            lease = self.leases.get(station.name)
            if lease is not None:
                resumed.grant(station, lease)
        resumed.learn_all(self.bound.values())
        resumed.declined |= self.declined
        return resumed

    def _join(self, first: PortRef, second: PortRef) -> None:
        """Joins the segments at both ends of a cable: trunks where they carry the same VLAN, other ports as they are."""
        tagged = first in self.trunks, second in self.trunks
        if tagged[0] != tagged[1]:
            return
        for one in self.ingresses.get(first, ()):
            for other in self.ingresses.get(second, ()):
                if not tagged[0] or one.segment[1] == other.segment[1]:
                    self._roads.setdefault(one.segment, []).append((other.segment, other))
                    self._roads.setdefault(other.segment, []).append((one.segment, one))

    def _settle(self, station: Station, host: Host | None) -> None:
        """Notes the station's addresses, and makes it answer for its own."""
        self.hosts[station.name] = host
        self._by_address = None
        ingress = self.ingress(station)
        if host is not None and ingress is not None:
            self._add_member(Member(station.name, ingress.segment, station.mac, station=station), host.address)

    def _host(self, station: Station) -> Host | None:
        settings = self.leases.get(station.name) if station.fixed is None else station.fixed
        if settings is None or is_reserved(int(settings.address)):
            return None
        gateway = settings.router if isinstance(settings, Lease) else settings.gateway
        return Host(int(settings.address), mask_bits(settings.prefix_length), None if gateway is None else int(gateway))

    def _add_member(self, member: Member, address: int) -> None:
        self.members.setdefault(address, []).append(member)


def _compiled(switch: Switch, known: Compiled | None) -> Compiled:
    return known if known is not None and known.switch == switch else Compiled(switch, known)


def _ingresses(switch: Switch, ref: PortRef, port: Port) -> Iterator[Ingress]:
    """House rule: replies are checked in a snooped VLAN, and on every routed port of a switch that snoops at all."""
    places: tuple[int | PortName, ...] = (port.name,) if port.is_routed else port.vlans
    for place in places:
        yield Ingress(
            port=ref,
            segment=(switch.name, place),
            checks_replies=bool(switch.snooped_vlans) if port.is_routed else place in switch.snooped_vlans,
            is_trusted=port.name in switch.trusted_ports,
            is_guarded=port.name in switch.guarded_ports,
        )


def switch_mac(name: SwitchName) -> Mac:
    """A name for the MAC address of a switch; no form asks for it, so no number is made up."""
    return Mac(f"switch {name}")


def _row_key(switch: SwitchName, row: BindingRow) -> _RowKey:
    return switch, row.port, row.vlan, row.mac, int(row.address)
