"""Which sitting `set` goes on with, and what its labs say otherwise since: date, minutes, places; and one lab to look at."""

import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path

import openpyxl
import pytest
from broken_off import killed_at, writes
from drawn_labs import changed
from papers import as_paper
from sittings_compared import differences, tree

from trainer import cli
from trainer.lab.announced import _places as continuing_places
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.sheets.exercise_book import write_exercise_book
from trainer.store import Sitting

SECTIONS = tuple(
    {
        **each,
        "asked": "yes" if each["section"] == "Subnets" else "given",
        "share": "100" if each["section"] == "Subnets" else "0",
    }
    for each in HARBOUR.tables["sections"]
)


def book_in(
    folder: Path, *, people: int = 2, extra: Mapping[str, str] | None = None, place: str = "", **settings: str
) -> Path:
    """An exercise of one sheet for the first people."""
    rows = tuple(
        {**each, "extra_minutes": (extra or {}).get(each["id"], "")} for each in HARBOUR.tables["trainees"][:people]
    )
    a, b = HARBOUR.tables["switches"]
    switches = (a, {**b, "places": place or b["places"]})
    file = folder / "harbour.xlsx"
    raw = changed(tables={"trainees": rows, "sections": SECTIONS, "switches": switches}, **settings)
    file.write_bytes(write_exercise_book(raw))
    return file


def set_again(file: Path, *words: str) -> int:
    return cli.main(["set", str(file), "--out", str(file.parent), *words])


def only_sitting(folder: Path) -> Sitting:
    (register,) = folder.glob("*/instructor/register.json")
    return Sitting(register.parents[1])


def labs_of(sitting: Sitting) -> dict[str, Scenario]:
    return {each.trainee: sitting.scenario(each.lab) for each in sitting.register().labs}


