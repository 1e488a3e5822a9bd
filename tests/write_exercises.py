"""Writes the ready-made exercises anew, so that their sheets say what the form says now. What was filled in stays.

python tests/write_exercises.py
"""

from trainer.commands.exercises import ready_made
from trainer.sheets.exercise_book import read_raw_exercise, write_exercise_book

__all__ = ["anew"]


def anew(data: bytes) -> bytes:
    """The same exercise, written by this version."""
    return write_exercise_book(read_raw_exercise(data))


if __name__ == "__main__":
    for each in ready_made():
        each.file.write_bytes(anew(each.file.read_bytes()))
