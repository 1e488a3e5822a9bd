"""The instructor's decisions: read at every grade, applied, shown with their reason, and refused where they are faulty."""

import csv
import html
import io
import json
import stat
from collections.abc import Collection
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import changed
from filled_forms import LAB, filled
from hypothesis import given
from hypothesis import strategies as st

from trainer import cli
from trainer.commands.demo_class import key_texts
from trainer.errors import OverrideProblems, Problem
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.form import CellRef
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.rows import VlanRow, WrittenRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Reveal, Scenario, Trainee
from trainer.marking.feedback import remarks
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict, exact
from trainer.marking.overrides import Decision, Override, apply, has_effect, most_marks, row_called, rows_of
from trainer.results.class_report import class_report
from trainer.results.grades import TraineeGrade
from trainer.sheets.book import Cell, DropDown, Style
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.overrides_book import overrides_book, read_overrides_book, write_overrides_book
from trainer.store import Sitting

GATEWAY = CellRef("subnets.gateway", VlanRow(20))


def marked_with(text: str) -> Marked:
    return mark(LAB, filled({**key_texts(LAB), GATEWAY: text}))


def cell_of(marked: Marked) -> CellMark:
    return next(each for each in marked.cells if (each.question, each.row) == (GATEWAY.question, GATEWAY.row))


def override(decision: Decision, value: str, *, trainee: str = "", row: str = "20") -> Override:
    return Override(
        trainee=trainee,
        section="subnets",
        row=row,
        question="subnets.gateway",
        decision=decision,
        value=value,
        reason="Agreed in class.",
    )


@pytest.mark.parametrize("written", ["10.20.2.9", " 10.20.2.9/25 "])
def test_an_accepted_value_is_right_however_it_is_written(written: str) -> None:
    before = marked_with(written)
    after = apply(before, "b01", [override(Decision.ACCEPT, "10.20.2.9")])
    assert (cell_of(before).verdict, cell_of(after).verdict) == (Verdict.PARTLY, Verdict.RIGHT)
    assert cell_of(after).decision == "Agreed in class."
    assert cell_of(after).explanation is None
    gained = cell_of(before).out_of - cell_of(before).marks
    assert exact(before.marks + as_decimal(gained)) == exact(after.marks) == "100"


def as_decimal(number: Fraction) -> Decimal:
    return Decimal(number.numerator) / number.denominator


def answers_told(marked: Marked) -> list[str]:
    return [each.answer.text if each.answer else "" for each in remarks(marked.cells, Reveal.ANSWERS)]


def test_beside_an_accepted_value_no_other_is_called_right() -> None:
    before = marked_with("10.20.2.9")
    assert answers_told(before) == ["10.20.2.1"]
    assert answers_told(apply(before, "b01", [override(Decision.ACCEPT, "10.20.2.9")])) == [""]
    assert answers_told(apply(before, "b01", [override(Decision.MARKS, "full")])) == [""]


def test_the_answer_is_told_still_where_a_decision_gives_less_than_full_marks_or_nothing_was_written() -> None:
    half = apply(marked_with("10.20.2.9"), "b01", [override(Decision.MARKS, "half")])
    blank = apply(marked_with(""), "b01", [override(Decision.MARKS, "full")])
    assert answers_told(half) == answers_told(blank) == ["10.20.2.1"]


def test_another_value_than_the_accepted_one_stays_wrong() -> None:
    before = marked_with("10.20.2.8")
    assert apply(before, "b01", [override(Decision.ACCEPT, "10.20.2.9")]) == before


@pytest.mark.parametrize(
    ("value", "verdict", "marks"),
    [
        ("full", Verdict.RIGHT, "0.645"),
        ("half", Verdict.PARTLY, "0.323"),
        ("none", Verdict.WRONG, "0"),
        ("0,25", Verdict.PARTLY, "0.25"),
        ("9", Verdict.RIGHT, "0.645"),  # never more than the cell is worth
    ],
)
def test_marks_that_are_set_count_and_sums_follow(value: str, verdict: Verdict, marks: str) -> None:
    before = marked_with("10.20.2.8")
    after = apply(before, "b01", [override(Decision.MARKS, value)])
    assert (cell_of(after).verdict, exact(cell_of(after).marks)) == (verdict, marks)
    moved = as_decimal(cell_of(after).marks - cell_of(before).marks)
    assert abs(after.marks - before.marks - moved) <= Decimal("0.001")
    assert (cell_of(after).explanation is None) == (verdict is Verdict.RIGHT)


def test_a_right_answer_can_lose_its_marks_too() -> None:
    after = apply(marked_with("10.20.2.1"), "b01", [override(Decision.MARKS, "none")])
    assert (cell_of(after).verdict, cell_of(after).marks) == (Verdict.WRONG, Decimal(0))


def test_a_decision_about_one_trainee_is_about_nobody_else() -> None:
    before = marked_with("10.20.2.8")
    assert apply(before, "b01", [override(Decision.MARKS, "full", trainee="b02")]) == before
    assert apply(before, "B02", [override(Decision.MARKS, "full", trainee="b02")]).marks == 100


def test_an_unreadable_value_can_be_accepted_as_it_is_written() -> None:
    before = marked_with("the ninth address")
    after = apply(before, "b01", [override(Decision.ACCEPT, "The ninth  address")])
    assert (cell_of(before).verdict, cell_of(after).verdict) == (Verdict.UNREADABLE, Verdict.RIGHT)


def test_a_blank_cell_is_no_accepted_value() -> None:
    before = marked_with("")
    assert apply(before, "b01", [override(Decision.ACCEPT, "10.20.2.9")]) == before


def test_a_value_is_accepted_in_every_row_where_row_is_all() -> None:
    texts = key_texts(LAB) | {CellRef("subnets.gateway", row.key): "10.20.2.9" for row in SECTIONS["subnets"].rows(LAB)}
    after = apply(mark(LAB, filled(texts)), "b01", [override(Decision.ACCEPT, "10.20.2.9", row="")])
    gateways = [each for each in after.cells if each.question == "subnets.gateway"]
    assert {each.verdict for each in gateways} == {Verdict.RIGHT}
    assert {each.decision for each in gateways} == {"Agreed in class."}


