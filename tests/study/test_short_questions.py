"""Short questions of both kinds: the key's answer is right, every entry of the catalogue gets its text, and what is printed
is enough.
"""

import os
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from catalogue_examples import CELLS, OTHER_CELLS
from catalogue_labs import LAB, OTHER_LAB, Lab, section_of, text_of
from on_request import many

from trainer.lab.concepts import Concept
from trainer.lab.dependencies import rests_on
from trainer.lab.form import SoFar
from trainer.lab.questions import QUESTIONS
from trainer.lab.scenario import GatewayPlace, Scenario
from trainer.marking.mistakes.catalogue import MISTAKES
from trainer.study.asks import KINDS, called_kind, concept_of, drawn
from trainer.study.cell_question import CellQuestion, rows_asked
from trainer.study.happens import HAPPENS, HappensQuestion, happens_question
from trainer.study.prompts import CELL_ASKS
from trainer.study.quick_lab import quick_lab
from trainer.study.round import ON_PAGE, Round
from trainer.study.rules_in_a_line import RULES, rule_of
from trainer.study.today import Today, round_of_today

ASKS = (*CELL_ASKS, *HAPPENS)
DRAWS = 300 if os.environ.get("TRAINER_NIGHTLY") else 10
SOME = 2


def draws(ask: str, count: int) -> Iterator[Any]:
    for seed in range(count):
        yield drawn(ask, random.Random(f"{ask} {seed}"), in_another_setting=seed % 3 == 2)


def check_key_is_right(ask: str, count: int) -> None:
    for question in draws(ask, count):
        assert question.judge(question.answer.partition(")")[0] if ask in HAPPENS else question.answer).is_right
        assert question.takes(question.answer if ask in CELL_ASKS else question.answer[0])
        assert question.concept is concept_of(ask)
        assert question.steps[-1] == f"so {question.answer}"


@pytest.mark.parametrize("ask", CELL_ASKS)
def test_the_keys_answer_is_right(ask: str):
    check_key_is_right(ask, SOME)


@pytest.mark.many
@pytest.mark.parametrize("ask", ASKS)
def test_the_keys_answer_is_right_in_many_draws(ask: str):
    check_key_is_right(ask, DRAWS)


def test_every_concept_is_asked_alone_and_every_kind_has_a_name():
    assert all(KINDS[concept] for concept in Concept)
    assert sorted(ask for kinds in KINDS.values() for ask in kinds) == sorted(ASKS)
    assert len({called_kind(ask) for ask in CELL_ASKS}) == len(CELL_ASKS)
    assert set(RULES) == set(Concept)
    assert len(CELL_ASKS) == 28


# Every entry of the catalogue gets its text ---------------------------------------------------------------------------


def examples() -> Iterator[tuple[str, CellQuestion, str]]:
    """Examples of the catalogue in which this cell alone is wrong, as short questions about the same labs."""
    labs: tuple[tuple[Lab, Any], ...] = ((LAB, CELLS), (OTHER_LAB, OTHER_CELLS))
    for lab, cells in labs:
        for name, ask, row, text, also in cells:
            if ask not in CELL_ASKS or also or not text_of(text, lab):
                continue
            key_row = lab.row(section_of(ask), row)
            if key_row in rows_asked(lab.scenario, ask):
                question = CellQuestion(scenario=lab.scenario, question=QUESTIONS[ask], key_row=key_row)
                yield name, question, text_of(text, lab)


def check_entries(of_so_many: int) -> None:
    """One of so many entries."""
    asked = list(examples())[::of_so_many]
    found = [(name, question.ask, question.judge(text)) for name, question, text in asked]
    assert [(name, ask, judged.mistake) for name, ask, judged in found if judged.mistake != name] == []
    assert len(found) > 150 / of_so_many
    words = {each.id: each for each in MISTAKES}
    for name, _, judged in found:
        assert not judged.is_right
        assert judged.hint == words[name].hint
        assert judged.explanation


def test_entries_of_the_catalogue_that_fit_are_said():
    check_entries(9)


@pytest.mark.many
def test_every_entry_of_the_catalogue_that_fits_is_said():
    check_entries(1)


# What is printed is enough --------------------------------------------------------------------------------------------


