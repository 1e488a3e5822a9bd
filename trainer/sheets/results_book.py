"""The results workbook: one line a trainee, then the hardest questions and the commonest mistakes.

Names and what trainees wrote are text in it, and made harmless all the same: saved as CSV and opened again, they would
become formulas.
"""

from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.marking.marks import exact
from trainer.results.class_report import FEWEST, ClassReport
from trainer.results.csv_text import harmless
from trainer.results.grades import MistakeCount, TraineeGrade
from trainer.sheets.book import Book, Cell, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cells import text_height
from trainer.sheets.paging import print_setup
from trainer.sheets.saving import to_bytes
from trainer.sheets.table_sheet import marks_cells, table_sheet

__all__ = ["results_book", "write_results_book"]

_ROLL = ("Id", "Name", "Group", "Attempt", "Lab number", "Marks", "Out of", "Per cent", "Passed")
_ROLL_WIDTHS = (10, 24, 10, 11, 12, 14, 9, 9, 14)
_WORKS_WIDTH = 34
_NOTICES_WIDTH = 40


def write_results_book(report: ClassReport) -> bytes:
    """The file of results_book."""
    return to_bytes(results_book(report))


def results_book(report: ClassReport) -> Book:
    """The workbook for the instructor."""
    questions = table_sheet(
        "Questions",
        f"Questions, {_order(report)}: marks earned, of those to be had, by all who handed in",
        ("Sheet", "Question", "Per cent"),
        (18, 34, 12),
        [(each.section, each.heading, each.per_cent) for each in report.questions],
    )
    mistakes = table_sheet(
        "Mistakes",
        "Mistakes, the commonest first",
        ("Sheet", "Trainees", "Cells", "What was said, for instance", "Who"),
        (34, 12, 10, 70, 40),
        [
            (", ".join(each.sheets), Decimal(each.trainees), Decimal(each.cells), each.explanation, _makers(each))
            for each in report.mistakes
        ],
    )
    missing = table_sheet(
        "Missing rows",
        "Rows that were not written, as decisions call them; trainees do not see these names unless they see answers",
        ("Trainee", "Sheet", "Row", "Name"),
        (14, 18, 34, 30),
        [(each.trainee, SECTIONS[each.section].title, each.row, each.name) for each in report.missing],
    )
    not_graded = table_sheet(
        "Not graded",
        "Files that could not be graded",
        ("File", "Why, and what to do"),
        (44, 100),
        report.not_graded,
    )
    return Book(title=f"Results {report.title}", sheets=(_roll_sheet(report), questions, mistakes, missing, not_graded))


def _makers(mistake: MistakeCount) -> str:
    return ", ".join(" ".join(filter(None, (who.id, who.name))) for _, who in mistake.made_by)


def _order(report: ClassReport) -> str:
    return (
        "the hardest first" if report.tells_of_class else f"in the order of the sheets (fewer than {FEWEST} handed in)"
    )


def _roll_sheet(report: ClassReport) -> Sheet:
    titles = [*(SECTIONS[section].title for section in report.sections), *map(harmless, report.parts)]
    must = f", where so much works: {report.must_work.words}" if report.must_work else ""
    note = f"Passed from {report.pass_mark} per cent{must}. Marks by sheet stand on the right."
    rows = (
        Row((Cell(f"Results   ({report.title})", Style.TITLE),)),
        Row((Cell(note, Style.NOTE),)),
        Row(),
        Row(cells_of((*_ROLL, *titles, "What works", "Notices"), Style.COLUMN), height=30),
        *(_roll_row(report, grade) for grade in report.lines),
    )
    widths = (*_ROLL_WIDTHS, *(max(10, len(each) + 4) for each in titles), _WORKS_WIDTH, _NOTICES_WIDTH)
    printing = print_setup(rows, widths, landscape=True, head_rows=(1, 4))
    layout = Layout(widths=widths, printing=printing, frozen_at="C5")
    return Sheet(name="Results", layout=layout, rows=rows, footer=f"Results {report.title}")


def _roll_row(report: ClassReport, grade: TraineeGrade) -> Row:
    trainee, marked = grade.trainee, grade.marked
    who = (trainee.id, trainee.name, trainee.group, str(trainee.attempt), grade.lab)
    cells = cells_of(map(harmless, who), Style.GIVEN)
    if marked is None:
        # Without marks: those of who hands nothing in are not 0.
        given = [exact(each.marks) if each else "" for each in map(grade.by_hand, report.parts)]
        texts = (grade.absence, *[""] * (len(report.sections) + 3), *given, "", harmless(" ".join(grade.notices)))
        return Row((*cells, *cells_of(texts, Style.NEUTRAL)))
    by_section = {section.section: section.marks for section in marked.sections}
    works = grade.works.line if grade.works else "not tried"
    notices = harmless(" ".join(grade.notices))
    return Row(
        (
            *cells,
            *marks_cells((grade.marks, marked.out_of, grade.percent)),
            Cell("\u2713 passed", Style.RIGHT) if report.has_passed(grade) else Cell("\u2717 not passed", Style.WRONG),
            *marks_cells(by_section.get(section, Decimal(0)) for section in report.sections),
            *(
                marks_cells([each.marks])[0] if each else Cell("", Style.NEUTRAL)
                for each in map(grade.by_hand, report.parts)
            ),
            Cell(works, Style.NEUTRAL),
            Cell(notices, Style.NEUTRAL),
        ),
        height=max(17, text_height(notices, _NOTICES_WIDTH), text_height(works, _WORKS_WIDTH)),
    )
