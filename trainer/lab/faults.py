"""What makes an exercise impossible or ambiguous. Each check says what it looks at, so that a cell that cannot be read
keeps no other problem from being found.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from trainer.lab.exercise import EACH_SWITCH, SERVER_NAME, Exercise, NetworkRow, Shape, give_one, station_names
from trainer.lab.layout import extremes, switch_names
from trainer.lab.plan import smallest_block_length
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, GatewayPlace, LinkEnds, Order
from trainer.network.addresses import prefix_length_for, usable_count
from trainer.network.devices import SwitchName

__all__ = ["Fault", "Place", "find_faults"]

MOST_TRAINEES = 10_000
"""A national round; more than that is a mistake in the workbook."""


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


def find_faults(exercise: Exercise, unread: Iterable[Place] = ()) -> tuple[Fault, ...]:
    """Everything that makes the exercise impossible or ambiguous, in the order of the workbook.

    unread: cells whose values are missing from the exercise, because they could not be read; checks that look at them
    are left out. What is short in several layouts is told for the one with most switches, so that it is mended once.
    """
    missing = {f"{place.table}.{place.field}" for place in unread}
    found: dict[object, Fault] = {}
    for looks_at, check in _CHECKS:
        if missing.isdisjoint(looks_at.split()):
            for fault in check(exercise):
                found.setdefault(fault, fault)
    if missing.isdisjoint(_LAYOUT.split()):
        for laid_out in sorted(extremes(exercise), key=lambda each: -len(each.switches)):
            for looks_at, check in _CHECKS_OF_A_LAYOUT:
                if missing.isdisjoint(looks_at.split()):
                    for fault in check(laid_out):
                        found.setdefault((check, fault.at), fault)
    return tuple(found.values())


def _code(exercise: Exercise) -> Iterator[Fault]:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]{2,19}", exercise.code):
        yield Fault(
            at=Place("exercise", None, "code"),
            found=repr(exercise.code),
            wanted="a code has 3 to 20 letters, digits and hyphens, and starts with a letter or digit",
            fix="Write one such as HARBOUR-2.",
        )


def _server(exercise: Exercise) -> Iterator[Fault]:
    if exercise.server_network not in {network.number for network in exercise.networks}:
        yield Fault(
            at=Place("exercise", None, "server_network"),
            found=str(exercise.server_network),
            wanted="the server stands in one of the networks of sheet Networks",
            fix="Write the No. of that network.",
        )
    elif any(each.number == exercise.server_network and each.switch == EACH_SWITCH for each in exercise.networks):
        yield Fault(
            at=Place("exercise", None, "server_network"),
            found=str(exercise.server_network),
            wanted="the server stands in one network, and that row makes one on every switch",
            fix="Give the server a network of its own, on a letter or on any.",
        )


def _kept(exercise: Exercise) -> Iterator[Fault]:
    if exercise.gateway is not GatewayPlace.LAST_USABLE and exercise.kept_for_fixed < 1:
        yield Fault(
            at=Place("exercise", None, "kept_for_fixed"),
            found=str(exercise.kept_for_fixed),
            wanted="the gateway has the first usable address, so at least that one is kept out of the pools",
            fix="Write 1 or more.",
        )


def _choices(exercise: Exercise) -> Iterator[Fault]:
    free = Order.FREE is exercise.order or GatewayPlace.FREE is exercise.gateway or LinkEnds.FREE is exercise.link_ends
    if free and not exercise.follow_through:
        yield Fault(
            at=Place("exercise", None, "follow_through"),
            found="no, where the plan is free",
            wanted="what rests on a trainee's own choice can only be marked by what follows from it",
            fix="Write yes, or leave no choice free.",
        )


def _switches(exercise: Exercise) -> Iterator[Fault]:
    names = [switch.name for switch in exercise.switches]
    if exercise.switch_count is None and not 2 <= len(names) <= 50:
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


def _drawn_switches(exercise: Exercise) -> Iterator[Fault]:
    """A row for every switch that may be drawn, and a shape to join them to; no row 'each' where all are listed."""
    names = {switch.name: switch.source for switch in exercise.switches}
    if exercise.switch_count is None:
        if EACH_SWITCH in names:
            yield _fault(
                "switches",
                names[EACH_SWITCH],
                "name",
                "each",
                "with the switches as listed every switch has a row of its own",
                "Write a letter, or a number of switches on sheet Exercise.",
            )
        return
    names_drawn = switch_names(exercise.switch_count.highest)
    without = [name for name in names_drawn if name not in names]
    if without and EACH_SWITCH not in names:
        yield Fault(
            at=Place("switches", None, "name"),
            found=f"no row for switch {without[0]}",
            wanted=f"up to {exercise.switch_count.highest} switches are drawn, called A to {names_drawn[-1]}",
            fix="Write a row for each of them, or one row called each.",
        )


def _shape(exercise: Exercise) -> Iterator[Fault]:
    if exercise.switch_count is not None and exercise.shape is Shape.AS_LISTED:
        yield Fault(
            at=Place("exercise", None, "shape"),
            found="as listed",
            wanted="a drawn number of switches is joined to a chain, a star or a tree",
            fix="Choose one of these, or any.",
        )


def _places(exercise: Exercise) -> Iterator[Fault]:
    row = _row_without([set(switch.places) for switch in exercise.switches])
    if row is not None:
        yield _fault(
            "switches",
            exercise.switches[row].source,
            "places",
            ", ".join(exercise.switches[row].places),
            f"every one of {len(exercise.switches)} switches has a place of its own",
            "Write more places, with commas between them.",
        )


def _ports(exercise: Exercise) -> Iterator[Fault]:
    for switch in exercise.switches:
        if set(switch.station_ports) & set(switch.link_ports):
            yield _fault(
                "switches",
                switch.source,
                "link_ports",
                f"{switch.link_ports} beside station ports {switch.station_ports}",
                "a port is for a station or for a link, not for both",
                "Write ranges that do not meet, such as 1-20 and 21-24.",
            )
        links = sum(switch.name in link for link in exercise.links)
        if links > len(switch.link_ports):
            yield _fault(
                "switches",
                switch.source,
                "link_ports",
                f"{len(switch.link_ports)} link ports",
                f"switch {switch.name} has {links} links, and each takes a port",
                "Write a wider range.",
            )


def _station_ports(exercise: Exercise) -> Iterator[Fault]:
    for switch in exercise.switches:
        stations = sum(exercise.stations_of(each) for each in exercise.networks if each.switch == switch.name)
        if stations > len(switch.station_ports):
            yield _fault(
                "switches",
                switch.source,
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

    for switch in exercise.switches:
        for other in switch.linked_to:
            if other not in group or other == switch.name:
                yield _fault(
                    "switches",
                    switch.source,
                    "linked_to",
                    repr(str(other)),
                    "a link leads to another switch of this sheet",
                    "Write the letter of one.",
                )
            elif root(other) == root(switch.name):
                yield _fault(
                    "switches",
                    switch.source,
                    "linked_to",
                    f"a link between {switch.name} and {other}",
                    "the two are joined already, and a ring of switches has no single right set of routes",
                    "Take one link of the ring away.",
                )
            else:
                group[root(switch.name)] = root(other)
    roots = {root(switch.name) for switch in exercise.switches}
    if len(roots) > 1:
        switch = next((each for each in exercise.switches[1:] if not each.linked_to), exercise.switches[-1])
        yield _fault(
            "switches",
            switch.source,
            "linked_to",
            "no link to the other switches",
            "every switch is joined to the rest, directly or through others",
            "Write the letter of the switch it is linked to.",
        )


def _networks(exercise: Exercise) -> Iterator[Fault]:
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


def _homes(exercise: Exercise) -> Iterator[Fault]:
    """On the fewest switches that may be drawn, every network that names its switch has one."""
    switches = list(dict.fromkeys(switch.name for switch in exercise.switches))
    for network in exercise.networks:
        if network.switch not in switches:
            yield _fault(
                "networks",
                network.source,
                "switch",
                repr(str(network.switch)),
                "a network is on a switch of sheet Switches",
                f"Write one of {', '.join(switches)}.",
            )


def _vlans(exercise: Exercise) -> Iterator[Fault]:
    row = _row_without([set(network.vlans) for network in exercise.networks])
    if row is not None:
        network = exercise.networks[row]
        yield _not_its_own(exercise, network, "vlans", "VLAN number", str(network.vlans))


def _names(exercise: Exercise) -> Iterator[Fault]:
    row = _row_without([set(network.names) for network in exercise.networks])
    if row is not None:
        network = exercise.networks[row]
        yield _not_its_own(exercise, network, "names", "name", ", ".join(network.names))


def _names_of_switches(exercise: Exercise) -> Iterator[Fault]:
    """A path or a report that says "B" means the switch."""
    switches = {switch.name.casefold() for switch in exercise.switches}
    for network in exercise.networks:
        for name in network.names:
            if name.casefold() in switches:
                yield _fault(
                    "networks",
                    network.source,
                    "names",
                    repr(name),
                    "a switch is called so, capital or small letters alike, and reports call both by their names alone",
                    "Write another name.",
                )


def _station_names(exercise: Exercise) -> Iterator[Fault]:
    """Stations are named after their network, with a number where it has several; no two of them may be called alike."""
    taken = {SERVER_NAME: ""}
    for network in exercise.networks:
        stations = network.dhcp_stations + network.fixed_stations
        for name in network.names:
            for station in station_names(name, stations):
                if taken.setdefault(station, name) != name:
                    yield _fault(
                        "networks",
                        network.source,
                        "names",
                        repr(name),
                        f"stations are named after their network, and {station!r} would be the name of two",
                        "Write a name that does not end in a number.",
                    )


def _not_its_own(exercise: Exercise, network: NetworkRow, field: str, what: str, found: str) -> Fault:
    made = sum(each.source == network.source for each in exercise.networks)
    if made == 1:
        wanted = f"every network of a lab has a {what} of its own, and the other rows need these"
        fix = f"Write a {what} that is free, or a wider choice."
    else:
        wanted = f"this row makes {made} networks, one on every switch, and each has a {what} of its own"
        fix = f"Write at least {made} {what}s that no other row needs, with commas between them."
    return _fault("networks", network.source, field, found, wanted, fix)


def _room_in_networks(exercise: Exercise) -> Iterator[Fault]:
    for network in exercise.networks:
        yield from _room_in_network(exercise, network)


def _room(exercise: Exercise) -> Iterator[Fault]:
    """Networks that do not fit into the block, a block that fits nowhere."""
    if not exercise.networks:
        return
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


def _room_in_network(exercise: Exercise, network: NetworkRow) -> Iterator[Fault]:
    stations = exercise.stations_of(network)
    needed = network.addresses_needed.lowest
    if stations + 1 > needed:
        yield _fault(
            "networks",
            network.source,
            "addresses_needed",
            str(network.addresses_needed),
            f"the gateway and {stations} stations take {stations + 1} addresses",
            "Write a higher number, or take stations away.",
        )
        return
    fixed = stations - network.dhcp_stations
    gateway_is_low = exercise.gateway is not GatewayPlace.LAST_USABLE
    low = min(exercise.kept_for_fixed, needed) - (1 if gateway_is_low else 0)
    if fixed > max(low, 0):
        yield _fault(
            "networks",
            network.source,
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
            network.source,
            "dhcp_stations",
            f"{network.dhcp_stations} DHCP stations",
            f"with {exercise.kept_for_fixed} addresses kept for fixed stations the pool holds {max(pool, 0)}",
            "Write more addresses needed, or lower 'Kept for fixed' on sheet Exercise.",
        )


def _protection(exercise: Exercise) -> Iterator[Fault]:
    snooping_switches = {network.switch for network in exercise.networks if network.is_snooped}
    for network in exercise.networks:
        if network.is_snooped and network.dhcp_stations and exercise.stations_of(network) < 2:
            yield _fault(
                "networks",
                network.source,
                "dhcp_stations",
                f"{network.dhcp_stations} DHCP station alone",
                "a snooped network with DHCP stations has two stations or more, so that a false server finds somebody",
                "Write 2.",
            )
        if network.is_guarded and network.dhcp_stations and not network.is_snooped:
            yield _fault(
                "networks",
                network.source,
                "is_snooped",
                "no, beside source guard yes",
                "without snooping no binding row is learnt, and source guard locks the DHCP stations out",
                "Write yes under Snooping, or no under Source guard.",
            )
        is_server = network.number == exercise.server_network
        if is_server and not network.is_snooped and network.switch in snooping_switches:
            yield _fault(
                "networks",
                network.source,
                "is_snooped",
                "no, in the server's network",
                f"switch {network.switch} snoops on other VLANs, so it snoops on the server's VLAN too",
                "Write yes under Snooping.",
            )


def _section_rows(exercise: Exercise) -> Iterator[Fault]:
    """No sheet of the form stands twice in table Marks. One without a row is not asked."""
    listed = [share.section for share in exercise.sections]
    for row in _repeated(listed):
        title = SECTIONS[listed[row]].title
        yield _fault(
            "sections", row, "section", title, "every sheet of the form stands here once", "Take one row away."
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
    asked = [switch.name for switch in exercise.switches if switch.asks_routes]
    routes = (
        any(name != network.switch for name in asked for network in exercise.networks) or len(exercise.switches) < 2
    )
    has_rows = {"pools": pools, "relays": relayed, "bindings": bound, "links": exercise.links, "routes": routes}
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
        yield _fault(
            "trainees",
            row,
            "id",
            repr(ids[row]),
            "no two trainees have the same id, capital or small letters alike",
            "Write another id.",
        )
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


def _row_without(offers: Sequence[Iterable[object]]) -> int | None:
    """The first row that cannot have a value of its own beside the rows before it; None where all can."""
    taken: dict[object, int] = {}
    for row in range(len(offers)):
        if not give_one(row, offers, taken, set()):
            return row
    return None


_SIZES = (
    "networks.number networks.addresses_needed networks.dhcp_stations networks.fixed_stations exercise.server_network"
)
_LAYOUT = "exercise.switch_count exercise.shape switches.name switches.linked_to networks.switch"
"""What a layout is made from."""
_Check = tuple[str, Callable[[Exercise], Iterator[Fault]]]
_CHECKS: tuple[_Check, ...] = (
    ("exercise.code", _code),
    ("exercise.server_network networks.number networks.switch", _server),
    ("exercise.gateway exercise.kept_for_fixed", _kept),
    ("exercise.order exercise.gateway exercise.link_ends exercise.follow_through", _choices),
    ("exercise.switch_count exercise.shape", _shape),
    ("exercise.switch_count switches.name", _switches),
    ("exercise.switch_count switches.name", _drawn_switches),
    ("networks.number", _networks),
    ("sections.section", _section_rows),
    ("sections.asked sections.share", _sections),
    ("trainees.id", _trainees),
)
"""Checks of the workbook as it stands: what each looks at, and the check."""
_CHECKS_OF_A_LAYOUT: tuple[_Check, ...] = (
    ("switches.places", _places),
    ("switches.station_ports switches.link_ports", _ports),
    (f"switches.station_ports {_SIZES}", _station_ports),
    ("", _rings),
    ("", _homes),
    ("networks.vlans", _vlans),
    ("networks.names", _names),
    ("networks.names", _names_of_switches),
    ("networks.names networks.dhcp_stations networks.fixed_stations", _station_names),
    (f"exercise.gateway exercise.kept_for_fixed {_SIZES}", _room_in_networks),
    (
        "networks.addresses_needed exercise.link_lengths exercise.order exercise.block_length exercise.address_ranges",
        _room,
    ),
    (f"networks.is_snooped networks.is_guarded {_SIZES}", _protection),
    (f"sections.asked switches.asks_routes networks.is_snooped networks.is_guarded {_SIZES}", _empty_sections),
)
"""Checks of every switch and every network by itself, made for the fewest and the most switches in every shape."""
