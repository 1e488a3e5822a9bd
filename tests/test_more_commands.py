"""The commands around grading: results, keys to print, groups, re-sits, excused trainees."""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import changed
from papers import as_paper

from trainer import cli
from trainer.commands import printing
from trainer.commands.printing import MOST_IN_A_FILE, LabPage, Printing, pdfs_of, write_class_file
from trainer.pages.blocks import Document, Paper, Paragraph
from trainer.sheets.exercise_book import write_exercise_book
from trainer.store import Sitting

PEOPLE = (
    {"id": "h01", "name": "Ada <b>Brook", "group": "Mon", "attempt": "", "is_excused": ""},
    {"id": "h02", "name": "Ben Ash", "group": "Thu", "attempt": "", "is_excused": "yes"},
    {"id": "h03", "name": "Cleo Fern", "group": "Thu", "attempt": "", "is_excused": ""},
)


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


@pytest.fixture
def sitting(tmp_path: Path) -> Sitting:
    """A class of three, set, nothing handed in."""
    file = tmp_path / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": PEOPLE}, resits="capped")))
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    return Sitting.open(tmp_path / "s")


def files_of(sitting: Sitting) -> set[str]:
    return {path.relative_to(sitting.folder).as_posix() for path in sitting.folder.rglob("*") if path.is_file()}


def key_of(sitting: Sitting, trainee: str) -> Path:
    return next(file for file in sitting.keys.glob("*.xlsx") if file.name.startswith(f"KEY-{trainee}"))


def hand_in_key(sitting: Sitting, trainee: str) -> None:
    key = key_of(sitting, trainee)
    (sitting.returned / key.name).write_bytes(as_paper(key.read_bytes()))


def test_absent_and_excused_trainees_stand_in_the_results_as_such(sitting: Sitting) -> None:
    hand_in_key(sitting, "h01")
    assert run("grade", sitting.folder) == 0
    sheet = openpyxl.load_workbook(sitting.results_book)["Results"]
    assert [(row[0].value, row[5].value) for row in sheet.iter_rows(min_row=5)] == [
        ("h01", 100),
        ("h02", "excused"),
        ("h03", "not handed in"),
    ]
    text = sitting.results_text.read_text(encoding="utf-8-sig")
    assert text.splitlines()[1].startswith("h01,Ada <b>Brook,Mon,100,100,100,20,5,")
    assert text.splitlines()[2] == "h02,Ben Ash,Thu" + "," * 18


def test_all_feedback_stands_in_one_file_in_the_order_of_the_results(sitting: Sitting) -> None:
    assert run("grade", sitting.folder) == 0
    file = sitting.class_file("feedback", None)
    assert not file.exists()
    for trainee in ("h03", "h01"):
        hand_in_key(sitting, trainee)
    assert run("grade", sitting.folder) == 0
    text = file.read_text(encoding="utf-8")
    assert re.findall(r"<dt>Trainee</dt><dd>(.*?)</dd>", text) == ["h01", "h03"]
    places = re.findall(r' id="(.*?)"', text)
    assert len(places) == len(set(places)) > 10
    assert {link.removeprefix("#") for link in re.findall(r'href="(.*?)"', text)} <= set(places)


def test_feedback_of_a_group_stands_in_a_file_of_its_own_too(sitting: Sitting) -> None:
    for trainee in ("h03", "h01"):
        hand_in_key(sitting, trainee)
    assert run("grade", sitting.folder, "--group", "mon") == 0
    text = sitting.class_file("feedback", "mon").read_text(encoding="utf-8")
    assert re.findall(r"<dt>Trainee</dt><dd>(.*?)</dd>", text) == ["h01"]


def test_feedback_and_results_are_written_as_pdf_where_that_is_asked_for(sitting: Sitting) -> None:
    hand_in_key(sitting, "h01")
    assert run("grade", sitting.folder) == 0
    assert list(sitting.folder.rglob("*.pdf")) == []
    assert run("grade", sitting.folder, "--pdf", "--paper", "letter") == 0
    (page,) = sitting.marked.glob("*.html")
    files = (page, sitting.results_page, sitting.class_file("feedback", None))
    assert all(file.with_suffix(".pdf").read_bytes().startswith(b"%PDF") for file in files)
    assert "size: letter" in page.read_text(encoding="utf-8")


