"""Brief and Given: fifteen rules with this lab's values, what each sheet counts, and not one right answer."""

import re
from dataclasses import replace
from ipaddress import IPv4Address
from typing import Any

import pytest
from drawn_labs import bakery, changed, draw, exercise_of, shaped

from trainer.lab.bench import ORDER_OF_WORK
from trainer.lab.brief import RULES_TITLE as RULES
from trainer.lab.brief import BriefPart, brief, given_tables, otherwise_at_work
from trainer.lab.dependencies import all_it_rests_on
from trainer.lab.form import Section, SoFar
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, GatewayPlace, Order, RouteRule, Scenario, SectionShare

CAUTIONS = (
    *(
        "Isolated lab only",
        "the uplink is unplugged before the server starts",
        "No DHCP server in the lab but the planned",
    ),
    *("Stop and call whoever runs the lab when anything outside it changes", "Have a backup and a way back"),
    *(
        "start from an erased configuration",
        "One cable a link",
        "Check that option 82 is off",
        "the stations' real ones",
    ),
    *("Save before each stage", "keep a console", "the stations' own firewalls before you ping"),
    *("only by whoever runs the lab, and unplugged afterwards", "Save the binding table", "Never look into a fibre"),
    "This sheet gives no electrical instruction.",
)
TITLES = (
    *("Block", "Size", "Order", "Gateway", "Fixed", "Links", "Ports", "Routes", "Pools", "Leases", "Relays"),
    *("Snooping", "Guard", "Bindings", "Conflicts"),
)
NO_WEB_ADDRESS = ("http:", "https:")


def part(scenario: Scenario, title: str) -> BriefPart:
    return next(each for each in brief(scenario) if each.title == title)


def rule(title: str, *, link_length: int = 30, **rules: Any) -> str:
    """The text of a rule on the Brief of a lab with these changes."""
    lab = replace(bakery(), link_length=link_length, rules=replace(bakery().rules, **rules))
    return next(text for label, text in part(lab, RULES).lines if label.endswith(f"  {title}"))


def printed(scenario: Scenario) -> str:
    """Everything that stands on Brief and Given."""
    texts = [text for each in brief(scenario) for line in each.lines for text in line]
    texts += [text for table in given_tables(scenario) for row in (table.headings, *table.rows) for text in row]
    return "\n".join(texts)


# --- The rules --------------------------------------------------------------------------------------------------------


def test_the_parts_of_the_brief_stand_in_order():
    assert [each.title for each in brief(bakery())] == [
        "What to do",
        RULES,
        "Glossary",
        "How to write",
        "Marks",
        "Cautions for the bench",
        "At work it may be otherwise",
    ]


def test_fifteen_rules_are_printed_with_their_numbers():
    labels = [label for label, _ in part(bakery(), RULES).lines]
    assert labels == [f"{number:>2}  {title}" for number, title in enumerate(TITLES, 1)]


def test_every_rule_is_a_text_that_ends():
    assert all(text.endswith(".") and len(text) > 20 for _, text in part(bakery(), RULES).lines)


def test_the_order_of_the_block_is_a_rule_largest_first():
    assert rule("Order", order=Order.LARGEST_FIRST) == (
        "Shortest prefix length first, at the start of the block; equal prefix lengths in the order of table Networks, "
        "whatever their addresses needed; each network starts at the next multiple of its own size. "
        "The link networks come last, in the order of table Links."
    )


def test_links_lie_behind_the_last_range_where_each_switch_has_its_own():
    assert rule("Order", order=Order.RANGE_A_SWITCH).endswith(
        "The link networks come behind the last range, in the order of table Links."
    )


def test_the_order_of_the_block_is_a_rule_as_listed():
    assert rule("Order", order=Order.AS_LISTED) == (
        "In the order of table Networks, from the start of the block; each network starts at the next multiple of its "
        "own size behind the one before. The link networks come last, in the order of table Links."
    )


@pytest.mark.parametrize(("place", "word"), [(GatewayPlace.FIRST_USABLE, "first"), (GatewayPlace.LAST_USABLE, "last")])
def test_the_place_of_the_gateway_is_a_rule(place: GatewayPlace, word: str):
    assert f"It has the {word} usable address of its network." in rule("Gateway", gateway=place)


