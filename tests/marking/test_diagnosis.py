"""What a diagnosis earns, and what is said of it. The labs are kept ones: one fault and two decoys, and two of each."""

import os
import re
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from repair_labs import KINDS, drawn_sheet, kept_lab
from repair_papers import (
    KNOWING_NOTHING,
    ONE,
    TWO,
    Texts,
    fault_row,
    form,
    key_texts,
    mean_of,
    slips_as_answers,
    texts_of,
)

from trainer.lab.key import derive_key
from trainer.lab.questions import cell_called
from trainer.lab.repair.drawing import NONE_IN
from trainer.lab.repair.found import lines_of, with_edits
from trainer.lab.scenario import Reveal, Scenario
from trainer.marking.explanation import NEUTRAL
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.mistakes.catalogue import MISTAKES
from trainer.marking.overrides import most_marks
from trainer.marking.repair.words import WORDS
from trainer.marking.said import may_see, said
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form

SHEETS = 20 if os.environ.get("TRAINER_NIGHTLY") else None
"""So many drawn sheets are looked at; None: kept ones."""
CATALOGUE = {each.id for each in MISTAKES}


def marked(name: str, change: Texts | None = None, *, lab: Scenario | None = None) -> Marked:
    return mark(kept_lab(name) if lab is None else lab, form({**key_texts(name), **(change or {})}))


def cell(result: Marked, question: str, row: str) -> CellMark:
    return next(each for each in result.cells if (each.question, str(each.row)) == (question, row))


def mistake(result: Marked, question: str, row: str) -> str:
    explanation = cell(result, question, row).explanation
    return "" if explanation is None else explanation.mistake


# --- Right ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [ONE, TWO])
def test_the_key_earns_everything_and_an_untouched_workbook_nothing(name: str):
    """Through the workbooks, as they are written and read."""
    lab = kept_lab(name)
    key = derive_key(lab)
    full = mark(lab, read_form(read_book(write_key_book(lab, key)), lab).filled)
    assert (full.marks, full.out_of) == (100, 100)
    assert [int(each.out_of) for each in full.sections] == [20, 50, 30]
    assert mark(lab, read_form(read_book(write_answer_book(lab, key)), lab).filled).marks == 0


def test_rows_may_stand_in_any_order_and_symptoms_name_them_as_they_stand():
    texts = key_texts(ONE)
    moved = {
        (question, {"Fault 1": "Fault 3", "Fault 3": "Fault 1"}.get(row, row)): text
        for (question, row), text in texts.items()
    }
    for (question, row), text in texts.items():
        if question == "symptoms.fault" and text == "1":
            moved[question, row] = "3"
    assert mark(kept_lab(ONE), form(moved)).marks == 100


def test_other_notations_are_the_same_value():
    """A9: /25 is meant."""
    assert key_texts(ONE)["faults.line", "Fault 1"] == "A9"
    change = {
        ("faults.line", "Fault 1"): "line a 9",
        ("faults.column", "Fault 1"): "mask OR prefix length",
        ("faults.should_be", "Fault 1"): "255.255.255.128",
        ("faults.test", "Fault 1"): key_texts(ONE)["faults.test", "Fault 1"].removeprefix("T"),
    }
    assert marked(ONE, change).marks == 100


def test_a_repair_in_another_line_that_mends_everything_is_right():
    """A route that is missing in the key's eyes: one more route with the right mask, where the found one is too narrow. Summary
    and default routes count in this lab.
    """
    lab = kept_lab(ONE)
    assert lab.repair is not None
    fault = lab.repair.faults[0]
    found = with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys))
    lines = lines_of(lab, found)
    wrong = lines[fault.line]
    new_line = next(
        each.id for each in lines.values() if each.row is None and each.section is wrong.section and each.device == "A"
    )
    destination, _, next_hop = wrong.texts[1:]
    change = fault_row(
        1, new_line, "row", f"{destination} /25 {next_hop}", test=key_texts(ONE)["faults.test", "Fault 1"]
    )
    result = marked(ONE, change)
    assert result.marks == 100
    assert (
        cell(result, "faults.line", "Fault 1").remark
        == "Right: with what you name mended, the network does all it should."
    )


# --- No fault ---------------------------------------------------------------------------------------------------------

NONE = "no-fault"


