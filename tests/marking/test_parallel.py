"""A worked example with other numbers: the same step, right in its own lab, and no word of the trainee's answer."""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.lab.form import SoFar
from trainer.lab.questions import FORM, QUESTIONS, SECTIONS, cell_called, pools, subnets
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
    asked, key_row = QUESTIONS[question], cell_called(question, row).row
    return Parallel(lab).example(asked, key_row, SoFar(lab).value(asked, key_row))


@pytest.mark.parametrize(
    ("question", "row", "said"),
    [
        (
            "subnets.prefix",
            "50",
            "In another lab, Subnets 51: Prefix length is 29; 6 needed + network and broadcast = 8: more than 4, at most 8 = "
            "2^3; 32 - 3 = 29.",
        ),
        (
            "stations.address",
            "Cameras",
            "In another lab, Stations Cameras: Address is 10.64.3.132; usable address no. 4 of 10.64.3.128/29.",
        ),
        ("pools.router", "40", "In another lab, Pools 41: Router is 10.64.0.1; the gateway of VLAN 41."),
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


def test_no_number_of_an_example_lies_at_a_fixed_distance_from_the_right_one():
    """Once the length was always one bit off and the lease one hour more."""
    lengths: dict[int, set[int]] = {}
    leases = set()
    for number in range(40):
        lab = replace(bakery(), lab_number=f"BUN-{number:04}")
        for row in SECTIONS["subnets"].rows(lab):
            own = SoFar(lab).value(subnets.PREFIX_LENGTH_OF, row.key)
            said = Parallel(lab).example(subnets.PREFIX_LENGTH_OF, row.key, own)
            lengths.setdefault(own, set()).add(int(said.partition("Prefix length is ")[2].partition(";")[0]) - own)
        lease = Parallel(lab).example(pools.POOL_LEASE, subnets.row_of(20), lab.lease_hours * 3600)
        leases.add(int(lease.partition("Lease is ")[2].partition(" h")[0]) - lab.lease_hours)
    assert all(len(found) >= 3 and 0 not in found for found in lengths.values())
    assert len(leases) > 10
    assert 0 not in leases
