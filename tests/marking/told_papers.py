"""Papers with errors at random and whole sheets missing, and the networks that what is said of their cells is about."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from damaged_answers import randomly_damaged
from filled_forms import filled

from trainer.lab.answers import read_answers
from trainer.lab.form import Answers, CellRef, Role
from trainer.lab.key import completed, derive_key
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.cells import CellMarker, MarkedCell
from trainer.marking.explanation import Explanation
from trainer.marking.marker import mark
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.open_rows import mark_open_rows
from trainer.marking.plans import Plans, plans_of

Texts = dict[CellRef, str]
_WORTH = Fraction(1)
"""Of a cell: what is said does not depend on it."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What is said of a wrong cell that configures a device, and the networks it is about, worked out here anew."""

    lab: Scenario
    cell: WrongCell
    said: Explanation
    own: Answers
    """What the trainee's own plan makes."""
    mended: Answers
    """The same with the cell, and what was tried with it, put right."""
    right: Answers
    alone: Answers
    """A right network with these alone wrong."""


def random_paper(lab: Scenario, rng: random.Random) -> Texts:
    """One to nine wrong cells, and up to five sheets on which nothing stands."""
    asked = set(lab.asked)
    damaged = randomly_damaged(lab, derive_key(lab), rng, rng.randint(1, 9))
    given = {(section.id, row.key) for section in SECTIONS.values() for row in section.set_already(lab)}
    empty = set(rng.sample(sorted(asked), min(len(asked) - 1, rng.choice((0, 1, 2, 3, 5)))))
    return {
        cell: QUESTIONS[cell.question].kind.show(value)
        for cell, value in damaged.values.items()
        if (section := cell.question.partition(".")[0]) in asked - empty and (section, cell.row) not in given
    }


def all_told(lab: Scenario, texts: Mapping[CellRef, str]) -> Iterator[Told]:
    """What is said of every wrong cell of a paper that was tried."""
    form = filled(texts)
    said = {CellRef(each.question, each.row): each.explanation for each in mark(lab, form).cells}
    plans = plans_of(lab, read_answers(form))
    wrong = [each.wrong for each in _marked(plans) if each.wrong is not None]
    configuring = [each for each in wrong if each.question.role is Role.CONFIGURES]
    own = completed(lab, plans.answers, plans.so_far, lab.asked)
    right = derive_key(lab)
    for cell in configuring:
        explanation = said.get(cell.ref)
        if explanation is not None and explanation.seen:
            group = _tried_together(cell, configuring, plans, said)
            yield Told(
                lab=lab,
                cell=cell,
                said=explanation,
                own=own,
                mended=_put_right(own, group),
                right=right,
                alone=_put_wrong(right, group),
            )


def _marked(plans: Plans) -> Iterator[MarkedCell]:
    cells = CellMarker(plans)
    for section in (SECTIONS[each] for each in plans.scenario.asked):
        keys = [row.key for row in section.rows(plans.scenario)]
        if section.open is not None:
            yield from mark_open_rows(section, keys, _WORTH, cells)
        else:
            for key in keys:
                for question in section.questions_in(plans.scenario):
                    yield cells.written(question, key, key, _WORTH)


def _tried_together(
    cell: WrongCell, wrong: list[WrongCell], plans: Plans, said: Mapping[CellRef, Explanation | None]
) -> list[WrongCell]:
    """A blank, unreadable, missing or extra row as one; values in each other's cells; a whole sheet that is empty."""
    here = [each for each in wrong if each.section.id == cell.section.id]
    if not any(ref.question.partition(".")[0] == cell.section.id for ref in plans.read.texts):
        if cell.section.open is None:
            return here
        mistakes = {each.ref: found.mistake for each in here if (found := said.get(each.ref)) is not None}
        return [each for each in here if mistakes.get(each.ref) == mistakes[cell.ref]]
    in_row = [each for each in here if each.row == cell.row]
    if cell.flaw is not Flaw.WRONG:
        return [each for each in in_row if each.flaw is not Flaw.WRONG]
    swapped = [each for each in in_row if (each.value, each.expected) == (cell.expected, cell.value)]
    return list({each.ref: each for each in (cell, *swapped)}.values())


def _put_right(own: Answers, cells: list[WrongCell]) -> Answers:
    values, rows = dict(own.values), dict(own.rows)
    for cell in cells:
        if cell.flaw is Flaw.EXTRA:
            del values[cell.ref]
            rows[cell.section.id] = tuple(row for row in rows[cell.section.id] if row != cell.row)
        else:
            values[cell.ref] = cell.expected
            if cell.section.open is not None and cell.row not in rows[cell.section.id]:
                rows[cell.section.id] = (*rows[cell.section.id], cell.row)
    return replace(own, values=values, rows=rows)


def _put_wrong(key: Answers, cells: list[WrongCell]) -> Answers:
    values, rows = dict(key.values), dict(key.rows)
    for cell in cells:
        row = cell.key_row or cell.row
        values.pop(CellRef(cell.question.id, row), None)
        if cell.value is not None:
            values[CellRef(cell.question.id, row)] = cell.value
        if cell.flaw is Flaw.MISSING:
            rows[cell.section.id] = tuple(each for each in rows[cell.section.id] if each != row)
        if cell.flaw is Flaw.EXTRA and row not in rows[cell.section.id]:
            rows[cell.section.id] = (*rows[cell.section.id], row)
    return replace(key, values=values, rows=rows)
