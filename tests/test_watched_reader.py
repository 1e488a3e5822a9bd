"""The process that reads what comes back: it gives what the reader gives, and is ended where a file is too much for it."""

import sys
import time
from collections.abc import Iterator, Sequence

import pytest

from trainer.commands import watched_reader
from trainer.commands.watched_reader import WatchedReader
from trainer.errors import UnreadableFile
from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.intake import read_book

BOOK = write_exercise_book(HARBOUR)
SLOW, GREEDY, DEADLY = b"slow", b"greedy", b"deadly"
LEFT = (
    "so it was left. Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy; or ask for "
    "the file again."
)
BAD_PROCESS = """
import os, sys, time
sys.path[:] = sys.argv[1:]
from trainer.commands import watched_reader
read_book = watched_reader.read_book
def read(data):
    if data == b"slow":
        time.sleep(60)
    elif data == b"greedy":
        return bytearray(2 * watched_reader.MAX_MEMORY)
    elif data == b"deadly":
        os._exit(1)
    return read_book(data)
watched_reader.read_book = read
watched_reader.serve()
"""
"""The process as it is, with a reader that three kinds of file are too much for."""


class BadReader(WatchedReader):
    code = BAD_PROCESS

    def _command(self) -> Sequence[str]:
        return (sys.executable, "-c", self.code)


class SilentReader(BadReader):
    code = "pass"


class AbsentReader(BadReader):
    def _command(self) -> Sequence[str]:
        return ("there-is-no-such-program",)


@pytest.fixture
def reader() -> Iterator[WatchedReader]:
    reader = WatchedReader()
    yield reader
    reader.stop()


@pytest.fixture
def bad_reader() -> Iterator[BadReader]:
    reader = BadReader()
    yield reader
    reader.stop()


def refusal(reader: WatchedReader, data: bytes) -> str:
    with pytest.raises(UnreadableFile) as caught:
        reader.read(data)
    return str(caught.value)


def test_a_book_is_read_as_without_a_process_of_its_own(reader: WatchedReader):
    assert reader.read(BOOK) == read_book(BOOK)
    assert reader._process is not None


def test_error_a_refusal_comes_back_in_its_words(reader: WatchedReader):
    assert refusal(reader, b"") == "The file is empty. Ask for the file again."
    assert refusal(reader, b"%PDF-1.7").startswith("This is a PDF")


def test_error_a_file_that_takes_too_long_is_left_and_the_next_one_read(
    bad_reader: BadReader, monkeypatch: pytest.MonkeyPatch
):
    bad_reader.read(BOOK)
    monkeypatch.setattr(watched_reader, "MAX_SECONDS", 0.3)
    begun = time.monotonic()
    assert refusal(bad_reader, SLOW) == f"Reading it took longer than 0.3 seconds, {LEFT}"
    assert time.monotonic() - begun < 5
    monkeypatch.undo()
    assert bad_reader.read(BOOK) == read_book(BOOK)


def test_error_a_file_that_ends_the_process_is_left_and_the_next_one_read(bad_reader: BadReader):
    assert refusal(bad_reader, DEADLY) == f"Reading it came to a bad end, {LEFT}"
    assert bad_reader.read(BOOK) == read_book(BOOK)


@pytest.mark.skipif(sys.platform != "linux", reason="only this system limits a process's memory")
def test_error_a_file_that_takes_too_much_memory_is_left_by_the_same_process(bad_reader: BadReader):
    assert refusal(bad_reader, GREEDY) == f"Reading it took more than 200 MB of memory, {LEFT}"
    process = bad_reader._process
    assert bad_reader.read(BOOK) == read_book(BOOK)
    assert bad_reader._process is process


@pytest.mark.parametrize("kind", [SilentReader, AbsentReader])
def test_where_no_process_can_be_begun_files_are_read_here(kind: type[WatchedReader]):
    reader = kind()
    assert reader.read(BOOK) == read_book(BOOK)
    assert reader.read(BOOK) == read_book(BOOK)
    assert reader._process is None


def test_a_process_that_somebody_else_has_ended_costs_no_file(reader: WatchedReader):
    reader.read(BOOK)
    assert reader._process is not None
    reader._process.terminate()
    reader._process.wait()
    assert reader.read(BOOK) == read_book(BOOK)
