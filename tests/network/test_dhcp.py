"""The DHCP exchange, through relay agents and without: what is granted, and what stops it (RFC 2131, RFC 1542)."""

from dataclasses import replace
from ipaddress import IPv4Address
from itertools import permutations, product

import pytest
from published import rows_of
from small_networks import (
    LEASE_SECONDS,
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

from trainer.network.devices import Missing, Part, PortName, SettingId
from trainer.network.dhcp import NEXT_STATE, ClientState, Message, offer, request_lease, start
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trace import render
from trainer.network.trials import ping, traced

POOL_10 = pool("10", "172.16.10.100", "172.16.10.199", router="172.16.10.1")
POOL_20 = pool("20", "172.16.20.100", "172.16.20.199", router="172.16.20.1")


def results(network):
    return start(network)[1]


def granted(network):
    """The address each DHCP station was granted, or the reason it was not."""
    return {
        name: str(each.address) if isinstance(each, Lease) else each.reason for name, each in results(network).items()
    }


# --- Leases -----------------------------------------------------------------------------------------------------------


def test_a_lease_comes_through_the_relay_agent():
    """RFC 2131 3.1, RFC 1542 4.1.1: address, mask, router and lease of the pool, by way of giaddr."""
    assert results(two_switches())["client"] == Lease(
        address=IPv4Address("172.16.20.100"),
        prefix_length=24,
        router=IPv4Address("172.16.20.1"),
        lease_seconds=LEASE_SECONDS,
        pool="20",
        relay_address=IPv4Address("172.16.20.1"),
    )


def test_in_the_servers_own_vlan_no_relay_agent_is_needed():
    """RFC 2131 4.3.1: giaddr is 0, so the pool is that of the network the message came from."""
    lease = results(two_switches())["home"]
    assert isinstance(lease, Lease)
    assert (str(lease.address), lease.pool, lease.relay_address) == ("172.16.10.100", "10", None)


def test_a_relay_agent_is_needed_on_the_servers_switch_too():
    """DHCP broadcasts stay in their VLAN (RFC 1542 4.1.1 relays by interface, not by switch)."""
    network = two_switches()
    a = switch_of(network, "A")
    network = with_switch(
        network,
        "A",
        ports=(*a.ports, port(4, 30)),
        interfaces=(*a.interfaces, interface(30, "172.16.30.1/24")),
    )
    network = replace(network, stations=(*network.stations, station("neighbour", 0x30, "A/4")))
    network = with_pools(network, POOL_10, POOL_20, pool("30", "172.16.30.100", "172.16.30.199"))
    assert results(network)["neighbour"] == Dropped("A", Reason.NO_RELAY, Missing("A", Part.RELAY, "30"))
    lease = results(with_switch(network, "A", relays=(relay(30, "172.16.10.10"),)))["neighbour"]
    assert isinstance(lease, Lease)
    assert (str(lease.address), str(lease.relay_address)) == ("172.16.30.100", "172.16.30.1")


def test_giaddr_is_the_address_of_the_interface_that_heard_the_client():
    """RFC 1542 4.1.1. It is not the address the packet leaves by (172.16.0.2), nor the router option (RFC 1542 3.4)."""
    network = with_switch(
        two_switches(), "B", interfaces=(interface(20, "172.16.20.254/24"), interface("24", "172.16.0.2/30"))
    )
    lease = results(network)["client"]
    assert isinstance(lease, Lease)
    assert (str(lease.relay_address), str(lease.router)) == ("172.16.20.254", "172.16.20.1")


@pytest.mark.parametrize("pools", [(POOL_10, POOL_20), (POOL_20, POOL_10)])
def test_the_pool_is_the_one_whose_network_holds_giaddr(pools):
    """RFC 2131 4.3.1; the order of the pools is no matter."""
    assert granted(with_pools(two_switches(), *pools)) == {
        "home": "172.16.10.100",
        "client": "172.16.20.100",
        "late": "172.16.20.101",
    }


def test_the_lowest_free_address_goes_to_whoever_starts_first():
    """A rule of this lab: RFC 2131 4.3.1 prefers a client's earlier or requested address."""
    network = two_switches()
    assert [granted(network)[name] for name in ("client", "late")] == ["172.16.20.100", "172.16.20.101"]
    backwards = replace(network, stations=network.stations[::-1])
    assert [granted(backwards)[name] for name in ("client", "late")] == ["172.16.20.101", "172.16.20.100"]


def test_a_station_with_a_fixed_address_asks_for_no_lease():
    assert set(results(two_switches())) == {"home", "client", "late"}


def test_a_client_works_with_its_lease():
    running, _ = start(two_switches())
    host = running.host(running.network.station("client"))
    assert host is not None
    assert (host.address, host.gateway) == (int(IPv4Address("172.16.20.100")), int(IPv4Address("172.16.20.1")))


# --- The way to the server --------------------------------------------------------------------------------------------


def test_without_a_relay_agent_the_request_stays_in_its_vlan():
    """RFC 1542 4.1.1: relaying is off unless it is configured."""
    stopped = results(with_switch(two_switches(), "B", relays=()))
    assert stopped["client"] == Dropped("B", Reason.NO_RELAY, Missing("B", Part.RELAY, "20"))
    assert isinstance(stopped["home"], Lease)


def test_a_relay_agent_on_another_vlan_does_not_hear_the_client():
    """RFC 1542 4.1.1: it works on the interface the request came in on."""
    stopped = results(with_switch(two_switches(), "B", relays=(relay(30, "172.16.10.10"),)))["client"]
    assert stopped == Dropped("B", Reason.NO_RELAY, Missing("B", Part.RELAY, "20"))


def test_a_relay_agent_on_a_vlan_without_an_interface_does_not_start():
    """RFC 1542 4.1.1: it needs an address to fill in as giaddr."""
    network = with_switch(two_switches(), "B", interfaces=(interface("24", "172.16.0.2/30"),))
    assert results(network)["client"] == Dropped("B", Reason.NO_RELAY, Missing("B", Part.VLAN_INTERFACE, "20"))


@pytest.mark.parametrize(
    ("target", "wanted"),
    [
        pytest.param(
            "172.16.10.21",
            Dropped("near", Reason.NO_SERVER_THERE, SettingId("B", Part.RELAY, "relay 20", "target")),
            id="a station that is no server",
        ),
        pytest.param(
            "172.16.10.1",
            Dropped("A", Reason.NO_SERVER_THERE, SettingId("B", Part.RELAY, "relay 20", "target")),
            id="the gateway of the server's network",
        ),
        pytest.param(
            "172.16.20.1",
            Dropped("B", Reason.NO_SERVER_THERE, SettingId("B", Part.RELAY, "relay 20", "target")),
            id="its own gateway",
        ),
        pytest.param(
            "172.16.10.250",
            Dropped("A", Reason.NO_ANSWER, SettingId("B", Part.RELAY, "relay 20", "target"), ("B", "A")),
            id="an unused address of the server's network",
        ),
        pytest.param(
            "172.16.10.255",
            Dropped("A", Reason.NOT_A_HOST, SettingId("B", Part.RELAY, "relay 20", "target"), ("B", "A")),
            id="the broadcast address of the server's network",
        ),
        pytest.param(
            "192.0.2.1",
            Dropped("B", Reason.NO_ROUTE, SettingId("B", Part.RELAY, "relay 20", "target"), ("B",)),
            id="an address that no route leads to",
        ),
    ],
)
def test_a_wrong_relay_target_is_named_where_the_request_ends(target, wanted):
    """RFC 1542 4.1.1: the request goes to the configured destination and nowhere else."""
    network = with_switch(two_switches(), "B", relays=(relay(20, target),))
    assert results(network)["client"] == wanted


def test_a_second_target_makes_up_for_a_dead_one():
    """RFC 1542 4.1.1: destinations, in the plural; a request goes to each."""
    relays = (relay(20, "172.16.10.250", "dead"), relay(20, "172.16.10.10", "alive"))
    assert granted(with_switch(two_switches(), "B", relays=relays))["client"] == "172.16.20.100"


def test_of_several_failed_targets_the_first_is_named():
    relays = (relay(20, "172.16.10.21", "first"), relay(20, "172.16.10.1", "second"))
    stopped = results(with_switch(two_switches(), "B", relays=relays))["client"]
    assert stopped == Dropped("near", Reason.NO_SERVER_THERE, SettingId("B", Part.RELAY, "first", "target"))


def test_the_relays_switch_needs_a_route_to_the_server():
    """D23: the relay agent's packet is routed like any other (RFC 1812 5.2.4.3)."""
    stopped = results(with_switch(two_switches(), "B", routes=()))["client"]
    assert stopped == Dropped("B", Reason.NO_ROUTE, Missing("B", Part.ROUTE, "172.16.10.10"), ("B",))


def test_a_server_on_a_port_that_is_down_hears_nothing():
    network = two_switches()
    network = with_switch(network, "A", ports=switch_of(network, "A").ports[1:])
    wanted = Missing("A", Part.PORT, "1")
    assert results(network)["client"] == Dropped("A", Reason.NO_ANSWER, wanted, ("B", "A"))


def test_a_server_without_an_address_hears_nothing():
    network = with_station(two_switches(), "server", fixed=None, uses_dhcp=False)
    stopped = results(network)
    because = Missing("server", Part.STATION, "server", "address")
    assert stopped["client"] == Dropped("A", Reason.NO_ANSWER, because, ("B", "A"))
    assert stopped["home"] == Dropped("A", Reason.NO_RELAY, because)


def test_without_a_server_nobody_gets_a_lease():
    stopped = results(replace(two_switches(), server=None))
    because = SettingId("B", Part.RELAY, "relay 20", "target")
    assert stopped["client"] == Dropped("server", Reason.NO_SERVER_THERE, because)
    assert stopped["home"] == Dropped("A", Reason.NO_RELAY, Missing("A", Part.RELAY, "10"))


def test_a_client_on_a_port_that_is_down_asks_nobody():
    network = with_switch(two_switches(), "B", ports=(port(1, 20), port(3, 20), port(24, None)))
    assert results(network)["client"] == Dropped("client", Reason.PORT_DOWN, Missing("B", Part.PORT, "2"))


def test_a_client_on_a_port_of_another_vlan_is_served_for_that_vlan():
    """The access port decides which network a client is in (common practice, no source)."""
    network = two_switches()
    network = with_switch(network, "A", ports=(*switch_of(network, "A").ports, port(5, 10)))
    network = with_station(network, "client", at=network.station("near").at)
    assert granted(network)["client"] == "172.16.10.101"


# --- What the server offers -------------------------------------------------------------------------------------------


def test_without_a_pool_for_giaddr_there_is_no_offer():
    """RFC 2131 4.3.1: the subnet of giaddr."""
    stopped = results(with_pools(two_switches(), POOL_10))["client"]
    assert stopped == Dropped("server", Reason.NO_POOL, Missing("server", Part.POOL, "172.16.20.1"))


def test_a_gateway_in_another_network_finds_no_pool():
    """RFC 2131 4.3.1: giaddr is that wrong address."""
    network = with_switch(
        two_switches(), "B", interfaces=(interface(20, "172.16.21.1/24"), interface("24", "172.16.0.2/30"))
    )
    stopped = results(network)["client"]
    assert stopped == Dropped("server", Reason.NO_POOL, Missing("server", Part.POOL, "172.16.21.1"))


def test_an_empty_pool_turns_the_next_client_away():
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.100", "172.16.20.100"))
    both = results(network)
    assert isinstance(both["client"], Lease)
    assert both["late"] == Dropped("server", Reason.POOL_EMPTY, SettingId("server", Part.POOL, "20", "last"))


def test_a_pool_whose_last_address_is_below_its_first_is_turned_round():
    """As servers do (tests/kernel compares it)."""
    assert granted(with_pools(two_switches(), POOL_10, pool("20", "172.16.20.199", "172.16.20.150"))) == {
        "home": "172.16.10.100",
        "client": "172.16.20.150",
        "late": "172.16.20.151",
    }


@pytest.mark.parametrize(
    ("refused", "field"),
    [
        pytest.param(pool("20", "172.16.20.100", "172.16.21.9", router="172.16.20.1"), "last", id="the last address"),
        pytest.param(
            pool("20", "172.16.21.100", "172.16.20.199", router="172.16.20.1"), "first", id="the first address"
        ),
        pytest.param(
            pool("20", "172.16.20.100", "172.16.20.199", router="172.16.20.1", length=26), "network", id="the mask"
        ),
        pytest.param(pool("20", "172.16.20.100", "172.16.21.9"), "last", id="nothing tells which"),
    ],
)
def test_a_server_does_not_start_with_a_pool_that_goes_past_its_network(refused, field):
    """As servers do (tests/kernel compares it): nobody gets a lease, of the other pools either."""
    stopped = Dropped("server", Reason.SERVER_REFUSES, SettingId("server", Part.POOL, "20", field))
    assert set(results(with_pools(two_switches(), POOL_10, refused)).values()) == {stopped}


def test_of_several_pools_that_fit_an_empty_one_is_passed_over():
    """As a general-purpose server does (tests/kernel compares it); RFC 2131 4.3.1 asks for a subnet, not for one pool."""
    empty = pool("10", "172.16.20.1", "172.16.20.1")
    assert granted(with_pools(two_switches(), empty, POOL_20))["client"] == "172.16.20.100"
    both_empty = with_pools(two_switches(), empty, pool("20", "172.16.20.21", "172.16.20.21"))
    stopped = results(both_empty)["client"]
    assert stopped == Dropped("server", Reason.POOL_EMPTY, SettingId("server", Part.POOL, "10", "last"))


# --- Addresses in use -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "lowest"),
    [
        pytest.param("172.16.20.1", "172.16.20.2", id="the gateway"),
        pytest.param("172.16.20.21", "172.16.20.22", id="a station with a fixed address"),
    ],
)
def test_an_address_in_use_is_passed_over(first, lowest):
    """RFC 2131 3.1 step 2, 4.3.1: the server checks that nobody uses an address before it offers it."""
    network = with_pools(two_switches(), POOL_10, pool("20", first, "172.16.20.199", router="172.16.20.1"))
    running, leases = start(network)
    lease = leases["client"]
    assert isinstance(lease, Lease)
    assert str(lease.address) == lowest
    assert all(ping(running, one, other).drop is None for one, other in permutations(network.stations, 2))


