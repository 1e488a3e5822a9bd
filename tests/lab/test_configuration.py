"""The configuration as JSON: there and back for every network that answers can build, in the standards' names."""

import json
import random
from dataclasses import replace
from typing import Any

import pytest
from damaged_answers import randomly_damaged
from drawn_labs import SECRET, bakery, changed, draw, exercise_of, shaped
from hypothesis import given
from hypothesis import strategies as st
from read_configuration import read_configuration

from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.key import derive_key
from trainer.lab.sample import HARBOUR
from trainer.network.devices import Network, Port, PortName

LABS = (
    bakery(),
    *draw(exercise_of(HARBOUR), 2, SECRET),
    *draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}), gateway="last usable")), 1, SECRET),
)


def there_and_back(network: Network) -> Network:
    return read_configuration(json.loads(json.dumps(show_configuration(network))))


@pytest.mark.parametrize("lab", LABS, ids=lambda lab: lab.lab_number)
def test_the_network_of_a_key_is_read_as_it_was_shown(lab):
    network = build(lab, derive_key(lab)).network
    assert there_and_back(network) == network


@given(st.integers(0, 10**9))
def test_the_network_of_any_answers_is_read_as_it_was_shown(seed: int):
    rng = random.Random(seed)
    lab = rng.choice(LABS)
    network = build(lab, randomly_damaged(lab, derive_key(lab), rng)).network
    assert there_and_back(network) == network


def test_a_trunk_and_the_name_of_a_binding_row_are_read_as_they_were_shown():
    lab = bakery()
    network = build(lab, derive_key(lab)).network
    trunk = Port(name=PortName("30"), vlan=None, trunk_vlans=frozenset({20, 30}))
    switches = tuple(replace(switch, ports=(*switch.ports, trunk)) for switch in network.switches)
    read = there_and_back(replace(network, switches=switches))
    assert read.switches == switches
    rows = [row.key for switch in read.switches for row in switch.static_rows]
    assert rows == ["Scales 3", "Cameras"]


def test_a_network_of_nothing_is_read_as_it_was_shown():
    assert there_and_back(Network(switches=())) == Network(switches=())


def of_bakery() -> dict[str, Any]:
    lab = bakery()
    network: dict[str, Any] = show_configuration(build(lab, derive_key(lab)).network)["hopsheet-lab:network"]
    return network


def interface(switch: dict[str, Any], name: str) -> dict[str, Any]:
    interfaces: list[dict[str, Any]] = switch["ietf-interfaces:interfaces"]["interface"]
    return next(each for each in interfaces if each["name"] == name)


def test_ports_and_vlan_interfaces_have_the_names_of_rfc_8343_and_8344():
    switch = of_bakery()["switch"][0]
    assert switch["name"] == "A"
    assert interface(switch, "VLAN 20") == {
        "name": "VLAN 20",
        "type": "iana-if-type:l3ipvlan",
        "enabled": True,
        "hopsheet-lab:vlan-id": 20,
        "ietf-ip:ipv4": {"address": [{"ip": "10.20.2.1", "prefix-length": 25}]},
        "hopsheet-lab:precedence": 2,
    }
    assert interface(switch, "2") == {
        "name": "2",
        "type": "iana-if-type:ethernetCsmacd",
        "enabled": True,
        "hopsheet-lab:vlan-id": 20,
    }
    assert interface(switch, "24") == {
        "name": "24",
        "type": "iana-if-type:ethernetCsmacd",
        "enabled": True,
        "ietf-ip:ipv4": {"address": [{"ip": "10.20.2.241", "prefix-length": 30}]},
        "hopsheet-lab:precedence": 3,
    }


def test_static_routes_have_the_names_of_rfc_8349():
    """RFC 8349 appendix D, "destination-prefix" and "next-hop-address"."""
    protocols = of_bakery()["switch"][1]["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"]
    assert [(each["type"], each["name"]) for each in protocols] == [("ietf-routing:static", "static 1")]
    assert protocols[0]["static-routes"]["ietf-ipv4-unicast-routing:ipv4"]["route"] == [
        {
            "hopsheet-lab:name": f"B to {vlan}",
            "destination-prefix": prefix,
            "next-hop": {"next-hop-address": "10.20.2.241"},
        }
        for vlan, prefix in ((10, "10.20.2.224/28"), (20, "10.20.2.0/25"))
    ]


def test_a_station_with_a_lease_has_no_address_and_one_without_has_a_default_route():
    stations = {each["name"]: each for each in of_bakery()["station"]}
    client, server = stations["Tills 1"], stations["DHCP server"]
    assert client["attached-to"] == {"switch": "B", "interface": "1"}
    card = client["ietf-interfaces:interfaces"]["interface"][0]
    assert (card["hopsheet-lab:dhcp-client"], card["hopsheet-lab:mac-address"]) == (True, "02:00:00:00:00:04")
    assert "ietf-ip:ipv4" not in card
    protocol = server["ietf-routing:routing"]["control-plane-protocols"]["control-plane-protocol"][0]
    assert protocol["static-routes"]["ietf-ipv4-unicast-routing:ipv4"]["route"] == [
        {
            "hopsheet-lab:name": "gateway",
            "destination-prefix": "0.0.0.0/0",
            "next-hop": {"next-hop-address": "10.20.2.225"},
        }
    ]
