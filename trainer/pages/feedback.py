"""The feedback page: what to look at first, then sheet by sheet what is not right and why. What is true of several cells is
said once.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import groupby
from operator import itemgetter

from trainer.lab.concepts import Area, Concept
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Reveal, Scenario
from trainer.lab.works import IN_NETWORK, NOT_ENOUGH, PASS_MARK, ToPass
from trainer.listing import first_few, how_many, listed
from trainer.marking.causes import Cause, causes
from trainer.marking.feedback import AT_ONCE, BY_HAND, Message, ToldCell, ToldRow, messages, sign
from trainer.marking.marks import CellMark, Marked, Verdict, in_tenths, shown, too_many
from trainer.marking.mistakes.catalogue import source_of
from trainer.marking.said import IN_A_LINE, Label, Part
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
from trainer.pages.feedback_right import labelled, right_otherwise, struck_out

__all__ = ["feedback_document"]


def feedback_document(
    scenario: Scenario,
    marked: Marked,
    notices: Sequence[str],
    *,
    reveal: Reveal,
    to_pass: ToPass | None = None,
    full: bool = False,
) -> Document:
    """The page for one trainee. Each cause has a line; the rest is folded on a screen.

    notices: what was odd about the returned file; reveal: how much may be seen; to_pass: what a pass takes;
    full: whether paper shows what is folded as well.
    """
    trainee, page = scenario.trainee, _Page(scenario, marked, reveal, full=full)
    return Document(
        title=f"Feedback {trainee.id} - {scenario.exercise_code}",
        heading=f"Feedback for {trainee.name or trainee.id}",
        over=f"{scenario.exercise_code} - {scenario.title}",
        facts=(
            ("Lab number", scenario.lab_number),
            ("Trainee", trainee.id),
            ("Marks", f"{shown(marked.marks)} of {shown(marked.out_of)} ({shown(marked.percent)} %)"),
            *_pass_mark(marked, to_pass),
            *(((IN_NETWORK, marked.works.line),) if marked.works else ()),
        ),
        blocks=(
            *_lacking(marked, to_pass),
            *(Notice((notice,)) for notice in notices),
            *_by_hand(marked),
            *_look_first(page),
            blocks.Section(title="Sheet by sheet", blocks=(_bars(page), *_by_concept(page))),
            *(section for each in page.said for section in _section(each, page)),
            *_read_on(page),
        ),
        foot=f"Lab {scenario.lab_number}. Isolated lab only; local rules hold for switches, racks and mains.",
        running=f"Feedback   {scenario.lab_number}   {trainee.id}   {scenario.exercise_code}",
    )


def _pass_mark(marked: Marked, to_pass: ToPass | None) -> Iterator[tuple[str, str]]:
    if to_pass is not None and (told := to_pass.told(marked.marks, marked.out_of)):
        yield PASS_MARK, told


def _lacking(marked: Marked, to_pass: ToPass | None) -> Iterator[Block]:
    """What the network lacks for a pass, in a sentence."""
    missing = "" if to_pass is None else to_pass.missing(marked.works, marked.marks, marked.out_of)
    if missing:
        yield Notice((Strong(f"{NOT_ENOUGH}: "), missing))


def _by_hand(marked: Marked) -> Iterator[Block]:
    """The parts that are no sheets."""
    if marked.by_hand:
        rows = tuple(
            ((each.part,), (f"{shown(each.marks)} of {shown(each.out_of)}",), (each.comment or "-",))
            for each in marked.by_hand
        )
        headings = ("Part", "Marks", "Comment")
        table = Table(title=BY_HAND, headings=headings, rows=rows, numbers=frozenset({1}), shows_title=False)
        yield blocks.Section(title=BY_HAND, blocks=(table,))


class _Page:
    """What the parts of the page are made from."""

    def __init__(self, scenario: Scenario, marked: Marked, reveal: Reveal, *, full: bool) -> None:
        self.scenario = scenario
        self.marked = marked
        self.full = full
        self._by_section: dict[str, list[CellMark]] = {}
        for cell in marked.cells:
            self._by_section.setdefault(cell.section, []).append(cell)
        self.said = {section.section: messages(self.cells(section.section), reveal) for section in marked.sections}
        self.blank = frozenset(
            each for each in self.said if _counts(self.cells(each))[1] and not any(c.given for c in self.cells(each))
        )
        """Sheets on which nothing is written."""
        every = [each for said in self.said.values() for each in said if not each.words.verdict.is_full]
        self.decided = causes(
            [each for each in every if each.section in self.blank and each.words.text(Label.DECISION)]
        )
        """What the instructor decided about sheets on which nothing is written."""
        self.causes = causes([each for each in every if each.section not in self.blank], self.blank)
        self.first = _first(self.causes, bool(self.blank))

    def cells(self, section: str) -> Sequence[CellMark]:
        return self._by_section.get(section, ())

    def anchor(self, name: str) -> str:
        """A place on the page; with the lab number, as several pages may stand in one file."""
        return f"{self.scenario.lab_number}-{name}"


# --- Bars -------------------------------------------------------------------------------------------------------------


def _bars(page: _Page) -> Table:
    rows = []
    for section in page.marked.sections:
        cells = page.cells(section.section)
        right, asked = _counts(cells)
        is_told_first = section.section in page.blank and not any(
            each.message.section == section.section for each in page.decided
        )
        link = Link(SECTIONS[section.section].title, f"#{page.anchor('first' if is_told_first else section.section)}")
        marks = f"{in_tenths(section.marks)} of {in_tenths(section.out_of)}"
        rows.append(((link,), (f"{right} of {asked}{_in_part(cells)}",), (marks,), _bar(section.marks, section.out_of)))
    headings = ("Sheet", "Right cells", "Marks", "Share")
    return Table(title="Sheets", headings=headings, rows=tuple(rows), numbers=frozenset({1, 2}), shows_title=False)


def _by_concept(page: _Page) -> Iterator[Block]:
    """The right cells by concept; paper has them by sheet."""
    rows = []
    for area in Area:
        cells = [cell for cell in page.marked.cells if QUESTIONS[cell.question].concept.area is area]
        right, asked = _counts(cells)
        if asked:
            bar = _bar(Decimal(right), Decimal(asked))
            rows.append(((area.value,), (f"{right} of {asked}{_in_part(cells)}",), bar))
    headings = ("Concept", "Right cells", "Share")
    table = Table(title="By concept", headings=headings, rows=tuple(rows), numbers=frozenset({1}), shows_title=False)
    yield blocks.Section(title="By concept", blocks=(table,), is_for_screen=not page.full)


def _counts(cells: Sequence[CellMark]) -> tuple[int, int]:
    """How many cells are right, and how many were asked."""
    asked = [cell for cell in cells if cell.out_of]
    return sum(cell.verdict.is_full for cell in asked), len(asked)


def _in_part(cells: Sequence[CellMark]) -> str:
    """How many are partly right, and how many take marks away; they are why marks and right cells do not keep step."""
    count = sum(cell.verdict is Verdict.PARTLY for cell in cells)
    return (f", {count} in part" if count else "") + too_many(cells)


def _bar(part: Decimal, whole: Decimal) -> Bar:
    return Bar(part * 100 / whole if whole else Decimal(0))


# --- What is said -----------------------------------------------------------------------------------------------------

_MOST_ROWS, _MOST_WRITTEN = 6, 4
"""In a title so many rows are named, in a line so many of the cells with what was written in them."""


def _first(found: Sequence[Cause], is_more_to_do: bool) -> tuple[Cause, ...]:
    """What to begin with; none where all causes fit into one view.

    found: those on sheets that something is written on; is_more_to_do: whether there are others.
    """
    if len(found) <= AT_ONCE and not is_more_to_do:
        return ()
    return tuple(each for each in found if not each.is_brought)[:AT_ONCE]


def _look_first(page: _Page) -> Iterator[Block]:
    """The errors to begin with, then what is still to be written: a sheet on which nothing stands is no error of anybody's."""
    inside: list[Block] = []
    if page.first:
        inside.append(Paragraph((_LEAD if len(page.first) > 1 else _LEAD_OF_ONE,), is_lead=True))
        inside += (_card(each, page, with_sheet=True) for each in page.first)
    blank = [
        f"{SECTIONS[each].title} ({how_many(_counts(page.cells(each))[1], 'cell')})"
        for each in page.said
        if each in page.blank
    ]
    if blank:
        if len(blank) == len(page.said):
            inside.append(Paragraph(("Nothing is written in this workbook.",), is_lead=True))
        inside.append(
            Paragraph((f"{'Then fill' if page.first else 'Fill'} in what is empty, in this order: {listed(blank)}.",))
        )
    if inside:
        yield blocks.Section(title="Begin here", blocks=tuple(inside), anchor=page.anchor("first"))


