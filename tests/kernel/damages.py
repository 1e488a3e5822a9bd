"""Wrong cells as trainees write them, one class of fault each: what a form can hold that a network can suffer from.

Each function damages the key's answers of a lab in its cells, and says NotHere where the lab has no place for it.
"""

import inspect
import sys
from collections.abc import Callable
from ipaddress import IPv4Address, IPv4Network
from typing import Any, NoReturn

from damaged_answers import written_row

from trainer.lab.form import Answers, CellRef, Question, RowKey
from trainer.lab.key import derive_key
from trainer.lab.kinds import INFINITE, ROUTED, BindingType
from trainer.lab.questions import bindings, links, pools, ports, protection, relays, routes, stations, subnets
from trainer.lab.scenario import Link, Scenario, StationPlan, Vlan
from trainer.network.addresses import Mac, network_at, usable_address
from trainer.network.devices import PortName, PortRef, SwitchName


class NotHere(Exception):
    """The lab has no place for this fault."""


class Form:
    """A lab's answers on the way from right to wrong, and the places in it that faults are about."""

    def __init__(self, lab: Scenario) -> None:
        self.lab = lab
        key = derive_key(lab)
        self.values: dict[CellRef, Any] = dict(key.values)
        self.rows = {section: list(rows) for section, rows in key.rows.items()}

    def answers(self) -> Answers:
        return Answers(values=self.values, rows={section: tuple(rows) for section, rows in self.rows.items()})

    def get(self, question: Question[Any, Any], row: str) -> Any:
        return self.values[CellRef(question.id, RowKey(row))]

    def write(self, question: Question[Any, Any], row: str, value: Any) -> None:
        self.values[CellRef(question.id, RowKey(row))] = value

    def blank(self, question: Question[Any, Any], row: str) -> None:
        del self.values[CellRef(question.id, RowKey(row))]

    def strike(self, section: str, row: str) -> None:
        """Takes a row out of an open section."""
        self.rows[section].remove(RowKey(row))

    def add(self, section: str, cells: dict[Question[Any, Any], Any], *, first: bool = False) -> None:
        """Writes another row into an open section, before or behind the others."""
        row = written_row(section, len(self.rows[section]) + 1)
        self.rows[section].insert(0 if first else len(self.rows[section]), row)
        for question, value in cells.items():
            self.write(question, row, value)

    # Places. "far" is the switch with DHCP stations that is farthest from the server.

    @property
    def home(self) -> SwitchName:
        return SwitchName(self.lab.server.at.switch)

    @property
    def far_vlan(self) -> Vlan:
        """The first VLAN with DHCP stations on the far switch."""
        away = [vlan for vlan in self.lab.dhcp_vlans if vlan.switch != self.home]
        return max(away, key=self._distance) if away else not_here()

    @property
    def far(self) -> SwitchName:
        return self.far_vlan.switch

    @property
    def middle(self) -> SwitchName:
        way = self.lab.route_between(self.home, self.far)
        return way[1] if len(way) > 2 else not_here()

    def _distance(self, vlan: Vlan) -> int:
        return len(self.lab.route_between(self.home, vlan.switch))

    @property
    def neighbour_vlan(self) -> Vlan:
        """Another VLAN on the far switch."""
        return next((v for v in self.lab.vlans if v.switch == self.far and v is not self.far_vlan), None) or not_here()

    @property
    def uplink(self) -> Link:
        return self.lab.link_towards(self.far, self.home)

    @property
    def clients(self) -> tuple[StationPlan, ...]:
        return self.lab.dhcp_stations(self.far_vlan.id)

    @property
    def fixed(self) -> StationPlan:
        """A station with a fixed address on the far switch."""
        return next((each for each in self._fixed() if each.at.switch == self.far), None) or not_here()

    def _fixed(self) -> list[StationPlan]:
        return [each for each in self.lab.stations if each.fixed_number is not None and not each.is_server]

    def network(self, vlan: Vlan) -> IPv4Network:
        row = subnets.row_of(vlan.id)
        return network_at(self.get(subnets.NETWORK_ADDRESS, row), self.get(subnets.MASK, row))

    def gateway(self, vlan: Vlan) -> IPv4Address:
        address: IPv4Address = self.get(subnets.GATEWAY, str(vlan.number))
        return address

    def unused(self, vlan: Vlan) -> IPv4Address:
        """An address of the VLAN's network that nobody has and no pool hands out."""
        taken = {station.fixed_number for station in self.lab.stations if station.vlan == vlan.id}
        network = self.network(vlan)
        numbers = range(2, self.lab.rules.kept_for_fixed + 1)
        return next(usable_address(network, number) for number in numbers if number not in taken)

    @property
    def server_vlan(self) -> Vlan:
        return self.lab.vlan_by_id[self.lab.server.vlan]

    @property
    def server_address(self) -> IPv4Address:
        address: IPv4Address = self.get(stations.STATION_ADDRESS, self.lab.server.name)
        return address

    @property
    def to_server(self) -> str:
        """The far switch's route to the server's VLAN."""
        return f"{self.far} to {self.lab.server.vlan}"

    @property
    def to_clients(self) -> str:
        """The server's switch's route to the far VLAN."""
        return f"{self.home} to {self.far_vlan.number}"

    def own_address(self, switch: SwitchName, link: Link) -> IPv4Address:
        address: IPv4Address = self.get(links.address_question(link, switch), link.name)
        return address

    def static_row(self) -> str:
        """The binding row of the fixed station, where it has one."""
        return self.fixed.name if RowKey(self.fixed.name) in self.rows["bindings"] else not_here()

    def members(self, question: Question[Any, Any], switch: str) -> frozenset[Any]:
        found: frozenset[Any] = self.get(question, switch)
        return found


