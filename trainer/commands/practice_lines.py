"""Practising as it looks in a terminal: bars, cells by their names, and lines of a width."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.works import IN_NETWORK
from trainer.listing import how_many
from trainer.marking.feedback import AT_ONCE
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.practice import (
    CellNames,
    Progress,
    Standing,
    ToDo,
    changes,
    next_to_do,
    reasons,
    ref_of,
    section_of,
    standings,
    still_to_look_at,
    to_do_in,
    told_on_rung,
    told_unasked,
)
from trainer.marking.said import Part, in_words

__all__ = ["hint_lines", "list_lines", "reason_lines", "report_lines"]

BAR = 20
"""Characters of a bar."""
NAMED = 6
"""Cells that are named one by one; of more than these the rest are counted."""
WIDTH = 79
_LONGEST_GIVEN = 40
"""Characters of what stands in a cell; of more than these the beginning is shown."""


def report_lines(marked: Marked, progress: Progress, names: CellNames, before: Progress | None = None) -> Iterator[str]:
    """What is printed after a save. before: what was known up to then; None where nothing was saved anew."""
    all_standings = standings(marked, progress)
    for standing in all_standings:
        yield _bar_line(standing)
    if marked.works is not None:
        yield from _filled(f"{IN_NETWORK}: {marked.works.line}.", "  ")
    if before is not None:
        yield from _change_lines(marked, before, progress, names)
    to_do = next_to_do(marked, progress)
    if before is not None and (written := still_to_look_at(marked, to_do[:AT_ONCE], names)):
        yield from _filled(f"Still to look at: {_named_by_sheet(written, names)}.", "  ")
    if not to_do:
        shown = sum(each.shown for each in all_standings)
        yield f"Every cell is right{f', {shown} of them shown' if shown else ''}. 'new' draws another lab."
        return
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        told = (f"{_not_yet(each)}.", *(part.text for part in told_unasked(each)))
        yield from _numbered(number, each, " ".join(told), names)
    if len(to_do) > AT_ONCE:
        yield f"   and {len(to_do) - AT_ONCE} more in {_title(to_do[0].cells[0])}: 'list' says where."


def hint_lines(to_do: Sequence[ToDo], names: CellNames) -> Iterator[str]:
    """What stands on the rung that was climbed to for each thing that is shown; the first rung where none was."""
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        yield from _numbered(number, each, _on_its_own(told_on_rung(each)), names)


def reason_lines(to_do: Sequence[ToDo], names: CellNames) -> Iterator[str]:
    """All that is known of each thing that is shown but the answer, for somebody who asks."""
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        yield from _numbered(number, each, in_words(reasons(each)), names)


def list_lines(marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """Every cell that is not right yet, by sheet; which answers were shown."""
    found = False
    for each in marked.sections:
        unnamed: list[ToDo] = []
        for to_do in to_do_in(each.section, marked, progress):
            found = True
            cells = [ref_of(cell) for cell in to_do.cells if ref_of(cell) in names]
            if cells:
                yield from _filled(f"{_named_by_sheet(cells, names, most=None)}: {_not_yet(to_do)}.", "  ")
            else:
                unnamed.append(to_do)
        # rows of the key, which are not called by name
        for verdict in dict.fromkeys(to_do.verdict for to_do in unnamed):
            alike = [cell for to_do in unnamed if to_do.verdict is verdict for cell in to_do.cells]
            together = ToDo(cells=tuple(alike), tries=0, rung=0)
            yield from _filled(f"{_title(alike[0])}: {_not_yet(together)}.", "  ")
    if not found:
        yield "Every cell is right."
    shown = [cell for cell in progress.shown if cell in names]
    if shown:
        yield from _filled(f"Shown: {_named_by_sheet(shown, names, most=None)}.", "  ")


def _bar_line(standing: Standing) -> str:
    """Right as #, right after it was shown as =, the rest as -; only a complete section has a full bar."""
    right = BAR * standing.right // max(standing.asked, 1)
    done = BAR * (standing.right + standing.shown) // max(standing.asked, 1)
    bar = "#" * right + "=" * (done - right) + "-" * (BAR - done)
    more = [f"{standing.shown} shown"] if standing.shown else []
    more += [f"{how_many(standing.too_many, 'row')} too many"] if standing.too_many else []
    line = f"{SECTIONS[standing.section].title:<11} {standing.right:>4} of {standing.asked:<4} [{bar}]"
    return f"{line}  {', '.join(more)}".rstrip()


