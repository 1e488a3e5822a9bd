"""Labs to test with: one made by hand, and exercises to draw others from. Their world is invented."""

import random
from collections.abc import Mapping
from ipaddress import IPv4Network

from trainer.lab.draw import class_seed, lab_number, lab_seed, lab_slot
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.questions import FORM
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import (
    Asked,
    GatewayPlace,
    Link,
    LinkEnds,
    Order,
    Reveal,
    RouteRule,
    Rules,
    Scenario,
    SectionShare,
    StationPlan,
    SwitchPlan,
    Trainee,
    UnknownAddresses,
    Vlan,
)
from trainer.lab.vlan_id import VlanId
from trainer.network.addresses import Mac
from trainer.network.devices import PortName, PortRef, SwitchName

SECRET = b"thirty-two bytes for the testing"


def _station(name: str, vlan: int, place: str, number: int, fixed: int | None, *, server: bool = False) -> StationPlan:
    switch, _, port = place.partition("/")
    return StationPlan(
        name=name,
        vlan=VlanId(vlan),
        at=PortRef(SwitchName(switch), PortName(port)),
        mac=Mac(f"02-00-00-00-00-{number:02X}"),
        fixed_number=fixed,
        is_server=server,
    )


def bakery() -> Scenario:
    """A lab with round numbers: its plan is 30: 10.20.0.0/23, 20: 10.20.2.0/25, 40: .2.128/26, 50: .2.192/27,
    10: .2.224/28, link: .2.240/30."""
    a, b = SwitchName("A"), SwitchName("B")
    return Scenario(
        lab_number="BUN-TEST",
        exercise_code="BAKERY",
        title="Bread by six",
        date="",
        minutes=None,
        trainee=Trainee(id="b01"),
        block=IPv4Network("10.20.0.0/22"),
        link_length=30,
        lease_hours=6,
        switches=(
            SwitchPlan(name=a, place="Bakehouse", asks_routes=True),
            SwitchPlan(name=b, place="Shop", asks_routes=True),
        ),
        vlans=(
            Vlan(number=10, name="Servers", switch=a, addresses_needed=12, is_snooped=True, is_guarded=False),
            Vlan(number=20, name="Ovens", switch=a, addresses_needed=100, is_snooped=True, is_guarded=True),
            Vlan(number=30, name="Tills", switch=b, addresses_needed=300, is_snooped=True, is_guarded=True),
            Vlan(number=40, name="Scales", switch=b, addresses_needed=40, is_snooped=True, is_guarded=True),
            Vlan(number=50, name="Cameras", switch=b, addresses_needed=20, is_snooped=True, is_guarded=True),
        ),
        stations=(
            _station("DHCP server", 10, "A/1", 1, 5, server=True),
            _station("Ovens 1", 20, "A/2", 2, None),
            _station("Ovens 2", 20, "A/3", 3, None),
            _station("Tills 1", 30, "B/1", 4, None),
            _station("Tills 2", 30, "B/2", 5, None),
            _station("Scales 1", 40, "B/3", 6, None),
            _station("Scales 2", 40, "B/4", 7, None),
            _station("Scales 3", 40, "B/5", 8, 7),
            _station("Cameras", 50, "B/6", 9, 4),
        ),
        links=(Link(first=PortRef(a, PortName("24")), second=PortRef(b, PortName("23"))),),
        sections=tuple(SectionShare(section=each.id, asked=Asked.YES, share=10) for each in FORM),
        rules=Rules(
            order=Order.LARGEST_FIRST,
            gateway=GatewayPlace.FIRST_USABLE,
            link_ends=LinkEnds.FIRST_NAMED,
            kept_for_fixed=10,
            route_rule=RouteRule.ANY_THAT_WORK,
            unknown_addresses=UnknownAddresses.DROPPED,
            follow_through=True,
            reveal=Reveal.ANSWERS,
        ),
    )


def changed(
    raw: RawExercise = HARBOUR,
    *,
    cells: Mapping[tuple[str, int, str], str] | None = None,
    tables: Mapping[str, tuple[Mapping[str, str], ...]] | None = None,
    **settings: str,
) -> RawExercise:
    """An exercise workbook with other texts in some of its cells, by (table, row from 0, field), or in whole tables."""
    rows = {table: [dict(row) for row in each] for table, each in {**raw.tables, **(tables or {})}.items()}
    for (table, place, field), text in (cells or {}).items():
        rows[table][place][field] = text
    return RawExercise(settings={**raw.settings, **settings}, tables={name: tuple(each) for name, each in rows.items()})


def exercise_of(raw: RawExercise) -> Exercise:
    exercise = read_exercise(raw)
    assert isinstance(exercise, Exercise), exercise
    return exercise


def draw(exercise: Exercise, count: int, secret: bytes = SECRET) -> tuple[Scenario, ...]:
    """The labs of the first so many trainees, drawn as the command draws them."""
    common = draw_for_class(exercise, random.Random(class_seed(secret, exercise.code)))
    return tuple(
        draw_scenario(
            exercise,
            common,
            trainee,
            lab_number(secret, exercise.code, trainee),
            lab_slot(secret, exercise, common, index),
            random.Random(lab_seed(secret, exercise, trainee)),
        )
        for index, trainee in enumerate(exercise.trainees[:count])
    )


def shaped(links: Mapping[str, str]) -> dict[str, tuple[dict[str, str], ...]]:
    """Tables Switches and Networks for switches linked like this; the server stands at the first, two networks each."""
    switches = tuple(
        {"name": name, "places": f"Place {name}", "station_ports": "1-20", "link_ports": "21-24", "linked_to": to}
        for name, to in links.items()
    )
    networks = [_network_row(1, next(iter(links)), "Servers", "11-14", dhcp=0, fixed=0, guarded="no")]
    for name in links:
        networks.append(_network_row(len(networks) + 1, name, f"Desks {name}", "63-126", dhcp=2, fixed=1))
        networks.append(_network_row(len(networks) + 1, name, f"Doors {name}", "15-30", dhcp=0, fixed=1))
    return {"switches": switches, "networks": tuple(networks)}


def _network_row(
    number: int, switch: str, name: str, needed: str, *, dhcp: int, fixed: int, guarded: str = "yes"
) -> dict[str, str]:
    return {
        "number": str(number),
        "switch": switch,
        "vlans": "100-899",
        "names": name,
        "addresses_needed": needed,
        "dhcp_stations": str(dhcp),
        "fixed_stations": str(fixed),
        "is_snooped": "yes",
        "is_guarded": guarded,
    }
