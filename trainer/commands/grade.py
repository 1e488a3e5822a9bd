"""`trainer grade SITTING [FILES]`: marks what came back, and explains every cell that is not right."""

import json
import sys
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from trainer.commands.handing_back import hand_back
from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, Printing
from trainer.commands.reading import labs_of_group
from trainer.commands.results import ClassResults, read_results, write_results
from trainer.commands.terminal import counted, in_one_line, say, say_table
from trainer.commands.watched_reader import watched_reader
from trainer.errors import OverrideProblems, TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Saved, Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Verdict, shown
from trainer.marking.overrides import Override, apply, has_effect
from trainer.marking.said import Label, in_words, said
from trainer.results.grades import standing
from trainer.sheets.intake import ReturnedBook
from trainer.sheets.overrides_book import read_overrides_book, write_overrides_book
from trainer.sheets.placement import LAB_LABEL, TRAINEE_LABEL
from trainer.sheets.returned_book import (
    is_answer_key,
    lab_number_in_name,
    lab_numbers_in,
    lab_numbers_shown,
    read_form,
    trainees_shown,
)
from trainer.store import (
    GradedLab,
    Register,
    Sitting,
    cell_places,
    files_in,
    lab_of,
    read_returned,
    time_saved,
    write_file,
)

__all__ = ["Graded", "NotGraded", "grade_sitting", "run"]


_EXPLAINS = frozenset({Label.DECISION, Label.REMARK, Label.EXPLANATION})
"""What other programs read as the explanation of a cell."""
_LONGEST_NAME = 32
"""Of a longer name the table shows the beginning."""


@dataclass(frozen=True, slots=True)
class NotGraded:
    """A file that could not be graded, and what to do about it."""

    file: Path
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedMarks:
    """Marks that came out otherwise than at the last grading."""

    lab: str
    trainee: str
    old: Decimal
    new: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """What one run found."""

    labs: tuple[GradedLab, ...]
    not_graded: tuple[NotGraded, ...]
    results: ClassResults
    """Of the whole class, as they are after this run."""
    wanted: frozenset[str]
    """The labs of the group that was asked for, or all."""
    changed: tuple[ChangedMarks, ...] = ()
    """Whose marks are not what they were when they were graded last."""
    idle: tuple[Override, ...] = ()
    """Decisions about one of the trainees that found no such cell, or another value in it."""
    written: tuple[Path, ...] = ()
    """The results page and workbook, where they could be written."""
    trouble: str = ""
    """Which files could not be written and why, and whose marks the results lack; "" where all is well."""


def run(
    folder: Path,
    files: Sequence[Path],
    *,
    as_json: bool,
    group: str | None = None,
    printing: Printing = ON_SCREEN,
) -> int:
    """Exit status 1 where a file could not be graded or written; all others are graded and written all the same."""
    sitting = Sitting.open(folder)
    with one_run(sitting):
        graded = grade_sitting(sitting, files, group=group, printing=printing)
    if as_json:
        print(json.dumps(_as_json(sitting, graded), ensure_ascii=False, indent=1))
    else:
        _print_table(sitting, graded)
    if graded.trouble:
        say(graded.trouble, style="red", to=sys.stderr)
    return 1 if graded.not_graded or graded.trouble or printing.is_short else 0


def grade_sitting(
    sitting: Sitting, files: Sequence[Path] = (), *, group: str | None = None, printing: Printing = ON_SCREEN
) -> Graded:
    """Grades the named files, or everything in returned/, and writes marked workbooks, pages and results.

    group: only the files of its trainees; those of others are left as they are.
    """
    troubles = list(_make_overrides_book(sitting))
    watched_reader.start()
    overrides = read_overrides(sitting)
    before = sitting.last_grades().by_lab
    register = sitting.register()
    wanted = frozenset(lab.lab for lab in labs_of_group(sitting, group))
    not_graded: list[NotGraded] = []
    found: dict[str, list[_Copy]] = {}
    named = [each for file in files for each in (list(files_in(file)) if file.is_dir() else [file])]
    with counted(named or list(sitting.returned_files()), "Reading files") as returned:
        for file in returned:
            try:
                lab, copy = _whose(sitting, register, file)
            except TrainerError as fault:
                not_graded.append(NotGraded(file, str(fault)))
            else:
                if lab in wanted:
                    found.setdefault(lab, []).append(copy)
    labs = []
    with counted(found.items(), "Marking") as handed_in:
        for lab, copies in handed_in:
            try:
                graded, unwritten = _grade(sitting, lab, copies, register.exercise, overrides, printing)
            except TrainerError as fault:
                not_graded.append(NotGraded(copies[-1].file, str(fault)))
            else:
                labs.append(graded)
                troubles += unwritten
    changed = tuple(
        ChangedMarks(lab=each.lab, trainee=each.trainee, old=before[each.lab].marks.marks, new=each.marks.marks)
        for each in labs
        if each.lab in before and before[each.lab].marks.marks != each.marks.marks
    )
    listed = tuple((sitting.relative(each.file), each.reason) for each in not_graded)
    if named:
        listed = (*_still_not_graded(sitting, named), *listed)
    results = read_results(sitting)
    troubles += [results.trouble] if results.trouble else []
    try:
        sitting.write_not_graded(listed)
    except TrainerError as fault:
        troubles.append(str(fault))
    unwritten_results = write_results(sitting, results, listed, printing=printing, group=group)
    troubles += unwritten_results.values()
    return Graded(
        labs=tuple(labs),
        not_graded=tuple(not_graded),
        results=results,
        wanted=wanted,
        changed=changed,
        idle=tuple(_idle(overrides, labs)),
        written=tuple(each for each in (sitting.results_page, sitting.results_book) if each not in unwritten_results),
        trouble="\n".join(dict.fromkeys(troubles)),
    )