def not_here() -> NoReturn:
    raise NotHere


# --- Routes -----------------------------------------------------------------------------------------------------------


def no_route_to_the_server(form: Form) -> None:
    form.strike("routes", form.to_server)


def no_route_back_to_the_clients(form: Form) -> None:
    form.strike("routes", form.to_clients)


def middle_switch_without_route_to_the_server(form: Form) -> None:
    form.strike("routes", f"{form.middle} to {form.lab.server.vlan}")


def middle_switch_without_route_to_the_clients(form: Form) -> None:
    form.strike("routes", f"{form.middle} to {form.far_vlan.number}")


def no_route_to_a_vlan_without_the_server(form: Form) -> None:
    away = [vlan for vlan in form.lab.vlans if vlan.switch != form.far and vlan is not form.server_vlan]
    form.strike("routes", f"{form.far} to {(away or not_here())[0].number}")


def next_hop_off_link(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.server_address)


def next_hop_in_the_far_vlan(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.gateway(form.server_vlan))


def next_hop_is_a_broadcast_address(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.network(form.far_vlan).broadcast_address)


def next_hop_is_a_network_address(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.network(form.far_vlan).network_address)


def next_hop_is_the_links_broadcast_address(form: Form) -> None:
    if form.lab.link_length > 30:
        not_here()
    network = network_at(form.get(links.LINK_NETWORK, form.uplink.name), 30)
    form.write(routes.NEXT_HOP, form.to_clients, network.broadcast_address)


def next_hop_dead(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.unused(form.far_vlan))


def next_hop_is_the_own_address(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.own_address(form.far, form.uplink))


def next_hop_is_the_own_gateway_and_a_default_route_is_there(form: Form) -> None:
    row = form.to_server
    good = form.get(routes.NEXT_HOP, row)
    form.write(routes.NEXT_HOP, row, form.gateway(form.far_vlan))
    form.add("routes", route(form.far, IPv4Network("0.0.0.0/0"), good))


def next_hop_is_a_host(form: Form) -> None:
    form.write(routes.NEXT_HOP, form.to_server, form.get(stations.STATION_ADDRESS, form.fixed.name))


def next_hop_points_back(form: Form) -> None:
    """Between the middle switch and the server's, packets for the clients go in circles."""
    link = form.lab.link_towards(form.middle, form.home)
    form.write(routes.NEXT_HOP, f"{form.middle} to {form.far_vlan.number}", form.own_address(form.home, link))


def next_hop_of_the_wrong_switch(form: Form) -> None:
    """The far end of the next link, as if one could jump over a switch."""
    link = form.lab.link_towards(form.middle, form.far)
    form.write(routes.NEXT_HOP, form.to_clients, form.own_address(form.far, link))


def route_mask_too_narrow(form: Form) -> None:
    form.write(routes.ROUTE_MASK_OF, form.to_clients, form.get(routes.ROUTE_MASK_OF, form.to_clients) + 1)


def route_mask_far_too_narrow(form: Form) -> None:
    form.write(routes.ROUTE_MASK_OF, form.to_server, 32)


