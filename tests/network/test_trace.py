"""The steps of a trial: read as text, led to settings by, and no part of the outcome."""

from dataclasses import replace
from itertools import permutations

import pytest
from small_networks import interface, protected, station, two_switches, with_station, with_switch

from trainer.network.devices import Part, SettingId
from trainer.network.dhcp import renew, request_lease, start
from trainer.network.packets import Dropped, Reason
from trainer.network.topology import Running
from trainer.network.trace import Lookup, Step, Tracer, render
from trainer.network.trials import forge, ping, rogue_offer, traced


def steps_of(trial, network, *names):
    """The steps of a trial between stations, all of which have started."""
    running = start(network)[0]
    return traced(trial, running, *(network.station(name) for name in names)).steps


# --- As text ----------------------------------------------------------------------------------------------------------


def test_a_lease_through_a_relay_agent_reads_as_what_each_device_did():
    """RFC 2131 3.1, RFC 1542 4.1.1, RFC 7513 8.2 and 6.4.2.1, in the order in which it happens."""
    network = protected()
    text = render(traced(request_lease, Running(network), network.station("client")).steps)
    answer = (
        "server sends a DHCP server message, a packet from 172.16.10.10 to 172.16.20.1: its address is "
        "172.16.10.10/24, gateway 172.16.10.1.",
        "server asks who has 172.16.10.1: A answers.",
        "A checks a DHCP server message that comes in on port A/1: the port is trusted.",
        "A looks up the way to 172.16.20.1: static route to 172.16.20.0/24, next hop 172.16.0.2 on port 24.",
        "A asks who has 172.16.0.2: B answers.",
        "B checks a DHCP server message that comes in on port B/24: the port is trusted.",
        "B receives the packet to 172.16.20.1: the address is its own.",
        "B hands the answer on to client: it goes out to VLAN 20 on switch B.",
    )
    assert text == (
        "client sends a DHCP client message to everybody near: it is in VLAN 20 on switch B.",
        "B hears the request of client: its relay agent sends it to 172.16.10.10 with giaddr 172.16.20.1.",
        "B looks up the way to 172.16.10.10: static route to 172.16.10.0/24, next hop 172.16.0.1 on port 24.",
        "B asks who has 172.16.0.1: A answers.",
        "A looks up the way to 172.16.10.10: connected network 172.16.10.0/24 on VLAN 10.",
        "A asks who has 172.16.10.10: server answers.",
        "server receives the packet to 172.16.10.10: the address is its own.",
        "server looks for the pool whose network holds 172.16.20.1: pool 20.",
        "server looks for a free address in pool 20: 172.16.20.100 is the lowest.",
        "server answers with OFFER: 172.16.20.100 for client.",
        *answer,
        "server answers with ACK: 172.16.20.100 for client.",
        *answer,
        "B sees the lease of client: enters a dynamic row for port 2, VLAN 20, 00-00-5E-00-53-05, 172.16.20.100.",
    )


def test_a_ping_without_a_way_back_ends_with_what_stopped_it():
    text = render(steps_of(ping, with_switch(two_switches(), "B", routes=()), "near", "far"))
    assert text[-5:] == (
        "far receives the packet to 172.16.20.21: the address is its own.",
        "far sends a packet from 172.16.20.21 to 172.16.10.21: its address is 172.16.20.21/24, gateway 172.16.20.1.",
        "far asks who has 172.16.20.1: B answers.",
        "B looks up the way to 172.16.10.21: no route leads there.",
        "B drops the packet: no route leads to the destination.",
    )


@pytest.mark.parametrize(
    ("trial", "names", "last"),
    [
        pytest.param(
            rogue_offer,
            ("client", "late"),
            "B checks a DHCP server message that comes in on port B/2: the port is not trusted, so it is dropped.",
            id="a rogue server",
        ),
        pytest.param(
            lambda running, sender, target: forge(running, sender, target, mac=target.mac),
            ("client", "server"),
            "B drops the packet: source guard found no binding row for the sender.",
            id="a forged MAC",
        ),
        pytest.param(
            renew,
            ("client",),
            "client receives the packet to 172.16.20.100: the address is its own.",
            id="a renewal",
        ),
    ],
)
def test_every_trial_can_be_read(trial, names, last):
    assert render(steps_of(trial, protected(), *names))[-1] == last


def test_a_step_is_a_line():
    step = Step(at="A", lookup=Lookup.ROUTE, subject="10.0.0.1", found="no route leads there")
    assert render([step]) == ("A looks up the way to 10.0.0.1: no route leads there.",)


def test_of_two_settings_that_contradict_each_other_the_steps_name_both():
    """The gateway of the station and the address of the interface: nothing tells which of them is right."""
    network = with_switch(
        two_switches(), "B", interfaces=(interface(20, "172.16.20.2/24"), interface("24", "172.16.0.2/30"))
    )
    running = start(network)[0]
    found = traced(ping, running, network.station("far"), network.station("near"))
    gateway = SettingId("far", Part.STATION, "far", "gateway")
    assert found.result.drop == Dropped("far", Reason.NO_ANSWER, gateway, ("far",))
    named = [setting for step in found.steps for setting in step.decided_by]
    assert named[-1] == gateway
    assert SettingId("B", Part.VLAN_INTERFACE, "20", "address") in named


# --- No part of the outcome -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("network", [two_switches(), protected(), with_switch(protected(), "A", routes=())])
def test_a_trial_has_the_same_outcome_whether_its_steps_are_noted_or_not(network):
    running = start(network)[0]
    for source, target in permutations(network.stations, 2):
        plain = ping(running, source, target)
        assert traced(ping, running, source, target).result == plain
        assert ping(running, source, target) == plain


def test_an_observer_hears_nothing_before_and_after_it_listens():
    network = two_switches()
    running = start(network)[0]
    tracer = Tracer()
    with running.observed_by(tracer):
        ping(running, network.station("near"), network.station("far"))
    heard = list(tracer.steps)
    assert heard
    ping(running, network.station("near"), network.station("far"))
    assert tracer.steps == heard


def test_what_was_remembered_is_forgotten_when_somebody_joins():
    """The way to an address is worked out once; a lease changes who has it."""
    network = with_station(two_switches(), "far", fixed=None, uses_dhcp=True)
    network = replace(network, stations=(*network.stations, station("guest", 0x30, "B/3")))
    running = Running(network)
    client = network.station("client")
    assert ping(running, network.station("near"), client).drop is not None
    request_lease(running, client)
    assert ping(running, network.station("near"), client).drop is None
