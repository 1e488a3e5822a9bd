"""One practice lab while somebody works on it: what was found in the last save, and what is said to the words that are typed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from trainer.commands.crash_log import write_log
from trainer.commands.lab_log import LabLog
from trainer.commands.practice_labs import example_lab
from trainer.commands.practice_lines import (
    bar_lines,
    hint_lines,
    list_lines,
    reason_lines,
    report_lines,
    step_lines,
)
from trainer.commands.watched_reader import MarkingCrashed, watched_reader
from trainer.errors import TrainerError, did_you_mean
from trainer.lab.answers import FilledForm
from trainer.lab.exercise import Exercise
from trainer.lab.form import CellRef
from trainer.lab.questions import QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.feedback import AT_ONCE
from trainer.marking.marks import Marked, Verdict
from trainer.marking.practice import (
    EXPLANATION,
    HINT,
    STEPS,
    CellNames,
    Progress,
    ToDo,
    after_save,
    next_to_do,
    section_called,
    to_do_of,
)
from trainer.marking.practice_cells import AskedAbout, answer_to, asked_about, is_a_cell
from trainer.sheets.returned_book import ReturnedForm
from trainer.store import Sitting, read_returned
from trainer.study.examples import example_for
from trainer.study.inquiry import ASKING, Inquiry

__all__ = [
    "NEXT_HINT_AFTER",
    "WORDS",
    "WORDS_OF_FAULTS",
    "Crashed",
    "NotMarked",
    "PracticeSession",
    "answers_in",
    "stamp_of",
]

NEXT_HINT_AFTER = 30.0
"""Seconds after which a hint is followed by the next one although nothing was saved (feedback rule F11)."""
WORDS = """Words you can type here, each with Enter:
  steps D8            how that row is worked out, with another lab's numbers
  hint                a question that leads on, for what is shown; later more
  why                 what is wrong with it, and what the network does then
  hint D8, why D8     the same for a cell; hint Routes, why Routes for a sheet
  answer D8           the right value, once you have tried; it is counted apart
  list                every cell that is not right yet
  bars                how far every sheet has got, and what the network does
  new                 another lab like it; new Links asks that sheet alone
  quit                leave; it is said how to go on another time
Where several sheets have such a cell, type the sheet too: why Subnets D8"""

WORDS_OF_FAULTS = WORDS.replace(
    "\n",
    """
  look A routes       a table of a device, as it was found; look alone lists them
  try S4              what was seen; try lease Looms 1 is another way, try alone lists all
  retry S4            what is seen with the lines put right that you call causes; save first
  asked               what you asked for; once every fault is found, beside the half-split way
