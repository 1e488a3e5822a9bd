"""The catalogue of mistakes: what each looks like and what is said about it, one file a topic.

Texts hold no numbers and no right values, so that none can give an answer away; the only thing filled in is what the
trainee wrote.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from trainer.lab.kinds import BindingType
from trainer.lab.questions.bindings import BINDING_TYPE_OF, BINDINGS
from trainer.lab.questions.relays import RELAY_ADDRESS
from trainer.marking.mistakes.addressing import ADDRESSING
from trainer.marking.mistakes.bindings import BINDING_MISTAKES
from trainer.marking.mistakes.choices import CHOICES
from trainer.marking.mistakes.following import FOLLOWING
from trainer.marking.mistakes.links import LINK_MISTAKES
from trainer.marking.mistakes.masks import MASKS
from trainer.marking.mistakes.mistake import Explanation, Lapse, Mistake, WrongCell
from trainer.marking.mistakes.pools import POOL_MISTAKES
from trainer.marking.mistakes.ports import PORT_MISTAKES
from trainer.marking.mistakes.protection import PROTECTION_MISTAKES
from trainer.marking.mistakes.relays import RELAY_MISTAKES
from trainer.marking.mistakes.routes import ROUTE_MISTAKES
from trainer.marking.mistakes.stations import STATION_MISTAKES
from trainer.marking.mistakes.writing import WRITING

__all__ = ["BLANK", "MISTAKES", "NEUTRAL", "credit_of", "explain", "source_of"]

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
    *RELAY_MISTAKES,
    *PROTECTION_MISTAKES,
    *BINDING_MISTAKES,
)

BLANK = "blank"
"""What is said of an empty cell of which no mistake of the catalogue tells more."""
NEUTRAL = frozenset({"not-readable", "unclassified"})
"""What is said of cells in which no mistake of the catalogue was made out."""
_MOST_SHOWN = 40
"""Characters of a cell that are repeated in an explanation."""


def _by_question(mistakes: Iterable[Mistake]) -> Mapping[str, tuple[Mistake, ...]]:
    """Mistakes in the order in which they are asked: by priority, then by place (sorting keeps equal ones in order)."""
    found: dict[str, list[Mistake]] = defaultdict(list)
    for mistake in sorted(mistakes, key=lambda each: each.priority):
        for question in mistake.questions:
            found[question].append(mistake)
    return {question: tuple(mistakes) for question, mistakes in found.items()}


_BY_QUESTION = _by_question(MISTAKES)
_CHOICES_BY_QUESTION = _by_question(CHOICES)


def explain(cell: WrongCell, why_unreadable: str = "", *, is_spoilt: bool = False) -> Explanation:
    """What is said about a cell that is not right: the fitting mistake of lowest priority, or an honest neutral text.

    why_unreadable: a sentence that says why the text is no value of its kind. is_spoilt: what stands there is not what
    was meant, so that no mistake can be made out in it.
    """
    if is_spoilt and cell.lapse is Lapse.UNREADABLE:
        return _neutral(cell, why_unreadable)
    for mistake in _asked_about(cell):
        if mistake.fits(cell):
            return Explanation(
                mistake=mistake.id,
                explanation=mistake.explanation.replace("{given}", _shortened(cell.text)),
                consequence=_of_what_is_foretold(cell) or mistake.consequence,
                hint=mistake.hint,
            )
    return _neutral(cell, why_unreadable)


def _asked_about(cell: WrongCell) -> Iterator[Mistake]:
    """The mistakes that can have been made in a cell, in the order in which they are asked.

    Here stands the promise that all predicates rest on, so that none looks for itself: they are asked about cells of
    their questions and lapses alone, and a readable value that they are asked about is not the right one. A free choice
    that breaks a rule of the Brief can be what the key chose; then only the mistakes in choices are asked, which compare
    it with the rule.
    """
    is_keys_own = cell.lapse is Lapse.WRONG and bool(cell.value == cell.expected)
    asked = _CHOICES_BY_QUESTION if is_keys_own else _BY_QUESTION
    return (mistake for mistake in asked.get(cell.question.id, ()) if cell.lapse in mistake.lapses)


def source_of(mistake: str) -> str:
    """Standard and section behind what was said, or "" where it is common practice or no mistake of the catalogue."""
    return _SOURCES.get(mistake, "")


_SOURCES = {each.id: each.source for each in MISTAKES if not each.source.startswith("common practice")}


def credit_of(mistake: str) -> Fraction:
    """What a cell earns in which that mistake is made: 0 or a half."""
    return _CREDITS.get(mistake, Fraction(0))


_CREDITS = {each.id: each.credit for each in MISTAKES if each.credit}


def _of_what_is_foretold(cell: WrongCell) -> str:
    """The consequence of a cell that no device is given; "" where it is given to one."""
    if cell.lapse is Lapse.EXTRA:
        return ""
    if cell.question is RELAY_ADDRESS:
        return "The relay agent fills giaddr in by itself, so the server sees something else than you foretell."
    if cell.section.id == BINDINGS.id and cell.key_row is not None:
        learnt = cell.plan.key.value(BINDING_TYPE_OF, cell.key_row) is BindingType.DYNAMIC
        if learnt and cell.beside(BINDING_TYPE_OF) is not BindingType.STATIC:
            return "The switch learns this row by itself, so its table shows something else than you foretell."
    return ""


def _shortened(text: str) -> str:
    return text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 1] + "…"


def _neutral(cell: WrongCell, why_unreadable: str) -> Explanation:
    """Says what is the matter and invents no reason (feedback rule F10)."""
    if cell.lapse is Lapse.BLANK:
        return Explanation(
            mistake=BLANK,
            explanation="This cell is empty.",
            consequence="The step is missing, and so is what should follow from it.",
            hint="What do you know already of this value, even if you are not sure of all of it?",
        )
    if cell.lapse is Lapse.UNREADABLE:
        wanted = f"This cell wants {cell.question.kind.name}, and holds something else."
        return Explanation(
            mistake="not-readable",
            explanation=why_unreadable or wanted,
            consequence="A device would refuse what is written here.",
            hint="How is such a value written in the Brief?",
        )
    return Explanation(
        mistake="unclassified",
        explanation=f"This is not what follows from the Brief and from your other answers. Check {_checked_first(cell)} first.",
        consequence="What is set up or planned here does not match the rest of the lab.",
        hint="Which rule of the Brief decides this cell, and what does it rest on?",
    )


def _checked_first(cell: WrongCell) -> str:
    return f"the row and the heading {cell.question.heading}"
