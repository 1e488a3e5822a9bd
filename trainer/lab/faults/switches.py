"""What is wrong with the switches of an exercise and the links between them: sheet Switches."""

from collections.abc import Iterator

from trainer.lab.exercise import EACH_SWITCH, Exercise, ListedSwitch, Shape
from trainer.lab.faults.fault import Check, Fault, FieldRef, each_row, fault_in_row, first_without_its_own, repeated
from trainer.lab.layout import switch_names
from trainer.lab.unread import known, until_unread
from trainer.network.devices import SwitchName

__all__ = ["SWITCHES_AS_THEY_STAND", "SWITCHES_LAID_OUT"]


def _count(exercise: Exercise) -> Iterator[Fault]:
    if exercise.switch_count is None and not 2 <= len(exercise.switches) <= 50:
        yield Fault(
            at=FieldRef("switches", None, "name"),
            found=f"{len(exercise.switches)} switches",
            wanted="an exercise has 2 to 50 switches",
            fix="Add or remove rows.",
        )


def _letters(exercise: Exercise) -> Iterator[Fault]:
    for row, name in repeated(known(exercise.switches, lambda switch: switch.name)):
        yield fault_in_row(
            "switches", row, "name", str(name), "every switch has a letter of its own", "Write a free letter."
        )


def _each(exercise: Exercise) -> Iterator[Fault]:
    """No row 'each' where all are listed."""
    rows = {name: row for row, name in known(exercise.switches, lambda switch: switch.name)}
    if exercise.switch_count is None and EACH_SWITCH in rows:
        yield fault_in_row(
            "switches",
            rows[EACH_SWITCH],
            "name",
            "each",
            "with the switches as listed every switch has a row of its own",
            "Write a letter, or a number of switches on sheet Exercise.",
        )


def _drawn(exercise: Exercise) -> Iterator[Fault]:
    """A row for every switch that may be drawn."""
    if exercise.switch_count is None:
        return
    names = {switch.name for switch in exercise.switches}
    names_drawn = switch_names(exercise.switch_count.highest)
    without = [name for name in names_drawn if name not in names]
    if without and EACH_SWITCH not in names:
        yield Fault(
            at=FieldRef("switches", None, "name"),
            found=f"no row for switch {without[0]}",
            wanted=f"up to {exercise.switch_count.highest} switches are drawn, called A to {names_drawn[-1]}",
            fix="Write a row for each of them, or one row called each.",
        )


def _linked_beside_shape(exercise: Exercise) -> Iterator[Fault]:
    """Links are listed or follow from a shape, not both."""
    if exercise.shape is not Shape.AS_LISTED:
        for row, others in known(exercise.switches, lambda switch: switch.linked_to):
            if others:
                yield fault_in_row(
                    "switches",
                    row,
                    "linked_to",
                    f"{', '.join(others)} beside Shape {exercise.shape.word}",
                    "on sheet Exercise a Shape joins the switches by itself, and what is linked here would have no effect",
                    f"Leave this blank, or choose Shape {Shape.AS_LISTED.word}.",
                )


def _places(exercise: Exercise) -> Iterator[Fault]:
    place = first_without_its_own(known(exercise.switches, lambda switch: set(switch.places)))
    if place is not None:
        switch = exercise.switches[place]
        yield fault_in_row(
            "switches",
            switch.source,
            "places",
            ", ".join(switch.places),
            f"every one of {len(exercise.switches)} switches has a place of its own",
            "Write more places, with commas between them.",
        )


def _ports(exercise: Exercise, switch: ListedSwitch) -> Iterator[Fault]:
    yield from until_unread(_ports_for_both(switch))
    yield from _link_ports(exercise, switch)


def _ports_for_both(switch: ListedSwitch) -> Iterator[Fault]:
    if set(switch.station_ports) & set(switch.link_ports):
        yield fault_in_row(
            "switches",
            switch.source,
            "link_ports",
            f"{switch.link_ports} beside station ports {switch.station_ports}",
            "a port is for a station or for a link, not for both",
            "Write ranges that do not meet, such as 1-20 and 21-24.",
        )


