"""Practising alone: what is right so far, what a save changed, and how much is said about what is not right yet.

No marks and no grade (feedback rule F7). Of a cell that is not right only its place is said at first, the hint from the
second save on or when asked for, explanation and consequence when asked for, the answer only when asked for (F4, F5).
How far somebody has climbed is remembered for each cell until it is right; it is never said how many rungs are left.
"""

import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.errors import did_you_mean
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.marking.marks import CellMark, Marked, Verdict

__all__ = [
    "FORMAT",
    "Answer",
    "Climbed",
    "Places",
    "Progress",
    "SeenCell",
    "Standing",
    "ToDo",
    "after_save",
    "answer_to",
    "hints",
    "list_of_all",
    "next_to_do",
    "reasons",
    "report",
    "section_called",
    "standings",
]

FORMAT = 1
"""Version of Progress as it is kept between two runs."""
AT_ONCE = 3
"""Remarks in one view (feedback rule F6)."""
BAR = 20
"""Characters of a bar."""
NAMED = 6
"""Cells that are named one by one; of more than these the rest are counted."""
WIDTH = 79
HINT, EXPLANATION, CONSEQUENCE, EXAMPLE = 1, 2, 3, 4
"""Rungs of the ladder above the place alone (feedback rule F5). The answer is none of them: it has a word of its own."""

Places = Mapping[CellRef, tuple[str, str]]
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
            rungs |= {_ref(cell): min(each.rung + 1, EXAMPLE) for cell in each.cells}
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
            cell=_ref(cell),
            verdict=cell.verdict,
            tries=0 if cell.verdict.is_full else tries.get(_ref(cell), 0) + 1,
        )
        for cell in marked.cells
    )
    right = {_ref(cell) for cell in marked.cells if cell.verdict.is_full}
    climbed = tuple(each for each in progress.climbed if each.cell not in right)
    return replace(progress, file=file, seen=seen, climbed=climbed)


def standings(marked: Marked, progress: Progress) -> tuple[Standing, ...]:
    """A standing for each section that is asked, in order."""
    return tuple(_standing(each.section, marked, progress) for each in marked.sections)


def _standing(section: str, marked: Marked, progress: Progress) -> Standing:
    cells = [cell for cell in marked.cells if cell.section == section]
    asked = [cell for cell in cells if cell.out_of]
    full = [_ref(cell) in progress.shown for cell in asked if cell.verdict.is_full]
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
            return _to_do(standing.section, marked, progress)
    return ()


def _to_do(section: str, marked: Marked, progress: Progress) -> tuple[ToDo, ...]:
    """Blank cells and missing rows are taken together where the same is said of them, cells of a needless row always."""
    tries, rungs = progress.tries, progress.rungs
    groups: dict[object, list[CellMark]] = {}
    for place, cell in enumerate(marked.cells):
        if cell.section != section or cell.verdict.is_full:
            continue
        said = cell.explanation.explanation if cell.explanation else ""
        together: object = place if cell.given else (cell.verdict, said)
        if cell.verdict is Verdict.EXTRA:
            together = (cell.verdict, cell.row)
        groups.setdefault(together, []).append(cell)
    found = [
        ToDo(
            cells=tuple(group),
            tries=max(tries.get(_ref(cell), 0) for cell in group),
            rung=max(rungs.get(_ref(cell), 0) for cell in group),
        )
        for group in groups.values()
    ]
    return tuple(sorted(found, key=lambda each: each.verdict in (Verdict.BLANK, Verdict.MISSING)))


