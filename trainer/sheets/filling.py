"""Filling a handed-out workbook in, as a spreadsheet program would: for the demo, and to try out our own reading."""

import io
from collections.abc import Mapping

from openpyxl import load_workbook
from openpyxl.cell.cell import Cell

from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.sheets.cells import set_text
from trainer.sheets.placement import place
from trainer.sheets.saving import to_bytes

__all__ = ["fill_in"]


def fill_in(workbook: bytes, scenario: Scenario, texts: Mapping[CellRef, str]) -> bytes:
    """The workbook with these texts in its answer cells. Open rows are called by their printed label."""
    book = load_workbook(io.BytesIO(workbook))
    for section_id in scenario.asked:
        section = SECTIONS[section_id]
        sheet = book[section.title]
        for cell, (row, column) in place(section, scenario).cells.items():
            if cell in texts:
                answer = sheet.cell(row, column)
                assert isinstance(answer, Cell)
                answer.value = None
                set_text(answer, texts[cell])
    return to_bytes(book)
