"""What is said to whom: the words of a verdict, and which cells are spoken of together."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from trainer.lab.form import RowKey
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Reveal
from trainer.listing import how_many
from trainer.marking.explanation import EMPTY
from trainer.marking.marks import CellMark, Verdict
from trainer.marking.said import Label, Part, answer_of, in_order, may_see, said

__all__ = [
    "AT_ONCE",
    "BY_HAND",
    "SIGNS",
    "UNNAMED",
    "Message",
    "Remark",
    "ToldCell",
    "ToldRow",
    "answers_in",
    "messages",
    "remarks",
    "sign",
    "together",
]

BY_HAND = "Marked by hand"
"""Over the parts that are no sheets."""
SIGNS = {
    Verdict.RIGHT: "\u2713",
    Verdict.FOLLOWS: "\u2713",
    Verdict.PARTLY: "\u00bd",
    Verdict.AGAIN: "~",
    Verdict.WRONG: "\u2717",
    Verdict.BLANK: "\u2013",
    Verdict.UNREADABLE: "?",
    Verdict.EXTRA: "\u271a",
    Verdict.MISSING: "\u2026",
    Verdict.STRUCK: "\u25cb",
}
"""A sign for each verdict, so that it is never told by colour alone. None begins a formula: answers stand behind it."""

AT_ONCE = 3
"""So many things are told in full in one view (feedback rule F6)."""
UNNAMED = RowKey("Missing rows")
"""How rows are called that should have been written, where their names may not be seen: they are counted."""
_UNWRITTEN = RowKey("Rows not written")
"""The same of rows whose work others do."""
_NAMELESS = frozenset({UNNAMED, _UNWRITTEN})
_ALIKE = (Label.DECISION, Label.REMARK, Label.EXPLANATION, Label.CONSEQUENCE, Label.HINT)
"""Remarks whose verdict and these parts are the same are said as one."""
_OF_ONE_CELL = frozenset(
    {Label.RESTS_ON, Label.FOLLOWED, Label.RIGHT, Label.RIGHT_BY_PLAN, Label.DERIVATION, Label.EXAMPLE}
)
"""Parts that are not said of several cells at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What is said about one cell, or about several that have one cause."""

    cells: tuple[CellMark, ...]
    row: str
    questions: str
    """Headings of the cells, in order."""
    parts: tuple[Part, ...]
    """What may be seen, in order."""
    answers: tuple[Part | None, ...]
    """For each cell what is right; None where that may not be seen, or stands there."""

    @property
    def verdict(self) -> Verdict:
        return self.cells[0].verdict

    @property
    def given(self) -> str:
        return self.cells[0].given

    @property
    def answer(self) -> Part | None:
        """What is right, where it is about one cell."""
        return self.answers[0] if len(self.cells) == 1 else None

    def text(self, label: Label) -> str:
        return next((part.text for part in self.parts if part.label is label), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldCell:
    """A cell of which something is said."""

    heading: str
    given: str
    answer: Part | None
    """What is right, where that may be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldRow:
    """A row and its cells; without cells one or several rows in which nothing was written at all."""

    row: str
    cells: tuple[ToldCell, ...] = ()
    seen: str = ""
    """What was seen when they were tried, where it is not the same for all rows."""


@dataclass(frozen=True, kw_only=True)
class Message:
    """What is said once, and all the rows of which it is true."""

    remarks: tuple[Remark, ...]
    """Those that say it, in order."""
    about: str
    parts: tuple[Part, ...]
    """What is true of all its cells, in order."""
    rows: tuple[ToldRow, ...]
    """Empty where the words are about one cell, or the title names all the cells."""

    @property
    def words(self) -> Remark:
        """The first of the remarks that say it."""
        return self.remarks[0]

    @property
    def section(self) -> str:
        return self.words.cells[0].section

    @cached_property
    def lost(self) -> Fraction:
        """Marks that its cells have lost, taken away or not earned."""
        return sum((cell.out_of - cell.marks for each in self.remarks for cell in each.cells), Fraction(0))

    @cached_property
    def loses(self) -> int:
        """So many trials a right network loses by it: cells that were tried together count once."""
        tried = {
            (each.seen, cell.row): each.loses
            for remark in self.remarks
            for cell in remark.cells
            if (each := cell.explanation) is not None
        }
        return sum(tried.values())

    @cached_property
    def masked_by(self) -> frozenset[str]:
        """Where the errors stand that keep it from showing; empty where some of it shows, or nothing of it was tried."""
        explained = (cell.explanation for each in self.remarks for cell in each.cells)
        found = frozenset(each.masked_by for each in explained if each is not None and each.seen)
        return frozenset() if "" in found else found

    @cached_property
    def stands_in(self) -> frozenset[str]:
        """The rows that it is about, called as in masked_by, where a row that was not written is called by its sheet alone."""
        return frozenset(
            cell.section if cell.verdict is Verdict.MISSING else f"{cell.section} {cell.row}"
            for each in self.remarks
            for cell in each.cells
        )

    @cached_property
    def first_errors(self) -> frozenset[str]:
        """The cells with the errors from which its own follow; empty where one of its cells follows from none."""
        explained = [cell.explanation for each in self.remarks for cell in each.cells]
        found = [frozenset() if each is None else frozenset(each.first_errors) for each in explained]
        return frozenset().union(*found) if all(found) else frozenset()

    @cached_property
    def cells(self) -> frozenset[str]:
        """The cells that it is about, called as in first_errors."""
        return frozenset(
            f"{SECTIONS[cell.section].title} {cell.row}: {_heading(cell)}"
            for each in self.remarks
            for cell in each.cells
        )

    @property
    def followers(self) -> int:
        """How many right cells depend on it."""
        explained = (cell.explanation for each in self.remarks for cell in each.cells)
        return sum(len(each.followed) for each in explained if each is not None)


