"""Renewals, ARP forgeries, and what whoever sends a ping sees of it."""

from ipaddress import IPv4Address

import pytest
from sending import forge_arp
from small_networks import at, fixed, pool, protected, route, two_switches, with_pools, with_station, with_switch

from trainer.network.devices import Missing, Part, PortName, SettingId
from trainer.network.dhcp import Renewal, renew, start
from trainer.network.packets import Delivered, Dropped, Icmp, Reason
from trainer.network.topology import Running
from trainer.network.trials import Heard, forge, heard, hearers, ping, rogue_on_link, without_guard, without_snooping


def renewed(network, name="client", *, after=lambda network: network):
    """What becomes of a renewal; after: what is changed once the lease is there."""
    return kept(network, name, after=after).unicast


def kept(network, name="client", *, after=lambda network: network):
    """The same, with what becomes of it at T2."""
    running = start(network)[0].resumed_in(after(network))
    return renew(running, network.station(name))


# --- A rogue server on a link ------------------------------------------------------------------------------------------


def let_in(network, place):
    """What becomes of a rogue server's message on the link port that is written like A/24."""
    return rogue_on_link(Running(network), at(place))


def test_a_false_server_on_a_link_is_stopped_where_the_port_is_not_trusted():
    """RFC 7513 8.2; that routed ports are checked too is a rule of this lab."""
    assert let_in(protected(), "A/24") == Dropped("A", Reason.PORT_NOT_TRUSTED, Missing("A", Part.TRUST, "24"))


def test_a_false_server_on_a_link_gets_in_where_the_port_is_trusted_or_nothing_is_snooped():
    assert let_in(protected(), "B/24") == Delivered("B")
    assert let_in(two_switches(), "A/24") == Delivered("A")
    assert rogue_on_link(without_snooping(Running(protected())), at("A/24")) == Delivered("A")


def test_a_false_server_on_a_port_that_is_off_gets_nowhere():
    off = with_switch(protected(), "A", ports=())
    assert let_in(off, "A/24") == Dropped("A", Reason.PORT_DOWN, Missing("A", Part.PORT, "24"))


# --- Renewal ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["home", "client", "late"])
def test_a_lease_is_renewed_with_all_protection_in_place(name):
    """RFC 2131 4.3.2: unicast; RFC 7513 8.2: the client's source is bound; the answer comes in on trusted ports."""
    assert renewed(protected(), name) is None


def test_a_renewal_needs_no_relay_agent():
    """RFC 2131 4.3.2, D23: giaddr is 0, the relay agent has no part in it."""
    assert renewed(two_switches(), after=lambda network: with_switch(network, "B", relays=())) is None


DEAD_ROUTER = pool("20", "172.16.20.100", "172.16.20.199", router="172.16.20.254")


def test_a_renewal_through_a_dead_router_succeeds_by_broadcast():
    """RFC 2131 4.4.5: at T2 the client broadcasts its request, and the relay agent hears it."""
    found = kept(with_pools(two_switches(), DEAD_ROUTER))
    assert found.unicast is not None
    assert found.broadcast is None
    assert found.drop is None


def test_a_lease_is_lost_where_unicast_and_broadcast_are_stopped():
    found = kept(with_pools(two_switches(), DEAD_ROUTER), after=lambda network: with_switch(network, "B", relays=()))
    assert found.broadcast == Dropped("B", Reason.NO_RELAY, Missing("B", Part.RELAY, "20"))
    assert found.drop == found.unicast


def test_source_guard_wants_a_row_for_a_renewal_by_broadcast_too():
    """RFC 7513 8.2: it has the client's address as its source (RFC 2131 table 4)."""
    network = with_switch(protected(), "B", trusted_ports=frozenset({PortName("2"), PortName("24")}))
    found = kept(network)
    assert found.broadcast is not None
    assert found.broadcast.reason is Reason.SOURCE_NOT_BOUND


