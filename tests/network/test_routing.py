"""Which way a switch sends a packet, which routes and interfaces it refuses, and why."""

from ipaddress import IPv4Address, IPv4Network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.network.addresses import is_no_host, mask_bits, network_at
from trainer.network.devices import Interface, Part, Port, PortName, Route, Switch, SwitchName
from trainer.network.routing import RoutingTable, build_table


def interface(place, text):
    address, _, length = text.partition("/")
    where = place if isinstance(place, int) else PortName(place)
    return Interface(place=where, address=IPv4Address(address), prefix_length=int(length))


def route(destination, next_hop, key=""):
    return Route(key=key or destination, destination=IPv4Network(destination), next_hop=IPv4Address(next_hop))


def switch(*routes, interfaces=None, vlans=(10, 20)):
    """A switch with VLANs 10 and 20 on access ports, and a link to a neighbour on routed port 24."""
    return Switch(
        name=SwitchName("A"),
        ports=(
            *(Port(name=PortName(str(number)), vlan=vlan) for number, vlan in enumerate(vlans, 1)),
            Port(name=PortName("24"), vlan=None),
        ),
        interfaces=interfaces
        or (interface(10, "172.16.10.1/24"), interface(20, "172.16.20.1/24"), interface("24", "172.16.0.1/30")),
        routes=routes,
    )


def found(table: RoutingTable, destination: str):
    """What leads there: the key of a route, the place of a connected network, or None."""
    entry = table.lookup(int(IPv4Address(destination)))
    if entry is None:
        return None
    return entry.interface.place if entry.route is None else entry.route.key


# --- Longest prefix first ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("routes", "wanted"),
    [
        (["10.144.1.0/24", "10.144.2.0/24", "10.144.3.0/24"], "10.144.2.0/24"),
        (["10.144.2.0/24", "10.144.0.0/16", "10.0.0.0/8"], "10.144.2.0/24"),
        (["10.0.0.0/8", "10.144.0.0/16", "10.144.2.0/24"], "10.144.2.0/24"),
        (["0.0.0.0/0", "10.144.3.0/24"], "0.0.0.0/0"),
        (["10.144.2.0/24", "10.144.2.5/32"], "10.144.2.5/32"),
        (["10.144.1.0/24", "10.144.3.0/24"], None),
    ],
)
def test_the_longest_matching_prefix_wins(routes, wanted):
    """RFC 1812 5.2.4.3 (1), (2), with its destination 10.144.2.5; host route first, default last; R1 to R3."""
    table = build_table(switch(*(route(each, "172.16.0.2") for each in routes)))
    assert found(table, "10.144.2.5") == wanted


@pytest.mark.parametrize(
    ("destination", "wanted"),
    [
        pytest.param("10.24.13.1", "PA", id="C4, its primary route"),
        pytest.param("10.24.33.1", "PB", id="C5, by PB although inside PA's /13"),
        pytest.param("10.32.5.1", "PA", id="C7, moved to PA, more specific than PB's /13"),
        pytest.param("10.24.0.1", "PA", id="C1, by the aggregate"),
        pytest.param("10.40.0.1", None, id="nobody's"),
    ],
)
def test_a_backbone_follows_the_more_specific_advertisement(destination, wanted):
    """RFC 4632 6.2: the advertisements of PA and PB (host addresses are ours)."""
    advertised = {"PA": ("10.24.12.0/22", "10.32.0.0/20", "10.24.0.0/13"), "PB": ("10.24.32.0/23", "10.32.0.0/13")}
    neighbours = {"PA": "172.16.10.2", "PB": "172.16.20.2"}
    table = build_table(
        switch(*(route(prefix, neighbours[name], name) for name, prefixes in advertised.items() for prefix in prefixes))
    )
    assert found(table, destination) == wanted


def test_a_withdrawn_route_leaves_the_packet_to_the_next_shorter_one():
    """RFC 4632 6.2, last paragraph: without 10.32.0.0/20 from PA, PB's 10.32.0.0/13 takes over."""
    table = build_table(switch(route("10.24.0.0/13", "172.16.10.2", "PA"), route("10.32.0.0/13", "172.16.20.2", "PB")))
    assert found(table, "10.32.5.1") == "PB"


def test_of_two_routes_for_one_prefix_the_first_is_kept():
    """A rule of this lab: RFC 1812 5.2.4.3 leaves the choice between equal routes open."""
    table = build_table(
        switch(route("10.0.0.0/8", "172.16.10.2", "first"), route("10.0.0.0/8", "172.16.20.2", "second"))
    )
    assert found(table, "10.1.1.1") == "first"