@pytest.mark.parametrize("length", [30, 31])
def test_the_length_of_link_networks_is_a_rule(length: int):
    ends = "; both of its addresses are ends (RFC 3021)" if length == 31 else ""
    assert f"Every link network is a /{length}{ends}. The switch named first has the lower address." in rule(
        "Links", link_length=length
    )


@pytest.mark.parametrize("kept", [0, 1, 10, 25])
def test_where_a_pool_starts_is_a_rule(kept: int):
    assert f"from usable address no. {kept + 1} to the last usable address or" in rule("Pools", kept_for_fixed=kept)


def test_routes_that_work_are_right_where_the_exercise_says_so():
    words = rule("Routes", route_rule=RouteRule.ANY_THAT_WORK)
    assert "on each switch one route for every VLAN network of another switch" in words
    assert "Summary and default routes are right too, if every packet to a VLAN network arrives" in words
    assert "two switches must not point defaults at each other" in words


def test_one_route_a_network_is_asked_for_where_the_exercise_says_so():
    words = rule("Routes", route_rule=RouteRule.ONE_A_NETWORK)
    assert "on each switch one route for every VLAN network of another switch" in words
    assert "Summary and default routes are not right here." in words
    assert "are right too" not in words


def test_every_section_names_the_rules_that_decide_it():
    numbers = {
        int(number)
        for section in FORM
        for words in re.findall(r"Rules? ([\d, andto]+)", section.note)
        for number in re.findall(r"\d+", words)
    }
    assert numbers <= set(range(1, 15))
    assert all(re.search(r"Rules? \d", section.note) for section in FORM)


def rules_of(lab: Scenario) -> list[str]:
    return [label.split()[1] for label, _ in part(lab, RULES).lines]


def only(**asked: Asked) -> Scenario:
    """The bakery with these sheets asked or given and no others."""
    names = ((name, asked.get(name, Asked.NO)) for name in (each.id for each in FORM))
    return replace(bakery(), sections=tuple(SectionShare(section=name, asked=how, share=0) for name, how in names))


def test_only_rules_of_sheets_that_are_asked_or_given_are_printed():
    plan = only(subnets=Asked.YES, links=Asked.YES, stations=Asked.YES)
    assert rules_of(plan) == ["Block", "Size", "Order", "Gateway", "Fixed", "Links", "Conflicts"]
    assert {label for label, *_ in otherwise_at_work(plan)} == {"Rule 2", "Rule 3", "Rule 15"}
    assert "Routes" not in dict(part(plan, "How to write").lines)
    assert "rule Routes" not in marks(plan)["Half marks"]
    assert not {"giaddr", "Source guard", "Next hop"} & set(dict(part(plan, "Glossary").lines))
    assert rules_of(only(ports=Asked.YES, routes=Asked.GIVEN)) == ["Links", "Ports", "Routes"]


def test_rules_keep_their_numbers_where_others_are_left_out():
    assert [label for label, _ in part(only(pools=Asked.GIVEN, links=Asked.GIVEN), RULES).lines] == [
        f"{number:>2}  {TITLES[number - 1]}" for number in (3, 6, 9)
    ]


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_rules_of_left_out_sheets_are_printed_where_the_answers_rest_on_them(section: Section[Any]):
    """Whoever has the Brief alone comes to the key: pools cannot be written without knowing where a network starts."""
    lab = bakery()
    so_far = SoFar(lab)
    used = {
        cell.question.partition(".")[0]
        for row in section.rows(lab)
        for question in section.questions_in(lab)
        for cell in all_it_rests_on(lab, so_far, question, row.key)
    }
    needed = {rule.title for each in (section.id, *used) for rule in SECTIONS[each].decided_by}
    assert needed <= set(rules_of(only(**{section.id: Asked.YES})))


def test_a_gateway_of_ones_own_choice_keeps_clear_of_pools_so_their_rule_is_printed():
    lab = only(subnets=Asked.YES)
    assert "Pools" not in rules_of(lab)
    assert "Pools" in rules_of(replace(lab, rules=replace(lab.rules, gateway=GatewayPlace.FREE)))


