"""A sitting's folder: the only reader and writer of its files. Every file is written beside itself and renamed.

hand-out/    workbooks and handouts for the trainees: safe to share as they are
instructor/  keys, scenario files, register, secret, marks, progress of practice: mode 0700
returned/    what comes back, any names
marked/      a marked workbook and a feedback page per trainee
results.xlsx, results.csv
"""

import errno
import json
import os
import re
import secrets
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from trainer.errors import TrainerError, did_you_mean
from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.draw import ClassDraw
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers, CellRef, RowKey
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import Reveal, Scenario, Trainee
from trainer.lock import is_running
from trainer.marking.marks import Marked
from trainer.marking.practice import FORMAT as PROGRESS_FORMAT
from trainer.marking.practice import Progress
from trainer.records import RecordError, from_record, to_record

__all__ = [
    "GradedLab",
    "Register",
    "RegisteredLab",
    "Sitting",
    "StoredGrades",
    "cell_places",
    "files_in",
    "lab_of",
    "read_returned",
    "time_saved",
    "write_file",
]

FORMAT = 1
"""Version of the scenario file and of the register."""
_NEW = ".new-"
"""What a file that is being written is called, before the number of the process that writes it."""
_RESTORE = (
    "Put a copy of it back. Without one, move it away and run 'trainer set' again with the same exercise workbook: by the "
    "secret everything comes out as it was."
)
"""True as long as the secret, the exercise and this version of the program are those that it was set with."""
LARGEST_RETURNED = 20 * 2**20
"""Bytes of a returned file; a filled workbook has some 25,000."""


