"""Names and numbers in one sentence: all names, or the first few and how many more; one file, two files."""

from collections.abc import Sequence

__all__ = ["first_few", "how_many", "listed"]


def how_many(number: int, what: str) -> str:
    """A number and its noun, which takes an s unless it is one.

    >>> how_many(1, "file"), how_many(0, "file"), how_many(12, "file")
    ('1 file', '0 files', '12 files')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"


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
