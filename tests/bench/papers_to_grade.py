"""Papers with cells wrong that all configure devices, and the yardstick."""

import io
import statistics
import time

from openpyxl import load_workbook

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef
from trainer.lab.scenario import Scenario

QUESTIONS = (
    "subnets.gateway", "subnets.mask", "links.mask", "ports.vlan", "stations.gateway", "routes.next_hop", "pools.router",
    "protection.trusted", "bindings.mac", "bindings.port",
)  # fmt: skip


def ten_wrong(scenario: Scenario) -> dict[CellRef, str]:
    """The key with ten cells wrong that all configure devices: the first of each of these questions."""
    return wrong(scenario, len(QUESTIONS))


def wrong(scenario: Scenario, count: int) -> dict[CellRef, str]:
    """The key with so many cells wrong, of these questions in turn: each has the text of another row or, where all rows are
    alike, of another question.
    """
    texts = key_texts(scenario)
    right = dict(texts)
    of = {question: [cell for cell in right if cell.question == question] for question in QUESTIONS}
    chosen: list[CellRef] = []
    for turn in range(max(map(len, of.values()))):
        chosen += [cells[turn] for cells in of.values() if turn < len(cells)]
    for cell in chosen[:count]:
        others = (text for each, text in right.items() if each.question == cell.question and text != right[cell])
        texts[cell] = next(others, "255.255.255.0")
    return texts


def one_load(book: bytes) -> float:
    """Seconds in which openpyxl loads a workbook."""
    times = []
    for _ in range(9):
        begun = time.process_time()
        load_workbook(io.BytesIO(book))
        times.append(time.process_time() - begun)
    return statistics.median(times)
