"""A short question as it is asked: its words, what judges an answer, and what helps."""

from dataclasses import dataclass
from typing import Protocol

from trainer.lab.concepts import Concept

__all__ = ["Judged", "ShortQuestion"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What is found of a typed answer."""

    is_right: bool
    verdict: str
    """The verdict's code, as marks have it."""
    mistake: str = ""
    """Id of the mistake that the catalogue makes out; "" where it is right."""
    explanation: str = ""
    consequence: str = ""
    hint: str = ""


class ShortQuestion(Protocol):
    """A question of either kind."""

    @property
    def ask(self) -> str:
        """Its kind: a question's id, or happens.<what>."""

    @property
    def row(self) -> str:
        """What it is about."""

    @property
    def concept(self) -> Concept:
        """What has to be understood in order to answer it."""

    @property
    def prompt(self) -> tuple[str, ...]:
        """The paragraphs that are printed; all that decides the answer stands in them."""

    @property
    def likeness(self) -> str:
        """What makes two questions of a kind the same sum; "" where each is one of its own."""

    @property
    def example(self) -> tuple[str, ...]:
        """Another question of the kind and the way to its answer; nothing where there is none."""

    @property
    def steps(self) -> tuple[str, ...]:
        """How the answer is come by, a line a step."""

    @property
    def answer(self) -> str:
        """The right answer, as it is written."""

    @property
    def written_like(self) -> str:
        """How an answer looks."""

    def takes(self, text: str) -> bool:
        """Whether a text may be meant as an answer, and not as a word that was mistyped."""

    def judge(self, text: str) -> Judged:
        """What is found of an answer, by the rules that mark a form."""
