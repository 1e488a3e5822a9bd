"""Whose pings a change of some settings cannot touch fares as before.

TRAINER_NIGHTLY=1 changes 2,000 networks, else 60.
"""

import os
import random
from dataclasses import fields, replace
from ipaddress import IPv4Address
from itertools import permutations

import pytest
from drawn_trees import damaged, drawn_tree, graph_of
from random_configurations import PORTS, address, network, switch
from routed_trees import routed_tree
from small_networks import fixed, route, two_switches, with_station, with_switch

from trainer.network.changes import changes
from trainer.network.devices import BindingRow, Network, Switch
from trainer.network.dhcp import start
from trainer.network.packets import Dropped, Outcome, Reason
from trainer.network.topology import Running
from trainer.network.trials import forge, ping, rogue_offer

COUNT = 2000 if os.environ.get("TRAINER_NIGHTLY") else 60


def with_another_setting(rng: random.Random, made: Network) -> Network:
    """The network with one setting of a device drawn anew, on whatever switch, station or server."""
    what = rng.choice(["switch"] * 6 + ["station", "station", "server"])
    other = network(rng)
    if what == "server":
        return replace(
            made,
            server=None
            if made.server is None or other.server is None
            else replace(other.server, station=made.server.station),
        )
    place = rng.randrange(len(made.stations if what == "station" else made.switches))
    if what == "station":
        before = made.stations[place]
        fixed = next((each.fixed for each in other.stations if each.fixed is not None), None)
        changed = replace(before, fixed=rng.choice([fixed, None]))
        return replace(made, stations=(*made.stations[:place], changed, *made.stations[place + 1 :]))
    return replace(made, switches=_with_one(rng, made, place))


def _with_one(rng: random.Random, made: Network, place: int) -> tuple[Switch, ...]:
    before = made.switches[place]
    setting = rng.choice([each.name for each in fields(Switch) if each.name != "name"])
    value = getattr(switch(rng, before.name), setting)
    if isinstance(value, tuple) and rng.random() < 0.5:  # one more, or one less
        known = getattr(before, setting)
        value = (*known, *value[:1]) if setting != "ports" and rng.random() < 0.5 else known[1:]
    if setting == "static_rows" and rng.random() < 0.7:
        station = rng.choice(made.stations)
        row = BindingRow(port=rng.choice(PORTS), vlan=10, mac=station.mac, address=address(rng), key="one more")
        value = (*before.static_rows, row)
    return (*made.switches[:place], replace(before, **{setting: value}), *made.switches[place + 1 :])


def untouched_pairs(made: Network, other: Network) -> int:
    """How many pairs are said to fare as before; each of them does."""
    before, _ = start(made)
    after, _ = start(other, before)
    assert everything(after) == everything(start(other)[0]), "what is taken over is what it would be"
    changed = changes(before, after)
    count = 0
    for source, target in permutations(after.stations if changed is not None else (), 2):
        assert changed is not None
        if not {source, target} & changed.pinging:
            assert pinged(before, source, target) == pinged(after, source, target), (source, target)
            count += 1
        if source not in changed.sending and target not in changed.placed | changed.reached:
            assert forgeries(before, source, target) == forgeries(after, source, target), (source, target)
        if (
            changed.offering is not None
            and source not in changed.placed | changed.offering
            and target not in changed.placed
        ):
            assert false_offer(before, source, target) == false_offer(after, source, target), (source, target)
    return count


def pinged(running: Running, source: str, target: str) -> object:
    found = ping(running, running.stations[source], running.stations[target])
    return fate(found.request), fate(found.reply)


def forgeries(running: Running, source: str, target: str) -> list[object]:
    """What becomes of packets to another station with a forged source."""
    sender, other = running.stations[source], running.stations[target]
    forged = [
        forge(running, sender, other, mac=other.mac),
        forge(running, sender, other, address=IPv4Address("172.16.0.2")),
    ]
    return [fate(each) for each in forged]


def false_offer(running: Running, source: str, target: str) -> object:
    return fate(rogue_offer(running, running.stations[source], running.stations[target]))


def everything(running: Running) -> tuple[object, ...]:
    return running.leases, running.rows, running.ingresses, running.own_addresses, running.members


def fate(outcome: Outcome | None) -> object:
    """All of it but what is to blame."""
    return (outcome.at, outcome.reason, outcome.path) if isinstance(outcome, Dropped) else outcome


@pytest.mark.parametrize("batch", range(4))
def test_in_any_configuration_who_is_not_touched_fares_as_before(batch: int):
    found = 0
    for seed in range(batch, COUNT, 4):
        rng = random.Random(seed)
        made = network(rng)
        for _ in range(4):
            other = with_another_setting(rng, made)
            found += untouched_pairs(made, other)
            made = other
    assert found > COUNT // 4, "some are not touched"


def test_in_a_tree_who_is_not_touched_by_other_routes_fares_as_before():
    found = 0
    for seed in range(COUNT // 6):
        rng = random.Random(seed)
        parents, homes = drawn_tree(rng)
        made = routed_tree(parents, homes)
        found += untouched_pairs(made, damaged(rng, made, graph_of(parents)))
    assert found > COUNT // 6


def test_a_route_touches_those_it_leads_to():
    made = two_switches()
    changed = changes(start(made)[0], start(with_switch(made, "A", routes=()))[0])
    assert changed is not None
    assert "far" in changed.reached
    assert not {"server", "near"} & changed.pinging


def test_who_stands_where_a_route_leads_touches_those_behind_it():
    """The routing tables are as before, and so are both ends of the ping; the next hop is a station now."""
    made = with_switch(two_switches(), "A", routes=(route("A to 20", "172.16.20.0/24", "172.16.10.77"),))
    other = with_station(made, "near", fixed=fixed("172.16.10.77/24", "172.16.10.1"))
    before, after = start(made)[0], start(other)[0]
    reasons = [ping(each, each.stations["server"], each.stations["far"]).drop.reason for each in (before, after)]
    assert reasons == [Reason.NO_ANSWER, Reason.NEXT_HOP_IS_A_HOST]
    changed = changes(before, after)
    assert changed is not None
    assert "far" in changed.reached


def test_another_gateway_of_the_server_touches_what_it_sends_and_nobody_who_sends_to_it():
    made = two_switches()
    other = with_station(made, "server", fixed=fixed("172.16.10.10/24", "172.16.10.99"))
    changed = changes(start(made)[0], start(other)[0])
    assert changed is not None
    assert "server" in changed.sending
    assert "server" not in changed.placed | changed.reached
