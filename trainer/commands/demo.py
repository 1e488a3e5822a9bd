"""`trainer demo`: the whole job on real files, to look at: set, fill in, grade."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from faker import Faker

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.commands.exercises import EXERCISES
from trainer.commands.grade import grade_sitting
from trainer.commands.grade_told import print_grades
from trainer.commands.one_run import one_run
from trainer.commands.reading import read_exercise_file, read_own_brief
from trainer.commands.set_labs import set_sitting
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.lab.scenario import Trainee
from trainer.sheets.filling import fill_in
from trainer.store import Sitting, write_file

__all__ = ["run"]

CODE = "demo"


def run(out: Path) -> int:
    """Sets a class of eight from exercises/, fills the workbooks in, grades them and says what to look at."""
    file = EXERCISES / "two-switches.xlsx"
    if not file.is_file():
        raise TrainerError(f"The demo needs {file}, which comes with the program: install it again.")
    exercise = replace(read_exercise_file(file), trainees=_class())
    sitting = Sitting(out / CODE)
    with one_run(sitting):
        labs = set_sitting(exercise, sitting, read_own_brief(file))
    _refuse_troubles(lab.trouble for lab in labs)
    say(
        f"Set {len(labs)} labs of {exercise.code} ({exercise.title}), each key proved by {labs[0].trials} trials or so."
    )
    for lab, filling in zip(labs, FILLINGS, strict=True):
        texts = filling.fill(lab.scenario, key_texts(lab.scenario))
        returned = sitting.returned / f"{lab.scenario.trainee.id} handed in.xlsx"
        write_file(returned, fill_in(lab.workbook.read_bytes(), lab.scenario, texts))
    say("Eight invented trainees filled them in:")
    for lab, filling in zip(labs, FILLINGS, strict=True):
        say(f"  {lab.scenario.trainee.id}  {filling.shows}")
    say()
    with one_run(sitting):
        graded = grade_sitting(sitting)
    _refuse_troubles([graded.trouble])
    print_grades(graded.results.lines, graded.labs)
    fifth = labs[4].scenario
    say()
    say("Look at:")
    for what, path in (
        ("a workbook as it is handed out", labs[0].workbook),
        ("its handout to print", sitting.handout_page(labs[0].scenario)),
        ("its key", labs[0].key),
        ("a marked workbook", sitting.marked_book(fifth)),
        ("its feedback page", sitting.feedback_page(fifth.trainee, fifth.lab_number)),
        ("the results", sitting.results_page),
        ("the same as a workbook", sitting.results_book),
        ("the exercise itself", file),
    ):
        say(f"  {what + ':':<32} {path}")
    return 0


def _refuse_troubles(troubles: Iterable[str]) -> None:
    """Raises TrainerError where a file could not be written: the demo shows all of them."""
    found = list(filter(None, troubles))
    if found:
        raise TrainerError("\n".join(found))


def _class() -> tuple[Trainee, ...]:
    """Eight invented people, the same at every run."""
    fake = Faker(["en_GB", "fr_FR", "pl_PL", "sv_SE"])
    fake.seed_instance(20)
    return tuple(
        Trainee(
            id=f"t{number:02}", name=f"{fake.first_name()} {fake.last_name()}", group="Mon" if number < 5 else "Thu"
        )
        for number in range(1, len(FILLINGS) + 1)
    )
