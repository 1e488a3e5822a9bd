"""Workbooks as other programs write them: a small model of one, and a writer that can write the same in many ways."""

import copy
import io
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from xml.sax.saxutils import escape, quoteattr

from openpyxl.utils import column_index_from_string, get_column_letter

from trainer.sheets.intake import ReturnedBook

__all__ = ["DATE", "ELAPSED", "PERCENT", "TEXT", "TIME", "Book", "Raw", "Sheet", "of_returned", "parts_of", "zipped"]

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
CORE = "http://schemas.openxmlformats.org/package/2006/metadata/core-properties"
STRICT_MAIN = "http://purl.oclc.org/ooxml/spreadsheetml/main"
STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"

TEXT, DATE, TIME, PERCENT, ELAPSED = "1", "2", "3", "4", "5"
"""Numbers of cell formats in the styles that are written."""

Parts = dict[str, str | bytes]


@dataclass(frozen=True)
class Raw:
    """A cell as it stands in the file: element `c` with what is in it."""

    inner: str
    kind: str = "n"
    style: str = "0"


@dataclass
class Sheet:
    """One sheet: what stands in its cells, by row and column from 1."""

    name: str
    cells: dict[tuple[int, int], str | Raw]
    merges: list[str] = field(default_factory=list)
    state: str = "visible"
    rest: str = ""
    """XML behind the cells."""

    def __getitem__(self, name: str) -> str | Raw:
        return self.cells[_position(name)]

    def __setitem__(self, name: str, value: str | Raw) -> None:
        self.cells[_position(name)] = value

    def __delitem__(self, name: str) -> None:
        self.cells.pop(_position(name), None)

    def text(self, name: str) -> str:
        value = self[name]
        assert isinstance(value, str)
        return value

    def move(self, where: Callable[[int, int], tuple[int, int] | None]) -> None:
        """Puts every cell to its new row and column, or takes it away."""
        moved = ((where(*place), value) for place, value in self.cells.items())
        self.cells = {place: value for place, value in moved if place is not None}


@dataclass
class Book:
    """A workbook."""

    sheets: list[Sheet]
    identifier: str
    named_cell: str = "Brief!$B$2"
    extra: Parts = field(default_factory=dict)
    """Further parts."""
    arrows: list[tuple[str, str, str]] = field(default_factory=list)
    """Further relationships of the workbook: id, kind, target."""

    def __getitem__(self, name: str) -> Sheet:
        return next(sheet for sheet in self.sheets if sheet.name == name)

    def copied(self) -> "Book":
        return copy.deepcopy(self)

    def copy_sheet(self, name: str, new: str) -> Sheet:
        sheet = copy.deepcopy(self[name])
        sheet.name = new
        self.sheets.append(sheet)
        return sheet


def of_returned(book: ReturnedBook) -> Book:
    """What was read, to be changed and written again."""
    sheets = [
        Sheet(name=sheet.name, cells={place: cell.text for place, cell in sheet.cells.items()}) for sheet in book.sheets
    ]
    return Book(sheets=sheets, identifier=book.properties.identifier)


def parts_of(book: Book, *, shared: bool = True, references: bool = True) -> Parts:
    """The parts of the file. shared: texts in a table of their own; references: cells say where they are."""
    strings: dict[str, int] = {}
    sheets = {
        f"xl/worksheets/sheet{number}.xml": _sheet_xml(sheet, strings if shared else None, references=references)
        for number, sheet in enumerate(book.sheets, 1)
    }
    arrows = [(f"s{number}", "worksheet", f"worksheets/sheet{number}.xml") for number in range(1, len(book.sheets) + 1)]
    entries = "".join(
        f'<sheet name={quoteattr(sheet.name)} sheetId="{number}" state="{sheet.state}" r:id="s{number}"/>'
        for number, sheet in enumerate(book.sheets, 1)
    )
    name = f'<definedName name="lab_number">{escape(book.named_cell)}</definedName>' if book.named_cell else ""
    identifier = f"<dc:identifier>{escape(book.identifier)}</dc:identifier>" if book.identifier else ""
    parts: Parts = {
        "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>',
        "_rels/.rels": _relationships(
            ("r1", "officeDocument", "xl/workbook.xml"), ("r2", "metadata/core-properties", "docProps/core.xml")
        ),
        "docProps/core.xml": f'<coreProperties xmlns="{CORE}" xmlns:dc="http://purl.org/dc/elements/1.1/">{identifier}</coreProperties>',
        "xl/workbook.xml": (
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>{entries}</sheets>'
            f"<definedNames>{name}</definedNames></workbook>"
        ),
        "xl/_rels/workbook.xml.rels": _relationships(
            *arrows, ("t", "sharedStrings", "sharedStrings.xml"), ("f", "styles", "styles.xml"), *book.arrows
        ),
        **sheets,
        "xl/styles.xml": _STYLES,
        **book.extra,
    }
    texts = "".join(f'<si><t xml:space="preserve">{_escaped(text)}</t></si>' for text in strings)
    parts["xl/sharedStrings.xml"] = f'<sst xmlns="{MAIN}">{texts}</sst>'
    return parts


def zipped(parts: Mapping[str, str | bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


_STYLES = (
    f'<styleSheet xmlns="{MAIN}"><numFmts><numFmt numFmtId="170" formatCode="dd/mm/yyyy"/></numFmts><cellXfs>'
    + "".join(f'<xf numFmtId="{number}"/>' for number in (0, 49, 170, 21, 9, 46))
    + "</cellXfs></styleSheet>"
)


def _relationships(*arrows: tuple[str, str, str]) -> str:
    lines = "".join(f'<Relationship Id="{i}" Type="{OFFICE}/{kind}" Target="{target}"/>' for i, kind, target in arrows)
    return f'<Relationships xmlns="{PACKAGE}">{lines}</Relationships>'


def _sheet_xml(sheet: Sheet, strings: dict[str, int] | None, *, references: bool) -> str:
    rows: dict[int, list[str]] = {}
    for (row, column), value in sorted(sheet.cells.items()):
        cells = rows.setdefault(row, [])
        if not references:
            cells += ["<c/>"] * (column - 1 - len(cells))
        where = f' r="{get_column_letter(column)}{row}"' if references else ""
        cells.append(_cell_xml(value, where, strings))
    lines = "".join(f'<row r="{row}">{"".join(cells)}</row>' for row, cells in rows.items())
    merges = "".join(f'<mergeCell ref="{each}"/>' for each in sheet.merges)
    return f'<worksheet xmlns="{MAIN}"><sheetData>{lines}</sheetData><mergeCells>{merges}</mergeCells>{sheet.rest}</worksheet>'


def _cell_xml(value: str | Raw, where: str, strings: dict[str, int] | None) -> str:
    if isinstance(value, Raw):
        return f'<c{where} s="{value.style}" t="{value.kind}">{value.inner}</c>'
    if strings is None:
        return f'<c{where} s="{TEXT}" t="inlineStr"><is><t xml:space="preserve">{_escaped(value)}</t></is></c>'
    return f'<c{where} s="{TEXT}" t="s"><v>{strings.setdefault(value, len(strings))}</v></c>'


def _escaped(text: str) -> str:
    return escape(text).replace("\r", "_x000D_")


def _position(name: str) -> tuple[int, int]:
    letters = name.rstrip("0123456789")
    return int(name[len(letters) :]), column_index_from_string(letters)
