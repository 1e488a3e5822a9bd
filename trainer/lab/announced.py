"""What is only announced of a lab and decides nothing in it: its date, the minutes for it, what the places are called.

It may change after labs were drawn, and then every lab says the new one; all that is asked stays as it was.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from trainer.lab.draw import ClassDraw
from trainer.lab.exercise import Exercise, ListedSwitch
from trainer.lab.scenario import Scenario, Trainee

__all__ = ["announced_changes", "class_as_announced", "lab_as_announced", "with_announced"]


def with_announced(kept: Exercise, now: Exercise) -> Exercise:
    """The exercise that labs were drawn from, with what is announced as it is now. A blank date leaves the one before."""
    kept = replace(kept, date=now.date or kept.date, minutes=now.minutes)
    if [_without_places(row) for row in kept.switches] != [_without_places(row) for row in now.switches]:
        return kept
    return replace(kept, switches=now.switches)


def _without_places(row: ListedSwitch) -> ListedSwitch:
    return replace(row, places=())


def announced_changes(kept: Exercise, now: Exercise) -> Iterator[str]:
    """What differs of it, a sentence each; nothing where all is as it was."""
    if kept.date != now.date:
        yield f"Date: {kept.date or 'blank'} becomes {now.date or 'blank'}."
    if kept.minutes != now.minutes:
        yield f"Minutes: {_shown(kept.minutes)} becomes {_shown(now.minutes)}."
    for before, after in zip(kept.switches, now.switches, strict=False):
        if before.places != after.places:
            yield f"Place of {before.name}: {', '.join(before.places)} becomes {', '.join(after.places)}."


def _shown(minutes: int | None) -> str:
    return "blank" if minutes is None else str(minutes)


def class_as_announced(common: ClassDraw, now: Exercise) -> ClassDraw:
    """What a class has in common, with the places as they are called now."""
    rows = tuple(replace(row, places=now.switches[row.source].places) for row in common.switches)
    return replace(common, switches=rows)


def lab_as_announced(scenario: Scenario, common: ClassDraw, now: Exercise, trainee: Trainee | None) -> Scenario:
    """A lab that was drawn, with what is announced as it is now.

    common: of its class, as it was. trainee: its row in the roll as it is now; None where it has none, then the extra
    minutes stay.
    """
    extra = scenario.trainee.extra_minutes if trainee is None else trainee.extra_minutes
    who = replace(scenario.trainee, extra_minutes=extra)
    called = {row.name: (row.places, now.switches[row.source].places) for row in common.switches}
    names = _places([(switch.place, *called.get(switch.name, ((), ()))) for switch in scenario.switches])
    switches = tuple(
        switch if switch.place == name else replace(switch, place=name)
        for switch, name in zip(scenario.switches, names, strict=True)
    )
    return replace(scenario, date=now.date, minutes=now.minutes_for(who), trainee=who, switches=switches)


def _places(rows: Sequence[tuple[str, tuple[str, ...], tuple[str, ...]]]) -> list[str]:
    """The new name of each place, of (name, names it was drawn from, names there are now): the one that stands where the
    old one stood, where the lists are as long; else the old one if it is there still, else one that no other place has.
    """
    found: list[str | None] = []
    for name, before, after in rows:
        if not after or (before == after and name in after):
            found.append(name)
        elif len(before) == len(after) and name in before:
            found.append(after[before.index(name)])
        else:
            found.append(name if name in after else None)
    for place, (name, _, after) in enumerate(rows):
        if found[place] is None:
            found[place] = next((each for each in after if each not in found), name)
    return [name or "" for name in found]
