"""Marks belong to a file that was there: what becomes of files between two gradings, and what is not meant as a hand-in."""

import gc
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from on_request import many
from sittings_compared import differences, set_words, tree, with_secret

from trainer import cli
from trainer.commands import watched_reader
from trainer.commands.demo_class import key_texts
from trainer.commands.hand_ins import hand_in
from trainer.sheets import paper
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import ReturnedBook
from trainer.sheets.overrides_book import write_overrides_book
from trainer.store import Sitting

OLD, NEW = 1_000_000_000, 1_000_000_500


@pytest.fixture(scope="module")
def class_of_three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sitting = with_secret(tmp_path_factory.mktemp("three") / "s")
    assert cli.main(set_words(sitting, 3)) == 0
    return sitting.folder


@pytest.fixture
def sitting(class_of_three: Path, tmp_path: Path) -> Sitting:
    shutil.copytree(class_of_three, tmp_path / "class" / "s")
    return Sitting.open(tmp_path / "class" / "s")


def lab_number(sitting: Sitting, trainee: str) -> str:
    return next(each.lab for each in sitting.register().labs if each.trainee == trainee)


def filled(sitting: Sitting, trainee: str, *, wrong: int = 0) -> bytes:
    """What a trainee may hand in: the key's answers, but the first cells of them wrong."""
    lab = sitting.scenario(lab_number(sitting, trainee))
    texts = key_texts(lab)
    for cell in list(texts)[:wrong]:
        texts[cell] = "no idea"
    return fill_in(sitting.handout_file(lab).read_bytes(), lab, texts)


def put(sitting: Sitting, name: str, data: bytes, saved_at: int = OLD) -> Path:
    file = sitting.returned / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    os.utime(file, (saved_at, saved_at))
    return file


