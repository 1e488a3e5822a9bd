"""The results workbook: numbers an instructor can reckon with, and nobody gets nothing for not handing in."""

from dataclasses import replace
from decimal import Decimal

import pytest
from opened_books import loaded, parts, words_of_the_library_in
from openpyxl.worksheet.worksheet import Worksheet

from trainer.lab.form import RowKey
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Trainee
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict
from trainer.marking.mistakes.mistake import Explanation
from trainer.results.class_report import ClassReport
from trainer.results.grades import Facility, MistakeCount, TraineeGrade, common_mistakes, facilities
from trainer.sheets.results_book import write_results_book

SECTIONS_ASKED = ("subnets", "routes")
ROLL = [
    "Id",
    "Name",
    "Group",
    "Attempt",
    "Lab number",
    "Marks",
    "Out of",
    "Per cent",
    "Passed",
    "Subnets",
    "Routes",
    "Notices",
]


def mark_of(subnets: str, routes: str, *cells: CellMark) -> Marked:
    return Marked(
        cells=cells,
        sections=(
            SectionMark(section="subnets", marks=Decimal(subnets), out_of=Decimal(60)),
            SectionMark(section="routes", marks=Decimal(routes), out_of=Decimal(40)),
        ),
    )


def grade(number: str, marked: Marked | None, *notices: str, name: str = "", group: str = "") -> TraineeGrade:
    trainee = Trainee(id=number, name=name, group=group)
    return TraineeGrade(trainee=trainee, lab=f"LAB-{number.upper()}", marked=marked, notices=notices)


def report(*grades: TraineeGrade, pass_mark: int = 60, not_graded: tuple[tuple[str, str], ...] = ()) -> ClassReport:
    return ClassReport(
        title="BAKERY, Bread by six",
        pass_mark=pass_mark,
        sections=SECTIONS_ASKED,
        lines=grades,
        averages=(),
        questions=facilities(grades),
        mistakes=common_mistakes(grades),
        not_graded=not_graded,
    )


def results(*grades: TraineeGrade, pass_mark: int = 60, not_graded: tuple[tuple[str, str], ...] = ()) -> bytes:
    return write_results_book(report(*grades, pass_mark=pass_mark, not_graded=not_graded))


def rows(sheet: Worksheet, first: int) -> list[list[object]]:
    return [[cell.value for cell in row] for row in sheet.iter_rows(min_row=first)]


def test_there_are_four_sheets():
    assert loaded(results()).sheetnames == ["Results", "Questions", "Mistakes", "Not graded"]


def test_a_trainee_has_a_line_with_numbers():
    data = results(grade("k1", mark_of("60", "12.345"), name="Ada Vintner", group="Mon"))
    sheet = loaded(data)["Results"]
    assert rows(sheet, 4)[0] == ROLL
    line = rows(sheet, 5)[0]
    assert line[:5] == ["k1", "Ada Vintner", "Mon", "1", "LAB-K1"]
    assert line[5:8] == [72.345, 100, 72.3]
    assert line[8:] == ["\u2713 passed", 60, 12.345, None]
    assert [sheet.cell(5, column).data_type for column in (6, 7, 8, 10, 11)] == ["n"] * 5


def test_marks_have_a_number_format_that_shows_no_superfluous_zeros():
    sheet = loaded(results(grade("k1", mark_of("60", "12.345"))))["Results"]
    assert {sheet.cell(5, column).number_format for column in (6, 7, 8, 10, 11)} == {"0.###"}


@pytest.mark.parametrize(
    ("routes", "pass_mark", "word"),
    [
        ("0", 60, "\u2713 passed"),
        ("0", 61, "\u2717 not passed"),
        ("0", 0, "\u2713 passed"),
        ("39.999", 100, "\u2713 passed"),
        ("39.9", 100, "\u2717 not passed"),
    ],
)
def test_who_has_passed_is_told_by_sign_and_word(routes: str, pass_mark: int, word: str):
    sheet = loaded(results(grade("k1", mark_of("60", routes)), pass_mark=pass_mark))["Results"]
    assert sheet.cell(5, 9).value == word
    assert sheet["A2"].value == f"Passed from {pass_mark} per cent. Marks by sheet stand on the right."


def test_who_has_not_handed_in_has_no_marks_rather_than_none():
    sheet = loaded(results(grade("k1", mark_of("0", "0")), grade("k2", None)))["Results"]
    assert rows(sheet, 5)[0][5:11] == [0, 100, 0, "\u2717 not passed", 0, 0]
    assert rows(sheet, 5)[1][5:] == ["not handed in", None, None, None, None, None, None]
    assert not any(
        sheet.cell(6, column).data_type == "n" and sheet.cell(6, column).value is not None for column in range(6, 13)
    )


def test_trainees_stand_in_the_order_they_are_given_in():
    sheet = loaded(results(grade("k2", None, group="Mon"), grade("k1", None, group="Thu"), grade("k9", None)))[
        "Results"
    ]
    assert [line[0] for line in rows(sheet, 5)] == ["k2", "k1", "k9"]


def test_notices_stand_in_the_line():
    sheet = loaded(results(grade("k1", mark_of("1", "1"), "There is no sheet Routes.", "Two rows.")))["Results"]
    assert rows(sheet, 5)[0][-1] == "There is no sheet Routes. Two rows."


def wrong(question: str, mistake: str, out_of: str = "2", marks: str = "0") -> CellMark:
    said = Explanation(mistake=mistake, explanation=f"That is {mistake}.", consequence="", hint="")
    return CellMark(
        section=question.split(".", maxsplit=1)[0],
        question=question,
        row=RowKey("20"),
        given="x",
        expected="y",
        verdict=Verdict.WRONG,
        marks=Decimal(marks),
        out_of=Decimal(out_of),
        explanation=said,
    )


