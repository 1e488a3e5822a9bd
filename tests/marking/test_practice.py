"""Practising: what is right so far, what a save has changed, and what stands on which rung. All of it is values."""

from bakery_saves import KEY, LAB, NAMES, START, at, marked, whole

from trainer.marking.marks import Verdict
from trainer.marking.practice import (
    MOST_WORDS,
    STEPS,
    ToDo,
    after_save,
    changes,
    next_to_do,
    reasons,
    standings,
    still_to_look_at,
    to_do_of,
    told_on_rung,
    told_unasked,
)
from trainer.marking.practice_cells import answer_to, asked_about, is_a_cell
from trainer.marking.said import Label, in_words, said


def labels(parts):
    return [part.label for part in parts]


def asked(request, found, at_work_on=None):
    return asked_about(request, found, NAMES, at_work_on, "why")


def test_a_section_with_a_wrong_cell_is_not_complete():
    (ports,) = (each for each in standings(marked({"Ports C6": "17"}), START) if each.section == "ports")
    assert (ports.right, ports.is_complete) == (ports.asked - 1, False)


def test_what_stands_there_filled_in_is_not_counted_and_not_gained():
    given = after_save(START, whole(), ()).seen[0].cell
    start = START.__class__(lab=START.lab, filled_in=(given,))
    (subnets, *_) = standings(whole(), start)
    assert (subnets.asked, subnets.right, subnets.is_complete) == (34, 34, True)
    assert given not in changes(whole(), start, NAMES).gained
    (subnets, *_) = standings(marked({"Subnets D6": "10.9.9.0"}), start)
    assert (subnets.asked, subnets.right) == (35, 34), "whoever overwrites it has it to do"


def test_a_rung_is_forgotten_once_the_cell_is_right_but_not_that_it_was_asked_for():
    found = marked({"Pools G6": "1 h"})
    progress = START.with_next_rung(next_to_do(found, START))
    assert after_save(progress, found, ()).rungs == {at("Pools G6"): 1}
    later = after_save(progress, whole(), ())
    assert later.rungs == {}
    assert {each.cell: each.rung for each in later.seen if each.rung} == {at("Pools G6"): 1}


def test_a_blank_cell_is_no_try_and_the_first_value_is_remembered():
    progress = START
    for text in ("", "", "1 h"):
        progress = after_save(progress, marked({"Pools G6": text}), ())
    (seen,) = (each for each in progress.seen if each.cell == at("Pools G6"))
    assert (seen.tries, seen.first, seen.given) == (1, Verdict.WRONG, "1 h")
    assert seen.mistake
    progress = after_save(after_save(progress, marked({"Pools G6": ""}), ()), whole(), ())
    (seen,) = (each for each in progress.seen if each.cell == at("Pools G6"))
    assert (seen.tries, seen.first, seen.verdict) == (0, Verdict.WRONG, Verdict.RIGHT)


def test_only_what_is_shown_climbs_and_never_past_the_steps():
    found = marked({f"Ports C{row}": text for row, text in zip((6, 7, 8, 9), ("77", "x", "routed", "10"), strict=True)})
    assert len(next_to_do(found, START)) == 4
    progress = START
    for _ in range(5):
        progress = progress.with_next_rung(next_to_do(found, progress))
    assert set(progress.rungs.values()) == {STEPS}
    assert len(progress.rungs) == 3


def test_the_same_mistake_in_several_cells_is_one_thing_to_do():
    found = marked({"Pools G6": "1 h", "Pools G7": "2 h", "Pools C6": "10.9.9.9"})
    together = next(each for each in next_to_do(found, START, "pools") if at("Pools G6") in each.refs)
    assert together.refs == (at("Pools G6"), at("Pools G7"))
    assert to_do_of(at("Pools G7"), found, START) == together
    assert to_do_of(at("Pools G8"), found, START) is None


def test_cells_that_follow_from_a_wrong_one_of_the_sheet_are_told_with_it():
    """A network outside the block: its ends follow from it, and half of them counts."""
    outside = {"D6": "10.99.0.0", "F6": "10.99.0.1", "G6": "10.99.0.14", "H6": "10.99.0.15"}
    found = marked({f"Subnets {name}": text for name, text in outside.items()})
    (cause,) = next_to_do(found, START, "subnets")
    assert cause.refs == (at("Subnets D6"),)
    assert {(cell.question, cell.row) for cell in cause.with_it} == {
        (at(f"Subnets {name}").question, at("Subnets D6").row) for name in ("F6", "G6", "H6")
    }
    assert to_do_of(at("Subnets G6"), found, START) == cause


