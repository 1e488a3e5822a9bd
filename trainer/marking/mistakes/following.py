"""Values that would be right elsewhere: they follow from an error that nothing may follow from, or changed places."""

from typing import Any

from trainer.lab.dependencies import all_it_rests_on
from trainer.lab.form import CellRef, Question, RowKey
from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import links, pools, routes, stations, subnets
from trainer.marking.mistakes.mistake import Charged, Claim, Flaw, Mistake, WrongCell
from trainer.marking.mistakes.question_groups import ADDRESS_QUESTIONS, ALL_QUESTIONS, NETWORK_QUESTIONS

__all__ = ["FOLLOWING"]

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


# What follows ---------------------------------------------------------------------------------------------------------


def _follows_what_lies_outside(cell: WrongCell) -> bool:
    """Whether it is worked out from a network that the trainee wrote outside the block."""
    if not _follows_what_cannot_be(cell) or cell.key_row is None:
        return False
    return cell.plan.is_outside_block(all_it_rests_on(cell.scenario, cell.plan.as_written, cell.question, cell.key_row))


def _follows_what_cannot_be(cell: WrongCell) -> bool:
    return cell.scenario.rules.follow_through and cell.follows_as_written


def _follows_an_error(cell: WrongCell) -> bool:
    return not cell.scenario.rules.follow_through and cell.follows_as_written


# Exchanged rows -------------------------------------------------------------------------------------------------------


def _is_in_wrong_row(cell: WrongCell) -> bool:
    """Whether the answer changed places with that of another row of the column: each is right there."""
    here = cell.key_row
    others = (row.key for row in cell.section.rows(cell.scenario) if row.key != here)
    return here is not None and any(_is_exchanged_with(cell, here, row) for row in others)


def _is_exchanged_with(cell: WrongCell, here: RowKey, row: RowKey) -> bool:
    theirs = cell.plan.answers.get(cell.question, row)
    is_exchanged = theirs in _right_values(cell, here) and cell.value in _right_values(cell, row)
    return is_exchanged and not cell.holds(theirs) and _is_no_other_order(cell, {here, row})


def _right_values(cell: WrongCell, row: RowKey) -> tuple[Any, Any]:
    """What is right in a row of this column: by the key, and by the trainee's earlier answers."""
    return cell.plan.key.value(cell.question, row), cell.right_by_plan(cell.question, row)


def _is_no_other_order(cell: WrongCell, rows: set[RowKey]) -> bool:
    """Whether two networks alone changed places; where more are not in the key's, the plan has another order."""
    if cell.question.id not in NETWORK_QUESTIONS:
        return True
    written_in = (row.key for row in cell.section.rows(cell.scenario))
    plan = cell.plan
    return rows == {
        row for row in written_in if plan.answers.get(cell.question, row) != plan.key.value(cell.question, row)
    }


# Exchanged columns ----------------------------------------------------------------------------------------------------


def _is_in_wrong_column(cell: WrongCell) -> bool:
    other = _column_exchanged_with(cell)
    return other is not None and not {cell.question.id, other.id} <= _PAIRS


def _column_exchanged_with(cell: WrongCell) -> Question[Any, Any] | None:
    """Another column whose cell in this row changed places with this one: each text can be read, or is right, only there."""
    others = (each for each in cell.section.questions if each.id != cell.question.id)
    if cell.flaw is Flaw.UNREADABLE:
        return next((each for each in others if _is_readable_only_there(cell, each)), None)
    of_its_kind = (each for each in others if each.kind is cell.question.kind and not each.kind.is_set)
    return next((each for each in of_its_kind if _is_right_only_there(cell, each)), None)


def _is_readable_only_there(cell: WrongCell, other: Question[Any, Any]) -> bool:
    theirs = cell.plan.texts.get(CellRef(other.id, cell.row), "")
    here, there = cell.question.kind, other.kind
    return there.can_read(cell.text) and here.can_read(theirs) and not there.can_read(theirs)


def _is_right_only_there(cell: WrongCell, other: Question[Any, Any]) -> bool:
    row, theirs = cell.key_row, cell.beside(other)
    if row is None or theirs is None or cell.holds(theirs):
        return False
    rights = (cell.plan.key.value(other, row), cell.right_by_plan(other, row))
    return cell.value in rights and theirs in (cell.expected, cell.plan.key.value(cell.question, row))


FOLLOWING: tuple[Mistake, ...] = (
    Mistake(
        id="follows-from-what-cannot-be",
        questions=ADDRESS_QUESTIONS - NETWORK_QUESTIONS,
        priority=0,
        charged=Charged.EACH_TIME,
        fits=_follows_what_lies_outside,
        explanation="Correctly worked out from your network, which lies outside the block. Start at {root}.",
        consequence="It belongs to a network outside the block, which is not the lab's to use.",
        claim=Claim.NONE,
        hint="Between which two addresses does the block lie, and is your whole network between them?",
        source=f"rule {HouseRule.BLOCK} of this lab; RFC 4632 section 3.1",
    ),
    Mistake(
        id="follows-from-what-cannot-stand",
        questions=ADDRESS_QUESTIONS - NETWORK_QUESTIONS,
        priority=0,
        charged=Charged.EACH_TIME,
        fits=_follows_what_cannot_be,
        explanation="Correctly worked out, but from a value that cannot stand, so nothing follows from it. Start at {root}.",
        consequence="It fits no lab that is set up by the rules.",
        claim=Claim.NONE,
        hint="What is said of the cell that this value follows from?",
        source="rules of this lab; common practice, no source",
    ),
    Mistake(
        id="follows-from-an-error",
        questions=ADDRESS_QUESTIONS,
        priority=0,
        charged=Charged.EACH_TIME,
        fits=_follows_an_error,
        explanation=(
            "{given} fits what you wrote before, where something is not right. "
            "In this exercise nothing counts that follows from an error."
        ),
        consequence="It works together with your other answers, and not with a lab that is set up by the rules.",
        claim=Claim.NONE,
        hint="On which earlier answer does this one depend, and what is said there?",
        source="rules of this lab; common practice, no source",
    ),
    Mistake(
        id="rows-exchanged",
        questions=_FIXED_ROWS,
        priority=7,
        charged=Charged.EACH_TIME,
        fits=_is_in_wrong_row,
        explanation="{given} belongs in another row of this column: two rows are exchanged.",
        consequence="Each of the two has what was meant for the other.",
        claim=Claim.NONE,
        hint="Which row does your answer fit, and what stands in that row now?",
        source="common practice, no source",
    ),
    Mistake(
        id="columns-exchanged",
        questions=ALL_QUESTIONS,
        priority=1,
        charged=Charged.ONE_ROW,
        flaws=frozenset({Flaw.WRONG, Flaw.UNREADABLE}),
        fits=_is_in_wrong_column,
        explanation=(
            "{given} belongs in another column of this row, and what stands there belongs here: two "
            "columns are exchanged."
        ),
        consequence="Each of the two is taken for what the other one means.",
        claim=Claim.NONE,
        hint="Which heading does your answer fit, and what stands under that one now?",
        source="common practice, no source",
    ),
)
