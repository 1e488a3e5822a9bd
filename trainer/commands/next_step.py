"""`trainer` alone, or with a file or folder dragged onto it: says what may come next, and asks before it does it."""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from trainer.commands import check, exercises, grade, hand_back, key, results, set_labs, template
from trainer.commands.continuing import sitting_to_set
from trainer.commands.reading import read_exercise_file
from trainer.commands.terminal import say
from trainer.errors import ExerciseProblems, TrainerError
from trainer.lab.exercise import Exercise
from trainer.listing import first_few, how_many
from trainer.store import Sitting

__all__ = ["Situation", "Step", "run", "situation"]

_MOST = 8
"""Of exercise workbooks, of sittings and of new rows so many are told."""
_BEGIN_WITH = Path("exercise.xlsx")


@dataclass(frozen=True, slots=True)
class Step:
    """What may come next, and how it is done."""

    command: str
    """What to type to have it without being asked."""
    what: str
    do: Callable[[], int]


@dataclass(frozen=True, slots=True)
class Situation:
    """What there is, a line each, and the steps that may come next, the likeliest first."""

    told: tuple[str, ...]
    steps: tuple[Step, ...]


def run(place: Path, out: Path, *, ask: Callable[[str], str] | None = None) -> int:
    """Says what there is and what may come next, and takes the step that is chosen.

    ask: shows a question and gives the answer; None asks on the terminal, and nobody where there is no terminal.
    """
    found = situation(place, out)
    say(*found.told)
    if len(found.steps) == 1:
        say(f"Next: {found.steps[0].command}")
    elif found.steps:
        width = max(len(step.command) for step in found.steps)
        say("What you may do now:")
        say(*(f"  {number}  {step.command:<{width}}  {step.what}" for number, step in enumerate(found.steps, 1)))
    if not found.steps or (ask is None and not sys.stdin.isatty()):
        return 0
    many = len(found.steps) > 1
    answer = (ask or input)("A number does it, Enter alone nothing: " if many else "Do it now? [y/N] ").strip()
    if not many:
        return found.steps[0].do() if answer.casefold() in ("y", "yes") else 0
    if answer.isdecimal() and 1 <= int(answer) <= len(found.steps):
        return found.steps[int(answer) - 1].do()
    return 0


def situation(place: Path, out: Path) -> Situation:
    """For a sitting's folder, an exercise workbook, or a folder with any number of them and of sittings in out.

    Raises TrainerError for a file that is no exercise workbook.
    """
    if place.is_dir() and Sitting(place).has_register:
        return _of_sitting(Sitting(place))
    if not place.is_dir():
        return _of_workbook(place, out)
    parts = [_of_workbook(file, out) for file in _workbooks(place)[:_MOST]]
    others = [each for each in _sittings(out) if not any(_is_told(each, part) for part in parts)]
    parts += [_of_sitting(sitting) for sitting in others[:_MOST]]
    if len(parts) == 1:
        return parts[0]
    if parts:
        told = tuple(line for part in parts for line in part.told)
        first = parts[0].steps if len(parts) == 1 + len(others) else parts[0].steps[:1]
        return Situation(told, (*first, *(step for part in parts[1:] for step in part.steps[:1])))
    return Situation(
        (f"There is no exercise workbook in {place.resolve()}. trainer --help lists all commands.",),
        tuple(_to_begin_with()),
    )


def _is_told(sitting: Sitting, part: Situation) -> bool:
    return any(line.startswith(f"Sitting {sitting.folder.name} ") for line in part.told)


def _to_begin_with() -> Iterator[Step]:
    if not _BEGIN_WITH.exists():
        write = f"trainer template {_BEGIN_WITH}"
        yield Step(write, "a working exercise to make yours", lambda: template.run(_BEGIN_WITH))
    yield Step(
        "trainer exercises", "the ready-made exercises, and what they train", lambda: exercises.run(as_json=False)
    )


def _of_workbook(file: Path, out: Path) -> Situation:
    """Mend it, set it, or what comes after that."""
    try:
        exercise = read_exercise_file(file)
    except ExerciseProblems as found:
        told = f"{file.name} is an exercise workbook with {found.counted}."
        do = Step(
            f"trainer check {_quoted(file)}", "what to mend, cell by cell", lambda: check.run(file, as_json=False)
        )
        return Situation((told,), (do,))
    try:
        sitting = Sitting(out / sitting_to_set(exercise, out))
    except TrainerError as error:
        return Situation((f"{file.name}: {error}",), ())
    setting = Step(
        f"trainer set {_quoted(file)}",
        "a lab for everybody",
        lambda: set_labs.run(file, out, code=None, keys=None, as_json=False),
    )
    checking = Step(
        f"trainer check {_quoted(file)}", "what setting it will give", lambda: check.run(file, as_json=False)
    )
    if not sitting.has_register:
        told = (
            f"{file.name} is an exercise workbook for {how_many(len(exercise.trainees), 'trainee')}, with no problems."
        )
        return Situation((told,), (setting, checking))
    known = _of_sitting(sitting)
    new = _new_rows(exercise, sitting)
    if not new:
        anew = Step(setting.command, "set it again, after a change; labs that were handed out stay", setting.do)
        return Situation(known.told, (*known.steps, checking, anew))
    told = f"New on sheet Trainees of {file.name}: {first_few(new, _MOST)}."
    again = Step(setting.command, "a lab for the new ones, nobody else's changes", setting.do)
    return Situation((*known.told, told), (again, *known.steps, checking))


def _new_rows(exercise: Exercise, sitting: Sitting) -> list[str]:
    """Who has no lab yet."""
    known = {(lab.trainee, lab.attempt) for lab in sitting.register().labs}
    return [each.called for each in exercise.trainees if (each.id, each.attempt) not in known]


def _of_sitting(sitting: Sitting) -> Situation:
    labs, returned = sitting.register().labs, len(sitting.returned_files().files)
    trainees = len({lab.trainee for lab in labs})
    told = f"Sitting {sitting.folder.name} is set for {how_many(trainees, 'trainee')}"
    told += f" and {how_many(len(labs) - trainees, 're-sit')}; " if len(labs) > trainees else "; "
    told += "1 file has come back." if returned == 1 else f"{returned} files have come back."
    return Situation((told,), tuple(_steps_of(sitting, is_back=returned > 0)))


def _steps_of(sitting: Sitting, *, is_back: bool) -> Iterator[Step]:
    """is_back: whether something has come back."""
    folder = sitting.folder
    if is_back:
        yield Step(
            f"trainer grade {_quoted(folder)}", "marks what has come back", lambda: grade.run(folder, [], as_json=False)
        )
    if any(sitting.grades.glob("*.json")):
        yield Step(
            f"trainer results {_quoted(folder)}",
            "the results anew, from what was graded",
            lambda: results.run(folder, decimal_comma=False, as_json=False),
        )
        yield Step(
            f"trainer hand-back {_quoted(folder)}",
            "what each trainee may see, packed",
            lambda: hand_back.run(folder, named=False),
        )
    yield Step(f"trainer key {_quoted(folder)}", "keys to print", lambda: key.run(folder, None, as_json=False))


def _workbooks(folder: Path) -> list[Path]:
    """The exercise workbooks of a folder; other workbooks beside them do not matter."""
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
    return found


def _sittings(out: Path) -> list[Sitting]:
    """The sittings of classes; labs that somebody practises on are none."""
    files = sorted(out.glob("*/instructor/register.json"))
    return [Sitting(file.parents[1]) for file in files if not file.parents[1].name.startswith("practice-")]


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)
