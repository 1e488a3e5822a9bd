"""What a trainee gets back: the marked workbook and the feedback page, made of marks and of how much may be seen of them."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from trainer.commands.printing import Printing, write_pages
from trainer.errors import TrainerError
from trainer.files import write_file
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.pages.feedback import feedback_document
from trainer.results.grades import cap_note, cap_of
from trainer.sheets.marked_book import write_marked_book
from trainer.store import GradedLab, Sitting

__all__ = ["hand_back", "hand_back_anew", "told_of"]


def told_of(graded: GradedLab, attempt: int, exercise: Exercise) -> tuple[str, ...]:
    """What trainees read above their marks: what was odd about their own file, and what a capped re-sit counts.

    What is said to the instructor alone may name other trainees and their files; of marks from before the two were told
    apart, nothing is said.
    """
    cap = cap_of(attempt, exercise.resits, exercise.pass_mark)
    note = cap_note(attempt, graded.marks, cap)
    return (*(graded.own or ()), *filter(None, [note]))


def hand_back(
    sitting: Sitting, scenario: Scenario, graded: GradedLab, exercise: Exercise, printing: Printing
) -> tuple[GradedLab, list[str]]:
    """Writes workbook and page, with as much as the exercise lets trainees see.

    Gives the lab with what they show now, to be kept, and what could not be written, and why.
    """
    troubles = []
    reveal, to_pass = exercise.rules.reveal, exercise.to_pass
    told = told_of(graded, scenario.trainee.attempt, exercise)
    try:
        book = write_marked_book(scenario, graded.marks, told, reveal=reveal, to_pass=to_pass)
        write_file(sitting.marked_book(scenario), book, private=True)
    except TrainerError as error:
        troubles.append(str(error))
    page = feedback_document(scenario, graded.marks, told, reveal=reveal, to_pass=to_pass, full=printing.full)
    troubles += write_pages(sitting.feedback_page(scenario.trainee, graded.lab), [page], printing, private=True)
    return replace(graded, shown=None if troubles else reveal, to_pass=to_pass, told=told), troubles


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
        wanted = (exercise.rules.reveal, exercise.to_pass, told_of(graded, attempts[graded.lab], exercise))
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
