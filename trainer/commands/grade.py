"""`trainer grade SITTING [FILES]`: marks what came back, and explains every cell that is not right."""

import json
import pickle
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from trainer.commands.crash_log import write_log
from trainer.commands.decisions import idle, make_overrides_book, read_overrides, silent_on_attempt
from trainer.commands.grade_told import json_of, print_table
from trainer.commands.graded import ChangedMarks, Graded, NotGraded
from trainer.commands.hand_ins import Choice, HandIn, choose, hand_in, no_work
from trainer.commands.handing_back import hand_back
from trainer.commands.one_run import one_run
from trainer.commands.printing import MOST_IN_A_FILE, ON_SCREEN, Printing
from trainer.commands.reading import labs_of_group
from trainer.commands.results import read_results, write_results
from trainer.commands.side_by_side import helpers, jobs_for, side_by_side
from trainer.commands.stray_marks import stray_marks
from trainer.commands.terminal import counted, say
from trainer.commands.watched_reader import MarkingCrashed, ToGrade, WatchedReader, watched_reader
from trainer.errors import TrainerError
from trainer.files import Found, found_at, is_there
from trainer.lab.scenario import Scenario, Trainee
from trainer.marking.marks import Marked, shown
from trainer.marking.overrides import Override, apply
from trainer.pages.html import Article
from trainer.sheets.returned_book import ReturnedForm
from trainer.store import GradedLab, Register, Sitting

__all__ = ["grade_sitting", "run"]

_MOST_RIVALS = 4
"""Files of a lab with other answers whose marks are told beside those of the one that counts."""


def run(
    folder: Path,
    files: Sequence[Path],
    *,
    as_json: bool,
    group: str | None = None,
    jobs: int | None = None,
    printing: Printing = ON_SCREEN,
) -> int:
    """Exit status 1 where a file could not be graded or written, 3 where that was our fault; all others are graded and
    written all the same.
    """
    sitting = Sitting.open(folder)
    with one_run(sitting):
        graded = grade_sitting(sitting, files, group=group, jobs=jobs, printing=printing)
        if as_json:
            print(json.dumps(json_of(sitting, graded), ensure_ascii=False, indent=1))
        else:
            print_table(sitting, graded)
        # only what was printed counts as told, so that a change is told in the next run if this one is broken off here
        unkept = _keep_told(sitting, graded)
    for trouble in filter(None, (graded.trouble, unkept)):
        say(trouble, style="red", to=sys.stderr)
    if graded.has_crashed:
        return 3
    return 1 if graded.not_graded or graded.trouble or unkept or printing.is_short else 0


def _keep_told(sitting: Sitting, graded: Graded) -> str:
    told = sitting.told() | {lab.lab: lab.marks.marks for lab in graded.labs}
    try:
        sitting.write_told(told)
    except TrainerError as error:
        return str(error)
    return ""


