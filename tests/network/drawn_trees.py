"""Trees of switches drawn at random, and wrong routes in them."""

from dataclasses import replace

import networkx as nx
from routed_trees import chain, random_parents

from trainer.network.devices import Network

__all__ = ["HOSTS", "damaged", "drawn_tree", "graph_of"]

HOSTS = 5
"""So many networks a tree has."""


def drawn_tree(rng):
    """The parents of up to 50 switches, and the switches of the networks."""
    count = rng.randint(2, 50)
    parents = chain(count) if rng.random() < 0.1 else random_parents(rng, count)
    return parents, [rng.randrange(count) for _ in range(HOSTS)]


def graph_of(parents):
    return nx.Graph((f"s{child}", f"s{parent}") for child, parent in enumerate(parents, 1))


def damaged(rng, network: Network, graph) -> Network:
    """The same network with some routes left out, and some next hops replaced by another neighbour's address."""
    ends = {
        (switch.name, str(interface.place).removeprefix("to ")): interface.address
        for switch in network.switches
        for interface in switch.interfaces
    }
    switches = []
    for switch in network.switches:
        routes = []
        for route in switch.routes:
            luck = rng.random()
            if luck < 0.03:
                continue
            if luck < 0.06:
                neighbour = rng.choice(sorted(graph.neighbors(switch.name)))
                routes.append(replace(route, next_hop=ends[neighbour, switch.name]))
            else:
                routes.append(route)
        switches.append(replace(switch, routes=tuple(routes)))
    return replace(network, switches=tuple(switches))
