"""Practising as it looks in a terminal: news first, then what is not right yet, cells by their names; bars where they are asked
for. A line is as long as what it says: the terminal breaks it at its own width.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from trainer.lab.form import CellRef, section_of
from trainer.lab.questions import SECTIONS
from trainer.lab.works import IN_NETWORK
from trainer.listing import how_many
from trainer.marking.feedback import AT_ONCE
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.practice import (
    CellNames,
    Changes,
    Progress,
    Standing,
    ToDo,
    changes,
    next_to_do,
    reasons,
    ref_of,
    standings,
    still_to_look_at,
    to_do_in,
    told_on_rung,
    told_unasked,
)
from trainer.marking.said import Part, in_words
from trainer.study.steps import Worked

__all__ = [
    "Report",
    "bar_lines",
    "ending_lines",
    "hint_lines",
    "list_lines",
    "reason_lines",
    "report_lines",
    "report_of",
    "step_lines",
]

_NEARLY = "near, not yet right"
"""Of the right idea in the wrong place, and of a list that is not whole."""
BAR = 20
"""Characters of a bar."""
NAMED = 6
"""Cells that are named one by one; of more than these the rest are counted."""
_LONGEST_GIVEN = 40
"""Characters of what stands in a cell; of more than these the beginning is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What is said after a save."""

    news: tuple[str, ...]
    """What it has changed; how it stands, where nothing was saved anew."""
    remarks: tuple[tuple[ToDo, str], ...]
    """What is not right yet, a cause each, at most as many as are told at once."""
    left_out: tuple[ToDo, ...]
    """What is not right yet either."""
    ending: tuple[str, ...]
    """Where all of it is right."""
    next: tuple[ToDo, str] | None
    """Where to go on when nothing wrong is written, and how it is called."""


def report_of(
    marked: Marked,
    progress: Progress,
    names: CellNames,
    before: Progress | None = None,
    when: str = "",
    section: str | None = None,
) -> Report:
    """The report on a save. before: what was known up to then; None where nothing was saved anew; when: the time on the
    learner's clock, so that it is heard that a save was looked at; section: the sheet that is spoken of; the first with something
    to do where none is named.
    """
    looked = f"Looked at {when}. " if when else ""
    found = None if before is None else changes(marked, before, names)
    if found is None:
        news = [f"{_counts(standings(marked, progress))}."]
    else:
        first, *others = _news(found, marked, progress, names)
        news = [f"{looked}{first}", *others]
    again = set(found.to_do_again) if found else set()
    to_do = next_to_do(marked, progress, section)
    wrong = [each for each in to_do if not each.is_blank and not again.issuperset(each.refs)]
    told = wrong[:AT_ONCE]
    if found is not None:
        written = [ref for ref in still_to_look_at(marked, told, names) if ref not in again]
        if written:
            news.append(f"Still to look at: {_named_by_sheet(written, names)}.")
    remarks = []
    for each in told:
        words = (f"{_not_yet(each)}.", *(part.text for part in told_unasked(each)))
        remarks.append((each, f"{_where(each, names)}: {' '.join(words)}{_and_with_it(each, names)}"))
    ending: list[str] = []
    if not to_do and section is not None and any(not each.is_complete for each in standings(marked, progress)):
        ending.append(f"Every cell of {SECTIONS[section].title} is right.")
    elif not to_do:
        ending += ending_lines(marked, progress, names)
    return Report(
        news=tuple(news),
        remarks=tuple(remarks),
        left_out=tuple(wrong[AT_ONCE:]),
        ending=tuple(ending),
        next=(to_do[0], _next(to_do[0], names)) if to_do and to_do[0].is_blank else None,
    )


def report_lines(
    marked: Marked, progress: Progress, names: CellNames, before: Progress | None = None, when: str = ""
) -> Iterator[str]:
    """What is printed after a save, or of how it stands, as report_of has it."""
    report = report_of(marked, progress, names, before, when)
    yield from report.news
    yield from (f"{number}. {text}" for number, (_, text) in enumerate(report.remarks, 1))
    if report.left_out:
        title = _title(report.left_out[0].cells[0])
        yield f"   and {len(report.left_out)} more in {title}: 'list' says where."
    if report.ending:
        yield from (*report.ending, "'new' draws another lab.")
    if report.next is not None:
        to_do, words = report.next
        is_named = to_do.refs[0] in names
        place = names[to_do.refs[0]][1] if is_named else _title(to_do.cells[0])
        told = ", with another lab's numbers" if is_named else ""
        yield f"{words}. 'steps {place}' shows the way{told}."


def _news(found: Changes, marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """What the save has changed; the first line with how much of the sheets concerned is right."""
    touched = dict.fromkeys(ref.section for ref in (*found.gained, *found.lost))
    counted = _counts([each for each in standings(marked, progress) if each.section in touched])
    if found.gained:
        gained = "; ".join(_gained(found.gained, marked, progress, names))
        yield f"{len(found.gained)} {'' if found.is_first else 'more '}right: {gained}. {counted}."
    elif found.is_nothing:
        yield "Nothing is right yet." if found.is_first else "No answer has changed since the last save."
    else:
        yield "Nothing more is right yet."
    if found.lost:
        yield f"No longer right: {_named_by_sheet(found.lost, names)}."
    if found.otherwise_wrong:
        yield f"Changed, and not right yet: {_named_by_sheet(found.otherwise_wrong, names)}."
    if found.following:
        yield f"Worked out rightly from an answer that is not right: {_named_by_sheet(found.following, names)}."
    if found.to_do_again:
        yield f"To be worked out again, from what you have changed: {_named_by_sheet(found.to_do_again, names)}."


def _counts(found: Sequence[Standing]) -> str:
    """Of one sheet "12 of 28 on sheet Subnets", of several "Subnets 12 of 28, Links 4 of 4"."""
    if len(found) == 1:
        return f"{found[0].done} of {found[0].asked} on sheet {SECTIONS[found[0].section].title}"
    return ", ".join(f"{SECTIONS[each.section].title} {each.done} of {each.asked}" for each in found)


def _next(to_do: ToDo, names: CellNames) -> str:
    rows = len({cell.row for cell in to_do.cells})
    if to_do.verdict is Verdict.MISSING:
        return f"Next: {_title(to_do.cells[0])}, {how_many(rows, 'row')} not yet written"
    return f"Next: {_named_by_sheet(to_do.refs, names)} ({to_do.cells[0].row})"


def ending_lines(marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """When all is right: what was so at the first try, what with help. No score."""
    following = [ref_of(cell) for cell in marked.cells if cell.verdict is Verdict.FOLLOWS and cell.out_of]
    yield "Every cell is right."
    helped: list[CellRef] = []
    first: list[CellRef] = []
    seen = {each.cell: each for each in progress.seen}
    for cell in marked.cells:
        ref = ref_of(cell)
        if not cell.out_of or ref in progress.filled_in or ref in progress.shown or ref not in names:
            continue
        known = seen.get(ref)
        alone = known is None or (known.first is not None and known.first.is_full and not known.rung)
        (first if alone else helped).append(ref)
    if columns := _columns(first, helped):
        yield f"Right the first time: {columns}."
    if helped:
        yield f"With a second try or a hint: {_named_by_sheet(helped, names)}."
    if shown := [cell for cell in progress.shown if cell in names]:
        yield f"Shown: {_named_by_sheet(shown, names)}."
    if following:
        yield f"Right by your own plan: {_named_by_sheet(following, names)}."


def _columns(first: Sequence[CellRef], helped: Sequence[CellRef]) -> str:
    """The questions that were right at the first try in every row: "Subnets: Prefix length, Mask; all of Ports"."""
    with_help = {ref.question for ref in helped}
    sheets: dict[str, list[str]] = {}
    for question in dict.fromkeys(ref.question for ref in first):
        if question not in with_help:
            sheets.setdefault(section_of(question), []).append(question)
    told = []
    for section_id, questions in sheets.items():
        section = SECTIONS[section_id]
        of_section = {ref.question for ref in (*first, *helped) if ref.section == section_id}
        headings = [section.question(question).heading for question in questions]
        is_whole = of_section == set(questions)
        told.append(f"all of {section.title}" if is_whole else f"{section.title} {', '.join(headings)}")
    return "; ".join(told)


def bar_lines(marked: Marked, progress: Progress) -> Iterator[str]:
    """How far every sheet has got, and what of the network works."""
    for standing in standings(marked, progress):
        yield _bar_line(standing)
    if marked.works is not None:
        yield f"{IN_NETWORK}: {marked.works.line}."


def hint_lines(to_do: Sequence[ToDo], names: CellNames) -> Iterator[str]:
    """What stands on the rung that was climbed to for each thing that is shown; the first rung where none was."""
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        if told := told_on_rung(each):
            yield _numbered(number, each, _on_its_own(told), names)


def reason_lines(to_do: Sequence[ToDo], names: CellNames, times: int = 0) -> Iterator[str]:
    """What is known of each thing that is shown but the answer, for somebody who asks. times: how often that was told already:
    then what has not been told yet.
    """
    for number, each in enumerate(to_do[:AT_ONCE], 1):
        told = reasons(each)
        yield _numbered(number, each, in_words(told[min(times, len(told) - 1)]), names)


def step_lines(worked: Worked, *, only: str | None = None) -> Iterator[str]:
    """A row of another lab, worked out step by step. only: id of the question that is asked about; None for the whole row."""
    steps = [step for step in worked.steps if only in (None, step.question.id)]
    yield f"How it is done, with another lab's numbers ({worked.section.title}: {worked.given}):"
    for number, step in enumerate(steps, 1):
        yield f"  {number}. {step.heading}. {step.how}" if len(steps) > 1 else f"  {step.how}"
        yield f"     {step.in_numbers}"
        if step.question.word:
            yield f"     ({step.question.word})"


def list_lines(marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """Every cell that is not right yet, by sheet; which answers were shown."""
    found = False
    for each in marked.sections:
        to_dos = to_do_in(each.section, marked, progress)
        found = found or bool(to_dos)
        for to_do in to_dos:
            if not to_do.is_blank and any(ref in names for ref in to_do.refs):
                yield f"{_where(to_do, names)}: {_not_yet(to_do)}."
        blank = [ref for to_do in to_dos if to_do.verdict is Verdict.BLANK for ref in to_do.refs if ref in names]
        if blank:
            yield f"{_named_by_sheet(blank, names, most=None)}: still empty."
        # rows of the key, which are not called by name
        for verdict in dict.fromkeys(to_do.verdict for to_do in to_dos):
            alike = [
                cell
                for to_do in to_dos
                if to_do.verdict is verdict and not any(ref in names for ref in to_do.refs)
                for cell in to_do.cells
            ]
            if alike:
                yield f"{_title(alike[0])}: {_not_yet(ToDo(cells=tuple(alike), tries=0))}."
    if not found:
        yield "Every cell is right."
    shown = [cell for cell in progress.shown if cell in names]
    if shown:
        yield f"Shown: {_named_by_sheet(shown, names, most=None)}."


def _bar_line(standing: Standing) -> str:
    """Right as #, right after it was shown as =, following as ~, the rest as -; only a complete section has no -."""
    asked = max(standing.asked, 1)
    right = BAR * standing.right // asked
    done = BAR * standing.done // asked
    with_following = BAR * (standing.done + standing.following) // asked
    bar = "#" * right + "=" * (done - right) + "~" * (with_following - done) + "-" * (BAR - with_following)
    more = [f"{standing.shown} shown"] if standing.shown else []
    more += [f"{standing.following} from an answer that is not right"] if standing.following else []
    more += [f"{how_many(standing.too_many, 'row')} too many"] if standing.too_many else []
    line = f"{SECTIONS[standing.section].title:<11} {standing.right:>4} of {standing.asked:<4} [{bar}]"
    return f"{line}  {', '.join(more)}".rstrip()


