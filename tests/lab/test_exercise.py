"""Exercises: what is refused, in which words, and that nothing an instructor types can break the reader."""

import csv
import os
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from drawn_labs import changed, draw, exercise_of, shaped
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.lab.exercise import Exercise, ListedNetwork, Numbers, give_one
from trainer.lab.exercise_cells import PRIVATE_RANGES
from trainer.lab.exercise_form import SETTINGS, TABLES, RawExercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.faults import Fault, find_faults
from trainer.lab.faults.marks_and_roll import MOST_TRAINEES
from trainer.lab.repair.sheet import RepairRules
from trainer.lab.sample import HARBOUR
from trainer.lab.unread import UNREAD, Unread, known, with_values


def said(faults: Exercise | tuple[Fault, ...]) -> list[str]:
    """Each fault as a line: table, row from 0, field; what was found; what would be right; what to do."""
    if isinstance(faults, Exercise):
        return []
    return [
        f"{' '.join(str(each) for each in (fault.at.table, fault.at.row, fault.at.field) if each is not None)}: "
        f"found {fault.found}; {fault.wanted}. {fault.fix}"
        for fault in faults
    ]


def roll(*ids: str) -> dict[str, tuple[dict[str, str], ...]]:
    return {"trainees": tuple({"id": each, "name": "", "group": "", "attempt": ""} for each in ids)}


def test_the_sample_has_no_fault():
    assert said(read_exercise(HARBOUR)) == []


# --- Faults, one at a time --------------------------------------------------------------------------------------------

