"""Which written row is meant for which row of the key: the assignment with the largest sum of likeness (marking rule R8)."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from trainer.lab.form import RowKey

__all__ = ["Matched", "best_assignment", "best_pairs", "match_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """Written rows, and what they are meant for."""

    row_for: Mapping[RowKey, RowKey]
    """By row of the key the written row that is meant for it; those without one are absent."""
    extras: tuple[RowKey, ...]
    """The written rows that are meant for none."""
    alike: Mapping[RowKey, frozenset[RowKey]]
    """For each written row those of the key that it resembles."""

    def without(self, keys: Collection[RowKey]) -> "Matched":
        """The same, where the written rows of these rows of the key are meant for none."""
        return Matched(
            row_for={key: row for key, row in self.row_for.items() if key not in keys},
            extras=(*self.extras, *(self.row_for[key] for key in keys if key in self.row_for)),
            alike=self.alike,
        )


def match_rows(
    right: Mapping[RowKey, Sequence[Collection[object]]],
    written: Mapping[RowKey, Sequence[object]],
    weights: Sequence[int],
    least: int,
) -> Matched:
    """For each row of the key the written row that is meant for it.

    right: by row of the key, for each column the values that are right there; written: by written row its values;
    weights: for each column how much an equal value says, 1 or more; least: the sum of weights below which two rows have
    nothing to do with each other.
    """
    keys, names = tuple(right), tuple(written)
    likeness = _likeness(tuple(right.values()), tuple(written.values()), weights, least)
    pairs = best_pairs(likeness, sum(weights))
    alike: dict[RowKey, set[RowKey]] = {name: set() for name in names}
    for row, column in likeness:
        alike[names[row]].add(keys[column])
    return Matched(
        row_for={keys[column]: names[row] for row, column in pairs.items()},
        extras=tuple(name for place, name in enumerate(names) if place not in pairs),
        alike={name: frozenset(found) for name, found in alike.items()},
    )


def _likeness(
    right: Sequence[Sequence[Collection[object]]],
    written: Sequence[Sequence[object]],
    weights: Sequence[int],
    least: int,
) -> dict[tuple[int, int], int]:
    """How much written rows agree with rows of the key, by their places; pairs that agree too little are absent.

    A row that agrees in everything with a row of the key needs no other pair. Two columns that are exchanged say nearly as
    much as if each value stood in its own.
    """
    perfect = sum(weights)
    holders: list[dict[object, dict[int, None]]] = [{} for _ in weights]
    for column, cells in enumerate(right):
        for held_by, values in zip(holders, cells, strict=True):
            for value in values:
                held_by.setdefault(value, {})[column] = None
    likeness: dict[tuple[int, int], int] = {}
    taken: set[int] = set()
    for row, row_values in enumerate(written):
        holding = [held_by.get(value, {}) for held_by, value in zip(holders, row_values, strict=True)]
        own = _in_all(holding, taken)
        if own is not None:
            taken.add(own)
            likeness[row, own] = perfect
            continue
        sums: dict[int, int] = {}
        for columns, weight in zip(holding, weights, strict=True):
            for column in columns:
                sums[column] = sums.get(column, 0) + weight
        for column, weight in _exchanged(holders, row_values, weights):
            sums[column] = sums.get(column, 0) + weight - 1
        likeness |= {(row, column): total for column, total in sums.items() if total >= least}
    return likeness


def _in_all(holding: Sequence[Mapping[int, None]], taken: Collection[int]) -> int | None:
    """The first place that is in all of these and not taken; None where none is. The shortest says which can be."""
    shortest = min(holding, key=len)
    return next(
        (place for place in shortest if place not in taken and all(place in each for each in holding)),
        None,
    )


def _exchanged(
    holders: Sequence[Mapping[object, Mapping[int, None]]], values: Sequence[object], weights: Sequence[int]
) -> Iterator[tuple[int, int]]:
    """The rows of the key of which two columns stand in each other's place, by their places, and what the two weigh."""
    for (here, one), (there, other) in combinations(enumerate(values), 2):
        both = holders[there].get(one, {}).keys() & holders[here].get(other, {}).keys()
        yield from (
            (column, weights[here] + weights[there])
            for column in both - holders[here].get(one, {}).keys() - holders[there].get(other, {}).keys()
        )


