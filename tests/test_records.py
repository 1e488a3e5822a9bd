"""Records: values as JSON and back, and what is damaged is refused with its place."""

import copy
import json
import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import Enum
from ipaddress import IPv4Address, IPv4Network
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.draw_network import draw_for_class
from trainer.lab.form import CellRef, RowKey
from trainer.lab.questions import SECTIONS
from trainer.lab.rows import VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario, Trainee
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.marking.practice import Progress
from trainer.records import RecordError, from_record, to_record
from trainer.store import GradedLab, Register, RegisteredLab


def through_json(wanted: type[Any], value: Any) -> Any:
    return from_record(wanted, json.loads(json.dumps(to_record(value), ensure_ascii=False)))


def marked(filling: Any) -> Marked:
    lab = replace(bakery(), sections=exercise_of(HARBOUR).sections)
    texts = {cell: CellText(text) for cell, text in filling.fill(lab, key_texts(lab)).items() if text}
    rows: dict[str, dict[RowKey, None]] = {}
    for cell in texts:
        rows.setdefault(cell.question.split(".", maxsplit=1)[0], {})[cell.row] = None
    open_rows = {name: tuple(keys) for name, keys in rows.items() if SECTIONS[name].open is not None}
    return mark(lab, FilledForm(texts=texts, rows=open_rows))


def register() -> Register:
    exercise = exercise_of(HARBOUR)
    return Register(
        format=1,
        exercise=replace(exercise, trainees=()),
        common=draw_for_class(exercise, random.Random(1)),
        labs=(RegisteredLab(lab="ABC-2345", trainee="h01", attempt=1),),
    )


LABS = [
    bakery(),
    *draw(exercise_of(HARBOUR), 2),
    *draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}))), 1),
]


# --- There and back ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lab", LABS, ids=lambda lab: lab.lab_number)
def test_a_scenario_is_the_same_after_json(lab: Scenario):
    assert through_json(Scenario, lab) == lab


@pytest.mark.parametrize("filling", FILLINGS, ids=lambda filling: filling.shows)
def test_marks_are_the_same_after_json(filling: Any):
    before = marked(filling)
    after = through_json(Marked, before)
    assert after == before
    assert [str(cell.marks) for cell in after.cells] == [str(cell.marks) for cell in before.cells]


def test_a_register_is_the_same_after_json():
    assert through_json(Register, register()) == register()


def test_a_graded_lab_is_the_same_after_json():
    graded = GradedLab(
        lab="ABC-2345",
        trainee="h01",
        file="returned/h01.xlsx",
        marked="marked/h01.xlsx",
        notices=("There is no sheet Routes; it counts as not answered.",),
        where=(("subnets.gateway", "20", "Subnets", "I7"),),
        marks=marked(FILLINGS[4]),
    )
    assert through_json(GradedLab, graded) == graded


@given(st.builds(Trainee, id=st.text(), name=st.text(), group=st.text(), attempt=st.integers()))
def test_any_text_is_the_same_after_a_record(trainee: Trainee):
    assert from_record(Trainee, to_record(trainee)) == trainee


def test_what_is_known_of_a_practice_lab_is_the_same_after_json():
    """A cell is a tuple with names, and stands there by its names."""
    cell = CellRef("subnets.prefix", VlanRow(30))
    known = Progress(lab="ABC-1234", shown=(cell,), filled_in=(cell,))
    record = to_record(known)
    assert record["shown"] == [{"question": "subnets.prefix", "row": "30"}]
    assert to_record(from_record(Progress, json.loads(json.dumps(record)))) == record


def test_a_record_holds_no_type_names_and_nothing_but_plain_json():
    text = json.dumps(to_record(bakery()))
    assert "Scenario" not in text
    assert "__" not in text


def test_addresses_numbers_and_words_are_written_as_people_write_them():
    record = to_record(bakery())
    assert record["block"] == "10.20.0.0/22"
    assert record["order"] == "largest-first"
    assert record["stations"][0]["at"] == {"switch": "A", "port": "1"}
    assert record["stations"][1]["fixed_number"] is None


# --- What is damaged --------------------------------------------------------------------------------------------------


class Colour(Enum):
    RED = "red"


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outer:
    address: IPv4Address
    network: IPv4Network
    marks: Decimal
    colour: Colour
    yes: bool
    maybe: int | None
    pair: tuple[int, str]
    many: tuple[Inner, ...]


WHOLE = {
    "address": "192.0.2.1",
    "network": "192.0.2.0/24",
    "marks": "1.500",
    "colour": "red",
    "yes": True,
    "maybe": None,
    "pair": [1, "x"],
    "many": [{"number": 1}, {"number": 2}],
}
DAMAGED: list[tuple[str, Any, str]] = [
    ("address", "192.0.2.256", "Outer.address: '192.0.2.256' is not a IPv4Address"),
    ("address", "", "Outer.address: '' is not a IPv4Address"),
    ("network", "192.0.2.1/24", "Outer.network: '192.0.2.1/24' is not a IPv4Network"),
    ("marks", "one", "Outer.marks: 'one' is not a Decimal"),
    ("colour", "blue", "Outer.colour: 'blue' is not a Colour"),
    ("colour", ["red"], "Outer.colour: ['red'] is not a Colour"),
    ("yes", 1, "Outer.yes: 1 is not of the expected form"),
    ("yes", "true", "Outer.yes: 'true' is not of the expected form"),
    ("maybe", "1", "Outer.maybe: '1' is not of the expected form"),
    ("maybe", True, "Outer.maybe: True is not of the expected form"),
    ("maybe", 1.0, "Outer.maybe: 1.0 is not of the expected form"),
    ("pair", [1], "Outer.pair: 1 values where 2 belong"),
    ("pair", "1x", "Outer.pair: '1x' is not a list"),
    ("pair", ["x", 1], "Outer.pair[0]: 'x' is not of the expected form"),
    ("many", {"number": 1}, "Outer.many: {'number': 1} is not a list"),
    ("many", [{"number": 1}, {"number": "2"}], "Outer.many[1].number: '2' is not of the expected form"),
    ("many", [{"number": 1}, {}], "Outer.many[1]: the fields are not number"),
    ("many", [{"number": 1, "more": 2}], "Outer.many[0]: the fields are not number"),
    ("many", [None], "Outer.many[0]: the fields are not number"),
]


