"""How much two trainees could copy from each other: the share of asked cells whose right value is the same for both."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.lab.form import SoFar
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario

__all__ = ["EqualCells", "equal_cells"]


@dataclass(frozen=True, slots=True)
class EqualCells:
    """Of all pairs of cells that stand in the same place for two trainees, how many hold the same right value."""

    kind: str
    """What the cells hold, as a kind calls it: "an address"."""
    share: Fraction


def equal_cells(labs: Sequence[Scenario]) -> tuple[EqualCells, ...]:
    """By kind of value, in the order of the form. Nothing for a single lab. The labs ask the same questions; of rows those count
    that all of them have.
    """
    if len(labs) < 2:
        return ()
    keys = [SoFar(lab) for lab in labs]
    equal: dict[str, int] = {}
    pairs: dict[str, int] = {}
    for section_id in labs[0].asked:
        section = SECTIONS[section_id]
        rows = [section.rows(lab) for lab in labs]
        for question in section.questions_in(labs[0]):
            for row in zip(*rows, strict=False):
                values = Counter(key.value(question, each.key) for key, each in zip(keys, row, strict=True))
                kind = question.kind.name
                equal[kind] = equal.get(kind, 0) + sum(count * (count - 1) // 2 for count in values.values())
                pairs[kind] = pairs.get(kind, 0) + len(labs) * (len(labs) - 1) // 2
    return tuple(EqualCells(kind, Fraction(equal[kind], pairs[kind])) for kind in pairs)