_LEAD = "Put these right first: they cost your network most, and hide or cause other errors."
_LEAD_OF_ONE = "Put this right first: it costs your network most, and hides or causes other errors."


def _section(section: str, page: _Page) -> Iterator[blocks.Section]:
    """What is said of a sheet; of one on which nothing is written no more than the instructor's decisions."""
    cells, said = page.cells(section), page.said[section]
    title = SECTIONS[section].title
    wrong = [each for each in page.causes if each.message.section == section]
    if section in page.blank:
        decided = tuple(_card(each, page) for each in page.decided if each.message.section == section)
        decided += tuple(struck_out(cells))
        if decided:
            yield blocks.Section(title=title, blocks=decided, anchor=page.anchor(section))
        return
    here = [each for each in wrong if each not in page.first]
    inside = [Paragraph(_lead(page, cells, here, is_all=len(here) == len(wrong)), is_lead=True)]
    blocks_here: list[Block] = [*inside, *_cards(here[:AT_ONCE], page)]
    if rest := here[AT_ONCE:]:
        blocks_here.append(Fold(title=f"{len(rest)} more on sheet {title}", blocks=tuple(_cards(rest, page))))
    otherwise = [each for each in said if each.words.verdict.is_full and each.words.verdict is not Verdict.STRUCK]
    blocks_here += [*right_otherwise(otherwise, full=page.full), *(struck := tuple(struck_out(cells)))]
    is_printed = (
        here
        or struck
        or any(each.words.text(Label.DECISION) for each in otherwise)
        or (page.full and (wrong or otherwise))
    )
    yield blocks.Section(
        title=title, blocks=tuple(blocks_here), anchor=page.anchor(section), is_for_screen=not is_printed
    )