def report(marked: Marked, progress: Progress, places: Places, before: Progress | None = None) -> Iterator[str]:
    """The lines that are printed after a save. before: what was known up to then; None where nothing was saved anew."""
    all_standings = standings(marked, progress)
    for standing in all_standings:
        yield _bar_line(standing)
    if before is not None:
        yield from _changes(marked, before, progress, places)
    to_do = next_to_do(marked, progress)
    if before is not None:
        yield from _still_to_look_at(marked, to_do[:AT_ONCE], places)
    if not to_do:
        shown = sum(each.shown for each in all_standings)
        yield f"Every cell is right{f', {shown} of them shown' if shown else ''}. 'new' draws another lab."
        return
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        yield from _filled(f"{number}. {_remark(each, places)}")
    if len(to_do) > AT_ONCE:
        yield f"   and {len(to_do) - AT_ONCE} more in {_title(to_do[0].cells[0])}: 'list' says where."


def _bar_line(standing: Standing) -> str:
    """Right as #, right after it was shown as =, the rest as -; only a complete section has a full bar."""
    right = BAR * standing.right // max(standing.asked, 1)
    done = BAR * (standing.right + standing.shown) // max(standing.asked, 1)
    bar = "#" * right + "=" * (done - right) + "-" * (BAR - done)
    more = [f"{standing.shown} shown"] if standing.shown else []
    more += [f"{_counted(standing.too_many, 'row')} too many"] if standing.too_many else []
    line = f"{SECTIONS[standing.section].title:<11} {standing.right:>4} of {standing.asked:<4} [{bar}]"
    return f"{line}  {', '.join(more)}".rstrip()


def _changes(marked: Marked, before: Progress, progress: Progress, places: Places) -> Iterator[str]:
    was = {each.cell: each.verdict for each in before.seen if each.verdict.is_full}
    full = {_ref(cell) for cell in marked.cells if cell.verdict.is_full}
    gained = [_ref(cell) for cell in marked.cells if _ref(cell) in full.difference(was) and _ref(cell) in places]
    # A row can go without harm where others deliver what it did.
    complete = {each.section for each in standings(marked, progress) if each.is_complete}
    lost = [cell for cell in was if cell in places and cell not in full and _section(cell) not in complete]
    followed = [cell for cell in lost if was[cell] is Verdict.FOLLOWS]
    if gained:
        yield from _filled(f"Now right: {'; '.join(_gained(gained, marked, progress, places))}.", "  ")
    if len(followed) < len(lost):
        yield from _filled(
            f"No longer right: {_named_by_sheet([cell for cell in lost if cell not in followed], places)}.", "  "
        )
    if followed:
        yield from _filled(
            f"No longer right, because the answer it followed from was changed: {_named_by_sheet(followed, places)}.",
            "  ",
        )
    if before.seen and not gained and not lost:
        yield "Nothing has become right or wrong since the last save."


def _still_to_look_at(marked: Marked, remarked: Sequence[ToDo], places: Places) -> Iterator[str]:
    """All that was written and is not right, if the remarks that follow do not name all of it."""
    written = [_ref(cell) for cell in marked.cells if cell.given and not cell.verdict.is_full and _ref(cell) in places]
    if not {_ref(cell) for each in remarked for cell in each.cells}.issuperset(written):
        yield from _filled(f"Still to look at: {_named_by_sheet(written, places)}.", "  ")


def _gained(gained: Sequence[CellRef], marked: Marked, progress: Progress, places: Places) -> Iterator[str]:
    """Cells that have become right, by section: those of a section that was filled in all at once are not named."""
    for standing in standings(marked, progress):
        cells = [cell for cell in gained if _section(cell) == standing.section]
        if len(cells) > NAMED and len(cells) >= standing.asked:
            yield f"all of {SECTIONS[standing.section].title}"
        elif cells:
            yield _named_by_sheet(cells, places, progress.shown)


def _remark(to_do: ToDo, places: Places) -> str:
    hint = _hint(to_do) if to_do.tries > 1 or to_do.rung >= HINT else ""
    return f"{_place(to_do, places)}: {_not_yet(to_do)}.{f' {hint}' if hint else ''}"


def _not_yet(to_do: ToDo) -> str:
    rows = len({cell.row for cell in to_do.cells})
    match to_do.verdict:
        case Verdict.BLANK:
            return "still empty"
        case Verdict.MISSING:
            return f"{_counted(rows, 'row')} not yet written"
        case Verdict.PARTLY:
            return "partly right, not yet all of it"
        case _:
            return "not yet"