def best_pairs(likeness: Mapping[tuple[int, int], int], perfect: int) -> dict[int, int]:
    """For rows the columns they are assigned to, so that the sum of likeness is the largest there is.

    likeness: by (row, column), more than 0; other pairs are never made. perfect: the likeness of a row and a column
    that agree in everything; such pairs are made first, which costs no other row anything. What is left falls into
    groups that have nothing to do with one another, and each is assigned by itself: a big table is many small ones.
    """
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for (row, column), weight in sorted(likeness.items()):
        if weight == perfect and row not in pairs and column not in taken:
            pairs[row] = column
            taken.add(column)
    rest = {place: weight for place, weight in likeness.items() if place[0] not in pairs and place[1] not in taken}
    for rows, columns in _groups(rest):
        table = [[rest.get((row, column), 0) for column in columns] for row in rows]
        for row, place in zip(rows, best_assignment(table), strict=True):
            if place is not None:
                pairs[row] = columns[place]
    return pairs


def _groups(likeness: Mapping[tuple[int, int], int]) -> Iterator[tuple[list[int], list[int]]]:
    """Rows and columns that hang together through some likeness, group by group."""
    of_row: dict[int, list[int]] = {}
    of_column: dict[int, list[int]] = {}
    for place in likeness:
        row, column = place
        of_row.setdefault(row, []).append(column)
        of_column.setdefault(column, []).append(row)
    seen: set[int] = set()
    for first, near in of_row.items():
        if first in seen:
            continue
        rows, columns = [first], dict.fromkeys(near)
        seen.add(first)
        for row in rows:
            for column in of_row[row]:
                columns.setdefault(column)
                new = [each for each in of_column[column] if each not in seen]
                seen.update(new)
                rows += new
        yield sorted(rows), sorted(columns)


def best_assignment(likeness: Sequence[Sequence[int]]) -> tuple[int | None, ...]:
    """For each row the column it is assigned to, so that the sum of likeness is the largest there is.

    likeness: rows by columns, 0 or more; a pair with 0 is never assigned. Exact, by shortest augmenting paths with
    potentials (Kuhn 1955, Munkres 1957; in the form every textbook on matching has), in time rows squared times columns:
    written out here in few lines, because a numerical library for one small table would cost more than it saves.

    >>> best_assignment([[3, 2], [3, 0]])
    (1, 0)
    """
    if not likeness or not likeness[0]:
        return (None,) * len(likeness)
    rows, columns = len(likeness), len(likeness[0])
    size = max(rows, columns)
    highest = max(map(max, likeness))

    def cost(row: int, column: int) -> int:
        return highest - (likeness[row][column] if row < rows and column < columns else 0)

    row_potential = [0] * (size + 1)
    column_potential = [0] * (size + 1)
    row_of = [size] * (size + 1)
    """Which row each column has; the last column is where a new row starts from."""
    for new_row in range(size):
        row_of[size] = new_row
        column = size
        slack = [float("inf")] * size
        came_from = [size] * size
        visited = [False] * (size + 1)
        while row_of[column] != size:
            visited[column] = True
            row, step, nearest = row_of[column], float("inf"), size
            for each in range(size):
                if visited[each]:
                    continue
                reduced = cost(row, each) - row_potential[row] - column_potential[each]
                if reduced < slack[each]:
                    slack[each], came_from[each] = reduced, column
                if slack[each] < step:
                    step, nearest = slack[each], each
            for each in range(size + 1):
                if visited[each]:
                    row_potential[row_of[each]] += int(step)
                    column_potential[each] -= int(step)
                elif each < size:
                    slack[each] -= step
            column = nearest
        while column != size:
            row_of[column] = row_of[came_from[column]]
            column = came_from[column]
    column_of: list[int | None] = [None] * rows
    for column, row in enumerate(row_of[:size]):
        if row < rows and column < columns and likeness[row][column] > 0:
            column_of[row] = column
    return tuple(column_of)