def test_the_server_hands_out_no_address_of_its_own():
    network = with_pools(two_switches(), pool("10", "172.16.10.10", "172.16.10.199"), POOL_20)
    assert granted(network)["home"] == "172.16.10.11"


def test_a_client_declines_an_address_that_the_server_could_not_find_in_use():
    """RFC 2131 3.1 step 5, 4.4.1: far has no gateway, so that it answers its VLAN's ARP and not the server's ping."""
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.21", "172.16.20.199"))
    network = with_station(network, "far", fixed=fixed("172.16.20.21/24", None))
    running, leases = start(network)
    assert [str(leases[name].address) for name in ("client", "late")] == ["172.16.20.22", "172.16.20.23"]
    assert running.declined == {IPv4Address("172.16.20.21")}, "RFC 2131 4.3.3: handed out no more"


def test_steps_tell_who_found_an_address_in_use():
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.1", "172.16.20.199"))
    client = network.station("client")
    text = render(traced(request_lease, Running(network), client).steps)
    assert "server checks whether 172.16.20.1 is in use: it is, and is passed over." in text
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.21", "172.16.20.199"))
    network = with_station(network, "far", fixed=fixed("172.16.20.21/24", None))
    text = render(traced(request_lease, Running(network), client).steps)
    assert "client asks who has 172.16.20.21: far answers, so it declines the address." in text


