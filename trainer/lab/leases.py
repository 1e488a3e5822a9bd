"""What a client is told with a lease, part by part and in words, and which addresses of a pool are handed out first."""

from collections.abc import Mapping

from trainer.lab.kinds import LEASE
from trainer.lab.questions.pools import OPTIONS
from trainer.lab.scenario import Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.topology import Lease

__all__ = ["differences", "first_numbers", "in_words"]


def differences(lease: Lease, other: Lease) -> tuple[str, ...]:
    """What a lease has that another has not, in the trade's words: "another mask"; "no DNS server" where it has none, and "a DNS
    server" where the other has none.
    """
    elsewhere = _shown(other)
    return tuple(
        f"{_which(value, elsewhere[word])} {word}" for word, value in _shown(lease).items() if value != elsewhere[word]
    )


def _which(value: object, other: object) -> str:
    if value is None:
        return "no"
    return "a" if other is None else "another"


def _shown(lease: Lease) -> Mapping[str, object]:
    """Every part of a lease that client or server can show, by its word."""
    return {
        "address": lease.address,
        "mask": lease.prefix_length,
        "router": lease.router,
        **{question.heading: getattr(lease.options, option) for option, question in OPTIONS.items()},
        "lease time": lease.lease_seconds,
        "giaddr": lease.relay_address,
    }


def in_words(lease: Lease) -> str:
    """What the client is told: "10.20.2.11 /25, router 10.20.2.1, 6 h"."""
    router = f"router {lease.router}" if lease.router else "no router"
    options = (
        f"{question.heading} {question.kind.show(value)}"
        for option, question in OPTIONS.items()
        if (value := getattr(lease.options, option)) is not None
    )
    return ", ".join([f"{lease.address} /{lease.prefix_length}", router, *options, LEASE.show(lease.lease_seconds)])


def first_numbers(scenario: Scenario, vlan: VlanId) -> range:
    """The usable addresses, by number, that the DHCP stations of a VLAN get, in the order in which they start (rules Pools and
    Leases).
    """
    first = scenario.rules.kept_for_fixed + 1
    return range(first, first + len(scenario.dhcp_stations(vlan)))