_LEFT_BY_SYSTEMS = frozenset({"thumbs.db", "desktop.ini", "icon\r"})
"""Names of files that desktop systems put into folders, in small letters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredLab:
    """A lab that was drawn, and for whom. Its place in the register is its index for the address slots."""

    lab: str
    trainee: str
    attempt: int
    is_excused: bool = field(default=False, metadata={"added later": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """What a sitting has in common, and its labs in the order in which they joined."""

    format: int
    exercise: Exercise
    """Without its trainees, so that one who joins late is no change."""
    common: ClassDraw
    labs: tuple[RegisteredLab, ...] = field(default=())


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedLab:
    """What `grade` found, kept so that results can be written again without reading everything anew."""

    lab: str
    trainee: str
    file: str
    """Relative to the sitting's folder, or absolute where it lies outside."""
    marked: str
    notices: tuple[str, ...]
    where: tuple[tuple[str, str, str, str], ...]
    """Question, row, sheet, cell: where answers stood in the returned file."""
    marks: Marked
    """Whole, however much of it the trainee may see."""
    shown: Reveal | None = field(default=None, metadata={"added later": True})
    """How much of it the trainee's workbook and page show; None where that is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredGrades:
    """What earlier runs of `grade` have found."""

    by_lab: Mapping[str, GradedLab]
    damaged: Mapping[str, Path]
    """Files of marks that cannot be read, by lab."""


class Sitting:
    """A sitting's folder on disk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.hand_out = folder / "hand-out"
        self.instructor = folder / "instructor"
        self.labs = self.instructor / "labs"
        self.grades = self.instructor / "marks"
        self.returned = folder / "returned"
        self.marked = folder / "marked"
        self.results_book = folder / "results.xlsx"
        self.results_page = folder / "results.html"
        self.results_text = folder / "results.csv"
        self.overrides_book = self.instructor / "overrides.xlsx"
        self.keys = self.instructor / "keys"
        self.print = self.instructor / "print"
        """Pages of the whole class in one file each."""
        self.lock_file = self.instructor / "lock"

    @classmethod
    def open(cls, folder: Path) -> "Sitting":
        """An existing sitting. Raises TrainerError where the folder is none."""
        sitting = cls(folder)
        if not sitting.has_register:
            others = sorted(file.parts[-3] for file in folder.parent.glob("*/instructor/register.json"))
            meant = did_you_mean(folder.name, others) or "Give the folder that 'trainer set' named."
            raise TrainerError(f"{folder} is no sitting: it holds no instructor/register.json. {meant}")
        return sitting

    @property
    def has_register(self) -> bool:
        return self._register_file.is_file()

    def create(self) -> None:
        """Makes the folders; those for the instructor are closed to others, also where a copy of them has lost that.

        Raises TrainerError where they cannot be made.
        """
        try:
            for folder in (self.hand_out, self.returned, self.marked):
                folder.mkdir(parents=True, exist_ok=True)
            for folder in (self.instructor, self.labs, self.grades, self.print):
                folder.mkdir(parents=True, exist_ok=True, mode=0o700)
                if folder.stat().st_mode & 0o077:
                    folder.chmod(0o700)
        except OSError as fault:
            raise TrainerError(
                f"{fault.filename or self.folder} cannot be made a folder of the sitting ({fault.strerror}). Make room, "
                "see that you may write there, or choose another place with --out, and run the command again."
            ) from fault

    def create_keys(self) -> None:
        """Makes the folder for keys, closed to others. Raises TrainerError where it cannot be made."""
        try:
            self.keys.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as fault:
            raise TrainerError(
                f"{self.keys} cannot be made a folder for keys ({fault.strerror}). Choose another one with --keys, and run "
                "the command again."
            ) from fault

    def sweep(self) -> None:
        """Takes away what runs that were killed have left half-written. Other runs' files are left to them."""
        for folder in self._written_folders:
            for file in folder.glob(f"{_NEW}*"):
                process = file.name.removeprefix(_NEW).partition("-")[0]
                is_at_work = process.isdecimal() and int(process) != os.getpid() and is_running(int(process))
                if not is_at_work:
                    with suppress(OSError):
                        file.unlink()

    @property
    def _written_folders(self) -> tuple[Path, ...]:
        return (
            *(self.folder, self.hand_out, self.instructor, self.labs, self.grades),
            *(self.keys, self.print, self.marked),
        )

    def secret(self) -> bytes:
        """The sitting's secret, made on first use; it is written nowhere else."""
        file = self.instructor / "secret"
        if not file.exists():
            write_file(file, secrets.token_hex(32).encode(), private=True)
        text = file.read_text(encoding="ascii", errors="replace").strip()
        if not re.fullmatch(r"[0-9a-f]{64}", text):
            raise TrainerError(
                f"{file} is damaged: it does not hold the secret that labs are drawn with. Put a copy of it back, or set "
                "further labs in a sitting of their own: --sitting CODE. What was handed out can be graded all the same."
            )
        return bytes.fromhex(text)

    def register(self) -> Register:
        """Raises TrainerError where the file is of another version or damaged."""
        register: Register = self._as(Register, self._versioned(self._register_file), self._register_file)
        return register

    def write_register(self, register: Register) -> None:
        self._write(self._register_file, to_record(register))

    def has_lab(self, lab: str) -> bool:
        return self._lab_file(lab).is_file()

    def write_lab(self, scenario: Scenario, key: Answers) -> None:
        """The scenario file: the scenario, the key by question and row as text, and the network that it configures."""
        shown: dict[str, dict[str, str]] = {}
        for cell, value in key.values.items():
            shown.setdefault(cell.question, {})[cell.row] = QUESTIONS[cell.question].kind.show(value)
        record = {
            "format": FORMAT,
            "scenario": to_record(scenario),
            "key": shown,
            "configuration": show_configuration(build(scenario, key).network),
        }
        self._write(self._lab_file(scenario.lab_number), record)

    def scenario(self, lab: str) -> Scenario:
        """A drawn scenario, as it was saved. Raises TrainerError where the file is of another version or damaged."""
        file = self._lab_file(lab)
        record = self._versioned(file)
        try:
            return from_record(Scenario, record["scenario"])
        except (RecordError, KeyError) as fault:
            raise TrainerError(f"{file} is damaged: {fault}. {_RESTORE}") from fault

    def handout_file(self, scenario: Scenario) -> Path:
        return self.hand_out / f"{stem(scenario.trainee, scenario.lab_number)}.xlsx"

    def handout_page(self, scenario: Scenario) -> Path:
        return self.hand_out / f"{stem(scenario.trainee, scenario.lab_number)}.html"

    def brief(self) -> str | None:
        """The exercise's own brief that the sitting was set with; None where it was set without. TrainerError if damaged."""
        if not self.brief_file.exists():
            return None
        try:
            return self.brief_file.read_text(encoding="utf-8")
        except (OSError, ValueError) as fault:
            raise TrainerError(
                f"{self.brief_file} cannot be read. Delete it, and set the sitting again with the exercise's brief beside the "
                "exercise workbook."
            ) from fault

    def keep_brief(self, text: str) -> None:
        write_file(self.brief_file, text.encode("utf-8"), private=True)

    @property
    def brief_file(self) -> Path:
        return self.instructor / "brief.md"

    def key_file(self, scenario: Scenario) -> Path:
        return self.keys / f"KEY-{stem(scenario.trainee, scenario.lab_number)}.xlsx"

    def key_page(self, scenario: Scenario) -> Path:
        return self.keys / f"KEY-{stem(scenario.trainee, scenario.lab_number)}.html"

    def class_file(self, what: str, group: str | None) -> Path:
        """The file of the whole class, or of a group: "handouts", "keys", "feedback"."""
        name = what if group is None else f"{what}-{re.sub(r'[^A-Za-z0-9]+', '-', group)}"
        return self.print / f"{name}.html"

    def marked_book(self, scenario: Scenario) -> Path:
        return self.marked / f"{stem(scenario.trainee, scenario.lab_number)}.xlsx"

    def feedback_page(self, trainee: Trainee, lab: str) -> Path:
        return self.marked / f"{stem(trainee, lab)}.html"

    def returned_files(self) -> Iterator[Path]:
        """Everything that lies in returned/, as files_in lists it."""
        yield from files_in(self.returned)

    def relative(self, file: Path) -> str:
        """The path inside the sitting's folder, or the absolute path of a file that lies elsewhere.

        A link is called by its own name, not by that of the file it leads to.
        """
        path = file.parent.resolve() / file.name
        try:
            return path.relative_to(self.folder.resolve()).as_posix()
        except ValueError:
            return str(path)

    def write_grade(self, graded: GradedLab) -> None:
        self._write(self.grades / f"{graded.lab}.json", to_record(graded))

    def all_grades(self) -> StoredGrades:
        """What was graded so far, of files that are still there."""
        stored = self.last_grades()
        there = {lab: graded for lab, graded in stored.by_lab.items() if (self.folder / graded.file).is_file()}
        return replace(stored, by_lab=there)

    def last_grades(self) -> StoredGrades:
        """What was graded last, wherever the files are now."""
        found, damaged = {}, {}
        for file in sorted(self.grades.glob("*.json")):
            try:
                graded = self._read(GradedLab, file)
            except TrainerError:
                damaged[file.stem] = file
            else:
                found[graded.lab] = graded
        return StoredGrades(by_lab=found, damaged=damaged)

    def write_not_graded(self, files: tuple[tuple[str, str], ...]) -> None:
        self._write(self._not_graded_file, to_record(files))

    def not_graded(self) -> tuple[tuple[str, str], ...]:
        """Files that the last `grade` could not grade, with the reasons; none where nothing was graded yet."""
        if not self._not_graded_file.exists():
            return ()
        try:
            files: tuple[tuple[str, str], ...] = self._read(tuple[tuple[str, str], ...], self._not_graded_file)
        except TrainerError as fault:
            raise TrainerError(
                f"{self._not_graded_file} cannot be read, so the results would lack the files that could not be graded. Run "
                f"'trainer grade {self.folder}', which writes it anew."
            ) from fault
        return files

    def write_progress(self, progress: Progress) -> None:
        self._write(self._progress_file(progress.lab), to_record(progress))

    def has_progress(self, lab: str) -> bool:
        return self._progress_file(lab).exists()

    def progress(self, lab: str) -> Progress:
        """What is remembered of a practice lab. What cannot be read is begun anew: it holds no marks."""
        file = self._progress_file(lab)
        try:
            kept: Progress = self._read(Progress, file)
        except TrainerError:
            return Progress(lab=lab)
        return kept if (kept.format, kept.lab) == (PROGRESS_FORMAT, lab) else Progress(lab=lab)

    def practice_lock(self, lab: str) -> Path:
        """What says that somebody practises on this lab."""
        return self.instructor / f"practice-{lab}.lock"

    def _progress_file(self, lab: str) -> Path:
        return self.instructor / f"practice-{lab}.json"

    @property
    def _not_graded_file(self) -> Path:
        return self.instructor / "not-graded.json"

    @property
    def _register_file(self) -> Path:
        return self.instructor / "register.json"

    def _lab_file(self, lab: str) -> Path:
        return self.labs / f"{lab}.json"

    def _versioned(self, file: Path) -> dict[str, Any]:
        """The record in a file that says its version. Raises TrainerError where that is another one."""
        record = self._json(file)
        if not isinstance(record, dict) or record.get("format") != FORMAT:
            raise TrainerError(f"{file} was written by another version of this program; use that one for this sitting.")
        return record

    def _read(self, wanted: Any, file: Path) -> Any:
        return self._as(wanted, self._json(file), file)

    def _as(self, wanted: Any, record: Any, file: Path) -> Any:
        try:
            return from_record(wanted, record)
        except RecordError as fault:
            raise TrainerError(f"{file} is damaged or of another version ({fault}). {_RESTORE}") from fault

    def _json(self, file: Path) -> Any:
        try:
            return json.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError) as fault:
            raise TrainerError(f"{file} cannot be read. {_RESTORE}") from fault

    def _write(self, file: Path, record: Any) -> None:
        text = json.dumps(record, ensure_ascii=False, indent=1)
        # a file name that is no text, as some systems allow, has lone surrogates: JSON holds them escaped
        text = re.sub("[\ud800-\udfff]", lambda found: f"\\u{ord(found[0]):04x}", text)
        write_file(file, text.encode(), private=True)


