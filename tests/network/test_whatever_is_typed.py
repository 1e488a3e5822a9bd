"""What a trainee can type and no plan would hold: each has an outcome, and the setting that is wrong is named."""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from sending import probe
from small_networks import (
    at,
    fixed,
    interface,
    pool,
    port,
    relay,
    route,
    station,
    switch_of,
    two_switches,
    with_pools,
    with_station,
    with_switch,
)

from trainer.network.devices import Cable, Missing, Part, PortName, SettingId
from trainer.network.dhcp import start
from trainer.network.packets import Delivered, Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trials import Ping, ping, rogue_offer

TO_FAR = "172.16.20.21"
POOL_10 = pool("10", "172.16.10.100", "172.16.10.199", router="172.16.10.1")


def sent(network, source, destination):
    return probe(Running(network), network.station(source), IPv4Address(destination))


def stopped(network, source, target):
    """What stops a ping; None where it is answered."""
    running = start(network)[0]
    return ping(running, network.station(source), network.station(target)).drop


def interfaces_of_b(*changed):
    """The network with other interfaces on switch B."""
    return with_switch(two_switches(), "B", interfaces=changed)


# --- Ports ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("vlan", [0, 4095, 99999])
def test_a_port_with_a_number_that_no_vlan_has_is_down(vlan):
    """RFC 4363 VlanId: 1 to 4094; RFC 6325 4.1.1: 4095 is reserved."""
    network = with_switch(two_switches(), "B", ports=(port(1, vlan), port(2, 20), port(3, 20), port(24, None)))
    wrong = SettingId("B", Part.PORT, "1")
    assert sent(network, "far", "172.16.10.21") == Dropped("far", Reason.PORT_DOWN, wrong, ("far",))
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ANSWER, wrong, ("near", "A", "B"))


def test_a_station_on_a_routed_port_finds_nobody():
    """A routed port carries no VLAN (common practice, no source)."""
    network = with_switch(two_switches(), "B", ports=(port(1, None), port(2, 20), port(3, 20), port(24, None)))
    wrong = SettingId("B", Part.PORT, "1")
    assert sent(network, "far", "172.16.10.21") == Dropped("far", Reason.NO_ANSWER, wrong, ("far",))
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ANSWER, wrong, ("near", "A", "B"))


def test_a_vlan_whose_only_port_is_in_another_one_takes_its_interface_down():
    """Common practice, no source: a VLAN interface is up while a port carries its VLAN."""
    network = with_switch(two_switches(), "B", ports=(port(1, 99), port(24, None)))
    wrong = SettingId("B", Part.PORT, "1")
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ROUTE, wrong, ("near", "A", "B"))


def test_two_stations_of_one_network_in_different_vlans_do_not_meet():
    network = with_switch(two_switches(), "A", ports=(port(1, 10), port(2, 99), port(3, 10), port(24, None)))
    wrong = SettingId("A", Part.PORT, "2")
    assert sent(network, "server", "172.16.10.21") == Dropped("server", Reason.NO_ANSWER, wrong, ("server",))
    assert sent(network, "near", "172.16.10.10") == Dropped("near", Reason.NO_ANSWER, wrong, ("near",))


def trunked(first, second):
    """Two switches with VLAN 10 on both, joined by a second cable between trunks that carry these VLANs."""
    network = two_switches()
    a, b = switch_of(network, "A"), switch_of(network, "B")
    trunk = (
        replace(port(20, None), trunk_vlans=frozenset(first)),
        replace(port(20, None), trunk_vlans=frozenset(second)),
    )
    network = with_switch(network, "A", ports=(*a.ports, trunk[0]))
    network = with_switch(network, "B", ports=(*b.ports, trunk[1], port(21, 10)))
    guest = station("guest", 0x20, "B/21", fixed("172.16.10.33/24", "172.16.10.1"))
    return replace(
        network, cables=(*network.cables, Cable(at("A/20"), at("B/20"))), stations=(*network.stations, guest)
    )


def test_a_trunk_carries_the_vlans_listed_at_both_ends():
    """IEEE 802.1Q, from memory: frames keep their VLAN by their tag."""
    assert sent(trunked({10, 30}, {10}), "near", "172.16.10.33") == Delivered("guest", ("near", "guest"))


