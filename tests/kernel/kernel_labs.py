"""The labs that are built for real: every ready-made exercise, and drawn ones of two to five switches of every shape."""

import itertools
import random
from collections.abc import Mapping
from dataclasses import replace

from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.commands.exercises import ready_made
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario, Trainee
from trainer.sheets.exercise_book import read_exercise_book

SHAPES: dict[str, Mapping[str, str]] = {
    "two": {"A": "", "B": "A"},
    "chain of three": {"A": "", "B": "A", "C": "B"},
    "star of three": {"A": "", "B": "A", "C": "A"},
    "chain of four": {"A": "", "B": "A", "C": "B", "D": "C"},
    "star of four": {"A": "", "B": "A", "C": "A", "D": "A"},
    "tree of four": {"A": "", "B": "A", "C": "A", "D": "B"},
    "chain of five": {"A": "", "B": "A", "C": "B", "D": "C", "E": "D"},
    "star of five": {"A": "", "B": "A", "C": "A", "D": "A", "E": "A"},
    "tree of five": {"A": "", "B": "A", "C": "A", "D": "B", "E": "B"},
}
"""To which switch each is linked; the server stands at the first."""
_ORDERS = ("largest first", "as listed", "a range a switch")


def exercise_labs() -> dict[str, Scenario]:
    """Two trainees' labs of every ready-made exercise."""
    labs = {}
    for each in ready_made():
        exercise = read_exercise_book(each.file.read_bytes())
        two = replace(exercise, trainees=(Trainee(id="k1"), Trainee(id="k2")))
        labs |= {f"{each.file.stem} {number}": lab for number, lab in enumerate(draw(two, 2), 1)}
    return labs


def drawn_labs() -> dict[str, Scenario]:
    """The labs that are known by hand, and three of every shape, which differ in everything that the workbook leaves open."""
    labs = {"bakery": bakery(), "harbour": draw(exercise_of(HARBOUR), 1)[0]}
    labs["harbour with a way out"] = draw(exercise_of(changed(way_out="A", vlan_numbers="may repeat")), 1)[0]
    labs["harbour with a DNS server"] = draw(exercise_of(changed(dns_server="the DHCP server")), 1)[0]
    for number in range(3 * len(SHAPES)):
        shape = list(SHAPES)[number % len(SHAPES)]
        labs[f"{shape}, {number // len(SHAPES) + 1}"] = drawn_lab(shape, random.Random(number))
    return labs


def drawn_lab(shape: str, rng: random.Random, **options: str) -> Scenario:
    """A lab of that shape; which networks have stations, snooping and guard is drawn as well.

    What `check` would refuse, such as networks that do not fit into the block, is drawn again. options: further settings.
    """
    exercise = read_exercise(_drawn_workbook(shape, rng, options))
    while not isinstance(exercise, Exercise):
        exercise = read_exercise(_drawn_workbook(shape, rng, options))
    return draw(exercise, 1, rng.randbytes(32))[0]


def _drawn_workbook(shape: str, rng: random.Random, options: Mapping[str, str]) -> RawExercise:
    tables = shaped(SHAPES[shape])
    networks = []
    for place, row in enumerate(tables["networks"]):
        needed = rng.choice(("7-14", "15-30", "63-126", "255-300"))
        if place == 0:
            networks.append(row)
            continue
        snooped = rng.random() < 0.8
        stations = {
            "dhcp_stations": rng.choice("0223" if len(SHAPES[shape]) < 4 else "022"),
            "fixed_stations": rng.choice("01"),
        }
        guarded = "yes" if snooped and rng.random() < 0.7 else "no"
        networks.append(
            {
                **row,
                **stations,
                "addresses_needed": needed,
                "is_snooped": "yes" if snooped else "no",
                "is_guarded": guarded,
            }
        )
    return changed(
        tables={**tables, "networks": tuple(networks)},
        link_lengths=rng.choice(("/30", "/31")),
        link_ends=rng.choice(("first-named", "first-named", "free")),
        gateway=rng.choice(("first usable", "last usable")),
        order=rng.choice(_ORDERS),
        kept_for_fixed=rng.choice(("5", "8")),
        **options,
    )


OPTIONS: dict[str, dict[str, str]] = {
    "DNS server": {"dns_server": "the DHCP server"},
    "VLAN numbers repeat": {"vlan_numbers": "may repeat"},
    "way out": {"way_out": "B"},
}
"""Settings that few labs have: what they are called, and their values."""


def labs_with_option(option: str, count: int) -> list[Scenario]:
    """So many labs of all shapes that have it and clients to see it."""
    found: list[Scenario] = []
    for number in itertools.count():
        if len(found) == count:
            return found
        shape = list(SHAPES)[number % len(SHAPES)]
        lab = drawn_lab(shape, random.Random(f"{option} {number}"), **OPTIONS[option])
        if lab.dhcp_vlans:
            found.append(lab)
    raise AssertionError("there is always another one to draw")
