"""How much help somebody gets: an Elo rating for each concept (Pelanek 2016), moved by each session."""

import math

__all__ = ["FULL_EXAMPLE", "ONLY_GIVEN", "OTHER_SETTING", "chance", "difficulty", "level", "moved"]

_K, _SLOWER = 2.0, 0.05
"""K of the n-th session is 2 / (1 + 0.05 n); found by simulation, so that ten sessions settle it."""
_LEVELS = (0.35, 0.50, 0.65)
_MOST_GIVEN = 0.80
FULL_EXAMPLE, ONLY_GIVEN, OTHER_SETTING = 1, 4, 5
"""Levels of support: a full example; its last step left out; its last two; only what is given; another setting as well."""
_STEP = 0.5
"""Logits of a step of difficulty; a lab with other rules is one step harder."""


def chance(theta: float, d: float = 0.0) -> float:
    """How likely an answer is right, 0 to 1; theta and d in logits."""
    return 1 / (1 + math.exp(d - theta))


def moved(theta: float, d: float, y: float, n: int) -> float:
    """The rating after a session. y: share that was right, 0 to 1; n: sessions before it.

    >>> round(moved(1.0, 0.0, 1.0, 1), 6)
    1.512269
    """
    return theta + _K / (1 + _SLOWER * n) * (y - chance(theta, d))


def level(theta: float) -> int:
    """The level of support, 1 to 5, by the chance at the standard exercise (Salden et al. 2010: fading that follows the
    learner).

    >>> [level(theta) for theta in (-1, -0.5, 0.5, 1, 2)]
    [1, 2, 3, 4, 5]
    """
    p = chance(theta)
    return OTHER_SETTING if p > _MOST_GIVEN else FULL_EXAMPLE + sum(p >= least for least in _LEVELS)


def difficulty(support: int, steps: int = 0) -> str:
    """How much harder than the standard exercise something is at a level of support, in logits as a log holds them.

    steps: of the exercise itself.

    >>> difficulty(4), difficulty(5), difficulty(5, 1), difficulty(4, -1)
    ('0', '0.5', '1.0', '-0.5')
    """
    harder = steps + (support == OTHER_SETTING)
    return str(_STEP * harder) if harder else "0"
