"""How often Python looks for garbage that holds itself: labs leave little of it."""

import gc

__all__ = ["look_for_garbage_seldom"]

_SELDOM = (100_000, 50, 100)


def look_for_garbage_seldom() -> None:
    """From now on, in this process; looking as often as usual takes a tenth of the time."""
    gc.set_threshold(*_SELDOM)
