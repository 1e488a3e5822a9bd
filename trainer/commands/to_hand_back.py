"""What a trainee gets back, made of marks and of how much may be seen of them: workbook and feedback page. It is made in the
process that marks, so no more is loaded for it than it takes; handing_back.py writes it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.marking.marks import Marked
from trainer.pages.blocks import Document
from trainer.pages.feedback import feedback_document
from trainer.pages.html import Article, article
from trainer.results.grades import cap_note, cap_of
from trainer.sheets.marked_book import write_marked_book

__all__ = ["ToHandBack", "feedback_of", "made_to_hand_back", "told_of"]


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
