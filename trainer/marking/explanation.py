"""What is said about a cell that is not right, as a value. Whoever keeps or shows marks needs no more of the catalogue."""

from dataclasses import dataclass, field

__all__ = ["BLANK", "EASIER", "EMPTY", "NEUTRAL", "Explanation"]

EMPTY = "This cell is empty."
"""What is wrong with an empty cell of which no mistake of the catalogue tells more."""
BLANK = "blank"
"""What is said of an empty cell of which no mistake of the catalogue tells more."""
EASIER = "easier-by-own-error"
"""What is said of a cell that follows from an error which made it easier."""
NEUTRAL = frozenset({"not-readable", "unclassified"})
"""What is said of cells in which no mistake of the catalogue was made out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What is said about one cell that is not right. The expected value is in derivation and steps at most."""

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
    loses: int = field(default=0, metadata={"added later": True})
    """So many trials go wrong in an otherwise right network because of it; 0 where nothing was tried."""
    rests_on: str = field(default="", metadata={"added later": True})
    """Which earlier cells the value depends on, and whether they are right; empty where none. Such as "Subnets 40: Gateway,
    right as written"."""
    first_errors: tuple[str, ...] = field(default=(), metadata={"added later": True, "kept as": "roots"})
    """The cells with the errors from which the value follows, such as "Subnets 40: Prefix length"; none where it follows from
    none."""
    example: str = field(default="", metadata={"added later": True})
    """The same step in another lab, with other numbers; empty where there is none."""
    derivation: str = field(default="", metadata={"added later": True})
    """How the right value is come by: to be shown only where the answers may be seen, for it names some."""
    followed: tuple[str, ...] = field(default=(), metadata={"added later": True})
    """Cells that are right because they follow from this one, such as "Subnets 561: Mask"."""
    steps: tuple[str, ...] = field(default=(), metadata={"added later": True})
    """One trial that goes wrong because of it, step by step: to be shown only where the answers may be seen, for steps
    name addresses."""
