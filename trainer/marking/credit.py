"""What earns a part of its marks: every way there is, by name, with the place that decides it. Whatever is in none of these is
right or wrong.

All of them are one half, which is all the fineness that can be defended; only a list earns by its members. The halves never
multiply. A value that its cell shares with another one that must differ was copied, and no idea is seen in it
(`plans.Plans.copied`). What is said of values that follow or do their job, and earn half, stands in `mistakes/half_right.py`.
"""

from collections.abc import Set as AbstractSet
from fractions import Fraction
from typing import Any

__all__ = ["ANOTHER_DEVICE", "CIRCLES", "EASIER", "LEADS_OUTSIDE", "RIGHT_IDEA", "part_of_set"]

_HALF = Fraction(1, 2)

RIGHT_IDEA = _HALF
"""The right idea in the wrong instance: a gateway in the right network, the block next door, a pool one off. A mistake in
`mistakes/<topic>.py` says so (`credit=RIGHT_IDEA`), if none that comes before it fits; `cells.CellMarker` looks whether it was
copied."""
LEADS_OUTSIDE = _HALF
"""What follows correctly from an error which leads to what cannot be, such as a network outside the block (R4); of any question:
`following_for_half.leads_outside`."""
EASIER = _HALF
"""What follows correctly from an error which made it easier to come by (R5), of questions with `worked_out_from`:
`following_for_half.is_easier`. Easier as well as leading outside, it earns no less."""
CIRCLES = _HALF
"""A route that does its job, and with others takes packets to unused addresses round in a loop, where that is forbidden; a
needless one that does so cancels as much (R2): `equivalence/routes.py`."""
ANOTHER_DEVICE = _HALF
"""Where faults are looked for, a symptom that is said to come from a fault whose line is sought on another device: the line is
charged on its own sheet. `repair/marks.py`."""


def part_of_set(value: AbstractSet[Any], needed: AbstractSet[Any]) -> Fraction:
    """What a list earns: a needed member its part, a wrong one cancels one, never below zero (R9)."""
    if not needed:
        return Fraction(0)
    return Fraction(max(0, len(value & needed) - len(value - needed)), len(needed))