def _still_not_graded(sitting: Sitting, named: Sequence[Path]) -> Iterator[tuple[str, str]]:
    """What earlier runs could not grade, of files that are still there and were not looked at now."""
    looked_at = {sitting.relative(file) for file in named}
    try:
        earlier = sitting.not_graded()
    except TrainerError:
        return  # it is written anew in a moment
    for file, reason in earlier:
        if file not in looked_at and (sitting.folder / file).exists():
            yield file, reason


def read_overrides(sitting: Sitting) -> tuple[Override, ...]:
    """The instructor's decisions; none where there is no workbook for them."""
    file = sitting.overrides_book
    if not file.exists():
        return ()
    labs = sitting.register().labs

    @cache
    def labs_of(trainee: str) -> tuple[Scenario, ...]:
        return tuple(_readable(sitting, [lab.lab for lab in labs if trainee in ("", lab.trainee)]))

    try:
        return read_overrides_book(read_returned(file), [lab.trainee for lab in labs], labs_of)
    except OverrideProblems as found:
        raise TrainerError(f"{file} has {found.counted}, so nothing was graded.\n{found}") from found
    except TrainerError as fault:
        raise TrainerError(f"{file}: {fault} Nothing was graded.") from fault


def _make_overrides_book(sitting: Sitting) -> Iterator[str]:
    """Makes an empty workbook for decisions where there is none; what to say where that failed."""
    if not sitting.overrides_book.exists():
        try:
            write_file(sitting.overrides_book, write_overrides_book(), private=True)
        except TrainerError as fault:
            yield str(fault)


def _readable(sitting: Sitting, labs: Collection[str]) -> Iterator[Scenario]:
    """The scenarios of the labs; damaged ones are passed over, they are spoken of where they are graded."""
    for lab in labs:
        try:
            yield sitting.scenario(lab)
        except TrainerError:
            continue


def _idle(overrides: Sequence[Override], labs: Sequence[GradedLab]) -> Iterator[Override]:
    """The decisions about one trainee, graded just now, that changed nothing."""
    cells: dict[str, list[CellMark]] = {}
    for lab in labs:
        cells.setdefault(lab.trainee, []).extend(lab.marks.cells)
    for override in overrides:
        if override.trainee in cells and not has_effect(override, cells[override.trainee]):
            yield override


@dataclass(frozen=True, slots=True, kw_only=True)
class _Copy:
    """A file that was read and whose lab is known."""

    file: Path
    saved_at: float
    book: ReturnedBook
    notices: tuple[str, ...]
    """What is to be said about whose it is."""


def _whose(sitting: Sitting, register: Register, file: Path) -> tuple[str, _Copy]:
    """The lab a file belongs to: by the number in its cells, else by the spares in it, else by its name."""
    data, saved_at = read_returned(file), time_saved(file)
    book = watched_reader.read(data)
    numbers = lab_numbers_in(book)
    named = lab_number_in_name(file.stem, [lab.lab for lab in register.labs])
    if not numbers and not named:
        raise TrainerError(
            f"No lab number was found in it. Write {LAB_LABEL!r} into cell A2 of any sheet and the number into B2, as in the "
            "workbook that was handed out."
        )
    own = [number for number in numbers if lab_of(register, number)] or ([] if numbers else [named])
    if not own:
        raise TrainerError(f"Lab {numbers[0]} is not of this sitting. {_of_which_sitting(sitting, numbers[0])}")
    shown = lab_numbers_shown(book)
    if len(own) > 1 and len(shown) == 1:
        raise TrainerError(
            f"All its sheets say lab {own[0]}, but it was handed out as lab {own[1]}. Ask whose answers these are. If they "
            f"are of {own[1]}, write {own[1]} on every sheet; if not, copy them into the workbook of {own[0]}."
        )
    if len(own) > 1:
        listed = ", ".join(f"{each} ({shown[each]})" if each in shown else each for each in own)
        raise TrainerError(f"It holds sheets of several labs: {listed}. Ask which one is meant and remove the others.")
    notices = tuple(_about_owner(register, own[0], named, book))
    return own[0], _Copy(file=file, saved_at=saved_at, book=book, notices=notices)


