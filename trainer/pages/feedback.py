"""The feedback page: what to look at first, then sheet by sheet what is not right and why. What is true of several cells is
said once.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import groupby
from operator import itemgetter

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.feedback import CONCEPTS, SIGNS, Message, Place, messages, sign
from trainer.marking.marks import CellMark, Marked, Verdict, shown
from trainer.marking.mistakes import source_of
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

AT_ONCE = 3
"""So many causes are told in full in one view, the rest is folded (feedback rule F6)."""


def feedback_document(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> Document:
    """The page for one trainee, showing as much as the exercise lets trainees see."""
    trainee = scenario.trainee
    said = {
        section.section: messages(
            [cell for cell in marked.cells if cell.section == section.section], scenario.rules.reveal
        )
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
        ),
        blocks=(
            *(Notice((notice,)) for notice in notices),
            *_look_first(first, scenario),
            blocks.Section(title="Sheet by sheet", blocks=(_bars(marked, scenario), _concepts(marked))),
            *(_section(section, marked, every, first, scenario) for section, every in said.items()),
            *_read_on(marked),
        ),
        foot=f"Lab {scenario.lab_number}. Isolated lab only; a switch, rack or mains socket is worked on by local rules.",
        running=f"Feedback   {scenario.lab_number}   {trainee.id}   {scenario.exercise_code}",
    )


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
    for concept, sections in CONCEPTS.items():
        cells = [cell for cell in marked.cells if cell.section in sections]
        right, asked = _counts(cells)
        if asked:
            bar = _bar(Decimal(right), Decimal(asked))
            rows.append(((concept,), (f"{right} of {asked}{_in_part(cells)}",), bar))
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
    """The causes to begin with: which cost most by themselves and by what they hide. None where all fit into one view."""
    if len(said) <= AT_ONCE:
        return ()

    def worth(message: Message) -> Decimal:
        """Marks: its own and those of what it hides, with a little for each cell that follows; half where it is hidden."""
        hides = sum((each.lost for each in said if each.masked_by & message.stands_in), Decimal(0))
        whole = message.lost + hides + message.followers * Decimal("0.1")
        return whole / 2 if message.masked_by else whole

    return tuple(sorted(said, key=worth, reverse=True)[:AT_ONCE])


def _look_first(first: Sequence[Message], scenario: Scenario) -> Iterator[Block]:
    if first:
        lead = Paragraph(("Put these right first: they cost most, by themselves and by what they hide.",), is_lead=True)
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
        tone=Tone.PART if words.verdict is Verdict.PARTLY else Tone.BAD,
        sign=sign(words.verdict),
        title=f"{sheet}{message.about}",
        blocks=tuple(_inside(message)),
    )


def _inside(message: Message) -> Iterator[Block]:
    words = message.words
    if message.places:
        yield Bullets(tuple(_place(place) for place in message.places))
    elif words.given:
        yield Paragraph(tuple(_beside(words.given, words.answer, words.right)))
    for label, text in (
        ("The instructor's decision: ", words.decision),
        ("", words.explanation),
        ("What the network does: ", words.consequence),
        ("Tried: ", message.seen),
    ):
        if text:
            yield Paragraph((*((Strong(label),) if label else ()), text))
    if message.seen and words.steps:
        yield Steps(f"Step by step in your network: {words.steps[0]}", words.steps[1:])
    if not message.places:
        if words.derivation:
            yield Paragraph((Strong("Why that: "), f"{words.derivation}."))
        yield from (Paragraph((text,)) for text in (words.rests_on, words.followed) if text)
    if words.hint:
        yield Paragraph((Strong("Hint: "), words.hint))
    if words.example and not message.places:
        yield Fold(title="A worked example", blocks=(Paragraph((words.example,)),))
    if words.answer and not message.places and not words.given:
        yield Paragraph((Strong(f"{words.right.capitalize()}: "), Code(words.answer)))


def _beside(given: str, answer: str, right_word: str) -> Iterator[Inline]:
    """What was written, beside it what is right, where that may be seen; octets that differ are marked (rule F8)."""
    mine, right = given.split("."), answer.split(".")
    if not answer or len(mine) != 4 or len(right) != 4:
        yield "You wrote "
        yield Code(given)
        yield from (f"; {right_word}: ", Code(answer)) if answer else (".",)
        return
    yield "You wrote "
    yield from _marked_octets(mine, right)
    yield f"; {right_word}: "
    yield from _marked_octets(right, mine)


def _marked_octets(octets: Sequence[str], others: Sequence[str]) -> Iterator[Inline]:
    pairs = [(f".{octet}" if place else octet, octet == others[place]) for place, octet in enumerate(octets)]
    for is_alike, run in groupby(pairs, key=itemgetter(1)):
        text = "".join(octet for octet, _ in run)
        yield Code(text) if is_alike else Strong(text)


def _place(place: Place) -> Words:
    parts: list[Inline] = [f"{place.row}: " if place.cells else place.row]
    for number, cell in enumerate(place.cells):
        parts.append(f", {cell.heading}" if number else cell.heading)
        parts += (" ", Code(cell.given)) if cell.given else ()
        parts += (f" ({cell.right}: ", Code(cell.answer), ")") if cell.answer else ()
    parts += (" - ", Strong("Tried: "), place.seen) if place.seen else ()
    return tuple(parts)


def _right_otherwise(message: Message) -> Words:
    words = message.words
    where = "; ".join(
        f"{place.row}: {', '.join(cell.heading for cell in place.cells)}" if place.cells else place.row
        for place in message.places
    )
    decision = (" ", Strong("The instructor's decision: "), words.decision) if words.decision else ()
    return (f"{where or message.about}. {words.explanation}".rstrip(), *decision)


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
            rules = SECTIONS[section.section].note.split(". ", 1)[0].rstrip(".")
            more = f"; {'; '.join(sources)}" if sources else ""
            items.append(
                (Strong(f"{SECTIONS[section.section].title}: "), f"Brief, {rules[0].lower()}{rules[1:]}{more}")
            )
    if items:
        yield blocks.Section(title="Where to read on", blocks=(Bullets(tuple(items)),))


def _standards(sources: Iterable[str]) -> list[str]:
    """The standards among sources, each once with all its sections: "RFC 7513 section 4.2.2, 8.2"."""
    sections: dict[str, dict[str, None]] = {}
    for part in (part for source in sources for part in source.split("; ")):
        if found := re.fullmatch(r"(RFC \d+)(.*)", part):
            named = sections.setdefault(found[1], {})
            named.update(dict.fromkeys(re.findall(r"section ([\d.]+)", found[2])))
    return [f"{name} section {', '.join(named)}" if named else name for name, named in sections.items()]
