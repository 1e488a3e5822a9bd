"""Practising alone: what is right so far, what a save changed, and how much is said about what is not right yet.

All of it is values; how it looks in a terminal is the business of commands/practice_lines.py, which cell is meant and what
its answer is that of practice_cells.py.

No marks and no grade (feedback rule F7). A blank cell is no try. Of a value that is not right only the place is said at
first, the hint from the second save on or when asked for, what is wrong when asked for, the answer only when asked for and
after a try (F4, F5). One cause is told once, with all the cells that go with it (F6). What follows from an answer that is
not right yet is neither gained nor lost. How far somebody has climbed is remembered for each cell until it is right.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.marking.explanation import NEUTRAL
from trainer.marking.feedback import AT_ONCE
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.said import Label, Part, said

__all__ = [
    "EXPLANATION",
    "FORMAT",
    "HINT",
    "MOST_WORDS",
    "STEPS",
    "Attempt",
    "CellNames",
    "Changes",
    "Climbed",
    "Progress",
    "SeenCell",
    "Standing",
    "ToDo",
    "after_save",
    "attempts",
    "changes",
    "next_to_do",
    "reasons",
    "ref_of",
    "section_called",
    "standings",
    "still_to_look_at",
    "to_do_in",
    "to_do_of",
    "told_on_rung",
    "told_unasked",
]

FORMAT = 1
"""Version of Progress as it is kept between two runs."""
HINT, EXPLANATION, STEPS = 1, 2, 3
"""Rungs of the ladder above the place alone (feedback rule F5): a question that leads on, what is wrong, and the way to the value
with another lab's numbers. The answer is none of them: it has a word of its own."""
_REASONS = (Label.REMARK, Label.EXPLANATION, Label.CONSEQUENCE, Label.SEEN, Label.RESTS_ON)
MOST_WORDS = 40
"""Of what is told in one breath (feedback rule F2)."""
_UNWRITTEN = (Verdict.BLANK, Verdict.MISSING)

