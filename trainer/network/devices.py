"""What a network is made of, as plain values. A network holds configuration only; what it learns stands in topology.Running."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from ipaddress import IPv4Address, IPv4Network
from typing import NewType

from trainer.network.addresses import Mac, mask_bits, network_at

__all__ = [
    "BindingRow",
    "Cable",
    "DhcpServer",
    "FixedAddress",
    "Interface",
    "Missing",
    "Network",
    "Part",
    "Pool",
    "Port",
    "PortName",
    "PortRef",
    "Relay",
    "Route",
    "SettingId",
    "Station",
    "Switch",
    "SwitchName",
]

SwitchName = NewType("SwitchName", str)
"""The letter of a switch, such as "A"."""
PortName = NewType("PortName", str)
"""The number of a port on its switch, such as "7"."""


class Part(Enum):
    """The part of a device that a setting belongs to."""

    # each stands once; the hash of its word would be asked for a hundred thousand times a paper
    __hash__ = object.__hash__

    VLAN = "port in VLAN"
    """Only ever missing: no port of the switch carries the VLAN."""
    VLAN_INTERFACE = "VLAN interface"
    ROUTED_PORT = "routed port"
    PORT = "port"
    ROUTE = "static route"
    RELAY = "relay agent"
    SNOOPING = "DHCP snooping"
    TRUST = "trusted port"
    GUARD = "source guard"
    BINDING = "binding row"
    POOL = "address pool"
    STATION = "station"


@dataclass(frozen=True, slots=True)
class SettingId:
    """The name of one setting that is there: device, part, which one of them, and its field."""

    device: str
    part: Part
    key: str
    field: str = ""

    def __str__(self) -> str:
        return _name_in_words(self)


@dataclass(frozen=True, slots=True)
class Missing:
    """The name of a setting that is not there and would have been needed; most faults are of this kind."""

    device: str
    part: Part
    key: str
    field: str = ""
    """What of it is missing, where the rest is there."""

    def __str__(self) -> str:
        return f"no {_name_in_words(self)}"


_FIELD_IN_WORDS = {
    "next_hop": "next hop",
    "first": "first address",
    "last": "last address",
    "mac": "MAC",
    "vlan": "VLAN",
}


def _name_in_words(setting: SettingId | Missing) -> str:
    """Such as "next hop of static route A to 20, A"."""
    field = f"{_FIELD_IN_WORDS.get(setting.field, setting.field)} of " if setting.field else ""
    device = f", {setting.device}" if setting.device != setting.key else ""
    return f"{field}{setting.part.value} {setting.key}{device}"


@dataclass(frozen=True, slots=True)
class PortRef:
    """A port and the switch it is on."""

    switch: SwitchName
    port: PortName

    def __str__(self) -> str:
        return f"{self.switch}/{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """A port that is on: an access port carries one VLAN untagged, a trunk the listed ones tagged, a routed port none."""

    name: PortName
    vlan: int | None
    """The VLAN of an access port; None for a trunk and for a routed port."""
    trunk_vlans: frozenset[int] = frozenset()
    """The VLANs of a trunk. Frames without a tag are not taken there (a rule of this lab: no VLAN is native)."""

    @property
    def is_routed(self) -> bool:
        return self.vlan is None and not self.trunk_vlans

    @property
    def vlans(self) -> tuple[int, ...]:
        """The VLANs it carries, in order; a number that no VLAN can have is refused (1 to 4094: RFC 4363 VlanId)."""
        asked = sorted(self.trunk_vlans) if self.vlan is None else [self.vlan]
        return tuple([vlan for vlan in asked if 1 <= vlan <= 4094])


@dataclass(frozen=True, slots=True, kw_only=True)
class Interface:
    """An address of a switch: on a VLAN (the VLAN interface) or on a routed port."""

    place: int | PortName
    """The VLAN number, or the name of the routed port."""
    address: IPv4Address
    prefix_length: int

    @property
    def network(self) -> IPv4Network:
        return network_at(self.address, self.prefix_length)

    @property
    def part(self) -> Part:
        return Part.VLAN_INTERFACE if isinstance(self.place, int) else Part.ROUTED_PORT


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A static route: destination prefix and next hop (RFC 1812 7.4, RFC 8349)."""

    key: str
    """What the route is called where it was written, so that a drop can name it."""
    destination: IPv4Network
    next_hop: IPv4Address


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay:
    """A relay agent on one VLAN and the server address it forwards to (RFC 1542 4.1.1: off unless configured)."""

    key: str
    vlan: int
    target: IPv4Address


