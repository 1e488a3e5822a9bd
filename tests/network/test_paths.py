"""What the network remembers (paths, next hops, what became of packets) says what packets that go step by step say.

TRAINER_NIGHTLY=1 compares 2,000 networks, else 40.
"""

import os
import random
from ipaddress import IPv4Address
from itertools import permutations

import pytest
from drawn_trees import damaged, drawn_tree, graph_of
from every_trial import drops
from random_configurations import address, network
from routed_trees import chain, routed_tree
from sending import probe
from step_by_step import nothing_remembered

from trainer.network.devices import Network
from trainer.network.dhcp import renew, start
from trainer.network.packets import Delivered, Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trials import forge, heard, ping, rogue_offer, without_guard, without_snooping

COUNT = 2000 if os.environ.get("TRAINER_NIGHTLY") else 40


def everything(made: Network, addresses: list[IPv4Address]) -> list[object]:
    """What becomes of all that can be tried, twice, paths and causes included."""
    running, leases = start(made)
    seen: list[object] = [leases, running.rows, running.declined]
    for each in (running, without_snooping(running), without_guard(running)):
        for source, target in 2 * tuple(permutations(made.stations, 2)):
            pinged = ping(each, source, target)
            seen += [pinged, heard(each, source, pinged), rogue_offer(each, source, target)]
            seen += [forge(each, source, target, mac=target.mac), forge(each, source, target, address=addresses[0])]
        seen += [probe(each, source, to) for source in made.stations for to in addresses]
        seen += [renew(each, station) for station in made.stations]
    return seen


def compared(made: Network, addresses: list[IPv4Address]) -> list[object]:
    remembered = everything(made, addresses)
    with nothing_remembered():
        assert everything(made, addresses) == remembered
    return remembered


@pytest.mark.parametrize("batch", range(10))
def test_any_configuration_fares_as_it_does_step_by_step(batch: int):
    for seed in range(batch, COUNT, 10):
        rng = random.Random(seed)
        compared(network(rng), [address(rng) for _ in range(3)])


@pytest.mark.parametrize("batch", range(4))
def test_trees_with_wrong_routes_fare_as_they_do_step_by_step(batch: int):
    for seed in range(batch, COUNT // 10, 4):
        rng = random.Random(seed)
        parents, homes = drawn_tree(rng)
        made = damaged(rng, routed_tree(parents, homes), graph_of(parents))
        compared(made, [IPv4Address("10.64.0.99"), IPv4Address("198.51.100.1")])


@pytest.mark.parametrize("switches", [63, 64, 65, 66, 70])
def test_time_to_live_is_counted_from_the_first_switch_of_each_packet(switches: int):
    """RFC 1812 5.3.1: 64 switches may be passed but the last one; whoever starts nearer gets through on the same way."""
    made = routed_tree(chain(switches), [0, 1, 10, switches - 1])
    running = Running(made)
    far, near = ping(running, made.stations[0], made.stations[3]), ping(running, made.stations[2], made.stations[3])
    assert isinstance(near.request, Delivered)
    assert isinstance(far.request, Delivered) == (switches < 64)
    if isinstance(far.request, Dropped):
        assert (far.request.reason, far.request.at) == (Reason.TTL_EXPIRED, "s63")
        assert len(far.request.path) == 65
    compared(made, [IPv4Address("10.64.3.99")])


def test_the_compared_networks_are_not_all_dead():
    """Else nothing would be compared: leases are granted, packets arrive, guard and loops stop some."""
    leases, reasons = 0, set()
    for seed in range(40):
        made = network(random.Random(seed))
        leases += sum(isinstance(each, Lease) for each in start(made)[1].values())
        reasons |= {drop.reason for drop in drops(made)}
    assert leases > 2
    assert {Reason.TTL_EXPIRED, Reason.SOURCE_NOT_BOUND, Reason.NO_ROUTE, Reason.DUPLICATE_ADDRESS} & reasons
