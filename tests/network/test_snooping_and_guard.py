"""DHCP snooping and source guard: what a port lets in, what is learnt, and that each protection is what stops the attack.

The rules of RFC 7513 stand in tests/cases/facts/port_filter_rules.csv; where this lab has a rule of its own, the test
says so.
"""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from published import rows_of
from small_networks import (
    at,
    fixed,
    pool,
    port,
    protected,
    relay,
    row,
    station,
    switch_of,
    two_switches,
    with_pools,
    with_station,
    with_switch,
)

from trainer.network import guard, snooping
from trainer.network.addresses import Mac
from trainer.network.devices import BindingRow, Missing, Part, PortName, SettingId
from trainer.network.dhcp import start
from trainer.network.packets import Delivered, Dropped, Packet, Payload, Reason
from trainer.network.topology import Lease, Running
from trainer.network.trials import forge, ping, rogue_offer, without_guard, without_snooping

FAR = int(IPv4Address("172.16.20.21"))
"""The address that is bound to B/1 in protected()."""
ELSEWHERE = int(IPv4Address("172.16.10.21"))
"""Bound too, but to A/2."""
FAR_MAC = Mac("00-00-5E-00-53-03")


def ports(*names):
    return frozenset(PortName(str(name)) for name in names)


def started(network):
    return start(network)[0]


# --- The published rules, row by row ----------------------------------------------------------------------------------


def server_message(*, trusted):
    """What B/1, an access port in a snooped VLAN, does with an OFFER."""
    network = with_switch(protected(), "B", trusted_ports=ports(1, 24) if trusted else ports(24))
    return snooping.check(*way_in(network), packet(Payload.DHCP_REPLY, FAR))


def way_in(network, port="B/1"):
    """The network in operation, and a port of it as frames come in there."""
    running = Running(network)
    return running, running.ingresses[at(port)][0]


def packet(payload, source):
    return Packet(source=source, destination=0xFFFFFFFF, source_mac=FAR_MAC, payload=payload)


def guarded(payload, source):
    """What B/1, a guarded port, does with a packet from there."""
    running, ingress = way_in(protected())
    sent = packet(payload, source)
    return snooping.check(running, ingress, sent) or guard.check(running, ingress, sent, FAR_MAC)


def arp(sender):
    return guard.check_sender(*way_in(protected()), FAR_MAC, sender)


def unguarded(source):
    network = with_switch(protected(), "B", guarded_ports=frozenset())
    return guard.check(*way_in(network), packet(Payload.DATA, source), FAR_MAC)


def rows_learnt(*, trusted=False):
    """What the switch learns when the client at B/2 gets its lease."""
    network = with_switch(protected(), "B", trusted_ports=ports(2, 24) if trusted else ports(24), static_rows=())
    return {each for switch, each in started(network).rows if switch == "B" and each.port == "2"}


FORWARD, DISCARD = "forward", "discard"

DECISIONS = {
    ("DHCP server message (OFFER, ACK, NAK)", "Trust"): lambda: server_message(trusted=True),
    ("DHCP server message (OFFER, ACK, NAK)", "DHCP-Trust"): lambda: server_message(trusted=True),
    ("DHCP server message (OFFER, ACK, NAK)", "neither"): lambda: server_message(trusted=False),
    ("DHCP client message, source 0.0.0.0", "Validating"): lambda: guarded(Payload.DHCP_REQUEST, 0),
    ("DHCP client message, source bound to this anchor", "Validating"): lambda: guarded(Payload.DHCP_REQUEST, FAR),
    ("DHCP client message, other source", "Validating"): lambda: guarded(Payload.DHCP_REQUEST, ELSEWHERE),
    ("ARP, sender IP 0.0.0.0 (probe)", "Validating"): lambda: arp(0),
    ("ARP, sender IP bound to this anchor", "Validating"): lambda: arp(FAR),
    ("ARP, other sender IP", "Validating"): lambda: arp(ELSEWHERE),
    ("data, source BOUND on this anchor", "Validating"): lambda: guarded(Payload.DATA, FAR),
    ("data, other source (also INIT_BIND)", "Validating"): lambda: guarded(Payload.DATA, ELSEWHERE),
    ("data, any source", "not Validating"): lambda: unguarded(ELSEWHERE),
}
"""What our port does with each kind of packet: None where it lets it in. A trusted port of ours is Trust and DHCP-Trust
in one, a guarded one is Validating."""

