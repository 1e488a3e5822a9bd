"""What the experiments with the wrong cells of a workbook have found, in words.

Cells that configure no device are not tried. Blank cells of one row are tried together, and so are a missing or an extra
row and two values that stand in each other's cells. A sheet on which nothing stands is tried as one; of one with open rows
the missing rows that have the same said of them.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.lab.form import CellRef, Role
from trainer.lab.questions.ports import PORTS
from trainer.lab.trials import TrialKind, Tried
from trainer.listing import how_many
from trainer.marking.experiments import Experiment, Laboratory, Masking, size_of
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.plans import Plans

__all__ = ["CHANGED_NOTHING", "Finding", "findings"]

_TRIED_BY_ROW = frozenset({Flaw.BLANK, Flaw.UNREADABLE, Flaw.MISSING, Flaw.EXTRA})
_MOST_TRIALS = 60_000
"""How many trials one workbook's experiments may take; in a very large lab the last wrong cells are not tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What was seen when a cell was tried, alone or together with others."""

    seen: str
    """In at most two sentences. It names switches, stations and rows, never a port, an address or a mask."""
    masked_by: str
    """Where the error stands that keeps it from showing in the trainee's own network: section and row; "" where none does."""
    loses: int
    """So many trials go wrong in an otherwise right network because of it."""
    steps: tuple[str, ...]
    """One trial that goes wrong because of it: what it is, then a line a step. They name addresses: to be shown only
    where the answers may be seen."""


