"""What the instructor describes: ranges to draw from, the roll, and what is asked. Checked here before anything is drawn."""

import random
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Network

from trainer.lab.plan import lengths_in_order, smallest_block_length
from trainer.lab.scenario import Asked, GatewayPlace, Order, Reveal, RouteRule, SectionShare, Trainee
from trainer.network.addresses import prefix_length_for, usable_count
from trainer.network.devices import SwitchName

__all__ = ["Exercise", "Fault", "NetworkRow", "Numbers", "Place", "SwitchRow", "find_faults", "give_one"]

MOST_TRAINEES = 10_000
"""A national round; more than that is a mistake in the workbook."""


@dataclass(frozen=True, slots=True)
class Numbers:
    """Numbers to draw from: one value, a range or a list of both, as the workbook gives them. Both ends count."""

    ranges: tuple[tuple[int, int], ...]

    def __iter__(self) -> Iterator[int]:
        for low, high in self.ranges:
            yield from range(low, high + 1)

    def __len__(self) -> int:
        return sum(high - low + 1 for low, high in self.ranges)

    def __contains__(self, number: object) -> bool:
        return any(low <= number <= high for low, high in self.ranges if isinstance(number, int))

    def __str__(self) -> str:
        return ", ".join(str(low) if low == high else f"{low}-{high}" for low, high in self.ranges)

    @property
    def lowest(self) -> int:
        return min(low for low, _ in self.ranges)

    @property
    def highest(self) -> int:
        return max(high for _, high in self.ranges)

    def draw(self, rng: random.Random) -> int:
        return self.sample(rng, 1)[0]

    def sample(self, rng: random.Random, count: int) -> list[int]:
        """Different numbers in random order; as many as asked for, or all there are."""
        numbers = sorted(set(self))
        return rng.sample(numbers, min(count, len(numbers)))


