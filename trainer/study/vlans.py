"""A VLAN of a quick lab by its number, which stands once there: its row, its network, its clients."""

from ipaddress import IPv4Network

from trainer.lab.form import SoFar
from trainer.lab.questions import subnets
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Scenario, StationPlan, Vlan
from trainer.network.addresses import network_at

__all__ = ["clients_of", "network_of", "vlan_numbered"]


def vlan_numbered(scenario: Scenario, number: int) -> Vlan:
    """The VLAN with that number."""
    return next(each for each in scenario.vlans if each.number == number)


def network_of(so_far: SoFar, number: int) -> IPv4Network:
    """Its network as planned so far."""
    row = VlanRow(number)
    return network_at(so_far.value(subnets.NETWORK_ADDRESS, row), so_far.value(subnets.PREFIX_LENGTH_OF, row))


def clients_of(scenario: Scenario, number: int) -> tuple[StationPlan, ...]:
    """Its stations that ask for a lease, in the order in which they start."""
    return tuple(each for each in scenario.stations if each.vlan == number and each.fixed_number is None)