def _cards(found: Sequence[Cause], page: _Page) -> Iterator[Block]:
    """The causes of a sheet; those that another error hides or brought about stand together, under a line that says so."""
    groups: dict[str, list[Cause]] = {}
    for each in found:
        groups.setdefault(_before(each), []).append(each)
    for before, some in groups.items():
        if before:
            yield Paragraph((before,), is_lead=True)
        yield from (_card(each, page) for each in some)


def _before(cause: Cause) -> str:
    """What comes before it, as a line over all that it comes before; "" where nothing does."""
    if cause.shows_once:
        return f"Seen in your network only once {cause.shows_once}:"
    return f"Brought about by {cause.begin_at}:" if cause.begin_at else ""


def _lead(page: _Page, cells: Sequence[CellMark], here: Sequence[Cause], *, is_all: bool) -> Words:
    """How many cells are right. here: the causes that follow; is_all: whether the sheet has no others."""
    right, asked = _counts(cells)
    if right == asked and not too_many(cells):
        words = "The cell is right." if asked == 1 else f"All {asked} cells are right."
    else:
        what = "cells that count" if page.scenario.repair is not None else how_many(asked, "cell").partition(" ")[2]
        words = f"{right} of {asked} {what} {'is' if asked == 1 else 'are'} right{_in_part(cells)}."
    if too_many(cells):
        words += " What is too many takes marks away."
    again = (" To look at again:",) if here else ()
    first = () if is_all else (" See ", Link("Begin here", f"#{page.anchor('first')}"), " as well.")
    return (words, *first, *again)