@pytest.mark.parametrize(("first", "second"), [({10}, {30}), ({30}, {10}), ({30}, {30})])
def test_a_vlan_missing_at_one_end_of_a_trunk_ends_there(first, second):
    outcome = sent(trunked(first, second), "near", "172.16.10.33")
    assert isinstance(outcome, Dropped)
    assert outcome.reason is Reason.NO_ANSWER


def test_a_trunk_keeps_its_vlans_apart():
    """B has VLAN 20 on the trunk too; a frame of VLAN 10 does not get into it."""
    network = trunked({10, 20}, {10, 20})
    assert set(Running(network).domain((switch_of(network, "A").name, 10))) == {("A", 10), ("B", 10)}


def test_a_trunk_and_an_access_port_do_not_understand_each_other():
    """A rule of this lab: no VLAN is native, so a tagged frame is not taken by an access port."""
    network = trunked({10}, {10})
    b = switch_of(network, "B")
    ports = tuple(port(20, 10) if each.name == "20" else each for each in b.ports)
    outcome = sent(with_switch(network, "B", ports=ports), "near", "172.16.10.33")
    assert isinstance(outcome, Dropped)


def test_a_station_on_a_trunk_sends_nothing_that_is_taken():
    """A rule of this lab: no VLAN is native."""
    network = trunked({10}, {10})
    network = with_station(network, "near", at=at("A/20"))
    assert sent(network, "near", TO_FAR) == Dropped(
        "near", Reason.PORT_DOWN, SettingId("A", Part.PORT, "20"), ("near",)
    )


def test_a_reply_is_checked_on_a_trunk_in_the_vlans_that_are_snooped():
    """On a switched uplink trust is essential."""
    network = trunked({10}, {10})
    guest = replace(network.station("guest"), uses_dhcp=True, fixed=None)
    network = replace(network, stations=(*network.stations[:-1], guest))
    assert isinstance(start(network)[1]["guest"], Lease)
    snooping = with_switch(network, "B", snooped_vlans=frozenset({10}))
    missing = Missing("B", Part.TRUST, "20")
    assert start(snooping)[1]["guest"] == Dropped("B", Reason.PORT_NOT_TRUSTED, missing)
    trusting = with_switch(snooping, "B", trusted_ports=frozenset({PortName("20")}))
    assert isinstance(start(trusting)[1]["guest"], Lease)


# --- Interfaces -------------------------------------------------------------------------------------------------------


def test_a_mask_so_wide_that_it_swallows_the_links_network_is_what_is_named():
    """The link's interface comes later, so it is dead (a rule of this lab), and its neighbour finds nobody either."""
    network = interfaces_of_b(interface(20, "172.16.20.1/16"), interface("24", "172.16.0.2/30"))
    too_wide = SettingId("B", Part.VLAN_INTERFACE, "20", "network")
    assert sent(network, "far", "172.16.10.21") == Dropped("B", Reason.NO_ANSWER, too_wide, ("far", "B"))
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ANSWER, too_wide, ("near", "A"))


@pytest.mark.parametrize(
    ("first", "second", "named"),
    [
        pytest.param("172.16.20.1/23", "172.16.21.1/24", "20", id="the first is wider"),
        pytest.param("172.16.20.1/24", "172.16.20.254/16", "30", id="the second is wider"),
        pytest.param("172.16.20.1/24", "172.16.20.254/24", "30", id="equally wide: the one that is refused"),
    ],
)
def test_of_two_interfaces_that_overlap_the_wider_one_is_named(first, second, named):
    """Which of them is dead goes by their order; which is wrong, rather by their masks."""
    ports = (*switch_of(two_switches(), "B").ports, port(9, 30))
    network = with_switch(
        two_switches(),
        "B",
        ports=ports,
        interfaces=(interface("24", "172.16.0.2/30"), interface(20, first), interface(30, second)),
    )
    (dead,) = Running(network).tables[switch_of(network, "B").name].refused_interfaces
    assert dead.interface.place == 30
    assert dead.because == SettingId("B", Part.VLAN_INTERFACE, named, "network")


