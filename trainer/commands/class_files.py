"""Pages of a whole class, or of a group, in one file each: which of them a run of `set` writes, and which it makes untrue."""

from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from trainer.commands.printing import pdfs_of, take_away
from trainer.commands.reading import groups_of
from trainer.errors import TrainerError
from trainer.lab.scenario import Trainee
from trainer.store import Sitting

__all__ = ["ClassFile", "class_files", "take_away_untrue"]


class ClassFile(NamedTuple):
    """A file with a page of every lab."""

    title: str
    group: str | None
    """None for everybody."""
    is_of_labels: bool


def class_files(
    sitting: Sitting, trainees: Iterable[Trainee], *, group: str | None, attempt: int | None
) -> dict[Path, ClassFile]:
    """The files with handouts, and with labels, of all these trainees, and of the groups that have files of their own
    already; those of a re-sit have files of their own.

    group, attempt: what was asked for.
    """
    groups: list[str | None] = [group]
    if group is None:
        handouts = _called(_HANDOUTS, attempt)
        groups += [each for each in groups_of(trainees) if sitting.class_file(handouts, each).exists()]
    return {
        sitting.class_file(_called(what, attempt), each): ClassFile(what.capitalize(), each, what == _LABELS)
        for what in (_HANDOUTS, _LABELS)
        for each in groups
    }


_HANDOUTS, _LABELS = "handouts", "labels"


def _called(what: str, attempt: int | None) -> str:
    return what if attempt is None else f"{what}-attempt-{attempt}"


def take_away_untrue(
    sitting: Sitting,
    new: Collection[Trainee],
    renewed: Collection[Trainee],
    *,
    attempt: int | None,
    written: Collection[Path],
) -> None:
    """Takes away what lacks new labs, or says what labs said before, and says so. What this run writes is left to it.

    Done before any of these labs is written, so that no run that is broken off leaves pages behind that are untrue.
    Raises TrainerError where one cannot be taken away.
    """
    again = "set again without --trainee and --group writes it"
    keys = f"trainer key {sitting.folder} writes it"
    untrue: dict[Path, str] = {}
    for trainees, what in ((new, "new labs are not in it"), (renewed, "its labs say something else now")):
        for trainee in trainees:
            attempts = {attempt} if trainees is new else {None, trainee.attempt}
            names = [_called(each, of) for each in (_HANDOUTS, _LABELS) for of in attempts]
            untrue |= dict.fromkeys(_files(sitting, "keys", trainee), f"{what}; {keys}")
            untrue |= {file: f"{what}; {again}" for name in names for file in _files(sitting, name, trainee)}
    for file, why in sorted(untrue.items()):
        if file not in written:
            for each in (file, *pdfs_of(file, of_class=True)):
                try:
                    take_away(each, why)
                except OSError as error:
                    raise TrainerError(
                        f"{each} is not true any more and cannot be taken away ({error.strerror}). Close it if another program "
                        "has it open, and set again."
                    ) from error


def _files(sitting: Sitting, what: str, trainee: Trainee) -> Iterator[Path]:
    """The files of that sort that such a trainee's pages stand in."""
    yield sitting.class_file(what, None)
    if trainee.group:
        yield sitting.class_file(what, trainee.group)