LEARNING = {
    ("DHCP client message", "DHCP-Snooping"): ("may create / change a binding", False, 1),
    ("DHCP client message", "Trust"): ("forward, no binding", True, 0),
}
"""Decision as published, whether the port is trusted, and how many rows are learnt after the ACK."""

NOT_OURS = {
    ("data, source link-local", "Validating"): "no station of ours has a link-local address",
    ("Neighbor Discovery, source neither link-local nor bound", "Validating"): "IPv6",
    ("DHCPv6 client message, source neither link-local nor bound", "Validating"): "IPv6",
    ("Router Advertisement", "router port (allowed)"): "IPv6",
    ("Router Advertisement", "other port"): "IPv6",
    ("DHCPv6 server message", "port explicitly allowed"): "IPv6",
    ("DHCPv6 server message", "any other port"): "IPv6",
}
"""Rows of the table that ask for something we do not have, and why."""

RULES = {(rule["packet"], rule["port_attribute"]): rule for rule in rows_of("port_filter_rules")}


def test_every_published_rule_is_run_or_listed_with_a_reason():
    assert [*DECISIONS, *LEARNING, *NOT_OURS] == list(dict.fromkeys([*DECISIONS, *LEARNING, *NOT_OURS]))
    assert {*DECISIONS, *LEARNING, *NOT_OURS} == set(RULES)
    assert len(RULES) == len(rows_of("port_filter_rules")) == 21


@pytest.mark.parametrize("rule", DECISIONS, ids=" on ".join)
def test_a_port_decides_as_published(rule):
    """RFC 7513 4.2.1, 4.2.2, 8.1, 8.2, RFC 5227 1.1 (probes); the section of each row stands in the table."""
    outcome = DECISIONS[rule]()
    assert RULES[rule]["decision"] in {FORWARD, DISCARD}
    assert (FORWARD if outcome is None else DISCARD) == RULES[rule]["decision"], RULES[rule]["source_section"]


@pytest.mark.parametrize("rule", LEARNING, ids=" on ".join)
def test_a_port_learns_as_published(rule):
    """RFC 7513 4.2.3, 6.3.2: a row for the client; 4.2.1: none on a trusted port."""
    decision, trusted, count = LEARNING[rule]
    assert RULES[rule]["decision"] == decision
    assert len(rows_learnt(trusted=trusted)) == count


def test_what_a_port_refuses_names_the_port_and_the_missing_setting():
    """RFC 7513 8.2 and 8.1."""
    assert server_message(trusted=False) == Dropped(
        "B", Reason.PORT_NOT_TRUSTED, Missing("B", Part.TRUST, PortName("1"))
    )
    assert guarded(Payload.DATA, ELSEWHERE) == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"))


# --- Trust ------------------------------------------------------------------------------------------------------------


def leases(network):
    return start(network)[1]


def test_with_all_protection_in_place_everybody_gets_a_lease_and_reaches_everybody():
    running, granted = start(protected())
    assert all(isinstance(each, Lease) for each in granted.values())
    stations = running.network.stations
    assert [
        (source.name, target.name)
        for source in stations
        for target in stations
        if source is not target and ping(running, source, target).drop
    ] == []


def test_the_servers_own_port_needs_trust_for_far_clients_too():
    """RFC 7513 4.3.2 (5), 8.2: the answer to a relay agent comes in there as well."""
    stopped = leases(with_switch(protected(), "A", trusted_ports=frozenset()))
    missing = Missing("A", Part.TRUST, PortName("1"))
    assert stopped == {
        "home": Dropped("A", Reason.PORT_NOT_TRUSTED, missing),
        "client": Dropped("A", Reason.PORT_NOT_TRUSTED, missing, ("server",)),
        "late": Dropped("A", Reason.PORT_NOT_TRUSTED, missing, ("server",)),
    }


