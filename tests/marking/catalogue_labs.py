"""Labs to make mistakes in, cells that are not right in them, and values that could stand there instead."""

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from ipaddress import IPv4Address, IPv4Network
from typing import Any

import pytest

from trainer.lab import kinds
from trainer.lab.draw_network import draw_for_class, draw_scenario
from trainer.lab.exercise_form import RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import Answers, CellRef, Question, RowKey, Section, SoFar
from trainer.lab.key import derive_key
from trainer.lab.kinds import tidy, why_unreadable
from trainer.lab.questions import FORM, SECTIONS, links, subnets
from trainer.lab.rows import LinkRow, SwitchRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario, Vlan
from trainer.lab.unreadable import NotReadable, Unreadable
from trainer.marking.free_plan import free_plan
from trainer.marking.mistakes.mistake import Flaw, WrongCell
from trainer.marking.plan_view import PlanView
from trainer.marking.written_routes import Forwarding
from trainer.network.addresses import last_usable
from trainer.network.devices import PortName, PortRef, SwitchName

# Labs -----------------------------------------------------------------------------------------------------------------

_NETWORKS = (
    # number, switch, name, addresses needed, DHCP stations, fixed stations, snooped, guarded
    ("1", "A", "Servers", "11-14", "0", "0", "yes", "no"),
    ("2", "A", "Harbour master", "70-120", "2", "0", "yes", "yes"),
    ("3", "B", "Ferry tickets", "300-500", "2", "0", "yes", "yes"),
    ("4", "B", "Cranes", "31", "2", "1", "yes", "yes"),
    ("5", "C", "Cameras", "17-29", "0", "1", "no", "no"),
    ("6", "D", "Gate", "17-29", "0", "2", "yes", "yes"),
    ("7", "C", "Yard", "40-60", "2", "0", "no", "no"),
    ("8", "B", "Workshop", "17-29", "0", "1", "no", "no"),
    ("9", "B", "Lamps", "17-29", "0", "1", "yes", "no"),
)
_SWITCHES = (("A", "Office", ""), ("B", "Quay", "A"), ("C", "Mole", "B"), ("D", "Lock", "A"))

TREE = RawExercise(
    settings=HARBOUR.settings,
    tables={
        **HARBOUR.tables,
        "switches": tuple(
            {"name": name, "places": place, "station_ports": "2-19", "link_ports": "21-24", "linked_to": linked}
            for name, place, linked in _SWITCHES
        ),
        "networks": tuple(
            {
                "number": number,
                "switch": switch,
                "vlans": "300-899",
                "names": name,
                "addresses_needed": needed,
                "dhcp_stations": dhcp,
                "fixed_stations": fixed,
                "is_snooped": snooped,
                "is_guarded": guarded,
            }
            for number, switch, name, needed, dhcp, fixed, snooped, guarded in _NETWORKS
        ),
    },
)
"""Four switches: A has the server, B lies behind it, C (without protection) behind B, D (fixed stations only) behind A."""

OTHER_RULES = RawExercise(
    settings={
        **TREE.settings,
        "order": "as listed",
        "gateway": "last usable",
        "link_lengths": "/31",
        "route_rule": "one a network",
    },
    tables=TREE.tables,
)

FREE = RawExercise(
    settings={**TREE.settings, "order": "free", "gateway": "free", "link_ends": "free", "block_length": "/20"},
    tables=TREE.tables,
)


RANGES = RawExercise(settings={**TREE.settings, "order": "a range a switch", "block_length": "/20"}, tables=TREE.tables)
NAMES = RawExercise(settings={**TREE.settings, "dns_server": "the DHCP server"}, tables=TREE.tables)
OUT = RawExercise(settings={**TREE.settings, "way_out": "A"}, tables=TREE.tables)
NAMESAKES = RawExercise(settings={**TREE.settings, "vlan_numbers": "may repeat"}, tables=TREE.tables)


