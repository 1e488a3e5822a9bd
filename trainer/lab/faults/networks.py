"""What is wrong with the networks of an exercise and their stations: sheet Networks."""

from collections.abc import Iterator

from trainer.lab.exercise import SERVER_NAME, Exercise, ListedNetwork, Numbers, station_names
from trainer.lab.faults.fault import Check, Fault, FieldRef, each_row, fault_in_row, first_without_its_own, repeated
from trainer.lab.scenario import GatewayPlace
from trainer.lab.unread import known, until_unread
from trainer.network.addresses import prefix_length_for

__all__ = ["NETWORKS_AS_THEY_STAND", "NETWORKS_LAID_OUT", "PROTECTION"]


def _numbers(exercise: Exercise) -> Iterator[Fault]:
    if not exercise.networks:
        yield Fault(
            at=FieldRef("networks", None, "number"),
            found="no network",
            wanted="an exercise has at least one network",
            fix="Fill in a row.",
        )
    for row, number in repeated(known(exercise.networks, lambda network: network.number)):
        yield fault_in_row("networks", row, "number", str(number), "no number stands twice", "Write a free number.")


def _home(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    """On the fewest switches that may be drawn, every network that names its switch has one."""
    switches = list(dict.fromkeys(switch.name for switch in exercise.switches))
    if network.switch not in switches:
        yield fault_in_row(
            "networks",
            network.source,
            "switch",
            repr(str(network.switch)),
            "a network is on a switch of sheet Switches",
            f"Write one of {', '.join(switches)}.",
        )


def _vlans(exercise: Exercise) -> Iterator[Fault]:
    """In a lab, or on a switch where numbers may repeat, every network has a number of its own."""
    offers = tuple(known(exercise.networks, lambda network: (network.switch, set(network.vlans))))
    is_split = exercise.rules.numbers_may_repeat
    for home in dict.fromkeys(switch for _, (switch, _) in offers) if is_split else (None,):
        place = first_without_its_own((at, numbers) for at, (switch, numbers) in offers if home in (None, switch))
        if place is not None:
            network = exercise.networks[place]
            yield _not_its_own(exercise, network, "vlans", "VLAN number", str(network.vlans))
            return


def _names(exercise: Exercise) -> Iterator[Fault]:
    place = first_without_its_own(known(exercise.networks, lambda network: set(network.names)))
    if place is not None:
        network = exercise.networks[place]
        yield _not_its_own(exercise, network, "names", "name", ", ".join(network.names))


def _names_of_switches(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    """A path or a report that says "B" means the switch."""
    switches = {switch.name.casefold() for switch in exercise.switches}
    for name in network.names:
        if name.casefold() in switches:
            yield fault_in_row(
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
    rows = known(exercise.networks, lambda each: (each.names, each.dhcp_stations + each.fixed_stations))
    for place, (names, stations) in rows:
        for name in names:
            for station in station_names(name, stations):
                if taken.setdefault(station, name) != name:
                    yield fault_in_row(
                        "networks",
                        exercise.networks[place].source,
                        "names",
                        repr(name),
                        f"stations are named after their network, and {station!r} would be the name of two",
                        "Write a name that does not end in a number.",
                    )


def _not_its_own(exercise: Exercise, network: ListedNetwork, field: str, what: str, found: str) -> Fault:
    made = sum(each.source == network.source for each in exercise.networks)
    if made == 1:
        wanted = f"every network of a lab has a {what} of its own, and the other rows need these"
        fix = f"Write a {what} that is free, or a wider choice."
    else:
        wanted = f"this row makes {made} networks, one on every switch, and each has a {what} of its own"
        fix = f"Write at least {made} {what}s that no other row needs, with commas between them."
    return fault_in_row("networks", network.source, field, found, wanted, fix)


def _room_in_network(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    stations = exercise.stations_of(network)
    if stations + 1 > network.addresses_needed.lowest:
        yield fault_in_row(
            "networks",
            network.source,
            "addresses_needed",
            str(network.addresses_needed),
            f"the gateway and {stations} stations take {stations + 1} addresses",
            "Write a higher number, or take stations away.",
        )
        return
    needed = exercise.drawn_needs(network)
    if not needed:
        yield _short_pool(exercise, network)
        return
    fixed = stations - network.dhcp_stations
    gateway_is_low = exercise.rules.gateway is not GatewayPlace.LAST_USABLE
    low = min(exercise.rules.kept_for_fixed, needed.lowest) - (1 if gateway_is_low else 0)
    if fixed > max(low, 0):
        yield fault_in_row(
            "networks",
            network.source,
            "fixed_stations",
            f"{fixed} stations with a fixed address, the DHCP server counted",
            f"of the usable addresses reserved for them, {max(low, 0)} are left beside the gateway",
            "Take stations away, or raise 'Reserved for static' on sheet Exercise.",
        )


def _short_pool(exercise: Exercise, network: ListedNetwork) -> Fault:
    """None of the numbers is served: names those near them that are."""
    highest = prefix_length_for(network.addresses_needed.highest)
    lowest = prefix_length_for(network.addresses_needed.lowest)
    served = exercise.needs_served(network)
    near = [each for each in served if highest <= prefix_length_for(each[0]) <= lowest]
    near += [each for each in served if prefix_length_for(each[0]) < highest][:1]
    return fault_in_row(
        "networks",
        network.source,
        "addresses_needed",
        str(network.addresses_needed),
        f"with {exercise.rules.kept_for_fixed} addresses reserved for static stations, its pool is too small to serve so many",
        f"Write numbers of {Numbers(tuple(near))}, or lower 'Reserved for static' on sheet Exercise.",
    )


def _protection(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    yield from until_unread(_snooped_alone(exercise, network))
    yield from until_unread(_guarded_unlearnt(network))
    yield from _server_unsnooped(exercise, network)


def _snooped_alone(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    if network.is_snooped and network.dhcp_stations and exercise.stations_of(network) < 2:
        yield fault_in_row(
            "networks",
            network.source,
            "dhcp_stations",
            f"{network.dhcp_stations} DHCP station alone",
            "a snooped network with DHCP stations has two stations or more, so that a rogue server finds somebody",
            "Write 2.",
        )


def _guarded_unlearnt(network: ListedNetwork) -> Iterator[Fault]:
    if network.is_guarded and network.dhcp_stations and not network.is_snooped:
        yield fault_in_row(
            "networks",
            network.source,
            "is_snooped",
            "no, beside source guard yes",
            "without snooping no binding row is learnt, and source guard locks the DHCP stations out",
            "Write yes under Snooping, or no under Source guard.",
        )


def _server_unsnooped(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    if network.number == exercise.server_network and not network.is_snooped:
        others = known(exercise.networks, lambda each: each.is_snooped and each.switch)
        if network.switch in {switch for _, switch in others}:
            yield fault_in_row(
                "networks",
                network.source,
                "is_snooped",
                "no, in the server's network",
                f"switch {network.switch} snoops on other VLANs, so it snoops on the server's VLAN too",
                "Write yes under Snooping.",
            )


def _rows(exercise: Exercise) -> tuple[ListedNetwork, ...]:
    return exercise.networks


NETWORKS_AS_THEY_STAND: tuple[Check, ...] = (_numbers,)
"""Checks of the workbook as it was written."""
NETWORKS_LAID_OUT: tuple[Check, ...] = (
    each_row(_rows, _home),
    _vlans,
    _names,
    each_row(_rows, _names_of_switches),
    _station_names,
    each_row(_rows, _room_in_network),
)
"""Checks of every network by itself."""
PROTECTION: Check = each_row(_rows, _protection)