def test_house_rule_a_routed_uplink_needs_trust_where_its_switch_snoops():
    """A rule of this lab, printed on the Brief as rule 12. RFC 7513 4.3.3 lets a server's answer to a relay pass."""
    stopped = leases(with_switch(protected(), "B", trusted_ports=frozenset()))
    missing = Missing("B", Part.TRUST, PortName("24"))
    assert isinstance(stopped["home"], Lease)
    assert stopped["client"] == Dropped("B", Reason.PORT_NOT_TRUSTED, missing, ("server", "A"))


def test_house_rule_any_snooped_vlan_makes_a_switch_check_its_routed_ports():
    """A rule of this lab: the VLAN need not be the client's."""
    network = protected()
    b = switch_of(network, "B")
    network = with_switch(
        network, "B", ports=(*b.ports, port(9, 90)), snooped_vlans=frozenset({90}), trusted_ports=frozenset()
    )
    stopped = leases(network)["client"]
    assert isinstance(stopped, Dropped)
    assert stopped.reason is Reason.PORT_NOT_TRUSTED


def test_house_rule_a_switch_without_a_snooped_vlan_checks_nothing():
    """A rule of this lab; RFC 7513 4.2.3: snooping acts where it is turned on."""
    network = with_switch(
        protected(), "B", snooped_vlans=frozenset(), trusted_ports=frozenset(), guarded_ports=frozenset()
    )
    assert isinstance(leases(network)["client"], Lease)


def test_an_access_port_outside_the_snooped_vlans_is_not_checked():
    """RFC 7513 4.2.3; snooping by VLAN: common practice, no source."""
    network = with_switch(protected(), "A", snooped_vlans=frozenset({99}), trusted_ports=frozenset())
    assert isinstance(leases(network)["client"], Lease)


def test_a_client_message_needs_no_trust():
    """RFC 7513 8.2 checks server messages; told by the op field (RFC 2131 2), so a relay's request passes too."""
    running, ingress = way_in(with_switch(protected(), "A", trusted_ports=ports(1)), "A/24")
    request = Packet(
        source=int(IPv4Address("172.16.20.1")),
        destination=int(IPv4Address("172.16.10.10")),
        source_mac=Mac("switch B"),
        payload=Payload.DHCP_REQUEST,
    )
    assert snooping.check(running, ingress, request) is None


# --- Learning ---------------------------------------------------------------------------------------------------------


def test_a_row_holds_port_vlan_mac_and_address():
    """RFC 7513 6.4.2.1; VLAN and MAC columns: common practice, no source (S2)."""
    assert rows_learnt() == {
        BindingRow(
            port=PortName("2"),
            vlan=20,
            mac=Mac("00-00-5E-00-53-05"),
            address=IPv4Address("172.16.20.100"),
        )
    }


def test_each_switch_learns_its_own_clients_and_keeps_its_static_rows():
    """RFC 7513 4.2.1: none on the trusted uplink, so a switch's table ends at its own access ports."""
    assert {(switch, str(each.port), str(each.address)) for switch, each in started(protected()).rows} == {
        ("A", "2", "172.16.10.21"),
        ("A", "3", "172.16.10.100"),
        ("B", "1", "172.16.20.21"),
        ("B", "2", "172.16.20.100"),
        ("B", "3", "172.16.20.101"),
    }


def test_nothing_is_learnt_in_a_vlan_that_is_not_snooped():
    """RFC 7513 4.2.3."""
    network = with_switch(protected(), "B", snooped_vlans=frozenset({99}), static_rows=())
    assert [switch for switch, _ in started(network).rows if switch == "B"] == []