@dataclass(frozen=True)
class Lab:
    """A drawn scenario with its key, and short ways to point at things in it."""

    scenario: Scenario

    @cached_property
    def key(self) -> Answers:
        return derive_key(self.scenario)

    @cached_property
    def key_so_far(self) -> SoFar:
        return SoFar(self.scenario)

    @cached_property
    def labels(self) -> dict[str, dict[RowKey, RowKey]]:
        """How the trainee's sheet calls the rows of open sections: the key's rows, numbered backwards."""
        found = {}
        for section in FORM:
            if section.open is not None:
                keys = [row.key for row in section.rows(self.scenario)]
                count = len(keys)
                found[section.id] = {key: section.open.named(count - place) for place, key in enumerate(keys)}
        return found

    def label(self, section: str, key_row: RowKey) -> RowKey:
        return self.labels.get(section, {}).get(key_row, key_row)

    @property
    def vlans(self) -> tuple[Vlan, ...]:
        return self.scenario.vlans

    def number(self, place: int) -> str:
        return str(self.vlans[place].number)

    def called(self, place: int) -> str:
        """The VLAN as rows call it."""
        return str(self.vlans[place].id)

    def net(self, place: int) -> IPv4Network:
        return subnets.network_of(self.key_so_far, self.vlans[place].id)

    def at(self, place: int, number: int) -> str:
        """An address of a VLAN's network: 0 its network address, -1 its broadcast address."""
        return str(self.net(place)[number])

    def gateway(self, place: int) -> str:
        return self.shown("subnets.gateway", place)

    def link(self, place: int) -> IPv4Network:
        row = LinkRow(self.scenario.links[place].name)
        return IPv4Network((self.key_so_far.value(links.LINK_NETWORK, row), self.scenario.link_length))

    def end(self, place: int, which: int) -> str:
        return self.shown(("links.first", "links.second")[which], place)

    def station(self, spec: Any) -> Any:
        """ "server", or (VLAN's place, station's place in it)."""
        if spec == "server":
            return self.scenario.server
        vlan, place = spec
        return [each for each in self.scenario.stations if each.vlan == self.vlans[vlan].id][place]

    def port(self, spec: Any) -> str:
        """Of a station, or of a link: ("B", "A") is the port of B that leads to A."""
        if isinstance(spec, tuple) and isinstance(spec[0], str):
            here, there = spec
            return str(self.scenario.link_towards(SwitchName(here), SwitchName(there)).end_at(SwitchName(here)))
        return str(self.station(spec).at)

    def port_number(self, spec: Any) -> str:
        return self.port(spec).partition("/")[2]

    def unused_port(self) -> str:
        """A port that nobody is plugged into, on any switch."""
        used = {str(each.at).partition("/")[2] for each in self.scenario.stations}
        used |= {str(end).partition("/")[2] for link in self.scenario.links for end in (link.first, link.second)}
        return next(str(number) for number in range(1, 99) if str(number) not in used)

    def row(self, section: str, spec: Any) -> RowKey:
        return SECTIONS[section].row(self.row_name(section, spec))

    def row_name(self, section: str, spec: Any) -> str:
        match section:
            case "subnets" | "pools" | "relays":
                return self.called(spec)
            case "links":
                return self.scenario.links[spec].name
            case "ports":
                return self.port(spec)
            case "stations" | "bindings":
                return str(self.station(spec).name)
            case "routes":
                return f"{spec[0]} to {'outside' if spec[1] is None else self.called(spec[1])}"
        return str(spec)

    def shown(self, question_id: str, spec: Any) -> str:
        """The right text of a cell."""
        question = QUESTIONS[question_id]
        return question.kind.show(self.key.values[CellRef(question_id, self.row(section_of(question_id), spec))])

    def members(self, question_id: str, switch: str) -> set[str]:
        return {str(each) for each in self.key.values[CellRef(question_id, SwitchRow(SwitchName(switch)))]}

    def filled(self) -> tuple[dict[CellRef, Any], dict[str, tuple[RowKey, ...]]]:
        """The key's values under the trainee's row labels."""
        values = {
            CellRef(cell.question, self.label(section_of(cell.question), cell.row)): value
            for cell, value in self.key.values.items()
        }
        return values, {section: tuple(labels.values()) for section, labels in self.labels.items()}


QUESTIONS: dict[str, Question[Any, Any]] = {question.id: question for section in FORM for question in section.questions}


def section_of(question_id: str) -> str:
    return question_id.partition(".")[0]


def drawn(raw: RawExercise, seed: int) -> Lab:
    exercise = read_exercise(raw)
    assert not isinstance(exercise, tuple), exercise
    rng = random.Random(seed)
    common = draw_for_class(exercise, rng)
    return Lab(draw_scenario(exercise, common, exercise.trainees[0], "ABC-DEFG", rng.randrange(200), rng))


