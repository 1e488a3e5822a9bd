"""What can be concluded from what was seen: which explanations are left, and what to look at next.

A look is worth what it tells on average: its information gain, the entropy of the explanations by what each would show
(Quinlan 1986). With equally likely explanations a yes-or-no look tells one bit at most, so n of them take at least log2 n
(half-split).
"""

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from itertools import combinations
from typing import TypeVar

__all__ = ["covers", "entropy", "information_gain", "shortest_way"]

E = TypeVar("E")
L = TypeVar("L")


def entropy(counts: Iterable[int]) -> float:
    """In bits, of things of which there are so many each.

    >>> round(entropy([9, 5]), 3), entropy([4, 4])
    (0.94, 1.0)
    """
    some = [each for each in counts if each]
    total = sum(some)
    return sum(each / total * math.log2(total / each) for each in some)


def information_gain(cases: Sequence[E], shows: Callable[[E], Hashable], stands_for: Callable[[E], Hashable]) -> float:
    """How many bits a look tells on average of what cases stand for; shows: what it would show in each.

    Where every case stands for itself, that is the entropy of what it shows.
    """
    parts: dict[Hashable, Counter[Hashable]] = defaultdict(Counter)
    for case in cases:
        parts[shows(case)][stands_for(case)] += 1
    whole = Counter(stands_for(case) for case in cases)
    rest = sum(part.total() / len(cases) * entropy(part.values()) for part in parts.values())
    return entropy(whole.values()) - rest


def shortest_way(
    cases: Sequence[E], looks: Sequence[L], shows: Callable[[E, L], Hashable], seen: Callable[[L], Hashable]
) -> list[tuple[L, list[E]]]:
    """The looks that tell most, one after the other, and which cases are left after each; looks that tell nothing more are
    left out.

    cases: explanations that are still possible; shows: what a look would show in one; seen: what it did show.
    """
    way: list[tuple[L, list[E]]] = []
    left, open_looks = list(cases), list(looks)
    while open_looks:
        gains = [information_gain(left, lambda case, look=look: shows(case, look), id) for look in open_looks]  # type: ignore[misc]
        best = max(range(len(gains)), key=lambda place: gains[place])
        if gains[best] <= 0:
            break
        look = open_looks.pop(best)
        left = [case for case in left if shows(case, look) == seen(look)]
        way.append((look, left))
    return way


def covers(parts: Mapping[E, frozenset[L]], whole: frozenset[L], size: int) -> list[tuple[E, ...]]:
    """Every set of so many whose parts together are the whole; one whose part goes past the whole is in none.

    What fails with several slips is nearly always what fails with each, so these are the sets that can explain what fails. With
    conflicts as the whole, and for each component those that it is in, the smallest such sets are the diagnoses (Reiter 1987).

    >>> covers({"A": frozenset({1, 2}), "B": frozenset({2, 3}), "C": frozenset({3})}, frozenset({1, 2, 3}), 2)
    [('A', 'B'), ('A', 'C')]
    """
    bits = {each: 1 << place for place, each in enumerate(whole)}
    masks = {name: sum(bits[each] for each in part) for name, part in parts.items() if part <= whole}
    wanted, found = (1 << len(bits)) - 1, []
    for names in combinations(masks, size):
        mask = 0
        for name in names:
            mask |= masks[name]
        if mask == wanted:
            found.append(names)
    return found
