"""Whether an error made the work that rests on it easier: computed, not judged (marking rule R5)."""

from ipaddress import IPv4Network

from trainer.lab.form import SoFar
from trainer.lab.questions.subnets import network_of
from trainer.lab.scenario import Order, Scenario

__all__ = ["is_eased"]


def is_eased(scenario: Scenario, so_far: SoFar, key: SoFar, vlan: int) -> bool:
    """Whether the VLAN's network, as the trainee planned it, asks for less than the key's.

    In a free plan its place is the trainee's choice, so only its length is looked at.
    """
    theirs, keys = network_of(so_far, vlan), network_of(key, vlan)
    demands = _demands_of_length if scenario.rules.order is Order.FREE else _demands
    return any(less < more for less, more in zip(demands(theirs), demands(keys), strict=True))


def _demands(network: IPv4Network) -> tuple[bool, ...]:
    starts_in_mid_octet = int(network.network_address) & 0xFF != 0
    return (*_demands_of_length(network), starts_in_mid_octet)


def _demands_of_length(network: IPv4Network) -> tuple[bool, ...]:
    ends_within_an_octet = network.prefixlen % 8 != 0
    spans_the_third_octet = network.prefixlen < 24
    return ends_within_an_octet, spans_the_third_octet