def test_nothing_is_learnt_without_a_lease():
    """RFC 7513 6.4.2.1: the ACK makes the row."""
    network = with_switch(protected(), "B", relays=(), static_rows=())
    assert [switch for switch, _ in started(network).rows if switch == "B"] == []


def test_the_row_of_a_declined_address_does_not_stay():
    """RFC 7513 6.4.3: a DECLINE takes the entry away that the ACK made."""
    network = with_pools(protected(), pool("20", "172.16.20.21", "172.16.20.199"))
    network = with_station(network, "far", fixed=fixed("172.16.20.21/24", None))
    running, granted = start(network)
    assert str(granted["client"].address) == "172.16.20.22"
    rows = {str(each.address) for switch, each in running.rows if switch == "B" and each.port == "2"}
    assert rows == {"172.16.20.22"}


# --- Source guard -----------------------------------------------------------------------------------------------------


def lost(network, source, target):
    """What stops a ping; None where it is answered."""
    running = started(network)
    return ping(running, network.station(source), network.station(target)).drop


def test_a_fixed_station_needs_a_static_row():
    """RFC 7513 8.1, RFC 8074 6.1.1 (manual rows)."""
    assert lost(protected(), "far", "server") is None
    stopped = lost(with_switch(protected(), "B", static_rows=()), "far", "server")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"), ("far",))


@pytest.mark.parametrize(
    "wrong",
    [
        pytest.param({"mac": Mac("00-00-5E-00-53-33")}, id="MAC"),
        pytest.param({"address": IPv4Address("172.16.20.22")}, id="address"),
        pytest.param({"port": PortName("2")}, id="port"),
        pytest.param({"vlan": 10}, id="VLAN"),
    ],
)
def test_a_row_with_one_wrong_field_locks_its_station_out_and_is_named(wrong):
    """RFC 7513 8.1 with 4.3.5 (the anchor may hold port and MAC); VLAN column: common practice, no source."""
    network = protected()
    wrong_row = replace(row("far", network, "172.16.20.21"), key="Binding 3", **wrong)
    stopped = lost(with_switch(network, "B", static_rows=(wrong_row,)), "far", "server")
    (field,) = wrong
    named = SettingId("B", Part.BINDING, "Binding 3", field)
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, named, ("far",))


def test_a_row_with_two_wrong_fields_is_nobodys():
    network = protected()
    other = replace(row("far", network, "172.16.20.22"), port=PortName("2"), key="Binding 3")
    stopped = lost(with_switch(network, "B", static_rows=(other,)), "far", "server")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"), ("far",))


def test_a_row_on_another_switch_does_not_help():
    """Each switch has a table of its own (RFC 7513 5: the table is the device's)."""
    network = protected()
    theirs = replace(row("far", network, "172.16.20.21"), key="Binding 3")
    network = with_switch(network, "B", static_rows=())
    network = with_switch(network, "A", static_rows=(*switch_of(network, "A").static_rows, theirs))
    named = SettingId("A", Part.BINDING, "Binding 3", "port")
    assert lost(network, "far", "server") == Dropped("B", Reason.SOURCE_NOT_BOUND, named, ("far",))


def test_a_row_too_many_does_no_harm():
    network = protected()
    extra = replace(row("far", network, "172.16.20.99"), port=PortName("17"))
    network = with_switch(network, "B", static_rows=(*switch_of(network, "B").static_rows, extra))
    assert lost(network, "far", "server") is None


def test_a_guarded_station_without_a_row_does_not_even_answer_arp():
    """RFC 7513 8.2: ARP is checked as data is. So nobody finds it, and a request to it does not arrive."""
    network = with_switch(protected(), "B", static_rows=())
    stopped = lost(network, "server", "far")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"), ("server", "A", "B"))


def test_guard_without_snooping_locks_dhcp_clients_out():
    """RFC 7513 8.1, 9.2: nothing learnt, nothing bound. The client has its lease and cannot use it."""
    network = with_switch(protected(), "B", snooped_vlans=frozenset(), trusted_ports=frozenset())
    assert isinstance(leases(network)["client"], Lease)
    stopped = lost(network, "client", "server")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.SNOOPING, "20"), ("client",))


