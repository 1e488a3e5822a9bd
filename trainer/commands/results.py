"""`trainer results SITTING`: writes the results of everything that was graded, as a workbook and as text for a gradebook."""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trainer.commands.one_run import one_run
from trainer.commands.reading import trainee_of
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Asked
from trainer.results.csv_text import csv_text
from trainer.results.grades import EXCUSED, TraineeGrade, common_mistakes, counting, facilities, standing
from trainer.sheets.results_book import write_results_book
from trainer.store import Sitting, write_file

__all__ = ["ClassResults", "read_results", "run", "write_results"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassResults:
    """What is known of a sitting's class: read once, then counted and written."""

    exercise: Exercise
    attempts: tuple[TraineeGrade, ...]
    """One for every lab of the sitting, handed in or not, in the order of the register."""
    damaged: tuple[tuple[str, str], ...]
    """Files of marks that cannot be read, as the sitting calls them, with the reasons; they count as not handed in."""

    @property
    def lines(self) -> tuple[TraineeGrade, ...]:
        """What stands in the results: a line a trainee, by group."""
        lines = counting(self.attempts, self.exercise.resits, self.exercise.pass_mark)
        return tuple(sorted(lines, key=lambda grade: grade.trainee.group))

    @property
    def trouble(self) -> str:
        """What is damaged, a line each; "" where nothing is."""
        return "\n".join(f"{file}: {reason}" for file, reason in self.damaged)


def run(folder: Path, *, decimal_comma: bool, as_json: bool) -> int:
    """Exit status 1 where marks could not be read or a file not written; the rest is written all the same."""
    sitting = Sitting.open(folder)
    with one_run(sitting):
        results = read_results(sitting)
        unwritten = write_results(sitting, results, sitting.not_graded(), decimal_comma=decimal_comma)
    grades = results.lines
    handed_in = sum(grade.marked is not None for grade in grades)
    if as_json:
        written = [file for file in (sitting.results_book, sitting.results_text) if file not in unwritten]
        files = [sitting.relative(file) for file in written]
        record = {"sitting": sitting.folder.name, "folder": str(sitting.folder.resolve()), "files": files}
        excused = sum(grade.absence == EXCUSED for grade in grades)
        counts = {"handed_in": handed_in, "excused": excused, "trainees": len(grades)}
        print(json.dumps(record | counts, ensure_ascii=False, indent=1))
    else:
        say(f"Results: {handed_in} handed in, {standing(grades)}.")
        say(f"  {sitting.results_book}")
        say(f"  {sitting.results_text}")
    troubles = [*unwritten.values(), *filter(None, [results.trouble])]
    for trouble in troubles:
        say(trouble, style="red", to=sys.stderr)
    return 1 if troubles else 0


def read_results(sitting: Sitting) -> ClassResults:
    """Everything that was graded of files that are still there, and whoever it is missing of."""
    register, stored = sitting.register(), sitting.all_grades()
    attempts, damaged = [], []
    for lab in register.labs:
        graded = stored.by_lab.get(lab.lab)
        attempts.append(
            TraineeGrade(
                trainee=trainee_of(sitting, lab),
                lab=lab.lab,
                marked=graded.marks if graded else None,
                notices=graded.notices if graded else (),
            )
        )
        if lab.lab in stored.damaged:
            reason = (
                f"The marks of {lab.trainee} cannot be read, so nothing counts as handed in. Run 'trainer grade "
                f"{sitting.folder}' again; if the file that was marked is gone, delete this one."
            )
            damaged.append((sitting.relative(stored.damaged[lab.lab]), reason))
    return ClassResults(exercise=register.exercise, attempts=tuple(attempts), damaged=tuple(damaged))


def write_results(
    sitting: Sitting, results: ClassResults, not_graded: Sequence[tuple[str, str]], *, decimal_comma: bool = False
) -> dict[Path, str]:
    """Writes results.xlsx and results.csv, by group and in the order of the register; gives what could not be written.

    It is given by file, with what to say about it.

    not_graded: files that could not be graded, as the sitting calls them, with the reasons.
    """
    exercise, grades = results.exercise, results.lines
    sections = [share.section for share in exercise.sections if share.asked is Asked.YES]
    data = write_results_book(
        f"{exercise.code}, {exercise.title}",
        exercise.pass_mark,
        sections,
        grades,
        facilities(results.attempts),
        common_mistakes(results.attempts),
        (*not_graded, *results.damaged),
    )
    text = csv_text(sections, grades, decimal_comma=decimal_comma).encode("utf-8-sig", errors="replace")
    troubles = {}
    for file, content in ((sitting.results_book, data), (sitting.results_text, text)):
        try:
            write_file(file, content)
        except TrainerError as fault:
            troubles[file] = str(fault)
    return troubles
