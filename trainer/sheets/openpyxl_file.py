"""From a Book to the bytes of a file with openpyxl, cell by cell: the only module that knows how a workbook is written.

saving.py writes the same bytes faster: it has the frame of a file written here once, and fills in what differs.
The same book always gives the same bytes, and nothing says which library wrote it.
"""

import io
import re
import zipfile
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell as SavedCell
from openpyxl.compat import safe_string
from openpyxl.packaging.core import DocumentProperties
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.styles.cell_style import StyleArray
from openpyxl.utils.escape import escape
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter
from openpyxl.xml.functions import tostring

from trainer.sheets.book import Book, Cell, DropDown, PrintSetup, Sheet, Style
from trainer.sheets.cell_names import column_name
from trainer.sheets.cells import printable, writable
from trainer.sheets.packing import MODE, WHEN
from trainer.sheets.placement import NEVER_SAVED
from trainer.sheets.style import FONT, INK, LOOKS, THEME

__all__ = [
    "core_part",
    "footer_code",
    "number_code",
    "number_format",
    "unpacked",
    "with_texts",
    "written_cell_by_cell",
]

_A4 = 9
"""The format's number for that size of paper (ECMA-376 part 1, 18.3.1.63, from memory)."""
_LONGEST_FOOTER = 100
"""Characters of our footers; 255 is the most a file may hold, page numbers and doubled signs counted."""

_APP = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
    '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
    "<Application>hopsheet</Application></Properties>"
)


def written_cell_by_cell(book: Book) -> bytes:
    """The finished file."""
    workbook = _empty_workbook(book)
    styles = _Styles()
    for sheet in book.sheets:
        worksheet = workbook.create_sheet(sheet.name)
        _set_up(worksheet, sheet)
        _write_rows(worksheet, sheet, styles)
    for name, cell in book.defined_names:
        workbook.defined_names[name] = DefinedName(name, attr_text=cell)
    return _saved(workbook)


def with_texts(data: bytes, texts: Mapping[tuple[str, int, int], str]) -> bytes:
    """A workbook with these texts typed into its cells, which are called by sheet, row and column; "" empties one."""
    workbook = load_workbook(io.BytesIO(data))
    for (sheet, row, column), text in texts.items():
        cell = _cell(workbook[sheet], row, column)
        cell.value = None
        _set_value(cell, text)
    return _saved(workbook)


def core_part(book: Book) -> bytes:
    """The part with the book's title and its spare for the lab number."""
    tree: Any = _properties(book).to_tree()
    return _without_times(tostring(tree).decode()).encode()


def footer_code(words: str) -> str:
    """A sheet's footer as the file holds it, before XML's own signs are escaped."""
    before, after = _around_footer()
    return f"{before}{escape(_footer_words(words))}{after}"


@cache
def _around_footer() -> tuple[str, str]:
    """What stands before and behind a footer's words."""
    foot = HeaderFooterItem()
    _fill_footer(foot, "words")
    before, after = str(foot).split("words")
    return before, after


def number_code(value: float | Decimal) -> str:
    """A number as the file holds it."""
    return str(safe_string(value))


def unpacked(data: bytes) -> dict[str, bytes]:
    """The parts of a file of ours, in their order."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {info.filename: archive.read(info) for info in archive.infolist()}


# --- Cells ------------------------------------------------------------------------------------------------------------


class _Styles:
    """The styles of one workbook. Each is made once, which is what makes writing cheap."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Style, str], StyleArray] = {}
        """In the form in which openpyxl keeps them with a cell."""

    def apply(self, saved: SavedCell, cell: Cell) -> None:
        """Gives a cell its style.

        The first cell of a style gets it the public way; the others share what that left in the cell, which is a good
        deal cheaper (see tests/bench), and which nobody changes once the rows are written.
        """
        number = number_format(cell.value)
        kind = (cell.style, number)
        if kind in self._kept:
            saved._style = self._kept[kind]  # type: ignore[attr-defined]  # noqa: SLF001
            return
        # openpyxl refuses a second style of a name that the workbook has already.
        is_known = any(style is cell.style for style, _ in self._kept)
        saved.style = cell.style.value if is_known else _named_style(cell.style)
        if number:
            saved.number_format = number
        self._kept[kind] = saved._style  # type: ignore[attr-defined]  # noqa: SLF001


def number_format(value: str | Decimal) -> str:
    """One decimal is shown of a number that is written with decimals, be they zeros; the cell holds all of it."""
    if not isinstance(value, Decimal):
        return ""
    exponent = value.as_tuple().exponent
    return "0.0" if isinstance(exponent, int) and exponent < 0 else "0"


def _named_style(style: Style) -> NamedStyle:
    look = LOOKS[style]
    border = Border()
    if look.frame:
        side = Side(style=look.frame.weight, color=look.frame.colour)
        border = Border(left=side, right=side, top=side, bottom=side)
    indent = 1 if look.frame else 0
    return NamedStyle(
        name=style.value,
        font=Font(name=FONT, size=look.size, bold=look.is_bold, color=look.colour),
        fill=PatternFill("solid", start_color=look.fill, end_color=look.fill) if look.fill else PatternFill(),
        border=border,
        alignment=Alignment(wrap_text=look.wraps, horizontal=look.horizontal, vertical=look.vertical, indent=indent),
        number_format="@",
        protection=Protection(locked=look.is_locked),
    )