def test_questions_and_mistakes_are_counted_over_the_class():
    first = mark_of("0", "0", wrong("subnets.gateway", "own-network"), wrong("subnets.prefix", "one-off", marks="1"))
    second = mark_of("0", "0", wrong("subnets.gateway", "own-network"), wrong("routes.mask", "one-off"))
    book = loaded(results(grade("k1", first), grade("k2", second), grade("k3", None)))
    assert rows(book["Questions"], 3) == [
        ["Sheet", "Question", "Per cent"],
        ["Subnets", "Prefix length", 50],
        ["Subnets", "Gateway", 0],
        ["Routes", "Mask or prefix length", 0],
    ]
    assert "in the order of the sheets (fewer than 5 handed in)" in str(book["Questions"]["A1"].value)
    assert rows(book["Mistakes"], 3) == [
        ["Sheet", "Trainees", "Cells", "What was said, for instance"],
        ["Subnets, Routes", 2, 2, "That is one-off."],
        ["Subnets", 2, 2, "That is own-network."],
    ]


def test_rows_that_are_missing_are_mistakes_but_neither_empty_cells_nor_sheets_that_were_not_begun():
    missing = replace(wrong("routes.mask", "no-way-back"), given="", verdict=Verdict.MISSING)
    empty = replace(wrong("subnets.gateway", "blank"), given="", verdict=Verdict.BLANK)
    begun = mark_of("0", "0", wrong("routes.mask", "one-off"), missing, empty)
    untouched = mark_of("0", "0", missing, empty)
    book = loaded(results(grade("k1", begun), grade("k2", untouched)))
    assert [row[:3] for row in rows(book["Mistakes"], 4)] == [["Routes", 1, 1], ["Routes", 1, 1]]
    assert [row[3] for row in rows(book["Mistakes"], 4)] == ["That is no-way-back.", "That is one-off."]


def test_counts_and_percentages_are_numbers():
    sheet = loaded(results(grade("k1", mark_of("0", "0", wrong("subnets.gateway", "own-network")))))
    assert [sheet["Questions"]["C4"].data_type, sheet["Mistakes"]["B4"].data_type] == ["n", "n"]


def test_an_attempt_is_shown():
    trainee = Trainee(id="k1", attempt=2)
    sheet = loaded(results(TraineeGrade(trainee=trainee, lab="LAB-K1", marked=None)))["Results"]
    assert str(sheet["D5"].value) == "2"


def test_files_that_were_not_graded_stand_with_their_reason():
    book = loaded(results(not_graded=(("returned/x.pdf", "This is a PDF, not a workbook."),)))
    assert rows(book["Not graded"], 3) == [
        ["File", "Why, and what to do"],
        ["returned/x.pdf", "This is a PDF, not a workbook."],
    ]


def test_an_empty_table_says_none():
    book = loaded(results())
    assert [book[title]["A4"].value for title in ("Questions", "Mistakes", "Not graded")] == ["none"] * 3


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "#N/A", "<b>", "1e3", "a\nb"])
def test_texts_of_others_stay_literal(text: str):
    some = Decimal(1)
    hostile = replace(
        report(grade("k1", mark_of("1", "1"), text, name=text, group=text), not_graded=((text, text),)),
        title=text,
        questions=(Facility(question="q", section=text, heading=text, per_cent=some, lowest=some, highest=some),),
        mistakes=(MistakeCount(mistake="m", sheets=(text,), explanation=text, cells=1, trainees=1),),
    )
    book = loaded(write_results_book(hostile))
    for sheet, cells in (("Results", "BCL"), ("Questions", "AB"), ("Mistakes", "AD"), ("Not graded", "AB")):
        row = 5 if sheet == "Results" else 4
        for column in cells:
            cell = book[sheet][f"{column}{row}"]
            assert (cell.value, cell.data_type) == (f"'{text}" if text[0] in "=+-@" else text, "s")


def test_a_very_long_text_is_cut():
    book = loaded(results(grade("k1", None, name="n" * 40_000)))
    assert len(book["Results"]["B5"].value) == 2000


LONGEST_FOOTER = 255
"""Characters that a header or footer may have (ECMA-376 part 1, 18.3.1.46, quoted from memory)."""


def test_a_long_title_makes_no_footer_longer_than_it_may_be():
    data = write_results_book(replace(report(), title="t" * 300))
    for sheet in loaded(data).worksheets:
        assert len(sheet.oddFooter.left.text) + len(sheet.oddFooter.right.text) < LONGEST_FOOTER


def test_the_file_is_ours_throughout():
    data = results(grade("k1", mark_of("1", "1")), grade("k2", None))
    assert words_of_the_library_in(data) == []
    assert not [name for name, text in parts(data).items() if name.startswith("xl/worksheets/") and "<f>" in text]


def test_every_sheet_prints_one_page_wide_and_keeps_its_headings_in_sight():
    for sheet in loaded(results(grade("k1", None))).worksheets:
        assert sheet.page_setup.fitToWidth == 1
        assert sheet.freeze_panes == ("C5" if sheet.title == "Results" else "A4")


def test_the_sections_are_those_of_the_form():
    assert all(section in SECTIONS for section in SECTIONS_ASKED)


def test_the_words_for_who_is_not_there_fit_their_column():
    sheet = loaded(results(grade("k1", None)))["Results"]
    assert sheet.column_dimensions["F"].width > len(str(sheet["F5"].value))
