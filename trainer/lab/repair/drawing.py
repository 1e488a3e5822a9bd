"""Drawing the faults of a lab: which settings are wrong, so that what is seen leads to one row and no further.

The class draw says which slips are made, by sort and role, and how many explanations are left after each sort of symptom.
Every trainee's lab is drawn until it has the same numbers, so that all are equally hard.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from trainer.errors import TrainerError
from trainer.lab.draw_network import ClassDraw, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.questions import repair_shares
from trainer.lab.repair.cases import Case, Slips, Workshop
from trainer.lab.repair.found import edit_of, first_line_of, with_slips
from trainer.lab.repair.observing import ANSWERED, Seen
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
from trainer.lab.repair.slips import Slip, is_right_too
from trainer.lab.repair.trying import Tryout
from trainer.lab.scenario import Scenario, Trainee

__all__ = ["NONE_IN", "NoFaultFound", "Repairer", "faults_in_common", "in_users_words", "with_faults"]

_MOST_DRAWS = 120
"""So many labs are drawn for a trainee until one is as hard as the others' labs."""
_MOST_LOOKED_AT, _OFTEN = 8, 2
"""So many labs are drawn for the class to see how often its faults can be had as hard in another one, and so often is enough."""
_MOST_FOUND = 3
"""After so many faults that can be had at all those are taken that can be had most often."""
_MOST_SAMPLES = 6
"""So many labs are drawn for the class until one has a fault that can be asked for."""
NONE_IN = 8
"""One lab in so many has no fault, where some may have none."""
_TESTS, _MOST_SEPARATING = 8, 4
_LEAST_SEPARATING = 2


class NoFaultFound(TrainerError):
    """No lab of the exercise has faults such as the settings ask for; the text says what to change."""


def faults_in_common(exercise: Exercise, common: ClassDraw, rules: RepairRules, rng: random.Random) -> RepairDraw:
    """What the faults of all labs of a sitting have in common.

    Raises NoFaultFound.
    """
    best: tuple[int, RepairDraw] | None = None
    for number, wanted in enumerate(_that_can_be_wanted(exercise, common, rules, rng), 1):
        often = _had_again(exercise, common, wanted, rng)
        if often and (best is None or often > best[0]):
            best = often, wanted
        if best is not None and (best[0] >= _OFTEN or number >= _MOST_FOUND):
            break
    if best is None:
        raise NoFaultFound(_TO_LOOSEN.format(rules.faults, rules.decoys, "with" if rules.has_counters else "without"))
    return best[1]


def _that_can_be_wanted(
    exercise: Exercise, common: ClassDraw, rules: RepairRules, rng: random.Random
) -> Iterator[RepairDraw]:
    """Faults that one lab has, as something that all labs of the class may have."""
    for _ in range(_MOST_SAMPLES):
        scenario = draw_scenario(exercise, common, Trainee(id="class"), "AAA-AAAA", 0, rng)
        workshop = Workshop(scenario, rules)
        for case in workshop.cases(rng):
            decoys = Repairer(workshop).decoys(case.faults, None, rng)
            separating = workshop.bench.separating(case.faults, workshop.looks)
            if decoys is not None and separating >= _LEAST_SEPARATING:
                yield RepairDraw(
                    rules=rules,
                    faults=tuple(each.kind for each in case.faults),
                    decoys=tuple(each.kind for each in decoys),
                    separating=min(separating, _MOST_SEPARATING),
                    vector=case.hardness,
                )


def _had_again(exercise: Exercise, common: ClassDraw, wanted: RepairDraw, rng: random.Random) -> int:
    """How many of some other labs have these faults as hard, as far as it matters: a class would wait for its labs in vain where
    hardly one has.
    """
    often = 0
    for left in range(_MOST_LOOKED_AT, 0, -1):
        if often >= _OFTEN or (not often and left < _OFTEN):
            break
        scenario = draw_scenario(exercise, common, Trainee(id="class"), "AAA-AAAA", 0, rng)
        often += Repairer(Workshop(scenario, wanted.rules)).repair(wanted, rng) is not None
    return often


_TO_LOOSEN = (
    "No lab of this exercise can be drawn with {} faults, {} decoys and {} counters so that what is seen leads to one row. "
    "Take a lower Level, ask for Device counters, or for fewer Faults or Decoys; or add a network with stations, or a switch."
)


def with_faults(draw: Callable[[], Scenario], wanted: RepairDraw, rng: random.Random) -> Scenario:
    """One trainee's lab with its faults. draw: draws a network for it, another one each time.

    Raises NoFaultFound where none of the labs that were drawn is as hard as the class's.
    """
    scenario, rules = draw(), wanted.rules
    has_none = rules.may_have_none and rng.randrange(NONE_IN) == 0
    for _ in range(_MOST_DRAWS):
        repairer = Repairer(Workshop(scenario, rules))
        repair = repairer.nothing_wrong(wanted, rng) if has_none else repairer.repair(wanted, rng)
        if repair is not None:
            return replace(scenario, repair=repair, sections=repair_shares())
        scenario = draw()
    raise NoFaultFound(
        f"{_MOST_DRAWS} labs were drawn for {scenario.trainee.id}, and none was as hard as the class's. Set the exercise with "
        "another Code, which draws other faults."
    )


