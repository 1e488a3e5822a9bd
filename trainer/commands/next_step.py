"""`trainer` alone, or with a file or folder dragged onto it: says what it would do next, and asks before it does it."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from trainer.commands import check, grade, set_labs
from trainer.commands.continuing import sitting_to_set
from trainer.commands.reading import read_exercise_file
from trainer.commands.terminal import say
from trainer.errors import ExerciseProblems, TrainerError
from trainer.listing import how_many
from trainer.store import Sitting

__all__ = ["Step", "next_step", "run"]


@dataclass(frozen=True, slots=True)
class Step:
    """What comes next, and how it is done."""

    why: str
    command: str
    """What to type to have it without being asked."""
    do: Callable[[], int]


def run(place: Path, out: Path, *, ask: Callable[[str], str] | None = None) -> int | None:
    """Says the next step for a workbook or folder, and takes it if the answer is yes. None where there is none.

    ask: shows a question and gives the answer; None asks on the terminal, and nobody where there is no terminal.
    """
    step = next_step(place, out)
    if step is None:
        return None
    say(step.why)
    say(f"Next: {step.command}")
    if ask is None and not sys.stdin.isatty():
        return 0
    answer = (ask or input)("Do it now? [y/N] ")
    return step.do() if answer.strip().casefold() in ("y", "yes") else 0


def next_step(place: Path, out: Path) -> Step | None:
    """For a sitting's folder: grade. For an exercise workbook, or a folder with a single one: mend, set, or grade."""
    if place.is_dir() and Sitting(place).has_register:
        return _for_sitting(Sitting(place))
    file = place if place.is_file() else _only_workbook(place)
    if file is None:
        return None
    try:
        exercise = read_exercise_file(file)
    except ExerciseProblems as found:
        why = f"{file.name} is an exercise workbook with {found.counted}."
        return Step(why, f"trainer check {_quoted(file)}", lambda: check.run(file, as_json=False))
    sitting = Sitting(out / sitting_to_set(exercise, out))
    if sitting.has_register:
        return _for_sitting(sitting)
    why = f"{file.name} is an exercise workbook for {how_many(len(exercise.trainees), 'trainee')}, with no problems."
    return Step(
        why,
        f"trainer set {_quoted(file)}",
        lambda: set_labs.run(file, out, code=None, keys=None, as_json=False),
    )


def _for_sitting(sitting: Sitting) -> Step:
    labs, returned = len(sitting.register().labs), len(sitting.returned_files().files)
    why = f"Sitting {sitting.folder.name} is set for {how_many(labs, 'trainee')}; "
    why += "1 file has come back." if returned == 1 else f"{returned} files have come back."
    return Step(why, f"trainer grade {_quoted(sitting.folder)}", lambda: grade.run(sitting.folder, [], as_json=False))


def _only_workbook(folder: Path) -> Path | None:
    """The single exercise workbook of a folder; other workbooks beside it do not matter."""
    found = []
    for file in sorted(folder.glob("*.xlsx")):
        if file.name.startswith(("~$", ".")):
            continue
        try:
            read_exercise_file(file)
        except ExerciseProblems as problems:
            if any(problem.cell for problem in problems.problems):
                found.append(file)
        except TrainerError:
            continue
        else:
            found.append(file)
    return found[0] if len(found) == 1 else None


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)
