"""What tells mistakes on sheet Bindings apart: in the cells of a row, and in whole rows."""

from typing import Any

from trainer.lab.form import Question
from trainer.lab.kinds import INFINITE, BindingType
from trainer.lab.questions import bindings, pools, protection, subnets
from trainer.lab.questions.protection import guarded_ports
from trainer.lab.rows import SwitchRow
from trainer.lab.scenario import StationPlan
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import WrongCell
from trainer.marking.plan_view import PortRole

__all__ = [
    "contradicts_lease",
    "differs_from_pool",
    "is_by_hand_for_client",
    "is_client_missing",
    "is_counted_from_the_end",
    "is_fixed_station_missing",
    "is_group_mac",
    "is_guarded_without_row",
    "is_learnt_for_fixed",
    "is_link_port",
    "is_mac_of_another",
    "is_mac_slip",
    "is_no_mac_of_lab",
    "is_not_lent",
    "is_not_own_fixed",
    "is_other_letter",
    "is_other_station_port",
    "is_out_of_turn",
    "is_port_not_in_use",
    "is_reversed_mac",
    "is_server_mac",
    "is_server_port",
    "is_server_vlan",
    "is_unknown_switch",
    "names_empty_port",
    "names_server",
    "names_switch",
    "names_unguarded_fixed",
    "names_unsnooped_client",
    "repeats_a_row",
]


def _client(cell: WrongCell) -> StationPlan | None:
    """The station of the row, if it asks for its address."""
    station = cell.station
    return station if station is not None and station.fixed_number is None else None


# Port, VLAN and MAC ---------------------------------------------------------------------------------------------------


def is_unknown_switch(cell: WrongCell) -> bool:
    return cell.value.switch not in cell.plan.switch_names


def is_other_letter(cell: WrongCell) -> bool:
    return bool(cell.value.port == cell.expected.port)


def is_link_port(cell: WrongCell) -> bool:
    return cell.plan.is_link_port(cell.value)


def is_server_port(cell: WrongCell) -> bool:
    return cell.plan.port_role(cell.value) is PortRole.SERVER


def is_other_station_port(cell: WrongCell) -> bool:
    return cell.plan.port_role(cell.value) is PortRole.STATION


def is_port_not_in_use(cell: WrongCell) -> bool:
    return cell.plan.port_role(cell.value) is PortRole.UNUSED


def is_server_vlan(cell: WrongCell) -> bool:
    return cell.holds(cell.scenario.server.vlan.number)


def is_server_mac(cell: WrongCell) -> bool:
    return cell.holds(cell.scenario.server.mac)


def is_group_mac(cell: WrongCell) -> bool:
    return int(cell.value[:2], 16) & 1 == 1


def is_mac_of_another(cell: WrongCell) -> bool:
    return any(cell.holds(each.mac) for each in cell.scenario.stations)


def is_no_mac_of_lab(cell: WrongCell) -> bool:
    return not is_mac_of_another(cell)


def is_reversed_mac(cell: WrongCell) -> bool:
    return bool("-".join(reversed(cell.value.split("-"))) == cell.expected)


def is_mac_slip(cell: WrongCell) -> bool:
    """A few digits changed, or the same digits in another order."""
    changed = sum(one != other for one, other in zip(cell.value, cell.expected, strict=True))
    return changed <= 4 or sorted(cell.value) == sorted(cell.expected)


# Address --------------------------------------------------------------------------------------------------------------


def is_counted_from_the_end(cell: WrongCell) -> bool:
    station = _client(cell)
    if station is None:
        return False
    turn = cell.scenario.turn_of(station)
    held = cell.plan.pool(station.vlan)
    return len(held) > turn and int(cell.value) == held[-1 - turn]


def is_out_of_turn(cell: WrongCell) -> bool:
    station = _client(cell)
    return station is not None and int(cell.value) in cell.plan.pool(station.vlan)


def is_not_lent(cell: WrongCell) -> bool:
    return _client(cell) is not None and address.is_in_own_network(cell) and not is_out_of_turn(cell)


def is_not_own_fixed(cell: WrongCell) -> bool:
    return _client(cell) is None


# Type and lease -------------------------------------------------------------------------------------------------------


def is_learnt_for_fixed(cell: WrongCell) -> bool:
    return cell.holds(BindingType.DYNAMIC)


def is_by_hand_for_client(cell: WrongCell) -> bool:
    return cell.holds(BindingType.STATIC)


def contradicts_lease(cell: WrongCell) -> bool:
    lease = cell.beside(bindings.BINDING_LEASE)
    return lease is not None and (lease == INFINITE) != cell.holds(BindingType.STATIC)


def differs_from_pool(cell: WrongCell) -> bool:
    """From what the trainee's own pool grants the client, which is right here."""
    station = _client(cell)
    if station is None:
        return False
    lease = cell.plan.answers.get(pools.POOL_LEASE, subnets.row_of(station.vlan))
    return lease is not None and bool(lease == cell.expected)


# Rows that are missing ------------------------------------------------------------------------------------------------


def is_guarded_without_row(cell: WrongCell) -> bool:
    station = cell.station
    if station is None or station.fixed_number is None:
        return False
    guarded = cell.plan.answers.get(protection.GUARDED, SwitchRow(station.at.switch))
    return guarded is not None and station.at.port in guarded


def is_fixed_station_missing(cell: WrongCell) -> bool:
    return cell.station is not None and _client(cell) is None


def is_client_missing(cell: WrongCell) -> bool:
    return _client(cell) is not None


# Rows that nobody asked for -------------------------------------------------------------------------------------------


def _named(cell: WrongCell) -> StationPlan | None:
    """The station that a row of the trainee is about, by its port, its MAC or its address."""
    port, mac = cell.beside(bindings.BINDING_PORT), cell.beside(bindings.BINDING_MAC)
    own = cell.beside(bindings.BINDING_ADDRESS)
    addresses = cell.plan.station_addresses
    for station in cell.scenario.stations:
        if mac == station.mac or port == station.at or (own is not None and own == addresses[station.name]):
            return station
    return None


def repeats_a_row(cell: WrongCell) -> bool:
    return _stands_elsewhere(cell, bindings.BINDING_MAC) or _stands_elsewhere(cell, bindings.BINDING_ADDRESS)


def _stands_elsewhere(cell: WrongCell, question: Question[Any, Any]) -> bool:
    """Whether another row of the sheet already holds what this one holds in that column."""
    value = cell.beside(question)
    others = (row for row in cell.plan.rows(bindings.BINDINGS.id) if row != cell.row)
    return value is not None and any(cell.plan.answers.get(question, row) == value for row in others)


def names_server(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and named.is_server


def names_switch(cell: WrongCell) -> bool:
    port, own = cell.beside(bindings.BINDING_PORT), cell.beside(bindings.BINDING_ADDRESS)
    if port is not None and cell.plan.is_link_port(port):
        return True
    return own is not None and (
        own in cell.plan.gateways.values() or any(own in each for each in cell.plan.link_networks.values())
    )


def names_unguarded_fixed(cell: WrongCell) -> bool:
    named = _named(cell)
    return (
        named is not None
        and named.fixed_number is not None
        and not named.is_server
        and named.at not in guarded_ports(cell.scenario)
    )


def names_unsnooped_client(cell: WrongCell) -> bool:
    named = _named(cell)
    return named is not None and named.fixed_number is None and not cell.scenario.vlan_by_id[named.vlan].is_snooped


def names_empty_port(cell: WrongCell) -> bool:
    port = cell.beside(bindings.BINDING_PORT)
    return port is not None and cell.plan.station_at(port) is None
