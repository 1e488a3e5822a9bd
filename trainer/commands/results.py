"""`trainer results SITTING`: writes the results of everything that was graded, as a workbook and as text for a gradebook."""

import json
from collections.abc import Sequence
from pathlib import Path

from trainer.commands.reading import trainee_of
from trainer.errors import TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Asked
from trainer.results.csv_text import csv_text
from trainer.results.grades import EXCUSED, TraineeGrade, common_mistakes, counting, facilities, standing
from trainer.sheets.results_book import write_results_book
from trainer.store import Sitting, write_file

__all__ = ["every_attempt", "result_lines", "run", "write_results"]


def run(folder: Path, *, decimal_comma: bool, as_json: bool) -> int:
    sitting = Sitting.open(folder)
    grades = write_results(sitting, sitting.not_graded(), decimal_comma=decimal_comma)
    handed_in = sum(grade.marked is not None for grade in grades)
    excused = sum(grade.absence == EXCUSED for grade in grades)
    if as_json:
        files = [sitting.relative(file) for file in (sitting.results_book, sitting.results_text)]
        record = {"sitting": sitting.folder.name, "folder": str(sitting.folder.resolve()), "files": files}
        counts = {"handed_in": handed_in, "excused": excused, "trainees": len(grades)}
        print(json.dumps(record | counts, ensure_ascii=False, indent=1))
        return 0
    print(f"Results: {handed_in} handed in, {standing(grades)}.")
    print(f"  {sitting.results_book}")
    print(f"  {sitting.results_text}")
    return 0


def write_results(
    sitting: Sitting, not_graded: Sequence[tuple[str, str]], *, decimal_comma: bool = False
) -> tuple[TraineeGrade, ...]:
    """Writes results.xlsx and results.csv, by group and in the order of the register, and gives what stands in them.

    not_graded: files that could not be graded, as the sitting calls them, with the reasons.

    Raises TrainerError for the files that could not be written; the other one is.
    """
    exercise = sitting.register().exercise
    everything = every_attempt(sitting)
    grades = result_lines(everything, exercise)
    sections = [share.section for share in exercise.sections if share.asked is Asked.YES]
    data = write_results_book(
        f"{exercise.code}, {exercise.title}",
        exercise.pass_mark,
        sections,
        grades,
        facilities(everything),
        common_mistakes(everything),
        not_graded,
    )
    text = csv_text(sections, grades, decimal_comma=decimal_comma).encode("utf-8-sig", errors="replace")
    troubles = []
    for file, content in ((sitting.results_book, data), (sitting.results_text, text)):
        try:
            write_file(file, content)
        except TrainerError as fault:
            troubles.append(str(fault))
    if troubles:
        raise TrainerError("\n".join(troubles))
    return grades


def every_attempt(sitting: Sitting) -> tuple[TraineeGrade, ...]:
    """A grade for every lab of the sitting, handed in or not, in the order of the register."""
    known = sitting.all_grades()
    grades = []
    for lab in sitting.register().labs:
        graded = known.get(lab.lab)
        grades.append(
            TraineeGrade(
                trainee=trainee_of(sitting, lab),
                lab=lab.lab,
                marked=graded.marks if graded else None,
                notices=graded.notices if graded else (),
            )
        )
    return tuple(grades)


def result_lines(attempts: Sequence[TraineeGrade], exercise: Exercise) -> tuple[TraineeGrade, ...]:
    """What stands in the results: a line a trainee, by group."""
    lines = counting(attempts, exercise.resits, exercise.pass_mark)
    return tuple(sorted(lines, key=lambda grade: grade.trainee.group))
