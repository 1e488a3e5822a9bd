"""`trainer results SITTING`: writes the results of everything that was graded, as a workbook, as a page and as text for a
gradebook.
"""

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

from trainer.commands.decisions import read_overrides
from trainer.commands.handing_back import hand_back_anew
from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, LabPage, Printing, write_class_file, write_pages
from trainer.commands.reading import groups_of, trainee_of
from trainer.commands.stray_marks import StrayMarks, kept_in_words, stray_marks
from trainer.commands.terminal import say
from trainer.commands.to_hand_back import feedback_of, told_of
from trainer.errors import TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Trainee
from trainer.marking.marks import exact
from trainer.marking.overrides import Override, parts_by_hand_of
from trainer.pages.blocks import Document
from trainer.pages.html import Article, article
from trainer.pages.results import results_document
from trainer.results.class_report import ClassReport, class_report, lines_of
from trainer.results.csv_text import csv_text
from trainer.results.grades import EXCUSED, TraineeGrade, standing
from trainer.sheets.results_book import write_results_book
from trainer.store import GradedLab, Sitting, StoredGrades, write_file

__all__ = ["ClassResults", "read_results", "run", "write_results"]

NO_PAGES: Mapping[str, Article] = {}
NOBODY: Mapping[str, Trainee] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassResults:
    """What is known of a sitting's class: read once, then counted and written."""

    exercise: Exercise
    attempts: tuple[TraineeGrade, ...]
    """One for every lab of the sitting, handed in or not, in the order of the register."""
    graded: tuple[GradedLab, ...]
    """What was graded, wherever the files are now."""
    damaged: tuple[tuple[str, str], ...]
    """Files of marks that cannot be read, as the sitting calls them, with the reasons; they count as not handed in."""
    kept: tuple[StrayMarks, ...] = ()
    """Marks whose file is gone or is another one; they count."""
    pages: Mapping[str, Article] = field(default_factory=dict)
    """The feedback pages that have been made in this run, by lab."""

    @property
    def lines(self) -> tuple[TraineeGrade, ...]:
        """What stands in the results: a line a trainee, by group."""
        return lines_of(self.exercise, self.attempts)

    @property
    def trouble(self) -> str:
        """What is damaged, a line each; "" where nothing is."""
        return "\n".join(f"{file}: {reason}" for file, reason in self.damaged)


def run(folder: Path, *, decimal_comma: bool, as_json: bool, printing: Printing = ON_SCREEN) -> int:
    """Exit status 1 where marks could not be read or a file not written; the rest is written all the same."""
    sitting = Sitting.open(folder)
    with one_run(sitting):
        results = read_results(sitting)
        unwritten = write_results(
            sitting, results, sitting.not_graded(), decimal_comma=decimal_comma, printing=printing
        )
    grades = results.lines
    handed_in = sum(grade.marked is not None for grade in grades)
    every = (sitting.results_book, sitting.results_page, sitting.results_text)
    written = [file for file in every if file not in unwritten]
    if as_json:
        files = [sitting.relative(file) for file in written]
        record = {"sitting": sitting.folder.name, "folder": str(sitting.folder.resolve()), "files": files}
        excused = sum(grade.absence == EXCUSED for grade in grades)
        counts = {"handed_in": handed_in, "excused": excused, "trainees": len(grades), "lines": _as_json(results)}
        kept = [
            {"trainee": each.trainee, "lab": each.lab, "file": each.file, "reason": each.reason}
            for each in results.kept
        ]
        print(json.dumps(record | counts | {"kept": kept}, ensure_ascii=False, indent=1))
    else:
        say(f"Results: {handed_in} handed in, {standing(grades)}.")
        for file in written:
            say(f"  {file}")
        if told := kept_in_words(results.kept):
            say(told, style="yellow")
    troubles = [*unwritten.values(), *filter(None, [results.trouble])]
    for trouble in troubles:
        say(trouble, style="red", to=sys.stderr)
    return 1 if troubles or printing.is_short else 0


def _as_json(results: ClassResults) -> list[dict[str, Any]]:
    """The attempt of each trainee that counts, of those who have handed in."""
    exercise = results.exercise
    return [
        {
            "trainee": line.trainee.id,
            "lab": line.lab,
            "percent": exact(line.percent),
            "passed": line.has_passed(exercise.pass_mark, exercise.must_work),
            "works": line.works.as_record() if line.works else None,
        }
        for line in results.lines
        if line.marked is not None
    ]