def _of_which_sitting(sitting: Sitting, number: str) -> str:
    """Where a lab is from that is not of this sitting: another one in the same folder, if it is there."""
    for other in sorted(sitting.folder.resolve().parent.glob("*/instructor/register.json")):
        neighbour = Sitting(other.parent.parent)
        if neighbour.has_lab(number):
            return f"It is of {neighbour.folder.name}: put the file into {neighbour.returned} and grade it there."
    return "It may belong to another one: grade it there, or ask for the right file."


def _about_owner(register: Register, lab: str, named: str, book: ReturnedBook) -> Iterator[str]:
    """What speaks against a file's being of the trainee it is graded for, and where the lab number was found if not in a cell."""
    owner = lab_of(register, lab)
    assert owner is not None
    if not lab_numbers_shown(book):
        where = "the spare in it" if lab in lab_numbers_in(book) else "its name"
        yield f"No sheet says a lab number; {lab} was taken from {where}. Check that it is of {owner.trainee}."
    elif named not in ("", lab):
        other = lab_of(register, named)
        yield (
            f"The name of the file says lab {named}{f' of {other.trainee}' if other else ''}, its sheets say {lab} of "
            f"{owner.trainee}, for whom it counts. Ask whose work it is."
        )
    ids = {each.trainee.casefold(): each.trainee for each in register.labs}
    shown = trainees_shown(book).items()
    others = [f"{ids[each]} ({at})" for each, at in shown if each in ids and ids[each] != owner.trainee]
    if others:
        yield (
            f"Beside {TRAINEE_LABEL} it says {', '.join(others)}, but lab {lab} is of {owner.trainee}, for whom it "
            "counts. Ask whose work it is."
        )


def _grade(
    sitting: Sitting,
    lab: str,
    copies: Sequence[_Copy],
    exercise: Exercise,
    overrides: Sequence[Override],
    printing: Printing,
) -> tuple[GradedLab, list[str]]:
    """Marks a lab's file and writes what belongs to it; gives also what could not be written, and why.

    Of several files the one saved first or last counts; an answer key only where there is nothing else.
    """
    own = [copy for copy in copies if not is_answer_key(copy.book)] or copies
    in_order = sorted(own, key=lambda copy: (copy.saved_at, copy.file.name))
    counting = in_order[0 if exercise.saved is Saved.FIRST else -1]
    file = counting.file
    scenario = sitting.scenario(lab)
    form = read_form(counting.book, scenario)
    notices = [*form.notices, *counting.notices]
    notices += _about_copies(sitting, copies, file, exercise.saved)
    marked = apply(mark(scenario, form.filled), scenario.trainee.id, overrides)
    graded = GradedLab(
        lab=lab,
        trainee=scenario.trainee.id,
        file=sitting.relative(file),
        marked=sitting.relative(sitting.marked_book(scenario)),
        notices=tuple(notices),
        where=tuple((cell.question, cell.row, sheet, name) for cell, (sheet, name) in form.where.items()),
        marks=marked,
    )
    graded, unwritten = hand_back(sitting, scenario, graded, exercise.rules.reveal, printing)
    sitting.write_grade(graded)
    return graded, unwritten


def _about_copies(sitting: Sitting, copies: Sequence[_Copy], file: Path, saved: Saved) -> Iterator[str]:
    """What the instructor should know of a lab's files, of which one counts."""

    def called(each: Path) -> str:
        return in_one_line(sitting.relative(each))

    keys = [called(each.file) for each in copies if is_answer_key(each.book)]
    others = [called(each.file) for each in copies if each.file != file and called(each.file) not in keys]
    if called(file) in keys:
        yield (
            f"THIS IS THE ANSWER KEY, not the trainee's work: {called(file)} says so in its titles. Take it out "
            "and grade again."
        )
    elif keys:
        yield f"{', '.join(keys)} is the ANSWER KEY and was not graded; take it out."
    if others:
        yield (
            f"Several files for this lab: {called(file)} was saved {saved.word} and counts, not {', '.join(others)}."
        )


