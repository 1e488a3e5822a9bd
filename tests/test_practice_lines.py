"""Practising: what is printed of a save, and how much of it. The lab is the bakery's, made by hand."""

import pytest
from bakery_saves import KEY, LAB, NAMES, START, at, marked, whole
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.commands.practice_lines import (
    bar_lines,
    hint_lines,
    list_lines,
    reason_lines,
    report_lines,
    step_lines,
)
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.marking.marks import Marked, Verdict
from trainer.marking.practice import Progress, after_save, next_to_do, standings
from trainer.marking.practice_cells import answer_to, asked_about
from trainer.records import from_record, to_record
from trainer.study.steps import worked_row


def saved(*saves: Marked, progress: Progress = START) -> tuple[Progress, list[str]]:
    """What is known after these saves, and what was said of the last."""
    said: list[str] = []
    for number, each in enumerate(saves):
        before, progress = progress, after_save(progress, each, (number,))
        said = list(report_lines(each, progress, NAMES, before, "14:03"))
    return progress, said


# --- What is right ----------------------------------------------------------------------------------------------------


def test_bars_are_shown_when_they_are_asked_for():
    found = marked({"Subnets D6": "10.9.9.0"})
    progress, said = saved(found)
    assert not any("#" in line for line in said)
    bars = list(bar_lines(found, progress))
    assert bars[:2] == [
        "Subnets       34 of 35   [###################-]",
        "Links          4 of 4    [####################]",
    ]
    assert bars[-1].startswith("In your network: leases ")


def test_what_follows_from_a_wrong_answer_has_a_sign_of_its_own():
    found = marked({"Subnets I7": "10.20.2.5", "Pools F6": "10.20.2.5"})
    assert "Pools         14 of 15   [##################~~]  1 from an answer that is not right" in bar_lines(
        found, START
    )


def test_a_whole_form_is_complete_and_tells_no_score():
    _, said = saved(whole())
    assert said[0].startswith("Looked at 14:03. ")
    assert said[1:] == [
        "Every cell is right.",
        "Right the first time: all of Subnets; all of Links; all of Ports; all of Stations; all of Routes; all of Pools; all "
        "of Relays; all of Protection; all of Bindings.",
        "'new' draws another lab.",
    ]
    assert all(each.is_complete for each in standings(whole(), START))
    assert next_to_do(whole(), START) == ()


def test_a_row_too_many_keeps_a_section_open():
    """All that is asked for is right, and a route that does harm stands beside it."""
    extra = {"Routes B11": "A", "Routes C11": "10.20.1.0", "Routes D11": "/24", "Routes E11": "10.20.2.226"}
    found = marked(extra)
    (routes,) = (each for each in standings(found, START) if each.section == "routes")
    assert (routes.right, routes.too_many, routes.is_complete) == (routes.asked, 1, False)
    progress, said = saved(found)
    assert "Routes        20 of 20   [####################]  1 row too many" in bar_lines(found, progress)
    assert said[-1] == "1. Routes B11-E11: not yet."


# --- What a save changed ----------------------------------------------------------------------------------------------


def test_the_news_come_first_with_what_has_become_right():
    _, said = saved(marked({"Subnets D6": "1.1.1.1", "Pools G6": "1 h", "Pools G7": "1 h"}), whole())
    assert said[0] == ("Looked at 14:03. 3 more right: Subnets D6; Pools G6, G7. Subnets 35 of 35, Pools 15 of 15.")
    _, said = saved(marked({"Subnets D6": "", "Subnets D7": ""}), marked({"Subnets D7": ""}))
    assert said[0] == "Looked at 14:03. 1 more right: Subnets D6. 34 of 35 on sheet Subnets."


def test_a_section_that_was_filled_in_all_at_once_is_not_named_cell_by_cell():
    _, said = saved(whole())
    assert " right: all of Subnets; Links B6-E6; all of Ports; all of Stations; all of" in said[0]


def test_what_is_no_longer_right_is_named():
    _, said = saved(whole(), marked({"Pools G6": "1 h"}))
    assert said[:2] == ["Looked at 14:03. Nothing more is right yet.", "No longer right: Pools G6."]


def test_what_followed_from_an_answer_that_was_changed_is_to_be_done_again_and_not_lost():
    """The pool's router follows from a wrong gateway; when the gateway is put right, the router is right no longer."""
    wrong = {"Subnets I7": "10.20.2.5", "Pools F6": "10.20.2.5"}
    row = at("Subnets I7").row
    assert at("Pools F6").row == row, "the first pool is of the second VLAN"
    before = marked(wrong)
    assert next(cell for cell in before.cells if (cell.question, cell.row) == ("pools.router", row)).verdict is (
        Verdict.FOLLOWS
    )
    _, said = saved(marked({**wrong, "Pools F6": ""}), before)
    assert said[:2] == [
        "Looked at 14:03. Nothing more is right yet.",
        "Worked out rightly from an answer that is not right: Pools F6.",
    ]
    _, said = saved(before, marked({"Pools F6": "10.20.2.5"}))
    assert said[0].startswith("Looked at 14:03. 1 more right: Subnets I7. 35 of 35 on sheet Subnets.")
    assert said[1] == "To be worked out again, from what you have changed: Pools F6."
    assert len(said) == 2, "it is told once, and not as a mistake"
    _, said = saved(before, *[marked({"Pools F6": "10.20.2.5"})] * 2)
    assert said[-1].endswith("'10.20.2.5': near, not yet right."), "without a hint: it is the first try"