def test_of_two_who_claim_an_address_one_answers_the_server():
    network = with_pools(two_switches(), pool("10", "172.16.10.21", "172.16.10.199"), POOL_20)
    network = replace(network, stations=(*network.stations, replace(network.station("near"), name="double")))
    assert granted(network)["home"] == "172.16.10.22"


def test_whom_neither_server_nor_client_hears_has_a_double():
    """Source guard drops its answers to a ping (RFC 7513 8.1) and to the client's probe (RFC 5227 2.1.1, RFC 7513 8.2)."""
    network = with_pools(two_switches(), POOL_10, pool("20", "172.16.20.21", "172.16.20.199"))
    guarded = with_switch(network, "B", guarded_ports=frozenset({PortName("1")}))
    assert granted(guarded)["client"] == "172.16.20.21"


def test_a_client_that_asks_again_gets_its_present_address():
    """RFC 2131 4.3.1: the client's current address as recorded in its current binding, before any other."""
    network = two_switches()
    running, leases = start(network)
    for name in ("client", "late"):
        assert request_lease(running, network.station(name)) == leases[name]


def test_an_address_in_use_in_another_network_is_no_duplicate():
    """Only devices in one broadcast domain meet (RFC 5227 1)."""
    network = with_station(two_switches(), "near", fixed=fixed("172.16.20.100/24", None))
    assert granted(network)["client"] == "172.16.20.100"


