"""What `grade` says: a table, what is to be known of single files, or one JSON object."""

from collections.abc import Collection
from typing import Any

from trainer.commands.decisions import IdleDecision
from trainer.commands.graded import Graded
from trainer.commands.stray_marks import kept_in_words
from trainer.commands.terminal import in_one_line, say, say_table
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.listing import first_few
from trainer.marking.marks import CellMark, Marked, Verdict, exact, shown, too_many
from trainer.marking.overrides import Decision
from trainer.marking.said import Label, in_words, said
from trainer.results.class_report import parts_by_hand
from trainer.results.grades import TraineeGrade, cap_note, standing
from trainer.store import GradedLab, Sitting, cell_places

__all__ = ["json_of", "print_grades", "print_table"]

_EXPLAINS = frozenset({Label.DECISION, Label.REMARK, Label.EXPLANATION})
"""What other programs read as the explanation of a cell."""
_LONGEST_NAME = 32
"""Of a longer name the table shows the beginning."""
_NAMED = 8
"""Of files that were left aside so many are named."""


def print_table(sitting: Sitting, graded: Graded) -> None:
    """Prints what one run found."""
    now = {lab.trainee for lab in graded.labs}
    print_grades([line for line in graded.results.lines if line.trainee.id in now], graded.labs)
    for each in graded.not_graded:
        say(f"Not graded: {in_one_line(sitting.relative(each.file))}: {each.reason}", style="red")
    for change in graded.changed:
        of = "" if change.out_of == 100 else f" of {exact(change.out_of)}"
        say(f"Marks changed: {change.trainee} ({change.lab}) from {exact(change.old)} to {exact(change.new)}{of}")
    for lab in graded.anew:
        say(
            f"Marked anew: {lab.trainee} ({lab.lab}): {in_one_line(lab.file)} is not what it was when it was graded last."
        )
    if kept := kept_in_words(graded.kept):
        say(kept, style="yellow")
    if graded.archives:
        named = first_few([in_one_line(sitting.relative(each)) for each in graded.archives], _NAMED)
        say(f"Opened, without unpacking: {named}.")
    if graded.left_aside:
        named = first_few([in_one_line(sitting.relative(each)) for each in graded.left_aside], _NAMED)
        say(f"Left aside, as programs and systems leave such files: {named}.")
    if graded.beside:
        named = first_few([in_one_line(sitting.relative(each)) for each in graded.beside], _NAMED)
        say(f"Left aside, as a workbook lies beside it: {named}.")
    for decision in graded.idle:
        say(_without_effect(decision), style="yellow")
    if graded.silent_on_attempt:
        named = first_few(graded.silent_on_attempt, _NAMED)
        say(
            f"Decisions about {named} that name no attempt count for the first alone; for a re-sit write 2 into a column "
            "headed Attempt.",
            style="yellow",
        )
    for part in parts_by_hand(graded.results.lines):
        lacking = [
            _attempt_of(line)
            for line in graded.results.lines
            if line.marked is not None and line.lab in graded.wanted and line.by_hand(part) is None
        ]
        if lacking:
            say(f"No marks yet for {in_one_line(part)}: {first_few(lacking, _NAMED)}.", style="yellow")
    absent = standing([each for each in graded.results.lines if each.lab in graded.wanted])
    say(f"{len(graded.labs)} graded, {len(graded.not_graded)} not graded, {absent}.")
    say(f"  Marked workbooks and feedback pages: {sitting.marked}")
    if graded.written:
        first, *others = graded.written
        beside = "".join(f", and {each.name} beside it" for each in others)
        say(f"  Results: {first}{beside}")


def _without_effect(idle: IdleDecision) -> str:
    override = idle.override
    attempt = f", attempt {override.attempt}" if (override.attempt or 1) > 1 else ""
    return f"Decision without effect: {override.trainee}{attempt}, {_about(idle)}: {idle.why}."


def _about(idle: IdleDecision) -> str:
    override = idle.override
    if override.decision is Decision.USE_FILE:
        return "use this file"
    section = SECTIONS[override.section]
    heading = section.question(override.question).heading if override.question else "all"
    return f"{section.title}, {override.row or 'all'}, {heading}"


