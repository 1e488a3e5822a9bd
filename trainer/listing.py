"""Names in one sentence: all of them, or the first few and how many more."""

from collections.abc import Sequence

__all__ = ["first_few", "listed"]


def listed(names: Sequence[str]) -> str:
    """All of them; "" where there are none.

    >>> listed(["Route 1", "Route 4", "Route 5"])
    'Route 1, Route 4 and Route 5'
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def first_few(names: Sequence[str], most: int) -> str:
    """At most so many of them, 1 or more, and how many there are besides; "" where there are none.

    >>> first_few(["A", "B", "C", "D"], 2)
    'A, B and 2 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
