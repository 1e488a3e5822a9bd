"""The process that reads what comes back: it gives what the reader gives, and is ended where a file is too much for it."""

import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from drawn_labs import bakery

from trainer.commands import watched_reader
from trainer.commands.demo_class import key_texts
from trainer.commands.watched_reader import MarkingCrashed, WatchedReader
from trainer.errors import UnreadableFile
from trainer.lab.key import derive_key
from trainer.lab.questions.stations import STATION_GATEWAY
from trainer.lab.sample import HARBOUR
from trainer.marking.marker import mark
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.paper import paper_of
from trainer.sheets.returned_book import read_form

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
    elif data.startswith(b"paused "):
        with open(data[7:], "a") as log:
            log.write("x")
        if os.path.getsize(data[7:]) == 1:
            time.sleep(60)
        return "read at the second try"
    elif data == b"greedy":
        return bytearray(2 * watched_reader.MAX_MEMORY)
    elif data == b"deadly":
        os._exit(1)
    return read_book(data)
def mark(scenario, filled):
    if scenario == "slow":
        time.sleep(60)
    elif scenario == "greedy":
        return bytearray(2 * watched_reader.MAX_MARKING_MEMORY)
    raise KeyError("no such row")
watched_reader.read_book = read
watched_reader.mark = mark
watched_reader.main()
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


def test_what_took_too_long_is_tried_again_since_the_machine_may_have_paused(
    bad_reader: BadReader, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    bad_reader.read(BOOK)
    monkeypatch.setattr(watched_reader, "MAX_SECONDS", 0.5)
    tries: object = bad_reader.read(f"paused {tmp_path / 'tries'}".encode())
    assert tries == "read at the second try"
    assert (tmp_path / "tries").read_text() == "xx"


def test_error_marking_that_takes_too_long_or_too_much_is_left(bad_reader: Any, monkeypatch: pytest.MonkeyPatch):
    with pytest.raises(MarkingCrashed) as crashed:
        bad_reader.marked("crash", None)
    assert "KeyError: 'no such row'" in crashed.value.trace
    with pytest.raises(UnreadableFile, match=r"^Marking it took more than 300 MB of memory, so it was left"):
        bad_reader.marked("greedy", None)
    monkeypatch.setattr(watched_reader, "MAX_MARKING_SECONDS", 0.3)
    with pytest.raises(UnreadableFile, match=r"^Marking it took longer than 0\.3 seconds, so it was left"):
        bad_reader.marked("slow", None)
    assert bad_reader.read(BOOK) == read_book(BOOK)


def test_a_paper_is_read_and_marked_as_without_a_process_of_its_own(reader: WatchedReader):
    lab = bakery()
    data = write_key_book(lab, derive_key(lab))
    assert reader.paper(data) == paper_of(read_book(data))
    form = reader.form(data, lab)
    assert form == read_form(read_book(data), lab)
    assert reader.marked(lab, form.filled) == mark(lab, form.filled)


def test_marks_come_back_whole(reader: WatchedReader):
    """With what only those are shown who may see answers, and with rows that know what they are about."""
    lab = bakery()
    texts = {
        cell: "10.64.3.254" if cell.question == STATION_GATEWAY.id else text for cell, text in key_texts(lab).items()
    }
    form = reader.form(fill_in(write_answer_book(lab, derive_key(lab)), lab, texts), lab)
    here, there = mark(lab, form.filled), reader.marked(lab, form.filled)
    assert there == here
    assert [type(cell.row) for cell in there.cells] == [type(cell.row) for cell in here.cells]
    said = [cell.explanation for cell in there.cells if cell.explanation is not None]
    assert any(each.derivation for each in said)
    assert any(each.steps for each in said)


def test_the_process_begins_with_what_it_needs_alone():
    """The libraries that write workbooks and pages take longer to load than a file to read."""
    asked = "import sys, trainer.commands.watched_reader; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout.split()
    assert "trainer.sheets.intake" in loaded
    assert {"openpyxl", "jinja2", "markdown_it", "rich"}.isdisjoint(loaded)


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
