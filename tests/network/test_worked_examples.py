"""Worked examples from the standards and from two open textbooks, run through our own arithmetic and our own routing.

The source of each stands in tests/cases/facts/worked_examples.csv, in the columns source and section. The textbooks
are Computer Networks: A Systems Approach (Peterson, Davie; CC BY 4.0) and Computer Networking: Principles, Protocols
and Practice (Bonaventure; CC BY 3.0).
"""

import json
from ipaddress import IPv4Address, IPv4Network

import pytest
from placing import placed
from published import rows_of

from trainer.network.addresses import (
    MaskError,
    broadcast_address,
    first_usable,
    last_usable,
    length_of_mask,
    mask_of,
    network_at,
    prefix_length_for,
    usable_count,
)
from trainer.network.devices import Interface, Port, PortName, Route, Switch, SwitchName
from trainer.network.routing import RoutingTable, build_table

EXAMPLES = rows_of("worked_examples")
WITH_MACHINE_FORM = [row for row in EXAMPLES if row["machine"]]

NOT_OURS = {
    "lease 3600 s, no T1/T2 options": "arithmetic on timers; no client of ours renews a lease",
    "lease 86400 s, no T1/T2 options": "arithmetic on timers; no client of ours renews a lease",
    "500 point-to-point links, /30 replaced by /31": "a multiplication; the sizes of /30 and /31 are checked elsewhere",
    "matching DHCPACK, lease L": "a sum; rows of ours show the lease as granted (rule 14 of the Brief), and do not age",
    "10.229.0.128 mask 255.255.255.128": "option 121: no pool of ours hands out routes",
    "default route (0/0)": "option 121: no pool of ours hands out routes",
    "60-bit prefix 20010DB80000CD3 (hex)": "IPv6",
    "six-route table (default, ::1, one /64, two /48, one /32); dst 2a02:2788:2c4:16f::1": "IPv6",
    "six-route table (default, ::1, one /64, two /48, one /32); dst 2001:6a8:3080::1234": "IPv6",
}
"""Rows with a machine form that ask for something we do not have, and why."""


def network(text: str) -> IPv4Network:
    address, _, length = text.partition("/")
    return network_at(IPv4Address(address), int(length))


def ends(net: IPv4Network) -> list[object]:
    """First and last address and how many there are, out of what our functions say."""
    if net.prefixlen == 31:
        return [str(first_usable(net)), str(last_usable(net)), usable_count(31)]
    return [str(net.network_address), str(broadcast_address(net)), usable_count(net.prefixlen) + 2]


def refuses(mask: str) -> bool:
    try:
        length_of_mask(IPv4Address(mask))
    except MaskError:
        return True
    return False


def summary_of(nets: list[IPv4Network]) -> IPv4Network:
    """The longest prefix that holds all of them."""
    return next(
        network_at(nets[0].network_address, length)
        for length in range(32, -1, -1)
        if len({network_at(net.network_address, length) for net in nets}) == 1
    )


def table_with(prefixes: list[str], names: list[str]) -> RoutingTable:
    """The routing table of a switch with one neighbour for each name, all of them on one connected network."""
    neighbours = {name: IPv4Address("198.18.0.10") + place for place, name in enumerate(dict.fromkeys(names))}
    return build_table(
        Switch(
            name=SwitchName("A"),
            ports=(Port(name=PortName("1"), vlan=None),),
            interfaces=(Interface(place=PortName("1"), address=IPv4Address("198.18.0.1"), prefix_length=24),),
            routes=tuple(
                Route(key=name, destination=network(prefix), next_hop=neighbours[name])
                for prefix, name in zip(prefixes, names, strict=True)
            ),
        )
    )


def way(table: RoutingTable, destination: str) -> str | None:
    entry = table.lookup(int(IPv4Address(destination)))
    return None if entry is None or entry.route is None else entry.route.key


