"""What a mistake may look at: the lab as the trainee planned it so far, in the words of the network."""

import re
from enum import Enum
from ipaddress import AddressValueError, IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey
from trainer.lab.kinds import ADDRESS, DOTTED_MASK, MASK, PREFIX_LENGTH, ROUTE_MASK, VLAN, Kind, NotReadable
from trainer.lab.questions import FORM, bindings, links, pools, ports, relays, routes, stations, subnets
from trainer.lab.questions.routes import required_route
from trainer.lab.scenario import StationPlan, Vlan
from trainer.marking.mistakes.mistake import Lapse, WrongCell
from trainer.network.addresses import network_at
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = [
    "ADDRESS_QUESTIONS",
    "ALL_QUESTIONS",
    "LENGTH_QUESTIONS",
    "VLAN_QUESTIONS",
    "PortRole",
    "as_dotted",
    "attached_length",
    "bound_elsewhere",
    "configured_elsewhere",
    "connected_networks",
    "exchanged_column",
    "exchanged_with",
    "gateways",
    "is_reserved",
    "is_written",
    "link_ends",
    "link_networks",
    "neighbours",
    "neighbours_covered",
    "other_gateways",
    "other_networks",
    "own_addresses",
    "own_gateway",
    "own_network",
    "owner",
    "planned_networks",
    "pool_range",
    "port_role",
    "questions_of",
    "server_address",
    "station_addresses",
    "station_at",
    "station_of",
    "switch_names",
    "vlan_networks",
    "vlan_of",
    "written",
    "written_rows",
]


def questions_of(*kinds: Kind[Any]) -> frozenset[str]:
    """Ids of all questions of the form that are answered by one of these kinds."""
    return frozenset(each.id for section in FORM for each in section.questions if any(each.kind is k for k in kinds))


ALL_QUESTIONS = frozenset(each.id for section in FORM for each in section.questions)
ADDRESS_QUESTIONS = questions_of(ADDRESS)
LENGTH_QUESTIONS = questions_of(DOTTED_MASK, MASK, ROUTE_MASK, PREFIX_LENGTH)
VLAN_QUESTIONS = questions_of(VLAN) | {ports.PORT_VLAN.id}


class PortRole(Enum):
    """What is at the end of a port's cable, seen from the DHCP server."""

    SERVER = "server"
    STATION = "station"
    UPLINK = "uplink"
    """Leads towards the server."""
    DOWNLINK = "downlink"
    """Leads to another switch, away from the server."""
    UNUSED = "unused"


def written(cell: WrongCell, question: Question[Any]) -> Any:
    """What the trainee wrote in another cell of the same row; None where there is nothing readable."""
    return cell.answers.get(question, cell.row)


def written_rows(cell: WrongCell, section: str) -> tuple[RowKey, ...]:
    """The rows of an open section that the trainee wrote, by their labels."""
    return tuple(cell.answers.rows.get(section, ()))


def as_dotted(text: str) -> int | None:
    """The bits of a text with four numbers; None where it is no such text."""
    try:
        return int(IPv4Address(text))
    except AddressValueError:
        return None


def is_written(cell: WrongCell, question: Question[Any], row: RowKey) -> bool:
    """Whether the trainee wrote a readable value there, or found it printed: only then is it of the trainee's plan."""
    is_asked = question.id.partition(".")[0] in cell.scenario.asked
    return not is_asked or cell.answers.get(question, row) is not None


def attached_length(cell: WrongCell, question: Question[Any]) -> bool:
    """Whether a prefix length stands behind the address in another cell of the row: "172.20.4.0/23"."""
    return re.search(r"/\s*\d{1,2}$", cell.texts.get(CellRef(question.id, cell.row), "")) is not None


def exchanged_with(cell: WrongCell) -> RowKey | None:
    """Another row of the same section whose answer in this column changed places with this one: each is right there."""
    here = cell.key_row
    if here is None or cell.value == cell.expected:
        return None
    others = (row.key for row in cell.section.rows(cell.scenario) if row.key != here)
    for row in others:
        theirs = cell.answers.get(cell.question, row)
        is_exchanged = theirs in _right_values(cell, here) and cell.value in _right_values(cell, row)
        if is_exchanged and theirs != cell.value and _is_no_other_order(cell, {here, row}):
            return row
    return None


