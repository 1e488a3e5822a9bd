"""Which way a switch sends a packet: longest prefix first (RFC 1812 5.2.4.3). Plain numbers inside, values outside."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.network.addresses import is_no_host, is_reserved, mask_bits
from trainer.network.devices import Interface, Missing, Part, Route, SettingId, Switch

__all__ = ["Entry", "RefusedInterface", "RoutingTable", "build_table"]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the routing table: how to reach a prefix through a connected interface."""

    interface: Interface
    next_hop: int | None
    """None for a connected network; else the neighbour's address on the interface's network."""
    because: SettingId
    """The setting that makes it lead where it does."""
    route: Route | None = None


@dataclass(frozen=True, slots=True)
class RefusedInterface:
    """An interface that is down, and what keeps it down."""

    interface: Interface
    because: SettingId | Missing


class RoutingTable:
    """Connected networks and the static routes that may be used; one dict for each prefix length."""

    def __init__(
        self,
        entries: Iterable[tuple[int, int, Entry | None]],
        refused: tuple[Route, ...],
        interfaces: tuple[Interface, ...],
        refused_interfaces: tuple[RefusedInterface, ...],
    ) -> None:
        """entries: (network address, prefix length, entry, or None for what is thrown away); of two for one prefix the first
        is kept.
        """
        by_length: dict[int, dict[int, Entry | None]] = {}
        for network, length, entry in entries:
            by_length.setdefault(length, {}).setdefault(network, entry)
        self._levels: list[tuple[int, Mapping[int, Entry | None]]] = [
            (mask_bits(length), by_length[length]) for length in sorted(by_length, reverse=True)
        ]
        self.next_hops = frozenset(
            entry.next_hop
            for level in by_length.values()
            for entry in level.values()
            if entry is not None and entry.next_hop is not None
        )
        """The addresses that packets are handed to."""
        self.refused = refused
        """Routes that cannot be used: the next hop is in no connected network, is no host there, or is the switch itself."""
        self.interfaces = interfaces
        """Those that are up."""
        self.refused_interfaces = refused_interfaces

    def lookup(self, destination: int) -> Entry | None:
        """The entry with the longest matching prefix (RFC 1812 5.2.4.3 (2)); None where nothing matches, not even a default, and
        where a route to nowhere does.
        """
        for mask, entries in self._levels:
            network = destination & mask
            if network in entries:
                return entries[network]
        return None

    def refused_for(self, destination: int) -> Route | None:
        """The refused route with the longest prefix that would have matched, to say what kept the packet from going on."""
        matching = [route for route in self.refused if _leads_to(route, destination)]
        return max(matching, key=lambda route: route.destination.prefixlen, default=None)


def _leads_to(route: Route, destination: int) -> bool:
    prefix = route.destination
    return not (int(prefix.network_address) ^ destination) & mask_bits(prefix.prefixlen)


def build_table(switch: Switch) -> RoutingTable:
    """The switch's routing table. A connected network wins over a static route of the same length."""
    interfaces, refused_interfaces = _sorted_out(switch)
    own = {int(interface.address) for interface in interfaces}
    entries: list[tuple[int, int, Entry | None]] = []
    connected = []
    for interface in interfaces:
        mask = mask_bits(interface.prefix_length)
        network = int(interface.address) & mask
        entries.append(
            (network, interface.prefix_length, Entry(interface, None, _setting(switch, interface, "network")))
        )
        connected.append((network, mask, interface))
    refused = []
    for route in switch.routes:
        next_hop = int(route.next_hop)
        through = next(((up, mask) for network, mask, up in connected if next_hop & mask == network), None)
        if through is None or next_hop in own or is_no_host(next_hop, through[1]) or is_reserved(next_hop):
            refused.append(route)
        else:
            destination = route.destination
            entry = Entry(through[0], next_hop, SettingId(switch.name, Part.ROUTE, route.key, "next_hop"), route)
            entries.append((int(destination.network_address), destination.prefixlen, entry))
    entries += [(int(each.network_address), each.prefixlen, None) for each in switch.discards]
    return RoutingTable(entries, tuple(refused), interfaces, refused_interfaces)


def _sorted_out(switch: Switch) -> tuple[tuple[Interface, ...], tuple[RefusedInterface, ...]]:
    """The interfaces that are up, in the order configured, and the others with what keeps each of them down.

    A VLAN interface is up while a port carries its VLAN (common practice, no source), a routed port's while the port
    is routed. A network or broadcast address and a reserved one are refused (RFC 1812 10.2.2, RFC 1122 3.2.1.3). Of
    two whose networks overlap the later one is dead (a rule of this lab).
    """
    carried = {vlan for port in switch.ports for vlan in port.vlans}
    routed = {port.name for port in switch.ports if port.is_routed}
    up: list[Interface] = []
    spans: list[tuple[int, int]] = []
    refused = []
    for interface in switch.interfaces:
        address, mask = int(interface.address), mask_bits(interface.prefix_length)
        first, last = address & mask, address | mask ^ 0xFFFFFFFF
        overlapped = next((other for other, span in enumerate(spans) if first <= span[1] and span[0] <= last), None)
        if interface.place not in (carried if isinstance(interface.place, int) else routed):
            refused.append(RefusedInterface(interface, _why_down(switch, interface)))
        elif is_no_host(address, mask) or is_reserved(address):
            refused.append(RefusedInterface(interface, _setting(switch, interface, "address")))
        elif overlapped is not None:
            wider = min(up[overlapped], interface, key=lambda each: (each.prefix_length, each is not interface))
            refused.append(RefusedInterface(interface, _setting(switch, wider, "network")))
        else:
            up.append(interface)
            spans.append((first, last))
    return tuple(up), tuple(refused)


def _why_down(switch: Switch, interface: Interface) -> SettingId | Missing:
    place = str(interface.place)
    if isinstance(interface.place, int):
        return Missing(switch.name, Part.VLAN, place)
    if any(port.name == interface.place for port in switch.ports):
        return SettingId(switch.name, Part.PORT, place)
    return Missing(switch.name, Part.PORT, place)


def _setting(switch: Switch, interface: Interface, field: str) -> SettingId:
    return SettingId(switch.name, interface.part, str(interface.place), field)
