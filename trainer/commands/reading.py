"""What commands have in common when they read a file that was named on the command line."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from trainer.errors import TrainerError, UnreadableFile, did_you_mean
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Trainee
from trainer.listing import first_few
from trainer.sheets.exercise_book import read_exercise_book
from trainer.sheets.package import ASK_FOR_WORKBOOK
from trainer.store import RegisteredLab, Sitting, read_returned

__all__ = [
    "OwnBrief",
    "groups_of",
    "labs_named",
    "labs_of_group",
    "near_match",
    "of_group",
    "read_exercise_file",
    "read_own_brief",
    "refuse_outsiders",
    "trainee_of",
]


_MOST_NAMED = 8
"""Of all that there is, so many are named."""


def near_match(name: str, names: Collection[str]) -> str:
    """A sentence that offers the nearest of the names, with a blank in front; what there is, where none is near."""
    known = list(dict.fromkeys(each for each in names if each))
    return f" {did_you_mean(name, known) or f'There is: {first_few(known, _MOST_NAMED)}.'}"


def trainee_of(sitting: Sitting, lab: RegisteredLab, known: Trainee | None = None) -> Trainee:
    """Whom a lab belongs to: by its scenario file, or by the register alone where that cannot be read. known: by the file,
    where that has been read already.
    """
    try:
        trainee = known or sitting.scenario(lab.lab).trainee
    except TrainerError:
        trainee = Trainee(id=lab.trainee, attempt=lab.attempt)
    return replace(trainee, is_excused=lab.is_excused)


def labs_of_group(sitting: Sitting, group: str | None) -> tuple[RegisteredLab, ...]:
    """The labs of a group's trainees; all of them where group is None. Raises TrainerError for a group without any."""
    labs = sitting.register().labs
    if group is None:
        return labs
    ids = {trainee.id for trainee in of_group([trainee_of(sitting, lab) for lab in labs], group)}
    return tuple(lab for lab in labs if lab.trainee in ids)


def labs_named(sitting: Sitting, wanted: str) -> tuple[RegisteredLab, ...]:
    """The labs of that number, or of that trainee. Raises TrainerError where there is none."""
    labs = sitting.register().labs
    found = tuple(lab for lab in labs if wanted.casefold() in (lab.lab.casefold(), lab.trainee.casefold()))
    if not found:
        names = [*(lab.trainee for lab in labs), *(lab.lab for lab in labs)]
        raise TrainerError(
            f"No lab of this sitting has the number or the trainee {wanted!r}.{near_match(wanted, names)}"
        )
    return found


def groups_of(trainees: Iterable[Trainee]) -> tuple[str, ...]:
    """The groups that trainees are in, each as it is written first, in that order."""
    found: dict[str, str] = {}
    for each in trainees:
        if each.group:
            found.setdefault(each.group.casefold(), each.group)
    return tuple(found.values())


def of_group(trainees: Collection[Trainee], group: str) -> tuple[Trainee, ...]:
    """The trainees of a group, whatever case it is written in. Raises TrainerError where there are none."""
    found = tuple(each for each in trainees if each.is_of(group))
    if not found:
        groups = groups_of(trainees)
        there_is = (
            near_match(group, groups) if groups else " Nobody is in any: column Group of sheet Trainees is blank."
        )
        raise TrainerError(f"Nobody is in group {group!r}.{there_is}")
    return found


def refuse_outsiders(trainees: Collection[Trainee], group: str) -> None:
    """Raises TrainerError where somebody who was asked for by id is not in the group that was asked for as well."""
    for trainee in trainees:
        if not trainee.is_of(group):
            where = f"in group {trainee.group}" if trainee.group else "in no group"
            raise TrainerError(f"{trainee.id} is {where}, not in {group}. Leave out --group, or name somebody of it.")


def _to_begin_with(file: Path) -> str:
    return f"'trainer template {file}' writes one to begin with."


def read_exercise_file(file: Path) -> Exercise:
    """The exercise in a workbook. Raises TrainerError with the file's name in its words, ExerciseProblems for its cells."""
    if file.is_dir():
        raise TrainerError(f"{file} is a folder, not an exercise workbook. Give the .xlsx file itself.")
    if not file.is_file():
        meant = did_you_mean(file.name, sorted(each.name for each in file.parent.glob("*.xlsx")))
        raise TrainerError(f"There is no file {file}. {meant or _to_begin_with(file)}")
    try:
        return read_exercise_book(read_returned(file))
    except UnreadableFile as error:
        told = str(error).replace(ASK_FOR_WORKBOOK, "Name the exercise workbook itself, an .xlsx file.")
        raise UnreadableFile(f"{file}: {told}") from error


class OwnBrief(NamedTuple):
    """The brief of an exercise, in Markdown, and where it stands."""

    file: Path
    text: str


def read_own_brief(file: Path) -> OwnBrief | None:
    """The brief that stands beside an exercise workbook under its name; None where there is none.

    Raises TrainerError where it is no text.
    """
    brief = file.with_suffix(".md")
    if not brief.is_file():
        return None
    try:
        return OwnBrief(brief, brief.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise TrainerError(
            f"{brief} cannot be read as the exercise's brief: save it as text (UTF-8), or take it away."
        ) from error
