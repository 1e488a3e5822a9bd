"""What one run of `grade` found."""

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from trainer.commands.decisions import IdleDecision
from trainer.commands.results import ClassResults
from trainer.commands.stray_marks import StrayMarks
from trainer.store import GradedLab

__all__ = ["ChangedMarks", "Graded", "NotGraded"]


@dataclass(frozen=True, slots=True)
class NotGraded:
    """A file that could not be graded, and what to do about it."""

    file: Path
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedMarks:
    """Marks that came out otherwise than at the last grading."""

    lab: str
    trainee: str
    old: Decimal
    new: Decimal
    out_of: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """What one run found."""

    labs: tuple[GradedLab, ...]
    not_graded: tuple[NotGraded, ...]
    results: ClassResults
    """Of the whole class, as they are after this run."""
    wanted: frozenset[str]
    """The labs of the group that was asked for, or all."""
    changed: tuple[ChangedMarks, ...] = ()
    """Whose marks are not what was told of them last."""
    anew: tuple[GradedLab, ...] = ()
    """Whose file is there under the same name or another, with other bytes than when it was graded last."""
    kept: tuple[StrayMarks, ...] = ()
    """Marks of earlier runs whose file is gone or is another one."""
    left_aside: tuple[Path, ...] = ()
    """What lies among the files that nobody has handed in."""
    beside: tuple[Path, ...] = ()
    """Texts and pictures in a folder of one trainee, beside the workbook."""
    archives: tuple[Path, ...] = ()
    """The archives that were opened."""
    has_crashed: bool = False
    """Whether the marking of a file came to a bad end, through our fault."""
    idle: tuple[IdleDecision, ...] = ()
    """Decisions about one of the trainees that changed nothing."""
    silent_on_attempt: tuple[str, ...] = ()
    """Trainees whose decisions are about the first attempt, because they name none."""
    written: tuple[Path, ...] = ()
    """The results page and workbook, where they could be written."""
    trouble: str = ""
    """Which files could not be written and why, and whose marks the results lack; "" where all is well."""
