"""The catalogue: every entry on an example of its own, silence on right answers, and no answer given away."""

import os
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from ipaddress import IPv4Address
from itertools import islice
from typing import Any

import pytest
from catalogue_examples import EXAMPLES
from catalogue_labs import (
    FREE_LAB,
    LAB,
    NAMES_LAB,
    NAMESAKES_LAB,
    OTHER_LAB,
    OUT_LAB,
    QUESTIONS,
    RANDOM_LABS,
    Lab,
    made,
    plausible,
    read_into,
    section_of,
    wrong_cell,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from mistakes_of import lines
from published import rows_of

from trainer.lab import kinds
from trainer.lab.form import CellRef, Role
from trainer.lab.kinds import tidy
from trainer.lab.questions import FORM, SECTIONS, bindings
from trainer.marking.credit import RIGHT_IDEA
from trainer.marking.explanation import Explanation
from trainer.marking.mistakes import half_right
from trainer.marking.mistakes.catalogue import BY_QUESTION, MISTAKES, explain
from trainer.marking.mistakes.mistake import Claim, Flaw, Mistake, WrongCell
from trainer.network.devices import PortName, PortRef, SwitchName


@pytest.mark.parametrize(("mistake", "cell"), EXAMPLES)
def test_every_mistake_is_the_first_choice_on_its_own_example(mistake: str, cell: WrongCell) -> None:
    assert cell.value is None or cell.value != cell.expected
    assert explain(cell).mistake == mistake


def test_every_mistake_says_its_own_consequence_somewhere() -> None:
    """Of a row that a switch learns another is said; typed in, it has the mistake's own. So none is written for nobody."""
    own = {each.id: each.consequence for each in MISTAKES if each.consequence}
    examples = [each.values for each in EXAMPLES if each.values[0] in own]
    said_as_written = {mistake for mistake, cell in examples if explain(cell).consequence == own[mistake]}
    others = [(mistake, cell) for mistake, cell in examples if mistake not in said_as_written]
    assert {cell.section.id for _, cell in others} == {"bindings"}
    for mistake, cell in others:
        if cell.question is not bindings.BINDING_TYPE_OF:
            typed = CellRef(bindings.BINDING_TYPE_OF.id, cell.row)
            values = {**cell.plan.answers.values, typed: kinds.BindingType.STATIC}
            said = explain(replace(cell, plan=replace(cell.plan, answers=replace(cell.plan.answers, values=values))))
            assert said.consequence == own[said.mistake], mistake


def test_a_mistake_without_a_consequence_of_its_own_can_be_made_in_predictions_only_and_says_theirs() -> None:
    without = {each.id: each for each in MISTAKES if not each.consequence}
    assert without
    for mistake in without.values():
        assert {QUESTIONS[question].role for question in mistake.questions} == {Role.PREDICTS}
        assert mistake.claim is Claim.NONE
    said = {explain(cell).consequence for mistake, cell in (each.values for each in EXAMPLES) if mistake in without}
    assert said == {
        "The relay agent fills giaddr in by itself, so the server sees something else than you predict.",
        "No device is set by this cell: the table of the switch shows another time than you predict.",
        "The switch learns this row by itself, so its table shows something else than you predict.",
    }


def test_the_examples_cover_every_mistake() -> None:
    assert {mistake.id for mistake in MISTAKES} == {example.values[0] for example in EXAMPLES}


# The catalogue that this one started from -----------------------------------------------------------------------------

THEIRS = rows_of("mistakes")
"""tests/cases/facts/mistakes.csv: the entries of the marking brief's catalogue, the columns they are about there and what they
earn; what says the same here, and the example above that shows it; or why it does not fit the form.
"""


def test_all_entries_of_the_first_catalogue_are_in_the_table() -> None:
    assert len({entry["id"] for entry in THEIRS}) == len(THEIRS) == 157
    assert all(entry["columns"] for entry in THEIRS)


@pytest.mark.parametrize("entry", THEIRS, ids=lambda entry: entry["id"])
def test_each_entry_of_the_first_catalogue_is_said_on_an_example_or_has_a_reason(entry: dict[str, str]) -> None:
    ours = entry["ours"].split()
    assert bool(ours) == bool(entry["example"]) != bool(entry["not_ours"])
    assert set(ours) <= {mistake.id for mistake in MISTAKES}
    if ours:
        cells = [each.values[1] for each in EXAMPLES if each.id == entry["example"]]
        assert {explain(cell).mistake for cell in cells} <= set(ours)
        assert cells


IN_A_ROW = {
    *("p2p-ends-swapped", "route-of-another-switch", "route-default-instead-of-specific", "route-summary-too-wide"),
}
"""Half a row there: its cells that are right earn as much here. A list of VLANs earns its part (R9)."""
IN_A_LIST = {"snoop-vlan-missing", "snoop-vlan-extra", "guard-on-other-client-port"}


def test_half_marks_are_those_of_the_first_catalogue() -> None:
    """The right idea in the wrong instance, and no finer steps."""
    halves = {entry["id"]: entry["ours"].split() for entry in THEIRS if entry["credit"] == "0.5" and entry["ours"]}
    credited = {mistake.id for mistake in MISTAKES if mistake.credit}
    assert {mistake.credit for mistake in MISTAKES} == {0, RIGHT_IDEA}
    assert {mistake for ours in halves.values() for mistake in ours} >= credited
    for entry, ours in halves.items():
        assert bool(credited.intersection(ours)) != (entry in IN_A_ROW | IN_A_LIST), entry


# Silence on right answers ---------------------------------------------------------------------------------------------


def right_cells(lab: Lab) -> Iterator[WrongCell]:
    """Every cell with its right value, as if it were not right."""
    values, rows = lab.filled()
    for cell, value in lab.key.values.items():
        section, question = SECTIONS[section_of(cell.question)], QUESTIONS[cell.question]
        yield made(
            *(lab, section, question, Flaw.WRONG, lab.label(section.id, cell.row), cell.row),
            *(question.kind.show(value), values, rows),
        )


@pytest.mark.parametrize("lab", [*RANDOM_LABS, FREE_LAB])
def test_no_mistake_is_seen_in_right_answers(lab: Lab) -> None:
    for cell in right_cells(lab):
        assert cell.value == cell.expected
        assert explain(cell).mistake == "unclassified", (cell.question.id, cell.key_row, cell.text)


def test_a_free_choice_that_is_the_keys_own_can_break_a_rule_and_is_called_that() -> None:
    """A row above was planned at the same place with all its cells: of two that are alike the later one is charged."""
    right = FREE_LAB.shown("subnets.network", 1)
    size = FREE_LAB.net(0).num_addresses
    ends = {"first": 1, "last": size - 2, "broadcast": size - 1}
    above: dict[Any, Any] = {(f"subnets.{name}", 0): str(IPv4Address(right) + number) for name, number in ends.items()}
    cell = wrong_cell(FREE_LAB, "subnets.network", 1, right, {("subnets.network", 0): right, **above})
    assert cell.value == cell.expected
    assert explain(cell).mistake == "own-plan-overlaps"


# Plausible wrong values -----------------------------------------------------------------------------------------------

BROAD = frozenset(
    (
        "binding-ip-not-as-planned",
        "binding-ip-outside-networks",
        "binding-mac-not-in-lab",
        "broadcast-outside-subnet",
        "gateway-outside-subnet",
        "host-address-not-as-given",
        "host-address-outside-vlans",
        "host-range-outside-subnet",
        "iface-address-outside-plan",
        "lease-not-as-given",
        "link-network-elsewhere",
        "network-leaves-gap",
        "network-too-early",
        "p2p-end-outside-link",
        "relay-giaddr-elsewhere",
        "relay-target-nobody",
        "relay-target-other-host",
        "route-dest-in-no-network",
        "scope-dns-elsewhere-in-plan",
        "scope-dns-nobody",
        "scope-range-outside-subnet",
    )
)
"""Entries that say no more than that a value is not the one, or not in the network, that is asked for."""


def substitutions(lab: Lab) -> Iterator[WrongCell]:
    """Each cell of the form in turn with each plausible wrong value, all else right."""
    values, rows = lab.filled()
    for cell, right in lab.key.values.items():
        section, question = SECTIONS[section_of(cell.question)], QUESTIONS[cell.question]
        row = lab.label(section.id, cell.row)
        for value in sorted(plausible(lab, question, right), key=str):
            changed = {**values, CellRef(cell.question, row): value}
            found = made(*(lab, section, question, Flaw.WRONG, row, cell.row, question.kind.show(value), changed, rows))
            if found.value != found.expected:
                yield found


@pytest.fixture(
    scope="module",
    params=[
        ([LAB], 3),
        pytest.param(([LAB, OTHER_LAB, NAMES_LAB, NAMESAKES_LAB, OUT_LAB, RANDOM_LABS[0]], 1), marks=pytest.mark.many),
    ],
    ids=["a third of one lab", "all labs"],
)
def explained(request: pytest.FixtureRequest) -> list[tuple[WrongCell, Explanation]]:
    labs, every = request.param
    return [(cell, explain(cell)) for lab in labs for cell in islice(substitutions(lab), 0, None, every)]


def test_most_plausible_wrong_values_are_classified(explained: list[tuple[WrongCell, Explanation]]) -> None:
    counts = Counter(explanation.mistake for _, explanation in explained)
    known = 1 - counts["unclassified"] / counts.total()
    specific = known - sum(counts[name] for name in BROAD) / counts.total()
    assert known >= 0.999
    assert specific >= 0.97


def test_no_text_holds_the_right_answer(explained: list[tuple[WrongCell, Explanation]]) -> None:
    for cell, explanation in explained:
        right = cell.question.kind.show(cell.expected)
        said = f"{explanation.explanation} {explanation.consequence} {explanation.hint}".replace(cell.text, "")
        assert not re.search(rf"(?<![\w.]){re.escape(right)}(?!\w|\.\d)", said), (explanation, right)


# What the texts look like ---------------------------------------------------------------------------------------------


def sentences(text: str) -> list[str]:
    return [each for each in re.split(r"(?<=[.?!])\s+", text) if each]


def in_full(mistake: Mistake) -> Mistake:
    """With what is said on its example, where it has no consequence of its own."""
    if mistake.consequence:
        return mistake
    cell = next(cell for name, cell in (each.values for each in EXAMPLES) if name == mistake.id)
    return replace(mistake, consequence=explain(cell).consequence)


def breaches(mistake: Mistake) -> Iterator[str]:
    """Which limits the texts of a mistake do not keep: F2, at most 40 words each."""
    for text, most in ((mistake.explanation, 2), (mistake.consequence, 1), (mistake.hint, 1)):
        if not 0 < len(text.split()) <= 40:
            yield f"{mistake.id} has {len(text.split())} words: {text}"
        if len(sentences(text)) > most:
            yield f"{mistake.id} has too many sentences: {text}"
        if not (text[0].isupper() or text.startswith("{given}")):
            yield f"{mistake.id} does not begin as a sentence: {text}"
    for text, end in ((mistake.explanation, "."), (mistake.consequence, "."), (mistake.hint, "?")):
        if not text.endswith(end):
            yield f"{mistake.id} does not end as it should: {text}"
    if not mistake.source.strip():
        yield f"{mistake.id} has no source"
    if set(re.findall(r"\{.*?\}", mistake.explanation)) - {"{given}", "{root}"}:
        yield f"{mistake.id} has a place that nothing fills: {mistake.explanation}"
    if "{" in mistake.consequence + mistake.hint:
        yield f"{mistake.id} has a place where none is filled"


def test_texts_keep_their_limits() -> None:
    assert [breach for mistake in MISTAKES for breach in breaches(in_full(mistake))] == []


def test_texts_of_what_is_half_right_keep_the_same_limits() -> None:
    """With the longest that is filled in."""
    where = "Subnets 40: Network address, Prefix length"
    told = (
        half_right.easier(where, [where]),
        half_right.led_outside("your own plan, in which a network cannot be as it is", where, [where]),
        half_right.circles("On this switch it leads the right way", "Route 1, Route 2 and Route 3", "A and B"),
    )
    for each in told:
        as_mistake = replace(
            MISTAKES[0], explanation=each.explanation, consequence=each.consequence, hint=each.hint, id=each.mistake
        )
        limits = [breach for breach in breaches(as_mistake) if each.hint not in breach]
        assert limits == []
        assert each.hint.endswith("?")
        assert each.mistake not in {mistake.id for mistake in MISTAKES}


def test_texts_hold_no_number_that_could_give_an_answer_away() -> None:
    texts = {each.id: each.explanation + each.consequence + each.hint for each in MISTAKES}
    assert [name for name, text in texts.items() if re.search(r"\d", text)] == []


NOT_OF_THE_TRADE = re.compile(
    r"foret|goes? otherwise|in circles|circl|rests? on|rest on|belongs (into|under)|kept for fixed|remark|at random|luck",
)
"""Words that nobody in the trade uses, or that promise what no trial shows."""


def test_texts_speak_the_words_of_the_trade() -> None:
    told = {each.id: f"{each.explanation} {each.consequence} {each.hint}" for each in MISTAKES}
    found = {name: NOT_OF_THE_TRADE.findall(text) for name, text in told.items() if NOT_OF_THE_TRADE.search(text)}
    assert found == {}


def test_every_source_is_a_standard_or_says_that_there_is_none() -> None:
    for mistake in MISTAKES:
        assert re.search(r"RFC \d|rules? [A-Z]|how to write in this lab|rules of this lab|no source", mistake.source)


def test_the_order_in_which_mistakes_are_asked_can_be_printed() -> None:
    """python tests/marking/mistakes_of.py relays.giaddr: what an engineer looks for who wonders what a cell earns."""
    found = list(lines("relays.giaddr"))
    right = "right (Question.answer): relays._giaddr; why (reason): relays._why_giaddr; it predicts"
    assert found[0] == right
    assert found[1] == "half (credit.LEADS_OUTSIDE): follows from an error which leads to what cannot be (R4)"
    own = "relay-giaddr-not-the-relay (wrong; charged each time) if address_predicates.is_in_own_network"
    assert f" 20 half relays       {own}" in found
    ids = [mistake.id for mistake in BY_QUESTION["relays.giaddr"]]
    assert [line.split()[3] for line in found[2:-1]] == ids
    assert found[-1] == "else neutral.neutral"


def test_ids_are_unique() -> None:
    assert [name for name, count in Counter(each.id for each in MISTAKES).items() if count > 1] == []


def test_mistakes_know_only_questions_of_the_form() -> None:
    assert {question for mistake in MISTAKES for question in mistake.questions} == set(QUESTIONS)


def test_every_question_has_two_mistakes_of_wrong_values() -> None:
    known = Counter(question for each in MISTAKES if Flaw.WRONG in each.flaws for question in each.questions)
    assert [question for question in QUESTIONS if known[question] < 2] == []


def test_every_section_has_its_mistakes() -> None:
    known = Counter(section for each in MISTAKES for section in {section_of(question) for question in each.questions})
    assert [each.id for each in FORM if known[each.id] < (4 if each.id == "ports" else 8)] == []


# Neutral texts --------------------------------------------------------------------------------------------------------


def test_a_blank_cell_is_called_blank() -> None:
    assert explain(wrong_cell(LAB, "subnets.network", 2, "")).mistake == "blank"


def test_an_unreadable_cell_is_explained_by_what_the_reader_said() -> None:
    explanation = explain(wrong_cell(LAB, "pools.lease", 2, "a while"))
    words = "'a while' is not a lease: write it with its unit, like 6 h, 360 min or 21600 s, or no end."
    assert (explanation.mistake, explanation.explanation) == ("not-readable", words)


def test_a_mistake_of_the_catalogue_says_more_than_the_reader() -> None:
    cell = wrong_cell(LAB, "subnets.mask", 2, "255.0.255.0")
    assert explain(cell).mistake == "mask-not-contiguous"


def test_what_is_not_what_was_typed_is_told_before_any_mistake():
    cell = replace(wrong_cell(LAB, "subnets.mask", 2, "255.0.255.0"), unreadable="The cell shows an error.")
    said = explain(cell)
    assert (said.mistake, said.explanation) == ("not-readable", "The cell shows an error.")


def test_a_wrong_value_that_fits_nothing_gets_no_invented_reason() -> None:
    cell = replace(wrong_cell(LAB, "subnets.prefix", 2, "24"), flaw=Flaw.MISSING)
    assert explain(cell) == Explanation(
        mistake="unclassified",
        explanation="This is not what follows from the Brief and from your other answers. "
        "Check the row and the heading Prefix length first.",
        consequence="What is written here does not match the rest of the lab.",
        hint="Which rule of the Brief decides this cell, and what does it depend on?",
    )


def test_a_long_text_is_repeated_in_part_only() -> None:
    cell = wrong_cell(LAB, "subnets.gateway", 2, "10.0.0.1 " * 100)
    assert len(explain(cell).explanation) < 200


def test_braces_in_a_cell_do_no_harm() -> None:
    assert explain(wrong_cell(LAB, "subnets.gateway", 2, "{expected} {0}")).explanation.startswith("{expected} {0} is")


# Nothing raises -------------------------------------------------------------------------------------------------------

VALUES: dict[str, st.SearchStrategy[Any]] = {
    kinds.ADDRESS.name: st.one_of(
        st.ip_addresses(v=4),
        st.sampled_from([IPv4Address(0), IPv4Address(1), IPv4Address(2**32 - 1), IPv4Address(2**32 - 2)]),
        st.integers(0, LAB.scenario.block.num_addresses - 1).map(lambda number: LAB.scenario.block[number]),
    ),
    kinds.DOTTED_MASK.name: st.integers(0, 32),
    kinds.MASK.name: st.integers(0, 32),
    kinds.ROUTE_MASK.name: st.integers(0, 32),
    kinds.PREFIX_LENGTH.name: st.integers(0, 32),
    kinds.VLAN.name: st.one_of(st.integers(0, 9_999_999_999), st.sampled_from([vlan.number for vlan in LAB.vlans])),
    kinds.PORT_USE.name: st.one_of(
        st.integers(0, 9_999_999_999), st.sampled_from([vlan.number for vlan in LAB.vlans]), st.just(kinds.ROUTED)
    ),
    kinds.PORT.name: st.builds(
        lambda switch, number: PortRef(SwitchName(switch), PortName(str(number))),
        st.sampled_from("ABCDZ"),
        st.integers(0, 9999),
    ),
    kinds.PORT_SET.name: st.frozensets(st.integers(0, 30).map(lambda number: PortName(str(number))), max_size=30),
    kinds.VLAN_SET.name: st.frozensets(
        st.one_of(st.integers(0, 4095), st.sampled_from([vlan.number for vlan in LAB.vlans])), max_size=9
    ),
    kinds.MAC.name: st.integers(0, 2**48 - 1).map(lambda bits: kinds.MAC.read(f"{bits:012X}")),
    kinds.LEASE.name: st.one_of(st.integers(0, 10**12), st.just(kinds.INFINITE)),
    kinds.SWITCH.name: st.sampled_from("ABCDZ").map(SwitchName),
    kinds.BINDING_TYPE.name: st.sampled_from(kinds.BindingType),
}
CELL_REFS = sorted(LAB.key.values, key=lambda cell: (cell.question, cell.row))


@settings(max_examples=300 if os.environ.get("TRAINER_NIGHTLY") else 100)
@given(data=st.data())
def test_no_mistake_raises_whatever_readable_values_stand_in_the_form(data: st.DataObject) -> None:
    values, rows = LAB.filled()
    refs = data.draw(st.lists(st.sampled_from(CELL_REFS), min_size=1, max_size=12, unique=True))
    for ref in refs:
        here = CellRef(ref.question, LAB.label(section_of(ref.question), ref.row))
        value = data.draw(st.one_of(st.none(), VALUES[QUESTIONS[ref.question].kind.name]))
        values.pop(here, None)
        if value is not None:
            values[here] = value
    for ref in refs:
        section, question = SECTIONS[section_of(ref.question)], QUESTIONS[ref.question]
        row = LAB.label(section.id, ref.row)
        value = values.get(CellRef(ref.question, row))
        text = "" if value is None else question.kind.show(value)
        is_written = value is not None
        for flaw in Flaw:
            key_row = None if flaw is Flaw.EXTRA else ref.row
            if flaw is Flaw.EXTRA and section.open is None:
                continue
            if is_written == (flaw in (Flaw.WRONG, Flaw.EXTRA)):
                cell = made(LAB, section, question, flaw, row, key_row, text, values, rows)
                for mistake in MISTAKES:
                    if ref.question in mistake.questions and flaw in mistake.flaws:
                        assert mistake.fits(cell) in (True, False)


@settings(max_examples=300 if os.environ.get("TRAINER_NIGHTLY") else 100)
@given(text=st.one_of(st.text(max_size=60), st.from_regex(r"[0-9./ a-fA-F:-]{1,40}", fullmatch=True)), data=st.data())
def test_no_mistake_raises_whatever_is_typed(text: str, data: st.DataObject) -> None:
    ref = data.draw(st.sampled_from(CELL_REFS))
    values, rows = LAB.filled()
    section, question = SECTIONS[section_of(ref.question)], QUESTIONS[ref.question]
    here = CellRef(ref.question, LAB.label(section.id, ref.row))
    if read_into(values, here, tidy(text)) is None and tidy(text):
        cell = made(LAB, section, question, Flaw.UNREADABLE, here.row, ref.row, tidy(text), values, rows)
        assert explain(cell).explanation