def test_guard_on_a_clients_trusted_port_locks_it_out():
    """RFC 7513 4.2.1: no row is made on a trusted port; 4.2.6 forbids Trust beside Validating."""
    network = with_switch(protected(), "B", trusted_ports=ports(2, 24))
    stopped = lost(network, "client", "server")
    assert stopped == Dropped("B", Reason.SOURCE_NOT_BOUND, SettingId("B", Part.TRUST, "2"), ("client",))


def test_a_guarded_client_without_an_address_may_ask_for_one():
    """RFC 7513 8.2: source 0.0.0.0 passes."""
    assert isinstance(leases(protected())["client"], Lease)


def test_guard_on_a_routed_uplink_blocks_everything_from_beyond():
    """RFC 7513 8.1: no address from beyond is bound to that port."""
    network = with_switch(protected(), "A", guarded_ports=ports(2, 3, 24))
    stopped = lost(network, "far", "server")
    assert stopped == Dropped("A", Reason.SOURCE_NOT_BOUND, SettingId("A", Part.GUARD, PortName("24")), ("far", "B"))
    assert isinstance(leases(network)["client"], Dropped)


def test_guard_on_the_servers_port_silences_the_server():
    """RFC 7513 8.1; hence rule 13: never the server's port."""
    network = with_switch(protected(), "A", guarded_ports=ports(1, 2, 3))
    missing = Missing("A", Part.BINDING, "A/1")
    assert leases(network)["home"] == Dropped("A", Reason.SOURCE_NOT_BOUND, missing)


# --- Attacks and their controls ---------------------------------------------------------------------------------------


def attacked(network, name="client"):
    """The network in operation, with one protection off in turn: as configured, no snooping, no guard."""
    running = started(network)
    return running, without_snooping(running), without_guard(running), network.station(name)


def test_a_forged_address_is_dropped_by_the_guard_and_by_nothing_else():
    """RFC 7513 8.1, RFC 7039."""
    running, no_snooping, no_guard, client = attacked(protected())
    server, stolen = running.network.station("server"), IPv4Address("172.16.20.21")
    dropped = Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/2"), ("client",))
    assert forge(running, client, server, address=stolen) == dropped
    assert forge(no_snooping, client, server, address=stolen) == dropped
    assert forge(no_guard, client, server, address=stolen) == Delivered("server", ("client", "B", "A", "server"))


def test_a_forged_mac_is_dropped_by_the_guard_and_by_nothing_else():
    """RFC 7513 4.3.5: the MAC is part of the anchor here."""
    running, no_snooping, no_guard, client = attacked(protected())
    server, stolen = running.network.station("server"), Mac("00-00-5E-00-53-03")
    dropped = Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/2"), ("client",))
    assert forge(running, client, server, mac=stolen) == dropped
    assert forge(no_snooping, client, server, mac=stolen) == dropped
    assert isinstance(forge(no_guard, client, server, mac=stolen), Delivered)


def test_both_forged_at_once_do_not_pass_as_somebody_else():
    """RFC 7513 8.1: the row of far is bound to another port."""
    running, _, no_guard, client = attacked(protected())
    server = running.network.station("server")
    forged = {"address": IPv4Address("172.16.20.21"), "mac": Mac("00-00-5E-00-53-03")}
    assert isinstance(forge(running, client, server, **forged), Dropped)
    assert isinstance(forge(no_guard, client, server, **forged), Delivered)


def test_an_unforged_packet_of_the_same_station_passes():
    running, _, _, client = attacked(protected())
    assert isinstance(forge(running, client, running.network.station("server")), Delivered)


def test_a_forgery_without_an_address_of_ones_own_is_dropped_at_home():
    network = protected()
    drop = forge(Running(network), network.station("client"), network.station("server"))
    assert drop == Dropped("client", Reason.NO_ADDRESS, Missing("client", Part.STATION, "client", "lease"), ("client",))


