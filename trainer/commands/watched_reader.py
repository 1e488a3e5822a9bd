"""Whatever a returned file can make the program do is done in a process of its own, so that no file can hold up the others
or take the machine's memory: unpacking, finding whose it is, finding its answers, marking.

One process does this for file after file; bytes and values go to it, what it found comes back. It is ended, and begun anew
for the next file, where a file takes too long or too much. What takes too long is tried a second time: the whole machine
may have paused.
"""

import contextlib
import gc
import pickle
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from trainer.commands.helper_process import HelperProcess, serve
from trainer.errors import TrainerError, UnreadableFile
from trainer.lab.answers import FilledForm
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.marking.overrides import Override, apply
from trainer.sheets.intake import ReturnedBook, read_book
from trainer.sheets.paper import Paper, paper_of
from trainer.sheets.returned_book import ReturnedForm, read_form

if TYPE_CHECKING:
    from trainer.commands.to_hand_back import ToHandBack

__all__ = ["GradedWork", "MarkingCrashed", "ToGrade", "WatchedReader", "main", "watched_reader"]

MAX_SECONDS = 2.0
"""For one file, from its bytes to its answers; a filled workbook takes 0.03."""
MAX_MARKING_SECONDS = 15.0
"""For the marking of one file; one of fifty switches, full of mistakes, takes a few."""
MAX_MEMORY = 200 * 2**20
"""Bytes, where the system has such a limit (Linux); elsewhere the limits of the reader itself have to do."""
MAX_MARKING_MEMORY = 300 * 2**20
_TRIES = 2
_MARKING = frozenset({"mark", "grade"})
_OR_ASK_AGAIN = (
    "Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy; "
    "or ask for the file again."
)
_TAKE_OUT = (
    "Take out of a copy what no answer needs (rows too many, long texts) and use that; or mark this one by hand."
)


class MarkingCrashed(TrainerError):
    """Marking a file came to a bad end, through our fault."""

    def __init__(self, trace: str) -> None:
        super().__init__("Marking it went wrong, which is our fault and not that of whoever filled it in.")
        self.trace = trace
        """For the log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """What comes back: a value, a refusal in words, or the trace of a crash."""

    value: Any = None
    refusal: str = ""
    crash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToGrade:
    """Somebody's work, and what decides how it is marked and how much of that is shown."""

    lab: bytes
    """Its scenario, pickled."""
    is_key_proved: bool
    """Whether its key has been tried and works."""
    form: bytes
    """As packed_form gives it."""
    overrides: Sequence[Override]
    exercise: bytes
    """Pickled as well: it is the same for a whole class."""
    full: bool
    """Whether feedback says on paper all that it says on a screen."""


class GradedWork(NamedTuple):
    """What came of it."""

    marks: Marked
    to_hand_back: "ToHandBack"