def exchanged_column(cell: WrongCell) -> Question[Any] | None:
    """Another column whose cell in this row changed places with this one: each text can be read, or is right, only there."""
    others = (each for each in cell.section.questions if each.id != cell.question.id)
    if cell.lapse is Lapse.UNREADABLE:
        return next((each for each in others if _is_readable_only_there(cell, each)), None)
    of_its_kind = (each for each in others if each.kind is cell.question.kind and not each.kind.is_set)
    return next((each for each in of_its_kind if _is_right_only_there(cell, each)), None)


def _is_readable_only_there(cell: WrongCell, other: Question[Any]) -> bool:
    theirs = cell.texts.get(CellRef(other.id, cell.row), "")
    return (
        _can_be_read(other, cell.text)
        and _can_be_read(cell.question, theirs)
        and not _can_be_read(other, theirs)
        and not _can_be_read(cell.question, cell.text)
    )


def _can_be_read(question: Question[Any], text: str) -> bool:
    try:
        question.kind.read(text)
    except NotReadable:
        return False
    return True


def _is_right_only_there(cell: WrongCell, other: Question[Any]) -> bool:
    row, theirs = cell.key_row, cell.answers.get(other, cell.row)
    if row is None or theirs is None or cell.value in (cell.expected, theirs):
        return False
    rights = (cell.key.value(other, row), other.answer(cell.scenario, cell.so_far, row))
    return cell.value in rights and theirs in (cell.expected, cell.key.value(cell.question, row))


def _is_no_other_order(cell: WrongCell, rows: set[RowKey]) -> bool:
    """Whether two networks alone changed places; where more are not in the key's, the plan has another order."""
    if cell.question not in (subnets.NETWORK_ADDRESS, links.LINK_NETWORK):
        return True
    written_in = (row.key for row in cell.section.rows(cell.scenario))
    return rows == {
        row for row in written_in if cell.answers.get(cell.question, row) != cell.key.value(cell.question, row)
    }


def _right_values(cell: WrongCell, row: RowKey) -> tuple[Any, Any]:
    """What is right in a row of this column: by the key, and by the trainee's earlier answers."""
    return cell.key.value(cell.question, row), cell.question.answer(cell.scenario, cell.so_far, row)


def station_of(cell: WrongCell) -> StationPlan | None:
    """The station that the row is about, on the sheets that have a row for a station."""
    if cell.key_row is None:
        return None
    if cell.section.id == ports.PORTS.id:
        return station_at(cell, cell.key_row)
    return cell.scenario.station_by_name.get(cell.key_row)


def station_at(cell: WrongCell, port: str) -> StationPlan | None:
    """The station that is plugged into a port, such as "B/7"."""
    return next((each for each in cell.scenario.stations if str(each.at) == port), None)


def vlan_of(cell: WrongCell) -> Vlan | None:
    """The VLAN that the row is about; None on sheets where a row is about something else."""
    row = cell.key_row
    if row is None:
        return None
    if cell.section.id in (subnets.SUBNETS.id, pools.POOLS.id, relays.RELAYS.id):
        return cell.scenario.vlan_by_number.get(int(row))
    if cell.section.id == routes.ROUTES.id:
        return cell.scenario.vlan_by_number.get(required_route(row)[1])
    station = station_of(cell)
    return None if station is None else cell.scenario.vlan_by_number.get(station.vlan)


def own_network(cell: WrongCell) -> IPv4Network | None:
    """The network that the row is about, as it follows from the trainee's other cells."""
    row = cell.key_row
    if row is not None and cell.section.id == links.LINKS.id:
        start = cell.expected if cell.question is links.LINK_NETWORK else cell.so_far.value(links.LINK_NETWORK, row)
        return network_at(start, cell.so_far.value(links.LINK_MASK, row))
    vlan = vlan_of(cell)
    if vlan is None:
        return None
    if cell.question is subnets.NETWORK_ADDRESS:
        return network_at(cell.expected, cell.so_far.value(subnets.PREFIX_LENGTH_OF, subnets.row_of(vlan.number)))
    return subnets.network_of(cell.so_far, vlan.number)