@dataclass(frozen=True, slots=True, kw_only=True)
class BindingRow:
    """A row of the binding table (RFC 7513 5; VLAN and MAC columns: common practice, no source)."""

    port: PortName
    vlan: int
    mac: Mac
    address: IPv4Address
    key: str = field(default="", compare=False)
    """What a static row is called where it was written, so that a drop can name it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """A layer-3 switch and all that is configured on it."""

    name: SwitchName
    ports: tuple[Port, ...] = ()
    interfaces: tuple[Interface, ...] = ()
    routes: tuple[Route, ...] = ()
    discards: tuple[IPv4Network, ...] = ()
    """What the switch throws away where no longer prefix takes it, as it should with a summary route (RFC 4632 5.1)."""
    relays: tuple[Relay, ...] = ()
    snooped_vlans: frozenset[int] = frozenset()
    trusted_ports: frozenset[PortName] = frozenset()
    guarded_ports: frozenset[PortName] = frozenset()
    static_rows: tuple[BindingRow, ...] = ()


@dataclass(frozen=True, slots=True)
class Cable:
    """Joins two ports of switches."""

    first: PortRef
    second: PortRef


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedAddress:
    """What is typed into a station that does not ask for a lease."""

    address: IPv4Address
    prefix_length: int
    gateway: IPv4Address | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A host on one port of a switch."""

    name: str
    mac: Mac
    at: PortRef
    uses_dhcp: bool
    fixed: FixedAddress | None = None
    """None for a station that asks for a lease, and for one whose address is not set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DhcpOptions:
    """The options of a lease that clients are told and that no packet's way depends on (RFC 2132); None: not told."""

    dns_server: IPv4Address | None = None
    """The domain name server option (6, RFC 2132 3.8)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """The addresses a server hands out in one network, and what it tells with them (RFC 2131, RFC 2132)."""

    key: str
    first: IPv4Address
    last: IPv4Address
    prefix_length: int
    """The mask told to the client (option 1); with the first address it also says which network the pool serves."""
    router: IPv4Address | None
    """The router option (3)."""
    lease_seconds: int
    """1 to 2**32 - 1; the highest value means infinity (RFC 2131 3.3)."""
    options: DhcpOptions = DhcpOptions()

    @property
    def network(self) -> IPv4Network:
        return network_at(self.first, self.prefix_length)

    def serves(self, address: IPv4Address) -> bool:
        """Whether its network holds the address."""
        return not (int(self.first) ^ int(address)) & mask_bits(self.prefix_length)

    @property
    def lowest(self) -> IPv4Address:
        """A server turns a range round whose last address comes before its first (tests/kernel compares it)."""
        return min(self.first, self.last)

    @property
    def highest(self) -> IPv4Address:
        return max(self.first, self.last)

    @property
    def is_refused(self) -> bool:
        """Whether it goes past its own network. A server does not start with such a pool (tests/kernel compares it)."""
        return bool((int(self.first) ^ int(self.last)) & mask_bits(self.prefix_length))


@dataclass(frozen=True, slots=True, kw_only=True)
class DhcpServer:
    """The one DHCP server: a station, and the pools on it."""

    station: str
    pools: tuple[Pool, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Switches, cables, stations and the DHCP server: everything that decides how packets fare.

    No two devices have one name, and the server is one of the stations. All else may be set to anything: what is wrong
    shows in what becomes of packets.
    """

    switches: tuple[Switch, ...]
    cables: tuple[Cable, ...] = ()
    stations: tuple[Station, ...] = ()
    """In the order in which they start."""
    server: DhcpServer | None = field(default=None)

    def station(self, name: str) -> Station:
        return next(station for station in self.stations if station.name == name)

    def with_visitors(self, visitors: Sequence[tuple[Station, int]]) -> "Network":
        """The same network with more stations, each on an unguarded access port of its own in the VLAN beside it."""
        added: dict[SwitchName, list[Port]] = {}
        for visitor, vlan in visitors:
            added.setdefault(visitor.at.switch, []).append(Port(name=visitor.at.port, vlan=vlan))
        switches = tuple(
            replace(switch, ports=switch.ports + tuple(added.get(switch.name, ()))) for switch in self.switches
        )
        return replace(self, switches=switches, stations=self.stations + tuple(visitor for visitor, _ in visitors))

    def without_snooping(self) -> "Network":
        return replace(self, switches=tuple(replace(switch, snooped_vlans=frozenset()) for switch in self.switches))

    def without_guard(self) -> "Network":
        return replace(self, switches=tuple(replace(switch, guarded_ports=frozenset()) for switch in self.switches))

    def without_names_of_rows(self) -> "Network":
        """The same, the rows of its tables called nothing: so two networks that are set alike are equal, whoever wrote them."""
        switches = tuple(
            replace(
                switch,
                routes=tuple(replace(each, key="") for each in switch.routes),
                relays=tuple(replace(each, key="") for each in switch.relays),
            )
            for switch in self.switches
        )
        server = self.server
        if server is not None:
            server = replace(server, pools=tuple(replace(each, key="") for each in server.pools))
        return replace(self, switches=switches, server=server)
