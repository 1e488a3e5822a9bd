"""What becomes of a packet: who it gets to, or where it is dropped, for which reason and because of which setting."""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from sending import probe
from small_networks import at, fixed, interface, port, route, station, two_switches, with_station, with_switch

from trainer.network.devices import Cable, Missing, Part, SettingId
from trainer.network.packets import INITIAL_TTL, Delivered, Dropped, Reason
from trainer.network.topology import Running
from trainer.network.trials import ping

TO_FAR = "172.16.20.21"


def sent(network, source, destination):
    """What becomes of one packet from a station to an address."""
    return probe(Running(network), network.station(source), IPv4Address(destination))


def link_of_31(first, second):
    """The two switches joined by a /31."""
    network = with_switch(
        two_switches(),
        "A",
        interfaces=(interface(10, "172.16.10.1/24"), interface("24", f"{first}/31")),
        routes=(route("A to 20", "172.16.20.0/24", second),),
    )
    return with_switch(
        network,
        "B",
        interfaces=(interface(20, "172.16.20.1/24"), interface("24", f"{second}/31")),
        routes=(route("B to 10", "172.16.10.0/24", first),),
    )


# --- Delivered --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "destination", "wanted"),
    [
        pytest.param("near", TO_FAR, Delivered("far", ("near", "A", "B", "far")), id="through both switches"),
        pytest.param("far", "172.16.10.21", Delivered("near", ("far", "B", "A", "near")), id="and back"),
        pytest.param("near", "172.16.10.10", Delivered("server", ("near", "server")), id="inside its own network"),
        pytest.param("near", "172.16.10.1", Delivered("A", ("near", "A")), id="to its gateway"),
        pytest.param("near", "172.16.20.1", Delivered("B", ("near", "A", "B")), id="to the far gateway"),
        pytest.param("near", "172.16.0.1", Delivered("A", ("near", "A")), id="to the near end of the link"),
    ],
)
def test_a_packet_arrives(source, destination, wanted):
    """RFC 1122 3.3.1.1: own network directly, everything else by the gateway; RFC 1812 5.2: forwarding."""
    assert sent(two_switches(), source, destination) == wanted


@pytest.mark.parametrize(("first", "second"), [("172.16.0.0", "172.16.0.1"), ("172.16.0.1", "172.16.0.0")])
def test_a_link_of_two_addresses_carries_packets_both_ways(first, second):
    """RFC 3021 2.1."""
    network = link_of_31(first, second)
    assert sent(network, "near", TO_FAR) == Delivered("far", ("near", "A", "B", "far"))
    assert sent(network, "far", "172.16.10.21") == Delivered("near", ("far", "B", "A", "near"))


def test_a_broadcast_domain_is_what_cables_between_access_ports_join():
    """A frame stays in its VLAN, wherever the VLAN goes (IEEE 802.1Q: from memory, the text was not read)."""
    network = two_switches()
    network = with_switch(network, "A", ports=(*network.switches[0].ports, port(20, 10)))
    network = with_switch(network, "B", ports=(*network.switches[1].ports, port(20, 10), port(21, 10)))
    guest = station("guest", 0x20, "B/21", fixed("172.16.10.33/24", "172.16.10.1"))
    network = replace(
        network, cables=(*network.cables, Cable(at("A/20"), at("B/20"))), stations=(*network.stations, guest)
    )
    assert sent(network, "near", "172.16.10.33") == Delivered("guest", ("near", "guest"))
    assert sent(network, "guest", TO_FAR) == Delivered("far", ("guest", "A", "B", "far"))


# --- Routes -----------------------------------------------------------------------------------------------------------


def test_without_a_route_the_packet_ends_at_the_switch_that_needs_it():
    """RFC 1812 4.3.3.1, 5.2.7.1: network unreachable."""
    outcome = sent(with_switch(two_switches(), "A", routes=()), "near", TO_FAR)
    assert outcome == Dropped("A", Reason.NO_ROUTE, Missing("A", Part.ROUTE, TO_FAR), ("near", "A"))


