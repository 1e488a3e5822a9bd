"""How far a long job has got: one line on a terminal, nothing anywhere else."""

import sys
from collections.abc import Collection, Iterator
from typing import TypeVar

from trainer.commands.terminal import beneath

__all__ = ["counted"]

T = TypeVar("T")


def counted(things: Collection[T], what: str) -> Iterator[T]:
    """The things one by one; while the work goes on, standard error shows how many are done, if it is a terminal."""
    terminal = beneath(sys.stderr)
    shown = terminal.isatty() and len(things) > 1
    for done, thing in enumerate(things):
        if shown:
            print(f"\r{what} {done + 1} of {len(things)} ", end="", file=terminal, flush=True)
        yield thing
    if shown:
        print("\r" + " " * 40 + "\r", end="", file=terminal, flush=True)
