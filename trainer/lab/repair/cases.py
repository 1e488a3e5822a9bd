"""Faults that can be asked for in a lab: what is seen of them leads to their rows and no further.

Everything that may be wrong is tried, one slip at a time; of several faults every set of as many slips that may fail alike.
"""

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any

from trainer.lab.build import build
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.repair.found import with_slips
from trainer.lab.repair.observing import Seen, View, complains, complaint_of, failing, observe, to_observe
from trainer.lab.repair.reasoning import covers
from trainer.lab.repair.sheet import RepairRules, SlipKind, SymptomSort
from trainer.lab.repair.slips import Slip, all_slips
from trainer.lab.repair.trying import Bench
from trainer.lab.scenario import Scenario

__all__ = ["Case", "Slips", "Workshop"]

_MOST_SETS = {2: 60, 3: 400}
"""So many sets of two or three slips are tried in one lab; few of three have a symptom each."""
_MOST_SURVIVORS = 400
"""Where what fails leaves more such sets than that, the set is not asked for."""
_LEAST_AFTER_COMPLAINT = 8

Slips = tuple[Slip, ...]
"""One explanation: a slip, or two or three."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Faults that can be asked for in a lab: what is seen of them leads to one row each. Where one hides the other it is about
    the first.
    """

    faults: Slips
    view: View
    complaint: Seen
    explanations: int
    vector: tuple[int, ...]
    after_complaint: Sequence[Slips]
    """Those that are left after the complaint, as far as they were looked at one by one."""
    views: Mapping[Slips, View]
    hidden: tuple[int, ...] = ()
    """The vector of the fault that shows when the first is mended."""

    @property
    def hardness(self) -> tuple[int, ...]:
        """What is the same in all labs of a sitting."""
        return (*self.vector, *self.hidden)


class Workshop:
    """One lab, and what is seen of it with every single slip."""

    def __init__(self, scenario: Scenario, rules: RepairRules) -> None:
        self.scenario = scenario
        self.rules = rules
        self.key: Answers = derive_key(scenario)
        self.looks = to_observe(scenario, tables=rules.has_tables, counters=rules.has_counters)
        self.slips = all_slips(scenario, self.key)
        self.healthy = self.view(())
        self.bench = Bench(scenario, self.key)

    def view(self, slips: Slips) -> View:
        """What is seen of the key's network with these slips in it."""
        return observe(self.scenario, build(self.scenario, with_slips(self.key, slips)).network, self.looks)

    @cached_property
    def single_views(self) -> Mapping[Slip, View]:
        return {slip: self.view((slip,)) for slip in self.slips}

    @cached_property
    def _failing(self) -> Mapping[Slip, frozenset[Seen]]:
        return {slip: failing(view) for slip, view in self.single_views.items()}

    @cached_property
    def _changed(self) -> Mapping[Slip, frozenset[Seen]]:
        return {slip: _changed(view, self.healthy) for slip, view in self.single_views.items()}

    # --- Faults ---

    def cases(self, rng: random.Random) -> Iterator[Case]:
        """Faults that can be asked for, in random order; of a common slip no more often than of a rare one."""
        visible = [slip for slip in self.slips if self._failing[slip]]
        for faults in _in_random_order(visible, self.rules.faults, rng):
            case = self.case(faults)
            if case is not None:
                yield case

    def case(self, faults: Slips) -> Case | None:
        """The faults as something to ask for; None where what is seen of them does not lead to their rows."""
        if self.rules.hides_second:
            return self._hiding(faults)
        return self._single(faults[0]) if len(faults) == 1 else self._several(faults)

    def _single(self, fault: Slip) -> Case | None:
        view = self.single_views[fault]
        explanations: list[Slips] = [(slip,) for slip in self.slips]
        views: dict[Slips, View] = {(slip,): seen for slip, seen in self.single_views.items()}
        complaint = complaint_of(view)
        return None if complaint is None else _case((fault,), view, complaint, explanations, views)

    def _hiding(self, faults: Slips) -> Case | None:
        """Of the second nothing is seen beside the first; what is seen then leads to the first, and after its mending to the
        second.
        """
        first, second = faults
        hidden = self._changed[second]
        if (
            first.line == second.line
            or not hidden <= self._changed[first]
            or self.view(faults) != self.single_views[first]
        ):
            return None
        cases = self._single(first), self._single(second)
        if cases[0] is None or cases[1] is None:
            return None
        return replace(cases[0], faults=faults, hidden=cases[1].vector)

    def _several(self, faults: Slips) -> Case | None:
        """Every fault has a symptom of its own, and no smaller set of slips shows the same."""
        failing_of = [self._failing[slip] for slip in faults]
        for number, own in enumerate(failing_of):
            if not own - frozenset().union(*failing_of[:number], *failing_of[number + 1 :]):
                return None
        view = self.view(faults)
        complaint, fails = complaint_of(view), failing(view)
        if complaint is None or fails != frozenset().union(*failing_of):
            return None
        if any(seen == view for seen in self.single_views.values()):
            return None
        if len(faults) > 2 and any(self.view(pair) == view for pair in self._sets(2, fails, view)):
            return None
        passing = self._sets(len(faults), fails, view)
        if len(passing) > _MOST_SURVIVORS:
            return None
        rows = {each.line for each in faults}
        views: dict[Slips, View] = {}
        for each in passing:
            views[each] = self.view(each)
            if views[each] == view and {slip.line for slip in each} != rows:
                return None
        case = _case(faults, view, complaint, passing, views)
        if case is None:
            return None
        every = _ways_to_choose(Counter(slip.line for slip in self.slips), len(faults))
        others = Counter(slip.line for slip in self.slips if complaint not in self._failing[slip])
        after_complaint = every - _ways_to_choose(others, len(faults))
        return replace(case, explanations=every, vector=(after_complaint, *case.vector[1:]))

    def _sets(self, size: int, fails: frozenset[Seen], view: View) -> list[Slips]:
        """The sets of that size that may show what was seen: what fails with several slips is nearly always what fails with each.

        Of sets of three no slip is tried that alone changes nothing, or something that was seen as it should be.
        """
        slips: Sequence[Slip] = self.slips
        if self.rules.faults > 2:
            changed = _changed(view, self.healthy)
            slips = [slip for slip in slips if self._changed[slip] and self._changed[slip] <= changed]
        every = covers({slip: self._failing[slip] for slip in slips}, fails, size)
        return [each for each in every if len({slip.line for slip in each}) == size]

    def of_kinds(self, kinds: Sequence[SlipKind], rng: random.Random) -> Iterator[Slips]:
        """Slips of these kinds, each of another line, in random order."""
        fitting = [[slip for slip in self.slips if slip.kind == kind] for kind in kinds]
        fitting = [rng.sample(each, len(each)) for each in fitting]
        for faults in product(*fitting):
            if len({each.line for each in faults}) == len(faults):
                yield faults


