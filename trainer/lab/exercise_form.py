"""The exercise workbook as a declaration: which settings and tables it has, how each is written, and how each is read.

The sheet writer and the sheet reader walk it; what a cell may hold stands here and nowhere else.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Network
from typing import Any, TypeVar

from trainer.lab.exercise import ANY_SWITCH, EACH_SWITCH, Exercise, NetworkRow, Numbers, Shape, SwitchRow
from trainer.lab.faults import Fault, Place, find_faults
from trainer.lab.house_rules import HouseRule
from trainer.lab.kinds import tidy
from trainer.lab.layout import MOST_PORTS, free_ports
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import (
    Asked,
    GatewayPlace,
    LinkEnds,
    Order,
    Resits,
    Reveal,
    RouteRule,
    Saved,
    SectionShare,
    Trainee,
    UnknownAddresses,
)
from trainer.network.devices import SwitchName

__all__ = ["SETTINGS", "TABLES", "Field", "RawExercise", "SettingGroup", "Table", "read_exercise"]

E = TypeVar("E", bound=Enum)

PRIVATE_RANGES = tuple(map(IPv4Network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")))
"""RFC 1918 3."""
DRAWN_RANGES = tuple(map(IPv4Network, ("10.64.0.0/10", "172.16.0.0/12", "192.168.0.0/16")))
"""What the word any stands for: the lower quarter of 10.0.0.0/8 is left to the networks that a school may run itself."""


class _Wrong(ValueError):
    """What a cell holds is not what may stand there; holds what would be right and what to do."""

    def __init__(self, wanted: str, fix: str) -> None:
        self.wanted, self.fix = wanted, fix
        super().__init__(wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A setting, or a column of a table."""

    id: str
    heading: str
    may_write: str
    explains: str
    read: Callable[[str], Any]
    """Raises _Wrong. The text has been tidied; "" is a blank cell."""
    choices: tuple[str, ...] = ()
    """A drop-down list, where all that can be written is a short list."""
    drawn_for: str = "-"
    width: int = 16
    may_be_missing: bool = False
    """Workbooks written before there was such a field lack its label or column; it then reads as a blank cell."""


@dataclass(frozen=True, slots=True)
class SettingGroup:
    """Settings that stand together on sheet Exercise."""

    title: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A sheet with a row for each thing. A row whose framed cells are all blank is no row."""

    id: str
    sheet: str
    title: str
    fields: tuple[Field, ...]
    spare_rows: int = 6
    labelled: bool = False
    """The first column is printed and tells which row it is; such rows are all there, in any order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawExercise:
    """An exercise as text, as it stands in the cells: settings by id, and for each table its rows."""

    settings: Mapping[str, str]
    tables: Mapping[str, Sequence[Mapping[str, str]]]


def _text(text: str) -> str:
    return text