def test_the_results_page_leads_to_the_feedback_pages_that_are_there(sitting: Sitting) -> None:
    for trainee in ("h01", "h03"):
        hand_in_key(sitting, trainee)
    assert run("grade", sitting.folder) == 0
    links = re.findall(r'href="(.*?)"', sitting.results_page.read_text(encoding="utf-8"))
    assert sorted(links) == sorted(f"marked/{page.name}" for page in sitting.marked.glob("*.html"))
    min(sitting.marked.glob("*.html")).unlink()
    assert run("results", sitting.folder) == 0
    assert re.findall(r'href="(.*?)"', sitting.results_page.read_text(encoding="utf-8")) == [max(links)]


def test_results_are_written_again_with_a_decimal_comma(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    hand_in_key(sitting, "h01")
    run("grade", sitting.folder)
    sitting.results_book.unlink()
    capsys.readouterr()
    assert run("results", sitting.folder, "--decimal", "comma") == 0
    assert capsys.readouterr().out.splitlines() == [
        "Results: 1 handed in, 1 of the class not handed in, 1 excused.",
        f"  {sitting.results_book}",
        f"  {sitting.results_page}",
        f"  {sitting.results_text}",
    ]
    assert sitting.results_book.is_file()
    assert ";" in sitting.results_text.read_text(encoding="utf-8-sig")


def test_a_resit_is_a_fresh_lab_in_the_same_sitting_and_touches_no_other(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {name: (sitting.folder / name).read_bytes() for name in files_of(sitting)}
    file = tmp_path / "harbour.xlsx"
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--attempt", "2", "--trainee", "h01") == 0
    assert capsys.readouterr().out.startswith("Sitting s: 3 labs") is False
    after = files_of(sitting)
    new = {name for name in after if name not in before}
    assert len(new) == 4
    changed_files = {name for name in before if (sitting.folder / name).read_bytes() != before[name]}
    assert changed_files == {"instructor/register.json", "instructor/print/roll.html"}
    labs = [each for each in sitting.register().labs if each.trainee == "h01"]
    first, second = (sitting.scenario(each.lab) for each in labs)
    assert (first.trainee.attempt, second.trainee.attempt) == (1, 2)
    assert first.block != second.block
    hand_in_key(sitting, "h01-2-")
    run("grade", sitting.folder)
    row = next(openpyxl.load_workbook(sitting.results_book)["Results"].iter_rows(min_row=5))
    assert (row[0].value, row[3].value, row[7].value) == ("h01", "2", 60)


def test_a_group_is_graded_by_itself(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    for trainee in ("h01", "h03"):
        hand_in_key(sitting, trainee)
    capsys.readouterr()
    assert run("grade", sitting.folder, "--group", "thu") == 0
    assert capsys.readouterr().out.splitlines()[1].startswith("h03 ")
    assert [file.name.split("-")[0] for file in sorted(sitting.marked.glob("*.xlsx"))] == ["h03"]


def test_error_a_group_that_nobody_is_in_is_refused_with_the_nearest(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    for command in (("grade", sitting.folder), ("key", sitting.folder), ("set", tmp_path / "harbour.xlsx")):
        assert run(*command, "--out", tmp_path, "--group", "Thur") == 1
        assert capsys.readouterr().err == "Nobody is in group 'Thur'. Did you mean Thu?\n"


def test_error_a_group_where_there_are_none_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "harbour.xlsx"
    people = tuple({**each, "group": ""} for each in PEOPLE)
    file.write_bytes(write_exercise_book(changed(tables={"trainees": people})))
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--group", "Mon") == 1
    assert capsys.readouterr().err == (
        "Nobody is in group 'Mon'. Nobody is in any: column Group of sheet Trainees is blank.\n"
    )


def test_error_a_trainee_who_is_not_in_the_group_is_refused_and_nothing_is_written(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "harbour.xlsx"
    before = files_of(sitting)
    capsys.readouterr()
    words = "h01 is in group Mon, not in Thu. Leave out --group, or name somebody of it.\n"
    assert run("key", sitting.folder, "h01", "--group", "Thu") == 1
    assert capsys.readouterr().err == words
    for code in ("s", "another"):
        assert (
            run(
                "set",
                file,
                "--out",
                tmp_path,
                "--sitting",
                code,
                "--trainee",
                "h01",
                "--trainee",
                "h02",
                "--group",
                "Thu",
            )
            == 1
        )
        assert capsys.readouterr().err == words
    assert files_of(sitting) == before
    assert not (tmp_path / "another").exists()


def test_a_trainee_and_the_right_group_go_together(sitting: Sitting, tmp_path: Path) -> None:
    file = tmp_path / "harbour.xlsx"
    again = ("--attempt", "2", "--trainee", "H03", "--group", "thu")
    assert run("set", file, "--out", tmp_path, "--sitting", "s", *again) == 0
    assert [lab.trainee for lab in sitting.register().labs if lab.attempt == 2] == ["h03"]
    assert run("key", sitting.folder, "h03", "--group", "THU") == 0
    assert len(list(sitting.keys.glob("*.html"))) == 2


def test_what_could_not_be_graded_is_still_listed_when_results_are_written_again(sitting: Sitting) -> None:
    (sitting.returned / "notes.txt").write_text("nothing", encoding="utf-8")
    assert run("grade", sitting.folder) == 1
    before = [[cell.value for cell in row] for row in openpyxl.load_workbook(sitting.results_book)["Not graded"]]
    assert run("results", sitting.folder) == 0
    after = [[cell.value for cell in row] for row in openpyxl.load_workbook(sitting.results_book)["Not graded"]]
    assert after[3][0] == "returned/notes.txt"
    assert after == before


def without_what_came_later(record: object) -> object:
    """A record as it was written before there were re-sit rules, excused trainees and the instructor's decisions."""
    if isinstance(record, dict):
        later = ("resits", "is_excused", "decision")
        return {name: without_what_came_later(part) for name, part in record.items() if name not in later}
    return [without_what_came_later(part) for part in record] if isinstance(record, list) else record


def test_a_sitting_from_before_resits_and_excuses_is_graded_and_set_again(tmp_path: Path) -> None:
    file = tmp_path / "harbour.xlsx"
    people = tuple({**each, "is_excused": ""} for each in PEOPLE)
    file.write_bytes(write_exercise_book(changed(tables={"trainees": people})))
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    sitting = Sitting.open(tmp_path / "s")
    hand_in_key(sitting, "h01")
    assert run("grade", sitting.folder) == 0
    results = sitting.results_text.read_bytes()
    for record in sitting.instructor.rglob("*.json"):
        old = without_what_came_later(json.loads(record.read_text(encoding="utf-8")))
        record.write_text(json.dumps(old), encoding="utf-8")
    (sitting.instructor / "not-graded.json").unlink()
    labs = sitting.register().labs
    assert run("results", sitting.folder) == 0
    assert sitting.results_text.read_bytes() == results
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    assert sitting.register().labs == labs
    assert run("grade", sitting.folder) == 0
    assert sitting.results_text.read_bytes() == results


def test_the_results_name_the_attempt_that_counts_and_all_marked_files_stay(sitting: Sitting, tmp_path: Path) -> None:
    hand_in_key(sitting, "h01")
    assert run("set", tmp_path / "harbour.xlsx", "--out", tmp_path, "--sitting", "s", "--attempt", "2") == 0
    hand_in_key(sitting, "h01-2-")
    assert run("grade", sitting.folder) == 0
    lines = list(openpyxl.load_workbook(sitting.results_book)["Results"].iter_rows(min_row=5, values_only=True))
    assert [(line[0], line[3], line[5]) for line in lines] == [
        ("h01", "1", 100),
        ("h02", "2", "not handed in"),
        ("h03", "2", "not handed in"),
    ]
    assert len(list(sitting.marked.glob("h01*.xlsx"))) == 2


def test_decisions_about_the_first_attempt_leave_the_re_sit_alone_and_that_is_said(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hand_in_key(sitting, "h01")
    hand_in_key(sitting, "h02")
    sheets = ("Subnets", "Links", "Ports", "Stations", "Routes", "Pools", "Relays")
    decisions = [
        *[("h01", sheet, "all", "all", "marks", "none", "Copied.") for sheet in sheets],
        *[(each, "Bench work", "", "", "marked by hand", "13 of 20", "") for each in ("h01", "h02")],
    ]
    assert run("grade", sitting.folder) == 0
    write_decisions(sitting, decisions)
    assert run("set", tmp_path / "harbour.xlsx", "--out", tmp_path, "--sitting", "s", "--attempt", "2") == 0
    hand_in_key(sitting, "h01-2-")
    capsys.readouterr()
    assert run("grade", sitting.folder) == 0
    told = capsys.readouterr().out
    assert (
        "Decisions about h01 that name no attempt count for the first alone; for a re-sit write 2 into a column headed Attempt."
    ) in told
    assert "No marks yet for Bench work: h01 (attempt 2)." in told
    marks = {each.lab: each.marks for each in sitting.last_grades().by_lab.values()}
    first, second = (marks[lab.lab] for lab in sitting.register().labs if lab.trainee == "h01")
    assert (first.out_of, second.out_of, second.marks) == (120, 100, 100)
    assert first.marks < 60
    write_decisions(sitting, [(*row, "2" if row[0] == "h01" else "1") for row in decisions])
    assert run("grade", sitting.folder) == 0
    assert "that name no attempt" not in capsys.readouterr().out
    marks = {each.lab: each.marks for each in sitting.last_grades().by_lab.values()}
    first, second = (marks[lab.lab] for lab in sitting.register().labs if lab.trainee == "h01")
    assert (first.out_of, first.marks, second.out_of) == (100, 100, 120)


def test_the_zip_of_a_class_holds_its_re_sits_too(sitting: Sitting, tmp_path: Path) -> None:
    words = ("set", tmp_path / "harbour.xlsx", "--out", tmp_path, "--sitting", "s")
    assert run(*words, "--zip") == 0
    assert run(*words, "--attempt", "2", "--trainee", "h02") == 0
    assert run(*words, "--zip", "--group", "Mon") == 0
    assert not (sitting.to_send / "hand-out-2.zip").exists()
    assert run(*words, "--zip") == 0
    with zipfile.ZipFile(sitting.to_send / "hand-out-2.zip") as archive:
        packed = {name.partition("/")[0] for name in archive.namelist()}
    assert packed == {lab.lab for lab in sitting.register().labs if lab.attempt == 2}


def test_texts_beside_a_trainees_workbook_are_left_aside_and_named(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    hand_in_key(sitting, "h01")
    (handed_in,) = sitting.returned.glob("*.xlsx")
    own, nobodys = sitting.returned / "Ada_48213", sitting.returned / "Ben_48214"
    for folder in (own, nobodys):
        folder.mkdir()
        (folder / "online.html").write_text("<p>no time</p>", encoding="utf-8")
    handed_in.rename(own / "work.xlsx")
    (own / "answers.csv").write_text("a,b", encoding="utf-8")
    capsys.readouterr()
    assert run("grade", sitting.folder) == 1
    told = capsys.readouterr().out
    assert "Left aside, as a workbook lies beside it: returned/Ada_48213/online.html." in told
    left = [line.split(": ")[1] for line in told.splitlines() if line.startswith("Not graded: ")]
    assert sorted(left) == ["returned/Ada_48213/answers.csv", "returned/Ben_48214/online.html"]
    (own / "answers.csv").unlink()
    (nobodys / "online.html").unlink()
    assert run("grade", sitting.folder) == 0
    (sitting.returned / "notes.txt").write_text("x", encoding="utf-8")
    assert run("grade", sitting.folder) == 1


def write_decisions(sitting: Sitting, rows: list[tuple[str, ...]]) -> None:
    book = openpyxl.load_workbook(sitting.overrides_book)
    for place, row in enumerate(rows, 8):
        for column, text in enumerate(row, 1):
            book["Overrides"].cell(place, column).value = text
    book.save(sitting.overrides_book)


def absences(sitting: Sitting) -> list[tuple[object, object, object]]:
    assert run("results", sitting.folder) == 0
    lines = openpyxl.load_workbook(sitting.results_book)["Results"].iter_rows(min_row=5, values_only=True)
    return [(line[0], line[3], line[5]) for line in lines]


def test_an_excuse_is_for_the_attempt_that_its_row_names(sitting: Sitting, tmp_path: Path) -> None:
    file = tmp_path / "harbour.xlsx"

    def again(attempt: str, excused: str, *words: str) -> None:
        people = (PEOPLE[0], {**PEOPLE[1], "attempt": attempt, "is_excused": excused}, PEOPLE[2])
        file.write_bytes(write_exercise_book(changed(tables={"trainees": people}, resits="capped")))
        assert run("set", file, "--out", tmp_path, "--sitting", "s", *words) == 0

    assert absences(sitting)[1] == ("h02", "1", "excused")
    again("", "yes", "--attempt", "2", "--trainee", "h02")
    assert absences(sitting)[1] == ("h02", "2", "not handed in")
    again("", "yes")
    assert absences(sitting)[1] == ("h02", "2", "not handed in")
    again("2", "yes", "--attempt", "2", "--trainee", "h02")
    assert absences(sitting)[1] == ("h02", "2", "excused")
    again("2", "")
    assert absences(sitting)[1] == ("h02", "2", "not handed in")
    assert [lab.is_excused for lab in sitting.register().labs if lab.trainee == "h02"] == [True, False]


def test_error_a_trainee_or_an_attempt_that_is_none_is_refused(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "harbour.xlsx"
    before = files_of(sitting)
    capsys.readouterr()
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--trainee", "h1") == 1
    assert capsys.readouterr().err == "Nobody has the id 'h1'. Did you mean h01?\n"
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--attempt", "0") == 1
    assert capsys.readouterr().err == "Attempt 0 is none: write 1 to 99, 2 for a first re-sit.\n"
    assert files_of(sitting) == before


@pytest.mark.parametrize("code", ["nul", "CON.1", "a/b", "../x", "x.", ""])
def test_error_a_sitting_cannot_be_called_what_no_folder_can(
    sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str], code: str
) -> None:
    capsys.readouterr()
    assert run("set", tmp_path / "harbour.xlsx", "--out", tmp_path, "--sitting", code) == 1
    assert capsys.readouterr().err == (
        f"{code!r} cannot name a sitting: it names a folder, so write letters, digits and hyphens.\n"
    )


def test_a_key_page_holds_every_right_answer_and_the_proof(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert run("key", sitting.folder, "h01") == 0
    lab = next(each for each in sitting.register().labs if each.trainee == "h01")
    page = next(sitting.keys.glob("KEY-h01*.html"))
    assert capsys.readouterr().out.splitlines() == [
        f"{lab.lab} (h01)",
        f"  to print:  {page}",
        f"  workbook:  {key_of(sitting, 'h01')}".replace(".html", ".xlsx"),
    ]
    text = page.read_text(encoding="utf-8")
    book = openpyxl.load_workbook(page.with_suffix(".xlsx"))
    for title in ("Subnets", "Routes", "Bindings"):
        for row in book[title].iter_rows(min_row=6, min_col=2):
            assert all(f">{cell.value}</td>" in text for cell in row if cell.value)
    assert "Ada &lt;b&gt;Brook" in text
    assert "<script" not in text
    assert "http" not in text.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert '>rogue server</th><td class="number">8</td><td class="wordy">dropped at ' in text
    assert page.stat().st_mode & 0o777 == 0o600


def test_keys_that_were_put_elsewhere_are_found_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": PEOPLE})))
    safe = tmp_path / "safe"
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--keys", safe) == 0
    capsys.readouterr()
    assert run("key", tmp_path / "s", "h01") == 0
    assert capsys.readouterr().out.splitlines()[2] == "  workbook:  not here; say where with --keys DIR"
    assert run("key", tmp_path / "s", "h01", "--keys", safe, "--json") == 0
    (key,) = json.loads(capsys.readouterr().out)["keys"]
    assert Path(key["page"]).is_file()
    assert Path(key["workbook"]).is_file()


def test_a_damaged_scenario_file_stops_no_group(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    hand_in_key(sitting, "h03")
    lab = next(each for each in sitting.register().labs if each.trainee == "h01")
    (sitting.labs / f"{lab.lab}.json").write_text("{", encoding="utf-8")
    capsys.readouterr()
    assert run("grade", sitting.folder, "--group", "Thu") == 0
    assert "1 graded, 0 not graded, 0 of the class not handed in, 1 excused." in capsys.readouterr().out
    assert run("key", sitting.folder, "--group", "Thu") == 0


def test_results_that_cannot_be_written_keep_no_other_from_being_written(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    sitting.results_book.mkdir()
    capsys.readouterr()
    assert run("results", sitting.folder) == 1
    out, err = capsys.readouterr()
    assert err.startswith(f"{sitting.results_book} cannot be written: it is a folder.")
    assert out.endswith(f"  {sitting.results_page}\n  {sitting.results_text}\n")
    assert str(sitting.results_book) not in out
    assert sitting.results_text.is_file()


def test_results_and_exercises_print_one_json_object(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert run("results", sitting.folder, "--json") == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["files"] == ["results.xlsx", "results.html", "results.csv"]
    assert (printed["handed_in"], printed["excused"], printed["trainees"]) == (0, 1, 3)
    assert run("exercises", "--json") == 0
    assert len(json.loads(capsys.readouterr().out)["exercises"]) == 11


def test_key_pages_of_the_whole_class_and_of_a_group(sitting: Sitting) -> None:
    assert run("key", sitting.folder, "--group", "Thu") == 0
    assert len(list(sitting.keys.glob("*.html"))) == 2
    assert run("key", sitting.folder) == 0
    assert len(list(sitting.keys.glob("*.html"))) == 3


def test_error_an_unknown_lab_is_refused_with_the_nearest(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert run("key", sitting.folder, "h011") == 1
    assert capsys.readouterr().err == "No lab of this sitting has the number or the trainee 'h011'. Did you mean h01?\n"


# --- The exercise's own brief ------------------------------------------------------------------------------------------


def brief_of(folder: Path, text: str) -> Path:
    file = folder / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": PEOPLE})))
    file.with_suffix(".md").write_text(text, encoding="utf-8")
    return file


def test_error_a_brief_that_cannot_be_understood_is_told_by_check_and_set_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = brief_of(tmp_path, "Lab {{ labb }}.")
    said = "line 1 cannot be filled in ('labb' is undefined). Did you mean lab? Known are "
    assert run("check", file) == 1
    assert capsys.readouterr().out.startswith(f"{file.with_suffix('.md')}: {said}")
    assert run("check", file, "--json") == 1
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert problem["found"].startswith(said)
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 1
    assert capsys.readouterr().err.startswith(f"{file.with_suffix('.md')}: {said}")
    assert not [*(tmp_path / "s").rglob("*.xlsx"), *(tmp_path / "s").rglob("*.html")]


def test_error_a_brief_that_some_labs_cannot_fill_in_is_told_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = brief_of(tmp_path, '{% if trainee == "h02" %}{{ networks[99].name }}{% endif %}Lab {{ lab }}.')
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 1
    told = capsys.readouterr().err
    assert told.startswith(f"{file.with_suffix('.md')}: line 1 cannot be filled in ")
    assert re.search(r"That is so in lab ...-...., and not in every lab\.$", told.strip())
    assert not [*(tmp_path / "s").rglob("*.xlsx"), *(tmp_path / "s").rglob("*.html")]
    file.with_suffix(".md").write_text("Lab {{ lab }}.", encoding="utf-8")
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0


def test_check_tells_of_the_brief_also_where_the_workbook_has_problems(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = brief_of(tmp_path, "Lab {{ labb }}.")
    file.write_bytes(write_exercise_book(changed(tables={"trainees": PEOPLE}, block_length="/99")))
    assert run("check", file) == 1
    told = capsys.readouterr().out
    assert f"{file}: 1 problem." in told
    assert f"{file.with_suffix('.md')}: line 1 cannot be filled in ('labb' is undefined)." in told
    assert run("check", file, "--json") == 1
    assert len(json.loads(capsys.readouterr().out)["problems"]) == 2


def test_check_names_what_of_a_brief_cannot_be_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = brief_of(tmp_path, "![the rack](rack.png)\n")
    note = "the picture rack.png is not printed, only its text: the rack"
    assert run("check", file) == 0
    assert capsys.readouterr().out.endswith(f"  harbour.md: {note}.\n")
    assert run("check", file, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["problems"], told["notes"]) == ([], [note])


def test_the_handouts_and_the_file_of_the_class_have_the_exercises_own_brief(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = brief_of(tmp_path, "# Title\n\nFor {{ trainee }} alone: `{{ block }}`.")
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--paper", "letter") == 0
    sitting = Sitting.open(tmp_path / "s")
    whole = (sitting.print / "handouts.html").read_text(encoding="utf-8")
    places = []
    for lab in sitting.register().labs:
        words = f"For {lab.trainee} alone: <code>{sitting.scenario(lab.lab).block}</code>."
        assert words in sitting.handout_page(sitting.scenario(lab.lab)).read_text(encoding="utf-8")
        places.append(whole.index(words))
        book = openpyxl.load_workbook(sitting.handout_file(sitting.scenario(lab.lab)))
        said = f"For {lab.trainee} alone: {sitting.scenario(lab.lab).block}."
        assert [sheet.title for sheet in book for row in sheet.iter_rows() for cell in row if cell.value == said] == [
            "Brief"
        ]
    assert places == sorted(places), "in roll order"
    assert "size: letter" in whole
    file.with_suffix(".md").write_text("Another one.", encoding="utf-8")
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--paper", "letter") == 0
    assert "harbour.md has changed since the sitting was set, and the old brief stays." in capsys.readouterr().err
    assert (sitting.print / "handouts.html").read_text(encoding="utf-8") == whole


def test_pdf_is_written_beside_the_pages_where_it_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("typst")
    file = brief_of(tmp_path, "Text.")
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--pdf", "--trainee", "h01") == 0
    capsys.readouterr()
    assert run("key", tmp_path / "s", "h01", "--pdf") == 0
    assert re.search(r"to print:  .*/KEY-h01-.*\.html and KEY-h01-.*\.pdf\n", capsys.readouterr().out)
    made = {path.name.split("-")[0] for path in (tmp_path / "s").rglob("*.pdf")}
    assert made == {"h01", "KEY", "roll.pdf"}
    assert all(path.read_bytes().startswith(b"%PDF-") for path in (tmp_path / "s").rglob("*.pdf"))


def test_characters_that_no_font_has_cost_no_lab_and_no_page_and_are_named_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("typst")
    file = brief_of(tmp_path, "Tea \U0001f642 and \u6771\u4eac.")
    assert run("set", file, "--out", tmp_path, "--sitting", "s", "--pdf") == 0
    out, err = capsys.readouterr()
    assert "Sitting s: 3 labs, 3 of them new" in out
    assert err == (
        "In the PDFs \ufffd stands for characters that no font here has: \u4eac \u6771 \U0001f642. The HTML pages show them.\n"
    )
    assert len(list((tmp_path / "s" / "hand-out").glob("*.pdf"))) == 3
    assert {each.stem for each in (tmp_path / "s" / "instructor" / "print").glob("*.pdf")} == {
        "handouts",
        "labels",
        "roll",
    }


def test_pdfs_of_a_large_class_come_in_parts_that_say_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The typesetter takes some 15 MB a document; nothing of a part that is not true any more stays."""
    pytest.importorskip("typst")
    pypdf = pytest.importorskip("pypdf")

    def words(file: Path) -> list[str]:
        return [page.extract_text() for page in pypdf.PdfReader(file).pages]

    labs = [
        Document(
            title=f"Key {n}",
            heading=f"Key {n}",
            over="",
            facts=(),
            blocks=(Paragraph((f"Lab {n}",)),),
            foot="",
            running="",
        )
        for n in range(5)
    ]
    target, whole = tmp_path / "keys.html", tmp_path / "keys.pdf"

    def write(count: int) -> list[str]:
        pages = [LabPage.of(each) for each in labs[:count]]
        assert write_class_file(target, pages, count, Printing(pdf=True), title="Keys") == []
        return [each.name for each in pdfs_of(target, of_class=True)]

    assert write(5) == ["keys.pdf"]
    as_one = words(whole)
    assert len(as_one) == 5
    monkeypatch.setattr(printing, "MOST_IN_A_PDF", 2)
    assert write(5) == ["keys.part-1.pdf", "keys.part-2.pdf", "keys.part-3.pdf"]
    assert [page for each in pdfs_of(target, of_class=True) for page in words(each)] == as_one
    assert (
        "keys.pdf was not true any more and was taken away: the class has another size now." in capsys.readouterr().err
    )
    assert write(3) == ["keys.part-1.pdf", "keys.part-2.pdf"]
    of_a_group = tmp_path / "keys-part-1.pdf"
    of_a_group.write_bytes(b"of group part-1")
    assert write(2) == ["keys.pdf"]
    assert of_a_group.exists()


def test_a_class_too_large_for_one_file_is_told_so_and_nothing_is_made_for_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def never() -> Iterator[LabPage]:
        raise AssertionError("made although it is not written")
        yield

    told = write_class_file(tmp_path / "keys.html", never(), MOST_IN_A_FILE + 1, Printing(), title="Keys")
    assert (told, list(tmp_path.iterdir())) == ([], [])
    assert capsys.readouterr().err == (
        "501 documents are too many for keys.html: print them group by group, with --group G.\n"
    )


def test_the_typesetter_is_begun_anew_before_it_has_taken_too_much_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It keeps what it has made of every document as long as its process lasts."""
    pytest.importorskip("typst")
    monkeypatch.setattr(printing, "MOST_IN_A_PDF", 2)
    typesetter = printing._Typesetter()
    page = Document(title="x", heading="x", over="", facts=(), blocks=(Paragraph(("x",)),), foot="", running="")
    processes = []
    for _ in range(5):
        typesetter.pdf([page], Paper.A4, title="", is_large=False)
        assert typesetter._process is not None
        processes.append(typesetter._process.pid)
    typesetter.stop()
    assert [processes.index(each) for each in processes] == [0, 0, 2, 2, 4]


def test_each_thread_gets_the_pdf_of_its_own_documents() -> None:
    """Labs are written in several threads, and one process typesets for all of them."""
    pytest.importorskip("typst")
    pypdf = pytest.importorskip("pypdf")
    typesetter = printing._Typesetter()

    def words_of(number: int) -> str:
        name = f"Lab number {number}"
        blocks = (Paragraph((name,)),)
        page = Document(title=name, heading=name, over="", facts=(), blocks=blocks, foot="", running="")
        data, _ = typesetter.pdf([page], Paper.A4, title="", is_large=False)
        return str(pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text())

    with ThreadPoolExecutor(4) as pool:
        texts = list(pool.map(words_of, range(12)))
    typesetter.stop()
    assert all(f"Lab number {number}\n" in f"{text}\n" for number, text in enumerate(texts))