FAULTS = [
    pytest.param(
        changed(code="AB"),
        [
            "exercise code: found 'AB'; "
            "a code has 3 to 20 letters, digits and hyphens, and starts with a letter or digit. Write one such as HARBOUR-2."
        ],
        id="a code that is too short",
    ),
    pytest.param(
        changed(code="HARBOUR 2"),
        [
            "exercise code: found 'HARBOUR 2'; "
            "a code has 3 to 20 letters, digits and hyphens, and starts with a letter or digit. Write one such as HARBOUR-2."
        ],
        id="a code with a blank in it",
    ),
    pytest.param(
        changed(no_fault="yes", level="2"),
        [
            "exercise level: found a value, with Kind plan; this stands here only where Kind is faults. "
            "Write faults under Kind, or leave this blank.",
            "exercise no_fault: found a value, with Kind plan; this stands here only where Kind is faults. "
            "Write faults under Kind, or leave this blank.",
        ],
        id="faults to find, and their kind not said",
    ),
    pytest.param(
        changed(kind="faults", level="2", faults="3"),
        [
            "exercise faults: found a value beside a Level; a Level says this already. Leave this blank, or the Level.",
        ],
        id="a level, and a number of faults beside it",
    ),
    pytest.param(
        changed(kind="faults", faults="3", counters="no", no_fault="yes"),
        [
            "exercise decoys: found nothing, and no Level; Kind is faults, so there is a Level, or Faults, Decoys and Device "
            "counters stand here. Write a Level from 1 to 4.",
        ],
        id="how hard faults are to find, half said",
    ),
    pytest.param(
        changed(server_network="9"),
        [
            "exercise server_network: found 9; "
            "the server stands in one of the networks of sheet Networks. Write the No. of that network."
        ],
        id="the server in a network that is not there",
    ),
    pytest.param(
        changed(
            tables={"switches": HARBOUR.tables["switches"][:1], "networks": HARBOUR.tables["networks"][:2]},
            cells={("sections", 1, "asked"): "no", ("sections", 0, "share"): "25"},
        ),
        [
            "switches name: found 1 switches; an exercise has 2 to 50 switches. Add or remove rows.",
        ],
        id="one switch",
    ),
    pytest.param(
        changed(cells={("switches", 1, "station_ports"): "1-21"}),
        [
            "switches 1 link_ports: found 21-24 beside station ports 1-21; "
            "a port is for a station or for a link, not for both. Write ranges that do not meet, such as 1-20 and 21-24."
        ],
        id="a port for a station and for a link",
    ),
    pytest.param(
        changed(tables=shaped({"A": "", "B": "A", "C": "A"}), cells={("switches", 0, "link_ports"): "21"}),
        [
            "switches 0 link_ports: found 1 link ports; switch A has 2 links, and each takes a port. Write a wider range.",
        ],
        id="fewer link ports than links",
    ),
    pytest.param(
        changed(cells={("switches", 1, "station_ports"): "1-5"}),
        [
            "switches 1 station_ports: found 5 station ports; "
            "switch B has 6 stations, and each takes a port. Write a wider range, or take stations away on sheet Networks."
        ],
        id="fewer station ports than stations",
    ),
    pytest.param(
        changed(cells={("switches", 1, "linked_to"): "B"}),
        [
            "switches 1 linked_to: found 'B'; a link leads to another switch of this sheet. Write the letter of one.",
        ],
        id="a switch that is linked to itself",
    ),
    pytest.param(
        changed(tables=shaped({"A": "", "B": "A", "C": "A, B"})),
        [
            "switches 2 linked_to: found a link between C and B; "
            "the two are joined already, and a ring of switches has no single right set of routes. "
            "Take one link of the ring away."
        ],
        id="a ring of three switches",
    ),
    pytest.param(
        changed(cells={("switches", 0, "linked_to"): "B"}),
        [
            "switches 1 linked_to: found a link between B and A; "
            "the two are joined already, and a ring of switches has no single right set of routes. "
            "Take one link of the ring away."
        ],
        id="two links between two switches",
    ),
    pytest.param(
        changed(tables=shaped({"A": "", "B": "A", "C": ""})),
        [
            "switches 2 linked_to: found no link to the other switches; "
            "every switch is joined to the rest, directly or through others. Write the letter of the switch it is linked to."
        ],
        id="a switch that no link leads to",
    ),
    pytest.param(
        changed(tables={"networks": ()}),
        [
            (
                "exercise server_network: found 1; "
                "the server stands in one of the networks of sheet Networks. Write the No. of that network."
            ),
            "networks number: found no network; an exercise has at least one network. Fill in a row.",
            *(
                f"sections {row} asked: found yes; no network of this exercise gives that sheet a row, "
                "so nobody could earn its share. Write no, or change sheet Networks."
                for row in (4, 5, 6, 8)
            ),
        ],
        id="no network",
    ),
    pytest.param(
        changed(cells={("networks", 4, "number"): "3"}),
        [
            "networks 4 number: found 3; no number stands twice. Write a free number.",
        ],
        id="two networks with one number",
    ),
    pytest.param(
        changed(cells={("networks", 4, "switch"): "D"}),
        [
            "networks 4 switch: found 'D'; a network is on a switch of sheet Switches. Write one of A, B.",
        ],
        id="a network on a switch that is not there",
    ),
    pytest.param(
        changed(cells={("networks", 1, "vlans"): "300", ("networks", 3, "vlans"): "300"}),
        [
            "networks 3 vlans: found 300; "
            "every network of a lab has a VLAN number of its own, and the other rows need these. "
            "Write a VLAN number that is free, or a wider choice."
        ],
        id="two networks that want the same VLAN",
    ),
    pytest.param(
        changed(cells={("networks", row, "vlans"): "300-301" for row in (0, 2, 4)}),
        [
            "networks 4 vlans: found 300-301; "
            "every network of a lab has a VLAN number of its own, and the other rows need these. "
            "Write a VLAN number that is free, or a wider choice."
        ],
        id="three networks that want the same two VLANs",
    ),
    pytest.param(
        changed(cells={("networks", 4, "names"): "Cranes"}),
        [
            "networks 4 names: found Cranes; "
            "every network of a lab has a name of its own, and the other rows need these. "
            "Write a name that is free, or a wider choice."
        ],
        id="two networks with one name",
    ),
    pytest.param(
        changed(cells={("networks", 4, "names"): "Cranes 1"}),
        [
            "networks 4 names: found 'Cranes 1'; "
            "stations are named after their network, and 'Cranes 1' would be the name of two. "
            "Write a name that does not end in a number.",
        ],
        id="a network with the name of another's station",
    ),
    pytest.param(
        changed(cells={("networks", 4, "names"): "Tills, b"}),
        [
            "networks 4 names: found 'b'; "
            "a switch is called so, capital or small letters alike, and reports call both by their names alone. "
            "Write another name.",
        ],
        id="a network with the name of a switch",
    ),
    pytest.param(
        changed(cells={("networks", 4, "names"): "DHCP server"}),
        [
            "networks 4 names: found 'DHCP server'; "
            "stations are named after their network, and 'DHCP server' would be the name of two. "
            "Write a name that does not end in a number.",
        ],
        id="a network with the name of the server",
    ),
    pytest.param(
        changed(block_length="/24"),
        [
            "exercise block_length: found /24; "
            "the networks of a lab take a block of /22. Write /22 or shorter, or the word smallest."
        ],
        id="a block that is too small",
    ),
    pytest.param(
        changed(address_ranges="192.168.4.0/23"),
        [
            "exercise address_ranges: found 192.168.4.0/23; "
            "the networks of a lab take a block of /22, and no range holds one. "
            "Write a shorter prefix, such as 172.16.0.0/12, or ask for smaller networks."
        ],
        id="a block that no range holds",
    ),
    pytest.param(
        changed(cells={("networks", 4, "addresses_needed"): "2", ("networks", 4, "fixed_stations"): "2"}),
        [
            "networks 4 addresses_needed: found 2; "
            "the gateway and 2 stations take 3 addresses. Write a higher number, or take stations away."
        ],
        id="a gateway and stations that do not fit",
    ),
    pytest.param(
        changed(kept_for_fixed="2", cells={("networks", 4, "fixed_stations"): "2"}),
        [
            "networks 4 fixed_stations: found 2 stations with a fixed address, the DHCP server counted; "
            "of the usable addresses reserved for them, 1 are left beside the gateway. "
            "Take stations away, or raise 'Reserved for static' on sheet Exercise."
        ],
        id="more fixed stations than kept addresses",
    ),
    pytest.param(
        changed(gateway="last usable", kept_for_fixed="1", cells={("networks", 4, "fixed_stations"): "2"}),
        [
            "networks 4 fixed_stations: found 2 stations with a fixed address, the DHCP server counted; "
            "of the usable addresses reserved for them, 1 are left beside the gateway. "
            "Take stations away, or raise 'Reserved for static' on sheet Exercise."
        ],
        id="more fixed stations than kept addresses, gateway last",
    ),
    pytest.param(
        changed(
            kept_for_fixed="29",
            cells={("networks", 4, "addresses_needed"): "30", ("networks", 4, "dhcp_stations"): "2"},
        ),
        [
            "networks 4 addresses_needed: found 30; "
            "with 29 addresses reserved for static stations, its pool is too small to serve so many. "
            "Write numbers of 31-35, or lower 'Reserved for static' on sheet Exercise."
        ],
        id="a pool that is too small",
    ),
    pytest.param(
        changed(
            kept_for_fixed="28",
            gateway="last usable",
            cells={("networks", 4, "addresses_needed"): "30", ("networks", 4, "dhcp_stations"): "2"},
        ),
        [
            "networks 4 addresses_needed: found 30; "
            "with 28 addresses reserved for static stations, its pool is too small to serve so many. "
            "Write numbers of 31-35, or lower 'Reserved for static' on sheet Exercise."
        ],
        id="a pool that is too small, gateway last",
    ),
    pytest.param(
        changed(cells={("networks", 1, "addresses_needed"): "55-62, 118-120"}),
        [
            "networks 1 addresses_needed: found 55-62, 118-120; "
            "with 10 addresses reserved for static stations, its pool is too small to serve so many. "
            "Write numbers of 31-53, 63-117, 127-245, or lower 'Reserved for static' on sheet Exercise."
        ],
        id="a range of which no number leaves the pool large enough",
    ),
    pytest.param(
        changed(gateway="free", cells={("networks", 1, "addresses_needed"): "117"}),
        [
            "networks 1 addresses_needed: found 117; "
            "with 10 addresses reserved for static stations, its pool is too small to serve so many. "
            "Write numbers of 63-116, 127-244, or lower 'Reserved for static' on sheet Exercise."
        ],
        id="a pool that would be too small if a free gateway stood at its end",
    ),
    pytest.param(
        changed(cells={("networks", 1, "dhcp_stations"): "1"}),
        [
            "networks 1 dhcp_stations: found 1 DHCP station alone; "
            "a snooped network with DHCP stations has two stations or more, so that a rogue server finds somebody. Write 2."
        ],
        id="a single DHCP station in a snooped network",
    ),
    pytest.param(
        changed(cells={("networks", 2, "is_snooped"): "no"}),
        [
            "networks 2 is_snooped: found no, beside source guard yes; "
            "without snooping no binding row is learnt, and source guard locks the DHCP stations out. "
            "Write yes under Snooping, or no under Source guard."
        ],
        id="guard without snooping where stations ask for leases",
    ),
    pytest.param(
        changed(cells={("networks", 0, "is_snooped"): "no"}),
        [
            "networks 0 is_snooped: found no, in the server's network; "
            "switch A snoops on other VLANs, so it snoops on the server's VLAN too. Write yes under Snooping."
        ],
        id="the server's network not snooped on a switch that snoops",
    ),
    pytest.param(
        changed(cells={("sections", 0, "share"): "10"}),
        [
            "sections share: found 90 in all; the shares of the sections that are asked add up to 100. Add 10.",
        ],
        id="shares below 100",
    ),
    pytest.param(
        changed(cells={("sections", 0, "share"): "25"}),
        [
            "sections share: found 105 in all; the shares of the sections that are asked add up to 100. Take away 5.",
        ],
        id="shares above 100",
    ),
    pytest.param(
        changed(cells={("sections", 0, "asked"): "given"}),
        [
            "sections share: found 80 in all; the shares of the sections that are asked add up to 100. Add 20.",
        ],
        id="shares of sections that are not asked do not count",
    ),
    pytest.param(
        changed(cells={("networks", row, "dhcp_stations"): "0" for row in range(5)}),
        [
            (
                "sections 5 asked: found yes; "
                "no network of this exercise gives that sheet a row, so nobody could earn its share. "
                "Write no, or change sheet Networks."
            ),
            (
                "sections 6 asked: found yes; "
                "no network of this exercise gives that sheet a row, so nobody could earn its share. "
                "Write no, or change sheet Networks."
            ),
        ],
        id="a section asked that has no row",
    ),
    pytest.param(
        changed(tables={"trainees": ()}),
        [
            "trainees id: found 0 trainees; a sitting has 1 to 10000 trainees. Paste the class into this sheet: id and name.",
        ],
        id="nobody on the roll",
    ),
    pytest.param(
        changed(tables=roll("t01", "t02", "t01")),
        [
            "trainees 2 id: found 't01'; no two trainees have the same id, capital or small letters alike. Write another id.",
        ],
        id="two trainees with one id",
    ),
    pytest.param(
        changed(tables=roll("t01", "T01")),
        [
            "trainees 1 id: found 'T01'; no two trainees have the same id, capital or small letters alike. Write another id.",
        ],
        id="two ids that differ in case only",
    ),
    pytest.param(
        changed(tables=roll("../t01")),
        [
            "trainees 0 id: found '../t01'; "
            "an id stands in file names: 1 to 20 letters a to z, digits, hyphens, underscores and dots inside. "
            "Write one such as h01."
        ],
        id="an id that no file can be called",
    ),
    pytest.param(
        changed(tables=roll("Zoë Ankersø")),
        [
            "trainees 0 id: found 'Zoë Ankersø'; this looks like a name, and an id stands in file names: 1 to 20 letters a to z, "
            "digits, hyphens, underscores and dots inside. Write an id such as h01 here, and the name under Name."
        ],
        id="a name where an id stands",
    ),
    pytest.param(
        changed(cells={("sections", row, "asked"): "no" for row in range(len(HARBOUR.tables["sections"]))}),
        [
            "sections asked: found no sheet that is asked; a lab asks at least one sheet, and what is only given or left out "
            "earns nothing. Write yes beside one sheet or more, and give those 100 in all under Share."
        ],
        id="nothing is asked",
    ),
    pytest.param(
        changed(shape="star"),
        [
            "switches 1 linked_to: found A beside Shape star; on sheet Exercise a Shape joins the switches by itself, and what "
            "is linked here would have no effect. Leave this blank, or choose Shape as listed."
        ],
        id="links beside a shape",
    ),
    pytest.param(
        changed(tables=roll("t01.")),
        [
            "trainees 0 id: found 't01.'; "
            "an id stands in file names: 1 to 20 letters a to z, digits, hyphens, underscores and dots inside. "
            "Write one such as h01."
        ],
        id="an id that ends in a dot",
    ),
    pytest.param(
        changed(tables=roll("t" * 21)),
        [
            "trainees 0 id: found 'ttttttttttttttttttttt'; "
            "an id stands in file names: 1 to 20 letters a to z, digits, hyphens, underscores and dots inside. "
            "Write one such as h01."
        ],
        id="an id that is too long",
    ),
]

