"""The feedback page: what to look at first, then sheet by sheet what is not right and why. What is true of several cells is
said once.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import groupby
from operator import itemgetter

from trainer.lab.concepts import Area
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Reveal, Scenario
from trainer.lab.works import IN_NETWORK, NOT_ENOUGH, ToPass
from trainer.marking.feedback import AT_ONCE, SIGNS, Message, ToldRow, messages, sign
from trainer.marking.marks import CellMark, Marked, Verdict, shown
from trainer.marking.mistakes import source_of
from trainer.marking.said import Label, Part
from trainer.pages import blocks
from trainer.pages.blocks import (
    Bar,
    Block,
    Bullets,
    Card,
    Code,
    Document,
    Fold,
    Inline,
    Link,
    Notice,
    Paragraph,
    Steps,
    Strong,
    Table,
    Tone,
    Words,
)

__all__ = ["feedback_document"]

_TOLD_OF_RIGHT = frozenset({Label.DECISION, Label.REMARK, Label.EXPLANATION})
"""What is said of a cell that is right, in one line."""


def feedback_document(
    scenario: Scenario, marked: Marked, notices: Sequence[str], *, reveal: Reveal, to_pass: ToPass | None = None
) -> Document:
    """The page for one trainee.

    notices: what was odd about the returned file; reveal: how much may be seen; to_pass: what a pass takes beside marks.
    """
    trainee = scenario.trainee
    said = {
        section.section: messages([cell for cell in marked.cells if cell.section == section.section], reveal)
        for section in marked.sections
    }
    first = _first_to_look_at([each for every in said.values() for each in every if not each.words.verdict.is_full])
    return Document(
        title=f"Feedback {trainee.id} - {scenario.exercise_code}",
        heading=f"Feedback for {trainee.name or trainee.id}",
        over=f"{scenario.exercise_code} - {scenario.title}",
        facts=(
            ("Lab number", scenario.lab_number),
            ("Trainee", trainee.id),
            ("Marks", f"{shown(marked.marks)} of {shown(marked.out_of)} ({shown(marked.percent)} %)"),
            *(((IN_NETWORK, marked.works.line),) if marked.works else ()),
        ),
        blocks=(
            *_lacking(marked, to_pass),
            *(Notice((notice,)) for notice in notices),
            *_look_first(first, scenario),
            blocks.Section(title="Sheet by sheet", blocks=(_bars(marked, scenario), _concepts(marked))),
            *(_section(section, marked, every, first, scenario) for section, every in said.items()),
            *_read_on(marked),
        ),
        foot=f"Lab {scenario.lab_number}. Isolated lab only; a switch, rack or mains socket is worked on by local rules.",
        running=f"Feedback   {scenario.lab_number}   {trainee.id}   {scenario.exercise_code}",
    )


def _lacking(marked: Marked, to_pass: ToPass | None) -> Iterator[Block]:
    """What the network lacks for a pass, in a sentence."""
    missing = "" if to_pass is None else to_pass.missing(marked.works, marked.marks, marked.out_of)
    if missing:
        yield Notice((Strong(f"{NOT_ENOUGH}: "), missing))


def _anchor(scenario: Scenario, name: str) -> str:
    """A place on the page; with the lab number, as several pages may stand in one file."""
    return f"{scenario.lab_number}-{name}"


# --- Bars -------------------------------------------------------------------------------------------------------------


def _bars(marked: Marked, scenario: Scenario) -> Table:
    rows = []
    for section in marked.sections:
        cells = [cell for cell in marked.cells if cell.section == section.section]
        right, asked = _counts(cells)
        link = Link(SECTIONS[section.section].title, f"#{_anchor(scenario, section.section)}")
        marks = f"{shown(section.marks)} of {shown(section.out_of)}"
        rows.append(((link,), (f"{right} of {asked}{_in_part(cells)}",), (marks,), _bar(section.marks, section.out_of)))
    headings = ("Sheet", "Right cells", "Marks", "Share")
    return Table(title="Sheets", headings=headings, rows=tuple(rows), numbers=frozenset({1, 2}), shows_title=False)


def _concepts(marked: Marked) -> Table:
    rows = []
    for area in Area:
        cells = [cell for cell in marked.cells if QUESTIONS[cell.question].concept.area is area]
        right, asked = _counts(cells)
        if asked:
            bar = _bar(Decimal(right), Decimal(asked))
            rows.append(((area.value,), (f"{right} of {asked}{_in_part(cells)}",), bar))
    headings = ("Concept", "Right cells", "Share")
    return Table(title="By concept", headings=headings, rows=tuple(rows), numbers=frozenset({1}))


def _counts(cells: Sequence[CellMark]) -> tuple[int, int]:
    """How many cells are right, and how many were asked."""
    asked = [cell for cell in cells if cell.out_of]
    return sum(cell.verdict.is_full for cell in asked), len(asked)


def _in_part(cells: Sequence[CellMark]) -> str:
    """How many are partly right, where any are; they are why marks and right cells do not keep step."""
    count = sum(cell.verdict is Verdict.PARTLY for cell in cells)
    return f", {count} in part" if count else ""


def _bar(part: Decimal, whole: Decimal) -> Bar:
    return Bar(part * 100 / whole if whole else Decimal(0))


# --- What is said -----------------------------------------------------------------------------------------------------


def _first_to_look_at(said: Sequence[Message]) -> tuple[Message, ...]:
    """The causes to begin with: which cost most by themselves, by what follows and by what they hide. None where all fit
    into one view. What follows from another cause is none.
    """
    if len(said) <= AT_ONCE:
        return ()

    def worth(message: Message) -> Fraction:
        """Marks: its own and those of what follows from it or is hidden by it, with a little for each right cell that
        follows; half where it is hidden.
        """
        brought = (
            each
            for each in said
            if each is not message and (each.roots & message.cells or each.masked_by & message.stands_in)
        )
        whole = message.lost + sum((each.lost for each in brought), Fraction(0)) + message.followers * Fraction(1, 10)
        return whole / 2 if message.masked_by and not message.roots else whole

    causes = [each for each in said if not each.roots] or list(said)
    return tuple(sorted(causes, key=worth, reverse=True)[:AT_ONCE])


def _look_first(first: Sequence[Message], scenario: Scenario) -> Iterator[Block]:
    if first:
        lead = Paragraph(
            ("Put these right first: they cost most, by themselves, by what follows from them and by what they hide.",),
            is_lead=True,
        )
        cards = (_card(each, with_sheet=True) for each in first)
        yield blocks.Section(title="Begin here", blocks=(lead, *cards), anchor=_anchor(scenario, "first"))


def _section(
    section: str, marked: Marked, said: Sequence[Message], first: Sequence[Message], scenario: Scenario
) -> blocks.Section:
    right, asked = _counts([cell for cell in marked.cells if cell.section == section])
    wrong = [each for each in said if not each.words.verdict.is_full]
    here = [each for each in wrong if each not in first]
    partly = _in_part([cell for cell in marked.cells if cell.section == section])
    words = f"All {asked} cells are right." if right == asked else f"{right} of {asked} cells are right{partly}."
    lead: Words = (f"{words} To look at again:",) if here else (words,)
    if len(here) < len(wrong):
        lead = (words, " See ", Link("Begin here", f"#{_anchor(scenario, 'first')}"), " as well.")
    inside: list[Block] = [Paragraph(lead, is_lead=True), *(_card(each) for each in here[:AT_ONCE])]
    if len(here) > AT_ONCE:
        rest = tuple(_card(each) for each in here[AT_ONCE:])
        inside.append(Fold(title=f"{len(rest)} more on sheet {SECTIONS[section].title}", blocks=rest))
    otherwise = [each for each in said if each.words.verdict.is_full]
    if otherwise:
        items = tuple(_right_otherwise(each) for each in otherwise)
        inside.append(
            Card(
                tone=Tone.GOOD,
                sign=SIGNS[Verdict.FOLLOWS],
                title="Right, though not as in the key",
                blocks=(Bullets(items),),
            )
        )
    return blocks.Section(
        title=SECTIONS[section].title,
        blocks=tuple(inside),
        anchor=_anchor(scenario, section),
        is_for_screen=not wrong and not otherwise,
    )


def _card(message: Message, *, with_sheet: bool = False) -> Card:
    words = message.words
    sheet = f"{SECTIONS[message.section].title}, " if with_sheet else ""
    return Card(
        tone=Tone.PART if words.verdict in (Verdict.PARTLY, Verdict.AGAIN) else Tone.BAD,
        sign=sign(words.verdict),
        title=f"{sheet}{message.about}",
        blocks=tuple(_inside(message)),
    )


def _inside(message: Message) -> Iterator[Block]:
    words = message.words
    is_told_beside = not message.rows and bool(words.given)
    if message.rows:
        yield Bullets(tuple(_row(row) for row in message.rows))
    elif is_told_beside:
        yield Paragraph(tuple(_beside(words.given, words.answer)))
    for part in message.parts:
        if not (is_told_beside and part == words.answer):
            yield _block(part)


def _block(part: Part) -> Block:
    match part.label:
        case Label.STEPS:
            return Steps(f"{part.label.words}: {part.text}", part.steps)
        case Label.EXAMPLE:
            return Fold(title="A worked example", blocks=(Paragraph((part.text,)),))
        case Label.RIGHT | Label.RIGHT_BY_PLAN:
            return Paragraph((Strong(f"{part.label.words}: "), Code(part.text)))
        case _:
            return Paragraph(_labelled(part))


def _labelled(part: Part) -> Words:
    return (Strong(f"{part.label.words}: "), part.text) if part.label.words else (part.text,)


def _beside(given: str, answer: Part | None) -> Iterator[Inline]:
    """What was written, beside it what is right, where that may be seen; octets that differ are marked (rule F8)."""
    yield "You wrote "
    if answer is None:
        yield Code(given)
        yield "."
        return
    mine, right, called = given.split("."), answer.text.split("."), answer.label.words.lower()
    if len(mine) != 4 or len(right) != 4:
        yield from (Code(given), f"; {called}: ", Code(answer.text))
        return
    yield from _marked_octets(mine, right)
    yield f"; {called}: "
    yield from _marked_octets(right, mine)


def _marked_octets(octets: Sequence[str], others: Sequence[str]) -> Iterator[Inline]:
    pairs = [(f".{octet}" if place else octet, octet == others[place]) for place, octet in enumerate(octets)]
    for is_alike, run in groupby(pairs, key=itemgetter(1)):
        text = "".join(octet for octet, _ in run)
        yield Code(text) if is_alike else Strong(text)


def _row(row: ToldRow) -> Words:
    parts: list[Inline] = [f"{row.row}: " if row.cells else row.row]
    for number, cell in enumerate(row.cells):
        parts.append(f", {cell.heading}" if number else cell.heading)
        parts += (" ", Code(cell.given)) if cell.given else ()
        if cell.answer is not None:
            parts += (f" ({cell.answer.label.words.lower()}: ", Code(cell.answer.text), ")")
    parts += (" - ", Strong(f"{Label.SEEN.words}: "), row.seen) if row.seen else ()
    return tuple(parts)


def _right_otherwise(message: Message) -> Words:
    where = "; ".join(
        f"{row.row}: {', '.join(cell.heading for cell in row.cells)}" if row.cells else row.row for row in message.rows
    )
    told = [_labelled(part) for part in message.parts if part.label in _TOLD_OF_RIGHT]
    return (f"{where or message.about}.", *(inline for words in told for inline in (" ", *words)))


def _read_on(marked: Marked) -> Iterator[Block]:
    """Which rules of the Brief and which standards to read on in."""
    items: list[Words] = []
    for section in marked.sections:
        wrong = [
            cell.explanation
            for cell in marked.cells
            if cell.section == section.section and cell.explanation is not None and not cell.verdict.is_full
        ]
        sources = _standards(source_of(said.mistake) for said in wrong)
        if wrong:
            of = SECTIONS[section.section]
            more = f"; {'; '.join(sources)}" if sources else ""
            items.append((Strong(f"{of.title}: "), f"Brief, {of.rules}{more}"))
    if items:
        practise = Paragraph(
            ("To practise it, with the marked workbook: ", Code("trainer practise --after MARKED.xlsx"))
        )
        yield blocks.Section(title="Where to read on", blocks=(Bullets(tuple(items)), practise))


def _standards(sources: Iterable[str]) -> list[str]:
    """The standards among sources, each once with all its sections: "RFC 7513 section 4.2.2, 8.2"."""
    sections: dict[str, dict[str, None]] = {}
    for part in (part for source in sources for part in source.split("; ")):
        if found := re.fullmatch(r"(RFC \d+)(.*)", part):
            named = sections.setdefault(found[1], {})
            named.update(dict.fromkeys(re.findall(r"section ([\d.]+)", found[2])))
    return [f"{name} section {', '.join(named)}" if named else name for name, named in sections.items()]
