"""What a trainee gets back: the marked workbook and the feedback page, made of marks and of how much may be seen of them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from trainer.commands.printing import LabPage, Printing, write_page
from trainer.errors import TrainerError
from trainer.files import write_file
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.marking.marks import Marked
from trainer.pages.blocks import Document
from trainer.pages.feedback import feedback_document
from trainer.pages.html import Article, article
from trainer.results.grades import cap_note, cap_of
from trainer.sheets.marked_book import write_marked_book
from trainer.store import GradedLab, Sitting

__all__ = ["ToHandBack", "feedback_of", "hand_back", "hand_back_anew", "made_to_hand_back", "told_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToHandBack:
    """What is made of marks, to be written."""

    book: bytes
    page: Article
    told: tuple[str, ...]
    """What workbook and page say of the file and of the attempt."""


def made_to_hand_back(
    scenario: Scenario, marks: Marked, own: Sequence[str] | None, exercise: Exercise, *, full: bool
) -> ToHandBack:
    """Workbook and page of a lab, with as much as the exercise lets trainees see.

    own: what was odd about the trainee's own file. full: whether the page says on paper all that it says on a screen.
    """
    told = told_of(marks, own, scenario.trainee.attempt, exercise)
    reveal, to_pass = exercise.rules.reveal, exercise.to_pass
    return ToHandBack(
        book=write_marked_book(scenario, marks, told, reveal=reveal, to_pass=to_pass),
        page=article(feedback_of(scenario, marks, told, exercise, full=full)),
        told=told,
    )


def told_of(marks: Marked, own: Sequence[str] | None, attempt: int, exercise: Exercise) -> tuple[str, ...]:
    """What trainees read above their marks: what was odd about their own file, and what a capped re-sit counts.

    What is said to the instructor alone may name other trainees and their files; of marks from before the two were told
    apart, nothing is said.
    """
    note = cap_note(attempt, marks, cap_of(attempt, exercise.resits, exercise.pass_mark))
    return (*(own or ()), *filter(None, [note]))


def feedback_of(scenario: Scenario, marks: Marked, told: Sequence[str], exercise: Exercise, *, full: bool) -> Document:
    """The feedback page of a lab."""
    reveal, to_pass = exercise.rules.reveal, exercise.to_pass
    return feedback_document(scenario, marks, told, reveal=reveal, to_pass=to_pass, full=full)


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