def test_a_connected_network_wins_over_a_static_route_of_the_same_length():
    """RFC 8349 App. D gives direct routes the better preference: 0, a static one 5."""
    table = build_table(switch(route("172.16.20.0/24", "172.16.0.2")))
    assert found(table, "172.16.20.9") == 20


def test_a_longer_static_route_wins_over_a_connected_network():
    """RFC 1812 5.2.4.3: length comes before everything else."""
    table = build_table(switch(route("172.16.20.128/25", "172.16.0.2", "half")))
    assert found(table, "172.16.20.9") == 20
    assert found(table, "172.16.20.129") == "half"


def test_a_default_route_alone_leads_everywhere_else():
    """RFC 1812 5.2.4.3: the default's length is zero."""
    table = build_table(switch(route("0.0.0.0/0", "172.16.0.2", "default")))
    assert [found(table, each) for each in ("203.0.113.9", "172.16.10.9")] == ["default", 10]


def test_a_route_leaves_through_the_interface_of_its_next_hop():
    entry = build_table(switch(route("10.0.0.0/8", "172.16.0.2"))).lookup(int(IPv4Address("10.1.1.1")))
    assert entry is not None
    assert (entry.interface.place, entry.next_hop) == ("24", int(IPv4Address("172.16.0.2")))


# --- Next hops --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "next_hop",
    [
        pytest.param("172.16.0.6", id="in no connected network"),
        pytest.param("192.0.2.1", id="far away"),
        pytest.param("172.16.0.1", id="the switch itself, on that network"),
        pytest.param("172.16.10.1", id="the switch itself, on another network"),
        pytest.param("172.16.0.0", id="the network address"),
        pytest.param("172.16.0.3", id="the broadcast address"),
    ],
)
def test_error_a_route_with_an_unusable_next_hop_is_refused(next_hop):
    """R5, out of RFC 1812 5.2.4 (adjacent: reached without a router), 4.2.3.1 and 4.2.2.11 (no host)."""
    refused = route("10.0.0.0/8", next_hop)
    table = build_table(switch(refused))
    assert table.refused == (refused,)
    assert found(table, "10.1.1.1") is None
    assert table.refused_for(int(IPv4Address("10.1.1.1"))) == refused


@pytest.mark.parametrize("next_hop", ["172.16.0.2", "172.16.10.254", "172.16.20.2"])
def test_a_next_hop_on_any_connected_network_is_taken(next_hop):
    """RFC 1812 5.2.4. Whether anybody answers there shows only when a packet is sent."""
    assert build_table(switch(route("10.0.0.0/8", next_hop))).refused == ()


@pytest.mark.parametrize(("own", "other"), [("172.16.0.0", "172.16.0.1"), ("172.16.0.1", "172.16.0.0")])
def test_on_a_link_of_two_addresses_the_other_one_is_the_next_hop(own, other):
    """RFC 3021 2.1: on a /31 both addresses are host addresses."""
    table = build_table(switch(route("10.0.0.0/8", other), interfaces=(interface("24", f"{own}/31"),)))
    assert found(table, "10.1.1.1") == "10.0.0.0/8"
    assert build_table(switch(route("10.0.0.0/8", own), interfaces=(interface("24", f"{own}/31"),))).refused


def test_a_next_hop_of_the_standards_own_example_is_valid():
    """RFC 8349 App. D: 192.0.2.2 lies in the prefix of eth0, 192.0.2.1/24."""
    table = build_table(
        switch(
            route("0.0.0.0/0", "192.0.2.2"),
            interfaces=(interface(10, "192.0.2.1/24"), interface("24", "198.51.100.1/24")),
        )
    )
    entry = table.lookup(int(IPv4Address("203.0.113.1")))
    assert entry is not None
    assert entry.interface.place == 10


def test_a_route_is_refused_when_its_interface_is_down():
    """It is in no connected network then (RFC 1812 5.2.4)."""
    table = build_table(switch(route("10.0.0.0/8", "172.16.20.2"), vlans=(10,)))
    assert [each.key for each in table.refused] == ["10.0.0.0/8"]


def test_of_several_refused_routes_the_longest_is_named():
    short, long = route("10.0.0.0/8", "192.0.2.1"), route("10.1.0.0/16", "192.0.2.1")
    table = build_table(switch(short, long))
    assert table.refused_for(int(IPv4Address("10.1.1.1"))) == long
    assert table.refused_for(int(IPv4Address("10.2.1.1"))) == short
    assert table.refused_for(int(IPv4Address("203.0.113.1"))) is None


# --- Interfaces -------------------------------------------------------------------------------------------------------


