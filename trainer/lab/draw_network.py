"""Drawing the network of a lab: what a sitting has in common, and what each trainee gets. draw.py calls it.

What sets the number of rows or a prefix length is drawn once for the class, so that all labs are equally hard; the
rest for each trainee, so that nobody can copy.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from ipaddress import IPv4Network
from typing import TypeVar

from trainer.lab.exercise import SERVER_NAME, Exercise, ListedNetwork, ListedSwitch, give_one, station_names
from trainer.lab.layout import lay_out
from trainer.lab.plan import lengths_in_order, smallest_block_length
from trainer.lab.repair.sheet import RepairDraw
from trainer.lab.scenario import GatewayPlace, Link, Scenario, StationPlan, SwitchPlan, Trainee, Vlan, WayOut
from trainer.network.addresses import Mac, first_usable, last_usable
from trainer.network.devices import PortName, PortRef, SwitchName

__all__ = ["ClassDraw", "draw_for_class", "draw_scenario"]

T = TypeVar("T")

_OUTWARD, _BEYOND = IPv4Network("198.51.100.0/24"), IPv4Network("203.0.113.0/24")
"""Where the link outward lies, and the network with the test address."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassDraw:
    """What all labs of a sitting have in common."""

    switches: tuple[ListedSwitch, ...]
    networks: tuple[ListedNetwork, ...]
    """The exercise's, each by itself (layout.lay_out)."""
    addresses_needed: tuple[int, ...]
    """For each of the networks."""
    link_length: int
    block_length: int
    repair: RepairDraw | None = field(default=None, metadata={"added later": True})
    """Of a fault-finding exercise what its labs' faults have in common (lab/repair/drawing.py)."""


def draw_for_class(exercise: Exercise, rng: random.Random) -> ClassDraw:
    """Sizes and lengths, once for a sitting."""
    exercise = lay_out(exercise, rng)
    by_row = {network.source: exercise.drawn_needs(network).draw(rng) for network in exercise.networks}
    needed = tuple(by_row[network.source] for network in exercise.networks)
    link_length = exercise.link_lengths.draw(rng)
    homes = [network.switch for network in exercise.networks]
    lengths = lengths_in_order(needed, homes, len(exercise.links), link_length, exercise.rules.order)
    block_length = smallest_block_length(lengths) if exercise.block_length is None else exercise.block_length
    return ClassDraw(
        switches=exercise.switches,
        networks=exercise.networks,
        addresses_needed=needed,
        link_length=link_length,
        block_length=block_length,
    )


def draw_scenario(
    exercise: Exercise, common: ClassDraw, trainee: Trainee, number: str, slot: int, rng: random.Random
) -> Scenario:
    """One trainee's lab. number: from draw.lab_number; slot: from draw.lab_slot; rng: of draw.lab_seed.

    The exercise has no faults (faults.find_faults); then every draw succeeds.
    """
    exercise = replace(exercise, switches=common.switches, networks=common.networks)
    count = len(exercise.networks)
    offers = [network.vlans.sample(rng, count) for network in exercise.networks]
    may_repeat = exercise.rules.numbers_may_repeat
    vlan_numbers = _repeated_numbers(exercise, offers, rng) if may_repeat else _one_each(offers)
    names = _one_each([_shuffled(network.names, rng) for network in exercise.networks])
    vlans = tuple(
        Vlan(
            number=vlan,
            name=name,
            switch=network.switch,
            addresses_needed=needed,
            is_snooped=network.is_snooped,
            is_guarded=network.is_guarded,
            may_repeat=may_repeat,
        )
        for network, vlan, name, needed in zip(
            exercise.networks, vlan_numbers, names, common.addresses_needed, strict=True
        )
    )
    places = _one_each([_shuffled(switch.places, rng) for switch in exercise.switches])
    lease_hours = exercise.lease_hours.draw(rng)
    stations = _stations(exercise, vlans, rng)
    links, way_out = _links(exercise, rng)
    return Scenario(
        lab_number=number,
        exercise_code=exercise.code,
        title=exercise.title,
        date=exercise.date,
        minutes=exercise.minutes_for(trainee),
        trainee=trainee,
        block=_block(exercise.address_ranges, common.block_length, slot),
        link_length=common.link_length,
        lease_hours=lease_hours,
        switches=tuple(
            SwitchPlan(name=switch.name, place=place, asks_routes=switch.asks_routes)
            for switch, place in zip(exercise.switches, places, strict=True)
        ),
        vlans=vlans,
        stations=stations,
        links=links,
        way_out=way_out,
        sections=exercise.sections,
        rules=exercise.rules,
    )


def _block(ranges: Sequence[IPv4Network], length: int, slot: int) -> IPv4Network:
    """The slot-th block of that length in the ranges, counted through all of them."""
    size = 2 ** (32 - length)
    for each in ranges:
        blocks = each.num_addresses // size
        if slot < blocks:
            return IPv4Network((int(each.network_address) + slot * size, length))
        slot -= blocks
    raise ValueError("a slot past the last block")