def test_that_nothing_is_wrong_is_an_answer():
    lab = kept_lab(NONE)
    key = derive_key(lab)
    full = mark(lab, read_form(read_book(write_key_book(lab, key)), lab).filled)
    assert (full.marks, full.out_of) == (100, 100)
    assert [int(each.out_of) for each in full.sections] == [20, 50, 30]
    assert mark(lab, read_form(read_book(write_answer_book(lab, key)), lab).filled).marks == 0
    assert marked(NONE, {("faults.line", "Fault 1"): "No fault"}).marks == 100


def test_whoever_accuses_a_line_where_nothing_is_wrong_earns_less():
    blank = marked(NONE, {("faults.line", "Fault 1"): ""})
    assert float(100 - blank.marks) == pytest.approx(50 * 7 / 9, abs=0.001)
    assert mistake(blank, "faults.line", "none") == "fault-none-not-said"
    accused = fault_row(4, "A1", "Gateway", "10.0.0.1")
    both = marked(NONE, accused)
    assert mistake(both, "faults.line", "Fault 1") == "fault-none-and-one"
    assert mistake(both, "faults.line", "Fault 4") == "fault-as-planned"
    assert marked(NONE, {("symptoms.fault", "S1"): "1"}).marks == 80


def test_none_is_no_answer_where_something_is_wrong():
    said = {(question, "Fault 1"): "" for question, row in key_texts(ONE) if row == "Fault 1"}
    result = marked(ONE, {**said, ("faults.line", "Fault 1"): "none"})
    assert mistake(result, "faults.line", "Fault 1") == "fault-none-said"
    assert cell(result, "faults.line", "Fault 1").marks == 0


# --- Wrong ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "worth", "id_of_mistake"),
    [
        ("A8", 2, "fault-other-line"),
        ("A1", 1, "fault-other-table"),
        ("B2", 0, "fault-elsewhere"),
        ("Z9", 0, "fault-no-such-line"),
    ],
)
def test_the_right_table_earns_two_of_three_and_the_right_device_one(line: str, worth: int, id_of_mistake: str):
    lab = kept_lab(ONE)
    lines = lines_of(lab, with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys) if lab.repair else ()))
    if line == "A8":
        line = next(
            each.id
            for each in lines.values()
            if each.section is lines["A9"].section and each.device == "A" and each.id != "A9"
        )
    result = marked(ONE, {("faults.line", "Fault 1"): line})
    mark_of_line = cell(result, "faults.line", "Fault 1")
    assert mark_of_line.marks * 3 == mark_of_line.out_of * worth
    assert mistake(result, "faults.line", "Fault 1") == id_of_mistake


def test_what_comes_back_with_a_wrong_repair_is_tried_and_told():
    """Two faults, of which the first alone is mended."""
    result = marked(TWO, {("faults.should_be", "Fault 2"): "172.16.0.200"})
    explanation = cell(result, "faults.should_be", "Fault 2").explanation
    assert explanation is not None
    assert explanation.mistake == "iface-not-the-agreed-address"
    assert explanation.seen.startswith("With this mended, nothing comes back: S")
    wrong = marked(TWO, {("faults.kind", "Fault 1"): "harmless"})
    told = cell(wrong, "faults.kind", "Fault 1").explanation
    assert told is not None
    assert "come" in told.seen


def test_the_right_idea_in_the_wrong_instance_earns_half_of_should_be():
    """By the catalogue, as in a plan: a gateway with the pool's first address. The value that is found earns nothing."""
    lab = kept_lab(TWO)
    assert lab.repair is not None
    fault = lab.repair.faults[1]
    assert fault.question == "subnets.gateway"
    first = derive_key(lab).values[cell_called("pools.first", fault.row)]
    half = cell(marked(TWO, {("faults.should_be", "Fault 2"): str(first)}), "faults.should_be", "Fault 2")
    assert (half.verdict, half.marks * 2) == (Verdict.PARTLY, half.out_of)
    assert half.explanation is not None
    assert half.explanation.mistake == "gateway-is-pool-start"
    assert half.explanation.seen.startswith("With this mended")
    as_found = cell(marked(TWO, {("faults.should_be", "Fault 2"): fault.value}), "faults.should_be", "Fault 2")
    assert as_found.marks == 0


