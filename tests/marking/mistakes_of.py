"""What is right in a cell, what it can earn and what can be said of it: the mistakes of a question in the order in which they
are asked.

python tests/marking/mistakes_of.py pools.last
"""

import importlib
import pkgutil
import sys
from collections.abc import Callable, Iterator

from trainer.lab.questions import QUESTIONS
from trainer.marking import mistakes
from trainer.marking.mistakes.catalogue import BY_QUESTION
from trainer.marking.mistakes.mistake import Mistake

__all__ = ["lines"]

FILES = [
    importlib.import_module(f"{mistakes.__name__}.{each.name}")
    for each in pkgutil.iter_modules(mistakes.__path__)
    if each.name != "catalogue"
]


def lines(question: str) -> Iterator[str]:
    """First what is right and why, and what earns a part besides, then a line for each mistake: priority, what it leaves, the
    file that words it, id, of which cells, how often it is charged, and the predicate that tells it; last what is said else.
    """
    asked = QUESTIONS[question]
    yield f"right (Question.answer): {_called(asked.answer)}; why (reason): {_called(asked.reason)}; it {asked.role.value}"
    if asked.may_follow:
        yield "half (credit.LEADS_OUTSIDE): follows from an error which leads to what cannot be (R4)"
    if asked.worked_out_from is not None:
        yield "half (credit.EASIER): follows from an error which made it easier (R5)"
    if asked.kind.is_set:
        yield "a part for each member (credit.part_of_set, R9)"
    for each in BY_QUESTION[question]:
        earns = "half" if each.credit else "-"
        cells = ", ".join(sorted(flaw.value for flaw in each.flaws))
        about = f"{cells}; charged {each.charged.value}"
        yield f"{each.priority:3} {earns:4} {_file_of(each):12} {each.id} ({about}) if {_called(each.fits)}"
    yield "else neutral.neutral"


def _file_of(mistake: Mistake) -> str:
    """The file that declares it; `marking/mistakes/catalogue.py` only puts all of them together."""
    names = (
        file for file in FILES if any(mistake in value for value in vars(file).values() if isinstance(value, tuple))
    )
    return next(names).__name__.rpartition(".")[2]


def _called(function: Callable[..., object]) -> str:
    """Its file and its name; of one that a function made, that one's."""
    return f"{function.__module__.rpartition('.')[2]}.{function.__qualname__.partition('.')[0]}"


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1] not in BY_QUESTION:
        sys.exit(f"Which question? One of: {', '.join(sorted(BY_QUESTION))}")
    print(*lines(sys.argv[1]), sep="\n")
