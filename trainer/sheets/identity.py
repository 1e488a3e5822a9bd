"""The head of a sheet: what it is, of which lab, and whose. It stands on every sheet, because every other place gets lost."""

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trainer.lab.scenario import Scenario
from trainer.sheets.cells import put
from trainer.sheets.placement import LAB_LABEL, TRAINEE_LABEL

__all__ = ["add_sheet"]


def add_sheet(workbook: Workbook, scenario: Scenario, name: str, *, kind: str) -> Worksheet:
    """A new sheet with its head in rows 1 to 3. kind: words in front of the name, such as "Marked - "; "" for none."""
    sheet: Worksheet = workbook.create_sheet(name)
    put(sheet, 1, 1, f"{kind}{name}   ({scenario.exercise_code}, {scenario.title})", "title")
    put(sheet, 2, 1, LAB_LABEL, "identity")
    put(sheet, 2, 2, scenario.lab_number, "identity")
    put(sheet, 3, 1, TRAINEE_LABEL, "identity")
    put(sheet, 3, 2, f"{scenario.trainee.id}  {scenario.trainee.name}".strip(), "plain")
    sheet.row_dimensions[1].height = 22
    return sheet
