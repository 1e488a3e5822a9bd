"""Writing single cells and setting up pages. Text is always text: nothing that is written becomes a formula or a number."""

import re
import unicodedata
from collections.abc import Iterable, Sequence

from openpyxl.cell.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from trainer.sheets.style import dress

__all__ = ["drop_down", "put", "put_row", "set_text", "set_up_page", "set_widths", "text_height"]

_LONGEST = 2000
"""Characters of one cell; longer text is cut, with a mark that says so."""
_LONGEST_FOOTER = 100
"""Characters of our footers; 255 is the most a file may hold, page numbers and doubled signs counted."""
_CHARACTERS_A_COLUMN = 1.1
"""Of running text, in our font at 10 points; a little less than measured, so that nothing is cut off."""
_LINE = 13.5
"""Height of a line of text, in points."""


def put(sheet: Worksheet, row: int, column: int, text: str, style: str) -> Cell:
    """Writes text into a cell. Text that looks like a formula or an error value stays text."""
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell), "nothing is merged in our workbooks"
    set_text(cell, text)
    dress(cell, style)
    return cell


def set_text(cell: Cell, text: str) -> None:
    """Gives a cell its text, whatever it looks like; "" leaves it blank."""
    if text:
        cell.value = _printable(text)
        cell.data_type = "s"


def put_row(sheet: Worksheet, row: int, texts: Iterable[str], style: str, column: int = 1) -> None:
    for place, text in enumerate(texts, column):
        put(sheet, row, place, text, style)


def _printable(text: str) -> str:
    """Without the characters that no XML document may hold: control characters, lone surrogates, U+FFFE and U+FFFF.

    A text that looks like the format's own escape, _x0041_, is escaped itself (ECMA-376 part 1, 22.9.2.19, from memory).
    """
    if not text.isprintable():
        text = "".join(each if each == "\n" or _may_stand(each) else " " for each in text)
    text = text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "\u2026"
    return re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)


def _may_stand(character: str) -> bool:
    return unicodedata.category(character) not in {"Cc", "Cs"} and character not in "\ufffe\uffff"


def set_widths(sheet: Worksheet, widths: Sequence[float]) -> None:
    for column, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(column)].width = width


def text_height(text: str, width: float) -> float:
    """The height in points that wrapped text needs in a column of that width; programs do not work it out by themselves."""
    lines = sum(max(1, -(-len(line) // max(1, int(width * _CHARACTERS_A_COLUMN)))) for line in text.split("\n"))
    return lines * _LINE + 2


def drop_down(sheet: Worksheet, choices: Sequence[str], cells: str) -> None:
    """A list to choose from; other text is allowed after a warning, so that nobody is locked out of a cell."""
    validation = DataValidation(
        type="list",
        formula1='"' + ",".join(choices) + '"',
        allow_blank=True,
        errorStyle="warning",
        showErrorMessage=True,
        errorTitle="Not in the list",
        error="Please choose one of the list.",
    )
    validation.add(cells)
    sheet.add_data_validation(validation)


def set_up_page(
    sheet: Worksheet,
    footer: str,
    *,
    landscape: bool,
    one_page: bool = False,
    head_rows: tuple[int, int] | None = None,
) -> None:
    """One page wide, with a footer; one_page: as high, too. head_rows are repeated on every page."""
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = 9
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 1 if one_page else 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.5
    margins.top, margins.bottom, margins.footer = 0.5, 0.7, 0.3
    foot = sheet.oddFooter
    assert foot is not None
    for part, text in ((foot.left, footer[:_LONGEST_FOOTER].replace("&", "&&")), (foot.right, "&P / &N")):
        part.text, part.size = text, 9
    if head_rows:
        sheet.print_title_rows = f"{head_rows[0]}:{head_rows[1]}"