def _place(to_do: ToDo, places: Places) -> str:
    """Sheet and cells; for a single cell also its row, heading and what stands in it. A missing row's name gives away
    what is needed, so it is not said.
    """
    first = to_do.cells[0]
    if not any(_ref(cell) in places for cell in to_do.cells):
        return _title(first)
    named = _named_by_sheet([_ref(cell) for cell in to_do.cells], places)
    if len(to_do.cells) > 1 or not first.given:
        return named
    heading = SECTIONS[first.section].question(first.question).heading
    given = "".join(letter if letter.isprintable() else "?" for letter in first.given)
    given = given if len(given) <= 40 else f"{given[:37]}..."
    return f"{named} ({first.row}, {heading}), '{given}'"


def hints(to_do: Sequence[ToDo], places: Places) -> Iterator[str]:
    """What stands on the rung that was climbed to for each thing that is shown; the first rung where none was."""
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        yield from _filled(f"{number}. {_place(each, places)}: {_on_rung(each)}")


def reasons(to_do: Sequence[ToDo], places: Places) -> Iterator[str]:
    """All that is known of each thing that is shown but the answer, for somebody who asks."""
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        yield from _filled(f"{number}. {_place(each, places)}: {_reason(each)}")


def list_of_all(marked: Marked, progress: Progress, places: Places) -> Iterator[str]:
    """Every cell that is not right yet, by sheet; which answers were shown."""
    found = False
    for each in marked.sections:
        unnamed: list[ToDo] = []
        for to_do in _to_do(each.section, marked, progress):
            found = True
            cells = [_ref(cell) for cell in to_do.cells if _ref(cell) in places]
            if cells:
                yield from _filled(f"{_named_by_sheet(cells, places, most=None)}: {_not_yet(to_do)}.", "  ")
            else:
                unnamed.append(to_do)
        for verdict in dict.fromkeys(
            to_do.verdict for to_do in unnamed
        ):  # rows of the key, which are not called by name
            alike = [cell for to_do in unnamed if to_do.verdict is verdict for cell in to_do.cells]
            together = ToDo(cells=tuple(alike), tries=0, rung=0)
            yield from _filled(f"{_title(alike[0])}: {_not_yet(together)}.", "  ")
    if not found:
        yield "Every cell is right."
    shown = [cell for cell in progress.shown if cell in places]
    if shown:
        yield from _filled(f"Shown: {_named_by_sheet(shown, places, most=None)}.", "  ")


def answer_to(request: str, marked: Marked, places: Places) -> Answer:
    """The right value of a cell that is called as on the sheet: "Subnets G7"."""
    sheet, _, name = request.replace("!", " ").strip().rpartition(" ")
    titles = [SECTIONS[each.section].title for each in marked.sections]
    if not sheet or not re.fullmatch(r"[A-Za-z]{1,3}[0-9]{1,5}", name):
        return Answer("Say which cell, by sheet and name: answer Subnets G7")
    title = next((each for each in titles if each.casefold() == sheet.strip().casefold()), None)
    if title is None:
        return Answer(f"There is no sheet {sheet.strip()!r} to fill in. {did_you_mean(sheet.strip(), titles)}".rstrip())
    wanted = (title.casefold(), name.upper())
    ref = next((cell for cell, (on, at) in places.items() if (on.casefold(), at) == wanted), None)
    if ref is None:
        return Answer(f"{title} {name.upper()} is no cell to fill in.")
    cell = next((each for each in marked.cells if _ref(each) == ref and each.verdict is not Verdict.EXTRA), None)
    if cell is None:
        cell = _of_a_missing_row(ref, marked, places)
    if cell is None:
        return Answer(f"{title} {name.upper()}: no more rows are needed.")
    if cell.verdict.is_full:
        return Answer(f"{title} {name.upper()} is right as it stands.")
    if not cell.expected and cell.given and cell.explanation is not None:
        return Answer(f"{title} {name.upper()} is right by itself. {cell.explanation.explanation}")
    return Answer(f"{title} {name.upper()}: {cell.expected or '(nothing)'}", ref)