def test_a_vlan_without_an_interface_is_said_to_have_none():
    network = interfaces_of_b(interface("24", "172.16.0.2/30"))
    missing = Missing("B", Part.VLAN_INTERFACE, "20")
    assert sent(network, "near", TO_FAR) == Dropped("B", Reason.NO_ROUTE, missing, ("near", "A", "B"))
    assert sent(network, "far", "172.16.10.21") == Dropped("far", Reason.NO_ANSWER, missing, ("far",))
    assert start(network)[1]["client"] == Dropped("B", Reason.NO_RELAY, missing)


def test_a_link_without_an_interface_is_said_to_have_none_from_both_sides():
    network = interfaces_of_b(interface(20, "172.16.20.1/24"))
    missing = Missing("B", Part.ROUTED_PORT, "24")
    assert sent(network, "near", TO_FAR) == Dropped("A", Reason.NO_ANSWER, missing, ("near", "A"))
    assert sent(network, "far", "172.16.10.21") == Dropped("B", Reason.NO_ROUTE, missing, ("far", "B"))


@pytest.mark.parametrize("address", ["127.0.0.1", "224.0.0.5", "0.0.0.9", "255.255.255.254"])
def test_a_reserved_address_is_taken_by_no_device(address):
    """RFC 1122 3.2.1.3, RFC 6890 2.2.2."""
    on_switch = interfaces_of_b(interface(20, f"{address}/24"), interface("24", "172.16.0.2/30"))
    named = SettingId("B", Part.VLAN_INTERFACE, "20", "address")
    assert start(on_switch)[1]["client"] == Dropped("B", Reason.NO_RELAY, named)
    on_station = with_station(two_switches(), "far", fixed=fixed(f"{address}/24", "172.16.20.1"))
    named = SettingId("far", Part.STATION, "far", "address")
    assert sent(on_station, "far", "172.16.10.21") == Dropped("far", Reason.NO_ADDRESS, named, ("far",))
    as_target = with_switch(two_switches(), "B", relays=(relay(20, address),))
    named = SettingId("B", Part.RELAY, "relay 20", "target")
    outcome = start(as_target)[1]["client"]
    assert isinstance(outcome, Dropped)
    assert outcome.because == named


def test_a_packet_to_a_reserved_address_is_not_forwarded_even_by_a_default_route():
    """RFC 1812 5.3.7."""
    network = with_switch(two_switches(), "B", routes=(route("default", "0.0.0.0/0", "172.16.0.1"),))
    network = with_switch(network, "B", relays=(relay(20, "127.0.0.1"),))
    outcome = start(network)[1]["client"]
    assert isinstance(outcome, Dropped)
    assert (outcome.at, outcome.reason) == ("B", Reason.NOT_A_HOST)


# --- Stations and the server ------------------------------------------------------------------------------------------


def test_an_address_outside_its_subnet_is_named_by_whoever_looks_for_it():
    network = with_station(two_switches(), "far", fixed=fixed("192.168.5.5/24", "172.16.20.1"))
    named = SettingId("far", Part.STATION, "far", "address")
    outcome = sent(network, "near", "192.168.5.5")
    assert outcome == Dropped("A", Reason.NO_ROUTE, named, ("near", "A"))


def test_an_address_of_another_vlans_network_is_named_from_next_door_and_from_afar():
    """It is looked for where that network is, and nobody is there."""
    network = with_station(two_switches(), "far", fixed=fixed("172.16.10.77/24", "172.16.20.1"))
    named = SettingId("far", Part.STATION, "far", "address")
    assert sent(network, "near", "172.16.10.77") == Dropped("near", Reason.NO_ANSWER, named, ("near",))
    on_b = replace(
        network, stations=(*network.stations, station("guest", 0x20, "B/3", fixed("172.16.20.9/24", "172.16.20.1")))
    )
    assert sent(on_b, "guest", "172.16.10.77") == Dropped("A", Reason.NO_ANSWER, named, ("guest", "B", "A"))


@pytest.mark.parametrize(
    ("gateway", "because"),
    [
        pytest.param("172.16.10.254", SettingId("server", Part.STATION, "server", "gateway"), id="nobody's address"),
        pytest.param("172.16.20.1", SettingId("server", Part.STATION, "server", "gateway"), id="another network's"),
        pytest.param("172.16.10.21", SettingId("server", Part.STATION, "server", "gateway"), id="a station's"),
        pytest.param(None, Missing("server", Part.STATION, "server", "gateway"), id="none"),
    ],
)
def test_a_server_with_a_wrong_gateway_serves_its_own_vlan_only(gateway, because):
    """KERNEL table: same-VLAN clients fine; for relayed ones it offers, and nothing leaves its switch."""
    network = with_station(two_switches(), "server", fixed=fixed("172.16.10.10/24", gateway))
    both = start(network)[1]
    assert isinstance(both["home"], Lease)
    assert isinstance(both["client"], Dropped)
    assert both["client"].because == because


