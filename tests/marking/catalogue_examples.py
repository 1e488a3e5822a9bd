"""An example of its own for every mistake of the catalogue: the cell in which it is the first to be said."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from ipaddress import IPv4Address
from typing import Any

import pytest
from catalogue_labs import (
    FREE_LAB,
    LAB,
    NAMES_LAB,
    NAMESAKES_LAB,
    OTHER_LAB,
    OUT_LAB,
    QUESTIONS,
    RANGES,
    RANGES_LAB,
    STRICT_LAB,
    Lab,
    Text,
    counted_down,
    drawn,
    extra_row,
    missing_row,
    number_as_octet,
    section_of,
    wrong_cell,
)

from trainer.lab.form import CellRef
from trainer.network.addresses import mask_of
from trainer.network.devices import SwitchName

# Every mistake on an example of its own -------------------------------------------------------------------------------


def plus(question_id: str, row: Any, step: int) -> Callable[[Lab], str]:
    """The right address of a cell, moved."""
    return lambda lab: str(IPv4Address(lab.shown(question_id, row)) + step)


def longer(question_id: str, row: Any, step: int) -> Callable[[Lab], str]:
    """The right mask of a cell with more ones, or with fewer."""
    return lambda lab: str(mask_of(lab.key.values[CellRef(question_id, lab.row(section_of(question_id), row))] + step))


def listed(question_id: str, switch: str, *more: Any, without: tuple[Any, ...] = ()) -> Callable[[Lab], str]:
    """The right list of a cell with more members, without others; places are stations, link ports or numbers."""

    def text(lab: Lab) -> str:
        def member(each: Any) -> str:
            if isinstance(each, str) and each != "server":
                return each
            return lab.number(each) if isinstance(each, int) else lab.port_number(each)

        found = lab.members(question_id, switch) | {member(each) for each in more}
        return ", ".join(sorted(found - {member(each) for each in without})) or "none"

    return text


def heard(vlan: int, *more: Any, without: Any = None) -> Callable[[Lab], str]:
    """The ports that hear a VLAN's broadcasts, and more of them, or one less."""

    def text(lab: Lab) -> str:
        own = lab.key.values[CellRef("subnets.heard", lab.row("subnets", vlan))]
        left_out = {lab.port_number(without)} if without else set()
        added = {lab.unused_port() if each == "none" else lab.port_number(each) for each in more}
        return ", ".join(sorted(({*own} | added) - left_out))

    return text


def swapped_digits(text: str) -> str:
    return text[0] + text[2] + text[1]


def one_digit_off(mac: str) -> str:
    return mac[:-1] + ("0" if mac[-1] != "0" else "1")


def only_network(place: int) -> dict[Any, Text]:
    """No network is written but this one."""
    others: dict[Any, Text] = {("subnets.network", other): "" for other in range(9) if other != place}
    return others | {("links.network", other): "" for other in range(3)}


CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    # writing
    ("two-values", "subnets.gateway", 2, "10.0.0.1 or 10.0.0.2", {}),
    ("two-values", "bindings.port", (1, 0), "B/7, B/8", {}),
    ("value-with-a-remark", "subnets.gateway", 2, "10.0.0.1 the first", {}),
    ("value-with-a-remark", "ports.vlan", ("B", "A"), "20 Cranes", {}),
    ("placeholder-left", "subnets.gateway", 2, "???", {}),
    ("address-number-too-large", "subnets.gateway", 2, "172.16.300.2", {}),
    ("address-not-four-numbers", "subnets.gateway", 2, "172.16.3", {}),
    ("address-leading-zero", "subnets.gateway", 2, "172.16.3.020", {}),
    ("not-an-address", "relays.server", 2, "DHCP server", {}),
    ("vlan-by-name", "relays.vlan", 2, "ferry tickets", {}),
    ("switch-by-place", "routes.switch", ("A", 2), "Office", {}),
    ("port-without-switch", "bindings.port", (1, 0), "7", {}),
    ("port-number-left-out", "bindings.port", (1, 0), "B", {}),
    ("mac-incomplete", "bindings.mac", (1, 0), "02-00-5E-00-53", {}),
    ("mac-too-long", "bindings.mac", (1, 0), "02-00-5E-00-53-01-02", {}),
    ("binding-mac-format", "bindings.mac", (1, 0), "02-00-5E-00-53-OG", {}),
    ("lease-is-clock-time", "pools.lease", 2, "8:00", {}),
    ("list-says-all", "protection.trusted", "B", "all ports", {}),
    ("unknown-word-for-a-port", "ports.vlan", ("B", "A"), "trunk", {}),
    ("address-holds-mask", "stations.gateway", (3, 2), "255.255.255.0", {}),
    ("address-outside-block", "stations.address", (3, 2), "10.1.2.77", {}),
    ("address-of-no-device", "stations.address", (3, 2), "127.0.0.5", {}),
    ("address-of-no-device", "relays.server", 2, "224.0.0.5", {}),
    ("address-of-no-device", "subnets.gateway", 2, "0.0.0.9", {}),
    ("typing-slip", "links.network", 0, lambda lab: lab.shown("links.network", 0).replace("172.", "112."), {}),
    ("typing-slip-unreadable", "bindings.type", (3, 0), "dynamc", {}),
    ("typing-slip-unreadable", "bindings.type", (3, 2), "statc", {}),
    ("typing-slip-unreadable", "subnets.last", 2, lambda lab: lab.at(2, -2) + ".", {}),
    # masks
    ("mask-holds-address", "stations.mask", (3, 2), lambda lab: lab.gateway(3), {}),
    ("mask-inverted", "stations.mask", (3, 2), "0.0.0.63", {}),
    ("mask-not-contiguous", "subnets.mask", 2, "255.0.255.0", {}),
    ("mask-written-as-length", "subnets.mask", 2, "/23", {}),
    ("prefix-past-the-last-bit", "routes.mask", ("A", 2), "/64", {}),
    ("mask-all-zeros", "pools.mask", 2, "0.0.0.0", {}),
    ("mask-all-ones", "links.mask", 0, "/32", {}),
    ("mask-leaves-no-hosts", "subnets.prefix", 2, "31", {}),
    ("mask-leaves-no-hosts", "pools.mask", 2, "255.255.255.254", {}),
    ("prefix-is-host-bits", "subnets.prefix", 2, "9", {}),
    ("mask-classful-default", "pools.mask", 2, "255.255.0.0", {}),
    ("mask-right-value-wrong-octet", "stations.mask", (3, 2), "255.255.192.0", {}),
    ("mask-of-a-link", "pools.mask", 2, "255.255.255.252", {}),
    ("prefix-forgot-reserved-two", "subnets.prefix", 3, "27", {}),
    ("prefix-forgot-reserved-two", "subnets.mask", 3, "255.255.255.224", {}),
    ("mask-one-bit-long", "subnets.prefix", 2, "24", {}),
    ("mask-one-bit-short", "stations.mask", (3, 2), longer("stations.mask", (3, 2), -1), {}),
    ("mask-not-of-this-prefix", "subnets.mask", 2, "255.255.240.0", {}),
    ("mask-of-another-network", "pools.mask", 2, "255.255.255.224", {}),
    ("length-of-another-network", "subnets.prefix", 2, "27", {}),
    ("mask-differs-from-plan", "pools.mask", 2, "255.255.240.0", {}),
    ("mask-rounded-to-octet", "subnets.prefix", 3, "24", {}),
    ("mask-too-long", "subnets.prefix", 2, "29", {}),
    ("mask-too-short", "subnets.prefix", 2, "21", {}),
    ("mask-covers-half", "stations.mask", (3, 2), longer("stations.mask", (3, 2), 1), {}),
    ("scope-mask-covers-half", "pools.mask", 3, longer("pools.mask", 3, 1), {}),
    ("mask-twice-the-size", "subnets.prefix", 2, "22", only_network(2)),
    ("mask-sets-too-much-aside", "subnets.prefix", 2, "21", only_network(2)),
    ("p2p-lan-sized-mask", "links.mask", 0, "255.255.255.248", {}),
    ("p2p-mask-not-as-agreed", "links.mask", 0, "/31", {}),
    ("route-host-route-only", "routes.mask", ("A", 2), "/32", {}),
    ("route-mask-too-long", "routes.mask", ("A", 2), "/29", {}),
    # subnets: network
    ("network-is-broadcast", "subnets.network", 2, lambda lab: lab.at(2, -1), {}),
    ("network-is-gateway", "subnets.network", 2, lambda lab: lab.gateway(2), {}),
    ("network-has-host-bits", "subnets.network", 2, lambda lab: lab.at(2, 100), {}),
    ("network-outside-parent", "subnets.network", 2, "10.0.0.0", {}),
    ("network-order-not-followed", "subnets.network", 0, lambda lab: str(lab.scenario.block[0]), {}),
    ("network-of-another-row", "subnets.network", 2, lambda lab: lab.at(6, 0), {}),
    ("network-inside-another", "subnets.network", 1, plus("subnets.network", 1, -128), {}),
    ("network-not-on-boundary", "subnets.network", 2, lambda lab: lab.at(3, 32), {}),
    ("subnets-overlap", "subnets.network", 8, lambda lab: lab.at(2, 64), {}),
    ("octet-carry", "subnets.network", 6, plus("subnets.network", 6, 256), {}),
    ("octet-carry", "subnets.last", 1, plus("subnets.last", 1, -256), {}),
    ("network-leaves-gap", "subnets.network", 0, lambda lab: str(lab.scenario.block[-64]), {}),
    # subnets: range and broadcast
    ("host-range-stops-at-octet", "subnets.last", 2, lambda lab: lab.at(2, 254), {}),
    ("host-range-ends-swapped", "subnets.first", 2, lambda lab: lab.at(2, -2), {}),
    (
        *("host-range-columns-exchanged", "subnets.last", 2, lambda lab: lab.at(2, 1)),
        {"subnets.first": lambda lab: lab.at(2, -2)},
    ),
    ("first-host-is-network", "subnets.first", 2, lambda lab: lab.at(2, 0), {}),
    ("last-host-is-broadcast", "subnets.last", 2, lambda lab: lab.at(2, -1), {}),
    ("last-host-is-next-network", "subnets.last", 2, plus("subnets.last", 2, 2), {}),
    ("host-range-skips-gateway", "subnets.first", 2, lambda lab: lab.at(2, 2), {}),
    ("host-range-skips-fixed", "subnets.first", 2, lambda lab: lab.at(2, 11), {}),
    ("row-slipped", "subnets.broadcast", 2, lambda lab: lab.at(3, -1), {}),
    ("host-range-not-the-end", "subnets.last", 2, lambda lab: lab.at(2, 300), {}),
    ("range-in-another-network", "subnets.first", 2, lambda lab: lab.at(1, 50), {}),
    ("range-on-a-link", "subnets.last", 2, lambda lab: lab.end(0, 0), {}),
    ("host-range-outside-subnet", "subnets.first", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    ("broadcast-all-ones", "subnets.broadcast", 2, "255.255.255.255", {}),
    ("broadcast-is-last-host", "subnets.broadcast", 2, lambda lab: lab.at(2, -2), {}),
    ("broadcast-is-next-network", "subnets.broadcast", 2, plus("subnets.broadcast", 2, 1), {}),
    ("broadcast-is-network", "subnets.broadcast", 2, lambda lab: lab.at(2, 0), {}),
    ("broadcast-assumes-255", "subnets.broadcast", 3, lambda lab: lab.at(3, 0).rpartition(".")[0] + ".255", {}),
    ("broadcast-inside-subnet", "subnets.broadcast", 2, lambda lab: lab.at(2, 100), {}),
    ("broadcast-outside-subnet", "subnets.broadcast", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    # gateways
    ("gateway-is-network", "subnets.gateway", 2, lambda lab: lab.at(2, 0), {}),
    ("gateway-is-broadcast", "pools.router", 2, lambda lab: lab.at(2, -1), {}),
    ("gateway-takes-a-stations-address", "subnets.gateway", 3, lambda lab: lab.shown("stations.address", (3, 2)), {}),
    ("gateway-at-wrong-end", "subnets.gateway", 2, lambda lab: lab.at(2, -2), {}),
    ("gateway-is-dhcp-server", "pools.router", 2, lambda lab: lab.shown("stations.address", "server"), {}),
    ("gateway-of-other-vlan", "stations.gateway", (3, 2), lambda lab: lab.gateway(2), {}),
    ("gateway-is-link-address", "pools.router", 2, lambda lab: lab.end(0, 1), {}),
    ("gateway-is-pool-start", "subnets.gateway", 2, lambda lab: lab.shown("pools.first", 2), {}),
    ("gateway-is-a-station", "pools.router", 3, lambda lab: lab.shown("stations.address", (3, 2)), {}),
    ("iface-in-other-vlan-subnet", "subnets.gateway", 2, lambda lab: lab.at(1, 50), {}),
    ("iface-address-outside-plan", "subnets.gateway", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    ("iface-not-the-agreed-address", "subnets.gateway", 2, lambda lab: lab.at(2, 100), {}),
    ("gateway-in-other-vlan", "pools.router", 2, lambda lab: lab.at(1, 50), {}),
    ("gateway-outside-subnet", "pools.router", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    ("gateway-not-the-switch", "pools.router", 2, lambda lab: lab.at(2, 100), {}),
    ("gateway-is-host-itself", "stations.gateway", (3, 2), lambda lab: lab.shown("stations.address", (3, 2)), {}),
    # links
    ("link-network-is-an-end", "links.network", 1, lambda lab: lab.end(1, 0), {}),
    ("link-network-outside-block", "links.network", 1, "10.0.0.0", {}),
    ("link-network-in-a-vlan", "links.network", 1, lambda lab: lab.at(2, 64), {}),
    ("link-network-elsewhere", "links.network", 1, lambda lab: str(lab.scenario.block[-8]), {}),
    ("p2p-end-is-gateway", "links.first", 0, lambda lab: lab.gateway(1), {}),
    ("p2p-ends-swapped", "links.first", 0, lambda lab: lab.end(0, 1), {"links.second": lambda lab: lab.end(0, 0)}),
    ("p2p-same-address-both-ends", "links.first", 0, lambda lab: lab.end(0, 1), {}),
    ("p2p30-network-or-broadcast", "links.first", 0, lambda lab: str(lab.link(0)[0]), {}),
    ("p2p-end-of-another-link", "links.first", 0, lambda lab: lab.end(1, 0), {}),
    ("p2p-end-is-a-station", "links.first", 0, lambda lab: lab.shown("stations.address", "server"), {}),
    ("p2p-end-on-another-link", "links.first", 0, lambda lab: str(lab.link(1)[0]), {}),
    ("p2p-end-in-a-vlan", "links.first", 0, lambda lab: lab.at(2, 100), {}),
    ("p2p-end-outside-link", "links.first", 0, lambda lab: str(lab.scenario.block[-2]), {}),
    # ports and VLAN numbers
    ("vlan-id-reserved", "ports.vlan", (3, 2), "4095", {}),
    ("vlan-id-out-of-range", "relays.vlan", 2, "5000", {}),
    ("vlan-id-is-port-number", "ports.vlan", (3, 2), lambda lab: lab.port_number((3, 2)), {}),
    ("vlan-id-is-addresses-needed", "ports.vlan", (3, 2), "31", {}),
    ("vlan-id-default-used", "bindings.vlan", (3, 2), "1", {}),
    ("vlan-id-third-octet", "ports.vlan", (1, 0), lambda lab: lab.at(1, 0).split(".")[2], {}),
    ("vlan-of-another-switch", "ports.vlan", (3, 2), lambda lab: lab.number(1), {}),
    ("vlan-id-of-another-row", "ports.vlan", (3, 2), lambda lab: lab.number(2), {}),
    ("vlan-digit-slip", "ports.vlan", (3, 2), lambda lab: swapped_digits(lab.number(3)), {}),
    ("access-vlan-not-created", "ports.vlan", (3, 2), "1000", {}),
    ("link-port-left-in-default", "ports.vlan", ("B", "A"), "1", {}),
    ("link-port-in-a-vlan", "ports.vlan", ("B", "A"), lambda lab: lab.number(2), {}),
    ("port-switched-for-routed", "ports.vlan", ("B", "A"), "99", {}),
    ("server-port-without-vlan", "ports.vlan", "server", "routed", {}),
    ("port-routed-for-switched", "ports.vlan", (3, 2), "routed", {}),
    ("server-in-client-vlan", "ports.vlan", "server", lambda lab: lab.number(1), {}),
    ("station-in-server-vlan", "ports.vlan", (1, 0), lambda lab: lab.number(0), {}),
    # stations
    ("host-address-is-reserved", "stations.address", (3, 2), lambda lab: lab.at(3, -1), {}),
    ("host-address-is-gateway", "stations.address", (3, 2), lambda lab: lab.gateway(3), {}),
    (
        "host-address-of-another-station",
        "stations.address",
        (5, 0),
        lambda lab: lab.shown("stations.address", (5, 1)),
        {},
    ),
    ("host-number-counts-network-address", "stations.address", (3, 2), plus("stations.address", (3, 2), -1), {}),
    ("host-number-one-too-far", "stations.address", (3, 2), plus("stations.address", (3, 2), 1), {}),
    ("host-number-as-last-octet", "stations.address", (3, 2), number_as_octet, {}),
    ("host-number-counted-from-end", "stations.address", (3, 2), counted_down, {}),
    ("host-address-in-pool", "stations.address", (3, 2), lambda lab: lab.at(3, 30), {}),
    ("duplicate-address", "stations.address", (3, 2), lambda lab: lab.end(0, 0), {}),
    ("host-address-wrong-subnet", "stations.address", (3, 2), lambda lab: lab.at(2, 100), {}),
    ("host-address-outside-vlans", "stations.address", (3, 2), lambda lab: str(lab.scenario.block[-2]), {}),
    # routes
    ("route-switch-not-in-lab", "routes.switch", ("A", 2), "Z", {}),
    ("route-switch-is-next-hop", "routes.switch", ("A", 4), "B", {}),
    ("route-switch-is-destination", "routes.switch", ("A", 4), "C", {}),
    ("route-of-another-switch", "routes.switch", ("A", 2), "D", {}),
    (
        *("route-dest-nexthop-swapped", "routes.destination", ("A", 2)),
        lambda lab: lab.shown("routes.next_hop", ("A", 2)),
        {"routes.next_hop": lambda lab: lab.at(2, 0)},
    ),
    ("route-default-wrong-mask", "routes.destination", ("A", 2), "0.0.0.0", {}),
    (
        *("route-default-instead-of-specific", "routes.destination", ("A", 2), "0.0.0.0"),
        {"routes.mask": "/0", "routes.next_hop": lambda lab: lab.end(2, 1)},
    ),
    ("route-default-without-mask", "routes.mask", ("A", 2), "", {"routes.destination": "0.0.0.0"}),
    ("route-default-without-mask", "routes.destination", ("A", 2), "0.0.0.0", {"routes.mask": ""}),
    ("mask-in-address-cell", "routes.mask", ("A", 2), "", {"routes.destination": lambda lab: f"{lab.at(2, 0)}/23"}),
    ("mask-in-address-cell", "subnets.prefix", 2, "", {"subnets.network": lambda lab: f"{lab.at(2, 0)} / 23"}),
    ("route-dest-host-bits", "routes.destination", ("A", 2), lambda lab: lab.gateway(2), {}),
    ("route-dest-host-bits", "routes.destination", ("A", 2), lambda lab: lab.at(2, -1), {}),
    ("route-dest-host-bits", "routes.destination", ("A", 2), lambda lab: lab.at(2, 5), {}),
    ("route-dest-is-gateway", "routes.destination", ("A", 2), lambda lab: lab.gateway(2), {"routes.mask": ""}),
    ("route-dest-is-broadcast", "routes.destination", ("A", 2), lambda lab: lab.at(2, -1), {"routes.mask": "/32"}),
    ("route-to-connected-network", "routes.destination", ("A", 2), lambda lab: lab.at(1, 0), {}),
    ("route-dest-is-link", "routes.destination", ("A", 2), lambda lab: str(lab.link(1)[0]), {}),
    (
        *("route-dest-is-station", "routes.destination", ("A", 2), lambda lab: lab.shown("pools.first", 2)),
        {"routes.mask": ""},
    ),
    ("route-dest-inside-network", "routes.destination", ("A", 2), lambda lab: lab.at(2, 5), {"routes.mask": ""}),
    ("route-dest-another-network", "routes.destination", ("A", 2), lambda lab: lab.at(3, 0), {}),
    ("route-dest-host-bits", "routes.destination", ("A", 2), lambda lab: lab.at(8, 20), {}),
    (
        *("route-dest-within-another-network", "routes.destination", ("A", 3)),
        lambda lab: lab.at(2, 256),
        {("pools.first", 2): lambda lab: lab.at(2, 300)},
    ),
    ("route-dest-in-no-network", "routes.destination", ("A", 3), lambda lab: str(lab.scenario.block[-64]), {}),
    ("route-mask-shorter-than-start", "routes.mask", ("A", 8), "/20", {}),
    ("route-mask-shorter-than-start", "routes.mask", ("A", 8), "/0", {}),
    ("route-summary-too-wide", "routes.mask", ("A", 2), "/22", {}),
    ("route-mask-too-short", "routes.mask", ("D", 1), "/24", {}),
    ("route-next-hop-own-address", "routes.next_hop", ("A", 2), lambda lab: lab.end(0, 0), {}),
    ("route-next-hop-is-destination", "routes.next_hop", ("A", 2), lambda lab: lab.at(2, 0), {}),
    ("route-next-hop-network-or-broadcast", "routes.next_hop", ("A", 2), lambda lab: lab.at(2, -1), {}),
    ("route-next-hop-is-far-gateway", "routes.next_hop", ("A", 2), lambda lab: lab.gateway(2), {}),
    ("route-next-hop-is-another-gateway", "routes.next_hop", ("A", 2), lambda lab: lab.gateway(3), {}),
    ("route-next-hop-is-station", "routes.next_hop", ("A", 2), lambda lab: lab.at(2, 100), {}),
    ("route-loop", "routes.next_hop", ("A", 2), lambda lab: lab.end(2, 1), {}),
    (
        *("route-next-hop-wrong-neighbour", "routes.next_hop", ("A", 2)),
        lambda lab: lab.end(2, 1),
        {("routes.destination", ("D", 2)): ""},
    ),
    ("route-next-hop-on-a-far-link", "routes.next_hop", ("A", 4), lambda lab: lab.end(1, 1), {}),
    ("route-next-hop-connected-but-nobody", "routes.next_hop", ("A", 2), lambda lab: lab.at(1, 5), {}),
    ("route-next-hop-not-adjacent", "routes.next_hop", ("A", 2), lambda lab: str(lab.scenario.block[-2]), {}),
    # pools
    ("scope-router-missing", "pools.router", 2, "", {}),
    (
        *("scope-ends-swapped", "pools.first", 2),
        lambda lab: lab.shown("pools.last", 2),
        {"pools.last": lambda lab: lab.shown("pools.first", 2)},
    ),
    (
        "scope-range-and-exclusion-swapped",
        "pools.last",
        2,
        lambda lab: lab.at(2, 10),
        {"pools.first": lambda lab: lab.at(2, 1)},
    ),
    (
        *("rows-exchanged", "pools.first", 2, lambda lab: lab.shown("pools.first", 1)),
        {("pools.first", 1): lambda lab: lab.shown("pools.first", 2)},
    ),
    (
        *("columns-exchanged", "relays.server", 2, lambda lab: lab.gateway(2)),
        {"relays.giaddr": lambda lab: lab.shown("stations.address", "server")},
    ),
    (
        *("columns-exchanged", "bindings.mac", (3, 2), lambda lab: lab.shown("stations.address", (3, 2))),
        {"bindings.address": lambda lab: lab.station((3, 2)).mac},
    ),
    (
        *("columns-exchanged", "bindings.port", (3, 2), lambda lab: lab.number(3)),
        {"bindings.vlan": lambda lab: lab.port((3, 2))},
    ),
    (
        *("follows-from-what-cannot-be", "pools.first", 2, "172.15.0.11"),
        {("subnets.network", 2): "172.15.0.0"},
    ),
    (
        *("follows-from-what-cannot-stand", "subnets.broadcast", 2, lambda lab: lab.at(2, 1)),
        {("subnets.prefix", 2): "31"},
    ),
    ("scope-start-is-network", "pools.first", 2, lambda lab: lab.at(2, 0), {}),
    ("scope-end-is-broadcast", "pools.last", 2, lambda lab: lab.at(2, -1), {}),
    ("scope-is-server-address", "pools.first", 2, lambda lab: lab.shown("stations.address", "server"), {}),
    ("scope-keeps-nothing-back", "pools.first", 2, lambda lab: lab.at(2, 1), {}),
    ("scope-start-count-as-octet", "pools.first", 3, lambda lab: lab.at(3, 0).rpartition(".")[0] + ".10", {}),
    ("scope-network-of-another-vlan", "pools.first", 3, lambda lab: lab.at(3, 0).rpartition(".")[0] + ".11", {}),
    ("scope-for-wrong-subnet", "pools.last", 2, lambda lab: lab.at(0, -2), {}),
    ("scope-network-of-another-vlan", "pools.last", 2, lambda lab: lab.at(1, -2), {}),
    ("scope-range-reversed", "pools.last", 2, lambda lab: lab.at(2, 5), {}),
    ("scope-stops-at-octet", "pools.last", 2, lambda lab: lab.at(2, 254), {}),
    ("scope-hands-out-static", "pools.first", 3, lambda lab: lab.shown("stations.address", (3, 2)), {}),
    ("scope-start-is-last-kept", "pools.first", 2, lambda lab: lab.at(2, 10), {}),
    ("scope-start-one-late", "pools.first", 2, lambda lab: lab.at(2, 12), {}),
    (
        "scope-missing-for-relayed-vlan",
        "pools.first",
        2,
        "",
        {"pools.last": "", "pools.mask": "", "pools.router": "", "pools.lease": ""},
    ),
    ("scope-on-a-link", "pools.last", 2, lambda lab: lab.end(0, 0), {}),
    ("scope-range-outside-subnet", "pools.last", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    ("scope-leaves-out-last", "pools.last", 2, lambda lab: lab.at(2, -3), {}),
    ("scope-pool-too-small", "pools.last", 2, lambda lab: lab.at(2, 200), {}),
    (
        *("scope-beyond-own-mask", "pools.last", 2, lambda lab: lab.at(3, 5)),
        {("subnets.prefix", 2): "22"},
    ),
    ("scope-ends-early", "pools.last", 2, lambda lab: lab.at(2, -5), {}),
    ("scope-starts-late", "pools.first", 2, lambda lab: lab.at(2, 14), {}),
    ("scope-starts-early", "pools.first", 2, lambda lab: lab.at(2, 8), {}),
    ("lease-zero", "pools.lease", 2, "0", {}),
    ("lease-without-end", "pools.lease", 2, "infinite", {}),
    ("lease-without-unit", "pools.lease", 2, lambda lab: str(lab.scenario.lease_hours), {}),
    ("scope-lease-unit", "pools.lease", 2, lambda lab: f"{lab.scenario.lease_hours} min", {}),
    ("scope-lease-unit", "bindings.lease", (1, 0), lambda lab: f"{lab.scenario.lease_hours} min", {}),
    ("lease-is-renewal-time", "pools.lease", 2, lambda lab: f"{lab.scenario.lease_hours * 30} min", {}),
    ("lease-doubled", "pools.lease", 2, lambda lab: f"{lab.scenario.lease_hours * 2} h", {}),
    ("lease-not-as-given", "pools.lease", 2, lambda lab: f"{lab.scenario.lease_hours + 1} h", {}),
    # relays
    ("relay-on-server-vlan", "relays.vlan", 2, lambda lab: lab.number(0), {}),
    ("relay-vlan-written-twice", "relays.vlan", 2, lambda lab: lab.number(3), {}),
    ("relay-vlan-without-clients", "relays.vlan", 2, lambda lab: lab.number(5), {}),
    ("relay-on-wrong-switch", "relays.vlan", 2, lambda lab: lab.number(1), {("relays.vlan", 1): ""}),
    ("relay-target-is-gateway", "relays.server", 2, lambda lab: lab.gateway(2), {}),
    ("relay-target-own-address", "relays.server", 2, lambda lab: lab.gateway(3), {}),
    ("relay-target-is-server-gateway", "relays.server", 2, lambda lab: lab.gateway(0), {}),
    ("relay-target-is-broadcast", "relays.server", 2, lambda lab: lab.at(0, -1), {}),
    ("relay-target-is-broadcast", "relays.server", 2, "255.255.255.255", {}),
    ("relay-target-is-network", "relays.server", 2, lambda lab: lab.at(0, 0), {}),
    ("relay-target-is-next-hop", "relays.server", 2, lambda lab: lab.end(0, 0), {}),
    ("relay-target-another-gateway", "relays.server", 2, lambda lab: lab.gateway(1), {}),
    ("relay-target-is-client", "relays.server", 2, lambda lab: lab.shown("stations.address", (3, 2)), {}),
    ("relay-target-beside-server", "relays.server", 2, plus("stations.address", "server", 1), {}),
    ("relay-target-other-host", "relays.server", 2, lambda lab: lab.end(2, 1), {}),
    ("relay-target-nobody", "relays.server", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    ("relay-giaddr-is-zero", "relays.giaddr", 2, "0.0.0.0", {}),
    ("relay-giaddr-is-server", "relays.giaddr", 2, lambda lab: lab.shown("stations.address", "server"), {}),
    ("relay-giaddr-is-uplink", "relays.giaddr", 2, lambda lab: lab.end(0, 1), {}),
    ("relay-giaddr-is-server-side", "relays.giaddr", 2, lambda lab: lab.gateway(0), {}),
    ("relay-giaddr-is-reserved", "relays.giaddr", 2, lambda lab: lab.at(2, 0), {}),
    ("relay-giaddr-other-vlan", "relays.giaddr", 2, lambda lab: lab.gateway(3), {}),
    ("relay-giaddr-is-client", "relays.giaddr", 2, lambda lab: lab.shown("pools.first", 2), {}),
    ("relay-giaddr-not-the-relay", "relays.giaddr", 2, lambda lab: lab.at(2, 5), {}),
    ("relay-giaddr-elsewhere", "relays.giaddr", 2, lambda lab: str(lab.scenario.block[-2]), {}),
    # protection
    ("snoop-enabled-without-vlan", "protection.snooped", "B", "none", {}),
    ("snoop-enabled-without-vlan", "protection.snooped", "B", "", {}),
    ("snoop-on-switch-without-need", "protection.snooped", "C", lambda lab: lab.number(6), {}),
    ("snoop-list-holds-ports", "protection.snooped", "B", lambda lab: lab.shown("protection.guarded", "B"), {}),
    ("snoop-list-of-another-switch", "protection.snooped", "B", lambda lab: lab.shown("protection.snooped", "A"), {}),
    (
        "snoop-lists-all-vlans",
        "protection.snooped",
        "B",
        lambda lab: ", ".join(str(each.number) for each in lab.vlans),
        {},
    ),
    ("snoop-vlan-of-another-switch", "protection.snooped", "B", listed("protection.snooped", "B", 1), {}),
    ("snoop-server-vlan-missing", "protection.snooped", "A", listed("protection.snooped", "A", without=(0,)), {}),
    ("snoop-default-vlan", "protection.snooped", "B", listed("protection.snooped", "B", "1"), {}),
    ("snoop-vlan-not-in-lab", "protection.snooped", "B", listed("protection.snooped", "B", "999"), {}),
    ("snoop-vlan-extra", "protection.snooped", "B", listed("protection.snooped", "B", 7), {}),
    ("snoop-fixed-vlan-missing", "protection.snooped", "B", listed("protection.snooped", "B", without=(8,)), {}),
    ("snoop-vlan-missing", "protection.snooped", "B", listed("protection.snooped", "B", without=(2,)), {}),
    ("trust-nowhere", "protection.trusted", "B", "none", {}),
    ("trust-without-snooping", "protection.trusted", "C", lambda lab: lab.port_number(("C", "B")), {}),
    ("trust-list-holds-vlans", "protection.trusted", "B", lambda lab: lab.shown("protection.snooped", "B"), {}),
    (
        "trust-everywhere",
        "protection.trusted",
        "B",
        lambda lab: ", ".join(lab.scenario.port_names(SwitchName("B"))),
        {},
    ),
    (
        "trust-everywhere",
        "protection.trusted",
        "B",
        listed(
            "protection.trusted",
            "B",
            *((place, number) for place in (2, 3) for number in (0, 1)),
            (3, 2),
            (7, 0),
            (8, 0),
        ),
        {},
    ),
    ("trust-is-guard-list", "protection.trusted", "B", lambda lab: lab.shown("protection.guarded", "B"), {}),
    ("trust-list-of-another-switch", "protection.guarded", "D", lambda lab: lab.shown("protection.guarded", "B"), {}),
    ("trust-station-for-server", "protection.trusted", "A", lambda lab: lab.port_number((1, 0)), {}),
    ("trust-wrong-direction", "protection.trusted", "B", lambda lab: lab.port_number(("B", "C")), {}),
    ("trust-on-client-port", "protection.trusted", "B", listed("protection.trusted", "B", (3, 0)), {}),
    (
        *("trust-downlink-for-server", "protection.trusted", "A"),
        listed("protection.trusted", "A", ("A", "B"), without=("server",)),
        {},
    ),
    ("trust-on-downlink", "protection.trusted", "B", listed("protection.trusted", "B", ("B", "C")), {}),
    ("trust-on-idle-uplink", "protection.trusted", "D", lambda lab: lab.port_number(("D", "A")), {}),
    ("trust-on-unused-port", "protection.trusted", "B", listed("protection.trusted", "B", "48"), {}),
    ("trust-missing-on-server-port", "protection.trusted", "A", "48", {}),
    ("trust-missing-on-uplink", "protection.trusted", "B", "48", {}),
    ("guard-nowhere", "protection.guarded", "B", "none", {}),
    (
        "guard-everywhere",
        "protection.guarded",
        "B",
        lambda lab: ", ".join(lab.scenario.port_names(SwitchName("B"))),
        {},
    ),
    ("guard-is-trust-list", "protection.guarded", "B", lambda lab: lab.shown("protection.trusted", "B"), {}),
    ("guard-on-uplink", "protection.guarded", "B", listed("protection.guarded", "B", ("B", "A")), {}),
    ("guard-on-server-port", "protection.guarded", "A", listed("protection.guarded", "A", "server"), {}),
    (
        *("guard-on-trusted-port", "protection.guarded", "B", listed("protection.guarded", "B", (7, 0))),
        {"protection.trusted": listed("protection.trusted", "B", (7, 0))},
    ),
    ("guard-on-unused-port", "protection.guarded", "B", listed("protection.guarded", "B", "48"), {}),
    ("guard-without-snooping", "protection.guarded", "C", lambda lab: lab.port_number((6, 0)), {}),
    ("guard-on-other-client-port", "protection.guarded", "B", listed("protection.guarded", "B", (7, 0)), {}),
    (
        "guard-missing-on-fixed-station",
        "protection.guarded",
        "B",
        listed("protection.guarded", "B", without=((3, 2),)),
        {},
    ),
    (
        "guard-missing-on-client-port",
        "protection.guarded",
        "B",
        listed("protection.guarded", "B", without=((3, 0),)),
        {},
    ),
    # bindings
    ("binding-port-unknown-switch", "bindings.port", (3, 0), "Z/7", {}),
    ("binding-wrong-switch", "bindings.port", (3, 2), lambda lab: "C/" + lab.port_number((3, 2)), {}),
    ("binding-port-is-uplink", "bindings.port", (3, 2), lambda lab: lab.port(("B", "A")), {}),
    ("binding-port-of-server", "bindings.port", (3, 2), lambda lab: lab.port("server"), {}),
    ("binding-port-other-client", "bindings.port", (3, 2), lambda lab: lab.port((3, 1)), {}),
    ("binding-port-not-in-use", "bindings.port", (3, 2), "B/48", {}),
    ("binding-vlan-of-server", "bindings.vlan", (3, 2), lambda lab: lab.number(0), {}),
    ("binding-mac-of-switch-or-server", "bindings.mac", (3, 2), lambda lab: lab.station("server").mac, {}),
    ("binding-mac-is-group", "bindings.mac", (3, 2), "FF-FF-FF-FF-FF-FF", {}),
    ("binding-mac-of-another-host", "bindings.mac", (3, 2), lambda lab: lab.station((3, 1)).mac, {}),
    (
        "binding-mac-reversed",
        "bindings.mac",
        (3, 0),
        lambda lab: "-".join(reversed(lab.station((3, 0)).mac.split("-"))),
        {},
    ),
    (
        "binding-mac-reversed",
        "bindings.mac",
        (3, 2),
        lambda lab: "-".join(reversed(lab.station((3, 2)).mac.split("-"))),
        {},
    ),
    ("binding-mac-slip", "bindings.mac", (3, 2), lambda lab: one_digit_off(lab.station((3, 2)).mac), {}),
    ("binding-mac-not-in-lab", "bindings.mac", (3, 0), "02-12-34-56-78-9A", {}),
    ("binding-mac-not-in-lab", "bindings.mac", (3, 2), "02-12-34-56-78-9A", {}),
    ("binding-ip-is-reserved", "bindings.address", (3, 2), lambda lab: lab.at(3, 0), {}),
    ("binding-ip-is-gateway", "bindings.address", (3, 2), lambda lab: lab.gateway(3), {}),
    ("binding-ip-of-server", "bindings.address", (3, 2), lambda lab: lab.shown("stations.address", "server"), {}),
    ("binding-ip-of-another-host", "bindings.address", (3, 2), lambda lab: lab.at(3, 12), {}),
    ("binding-ip-counted-from-end", "bindings.address", (3, 0), lambda lab: lab.at(3, -2), {}),
    ("binding-ip-out-of-turn", "bindings.address", (3, 0), lambda lab: lab.at(3, 20), {}),
    ("binding-ip-not-in-pool", "bindings.address", (2, 0), lambda lab: lab.at(2, 2), {}),
    ("binding-ip-on-link", "bindings.address", (3, 2), lambda lab: lab.end(0, 1), {}),
    ("binding-ip-of-other-vlan", "bindings.address", (3, 2), lambda lab: lab.at(2, 40), {}),
    ("binding-ip-outside-networks", "bindings.address", (3, 2), lambda lab: str(lab.scenario.block[-2]), {}),
    ("binding-ip-not-as-planned", "bindings.address", (3, 2), lambda lab: lab.at(3, 40), {}),
    ("binding-type-contradicts-lease", "bindings.type", (3, 0), "static", {}),
    ("binding-learnt-for-fixed-station", "bindings.type", (3, 2), "dynamic", {"bindings.lease": "6 h"}),
    ("binding-by-hand-for-client", "bindings.type", (3, 0), "static", {"bindings.lease": "infinite"}),
    ("binding-static-with-lease-time", "bindings.lease", (3, 2), "6 h", {}),
    ("binding-dynamic-without-end", "bindings.lease", (3, 0), "infinite", {}),
    ("binding-lease-differs-from-pool", "bindings.lease", (3, 0), lambda lab: f"{lab.scenario.lease_hours + 1} h", {}),
]
"""Mistake, question, row, what is written there, what else is written elsewhere. In LAB."""

OTHER_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    ("network-next-or-previous-block", "subnets.network", 0, lambda lab: str(lab.scenario.block[16]), {}),
    ("network-too-early", "subnets.network", 3, lambda lab: str(lab.scenario.block[256]), {}),
    ("p2p31-skips-first", "links.second", 2, plus("links.second", 2, 1), {}),
    ("host-range-skips-gateway", "subnets.last", 2, lambda lab: lab.at(2, -3), {}),
    ("scope-hands-out-gateway", "pools.last", 2, lambda lab: lab.at(2, -2), {}),
    (
        *("scope-starts-one-early", "pools.first", 2, lambda lab: lab.at(2, 10)),
        {("pools.last", 2): lambda lab: lab.at(2, -2)},
    ),
    ("route-summary-not-asked", "routes.mask", ("D", 6), "/25", {}),
    ("host-address-not-as-given", "stations.address", (5, 0), lambda lab: lab.at(5, 15), {}),
    ("host-number-counted-past", "stations.address", (3, 2), plus("stations.address", (3, 2), 1), {}),
    (
        *("network-too-late", "subnets.network", 4, lambda lab: str(lab.net(8)[-1] + 1)),
        {("links.network", place): "" for place in range(3)},
    ),
    ("route-default-against-the-rule", "routes.destination", ("A", 2), "0.0.0.0", {"routes.mask": "/0"}),
]
"""The same in OTHER_LAB: networks as listed, gateway at the end, links of two addresses, one route a network."""


def default_instead(row: Any, next_hop: Text) -> dict[Any, Text]:
    """A default route in place of a row of the key."""
    return {("routes.destination", row): "0.0.0.0", ("routes.mask", row): "/0", ("routes.next_hop", row): next_hop}


MISSING_ROWS: list[tuple[str, str, Any, Any, dict[Any, Text]]] = [
    ("route-missing-for-whole-switch", "routes", ("B", 0), [("B", place) for place in (1, 4, 5, 6)], {}),
    ("relay-no-return-route", "routes", ("A", 2), [], {}),
    ("route-missing-to-server", "routes", ("B", 0), [], {}),
    ("route-missing-return", "routes", ("B", 5), [], {}),
    ("route-missing-both", "routes", ("B", 5), [("D", place) for place in (2, 3, 7, 8)], {}),
    ("route-missing-here", "routes", ("D", 2), [("A", 5)], {}),
    ("route-missing-and-circles", "routes", ("B", 5), [], default_instead(("B", 0), lambda lab: lab.end(1, 1))),
    ("route-missing-and-astray", "routes", ("B", 5), [("C", 5)], default_instead(("B", 0), lambda lab: lab.end(1, 1))),
    (
        *("route-missing-planned-elsewhere", "routes", ("A", 2), []),
        {
            ("subnets.network", 2): "172.15.0.0",
            ("routes.destination", ("A", 3)): "172.15.0.0",
            ("routes.mask", ("A", 3)): "/23",
        },
    ),
    (
        *("route-missing-counted-for-another", "routes", ("A", 3), []),
        {
            ("subnets.network", 3): lambda lab: lab.at(2, 0),
            ("routes.destination", ("A", 2)): lambda lab: lab.at(2, 0),
            ("routes.mask", ("A", 2)): "/26",
        },
    ),
    ("relay-missing-everywhere", "relays", 2, "all", {}),
    ("relay-missing-for-vlan", "relays", 2, [], {}),
    ("guard-without-binding", "bindings", (3, 2), [], {}),
    ("binding-missing-for-static-host", "bindings", (3, 2), [], {("protection.guarded", "B"): "none"}),
    ("binding-missing-for-client", "bindings", (3, 0), [], {}),
]
"""Mistake, section, the row that is missing, other rows that are missing as well, what is written elsewhere."""


OTHER_MISSING_ROWS: list[tuple[str, str, Any, Any, dict[Any, Text]]] = [
    (
        *("route-missing-but-taken-along", "routes", ("D", 2), []),
        default_instead(("D", 0), lambda lab: lab.end(2, 0)),
    ),
]
"""The same in OTHER_LAB."""
OUT_MISSING_ROWS: list[tuple[str, str, Any, Any, dict[Any, Text]]] = [
    ("route-out-missing", "routes", ("B", None), [], {}),
]
"""The same in OUT_LAB."""


def a_route(switch: str, destination: Text, mask: Text, next_hop: Text) -> dict[str, Text]:
    return {"switch": switch, "destination": destination, "mask": mask, "next_hop": next_hop}


def a_row(spec: Any, address: Text, kind: str, lease: str) -> dict[str, Text]:
    return {
        "port": lambda lab: lab.port(spec),
        "vlan": lambda lab: str(lab.station(spec).vlan),
        "mac": lambda lab: lab.station(spec).mac,
        "address": address,
        "type": kind,
        "lease": lease,
    }


def towards_b(lab: Lab) -> str:
    return lab.end(0, 1)


EXTRA_ROWS: list[tuple[str, str, dict[str, Text], dict[Any, Text]]] = [
    ("route-duplicate-row", "routes", a_route("A", lambda lab: lab.at(2, 0), "/23", towards_b), {}),
    ("route-rival-row", "routes", a_route("A", lambda lab: lab.at(2, 0), "/23", lambda lab: lab.end(2, 1)), {}),
    (
        *("route-defaults-circle", "routes", a_route("A", "0.0.0.0", "/0", towards_b)),
        {("routes.destination", ("B", 0)): "0.0.0.0", ("routes.mask", ("B", 0)): "0"},
    ),
    (
        "route-extra-circles",
        "routes",
        a_route(
            "A",
            lambda lab: str(lab.scenario.block.network_address),
            lambda lab: f"/{lab.scenario.block.prefixlen}",
            towards_b,
        ),
        {("routes.destination", ("B", 0)): "0.0.0.0", ("routes.mask", ("B", 0)): "0"},
    ),
    ("route-default-not-needed", "routes", a_route("A", "0.0.0.0", "/0", towards_b), {}),
    ("route-extra-to-connected-network", "routes", a_route("A", lambda lab: lab.at(1, 0), "/25", towards_b), {}),
    ("route-extra-host-bits", "routes", a_route("A", lambda lab: lab.at(2, 5), "/23", towards_b), {}),
    (
        *("route-extra-to-what-cannot-be", "routes", a_route("A", "172.15.0.0", "/23", towards_b)),
        {("subnets.network", 2): "172.15.0.0"},
    ),
    ("route-dest-nexthop-swapped", "routes", a_route("A", towards_b, "/23", lambda lab: lab.at(2, 0)), {}),
    ("route-extra-to-link", "routes", a_route("A", lambda lab: str(lab.link(1)[0]), "/30", towards_b), {}),
    ("route-extra-part-of-network", "routes", a_route("A", lambda lab: lab.at(2, 256), "/24", towards_b), {}),
    ("route-extra-to-nowhere", "routes", a_route("A", "192.168.1.0", "/24", towards_b), {}),
    (
        *("route-extra-others-carry", "routes", a_route("A", lambda lab: lab.at(2, 0), "/23", "192.168.1.1")),
        {("routes.destination", ("A", 2)): "0.0.0.0", ("routes.mask", ("A", 2)): "0"},
    ),
    ("row-not-asked", "routes", {"switch": "A"}, {}),
    ("relay-not-needed", "relays", {"vlan": lambda lab: lab.number(0)}, {}),
    ("relay-row-twice", "relays", {"vlan": lambda lab: lab.number(2)}, {}),
    ("relay-for-vlan-without-clients", "relays", {"vlan": lambda lab: lab.number(5)}, {}),
    ("relay-for-unknown-vlan", "relays", {"vlan": "1000"}, {}),
    ("binding-duplicate", "bindings", a_row((3, 0), lambda lab: lab.at(3, 11), "dynamic", "6 h"), {}),
    (
        *("binding-for-server", "bindings"),
        a_row("server", lambda lab: lab.shown("stations.address", "server"), "static", "infinite"),
        {},
    ),
    (
        "binding-for-switch",
        "bindings",
        {"port": lambda lab: lab.port(("B", "A")), "address": towards_b, "type": "static"},
        {},
    ),
    (
        *("binding-for-unguarded-station", "bindings"),
        a_row((4, 0), lambda lab: lab.shown("stations.address", (4, 0)), "static", "infinite"),
        {},
    ),
    ("binding-for-unsnooped-client", "bindings", a_row((6, 0), lambda lab: lab.at(6, 11), "dynamic", "6 h"), {}),
    ("binding-for-empty-port", "bindings", {"port": "B/48"}, {}),
]
"""Mistake, section, what stands in the row, what is written elsewhere."""


def fixed_in(lab: Lab, place: int) -> str:
    return lab.shown("stations.address", (place, 2))


FREE_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    ("own-plan-outside-block", "subnets.network", 1, "192.168.7.0", {}),
    ("own-plan-off-boundary", "subnets.network", 1, lambda lab: lab.at(1, 64), {}),
    ("own-plan-overlaps", "subnets.network", 3, lambda lab: lab.at(2, 64), {}),
    (
        *(
            "own-plan-contradicts-its-row",
            "subnets.network",
            1,
            lambda lab: str(lab.scenario.block[-lab.net(1).num_addresses]),
        ),
        {("subnets.first", 1): lambda lab: lab.at(1, 1), ("subnets.broadcast", 1): lambda lab: lab.at(1, -1)},
    ),
    ("own-plan-overlaps", "links.network", 0, lambda lab: lab.at(2, 64), {}),
    ("own-gateway-not-usable", "subnets.gateway", 3, lambda lab: lab.at(3, -1), {}),
    ("own-gateway-is-a-stations", "subnets.gateway", 3, lambda lab: fixed_in(lab, 3), {}),
    ("own-gateway-in-pool", "subnets.gateway", 3, lambda lab: lab.at(3, 20), {}),
    ("own-link-end-outside", "links.first", 0, lambda lab: str(lab.link(0)[0]), {}),
    (
        *("own-gateway-where-the-pool-belongs", "subnets.gateway", 3, lambda lab: lab.at(3, 20)),
        {("pools.first", 3): lambda lab: lab.at(3, 21)},
    ),
]
"""Where the plan, the gateway and the ends of links are the trainee's own choice."""


RANGES_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    (
        *("network-sorted-by-size-only", "subnets.network", 5),
        lambda _lab: drawn(replace(RANGES, settings={**RANGES.settings, "order": "largest first"}), 7).at(5, 0),
        {},
    ),
]
"""Where each switch has a range of its own."""

STRICT_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    (
        *("follows-from-an-error", "pools.first", 2, lambda lab: str(lab.scenario.block[512 + 11])),
        {("subnets.network", 2): lambda lab: str(lab.scenario.block[512])},
    ),
]
"""Where nothing counts that follows from an error."""


NAMES_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    ("scope-dns-missing", "pools.dns", 2, "", {}),
    ("scope-dns-is-router", "pools.dns", 2, lambda lab: lab.gateway(2), {}),
    ("scope-dns-is-server-gateway", "pools.dns", 2, lambda lab: lab.gateway(0), {}),
    ("scope-dns-is-broadcast", "pools.dns", 2, lambda lab: lab.at(0, -1), {}),
    ("scope-dns-is-broadcast", "pools.dns", 2, "255.255.255.255", {}),
    ("scope-dns-is-network", "pools.dns", 2, lambda lab: lab.at(0, 0), {}),
    ("scope-dns-on-a-link", "pools.dns", 2, lambda lab: lab.end(0, 0), {}),
    ("scope-dns-another-gateway", "pools.dns", 2, lambda lab: lab.gateway(1), {}),
    ("scope-dns-is-station", "pools.dns", 2, lambda lab: lab.shown("stations.address", (3, 2)), {}),
    ("scope-dns-beside-server", "pools.dns", 2, plus("pools.dns", 2, 1), {}),
    ("scope-dns-in-clients-network", "pools.dns", 2, lambda lab: lab.at(2, 7), {}),
    ("scope-dns-elsewhere-in-plan", "pools.dns", 2, lambda lab: lab.at(5, 20), {}),
    ("scope-dns-nobody", "pools.dns", 2, lambda lab: str(lab.scenario.block[-2]), {}),
]
"""The same in NAMES_LAB, where pools tell of a DNS server."""
NAMESAKES_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    ("relay-switch-unknown", "relays.switch", 2, "Z", {}),
    ("relay-switch-of-namesake", "relays.switch", 2, "A", {}),
    ("relay-switch-is-servers", "relays.switch", 3, "A", {}),
    ("relay-switch-without-vlan", "relays.switch", 2, "D", {}),
    ("broadcast-over-routed-port", "subnets.heard", 2, heard(2, ("B", "A")), {}),
    ("broadcast-to-namesake", "subnets.heard", 2, heard(2, (1, 0)), {}),
    ("broadcast-to-other-vlan", "subnets.heard", 2, heard(2, (3, 0)), {}),
    ("broadcast-misses-stations", "subnets.heard", 2, heard(2, without=(2, 0)), {}),
    ("broadcast-to-port-of-nobody", "subnets.heard", 2, heard(2, "none"), {}),
]
"""The same in NAMESAKES_LAB, where VLANs 2 and 1 have one number, on switches B and A."""
OUT_CELLS: list[tuple[str, str, Any, Text, dict[Any, Text]]] = [
    ("route-out-to-one-network", "routes.destination", ("A", None), "203.0.113.0", {"routes.mask": "/24"}),
    ("route-out-is-no-default", "routes.destination", ("A", None), "128.0.0.0", {"routes.mask": "/1"}),
    (
        *("route-next-hop-is-test-address", "routes.next_hop", ("A", None)),
        *(lambda lab: str(lab.scenario.way_out.test_address), {}),
    ),
    (
        *("route-next-hop-outside-is-far", "routes.next_hop", ("B", None)),
        *(lambda lab: str(lab.scenario.way_out.neighbour), {}),
    ),
]
"""The same in OUT_LAB, where switch A has a way out."""


