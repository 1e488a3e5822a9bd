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
        (
            "subnets.network",
            "50",
            "rule Order: behind VLAN 40 (10.20.2.128/26, up to 10.20.2.191), at the next multiple of 32",
        ),
        ("subnets.broadcast", "10", "the last of 16 addresses: network address + 15"),
        (
            "subnets.mask",
            "30",
            "/23: 2 numbers of 255, then 7 ones: 128 + 64 + 32 + 16 + 8 + 4 + 2 = 254, then 0 for what is left",
        ),
        (
            "links.network",
            "A-B",
            "rule Order: links come last; behind VLAN 10 (10.20.2.224/28, up to 10.20.2.239), at the next multiple of 4",
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


def told_mask(ones: str) -> str:
    """The mask that a reason tells in parts."""
    full = re.search(r"(\d) numbers? of 255", ones)
    octets = ["255"] * (int(full[1]) if full else 0)
    part = re.search(r"(\d) ones?: ([\d +]*\d)(?: = (\d+))?", ones)
    if part:
        value = sum(map(int, part[2].split(" + ")))
        assert value == int(part[3] or value)
        assert len(part[2].split(" + ")) == int(part[1])
        octets.append(str(value))
    assert ("then 0 for what is left" in ones) == (len(octets) < 4)
    return ".".join([*octets, *["0"] * (4 - len(octets))])


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
            length, ones = why(lab, "subnets.mask", row).split(": ", 1)
            assert length == f"/{network.prefixlen}"
            assert told_mask(ones) == str(network.netmask)


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
