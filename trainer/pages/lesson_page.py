"""A lesson: the rule in plain words, a picture, a worked example with fresh numbers, the words it uses.

The texts stand in lessons/<concept>.md, Markdown with values of one drawn lab in it. The line [picture] is where the
pictures go.
"""

from functools import cache
from importlib import resources

from jinja2 import Environment, StrictUndefined, Template

from trainer.lab.concepts import Concept
from trainer.pages.blocks import Block, Document, Figure, Fold, Paragraph
from trainer.pages.brief_text import own_blocks
from trainer.pages.lesson_pictures import lesson_pictures
from trainer.study.lesson import Lesson

__all__ = ["lesson_document", "lesson_text"]

_PICTURE = "[picture]"


def lesson_text(concept: Concept, lesson: Lesson) -> str:
    """The Markdown of a lesson with its numbers filled in."""
    return _template(concept).render(lesson.values)


@cache
def _template(concept: Concept) -> Template:
    text = resources.files("trainer.pages").joinpath(f"lessons/{concept.slug}.md").read_text(encoding="utf-8")
    return Environment(undefined=StrictUndefined, autoescape=False).from_string(text)  # noqa: S701  # it becomes blocks


def lesson_document(concept: Concept, lesson: Lesson) -> Document:
    """The page of a lesson."""
    before, _, after = lesson_text(concept, lesson).partition(_PICTURE)
    pictures: tuple[Block, ...] = tuple(
        block
        for each in lesson_pictures(concept, lesson)
        for block in (Figure(each), Fold(title="The picture in words", blocks=(Paragraph((each.description,)),)))
    )
    return Document(
        title=f"Lesson {concept.title}",
        heading=concept.title,
        over=f"Lesson - {concept.area.value}",
        facts=(),
        blocks=(*own_blocks(before), *pictures, *own_blocks(after)),
        foot=f"Short questions about it: trainer quick {concept.slug}",
        running=f"Lesson {concept.title}",
    )