def test_no_note_of_research_stands_before_trainees():
    for rules in ({}, {"order": Order.FREE}, {"gateway": GatewayPlace.LAST_USABLE}):
        words = printed(replace(bakery(), rules=replace(bakery().rules, **rules)))
        assert "no source" not in words
        assert "not verified" not in words
    assert any("not verified" in source for *_, source in otherwise_at_work(bakery()))


# --- What to do, how to write, marks, cautions ------------------------------------------------------------------------


def test_the_task_says_how_long_and_when_where_the_exercise_does():
    ((_, words),) = part(replace(bakery(), minutes=75, date="Thursday 12 March"), "What to do").lines
    assert words == (
        "Plan and protect the network on sheet Given: 2 switches that route, joined by routed links. Fill in the framed "
        "cells of the sheets that follow. Time: 75 minutes. Date: Thursday 12 March."
    )


def test_the_task_is_silent_about_time_and_date_where_the_exercise_is():
    ((_, words),) = part(bakery(), "What to do").lines
    assert words.endswith("Fill in the framed cells of the sheets that follow.")


def shares(**asked: tuple[Asked, int]) -> tuple[SectionShare, ...]:
    """The share of every section: asked for 10, unless said otherwise."""
    return tuple(
        SectionShare(section=name, asked=how, share=share)
        for name in (each.id for each in FORM)
        for how, share in [asked.get(name, (Asked.YES, 10))]
    )


def test_the_task_names_the_sheets_that_are_filled_in_already():
    lab = replace(bakery(), sections=shares(subnets=(Asked.GIVEN, 0), links=(Asked.GIVEN, 0), ports=(Asked.NO, 0)))
    ((_, words),) = part(lab, "What to do").lines
    assert words.endswith(" Subnets and Links: filled in for you.")


def marks(lab: Scenario) -> dict[str, str]:
    """What the Brief says of marks: label and text."""
    return dict(part(lab, "Marks").lines)


def test_every_section_that_is_asked_has_its_share_printed():
    sections = exercise_of(HARBOUR).sections
    assert marks(replace(bakery(), sections=sections))["Shares"] == (
        "Of the total: Subnets 20, Links 5, Ports 3, Stations 5, Routes 22, Pools 10, Relays 10, Protection 17, "
        "Bindings 8. In a sheet a cell that is only read off (a copy, a list of VLANs or of guarded ports, a mask) counts a "
        "fifth of one that is worked out; no sheet goes below zero."
    )


def test_a_section_that_is_not_asked_has_no_share_printed():
    words = marks(replace(bakery(), sections=shares(subnets=(Asked.GIVEN, 20), bindings=(Asked.NO, 15))))["Shares"]
    assert "Links 10" in words
    assert "Subnets" not in words
    assert "Bindings" not in words


@pytest.mark.parametrize("follow_through", [True, False])
def test_follow_through_is_promised_only_where_it_is_kept(follow_through: bool):
    """What follows counts in full inside the block, and half outside it; both only where the exercise says so."""
    said = marks(replace(bakery(), rules=replace(bakery().rules, follow_through=follow_through)))
    assert ("Errors" in said) is follow_through
    once = "An error is charged once: what follows from it correctly counts in full."
    assert any(once in words for words in said.values()) is follow_through
    outside = "what follows correctly from an error, but lies outside the block or became easier by it"
    assert (outside in said["Half marks"]) is follow_through
    assert not any("follows" in words for label, words in said.items() if label not in ("Errors", "Half marks"))


def test_half_marks_slips_and_what_is_too_much_are_printed_in_every_lab():
    for follow_through in (True, False):
        said = marks(replace(bakery(), rules=replace(bakery().rules, follow_through=follow_through)))
        assert "the usable address at the other end" in said["Half marks"]
        assert "routes that work, but break rule Routes." in said["Half marks"]
        assert (
            "A slip of form (a unit, a notation, one rule misread the same way) is charged once a sheet"
            in said["Slips"]
        )
        assert "An error of knowledge is charged each time." in said["Slips"]
        assert "a needless one those of one cell" in said["Too much"]
        assert "an extra route that sends nothing the wrong way costs nothing." in said["Too much"]


def test_the_cautions_are_printed():
    cautions = dict(part(bakery(), "Cautions for the bench").lines)
    assert list(cautions) == ["Lab", "Stop", "Begin", "Order", "Pings", "Attacks", "Restart", "Mains"]
    printed_words = " ".join(cautions.values())
    for words in CAUTIONS:
        assert words in printed_words


