"""A lab in memory for one short question: a mountain railway with three stations, sizes dealt anew each time. It is drawn without
`lab/draw.py`, from the generator that is handed in, and kept nowhere.
"""

import random
from dataclasses import replace

from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario, Trainee

__all__ = ["QUICK", "quick_lab"]

QUICK = "quick"
"""What such a lab is called in the log."""
_RANGES = ("10.64.0.0/10", "172.16.0.0/12", "192.168.0.0/16")
_SWITCHES = (("A", "Valley station", ""), ("B", "Middle station", "A"), ("C", "Summit station", "B"))
_NETWORKS = (
    # switch, name, DHCP stations, fixed stations, snooped, guarded
    ("A", "Servers", 0, 0, "yes", "no"),
    ("A", "Ticket desks", 2, 1, "yes", "yes"),
    ("B", "Workshop", 2, 1, "yes", "yes"),
    ("B", "Boards", 0, 1, "no", "no"),
    ("C", "Restaurant", 2, 1, "yes", "yes"),
    ("C", "Lift doors", 1, 1, "no", "no"),
)
_WITHOUT_LEASES = 3
_SIZES = ("15-28", "32-60", "64-124", "130-250", "260-500", "40-62", "520-1000")
"""Addresses needed, dealt to the networks."""
_FEW = "5-13"
"""For a network in which nobody asks for a lease, every second time."""
_STANDARD = {"order": "largest first", "gateway": "first usable", "link_lengths": "/30", "kept_for_fixed": "10"}
_OTHERS = {
    "order": ("largest first", "as listed"),
    "gateway": ("first usable", "last usable"),
    "link_lengths": ("/30", "/31"),
    "kept_for_fixed": ("5", "12"),
}


def quick_lab(rng: random.Random, *, in_another_setting: bool = False, in_any_order: bool = False) -> Scenario:
    """A lab of the standard exercise, or one whose rules are drawn too.

    in_any_order: whether the order of the networks is drawn in any case, so that gaps come up between them.
    """
    rules = {name: rng.choice(words) for name, words in _OTHERS.items()} if in_another_setting else _STANDARD
    if in_any_order:
        rules = {**rules, "order": rng.choice(_OTHERS["order"])}
    sizes = rng.sample(_SIZES, len(_NETWORKS))
    if rng.random() < 0.5:  # every second time
        sizes[_WITHOUT_LEASES] = _FEW
    exercise = _exercise({**rules, "address_ranges": rng.choice(_RANGES)}, sizes)
    common = draw_for_class(exercise, rng)
    slot = rng.randrange(exercise.separate_labs(common.block_length))
    return draw_scenario(replace(exercise, trainees=()), common, Trainee(id=QUICK), QUICK, slot, rng)


def _exercise(rules: dict[str, str], sizes: list[str]) -> Exercise:
    switches = tuple(
        {
            "name": name,
            "places": place,
            "station_ports": "1-20",
            "link_ports": "21-24",
            "linked_to": linked,
            "asks_routes": "yes",
        }
        for name, place, linked in _SWITCHES
    )
    networks = tuple(
        {
            "number": str(place),
            "switch": switch,
            "vlans": "100-899",
            "names": name,
            "addresses_needed": size,
            "dhcp_stations": str(dhcp),
            "fixed_stations": str(fixed),
            "is_snooped": snooped,
            "is_guarded": guarded,
        }
        for place, ((switch, name, dhcp, fixed, snooped, guarded), size) in enumerate(
            zip(_NETWORKS, sizes, strict=True), 1
        )
    )
    settings = {**HARBOUR.settings, **rules, "code": "QUICK", "title": "The mountain railway", "minutes": ""}
    exercise = read_exercise(
        RawExercise(settings=settings, tables={**HARBOUR.tables, "switches": switches, "networks": networks})
    )
    assert isinstance(exercise, Exercise), exercise
    return exercise