def route_mask_too_wide(form: Form) -> None:
    form.write(routes.ROUTE_MASK_OF, form.to_clients, form.get(routes.ROUTE_MASK_OF, form.to_clients) - 4)


def route_destination_wrong(form: Form) -> None:
    form.write(routes.DESTINATION, form.to_server, form.network(form.server_vlan).network_address + 2**20)


def route_destination_is_a_host(form: Form) -> None:
    """An address in place of the network: its bits past the mask count for nothing."""
    form.write(routes.DESTINATION, form.to_server, form.server_address)


def route_on_the_wrong_switch(form: Form) -> None:
    form.write(routes.ROUTE_SWITCH, form.to_server, form.home)


def two_routes_the_first_dead(form: Form) -> None:
    form.add("routes", route(form.far, form.network(form.server_vlan), form.unused(form.far_vlan)), first=True)


def two_routes_the_second_dead(form: Form) -> None:
    form.add("routes", route(form.far, form.network(form.server_vlan), form.unused(form.far_vlan)))


def two_routes_the_first_refused(form: Form) -> None:
    form.add("routes", route(form.far, form.network(form.server_vlan), form.server_address), first=True)


def route_to_an_own_network(form: Form) -> None:
    """A connected network wins over a static route to it."""
    form.add("routes", route(form.far, form.network(form.far_vlan), form.get(routes.NEXT_HOP, form.to_server)))


def narrower_route_into_an_own_network(form: Form) -> None:
    """Half of a connected network is sent away: longest prefix first (RFC 1812 5.2.4.3)."""
    half = next(form.network(form.far_vlan).subnets())
    form.add("routes", route(form.far, half, form.get(routes.NEXT_HOP, form.to_server)))


def summary_routes(form: Form) -> None:
    _one_route_each(form, form.lab.block)


def mutual_default_routes(form: Form) -> None:
    _one_route_each(form, IPv4Network("0.0.0.0/0"))


def _one_route_each(form: Form, destination: IPv4Network) -> None:
    """One route in place of all on every switch with a single link."""
    for switch in form.lab.switches:
        own = [row for row in form.rows["routes"] if row.startswith(f"{switch.name} to ")]
        next_hops = {form.get(routes.NEXT_HOP, row) for row in own}
        if len(next_hops) == 1:
            for row in own:
                form.strike("routes", row)
            form.add("routes", route(switch.name, destination, next_hops.pop()))


def route(switch: SwitchName, destination: IPv4Network, next_hop: IPv4Address) -> dict[Question[Any, Any], Any]:
    return {
        routes.ROUTE_SWITCH: switch,
        routes.DESTINATION: destination.network_address,
        routes.ROUTE_MASK_OF: destination.prefixlen,
        routes.NEXT_HOP: next_hop,
    }


# --- Links ------------------------------------------------------------------------------------------------------------


def link_ends_in_different_networks(form: Form) -> None:
    link = form.uplink
    form.write(links.SECOND_ADDRESS, link.name, form.get(links.SECOND_ADDRESS, link.name) + 64)


def link_ends_exchanged(form: Form) -> None:
    row = form.uplink.name
    first, second = form.get(links.FIRST_ADDRESS, row), form.get(links.SECOND_ADDRESS, row)
    form.write(links.FIRST_ADDRESS, row, second)
    form.write(links.SECOND_ADDRESS, row, first)


def link_mask_too_wide(form: Form) -> None:
    form.write(links.LINK_MASK, form.uplink.name, 24)


def link_mask_one_bit_too_wide(form: Form) -> None:
    form.write(links.LINK_MASK, form.uplink.name, form.lab.link_length - 1)


def link_mask_too_narrow(form: Form) -> None:
    form.write(links.LINK_MASK, form.uplink.name, form.lab.link_length + 1)


def link_mask_of_one_address(form: Form) -> None:
    form.write(links.LINK_MASK, form.uplink.name, 32)


def link_end_is_the_network_address(form: Form) -> None:
    form.write(links.FIRST_ADDRESS, form.uplink.name, form.get(links.LINK_NETWORK, form.uplink.name))
    form.write(links.LINK_MASK, form.uplink.name, 30)


def link_end_blank(form: Form) -> None:
    form.blank(links.SECOND_ADDRESS, form.uplink.name)


# --- VLAN interfaces --------------------------------------------------------------------------------------------------