def test_of_several_decisions_about_one_cell_the_last_counts() -> None:
    decisions = [override(Decision.MARKS, "full"), override(Decision.MARKS, "none")]
    assert cell_of(apply(marked_with("10.20.2.8"), "b01", decisions)).verdict is Verdict.WRONG
    assert cell_of(apply(marked_with("10.20.2.8"), "b01", decisions[::-1])).verdict is Verdict.RIGHT


def of_several(decision: Decision, value: str, *, row: str = "", question: str = "") -> Override:
    return Override(
        trainee="", section="subnets", row=row, question=question, decision=decision, value=value, reason="So be it."
    )


@pytest.mark.parametrize(("row", "question"), [("", "subnets.gateway"), ("20", ""), ("", "")])
@pytest.mark.parametrize("value", ["half", "2"])
def test_marks_are_set_for_a_column_a_row_or_a_sheet(row: str, question: str, value: str) -> None:
    marked = marked_with("10.20.2.3")
    decided = apply(marked, "b01", [of_several(Decision.MARKS, value, row=row, question=question)])

    def is_meant(cell: CellMark) -> bool:
        return cell.section == "subnets" and row in ("", cell.row) and question in ("", cell.question)

    meant = [cell for cell in decided.cells if is_meant(cell)]
    assert len(meant) > 1
    whole = sum(cell.out_of for cell in meant)
    assert sum(cell.marks for cell in meant) == (whole / 2 if value == "half" else 2)
    assert {cell.marks / cell.out_of for cell in meant} == {Fraction(1, 2) if value == "half" else 2 / whole}
    assert all(cell.decision == "So be it." for cell in meant)
    before = [cell for cell in marked.cells if not is_meant(cell)]
    assert before == [cell for cell in decided.cells if not is_meant(cell)]


def test_what_is_struck_counts_for_nobody_and_comes_back() -> None:
    marked = marked_with("10.20.2.3")
    share = next(each.out_of for each in marked.sections if each.section == "subnets")
    counts = Decimal(exact(most_marks(LAB, "subnets", "subnets.gateway", "")))
    decided = apply(marked, "b01", [of_several(Decision.STRIKE, "", question="subnets.gateway")])
    section = next(each for each in decided.sections if each.section == "subnets")
    assert section.out_of == share - counts
    assert decided.out_of == marked.out_of - counts
    assert section.marks == section.out_of, "all else on the sheet is right"
    assert decided.percent == 100
    (cell,) = (each for each in decided.cells if (each.question, each.row) == ("subnets.gateway", "20"))
    assert (cell.marks, cell.out_of) == (0, 0)
    assert cell.decision == "This does not count for anybody. So be it."
    last = of_several(Decision.MARKS, "full", row="20", question="subnets.gateway")
    both = apply(marked, "b01", [of_several(Decision.STRIKE, "", question="subnets.gateway"), last])
    assert next(each for each in both.cells if each.row == "20" and each.question == "subnets.gateway").out_of > 0
    assert apply(marked, "b01", []) == marked


def test_of_a_sheet_that_is_struck_nothing_is_left() -> None:
    marked = marked_with("10.20.2.3")
    decided = apply(marked, "b01", [of_several(Decision.STRIKE, "")])
    assert "subnets" not in {each.section for each in decided.sections}
    assert {cell.out_of for cell in decided.cells if cell.section == "subnets"} == {0}


def test_a_missing_row_is_decided_by_the_name_that_the_results_give_it() -> None:
    rows = SECTIONS["relays"].rows(LAB)
    missing = rows[0].key
    texts = {
        cell: text
        for cell, text in key_texts(LAB).items()
        if not (cell.question.startswith("relays.") and text_of_vlan(cell) == missing)
    }
    before = mark(LAB, filled(texts))
    (cell,) = (each for each in before.cells if (each.question, each.row) == ("relays.vlan", missing))
    assert cell.verdict is Verdict.MISSING
    decision = replace(override(Decision.MARKS, "full"), section="relays", row=str(missing), question="relays.vlan")
    after = apply(before, "b01", [decision])
    assert exact(after.marks) == exact(before.marks + as_decimal(cell.out_of))


def text_of_vlan(cell: CellRef) -> str:
    return key_texts(LAB)[CellRef("relays.vlan", cell.row)]


def test_setting_the_marks_of_an_extra_row_takes_its_deduction_away() -> None:
    texts = key_texts(LAB)
    extra = {
        CellRef(f"bindings.{question}", WrittenRow("Binding", 90)): text
        for question, text in (
            ("port", "A/9"),
            ("vlan", "20"),
            ("mac", "02-00-5E-00-53-99"),
            ("address", "10.20.2.77"),
            ("type", "static"),
            ("lease", "infinite"),
        )
    }
    before = mark(LAB, filled(texts | extra))
    charged = next(each for each in before.cells if each.marks < 0)
    decision = replace(
        override(Decision.MARKS, "none"), section="bindings", row="Binding 90", question=charged.question
    )
    after = apply(before, "b01", [decision])
    (cell,) = (each for each in after.cells if (each.row, each.question) == (charged.row, charged.question))
    assert (cell.verdict, cell.marks, cell.decision) == (Verdict.EXTRA, Decimal(0), "Agreed in class.")
    assert (before.marks, after.marks) == (100 + charged.marks, 100)


def test_a_route_in_exchanged_columns_is_decided_under_the_row_in_which_it_stands() -> None:
    cells = CellRef("routes.destination", WrittenRow("Route", 4)), CellRef("routes.next_hop", WrittenRow("Route", 4))
    texts = key_texts(LAB)
    before = mark(LAB, filled({**texts, cells[0]: texts[cells[1]], cells[1]: texts[cells[0]]}))
    decision = replace(override(Decision.MARKS, "full"), section="routes", row="Route 4", question="")
    assert before.marks < 100
    assert apply(before, "b01", [decision]).marks == 100


