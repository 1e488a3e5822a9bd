"""`trainer practise [EXERCISE]`: one lab for the person at the keyboard, looked at whenever it is saved.

The waiting loop has clock, sleep, stat and keyboard from `Surroundings`, so that no test waits. It looks five times
a second and reads when size, time and file number have stayed the same for 0.3 s: programs save in several steps,
or write another file and rename it. What cannot be read is tried again at the next change and every second, and
said after three. Lines are typed into a daemon thread that reads past `sys.stdin`: a thread that waits inside it
holds a lock that the interpreter wants when it ends.
"""

import os
import queue
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from trainer.commands.crash_log import write_log
from trainer.commands.practice_labs import (
    Practised,
    TakenUp,
    exercise_called,
    practice_folder,
    refuse_unasked,
    sheets_called,
    take_up,
)
from trainer.commands.practice_lines import hint_lines, list_lines, reason_lines, report_lines
from trainer.commands.terminal import say
from trainer.commands.watched_reader import MarkingCrashed, watched_reader
from trainer.errors import TrainerError, did_you_mean
from trainer.lab.exercise import Exercise
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.listing import listed
from trainer.lock import alone
from trainer.marking.marks import Marked
from trainer.marking.practice import (
    CONSEQUENCE,
    CellNames,
    Progress,
    after_save,
    answer_to,
    next_to_do,
    section_called,
)
from trainer.store import Sitting, lab_of, read_returned
from trainer.study.labs import Wanted

__all__ = ["Keyboard", "Surroundings", "run"]

ANY_LAB = Wanted()
LOOKS_EVERY = 0.2
"""Seconds from one look at the file to the next."""
SETTLED_AFTER = 0.3
"""Seconds for which size and time of a file stay the same before it is read: programs write in several steps."""
AGAIN_AFTER = 1.0
"""Seconds after which a file that could not be read is tried again, changed or not: another program may hold it."""
PATIENCE = 3.0
"""Seconds of trouble before anything is said about it."""
NEXT_HINT_AFTER = 30.0
"""Seconds after which a hint is followed by the next one although nothing was saved (feedback rule F11)."""
WORDS = """Words you can type here, each with Enter:
  hint                a question that leads on, for what is shown; later more
  why                 what is wrong with it, and what the network does then
  hint Routes         the same for one sheet; why Routes as well
  answer Subnets G7   the right value of a cell; it is counted apart, as shown
  list                every cell that is not right yet
  new                 another lab like it; new Links asks that sheet alone
  quit                leave; the same command takes the lab up again"""

Stamp = tuple[int, ...]
"""What a saved file is known by: size, time, number on the disk."""


def _stamp(file: Path) -> Stamp | None:
    """None where there is no file, as there is for a moment when a program replaces it."""
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ino