LAB = drawn(TREE, 7)
OTHER_LAB = drawn(OTHER_RULES, 7)
FREE_LAB = drawn(FREE, 7)
RANGES_LAB = drawn(RANGES, 7)
NAMES_LAB = drawn(NAMES, 7)
NAMESAKES_LAB = drawn(NAMESAKES, 6)
OUT_LAB = drawn(OUT, 7)
STRICT_LAB = Lab(replace(LAB.scenario, rules=replace(LAB.scenario.rules, follow_through=False)))
RANDOM_LABS = [drawn(raw, seed) for seed in range(6) for raw in (HARBOUR, TREE, OTHER_RULES)]

Text = str | Callable[[Lab], str]


def text_of(text: Text, lab: Lab) -> str:
    return tidy(text if isinstance(text, str) else text(lab))


def wrong_cell(lab: Lab, question_id: str, row: Any, text: Text, also: dict[Any, Text] | None = None) -> WrongCell:
    """A cell of a form that is filled in rightly, but for this cell and those in also."""
    question, section = QUESTIONS[question_id], SECTIONS[section_of(question_id)]
    key_row = lab.row(section.id, row)
    values, rows = lab.filled()
    texts: dict[CellRef, str] = {}
    for where, other_text in (also or {}).items():
        other_id, other_row = where if isinstance(where, tuple) else (where, row)
        ref = CellRef(other_id, lab.label(section_of(other_id), lab.row(section_of(other_id), other_row)))
        texts[ref] = text_of(other_text, lab)
        read_into(values, ref, texts[ref])
    here = CellRef(question_id, lab.label(section.id, key_row))
    written = text_of(text, lab)
    value = read_into(values, here, written)
    flaw = Flaw.WRONG if value is not None else Flaw.UNREADABLE if written else Flaw.BLANK
    return made(lab, section, question, flaw, here.row, key_row, written, values, rows, texts)


def read_into(values: dict[CellRef, Any], cell: CellRef, text: str) -> Any:
    values.pop(cell, None)
    if text:
        kind = QUESTIONS[cell.question].kind
        if not kind.can_read(text):
            return None
        values[cell] = kind.read(text)
    return values.get(cell)


def why(text: str, question: Question[Any, Any]) -> Unreadable:
    with pytest.raises(NotReadable) as refused:
        question.kind.read(text)
    return why_unreadable(text, question.kind, refused.value)


def made(
    lab: Lab,
    section: Section,
    question: Question[Any, Any],
    flaw: Flaw,
    row: RowKey,
    key_row: RowKey | None,
    text: str,
    values: dict[CellRef, Any],
    rows: dict[str, tuple[RowKey, ...]],
    texts: dict[CellRef, str] | None = None,
) -> WrongCell:
    so_far = SoFar(lab.scenario, values, lab.key_so_far) if lab.scenario.rules.follow_through else lab.key_so_far
    answers = Answers(values=values, rows=rows)
    here = CellRef(question.id, row)
    plan = PlanView(
        scenario=lab.scenario,
        answers=answers,
        texts={**(texts or {}), here: text} if text else texts or {},
        so_far=so_far,
        as_written=SoFar(lab.scenario, values, lab.key_so_far, takes_all=True),
        key=lab.key_so_far,
        forwarding=Forwarding(lab.scenario, answers, so_far),
        free=free_plan(lab.scenario, values, lab.key_so_far),
    )
    return WrongCell(
        plan=plan,
        section=section,
        question=question,
        flaw=flaw,
        row=row,
        key_row=key_row,
        value=values.get(here),
        unreadable=why(text, question) if flaw is Flaw.UNREADABLE else None,
        expected=None if key_row is None else question.answer(lab.scenario, so_far, key_row),
    )


def missing_row(
    lab: Lab, section_id: str, row: Any, without: Any = (), also: dict[Any, Text] | None = None
) -> WrongCell:
    """A row of the key that was not written; without: others that were not either, or "all"."""
    section = SECTIONS[section_id]
    key_row = lab.row(section_id, row)
    gone = {key_row, *(lab.row(section_id, each) for each in without if without != "all")}
    values, rows = lab.filled()
    kept = {label for key, label in lab.labels[section_id].items() if key not in gone and without != "all"}
    values = {
        cell: value for cell, value in values.items() if section_of(cell.question) != section_id or cell.row in kept
    }
    rows[section_id] = tuple(each for each in rows[section_id] if each in kept)
    for (other_id, other_row), text in (also or {}).items():
        ref = CellRef(other_id, lab.label(section_of(other_id), lab.row(section_of(other_id), other_row)))
        read_into(values, ref, text_of(text, lab))
    return made(lab, section, section.questions[0], Flaw.MISSING, key_row, key_row, "", values, rows)


