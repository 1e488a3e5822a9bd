"""What a lease tells, and who gets which address first."""

from dataclasses import fields, replace
from ipaddress import IPv4Address

import pytest
from drawn_labs import bakery

from trainer.lab.form import SoFar
from trainer.lab.key import derive_key
from trainer.lab.leases import differences, first_numbers, in_words
from trainer.lab.questions.bindings import BINDING_ADDRESS
from trainer.lab.questions.pools import OPTIONS
from trainer.lab.questions.subnets import network_of
from trainer.lab.rows import StationRow
from trainer.network.addresses import usable_address
from trainer.network.devices import DhcpOptions
from trainer.network.topology import Lease

GRANTED = Lease(
    address=IPv4Address("172.16.20.11"),
    prefix_length=24,
    router=IPv4Address("172.16.20.1"),
    lease_seconds=6 * 3600,
    pool="20",
    relay_address=IPv4Address("172.16.20.1"),
)
ELSEWHERE = {
    "address": (IPv4Address("172.16.20.12"), "another address"),
    "prefix_length": (25, "another mask"),
    "router": (None, "no router"),
    "lease_seconds": (3600, "another lease time"),
    "relay_address": (None, "no giaddr"),
}
SERVER = IPv4Address("172.16.10.5")


@pytest.mark.parametrize("part", [each.name for each in fields(Lease) if each.name not in ("pool", "options")])
def test_a_lease_that_differs_in_one_part_is_said_to_differ_in_it(part):
    """Every part but which of the server's pools it came from, which nobody is told: a new one needs its word."""
    value, words = ELSEWHERE[part]
    assert differences(replace(GRANTED, **{part: value}), GRANTED) == (words,)


@pytest.mark.parametrize("option", [each.name for each in fields(DhcpOptions)])
def test_a_lease_with_another_option_is_said_to_differ_in_it(option):
    told = replace(GRANTED, options=DhcpOptions(**{option: SERVER}))
    assert differences(told, GRANTED) == (f"a {OPTIONS[option].heading}",)
    assert differences(GRANTED, told) == (f"no {OPTIONS[option].heading}",)
    assert differences(replace(told, options=DhcpOptions(**{option: SERVER + 1})), told) == (
        f"another {OPTIONS[option].heading}",
    )
    assert in_words(told) == f"172.16.20.11 /24, router 172.16.20.1, {OPTIONS[option].heading} {SERVER}, 6 h"


def test_a_lease_in_words_is_what_the_client_is_told():
    assert in_words(GRANTED) == "172.16.20.11 /24, router 172.16.20.1, 6 h"
    told = replace(GRANTED, router=None, options=DhcpOptions(dns_server=SERVER))
    assert in_words(told) == "172.16.20.11 /24, no router, DNS server 172.16.10.5, 6 h"


def test_the_first_numbers_of_a_pool_are_those_that_the_binding_table_shows():
    """Rules Pools and Leases; the key's own addresses are worked out another way."""
    scenario = bakery()
    so_far = SoFar(scenario, derive_key(scenario).values)
    for vlan in scenario.dhcp_vlans:
        network = network_of(so_far, vlan.id)
        shown = [so_far.value(BINDING_ADDRESS, StationRow(each.name)) for each in scenario.dhcp_stations(vlan.id)]
        assert shown == [usable_address(network, number) for number in first_numbers(scenario, vlan.id)]