def otherwise(lab: Scenario, rng: random.Random) -> Iterator[Scenario]:
    """The same lab with one thing changed that some answer may rest on."""
    rules = lab.rules
    other_end = GatewayPlace.LAST_USABLE if rules.gateway is GatewayPlace.FIRST_USABLE else GatewayPlace.FIRST_USABLE
    yield replace(lab, rules=replace(rules, gateway=other_end))
    yield replace(lab, rules=replace(rules, kept_for_fixed=rules.kept_for_fixed + 3))
    yield replace(lab, link_length=61 - lab.link_length)
    yield replace(lab, lease_hours=lab.lease_hours + 1)
    for place, vlan in enumerate(lab.vlans):
        for change in (
            {"addresses_needed": vlan.addresses_needed * 2},
            {"is_snooped": not vlan.is_snooped},
            {"is_guarded": not vlan.is_guarded},
            {"name": "Tower"},
        ):
            vlans = [*lab.vlans[:place], replace(vlan, **change), *lab.vlans[place + 1 :]]
            yield replace(lab, vlans=tuple(vlans))
    for place, station in enumerate(lab.stations):
        number = station.fixed_number
        if number is not None:
            moved = replace(station, fixed_number=number + 1)
            yield replace(lab, stations=(*lab.stations[:place], moved, *lab.stations[place + 1 :]))
    yield replace(lab, stations=tuple(rng.sample(lab.stations, len(lab.stations))))
    yield replace(lab, links=tuple(replace(each, first=each.second, second=each.first) for each in lab.links))


def check_printed_is_enough(ask: str, count: int) -> None:
    """Whatever else changes, with the cells that the answer rests on held: another answer has another text."""
    for seed in range(count):
        rng = random.Random(f"{ask} {seed}")
        question = drawn(ask, rng, in_another_setting=seed % 2 == 1)
        assert isinstance(question, CellQuestion)
        key = SoFar(question.scenario)
        held = {
            cell: key.value(QUESTIONS[cell.question], cell.row)
            for cell in rests_on(question.scenario, key, question.question, question.key_row)
        }
        for lab in otherwise(question.scenario, rng):
            if question.key_row not in rows_asked(lab, ask):
                continue
            plan = SoFar(lab, held, SoFar(lab), takes_all=True)
            if question.question.answer(lab, plan, question.key_row) != question.expected:
                assert CELL_ASKS[ask].prompt(lab, plan, question.key_row) != question.prompt[0]


@pytest.mark.parametrize("ask", CELL_ASKS)
def test_no_question_needs_what_is_not_printed(ask: str):
    check_printed_is_enough(ask, 1)


@pytest.mark.many
@pytest.mark.parametrize("ask", CELL_ASKS)
def test_no_question_needs_what_is_not_printed_in_many_draws(ask: str):
    check_printed_is_enough(ask, DRAWS)


def check_what_happens(ask: str, count: int) -> None:
    for question in draws(ask, count):
        assert isinstance(question, HappensQuestion)
        printed = " ".join(question.prompt)
        assert [place for place in range(4) if question.judge("abcd"[place]).is_right] == [question.right]
        assert sum(each.fails for each in question.choices) == 1, "one changed, three did not"
        assert len({each.subject for each in question.choices}) == 4
        lab = question.scenario
        stations = {name for each in question.choices for name in (each.source, each.target) if name}
        for name in (*stations, lab.server.name):
            station = lab.station_by_name[name]
            assert f"{name} at {station.at}, VLAN {station.vlan}" in printed
        assert all(str(vlan.number) in printed for vlan in lab.vlans)
        assert all(link.name in printed for link in lab.links)
        wrong = question.judge("abcd"[question.right - 1])
        assert wrong.explanation
        assert wrong.hint
        assert not question.judge("e").is_right


@pytest.mark.parametrize("ask", HAPPENS)
def test_of_what_happens_one_trial_changed_and_all_that_is_spoken_of_is_printed(ask: str):
    check_what_happens(ask, 1)
    check_key_is_right(ask, 1)


@pytest.mark.many
@pytest.mark.parametrize("ask", HAPPENS)
def test_of_what_happens_one_trial_changed_in_many_draws(ask: str):
    check_what_happens(ask, DRAWS)


@pytest.mark.parametrize("ask", many(HAPPENS, ("happens.relay", "happens.no_route")))
def test_sizes_that_are_not_printed_change_nothing_of_what_happens(ask: str):
    """The same slip in the same lab with other sizes: the same trials change."""
    lab = quick_lab(random.Random(3))
    larger = replace(lab, vlans=tuple(replace(each, addresses_needed=each.addresses_needed + 1) for each in lab.vlans))
    one, other = (happens_question(ask, each, random.Random(ask)) for each in (lab, larger))
    assert (one.prompt, one.answer) == (other.prompt, other.answer)


# A round --------------------------------------------------------------------------------------------------------------


def a_round(*kinds: str, level: int = 4, seed: int = 1, right: dict[str, int] | None = None) -> Round:
    return Round(
        session="s", rng=random.Random(seed), waiting=list(kinds), level_of=lambda _: level, right_before=right or {}
    )


def wrong_then(asked: Round, *lines: str) -> list[tuple[str, ...]]:
    asked.ask_next()
    return [asked.obey(line) for line in lines]


