"""Which way a switch sends a packet: longest prefix first (RFC 1812 5.2.4.3). Plain numbers inside, values outside."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from ipaddress import IPv4Address

from trainer.network.addresses import is_no_host, mask_bits
from trainer.network.devices import Interface, Route, Switch

__all__ = ["Entry", "RoutingTable", "build_table", "usable_interfaces"]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the routing table: how to reach a prefix through a connected interface."""

    interface: Interface
    next_hop: int | None
    """None for a connected network; else the neighbour's address on the interface's network."""
    route: Route | None = None


class RoutingTable:
    """Connected networks and the static routes that may be used; one dict for each prefix length."""

    def __init__(self, entries: Iterable[tuple[int, int, Entry]], refused: tuple[Route, ...]) -> None:
        """entries: (network address, prefix length, entry); of two for one prefix the first is kept."""
        by_length: dict[int, dict[int, Entry]] = {}
        for network, length, entry in entries:
            by_length.setdefault(length, {}).setdefault(network, entry)
        self._levels: list[tuple[int, Mapping[int, Entry]]] = [
            (mask_bits(length), by_length[length]) for length in sorted(by_length, reverse=True)
        ]
        self.refused = refused
        """Routes that cannot be used: the next hop is in no connected network, is no host there, or is the switch itself."""

    def lookup(self, destination: int) -> Entry | None:
        """The entry with the longest matching prefix (RFC 1812 5.2.4.3 (2)); None where nothing matches, not even a default."""
        for mask, entries in self._levels:
            entry = entries.get(destination & mask)
            if entry is not None:
                return entry
        return None

    def refused_for(self, destination: IPv4Address) -> Route | None:
        """The refused route with the longest prefix that would have matched, to say what kept the packet from going on."""
        matching = [route for route in self.refused if destination in route.destination]
        return max(matching, key=lambda route: route.destination.prefixlen, default=None)


def usable_interfaces(switch: Switch) -> tuple[Interface, ...]:
    """The interfaces that are up, in the order configured.

    A VLAN interface is up while a port of its VLAN is there (common practice, no source), a routed port's while the
    port is routed. Of two whose networks overlap the later one is dead (a rule of this lab; a network or broadcast
    address on an interface is refused as RFC 1812 10.2.2 says).
    """
    vlans = {port.vlan for port in switch.ports if port.vlan is not None}
    routed = {port.name for port in switch.ports if port.is_routed}
    up: list[Interface] = []
    for interface in switch.interfaces:
        if interface.place not in (vlans if isinstance(interface.place, int) else routed):
            continue
        if is_no_host(int(interface.address), mask_bits(interface.prefix_length)):
            continue
        if any(interface.network.overlaps(other.network) for other in up):
            continue
        up.append(interface)
    return tuple(up)


def build_table(switch: Switch) -> RoutingTable:
    """The switch's routing table. A connected network wins over a static route of the same length."""
    interfaces = usable_interfaces(switch)
    own = {int(interface.address) for interface in interfaces}
    entries = [
        (int(interface.network.network_address), interface.prefix_length, Entry(interface, None))
        for interface in interfaces
    ]
    refused = []
    for route in switch.routes:
        next_hop = int(route.next_hop)
        through = next((up for up in interfaces if route.next_hop in up.network), None)
        if through is None or next_hop in own or is_no_host(next_hop, mask_bits(through.prefix_length)):
            refused.append(route)
        else:
            destination = route.destination
            entries.append(
                (
                    int(destination.network_address),
                    destination.prefixlen,
                    Entry(through, next_hop, route),
                )
            )
    return RoutingTable(entries, tuple(refused))
