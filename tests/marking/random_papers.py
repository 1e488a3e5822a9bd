"""Papers drawn at random: plans worked through from one early error, slips in a free plan, and errors in copied cells."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from drawn_labs import draw
from repair_labs import LEVELS

from trainer.commands.demo_class import key_texts
from trainer.commands.exercises import ready_made
from trainer.lab.form import Answers, CellRef, Question, RowKey, SoFar
from trainer.lab.questions import FORM, QUESTIONS, links, pools, stations, subnets
from trainer.lab.rows import LinkRow, StationRow
from trainer.lab.scenario import Order, Scenario, Trainee
from trainer.network.addresses import first_usable, last_usable
from trainer.sheets.exercise_book import read_exercise_book

EXERCISES = {each.file.stem: each.file for each in ready_made() if each.file.stem not in LEVELS}
"""Those that ask for a plan, whose sheets follow from one another."""


_OUTSIDE = "outside"


@cache
def lab_of(exercise: str, seed: int) -> Scenario:
    """A lab of a ready-made exercise."""
    read = read_exercise_book(EXERCISES[exercise].read_bytes())
    (lab,) = draw(replace(read, trainees=(Trainee(id="p1"),)), 1, seed.to_bytes(32, "big"))
    return lab


@dataclass(frozen=True, slots=True)
class Root:
    """An early error."""

    kind: str
    cell: CellRef
    value: Any

    def __str__(self) -> str:
        return f"{self.kind}: {self.cell.question} {self.cell.row} = {self.value}"


def worked_through(lab: Scenario, given: Mapping[CellRef, Any]) -> dict[CellRef, str]:
    """The texts of a form on which everything follows from these values, wherever that leads.

    Raises ValueError where it leads past the last address that there is.
    """
    so_far = SoFar(lab, given, takes_all=True)
    values = {
        CellRef(question.id, row.key): so_far.value(question, row.key)
        for section in FORM
        for row in (*section.rows(lab), *section.set_already(lab))
        for question in section.questions_in(lab)
    }
    return key_texts(lab, Answers(values=values, rows={}))


def roots(lab: Scenario) -> Iterator[Root]:
    """All early errors of the kinds that chains are drawn from, in the cells that a lab asks for."""
    for root in _every_root(lab):
        section = root.cell.question.partition(".")[0]
        if section in lab.asked and root.value != SoFar(lab).value(QUESTIONS[root.cell.question], root.cell.row):
            yield root


def _every_root(lab: Scenario) -> Iterator[Root]:
    key = SoFar(lab)
    for vlan in lab.vlans:
        row, network = subnets.row_of(vlan.id), subnets.network_of(key, vlan.id)
        for bits in (-2, -1, 1, 2):
            yield _root(f"prefix {bits:+}", subnets.PREFIX_LENGTH_OF, row, min(network.prefixlen + bits, 32))
        size = network.num_addresses
        yield _root("next block", subnets.NETWORK_ADDRESS, row, network.network_address + size)
        outside = network.network_address + lab.block.num_addresses
        yield _root(_OUTSIDE, subnets.NETWORK_ADDRESS, row, outside)
        ends = (first_usable(network), last_usable(network))
        gateway = key.value(subnets.GATEWAY, row)
        yield _root("gateway", subnets.GATEWAY, row, ends[gateway == ends[0]])
        if row in {each.key for each in pools.POOLS.rows(lab)}:
            start = key.value(pools.POOL_FIRST, row)
            for number in (-1, 1):
                yield _root("pool start", pools.POOL_FIRST, row, start + number)
    for link in lab.links:
        row = LinkRow(link.name)
        start = key.value(links.LINK_NETWORK, row)
        for length in (29, 30, 31):
            yield _root("link mask", links.LINK_MASK, row, length)
        for number in (-4, 4):
            yield _root("link network", links.LINK_NETWORK, row, start + number)
    row = StationRow(lab.server.name)
    server = key.value(stations.STATION_ADDRESS, row)
    for number in (-1, 1):
        yield _root("server", stations.STATION_ADDRESS, row, server + number)


def _root(kind: str, question: Question[Any, Any], row: RowKey, value: Any) -> Root:
    return Root(kind, CellRef(question.id, row), value)


def chain(lab: Scenario, rng: random.Random) -> tuple[Root, dict[CellRef, str]]:
    """A paper with one early error, each kind as often, and all that follows from it.

    Where places are free, no other network goes out of the block with one that lies there.
    """
    by_kind: dict[str, list[Root]] = {}
    for root in roots(lab):
        by_kind.setdefault(root.kind, []).append(root)
    while True:
        root = rng.choice(by_kind[rng.choice(sorted(by_kind))])
        try:
            return root, worked_through(lab, {**_free_places(lab, root), root.cell: root.value})
        except ValueError:
            continue


def _free_places(lab: Scenario, root: Root) -> dict[CellRef, Any]:
    """Where all networks lie, if their places are free and the early error is one that lies outside the block."""
    if lab.rules.order is not Order.FREE or root.kind != _OUTSIDE:
        return {}
    key = SoFar(lab)
    rows = {subnets.NETWORK_ADDRESS: subnets.SUBNETS.rows(lab), links.LINK_NETWORK: links.LINKS.rows(lab)}
    return {
        CellRef(question.id, row.key): key.value(question, row.key) for question, each in rows.items() for row in each
    }
