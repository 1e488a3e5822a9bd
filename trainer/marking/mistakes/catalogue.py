"""All mistakes of all topics. Here is decided which of them is said of a cell that is not right: the first, by priority over
all topics, whose predicate fits (`explain`).

What each looks like and its words are left to the files of the topics, what is said where none fits to neutral.py, what
comes of cells by which no device is set to predicted.py, what is said of what follows or does its job and earns half to
half_right.py. Texts hold no numbers and no right values, so that none can give an answer away; filled in is what the trainee
wrote, and in which cell an error stands from which it follows.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from trainer.marking.dependencies import named
from trainer.marking.explanation import Explanation
from trainer.marking.mistakes.addressing import ADDRESSING
from trainer.marking.mistakes.bindings import BINDING_MISTAKES
from trainer.marking.mistakes.choices import CHOICES
from trainer.marking.mistakes.following import FOLLOWING
from trainer.marking.mistakes.links import LINK_MISTAKES
from trainer.marking.mistakes.masks import MASKS
from trainer.marking.mistakes.mistake import Charged, Flaw, Mistake, WrongCell
from trainer.marking.mistakes.neutral import neutral
from trainer.marking.mistakes.pool_options import OPTION_MISTAKES
from trainer.marking.mistakes.pools import POOL_MISTAKES
from trainer.marking.mistakes.ports import PORT_MISTAKES
from trainer.marking.mistakes.predicted import where_no_device_is_set
from trainer.marking.mistakes.protection import PROTECTION_MISTAKES
from trainer.marking.mistakes.relays import RELAY_MISTAKES
from trainer.marking.mistakes.routes import ROUTE_MISTAKES
from trainer.marking.mistakes.stations import STATION_MISTAKES
from trainer.marking.mistakes.writing import WRITING

__all__ = ["BY_QUESTION", "MISTAKES", "credit_of", "explain", "how_charged", "source_of"]

MISTAKES: tuple[Mistake, ...] = (
    *FOLLOWING,
    *CHOICES,
    *WRITING,
    *MASKS,
    *ADDRESSING,
    *LINK_MISTAKES,
    *PORT_MISTAKES,
    *STATION_MISTAKES,
    *ROUTE_MISTAKES,
    *POOL_MISTAKES,
    *OPTION_MISTAKES,
    *RELAY_MISTAKES,
    *PROTECTION_MISTAKES,
    *BINDING_MISTAKES,
)

_MOST_SHOWN = 40
"""Characters of a cell that are repeated in an explanation."""


def _by_question(mistakes: Iterable[Mistake]) -> Mapping[str, tuple[Mistake, ...]]:
    """Mistakes in the order in which they are asked: by priority, then by place (sorting keeps equal ones in order)."""
    found: dict[str, list[Mistake]] = defaultdict(list)
    for mistake in sorted(mistakes, key=lambda each: each.priority):
        for question in mistake.questions:
            found[question].append(mistake)
    return {question: tuple(mistakes) for question, mistakes in found.items()}


BY_QUESTION = _by_question(MISTAKES)
"""The mistakes that can be made in a question's cells, in the order in which they are asked; by the question's id."""
_CHOICES_BY_QUESTION = _by_question(CHOICES)


def explain(cell: WrongCell) -> Explanation:
    """What is said about a cell that is not right: the fitting mistake of lowest priority, or an honest neutral text.

    Where something else stands in the cell than was meant, no mistake can be made out in it.
    """
    if cell.flaw is Flaw.UNREADABLE and isinstance(cell.unreadable, str):
        return neutral(cell)
    for mistake in _asked_about(cell):
        if mistake.fits(cell):
            return Explanation(
                mistake=mistake.id,
                explanation=_filled_in(mistake.explanation, cell),
                consequence=where_no_device_is_set(cell) or mistake.consequence,
                hint=mistake.hint,
                first_errors=tuple(named(cell.scenario, [root]) for root in cell.first_errors),
            )
    return neutral(cell)


def _asked_about(cell: WrongCell) -> Iterator[Mistake]:
    """The mistakes that can have been made in a cell, in the order in which they are asked.

    Here stands the promise that all predicates rest on, so that none looks for itself: they are asked about cells of
    their questions and flaws alone, and a readable value that they are asked about is not the right one. A free choice
    that breaks a rule of the Brief can be what the key chose; then only the mistakes in choices are asked, which compare
    it with the rule.
    """
    is_keys_own = cell.flaw is Flaw.WRONG and bool(cell.value == cell.expected)
    asked = _CHOICES_BY_QUESTION if is_keys_own else BY_QUESTION
    return (mistake for mistake in asked.get(cell.question.id, ()) if cell.flaw in mistake.flaws)


def source_of(mistake: str) -> str:
    """Standard and section behind what was said, or "" where it is common practice or no mistake of the catalogue."""
    return _SOURCES.get(mistake, "")


_SOURCES = {each.id: each.source for each in MISTAKES if not each.source.startswith("common practice")}


def credit_of(mistake: str) -> Fraction:
    """What a cell earns in which that mistake is made: 0 or a half."""
    return _CREDITS.get(mistake, Fraction(0))


_CREDITS = {each.id: each.credit for each in MISTAKES if each.credit}


def how_charged(mistake: str) -> Charged:
    """How often a mistake is charged on a sheet; what is none of the catalogue each time."""
    return _CHARGED.get(mistake, Charged.EACH_TIME)


_CHARGED = {each.id: each.charged for each in MISTAKES}


def _filled_in(text: str, cell: WrongCell) -> str:
    text = text.replace("{root}", named(cell.scenario, cell.first_errors) or "the first cell that is not right")
    return text.replace("{given}", _shortened(cell.text))


def _shortened(text: str) -> str:
    return text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 1] + "…"