def test_who_keeps_the_order_is_not_locked_out():
    """Rows stand before the check that asks for them; what is learnt is learnt while snooping is on."""
    words = dict(part(bakery(), "Cautions for the bench").lines)["Order"]
    places = [words.index(step) for step in ORDER_OF_WORK]
    assert places == sorted(places)
    steps = list(ORDER_OF_WORK)
    assert steps.index("static rows") < steps.index("snooping") < steps.index("source guard, port by port")
    assert steps.index("snooping") < steps.index("leases fetched anew and the table read")


@pytest.mark.parametrize(
    ("rule_title", "words"),
    [
        ("Snooping", "ports towards relay agents may be trusted too; this lab does not do so"),
        ("Guard", "the check of ARP is a function of its own, and that of the MAC optional"),
    ],
)
def test_what_is_a_rule_of_this_lab_is_called_so(rule_title: str, words: str):
    number = f"Rule {TITLES.index(rule_title) + 1}"
    assert words in dict(part(bakery(), "At work it may be otherwise").lines)[number]
    assert "No row is learnt on a trusted port (a rule of this lab)." in rule("Bindings")


def test_the_ways_of_writing_are_printed():
    ways = dict(part(bakery(), "How to write").lines)
    assert "two values count as none" in ways["Cells"]
    assert "255.255.240.0" in ways["Mask"]
    assert "0.0.0.0 and /0" in ways["Routes"]
    assert "6 h, 360 min, 21600 s" in ways["Others"]


# --- Given ------------------------------------------------------------------------------------------------------------


def test_the_values_of_the_lab_are_given():
    values = dict(given_tables(bakery())[0].rows)
    assert values == {
        "Block of this lab": "10.20.0.0/22",
        "Order in the block": "largest first",
        "Gateway": "first usable",
        "Length of link networks": "/30",
        "First pool address": "usable address no. 11",
        "Lease of every pool": "6 h",
    }


def test_networks_stations_and_links_are_given():
    _, networks, stations, links = given_tables(bakery())
    assert networks.rows[1] == ("20", "Ovens", "A (Bakehouse)", "100", "yes", "yes")
    assert networks.rows[0][-1] == "no"
    assert stations.rows[0] == ("DHCP server", "10", "A/1", "02-00-00-00-00-01", "fixed, no. 5")
    assert stations.rows[1] == ("Ovens 1", "20", "A/2", "02-00-00-00-00-02", "DHCP")
    assert links.rows == (("A-B", "A (Bakehouse)", "A/24", "B (Shop)", "B/23"),)


def test_every_table_has_as_many_cells_as_headings():
    for table in given_tables(bakery()):
        assert all(len(row) == len(table.headings) for row in table.rows)


LABS = [
    pytest.param({}, None, id="the harbour"),
    pytest.param({"gateway": "last usable", "order": "as listed", "link_lengths": "/31"}, None, id="as listed, /31"),
    pytest.param({"route_rule": "one a network", "kept_for_fixed": "5"}, None, id="one route a network"),
    pytest.param({}, {"A": "", "B": "A", "C": "B"}, id="three switches"),
]


@pytest.mark.parametrize(("choices", "links"), LABS)
def test_no_address_of_the_key_stands_on_brief_or_given(choices: dict[str, str], links: dict[str, str] | None):
    exercise = exercise_of(changed(tables=None if links is None else shaped(links), **choices))
    for scenario in draw(exercise, 4):
        addresses = {value for value in derive_key(scenario).values.values() if isinstance(value, IPv4Address)}
        stand_there = set(re.findall(r"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", printed(scenario)))
        assert stand_there & set(map(str, addresses)) <= {str(scenario.block.network_address)}


@pytest.mark.parametrize(("choices", "links"), LABS)
def test_nothing_on_the_brief_tells_the_gap_of_a_value_or_leads_into_the_web(
    choices: dict[str, str], links: dict[str, str] | None
):
    exercise = exercise_of(changed(tables=None if links is None else shaped(links), **choices))
    for scenario in draw(exercise, 2):
        text = printed(scenario)
        assert not any(word in text for word in ("None", "Enum", "<", "{", "}", *NO_WEB_ADDRESS))