def test_blank_cells_are_taken_row_by_row_behind_what_was_written():
    found = marked({"Pools G6": "", "Pools F6": "", "Pools G7": "1 h", "Pools C8": ""})
    assert [each.refs for each in next_to_do(found, START, "pools")] == [
        (at("Pools G7"),),
        (at("Pools F6"), at("Pools G6")),
        (at("Pools C8"),),
    ]


def test_the_sheet_with_something_wrong_comes_before_one_that_is_blank():
    blank = {name: "" for name in (" ".join(where) for where in NAMES.values()) if name.startswith("Subnets")}
    (first, *_) = next_to_do(marked({**blank, "Links C6": "/9"}), START)
    assert first.refs == (at("Links C6"),)


# --- Which cell, and its answer ---------------------------------------------------------------------------------------


def test_the_sheet_is_taken_for_granted_where_only_one_has_such_a_cell_or_has_it_open():
    assert is_a_cell("J9")
    assert not is_a_cell("Subnets")
    assert asked("j9", whole()).ref == at("Subnets J9"), "no other sheet has a column J"
    assert asked("D6", marked({"Pools D6": "10.9.9.9"})).ref == at("Pools D6")
    assert asked("D6", whole(), "links").ref == at("Links D6"), "the sheet that is worked on"
    assert asked("D6", whole()) == (
        "D6 of which sheet: Subnets, Links, Stations, Routes, Pools, Relays, Protection and Bindings? Type it in front: "
        "why Subnets D6"
    )


def test_error_no_such_cell_or_sheet():
    assert asked("A6", whole()) == "A6 is no cell to fill in."
    assert asked("links Z9", whole()) == "Links Z9 is no cell to fill in."
    assert asked("Subnet D6", whole()) == "There is no sheet 'Subnet' to fill in. Did you mean Subnets?"


def answer(request, found, progress=None):
    tried = after_save(START, found, ()) if progress is None else progress
    return answer_to(asked(request, found), tried, LAB)


def test_an_answer_is_what_follows_from_the_trainees_own_and_says_why():
    found = answer("Pools F6", marked({"Subnets I7": "10.20.2.5", "Pools F6": "10.9.9.9"}))
    assert found.shown == at("Pools F6")
    assert found.words == "Pools F6: 10.20.2.5 (the gateway of VLAN 20). Write it, and do the next row alone."
    found = answer("Subnets E10", marked({"Subnets E10": "26"}))
    assert found.words == (
        "Subnets E10: 27 (20 needed + network and broadcast = 22: more than 16, at most 32 = 2^5; 32 - 5 = 27). Write it, and "
        "do the next row alone."
    )


def test_an_answer_comes_only_after_a_try():
    blank = marked({"Pools F6": ""})
    found = answer("Pools F6", blank)
    assert found.shown is None
    assert found.words == ("Pools F6: try it first: write what you come to. If you do not know how, ask for its steps.")
    tried = after_save(after_save(START, marked({"Pools F6": "10.9.9.9"}), ()), blank, ())
    assert answer("Pools F6", blank, tried).shown == at("Pools F6"), "a try that was taken out again was one"


def test_what_is_right_or_follows_is_not_given_away():
    found = marked({"Subnets I7": "10.20.2.5", "Pools F6": "10.20.2.5"})
    assert answer("Pools F7", found).words == "Pools F7 is right as it stands."
    assert answer("Pools F6", found).words == (
        "Pools F6 is right by your own plan. Put right first what it follows from."
    )


def test_rows_that_are_missing_are_given_to_free_rows_in_order():
    """Row by row the answers make up the key's rows, even while they are being written down; each row was tried."""
    texts = {cell: text for cell, text in KEY.items() if not cell.question.startswith("routes.")}
    names = [cell for cell in NAMES if cell.question.startswith("routes.")]
    nonsense = {cell: "A" for cell in names if cell.question == "routes.switch"}
    tried = after_save(START, marked(texts={**texts, **nonsense}), ())
    for cell in (cell for cell in names if cell in KEY):
        found = answer(" ".join(NAMES[cell]), marked(texts=texts), tried)
        assert found.shown == cell
        texts[cell] = found.words.partition(": ")[2].partition(" (")[0]
    assert all(each.is_complete for each in standings(marked(texts=texts), START))
    assert answer("Routes B11", marked(texts=texts), tried).words == "Routes B11: no more rows are needed."


# --- What a save has changed ------------------------------------------------------------------------------------------


