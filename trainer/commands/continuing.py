"""Which sitting `set` goes on with, and what its labs say otherwise since they were drawn: date, minutes, places."""

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.lab.announced import announced_changes, lab_as_announced
from trainer.lab.exercise import Exercise
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario, Trainee
from trainer.store import Register, Sitting

__all__ = ["Agree", "ask_on_terminal", "sitting_code", "sitting_to_set", "take_over", "to_take_over"]

Agree = Callable[[Sequence[str]], bool]
"""Shown what has changed, whether that is to be taken over."""


def sitting_code(exercise: Exercise) -> str:
    """The exercise code and the sitting's date: the one written in the workbook, else today's."""
    when = re.sub(r"[^a-z0-9]+", "-", exercise.date.casefold()).strip("-")
    return f"{exercise.code}-{when[:30] or datetime.now().astimezone().date().isoformat()}"


def sitting_to_set(exercise: Exercise, out: Path) -> str:
    """The name of the sitting that the exercise is meant for where none is named: one of its date; with a blank date the one
    that was set before; with another date one that was set before for some of the same trainees; else a new one.

    Raises TrainerError where several may be meant.
    """
    code = sitting_code(exercise)
    if Sitting(out / code).has_register:
        return code
    before = list(_set_before(exercise, out))
    ids = {each.id for each in exercise.trainees}
    if exercise.date:
        of_date = [each for each in before if each[1].exercise.date == exercise.date]
        before = of_date or [each for each in before if ids & {lab.trainee for lab in each[1].labs}]
    if len(before) > 1:
        listed = ", ".join(sitting.folder.name for sitting, _ in before)
        raise TrainerError(
            f"Several sittings of {exercise.code} were set before: {listed}. Say which one is meant, or name a new one: "
            "--sitting CODE."
        )
    return before[0][0].folder.name if before else code


def _set_before(exercise: Exercise, out: Path) -> Iterator[tuple[Sitting, Register]]:
    """The sittings of an exercise that bear its code and a date as `set` names them; those that cannot be read are left out."""
    for file in sorted(out.glob(f"{exercise.code}-*/instructor/register.json")):
        sitting = Sitting(file.parents[1])
        try:
            register = sitting.register()
        except TrainerError:
            continue
        if register.exercise.code == exercise.code:
            yield sitting, register


def ask_on_terminal(changes: Sequence[str]) -> bool:
    """Shows the changes and asks whether they are to be taken over."""
    say("The sitting is there already, and the workbook says something else now:", *(f"  {each}" for each in changes))
    say("Labs and keys stay what they are; workbooks, handouts and keys are written anew with it.")
    return input("Take it over? [y/N] ").strip().casefold() in ("y", "yes")


def to_take_over(sitting: Sitting, register: Register, roll: Collection[Trainee], agree: Agree) -> tuple[Scenario, ...]:
    """The labs that were set and have to say something else now, as they have to be; none where nothing has changed.

    register: with the exercise as it is now. Raises TrainerError where there is something to be taken over and it is not
    agreed to.
    """
    if not sitting.has_register:
        return ()
    kept = sitting.register()
    now = register.exercise
    rows = {each.id: each for each in reversed(list(roll))}
    changed: list[Scenario] = []
    changes = list(announced_changes(kept.exercise, now))
    for lab in kept.labs:
        if not sitting.has_lab(lab.lab):
            continue
        try:
            before = sitting.scenario(lab.lab)
        except TrainerError:
            continue  # it is told where it is set
        after = lab_as_announced(before, kept.common, now, rows.get(lab.trainee))
        if after != before:
            changed.append(after)
            extra = before.trainee.extra_minutes, after.trainee.extra_minutes
            if extra[0] != extra[1]:
                changes.append(f"Extra minutes of {lab.trainee}: {extra[0]} becomes {extra[1]}.")
    if changes and not agree(changes):
        raise TrainerError(
            f"{sitting.folder} was set before, and the workbook says something else now. {' '.join(changes)} Labs may be handed "
            "out already, so nothing was written. To take it over set again with --yes; for a sitting of its own with "
            "--sitting CODE."
        )
    return tuple(changed)


def take_over(sitting: Sitting, changed: Iterable[Scenario]) -> None:
    """Keeps labs as they have to be now. Their workbooks are taken away, to be written anew. The lab itself comes last:
    whatever breaks that off, setting again does it all. Raises TrainerError where a file cannot be taken away or written.
    """
    for scenario in changed:
        for file in (sitting.handout_file(scenario), sitting.key_file(scenario)):
            _remove(file)
        sitting.write_lab(scenario, derive_key(scenario), sitting.lab(scenario.lab_number).trials)


def _remove(file: Path) -> None:
    try:
        file.unlink(missing_ok=True)
    except OSError as error:
        raise TrainerError(
            f"{file} cannot be written anew ({error.strerror}). Close it if another program has it open, and set again."
        ) from error