def places(*interfaces, vlans=(10, 20)):
    return [each.place for each in build_table(switch(interfaces=interfaces, vlans=vlans)).interfaces]


@pytest.mark.parametrize(
    ("earlier", "later"),
    [
        ("172.16.10.1/24", "172.16.10.2/24"),
        ("172.16.10.1/24", "172.16.10.129/25"),
        ("172.16.10.129/25", "172.16.10.1/24"),
    ],
)
def test_of_two_interfaces_that_overlap_the_later_one_is_dead(earlier, later):
    """A rule of this lab (network/__init__.py); hardware usually refuses it: common practice, no source."""
    assert places(interface(10, earlier), interface(20, later)) == [10]


def test_a_dead_interface_stands_in_nobodys_way():
    overlapping = interface(20, "172.16.10.2/23")
    assert places(interface(10, "172.16.10.1/24"), overlapping, interface("24", "172.16.11.1/30")) == [10, "24"]


def test_neighbouring_networks_do_not_overlap():
    assert places(interface(10, "172.16.10.1/25"), interface(20, "172.16.10.129/25")) == [10, 20]


def test_a_vlan_interface_without_a_port_in_its_vlan_is_down():
    """Common practice, no source; a real kernel keeps it up."""
    assert places(interface(10, "172.16.10.1/24"), interface(20, "172.16.20.1/24"), vlans=(10,)) == [10]


def test_the_interface_of_a_port_that_is_not_routed_is_down():
    assert places(interface("1", "172.16.0.1/30"), interface("24", "172.16.0.5/30")) == ["24"]


def test_the_interface_of_a_port_that_is_off_is_down():
    assert places(interface("23", "172.16.0.1/30")) == []


@pytest.mark.parametrize("address", ["172.16.10.0/24", "172.16.10.255/24", "172.16.0.4/30", "172.16.0.7/30"])
def test_error_a_network_or_broadcast_address_on_an_interface_is_refused(address):
    """RFC 1812 10.2.2: no value that makes the host part 0 or all ones."""
    assert places(interface(10, address)) == []


def test_interfaces_say_which_part_of_the_switch_they_are():
    assert [each.part for each in switch().interfaces] == [Part.VLAN_INTERFACE, Part.VLAN_INTERFACE, Part.ROUTED_PORT]


@given(st.integers(0, 2**32 - 1), st.integers(0, 32))
def test_network_and_broadcast_addresses_are_no_hosts(number, length):
    """RFC 1812 4.2.2.11; a /31 has neither (RFC 3021 2.1, 2.2)."""
    net = network_at(IPv4Address(number), length)
    ends = {net.network_address, net.broadcast_address} if length <= 30 else set()
    for each in {net.network_address, net.broadcast_address, IPv4Address(number)}:
        assert is_no_host(int(each), mask_bits(length)) == (each in ends)


# --- Against brute force ----------------------------------------------------------------------------------------------


crowded_addresses = st.one_of(
    st.integers(0, 2**32 - 1),
    st.integers(int(IPv4Address("172.16.0.0")), int(IPv4Address("172.16.31.255"))),
    st.integers(int(IPv4Address("10.144.0.0")), int(IPv4Address("10.144.3.255"))),
).map(IPv4Address)
prefixes = st.builds(network_at, crowded_addresses, st.integers(0, 32))
next_hops = st.sampled_from(
    [IPv4Address("172.16.0.2"), IPv4Address("172.16.10.2"), IPv4Address("172.16.20.2"), IPv4Address("192.0.2.9")]
)


@given(st.lists(st.tuples(prefixes, next_hops), max_size=12), st.lists(crowded_addresses, min_size=1, max_size=12))
def test_a_lookup_is_a_longest_prefix_match(routes, destinations):
    """Brute force with the standard library, connected networks first (RFC 1812 5.2.4.3)."""
    here = switch(
        *(Route(key=str(number), destination=net, next_hop=next_hop) for number, (net, next_hop) in enumerate(routes))
    )
    table = build_table(here)
    connected = [(each.network, each.place) for each in here.interfaces]
    usable = [
        (net, str(number))
        for number, (net, next_hop) in enumerate(routes)
        if any(next_hop in near for near, _ in connected)
    ]
    assert [each.key for each in table.refused] == [
        str(number) for number, (_, next_hop) in enumerate(routes) if next_hop == IPv4Address("192.0.2.9")
    ]
    for destination in destinations:
        matching = [(net, what) for net, what in (*connected, *usable) if destination in net]
        best = max(matching, key=lambda match: match[0].prefixlen, default=(None, None))
        assert found(table, str(destination)) == best[1]