def test_an_accused_decoy_cancels_a_line():
    plain, accused = marked(ONE), marked(ONE, {("faults.kind", "Fault 2"): "cause"})
    assert mistake(accused, "faults.kind", "Fault 2") == "fault-harmless-called-cause"
    assert float(plain.marks - accused.marks) == pytest.approx(50 * (3 + 1) / 9, abs=0.001)


def test_a_line_as_planned_that_is_accused_cancels_one_and_a_second_copy_none():
    extra = fault_row(4, "B2", "Mask", "255.255.0.0")
    assert float(100 - marked(ONE, extra).marks) == pytest.approx(50 * 3 / 9, abs=0.001)
    copy = {(question, "Fault 4"): text for (question, row), text in key_texts(ONE).items() if row == "Fault 1"}
    assert marked(ONE, copy).marks == 100


def test_a_line_as_planned_that_is_called_harmless_cancels_a_harmless_one():
    extra = fault_row(4, "B2", "Mask", "255.255.0.0", kind="harmless")
    assert float(100 - marked(ONE, extra).marks) == pytest.approx(50 * 1 / 9, abs=0.001)


def test_a_test_proves_the_repair_of_the_fault_that_it_shows():
    """Of two faults one is shown by T3, the other by T2 as well; the key names a test for each, and none for what is harmless."""
    lab = kept_lab(TWO)
    assert lab.repair is not None
    tests = {each.id: each for each in lab.repair.tests}
    assert (tests["T3"].shows, tests["T2"].shows) == ((1,), (1, 2))
    assert [key_texts(TWO)["faults.test", f"Fault {row}"] for row in (1, 2, 3, 4)] == ["T1", "T2", "", ""]
    assert marked(TWO, {("faults.test", "Fault 1"): "T3"}).marks == 100
    assert (
        mistake(marked(TWO, {("faults.test", "Fault 2"): "T3"}), "faults.test", "Fault 2") == "fault-test-shows-nothing"
    )


def test_two_values_for_one_setting_are_none():
    """R10, whichever of them stands first: a second value cancels one, and does not mend what the first does."""
    key = {question: text for (question, row), text in key_texts(TWO).items() if row == "Fault 1"}
    lab = kept_lab(TWO)
    assert lab.repair is not None
    line = lines_of(lab, with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys)))[key["faults.line"]]
    assert line.row is not None
    as_found = dict(zip(line.columns, line.texts[-len(line.columns) :], strict=True))[key["faults.column"]]
    other = fault_row(5, key["faults.line"], key["faults.column"], as_found)
    result = marked(TWO, other)
    assert mistake(result, "faults.line", "Fault 5") == "fault-named-twice"
    assert result.marks < 100
    turned = {("faults.should_be", "Fault 1"): as_found, ("faults.should_be", "Fault 5"): key["faults.should_be"]}
    assert marked(TWO, {**other, **turned}).marks < 100


def test_a_symptom_may_name_any_row_of_the_line_that_it_comes_from():
    second = {(question, "Fault 4"): text for (question, row), text in key_texts(ONE).items() if row == "Fault 1"}
    first = {("faults.column", "Fault 1"): "Destination"}
    assert cell(marked(ONE, {**second, **first}), "symptoms.fault", "S1").marks > 0


@pytest.mark.parametrize(
    ("question", "text", "said"),
    [
        ("faults.line", "the router", "'the router' is not the name of a line: write it like A7."),
        ("faults.kind", "perhaps", "'perhaps' is neither cause nor harmless."),
        ("faults.test", "all of them", "'all of them' is not the name of a test: write it like T3."),
    ],
)
def test_error_what_cannot_be_read_is_told_in_words(question: str, text: str, said: str):
    found = cell(marked(ONE, {(question, "Fault 1"): text}), question, "Fault 1")
    assert (found.verdict, found.explanation and found.explanation.explanation) == (Verdict.UNREADABLE, said)


def test_a_right_value_beside_a_line_that_cannot_be_read_is_not_called_unreadable():
    assert (
        mistake(marked(ONE, {("faults.line", "Fault 1"): "the router"}), "faults.should_be", "Fault 1")
        == "fault-elsewhere"
    )


def test_what_a_decision_may_give_is_what_the_cell_counts():
    lab = kept_lab(ONE)
    for question, row in (("faults.line", "Fault 1"), ("faults.kind", "Fault 1"), ("symptoms.fault", "S1")):
        most = most_marks(lab, question.partition(".")[0], question, row)
        assert most >= cell(marked(ONE), question, row).out_of > 0