def test_without_a_return_route_the_request_arrives_and_the_reply_does_not():
    """R19: forwarding looks only at the destination (RFC 1812 5.2.4.3), so each direction needs its own route."""
    network = with_switch(two_switches(), "B", routes=())
    result = ping(Running(network), network.station("near"), network.station("far"))
    assert result.request == Delivered("far", ("near", "A", "B", "far"))
    lost = Dropped("B", Reason.NO_ROUTE, Missing("B", Part.ROUTE, "172.16.10.21"), ("far", "B"))
    assert result.reply == lost
    assert result.drop == lost


def test_a_ping_that_is_answered_has_no_drop():
    """RFC 1122 3.2.2.6 (from memory): the answer goes to the address that asked."""
    network = two_switches()
    result = ping(Running(network), network.station("near"), network.station("far"))
    assert result.drop is None
    assert result.reply == Delivered("near", ("far", "B", "A", "near"))


@pytest.mark.parametrize("next_hop", ["172.16.0.6", "172.16.0.3", "172.16.0.1"])
def test_a_refused_route_is_named_as_what_kept_the_packet(next_hop):
    """R5: off-link, broadcast address, the switch's own."""
    network = with_switch(two_switches(), "A", routes=(route("A to 20", "172.16.20.0/24", next_hop),))
    refused = SettingId("A", Part.ROUTE, "A to 20", "next_hop")
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ROUTE, refused, ("near", "A"))


def test_a_route_with_too_long_a_mask_misses_the_addresses_outside_it():
    """RFC 1812 5.2.4.3: a route matches the addresses of its prefix and no others."""
    network = with_switch(two_switches(), "A", routes=(route("A to 20", "172.16.20.0/28", "172.16.0.2"),))
    outcome = sent(network, "near", TO_FAR)
    too_narrow = SettingId("A", Part.ROUTE, "A to 20", "destination")
    assert outcome == Dropped("A", Reason.NO_ROUTE, too_narrow, ("near", "A"))
    assert sent(network, "near", "172.16.20.1") == Delivered("B", ("near", "A", "B"))


def test_a_silent_next_hop_ends_the_packet_where_the_route_stands():
    """RFC 1812 5.2.7.1: the next hop does not answer ARP."""
    network = with_switch(
        two_switches(), "B", interfaces=(interface(20, "172.16.20.1/24"), interface("24", "172.16.0.6/30"))
    )
    because = SettingId("A", Part.ROUTE, "A to 20", "next_hop")
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ANSWER, because, ("near", "A"))


def test_a_station_as_next_hop_forwards_nothing():
    """RFC 1122 3.2.1.3: a host silently discards what is not for it."""
    network = with_switch(two_switches(), "A", routes=(route("A to 20", "172.16.20.0/24", "172.16.10.21"),))
    because = SettingId("A", Part.ROUTE, "A to 20", "next_hop")
    outcome = sent(network, "server", TO_FAR)
    assert outcome == Dropped("near", Reason.NEXT_HOP_IS_A_HOST, because, ("server", "A", "near"))


def test_a_station_as_gateway_forwards_nothing():
    """RFC 1122 3.2.1.3."""
    network = with_station(two_switches(), "near", fixed=fixed("172.16.10.21/24", "172.16.10.10"))
    because = SettingId("near", Part.STATION, "near", "gateway")
    outcome = sent(network, "near", TO_FAR)
    assert outcome == Dropped("server", Reason.NEXT_HOP_IS_A_HOST, because, ("near", "server"))


def looped():
    """Two switches whose default routes point at each other."""
    network = with_switch(two_switches(), "A", routes=(route("A default", "0.0.0.0/0", "172.16.0.2"),))
    return with_switch(network, "B", routes=(route("B default", "0.0.0.0/0", "172.16.0.1"),))


def test_a_packet_in_circles_is_dropped_by_the_switch_that_takes_the_last_of_its_time_to_live():
    """RFC 1812 5.3.1: every router takes one off and discards what it reduces to zero. The station sends it with 64."""
    assert INITIAL_TTL == 64
    because = SettingId("B", Part.ROUTE, "B default", "next_hop")
    path = ("near", *("A", "B") * 32)
    assert sent(looped(), "near", "192.168.0.1") == Dropped("B", Reason.TTL_EXPIRED, because, path)


