"""`set`, `grade`, `results` and `key` as processes of their own, killed at random moments and run again, or begun at once:
the sitting ends up the same.

Two hundred kills take some minutes: `python -m pytest -m killed -n 2 tests/test_killed.py`. TRAINER_NIGHTLY=1 makes four
hundred, KILLED_SEED in the environment draws other moments.
"""

import os
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from drawn_labs import changed
from sittings_compared import differences, grade_words, set_and_handed_in, set_words, tree, with_secret

from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book
from trainer.store import Sitting

pytestmark = [
    pytest.mark.killed,
    pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL; a process is ended otherwise there"),
]

KILLS = 25 if os.environ.get("TRAINER_NIGHTLY") else 13
"""In each of the four parts of a command's kills, which may run side by side."""
MOST_RUNS = 3 * KILLS
"""How long a run lasts is measured once; where the machine is less busy later on, some end before they are killed."""
SEED = os.environ.get("KILLED_SEED", "6")


def trainer(words: list[str]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "trainer", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        cwd=Path(__file__).parents[1],
    )


HELPERS = (1, 2)
"""Processes that work side by side, in every second part of a command's kills."""


def with_helpers(words: list[str], part: int) -> list[str]:
    return [*words, "--jobs", str(HELPERS[part % len(HELPERS)])]


def seconds_of(words: list[str], status: int) -> float:
    start = time.monotonic()
    with trainer(words) as process:
        process.communicate()
    assert process.returncode == status
    return time.monotonic() - start


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three trainees with the whole form."""
    people = tuple({**each, "id": f"o{place:02}"} for place, each in enumerate(HARBOUR.tables["trainees"][:3], 1))
    file = tmp_path_factory.mktemp("book") / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": people})))
    return file


def kill_and_run_again(
    make: Callable[[], Sitting], words: Callable[[Sitting], list[str]], status: int, rng: random.Random
) -> None:
    """Kills the command until KILLS runs were in the middle, each in a fresh sitting; all end as an undisturbed run does."""
    undisturbed = make()
    lasts = seconds_of(words(undisturbed), status)
    wanted = tree(undisturbed.folder)
    in_the_middle = half_done = runs = 0
    while in_the_middle < KILLS:
        runs += 1
        assert runs <= MOST_RUNS, "most runs end before they are killed"
        shutil.rmtree(undisturbed.folder)
        sitting = make()
        moment = rng.uniform(0, lasts)
        with trainer(words(sitting)) as process:
            time.sleep(moment)
            process.kill()
            process.communicate()
        in_the_middle += process.returncode == -9
        half_done += differences(tree(sitting.folder), wanted) != []
        with trainer(words(sitting)) as process:
            told = process.communicate()[1]
        assert process.returncode == status, f"run {runs} after {moment:.3f} s: {told.decode()}"
        assert differences(tree(sitting.folder), wanted) == [], f"run {runs} after {moment:.3f} s"
    assert half_done >= KILLS // 2


@pytest.mark.parametrize("part", range(4))
def test_set_killed_at_random_moments_and_run_again(tmp_path: Path, book: Path, part: int):
    kill_and_run_again(
        lambda: with_secret(tmp_path / "s"),
        lambda sitting: with_helpers(set_words(sitting, 3, book), part),
        0,
        random.Random(f"{SEED} set {part}"),
    )


@pytest.mark.parametrize("part", range(4))
def test_grade_killed_at_random_moments_and_run_again(tmp_path: Path, book: Path, part: int):
    is_set = set_and_handed_in(tmp_path / "set" / "s", 3, book)

    def make() -> Sitting:
        shutil.copytree(is_set.folder, tmp_path / "s")
        return Sitting(tmp_path / "s")

    kill_and_run_again(
        make, lambda sitting: with_helpers(grade_words(sitting), part), 1, random.Random(f"{SEED} grade {part}")
    )


def graded_copy(tmp_path: Path, book: Path) -> Sitting:
    """A sitting that is set, handed in and graded."""
    is_set = set_and_handed_in(tmp_path / "graded" / "s", 3, book)
    with trainer(grade_words(is_set)) as process:
        process.communicate()
    return is_set


@pytest.mark.parametrize("part", range(4))
@pytest.mark.parametrize("command", ["results", "key"])
def test_results_and_key_killed_at_random_moments_and_run_again(tmp_path: Path, book: Path, command: str, part: int):
    is_graded = graded_copy(tmp_path, book)
    for file in (*is_graded.folder.glob("results.*"), *is_graded.print.iterdir(), *is_graded.keys.glob("*.html")):
        file.unlink()

    def make() -> Sitting:
        shutil.copytree(is_graded.folder, tmp_path / "s")
        return Sitting(tmp_path / "s")

    kill_and_run_again(
        make, lambda sitting: [command, str(sitting.folder)], 0, random.Random(f"{SEED} {command} {part}")
    )


ROUNDS, AT_ONCE = 20, 4


def test_of_runs_that_begin_at_once_one_works_and_the_sitting_ends_up_the_same(tmp_path: Path, book: Path):
    is_set = set_and_handed_in(tmp_path / "set" / "s", 3, book)
    alone = Sitting(tmp_path / "s")
    shutil.copytree(is_set.folder, alone.folder)
    seconds_of(grade_words(alone), 1)
    wanted = tree(alone.folder)
    for _ in range(ROUNDS):
        shutil.rmtree(alone.folder)
        shutil.copytree(is_set.folder, alone.folder)
        runs = [trainer(grade_words(alone)) for _ in range(AT_ONCE)]
        told = [run.communicate()[1].decode() for run in runs]
        assert {run.returncode for run in runs} == {1}, "a file cannot be graded, or another run is at work"
        assert all(text == "" or text.startswith("Another run is at work on ") for text in told)
        assert "" in told
        assert differences(tree(alone.folder), wanted) == []