def _card(cause: Cause, page: _Page, *, with_sheet: bool = False) -> Card:
    """A cause in a line, and the rest folded."""
    message = cause.message
    words = message.words
    sheet = f"{SECTIONS[message.section].title}, " if with_sheet else ""
    rest = tuple(_rest(message))
    fold = (Fold(title="Why, and what was tried", blocks=rest, is_for_screen=not page.full),) if rest else ()
    return Card(
        tone=Tone.PART if words.verdict in (Verdict.PARTLY, Verdict.AGAIN) else Tone.BAD,
        sign=sign(words.verdict),
        title=f"{sheet}{_where(message)}",
        blocks=(Paragraph(tuple(_line(cause))), *fold),
    )


def _where(message: Message) -> str:
    """The cells of a message: those of one column by their rows, as "A, B, C: Trusted ports"."""
    columns: dict[str, list[str]] = {}
    for row in message.rows:
        columns.setdefault(", ".join(cell.heading for cell in row.cells), []).append(row.row)
    if not message.rows:
        return message.about
    if len(columns) > 1:
        return how_many(sum(len(each.cells) for each in message.remarks), "cell")
    ((headings, rows),) = columns.items()
    if any(len(row.cells) > 1 for row in message.rows):
        headings = ""  # they stand beside what was written in each
    return ": ".join(filter(None, (first_few(rows, _MOST_ROWS), headings)))


def _line(cause: Cause) -> Iterator[Inline]:
    """What was written, what is said of it, what to do."""
    message = cause.message
    if message.rows and not _is_alike(message):
        yield from _written(message)
    elif message.words.given and not _is_named(message):
        yield from _beside(message.words.given, message.words.answer)
        yield " "
    for number, part in enumerate(part for part in message.parts if part.label in IN_A_LINE):
        yield from (" ", *labelled(part)) if number else labelled(part)


def _is_alike(message: Message) -> bool:
    """Whether the same was written in all its cells, and no answer has to stand beside it."""
    cells = [cell for row in message.rows for cell in row.cells]
    return len({cell.heading for cell in cells}) == 1 and {(cell.given, cell.answer) for cell in cells} == {
        (message.words.given, None)
    }


def _is_named(message: Message) -> bool:
    """Whether what is said of a cell says itself what was written there, and no answer has to stand beside it."""
    said_of_it = " ".join(part.text for part in message.parts if part.label in IN_A_LINE)
    return message.words.answer is None and _stands_in(message.words.given, said_of_it)


def _stands_in(words: str, text: str) -> bool:
    """Whether the words stand in a text by themselves, or in quotes. A pattern of each would take longer than all of its card."""
    begin = text.find(words)
    while begin >= 0:
        before, after = text[:begin].removesuffix("'"), text[begin + len(words) :][:1]
        if (not before or before[-1].isspace()) and not (after.isalnum() or after == "_"):
            return True
        begin = text.find(words, begin + 1)
    return False


def _written(message: Message) -> Iterator[Inline]:
    """What was written in the first cells, and what is right there, where that may be seen; row by row."""
    told = 0
    is_one_column = len({cell.heading for row in message.rows for cell in row.cells}) == 1
    every = sum(len(_told(row)) for row in message.rows)
    for row in message.rows:
        cells = _told(row)
        if not cells or told >= _MOST_WRITTEN:
            continue
        told += len(cells)
        yield f"{row.row}: " if len(message.rows) > 1 else ""
        for number, cell in enumerate(cells):
            yield ", " if number else ""
            yield from _cell(cell, with_heading=not is_one_column)
        yield ". "
    if told < every:
        yield f"And {how_many(every - told, 'more cell')}. "


