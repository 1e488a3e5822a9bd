"""Labs of all shapes, and wrong texts to plant in their forms."""

import random
from functools import cache

from drawn_labs import changed, draw, exercise_of, shaped

from trainer.commands.demo_class import key_texts
from trainer.lab.form import CellRef
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import Scenario

SHAPES: tuple[dict[str, str] | None, ...] = (
    None,
    {"A": "", "B": "A", "C": "B"},
    {"A": "", "B": "A", "C": "A", "D": "A"},
    {"A": "", "B": "A", "C": "B", "D": "B", "E": "A"},
)


@cache
def labs(count: int) -> tuple[Scenario, ...]:
    """Labs of all shapes, drawn from secrets of their own."""
    found = []
    for number in range(count):
        shape = SHAPES[number % len(SHAPES)]
        order = ("largest first", "as listed", "a range a switch")[number % 3]
        gateway = ("first usable", "last usable")[number % 2]
        options = {
            "dns_server": ("none", "the DHCP server")[number % 4 == 3],
            "vlan_numbers": ("separate", "may repeat")[number % 4 in (1, 3)],
            "way_out": ("none", "A")[number % 8 in (2, 4, 5)],
        }
        tables = {} if shape is None else {"tables": shaped(shape)}
        raw = changed(order=order, gateway=gateway, **options, **tables)
        found += draw(exercise_of(raw), 1, secret=f"planted {number}".encode())
    return tuple(found)


def wrong_text(lab: Scenario, cell: CellRef, right: str, rng: random.Random) -> str:
    """Another value of the same kind from the lab, or the right one with one digit changed."""
    texts = key_texts(lab)
    kind = QUESTIONS[cell.question].kind
    others = sorted({text for each, text in texts.items() if QUESTIONS[each.question].kind is kind} - {right})
    return rng.choice(others) if others else ("5 h" if right != "5 h" else "7 h")
