"""The program as others get it: built into a wheel and installed from that, far from any clone."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from sittings_compared import tree

from trainer.commands import exercises

CLONE = Path(__file__).parents[1]


def test_the_exercises_stand_at_the_top_of_a_clone_and_not_inside_the_package():
    assert exercises.EXERCISES == CLONE / "exercises"
    assert not (CLONE / "trainer" / "exercises").exists()


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which only what the wheel holds is installed; the packages it needs are those of these tests."""
    folder = tmp_path_factory.mktemp("wheel")
    copy = folder / "clone"
    copy.mkdir()
    for name in ("pyproject.toml", "README.md"):
        shutil.copy2(CLONE / name, copy / name)
    for name in ("trainer", "exercises"):
        shutil.copytree(CLONE / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    subprocess.run([*pip, "wheel", "--no-deps", "-w", folder, copy], check=True)
    (wheel,) = folder.glob("*.whl")
    shutil.rmtree(copy)
    subprocess.run([*pip, "install", "--no-deps", "--target", folder / "site", wheel], check=True)
    return folder / "site"


@pytest.mark.many
def test_a_wheel_holds_every_exercise_with_its_brief(installed: Path):
    assert tree(installed / "trainer" / "exercises").keys() == tree(CLONE / "exercises").keys()
    for file in (CLONE / "exercises").iterdir():
        assert (installed / "trainer" / "exercises" / file.name).read_bytes() == file.read_bytes()


@pytest.mark.many
def test_the_job_of_the_readme_is_done_from_a_wheel(installed: Path, tmp_path: Path):
    def trainer(*words: str, status: int = 0) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "trainer", *words],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(installed)},
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )
        assert done.returncode == status, done.stdout + done.stderr
        return done.stdout

    where = [sys.executable, "-c", "import trainer; print(trainer.__file__)"]
    told = subprocess.run(
        where,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(told.stdout.strip()).is_relative_to(installed)
    listed = trainer("exercises")
    assert f"They stand in {installed / 'trainer' / 'exercises'}." in listed
    trainer("template", "harbour.xlsx")
    assert "no problems" in trainer("check", "harbour.xlsx")
    trainer("set", "harbour.xlsx", "--sitting", "day", "--trainee", "h01", "--trainee", "h02")
    sitting = tmp_path / "output" / "day"
    for file in (sitting / "hand-out").glob("*.xlsx"):
        shutil.copy2(file, sitting / "returned" / file.name)
    assert "2 graded, 0 not graded" in trainer("grade", "day")
    trainer("key", "day", "h01")
    trainer("results", "day")
    assert {"results.xlsx", "results.html", "results.csv"} <= {each.name for each in sitting.iterdir()}
    assert "Toby Torres" in trainer("demo")
    assert not list(installed.rglob("output"))


WITHOUT_TYPESETTER = """
import importlib.util, runpy, sys
found = importlib.util.find_spec
importlib.util.find_spec = lambda name, *rest: None if name == "typst" else found(name, *rest)
sys.argv = ["bench.py", "--labs", "1"]
runpy.run_path({bench!r}, run_name="__main__")
"""


@pytest.mark.many
def test_the_bench_runs_without_the_extra_for_pdf():
    bench = CLONE / "tests" / "bench" / "bench.py"
    program = WITHOUT_TYPESETTER.replace("{bench!r}", repr(str(bench)))
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=CLONE, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    assert re.search(r"handout and key as PDF: +not measured\.", done.stdout)
    assert "read + mark + marked copy:" in done.stdout
