"""What is said where something follows or does its job, and earns half all the same (credit.py). These are no entries that a
predicate tells apart: whoever finds such a value out asks for the words.
"""

from collections.abc import Sequence

from trainer.marking.explanation import EASIER, Explanation

__all__ = ["circles", "easier", "led_outside"]

_FITS = "It fits your own plan, so what is wrong is that plan."


def easier(where: str, first_errors: Sequence[str]) -> Explanation:
    """Of what follows from an error which made it easier (R5).

    where: the cells of it, in words; first_errors: the same one by one.
    """
    return Explanation(
        mistake=EASIER,
        explanation="It follows from your own plan, but the network there is easier to work with than the right one: half "
        "the marks.",
        consequence=_FITS,
        hint=f"Put {where or 'the plan'} right first. What is this value then?",
        first_errors=tuple(first_errors),
    )


def led_outside(from_what: str, where: str, first_errors: Sequence[str]) -> Explanation:
    """Of what follows correctly from an error which leads to what cannot be (R4). from_what: what cannot be."""
    return Explanation(
        mistake="follows-to-what-cannot-be",
        explanation=f"Correctly worked out from {from_what}: half the marks. "
        f"Start at {where or 'the first cell that is not right'}.",
        consequence=_FITS,
        hint="Once the cell to start at is right, what is this value?",
        first_errors=tuple(first_errors),
    )


def circles(does: str, rows: str, switches: str) -> Explanation:
    """Of routes that do their job, and send packets to unused addresses round where that is forbidden. does: their job."""
    return Explanation(
        mistake="route-circles-for-unused",
        explanation=f"{does}, but {rows} are a routing loop between {switches} for packets to unused addresses.",
        consequence="A packet to an address that nobody has goes round until its time to live is used up.",
        hint="Which addresses does each of these routes take, besides the networks it is there for?",
    )
