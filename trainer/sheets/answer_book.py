"""The trainee's workbook, and the key workbook, which is the same filled in."""

from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

from trainer.lab.brief import brief, given_tables
from trainer.lab.form import Answers, Section
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, Scenario, SectionShare
from trainer.sheets.cells import drop_down, put, put_row, set_up_page, set_widths, text_height
from trainer.sheets.identity import add_sheet
from trainer.sheets.placement import (
    BRIEF_SHEET,
    GIVEN_SHEET,
    HEAD_ROW,
    KEY_WORDS,
    LAB_NUMBER_NAME,
    cell_name,
    given_widths,
    place,
    shown_answers,
    width_of,
)
from trainer.sheets.saving import new_workbook, to_bytes

__all__ = ["write_answer_book", "write_key_book"]

_BRIEF_WIDTHS = (16, 100)
_GIVEN_WIDTHS = (28, 26, 26, 22, 18, 14)


def write_answer_book(scenario: Scenario, key: Answers) -> bytes:
    """The workbook that is handed out. Of the key only the sections that are given are in it."""
    return _write(scenario, key, is_key=False)


def write_key_book(scenario: Scenario, key: Answers) -> bytes:
    """The same workbook with every answer in its cell and the words ANSWER KEY in every title."""
    return _write(scenario, key, is_key=True)


def _write(scenario: Scenario, key: Answers, *, is_key: bool) -> bytes:
    title = f"{KEY_WORDS if is_key else ''}{scenario.exercise_code} {scenario.lab_number}"
    workbook = new_workbook(title, identifier=scenario.lab_number)
    writer = _Writer(workbook, scenario, key, is_key=is_key)
    writer.write_brief()
    writer.write_given()
    for share in scenario.sections:
        if share.asked is not Asked.NO:
            writer.write_section(SECTIONS[share.section], share)
    workbook.defined_names[LAB_NUMBER_NAME] = DefinedName(LAB_NUMBER_NAME, attr_text=f"{BRIEF_SHEET}!$B$2")
    return to_bytes(workbook)


class _Writer:
    """Writes the sheets of one workbook."""

    def __init__(self, workbook: Workbook, scenario: Scenario, key: Answers, *, is_key: bool) -> None:
        self._workbook = workbook
        self._scenario = scenario
        self._key = key
        self._is_key = is_key

    def write_brief(self) -> None:
        sheet = self._add_sheet(BRIEF_SHEET)
        set_widths(sheet, _BRIEF_WIDTHS)
        row = 4
        for part in brief(self._scenario):
            put(sheet, row, 1, part.title, "heading")
            for label, text in part.lines:
                row += 1
                put(sheet, row, 1, label, "label")
                put(sheet, row, 2, text, "text")
                sheet.row_dimensions[row].height = text_height(text, _BRIEF_WIDTHS[1]) + 2
            row += 1
            sheet.row_dimensions[row].height = 6
            row += 1
        self._finish(sheet, landscape=False, one_page=True)

    def write_given(self) -> None:
        sheet = self._add_sheet(GIVEN_SHEET)
        set_widths(sheet, _GIVEN_WIDTHS)
        row = 4
        for table in given_tables(self._scenario):
            put(sheet, row, 1, table.title, "heading")
            put_row(sheet, row + 1, table.headings, "column")
            for place_in_table, texts in enumerate(table.rows, row + 2):
                put_row(sheet, place_in_table, texts, "given")
            row += len(table.rows) + 3
        self._finish(sheet, landscape=False, one_page=True)

    def write_section(self, section: Section, share: SectionShare) -> None:
        sheet = self._add_sheet(section.title)
        counts = (
            f"Counts {share.share} of 100." if share.asked is Asked.YES else "Given: the right answers are printed."
        )
        put(sheet, 4, 1, f"{counts} {section.note}", "note")
        put_row(sheet, HEAD_ROW, (*section.given, *(question.heading for question in section.questions)), "column")
        sheet.row_dimensions[HEAD_ROW].height = 30
        where = place(section, self._scenario)
        for row, texts in enumerate(where.labels, HEAD_ROW + 1):
            put_row(sheet, row, texts, "given")
            sheet.row_dimensions[row].height = 17
        is_shown = self._is_key or share.asked is Asked.GIVEN
        shown = shown_answers(section, self._scenario, self._key) if is_shown else {}
        style = "key" if self._is_key else "given" if share.asked is Asked.GIVEN else "asked"
        for cell, (row, column) in where.cells.items():
            put(sheet, row, column, shown.get(cell, ""), style)
        self._add_drop_downs(sheet, section, len(where.labels))
        set_widths(sheet, [*given_widths(section, where.labels), *map(width_of, section.questions)])
        sheet.freeze_panes = f"B{HEAD_ROW + 1}"
        self._finish(sheet, landscape=True, head_rows=(1, HEAD_ROW))

    def _add_drop_downs(self, sheet: Worksheet, section: Section, rows: int) -> None:
        for column, question in enumerate(section.questions, len(section.given) + 1):
            choices = question.choices(self._scenario)
            if choices and rows:
                drop_down(sheet, choices, f"{cell_name(HEAD_ROW + 1, column)}:{cell_name(HEAD_ROW + rows, column)}")

    def _add_sheet(self, name: str) -> Worksheet:
        return add_sheet(self._workbook, self._scenario, name, kind=KEY_WORDS if self._is_key else "")

    def _finish(
        self,
        sheet: Worksheet,
        *,
        landscape: bool,
        one_page: bool = False,
        head_rows: tuple[int, int] | None = None,
    ) -> None:
        scenario = self._scenario
        words = KEY_WORDS if self._is_key else ""
        footer = f"{words}{scenario.exercise_code}   {scenario.lab_number}   {scenario.trainee.id}   {sheet.title}"
        set_up_page(sheet, footer, landscape=landscape, one_page=one_page, head_rows=head_rows)
        sheet.protection.enable()
        sheet.protection.formatColumns = False
        sheet.protection.formatRows = False
        sheet.protection.formatCells = False
