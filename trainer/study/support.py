"""How much help somebody gets: an Elo rating for each concept (Pelanek 2016), moved by each session."""

import math

__all__ = ["GIVEN_ALONE", "chance", "level", "moved"]

_K, _SLOWER = 2.0, 0.05
"""K of the n-th session is 2 / (1 + 0.05 n); found by simulation, so that ten sessions settle it."""
_LEVELS = (0.35, 0.50, 0.65)
_MOST_GIVEN = 0.80
GIVEN_ALONE = 4
"""The level on which somebody works with what is given alone."""


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
    """The level of support by the chance at the standard exercise: 1 a full example; 2, 3 less; 4 what is given alone; 5
    another setting (Salden et al. 2010: fading that follows the learner).

    >>> [level(theta) for theta in (-1, -0.5, 0.5, 1, 2)]
    [1, 2, 3, 4, 5]
    """
    p = chance(theta)
    return 5 if p > _MOST_GIVEN else 1 + sum(p >= least for least in _LEVELS)