def _told(row: ToldRow) -> list[ToldCell]:
    return [cell for cell in row.cells if cell.given or cell.answer]


def _cell(cell: ToldCell, *, with_heading: bool = True) -> Iterator[Inline]:
    words = [cell.heading] if with_heading else []
    if cell.given:
        words.append("")
    yield " ".join(words)
    if cell.given:
        yield Code(cell.given)
    if cell.answer is not None:
        lead = " (" if with_heading or cell.given else "("
        yield from (f"{lead}{cell.answer.label.words.lower()}: ", Code(cell.answer.text), ")")


def _rest(message: Message) -> Iterator[Block]:
    """All that is said and does not stand in the line."""
    is_told_beside = not message.rows and bool(message.words.given)
    if any(row.seen for row in message.rows) or sum(len(row.cells) for row in message.rows) > _MOST_WRITTEN:
        yield Bullets(tuple(_row(row) for row in message.rows))
    for part in message.parts:
        if part.label not in IN_A_LINE and not (is_told_beside and part == message.words.answer):
            yield _block(part)


def _block(part: Part) -> Block:
    match part.label:
        case Label.STEPS:
            return Steps(f"{part.label.words}: {part.text}", part.steps)
        case Label.EXAMPLE:
            return Paragraph((Strong("A worked example: "), part.text))
        case Label.RIGHT | Label.RIGHT_BY_PLAN:
            return Paragraph((Strong(f"{part.label.words}: "), Code(part.text)))
        case _:
            return Paragraph(labelled(part))


def _beside(given: str, answer: Part | None) -> Iterator[Inline]:
    """What was written, beside it what is right, where that may be seen (rule F8)."""
    yield "You wrote "
    if answer is None:
        yield Code(given)
        yield "."
        return
    yield from _both(given, answer)
    yield "."


def _both(given: str, answer: Part) -> Iterator[Inline]:
    """The one and the other; octets that differ are marked."""
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
        parts += (", ",) if number else ()
        parts += _cell(cell)
    parts += (" - ", Strong(f"{Label.SEEN.words}: "), row.seen) if row.seen else ()
    return tuple(parts)


def _read_on(page: _Page) -> Iterator[Block]:
    """Which rules of the Brief and which standards to read on in."""
    items: list[Words] = []
    for section in page.marked.sections:
        wrong = [
            cell.explanation
            for cell in page.cells(section.section)
            if cell.explanation is not None and not cell.verdict.is_full
        ]
        sources = _standards(source_of(said.mistake) for said in wrong)
        if wrong:
            of = SECTIONS[section.section]
            more = f"; {'; '.join(sources)}" if sources else ""
            items.append((Strong(f"{of.title}: "), f"Brief, {of.rules}{more}"))
    if items:
        inside: list[Block] = [Bullets(tuple(items))]
        if any(isinstance(QUESTIONS[each.question].concept, Concept) for each in page.marked.cells):
            called = f"trainer practise --after marked-{page.scenario.lab_number}.xlsx"
            inside.append(Paragraph(("To practise what went wrong, with your marked workbook: ", Code(called))))
        yield blocks.Section(title="Where to read on", blocks=tuple(inside), is_for_screen=not page.full)


def _standards(sources: Iterable[str]) -> list[str]:
    """The standards among sources, each once with all its sections: "RFC 7513 section 4.2.2, 8.2"."""
    sections: dict[str, dict[str, None]] = {}
    for part in (part for source in sources for part in source.split("; ")):
        if found := re.fullmatch(r"(RFC \d+)(.*)", part):
            named = sections.setdefault(found[1], {})
            named.update(dict.fromkeys(re.findall(r"section ([\d.]+)", found[2])))
    return [f"{name} section {', '.join(named)}" if named else name for name, named in sections.items()]
