"""A network made by hand, small enough to be seen at a glance and large enough for everything to go wrong.

    server  A/1 -+                         +- B/1  far
    near    A/2 -+- VLAN 10 [A] 24 == 24 [B] VLAN 20 -+- B/2  client
    home    A/3 -+                         +- B/3  late

server, near and far have fixed addresses; home, client and late ask for a lease, in this order.
"""

from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network

from trainer.network.addresses import Mac
from trainer.network.devices import (
    BindingRow,
    Cable,
    DhcpServer,
    FixedAddress,
    Interface,
    Network,
    Pool,
    Port,
    PortName,
    PortRef,
    Relay,
    Route,
    Station,
    Switch,
    SwitchName,
)

LEASE_SECONDS = 21600


def at(text: str) -> PortRef:
    """The port that is written like B/7."""
    switch, _, port = text.partition("/")
    return PortRef(SwitchName(switch), PortName(port))


def port(name: int | str, vlan: int | None) -> Port:
    return Port(name=PortName(str(name)), vlan=vlan)


def interface(place: int | str, text: str) -> Interface:
    address, _, length = text.partition("/")
    where = place if isinstance(place, int) else PortName(place)
    return Interface(place=where, address=IPv4Address(address), prefix_length=int(length))


def route(key: str, destination: str, next_hop: str) -> Route:
    return Route(key=key, destination=IPv4Network(destination), next_hop=IPv4Address(next_hop))


def relay(vlan: int, target: str, key: str = "") -> Relay:
    return Relay(key=key or f"relay {vlan}", vlan=vlan, target=IPv4Address(target))


def pool(key: str, first: str, last: str, *, router: str | None = None, length: int = 24) -> Pool:
    return Pool(
        key=key,
        first=IPv4Address(first),
        last=IPv4Address(last),
        prefix_length=length,
        router=None if router is None else IPv4Address(router),
        lease_seconds=LEASE_SECONDS,
    )


def fixed(text: str, gateway: str | None) -> FixedAddress:
    address, _, length = text.partition("/")
    return FixedAddress(
        address=IPv4Address(address),
        prefix_length=int(length),
        gateway=None if gateway is None else IPv4Address(gateway),
    )


def station(name: str, number: int, place: str, address: FixedAddress | None = None) -> Station:
    """number: the last octet of its MAC address, of the documentation block (RFC 9542 2.1.4)."""
    return Station(
        name=name, mac=Mac(f"00-00-5E-00-53-{number:02X}"), at=at(place), uses_dhcp=address is None, fixed=address
    )


def row(name: str, network: Network, address: str) -> BindingRow:
    """The static row that belongs to a station of that network."""
    plugged = network.station(name)
    switch = switch_of(network, plugged.at.switch)
    vlan = next(each.vlan for each in switch.ports if each.name == plugged.at.port)
    assert vlan is not None
    return BindingRow(port=plugged.at.port, vlan=vlan, mac=plugged.mac, address=IPv4Address(address))


def two_switches() -> Network:
    """The network above; everything works, nothing is protected."""
    return Network(
        switches=(
            Switch(
                name=SwitchName("A"),
                ports=(port(1, 10), port(2, 10), port(3, 10), port(24, None)),
                interfaces=(interface(10, "172.16.10.1/24"), interface("24", "172.16.0.1/30")),
                routes=(route("A to 20", "172.16.20.0/24", "172.16.0.2"),),
            ),
            Switch(
                name=SwitchName("B"),
                ports=(port(1, 20), port(2, 20), port(3, 20), port(24, None)),
                interfaces=(interface(20, "172.16.20.1/24"), interface("24", "172.16.0.2/30")),
                routes=(route("B to 10", "172.16.10.0/24", "172.16.0.1"),),
                relays=(relay(20, "172.16.10.10"),),
            ),
        ),
        cables=(Cable(at("A/24"), at("B/24")),),
        stations=(
            station("server", 0x01, "A/1", fixed("172.16.10.10/24", "172.16.10.1")),
            station("near", 0x02, "A/2", fixed("172.16.10.21/24", "172.16.10.1")),
            station("far", 0x03, "B/1", fixed("172.16.20.21/24", "172.16.20.1")),
            station("home", 0x04, "A/3"),
            station("client", 0x05, "B/2"),
            station("late", 0x06, "B/3"),
        ),
        server=DhcpServer(
            station="server",
            pools=(
                pool("10", "172.16.10.100", "172.16.10.199", router="172.16.10.1"),
                pool("20", "172.16.20.100", "172.16.20.199", router="172.16.20.1"),
            ),
        ),
    )


def switch_of(network: Network, name: str) -> Switch:
    return next(each for each in network.switches if each.name == name)


def with_switch(network: Network, name: str, **changes: object) -> Network:
    """The same network with other settings on one switch."""
    return replace(
        network, switches=tuple(replace(each, **changes) if each.name == name else each for each in network.switches)
    )


def with_station(network: Network, name: str, **changes: object) -> Network:
    """The same network with other settings on one station."""
    return replace(
        network, stations=tuple(replace(each, **changes) if each.name == name else each for each in network.stations)
    )


def with_pools(network: Network, *pools: Pool) -> Network:
    """The same network with other pools on its server."""
    assert network.server is not None
    return replace(network, server=replace(network.server, pools=pools))


def protected() -> Network:
    """The same network with snooping on both switches and source guard on every station's port but the server's.

    Trusted are the ports on which the server's messages come in; near and far have static rows.
    """
    network = two_switches()
    network = with_switch(
        network,
        "A",
        snooped_vlans=frozenset({10}),
        trusted_ports=frozenset({PortName("1")}),
        guarded_ports=frozenset({PortName("2"), PortName("3")}),
        static_rows=(row("near", network, "172.16.10.21"),),
    )
    return with_switch(
        network,
        "B",
        snooped_vlans=frozenset({20}),
        trusted_ports=frozenset({PortName("24")}),
        guarded_ports=frozenset({PortName("1"), PortName("2"), PortName("3")}),
        static_rows=(row("far", network, "172.16.20.21"),),
    )
