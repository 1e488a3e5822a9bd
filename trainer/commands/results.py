"""`trainer results SITTING`: writes the results of everything that was graded, as a workbook and as text for a gradebook."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from trainer.errors import TrainerError
from trainer.lab.scenario import Asked, Trainee
from trainer.results.csv_text import csv_text
from trainer.results.grades import TraineeGrade, common_mistakes, counting, facilities
from trainer.sheets.results_book import write_results_book
from trainer.store import RegisteredLab, Sitting, write_file

__all__ = ["run", "write_results"]


def run(folder: Path, *, decimal_comma: bool) -> int:
    sitting = Sitting.open(folder)
    grades = write_results(sitting, (), decimal_comma=decimal_comma)
    handed_in = sum(grade.marked is not None for grade in grades)
    print(f"Results of {handed_in} trainees, {len(grades) - handed_in} not handed in:")
    print(f"  {sitting.results_book}")
    print(f"  {sitting.results_text}")
    return 0


def write_results(
    sitting: Sitting, not_graded: Sequence[tuple[Path, str]], *, decimal_comma: bool = False
) -> tuple[TraineeGrade, ...]:
    """Writes results.xlsx and results.csv, by group and in the order of the register, and gives what stands in them.

    not_graded: files that could not be graded in this run, with the reasons.
    """
    register = sitting.register()
    known = sitting.all_grades()
    grades = []
    for lab in register.labs:
        graded = known.get(lab.lab)
        grades.append(
            TraineeGrade(
                trainee=_trainee(sitting, lab),
                lab=lab.lab,
                marked=graded.marks if graded else None,
                notices=graded.notices if graded else (),
            )
        )
    exercise = register.exercise
    everything = tuple(grades)
    grades = list(counting(grades, exercise.resits, exercise.pass_mark))
    grades.sort(key=lambda grade: grade.trainee.group)
    sections = [share.section for share in exercise.sections if share.asked is Asked.YES]
    data = write_results_book(
        f"{exercise.code}, {exercise.title}",
        exercise.pass_mark,
        sections,
        grades,
        facilities(everything),
        common_mistakes(everything),
        [(sitting.relative(file), reason) for file, reason in not_graded],
    )
    write_file(sitting.results_book, data)
    text = csv_text(sections, grades, decimal_comma=decimal_comma)
    write_file(sitting.results_text, text.encode("utf-8-sig"))
    return tuple(grades)


def _trainee(sitting: Sitting, lab: RegisteredLab) -> Trainee:
    """Whom a lab belongs to: by its scenario file, or by the register alone where that cannot be read."""
    try:
        trainee = sitting.scenario(lab.lab).trainee
    except TrainerError:
        trainee = Trainee(id=lab.trainee, attempt=lab.attempt)
    return replace(trainee, is_excused=lab.is_excused)
