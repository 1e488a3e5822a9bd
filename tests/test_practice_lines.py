"""Practising: what is printed of a save, and how much of it. The lab is the bakery's, made by hand."""

import re

import pytest
from bakery_saves import KEY, LAB, NAMES, START, at, marked, whole
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.commands.practice_lines import hint_lines, list_lines, reason_lines, report_lines
from trainer.lab.form import CellRef
from trainer.marking.marks import Marked, Verdict
from trainer.marking.practice import Progress, after_save, answer_to, next_to_do, standings
from trainer.records import from_record, to_record


def saved(*saves: Marked, progress: Progress = START) -> tuple[Progress, list[str]]:
    """What is known after these saves, and what was said of the last."""
    said: list[str] = []
    for number, each in enumerate(saves):
        before, progress = progress, after_save(progress, each, (number,))
        said = list(report_lines(each, progress, NAMES, before))
    return progress, said


def sentences(lines: list[str]) -> str:
    """The lines as they were before they were broken."""
    return re.sub(r"\n +(?!\d)", " ", "\n".join(lines))


# --- What is right ----------------------------------------------------------------------------------------------------


def test_a_section_has_a_line_with_right_of_asked_and_a_bar():
    _, said = saved(marked({"Subnets D6": "10.9.9.0"}))
    assert said[:2] == [
        "Subnets       34 of 35   [###################-]",
        "Links          4 of 4    [####################]",
    ]


def test_a_whole_form_is_complete():
    _, said = saved(whole())
    assert said[-1] == "Every cell is right. 'new' draws another lab."
    assert all(each.is_complete for each in standings(whole(), START))
    assert next_to_do(whole(), START) == ()


def test_a_row_too_many_keeps_a_section_open():
    """All that is asked for is right, and a route that does harm stands beside it."""
    extra = {"Routes B11": "B", "Routes C11": "10.20.9.0", "Routes D11": "/24", "Routes E11": "10.20.2.241"}
    found = marked(extra)
    (routes,) = (each for each in standings(found, START) if each.section == "routes")
    assert (routes.right, routes.too_many, routes.is_complete) == (routes.asked, 1, False)
    _, said = saved(found)
    assert "Routes        20 of 20   [####################]  1 row too many" in said
    assert said[-1] == "1. Routes B11-E11: not yet."


# --- What a save changed ----------------------------------------------------------------------------------------------


def test_what_has_become_right_is_named_by_sheet():
    _, said = saved(marked({"Subnets D6": "1.1.1.1", "Pools G6": "1 h", "Pools G7": "1 h"}), whole())
    assert "Now right: Subnets D6; Pools G6, G7." in said


def test_a_section_that_was_filled_in_all_at_once_is_not_named_cell_by_cell():
    _, said = saved(whole())
    assert "Now right: all of Subnets; Links B6-E6; all of Ports; all of Stations; all of" in said


def test_what_is_no_longer_right_is_named():
    _, said = saved(whole(), marked({"Pools G6": "1 h"}))
    assert "No longer right: Pools G6." in said


def test_what_followed_from_an_answer_that_was_changed_is_told_apart():
    """The pool's router follows from a wrong gateway; when the gateway is put right, the router is right no longer."""
    wrong = {"Subnets I7": "10.20.2.5", "Pools F6": "10.20.2.5"}
    row = at("Subnets I7").row
    assert at("Pools F6").row == row, "the first pool is of the second VLAN"
    before = marked(wrong)
    assert next(cell for cell in before.cells if (cell.question, cell.row) == ("pools.router", row)).verdict is (
        Verdict.FOLLOWS
    )
    _, said = saved(before, marked({"Pools F6": "10.20.2.5"}))
    assert "Now right: Subnets I7." in said
    assert "No longer right, because the answer it followed from was changed: Pools F6." in sentences(said)


def test_what_is_still_to_look_at_is_named_where_the_remarks_do_not_name_it_all():
    _, said = saved(marked({"Links C6": "/9", "Pools G6": "1 h", "Pools G7": ""}))
    assert "Still to look at: Links C6; Pools G6." in said
    _, said = saved(marked({"Pools G6": "1 h", "Pools G7": ""}))
    assert not any(line.startswith("Still") for line in said)


def test_a_save_that_changes_nothing_says_so():
    _, said = saved(*[marked({"Pools G6": "1 h"})] * 2)
    assert "Nothing has become right or wrong since the last save." in said
    assert not any("Nothing" in line for line in saved(marked({"Pools G6": "1 h"}))[1])


def test_a_look_that_is_no_save_tells_of_no_change():
    progress, _ = saved(marked({"Pools G6": "1 h"}))
    said = list(report_lines(marked({"Pools G6": "1 h"}), progress, NAMES))
    assert len(said) == 11
    assert said[9].startswith("In your network: leases 6 of 6, pings ")
    assert said[-1].endswith("'1 h': not yet.")


