"""What is wrong with the settings of an exercise: the rows of sheet Exercise."""

import re
from collections.abc import Callable, Iterator, Mapping

from trainer.lab.exercise import EACH_SWITCH, Exercise, ExerciseKind, ListedNetwork, Shape
from trainer.lab.faults.fault import Check, Fault, FieldRef, each_row
from trainer.lab.plan import smallest_block_length
from trainer.lab.repair.sheet import HOSTS
from trainer.lab.scenario import GatewayPlace

__all__ = ["SETTINGS_AS_THEY_STAND", "must_work", "room", "switches_of_faults"]


def _code(exercise: Exercise) -> Iterator[Fault]:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]{2,19}", exercise.code):
        yield Fault(
            at=FieldRef("exercise", None, "code"),
            found=repr(exercise.code),
            wanted="a code has 3 to 20 letters, digits and hyphens, and starts with a letter or digit",
            fix="Write one such as HARBOUR-2.",
        )


def _server(exercise: Exercise) -> Iterator[Fault]:
    if exercise.server_network not in {network.number for network in exercise.networks}:
        yield Fault(
            at=FieldRef("exercise", None, "server_network"),
            found=str(exercise.server_network),
            wanted="the server stands in one of the networks of sheet Networks",
            fix="Write the No. of that network.",
        )


def _server_everywhere(exercise: Exercise, network: ListedNetwork) -> Iterator[Fault]:
    if network.number == exercise.server_network and network.switch == EACH_SWITCH:
        yield Fault(
            at=FieldRef("exercise", None, "server_network"),
            found=str(exercise.server_network),
            wanted="the server stands in one network, and that row makes one on every switch",
            fix="Give the server a network of its own, on a letter or on any.",
        )


def _kept(exercise: Exercise) -> Iterator[Fault]:
    if exercise.rules.gateway is not GatewayPlace.LAST_USABLE and exercise.rules.kept_for_fixed < 1:
        yield Fault(
            at=FieldRef("exercise", None, "kept_for_fixed"),
            found=str(exercise.rules.kept_for_fixed),
            wanted="the gateway has the first usable address, so at least that one is kept out of the pools",
            fix="Write 1 or more.",
        )


def _faults_of_plan(exercise: Exercise) -> Iterator[Fault]:
    """How hard faults are to find is said only where faults are looked for."""
    if exercise.kind is ExerciseKind.PLAN:
        for name in ("level", *_BY_HAND, "no_fault"):
            if exercise.no_fault if name == "no_fault" else getattr(exercise, name) is not None:
                yield Fault(
                    at=FieldRef("exercise", None, name),
                    found="a value, with Kind plan",
                    wanted="this stands here only where Kind is faults",
                    fix="Write faults under Kind, or leave this blank.",
                )


def _level(exercise: Exercise) -> Iterator[Fault]:
    if exercise.kind is not ExerciseKind.FAULTS:
        return
    for name in _BY_HAND:
        is_given = getattr(exercise, name) is not None
        if is_given and exercise.level is not None:
            yield Fault(
                at=FieldRef("exercise", None, name),
                found="a value beside a Level",
                wanted="a Level says this already",
                fix="Leave this blank, or the Level.",
            )
        elif not is_given and exercise.level is None:
            yield Fault(
                at=FieldRef("exercise", None, name),
                found="nothing, and no Level",
                wanted="Kind is faults, so there is a Level, or Faults, Decoys and Device counters stand here",
                fix="Write a Level from 1 to 4.",
            )


def _plain_network(exercise: Exercise) -> Iterator[Fault]:
    """Slips are made in networks without a way out, in which every VLAN has a number of its own."""
    if exercise.kind is not ExerciseKind.FAULTS:
        return
    for name, found in (
        ("vlan_numbers", exercise.rules.numbers_may_repeat),
        ("way_out", exercise.way_out is not None),
    ):
        if found:
            yield Fault(
                at=FieldRef("exercise", None, name),
                found="a value, with Kind faults",
                wanted="a network with faults has no way out, and no VLAN number twice",
                fix="Leave this blank, or write plan under Kind.",
            )


_BY_HAND = ("faults", "decoys", "counters")
_MOST_SWITCHES = 5
"""Of a fault-finding lab: every setting that may be wrong is tried in every lab, which takes time; and lines are named by the
switch's letter, where H is for server and stations."""


