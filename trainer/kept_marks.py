"""What grading keeps in a sitting's folder: marks by lab, what could not be graded, and which marks have been told."""

from collections.abc import Container, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from trainer.errors import TrainerError
from trainer.lab.form import CellRef, RowKey
from trainer.lab.scenario import Reveal
from trainer.lab.works import ToPass
from trainer.marking.marks import Marked
from trainer.record_files import read_value, write_value

__all__ = ["GradedLab", "KeptMarks", "StoredGrades", "cell_places"]


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
    to_pass: ToPass | None = field(default=None, metadata={"added later": True})
    """By which rule they say what the network lacks for a pass; None where they say nothing of it."""
    own: tuple[str, ...] | None = field(default=None, metadata={"added later": True})
    """Those of the notices that are for the trainee too: about the file itself, and nobody else; None where that is not known."""
    told: tuple[str, ...] | None = field(default=None, metadata={"added later": True})
    """What the trainee's workbook and page say of the file and of the attempt; None where that is not known."""
    digest: str = field(default="", metadata={"added later": True})
    """What the file's bytes are recognised by; "" of files that were graded before it was kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredGrades:
    """What earlier runs of `grade` have found."""

    by_lab: Mapping[str, GradedLab]
    damaged: Mapping[str, Path]
    """Files of marks that cannot be read, by lab."""

    def with_these(self, labs: Iterable[GradedLab]) -> "StoredGrades":
        """With others beside them, that were graded now."""
        return StoredGrades(by_lab={**self.by_lab, **{each.lab: each for each in labs}}, damaged=self.damaged)


class KeptMarks:
    """The marks of a sitting, each with the file that they were given for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.instructor = folder / "instructor"
        self.grades = self.instructor / "marks"

    def mark_file(self, lab: str) -> Path:
        """Where the marks of a lab are kept."""
        return self.grades / f"{lab}.json"

    def write_grade(self, graded: GradedLab) -> None:
        write_value(self.mark_file(graded.lab), graded)

    def marks_before(self) -> Iterator[GradedLab]:
        """What was graded last, one after the other; without what cannot be read."""
        for file in sorted(self.grades.glob("*.json")):
            with suppress(TrainerError):
                yield read_value(GradedLab, file)

    def last_grades(self, but: Container[str] = ()) -> StoredGrades:
        """What was graded last, wherever the files are now. but: labs that are not wanted."""
        found, damaged = {}, {}
        for file in sorted(self.grades.glob("*.json")):
            if file.stem in but:
                continue
            try:
                graded = read_value(GradedLab, file)
            except TrainerError:
                damaged[file.stem] = file
            else:
                found[graded.lab] = graded
        return StoredGrades(by_lab=found, damaged=damaged)

    def write_told(self, told: Mapping[str, Decimal]) -> None:
        """Keeps what marks whoever grades has been told of, by lab."""
        write_value(self._told_file, tuple(sorted(told.items())))

    def told(self) -> dict[str, Decimal]:
        """The marks that whoever grades was told of last; none where none were kept, or they are damaged."""
        try:
            return dict(read_value(tuple[tuple[str, Decimal], ...], self._told_file))
        except TrainerError:
            return {}

    @property
    def _told_file(self) -> Path:
        return self.instructor / "told.json"

    def write_not_graded(self, files: tuple[tuple[str, str], ...]) -> None:
        write_value(self._not_graded_file, files)

    def not_graded(self) -> tuple[tuple[str, str], ...]:
        """Files that the last `grade` could not grade, with the reasons; none where nothing was graded yet."""
        if not self._not_graded_file.exists():
            return ()
        try:
            files: tuple[tuple[str, str], ...] = read_value(tuple[tuple[str, str], ...], self._not_graded_file)
        except TrainerError as error:
            raise TrainerError(
                f"{self._not_graded_file} cannot be read, so the results would lack the files that could not be graded. Run "
                f"'trainer grade {self.folder}', which writes it anew."
            ) from error
        return files

    @property
    def _not_graded_file(self) -> Path:
        return self.instructor / "not-graded.json"


def cell_places(graded: GradedLab) -> dict[CellRef, tuple[str, str]]:
    """Where answers stood, by cell."""
    return {CellRef(question, RowKey(row)): (sheet, cell) for question, row, sheet, cell in graded.where}