def test_defaults_that_point_at_each_other_still_reach_every_station():
    """RFC 1812 5.2.4.3: connected networks are longer than a default; only unknown addresses go in circles."""
    assert sent(looped(), "near", TO_FAR) == Delivered("far", ("near", "A", "B", "far"))


def test_a_station_that_is_called_like_its_switch_keeps_its_own_way():
    """A network may be called B; what the station has found out is not what the switch has."""
    network = two_switches()
    namesake = replace(network.station("far"), name="B")
    network = replace(network, stations=(*network.stations[:2], namesake))
    running = Running(network)
    wanted = Delivered("near", ("B", "B", "A", "near"))
    assert [probe(running, namesake, IPv4Address("172.16.10.21")) for _ in range(2)] == [wanted, wanted]


# --- Addresses that are no hosts --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "destination",
    [
        pytest.param("172.16.20.0", id="network address: RFC 1812 4.2.3.1"),
        pytest.param("172.16.20.255", id="broadcast address: RFC 2644 3, not forwarded by default"),
    ],
)
def test_a_network_or_broadcast_address_is_no_destination(destination):
    because = SettingId("B", Part.VLAN_INTERFACE, "20", "network")
    outcome = sent(two_switches(), "near", destination)
    assert outcome == Dropped("B", Reason.NOT_A_HOST, because, ("near", "A", "B"))


@pytest.mark.parametrize("destination", ["172.16.0.0", "172.16.0.3"])
def test_the_ends_of_a_link_network_are_no_destinations(destination):
    because = SettingId("A", Part.ROUTED_PORT, "24", "network")
    outcome = sent(two_switches(), "near", destination)
    assert outcome == Dropped("A", Reason.NOT_A_HOST, because, ("near", "A"))


def test_nobody_answers_for_an_unused_address():
    """RFC 1812 5.2.7.1: host unreachable, at the last switch."""
    because = SettingId("B", Part.VLAN_INTERFACE, "20", "network")
    outcome = sent(two_switches(), "near", "172.16.20.99")
    assert outcome == Dropped("B", Reason.NO_ANSWER, because, ("near", "A", "B"))


@pytest.mark.parametrize("address", ["172.16.10.0", "172.16.10.255"])
def test_a_station_with_an_end_address_of_its_network_is_not_reached_from_elsewhere(address):
    """RFC 1122 3.2.1.3: neither is the address of a host."""
    network = with_station(two_switches(), "near", fixed=fixed(f"{address}/24", "172.16.10.1"))
    because = SettingId("near", Part.STATION, "near", "address")
    assert sent(network, "far", address) == Dropped("A", Reason.NOT_A_HOST, because, ("far", "B", "A"))


@pytest.mark.parametrize("address", ["172.16.10.0", "172.16.10.255"])
def test_a_station_with_an_end_address_of_its_network_is_not_reached_by_its_neighbours(address):
    """RFC 1122 3.2.1.3: neither is the address of a host; whoever sends there goes by its own mask."""
    network = with_station(two_switches(), "near", fixed=fixed(f"{address}/24", "172.16.10.1"))
    because = SettingId("server", Part.STATION, "server", "mask")
    assert sent(network, "server", address) == Dropped("server", Reason.NOT_A_HOST, because, ("server",))


@pytest.mark.parametrize(("own", "other"), [("172.16.10.20", "172.16.10.21"), ("172.16.10.21", "172.16.10.20")])
def test_between_two_stations_with_a_mask_of_31_bits_both_addresses_are_hosts(own, other):
    """RFC 3021 2.1."""
    network = with_station(two_switches(), "near", fixed=fixed(f"{own}/31", None))
    network = with_station(network, "server", fixed=fixed(f"{other}/31", None))
    assert sent(network, "near", other) == Delivered("server", ("near", "server"))


# --- Stations ---------------------------------------------------------------------------------------------------------


def near_with(text, gateway="172.16.10.1"):
    return with_station(two_switches(), "near", fixed=fixed(text, gateway))