class Repairer:
    """Makes of a workshop's faults what is kept with its lab."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self.scenario, self.rules, self.key = workshop.scenario, workshop.rules, workshop.key

    # --- Decoys ---

    def decoys(self, faults: Slips, kinds: Sequence[SlipKind] | None, rng: random.Random) -> Slips | None:
        """Slips in other rows that change nothing that is seen, and no trial, neither beside the faults nor once these are
        mended, all or some, and that are wrong all the same; None where there are not enough. kinds: which they have to be, in
        order; None where they may be any.
        """
        idle = [
            slip
            for slip, view in self.workshop.single_views.items()
            if view == self.workshop.healthy and (kinds is not None or not is_right_too(self.scenario, slip))
        ]
        idle = rng.sample(idle, len(idle))
        found: list[Slip] = []
        taken = {each.line for each in faults}
        beside = [left for size in range(1, len(faults) + 1) for left in combinations(faults, size)] or [()]
        seen = {left: self.workshop.view(left) for left in beside}
        for place in range(self.rules.decoys):
            for slip in idle:
                if slip.line in taken or (kinds is not None and slip.kind != kinds[place]):
                    continue
                decoys = (*found, slip)
                is_unseen = all(self.workshop.view((*left, *decoys)) == view for left, view in seen.items())
                if is_unseen and self.workshop.bench.changes_nothing(faults, decoys):
                    found.append(slip)
                    taken.add(slip.line)
                    break
            else:
                return None
        return tuple(found)

    # --- The lab ---

    def repair(self, draw: RepairDraw, rng: random.Random) -> Repair | None:
        """The lab's faults, as the class draw wants them; None where it has none such."""
        for faults in self.workshop.of_kinds(draw.faults, rng):
            case = self.workshop.case(faults)
            if case is None or case.hardness != draw.vector:
                continue
            decoys = self.decoys(faults, draw.decoys, rng)
            tests = None if decoys is None else self._tests(faults, decoys, draw.separating, rng)
            if decoys is not None and tests is not None and (_shows_each(faults, tests) or not self.rules.has_tables):
                return self._repair(case, decoys, tests)
        return None

    def nothing_wrong(self, draw: RepairDraw, rng: random.Random) -> Repair | None:
        """A lab without a fault: what a user complains about is as it should be. None where its deviations cannot be had."""
        decoys = self.decoys((), draw.decoys, rng)
        tests = None if decoys is None else self._tests((), decoys, 0, rng)
        if decoys is None or tests is None:
            return None
        complaint = rng.choice(
            [look for look in self.workshop.looks if look.sort in (SymptomSort.LEASE, SymptomSort.PING)]
        )
        return self._repair(
            Case(
                faults=(),
                view=self.workshop.healthy,
                complaint=complaint,
                explanations=len(self.workshop.slips),
                vector=(),
                after_complaint=(),
                views={},
            ),
            decoys,
            tests,
        )

    def _tests(self, faults: Slips, decoys: Slips, separating: int, rng: random.Random) -> tuple[Tryout, ...] | None:
        return self.workshop.bench.tests(faults, decoys, separating, _TESTS, self.workshop.looks, rng)

    def _repair(self, case: Case, decoys: Slips, tests: Sequence[Tryout]) -> Repair:
        found = with_slips(self.key, (*case.faults, *decoys))
        looks = self.workshop.looks
        ids = {look: f"S{number}" for number, look in enumerate(looks, 2)}
        symptoms = [
            Symptom(
                id="S1",
                sort=SymptomSort.COMPLAINT,
                source=case.complaint.source,
                target=case.complaint.target,
                tried="what a check says" if case.complaint.sort is SymptomSort.ATTACK else "what a user says",
                seen=in_users_words(case.complaint, case.view[case.complaint]),
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
        first_line = first_line_of(self.scenario.lab_number)
        return Repair(
            faults=tuple(edit_of(self.scenario, self.key, found, each, first_line) for each in case.faults),
            decoys=tuple(edit_of(self.scenario, self.key, found, each, first_line) for each in decoys),
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
                    shows=each.shows,
                )
                for number, each in enumerate(tests, 1)
            ),
            explanations=case.explanations,
            vector=case.vector,
            way=(
                *(WayStep(symptom="S1", left=left) for left in case.vector[:1]),
                *([WayStep(symptom="", left=len(case.after_complaint))] if self._is_sieved(case) else []),
                *(WayStep(symptom=ids[look], left=len(left)) for look, left in way),
            ),
            rules=self.rules,
            first_line=first_line,
        )

    def _is_sieved(self, case: Case) -> bool:
        """Whether only the sets that fail alike were looked at one by one."""
        return len(case.faults) > 1 and not self.rules.hides_second

    def _belongs_to(self, case: Case, look: Seen) -> tuple[int, ...]:
        """The faults whose mending, alone or as the last, brings back what is seen there."""
        if case.view[look] == self.workshop.healthy[look]:
            return ()
        belongs = []
        for number, fault in enumerate(case.faults, 1):
            others = tuple(each for each in case.faults if each is not fault)
            brings_back_alone = self.workshop.view(others)[look] == self.workshop.healthy[look]
            brings_back_last = self.workshop.single_views[fault][look] != self.workshop.healthy[look]
            if brings_back_alone or brings_back_last:
                belongs.append(number)
        return tuple(belongs)


def _shows_each(faults: Slips, tests: Sequence[Tryout]) -> bool:
    """Whether every fault has a test that shows it."""
    shown = {number for each in tests if each.is_telling for number in each.shows}
    return shown.issuperset(range(1, len(faults) + 1))


# --- What is wrong ----------------------------------------------------------------------------------------------------


def in_users_words(look: Seen, seen: str) -> str:
    """What somebody says of a thing that was seen so. A user tells of his own station, the second of two, unless only the first
    has no answer.
    """
    if look.sort is SymptomSort.LEASE:
        return f'"{look.source} gets no address."'
    if look.sort is SymptomSort.PING:
        own, other = look.target, look.source
        if seen.endswith(ANSWERED) and not seen.startswith(ANSWERED):
            own, other = other, own
        return f'"{own} gets no answer from {other}."'
    return f'"On switch {look.source} something gets through that has to be stopped."'