def grade_sitting(
    sitting: Sitting,
    files: Sequence[Path] = (),
    *,
    group: str | None = None,
    jobs: int | None = None,
    printing: Printing = ON_SCREEN,
) -> Graded:
    """Grades the named files, or everything in returned/, and writes marked workbooks, pages and results.

    group: only the files of its trainees; those of others are left as they are. jobs: processes that read and mark at a time;
    None leaves it to the number of files.
    """
    troubles = list(make_overrides_book(sitting))
    work = _Work(
        sitting=sitting,
        register=sitting.register(),
        overrides=read_overrides(sitting),
        wanted=frozenset(lab.lab for lab in labs_of_group(sitting, group)),
        printing=printing,
    )
    before = {each.lab: _Before(each.digest, each.marks.marks) for each in sitting.marks_before()}
    told = {lab: each.marks for lab, each in before.items()} | sitting.told()
    found = _found(sitting, files)
    if (count := jobs_for(len(found.files), jobs)) == 1:
        watched_reader.start()
        work.grade(found, [watched_reader])
    else:
        with helpers(WatchedReader, count) as readers:
            work.grade(found, readers)
    stored = sitting.last_grades(but={each.lab for each in work.labs})
    kept = stray_marks(
        sitting,
        [each for lab, each in stored.by_lab.items() if lab in work.wanted],
        others=work.seen,
    )
    listed = tuple((sitting.relative(each.file), each.reason) for each in work.not_graded)
    if files:
        listed = (*_still_not_graded(sitting, found.files), *listed)
    results = read_results(sitting, stored.with_these(work.labs), work.pages, work.trainees)
    troubles += [*work.unwritten, *filter(None, [results.trouble])]
    try:
        sitting.write_not_graded(listed)
    except TrainerError as error:
        troubles.append(str(error))
    unwritten_results = write_results(sitting, results, listed, printing=printing, group=group)
    troubles += unwritten_results.values()
    return Graded(
        labs=tuple(work.labs),
        not_graded=tuple(work.not_graded),
        results=results,
        wanted=work.wanted,
        changed=tuple(_changed(work.labs, told)),
        anew=tuple(each for each in work.labs if _is_anew(each, before)),
        kept=tuple(kept),
        left_aside=found.left_aside,
        beside=tuple(work.beside),
        archives=found.archives,
        has_crashed=work.crashes > 0,
        idle=tuple(idle(work.overrides, work.labs, work.attempts)),
        silent_on_attempt=silent_on_attempt(work.overrides, work.labs, work.attempts),
        written=tuple(each for each in (sitting.results_page, sitting.results_book) if each not in unwritten_results),
        trouble="\n".join(dict.fromkeys(troubles)),
    )


def _found(sitting: Sitting, named: Sequence[Path]) -> Found:
    """What is to be graded: the named files and what lies in the named folders and archives, or all in returned/."""
    if not named:
        return sitting.returned_files()
    return found_at(named)


def _still_not_graded(sitting: Sitting, named: Sequence[Path]) -> Iterator[tuple[str, str]]:
    """What earlier runs could not grade, of files that are still there and were not looked at now."""
    looked_at = {sitting.relative(file) for file in named}
    try:
        earlier = sitting.not_graded()
    except TrainerError:
        return  # it is written anew in a moment
    for file, reason in earlier:
        if file not in looked_at and is_there(sitting.folder / file):
            yield file, reason


def _changed(labs: Sequence[GradedLab], told: Mapping[str, Decimal]) -> Iterator[ChangedMarks]:
    for each in labs:
        old = told.get(each.lab)
        if old is not None and old != each.marks.marks:
            yield ChangedMarks(
                lab=each.lab, trainee=each.trainee, old=old, new=each.marks.marks, out_of=each.marks.out_of
            )


_NO_WORKBOOKS = frozenset({".gif", ".heic", ".htm", ".html", ".jpeg", ".jpg", ".md", ".pdf", ".png", ".rtf", ".txt"})
"""Endings of texts and pictures, which may lie beside a workbook."""


class _Before(NamedTuple):
    """What is asked of earlier marks once there are new ones."""

    digest: str
    marks: Decimal


def _is_anew(graded: GradedLab, before: Mapping[str, _Before]) -> bool:
    earlier = before.get(graded.lab)
    return earlier is not None and earlier.digest not in ("", graded.digest)


