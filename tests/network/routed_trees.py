"""Routed networks of any size, made cheaply: switches joined as a tree, VLANs with one host each, routes everywhere."""

import random
from collections.abc import Sequence
from ipaddress import IPv4Address, IPv4Network

from trainer.network.addresses import Mac
from trainer.network.devices import (
    Cable,
    FixedAddress,
    Interface,
    Network,
    Port,
    PortName,
    PortRef,
    Route,
    Station,
    Switch,
    SwitchName,
)

__all__ = ["chain", "random_parents", "routed_tree"]


def chain(count: int) -> list[int]:
    """The parent of every switch but the first, so that they stand in a row."""
    return list(range(count - 1))


def random_parents(rng: random.Random, count: int) -> list[int]:
    """The parent of every switch but the first: any switch before it."""
    return [rng.randrange(number) for number in range(1, count)]


def routed_tree(parents: Sequence[int], networks: Sequence[int]) -> Network:
    """One switch more than there are parents; networks: for each VLAN the number of its switch.

    VLAN network k is 10.(64 + k / 256).(k mod 256).0/24 with the switch at .1 and host k at .10; link k between switch k
    and its parent is 172.16.(k / 64).(4 times k mod 64)/30 with the parent at the lower end. Every switch has a static route
    to every network that is not its own.
    """
    count = len(parents) + 1
    names = [SwitchName(f"s{number}") for number in range(count)]
    ports: list[list[Port]] = [[] for _ in names]
    interfaces: list[list[Interface]] = [[] for _ in names]
    neighbours: list[dict[int, IPv4Address]] = [{} for _ in names]
    cables = []
    for child, parent in enumerate(parents, 1):
        base = int(IPv4Address("172.16.0.0")) + 4 * child
        ends = {parent: IPv4Address(base + 1), child: IPv4Address(base + 2)}
        for here, there in ((parent, child), (child, parent)):
            port = PortName(f"to {names[there]}")
            ports[here].append(Port(name=port, vlan=None))
            interfaces[here].append(Interface(place=port, address=ends[here], prefix_length=30))
            neighbours[here][there] = ends[there]
        cables.append(
            Cable(PortRef(names[parent], PortName(f"to s{child}")), PortRef(names[child], PortName(f"to s{parent}")))
        )
    stations = []
    for number, switch in enumerate(networks):
        base = int(IPv4Address("10.64.0.0")) + 256 * number
        vlan, port = number + 2, PortName(str(number))
        ports[switch].append(Port(name=port, vlan=vlan))
        interfaces[switch].append(Interface(place=vlan, address=IPv4Address(base + 1), prefix_length=24))
        stations.append(
            Station(
                name=f"h{number}",
                mac=Mac(f"02-00-00-00-{number // 256:02X}-{number % 256:02X}"),
                at=PortRef(names[switch], port),
                uses_dhcp=False,
                fixed=FixedAddress(address=IPv4Address(base + 10), prefix_length=24, gateway=IPv4Address(base + 1)),
            )
        )
    ways = [_first_steps(neighbours, start) for start in range(count)]
    switches = tuple(
        Switch(
            name=name,
            ports=tuple(ports[here]),
            interfaces=tuple(interfaces[here]),
            routes=tuple(
                Route(
                    key=f"{name} to {number}",
                    destination=IPv4Network((int(IPv4Address("10.64.0.0")) + 256 * number, 24)),
                    next_hop=neighbours[here][ways[here][switch]],
                )
                for number, switch in enumerate(networks)
                if switch != here
            ),
        )
        for here, name in enumerate(names)
    )
    return Network(switches=switches, cables=tuple(cables), stations=tuple(stations))


def _first_steps(neighbours: Sequence[dict[int, IPv4Address]], start: int) -> dict[int, int]:
    """For every other switch the neighbour of start that lies towards it."""
    steps = {neighbour: neighbour for neighbour in neighbours[start]}
    waiting = list(steps)
    for here in waiting:
        for there in neighbours[here]:
            if there != start and there not in steps:
                steps[there] = steps[here]
                waiting.append(there)
    return steps
