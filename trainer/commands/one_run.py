"""What commands that write into a sitting have in common: they work there one at a time, and sweep up after a killed run."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from trainer.commands.terminal import say
from trainer.lock import alone
from trainer.store import Sitting

__all__ = ["one_run"]


@contextmanager
def one_run(sitting: Sitting) -> Iterator[None]:
    """The sitting's folder for this run alone. Raises TrainerError where another run is at work there.

    What a run that was killed has left half-written is swept away; that its place was taken is said on standard error.
    """
    sitting.create()
    with alone(sitting.lock_file, sitting.folder) as taken_over:
        if taken_over:
            say(taken_over, style="yellow", to=sys.stderr)
        sitting.sweep()
        yield