def test_a_wrong_line_in_place_of_the_fault_is_paid_for_once():
    """Line, column and value are lost; what is right beside it stays."""
    result = marked(ONE, {("faults.line", "Fault 1"): "B2", ("faults.column", "Fault 1"): "Mask"})
    assert not [each for each in result.cells if each.marks < 0 and each.section == "faults"]


def test_a_missing_row_of_the_key_is_told_without_naming_the_line():
    blank = {(question, row): "" for question, row in key_texts(ONE) if row == "Fault 1"}
    result = mark(kept_lab(ONE), form({**key_texts(ONE), **blank}))
    missing = [each for each in result.cells if each.verdict is Verdict.MISSING]
    assert {each.explanation.mistake for each in missing if each.explanation} == {"fault-not-named"}
    lab = kept_lab(ONE)
    assert lab.repair is not None
    for each in missing:
        for reveal in (Reveal.HINTS, Reveal.EXPLANATIONS):
            for part in said([each], may_see(reveal)):
                assert lab.repair.faults[0].line not in part.text.split()


def test_no_hint_and_no_explanation_names_a_line():
    assert all(not any(ch.isdigit() for ch in words.hint + words.explanation) for words in WORDS.values())
    assert all(len(words.hint.split()) <= 40 and words.hint.endswith("?") for words in WORDS.values())


def test_the_hint_of_a_wrong_line_names_a_symptom_that_it_leaves_and_no_line():
    """And one beside it that is as it should be: which part of the way it clears is for the trainee to say."""
    lab = kept_lab(ONE)
    assert lab.repair is not None
    symptoms = {each.id: each for each in lab.repair.symptoms}
    lines = lines_of(lab, with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys)))
    for accused in ("B2", "A1"):
        change = fault_row(1, accused, lines[accused].columns[0], lines[accused].texts[-2])
        explanation = cell(marked(ONE, change), "faults.line", "Fault 1").explanation
        assert explanation is not None
        found = re.fullmatch(
            r"(S\d+) would stay as it is. (?:(S\d+) is as it should be: which|What) .*\?", explanation.hint
        )
        assert found is not None, explanation.hint
        assert symptoms[found[1]].faults
        assert found[2] is None or not symptoms[found[2]].faults
        assert not lines.keys() & set(re.findall(r"[A-Z]\d+", explanation.hint))


def test_the_shortest_way_is_told_where_answers_may_be_seen():
    result = marked(ONE, {("faults.line", "Fault 1"): "B2"})
    parts = {
        part.label.code: part.text for part in said([cell(result, "faults.line", "Fault 1")], may_see(Reveal.ANSWERS))
    }
    assert parts["derivation"].startswith("S1 leaves 50 of ")
    assert "derivation" not in {
        part.label.code for part in said([cell(result, "faults.line", "Fault 1")], may_see(Reveal.EXPLANATIONS))
    }


def test_a_blank_column_is_charged_alone_where_line_and_value_say_what_is_meant():
    result = marked(ONE, {("faults.column", "Fault 1"): ""})
    lost = [each for each in result.cells if each.marks < each.out_of]
    assert [(each.question, each.row, each.verdict) for each in lost] == [("faults.column", "Fault 1", Verdict.BLANK)]
    assert result.marks == 100 - Decimal("5.556")
    assert result.works == marked(ONE).works


@pytest.mark.parametrize(
    ("column", "value", "id_of_mistake"),
    [("", "/24", "fault-without-column"), ("Next hop", "/25", "fault-column")],
)
def test_a_value_beside_the_right_line_is_never_told_that_the_line_is_wrong(
    column: str, value: str, id_of_mistake: str
):
    result = marked(ONE, {("faults.column", "Fault 1"): column, ("faults.should_be", "Fault 1"): value})
    assert mistake(result, "faults.should_be", "Fault 1") == id_of_mistake
    assert cell(result, "faults.line", "Fault 1").verdict is Verdict.RIGHT


