"""What tells mistakes on sheet Relays apart: in VLAN, target and giaddr, and in whole rows."""

from trainer.lab.questions import relays
from trainer.lab.scenario import Vlan
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import WrongCell

__all__ = [
    "has_namesake",
    "is_beside_server",
    "is_broadcast",
    "is_client",
    "is_client_vlan_missing",
    "is_every_relay_missing",
    "is_in_plan",
    "is_network",
    "is_next_hop",
    "is_no_switch",
    "is_nobody",
    "is_on_another_switch",
    "is_own_address",
    "is_server_gateway",
    "is_server_switch",
    "is_zero",
    "names_no_vlan",
    "names_server_vlan",
    "names_vlan_of_another_row",
    "names_vlan_without_clients",
]

# The VLAN of the row --------------------------------------------------------------------------------------------------


def _named(cell: WrongCell) -> Vlan | None:
    """The VLAN that the trainee's row names; where several switches have the number, the one on the switch it names."""
    number, switch = cell.beside(relays.RELAY_VLAN), cell.beside(relays.RELAY_SWITCH)
    vlans = () if number is None else cell.scenario.vlans_numbered(number)
    return next((vlan for vlan in vlans if switch in (None, vlan.switch)), None)


def names_server_vlan(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and named.id == cell.scenario.server.vlan


def names_vlan_without_clients(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and not cell.scenario.dhcp_stations(named.id)


def names_no_vlan(cell: WrongCell) -> bool:
    return cell.beside(relays.RELAY_VLAN) is not None and _named(cell) is None


def names_vlan_of_another_row(cell: WrongCell) -> bool:
    number, switch = cell.beside(relays.RELAY_VLAN), cell.beside(relays.RELAY_SWITCH)
    others = (row for row in cell.plan.rows(relays.RELAYS.id) if row != cell.row)
    return number is not None and any(
        cell.plan.answers.get(relays.RELAY_VLAN, row) == number
        and cell.plan.answers.get(relays.RELAY_SWITCH, row) == switch
        for row in others
    )


def is_on_another_switch(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and cell.vlan is not None and named.switch != cell.vlan.switch


# The switch of the row ------------------------------------------------------------------------------------------------


def is_server_switch(cell: WrongCell) -> bool:
    return cell.holds(cell.scenario.server.at.switch)


def has_namesake(cell: WrongCell) -> bool:
    """The switch has a VLAN with the number that the row names."""
    number = cell.beside(relays.RELAY_VLAN)
    return number is not None and cell.scenario.vlan_on(cell.value, number) is not None


def is_no_switch(cell: WrongCell) -> bool:
    return cell.value not in cell.plan.switch_names


# Addresses ------------------------------------------------------------------------------------------------------------


def is_server_gateway(cell: WrongCell) -> bool:
    return cell.holds(cell.plan.gateways[cell.scenario.server.vlan])


def is_own_address(cell: WrongCell) -> bool:
    """Of the switch that hears the clients."""
    return cell.vlan is not None and cell.value in cell.plan.own_addresses(cell.vlan.switch)


def is_next_hop(cell: WrongCell) -> bool:
    return cell.vlan is not None and cell.value in cell.plan.neighbours(cell.vlan.switch)


def is_broadcast(cell: WrongCell) -> bool:
    return int(cell.value) == 0xFFFFFFFF or cell.value in cell.plan.broadcast_addresses


def is_network(cell: WrongCell) -> bool:
    return address.is_reserved(cell) and not is_broadcast(cell)


def is_zero(cell: WrongCell) -> bool:
    return int(cell.value) == 0


def is_client(cell: WrongCell) -> bool:
    return cell.plan.is_for_stations(cell.value) and not address.is_server(cell)


def is_beside_server(cell: WrongCell) -> bool:
    return cell.is_in(cell.plan.server_network)


def is_in_plan(cell: WrongCell) -> bool:
    return cell.is_in(*cell.plan.all_networks)


def is_nobody(cell: WrongCell) -> bool:
    return not address.is_outside_block(cell) and not is_in_plan(cell)


# Rows that are missing ------------------------------------------------------------------------------------------------


def is_every_relay_missing(cell: WrongCell) -> bool:
    return not cell.plan.rows(relays.RELAYS.id)


def is_client_vlan_missing(cell: WrongCell) -> bool:
    return cell.vlan is not None
