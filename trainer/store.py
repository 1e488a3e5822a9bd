"""A sitting's folder: the only reader and writer of its files. Every file is written beside itself and renamed.

hand-out/    workbooks and handouts for the trainees: safe to share as they are
instructor/  keys, scenario files, register, secret, marks, progress of practice: mode 0700
returned/    what comes back, any names
marked/      a marked workbook and a feedback page per trainee: mode 0700 until somebody opens it
to-send/     what goes to the trainees, a folder each and numbered archives: mode 0700
results.xlsx, results.html, results.csv: mode 0600

`instructor/` has mode 0700, its files 0600. The secret is made on the first `set`, 256 bits from the system's
generator, and written nowhere else. Lab numbers, seeds and slots are HMACs of it, so who knows exercise, trainee,
lab number and this program has to guess it. Two trainees who compare their blocks can tell the other trainees'
blocks (a slot is `index * step + offset`), and nothing else of their labs. A trainee's workbook holds no key, no
seed, no formula, no hidden sheet; it is written without asking for any answer (`tests/test_nothing_leaks.py` takes
all of them away). Our files are reproducible: fixed times, our own words about program, font and theme
(`sheets/saving.py`, `sheets/style.py`).

Every file is written beside itself as `.new-<process>-...`, brought to the disk and renamed (`files.write_file`);
nothing in a sitting holds a clock or the order of a run, so that `set` and `grade`, killed at any moment and run
again, end in the same bytes. What cannot be written is collected as text and the rest goes on. Commands that write
into a sitting do it inside `commands/one_run.py: one_run(sitting)`: it holds `instructor/lock` (`lock.py`: process,
host, since; made whole by a hard link, or exclusively where the drive has none), takes over the lock of a process
of this machine that is gone, never another machine's, and sweeps up `.new-` files of processes that are gone.
`practise` holds it while it draws, not while it waits. `tests/test_interrupted.py` breaks off at writes; `python -m
pytest -m killed -n 2 tests/test_killed.py` kills real processes at 400 random moments (some minutes; `.ci/run` does
it).
"""

import os
import re
import secrets
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Any, NamedTuple

from trainer.errors import TrainerError, did_you_mean
from trainer.files import NEW, Found, digest_of, found_in, read_returned, write_file
from trainer.kept_marks import GradedLab, KeptMarks, StoredGrades, cell_places
from trainer.lab.build import build
from trainer.lab.configuration import show_configuration
from trainer.lab.draw import ClassDraw
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import Scenario, Trainee
from trainer.lock import is_running
from trainer.marking.practice import FORMAT as PROGRESS_FORMAT
from trainer.marking.practice import Progress
from trainer.network.devices import Network
from trainer.record_files import FORMAT, RESTORE, as_value, read_value, record_bytes, versioned, write_value
from trainer.records import RecordError, from_record, to_record

