"""`trainer results SITTING`: writes the results of everything that was graded, as a workbook and as text for a gradebook."""

import json
from collections.abc import Sequence
from pathlib import Path

from trainer.commands.reading import trainee_of
from trainer.errors import TrainerError
from trainer.lab.scenario import Asked
from trainer.results.csv_text import csv_text
from trainer.results.grades import TraineeGrade, common_mistakes, counting, facilities
from trainer.sheets.results_book import write_results_book
from trainer.store import Sitting, write_file

__all__ = ["run", "write_results"]


def run(folder: Path, *, decimal_comma: bool, as_json: bool) -> int:
    sitting = Sitting.open(folder)
    grades = write_results(sitting, (), decimal_comma=decimal_comma)
    handed_in = sum(grade.marked is not None for grade in grades)
    if as_json:
        files = [sitting.relative(file) for file in (sitting.results_book, sitting.results_text)]
        record = {"sitting": sitting.folder.name, "folder": str(sitting.folder.resolve()), "files": files}
        print(json.dumps(record | {"handed_in": handed_in, "trainees": len(grades)}, ensure_ascii=False, indent=1))
        return 0
    print(f"Results of {handed_in} trainees, {len(grades) - handed_in} not handed in:")
    print(f"  {sitting.results_book}")
    print(f"  {sitting.results_text}")
    return 0


def write_results(
    sitting: Sitting, not_graded: Sequence[tuple[Path, str]], *, decimal_comma: bool = False
) -> tuple[TraineeGrade, ...]:
    """Writes results.xlsx and results.csv, by group and in the order of the register, and gives what stands in them.

    not_graded: files that could not be graded in this run, with the reasons.

    Raises TrainerError for the files that could not be written; the other one is.
    """
    register = sitting.register()
    known = sitting.all_grades()
    grades = []
    for lab in register.labs:
        graded = known.get(lab.lab)
        grades.append(
            TraineeGrade(
                trainee=trainee_of(sitting, lab),
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
    text = csv_text(sections, grades, decimal_comma=decimal_comma).encode("utf-8-sig", errors="replace")
    troubles = []
    for file, content in ((sitting.results_book, data), (sitting.results_text, text)):
        try:
            write_file(file, content)
        except TrainerError as fault:
            troubles.append(str(fault))
    if troubles:
        raise TrainerError("\n".join(troubles))
    return tuple(grades)
