"""What makes an exercise impossible or ambiguous: one file a part of the workbook.

A check looks at what it needs. Where that could not be read, it ends (lab/unread.py), so an unreadable cell hides only
what depends on it.
"""

from collections.abc import Sequence

from trainer.lab.exercise import Exercise
from trainer.lab.faults.fault import Check, Fault, FieldRef
from trainer.lab.faults.marks_and_roll import MARKS_AND_ROLL_AS_THEY_STAND, empty_sections
from trainer.lab.faults.networks import NETWORKS_AS_THEY_STAND, NETWORKS_LAID_OUT, PROTECTION
from trainer.lab.faults.settings import SETTINGS_AS_THEY_STAND, must_work, room, switches_of_faults
from trainer.lab.faults.switches import SWITCHES_AS_THEY_STAND, SWITCHES_LAID_OUT
from trainer.lab.layout import extremes
from trainer.lab.unread import UNREAD, Unread, until_unread, with_values

__all__ = ["Fault", "FieldRef", "find_faults"]

_AS_IT_STANDS: tuple[Check, ...] = (
    *SETTINGS_AS_THEY_STAND,
    *SWITCHES_AS_THEY_STAND,
    *NETWORKS_AS_THEY_STAND,
    *MARKS_AND_ROLL_AS_THEY_STAND,
)
"""Checks of the workbook as it was written."""
_LAID_OUT: tuple[Check, ...] = (
    *SWITCHES_LAID_OUT,
    *NETWORKS_LAID_OUT,
    room,
    switches_of_faults,
    must_work,
    PROTECTION,
    empty_sections,
)
"""Checks of every switch and every network by itself, made for the fewest and the most switches in every shape."""


def find_faults(exercise: Exercise) -> tuple[Fault, ...]:
    """Everything that makes the exercise impossible or ambiguous. Some of its fields may be unread (lab/unread.py).

    What is short in several layouts is told for the one with most switches, so that it is mended once.
    """
    found: dict[object, Fault] = {}
    for check in _AS_IT_STANDS:
        for fault in until_unread(check(exercise)):
            found.setdefault(fault, fault)
    for laid_out in _layouts(exercise):
        for check in _LAID_OUT:
            for fault in until_unread(check(laid_out)):
                found.setdefault((check, fault.at), fault)
    return tuple(found.values())


def _layouts(exercise: Exercise) -> Sequence[Exercise]:
    """Most switches first. Where the layout hangs on an unread cell: the rows, with what a layout decides unread."""
    try:
        return sorted(extremes(exercise), key=lambda each: -len(each.switches))
    except Unread:
        networks = tuple(with_values(network, switch=UNREAD) for network in exercise.networks)
        return [with_values(exercise, switches=UNREAD, networks=networks)]