def graded(sitting: Sitting, capsys: pytest.CaptureFixture[str], *files: Path) -> dict[str, Any]:
    capsys.readouterr()
    cli.main(["grade", str(sitting.folder), *map(str, files), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def results(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    cli.main(["results", str(sitting.folder), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def files_and_marks(found: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {lab["trainee"]: (lab["file"].removeprefix("returned/"), lab["percent"]) for lab in found["graded"]}


# --- What becomes of files --------------------------------------------------------------------------------------------


def test_a_file_replaced_by_anothers_under_its_name_keeps_the_first_mark_and_gives_the_second(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    put(sitting, "work.xlsx", filled(sitting, "o02", wrong=4))
    found = graded(sitting, capsys)
    assert list(files_and_marks(found)) == ["o02"]
    (kept,) = found["kept"]
    assert (kept["trainee"], kept["file"], kept["reason"]) == ("o01", "returned/work.xlsx", "is another file now")
    assert results(sitting, capsys)["handed_in"] == 2
    assert results(sitting, capsys)["kept"] == [kept]
    assert "is another file now; they are kept." in sitting.results_page.read_text(encoding="utf-8")


def test_a_file_replaced_by_anothers_is_noticed_also_where_no_digest_was_kept(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    file = sitting.mark_file(lab_number(sitting, "o01"))
    record = json.loads(file.read_text(encoding="utf-8"))
    del record["digest"]
    file.write_text(json.dumps(record), encoding="utf-8")
    put(sitting, "work.xlsx", filled(sitting, "o02"))
    assert [each["trainee"] for each in graded(sitting, capsys)["kept"]] == ["o01"]


def test_a_renamed_file_is_recognised(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    file = put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    file.rename(file.with_name("other name.xlsx"))
    assert results(sitting, capsys)["kept"] == []
    found = graded(sitting, capsys)
    assert (found["kept"], found["anew"], found["changed"]) == ([], [], [])
    assert files_and_marks(found) == {"o01": ("other name.xlsx", "100")}


def test_files_moved_to_an_archive_keep_their_marks_and_are_named(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], tmp_path: Path
):
    for trainee in ("o01", "o02"):
        put(sitting, f"{trainee}.xlsx", filled(sitting, trainee))
    graded(sitting, capsys)
    shutil.move(sitting.returned, tmp_path / "archive")
    found = results(sitting, capsys)
    assert found["handed_in"] == 2
    assert [each["file"] for each in found["kept"]] == ["returned/o01.xlsx", "returned/o02.xlsx"]
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == (
        "Marks kept without their files: o01 (returned/o01.xlsx is not there any more), o02 (returned/o02.xlsx is not there "
        "any more). To drop such marks delete instructor/marks/LAB.json of the lab."
    )


def test_a_file_that_was_damaged_later_keeps_its_mark_and_is_named(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    data = filled(sitting, "o01")
    put(sitting, "work.xlsx", data)
    graded(sitting, capsys)
    put(sitting, "work.xlsx", data[: len(data) // 2])
    found = graded(sitting, capsys)
    assert [each["file"] for each in found["not_graded"]] == ["returned/work.xlsx"]
    assert [each["trainee"] for each in found["kept"]] == ["o01"]
    assert results(sitting, capsys)["handed_in"] == 1


def test_the_same_lab_with_other_bytes_is_marked_anew_and_named(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    put(sitting, "work.xlsx", filled(sitting, "o01", wrong=4))
    number = lab_number(sitting, "o01")
    capsys.readouterr()
    assert cli.main(["grade", str(sitting.folder)]) == 0
    out = capsys.readouterr().out
    assert f"Marked anew: o01 ({number}): returned/work.xlsx is not what it was when it was graded last.\n" in out
    assert f"Marks changed: o01 ({number}) from 100 to " in out
    assert graded(sitting, capsys)["anew"] == []


def test_changed_marks_are_told_also_when_the_run_that_found_them_was_killed(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    put(sitting, "work.xlsx", filled(sitting, "o01", wrong=4))

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("trainer.commands.grade.read_results", killed)
    assert cli.main(["grade", str(sitting.folder)]) == 130
    monkeypatch.undo()
    assert [each["trainee"] for each in graded(sitting, capsys)["changed"]] == ["o01"]
    assert graded(sitting, capsys)["changed"] == []


# --- What is not meant as a hand-in -----------------------------------------------------------------------------------


def test_a_marked_workbook_counts_for_nothing(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    number = lab_number(sitting, "o01")
    marked = sitting.marked_book(sitting.scenario(number)).read_bytes()
    put(sitting, "back.xlsx", marked, NEW)
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == ("returned/work.xlsx", "100")
    assert lab["notices"] == [
        "returned/back.xlsx is a marked workbook, as the program gives it back, and was not graded; take it out."
    ]
    (sitting.returned / "work.xlsx").unlink()
    found = graded(sitting, capsys)
    assert found["graded"] == []
    assert found["not_graded"][0]["reason"].startswith("This is a marked workbook, as the program gives it back")


def test_a_blank_workbook_later_than_a_filled_one_takes_nothing_away(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    blank = sitting.handout_file(sitting.scenario(lab_number(sitting, "o01"))).read_bytes()
    put(sitting, "later.xlsx", blank, NEW)
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == ("returned/work.xlsx", "100")
    assert lab["notices"] == ["returned/later.xlsx is blank and does not count; returned/work.xlsx does."]
    (sitting.returned / "work.xlsx").unlink()
    assert files_and_marks(graded(sitting, capsys)) == {"o01": ("later.xlsx", "0")}, "alone it is what was handed in"


@pytest.mark.parametrize("name", ["o02.xlsx", "o02/work.xlsx", "from o02, late.xlsx", "O02_final.xlsx"])
def test_a_file_under_somebody_elses_name_replaces_no_own_one(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], name: str
):
    put(sitting, "mine.xlsx", filled(sitting, "o01"))
    put(sitting, name, filled(sitting, "o01", wrong=4), NEW)
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == ("returned/mine.xlsx", "100")
    assert lab["notices"][0] == (
        f"returned/{name} may be somebody else's work, or is a link, and does not count; returned/mine.xlsx does."
    )
    assert lab["notices"][1].startswith(f"THEIR ANSWERS DIFFER: returned/mine.xlsx earns 100 of 100, returned/{name} ")
    (sitting.returned / "mine.xlsx").unlink()
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["file"] == f"returned/{name}"
    assert lab["notices"][0].startswith("In the name of the file or its folder stands o02, but lab ")


def test_an_id_inside_a_word_is_nobodys_name(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "o023 tomato02.xlsx", filled(sitting, "o01"))
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["notices"] == []


def test_a_link_replaces_no_file(sitting: Sitting, capsys: pytest.CaptureFixture[str], tmp_path: Path):
    put(sitting, "work.xlsx", filled(sitting, "o01"))
    elsewhere = tmp_path / "elsewhere.xlsx"
    elsewhere.write_bytes(filled(sitting, "o01", wrong=4))
    (sitting.returned / "a link.xlsx").symlink_to(elsewhere)
    (lab,) = graded(sitting, capsys)["graded"]
    assert (lab["file"], lab["percent"]) == ("returned/work.xlsx", "100")


def decide(sitting: Sitting, *rows: tuple[str, ...]) -> None:
    import io

    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(write_overrides_book()))
    for number, row in enumerate(rows, 8):
        for column, text in enumerate(row, 1):
            book["Overrides"].cell(number, column).value = text or None
    book.save(sitting.overrides_book)


def test_the_instructor_chooses_which_file_counts(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "first.xlsx", filled(sitting, "o01"))
    put(sitting, "second.xlsx", filled(sitting, "o01", wrong=4), NEW)
    put(sitting, "third.xlsx", filled(sitting, "o02"))
    decide(sitting, ("o01", "", "", "", "use this file", "first.xlsx", "The second was the neighbour's."))
    found = graded(sitting, capsys)
    assert files_and_marks(found)["o01"] == ("first.xlsx", "100")
    (lab,) = (each for each in found["graded"] if each["trainee"] == "o01")
    assert lab["notices"][0] == "The instructor has chosen returned/first.xlsx: The second was the neighbour's."
    decide(sitting, ("o01", "", "", "", "use this file", "nothing.xlsx", "So be it."))
    capsys.readouterr()
    cli.main(["grade", str(sitting.folder)])
    assert (
        "Decision without effect: o01, use this file: none of this trainee's is nothing.xlsx.\n"
        in capsys.readouterr().out
    )


def test_error_a_decision_about_a_file_is_about_no_cell(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    decide(
        sitting,
        ("o01", "Subnets", "", "", "use this file", "", "So be it."),
        ("all", "", "", "", "use this file", "a", "b"),
    )
    assert cli.main(["grade", str(sitting.folder)]) == 1
    told = capsys.readouterr().err
    assert "Overrides!B8: found 'Subnets'; a decision about a file is about no cell. Leave this blank." in told
    assert "Overrides!F8: found nothing; a decision has a value. Write one." in told
    assert "Overrides!A9: found 'all'; a trainee of this sitting stands here: " in told


# --- Nothing is missed in silence -------------------------------------------------------------------------------------


def test_what_is_no_hand_in_is_left_aside_by_name(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    names = ["o01.xlsx.bak", "o01.xlsx~", "~$o01.xlsx", "thumbs.db", ".hidden", "@eaDir/o01.xlsx", "o01.xlsx.part"]
    for name in names:
        put(sitting, name, filled(sitting, "o01"))
    found = graded(sitting, capsys)
    assert (found["graded"], found["not_graded"]) == ([], [])
    assert sorted(found["left_aside"]) == sorted(f"returned/{name.removesuffix('/o01.xlsx')}" for name in names)
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert "Left aside, as programs and systems leave such files: returned/.hidden, " in capsys.readouterr().out


def test_what_only_stands_for_a_file_is_told(sitting: Sitting, capsys: pytest.CaptureFixture[str], tmp_path: Path):
    put(sitting, ".o01.xlsx.elsewhere", b"x")
    put(sitting, "o02.url", b"[InternetShortcut]\r\nURL=https://example.org/o02.xlsx\r\n")
    put(sitting, "o03.cloud", b'{"url": "https://example.org/open?id=1", "doc_id": "1"}')
    put(sitting, "o04.link", b"L\0\0\0\x01\x14\x02\0\0\0\0\0\xc0\0\0\0")
    put(sitting, "empty.xlsx", b"")
    (tmp_path / "folder").mkdir()
    (sitting.returned / "of a group").symlink_to(tmp_path / "folder")
    reasons = {each["file"].removeprefix("returned/"): each["reason"] for each in graded(sitting, capsys)["not_graded"]}
    shortcut = "This is a shortcut to a file that is kept elsewhere, not a workbook. Ask for the workbook itself, saved as .xlsx."
    assert reasons == {
        ".o01.xlsx.elsewhere": "It only stands for a file that is kept elsewhere. Fetch that file, and put it in its place.",
        "o02.url": shortcut,
        "o03.cloud": shortcut,
        "o04.link": shortcut,
        "empty.xlsx": "The file is empty. Ask for the file again.",
        "of a group": "It is a link to a folder. Put the files themselves in its place.",
    }


@pytest.fixture
def refused(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Folders that cannot be looked into; root may look into all, so the system's refusal is made here."""
    folders: list[Path] = []
    scandir = os.scandir

    def scan(path: Any = ".") -> Any:
        if Path(path) in folders:
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", scan)
    return folders


@pytest.mark.parametrize("name", ["locked", ""])
def test_error_a_folder_that_cannot_be_looked_into_is_told(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], refused: list[Path], name: str
):
    put(sitting, "locked/o01.xlsx", filled(sitting, "o01"))
    refused.append(sitting.returned / name)
    capsys.readouterr()
    assert cli.main(["grade", str(sitting.folder), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["not_graded"] == [
        {
            "file": f"returned/{name}".rstrip("/"),
            "reason": "The folder cannot be looked into (Permission denied). See that you may read it, or move its files here.",
        }
    ]


# --- One file never stops the others ----------------------------------------------------------------------------------


def test_error_a_crash_in_marking_stops_no_other_paper(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    put(sitting, "one.xlsx", filled(sitting, "o01"))
    put(sitting, "two.xlsx", filled(sitting, "o02"))
    mark, number = watched_reader.mark, lab_number(sitting, "o01")

    def with_a_fault(scenario: Any, form: Any, **how: Any) -> Any:
        if scenario.lab_number == number:
            raise KeyError("no such row")
        return mark(scenario, form, **how)

    reader = watched_reader.WatchedReader()
    reader = watched_reader.WatchedReader(begins=False)  # in this process, so that the fault can be put in
    monkeypatch.setattr(watched_reader, "mark", with_a_fault)
    monkeypatch.setattr("trainer.commands.grade.watched_reader", reader)
    monkeypatch.chdir(tmp_path)
    capsys.readouterr()
    assert cli.main(["grade", str(sitting.folder), "--json"]) == 3
    found = json.loads(capsys.readouterr().out)
    assert list(files_and_marks(found)) == ["o02"]
    log = (tmp_path / "output" / "trainer-error.log").resolve()
    assert found["not_graded"] == [
        {
            "file": "returned/one.xlsx",
            "reason": "Marking it went wrong, which is our fault and not that of whoever filled it in. Please send us this "
            f"file: {log}",
        }
    ]
    assert "Marking returned/one.xlsx:\nTraceback" in log.read_text(encoding="utf-8")
    assert "KeyError: 'no such row'" in log.read_text(encoding="utf-8")


def test_no_read_workbook_is_kept_of_what_came_back(sitting: Sitting):
    """Twelve large files would else take hundreds of megabytes."""

    def books() -> int:
        gc.collect()
        return sum(type(each) is ReturnedBook for each in gc.get_objects())

    file = put(sitting, "one.xlsx", filled(sitting, "o01"))
    before = books()
    reader = watched_reader.WatchedReader(begins=False)
    each = hand_in(sitting, sitting.register(), file, reader)
    assert books() == before
    assert each.form.filled.texts


def test_results_and_marked_work_are_for_the_instructor_alone(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "one.xlsx", filled(sitting, "o01"))
    graded(sitting, capsys)
    modes = {name: mode for name, (mode, _) in tree(sitting.folder).items()}
    private = [name for name in modes if name.startswith(("results", "marked/"))]
    assert len(private) == 5, "three results, a marked workbook and a page"
    assert {modes[name] for name in private} == {0o600}
    assert modes["marked"] == 0o700
    assert modes["hand-out"] & 0o055


def test_groups_that_differ_in_signs_only_have_files_of_their_own(sitting: Sitting):
    groups = ["Mon", "mon-1", "mon 1", "mon+1", "+", "-", "Møn", "Mön"]
    assert len({sitting.class_file("feedback", group).name.casefold() for group in groups}) == len(groups)
    assert sitting.class_file("feedback", "Mon").name == "feedback-Mon.html"


# --- Places and streams that are closed -------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="a shell that closes streams is elsewhere")
@pytest.mark.parametrize("closed", many([">&-", "2>&-", ">&- 2>&-"], [">&- 2>&-"]))
def test_error_closed_streams_end_in_words_and_status_1(sitting: Sitting, closed: str):
    put(sitting, "one.xlsx", filled(sitting, "o01"))
    done = subprocess.run(
        ["sh", "-c", f'exec "$@" {closed}', "sh", sys.executable, "-m", "trainer", "grade", str(sitting.folder)],
        check=False,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
    )
    assert done.returncode == 1
    assert list(sitting.last_grades().by_lab) == [lab_number(sitting, "o01")], "it was graded all the same"
    if closed == ">&-":
        assert done.stderr == "Standard output or standard error is closed, so not all that was found could be said.\n"


def test_error_what_the_system_refuses_is_told_with_status_1(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    def refuse(self: Path, *_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "glob", refuse)
    assert cli.main(["results", str(sitting.folder)]) == 1
    assert capsys.readouterr().err.startswith(
        f"{sitting.folder} cannot be read or written (Permission denied). See that"
    )


def test_error_a_read_only_place_is_told_with_status_1(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    def refuse(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system", "somewhere")

    before = tree(sitting.folder)
    for name in ("write_text", "write_bytes", "unlink", "chmod", "replace", "rename"):
        monkeypatch.setattr(Path, name, refuse)
    monkeypatch.setattr("os.open", refuse)
    for command in ("grade", "results", "key"):
        assert cli.main([command, str(sitting.folder)]) == 1
        assert "cannot be written into (Read-only file system), so nothing was done." in capsys.readouterr().err
    assert differences(tree(sitting.folder), before) == []


def test_a_lab_number_in_a_name_is_looked_for_without_a_pattern_for_every_lab(monkeypatch: pytest.MonkeyPatch):
    """Patterns are kept for 512 labs only; of a thousand each file would have a thousand made."""
    looked_for: list[str] = []
    search = re.search

    def counting(pattern: str, text: str) -> Any:
        looked_for.append(pattern)
        return search(pattern, text)

    monkeypatch.setattr(paper.re, "search", counting)
    known = [f"{number:03}-ABCD" for number in range(1000)]
    assert paper.lab_number_in_name("h01-417-abcd (2)", known) == "417-ABCD"
    assert paper.lab_number_in_name("h01-9417-abcd", known) == ""
    assert len(looked_for) == 2