def test_a_decision_about_a_row_that_carries_no_marks_is_not_told_as_one_that_was_taken() -> None:
    """A second copy of a row costs nothing and earns nothing."""
    texts, row = key_texts(LAB), WrittenRow("Route", 90)
    copy = {CellRef(cell.question, row): texts[cell] for cell in texts if cell.row == "Route 1"}
    before = mark(LAB, filled(texts | copy))
    assert {cell.out_of for cell in before.cells if cell.row == row} == {0}
    decision = replace(override(Decision.MARKS, "none"), section="routes", row=str(row), question="")
    assert apply(before, "b01", [decision]) == before
    assert not has_effect(decision, before.cells)


ANY_OVERRIDE = st.sampled_from([(section.id, each.id) for section in FORM for each in section.questions]).flatmap(
    lambda place: st.builds(
        Override,
        trainee=st.sampled_from(["", "b01", "b02"]),
        section=st.just(place[0]),
        row=st.sampled_from(["", *rows_of(LAB, place[0])]),
        question=st.just(place[1]),
        decision=st.sampled_from(Decision),
        value=st.sampled_from(["full", "half", "none", "0", "0.333", "999"]),
        reason=st.just("Agreed."),
    )
)


@cache
def marked_throughout(written: str) -> Marked:
    """The key, or the same text in every cell and two rows too many."""
    texts = key_texts(LAB)
    if written != "right":
        texts = {
            **dict.fromkeys(texts, written),
            **{CellRef("routes.switch", WrittenRow("Route", n)): "A" for n in (91, 92)},
        }
    return mark(LAB, filled(texts))


@given(decisions=st.lists(ANY_OVERRIDE, max_size=8), written=st.sampled_from(["right", "999", "nonsense"]))
def test_no_section_is_below_zero_or_above_its_share_and_sums_are_exact(
    decisions: list[Override], written: str
) -> None:
    before = marked_throughout(written)
    after = apply(before, "b01", decisions)
    left = {each.section: each for each in after.sections}
    for section in before.sections:
        counts = sum((each.out_of for each in after.cells if each.section == section.section), Fraction(0))
        out_of = left[section.section].out_of if section.section in left else Decimal(0)
        assert abs(Fraction(out_of) - counts) <= Fraction(1, 2000), "what is struck is gone, and nothing else"
        if not any(each.decision is Decision.STRIKE for each in decisions):
            assert out_of == section.out_of
    for section in after.sections:
        cells = [each.marks for each in after.cells if each.section == section.section]
        assert 0 <= section.marks <= section.out_of
        assert abs(Fraction(section.marks) - max(sum(cells, Fraction(0)), Fraction(0))) <= Fraction(1, 2000)
        assert section.marks == section.marks.quantize(Decimal("0.001"))
    assert all(each.verdict in Verdict and each.marks <= each.out_of for each in after.cells)


# --- What a decision may name -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("section", "name", "row"),
    [
        ("subnets", "20", "20"),
        ("links", " a-b ", "A-B"),
        ("routes", "route 2", "Route 2"),
        ("routes", "ROUTE 095", "Route 95"),  # a row that a trainee added
        ("routes", "a to 300", "A to 300"),  # a missing row, as the results call it
        ("routes", "Route 0", None),
        ("routes", "Route", None),
        ("subnets", "21", None),
    ],
)
def test_rows_are_named_as_on_the_sheet_or_as_in_the_results(section: str, name: str, row: str | None) -> None:
    if row == "A to 300":
        row = next(each for each in rows_of(LAB, "routes") if each.startswith("A to "))
        name = row.lower()
    assert row_called(LAB, section, name) == row


@pytest.mark.parametrize("section", [section.id for section in FORM])
def test_every_cell_that_is_marked_can_be_named(section: str) -> None:
    for texts in (key_texts(LAB), {}):
        marked = mark(LAB, filled(texts))
        cells = [each for each in marked.cells if each.section == section]
        assert cells
        assert all(row_called(LAB, section, each.row) == each.row for each in cells)
        assert all(each.out_of in (0, most_marks(LAB, each.section, each.question, each.row)) for each in cells)


def test_a_decision_has_no_effect_where_no_such_cell_or_value_is() -> None:
    cells = marked_with("10.20.2.8").cells
    assert has_effect(override(Decision.MARKS, "half"), cells)
    assert not has_effect(override(Decision.MARKS, "half", row="21"), cells)
    assert not has_effect(override(Decision.ACCEPT, "10.20.2.9"), cells)


# --- The workbook -----------------------------------------------------------------------------------------------------

HEAD_ROW = 6
FIRST_ROW = HEAD_ROW + 2
Row = tuple[str, ...]


def book_with(*rows: Row) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(write_overrides_book()))
    for place, row in enumerate(rows, FIRST_ROW):
        for column, text in enumerate(row, 1):
            book["Overrides"].cell(place, column).value = text
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read(
    data: bytes, trainees: Collection[str] = ("b01",), labs: tuple[Scenario, ...] = (LAB,)
) -> tuple[Override, ...]:
    return read_overrides_book(data, dict.fromkeys(trainees, (1,)), lambda _trainee: labs)


def refused(data: bytes, labs: tuple[Scenario, ...] = (LAB,)) -> tuple[Problem, ...]:
    with pytest.raises(OverrideProblems) as raised:
        read(data, labs=labs)
    return raised.value.problems


def test_an_empty_workbook_holds_no_decision() -> None:
    assert read(write_overrides_book()) == ()


