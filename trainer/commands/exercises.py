"""`trainer exercises`: the ready-made exercises, from easy to hard, and what they train."""

import json
import re
import textwrap
from dataclasses import dataclass
from pathlib import Path

from trainer.commands.terminal import say
from trainer.errors import TrainerError

__all__ = ["EXERCISES", "ReadyMade", "ready_made", "run"]


def _folder() -> Path:
    """Where they are: inside the package as it is installed (pyproject.toml puts them there), at the top level of a clone."""
    installed = Path(__file__).parents[1] / "exercises"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "exercises"


EXERCISES = _folder()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyMade:
    """A ready-made exercise: its workbook, and what the list in the folder's README says of it."""

    file: Path
    title: str
    step: int
    """Its place in the order from easy to hard, from 1."""
    trains: str


def ready_made() -> tuple[ReadyMade, ...]:
    """The exercises in exercises/, from easy to hard. TrainerError where the folder is not there."""
    files = sorted(EXERCISES.glob("*.xlsx"))
    if not files:
        raise TrainerError(
            f"There are no ready-made exercises in {EXERCISES}, which come with the program: install it again."
        )
    shelf = EXERCISES / "README.md"
    text = shelf.read_text(encoding="utf-8") if shelf.is_file() else ""
    return tuple(sorted((_described(file, text) for file in files), key=lambda each: (each.step, each.file.name)))


def _described(file: Path, shelf: str) -> ReadyMade:
    """shelf: the list in the folder's README.md."""
    brief = file.with_suffix(".md")
    text = brief.read_text(encoding="utf-8") if brief.is_file() else ""
    title = re.search(r"^# (.+)$", text, flags=re.MULTILINE)
    row = re.search(rf"^\| *(\d+) *\| *{re.escape(file.stem)} *\| *(.+?) *\|$", shelf, flags=re.MULTILINE)
    return ReadyMade(
        file=file,
        title=title[1] if title else file.stem,
        step=int(row[1]) if row else 99,
        trains=row[2] if row else "",
    )


def run(*, as_json: bool) -> int:
    """Lists them in lines that fit 80 columns."""
    if as_json:
        listed = [
            {"step": each.step, "exercise": each.file.stem, "title": each.title, "trains": each.trains}
            for each in ready_made()
        ]
        print(json.dumps({"folder": str(EXERCISES), "exercises": listed}, ensure_ascii=False, indent=1))
        return 0
    for each in ready_made():
        say(f"{each.step}  {each.file.stem}: {each.title}", style="bold")
        say(textwrap.fill(each.trains, width=79, initial_indent="   ", subsequent_indent="   "))
    say("\nTo work through one by yourself: trainer practise NAME")
    say(f"They stand in {EXERCISES}. Copy one, make it yours, then: trainer check FILE")
    return 0
