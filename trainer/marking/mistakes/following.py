"""Values that would be right elsewhere: they follow from an error that nothing may follow from, or changed rows."""

from trainer.lab.questions import links, pools, routes, stations, subnets
from trainer.marking.mistakes.evidence import ADDRESS_QUESTIONS, ALL_QUESTIONS, exchanged_column, exchanged_with
from trainer.marking.mistakes.mistake import Claim, Lapse, Mistake, WrongCell

__all__ = ["FOLLOWING"]

_NETWORKS = frozenset({subnets.NETWORK_ADDRESS.id, links.LINK_NETWORK.id})
_FIXED_ROWS = frozenset(
    question.id
    for section in (subnets.SUBNETS, links.LINKS, stations.STATIONS, pools.POOLS)
    for question in section.questions
)
_PAIRS = frozenset(
    question.id
    for pair in (
        (subnets.FIRST_USABLE, subnets.LAST_USABLE),
        (links.FIRST_ADDRESS, links.SECOND_ADDRESS),
        (pools.POOL_FIRST, pools.POOL_LAST),
        (routes.DESTINATION, routes.NEXT_HOP),
    )
    for question in pair
)
"""Columns that are exchanged with each other for reasons of their own; the topics' files have words for them."""


def _follows_as_written(cell: WrongCell) -> bool:
    """Whether the value is what comes of all that the trainee wrote before, usable or not."""
    if cell.key_row is None or cell.value == cell.expected:
        return False
    try:
        return bool(cell.value == cell.question.answer(cell.scenario, cell.as_written, cell.key_row))
    except ValueError:
        return False


def _follows_what_cannot_be(cell: WrongCell) -> bool:
    return cell.scenario.rules.follow_through and _follows_as_written(cell)


def _follows_an_error(cell: WrongCell) -> bool:
    return not cell.scenario.rules.follow_through and _follows_as_written(cell)


def _is_exchanged(cell: WrongCell) -> bool:
    return exchanged_with(cell) is not None


def _is_in_wrong_column(cell: WrongCell) -> bool:
    other = exchanged_column(cell)
    return other is not None and not {cell.question.id, other.id} <= _PAIRS


FOLLOWING: tuple[Mistake, ...] = (
    Mistake(
        id="follows-from-what-cannot-be",
        questions=ADDRESS_QUESTIONS - _NETWORKS,
        priority=0,
        fits=_follows_what_cannot_be,
        explanation=(
            "{given} fits what you wrote before, but no network of this lab can be as you wrote it. "
            "Nothing can follow from that."
        ),
        consequence="Whatever is set up with it lies outside the block, or has no room for its devices.",
        claim=Claim.NONE,
        hint="Does the network that it rests on lie in the block, and can a VLAN or a link have its length?",
        source="rule Block of this lab; RFC 4632 section 3.1",
    ),
    Mistake(
        id="follows-from-an-error",
        questions=ADDRESS_QUESTIONS,
        priority=0,
        fits=_follows_an_error,
        explanation=(
            "{given} fits what you wrote before, where something is not right. "
            "In this exercise nothing counts that follows from an error."
        ),
        consequence="It works together with your other answers, and not with a lab that is set up by the rules.",
        claim=Claim.NONE,
        hint="On which earlier answer does this one rest, and what is said there?",
        source="rules of this lab; common practice, no source",
    ),
    Mistake(
        id="rows-exchanged",
        questions=_FIXED_ROWS,
        priority=7,
        fits=_is_exchanged,
        explanation="Two rows are exchanged in this column: {given} belongs into another row.",
        consequence="Each of the two is set up with what was meant for the other.",
        claim=Claim.NONE,
        hint="Which row does your answer fit, and what stands in that row now?",
        source="common practice, no source",
    ),
    Mistake(
        id="columns-exchanged",
        questions=ALL_QUESTIONS,
        priority=1,
        lapses=frozenset({Lapse.WRONG, Lapse.UNREADABLE}),
        fits=_is_in_wrong_column,
        explanation=(
            "Two columns are exchanged in this row: {given} belongs under another heading, and what stands there "
            "belongs here."
        ),
        consequence="Each of the two is taken for what the other one means.",
        claim=Claim.NONE,
        hint="Which heading does your answer fit, and what stands under that one now?",
        source="common practice, no source",
    ),
)
