"""Configurations drawn at random, as no form would allow them."""

import random
from ipaddress import IPv4Address, IPv4Network

from trainer.network.addresses import Mac, network_at
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

__all__ = ["PORTS", "address", "network"]

VLANS = [10, 20, 30, 4094, 0, 5000]
SWITCHES = "ABCD"
PORTS = [PortName(str(number)) for number in range(1, 7)]


def address(rng: random.Random) -> IPv4Address:
    """Mostly out of a few small networks, so that devices meet; now and then anything at all."""
    if rng.random() < 0.08:
        return IPv4Address(rng.choice([0, 1, 0x7F000001, 0xE0000001, 0xFFFFFFFF, rng.getrandbits(32)]))
    return IPv4Address(
        f"172.16.{rng.choice([0, 0, 0, 0, 0, 1])}.{rng.choice([0, 1, 1, 2, 2, 3, 4, 5, 6, 128, 254, 255])}"
    )


def length(rng: random.Random) -> int:
    return rng.choice([24, 24, 24, 24, 24, 24, 30, 31, 32, 16, rng.randint(0, 32)])


def vlan(rng: random.Random) -> int:
    return rng.choice([10, 10, 10, 10, 10, 20, rng.choice(VLANS)])


def port_name(rng: random.Random) -> PortName:
    return rng.choice(PORTS)


def ports(rng: random.Random) -> tuple[Port, ...]:
    kinds = [
        *[lambda: {"vlan": vlan(rng)}] * 6,
        lambda: {"vlan": None},
        lambda: {"vlan": None, "trunk_vlans": frozenset({vlan(rng), vlan(rng)})},
    ]
    return tuple(Port(name=name, **rng.choice(kinds)()) for name in PORTS if rng.random() < 0.95)


def some(rng: random.Random, most: int, make) -> tuple:
    return tuple(make() for _ in range(rng.randint(0, most)))


def switch(rng: random.Random, name: str) -> Switch:
    return Switch(
        name=SwitchName(name),
        ports=ports(rng),
        interfaces=some(
            rng,
            6,
            lambda: Interface(
                place=rng.choice([vlan(rng), vlan(rng), port_name(rng)]),
                address=address(rng),
                prefix_length=length(rng),
            ),
        ),
        routes=some(
            rng,
            6,
            lambda: Route(
                key=f"route {rng.random()}",
                destination=rng.choice([IPv4Network("0.0.0.0/0"), network_at(address(rng), length(rng))]),
                next_hop=address(rng),
            ),
        ),
        relays=some(rng, 3, lambda: Relay(key="relay", vlan=vlan(rng), target=address(rng))),
        snooped_vlans=frozenset(some(rng, 2, lambda: vlan(rng))),
        trusted_ports=frozenset(some(rng, 3, lambda: port_name(rng))),
        guarded_ports=frozenset(some(rng, 2, lambda: port_name(rng))),
        static_rows=some(
            rng,
            3,
            lambda: BindingRow(
                port=port_name(rng),
                vlan=vlan(rng),
                mac=Mac(f"02-00-00-00-00-0{rng.randint(0, 5)}"),
                address=address(rng),
                key="row",
            ),
        ),
    )


def pool(rng: random.Random) -> Pool:
    """Most end in their own network, or no server would start."""
    first, others = address(rng), (address(rng), IPv4Address("172.16.0.200"), IPv4Address(0xFFFFFFFF))
    return Pool(
        key=f"pool {rng.random()}",
        first=first,
        last=rng.choice(others) if rng.random() < 0.2 else IPv4Address(int(first) ^ rng.choice((0, 1, 3, 7))),
        prefix_length=length(rng),
        router=rng.choice([None, address(rng)]),
        lease_seconds=3600,
    )


def network(rng: random.Random) -> Network:
    """Up to four switches, cables between any ports (rings and a cable back to the same switch too), six stations."""
    names = SWITCHES[: rng.randint(1, 4)]

    def place() -> PortRef:
        return PortRef(SwitchName(rng.choice(names)), port_name(rng))

    stations = tuple(
        Station(
            name=f"station {number}",
            mac=Mac(f"02-00-00-00-00-0{number}"),
            at=place(),
            uses_dhcp=number > 2 or rng.random() < 0.1,
            fixed=None
            if number > 2 or rng.random() < 0.05
            else FixedAddress(
                address=address(rng), prefix_length=length(rng), gateway=rng.choice([None, address(rng), address(rng)])
            ),
        )
        for number in range(6)
    )
    pools = some(
        rng,
        4,
        lambda: pool(rng),
    )
    return Network(
        switches=tuple(switch(rng, name) for name in names),
        cables=some(rng, 5, lambda: Cable(place(), place())),
        stations=stations,
        server=None if rng.random() < 0.1 else DhcpServer(station="station 0", pools=pools),
    )
