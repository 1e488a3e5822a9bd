"""Pages of a whole class, or of a group, in one file each: which of them a run of `set` writes, and which it makes untrue."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from pathlib import Path

from trainer.commands.printing import take_away
from trainer.commands.reading import groups_of
from trainer.errors import TrainerError
from trainer.lab.scenario import Trainee
from trainer.store import Sitting

__all__ = ["handout_files", "take_away_untrue"]


def handout_files(
    sitting: Sitting, trainees: Iterable[Trainee], *, group: str | None, attempt: int | None
) -> dict[Path, str | None]:
    """The files with handouts of all these trainees, and of the groups that have a file of their own already; those of a
    re-sit have files of their own. By file the group, None for everybody.

    group, attempt: what was asked for.
    """
    what = _handouts(attempt)
    groups: list[str | None] = [group]
    if group is None:
        groups += [each for each in groups_of(trainees) if sitting.class_file(what, each).exists()]
    return {sitting.class_file(what, each): each for each in groups}


def _handouts(attempt: int | None) -> str:
    return "handouts" if attempt is None else f"handouts-attempt-{attempt}"


def take_away_untrue(
    sitting: Sitting,
    new: Collection[Trainee],
    renewed: Collection[Trainee],
    *,
    attempt: int | None,
    written: Mapping[Path, str | None],
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
            handouts = {_handouts(attempt)} if trainees is new else {_handouts(None), _handouts(trainee.attempt)}
            untrue |= dict.fromkeys(_files(sitting, "keys", trainee), f"{what}; {keys}")
            untrue |= {file: f"{what}; {again}" for name in handouts for file in _files(sitting, name, trainee)}
    for file, why in sorted(untrue.items()):
        if file not in written:
            for each in (file, file.with_suffix(".pdf")):
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