def test_a_blank_date_continues_the_sitting_that_exists(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    assert set_again(book_in(tmp_path)) == 0
    before = labs_of(only_sitting(tmp_path))
    assert set_again(book_in(tmp_path, people=3, date="")) == 0
    sitting = only_sitting(tmp_path)
    assert sitting.folder.name == "HARBOUR-2-thursday-12-march"
    labs = labs_of(sitting)
    assert {each: labs[each] for each in before} == before
    assert labs["h03"].date == "Thursday 12 March", "the date stays what it was"


def test_a_sitting_that_was_set_without_a_date_is_continued_on_another_day(tmp_path: Path):
    assert set_again(book_in(tmp_path, date="")) == 0
    sitting = only_sitting(tmp_path)
    sitting.folder.rename(tmp_path / "HARBOUR-2-2020-01-31")
    assert set_again(book_in(tmp_path, people=3, date="")) == 0
    assert len(labs_of(only_sitting(tmp_path))) == 3


def test_error_of_several_sittings_one_has_to_be_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for day in ("Monday", "Tuesday"):
        assert set_again(book_in(tmp_path, date=day), "--sitting", f"HARBOUR-2-{day.casefold()}") == 0
    capsys.readouterr()
    assert set_again(book_in(tmp_path, date="")) == 1
    assert capsys.readouterr().err == (
        "Several sittings of HARBOUR-2 were set before: HARBOUR-2-monday, HARBOUR-2-tuesday. Say which one is meant, or name a "
        "new one: --sitting CODE.\n"
    )


def test_another_class_on_another_day_has_a_sitting_of_its_own(tmp_path: Path):
    assert set_again(book_in(tmp_path)) == 0
    people = tuple({**each, "id": f"x{each['id']}"} for each in HARBOUR.tables["trainees"][:1])
    file = tmp_path / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": people, "sections": SECTIONS}, date="Friday")))
    assert set_again(file) == 0
    assert len(list(tmp_path.glob("*/instructor/register.json"))) == 2


def test_error_a_changed_date_is_not_taken_over_in_a_pipe(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert set_again(book_in(tmp_path)) == 0
    sitting = only_sitting(tmp_path)
    before = tree(sitting.folder)
    capsys.readouterr()
    assert set_again(book_in(tmp_path, date="Friday", place="West quay", extra={"h02": "15"})) == 1
    assert capsys.readouterr().err == (
        f"{sitting.folder} was set before, and the workbook says something else now. Date: Thursday 12 March becomes Friday. "
        "Place of B: East quay becomes West quay. Extra minutes of h02: 0 becomes 15. Labs may be handed out already, so "
        "nothing was written. To take it over set again with --yes; for a sitting of its own with --sitting CODE.\n"
    )
    assert tree(sitting.folder) == before


def look_at_what_was_taken_over(sitting: Sitting, before: Mapping[str, Scenario]) -> None:
    labs = labs_of(sitting)
    for each, lab in labs.items():
        assert (lab.date, lab.minutes) == ("Friday", 105 if each == "h02" else 90)
        assert [switch.place for switch in lab.switches] == ["Harbour office", "West quay"]
        assert (lab.block, lab.vlans, lab.stations, lab.links) == (
            before[each].block,
            before[each].vlans,
            before[each].stations,
            before[each].links,
        )
        page = sitting.handout_page(lab).read_text(encoding="utf-8")
        assert "Friday" in page
        assert f"{lab.minutes} minutes" in page
        assert "West quay" in page
        key = sitting.key_page(lab).read_text(encoding="utf-8")
        assert "West quay" in key
        assert "East quay" not in key
        for file in (sitting.handout_file(lab), sitting.key_file(lab)):
            cells = [
                str(cell.value) for sheet in openpyxl.load_workbook(file) for row in sheet.iter_rows() for cell in row
            ]
            assert any("West quay" in text for text in cells)
            assert not any("East quay" in text or "Thursday 12 March" in text for text in cells)


@pytest.mark.parametrize("how", ["--yes", "asked"])
def test_what_is_announced_is_taken_over_and_all_else_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str):
    assert set_again(book_in(tmp_path)) == 0
    sitting = only_sitting(tmp_path)
    before = labs_of(sitting)
    assert cli.main(["key", str(sitting.folder)]) == 0
    file = book_in(tmp_path, date="Friday", extra={"h02": "15"}, place="West quay", minutes="90")
    words = [how] if how == "--yes" else []
    if how == "asked":
        monkeypatch.setattr("sys.stdin.isatty", lambda: True)
        monkeypatch.setattr("builtins.input", lambda _: "y")
    assert set_again(file, *words) == 0
    assert only_sitting(tmp_path).folder == sitting.folder
    look_at_what_was_taken_over(sitting, before)
    done = tree(sitting.folder)
    monkeypatch.undo()
    assert set_again(file) == 0, "there is nothing left to take over"
    assert tree(sitting.folder) == done


# --- Taking over that is broken off -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def with_key_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an exercise that is set for two, with their keys to print."""
    folder = tmp_path_factory.mktemp("keys")
    assert set_again(book_in(folder)) == 0
    assert cli.main(["key", str(only_sitting(folder).folder)]) == 0
    return folder


def copy_of(folder: Path, target: Path) -> tuple[Path, Sitting]:
    """Another place with the same sitting, and the exercise as it is announced now."""
    shutil.copytree(folder, target)
    return book_in(target, date="Friday", extra={"h02": "15"}, place="West quay", minutes="90"), only_sitting(target)


def look_at_broken_off(with_key_pages: Path, tmp_path: Path, at: Iterable[int]) -> None:
    """Broken off at these writes and set again, key pages, workbooks and labs say the new; with the old exercise, the old."""
    file, undisturbed = copy_of(with_key_pages, tmp_path / "undisturbed")
    assert set_again(file, "--yes") == 0
    for write in at:
        file, sitting = copy_of(with_key_pages, tmp_path / f"{write}")
        was = tree(sitting.folder)
        with killed_at(write):
            set_again(file, "--yes")
        another = tmp_path / f"{write} back"
        shutil.copytree(file.parent, another)
        assert set_again(file, "--yes") == 0
        assert differences(tree(sitting.folder), tree(undisturbed.folder)) == []
        assert set_again(book_in(another), "--yes") == 0
        keys = "instructor/print/keys.html"
        assert set(differences(tree(only_sitting(another).folder), was)) <= {keys}, (
            "the keys of the class are gone by then"
        )


@pytest.mark.many
def test_taking_over_that_was_broken_off_anywhere(with_key_pages: Path, tmp_path: Path):
    file, _ = copy_of(with_key_pages, tmp_path / "counted")
    count = writes(["set", str(file), "--out", str(file.parent), "--yes"])
    assert count >= 2 * 5, "lab, workbook, handout, key and its page of two labs"
    look_at_broken_off(with_key_pages, tmp_path, range(1, count + 1))


@pytest.mark.many
def test_error_a_key_page_that_cannot_be_written_anew_is_told_and_written_by_the_next_run(
    with_key_pages: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file, sitting = copy_of(with_key_pages, tmp_path / "x")
    before = labs_of(sitting)
    page = sitting.key_page(before["h01"])
    page.chmod(0o400)
    assert set_again(file, "--yes") == 1
    assert f"{page} cannot be written (it is write-protected)" in capsys.readouterr().err
    page.chmod(0o600)
    assert set_again(file) == 0
    look_at_what_was_taken_over(sitting, before)


def test_pages_of_the_class_that_say_what_was_announced_before_are_renewed_or_taken_away(
    with_key_pages: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file, sitting = copy_of(with_key_pages, tmp_path / "x")
    keys, handouts = (sitting.class_file(what, None) for what in ("keys", "handouts"))
    assert set_again(file, "--trainee", "h01", "--yes") == 0
    assert not keys.exists()
    assert not handouts.exists(), "h01 alone was set, and h02 has another date too"
    told = capsys.readouterr().err
    assert f"{keys} was not true any more and was taken away: its labs say something else now; trainer key " in told
    assert f"{handouts} was not true any more and was taken away: its labs say something else now; set again " in told
    assert set_again(file) == 0
    assert handouts.read_text(encoding="utf-8").count("West quay") >= 2


def test_what_was_packed_to_be_sent_says_the_new_as_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert set_again(book_in(tmp_path), "--zip") == 0
    sitting = only_sitting(tmp_path)
    assert set_again(book_in(tmp_path, date="Friday"), "--yes") == 0
    folder = sitting.to_send / "hand-out"
    assert f"2 folders in {folder} had changed and were written anew." in capsys.readouterr().err
    for lab in labs_of(sitting).values():
        packed = folder / lab.lab_number / f"{lab.lab_number}.xlsx"
        assert packed.read_bytes() == sitting.handout_file(lab).read_bytes()
    assert set_again(book_in(tmp_path, date="Friday"), "--zip") == 0
    assert "(what has changed since hand-out-1.zip, 2 of 2 labs)" in capsys.readouterr().out


def test_places_keep_their_order_and_never_come_twice():
    places = continuing_places(
        [("A", ("A", "B", "C"), ("K", "L", "M")), ("C", ("A", "B", "C"), ("K", "L", "M")), ("B", ("B",), ("B",))]
    )
    assert places == ["K", "M", "B"]
    assert continuing_places([("A", ("A", "B"), ("B", "C", "A")), ("B", ("A", "B"), ("B", "C", "A"))]) == ["A", "B"]
    assert continuing_places([("A", ("A", "B"), ("B", "C", "D")), ("B", ("A", "B"), ("B", "C", "D"))]) == ["C", "B"]


# --- Extra minutes ----------------------------------------------------------------------------------------------------


def test_extra_minutes_are_printed_with_the_rest(tmp_path: Path):
    assert set_again(book_in(tmp_path, extra={"h02": "15"})) == 0
    sitting = only_sitting(tmp_path)
    labs = labs_of(sitting)
    assert (labs["h01"].minutes, labs["h02"].minutes) == (75, 90)
    assert "90 minutes" in sitting.handout_page(labs["h02"]).read_text(encoding="utf-8")
    brief = openpyxl.load_workbook(sitting.handout_file(labs["h02"]))["Brief"]
    assert any("90 minutes" in str(cell.value) for row in brief.iter_rows() for cell in row)


def test_error_extra_minutes_need_minutes(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert cli.main(["check", str(book_in(tmp_path, extra={"h02": "15"}, minutes=""))]) == 1
    assert (
        "  Trainees!F7: found 15; extra minutes come on top of those of the exercise, and sheet Exercise sets none. Write "
        "Minutes on sheet Exercise, or leave this blank.\n"
    ) in capsys.readouterr().out


# --- A sample ---------------------------------------------------------------------------------------------------------


def test_a_sample_is_one_lab_with_key_and_handout_and_no_sitting(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = book_in(tmp_path)
    file.with_suffix(".md").write_text("# Of my own\n\nLab {{ lab }}.\n", encoding="utf-8")
    assert cli.main(["sample", str(file), "--out", str(tmp_path)]) == 0
    folder = tmp_path / "sample-HARBOUR-2"
    assert {each.name for each in folder.iterdir()} == {
        "sample.xlsx",
        "sample.html",
        "KEY-sample.xlsx",
        "KEY-sample.html",
    }
    assert not list(tmp_path.rglob("register.json"))
    assert "Of my own" in (folder / "sample.html").read_text(encoding="utf-8")
    before = tree(folder)
    assert cli.main(["sample", str(file), "--out", str(tmp_path)]) == 0
    assert tree(folder) == before, "it is the same one every time"
    assert "Nothing was set." in capsys.readouterr().out


# --- Capped re-sits ---------------------------------------------------------------------------------------------------


def test_a_capped_resit_says_so_everywhere_and_has_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = book_in(tmp_path, resits="capped")
    assert set_again(file) == 0
    assert set_again(file, "--attempt", "2", "--trainee", "h01") == 0
    sitting = only_sitting(tmp_path)
    first, second = (each.lab for each in sitting.register().labs if each.trainee == "h01")
    blank = sitting.handout_file(sitting.scenario(first)).read_bytes()
    (sitting.returned / "first.xlsx").write_bytes(blank)
    key = sitting.key_file(sitting.scenario(second)).read_bytes()
    (sitting.returned / "second.xlsx").write_bytes(as_paper(key))
    capsys.readouterr()
    assert cli.main(["grade", str(sitting.folder)]) == 0
    told = capsys.readouterr().out
    note = "Attempt 2: 100 per cent, counts 60; a re-sit earns no more. The sheets keep what they earned."
    assert len([line for line in told.splitlines() if line.startswith("h01 ")]) == 1
    assert told.splitlines()[1].split()[-5] == "60"
    assert f"Capped: h01: {note}\n" in told
    lab = sitting.scenario(second)
    assert note in sitting.feedback_page(lab.trainee, second).read_text(encoding="utf-8")
    assert note in sitting.results_page.read_text(encoding="utf-8")
    for book in (sitting.marked_book(lab), sitting.results_book):
        cells = [str(cell.value) for sheet in openpyxl.load_workbook(book) for row in sheet.iter_rows() for cell in row]
        assert any(note in text for text in cells)
    assert set_again(book_in(tmp_path, resits="best")) == 0
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert note not in sitting.feedback_page(lab.trainee, second).read_text(encoding="utf-8")


def test_who_left_the_class_is_in_no_roll_and_no_list_and_comes_back_with_the_same_lab(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    assert set_again(book_in(tmp_path, people=3)) == 0
    sitting = only_sitting(tmp_path)
    before = labs_of(sitting)
    roll = sitting.class_file("roll", None)
    assert "h03" in roll.read_text(encoding="utf-8")
    capsys.readouterr()
    assert set_again(book_in(tmp_path, people=2)) == 0
    assert capsys.readouterr().err == (
        "h03 is not on sheet Trainees any more: left out of roll and results; labs and marks stay.\n"
    )
    assert "h03" not in roll.read_text(encoding="utf-8")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert "2 of the class not handed in" in capsys.readouterr().out
    assert "h03" not in sitting.results_text.read_text(encoding="utf-8-sig")
    assert set_again(book_in(tmp_path, people=1), "--trainee", "h01") == 0
    assert "h02, h03 are not on sheet Trainees any more" in capsys.readouterr().err
    assert set_again(book_in(tmp_path, people=3)) == 0
    assert labs_of(sitting) == before
    assert "h03" in roll.read_text(encoding="utf-8")


def test_who_left_the_class_after_handing_in_keeps_the_marks_in_the_results(tmp_path: Path):
    assert set_again(book_in(tmp_path, people=2)) == 0
    sitting = only_sitting(tmp_path)
    lab = sitting.register().labs[1].lab
    (key,) = sitting.keys.glob(f"*{lab}.xlsx")
    (sitting.returned / "h02.xlsx").write_bytes(as_paper(key.read_bytes()))
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert set_again(book_in(tmp_path, people=1)) == 0
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert "h02" in sitting.results_text.read_text(encoding="utf-8-sig")
