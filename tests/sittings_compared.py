"""A sitting as it is on disk, to compare two of them byte for byte, and a small class to make them with."""

import shutil
import stat
from pathlib import Path

from papers import as_paper

from trainer import cli
from trainer.commands.exercises import EXERCISES
from trainer.store import Sitting

SECRET = "0123456789abcdef" * 4
SMALL = EXERCISES / "addressing.xlsx"


def tree(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Mode and content of every file and folder."""
    return {
        path.relative_to(folder).as_posix(): (
            stat.S_IMODE(path.stat().st_mode),
            path.read_bytes() if path.is_file() else b"",
        )
        for path in sorted(folder.rglob("*"))
    }


def differences(one: dict[str, tuple[int, bytes]], other: dict[str, tuple[int, bytes]]) -> list[str]:
    """The names of what is not alike."""
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


def with_secret(folder: Path) -> Sitting:
    """A sitting of which only the secret is there, so that labs are drawn alike."""
    sitting = Sitting(folder)
    sitting.create()
    file = sitting.instructor / "secret"
    file.write_text(SECRET, encoding="ascii")
    file.chmod(0o600)
    return sitting


def set_words(sitting: Sitting, trainees: int, book: Path = SMALL) -> list[str]:
    """The command that sets the exercise for its first trainees."""
    chosen = [word for number in range(1, trainees + 1) for word in ("--trainee", f"o{number:02}")]
    return ["set", str(book), *chosen, "--out", str(sitting.folder.parent), "--sitting", sitting.folder.name]


def grade_words(sitting: Sitting) -> list[str]:
    return ["grade", str(sitting.folder)]


def set_and_handed_in(folder: Path, trainees: int, book: Path = SMALL) -> Sitting:
    """A sitting that is set: the first hands in what the key says, the last nothing, the others the workbook as they got it.

    Beside them lies a file that cannot be graded.
    """
    sitting = with_secret(folder)
    assert cli.main(set_words(sitting, trainees, book)) == 0
    keys, workbooks = sorted(sitting.keys.glob("*.xlsx")), sorted(sitting.hand_out.glob("*.xlsx"))
    (sitting.returned / keys[0].name).write_bytes(as_paper(keys[0].read_bytes()))
    for file in workbooks[1:-1]:
        shutil.copy2(file, sitting.returned / file.name)
    (sitting.returned / "notes.txt").write_text("nothing", encoding="utf-8")
    return sitting