CELLS = [
    pytest.param(
        changed(cells={("networks", 1, "addresses_needed"): "2026-11-14"}),
        [
            "networks 1 addresses_needed: found '2026-11-14'; one value, a range or a list of numbers from 2 to 65534 stands "
            "here, and the spreadsheet program made a date of what was typed. Format the cell as Text and type it again, perhaps "
            "11-14."
        ],
        id="a range that became a date",
    ),
    pytest.param(
        changed(cells={("switches", 1, "station_ports"): "2024-01-01 00:00:00"}),
        [
            "switches 1 station_ports: found '2024-01-01 00:00:00'; one value, a range or a list of numbers from 1 to 999 stands "
            "here, and the spreadsheet program made a date of what was typed. Format the cell as Text and type it again, perhaps "
            "1-24."
        ],
        id="ports that became a date",
    ),
    pytest.param(
        changed(cells={("sections", 0, "share"): "20%"}),
        [
            "sections 0 share: found '20%'; a whole number stands here, which is per cent already; with the sign % the program "
            "keeps a hundredth of it. Format the cell as Text and write 20."
        ],
        id="a share with the sign of per cent",
    ),
    pytest.param(
        changed(cells={("sections", 0, "share"): "0.2"}),
        [
            "sections 0 share: found '0.2'; a whole number from 0 to 100 stands here, in per cent, not a part of 1. Write 20."
        ],
        id="a share as a part of 1",
    ),
    pytest.param(
        changed(cells={("networks", 1, "addresses_needed"): "/25"}),
        [
            "networks 1 addresses_needed: found '/25'; a number of addresses stands here, and /25 is the length of a prefix; /25 "
            "has room for 126. Write 126, or a range such as 63-126."
        ],
        id="a prefix length for a number of addresses",
    ),
    pytest.param(
        changed(cells={("trainees", 3, "is_excused"): "maybe"}),
        [
            "trainees 3 is_excused: found 'maybe'; yes or no stands here, or nothing. Choose one from the list, or leave the "
            "cell blank."
        ],
        id="excused or not",
    ),
    pytest.param(
        changed(code=""),
        [
            "exercise code: found nothing; a code stands here. Write one.",
        ],
        id="no code",
    ),
    pytest.param(
        changed(title=" "),
        [
            "exercise title: found nothing; a title stands here. Write one.",
        ],
        id="no title",
    ),
    pytest.param(
        changed(minutes="an hour"),
        [
            "exercise minutes: found 'an hour'; a whole number from 1 to 10000 stands here. Write one.",
        ],
        id="minutes in words",
    ),
    pytest.param(
        changed(minutes="0"),
        [
            "exercise minutes: found '0'; a whole number from 1 to 10000 stands here. Write one.",
        ],
        id="no minutes that are none",
    ),
    pytest.param(
        changed(one_lab_for_all="two each"),
        [
            "exercise one_lab_for_all: found 'two each'; "
            "one of these stands here: one each; one for all. Choose one from the list.",
        ],
        id="labs of another kind",
    ),
    pytest.param(
        changed(address_ranges="198.51.100.0/24"),
        [
            "exercise address_ranges: found '198.51.100.0/24'; "
            "only private ranges (RFC 1918) are drawn from: 10.0.0.0/8, 172.16.0.0/12, 192.168.0.0/16 or parts of them. "
            "Write one of these, with its prefix length."
        ],
        id="a public range",
    ),
    pytest.param(
        changed(address_ranges="10.0.0.0"),
        [
            "exercise address_ranges: found '10.0.0.0'; "
            "only private ranges (RFC 1918) are drawn from: 10.0.0.0/8, 172.16.0.0/12, 192.168.0.0/16 or parts of them. "
            "Write one of these, with its prefix length."
        ],
        id="a range without its length",
    ),
    pytest.param(
        changed(address_ranges="10.0.0.1/8"),
        [
            "exercise address_ranges: found '10.0.0.1/8'; "
            "private address ranges stand here (RFC 1918), and '10.0.0.1/8' is none. Write it like 172.16.0.0/12."
        ],
        id="a range with host bits",
    ),
    pytest.param(
        changed(address_ranges="10.0.0.0/8, 10.1.0.0/16"),
        [
            "exercise address_ranges: found '10.0.0.0/8, 10.1.0.0/16'; "
            "ranges do not overlap, and 10.1.0.0/16 overlaps another. Take one of them out."
        ],
        id="ranges that overlap",
    ),
    pytest.param(
        changed(address_ranges=""),
        [
            "exercise address_ranges: found nothing; "
            "private address ranges stand here (RFC 1918), and '' is none. Write it like 172.16.0.0/12."
        ],
        id="no range",
    ),
    pytest.param(
        changed(block_length="large"),
        [
            "exercise block_length: found 'large'; the word smallest or a length from /8 to /30 stands here. Write it like /21.",
        ],
        id="a block in words",
    ),
    pytest.param(
        changed(block_length="/31"),
        [
            "exercise block_length: found '/31'; the word smallest or a length from /8 to /30 stands here. Write it like /21.",
        ],
        id="a block that is too long",
    ),
    pytest.param(
        changed(order="smallest first"),
        [
            "exercise order: found 'smallest first'; "
            "one of these stands here: largest first; as listed; a range a switch; free. Choose one from the list.",
        ],
        id="an order that is none",
    ),
    pytest.param(
        changed(gateway="middle"),
        [
            "exercise gateway: found 'middle'; "
            "one of these stands here: first usable; last usable; free. Choose one from the list.",
        ],
        id="a gateway that is none",
    ),
    pytest.param(
        changed(link_lengths="/29"),
        [
            "exercise link_lengths: found '/29'; "
            "one value, a range or a list of numbers from 30 to 31 stands here. Write it like 30, 30-31, or any."
        ],
        id="a link of another length",
    ),
    pytest.param(
        changed(lease_hours="0-6"),
        [
            "exercise lease_hours: found '0-6'; "
            "one value, a range or a list of numbers from 1 to 8760 stands here. Write it like 1, 1-11, or any."
        ],
        id="a lease of no hours",
    ),
    pytest.param(
        changed(lease_hours="12-4"),
        [
            "exercise lease_hours: found '12-4'; "
            "one value, a range or a list of numbers from 1 to 8760 stands here. Write it like 1, 1-11, or any."
        ],
        id="a lease the wrong way round",
    ),
    pytest.param(
        changed(route_rule="all"),
        [
            "exercise route_rule: found 'all'; one of these stands here: any that work; one a network. Choose one from the list.",
        ],
        id="routes that are none",
    ),
    pytest.param(
        changed(follow_through="perhaps"),
        [
            "exercise follow_through: found 'perhaps'; yes or no stands here. Choose one from the list.",
        ],
        id="follow-through in another word",
    ),
    pytest.param(
        changed(reveal="all"),
        [
            "exercise reveal: found 'all'; "
            "one of these stands here: marks; hints; explanations; answers. Choose one from the list.",
        ],
        id="feedback of another kind",
    ),
    pytest.param(
        changed(pass_mark="101"),
        [
            "exercise pass_mark: found '101'; a whole number from 0 to 100 stands here. Write one.",
        ],
        id="a pass mark above 100",
    ),
    pytest.param(
        changed(cells={("switches", 1, "name"): "B2"}),
        [
            "switches 1 name: found 'B2'; the letter of a switch stands here, or the word each. Write one such as A.",
        ],
        id="a switch with two letters",
    ),
    pytest.param(
        changed(cells={("switches", 1, "places"): " , "}),
        [
            "switches 1 places: found ','; a name stands here, or a list of names to draw from. Write one.",
        ],
        id="a switch without a place",
    ),
    pytest.param(
        changed(cells={("switches", 1, "places"): "East quay" * 4}),
        [
            "switches 1 places: found 'East quayEast quayEast quayEast quay'; "
            "a name has at most 30 characters. Write a shorter one."
        ],
        id="a place with too long a name",
    ),
    pytest.param(
        changed(cells={("switches", 1, "station_ports"): "all"}),
        [
            "switches 1 station_ports: found 'all'; "
            "one value, a range or a list of numbers from 1 to 999 stands here. Write it like 1, 1-11, or any."
        ],
        id="ports in words",
    ),
    pytest.param(
        changed(cells={("switches", 1, "linked_to"): "the first"}),
        [
            "switches 1 linked_to: found 'the first'; the letter of a switch stands here. Write one such as A.",
        ],
        id="a link to a word",
    ),
    pytest.param(
        changed(cells={("networks", 1, "vlans"): "1-10"}),
        [
            "networks 1 vlans: found '1-10'; numbers from 2 to 4094 stand here; VLAN 1 is the one that every port is in from the "
            "start (IEEE 802.1Q), so labs leave it alone. Begin with 2 or higher."
        ],
        id="VLAN 1",
    ),
    pytest.param(
        changed(cells={("networks", 1, "vlans"): "4095"}),
        [
            "networks 1 vlans: found '4095'; "
            "one value, a range or a list of numbers from 2 to 4094 stands here. Write it like 2, 2-12, or any."
        ],
        id="VLAN 4095",
    ),
    pytest.param(
        changed(cells={("networks", 1, "addresses_needed"): "1"}),
        [
            "networks 1 addresses_needed: found '1'; "
            "one value, a range or a list of numbers from 2 to 65534 stands here. Write it like 2, 2-12, or any."
        ],
        id="a size of one address",
    ),
    pytest.param(
        changed(cells={("networks", 1, "dhcp_stations"): "10"}),
        [
            "networks 1 dhcp_stations: found '10'; a whole number from 0 to 9 stands here. Write one.",
        ],
        id="ten stations",
    ),
    pytest.param(
        changed(cells={("networks", 1, "fixed_stations"): "0.5"}),
        [
            "networks 1 fixed_stations: found '0.5'; a whole number from 0 to 9 stands here. Write one.",
        ],
        id="half a station",
    ),
    pytest.param(
        changed(cells={("networks", 1, "is_snooped"): "maybe"}),
        [
            "networks 1 is_snooped: found 'maybe'; yes or no stands here. Choose one from the list.",
        ],
        id="snooping in another word",
    ),
    pytest.param(
        changed(cells={("sections", 1, "asked"): "sometimes"}),
        [
            "sections 1 asked: found 'sometimes'; one of these stands here: yes; given; no. Choose one from the list.",
        ],
        id="a section asked in another word",
    ),
    pytest.param(
        changed(cells={("sections", 1, "share"): "101"}),
        [
            "sections 1 share: found '101'; a whole number from 0 to 100 stands here. Write one.",
        ],
        id="a share above 100",
    ),
    pytest.param(
        changed(cells={("trainees", 3, "id"): ""}),
        [
            "trainees 3 id: found nothing; an id stands here. Write one.",
        ],
        id="a trainee without an id",
    ),
    pytest.param(
        changed(cells={("trainees", 3, "attempt"): "0"}),
        [
            "trainees 3 attempt: found '0'; a whole number from 1 to 99 stands here. Write one.",
        ],
        id="an attempt before the first",
    ),
]


