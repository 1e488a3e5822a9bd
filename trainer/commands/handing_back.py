"""What a trainee gets back is written, and written anew where it would show more or less now."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial

from trainer.commands.printing import LabPage, Printing, write_page
from trainer.commands.to_hand_back import ToHandBack, feedback_of, made_to_hand_back, told_of
from trainer.errors import TrainerError
from trainer.files import write_file
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.store import GradedLab, Sitting

__all__ = ["hand_back", "hand_back_anew"]


def hand_back(
    sitting: Sitting,
    scenario: Scenario,
    graded: GradedLab,
    exercise: Exercise,
    printing: Printing,
    to_hand_back: ToHandBack | None = None,
) -> tuple[GradedLab, list[str]]:
    """Writes workbook and page, with as much as the exercise lets trainees see.

    to_hand_back: where they have been made already.

    Gives the lab with what they show now, to be kept, and what could not be written, and why.
    """
    made = to_hand_back or made_to_hand_back(scenario, graded.marks, graded.own, exercise, full=printing.full)
    troubles = []
    try:
        write_file(sitting.marked_book(scenario), made.book, private=True)
    except TrainerError as error:
        troubles.append(str(error))
    page = LabPage(made.page, partial(feedback_of, scenario, graded.marks, made.told, exercise, full=printing.full))
    troubles += write_page(sitting.feedback_page(scenario.trainee, graded.lab), page, printing)
    shown = None if troubles else exercise.rules.reveal
    return replace(graded, shown=shown, to_pass=exercise.to_pass, told=made.told), troubles


def hand_back_anew(
    sitting: Sitting,
    labs: Iterable[GradedLab],
    attempts: Mapping[str, int],
    exercise: Exercise,
    printing: Printing,
    *,
    also_missing: bool = False,
) -> Iterator[str]:
    """Writes anew what shows more or less than trainees may see now, or tells of another rule for a pass or a re-sit.
    Nothing is marked anew.

    attempts: by lab. also_missing: and what is not there any more.

    Labs that cannot be read are passed over. Gives what could not be written, and why.
    """
    for graded in labs:
        wanted = (
            exercise.rules.reveal,
            exercise.to_pass,
            told_of(graded.marks, graded.own, attempts[graded.lab], exercise),
        )
        is_as_wanted = (graded.shown, graded.to_pass, graded.told) == wanted
        if is_as_wanted and not also_missing:
            continue
        try:
            scenario = sitting.scenario(graded.lab)
        except TrainerError:
            continue
        page = sitting.feedback_page(scenario.trainee, graded.lab)
        files = (sitting.marked_book(scenario), page, *((page.with_suffix(".pdf"),) if printing.pdf else ()))
        if is_as_wanted and all(file.exists() for file in files):
            continue
        shown, troubles = hand_back(sitting, scenario, graded, exercise, printing)
        yield from troubles
        try:
            sitting.write_grade(shown)
        except TrainerError as error:
            yield str(error)
