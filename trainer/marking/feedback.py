"""What is said to whom: the words of a verdict, how much a trainee may see, and which cells are spoken of together."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Reveal
from trainer.marking.marks import CellMark, Verdict

__all__ = ["SIGNS", "Message", "Place", "PlacedCell", "Remark", "messages", "remarks", "right_word", "sign"]

SIGNS = {
    Verdict.RIGHT: "\u2713",
    Verdict.FOLLOWS: "\u2713",
    Verdict.PARTLY: "\u00bd",
    Verdict.WRONG: "\u2717",
    Verdict.BLANK: "\u2013",
    Verdict.UNREADABLE: "?",
    Verdict.EXTRA: "\u271a",
    Verdict.MISSING: "\u2026",
}
"""A sign for each verdict, so that it is never told by colour alone. None begins a formula: answers stand behind it."""

_MOST_FOLLOWERS = 6
"""So many of the cells that follow from one are named."""
_MOST_SEEN = 3
"""Of cells that are spoken of together so many findings are told."""
_RUNGS = (Reveal.MARKS, Reveal.HINTS, Reveal.EXPLANATIONS, Reveal.ANSWERS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What is said about one cell, or about several that have one cause. Parts that are not to be seen are empty."""

    cells: tuple[CellMark, ...]
    verdict: Verdict
    row: str
    questions: str
    """Headings of the cells, in order."""
    given: str
    explanation: str
    consequence: str
    seen: str
    """What was seen when it was tried on the network."""
    rests_on: str
    """Which earlier cells it is worked out from."""
    example: str
    """The same step in another lab."""
    derivation: str
    """How the right value is come by."""
    followed: str
    """Which cells are right because they follow from it."""
    steps: tuple[str, ...]
    """One trial that goes wrong because of it: what it is, then step by step."""
    hint: str
    answers: tuple[str, ...]
    """For each cell what is right, "" where that may not be seen, or stands there."""
    decision: str
    """The instructor's reason, to be seen whatever the exercise lets trainees see."""

    @property
    def right(self) -> str:
        """How the answer is called."""
        return right_word(self.cells[0])

    @property
    def answer(self) -> str:
        """What is right, where it is about one cell."""
        return self.answers[0] if len(self.cells) == 1 else ""


@dataclass(frozen=True, slots=True)
class PlacedCell:
    """A cell of which something is said."""

    heading: str
    given: str
    answer: str
    """What is right, where that may be seen."""
    right: str
    """How that is called: by the trainee's own plan, where the key has another value."""


@dataclass(frozen=True, slots=True)
class Place:
    """A row and its cells; without cells one or several rows in which nothing was written at all."""

    row: str
    cells: tuple[PlacedCell, ...] = ()
    seen: str = ""
    """What was seen when they were tried, where it is not the same for all places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What is said once, and all the places of which it is true."""

    words: Remark
    """The first of the remarks that say it."""
    remarks: tuple[Remark, ...]
    """All of them, in order."""
    about: str
    seen: str
    """What was seen when they were tried, where it is the same for all."""
    places: tuple[Place, ...]
    """Empty where the words are about one cell, or the title names all the cells."""

    @property
    def section(self) -> str:
        return self.words.cells[0].section

    @property
    def lost(self) -> Decimal:
        """Marks that its cells have lost, taken away or not earned."""
        return sum((cell.out_of - cell.marks for each in self.remarks for cell in each.cells), Decimal(0))

    @property
    def masked_by(self) -> frozenset[str]:
        """Where the errors stand that keep it from showing; empty where some of it shows, or nothing of it was tried."""
        said = (cell.explanation for each in self.remarks for cell in each.cells)
        found = frozenset(each.masked_by for each in said if each is not None and each.seen)
        return frozenset() if "" in found else found

    @property
    def stands_in(self) -> frozenset[str]:
        """The rows that it is about, called as in masked_by, where a row that was not written is called by its sheet alone."""
        return frozenset(
            cell.section if cell.verdict is Verdict.MISSING else f"{cell.section} {cell.row}"
            for each in self.remarks
            for cell in each.cells
        )

    @property
    def followers(self) -> int:
        """How many right cells rest on it."""
        said = (cell.explanation for each in self.remarks for cell in each.cells)
        return sum(len(each.followed) for each in said if each is not None)


def sign(verdict: Verdict) -> str:
    """Sign and word: "X wrong"."""
    return f"{SIGNS[verdict]} {verdict.word}"


def remarks(cells: Iterable[CellMark], reveal: Reveal) -> Iterator[Remark]:
    """A remark for every cell that is not simply right, in order; blank cells and missing rows are spoken of together."""
    for group in _groups(cells):
        yield _remark(group, _RUNGS.index(reveal))


def messages(cells: Iterable[CellMark], reveal: Reveal) -> tuple[Message, ...]:
    """The remarks on the cells of a section, those that say the same as one, in the order of the first of them."""
    alike: dict[object, list[Remark]] = {}
    for remark in remarks(cells, reveal):
        words = (remark.verdict, remark.explanation, remark.consequence, remark.hint, remark.decision)
        alike.setdefault(words, []).append(remark)
    return tuple(_message(group) for group in alike.values())