@pytest.mark.parametrize(("raw", "wanted"), FAULTS)
def test_error_an_exercise_that_cannot_be_set_says_why(raw, wanted):
    assert said(read_exercise(raw)) == wanted


@pytest.mark.parametrize(("name", "text"), [("level", "5"), ("faults", "4"), ("decoys", "4"), ("no_fault", "perhaps")])
def test_error_a_level_is_4_at_most_and_faults_and_decoys_3(name: str, text: str):
    found = read_exercise(changed(**{"kind": "faults", "level": "", name: text}))
    assert not isinstance(found, Exercise)
    assert name in [each.at.field for each in found]


def test_how_hard_faults_are_to_find_is_said_by_a_level_or_each_by_itself():
    by_hand = exercise_of(changed(kind="faults", faults="3", decoys="0", counters="no", no_fault="yes"))
    assert by_hand.repair_rules == RepairRules(
        faults=3, decoys=0, has_counters=False, may_have_none=True, has_tables=True
    )
    by_level = exercise_of(changed(kind="faults", level="4", no_fault="no"))
    assert by_level.repair_rules == RepairRules(faults=2, decoys=2, has_counters=True, has_tables=True)
    assert exercise_of(changed()).repair_rules is None


@pytest.mark.parametrize(("raw", "wanted"), CELLS)
def test_error_a_cell_that_cannot_be_read_says_what_may_stand_there(raw, wanted):
    assert said(read_exercise(raw)) == wanted