def own_gateway(cell: WrongCell) -> IPv4Address | None:
    """The gateway of the VLAN that the row is about; what is right there where the cell asks for it."""
    vlan = vlan_of(cell)
    if vlan is None:
        return None
    if cell.question is subnets.GATEWAY:
        right: IPv4Address = cell.expected
        return right
    return cell.so_far.value(subnets.GATEWAY, subnets.row_of(vlan.number))


def vlan_networks(cell: WrongCell) -> dict[int, IPv4Network]:
    """The networks of all VLANs."""
    networks = {vlan.number: subnets.network_of(cell.so_far, vlan.number) for vlan in cell.scenario.vlans}
    vlan, own = vlan_of(cell), own_network(cell)
    if vlan is not None and own is not None:
        networks[vlan.number] = own
    return networks


def planned_networks(cell: WrongCell) -> dict[int, IPv4Network]:
    """The networks of all VLANs as the trainee wrote them, those too that cannot be."""
    return {vlan.number: subnets.network_of(cell.as_written, vlan.number) for vlan in cell.scenario.vlans}


def link_networks(cell: WrongCell) -> dict[str, IPv4Network]:
    """The networks of all links, by the link's name."""
    networks = {}
    for link in cell.scenario.links:
        row = RowKey(link.name)
        networks[link.name] = network_at(
            cell.so_far.value(links.LINK_NETWORK, row), cell.so_far.value(links.LINK_MASK, row)
        )
    own = own_network(cell)
    if cell.section.id == links.LINKS.id and cell.key_row is not None and own is not None:
        networks[str(cell.key_row)] = own
    return networks


def other_networks(cell: WrongCell) -> tuple[IPv4Network, ...]:
    """All networks of the trainee's plan, as far as it is written, but the one that the row is about."""
    vlan = vlan_of(cell)
    own_vlan = None if vlan is None else vlan.number
    own_link = cell.key_row if cell.section.id == links.LINKS.id else None
    return (
        *(
            network
            for number, network in planned_networks(cell).items()
            if number != own_vlan and is_written(cell, subnets.NETWORK_ADDRESS, subnets.row_of(number))
        ),
        *(
            network_at(cell.as_written.value(links.LINK_NETWORK, row), cell.as_written.value(links.LINK_MASK, row))
            for row in (RowKey(link.name) for link in cell.scenario.links)
            if row != own_link and is_written(cell, links.LINK_NETWORK, row)
        ),
    )


def neighbours_covered(cell: WrongCell) -> bool:
    """Whether the network of the row's VLAN, under the mask in this cell, holds addresses of another of the plan."""
    vlan = vlan_of(cell)
    if vlan is None:
        return False
    start = cell.as_written.value(subnets.NETWORK_ADDRESS, subnets.row_of(vlan.number))
    claimed = network_at(start, cell.value)
    return any(claimed.overlaps(each) for each in other_networks(cell))


def gateways(cell: WrongCell) -> dict[int, IPv4Address]:
    """The gateways of all VLANs."""
    found = {
        vlan.number: cell.so_far.value(subnets.GATEWAY, subnets.row_of(vlan.number)) for vlan in cell.scenario.vlans
    }
    vlan, own = vlan_of(cell), own_gateway(cell)
    if vlan is not None and own is not None:
        found[vlan.number] = own
    return found


def other_gateways(cell: WrongCell) -> frozenset[IPv4Address]:
    """The gateways of the VLANs that the row is not about."""
    vlan = vlan_of(cell)
    own = None if vlan is None else vlan.number
    return frozenset(address for number, address in gateways(cell).items() if number != own)


def link_ends(cell: WrongCell) -> dict[tuple[str, SwitchName], IPv4Address]:
    """The addresses of both ends of every link."""
    return {
        (link.name, end.switch): links.end_address(cell.so_far, link, end.switch)
        for link in cell.scenario.links
        for end in (link.first, link.second)
    }


def own_addresses(cell: WrongCell, switch: str) -> frozenset[IPv4Address]:
    """The addresses that a switch has itself."""
    vlans = cell.scenario.vlan_by_number
    return frozenset(
        (
            *(address for number, address in gateways(cell).items() if vlans[number].switch == switch),
            *(address for (_, end), address in link_ends(cell).items() if end == switch),
        )
    )


