"""Practising alone: what is right so far, what a save changed, and how much is said about what is not right yet.

All of it is values; how it looks in a terminal is the business of commands/practice_lines.py.

No marks and no grade (feedback rule F7). Of a cell that is not right only its place is said at first, the hint from the
second save on or when asked for, explanation and consequence when asked for, the answer only when asked for (F4, F5).
How far somebody has climbed is remembered for each cell until it is right; it is never said how many rungs are left.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.errors import did_you_mean
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.marking.feedback import AT_ONCE
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.said import Label, Part, said

__all__ = [
    "CONSEQUENCE",
    "FORMAT",
    "Answer",
    "CellNames",
    "Changes",
    "Climbed",
    "Progress",
    "SeenCell",
    "Standing",
    "ToDo",
    "after_save",
    "answer_to",
    "changes",
    "next_to_do",
    "reasons",
    "ref_of",
    "section_called",
    "section_of",
    "standings",
    "still_to_look_at",
    "to_do_in",
    "told_on_rung",
    "told_unasked",
]

FORMAT = 1
"""Version of Progress as it is kept between two runs."""
HINT, EXPLANATION, CONSEQUENCE, EXAMPLE = 1, 2, 3, 4
"""Rungs of the ladder above the place alone (feedback rule F5). The answer is none of them: it has a word of its own."""
_TOLD_ON = {
    HINT: {Label.HINT},
    EXPLANATION: {Label.REMARK, Label.EXPLANATION},
    CONSEQUENCE: {Label.REMARK, Label.EXPLANATION, Label.CONSEQUENCE, Label.SEEN, Label.RESTS_ON},
    EXAMPLE: {Label.EXAMPLE},
}

CellNames = Mapping[CellRef, tuple[str, str]]
"""Where cells stand in the saved file: sheet and name, such as ("Subnets", "D7")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCell:
    """A cell as the last save left it."""

    cell: CellRef
    verdict: Verdict
    tries: int
    """Saves in a row on which it was not right; 0 where it is right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Climbed:
    """How much has been said about a cell because somebody asked for it."""

    cell: CellRef
    rung: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What is remembered of a practice lab from one save to the next, and from one run to the next."""

    format: int = FORMAT
    lab: str
    file: tuple[int, ...] = ()
    """What the save that was looked at last is known by; empty before the first."""
    seen: tuple[SeenCell, ...] = ()
    shown: tuple[CellRef, ...] = ()
    """Cells whose answer was asked for."""
    climbed: tuple[Climbed, ...] = field(default=(), metadata={"added later": True})
    """Cells that are not right and about which hints were asked for."""
    support: int = field(default=4, metadata={"added later": True})
    """How much of the lab stood there filled in when it was handed out: 1 to 5, of older labs nothing."""

    @property
    def rungs(self) -> Mapping[CellRef, int]:
        return {each.cell: each.rung for each in self.climbed}

    @property
    def tries(self) -> Mapping[CellRef, int]:
        return {each.cell: each.tries for each in self.seen}

    def with_shown(self, cell: CellRef) -> "Progress":
        return self if cell in self.shown else replace(self, shown=(*self.shown, cell))

    def with_next_rung(self, to_do: "Sequence[ToDo]") -> "Progress":
        """One rung further for each thing that is shown, never past the last."""
        rungs = dict(self.rungs)
        for each in to_do[:AT_ONCE]:
            rungs |= {ref_of(cell): min(each.rung + 1, EXAMPLE) for cell in each.cells}
        return replace(self, climbed=tuple(Climbed(cell=cell, rung=rung) for cell, rung in rungs.items()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How far a section has got."""

    section: str
    asked: int
    right: int
    """Right without having been shown."""
    shown: int
    """Right after the answer had been asked for."""
    too_many: int
    """Rows that cancel a right one, because more were written than are needed."""

    @property
    def is_complete(self) -> bool:
        return self.right + self.shown == self.asked and not self.too_many


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDo:
    """One thing that is not right yet: a cell, or several that are said in one breath."""

    cells: tuple[CellMark, ...]
    tries: int
    rung: int = 0
    """How much was said because it was asked for; 0 where nothing was."""

    @property
    def verdict(self) -> Verdict:
        return self.cells[0].verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What a save has changed."""

    gained: tuple[CellRef, ...]
    """Cells that have become right."""
    lost: tuple[CellRef, ...]
    """Cells that are no longer right."""
    lost_by_following: tuple[CellRef, ...]
    """Of those that are no longer right, the ones that were right because they followed from an answer that was changed."""
    is_first: bool
    """Whether nothing had been saved before."""

    @property
    def is_nothing(self) -> bool:
        return not (self.gained or self.lost or self.lost_by_following)


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said to somebody who asks for the answer of a cell."""

    words: str
    shown: CellRef | None = None
    """The cell whose answer is in the words; None where it is not given away."""


def after_save(progress: Progress, marked: Marked, file: tuple[int, ...]) -> Progress:
    """What is remembered once a save was looked at."""
    tries = progress.tries
    seen = tuple(
        SeenCell(
            cell=ref_of(cell),
            verdict=cell.verdict,
            tries=0 if cell.verdict.is_full else tries.get(ref_of(cell), 0) + 1,
        )
        for cell in marked.cells
    )
    right = {ref_of(cell) for cell in marked.cells if cell.verdict.is_full}
    climbed = tuple(each for each in progress.climbed if each.cell not in right)
    return replace(progress, file=file, seen=seen, climbed=climbed)


def standings(marked: Marked, progress: Progress) -> tuple[Standing, ...]:
    """A standing for each section that is asked, in order."""
    return tuple(_standing(each.section, marked, progress) for each in marked.sections)


def _standing(section: str, marked: Marked, progress: Progress) -> Standing:
    cells = [cell for cell in marked.cells if cell.section == section]
    asked = [cell for cell in cells if cell.out_of]
    full = [ref_of(cell) in progress.shown for cell in asked if cell.verdict.is_full]
    return Standing(
        section=section,
        asked=len(asked),
        right=full.count(False),
        shown=full.count(True),
        too_many=sum(cell.marks < 0 for cell in cells),
    )


def section_called(name: str, marked: Marked) -> str | None:
    """The id of the sheet that is called so; None where there is none to fill in."""
    wanted = name.strip().casefold()
    return next((each.section for each in marked.sections if SECTIONS[each.section].title.casefold() == wanted), None)


def next_to_do(marked: Marked, progress: Progress, section: str | None = None) -> tuple[ToDo, ...]:
    """All that is not right yet in a section: what was written wrongly before what is blank.

    section: its id; the first that is not complete where none is named.
    """
    for standing in standings(marked, progress):
        if not standing.is_complete and section in (None, standing.section):
            return to_do_in(standing.section, marked, progress)
    return ()


def to_do_in(section: str, marked: Marked, progress: Progress) -> tuple[ToDo, ...]:
    """Blank cells and missing rows are taken together where the same is said of them, cells of a needless row always."""
    tries, rungs = progress.tries, progress.rungs
    groups: dict[object, list[CellMark]] = {}
    for place, cell in enumerate(marked.cells):
        if cell.section != section or cell.verdict.is_full:
            continue
        words = cell.explanation.explanation if cell.explanation else ""
        together: object = place if cell.given else (cell.verdict, words)
        if cell.verdict is Verdict.EXTRA:
            together = (cell.verdict, cell.row)
        groups.setdefault(together, []).append(cell)
    found = [
        ToDo(
            cells=tuple(group),
            tries=max(tries.get(ref_of(cell), 0) for cell in group),
            rung=max(rungs.get(ref_of(cell), 0) for cell in group),
        )
        for group in groups.values()
    ]
    return tuple(sorted(found, key=lambda each: each.verdict in (Verdict.BLANK, Verdict.MISSING)))


def changes(marked: Marked, before: Progress, progress: Progress, names: CellNames) -> Changes:
    """What a save has changed in the cells that stand on a sheet."""
    was = {each.cell: each.verdict for each in before.seen if each.verdict.is_full}
    full = {ref_of(cell) for cell in marked.cells if cell.verdict.is_full}
    gained = (ref_of(cell) for cell in marked.cells if ref_of(cell) in full.difference(was))
    # A row can go without harm where others deliver what it did.
    complete = {each.section for each in standings(marked, progress) if each.is_complete}
    lost = [cell for cell in was if cell in names and cell not in full and section_of(cell) not in complete]
    return Changes(
        gained=tuple(cell for cell in gained if cell in names),
        lost=tuple(cell for cell in lost if was[cell] is not Verdict.FOLLOWS),
        lost_by_following=tuple(cell for cell in lost if was[cell] is Verdict.FOLLOWS),
        is_first=not before.seen,
    )


def still_to_look_at(marked: Marked, to_do: Sequence[ToDo], names: CellNames) -> tuple[CellRef, ...]:
    """All that was written and is not right; nothing if what is told of names all of it."""
    written = [ref_of(cell) for cell in marked.cells if cell.given and not cell.verdict.is_full]
    written = [cell for cell in written if cell in names]
    told_of = {ref_of(cell) for each in to_do for cell in each.cells}
    return () if told_of.issuperset(written) else tuple(written)


def told_unasked(to_do: ToDo) -> tuple[Part, ...]:
    """What is told after a save besides the place: the hint from the second save on, or where it was asked for."""
    return _said(to_do, {Label.HINT}) if to_do.tries > 1 or to_do.rung >= HINT else ()


def told_on_rung(to_do: ToDo) -> tuple[Part, ...]:
    """What stands on the rung that was climbed to; the first where none was, and another where it is empty."""
    rung = max(to_do.rung, HINT)
    return _said(to_do, _TOLD_ON[rung]) or _said(to_do, _TOLD_ON[EXPLANATION if rung <= EXPLANATION else CONSEQUENCE])


def reasons(to_do: ToDo) -> tuple[Part, ...]:
    """All that is known of it but the answer, for somebody who asks."""
    return _said(to_do, _TOLD_ON[CONSEQUENCE])


def _said(to_do: ToDo, labels: Collection[Label]) -> tuple[Part, ...]:
    """Said of the first cell: where findings differ by row, a missing row would be called by its name."""
    alone = len(to_do.cells) == 1
    return said(to_do.cells[:1], labels if alone else set(labels) - {Label.RESTS_ON, Label.EXAMPLE})


def answer_to(request: str, marked: Marked, names: CellNames) -> Answer:
    """The right value of a cell that is called as on the sheet: "Subnets G7"."""
    sheet, _, name = request.replace("!", " ").strip().rpartition(" ")
    titles = [SECTIONS[each.section].title for each in marked.sections]
    if not sheet or not re.fullmatch(r"[A-Za-z]{1,3}[0-9]{1,5}", name):
        return Answer("Say which cell, by sheet and name: answer Subnets G7")
    title = next((each for each in titles if each.casefold() == sheet.strip().casefold()), None)
    if title is None:
        return Answer(f"There is no sheet {sheet.strip()!r} to fill in. {did_you_mean(sheet.strip(), titles)}".rstrip())
    wanted = (title.casefold(), name.upper())
    ref = next((cell for cell, (on, at) in names.items() if (on.casefold(), at) == wanted), None)
    if ref is None:
        return Answer(f"{title} {name.upper()} is no cell to fill in.")
    cell = next((each for each in marked.cells if ref_of(each) == ref and each.verdict is not Verdict.EXTRA), None)
    if cell is None:
        cell = _of_a_missing_row(ref, marked, names)
    if cell is None:
        return Answer(f"{title} {name.upper()}: no more rows are needed.")
    if cell.verdict.is_full:
        return Answer(f"{title} {name.upper()} is right as it stands.")
    if not cell.expected and cell.given and cell.explanation is not None:
        return Answer(f"{title} {name.upper()} is right by itself. {cell.explanation.explanation}")
    return Answer(f"{title} {name.upper()}: {cell.expected or '(nothing)'}", ref)


def _of_a_missing_row(ref: CellRef, marked: Marked, names: CellNames) -> CellMark | None:
    """What a row that is free, or holds what no rule asks for, could say: the first free one belongs to the first row
    that is missing, and so on, so that the cells of a row are answered alike.
    """
    used = {cell.row for cell in marked.cells if cell.verdict is not Verdict.EXTRA}
    free = [cell.row for cell in names if cell.question == ref.question and cell.row not in used]
    missing = [each for each in marked.cells if each.question == ref.question and each.verdict is Verdict.MISSING]
    place = free.index(ref.row) if ref.row in free else len(missing)
    return missing[place] if place < len(missing) else None


def section_of(cell: CellRef) -> str:
    """Question ids begin with their section's."""
    return cell.question.partition(".")[0]


def ref_of(cell: CellMark) -> CellRef:
    return CellRef(cell.question, cell.row)
