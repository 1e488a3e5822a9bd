"""Everything that can be tried on a network, for tests in which it only matters that each trial ends in an outcome."""

from collections.abc import Iterator
from ipaddress import IPv4Address
from itertools import pairwise

from sending import probe

from trainer.network.devices import Network
from trainer.network.dhcp import renew, start
from trainer.network.packets import Delivered, Dropped
from trainer.network.topology import Lease
from trainer.network.trace import render
from trainer.network.trials import (
    forge,
    heard,
    ping,
    rogue_offer,
    traced,
    without_guard,
    without_snooping,
)

__all__ = ["drops"]


def drops(network: Network, addresses: tuple[IPv4Address, ...] = ()) -> Iterator[Dropped]:
    """Switches the network on, tries everything, and gives what was dropped. addresses: to be probed from everywhere."""
    running, leases = start(network)
    assert all(isinstance(each, Lease | Dropped) for each in leases.values())
    yield from (each for each in leases.values() if isinstance(each, Dropped))
    for each in (running, without_snooping(running), without_guard(running)):
        for station, other in pairwise((*each.network.stations, *each.network.stations[:1])):
            outcomes = [
                rogue_offer(each, station, other),
                forge(each, station, other, mac=other.mac),
                *(probe(each, station, address) for address in addresses),
            ]
            assert all(isinstance(outcome, Delivered | Dropped) for outcome in outcomes)
    for source in network.stations:
        renewal = renew(running, source).drop
        if renewal is not None:
            yield renewal
        for target in network.stations:
            if source is not target:
                result = ping(running, source, target)
                heard(running, source, result)
                if result.drop is not None:
                    yield result.drop
    for source, target in pairwise(network.stations):
        with_steps = traced(ping, running, source, target)
        assert with_steps.result == ping(running, source, target)
        assert all(line.endswith(".") for line in render(with_steps.steps))
