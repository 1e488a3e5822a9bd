"""What is printed on the sheets Brief and Given: the rules that leave exactly one right answer, and what is given.

Whoever has only these two comes to the key, or to another answer that a rule calls right.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from trainer.lab.bench import CAUTIONS, REPAIR_CAUTIONS
from trainer.lab.dependencies import sections_rest_on
from trainer.lab.form import Answers
from trainer.lab.glossary import glossary
from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import FORM, SECTIONS, pools
from trainer.lab.repair.found import found_tables, with_edits
from trainer.lab.repair.instructions import not_tested, repair_marks, repair_task, repair_writing
from trainer.lab.repair.sheet import HOSTS
from trainer.lab.scenario import Asked, GatewayPlace, Order, Scenario
from trainer.listing import listed

__all__ = [
    "GLOSSARY_TITLE",
    "PRACTISED_RULES_TITLE",
    "RULES_TITLE",
    "BriefPart",
    "GivenTable",
    "brief",
    "found_sheets",
    "given_tables",
    "otherwise_at_work",
    "practice_brief",
]

_MARKS_TITLE = "Marks"
RULES_TITLE = "House rules - they leave exactly one right answer, unless a rule says otherwise"
PRACTISED_RULES_TITLE = "House rules of what is asked"
GLOSSARY_TITLE = "Glossary"


_Lines = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class BriefPart:
    """A headed part of the Brief: lines, each with a label that may be empty."""

    title: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class GivenTable:
    """A table of sheet Given."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@lru_cache(maxsize=8)
def brief(scenario: Scenario) -> tuple[BriefPart, ...]:
    """The parts of the Brief, in order. Of the rules, and of what is said of them, those that decide the lab's sheets."""
    words = _OF_A_PLAN if scenario.repair is None else _OF_FAULTS
    parts = (
        BriefPart("What to do", (("", words.task(scenario)),)),
        BriefPart("What was seen, and what was not", words.seen(scenario)),
        BriefPart(RULES_TITLE, _as_lines(scenario, _rules(scenario))),
        BriefPart(GLOSSARY_TITLE, words.glossary(scenario)),
        BriefPart("How to write", words.writing(scenario)),
        BriefPart(_MARKS_TITLE, words.marks(scenario)),
        BriefPart("Cautions for the bench", words.cautions),
        BriefPart("At work it may be otherwise", words.at_work(scenario)),
    )
    return tuple(part for part in parts if part.lines)


def otherwise_at_work(scenario: Scenario) -> tuple[tuple[str, str, str], ...]:
    """To which rule, what is otherwise at work, and where that is from, for the instructor; without the advice that this
    lab's own rule gives.
    """
    has_ranges = scenario.rules.order is Order.RANGE_A_SWITCH
    rules = _rules(scenario)
    return tuple(
        (f"Rule {rule.number}", text, source)
        for rule, text, source in _AT_WORK
        if rule in rules and not (has_ranges and rule is HouseRule.ORDER)
    )


def practice_brief(scenario: Scenario) -> tuple[BriefPart, ...]:
    """The parts for somebody who practises alone: the rules of the sheets that are asked, and nothing about marks."""
    if scenario.repair is not None:
        return tuple(part for part in brief(scenario) if part.title != _MARKS_TITLE)
    needed = {rule for section in scenario.asked for rule in SECTIONS[section].decided_by}
    return (
        BriefPart("What to do", (("", _practice_task(scenario)),)),
        BriefPart(
            PRACTISED_RULES_TITLE,
            _as_lines(scenario, [rule for rule in HouseRule if rule in needed]),
        ),
        BriefPart("How to write", tuple(_how_to_practise(scenario))),
    )


