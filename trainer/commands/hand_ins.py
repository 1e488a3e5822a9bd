"""What came back: whose each file is, and which of a trainee's files counts.

Rules of this file: a file belongs to the lab that it says; what speaks against its being that trainee's own work is a
doubt, and no doubtful, blank, marked or key workbook takes the place of a filled one of the trainee's own. Of each file
what it says of itself and its answers are kept in memory, and no cell else; it is known by its digest.
"""

import pickle
import re
from collections.abc import Collection, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from trainer.commands.decisions import is_meant
from trainer.commands.terminal import in_one_line
from trainer.commands.watched_reader import WatchedReader
from trainer.errors import TrainerError
from trainer.files import digest_of, read_returned, time_saved
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import CellRef
from trainer.lab.scenario import Saved, Scenario
from trainer.marking.overrides import Decision, Override
from trainer.sheets.paper import Paper, lab_number_in_name
from trainer.sheets.placement import LAB_LABEL, TRAINEE_LABEL
from trainer.sheets.returned_book import ReturnedForm
from trainer.store import Register, Sitting

__all__ = ["Choice", "HandIn", "choose", "hand_in", "no_work", "what_is_written"]

_WORKBOOKS = (".xlsx", ".xlsm")
_SECOND_COPY = re.compile(r"conflict|\bcop(y|ie|ia)\b|\bkopie\b|\(\d{1,3}\)$", re.IGNORECASE)
"""How cloud folders, browsers and desktop systems name a second copy (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandIn:
    """A file that was read and whose lab is known."""

    file: Path
    called: str
    """As the sitting calls it, in one line."""
    file_saved_at: float
    """By the folder or the archive that it is in, in seconds of the system's clock."""
    digest: str
    lab: str
    paper: Paper
    notices: tuple[str, ...]
    """What is to be said about whose it is."""
    is_doubtful: bool
    """Something speaks against its being the trainee's own work."""
    answers: bytes = b""
    """Of somebody's work that can be read, packed: a form takes ten times as much room, and a class may have a thousand."""
    packed_lab: bytes = b""
    """The scenario by which they were read, packed too: it is read from its file once."""
    is_key_proved: bool = False
    """Whether the lab's key has been tried and works."""
    unread: str = ""
    """Why the answers could not be read."""

    @property
    def saved_at(self) -> float:
        """When it was saved: by the time inside the workbook if there is one, for a copy's own may be that of the copying."""
        return self.file_saved_at if self.paper.saved_at is None else self.paper.saved_at

    @property
    def with_times(self) -> str:
        """What it is called, with both times."""
        inside = "" if self.paper.saved_at is None else f"inside it {_clock(self.paper.saved_at)}, "
        return f"{self.called} ({inside}of the file {_clock(self.file_saved_at)})"

    @property
    def is_work(self) -> bool:
        """Whether somebody may have written it: it is neither the key nor what the program has marked."""
        return not (self.paper.is_key or self.paper.is_marked)

    @property
    def form(self) -> ReturnedForm:
        """Of work that could be read."""
        form: ReturnedForm = pickle.loads(self.answers)  # noqa: S301  # our own reader has packed them
        return form

    @property
    def scenario(self) -> Scenario:
        """Of work that could be read."""
        scenario: Scenario = pickle.loads(self.packed_lab)  # noqa: S301  # packed below
        return scenario


def hand_in(
    sitting: Sitting, register: Register, file: Path, reader: WatchedReader, wanted: Container[str] | None = None
) -> HandIn:
    """A file, with the lab it belongs to: by the number in its cells, else by the spares in it, else by its name; and its
    answers, if it is somebody's work on one of the wanted labs (None: of all).

    Raises TrainerError where it cannot be read or is of no lab of this sitting.
    """
    data = read_returned(file)
    each = _whose(sitting, register, file, data, reader.paper(data))
    if not each.is_work or (wanted is not None and each.lab not in wanted):
        return each
    try:
        lab = sitting.lab(each.lab)
        packed = pickle.dumps(lab.scenario)
        answers = reader.packed_form(data, packed)
        return replace(each, answers=answers, packed_lab=packed, is_key_proved=lab.trials is not None)
    except TrainerError as error:
        return replace(each, unread=str(error))