def test_the_first_wrong_answer_gets_only_not_yet_and_the_second_the_hint():
    asked = a_round("subnets.prefix")
    first, second = wrong_then(asked, "/12", "/12")
    assert first == ("Not yet. Try once more, or type hint.",)
    assert second[0].startswith("Not yet. ")
    assert second[0].endswith("?")


def test_hints_lead_on_and_nothing_is_said_twice():
    asked = a_round("subnets.mask")
    _, first, rule, why, end = wrong_then(asked, "255.255.255.2", "hint", "hint", "hint", "hint")
    assert first[0].endswith("?")
    assert rule == (rule_of("subnets.mask", Concept.SIZE),)
    assert "255.255.255.2 has a one" in why[0]
    assert end == ("That was every hint. To see how it is worked out, type steps.",)
    asked = a_round("subnets.mask")
    _, why, *hints = wrong_then(asked, "255.255.255.2", "why", "hint", "hint", "hint")
    assert len({why, *hints}) == 4, "what why has told is no hint any more"


def test_the_rule_of_a_mask_is_not_that_of_a_length():
    assert "128, 192, 224" in rule_of("subnets.mask", Concept.SIZE)
    assert "power of two" in rule_of("subnets.prefix", Concept.SIZE)


def test_on_a_page_buttons_are_spoken_of():
    asked = a_round("subnets.prefix")
    asked.wording = ON_PAGE
    told = wrong_then(asked, "answer", "why", "/12", "hint", "hint", "hint", "hint", "")
    text = " ".join(line for lines in told for line in lines)
    assert "press Hint" in text
    assert "press Steps" in text
    assert not re.search(r"\btype\b|\bskip\b|\bquit\b", text)


@pytest.mark.parametrize(("ask", "level"), [("subnets.prefix", 1), ("subnets.network", 4)])
def test_a_round_brings_no_sum_twice_and_no_answer_that_an_example_has_shown(ask: str, level: int):
    for seed in range(3):
        asked = a_round(ask, ask, ask, level=level, seed=seed)
        sums, printed = [], ""
        while lines := asked.ask_next():
            assert asked.asking is not None
            question = asked.asking.question
            assert not re.search(rf"(?<![\w.]){re.escape(question.answer)}(?![\w.]*\d)", printed)
            sums.append(question.likeness)
            printed += "".join(lines[2:])
            asked.obey(question.answer)
        assert len(set(sums)) == len(sums) == 3


def test_an_example_is_a_question_that_is_solved():
    asked = a_round("subnets.network", level=1)
    _, prompt, example, way = asked.ask_next()
    assert "behind it comes VLAN" in prompt
    assert example.startswith("Example: Networks are placed ")
    assert re.search(r"; so \d+\.\d+\.\d+\.\d+$", way)


@pytest.mark.parametrize("ask", ["happens.port", "happens.gateway"])
def test_the_way_of_a_packet_is_told_in_whole_sentences_and_begins_with_the_slip(ask: str):
    question = drawn(ask, random.Random(1))
    assert isinstance(question, HappensQuestion)
    told = "; ".join(question.steps[:-1])
    assert told.startswith(question.words.rstrip("."))
    assert not re.search(r"\.;|\.\.", told)


def test_the_answer_comes_only_after_a_try():
    asked = a_round("subnets.prefix")
    refused, _, told = wrong_then(asked, "answer", "12", "answer")
    assert refused == ("Try it first: any answer is better than none. Or type hint.",)
    assert re.match(r"\d+: \d+ needed", told[0])
    assert asked.done[0].shown
    assert not asked.done[0].right


def test_the_same_is_promised_only_where_it_comes_again():
    promise = "The same with other numbers comes again in this round."
    asked = a_round("subnets.prefix")
    assert wrong_then(asked, "12", "steps")[-1][-1] == promise
    asked.obey("skip")
    assert asked.ask_next()[0].startswith("2 of 2, ")
    assert promise not in [*asked.obey("12"), *asked.obey("steps")], "it has come once more already"
    asked.obey("skip")
    assert asked.ask_next() == ()
    assert promise in wrong_then(a_round("subnets.prefix"), "12", "answer")[-1], "whatever ends the question"
    full = a_round(*["subnets.prefix", "subnets.mask"] * 6)
    assert promise not in wrong_then(full, "12", "steps")[-1], "the round is full"


def test_steps_before_a_try_have_other_numbers():
    asked = a_round("subnets.prefix")
    (told,) = wrong_then(asked, "steps")
    assert asked.asking is not None
    assert told == asked.asking.question.example
    assert asked.asking.question.answer not in " ".join(told).split()