def findings(plans: Plans, laboratory: Laboratory, wrong: Sequence[tuple[WrongCell, str]]) -> dict[CellRef, Finding]:
    """What was found of the cells that are not right; of those that configure nothing, nothing.

    laboratory: where the trainee's network is; wrong: each cell, and which mistake is said of it.
    """
    scenario = plans.scenario
    groups = _tried_together([each for each in wrong if each[0].question.role is Role.CONFIGURES], plans.read.texts)
    affordable = groups[: _MOST_TRIALS // size_of(scenario)]
    found: dict[CellRef, Finding] = {}
    for group in affordable:
        finding = _finding(laboratory, group)
        found |= {CellRef(cell.question.id, cell.row): finding for cell in group}
    return found


def _tried_together(wrong: Sequence[tuple[WrongCell, str]], texts: Mapping[CellRef, str]) -> list[list[WrongCell]]:
    """texts: all that the trainee wrote."""
    cells = [cell for cell, _ in wrong]
    groups: dict[object, list[WrongCell]] = {}
    for cell, mistake in wrong:
        together: tuple[object, ...] = (cell.section.id,)
        if any(ref.question.startswith(f"{cell.section.id}.") for ref in texts):
            together += (cell.row, () if cell.flaw in _TRIED_BY_ROW else _exchanged_with(cell, cells))
        elif cell.section.open is not None:
            together += (mistake,)
        groups.setdefault(together, []).append(cell)
    return list(groups.values())


def _exchanged_with(cell: WrongCell, wrong: Sequence[WrongCell]) -> frozenset[str]:
    """The cell, and the one of its row in which what is right here stands, and the other way round."""
    other = (
        each.question.id
        for each in wrong
        if each.section is cell.section
        and each.row == cell.row
        and each.value is not None
        and (each.value, each.expected) == (cell.expected, cell.value)
    )
    return frozenset({cell.question.id, *other})


def _finding(laboratory: Laboratory, cells: Sequence[WrongCell]) -> Finding:
    experiment = laboratory.experiment(cells)
    traced = laboratory.traced(experiment)
    steps: tuple[str, ...] = ()
    if traced is not None:
        tried, lines = traced
        steps = (f"{_CALLED[tried.kind]}: {_short(tried.subject)}", *map(_short, lines))
    mask = experiment.masked_by if not experiment.heals else None
    masked_by = ""
    if mask is not None:
        masked_by = _ELSEWHERE if mask.section is None else f"{mask.section.id} {mask.row or ''}".rstrip()
    return Finding(
        seen=_told(experiment, _put_right(cells)), masked_by=masked_by, loses=len(experiment.stops), steps=steps
    )


# --- In words ---------------------------------------------------------------------------------------------------------

_CALLED = {
    TrialKind.LEASE: "lease",
    TrialKind.PING: "ping",
    TrialKind.REACH: "ping",
    TrialKind.ROGUE_SERVER: "rogue offer",
    TrialKind.ROGUE_ON_LINK: "rogue offer",
    TrialKind.FORGED_ADDRESS: "forged packet",
    TrialKind.FORGED_MAC: "forged packet",
}
CHANGED_NOTHING = "This changed nothing that was tested."
_ELSEWHERE = "elsewhere"
_MOST_NAMED = 2
"""Of each sort of trial so many are called by name."""


def _put_right(cells: Sequence[WrongCell]) -> str:
    """What was done to them, as the beginning of a sentence."""
    flaws, rows = {cell.flaw for cell in cells}, {cell.row for cell in cells}
    if flaws == {Flaw.EXTRA}:
        return "Without this row"
    if flaws == {Flaw.MISSING}:
        return "With this row" if len(rows) == 1 else "With these rows"
    if len(cells) == 1:
        return "With this right"
    if flaws == {Flaw.WRONG}:
        return "With both right"
    return "With these cells of the row right" if len(rows) == 1 else "With this sheet filled in right"


def _told(experiment: Experiment, right: str) -> str:
    """What was seen, in at most two sentences. It names switches and stations, never a port, an address or a mask.

    right: what was done to put it right.
    """
    if experiment.heals:
        stopped = f", but {_undone(experiment.breaks)}: put right what matches it as well" if experiment.breaks else ""
        return f"{right}, {_after(experiment.heals)} in your network{stopped}."
    if experiment.stops and experiment.masked_by is not None:
        return (
            f"In an otherwise right network {_before(experiment.stops)}. In yours, putting it right is not enough: "
            f"{_masked(experiment.masked_by)}."
        )
    if experiment.breaks:
        return (
            f"In your network it works, because other values match it. {right} alone, "
            f"{_undone(experiment.breaks, 'would ')}: put right what matches it as well."
        )
    if experiment.stays:
        return f"In an otherwise right network {_before(experiment.stops)}; in yours another error does the same."
    if experiment.stops:
        return f"In an otherwise right network {_before(experiment.stops)}; in yours it does not show, because of other errors."
    if experiment.altered:
        return f"{right}, {_count(experiment.altered)} would have {' and '.join(experiment.altered_in)}."
    if experiment.would_alter:
        return (
            f"In an otherwise right network {_count(experiment.would_alter)} would have "
            f"{' and '.join(experiment.would_alter_in)} because of it; in yours it does not show, because of other errors."
        )
    return CHANGED_NOTHING


def _masked(mask: Masking) -> str:
    """The reason, and where to look. The rows of sheet Ports are ports, so they are not named."""
    if mask.section is None:
        return f"{mask.drop.reason.value} (at {mask.drop.at}, where another error sends it)"
    row = "" if mask.row is None or mask.section is PORTS else f", row {mask.row}"
    return f"{mask.drop.reason.value} (at {mask.drop.at}; see sheet {mask.section.title}{row}, and mend both)"


def _after(tried: Sequence[Tried]) -> str:
    """What is better afterwards: "2 leases (Cranes 1, Cranes 2) come back and 1 forged packet (...) is stopped"."""
    back = [each for each in tried if not each.is_attack]
    stopped = [each for each in tried if each.is_attack]
    parts = []
    if back:
        parts.append(f"{_count(back)} {'comes' if len(back) == 1 else 'come'} back")
    if stopped:
        parts.append(f"{_count(stopped)} {'is' if len(stopped) == 1 else 'are'} stopped")
    return " and ".join(parts)


def _undone(tried: Sequence[Tried], would: str = "") -> str:
    """What is worse afterwards: "2 pings (...) stop and 1 forged packet (...) gets through"."""
    stop = [each for each in tried if not each.is_attack]
    through = [each for each in tried if each.is_attack]
    parts = []
    if stop:
        parts.append(f"{_count(stop)} {would}{'stops' if len(stop) == 1 and not would else 'stop'}")
    if through:
        parts.append(f"{_count(through)} {would}{'gets' if len(through) == 1 and not would else 'get'} through")
    return " and ".join(parts)


def _before(tried: Sequence[Tried]) -> str:
    return " and ".join(
        f"{words} {_count(some)}"
        for words, some in (
            ("it stops", [each for each in tried if not each.is_attack]),
            ("it lets through", [each for each in tried if each.is_attack]),
        )
        if some
    )


def _count(tried: Sequence[Tried]) -> str:
    """Such as: 2 leases (Cranes 1, Cranes 2) and 14 pings (Cranes 1 to Office 1, Office 1 to Cranes 1, ...)."""
    sorts: dict[str, list[Tried]] = {}
    for each in tried:
        sorts.setdefault(_CALLED[each.kind], []).append(each)
    return " and ".join(f"{how_many(len(alike), sort)} ({_named(alike)})" for sort, alike in sorts.items())


def _named(tried: Sequence[Tried]) -> str:
    more = ", ..." if len(tried) > _MOST_NAMED else ""
    return ", ".join(_short(each.subject) for each in tried[:_MOST_NAMED]) + more


def _short(subject: str) -> str:
    """What was tried, in which a visitor is called by its number: "last needed address of VLAN 30 (no. 87)" is host 87."""
    return _VISITOR.sub(r"host \2 of \1", subject)


_VISITOR = re.compile(r"(?:first|last) needed address of (VLAN .+?) \(no\. (\d+)\)")