def test_a_station_with_too_wide_a_mask_looks_for_far_addresses_next_door():
    """RFC 1122 3.3.1.1: its own mask decides. No switch answers in another's name here (no proxy ARP)."""
    too_wide = SettingId("near", Part.STATION, "near", "mask")
    assert sent(near_with("172.16.10.21/16"), "near", TO_FAR) == Dropped("near", Reason.NO_ANSWER, too_wide, ("near",))
    nobody = Missing("near", Part.STATION, "172.16.10.99")
    assert sent(two_switches(), "near", "172.16.10.99") == Dropped("near", Reason.NO_ANSWER, nobody, ("near",))


def test_a_station_with_too_narrow_a_mask_sends_neighbours_packets_to_its_gateway():
    """RFC 1122 3.3.1.1. The switch sends them back into the same VLAN (RFC 1812 5.2.7.2 adds a redirect: from memory)."""
    network = near_with("172.16.10.21/27")
    network = with_station(network, "server", fixed=fixed("172.16.10.40/24", "172.16.10.1"))
    assert sent(network, "near", "172.16.10.40") == Delivered("server", ("near", "A", "server"))
    assert sent(network, "server", "172.16.10.21") == Delivered("near", ("server", "near"))


@pytest.mark.parametrize(
    ("text", "gateway", "named"),
    [
        pytest.param("172.16.10.21/24", "172.16.20.1", "gateway", id="another network's gateway"),
        pytest.param("172.16.10.21/28", "172.16.10.1", "mask", id="a mask so narrow that the gateway is outside"),
        pytest.param("172.16.20.21/24", "172.16.10.1", "address", id="an address of another network"),
    ],
)
def test_a_gateway_outside_the_stations_network_is_never_asked(text, gateway, named):
    """RFC 1122 3.3.1.1: a gateway is reached on the connected network, or not at all. If somebody next door has the
    gateway's address, it is not the gateway that is wrong.
    """
    because = SettingId("near", Part.STATION, "near", named)
    outcome = sent(near_with(text, gateway), "near", "192.168.0.1")
    assert outcome == Dropped("near", Reason.GATEWAY_ELSEWHERE, because, ("near",))


def test_a_gateway_that_is_nobodys_address_does_not_answer():
    because = SettingId("near", Part.STATION, "near", "gateway")
    outcome = sent(near_with("172.16.10.21/24", "172.16.10.254"), "near", TO_FAR)
    assert outcome == Dropped("near", Reason.NO_ANSWER, because, ("near",))


def test_a_station_without_a_gateway_reaches_its_own_network_only():
    network = near_with("172.16.10.21/24", None)
    missing = Missing("near", Part.STATION, "near", "gateway")
    assert sent(network, "near", TO_FAR) == Dropped("near", Reason.NO_GATEWAY, missing, ("near",))
    assert sent(network, "near", "172.16.10.10") == Delivered("server", ("near", "server"))


def test_a_station_whose_address_is_not_set_sends_nothing():
    network = with_station(two_switches(), "near", fixed=None)
    missing = Missing("near", Part.STATION, "near", "address")
    assert sent(network, "near", TO_FAR) == Dropped("near", Reason.NO_ADDRESS, missing, ("near",))


def test_a_station_without_a_lease_sends_nothing():
    missing = Missing("client", Part.STATION, "client", "lease")
    assert sent(two_switches(), "client", TO_FAR) == Dropped("client", Reason.NO_ADDRESS, missing, ("client",))


def test_a_ping_to_a_station_without_an_address_ends_at_that_station():
    network = two_switches()
    result = ping(Running(network), network.station("near"), network.station("client"))
    assert result.request == Dropped(
        "client", Reason.NO_ADDRESS, Missing("client", Part.STATION, "client", "lease"), ("client",)
    )
    assert result.reply is None


def test_two_stations_with_one_address_stop_whoever_asks_for_it():
    """RFC 5227 1: an address conflict. Who would win is a race, so nobody does here: a rule of this lab."""
    network = near_with("172.16.10.10/24")
    because = SettingId("server", Part.STATION, "server", "address")
    assert sent(network, "far", "172.16.10.10") == Dropped("A", Reason.DUPLICATE_ADDRESS, because, ("far", "B", "A"))