def test_a_server_plugged_into_another_vlan_serves_that_one_with_addresses_of_its_own():
    """KERNEL table: clients of that VLAN get addresses of the server's network; relayed ones get none."""
    network = two_switches()
    a = switch_of(network, "A")
    network = with_switch(network, "A", ports=(port(1, 30), *a.ports[1:], port(5, 30)))
    network = replace(network, stations=(*network.stations, station("stranger", 0x30, "A/5")))
    both = start(network)[1]
    assert isinstance(both["stranger"], Lease)
    assert str(both["stranger"].address) == "172.16.10.100"
    wrong_vlan = SettingId("A", Part.PORT, "1")
    assert both["client"] == Dropped("A", Reason.NO_ANSWER, wrong_vlan, ("B", "A"))


def test_a_pool_without_a_router_leaves_its_clients_in_their_own_network():
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.100", "172.16.20.199"))
    missing = Missing("server", Part.POOL, "20", "router")
    assert stopped(network, "client", "server") == Dropped("client", Reason.NO_GATEWAY, missing, ("client",))
    assert stopped(network, "client", "far") is None


def test_a_pool_with_too_wide_a_mask_makes_its_clients_look_next_door():
    wide = pool("20", "172.16.20.100", "172.16.20.199", router="172.16.20.1", length=16)
    too_wide = SettingId("server", Part.POOL, "20", "network")
    network = with_pools(two_switches(), POOL_10, wide)
    assert stopped(network, "client", "server") == Dropped("client", Reason.NO_ANSWER, too_wide, ("client",))


def test_of_two_pools_whose_networks_hold_giaddr_the_first_is_used():
    """A rule of this lab: RFC 2131 4.3.1 leaves it to the server."""
    wide = pool("wide", "172.16.10.100", "172.16.10.199", length=16)
    network = with_pools(two_switches(), wide, pool("20", "172.16.20.100", "172.16.20.199"))
    lease = start(network)[1]["client"]
    assert isinstance(lease, Lease)
    assert (lease.pool, str(lease.address)) == ("wide", "172.16.10.101")


def test_a_pool_that_lies_in_another_network_than_its_gateway_is_named():
    """RFC 2131 4.3.1: it is for the network of its own addresses, so giaddr finds no pool."""
    off = pool("20", "172.16.30.100", "172.16.30.199", router="172.16.20.1")
    named = SettingId("server", Part.POOL, "20", "network")
    network = with_pools(two_switches(), POOL_10, off)
    assert start(network)[1]["client"] == Dropped("server", Reason.NO_POOL, named)


def test_a_relay_agent_on_the_servers_own_vlan_does_no_harm():
    """KERNEL table: the server gets two copies."""
    network = with_switch(two_switches(), "A", relays=(relay(10, "172.16.10.10"),))
    assert start(network)[1] == start(two_switches())[1]


def test_a_rogue_fools_nobody_in_another_vlan():
    network = with_switch(two_switches(), "B", ports=(port(1, 20), port(2, 20), port(3, 99), port(24, None)))
    running = start(network)[0]
    outcome = rogue_offer(running, network.station("client"), network.station("late"))
    assert outcome == Dropped("late", Reason.OUT_OF_EARSHOT, SettingId("B", Part.PORT, "3"))


# --- Pings that somebody else answers ---------------------------------------------------------------------------------


def test_an_address_that_a_switch_answers_for_does_not_count_as_the_station():
    """The packet is taken on its way, by the switch that has the address too."""
    network = with_station(two_switches(), "near", fixed=fixed("172.16.10.1/24", "172.16.10.1"))
    running = Running(network)
    because = SettingId("near", Part.STATION, "near", "address")
    taken = Dropped("A", Reason.ANOTHER_ANSWERS, because, ("far", "B", "A"))
    assert ping(running, network.station("far"), network.station("near")) == Ping(taken, None)
