"""Kinds of value: what people type is read as they mean it, the rest is refused for a reason, and nothing else ever happens."""

from ipaddress import IPv4Address
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from refused_texts import REFUSED

from trainer.lab.kinds import (
    ADDRESS,
    BINDING_TYPE,
    DOTTED_MASK,
    INFINITE,
    LEASE,
    MAC,
    MASK,
    PORT,
    PORT_SET,
    PORT_USE,
    PREFIX_LENGTH,
    ROUTE_MASK,
    ROUTED,
    SWITCH,
    VLAN,
    VLAN_SET,
    BindingType,
    Kind,
    tidy,
    why_unreadable,
)
from trainer.lab.questions import SECTIONS
from trainer.lab.repair.kinds import COLUMN, FAULT_KIND, FAULT_NUMBERS, FREE_TEXT, LINE, OUTCOME, TEST_NAME
from trainer.lab.repair.sheet import FaultKind, OutcomeOfTest
from trainer.lab.unreadable import NotReadable, TextFlaw, Unreadable
from trainer.network.addresses import Mac
from trainer.network.devices import PortName, PortRef, SwitchName

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LENGTHS = st.integers(0, 32)
VLANS = st.integers(0, 4095)
PORTS = st.integers(0, 999).map(lambda number: PortName(str(number)))
HOURS = st.integers(1, 8760).map(lambda hours: hours * 3600)
VALUES: list[tuple[Kind[Any], st.SearchStrategy[Any]]] = [
    (ADDRESS, st.ip_addresses(v=4)),
    (DOTTED_MASK, LENGTHS),
    (MASK, LENGTHS),
    (ROUTE_MASK, LENGTHS),
    (PREFIX_LENGTH, LENGTHS),
    (VLAN, VLANS),
    (PORT_USE, st.one_of(VLANS, st.just(ROUTED))),
    (PORT, st.builds(PortRef, st.sampled_from(LETTERS).map(SwitchName), PORTS)),
    (PORT_SET, st.frozensets(PORTS, max_size=30)),
    (VLAN_SET, st.frozensets(VLANS, max_size=30)),
    (MAC, st.binary(min_size=6, max_size=6).map(lambda octets: Mac(octets.hex("-").upper()))),
    (LEASE, st.one_of(HOURS, st.integers(0, 10**9 - 1), st.just(INFINITE))),
    (SWITCH, st.sampled_from(LETTERS).map(SwitchName)),
    (BINDING_TYPE, st.sampled_from(BindingType)),
    (LINE, st.builds(lambda letter, number: f"{letter}{number}", st.sampled_from(LETTERS), st.integers(1, 999))),
    (TEST_NAME, st.integers(1, 99).map(lambda number: f"T{number}")),
    (FAULT_NUMBERS, st.frozensets(st.integers(1, 9), max_size=3)),
    (FAULT_KIND, st.sampled_from(FaultKind)),
    (OUTCOME, st.sampled_from(OutcomeOfTest)),
    (COLUMN, st.sampled_from(["Next hop", "Gateway", "row"])),
    (FREE_TEXT, st.sampled_from(["10.0.0.1", "/26", "10.0.0.0 /26 10.0.1.2"])),
]
KINDS = [kind for kind, _ in VALUES]
B7 = PortRef(SwitchName("B"), PortName("7"))


def read(kind: Kind[Any], typed: str) -> Any:
    """What a typed text is read as, tidied before as every cell is."""
    return kind.read(tidy(typed))


def ports(*numbers: int) -> frozenset[PortName]:
    return frozenset(PortName(str(number)) for number in numbers)


def test_every_kind_of_the_form_is_tried_here():
    used = {question.kind.name for section in SECTIONS.values() for question in section.questions}
    assert used == {kind.name for kind in KINDS}


# --- Shown and read again ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "values"), VALUES, ids=[kind.name for kind in KINDS])
def test_a_value_that_is_shown_and_read_again_is_the_same(kind: Kind[Any], values: st.SearchStrategy[Any]):
    @given(values)
    def holds(value: Any) -> None:
        assert read(kind, kind.show(value)) == value

    holds()


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_the_example_of_a_kind_is_written_as_it_is_shown(kind: Kind[Any]):
    assert kind.show(kind.read(kind.example)) == kind.example


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_every_choice_of_a_kind_is_written_as_it_is_shown(kind: Kind[Any]):
    assert tuple(kind.show(kind.read(choice)) for choice in kind.choices) == kind.choices


# --- What people type -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "tidied"),
    [
        ("  10.0.0.1\t", "10.0.0.1"),
        ("10.0.0.1\n", "10.0.0.1"),
        ("\u00a010.0.0.1\u00a0", "10.0.0.1"),
        ("6\u202fh", "6 h"),
        ("a \r\n  b", "a b"),
        ("\ufeff10.0.0.1", "10.0.0.1"),
        ("10.\u200b0.0.\u00ad1", "10.0.0.1"),
        ("１０．０．０．１", "10.0.0.1"),
        ("／２６", "/26"),
        ("٢٦", "26"),
        ("۲۶", "26"),
        ("२६", "26"),
        ("3\u20135", "3-5"),
        ("3\u20115", "3-5"),
        ("3\u22125", "3-5"),
        ("3\u20145", "3-5"),
        ("'24", "24"),
        ("' 24", "24"),
        ("''24", "'24"),
        ("", ""),
        (" \u00a0\n\u200b", ""),
    ],
)
def test_blanks_digits_dashes_and_an_apostrophe_are_tidied(typed: str, tidied: str):
    assert tidy(typed) == tidied