def test_the_workbook_explains_itself_and_is_the_same_every_time() -> None:
    assert write_overrides_book() == write_overrides_book()
    sheet, how = overrides_book().sheets
    assert [[cell.value for cell in row.cells] for row in sheet.rows[:HEAD_ROW]] == [
        ["The instructor's decisions"],
        [
            "Read at every grade, and never written again by the program. Of several rows about one cell the last counts; taking "
            "a row away undoes it. Row and Question may be all. A row about one trainee is about one attempt; a row about all is "
            "about every attempt, unless it names one."
        ],
        [
            "accept this value, marks, strike, use this file, marked by hand: what each does stands on sheet How, with an "
            "example."
        ],
        [],
        [],
        ["Trainee", "Sheet", "Row", "Question", "Decision", "Value", "Reason", "Attempt"],
    ]
    sheets, decisions = sheet.layout.drop_downs
    assert sheets == DropDown(tuple(section.title for section in SECTIONS.values()), "B8:B27")
    assert decisions == DropDown(("accept this value", "marks", "strike", "use this file", "marked by hand"), "E8:E27")
    told = {str(row.cells[0].value): str(row.cells[1].value) for row in how.rows[3:]}
    assert list(told) == [each.value for each in Decision]
    assert "20 is what it counts beside the 100 of the sheets" in told["marked by hand"]
    rows = sheet.rows[FIRST_ROW - 1 :]
    assert len(rows) == 20
    assert {row.cells for row in rows} == {(Cell("", Style.ASKED),) * 8}
    assert (sheet.layout.frozen_at, sheet.layout.printing.head_rows) == (f"A{FIRST_ROW}", (1, HEAD_ROW))


def test_what_is_written_is_read() -> None:
    row = ("ALL", "subnets", "20", "gateway", "Marks", "half", "Agreed in class.")
    assert read(book_with(row)) == (override(Decision.MARKS, "half"),)


def test_every_row_is_allowed_where_a_value_is_accepted() -> None:
    row = ("all", "Subnets", "All", "Gateway", "accept this value", "10.20.2.9", "Agreed in class.")
    assert read(book_with(row)) == (override(Decision.ACCEPT, "10.20.2.9", row=""),)


def test_columns_are_found_by_their_headings_wherever_they_stand() -> None:
    book = openpyxl.load_workbook(
        io.BytesIO(book_with(("all", "Subnets", "20", "Gateway", "marks", "half", "Agreed in class.")))
    )
    book["Overrides"].move_range("A6:G27", rows=3, cols=2)
    assert read(saved(book)) == (override(Decision.MARKS, "half"),)


@pytest.mark.parametrize("value", ["0", "0.25", "0,25", "0.645"])
def test_marks_may_be_a_number_up_to_what_a_cell_counts(value: str) -> None:
    row = ("all", "Subnets", "20", "Gateway", "marks", value, "Agreed in class.")
    assert read(book_with(row)) == (override(Decision.MARKS, value),)


def test_rows_and_marks_of_labs_that_cannot_be_read_are_believed() -> None:
    row = ("b01", "Subnets", "4000", "Gateway", "marks", "9", "Agreed in class.")
    wanted = replace(override(Decision.MARKS, "9", trainee="b01", row="4000"), attempt=1)
    assert read(book_with(row), labs=()) == (wanted,)


def test_a_decision_about_one_trainee_is_about_the_attempt_that_it_names_else_the_first() -> None:
    """A re-sit has another lab, whose cells the decision was not made about."""
    row = ("b01", "Subnets", "20", "Gateway", "marks", "none", "x")
    for text, attempt, is_named in (("", 1, False), ("1", 1, True), ("2", 2, True)):
        found = read_overrides_book(book_with((*row, text)), {"b01": (1, 2)}, lambda _trainee: ())
        assert [(each.attempt, each.is_attempt_named) for each in found] == [(attempt, is_named)]
        changed = [apply(marked_with("10.20.2.1"), "b01", found, attempt=each).marks < 100 for each in (1, 2)]
        assert changed == [attempt == 1, attempt == 2]
    (of_all,) = read_overrides_book(book_with(("all", *row[1:])), {"b01": (1, 2)}, lambda _trainee: ())
    assert [of_all.is_for("b01", each) for each in (1, 2)] == [True, True]


def test_who_has_one_attempt_alone_needs_no_column_attempt() -> None:
    book = openpyxl.load_workbook(io.BytesIO(book_with(("b01", "Subnets", "20", "Gateway", "marks", "half", "x"))))
    book["Overrides"].delete_cols(8)
    for attempts in ((1,), (2,)):
        (found,) = read_overrides_book(saved(book), {"b01": attempts}, lambda _trainee: ())
        assert (found.attempt, found.is_attempt_named) == (attempts[0], True)


def test_error_an_attempt_that_was_not_set_is_refused() -> None:
    row = ("b01", "Subnets", "20", "Gateway", "marks", "half", "x", "3")
    assert [str(each) for each in refused(book_with(row))] == [
        "Overrides!H8: found '3'; an attempt that was set stands here (1), or nothing. Write such a number, or set the re-sit "
        "first."
    ]


def test_error_every_problem_is_told_with_its_cell() -> None:
    rows = (
        ("b1", "Subnet", "20", "Gateway", "mark", "half", "x"),
        ("b01", "Links", "A-C", "Gatway", "marks", "lots", ""),
        ("", "Subnets", "", "", "", "", "x"),
    )
    assert [str(each) for each in refused(book_with(*rows))] == [
        "Overrides!A8: found 'b1'; a trainee of this sitting stands here: b01, all. Did you mean b01?",
        "Overrides!B8: found 'Subnet'; a sheet that is asked stands here: Subnets, Links, Ports, Stations, Routes, Pools, "
        "Relays, Protection, Bindings. Did you mean Subnets?",
        "Overrides!E8: found 'mark'; a decision stands here: accept this value, marks, strike, use this file, marked by "
        "hand. Did you mean "
        "marks?",
        "Overrides!C9: found 'A-C'; a row of sheet Links stands here: A-B, all. Did you mean A-B?",
        "Overrides!D9: found 'Gatway'; a heading of sheet Links stands here: Network address, Mask, Address of the first "
        "switch, Address of the second switch, all. Write one of these.",
        "Overrides!F9: found 'lots'; marks are full, half, none, or a number from 0 on, with three decimals at most. Write one "
        "of these.",
        "Overrides!G9: found nothing; a decision has a reason. Write one.",
        "Overrides!A10: found nothing; a trainee of this sitting stands here: b01, all. Write one of these.",
        "Overrides!C10: found nothing; a decision has a row. Write one.",
        "Overrides!D10: found nothing; a heading of sheet Subnets stands here: Network address, Prefix length, First usable, "
        "Last usable, Broadcast address, Gateway, Mask, Heard on ports, all. Write one of these.",
        "Overrides!E10: found nothing; a decision stands here: accept this value, marks, strike, use this file, marked by "
        "hand. Write one of "
        "these.",
        "Overrides!F10: found nothing; a decision has a value. Write one.",
    ]