def test_a_server_that_is_asked_from_another_network_renews_nothing():
    """RFC 2131 4.3.2: giaddr says in which network the client is now."""

    def moved(network):
        return with_station(network, "client", at=network.station("near").at)

    found = kept(two_switches(), after=moved)
    because = SettingId("server", Part.POOL, "20", "network")
    assert found.broadcast == Dropped("server", Reason.NOT_ITS_ADDRESS, because)


def test_a_renewal_by_unicast_needs_the_clients_own_router():
    """RFC 2131 4.3.2. The first exchange went through the relay agent and needed none."""
    network = with_pools(two_switches(), DEAD_ROUTER)
    router = SettingId("server", Part.POOL, "20", "router")
    assert renewed(network) == Dropped("client", Reason.NO_ANSWER, router, ("client",))


def test_a_renewal_needs_the_return_route_to_the_client():
    """D23: routes both ways between the two networks."""
    lost = renewed(two_switches(), after=lambda network: with_switch(network, "A", routes=()))
    assert lost == Dropped("A", Reason.NO_ROUTE, Missing("A", Part.ROUTE, "172.16.20.100"), ("server", "A"))


def test_the_answer_to_a_renewal_is_checked_by_snooping():
    """RFC 7513 8.2: it is a server message like any other; on a routed uplink by the rule of this lab."""
    lost = renewed(protected(), after=lambda network: with_switch(network, "B", trusted_ports=frozenset()))
    missing = Missing("B", Part.TRUST, "24")
    assert lost == Dropped("B", Reason.PORT_NOT_TRUSTED, missing, ("server", "A"))


def test_a_renewal_passes_the_guard_only_with_the_clients_row():
    """RFC 7513 8.2: a client message with a source address needs its row; a renewal has one (RFC 2131 4.3.2)."""
    network = with_switch(protected(), "B", trusted_ports=frozenset({PortName("2"), PortName("24")}))
    trusted = SettingId("B", Part.TRUST, "2")
    assert renewed(network) == Dropped("B", Reason.SOURCE_NOT_BOUND, trusted, ("client",))


def test_without_a_lease_there_is_nothing_to_renew():
    network = two_switches()
    missing = Missing("client", Part.STATION, "client", "lease")
    outcome = renew(Running(network), network.station("client"))
    none = Dropped("client", Reason.NO_ADDRESS, missing)
    assert outcome == Renewal(none, none)
    assert outcome.drop == none


def test_a_server_that_lost_its_address_renews_nothing():
    lost = renewed(two_switches(), after=lambda network: with_station(network, "server", fixed=None))
    assert lost == Dropped("server", Reason.NO_ADDRESS, Missing("server", Part.STATION, "server", "address"))


def test_a_server_whose_address_a_switch_has_too_is_not_reached():
    def at_the_gateways_address(network):
        return with_station(network, "server", fixed=fixed("172.16.10.1/24", "172.16.10.1"))

    named = SettingId("server", Part.STATION, "server", "address")
    lost = renewed(two_switches(), after=at_the_gateways_address)
    assert lost == Dropped("A", Reason.NO_SERVER_THERE, named, ("client", "B", "A"))


# --- ARP --------------------------------------------------------------------------------------------------------------

GATEWAY = IPv4Address("172.16.20.1")


def test_a_guarded_port_lets_nobody_claim_the_gateways_address():
    """RFC 7513 8.2: the sender's address of an ARP message must be bound to the port."""
    network = protected()
    running = start(network)[0]
    client, late = network.station("client"), network.station("late")
    dropped = Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/2"))
    assert forge_arp(running, client, late, GATEWAY) == dropped
    assert forge_arp(without_guard(running), client, late, GATEWAY) == Delivered("late", ("client", "late"))
    assert isinstance(forge_arp(running, client, late, IPv4Address("172.16.20.100")), Delivered)


