"""What learning platforms and cloud folders export: archives, folders a trainee, second copies, two endings."""

import io
import json
import os
import re
import shutil
import struct
import time
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from drawn_labs import changed
from papers import as_paper
from sittings_compared import set_words, tree, with_secret

from trainer import archives, cli
from trainer.errors import TrainerError
from trainer.files import found_in, is_there, read_returned, time_saved
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.placement import NEVER_SAVED
from trainer.store import Sitting

OLD, NEW = 1_000_000_000, 1_000_000_500


def packed(files: Mapping[str, bytes], **settings: Any) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            info = zipfile.ZipInfo(name, settings.get("date_time", (2026, 3, 12, 10, 30, 0)))
            info.extra = settings.get("extra", b"")
            archive.writestr(info, data, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def saved_inside(workbook: bytes, when: str) -> bytes:
    """The workbook, as a program saved it at that time."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            data = old.read(info)
            if info.filename == "docProps/core.xml":
                data, count = re.subn(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + when.encode(), data)
                assert count == 1
            new.writestr(zipfile.ZipInfo(info.filename), data)
    return stream.getvalue()


@pytest.fixture(scope="module")
def class_of_three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sitting = with_secret(tmp_path_factory.mktemp("three") / "s")
    assert cli.main(set_words(sitting, 3)) == 0
    return sitting.folder


@pytest.fixture
def sitting(class_of_three: Path, tmp_path: Path) -> Sitting:
    shutil.copytree(class_of_three, tmp_path / "class" / "s")
    return Sitting.open(tmp_path / "class" / "s")


def papers(sitting: Sitting) -> dict[str, bytes]:
    """What everybody hands in who knows the key, with no time inside: by id of the trainee, the workbook."""
    return {
        file.name.split("-")[1]: saved_inside(as_paper(file.read_bytes()), NEVER_SAVED)
        for file in sorted(sitting.keys.glob("*.xlsx"))
    }


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


# --- Four layouts -----------------------------------------------------------------------------------------------------


def layouts(handed_in: Mapping[str, bytes]) -> dict[str, dict[str, bytes]]:
    """The same hand-ins as four programs export them: by name of the layout, the files for returned/."""
    folders = {
        f"Some Body_{number}_{each}_file/work.xlsx": data for number, (each, data) in enumerate(handed_in.items())
    }
    flat = {f"{each} - Some Body - work (final).xlsx": data for each, data in handed_in.items()}
    left = {"__MACOSX/._work.xlsx": b"\0", "Some Body/.DS_Store": b"\0", "Thumbs.db": b"\0"}
    second = {f"work {each} (1).xlsx": data for each, data in handed_in.items()}
    return {
        "an archive, a folder a trainee": {"class.zip": packed({**folders, **left})},
        "an archive, all in one folder": {
            "download.ZIP": packed({f"exercise 1/{name}": data for name, data in flat.items()})
        },
        "folders in folders": {f"group/{each}/attempt 1/deep/work.xlsx.xlsx": data for each, data in handed_in.items()},
        "second copies": {**{f"work {each}.xlsx": data for each, data in handed_in.items()}, **second},
    }


def look_at_layouts(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    handed_in = papers(sitting)
    for name, files in layouts(handed_in).items():
        shutil.rmtree(sitting.returned)
        for file, data in files.items():
            put(sitting, file, data)
        before = tree(sitting.returned)
        found = graded(sitting, capsys)
        assert {each["trainee"]: each["percent"] for each in found["graded"]} == dict.fromkeys(handed_in, "100"), name
        assert (found["not_graded"], found["kept"] if "archive" in name else []) == ([], []), name
        assert tree(sitting.returned) == before, "nothing is unpacked there"


def test_a_class_comes_back_in_four_layouts(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    look_at_layouts(sitting, capsys)


@pytest.mark.many
def test_a_class_of_thirty_comes_back_in_four_layouts(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    people = tuple({"id": f"k{number:02}", "name": f"Body {number}"} for number in range(1, 31))
    book = tmp_path / "thirty.xlsx"
    book.write_bytes(write_exercise_book(changed(tables={"trainees": people})))
    assert cli.main(["set", str(book), "--out", str(tmp_path), "--sitting", "thirty"]) == 0
    look_at_layouts(Sitting.open(tmp_path / "thirty"), capsys)


def test_a_file_in_an_archive_is_called_as_if_that_were_a_folder(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    handed_in = papers(sitting)
    put(
        sitting,
        "class.zip",
        packed({f"{each}/work.xlsx": data for each, data in handed_in.items()} | {"Thumbs.db": b"x"}),
    )
    found = graded(sitting, capsys)
    assert [each["file"] for each in found["graded"]] == [f"returned/class.zip/{each}/work.xlsx" for each in handed_in]
    assert (found["archives"], found["left_aside"]) == (["returned/class.zip"], ["returned/class.zip/Thumbs.db"])
    assert cli.main(["grade", str(sitting.folder)]) == 0
    assert "\nOpened, without unpacking: returned/class.zip.\n" in capsys.readouterr().out
    assert cli.main(["results", str(sitting.folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kept"] == []
    (sitting.returned / "class.zip").unlink()
    assert cli.main(["results", str(sitting.folder), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["kept"]) == 3


def test_an_archive_may_be_named_wherever_it_lies(sitting: Sitting, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    archive = tmp_path / "fetched.zip"
    archive.write_bytes(packed({f"{each}.xlsx": data for each, data in papers(sitting).items()}))
    assert len(graded(sitting, capsys, archive)["graded"]) == 3


def test_the_folder_in_an_archive_tells_of_somebody_else(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    put(sitting, "class.zip", packed({"o02/work.xlsx": papers(sitting)["o01"]}))
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["notices"][0].startswith("In the name of the file or its folder stands o02, but lab ")


# --- Which one was saved last -----------------------------------------------------------------------------------------


def clock(seconds: float) -> str:
    return time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(seconds))


def test_the_time_inside_a_workbook_goes_before_that_of_the_file(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    work = papers(sitting)["o01"]
    put(sitting, "later.xlsx", saved_inside(work, "2026-03-12T11:00:00Z"), OLD)
    put(sitting, "later (conflicted copy).xlsx", saved_inside(work, "2026-03-12T12:00:00+02:00"), NEW)
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["file"] == "returned/later.xlsx"
    inside, other = (clock(1_773_313_200 + offset) for offset in (0, -3600))
    assert lab["notices"] == [
        f"Several files for this lab: returned/later.xlsx (inside it {inside}, of the file {clock(OLD)}) was saved last and "
        f"counts, not returned/later (conflicted copy).xlsx (inside it {other}, of the file {clock(NEW)}), by its name a "
        "second copy."
    ]


@pytest.mark.parametrize(
    "when", ["", "yesterday", "1601-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "2026-02-30T00:00:00Z"]
)
def test_a_time_inside_that_cannot_be_leaves_that_of_the_file(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], when: str
):
    work = papers(sitting)["o01"]
    put(sitting, "a.xlsx", saved_inside(work, when), NEW)
    put(sitting, "b.xlsx", work, OLD)
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["file"] == "returned/a.xlsx"


def test_a_file_in_an_archive_has_the_time_that_the_archive_says(tmp_path: Path):
    file = tmp_path / "a.zip"
    file.write_bytes(packed({"local.txt": b"x"}))
    assert clock(time_saved(file / "local.txt")) == "2026-03-12 10:30:00"
    file.write_bytes(packed({"universal.txt": b"x"}, extra=struct.pack("<HHBi", 0x5455, 5, 1, OLD)))
    assert time_saved(file / "universal.txt") == OLD
    file.write_bytes(packed({"none.txt": b"x"}, date_time=(1980, 0, 0, 0, 0, 0)))
    os.utime(file, (NEW, NEW))
    assert time_saved(file / "none.txt") == NEW


def test_two_endings_are_told_and_graded(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    handed_in = papers(sitting)
    put(sitting, "o01.xlsx.txt", handed_in["o01"])
    put(sitting, "o02.xlsx.zip", handed_in["o02"])
    put(sitting, "class.zip", packed({"o03.xlsx.zip": handed_in["o03"]}))
    labs = graded(sitting, capsys)["graded"]
    assert [each["percent"] for each in labs] == ["100"] * 3
    assert [each["notices"] for each in sorted(labs, key=lambda each: each["trainee"])] == [
        ["Its name has two endings, .xlsx.txt; it was read as the workbook it is."],
        ["Its name has two endings, .xlsx.zip; it was read as the workbook it is."],
        ["Its name has two endings, .xlsx.zip; it was read as the workbook it is."],
    ]


# --- Distrust ---------------------------------------------------------------------------------------------------------


def test_no_name_leads_out_of_an_archive(tmp_path: Path):
    names = [
        "../../a.xlsx",
        "/etc/a.xlsx",
        "..\\..\\a.xlsx",
        "C:\\a.xlsx",
        "a.xlsx",
        "...",
        "x/" * 40 + "a.xlsx",
        "n" * 300 + ".xlsx",
    ]
    file = tmp_path / "a.zip"
    file.write_bytes(packed(dict.fromkeys(names, b"x")))
    before = tree(tmp_path)
    found = archives.members(file)
    assert len({each.path for each in found}) == len(names), "each has a name of its own"
    for each in found:
        inside = each.path.relative_to(file).parts
        assert ".." not in inside
        assert all(len(step) <= 130 for step in inside)
        assert len(inside) <= 12
        assert archives.read_member(file, each.path, 10) == b"x"
        assert is_there(each.path)
    assert tree(tmp_path) == before
    assert found[-1].path.suffix == ".xlsx"


def test_work_of_a_very_long_name_in_an_archive_is_graded_and_keeps_its_marks(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    name = f"{'語' * 300}/{'é' * 300}/{'n' * 200}.xlsx"
    put(sitting, "class.zip", packed({name: papers(sitting)["o01"]}))
    (lab,) = graded(sitting, capsys)["graded"]
    assert lab["percent"] == "100"
    assert lab["file"].startswith("returned/class.zip/語語")
    assert cli.main(["results", str(sitting.folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kept"] == [], "the file is still there"


def test_names_in_letters_of_no_declared_kind_are_read_as_utf_8(tmp_path: Path):
    file = tmp_path / "a.zip"
    data = bytearray(packed({"Zoé.xlsx": b"x"}))
    for place in (data.index(b"PK\3\4") + 6, data.index(b"PK\1\2") + 8):
        assert struct.unpack_from("<H", data, place)[0] == 0x800
        struct.pack_into("<H", data, place, 0)
    file.write_bytes(data)
    assert [each.path.name for each in archives.members(file)] == ["Zoé.xlsx"]


def test_error_an_archive_in_an_archive_stays_closed(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    handed_in = papers(sitting)
    inner = packed({"work.xlsx": handed_in["o01"]})
    put(sitting, "class.zip", packed({"o01.zip": inner, "o02.xlsx": handed_in["o02"]}))
    found = graded(sitting, capsys)
    assert [each["trainee"] for each in found["graded"]] == ["o02"]
    assert found["not_graded"] == [
        {
            "file": "returned/class.zip/o01.zip",
            "reason": "It is an archive in an archive, which is not opened. Unpack the outer one, and put the files here in its "
            "place.",
        }
    ]


def refusal(file: Path) -> str:
    with pytest.raises(TrainerError) as found:
        archives.members(file)
    return str(found.value)


def test_error_an_archive_of_too_many_files_is_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    file = tmp_path / "a.zip"
    file.write_bytes(packed({f"{number}": b"" for number in range(2_001)}))
    assert refusal(file) == (
        "The archive holds 2,001 files, and at most 2,000 are read. Unpack it, and put the files here in its place."
    )
    assert found_in(tmp_path).unread == ((file, refusal(file)),)


def test_error_an_archive_that_unpacks_to_more_than_two_gigabytes_is_not_opened(tmp_path: Path):
    file = tmp_path / "a.zip"
    data = bytearray(packed({"a": b"x", "b": b"x"}))
    place = data.index(b"PK\1\2") + 24
    struct.pack_into("<I", data, place, 2**31)
    file.write_bytes(data)
    assert refusal(file) == "The archive unpacks to more than 2 GB. Unpack it, and put the files here in its place."


def test_error_a_list_of_members_that_is_too_large_is_not_read(tmp_path: Path):
    file = tmp_path / "a.zip"
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for number in range(900):
            archive.writestr(f"{number}" + "n" * 5000, b"")
    file.write_bytes(stream.getvalue())
    assert refusal(file).startswith("The archive is damaged, or was not fetched to its end.")


def test_error_what_is_in_an_archive_has_the_limits_of_a_workbook(tmp_path: Path):
    file = tmp_path / "a.zip"
    file.write_bytes(packed({"a.xlsx": bytes(20 * 2**20 + 1)}))
    with pytest.raises(TrainerError, match="larger than 20 MB"):
        read_returned(file / "a.xlsx")


@pytest.mark.parametrize("how", ["password", "method", "broken"])
def test_error_a_member_that_cannot_be_read_stops_no_other(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], how: str
):
    handed_in = papers(sitting)
    data = bytearray(packed({"bad.xlsx": handed_in["o01"], "good.xlsx": handed_in["o02"]}))
    entry, local = data.index(b"PK\1\2"), 0
    if how == "password":
        data[entry + 8] |= 1
        data[local + 6] |= 1
    elif how == "method":
        struct.pack_into("<H", data, entry + 10, 9)
    else:
        data[200] ^= 0xFF
    put(sitting, "class.zip", bytes(data))
    found = graded(sitting, capsys)
    assert [each["trainee"] for each in found["graded"]] == ["o02"]
    (bad,) = found["not_graded"]
    words = {
        "password": "It is protected by a password",
        "method": "It is packed in a way",
        "broken": "It is damaged in the",
    }
    assert bad["file"] == "returned/class.zip/bad.xlsx"
    assert bad["reason"].startswith(words[how])


def test_error_an_archive_that_is_cut_off_is_told(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    data = packed({"a.xlsx": papers(sitting)["o01"]})
    put(sitting, "class.zip", data[: len(data) // 2])
    assert graded(sitting, capsys)["not_graded"] == [
        {
            "file": "returned/class.zip",
            "reason": "The file is incomplete; perhaps its upload was cut off. Ask for the file again.",
        }
    ]
