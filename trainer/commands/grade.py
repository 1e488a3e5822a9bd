"""`trainer grade SITTING [FILES]`: marks what came back, and explains every cell that is not right."""

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from trainer.commands.crash_log import write_log
from trainer.commands.decisions import idle, make_overrides_book, read_overrides
from trainer.commands.grade_told import json_of, print_table
from trainer.commands.graded import ChangedMarks, Graded, NotGraded
from trainer.commands.hand_ins import Choice, HandIn, choose, form_of, hand_in, no_work
from trainer.commands.handing_back import hand_back
from trainer.commands.one_run import one_run
from trainer.commands.printing import ON_SCREEN, Printing
from trainer.commands.reading import labs_of_group
from trainer.commands.results import read_results, write_results
from trainer.commands.stray_marks import stray_marks
from trainer.commands.terminal import counted, say
from trainer.commands.watched_reader import MarkingCrashed, watched_reader
from trainer.errors import TrainerError
from trainer.files import Found, found_at, is_there
from trainer.lab.scenario import Scenario
from trainer.marking.marks import Marked, shown
from trainer.marking.overrides import Override, apply
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
    printing: Printing = ON_SCREEN,
) -> int:
    """Exit status 1 where a file could not be graded or written, 3 where that was our fault; all others are graded and
    written all the same.
    """
    sitting = Sitting.open(folder)
    with one_run(sitting):
        graded = grade_sitting(sitting, files, group=group, printing=printing)
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
    sitting: Sitting, files: Sequence[Path] = (), *, group: str | None = None, printing: Printing = ON_SCREEN
) -> Graded:
    """Grades the named files, or everything in returned/, and writes marked workbooks, pages and results.

    group: only the files of its trainees; those of others are left as they are.
    """
    troubles = list(make_overrides_book(sitting))
    watched_reader.start()
    work = _Work(
        sitting=sitting,
        register=sitting.register(),
        overrides=read_overrides(sitting),
        wanted=frozenset(lab.lab for lab in labs_of_group(sitting, group)),
        printing=printing,
    )
    before = sitting.last_grades().by_lab
    told = {lab: each.marks.marks for lab, each in before.items()} | sitting.told()
    found = _found(sitting, files)
    work.grade(found)
    kept = stray_marks(
        sitting,
        [each for lab, each in before.items() if lab in work.wanted and lab not in {done.lab for done in work.labs}],
        others=work.seen,
    )
    listed = tuple((sitting.relative(each.file), each.reason) for each in work.not_graded)
    if files:
        listed = (*_still_not_graded(sitting, found.files), *listed)
    results = read_results(sitting)
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
        archives=found.archives,
        has_crashed=work.crashes > 0,
        idle=tuple(idle(work.overrides, work.labs)),
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
            yield ChangedMarks(lab=each.lab, trainee=each.trainee, old=old, new=each.marks.marks)


def _is_anew(graded: GradedLab, before: Mapping[str, GradedLab]) -> bool:
    earlier = before.get(graded.lab)
    return earlier is not None and earlier.digest not in ("", graded.digest)