def interface_mask_too_narrow(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(subnets.MASK, row, form.get(subnets.MASK, row) + 1)


def interface_mask_far_too_narrow(form: Form) -> None:
    form.write(subnets.MASK, str(form.far_vlan.number), 31)


def interface_mask_too_wide(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(subnets.MASK, row, form.get(subnets.MASK, row) - 1)


def interface_mask_far_too_wide(form: Form) -> None:
    """The first network on its switch now overlaps the others there."""
    form.write(subnets.MASK, str(form.far_vlan.number), form.lab.block.prefixlen)


def interface_mask_too_wide_with_default_routes(form: Form) -> None:
    mutual_default_routes(form)
    interface_mask_far_too_wide(form)


def server_interface_mask_too_wide(form: Form) -> None:
    row = str(form.server_vlan.number)
    form.write(subnets.MASK, row, form.get(subnets.MASK, row) - 2)


def gateway_differs_from_the_pools_router(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), form.unused(form.far_vlan))


def gateway_in_another_network(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), form.gateway(form.far_vlan) + 2**20)


def gateway_in_the_neighbours_network(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), form.unused(form.neighbour_vlan))


def gateways_exchanged(form: Form) -> None:
    one, other = form.far_vlan, form.neighbour_vlan
    ours, theirs = form.gateway(one), form.gateway(other)
    form.write(subnets.GATEWAY, str(one.number), theirs)
    form.write(subnets.GATEWAY, str(other.number), ours)


def gateway_is_the_network_address(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), form.network(form.far_vlan).network_address)


def gateway_is_the_broadcast_address(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), form.network(form.far_vlan).broadcast_address)


def gateway_is_a_stations_address(form: Form) -> None:
    vlan = form.lab.vlan_by_id[form.fixed.vlan]
    form.write(subnets.GATEWAY, str(vlan.number), form.get(stations.STATION_ADDRESS, form.fixed.name))


def gateway_blank(form: Form) -> None:
    form.blank(subnets.GATEWAY, str(form.far_vlan.number))


# --- Ports ------------------------------------------------------------------------------------------------------------


def client_port_in_another_vlan(form: Form) -> None:
    form.write(ports.PORT_VLAN, str(form.clients[0].at), form.neighbour_vlan.number)


def fixed_station_port_in_another_vlan(form: Form) -> None:
    other = next((v for v in form.lab.vlans if v.switch == form.far and v.id != form.fixed.vlan), None)
    form.write(ports.PORT_VLAN, str(form.fixed.at), (other or not_here()).number)


def client_port_in_a_vlan_of_another_switch(form: Form) -> None:
    form.write(ports.PORT_VLAN, str(form.clients[0].at), form.server_vlan.number)


def client_port_in_a_vlan_that_is_nowhere(form: Form) -> None:
    form.write(ports.PORT_VLAN, str(form.clients[0].at), 4001)


def client_port_routed(form: Form) -> None:
    form.write(ports.PORT_VLAN, str(form.clients[0].at), ROUTED)


def client_port_blank(form: Form) -> None:
    form.blank(ports.PORT_VLAN, str(form.clients[0].at))


def all_ports_of_a_vlan_blank(form: Form) -> None:
    """Its interface is down then."""
    for station in form.lab.stations:
        if station.vlan == form.far_vlan.id:
            form.blank(ports.PORT_VLAN, str(station.at))


def server_port_in_another_vlan(form: Form) -> None:
    other = next((v for v in form.lab.vlans if v.switch == form.home and v is not form.server_vlan), None)
    form.write(ports.PORT_VLAN, str(form.lab.server.at), (other or not_here()).number)


def server_port_blank(form: Form) -> None:
    form.blank(ports.PORT_VLAN, str(form.lab.server.at))


def link_port_in_a_vlan(form: Form) -> None:
    form.write(ports.PORT_VLAN, str(form.uplink.end_at(form.far)), form.far_vlan.number)


def both_link_ports_in_a_vlan(form: Form) -> None:
    for end in (form.uplink.first, form.uplink.second):
        form.write(ports.PORT_VLAN, str(end), form.far_vlan.number)


def both_link_ports_in_the_servers_vlan(form: Form) -> None:
    for end in (form.uplink.first, form.uplink.second):
        form.write(ports.PORT_VLAN, str(end), form.server_vlan.number)


def link_ports_in_two_vlans(form: Form) -> None:
    """Untagged frames of one VLAN come in as the other's."""
    form.write(ports.PORT_VLAN, str(form.uplink.end_at(form.far)), form.far_vlan.number)
    other = form.uplink.second if form.uplink.first.switch == form.far else form.uplink.first
    form.write(ports.PORT_VLAN, str(other), form.server_vlan.number)


