"""The instructor's workbook of decisions, as `grade` takes it: made where it is not there, read before anything is graded."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from trainer.errors import OverrideProblems, TrainerError
from trainer.files import read_returned, write_file
from trainer.lab.scenario import Scenario
from trainer.marking.overrides import Decision, Override, has_cell, has_effect
from trainer.sheets.overrides_book import read_overrides_book, write_overrides_book
from trainer.store import GradedLab, Sitting

__all__ = ["IdleDecision", "idle", "is_meant", "make_overrides_book", "read_overrides", "silent_on_attempt"]


def read_overrides(sitting: Sitting) -> tuple[Override, ...]:
    """The instructor's decisions; none where there is no workbook for them."""
    file = sitting.overrides_book
    if not file.exists():
        return ()
    labs = sitting.register().labs
    attempts: dict[str, list[int]] = {}
    for lab in labs:
        attempts.setdefault(lab.trainee, []).append(lab.attempt)

    @cache
    def labs_of(trainee: str) -> tuple[Scenario, ...]:
        return tuple(_readable(sitting, [lab.lab for lab in labs if trainee in ("", lab.trainee)]))

    try:
        return read_overrides_book(read_returned(file), attempts, labs_of)
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


@dataclass(frozen=True, slots=True)
class IdleDecision:
    """A decision that changed nothing, and why."""

    override: Override
    why: str


def idle(
    overrides: Sequence[Override], labs: Sequence[GradedLab], attempts: Mapping[str, int]
) -> Iterator[IdleDecision]:
    """The decisions about one trainee, graded just now, that changed nothing. attempts: by lab."""
    for override in overrides:
        own = [each for each in labs if override.trainee and override.is_for(each.trainee, attempts[each.lab])]
        if own and (why := _why_idle(override, own)):
            yield IdleDecision(override, why)


def _why_idle(override: Override, labs: Sequence[GradedLab]) -> str:
    """Why it changed nothing in these labs; "" where it did, or may have done."""
    if override.decision is Decision.USE_FILE:
        is_there = any(is_meant(override, lab.file) for lab in labs)
        return "" if is_there else f"none of this trainee's is {override.value}"
    cells = [cell for lab in labs for cell in lab.marks.cells]
    if override.decision is Decision.BY_HAND or has_effect(override, cells):
        return ""
    if override.decision is Decision.ACCEPT or not has_cell(override, cells):
        return "no such cell, or another value in it"
    return (
        "no marks stand there; what a row does for rows of the key that are not written is decided in those, called as on "
        "the key page"
    )


def silent_on_attempt(
    overrides: Sequence[Override], labs: Sequence[GradedLab], attempts: Mapping[str, int]
) -> tuple[str, ...]:
    """The trainees, graded just now in another attempt, whose decisions are about the first because they name none."""
    silent = {each.trainee: each.attempt for each in overrides if not each.is_attempt_named}
    return tuple(
        dict.fromkeys(lab.trainee for lab in labs if lab.trainee in silent and attempts[lab.lab] != silent[lab.trainee])
    )


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
