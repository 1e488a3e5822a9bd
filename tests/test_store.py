"""The sitting's folder: files are there whole or not at all, what is the instructor's is closed, and damage is told."""

import errno
import json
import os
import stat
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

import pytest
from drawn_labs import bakery, exercise_of
from read_configuration import read_configuration

from trainer.commands.set_labs import set_sitting
from trainer.errors import TrainerError
from trainer.files import read_returned, write_file
from trainer.lab.build import build
from trainer.lab.form import CellRef
from trainer.lab.key import derive_key
from trainer.lab.rows import VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario, Trainee
from trainer.marking.marks import Marked
from trainer.store import GradedLab, Sitting, cell_places

RESTORE = (
    "Put a copy of it back. Without one, move it away and run 'trainer set' again with the same exercise workbook: by the "
    "secret everything comes out as it was."
)
LOOK = "See that it is there and that you may read it, or copy it here again."


@pytest.fixture
def sitting(tmp_path: Path) -> Sitting:
    sitting = Sitting(tmp_path / "sitting")
    sitting.create()
    return sitting


@pytest.fixture
def set_up(tmp_path: Path) -> Sitting:
    """A sitting of two trainees, as the command sets it."""
    exercise = exercise_of(HARBOUR)
    sitting = Sitting(tmp_path / "HARBOUR-2-today")
    set_sitting(replace(exercise, trainees=exercise.trainees[:2]), sitting)
    return sitting


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def files_under(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*")) if path.is_file())


# --- Written whole or not at all --------------------------------------------------------------------------------------


def test_a_file_is_written(tmp_path: Path):
    write_file(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"new"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_file_is_written_in_place_of_another(tmp_path: Path):
    (tmp_path / "a").write_bytes(b"old, and longer")
    write_file(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"new"


def test_error_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    file = tmp_path / "a"
    file.write_bytes(b"old")

    def fail(_self: Path, _target: Path) -> None:
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(TrainerError) as refused:
        write_file(file, b"new")
    assert str(refused.value) == (
        f"{file} cannot be written (Permission denied). Close it if another program has it open, make room if the disk is "
        "full, or take its write protection away; then run the command again."
    )
    assert file.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a"], "nothing half-written is left behind"


def test_error_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    file = tmp_path / "a"
    file.write_bytes(b"old")

    class Full:
        def __enter__(self) -> Self:
            return self

        def __exit__(self, *_: object) -> None:
            os.close(self.handle)

        def __init__(self, handle: int) -> None:
            self.handle = handle

        def write(self, _data: bytes) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fdopen", lambda handle, _mode: Full(handle))
    with pytest.raises(TrainerError, match=r"cannot be written \(No space left on device\)"):
        write_file(file, b"new")
    assert file.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_an_interrupt_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    file = tmp_path / "a"
    file.write_bytes(b"old")

    def stop(_self: Path, _target: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", stop)
    with pytest.raises(KeyboardInterrupt):
        write_file(file, b"new")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a", b"old")]


def test_error_a_folder_that_is_not_there_is_said(tmp_path: Path):
    with pytest.raises(TrainerError, match=r"cannot be written \(No such file or directory\)"):
        write_file(tmp_path / "none" / "a", b"new")


# --- Who may read -----------------------------------------------------------------------------------------------------


def test_a_file_for_others_has_the_mode_that_new_files_have(tmp_path: Path):
    before = os.umask(0o027)
    try:
        write_file(tmp_path / "a", b"")
        write_file(tmp_path / "b", b"", private=True)
    finally:
        os.umask(before)
    assert [mode(tmp_path / name) for name in "ab"] == [0o640, 0o600]


def test_the_umask_is_left_as_it_was(tmp_path: Path):
    before = os.umask(0o027)
    try:
        write_file(tmp_path / "a", b"")
        assert os.umask(0o027) == 0o027
    finally:
        os.umask(before)


def test_everything_of_the_instructor_is_closed_to_others(set_up: Sitting):
    assert mode(set_up.instructor) == 0o700
    files = list(files_under(set_up.instructor))
    assert {"register.json", "secret"} < {path.name for path in files}
    assert len(files) == 3 + 2 + 2, "register, secret and decisions, two labs, two keys"
    assert {mode(path) for path in files} == {0o600}
    assert {mode(path) for path in set_up.instructor.rglob("*") if path.is_dir()} == {0o700}


def test_what_is_handed_out_can_be_read_by_all_and_names_nobody(set_up: Sitting):
    files = list(files_under(set_up.hand_out))
    assert len(files) == 4, "a workbook and a handout each"
    assert {mode(path) & 0o444 for path in files} == {0o666 & ~_umask() & 0o444}
    assert {path.name.split("-")[0] for path in files} == {"h01", "h02"}
    assert not any(word in path.name for path in files for word in ("Zo", "Bram"))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_keys_put_elsewhere_are_closed_too(tmp_path: Path):
    exercise = exercise_of(HARBOUR)
    sitting = Sitting(tmp_path / "s")
    sitting.keys = tmp_path / "safe" / "keys"
    set_sitting(replace(exercise, trainees=exercise.trainees[:1]), sitting)
    assert [mode(path) for path in files_under(sitting.keys)] == [0o600]
    assert not (sitting.instructor / "keys").exists()


def test_the_secret_is_made_once_and_stands_in_no_other_file(set_up: Sitting):
    secret = (set_up.instructor / "secret").read_text()
    assert len(secret) == 64
    assert set_up.secret() == bytes.fromhex(secret)
    assert set_up.secret() == set_up.secret()
    for file in files_under(set_up.folder):
        if file.name != "secret":
            assert secret.encode() not in file.read_bytes()
            assert set_up.secret() not in file.read_bytes()


def test_two_sittings_have_two_secrets(tmp_path: Path):
    secrets = set()
    for name in "ab":
        sitting = Sitting(tmp_path / name)
        sitting.create()
        secrets.add(sitting.secret())
    assert len(secrets) == 2


# --- Finding things ---------------------------------------------------------------------------------------------------


def test_returned_files_come_in_order_whatever_they_are_called(sitting: Sitting):
    names = ["b.xlsx", "a.pdf", "sub/c.XLSX", "sub/d"]
    (sitting.returned / "sub").mkdir()
    for name in names:
        (sitting.returned / name).write_bytes(b"")
    assert [sitting.relative(file) for file in sitting.returned_files().files] == [
        f"returned/{name}" for name in sorted(names)
    ]


@pytest.mark.parametrize("name", [".hidden.xlsx", "~$k1.xlsx", ".~lock.k1.xlsx#", ".directory"])
def test_hidden_files_and_lock_files_are_passed_over(sitting: Sitting, name: str):
    (sitting.returned / name).write_bytes(b"x")
    (sitting.returned / "k1.xlsx").write_bytes(b"x")
    assert [file.name for file in sitting.returned_files().files] == ["k1.xlsx"]


def test_files_in_hidden_folders_are_passed_over(sitting: Sitting):
    (sitting.returned / ".trash").mkdir()
    (sitting.returned / ".trash" / "old.xlsx").write_bytes(b"x")
    assert sitting.returned_files().files == ()


def test_paths_inside_the_folder_are_relative_and_others_absolute(sitting: Sitting, tmp_path: Path):
    assert sitting.relative(sitting.returned / "a.xlsx") == "returned/a.xlsx"
    assert sitting.relative(tmp_path / "else" / "a.xlsx") == str((tmp_path / "else" / "a.xlsx").resolve())


def test_an_attempt_stands_in_the_file_names(sitting: Sitting):
    lab = bakery()
    again = replace(lab, trainee=Trainee(id="b01", attempt=2))
    assert [sitting.handout_file(each).name for each in (lab, again)] == ["b01-BUN-TEST.xlsx", "b01-2-BUN-TEST.xlsx"]
    assert sitting.key_file(lab) == sitting.instructor / "keys" / "KEY-b01-BUN-TEST.xlsx"
    assert sitting.feedback_page(lab.trainee, lab.lab_number) == sitting.marked / "b01-BUN-TEST.html"


def test_a_lab_is_found_in_the_register_by_its_number(set_up: Sitting):
    register = set_up.register()
    assert register.by_lab[register.labs[1].lab] == register.labs[1]
    assert "ABC-2345" not in register.by_lab
    first, second = register.labs[:2]
    twice = replace(register, labs=(first, replace(second, lab=first.lab)))
    assert twice.by_lab == {first.lab: first}


# --- Labs and grades, there and back ----------------------------------------------------------------------------------


def test_a_lab_is_read_as_it_was_written(sitting: Sitting):
    lab = bakery()
    assert not sitting.has_lab(lab.lab_number)
    sitting.write_lab(lab, derive_key(lab))
    assert sitting.has_lab(lab.lab_number)
    assert sitting.scenario(lab.lab_number) == lab


def test_the_scenario_file_holds_the_key_as_text(sitting: Sitting):
    lab = bakery()
    sitting.write_lab(lab, derive_key(lab))
    record = json.loads((sitting.labs / "BUN-TEST.json").read_text(encoding="utf-8"))
    assert record["format"] == 1
    assert record["key"]["subnets.gateway"]["20"] == "10.20.2.1"
    assert record["key"]["routes.mask"]["A to 30"] == "/23"


def test_the_scenario_file_holds_the_network_of_the_key_for_other_tools(sitting: Sitting):
    lab = bakery()
    sitting.write_lab(lab, derive_key(lab))
    record = json.loads((sitting.labs / "BUN-TEST.json").read_text(encoding="utf-8"))
    assert read_configuration(record["configuration"]) == build(lab, derive_key(lab)).network


def test_a_scenario_file_from_before_the_configuration_is_read(sitting: Sitting):
    lab = bakery()
    sitting.write_lab(lab, derive_key(lab))
    file = sitting.labs / "BUN-TEST.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    del record["configuration"]
    file.write_text(json.dumps(record), encoding="utf-8")
    assert sitting.scenario("BUN-TEST") == lab


def graded(lab: Scenario, file: str) -> GradedLab:
    return GradedLab(
        lab=lab.lab_number,
        trainee=lab.trainee.id,
        file=file,
        marked="marked/b01-BUN-TEST.xlsx",
        notices=(),
        where=(("subnets.gateway", "20", "Subnets", "I7"),),
        marks=Marked(cells=(), sections=()),
    )


def test_grades_are_read_as_they_were_written(sitting: Sitting):
    file = sitting.returned / "b01.xlsx"
    file.write_bytes(b"x")
    grade = graded(bakery(), "returned/b01.xlsx")
    sitting.write_grade(grade)
    assert sitting.last_grades().by_lab == {"BUN-TEST": grade}
    assert cell_places(grade) == {CellRef("subnets.gateway", VlanRow(20)): ("Subnets", "I7")}
    file.unlink()
    assert sitting.last_grades().by_lab == {"BUN-TEST": grade}, "marks stay, whatever becomes of the file"


# --- Damage -----------------------------------------------------------------------------------------------------------


def test_error_a_folder_that_is_no_sitting_is_refused(tmp_path: Path):
    with pytest.raises(TrainerError) as refused:
        Sitting.open(tmp_path)
    assert str(refused.value) == (
        f"{tmp_path} is no sitting: it holds no instructor/register.json. Give the folder that 'trainer set' named."
    )


def damage(file: Path, **changes: Any) -> None:
    record = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(record | changes), encoding="utf-8")


def test_error_a_damaged_scenario_file_is_told_with_the_place(sitting: Sitting):
    sitting.write_lab(bakery(), derive_key(bakery()))
    file = sitting.labs / "BUN-TEST.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    damage(file, scenario=record["scenario"] | {"block": "10.20.0.1/22"})
    with pytest.raises(TrainerError) as refused:
        sitting.scenario("BUN-TEST")
    assert str(refused.value) == (f"{file} is damaged: Scenario.block: '10.20.0.1/22' is not a IPv4Network. {RESTORE}")


@pytest.mark.parametrize("text", ["", "{", "\x00\x01", "[" * 10])
def test_error_a_scenario_file_that_is_no_json_is_told(sitting: Sitting, text: str):
    file = sitting.labs / "BUN-TEST.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(TrainerError) as refused:
        sitting.scenario("BUN-TEST")
    assert str(refused.value) == f"{file} cannot be read. {RESTORE}"


def test_error_a_scenario_file_that_is_not_there_is_told(sitting: Sitting):
    with pytest.raises(TrainerError) as refused:
        sitting.scenario("BUN-TEST")
    assert str(refused.value) == (f"{sitting.labs / 'BUN-TEST.json'} cannot be read. {RESTORE}")


@pytest.mark.parametrize("record", [{"format": 2}, {}, [], 7, None])
def test_error_a_scenario_file_of_another_version_is_told(sitting: Sitting, record: Any):
    file = sitting.labs / "BUN-TEST.json"
    file.write_text(json.dumps(record), encoding="utf-8")
    with pytest.raises(TrainerError) as refused:
        sitting.scenario("BUN-TEST")
    assert str(refused.value) == (
        f"{file} was written by another version of this program; use that one for this sitting."
    )


def test_error_a_scenario_file_that_is_nested_too_deep_is_told(sitting: Sitting):
    (sitting.labs / "BUN-TEST.json").write_text("[" * 100_000, encoding="utf-8")
    with pytest.raises(TrainerError):
        sitting.scenario("BUN-TEST")


def test_error_a_damaged_register_is_told(set_up: Sitting):
    file = set_up.instructor / "register.json"
    damage(file, labs=[{"lab": "ABC-2345"}])
    with pytest.raises(TrainerError) as refused:
        set_up.register()
    assert str(refused.value) == (
        f"{file} is damaged or of another version (Register.labs[0]: the fields are not lab, trainee, attempt, is_excused, "
        "has_left). "
        f"{RESTORE}"
    )


@pytest.mark.parametrize("version", [0, 2, "1", None])
def test_error_a_register_of_another_version_is_told(set_up: Sitting, version: Any):
    """Its fields may all be there, and mean something else."""
    file = set_up.instructor / "register.json"
    damage(file, format=version)
    with pytest.raises(TrainerError) as refused:
        set_up.register()
    assert str(refused.value) == (
        f"{file} was written by another version of this program; use that one for this sitting."
    )


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("zz", id="no hexadecimal digits"),
        pytest.param("", id="empty"),
        pytest.param("ab", id="too short"),
    ],
)
def test_error_a_damaged_secret_is_told(set_up: Sitting, text: str):
    (set_up.instructor / "secret").write_text(text)
    with pytest.raises(TrainerError):
        set_up.secret()


def test_what_is_lost_comes_out_as_it_was_when_the_sitting_is_set_again(set_up: Sitting):
    """That is what the messages promise, of the register, a scenario file or both."""
    exercise = exercise_of(HARBOUR)
    exercise = replace(exercise, trainees=exercise.trainees[:2])
    before = {path: path.read_bytes() for path in files_under(set_up.folder)}
    register, lab = set_up.instructor / "register.json", min(set_up.labs.iterdir())
    for lost in ((register,), (lab,), (register, lab)):
        for file in lost:
            file.unlink()
        set_sitting(exercise, set_up)
        assert {path: path.read_bytes() for path in files_under(set_up.folder)} == before


def test_error_a_sitting_whose_name_is_mistyped_is_offered(set_up: Sitting):
    with pytest.raises(TrainerError) as refused:
        Sitting.open(set_up.folder.parent / "HARBOR-2")
    assert str(refused.value).endswith("it holds no instructor/register.json. Did you mean HARBOUR-2-today?")


# --- Returned files ---------------------------------------------------------------------------------------------------


def test_error_a_returned_file_that_cannot_be_read_is_told(tmp_path: Path):
    with pytest.raises(TrainerError) as refused:
        read_returned(tmp_path / "none.xlsx")
    assert str(refused.value) == f"The file cannot be read (No such file or directory). {LOOK}"


def test_error_a_returned_file_that_is_far_too_large_is_not_read(tmp_path: Path):
    file = tmp_path / "big.xlsx"
    with file.open("wb") as out:
        out.truncate(20 * 2**20 + 1)
    with pytest.raises(TrainerError) as refused:
        read_returned(file)
    assert str(refused.value) == (
        "The file is larger than 20 MB, so it is no filled workbook of ours. Ask for the workbook that was handed out."
    )


def test_error_a_folder_in_place_of_a_file_is_told(tmp_path: Path):
    with pytest.raises(TrainerError) as refused:
        read_returned(tmp_path)
    assert str(refused.value) == "It is not a file. Put the workbook itself in its place."
