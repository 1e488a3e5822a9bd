"""Drawing a fault-finding lab: which settings are wrong, so that what is seen leads to one row and no further.

The class draw says which slips are made, by sort and role, and how many explanations are left after each sort of symptom.
Every trainee's lab is drawn until it has the same numbers, so that all are equally hard.
"""

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

from trainer.errors import TrainerError
from trainer.lab.build import build
from trainer.lab.draw import ClassDraw, draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.questions import repair_shares
from trainer.lab.repair.found import edit_of, with_slips
from trainer.lab.repair.observing import Seen, View, complains, complaint_of, failing, observe, to_observe
from trainer.lab.repair.reasoning import shortest_way
from trainer.lab.repair.sheet import (
    PrintedTest,
    Repair,
    RepairDraw,
    RepairRules,
    SlipKind,
    Symptom,
    SymptomSort,
    WayStep,
)
from trainer.lab.repair.slips import Slip, all_slips
from trainer.lab.repair.trying import Bench, Tryout
from trainer.lab.scenario import Scenario, Trainee

__all__ = ["NoFaultFound", "Workshop", "draw_class", "draw_lab"]

_MOST_DRAWS = 40
"""So many labs are drawn for a trainee until one is as hard as the others' labs."""
_MOST_LOOKED_AT = 8
"""So many labs are drawn for the class to see that its faults can be had as hard in another one."""
_MOST_SAMPLES = 6
"""So many labs are drawn for the class until one has a fault that can be asked for."""
_MOST_PAIRS = 60
"""So many pairs of slips are tried in one lab."""
_MOST_SURVIVORS = 400
"""Where what fails leaves more pairs than that, the pair is not asked for."""
_LEAST_AFTER_COMPLAINT = 8
_TESTS, _MOST_SEPARATING = 8, 4
_LEAST_SEPARATING = 2

Slips = tuple[Slip, ...]
"""One explanation: a slip, or two."""


class NoFaultFound(TrainerError):
    """No lab of the exercise has faults such as the settings ask for; the text says what to change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Faults that can be asked for in a lab: what is seen of them leads to one row each."""

    faults: Slips
    view: View
    complaint: Seen
    explanations: int
    vector: tuple[int, ...]
    after_complaint: Sequence[Slips]
    """Those that are left after the complaint, as far as they were looked at one by one."""
    views: Mapping[Slips, View]


def draw_class(exercise: Exercise, rng: random.Random) -> ClassDraw:
    """What a sitting has in common (draw.draw_for_class), with what its faults have in common where it is about faults.

    Raises NoFaultFound.
    """
    common = draw_for_class(exercise, rng)
    rules = exercise.repair_rules
    if rules is None:
        return common
    for _ in range(_MOST_SAMPLES):
        scenario = draw_scenario(exercise, common, Trainee(id="class"), "AAA-AAAA", 0, rng)
        workshop = Workshop(scenario, rules)
        for case in workshop.cases(rng):
            decoys = workshop.decoys(case.faults, None, rng)
            separating = workshop.bench.separating(case.faults, workshop.looks)
            if decoys is not None and separating >= _LEAST_SEPARATING:
                wanted = RepairDraw(
                    rules=rules,
                    faults=tuple(each.kind for each in case.faults),
                    decoys=tuple(each.kind for each in decoys),
                    separating=min(separating, _MOST_SEPARATING),
                    vector=case.vector,
                )
                if _can_be_had_again(exercise, common, wanted, rng):
                    return replace(common, repair=wanted)
    raise NoFaultFound(_TO_LOOSEN.format(rules.faults, rules.decoys, "with" if rules.has_counters else "without"))


def _can_be_had_again(exercise: Exercise, common: ClassDraw, wanted: RepairDraw, rng: random.Random) -> bool:
    """Whether another lab has these faults as hard: a class would wait for its labs in vain where only one has."""
    for _ in range(_MOST_LOOKED_AT):
        scenario = draw_scenario(exercise, common, Trainee(id="class"), "AAA-AAAA", 0, rng)
        if Workshop(scenario, wanted.rules).repair(wanted, rng) is not None:
            return True
    return False


_TO_LOOSEN = (
    "No lab of this exercise can be drawn with {} faults, {} decoys and {} counters so that what is seen leads to one row. "
    "Take a lower Level, ask for Device counters, or for fewer Faults or Decoys; or add a network with stations, or a switch."
)