def test_a_whole_record_is_read():
    assert from_record(Outer, WHOLE) == Outer(
        address=IPv4Address("192.0.2.1"),
        network=IPv4Network("192.0.2.0/24"),
        marks=Decimal("1.5"),
        colour=Colour.RED,
        yes=True,
        maybe=None,
        pair=(1, "x"),
        many=(Inner(number=1), Inner(number=2)),
    )


@pytest.mark.parametrize(("field", "value", "words"), DAMAGED)
def test_error_a_damaged_value_is_refused_with_its_place(field: str, value: Any, words: str):
    with pytest.raises(RecordError) as refused:
        from_record(Outer, WHOLE | {field: value})
    assert str(refused.value) == words


@pytest.mark.parametrize("field", WHOLE)
def test_error_a_field_that_is_missing_is_refused(field: str):
    with pytest.raises(RecordError) as refused:
        from_record(Outer, {name: value for name, value in WHOLE.items() if name != field})
    assert str(refused.value) == f"Outer: the fields are not {', '.join(WHOLE)}"


@pytest.mark.parametrize("record", [None, [], "x", 1])
def test_error_a_record_that_is_no_object_is_refused(record: Any):
    with pytest.raises(RecordError) as refused:
        from_record(Outer, record)
    assert str(refused.value) == f"Outer: the fields are not {', '.join(WHOLE)}"


@pytest.mark.parametrize("value", [None, {}])
def test_error_what_is_no_decimal_at_all_is_refused_too(value: Any):
    with pytest.raises(RecordError):
        from_record(Outer, WHOLE | {"marks": value})


@pytest.mark.parametrize(
    ("field", "value"), [("address", 1), ("network", 1), ("marks", 1.5), ("marks", "NaN"), ("address", True)]
)
def test_error_a_value_of_another_json_type_is_refused(field: str, value: Any):
    with pytest.raises(RecordError):
        from_record(Outer, WHOLE | {field: value})


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    first: int
    plain: int = 2
    later: int = field(default=3, metadata={"added later": True})


def test_a_record_from_before_a_field_was_added_has_its_default():
    assert from_record(Grown, {"first": 1, "plain": 5}) == Grown(first=1, plain=5, later=3)
    assert from_record(Grown, to_record(Grown(first=1, later=9))) == Grown(first=1, later=9)


@pytest.mark.parametrize(
    "record", [{"first": 1, "later": 3}, {"plain": 2, "later": 3}, {"first": 1, "plain": 2, "x": 3}]
)
def test_error_no_other_field_may_be_missing_even_with_a_default(record: Any):
    with pytest.raises(RecordError) as refused:
        from_record(Grown, record)
    assert str(refused.value) == "Grown: the fields are not first, plain, later"


JSON = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=8),
    st.just([]),
    st.just([1, 2]),
    st.just({"a": 1}),
)
RECORD = to_record(bakery())


def places(record: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in a record, by the keys that lead there."""
    if path:
        yield path
    parts = record.items() if isinstance(record, dict) else enumerate(record) if isinstance(record, list) else ()
    for key, part in parts:
        yield from places(part, (*path, key))


@settings(max_examples=150)
@given(st.sampled_from(list(places(RECORD))), JSON)
def test_error_anything_put_anywhere_into_a_scenario_is_read_or_refused(path: tuple[Any, ...], value: Any):
    record = copy.deepcopy(RECORD)
    part = record
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = value
    try:
        scenario = from_record(Scenario, record)
    except RecordError as refused:
        words = str(refused)
    else:
        words = ""
        assert isinstance(scenario, Scenario)
    assert not words or words.startswith("Scenario")


@pytest.mark.parametrize("path", ["block", "vlans", "trainee", "reveal"])
def test_error_a_scenario_with_a_missing_part_says_which_fields_belong(path: str):
    record = {name: value for name, value in RECORD.items() if name != path}
    with pytest.raises(RecordError) as refused:
        from_record(Scenario, record)
    assert str(refused.value).startswith("Scenario: the fields are not lab_number, exercise_code, title, ")


@dataclass(frozen=True, kw_only=True)
class Renamed:
    """A value one of whose fields was called otherwise when records were first kept."""

    first_errors: tuple[str, ...] = field(metadata={"kept as": "roots"})


def test_a_field_that_was_renamed_keeps_its_name_in_records() -> None:
    value = Renamed(first_errors=("Subnets 40: Mask",))
    assert to_record(value) == {"roots": ["Subnets 40: Mask"]}
    assert from_record(Renamed, {"roots": ["Subnets 40: Mask"]}) == value
    with pytest.raises(RecordError, match="the fields are not roots"):
        from_record(Renamed, {"first_errors": []})
