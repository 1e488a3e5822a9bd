"""`trainer template FILE`: an exercise workbook to begin with."""

from pathlib import Path

from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book
from trainer.store import write_file

__all__ = ["run"]


def run(file: Path) -> int:
    """Writes the workbook; an existing file is never overwritten."""
    if file.suffix.lower() != ".xlsx":
        raise TrainerError(f"{file} does not end in .xlsx. Write it like my-exercise.xlsx.")
    if file.exists():
        raise TrainerError(f"{file} is there already and was left as it is. Choose another name.")
    if not file.parent.is_dir():
        raise TrainerError(f"There is no folder {file.parent}. Make it first, or choose another one.")
    write_file(file, write_exercise_book(HARBOUR))
    say(f"Wrote {file}: a working exercise with two switches and {len(HARBOUR.tables['trainees'])} invented trainees.")
    say(f"Change its Code, Title and Trainees, then: trainer check {file}")
    return 0