def sign(verdict: Verdict) -> str:
    """Sign and word: "X wrong"."""
    return f"{SIGNS[verdict]} {verdict.word}"


def remarks(cells: Iterable[CellMark], reveal: Reveal, leave_out: Collection[Label] = ()) -> Iterator[Remark]:
    """A remark for every cell that is not simply right, in order; blank cells and missing rows are spoken of together.

    reveal: how much may be seen; leave_out: parts for which there is no room where they are shown.
    """
    labels = may_see(reveal).difference(leave_out)
    for group in _groups(_as_may_be_named(cells, labels)):
        yield _remark(group, labels)


def _as_may_be_named(cells: Iterable[CellMark], labels: Collection[Label]) -> Iterator[CellMark]:
    """The cells; rows that are missing without their names, which are answers, where answers may not be seen."""
    for cell in cells:
        is_unnamed = Label.RIGHT not in labels and not _is_written(cell)
        called = UNNAMED if cell.verdict is Verdict.MISSING else _UNWRITTEN
        yield replace(cell, row=called) if is_unnamed else cell


def _is_written(cell: CellMark) -> bool:
    """Whether its row stands on the trainee's sheet: the key's names of open rows say what should have been written."""
    rows = SECTIONS[cell.section].open
    return rows is None or rows.called(cell.row) is not None


def messages(cells: Iterable[CellMark], reveal: Reveal, leave_out: Collection[Label] = ()) -> tuple[Message, ...]:
    """The remarks on the cells of a section, those that say the same as one, in the order of the first of them."""
    cells = tuple(cells)
    asked = frozenset(cell.question for cell in cells)
    alike: dict[object, list[Remark]] = {}
    for remark in remarks(cells, reveal, leave_out):
        told = (_of_each(remark) if label is Label.EXPLANATION else remark.text(label) for label in _ALIKE)
        alike.setdefault((remark.verdict, *told), []).append(remark)
    return tuple(_message(group, asked) for group in alike.values())


def _of_each(remark: Remark) -> str:
    """What is wrong, as it is said of several cells in which something else was written each time."""
    text = remark.text(Label.EXPLANATION)
    if len(remark.cells) > 1 or not remark.given or text.count(remark.given) != 1:
        return text
    for start, each in (("At ", "At each"), ("", "Each")):
        for quote in ("'", ""):
            named = f"{start}{quote}{remark.given}{quote}"
            if text.startswith(f"{named} "):
                return f"{each} of these{text.removeprefix(named)}"
    return text


def together(alike: Sequence[Remark], row: RowKey) -> tuple[Part, ...]:
    """All that is said in a row by remarks that have one cause: each part once, the right values with their headings."""
    answers = (Label.RIGHT, Label.RIGHT_BY_PLAN)
    parts = [part for remark in alike for part in remark.parts if part.label not in answers]
    return in_order((*parts, *answers_in(alike, row)))


def answers_in(alike: Iterable[Remark], row: RowKey) -> tuple[Part, ...]:
    """What is right in a row, where that may be seen; of several cells with their headings."""
    cells = [pair for remark in alike for pair in zip(remark.cells, remark.answers, strict=True) if pair[0].row == row]
    by_label: dict[Label, list[str]] = {}
    for cell, answer in cells:
        if answer is not None:
            text = f"{_heading(cell)} {answer.text}" if len(cells) > 1 else answer.text
            by_label.setdefault(answer.label, []).append(text)
    told = in_order(Part(label=label, text=", ".join(texts)) for label, texts in by_label.items())
    return (*(replace(part, text=f"{part.text}.") for part in told[:-1]), *told[-1:])