def _in_random_order(slips: Sequence[Slip], many: int, rng: random.Random) -> Iterator[Slips]:
    """One of each kind, in random order; of several all of different sections."""
    by_kind: dict[SlipKind, list[Slip]] = {}
    for slip in slips:
        by_kind.setdefault(slip.kind, []).append(slip)
    kinds = list(by_kind)
    if many == 1:
        for kind in rng.sample(kinds, len(kinds)):
            yield (rng.choice(by_kind[kind]),)
        return
    for _ in range(_MOST_SETS[many]):
        faults = tuple(rng.choice(by_kind[kind]) for kind in rng.sample(kinds, many))
        if len({each.line[0] for each in faults}) == many:
            yield faults


def _ways_to_choose(lines: Mapping[Any, int], many: int) -> int:
    """In how many ways so many slips can be chosen, each of another line; lines: how many slips each has.

    >>> _ways_to_choose({"A": 2, "B": 1, "C": 3}, 2)
    11
    """
    ways = [1, *[0] * many]
    for slips in lines.values():
        for size in range(many, 0, -1):
            ways[size] += ways[size - 1] * slips
    return ways[many]


def _changed(view: View, healthy: View) -> frozenset[Seen]:
    return frozenset(look for look in view if view[look] != healthy[look])


def _case(
    faults: Slips, view: View, complaint: Seen, explanations: Sequence[Slips], views: Mapping[Slips, View]
) -> Case | None:
    """None where more than the rows of the faults are left, or too little to begin with."""
    left = [each for each in explanations if complains(views[each], complaint)]
    after_complaint, vector = left, [len(left)]
    for sort in SymptomSort:
        looks = [look for look in view if look.sort is sort]
        if looks:
            left = [each for each in left if all(views[each][look] == view[look] for look in looks)]
            vector.append(len(left))
    rows = {each.line for each in faults}
    if vector[0] < _LEAST_AFTER_COMPLAINT or any({each.line for each in slips} != rows for slips in left):
        return None
    return Case(
        faults=faults,
        view=view,
        complaint=complaint,
        explanations=len(explanations),
        vector=tuple(vector),
        after_complaint=after_complaint,
        views=views,
    )