class Keyboard:
    """Lines as they are typed, without waiting for them: a thread reads, the loop asks. The same on every system."""

    def __init__(self) -> None:
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def __call__(self) -> str | None:
        """The next line, or None where nothing was typed."""
        try:
            return self._lines.get_nowait()
        except queue.Empty:
            return None

    def _read(self) -> None:
        """Past sys.stdin, whose lock a thread that waits would still hold when the program ends."""
        try:
            with os.fdopen(sys.stdin.fileno(), "rb", buffering=0, closefd=False) as raw:
                while line := raw.readline():
                    self._lines.put(line.decode("utf-8", errors="replace"))
                if raw.isatty():  # the key that ends all input; a pipe that ends is no wish to leave
                    self._lines.put("quit")
        except (AttributeError, OSError, ValueError):
            return  # no keyboard: the file is watched all the same


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What the waiting loop has of the world outside, so that a test need not wait."""

    typed: Callable[[], str | None]
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep
    stat: Callable[[Path], Stamp | None] = _stamp


@dataclass(slots=True)
class _Watch:
    """Says when a file that is being saved is worth reading."""

    done: Stamp | None
    """The save that was looked at last."""
    _waiting: Stamp | None = None
    _since: float | None = None
    """When the trouble began: a save that could not be read yet, or a file that is gone."""
    _next: float = 0.0
    _said: bool = False

    def is_due(self, now: float, stamp: Stamp | None) -> bool:
        if stamp is not None and stamp == self.done:
            self.settle(stamp)
            return False
        if self._since is None or stamp != self._waiting:
            self._waiting, self._since, self._said = stamp, now, False
            self._next = now + SETTLED_AFTER
        return stamp is not None and now >= self._next

    def settle(self, stamp: Stamp) -> None:
        """The save was looked at."""
        self.done, self._waiting, self._since, self._said = stamp, None, None, False

    def try_later(self, now: float) -> None:
        self._next = now + AGAIN_AFTER

    def is_time_to_say(self, now: float) -> bool:
        """Once for each trouble, when it has lasted."""
        if self._said or self._since is None or now - self._since < PATIENCE:
            return False
        self._said = True
        return True


class _NotMarked(TrainerError):
    """What a save holds was read, and cannot be marked. It would end the same way if it were tried again."""

    status = 1
    """Of a command that does nothing else."""


class _Crashed(_NotMarked):
    """Through our fault."""

    status = 3


@dataclass(slots=True)
class _Practice:
    """A practice lab, and what was found in its last save."""

    sitting: Sitting
    scenario: Scenario
    progress: Progress
    marked: Marked = field(default_factory=lambda: Marked(cells=(), sections=()))
    names: CellNames = field(default_factory=dict)
    notices: tuple[str, ...] = ()
    hinted_at: float | None = None
    """When a hint was given last, if nothing was saved since."""
    asks_which: bool = False
    """Whether "answer" was typed alone, so that the next line says which cell is meant."""

    @property
    def workbook(self) -> Path:
        return self.sitting.handout_file(self.scenario)

    def read(self, file: Path) -> None:
        """Grades the file. Raises TrainerError where it cannot be read or belongs to another lab, as _NotMarked where it can
        be read alone.
        """
        data = read_returned(file)
        numbers = watched_reader.paper(data).numbers
        if numbers and self.scenario.lab_number not in numbers:
            raise TrainerError(
                f"It is the workbook of lab {numbers[0]}, not of {self.scenario.lab_number}. Save the right one there."
            )
        form = watched_reader.form(data, self.scenario)
        try:
            marked = watched_reader.marked(self.scenario, form.filled)
        except MarkingCrashed as error:
            log = write_log(f"Marking {file}:\n{error.trace}\n")
            raise _Crashed(f"{error} Please send us this file: {log}") from error
        except TrainerError as error:
            raise _NotMarked(str(error)) from error
        self.marked, self.names, self.notices = marked, form.where, form.notices

    def hand_over(self, stamp: Stamp | None) -> None:
        """Remembers the workbook as it was written, so that a save is noticed even if nobody was watching."""
        self.progress = replace(self.progress, file=stamp or ())
        self._keep()

    def take_save(self, stamp: Stamp) -> None:
        """Remembers what was read as a save, and reports it."""
        before, self.progress = self.progress, after_save(self.progress, self.marked, stamp)
        self.hinted_at = None
        fault = self._keep()
        say(*report_lines(self.marked, self.progress, self.names, before), *self.notices, *fault)

    def obey(self, line: str, now: float) -> None:
        """Does what a typed line asks for, of the words that concern this lab alone."""
        word, _, rest = line.strip().partition(" ")
        word, asked_which, self.asks_which = word.casefold(), self.asks_which, False
        if not self.marked.sections:
            say("The workbook could not be read yet. Save it once more.")
            return
        section = section_called(rest, self.marked)
        to_do = next_to_do(self.marked, self.progress, section)
        match word:
            case "hint" | "why" if rest.strip() and section is None:
                titles = [SECTIONS[each.section].title for each in self.marked.sections]
                say(f"There is no sheet {rest.strip()!r} to fill in. {did_you_mean(rest.strip(), titles)}".rstrip())
            case "hint" | "why" if not to_do and section is not None:
                say(f"Every cell of {SECTIONS[section].title} is right: there is nothing to explain.")
            case "hint" | "why" if not to_do:
                say("Every cell is right: there is nothing to explain.")
            case "hint":
                self._hint(now, section)
            case "why":
                say(*reason_lines(to_do, self.names))
            case "list":
                say(*list_lines(self.marked, self.progress, self.names))
            case "answer" if not rest.strip():
                self.asks_which = True
                say("Of which cell? Type its sheet and name, such as Subnets G7.")
            case "answer":
                self._answer(rest)
            case _ if asked_which and word:
                self._answer(line)
            case _:
                say(WORDS)

    def _hint(self, now: float, section: str | None) -> None:
        """The next hint for what is shown; the last one again where nobody had time to try it."""
        is_too_soon = self.hinted_at is not None and now - self.hinted_at < NEXT_HINT_AFTER
        lines = []
        if not is_too_soon:
            self.progress = self.progress.with_next_rung(next_to_do(self.marked, self.progress, section))
            self.hinted_at = now
            lines = self._keep()
        elif any(each.rung < CONSEQUENCE for each in next_to_do(self.marked, self.progress, section)):
            lines = ["Try that first. The next hint comes after a save, or in half a minute."]
        say(*hint_lines(next_to_do(self.marked, self.progress, section), self.names), *lines)

    def _answer(self, request: str) -> None:
        answer = answer_to(request, self.marked, self.names)
        if answer.shown is not None:
            self.progress = self.progress.with_shown(answer.shown)
        say(answer.words, *self._keep())

    def _keep(self) -> list[str]:
        """Writes what is remembered; what to say where that failed."""
        try:
            self.sitting.write_progress(self.progress)
        except TrainerError as error:
            return [str(error)]
        return []


def run(
    name: str | None,
    out: Path,
    *,
    once: Path | None,
    new: bool,
    wanted: Wanted = ANY_LAB,
    around: Surroundings | None = None,
) -> int:
    """wanted: which sheets are asked, and how much stands there filled in."""
    if once is not None:
        return _look_once(once, _sittings(name, out))
    practised = exercise_called(name)
    practice = _begin_lab(practised, practice_folder(practised.exercise, out), wanted, new=new)
    around = Surroundings(typed=Keyboard()) if around is None else around
    while True:
        with alone(practice.sitting.practice_lock(practice.scenario.lab_number), practice.workbook):
            another = _watch(practice, practised.exercise, wanted, around)
        if another is None:
            say("Left. The same command takes this lab up again.")
            return 0
        wanted = another
        practice = _begin_lab(practised, practice.sitting, wanted, new=True)


def _watch(practice: _Practice, exercise: Exercise, wanted: Wanted, around: Surroundings) -> Wanted | None:
    """Looks at every save and obeys every word, until one of them is "new" or "quit": what another lab is drawn for, or None."""
    watch = _Watch(practice.progress.file)
    _begin(practice, around.stat(practice.workbook) == watch.done)
    while True:
        line = around.typed()
        if line is None:
            _look(practice, watch, around)
            around.sleep(LOOKS_EVERY)
            continue
        word, _, rest = line.strip().partition(" ")
        if word.casefold() == "quit":
            return None
        if word.casefold() != "new":
            practice.obey(line, around.clock())
            continue
        try:
            sheets = sheets_called(rest) if rest.strip() else wanted.sheets
            refuse_unasked(sheets, exercise, practice.scenario)
        except TrainerError as error:
            say(str(error))
        else:
            return replace(wanted, sheets=sheets)


def _begin(practice: _Practice, is_known: bool) -> None:
    """Grades what is there, so that words have something to speak about. A save made meanwhile is left to the loop."""
    try:
        practice.read(practice.workbook)
    except TrainerError:
        return
    if is_known and practice.progress.seen:
        say(*report_lines(practice.marked, practice.progress, practice.names))


def _look(practice: _Practice, watch: _Watch, around: Surroundings) -> None:
    """Grades the workbook if it was saved; a save that is not complete yet is tried again."""
    stamp = around.stat(practice.workbook)
    trouble = "The file is not there. Save it under its old name, or type 'new' for another lab."
    if watch.is_due(around.clock(), stamp):
        assert stamp is not None
        try:
            practice.read(practice.workbook)
        except _NotMarked as error:
            watch.settle(stamp)
            say(f"{practice.workbook}: {error}")
            return
        except TrainerError as error:
            trouble = str(error)
            watch.try_later(around.clock())
        else:
            if around.stat(practice.workbook) == stamp:
                watch.settle(stamp)
                say()
                practice.take_save(stamp)
            return
    elif stamp is not None:
        return
    if watch.is_time_to_say(around.clock()):
        say(f"{practice.workbook}: {trouble}")


def _look_once(file: Path, sittings: Sequence[Sitting]) -> int:
    """Grades one file, which need not lie in the folder, and prints what a save there would have printed."""
    try:
        numbers = watched_reader.paper(read_returned(file)).numbers
    except TrainerError as error:
        raise TrainerError(f"{file}: {error}") from error
    for sitting in sittings:
        for number in numbers:
            if sitting.has_register and lab_of(sitting.register(), number):
                return _take_once(_practice(sitting, sitting.scenario(number)), file)
    found = f"holds lab {numbers[0]}" if numbers else "holds no lab number"
    where = " or ".join(str(sitting.folder) for sitting in sittings) or "the output folder"
    raise TrainerError(
        f"{file}: it {found}, which is no practice lab in {where}. Give the workbook that was filled in."
    )


def _take_once(practice: _Practice, file: Path) -> int:
    try:
        practice.read(file)
    except _NotMarked as error:
        say(f"{file}: {error}", style="red", to=sys.stderr)
        return error.status
    except TrainerError as error:
        raise TrainerError(f"{file}: {error}") from error
    is_its_own = file.resolve() == practice.workbook.resolve()
    practice.take_save((_stamp(file) if is_its_own else None) or practice.progress.file)
    return 0


def _begin_lab(practised: Practised, sitting: Sitting, wanted: Wanted, *, new: bool) -> _Practice:
    """The lab that was begun, or another one; says which, and where its files are."""
    taken_up = take_up(practised, sitting, wanted, new=new)
    practice = _practice(sitting, taken_up.scenario)
    if taken_up.trials is not None:
        practice.hand_over(_stamp(practice.workbook))
    say(*_introduction(practice, taken_up))
    return practice


def _introduction(practice: _Practice, taken_up: TakenUp) -> list[str]:
    scenario = practice.scenario
    called = f"lab {scenario.lab_number} of {scenario.exercise_code} ({scenario.title})"
    lines = [f"A {called} was drawn for you and proved by {taken_up.trials} trials."]
    if taken_up.trials is None:
        lines = [f"You go on with {called}; --new draws another."]
        if taken_up.is_older:
            lines.append("The exercise workbook was changed since it was drawn: --new draws from it as it is now.")
    asked = listed([SECTIONS[section].title for section in scenario.asked])
    return [
        *lines,
        f"  Asked:   {asked}",
        f"  Read:    {practice.sitting.handout_page(scenario)}",
        f"  Fill in: {practice.workbook}",
        "Every time you save it, it is looked at here. Type hint, why, answer, list, new or quit.",
    ]


def _practice(sitting: Sitting, scenario: Scenario) -> _Practice:
    return _Practice(sitting=sitting, scenario=scenario, progress=sitting.progress(scenario.lab_number))


def _sittings(name: str | None, out: Path) -> list[Sitting]:
    """The practice folder of the exercise that was named; all there are where none was."""
    if name is not None:
        return [practice_folder(exercise_called(name).exercise, out)]
    return [Sitting(folder) for folder in sorted(out.glob("practice-*"))]
