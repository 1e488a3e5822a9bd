"""What can be wrong with what somebody gave us, in words that say where and what to do.

One word a thing, in all of the program:

fault    what makes an exercise impossible or ambiguous, by table, row and field (lab/faults): it knows no sheet
problem  one thing to mend in a workbook of the instructor's, by sheet and cell: a fault once it is known where it
         stands, a sheet that is missing, a decision that cannot be applied. Nothing is done before all are mended
trouble  a sentence about one lab or one file that could not be read or written while the rest went on; exit status 1
notice   a sentence about something that was done all the same, and that its reader should know; exit status 0
error    an exception, also in `except ... as error`

What keeps an answer's cell from being read is none of these: it has a mark and words of its own (lab/kinds.py).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher

from trainer.listing import how_many

__all__ = ["ExerciseProblems", "OverrideProblems", "Problem", "TrainerError", "UnreadableFile", "did_you_mean"]

_NEAR = 0.5
"""How alike a typed name and the one that is offered are at least, from 0 to 1."""


class TrainerError(Exception):
    """Something the user can put right; its text is fit to be printed as it stands. Exit status 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to mend, and how."""

    sheet: str
    """Title of the sheet, or "" where the file as a whole is meant."""
    cell: str
    """Cell such as "C7", or "" where a whole sheet is meant."""
    found: str
    """What stands there now, as the user would read it."""
    wanted: str
    """What would be right: a sentence without its full stop."""
    fix: str
    """What to do: a sentence with its full stop."""

    def __str__(self) -> str:
        place = "!".join(part for part in (self.sheet, self.cell) if part)
        return f"{place + ': ' if place else ''}found {self.found}; {self.wanted}. {self.fix}"


class _Problems(TrainerError):
    """Holds every problem of a workbook, not the first one only."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(map(str, problems)))

    @property
    def counted(self) -> str:
        """How many there are, in words: "1 problem"."""
        return how_many(len(self.problems), "problem")


class ExerciseProblems(_Problems):
    """An exercise workbook that cannot be set."""


class OverrideProblems(_Problems):
    """A workbook with the instructor's decisions that cannot be applied."""


class UnreadableFile(TrainerError):
    """A file that is no workbook we can read; the text says what it is and what to do."""


def did_you_mean(typed: str, names: Iterable[str]) -> str:
    """A question that offers the nearest of the names, whatever case they are in; of several the first, "" where none is near.

    >>> did_you_mean("subnet", ["Links", "Subnets"]), did_you_mean("subnet", ["Links"])
    ('Did you mean Subnets?', '')
    """

    def likeness(name: str) -> float:
        return SequenceMatcher(None, name.casefold(), typed.casefold()).ratio()

    nearest = max(names, key=likeness, default="")
    return f"Did you mean {nearest}?" if nearest and likeness(nearest) >= _NEAR else ""