def stem(trainee: Trainee, lab: str) -> str:
    """What a lab's files are called: ids, no names of people."""
    attempt = f"-{trainee.attempt}" if trainee.attempt > 1 else ""
    return f"{trainee.id}{attempt}-{lab}"


def write_file(file: Path, data: bytes, *, private: bool = False) -> None:
    """Writes the file beside itself and renames it, so that there is always the old file or the new one.

    private: nobody but its owner may read it.

    Raises TrainerError, and leaves the old file, where it cannot be written or nobody may write into it.
    """
    try:
        _refuse_protected(file)
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=f"{_NEW}{os.getpid()}-")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(data)
                out.flush()
                os.fsync(handle)
            if not private:
                Path(name).chmod(0o666 & ~_umask())
            Path(name).replace(file)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as fault:
        if file.is_dir():
            raise TrainerError(
                f"{file} cannot be written: it is a folder. Move that away, or give it another name; then run the command again."
            ) from fault
        raise TrainerError(
            f"{file} cannot be written ({fault.strerror}). Close it if another program has it open, make room if the disk is "
            "full, or take its write protection away; then run the command again."
        ) from fault


def _refuse_protected(file: Path) -> None:
    """Renaming asks for no right to the file itself, so a write protection would go unnoticed on some systems."""
    if file.is_file() and not file.stat().st_mode & 0o222:
        raise PermissionError(errno.EACCES, "it is write-protected")


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def read_returned(file: Path) -> bytes:
    """The bytes of a returned file. Raises TrainerError where it cannot be read, or is none, or is far too large."""
    if is_broken_link(file):
        raise TrainerError("It is a link, and the file it leads to is not there. Put that file itself in its place.")
    try:
        if not file.is_file() and file.exists():  # a pipe would never end, a device may do anything
            raise TrainerError("It is not a file. Put the workbook itself in its place.")
        if file.stat().st_size > LARGEST_RETURNED:
            raise TrainerError(
                f"The file is larger than {LARGEST_RETURNED >> 20} MB, so it is no filled workbook of ours. Ask for the "
                "workbook that was handed out."
            )
        return file.read_bytes()
    except OSError as fault:
        raise TrainerError(
            f"The file cannot be read ({fault.strerror}). See that it is there and that you may read it, or copy it here again."
        ) from fault