def _message(group: Sequence[Remark], asked: Collection[str]) -> Message:
    """asked: ids of the questions of the section that the lab asks."""
    first, count = group[0], sum(len(remark.cells) for remark in group)
    is_seen_alike = len({remark.text(Label.SEEN) for remark in group}) == 1
    is_whole_row = first.verdict is Verdict.MISSING and count > 1
    about, rows = first.row if is_whole_row else f"{first.row}: {first.questions}", tuple[ToldRow, ...]()
    if len(group) > 1:
        about, rows = how_many(count, "cell"), _rows(group, asked, with_seen=not is_seen_alike)
    elif count > 1 and (any(cell.given for cell in first.cells) or any(first.answers)):
        rows = _rows(group, asked)
    leave_out = _OF_ONE_CELL if rows else frozenset[Label]()
    if not is_seen_alike:
        leave_out |= {Label.SEEN, Label.STEPS}
    parts = tuple(part for part in first.parts if part.label not in leave_out)
    several = _of_each(first) if len({remark.given for remark in group}) > 1 else first.text(Label.EXPLANATION)
    if count > 1 and several == EMPTY:
        several = "These cells are empty."
    if several:
        each = Part(label=Label.EXPLANATION, text=several)
        parts = tuple(each if part.label is Label.EXPLANATION else part for part in parts)
    return Message(remarks=tuple(group), about=about, parts=parts, rows=rows)


def _rows(group: Iterable[Remark], asked: Collection[str], *, with_seen: bool = False) -> tuple[ToldRow, ...]:
    """The cells by row; rows of which nothing but the name is to be told stand together, behind the others."""
    rows: dict[str, list[ToldCell]] = {}
    seen: dict[str, list[str]] = {}
    questions = 0
    for remark in group:
        for cell, answer in zip(remark.cells, remark.answers, strict=True):
            questions = sum(each.asked_where is None or each.id in asked for each in SECTIONS[cell.section].questions)
            if cell.row in _NAMELESS:
                rows[remark.row] = []
                continue
            told = ToldCell(heading=_heading(cell), given=cell.given, answer=answer)
            rows.setdefault(cell.row, []).append(told)
            if with_seen and (text := remark.text(Label.SEEN)) and text not in seen.get(cell.row, ()):
                seen.setdefault(cell.row, []).append(text)
    bare = [
        row
        for row, cells in rows.items()
        if len(cells) in (0, questions) and not seen.get(row) and not any(each.given or each.answer for each in cells)
    ]
    told_rows = [
        ToldRow(row=row, cells=tuple(cells), seen=" ".join(seen.get(row, ())))
        for row, cells in rows.items()
        if row not in bare
    ]
    return (*told_rows, ToldRow(row=", ".join(bare))) if bare else tuple(told_rows)


def _groups(cells: Iterable[CellMark]) -> list[list[CellMark]]:
    groups: dict[object, list[CellMark]] = {}
    for place, cell in enumerate(cells):
        if cell.verdict is Verdict.RIGHT and not cell.remark and not cell.decision:
            continue
        if cell.verdict is Verdict.STRUCK and not cell.given:
            continue  # of a row that was not written the name would be told
        words = cell.explanation.explanation if cell.explanation else cell.remark
        together: object = place
        if cell.verdict in (Verdict.MISSING, Verdict.RIGHT) or not cell.given:
            together = (cell.section, cell.row, cell.verdict, words)
        if cell.verdict is Verdict.EXTRA:
            together = (cell.section, cell.row, cell.verdict)
        if cell.verdict is Verdict.BLANK:
            together = (cell.section, cell.verdict, words)
        if cell.decision:
            together = place
        groups.setdefault(together, []).append(cell)
    return list(groups.values())


def _remark(group: Sequence[CellMark], labels: Collection[Label]) -> Remark:
    rows = list(dict.fromkeys(cell.row for cell in group))
    headings = list(dict.fromkeys(_heading(cell) for cell in group))
    answers = (answer_of(cell) for cell in group)
    row = ", ".join(rows) if len(rows) <= 3 else f"{len(rows)} rows"
    if _NAMELESS.issuperset(rows):
        count = max(Counter(cell.question for cell in group).values())
        row = f"{how_many(count, 'row')} not written"
    return Remark(
        cells=tuple(group),
        row=row,
        questions=", ".join(headings) if len(headings) <= 4 else f"{len(group)} cells",
        parts=said(group, labels),
        answers=tuple(each if each is not None and each.label in labels else None for each in answers),
    )


def _heading(cell: CellMark) -> str:
    return SECTIONS[cell.section].question(cell.question).heading