def test_arp_does_not_leave_its_vlan():
    """RFC 826, from memory: it is a broadcast in the frame's network."""
    running = start(two_switches())[0]
    near, far = running.network.station("near"), running.network.station("far")
    assert far not in hearers(running, near)


# --- What is heard of a ping ------------------------------------------------------------------------------------------


def heard_by_near(network):
    running = start(network)[0]
    near = network.station("near")
    return heard(running, near, ping(running, near, network.station("far")))


NOTHING = Heard(answered=False)


@pytest.mark.parametrize(
    ("network", "wanted"),
    [
        pytest.param(two_switches(), Heard(answered=True), id="the answer"),
        pytest.param(
            with_switch(two_switches(), "A", routes=()),
            Heard(answered=False, error=Icmp.NETWORK_UNREACHABLE, teller="A"),
            id="no route here: RFC 1812 4.3.3.1, 5.2.7.1, code 0",
        ),
        pytest.param(
            with_switch(two_switches(), "B", interfaces=two_switches().switches[1].interfaces[1:]),
            Heard(answered=False, error=Icmp.NETWORK_UNREACHABLE, teller="B"),
            id="no route behind the next switch, which knows the way back",
        ),
        pytest.param(
            with_switch(two_switches(), "B", interfaces=two_switches().switches[1].interfaces[1:], routes=()),
            NOTHING,
            id="no route behind the next switch, and no way back for the message",
        ),
        pytest.param(
            with_switch(two_switches(), "B", ports=two_switches().switches[1].ports[1:]),
            NOTHING,
            id="no host there: that rests on a neighbour's silence, and is open",
        ),
        pytest.param(with_switch(two_switches(), "B", routes=()), NOTHING, id="the answer is lost: its sender is told"),
        pytest.param(
            with_switch(
                with_switch(two_switches(), "A", routes=(route("A to 20", "172.16.20.0/24", "172.16.0.2"),)),
                "B",
                interfaces=two_switches().switches[1].interfaces[1:],
                routes=(route("B default", "0.0.0.0/0", "172.16.0.1"),),
            ),
            Heard(answered=False, error=Icmp.TIME_EXCEEDED, teller="B"),
            id="in circles: RFC 1812 5.3.1",
        ),
        pytest.param(
            with_station(two_switches(), "near", fixed=fixed("172.16.10.21/24", None)),
            NOTHING,
            id="no gateway: no switch knows of it",
        ),
        pytest.param(
            with_station(two_switches(), "near", fixed=fixed("172.16.10.21/24", "172.16.10.10")),
            NOTHING,
            id="the gateway is a host, which says nothing: RFC 1122 3.2.1.3",
        ),
    ],
)
def test_who_sends_a_ping_hears_from_the_switch_whose_routing_table_stops_it(network, wanted):
    assert heard_by_near(network) == wanted


@pytest.mark.parametrize(
    ("message", "number"),
    [(Icmp.NETWORK_UNREACHABLE, (3, 0)), (Icmp.TIME_EXCEEDED, (11, 0))],
)
def test_messages_have_their_published_type_and_code(message, number):
    """RFC 1812 4.3.3.1 (codes 0 and 1), 5.3.1 (code 0); the types from RFC 792, from memory."""
    assert message.value == number


# --- A sender without an address --------------------------------------------------------------------------------------


@pytest.mark.parametrize("address", ["0.0.0.0", "127.0.0.1", "224.0.0.1", "255.255.255.255"])
def test_a_switch_forwards_nothing_from_an_address_that_no_device_may_have(address):
    """RFC 1812 5.3.7; the host that is near hears it all the same."""
    running = start(two_switches())[0]
    far, near, client = (running.network.station(name) for name in ("far", "near", "client"))
    stopped = forge(running, far, near, address=IPv4Address(address))
    cause = Missing("B", Part.STATION, address, "address")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_A_HOST, cause, ("far", "B"))
    assert isinstance(forge(running, far, client, address=IPv4Address(address)), Delivered)
