"""What `set` has to work out of each lab: drawn, proved, and made into files. Nothing here touches a file, so helper processes
may do it.
"""

import random
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, ParamSpec, TypeVar

from trainer.commands.helper_process import HelperProcess, serve
from trainer.lab.draw import ClassDraw, draw_lab
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.scenario import Scenario, Trainee
from trainer.pages.blocks import Document
from trainer.pages.brief_text import brief_parts, general_brief
from trainer.pages.handout import handout_document
from trainer.pages.html import Article, article
from trainer.pages.key import key_document
from trainer.sheets.answer_book import write_answer_book, write_key_book

__all__ = ["LabFiles", "LabMaker", "Proved", "ToDraw", "ToWrite", "drawn", "handout_of", "made", "main", "proved"]

P = ParamSpec("P")
R = TypeVar("R")


class LabMaker(HelperProcess):
    """Does the functions of this module in a process of its own, or here."""

    module = "trainer.commands.lab_making"

    def call(self, work: Callable[P, R], *arguments: P.args, **named: P.kwargs) -> R:
        """What the function gives. Raises what it raises."""
        if self.is_begun():
            answer, _ = self.ask((work, arguments, named), None)
            if answer is not None:
                value, error = answer
                if error is not None:
                    raise error
                return value  # type: ignore[no-any-return]
        return work(*arguments, **named)


def main() -> None:
    """What the process does."""
    serve(_answered)


def _answered(task: tuple[Callable[..., Any], Sequence[Any], dict[str, Any]]) -> tuple[Any, Exception | None]:
    work, arguments, named = task
    try:
        return work(*arguments, **named), None
    except Exception as error:  # noqa: BLE001  # it is raised where it was asked for
        error.add_note(traceback.format_exc())
        return None, error


class ToDraw(NamedTuple):
    """What a lab is drawn from."""

    exercise: Exercise
    """Without trainees."""
    common: ClassDraw
    trainee: Trainee
    lab: str
    slot: int
    seed: int


def drawn(lab: ToDraw) -> Scenario:
    """The lab, which rests on these values alone. Raises TrainerError where none can be drawn."""
    return draw_lab(lab.exercise, lab.common, lab.trainee, lab.lab, lab.slot, random.Random(lab.seed))


class Proved(NamedTuple):
    """A lab whose key works."""

    scenario: Scenario
    key: Answers
    trials: int
    key_page: Document | None
    """As it has to be, where one was written before."""


def proved(scenario: Scenario, *, with_page: bool) -> Proved:
    """The lab with its key. Raises ProofFailed where that does not work."""
    key = derive_key(scenario)
    proof = prove(scenario, key)
    return Proved(scenario, key, len(proof.trials), key_document(scenario, key, proof) if with_page else None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToWrite:
    """What is written of every lab alike, and which files are there already."""

    brief: str | None
    """The exercise's own."""
    named: bool
    """Whether handouts bear names."""
    has_key: bool
    has_workbook: bool


class LabFiles(NamedTuple):
    """A lab's files; None where they are there already."""

    key: bytes | None
    workbook: bytes | None
    handout: Article


def made(lab: Proved, to_write: ToWrite) -> LabFiles:
    """The lab's files."""
    scenario, key = lab.scenario, lab.key
    parts = () if to_write.brief is None or to_write.has_workbook else brief_parts(to_write.brief, scenario)
    return LabFiles(
        key=None if to_write.has_key else write_key_book(scenario, key),
        workbook=None if to_write.has_workbook else write_answer_book(scenario, key, parts),
        handout=article(handout_of(lab, to_write)),
    )


def handout_of(lab: Proved, to_write: ToWrite) -> Document:
    """The handout, for whoever needs more of it than its page on a screen."""
    return handout_document(lab.scenario, to_write.brief or general_brief(), lab.key, named=to_write.named)
