"""What is packed for the trainees: a folder each with nothing of anybody else, and one archive of what is new."""

import io
import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from papers import as_paper
from pypdf import PdfReader
from sittings_compared import set_words, tree, with_secret

from trainer import cli
from trainer.commands import printing
from trainer.store import Sitting


@pytest.fixture(scope="module")
def graded_class(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three trainees have handed in, the first under the second's name; one more file is of nobody."""
    sitting = with_secret(tmp_path_factory.mktemp("back") / "s")
    assert cli.main([*set_words(sitting, 3), "--zip"]) == 0
    for file, name in zip(sorted(sitting.keys.glob("*.xlsx")), ("o02 copy", "second", "third"), strict=True):
        (sitting.returned / f"{name}.xlsx").write_bytes(as_paper(file.read_bytes()))
    shutil.copy2(next(sitting.hand_out.glob("o01*.xlsx")), sitting.returned / "o03 blank.xlsx")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    return sitting.folder


@pytest.fixture
def sitting(graded_class: Path, tmp_path: Path) -> Sitting:
    shutil.copytree(graded_class, tmp_path / "class" / "s")
    return Sitting.open(tmp_path / "class" / "s")


def hand_back(sitting: Sitting, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    capsys.readouterr()
    assert cli.main(["hand-back", str(sitting.folder), *words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def names_in(archive: Path) -> list[str]:
    with zipfile.ZipFile(archive) as opened:
        assert opened.testzip() is None
        return opened.namelist()


def words_in(data: bytes) -> str:
    """All that can be read in a file: of a workbook its parts."""
    if not data.startswith(b"PK"):
        return data.decode("utf-8", errors="replace")
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        return "\n".join(opened.read(name).decode("utf-8", errors="replace") for name in opened.namelist())


def test_each_folder_holds_the_own_workbook_and_page_and_nothing_of_anybody_else(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    found = hand_back(sitting, capsys)
    labs = {each.lab: sitting.scenario(each.lab).trainee for each in sitting.register().labs}
    folders = {each.name: each for each in (sitting.folder / found["folders"]).iterdir()}
    assert folders.keys() == labs.keys() == set(found["changed"])
    for lab, folder in folders.items():
        assert {each.name for each in folder.iterdir()} == {f"marked-{lab}.xlsx", f"feedback-{lab}.html"}
        for file in folder.iterdir():
            told = words_in(file.read_bytes())
            assert lab in told
            others = {number: each for number, each in labs.items() if number != lab}
            for number, other in others.items():
                assert number not in told
                assert other.name not in told
                assert other.id not in told
            assert "returned/" not in told
    assert found["archive"] == "to-send/hand-back-1.zip"
    assert sorted(names_in(sitting.folder / found["archive"])) == sorted(
        f"{lab}/{name}-{lab}.{ending}" for lab in labs for name, ending in (("marked", "xlsx"), ("feedback", "html"))
    )


def test_the_instructor_still_reads_what_trainees_do_not(sitting: Sitting):
    assert "In the name of the file or its folder stands o02" in sitting.results_page.read_text(encoding="utf-8")


def test_again_only_what_has_changed_is_packed(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    first = hand_back(sitting, capsys)
    before = tree(sitting.to_send)
    second = hand_back(sitting, capsys)
    assert (second["archive"], second["changed"]) == (None, [])
    assert tree(sitting.to_send) == before
    book = openpyxl.load_workbook(sitting.overrides_book)
    for column, text in enumerate(("o02", "Subnets", "all", "", "accept this value", "", ""), 1):
        book["Overrides"].cell(8, column).value = text or None
    lab = next(each.lab for each in sitting.register().labs if each.trainee == "o02")
    (sitting.returned / "second.xlsx").unlink()
    shutil.copy2(next(sitting.hand_out.glob("o02*.xlsx")), sitting.returned / "second.xlsx")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    third = hand_back(sitting, capsys)
    assert (third["archive"], third["changed"]) == ("to-send/hand-back-2.zip", [lab])
    assert {name.partition("/")[0] for name in names_in(sitting.folder / third["archive"])} == {lab}
    assert (sitting.folder / first["archive"]).is_file(), "what was perhaps not sent yet is still there"
    assert cli.main(["hand-back", str(sitting.folder)]) == 0
    assert f"nothing has changed since {sitting.to_send / 'hand-back-2.zip'}" in capsys.readouterr().out


def test_named_folders_bear_ids_and_replace_the_others(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    hand_back(sitting, capsys)
    named = hand_back(sitting, capsys, "--named")
    names = sorted(each.name for each in (sitting.folder / named["folders"]).iterdir())
    assert names == sorted(f"{each.trainee}-{each.lab}" for each in sitting.register().labs)


def test_what_is_gone_from_marked_is_made_anew(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    pages = sorted(sitting.marked.glob("*.html"))
    before = [page.read_bytes() for page in pages]
    for page in pages:
        page.unlink()
    hand_back(sitting, capsys)
    assert [page.read_bytes() for page in pages] == before


def test_a_lost_record_sends_everything_again_in_an_archive_of_the_next_number(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_back(sitting, capsys)
    (sitting.instructor / "sent-hand-back.json").unlink()
    found = hand_back(sitting, capsys)
    assert found["archive"] == "to-send/hand-back-2.zip"
    assert len(found["changed"]) == 3


def test_set_packs_hand_outs_too(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    archive = sitting.to_send / "hand-out-1.zip"
    labs = [each.lab for each in sitting.register().labs]
    assert sorted(names_in(archive)) == sorted(f"{lab}/{lab}{ending}" for lab in labs for ending in (".xlsx", ".html"))
    capsys.readouterr()
    assert cli.main([*set_words(sitting, 4), "--zip"]) == 0
    new = {each.lab for each in sitting.register().labs} - set(labs)
    assert {name.partition("/")[0] for name in names_in(sitting.to_send / "hand-out-2.zip")} == new
    assert (
        f"  To send:            {sitting.to_send / 'hand-out-2.zip'} (what has changed since hand-out-1.zip, 1 of 4 labs)\n"
        in (capsys.readouterr().out)
    )
    assert cli.main([*set_words(sitting, 4), "--zip", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["folders"], found["archive"], found["changed"]) == ("to-send/hand-out", None, [])
    for file in (sitting.to_send / "hand-out").rglob("*.*"):
        assert b"KEY" not in file.read_bytes()


def test_error_nothing_is_handed_back_before_something_was_graded(
    graded_class: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    sitting = with_secret(tmp_path / "s")
    assert cli.main(set_words(sitting, 1)) == 0
    assert cli.main(["hand-back", str(sitting.folder)]) == 1
    assert capsys.readouterr().err == (
        f"Nothing was graded yet, so there is nothing to hand back: trainer grade {sitting.folder}\n"
    )


# --- What comes back on paper -----------------------------------------------------------------------------------------


def test_what_a_paper_says_is_typed_into_a_workbook_in_returned(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    (sitting.returned / "third.xlsx").unlink()
    lab = next(each.lab for each in sitting.register().labs if each.trainee == "o03")
    capsys.readouterr()
    assert cli.main(["paper", str(sitting.folder), "O03"]) == 0
    file = sitting.returned / f"o03-{lab}-paper.xlsx"
    assert capsys.readouterr().out == (
        f"Type in what the paper of o03 (lab {lab}) says: {file}\nThen: trainer grade {sitting.folder}\n"
    )
    assert file.read_bytes() == sitting.handout_file(sitting.scenario(lab)).read_bytes()
    file.write_bytes(as_paper(sitting.key_file(sitting.scenario(lab)).read_bytes()))
    typed = file.read_bytes()
    assert cli.main(["paper", str(sitting.folder), lab]) == 0
    assert file.read_bytes() == typed, "what was typed stays"
    assert cli.main(["grade", str(sitting.folder), str(file), "--json"]) == 0
    out = capsys.readouterr().out
    (found,) = json.loads(out[out.index("{") :])["graded"]
    assert (found["lab"], found["percent"]) == (lab, "100")
    assert cli.main(["paper", str(sitting.folder), "o33"]) == 1


# --- PDFs of earlier runs ---------------------------------------------------------------------------------------------


def test_a_pdf_that_is_not_true_any_more_is_written_anew(sitting: Sitting):
    assert cli.main(["results", str(sitting.folder), "--pdf"]) == 0
    results = sitting.results_page.with_suffix(".pdf")
    feedback = sitting.class_file("feedback", None).with_suffix(".pdf")
    before = results.read_bytes(), feedback.read_bytes()
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert (results.read_bytes(), feedback.read_bytes()) == before
    shutil.copy2(next(sitting.hand_out.glob("o02*.xlsx")), sitting.returned / "second.xlsx")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert results.read_bytes() != before[0]
    assert feedback.read_bytes() != before[1]


def test_a_pdf_that_was_handed_back_is_handed_back_again_after_a_change(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    hand_back(sitting, capsys, "--pdf")
    lab = next(each.lab for each in sitting.register().labs if each.trainee == "o02")
    shutil.copy2(next(sitting.hand_out.glob("o02*.xlsx")), sitting.returned / "second.xlsx")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    found = hand_back(sitting, capsys, "--pdf")
    assert found["changed"] == [lab]
    names = [f"{lab}/feedback-{lab}.html", f"{lab}/feedback-{lab}.pdf", f"{lab}/marked-{lab}.xlsx"]
    assert sorted(names_in(sitting.folder / found["archive"])) == names
    page = PdfReader(sitting.folder / found["folders"] / lab / f"feedback-{lab}.pdf")
    assert "Marks 0 of 100" in " ".join(page.pages[0].extract_text().split())


def test_where_pdf_cannot_be_made_one_that_is_not_true_any_more_is_taken_away_and_said(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    pdf = sitting.results_page.with_suffix(".pdf")
    pdf.write_bytes(b"%PDF of an earlier run")
    monkeypatch.setattr(printing, "can_make_pdf", lambda: False)
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert pdf.exists(), "nothing has changed"
    shutil.copy2(next(sitting.hand_out.glob("o02*.xlsx")), sitting.returned / "second.xlsx")
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert not pdf.exists()
    assert f"{pdf} was not true any more and was taken away: PDF cannot be made here.\n" in capsys.readouterr().err


def test_pages_of_the_class_that_lack_new_labs_are_written_anew_or_taken_away(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    assert cli.main(["key", str(sitting.folder)]) == 0
    keys = sitting.class_file("keys", None)
    assert keys.exists()
    assert cli.main(set_words(sitting, 3)) == 0
    assert keys.exists(), "no lab is new"
    assert cli.main(set_words(sitting, 4)) == 0
    assert not keys.exists()
    assert f"{keys} was not true any more and was taken away: new labs are not in it" in capsys.readouterr().err