__all__ = [
    "FORMAT",
    "GradedLab",
    "KeptLab",
    "Register",
    "RegisteredLab",
    "Sitting",
    "StoredGrades",
    "cell_places",
    "lab_file",
    "read_returned",
    "stem",
    "write_file",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredLab:
    """A lab that was drawn, and for whom. Its place in the register is its index for the address slots."""

    lab: str
    trainee: str
    attempt: int
    is_excused: bool = field(default=False, metadata={"added later": True})
    has_left: bool = field(default=False, metadata={"added later": True})
    """Whether sheet Trainees did not have the trainee any more when the class was set last."""


@dataclass(frozen=True, kw_only=True)
class Register:
    """What a sitting has in common, and its labs in the order in which they joined."""

    format: int
    exercise: Exercise
    """Without its trainees, so that one who joins late is no change."""
    common: ClassDraw
    labs: tuple[RegisteredLab, ...] = field(default=())

    @cached_property
    def by_lab(self) -> Mapping[str, RegisteredLab]:
        """The labs by their numbers; of two with one number, as only a hand can write them, the first."""
        return {each.lab: each for each in reversed(self.labs)}

    @cached_property
    def trainees(self) -> Mapping[str, str]:
        """The ids of all trainees, by their casefolded forms."""
        return {each.trainee.casefold(): each.trainee for each in self.labs}


class KeptLab(NamedTuple):
    """A lab as a sitting keeps it."""

    scenario: Scenario
    trials: int | None
    """By how many its key was proved; None where nothing is known of that, or the lab was changed since."""


def lab_file(scenario: Scenario, key: Answers, network: Network, trials: int | None) -> bytes:
    """What the file of a lab holds: the scenario, the key by question and row as text, and the network that it configures.

    trials: by how many the key was proved; None where that is not known.
    """
    shown: dict[str, dict[str, str]] = {}
    for cell, value in key.values.items():
        shown.setdefault(cell.question, {})[cell.row] = QUESTIONS[cell.question].kind.show(value)
    record = {
        "format": FORMAT,
        "scenario": to_record(scenario),
        "key": shown,
        "configuration": show_configuration(network),
    }
    if trials is not None:
        record["proved"] = {"trials": trials, "digest": _digest(record, trials)}
    return record_bytes(record)


def _trials_in(record: Mapping[str, Any]) -> int | None:
    """By how many trials the key was proved; None where that is not known, or the lab was changed since."""
    match record:
        case {"proved": {"trials": int(trials), "digest": digest}, "scenario": _, "key": _}:
            return trials if digest == _digest(record, trials) else None
    return None


def _digest(record: Mapping[str, Any], trials: int) -> str:
    """Of what was proved, so that a lab which somebody has changed since does not count as proved."""
    return digest_of(record_bytes([record["scenario"], record["key"], trials]))


class Sitting(KeptMarks):
    """A sitting's folder on disk."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._resolved: Callable[[Path], Path] = cache(Path.resolve)
        """A folder's own path; each is looked up once, not for every file in it."""
        self.hand_out = folder / "hand-out"
        self.labs = self.instructor / "labs"
        self.returned = folder / "returned"
        self.marked = folder / "marked"
        self.results_book = folder / "results.xlsx"
        self.results_page = folder / "results.html"
        self.results_text = folder / "results.csv"
        self.overrides_book = self.instructor / "overrides.xlsx"
        self.keys = self.instructor / "keys"
        self.print = self.instructor / "print"
        """Pages of the whole class in one file each."""
        self.to_send = folder / "to-send"
        """What goes to the trainees, packed: a folder a trainee, and archives."""
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
            for folder in (self.hand_out, self.returned):
                folder.mkdir(parents=True, exist_ok=True)
            # made for the instructor alone; whoever gives it out may open it, and it stays so
            self.marked.mkdir(parents=True, exist_ok=True, mode=0o700)
            for folder in (self.instructor, self.labs, self.grades, self.print):
                folder.mkdir(parents=True, exist_ok=True, mode=0o700)
                if folder.stat().st_mode & 0o077:
                    folder.chmod(0o700)
        except OSError as error:
            raise TrainerError(
                f"{error.filename or self.folder} cannot be made a folder of the sitting ({error.strerror}). Make room, "
                "see that you may write there, or choose another place with --out, and run the command again."
            ) from error

    def create_keys(self) -> None:
        """Makes the folder for keys, closed to others. Raises TrainerError where it cannot be made."""
        try:
            self.keys.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise TrainerError(
                f"{self.keys} cannot be made a folder for keys ({error.strerror}). Choose another one with --keys, and run "
                "the command again."
            ) from error

    def sweep(self) -> None:
        """Takes away what runs that were killed have left half-written. Other runs' files are left to them."""
        for folder in self._written_folders:
            for file in folder.glob(f"{NEW}*"):
                process = file.name.removeprefix(NEW).partition("-")[0]
                is_at_work = process.isdecimal() and int(process) != os.getpid() and is_running(int(process))
                if not is_at_work:
                    with suppress(OSError):
                        file.unlink()

    @property
    def _written_folders(self) -> tuple[Path, ...]:
        return (
            *(self.folder, self.hand_out, self.instructor, self.labs, self.grades),
            *(self.keys, self.print, self.marked, self.to_send),
            *_folders_in(self.to_send),
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
        register: Register = as_value(Register, versioned(self._register_file), self._register_file)
        return register

    def write_register(self, register: Register) -> None:
        write_value(self._register_file, register)

    def has_lab(self, lab: str) -> bool:
        return self._lab_file(lab).is_file()

    def write_lab(self, scenario: Scenario, key: Answers, trials: int | None = None) -> None:
        """Keeps a lab. Raises TrainerError where it cannot be written."""
        network = build(scenario, key).network
        self.write_lab_file(scenario.lab_number, lab_file(scenario, key, network, trials))

    def write_lab_file(self, lab: str, data: bytes) -> None:
        """The same, of what lab_file gives."""
        write_file(self._lab_file(lab), data, private=True)

    def scenario(self, lab: str) -> Scenario:
        """A drawn scenario, as it was saved. Raises TrainerError where the file is of another version or damaged."""
        return self._scenario(self._lab_file(lab), versioned(self._lab_file(lab)))

    def lab(self, lab: str) -> KeptLab:
        """A lab, as it was saved. Raises TrainerError where the file is of another version or damaged."""
        record = versioned(self._lab_file(lab))
        return KeptLab(self._scenario(self._lab_file(lab), record), _trials_in(record))

    def _scenario(self, file: Path, record: Mapping[str, Any]) -> Scenario:
        try:
            return from_record(Scenario, record["scenario"])
        except (RecordError, KeyError) as error:
            raise TrainerError(f"{file} is damaged: {error}. {RESTORE}") from error

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
        except (OSError, ValueError) as error:
            raise TrainerError(
                f"{self.brief_file} cannot be read. Delete it, and set the sitting again with the exercise's brief beside the "
                "exercise workbook."
            ) from error

    def keep_brief(self, text: str) -> None:
        write_file(self.brief_file, text.encode("utf-8"), private=True)

    @property
    def brief_file(self) -> Path:
        return self.instructor / "brief.md"

    def key_file(self, scenario: Scenario) -> Path:
        return self.keys / f"KEY-{stem(scenario.trainee, scenario.lab_number)}.xlsx"

    def key_page(self, scenario: Scenario) -> Path:
        return self.key_page_of(scenario.trainee, scenario.lab_number)

    def key_page_of(self, trainee: Trainee, lab: str) -> Path:
        """The same of a lab that may not be drawn yet."""
        return self.keys / f"KEY-{stem(trainee, lab)}.html"

    def class_file(self, what: str, group: str | None) -> Path:
        """The file of the whole class, or of a group: "handouts", "keys", "feedback"; each group has its own."""
        name = what if group is None else f"{what}-{_as_file_name(group)}"
        return self.print / f"{name}.html"

    def marked_book(self, scenario: Scenario) -> Path:
        return self.marked / f"{stem(scenario.trainee, scenario.lab_number)}.xlsx"

    def feedback_page(self, trainee: Trainee, lab: str) -> Path:
        return self.marked / f"{stem(trainee, lab)}.html"

    def returned_files(self) -> Found:
        """Everything that lies in returned/."""
        return found_in(self.returned)

    def relative(self, file: Path) -> str:
        """The path inside the sitting's folder, or the absolute path of a file that lies elsewhere.

        A link is called by its own name, not by that of the file it leads to.
        """
        path = self._resolved(file.parent) / file.name
        try:
            return path.relative_to(self._resolved(self.folder)).as_posix()
        except ValueError:
            return str(path)

    def write_progress(self, progress: Progress) -> None:
        write_value(self._progress_file(progress.lab), progress)

    def progress(self, lab: str) -> Progress:
        """What is remembered of a practice lab. What cannot be read is begun anew: it holds no marks."""
        file = self._progress_file(lab)
        try:
            kept: Progress = read_value(Progress, file)
        except TrainerError:
            return Progress(lab=lab)
        return kept if (kept.format, kept.lab) == (PROGRESS_FORMAT, lab) else Progress(lab=lab)

    def practice_lock(self, lab: str) -> Path:
        """What says that somebody practises on this lab."""
        return self.instructor / f"practice-{lab}.lock"

    def _progress_file(self, lab: str) -> Path:
        return self.instructor / f"practice-{lab}.json"

    @property
    def _register_file(self) -> Path:
        return self.instructor / "register.json"

    def _lab_file(self, lab: str) -> Path:
        return self.labs / f"{lab}.json"


def stem(trainee: Trainee, lab: str) -> str:
    """What a lab's files are called: ids, no names of people."""
    attempt = f"-{trainee.attempt}" if trainee.attempt > 1 else ""
    return f"{trainee.id}{attempt}-{lab}"


def _folders_in(place: Path) -> list[Path]:
    """The folders of trainees; none where nobody may look."""
    try:
        return [each for each in place.glob("*/*") if each.is_dir()]
    except OSError:
        return []


def _as_file_name(group: str) -> str:
    """A group's name in letters that every system takes; what is lost by that comes back as six digits of its digest."""
    name = re.sub(r"[^A-Za-z0-9]+", "-", group)
    return name if name == group else f"{name}-{digest_of(group.casefold().encode('utf-8', 'surrogatepass'))[:6]}"
