"""From what the workbook leaves open to a network of its own: how many switches there are, how they are joined, and on
which of them each network is. Laid out once for a sitting, so that all labs are equally hard.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from string import ascii_uppercase

from trainer.lab.exercise import ANY_SWITCH, EACH_SWITCH, Exercise, ListedNetwork, ListedSwitch, Numbers, Shape
from trainer.lab.unread import known, with_values
from trainer.network.devices import SwitchName

__all__ = ["MOST_PORTS", "extremes", "free_ports", "lay_out", "switch_names"]

Choose = Callable[[Sequence[SwitchName]], SwitchName]
"""Takes one of several switches."""
MOST_PORTS = 48
"""Ports of a switch where the workbook says any (common practice, no source)."""


def switch_names(count: int) -> tuple[SwitchName, ...]:
    """A, B, ... Z, AA, AB, ...

    >>> switch_names(28)[-3:]
    ('Z', 'AA', 'AB')
    """
    firsts = ("", *ascii_uppercase)
    names = (SwitchName(first + letter) for first in firsts for letter in ascii_uppercase)
    return tuple(name for name, _ in zip(names, range(count), strict=False))


def lay_out(exercise: Exercise, rng: random.Random) -> Exercise:
    """The same exercise with every switch and every network listed by itself: nothing about its shape is left open.

    What is listed already stays as it is.
    """
    count = len(exercise.switches) if exercise.switch_count is None else exercise.switch_count.draw(rng)
    shape = exercise.shape
    if shape is Shape.ANY:
        shape = rng.choice((Shape.CHAIN, Shape.STAR, Shape.TREE))
    return _laid_out(exercise, count, shape, rng.choice)


def extremes(exercise: Exercise) -> Iterator[Exercise]:
    """Layouts between which all others lie: fewest and most switches, in every shape that may be drawn."""
    counts = {len(exercise.switches)}
    if exercise.switch_count is not None:
        counts = {exercise.switch_count.lowest, exercise.switch_count.highest}
    shapes = (Shape.CHAIN, Shape.STAR, Shape.TREE) if exercise.shape is Shape.ANY else (exercise.shape,)
    for count in sorted(counts):
        for shape in shapes:
            yield _laid_out(exercise, count, shape, lambda names: names[0])


def _laid_out(exercise: Exercise, count: int, shape: Shape, choose: Choose) -> Exercise:
    switches = list(_switches(exercise, count))
    if shape is not Shape.AS_LISTED:
        switches = _joined(switches, shape, choose)
    return with_values(
        exercise,
        switch_count=None,
        shape=Shape.AS_LISTED,
        switches=tuple(switches),
        networks=tuple(_networks(exercise, switches, choose)),
    )


def _switches(exercise: Exercise, count: int) -> Iterator[ListedSwitch]:
    """The listed switches; where a number of them is asked for, so many, by their own row or by the row 'each'."""
    if exercise.switch_count is None:
        yield from exercise.switches
        return
    by_name = {switch.name: switch for switch in exercise.switches}
    for name in switch_names(count):
        row = by_name.get(name) or by_name.get(EACH_SWITCH)
        if row is not None:
            yield with_values(row, name=name)


def _joined(switches: list[ListedSwitch], shape: Shape, choose: Choose) -> list[ListedSwitch]:
    """The switches linked to a chain, a star around the first, or a tree in which every switch has a free link port."""
    joined = [with_values(switch, linked_to=()) for switch in switches[:1]]
    links = {switch.name: 0 for switch in switches}
    for switch in switches[1:]:
        if shape is Shape.CHAIN:
            other = joined[-1].name
        elif shape is Shape.STAR:
            other = joined[0].name
        else:
            free = [each.name for each in joined if links[each.name] < len(each.link_ports)]
            other = choose(free or [joined[-1].name])
        links[other] += 1
        links[switch.name] += 1
        joined.append(with_values(switch, linked_to=(other,)))
    return joined


def _networks(exercise: Exercise, switches: list[ListedSwitch], choose: Choose) -> Iterator[ListedNetwork]:
    """Every network on a switch of its own choice: 'each' once on every switch, 'any' where the fewest are so far."""
    homes = {home for _, home in known(exercise.networks, lambda network: network.switch)}
    if homes.isdisjoint((EACH_SWITCH, ANY_SWITCH)):
        yield from exercise.networks
        return
    names = [switch.name for switch in switches]
    count = dict.fromkeys(names, 0)
    for network in exercise.networks:
        if network.switch not in (EACH_SWITCH, ANY_SWITCH):
            count[network.switch] = count.get(network.switch, 0) + 1
        elif network.switch == EACH_SWITCH:
            for name in names:
                count[name] += 1
    for network in exercise.networks:
        if network.switch == EACH_SWITCH:
            yield from (with_values(network, switch=name) for name in names)
        elif network.switch == ANY_SWITCH and names:
            fewest = min(count.values())
            name = choose([each for each in names if count[each] == fewest])
            count[name] += 1
            yield with_values(network, switch=name)
        else:
            yield network


def free_ports(wanted: Numbers | None, others: Numbers | None, share: tuple[int, int]) -> Numbers:
    """The ports that the word any stands for: those of a switch of 48 that the other column does not name.

    share: the range to take where both columns say any.
    """
    if wanted is not None:
        return wanted
    if others is None:
        return Numbers((share,))
    free = [port for port in range(1, MOST_PORTS + 1) if port not in others]
    return Numbers(tuple((port, port) for port in free))
