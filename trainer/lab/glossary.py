"""What the trade's words mean, in a line each. A lab's hand-out explains those that its sheets use."""

from collections.abc import Collection

__all__ = ["glossary"]


def glossary(sections: Collection[str]) -> tuple[tuple[str, str], ...]:
    """Words and meanings, in the order in which a lab is worked through. sections: ids of the sheets that use them."""
    return tuple(
        (word, meaning) for word, meaning, used_in in _WORDS if not used_in or not used_in.isdisjoint(sections)
    )


_PLAN = frozenset({"subnets", "links", "stations"})
_ROUTES = frozenset({"routes"})
_DHCP = frozenset({"pools", "relays", "bindings"})
_RELAYS = frozenset({"relays"})
_PROTECTION = frozenset({"protection", "bindings"})

_WORDS: tuple[tuple[str, str, frozenset[str]], ...] = (
    ("Block", "All addresses of your lab; every network is cut out of it.", frozenset()),
    ("Prefix length, mask", "How many leading bits name the network: /20, or as a mask 255.255.240.0.", frozenset()),
    (
        "Usable address",
        "One that a device may have: not the network address (the first), not the broadcast address (the last).",
        _PLAN | _DHCP,
    ),
    ("VLAN interface", "The switch's own address in a VLAN. For the stations there it is the gateway.", _PLAN | _DHCP),
    ("Gateway", "Where a station sends what is for another network.", _PLAN | _DHCP),
    (
        "Access port",
        "A port in one VLAN, for a station. A routed port is in none: it has an address itself.",
        frozenset(),
    ),
    ("Static route", "Destination and next hop, written by hand; the longest matching prefix decides.", _ROUTES),
    ("Next hop", "The neighbour's address that a packet is handed to.", _ROUTES),
    ("Summary route", "One route for several networks. The default route, 0.0.0.0/0, is for all the rest.", _ROUTES),
    ("Routing loop", "Two switches hand a packet back and forth until it is dropped.", _ROUTES),
    ("Pool, lease", "The addresses that the DHCP server hands out; a lease is one of them for a time.", _DHCP),
    ("Relay agent", "Takes a client's broadcast and sends it on to a server in another network.", _RELAYS),
    ("giaddr", "The relay agent's address in the request; by it the server chooses the pool.", _RELAYS),
    ("Rogue server", "A DHCP server that nobody planned.", _PROTECTION),
    ("Snooping", "The switch reads DHCP messages and drops a server's where the port is not trusted.", _PROTECTION),
    ("Binding", "A row that says which MAC and address belong to a port; learnt from a lease, or static.", _PROTECTION),
    ("Source guard", "The switch drops what is sent with an address that no binding allows.", _PROTECTION),
)