READ: list[tuple[Kind[Any], str, Any]] = [
    *(
        (ADDRESS, typed, IPv4Address("10.20.2.1"))
        for typed in (
            "10.20.2.1",
            " 10.20.2.1 ",
            "\u00a010.20.2.1\n",
            "１０．２０．２．１",
            "١٠.٢٠.٢.١",
            "'10.20.2.1",
            "10.20.2.1/25",
            "10.20.2.1 / 25",
            "10 . 20 . 2 . 1",
            "10,20,2,1",
        )
    ),
    (ADDRESS, "0.0.0.0", IPv4Address(0)),
    *(
        (DOTTED_MASK, typed, 26)
        for typed in ("255.255.255.192", " 255.255.255.192\u00a0", "'255.255.255.192", "255.255.255.192/26")
    ),
    (DOTTED_MASK, "0.0.0.0", 0),
    (DOTTED_MASK, "255.255.255.255", 32),
    *(
        (kind, typed, 26)
        for kind in (MASK, ROUTE_MASK, PREFIX_LENGTH)
        for typed in ("26", "/26", "/ 26", " 26 ", "26.0", "'26", "'/26", "/２６", "٢٦", "026", "255.255.255.192")
    ),
    (ROUTE_MASK, "/0", 0),
    (ROUTE_MASK, "0.0.0.0", 0),
    *(
        (VLAN, typed, 120)
        for typed in (
            *("120", "120.0", "VLAN 120", "vlan120", "Vlan-120", "VLAN: 120", "VLAN #120", "'120", "0120"),
            *("\u00a0120", "１２０", "١٢٠", "VLAN\u00a0120", "vlan \u2013 120"),
        )
    ),
    (VLAN, "4095", 4095),
    (VLAN, "5000", 5000),
    *((PORT_USE, typed, ROUTED) for typed in ("routed", "Routed", " ROUTED ", "routed port", "'routed")),
    *((PORT_USE, typed, 120) for typed in ("120", "VLAN 120", "120.0")),
    *(
        (PORT, typed, B7)
        for typed in (
            *("B/7", "b/7", "b7", "B7", "B 7", "B-7", "B\u20137", "B:7", "B.7", "B / 7", "B/07", "'B/7"),
            *("port B/7", "Port b7", "B port 7", "Ｂ／７", "B/٧"),
        )
    ),
    *(
        (PORT_SET, typed, ports(3, 5, 9))
        for typed in (
            *("3, 5, 9", "3,5;9", "9 5 3", "3;5;9", "3 + 5 + 9", "3, 5 and 9", "ports 3, 5, 9", "3, 5, 9,", "3,5,9."),
            *(
                "B/3, B/5, B/9",
                "b/3 b/5 b/9",
                "3,3,5,9",
                "'3, 5, 9",
                "3.0, 5, 9",
                "３，５，９",
                "03, 05, 09",
                "3\n5\n9",
            ),
        )
    ),
    *((PORT_SET, typed, ports(3, 4, 5)) for typed in ("3-5", "3\u20135", "3 - 5", "3 \u2212 5", "B/3-B/5", "3, 4-5")),
    *((PORT_SET, typed, ports()) for typed in ("none", "None", "-", "\u2013", "no", "nothing", "n/a", "empty")),
    (PORT_SET, "7.0", ports(7)),
    *((PORT_SET, typed, ports(3, 5)) for typed in ("B3, B5", "b 3 b 5", "AB3, AB/5")),
    *(
        (VLAN_SET, typed, frozenset({110, 111, 120}))
        for typed in (
            "110, 111, 120",
            "120 110-111",
            "110\u2013111;120",
            "VLAN 110, VLAN 111, VLAN 120",
            "VLANs 110-111 and 120",
        )
    ),
    (VLAN_SET, "none", frozenset()),
    *(
        (MAC, typed, "02-00-5E-00-53-0A")
        for typed in (
            "02-00-5E-00-53-0A",
            "02:00:5e:00:53:0a",
            "0200.5e00.530a",
            "02005E00530A",
            "02 00 5E 00 53 0A",
            "0200-5e00-530a",
            "02\u201300\u20135E\u201300\u201353\u20130A",
            "'02005e00530a",
            "０２-00-5E-00-53-0A",
            "\u00a002-00-5e-00-53-0a\n",
        )
    ),
    *(
        (LEASE, typed, 21_600)
        for typed in (
            *("6 h", "6h", "6 H", "6 hours", "6 hrs", "6 h.", "6\u00a0h", "6.0 h", "6,0 h", "0.25 d"),
            *("360 min", "360min", "360 m", "360 minutes", "21600 s", "21600 sec", "21600", "21600.0", "'6 h", "٦ h"),
        )
    ),
    (LEASE, "6", 6),
    (LEASE, "2.5 h", 9_000),
    (LEASE, "1 day", 86_400),
    *(
        (LEASE, typed, INFINITE)
        for typed in (
            "no end",
            "No end",
            "infinite",
            "Infinite",
            "permanent",
            "static",
            "forever",
            "unlimited",
            "4294967295",
        )
    ),
    *((SWITCH, typed, "B") for typed in ("B", "b", " B ", "'B", "switch B", "Switch b", "Ｂ", "B (Shop)", "B(Quay 2)")),
    *((BINDING_TYPE, typed, BindingType.STATIC) for typed in ("static", "Static", "STATIC", "manual", "'static")),
    *((BINDING_TYPE, typed, BindingType.DYNAMIC) for typed in ("dynamic", "Dynamic", "DHCP", "learned", "learnt")),
]


