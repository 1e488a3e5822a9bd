"""The exercise workbook as a declaration: which settings and tables it has, and how each is written.

The sheet writer and the sheet reader walk it. How a cell is read stands in exercise_cells.py.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trainer.lab import exercise_cells as cells
from trainer.lab.exercise import ANY_SWITCH, EACH_SWITCH, ExerciseKind, Shape
from trainer.lab.house_rules import HouseRule
from trainer.lab.scenario import (
    Asked,
    GatewayPlace,
    LinkEnds,
    OptionServer,
    Order,
    Resits,
    Reveal,
    RouteRule,
    Saved,
    UnknownAddresses,
    VlanNumbers,
)

__all__ = ["SETTINGS", "TABLES", "Field", "RawExercise", "SettingGroup", "Table"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A setting, or a column of a table."""

    id: str
    heading: str
    may_write: str
    explains: str
    read: Callable[[str], Any]
    """Of exercise_cells."""
    choices: tuple[str, ...] = ()
    """A drop-down list, where all that can be written is a short list."""
    drawn_for: str = "-"
    width: int = 16
    formerly: str = ""
    """Its label in workbooks that were written before, which are read as ever; "" where it never had another."""
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


SETTINGS = (
    SettingGroup(
        "Change these for a new exercise",
        (
            Field(
                id="code",
                heading="Code",
                may_write="3 to 20 letters, digits, hyphens",
                explains="Stands on every sheet. A new code gives every trainee a new lab.",
                read=cells.filled("a code"),
            ),
            Field(
                id="title",
                heading="Title",
                may_write="text",
                explains="Printed on every sheet.",
                read=cells.filled("a title"),
            ),
            Field(
                id="date",
                heading="Date",
                may_write="text, or blank",
                explains="Printed on the Brief, and part of the sitting's folder name.",
                read=cells.text,
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
                read=cells.number_or_blank(1, 10_000),
            ),
            Field(
                id="one_lab_for_all",
                heading="Labs",
                may_write="one each; one for all",
                explains="one each: a different lab for every trainee, equally hard.",
                read=cells.one_for_all,
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
                read=cells.switch_count,
                drawn_for="class",
            ),
            Field(
                id="shape",
                heading="Shape",
                may_write="as listed; chain; star; tree; any",
                explains="How the switches are joined. as listed: column Linked to says it. star: around A.",
                read=cells.word(Shape),
                choices=cells.words_of(Shape),
                drawn_for="class",
            ),
            Field(
                id="address_ranges",
                heading="Addresses from",
                may_write="private ranges (RFC 1918), one or a list; any",
                explains="Every lab gets a block of its own in here.",
                read=cells.address_ranges,
                drawn_for="trainee",
            ),
            Field(
                id="block_length",
                heading="Block",
                may_write="smallest; a length such as /21",
                explains="Size of a lab's block. smallest: the smallest that holds all networks.",
                read=cells.block_length,
                drawn_for="class",
            ),
            Field(
                id="order",
                heading="Order in the block",
                may_write="largest first; as listed; a range a switch; free",
                explains=f"Printed as rule {HouseRule.ORDER.number}. free: every plan that fits is marked right.",
                read=cells.word(Order),
                choices=cells.words_of(Order),
            ),
            Field(
                id="gateway",
                heading="Gateway",
                may_write="first usable; last usable; free",
                explains=f"Printed as rule {HouseRule.GATEWAY.number}. free: any usable address that is in no pool and of no "
                "fixed station.",
                read=cells.word(GatewayPlace),
                choices=cells.words_of(GatewayPlace),
            ),
            Field(
                id="link_lengths",
                heading="Link length",
                may_write="/30; /31; a list",
                explains="Networks of the links between switches.",
                read=cells.numbers(30, 31),
                drawn_for="class",
            ),
            Field(
                id="link_ends",
                heading="Lower link end",
                may_write="first-named; free",
                explains=f"Printed as rule {HouseRule.LINKS.number}: which switch has the lower address of a link.",
                read=cells.word(LinkEnds),
                choices=cells.words_of(LinkEnds),
            ),
            Field(
                id="kept_for_fixed",
                heading="Reserved for static",
                formerly="Kept for fixed",
                may_write="number",
                explains="So many usable addresses at the start of every network are for static addresses, in no pool.",
                read=cells.number(0, 1000),
            ),
            Field(
                id="lease_hours",
                heading="Lease hours",
                may_write="number, range or list",
                explains="Same for all pools of a lab.",
                read=cells.numbers(1, 8760),
                drawn_for="trainee",
            ),
            Field(
                id="server_network",
                heading="Server in network",
                may_write="a No. of sheet Networks",
                explains="Where the DHCP server stands.",
                read=cells.number(1, 9999),
            ),
            Field(
                id="way_out",
                heading="Way out",
                may_write="none; the letter of a switch",
                explains="That switch has a routed port to a network outside, and all need a default route. Blank: none.",
                read=cells.way_out,
                drawn_for="trainee",
                may_be_missing=True,
            ),
            Field(
                id="vlan_numbers",
                heading="VLAN numbers",
                may_write="separate; may repeat",
                explains="may repeat: two switches may use one number for different networks. Blank: separate.",
                read=cells.word(VlanNumbers, blank=VlanNumbers.SEPARATE),
                choices=cells.words_of(VlanNumbers),
                may_be_missing=True,
            ),
            Field(
                id="dns_server",
                heading="DNS server",
                may_write="none; the DHCP server",
                explains="Of which server for names the pools tell (RFC 2132 3.8). Sheet Pools asks for it then. Blank: none.",
                read=cells.word(OptionServer, blank=OptionServer.NONE),
                choices=cells.words_of(OptionServer),
                may_be_missing=True,
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
                read=cells.word(RouteRule),
                choices=cells.words_of(RouteRule),
            ),
            Field(
                id="unknown_addresses",
                heading="Unknown addresses",
                may_write="dropped; may loop",
                explains="Packets for addresses nobody has: summary or default routes of two switches may make a routing loop.",
                read=cells.word(UnknownAddresses),
                choices=cells.words_of(UnknownAddresses),
            ),
            Field(
                id="follow_through",
                heading="Follow-through",
                may_write="yes; no",
                explains="yes: an error is charged once, what follows from it counts.",
                read=cells.yes,
                choices=cells.YES_NO,
            ),
            Field(
                id="reveal",
                heading="Trainees see",
                may_write="marks; hints; explanations; answers",
                explains="What the feedback page shows (each includes the one before).",
                read=cells.word(Reveal),
                choices=cells.words_of(Reveal),
            ),
            Field(
                id="pass_mark",
                heading="Pass mark",
                may_write="0 to 100 (per cent)",
                explains="From so much on a paper passes.",
                read=cells.per_cent(),
            ),
            Field(
                id="must_work",
                heading="Must work to pass",
                may_write="leases 100, pings 80, attacks 90; or blank",
                explains="Per cent of what the key's network does. Blank: what works is told, and marks alone decide.",
                read=cells.must_work,
                may_be_missing=True,
            ),
            Field(
                id="resits",
                heading="Re-sits count",
                may_write="last; best; capped",
                explains="Which attempt counts. capped: the best, but a re-sit earns the pass mark at most.",
                read=cells.word(Resits, blank=Resits.LAST),
                choices=cells.words_of(Resits),
                may_be_missing=True,
            ),
            Field(
                id="saved",
                heading="Of several files",
                may_write="last; first",
                explains="If a trainee hands a lab in twice: the file saved last counts, or the one saved first.",
                read=cells.word(Saved, blank=Saved.LAST),
                choices=cells.words_of(Saved),
                may_be_missing=True,
            ),
            Field(
                id="print_names",
                heading="Names on paper",
                may_write="yes; no",
                explains="yes: the handout bears the trainee's name. no: a line to write it on.",
                read=cells.no_unless_yes,
                choices=cells.YES_NO,
                may_be_missing=True,
            ),
        ),
    ),
    SettingGroup(
        "Fault finding (Kind = faults)",
        (
            Field(
                id="kind",
                heading="Kind",
                may_write="plan; faults",
                explains="faults: the network is found with faults in it; sheet Marks is left aside. Blank: plan.",
                read=cells.word(ExerciseKind, blank=ExerciseKind.PLAN),
                choices=cells.words_of(ExerciseKind),
                may_be_missing=True,
            ),
            Field(
                id="level",
                heading="Level",
                may_write="1 to 4, or blank",
                explains="1: one fault. 2: two harmless deviations beside it. 3: no counters. 4: two faults. Blank: as below.",
                read=cells.number_or_blank(1, 4),
                drawn_for="class",
                may_be_missing=True,
            ),
            Field(
                id="faults",
                heading="Faults",
                may_write="1 to 3; blank with a Level",
                explains="So many settings are wrong, and something is seen of each.",
                read=cells.number_or_blank(1, 3),
                drawn_for="class",
                may_be_missing=True,
            ),
            Field(
                id="decoys",
                heading="Decoys",
                may_write="0 to 3; blank with a Level",
                explains="So many settings differ from the plan and do no harm.",
                read=cells.number_or_blank(0, 3),
                drawn_for="class",
                may_be_missing=True,
            ),
            Field(
                id="counters",
                heading="Device counters",
                may_write="yes; no; blank with a Level",
                explains="Whether it is printed what server and switches counted.",
                read=cells.yes_or_blank,
                choices=cells.YES_NO,
                may_be_missing=True,
            ),
            Field(
                id="no_fault",
                heading="Labs without a fault",
                may_write="yes; no or blank",
                explains="yes: about one lab in eight has none, and none is an answer on sheet Faults.",
                read=cells.no_unless_yes,
                choices=cells.YES_NO,
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
            read=cells.switch_name(EACH_SWITCH),
            width=10,
        ),
        Field(
            id="places",
            heading="Place",
            may_write="text or list",
            explains="Printed name. A list is drawn from, no name twice.",
            read=cells.names,
            drawn_for="trainee",
            width=30,
        ),
        Field(
            id="station_ports",
            heading="Station ports",
            may_write="range or list; any",
            explains="Ports that stations are plugged into. any: of 48 those not under Link ports.",
            read=cells.ports,
            drawn_for="trainee",
        ),
        Field(
            id="link_ports",
            heading="Link ports",
            may_write="range or list; any",
            explains="Ports for the links between switches. any: of 48 those not under Station ports.",
            read=cells.ports,
            drawn_for="trainee",
        ),
        Field(
            id="linked_to",
            heading="Linked to",
            may_write="a switch, or blank",
            explains="Only with shape as listed. The switches form a tree: no rings. The first one stays blank.",
            read=cells.switch_names,
        ),
        Field(
            id="asks_routes",
            heading="Routes asked",
            may_write="yes; no",
            explains="no: the routes of this switch are set already and not asked. Blank: yes.",
            read=cells.yes_unless_no,
            choices=cells.YES_NO,
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
            read=cells.number(1, 9999),
            width=8,
        ),
        Field(
            id="switch",
            heading="Switch",
            may_write="letter; each; any",
            explains="each: one on every switch. any: on one with the fewest.",
            read=cells.switch_name(EACH_SWITCH, ANY_SWITCH),
            width=10,
        ),
        Field(
            id="vlans",
            heading="VLAN",
            may_write="2-4094, range, list, any",
            explains="No number twice in a lab; where VLAN numbers may repeat, on a switch.",
            read=cells.vlan_numbers,
            drawn_for="trainee",
            width=14,
        ),
        Field(
            id="names",
            heading="Name",
            may_write="text or list",
            explains="A list is drawn from.",
            read=cells.names,
            drawn_for="trainee",
            width=24,
        ),
        Field(
            id="addresses_needed",
            heading="Addresses needed",
            may_write="number or range",
            explains="Gateway counts. The size is drawn once for the class. Within one size: 7-14, 15-30, 31-62, 63-126, "
            "127-254, 255-510.",
            read=cells.addresses_needed,
            drawn_for="class",
            width=18,
        ),
        Field(
            id="dhcp_stations",
            heading="DHCP stations",
            may_write="0 to 9",
            explains="More than 0: the network gets a pool. In a snooped network 2 or more.",
            read=cells.number(0, 9, blank=0),
            width=12,
        ),
        Field(
            id="fixed_stations",
            heading="Fixed stations",
            may_write="0 to 9",
            explains="The DHCP server is extra.",
            read=cells.number(0, 9, blank=0),
            width=12,
        ),
        Field(
            id="is_snooped",
            heading="Snooping",
            may_write="yes; no",
            explains="DHCP snooping on this VLAN.",
            read=cells.yes,
            choices=cells.YES_NO,
            width=12,
        ),
        Field(
            id="is_guarded",
            heading="Source guard",
            may_write="yes; no",
            explains="On every port with a station of this VLAN, except the server's.",
            read=cells.yes,
            choices=cells.YES_NO,
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
        Field(id="section", heading="Section", may_write="", explains="", read=cells.section, width=14),
        Field(
            id="asked",
            heading="Asked",
            may_write="yes; given; no",
            explains="given: printed with the right answers filled in",
            read=cells.word(Asked),
            choices=cells.words_of(Asked),
            width=22,
        ),
        Field(
            id="share",
            heading="Share",
            may_write="per cent of the total",
            explains="The shares of what is asked add up to 100. Inside a section what is only read off counts a fifth.",
            read=cells.per_cent(blank=0),
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
            read=cells.filled("an id"),
            width=14,
        ),
        Field(
            id="name",
            heading="Name",
            may_write="text",
            explains="Stands on the sheets. May be blank.",
            read=cells.text,
            width=30,
        ),
        Field(
            id="group",
            heading="Group",
            may_write="text, or blank",
            explains="Sorts the results.",
            read=cells.text,
            width=14,
        ),
        Field(
            id="attempt",
            heading="Attempt",
            may_write="blank or 1; 2, 3 ...",
            explains="A higher number gives a new lab.",
            read=cells.number(1, 99, blank=1),
            width=14,
        ),
        Field(
            id="is_excused",
            heading="Excused",
            may_write="yes, or blank",
            explains="Stands in the results as excused, not as missing. Set again after a change.",
            read=cells.no_unless_yes,
            choices=cells.YES_NO,
            width=14,
            may_be_missing=True,
        ),
        Field(
            id="extra_minutes",
            heading="Minutes",
            may_write="blank, or minutes more",
            explains="Extra time, printed with the rest on the trainee's sheets.",
            read=cells.number(0, 600, blank=0),
            width=14,
            may_be_missing=True,
        ),
    ),
)

TABLES = (SWITCHES, NETWORKS, MARKS, TRAINEES)
