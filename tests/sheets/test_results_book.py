"""The results workbook: numbers an instructor can reckon with, and nobody gets nothing for not handing in."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from book_values import cell_at, names, sheet_named, value_at, values
from opened_books import loaded, parts, words_of_the_library_in

from trainer.lab.questions import SECTIONS
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Trainee
from trainer.marking.explanation import Explanation
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict
from trainer.results.class_report import ClassReport, MissingRow
from trainer.results.grades import Facility, MistakeCount, TraineeGrade, common_mistakes, facilities
from trainer.sheets.book import Book, Sheet, Style
from trainer.sheets.results_book import results_book, write_results_book

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
    "What works",
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


def report(
    *grades: TraineeGrade,
    pass_mark: int = 60,
    not_graded: tuple[tuple[str, str], ...] = (),
    missing: tuple[MissingRow, ...] = (),
) -> ClassReport:
    return ClassReport(
        title="BAKERY, Bread by six",
        pass_mark=pass_mark,
        sections=SECTIONS_ASKED,
        parts=(),
        lines=grades,
        averages=(),
        questions=facilities(grades),
        mistakes=common_mistakes(grades),
        missing=missing,
        not_graded=not_graded,
    )


def results(*grades: TraineeGrade, pass_mark: int = 60, not_graded: tuple[tuple[str, str], ...] = ()) -> Book:
    return results_book(report(*grades, pass_mark=pass_mark, not_graded=not_graded))


def roll(*grades: TraineeGrade, pass_mark: int = 60) -> Sheet:
    """The sheet with a line for each trainee."""
    return sheet_named(results(*grades, pass_mark=pass_mark), "Results")


def test_there_are_five_sheets():
    assert names(results()) == ["Results", "Questions", "Mistakes", "Missing rows", "Not graded"]


def test_a_trainee_has_a_line_with_numbers():
    sheet = roll(grade("k1", mark_of("60", "12.345"), name="Ada Vintner", group="Mon"))
    head, line = values(sheet, 4)
    assert head == ROLL
    assert line[:5] == ["k1", "Ada Vintner", "Mon", "1", "LAB-K1"]
    assert line[5:8] == [Decimal("72.345"), Decimal(100), Decimal("72.3")]
    assert line[8:] == ["\u2713 passed", Decimal(60), Decimal("12.345"), "not tried", ""]


@pytest.mark.parametrize(
    ("routes", "pass_mark", "word", "style"),
    [
        ("0", 60, "\u2713 passed", Style.RIGHT),
        ("0", 61, "\u2717 not passed", Style.WRONG),
        ("0", 0, "\u2713 passed", Style.RIGHT),
        ("39.999", 100, "\u2717 not passed", Style.WRONG),
        ("39.9", 100, "\u2717 not passed", Style.WRONG),
    ],
)
def test_who_has_passed_is_told_by_sign_and_word(routes: str, pass_mark: int, word: str, style: Style):
    sheet = roll(grade("k1", mark_of("60", routes)), pass_mark=pass_mark)
    assert (value_at(sheet, 5, 9), cell_at(sheet, 5, 9).style) == (word, style)
    assert value_at(sheet, 2, 1) == f"Passed from {pass_mark} per cent. Marks by sheet stand on the right."


def test_who_has_not_handed_in_has_no_marks_rather_than_none():
    present, absent = values(roll(grade("k1", mark_of("0", "0")), grade("k2", None)), 5)
    assert present[5:11] == [0, 100, 0, "\u2717 not passed", 0, 0]
    assert absent[5:] == ["not handed in", "", "", "", "", "", "", ""]


def test_trainees_stand_in_the_order_they_are_given_in():
    sheet = roll(grade("k2", None, group="Mon"), grade("k1", None, group="Thu"), grade("k9", None))
    assert [line[0] for line in values(sheet, 5)] == ["k2", "k1", "k9"]


def test_notices_stand_in_the_line():
    sheet = roll(grade("k1", mark_of("1", "1"), "There is no sheet Routes.", "Two rows."))
    assert values(sheet, 5)[0][-1] == "There is no sheet Routes. Two rows."


def wrong(question: str, mistake: str, out_of: str = "2", marks: str = "0") -> CellMark:
    said = Explanation(mistake=mistake, explanation=f"That is {mistake}.", consequence="", hint="")
    return CellMark(
        section=question.split(".", maxsplit=1)[0],
        question=question,
        row=VlanRow(20),
        given="x",
        expected="y",
        verdict=Verdict.WRONG,
        marks=Fraction(marks),
        out_of=Fraction(out_of),
        explanation=said,
    )


def test_questions_and_mistakes_are_counted_over_the_class():
    first = mark_of("0", "0", wrong("subnets.gateway", "own-network"), wrong("subnets.prefix", "one-off", marks="1"))
    second = mark_of("0", "0", wrong("subnets.gateway", "own-network"), wrong("routes.mask", "one-off"))
    book = results(grade("k1", first), grade("k2", second), grade("k3", None))
    questions, mistakes = sheet_named(book, "Questions"), sheet_named(book, "Mistakes")
    assert values(questions, 3) == [
        ["Sheet", "Question", "Per cent"],
        ["Subnets", "Prefix length", 50],
        ["Subnets", "Gateway", 0],
        ["Routes", "Mask or prefix length", 0],
    ]
    assert "in the order of the sheets (fewer than 5 handed in)" in str(value_at(questions, 1, 1))
    assert values(mistakes, 3) == [
        ["Sheet", "Trainees", "Cells", "What was said, for instance", "Who"],
        ["Subnets, Routes", 2, 2, "That is one-off.", "k1, k2"],
        ["Subnets", 2, 2, "That is own-network.", "k1, k2"],
    ]


def test_rows_that_are_missing_are_mistakes_but_neither_empty_cells_nor_sheets_that_were_not_begun():
    missing = replace(wrong("routes.mask", "no-way-back"), given="", verdict=Verdict.MISSING)
    empty = replace(wrong("subnets.gateway", "blank"), given="", verdict=Verdict.BLANK)
    begun = mark_of("0", "0", wrong("routes.mask", "one-off"), missing, empty)
    untouched = mark_of("0", "0", missing, empty)
    lines = values(sheet_named(results(grade("k1", begun), grade("k2", untouched)), "Mistakes"), 4)
    assert [line[:3] for line in lines] == [["Routes", 1, 1], ["Routes", 1, 1]]
    assert [line[3] for line in lines] == ["That is no-way-back.", "That is one-off."]


def test_marks_counts_and_percentages_are_numbers_in_the_file():
    book = loaded(
        write_results_book(report(grade("k1", mark_of("0", "12.345", wrong("subnets.gateway", "own-network")))))
    )
    places = [("Results", f"{column}5") for column in "FGHJK"] + [
        ("Questions", "C4"),
        ("Mistakes", "B4"),
        ("Mistakes", "C4"),
    ]
    cells = [book[sheet][name] for sheet, name in places]
    assert {(cell.data_type, cell.number_format) for cell in cells} == {("n", "0"), ("n", "0.0")}


def test_an_attempt_is_shown():
    trainee = Trainee(id="k1", attempt=2)
    assert value_at(roll(TraineeGrade(trainee=trainee, lab="LAB-K1", marked=None)), 5, 4) == "2"


def test_files_that_were_not_graded_stand_with_their_reason():
    book = results(not_graded=(("returned/x.pdf", "This is a PDF, not a workbook."),))
    assert values(sheet_named(book, "Not graded"), 3) == [
        ["File", "Why, and what to do"],
        ["returned/x.pdf", "This is a PDF, not a workbook."],
    ]


def test_rows_that_were_not_written_are_named_as_decisions_call_them():
    missing = MissingRow(trainee="k1", name="Ann", section="routes", row="A to 790")
    book = results_book(report(missing=(missing,)))
    assert values(sheet_named(book, "Missing rows"), 4) == [["k1", "Routes", "A to 790", "Ann"]]


def test_an_empty_table_says_none():
    assert [values(sheet, 4) for sheet in results().sheets[1:]] == [[["none"]]] * 4


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "#N/A", "<b>", "1e3", "a\nb"])
def test_texts_of_others_stay_literal(text: str):
    some = Decimal(1)
    hostile = replace(
        report(grade("k1", mark_of("1", "1"), text, name=text, group=text), not_graded=((text, text),)),
        title=text,
        questions=(Facility(question="q", section=text, heading=text, per_cent=some, lowest=some, highest=some),),
        mistakes=(
            MistakeCount(
                mistake="m", sheets=(text,), explanation=text, cells=1, made_by=(("L", Trainee(id="k1", name=text)),)
            ),
        ),
    )
    book = loaded(write_results_book(hostile))
    for sheet, cells in (("Results", "BCM"), ("Questions", "AB"), ("Mistakes", "AD"), ("Not graded", "AB")):
        row = 5 if sheet == "Results" else 4
        for column in cells:
            cell = book[sheet][f"{column}{row}"]
            assert (cell.value, cell.data_type) == (f"'{text}" if text[0] in "=+-@" else text, "s")


def test_the_file_is_ours_throughout():
    data = write_results_book(report(grade("k1", mark_of("1", "1")), grade("k2", None)))
    assert words_of_the_library_in(data) == []
    assert not [name for name, text in parts(data).items() if name.startswith("xl/worksheets/") and "<f>" in text]


def test_every_sheet_keeps_its_headings_in_sight():
    for sheet in results(grade("k1", None)).sheets:
        assert sheet.layout.frozen_at == ("C5" if sheet.name == "Results" else "A4")
        assert sheet.layout.printing.head_rows == ((1, 4) if sheet.name == "Results" else (1, 3))


def test_the_sections_are_those_of_the_form():
    assert all(section in SECTIONS for section in SECTIONS_ASKED)


def test_the_words_for_who_is_not_there_fit_their_column():
    sheet = roll(grade("k1", None))
    assert sheet.layout.widths[5] > len(str(value_at(sheet, 5, 6)))
