"""Filling a handed-out workbook in, as a spreadsheet program would: for the demo, for whoever fills it in on a page, and to try
out our own reading.
"""

import warnings
from collections.abc import Mapping

from trainer.errors import UnreadableFile
from trainer.lab.form import CellRef
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.sheets.cell_names import cell_place
from trainer.sheets.openpyxl_file import with_texts
from trainer.sheets.placement import cell_places

__all__ = ["fill_in", "type_into"]


def fill_in(workbook: bytes, scenario: Scenario, texts: Mapping[CellRef, str]) -> bytes:
    """The workbook with these texts in its answer cells. Open rows are called by their printed label."""
    typed = {
        (section.title, row, column): texts[cell]
        for section in (SECTIONS[section_id] for section_id in scenario.asked)
        for cell, (row, column) in cell_places(section, scenario).items()
        if cell in texts
    }
    return with_texts(workbook, typed)


def type_into(workbook: bytes, texts: Mapping[tuple[str, str], str]) -> bytes:
    """A workbook as somebody saved it with these texts in its cells, which are called by sheet and name, such as ("Subnets",
    "D7"). What else stands there stays.

    Raises UnreadableFile where that cannot be done.
    """
    try:
        with warnings.catch_warnings():  # of what the library misses in files of other programs, and does without
            warnings.simplefilter("ignore")
            return with_texts(workbook, {(sheet, *cell_place(name)): text for (sheet, name), text in texts.items()})
    except Exception as error:  # the library's own, of a file that another program wrote
        raise UnreadableFile(
            "Nothing can be written into it as it was saved. Open it in a spreadsheet program and save it as .xlsx again."
        ) from error