def test_what_is_still_to_look_at_is_named_where_the_remarks_do_not_name_it_all():
    _, said = saved(marked({"Links C6": "/9", "Pools G6": "1 h", "Pools G7": ""}))
    assert "Still to look at: Links C6; Pools G6." in said
    _, said = saved(marked({"Pools G6": "1 h", "Pools G7": ""}))
    assert not any(line.startswith("Still") for line in said)


def test_a_save_that_changes_nothing_says_so_and_one_that_changes_a_wrong_value_does_not():
    _, said = saved(*[marked({"Pools G6": "1 h"})] * 2)
    assert said[0] == "Looked at 14:03. No answer has changed since the last save."
    assert not any("No answer" in line for line in saved(marked({"Pools G6": "1 h"}))[1])
    _, said = saved(marked({"Pools G6": "1 h"}), marked({"Pools G6": "2 h"}))
    assert said[:2] == [
        "Looked at 14:03. Nothing more is right yet.",
        "Changed, and not right yet: Pools G6.",
    ]


def test_a_look_that_is_no_save_tells_of_no_change():
    progress, _ = saved(marked({"Pools G6": "1 h"}))
    said = list(report_lines(marked({"Pools G6": "1 h"}), progress, NAMES))
    assert len(said) == 2
    assert said[0].startswith("Subnets 35 of 35, Links 4 of 4, ")
    assert said[-1].endswith("'1 h': not yet.")


# --- Which rung -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("saves", "tells_the_hint"),
    [(["1 h"], False), (["1 h", "1 h"], True), (["1 h", "2 h"], True), (["1 h", "6 h", "1 h"], False)],
    ids=["first save", "second save", "second try", "right in between"],
)
def test_a_hint_comes_with_the_second_save_in_a_row(saves: list[str], tells_the_hint: bool):
    _, said = saved(*(marked({"Pools G6": each}) for each in saves))
    assert ("?" in " ".join(said)) is tells_the_hint


def test_only_the_first_section_that_is_not_complete_is_spoken_of():
    _, said = saved(marked({"Links C6": "/9", "Pools G6": "1 h"}))
    assert sum(line.startswith("1.") for line in said) == 1
    assert "Pools G6" not in "\n".join(line for line in said if line[0].isdigit())


def test_three_things_are_said_and_the_rest_counted():
    wrong = zip((6, 7, 8, 9), ("77", "x", "routed", "10"), strict=True)
    _, said = saved(marked({f"Ports C{row}": text for row, text in wrong}))
    assert [line[:3] for line in said[-4:]] == ["1. ", "2. ", "3. ", "   "]
    assert said[-1] == "   and 1 more in Ports: 'list' says where."


def test_a_cause_is_told_once_with_its_cells():
    _, said = saved(marked({f"Ports C{row}": "77" for row in (6, 7, 8)}))
    assert said[-1] == "1. Ports C6, C7, C8: not yet."


def test_what_was_written_wrongly_is_told_and_a_blank_cell_is_no_mistake():
    _, said = saved(marked({"Pools G6": "", "Pools G7": "1 h"}))
    assert said[-1].startswith("1. Pools G7 (")
    assert "empty" not in " ".join(said)
    _, said = saved(marked({"Pools G6": "", "Pools F6": "", "Pools G7": ""}))
    assert said[-1] == "Next: Pools F6-G6 (20). 'steps F6' shows the way, with another lab's numbers."


def test_hint_and_why_are_told_when_asked_for():
    found = marked({"Pools G6": "1 h"})
    to_do = next_to_do(found, START)
    (cell,) = to_do[0].cells
    assert cell.explanation is not None
    start = f"1. Pools G6 ({cell.row}, Lease), '1 h': "
    assert list(hint_lines(to_do, NAMES)) == [start + cell.explanation.hint]
    told = [list(reason_lines(to_do, NAMES, times)) for times in range(3)]
    assert told[0][0].startswith(f"{start}{cell.explanation.explanation}")
    together = " ".join(line for lines in told for line in lines)
    assert f"What the network does: {cell.explanation.consequence}" in together
    assert "Tried: With this right, 2 leases (Ovens 1, Ovens 2) would have another lease time." in together
    assert cell.expected not in together
    assert all(len(line.removeprefix(start).split()) <= 40 for lines in told for line in lines)