def _filled(what: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if not text:
            raise _Wrong(f"{what} stands here", "Write one.")
        return text

    return read


def _number(low: int, high: int, *, blank: int | None = None) -> Callable[[str], int | None]:
    def read(text: str) -> int | None:
        if not text and blank is not None:
            return blank
        plain = text.removesuffix(".0")
        if not (plain.isascii() and plain.isdigit()) or len(plain) > 9 or not low <= int(plain) <= high:
            raise _Wrong(f"a whole number from {low} to {high} stands here", "Write one.")
        return int(plain)

    return read


def _maybe_number(low: int, high: int) -> Callable[[str], int | None]:
    read = _number(low, high)
    return lambda text: read(text) if text else None


def _numbers(low: int, high: int) -> Callable[[str], Numbers]:
    """One value, a range, a list of both, or the word any."""

    def read(text: str) -> Numbers:
        if text.casefold() == "any":
            return Numbers(((low, high),))
        ranges = []
        for part in re.split(r"\s*[,;]\s*", text.removesuffix(".0")):
            match = re.fullmatch(r"/?(\d{1,9})(?:\s*-\s*/?(\d{1,9}))?", part)
            first, last = (int(match[1]), int(match[2] or match[1])) if match else (1, 0)
            if not (match and low <= first <= last <= high):
                raise _Wrong(
                    f"one value, a range or a list of numbers from {low} to {high} stands here",
                    f"Write it like {low}, {low}-{min(high, low + 10)}, or any.",
                )
            ranges.append((first, last))
        return Numbers(_merged(ranges))

    return read


def _merged(ranges: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The same numbers in ranges that do not meet, so that none stands there twice."""
    merged: list[tuple[int, int]] = []
    for low, high in sorted(ranges):
        if merged and low <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return tuple(merged)


def _names(text: str) -> tuple[str, ...]:
    names = tuple(part.strip() for part in text.split(",") if part.strip())
    if not names:
        raise _Wrong("a name stands here, or a list of names to draw from", "Write one.")
    if any(len(name) > 30 for name in names):
        raise _Wrong("a name has at most 30 characters", "Write a shorter one.")
    return names


def _word(words: type[E], *, blank: E | None = None) -> Callable[[str], E]:
    def read(text: str) -> E:
        if not text and blank is not None:
            return blank
        for each in words:
            if text.casefold() == each.value:
                return each
        raise _Wrong(
            f"one of these stands here: {'; '.join(each.value for each in words)}", "Choose one from the list."
        )

    return read


def _yes(text: str) -> bool:
    if text.casefold() not in ("yes", "no"):
        raise _Wrong("yes or no stands here", "Choose one from the list.")
    return text.casefold() == "yes"


def _yes_unless_no(text: str) -> bool:
    return _yes(text or "yes")


def _no_unless_yes(text: str) -> bool:
    return _yes(text or "no")


def _one_for_all(text: str) -> bool:
    if text.casefold() not in ("one each", "one for all"):
        raise _Wrong("one of these stands here: one each; one for all", "Choose one from the list.")
    return text.casefold() == "one for all"


def _ranges(text: str) -> tuple[IPv4Network, ...]:
    if text.casefold() == "any":
        return DRAWN_RANGES
    found: list[IPv4Network] = []
    for part in re.split(r"\s*[,;]\s*", text):
        try:
            network = IPv4Network(part)
        except ValueError as fault:
            raise _Wrong(
                f"private address ranges stand here (RFC 1918), and {part!r} is none", "Write it like 172.16.0.0/12."
            ) from fault
        if not re.search(r"/\d{1,2}$", part) or not any(network.subnet_of(private) for private in PRIVATE_RANGES):
            raise _Wrong(
                "only private ranges (RFC 1918) are drawn from: 10.0.0.0/8, 172.16.0.0/12, 192.168.0.0/16 or parts of them",
                "Write one of these, with its prefix length.",
            )
        if any(network.overlaps(other) for other in found):
            raise _Wrong(f"ranges do not overlap, and {part} overlaps another", "Take one of them out.")
        found.append(network)
    return tuple(found)


def _block_length(text: str) -> int | None:
    if text.casefold() in ("", "smallest"):
        return None
    read = _number(8, 30)
    try:
        return read(text.removeprefix("/"))
    except _Wrong as fault:
        raise _Wrong("the word smallest or a length from /8 to /30 stands here", "Write it like /21.") from fault


def _switch_name(*words: SwitchName) -> Callable[[str], SwitchName]:
    """A letter, for many switches two, or one of the words."""

    def read(text: str) -> SwitchName:
        if text.casefold() in words:
            return SwitchName(text.casefold())
        if not re.fullmatch(r"[A-Za-z]{1,2}", text):
            also = "".join(f", or the word {word}" for word in words)
            raise _Wrong(f"the letter of a switch stands here{also}", "Write one such as A.")
        return SwitchName(text.upper())

    return read


def _ports(text: str) -> Numbers | None:
    """None for the word any: what it stands for depends on the other column."""
    return None if text.casefold() == "any" else _numbers(1, 999)(text)


def _switch_count(text: str) -> Numbers | None:
    if text.casefold() in ("", "as listed"):
        return None
    try:
        return _numbers(2, 50)(text)
    except _Wrong as fault:
        raise _Wrong(
            "the words as listed, a number or a range from 2 to 50 stand here", "Write it like 3-4."
        ) from fault


def _switch_names(text: str) -> tuple[SwitchName, ...]:
    return tuple(_switch_name()(part) for part in re.split(r"[,;\s]+", text) if part)


def _section(text: str) -> str:
    """The id of a section, by its title."""
    for section in SECTIONS.values():
        if text.casefold() == section.title.casefold():
            return section.id
    titles = ", ".join(section.title for section in SECTIONS.values())
    raise _Wrong(f"one of the sheets of the form stands here: {titles}", "Write its title as it was.")


_YES_NO = ("yes", "no")


def _choices(words: type[Enum]) -> tuple[str, ...]:
    return tuple(str(each.value) for each in words)


SETTINGS = (
    SettingGroup(
        "Change these for a new exercise",
        (
            Field(
                id="code",
                heading="Code",
                may_write="3 to 20 letters, digits, hyphens",
                explains="Stands on every sheet. A new code gives every trainee a new lab.",
                read=_filled("a code"),
            ),
            Field(
                id="title",
                heading="Title",
                may_write="text",
                explains="Printed on every sheet.",
                read=_filled("a title"),
            ),
            Field(
                id="date",
                heading="Date",
                may_write="text, or blank",
                explains="Printed on the Brief, and part of the sitting's folder name.",
                read=_text,
            ),
        ),
    ),
    SettingGroup(
        "Change these if you like",
        (
            Field(
                id="minutes",
                heading="Minutes",
                may_write="number, or blank",
                explains="Printed on the Brief. Nothing stops by itself.",
                read=_maybe_number(1, 10_000),
            ),
            Field(
                id="one_lab_for_all",
                heading="Labs",
                may_write="one each; one for all",
                explains="one each: a different lab for every trainee, equally hard.",
                read=_one_for_all,
                choices=("one each", "one for all"),
            ),
        ),
    ),
    SettingGroup(
        "The network",
        (
            Field(
                id="switch_count",
                heading="Switches",
                may_write="as listed; 2 to 50, or a range",
                explains="as listed: the rows of sheet Switches. A number: A, B, C ... by their own row or the row each.",
                read=_switch_count,
                drawn_for="class",
            ),
            Field(
                id="shape",
                heading="Shape",
                may_write="as listed; chain; star; tree; any",
                explains="How the switches are joined. as listed: column Linked to says it. star: around A.",
                read=_word(Shape),
                choices=_choices(Shape),
                drawn_for="class",
            ),
            Field(
                id="address_ranges",
                heading="Addresses from",
                may_write="private ranges (RFC 1918), one or a list; any",
                explains="Every lab gets a block of its own in here.",
                read=_ranges,
                drawn_for="trainee",
            ),
            Field(
                id="block_length",
                heading="Block",
                may_write="smallest; a length such as /21",
                explains="Size of a lab's block. smallest: the smallest that holds all networks.",
                read=_block_length,
                drawn_for="class",
            ),
            Field(
                id="order",
                heading="Order in the block",
                may_write="largest first; as listed; a range a switch; free",
                explains=f"Printed as rule {HouseRule.ORDER.number}. free: every plan that fits is marked right.",
                read=_word(Order),
                choices=_choices(Order),
            ),
            Field(
                id="gateway",
                heading="Gateway",
                may_write="first usable; last usable; free",
                explains=f"Printed as rule {HouseRule.GATEWAY.number}. free: any usable address that is in no pool and of no "
                "fixed station.",
                read=_word(GatewayPlace),
                choices=_choices(GatewayPlace),
            ),
            Field(
                id="link_lengths",
                heading="Link length",
                may_write="/30; /31; a list",
                explains="Networks of the links between switches.",
                read=_numbers(30, 31),
                drawn_for="class",
            ),
            Field(
                id="link_ends",
                heading="Lower link end",
                may_write="first-named; free",
                explains=f"Printed as rule {HouseRule.LINKS.number}: which switch has the lower address of a link.",
                read=_word(LinkEnds),
                choices=_choices(LinkEnds),
            ),
            Field(
                id="kept_for_fixed",
                heading="Kept for fixed",
                may_write="number",
                explains="The first so many usable addresses of every network are in no pool.",
                read=_number(0, 1000),
            ),
            Field(
                id="lease_hours",
                heading="Lease hours",
                may_write="number, range or list",
                explains="Same for all pools of a lab.",
                read=_numbers(1, 8760),
                drawn_for="trainee",
            ),
            Field(
                id="server_network",
                heading="Server in network",
                may_write="a No. of sheet Networks",
                explains="Where the DHCP server stands.",
                read=_number(1, 9999),
            ),
        ),
    ),
    SettingGroup(
        "Marking and feedback",
        (
            Field(
                id="route_rule",
                heading="Routes",
                may_write="any that work; one a network",
                explains="any that work: summary and default routes count as right.",
                read=_word(RouteRule),
                choices=_choices(RouteRule),
            ),
            Field(
                id="unknown_addresses",
                heading="Unknown addresses",
                may_write="dropped; may go in circles",
                explains="Packets for addresses nobody has: with summary or default routes two switches may circle them.",
                read=_word(UnknownAddresses),
                choices=_choices(UnknownAddresses),
            ),
            Field(
                id="follow_through",
                heading="Follow-through",
                may_write="yes; no",
                explains="yes: an error is charged once, what follows from it counts.",
                read=_yes,
                choices=_YES_NO,
            ),
            Field(
                id="reveal",
                heading="Trainees see",
                may_write="marks; hints; explanations; answers",
                explains="What the feedback page shows (each includes the one before).",
                read=_word(Reveal),
                choices=_choices(Reveal),
            ),
            Field(
                id="pass_mark",
                heading="Pass mark",
                may_write="0 to 100 (per cent)",
                explains="Only for the results sheet.",
                read=_number(0, 100),
            ),
            Field(
                id="resits",
                heading="Re-sits count",
                may_write="last; best; capped",
                explains="Which attempt counts. capped: the best, but a re-sit earns the pass mark at most.",
                read=_word(Resits, blank=Resits.LAST),
                choices=_choices(Resits),
                may_be_missing=True,
            ),
            Field(
                id="saved",
                heading="Of several files",
                may_write="last; first",
                explains="If a trainee hands a lab in twice: the file saved last counts, or the one saved first.",
                read=_word(Saved, blank=Saved.LAST),
                choices=_choices(Saved),
                may_be_missing=True,
            ),
        ),
    ),
)

SWITCHES = Table(
    id="switches",
    sheet="Switches",
    title="Switches and the links between them",
    fields=(
        Field(
            id="name",
            heading="Switch",
            may_write="a letter; each",
            explains="Stands before its port numbers: A/7. each: all drawn ones without a row.",
            read=_switch_name(EACH_SWITCH),
            width=10,
        ),
        Field(
            id="places",
            heading="Place",
            may_write="text or list",
            explains="Printed name. A list is drawn from, no name twice.",
            read=_names,
            drawn_for="trainee",
            width=30,
        ),
        Field(
            id="station_ports",
            heading="Station ports",
            may_write="range or list; any",
            explains="Ports that stations are plugged into. any: of 48 those not under Link ports.",
            read=_ports,
            drawn_for="trainee",
        ),
        Field(
            id="link_ports",
            heading="Link ports",
            may_write="range or list; any",
            explains="Ports for the links between switches. any: of 48 those not under Station ports.",
            read=_ports,
            drawn_for="trainee",
        ),
        Field(
            id="linked_to",
            heading="Linked to",
            may_write="a switch, or blank",
            explains="Only with shape as listed. The switches form a tree: no rings. The first one stays blank.",
            read=_switch_names,
        ),
        Field(
            id="asks_routes",
            heading="Routes asked",
            may_write="yes; no",
            explains="no: the routes of this switch are set already and not asked. Blank: yes.",
            read=_yes_unless_no,
            choices=_YES_NO,
        ),
    ),
)

NETWORKS = Table(
    id="networks",
    sheet="Networks",
    title="Networks: one row for each VLAN",
    fields=(
        Field(
            id="number",
            heading="No.",
            may_write="number",
            explains="Yours to refer to.",
            read=_number(1, 9999),
            width=8,
        ),
        Field(
            id="switch",
            heading="Switch",
            may_write="letter; each; any",
            explains="each: one on every switch. any: on one with the fewest.",
            read=_switch_name(EACH_SWITCH, ANY_SWITCH),
            width=10,
        ),
        Field(
            id="vlans",
            heading="VLAN",
            may_write="2-4094, range, list, any",
            explains="No number twice in a lab.",
            read=_numbers(2, 4094),
            drawn_for="trainee",
            width=14,
        ),
        Field(
            id="names",
            heading="Name",
            may_write="text or list",
            explains="A list is drawn from.",
            read=_names,
            drawn_for="trainee",
            width=24,
        ),
        Field(
            id="addresses_needed",
            heading="Addresses needed",
            may_write="number or range",
            explains="Gateway counts. Keep a range in ONE size: 7-14, 15-30, 31-62, 63-126, 127-254, 255-510.",
            read=_numbers(2, 65_534),
            drawn_for="class",
            width=18,
        ),
        Field(
            id="dhcp_stations",
            heading="DHCP stations",
            may_write="0 to 9",
            explains="More than 0: the network gets a pool. In a snooped network 2 or more.",
            read=_number(0, 9, blank=0),
            width=12,
        ),
        Field(
            id="fixed_stations",
            heading="Fixed stations",
            may_write="0 to 9",
            explains="The DHCP server is extra.",
            read=_number(0, 9, blank=0),
            width=12,
        ),
        Field(
            id="is_snooped",
            heading="Snooping",
            may_write="yes; no",
            explains="DHCP snooping on this VLAN.",
            read=_yes,
            choices=_YES_NO,
            width=12,
        ),
        Field(
            id="is_guarded",
            heading="Source guard",
            may_write="yes; no",
            explains="On every port with a station of this VLAN, except the server's.",
            read=_yes,
            choices=_YES_NO,
            width=14,
        ),
    ),
)

MARKS = Table(
    id="sections",
    sheet="Marks",
    title="What is asked, and what it counts",
    labelled=True,
    spare_rows=0,
    fields=(
        Field(id="section", heading="Section", may_write="", explains="", read=_section, width=14),
        Field(
            id="asked",
            heading="Asked",
            may_write="yes; given; no",
            explains="given: printed with the right answers filled in",
            read=_word(Asked),
            choices=_choices(Asked),
            width=22,
        ),
        Field(
            id="share",
            heading="Share",
            may_write="per cent of the total",
            explains="The shares of what is asked add up to 100. Inside a section every cell counts the same.",
            read=_number(0, 100, blank=0),
            width=34,
        ),
    ),
)

TRAINEES = Table(
    id="trainees",
    sheet="Trainees",
    title="Trainees",
    spare_rows=12,
    fields=(
        Field(
            id="id",
            heading="Id",
            may_write="your own id",
            explains="Stands in file names. No two alike.",
            read=_filled("an id"),
            width=14,
        ),
        Field(
            id="name",
            heading="Name",
            may_write="text",
            explains="Stands on the sheets. May be blank.",
            read=_text,
            width=30,
        ),
        Field(
            id="group",
            heading="Group",
            may_write="text, or blank",
            explains="Sorts the results.",
            read=_text,
            width=14,
        ),
        Field(
            id="attempt",
            heading="Attempt",
            may_write="blank or 1; 2, 3 ...",
            explains="A higher number gives a new lab.",
            read=_number(1, 99, blank=1),
            width=14,
        ),
        Field(
            id="is_excused",
            heading="Excused",
            may_write="yes, or blank",
            explains="Stands in the results as excused, not as missing. Set again after a change.",
            read=_no_unless_yes,
            choices=_YES_NO,
            width=14,
            may_be_missing=True,
        ),
    ),
)

TABLES = (SWITCHES, NETWORKS, MARKS, TRAINEES)


def read_exercise(raw: RawExercise) -> Exercise | tuple[Fault, ...]:
    """The exercise, or everything that is wrong with it: what cannot be read, and what cannot be set as it stands."""
    faults: list[Fault] = []
    values = {
        field.id: _read(field, raw.settings.get(field.id, ""), Place("exercise", None, field.id), faults)
        for group in SETTINGS
        for field in group.fields
    }
    rows = {
        table.id: [
            {
                field.id: _read(field, row.get(field.id, ""), Place(table.id, place, field.id), faults)
                for field in table.fields
            }
            for place, row in enumerate(raw.tables.get(table.id, ()))
        ]
        for table in TABLES
    }
    exercise = Exercise(
        **values,
        switches=tuple(_switch_row(place, row) for place, row in enumerate(rows["switches"])),
        networks=tuple(NetworkRow(**row, source=place) for place, row in enumerate(rows["networks"])),
        sections=tuple(SectionShare(**row) for row in rows["sections"]),
        trainees=tuple(Trainee(**row) for row in rows["trainees"]),
    )
    faults += find_faults(exercise, [fault.at for fault in faults])
    order = ["exercise", *(table.id for table in TABLES)]
    return tuple(sorted(faults, key=lambda fault: (order.index(fault.at.table), fault.at.row or 0))) or exercise


def _switch_row(place: int, row: dict[str, Any]) -> SwitchRow:
    """A row of table Switches, with what any stands for under its ports."""
    stations, links = row["station_ports"], row["link_ports"]
    row = {
        **row,
        "station_ports": free_ports(stations, links, (1, 40)),
        "link_ports": free_ports(links, stations, (41, MOST_PORTS)),
    }
    return SwitchRow(**row, source=place)


def _read(field: Field, text: str, at: Place, faults: list[Fault]) -> Any:
    tidied = tidy(text)
    try:
        return field.read(tidied)
    except _Wrong as wrong:
        found = repr(tidied) if tidied else "nothing"
        faults.append(Fault(at=at, found=found, wanted=wrong.wanted, fix=wrong.fix))
        return None