def _one_each(offers: Sequence[Sequence[T]]) -> list[T]:
    """A different value for each row, the first one offered where that can be; the exercise was checked, so there is one.

    Of many numbers as many as there are rows are enough to offer.
    """
    taken: dict[object, int] = {}
    for row in range(len(offers)):
        found = give_one(row, offers, taken, set())
        assert found, "the exercise was checked"
    return [next(value for value in offer if taken.get(value) == row) for row, offer in enumerate(offers)]


def _repeated_numbers(exercise: Exercise, offers: Sequence[Sequence[int]], rng: random.Random) -> list[int]:
    """VLAN numbers of which none stands twice on a switch: first those that other switches have already, as far as they go."""
    numbers: dict[int, int] = {}
    for switch in exercise.switches:
        here = [row for row, network in enumerate(exercise.networks) if network.switch == switch.name]
        others = sorted(set(numbers.values()))
        known = {row: [each for each in others if each in exercise.networks[row].vlans] for row in here}
        drawn = _one_each([[*rng.sample(known[row], len(known[row])), *offers[row]] for row in here])
        numbers |= zip(here, drawn, strict=True)
    return [numbers[row] for row in range(len(offers))]


def _shuffled(names: Sequence[str], rng: random.Random) -> list[str]:
    return rng.sample(names, len(names))


def _stations(exercise: Exercise, vlans: Sequence[Vlan], rng: random.Random) -> tuple[StationPlan, ...]:
    ports = {switch.name: switch.station_ports.sample(rng, len(switch.station_ports)) for switch in exercise.switches}
    macs: set[Mac] = set()
    stations = []
    for network, vlan in zip(exercise.networks, vlans, strict=True):
        is_home = network.number == exercise.server_network
        fixed_numbers = _fixed_numbers(exercise, network, vlan, rng)
        roles: list[tuple[str, int | None, bool]] = [(SERVER_NAME, fixed_numbers.pop(), True)] if is_home else []
        numbers: list[int | None] = [None] * network.dhcp_stations + list(fixed_numbers)
        called = station_names(vlan.name, len(numbers))
        roles += [(name, number, False) for name, number in zip(called, numbers, strict=True)]
        for name, number, is_server in roles:
            mac = _new_mac(rng, macs)
            stations.append(
                StationPlan(
                    name=name,
                    vlan=vlan.id,
                    at=PortRef(vlan.switch, PortName(str(ports[vlan.switch].pop()))),
                    mac=mac,
                    fixed_number=number,
                    is_server=is_server,
                )
            )
    return tuple(stations)


def _fixed_numbers(exercise: Exercise, network: ListedNetwork, vlan: Vlan, rng: random.Random) -> list[int]:
    """Numbers of usable addresses for the fixed stations: below the pool, and not the gateway's."""
    count = exercise.stations_of(network) - network.dhcp_stations
    lowest = 1 if exercise.rules.gateway is GatewayPlace.LAST_USABLE else 2
    highest = min(exercise.rules.kept_for_fixed, vlan.addresses_needed - (2 - lowest))
    return rng.sample(range(lowest, highest + 1), count)


def _new_mac(rng: random.Random, used: set[Mac]) -> Mac:
    """A locally administered unicast address, 02-... (RFC 9542 2.1.1), that no station has yet."""
    while True:
        digits = f"02{rng.getrandbits(40):010X}"
        mac = Mac("-".join(digits[place : place + 2] for place in range(0, 12, 2)))
        if mac not in used:
            used.add(mac)
            return mac


def _links(exercise: Exercise, rng: random.Random) -> tuple[tuple[Link, ...], WayOut | None]:
    """The links between the switches, and the one outward."""
    ports = {switch.name: switch.link_ports.sample(rng, len(switch.link_ports)) for switch in exercise.switches}

    def end(switch: SwitchName) -> PortRef:
        return PortRef(switch, PortName(str(ports[switch].pop())))

    links = tuple(Link(first=end(first), second=end(second)) for first, second in exercise.links)
    return links, None if exercise.way_out is None else _way_out(end(exercise.way_out), rng)


def _way_out(at: PortRef, rng: random.Random) -> WayOut:
    """Documentation addresses (RFC 5737 3), so that nobody meets them elsewhere."""
    network = rng.choice(list(_OUTWARD.subnets(new_prefix=30)))
    ends = [first_usable(network), last_usable(network)]
    address, neighbour = rng.sample(ends, 2)
    return WayOut(
        at=at,
        network=network,
        address=address,
        neighbour=neighbour,
        test_network=_BEYOND,
        test_address=_BEYOND[rng.randint(2, _BEYOND.num_addresses - 2)],
    )