def link_port_blank(form: Form) -> None:
    form.blank(ports.PORT_VLAN, str(form.uplink.end_at(form.far)))


# --- Stations ---------------------------------------------------------------------------------------------------------


def server_without_gateway(form: Form) -> None:
    form.blank(stations.STATION_GATEWAY, form.lab.server.name)


def server_with_a_dead_gateway(form: Form) -> None:
    form.write(stations.STATION_GATEWAY, form.lab.server.name, form.unused(form.server_vlan))


def server_with_a_gateway_elsewhere(form: Form) -> None:
    form.write(stations.STATION_GATEWAY, form.lab.server.name, form.gateway(form.far_vlan))


def server_mask_too_wide(form: Form) -> None:
    form.write(stations.STATION_MASK, form.lab.server.name, form.lab.block.prefixlen)


def server_mask_too_narrow(form: Form) -> None:
    form.write(stations.STATION_MASK, form.lab.server.name, 30)


def server_at_another_address(form: Form) -> None:
    form.write(stations.STATION_ADDRESS, form.lab.server.name, form.unused(form.server_vlan))


def server_without_address(form: Form) -> None:
    form.blank(stations.STATION_ADDRESS, form.lab.server.name)


def server_in_another_network(form: Form) -> None:
    form.write(stations.STATION_ADDRESS, form.lab.server.name, form.unused(form.far_vlan))


def station_mask_too_narrow(form: Form) -> None:
    row = form.fixed.name
    form.write(stations.STATION_MASK, row, form.get(stations.STATION_MASK, row) + 1)


def station_mask_too_wide(form: Form) -> None:
    form.write(stations.STATION_MASK, form.fixed.name, 8)


def station_mask_of_one_address(form: Form) -> None:
    form.write(stations.STATION_MASK, form.fixed.name, 32)


def station_without_gateway(form: Form) -> None:
    form.blank(stations.STATION_GATEWAY, form.fixed.name)


def station_is_its_own_gateway(form: Form) -> None:
    form.write(stations.STATION_GATEWAY, form.fixed.name, form.get(stations.STATION_ADDRESS, form.fixed.name))


def station_with_another_stations_gateway(form: Form) -> None:
    form.write(stations.STATION_GATEWAY, form.fixed.name, form.server_address)


def station_at_another_address(form: Form) -> None:
    vlan = form.lab.vlan_by_id[form.fixed.vlan]
    form.write(stations.STATION_ADDRESS, form.fixed.name, form.unused(vlan))


def station_at_another_stations_address(form: Form) -> None:
    """Of another VLAN, so that no two meet in one broadcast domain."""
    other = next((each for each in form._fixed() if each.vlan != form.fixed.vlan), None) or not_here()
    form.write(stations.STATION_ADDRESS, form.fixed.name, form.get(stations.STATION_ADDRESS, other.name))


def station_at_a_loopback_address(form: Form) -> None:
    form.write(stations.STATION_ADDRESS, form.fixed.name, IPv4Address("127.0.0.5"))


def station_at_a_multicast_address(form: Form) -> None:
    form.write(stations.STATION_ADDRESS, form.fixed.name, IPv4Address("224.0.0.5"))


def gateway_at_a_loopback_address(form: Form) -> None:
    form.write(subnets.GATEWAY, str(form.far_vlan.number), IPv4Address("127.0.0.5"))


def relay_target_at_a_loopback_address(form: Form) -> None:
    row = next((row for row in form.rows["relays"] if form.get(relays.RELAY_VLAN, row) == form.far_vlan.number), None)
    form.write(relays.RELAY_TARGET, row or not_here(), IPv4Address("127.0.0.5"))


def two_routes_over_two_neighbours(form: Form) -> None:
    """The rival stands behind, and the first row is kept."""
    hops = [form.get(routes.NEXT_HOP, r) for r in form.rows["routes"] if form.get(routes.ROUTE_SWITCH, r) == form.home]
    own = form.get(routes.NEXT_HOP, form.to_clients)
    other = next((hop for hop in hops if hop != own), None) or not_here()
    network = form.network(form.far_vlan)
    form.add("routes", route(form.home, network, other))


def station_in_another_network(form: Form) -> None:
    form.write(stations.STATION_ADDRESS, form.fixed.name, form.unused(form.server_vlan))