def _whose(sitting: Sitting, register: Register, file: Path, data: bytes, paper: Paper) -> HandIn:
    numbers, shown = paper.numbers, dict(paper.shown)
    named = lab_number_in_name(file.stem, register.by_lab)
    if not numbers and not named:
        raise TrainerError(
            f"No lab number was found in it. Write {LAB_LABEL!r} into cell A2 of any sheet and the number into B2, as in the "
            "workbook that was handed out."
        )
    own = [number for number in numbers if number in register.by_lab] or ([] if numbers else [named])
    if not own:
        raise TrainerError(f"Lab {numbers[0]} is not of this sitting. {_of_which_sitting(sitting, numbers[0])}")
    if len(own) > 1 and len(shown) == 1:
        raise TrainerError(
            f"All its sheets say lab {own[0]}, but it was handed out as lab {own[1]}. Ask whose answers these are. If they "
            f"are of {own[1]}, write {own[1]} on every sheet; if not, copy them into the workbook of {own[0]}."
        )
    if len(own) > 1:
        listed = ", ".join(f"{each} ({shown[each]})" if each in shown else each for each in own)
        raise TrainerError(f"It holds sheets of several labs: {listed}. Ask which one is meant and remove the others.")
    notices: list[str] = []
    notices += _about_name(file)
    notices += _where_found(register, own[0], paper)
    certain = len(notices)
    notices += _doubts(sitting, register, own[0], named, file, paper)
    return HandIn(
        file=file,
        called=in_one_line(sitting.relative(file)),
        file_saved_at=time_saved(file),
        digest=digest_of(data),
        lab=own[0],
        paper=paper,
        notices=tuple(notices),
        is_doubtful=len(notices) > certain,
    )


def _of_which_sitting(sitting: Sitting, number: str) -> str:
    """Where a lab is from that is not of this sitting: another one in the same folder, if it is there."""
    try:
        for other in sorted(sitting.folder.resolve().parent.glob("*/instructor/register.json")):
            neighbour = Sitting(other.parent.parent)
            if neighbour.has_lab(number):
                return f"It is of {neighbour.folder.name}: put the file into {neighbour.returned} and grade it there."
    except OSError:
        pass  # a folder of somebody else's
    return "It may belong to another one: grade it there, or ask for the right file."


def _clock(seconds: float) -> str:
    """A time as the clocks here show it."""
    try:
        return f"{datetime.fromtimestamp(seconds).astimezone():%Y-%m-%d %H:%M:%S}"
    except (ValueError, OverflowError, OSError):
        return "unknown"


def _about_name(file: Path) -> Iterator[str]:
    """What a name says of how the file came here, where that may puzzle somebody."""
    endings = [each.casefold() for each in file.suffixes[-2:]]
    if len(endings) == 2 and endings[0] in _WORKBOOKS:
        yield f"Its name has two endings, {in_one_line(''.join(file.suffixes[-2:]))}; it was read as the workbook it is."


def _where_found(register: Register, lab: str, paper: Paper) -> Iterator[str]:
    """Where the lab number was found if not in a cell."""
    owner = register.by_lab[lab]
    if not paper.shown:
        where = "the spare in it" if lab in paper.numbers else "its name"
        yield f"No sheet says a lab number; {lab} was taken from {where}. Check that it is of {owner.trainee}."


def _doubts(sitting: Sitting, register: Register, lab: str, named: str, file: Path, paper: Paper) -> Iterator[str]:
    """What speaks against a file's being the own work of the trainee it is graded for."""
    owner = register.by_lab[lab]
    if paper.shown and named not in ("", lab):
        other = register.by_lab.get(named)
        yield (
            f"The name of the file says lab {named}{f' of {other.trainee}' if other else ''}, its sheets say {lab} of "
            f"{owner.trainee}, for whom it counts. Ask whose work it is."
        )
    ids = register.trainees
    others = [f"{ids[each]} ({at})" for each, at in paper.trainees if each in ids and ids[each] != owner.trainee]
    if others:
        yield (
            f"Beside {TRAINEE_LABEL} it says {', '.join(others)}, but lab {lab} is of {owner.trainee}, for whom it "
            "counts. Ask whose work it is."
        )
    if strangers := _ids_in_path(sitting, file, ids, owner.trainee):
        yield (
            f"In the name of the file or its folder stands {', '.join(strangers)}, but lab {lab} is of {owner.trainee}, for "
            "whom it counts. Ask whose work it is."
        )
    if file.is_symlink():
        yield "It is a link to a file elsewhere. Put the file itself in its place."


