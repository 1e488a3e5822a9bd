"""`trainer` alone, or with a path dragged onto it."""

from pathlib import Path

import pytest

from trainer.cli import main
from trainer.commands import next_step
from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one exercise workbook, in which the program is started."""
    (tmp_path / "my class.xlsx").write_bytes(write_exercise_book(HARBOUR))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_alone_it_says_what_it_would_do_and_does_nothing_without_being_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([]) == 0
    assert capsys.readouterr().out == (
        'my class.xlsx is an exercise workbook for 24 trainees, with no problems.\nNext: trainer set "my class.xlsx"\n'
    )
    assert [each.name for each in folder.iterdir()] == ["my class.xlsx"]


def test_a_workbook_that_was_dragged_onto_it_is_set_when_the_answer_is_yes(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = []

    def yes(question: str) -> str:
        asked.append(question)
        return "y"

    out = folder / "output"
    assert next_step.run(folder / "my class.xlsx", out, ask=yes) == 0
    assert asked == ["Do it now? [y/N] "]
    assert len(list((out / "HARBOUR-2-thursday-12-march" / "hand-out").glob("*.xlsx"))) == 24
    capsys.readouterr()
    assert next_step.run(folder, out, ask=lambda _question: "no") == 0
    assert capsys.readouterr().out.startswith(
        "Sitting HARBOUR-2-thursday-12-march is set for 24 trainees; 0 files have come back.\nNext: trainer grade "
    )


def test_a_workbook_with_something_to_mend_is_checked_next(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = {**HARBOUR.settings, "server_network": "9"}
    raw = type(HARBOUR)(settings=bad, tables=HARBOUR.tables)
    (folder / "my class.xlsx").write_bytes(write_exercise_book(raw))
    assert main([str(folder / "my class.xlsx")]) == 0
    assert capsys.readouterr().out.startswith(
        "my class.xlsx is an exercise workbook with 1 problem.\nNext: trainer check"
    )


def test_error_a_folder_without_an_exercise_gives_the_help(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path)]) == 2
    assert capsys.readouterr().out.startswith("usage: trainer")


def test_error_a_file_that_is_no_workbook_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("nothing", encoding="utf-8")
    assert main([str(file)]) == 1
    assert capsys.readouterr().err.startswith(f"{file}: ")
