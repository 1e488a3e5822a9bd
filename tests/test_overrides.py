"""The instructor's decisions: read at every grade, applied, shown with their reason, and refused where they are faulty."""

import io
import json
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import changed
from test_marker import LAB, filled

from trainer import cli
from trainer.commands.demo_class import key_texts
from trainer.errors import OverrideProblems
from trainer.lab.form import CellRef, RowKey
from trainer.lab.sample import HARBOUR
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict, shown
from trainer.marking.overrides import Decision, Override, apply
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.overrides_book import read_overrides_book, write_overrides_book
from trainer.store import Sitting

GATEWAY = CellRef("subnets.gateway", RowKey("20"))


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
    assert (cell_of(before).verdict, cell_of(after).verdict) == (Verdict.WRONG, Verdict.RIGHT)
    assert cell_of(after).decision == "Agreed in class."
    assert cell_of(after).explanation is None
    assert after.marks == before.marks + cell_of(before).out_of == 100


def test_another_value_than_the_accepted_one_stays_wrong() -> None:
    before = marked_with("10.20.2.8")
    assert apply(before, "b01", [override(Decision.ACCEPT, "10.20.2.9")]) == before


@pytest.mark.parametrize(
    ("value", "verdict", "marks"),
    [
        ("full", Verdict.RIGHT, "0.572"),
        ("half", Verdict.PARTLY, "0.286"),
        ("none", Verdict.WRONG, "0"),
        ("0,25", Verdict.PARTLY, "0.25"),
        ("9", Verdict.RIGHT, "0.572"),  # never more than the cell is worth
    ],
)
def test_marks_that_are_set_count_and_sums_follow(value: str, verdict: Verdict, marks: str) -> None:
    before = marked_with("10.20.2.8")
    after = apply(before, "b01", [override(Decision.MARKS, value)])
    assert (cell_of(after).verdict, shown(cell_of(after).marks)) == (verdict, marks)
    assert after.marks == before.marks + cell_of(after).marks
    assert (cell_of(after).explanation is None) == (verdict is Verdict.RIGHT)


def test_a_right_answer_can_lose_its_marks_too() -> None:
    after = apply(marked_with("10.20.2.1"), "b01", [override(Decision.MARKS, "none")])
    assert (cell_of(after).verdict, cell_of(after).marks) == (Verdict.WRONG, Decimal(0))


def test_a_decision_about_one_trainee_is_about_nobody_else() -> None:
    before = marked_with("10.20.2.8")
    assert apply(before, "b01", [override(Decision.MARKS, "full", trainee="b02")]) == before
    assert apply(before, "B02", [override(Decision.MARKS, "full", trainee="b02")]).marks == 100


# --- The workbook -----------------------------------------------------------------------------------------------------


def book_with(*rows: tuple[str, ...]) -> bytes:
    book = openpyxl.load_workbook(io.BytesIO(write_overrides_book()))
    for place, row in enumerate(rows, 6):
        for column, text in enumerate(row, 1):
            book["Overrides"].cell(place, column).value = text
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_an_empty_workbook_holds_no_decision() -> None:
    assert read_overrides_book(write_overrides_book(), ["b01"]) == ()


def test_what_is_written_is_read() -> None:
    row = ("ALL", "subnets", "20", "gateway", "Marks", "half", "Agreed in class.")
    assert read_overrides_book(book_with(row), ["b01"]) == (override(Decision.MARKS, "half"),)


def test_error_every_problem_is_told_with_its_cell() -> None:
    rows = (
        ("b1", "Subnet", "20", "Gateway", "mark", "half", "x"),
        ("b01", "Links", "A-B", "Gatway", "marks", "lots", ""),
    )
    with pytest.raises(OverrideProblems) as refused:
        read_overrides_book(book_with(*rows), ["b01"])
    told = [(each.cell, each.found, each.fix) for each in refused.value.problems]
    assert told == [
        ("A6", "'b1'", "Did you mean b01?"),
        ("B6", "'Subnet'", "Did you mean subnets?"),
        ("E6", "'mark'", "Did you mean marks?"),
        ("D7", "'Gatway'", "Write one of these."),
        ("G7", "nothing", "Write one."),
        ("F7", "'lots'", "Write one of these."),
    ]


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
    cell = CellRef("subnets.gateway", RowKey(str(lab.vlans[0].number)))
    book = next(sitting.hand_out.iterdir()).read_bytes()
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
    lab = sitting.register().labs[0].lab
    (change,) = printed["changed"]
    assert change | {"old": ""} == {"trainee": "h01", "lab": lab, "old": "", "new": "100"}
    assert change["old"] in ("99.428", "99.429")
    page = next(sitting.marked.glob("*.html")).read_text(encoding="utf-8")
    assert "The instructor&#39;s decision:" in page or "The instructor's decision:" in page
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
    sitting.overrides_book.write_bytes(book_with(("h011", "Subnets", "all", "Gateway", "marks", "full", "x")))
    capsys.readouterr()
    assert run("grade", sitting.folder) == 1
    assert capsys.readouterr().err == (
        f"{sitting.overrides_book} has 1 to mend, so nothing was graded.\n"
        "Overrides!A6: found 'h011'; one of these stands here: h01, all. Did you mean h01?\n"
    )
    assert list(sitting.marked.iterdir()) == []
