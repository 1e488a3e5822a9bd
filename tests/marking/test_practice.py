"""Practising: what is right so far, what a save has changed, and what stands on which rung. All of it is values."""

from bakery_saves import KEY, NAMES, START, at, marked, whole

from trainer.marking.marks import Verdict
from trainer.marking.practice import (
    ToDo,
    after_save,
    answer_to,
    changes,
    next_to_do,
    reasons,
    standings,
    still_to_look_at,
    told_on_rung,
    told_unasked,
)
from trainer.marking.said import Label, said


def labels(parts):
    return [part.label for part in parts]


def test_a_section_with_a_wrong_cell_is_not_complete():
    (ports,) = (each for each in standings(marked({"Ports C6": "17"}), START) if each.section == "ports")
    assert (ports.right, ports.is_complete) == (ports.asked - 1, False)


def test_a_rung_is_forgotten_once_the_cell_is_right():
    found = marked({"Pools G6": "1 h"})
    progress = START.with_next_rung(next_to_do(found, START))
    assert after_save(progress, found, ()).rungs == {at("Pools G6"): 1}
    assert after_save(progress, whole(), ()).rungs == {}


def test_only_what_is_shown_climbs():
    found = marked({f"Ports C{row}": "77" for row in (6, 7, 8, 9)})
    progress = START.with_next_rung(next_to_do(found, START))
    assert progress.rungs == {at(f"Ports C{row}"): 1 for row in (6, 7, 8)}


def test_an_answer_is_what_follows_from_the_trainees_own():
    answer = answer_to("Pools F6", marked({"Subnets I7": "10.20.2.5", "Pools F6": ""}), NAMES)
    assert (answer.words, answer.shown) == ("Pools F6: 10.20.2.5", at("Pools F6"))


def test_rows_that_are_missing_are_given_to_free_rows_in_order():
    """Row by row the answers make up the key's rows, even while they are being written down."""
    texts = {cell: text for cell, text in KEY.items() if not cell.question.startswith("routes.")}
    for cell in (cell for cell in NAMES if cell.question.startswith("routes.") and cell in KEY):
        answer = answer_to(" ".join(NAMES[cell]), marked(texts=texts), NAMES)
        assert answer.shown == cell
        texts[cell] = answer.words.partition(": ")[2]
    assert all(each.is_complete for each in standings(marked(texts=texts), START))
    assert answer_to("Routes B11", marked(texts=texts), NAMES).words == "Routes B11: no more rows are needed."


def test_a_save_tells_what_became_right_and_what_is_so_no_longer():
    first, second = marked({"Pools G6": "1 h"}), marked({"Pools G7": "1 h"})
    before = after_save(START, first, ())
    found = changes(second, before, after_save(before, second, ()), NAMES)
    assert (found.gained, found.lost, found.lost_by_following) == ((at("Pools G6"),), (at("Pools G7"),), ())
    assert not found.is_first
    assert changes(first, before, before, NAMES).is_nothing
    assert changes(first, START, before, NAMES).is_first


def test_what_was_written_is_still_to_look_at_unless_all_of_it_is_told_of():
    found = marked({"Links C6": "/9", "Pools G6": "1 h", "Pools G7": ""})
    to_do = next_to_do(found, START)
    assert still_to_look_at(found, to_do, NAMES) == (at("Links C6"), at("Pools G6"))
    assert still_to_look_at(found, [*to_do, *next_to_do(found, START, "pools")], NAMES) == ()


def test_a_rung_holds_what_it_is_for_and_never_the_answer():
    found = marked({"Pools G6": "1 h"})
    (cell,) = next_to_do(found, START)[0].cells

    def on(rung):
        return labels(told_on_rung(ToDo(cells=(cell,), tries=1, rung=rung)))

    assert [on(rung) for rung in range(5)] == [
        [Label.HINT],
        [Label.HINT],
        [Label.EXPLANATION],
        [Label.EXPLANATION, Label.CONSEQUENCE, Label.SEEN],
        [Label.EXAMPLE],
    ]
    assert labels(reasons(ToDo(cells=(cell,), tries=1))) == on(3)


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
    assert not [part for each in missing for cell in each.cells for part in reasons(each) if cell.row in part.text]
