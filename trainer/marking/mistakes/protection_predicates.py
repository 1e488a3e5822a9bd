"""What tells mistakes on sheet Protection apart: which members of a list are too many, and which are missing."""

from collections.abc import Callable
from typing import Any

from trainer.lab.form import Question
from trainer.lab.questions import protection
from trainer.lab.rows import SwitchRow
from trainer.lab.scenario import StationPlan
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.plan_view import PortRole
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "adds",
    "adds_and_leaves_out",
    "guards_trusted_port",
    "guards_unsnooped_client",
    "is_empty",
    "is_needless_trust",
    "is_of_another_switch",
    "is_port_list",
    "is_right_for",
    "is_vlan_list",
    "leaves_out",
    "lists_all_vlans",
    "lists_default_vlan",
    "lists_every_port",
    "lists_foreign_vlan",
    "lists_unknown_vlan",
    "lists_unmarked_vlan",
    "misses_only_fixed_stations",
    "misses_only_vlans_without_clients",
    "misses_server_vlan",
    "misses_some",
    "only_adds",
    "should_be_empty",
    "snoops_on_nothing",
    "trusts_every_station",
]

_PORT_LISTS = (protection.TRUSTED, protection.GUARDED)


def _extra(cell: WrongCell) -> frozenset[Any]:
    found: frozenset[Any] = cell.value - cell.expected
    return found


def _missing(cell: WrongCell) -> frozenset[Any]:
    found: frozenset[Any] = cell.expected - cell.value
    return found


def _switch(cell: WrongCell) -> SwitchName:
    assert isinstance(cell.key_row, SwitchRow), "this sheet has a row for a switch"
    return cell.key_row.switch


def _used_ports(cell: WrongCell) -> frozenset[PortName]:
    return frozenset(cell.scenario.port_names(_switch(cell)))


# Whole lists ----------------------------------------------------------------------------------------------------------


def is_empty(cell: WrongCell) -> bool:
    return not cell.value


def should_be_empty(cell: WrongCell) -> bool:
    return not cell.expected


def snoops_on_nothing(cell: WrongCell) -> bool:
    """An empty list, or none where the trainee wrote something else in the row."""
    if cell.flaw is Flaw.WRONG:
        return is_empty(cell)
    trusted, guarded = cell.beside(protection.TRUSTED), cell.beside(protection.GUARDED)
    return bool(cell.expected) and bool(trusted or guarded)


def is_needless_trust(cell: WrongCell) -> bool:
    """The switch snoops on nothing."""
    row = cell.key_row
    return should_be_empty(cell) and isinstance(row, SwitchRow) and not cell.plan.key.value(protection.SNOOPED, row)


def is_of_another_switch(cell: WrongCell) -> bool:
    if not cell.value or (len(cell.value) == 1 and cell.question in _PORT_LISTS):
        return False  # one port of the same number may be chance
    rows = (row.key for row in cell.section.rows(cell.scenario))
    return any(cell.holds(cell.plan.key.value(cell.question, row)) for row in rows if row != cell.key_row)


def is_right_for(question: Question[Any, Any]) -> Callable[[WrongCell], bool]:
    """The whole list would be right in another column of the row."""

    def fits(cell: WrongCell) -> bool:
        row = cell.key_row
        return row is not None and bool(cell.value) and _texts(cell.value) == _texts(cell.plan.key.value(question, row))

    return fits


def is_port_list(cell: WrongCell) -> bool:
    ports, vlans = _texts(_used_ports(cell)), _texts(_numbers(cell))
    return bool(_extra(cell)) and _texts(cell.value) <= ports - vlans


def is_vlan_list(cell: WrongCell) -> bool:
    ports, vlans = _texts(_used_ports(cell)), _texts(_numbers(cell))
    return bool(_extra(cell)) and _texts(cell.value) <= vlans - ports


def _texts(members: Any) -> set[str]:
    return {str(each) for each in members}


# VLANs ----------------------------------------------------------------------------------------------------------------


def lists_all_vlans(cell: WrongCell) -> bool:
    return bool(_extra(cell)) and cell.value >= _numbers(cell)


def lists_foreign_vlan(cell: WrongCell) -> bool:
    return any(switch is not None and switch != _switch(cell) for switch in _homes(cell))


