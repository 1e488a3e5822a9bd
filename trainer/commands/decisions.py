"""The instructor's workbook of decisions, as `grade` takes it: made where it is not there, read before anything is graded."""

from collections.abc import Collection, Iterator, Sequence
from functools import cache

from trainer.errors import OverrideProblems, TrainerError
from trainer.files import read_returned, write_file
from trainer.lab.scenario import Scenario
from trainer.marking.marks import CellMark
from trainer.marking.overrides import Decision, Override, has_effect
from trainer.sheets.overrides_book import read_overrides_book, write_overrides_book
from trainer.store import GradedLab, Sitting

__all__ = ["idle", "is_meant", "make_overrides_book", "read_overrides"]


def read_overrides(sitting: Sitting) -> tuple[Override, ...]:
    """The instructor's decisions; none where there is no workbook for them."""
    file = sitting.overrides_book
    if not file.exists():
        return ()
    labs = sitting.register().labs

    @cache
    def labs_of(trainee: str) -> tuple[Scenario, ...]:
        return tuple(_readable(sitting, [lab.lab for lab in labs if trainee in ("", lab.trainee)]))

    try:
        return read_overrides_book(read_returned(file), [lab.trainee for lab in labs], labs_of)
    except OverrideProblems as found:
        raise TrainerError(f"{file} has {found.counted}, so nothing was graded.\n{found}") from found
    except TrainerError as error:
        raise TrainerError(f"{file}: {error} Nothing was graded.") from error


def make_overrides_book(sitting: Sitting) -> Iterator[str]:
    """Makes an empty workbook for decisions where there is none; what to say where that failed."""
    if not sitting.overrides_book.exists():
        try:
            write_file(sitting.overrides_book, write_overrides_book(), private=True)
        except TrainerError as error:
            yield str(error)


def idle(overrides: Sequence[Override], labs: Sequence[GradedLab]) -> Iterator[Override]:
    """The decisions about one trainee, graded just now, that changed nothing."""
    cells: dict[str, list[CellMark]] = {}
    files: dict[str, list[str]] = {}
    for lab in labs:
        cells.setdefault(lab.trainee, []).extend(lab.marks.cells)
        files.setdefault(lab.trainee, []).append(lab.file)
    for override in overrides:
        if override.trainee not in cells:
            continue
        if override.decision is Decision.USE_FILE:
            if not any(is_meant(override, file) for file in files[override.trainee]):
                yield override
        elif override.decision is not Decision.BY_HAND and not has_effect(override, cells[override.trainee]):
            yield override


def is_meant(override: Override, file: str) -> bool:
    """Whether a decision names this file: by its path in the sitting's folder, or by its name alone."""
    named = override.value.replace("\\", "/").casefold()
    return named in (file.casefold(), file.rpartition("/")[2].casefold())


def _readable(sitting: Sitting, labs: Collection[str]) -> Iterator[Scenario]:
    """The scenarios of the labs; damaged ones are passed over, they are spoken of where they are graded."""
    for lab in labs:
        try:
            yield sitting.scenario(lab)
        except TrainerError:
            continue