def extra_row(lab: Lab, section_id: str, texts: dict[str, Text], also: dict[Any, Text]) -> WrongCell:
    """A row that the key does not have."""
    section = SECTIONS[section_id]
    assert section.open is not None
    row = section.open.named(99)
    values, rows = lab.filled()
    for (other_id, other_row), text in also.items():
        ref = CellRef(other_id, lab.label(section_of(other_id), lab.row(section_of(other_id), other_row)))
        read_into(values, ref, text_of(text, lab))
    for question_id, text in texts.items():
        read_into(values, CellRef(f"{section_id}.{question_id}", row), text_of(text, lab))
    rows[section_id] = (*rows[section_id], row)
    return made(lab, section, section.questions[0], Flaw.EXTRA, row, None, "", values, rows)


def number_as_octet(lab: Lab) -> str:
    """The number of the fixed station among the cranes, put behind the network's first three numbers."""
    return f"{lab.at(3, 0).rpartition('.')[0]}.{lab.station((3, 2)).fixed_number}"


def counted_down(lab: Lab) -> str:
    return str(last_usable(lab.net(3)) - (lab.station((3, 2)).fixed_number - 1))


# Plausible wrong values -----------------------------------------------------------------------------------------------


def plausible(lab: Lab, question: Question[Any, Any], expected: Any) -> set[Any]:
    """Other values of the lab, and those that differ in one bit."""
    kind = question.kind
    values: set[Any]
    if kind in (kinds.ADDRESS, kinds.DESTINATION):
        values = {value for value in lab.key.values.values() if isinstance(value, IPv4Address)}
        values |= {IPv4Address(int(expected) ^ 1 << bit) for bit in range(32)}
    elif kind in (kinds.MASK, kinds.DOTTED_MASK, kinds.ROUTE_MASK, kinds.PREFIX_LENGTH):
        values = set(range(33))
    elif kind in (kinds.VLAN, kinds.PORT_USE):
        values = {vlan.number for vlan in lab.vlans} | {0, 1, 4095}
        number = expected if isinstance(expected, int) else lab.vlans[0].number
        values |= {number ^ 1 << bit for bit in range(12)}
        values |= {kinds.ROUTED} if kind is kinds.PORT_USE else set()
    elif kind is kinds.PORT:
        values = {
            PortRef(each.name, port) for each in lab.scenario.switches for port in lab.scenario.port_names(each.name)
        }
        values |= {PortRef(each.name, expected.port) for each in lab.scenario.switches}
        values |= {PortRef(expected.switch, PortName(str(int(expected.port) ^ 1 << bit))) for bit in range(5)}
    elif kind is kinds.MAC:
        bits = int(expected.replace("-", ""), 16)
        values = {station.mac for station in lab.scenario.stations}
        values |= {kinds.MAC.read(f"{bits ^ 1 << bit:012X}") for bit in range(48)}
    elif kind is kinds.LEASE:
        values = {hours * 3600 for hours in range(1, 25)} | {hours * 60 for hours in range(1, 25)} | {kinds.INFINITE}
    elif kind is kinds.SWITCH:
        values = {*(switch.name for switch in lab.scenario.switches), SwitchName("Z")}
    elif kind is kinds.BINDING_TYPE:
        values = set(kinds.BindingType)
    else:
        values = plausible_lists(lab, question, expected)
    return values - {expected}


def plausible_lists(lab: Lab, question: Question[Any, Any], expected: frozenset[Any]) -> set[Any]:
    """One member more or less, nothing, and the lists of other switches."""
    members: set[Any] = {vlan.number for vlan in lab.vlans} | {1}
    if question.kind is kinds.PORT_SET:
        members = {PortName(str(number)) for number in range(1, 25)}
    lists = {expected | {each} for each in members} | {expected - {each} for each in expected} | {frozenset(members)}
    lists |= {value for cell, value in lab.key.values.items() if cell.question == question.id}
    return lists | {frozenset()}
