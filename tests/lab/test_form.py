"""The form declares everything about itself, and what it declares is true of the labs."""

from collections.abc import Callable
from dataclasses import MISSING, fields, replace
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.lab.concepts import Area, Concept, FaultConcept
from trainer.lab.form import OpenRows, Question, Row, RowKey, Section
from trainer.lab.house_rules import HouseRule
from trainer.lab.questions import FORM, QUESTIONS, REPAIR_FORM, SECTIONS, stations, subnets
from trainer.lab.rows import About
from trainer.lab.scenario import Scenario
from trainer.network.devices import SwitchName


def declared(thing: Question[Any, Any] | Section) -> dict[str, Any]:
    return {each.name: getattr(thing, each.name) for each in fields(thing)}


def without(thing: Question[Any, Any] | Section, name: str) -> Callable[[], Any]:
    values = declared(thing)
    del values[name]
    return lambda: type(thing)(**values)


def required(kind: type[Question[Any, Any]] | type[Section]) -> list[str]:
    return [each.name for each in fields(kind) if each.default is MISSING and each.default_factory is MISSING]


def labs() -> list[Scenario]:
    """The bakery, and labs of three switches in a row, of which one was set up already."""
    return [bakery(), *draw(exercise_of(changed(tables=shaped({"A": "", "B": "A", "C": "B"}))), 2)]


def test_a_question_and_a_section_must_say_what_the_rest_of_the_program_asks_them():
    assert {"id", "heading", "kind", "role", "answer", "reason", "concept"} <= set(required(Question))
    assert {"id", "title", "asks", "about", "decided_by", "given", "questions", "rows"} <= set(required(Section))


@pytest.mark.parametrize("name", required(Question))
def test_a_question_without_what_it_must_declare_is_refused(name: str):
    assert Question(**declared(subnets.GATEWAY)) == subnets.GATEWAY
    with pytest.raises(TypeError, match=name):
        without(subnets.GATEWAY, name)()


@pytest.mark.parametrize("name", required(Section))
def test_a_section_without_what_it_must_declare_is_refused(name: str):
    assert Section(**declared(subnets.SUBNETS)) == subnets.SUBNETS
    with pytest.raises(TypeError, match=name):
        without(subnets.SUBNETS, name)()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"decided_by": ()}, "no rule of the Brief decides section subnets"),
        ({"questions": ()}, "section subnets asks nothing"),
        ({"questions": (stations.STATION_MASK,)}, r"the id of question stations.mask does not begin with subnets\."),
    ],
)
def test_a_section_that_contradicts_itself_is_refused(change: dict[str, Any], words: str):
    with pytest.raises(ValueError, match=words):
        replace(subnets.SUBNETS, **change)


def test_no_two_sections_and_no_two_questions_have_one_name():
    every = (*FORM, *REPAIR_FORM)
    assert len(SECTIONS) == len(every) == len({section.title for section in every})
    assert len(QUESTIONS) == sum(len(section.questions) for section in every)


# --- Concepts ---------------------------------------------------------------------------------------------------------


def test_each_of_the_seventeen_concepts_is_asked_by_a_question():
    assert (len(Concept), len(FaultConcept)) == (14, 3)
    assert {question.concept for question in QUESTIONS.values()} == {*Concept, *FaultConcept}


def test_the_sheets_belong_to_the_areas_by_which_feedback_is_summed_up():
    areas = {(section.id, question.concept.area) for section in SECTIONS.values() for question in section.questions}
    assert areas == {
        ("subnets", Area.ADDRESSING),
        ("subnets", Area.PORTS_AND_VLANS),  # how far a broadcast is heard
        ("links", Area.ADDRESSING),
        ("ports", Area.PORTS_AND_VLANS),
        ("stations", Area.ADDRESSING),
        ("routes", Area.ROUTING),
        ("pools", Area.DHCP),
        ("relays", Area.DHCP),
        ("protection", Area.PROTECTION),
        ("bindings", Area.PROTECTION),
        ("symptoms", Area.FAULT_FINDING),
        ("faults", Area.FAULT_FINDING),
        ("tests", Area.FAULT_FINDING),
    }


