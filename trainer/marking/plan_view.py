"""The lab as a trainee planned it so far, in the words of the network: what mistakes look at, worked out once a form."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar, Unique
from trainer.lab.questions import QUESTIONS, bindings, links, pools, stations, subnets
from trainer.lab.rows import LinkRow, StationRow
from trainer.lab.scenario import OUTSIDE, Scenario, StationPlan, WayOut
from trainer.lab.vlan_id import VlanId
from trainer.marking.free_plan import FreePlan
from trainer.marking.written_routes import Forwarding
from trainer.network.devices import PortRef, SwitchName

__all__ = ["PlanView", "PortRole"]


class PortRole(Enum):
    """What is at the end of a port's cable, seen from the DHCP server."""

    SERVER = "server"
    STATION = "station"
    UPLINK = "uplink"
    """Leads towards the server."""
    DOWNLINK = "downlink"
    """Leads to another switch, or out of the lab, away from the server."""
    UNUSED = "unused"


@dataclass(frozen=True, kw_only=True, eq=False)
class PlanView:
    """A filled form seen as a plan. Two views are never compared: there is one for each form that is marked."""

    scenario: Scenario
    answers: Answers
    """All the trainee's readable answers."""
    texts: Mapping[CellRef, str]
    """All that the trainee wrote, tidied."""
    so_far: SoFar
    """The trainee's usable values, the key's elsewhere."""
    as_written: SoFar
    """All the trainee's readable values, those too from which nothing may follow; the key's elsewhere."""
    key: SoFar
    """The key's values."""
    forwarding: Forwarding
    """Where the trainee's routes take packets."""
    free: FreePlan = field(default_factory=FreePlan)
    """What is found of the network cells where their places are the trainee's choice."""

    def with_right(self, cell: CellRef, right: Any) -> "PlanView":
        """The same plan, but for one cell that is taken as it should be."""
        return replace(self, so_far=SoFar(self.scenario, {cell: right}, self.so_far, takes_all=True))

    # What the trainee wrote -------------------------------------------------------------------------------------------

    def rows(self, section: str) -> tuple[RowKey, ...]:
        """The rows of an open section that the trainee wrote, by their labels."""
        return tuple(self.answers.rows.get(section, ()))

    @cached_property
    def planned_networks(self) -> Mapping[VlanId, IPv4Network]:
        """The networks of all VLANs as the trainee wrote them, those too that cannot be; by VLAN."""
        return {vlan.id: subnets.network_of(self.as_written, vlan.id) for vlan in self.scenario.vlans}

    @cached_property
    def written_networks(self) -> Mapping[RowKey, IPv4Network]:
        """The networks of VLANs and links whose address the trainee wrote or found printed, by their rows."""
        found: dict[RowKey, IPv4Network] = {
            subnets.row_of(vlan): network for vlan, network in self.planned_networks.items()
        }
        is_written = {row: self._is_written(subnets.NETWORK_ADDRESS, row) for row in found}
        for link in self.scenario.links:
            row = LinkRow(link.name)
            found[row] = links.network_of(self.as_written, row)
            is_written[row] = self._is_written(links.LINK_NETWORK, row)
        return {row: network for row, network in found.items() if is_written[row]}

    def _is_written(self, question: Question[Any, Any], row: RowKey) -> bool:
        """Whether the trainee wrote a readable value there, or found it printed: only then is it of the trainee's plan."""
        is_asked = question.section in self.scenario.asked
        return not is_asked or self.answers.get(question, row) is not None

    def is_outside_block(self, cells: Iterable[CellRef]) -> bool:
        """Whether one of the cells says where a network starts that the trainee wrote outside the block."""
        starts = (each for each in cells if QUESTIONS[each.question].must_differ is Unique.NETWORK)
        networks = (self.written_networks.get(each.row) for each in starts)
        return any(network is not None and not network.subnet_of(self.scenario.block) for network in networks)

    # Networks ---------------------------------------------------------------------------------------------------------

    @cached_property
    def networks(self) -> Mapping[VlanId, IPv4Network]:
        """The networks of all VLANs, by VLAN."""
        return {vlan.id: subnets.network_of(self.so_far, vlan.id) for vlan in self.scenario.vlans}

    @cached_property
    def link_networks(self) -> Mapping[str, IPv4Network]:
        """The networks of all links, by the link's name."""
        return {link.name: links.network_of(self.so_far, LinkRow(link.name)) for link in self.scenario.links}

    @cached_property
    def all_networks(self) -> tuple[IPv4Network, ...]:
        """The networks of all VLANs and all links."""
        return (*self.networks.values(), *self.link_networks.values())

    @cached_property
    def server_network(self) -> IPv4Network:
        """The network that the DHCP server stands in."""
        return self.networks[self.scenario.server.vlan]

    @cached_property
    def starts(self) -> frozenset[IPv4Address]:
        """The network addresses of all VLANs."""
        return frozenset(network.network_address for network in self.networks.values())

    @cached_property
    def broadcast_addresses(self) -> frozenset[IPv4Address]:
        """The broadcast addresses of all networks that have one."""
        return frozenset(network.broadcast_address for network in self.all_networks if network.prefixlen < 31)

    @cached_property
    def reserved_addresses(self) -> frozenset[IPv4Address]:
        """The network and broadcast addresses of all networks that keep them from devices."""
        starts = frozenset(network.network_address for network in self.all_networks if network.prefixlen < 31)
        return starts | self.broadcast_addresses

    def connected_networks(self, switch: str) -> tuple[IPv4Network, ...]:
        """The networks that a switch is connected to: its VLANs' and its links'."""
        vlans, names = self.scenario.vlan_by_id, self.scenario.link_by_name
        return (
            *(network for vlan, network in self.networks.items() if vlans[vlan].switch == switch),
            *(
                network
                for name, network in self.link_networks.items()
                if switch in (names[name].first.switch, names[name].second.switch)
            ),
            *(each.network for each in self._ways_out(switch)),
        )

    def _ways_out(self, switch: str) -> tuple[WayOut, ...]:
        """The way out of the lab, where the switch has it."""
        out = self.scenario.way_out
        return () if out is None or out.at.switch != switch else (out,)

    # Addresses of switches --------------------------------------------------------------------------------------------

    @cached_property
    def switch_names(self) -> frozenset[str]:
        """The letters of the lab's switches."""
        return frozenset(switch.name for switch in self.scenario.switches)

    @cached_property
    def gateways(self) -> Mapping[VlanId, IPv4Address]:
        """The gateways of all VLANs, by VLAN."""
        return {vlan.id: self.so_far.value(subnets.GATEWAY, subnets.row_of(vlan.id)) for vlan in self.scenario.vlans}

    @cached_property
    def link_ends(self) -> Mapping[tuple[str, SwitchName], IPv4Address]:
        """The addresses of both ends of every link, by the link's name and the switch at that end."""
        return {
            (link.name, end.switch): links.end_address(self.so_far, link, end.switch)
            for link in self.scenario.links
            for end in (link.first, link.second)
        }

    def own_addresses(self, switch: str) -> frozenset[IPv4Address]:
        """The addresses that a switch has itself."""
        vlans = self.scenario.vlan_by_id
        return frozenset(
            (
                *(address for vlan, address in self.gateways.items() if vlans[vlan].switch == switch),
                *(address for (_, end), address in self.link_ends.items() if end == switch),
                *(each.address for each in self._ways_out(switch)),
            )
        )

    def neighbours(self, switch: str) -> Mapping[IPv4Address, SwitchName]:
        """The far ends of a switch's links, and who is there."""
        names = {link.name for link in self.scenario.links if switch in (link.first.switch, link.second.switch)}
        theirs = {address: end for (name, end), address in self.link_ends.items() if name in names and end != switch}
        return theirs | {each.neighbour: OUTSIDE for each in self._ways_out(switch)}

    # Addresses of stations --------------------------------------------------------------------------------------------

    @cached_property
    def server_address(self) -> IPv4Address:
        """The address of the DHCP server."""
        return self.so_far.value(stations.STATION_ADDRESS, StationRow(self.scenario.server.name))

    @cached_property
    def station_addresses(self) -> Mapping[str, IPv4Address]:
        """By the station's name: the fixed addresses, and those that the server will hand out first (rule Leases)."""
        return {station.name: self._address_of(station) for station in self.scenario.stations}

    def _address_of(self, station: StationPlan) -> IPv4Address:
        if station.fixed_number is not None:
            return self.so_far.value(stations.STATION_ADDRESS, StationRow(station.name))
        return bindings.BINDING_ADDRESS.answer(self.scenario, self.so_far, StationRow(station.name))

    def fixed_addresses(self, vlan: VlanId) -> frozenset[IPv4Address]:
        """The addresses that stations of a VLAN have for good."""
        return frozenset(
            self.station_addresses[station.name]
            for station in self.scenario.stations
            if station.vlan == vlan and station.fixed_number is not None
        )

    def pool(self, vlan: VlanId) -> range:
        """The addresses of a VLAN's pool as plain numbers; empty where the VLAN has no pool."""
        if not self.scenario.dhcp_stations(vlan):
            return range(0)
        row = subnets.row_of(vlan)
        return range(int(self.so_far.value(pools.POOL_FIRST, row)), int(self.so_far.value(pools.POOL_LAST, row)) + 1)

    def is_for_stations(self, address: IPv4Address) -> bool:
        """Whether a station has the address, or a pool can hand it out."""
        in_pools = (self.pool(vlan.id) for vlan in self.scenario.dhcp_vlans)
        return address in self.station_addresses.values() or any(int(address) in each for each in in_pools)

    # Ports ------------------------------------------------------------------------------------------------------------

    @cached_property
    def _station_by_port(self) -> Mapping[PortRef, StationPlan]:
        return {station.at: station for station in self.scenario.stations}

    def station_at(self, port: PortRef) -> StationPlan | None:
        """The station that is plugged into a port."""
        return self._station_by_port.get(port)

    def port_role(self, port: PortRef) -> PortRole:
        """What a port is for."""
        if port == self.scenario.server.at:
            return PortRole.SERVER
        if self.station_at(port) is not None:
            return PortRole.STATION
        if not any(port == end for _, end in self.scenario.link_ends):
            return PortRole.UNUSED
        towards_here = self.scenario.ports_entered(self.scenario.server.at.switch, port.switch)
        return PortRole.UPLINK if port in towards_here else PortRole.DOWNLINK

    def is_link_port(self, port: PortRef) -> bool:
        """Whether a port joins two switches."""
        return self.port_role(port) in (PortRole.UPLINK, PortRole.DOWNLINK)
