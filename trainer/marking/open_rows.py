"""How a section is marked whose rows the trainee writes in any order. Here is decided how each row of the key is marked, by its
written cells, as missing, or by other rows that do its job (`_row`, R12), and what each row too many takes away (`_cancelled`,
R9).

Which row of the key a written one is meant for is left to matching.py (R8), which rows do a job though they are not the key's to
equivalence/, and what a single cell earns to cells.py.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey, Section
from trainer.marking.cells import CellMarker, MarkedCell
from trainer.marking.equivalence import Counted, StandIn, count_rows
from trainer.marking.marks import Verdict, worth_of
from trainer.marking.matching import Matched, match_rows
from trainer.marking.plans import Plans

__all__ = ["mark_open_rows"]


def mark_open_rows(
    section: Section[Any], keys: Sequence[RowKey], part: Fraction, cells: CellMarker
) -> Iterator[MarkedCell]:
    """The cells of every row of the key, then those of the rows that belong to none.

    keys: the rows of the key; part: what each of their cells is worth, times what its question counts.
    """
    plans = cells.plans

    def is_right(row: RowKey, key: RowKey) -> bool:
        return all(
            cells.standard.judged(each, plans.answers.get(each, row), key)
            for each in section.questions_in(plans.scenario)
        )

    counted = count_rows(section.id, plans, _matched(section, keys, cells), is_right)
    worth = worth_of(part, section.questions_in(plans.scenario))
    for key in keys:
        yield from _row(section, key, worth, cells, counted)
    yield from _rows_of_none(section, cells, counted, _cancelled(section, keys, plans, counted), part)


def _rows_of_none(
    section: Section[Any], cells: CellMarker, counted: Counted, cancelled: Mapping[RowKey, Fraction], part: Fraction
) -> Iterator[MarkedCell]:
    """The cells that are filled in of rows that belong to no row of the key; first those that do no other's job.

    cancelled: what each of those takes away, counted as cells are, which stands in its first cell. part: what 1 of that is worth.
    """
    for row, much in cancelled.items():
        for place, question in enumerate(_filled(section, row, cells.plans)):
            yield cells.needless(question, row, Fraction(0) if place else part * much)
    for row in counted.matched.extras:
        for question in _filled(section, row, cells.plans) if row in counted.carriers else ():
            yield cells.carrier(question, row, counted.carriers[row])


def _matched(section: Section[Any], keys: Sequence[RowKey], cells: CellMarker) -> Matched:
    assert section.open is not None
    plans = cells.plans
    questions = section.questions_in(plans.scenario)
    return match_rows(
        right={key: [_right_values(cells, each, key) for each in questions] for key in keys},
        written={row: _content(section, row, plans) for row in plans.answers.rows.get(section.id, ())},
        weights=[each.match_weight for each in questions],
        least=section.open.least,
    )


def _right_values(cells: CellMarker, question: Question[Any, Any], key: RowKey) -> tuple[Any, ...]:
    """All that earns marks in a cell of a row of the key, so that a row is known by it."""
    standard = cells.standard
    beyond = standard.beyond(question, key) if question.may_follow else None
    by_plan = standard.expected(question, key)
    return tuple(each for each in (cells.plans.key.value(question, key), by_plan, beyond) if each is not None)


def _row(
    section: Section[Any], key: RowKey, worth: Mapping[str, Fraction], cells: CellMarker, counted: Counted
) -> Sequence[MarkedCell]:
    """The cells of a row of the key: as written, as others do its job, or as missing. A row that does its own job and no other
    never costs more than its wrong cells (R12).

    worth: of a cell, by question.
    """
    row = counted.matched.row_for.get(key)
    marked = [
        cells.missing(each, key, worth[each.id]) if row is None else cells.written(each, row, key, worth[each.id])
        for each in section.questions_in(cells.plans.scenario)
    ]
    stand_in = counted.stand_ins.get(key)
    if stand_in is None or all(each.mark.verdict.is_full for each in marked):
        return marked
    by_job = [_by_stand_in(each, stand_in) for each in marked]
    if stand_in.does_more or _earned(by_job) >= _earned(marked):
        return by_job
    return marked


def _earned(cells: Sequence[MarkedCell]) -> Fraction:
    return sum((each.mark.marks for each in cells), Fraction(0))


def _by_stand_in(cell: MarkedCell, stand_in: StandIn) -> MarkedCell:
    """The cell marked otherwise than by the key, whose value is then not what it ought to hold."""
    mark = replace(
        cell.mark,
        verdict=Verdict.RIGHT if stand_in.explanation is None else Verdict.PARTLY,
        marks=cell.mark.out_of * stand_in.credit,
        explanation=stand_in.explanation,
        remark=stand_in.remark,
        expected="",
    )
    return replace(cell, mark=mark, wrong=None)


def _cancelled(
    section: Section[Any], keys: Sequence[RowKey], plans: Plans, counted: Counted
) -> Mapping[RowKey, Fraction]:
    """What each extra row cancels, counted as cells are. One that may stand for a missing row, which has been paid for, cancels
    nothing; one that resembles a row that is there, and none that is missing, was not meant for a missing one.
    """
    matched = counted.matched
    missing = {key for key in keys if key not in matched.row_for and key not in counted.stand_ins}
    harm = _harm(section, plans, counted)
    free = Fraction(len(missing) * section.counts_in(plans.scenario))
    for row in harm:
        if not matched.alike[row] or matched.alike[row] & missing:
            paid = min(harm[row], free)
            free, harm[row] = free - paid, harm[row] - paid
    return harm


def _harm(section: Section[Any], plans: Plans, counted: Counted) -> dict[RowKey, Fraction]:
    """What each extra row cancels before missing rows are held against it: of a wrong one what its filled cells count, of a
    harmless one the part of a row that the section says, of a second copy of another row nothing.
    """
    extras = [row for row in counted.matched.extras if row not in counted.carriers]
    written = plans.answers.rows.get(section.id, ())
    known = [_content(section, row, plans) for row in written if row not in extras]
    harm = {}
    for row in extras:
        content = _content(section, row, plans)
        harm[row] = Fraction(0)
        if content not in known:
            known.append(content)
            most = counted.harmless.get(row, Fraction(1)) * section.counts_in(plans.scenario)
            harm[row] = min(_filled_counts(section, plans, content), most)
    return harm


def _filled_counts(section: Section[Any], plans: Plans, content: Sequence[Any]) -> Fraction:
    """What the filled cells count. Of a row that says too little to be meant for anything, nothing: a stray word is no answer."""
    assert section.open is not None
    filled = [
        each for each, value in zip(section.questions_in(plans.scenario), content, strict=True) if value is not None
    ]
    if sum(each.match_weight for each in filled) < section.open.least:
        return Fraction(0)
    return Fraction(sum(each.counts for each in filled))


def _content(section: Section[Any], row: RowKey, plans: Plans) -> tuple[Any, ...]:
    return tuple(plans.answers.get(question, row) for question in section.questions_in(plans.scenario))


def _filled(section: Section[Any], row: RowKey, plans: Plans) -> list[Question[Any, Any]]:
    """The questions of a row that hold anything."""
    return [
        question for question in section.questions_in(plans.scenario) if CellRef(question.id, row) in plans.read.texts
    ]