def test_an_offer_can_be_asked_for_alone():
    """RFC 2131 4.3.1: by giaddr, or by the server's own network where giaddr is 0."""
    running = Running(two_switches())
    heard_on = switch_of(running.network, "B").interfaces[0]
    client = running.network.station("client")
    relayed, direct = offer(running, client, heard_on), offer(running, client, None)
    assert isinstance(relayed, Lease)
    assert isinstance(direct, Lease)
    assert (str(relayed.address), str(direct.address)) == ("172.16.20.100", "172.16.10.100")


# --- The way back -----------------------------------------------------------------------------------------------------


def test_the_answer_needs_the_return_route_to_giaddr():
    """RFC 2131 4.1: the answer goes to giaddr; D23: so the server's side needs a route there."""
    stopped = results(with_switch(two_switches(), "A", routes=()))["client"]
    assert stopped == Dropped("A", Reason.NO_ROUTE, Missing("A", Part.ROUTE, "172.16.20.1"), ("server", "A"))


def test_a_route_to_the_link_alone_does_not_bring_the_answer_back():
    """RFC 2131 4.1: giaddr, not the address the relayed packet came from."""
    network = with_switch(two_switches(), "A", routes=(route("link", "172.16.0.0/24", "172.16.0.2"),))
    stopped = results(network)["client"]
    assert stopped == Dropped("A", Reason.NO_ROUTE, Missing("A", Part.ROUTE, "172.16.20.1"), ("server", "A"))