def test_error_two_switches_with_one_letter_are_refused_and_what_hangs_on_the_other_with_them():
    """Letters are read in any case, so a and A are one."""
    raw = changed(cells={("switches", 1, "name"): "a", ("switches", 1, "linked_to"): ""})
    lines = said(read_exercise(raw))
    assert lines[0] == "switches 1 name: found A; every switch has a letter of its own. Write a free letter."
    assert lines[1] == ("networks 2 switch: found 'B'; a network is on a switch of sheet Switches. Write one of A.")


def test_error_without_an_address_kept_the_gateway_would_be_in_the_pools():
    lines = said(read_exercise(changed(kept_for_fixed="0")))
    assert lines[0] == (
        "exercise kept_for_fixed: found 0; "
        "the gateway has the first usable address, so at least that one is kept out of the pools. Write 1 or more."
    )
    assert {line.split(":")[0] for line in lines[1:]} >= {f"networks {row} fixed_stations" for row in (0, 3, 4)}


def test_error_without_an_address_kept_only_networks_with_fixed_stations_are_told():
    lines = said(read_exercise(changed(kept_for_fixed="0")))
    assert [line for line in lines if "found 0 stations" in line] == []


def test_error_a_link_to_a_switch_that_is_not_there_is_refused():
    assert said(read_exercise(changed(cells={("switches", 1, "linked_to"): "Z"})))[:1] == [
        "switches 1 linked_to: found 'Z'; a link leads to another switch of this sheet. Write the letter of one."
    ]


def test_error_a_workbook_with_every_row_taken_out_is_refused_in_words():
    lines = said(read_exercise(RawExercise(settings=HARBOUR.settings, tables={table.id: () for table in TABLES})))
    assert "switches name: found 0 switches; an exercise has 2 to 50 switches. Add or remove rows." in lines
    assert "networks number: found no network; an exercise has at least one network. Fill in a row." in lines


@pytest.mark.parametrize(
    "cells",
    [
        pytest.param({("sections", 0, "section"): "Subnetz", ("sections", 1, "share"): "25"}, id="an unknown section"),
        pytest.param({("sections", 0, "section"): "Links"}, id="a section given twice"),
    ],
)
def test_error_a_section_that_is_unknown_or_stands_twice_is_refused_where_it_stands(cells):
    """The shares add up to 100 either way, so nothing else would say that sheet Subnets is not asked."""
    faults = read_exercise(changed(cells=cells))
    assert not isinstance(faults, Exercise)
    assert ("sections", "section") in {(fault.at.table, fault.at.field) for fault in faults}


