"""Where written routes take packets (rule Routes)."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network

from trainer.lab.build import build
from trainer.lab.form import Answers, RowKey, SoFar
from trainer.lab.key import completed
from trainer.lab.questions import links, routes, subnets
from trainer.lab.questions.routes import NEXT_HOP
from trainer.lab.rows import LinkRow, RouteRow
from trainer.lab.scenario import OUTSIDE, Scenario
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import is_reserved, network_at
from trainer.network.devices import Route, SwitchName
from trainer.network.forwarding import send_from_switch
from trainer.network.packets import Dropped, Outcome, Packet, Reason
from trainer.network.routing import Entry
from trainer.network.topology import Running, switch_mac

__all__ = ["Circle", "Fate", "Forwarding", "networks_with_switches"]

_OUTSIDE = IPv4Address("192.0.2.1")
"""An address that no lab uses (documentation, RFC 5737 3): where a default route sends what nobody knows."""
_FAR_OUT = (IPv4Address("1.0.0.1"), _OUTSIDE, IPv4Address("223.255.255.254"))
"""Addresses outside every lab, far from each other."""


@dataclass(frozen=True, slots=True)
class Circle:
    """Routes of neighbours that send some packets for unused addresses back and forth."""

    rows: tuple[RowKey, ...]
    """In the order of the switches of the lab."""
    switches: tuple[SwitchName, ...]


class Fate(Enum):
    """What becomes of packets that a switch sends to a VLAN network, by the written routes."""

    ARRIVES = "arrives"
    NO_ROUTE = "no route"
    """This very switch has none."""
    CIRCLES = "circles"
    STOPS = "stops"
    """They are dropped further on."""


class Forwarding:
    """Where the written routes take packets, tried in a network of the values so far.

    The trainee's other tables have no say here: an error there is charged there (R2). Every part of a VLAN's network that
    some written route treats differently is looked up by itself, so that a longer prefix inside it cannot hide.
    """

    def __init__(self, scenario: Scenario, answers: Answers, so_far: SoFar, key: SoFar | None = None) -> None:
        """key: its values, where some are known."""
        self._scenario = scenario
        self._answers = answers
        self._so_far = so_far
        self._key = key
        self._fates: dict[tuple[SwitchName, VlanId | None], Fate] = {}
        self._known_starts: dict[tuple[SwitchName, IPv4Network], list[int]] = {}

    @cached_property
    def running(self) -> Running:
        answers = completed(self._scenario, self._answers, self._so_far, (routes.ROUTES.id,), self._key)
        return Running(build(self._scenario, answers).network)

    @cached_property
    def circles(self) -> tuple[Circle, ...]:
        """The circles in which packets for unused addresses go, each once; the exercise may allow them."""
        unused = tuple(_unused_addresses(self._scenario, self._so_far, self._destinations))
        found = (self._circle(switch.name, address) for switch in self._scenario.switches for address in unused)
        return tuple(dict.fromkeys(circle for circle in found if circle is not None))

    @property
    def _destinations(self) -> Iterator[IPv4Network]:
        """Where the written routes lead, each once."""
        return iter(dict.fromkeys(network for _, network in self._written()))

    def _destinations_on(self, switch: SwitchName) -> Iterator[IPv4Network]:
        return (network for on, network in self._written() if on == switch)

    def _written(self) -> Iterator[tuple[SwitchName | None, IPv4Network]]:
        """The switch of every written route, and where it leads."""
        for row in self._answers.rows.get(routes.ROUTES.id, ()):
            start, length = self._answers.get(routes.DESTINATION, row), self._answers.get(routes.ROUTE_MASK_OF, row)
            if start is not None and length is not None:
                yield self._answers.get(routes.ROUTE_SWITCH, row), network_at(start, length)

    @cached_property
    def losing(self) -> frozenset[tuple[RowKey, ...]]:
        """The routes of circles in which packets for VLAN networks go: their errors are charged as routes that do not deliver."""
        found = (
            self._circle(switch.name, IPv4Address(start))
            for switch in self._scenario.switches
            for vlan in self._scenario.vlans
            for start in self._parts(switch.name, subnets.network_of(self._so_far, vlan.id))
        )
        return frozenset(circle.rows for circle in found if circle is not None)

    def _circle(self, switch: SwitchName, address: IPv4Address) -> Circle | None:
        """The circle that a packet which starts at a switch ends in: the switches to which it comes again."""
        outcome = _sent(self.running, switch, int(address))
        if not _has_circled(outcome):
            return None
        again = [each.name for each in self._scenario.switches if outcome.path.count(each.name) > 1]
        entries = (self.running.tables[each].lookup(int(address)) for each in again)
        routes_there = (entry.route for entry in entries if entry is not None)
        return Circle(tuple(RowKey(route.key) for route in routes_there if route is not None), tuple(again))

    def entries(self, switch: SwitchName, vlan: VlanId | None) -> tuple[Entry | None, ...]:
        """The entries of a switch's routing table for every part of a VLAN's network, or of what lies outside where vlan is
        None; None where there is none.
        """
        return tuple(self.running.tables[switch].lookup(start) for start in self._starts(switch, vlan))

    def _starts(self, switch: SwitchName, vlan: VlanId | None) -> list[int]:
        """An address of every part of a VLAN's network, or of what lies outside, that the switch's routes treat differently."""
        if vlan is None:
            return _outside_parts(self.running, switch, self._scenario)
        return self._parts(switch, subnets.network_of(self._so_far, vlan))

    def _parts(self, switch: SwitchName, network: IPv4Network) -> list[int]:
        """An address of every part of a network that the switch's routes treat differently."""
        known = self._known_starts.get((switch, network))
        if known is None:
            known = self._known_starts[switch, network] = _parts(self._spans[switch], network)
        return known

    @cached_property
    def _spans(self) -> Mapping[SwitchName, list[tuple[int, int]]]:
        """For each switch the first and the last address of what its routes lead to, in order."""
        return {
            name: sorted(
                (int(route.destination.network_address), int(route.destination.broadcast_address))
                for route in switch.routes
            )
            for name, switch in self.running.switches.items()
        }

    def _entries_within(self, switch: SwitchName, network: IPv4Network) -> tuple[Entry | None, ...]:
        starts = self._parts(switch, network)
        return tuple(self.running.tables[switch].lookup(start) for start in starts)

    def is_taken_by_longer(self, switch: SwitchName, network: IPv4Network, length: int) -> bool:
        """Whether routes with a prefix longer than that take all packets for a network. Those for a link do not count: no
        station is there (rule Routes). A route that a switch cannot use counts as well: its error is charged in itself (R2).
        """
        if network not in self._vlan_networks:
            return True
        if any(length < each.prefixlen and network.subnet_of(each) for each in self._destinations_on(switch)):
            return True
        return all(
            entry is not None and entry.route is not None and entry.route.destination.prefixlen > length
            for entry in self._entries_within(switch, network)
        )

    @cached_property
    def _vlan_networks(self) -> frozenset[IPv4Network]:
        return frozenset(subnets.network_of(self._so_far, vlan.id) for vlan in self._scenario.vlans)

    def lead_on(self, row: RouteRow) -> bool:
        """Whether a switch hands all packets for a network to the neighbour on the way; row: of the key's routes.

        Of two routes to one prefix over different neighbours a switch may take either, so they lead nowhere for certain; which
        of them stands first does not count (R8).
        """
        next_hop = int(NEXT_HOP.answer(self._scenario, self._so_far, row))
        return all(
            entry is not None and entry.next_hop == next_hop and not self._has_rival(row.switch, entry)
            for entry in self.entries(row.switch, row.vlan)
        )

    def _has_rival(self, switch: SwitchName, entry: Entry) -> bool:
        if entry.route is None:
            return False
        refused = self.running.tables[switch].refused
        return any(
            route.next_hop != entry.route.next_hop and route not in refused
            for route in self._by_destination[switch][entry.route.destination]
        )

    @cached_property
    def _by_destination(self) -> Mapping[SwitchName, Mapping[IPv4Network, list[Route]]]:
        found: dict[SwitchName, dict[IPv4Network, list[Route]]] = {}
        for name, switch in self.running.switches.items():
            routes_to = found[name] = defaultdict(list)
            for route in switch.routes:
                routes_to[route.destination].append(route)
        return found

    def fate(self, switch: SwitchName, vlan: VlanId | None) -> Fate:
        """What becomes of packets that a switch sends to a VLAN's network, or outside where vlan is None: the worst, where parts
        fare differently.
        """
        if (switch, vlan) not in self._fates:
            fates = {self._fate(switch, vlan, start) for start in self._starts(switch, vlan)}
            worst = (Fate.NO_ROUTE, Fate.CIRCLES, Fate.STOPS, Fate.ARRIVES)
            self._fates[switch, vlan] = next(each for each in worst if each in fates)
        return self._fates[switch, vlan]

    def _fate(self, switch: SwitchName, vlan: VlanId | None, address: int) -> Fate:
        if self.running.tables[switch].lookup(address) is None:
            return Fate.NO_ROUTE
        outcome = _sent(self.running, switch, address)
        if (OUTSIDE if vlan is None else self._scenario.vlan_by_id[vlan].switch) in outcome.path:
            return Fate.ARRIVES
        return Fate.CIRCLES if _has_circled(outcome) else Fate.STOPS


