"""Writing single cells and setting up pages. Text is always text: nothing that is written becomes a formula or a number."""

import math
import re
import unicodedata
from collections.abc import Iterable, Sequence

from openpyxl.cell.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from trainer.sheets.style import dress

__all__ = ["LONGEST", "drop_down", "put", "put_row", "set_text", "set_up_page", "set_widths", "text_height"]

LONGEST = 2000
"""Characters of one cell; longer text is cut, with a mark that says so."""
_LONGEST_FOOTER = 100
"""Characters of our footers; 255 is the most a file may hold, page numbers and doubled signs counted."""
_LINE = 12.2
"""Height of a line of text in points: our font at 10 points has 11.64, whole pixels make 12 of it."""
_DEFAULT_HEIGHT = 12.8
"""Of a row that has none of its own, in points."""
_INSET = 3
"""What indent, borders and rounding take of a column's width."""
_NARROW = frozenset(" !'(),-./:;I[]\\fijlrt|")
_WIDE = frozenset("#%+<=>@MW^mw~\u00bd\u2026")
"""Characters of half and of one and a half times the width of a digit, which a column's width is counted in; measured in
our font, in which all others are about as wide as a digit.
"""
_A4 = (595, 842)
"""Points."""
_SMALLER = 0.8
"""What a sheet may be scaled down by to save it a page with a few rows."""


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
    text = text if len(text) <= LONGEST else text[: LONGEST - 1] + "\u2026"
    return re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)


def _may_stand(character: str) -> bool:
    return unicodedata.category(character) not in {"Cc", "Cs"} and character not in "\ufffe\uffff"


def set_widths(sheet: Worksheet, widths: Sequence[float]) -> None:
    for column, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(column)].width = width


def text_height(text: str, width: float) -> float:
    """The height in points that wrapped text needs in a column of that width; programs do not work it out by themselves.

    >>> text_height("", 20), text_height("Reading rooms 2", 20), text_height("Reading rooms 2", 15)
    (15.2, 15.2, 27.4)
    """
    lines = sum(_lines(line, max(1, width - _INSET)) for line in text.split("\n"))
    return round(lines * _LINE + 3, 1)


def _lines(text: str, width: float) -> int:
    """The lines that text fills, broken at blanks, and inside words that are longer than a line."""
    lines, used = 1, 0.0
    for word in text.split(" "):
        breadth = sum(map(_breadth, word))
        if used and used + breadth > width:
            lines, used = lines + 1, 0.0
        used += breadth
        full = max(0, math.ceil(used / width) - 1)
        lines, used = lines + full, used - full * width + _breadth(" ")
    return lines


def _breadth(character: str) -> float:
    """In digits of our font."""
    if character in _NARROW:
        return 0.6
    return 1.5 if character in _WIDE or unicodedata.east_asian_width(character) in "WF" else 1.0


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
    """One page wide, with a footer; one_page: as high, too. head_rows are repeated on every page.

    To be called when all rows are written: a sheet whose last page would hold a few rows only is made a little smaller.
    """
    sheet.sheet_view.showGridLines = False
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.paperSize = 9
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 1 if one_page else _pages_to_fit(sheet, landscape, head_rows or (1, 0))
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


def _pages_to_fit(sheet: Worksheet, landscape: bool, head_rows: tuple[int, int]) -> int:
    """The pages a sheet shall fit into: one less than it needs, where that makes it only a little smaller; 0 for any."""
    short, long = _A4
    across, down = (long, short) if landscape else (short, long)
    widths = (dimension.width for dimension in sheet.column_dimensions.values())
    scale = min(1.0, (across - 72) / sum(6 * width + 4 for width in widths))
    needed, fewer = (_pages(sheet, (down - 87) / (scale * smaller), head_rows) for smaller in (1, _SMALLER))
    return fewer if fewer < needed else 0


def _pages(sheet: Worksheet, height: float, head_rows: tuple[int, int]) -> int:
    """How many pages the rows fill that are so high, in points, when the head is repeated on each."""
    own = {row: dimension.height for row, dimension in sheet.row_dimensions.items() if dimension.height}
    heights = [own.get(row, _DEFAULT_HEIGHT) for row in range(1, sheet.max_row + 1)]
    head = sum(heights[head_rows[0] - 1 : head_rows[1]])
    pages, used = 1, 0.0
    for each in heights:
        if used and used + each > height:
            pages, used = pages + 1, head
        used += each
    return pages