def neighbours(cell: WrongCell, switch: str) -> dict[IPv4Address, SwitchName]:
    """The far ends of a switch's links, and who is there."""
    names = {link.name for link in cell.scenario.links if switch in (link.first.switch, link.second.switch)}
    return {address: end for (name, end), address in link_ends(cell).items() if name in names and end != switch}


def owner(cell: WrongCell, address: IPv4Address) -> SwitchName | None:
    """The switch that has an address."""
    return next((each.name for each in cell.scenario.switches if address in own_addresses(cell, each.name)), None)


def connected_networks(cell: WrongCell, switch: str) -> tuple[IPv4Network, ...]:
    """The networks that a switch is connected to: its VLANs' and its links'."""
    vlans, names = cell.scenario.vlan_by_number, cell.scenario.link_by_name
    return (
        *(network for number, network in vlan_networks(cell).items() if vlans[number].switch == switch),
        *(
            network
            for name, network in link_networks(cell).items()
            if switch in (names[name].first.switch, names[name].second.switch)
        ),
    )


def station_addresses(cell: WrongCell) -> dict[str, IPv4Address]:
    """The fixed addresses, and those that the server will hand out first (rule 10)."""
    found = {}
    for station in cell.scenario.stations:
        if station.fixed_number is not None:
            found[station.name] = cell.so_far.value(stations.STATION_ADDRESS, RowKey(station.name))
            continue
        first = cell.so_far.value(pools.POOL_FIRST, subnets.row_of(station.vlan))
        turn = cell.scenario.dhcp_stations(station.vlan).index(station)
        found[station.name] = IPv4Address(min(int(first) + turn, 0xFFFFFFFF))
    return found


def server_address(cell: WrongCell) -> IPv4Address:
    """The address of the DHCP server."""
    return cell.so_far.value(stations.STATION_ADDRESS, RowKey(cell.scenario.server.name))


def pool_range(cell: WrongCell, vlan: int) -> range:
    """The addresses of a VLAN's pool as plain numbers; empty where the VLAN has no pool."""
    if not cell.scenario.dhcp_stations(vlan):
        return range(0)
    row = subnets.row_of(vlan)
    return range(int(cell.so_far.value(pools.POOL_FIRST, row)), int(cell.so_far.value(pools.POOL_LAST, row)) + 1)


def is_reserved(cell: WrongCell, address: IPv4Address) -> bool:
    """Whether it is the network or the broadcast address of any network of the plan that has them."""
    networks = (*vlan_networks(cell).values(), *link_networks(cell).values())
    return any(
        address in (network.network_address, network.broadcast_address)
        for network in networks
        if network.prefixlen < 31
    )


def configured_elsewhere(cell: WrongCell, address: IPv4Address) -> bool:
    """Whether the trainee gives an address to another device, in another cell."""
    here = CellRef(cell.question.id, cell.row)
    ids = {subnets.GATEWAY.id, stations.STATION_ADDRESS.id, links.FIRST_ADDRESS.id, links.SECOND_ADDRESS.id}
    return any(value == address for ref, value in cell.answers.values.items() if ref.question in ids and ref != here)


def switch_names(cell: WrongCell) -> frozenset[str]:
    """The letters of the lab's switches."""
    return frozenset(switch.name for switch in cell.scenario.switches)


def port_role(cell: WrongCell, switch: str, port: str) -> PortRole:
    """What a port is for."""
    ref = PortRef(SwitchName(switch), PortName(port))
    scenario = cell.scenario
    if ref == scenario.server.at:
        return PortRole.SERVER
    if station_at(cell, str(ref)) is not None:
        return PortRole.STATION
    if not any(ref in (link.first, link.second) for link in scenario.links):
        return PortRole.UNUSED
    towards_here = scenario.ports_entered(SwitchName(scenario.server.at.switch), ref.switch)
    return PortRole.UPLINK if ref in towards_here else PortRole.DOWNLINK


def bound_elsewhere(cell: WrongCell, question: Question[Any], value: object) -> bool:
    """Whether another row of sheet Bindings already holds a value."""
    rows = written_rows(cell, bindings.BINDINGS.id)
    return any(row != cell.row and cell.answers.get(question, row) == value for row in rows)
