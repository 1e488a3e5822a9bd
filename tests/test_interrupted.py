"""Broken off at any write and run again, `set` and `grade` end as if nothing had happened; what cannot be written is told."""

import errno
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Self

import openpyxl
import pytest
from broken_off import killed_at, writes
from on_request import many
from sittings_compared import SMALL, differences, grade_words, set_and_handed_in, set_words, tree, with_secret

from trainer import cli
from trainer.store import Sitting


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sitting, Path]:
    """A sitting that is set and one that is graded too."""
    folder = tmp_path_factory.mktemp("undisturbed")
    is_set = set_and_handed_in(folder / "s", 3)
    copy = folder / "graded" / "s"
    shutil.copytree(is_set.folder, copy)
    assert cli.main(grade_words(Sitting(copy))) == 1
    return is_set, copy


QUARTERS = range(5)
"""The first write, the last, and three between them."""


@pytest.fixture(scope="module")
def writes_of_set(tmp_path_factory: pytest.TempPathFactory) -> int:
    count = writes(set_words(with_secret(tmp_path_factory.mktemp("new") / "s"), 3))
    assert count >= 2 + 3 * 3, "register and decisions; scenario file, key and workbook of three labs"
    return count


@pytest.fixture(scope="module")
def writes_of_grade(tmp_path_factory: pytest.TempPathFactory, undisturbed: tuple[Sitting, Path]) -> int:
    folder = tmp_path_factory.mktemp("new") / "s"
    shutil.copytree(undisturbed[0].folder, folder)
    count = writes(grade_words(Sitting(folder)))
    assert count >= 2 * 3 + 3, "marked workbook, page and marks of two labs; what was not graded, and the results twice"
    return count


