"""Sittings that an earlier version set, filled in, graded and practised on are taken up as if nothing had happened.

The files of tests/cases/sittings_of_2026_11.zip were written by the version of 29 November 2026 (commit 5687a26), before the
marking core and the records were made anew. They are never written again by a newer one.
"""

import json
import zipfile
from pathlib import Path

import pytest

from trainer import cli
from trainer.commands import practise
from trainer.store import Sitting

FILES = Path(__file__).parent / "cases" / "sittings_of_2026_11.zip"
MARKS = {
    "two-switches": {"t1": "99.355", "t2": "87.679", "t3": "98.655"},
    "free-plan": {"t1": "99.355", "t2": "86.429"},
}
"""What these papers earn. They earned 99.428, 89.59 and 97.563, 99.428 and 88.342 when copies counted as much as the rest and
marks were rounded a cell. A marking rule that changes on purpose changes them here, by hand."""


@pytest.fixture
def before(tmp_path: Path) -> Path:
    with zipfile.ZipFile(FILES) as files:
        files.extractall(tmp_path)
    return tmp_path


@pytest.mark.parametrize("code", MARKS)
def test_a_sitting_of_before_is_graded_as_it_was(before: Path, code: str, capsys: pytest.CaptureFixture[str]) -> None:
    then = json.loads((before / code / "grade.json").read_text(encoding="utf-8"))
    assert cli.main(["grade", str(before / code), "--json"]) == 0
    now = json.loads(capsys.readouterr().out)
    assert {each["trainee"]: each["marks"] for each in now["graded"]} == MARKS[code]
    assert now["not_graded"] == []
    for one, other in zip(then["graded"], now["graded"], strict=True):
        assert [_cell(each) for each in one["cells"]] == [_cell(each) for each in other["cells"]]


def _cell(cell: dict[str, object]) -> list[object]:
    """Where it stands and what stands in it: ids, sheets, addresses and rows travel for ever."""
    return [cell[name] for name in ("section", "sheet", "cell", "row", "question", "given")]


@pytest.mark.parametrize("code", MARKS)
def test_the_marks_that_were_stored_then_make_results(
    before: Path, code: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["results", str(before / code)]) == 0
    capsys.readouterr()
    page = (before / code / "results.html").read_text(encoding="utf-8")
    assert all(trainee in page for trainee in MARKS[code])


@pytest.mark.parametrize("code", MARKS)
def test_keys_are_printed_again(before: Path, code: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["key", str(before / code)]) == 0
    told = capsys.readouterr().out
    assert all(f"({trainee})" in told for trainee in MARKS[code])


def test_a_lab_that_was_practised_on_is_taken_up_again(before: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sitting = Sitting(before / "practice-HARBOUR-2")
    (lab,) = [each.lab for each in sitting.register().labs]
    now = 0.0

    def sleep(seconds: float) -> None:
        nonlocal now
        now += seconds

    words = iter([None] * 20 + ["list\n"] + [None] * 20 + ["quit\n"])
    around = practise.Surroundings(typed=lambda: next(words), clock=lambda: now, sleep=sleep)
    assert practise.run(None, before, once=None, new=False, around=around) == 0
    told = capsys.readouterr().out
    assert lab in told
    assert "Protection" in told
    assert [each.lab for each in sitting.register().labs] == [lab]