@pytest.mark.parametrize(("ask", "text"), [("subnets.first", "198"), ("subnets.first", ".5"), ("happens.port", "none")])
def test_a_part_of_an_address_is_no_try_and_it_is_said_how_an_answer_looks(ask: str, text: str):
    asked = a_round(ask)
    (told,) = wrong_then(asked, text)
    like = "172.20.4.1" if ask == "subnets.first" else "a"
    assert told[0] == f"{text!r} is no answer to this question, so it is no try. It is written like {like}."
    assert asked.asking is not None
    assert asked.asking.tries == 0


def test_gaps_come_up_between_networks_and_ports_are_looked_up():
    placed = [drawn("subnets.network", random.Random(seed)).prompt[0] for seed in range(20)]
    assert 5 < sum("in the order of a list" in each for each in placed) < 15
    port = drawn("ports.vlan", random.Random(1)).prompt[0]
    assert port.count("(VLAN ") > 1
    assert "routed link A" not in port


def test_masks_of_short_networks_are_asked_too():
    found = {drawn("subnets.mask", random.Random(seed)).answer for seed in range(60)}
    assert {"255.255.255.240", "255.255.252.0"} < found


def test_what_is_no_answer_is_no_try():
    asked = a_round("subnets.prefix")
    wrong_then(asked, "hlep", "")
    assert asked.asking is not None
    assert asked.asking.tries == 0


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (("{right}",), ("right", 0, False, True)),
        (("hint", "{right}"), ("right", 1, False, True)),
        (("12", "{right}"), ("wrong", 0, False, True)),
        (("12", "why", "{right}"), ("wrong", 2, False, True)),
        (("steps", "{right}"), ("right", 1, False, True)),
        (("12", "steps", "{right}"), ("wrong", 3, False, True)),
        (("12", "answer"), ("wrong", 0, True, False)),
        (("12", "skip"), ("wrong", 0, False, False)),
    ],
)
def test_what_was_done_is_noted_with_the_first_verdict_and_the_highest_rung(
    lines: tuple[str, ...], found: tuple[str, int, bool, bool]
):
    asked = a_round("subnets.prefix")
    asked.ask_next()
    assert asked.asking is not None
    right = asked.asking.question.answer
    for line in lines:
        asked.obey(line.format(right=right))
    (done,) = asked.done
    assert (done.first, done.rung, done.shown, done.right) == found
    assert (done.ask, done.lab, done.support, done.session) == ("subnets.prefix", "quick", 4, "s")


def test_a_question_that_was_left_out_untouched_is_no_try():
    asked = a_round("subnets.prefix")
    wrong_then(asked, "skip")
    assert asked.done == []
    asked = a_round("subnets.prefix")
    asked.ask_next()
    asked.leave()
    assert asked.done == []


def test_what_went_wrong_comes_once_more_in_the_round_with_other_numbers():
    asked = a_round("subnets.broadcast")
    asked.ask_next()
    assert asked.asking is not None
    first = asked.asking.question.prompt
    wrong_then_skipped = [asked.obey(line) for line in ("10.1.1.1", "skip")]
    assert wrong_then_skipped
    assert asked.ask_next()[0].startswith("2 of 2, Range")
    assert asked.asking is not None
    assert asked.asking.question.prompt != first
    asked.obey("10.1.1.1")
    asked.obey("skip")
    assert asked.ask_next() == ()


def test_after_three_right_a_kind_rests():
    asked = a_round(*["subnets.mask"] * 5, right={"subnets.mask": 1})
    while asked.ask_next():
        assert asked.asking is not None
        asked.obey(asked.asking.question.answer)
    assert len(asked.done) == 2


@pytest.mark.parametrize("level", range(1, 6))
def test_the_level_of_support_shows_beside_the_question(level: int):
    asked = a_round("subnets.prefix", level=level)
    lines = asked.ask_next()
    beside = lines[2:]
    assert [each.partition(" ")[0] for each in beside] == {1: ["Example:", ""], 2: ["Rule:"], 3: ["Rule:"]}.get(
        level, []
    )
    assert asked.asking is not None
    asked.obey(asked.asking.question.answer)
    assert (asked.done[0].support, asked.done[0].d) == (level, "0.5" if level == 5 else "0")


def test_due_kinds_come_first_eight_at_most_and_mixed():
    today = Today(
        day=None,  # type: ignore[arg-type]
        is_clock_back=False,
        due=(*KINDS[Concept.RANGE], *KINDS[Concept.SIZE]),
        next=Concept.PLACE,
        lab=None,
        waits=None,
        rests=(),
        right={},
    )
    kinds = round_of_today(today, random.Random(1))
    assert set(kinds[:5]) == set(today.due)
    concepts = [concept_of(each) for each in kinds[:5]]
    assert all(one is not other for one, other in pairwise(concepts))
    assert kinds[5:] == ("subnets.network",) * 3
    assert len(round_of_today(replace(today, due=ASKS), random.Random(1))) == 8
