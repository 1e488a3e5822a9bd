"""The logs of those who practise: OUT/practice/log.jsonl, or log-NAME.jsonl for each of several people on one computer.

A log is only ever added to, a line an event, brought to the disk at once. Two windows take turns by a lock file that is
held while one of them adds its lines; the file is read again before, so what the other window wrote is known. A log may be
copied, moved to another computer, or deleted: nothing else knows of it.
"""

import os
import re
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import TrainerError, did_you_mean
from trainer.files import digest_of, make_folder
from trainer.lock import alone
from trainer.study.events import Begun, Event, Log, Moment, lines_of, read_log

__all__ = ["LARGEST_LOG", "StudyLog", "begun_log", "log_of", "logs_in", "meant_learner", "read_log_file"]

LARGEST_LOG = 20 * 2**20
"""Bytes of a log; a year of daily rounds has about 2 MB, a whole lab 35,000 bytes."""
_TO_THE_END = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
"""How a log is opened; one system would write line ends of its own."""
_PATIENCE = 5.0
"""Seconds that a window waits for its turn."""
_ONE_THREAD = threading.Lock()
"""A lock file tells processes apart, not threads of one."""


@dataclass(frozen=True, slots=True)
class StudyLog:
    """One learner's log on disk; it need not be there yet."""

    file: Path

    @property
    def called(self) -> str:
        """What tells it from the logs of others, in letters of a file's name; "" of one without a name."""
        return self.file.stem.removeprefix("log").removeprefix("-")

    def read(self) -> Log:
        """All that it holds; an empty log where there is no file. Raises TrainerError where it cannot be read."""
        return read_log_file(self.file) if self.file.exists() else Log()

    def add(self, events: Sequence[Event], moment: Moment) -> Log:
        """Adds events to the end and gives the log as it is then. Raises TrainerError where that cannot be done."""
        make_folder(self.file.parent)
        with _ONE_THREAD, self._turn():
            return self._added(events, moment)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """Waits until no other window writes."""
        until = time.monotonic() + _PATIENCE
        with ExitStack() as stack:
            while True:
                try:
                    stack.enter_context(alone(self.file.with_suffix(".lock"), self.file))
                    break
                except TrainerError:
                    if time.monotonic() > until:
                        raise
                    time.sleep(0.02)
            yield

    def _added(self, events: Sequence[Event], moment: Moment) -> Log:
        """Writes a line at a time, so that a run that is killed leaves whole lines behind."""
        lines = lines_of(events, moment, self.read())
        try:
            handle = os.open(self.file, _TO_THE_END, 0o600)
            try:
                for line in lines:
                    os.write(handle, line.encode("utf-8"))
                os.fsync(handle)
            finally:
                os.close(handle)
        except OSError as error:
            raise TrainerError(
                f"{self.file} cannot be written ({error.strerror}). Close it if another program has it open, make room if "
                "the disk is full, or take its write protection away; then go on."
            ) from error
        return self.read()


def read_log_file(file: Path) -> Log:
    """A log by its file, wherever that lies. Raises TrainerError, without the file's name where it is no log of ours."""
    try:
        if not file.is_file():
            raise TrainerError(f"{file} is no file. Give a learner's log: output/practice/log.jsonl.")
        if file.stat().st_size > LARGEST_LOG:
            raise TrainerError(f"{file} is larger than {LARGEST_LOG >> 20} MB, so it is no log of ours.")
        return read_log(file.read_bytes())
    except OSError as error:
        raise TrainerError(f"{file} cannot be read ({error.strerror}). See that you may read it.") from error


def logs_in(out: Path) -> tuple[tuple[str, Path], ...]:
    """The logs of an output folder, each with what its learner is called, "" where nobody said; in order of name."""
    found = []
    for file in sorted((out / "practice").glob("log*.jsonl")):
        begun = [event for _, event in read_log_file(file).events if isinstance(event, Begun)]
        found.append((next((each.learner for each in reversed(begun) if each.learner), ""), file))
    return tuple(found)


def log_of(out: Path, learner: str | None) -> StudyLog:
    """The log of a learner; without a name the only one there is.

    Raises TrainerError where several are there and nobody said whose is meant.
    """
    folder = out / "practice"
    if learner is not None:
        return StudyLog(folder / f"log-{_as_file_name(learner)}.jsonl")
    found = logs_in(out)
    if len(found) > 1:
        names = [name for name, _ in found if name]
        nameless = [file for name, file in found if not name]
        first = f" {nameless[0]} has no name: rename it, or delete it." if nameless else ""
        raise TrainerError(
            f"{len(found)} people practise in {out}: {', '.join(names)}. Say who you are, such as --learner "
            f"'{names[0] if names else 'Ana'}'.{first}"
        )
    return StudyLog(found[0][1] if found else folder / "log.jsonl")


def begun_log(out: Path, learner: str | None) -> StudyLog | None:
    """The log of a learner that was begun; None where nobody has one, and none is named.

    Raises TrainerError as log_of, and where a name is given that has no log.
    """
    log = log_of(out, learner)
    if log.file.exists():
        return log
    if learner is None:
        return None
    meant = meant_learner(out, learner)
    raise TrainerError(
        f"There is no log of {learner!r} yet. {f'{meant} ' if meant else ''}To begin one: trainer practise --learner {learner!r}"
    )


def meant_learner(out: Path, learner: str) -> str:
    """A question for a name that has no log while one like it has; "" where nothing is alike."""
    return did_you_mean(learner, [name for name, _ in logs_in(out) if name])


def _as_file_name(name: str) -> str:
    """A name in letters that every system takes; what is lost by that comes back as digits of its digest."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")
    return plain if plain == name.casefold() else f"{plain}-{digest_of(name.casefold().encode())[:6]}".lstrip("-")
