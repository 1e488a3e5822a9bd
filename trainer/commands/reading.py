"""What commands have in common when they read a file that was named on the command line."""

from pathlib import Path

from trainer.errors import TrainerError, UnreadableFile
from trainer.lab.exercise import Exercise
from trainer.sheets.exercise_book import read_exercise_book
from trainer.store import read_returned

__all__ = ["read_exercise_file"]


def read_exercise_file(file: Path) -> Exercise:
    """The exercise in a workbook. Raises TrainerError with the file's name in its words, ExerciseProblems for its cells."""
    if not file.is_file():
        raise TrainerError(f"There is no file {file}. 'trainer template {file}' writes one to begin with.")
    try:
        return read_exercise_book(read_returned(file))
    except UnreadableFile as fault:
        raise UnreadableFile(f"{file}: {fault}") from fault
