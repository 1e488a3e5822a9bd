"""What a lesson tells, worked out from one drawn lab: the numbers of its worked example and of its picture."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network
from typing import Any

from trainer.lab.build import build
from trainer.lab.form import Question, RowKey, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import bindings, links, pools, protection, relays, routes, stations, subnets
from trainer.lab.rows import LinkRow, RouteRow, StationRow, SwitchRow, VlanRow
from trainer.lab.scenario import Link, Scenario, StationPlan, Vlan
from trainer.lab.trials import Trial, TrialKind
from trainer.listing import listed
from trainer.network.addresses import mask_of, prefix_length_for
from trainer.network.dhcp import start
from trainer.network.packets import Dropped
from trainer.network.topology import Running
from trainer.network.trace import Lookup
from trainer.network.trials import ping, traced
from trainer.study.quick_lab import quick_lab

__all__ = ["BindingLine", "Hop", "Lesson", "SentPacket", "lesson_of"]


@dataclass(frozen=True, slots=True)
class Hop:
    """A device on a packet's way, and what it found."""

    name: str
    found: str
    """What the switch's routing table says; "" of a station."""


@dataclass(frozen=True, slots=True)
class BindingLine:
    """A row of a binding table, as it is written."""

    port: str
    vlan: str
    mac: str
    address: str
    kind: str