def _attempt_of(line: TraineeGrade) -> str:
    attempt = line.trainee.attempt
    return f"{line.trainee.id} (attempt {attempt})" if attempt > 1 else line.trainee.id


def print_grades(lines: Collection[TraineeGrade], labs: Collection[GradedLab]) -> None:
    """A table with a line a trainee, for the attempt that counts, then what is to be known of the files of this run."""
    handed_in = sorted((each for each in lines if each.marked is not None), key=lambda each: each.trainee.id)
    if not handed_in:
        return
    say_table(
        ("Id", "Name", "Per cent", "Right", "Weakest sheet"),
        [
            (line.trainee.id, _short(line.trainee.name), shown(line.percent), _right(marked), _weakest(marked))
            for line in handed_in
            if (marked := line.marked)
        ],
        numbers=("Per cent", "Right"),
    )
    for line in handed_in:
        assert line.marked is not None
        if note := cap_note(line.trainee.attempt, line.marked, line.most_per_cent):
            say(f"Capped: {line.trainee.id}: {note}", style="yellow")
        elif line.trainee.attempt > 1:
            say(f"Re-sit: {line.trainee.id}: attempt {line.trainee.attempt} counts.")
    for lab in sorted(labs, key=lambda each: each.trainee):
        for notice in lab.notices:
            say(f"Notice: {lab.file}: {notice}", style="yellow")


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 3]}..."


def _right(marked: Marked) -> str:
    asked = [cell for cell in marked.cells if cell.out_of]
    return f"{sum(cell.verdict.is_full for cell in asked)} of {len(asked)}{too_many(marked.cells)}"


def _weakest(marked: Marked) -> str:
    """The sheet with the smallest part of its marks."""
    short = [section for section in marked.sections if section.marks < section.out_of]
    if not short:
        return "-"
    return SECTIONS[min(short, key=lambda section: section.marks / section.out_of).section].title


def json_of(sitting: Sitting, graded: Graded) -> dict[str, Any]:
    """The form that other tools rest on ("What `--json` prints" in commands/__init__.py)."""
    return {
        "sitting": sitting.folder.name,
        "folder": str(sitting.folder.resolve()),
        "graded": [_lab_json(lab) for lab in graded.labs],
        "not_graded": [{"file": sitting.relative(each.file), "reason": each.reason} for each in graded.not_graded],
        "changed": [
            {"trainee": each.trainee, "lab": each.lab, "old": exact(each.old), "new": exact(each.new)}
            for each in graded.changed
        ],
        "anew": [lab.lab for lab in graded.anew],
        "kept": [
            {"trainee": each.trainee, "lab": each.lab, "file": each.file, "reason": each.reason} for each in graded.kept
        ],
        "archives": [sitting.relative(each) for each in graded.archives],
        "left_aside": [sitting.relative(each) for each in (*graded.left_aside, *graded.beside)],
        "without_effect": [
            {"trainee": each.override.trainee, "attempt": each.override.attempt, "about": _about(each), "why": each.why}
            for each in graded.idle
        ],
    }


def _lab_json(lab: GradedLab) -> dict[str, Any]:
    where = cell_places(lab)
    return {
        "lab": lab.lab,
        "trainee": lab.trainee,
        "file": lab.file,
        "marked": lab.marked,
        "marks": exact(lab.marks.marks),
        "out_of": exact(lab.marks.out_of),
        "percent": exact(lab.marks.percent),
        "works": lab.marks.works.as_record() if lab.marks.works else None,
        "notices": list(lab.notices),
        "sections": [
            {"section": each.section, "marks": exact(each.marks), "out_of": exact(each.out_of)}
            for each in lab.marks.sections
        ],
        "parts": [
            {"part": each.part, "marks": exact(each.marks), "out_of": exact(each.out_of), "comment": each.comment}
            for each in lab.marks.by_hand
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
        "marks": exact(cell.marks),
        "out_of": exact(cell.out_of),
        "mistake": cell.explanation.mistake if cell.explanation else None,
        "explanation": in_words(said((cell,), _EXPLAINS)) or None,
        **{label.code: texts.get(label) for label in (Label.CONSEQUENCE, Label.SEEN, Label.HINT)},
    }