def _practice_task(scenario: Scenario) -> str:
    given = [SECTIONS[share.section].title for share in scenario.sections if share.asked is Asked.GIVEN]
    sheets = listed([SECTIONS[section].title for section in scenario.asked])
    beside = f" {listed(given)} {'stand' if len(given) > 1 else 'stands'} there filled in." if given else ""
    return (
        f"Fill in the framed cells of {'sheet' if len(scenario.asked) == 1 else 'the sheets'} {sheets}. What they start from "
        f"stands on sheet Given.{beside} Save as often as you like: every save is looked at, and nothing counts."
    )


def _how_to_practise(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """How values are written on the sheets that are asked; the rest stands above their columns."""
    yield "Cells", "One value in a cell. A cell that stays empty is no mistake. Sheet Notes is yours for sums."
    asked = set(scenario.asked)
    hints = _how_to_write(scenario)
    for label, text in hints[1:]:
        if asked & _WRITTEN_ON[label]:
            yield label, text


_WRITTEN_ON = {
    "Mask": {"subnets", "links", "stations", "routes", "pools"},
    "Routes": {"routes"},
    "Others": {"routes", "pools", "bindings"},
}
"""On which sheets stand values of which it is told how they are written."""


def _needed_sections(scenario: Scenario) -> frozenset[str]:
    """The sheets that are asked or given, and those left out that one of the asked ones is worked out from."""
    stands = {share.section for share in scenario.sections if share.asked is not Asked.NO}
    if stands.issuperset(section.id for section in FORM):
        return frozenset(stands)  # none is left out, so what they rest on need not be found out
    rest_on = sections_rest_on(scenario)
    found = stands.difference(scenario.asked)
    ahead = list(scenario.asked)
    while ahead:
        section = ahead.pop()
        if section not in found:
            found.add(section)
            ahead += rest_on.get(section, ())
    return frozenset(found)


_PLANNED = frozenset({"subnets", "links", "stations"})
"""Sheets whose answers can give one address to two devices, or overlap."""


def _rules(scenario: Scenario) -> tuple[HouseRule, ...]:
    """The rules that decide the lab's sheets. They keep their numbers: texts and other labs call them so."""
    deciding = {rule for section in _needed_sections(scenario) for rule in SECTIONS[section].decided_by}
    if not _PLANNED.isdisjoint(scenario.asked):
        deciding.add(HouseRule.CONFLICTS)
    if "subnets" in scenario.asked and scenario.rules.gateway is GatewayPlace.FREE:
        deciding |= {HouseRule.FIXED, HouseRule.POOLS}  # what a gateway has to keep clear of
    return tuple(rule for rule in HouseRule if rule in deciding)


def found_sheets(scenario: Scenario, key: Answers) -> Mapping[str, tuple[GivenTable, ...]]:
    """What was found on each device of a fault-finding lab, by the name of its sheet; nothing where there is none, or where it
    is asked for one by one.

    key: the plan's right answers, in which the faults are made.
    """
    repair = scenario.repair
    if repair is None or repair.is_one_by_one:
        return {}
    sheets: dict[str, list[GivenTable]] = {}
    for table in found_tables(scenario, with_edits(key, (*repair.faults, *repair.decoys))):
        name = "Found hosts" if table.device == HOSTS else f"Found {table.device}"
        rows = tuple(line.texts for line in table.lines)
        sheets.setdefault(name, []).append(GivenTable(table.title, table.headings, rows))
    return {name: tuple(tables) for name, tables in sheets.items()}


def _as_lines(scenario: Scenario, rules: Sequence[HouseRule]) -> tuple[tuple[str, str], ...]:
    return tuple((f"{rule.number:>2}  {rule.title}", rule.text(scenario)) for rule in rules)


def _task(scenario: Scenario) -> str:
    time = f" Time: {scenario.minutes} minutes." if scenario.minutes else ""
    date = f" Date: {scenario.date}." if scenario.date else ""
    given = [SECTIONS[share.section].title for share in scenario.sections if share.asked is Asked.GIVEN]
    printed = f" {' and '.join(given)}: filled in for you." if given else ""
    what = "Plan and protect" if "protection" in scenario.asked else "Plan"
    return (
        f"{what} the network on sheet Given: {len(scenario.switches)} switches that route, joined by routed "
        f"links. Fill in the framed cells of the sheets that follow.{printed}{time}{date}"
    )


def _how_to_write(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    routes = (("Routes", "Destination: the network address, without the length. Default route: 0.0.0.0 and /0."),)
    return (
        (
            "Cells",
            "One value in a cell, two values count as none; only sheet Protection takes lists, in any order, port "
            "numbers without the letter: 3, 5, 9, or none. An empty cell counts as not answered. Rows of Routes, "
            "Relays and Bindings may stand in any order; spare rows stay empty.",
        ),
        (
            "Mask",
            "255.255.240.0. /20 is right too, but not on sheet Subnets, where both are asked. Prefix length: 20 or /20.",
        ),
        *(routes if "routes" in scenario.asked else ()),
        (
            "Others",
            "Switch: B. Port: B/7. MAC: any usual way. Lease with its unit: 6 h, 360 min, 21600 s; or no end.",
        ),
    )


def _marks(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    shares = ", ".join(
        f"{SECTIONS[share.section].title} {share.share}" for share in scenario.sections if share.asked is Asked.YES
    )
    parts = [
        (
            "Shares",
            f"Of the total: {shares}. In a sheet a cell that is only read off (a copy, a list of VLANs or of guarded ports, "
            "a mask) counts a fifth of one that is worked out; no sheet goes below zero.",
        )
    ]
    half = "The right idea in the wrong place, such as the usable address at the other end of the network"
    if scenario.rules.follow_through:
        parts.append(
            (
                "Errors",
                "An error is charged once: what follows from it correctly counts in full. Nothing follows from what is no "
                "address, such as one with 256 in it.",
            )
        )
        half += "; what follows correctly from an error, but lies outside the block or became easier by it"
    if "routes" in scenario.asked:
        half += f"; routes that work, but break rule {HouseRule.ROUTES}"
    parts += [
        ("Half marks", f"{half}."),
        (
            "Slips",
            "A slip of form (a unit, a notation, one rule misread the same way) is charged once a sheet, two columns exchanged "
            "in a row as one slip. An error of knowledge is charged each time.",
        ),
        (
            "Too much",
            "In a list a wrong entry takes away the marks of a right one. A wrong extra row takes away those of a right row, a "
            "needless one those of one cell; an extra route that sends nothing the wrong way costs nothing.",
        ),
    ]
    return tuple(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """What differs between the Briefs of two kinds of lab; nothing where a kind has no such part."""

    task: Callable[[Scenario], str]
    seen: Callable[[Scenario], _Lines] = lambda _: ()
    glossary: Callable[[Scenario], _Lines] = lambda _: ()
    writing: Callable[[Scenario], _Lines]
    marks: Callable[[Scenario], _Lines]
    at_work: Callable[[Scenario], _Lines] = lambda _: ()
    cautions: _Lines = CAUTIONS


_OF_A_PLAN = _Words(
    task=_task,
    glossary=lambda scenario: glossary(_needed_sections(scenario)),
    writing=_how_to_write,
    marks=_marks,
    at_work=lambda scenario: tuple((label, text) for label, text, _ in otherwise_at_work(scenario)),
)
_OF_FAULTS = _Words(
    task=repair_task, seen=not_tested, writing=repair_writing, marks=repair_marks, cautions=REPAIR_CAUTIONS
)


_PRACTICE, _MEMORY = "common practice, no source", "from memory, not verified"
_AT_WORK = (
    (HouseRule.SIZE, "Leave room to grow: 20 to 50 per cent.", _PRACTICE),
    (HouseRule.ORDER, "Give each switch a range of its own, so that one summary route reaches it.", _PRACTICE),
    (HouseRule.ROUTES, "You want routes to the link networks too, to test and manage the switches.", _PRACTICE),
    (
        HouseRule.LEASES,
        "A real server gives a client its present or former address, or the one it asks for, before a new one.",
        "RFC 2131 4.3.1",
    ),
    (
        HouseRule.RELAYS,
        "Option 82 is off here; a relay agent drops a request that carries it with giaddr 0 from an untrusted circuit.",
        "RFC 3046 2.1",
    ),
    (
        HouseRule.SNOOPING,
        "What a server sends to a relay agent inside the perimeter is not filtered, and ports towards relay agents may be "
        "trusted too; this lab does not do so. Much equipment does not check a routed port: read its manual.",
        f"RFC 7513 4.3.3 and 4.3.2; routed ports: {_MEMORY}",
    ),
    (
        HouseRule.GUARD,
        "On much equipment the check of ARP is a function of its own, and that of the MAC optional.",
        _MEMORY,
    ),
    (
        HouseRule.BINDINGS,
        "Each switch keeps its own table and shows the time left; how a row without an end is shown differs.",
        "no standard has the words no end",
    ),
    (HouseRule.CONFLICTS, "Of two devices with one address whichever answers first may be reached.", "RFC 5227 1"),
)
"""Rule, text, and where it is from."""


def given_tables(scenario: Scenario) -> tuple[GivenTable, ...]:
    """The tables of sheet Given: values, networks, stations, links."""
    places = {switch.name: switch.place for switch in scenario.switches}
    return (
        GivenTable(
            "Values",
            ("Item", "Value"),
            (
                ("Block of this lab", str(scenario.block)),
                ("Order in the block", scenario.rules.order.word),
                ("Gateway", scenario.rules.gateway.word),
                ("Length of link networks", f"/{scenario.link_length}"),
                ("First pool address", f"usable address no. {scenario.rules.kept_for_fixed + 1}"),
                ("Lease of every pool", f"{scenario.lease_hours} h"),
                *_of_way_out(scenario),
                *_options_given(scenario),
            ),
        ),
        GivenTable(
            "Networks",
            ("VLAN", "Network", "Switch", "Addresses needed", "Snooping", "Source guard"),
            tuple(
                (
                    str(vlan.number),
                    vlan.name,
                    f"{vlan.switch} ({places[vlan.switch]})",
                    str(vlan.addresses_needed),
                    _yes(vlan.is_snooped),
                    _yes(vlan.is_guarded),
                )
                for vlan in scenario.vlans
            ),
        ),
        GivenTable(
            "Stations",
            ("Station", "VLAN", "Port", "MAC", "Address"),
            tuple(
                (
                    station.name,
                    str(station.vlan.number),
                    str(station.at),
                    station.mac,
                    "DHCP" if station.fixed_number is None else f"fixed, no. {station.fixed_number}",
                )
                for station in scenario.stations
            ),
        ),
        GivenTable(
            "Links",
            ("Link", "First switch", "Port", "Second switch", "Port there"),
            tuple(
                (
                    link.name,
                    f"{link.first.switch} ({places[link.first.switch]})",
                    str(link.first),
                    f"{link.second.switch} ({places[link.second.switch]})",
                    str(link.second),
                )
                for link in scenario.links
            ),
        ),
    )


def _of_way_out(scenario: Scenario) -> tuple[tuple[str, str], ...]:
    out = scenario.way_out
    if out is None:
        return ()
    return (
        ("Way out", f"port {out.at}, set already: {out.address}/{out.network.prefixlen}"),
        ("Neighbour outside", str(out.neighbour)),
        ("Test address beyond", str(out.test_address)),
    )


def _options_given(scenario: Scenario) -> Iterator[tuple[str, str]]:
    for option, server in scenario.rules.options_given.items():
        yield f"{pools.OPTIONS[option].heading} of every pool", server.word


def _yes(value: bool) -> str:
    return "yes" if value else "no"