def read_results(
    sitting: Sitting,
    stored: StoredGrades | None = None,
    pages: Mapping[str, Article] = NO_PAGES,
    trainees: Mapping[str, Trainee] = NOBODY,
) -> ClassResults:
    """Everything that was graded, whatever became of the files since, and whoever it is missing of.

    stored: what was graded, where that is known. pages: the feedback pages that have been made in this run; trainees: those
    whose scenarios were read in it; both by lab.
    """
    register, stored = sitting.register(), stored or sitting.last_grades()
    kept = stray_marks(sitting, stored.by_lab.values())
    astray = {each.lab: each.notice for each in kept}
    attempts, damaged = [], []
    decided = _decisions(sitting)
    for lab in register.labs:
        graded = stored.by_lab.get(lab.lab)
        if lab.has_left and graded is None and lab.lab not in stored.damaged:
            continue
        attempts.append(
            TraineeGrade(
                trainee=trainee_of(sitting, lab, trainees.get(lab.lab)),
                lab=lab.lab,
                marked=graded.marks if graded else None,
                notices=(*graded.notices, *filter(None, [astray.get(lab.lab)])) if graded else (),
                parts=() if graded else parts_by_hand_of(lab.trainee, lab.attempt, decided),
            )
        )
        if lab.lab in stored.damaged:
            reason = (
                f"The marks of {lab.trainee} cannot be read, so nothing counts as handed in. Run 'trainer grade "
                f"{sitting.folder}' again; if the file that was marked is gone, delete this one."
            )
            damaged.append((sitting.relative(stored.damaged[lab.lab]), reason))
    return ClassResults(
        exercise=register.exercise,
        attempts=tuple(attempts),
        graded=tuple(stored.by_lab[each.lab] for each in register.labs if each.lab in stored.by_lab),
        damaged=tuple(damaged),
        kept=tuple(kept),
        pages=pages,
    )


def _decisions(sitting: Sitting) -> tuple[Override, ...]:
    """The instructor's decisions; none where they cannot be read, which `grade` tells."""
    try:
        return read_overrides(sitting)
    except TrainerError:
        return ()


def write_results(
    sitting: Sitting,
    results: ClassResults,
    not_graded: Sequence[tuple[str, str]],
    *,
    decimal_comma: bool = False,
    printing: Printing = ON_SCREEN,
    group: str | None = None,
) -> dict[Path, str]:
    """Writes results as workbook, page and text, by group and in the order of the register, and the class file of all feedback
    in the same order (unless the class is too large for one), of a group that was asked for too. Gives by file what could not
    be written, and why.

    What trainees got back is written anew where it shows more or less than they may see now, or another rule for a pass.

    not_graded: files that could not be graded, as the sitting calls them, with the reasons.
    """
    report = class_report(results.exercise, results.attempts, (*not_graded, *results.damaged))
    text = csv_text(report.sections, report.parts, report.lines, decimal_comma=decimal_comma)
    troubles = {}
    attempts = {each.lab: each.trainee.attempt for each in results.attempts}
    if told := list(hand_back_anew(sitting, results.graded, attempts, results.exercise, printing)):
        troubles[sitting.marked] = "\n".join(told)
    for file, content in (
        (sitting.results_book, write_results_book(report)),
        (sitting.results_text, text.encode("utf-8-sig", errors="replace")),
    ):
        try:
            write_file(file, content, private=True)
        except TrainerError as error:
            troubles[file] = str(error)
    page = results_document(report, _feedback_pages(sitting, results.attempts))
    if told := write_pages(sitting.results_page, [page], printing, private=True):
        troubles[sitting.results_page] = "\n".join(told)
    return troubles | _write_class_files(sitting, results, report, printing, group)


def _write_class_files(
    sitting: Sitting, results: ClassResults, report: ClassReport, printing: Printing, group: str | None
) -> dict[Path, str]:
    """The feedback of the class in one file, and of the groups that have or want one of their own; what could not be written."""
    troubles = {}
    graded = {each.lab: each for each in results.graded}
    printed = _printed_groups(sitting, report.lines)
    files = {sitting.class_file("feedback", each): each for each in (None, group, *printed)}
    title = f"Feedback {report.title}"
    for file, each in files.items():
        labs = [graded[line.lab] for line in report.handed_in if line.trainee.is_of(each)]
        pages = _feedback(sitting, labs, results, full=printing.full)
        if told := write_class_file(file, pages, len(labs), printing, title=title):
            troubles[file] = "\n".join(told)
    return troubles


def _printed_groups(sitting: Sitting, lines: Sequence[TraineeGrade]) -> Iterator[str]:
    """The groups whose feedback an earlier run has put into a file of its own."""
    for group in groups_of(line.trainee for line in lines):
        if sitting.class_file("feedback", group).exists():
            yield group


def _feedback(sitting: Sitting, labs: Sequence[GradedLab], results: ClassResults, *, full: bool) -> Iterator[LabPage]:
    """The feedback of those who have handed in; without those whose lab cannot be read."""
    for graded in labs:
        try:
            make = partial(_feedback_document, sitting, graded, results.exercise, full=full)
            yield LabPage(results.pages.get(graded.lab) or article(make()), make)
        except TrainerError:
            continue


def _feedback_document(sitting: Sitting, graded: GradedLab, exercise: Exercise, *, full: bool) -> Document:
    scenario = sitting.scenario(graded.lab)
    told = told_of(graded.marks, graded.own, scenario.trainee.attempt, exercise)
    return feedback_of(scenario, graded.marks, told, exercise, full=full)


def _feedback_pages(sitting: Sitting, attempts: Sequence[TraineeGrade]) -> dict[str, str]:
    """The feedback pages that are there, by lab, as they are called from the results page."""
    pages = {each.lab: sitting.feedback_page(each.trainee, each.lab) for each in attempts}
    return {lab: quote(sitting.relative(page)) for lab, page in pages.items() if page.exists()}