def _message(group: Sequence[Remark]) -> Message:
    first, count = group[0], sum(len(remark.cells) for remark in group)
    is_seen_alike = len({remark.seen for remark in group}) == 1
    seen = first.seen if is_seen_alike else ""
    if len(group) > 1:
        return Message(
            words=first,
            remarks=tuple(group),
            about=f"{count} cells",
            seen=seen,
            places=_places(group, with_seen=not is_seen_alike),
        )
    is_told = count == 1 or not (any(cell.given for cell in first.cells) or any(first.answers))
    about = f"{first.row}: {first.questions}"
    return Message(words=first, remarks=tuple(group), about=about, seen=seen, places=() if is_told else _places(group))


def _places(group: Iterable[Remark], *, with_seen: bool = False) -> tuple[Place, ...]:
    """The cells by row; rows of which nothing but the name is to be told stand together, behind the others."""
    rows: dict[str, list[PlacedCell]] = {}
    seen: dict[str, list[str]] = {}
    questions = 0
    for remark in group:
        for cell, answer in zip(remark.cells, remark.answers, strict=True):
            section = SECTIONS[cell.section]
            questions = len(section.questions)
            rows.setdefault(cell.row, []).append(
                PlacedCell(section.question(cell.question).heading, cell.given, answer, right_word(cell))
            )
            if with_seen and remark.seen and remark.seen not in seen.get(cell.row, ()):
                seen.setdefault(cell.row, []).append(remark.seen)
    bare = [
        row
        for row, cells in rows.items()
        if len(cells) == questions and not seen.get(row) and not any(each.given or each.answer for each in cells)
    ]
    places = [Place(row, tuple(cells), " ".join(seen.get(row, ()))) for row, cells in rows.items() if row not in bare]
    return (*places, Place(", ".join(bare))) if bare else tuple(places)


def _groups(cells: Iterable[CellMark]) -> list[list[CellMark]]:
    groups: dict[object, list[CellMark]] = {}
    for place, cell in enumerate(cells):
        if cell.verdict is Verdict.RIGHT and not cell.remark and not cell.decision:
            continue
        said = cell.explanation.explanation if cell.explanation else cell.remark
        together: object = place
        if cell.verdict in (Verdict.MISSING, Verdict.RIGHT) or not cell.given:
            together = (cell.section, cell.row, cell.verdict, said)
        if cell.verdict is Verdict.EXTRA:
            together = (cell.section, cell.row, cell.verdict)
        if cell.verdict is Verdict.BLANK:
            together = (cell.section, cell.verdict, said)
        if cell.decision:
            together = place
        groups.setdefault(together, []).append(cell)
    return list(groups.values())


def _remark(group: list[CellMark], rung: int) -> Remark:
    first = group[0]
    said = first.explanation
    rows = list(dict.fromkeys(cell.row for cell in group))
    headings = list(dict.fromkeys(SECTIONS[cell.section].question(cell.question).heading for cell in group))
    return Remark(
        cells=tuple(group),
        verdict=first.verdict,
        row=", ".join(rows) if len(rows) <= 3 else f"{len(rows)} rows",
        questions=", ".join(headings) if len(headings) <= 4 else f"{len(group)} cells",
        given=first.given,
        explanation=(said.explanation if said else first.remark) if rung >= 2 or not said else "",
        consequence=said.consequence if said and rung >= 2 else "",
        seen=_seen(group) if rung >= 2 else "",
        rests_on=f"It rests on {said.rests_on}." if said and said.rests_on and rung >= 2 else "",
        example=said.example if said and rung == 2 and len(group) == 1 else "",
        derivation=said.derivation if said and rung >= 3 and len(group) == 1 and not _stands_right(first) else "",
        followed=_followed(said.followed) if said else "",
        steps=said.steps if said and rung >= 3 else (),
        hint=said.hint if said and rung >= 1 else "",
        decision=first.decision,
        answers=tuple(cell.expected if rung >= 3 and not _stands_right(cell) else "" for cell in group),
    )


def _seen(group: Sequence[CellMark]) -> str:
    """What was seen when the cells were tried; where it is not the same for all of them, with the rows."""
    of_rows: dict[str, list[str]] = {}
    for cell in group:
        if cell.explanation is not None and cell.explanation.seen:
            rows = of_rows.setdefault(cell.explanation.seen, [])
            rows += () if cell.row in rows else (cell.row,)
    if len(of_rows) <= 1:
        return "".join(of_rows)
    told = [f"{', '.join(rows)}: {seen}" for seen, rows in of_rows.items()]
    return " ".join(told[:_MOST_SEEN])


def _followed(cells: Sequence[str]) -> str:
    if not cells:
        return ""
    named = ", ".join(cells[:_MOST_FOLLOWERS])
    more = f" and {len(cells) - _MOST_FOLLOWERS} more" if len(cells) > _MOST_FOLLOWERS else ""
    return f"What follows from it counts: {named}{more}."


def right_word(cell: CellMark) -> str:
    """How the right value is called: by the trainee's own plan, where the key has another one."""
    return "right by your own plan" if cell.by_plan else "right"


def _stands_right(cell: CellMark) -> bool:
    """Whether there is no other answer to show: the very value stands there, or one that counts in full as well, which the
    key's value beside it would contradict.
    """
    return cell.given == cell.expected or bool(cell.given and cell.verdict.is_full)