def test_error_of_names_equally_near_the_first_is_offered_and_of_many_some_are_listed() -> None:
    row = ("b1", "Subnets", "20", "Gateway", "marks", "full", "x")
    with pytest.raises(OverrideProblems) as raised:
        read(book_with(row), [f"b{number:02}" for number in range(1, 25)])
    assert str(raised.value) == (
        "Overrides!A8: found 'b1'; a trainee of this sitting stands here: b01, b02, b03, b04, b05, b06, b07, b08, ... or all. "
        "Did you mean b01?"
    )


def test_error_marks_for_several_cells_are_no_more_than_all_of_them_count() -> None:
    rows = (
        ("b01", "Subnets", "all", "Gateway", "marks", "99.9", "x"),
        ("b01", "Subnets", "20", "all", "marks", "99.9", "x"),
        ("b01", "Subnets", "all", "all", "marks", "99.9", "x"),
    )
    column, row, sheet = (str(each) for each in refused(book_with(*rows)))
    share = next(each.share for each in LAB.sections if each.section == "subnets")
    gateway = exact(most_marks(LAB, "subnets", "subnets.gateway", ""))
    assert f"a number from 0 to {gateway}, " in column
    assert column.endswith("that is what the cells count together under Gateway on sheet Subnets. Write one of these.")
    assert f"a number from 0 to {exact(most_marks(LAB, 'subnets', '', '20'))}, " in row
    assert f"a number from 0 to {share}, " in sheet
    assert "that is what the cells count together on sheet Subnets." in sheet


def test_error_a_question_is_struck_for_everybody_and_has_no_value() -> None:
    rows = (
        ("b01", "Subnets", "20", "Gateway", "strike", "", "x"),
        ("all", "Subnets", "20", "Gateway", "strike", "full", ""),
        ("all", "Subnets", "20", "all", "accept this value", "a", "x"),
    )
    assert [str(each) for each in refused(book_with(*rows))] == [
        "Overrides!A8: found 'b01'; a question is struck for everybody, or one would be marked by another measure than the "
        "others. Write all; for one trainee set marks.",
        "Overrides!F9: found 'full'; what is struck has no value. Leave this blank.",
        "Overrides!G9: found nothing; a decision has a reason. Write one.",
        "Overrides!D10: found 'all'; a value is accepted under one heading; all goes with the decisions marks and strike. Write "
        "the column's heading.",
    ]


def test_a_workbook_of_before_explains_itself_in_a_row_that_is_no_decision() -> None:
    book = openpyxl.load_workbook(io.BytesIO(book_with()))
    book["Overrides"]["B7"] = "a sheet of the form"
    book["Overrides"]["D7"] = "the column's heading"
    book["Overrides"]["F7"] = "the value; or full, half, none, a number"
    assert read(saved(book)) == ()


@pytest.mark.parametrize("value", ["0.646", "9", "-1", "50%", "1/2", "0.1234", "nan", "1e-3"])
def test_error_marks_are_no_more_than_a_cell_counts(value: str) -> None:
    (problem,) = refused(book_with(("b01", "Subnets", "20", "Gateway", "marks", value, "x")))
    assert str(problem) == (
        f"Overrides!F8: found {value!r}; marks are full, half, none, or a number from 0 to 0.645, with three decimals at "
        "most; that is what a cell counts under Gateway on sheet Subnets. Write one of these."
    )


def test_error_a_sheet_that_is_not_asked_takes_no_decision() -> None:
    sections = tuple(replace(each, asked=Asked.GIVEN) if each.section == "links" else each for each in LAB.sections)
    row = ("b01", "Links", "A-B", "Mask", "marks", "full", "x")
    (problem,) = refused(book_with(row), labs=(replace(LAB, sections=sections),))
    assert problem.found == "'Links'"
    assert problem.wanted == (
        "a sheet that is asked stands here: Subnets, Ports, Stations, Routes, Pools, Relays, Protection, Bindings"
    )


def test_error_a_date_in_place_of_a_value_is_no_typed_text() -> None:
    book = openpyxl.load_workbook(
        io.BytesIO(book_with(("b01", "Subnets", "20", "Prefix length", "accept this value", "", "x")))
    )
    cell = book["Overrides"].cell(FIRST_ROW, 6)
    cell.value, cell.number_format = 45000, "yyyy-mm-dd"
    (problem,) = refused(saved(book))
    assert str(problem) == (
        "Overrides!F8: found '2023-03-15'; what stands here is taken as it was typed, and this is no typed text (date). "
        "Format the cell as Text and type it again."
    )


def test_error_a_merged_cell_is_no_decision() -> None:
    row = ("b01", "Subnets", "20", "Gateway", "marks", "full", "x")
    book = openpyxl.load_workbook(io.BytesIO(book_with(row, row)))
    book["Overrides"].merge_cells("G8:G9")
    (problem,) = refused(saved(book))
    assert str(problem) == (
        "Overrides!G9: found nothing; what stands here is taken as it was typed, and this is no typed text (merged). "
        "Undo the merging and fill every cell."
    )


def test_error_a_heading_that_is_missing_is_named() -> None:
    book = openpyxl.load_workbook(io.BytesIO(write_overrides_book()))
    book["Overrides"].cell(HEAD_ROW, 7).value = "Why"
    (problem,) = refused(saved(book))
    assert str(problem) == (
        "Overrides: found no column headed Reason; decisions are read by their headings. Write it as it was."
    )