def test_a_line_of_another_device_leaves_half_of_the_symptoms_and_the_test():
    """The error is charged on sheet Faults. Which symptoms belong together is the right idea in the wrong instance, and the test
    would show that the line is wrong.
    """
    lab = kept_lab(ONE)
    assert lab.repair is not None
    result = marked(ONE, {("faults.line", "Fault 1"): "B2", ("faults.column", "Fault 1"): "Mask"})
    for symptom in lab.repair.symptoms:
        if symptom.faults:
            half = cell(result, "symptoms.fault", symptom.id)
            assert (half.marks * 2, half.verdict) == (half.out_of, Verdict.PARTLY)
            assert mistake(result, "symptoms.fault", symptom.id) == "symptom-line-not-found"
    assert cell(result, "faults.test", "Fault 1").verdict is Verdict.RIGHT
    assert next(each.marks for each in result.sections if each.section == "symptoms") == 10
    none = marked(ONE, {("faults.line", "Fault 1"): "Z9"})
    assert cell(none, "faults.test", "Fault 1").marks == 0
    assert next(each.marks for each in none.sections if each.section == "symptoms") == 0


def test_of_two_lines_that_are_both_wrong_the_symptoms_say_which_is_meant_for_which():
    wrong = {("faults.line", "Fault 1"): "B2", ("faults.line", "Fault 2"): "B3"}
    numbers = {place: text for place, text in key_texts(TWO).items() if place[0] == "symptoms.fault"}
    other = {place: {"1": "2", "2": "1"}.get(text, text) for place, text in numbers.items()}
    for symptoms in (numbers, other):
        found = marked(TWO, {**wrong, **symptoms})
        assert next(each.marks for each in found.sections if each.section == "symptoms") == 10


# --- Symptoms and tests -----------------------------------------------------------------------------------------------


def test_a_fault_behind_what_is_as_it_should_be_cancels_one_that_is_right():
    lab = kept_lab(ONE)
    assert lab.repair is not None
    fine = next(each.id for each in lab.repair.symptoms if not each.faults)
    counting = sum(bool(each.faults) for each in lab.repair.symptoms)
    result = marked(ONE, {("symptoms.fault", fine): "1"})
    assert float(100 - result.marks) == pytest.approx(20 / counting, abs=0.001)
    assert mistake(result, "symptoms.fault", fine) == "symptom-has-no-fault"


def test_a_symptom_of_two_faults_is_half_right_with_one_of_them():
    lab = kept_lab(TWO)
    assert lab.repair is not None
    both = next((each.id for each in lab.repair.symptoms if len(each.faults) == 2), None)
    if both is None:
        one = next(each for each in lab.repair.symptoms if each.faults)
        result = marked(TWO, {("symptoms.fault", one.id): "1, 2"})
        assert cell(result, "symptoms.fault", one.id).marks == 0
    else:
        result = marked(TWO, {("symptoms.fault", both): "1"})
        half = cell(result, "symptoms.fault", both)
        assert half.marks * 2 == half.out_of


def test_a_test_counts_with_both_its_cells_and_a_telling_one_too_many_cancels_one():
    lab = kept_lab(ONE)
    assert lab.repair is not None
    telling = next(each for each in lab.repair.tests if each.separates)
    other = next(each for each in lab.repair.tests if not each.separates and each.found.word == "answered")
    row = 30 / sum(each.separates for each in lab.repair.tests)
    half = marked(ONE, {("tests.mended", telling.id): "no answer"})
    assert float(100 - half.marks) == pytest.approx(row, abs=0.001)
    claimed = marked(ONE, {("tests.found", other.id): "no answer"})
    assert float(100 - claimed.marks) == pytest.approx(row, abs=0.001)
    assert mistake(claimed, "tests.mended", other.id) == "test-shows-nothing"


def test_what_tests_do_after_the_repair_that_is_named_counts():
    """Of two faults one is not named: the tests that still fail without it are rightly foretold so."""
    lab = kept_lab(TWO)
    gone = {(question, row): "" for question, row in key_texts(TWO) if row == "Fault 2"}
    change = dict(gone)
    plain = mark(lab, form({**key_texts(TWO), **gone}))
    assert lab.repair is not None
    for test in lab.repair.tests:
        outcome = cell(plain, "tests.mended", test.id)
        assert outcome.verdict.is_full
    change[("tests.mended", next(each.id for each in lab.repair.tests if each.separates))] = "no answer"
    changed = mark(lab, form({**key_texts(TWO), **change}))
    assert {each.verdict for each in changed.cells if each.section == "tests"} <= {
        Verdict.RIGHT,
        Verdict.FOLLOWS,
        Verdict.WRONG,
    }


