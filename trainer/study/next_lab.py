"""Which short lab comes next, and when.

A concept is met in short questions. Once a day of them went right, a lab with its sheet is next, and another one after a week
at the earliest (common practice, no source). Of the exercises that ask the sheet the one is taken with which the learner has a
chance nearest .80 of being right: learning by gradients is quickest with some 16 % of errors (Wilson and others 2019, on tasks
with two choices), which is a sensible default here and no law.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from statistics import mean

from trainer.lab.concepts import Concept
from trainer.lab.form import section_of
from trainer.lab.questions import QUESTIONS
from trainer.study.asks import KINDS
from trainer.study.replay import Study
from trainer.study.support import chance, difficulty, level

__all__ = ["EXERCISES_BY_SHEET", "STEPS_OF", "ShortLab", "is_time_for_a_lab", "lab_about", "whole_lab"]

_DAYS_BETWEEN = 7
_BEST_CHANCE = 0.80
STEPS_OF: Mapping[str, int] = {
    "addressing": -1,
    "links-and-routes": -1,
    "two-switches": 0,
    "relays-and-pools": 1,
    "star-of-four": 1,
    "tree-of-five": 2,
    "free-plan": 2,
}
"""By the name of a ready-made exercise how much harder it is than the standard one, in steps of half a logit: fewer networks, or
fewer things to look at; then a range a switch, more switches; then links of two addresses and another gateway.
"""
_WHOLE = ("two-switches", "star-of-four", "tree-of-five", "free-plan")
_FULL_LABS = _WHOLE[:-1]
EXERCISES_BY_SHEET: Mapping[str, tuple[str, ...]] = {
    "subnets": ("addressing", *_FULL_LABS),
    "links": ("addressing", *_FULL_LABS),
    "stations": ("addressing", *_FULL_LABS),
    "ports": ("links-and-routes", *_FULL_LABS),
    "routes": ("links-and-routes", *_FULL_LABS),
    "pools": ("two-switches", "relays-and-pools"),
    "relays": ("two-switches", "relays-and-pools"),
    "protection": _FULL_LABS,
    "bindings": ("two-switches", "relays-and-pools"),
}
"""By section the ready-made exercises that ask it, from easy to hard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortLab:
    """A lab to fill in."""

    exercise: str
    """The name of a ready-made one."""
    sheets: tuple[str, ...]
    """Ids of the sections that are asked alone; () for all of them."""


def is_time_for_a_lab(concept: Concept, study: Study, day: date) -> bool:
    """Whether the concept goes on with a lab: after a right day of short questions, a week after the last lab of it at least.

    Never for Size: where a network lies belongs to every row of its sheet, so that the lab of Place asks it, too.
    """
    state = study.concepts[concept]
    return concept is not Concept.SIZE and state.row > 0 and _is_long_ago(state.last_lab, day)


def _is_long_ago(last: date | None, day: date) -> bool:
    return last is None or (day - last).days >= _DAYS_BETWEEN


def lab_about(concept: Concept, study: Study) -> ShortLab:
    """The short lab with the sheet on which the concept is tried: where a question stands that is asked alone as well."""
    sheet = next(section_of(ask) for ask in KINDS[concept] if ask in QUESTIONS)
    return ShortLab(exercise=_fitting(EXERCISES_BY_SHEET[sheet], study.concepts[concept].theta), sheets=(sheet,))


def whole_lab(study: Study, day: date) -> ShortLab | None:
    """A lab with all sheets, for whom every concept is secure; None where the last one is not a week ago."""
    last = max((state.last_lab for state in study.concepts.values() if state.last_lab is not None), default=None)
    if not _is_long_ago(last, day):
        return None
    return ShortLab(exercise=_fitting(_WHOLE, mean(state.theta for state in study.concepts.values())), sheets=())


def _fitting(exercises: tuple[str, ...], theta: float) -> str:
    """The exercise with the chance nearest the best one; of two as near the easier."""
    support = level(theta)

    def distance(exercise: str) -> float:
        return abs(chance(theta, float(difficulty(support, STEPS_OF[exercise]))) - _BEST_CHANCE)

    return min(exercises, key=distance)
