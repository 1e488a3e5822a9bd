"""A process beside this one that does one task after the other: a new interpreter, the same on every system, and nothing of
this process is in it.

Values go to it and come back; it reads and writes no file, so it may end at any moment, and does when nobody is there to ask
it any more. Where none can be begun, the same code does the tasks here.
"""

import atexit
import contextlib
import pickle
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable, Sequence
from typing import IO, Any, ParamSpec, TypeVar

from trainer.commands.garbage import look_for_garbage_seldom

__all__ = ["HelperProcess", "Worker", "main", "serve"]

P = ParamSpec("P")
R = TypeVar("R")

_MAX_START = 60.0
"""Seconds that the process may take to begin: on a machine that is busy, or whose virus scanner looks at it first."""
_GREETING = b"ready"
_LENGTH = 8
"""Bytes of the number in front of every message, which is its length."""


class HelperProcess:
    """One such process; it is begun when it is first needed, and anew after it was stopped."""

    module = ""
    """Whose `main` the process runs."""

    def __init__(self, *, begins: bool = True) -> None:
        """begins: whether there is a process at all, or all is done here."""
        self._process: subprocess.Popen[bytes] | None = None
        self._is_ready = False
        self._has_failed = not begins
        self._clock = _Clock()

    def start(self) -> None:
        """Begins the process, and does not wait for it."""
        if self._process is not None or self._has_failed:
            return
        try:
            self._process = subprocess.Popen(  # noqa: S603  # our own interpreter and our own words
                [*self._command(), *sys.path], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
            )
        except OSError:  # no processes allowed here
            self._has_failed = True
        else:
            atexit.register(self.stop)

    def stop(self) -> None:
        """Ends the process; the next task begins another."""
        process, self._process, self._is_ready = self._process, None, False
        if process is not None:
            process.kill()
            with contextlib.suppress(OSError, ValueError):  # what was written and never read
                process.communicate()
            atexit.unregister(self.stop)

    def is_begun(self) -> bool:
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

    def ask(self, task: Any, seconds: float | None) -> tuple[Any, bool]:
        """What the process makes of a task, None where it ends; and whether its time was up, for then it is ended."""
        answer, is_late = self._ask(pickle.dumps(task), seconds)
        return None if answer is None else pickle.loads(answer), is_late  # noqa: S301  # written by our own code in `serve`

    def _command(self) -> Sequence[str]:
        begin = f"import sys; sys.path[:] = sys.argv[1:]; from {self.module} import main; main()"
        return (sys.executable or "", "-c", begin)

    def _ask(self, message: bytes | None, seconds: float | None) -> tuple[bytes | None, bool]:
        """Sends a message and gives the next one that comes."""
        process = self._process
        assert process is not None
        assert process.stdin is not None
        assert process.stdout is not None
        answer = None
        self._clock.start(seconds, process.kill)
        with contextlib.suppress(OSError, ValueError):  # its end, or that it was stopped meanwhile
            if message is not None:
                _send(process.stdin, message)
            answer = _receive(process.stdout)
        return answer, self._clock.stop()


class _Clock:
    """Ends what takes too long. One thread looks at it through all tasks: to begin one for each takes longer than many a task."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._ends_at: float | None = None
        """By time.monotonic; None where nothing runs that may take only so long."""
        self._looks_at: float | None = None
        """When the thread looks again; None where there is none."""
        self._end: Callable[[], None] = lambda: None
        self._is_up = False

    def start(self, seconds: float | None, end: Callable[[], None]) -> None:
        """Calls `end` in so many seconds, unless it is stopped before; None: never."""
        with self._changed:
            self._is_up, self._ends_at = False, None
            if seconds is None:
                return
            self._ends_at, self._end = time.monotonic() + seconds, end
            if self._looks_at is None:
                threading.Thread(target=self._look, daemon=True).start()
                self._looks_at = self._ends_at
            elif self._ends_at < self._looks_at:
                self._changed.notify()

    def stop(self) -> bool:
        """Whether the time was up."""
        with self._changed:
            self._ends_at = None
            return self._is_up

    def _look(self) -> None:
        """Until at some look nothing runs."""
        with self._changed:
            try:
                while self._ends_at is not None:
                    self._looks_at = self._ends_at
                    left = self._ends_at - time.monotonic()
                    if left > 0:
                        self._changed.wait(left)
                    else:
                        self._is_up, self._ends_at = True, None
                        self._end()
            finally:
                self._looks_at = None


class Worker(HelperProcess):
    """Calls functions that stand at the top of modules."""

    module = "trainer.commands.helper_process"

    def call(self, work: Callable[P, R], *arguments: P.args, **named: P.kwargs) -> R:
        """What the function gives. Raises what it raises. Where the process ends at it, it is called here."""
        if self.is_begun():
            answer, _ = self.ask((work, arguments, named), None)
            if answer is not None:
                value, error = answer
                if error is not None:
                    raise error
                return value  # type: ignore[no-any-return]
        return work(*arguments, **named)


def main() -> None:
    """What a worker's process does."""
    serve(_called)


def _called(task: tuple[Callable[..., Any], Sequence[Any], dict[str, Any]]) -> tuple[Any, Exception | None]:
    work, arguments, named = task
    try:
        return work(*arguments, **named), None
    except Exception as error:  # noqa: BLE001  # it is raised where it was asked for
        error.add_note(traceback.format_exc())
        return None, error


def serve(done: Callable[[Any], Any]) -> None:
    """What the process does: one task after the other, until nobody is there any more. What `done` gives goes back."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the command; its end is the end of this process
    look_for_garbage_seldom()
    source, target = sys.stdin.buffer, sys.stdout.buffer
    with contextlib.suppress(OSError):
        _send(target, _GREETING)
        while (message := _receive(source)) is not None:
            _send(target, pickle.dumps(done(pickle.loads(message))))  # noqa: S301  # written by the command that began us


def _send(stream: IO[bytes], message: bytes) -> None:
    stream.write(len(message).to_bytes(_LENGTH, "big") + message)
    stream.flush()


def _receive(stream: IO[bytes]) -> bytes | None:
    """The next message, or None where the other end is gone."""
    head = stream.read(_LENGTH)
    length = int.from_bytes(head, "big")
    message = stream.read(length) if len(head) == _LENGTH else b""
    return message if len(head) == _LENGTH and len(message) == length else None