@dataclass(frozen=True, slots=True)
class SentPacket:
    """A packet that comes in on a guarded port, and what became of it."""

    what: str
    port: str
    mac: str
    address: str
    passes: bool


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """One lab, and the network, station and switch in it that the lesson speaks of."""

    scenario: Scenario
    vlan: Vlan
    """On the switch farthest from the server, with clients and a fixed station."""

    @cached_property
    def key(self) -> SoFar:
        return SoFar(self.scenario)

    @cached_property
    def running(self) -> Running:
        """The right network, when all stations have started."""
        running, _ = start(build(self.scenario, derive_key(self.scenario)).network)
        return running

    @cached_property
    def network(self) -> IPv4Network:
        return subnets.network_of(self.key, self.vlan.id)

    @property
    def link(self) -> Link:
        """The first one on the way from the server to the network."""
        return self.scenario.link_towards(self.scenario.server.at.switch, self.vlan.switch)

    @property
    def link_network(self) -> IPv4Network:
        return links.network_of(self.key, LinkRow(self.link.name))

    @property
    def fixed(self) -> StationPlan:
        """The network's fixed station."""
        return next(each for each in self._here if each.fixed_number is not None)

    @property
    def client(self) -> StationPlan:
        """The first of the network to ask for a lease."""
        return self.scenario.dhcp_stations(self.vlan.id)[0]

    @property
    def _here(self) -> Sequence[StationPlan]:
        return [each for each in self.scenario.stations if each.vlan == self.vlan.id]

    @property
    def traveller(self) -> StationPlan:
        """A station with a fixed address on the server's switch, which sends to the network."""
        home = self.scenario.server.at.switch
        return next(
            each
            for each in self.scenario.stations
            if each.at.switch == home and each.fixed_number is not None and not each.is_server
        )

    def _shown(self, question: Question[Any, Any], row: RowKey) -> str:
        return question.kind.show(self.key.value(question, row))

    # What pictures show -----------------------------------------------------------------------------------------------

    @cached_property
    def way(self) -> tuple[Hop, ...]:
        """There, as the switches look it up."""
        return self._way(self.traveller, self.fixed)

    @cached_property
    def way_back(self) -> tuple[Hop, ...]:
        """The answer's way."""
        return self._way(self.fixed, self.traveller)

    def _way(self, source: StationPlan, target: StationPlan) -> tuple[Hop, ...]:
        stations_of = self.running.stations
        goal = self.key.value(stations.STATION_ADDRESS, StationRow(target.name))
        steps = traced(ping, self.running, stations_of[source.name], stations_of[target.name]).steps
        found = [
            Hop(f"switch {each.at}", each.found)
            for each in steps
            if each.lookup is Lookup.ROUTE and each.subject == str(goal)
        ]
        return (Hop(source.name, ""), *found, Hop(target.name, ""))

    @property
    def binding_lines(self) -> tuple[BindingLine, ...]:
        """The rows of the network's switch."""
        here = [
            StationRow(each.key.station)
            for each in bindings.BINDINGS.rows(self.scenario)
            if self.scenario.station_by_name[each.key.station].vlan == self.vlan.number
        ]
        return tuple(
            BindingLine(
                port=self._shown(bindings.BINDING_PORT, row),
                vlan=self._shown(bindings.BINDING_VLAN, row),
                mac=self._shown(bindings.BINDING_MAC, row),
                address=self._shown(bindings.BINDING_ADDRESS, row),
                kind=self._shown(bindings.BINDING_TYPE_OF, row),
            )
            for row in here
        )

    @cached_property
    def packets(self) -> tuple[SentPacket, ...]:
        """Three packets of the client that come in on its guarded port: its own, and two with something borrowed."""
        client, other = self.client, self.fixed
        own = self._shown(bindings.BINDING_ADDRESS, StationRow(client.name))
        borrowed = self._shown(stations.STATION_ADDRESS, StationRow(other.name))
        server = self.running.stations[self.scenario.server.name]
        is_answered = ping(self.running, self.running.stations[client.name], server).drop is None
        port = str(client.at)
        return (
            SentPacket("its own address", port, str(client.mac), own, is_answered),
            SentPacket("a borrowed address", port, str(client.mac), borrowed, self._passes(TrialKind.FORGED_ADDRESS)),
            SentPacket("a borrowed MAC", port, str(other.mac), own, self._passes(TrialKind.FORGED_MAC)),
        )

    def _passes(self, kind: TrialKind) -> bool:
        trial = Trial(kind=kind, source=self.client.name, target=self.fixed.name)
        return not isinstance(trial.run(self.running).outcome, Dropped)

    # What texts say ---------------------------------------------------------------------------------------------------

    @cached_property
    def values(self) -> Mapping[str, object]:
        """By the names that lessons use."""
        lab, key, row = self.scenario, self.key, VlanRow(self.vlan.number)
        length, network = self.network.prefixlen, self.network
        host_bits = 32 - length
        before = subnets.placed_before(lab, key, row)
        assert before is not None, "lesson_of sees to that"
        way = lab.route_between(lab.server.at.switch, self.vlan.switch)
        link = self.link
        far_row, near_row = RouteRow(way[0], self.vlan.number), RouteRow(way[-1], self.traveller.vlan)
        trusted = key.value(protection.TRUSTED, SwitchRow(self.vlan.switch))
        return {
            "vlan": self.vlan.number,
            "name": self.vlan.name,
            "switch": self.vlan.switch,
            "needed": self.vlan.addresses_needed,
            "with_two": self.vlan.addresses_needed + 2,
            "half": 2 ** (host_bits - 1),
            "size": 2**host_bits,
            "host_bits": host_bits,
            "length": length,
            "mask": mask_of(length),
            "network": network,
            "network_address": network.network_address,
            "first": network.network_address + 1,
            "last": network.broadcast_address - 1,
            "broadcast": network.broadcast_address,
            "gateway": key.value(subnets.GATEWAY, row),
            "before_vlan": before.vlan,
            "before": before.network,
            "behind_before": before.network.broadcast_address + 1,
            "block": lab.block,
            "kept": lab.rules.kept_for_fixed,
            "pool_first": key.value(pools.POOL_FIRST, row),
            "pool_last": key.value(pools.POOL_LAST, row),
            "lease_hours": lab.lease_hours,
            "fixed": self.fixed.name,
            "fixed_number": self.fixed.fixed_number,
            "fixed_address": key.value(stations.STATION_ADDRESS, StationRow(self.fixed.name)),
            "client": self.client.name,
            "client_port": self.client.at,
            "client_mac": self.client.mac,
            "client_address": key.value(bindings.BINDING_ADDRESS, StationRow(self.client.name)),
            "server": lab.server.name,
            "server_address": key.value(relays.RELAY_TARGET, row),
            "server_vlan": lab.server.vlan,
            "server_port": lab.server.at,
            "giaddr": key.value(relays.RELAY_ADDRESS, row),
            "link": link.name,
            "link_network": self.link_network,
            "link_first": key.value(links.FIRST_ADDRESS, LinkRow(link.name)),
            "link_second": key.value(links.SECOND_ADDRESS, LinkRow(link.name)),
            "link_first_switch": link.first.switch,
            "link_second_switch": link.second.switch,
            "link_port": link.first,
            "home": way[0],
            "way": listed([str(each) for each in way]),
            "next_hop": key.value(routes.NEXT_HOP, far_row),
            "next_hop_back": key.value(routes.NEXT_HOP, near_row),
            "neighbour": way[1],
            "neighbour_back": way[-2],
            "traveller": self.traveller.name,
            "traveller_vlan": self.traveller.vlan,
            "traveller_network": subnets.network_of(key, self.traveller.vlan),
            "traveller_address": key.value(stations.STATION_ADDRESS, StationRow(self.traveller.name)),
            "trusted": protection.TRUSTED.kind.show(trusted),
            "snooped": protection.SNOOPED.kind.show(key.value(protection.SNOOPED, SwitchRow(self.vlan.switch))),
            "guarded": protection.GUARDED.kind.show(key.value(protection.GUARDED, SwitchRow(self.vlan.switch))),
        }

    @property
    def addresses(self) -> Mapping[str, IPv4Address]:
        """What lies where in the network, from its start."""
        row = VlanRow(self.vlan.number)
        return {
            "network": self.network.network_address,
            "gateway": self.key.value(subnets.GATEWAY, row),
            "kept up to": self.key.value(pools.POOL_FIRST, row) - 1,
            "pool from": self.key.value(pools.POOL_FIRST, row),
            "pool to": self.key.value(pools.POOL_LAST, row),
            "broadcast": self.network.broadcast_address,
        }


def lesson_of(rng: random.Random) -> Lesson:
    """A lesson with fresh numbers, in which the network has another one before it and does not end at an octet."""
    while True:
        lab = quick_lab(rng)
        home = lab.server.at.switch
        found = [
            vlan
            for vlan in lab.vlans
            if len(lab.route_between(home, vlan.switch)) > 2 and vlan.is_guarded and lab.dhcp_stations(vlan.id)
        ]
        vlan = found[0]
        is_first = subnets.placed_before(lab, SoFar(lab), VlanRow(vlan.number)) is None
        if not is_first and prefix_length_for(vlan.addresses_needed) % 8:
            return Lesson(scenario=lab, vlan=vlan)
