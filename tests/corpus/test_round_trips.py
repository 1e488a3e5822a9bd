"""Workbooks that went through other programs earn what they earned before: LibreOffice, and Gnumeric by its converter."""

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest
from drawn_labs import bakery

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import read_answers
from trainer.lab.key import derive_key
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.sheets.answer_book import write_answer_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.paper import lab_numbers_in
from trainer.sheets.returned_book import read_form

OFFICE, CONVERTER = shutil.which("soffice"), shutil.which("ssconvert")
LAB: Scenario = bakery()
FILLED = fill_in(write_answer_book(LAB, derive_key(LAB)), LAB, key_texts(LAB))


def through_office(folder: Path, steps: Sequence[str]) -> Path:
    """The file after the office program has saved it in each of these formats, one after the other."""
    file = folder / "lab.xlsx"
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    for place, ending in enumerate(steps):
        target = folder / str(place)
        command = [
            str(OFFICE),
            profile,
            "--headless",
            "--norestore",
            "--convert-to",
            ending,
            "--outdir",
            str(target),
            str(file),
        ]
        subprocess.run(command, check=True, capture_output=True, timeout=100)
        file = target / f"lab.{ending}"
    return file


def through_converter(folder: Path, steps: Sequence[str]) -> Path:
    """The same with the other program's converter."""
    file = folder / "lab.xlsx"
    for place, ending in enumerate(steps):
        target = folder / f"{place}.{ending}"
        subprocess.run([str(CONVERTER), str(file), str(target)], check=True, capture_output=True, timeout=100)
        file = target
    return file


@pytest.mark.desktop
@pytest.mark.parametrize("steps", [("xlsx",), ("ods", "xlsx"), ("xls", "xlsx")], ids="-".join)
@pytest.mark.parametrize(
    "through",
    [
        pytest.param(
            through_office,
            marks=pytest.mark.skipif(OFFICE is None, reason="there is no office program that runs without a screen"),
        ),
        pytest.param(
            through_converter,
            marks=pytest.mark.skipif(CONVERTER is None, reason="there is no converter ssconvert (Debian: gnumeric)"),
        ),
    ],
    ids=["office", "converter"],
)
def test_a_filled_workbook_earns_everything_after_other_programs_saved_it(
    through, steps: Sequence[str], tmp_path: Path
):
    (tmp_path / "lab.xlsx").write_bytes(FILLED)
    data = through(tmp_path, steps).read_bytes()
    assert data != FILLED
    book = read_book(data)
    assert lab_numbers_in(book) == (LAB.lab_number,)
    form = read_form(book, LAB)
    assert form.notices == ()
    assert read_answers(form.filled).unreadable == {}
    assert mark(LAB, form.filled).percent == 100


@pytest.mark.desktop
@pytest.mark.skipif(CONVERTER is None, reason="there is no converter ssconvert (Debian: gnumeric)")
def test_error_what_other_programs_call_their_own_formats_is_refused_by_name(tmp_path: Path):
    from trainer.errors import UnreadableFile

    (tmp_path / "lab.xlsx").write_bytes(FILLED)
    found = {}
    for ending in ("xls", "ods", "csv"):
        with pytest.raises(UnreadableFile) as refused:
            read_book(through_converter(tmp_path, (ending,)).read_bytes())
        found[ending] = str(refused.value).split(".", 1)[0]
    assert found == {
        "xls": "This is a workbook in the old ",
        "ods": "This is an OpenDocument file, not an ",
        "csv": "This is a text file, perhaps CSV with one sheet only, not a workbook",
    }
