"""What is said: each part once, in one order, and as much of it as may be seen."""

from dataclasses import replace

import pytest
from said_of_a_cell import CELL, EXPLAINED

from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Reveal
from trainer.marking.feedback import answers_in, messages, remarks, together
from trainer.marking.said import EVERY_LABEL, Label, in_words, may_see, said


def test_all_that_is_said_of_a_cell_stands_in_the_order_of_the_labels():
    assert [(part.label, part.text) for part in said((CELL,))] == [
        (Label.DECISION, "Said in class."),
        (Label.EXPLANATION, "Here is why."),
        (Label.HINT, "Where would you look?"),
        (Label.CONSEQUENCE, "It stops."),
        (Label.SEEN, "With this right, 1 ping comes back."),
        (Label.STEPS, "ping: A to B"),
        (Label.RESTS_ON, "It depends on Subnets 20: Mask, right as written."),
        (Label.FOLLOWED, "What follows from it counts: Subnets 20: Broadcast address."),
        (Label.RIGHT, "10.20.9.9"),
        (Label.DERIVATION, "rule Gateway: the first usable address."),
        (Label.EXAMPLE, "In another lab it is 7."),
    ]
    (steps,) = said((CELL,), {Label.STEPS})
    assert steps.steps == ("A sends.", "B drops it.")


def test_every_label_has_a_code_of_its_own():
    assert len({label.code for label in Label}) == len(Label)


SEEN_WITH = {
    Reveal.MARKS: {Label.DECISION, Label.FOLLOWED},
    Reveal.HINTS: {Label.DECISION, Label.FOLLOWED, Label.HINT},
    Reveal.EXPLANATIONS: EVERY_LABEL - {Label.REMARK, Label.STEPS, Label.RIGHT, Label.RIGHT_BY_PLAN, Label.DERIVATION},
    Reveal.ANSWERS: EVERY_LABEL - {Label.REMARK, Label.RIGHT_BY_PLAN, Label.EXAMPLE},
}


@pytest.mark.parametrize("reveal", Reveal)
def test_as_much_is_told_as_may_be_seen(reveal: Reveal):
    """Of one and the same marks, which hold all of it."""
    (remark,) = remarks([CELL], reveal)
    assert {part.label for part in remark.parts} == SEEN_WITH[reveal]
    assert bool(remark.answer) is (reveal is Reveal.ANSWERS)
    (message,) = messages([CELL], reveal)
    assert message.parts == remark.parts
    assert Label.REMARK in may_see(reveal), "it is about a cell that is right"


def test_what_there_is_no_room_for_is_left_out():
    (remark,) = remarks([CELL], Reveal.ANSWERS, {Label.STEPS})
    assert {part.label for part in remark.parts} == SEEN_WITH[Reveal.ANSWERS] - {Label.STEPS}


def test_what_is_true_of_one_cell_is_not_said_of_several():
    other = replace(CELL, row=VlanRow(30), decision="")
    (message,) = messages([replace(CELL, decision=""), other], Reveal.ANSWERS)
    assert [part.label for part in message.parts] == [
        *(Label.EXPLANATION, Label.HINT, Label.CONSEQUENCE, Label.SEEN, Label.STEPS)
    ]
    assert [[cell.answer and cell.answer.text for cell in row.cells] for row in message.rows] == [["10.20.9.9"]] * 2


def test_where_findings_differ_each_row_has_its_own_and_steps_are_left_out():
    other = replace(CELL, row=VlanRow(30), explanation=replace(EXPLAINED, seen="Nothing changes."))
    alike = [replace(each, decision="") for each in (CELL, other)]
    (message,) = messages(alike, Reveal.ANSWERS)
    assert not {Label.SEEN, Label.STEPS} & {part.label for part in message.parts}
    assert [row.seen for row in message.rows] == [EXPLAINED.seen, "Nothing changes."]


def test_a_row_has_each_text_once_and_its_right_values_with_their_headings():
    mask = replace(CELL, question="subnets.mask", given="255.0.0.0", expected="255.255.255.0", by_plan=True)
    alike = list(remarks([replace(each, decision="") for each in (CELL, mask)], Reveal.ANSWERS))
    words = in_words(together(alike, VlanRow(20)))
    assert words.count(EXPLAINED.hint) == words.count(EXPLAINED.seen) == words.count("Why that: ") == 1
    assert "Right: Gateway 10.20.9.9. Right by your own plan: Mask 255.255.255.0 Why that: rule Gateway" in words
    assert answers_in(alike, VlanRow(30)) == ()