def time_saved(file: Path) -> float:
    """When a file was written, in seconds of the system's clock; 0 where it is gone."""
    try:
        return file.stat().st_mtime
    except OSError:
        return 0


def files_in(folder: Path) -> Iterator[Path]:
    """Everything in a folder and the folders in it, in order of name, but what nobody has handed in.

    That is: hidden files, lock files of programs, and what systems leave in folders. Links that lead nowhere and things
    that are no files are among them, so that whoever reads them hears of it: somebody meant to hand something in.
    """
    for file in sorted(folder.rglob("*")):
        parts = file.relative_to(folder).parts
        left_there = file.name.casefold() in _LEFT_BY_SYSTEMS or file.name.startswith("~$") or "__MACOSX" in parts
        if not file.is_dir() and not left_there and not any(part.startswith(".") for part in parts):
            yield file


def is_broken_link(file: Path) -> bool:
    return file.is_symlink() and not file.exists()


def lab_of(register: Register, lab: str) -> RegisteredLab | None:
    return next((each for each in register.labs if each.lab == lab), None)


def cell_places(graded: GradedLab) -> dict[CellRef, tuple[str, str]]:
    """Where answers stood, by cell."""
    return {CellRef(question, RowKey(row)): (sheet, cell) for question, row, sheet, cell in graded.where}