def _link_ports(exercise: Exercise, switch: ListedSwitch) -> Iterator[Fault]:
    links = sum(switch.name in link for link in exercise.links) + (switch.name == exercise.way_out)
    counted = ", the way out among them" if switch.name == exercise.way_out else ""
    if links > len(switch.link_ports):
        yield fault_in_row(
            "switches",
            switch.source,
            "link_ports",
            f"{len(switch.link_ports)} link ports",
            f"switch {switch.name} has {links} links{counted}, and each takes a port",
            "Write a wider range.",
        )


def _station_ports(exercise: Exercise, switch: ListedSwitch) -> Iterator[Fault]:
    stations = sum(exercise.stations_of(each) for each in exercise.networks if each.switch == switch.name)
    if stations > len(switch.station_ports):
        yield fault_in_row(
            "switches",
            switch.source,
            "station_ports",
            f"{len(switch.station_ports)} station ports",
            f"switch {switch.name} has {stations} stations, and each takes a port",
            "Write a wider range, or take stations away on sheet Networks.",
        )


class _Groups:
    """Switches in groups: at first each by itself, then joined link by link."""

    def __init__(self, exercise: Exercise) -> None:
        self._above = {switch.name: switch.name for switch in exercise.switches}

    def __contains__(self, name: SwitchName) -> bool:
        return name in self._above

    def root(self, name: SwitchName) -> SwitchName:
        """A switch that stands for its whole group."""
        while self._above[name] != name:
            name = self._above[name]
        return name

    def join(self, one: SwitchName, other: SwitchName) -> None:
        self._above[self.root(one)] = self.root(other)


def _links(exercise: Exercise) -> Iterator[Fault]:
    yield from _rings(exercise)
    yield from _islands(exercise)


def _rings(exercise: Exercise) -> Iterator[Fault]:
    """Links to nobody, to itself, or closing a ring."""
    groups = _Groups(exercise)
    for place, others in known(exercise.switches, lambda switch: switch.linked_to):
        switch = exercise.switches[place]
        for other in others:
            if other not in groups or other == switch.name:
                yield fault_in_row(
                    "switches",
                    switch.source,
                    "linked_to",
                    repr(str(other)),
                    "a link leads to another switch of this sheet",
                    "Write the letter of one.",
                )
            elif groups.root(other) == groups.root(switch.name):
                yield fault_in_row(
                    "switches",
                    switch.source,
                    "linked_to",
                    f"a link between {switch.name} and {other}",
                    "the two are joined already, and a ring of switches has no single right set of routes",
                    "Take one link of the ring away.",
                )
            else:
                groups.join(switch.name, other)


def _islands(exercise: Exercise) -> Iterator[Fault]:
    """Switches that no link joins to the rest."""
    groups = _Groups(exercise)
    for one, other in exercise.links:
        groups.join(one, other)
    if len({groups.root(switch.name) for switch in exercise.switches}) > 1:
        switch = next((each for each in exercise.switches[1:] if not each.linked_to), exercise.switches[-1])
        yield fault_in_row(
            "switches",
            switch.source,
            "linked_to",
            "no link to the other switches",
            "every switch is joined to the rest, directly or through others",
            "Write the letter of the switch it is linked to.",
        )


def _way_out(exercise: Exercise) -> Iterator[Fault]:
    names = [switch.name for switch in exercise.switches]
    if exercise.way_out is not None and exercise.way_out not in names:
        yield Fault(
            at=FieldRef("exercise", None, "way_out"),
            found=repr(str(exercise.way_out)),
            wanted="the way out is on a switch that every lab has",
            fix=f"Write one of {', '.join(names)}, or none.",
        )


def _rows(exercise: Exercise) -> tuple[ListedSwitch, ...]:
    return exercise.switches


SWITCHES_AS_THEY_STAND: tuple[Check, ...] = (_count, _letters, _each, _drawn, _linked_beside_shape)
"""Checks of the workbook as it was written."""
SWITCHES_LAID_OUT: tuple[Check, ...] = (
    _places,
    each_row(_rows, _ports),
    each_row(_rows, _station_ports),
    _links,
    _way_out,
)
"""Checks of every switch by itself."""