def networks_with_switches(scenario: Scenario, so_far: SoFar) -> Iterator[tuple[IPv4Network, tuple[SwitchName, ...]]]:
    """Every network of the lab as planned so far, with the switches it is connected to."""
    for vlan in scenario.vlans:
        yield subnets.network_of(so_far, vlan.id), (vlan.switch,)
    for link in scenario.links:
        yield links.network_of(so_far, LinkRow(link.name)), (link.first.switch, link.second.switch)


def _parts(spans: Sequence[tuple[int, int]], network: IPv4Network) -> list[int]:
    """An address of every part of a network that routes treat differently. spans: what they lead to, in order."""
    first, last = int(network.network_address), int(network.broadcast_address)
    starts = {first + 1, last - 1}
    for span in spans[bisect_left(spans, (first, first)) : bisect_right(spans, (last, last))]:
        if span[1] <= last:
            starts.update(span)
    return sorted(starts)


def _outside_parts(running: Running, switch: SwitchName, scenario: Scenario) -> list[int]:
    """An address of every part of what lies outside the lab that the switch's routes treat differently, the test address and
    some others among them: a default route takes them all.
    """
    assert scenario.way_out is not None, "asked of labs with a way out"
    known = (scenario.block, scenario.way_out.network)
    found = {scenario.way_out.test_address, *_FAR_OUT}
    for route in running.switches[switch].routes:
        found |= {route.destination.network_address, route.destination.broadcast_address}
    return sorted(int(each) for each in found if not is_reserved(int(each)) and not any(each in own for own in known))


def _unused_addresses(scenario: Scenario, so_far: SoFar, destinations: Iterable[IPv4Network]) -> Iterator[IPv4Address]:
    """The first address behind every VLAN network and link that nobody uses, one outside the block, and both ends of what
    routes lead to, where a device may have them and nobody has.
    """
    used = [network for network, _ in networks_with_switches(scenario, so_far)]
    for network in used:
        behind = network.broadcast_address + 1
        if behind in scenario.block and not any(behind in each for each in used):
            yield behind
    yield _OUTSIDE
    for each in destinations:
        for end in (each.network_address, each.broadcast_address):
            if not is_reserved(int(end)) and not any(end in network for network in used):
                yield end


def _sent(running: Running, switch: SwitchName, address: int) -> Outcome:
    """The fate of a packet that a switch sends to an address."""
    packet = Packet(source=0, destination=address, source_mac=switch_mac(switch))
    return send_from_switch(running, switch, packet)


def _has_circled(outcome: Outcome) -> bool:
    return isinstance(outcome, Dropped) and outcome.reason is Reason.TTL_EXPIRED