def test_error_a_range_with_a_host_mask_is_refused():
    """STYLE, 'Values': ipaddress reads 10.0.0.0/0.0.0.255 as /24; RFC 4632 5.1: a mask's ones stand on the left."""
    assert not isinstance(read_exercise(changed(address_ranges="10.0.0.0/0.255.255.255")), Exercise)


def on_every_switch(cells: dict[tuple[str, int, str], str], *, switches: str = "4") -> RawExercise:
    """A chain of drawn switches, with the network of sample row 1 on every one of them."""
    return changed(
        switch_count=switches,
        shape="chain",
        tables={
            "switches": ({**HARBOUR.tables["switches"][0], "name": "each", "places": "W, X, Y, Z"},),
            "networks": HARBOUR.tables["networks"][:2],
        },
        cells={("networks", 1, "switch"): "each", **cells},
    )


@pytest.mark.parametrize("switches", ["4", "2-4"])
def test_error_a_row_for_every_switch_says_how_many_names_and_vlan_numbers_it_needs(switches: str):
    cells = {("networks", 1, "names"): "Quay", ("networks", 1, "vlans"): "300"}
    assert said(read_exercise(on_every_switch(cells, switches=switches))) == [
        "networks 1 vlans: found 300; "
        "this row makes 4 networks, one on every switch, and each has a VLAN number of its own. "
        "Write at least 4 VLAN numbers that no other row needs, with commas between them.",
        "networks 1 names: found Quay; "
        "this row makes 4 networks, one on every switch, and each has a name of its own. "
        "Write at least 4 names that no other row needs, with commas between them.",
    ]


def test_a_row_for_every_switch_with_as_many_names_as_it_needs_is_right():
    assert said(read_exercise(on_every_switch({("networks", 1, "names"): "Quay, Pier, Lock, Dock"}))) == []


def test_error_more_trainees_than_a_national_round_has_are_refused():
    exercise = exercise_of(changed())
    trainee = exercise.trainees[0]
    crowd = tuple(replace(trainee, id=f"n{number}") for number in range(MOST_TRAINEES + 1))
    assert said(find_faults(replace(exercise, trainees=crowd))) == [
        "trainees id: found 10001 trainees; a sitting has 1 to 10000 trainees. "
        "Paste the class into this sheet: id and name."
    ]
    assert said(find_faults(replace(exercise, trainees=crowd[:-1]))) == []


def test_error_more_than_fifty_switches_are_refused():
    exercise = exercise_of(changed())
    last = exercise.switches[1]
    more = tuple(
        replace(last, name=f"S{number}", places=(f"Place {number}",), linked_to=(f"S{number - 1}" if number else "B",))
        for number in range(49)
    )
    assert said(find_faults(replace(exercise, switches=(*exercise.switches, *more)))) == [
        "switches name: found 51 switches; an exercise has 2 to 50 switches. Add or remove rows."
    ]
    assert said(find_faults(replace(exercise, switches=(*exercise.switches, *more[:-1])))) == []


# --- All at once ------------------------------------------------------------------------------------------------------


def test_error_all_that_cannot_be_set_is_told_at_once_in_the_order_of_the_workbook():
    raw = changed(
        code="X",
        server_network="9",
        block_length="/24",
        cells={
            ("switches", 1, "link_ports"): "20-24",
            ("switches", 1, "linked_to"): "",
            ("networks", 1, "dhcp_stations"): "1",
            ("networks", 2, "is_snooped"): "no",
            ("networks", 4, "names"): "Cranes",
            ("sections", 0, "share"): "19",
            ("trainees", 1, "id"): "H01",
            ("trainees", 2, "id"): "h/3",
        },
    )
    assert [line.split(":")[0] for line in said(read_exercise(raw))] == [
        "exercise code",
        "exercise server_network",
        "exercise block_length",
        "switches 1 link_ports",
        "switches 1 linked_to",
        "networks 1 dhcp_stations",
        "networks 2 is_snooped",
        "networks 4 names",
        "sections share",
        "sections 1 asked",
        "trainees 1 id",
        "trainees 2 id",
    ]


def test_error_what_cannot_be_read_hides_nothing_that_can():
    """Both kinds in one list, in the order of the workbook; only checks that look at an unread column are left out."""
    raw = changed(
        code="X",
        minutes="soon",
        order="random",
        cells={
            ("switches", 0, "link_ports"): "-",
            ("networks", 1, "vlans"): "4095",
            ("networks", 2, "is_snooped"): "no",
            ("networks", 3, "vlans"): "0",
            ("networks", 4, "names"): "Cranes",
            ("sections", 2, "asked"): "?",
            ("trainees", 1, "id"): "h01",
            ("trainees", 9, "attempt"): "second",
        },
    )
    assert [line.split(":")[0] for line in said(read_exercise(raw))] == [
        "exercise minutes",
        "exercise order",
        "exercise code",
        "switches 0 link_ports",
        "networks 1 vlans",
        "networks 2 is_snooped",
        "networks 3 vlans",
        "networks 4 names",
        "sections 2 asked",
        "trainees 1 id",
        "trainees 9 attempt",
    ]


UNREADABLE = {
    ("switches", 0, "name"): "A1",
    ("switches", 1, "linked_to"): "the first",
    ("switches", 1, "station_ports"): "all",
    ("switches", 0, "link_ports"): "?",
    ("networks", 0, "number"): "one",
    ("networks", 0, "switch"): "?",
    ("networks", 0, "vlans"): "?",
    ("networks", 0, "names"): "",
    ("networks", 2, "addresses_needed"): "many",
    ("networks", 2, "dhcp_stations"): "some",
    ("networks", 2, "fixed_stations"): "some",
    ("networks", 0, "is_snooped"): "?",
    ("networks", 2, "is_guarded"): "?",
    ("sections", 1, "asked"): "?",
    ("sections", 1, "share"): "half",
    ("trainees", 0, "id"): "",
    ("trainees", 0, "attempt"): "?",
}


@pytest.mark.parametrize(
    "place",
    [pytest.param(place, id=f"{place[0]} {place[2]}") for place in UNREADABLE],
)
def test_error_a_cell_that_cannot_be_read_is_the_only_fault_where_nothing_else_is_wrong(place):
    """No other check takes the missing value for a wrong one."""
    table, row, field = place
    faults = read_exercise(changed(cells={place: UNREADABLE[place]}))
    assert not isinstance(faults, Exercise)
    assert [(fault.at.table, fault.at.row, fault.at.field) for fault in faults] == [(table, row, field)]