""",
    1,
)
"""Those and a few before them, where faults are looked for."""


class NotMarked(TrainerError):
    """What a save holds was read, and cannot be marked. It would end the same way if it were tried again."""

    status = 1
    """Of a command that does nothing else."""


class Crashed(NotMarked):
    """Through our fault."""

    status = 3


def stamp_of(file: Path) -> tuple[int, ...] | None:
    """What a saved file is known by: size, time, number on the disk. None where there is no file, as there is for a moment when
    a program replaces it.
    """
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ino


def answers_in(data: bytes, scenario: Scenario) -> ReturnedForm:
    """The answers in the file of a lab. Raises TrainerError where it cannot be read or belongs to another lab."""
    numbers = watched_reader.paper(data).numbers
    if numbers and scenario.lab_number not in numbers:
        raise TrainerError(
            f"It is the workbook of lab {numbers[0]}, not of {scenario.lab_number}. Save the right one there."
        )
    return watched_reader.form(data, scenario)


@dataclass(kw_only=True)
class PracticeSession:
    """A practice lab, and what was found in its last save."""

    sitting: Sitting
    exercise: Exercise
    """The one that the lab is one of; another lab of it shows how things are done."""
    scenario: Scenario
    progress: Progress
    started: Progress
    """What was known when it began."""
    log: LabLog | None = None
    """Where it is noted what was tried; None where nobody keeps a log."""
    marked: Marked = field(default_factory=lambda: Marked(cells=(), sections=()))
    names: CellNames = field(default_factory=dict)
    filled: FilledForm | None = None
    """What stood in the last save."""
    notices: tuple[str, ...] = ()
    hinted_at: float | None = None
    """When a hint was given last, if nothing was saved since."""
    _reasons_told: dict[CellRef, int] = field(default_factory=dict)
    """How often it was told why a cell is not right, since the last save."""
    _asks_which: bool = False
    """Whether "answer" was typed alone, so that the next line says which cell is meant."""

    @property
    def workbook(self) -> Path:
        return self.sitting.handout_file(self.scenario)

    @cached_property
    def _inquiry(self) -> Inquiry | None:
        repair = self.scenario.repair
        return Inquiry(self.scenario) if repair is not None and repair.is_one_by_one else None

    @cached_property
    def _other_lab(self) -> Scenario:
        return example_lab(self.exercise, self.sitting, self.scenario)

    def read(self, file: Path) -> None:
        """Grades the file. Raises TrainerError where it cannot be read or belongs to another lab, as NotMarked where it can
        be read alone.
        """
        form = answers_in(read_returned(file), self.scenario)
        try:
            marked = watched_reader.marked(self.scenario, form.filled)
        except MarkingCrashed as error:
            log = write_log(f"Marking {file}:\n{error.trace}\n")
            raise Crashed(f"{error} Please send us this file: {log}") from error
        except TrainerError as error:
            raise NotMarked(str(error)) from error
        self.marked, self.names, self.notices, self.filled = marked, form.where, form.notices, form.filled

    def hand_over(self, stamp: tuple[int, ...] | None) -> None:
        """Remembers the workbook as it was written, so that a save is noticed even if nobody was watching."""
        self.progress = replace(self.progress, file=stamp or ())
        self._keep()

    def take_save(self, stamp: tuple[int, ...], when: str = "") -> list[str]:
        """Remembers what was read as a save; gives the report. when: the time on the learner's clock."""
        before, troubles = self.remember(stamp)
        report = report_lines(self.marked, self.progress, self.names, before, when)
        return [*report, *self.notices, *troubles, *self.compared()]

    def compared(self) -> tuple[str, ...]:
        """Where faults are looked for, how the way went, the first time that every one is found."""
        return () if self._inquiry is None else self._inquiry.compared_once(self.progress.asked, self.marked)

    def remember(self, stamp: tuple[int, ...]) -> tuple[Progress, list[str]]:
        """Takes what was read as a save; gives what was known before, and what to say where not all could be written down.

        The log comes first: what is in it is not noted twice, and what is not would be missed if the lab's own file knew it.
        """
        before, self.progress = self.progress, after_save(self.progress, self.marked, stamp)
        self.hinted_at = None
        self._reasons_told.clear()
        noted = self.log.note(self.progress, self.started) if self.log is not None else []
        return before, [*noted, *self._keep()]

    def enter(self) -> list[str]:
        """Begins the session in the log, if there is one; gives what to say where that cannot be done."""
        return self.log.begin() if self.log is not None else []

    def leave(self) -> list[str]:
        """Ends the session in the log, if there is one; gives what comes back when."""
        return self.log.end(self.progress, self.started) if self.log is not None else []

    def report(self) -> list[str]:
        """How it stands, where nothing was saved anew."""
        return list(report_lines(self.marked, self.progress, self.names))

    def obey(self, line: str, now: float) -> list[str]:
        """What is said to a typed line, of the words that concern this lab alone."""
        word, _, rest = line.strip().partition(" ")
        word, rest = word.casefold(), rest.strip()
        asked_which, self._asks_which = self._asks_which, False
        if self._inquiry is not None and word in ASKING:
            told = self._inquiry.told(word, rest, self.progress.asked, self.filled, self.marked)
            self.progress = self.progress.with_asked(told.name) if told.name else self.progress
            return [*told.lines, *self._keep()]
        if not self.marked.sections:
            return ["The workbook could not be read yet. Save it once more."]
        match word:
            case "hint" | "why" | "steps" if is_a_cell(rest):
                return self._about_a_cell(word, rest, now)
            case "hint" | "why" | "steps":
                return self._about_what_is_shown(word, rest, now)
            case "list":
                return list(list_lines(self.marked, self.progress, self.names))
            case "bars":
                return list(bar_lines(self.marked, self.progress))
            case "answer" if not rest:
                self._asks_which = True
                return ["Of which cell? Type its name, such as G7, or with its sheet: Subnets G7."]
            case "answer":
                return self._answer(rest)
            case _ if asked_which and word:
                return self._answer(line.strip())
            case _:
                return (WORDS if self._inquiry is None else WORDS_OF_FAULTS).splitlines()

    # --- What is shown, and sheets ------------------------------------------------------------------------------------

    def _about_what_is_shown(self, word: str, sheet: str, now: float) -> list[str]:
        section = section_called(sheet, self.marked)
        if sheet and section is None:
            titles = [SECTIONS[each.section].title for each in self.marked.sections]
            return [f"There is no sheet {sheet!r} to fill in. {did_you_mean(sheet, titles)}".rstrip()]
        to_do = next_to_do(self.marked, self.progress, section)
        if not to_do:
            what = f"Every cell of {SECTIONS[section].title}" if section else "Every cell"
            return [f"{what} is right: there is nothing to explain."]
        if word == "steps" or to_do[0].is_blank:
            return self._steps(to_do[0])
        written = [each for each in to_do if not each.is_blank][:AT_ONCE]
        return self._hint(now, written) if word == "hint" else self._why(written)

    # --- One cell -----------------------------------------------------------------------------------------------------

    def _asked_about(self, word: str, request: str) -> AskedAbout | str:
        """What to say where it is not known which cell is meant."""
        to_do = next_to_do(self.marked, self.progress)
        here = to_do[0].refs[0].section if to_do else None
        return asked_about(request, self.marked, self.names, here, word)

    def _about_a_cell(self, word: str, request: str, now: float) -> list[str]:
        asked = self._asked_about(word, request)
        if isinstance(asked, str):
            return [asked]
        to_do = to_do_of(asked.ref, self.marked, self.progress)
        verdict = asked.cell.verdict if asked.cell else None
        if verdict is Verdict.FOLLOWS:
            return [f"{asked.name} follows rightly from an answer that is not right yet. Put that right first."]
        if asked.cell is None and to_do is None:
            return [f"{asked.name}: no more rows are needed."]
        if verdict is Verdict.RIGHT and word != "steps":
            return [f"{asked.name} is right."]
        if to_do is None or to_do.is_blank:
            return self._about_a_blank_cell(word, asked)
        if word == "steps":
            return self._show_steps(asked.ref, [asked.ref], only=asked.ref.question)
        return self._hint(now, [to_do]) if word == "hint" else self._why([to_do])

    def _about_a_blank_cell(self, word: str, asked: AskedAbout) -> list[str]:
        """Nothing is wrong there, and nothing is right: what to do in order to fill it in."""
        question = QUESTIONS[asked.ref.question]
        if word == "hint":
            how = f"{asked.name} ({question.heading}): {question.how(self.scenario)}"
            return [how, *self._climb([asked.ref], HINT)]
        row = [ref for ref in self.names if (ref.section, ref.row) == (asked.ref.section, asked.ref.row)]
        written = {each.question for each in self._written_in(asked.ref)}
        is_blank = not written - {ref.question for ref in self.progress.filled_in if ref.row == asked.ref.row}
        lines = [f"{asked.name}: nothing stands there yet, so nothing is wrong."] if word == "why" else []
        only = None if is_blank else asked.ref.question
        return [*lines, *self._show_steps(asked.ref, row if is_blank else [asked.ref], only=only)]

    def _written_in(self, ref: CellRef) -> list[CellRef]:
        """The cells of its row in which something stands."""
        return [
            CellRef(cell.question, cell.row)
            for cell in self.marked.cells
            if (cell.section, cell.row) == (ref.section, ref.row) and cell.given
        ]

    # --- What is told -------------------------------------------------------------------------------------------------

    def _hint(self, now: float, to_do: Sequence[ToDo]) -> list[str]:
        """The next hint for what is shown; the last one again where nobody had time to try it."""
        is_too_soon = self.hinted_at is not None and now - self.hinted_at < NEXT_HINT_AFTER
        more: list[str] = []
        if not is_too_soon:
            self.progress = self.progress.with_next_rung(to_do)
            self.hinted_at = now
            more = self._keep()
        elif any(self._rung(each) < STEPS for each in to_do):
            more = ["Try that first. The next hint comes once you have changed something, or in half a minute."]
        climbed = [replace(each, rung=self._rung(each)) for each in to_do]
        lines = list(hint_lines(climbed, self.names))
        for each in climbed:
            if each.rung == STEPS:
                lines += self._show_steps(each.refs[0], each.refs, only=each.refs[0].question)
        return [*lines, *more]

    def _rung(self, to_do: ToDo) -> int:
        return max(self.progress.rungs.get(ref, 0) for ref in to_do.refs)

    def _why(self, to_do: Sequence[ToDo]) -> list[str]:
        """What is wrong; asked again without a save in between, what was not told yet."""
        refs = [ref for each in to_do for ref in each.refs]
        times = self._reasons_told.get(refs[0], 0)
        self._reasons_told[refs[0]] = times + 1
        return [*reason_lines(to_do, self.names, times), *self._climb(refs, EXPLANATION)]

    def _steps(self, to_do: ToDo) -> list[str]:
        """The way to what is to be done next: of a blank row all of it, else of the cell."""
        ref = to_do.refs[0]
        others = {each for each in self._written_in(ref) if each not in self.progress.filled_in}
        return self._show_steps(ref, to_do.refs, only=None if to_do.is_blank and not others else ref.question)

    def _show_steps(self, ref: CellRef, cells: Iterable[CellRef], *, only: str | None) -> list[str]:
        section = SECTIONS[ref.section]
        row = ref.row if section.open is None else None
        worked = example_for(self.scenario, self._other_lab, section.id, row)
        if worked is None:
            return [QUESTIONS[ref.question].how(self.scenario)]
        return [*step_lines(worked, only=only), *self._climb(cells, STEPS)]

    def _answer(self, request: str) -> list[str]:
        if not is_a_cell(request):
            return ["Say which cell: answer G7, or with its sheet: answer Subnets G7"]
        asked = self._asked_about("answer", request)
        if isinstance(asked, str):
            return [asked]
        answer = answer_to(asked, self.progress, self.scenario)
        if answer.shown is not None:
            self.progress = self.progress.with_shown(answer.shown)
        return [answer.words, *self._keep()]

    def _climb(self, cells: Iterable[CellRef], rung: int) -> list[str]:
        self.progress = self.progress.with_rung(cells, rung)
        return self._keep()

    def _keep(self) -> list[str]:
        """Writes what is remembered; what to say where that failed."""
        try:
            self.sitting.write_progress(self.progress)
        except TrainerError as error:
            return [str(error)]
        return []
