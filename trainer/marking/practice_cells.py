"""Which cell somebody means who practises, and what is right there: told after a try, with its reason."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from trainer.errors import did_you_mean
from trainer.lab.form import CellRef, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.listing import listed
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.practice import CellNames, Progress, ref_of

__all__ = ["Answer", "AskedAbout", "answer_to", "asked_about", "is_a_cell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedAbout:
    """A cell that somebody asks about."""

    ref: CellRef
    name: str
    """As it is called on the sheet: "Subnets D7"."""
    cell: CellMark | None
    """What was found of it; of a row that is not written, of the row of the key that it could hold. None where no more rows are
    needed, or what stands there is needed by nobody."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said to somebody who asks for the answer of a cell."""

    words: str
    shown: CellRef | None = None
    """The cell whose answer is in the words; None where it is not given away."""


def is_a_cell(request: str) -> bool:
    """Whether the last word is the name of a cell: "D7", "Subnets D7", "subnets!d7"."""
    return bool(re.fullmatch(r"[A-Za-z]{1,3}[0-9]{1,5}", _parted(request)[1]))


def _parted(request: str) -> tuple[str, str]:
    sheet, _, name = request.replace("!", " ").strip().rpartition(" ")
    return sheet.strip(), name


def asked_about(request: str, marked: Marked, names: CellNames, at_work_on: str | None, word: str) -> AskedAbout | str:
    """The cell that is called as on the sheet; what to say where it is not known which, or there is none.

    The sheet may be left out where only one has such a cell, or only one has it open; else the one is meant that somebody is
    at work on, if it has one. word: what was typed before the cell.
    """
    sheet, name = _parted(request)
    name = name.upper()
    titles = [SECTIONS[each.section].title for each in marked.sections]
    if sheet:
        title = next((each for each in titles if each.casefold() == sheet.casefold()), None)
        if title is None:
            return f"There is no sheet {sheet!r} to fill in. {did_you_mean(sheet, titles)}".rstrip()
        titles = [title]
    found = [ref for ref, (on, at) in names.items() if at == name and _title(ref).casefold() in _folded(titles)]
    if not found:
        return f"{' '.join(filter(None, (sheet and titles[0], name)))} is no cell to fill in."
    if len(found) > 1:
        full = {ref_of(cell) for cell in marked.cells if cell.verdict.is_full}
        found = [ref for ref in found if ref not in full] or found
    if len(found) > 1:
        here = [ref for ref in found if ref.section == at_work_on]
        if not here:
            sheets = [_title(ref) for ref in found]
            return f"{name} of which sheet: {listed(sheets)}? Type it in front: {word} {sheets[0]} {name}"
        found = here
    ref = found[0]
    return AskedAbout(ref=ref, name=f"{_title(ref)} {name}", cell=_cell_at(ref, marked, names))


def _title(ref: CellRef) -> str:
    return SECTIONS[ref.section].title


def _folded(titles: Iterable[str]) -> set[str]:
    return {each.casefold() for each in titles}


def _cell_at(ref: CellRef, marked: Marked, names: CellNames) -> CellMark | None:
    cell = next((each for each in marked.cells if ref_of(each) == ref and each.verdict is not Verdict.EXTRA), None)
    return _of_a_missing_row(ref, marked, names) if cell is None else cell


def _of_a_missing_row(ref: CellRef, marked: Marked, names: CellNames) -> CellMark | None:
    """What a row that is free, or holds what no rule asks for, could say: the first free one belongs to the first row
    that is missing, and so on, so that the cells of a row are answered alike.
    """
    used = {cell.row for cell in marked.cells if cell.verdict is not Verdict.EXTRA}
    free = [cell.row for cell in names if cell.question == ref.question and cell.row not in used]
    missing = [each for each in marked.cells if each.question == ref.question and each.verdict is Verdict.MISSING]
    place = free.index(ref.row) if ref.row in free else len(missing)
    return missing[place] if place < len(missing) else None


def answer_to(asked: AskedAbout, progress: Progress, scenario: Scenario) -> Answer:
    """The right value of a cell that was tried, and why it is that. What is right already stays as it is."""
    name, cell = asked.name, asked.cell
    if cell is None:
        return Answer(f"{name}: no more rows are needed.")
    if cell.verdict is Verdict.FOLLOWS:
        return Answer(f"{name} is right by your own plan. Put right first what it follows from.")
    if cell.verdict.is_full:
        return Answer(f"{name} is right as it stands.")
    if not _was_tried(asked.ref, progress):
        return Answer(f"{name}: try it first: write what you come to. If you do not know how, ask for its steps.")
    if not cell.expected and cell.given and cell.explanation is not None:
        return Answer(f"{name} is right by itself. {cell.explanation.explanation}")
    reason = _why(cell, scenario)
    because = f" ({reason})" if reason else ""
    return Answer(f"{name}: {cell.expected or '(nothing)'}{because}. Write it, and do the next row alone.", asked.ref)


def _was_tried(ref: CellRef, progress: Progress) -> bool:
    """Whether something was written there when a file was saved; in rows that are written freely, anywhere in the row."""
    is_open = SECTIONS[ref.section].open is not None
    return any(
        each.first is not None or each.tries
        for each in progress.seen
        if each.cell == ref or (is_open and each.cell.row == ref.row and each.cell.section == ref.section)
    )


def _why(cell: CellMark, scenario: Scenario) -> str:
    """In one line; of a row that was not written by the key, since such reasons name no value of the plan."""
    if cell.verdict is Verdict.MISSING:
        return QUESTIONS[cell.question].reason(scenario, SoFar(scenario), cell.row)
    return cell.explanation.derivation if cell.explanation else ""
