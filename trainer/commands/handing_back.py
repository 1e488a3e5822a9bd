"""What a trainee gets back: the marked workbook and the feedback page, made of marks and of how much may be seen of them."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from trainer.commands.printing import Printing, write_pages
from trainer.errors import TrainerError
from trainer.files import write_file
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.pages.feedback import feedback_document
from trainer.pages.pdf import can_make_pdf
from trainer.sheets.marked_book import write_marked_book
from trainer.store import GradedLab, Sitting

__all__ = ["hand_back", "hand_back_anew"]


def hand_back(
    sitting: Sitting, scenario: Scenario, graded: GradedLab, exercise: Exercise, printing: Printing
) -> tuple[GradedLab, list[str]]:
    """Writes workbook and page, with as much as the exercise lets trainees see.

    Gives the lab with what they show now, to be kept, and what could not be written, and why.
    """
    troubles = []
    reveal, to_pass = exercise.rules.reveal, exercise.to_pass
    try:
        book = write_marked_book(scenario, graded.marks, graded.notices, reveal=reveal, to_pass=to_pass)
        write_file(sitting.marked_book(scenario), book, private=True)
    except TrainerError as error:
        troubles.append(str(error))
    page = feedback_document(scenario, graded.marks, graded.notices, reveal=reveal, to_pass=to_pass, full=printing.full)
    troubles += write_pages(sitting.feedback_page(scenario.trainee, graded.lab), [page], printing, private=True)
    return replace(graded, shown=None if troubles else reveal, to_pass=to_pass), troubles


def hand_back_anew(
    sitting: Sitting, labs: Iterable[GradedLab], exercise: Exercise, printing: Printing
) -> Iterator[str]:
    """Writes anew what shows more or less than trainees may see now, or tells of another rule for a pass; a PDF that is there,
    too. Nothing is marked anew.

    Labs that cannot be read are passed over. Gives what could not be written, and why.
    """
    for graded in labs:
        if (graded.shown, graded.to_pass) == (exercise.rules.reveal, exercise.to_pass):
            continue
        try:
            scenario = sitting.scenario(graded.lab)
        except TrainerError:
            continue
        has_pdf = sitting.feedback_page(scenario.trainee, graded.lab).with_suffix(".pdf").exists()
        as_before = replace(printing, pdf=True) if has_pdf and can_make_pdf() else printing
        shown, troubles = hand_back(sitting, scenario, graded, exercise, as_before)
        yield from troubles
        try:
            sitting.write_grade(shown)
        except TrainerError as error:
            yield str(error)
