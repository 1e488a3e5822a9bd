"""All kinds of short questions, by concept, and one of them drawn."""

import random
from collections.abc import Mapping

from trainer.lab.concepts import Concept
from trainer.lab.questions import QUESTIONS, SECTIONS, subnets
from trainer.study.cell_question import cell_question
from trainer.study.happens import HAPPENS, happens_question
from trainer.study.prompts import CELL_ASKS
from trainer.study.question import ShortQuestion
from trainer.study.quick_lab import quick_lab

__all__ = ["KINDS", "called_kind", "concept_of", "drawn"]

_DRAWS = 50
"""Labs that are drawn at most for one question; a lab in which nothing can be asked is rare."""


def concept_of(ask: str) -> Concept | None:
    """The concept of any question by what stands in a log, asked alone or on a sheet; None where none is called so."""
    if ask in HAPPENS:
        return HAPPENS[ask].concept
    concept = QUESTIONS[ask].concept if ask in QUESTIONS else None
    return concept if isinstance(concept, Concept) else None


def _kinds() -> Mapping[Concept, tuple[str, ...]]:
    asks = (*CELL_ASKS, *HAPPENS)
    return {concept: tuple(ask for ask in asks if concept_of(ask) is concept) for concept in Concept}


KINDS = _kinds()
"""What is asked alone of each concept; at least one kind of question."""


def called_kind(ask: str) -> str:
    """What a kind is called in a line: "Size, Prefix length"; "Relay, what happens"."""
    concept = concept_of(ask)
    assert concept is not None, "a kind belongs to a concept"
    if ask not in QUESTIONS:
        return f"{concept.title}, what happens"
    heading = QUESTIONS[ask].heading
    alike = [each for each in KINDS[concept] if each in QUESTIONS and QUESTIONS[each].heading == heading]
    of_what = f" of a {SECTIONS[ask.partition('.')[0]].about.value}" if len(alike) > 1 else ""
    return f"{heading}{of_what}" if heading == concept.title else f"{concept.title}, {heading}{of_what}"


def drawn(ask: str, rng: random.Random, *, in_another_setting: bool = False) -> ShortQuestion:
    """A question of that kind with fresh numbers."""
    for _ in range(_DRAWS):
        lab = quick_lab(rng, in_another_setting=in_another_setting, in_any_order=ask == subnets.NETWORK_ADDRESS.id)
        try:
            return happens_question(ask, lab, rng) if ask in HAPPENS else cell_question(ask, lab, rng)
        except LookupError:
            continue
    raise AssertionError(f"{ask} could not be asked of {_DRAWS} labs")
