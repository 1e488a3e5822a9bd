"""Filling a handed-out workbook in, as a spreadsheet program would: for the demo, and to try out our own reading."""

from collections.abc import Mapping

from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.sheets.openpyxl_file import with_texts
from trainer.sheets.placement import cell_places

__all__ = ["fill_in"]


def fill_in(workbook: bytes, scenario: Scenario, texts: Mapping[CellRef, str]) -> bytes:
    """The workbook with these texts in its answer cells. Open rows are called by their printed label."""
    typed = {
        (section.title, row, column): texts[cell]
        for section in (SECTIONS[section_id] for section_id in scenario.asked)
        for cell, (row, column) in cell_places(section, scenario).cells.items()
        if cell in texts
    }
    return with_texts(workbook, typed)