def ours(example: dict) -> object:
    """The answer our functions give."""
    match example["op"]:
        case "network":
            address, _, mask = example["addr"].partition("/")
            return str(network_at(IPv4Address(address), length_of_mask(IPv4Address(mask))))
        case "mask_ok":
            return not refuses(example["mask"])
        case "mask2prefix":
            return length_of_mask(IPv4Address(example["mask"]))
        case "range":
            return ends(network(example["net"]))
        case "subnet_row":
            net = network(example["net"])
            return [
                *map(str, (net.network_address, first_usable(net), last_usable(net), broadcast_address(net))),
                usable_count(net.prefixlen),
            ]
        case "partition":
            parts = [network(part) for part in example["parts"]]
            whole = network(example["net"])
            networks = placed(whole, [part.prefixlen for part in parts])
            return networks == parts and networks[-1].broadcast_address == whole.broadcast_address
        case "summary":
            nets = [network(net) for net in example["nets"]]
            whole = summary_of(nets)
            assert placed(whole, [net.prefixlen for net in nets]) == nets, "the summary holds them and no more"
            return [str(whole)]
        case "fits":
            net = network(example["net"])
            return (
                prefix_length_for(example["need"] - 2) == net.prefixlen
                and str(mask_of(net.prefixlen)) == example["mask"]
                and ends(net) == [example["first"], example["last"], example["need"]]
                and network_at(net.network_address, network(example["within"]).prefixlen) == network(example["within"])
            )
        case "count24":
            return sum(usable_count(network(net).prefixlen) + 2 for net in example["nets"]) // 256
        case "in_net":
            net = network(example["net"])
            return network_at(IPv4Address(example["addr"]), net.prefixlen) == net
        case "lpm":
            return way(table_with(*map(list, zip(*example["fib"], strict=True))), example["dst"])
        case "matches":
            return [prefix for prefix in example["fib"] if way(table_with([prefix], [prefix]), example["dst"])]
        case "nexthop_ok":
            return interface_towards(example["nh"], example["ifaces"])
    raise AssertionError(f"{example['op']} has no case here and no reason in NOT_OURS")


def interface_towards(next_hop: str, interfaces: list[str]) -> str | None:
    """The interface through which a default route with that next hop leaves; None where the route is refused."""
    ports = [PortName(str(number)) for number in range(1, len(interfaces) + 1)]
    addresses = [text.partition("/") for text in interfaces]
    table = build_table(
        Switch(
            name=SwitchName("A"),
            ports=tuple(Port(name=port, vlan=None) for port in ports),
            interfaces=tuple(
                Interface(place=port, address=IPv4Address(address), prefix_length=int(length))
                for port, (address, _, length) in zip(ports, addresses, strict=True)
            ),
            routes=(Route(key="default", destination=network("0.0.0.0/0"), next_hop=IPv4Address(next_hop)),),
        )
    )
    entry = table.lookup(int(IPv4Address("203.0.113.1")))
    return None if entry is None else f"{entry.interface.address}/{entry.interface.prefix_length}"


def test_every_row_with_a_machine_form_is_run_or_listed_with_a_reason():
    assert len(EXAMPLES) == 101
    assert len(WITH_MACHINE_FORM) == 45
    assert set(NOT_OURS) <= {row["given"] for row in WITH_MACHINE_FORM}
    assert len([row for row in WITH_MACHINE_FORM if row["given"] not in NOT_OURS]) == 45 - len(NOT_OURS)
    assert all(reason for reason in NOT_OURS.values())


@pytest.mark.parametrize(
    "row",
    [row for row in WITH_MACHINE_FORM if row["given"] not in NOT_OURS],
    ids=lambda row: f"{row['source']} {row['section']}: {row['given']}",
)
def test_published_examples_come_out_as_published(row):
    example = json.loads(row["machine"])
    assert ours(example) == example["answer"], row["answer"]


def test_the_example_with_a_null_route_is_ours_only_as_far_as_the_lookup_goes():
    """RFC 4632 5.2: the aggregate's next hop is null. We have no null routes: the lookup finds the entry, no more."""
    rows = [row for row in WITH_MACHINE_FORM if '"discard"' in row["machine"]]
    assert [row["section"] for row in rows] == ["5.2"]
