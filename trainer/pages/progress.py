"""How far learners are: a learner's own page, and the instructor's of several."""

from collections.abc import Iterator

from trainer.lab.concepts import Concept
from trainer.pages import blocks
from trainer.pages.blocks import Block, Document, Paragraph, Table, Words
from trainer.study.overview import Overview, Person
from trainer.study.rules_in_a_line import RULES

__all__ = ["class_document", "own_document"]

_NO_MARKS = "It is no grade, and it never counts as marks: whoever wants to can write a log by hand."


def own_document(person: Person) -> Document:
    """The page of one learner."""
    study = person.study
    rows = tuple(_own_row(person, concept) for concept in Concept)
    return Document(
        title="Your progress",
        heading="Your progress",
        over="Self-study",
        facts=(
            ("Practice days", str(len(study.days))),
            ("Cells and questions tried", str(study.tried)),
            ("Answers asked for", str(study.answers_shown)),
            *((("Until", study.until.isoformat()),) if study.until else ()),
        ),
        blocks=(
            Table(
                title="Concepts",
                headings=("Concept", "How it stands", "Last tried", "Comes back", "In a line"),
                rows=rows,
                unbroken=frozenset({1, 2, 3}),
            ),
            Paragraph(("Secure is what was right with what is given alone, on three practice days in a row.",)),
            *_remarks((person,)),
        ),
        foot=f"{_NO_MARKS} What is due: trainer practise",
        running="Your progress",
    )


def _own_row(person: Person, concept: Concept) -> tuple[Words, ...]:
    last, back = person.study.concepts[concept].last, person.comes_back(concept)
    return (
        (concept.title,),
        (person.own_word(concept),),
        (last.isoformat() if last else "-",),
        (back.isoformat() if back else "-",),
        (RULES[concept],),
    )


def class_document(overview: Overview) -> Document:
    """The page of several learners, by name and without rank."""
    people = overview.people
    rows: tuple[tuple[Words, ...], ...] = tuple(
        ((person.name,), *((person.word(concept),) for concept in Concept)) for person in people
    )
    days: tuple[tuple[Words, ...], ...] = tuple(
        (
            (person.name,),
            (str(len(person.study.days)),),
            (person.study.days[-1].isoformat() if person.study.days else "-",),
            (str(person.study.tried),),
            (str(person.study.answers_shown),),
        )
        for person in people
    )
    return Document(
        title="Progress of a class",
        heading="Progress",
        over="Self-study",
        facts=(("Learners", str(len(people))),),
        blocks=(
            blocks.Section(title="Concepts", blocks=(_concepts(rows),)),
            blocks.Section(
                title="Practice",
                blocks=(
                    Table(
                        title="Days practised",
                        headings=("Name", "Days", "Last day", "Tried", "Answers asked for"),
                        rows=days,
                        numbers=frozenset({1, 3, 4}),
                        unbroken=frozenset({2}),
                        shows_title=False,
                    ),
                ),
            ),
            *_mistakes(overview),
            *_remarks(people),
        ),
        foot=f"{_NO_MARKS} For the instructor only.",
        running="Progress of a class",
        is_wide=True,
    )


def _concepts(rows: tuple[tuple[Words, ...], ...]) -> Table:
    return Table(
        title="Who is how far",
        headings=("Name", *(concept.title for concept in Concept)),
        rows=rows,
        shows_title=False,
    )


def _mistakes(overview: Overview) -> Iterator[Block]:
    if overview.mistakes:
        rows: tuple[tuple[Words, ...], ...] = tuple(
            ((each.concept.title,), (str(each.people),), (str(each.times),), (each.words,))
            for each in overview.mistakes
        )
        table = Table(
            title="The commonest mistake of each concept",
            headings=("Concept", "People", "Times", "What was wrong"),
            rows=rows,
            numbers=frozenset({1, 2}),
            shows_title=False,
        )
        yield blocks.Section(title="For the next lesson", blocks=(table,))


def _remarks(people: tuple[Person, ...]) -> Iterator[Block]:
    for person in people:
        if person.edited:
            yield Paragraph((f"The log of {person.name} was changed by something else than this program.",))
        if person.torn:
            yield Paragraph((f"In the log of {person.name} {person.torn} lines could not be read.",))