@pytest.mark.parametrize("field", [each.id for group in SETTINGS for each in group.fields if each.id != "date"])
def test_error_a_setting_that_cannot_be_read_is_the_only_fault_where_nothing_else_is_wrong(field):
    text = "" if field in {"code", "title"} else "?"
    faults = read_exercise(changed(**{field: text}))
    assert not isinstance(faults, Exercise)
    assert [(fault.at.table, fault.at.field) for fault in faults] == [("exercise", field)]


GUARDED = {("networks", 2, "is_snooped"): "no"}
LOCKED_OUT = (
    "networks 2 is_snooped: found no, beside source guard yes; without snooping no binding row is learnt, and source guard "
    "locks the DHCP stations out. Write yes under Snooping, or no under Source guard."
)
FEW_PORTS = {("switches", 1, "station_ports"): "1-3"}
NO_ROOM = (
    "networks 3 fixed_stations: found 1 stations with a fixed address, the DHCP server counted; "
    "of the usable addresses reserved for them, 0 are left beside the gateway. "
    "Take stations away, or raise 'Reserved for static' on sheet Exercise."
)
HIDDEN = [
    pytest.param(("networks", 1, "addresses_needed"), GUARDED, LOCKED_OUT, id="a size, and protection of another row"),
    pytest.param(
        ("networks", 1, "fixed_stations"), GUARDED, LOCKED_OUT, id="fixed stations, and protection of another row"
    ),
    pytest.param(("networks", 4, "number"), GUARDED, LOCKED_OUT, id="a number, and protection of another row"),
    pytest.param(("exercise", None, "switch_count"), GUARDED, LOCKED_OUT, id="how many switches, and protection"),
    pytest.param(
        ("networks", 1, "dhcp_stations"),
        FEW_PORTS,
        "switches 1 station_ports: found 3 station ports; switch B has 6 stations, and each takes a port. "
        "Write a wider range, or take stations away on sheet Networks.",
        id="stations of one switch, and ports of the other",
    ),
    pytest.param(
        ("networks", 1, "addresses_needed"),
        FEW_PORTS,
        "switches 1 station_ports: found 3 station ports; switch B has 6 stations, and each takes a port. "
        "Write a wider range, or take stations away on sheet Networks.",
        id="a size, and ports",
    ),
    pytest.param(
        ("networks", 0, "addresses_needed"),
        {
            ("networks", 1, "dhcp_stations"): "0",
            ("networks", 2, "dhcp_stations"): "0",
            ("networks", 3, "dhcp_stations"): "0",
        },
        "sections 5 asked: found yes; no network of this exercise gives that sheet a row, so nobody could earn its share. "
        "Write no, or change sheet Networks.",
        id="a size, and a section without rows",
    ),
    pytest.param(
        ("networks", 1, "addresses_needed"),
        {("exercise", None, "kept_for_fixed"): "1"},
        NO_ROOM,
        id="a size, and room elsewhere",
    ),
    pytest.param(
        ("networks", 0, "switch"),
        {("networks", 2, "switch"): "Z"},
        "networks 2 switch: found 'Z'; a network is on a switch of sheet Switches. Write one of A, B.",
        id="a home, and a home that is not there",
    ),
    pytest.param(
        ("networks", 0, "vlans"),
        {("networks", 2, "vlans"): "300", ("networks", 3, "vlans"): "300"},
        "networks 3 vlans: found 300; every network of a lab has a VLAN number of its own, and the other rows need these. "
        "Write a VLAN number that is free, or a wider choice.",
        id="a VLAN, and two rows with one VLAN",
    ),
    pytest.param(
        ("switches", 0, "station_ports"),
        {("switches", 1, "link_ports"): "20-24"},
        "switches 1 link_ports: found 20-24 beside station ports 1-20; a port is for a station or for a link, not for both. "
        "Write ranges that do not meet, such as 1-20 and 21-24.",
        id="ports of one switch, and ports of the other",
    ),
    pytest.param(
        ("trainees", 0, "id"),
        {("trainees", 2, "id"): "H02"},
        "trainees 2 id: found 'H02'; no two trainees have the same id, capital or small letters alike. Write another id.",
        id="an id, and an id that stands twice",
    ),
    pytest.param(
        ("sections", 1, "section"),
        {("sections", 2, "section"): "Subnets"},
        "sections 2 section: found Subnets; every sheet of the form stands here once. Take one row away.",
        id="a section, and one that stands twice",
    ),
]


def with_texts(texts: dict[tuple[str, int | None, str], str]) -> RawExercise:
    """The sample with other texts in cells and, without a row, in settings."""
    cells = {(table, row, field): text for (table, row, field), text in texts.items() if row is not None}
    return changed(cells=cells, **{field: text for (_, row, field), text in texts.items() if row is None})


def unreadable(field: str) -> str:
    return "" if field in {"id", "names", "places"} else "?!"


@pytest.mark.parametrize(("cell", "texts", "words"), HIDDEN)
def test_error_an_unreadable_cell_hides_nothing_that_does_not_depend_on_it(cell, texts, words):
    assert words in said(read_exercise(with_texts(texts)))
    assert words in said(read_exercise(with_texts({**texts, cell: unreadable(cell[2])})))


@pytest.mark.parametrize("cell", UNREADABLE, ids=lambda cell: f"{cell[0]} {cell[2]}")
def test_error_what_is_told_beside_an_unreadable_cell_is_true_whatever_was_meant_there(cell):
    """So it is told as well where the cell holds what it held before: one of all that may be meant."""
    for raw, *_ in (each.values for each in FAULTS):
        assert isinstance(raw, RawExercise)
        if cell[1] < len(raw.tables[cell[0]]):
            beside = said(read_exercise(changed(raw, cells={cell: unreadable(cell[2])})))
            own = f"{cell[0]} {cell[1]} {cell[2]}: "
            assert {line for line in beside if not line.startswith(own)} <= set(said(read_exercise(raw)))