def _change_lines(marked: Marked, before: Progress, progress: Progress, names: CellNames) -> Iterator[str]:
    found = changes(marked, before, progress, names)
    if found.gained:
        yield from _filled(f"Now right: {'; '.join(_gained(found.gained, marked, progress, names))}.", "  ")
    if found.lost:
        yield from _filled(f"No longer right: {_named_by_sheet(found.lost, names)}.", "  ")
    if found.lost_by_following:
        named = _named_by_sheet(found.lost_by_following, names)
        yield from _filled(f"No longer right, because the answer it followed from was changed: {named}.", "  ")
    if found.is_nothing and not found.is_first:
        yield "Nothing has become right or wrong since the last save."


def _gained(gained: Sequence[CellRef], marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """Cells that have become right, by section: those of a section that was filled in all at once are not named."""
    for standing in standings(marked, progress):
        cells = [cell for cell in gained if section_of(cell) == standing.section]
        if len(cells) > NAMED and len(cells) >= standing.asked:
            yield f"all of {SECTIONS[standing.section].title}"
        elif cells:
            yield _named_by_sheet(cells, names, progress.shown)


def _numbered(number: int, to_do: ToDo, words: str, names: CellNames) -> list[str]:
    return _filled(f"{number}. {_where(to_do, names)}: {words}")


def _on_its_own(parts: Sequence[Part]) -> str:
    """A part that was asked for needs no label; several are told apart by theirs."""
    return parts[0].text if len(parts) == 1 else in_words(parts)


def _not_yet(to_do: ToDo) -> str:
    rows = len({cell.row for cell in to_do.cells})
    match to_do.verdict:
        case Verdict.BLANK:
            return "still empty"
        case Verdict.MISSING:
            return f"{how_many(rows, 'row')} not yet written"
        case Verdict.PARTLY:
            return "partly right, not yet all of it"
        case _:
            return "not yet"


def _where(to_do: ToDo, names: CellNames) -> str:
    """Sheet and cells; for a single cell also its row, heading and what stands in it. A missing row's name gives away
    what is needed, so it is not said.
    """
    first = to_do.cells[0]
    if not any(ref_of(cell) in names for cell in to_do.cells):
        return _title(first)
    named = _named_by_sheet([ref_of(cell) for cell in to_do.cells], names)
    if len(to_do.cells) > 1 or not first.given:
        return named
    heading = SECTIONS[first.section].question(first.question).heading
    given = "".join(letter if letter.isprintable() else "?" for letter in first.given)
    given = given if len(given) <= _LONGEST_GIVEN else f"{given[: _LONGEST_GIVEN - 3]}..."
    return f"{named} ({first.row}, {heading}), '{given}'"


def _named_by_sheet(
    cells: Iterable[CellRef], names: CellNames, shown: Sequence[CellRef] = (), most: int | None = NAMED
) -> str:
    """Cells as "Subnets G7, G8; Links B6-D6"; those whose answer was shown say so. most: None names all."""
    sheets: dict[str, list[tuple[str, bool]]] = {}
    for cell in cells:
        if cell in names:
            sheet, name = names[cell]
            sheets.setdefault(sheet, []).append((name, cell in shown))
    return "; ".join(f"{sheet} {_listed(on_it, most)}" for sheet, on_it in sheets.items())


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


def _filled(text: str, indent: str = "   ") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def _title(cell: CellMark) -> str:
    return SECTIONS[cell.section].title