@pytest.mark.parametrize("quarter", QUARTERS)
def test_a_class_whose_setting_was_killed_is_set_as_if_nothing_had_happened(
    undisturbed: tuple[Sitting, Path],
    writes_of_set: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    quarter: int,
):
    sitting = with_secret(tmp_path / "s")
    with killed_at(1 + (writes_of_set - 1) * quarter // 4):
        cli.main(set_words(sitting, 3))
    assert [*sitting.folder.rglob(".new-*")]
    assert sitting.lock_file.exists()
    capsys.readouterr()
    assert cli.main(set_words(sitting, 3)) == 0
    assert "broken off" in capsys.readouterr().err
    found, wanted = tree(sitting.folder), tree(undisturbed[0].folder)
    returned = [name for name in wanted if name.startswith("returned/")]
    assert differences(found, wanted) == returned


@pytest.mark.parametrize("quarter", QUARTERS)
def test_a_grading_that_was_killed_is_done_again_as_if_nothing_had_happened(
    undisturbed: tuple[Sitting, Path], writes_of_grade: int, tmp_path: Path, quarter: int
):
    is_set, is_graded = undisturbed
    sitting = Sitting(tmp_path / "s")
    shutil.copytree(is_set.folder, sitting.folder)
    with killed_at(1 + (writes_of_grade - 1) * quarter // 4):
        cli.main(grade_words(sitting))
    assert cli.main(grade_words(sitting)) == 1
    assert differences(tree(sitting.folder), tree(is_graded)) == []


def test_results_and_keys_written_twice_are_the_same(undisturbed: tuple[Sitting, Path], tmp_path: Path):
    sitting = Sitting(tmp_path / "s")
    shutil.copytree(undisturbed[1], sitting.folder)
    assert cli.main(["results", str(sitting.folder)]) == 0
    assert differences(tree(sitting.folder), tree(undisturbed[1])) == []
    assert cli.main(["key", str(sitting.folder)]) == 0
    once = tree(sitting.folder)
    for page in (*sitting.keys.glob("*.html"), *sitting.print.glob("keys*")):
        page.unlink()
    with killed_at(2):
        cli.main(["key", str(sitting.folder)])
    assert cli.main(["key", str(sitting.folder)]) == 0
    assert differences(tree(sitting.folder), once) == []


# --- A file that cannot be written is told, and the rest goes on ------------------------------------------------------


@pytest.fixture
def sitting(undisturbed: tuple[Sitting, Path], tmp_path: Path) -> Sitting:
    """Set and handed in, not graded."""
    shutil.copytree(undisturbed[0].folder, tmp_path / "s")
    return Sitting.open(tmp_path / "s")


def refuse(patch: pytest.MonkeyPatch, error: OSError, which: Callable[[Path], bool]) -> None:
    """As a system does that keeps an open file from being replaced, or has no room for it."""
    replace = Path.replace

    def refusing(self: Path, target: Path) -> Path:
        if which(Path(target)):
            raise error
        return replace(self, target)

    patch.setattr(Path, "replace", refusing)


SIZES = range(16)


@contextmanager
def disk_of(room: int) -> Iterator[Callable[[], int]]:
    """A disk that takes so many bytes more, and then is full; tells how many it has taken."""
    left = room
    fdopen = os.fdopen

    class Bounded:
        def __init__(self, out: BinaryIO) -> None:
            self.out = out

        def __enter__(self) -> Self:
            return self

        def __exit__(self, *_: object) -> None:
            self.out.close()

        def write(self, data: bytes) -> int:
            nonlocal left
            if len(data) > left:
                raise OSError(errno.ENOSPC, "No space left on device")
            left -= len(data)
            return self.out.write(data)

        def flush(self) -> None:
            self.out.flush()

    def bounded(handle: int, mode: str, *rest: Any, **named: Any) -> Any:
        out = fdopen(handle, mode, *rest, **named)
        return Bounded(out) if mode == "wb" else out

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("trainer.files.os.fdopen", bounded)
        yield lambda: room - left


@pytest.fixture(scope="module")
def bytes_of_grade(tmp_path_factory: pytest.TempPathFactory, undisturbed: tuple[Sitting, Path]) -> int:
    """What grading writes in all."""
    folder = tmp_path_factory.mktemp("measured") / "s"
    shutil.copytree(undisturbed[0].folder, folder)
    with disk_of(10**9) as taken:
        cli.main(grade_words(Sitting(folder)))
    return taken()


@pytest.mark.parametrize("size", many(SIZES, SIZES[::4]))
def test_error_a_full_disk_is_told_and_grading_again_ends_as_if_nothing_had_happened(
    undisturbed: tuple[Sitting, Path],
    bytes_of_grade: int,
    sitting: Sitting,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    size: int,
):
    monkeypatch.chdir(tmp_path)
    wanted = tree(undisturbed[1])
    with disk_of(bytes_of_grade * size // len(SIZES)):
        assert cli.main(grade_words(sitting)) == 1
    assert "No space left on device" in "".join(capsys.readouterr())
    assert not (tmp_path / "output").exists(), "it is no fault of ours, and nothing is to be sent to us"
    assert cli.main(grade_words(sitting)) == 1
    assert differences(tree(sitting.folder), wanted) == []


OPEN_ELSEWHERE = PermissionError(errno.EACCES, "Permission denied")
FULL = OSError(errno.ENOSPC, "No space left on device")


def said_of(file: Path, reason: str = "Permission denied") -> str:
    return (
        f"{file} cannot be written ({reason}). Close it if another program has it open, make room if the disk is full, or "
        "take its write protection away; then run the command again."
    )


@pytest.mark.parametrize("command", ["grade", "results"])
def test_error_results_that_are_open_in_another_program(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, command: str
):
    (sitting.returned / "notes.txt").unlink()
    assert cli.main(grade_words(sitting)) == 0
    old = sitting.results_book.read_bytes()
    sitting.results_text.unlink()
    refuse(monkeypatch, OPEN_ELSEWHERE, lambda target: target == sitting.results_book)
    capsys.readouterr()
    assert cli.main([command, str(sitting.folder)]) == 1
    assert capsys.readouterr().err.splitlines() == [said_of(sitting.results_book)]
    assert sitting.results_text.is_file()
    assert sitting.results_book.read_bytes() == old
    assert not [*sitting.folder.rglob(".new-*"), *sitting.folder.rglob("lock")]


def test_error_results_that_could_not_be_written_are_not_among_the_files_that_other_programs_are_told(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    refuse(monkeypatch, OPEN_ELSEWHERE, lambda target: target == sitting.results_book)
    assert cli.main(["results", str(sitting.folder), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["files"] == ["results.html", "results.csv"]


def test_error_a_marked_workbook_that_is_open_in_another_program_is_not_in_the_results(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    """That it could not be written is no notice about what was handed in; it holds for this run alone."""
    name = min(sitting.hand_out.glob("*.xlsx")).name
    with pytest.MonkeyPatch.context() as patch:
        refuse(patch, OPEN_ELSEWHERE, lambda target: target.name == name)
        assert cli.main(grade_words(sitting)) == 1
    assert capsys.readouterr().err.splitlines() == [said_of(sitting.marked / name)]
    assert "cannot be written" not in str(list(openpyxl.load_workbook(sitting.results_book)["Results"].values))
    assert len(list(sitting.marked.glob("*.xlsx"))) == 1
    assert cli.main(grade_words(sitting)) == 1
    assert len(list(sitting.marked.glob("*.xlsx"))) == 2


def test_error_a_write_protected_file_is_left_as_it_is(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    """The folder may be written into, so renaming would go over it; whoever protected it did not want that."""
    sitting.results_book.write_bytes(b"the head's copy")
    sitting.results_book.chmod(0o444)
    assert cli.main(grade_words(sitting)) == 1
    assert capsys.readouterr().err.splitlines() == [said_of(sitting.results_book, "it is write-protected")]
    assert sitting.results_book.read_bytes() == b"the head's copy"
    assert sitting.results_text.is_file()


def test_error_a_full_disk_is_told_and_everything_stays_as_it_was(
    sitting: Sitting, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    assert cli.main(grade_words(sitting)) == 1
    before = tree(sitting.folder)
    refuse(monkeypatch, FULL, lambda _target: True)
    capsys.readouterr()
    for command in ("grade", "results", "key"):
        assert cli.main([command, str(sitting.folder)]) == 1
        printed = capsys.readouterr()
        assert "cannot be written (No space left on device)" in printed.out + printed.err
        assert differences(tree(sitting.folder), before) == []


def test_error_of_a_class_that_is_set_one_workbook_cannot_be_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], undisturbed: tuple[Sitting, Path]
):
    sitting = with_secret(tmp_path / "s")
    with pytest.MonkeyPatch.context() as patch:
        refuse(patch, FULL, lambda target: target.match("KEY-o02*.xlsx"))
        assert cli.main([*set_words(sitting, 3), "--json"]) == 1
    out, err = capsys.readouterr()
    (key,) = undisturbed[0].keys.glob("KEY-o02*.xlsx")
    assert err.splitlines() == [
        f"o02 has no complete lab yet: {said_of(sitting.keys / key.name, 'No space left on device')}"
    ]
    assert [lab["trainee"] for lab in json.loads(out)["labs"]] == ["o01", "o03"]
    assert [file.name[:3] for file in sorted(sitting.hand_out.glob("*.xlsx"))] == ["o01", "o03"]
    assert cli.main(set_words(sitting, 3)) == 0
    assert differences(tree(sitting.folder), tree(undisturbed[0].folder)) == [
        name for name in tree(undisturbed[0].folder) if name.startswith("returned/")
    ]


def test_error_decisions_that_cannot_be_made_keep_nothing_from_being_graded(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
):
    sitting.overrides_book.unlink()
    with pytest.MonkeyPatch.context() as patch:
        refuse(patch, FULL, lambda target: target == sitting.overrides_book)
        assert cli.main(grade_words(sitting)) == 1
    printed = capsys.readouterr()
    assert printed.err.splitlines() == [said_of(sitting.overrides_book, "No space left on device")]
    assert "2 graded, 1 not graded" in printed.out


def test_error_of_the_key_pages_one_cannot_be_written(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    with pytest.MonkeyPatch.context() as patch:
        refuse(patch, OPEN_ELSEWHERE, lambda target: target.match("KEY-o02*.html"))
        assert cli.main(["key", str(sitting.folder), "--json"]) == 1
    out, err = capsys.readouterr()
    assert [key["trainee"] for key in json.loads(out)["keys"]] == ["o01", "o03"]
    assert len(err.splitlines()) == 1
    assert len(list(sitting.keys.glob("*.html"))) == 2


def test_error_a_sitting_where_no_folder_can_be_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / "s").write_text("a file in its place", encoding="utf-8")
    assert cli.main(["set", str(SMALL), "--out", str(tmp_path), "--sitting", "s"]) == 1
    assert capsys.readouterr().err == (
        f"{tmp_path / 's' / 'hand-out'} cannot be made a folder of the sitting (Not a directory). Make room, see that you may "
        "write there, or choose another place with --out, and run the command again.\n"
    )


# --- Named files, and folders that were thrown away -------------------------------------------------------------------


def test_grading_named_files_leaves_the_results_of_all_others_as_they_are(sitting: Sitting):
    cli.main(grade_words(sitting))
    before = tree(sitting.folder)
    (named,) = sitting.returned.glob("o02*")
    assert cli.main(["grade", str(sitting.folder), str(named)]) == 0
    assert differences(tree(sitting.folder), before) == []
    (sitting.returned / "notes.txt").unlink()
    assert cli.main(["grade", str(sitting.folder), str(named)]) == 0
    changed = differences(tree(sitting.folder), before)
    assert changed == ["instructor/not-graded.json", "results.html", "results.xlsx", "returned/notes.txt"]


def test_a_named_file_that_cannot_be_graded_stands_once_among_those(sitting: Sitting):
    cli.main(grade_words(sitting))
    before = tree(sitting.folder)
    assert cli.main(["grade", str(sitting.folder), str(sitting.returned / "notes.txt")]) == 1
    assert differences(tree(sitting.folder), before) == []


def test_error_what_could_not_be_graded_last_time_cannot_be_read(sitting: Sitting, capsys: pytest.CaptureFixture[str]):
    cli.main(grade_words(sitting))
    before = tree(sitting.folder)
    file = sitting.instructor / "not-graded.json"
    file.write_text("{", encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["results", str(sitting.folder)]) == 1
    assert capsys.readouterr().err == (
        f"{file} cannot be read, so the results would lack the files that could not be graded. Run 'trainer grade "
        f"{sitting.folder}', which writes it anew.\n"
    )
    assert cli.main(["grade", str(sitting.folder), str(sitting.returned / "notes.txt")]) == 1
    assert differences(tree(sitting.folder), before) == []


def test_folders_that_were_thrown_away_are_made_again(sitting: Sitting):
    cli.main(grade_words(sitting))
    before = tree(sitting.folder)
    shutil.rmtree(sitting.marked)
    sitting.instructor.chmod(0o755)
    cli.main(grade_words(sitting))
    assert differences(tree(sitting.folder), before) == []


def test_every_file_is_on_the_disk_before_it_takes_its_place(sitting: Sitting, monkeypatch: pytest.MonkeyPatch):
    """After a power cut a name may stand for a file that never came to the disk."""
    order = []
    replace, synced = Path.replace, os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: order.append("synced") or synced(handle))
    monkeypatch.setattr(Path, "replace", lambda self, target: order.append("in place") or replace(self, target))
    cli.main(["results", str(sitting.folder)])
    assert order == ["synced", "in place"] * 3
