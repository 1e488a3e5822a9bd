"""Next hops and reachability on random trees, held against a graph library that knows nothing of addresses.

Some routes are left out and some point to the wrong neighbour, so that there is something to get wrong: the library
follows the next hops as arrows of a graph, the simulation sends packets.
"""

import random
from ipaddress import IPv4Address

import networkx as nx
import pytest
from drawn_trees import HOSTS, damaged, drawn_tree, graph_of
from on_request import many
from routed_trees import routed_tree
from sending import probe

from trainer.network.devices import Network
from trainer.network.packets import Delivered, Dropped, Reason
from trainer.network.topology import Running

TREES = 1000
BATCHES = 10
PAIRS = 4


def arrows_to(network: Network, number: int, home: str):
    """For one network the next hops of all switches as arrows; a missing route has none."""
    owners = {
        interface.address: switch.name
        for switch in network.switches
        for interface in switch.interfaces
        if not isinstance(interface.place, int)
    }
    arrows = nx.DiGraph()
    arrows.add_nodes_from(switch.name for switch in network.switches)
    for switch in network.switches:
        for route in switch.routes:
            if route.key.endswith(f" to {number}") and switch.name != home:
                arrows.add_edge(switch.name, owners[route.next_hop])
    return arrows


def network_address(number: int) -> IPv4Address:
    return IPv4Address("10.64.0.0") + 256 * number


@pytest.mark.parametrize("batch", many(range(BATCHES), (0, 1)))
def test_next_hops_and_ways_are_those_of_the_graph(batch):
    """RFC 1812 5.2.4: in a tree there is one way, and every switch on it sends to the next one."""
    rng = random.Random(batch)
    for _ in range(TREES // BATCHES):
        parents, homes = drawn_tree(rng)
        graph, network = graph_of(parents), routed_tree(parents, homes)
        running = Running(network)
        for _ in range(PAIRS):
            source, target = rng.sample(range(HOSTS), 2)
            way = nx.shortest_path(graph, f"s{homes[source]}", f"s{homes[target]}")
            outcome = probe(running, network.stations[source], network_address(target) + 10)
            assert outcome == Delivered(f"h{target}", (f"h{source}", *way, f"h{target}"))
            start = f"s{rng.randrange(len(parents) + 1)}"
            entry = running.tables[start].lookup(int(network_address(target)) + 10)
            towards = nx.shortest_path(graph, start, f"s{homes[target]}")[1:2]
            owners = [] if entry.next_hop is None else running.owners((start, entry.interface.place), entry.next_hop)
            assert [owner.name for owner in owners] == towards


@pytest.mark.parametrize("batch", many(range(BATCHES), (0, 1)))
def test_reachability_with_damaged_routes_is_that_of_the_graph(batch):
    """Delivered where the arrows lead home; else dropped where they end, or in circles (RFC 1812 5.3.1)."""
    rng = random.Random(TREES + batch)
    seen = set()
    for _ in range(TREES // BATCHES):
        parents, homes = drawn_tree(rng)
        graph = graph_of(parents)
        network = damaged(rng, routed_tree(parents, homes), graph)
        running = Running(network)
        for _ in range(PAIRS):
            source, target = rng.sample(range(HOSTS), 2)
            start, home = f"s{homes[source]}", f"s{homes[target]}"
            arrows = arrows_to(network, target, home)
            reached = {start, *nx.descendants(arrows, start)}
            outcome = probe(running, network.stations[source], network_address(target) + 10)
            if home in reached:
                assert isinstance(outcome, Delivered)
                assert outcome.path[1:-1] == tuple(nx.shortest_path(arrows, start, home))
                seen.add("delivered")
            else:
                assert isinstance(outcome, Dropped)
                ends = [each for each in reached if not arrows.out_degree(each)]
                assert outcome.reason is (Reason.NO_ROUTE if ends else Reason.TTL_EXPIRED)
                assert not ends or outcome.at == ends[0]
                seen.add(outcome.reason)
    assert seen == {"delivered", Reason.NO_ROUTE, Reason.TTL_EXPIRED}
