"""The results workbook: one line a trainee, then the hardest questions and the commonest mistakes.

Names and what trainees wrote are text in it, and made harmless all the same: saved as CSV and opened again, they would
become formulas.
"""

from collections.abc import Sequence
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trainer.lab.questions import SECTIONS
from trainer.marking.marks import shown
from trainer.results.class_report import FEWEST, ClassReport
from trainer.results.csv_text import harmless
from trainer.sheets.cells import put, put_row, set_up_page, set_widths, text_height
from trainer.sheets.saving import new_workbook, to_bytes

__all__ = ["write_results_book"]

_ROLL = ("Id", "Name", "Group", "Attempt", "Lab number", "Marks", "Out of", "Per cent", "Passed")
_ROLL_WIDTHS = (10, 24, 10, 11, 12, 14, 9, 9, 14)


def write_results_book(report: ClassReport) -> bytes:
    """The workbook for the instructor."""
    workbook = new_workbook(f"Results {report.title}")
    _write_roll(workbook, report)
    _write_table(
        workbook,
        "Questions",
        f"Questions, {_order(report)}: marks earned, of those to be had, by all who handed in",
        ("Sheet", "Question", "Per cent"),
        (18, 34, 12),
        [(each.section, each.heading, each.per_cent) for each in report.questions],
    )
    _write_table(
        workbook,
        "Mistakes",
        "Mistakes, the commonest first",
        ("Sheet", "Trainees", "Cells", "What was said, for instance"),
        (34, 12, 10, 90),
        [
            (", ".join(each.sheets), Decimal(each.trainees), Decimal(each.cells), each.explanation)
            for each in report.mistakes
        ],
    )
    _write_table(
        workbook,
        "Not graded",
        "Files that could not be graded",
        ("File", "Why, and what to do"),
        (44, 100),
        report.not_graded,
    )
    return to_bytes(workbook)


def _order(report: ClassReport) -> str:
    return (
        "the hardest first" if report.tells_of_class else f"in the order of the sheets (fewer than {FEWEST} handed in)"
    )


def _write_roll(workbook: Workbook, report: ClassReport) -> None:
    sheet = workbook.create_sheet("Results")
    titles = [SECTIONS[section].title for section in report.sections]
    widths = [*_ROLL_WIDTHS, *(max(10, len(each) + 4) for each in titles), 40]
    set_widths(sheet, widths)
    put(sheet, 1, 1, f"Results   ({report.title})", "title")
    put(sheet, 2, 1, f"Passed from {report.pass_mark} per cent. Marks by sheet stand on the right.", "note")
    put_row(sheet, 4, (*_ROLL, *titles, "Notices"), "column")
    sheet.row_dimensions[4].height = 30
    for row, grade in enumerate(report.lines, 5):
        trainee = grade.trainee
        who = (trainee.id, trainee.name, trainee.group, str(trainee.attempt), grade.lab)
        put_row(sheet, row, map(harmless, who), "given")
        column = len(who) + 1
        marked = grade.marked
        if marked is None:
            put_row(sheet, row, (grade.absence, *[""] * (len(titles) + 4)), "neutral", column=column)
            continue
        numbers = [grade.marks, marked.out_of, grade.percent]
        _put_numbers(sheet, row, column, numbers)
        passed = grade.percent >= report.pass_mark
        put(sheet, row, column + 3, "\u2713 passed" if passed else "\u2717 not passed", "right" if passed else "wrong")
        by_section = {section.section: section.marks for section in marked.sections}
        _put_numbers(sheet, row, column + 4, [by_section.get(section, Decimal(0)) for section in report.sections])
        notices = harmless(" ".join(grade.notices))
        put(sheet, row, len(widths), notices, "neutral")
        sheet.row_dimensions[row].height = max(17, text_height(notices, widths[-1]))
    sheet.freeze_panes = "C5"
    set_up_page(sheet, f"Results {report.title}", landscape=True, head_rows=(1, 4))


def _put_numbers(sheet: Worksheet, row: int, column: int, numbers: Sequence[Decimal]) -> None:
    """Numbers as numbers, so that the instructor can reckon with them."""
    for place, number in enumerate(numbers, column):
        cell = put(sheet, row, place, "", "number")
        cell.value = Decimal(shown(number))
        cell.number_format = "0.###"


def _write_table(
    workbook: Workbook,
    name: str,
    title: str,
    headings: Sequence[str],
    widths: Sequence[float],
    rows: Sequence[Sequence[str | Decimal]],
) -> None:
    sheet = workbook.create_sheet(name)
    set_widths(sheet, widths)
    put(sheet, 1, 1, title, "title")
    put_row(sheet, 3, headings, "column")
    for row, values in enumerate(rows, 4):
        for column, value in enumerate(values, 1):
            if isinstance(value, Decimal):
                _put_numbers(sheet, row, column, [value])
            else:
                put(sheet, row, column, harmless(value), "neutral")
        heights = (text_height(str(value), width) for value, width in zip(values, widths, strict=True))
        sheet.row_dimensions[row].height = max(17, *heights)
    if not rows:
        put(sheet, 4, 1, "none", "plain")
    sheet.freeze_panes = "A4"
    set_up_page(sheet, name, landscape=True, head_rows=(1, 3))