def test_nobody_can_look_at_an_unread_field_not_even_a_method_of_the_value_itself():
    row = exercise_of(HARBOUR).networks[1]
    unread = with_values(row, dhcp_stations=UNREAD)
    assert isinstance(unread, ListedNetwork)
    assert with_values(unread, dhcp_stations=2) == row
    assert unread.fixed_stations == row.fixed_stations
    exercise = with_values(exercise_of(HARBOUR), networks=(unread,))
    for look in (lambda: unread.dhcp_stations, lambda: exercise.stations_of(unread)):
        with pytest.raises(Unread, match="dhcp_stations"):
            look()
    assert list(known((row, unread), lambda each: each.dhcp_stations)) == [(0, row.dhcp_stations)]


# --- What may be written ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "text", "value"),
    [
        ("minutes", "", None),
        ("minutes", "90.0", 90),
        ("block_length", "smallest", None),
        ("block_length", "", None),
        ("block_length", "/20", 20),
        ("block_length", "20", 20),
        ("link_lengths", "/31", Numbers(((31, 31),))),
        ("link_lengths", "any", Numbers(((30, 31),))),
        ("link_lengths", "/30, /31", Numbers(((30, 31),))),
        ("lease_hours", "4 - 12; 24", Numbers(((4, 12), (24, 24)))),
        ("lease_hours", "4–12", Numbers(((4, 12),))),
        ("follow_through", "YES", True),
        ("one_lab_for_all", "One for all", True),
        ("pass_mark", "0", 0),
        ("code", "  HARBOUR-9 ", "HARBOUR-9"),
    ],
)
def test_a_setting_is_read_in_every_way_it_may_be_written(field, text, value):
    assert exercise_of(changed(**{field: text})).parts()[field] == value


@pytest.mark.parametrize(
    ("row", "field", "text", "value"),
    [
        (1, "linked_to", "a", ("A",)),
        (1, "places", "East quay,  West quay ,", ("East quay", "West quay")),
        (1, "station_ports", "1-10, 12-22", Numbers(((1, 10), (12, 22)))),
    ],
)
def test_a_switch_is_read_in_every_way_it_may_be_written(row, field, text, value):
    raw = changed(cells={("switches", row, field): text, ("switches", row, "link_ports"): "23-24"})
    assert getattr(exercise_of(raw).switches[row], field) == value


def test_a_blank_number_of_stations_is_none_and_a_blank_attempt_the_first():
    exercise = exercise_of(changed(cells={("networks", 0, "dhcp_stations"): "", ("trainees", 0, "attempt"): ""}))
    assert (exercise.networks[0].dhcp_stations, exercise.trainees[0].attempt) == (0, 1)


def test_an_exercise_may_draw_from_every_private_range_and_no_other():
    """RFC 1918 3, RFC 6890 2.2.2: the rows called Private-Use."""
    table = Path(__file__).parents[1] / "cases" / "facts" / "special_blocks.csv"
    with table.open(encoding="utf-8", newline="") as file:
        private = [row["block"] for row in csv.DictReader(file) if row["name"] == "Private-Use"]
    assert [str(each) for each in PRIVATE_RANGES] == private


def test_links_are_named_by_the_switch_that_is_listed_first():
    assert exercise_of(changed(tables=shaped({"B": "", "A": "B", "C": "A"}))).links == (("B", "A"), ("A", "C"))


# --- Numbers to draw from ---------------------------------------------------------------------------------------------


def test_both_ends_of_a_range_count():
    numbers = Numbers(((3, 5), (9, 9)))
    assert list(numbers) == [3, 4, 5, 9]
    assert (len(numbers), numbers.lowest, numbers.highest, str(numbers)) == (4, 3, 9, "3-5, 9")
    assert [each for each in range(11) if each in numbers] == [3, 4, 5, 9]
    assert "3" not in numbers


@given(st.lists(st.sets(st.integers(0, 4), max_size=4), max_size=5))
def test_rows_get_a_value_each_if_there_is_any_way_at_all(offers):
    """Against brute force: some choice out of all has no value twice."""
    candidates = [sorted(each) for each in offers]
    possible = any(len(set(choice)) == len(choice) for choice in product(*candidates))
    taken: dict[object, int] = {}
    found = [give_one(row, candidates, taken, set()) for row in range(len(candidates))]
    assert all(found) == possible
    assert all(value in candidates[row] for value, row in taken.items())


# --- Anything at all in a cell ----------------------------------------------------------------------------------------

near_misses = st.text(alphabet="0123456789-–,;:./ abcABCyesnofirtulgv'", max_size=12)
samples = st.sampled_from(["", " ", "Z", "any", "1-", "-1", "=1+1", "#N/A", "1e3", "0x10", "١٢", "1,1,1", "B", "a, b"])
anything = st.one_of(st.text(max_size=40), near_misses, samples)
FIELDS = [("exercise", field.id) for group in SETTINGS for field in group.fields] + [
    (table.id, field.id) for table in TABLES for field in table.fields
]


@pytest.mark.parametrize("field", FIELDS, ids=" ".join)
@settings(max_examples=300 if os.environ.get("TRAINER_NIGHTLY") else 30)
@given(text=anything, row=st.integers(0, 100))
def test_any_text_in_any_cell_gives_an_exercise_or_its_faults(field, text, row):
    table, name = field
    if table == "exercise":
        raw = changed(**{name: text})
    else:
        raw = changed(cells={(table, row % len(HARBOUR.tables[table]), name): text})
    result = read_exercise(raw)
    if isinstance(result, Exercise):
        assert draw(result, 1)
    else:
        assert result
        assert all(fault.found and fault.wanted and fault.fix.endswith(".") for fault in result)
        assert all(fault.at.table in {"exercise", *HARBOUR.tables} for fault in result)


PLACES = [(table, row, field) for table, field in FIELDS if table != "exercise" for row in (0, 1)]


@settings(max_examples=200)
@given(
    texts=st.dictionaries(
        st.sampled_from([field for table, field in FIELDS if table == "exercise"]), anything, max_size=4
    ),
    cells=st.dictionaries(st.sampled_from(PLACES), anything, max_size=6),
)
def test_any_text_in_many_cells_gives_an_exercise_or_its_faults(texts, cells):
    result = read_exercise(changed(cells=cells, **texts))
    assert isinstance(result, Exercise) or result


@settings(max_examples=100)
@given(kept=st.sets(st.sampled_from([(table.id, row) for table in TABLES for row in range(3)])))
def test_any_rows_may_be_missing(kept):
    tables = {
        table.id: tuple(row for place, row in enumerate(HARBOUR.tables[table.id]) if (table.id, place) in kept)
        for table in TABLES
    }
    assert read_exercise(changed(tables=tables))