def _of_a_missing_row(ref: CellRef, marked: Marked, places: Places) -> CellMark | None:
    """What a row that is free, or holds what no rule asks for, could say: the first free one belongs to the first row
    that is missing, and so on, so that the cells of a row are answered alike.
    """
    used = {cell.row for cell in marked.cells if cell.verdict is not Verdict.EXTRA}
    free = [cell.row for cell in places if cell.question == ref.question and cell.row not in used]
    missing = [each for each in marked.cells if each.question == ref.question and each.verdict is Verdict.MISSING]
    place = free.index(ref.row) if ref.row in free else len(missing)
    return missing[place] if place < len(missing) else None


def _on_rung(to_do: ToDo) -> str:
    said = to_do.cells[0].explanation
    if said and said.hint and to_do.rung <= HINT:
        return said.hint
    if said and said.example and to_do.rung >= EXAMPLE and len(to_do.cells) == 1:
        return said.example
    return said.explanation if said and to_do.rung <= EXPLANATION else _reason(to_do)


def _hint(to_do: ToDo) -> str:
    said = to_do.cells[0].explanation
    return said.hint if said else ""


def _reason(to_do: ToDo) -> str:
    """Explanation, consequence, what was seen when it was tried, and which earlier cells to look at."""
    said = to_do.cells[0].explanation
    if said is None:
        return to_do.cells[0].remark
    tried = f"Tried: {said.seen}" if said.seen else ""
    look_at = f"It rests on {said.rests_on}." if said.rests_on and len(to_do.cells) == 1 else ""
    return " ".join(filter(None, (said.explanation, said.consequence, tried, look_at)))


def _named_by_sheet(
    cells: Iterable[CellRef], places: Places, shown: Sequence[CellRef] = (), most: int | None = NAMED
) -> str:
    """Cells as "Subnets G7, G8; Links B6-D6"; those whose answer was shown say so. most: None names all."""
    sheets: dict[str, list[tuple[str, bool]]] = {}
    for cell in cells:
        if cell in places:
            sheet, name = places[cell]
            sheets.setdefault(sheet, []).append((name, cell in shown))
    return "; ".join(f"{sheet} {_listed(names, most)}" for sheet, names in sheets.items())


def _listed(cells: Sequence[tuple[str, bool]], most: int | None = None) -> str:
    """Names of cells, neighbours in a row as one, those that were shown with the word; past the most they are counted.

    >>> _listed([("C6", False), ("D6", False), ("E6", True), ("C8", False), ("C9", False)], 3)
    'C6-D6, E6 (shown), C8 and 1 more'
    """
    runs: list[list[str]] = []
    flags: list[bool] = []
    for name, is_shown in cells:
        if runs and flags[-1] == is_shown and _are_neighbours(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
            flags.append(is_shown)
    named = [
        (run[0] if len(run) == 1 else f"{run[0]}-{run[-1]}") + (" (shown)" if is_shown else "")
        for run, is_shown in zip(runs, flags, strict=True)
    ]
    if most is None or len(named) <= most:
        return ", ".join(named)
    return f"{', '.join(named[:most])} and {sum(map(len, runs[most:]))} more"


def _are_neighbours(left: str, right: str) -> bool:
    """Whether the second cell stands right of the first. Sheets of the form are narrower than 26 columns."""
    return left[1:] == right[1:] and ord(left[0]) + 1 == ord(right[0])


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _filled(text: str, indent: str = "   ") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def _title(cell: CellMark) -> str:
    return SECTIONS[cell.section].title


def _section(cell: CellRef) -> str:
    """Question ids begin with their section's."""
    return cell.question.partition(".")[0]


def _ref(cell: CellMark) -> CellRef:
    return CellRef(cell.question, cell.row)
