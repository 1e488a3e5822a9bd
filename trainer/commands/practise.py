"""`trainer practise [EXERCISE]`: one lab for the person at the keyboard, looked at whenever it is saved.

The waiting loop has clock, sleep, stat and keyboard from `Surroundings`, so that no test waits. It looks five times
a second and reads when size, time and file number have stayed the same for 0.3 s: programs save in several steps,
or write another file and rename it. What cannot be read is tried again at the next change and every second, and
said after three. Lines are typed into a daemon thread that reads past `sys.stdin`: a thread that waits inside it
holds a lock that the interpreter wants when it ends.
"""

import os
import queue
import shlex
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from trainer.commands.lab_log import LabLog
from trainer.commands.local_app import serve
from trainer.commands.practice_labs import (
    USUAL,
    Practised,
    TakenUp,
    at_level,
    exercise_called,
    practice_folder,
    refuse_unasked,
    sheets_called,
    take_up,
)
from trainer.commands.practice_page import PracticeSite, practice_app
from trainer.commands.practice_session import NotMarked, PracticeSession, stamp_of
from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import say
from trainer.commands.watched_reader import watched_reader
from trainer.errors import TrainerError
from trainer.lab.exercise import Exercise
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.listing import listed
from trainer.lock import alone
from trainer.store import Sitting, read_returned
from trainer.study.asks import concept_of
from trainer.study.labs import Wanted, support_for
from trainer.study.replay import replayed
from trainer.study_files import StudyLog, begun_log

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
Stamp = tuple[int, ...]
"""What a saved file is known by: size, time, number on the disk."""


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
    time_of_day: Callable[[], str] = lambda: time.strftime("%H:%M")
    stat: Callable[[Path], Stamp | None] = stamp_of


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


def run(
    name: str | None,
    out: Path,
    *,
    once: Path | None,
    new: bool,
    wanted: Wanted = ANY_LAB,
    new_if_done: bool = False,
    learner: str | None = None,
    page: Callable[[str], None] | None = None,
    around: Surroundings | None = None,
    world: StudyWorld | None = None,
) -> int:
    """wanted: which sheets are asked, and how much stands there filled in. new_if_done: whether another lab is drawn where every
    cell of the one that was begun is right. learner: whose log it is noted in; without a name
    the only one there is. Where there is none, nothing is noted. page: gets the address of the page on which it is filled in;
    None where a spreadsheet program is used.
    """
    log, world = begun_log(out, learner), StudyWorld() if world is None else world
    if once is not None:
        return _look_once(once, _sittings(name, out, log), log, world)
    practised = at_level(exercise_called(name), wanted.level)
    sitting = practice_folder(practised.exercise, out, log)

    def begun(wanted: Wanted, *, new: bool, new_if_done: bool = False) -> PracticeSession:
        with_support = _with_support(wanted, practised, log)
        taken_up = take_up(practised, sitting, with_support, new=new, new_if_done=new_if_done)
        return _begin_lab(practised, sitting, taken_up, log, world, is_on_page=page is not None)

    practice = begun(wanted, new=new, new_if_done=new_if_done)
    if page is not None:
        wanted = _serve(practice, wanted, lambda another: begun(another, new=True), page)
    else:
        around = Surroundings(typed=Keyboard()) if around is None else around
        another: Wanted | None = wanted
        while another is not None:
            wanted = another
            with _session_in_log(practice):
                another = _watch(practice, practised.exercise, wanted, around)
            if another is not None:
                practice = begun(another, new=True)
    say(f"Left. To go on with this lab: {_command(name, wanted, learner, is_on_page=page is not None)}")
    return 0


@contextmanager
def _session_in_log(practice: PracticeSession) -> Iterator[None]:
    """One window at a time works on a lab; what was done is in the log whatever ends it."""
    with alone(practice.sitting.practice_lock(practice.scenario.lab_number), practice.workbook):
        try:
            _tell(practice.enter())
            yield
        finally:
            told = practice.leave()
        _tell(told)


def _command(name: str | None, wanted: Wanted, learner: str | None, *, is_on_page: bool) -> str:
    """What is typed to take a lab up again."""
    words = ["trainer", "practise", USUAL if name is None else name]
    if wanted.sheets:
        words += ["--sheets", ",".join(SECTIONS[sheet].title for sheet in wanted.sheets)]
    if wanted.level is not None:
        words += ["--level", str(wanted.level)]
    if learner is not None:
        words += ["--learner", learner]
    return shlex.join([*words, "--page"] if is_on_page else words)


def _tell(lines: Sequence[str]) -> None:
    if lines:
        say(*lines)


def _serve(
    practice: PracticeSession, wanted: Wanted, begun: Callable[[Wanted], PracticeSession], told: Callable[[str], None]
) -> Wanted:
    """Shows the lab on a page, and others that are drawn there, until somebody leaves; gives what the last one was drawn for.

    begun: another lab, drawn for what is wanted.
    """
    with ExitStack() as lab:  # the one that is on the page, until another takes its place
        lab.enter_context(_session_in_log(practice))

        def drawn(sheets: tuple[str, ...]) -> PracticeSession:
            nonlocal wanted
            another = replace(wanted, sheets=sheets)
            following = begun(another)
            wanted = another
            lab.close()
            lab.enter_context(_session_in_log(following))
            _read_quietly(following)
            return following

        _read_quietly(practice)
        serve(practice_app(PracticeSite(practice, draws=drawn)), told)
    return wanted


