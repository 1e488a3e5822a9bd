"""Labs to practise on differ from one another, are as sound as a class's, and give nothing away."""

import random
from functools import cache

import pytest
from drawn_labs import bakery

from trainer.commands.exercises import ready_made
from trainer.commands.reading import read_exercise_file
from trainer.lab.dependencies import all_it_rests_on
from trainer.lab.draw import lab_slot
from trainer.lab.draw_network import draw_scenario
from trainer.lab.exercise import Exercise
from trainer.lab.form import SoFar
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.questions import FORM, SECTIONS, subnets
from trainer.lab.scenario import Asked, Order, Scenario, Trainee
from trainer.network.addresses import prefix_length_for
from trainer.study.labs import can_be_asked, draw_for_practice, short
from trainer.study.support import FULL_EXAMPLE, OTHER_SETTING

STEMS = [each.file.stem for each in ready_made() if not each.file.stem.startswith("faults-")]
"""Where a plan is asked for; in fault-finding labs the plan is given."""


@cache
def exercise(stem: str) -> Exercise:
    return read_exercise_file(next(each.file for each in ready_made() if each.file.stem == stem))


@cache
def drawn(stem: str, support: int) -> tuple[Scenario, ...]:
    """Twenty labs that somebody would get who asks for a new one again and again."""
    labs = []
    for number in range(20):
        rng = random.Random(number)
        dealt, common = draw_for_practice(exercise(stem), support, rng)
        slot = lab_slot(b"s", dealt, common, number)
        labs.append(draw_scenario(dealt, common, Trainee(id="practice"), f"LAB-{number:04}", slot, rng))
    return tuple(labs)


def vector(lab: Scenario) -> tuple[tuple[int, int], ...]:
    """Where in the block each network lies, and how long it is."""
    networks = [subnets.network_of(SoFar(lab), vlan.number) for vlan in lab.vlans]
    return tuple((int(each.network_address) - int(lab.block.network_address), each.prefixlen) for each in networks)


@pytest.mark.parametrize("support", [FULL_EXAMPLE, OTHER_SETTING])
@pytest.mark.parametrize("stem", STEMS)
def test_twenty_labs_have_at_least_ten_different_plans(stem: str, support: int):
    assert len({vector(lab) for lab in drawn(stem, support)}) >= 10


@pytest.mark.parametrize("stem", STEMS)
def test_sizes_stay_between_the_exercises_own(stem: str):
    asked = [each.addresses_needed for each in exercise(stem).networks]
    shortest = prefix_length_for(max(each.highest for each in asked))
    longest = prefix_length_for(min(each.lowest for each in asked))
    lengths = {prefix_length_for(vlan.addresses_needed) for lab in drawn(stem, FULL_EXAMPLE) for vlan in lab.vlans}
    assert shortest <= min(lengths)
    assert max(lengths) <= longest


@pytest.mark.parametrize("support", [FULL_EXAMPLE, OTHER_SETTING])
@pytest.mark.parametrize("stem", STEMS)
def test_every_key_is_proved(stem: str, support: int):
    for lab in drawn(stem, support)[:3]:
        assert prove(lab, derive_key(lab)).trials


def test_another_setting_has_another_order_and_another_gateway():
    plain, other = (drawn("two-switches", support)[0].rules for support in (FULL_EXAMPLE, OTHER_SETTING))
    assert plain.order is exercise("two-switches").rules.order
    assert (other.order, other.gateway) != (plain.order, plain.gateway)
    assert other.order is Order.AS_LISTED
    assert drawn("free-plan", OTHER_SETTING)[0].rules.order is Order.FREE, "a free choice stays free"


# --- Short labs -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sheet", [each.id for each in FORM])
def test_a_short_lab_prints_what_is_needed_and_nothing_that_gives_an_answer_away(sheet: str):
    lab = bakery()
    found = short(lab, (sheet,))
    shares = {share.section: share.asked for share in found.sections}
    assert found.asked == (sheet,)
    assert sum(share.share for share in found.sections) == 100
    key = SoFar(lab)

    def rests_on(section: str) -> set[str]:
        cells = (
            cell
            for row in SECTIONS[section].rows(lab)
            for question in SECTIONS[section].questions_in(lab)
            for cell in all_it_rests_on(lab, key, question, row.key)
        )
        return {cell.question.partition(".")[0] for cell in cells} - {section}

    assert all(shares[each] is Asked.GIVEN for each in rests_on(sheet)), "what it starts from stands there"
    for other, asked in shares.items():
        if other != sheet:
            assert (asked is Asked.NO) is (sheet in rests_on(other))


def test_two_sheets_may_be_asked_together():
    found = short(bakery(), ("subnets", "stations"))
    assert found.asked == ("subnets", "stations")
    assert [share.share for share in found.sections if share.asked is Asked.YES] == [50, 50]
    assert found.minutes is None


def test_only_sheets_with_something_to_fill_in_can_be_asked():
    lab = drawn("addressing", FULL_EXAMPLE)[0]
    assert can_be_asked(exercise("addressing"), lab) == ("subnets", "links", "stations")
