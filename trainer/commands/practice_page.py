"""`trainer practise --page`: a practice lab in a browser, for people without a spreadsheet program, on small screens, with
screen readers.

The workbook stays what counts (practice_workbook.py): whatever is sent is written into it, and looked at when Check is pressed.
Where it was changed meanwhile both values are shown.
"""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from trainer.commands.local_app import LocalApp, new_token
from trainer.commands.practice_lines import Report, report_of
from trainer.commands.practice_session import PracticeSession, stamp_of
from trainer.commands.practice_workbook import OpenWorkbook, Saved, field_of
from trainer.errors import TrainerError
from trainer.lab.brief import given_tables
from trainer.lab.form import CellRef, Row, RowKey, Section
from trainer.lab.key import derive_key
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.listing import listed
from trainer.marking.marks import Verdict
from trainer.marking.practice import CellNames, SeenCell, ToDo, next_to_do, standings
from trainer.pages.blocks import Block
from trainer.pages.given import as_table, found_sections
from trainer.pages.practice_page import CellView, OverView, RemarkView, RowView, SheetView, Tab, over_html, sheet_html
from trainer.study.inquiry import ASKING
from trainer.study.labs import can_be_asked

__all__ = ["PracticeSite", "practice_app"]

LARGEST_FORM, MOST_FIELDS = 512 * 1024, 3000
"""Bytes of what a page may send, and its fields; a sheet of sixty rows has some 300."""
READ = "read"
"""The place of the page with brief, drawing and rules."""
_WORDS = ("hint", "why", "steps", "answer")
_OF_ANOTHER = "What was sent is of another lab than the one that stands here now. Nothing of it was written."
_LONGEST_NAME, _LONGEST_WORDS = 20, 100
"""Characters of what a cell is called, and of what is asked of a network with faults."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """What came of the last form."""

    section: str
    troubles: tuple[str, ...] = ()
    report: Report | None = None
    said: tuple[str, ...] = ()
    about: str = ""
    another: str | None = None
    """Of which sheet another lab is wanted, "" for all, where that has to be confirmed."""


def _draws_none(_sheets: tuple[str, ...]) -> PracticeSession:
    raise TrainerError("No other lab can be drawn here.")


@dataclass
class PracticeSite:
    """A practice lab, a sheet a page."""

    practice: PracticeSession
    draws: Callable[[tuple[str, ...]], PracticeSession] = _draws_none
    """Another lab that asks these sheets, or all; the one before is left. Raises TrainerError where there is none."""
    clock: Callable[[], float] = time.monotonic
    time_of_day: Callable[[], str] = lambda: time.strftime("%H:%M")
    token: str = field(default_factory=new_token)
    is_over: bool = False
    _outcome: _Outcome | None = None
    _said_at_end: tuple[str, ...] = ()
    _workbook: OpenWorkbook = field(init=False)

    def __post_init__(self) -> None:
        self._workbook = OpenWorkbook(self.practice)

    def shown(self, place: str) -> bytes | None:
        """The page of a sheet; of the first that is not complete where none is named."""
        if self.is_over:
            return over_html(OverView(lab=self._lab, said=self._said_at_end))
        place = place or self._first
        return sheet_html(self._view(place)) if place in self.practice.scenario.asked else None

    def file(self, place: str) -> bytes | None:
        """The page to read."""
        if place != READ:
            return None
        try:
            return self.practice.sitting.handout_page(self.practice.scenario).read_bytes()
        except OSError:
            return None

    def take(self, form: Mapping[str, str]) -> str:
        """Writes what was typed into the workbook, then does what the form asks for."""
        section, do = form.get("sheet", ""), form.get("do", "check")
        known = section in self.practice.scenario.asked
        if form.get("lab", self._lab) != self._lab:
            self._outcome = _Outcome(section=self._first, troubles=(_OF_ANOTHER,))
            return ""
        if known:
            before, self._outcome = self._outcome, None
            if do == "file":
                self._workbook.forget(section)
                return section
            troubles = self._workbook.put(section, form)
            # somebody who was told before that it cannot be written may leave all the same
            if do == "quit" and not troubles:
                troubles = self._left_behind()
            if troubles and not (do == "quit" and before is not None and before.troubles):
                self._outcome = _Outcome(section=section, troubles=troubles)
                return section
        if do == "quit":
            self._said_at_end = tuple(self.practice.leave())
            self.is_over = True
        elif do == "stay":
            return section if known else ""
        elif known and do.partition(" ")[0] == "new":
            return self._another(section, form.get("sheets", ""), is_sure=do == "new yes")
        elif known:
            self._outcome = self._obeyed(section, do[:_LONGEST_NAME], form)
        return section if known else ""

    def _left_behind(self) -> tuple[str, ...]:
        """What to say to somebody who leaves while there is something on another sheet that is not in the workbook."""
        titles = dict.fromkeys(SECTIONS[cell.section].title for cell, text in self._workbook.drafts.items() if text)
        if not titles:
            return ()
        return (
            f"What was typed on sheet {listed(list(titles))} is not in the workbook. Go there, or press Quit once more.",
        )

    def _another(self, section: str, wanted: str, *, is_sure: bool) -> str:
        """Another lab takes the place of this one; where something was written in it only once that was confirmed."""
        sheets = (wanted,) if wanted in self._can_be_asked else ()
        if not is_sure and self._written() and not self.practice.progress.is_done:
            self._outcome = _Outcome(section=section, another=wanted if sheets else "")
            return section
        before = self.practice
        try:
            self.practice = self.draws(sheets)
        except TrainerError as error:
            self._outcome = _Outcome(section=section, troubles=(str(error),))
            return section
        self._workbook = OpenWorkbook(self.practice)
        drawn = f"This is lab {self._lab}. The one before, {before.scenario.lab_number}, stays in {before.workbook}."
        self._outcome = _Outcome(section=self._first, said=(drawn, *before.leave()))
        return self._first

    def _written(self) -> int:
        """Cells of the lab in which the learner has written something."""
        try:
            saved = self._workbook.read()
        except TrainerError:
            return len(self._workbook.drafts)
        fixed = self.practice.progress.filled_in
        return sum(bool(text.text.strip()) for cell, text in saved.form.filled.texts.items() if cell not in fixed)

    @property
    def _can_be_asked(self) -> tuple[str, ...]:
        """Ids of the sheets that another lab may ask alone; none where faults are looked for."""
        if self.practice.scenario.repair is not None:
            return ()
        return can_be_asked(self.practice.exercise, self.practice.scenario)

    @property
    def _first(self) -> str:
        """The first sheet that is not complete."""
        to_do = next_to_do(self.practice.marked, self.practice.progress)
        return to_do[0].refs[0].section if to_do else self.practice.scenario.asked[0]

    @property
    def _lab(self) -> str:
        return self.practice.scenario.lab_number

    # --- What a form asks for -----------------------------------------------------------------------------------------

    def _obeyed(self, section: str, do: str, form: Mapping[str, str]) -> _Outcome:
        word, _, named = do.partition(" ")
        if word == "ask":
            return _Outcome(section=section, said=self._told(form.get("words", "")[:_LONGEST_WORDS]))
        if word not in _WORDS:
            return self._checked(section)
        cell = (named or form.get("cell", "")[:_LONGEST_NAME]).strip()
        lines = self.practice.obey(f"{word} {SECTIONS[section].title} {cell}", self.clock())
        return _Outcome(section=section, said=tuple(lines), about=cell)

    def _told(self, words: str) -> tuple[str, ...]:
        """What is told of a network with faults."""
        if words.strip().partition(" ")[0].casefold() not in ASKING:
            return (f"Begin with one of these words: {', '.join(ASKING)}.",)
        return tuple(self.practice.obey(words, self.clock()))

    def _checked(self, section: str) -> _Outcome:
        """Looks at the workbook as it lies there."""
        practice = self.practice
        stamp = stamp_of(practice.workbook)
        try:
            practice.read(practice.workbook)
        except TrainerError as error:
            return _Outcome(section=section, troubles=(str(error),))
        before, faults = practice.remember(stamp or ())
        report = report_of(practice.marked, practice.progress, practice.names, before, self.time_of_day(), section)
        troubles = (*practice.notices, *faults)
        return _Outcome(section=section, report=report, troubles=troubles, said=practice.compared())

    # --- What is shown ------------------------------------------------------------------------------------------------

    def _view(self, section_id: str) -> SheetView:
        section, scenario = SECTIONS[section_id], self.practice.scenario
        outcome = (
            self._outcome if self._outcome and self._outcome.section == section_id else _Outcome(section=section_id)
        )
        try:
            saved: Saved | None = self._workbook.read()
        except TrainerError as error:
            saved, outcome = None, replace(outcome, troubles=outcome.troubles or (str(error),))
        base = "" if saved is None else self._workbook.show(section_id, saved)
        names = {} if saved is None else saved.form.where
        view = SheetView(
            token=self.token,
            place=section_id,
            base=base,
            lab=f"{scenario.lab_number} of {scenario.exercise_code}, {scenario.title}",
            title=section.title,
            asks=section.asks,
            note=section.note,
            tabs=tuple(self._tabs()),
            given_headings=section.given,
            headings=tuple(each.heading for each in section.questions_in(scenario)),
            rows=tuple(self._rows(section, saved)),
            choices={each.heading: each.choices(scenario) for each in section.questions_in(scenario)},
            given=self._given,
            asks_network=scenario.repair is not None and scenario.repair.is_one_by_one,
            troubles=outcome.troubles,
            said=outcome.said,
            number=scenario.lab_number,
            others=tuple((each, SECTIONS[each].title) for each in self._can_be_asked),
            another=outcome.another,
            written=0 if outcome.another is None else self._written(),
            about=outcome.about if outcome.about in {name for _, name in names.values()} else "",
        )
        return view if outcome.report is None else _with_report(view, outcome.report, names)

    def _tabs(self) -> Iterator[Tab]:
        found = standings(self.practice.marked, self.practice.progress) if self.practice.progress.seen else ()
        done = {each.section: f"{each.done} of {each.asked}" for each in found}
        for section in self.practice.scenario.asked:
            yield Tab(place=section, title=SECTIONS[section].title, done=done.get(section, ""))

    @property
    def _given(self) -> tuple[Block, ...]:
        scenario = self.practice.scenario
        return (*map(as_table, given_tables(scenario)), *found_sections(scenario, derive_key(scenario)))

    def _rows(self, section: Section[Any], saved: Saved | None) -> Iterator[RowView]:
        """The rows that are printed, and those that somebody added in a spreadsheet program."""
        scenario = self.practice.scenario
        rows: Sequence[Row[Any]] = section.printed_rows(scenario)
        printed: dict[RowKey, tuple[str, ...]] = {row.key: row.given for row in rows}
        for row in () if saved is None else saved.form.filled.rows.get(section.id, ()):
            printed.setdefault(row, (str(row),))
        seen = {each.cell: each for each in self.practice.progress.seen}
        for number, (row, given) in enumerate(printed.items(), 1):
            refs = [CellRef(question.id, row) for question in section.questions_in(scenario)]
            yield RowView(
                given=given,
                cells=tuple(
                    self._cell(section, ref, saved, seen.get(ref), f"cell-{number}-{place}")
                    for place, ref in enumerate(refs, 1)
                ),
            )

    def _cell(
        self, section: Section[Any], ref: CellRef, saved: Saved | None, seen: SeenCell | None, spare: str
    ) -> CellView:
        """spare: what it is called where the workbook cannot be read, or has no such cell."""
        question = section.question(ref.question)
        held = "" if saved is None else saved.value(ref)
        draft = self._workbook.drafts.get(ref)
        value = held if draft is None else draft
        return CellView(
            id=saved.form.where[ref][1] if saved is not None and ref in saved.form.where else spare,
            field=field_of(ref),
            heading=question.heading,
            row=str(ref.row),
            value=value,
            width=question.kind.width,
            is_fixed=ref in self.practice.progress.filled_in,
            verdict=_found(seen) if seen is not None and value and tidy(seen.given) == value else "",
            in_file=None if saved is None or draft in (None, held) else held,
        )


def _found(seen: SeenCell) -> str:
    match seen.verdict:
        case Verdict.RIGHT | Verdict.FOLLOWS:
            return seen.verdict.word
        case Verdict.PARTLY:
            return "near, not yet right"
        case _:
            return "not yet"


def _with_report(view: SheetView, report: Report, names: CellNames) -> SheetView:
    def about(to_do: ToDo) -> tuple[str, ...]:
        return tuple(names[ref][1] for ref in to_do.refs if ref in names)

    following = None if report.next is None else RemarkView(text=report.next[1], cells=about(report.next[0]))
    return replace(
        view,
        news=report.news,
        remarks=tuple(RemarkView(text=text, cells=about(to_do)) for to_do, text in report.remarks),
        ending=report.ending,
        next=following,
    )


def practice_app(site: PracticeSite) -> LocalApp:
    """The site as an application."""
    return LocalApp(site, largest_form=LARGEST_FORM, most_fields=MOST_FIELDS)
