"""Fault-finding labs to test with: two that were drawn and kept, one made by hand, and exercises to draw others from."""

import json
import random
from dataclasses import replace
from functools import cache
from ipaddress import IPv4Network
from pathlib import Path
from typing import Any

from drawn_labs import bakery

from trainer.lab.draw import draw_class, draw_lab
from trainer.lab.exercise import Exercise
from trainer.lab.scenario import Link, RouteRule, Scenario, StationPlan, SwitchPlan, Trainee, Vlan
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import Mac
from trainer.network.devices import PortName, PortRef, SwitchName
from trainer.records import from_record
from trainer.sheets.exercise_book import read_exercise_book

ROOT = Path(__file__).parents[2]
LEVELS = ("faults-one", "faults-harmless", "faults-no-counters", "faults-two")
"""The ready-made exercises, by level."""
KEPT = ("faults-harmless", "faults-two")
"""Those of which a lab is kept."""


@cache
def kept_lab(name: str) -> Scenario:
    """A lab of a ready-made exercise: "faults-harmless" (one fault, two decoys), "no-fault" (two decoys), "faults-two" (two and
    two), "same-address" (two and two, of which one gives a switch the address of another).
    """
    text = (ROOT / "tests" / "cases" / "repair" / f"{name}.json").read_text(encoding="utf-8")
    return from_record(Scenario, json.loads(text))


def faulty_exercise(name: str) -> Exercise:
    return read_exercise_book((ROOT / "exercises" / f"{name}.xlsx").read_bytes())


def drawn(level: int, seed: int, count: int = 1, /, **settings: Any) -> list[Scenario]:
    """Labs of a class of a ready-made exercise, some of whose settings may be others."""
    exercise = replace(faulty_exercise(LEVELS[level - 1]), **settings)
    common = draw_class(exercise, random.Random(seed))
    return [
        draw_lab(exercise, common, Trainee(id=f"t{place}"), f"AAA-AAA{place}", place, random.Random(seed * 100 + place))
        for place in range(count)
    ]


_KINDS: tuple[tuple[int, dict[str, Any]], ...] = (
    (1, {}),
    (2, {}),
    (3, {}),
    (4, {}),
    (4, {"level": 5}),
    (1, {"level": None, "faults": 3, "decoys": 1, "counters": True}),
)


KINDS = len(_KINDS)
"""So many kinds of sheet follow one another."""


@cache
def drawn_sheet(number: int) -> Scenario:
    """One lab, another for each number: of all levels, with a hidden fault and with three among them."""
    level, settings = _KINDS[number % KINDS]
    return drawn(level, number, **settings)[0]


A, B = SwitchName("A"), SwitchName("B")


def _station(
    name: str, vlan: int, switch: SwitchName, port: int, fixed: int | None, *, server: bool = False
) -> StationPlan:
    return StationPlan(
        name=name,
        vlan=VlanId(vlan),
        at=PortRef(switch, PortName(str(port))),
        mac=Mac(f"02-00-00-00-01-{port:02X}"),
        fixed_number=fixed,
        is_server=server,
    )


def mill() -> Scenario:
    """The weaving mill: 40: 192.168.25.0/26, 30: .64/27, 20: .96/28, 50: .112/28, link .128/30."""
    vlans = ((20, "Servers", A, 12), (30, "Offices", A, 22), (40, "Looms", B, 45), (50, "Pumps", B, 12))
    return replace(
        bakery(),
        lab_number="MIL-TEST",
        block=IPv4Network("192.168.25.0/24"),
        link_length=30,
        lease_hours=5,
        switches=(
            SwitchPlan(name=A, place="Office", asks_routes=True),
            SwitchPlan(name=B, place="Shed", asks_routes=True),
        ),
        vlans=tuple(
            Vlan(
                number=number,
                name=name,
                switch=switch,
                addresses_needed=needed,
                is_snooped=True,
                is_guarded=number > 20,
            )
            for number, name, switch, needed in vlans
        ),
        stations=(
            _station("DHCP server", 20, A, 10, 4, server=True),
            _station("Offices 1", 30, A, 1, None),
            _station("Offices 2", 30, A, 2, None),
            _station("Looms 1", 40, B, 3, None),
            _station("Looms 2", 40, B, 4, None),
            _station("Pumps", 50, B, 7, 2),
        ),
        links=(Link(first=PortRef(A, PortName("24")), second=PortRef(B, PortName("23"))),),
        rules=replace(bakery().rules, kept_for_fixed=10, route_rule=RouteRule.ONE_A_NETWORK),
    )