@dataclass(kw_only=True)
class _Work:
    """One run, as far as it has come. What happens to one file stops no other."""

    sitting: Sitting
    register: Register
    overrides: Sequence[Override]
    wanted: frozenset[str]
    printing: Printing
    labs: list[GradedLab] = field(default_factory=list)
    pages: dict[str, Article] = field(default_factory=dict)
    """The feedback pages that were made, by lab."""
    trainees: dict[str, Trainee] = field(default_factory=dict)
    """Whose work was graded, by lab."""
    not_graded: list[NotGraded] = field(default_factory=list)
    unwritten: list[str] = field(default_factory=list)
    """What could not be written, and why."""
    seen: set[str] = field(default_factory=set)
    """The files that were read and found to be of some lab, as the sitting calls them."""
    beside: list[Path] = field(default_factory=list)
    """What lies in a trainee's folder beside a workbook, and is none."""
    crashes: int = 0

    @property
    def attempts(self) -> dict[str, int]:
        """By lab."""
        return {lab.lab: lab.attempt for lab in self.register.labs}

    @cached_property
    def _packed_exercise(self) -> bytes:
        return pickle.dumps(self.register.exercise)

    def grade(self, found: Found, readers: Sequence[WatchedReader]) -> None:
        """Grades everything that was found."""
        self.not_graded += [NotGraded(file, reason) for file, reason in found.unread]
        files, by_lab = found.files, dict[str, list[HandIn]]()
        folders: dict[Path, set[str]] = {}
        unread: list[NotGraded] = []
        with counted(side_by_side(self._read, files, readers), "Reading files", of=len(files)) as read:
            for each in read:
                if isinstance(each, NotGraded):
                    unread.append(each)
                    continue
                folders.setdefault(each.file.parent, set()).add(each.lab if each.answers else "")
                self.seen.add(self.sitting.relative(each.file))
                if each.lab in self.wanted:
                    by_lab.setdefault(each.lab, []).append(each)
        own = {folder for folder, labs_in_it in folders.items() if len(labs_in_it - {""}) == 1}
        for each in unread:
            if each.file.parent in own and self._lies_beside(each.file):
                self.beside.append(each.file)
            else:
                self.not_graded.append(each)
        labs = list(by_lab.values())
        with counted(side_by_side(self._graded, labs, readers), "Marking", of=len(labs)) as graded:
            for outcome in graded:
                self._take(outcome)

    def _lies_beside(self, file: Path) -> bool:
        """Whether it is a text or a picture in a folder that is not everybody's: platforms put what was typed beside the
        workbook into such folders.
        """
        is_everybodys = file.parent == self.sitting.returned or file.parent.suffix.casefold() == ".zip"
        return not is_everybodys and file.suffix.casefold() in _NO_WORKBOOKS

    def _read(self, reader: WatchedReader, file: Path) -> HandIn | NotGraded:
        try:
            return hand_in(self.sitting, self.register, file, reader, self.wanted)
        except TrainerError as error:
            return NotGraded(file, str(error))

    def _take(self, outcome: "_Outcome") -> None:
        self.not_graded += outcome.not_graded
        self.unwritten += outcome.unwritten
        if outcome.crash is not None:
            self._note_crash(outcome.counting, outcome.crash)
        if outcome.graded is not None:
            self.labs.append(outcome.graded)
            if outcome.trainee is not None:
                self.trainees[outcome.graded.lab] = outcome.trainee
        if outcome.graded is not None and outcome.page is not None and len(self.labs) <= MOST_IN_A_FILE:
            self.pages[outcome.graded.lab] = outcome.page

    def _note_crash(self, each: HandIn, fault: MarkingCrashed) -> None:
        log = write_log(f"Marking {each.called}:\n{fault.trace}\n", more=self.crashes > 0)
        self.crashes += 1
        self.not_graded.append(NotGraded(each.file, f"{fault} Please send us this file: {log}"))

    def _graded(self, reader: WatchedReader, copies: Sequence[HandIn]) -> "_Outcome":
        """Marks the file of a lab that counts, and writes what belongs to it."""
        outcome = _Outcome(counting=copies[-1])
        try:
            scenario = self._scenario(copies)
            outcome.trainee = scenario.trainee
            forms = dict(outcome.readable(copies))
            if not forms:
                return outcome
            choice = choose(copies, forms, self.register.exercise.saved, self._decisions(scenario))
            outcome.counting = choice.counting
            self._mark(reader, scenario, choice, forms, outcome)
        except MarkingCrashed as error:
            outcome.crash = error
        except TrainerError as error:
            outcome.not_graded.append(NotGraded(outcome.counting.file, str(error)))
        return outcome

    def _scenario(self, copies: Sequence[HandIn]) -> Scenario:
        """That of their lab: as it was when they were read, or from its file. Raises TrainerError where that is damaged."""
        known = next((each for each in copies if each.packed_lab), None)
        return self.sitting.scenario(copies[-1].lab) if known is None else known.scenario

    def _decisions(self, scenario: Scenario) -> list[Override]:
        own = scenario.trainee
        return [each for each in self.overrides if each.is_for(own.id, own.attempt)]

    def _mark(
        self,
        reader: WatchedReader,
        scenario: Scenario,
        choice: Choice,
        forms: Mapping[Path, ReturnedForm],
        outcome: "_Outcome",
    ) -> None:
        """Writes marked workbook, feedback page and marks. Raises TrainerError where the marks cannot be kept."""
        counting, form = choice.counting, forms[choice.counting.file]
        to_grade = ToGrade(
            lab=counting.packed_lab,
            is_key_proved=counting.is_key_proved,
            form=counting.answers,
            overrides=self._decisions(scenario),
            exercise=self._packed_exercise,
            full=self.printing.full,
        )
        marks, to_hand_back = reader.graded(to_grade)
        notices = [*form.notices, *counting.notices, *choice.notices]
        notices += self._about_rivals(reader, scenario, choice, forms, marks)
        graded = GradedLab(
            lab=scenario.lab_number,
            trainee=scenario.trainee.id,
            file=self.sitting.relative(counting.file),
            marked=self.sitting.relative(self.sitting.marked_book(scenario)),
            notices=tuple(notices),
            own=tuple(form.notices),
            where=tuple((cell.question, cell.row, sheet, name) for cell, (sheet, name) in form.where.items()),
            marks=marks,
            digest=counting.digest,
        )
        exercise, printing = self.register.exercise, self.printing
        graded, outcome.unwritten = hand_back(self.sitting, scenario, graded, exercise, printing, to_hand_back)
        self.sitting.write_grade(graded)
        outcome.graded, outcome.page = graded, to_hand_back.page

    def _about_rivals(
        self,
        reader: WatchedReader,
        scenario: Scenario,
        choice: Choice,
        forms: Mapping[Path, ReturnedForm],
        marks: Marked,
    ) -> Iterator[str]:
        """The marks of the files that do not count although other answers stand in them."""
        own, told = scenario.trainee, []
        for each in choice.rivals[:_MOST_RIVALS]:
            try:
                rival = reader.marked(scenario, forms[each.file].filled)
                rival = apply(rival, own.id, self.overrides, attempt=own.attempt)
                told.append(f"{each.called} {shown(rival.marks)}")
            except TrainerError:
                told.append(f"{each.called} cannot be marked")
        if told:
            more = f" and {len(choice.rivals) - len(told)} more" if len(choice.rivals) > len(told) else ""
            yield (
                f"THEIR ANSWERS DIFFER: {choice.counting.called} earns {shown(marks.marks)} of {shown(marks.out_of)}, "
                f"{', '.join(told)}{more}. If another is meant, write a row into instructor/overrides.xlsx: Trainee "
                f"{own.id}, Decision use this file, Value its name."
            )


@dataclass(slots=True, kw_only=True)
class _Outcome:
    """What came of the files of one lab."""

    counting: HandIn
    graded: GradedLab | None = None
    page: Article | None = None
    trainee: Trainee | None = None
    not_graded: list[NotGraded] = field(default_factory=list)
    unwritten: list[str] = field(default_factory=list)
    crash: MarkingCrashed | None = None

    def readable(self, copies: Sequence[HandIn]) -> Iterator[tuple[Path, ReturnedForm]]:
        """The answers in each file that is somebody's work, by file; what cannot be read is noted."""
        work = [each for each in copies if each.is_work]
        for each in work:
            if each.unread:
                self.not_graded.append(NotGraded(each.file, each.unread))
            else:
                yield each.file, each.form
        if not work:
            self.not_graded.append(NotGraded(copies[-1].file, no_work(copies)))
