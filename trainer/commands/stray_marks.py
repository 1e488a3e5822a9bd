"""Marks whose file is not there any more, or is another one now: they are kept, and named, so that none vanishes unseen."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from trainer.commands.terminal import in_one_line
from trainer.errors import TrainerError
from trainer.files import digest_of, is_there, read_returned
from trainer.listing import first_few
from trainer.store import GradedLab, Sitting

__all__ = ["StrayMarks", "kept_in_words", "stray_marks"]

_NAMED = 8
"""Of all so many are named in a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrayMarks:
    """Marks that stay although what they were given for is gone."""

    lab: str
    trainee: str
    file: str
    reason: str
    """What became of the file: the rest of a sentence."""

    @property
    def notice(self) -> str:
        """For the results."""
        return f"{in_one_line(self.file)}, for which these marks were given, {self.reason}; they are kept."


def stray_marks(sitting: Sitting, grades: Collection[GradedLab], *, others: Collection[str] = ()) -> list[StrayMarks]:
    """Those of the grades whose file is gone or is another one. A file that was only renamed is none.

    others: files that are known to be another lab's by now, for marks that were given before digests were kept.
    """
    astray = [(graded, reason) for graded in grades if (reason := _reason(sitting, graded, others))]
    there = set(_digests(sitting)) if any(graded.digest for graded, _ in astray) else set()
    return [
        StrayMarks(lab=graded.lab, trainee=graded.trainee, file=graded.file, reason=reason)
        for graded, reason in sorted(astray, key=lambda each: (each[0].trainee, each[0].lab))
        if graded.digest not in there
    ]


def _reason(sitting: Sitting, graded: GradedLab, others: Collection[str]) -> str:
    file = sitting.folder / graded.file
    try:
        if not is_there(file):
            return "is not there any more"
        if graded.digest:
            return "" if digest_of(read_returned(file)) == graded.digest else "is another file now"
    except (OSError, TrainerError):
        return "cannot be read any more"
    return "is another file now" if graded.file in others else ""


def _digests(sitting: Sitting) -> Iterator[str]:
    for file in sitting.returned_files().files:
        try:
            yield digest_of(read_returned(file))
        except TrainerError:
            continue


def kept_in_words(astray: Sequence[StrayMarks]) -> str:
    """One line for all of them; "" where there are none."""
    if not astray:
        return ""
    named = first_few([f"{each.trainee} ({in_one_line(each.file)} {each.reason})" for each in astray], _NAMED)
    return f"Marks kept without their files: {named}. To drop such marks delete instructor/marks/LAB.json of the lab."
