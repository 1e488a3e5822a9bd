"""One run at a time in a sitting: who is at work is told, a killed run's lock is taken over, another machine's is not."""

import errno
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from trainer import cli, lock
from trainer.commands.exercises import EXERCISES
from trainer.errors import TrainerError
from trainer.store import Sitting

SINCE = "12 Mar 2026 09:15:00"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "lock"


def held_by(place: Path, *, process: int, host: str | None = None) -> None:
    place.write_text(json.dumps({"process": process, "host": host or socket.gethostname(), "since": SINCE}))


def ended() -> int:
    """The number of a process that is no more."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        pass
    return process.pid


def refused(place: Path) -> str:
    with pytest.raises(TrainerError) as fault, lock.alone(place, place.parent):
        pass
    return str(fault.value)


def test_the_lock_is_there_while_the_run_is_and_says_whose_it_is(place: Path):
    with lock.alone(place, place.parent) as taken_over:
        assert taken_over == ""
        record = json.loads(place.read_text())
        assert (record["process"], record["host"]) == (os.getpid(), socket.gethostname())
        assert re.fullmatch(r"\d\d \w{3} \d{4} \d\d:\d\d:\d\d", record["since"])
    assert list(place.parent.iterdir()) == []


def test_the_lock_is_given_back_when_the_run_fails(place: Path):
    with pytest.raises(KeyError), lock.alone(place, place.parent):
        raise KeyError
    assert list(place.parent.iterdir()) == []


def test_error_another_run_of_this_machine_is_at_work(place: Path):
    held_by(place, process=os.getppid())
    assert refused(place) == (
        f"Another run is at work on {place.parent}: process {os.getppid()}, since {SINCE}. Wait until it has ended. If there "
        f"is no such run any more, delete {place} and run the command again."
    )
    assert place.is_file()


def test_the_lock_of_a_run_that_was_killed_is_taken_over_with_a_word(place: Path):
    process = ended()
    held_by(place, process=process)
    with lock.alone(place, place.parent) as taken_over:
        assert json.loads(place.read_text())["process"] == os.getpid()
    assert taken_over == f"The run that began at {SINCE} was broken off (process {process}); this one carries on."
    assert list(place.parent.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="the system does not say when a process began")
def test_a_lock_whose_number_another_program_got_is_taken_over(place: Path):
    record = {"process": os.getppid(), "host": socket.gethostname(), "since": SINCE}
    place.write_text(json.dumps(record | {"began": "another start of this machine 1"}))
    with lock.alone(place, place.parent) as taken_over:
        assert "broken off" in taken_over
    place.write_text(json.dumps(record | {"began": lock._began(os.getppid())}))
    assert refused(place).startswith("Another run is at work on ")


def test_error_a_place_that_cannot_be_written_is_told_in_words(place: Path, monkeypatch: pytest.MonkeyPatch):
    def read_only(*_: object, **__: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(Path, "write_text", read_only)
    monkeypatch.setattr(Path, "unlink", read_only)
    assert refused(place).startswith(
        f"{place.parent} cannot be written into (Read-only file system), so nothing was done."
    )


def test_a_lock_with_our_own_number_is_of_an_earlier_process(place: Path):
    """In a container every run may have the same number."""
    held_by(place, process=os.getpid())
    with lock.alone(place, place.parent) as taken_over:
        assert "broken off" in taken_over


def test_error_the_lock_of_another_machine_is_never_taken_over(place: Path):
    held_by(place, process=ended(), host="the-other-desk")
    text = place.read_text()
    assert re.fullmatch(
        rf"Another run is at work on .*: process \d+ of the computer the-other-desk, since {SINCE}; from here nobody can "
        rf"tell whether it still runs\. Wait until it has ended\. If there is no such run any more, delete {place} and run "
        r"the command again\.",
        refused(place),
    )
    assert place.read_text() == text


@pytest.mark.parametrize("text", ["", "{", "[]", '{"process": "x"}', "\x00"])
def test_error_a_lock_that_does_not_say_whose_it_is_is_left_alone(place: Path, text: str):
    place.write_text(text)
    assert refused(place) == (
        f"Another run seems to be at work on {place.parent}: {place} is there, and does not say whose it is. Wait until it "
        f"has ended. If there is no such run any more, delete {place} and run the command again."
    )
    assert place.read_text() == text


def test_of_many_runs_that_start_at_once_one_is_at_work(place: Path):
    ready, at_work, told = threading.Barrier(8), [], []

    def start() -> None:
        ready.wait()
        try:
            with lock.alone(place, place.parent):
                at_work.append(1)
                done.wait(10)
        except TrainerError as fault:
            told.append(str(fault))
            if len(told) == 7:
                done.set()

    done = threading.Event()
    # every thread has our process number, so that a lock of ours would count as left behind; here it is somebody else's
    numbers = iter(range(10**9, 10**9 + 8))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lock.os, "getpid", lambda: next(numbers))
        patch.setattr(lock, "is_running", lambda _process: True)
        threads = [threading.Thread(target=start) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert (len(at_work), len(told)) == (1, 7)


def test_a_lock_that_changed_hands_meanwhile_is_given_back(place: Path, monkeypatch: pytest.MonkeyPatch):
    """Two runs find the same lock left behind; the first takes it over before the second moves it."""
    held_by(place, process=ended())
    rename = Path.rename

    def late(self: Path, target: Path) -> Path:
        held_by(self, process=os.getppid())
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", late)
    assert f"process {os.getppid()}, since" in refused(place)
    assert json.loads(place.read_text())["process"] == os.getppid()
    assert [file.name for file in place.parent.iterdir()] == ["lock"]


def test_on_a_drive_without_hard_links_the_lock_is_made_all_the_same(place: Path, monkeypatch: pytest.MonkeyPatch):
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    with lock.alone(place, place.parent):
        assert json.loads(place.read_text())["process"] == os.getpid()
        monkeypatch.setattr(lock.os, "getpid", lambda: 10**9)
        assert f"process {os.getppid()}" not in refused(place)
    assert list(place.parent.iterdir()) == []


def test_error_a_folder_that_cannot_be_written_into(tmp_path: Path):
    place = tmp_path / "none" / "lock"
    assert refused(place) == (
        f"{place.parent} cannot be written into (No such file or directory), so nothing was done. Make room on the disk, or "
        "see that you may write there, and run the command again."
    )


# --- The commands -----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def class_of_one(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("one")
    words = ["set", str(EXERCISES / "addressing.xlsx"), "--trainee", "o01", "--out", str(folder), "--sitting", "s"]
    assert cli.main(words) == 0
    return folder


@pytest.fixture
def sitting(class_of_one: Path, tmp_path: Path) -> Sitting:
    shutil.copytree(class_of_one, tmp_path / "class")
    return Sitting.open(tmp_path / "class" / "s")


def times(folder: Path) -> dict[Path, int]:
    return {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}


def commands(sitting: Sitting) -> list[list[str]]:
    book = str(EXERCISES / "addressing.xlsx")
    return [
        ["set", book, "--trainee", "o01", "--out", str(sitting.folder.parent), "--sitting", "s"],
        *([command, str(sitting.folder)] for command in ("grade", "results", "key")),
    ]


def test_error_no_command_works_where_another_run_is_at_work(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    held_by(sitting.lock_file, process=os.getppid())
    before = times(sitting.folder)
    for command in commands(sitting):
        capsys.readouterr()
        assert cli.main(command) == 1
        assert capsys.readouterr().err.startswith(f"Another run is at work on {sitting.folder}: process ")
    assert times(sitting.folder) == before


def test_every_command_carries_on_where_a_run_was_killed_and_sweeps_up(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    process = ended()
    for command in commands(sitting):
        held_by(sitting.lock_file, process=process)
        for folder in (
            sitting.folder,
            sitting.hand_out,
            sitting.instructor,
            sitting.labs,
            sitting.keys,
            sitting.marked,
        ):
            (folder / f".new-{process}-abc").write_text("half")
        capsys.readouterr()
        assert cli.main(command) == 0
        assert capsys.readouterr().err == (
            f"The run that began at {SINCE} was broken off (process {process}); this one carries on.\n"
        )
        assert not [*sitting.folder.rglob(".new-*"), *sitting.folder.rglob("lock")]


def test_what_another_process_is_writing_is_left_to_it(sitting: Sitting):
    """`practise` remembers its progress while it waits, without the lock."""
    theirs = sitting.instructor / f".new-{os.getppid()}-abc"
    theirs.write_text("half")
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert theirs.read_text() == "half"


def test_practice_in_a_folder_where_a_run_was_killed(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    sitting = Sitting(tmp_path / "practice-ORCHARD-1")
    sitting.create()
    held_by(sitting.lock_file, process=os.getppid())
    assert cli.main(["practise", "addressing", "--out", str(tmp_path)]) == 1
    assert capsys.readouterr().err.startswith(f"Another run is at work on {sitting.folder}: process ")
