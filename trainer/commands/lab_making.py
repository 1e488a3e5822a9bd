"""What `set` has to work out of each lab: drawn, proved, and made into files. Nothing here touches a file, so helper processes
may do it.
"""

import pickle
import random
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

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
from trainer.store import lab_file

__all__ = [
    "LabFiles",
    "Proved",
    "ToDraw",
    "ToWrite",
    "class_packed",
    "drawn_and_proved",
    "handout_of",
    "made",
    "proved",
]


class ToDraw(NamedTuple):
    """What a lab is drawn from."""

    of_class: bytes
    """What class_packed gives."""
    trainee: Trainee
    lab: str
    slot: int
    seed: int


def class_packed(exercise: Exercise, common: ClassDraw) -> bytes:
    """What all labs of a class are drawn from: packed once, and unpacked once in each process. exercise: without trainees."""
    return pickle.dumps((exercise, common))


@lru_cache(maxsize=1)
def _unpacked(of_class: bytes) -> tuple[Exercise, ClassDraw]:
    exercise, common = pickle.loads(of_class)  # noqa: S301  # packed above
    return exercise, common


class Proved(NamedTuple):
    """What there is of a lab whose key works. The key is not: to work it out anew takes less than to send it."""

    file: bytes | None
    """The lab as it is kept; None where it is already."""
    trials: int
    key_page: Document | None
    """As it has to be, where one was written before."""


def drawn_and_proved(lab: ToDraw, *, has_page: bool) -> tuple[Scenario, Proved]:
    """The lab, which rests on these values alone, and its proof; has_page: whether its key has a page.

    Raises TrainerError where none can be drawn, ProofFailed where its key does not work.
    """
    exercise, common = _unpacked(lab.of_class)
    scenario = draw_lab(exercise, common, lab.trainee, lab.lab, lab.slot, random.Random(lab.seed))
    return scenario, proved(scenario, is_kept=False, has_page=has_page)


def proved(scenario: Scenario, *, is_kept: bool, has_page: bool) -> Proved:
    """The lab with its key. Raises ProofFailed where that does not work."""
    key = derive_key(scenario)
    proof = prove(scenario, key)
    return Proved(
        file=None if is_kept else lab_file(scenario, key, proof.network, len(proof.trials)),
        trials=len(proof.trials),
        key_page=key_document(scenario, key, proof) if has_page else None,
    )


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


def made(scenario: Scenario, to_write: ToWrite) -> LabFiles:
    """The lab's files."""
    key = derive_key(scenario)
    parts = () if to_write.brief is None or to_write.has_workbook else brief_parts(to_write.brief, scenario)
    return LabFiles(
        key=None if to_write.has_key else write_key_book(scenario, key),
        workbook=None if to_write.has_workbook else write_answer_book(scenario, key, parts),
        handout=article(_handout(scenario, key, to_write)),
    )


def handout_of(scenario: Scenario, to_write: ToWrite) -> Document:
    """The handout, for whoever needs more of it than its page on a screen."""
    return _handout(scenario, derive_key(scenario), to_write)


def _handout(scenario: Scenario, key: Answers, to_write: ToWrite) -> Document:
    return handout_document(scenario, to_write.brief or general_brief(), key, named=to_write.named)
