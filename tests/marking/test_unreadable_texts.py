"""What is said of texts that are no value of their kind: the catalogue words every flaw that reading finds."""

from typing import Any

import pytest
from catalogue_labs import LAB, QUESTIONS, made, section_of, wrong_cell
from refused_texts import REFUSED

from trainer.lab.kinds import Kind, tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.unreadable import TextFlaw
from trainer.marking.mistakes.catalogue import explain
from trainer.marking.mistakes.mistake import Flaw
from trainer.marking.mistakes.neutral import UNREADABLE_TEXTS

NOT_FOUR = "is not an address: an address has four numbers with dots between them, this has"


@pytest.mark.parametrize(
    ("question", "row", "typed", "words"),
    [
        ("subnets.gateway", 2, "1, 2, 3", f"{NOT_FOUR} 1."),
        ("subnets.gateway", 2, "10..0.1", "is not an address: '' is not a number."),
        ("subnets.gateway", 2, "10.0.0.1/99", "is not an address: '1/99' is not a number."),
        ("subnets.mask", 2, "255.255", f"{NOT_FOUR} 2."),
        ("subnets.mask", 2, "255.255.255.x", "is not an address: 'x' is not a number."),
        ("subnets.mask", 2, "10.0.0.1/24", "is not a mask: it has a 0 bit before a 1 bit."),
        ("subnets.prefix", 2, "-26", "is neither a prefix length such as /26 nor a mask such as 255.255.255.192."),
        ("bindings.vlan", (3, 0), "120.5", "is not a VLAN number such as 120."),
        ("ports.vlan", (3, 0), "-7", "is neither a VLAN number nor the word routed."),
        ("bindings.port", (3, 0), "BBB/7", "is not a port: write it like B/7."),
        ("routes.switch", ("A", 2), "ABC", "is not the letter of a switch: write it like A."),
        ("protection.trusted", "B", "3..5", "is not a list of port numbers: write it like 3, 5, 9, or none."),
        ("protection.snooped", "B", "3..5", "is not a list of VLAN numbers: write it like 3, 5, 9, or none."),
        ("protection.guarded", "B", "9-3", "holds '9-3', which is no range of port numbers: write it like 3-9."),
        ("protection.snooped", "B", "4096", "holds '4096', which is no range of VLAN numbers: write it like 3-9."),
        ("bindings.mac", (3, 0), "02:00-5E:00-53:01", "is not a MAC address: it needs twelve hexadecimal digits."),
        ("pools.lease", 2, "49711 d", "is longer than a lease can be; write no end for one that has none."),
        ("bindings.type", (3, 0), "fixed", "is neither dynamic nor static."),
    ],
)
def test_error_what_no_mistake_was_made_out_in_is_called_unreadable_in_full_words(
    question: str, row: Any, typed: str, words: str
) -> None:
    said = explain(wrong_cell(LAB, question, row, typed))
    assert (said.mistake, said.explanation) == ("not-readable", f"{typed!r} {words}")


@pytest.mark.parametrize(("kind", "typed", "flaw", "_part"), REFUSED)
def test_every_flaw_is_worded_wherever_it_can_occur(kind: Kind[Any], typed: str, flaw: TextFlaw, _part: str) -> None:
    values, rows = LAB.filled()
    for cell in LAB.key.values:
        question, section = QUESTIONS[cell.question], SECTIONS[section_of(cell.question)]
        if question.kind is kind:
            row = LAB.label(section.id, cell.row)
            said = explain(
                made(LAB, section, question, Flaw.UNREADABLE, row, cell.row, tidy(typed), {**values}, {**rows})
            )
            assert said.explanation
            assert said.mistake != "not-readable" or flaw in UNREADABLE_TEXTS