def _read_quietly(practice: PracticeSession) -> None:
    with suppress(TrainerError):  # the page says it
        practice.read(practice.workbook)


def _watch(practice: PracticeSession, exercise: Exercise, wanted: Wanted, around: Surroundings) -> Wanted | None:
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
            _tell(practice.obey(line, around.clock()))
            continue
        try:
            sheets = sheets_called(rest) if rest.strip() else wanted.sheets
            refuse_unasked(sheets, exercise, practice.scenario)
        except TrainerError as error:
            say(str(error))
        else:
            return replace(wanted, sheets=sheets)


def _begin(practice: PracticeSession, is_known: bool) -> None:
    """Grades what is there, so that words have something to speak about. A save made meanwhile is left to the loop."""
    try:
        practice.read(practice.workbook)
    except TrainerError:
        return
    if is_known and practice.progress.seen:
        say(*practice.report())


def _look(practice: PracticeSession, watch: _Watch, around: Surroundings) -> None:
    """Grades the workbook if it was saved; a save that is not complete yet is tried again."""
    stamp = around.stat(practice.workbook)
    trouble = "The file is not there. Save it under its old name, or type 'new' for another lab."
    if watch.is_due(around.clock(), stamp):
        assert stamp is not None
        try:
            practice.read(practice.workbook)
        except NotMarked as error:
            watch.settle(stamp)
            say(f"{practice.workbook}: {error}")
            return
        except TrainerError as error:
            trouble = str(error)
            watch.try_later(around.clock())
        else:
            if around.stat(practice.workbook) == stamp:
                watch.settle(stamp)
                say("", *practice.take_save(stamp, around.time_of_day()))
            return
    elif stamp is not None:
        return
    if watch.is_time_to_say(around.clock()):
        say(f"{practice.workbook}: {trouble}")


def _look_once(file: Path, sittings: Sequence[Sitting], log: StudyLog | None, world: StudyWorld) -> int:
    """Grades one file, which need not lie in the folder, and prints what a save there would have printed."""
    try:
        numbers = watched_reader.paper(read_returned(file)).numbers
    except TrainerError as error:
        raise TrainerError(f"{file}: {error}") from error
    for sitting in sittings:
        for number in numbers:
            if sitting.has_register and number in sitting.register().by_lab:
                exercise, scenario = sitting.register().exercise, sitting.scenario(number)
                return _take_once(_session(sitting, exercise, scenario, log, world), file)
    found = f"holds lab {numbers[0]}" if numbers else "holds no lab number"
    where = " or ".join(str(sitting.folder) for sitting in sittings) or "the output folder"
    raise TrainerError(
        f"{file}: it {found}, which is no practice lab in {where}. Give the workbook that was filled in."
    )


def _take_once(practice: PracticeSession, file: Path) -> int:
    try:
        practice.read(file)
    except NotMarked as error:
        say(f"{file}: {error}", style="red", to=sys.stderr)
        return error.status
    except TrainerError as error:
        raise TrainerError(f"{file}: {error}") from error
    is_its_own = file.resolve() == practice.workbook.resolve()
    stamp = (stamp_of(file) if is_its_own else None) or practice.progress.file
    _tell([*practice.enter(), *practice.take_save(stamp), *practice.leave()])
    return 0


def _with_support(wanted: Wanted, practised: Practised, log: StudyLog | None) -> Wanted:
    """With the support that the log asks for where nobody said which."""
    if wanted.support is not None or log is None:
        return wanted
    study = replayed(log.read(), concept_of)
    return replace(wanted, support=support_for(study, practised.exercise, wanted.sheets))


def _begin_lab(
    practised: Practised,
    sitting: Sitting,
    taken_up: TakenUp,
    log: StudyLog | None,
    world: StudyWorld,
    *,
    is_on_page: bool = False,
) -> PracticeSession:
    """The session with a lab; says which it is, and where its files are."""
    practice = _session(sitting, practised.exercise, taken_up.scenario, log, world)
    if taken_up.trials is not None:
        practice.hand_over(stamp_of(practice.workbook))
    lines = _introduction(practice, taken_up)
    words = "" if practice.scenario.repair is None else "look, try, retry, asked, "
    typed = (
        f"Every time you save it, it is looked at here. Type {words}steps, hint, why, answer, list, bars, new or quit."
    )
    say(*(lines if is_on_page else [*lines, typed]))
    return practice


def _introduction(practice: PracticeSession, taken_up: TakenUp) -> list[str]:
    scenario = practice.scenario
    called = f"lab {scenario.lab_number} of {scenario.exercise_code} ({scenario.title})"
    lines = [f"A {called} was drawn for you. Its solution was tried out: {taken_up.trials} trials went as they should."]
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
    ]


def _session(
    sitting: Sitting, exercise: Exercise, scenario: Scenario, log: StudyLog | None, world: StudyWorld
) -> PracticeSession:
    progress = sitting.progress(scenario.lab_number)
    return PracticeSession(
        sitting=sitting,
        exercise=exercise,
        scenario=scenario,
        progress=progress,
        started=progress,
        log=None if log is None else LabLog(log, world),
    )


def _sittings(name: str | None, out: Path, log: StudyLog | None) -> list[Sitting]:
    """The practice folder of the exercise that was named; all there are of the learner where none was."""
    if name is not None:
        return [practice_folder(exercise_called(name).exercise, out, log)]
    whose = f".{log.called}" if log is not None and log.called else ""
    return [Sitting(folder) for folder in sorted(out.glob(f"practice-*{whose}"))]
