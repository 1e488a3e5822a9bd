"""What a client is told with a lease, part by part and in words, and which addresses of a pool are handed out first."""

from collections.abc import Mapping

from trainer.lab.kinds import LEASE
from trainer.lab.scenario import Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.topology import Lease

__all__ = ["differences", "first_numbers", "in_words"]

_PARTS: Mapping[str, str] = {
    "address": "address",
    "prefix_length": "mask",
    "router": "router",
    "dns_server": "DNS server",
    "lease_seconds": "lease time",
    "relay_address": "giaddr",
}
"""Every part of a lease that client or server can show, by its field, in the trade's words."""


def differences(one: Lease, other: Lease) -> tuple[str, ...]:
    """In which parts two leases differ, in the trade's words."""
    return tuple(word for part, word in _PARTS.items() if getattr(one, part) != getattr(other, part))


def in_words(lease: Lease) -> str:
    """What the client is told: "10.20.2.11 /25, router 10.20.2.1, 6 h"."""
    router = f"router {lease.router}" if lease.router else "no router"
    names = f", DNS server {lease.dns_server}" if lease.dns_server else ""
    return f"{lease.address} /{lease.prefix_length}, {router}{names}, {LEASE.show(lease.lease_seconds)}"


def first_numbers(scenario: Scenario, vlan: VlanId) -> range:
    """The usable addresses, by number, that the DHCP stations of a VLAN get, in the order in which they start (rules Pools and
    Leases).
    """
    first = scenario.rules.kept_for_fixed + 1
    return range(first, first + len(scenario.dhcp_stations(vlan)))
