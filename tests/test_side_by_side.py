"""Helper processes for large classes: the same files as of one process, and nobody left behind."""

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sittings_compared import SMALL, differences, grade_words, set_and_handed_in, set_words, tree, with_secret

from trainer import cli
from trainer.commands.helper_process import HelperProcess, Worker, _Clock
from trainer.commands.side_by_side import WORTH_IT, helpers, jobs_for, side_by_side
from trainer.commands.terminal import counted
from trainer.errors import TrainerError


class Idle(HelperProcess):
    """Never begun: what is asked of it is done here."""

    def __init__(self) -> None:
        super().__init__(begins=False)
        self.has_stopped = False

    def stop(self) -> None:
        self.has_stopped = True
        super().stop()


def later_the_smaller(_: Idle, number: int) -> int:
    time.sleep(0.002 * (10 - number))
    return number


@pytest.mark.parametrize("by", [1, 2, 5])
def test_results_come_in_order_however_long_each_takes(by: int):
    with helpers(Idle, by) as each:
        assert list(side_by_side(later_the_smaller, range(10), each)) == list(range(10))


def test_error_what_one_raises_comes_in_its_turn_and_nothing_more_is_begun():
    begun: list[int] = []

    def work(_: Idle, number: int) -> int:
        begun.append(number)
        if number == 3:
            raise TrainerError("no lab")
        return number

    with helpers(Idle, 2) as by:
        results = side_by_side(work, range(1000), by)
        taken = []
        with pytest.raises(TrainerError, match="no lab"), counted(results, "Marking", of=1000) as each:
            taken.extend(each)
        assert taken == [0, 1, 2]
        assert len(begun) < 50, "what nobody will take is not worked out"
        assert all(each.has_stopped for each in by)


def test_whoever_takes_no_more_results_has_the_work_ended():
    with helpers(Idle, 2) as by:
        results = side_by_side(later_the_smaller, range(10), by)
        assert next(results) == 0
        results.close()  # type: ignore[attr-defined]  # it is a generator
        assert all(each.has_stopped for each in by)


def test_small_classes_begin_no_helper_and_whoever_asks_gets_what_they_ask_for():
    own = min(8, len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1)
    assert [jobs_for(labs, None) for labs in (1, WORTH_IT - 1, WORTH_IT)] == [1, 1, own]
    assert [jobs_for(labs, 4) for labs in (2, 30, 1000)] == [2, 4, 4]


def double(number: int) -> int:
    return 2 * number


def refuse(_: int) -> int:
    raise TrainerError("no lab of that number")


def ask_who_works(_: int) -> int:
    return os.getpid()


def end_at_once(_: int) -> int:
    """Ends the process, unless it is this one, as a system does that has no memory left."""
    if os.environ.get("PYTEST_CURRENT_TEST") and os.getpid() != int(os.environ["TRAINER_TEST_PID"]):
        os._exit(9)
    return 5


@pytest.fixture
def maker(monkeypatch: pytest.MonkeyPatch) -> Iterator[Worker]:
    monkeypatch.setenv("TRAINER_TEST_PID", str(os.getpid()))
    monkeypatch.syspath_prepend(str(Path(__file__).parent))
    maker = Worker()
    yield maker
    maker.stop()


def test_a_helper_does_it_elsewhere_and_raises_here(maker: Worker):
    assert maker.call(double, 21) == 42
    assert maker.call(ask_who_works, 0) != os.getpid()
    with pytest.raises(TrainerError, match="no lab of that number"):
        maker.call(refuse, 1)
    assert Worker(begins=False).call(ask_who_works, 0) == os.getpid()


def test_what_a_helper_ends_at_is_done_here(maker: Worker):
    assert maker.call(end_at_once, 1) == 5
    assert maker.call(double, 4) == 8


def test_each_task_has_a_time_of_its_own(maker: Worker):
    """The same clock goes for all of them: a short time after a long one is not lengthened by it, nor is the next shortened."""
    assert maker.is_begun()
    assert maker.ask((time.sleep, (0,), {}), 600) == ((None, None), False)
    assert maker.ask((time.sleep, (300,), {}), 0.05) == (None, True)
    maker.stop()
    assert maker.is_begun()
    assert maker.ask((time.sleep, (0.1,), {}), None) == ((None, None), False)
    assert maker.ask((time.sleep, (300,), {}), 0.05) == (None, True)


def test_a_task_has_its_time_even_after_no_thread_could_be_begun(maker: Worker, monkeypatch: pytest.MonkeyPatch):
    assert maker.is_begun()
    monkeypatch.setattr(maker, "_clock", _Clock())
    with monkeypatch.context() as short_of_threads:
        short_of_threads.setattr("threading.Thread.start", refuse_to_start)
        with pytest.raises(RuntimeError):
            maker.ask((time.sleep, (0,), {}), 600)
    assert maker.ask((time.sleep, (300,), {}), 0.05) == (None, True)


def refuse_to_start(_thread: threading.Thread) -> None:
    raise RuntimeError("can't start new thread")


def test_set_and_grade_write_the_same_bytes_with_helpers(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for_one, for_three = (with_secret(tmp_path / jobs / "s") for jobs in ("1", "3"))
    for sitting in (for_one, for_three):
        assert cli.main([*set_words(sitting, 4), "--jobs", sitting.folder.parent.name]) == 0
    assert differences(tree(for_one.folder), tree(for_three.folder)) == []
    handed_in = set_and_handed_in(tmp_path / "handed in" / "s", 4)
    told = []
    for sitting in (for_one, for_three):
        shutil.copytree(handed_in.returned, sitting.returned, dirs_exist_ok=True)
        capsys.readouterr()
        assert cli.main([*grade_words(sitting), "--jobs", sitting.folder.parent.name]) == 1
        told.append(capsys.readouterr().out.replace(str(sitting.folder), ""))
    assert differences(tree(for_one.folder), tree(for_three.folder)) == []
    assert told[0] == told[1]


def marked_processes(mark: str) -> list[int]:
    """Those that have inherited the mark."""
    found = []
    for place in Path("/proc").glob("[0-9]*/environ"):
        try:
            if mark.encode() in place.read_bytes():
                found.append(int(place.parent.name))
        except OSError:
            continue
    return found


@pytest.mark.skipif(sys.platform != "linux", reason="asks this system which processes there are")
@pytest.mark.parametrize("by", [signal.SIGINT, signal.SIGKILL])
def test_nobody_is_left_behind_by_a_run_that_is_ended(tmp_path: Path, by: signal.Signals):
    sitting, mark = with_secret(tmp_path / "s"), f"trainer-test-{uuid.uuid4()}"
    words = [sys.executable, "-m", "trainer", *set_words(sitting, 4, SMALL), "--jobs", "3"]
    run = subprocess.Popen(
        words, env={**os.environ, "TRAINER_TEST_MARK": mark}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    while len(marked_processes(mark)) < 4 and run.poll() is None:
        time.sleep(0.01)
    assert run.poll() is None, "it was broken off in the middle"
    run.send_signal(by)
    run.wait()
    patience = time.monotonic() + 30
    while marked_processes(mark) and time.monotonic() < patience:
        time.sleep(0.05)
    assert marked_processes(mark) == []


def test_error_no_number_of_processes(capsys: pytest.CaptureFixture[str]):
    for text in ("0", "65", "two", "-1", "٣"):
        with pytest.raises(SystemExit):
            cli.main(["grade", "x", f"--jobs={text}"])
        assert f"{text!r} is no number of processes: write 1 to 64" in capsys.readouterr().err