def station_at_the_network_address(form: Form) -> None:
    vlan = form.lab.vlan_by_id[form.fixed.vlan]
    form.write(stations.STATION_ADDRESS, form.fixed.name, form.network(vlan).network_address)


def station_at_the_network_address_without_guard(form: Form) -> None:
    station_at_the_network_address(form)
    no_guard(form)


def station_at_the_broadcast_address_without_guard(form: Form) -> None:
    vlan = form.lab.vlan_by_id[form.fixed.vlan]
    form.write(stations.STATION_ADDRESS, form.fixed.name, form.network(vlan).broadcast_address)
    no_guard(form)


def station_mask_too_wide_without_guard(form: Form) -> None:
    station_mask_too_wide(form)
    no_guard(form)


# --- Pools ------------------------------------------------------------------------------------------------------------


def pool_missing(form: Form) -> None:
    form.blank(pools.POOL_FIRST, str(form.far_vlan.number))


def pool_router_dead(form: Form) -> None:
    form.write(pools.POOL_ROUTER, str(form.far_vlan.number), form.unused(form.far_vlan))


def pool_router_elsewhere(form: Form) -> None:
    form.write(pools.POOL_ROUTER, str(form.far_vlan.number), form.gateway(form.server_vlan))


def pool_router_blank(form: Form) -> None:
    form.blank(pools.POOL_ROUTER, str(form.far_vlan.number))


def pool_dns_is_the_router(form: Form) -> None:
    form.get(pools.POOL_DNS, str(form.far_vlan.number))
    form.write(pools.POOL_DNS, str(form.far_vlan.number), form.gateway(form.far_vlan))


def pool_dns_blank(form: Form) -> None:
    form.get(pools.POOL_DNS, str(form.far_vlan.number))
    form.blank(pools.POOL_DNS, str(form.far_vlan.number))


def pool_mask_covers_a_neighbour_without_pool(form: Form) -> None:
    others = [vlan for vlan in form.lab.dhcp_vlans if vlan is not form.far_vlan and vlan is not form.server_vlan]
    neighbour = (others or not_here())[0]
    form.blank(pools.POOL_FIRST, str(neighbour.number))
    form.write(pools.POOL_MASK, str(form.far_vlan.number), form.lab.block.prefixlen)


def pool_mask_covers_neighbours(form: Form) -> None:
    """Two pools are of the network that a request comes from."""
    form.write(pools.POOL_MASK, str(form.far_vlan.number), form.lab.block.prefixlen)