# --- Whoever knows nothing --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", KNOWING_NOTHING)
def test_whoever_knows_nothing_earns_next_to_nothing(paper: str, record_property: Any):
    """On the average of the sheets of every level 15 of 100 at most; of those that may have no fault one in eight has none, where
    to say so is right.
    """
    of_kind: dict[int, list[float]] = {}
    labs = [kept_lab(name) for name in (ONE, TWO)] if SHEETS is None else list(map(drawn_sheet, range(3 * SHEETS)))
    for number, lab in enumerate(labs):
        of_kind.setdefault(0 if SHEETS is None else number % KINDS, []).append(mean_of(lab, paper))
    means = {kind: sum(earned) / len(earned) for kind, earned in of_kind.items()}
    record_property("measured", means)
    assert max(means.values()) <= 15
    if paper == "none everywhere":
        assert (mean_of(kept_lab(NONE), paper) + (NONE_IN - 1) * max(means.values())) / NONE_IN <= 15


@pytest.mark.many
def test_every_slip_as_a_wrong_diagnosis_gets_a_text_of_its_own(record_property: Any):
    """All slips as answers to all faults: at least 95 of 100 are told what is wrong with them, beyond that it is wrong."""
    labs = [kept_lab(name) for name in (ONE, TWO)] if SHEETS is None else list(map(drawn_sheet, range(SHEETS)))
    told, asked = 0, 0
    for lab in labs:
        for number, _ in enumerate(lab.repair.faults if lab.repair else (), 1):
            for row in slips_as_answers(lab, number):
                result = mark(lab, form({**texts_of(lab), **row}))
                mistakes = {
                    "" if each.explanation is None else each.explanation.mistake
                    for each in result.cells
                    if (each.question, str(each.row)) in row and not each.verdict.is_full
                    if each.out_of or each.verdict is Verdict.EXTRA
                }
                if mistakes:
                    asked += 1
                    told += mistakes <= {*WORDS, *CATALOGUE} - NEUTRAL
    record_property("measured", [asked, told])
    assert asked > 100
    assert told / asked >= 0.95


@pytest.mark.parametrize(
    ("question", "row", "text", "id_of_mistake"),
    [
        ("faults.line", "Fault 1", "somewhere on A", "not-readable"),
        ("faults.column", "Fault 1", "Next hop", "fault-column"),
        ("faults.should_be", "Fault 1", "a smaller one", "fault-value-unreadable"),
        ("faults.should_be", "Fault 1", "/30", "fault-value"),
        ("faults.test", "Fault 1", "T77", "fault-no-such-test"),
        ("faults.kind", "Fault 1", "harmless", "fault-called-harmless"),
        ("faults.kind", "Fault 1", "", "blank"),
        ("symptoms.fault", "S1", "none", "symptom-not-explained"),
        ("symptoms.fault", "S1", "2", "symptom-other-fault"),
        ("symptoms.fault", "S1", "one", "not-readable"),
    ],
)
def test_each_wrong_cell_is_told_why(question: str, row: str, text: str, id_of_mistake: str):
    result = marked(ONE, {(question, row): text})
    assert result.marks < 100
    assert mistake(result, question, row) == id_of_mistake


def test_a_prediction_that_cannot_be_read_is_told_so():
    lab = kept_lab(ONE)
    assert lab.repair is not None
    telling = next(each.id for each in lab.repair.tests if each.separates)
    result = marked(ONE, {("tests.found", telling): "maybe"})
    assert result.marks < 100
    assert mistake(result, "tests.found", telling) == "not-readable"


def test_whatever_stands_in_any_cell_it_is_marked():
    for question, row in key_texts(ONE):
        assert 0 <= marked(ONE, {(question, row): "(☃)" * 9}).marks <= 100 if row in ("S1", "Fault 1", "T1") else True


def test_without_what_symptoms_tell_apart_nothing_else_changes():
    """The record of how the lab was drawn is for whoever holds the key, and marks nothing."""
    lab = kept_lab(ONE)
    assert lab.repair is not None
    other = replace(lab, repair=replace(lab.repair, vector=(), explanations=0))
    assert marked(ONE, lab=other).marks == 100