def _gained(gained: Sequence[CellRef], marked: Marked, progress: Progress, names: CellNames) -> Iterator[str]:
    """Cells that have become right, by section: those of a section that was filled in all at once are not named."""
    for standing in standings(marked, progress):
        cells = [cell for cell in gained if cell.section == standing.section]
        if len(cells) > NAMED and len(cells) >= standing.asked:
            yield f"all of {SECTIONS[standing.section].title}"
        elif cells:
            yield _named_by_sheet(cells, names, progress.shown)


def _numbered(number: int, to_do: ToDo, words: str, names: CellNames) -> str:
    return f"{number}. {_where(to_do, names)}: {words}{_and_with_it(to_do, names)}"


def _and_with_it(to_do: ToDo, names: CellNames) -> str:
    resting = [ref_of(cell) for cell in to_do.with_it if ref_of(cell) in names]
    return f" With it go {_named_by_sheet(resting, names)}." if resting else ""


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
            return _NEARLY
        case _:
            return "not yet"


def _where(to_do: ToDo, names: CellNames) -> str:
    """Sheet and cells; for a single cell also its row, heading and what stands in it. A missing row's name gives away
    what is needed, so it is not said.
    """
    first = to_do.cells[0]
    if not any(ref in names for ref in to_do.refs):
        return _title(first)
    named = _named_by_sheet(to_do.refs, names)
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


def _title(cell: CellMark) -> str:
    return SECTIONS[cell.section].title
