"""Mistakes of writing, common to many questions: what cannot be read, slips of one character, rows nobody asked for."""

from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import bindings, ports, routes, subnets
from trainer.lab.unreadable import TextFlaw
from trainer.marking.mistakes import address_predicates as address
from trainer.marking.mistakes.mistake import Charged, Claim, Flaw, Mistake, WrongCell, always, cannot_be_read
from trainer.marking.mistakes.question_groups import (
    ADDRESS_QUESTIONS,
    ALL_QUESTIONS,
    LEASE_QUESTIONS,
    LENGTH_QUESTIONS,
    LIST_QUESTIONS,
    NETWORK_QUESTIONS,
    OPEN_ROW_QUESTIONS,
    VLAN_QUESTIONS,
)
from trainer.network.addresses import is_reserved

__all__ = ["WRITING"]

_UNREADABLE = frozenset({Flaw.UNREADABLE})


def _has_letters(cell: WrongCell) -> bool:
    return any(character.isalpha() for character in cell.text)


def _is_name_of_vlan(cell: WrongCell) -> bool:
    return cell.text.casefold() in {vlan.name.casefold() for vlan in cell.scenario.vlans}


def _is_place_of_switch(cell: WrongCell) -> bool:
    return cell.text.casefold() in {switch.place.casefold() for switch in cell.scenario.switches}


def _is_one_character_off(cell: WrongCell) -> bool:
    """Inside the block the same may be a slip of thought, and in several rows of a column it is more than a slip."""
    if not address.is_outside_block(cell) or not _distance_is_one(str(cell.value), str(cell.expected)):
        return False
    columns = NETWORK_QUESTIONS if cell.question.id in NETWORK_QUESTIONS else {cell.question.id}
    written = (value for ref, value in cell.plan.answers.values.items() if ref.question in columns)
    return sum(value not in cell.scenario.block for value in written) == 1


def _is_one_character_off_and_no_value(cell: WrongCell) -> bool:
    return cell.expected is not None and _distance_is_one(cell.text, cell.question.kind.show(cell.expected))


def _distance_is_one(one: str, other: str) -> bool:
    """Whether one character was added, left out or changed, or two neighbours changed places."""
    if one == other or abs(len(one) - len(other)) > 1:
        return False
    start = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    rest_one, rest_other = one[start:], other[start:]
    return (
        rest_one[1:] == rest_other[1:]
        or rest_one[1:] == rest_other
        or rest_one == rest_other[1:]
        or (rest_one[:2] == rest_other[1::-1] and rest_one[2:] == rest_other[2:])
    )


def _is_mask(cell: WrongCell) -> bool:
    bits = int(cell.value)
    host_bits = bits ^ 0xFFFFFFFF
    return bits >= 0xFF000000 and host_bits > 0 and not host_bits & (host_bits + 1)


def _is_for_no_device(cell: WrongCell) -> bool:
    return is_reserved(int(cell.value))


