"""Whatever a returned file can make the program do is done in a process of its own, so that no file can hold up the others
or take the machine's memory: unpacking, finding whose it is, finding its answers, marking.

One process does this for file after file; bytes and values go to it, what it found comes back. It is ended, and begun anew
for the next file, where a file takes too long or too much. What takes too long is tried a second time: the whole machine
may have paused.
"""

import atexit
import contextlib
import pickle
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from typing import IO, Any

from trainer.errors import TrainerError, UnreadableFile
from trainer.lab.answers import FilledForm
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.sheets.intake import ReturnedBook, read_book
from trainer.sheets.paper import Paper, paper_of
from trainer.sheets.returned_book import ReturnedForm, read_form

__all__ = ["MarkingCrashed", "WatchedReader", "serve", "watched_reader"]

MAX_SECONDS = 2.0
"""For one file, from its bytes to its answers; a filled workbook takes 0.03."""
MAX_MARKING_SECONDS = 15.0
"""For the marking of one file; one of fifty switches, full of mistakes, takes a few."""
MAX_MEMORY = 200 * 2**20
"""Bytes, where the system has such a limit (Linux); elsewhere the limits of the reader itself have to do."""
MAX_MARKING_MEMORY = 300 * 2**20
_MAX_START = 60.0
"""Seconds that the process may take to begin: on a machine that is busy, or whose virus scanner looks at it first."""
_TRIES = 2
_GREETING = b"ready"
_LENGTH = 8
"""Bytes of the number in front of every message, which is its length."""
_BEGIN = "import sys; sys.path[:] = sys.argv[1:]; from trainer.commands.watched_reader import serve; serve()"
_OR_ASK_AGAIN = (
    "Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy; "
    "or ask for the file again."
)
_TAKE_OUT = (
    "Take out of a copy what no answer needs (rows too many, long texts) and use that; or mark this one by hand."
)


