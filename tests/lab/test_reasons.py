"""Reasons: every value of the form has one, it is one short line, and what it says is true of the lab."""

import re
from ipaddress import IPv4Address, IPv4Network

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.lab.form import SoFar
from trainer.lab.questions import FORM, SECTIONS, subnets
from trainer.lab.scenario import Scenario

CHAIN = {"A": "", "B": "A", "C": "B"}
CHOICES = [
    {},
    {"order": "as listed", "gateway": "last usable", "link_lengths": "/31"},
    {"order": "a range a switch", "link_ends": "free"},
    {"order": "free", "gateway": "free"},
    {"dns_server": "the DHCP server"},
]
NETWORK = re.compile(r"\d+\.\d+\.\d+\.\d+/\d+")


def labs() -> list[Scenario]:
    drawn = [
        lab
        for choices in CHOICES
        for tables in (None, shaped(CHAIN))
        for lab in draw(exercise_of(changed(tables=tables, **choices)), 2)
    ]
    return [bakery(), *drawn]


def why(lab: Scenario, question: str, row: str) -> str:
    section = SECTIONS[question.partition(".")[0]]
    return section.question(question).reason(lab, SoFar(lab), section.row(row))


def test_every_value_has_a_reason_of_one_line():
    for lab in labs():
        key = SoFar(lab)
        for section in FORM:
            for row in (*section.rows(lab), *section.set_already(lab)):
                for question in section.questions_in(lab):
                    words = question.reason(lab, key, row.key)
                    assert 10 < len(words) < 130, (question.id, words)
                    assert "\n" not in words


@pytest.mark.parametrize(
    ("question", "row", "words"),
    [
        (
            "subnets.prefix",
            "30",
            "300 needed + network and broadcast = 302: more than 256, at most 512 = 2^9; 32 - 9 = 23",
        ),
        ("subnets.network", "30", "rule Order: it comes first, at the start of the block"),
        ("subnets.network", "50", "rule Order: behind VLAN 40 (10.20.2.128/26), at the next multiple of 32"),
        ("subnets.broadcast", "10", "the last of 16 addresses: network address + 15"),
        ("subnets.mask", "30", "/23: 2 octets of 255 and 7 ones = 254"),
        (
            "links.network",
            "A-B",
            "rule Order: links come last; behind VLAN 10 (10.20.2.224/28), at the next multiple of 4",
        ),
        ("ports.vlan", "B/23", "link A-B is plugged in: a routed port carries no VLAN"),
        ("stations.address", "Cameras", "usable address no. 4 of 10.20.2.192/27"),
        ("routes.next_hop", "A to 30", "the address of neighbour B on link A-B"),
        ("protection.trusted", "B", "messages of the DHCP server come in from switch A at B/23"),
        ("bindings.address", "Scales 2", "no. 2 of VLAN 40 to start: the first address of the pool + 1"),
    ],
)
def test_a_reason_reads_like_this(question: str, row: str, words: str):
    assert why(bakery(), question, row) == words


def test_a_way_over_several_switches_is_named():
    lab = draw(exercise_of(changed(tables=shaped(CHAIN))), 1)[0]
    far = next(vlan.number for vlan in lab.vlans if vlan.switch == "C")
    assert why(lab, "routes.next_hop", f"A to {far}") == "the address of neighbour B on link A-B (the way: A, B, C)"


def test_the_sums_in_the_reasons_are_right():
    """Checked with the standard library: sizes and masks by ipaddress, the rest by counting."""
    for lab in labs():
        key = SoFar(lab)
        for vlan in lab.vlans:
            row = subnets.row_of(vlan.id)
            network = IPv4Network(
                (str(key.value(subnets.NETWORK_ADDRESS, row)), key.value(subnets.PREFIX_LENGTH_OF, row))
            )
            numbers = list(map(int, re.findall(r"\d+", why(lab, "subnets.prefix", row))))
            needed, both, too_small, size, *_, length = numbers
            assert both == needed + 2
            assert too_small < both <= size == network.num_addresses
            assert length == network.prefixlen
            assert why(lab, "subnets.broadcast", row).endswith(f"network address + {int(network.hostmask)}")
            ones = why(lab, "subnets.mask", row)
            assert ones.split(": ")[1].rsplit(" ", 1)[-1] in (*str(network.netmask).split("."), "255")


def test_a_network_that_a_reason_names_is_one_of_the_lab_and_lies_before():
    for lab in labs():
        key = SoFar(lab)
        for vlan in lab.vlans:
            row = subnets.row_of(vlan.id)
            own = key.value(subnets.NETWORK_ADDRESS, row)
            for named in NETWORK.findall(why(lab, "subnets.network", row)):
                before = IPv4Network(named)
                assert before in {subnets.network_of(key, each.id) for each in lab.vlans}
                gap = int(own) - int(before.broadcast_address) - 1
                size = 2 ** (32 - key.value(subnets.PREFIX_LENGTH_OF, row))
                assert 0 <= gap < size
                assert int(own) % size == 0
                assert own > IPv4Address(before.network_address)
