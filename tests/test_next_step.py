"""`trainer` alone, or with a path dragged onto it."""

import shutil
from pathlib import Path

import pytest

from trainer.cli import main
from trainer.commands import next_step
from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book
from trainer.store import Sitting


def of_people(count: int) -> bytes:
    return write_exercise_book(
        type(HARBOUR)(
            settings=HARBOUR.settings, tables={**HARBOUR.tables, "trainees": HARBOUR.tables["trainees"][:count]}
        )
    )


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
        "my class.xlsx is an exercise workbook for 24 trainees, with no problems.\n"
        "What you may do now:\n"
        '  1  trainer set "my class.xlsx"    a lab for everybody\n'
        '  2  trainer check "my class.xlsx"  what setting it will give\n'
    )
    assert [each.name for each in folder.iterdir()] == ["my class.xlsx"]


def test_a_workbook_that_was_dragged_onto_it_is_set_when_the_answer_is_yes(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = []

    def first(question: str) -> str:
        asked.append(question)
        return "1"

    (folder / "my class.xlsx").write_bytes(of_people(2))
    out = folder / "output"
    assert next_step.run(folder / "my class.xlsx", out, ask=first) == 0
    assert asked == ["A number does it, Enter alone nothing: "]
    sitting = Sitting.open(out / "HARBOUR-2-thursday-12-march")
    (first, _) = sorted(sitting.hand_out.glob("*.xlsx"))
    capsys.readouterr()
    assert next_step.run(folder, out, ask=lambda _question: "no") == 0
    is_set = "Sitting HARBOUR-2-thursday-12-march is set for 2 trainees; "
    told = capsys.readouterr().out
    assert told.startswith(f"{is_set}0 files have come back.\nWhat you may do now:\n  1  trainer key {sitting.folder}")
    assert [line.split()[2] for line in told.splitlines()[2:]] == ["key", "check", "set"]
    shutil.copy2(first, sitting.returned / "a.xlsx")
    (folder / "my class.xlsx").write_bytes(of_people(3))
    assert next_step.run(folder, out, ask=lambda _question: "2") == 0
    told = capsys.readouterr().out
    assert told.startswith(
        f"{is_set}1 file has come back.\nNew on sheet Trainees of my class.xlsx: h03 {HARBOUR.tables['trainees'][2]['name']}.\n"
        "What you may do now:\n"
        f'  1  trainer set "{folder / "my class.xlsx"}"'
    )
    assert f"  2  trainer grade {sitting.folder}" in told
    assert "1 graded, 0 not graded, 1 of the class not handed in." in told
    assert next_step.run(folder, out, ask=lambda _question: "1") == 0
    assert "1 of them new" in capsys.readouterr().out
    assert next_step.run(folder, out, ask=lambda _question: "") == 0
    steps = [line.split()[2] for line in capsys.readouterr().out.splitlines()[2:]]
    assert steps == ["grade", "results", "hand-back", "key", "check", "set"]


def test_sittings_of_other_workbooks_are_told_too_and_re_sits_are_no_trainees(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = folder / "output"
    file = folder / "my class.xlsx"
    file.write_bytes(of_people(1))
    for words in ((), ("--attempt", "2"), ("--sitting", "MILL")):
        assert main(["set", str(file), "--out", str(out), *words]) == 0
    capsys.readouterr()
    assert next_step.run(folder, out, ask=lambda _question: "") == 0
    told = capsys.readouterr().out.splitlines()
    assert told[:2] == [
        "Sitting HARBOUR-2-thursday-12-march is set for 1 trainee and 1 re-sit; 0 files have come back.",
        "Sitting MILL is set for 1 trainee; 0 files have come back.",
    ]
    assert [line.split()[2:4] for line in told[3:]] == [
        ["key", str(out / "HARBOUR-2-thursday-12-march")],
        ["check", '"' + str(folder / "my")],
        ["set", '"' + str(folder / "my")],
        ["key", str(out / "MILL")],
    ]


def test_a_workbook_with_something_to_mend_is_checked_next(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = {**HARBOUR.settings, "server_network": "9"}
    raw = type(HARBOUR)(settings=bad, tables=HARBOUR.tables)
    (folder / "my class.xlsx").write_bytes(write_exercise_book(raw))
    assert main([str(folder / "my class.xlsx")]) == 0
    assert capsys.readouterr().out.startswith(
        "my class.xlsx is an exercise workbook with 1 problem.\nNext: trainer check"
    )


def test_where_there_is_no_exercise_it_offers_one_to_begin_with(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main([]) == 0
    assert capsys.readouterr().out == (
        f"There is no exercise workbook in {tmp_path}. trainer --help lists all commands.\n"
        "What you may do now:\n"
        "  1  trainer template exercise.xlsx  a working exercise to make yours\n"
        "  2  trainer exercises               the ready-made exercises, and what they train\n"
    )
    assert next_step.run(Path(), tmp_path / "output", ask=lambda _question: "7") == 0
    assert list(tmp_path.iterdir()) == []
    assert next_step.run(Path(), tmp_path / "output", ask=lambda _question: "1") == 0
    assert (tmp_path / "exercise.xlsx").is_file()


def test_of_several_workbooks_each_has_its_step(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = type(HARBOUR)(settings={**HARBOUR.settings, "server_network": "9"}, tables=HARBOUR.tables)
    (folder / "other.xlsx").write_bytes(write_exercise_book(bad))
    assert next_step.run(Path(), folder / "output", ask=lambda _question: "2") == 1
    told = capsys.readouterr().out
    assert told.startswith(
        "my class.xlsx is an exercise workbook for 24 trainees, with no problems.\n"
        "other.xlsx is an exercise workbook with 1 problem.\n"
        "What you may do now:\n"
        '  1  trainer set "my class.xlsx"  a lab for everybody\n'
        "  2  trainer check other.xlsx     what to mend, cell by cell\n"
        "other.xlsx: 1 problem.\n"
    )


def test_error_a_file_that_is_no_workbook_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("nothing", encoding="utf-8")
    assert main([str(file)]) == 1
    assert capsys.readouterr().err.startswith(f"{file}: ")