def _ids_in_path(sitting: Sitting, file: Path, ids: Mapping[str, str], own: str) -> list[str]:
    """The ids of others that stand as whole words in a file's name, or in those of the folders in returned/ that it is in."""
    try:
        parts = file.resolve().parent.relative_to(sitting.returned.resolve()).parts
    except ValueError:
        parts = ()
    path = "/".join((*parts, file.stem)).casefold()
    return [
        trainee
        for each, trainee in ids.items()
        if trainee != own and each in path and re.search(rf"(?<!\w){re.escape(each)}(?!\w)", path.replace("_", " "))
    ]


def what_is_written(filled: FilledForm) -> dict[CellRef, CellText]:
    """The cells of a form in which something stands."""
    return {cell: typed for cell, typed in filled.texts.items() if typed.text.strip() or typed.trouble}


def no_work(copies: Sequence[HandIn]) -> str:
    """Why nothing is graded of a lab of which only keys and marked workbooks came back."""
    reason = (
        "This is a marked workbook, as the program gives it back, and no trainee's work. Put the trainee's own file in its "
        "place."
    )
    if any(each.paper.is_key for each in copies):
        reason = (
            "THIS IS THE ANSWER KEY, not the trainee's work, and earns nothing: it says so in its titles. Put the trainee's "
            "own file in its place."
        )
    return reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which of a lab's files counts, and why."""

    counting: HandIn
    rivals: tuple[HandIn, ...]
    """Filled ones of the lab with other answers."""
    notices: tuple[str, ...]


def choose(
    copies: Sequence[HandIn], forms: dict[Path, ReturnedForm], saved: Saved, overrides: Collection[Override]
) -> Choice:
    """The file that counts. Of several like ones it is the one saved first or last; the instructor may have chosen another.

    forms: of all copies that are somebody's work and can be read, by file; one at least.
    """
    written = {each: what_is_written(form.filled) for each, form in forms.items()}
    own = sorted((each for each in copies if each.file in forms), key=_by_time)
    filled = [each for each in own if written[each.file]]
    sure = [each for each in filled if not each.is_doubtful]
    counting = (sure or filled or own)[0 if saved is Saved.FIRST else -1]
    wanted = [override for override in overrides if override.decision is Decision.USE_FILE]
    notices: list[str] = []
    for override in wanted:
        for each in own:
            if is_meant(override, each.called):
                counting = each
                notices = [f"The instructor has chosen {each.called}: {override.reason}"]
    others = [each for each in own if each.file != counting.file]
    rivals = [each for each in others if written[each.file] and written[each.file] != written[counting.file]]
    notices += _about_copies(copies, counting, others, written, saved, is_chosen=bool(notices))
    return Choice(counting=counting, rivals=tuple(rivals), notices=tuple(notices))


def _by_time(each: HandIn) -> tuple[float, float, str]:
    return each.saved_at, each.file_saved_at, each.file.name


def _about_copies(
    copies: Sequence[HandIn],
    counting: HandIn,
    others: Sequence[HandIn],
    written: dict[Path, dict[CellRef, CellText]],
    saved: Saved,
    *,
    is_chosen: bool,
) -> Iterator[str]:
    """What the instructor should know of a lab's files, of which one counts."""
    keys = [each.called for each in copies if each.paper.is_key]
    marked = [each.called for each in copies if each.paper.is_marked and not each.paper.is_key]
    blank = [each.called for each in others if not written[each.file]]
    doubtful = [each.called for each in others if written[each.file] and each.is_doubtful and not counting.is_doubtful]
    like = [_as_copy(each) for each in others if each.called not in (*blank, *doubtful)]
    if keys:
        yield f"{', '.join(keys)} is the ANSWER KEY and was not graded; take it out."
    if marked:
        yield f"{', '.join(marked)} is a marked workbook, as the program gives it back, and was not graded; take it out."
    if blank:
        yield f"{', '.join(blank)} is blank and does not count; {counting.called} does."
    if doubtful:
        listed = ", ".join(doubtful)
        yield f"{listed} may be somebody else's work, or is a link, and does not count; {counting.called} does."
    if like:
        why = "was chosen" if is_chosen else f"was saved {saved.word}"
        yield f"Several files for this lab: {counting.with_times} {why} and counts, not {', '.join(like)}."


def _as_copy(each: HandIn) -> str:
    """A file that does not count, with its times, and what its name says of it."""
    is_copy = _SECOND_COPY.search(each.file.stem) is not None
    return f"{each.with_times}{', by its name a second copy' if is_copy else ''}"
