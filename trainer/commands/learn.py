"""`trainer learn [CONCEPT]`: a page with the rule, a picture and a worked example with fresh numbers."""

from pathlib import Path

from trainer.commands.printing import ON_SCREEN, Printing, write_pages
from trainer.commands.quick import concept_called
from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import say
from trainer.files import make_folder
from trainer.lab.concepts import Concept
from trainer.pages.blocks import texts_of
from trainer.pages.lesson_page import lesson_document
from trainer.study.asks import concept_of
from trainer.study.lesson import lesson_of
from trainer.study.replay import replayed
from trainer.study.today import of_today
from trainer.study_files import log_of

__all__ = ["run"]


def run(
    name: str | None,
    out: Path,
    *,
    learner: str | None = None,
    as_text: bool = False,
    printing: Printing = ON_SCREEN,
    world: StudyWorld | None = None,
) -> int:
    """Writes the lesson of a concept, or of what comes next; as_text: prints it as well, for a screen reader, say."""
    world = StudyWorld() if world is None else world
    concept = _next_concept(out, learner, world) if name is None else concept_called(name)
    document = lesson_document(concept, lesson_of(world.rng))
    folder = out / "practice"
    make_folder(folder)
    file = folder / f"lesson-{concept.slug}.html"
    troubles = write_pages(file, [document], printing)
    if as_text:
        say(document.heading, "", *texts_of(document.blocks), "")
    for each in troubles:
        say(each)
    if not troubles:
        say(f"Lesson {concept.title}: {file}", document.foot)
    return 1 if troubles else 0


def _next_concept(out: Path, learner: str | None, world: StudyWorld) -> Concept:
    today = of_today(replayed(log_of(out, learner).read(), concept_of), world.moment.day)
    return today.next or next(iter(today.rests), Concept.SIZE)
