"""Reading what comes back in a process of its own, so that no file can hold up the others or take the machine's memory.

One process reads file after file; the bytes go to it and what it read comes back. It is ended, and begun anew for the
next file, where a file takes too long or too much. Only reading is done there: it alone depends on how a file was made.
"""

import contextlib
import multiprocessing
import signal
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from trainer.errors import UnreadableFile
from trainer.sheets.intake import ReturnedBook, read_book

__all__ = ["WatchedReader", "watched_reader"]

MAX_SECONDS = 2.0
"""For one file, from its bytes to its cells; a filled workbook takes 0.03."""
MAX_MEMORY = 200 * 2**20
"""Bytes, where the system has such a limit (Linux); elsewhere the limits of the reader itself have to do."""
_MAX_START = 60.0
"""Seconds that the process may take to begin: on a machine that is busy, or whose virus scanner looks at it first."""
_ASK_AGAIN = "Open it in a spreadsheet program, save a copy as .xlsx and use the copy, or ask for the file again."


class WatchedReader:
    """Reads files in a process of its own. Where none can be begun, files are read here, by the same reader."""

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._connection: Connection | None = None
        self._is_ready = False
        self._has_failed = False

    def start(self) -> None:
        """Begins the process, and does not wait for it."""
        if self._connection is not None or self._has_failed:
            return
        # Begun anew instead of forked: the same on every system, and nothing of this process is in it.
        context = multiprocessing.get_context("spawn")
        ours, its = context.Pipe()
        process = context.Process(target=_serve, args=(its, MAX_MEMORY), daemon=True, name="reader of returned files")
        try:
            process.start()
        except (OSError, RuntimeError):  # no processes allowed here
            self._has_failed = True
            ours.close()
        else:
            self._process, self._connection = process, ours
        finally:
            its.close()

    def read(self, data: bytes) -> ReturnedBook:
        """What `read_book` gives. Raises UnreadableFile, also where the file takes too long or too much memory."""
        connection = self._ready()
        if connection is None:
            return read_book(data)
        try:
            connection.send_bytes(data)
            if not connection.poll(MAX_SECONDS):
                self.stop()
                raise UnreadableFile(
                    f"Reading it took longer than {MAX_SECONDS:g} seconds, so it was left. {_ASK_AGAIN}"
                )
            answer = connection.recv()
        except (EOFError, OSError) as fault:
            self.stop()
            raise UnreadableFile(f"Reading it came to a bad end, so it was left. {_ASK_AGAIN}") from fault
        if isinstance(answer, ReturnedBook):
            return answer
        raise UnreadableFile(str(answer))

    def stop(self) -> None:
        """Ends the process; the next file begins another."""
        if self._connection is not None:
            self._connection.close()
        if self._process is not None:
            self._process.kill()
            self._process.join()
            self._process.close()
        self._process = self._connection = None
        self._is_ready = False

    def _ready(self) -> Connection | None:
        """The way to the process once it has begun; None where it does not."""
        if self._process is not None and not self._process.is_alive():
            self.stop()
        self.start()
        if self._connection is None or self._is_ready:
            return self._connection
        try:
            self._is_ready = self._connection.poll(_MAX_START) and bool(self._connection.recv())
        except (EOFError, OSError):
            self._is_ready = False
        if not self._is_ready:
            self._has_failed = True
            self.stop()
        return self._connection


watched_reader = WatchedReader()
"""The one that commands share, so that a process is begun once. It ends with this process, being a daemon."""


def _serve(connection: Connection, memory: int) -> None:
    """Reads what is sent, until nobody is there any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the command; it ends this process
    _limit_memory(memory)
    connection.send(True)
    with contextlib.suppress(EOFError, OSError):
        while True:
            connection.send(_read(connection.recv_bytes()))


def _read(data: bytes) -> ReturnedBook | str:
    """What was read, or the sentence why not."""
    try:
        return read_book(data)
    except UnreadableFile as fault:
        cause = fault.__cause__
        return _too_large() if isinstance(cause, MemoryError) else str(fault)
    except MemoryError:
        return _too_large()


def _too_large() -> str:
    return f"Reading it took more than {MAX_MEMORY >> 20} MB of memory, so it was left. {_ASK_AGAIN}"


def _limit_memory(most: int) -> None:
    """Limits this process's own memory where the system knows such a limit."""
    try:
        import resource  # noqa: PLC0415  # not on every system
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))
