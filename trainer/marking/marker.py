"""Marking a filled form: every cell gets a verdict, every cell that is not right an explanation.

The rules R1 to R15 are the marking rules of the project (marking/__init__.py lists them with their sources). The way of a cell:
its text is read (lab/answers.py); which plans the form makes (plans.py); what is right there (standard.py); its mark
(cells.py), in open sections after its row was matched (open_rows.py); last what is seen when the network and wrong cells are
tried.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from trainer.lab.answers import FilledForm, read_answers
from trainer.lab.form import CellRef, Section
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, Scenario
from trainer.marking.cells import CellMarker, MarkedCell
from trainer.marking.dependencies import dependents, named
from trainer.marking.experiments import Laboratory
from trainer.marking.explanation import Explanation
from trainer.marking.findings import Finding, findings
from trainer.marking.marks import CellMark, Marked, SectionMark, part_of, section_mark, worth_of
from trainer.marking.mistakes.mistake import Flaw
from trainer.marking.open_rows import mark_open_rows
from trainer.marking.plans import Plans, plans_of
from trainer.marking.repair.marks import mark_diagnosis
from trainer.marking.slips import charged_once

__all__ = ["mark", "mark_cells", "section_cells"]


def mark(scenario: Scenario, filled: FilledForm, *, is_key_proved: bool = False) -> Marked:
    """Marks a form against the scenario. Whatever stands in it, it is marked.

    is_key_proved: whether the lab's key has been tried and works, so that a network that is the key's is not tried again.
    """
    if scenario.repair is not None:
        return mark_diagnosis(scenario, filled, mark)
    plans = plans_of(scenario, read_answers(filled))
    cells, sections = mark_cells(plans)
    laboratory = Laboratory(scenario, plans.answers, plans.so_far, plans.key, is_key_proved=is_key_proved)
    explained = _with_what_was_found(plans, laboratory, cells)
    return Marked(cells=tuple(explained), sections=sections, works=laboratory.works)


def mark_cells(plans: Plans) -> tuple[list[MarkedCell], tuple[SectionMark, ...]]:
    """The cells of the sheets that are asked, and what the sheets earn; nothing is tried on the network for it."""
    cells = CellMarker(plans)
    marked: list[MarkedCell] = []
    sections = []
    for share in plans.scenario.sections:
        if share.asked is not Asked.YES:
            continue
        found = charged_once(section_cells(SECTIONS[share.section], share.share, cells))
        marked += found
        sections.append(section_mark(share.section, [each.mark for each in found], share.share))
    return marked, tuple(sections)


def section_cells(section: Section[Any], share: int, cells: CellMarker) -> list[MarkedCell]:
    """The cells of a section; share: of the total, in per cent."""
    scenario = cells.plans.scenario
    keys = [row.key for row in section.rows(scenario)]
    part = part_of(share, len(keys) * section.counts_in(scenario))
    if section.open is not None:
        return list(mark_open_rows(section, keys, part, cells))
    questions = section.questions_in(scenario)
    worth = worth_of(part, questions)
    return [cells.written(each, key, key, worth[each.id]) for key in keys for each in questions]


def _with_what_was_found(plans: Plans, laboratory: Laboratory, marked: Sequence[MarkedCell]) -> Iterator[CellMark]:
    """The marks; those of wrong cells with what was found when they were tried, and with what follows from them."""
    found = findings(
        plans,
        laboratory,
        [(each.wrong, each.mark.explanation.mistake) for each in marked if each.wrong and each.mark.explanation],
    )
    followed = _followed(plans.scenario, marked)
    for each in marked:
        cell = CellRef(each.mark.question, each.mark.row)
        said = each.mark.explanation
        if said is None:
            yield each.mark
        else:
            said = replace(said, followed=followed.get(cell, ()))
            yield replace(each.mark, explanation=_with_finding(said, found.get(cell)))


def _followed(scenario: Scenario, marked: Sequence[MarkedCell]) -> Mapping[CellRef, tuple[str, ...]]:
    """For each wrong cell the cells that are right because they follow from it, in words."""
    wrong = {
        CellRef(each.question.id, each.key_row): each
        for each in (cell.wrong for cell in marked)
        if each is not None and each.flaw is Flaw.WRONG and each.key_row is not None
        if each.value is not None and each.question.is_usable(scenario, each.value)
    }
    rows = {
        CellRef(each.mark.question, each.follows_in): each.mark.row for each in marked if each.follows_in is not None
    }
    if not wrong or not rows:
        return {}
    found = dependents(scenario, {cell: each.value for cell, each in wrong.items()}, rows)
    return {
        CellRef(cell.question, wrong[cell].row): tuple(
            named(scenario, [CellRef(each.question, rows[each])]) for each in cells
        )
        for cell, cells in found.items()
    }


def _with_finding(said: Explanation, found: Finding | None) -> Explanation:
    """What is said, with what was seen. Where another error masks it, its consequence holds for the cell by itself."""
    if found is None:
        return said
    consequence = f"By itself: {said.consequence}" if found.masked_by else said.consequence
    return replace(
        said,
        consequence=consequence,
        seen=found.seen,
        steps=found.steps,
        masked_by=found.masked_by,
        loses=found.loses,
    )