@dataclass(frozen=True, slots=True)
class Place:
    """Where in an exercise workbook something stands: a table, a row of it (from 0), a field."""

    table: str
    row: int | None
    field: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with an exercise; the sheet reader turns its place into a sheet and a cell."""

    at: Place
    found: str
    wanted: str
    fix: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchRow:
    """A row of table Switches."""

    name: SwitchName
    places: tuple[str, ...]
    station_ports: Numbers
    link_ports: Numbers
    linked_to: tuple[SwitchName, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkRow:
    """A row of table Networks."""

    number: int
    """The instructor's own number for the row, not the VLAN's."""
    switch: SwitchName
    vlans: Numbers
    names: tuple[str, ...]
    addresses_needed: Numbers
    dhcp_stations: int
    fixed_stations: int
    is_snooped: bool
    is_guarded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """An exercise as the instructor describes it. Rows keep the order of the workbook."""

    code: str
    title: str
    date: str
    minutes: int | None
    one_lab_for_all: bool
    address_ranges: tuple[IPv4Network, ...]
    block_length: int | None
    """None: the smallest block that holds all networks."""
    order: Order
    gateway: GatewayPlace
    link_lengths: Numbers
    kept_for_fixed: int
    lease_hours: Numbers
    server_network: int
    route_rule: RouteRule
    follow_through: bool
    reveal: Reveal
    pass_mark: int
    switches: tuple[SwitchRow, ...]
    networks: tuple[NetworkRow, ...]
    sections: tuple[SectionShare, ...]
    trainees: tuple[Trainee, ...]

    @property
    def links(self) -> tuple[tuple[SwitchName, SwitchName], ...]:
        """The two switches of each link, the one listed first named first."""
        order = [switch.name for switch in self.switches]
        pairs = ((switch.name, other) for switch in self.switches for other in switch.linked_to)
        return tuple((first, second) for first, second in (sorted(pair, key=order.index) for pair in pairs))

    def widest_lengths(self) -> tuple[int, ...]:
        """Prefix lengths of all networks when every drawn size is the largest."""
        return lengths_in_order(
            [network.addresses_needed.highest for network in self.networks],
            len(self.links),
            self.link_lengths.lowest,
            self.order,
        )

    def separate_labs(self, block_length: int) -> int:
        """How many blocks of that length the address ranges hold, so how many labs have addresses of their own."""
        return sum(
            2 ** (block_length - each.prefixlen) for each in self.address_ranges if each.prefixlen <= block_length
        )

    def stations_of(self, network: NetworkRow) -> int:
        """All stations of a network, the DHCP server among them."""
        return network.dhcp_stations + network.fixed_stations + (network.number == self.server_network)


def find_faults(exercise: Exercise) -> tuple[Fault, ...]:
    """Everything that makes the exercise impossible or ambiguous, in the order of the workbook."""
    return (
        *_settings(exercise),
        *_switches(exercise),
        *_rings(exercise),
        *_networks(exercise),
        *_room(exercise),
        *_protection(exercise),
        *_sections(exercise),
        *_empty_sections(exercise),
        *_trainees(exercise),
    )


def _settings(exercise: Exercise) -> Iterator[Fault]:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]{2,19}", exercise.code):
        yield Fault(
            at=Place("exercise", None, "code"),
            found=repr(exercise.code),
            wanted="a code has 3 to 20 letters, digits and hyphens, and starts with a letter or digit",
            fix="Write one such as HARBOUR-2.",
        )
    if exercise.server_network not in {network.number for network in exercise.networks}:
        yield Fault(
            at=Place("exercise", None, "server_network"),
            found=str(exercise.server_network),
            wanted="the server stands in one of the networks of sheet Networks",
            fix="Write the No. of that network.",
        )
    if exercise.gateway is GatewayPlace.FIRST_USABLE and exercise.kept_for_fixed < 1:
        yield Fault(
            at=Place("exercise", None, "kept_for_fixed"),
            found=str(exercise.kept_for_fixed),
            wanted="the gateway has the first usable address, so at least that one is kept out of the pools",
            fix="Write 1 or more.",
        )


def _switches(exercise: Exercise) -> Iterator[Fault]:
    names = [switch.name for switch in exercise.switches]
    if not 2 <= len(names) <= 50:
        yield Fault(
            at=Place("switches", None, "name"),
            found=f"{len(names)} switches",
            wanted="an exercise has 2 to 50 switches",
            fix="Add or remove rows.",
        )
    for row in _repeated(names):
        yield _fault(
            "switches", row, "name", names[row], "every switch has a letter of its own", "Write a free letter."
        )
    for row, switch in enumerate(exercise.switches):
        if set(switch.station_ports) & set(switch.link_ports):
            yield _fault(
                "switches",
                row,
                "link_ports",
                f"{switch.link_ports} beside station ports {switch.station_ports}",
                "a port is for a station or for a link, not for both",
                "Write ranges that do not meet, such as 1-20 and 21-24.",
            )
        links = sum(switch.name in link for link in exercise.links)
        if links > len(switch.link_ports):
            yield _fault(
                "switches",
                row,
                "link_ports",
                f"{len(switch.link_ports)} link ports",
                f"switch {switch.name} has {links} links, and each takes a port",
                "Write a wider range.",
            )
        stations = sum(exercise.stations_of(each) for each in exercise.networks if each.switch == switch.name)
        if stations > len(switch.station_ports):
            yield _fault(
                "switches",
                row,
                "station_ports",
                f"{len(switch.station_ports)} station ports",
                f"switch {switch.name} has {stations} stations, and each takes a port",
                "Write a wider range, or take stations away on sheet Networks.",
            )


def _rings(exercise: Exercise) -> Iterator[Fault]:
    """Links to nobody, to itself, or closing a ring; switches that no link joins to the rest."""
    group = {switch.name: switch.name for switch in exercise.switches}

    def root(name: SwitchName) -> SwitchName:
        while group[name] != name:
            name = group[name]
        return name

    for row, switch in enumerate(exercise.switches):
        for other in switch.linked_to:
            if other not in group or other == switch.name:
                yield _fault(
                    "switches",
                    row,
                    "linked_to",
                    repr(str(other)),
                    "a link leads to another switch of this sheet",
                    "Write the letter of one.",
                )
            elif root(other) == root(switch.name):
                yield _fault(
                    "switches",
                    row,
                    "linked_to",
                    f"a link between {switch.name} and {other}",
                    "the two are joined already, and a ring of switches has no single right set of routes",
                    "Take one link of the ring away.",
                )
            else:
                group[root(switch.name)] = root(other)
    roots = {root(switch.name) for switch in exercise.switches}
    if len(roots) > 1:
        row = next(
            (row for row, switch in enumerate(exercise.switches) if row and not switch.linked_to), len(group) - 1
        )
        yield _fault(
            "switches",
            row,
            "linked_to",
            "no link to the other switches",
            "every switch is joined to the rest, directly or through others",
            "Write the letter of the switch it is linked to.",
        )


def _networks(exercise: Exercise) -> Iterator[Fault]:
    switches = {switch.name for switch in exercise.switches}
    numbers = [network.number for network in exercise.networks]
    if not numbers:
        yield Fault(
            at=Place("networks", None, "number"),
            found="no network",
            wanted="an exercise has at least one network",
            fix="Fill in a row.",
        )
    for row in _repeated(numbers):
        yield _fault("networks", row, "number", str(numbers[row]), "no number stands twice", "Write a free number.")
    for row, network in enumerate(exercise.networks):
        if network.switch not in switches:
            yield _fault(
                "networks",
                row,
                "switch",
                repr(str(network.switch)),
                "a network is on a switch of sheet Switches",
                f"Write one of {', '.join(sorted(switches))}.",
            )
    for field, offers in (
        ("vlans", [set(network.vlans) for network in exercise.networks]),
        ("names", [set(network.names) for network in exercise.networks]),
    ):
        row_without = _one_each(offers)
        if row_without is not None:
            found = (
                str(exercise.networks[row_without].vlans)
                if field == "vlans"
                else ", ".join(exercise.networks[row_without].names)
            )
            what = "VLAN number" if field == "vlans" else "name"
            yield _fault(
                "networks",
                row_without,
                field,
                found,
                f"every network of a lab has a {what} of its own, and the other rows need these",
                f"Write a {what} that is free, or a wider choice.",
            )


def _room(exercise: Exercise) -> Iterator[Fault]:
    """Stations that do not fit into their network, networks that do not fit into the block, a block that fits nowhere."""
    for row, network in enumerate(exercise.networks):
        yield from _room_in_network(exercise, row, network)
    try:
        smallest = smallest_block_length(exercise.widest_lengths())
    except ValueError:
        smallest = 0
    length = smallest if exercise.block_length is None else exercise.block_length
    if length > smallest:
        yield Fault(
            at=Place("exercise", None, "block_length"),
            found=f"/{length}",
            wanted=f"the networks of a lab take a block of /{smallest}",
            fix=f"Write /{smallest} or shorter, or the word smallest.",
        )
    elif exercise.separate_labs(length) < 1:
        yield Fault(
            at=Place("exercise", None, "address_ranges"),
            found=", ".join(map(str, exercise.address_ranges)),
            wanted=f"the networks of a lab take a block of /{length}, and no range holds one",
            fix="Write a shorter prefix, such as 172.16.0.0/12, or ask for smaller networks.",
        )


def _room_in_network(exercise: Exercise, row: int, network: NetworkRow) -> Iterator[Fault]:
    stations = exercise.stations_of(network)
    needed = network.addresses_needed.lowest
    if stations + 1 > needed:
        yield _fault(
            "networks",
            row,
            "addresses_needed",
            str(network.addresses_needed),
            f"the gateway and {stations} stations take {stations + 1} addresses",
            "Write a higher number, or take stations away.",
        )
        return
    fixed = stations - network.dhcp_stations
    gateway_is_low = exercise.gateway is GatewayPlace.FIRST_USABLE
    low = min(exercise.kept_for_fixed, needed) - (1 if gateway_is_low else 0)
    if fixed > low:
        yield _fault(
            "networks",
            row,
            "fixed_stations",
            f"{fixed} stations with a fixed address, the DHCP server counted",
            f"of the usable addresses kept for them, {max(low, 0)} are left beside the gateway",
            "Take stations away, or raise 'Kept for fixed' on sheet Exercise.",
        )
    usable = usable_count(prefix_length_for(needed))
    pool = usable - exercise.kept_for_fixed - (0 if gateway_is_low else 1)
    if network.dhcp_stations > max(pool, 0):
        yield _fault(
            "networks",
            row,
            "dhcp_stations",
            f"{network.dhcp_stations} DHCP stations",
            f"with {exercise.kept_for_fixed} addresses kept for fixed stations the pool holds {max(pool, 0)}",
            "Write more addresses needed, or lower 'Kept for fixed' on sheet Exercise.",
        )


def _protection(exercise: Exercise) -> Iterator[Fault]:
    snooping_switches = {network.switch for network in exercise.networks if network.is_snooped}
    for row, network in enumerate(exercise.networks):
        if network.is_snooped and network.dhcp_stations and exercise.stations_of(network) < 2:
            yield _fault(
                "networks",
                row,
                "dhcp_stations",
                f"{network.dhcp_stations} DHCP station alone",
                "a snooped network with DHCP stations has two stations or more, so that a false server finds somebody",
                "Write 2.",
            )
        if network.is_guarded and network.dhcp_stations and not network.is_snooped:
            yield _fault(
                "networks",
                row,
                "is_snooped",
                "no, beside source guard yes",
                "without snooping no binding row is learnt, and source guard locks the DHCP stations out",
                "Write yes under Snooping, or no under Source guard.",
            )
        is_server = network.number == exercise.server_network
        if is_server and not network.is_snooped and network.switch in snooping_switches:
            yield _fault(
                "networks",
                row,
                "is_snooped",
                "no, in the server's network",
                f"switch {network.switch} snoops on other VLANs, so it snoops on the server's VLAN too",
                "Write yes under Snooping.",
            )


def _sections(exercise: Exercise) -> Iterator[Fault]:
    asked = [share for share in exercise.sections if share.asked is Asked.YES]
    total = sum(share.share for share in asked)
    if total != 100:
        yield Fault(
            at=Place("sections", None, "share"),
            found=f"{total} in all",
            wanted="the shares of the sections that are asked add up to 100",
            fix=f"{'Add' if total < 100 else 'Take away'} {abs(100 - total)}.",
        )


def _empty_sections(exercise: Exercise) -> Iterator[Fault]:
    """Sections that are asked and have no row: their share could be earned by nobody."""
    pools = [network for network in exercise.networks if network.dhcp_stations]
    relayed = [network for network in pools if network.number != exercise.server_network]
    bound = [network for network in pools if network.is_snooped]
    bound += [network for network in exercise.networks if network.is_guarded and network.fixed_stations]
    has_rows = {"pools": pools, "relays": relayed, "bindings": bound, "links": exercise.links}
    for row, share in enumerate(exercise.sections):
        if share.asked is Asked.YES and not has_rows.get(share.section, True):
            yield _fault(
                "sections",
                row,
                "asked",
                "yes",
                "no network of this exercise gives that sheet a row, so nobody could earn its share",
                "Write no, or change sheet Networks.",
            )


def _trainees(exercise: Exercise) -> Iterator[Fault]:
    ids = [trainee.id for trainee in exercise.trainees]
    if not 1 <= len(ids) <= MOST_TRAINEES:
        yield Fault(
            at=Place("trainees", None, "id"),
            found=f"{len(ids)} trainees",
            wanted=f"a sitting has 1 to {MOST_TRAINEES} trainees",
            fix="Paste the class into this sheet: id and name.",
        )
    for row in _repeated([each.casefold() for each in ids]):
        yield _fault("trainees", row, "id", repr(ids[row]), "every trainee has an id of his own", "Write another id.")
    for row, each in enumerate(ids):
        if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,19}", each) or each.endswith("."):
            yield _fault(
                "trainees",
                row,
                "id",
                repr(each),
                "an id stands in file names: 1 to 20 letters a to z, digits, hyphens, underscores and dots inside",
                "Write one such as h01.",
            )


def _fault(table: str, row: int, field: str, found: str, wanted: str, fix: str) -> Fault:
    return Fault(at=Place(table, row, field), found=found, wanted=wanted, fix=fix)


def _repeated(values: Sequence[object]) -> Iterator[int]:
    """Places of values that stood before."""
    seen = set()
    for place, value in enumerate(values):
        if value in seen:
            yield place
        seen.add(value)


def _one_each(offers: Sequence[Iterable[object]]) -> int | None:
    """The first row that cannot have a value of its own beside the rows before it; None where all can."""
    taken: dict[object, int] = {}
    for row in range(len(offers)):
        if not give_one(row, offers, taken, set()):
            return row
    return None


def give_one(row: int, offers: Sequence[Iterable[object]], taken: dict[object, int], tried: set[object]) -> bool:
    """Gives the row one of its offers, moving rows that came before if need be; taken says who has what.

    Augmenting paths, as in every textbook on matching: rows are given one value each, or it is shown that they cannot.
    """
    for value in offers[row]:
        if value in tried:
            continue
        tried.add(value)
        if value not in taken or give_one(taken[value], offers, taken, tried):
            taken[value] = row
            return True
    return False