def test_error_a_sheet_of_another_name_is_not_taken_for_decisions() -> None:
    book = openpyxl.load_workbook(io.BytesIO(write_overrides_book()))
    book["Overrides"].title = "Sheet1"
    (problem,) = refused(saved(book))
    assert str(problem) == ("Overrides: found no sheet Overrides; decisions stand on a sheet of that name. Name it so.")


# --- At every grade ---------------------------------------------------------------------------------------------------


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


@pytest.fixture
def sitting(tmp_path: Path) -> Sitting:
    """One trainee, who wrote everything right but one gateway."""
    file = tmp_path / "harbour.xlsx"
    file.write_bytes(write_exercise_book(changed(tables={"trainees": HARBOUR.tables["trainees"][:1]}, reveal="marks")))
    assert run("set", file, "--out", tmp_path, "--sitting", "s") == 0
    sitting = Sitting.open(tmp_path / "s")
    lab = sitting.scenario(sitting.register().labs[0].lab)
    cell = CellRef("subnets.gateway", VlanRow(lab.vlans[0].id))
    book = next(sitting.hand_out.glob("*.xlsx")).read_bytes()
    (sitting.returned / "a.xlsx").write_bytes(fill_in(book, lab, {**key_texts(lab), cell: "172.16.0.9"}))
    return sitting