def _write_rows(worksheet: Worksheet, sheet: Sheet, styles: _Styles) -> None:
    for number, row in enumerate(sheet.rows, 1):
        if row.height is not None:
            worksheet.row_dimensions[number].height = row.height
        for column, cell in enumerate(row.cells, 1):
            saved = _cell(worksheet, number, column)
            _set_value(saved, cell.value)
            styles.apply(saved, cell)


def _cell(worksheet: Worksheet, row: int, column: int) -> SavedCell:
    cell = worksheet.cell(row, column)
    assert isinstance(cell, SavedCell), "nothing is merged in our workbooks"
    return cell


def _set_value(cell: SavedCell, value: str | Decimal) -> None:
    """Text that looks like a formula or an error value stays text; "" leaves the cell blank."""
    if isinstance(value, Decimal):
        cell.value = value
    elif value:
        cell.value = printable(value)
        cell.data_type = "s"


# --- What a sheet is like ---------------------------------------------------------------------------------------------


def _set_up(worksheet: Worksheet, sheet: Sheet) -> None:
    layout = sheet.layout
    for column, width in enumerate(layout.widths, 1):
        worksheet.column_dimensions[column_name(column)].width = width
    for drop_down in layout.drop_downs:
        worksheet.add_data_validation(_validation(drop_down))
    if layout.frozen_at:
        worksheet.freeze_panes = layout.frozen_at
    worksheet.sheet_view.showGridLines = False
    _set_up_pages(worksheet, layout.printing)
    foot = worksheet.oddFooter
    assert foot is not None
    _fill_footer(foot, sheet.footer)
    if layout.is_protected:
        worksheet.protection.enable()
        worksheet.protection.formatColumns = False
        worksheet.protection.formatRows = False
        worksheet.protection.formatCells = False


def _validation(drop_down: DropDown) -> DataValidation:
    validation = DataValidation(
        type="list",
        formula1='"' + ",".join(drop_down.choices) + '"',
        allow_blank=True,
        errorStyle="warning",
        showErrorMessage=True,
        errorTitle="Not in the list",
        error="Please choose one of the list.",
    )
    validation.add(drop_down.cells)
    return validation


def _set_up_pages(worksheet: Worksheet, printing: PrintSetup) -> None:
    setup = worksheet.page_setup
    setup.orientation = "landscape" if printing.is_landscape else "portrait"
    setup.paperSize = _A4
    setup.fitToWidth = printing.pages_wide
    setup.fitToHeight = printing.pages_high
    worksheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = worksheet.page_margins
    margins.left = margins.right = 0.5
    margins.top, margins.bottom, margins.footer = 0.5, 0.7, 0.3
    if printing.head_rows:
        first, last = printing.head_rows
        worksheet.print_title_rows = f"{first}:{last}"
    if printing.pages_wide > 1:
        worksheet.print_title_cols = "A:A"


def _fill_footer(foot: HeaderFooterItem, words: str) -> None:
    """Words on the left, page numbers on the right."""
    for part, text in ((foot.left, _footer_words(words)), (foot.right, "&P / &N")):
        part.text, part.size = text, 9


def _footer_words(words: str) -> str:
    """Without what openpyxl would take for a code of its own, such as &[Page]."""
    return writable(words)[:_LONGEST_FOOTER].replace("&[", "& [").replace("&", "&&")


# --- The file ---------------------------------------------------------------------------------------------------------


def _empty_workbook(book: Book) -> Workbook:
    """Without sheets, in our font and colours."""
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    _set_default_font(workbook)
    workbook.loaded_theme = THEME
    workbook.properties = _properties(book)
    return workbook


def _properties(book: Book) -> DocumentProperties:
    return DocumentProperties(creator="hopsheet", title=writable(book.title), identifier=book.identifier or None)


def _set_default_font(workbook: Workbook) -> None:
    """Makes our font the one of cells without a style, in place of the library's."""
    normal = workbook._named_styles["Normal"]  # type: ignore[attr-defined]  # noqa: SLF001
    normal.font = Font(name=FONT, size=10, color=INK)
    workbook._fonts[0] = normal.font  # type: ignore[attr-defined]  # noqa: SLF001


class _Package(zipfile.ZipFile):
    """A zip file with fixed times and with our own words about the program."""

    def writestr(self, zinfo_or_arcname: str | zipfile.ZipInfo, data: Any, *_: Any, **__: Any) -> None:
        name = zinfo_or_arcname if isinstance(zinfo_or_arcname, str) else zinfo_or_arcname.filename
        if name == "docProps/app.xml":
            data = _APP
        elif name == "docProps/core.xml":
            data = _without_times(data.decode() if isinstance(data, bytes) else data)
        info = zipfile.ZipInfo(name, WHEN)
        info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = MODE
        super().writestr(info, data)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **__: Any) -> None:
        self.writestr(str(arcname), Path(filename).read_bytes())


def _without_times(properties: str) -> str:
    """The part with the properties as if it was never saved; a time in a title stays."""
    return re.sub(r"(<dcterms:(?:created|modified)\b[^>]*>)[^<]*", rf"\g<1>{NEVER_SAVED}", properties)


def _saved(workbook: Workbook) -> bytes:
    out = io.BytesIO()
    ExcelWriter(workbook, _Package(out, "w", zipfile.ZIP_DEFLATED)).save()
    return out.getvalue()