def draw_lab(
    exercise: Exercise, common: ClassDraw, trainee: Trainee, number: str, slot: int, rng: random.Random
) -> Scenario:
    """One trainee's lab (draw.draw_scenario), with its faults where the sitting is about faults.

    Raises NoFaultFound where none of the labs that were drawn is as hard as the class's.
    """
    scenario = draw_scenario(exercise, common, trainee, number, slot, rng)
    if common.repair is None:
        return scenario
    for _ in range(_MOST_DRAWS):
        repair = Workshop(scenario, common.repair.rules).repair(common.repair, rng)
        if repair is not None:
            return replace(scenario, repair=repair, sections=repair_shares())
        scenario = draw_scenario(exercise, common, trainee, number, slot, rng)
    raise NoFaultFound(
        f"{_MOST_DRAWS} labs were drawn for {trainee.id}, and none was as hard as the class's. Set the exercise with "
        "another Code, which draws other faults."
    )


class Workshop:
    """One lab, and what is seen of it with every single slip."""

    def __init__(self, scenario: Scenario, rules: RepairRules) -> None:
        self.scenario = scenario
        self.rules = rules
        self.key: Answers = derive_key(scenario)
        self.looks = to_observe(scenario, counters=rules.has_counters)
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
        return self._single(faults[0]) if len(faults) == 1 else self._pair(faults)

    def _single(self, fault: Slip) -> Case | None:
        view = self.single_views[fault]
        explanations: list[Slips] = [(slip,) for slip in self.slips]
        views: dict[Slips, View] = {(slip,): seen for slip, seen in self.single_views.items()}
        complaint = complaint_of(view)
        return None if complaint is None else _case((fault,), view, complaint, explanations, views)

    def _pair(self, faults: Slips) -> Case | None:
        """Every fault has a symptom of its own, and no single slip shows the same."""
        one_fails, other_fails = (self._failing[each] for each in faults)
        if not (one_fails - other_fails and other_fails - one_fails):
            return None
        view = self.view(faults)
        complaint, fails = complaint_of(view), failing(view)
        if complaint is None or fails != one_fails | other_fails:
            return None
        if any(seen == view for seen in self.single_views.values()):
            return None
        pairs = [pair for pair in combinations(self.slips, 2) if pair[0].line != pair[1].line]
        passing = [pair for pair in pairs if self._failing[pair[0]] | self._failing[pair[1]] == fails]
        if len(passing) > _MOST_SURVIVORS:
            return None
        after_complaint = sum(complaint in self._failing[one] | self._failing[other] for one, other in pairs)
        rows = {each.line for each in faults}
        views: dict[Slips, View] = {}
        for pair in passing:
            views[pair] = self.view(pair)
            if views[pair] == view and {each.line for each in pair} != rows:
                return None
        case = _case(faults, view, complaint, passing, views)
        if case is None:
            return None
        return replace(case, explanations=len(pairs), vector=(after_complaint, *case.vector[1:]))

    # --- Decoys ---

    def decoys(self, faults: Slips, kinds: Sequence[SlipKind] | None, rng: random.Random) -> Slips | None:
        """Slips in other rows that change nothing that is seen, and no trial, neither beside the faults nor once these are
        mended; None where there are not enough. kinds: which they have to be, in order; None where they may be any.
        """
        idle = [slip for slip, view in self.single_views.items() if view == self.healthy]
        idle = rng.sample(idle, len(idle))
        found: list[Slip] = []
        taken = {each.line for each in faults}
        seen = self.view(faults)
        for place in range(self.rules.decoys):
            for slip in idle:
                if slip.line in taken or (kinds is not None and slip.kind != kinds[place]):
                    continue
                decoys = (*found, slip)
                if self.view((*faults, *decoys)) == seen and self.bench.changes_nothing(faults, decoys):
                    found.append(slip)
                    taken.add(slip.line)
                    break
            else:
                return None
        return tuple(found)

    # --- The lab ---

    def repair(self, draw: RepairDraw, rng: random.Random) -> Repair | None:
        """The lab's faults, as the class draw wants them; None where it has none such."""
        for faults in self._of_kinds(draw.faults, rng):
            case = self.case(faults)
            if case is None or case.vector != draw.vector:
                continue
            decoys = self.decoys(faults, draw.decoys, rng)
            tests = (
                None if decoys is None else self.bench.tests(faults, decoys, draw.separating, _TESTS, self.looks, rng)
            )
            if decoys is not None and tests is not None:
                return self._repair(case, decoys, tests)
        return None

    def _of_kinds(self, kinds: Sequence[SlipKind], rng: random.Random) -> Iterator[Slips]:
        fitting = [[slip for slip in self.slips if slip.kind == kind] for kind in kinds]
        fitting = [rng.sample(each, len(each)) for each in fitting]
        if len(fitting) == 1:
            yield from ((slip,) for slip in fitting[0])
        else:
            yield from ((one, other) for one in fitting[0] for other in fitting[1] if one.line != other.line)

    def _repair(self, case: Case, decoys: Slips, tests: Sequence[Tryout]) -> Repair:
        found = with_slips(self.key, (*case.faults, *decoys))
        looks = self.looks
        ids = {look: f"S{number}" for number, look in enumerate(looks, 2)}
        symptoms = [
            Symptom(
                id="S1",
                sort=SymptomSort.COMPLAINT,
                source=case.complaint.source,
                target=case.complaint.target,
                tried="what a user says",
                seen=_in_users_words(case.complaint),
                faults=self._belongs_to(case, case.complaint),
            )
        ]
        symptoms += [
            Symptom(
                id=ids[look],
                sort=look.sort,
                source=look.source,
                target=look.target,
                tried=look.tried,
                seen=case.view[look],
                faults=self._belongs_to(case, look),
            )
            for look in looks
        ]
        way = shortest_way(
            case.after_complaint, looks, lambda each, look: case.views[each][look], lambda look: case.view[look]
        )
        return Repair(
            faults=tuple(edit_of(self.scenario, self.key, found, each) for each in case.faults),
            decoys=tuple(edit_of(self.scenario, self.key, found, each) for each in decoys),
            symptoms=tuple(symptoms),
            tests=tuple(
                PrintedTest(
                    id=f"T{number}",
                    what=each.words,
                    kind=each.trial.kind.name,
                    source=each.trial.source,
                    target=each.trial.target,
                    found=each.found,
                    mended=each.mended,
                )
                for number, each in enumerate(tests, 1)
            ),
            explanations=case.explanations,
            vector=case.vector,
            way=(
                WayStep(symptom="S1", left=case.vector[0]),
                *([WayStep(symptom="", left=len(case.after_complaint))] if len(case.faults) > 1 else []),
                *(WayStep(symptom=ids[look], left=len(left)) for look, left in way),
            ),
        )

    def _belongs_to(self, case: Case, look: Seen) -> tuple[int, ...]:
        """The faults whose mending, alone or as the last, brings back what is seen there."""
        if case.view[look] == self.healthy[look]:
            return ()
        if len(case.faults) == 1:
            return (1,)
        belongs = []
        for number, fault in enumerate(case.faults, 1):
            others = tuple(each for each in case.faults if each is not fault)
            brings_back_alone = self.single_views[others[0]][look] == self.healthy[look]
            brings_back_last = self.single_views[fault][look] != self.healthy[look]
            if brings_back_alone or brings_back_last:
                belongs.append(number)
        return tuple(belongs)


def _in_random_order(slips: Sequence[Slip], many: int, rng: random.Random) -> Iterator[Slips]:
    """One of each kind, in random order; pairs of slips of different sections."""
    by_kind: dict[SlipKind, list[Slip]] = {}
    for slip in slips:
        by_kind.setdefault(slip.kind, []).append(slip)
    kinds = list(by_kind)
    if many == 1:
        for kind in rng.sample(kinds, len(kinds)):
            yield (rng.choice(by_kind[kind]),)
        return
    for _ in range(_MOST_PAIRS):
        one, other = (rng.choice(by_kind[kind]) for kind in rng.sample(kinds, 2))
        if one.line[0] != other.line[0]:
            yield one, other


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


# --- What is wrong ----------------------------------------------------------------------------------------------------


def _in_users_words(look: Seen) -> str:
    if look.sort is SymptomSort.LEASE:
        return f'"{look.source} gets no address."'
    if look.sort is SymptomSort.PING:
        return f'"{look.target} and {look.source} do not reach each other."'
    return f'"The check of switch {look.source} was not passed: something got through."'
