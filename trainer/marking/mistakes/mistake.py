"""What a mistake is: which questions it is about, what it looks like, and what is said about it.

Mistakes know questions; questions know no mistakes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, Section, SoFar
from trainer.lab.scenario import Scenario
from trainer.marking.forwarding import Forwarding

__all__ = ["HALF", "Claim", "Explanation", "Lapse", "Mistake", "WrongCell"]


HALF = Fraction(1, 2)
"""What the right idea in the wrong instance earns: a gateway in the right network, the block next door, a pool one off."""


class Lapse(Enum):
    """In which way a cell is not right."""

    WRONG = "wrong"
    """It holds a readable value, which is not right (or, in a list, not wholly right)."""
    UNREADABLE = "unreadable"
    """It holds something that is no value of its kind."""
    BLANK = "blank"
    MISSING = "missing"
    """The row of the key that it belongs to was not written at all."""
    EXTRA = "extra"
    """The row it stands in is asked for by no rule."""


class Claim(Enum):
    """What a consequence says of a network that is right but for this mistake: the sort of trial that shows it.

    Tests make that network and try it (tests/marking/test_true_texts.py), so a claim has to hold in every lab.
    """

    NO_LEASE = "a client gets no lease"
    NO_ANSWER = "a ping between stations, or to an address that a network needs, is not answered"
    ATTACK_PASSES = "an attack gets through that the protection should stop"
    OTHER_LEASE = "a client gets another lease: another address, mask, router or time"
    NO_HARM = "all that is tried goes as it should, and the words say no more than that it may not stay so"
    NONE = "nothing that a trial shows in every lab: a plan, a value foretold, a refusal, what may happen some day"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongCell:
    """A cell that is not right, with everything a mistake may look at to tell why."""

    scenario: Scenario
    section: Section
    question: Question[Any]
    lapse: Lapse
    row: RowKey
    """The row as the trainee's sheet calls it: "561", "A-B", "Route 1". For a missing row the key's name of it."""
    key_row: RowKey | None
    """The row of the key it was matched with: for fixed rows the same as row; None for an extra row."""
    text: str
    """What stands in the cell, tidied; "" where it is blank or missing."""
    value: Any
    """The value read from it; None where there is none."""
    expected: Any
    """What is right here, given the trainee's own earlier answers; None for an extra row."""
    texts: Mapping[CellRef, str]
    """All that the trainee wrote, tidied."""
    answers: Answers
    """All the trainee's readable answers."""
    so_far: SoFar
    """The trainee's usable values, the key's elsewhere."""
    as_written: SoFar
    """All the trainee's readable values, those too from which nothing may follow; the key's elsewhere."""
    key: SoFar
    """The key's values."""
    ways: Forwarding
    """Where the trainee's routes take packets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """An entry of the catalogue."""

    id: str
    """Stable for ever: it is counted in results and stands in JSON."""
    questions: frozenset[str]
    """Ids of the questions it can be made in."""
    priority: int
    """Of several that fit, the lowest is the one that is said; then the one that stands first."""
    fits: Callable[[WrongCell], bool]
    """Asked only about cells of its questions that are not right. Raises nothing."""
    explanation: str
    """What is wrong and why: at most two sentences and 40 words. {given} is what the trainee wrote."""
    consequence: str
    """One thing that can be seen in the network because of it."""
    claim: Claim
    """The part of the consequence that trials confirm, where the cell or its row configures a device."""
    hint: str
    """A question that leads on and does not give the answer away."""
    source: str
    """Standard and section, or "common practice, no source"."""
    lapses: frozenset[Lapse] = frozenset({Lapse.WRONG})
    credit: Fraction = Fraction(0)
    """What the cell earns all the same, 0 or a half; no finer steps, which no report could defend."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What is said about one cell that is not right. Never holds the expected value."""

    mistake: str
    """Id of the mistake, or "unclassified"."""
    explanation: str
    consequence: str
    hint: str
    seen: str = field(default="", metadata={"added later": True})
    """What was seen when this cell was tried on the network; empty where nothing was tried."""
    masked_by: str = field(default="", metadata={"added later": True})
    """Where the error stands that keeps it from showing in the trainee's own network, such as "pools 40"; empty where none
    does."""
    rests_on: str = field(default="", metadata={"added later": True})
    """Which earlier cells the value is worked out from, and whether they are right; empty where none. Such as "Subnets 40:
    Gateway, right as written"."""
    example: str = field(default="", metadata={"added later": True})
    """The same step in another lab, with other numbers; empty where there is none."""
    derivation: str = field(default="", metadata={"added later": True})
    """How the right value is come by; only where the answers may be seen, for it names some."""
    followed: tuple[str, ...] = field(default=(), metadata={"added later": True})
    """Cells that are right because they follow from this one, such as "Subnets 561: Mask"."""
    steps: tuple[str, ...] = field(default=(), metadata={"added later": True})
    """One trial that goes wrong because of it, step by step; only where the answers may be seen, for steps name addresses."""
