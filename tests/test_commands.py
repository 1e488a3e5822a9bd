"""The commands on real files: exit statuses, what they print and write, and that nothing that comes back stops them."""

import errno
import hashlib
import json
import os
import re
import shutil
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from drawn_labs import changed
from on_request import many
from papers import as_paper

from trainer import cli
from trainer.commands import lab_making
from trainer.commands.demo_class import FILLINGS
from trainer.lab.form import Answers
from trainer.lab.proof import Proof, prove
from trainer.lab.questions import FORM
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Resits, Scenario
from trainer.network.addresses import usable_count
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.store import GradedLab, Sitting

CLASS_FILES = ("handouts", "labels", "roll")
"""Of the whole class, to print."""
CODE = "HARBOUR-2-thursday-12-march"
PEOPLE = HARBOUR.tables["trainees"]


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


def book_of(file: Path, people: Iterable[Mapping[str, str]], **settings: str) -> Path:
    """An exercise workbook for these people."""
    file.write_bytes(write_exercise_book(changed(tables={"trainees": tuple(people)}, **settings)))
    return file


def state(folder: Path) -> dict[str, tuple[str, int]]:
    """Bytes and time of every file."""
    return {
        path.relative_to(folder).as_posix(): (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def contents(folder: Path) -> dict[str, str]:
    return {name: content for name, (content, _) in state(folder).items()}


@pytest.fixture(scope="module")
def class_of_four(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sitting of four trainees, with its exercise workbook beside it; every test gets a copy."""
    folder = tmp_path_factory.mktemp("four")
    book_of(folder / "harbour.xlsx", (*PEOPLE[:2], *PEOPLE[12:14]))
    assert run("set", folder / "harbour.xlsx", "--out", folder) == 0
    return folder


@pytest.fixture
def four(class_of_four: Path, tmp_path: Path) -> Path:
    """The folder of the class of four; the sitting is in it under its code."""
    copy = tmp_path / "class"
    shutil.copytree(class_of_four, copy)
    return copy


@pytest.fixture
def sitting(four: Path) -> Sitting:
    return Sitting.open(four / CODE)


def hand_in(sitting: Sitting, *, keys: Iterable[int] = (), untouched: Iterable[int] = ()) -> None:
    """Puts workbooks that say what the key says and untouched ones of the n-th trainees into returned/."""
    files = sorted(sitting.keys.glob("*.xlsx"))
    for number in keys:
        target = sitting.returned / files[number].name
        target.write_bytes(as_paper(files[number].read_bytes()))
        shutil.copystat(files[number], target)
    files = sorted(sitting.hand_out.glob("*.xlsx"))
    for number in untouched:
        shutil.copy2(files[number], sitting.returned / files[number].name)


def graded(sitting: Sitting, capsys: pytest.CaptureFixture[str], *files: Path, status: int = 0) -> dict[str, Any]:
    """What grading prints as JSON; nothing else may stand on standard output."""
    capsys.readouterr()
    assert run("grade", sitting.folder, *files, "--json") == status
    out, err = capsys.readouterr()
    assert err == ""
    printed = json.loads(out)
    assert isinstance(printed, dict)
    return printed


# --- From the template to the results ---------------------------------------------------------------------------------


def test_the_whole_job_on_the_template(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "harbour.xlsx"
    assert run("template", file) == 0
    assert capsys.readouterr().out == (
        f"Wrote {file}: a working exercise with two switches and 24 invented trainees.\n"
        f"Change its Code, Title and Trainees, then: trainer check {file}\n"
    )
    assert run("check", file) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == f"{file}: no problems."
    assert lines[1].startswith("  HARBOUR-2: 24 trainees, 2 switches, 5 networks, ")
    assert "  75 minutes for 157 cells are 28 seconds a cell; 25 or more are enough." in lines
    book_of(file, PEOPLE[:2])
    assert run("set", file, "--out", tmp_path / "out") == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    folder = tmp_path / "out" / CODE
    assert re.fullmatch(
        rf"Sitting {CODE}: 2 labs, 2 of them new, every key proved \(\d+( to \d+)? trials each\)\.",
        printed.out.splitlines()[0],
    )
    assert f"Put what comes back into {folder / 'returned'}, then: trainer grade {folder}" in printed.out
    hand_in(Sitting.open(folder), keys=[0], untouched=[1])
    assert run("grade", folder) == 0
    out = capsys.readouterr().out
    assert re.search(r"^h01 +Zoë Ankersø +100 .*-$", out, re.MULTILINE)
    assert re.search(r"^h02 +Bram Oderik +0 ", out, re.MULTILINE)
    assert "2 graded, 0 not graded, 0 of the class not handed in." in out
    assert (folder / "results.xlsx").is_file()
    assert len(list((folder / "marked").iterdir())) == 4


def test_nothing_the_commands_print_is_wider_than_a_narrow_terminal(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, keys=[0], untouched=[1, 2])
    run("grade", sitting.folder)
    table = [line for line in capsys.readouterr().out.splitlines() if re.match(r"(Id|h\d\d) ", line)]
    assert len(table) == 4
    assert all(len(line) <= 80 for line in table)


def test_a_sitting_is_found_by_its_code(four: Path, capsys: pytest.CaptureFixture[str]):
    assert run("grade", CODE, "--out", four) == 0
    assert "0 graded, 0 not graded, 4 of the class not handed in." in capsys.readouterr().out


# --- What --json prints -----------------------------------------------------------------------------------------------


def test_set_prints_one_json_object(four: Path, capsys: pytest.CaptureFixture[str]):
    assert run("set", four / "harbour.xlsx", "--out", four, "--json") == 0
    out, err = capsys.readouterr()
    assert err == ""
    printed = json.loads(out)
    assert list(printed) == ["sitting", "folder", "labs"]
    assert (printed["sitting"], printed["folder"]) == (CODE, str((four / CODE).resolve()))
    assert [lab["trainee"] for lab in printed["labs"]] == ["h01", "h02", "h13", "h14"]
    for lab in printed["labs"]:
        assert list(lab) == ["lab", "trainee", "workbook", "key", "proven", "trials"]
        assert lab["workbook"] == f"hand-out/{lab['trainee']}-{lab['lab']}.xlsx"
        assert lab["key"] == f"instructor/keys/KEY-{lab['trainee']}-{lab['lab']}.xlsx"
        assert (Path(printed["folder"]) / lab["workbook"]).is_file()
        assert (Path(printed["folder"]) / lab["key"]).is_file()
        assert lab["proven"] is True
        assert lab["trials"] > 50


def test_keys_that_are_put_elsewhere_have_an_absolute_path(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = book_of(tmp_path / "harbour.xlsx", PEOPLE[:1])
    keys = tmp_path / "safe"
    assert run("set", file, "--out", tmp_path / "out", "--keys", keys, "--json") == 0
    (lab,) = json.loads(capsys.readouterr().out)["labs"]
    assert lab["key"] == str((keys / f"KEY-h01-{lab['lab']}.xlsx").resolve())
    assert [file.name for file in keys.iterdir()] == [f"KEY-h01-{lab['lab']}.xlsx"]


def test_check_prints_one_json_object(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = book_of(tmp_path / "harbour.xlsx", PEOPLE[:2])
    assert run("check", file, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["problems"], told["notes"]) == ([], [])
    assert [each["section"] for each in told["sheets"]] == [section.id for section in FORM]
    assert told["sheets"][0] == {"section": "subnets", "copied": 0, "repeated": 5, "worked_out": 30}
    assert run("check", book_of(file, PEOPLE[:2], code="!", pass_mark="101"), "--json") == 1
    out, err = capsys.readouterr()
    assert err == ""
    problems = json.loads(out)["problems"]
    assert sorted(each["cell"] for each in problems) == ["B30", "B4"]
    assert all(list(each) == ["sheet", "cell", "found", "wanted", "fix"] for each in problems)


def test_error_check_prints_one_json_object_for_a_file_that_is_no_workbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file = tmp_path / "mine.xlsx"
    file.write_bytes(b"%PDF-1.7")
    assert run("check", file, "--json") == 1
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["sheet"], problem["cell"]) == ("", "")


LAB_FIELDS = [
    *(
        "lab",
        "trainee",
        "file",
        "marked",
        "marks",
        "out_of",
        "percent",
        "works",
        "notices",
        "sections",
        "parts",
        "cells",
    )
]
CELL_FIELDS = [
    *("section", "sheet", "cell", "row", "question", "given", "expected", "verdict", "marks", "out_of"),
    *("mistake", "explanation", "consequence", "seen", "hint"),
]
VERDICTS = {"right", "follows", "partly", "again", "wrong", "blank", "unreadable", "extra", "missing"}


def test_grade_prints_one_json_object(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0], untouched=[1])
    fill(sitting, 2, FILLINGS[5])
    fill(sitting, 3, FILLINGS[6])
    (sitting.returned / "x.pdf").write_bytes(b"%PDF-1.7")
    printed = graded(sitting, capsys, status=1)
    assert list(printed) == [
        *(
            "sitting",
            "folder",
            "graded",
            "not_graded",
            "changed",
            "anew",
            "kept",
            "archives",
            "left_aside",
            "without_effect",
        )
    ]
    assert (printed["sitting"], printed["folder"]) == (CODE, str(sitting.folder.resolve()))
    assert printed["not_graded"] == [
        {
            "file": "returned/x.pdf",
            "reason": "This is a PDF, not a workbook. Ask for the workbook itself, saved as .xlsx.",
        }
    ]
    assert len(printed["graded"]) == 4
    for lab in printed["graded"]:
        assert list(lab) == LAB_FIELDS
        assert (sitting.folder / lab["file"]).is_file()
        assert (sitting.folder / lab["marked"]).is_file()
        assert [list(each) for each in lab["sections"]] == [["section", "marks", "out_of"]] * 9
        assert [each["section"] for each in lab["sections"]] == [section.id for section in FORM]
        assert sum(Decimal(each["marks"]) for each in lab["sections"]) == Decimal(lab["marks"])
        assert lab["out_of"] == "100"
        for cell in lab["cells"]:
            assert list(cell) == CELL_FIELDS
            assert cell["verdict"] in VERDICTS
            assert (cell["cell"] is None) is (cell["verdict"] == "missing")
            assert cell["cell"] is None or re.fullmatch(r"[A-Z]\d+", cell["cell"])
            assert str(Decimal(cell["marks"])) == cell["marks"]
            explained = [cell[name] for name in ("mistake", "explanation", "consequence", "hint")]
            if cell["verdict"] == "right":
                assert cell["mistake"] is None
            elif cell["verdict"] != "follows":
                assert all(isinstance(text, str) and text for text in explained), cell


def test_cells_of_the_json_object_are_those_of_the_returned_file(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    fill(sitting, 0, FILLINGS[4])
    (file,) = sitting.returned_files().files
    book = openpyxl.load_workbook(file)
    (lab,) = graded(sitting, capsys)["graded"]
    for cell in lab["cells"]:
        if cell["cell"] is not None:
            assert str(book[cell["sheet"]][cell["cell"]].value or "") == cell["given"]


def fill(sitting: Sitting, number: int, way: Any) -> Path:
    """The n-th trainee hands a workbook in that is filled in this way."""
    from trainer.commands.demo_class import key_texts

    file = sorted(sitting.hand_out.glob("*.xlsx"))[number]
    lab = sitting.scenario(file.stem.split("-", 1)[1])
    target = sitting.returned / f"{lab.trainee.id}.xlsx"
    target.write_bytes(fill_in(file.read_bytes(), lab, way.fill(lab, key_texts(lab))))
    return target


# --- Setting again ----------------------------------------------------------------------------------------------------


def test_setting_twice_changes_no_byte(four: Path):
    before = contents(four)
    assert run("set", four / "harbour.xlsx", "--out", four) == 0
    assert contents(four) == before


def test_setting_twice_touches_no_file(four: Path):
    before = state(four)
    assert run("set", four / "harbour.xlsx", "--out", four) == 0
    assert state(four) == before


def test_setting_twice_says_that_nothing_is_new(four: Path, capsys: pytest.CaptureFixture[str]):
    run("set", four / "harbour.xlsx", "--out", four)
    assert capsys.readouterr().out.startswith(f"Sitting {CODE}: 4 labs, 0 of them new, every key proved (")


def test_somebody_who_joins_late_changes_no_other_lab(four: Path, capsys: pytest.CaptureFixture[str]):
    before = state(four / CODE)
    file = book_of(four / "harbour.xlsx", (PEOPLE[0], PEOPLE[5], PEOPLE[1], *PEOPLE[12:14]))
    assert run("set", file, "--out", four) == 0
    assert capsys.readouterr().out.startswith(f"Sitting {CODE}: 5 labs, 1 of them new, ")
    after = state(four / CODE)
    of_the_class = {"instructor/register.json", *(f"instructor/print/{each}.html" for each in CLASS_FILES)}
    assert {name for name in before if before[name] != after[name]} == of_the_class
    new = {name for name in after if name not in before}
    assert len(new) == 4
    assert all("h06-" in name or name.startswith("instructor/labs/") for name in new)


def change(file: Path, how: Callable[[dict[str, Any]], object]) -> None:
    """Changes a record."""
    record = json.loads(file.read_text(encoding="utf-8"))
    how(record)
    file.write_text(json.dumps(record, ensure_ascii=False), encoding="utf-8")


@pytest.mark.parametrize(
    "how",
    [
        lambda record: record["scenario"]["vlans"][2].update(is_snooped=False),
        lambda record: record["scenario"]["stations"][3].update(fixed_number=4000),
    ],
    ids=["another snooped VLAN", "an address outside"],
)
def test_a_lab_that_was_changed_by_hand_is_proved_again(
    four: Path, capsys: pytest.CaptureFixture[str], how: Callable[[dict[str, Any]], object]
):
    sitting = Sitting.open(four / CODE)
    lab = sitting.register().labs[0].lab
    change(sitting.labs / f"{lab}.json", how)
    assert run("set", four / "harbour.xlsx", "--out", four) == 1
    assert f"Lab {lab} failed its proof and was not written." in capsys.readouterr().err


@pytest.mark.parametrize("trials", [True, -5, 0, 10**40, "139", None])
def test_trials_that_somebody_else_has_written_are_not_believed(four: Path, trials: object):
    sitting = Sitting.open(four / CODE)
    lab = sitting.register().labs[0].lab
    assert sitting.lab(lab).trials is not None
    change(sitting.labs / f"{lab}.json", lambda record: record["proved"].update(trials=trials))
    assert sitting.lab(lab).trials is None


def test_what_was_proved_is_not_proved_again_for_somebody_who_joins_late(
    four: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    """A lab from before its proof was kept is, and one whose workbook got lost."""
    sitting = Sitting.open(four / CODE)
    known = {each.lab for each in sitting.register().labs}
    from_before, lost, *_ = sorted(known)
    change(sitting.labs / f"{from_before}.json", lambda record: record.pop("proved"))
    next(sitting.hand_out.glob(f"*{lost}.xlsx")).unlink()
    proved = []

    def noted(scenario: Scenario, key: Answers) -> Proof:
        proved.append(scenario.lab_number)
        return prove(scenario, key)

    monkeypatch.setattr(lab_making, "prove", noted)
    people = book_of(four / "harbour.xlsx", (PEOPLE[0], PEOPLE[5], PEOPLE[1], *PEOPLE[12:14]))
    assert run("set", people, "--out", four, "--json") == 0
    (new,) = {each.lab for each in sitting.register().labs} - known
    assert set(proved) == {from_before, lost, new}
    labs = json.loads(capsys.readouterr().out)["labs"]
    assert len(labs) == 5
    assert all(each["proven"] and each["trials"] > 100 for each in labs)


def test_somebody_who_leaves_changes_no_lab(four: Path):
    """But what is printed for all who are in the class, and the register, which knows who has left."""
    before = contents(four / CODE)
    assert run("set", book_of(four / "harbour.xlsx", PEOPLE[:1]), "--out", four) == 0
    after = contents(four / CODE)
    printed = {f"instructor/print/{name}.html" for name in ("handouts", "labels", "roll")}
    assert {name for name in before if before[name] != after[name]} == {*printed, "instructor/register.json"}
    assert after.keys() == before.keys()


def test_a_second_attempt_is_a_new_lab_beside_the_first(four: Path, capsys: pytest.CaptureFixture[str]):
    people = (*PEOPLE[:2], *PEOPLE[12:14])
    file = book_of(four / "harbour.xlsx", ({**people[0], "attempt": "2"}, *people[1:]))
    assert run("set", file, "--out", four) == 0
    assert ", 1 of them new, " in capsys.readouterr().out
    names = sorted(each.name for each in (four / CODE / "hand-out").glob("*.xlsx") if each.name.startswith("h01-"))
    assert len(names) == 2
    assert sum(name.startswith("h01-2-") for name in names) == 1


@pytest.mark.parametrize("lost", ["hand-out", "instructor/keys"])
def test_a_file_that_got_lost_is_written_as_it_was(four: Path, lost: str):
    before = contents(four)
    next((four / CODE / lost).iterdir()).unlink()
    assert run("set", four / "harbour.xlsx", "--out", four) == 0
    assert contents(four) == before


def test_setting_that_was_interrupted_comes_to_the_same_end(four: Path):
    before = contents(four)
    for name in before:
        if name.startswith(CODE) and not name.endswith("/secret"):
            (four / name).unlink()
    assert run("set", four / "harbour.xlsx", "--out", four) == 0
    assert contents(four) == before


@pytest.mark.parametrize(
    ("changes", "called"),
    [
        ({"pass_mark": "50", "title": "Another"}, "Title, Pass mark"),
        ({"gateway": "last usable", "title": "Other"}, "Title, Gateway"),
        ({"tables": {"networks": HARBOUR.tables["networks"][:4]}}, "sheet Networks"),
    ],
)
def test_error_a_changed_exercise_is_refused_and_nothing_is_written(
    four: Path, capsys: pytest.CaptureFixture[str], changes: dict[str, Any], called: str
):
    before = state(four / CODE)
    tables = {"trainees": (*PEOPLE[:2], *PEOPLE[12:14]), **changes.pop("tables", {})}
    (four / "harbour.xlsx").write_bytes(write_exercise_book(changed(tables=tables, **changes)))
    assert run("set", four / "harbour.xlsx", "--out", four) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"{four / CODE} was set with another exercise; what differs: {called}. "
        "Labs may be handed out already, so nothing was written. Give the changed exercise a sitting of its own: "
        "--sitting CODE, or another Code in the workbook.\n"
    )
    assert state(four / CODE) == before


def test_what_only_the_results_rest_on_may_be_changed_after_setting(four: Path):
    file = book_of(four / "harbour.xlsx", [*PEOPLE[:2], *PEOPLE[12:14]], pass_mark="55", resits="best")
    handed_out = state(four / CODE / "hand-out")
    assert run("set", file, "--out", four) == 0
    exercise = Sitting.open(four / CODE).register().exercise
    assert (exercise.pass_mark, exercise.resits) == (55, Resits.BEST)
    assert state(four / CODE / "hand-out") == handed_out


def shown_to_h01(sitting: Sitting) -> dict[str, bool]:
    """Whether workbook, page and class file tell the first trainee a right value."""
    lab = sitting.register().labs[0]
    scenario = sitting.scenario(lab.lab)
    sheets = openpyxl.load_workbook(sitting.marked_book(scenario)).worksheets
    cells = " ".join(str(cell.value) for sheet in sheets for row in sheet.iter_rows() for cell in row)
    page = sitting.feedback_page(scenario.trainee, lab.lab).read_text(encoding="utf-8")
    both = sitting.class_file("feedback", None).read_text(encoding="utf-8")
    return {"workbook": " Right: " in cells, "page": "; right: " in page, "class file": "; right: " in both}


def with_reveal(four: Path, reveal: str) -> None:
    people = [*PEOPLE[:2], *PEOPLE[12:14]]
    assert run("set", book_of(four / "harbour.xlsx", people, reveal=reveal), "--out", four) == 0


def test_what_must_work_may_be_changed_after_setting_and_pages_follow(
    four: Path, sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    """t06's way: the routing is right, the protection is not understood."""
    fill(sitting, 0, FILLINGS[5])
    lab, people = sitting.register().labs[0], [*PEOPLE[:2], *PEOPLE[12:14]]
    page = sitting.feedback_page(sitting.scenario(lab.lab).trainee, lab.lab)
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 0
    (graded,) = json.loads(capsys.readouterr().out)["graded"]
    leases, pings, attacks = (graded["works"][sort] for sort in ("leases", "pings", "attacks"))
    assert leases == [0, 6]
    assert attacks[0] < attacks[1] == 25
    assert f"leases 0 of 6, pings {pings[0]} of {pings[1]}" in page.read_text(encoding="utf-8")
    for must_work, passed in (("leases 100, pings 80, attacks 90", False), ("", True)):
        assert run("set", book_of(four / "harbour.xlsx", people, must_work=must_work), "--out", four) == 0
        capsys.readouterr()
        assert run("results", sitting.folder, "--json") == 0
        (line,) = json.loads(capsys.readouterr().out)["lines"]
        assert (line["passed"], line["works"]) == (passed, graded["works"])
        assert ("Not enough to pass" in page.read_text(encoding="utf-8")) is not passed


def without_what_is_shown(sitting: Sitting) -> list[GradedLab]:
    return [replace(each, shown=None) for each in sitting.last_grades().by_lab.values()]


@pytest.mark.parametrize("command", many(["results", "grade"], ["results"]))
def test_more_or_less_is_shown_after_setting_without_marking_anew(four: Path, sitting: Sitting, command: str):
    """What was handed in is no workbook any more, so that nobody can mark it again."""
    handed_in = fill(sitting, 0, FILLINGS[5])
    other = fill(sitting, 1, FILLINGS[5])
    assert run("grade", sitting.folder) == 0
    marks, handed_out = without_what_is_shown(sitting), state(sitting.hand_out)
    assert any(each.explanation and each.explanation.steps for each in marks[0].marks.cells)
    handed_in.write_bytes(b"It was marked once.")
    assert set(shown_to_h01(sitting).values()) == {False}
    for reveal in ("answers", "marks", "answers"):
        with_reveal(four, reveal)
        assert run(command, sitting.folder, *([other] if command == "grade" else [])) == 0
        assert set(shown_to_h01(sitting).values()) == {reveal == "answers"}
        assert without_what_is_shown(sitting) == marks
    assert state(sitting.hand_out) == handed_out


def test_results_leave_alone_what_shows_as_much_as_may_be_seen(four: Path, sitting: Sitting):
    fill(sitting, 0, FILLINGS[5])
    assert run("grade", sitting.folder) == 0
    before = state(sitting.marked)
    assert run("results", sitting.folder) == 0
    assert state(sitting.marked) == before
    with_reveal(four, "hints")
    assert run("results", sitting.folder) == 0
    assert state(sitting.marked) != before


def test_a_pdf_that_is_there_shows_no_more_than_may_be_seen_now(four: Path, sitting: Sitting):
    fill(sitting, 0, FILLINGS[5])
    with_reveal(four, "answers")
    assert run("grade", sitting.folder, "--pdf") == 0
    (file,) = sitting.marked.glob("*.pdf")
    before = file.read_bytes()
    with_reveal(four, "marks")
    assert run("results", sitting.folder) == 0
    assert len(file.read_bytes()) < len(before)


def test_error_what_cannot_be_shown_anew_is_told_and_tried_again(
    four: Path, sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    fill(sitting, 0, FILLINGS[5])
    assert run("grade", sitting.folder) == 0
    with_reveal(four, "answers")
    book = sitting.marked_book(sitting.scenario(sitting.register().labs[0].lab))
    book.chmod(0o444)
    capsys.readouterr()
    assert run("results", sitting.folder) == 1
    assert str(book) in capsys.readouterr().err
    book.chmod(0o644)
    assert run("results", sitting.folder) == 0
    assert shown_to_h01(sitting)["workbook"]


def test_a_changed_exercise_may_have_a_sitting_of_its_own(four: Path):
    file = book_of(four / "harbour.xlsx", PEOPLE[:1], title="Another")
    assert run("set", file, "--out", four, "--sitting", "second") == 0
    assert len(list((four / "second" / "hand-out").glob("*.xlsx"))) == 1


@pytest.mark.parametrize("code", ["../else", "a/b", "", ".hidden", "a b", "x" * 61])
def test_error_a_sitting_code_that_is_no_folder_name_is_refused(
    four: Path, capsys: pytest.CaptureFixture[str], code: str
):
    assert run("set", four / "harbour.xlsx", "--out", four, "--sitting", code) == 1
    assert capsys.readouterr().err == (
        f"{code!r} cannot name a sitting: it names a folder, so write letters, digits and hyphens.\n"
    )


def test_error_what_cannot_be_set_is_said_as_check_says_it_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file = book_of(tmp_path / "harbour.xlsx", (PEOPLE[0], PEOPLE[0]), code="!", link_lengths="/29")
    assert run("check", file) == 1
    checked = capsys.readouterr().out.splitlines()
    assert checked[0] == f"{file}: 3 problems."
    assert run("set", file, "--out", tmp_path / "out") == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [line.strip() for line in checked[1:]]
    assert not (tmp_path / "out").exists()


# --- What comes back --------------------------------------------------------------------------------------------------


def test_keys_earn_everything_and_untouched_workbooks_nothing(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0, 1], untouched=[2, 3])
    labs = graded(sitting, capsys)["graded"]
    assert {lab["trainee"]: lab["percent"] for lab in labs} == {"h01": "100", "h02": "100", "h13": "0", "h14": "0"}


def test_error_an_answer_key_alone_earns_nothing(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, untouched=[1])
    key = min(sitting.keys.glob("*.xlsx"))
    shutil.copy(key, sitting.returned)
    printed = graded(sitting, capsys, status=1)
    assert [lab["notices"] for lab in printed["graded"]] == [[]]
    assert printed["not_graded"] == [
        {
            "file": f"returned/{key.name}",
            "reason": "THIS IS THE ANSWER KEY, not the trainee's work, and earns nothing: it says so in its titles. Put the "
            "trainee's own file in its place.",
        }
    ]


def test_an_answer_key_never_counts_beside_the_trainees_own_work(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    work = fill(sitting, 0, FILLINGS[3])
    shutil.copy(min(sitting.keys.glob("*.xlsx")), sitting.returned)
    os.utime(work, (1_000_000_000, 1_000_000_000))
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["file"] == f"returned/{work.name}"
    assert lab["percent"] != "100"
    (notice,) = lab["notices"]
    assert notice.endswith("is the ANSWER KEY and was not graded; take it out.")


def test_grading_twice_gives_the_same_files(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0])
    fill(sitting, 1, FILLINGS[4])
    first = graded(sitting, capsys)
    before = contents(sitting.folder)
    assert graded(sitting, capsys) == first
    assert contents(sitting.folder) == before


def test_grading_leaves_what_was_returned_as_it_was(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0], untouched=[1])
    before = state(sitting.returned)
    graded(sitting, capsys)
    assert state(sitting.returned) == before


def test_error_files_that_cannot_be_graded_stop_no_other(
    sitting: Sitting, four: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, keys=[0], untouched=[1])
    good = sitting.returned_files().files[0].read_bytes()
    (sitting.returned / "broken.xlsx").write_bytes(good[: len(good) // 2])
    (sitting.returned / "empty.xlsx").write_bytes(b"")
    (sitting.returned / "paper.pdf").write_bytes(b"%PDF-1.7\n")
    (sitting.returned / "list.csv").write_text("a,b\n", encoding="utf-8")
    (sitting.returned / "~$h01.xlsx").write_bytes(b"lock")
    book_of(sitting.returned / "exercise.xlsx", PEOPLE)
    other = tmp_path / "other"
    assert run("set", book_of(four / "other.xlsx", PEOPLE[:1], code="OTHER"), "--out", other, "--sitting", "o") == 0
    foreign = next((other / "o" / "hand-out").glob("*.xlsx"))
    shutil.copy(foreign, sitting.returned / "foreign.xlsx")
    printed = graded(sitting, capsys, status=1)
    assert {lab["trainee"]: lab["percent"] for lab in printed["graded"]} == {"h01": "100", "h02": "0"}
    assert {each["file"].removeprefix("returned/"): each["reason"] for each in printed["not_graded"]} == {
        "broken.xlsx": "The file is incomplete; perhaps its upload was cut off. Ask for the file again.",
        "empty.xlsx": "The file is empty. Ask for the file again.",
        "exercise.xlsx": "No lab number was found in it. Write 'Lab number' into cell A2 of any sheet and the number into B2, "
        "as in the workbook that was handed out.",
        "foreign.xlsx": f"Lab {foreign.stem.split('-', 1)[1]} is not of this sitting. It may belong to another one: grade "
        "it there, or ask for the right file.",
        "list.csv": "This is a text file, perhaps CSV with one sheet only, not a workbook. Ask for the workbook itself, "
        "saved as .xlsx.",
        "paper.pdf": "This is a PDF, not a workbook. Ask for the workbook itself, saved as .xlsx.",
    }
    sheet = openpyxl.load_workbook(sitting.results_book)["Not graded"]
    assert {row[0].value for row in sheet.iter_rows(min_row=4)} == {each["file"] for each in printed["not_graded"]}


def test_error_the_table_says_what_was_not_graded(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0])
    (sitting.returned / "empty.xlsx").write_bytes(b"")
    assert run("grade", sitting.folder) == 1
    out = capsys.readouterr().out
    assert "Not graded: returned/empty.xlsx: The file is empty. Ask for the file again.\n" in out
    assert "1 graded, 1 not graded, 3 of the class not handed in.\n" in out


def two_filled(sitting: Sitting) -> tuple[Path, Path]:
    """Two workbooks of the first trainee, of which one earns all and one a quarter."""
    poor = fill(sitting, 0, FILLINGS[7])
    poor = poor.rename(poor.with_name("first try.xlsx"))
    return fill(sitting, 0, FILLINGS[0]), poor


def clock(seconds: float) -> str:
    return time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(seconds))


def test_of_two_files_for_one_trainee_the_last_one_counts_and_both_marks_are_told(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    good, poor = two_filled(sitting)
    for newer, older, percent in ((good, poor, "100"), (poor, good, "23")):
        os.utime(older, (1_000_000_000, 1_000_000_000))
        os.utime(newer, (1_000_000_100, 1_000_000_100))
        (lab,) = graded(sitting, capsys)["graded"]
        assert (lab["file"], lab["percent"]) == (f"returned/{newer.name}", percent)
        assert lab["notices"] == [
            f"Several files for this lab: returned/{newer.name} (of the file {clock(1_000_000_100)}) was saved last and "
            f"counts, not returned/{older.name} (of the file {clock(1_000_000_000)}).",
            f"THEIR ANSWERS DIFFER: returned/{newer.name} earns {percent} of 100, returned/{older.name} "
            f"{123 - int(percent)}. If another is meant, write a row into instructor/overrides.xlsx: Trainee h01, Decision "
            "use this file, Value its name.",
        ]


def test_the_file_saved_first_counts_where_the_exercise_says_so(four: Path, capsys: pytest.CaptureFixture[str]):
    people = (*PEOPLE[:2], *PEOPLE[12:14])
    assert run("set", book_of(four / "harbour.xlsx", people, saved="first"), "--out", four) == 0
    sitting = Sitting.open(four / CODE)
    good, poor = two_filled(sitting)
    os.utime(poor, (1_000_000_000, 1_000_000_000))
    os.utime(good, (1_000_000_100, 1_000_000_100))
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == (f"returned/{poor.name}", "23")
    assert lab["notices"][0] == (
        f"Several files for this lab: returned/{poor.name} (of the file {clock(1_000_000_000)}) was saved first and counts, "
        f"not returned/{good.name} (of the file {clock(1_000_000_100)})."
    )


def test_error_a_workbook_with_sheets_of_two_labs_is_not_graded(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    files = sorted(sitting.hand_out.glob("*.xlsx"))
    book = openpyxl.load_workbook(files[0])
    labs = [file.stem.split("-", 1)[1] for file in files[:2]]
    book["Ports"]["B2"] = labs[1]
    book.save(sitting.returned / "mixed.xlsx")
    (reason,) = graded(sitting, capsys, status=1)["not_graded"]
    assert reason["reason"] == (
        f"It holds sheets of several labs: {labs[0]} (Brief!B2), {labs[1]} (Ports!B2). Ask which one is meant and remove "
        "the others."
    )


def test_error_a_workbook_with_another_trainees_number_on_all_sheets_says_whose_number_it_is(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    """The number it was handed out with is still in it; nothing that can be seen tells the two apart."""
    files = sorted(sitting.hand_out.glob("*.xlsx"))
    own, others = (file.stem.split("-", 1)[1] for file in files[:2])
    book = openpyxl.load_workbook(files[0])
    for sheet in book.worksheets:
        sheet["B2"] = others
    book.save(sitting.returned / "changed.xlsx")
    (reason,) = graded(sitting, capsys, status=1)["not_graded"]
    assert reason["reason"] == (
        f"All its sheets say lab {others}, but it was handed out as lab {own}. Ask whose answers these are. If they are of "
        f"{own}, write {own} on every sheet; if not, copy them into the workbook of {others}."
    )


def test_error_a_link_that_leads_nowhere_is_named(sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0])
    (sitting.returned / "h02.xlsx").symlink_to(tmp_path / "unplugged" / "h02.xlsx")
    (sitting.returned / "loop.xlsx").symlink_to(sitting.returned / "loop.xlsx")
    (sitting.returned / ".hidden").symlink_to(tmp_path / "none")
    printed = graded(sitting, capsys, status=1)
    assert [lab["trainee"] for lab in printed["graded"]] == ["h01"]
    reason = "It is a link, and the file it leads to is not there. Put that file itself in its place."
    assert printed["not_graded"] == [
        {"file": "returned/h02.xlsx", "reason": reason},
        {"file": "returned/loop.xlsx", "reason": reason},
    ]


def test_a_link_to_a_file_is_graded_and_called_by_its_own_name(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    elsewhere = tmp_path / "elsewhere.xlsx"
    elsewhere.write_bytes(as_paper(min(sitting.keys.glob("*.xlsx")).read_bytes()))
    (sitting.returned / "h01.xlsx").symlink_to(elsewhere)
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == ("returned/h01.xlsx", "100")
    assert run("results", sitting.folder) == 0
    assert "Results: 1 handed in, 3 of the class not handed in." in capsys.readouterr().out


def test_however_many_files_come_back_the_register_and_the_class_are_read_as_often(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    calls: list[str] = []
    for name in ("register", "_scenario", "last_grades"):
        whole = getattr(Sitting, name)

        def counting(self: Sitting, *arguments: str, name: str = name, whole: Any = whole, **named: Any) -> Any:
            calls.append(name)
            return whole(self, *arguments, **named)

        monkeypatch.setattr(Sitting, name, counting)
    counts = []
    for keys in ([0], [0, 1, 2, 3]):
        hand_in(sitting, keys=keys)
        calls.clear()
        assert run("grade", sitting.folder) == 0
        counts.append({name: calls.count(name) for name in set(calls)})
    assert counts[0] == counts[1]
    assert counts[0]["_scenario"] == 4, "once for each of the class, whether a file came back or not"
    assert counts[0]["last_grades"] == 1, "what this run has graded is known"


def test_files_can_be_named_and_lie_anywhere(sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, untouched=[1])
    elsewhere = tmp_path / "mail.xlsx"
    elsewhere.write_bytes(as_paper(min(sitting.keys.glob("*.xlsx")).read_bytes()))
    (lab,) = graded(sitting, capsys, elsewhere)["graded"]
    assert (lab["trainee"], lab["file"], lab["percent"]) == ("h01", str(elsewhere.resolve()), "100")


def test_error_a_named_file_that_is_not_there_is_told(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    printed = graded(sitting, capsys, tmp_path / "none.xlsx", status=1)
    assert printed["not_graded"] == [
        {
            "file": str(tmp_path / "none.xlsx"),
            "reason": "The file cannot be read (No such file or directory). See that it is there and that you may read it, or "
            "copy it here again.",
        }
    ]


def test_error_a_folder_that_is_no_sitting_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("grade", tmp_path) == 1
    assert capsys.readouterr().err == (
        f"{tmp_path} is no sitting: it holds no instructor/register.json. Give the folder that 'trainer set' named.\n"
    )


def test_error_a_damaged_scenario_file_stops_no_other(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0, 1])
    lab = min(sitting.keys.glob("*.xlsx")).stem.split("-", 2)[2]
    (sitting.labs / f"{lab}.json").write_text("{", encoding="utf-8")
    printed = graded(sitting, capsys, status=1)
    assert [each["trainee"] for each in printed["graded"]] == ["h02"]
    assert [each["reason"] for each in printed["not_graded"]] == [
        f"{sitting.labs / lab}.json cannot be read. Put a copy of it back. Without one, move it away and run 'trainer set' again "
        "with the same exercise workbook: by the secret everything comes out as it was."
    ]


def test_error_a_marked_workbook_that_cannot_be_written_is_told_and_the_rest_goes_on(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, untouched=[0, 1])
    name = min(sitting.hand_out.glob("*.xlsx")).name
    (sitting.marked / name).mkdir()
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 1
    out, err = capsys.readouterr()
    assert err == (
        f"{sitting.marked / name} cannot be written: it is a folder. Move that away, or give it another name; then run the "
        "command again.\n"
    )
    assert [each["notices"] for each in json.loads(out)["graded"]] == [[], []]
    assert len(list(sitting.marked.glob("*.html"))) == 2
    assert sum(file.is_file() for file in sitting.marked.glob("*.xlsx")) == 1
    assert sitting.results_book.is_file()


def test_error_results_that_cannot_be_written_are_told_and_the_rest_goes_on(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, keys=[0])
    sitting.results_book.mkdir()
    assert run("grade", sitting.folder) == 1
    out, err = capsys.readouterr()
    assert f"{sitting.results_book} cannot be written: it is a folder." in err
    assert out.endswith(f"  Results: {sitting.results_page}\n"), "what is not there is not named"
    assert "1 graded, 0 not graded, 3 of the class not handed in." in out


# --- Results ----------------------------------------------------------------------------------------------------------


def test_results_go_by_group_as_the_class_list_has_them_and_tell_who_has_not_handed_in(
    four: Path, capsys: pytest.CaptureFixture[str]
):
    people = (PEOPLE[12], PEOPLE[0], PEOPLE[13], PEOPLE[1])
    assert run("set", book_of(four / "turned.xlsx", people), "--out", four, "--sitting", "turned") == 0
    sitting = Sitting.open(four / "turned")
    hand_in(sitting, keys=[0], untouched=[3])
    graded(sitting, capsys)
    sheet = openpyxl.load_workbook(sitting.results_book)["Results"]
    assert [[row[place].value for place in (0, 2, 5, 7)] for row in sheet.iter_rows(min_row=5)] == [
        ["h13", "Thu", "not handed in", None],
        ["h14", "Thu", 0, 0],
        ["h01", "Mon", 100, 100],
        ["h02", "Mon", "not handed in", None],
    ], "groups in the order of sheet Trainees"


def test_a_file_that_is_taken_back_keeps_its_mark_and_is_named(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0, 1])
    graded(sitting, capsys)
    file = min(sitting.returned.iterdir())
    file.unlink()
    lab = file.stem.split("-", 2)[2]
    kept = {"trainee": "h01", "lab": lab, "file": f"returned/{file.name}", "reason": "is not there any more"}
    assert graded(sitting, capsys)["kept"] == [kept]
    assert run("results", sitting.folder) == 0
    assert (
        f"Marks kept without their files: h01 (returned/{file.name} is not there any more). To drop such marks delete "
        "instructor/marks/LAB.json of the lab.\n"
    ) in capsys.readouterr().out
    assert per_cents(sitting) == [100, 100, "not handed in", "not handed in"]
    sitting.mark_file(lab).unlink()
    assert graded(sitting, capsys)["kept"] == []
    assert per_cents(sitting) == ["not handed in", 100, "not handed in", "not handed in"]


def per_cents(sitting: Sitting) -> list[object]:
    sheet = openpyxl.load_workbook(sitting.results_book)["Results"]
    return [row[5].value for row in sheet.iter_rows(min_row=5)]


def test_grading_some_files_keeps_what_was_graded_before(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_in(sitting, keys=[0, 1])
    graded(sitting, capsys)
    graded(sitting, capsys, min(sitting.returned.iterdir()))
    sheet = openpyxl.load_workbook(sitting.results_book)["Results"]
    assert [row[5].value for row in sheet.iter_rows(min_row=5)][:2] == [100, 100]


def test_error_marks_that_cannot_be_read_are_named_and_graded_again(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, keys=[0, 1])
    graded(sitting, capsys)
    file = min(sitting.grades.iterdir(), key=lambda each: sitting.scenario(each.stem).trainee.id)
    file.write_text(file.read_text(encoding="utf-8")[:500], encoding="utf-8")
    assert run("results", sitting.folder) == 1
    out, err = capsys.readouterr()
    assert out.startswith("Results: 1 handed in, 3 of the class not handed in.\n")
    reason = (
        "The marks of h01 cannot be read, so nothing counts as handed in. "
        f"Run 'trainer grade {sitting.folder}' again; if the file that was marked is gone, delete this one."
    )
    assert err == f"instructor/marks/{file.name}: {reason}\n"
    sheet = openpyxl.load_workbook(sitting.results_book)["Not graded"]
    assert [[cell.value for cell in row] for row in sheet.iter_rows(min_row=4)] == [
        [f"instructor/marks/{file.name}", reason]
    ]
    graded(sitting, capsys)
    assert run("results", sitting.folder) == 0
    assert capsys.readouterr().out.startswith("Results: 2 handed in, ")


def test_error_marks_that_cannot_be_read_are_named_when_another_file_is_graded(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_in(sitting, keys=[0, 1])
    graded(sitting, capsys)
    first, second = sorted(sitting.returned.iterdir(), key=lambda each: each.name)
    lab = first.stem.split("-", 2)[2]
    (sitting.grades / f"{lab}.json").write_text("{", encoding="utf-8")
    assert run("grade", sitting.folder, second) == 1
    assert capsys.readouterr().err.startswith(f"instructor/marks/{lab}.json: The marks of h01 cannot be read")


# --- The demo ---------------------------------------------------------------------------------------------------------


def test_the_demo_shows_every_way_of_working(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("demo", "--out", tmp_path) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for number, way in enumerate(FILLINGS, 1):
        assert f"  t{number:02}  {way.shows}\n" in out
    percents = {
        found[1]: Decimal(found[2])
        for found in re.finditer(r"^(t\d\d) +\S+ \S.*? +(\d[\d.]*) +\d+ of \d+", out, re.MULTILINE)
    }
    assert list(percents) == [f"t{number:02}" for number in range(1, 9)]
    assert [percents[f"t0{number}"] for number in (1, 2, 3)] == [100, 100, 100]
    assert 90 < percents["t04"] < 100, "an error is charged once"
    assert all(60 < percents[f"t0{number}"] < 100 for number in (5, 6, 7))
    assert percents["t08"] < 50
    paths = [Path(line.split(":", 1)[1].strip()) for line in out.split("Look at:\n")[1].splitlines()]
    assert len(paths) == 8
    assert all(path.is_file() for path in paths)


@pytest.mark.many
def test_the_demo_can_be_run_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("demo", "--out", tmp_path) == 0
    first = capsys.readouterr().out
    assert run("demo", "--out", tmp_path) == 0
    assert capsys.readouterr().out == first


# --- Files that are not there, wrong or in the way --------------------------------------------------------------------


def test_error_a_template_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "mine.xlsx"
    file.write_bytes(b"mine")
    assert run("template", file) == 1
    assert capsys.readouterr().err == f"{file} is there already and was left as it is. Choose another name.\n"
    assert file.read_bytes() == b"mine"


def test_error_a_template_ends_in_xlsx(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("template", tmp_path / "mine.ods") == 1
    assert (
        capsys.readouterr().err == f"{tmp_path / 'mine.ods'} does not end in .xlsx. Write it like my-exercise.xlsx.\n"
    )


def test_error_a_template_needs_its_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("template", tmp_path / "none" / "mine.xlsx") == 1
    assert capsys.readouterr().err == f"There is no folder {tmp_path / 'none'}. Make it first, or choose another one.\n"


@pytest.mark.parametrize("command", ["check", "set"])
def test_error_an_exercise_whose_name_is_mistyped_is_offered_and_a_folder_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
):
    book_of(tmp_path / "harbour.xlsx", PEOPLE[:1])
    file = tmp_path / "harbor.xlsx"
    assert run(command, file) == 1
    assert capsys.readouterr().err == f"There is no file {file}. Did you mean harbour.xlsx?\n"
    assert run(command, tmp_path) == 1
    assert capsys.readouterr().err == f"{tmp_path} is a folder, not an exercise workbook. Give the .xlsx file itself.\n"


@pytest.mark.parametrize("command", ["check", "set"])
def test_error_an_exercise_that_is_not_there_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str):
    file = tmp_path / "none.xlsx"
    assert run(command, file) == 1
    assert capsys.readouterr().err == f"There is no file {file}. 'trainer template {file}' writes one to begin with.\n"


@pytest.mark.parametrize("command", ["check", "set"])
def test_error_an_exercise_that_is_no_workbook_is_told_with_its_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
):
    file = tmp_path / "mine.xlsx"
    file.write_bytes(b"%PDF-1.7")
    assert run(command, file) == 1
    assert capsys.readouterr().err == (
        f"{file}: This is a PDF, not a workbook. Name the exercise workbook itself, an .xlsx file.\n"
    )


@pytest.mark.parametrize("command", ["check", "set"])
@pytest.mark.parametrize("folder", ["hand-out", "instructor/keys", "marked"])
def test_error_the_workbook_of_a_lab_is_told_from_an_exercise(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], command: str, folder: str
):
    hand_in(sitting, keys=[0])
    graded(sitting, capsys)
    (lab,) = (each.stem.split("-", 2)[2] for each in sitting.returned.iterdir())
    (file,) = (sitting.folder / folder).glob(f"*{lab}.xlsx")
    assert run(command, file) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == (
        f"{file}: This is a workbook of lab {lab}, not an exercise workbook. What trainees hand in goes into the folder "
        "returned/ of its sitting; then: trainer grade SITTING.\n"
    )


# --- Usage and crashes ------------------------------------------------------------------------------------------------

COMMANDS = ["demo", "template", "check", "set", "grade"]


@pytest.mark.parametrize("arguments", [["fly"], ["set"], ["check"], ["grade", "--jsn", "x"]])
def test_error_a_wrong_command_line_is_usage(arguments: list[str]):
    with pytest.raises(SystemExit) as left:
        run(*arguments)
    assert left.value.code == 2


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_a_help_with_an_example(command: str, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as left:
        run(command, "--help")
    assert left.value.code == 0
    assert f"Example: trainer {command}" in capsys.readouterr().out


def test_error_a_disk_that_is_full_behind_standard_output_is_told_and_is_no_fault_of_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    from trainer.commands import check

    def full(_file: Path, *, as_json: bool) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(check, "run", full)
    monkeypatch.chdir(tmp_path)
    assert run("check", "x.xlsx") == 1
    assert capsys.readouterr().err.startswith("Not all could be printed or written: No space left on device.")
    assert not (tmp_path / "output").exists()


def test_error_a_crash_gives_a_short_notice_and_a_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    from trainer.commands import check

    def crash(_file: Path, *, as_json: bool) -> int:
        raise RuntimeError("the reason")

    monkeypatch.setattr(check, "run", crash)
    monkeypatch.chdir(tmp_path)
    assert run("check", "x.xlsx") == 3
    log = tmp_path / "output" / "trainer-error.log"
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"Something went wrong that should not have. Please send us this file: {log}\n"
    assert "RuntimeError: the reason" in log.read_text(encoding="utf-8")


def test_an_interrupt_is_no_crash(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    from trainer.commands import check

    def stop(_file: Path, *, as_json: bool) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(check, "run", stop)
    assert run("check", "x.xlsx") == 130
    assert capsys.readouterr().err == "Stopped. What was written is complete; run the same command again to go on.\n"


# --- A class of thirty ------------------------------------------------------------------------------------------------


@pytest.mark.many
def test_a_class_of_thirty_gets_thirty_labs_and_every_key_is_right(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    people = [*PEOPLE, *({**PEOPLE[0], "id": f"k{number}", "name": f"Kit {number}"} for number in range(6))]
    file = book_of(tmp_path / "harbour.xlsx", people)
    assert run("set", file, "--out", tmp_path, "--json") == 0
    labs = json.loads(capsys.readouterr().out)["labs"]
    assert len(labs) == 30
    assert all(lab["proven"] for lab in labs)
    sitting = Sitting.open(tmp_path / CODE)
    scenarios = [sitting.scenario(lab["lab"]) for lab in labs]
    assert len({lab.lab_number for lab in scenarios}) == 30
    assert len({lab.block for lab in scenarios}) == 30
    assert len({replace_trainee(lab) for lab in scenarios}) == 30
    assert len({sizes(lab) for lab in scenarios}) == 1, "equally hard for all"
    hand_in(sitting, keys=range(30))
    keys = graded(sitting, capsys)
    assert [lab["percent"] for lab in keys["graded"]] == ["100"] * 30
    for returned in sitting.returned.iterdir():
        returned.unlink()
    hand_in(sitting, untouched=range(30))
    untouched = graded(sitting, capsys)
    assert [lab["percent"] for lab in untouched["graded"]] == ["0"] * 30
    assert not [notice for lab in untouched["graded"] for notice in lab["notices"]]


def replace_trainee(lab: Scenario) -> str:
    """A lab without what names it, as text."""
    return repr(replace(lab, lab_number="", trainee=replace(lab.trainee, id="", name="", group="")))


def sizes(lab: Scenario) -> tuple[object, ...]:
    """What makes a lab hard: how many rows and which lengths."""
    return (
        tuple(vlan.addresses_needed for vlan in lab.vlans),
        (lab.link_length, usable_count(lab.block.prefixlen)),
        tuple(len(section.rows(lab)) for section in FORM),
    )


def test_a_value_that_a_brief_does_not_know_hides_no_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Every problem is told at once."""
    file = book_of(tmp_path / "harbour.xlsx", PEOPLE[:1])
    file.with_suffix(".md").write_text("# Bread\n\n{{ labb }}\n\n![the rack](rack.png)\n", encoding="utf-8")
    assert run("check", file) == 1
    told = capsys.readouterr().out
    assert "labb" in told
    assert "the picture rack.png is not printed, only its text: the rack." in told