def examples() -> Iterator[Any]:
    for lab, cells in (
        *((LAB, CELLS), (OTHER_LAB, OTHER_CELLS), (FREE_LAB, FREE_CELLS)),
        *(
            (RANGES_LAB, RANGES_CELLS),
            (STRICT_LAB, STRICT_CELLS),
            (NAMES_LAB, NAMES_CELLS),
            (NAMESAKES_LAB, NAMESAKES_CELLS),
            (OUT_LAB, OUT_CELLS),
        ),
    ):
        for name, question, row, text, also in cells:
            yield pytest.param(name, wrong_cell(lab, question, row, text, also), id=f"{name} in {question}")
    for lab, missing in ((LAB, MISSING_ROWS), (OTHER_LAB, OTHER_MISSING_ROWS), (OUT_LAB, OUT_MISSING_ROWS)):
        for name, section_id, row, without, also in missing:
            yield pytest.param(name, missing_row(lab, section_id, row, without, also), id=f"{name} in {section_id}")
    giaddr = replace(missing_row(LAB, "relays", 2, []), question=QUESTIONS["relays.giaddr"])
    yield pytest.param("relay-missing-giaddr", giaddr, id="relay-missing-giaddr in relays.giaddr")
    for name, section_id, texts, also in EXTRA_ROWS:
        yield pytest.param(name, extra_row(LAB, section_id, texts, also), id=f"{name} in {section_id}")


EXAMPLES = tuple(examples())
