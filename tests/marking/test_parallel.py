"""A worked example with other numbers: the same step, right in its own lab, and no word of the trainee's answer."""

from ipaddress import IPv4Address

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.lab.form import SoFar
from trainer.lab.questions import FORM, QUESTIONS, SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.parallel import Parallel

CHAIN = {"A": "", "B": "A", "C": "B"}


def labs() -> list[Scenario]:
    chosen: list[dict[str, str]] = [
        {},
        {"order": "a range a switch", "gateway": "last usable"},
        {"link_lengths": "/31"},
        {"dns_server": "the DHCP server"},
    ]
    drawn = [
        lab
        for choices in chosen
        for tables in (None, shaped(CHAIN))
        for lab in draw(exercise_of(changed(tables=tables, **choices)), 2)
    ]
    return [bakery(), *drawn]


def example(lab: Scenario, question: str, row: str) -> str:
    asked = QUESTIONS[question]
    key_row = SECTIONS[question.partition(".")[0]].row(row)
    return Parallel(lab).example(asked, key_row, SoFar(lab).value(asked, key_row))


@pytest.mark.parametrize(
    ("question", "row", "said"),
    [
        (
            "subnets.prefix",
            "50",
            "In another lab, Subnets 51: Prefix length is 26; 42 needed + network and broadcast = 44: more than 32, "
            "at most 64 = 2^6; 32 - 6 = 26.",
        ),
        (
            "stations.address",
            "Cameras",
            "In another lab, Stations Cameras: Address is 10.64.1.196; usable address no. 4 of 10.64.1.192/26.",
        ),
        ("pools.router", "40", "In another lab, Pools 41: Router is 10.64.1.1; the gateway of VLAN 41."),
    ],
)
def test_an_example_reads_like_this(question: str, row: str, said: str):
    assert example(bakery(), question, row) == said


@pytest.mark.parametrize("question", ["bindings.mac", "ports.vlan", "protection.trusted", "relays.vlan", "links.mask"])
def test_what_is_copied_or_the_same_everywhere_has_none(question: str):
    section = next(section for section in FORM if question.startswith(section.id))
    lab = bakery()
    assert all(example(lab, question, row.key) == "" for row in section.rows(lab))


def test_no_example_holds_the_answer_and_nearly_every_worked_out_cell_has_one():
    told = without = 0
    for lab in labs():
        parallel, key = Parallel(lab), SoFar(lab)
        for section in FORM:
            for row in (*section.rows(lab), *section.set_already(lab)):
                for question in section.questions_in(lab):
                    value = key.value(question, row.key)
                    words = parallel.example(question, row.key, value)
                    told += bool(words)
                    without += question.may_follow and not words
                    if isinstance(value, IPv4Address):
                        assert str(value) not in words.replace(";", " ").replace(",", " ").split(), (question.id, words)
                    elif "mask" in question.kind.name:
                        assert f"/{value}" not in words, (question.id, words)
    assert told > 5 * without > 0
