"""What is said of cells that have one cause: labelled parts in one order, for page, workbook, terminal and other programs.

All of it is always worked out. How much a trainee sees of it is decided here too, by `may_see`, and only when it is shown.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache

from trainer.lab.scenario import Reveal
from trainer.listing import first_few
from trainer.marking.marks import CellMark

__all__ = ["EVERY_LABEL", "IN_A_LINE", "Label", "Part", "answer_of", "in_order", "in_words", "may_see", "said"]

_MOST_FOLLOWERS = 6
"""So many of the cells that follow from one are named."""
_MOST_SEEN = 3
"""Of cells that are spoken of together so many findings are told."""


class Label(Enum):
    """What a part tells. Parts are told in this order, wherever that is."""

    # each stands once; the hash of its name would be asked for with every part
    __hash__ = object.__hash__

    DECISION = "decision", "The instructor's decision"
    """The reason of marks that were set by hand."""
    REMARK = "remark", ""
    """About a cell that earns its marks although it differs from the key."""
    EXPLANATION = "explanation", ""
    HINT = "hint", "Hint"
    CONSEQUENCE = "consequence", "What the network does"
    SEEN = "seen", "Tried"
    """What was seen when it was tried on the network."""
    STEPS = "steps", "Step by step in your network"
    """One trial that goes wrong because of it."""
    RESTS_ON = "rests_on", ""
    """Which earlier cells it is worked out from."""
    FOLLOWED = "followed", ""
    """Which cells are right because they follow from it."""
    RIGHT = "right", "Right"
    """What is right, where something else stands there."""
    RIGHT_BY_PLAN = "right_by_plan", "Right by your own plan"
    """The same where the key has another value."""
    DERIVATION = "derivation", "Why that"
    """How the right value is come by."""
    EXAMPLE = "example", ""
    """The same step in another lab."""

    def __init__(self, code: str, words: str) -> None:
        self.code = code
        """Stable for ever: other programs read it."""
        self.words = words
        """What is printed before the text, with a colon; "" where the text stands for itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One thing that is said."""

    label: Label
    text: str
    """Never empty. Of STEPS what was tried."""
    steps: tuple[str, ...] = ()
    """Of STEPS, a line each."""


EVERY_LABEL = frozenset(Label)
_PLACES = {label: place for place, label in enumerate(Label)}
IN_A_LINE = frozenset({Label.DECISION, Label.REMARK, Label.EXPLANATION, Label.HINT})
"""What is said of a cause where there is a line for it: what is wrong, and what to do. The rest is folded."""
_SEEN_FROM = {
    Label.DECISION: Reveal.MARKS,
    Label.REMARK: Reveal.MARKS,
    Label.FOLLOWED: Reveal.MARKS,
    Label.HINT: Reveal.HINTS,
    Label.EXPLANATION: Reveal.EXPLANATIONS,
    Label.CONSEQUENCE: Reveal.EXPLANATIONS,
    Label.SEEN: Reveal.EXPLANATIONS,
    Label.RESTS_ON: Reveal.EXPLANATIONS,
    Label.EXAMPLE: Reveal.EXPLANATIONS,
    Label.STEPS: Reveal.ANSWERS,
    Label.RIGHT: Reveal.ANSWERS,
    Label.RIGHT_BY_PLAN: Reveal.ANSWERS,
    Label.DERIVATION: Reveal.ANSWERS,
}
"""The least that trainees have to be let see before a part is shown to them."""
_LEVELS = (Reveal.MARKS, Reveal.HINTS, Reveal.EXPLANATIONS, Reveal.ANSWERS)


@cache
def may_see(reveal: Reveal) -> frozenset[Label]:
    """What trainees are shown. An example gives way to the derivation, which is the same step with their own numbers."""
    level = _LEVELS.index(reveal)
    labels = {label for label, least in _SEEN_FROM.items() if _LEVELS.index(least) <= level}
    return frozenset(labels - {Label.EXAMPLE} if Label.DERIVATION in labels else labels)


def said(cells: Sequence[CellMark], labels: Collection[Label] = EVERY_LABEL) -> tuple[Part, ...]:
    """All that is said of cells of which the same is true, in order. What is true of one cell alone is said only of one.

    labels: the parts that are asked for.
    """
    return tuple(part for part in in_order(_parts(cells)) if part.text and part.label in labels)


def _parts(cells: Sequence[CellMark]) -> list[Part]:
    first, explained = cells[0], cells[0].explanation
    parts = [Part(label=Label.DECISION, text=first.decision)]
    if explained is None:
        parts.append(Part(label=Label.REMARK, text=first.remark))
    else:
        trial, *steps = explained.steps or ("",)
        parts += [
            Part(label=Label.EXPLANATION, text=explained.explanation),
            Part(label=Label.HINT, text=explained.hint),
            Part(label=Label.CONSEQUENCE, text=explained.consequence),
            Part(label=Label.SEEN, text=_seen(cells)),
            Part(label=Label.STEPS, text=trial, steps=tuple(steps)),
            Part(label=Label.FOLLOWED, text=_followed(explained.followed)),
        ]
    if len(cells) > 1:
        return parts
    right = answer_of(first)
    if right is not None:
        parts.append(right)
    if explained is not None:
        rests_on = f"It depends on {explained.rests_on}." if explained.rests_on else ""
        derivation = f"{explained.derivation}." if explained.derivation and not _stands_right(first) else ""
        parts += [
            Part(label=Label.RESTS_ON, text=rests_on),
            Part(label=Label.DERIVATION, text=derivation),
            Part(label=Label.EXAMPLE, text=explained.example),
        ]
    return parts


def answer_of(cell: CellMark) -> Part | None:
    """What is right in a cell; None where that stands there, or nothing is."""
    if not cell.expected or _stands_right(cell):
        return None
    return Part(label=Label.RIGHT_BY_PLAN if cell.by_plan else Label.RIGHT, text=cell.expected)


def in_order(parts: Iterable[Part]) -> tuple[Part, ...]:
    """Each part once, in the order of the labels."""
    return tuple(sorted(dict.fromkeys(parts), key=lambda part: _PLACES[part.label]))


def in_words(parts: Iterable[Part]) -> str:
    """The parts as one text, each behind the words of its label; steps are left out."""
    return " ".join(f"{part.label.words}: {part.text}" if part.label.words else part.text for part in parts)


def _seen(cells: Sequence[CellMark]) -> str:
    """What was seen when the cells were tried; where it is not the same for all of them, with the rows."""
    of_rows: dict[str, list[str]] = {}
    for cell in cells:
        if cell.explanation is not None and cell.explanation.seen:
            rows = of_rows.setdefault(cell.explanation.seen, [])
            rows += () if cell.row in rows else (cell.row,)
    if len(of_rows) <= 1:
        return "".join(of_rows)
    told = [f"{', '.join(rows)}: {seen}" for seen, rows in of_rows.items()]
    return " ".join(told[:_MOST_SEEN])


def _followed(cells: Sequence[str]) -> str:
    if not cells:
        return ""
    return f"What follows from it counts: {first_few(cells, _MOST_FOLLOWERS)}."


def _stands_right(cell: CellMark) -> bool:
    """Whether there is no other answer to show: the very value stands there, or one that counts in full as well, which the
    key's value beside it would contradict.
    """
    return cell.given == cell.expected or bool(cell.given and cell.verdict.is_full)