def test_each_wish_for_a_hint_climbs_one_rung():
    found = marked({"Pools G6": "1 h"})
    (cell,) = next_to_do(found, START)[0].cells
    assert cell.explanation is not None
    progress = START
    told = []
    for _ in range(3):
        progress = progress.with_next_rung(next_to_do(found, progress))
        told.append(" ".join(hint_lines(next_to_do(found, progress), NAMES)))
    assert told[0].endswith(cell.explanation.hint)
    assert cell.explanation.explanation in told[1]
    assert told[2] == "", "the last rung is the steps, which are told with another lab's numbers"


def test_a_hint_that_was_asked_for_stays_in_sight():
    found = marked({"Pools G6": "1 h"})
    progress = START.with_next_rung(next_to_do(found, START))
    assert "?" in " ".join(report_lines(found, progress, NAMES))
    assert "?" not in " ".join(report_lines(found, START, NAMES))


def test_steps_tell_the_way_in_order_with_what_they_start_from():
    lines = list(step_lines(worked_row(LAB, "stations", SECTIONS["stations"].rows(LAB)[0])))
    assert lines == [
        "How it is done, with another lab's numbers (Stations: Station DHCP server, Port A/1):",
        "  1. Address. Count the usable addresses from the lowest: no. n is network address + n.",
        "     Address 10.20.2.229: usable address no. 5 of 10.20.2.224/28 (Subnets 10: Network address 10.20.2.224, Prefix "
        "length 28)",
        "  2. Mask. Copy the mask of the station's VLAN from sheet Subnets.",
        "     Mask 255.255.255.240: as VLAN 10's interface has it (Subnets 10: Mask 255.255.255.240)",
        "  3. Gateway. Copy the gateway of the station's VLAN from sheet Subnets.",
        "     Gateway 10.20.2.225: the gateway of VLAN 10: the VLAN interface of its switch (Subnets 10: Gateway 10.20.2.225)",
    ]
    (_, how, numbers) = step_lines(worked_row(LAB, "links", SECTIONS["links"].rows(LAB)[0]), only="links.mask")
    assert how == "  Sheet Given says how long link networks are."
    assert numbers == "     Mask 255.255.255.252: rule Links: /30, 4 addresses, 2 of them usable"


def test_text_of_any_kind_is_shown_in_plain_characters_and_not_at_length():
    _, said = saved(marked({"Pools G6": "\x1b[2J" + "x" * 200}))
    assert "\x1b" not in "".join(said)
    assert "x..." in " ".join(said)
    assert "x" * 41 not in " ".join(said)


# --- Answers ----------------------------------------------------------------------------------------------------------


def test_a_shown_answer_is_counted_apart_once_it_is_written():
    shown = START.with_shown(at("Pools G6"))
    assert shown.with_shown(at("Pools G6")) == shown
    progress, said = saved(marked({"Pools G6": "1 h"}), whole(), progress=shown)
    assert "Pools         14 of 15   [##################==]  1 shown" in bar_lines(whole(), progress)
    assert said[0].startswith("Looked at 14:03. 1 more right: Pools G6 (shown). ")
    assert "Shown: Pools G6." in said
    assert list(list_lines(whole(), shown, NAMES)) == ["Every cell is right.", "Shown: Pools G6."]


def test_the_end_tells_what_went_with_help():
    progress, _ = saved(marked({"Pools G6": "1 h", "Links C6": ""}))
    progress, said = saved(whole(), progress=progress)
    assert "With a second try or a hint: Pools G6." in said
    (first,) = (line for line in said if line.startswith("Right the first time"))
    assert "all of Links" in first
    assert "Pools First address, Last address, Mask, Router;" in first


# --- What must hold whatever is written -------------------------------------------------------------------------------

TEXTS = st.one_of(st.sampled_from(sorted(set(KEY.values()))), st.text(max_size=60), st.just(""))


@settings(max_examples=10)
@given(changes=st.lists(st.dictionaries(st.sampled_from(list(NAMES)), TEXTS, max_size=40), min_size=1, max_size=3))
def test_whatever_is_saved_is_reported_and_remembered(changes: list[dict[CellRef, str]]):
    saves = [marked(texts={**KEY, **each}) for each in changes]
    progress, said = saved(*saves)
    assert said[0].startswith("Looked at 14:03. ")
    assert all(line and "\n" not in line for line in said)
    assert from_record(Progress, to_record(progress)) == progress
    done = all(each.is_complete for each in standings(saves[-1], progress))
    assert ("Every cell is right." in said) is done
    for name in map(" ".join, NAMES.values()):
        asked = asked_about(name, saves[-1], NAMES, None, "answer")
        assert not isinstance(asked, str)
        assert answer_to(asked, progress, LAB).words.startswith(name)