def _print_table(sitting: Sitting, graded: Graded) -> None:
    print_grades(graded.labs, {each.lab: each.trainee.name for each in graded.results.attempts})
    for each in graded.not_graded:
        say(f"Not graded: {in_one_line(sitting.relative(each.file))}: {each.reason}", style="red")
    for change in graded.changed:
        say(f"Marks changed: {change.trainee} ({change.lab}) from {shown(change.old)} to {shown(change.new)}")
    for override in graded.idle:
        section = SECTIONS[override.section]
        cell = f"{section.title}, {override.row or 'all'}, {section.question(override.question).heading}"
        say(
            f"Decision without effect: {override.trainee}, {cell}: no such cell, or another value in it.",
            style="yellow",
        )
    absent = standing([each for each in graded.results.lines if each.lab in graded.wanted])
    say(f"{len(graded.labs)} graded, {len(graded.not_graded)} not graded, {absent}.")
    say(f"  Marked workbooks and feedback pages: {sitting.marked}")
    if graded.written:
        first, *others = graded.written
        beside = "".join(f", and {each.name} beside it" for each in others)
        say(f"  Results: {first}{beside}")


def print_grades(labs: Collection[GradedLab], names: Mapping[str, str]) -> None:
    """A table, then what is to be known of single files. names: of the trainees, by lab."""
    if not labs:
        return
    in_order = sorted(labs, key=lambda each: each.trainee)
    say_table(
        ("Id", "Name", "Per cent", "Right", "Weakest sheet"),
        [
            (lab.trainee, _short(names[lab.lab]), shown(lab.marks.percent), _right(lab), _weakest(lab))
            for lab in in_order
        ],
        numbers=("Per cent", "Right"),
    )
    for lab in in_order:
        for notice in lab.notices:
            say(f"Notice: {lab.file}: {notice}", style="yellow")


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 3]}..."


def _right(lab: GradedLab) -> str:
    asked = [cell for cell in lab.marks.cells if cell.out_of]
    return f"{sum(cell.verdict.is_full for cell in asked)} of {len(asked)}"


def _weakest(lab: GradedLab) -> str:
    """The sheet with the smallest part of its marks."""
    short = [section for section in lab.marks.sections if section.marks < section.out_of]
    if not short:
        return "-"
    return SECTIONS[min(short, key=lambda section: section.marks / section.out_of).section].title


def _as_json(sitting: Sitting, graded: Graded) -> dict[str, Any]:
    """The form that other tools rest on (DEVELOPERS.md, 'What --json prints')."""
    return {
        "sitting": sitting.folder.name,
        "folder": str(sitting.folder.resolve()),
        "graded": [_lab_json(lab) for lab in graded.labs],
        "not_graded": [{"file": sitting.relative(each.file), "reason": each.reason} for each in graded.not_graded],
        "changed": [
            {"trainee": each.trainee, "lab": each.lab, "old": shown(each.old), "new": shown(each.new)}
            for each in graded.changed
        ],
    }


def _lab_json(lab: GradedLab) -> dict[str, Any]:
    where = cell_places(lab)
    return {
        "lab": lab.lab,
        "trainee": lab.trainee,
        "file": lab.file,
        "marked": lab.marked,
        "marks": shown(lab.marks.marks),
        "out_of": shown(lab.marks.out_of),
        "percent": shown(lab.marks.percent),
        "notices": list(lab.notices),
        "sections": [
            {"section": each.section, "marks": shown(each.marks), "out_of": shown(each.out_of)}
            for each in lab.marks.sections
        ],
        "cells": [_cell_json(cell, where.get(CellRef(cell.question, cell.row))) for cell in lab.marks.cells],
    }


def _cell_json(cell: CellMark, at: tuple[str, str] | None) -> dict[str, Any]:
    if cell.verdict is Verdict.MISSING:
        at = None
    texts = {part.label: part.text for part in said((cell,))}
    return {
        "section": cell.section,
        "sheet": at[0] if at else SECTIONS[cell.section].title,
        "cell": at[1] if at else None,
        "row": cell.row,
        "question": cell.question,
        "given": cell.given,
        "expected": cell.expected,
        "verdict": cell.verdict.value,
        "marks": shown(cell.marks),
        "out_of": shown(cell.out_of),
        "mistake": cell.explanation.mistake if cell.explanation else None,
        "explanation": in_words(said((cell,), _EXPLAINS)) or None,
        **{label.code: texts.get(label) for label in (Label.CONSEQUENCE, Label.SEEN, Label.HINT)},
    }
