"""Records that were written before words had codes: they are read, and mean what they meant.

tests/cases/records/ holds parts of a sitting of that time: a scenario, a register, marks, progress of practice.
"""

import json
from collections.abc import Iterator
from dataclasses import is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

from trainer.lab.coded import Coded
from trainer.lab.exercise import Shape
from trainer.lab.scenario import (
    Asked,
    GatewayPlace,
    LinkEnds,
    Order,
    Resits,
    Reveal,
    RouteRule,
    Saved,
    Scenario,
    UnknownAddresses,
)
from trainer.marking.marks import Verdict
from trainer.marking.practice import Progress
from trainer.records import RecordError, from_record, to_record
from trainer.store import GradedLab, Register

RECORDS = Path(__file__).parent / "cases" / "records"
KEPT: dict[str, Any] = {
    "scenario.json": Scenario,
    "register.json": Register,
    "marks.json": GradedLab,
    "progress.json": Progress,
}
"""What a sitting keeps, and what each file is read as."""

WORDS: dict[type[Coded], tuple[str, ...]] = {
    Order: ("largest first", "as listed", "a range a switch", "free"),
    GatewayPlace: ("first usable", "last usable", "free"),
    LinkEnds: ("first-named", "free"),
    UnknownAddresses: ("dropped", "may go in circles"),
    Resits: ("last", "best", "capped"),
    Saved: ("last", "first"),
    RouteRule: ("any that work", "one a network"),
    Reveal: ("marks", "hints", "explanations", "answers"),
    Asked: ("yes", "given", "no"),
    Shape: ("as listed", "chain", "star", "tree", "any"),
    Verdict: ("right", "follows", "partly", "wrong", "blank", "unreadable", "extra", "missing"),
}
"""The words that records held before there were codes, in the order of the members. This list never changes."""


def old(name: str) -> Any:
    return json.loads((RECORDS / name).read_text(encoding="utf-8"))


def enums_in(kind: Any, seen: set[Any]) -> Iterator[type[Enum]]:
    """Every closed set that a record of this type can hold."""
    if kind in seen:
        return
    seen.add(kind)
    if isinstance(kind, type) and issubclass(kind, Enum):
        yield kind
    inner = get_type_hints(kind).values() if is_dataclass(kind) else get_args(kind)
    for each in inner:
        yield from enums_in(each, seen)


KEPT_ENUMS = sorted({enum for kind in KEPT.values() for enum in enums_in(kind, set())}, key=lambda enum: enum.__name__)


@pytest.mark.parametrize("name", KEPT)
def test_a_record_from_before_there_were_codes_is_read_and_written_with_codes(name: str):
    value = from_record(KEPT[name], old(name))
    written = to_record(value)
    assert from_record(KEPT[name], written) == value
    assert set(written) >= set(old(name))


def test_exercise_and_lab_share_their_rules_and_records_hold_them_flat_as_ever():
    register, scenario = from_record(Register, old("register.json")), from_record(Scenario, old("scenario.json"))
    assert register.exercise.rules == scenario.rules
    for record in (to_record(register.exercise), to_record(scenario)):
        assert "rules" not in record
        assert set(to_record(scenario.rules)) <= set(record)


def test_an_old_scenario_means_what_it_meant():
    record = old("scenario.json")
    assert (record["order"], record["gateway"]) == ("largest first", "first usable")
    scenario = from_record(Scenario, record)
    assert (scenario.rules.order, scenario.rules.gateway) == (Order.LARGEST_FIRST, GatewayPlace.FIRST_USABLE)
    assert (scenario.rules.route_rule, scenario.rules.unknown_addresses) == (
        RouteRule.ANY_THAT_WORK,
        UnknownAddresses.DROPPED,
    )
    assert scenario.rules.kept_for_fixed == record["kept_for_fixed"]


def test_an_old_register_means_what_it_meant():
    register = from_record(Register, old("register.json"))
    assert (register.exercise.rules.order, register.exercise.shape) == (Order.LARGEST_FIRST, Shape.AS_LISTED)
    assert [lab.lab for lab in register.labs] == [lab["lab"] for lab in old("register.json")["labs"]]


def test_old_marks_mean_what_they_meant():
    graded = from_record(GradedLab, old("marks.json"))
    verdicts = [cell.verdict.word for cell in graded.marks.cells]
    assert verdicts == [cell["verdict"] for cell in old("marks.json")["marks"]["cells"]]
    assert len(set(verdicts)) > 4


def test_every_word_that_records_can_hold_has_a_code():
    assert set(WORDS) <= set(KEPT_ENUMS)
    assert [enum for enum in KEPT_ENUMS if not issubclass(enum, Coded)] == []


@pytest.mark.parametrize("enum", KEPT_ENUMS, ids=lambda enum: enum.__name__)
def test_codes_are_unique_and_made_of_small_letters_and_hyphens(enum: type[Coded]):
    codes = [each.value for each in enum]
    assert len(set(codes)) == len(list(enum.__members__))
    assert all(code.replace("-", "").isalpha() and code.islower() for code in codes)
    assert len({each.word for each in enum}) == len(codes)


@pytest.mark.parametrize("enum", WORDS, ids=lambda enum: enum.__name__)
def test_the_words_of_before_are_read_for_ever(enum: type[Coded]):
    read = [from_record(enum, word) for word in WORDS[enum]]
    assert read == [each for each in enum if each in read]
    assert len(set(read)) == len(WORDS[enum])
    assert [from_record(enum, to_record(each)) for each in enum] == list(enum)


def test_a_record_holds_the_code_so_another_word_leaves_it_readable():
    class Reworded(Coded):
        LARGEST_FIRST = "largest-first", "the biggest first"

    assert to_record(Reworded.LARGEST_FIRST) == to_record(Order.LARGEST_FIRST) == "largest-first"
    assert from_record(Reworded, to_record(Order.LARGEST_FIRST)) is Reworded.LARGEST_FIRST
    assert from_record(Reworded, "largest first") is Reworded.LARGEST_FIRST


@pytest.mark.parametrize("record", ["the biggest first", "", 1, None, ["free"]])
def test_error_a_record_with_neither_code_nor_old_word_is_refused(record: Any):
    with pytest.raises(RecordError):
        from_record(Order, record)