def test_a_server_without_a_gateway_answers_its_own_vlan_only():
    network = with_station(two_switches(), "server", fixed=fixed("172.16.10.10/24", None))
    both = results(network)
    assert isinstance(both["home"], Lease)
    missing = Missing("server", Part.STATION, "server", "gateway")
    assert both["client"] == Dropped("server", Reason.NO_GATEWAY, missing, ("server",))


def test_an_answer_that_reaches_another_device_than_the_relay_agent_is_discarded():
    """RFC 1542 4.1.2: a reply whose giaddr is none of the relay agent's own interfaces is discarded."""
    network = two_switches()
    a = switch_of(network, "A")
    network = with_switch(
        network,
        "A",
        ports=(*a.ports, port(4, 30)),
        interfaces=(*a.interfaces, interface(30, "172.16.20.1/24")),
    )
    because = SettingId("B", Part.VLAN_INTERFACE, "20", "address")
    assert results(network)["client"] == Dropped("A", Reason.NOT_THE_RELAY, because)


def test_snooping_on_the_way_back_stops_the_offer():
    """RFC 7513 8.2, with the answer still on its way to giaddr."""
    network = with_switch(two_switches(), "A", snooped_vlans=frozenset({10}), trusted_ports=frozenset())
    missing = Missing("A", Part.TRUST, PortName("1"))
    assert results(network)["client"] == Dropped("A", Reason.PORT_NOT_TRUSTED, missing, ("server",))


# --- The client's states ----------------------------------------------------------------------------------------------

FIGURE_5 = {
    (ClientState.INIT, Message.DISCOVER): ClientState.SELECTING,
    (ClientState.SELECTING, Message.OFFER): ClientState.REQUESTING,
    (ClientState.REQUESTING, Message.ACK): ClientState.BOUND,
    (ClientState.REQUESTING, Message.NAK): ClientState.INIT,
}
"""RFC 2131 figure 5, as far as a client without a lease goes; it sends REQUEST itself on entering REQUESTING."""


@pytest.mark.parametrize(("state", "message"), list(product(ClientState, Message)))
def test_the_table_of_states_is_closed(state, message):
    """Every state, every message: the next state of RFC 2131 figure 5, or no entry."""
    assert NEXT_STATE[state].get(message) is FIGURE_5.get((state, message))


def test_the_table_of_states_has_no_state_of_its_own():
    assert set(NEXT_STATE) == set(ClientState)
    assert {to for row in NEXT_STATE.values() for to in row.values()} <= set(ClientState)


def test_every_state_is_reached_from_the_first():
    reached = [ClientState.INIT]
    for state in reached:
        reached += [each for each in NEXT_STATE[state].values() if each not in reached]
    assert set(reached) == set(ClientState)


@pytest.mark.parametrize("message", Message)
def test_messages_have_the_published_numbers(message):
    """RFC 2132 9.6."""
    names = {int(each["value"]): each["name"] for each in rows_of("dhcp_message_types")}
    assert names[message.value] == f"DHCP{message.name}"
