"""What the address in a cell is in the trainee's plan: predicates of mistakes that several sheets share."""

from trainer.marking.mistakes.mistake import WrongCell

__all__ = [
    "is_any_station",
    "is_broadcast_address",
    "is_gateway",
    "is_in_other_vlan",
    "is_in_own_network",
    "is_network_address",
    "is_on_link",
    "is_other_gateway",
    "is_outside_block",
    "is_outside_own_network",
    "is_outside_plan",
    "is_own_gateway",
    "is_reserved",
    "is_server",
    "stops_at_octet",
]


# Whose it is ----------------------------------------------------------------------------------------------------------


def is_gateway(cell: WrongCell) -> bool:
    """Of any VLAN."""
    return cell.value in cell.mended.gateways.values()


def is_own_gateway(cell: WrongCell) -> bool:
    """Of the VLAN that the row is about."""
    return cell.gateway is not None and cell.holds(cell.gateway)


def is_other_gateway(cell: WrongCell) -> bool:
    """Of a VLAN that the row is not about."""
    return cell.value in cell.other_gateways


def is_server(cell: WrongCell) -> bool:
    """The DHCP server's."""
    return cell.holds(cell.plan.server_address)


def is_any_station(cell: WrongCell) -> bool:
    """Of any station, as fixed or as lent first."""
    return cell.value in cell.plan.station_addresses.values()


def is_reserved(cell: WrongCell) -> bool:
    """Nobody's: the network or broadcast address of any network of the plan."""
    return cell.value in cell.mended.reserved_addresses


# Where it lies --------------------------------------------------------------------------------------------------------


def is_network_address(cell: WrongCell) -> bool:
    """Of the network that the row is about."""
    return cell.network is not None and cell.holds(cell.network.network_address)


def is_broadcast_address(cell: WrongCell) -> bool:
    """Of the network that the row is about, its highest address."""
    return cell.network is not None and cell.holds(cell.network.broadcast_address)


def is_in_own_network(cell: WrongCell) -> bool:
    """In the network that the row is about."""
    return cell.is_in(cell.network)


def is_outside_own_network(cell: WrongCell) -> bool:
    """Not in the network that the row is about."""
    return cell.network is not None and not cell.is_in(cell.network)


def is_in_other_vlan(cell: WrongCell) -> bool:
    """In the network of a VLAN, and not in the one that the row is about."""
    return is_outside_own_network(cell) and cell.is_in(*cell.mended.networks.values())


def is_on_link(cell: WrongCell) -> bool:
    """In the network of a link, and not in the one that the row is about."""
    return cell.is_in(*cell.mended.link_networks.values()) and not is_in_own_network(cell)


def is_outside_plan(cell: WrongCell) -> bool:
    """In no VLAN network, neither where it can be nor where the trainee wrote it."""
    return not cell.is_in(*cell.mended.networks.values(), *cell.plan.planned_networks.values())


def is_outside_block(cell: WrongCell) -> bool:
    """In no part of what is given."""
    return not cell.is_in(cell.scenario.block)


def stops_at_octet(cell: WrongCell) -> bool:
    """At the end of the first slice of 256 addresses, while the network goes on."""
    if cell.network is None:
        return False
    slice_end = int(cell.network.network_address) | 255
    return slice_end < int(cell.network.broadcast_address) and slice_end - int(cell.value) in (0, 1)
