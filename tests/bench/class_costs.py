"""What `set` and `grade` of a class cost: processor time a lab in loads, as whole commands with their start, memory, and how
long one waits.

    python tests/bench/class_costs.py [--labs N] [--jobs N]
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from papers_to_grade import one_load, ten_wrong

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.store import Sitting

AIMS = {"set": "1.0", "grade, perfect": "1.3", "grade, ten wrong": "2.5"}
TRAINER = (sys.executable, "-m", "trainer")
WATCH = """
import os, resource, subprocess, sys
ended = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(ended, used.ru_utime + used.ru_stime, used.ru_maxrss)
"""
"""Runs a command, and says how it ended and what it and its helpers have used; the most memory is that of the largest of them."""


class Cost(NamedTuple):
    """What a command has used."""

    cpu: float
    """Seconds of all its processes."""
    waited: float
    """Seconds."""
    memory: float
    """MB of its largest process."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--labs", type=int, default=100, help="trainees of the class (100)")
    parser.add_argument("--jobs", type=int, help="processes (as many as the commands take by themselves)")
    options = parser.parse_args()
    report(options.labs, jobs=options.jobs)


def report(labs: int, *, jobs: int | None = None) -> None:
    """Sets and grades a class in a folder of its own. On systems without resource.getrusage it says so."""
    if sys.platform == "win32":
        print("  a class: not measured here")
        return
    more = () if jobs is None else ("--jobs", str(jobs))
    with tempfile.TemporaryDirectory() as folder:
        for what, cost, load in _costs(Path(folder), labs, more):
            print(
                f"  {what + f', {labs} labs:':<36} {cost.cpu / labs / load:6.2f} loads a lab, the start shared out   (aim: at "
                f"most {AIMS[what]})   {cost.waited:.1f} s or {cost.waited / load:.0f} loads   {cost.memory:.0f} MB"
            )


def _costs(folder: Path, labs: int, more: Sequence[str]) -> list[tuple[str, Cost, float]]:
    first = HARBOUR.tables["trainees"][0]
    people = tuple({**first, "id": f"p{number:04}", "name": f"Person {number}"} for number in range(1, labs + 1))
    file, sitting = folder / "harbour.xlsx", Sitting(folder / "S")
    file.write_bytes(write_exercise_book(replace(HARBOUR, tables={**HARBOUR.tables, "trainees": people})))
    costs = [("set", _run(["set", str(file), "--out", str(folder), "--sitting", "S", *more]))]
    load = one_load(next(sitting.hand_out.glob("*.xlsx")).read_bytes())
    ways: dict[str, Callable[[Scenario], dict[CellRef, str]]] = {"perfect": key_texts, "ten wrong": ten_wrong}
    for what, texts in ways.items():
        for lab in sitting.register().labs:
            scenario = sitting.scenario(lab.lab)
            book = sitting.handout_file(scenario).read_bytes()
            (sitting.returned / f"{lab.lab}.xlsx").write_bytes(fill_in(book, scenario, texts(scenario)))
        costs.append((f"grade, {what}", _run(["grade", str(sitting.folder), *more])))
    return [(what, cost, load) for what, cost in costs]


def _run(words: Sequence[str]) -> Cost:
    begun = time.perf_counter()
    run = subprocess.run(
        [sys.executable, "-c", WATCH, *TRAINER, *words],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": ""},
    )
    ended, cpu, memory = run.stdout.split()
    assert ended == "0", f"trainer {' '.join(words)} ended with {ended}"
    return Cost(cpu=float(cpu), waited=time.perf_counter() - begun, memory=int(memory) / 1024)


if __name__ == "__main__":
    main()