def pool_mask_too_narrow(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(pools.POOL_MASK, row, form.get(pools.POOL_MASK, row) + 1)


def pool_mask_far_too_narrow(form: Form) -> None:
    form.write(pools.POOL_MASK, str(form.far_vlan.number), 30)


def pool_mask_too_wide(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(pools.POOL_MASK, row, form.get(pools.POOL_MASK, row) - 1)


def pool_starts_at_the_gateway(form: Form) -> None:
    """The relay agent's own address is the first that the lab's server hands out, and one that dnsmasq never does."""
    form.write(pools.POOL_FIRST, str(form.far_vlan.number), form.gateway(form.far_vlan))


def pool_hands_out_a_fixed_address(form: Form) -> None:
    both = [each for each in form._fixed() if form.lab.dhcp_stations(each.vlan)]
    station = (both or not_here())[0]
    form.write(pools.POOL_FIRST, str(station.vlan), form.get(stations.STATION_ADDRESS, station.name))


def pool_hands_out_a_fixed_address_of_whom_the_server_hears_nothing(form: Form) -> None:
    """The station has no gateway, so that its client finds it, and the server does not."""
    pool_hands_out_a_fixed_address(form)
    station = next(s for s in form._fixed() if form.lab.dhcp_stations(s.vlan) and s.vlan != form.lab.server.vlan)
    form.blank(stations.STATION_GATEWAY, station.name)


def pool_turned_round(form: Form) -> None:
    row = str(form.far_vlan.number)
    first, last = form.get(pools.POOL_FIRST, row), form.get(pools.POOL_LAST, row)
    form.write(pools.POOL_FIRST, row, last)
    form.write(pools.POOL_LAST, row, first)


def pool_of_one_address(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(pools.POOL_LAST, row, form.get(pools.POOL_FIRST, row))


def pool_goes_past_its_network(form: Form) -> None:
    row = str(form.far_vlan.number)
    form.write(pools.POOL_LAST, row, form.network(form.far_vlan).broadcast_address + 20)


def pools_exchanged(form: Form) -> None:
    others = [vlan for vlan in form.lab.dhcp_vlans if vlan is not form.far_vlan]
    one, other = str(form.far_vlan.number), str((others or not_here())[0].number)
    for question in (pools.POOL_FIRST, pools.POOL_LAST, pools.POOL_MASK, pools.POOL_ROUTER):
        ours, theirs = form.get(question, one), form.get(question, other)
        form.write(question, one, theirs)
        form.write(question, other, ours)


def pool_of_another_network(form: Form) -> None:
    row = str(form.far_vlan.number)
    for question in (pools.POOL_FIRST, pools.POOL_LAST):
        form.write(question, row, form.get(question, row) + 2**20)


def pool_lease_short_and_endless(form: Form) -> None:
    rows = [str(vlan.number) for vlan in form.lab.dhcp_vlans]
    form.write(pools.POOL_LEASE, rows[0], 600)
    form.write(pools.POOL_LEASE, rows[-1], INFINITE)


# --- Relay agents -----------------------------------------------------------------------------------------------------


def relay_missing(form: Form) -> None:
    form.strike("relays", str(form.far_vlan.number))


def relay_on_the_wrong_vlan(form: Form) -> None:
    form.write(relays.RELAY_VLAN, str(form.far_vlan.number), form.neighbour_vlan.number)


def relay_target_unused(form: Form) -> None:
    form.write(relays.RELAY_TARGET, str(form.far_vlan.number), form.unused(form.server_vlan))


def relay_target_is_the_servers_gateway(form: Form) -> None:
    form.write(relays.RELAY_TARGET, str(form.far_vlan.number), form.gateway(form.server_vlan))


def relay_target_is_the_own_gateway(form: Form) -> None:
    form.write(relays.RELAY_TARGET, str(form.far_vlan.number), form.gateway(form.far_vlan))


def relay_target_is_another_station(form: Form) -> None:
    form.write(relays.RELAY_TARGET, str(form.far_vlan.number), form.get(stations.STATION_ADDRESS, form.fixed.name))


def relay_target_nowhere(form: Form) -> None:
    form.write(relays.RELAY_TARGET, str(form.far_vlan.number), IPv4Address("172.31.255.9"))


def two_relay_targets_the_first_dead(form: Form) -> None:
    _another_relay(form, form.unused(form.server_vlan), first=True)


def two_relay_targets_the_second_dead(form: Form) -> None:
    _another_relay(form, form.unused(form.server_vlan), first=False)


def the_same_relay_twice(form: Form) -> None:
    _another_relay(form, form.server_address, first=False)


def _another_relay(form: Form, target: IPv4Address, *, first: bool) -> None:
    form.add("relays", {relays.RELAY_VLAN: form.far_vlan.number, relays.RELAY_TARGET: target}, first=first)


def relay_on_the_servers_vlan_too(form: Form) -> None:
    cells = {relays.RELAY_VLAN: form.server_vlan.number, relays.RELAY_TARGET: form.server_address}
    form.add("relays", cells)


# --- Snooping ---------------------------------------------------------------------------------------------------------


def server_port_not_trusted(form: Form) -> None:
    _without(form, protection.TRUSTED, form.home, form.lab.server.at.port)


def uplink_not_trusted(form: Form) -> None:
    _without(form, protection.TRUSTED, form.far, form.uplink.end_at(form.far).port)


def middle_switch_trusts_nothing(form: Form) -> None:
    form.write(protection.TRUSTED, form.middle, frozenset())


def downlink_trusted_too(form: Form) -> None:
    """No symptom: server messages do not come in there."""
    link = form.lab.link_towards(form.home, form.far)
    _with(form, protection.TRUSTED, form.home, link.end_at(form.home).port)


def a_rogues_port_trusted(form: Form) -> None:
    _with(form, protection.TRUSTED, form.far, form.clients[0].at.port)


def snooping_off(form: Form) -> None:
    form.write(protection.SNOOPED, form.far, frozenset())


def snooping_off_at_home(form: Form) -> None:
    form.write(protection.SNOOPED, form.home, frozenset())


def snooping_and_guard_off(form: Form) -> None:
    snooping_off(form)
    no_guard(form)


def vlan_not_snooped(form: Form) -> None:
    _without(form, protection.SNOOPED, form.far, form.far_vlan.number)


def servers_vlan_not_snooped_and_not_trusted(form: Form) -> None:
    _without(form, protection.SNOOPED, form.home, form.server_vlan.number)
    _without(form, protection.TRUSTED, form.home, form.lab.server.at.port)


def vlan_of_another_switch_snooped(form: Form) -> None:
    """Any VLAN that is snooped makes the routed ports be checked."""
    form.write(protection.SNOOPED, form.far, frozenset({4001}))
    form.write(protection.TRUSTED, form.far, frozenset())


# --- Source guard and binding rows ------------------------------------------------------------------------------------


def no_guard(form: Form) -> None:
    form.write(protection.GUARDED, form.far, frozenset())


def guard_on_the_wrong_port(form: Form) -> None:
    _without(form, protection.GUARDED, form.far, form.fixed.at.port)
    _with(form, protection.GUARDED, form.home, form.lab.server.at.port)


def guard_on_the_servers_port(form: Form) -> None:
    _with(form, protection.GUARDED, form.home, form.lab.server.at.port)


def guard_on_the_servers_port_with_a_row(form: Form) -> None:
    guard_on_the_servers_port(form)
    binding_row_for_the_server(form)


def binding_row_for_the_server(form: Form) -> None:
    """No symptom while its port is not guarded."""
    server = form.lab.server
    form.add(
        "bindings",
        {
            bindings.BINDING_PORT: server.at,
            bindings.BINDING_VLAN: server.vlan.number,
            bindings.BINDING_MAC: server.mac,
            bindings.BINDING_ADDRESS: form.server_address,
            bindings.BINDING_TYPE_OF: BindingType.STATIC,
        },
    )


def guard_on_the_uplink(form: Form) -> None:
    _with(form, protection.GUARDED, form.far, form.uplink.end_at(form.far).port)


def guard_on_the_downlink(form: Form) -> None:
    link = form.lab.link_towards(form.home, form.far)
    _with(form, protection.GUARDED, form.home, link.end_at(form.home).port)


def binding_row_missing(form: Form) -> None:
    form.strike("bindings", form.static_row())


def binding_row_dynamic(form: Form) -> None:
    form.write(bindings.BINDING_TYPE_OF, form.static_row(), BindingType.DYNAMIC)


def binding_row_with_another_mac(form: Form) -> None:
    form.write(bindings.BINDING_MAC, form.static_row(), Mac("02-00-00-00-00-99"))


def binding_row_with_another_address(form: Form) -> None:
    row = form.static_row()
    form.write(bindings.BINDING_ADDRESS, row, form.get(bindings.BINDING_ADDRESS, row) + 1)


def binding_row_at_another_port(form: Form) -> None:
    form.write(bindings.BINDING_PORT, form.static_row(), form.clients[0].at)


def binding_row_in_another_vlan(form: Form) -> None:
    form.write(bindings.BINDING_VLAN, form.static_row(), form.server_vlan.number)


def binding_row_on_another_switch(form: Form) -> None:
    row = form.static_row()
    at: PortRef = form.get(bindings.BINDING_PORT, row)
    form.write(bindings.BINDING_PORT, row, PortRef(form.home, PortName(at.port)))


def binding_row_for_a_dhcp_station_too(form: Form) -> None:
    """No symptom, whatever stands in it."""
    row = form.clients[0].name
    if RowKey(row) not in form.rows["bindings"]:
        not_here()
    form.write(bindings.BINDING_TYPE_OF, row, BindingType.STATIC)
    form.write(bindings.BINDING_ADDRESS, row, form.unused(form.far_vlan))


def _with(form: Form, question: Question[Any, Any], switch: str, member: Any) -> None:
    form.write(question, switch, form.members(question, switch) | {member})


def _without(form: Form, question: Question[Any, Any], switch: str, member: Any) -> None:
    if member not in form.members(question, switch):
        not_here()
    form.write(question, switch, form.members(question, switch) - {member})


Damage = Callable[[Form], None]
DAMAGES: dict[str, Damage] = {
    name: function
    for name, function in inspect.getmembers(sys.modules[__name__], inspect.isfunction)
    if not name.startswith("_") and list(inspect.signature(function).parameters) == ["form"]
}
"""Every class of fault, by its name."""


def damaged(lab: Scenario, name: str) -> Answers:
    """The answers of a trainee who made this fault. Raises NotHere where the lab has no place for it."""
    form = Form(lab)
    try:
        DAMAGES[name](form)
    except (KeyError, ValueError) as fault:
        raise NotHere from fault
    return form.answers()
