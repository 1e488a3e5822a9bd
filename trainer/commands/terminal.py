r"""What is printed reaches the terminal as text: names and answers that others wrote cannot steer it, nor stop the program.

A character that would (control codes, marks that turn the direction of writing), or that the terminal's encoding lacks,
is printed as \uXXXX. In JSON that is the character itself, so what other programs read is not changed.

Lines, tables and the progress bar are here too. Colour and the bar are for terminals alone, and with NO_COLOR not even bold
letters are used; colour never says what no word says; in a file or a pipe all is plain.
"""

import sys
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from time import monotonic
from typing import Any, Literal, TextIO, TypeVar, cast

from rich.cells import cell_len
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

__all__ = ["counted", "in_one_line", "readable_output", "say", "say_table"]

T = TypeVar("T")
Style = Literal["", "bold", "yellow", "red"]

_PIPED_WIDTH, _WIDEST = 80, 100
"""Columns that a table takes in a file, and at most on a terminal."""
_BAR_AFTER = 1.0
"""Seconds of work after which a bar is worth looking at."""
_BAR_EVERY = 0.1
"""Seconds from one drawing of it to the next: each takes a millisecond, and labs are quick."""

_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that change the direction of writing (Unicode Standard Annex 9, section 2)."""


class _Readable:
    """A stream that escapes what steers a terminal, and is otherwise the one beneath."""

    def __init__(self, beneath: TextIO) -> None:
        self.beneath = beneath

    def __getattr__(self, name: str) -> Any:
        return getattr(self.beneath, name)

    def write(self, text: str) -> int:
        known = self.beneath.encoding or "utf-8"
        self.beneath.write("".join(each if each == "\n" else _escaped(each, known) for each in text))
        return len(text)


@contextmanager
def readable_output() -> Iterator[None]:
    """Escapes in standard output and standard error while the block runs."""
    out, err = cast("TextIO", _Readable(sys.stdout)), cast("TextIO", _Readable(sys.stderr))
    with redirect_stdout(out), redirect_stderr(err):
        yield


def in_one_line(name: str) -> str:
    r"""A name of a file that others chose, as it stands inside a line.

    >>> in_one_line("a\nb.xlsx"), in_one_line("Zoë.xlsx")
    ('a\\u000ab.xlsx', 'Zoë.xlsx')
    """
    return "".join(_escaped(each, "utf-8") for each in name)


def say(*lines: str, style: Style = "", to: TextIO | None = None) -> None:
    """Prints lines at once; on a terminal they break between words.

    to: standard output unless something else is named.
    """
    console = _console(to)
    for line in "\n".join(lines).split("\n") or [""]:
        known = _readable(line, console)
        if not console.is_terminal:
            console.file.write(f"{known}\n")
            continue
        for part in _broken(known, console.width):
            console.print(Text(part, style="" if console.no_color else style), soft_wrap=True)
    console.file.flush()


def say_table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, numbers: Collection[str] = ()) -> None:
    """Prints a table as wide as the terminal, 80 columns in a file; what does not fit goes on in the next line.

    numbers: headings of the columns that stand to the right.
    """
    console = _console(None)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="" if console.no_color else "bold")
    for heading in headings:
        table.add_column(heading, justify="right" if heading in numbers else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(_readable(text, console)) for text in row))
    width = min(console.width, _WIDEST) if console.is_terminal else _PIPED_WIDTH
    with console.capture() as printed:
        console.print(table, width=width)
    console.file.write("".join(f"{line.rstrip()}\n" for line in printed.get().splitlines()))
    console.file.flush()


def _broken(line: str, width: int) -> Iterator[str]:
    """The line in parts of so many columns, each indented like the first. What has no blank in it is not broken."""
    indent = line[: len(line) - len(line.lstrip(" "))]
    first, *words = line.strip(" ").split(" ")
    part = indent + first
    for word in words:
        if cell_len(f"{part} {word}") <= width:
            part = f"{part} {word}"
        else:
            yield part
            part = indent + word
    yield part


@contextmanager
def counted(things: Iterable[T], what: str, *, of: int) -> Iterator[Iterator[T]]:
    """The things one by one; standard error shows how many of all are done once that takes a second, if it is a terminal.

    >>> with counted(["a", "b"], "reading", of=2) as each:
    ...     list(each)
    ['a', 'b']
    """
    console = _console(sys.stderr)
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(complete_style="cyan"),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    bar = Progress(
        *columns, console=console, transient=True, auto_refresh=False, redirect_stdout=False, redirect_stderr=False
    )
    task = bar.add_task(what, total=of)
    began = monotonic()

    def each() -> Iterator[T]:
        shown_at = began + _BAR_AFTER - _BAR_EVERY
        for done, thing in enumerate(things, 1):
            yield thing
            if (now := monotonic()) - shown_at >= _BAR_EVERY or (done == of and bar.live.is_started):
                shown_at = now
                bar.update(task, completed=done)
                bar.start()
                bar.refresh()

    try:
        yield each() if console.is_terminal else iter(things)
    finally:
        if bar.live.is_started:
            bar.stop()


def _console(to: TextIO | None) -> Console:
    """Writes past the stream that escapes, for its own codes are meant to reach the terminal."""
    stream = to or sys.stdout
    beneath = stream.beneath if isinstance(stream, _Readable) else stream
    return Console(file=beneath, highlight=False, markup=False, emoji=False)


def _readable(text: str, console: Console) -> str:
    return "".join(_escaped(each, console.encoding) for each in text)


def _escaped(character: str, encoding: str) -> str:
    if character.isascii():
        return character if character.isprintable() else f"\\u{ord(character):04x}"
    is_steering = character in _TURNING or unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        is_steering = True
    if not is_steering:
        return character
    units = character.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[place : place + 4]}" for place in range(0, len(units), 4))