def test_a_rogue_offer_is_dropped_by_snooping_and_by_nothing_else():
    """RFC 7513 8.2. The rogue sends from its own bound address, so the guard lets it in."""
    running, no_snooping, no_guard, rogue = attacked(protected())
    victim = running.network.station("late")
    dropped = Dropped("B", Reason.PORT_NOT_TRUSTED, Missing("B", Part.TRUST, PortName("2")))
    assert rogue_offer(running, rogue, victim) == dropped
    assert rogue_offer(no_guard, rogue, victim) == dropped
    assert rogue_offer(no_snooping, rogue, victim) == Delivered("late", ("client", "late"))


def test_a_rogue_on_a_trusted_port_gets_through():
    """RFC 7513 4.2.2; rule of thumb T8: never trust a user's port."""
    network = with_switch(protected(), "B", trusted_ports=ports(1, 24))
    running = started(network)
    assert isinstance(rogue_offer(running, network.station("far"), network.station("client")), Delivered)


def test_guard_hides_what_snooping_does_when_the_rogue_is_not_bound():
    """An unbound rogue is stopped even with snooping off. That is why the trial's rogue is a bound one."""
    network = with_switch(protected(), "B", static_rows=())
    unprotected = without_snooping(started(network))
    outcome = rogue_offer(unprotected, network.station("far"), network.station("client"))
    assert outcome == Dropped("B", Reason.SOURCE_NOT_BOUND, Missing("B", Part.BINDING, "B/1"))


def test_a_rogue_without_an_address_offers_nothing():
    network = protected()
    outcome = rogue_offer(Running(network), network.station("client"), network.station("late"))
    assert outcome == Dropped(
        "client", Reason.NO_ADDRESS, Missing("client", Part.STATION, "client", "lease"), ("client",)
    )


@pytest.mark.parametrize("control", [without_snooping, without_guard])
def test_a_control_keeps_leases_and_rows(control):
    """Else the control would show what a network does that starts anew, not what one protection does."""
    running = started(protected())
    resumed = control(running)
    assert resumed.leases == running.leases
    assert resumed.rows == running.rows
    assert resumed.network.stations == running.network.stations


def test_a_control_turns_one_protection_off_and_leaves_the_other_on():
    running = started(protected())
    as_configured = checks(running)
    assert checks(without_snooping(running)) == {port: (False, guard) for port, (_, guard) in as_configured.items()}
    assert checks(without_guard(running)) == {port: (snoop, False) for port, (snoop, _) in as_configured.items()}
    assert {True} < {each for both in as_configured.values() for each in both}


def checks(running):
    """For each port whether it checks replies, and whether it is guarded."""
    return {str(port): (each.checks_replies, each.is_guarded) for port, (each,) in running.ingresses.items()}


def test_an_unprotected_network_lets_every_attack_through():
    """The attacks are real ones: nothing but the two protections stops them. A router's own check of sources is off, as
    RFC 1812 5.3.8 has it by default.
    """
    running = started(two_switches())
    client, server = running.network.station("client"), running.network.station("server")
    assert isinstance(rogue_offer(running, client, running.network.station("late")), Delivered)
    assert isinstance(forge(running, client, server, address=IPv4Address("172.16.20.21")), Delivered)
    assert isinstance(forge(running, client, server, mac=Mac("00-00-5E-00-53-03")), Delivered)


def test_visitors_stand_on_unguarded_ports_of_their_own():
    visitor = station("visitor", 0x40, "B/visitor", fixed("172.16.20.50/24", "172.16.20.1"))
    running = started(protected().with_visitors([(visitor, 20)]))
    assert ping(running, visitor, running.network.station("server")).drop is None


def test_a_relays_own_request_passes_a_guarded_vlan():
    """A switch sends it, so it enters by no access port."""
    network = with_station(protected(), "far", uses_dhcp=True, fixed=None)
    network = with_switch(network, "B", relays=(relay(20, "172.16.10.10"),), static_rows=())
    assert isinstance(leases(network)["far"], Lease)
