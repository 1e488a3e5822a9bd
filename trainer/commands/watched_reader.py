"""Reading what comes back in a process of its own, so that no file can hold up the others or take the machine's memory.

One process reads file after file; the bytes go to it and what it read comes back. It is ended, and begun anew for the
next file, where a file takes too long or too much. Only reading is done there: it alone depends on how a file was made.
"""

import atexit
import contextlib
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from typing import IO

from trainer.errors import UnreadableFile
from trainer.sheets.intake import ReturnedBook, read_book

__all__ = ["WatchedReader", "serve", "watched_reader"]

MAX_SECONDS = 2.0
"""For one file, from its bytes to its cells; a filled workbook takes 0.03."""
MAX_MEMORY = 200 * 2**20
"""Bytes, where the system has such a limit (Linux); elsewhere the limits of the reader itself have to do."""
_MAX_START = 60.0
"""Seconds that the process may take to begin: on a machine that is busy, or whose virus scanner looks at it first."""
_GREETING = b"ready"
_LENGTH = 8
"""Bytes of the number in front of every message, which is its length."""
_BEGIN = "import sys; sys.path[:] = sys.argv[1:]; from trainer.commands.watched_reader import serve; serve()"
_OR_ASK_AGAIN = (
    "Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy; "
    "or ask for the file again."
)


class WatchedReader:
    """Reads files in a process of its own. Where none can be begun, files are read here, by the same reader."""

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
        if not self._is_begun():
            return read_book(data)
        answer, took_too_long = self._ask(data, MAX_SECONDS)
        if answer is not None:
            what = pickle.loads(answer)  # noqa: S301  # written by our own code in `serve`
            if isinstance(what, ReturnedBook):
                return what
            raise UnreadableFile(str(what))
        self.stop()
        if took_too_long:
            raise UnreadableFile(
                f"Reading it took longer than {MAX_SECONDS:g} seconds, so it was left. {_OR_ASK_AGAIN}"
            )
        raise UnreadableFile(f"Reading it came to a bad end, so it was left. {_OR_ASK_AGAIN}")

    def stop(self) -> None:
        """Ends the process; the next file begins another."""
        process, self._process, self._is_ready = self._process, None, False
        if process is not None:
            process.kill()
            with contextlib.suppress(OSError):  # what was written and never read
                process.communicate()
            atexit.unregister(self.stop)

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


def serve() -> None:
    """What the process does: it reads what is sent, until nobody is there any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the command; its end is the end of this process
    source, target = sys.stdin.buffer, sys.stdout.buffer
    _limit_memory()
    with contextlib.suppress(OSError):
        _send(target, _GREETING)
        while (data := _receive(source)) is not None:
            _send(target, pickle.dumps(_read(data)))


def _read(data: bytes) -> ReturnedBook | str:
    """What was read, or the sentence why not."""
    try:
        return read_book(data)
    except UnreadableFile as fault:
        if not isinstance(fault.__cause__, MemoryError):
            return str(fault)
    except MemoryError:
        pass
    return f"Reading it took more than {MAX_MEMORY >> 20} MB of memory, so it was left. {_OR_ASK_AGAIN}"


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


def _limit_memory() -> None:
    """Limits this process's own memory where the system knows such a limit."""
    try:
        import resource  # noqa: PLC0415  # not on every system
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (MAX_MEMORY, MAX_MEMORY))