# --- Rows -------------------------------------------------------------------------------------------------------------

NAMES: dict[About, Callable[[Scenario], set[str]]] = {
    About.VLAN: lambda lab: {str(vlan.number) for vlan in lab.vlans},
    About.LINK: lambda lab: {link.name for link in lab.links},
    About.PORT: lambda lab: {f"{each.name}/{port}" for each in lab.switches for port in lab.port_names(each.name)},
    About.STATION: lambda lab: {station.name for station in lab.stations},
    About.SWITCH: lambda lab: {switch.name for switch in lab.switches},
    About.ROUTE: lambda lab: {f"{switch.name} to {vlan.number}" for switch in lab.switches for vlan in lab.vlans},
}


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_the_key_calls_rows_by_what_they_are_about(section: Section):
    for lab in labs():
        keys = {row.key for row in (*section.rows(lab), *section.set_already(lab))}
        assert keys
        assert keys <= NAMES[section.about](lab)


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_printed_rows_tell_nothing_of_an_open_section_and_all_of_a_fixed_one(section: Section):
    lab = bakery()
    printed = section.printed_rows(lab)
    if section.open is None:
        assert printed == section.rows(lab)
    else:
        names = [f"{section.open.label} {number}" for number in range(1, section.open.printed(lab) + 1)]
        assert printed == tuple(Row(RowKey(name), (name,)) for name in names)
        assert len(printed) > len(section.rows(lab))


ROUTES = OpenRows(label="Route", least=4, printed=lambda _scenario: 9)


@pytest.mark.parametrize("number", [1, 9, 10, 999, 9999])
def test_an_open_row_is_recognised_by_the_name_that_is_printed(number: int):
    name = ROUTES.named(number)
    assert name == f"Route {number}"
    assert ROUTES.called(name) == ROUTES.called(name.upper()) == ROUTES.called(f"route 0{number}") == name


@pytest.mark.parametrize(
    "text", ["Route", "Route x", "Route 10000", "Routes 1", "Relay 1", "1", "A to 30", "Route 1 a", ""]
)
def test_what_is_no_name_of_an_open_row_is_none(text: str):
    assert ROUTES.called(text) is None


# --- Values -----------------------------------------------------------------------------------------------------------


def test_what_can_be_chosen_is_the_labs_own_list_or_that_of_the_kind():
    lab = labs()[-1]
    chosen = {question.id: question.choices(lab) for question in QUESTIONS.values() if question.choices(lab)}
    outcomes, switches = ("answered", "no answer", "arrives", "stopped"), ("A", "B", "C")
    assert chosen == {
        "routes.switch": switches,
        "relays.switch": switches,
        "bindings.type": ("dynamic", "static"),
        "faults.kind": ("cause", "harmless"),
        "tests.found": outcomes,
        "tests.mended": outcomes,
    }
    assert SwitchName("C") in {row.key.switch for row in SECTIONS["routes"].rows(lab)}


# --- Notes ------------------------------------------------------------------------------------------------------------


def test_a_note_says_which_rules_decide_what_and_how_to_write():
    assert SECTIONS["stations"].note == "Rule 5: the stations with a fixed address."
    assert SECTIONS["links"].note == "Rules 3 and 6."
    assert SECTIONS["subnets"].note == "Rules 1 to 4. Gateway and Mask are what is set on the VLAN interface."


def test_a_note_has_the_numbers_that_the_rules_have_when_it_is_printed():
    section = replace(SECTIONS["relays"], decided_by=(HouseRule.BINDINGS, HouseRule.SIZE, HouseRule.LINKS))
    assert section.rules == "rules 2, 6 and 14"
    assert section.note == "Rules 2, 6 and 14. There are more rows than you need."