def test_a_decision_changes_the_marks_and_is_shown_whatever_trainees_see(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("grade", sitting.folder) == 0
    sitting.overrides_book.write_bytes(
        book_with(("h01", "Subnets", "all", "Gateway", "accept this value", "172.16.0.9", "Fair <b>point</b>"))
    )
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 0
    printed = json.loads(capsys.readouterr().out)
    (decided,) = (each for each in printed["graded"][0]["cells"] if each["given"] == "172.16.0.9")
    assert (decided["verdict"], decided["explanation"], decided["mistake"]) == (
        "right",
        "The instructor's decision: Fair <b>point</b>",
        None,
    )
    lab = sitting.register().labs[0].lab
    (change,) = printed["changed"]
    assert change | {"old": ""} == {"trainee": "h01", "lab": lab, "old": "", "new": "100"}
    assert change["old"] == "99.355"
    page = next(sitting.marked.glob("*.html")).read_text(encoding="utf-8")
    assert "The instructor's decision:" in html.unescape(page)
    assert "Fair &lt;b&gt;point&lt;/b&gt;" in page
    sheet = openpyxl.load_workbook(next(sitting.marked.glob("*.xlsx")))["Subnets"]
    assert any("The instructor's decision: Fair <b>point</b>" in str(each.value) for row in sheet for each in row)
    before = sitting.overrides_book.read_bytes()
    assert run("grade", sitting.folder) == 0
    assert "Marks changed" not in capsys.readouterr().out
    assert sitting.overrides_book.read_bytes() == before


def test_error_faulty_decisions_stop_grading_before_anything_is_written(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    sitting.overrides_book.write_bytes(
        book_with(("h011", "Subnets", "all", "Gateway", "accept this value", "1.1.1.1", "x"))
    )
    capsys.readouterr()
    assert run("grade", sitting.folder) == 1
    assert capsys.readouterr().err == (
        f"{sitting.overrides_book} has 1 problem, so nothing was graded.\n"
        "Overrides!A8: found 'h011'; a trainee of this sitting stands here: h01, all. Did you mean h01?\n"
    )
    assert list(sitting.marked.iterdir()) == []
    assert list(sitting.grades.iterdir()) == []
    assert not sitting.results_book.exists()


def test_what_is_struck_is_gone_from_every_page_and_back_when_its_row_is_taken_away(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("grade", sitting.folder) == 0

    def counted() -> tuple[str, str, int]:
        capsys.readouterr()
        assert run("grade", sitting.folder, "--json") == 0
        (lab,) = json.loads(capsys.readouterr().out)["graded"]
        assert sum(Decimal(each["out_of"]) for each in lab["sections"]) == Decimal(lab["out_of"])
        return lab["marks"], lab["out_of"], len(lab["sections"])

    before = counted()
    decide(sitting, ("all", "Subnets", "all", "Gateway", "strike", "", "The slide was wrong."))
    marks, out_of, _ = counted()
    assert marks == out_of, "the one wrong cell is under that heading"
    assert Decimal(out_of) < 100
    page = next(sitting.marked.glob("*.html")).read_text(encoding="utf-8")
    assert page.count("Gateway: This does not count for anybody. The slide was wrong.") == 1
    assert "Right, though not as in the key" not in page
    assert "Struck out by the instructor" in page
    sheet = openpyxl.load_workbook(next(sitting.marked.glob("*.xlsx")))["Subnets"]
    assert "\u25cb 172.16.0.9" in {each.value for row in sheet for each in row}
    decide(sitting, ("all", "Subnets", "all", "all", "strike", "", "Nobody had the time."))
    assert counted() == ("80", "80", before[2] - 1)
    decide(sitting)
    assert counted() == before


def decide(sitting: Sitting, *rows: Row) -> None:
    sitting.overrides_book.write_bytes(book_with(*rows))


def vlan_of(sitting: Sitting) -> str:
    return str(sitting.scenario(sitting.register().labs[0].lab).vlans[0].number)


def test_a_part_that_is_marked_by_hand_counts_everywhere(sitting: Sitting, capsys: pytest.CaptureFixture[str]) -> None:
    decide(
        sitting,
        ("all", "Bench work", "", "", "marked by hand", "0 of 25", ""),
        ("h01", "bench WORK", "", "", "marked by hand", "17,5/25", "Neat, <b>but</b> slow."),
        ("all", "Oral", "", "", "marked by hand", "5 of 5", ""),
    )
    assert run("grade", sitting.folder, "--json") == 0
    (lab,) = json.loads(capsys.readouterr().out)["graded"]
    sheets = sum(Decimal(each["marks"]) for each in lab["sections"])
    assert (lab["out_of"], Decimal(lab["marks"])) == ("130", sheets + Decimal("22.5"))
    assert lab["parts"] == [
        {"part": "bench WORK", "marks": "17.5", "out_of": "25", "comment": "Neat, <b>but</b> slow."},
        {"part": "Oral", "marks": "5", "out_of": "5", "comment": ""},
    ]
    page = next(sitting.marked.glob("*.html")).read_text(encoding="utf-8")
    assert "Marked by hand" in page
    assert "Neat, &lt;b&gt;but&lt;/b&gt; slow." in page
    summary = openpyxl.load_workbook(next(sitting.marked.glob("*.xlsx")))["Summary"]
    rows = [tuple(cell.value for cell in row) for row in summary.iter_rows()]
    assert ("bench WORK", "17.5", "25.0", "Marked by hand. Neat, <b>but</b> slow.") in rows
    assert ("Total", f"{Decimal(lab['marks']):.1f}", "130.0", None) in rows
    (heads, line) = csv.reader(io.StringIO(sitting.results_text.read_text(encoding="utf-8-sig")))
    told = dict(zip(heads, line, strict=True))
    assert (told["out of"], told["bench WORK"], told["Oral"]) == ("130", "17.5", "5")
    roll = openpyxl.load_workbook(sitting.results_book)["Results"]
    cells = dict(zip((cell.value for cell in roll[4]), (cell.value for cell in roll[5]), strict=True))
    assert (cells["bench WORK"], cells["Oral"], cells["Out of"]) == (17.5, 5, 130)
    assert "bench WORK" in sitting.results_page.read_text(encoding="utf-8")
    decide(sitting, ("h01", "Oral", "", "", "marked by hand", "4 of 5", ""))
    assert run("grade", sitting.folder) == 0
    assert "Bench" not in sitting.results_text.read_text(encoding="utf-8-sig")


def test_whom_a_part_by_hand_is_missing_of_is_said_and_counts_nothing() -> None:
    before = marked_with("10.20.2.1")
    part = Override(
        trainee="b02",
        section="",
        row="",
        question="",
        decision=Decision.BY_HAND,
        value="3 of 4",
        reason="",
        part="Oral",
    )
    assert apply(before, "b01", [part]) == before
    lines = [
        TraineeGrade(trainee=Trainee(id=each), lab=each, marked=apply(before, each, [part])) for each in ("b01", "b02")
    ]
    report = class_report(read_exercise(HARBOUR), lines, ())
    assert [(line.notices, line.marked and line.marked.out_of) for line in report.lines] == [
        (("No marks yet for Oral; the total is without.",), 100),
        ((), 104),
    ]


def test_error_of_parts_by_hand_every_problem_is_told() -> None:
    rows = (
        ("b01", "Bench work", "", "", "marked by hand", "17 of 20", ""),
        ("b01", "Subnets", "20", "", "marked by hand", "17", "x"),
        ("all", "bench work", "", "", "marked by hand", "17 of 25", "x"),
        ("b77", "", "", "all", "marked by hand", "21 of 20", "x"),
    )
    told = [f"{each.cell}: found {each.found}; {each.wanted}. {each.fix}" for each in refused(book_with(*rows))]
    name = (
        "a part that is marked by hand has a name of its own, of 40 characters at most, and is no sheet of the form. "
        "Write one, such as Bench work; for a sheet set marks."
    )
    marks = (
        "marks of a part are written with what it counts (1000 at most), such as 17 of 20, and are no more than that. "
        "Write it so."
    )
    assert told == [
        f"B9: found 'Subnets'; {name}",
        "C9: found '20'; a part that is marked by hand has no cells. Leave this blank.",
        f"F9: found '17'; {marks}",
        "F10: found '17 of 25'; bench work counts 20 in F8, and a part counts the same for everybody. Write the marks of 20, or "
        "change the other rows.",
        "A11: found 'b77'; a trainee of this sitting stands here: b01, all. Write one of these.",
        f"B11: found nothing; {name}",
        "D11: found 'all'; a part that is marked by hand has no cells. Leave this blank.",
        f"F11: found '21 of 20'; {marks}",
    ]


def test_error_one_faulty_row_leaves_the_good_ones_unapplied(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("grade", sitting.folder) == 0
    before = {file: file.read_bytes() for file in sitting.folder.rglob("*") if file.is_file()}
    good = ("h01", "Subnets", vlan_of(sitting), "Gateway", "marks", "full", "x")
    decide(sitting, good, ("h01", "Subnets", "1", "Gateway", "marks", "full", "x"))
    before[sitting.overrides_book] = sitting.overrides_book.read_bytes()
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(
        f"{sitting.overrides_book} has 1 problem, so nothing was graded.\n"
        "Overrides!C9: found '1'; a row of sheet Subnets stands here: "
    )
    assert {file: file.read_bytes() for file in sitting.folder.rglob("*") if file.is_file()} == before


def test_error_a_file_that_is_no_workbook_is_named_and_left_alone(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    sitting.overrides_book.write_text("Trainee,Sheet\n", encoding="utf-8")
    capsys.readouterr()
    assert run("grade", sitting.folder) == 1
    told = capsys.readouterr().err
    assert told.startswith(f"{sitting.overrides_book}: This is a text file")
    assert told.endswith(" Nothing was graded.\n")
    assert sitting.overrides_book.read_text(encoding="utf-8") == "Trainee,Sheet\n"
    assert list(sitting.marked.iterdir()) == []


def test_the_workbook_is_made_once_and_closed_to_others(sitting: Sitting, tmp_path: Path) -> None:
    assert sitting.overrides_book.read_bytes() == write_overrides_book()
    assert stat.S_IMODE(sitting.overrides_book.stat().st_mode) == 0o600
    decide(sitting, ("h01", "Subnets", vlan_of(sitting), "Gateway", "marks", "full", "x"))
    own = sitting.overrides_book.read_bytes()
    assert run("set", tmp_path / "harbour.xlsx", "--out", tmp_path, "--sitting", "s") == 0
    assert run("grade", sitting.folder) == 0
    assert sitting.overrides_book.read_bytes() == own


def test_grade_makes_the_workbook_where_it_is_missing(sitting: Sitting) -> None:
    sitting.overrides_book.unlink()
    assert run("grade", sitting.folder) == 0
    assert sitting.overrides_book.read_bytes() == write_overrides_book()


@pytest.mark.parametrize("name", [".~lock.overrides.xlsx#", "~$overrides.xlsx"])
def test_a_lock_file_beside_it_does_not_matter(sitting: Sitting, name: str) -> None:
    decide(sitting, ("h01", "Subnets", vlan_of(sitting), "Gateway", "marks", "full", "x"))
    (sitting.instructor / name).write_text("somebody", encoding="utf-8")
    assert run("grade", sitting.folder) == 0
    (graded,) = sitting.last_grades().by_lab.values()
    assert graded.marks.marks == 100


def test_marks_that_changed_are_printed_old_and_new_and_back_again(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("grade", sitting.folder) == 0
    assert "Marks changed" not in capsys.readouterr().out
    lab = sitting.register().labs[0].lab
    old = exact(sitting.last_grades().by_lab[lab].marks.marks)
    decide(sitting, ("all", "Subnets", vlan_of(sitting), "Gateway", "marks", "full", "x"))
    assert run("grade", sitting.folder) == 0
    assert f"Marks changed: h01 ({lab}) from {old} to 100\n" in capsys.readouterr().out
    sitting.overrides_book.unlink()
    assert run("grade", sitting.folder) == 0
    assert f"Marks changed: h01 ({lab}) from 100 to {old}\n" in capsys.readouterr().out


def test_marks_that_changed_are_told_although_the_file_has_another_name_now(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("grade", sitting.folder) == 0
    (sitting.returned / "a.xlsx").rename(sitting.returned / "again.xlsx")
    decide(sitting, ("h01", "Subnets", vlan_of(sitting), "Gateway", "marks", "full", "x"))
    capsys.readouterr()
    assert run("grade", sitting.folder) == 0
    assert "Marks changed: h01" in capsys.readouterr().out


def test_a_decision_that_changes_nothing_for_its_trainee_is_said(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    decide(
        sitting,
        ("h01", "Routes", "Route 95", "Next hop", "marks", "full", "x"),
        ("h01", "Subnets", "all", "Gateway", "accept this value", "172.16.0.8", "x"),
        ("all", "Subnets", "all", "Gateway", "accept this value", "172.16.0.7", "x"),
        ("h01", "Routes", "Route 9", "all", "marks", "full", "Not printed."),
    )
    lab = sitting.scenario(sitting.register().labs[0].lab)
    texts = key_texts(lab)
    copy = {CellRef(cell.question, WrittenRow("Route", 9)): texts[cell] for cell in texts if cell.row == "Route 1"}
    book = next(sitting.hand_out.glob("*.xlsx")).read_bytes()
    (sitting.returned / "a.xlsx").write_bytes(fill_in(book, lab, texts | copy))
    capsys.readouterr()
    assert run("grade", sitting.folder) == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if line.startswith("Decision")]
    assert lines == [
        "Decision without effect: h01, Routes, Route 95, Next hop: no such cell, or another value in it.",
        "Decision without effect: h01, Subnets, all, Gateway: no such cell, or another value in it.",
        "Decision without effect: h01, Routes, Route 9, all: no marks stand there; what a row does for rows of the key that "
        "are not written is decided in those, called as on the key page.",
    ]
    assert run("grade", sitting.folder, "--json") == 0
    (_, _, last) = json.loads(capsys.readouterr().out)["without_effect"]
    assert (last["trainee"], last["attempt"], last["about"]) == ("h01", 1, "Routes, Route 9, all")
    assert "Not printed." not in next(sitting.marked.glob("*.html")).read_text(encoding="utf-8")


def test_half_marks_keep_the_explanation_and_say_the_decision_first(
    sitting: Sitting, capsys: pytest.CaptureFixture[str]
) -> None:
    decide(sitting, ("h01", "Subnets", vlan_of(sitting), "Gateway", "marks", "half", "Nearly."))
    capsys.readouterr()
    assert run("grade", sitting.folder, "--json") == 0
    cells = json.loads(capsys.readouterr().out)["graded"][0]["cells"]
    (decided,) = (each for each in cells if each["given"] == "172.16.0.9")
    assert decided["verdict"] == "partly"
    assert decided["mistake"]
    assert decided["explanation"].startswith("The instructor's decision: Nearly. ")
    assert len(decided["explanation"]) > len("The instructor's decision: Nearly. ")


def test_marks_by_hand_of_who_handed_no_workbook_in_are_shown_and_make_no_total(sitting: Sitting) -> None:
    """A total of the bench alone would look like a fail; with an empty workbook in returned/ the sheets count as 0."""
    returned = next(sitting.returned.glob("*.xlsx"))
    filled_in = returned.read_bytes()
    returned.unlink()
    decide(sitting, ("h01", "Bench work", "", "", "marked by hand", "17 of 20", "Neat."))
    assert run("grade", sitting.folder) == 0
    (heads, line) = csv.reader(io.StringIO(sitting.results_text.read_text(encoding="utf-8-sig")))
    told = dict(zip(heads, line, strict=True))
    assert (told["percent"], told["marks"], told["Subnets"], told["Bench work"]) == ("", "", "", "17")
    page = sitting.results_page.read_text(encoding="utf-8")
    assert "not handed in" in page
    assert "Bench work 17 of 20; without a workbook this makes no total." in page
    roll = openpyxl.load_workbook(sitting.results_book)["Results"]
    assert "17" in [cell.value for cell in roll[5]]
    returned.write_bytes(filled_in)
    assert run("grade", sitting.folder) == 0
    (heads, line) = csv.reader(io.StringIO(sitting.results_text.read_text(encoding="utf-8-sig")))
    told = dict(zip(heads, line, strict=True))
    assert (told["out of"], told["Bench work"]) == ("120", "17")
