"""What a look at a practice lab adds to the learner's log.

Every cell that was tried is one try of its concept, whatever sheet it stands on, with the verdict of the first try and the help
that was used. Copies of what is given, and masks whose length is known, say nothing of a concept: what is not asked alone is
not noted. A try ends when the cell is right: what is done to it later changes nothing.
"""

from collections.abc import Iterable
from dataclasses import replace

from trainer.marking.practice import Attempt, Progress, attempts
from trainer.study.events import Tried
from trainer.study.prompts import CELL_ASKS
from trainer.study.support import difficulty

__all__ = ["lab_tries"]


def lab_tries(progress: Progress, since: Progress, session: str, known: Iterable[Tried]) -> tuple[Tried, ...]:
    """The lines that the log lacks: of cells that were tried for the first time since then, and of those in the log that have
    become right or needed more help.

    known: what the log holds, in order.
    """
    told = {(each.ask, each.row): each for each in known if each.lab == progress.lab}
    before = {each.cell for each in attempts(since)}
    found = []
    for attempt in attempts(progress):
        tried = _tried(attempt, progress, session)
        last = told.get((tried.ask, tried.row))
        is_news = attempt.cell not in before if last is None else _is_more(tried, last)
        if tried.ask in CELL_ASKS and is_news:
            found.append(tried)
    return tuple(found)


def _tried(attempt: Attempt, progress: Progress, session: str) -> Tried:
    return Tried(
        session=session,
        lab=progress.lab,
        ask=attempt.cell.question,
        row=str(attempt.cell.row),
        first=attempt.first.value,
        mistake=attempt.mistake,
        rung=attempt.rung,
        shown=attempt.shown,
        right=attempt.is_right,
        support=progress.support,
        d=difficulty(progress.support, progress.steps_harder),
    )


def _is_more(tried: Tried, last: Tried) -> bool:
    return not last.right and tried != replace(last, session=tried.session, first=tried.first, mistake=tried.mistake)