def lists_unmarked_vlan(cell: WrongCell) -> bool:
    return any(switch == _switch(cell) for switch in _homes(cell))


def lists_unknown_vlan(cell: WrongCell) -> bool:
    return None in _homes(cell)


def _homes(cell: WrongCell) -> list[SwitchName | None]:
    """The switches of VLANs that are too many; None for one that the lab does not have."""
    return [_home(cell, number) for number in _extra(cell)]


def _home(cell: WrongCell, number: int) -> SwitchName | None:
    """The switch of a VLAN with that number, the row's own before others."""
    homes = [vlan.switch for vlan in cell.scenario.vlans_numbered(number)]
    return _switch(cell) if _switch(cell) in homes else next(iter(homes), None)


def _numbers(cell: WrongCell) -> frozenset[int]:
    """Of all VLANs of the lab."""
    return frozenset(vlan.number for vlan in cell.scenario.vlans)


def lists_default_vlan(cell: WrongCell) -> bool:
    return 1 in _extra(cell)


def misses_server_vlan(cell: WrongCell) -> bool:
    server = cell.scenario.server
    return server.at.switch == _switch(cell) and server.vlan.number in _missing(cell)


def misses_only_vlans_without_clients(cell: WrongCell) -> bool:
    missing = _missing(cell)
    vlans = (cell.scenario.vlan_on(_switch(cell), number) for number in missing)
    return bool(missing) and not any(vlan is not None and cell.scenario.dhcp_stations(vlan.id) for vlan in vlans)


def misses_some(cell: WrongCell) -> bool:
    return bool(_missing(cell))


# Ports ----------------------------------------------------------------------------------------------------------------


def adds(*roles: PortRole) -> Callable[[WrongCell], bool]:
    """A port of such a role is too many."""
    return lambda cell: not _roles(cell, _extra(cell)).isdisjoint(roles)


def only_adds(*roles: PortRole) -> Callable[[WrongCell], bool]:
    """A port of such a role is too many, and none is missing."""
    return lambda cell: adds(*roles)(cell) and not _missing(cell)


def leaves_out(role: PortRole) -> Callable[[WrongCell], bool]:
    """A port of such a role is missing."""
    return lambda cell: role in _roles(cell, _missing(cell))


def adds_and_leaves_out(added: PortRole, left_out: PortRole) -> Callable[[WrongCell], bool]:
    """A port of one role stands there, as if for one of the other."""
    return lambda cell: adds(added)(cell) and leaves_out(left_out)(cell)


def _roles(cell: WrongCell, ports: frozenset[Any]) -> set[PortRole]:
    return {cell.plan.port_role(PortRef(_switch(cell), PortName(str(port)))) for port in ports}


def _stations(cell: WrongCell, ports: frozenset[Any]) -> list[StationPlan | None]:
    """Who is plugged into ports of the switch; None where nobody is."""
    return [cell.plan.station_at(PortRef(_switch(cell), PortName(str(port)))) for port in ports]


def lists_every_port(cell: WrongCell) -> bool:
    used = _used_ports(cell)
    return bool(_extra(cell)) and bool(used) and cell.value >= used


def trusts_every_station(cell: WrongCell) -> bool:
    """Every port of the switch with a station, or every port that is used at all."""
    here = {each.at.port for each in cell.scenario.stations if each.at.switch == _switch(cell) and not each.is_server}
    return lists_every_port(cell) or (len(here) > 1 and bool(_extra(cell)) and here <= cell.value)


def guards_trusted_port(cell: WrongCell) -> bool:
    trusted = cell.beside(protection.TRUSTED) or frozenset()
    return bool(_extra(cell) & trusted)


def guards_unsnooped_client(cell: WrongCell) -> bool:
    snooped = cell.beside(protection.SNOOPED) or frozenset()
    clients = (each for each in _stations(cell, _extra(cell)) if each is not None and each.fixed_number is None)
    return any(each.vlan.number not in snooped for each in clients)


def misses_only_fixed_stations(cell: WrongCell) -> bool:
    stations = _stations(cell, _missing(cell))
    return bool(stations) and all(each is not None and each.fixed_number is not None for each in stations)