# --- Which rung -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("saves", "tells_the_hint"),
    [(["1 h"], False), (["1 h", "1 h"], True), (["1 h", "2 h"], True), (["1 h", "6 h", "1 h"], False)],
    ids=["first save", "second save", "second try", "right in between"],
)
def test_a_hint_comes_with_the_second_save_in_a_row(saves: list[str], tells_the_hint: bool):
    _, said = saved(*(marked({"Pools G6": each}) for each in saves))
    assert ("?" in sentences(said)) is tells_the_hint


def test_only_the_first_section_that_is_not_complete_is_spoken_of():
    _, said = saved(marked({"Links C6": "/9", "Pools G6": "1 h"}))
    assert sum(line.startswith("1.") for line in said) == 1
    assert "Pools G6" not in "\n".join(line for line in said if line[0].isdigit())


def test_three_things_are_said_and_the_rest_counted():
    _, said = saved(marked({f"Ports C{row}": "77" for row in (6, 7, 8, 9)}))
    assert [line[:12] for line in said[-4:]] == ["1. Ports C6 ", "2. Ports C7 ", "3. Ports C8 ", "   and 1 mor"]
    assert said[-1] == "   and 1 more in Ports: 'list' says where."


def test_what_was_written_wrongly_comes_before_what_is_blank():
    _, said = saved(marked({"Pools G6": "", "Pools G7": "1 h"}))
    assert said[-2].startswith("1. Pools G7 (")
    assert said[-1] == "2. Pools G6: still empty."


def test_hint_and_why_are_told_when_asked_for():
    found = marked({"Pools G6": "1 h"})
    to_do = next_to_do(found, START)
    (cell,) = to_do[0].cells
    assert cell.explanation is not None
    start = f"1. Pools G6 ({cell.row}, Lease), '1 h': "
    assert sentences(list(hint_lines(to_do, NAMES))) == start + cell.explanation.hint
    assert sentences(list(reason_lines(to_do, NAMES))) == (
        f"{start}{cell.explanation.explanation} What the network does: {cell.explanation.consequence} "
        "Tried: With this right, 2 leases (Ovens 1, Ovens 2) would have another lease time."
    )


def test_each_wish_for_a_hint_climbs_one_rung_and_stays_on_the_last():
    found = marked({"Pools G6": "1 h"})
    (cell,) = next_to_do(found, START)[0].cells
    said = cell.explanation
    assert said is not None
    reasons_given = f"{said.explanation} What the network does: {said.consequence} Tried: {said.seen}"
    progress = START
    for wanted in (said.hint, said.explanation, reasons_given, said.example, said.example):
        progress = progress.with_next_rung(next_to_do(found, progress))
        assert sentences(list(hint_lines(next_to_do(found, progress), NAMES))).endswith(f", Lease), '1 h': {wanted}")
    assert said.example.startswith("In another lab, Pools ")
    assert cell.expected not in f"{reasons_given} {said.example}"


def test_a_hint_that_was_asked_for_stays_in_sight():
    found = marked({"Pools G6": "1 h"})
    progress = START.with_next_rung(next_to_do(found, START))
    assert "?" in sentences(list(report_lines(found, progress, NAMES)))
    assert "?" not in sentences(list(report_lines(found, START, NAMES)))


def test_text_of_any_kind_is_shown_in_plain_characters_and_not_at_length():
    _, said = saved(marked({"Pools G6": "\x1b[2J" + "x" * 200}))
    assert "\x1b" not in "".join(said)
    assert "x..." in sentences(said)
    assert "x" * 41 not in sentences(said)


# --- Answers ----------------------------------------------------------------------------------------------------------


def test_a_shown_answer_is_counted_apart_once_it_is_written():
    shown = START.with_shown(at("Pools G6"))
    assert shown.with_shown(at("Pools G6")) == shown
    _, said = saved(marked({"Pools G6": ""}), whole(), progress=shown)
    assert "Pools         14 of 15   [##################==]  1 shown" in said
    assert "Now right: Pools G6 (shown)." in said
    assert said[-1] == "Every cell is right, 1 of them shown. 'new' draws another lab."
    assert list(list_lines(whole(), shown, NAMES)) == ["Every cell is right.", "Shown: Pools G6."]


# --- What must hold whatever is written -------------------------------------------------------------------------------

TEXTS = st.one_of(st.sampled_from(sorted(set(KEY.values()))), st.text(max_size=60), st.just(""))


@settings(max_examples=30, deadline=None)
@given(changes=st.lists(st.dictionaries(st.sampled_from(list(NAMES)), TEXTS, max_size=40), min_size=1, max_size=3))
def test_whatever_is_saved_is_reported_and_remembered(changes: list[dict[CellRef, str]]):
    saves = [marked(texts={**KEY, **each}) for each in changes]
    progress, said = saved(*saves)
    assert len(said) > len(LAB.asked)
    assert all(line and "\n" not in line for line in said)
    assert from_record(Progress, to_record(progress)) == progress
    done = all(each.is_complete for each in standings(saves[-1], progress))
    assert said[-1].startswith("Every cell is right") is done
    for name in map(" ".join, NAMES.values()):
        assert answer_to(name, saves[-1], NAMES).words.startswith(name)