@dataclass(slots=True, kw_only=True)
class _Work:
    """One run, as far as it has come. What happens to one file stops no other."""

    sitting: Sitting
    register: Register
    overrides: Sequence[Override]
    wanted: frozenset[str]
    printing: Printing
    labs: list[GradedLab] = field(default_factory=list)
    not_graded: list[NotGraded] = field(default_factory=list)
    unwritten: list[str] = field(default_factory=list)
    """What could not be written, and why."""
    seen: set[str] = field(default_factory=set)
    """The files that were read and found to be of some lab, as the sitting calls them."""
    crashes: int = 0

    def grade(self, found: Found) -> None:
        """Grades everything that was found."""
        self.not_graded += [NotGraded(file, reason) for file, reason in found.unread]
        by_lab: dict[str, list[HandIn]] = {}
        with counted(found.files, "Reading files") as returned:
            for file in returned:
                try:
                    each = hand_in(self.sitting, self.register, file)
                except TrainerError as error:
                    self.not_graded.append(NotGraded(file, str(error)))
                    continue
                self.seen.add(self.sitting.relative(file))
                if each.lab in self.wanted:
                    by_lab.setdefault(each.lab, []).append(each)
        with counted(by_lab.items(), "Marking") as handed_in:
            for lab, copies in handed_in:
                self._grade_lab(lab, copies)

    def _grade_lab(self, lab: str, copies: Sequence[HandIn]) -> None:
        """Marks the file of a lab that counts, and writes what belongs to it."""
        counting = copies[-1]
        try:
            scenario = self.sitting.scenario(lab)
            forms = self._forms(copies, scenario)
            if not forms:
                return
            choice = choose(copies, forms, self.register.exercise.saved, self._decisions(scenario))
            counting = choice.counting
            marked = self._marked(scenario, forms[counting.file])
        except MarkingCrashed as error:
            self._note_crash(counting, error)
        except TrainerError as error:
            self.not_graded.append(NotGraded(counting.file, str(error)))
        else:
            form = forms[counting.file]
            notices = [*form.notices, *counting.notices, *choice.notices]
            notices += self._about_rivals(scenario, choice, forms, marked)
            try:
                self._write(scenario, counting, form, marked, notices)
            except TrainerError as error:
                self.not_graded.append(NotGraded(counting.file, str(error)))

    def _decisions(self, scenario: Scenario) -> list[Override]:
        own = scenario.trainee.id.casefold()
        return [each for each in self.overrides if each.trainee.casefold() in ("", own)]

    def _forms(self, copies: Sequence[HandIn], scenario: Scenario) -> dict[Path, ReturnedForm]:
        """The answers in each file that is somebody's work, by file; what cannot be read is noted."""
        forms = {}
        work = [each for each in copies if each.is_work]
        for each in work:
            try:
                forms[each.file] = form_of(each, scenario)
            except TrainerError as error:
                self.not_graded.append(NotGraded(each.file, str(error)))
        if not work:
            self.not_graded.append(NotGraded(copies[-1].file, no_work(copies)))
        return forms

    def _marked(self, scenario: Scenario, form: ReturnedForm) -> Marked:
        return apply(watched_reader.marked(scenario, form.filled), scenario.trainee.id, self.overrides)

    def _note_crash(self, each: HandIn, fault: MarkingCrashed) -> None:
        log = write_log(f"Marking {each.called}:\n{fault.trace}\n", more=self.crashes > 0)
        self.crashes += 1
        self.not_graded.append(NotGraded(each.file, f"{fault} Please send us this file: {log}"))

    def _about_rivals(
        self, scenario: Scenario, choice: Choice, forms: Mapping[Path, ReturnedForm], marked: Marked
    ) -> Iterator[str]:
        """The marks of the files that do not count although other answers stand in them."""
        told = []
        for each in choice.rivals[:_MOST_RIVALS]:
            try:
                told.append(f"{each.called} {shown(self._marked(scenario, forms[each.file]).marks)}")
            except TrainerError:
                told.append(f"{each.called} cannot be marked")
        if told:
            more = f" and {len(choice.rivals) - len(told)} more" if len(choice.rivals) > len(told) else ""
            yield (
                f"THEIR ANSWERS DIFFER: {choice.counting.called} earns {shown(marked.marks)} of {shown(marked.out_of)}, "
                f"{', '.join(told)}{more}. If another is meant, write a row into instructor/overrides.xlsx: Trainee "
                f"{scenario.trainee.id}, Decision use this file, Value its name."
            )

    def _write(
        self, scenario: Scenario, counting: HandIn, form: ReturnedForm, marked: Marked, notices: Sequence[str]
    ) -> None:
        """Writes marked workbook, feedback page and marks. Raises TrainerError where the marks cannot be kept."""
        graded = GradedLab(
            lab=scenario.lab_number,
            trainee=scenario.trainee.id,
            file=self.sitting.relative(counting.file),
            marked=self.sitting.relative(self.sitting.marked_book(scenario)),
            notices=tuple(notices),
            own=tuple(form.notices),
            where=tuple((cell.question, cell.row, sheet, name) for cell, (sheet, name) in form.where.items()),
            marks=marked,
            digest=counting.digest,
        )
        graded, unwritten = hand_back(self.sitting, scenario, graded, self.register.exercise, self.printing)
        self.unwritten += unwritten
        self.sitting.write_grade(graded)
        self.labs.append(graded)
