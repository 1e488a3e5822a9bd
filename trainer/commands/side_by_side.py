"""Large classes: several helper processes at a time, the results in order, the same as of one."""

import os
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from queue import SimpleQueue
from typing import TypeVar

from trainer.commands.helper_process import HelperProcess

__all__ = ["WORTH_IT", "helpers", "jobs_for", "side_by_side"]

H = TypeVar("H", bound=HelperProcess)
T = TypeVar("T")
R = TypeVar("R")

WORTH_IT = 100
"""Labs from which helpers save more than the half second in which they begin."""
_MOST_BY_ITSELF = 8
"""Helpers that are begun without being asked for."""
_AHEAD = 4
"""Results a helper that may wait to be taken."""


def jobs_for(labs: int, asked_for: int | None) -> int:
    """How many processes work on so many labs: as many as were asked for, or as the machine has processors for us."""
    if asked_for is not None:
        return max(1, min(asked_for, labs))
    if labs < WORTH_IT:
        return 1
    own = len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1
    return min(own, _MOST_BY_ITSELF)


@contextmanager
def helpers(kind: Callable[[], H], count: int) -> Iterator[list[H]]:
    """So many, which begin at once and have ended when the work is done, or broken off."""
    begun = [kind() for _ in range(count)]
    for each in begun:
        each.start()
    try:
        yield begun
    finally:
        for each in begun:
            each.stop()


def side_by_side(work: Callable[[H, T], R], things: Sequence[T], by: Sequence[H]) -> Iterator[R]:
    """What `work` gives for each thing, in their order. It is done in threads, one a helper; with one helper, here.

    Raises what `work` raises, when it is that thing's turn; what has not been begun by then is not.
    """
    if len(by) < 2 or len(things) < 2:
        yield from (work(by[0], each) for each in things)
        return
    free: SimpleQueue[H] = SimpleQueue()
    for helper in by:
        free.put(helper)

    def done(thing: T) -> R:
        helper = free.get()
        try:
            return work(helper, thing)
        finally:
            free.put(helper)

    pool = ThreadPoolExecutor(len(by))
    waiting: deque[Future[R]] = deque()
    try:
        for thing in things:
            waiting.append(pool.submit(done, thing))
            if len(waiting) > _AHEAD * len(by):
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BaseException:
        for helper in by:
            helper.stop()  # so that no thread waits for what nobody wants any more
        raise
    finally:
        pool.shutdown(cancel_futures=True)