class WatchedReader(HelperProcess):
    """Reads and marks files in a process of its own. Where none can be begun it is done here, by the same code."""

    module = "trainer.commands.watched_reader"

    def read(self, data: bytes) -> ReturnedBook:
        """What `read_book` gives. Raises UnreadableFile, also where the file takes too long or too much memory."""
        return self._value("read", data, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def paper(self, data: bytes) -> Paper:
        """What a returned file says of itself. Raises as read does."""
        return self._value("paper", data, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def form(self, data: bytes, scenario: Scenario) -> ReturnedForm:
        """The answers in a returned file. Raises as read does."""
        return self._value("form", data, scenario, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def packed_form(self, data: bytes, lab: bytes) -> bytes:
        """The same as form gives, pickled, for it is kept a while. lab: its scenario, pickled. Raises as read does."""
        return self._value("packed form", data, lab, seconds=MAX_SECONDS, fix=_OR_ASK_AGAIN)  # type: ignore[no-any-return]

    def marked(self, scenario: Scenario, filled: FilledForm) -> Marked:
        """The marks of a form.

        Raises UnreadableFile where that takes too long or too much memory, MarkingCrashed where marking has a fault.
        """
        return self._value("mark", scenario, filled, seconds=MAX_MARKING_SECONDS, fix=_TAKE_OUT)  # type: ignore[no-any-return]

    def graded(self, work: ToGrade) -> GradedWork:
        """The marks of somebody's work, and what is handed back of it. Raises as marked does."""
        return self._value("grade", work, seconds=MAX_MARKING_SECONDS, fix=_TAKE_OUT)  # type: ignore[no-any-return]

    def _value(self, what: str, *arguments: Any, seconds: float, fix: str) -> Any:
        """What comes of a task, in the process or here; see its public names."""
        doing = "Marking" if what in _MARKING else "Reading"
        for _ in range(_TRIES):
            if not self.is_begun():
                return _taken(_done(what, arguments))
            answer, took_too_long = self.ask((what, arguments), seconds)
            if answer is not None:
                return _taken(answer)
            self.stop()
            if not took_too_long:
                raise UnreadableFile(f"{doing} it came to a bad end, so it was left. {fix}")
        raise UnreadableFile(f"{doing} it took longer than {seconds:g} seconds, so it was left. {fix}")


watched_reader = WatchedReader()
"""The one that commands share, so that a process is begun once. It ends with this process."""


def _taken(answer: _Answer) -> Any:
    """The value of an answer. Raises what the answer tells of."""
    if answer.crash:
        raise MarkingCrashed(answer.crash)
    if answer.refusal:
        raise UnreadableFile(answer.refusal)
    return answer.value


def main() -> None:
    """What the process does."""
    serve(_watched)


def _watched(task: tuple[str, Sequence[Any]]) -> _Answer:
    """Does a task with no more memory than it may take."""
    what, arguments = task
    most = MAX_MARKING_MEMORY if what in _MARKING else MAX_MEMORY
    _limit_memory(most)
    try:
        return _done(what, arguments)
    except MemoryError:
        return _Answer(refusal=_too_much_memory(what, most))
    finally:
        _limit_memory(MAX_MARKING_MEMORY + MAX_MEMORY)  # what is sent back has been paid for


def _done(what: str, arguments: Sequence[Any]) -> _Answer:
    """Does a task. Raises MemoryError alone."""
    try:
        return _Answer(value=_worked(what, arguments))
    except MemoryError:
        raise
    except UnreadableFile as error:
        if isinstance(error.__cause__, MemoryError):
            raise MemoryError from error  # noqa: TRY004  # what it was in the first place
        return _Answer(refusal=str(error))
    except Exception as error:  # noqa: BLE001  # one file must not stop the others, whatever was overlooked
        if isinstance(error, RecursionError) or what not in _MARKING:
            return _Answer(refusal=f"It is built in a way that was not foreseen. {_OR_ASK_AGAIN}")
        return _Answer(crash=traceback.format_exc())


def _too_much_memory(what: str, most: int) -> str:
    doing, fix = ("Marking", _TAKE_OUT) if what in _MARKING else ("Reading", _OR_ASK_AGAIN)
    return f"{doing} it took more than {most >> 20} MB of memory, so it was left. {fix}"


def _worked(what: str, arguments: Sequence[Any]) -> Any:
    match what, *arguments:
        case "read", data:
            return read_book(data)
        case "paper", data:
            _book.cache_clear()  # two large ones would be too much
            return paper_of(_book(data))
        case "form", data, scenario:
            return _form(data, scenario)
        case "packed form", data, lab:
            return pickle.dumps(_form(data, pickle.loads(lab)))  # noqa: S301  # packed by hand_ins
        case "mark", scenario, filled:
            return mark(scenario, filled)
        case "grade", task:
            return _graded(task)
    raise AssertionError(what)


@lru_cache(maxsize=1)
def _book(data: bytes) -> ReturnedBook:
    """The book that was read last: first it is asked whose it is, then for its answers."""
    return read_book(data)


def _form(data: bytes, scenario: Scenario) -> ReturnedForm:
    book = _book(data)
    _book.cache_clear()
    return read_form(book, scenario)


def _graded(task: ToGrade) -> GradedWork:
    from trainer.commands.to_hand_back import made_to_hand_back  # noqa: PLC0415  # its libraries take longer to load than a file to read

    _pass_over_libraries()
    scenario: Scenario = pickle.loads(task.lab)  # noqa: S301  # packed by hand_ins
    form: ReturnedForm = pickle.loads(task.form)  # noqa: S301  # packed above
    own = scenario.trainee
    marks = apply(
        mark(scenario, form.filled, is_key_proved=task.is_key_proved), own.id, task.overrides, attempt=own.attempt
    )
    exercise = _exercise(task.exercise)
    return GradedWork(marks, made_to_hand_back(scenario, marks, form.notices, exercise, full=task.full))


@lru_cache(maxsize=1)
def _exercise(packed: bytes) -> Exercise:
    exercise: Exercise = pickle.loads(packed)  # noqa: S301  # packed by grade
    return exercise


@cache
def _pass_over_libraries() -> None:
    """Nothing of them becomes garbage: to look for some in them every few files took a twentieth of the time."""
    gc.freeze()


def _limit_memory(most: int) -> None:
    """Limits this process's own memory where the system knows such a limit."""
    try:
        import resource  # noqa: PLC0415  # not on every system
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_DATA, (most, resource.getrlimit(resource.RLIMIT_DATA)[1]))