def test_a_save_tells_what_became_right_and_what_is_so_no_longer():
    first, second = marked({"Pools G6": "1 h"}), marked({"Pools G7": "1 h"})
    before = after_save(START, first, ())
    found = changes(second, before, NAMES)
    assert (found.gained, found.lost, found.to_do_again) == ((at("Pools G6"),), (at("Pools G7"),), ())
    assert not found.is_first
    assert changes(first, before, NAMES).is_nothing
    assert changes(first, START, NAMES).is_first


def test_another_wrong_value_is_a_change():
    before = after_save(START, marked({"Pools G6": "1 h"}), ())
    found = changes(marked({"Pools G6": "2 h"}), before, NAMES)
    assert found.otherwise_wrong == (at("Pools G6"),)
    assert not found.is_nothing


def test_what_follows_from_a_wrong_answer_is_neither_gained_nor_lost():
    wrong = marked({"Subnets I7": "10.20.2.5", "Pools F6": ""})
    with_router = marked({"Subnets I7": "10.20.2.5", "Pools F6": "10.20.2.5"})
    before = after_save(START, wrong, ())
    found = changes(with_router, before, NAMES)
    assert (found.gained, found.lost, found.following) == ((), (), (at("Pools F6"),))
    before = after_save(before, with_router, ())
    (pools,) = (each for each in standings(with_router, before) if each.section == "pools")
    assert (pools.right, pools.following, pools.is_complete) == (14, 1, True)
    found = changes(marked({"Pools F6": "10.20.2.5"}), before, NAMES)
    assert (found.gained, found.lost, found.to_do_again) == ((at("Subnets I7"),), (), (at("Pools F6"),))


def test_what_was_written_is_still_to_look_at_unless_all_of_it_is_told_of():
    found = marked({"Links C6": "/9", "Pools G6": "1 h", "Pools G7": ""})
    to_do = next_to_do(found, START)
    assert still_to_look_at(found, to_do, NAMES) == (at("Links C6"), at("Pools G6"))
    assert still_to_look_at(found, [*to_do, *next_to_do(found, START, "pools")], NAMES) == ()


# --- The ladder -------------------------------------------------------------------------------------------------------


def test_a_rung_holds_what_it_is_for_and_never_the_answer():
    found = marked({"Pools G6": "1 h"})
    (cell,) = next_to_do(found, START)[0].cells

    def on(rung):
        return labels(told_on_rung(ToDo(cells=(cell,), tries=1, rung=rung)))

    assert [on(rung) for rung in range(4)] == [
        [Label.HINT],
        [Label.HINT],
        labels(reasons(ToDo(cells=(cell,), tries=1))[0]),
        [],
    ]


def test_the_reasons_come_in_breaths_of_forty_words():
    found = marked({"Pools G6": "1 h", "Subnets E9": "27", "Routes C6": "10.20.3.0", "Protection D6": "none"})
    to_dos = [
        each for section in ("pools", "subnets", "routes", "protection") for each in next_to_do(found, START, section)
    ]
    assert len(to_dos) > 3
    for each in to_dos:
        told = reasons(each)
        assert told[0][0].label in (Label.EXPLANATION, Label.REMARK)
        assert all(len(in_words(parts).split()) <= MOST_WORDS for parts in told if len(parts) > 1)
        assert {part.label for parts in told for part in parts} <= {
            Label.REMARK,
            Label.EXPLANATION,
            Label.CONSEQUENCE,
            Label.SEEN,
            Label.RESTS_ON,
        }


def test_the_hint_comes_unasked_from_the_second_save_on():
    (cell,) = next_to_do(marked({"Pools G6": "1 h"}), START)[0].cells
    told = [
        labels(told_unasked(ToDo(cells=(cell,), tries=tries, rung=rung))) for tries, rung in ((1, 0), (2, 0), (1, 1))
    ]
    assert told == [[], [Label.HINT], [Label.HINT]]


def test_findings_on_missing_rows_do_not_call_them_by_name():
    """Where the findings differ, the feedback page tells them with the rows."""
    routes = {cell.row for cell in KEY if cell.question.startswith("routes.")} - {"Route 1"}
    texts = {cell: text for cell, text in KEY.items() if cell.row not in routes}
    missing = [each for each in next_to_do(marked(texts=texts), START, "routes") if each.verdict is Verdict.MISSING]
    assert any(f"{cell.row}:" in part.text for each in missing for cell in each.cells for part in said(each.cells))
    told = [part for each in missing for parts in reasons(each) for part in parts]
    assert not [part for part in told for each in missing for cell in each.cells if cell.row in part.text]