WRITING: tuple[Mistake, ...] = (
    Mistake(
        id="value-with-a-remark",
        questions=ALL_QUESTIONS,
        priority=3,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.REMARK),
        explanation="{given} is a value and a comment in one cell, which counts as two things and so as none.",
        consequence="A device takes the value alone and refuses the rest.",
        claim=Claim.NONE,
        hint="Which part of it would you type into the device?",
        source="common practice, no source",
    ),
    Mistake(
        id="two-values",
        questions=ALL_QUESTIONS - LIST_QUESTIONS,
        priority=1,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.TWO_VALUES),
        explanation="{given} cannot be read as one value, so it counts as none: write it as the Brief shows.",
        consequence="A device takes one value for a setting and refuses the rest.",
        claim=Claim.NONE,
        hint="Which one value do you mean, and how does the Brief write it?",
        source="how to write in this lab; common practice, no source",
    ),
    Mistake(
        id="placeholder-left",
        questions=ALL_QUESTIONS,
        priority=2,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.PLACEHOLDER),
        explanation="{given} is a note to yourself, not an answer.",
        consequence="The setting is missing on the device, as if the cell were empty.",
        claim=Claim.NONE,
        hint="What do you know already of this value, even if not all of it?",
        source="common practice, no source",
    ),
    Mistake(
        id="address-number-too-large",
        questions=ADDRESS_QUESTIONS | LENGTH_QUESTIONS,
        priority=3,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.NUMBER_TOO_LARGE),
        explanation=(
            "One of the four numbers in {given} does not fit into eight bits. "
            "In a sum what is too much goes into the number before it."
        ),
        consequence="Every device refuses such a value.",
        claim=Claim.NONE,
        hint="Which is the largest number that eight bits can hold?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="address-not-four-numbers",
        questions=ADDRESS_QUESTIONS,
        priority=4,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.NOT_FOUR_NUMBERS),
        explanation="{given} is not an address: there are four numbers in one, with dots between them.",
        consequence="Every device refuses such a value.",
        claim=Claim.NONE,
        hint="Which number got lost, or which one is too many?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="address-leading-zero",
        questions=ADDRESS_QUESTIONS | LENGTH_QUESTIONS,
        priority=5,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.LEADING_ZERO),
        explanation="A number in {given} starts with a zero. Some devices read such a number in base eight.",
        consequence="Two devices can take the same text for two different addresses.",
        claim=Claim.NONE,
        hint="How is the number written without its zero in front?",
        source="common practice, no source",
    ),
    Mistake(
        id="not-an-address",
        questions=ADDRESS_QUESTIONS,
        priority=7,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=_has_letters,
        explanation="{given} is not an address. This cell wants four numbers with dots between them, no name.",
        consequence="Every device refuses such a value.",
        claim=Claim.NONE,
        hint="Which address belongs to what you named here?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="vlan-by-name",
        questions=VLAN_QUESTIONS,
        priority=3,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=_is_name_of_vlan,
        explanation="{given} is the name of a VLAN. This cell wants its number.",
        consequence="Frames carry the number alone; a name means something on one switch only.",
        claim=Claim.NONE,
        hint="Which number stands beside this name in table Networks?",
        source="RFC 4363 VlanId",
    ),
    Mistake(
        id="switch-by-place",
        questions=frozenset({routes.ROUTE_SWITCH.id}),
        priority=3,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=_is_place_of_switch,
        explanation="{given} is where the switch stands. This cell wants its letter.",
        consequence="Nobody can tell from the row on which device the route is to be set.",
        claim=Claim.NONE,
        hint="Which letter has the switch at that place?",
        source="how to write in this lab; common practice, no source",
    ),
    Mistake(
        id="port-without-switch",
        questions=frozenset({bindings.BINDING_PORT.id}),
        priority=3,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.PORT_WITHOUT_SWITCH),
        explanation=(
            "{given} may be a port of any switch. "
            "The rows of all switches stand together here, so the letter is needed."
        ),
        consequence="The row cannot be entered: every switch has a table of its own.",
        claim=Claim.NONE,
        hint="Which switch does the cable of this station end at?",
        source="RFC 7513 section 5; the form of writing: common practice, no source",
    ),
    Mistake(
        id="port-number-left-out",
        questions=frozenset({bindings.BINDING_PORT.id}),
        priority=3,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.SWITCH_WITHOUT_PORT),
        explanation="{given} names a switch. A binding row holds for one port of it.",
        consequence="Without its port the row would let an address in anywhere, so no switch takes it.",
        claim=Claim.NONE,
        hint="At which port of that switch is the station plugged in?",
        source="RFC 7513 section 5",
    ),
    Mistake(
        id="mac-incomplete",
        questions=frozenset({bindings.BINDING_MAC.id}),
        priority=3,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.TOO_FEW_DIGITS),
        explanation="{given} has too few digits for a MAC address. It needs twelve hexadecimal ones.",
        consequence="The switch refuses the row, so the station behind the port has no row.",
        claim=Claim.NONE,
        hint="Which digits are missing when you compare it with table Stations pair by pair?",
        source="RFC 9542 section 1.1",
    ),
    Mistake(
        id="mac-too-long",
        questions=frozenset({bindings.BINDING_MAC.id}),
        priority=3,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.TOO_MANY_DIGITS),
        explanation="{given} has more digits than a MAC address. It needs twelve hexadecimal ones.",
        consequence="The switch refuses the row, so the station behind the port has no row.",
        claim=Claim.NONE,
        hint="Which digit or pair is there twice when you compare it with table Stations?",
        source="RFC 9542 section 1.1",
    ),
    Mistake(
        id="binding-mac-format",
        questions=frozenset({bindings.BINDING_MAC.id}),
        priority=4,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.NOT_HEXADECIMAL),
        explanation="{given} holds a character that is no hexadecimal digit.",
        consequence="The switch refuses the row, so the station behind the port has no row.",
        claim=Claim.NONE,
        hint="Which letters are digits in base sixteen, and is each of yours one of them?",
        source="RFC 9542 section 1.1",
    ),
    Mistake(
        id="lease-is-clock-time",
        questions=LEASE_QUESTIONS,
        priority=3,
        charged=Charged.ONCE,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.CLOCK_TIME),
        explanation=("{given} is a time of day. A lease is how long a client may keep an address, with its unit."),
        consequence="The server counts from the moment of the grant and knows no clock time.",
        claim=Claim.NONE,
        hint="How long may a client keep its address, and in which unit is that?",
        source="RFC 2131 section 3.3; RFC 2132 section 9.2",
    ),
    Mistake(
        id="list-says-all",
        questions=LIST_QUESTIONS,
        priority=3,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=cannot_be_read(TextFlaw.SAYS_ALL),
        explanation=(
            "{given} is a word, and this cell wants numbers. What a word takes in changes with every port "
            "and VLAN that is added."
        ),
        consequence="A protection set for everything lets in what it should stop, or stops what should pass.",
        claim=Claim.NONE,
        hint="Which numbers can you give a reason for, one by one?",
        source="RFC 7513 section 4.2.2",
    ),
    Mistake(
        id="unknown-word-for-a-port",
        questions=frozenset({ports.PORT_VLAN.id}),
        priority=6,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=_has_letters,
        explanation=(
            "{given} does not say what this port carries. Every port of this lab either is in one VLAN or is a link's."
        ),
        consequence="The port stays unconfigured, and what is plugged in there is cut off.",
        claim=Claim.NO_ANSWER,
        hint="What is at the other end of this cable: a station or a switch?",
        source=f"rule {HouseRule.PORTS} of this lab; common practice, no source",
    ),
    Mistake(
        id="address-holds-mask",
        questions=ADDRESS_QUESTIONS,
        priority=5,
        charged=Charged.EACH_TIME,
        fits=_is_mask,
        explanation="{given} is a mask, and this column asks for an address.",
        consequence="No device can have such an address, so nothing answers there.",
        claim=Claim.NONE,
        hint="In which column of this row does the mask stand?",
        source="RFC 4632 section 3.1",
    ),
    Mistake(
        id="address-of-no-device",
        questions=ADDRESS_QUESTIONS - NETWORK_QUESTIONS - {routes.DESTINATION.id},
        priority=18,
        charged=Charged.EACH_TIME,
        fits=_is_for_no_device,
        explanation="{given} lies in a range of addresses that is given to no device.",
        consequence="No device can be given such an address, and nothing answers there.",
        claim=Claim.NONE,
        hint="What do addresses stand for that start like this one: one device, the device itself, or a group?",
        source="RFC 1122 section 3.2.1.3; RFC 1112 section 4; RFC 6890 section 2.2.2",
    ),
    Mistake(
        id="address-outside-block",
        questions=ADDRESS_QUESTIONS - {subnets.NETWORK_ADDRESS.id},
        priority=19,
        charged=Charged.EACH_TIME,
        fits=address.is_outside_block,
        explanation="{given} is not in the address block of this lab. All addresses of the plan come from there.",
        consequence="It is not the lab's to use, and no network set up by the rules holds it.",
        claim=Claim.NONE,
        hint="Which are the first and the last address of the block on sheet Given?",
        source=f"rule {HouseRule.BLOCK} of this lab; common practice, no source",
    ),
    Mistake(
        id="typing-slip",
        questions=ADDRESS_QUESTIONS,
        priority=6,
        charged=Charged.EACH_TIME,
        fits=_is_one_character_off,
        explanation=(
            "{given} is outside the block of this lab, and one character away from a right answer. "
            "It may be a slip of the keyboard."
        ),
        consequence="What is written counts: another digit is another address.",
        claim=Claim.NONE,
        hint="Do you get the same when you read the address aloud, digit by digit?",
        source="common practice, no source",
    ),
    Mistake(
        id="typing-slip-unreadable",
        questions=ALL_QUESTIONS,
        priority=20,
        charged=Charged.EACH_TIME,
        flaws=_UNREADABLE,
        fits=_is_one_character_off_and_no_value,
        explanation=(
            "{given} cannot be read as it stands, and is one character away from a right answer. "
            "It may be a slip of the keyboard."
        ),
        consequence="The device refuses what is written.",
        claim=Claim.NONE,
        hint="Do you get the same when you read it aloud, character by character?",
        source="common practice, no source",
    ),
    Mistake(
        id="row-not-asked",
        questions=OPEN_ROW_QUESTIONS,
        priority=90,
        charged=Charged.EACH_TIME,
        flaws=frozenset({Flaw.EXTRA}),
        fits=always,
        explanation="No rule of the Brief asks for this row.",
        consequence="What it says is not part of the plan.",
        claim=Claim.NONE,
        hint="Which rule of the Brief did you write this row for?",
        source="rules of this lab; common practice, no source",
    ),
)