class MarkingCrashed(TrainerError):
    """Marking a file came to a bad end, through our fault."""

    def __init__(self, trace: str) -> None:
        super().__init__("Marking it went wrong, which is our fault and not that of whoever filled it in.")
        self.trace = trace
        """For the log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """What comes back: a value, a refusal in words, or the trace of a crash."""

    value: Any = None
    refusal: str = ""
    crash: str = ""


class WatchedReader:
    """Reads and marks files in a process of its own. Where none can be begun it is done here, by the same code."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._is_ready = False
        self._has_failed = False

    def start(self) -> None:
        """Begins the process, and does not wait for it."""
        if self._process is not None or self._has_failed:
            return
        try:
            # A new interpreter instead of a fork: the same on every system, and nothing of this process is in it.
            self._process = subprocess.Popen(  # noqa: S603  # our own interpreter and our own words
                [*self._command(), *sys.path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
            )
        except OSError:  # no processes allowed here
            self._has_failed = True
        else:
            atexit.register(self.stop)

    def read(self, data: bytes) -> ReturnedBook:
        """What `read_book` gives. Raises UnreadableFile, also where the file takes too long or too much memory."""
        return self._value("read", data, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def paper(self, data: bytes) -> Paper:
        """What a returned file says of itself. Raises as read does."""
        return self._value("paper", data, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def form(self, data: bytes, scenario: Scenario) -> ReturnedForm:
        """The answers in a returned file. Raises as read does."""
        return self._value("form", data, scenario, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def marked(self, scenario: Scenario, filled: FilledForm) -> Marked:
        """The marks of a form.

        Raises UnreadableFile where that takes too long or too much memory, MarkingCrashed where marking has a fault.
        """
        return self._value("mark", scenario, filled, seconds=MAX_MARKING_SECONDS, fix=_TAKE_OUT)  # type: ignore[no-any-return]

    def stop(self) -> None:
        """Ends the process; the next file begins another."""
        process, self._process, self._is_ready = self._process, None, False
        if process is not None:
            process.kill()
            with contextlib.suppress(OSError):  # what was written and never read
                process.communicate()
            atexit.unregister(self.stop)

    def _value(self, what: str, *arguments: Any, seconds: float, fix: str) -> Any:
        """What comes of a task, in the process or here; see its public names."""
        doing = "Marking" if what == "mark" else "Reading"
        for _ in range(_TRIES):
            if not self._is_begun():
                return _taken(_done(what, arguments))
            answer, took_too_long = self._ask(pickle.dumps((what, arguments)), seconds)
            if answer is not None:
                return _taken(pickle.loads(answer))  # noqa: S301  # written by our own code in `serve`
            self.stop()
            if not took_too_long:
                raise UnreadableFile(f"{doing} it came to a bad end, so it was left. {fix}")
        raise UnreadableFile(f"{doing} it took longer than {seconds:g} seconds, so it was left. {fix}")

    def _command(self) -> Sequence[str]:
        return (sys.executable or "", "-c", _BEGIN)

    def _is_begun(self) -> bool:
        """Whether there is a process that answers; waits for it to begin."""
        if self._process is not None and self._process.poll() is not None:
            self.stop()
        self.start()
        if self._process is not None and not self._is_ready:
            self._is_ready = self._ask(None, _MAX_START)[0] == _GREETING
            if not self._is_ready:
                self._has_failed = True
                self.stop()
        return self._process is not None

    def _ask(self, message: bytes | None, seconds: float) -> tuple[bytes | None, bool]:
        """Sends a message and gives the next one that comes, None where the process ends; and whether its time was up."""
        process = self._process
        assert process is not None
        assert process.stdin is not None
        assert process.stdout is not None
        is_late = threading.Event()

        def end() -> None:
            is_late.set()
            process.kill()

        clock = threading.Timer(seconds, end)
        clock.start()
        try:
            if message is not None:
                _send(process.stdin, message)
            return _receive(process.stdout), is_late.is_set()
        except OSError:
            return None, is_late.is_set()
        finally:
            clock.cancel()


watched_reader = WatchedReader()
"""The one that commands share, so that a process is begun once. It ends with this process."""


def _taken(answer: _Answer) -> Any:
    """The value of an answer. Raises what the answer tells of."""
    if answer.crash:
        raise MarkingCrashed(answer.crash)
    if answer.refusal:
        raise UnreadableFile(answer.refusal)
    return answer.value


def serve() -> None:
    """What the process does: one task after the other, until nobody is there any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the command; its end is the end of this process
    source, target = sys.stdin.buffer, sys.stdout.buffer
    with contextlib.suppress(OSError):
        _send(target, _GREETING)
        while (message := _receive(source)) is not None:
            what, arguments = pickle.loads(message)  # noqa: S301  # written by the command that began this process
            most = MAX_MARKING_MEMORY if what == "mark" else MAX_MEMORY
            _limit_memory(most)
            try:
                answer = _done(what, arguments)
            except MemoryError:
                answer = _Answer(refusal=_too_much_memory(what, most))
            _limit_memory(MAX_MARKING_MEMORY + MAX_MEMORY)  # what is sent back has been paid for
            _send(target, pickle.dumps(answer))


def _done(what: str, arguments: Sequence[Any]) -> _Answer:
    """Does a task. Raises MemoryError alone."""
    try:
        return _Answer(value=_worked(what, arguments))
    except MemoryError:
        raise
    except UnreadableFile as error:
        if isinstance(error.__cause__, MemoryError):
            raise MemoryError from error  # noqa: TRY004  # what it was in the first place
        return _Answer(refusal=str(error))
    except Exception as error:  # noqa: BLE001  # one file must not stop the others, whatever was overlooked
        if isinstance(error, RecursionError) or what != "mark":
            return _Answer(refusal=f"It is built in a way that was not foreseen. {_OR_ASK_AGAIN}")
        return _Answer(crash=traceback.format_exc())


def _too_much_memory(what: str, most: int) -> str:
    doing, fix = ("Marking", _TAKE_OUT) if what == "mark" else ("Reading", _OR_ASK_AGAIN)
    return f"{doing} it took more than {most >> 20} MB of memory, so it was left. {fix}"


def _worked(what: str, arguments: Sequence[Any]) -> Any:
    match what, *arguments:
        case "read", data:
            return read_book(data)
        case "paper", data:
            return paper_of(read_book(data))
        case "form", data, scenario:
            return read_form(read_book(data), scenario)
        case "mark", scenario, filled:
            return mark(scenario, filled)
    raise AssertionError(what)


def _send(stream: IO[bytes], message: bytes) -> None:
    stream.write(len(message).to_bytes(_LENGTH, "big"))
    stream.write(message)
    stream.flush()


def _receive(stream: IO[bytes]) -> bytes | None:
    """The next message, or None where the other end is gone."""
    head = stream.read(_LENGTH)
    length = int.from_bytes(head, "big")
    message = stream.read(length) if len(head) == _LENGTH else b""
    return message if len(head) == _LENGTH and len(message) == length else None


def _limit_memory(most: int) -> None:
    """Limits this process's own memory where the system knows such a limit."""
    try:
        import resource  # noqa: PLC0415  # not on every system
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (most, resource.getrlimit(resource.RLIMIT_DATA)[1]))
