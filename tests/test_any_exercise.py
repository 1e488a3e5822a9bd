"""Random exercise workbooks, hostile values among them: drawn, proved and graded, or refused with place and reason.

TRAINER_NIGHTLY=1 tries 300 of them, else 40.
"""

import os
import random
from typing import Any

from filled_forms import filled
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import FilledForm
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import SETTINGS, TABLES, RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM
from trainer.lab.sample import HARBOUR
from trainer.marking.marker import mark

COUNT = 300 if os.environ.get("TRAINER_NIGHTLY") else 40
HOSTILE = ["", " ", "any", "each", "-1", "0", "10-1", "1,2,2", "=1+1", "x" * 300, "\u0661\u0662", "/31"]
NAMES = [
    f"{first}{second}" for first in ("Boat", "Rope", "Sail", "Mast", "Keel") for second in ("house", "yard", "loft")
]


def likely(rng: random.Random, values: list[str]) -> str:
    """Mostly one of the values, now and then what nobody should write."""
    return rng.choice(HOSTILE) if rng.random() < 0.004 else rng.choice(values)


def raw_exercise(rng: random.Random) -> RawExercise:
    """Any combination of the fields; many of them can be set, many cannot."""
    listed = rng.random() < 0.5
    count = rng.randint(2, 4)
    letters = "ABCD"[:count]
    values = {
        "switch_count": ["as listed"] if listed else [str(count), f"2-{count}"],
        "shape": ["as listed", "chain", "star"] if listed else ["chain", "star", "tree", "any"],
        "address_ranges": ["172.16.0.0/12", "10.64.0.0/10, 192.168.0.0/16", "any"],
        "block_length": ["smallest", "/20", "/19"],
        "order": ["largest first", "as listed", "a range a switch", "free"],
        "gateway": ["first usable", "last usable", "free"],
        "link_lengths": ["/30", "/31", "/30, /31"],
        "link_ends": ["first-named", "free"],
        "kept_for_fixed": ["5", "8", "10"],
        "lease_hours": ["6", "4-12", "1, 24"],
        "dns_server": ["none", "", "the DHCP server"],
        "server_network": ["1"],
        "route_rule": ["any that work", "one a network"],
        "unknown_addresses": ["dropped", "may loop"],
        "follow_through": ["yes", "yes", "yes", "no"],
        "reveal": ["marks", "hints", "explanations", "answers"],
        "one_lab_for_all": ["one each", "one for all"],
    }
    named = {field.id for group in SETTINGS for field in group.fields}
    assert set(values) <= named, "a setting has another name now"
    chosen = {field: likely(rng, options) for field, options in values.items()}
    if "free" in (chosen["order"], chosen["gateway"], chosen["link_ends"]) and rng.random() < 0.9:
        chosen["follow_through"] = "yes"
    is_joined = chosen["shape"] != "as listed" and rng.random() < 0.9  # then links beside it are refused
    switches = [
        {
            "name": letter,
            "places": f"Place {letter}",
            "station_ports": likely(rng, ["1-20", "any"]),
            "link_ports": likely(rng, ["21-24", "21, 22, 30-31"]),
            "linked_to": ""
            if is_joined or letter in ("A", "each")
            else likely(rng, list(letters[: letters.index(letter)])),
            "asks_routes": likely(rng, ["yes", "yes", "no", ""]),
        }
        for letter in (letters if listed else ["each"])
    ]
    if not listed:
        switches[0]["places"] = ", ".join(f"Place {number}" for number in range(6))
        switches[0]["asks_routes"] = "yes"
    networks = [_network(rng, 1, likely(rng, ["A", "any", letters[1]]), ["Server room"], server=True)]
    for number in range(2, 2 + rng.randint(0, 4)):
        names = rng.sample(NAMES, rng.choice([5, 8]))
        home = likely(rng, [*letters[:2], "any", "each"])
        networks.append(_network(rng, number, home, [f"{name} {'abcdef'[number]}" for name in names], server=False))
    sections = _sections(rng)
    return RawExercise(
        settings={**HARBOUR.settings, **chosen},
        tables={
            "switches": tuple(switches),
            "networks": tuple(networks),
            "sections": sections,
            "trainees": (
                {"id": "t1", "name": likely(rng, ["", "Ada Brook", "<b>\u202e"]), "group": "", "attempt": ""},
            ),
        },
    )


def _network(rng: random.Random, number: int, home: str, names: list[str], *, server: bool) -> dict[str, str]:
    snooped = likely(rng, ["yes", "yes", "no"])
    return {
        "number": str(number),
        "switch": home,
        "vlans": likely(rng, ["any", "100-899", f"{number}00-{number}09"]),
        "names": ", ".join(names),
        "addresses_needed": likely(rng, ["12-14", "20", "31-62", "7-14", "63-126", "255-300"]),
        "dhcp_stations": likely(rng, ["0", "2", "3"]),
        "fixed_stations": likely(rng, ["0", "0", "1", "2"]),
        "is_snooped": "yes" if server else snooped,
        "is_guarded": "no" if server or snooped == "no" else likely(rng, ["yes", "no"]),
    }


def _sections(rng: random.Random) -> tuple[dict[str, str], ...]:
    """All the shares on some of the sections; the others given or not asked."""
    asked = rng.choice([("subnets",), ("subnets", "links", "routes"), ("stations", "ports"), ("all",)])
    ids = [section.id for section in FORM] if asked == ("all",) else list(asked)
    share, rest = divmod(100, len(ids))
    rows = []
    for section in FORM:
        is_asked = section.id in ids
        count = share + (rest if is_asked and section.id == ids[0] else 0)
        how = "yes" if is_asked else rng.choice(["given", "no"])
        rows.append({"section": section.title, "asked": how, "share": str(count) if is_asked else "0"})
    return tuple(rows)


@settings(max_examples=COUNT, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9))
def test_any_exercise_is_set_proved_and_graded_or_refused_with_place_and_reason(seed: int) -> None:
    rng: Any = random.Random(seed)
    exercise = read_exercise(raw_exercise(rng))
    if not isinstance(exercise, Exercise):
        event("refused")
        tables = {"exercise", *(table.id for table in TABLES)}
        assert exercise
        for fault in exercise:
            assert fault.at.table in tables
            assert all((fault.found, fault.wanted, fault.fix))
        return
    event("set")
    common = draw_for_class(exercise, rng)
    lab = draw_scenario(exercise, common, exercise.trainees[0], "ABC-DEFG", 0, rng)
    key = derive_key(lab)
    assert prove(lab, key).trials
    asked = {cell: text for cell, text in key_texts(lab).items() if cell.question.split(".")[0] in lab.asked}
    assert mark(lab, filled(asked)).marks == 100
    assert mark(lab, FilledForm(texts={}, rows={})).marks == 0