def test_a_station_with_its_gateways_address_cuts_its_network_off():
    network = near_with("172.16.10.1/24")
    because = SettingId("near", Part.STATION, "near", "address")
    outcome = sent(network, "server", TO_FAR)
    assert outcome == Dropped("server", Reason.DUPLICATE_ADDRESS, because, ("server",))


# --- Ports and interfaces ---------------------------------------------------------------------------------------------


def test_a_station_on_a_port_that_is_down_sends_nothing():
    network = two_switches()
    network = with_switch(network, "B", ports=network.switches[1].ports[1:])
    missing = Missing("B", Part.PORT, "1")
    assert sent(network, "far", "172.16.10.21") == Dropped("far", Reason.PORT_DOWN, missing, ("far",))


def test_nobody_answers_for_a_station_on_a_port_that_is_down():
    network = two_switches()
    network = with_switch(network, "B", ports=network.switches[1].ports[1:])
    because = Missing("B", Part.PORT, "1")
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ANSWER, because, ("near", "A", "B"))


def test_a_station_in_another_vlan_is_not_found():
    network = with_switch(two_switches(), "B", ports=(port(1, 99), port(2, 20), port(24, None)))
    wrong_vlan = SettingId("B", Part.PORT, "1")
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ANSWER, wrong_vlan, ("near", "A", "B"))
    assert sent(network, "far", "172.16.10.21") == Dropped("far", Reason.NO_ANSWER, wrong_vlan, ("far",))


def test_a_link_port_in_a_vlan_takes_the_link_and_its_routes_down():
    network = with_switch(two_switches(), "A", ports=(port(1, 10), port(2, 10), port(24, 10)))
    wrong_role = SettingId("A", Part.PORT, "24")
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ROUTE, wrong_role, ("near", "A"))
    assert sent(network, "far", "172.16.10.21") == Dropped("B", Reason.NO_ANSWER, wrong_role, ("far", "B"))


def test_a_vlan_interface_with_too_long_a_mask_does_not_know_its_own_hosts():
    """RFC 1812 5.2.4.2 (2): connected is what lies in the interface's prefix."""
    network = with_switch(
        two_switches(), "B", interfaces=(interface(20, "172.16.20.1/28"), interface("24", "172.16.0.2/30"))
    )
    too_narrow = SettingId("B", Part.VLAN_INTERFACE, "20", "network")
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ROUTE, too_narrow, ("near", "A", "B"))


def test_an_end_of_a_link_in_another_network_silences_the_link():
    network = with_switch(
        two_switches(), "A", interfaces=(interface(10, "172.16.10.1/24"), interface("24", "172.16.0.5/30"))
    )
    off = SettingId("A", Part.ROUTED_PORT, "24", "network")
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ROUTE, off, ("near", "A"))
    because = SettingId("B", Part.ROUTE, "B to 10", "next_hop")
    assert sent(network, "far", "172.16.10.21") == Dropped("B", Reason.NO_ANSWER, because, ("far", "B"))


# --- Words ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drop", "text"),
    [
        (
            Dropped("A", Reason.NO_ROUTE, Missing("A", Part.ROUTE, TO_FAR)),
            "dropped at A: no route leads to the destination (no static route 172.16.20.21, A)",
        ),
        (
            Dropped("B", Reason.NO_ANSWER, SettingId("B", Part.VLAN_INTERFACE, "20", "network")),
            "dropped at B: nobody answers at that address (network of VLAN interface 20, B)",
        ),
    ],
)
def test_a_drop_says_in_a_sentence_where_why_and_because_of_what(drop, text):
    assert str(drop) == text


@pytest.mark.parametrize("reason", Reason)
def test_every_reason_finishes_a_sentence(reason):
    text = str(Dropped("A", reason, Missing("A", Part.PORT, "1")))
    assert text == f"dropped at A: {reason.value} (no port 1, A)"
    assert reason.value[0].islower()
    assert not reason.value.endswith(".")