def switches_of_faults(exercise: Exercise) -> Iterator[Fault]:
    """A fault-finding lab is small enough for all that may be wrong to be tried."""
    if exercise.kind is not ExerciseKind.FAULTS:
        return
    many = len(exercise.switches)
    if many > _MOST_SWITCHES or any(each.name >= HOSTS for each in exercise.switches):
        yield Fault(
            at=FieldRef("exercise", None, "kind"),
            found=f"faults, with {many} switches",
            wanted=f"a network with faults has at most {_MOST_SWITCHES} switches, with letters before {HOSTS}",
            fix="Take fewer switches, or write plan.",
        )


def _choices(exercise: Exercise) -> Iterator[Fault]:
    if exercise.rules.has_choices and not exercise.rules.follow_through:
        yield Fault(
            at=FieldRef("exercise", None, "follow_through"),
            found="no, where the plan is free",
            wanted="what rests on a trainee's own choice can only be marked by what follows from it",
            fix="Write yes, or leave no choice free.",
        )


def _shape(exercise: Exercise) -> Iterator[Fault]:
    if exercise.switch_count is not None and exercise.shape is Shape.AS_LISTED:
        yield Fault(
            at=FieldRef("exercise", None, "shape"),
            found="as listed",
            wanted="a drawn number of switches is joined to a chain, a star or a tree",
            fix="Choose one of these, or any.",
        )


def must_work(exercise: Exercise) -> Iterator[Fault]:
    """Sorts of trial that have to work, and of which a lab has none."""
    if exercise.must_work is None:
        return
    lacking = [sort for sort in exercise.must_work.shares() if not _HAS[sort](exercise)]
    if lacking:
        yield Fault(
            at=FieldRef("exercise", None, "must_work"),
            found=exercise.must_work.words,
            wanted=f"a lab of this exercise has no {' and no '.join(lacking)} to try",
            fix=f"Take {' and '.join(lacking)} out, or change sheet Networks.",
        )


def _has_leases(exercise: Exercise) -> bool:
    return any(each.dhcp_stations for each in exercise.networks)


def _has_pings(exercise: Exercise) -> bool:
    """From station to station, to a needed address that no station has, or to the test address outside."""
    alone = len(exercise.networks) == 1 and exercise.stations_of(exercise.networks[0]) == 1
    return exercise.way_out is not None or not alone or exercise.networks[0].addresses_needed.lowest > 2


def _has_attacks(exercise: Exercise) -> bool:
    """Where a guarded or snooped network has stations beside the server, or a switch looks for rogue servers on a link."""
    protected = [each for each in exercise.networks if each.is_guarded or each.is_snooped]
    if any(each.dhcp_stations or each.fixed_stations for each in protected):
        return True
    return any(_looks_at_a_link(exercise, each) for each in exercise.networks if each.is_snooped)


def _looks_at_a_link(exercise: Exercise, snooped: ListedNetwork) -> bool:
    """Whether its switch has a link on which no message of the server comes in; a leaf has none where it has clients itself."""
    home = next((each.switch for each in exercise.networks if each.number == exercise.server_network), None)
    links = sum(snooped.switch in link for link in exercise.links) + (snooped.switch == exercise.way_out)
    has_clients = any(each.dhcp_stations for each in exercise.networks if each.switch == snooped.switch)
    return links > 1 or (links == 1 and (snooped.switch == home or not has_clients))


_HAS: Mapping[str, Callable[[Exercise], bool]] = {
    "leases": _has_leases,
    "pings": _has_pings,
    "attacks": _has_attacks,
}


def room(exercise: Exercise) -> Iterator[Fault]:
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
            at=FieldRef("exercise", None, "block_length"),
            found=f"/{length}",
            wanted=f"the networks of a lab take a block of /{smallest}",
            fix=f"Write /{smallest} or shorter, or the word smallest.",
        )
    elif exercise.separate_labs(length) < 1:
        yield Fault(
            at=FieldRef("exercise", None, "address_ranges"),
            found=", ".join(map(str, exercise.address_ranges)),
            wanted=f"the networks of a lab take a block of /{length}, and no range holds one",
            fix="Write a shorter prefix, such as 172.16.0.0/12, or ask for smaller networks.",
        )


SETTINGS_AS_THEY_STAND: tuple[Check, ...] = (
    _code,
    _server,
    each_row(lambda exercise: exercise.networks, _server_everywhere),
    _kept,
    _faults_of_plan,
    _level,
    _plain_network,
    _choices,
    _shape,
)
"""Checks of the workbook as it was written."""
