"""What is said of a cell in which no mistake of the catalogue was made out: what is the matter, and no invented reason."""

from typing import Any

from trainer.lab.kinds import Kind
from trainer.lab.unreadable import TextFlaw, Unreadable
from trainer.marking.explanation import BLANK, EMPTY, Explanation
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.mistakes.predicted import where_no_device_is_set

__all__ = ["UNREADABLE_TEXTS", "neutral", "why_in_words"]

_NOT_FOUR = "{given} is not an address: an address has four numbers with dots between them, this has {part}."
UNREADABLE_TEXTS = {
    TextFlaw.NOT_FOUR_NUMBERS: _NOT_FOUR,
    TextFlaw.NOT_FOUR_PARTS: _NOT_FOUR,
    TextFlaw.NOT_A_NUMBER: "{given} is not an address: {part!r} is not a number.",
    TextFlaw.NO_MASK: "{given} is not a mask: it has a 0 bit before a 1 bit.",
    TextFlaw.NO_LENGTH: "{given} is neither a prefix length such as /26 nor a mask such as 255.255.255.192.",
    TextFlaw.NO_VLAN_NUMBER: "{given} is not a VLAN number such as 120.",
    TextFlaw.NO_PORT_USE: "{given} is neither a VLAN number nor the word routed.",
    TextFlaw.NO_PORT: "{given} is not a port: write it like B/7.",
    TextFlaw.NO_SWITCH: "{given} is not the letter of a switch: write it like A.",
    TextFlaw.NO_LIST: "{given} is not a list of {members}: write it like 3, 5, 9, or none.",
    TextFlaw.NO_RANGE: "{given} holds {part!r}, which is no range of {members}: write it like 3-9.",
    TextFlaw.NO_MAC: "{given} is not a MAC address: it needs twelve hexadecimal digits.",
    TextFlaw.NO_LEASE: "{given} is not a lease: write it with its unit, like 6 h, 360 min or 21600 s, or no end.",
    TextFlaw.TOO_LONG: "{given} is longer than a lease can be; write no end for one that has none.",
    TextFlaw.NO_BINDING_TYPE: "{given} is neither dynamic nor static.",
    TextFlaw.NO_LINE: "{given} is not the name of a line: write it like A7.",
    TextFlaw.NO_TEST: "{given} is not the name of a test: write it like T3.",
    TextFlaw.NO_FAULT_KIND: "{given} is neither cause nor harmless.",
    TextFlaw.NO_OUTCOME: "{given} is not a way in which a test comes out: answered, no answer, arrives, stopped.",
    TextFlaw.NO_FAULT_NUMBERS: "{given} is not a list of fault numbers: write it like 1, or 1, 2, or none.",
}
"""Of the other flaws a mistake of the catalogue tells, wherever they can occur."""


def neutral(cell: WrongCell) -> Explanation:
    """Says what is the matter and invents no reason (feedback rule F10)."""
    if cell.flaw is Flaw.BLANK:
        return Explanation(
            mistake=BLANK,
            explanation=EMPTY,
            consequence=where_no_device_is_set(cell) or "The step is missing, and so is what should follow from it.",
            hint="What do you know already of this value, even if you are not sure of all of it?",
        )
    if cell.flaw is Flaw.UNREADABLE:
        return Explanation(
            mistake="not-readable",
            explanation=why_in_words(_reason(cell), cell.text, cell.question.kind),
            consequence=where_no_device_is_set(cell) or "A device would refuse what is written here.",
            hint="How is such a value written in the Brief?",
        )
    return Explanation(
        mistake="unclassified",
        explanation="This is not what follows from the Brief and from your other answers. "
        f"Check the row and the heading {cell.question.heading} first.",
        consequence=where_no_device_is_set(cell) or "What is written here does not match the rest of the lab.",
        hint="Which rule of the Brief decides this cell, and what does it depend on?",
    )


def _reason(cell: WrongCell) -> Unreadable | str:
    assert cell.unreadable is not None, "a cell that cannot be read has a reason"
    return cell.unreadable


def why_in_words(why: Unreadable | str, text: str, kind: Kind[Any]) -> str:
    """Why a text cannot be read as a value of that kind."""
    if isinstance(why, str):
        return why
    return UNREADABLE_TEXTS[why.flaw].format(given=repr(text), part=why.part, members=kind.members)
