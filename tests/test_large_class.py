"""A class with hostile files among what came back is graded in one run, and nobody else's marks are touched by them.

A class of 10 in a plain run, of 200 with TRAINER_NIGHTLY=1.
"""

import json
import os
import random
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from growing import DIMENSIONS, grown
from papers import as_paper
from sittings_compared import SMALL, with_secret
from workbooks import of_returned

from trainer import cli
from trainer.commands.demo_class import key_texts
from trainer.commands.one_run import one_run
from trainer.commands.reading import read_exercise_file
from trainer.commands.set_labs import set_sitting
from trainer.lab.scenario import Trainee
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.store import Sitting

TRAINEES = 200 if os.environ.get("TRAINER_NIGHTLY") else 10
HOSTILE = TRAINEES // 5


def marks(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    assert cli.main(["grade", str(sitting.folder), "--json"]) in (0, 1)
    return {lab["trainee"]: lab["marks"] for lab in json.loads(capsys.readouterr().out)["graded"]}


def hostile(number: int, paper: bytes) -> bytes:
    """Every fifth file is damaged, the others have grown in one dimension each."""
    rng = random.Random(number)
    if number % 5 == 0:
        return bytes(each if rng.random() < 0.99 else rng.randrange(256) for each in paper)
    return grown(of_returned(read_book(paper)), list(DIMENSIONS)[number % len(DIMENSIONS)])


def test_hostile_files_change_nobody_elses_marks(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    people = tuple(Trainee(id=f"p{number:03}") for number in range(1, TRAINEES + 1))
    sitting = with_secret(tmp_path / "s")
    with one_run(sitting):
        labs = set_sitting(replace(read_exercise_file(SMALL), trainees=people), sitting)
    for number, lab in enumerate(labs):
        texts = key_texts(lab.scenario)
        if number < HOSTILE:
            data = hostile(number, as_paper(lab.key.read_bytes()))
        else:
            for cell in list(texts)[: number % 30]:
                texts[cell] = "192.0.2.1"
            data = fill_in(lab.workbook.read_bytes(), lab.scenario, texts)
        (sitting.returned / f"{lab.scenario.trainee.id}.xlsx").write_bytes(data)
    without = Sitting(tmp_path / "without" / "s")
    shutil.copytree(sitting.folder, without.folder)
    for trainee in people[:HOSTILE]:
        (without.returned / f"{trainee.id}.xlsx").unlink()
    wanted = marks(without, capsys)
    assert set(wanted) == {each.id for each in people[HOSTILE:]}
    found = marks(sitting, capsys)
    assert {trainee: found[trainee] for trainee in wanted} == wanted
    assert len(set(wanted.values())) > 3