CellNames = Mapping[CellRef, tuple[str, str]]
"""Where cells stand in the saved file: sheet and name, such as ("Subnets", "D7")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCell:
    """A cell as the last save left it, and what is remembered of the saves before."""

    cell: CellRef
    verdict: Verdict
    tries: int
    """Saves in a row on which something stood in it that was not right; 0 where it is right."""
    given: str = field(default="", metadata={"added later": True})
    """What stood in it."""
    first: Verdict | None = field(default=None, metadata={"added later": True})
    """What was found of the first try; None before it."""
    mistake: str = field(default="", metadata={"added later": True})
    """What the catalogue made out in the first try."""
    rung: int = field(default=0, metadata={"added later": True})
    """The highest rung that was asked for, ever."""


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
    """The level of support that the lab was drawn for, 1 to 5."""
    steps_harder: int = field(default=0, metadata={"added later": True})
    """How much harder its exercise is than the standard one, in steps of half a logit."""
    filled_in: tuple[CellRef, ...] = field(default=(), metadata={"added later": True})
    """Cells that stood there filled in when the lab was handed out: nobody has to do them."""
    asked: tuple[str, ...] = field(default=(), metadata={"added later": True})
    """Of a network with faults what was asked for, in order (study/inquiry.py)."""

    @property
    def is_done(self) -> bool:
        """Whether every cell was right when it was looked at last."""
        return bool(self.seen) and all(each.verdict.is_full for each in self.seen)

    @property
    def rungs(self) -> Mapping[CellRef, int]:
        return {each.cell: each.rung for each in self.climbed}

    @property
    def tries(self) -> Mapping[CellRef, int]:
        return {each.cell: each.tries for each in self.seen}

    def with_shown(self, cell: CellRef) -> "Progress":
        return self if cell in self.shown else replace(self, shown=(*self.shown, cell))

    def with_asked(self, name: str) -> "Progress":
        return self if name in self.asked else replace(self, asked=(*self.asked, name))

    def with_next_rung(self, to_do: "Sequence[ToDo]") -> "Progress":
        """One rung further for each thing that is shown, never past the last."""
        return self._with_rungs({cell: each.rung + 1 for each in to_do[:AT_ONCE] for cell in each.refs})

    def with_rung(self, cells: Iterable[CellRef], rung: int) -> "Progress":
        """That rung was asked for, of these cells."""
        return self._with_rungs({cell: max(rung, self.rungs.get(cell, 0)) for cell in cells})

    def _with_rungs(self, found: Mapping[CellRef, int]) -> "Progress":
        rungs = {**self.rungs, **{cell: min(rung, STEPS) for cell, rung in found.items()}}
        return replace(self, climbed=tuple(Climbed(cell=cell, rung=rung) for cell, rung in rungs.items()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How far a section has got. What stood there filled in is not counted."""

    section: str
    asked: int
    right: int
    """Right without having been shown."""
    shown: int
    """Right after the answer had been asked for."""
    following: int
    """Worked out rightly from an answer that is not right itself: right and wrong with that."""
    too_many: int
    """Rows that cancel a right one, because more were written than are needed."""

    @property
    def done(self) -> int:
        return self.right + self.shown

    @property
    def is_complete(self) -> bool:
        return self.done + self.following == self.asked and not self.too_many


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDo:
    """One thing that is not right yet: a cause with all the cells of a sheet that it is made in, or a row that is blank."""

    cells: tuple[CellMark, ...]
    tries: int
    rung: int = 0
    """How much was said because it was asked for; 0 where nothing was."""
    with_it: tuple[CellMark, ...] = ()
    """Cells that are not right because they rest on it."""

    @property
    def verdict(self) -> Verdict:
        return self.cells[0].verdict

    @property
    def is_blank(self) -> bool:
        """Whether nothing was tried yet."""
        return self.verdict in _UNWRITTEN

    @property
    def refs(self) -> tuple[CellRef, ...]:
        return tuple(map(ref_of, self.cells))


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What a save has changed in cells that stand on a sheet."""

    gained: tuple[CellRef, ...]
    """Cells that have become right by themselves."""
    lost: tuple[CellRef, ...]
    """Cells that were changed and are no longer right."""
    to_do_again: tuple[CellRef, ...]
    """Cells that were right, or followed rightly, and stand as they were: what they rest on was changed."""
    otherwise_wrong: tuple[CellRef, ...]
    """Cells whose value was changed and that were not right before and are not now."""
    following: tuple[CellRef, ...]
    """Cells that were written anew and follow rightly from an answer that is not right."""
    is_first: bool
    """Whether nothing had been saved before."""

    @property
    def is_nothing(self) -> bool:
        return not (self.gained or self.lost or self.to_do_again or self.otherwise_wrong or self.following)


def after_save(progress: Progress, marked: Marked, file: tuple[int, ...]) -> Progress:
    """What is remembered once a save was looked at."""
    before = {each.cell: each for each in progress.seen}
    rungs = progress.rungs
    seen = tuple(_seen(cell, before.get(ref_of(cell)), rungs.get(ref_of(cell), 0)) for cell in marked.cells)
    right = {ref_of(cell) for cell in marked.cells if cell.verdict.is_full}
    climbed = tuple(each for each in progress.climbed if each.cell not in right)
    return replace(progress, file=file, seen=seen, climbed=climbed)


def _seen(cell: CellMark, before: SeenCell | None, rung: int) -> SeenCell:
    """A blank cell is no try: what was counted stays as it was."""
    tries, first, mistake = (0, None, "") if before is None else (before.tries, before.first, before.mistake)
    stands = before is not None and before.verdict.is_full and before.given == cell.given
    if cell.verdict.is_full:
        tries = 0
    elif (
        cell.verdict not in _UNWRITTEN and not stands
    ):  # what stands as it was, on something that was changed, is no new try
        tries += 1
    if first is None and cell.verdict not in _UNWRITTEN:
        first, mistake = cell.verdict, cell.explanation.mistake if cell.explanation else ""
    return SeenCell(
        cell=ref_of(cell),
        verdict=cell.verdict,
        tries=tries,
        given=cell.given,
        first=first,
        mistake=mistake,
        rung=max(rung, before.rung if before else 0),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """A cell that somebody tried, from the first try to the last."""

    cell: CellRef
    first: Verdict
    """What was found of the first try."""
    mistake: str
    """What the catalogue made out in it; "" where nothing, or where it was right."""
    rung: int
    """The highest rung that was asked for: 0 none, then HINT, EXPLANATION, STEPS."""
    shown: bool
    """Whether the answer was asked for."""
    is_right: bool
    """Whether it is right by now."""


def attempts(progress: Progress) -> tuple[Attempt, ...]:
    """The cells that were tried; not those that stood there filled in."""
    rungs = progress.rungs
    return tuple(
        Attempt(
            cell=each.cell,
            first=each.first,
            mistake=each.mistake,
            rung=max(each.rung, rungs.get(each.cell, 0)),
            shown=each.cell in progress.shown,
            is_right=each.verdict.is_full,
        )
        for each in progress.seen
        if each.first is not None and each.cell not in progress.filled_in
    )


def standings(marked: Marked, progress: Progress) -> tuple[Standing, ...]:
    """A standing for each section that is asked, in order."""
    return tuple(_standing(each.section, marked, progress) for each in marked.sections)


def _standing(section: str, marked: Marked, progress: Progress) -> Standing:
    filled_in = {ref for ref in progress.filled_in if ref.section == section}
    cells = [cell for cell in marked.cells if cell.section == section]
    asked = [cell for cell in cells if cell.out_of and not (cell.verdict.is_full and ref_of(cell) in filled_in)]
    right = [ref_of(cell) in progress.shown for cell in asked if cell.verdict is Verdict.RIGHT]
    return Standing(
        section=section,
        asked=len(asked),
        right=right.count(False),
        shown=right.count(True),
        following=sum(cell.verdict is Verdict.FOLLOWS for cell in asked),
        too_many=sum(cell.marks < 0 for cell in cells),
    )


def section_called(name: str, marked: Marked) -> str | None:
    """The id of the sheet that is called so; None where there is none to fill in."""
    wanted = name.strip().casefold()
    return next((each.section for each in marked.sections if SECTIONS[each.section].title.casefold() == wanted), None)


def next_to_do(marked: Marked, progress: Progress, section: str | None = None) -> tuple[ToDo, ...]:
    """All that is not right yet in a section: what was written wrongly before what is blank.

    section: its id; where none is named the first in which something wrong was written, else the first that is not complete.
    """
    ahead = [each.section for each in standings(marked, progress) if not each.is_complete]
    if section is None:
        wrong = {cell.section for cell in marked.cells if not (cell.verdict.is_full or cell.verdict in _UNWRITTEN)}
        ahead.sort(key=lambda each: each not in wrong)
    else:
        ahead = [each for each in ahead if each == section]
    return to_do_in(ahead[0], marked, progress) if ahead else ()


def to_do_in(section: str, marked: Marked, progress: Progress) -> tuple[ToDo, ...]:
    """Cells with one cause are taken together, with those that rest on them; blank cells row by row."""
    groups: dict[object, list[CellMark]] = {}
    for cell in marked.cells:
        if cell.section == section and not cell.verdict.is_full:
            groups.setdefault(_cause(cell), []).append(cell)
    goes_with = _goes_with(groups)
    found = []
    for cause, group in groups.items():
        if cause not in goes_with:
            resting = [cell for other, on in goes_with.items() if on == cause for cell in groups[other]]
            found.append(_to_do(group, progress, tuple(resting)))
    return tuple(sorted(found, key=lambda each: each.is_blank))


def to_do_of(ref: CellRef, marked: Marked, progress: Progress) -> ToDo | None:
    """What is not right yet of one cell, with the other cells that have its cause; None where it is right."""
    for each in to_do_in(ref.section, marked, progress):
        if ref in each.refs or ref in map(ref_of, each.with_it):
            return each
    return None


def _to_do(group: Sequence[CellMark], progress: Progress, with_it: tuple[CellMark, ...]) -> ToDo:
    tries, rungs = progress.tries, progress.rungs
    return ToDo(
        cells=tuple(group),
        tries=max(tries.get(ref_of(cell), 0) for cell in group),
        rung=max(rungs.get(ref_of(cell), 0) for cell in group),
        with_it=with_it,
    )


def _cause(cell: CellMark) -> object:
    """What cells have in common that are spoken of together: the same mistake; of a row nobody asks for, the row; of blank
    cells the row, and all rows that are missing alike.
    """
    if cell.verdict is Verdict.MISSING:
        return cell.verdict, cell.explanation.explanation if cell.explanation else ""
    if cell.verdict in (Verdict.BLANK, Verdict.EXTRA):
        return cell.verdict, cell.row
    if cell.explanation is None:
        return cell.verdict, cell.question, cell.row
    if cell.explanation.mistake in NEUTRAL:
        return cell.verdict, cell.explanation.explanation
    return cell.explanation.mistake, cell.explanation.first_errors


def _goes_with(groups: Mapping[object, Sequence[CellMark]]) -> dict[object, object]:
    """For causes whose cells follow from one wrong cell of the same sheet the cause of that cell."""
    causes = {_as_a_root(cell): cause for cause, group in groups.items() for cell in group if cell.given}
    found = {}
    for cause, group in groups.items():
        first_errors = group[0].explanation.first_errors if group[0].explanation else ()
        targets = {causes.get(root) for root in first_errors} - {cause}
        if len(targets) == 1 and None not in targets:
            found[cause] = targets.pop()
    return {cause: on for cause, on in found.items() if on not in found}


def _as_a_root(cell: CellMark) -> str:
    """How explanations call a cell that others follow from."""
    section = SECTIONS[cell.section]
    return f"{section.title} {cell.row}: {section.question(cell.question).heading}"


def changes(marked: Marked, before: Progress, names: CellNames) -> Changes:
    """What a save has changed in the cells that stand on a sheet."""
    was = {each.cell: each for each in before.seen}
    now = {ref_of(cell): cell for cell in marked.cells}
    complete = {each.section for each in standings(marked, before) if each.is_complete}
    gained, lost, again, otherwise, following = [], [], [], [], []
    for ref, cell in now.items():
        old = was.get(ref)
        was_right = old is not None and old.verdict is Verdict.RIGHT
        if ref not in names or ref in before.filled_in:
            continue
        if cell.verdict is Verdict.RIGHT and not was_right:
            gained.append(ref)
        elif cell.verdict is Verdict.FOLLOWS and (old is None or old.given != cell.given):
            following.append(ref)
        elif not cell.verdict.is_full and old is not None and ref.section not in complete:
            is_as_it_was = old.given == cell.given and bool(cell.given)
            if old.verdict.is_full and is_as_it_was:
                again.append(ref)
            elif was_right:
                lost.append(ref)
            elif old.given != cell.given and cell.given:
                otherwise.append(ref)
    # rows that went, and are missing now under another name
    gone = [ref for ref, old in was.items() if old.verdict is Verdict.RIGHT and ref in names and ref not in now]
    lost += [ref for ref in gone if ref.section not in complete]
    return Changes(
        gained=tuple(gained),
        lost=tuple(lost),
        to_do_again=tuple(again),
        otherwise_wrong=tuple(otherwise),
        following=tuple(following),
        is_first=not before.seen,
    )


def still_to_look_at(marked: Marked, to_do: Sequence[ToDo], names: CellNames) -> tuple[CellRef, ...]:
    """All that was written and is not right; nothing if what is told of names all of it."""
    written = [ref_of(cell) for cell in marked.cells if cell.given and not cell.verdict.is_full]
    written = [cell for cell in written if cell in names]
    told_of = {ref_of(cell) for each in to_do for cell in (*each.cells, *each.with_it)}
    return () if told_of.issuperset(written) else tuple(written)


def told_unasked(to_do: ToDo) -> tuple[Part, ...]:
    """What is told after a save besides the place: the hint from the second save on, or where it was asked for."""
    return _said(to_do, {Label.HINT}) if to_do.tries > 1 or to_do.rung >= HINT else ()


def told_on_rung(to_do: ToDo) -> tuple[Part, ...]:
    """What stands on the rung that was climbed to, the first where none was; nothing on the last, where steps are told."""
    match to_do.rung:
        case 0 | 1:
            return _said(to_do, {Label.HINT})
        case 2:
            return reasons(to_do)[0]
        case _:
            return ()


def reasons(to_do: ToDo) -> tuple[tuple[Part, ...], ...]:
    """All that is known of it but the answer, for somebody who asks: what is told first, then what when asked again; at most
    forty words each, and what cannot be told in forty by itself.
    """
    told: list[list[Part]] = []
    room = 0
    for part in _said(to_do, _REASONS):
        words = len(f"{part.label.words} {part.text}".split())
        if not told or words > room:
            told.append([])
            room = MOST_WORDS
        told[-1].append(part)
        room -= words
    return tuple(map(tuple, told)) or ((),)


def _said(to_do: ToDo, labels: Collection[Label]) -> tuple[Part, ...]:
    """Said of the first cell: where findings differ by row, a missing row would be called by its name."""
    alone = len(to_do.cells) == 1
    return said(to_do.cells[:1], labels if alone else set(labels) - {Label.RESTS_ON})


def ref_of(cell: CellMark) -> CellRef:
    return CellRef(cell.question, cell.row)