@pytest.mark.parametrize(("kind", "typed", "value"), READ, ids=[f"{kind.name}: {typed!r}" for kind, typed, _ in READ])
def test_a_typed_text_is_read_as_it_is_meant(kind: Kind[Any], typed: str, value: Any):
    assert read(kind, typed) == value


# --- What is refused, and why -----------------------------------------------------------------------------------------


def why(kind: Kind[Any], typed: str) -> Unreadable:
    with pytest.raises(NotReadable) as refused:
        read(kind, typed)
    return why_unreadable(tidy(typed), kind, refused.value)


@pytest.mark.parametrize(
    ("kind", "typed", "flaw", "part"), REFUSED, ids=[f"{kind.name}: {typed!r}" for kind, typed, _, _ in REFUSED]
)
def test_error_a_text_that_is_no_value_is_refused_for_its_flaw(kind: Kind[Any], typed: str, flaw: TextFlaw, part: str):
    assert why(kind, typed) == Unreadable(flaw, part)


def test_every_flaw_is_tried_here():
    assert {flaw for _, _, flaw, _ in REFUSED} == set(TextFlaw)


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        (LINE, "a 7", "A7"),
        (LINE, "line B12", "B12"),
        (LINE, "H/03", "H3"),
        (TEST_NAME, "3", "T3"),
        (TEST_NAME, "test t5", "T5"),
        (FAULT_NUMBERS, "1 and 2", frozenset({1, 2})),
        (FAULT_NUMBERS, "fault 2", frozenset({2})),
        (FAULT_NUMBERS, "none", frozenset()),
        (OUTCOME, "Not answered", OutcomeOfTest.NO_ANSWER),
        (FAULT_KIND, "HARMLESS", FaultKind.HARMLESS),
    ],
)
def test_answers_about_faults_are_read_as_people_write_them(kind: Kind[Any], typed: str, value: Any):
    assert read(kind, typed) == value


TYPED = st.one_of(
    st.text(max_size=60),
    st.text(alphabet="0123456789.,;:/-+ abcfhmsABF'%=()", max_size=40),
    st.lists(
        st.sampled_from(["10.0.0.1", "255.255.255.0", "/24", "B/7", "VLAN", "port", "6 h", "none", ", ", "-", " or "]),
        max_size=5,
    ).map("".join),
)


@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_error_whatever_is_typed_is_read_or_refused_and_nothing_else(kind: Kind[Any]):
    @given(TYPED)
    @example("9" * 5000)
    @example("9" * 5000 + "." + "9" * 5000)
    @example("1,2 " * 5000)
    @example("\ud800")
    @example("=1+1")
    @example("1e400")
    @example("1_0")
    @example("2\u00b2")
    @example("\u0130/7")
    def holds(typed: str) -> None:
        text = tidy(typed)
        if not text:
            return
        try:
            value = kind.read(text)
        except NotReadable:
            return
        assert isinstance(kind.show(value), str)

    holds()


@pytest.mark.parametrize("typed", ["4294967294 s", "1193046 h", "49710 d"])
def test_a_lease_that_can_be_typed_can_be_shown_and_read_again(typed: str):
    assert read(LEASE, LEASE.show(read(LEASE, typed))) == read(LEASE, typed)


def test_error_a_lease_of_more_seconds_than_thirty_two_bits_hold_is_refused():
    """RFC 2131 3.3: times are unsigned 32-bit numbers of seconds, the highest means infinity."""
    assert why(LEASE, "49711 d").flaw is TextFlaw.TOO_LONG


@pytest.mark.parametrize("typed", ["10.0.0.1/24, 10.0.0.2/24", "10.0.0.1/24 10.0.0.2/24"])
def test_error_two_addresses_with_lengths_are_called_two_values(typed: str):
    assert why(ADDRESS, typed).flaw is TextFlaw.TWO_VALUES


@pytest.mark.parametrize(
    ("kind", "typed"), [(SWITCH, "\u0131"), (SWITCH, "\u0130"), (PORT, "\u0131/7"), (PORT, "\u0130/7")]
)
def test_error_a_letter_outside_a_to_z_is_no_switch(kind: Kind[Any], typed: str):
    with pytest.raises(NotReadable):
        read(kind, typed)
