"""The reader of returned workbooks: what each kind of cell gives, what is refused in which words, and what it survives."""

import io
import re
import struct
import time
import tracemalloc
import zipfile
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from datetime import time as clock_time
from typing import Any

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.styles import NamedStyle
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.workbook.defined_name import DefinedName

from trainer.errors import UnreadableFile
from trainer.sheets import intake, package, returned_cells
from trainer.sheets.intake import ReturnedBook, ReturnedCell, Trouble, read_book

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
CORE = "http://schemas.openxmlformats.org/package/2006/metadata/core-properties"
STRICT_MAIN = "http://purl.oclc.org/ooxml/spreadsheetml/main"
STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"

SAVE_A_COPY = "Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy."
ASK_AGAIN = "Ask for the file again."
ASK_FOR_WORKBOOK = "Ask for the workbook itself, saved as .xlsx."
ASK_FOR_OURS = "Ask for the workbook that was handed out."


# --- Files to read ----------------------------------------------------------------------------------------------------


def zipped(parts: Mapping[str, str | bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


def relationships(*arrows: tuple[str, str, str]) -> str:
    lines = "".join(f'<Relationship Id="{i}" Type="{OFFICE}/{kind}" Target="{target}"/>' for i, kind, target in arrows)
    return f'<Relationships xmlns="{PACKAGE}">{lines}</Relationships>'


def worksheet(rows: str = "", rest: str = "") -> str:
    return f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData>{rest}</worksheet>'


def parts_by_hand(rows: str = "", rest: str = "") -> dict[str, str | bytes]:
    """The parts of a workbook with one sheet, written out, so that a test can spoil any of them."""
    return {
        "[Content_Types].xml": "<Types/>",
        "_rels/.rels": relationships(
            ("r1", "officeDocument", "xl/workbook.xml"), ("r2", "metadata/core-properties", "docProps/core.xml")
        ),
        "docProps/core.xml": (
            f'<coreProperties xmlns="{CORE}" xmlns:dc="http://purl.org/dc/elements/1.1/">'
            "<dc:creator>somebody</dc:creator><dc:identifier>LAB-7</dc:identifier>"
            "<t:modified xmlns:t='http://purl.org/dc/terms/'>2026-03-12T11:00:00Z</t:modified></coreProperties>"
        ),
        "xl/workbook.xml": (
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}">'
            '<sheets><sheet name="Subnets" sheetId="1" r:id="s1"/></sheets></workbook>'
        ),
        "xl/_rels/workbook.xml.rels": relationships(
            ("s1", "worksheet", "worksheets/sheet1.xml"),
            ("t", "sharedStrings", "sharedStrings.xml"),
            ("f", "styles", "/xl/styles.xml"),
        ),
        "xl/worksheets/sheet1.xml": worksheet(rows, rest),
        "xl/sharedStrings.xml": (
            f'<sst xmlns="{MAIN}"><si><t>10.10.0.0</t></si>'
            "<si><r><t>10.20</t></r><r><t>.0.0</t></r><rPh><t>reading aid</t></rPh></si>"
            "<si><t>a_x000D_&#10;b_x0007_</t></si><si><t/></si></sst>"
        ),
        "xl/styles.xml": (
            f'<styleSheet xmlns="{MAIN}"><numFmts><numFmt numFmtId="170" formatCode="dd/mm/yyyy"/></numFmts>'
            '<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs>'
            '<cellXfs><xf numFmtId="0"/><xf numFmtId="170"/><xf numFmtId="20"/><xf numFmtId="10"/><xf numFmtId="46"/>'
            '</cellXfs><dxfs><dxf><numFmt numFmtId="0" formatCode="yyyy"/></dxf></dxfs></styleSheet>'
        ),
    }


def by_hand(rows: str = "", rest: str = "", **changed: str | bytes | None) -> bytes:
    """A workbook; `changed` replaces parts by the last word of their name, None leaves one out."""
    parts = parts_by_hand(rows, rest)
    for word, content in changed.items():
        name = next(name for name in parts if word in re.split(r"[./\[\]]", name) and not name.endswith(".rels"))
        if content is None:
            del parts[name]
        else:
            parts[name] = content
    return zipped(parts)


def with_openpyxl(values: Mapping[str, Any], formats: Mapping[str, str] | None = None) -> bytes:
    book = openpyxl.Workbook()
    for reference, value in values.items():
        book.active[reference] = value
    for reference, code in (formats or {}).items():
        book.active[reference].number_format = code
    return saved(book)


def saved(book: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def only_cell(data: bytes) -> ReturnedCell | None:
    """The cell B5 of a book in which nothing else is filled in."""
    sheet = read_book(data).sheets[0]
    assert set(sheet.cells) <= {(5, 2)}
    return sheet.cells.get((5, 2))


def cell_by_hand(xml: str) -> ReturnedCell | None:
    return only_cell(by_hand(f'<row r="5">{xml}</row>'))


def refusal(data: bytes) -> str:
    with pytest.raises(UnreadableFile) as caught:
        read_book(data)
    return str(caught.value)


def a_lab() -> openpyxl.Workbook:
    """About what is handed out: eleven sheets, styled tables, merged titles, numbers and texts."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    book.add_named_style(NamedStyle("answer", number_format="@"))
    for number in range(11):
        sheet = book.create_sheet(f"Section {number}")
        sheet["A1"] = f"Section {number}"
        sheet.merge_cells("A1:F1")
        sheet["A2"] = "A long sentence that says how to fill in this sheet."
        for row in range(4, 20):
            sheet.cell(row, 1, row)
            sheet.cell(row, 2, f"VLAN {row}")
            for column in range(3, 9):
                cell = sheet.cell(row, column, f"10.{number}.{row}.{column}" if row < 14 else None)
                cell.style = "answer"
    return book


# --- One cell ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("10.10.0.0", "10.10.0.0"),
        ("24", "24"),
        ("010", "010"),
        ("  a b ", "  a b "),
        (" ", " "),
        ("\xa010.0.0.1", "\xa010.0.0.1"),
        ("two\nlines\tand a tab", "two\nlines\tand a tab"),
        ("１０．０", "１０．０"),
        ("\U0001f600", "\U0001f600"),
        ("'24", "'24"),
        (24, "24"),
        (0, "0"),
        (-24, "-24"),
        (24.0, "24"),
        (10.1, "10.1"),
        (0.1 + 0.2, "0.3"),
        (10.00000000000004, "10"),
        (0.00001, "0.00001"),
        (2e30, "2E+30"),
        (1.5e308, "1.5E+308"),
        (1e-300, "1E-300"),
        (28.0000000001, "28"),
        (-27.9999999999, "-28"),
        (0.9999999999, "1"),
        (28.00000001, "28.00000001"),
        (3232235777.5, "3232235777.5"),
        (0.0000000001, "1E-10"),
    ],
)
def test_text_or_number_is_taken_as_a_person_reads_it(value: object, text: str) -> None:
    assert only_cell(with_openpyxl({"B5": value})) == ReturnedCell(text=text)


@pytest.mark.parametrize(
    ("value", "code", "text", "trouble"),
    [
        (date(2026, 1, 24), "dd/mm/yyyy", "2026-01-24", Trouble.DATE),
        (datetime.fromisoformat("2026-01-24 08:30"), "d mmm yy hh:mm", "2026-01-24 08:30:00", Trouble.DATE),
        (46046, "mmm", "2026-01-24", Trouble.DATE),
        (46046, "[$-409]d-mmm;@", "2026-01-24", Trouble.DATE),
        (10, "d/m", "1900-01-10", Trouble.DATE),
        (1, "d/m", "1900-01-01", Trouble.DATE),
        (0, "d/m", "1900-01-00", Trouble.DATE),
        (59, "d/m", "1900-02-28", Trouble.DATE),
        (60, "d/m", "1900-02-29", Trouble.DATE),
        (61, "d/m", "1900-03-01", Trouble.DATE),
        (2958465, "d/m", "9999-12-31", Trouble.DATE),
        (2958466, "d/m", "2958466", Trouble.DATE),
        (-3, "d/m", "-3", Trouble.DATE),
        (clock_time(0, 10, 20), "h:mm:ss", "00:10:20", Trouble.TIME),
        (clock_time(8), "h:mm AM/PM", "08:00:00", Trouble.TIME),
        (1.5, "h:mm", "12:00:00", Trouble.TIME),
        (46046, "[<100]0;dd/mm/yyyy", "2026-01-24", Trouble.DATE),
        (46046, "[$-411]ge.m.d", "2026-01-24", Trouble.DATE),
        (46046, "[$-411]e", "2026-01-24", Trouble.DATE),
        (46046, "aaaa", "2026-01-24", Trouble.DATE),
        (46046, "TT.MM.JJJJ", "2026-01-24", Trouble.DATE),
        (46046, "bbbb", "2026-01-24", Trouble.DATE),
        (46046, "[$-F800]dddd\\,\\ mmmm\\ dd", "2026-01-24", Trouble.DATE),
        (46046, "ว/ด/ปปปป", "2026-01-24", Trouble.DATE),
        (0.5, "ชช:นน", "12:00:00", Trouble.TIME),
        (timedelta(hours=24), "[h]:mm:ss", "24:00:00", Trouble.TIME),
        (1.5, "[HH]:mm", "36:00:00", Trouble.TIME),
        (-1.5, "[hh]:mm", "-1.5", Trouble.TIME),
        (0.24, "0%", "24%", Trouble.PERCENT),
        (0.07, "0.00%", "7%", Trouble.PERCENT),
        (0.245, "0.0%", "24.5%", Trouble.PERCENT),
        (True, "General", "TRUE", Trouble.TRUTH_VALUE),
        (False, "General", "FALSE", Trouble.TRUTH_VALUE),
        ("#N/A", "General", "#N/A", Trouble.ERROR_VALUE),
        ("#NAME?", "General", "#NAME?", Trouble.ERROR_VALUE),
        ("=A1+1", "General", "=A1+1", Trouble.NO_RESULT),
    ],
)
def test_cell_that_is_no_typed_text_says_why(value: object, code: str, text: str, trouble: Trouble) -> None:
    cell = only_cell(with_openpyxl({"B5": value}, {"B5": code}))
    assert cell == ReturnedCell(text=text, trouble=trouble, is_formula=trouble is Trouble.NO_RESULT)


@pytest.mark.parametrize(
    "code",
    [
        "General",
        "@",
        "0.00",
        "#,##0.00",
        "0.00E+00",
        '0" days"',
        '"hours" 0',
        "[Red]0",
        "[$usd-409] 0",
        "0\\d",
        "0_d",
        "*s0",
        "0;dd/mm/yyyy",
        "[<100]0;0.00",
        '[>100]0;"d;m;y"0',
        "Standard",
        '0"%"',
        "# ?/?",
        '0"open quote d',
        "0[open bracket d",
        "0\\",
    ],
)
def test_format_of_a_plain_number_leaves_it_alone(code: str) -> None:
    assert only_cell(with_openpyxl({"B5": 24}, {"B5": code})) == ReturnedCell(text="24")


@pytest.mark.parametrize(
    ("ids", "trouble"),
    [
        ((0, 1, 4, 11, 12, 13, 37, 40, 44, 48, 49, 200), None),
        ((9, 10, 67, 68), Trouble.PERCENT),
        ((14, 15, 16, 17, 22, 27, 31, 36, 50, 58, 71, 72, 73, 74, 77, 81), Trouble.DATE),
        ((18, 19, 20, 21, 32, 33, 45, 46, 47, 75, 76, 78, 79, 80), Trouble.TIME),
    ],
)
def test_format_named_by_its_number_alone_is_known(ids: tuple[int, ...], trouble: Trouble | None) -> None:
    formats = "".join(f'<xf numFmtId="{number}"/>' for number in ids)
    cells = "".join(f'<c s="{number}"><v>0.5</v></c>' for number in range(len(ids)))
    styles = f'<styleSheet xmlns="{MAIN}"><cellXfs>{formats}</cellXfs></styleSheet>'
    sheet = read_book(by_hand(f"<row>{cells}</row>", styles=styles)).sheets[0]
    assert [cell.trouble for cell in sheet.cells.values()] == [trouble] * len(ids)


def test_date_counted_from_1904_is_the_same_date() -> None:
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    book.active["B5"] = date(2026, 1, 24)
    assert only_cell(saved(book)) == ReturnedCell(text="2026-01-24", trouble=Trouble.DATE)
    book.active["B5"] = 2958465
    book.active["B5"].number_format = "d/m"
    assert only_cell(saved(book)) == ReturnedCell(text="2958465", trouble=Trouble.DATE)


@pytest.mark.parametrize(
    ("xml", "expected"),
    [
        # what stands for blank
        ('<c r="B5"/>', None),
        ('<c r="B5" s="1"><v/></c>', None),
        ('<c r="B5"><v> </v></c>', None),
        ('<c r="B5" t="s"><v/></c>', None),
        ('<c r="B5" t="s"><v>3</v></c>', None),
        ('<c r="B5" t="inlineStr"><is><t/></is></c>', None),
        ('<c r="B5" t="inlineStr"><is><t>_x0007_</t></is></c>', None),
        ('<c r="B5" t="str"><f>""</f><v/></c>', None),
        # texts
        ('<c r="B5" t="s"><v>0</v></c>', ReturnedCell(text="10.10.0.0")),
        ('<c r="B5" t="s"><v>1</v></c>', ReturnedCell(text="10.20.0.0")),
        ('<c r="B5" t="s"><v>2</v></c>', ReturnedCell(text="a\nb")),
        ('<c r="B5" t="inlineStr"><is><t>a</t></is></c>', ReturnedCell(text="a")),
        ('<c r="B5" t="inlineStr"><is><r><t>a</t></r><r><t> b</t></r></is></c>', ReturnedCell(text="a b")),
        ('<c r="B5" t="inlineStr"><is><t>a</t><rPh><t>x</t></rPh></is></c>', ReturnedCell(text="a")),
        ('<c r="B5" t="inlineStr"><is><t>=A1</t></is></c>', ReturnedCell(text="=A1")),
        ('<c r="B5" t="str"><v>_x005F_x0041_</v></c>', ReturnedCell(text="_x0041_")),
        ('<c r="B5" t="str"><v>_xD83D__xDE00_</v></c>', ReturnedCell(text="\U0001f600")),
        ('<c r="B5" t="str"><v>a_xD83D_b_xFFFF__x0000_</v></c>', ReturnedCell(text="ab")),
        ('<c r="B5" t="str"><v>a_x000B_b&#x85;c</v></c>', ReturnedCell(text="a\nb\nc")),
        ('<c r="B5" t="str"><v>a<![CDATA[<b>]]>&amp;</v></c>', ReturnedCell(text="a<b>&")),
        # numbers
        ('<c r="B5"><v>24.0</v></c>', ReturnedCell(text="24")),
        ('<c r="B5" t="n"><v> 24 </v></c>', ReturnedCell(text="24")),
        ('<c r="B5"><v>0010</v></c>', ReturnedCell(text="10")),
        ('<c r="B5"><v>24E0</v></c>', ReturnedCell(text="24")),
        ('<c r="B5"><v>123456789012345678</v></c>', ReturnedCell(text="123456789012345678")),
        ('<c r="B5"><v>1234567890123456789012</v></c>', ReturnedCell(text="1.23456789012346E+21")),
        ('<c r="B5"><v>1.7976931348623157e308</v></c>', ReturnedCell(text="1.79769313486232E+308")),
        ('<c r="B5" s="1"><v>-1e400</v></c>', ReturnedCell(text="-1E400")),
        ('<c r="B5"><v>-0</v></c>', ReturnedCell(text="0")),
        ('<c r="B5"><v>-0.0</v></c>', ReturnedCell(text="0")),
        ('<c r="B5" s="0"><v>1</v></c>', ReturnedCell(text="1")),
        ('<c r="B5" s="99"><v>1</v></c>', ReturnedCell(text="1")),
        ('<c r="B5" s="x"><v>1</v></c>', ReturnedCell(text="1")),
        ('<c r="B5" s="1"><v>46046</v></c>', ReturnedCell(text="2026-01-24", trouble=Trouble.DATE)),
        ('<c r="B5" s="1"><v>2958465.9999999996</v></c>', ReturnedCell(text="2958466", trouble=Trouble.DATE)),
        ('<c r="B5" s="2"><v>0.5</v></c>', ReturnedCell(text="12:00:00", trouble=Trouble.TIME)),
        ('<c r="B5" s="3"><v>0.24</v></c>', ReturnedCell(text="24%", trouble=Trouble.PERCENT)),
        ('<c r="B5" s="4"><v>1</v></c>', ReturnedCell(text="24:00:00", trouble=Trouble.TIME)),
        # dates as text, in Strict files
        ('<c r="B5" t="d"><v>2026-01-24</v></c>', ReturnedCell(text="2026-01-24", trouble=Trouble.DATE)),
        ('<c r="B5" t="d"><v>2026-01-24T00:00:00Z</v></c>', ReturnedCell(text="2026-01-24", trouble=Trouble.DATE)),
        ('<c r="B5" t="d"><v>2026-01-24T08:30:00.000</v></c>', ReturnedCell(text="2026-01-24 08:30:00", trouble=Trouble.DATE)),
        ('<c r="B5" t="d"><v>T08:30:00</v></c>', ReturnedCell(text="08:30:00", trouble=Trouble.TIME)),
        ('<c r="B5" t="d"><v>soon</v></c>', ReturnedCell(text="soon", trouble=Trouble.DAMAGED)),
        # formulas
        ('<c r="B5"><f>20+4</f><v>24</v></c>', ReturnedCell(text="24", is_formula=True)),
        ('<c r="B5" t="str"><f>"24"</f><v>24</v></c>', ReturnedCell(text="24", is_formula=True)),
        ('<c r="B5" t="b"><f>1=1</f><v>1</v></c>', ReturnedCell(text="TRUE", trouble=Trouble.TRUTH_VALUE, is_formula=True)),
        ('<c r="B5" t="e"><f>A</f><v>#REF!</v></c>', ReturnedCell(text="#REF!", trouble=Trouble.ERROR_VALUE, is_formula=True)),
        ('<c r="B5"><f>A1</f></c>', ReturnedCell(text="=A1", trouble=Trouble.NO_RESULT, is_formula=True)),
        ('<c r="B5"><f>A1</f><v/></c>', ReturnedCell(text="=A1", trouble=Trouble.NO_RESULT, is_formula=True)),
        ('<c r="B5"><f t="shared" si="0"/></c>', ReturnedCell(text="=", trouble=Trouble.NO_RESULT, is_formula=True)),
        # what makes no sense spoils no other cell
        ('<c r="B5"><v>abc</v></c>', ReturnedCell(text="abc", trouble=Trouble.DAMAGED)),
        ('<c r="B5"><v>NaN</v></c>', ReturnedCell(text="NaN", trouble=Trouble.DAMAGED)),
        ('<c r="B5"><v>1_0</v></c>', ReturnedCell(text="1_0", trouble=Trouble.DAMAGED)),
        ('<c r="B5"><v>٢٤</v></c>', ReturnedCell(text="٢٤", trouble=Trouble.DAMAGED)),
        (f'<c r="B5"><v>{"9" * 5000}</v></c>', ReturnedCell(text="9" * 200, trouble=Trouble.DAMAGED)),
        ('<c r="B5" t="s"><v>4</v></c>', ReturnedCell(text="", trouble=Trouble.DAMAGED)),
        ('<c r="B5" t="s"><v>-1</v></c>', ReturnedCell(text="", trouble=Trouble.DAMAGED)),
        ('<c r="B5" t="s"><v>1e0</v></c>', ReturnedCell(text="", trouble=Trouble.DAMAGED)),
        ('<c r="B5" t="b"><v>2</v></c>', ReturnedCell(text="2", trouble=Trouble.DAMAGED)),
        ('<c r="B5" t="new"><v>a</v></c>', ReturnedCell(text="a", trouble=Trouble.DAMAGED)),
        # elements of other namespaces are passed over
        ('<c r="B5" xmlns:x="urn:x"><x:v>7</x:v><v>24</v></c>', ReturnedCell(text="24")),
        ('<x:c xmlns:x="urn:x" r="B5"><v>7</v></x:c>', None),
    ],
)  # fmt: skip
def test_cell_written_by_hand_reads_as(xml: str, expected: ReturnedCell | None) -> None:
    assert cell_by_hand(xml) == expected


def test_text_longer_than_a_cell_can_hold_is_cut_and_says_so() -> None:
    longest = "a" * 32_767
    assert cell_by_hand(f'<c r="B5" t="str"><v>{longest}</v></c>') == ReturnedCell(text=longest)
    cell = cell_by_hand(f'<c r="B5" t="str"><v>{longest}bc</v></c>')
    assert cell == ReturnedCell(text=longest, trouble=Trouble.TOO_LONG)


def test_text_in_several_fonts_is_one_text() -> None:
    bold = TextBlock(InlineFont(b=True), "10.")
    assert only_cell(with_openpyxl({"B5": CellRichText(bold, "0.0.0")})) == ReturnedCell(text="10.0.0.0")


def test_hyperlink_leaves_its_text_alone() -> None:
    book = openpyxl.Workbook()
    book.active["B5"] = "10.0.0.1"
    book.active["B5"].hyperlink = "http://10.0.0.1/"
    assert only_cell(saved(book)) == ReturnedCell(text="10.0.0.1")


# --- Sheets, names and properties -------------------------------------------------------------------------------------


def test_ordinary_files_read_as_with_openpyxl() -> None:
    book = a_lab()
    sheets = read_book(saved(book)).sheets
    assert [sheet.name for sheet in sheets] == book.sheetnames
    for sheet in sheets:
        ours = {place: cell.text for place, cell in sheet.cells.items() if cell.trouble is not Trouble.MERGED}
        theirs = {
            (cell.row, cell.column): str(cell.value)
            for row in book[sheet.name].iter_rows()
            for cell in row
            if cell.value is not None
        }
        assert ours == theirs


@given(
    st.dictionaries(
        st.tuples(st.integers(1, 30), st.integers(1, 30)),
        st.one_of(
            st.integers(-(10**14), 10**14),
            st.floats(allow_nan=False, allow_infinity=False, width=32),
            st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=20),
        ),
        max_size=20,
    )
)
@settings(max_examples=50)
def test_any_text_or_number_written_with_openpyxl_comes_back(values: dict[tuple[int, int], Any]) -> None:
    book = openpyxl.Workbook()
    for (row, column), value in values.items():
        cell = book.active.cell(row, column, value)
        cell.data_type = "s" if isinstance(value, str) else "n"
    cells = read_book(saved(book)).sheets[0].cells
    assert set(cells) == set(values)
    for place, value in values.items():
        assert cells[place].trouble is None
        if isinstance(value, str):
            assert cells[place].text == returned_cells.plain_text(value)
        else:
            assert float(cells[place].text) == pytest.approx(value, rel=1e-14)


def test_name_identifier_and_defined_names_come_back() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Größe & <more>"
    book.properties.identifier = "LAB-7"
    book.defined_names["lab_number"] = DefinedName("lab_number", attr_text='"LAB-7"')
    book.active.defined_names["only_here"] = DefinedName("only_here", attr_text='"no"')
    returned = read_book(saved(book))
    assert returned.sheets[0].name == "Größe & <more>"
    assert returned.properties.identifier == "LAB-7"
    assert returned.defined_names == {"lab_number": '"LAB-7"'}
    assert returned.notices == ()


def test_hidden_sheets_say_so_and_charts_are_left_out() -> None:
    book = openpyxl.Workbook()
    for name, state in (("b", "hidden"), ("c", "veryHidden"), ("d", "visible")):
        book.create_sheet(name).sheet_state = state
    data = saved(book)
    assert [sheet.is_hidden for sheet in read_book(data).sheets] == [False, True, True, False]
    parts = parts_by_hand()
    parts["xl/_rels/workbook.xml.rels"] = relationships(("s1", "chartsheet", "chartsheets/sheet1.xml"))
    assert read_book(zipped(parts)).sheets == ()


def test_cells_without_references_are_counted_on() -> None:
    first = "<row><c><v>1</v></c><c/><c><v>3</v></c></row>"
    seventh = "<row r='7'><c r='C7'><v>4</v></c><c><v>5</v></c></row>"
    cells = read_book(by_hand(first + seventh + "<row><c><v>6</v></c></row>")).sheets[0].cells
    assert {place: cell.text for place, cell in cells.items()} == {
        (1, 1): "1",
        (1, 3): "3",
        (7, 3): "4",
        (7, 4): "5",
        (8, 1): "6",
    }


def test_last_cell_of_a_sheet_is_read() -> None:
    data = by_hand('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')
    assert read_book(data).sheets[0].cells == {(1_048_576, 16_384): ReturnedCell(text="1")}


def test_cells_under_a_merge_say_so() -> None:
    rows = '<row r="5"><c r="B5"><v>1</v></c><c r="C5" s="0"/></row><row r="6"><c r="C6"><v>4</v></c></row>'
    data = by_hand(rows, '<mergeCells><mergeCell ref="B5:C6"/><mergeCell ref="D9:D9"/></mergeCells>')
    hidden = ReturnedCell(text="", trouble=Trouble.MERGED)
    assert read_book(data).sheets[0].cells == {
        (5, 2): ReturnedCell(text="1"),
        (5, 3): hidden,
        (6, 2): hidden,
        (6, 3): ReturnedCell(text="4"),
    }


@pytest.mark.parametrize("merge", ["A1:XFD1048576", "B5:B405", "", "B5", "B5:A1", "B5:XFE9", "b5:c6", "B5:C6:D7"])
def test_merge_that_is_too_large_or_senseless_is_passed_over(merge: str) -> None:
    assert cell_by_hand("") is None
    data = by_hand("", f'<mergeCells><mergeCell ref="{merge}"/></mergeCells>')
    assert read_book(data).sheets[0].cells == {}


def test_merges_are_spelled_out_up_to_a_limit() -> None:
    merges = "".join(f'<mergeCell ref="A{row}:CV{row}"/>' for row in range(1, 10_000))
    data = by_hand("", f"<mergeCells>{merges}</mergeCells>")
    assert len(read_book(data).sheets[0].cells) == 20 * 99


def test_strict_file_reads_like_any_other() -> None:
    rows = '<row r="5"><c r="B5" t="s"><v>0</v></c><c r="C5" t="d" s="1"><v>2026-01-24</v></c></row>'
    parts = {
        name: str(content).replace(MAIN, STRICT_MAIN).replace(OFFICE, STRICT_OFFICE)
        for name, content in parts_by_hand(rows).items()
    }
    book = read_book(zipped(parts))
    assert book.properties.identifier == "LAB-7"
    assert book.sheets[0].cells == {
        (5, 2): ReturnedCell(text="10.10.0.0"),
        (5, 3): ReturnedCell(text="2026-01-24", trouble=Trouble.DATE),
    }


def upper_case(name: str) -> str:
    return name.upper()


def backslashes(name: str) -> str:
    return name.replace("/", "\\")


@pytest.mark.parametrize("rename", [upper_case, backslashes])
def test_part_names_may_differ_in_case_and_slashes(rename: Any) -> None:
    data = zipped(
        {rename(name): content for name, content in parts_by_hand('<row><c t="s"><v>0</v></c></row>').items()}
    )
    assert read_book(data).sheets[0].cells == {(1, 1): ReturnedCell(text="10.10.0.0")}


def test_part_may_be_in_utf_16() -> None:
    sheet = worksheet('<row><c t="str"><v>größer</v></c></row>').encode("utf-16")
    assert read_book(by_hand(sheet1=sheet)).sheets[0].cells == {(1, 1): ReturnedCell(text="größer")}


def test_notices_say_what_was_not_run_or_followed() -> None:
    parts = parts_by_hand()
    parts["xl/_rels/workbook.xml.rels"] = relationships(
        ("s1", "worksheet", "worksheets/sheet1.xml"),
        ("m", "vbaProject", "vbaProject.bin"),
        ("x", "externalLink", "e.xml"),
    )
    assert read_book(zipped(parts)).notices == (
        "Macros in the file were not run.",
        "Links to other files were not followed.",
    )


@pytest.mark.parametrize("content", [None, "<html>", "<html/>"])
def test_broken_styles_or_properties_cost_a_notice_only(content: str | None) -> None:
    book = read_book(by_hand('<row><c s="1"><v>46046</v></c></row>', styles=content, core=content))
    assert book.sheets[0].cells == {(1, 1): ReturnedCell(text="46046")}
    assert book.properties.identifier == ""
    assert book.notices == (
        "The number formats could not be read, so a date may show as a number. Save a copy as .xlsx and use it if one does.",
        "The file's properties could not be read; nothing depends on them.",
    )


def test_file_with_the_fewest_parts_is_read() -> None:
    parts = parts_by_hand('<row><c t="inlineStr"><is><t>a</t></is></c></row>')
    parts["xl/_rels/workbook.xml.rels"] = relationships(("s1", "worksheet", "worksheets/sheet1.xml"))
    for name in ("_rels/.rels", "docProps/core.xml", "xl/sharedStrings.xml", "xl/styles.xml"):
        del parts[name]
    book = read_book(zipped(parts))
    assert (book.properties.identifier, book.sheets[0].cells) == ("", {(1, 1): ReturnedCell(text="a")})


# --- Refusals: what is no workbook ------------------------------------------------------------------------------------


def compound_file(*names: str) -> bytes:
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + b"".join(name.encode("utf-16-le") for name in names)


OPEN_DOCUMENT = zipped({"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": "<x/>"})
ARCHIVE = zipped({"a/lab.xlsx": by_hand()})
OWN_FORMAT = zipped({"Index/Document.iwa": ""})
TYPES = {"[Content_Types].xml": "<Types/>"}
NO_PASSWORD = "Ask for it again, saved without one."


@pytest.mark.parametrize(
    ("data", "what", "advice"),
    [
        (b"", "The file is empty.", ASK_AGAIN),
        (bytes(500), "The file is empty.", ASK_AGAIN),
        (b"VLAN,Gateway\n10,a\n", "This is a text file, perhaps CSV with one sheet only, not a workbook.", ASK_FOR_WORKBOOK),
        ("ü;1".encode("latin-1"), "This is a text file, perhaps CSV with one sheet only, not a workbook.", ASK_FOR_WORKBOOK),
        ("a\t1".encode("utf-16"), "This is a text file, perhaps CSV with one sheet only, not a workbook.", ASK_FOR_WORKBOOK),
        (b"%PDF-1.7\n\x00\x01", "This is a PDF, not a workbook.", ASK_FOR_WORKBOOK),
        (b"\x89PNG\r\n\x1a\n\x00", "This is a picture, not a workbook.", ASK_FOR_WORKBOOK),
        (b"\xff\xd8\xff\xe0\x00", "This is a picture, not a workbook.", ASK_FOR_WORKBOOK),
        (b"\x1f\x8b\x08\x00", "This is a packed archive, not a workbook.", ASK_FOR_WORKBOOK),
        (b"{\\rtf1 text}", "This is a text document, not a workbook.", ASK_FOR_WORKBOOK),
        (b"<html><p>", "This is a web page, perhaps that of a sign-in, not a workbook.", ASK_FOR_WORKBOOK),
        (b"\xef\xbb\xbf\n<!DOCTYPE HTML>", "This is a web page, perhaps that of a sign-in, not a workbook.", ASK_FOR_WORKBOOK),
        (b"<?xml version='1.0'?><Workbook/>", "This is an XML file, not an .xlsx workbook.", SAVE_A_COPY),
        (b"\x7fELF\x00\x01", "This is not an .xlsx workbook.", ASK_FOR_WORKBOOK),
        (compound_file("Root Entry", "Workbook"), "This is a workbook in the old .xls format.", SAVE_A_COPY),
        (compound_file("Root Entry", "Book\0"), "This is a workbook in the old .xls format.", SAVE_A_COPY),
        (compound_file("EncryptedPackage"), "The file is protected by a password.", NO_PASSWORD),
        (compound_file("Root Entry"), "This is a document of another kind, not a workbook.", ASK_FOR_WORKBOOK),
        (zipped({}), "This is an empty archive, not a workbook.", ASK_AGAIN),
        (ARCHIVE, "This is an archive with 'a/lab.xlsx' in it.", "Unpack it and use the workbook itself."),
        (OPEN_DOCUMENT, "This is an OpenDocument file, not an .xlsx workbook.", SAVE_A_COPY),
        (OWN_FORMAT, "This is a document in a format of its own program, not .xlsx.", "Ask for it again, exported as .xlsx."),
        (zipped({"a.txt": "x"}), "This is an archive of other files, or a damaged workbook.", ASK_FOR_WORKBOOK),
        (zipped(TYPES | {"word/document.xml": "x"}), "This is a text document, not a workbook.", ASK_FOR_WORKBOOK),
        (zipped(TYPES | {"ppt/presentation.xml": "x"}), "These are slides, not a workbook.", ASK_FOR_WORKBOOK),
        (zipped(TYPES | {"xl/workbook.bin": b"x"}), "This is a workbook in the binary .xlsb format.", SAVE_A_COPY),
        (zipped(TYPES), "The workbook is incomplete: its list of sheets is missing.", ASK_AGAIN),
        (by_hand()[:-30], "The file is incomplete; perhaps its upload was cut off.", ASK_AGAIN),
        (by_hand()[:1000], "The file is incomplete; perhaps its upload was cut off.", ASK_AGAIN),
        (b"PK", "The file is incomplete; perhaps its upload was cut off.", ASK_AGAIN),
    ],
)  # fmt: skip
def test_error_names_what_is_no_workbook(data: bytes, what: str, advice: str) -> None:
    assert refusal(data) == f"{what} {advice}"


# --- Refusals: workbooks that are damaged -----------------------------------------------------------------------------


def two_sheets(first: str, second: str, part: str = "sheet2.xml") -> bytes:
    parts = parts_by_hand()
    parts["xl/workbook.xml"] = (
        f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
        f'<sheet name="{first}" r:id="s1"/><sheet name="{second}" r:id="s2"/></sheets></workbook>'
    )
    parts["xl/_rels/workbook.xml.rels"] = relationships(
        ("s1", "worksheet", "worksheets/sheet1.xml"), ("s2", "worksheet", f"worksheets/{part}")
    )
    parts["xl/worksheets/sheet2.xml"] = worksheet()
    return zipped(parts)


TWICE = '<row><c r="AA3"><v>1</v></c></row><row r="3"><c r="AA3"><v>1</v></c></row>'
ODD_ENCODING = "<?xml version='1.0' encoding='utf-7'?>" + worksheet()
NO_PART = f'<workbook xmlns="{MAIN}"><sheet name="Ports"/></workbook>'


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (by_hand(TWICE), "Sheet 'Subnets' holds cell AA3 twice: the file is damaged."),
        (by_hand('<row><c r="XFE1"/></row>'), "Sheet 'Subnets' has an impossible cell, 'XFE1': the file is damaged."),
        (by_hand('<row><c r="A1048577"/></row>'), "Sheet 'Subnets' has an impossible cell, 'A1048577': the file is damaged."),
        (by_hand('<row><c r=""/></row>'), "Sheet 'Subnets' has an impossible cell, '': the file is damaged."),
        (by_hand('<row r="0"/>'), "Sheet 'Subnets' has an impossible row, '0': the file is damaged."),
        (by_hand('<row r="1048576"/><row/>'), "Sheet 'Subnets' has an impossible row, '1048577': the file is damaged."),
        (by_hand(sheet1=None), "Sheet 'Subnets' is missing from the file."),
        (by_hand(sheet1="<html><body/></html>"), "Sheet 'Subnets' cannot be read: the file is damaged."),
        (by_hand(sheet1="<worksheet/>"), "Sheet 'Subnets' cannot be read: the file is damaged."),
        (by_hand(sheet1=worksheet()[:-5]), "Sheet 'Subnets' cannot be read: the file is damaged."),
        (by_hand(sheet1=""), "Sheet 'Subnets' cannot be read: the file is damaged."),
        (by_hand(sheet1=ODD_ENCODING), "Sheet 'Subnets' cannot be read: the file is damaged."),
        (by_hand(sharedStrings=None), "The table of texts is missing from the file."),
        (by_hand(sharedStrings="<sst"), "The table of texts cannot be read: the file is damaged."),
        (by_hand(workbook="<workbook"), "The list of sheets cannot be read: the file is damaged."),
        (by_hand(workbook=NO_PART), "Sheet 'Ports' is missing from the file."),
        (zipped(parts_by_hand() | {"_rels/.rels": "<a/>"}), "The list of the file's parts cannot be read: the file is damaged."),
        (two_sheets("Ports", "PORTS"), "Sheet 'PORTS' is in the workbook twice: the file is damaged."),
        (two_sheets("Ports", "Links", "SHEET1.xml"), "Sheet 'Links' shares its cells with another sheet: the file is damaged."),
    ],
)  # fmt: skip
def test_error_says_what_is_damaged(data: bytes, what: str) -> None:
    assert refusal(data) == f"{what} {SAVE_A_COPY}"


def test_error_broken_member_is_damaged_not_a_crash() -> None:
    data = bytearray(by_hand("<row><c><v>1</v></c></row>" * 50))
    start = data.index(b"xl/worksheets/sheet1.xml") + len("xl/worksheets/sheet1.xml")
    data[start + 5 : start + 25] = bytes(20)
    assert refusal(bytes(data)) == f"Sheet 'Subnets' cannot be read: the file is damaged. {SAVE_A_COPY}"


# --- Refusals: what no spreadsheet program writes ---------------------------------------------------------------------


BILLION_LAUGHS = (
    '<!DOCTYPE worksheet [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;">]>'
    + worksheet('<row><c t="str"><v>&c;</v></c></row>')
)
OUTSIDE = '<!DOCTYPE worksheet [<!ENTITY a SYSTEM "file:///etc/passwd">]>' + worksheet(
    '<row><c t="str"><v>&a;</v></c></row>'
)


@pytest.mark.parametrize(
    "xml", [BILLION_LAUGHS, OUTSIDE, '<!DOCTYPE worksheet SYSTEM "http://10.0.0.1/x">' + worksheet()]
)
@pytest.mark.parametrize(
    ("part", "called"),
    [
        ("sheet1", "Sheet 'Subnets'"),
        ("workbook", "The list of sheets"),
        ("sharedStrings", "The table of texts"),
        ("styles", "The table of styles"),
        ("core", "The list of the file's properties"),
    ],
)
def test_error_document_type_is_refused_in_every_part(xml: str, part: str, called: str) -> None:
    message = f"{called} holds a document type declaration, which no workbook has. {ASK_AGAIN}"
    assert refusal(by_hand(**{part: xml})) == message


def members(*names: str, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name in names:
            archive.writestr(name, "x")
    return stream.getvalue()


def encrypted() -> bytes:
    data = bytearray(by_hand())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


def many_sheets(count: int) -> str:
    sheets = "".join(f'<sheet name="{number}" r:id="s1"/>' for number in range(count))
    return f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>{sheets}</sheets></workbook>'


DEEP = "<x>" * 63 + "</x>" * 63
WIDE = "<row " + "".join(f'a{number}="" ' for number in range(50_000)) + "/>"
LONG = f"<row><c><v>{' ' * 400_000}</v></c></row>"


@pytest.mark.parametrize(
    ("data", "what", "advice"),
    [
        (members("a", "../../etc/a"), "The file holds a part with an unsafe name, '../../etc/a'.", ASK_AGAIN),
        (members("/etc/a"), "The file holds a part with an unsafe name, '/etc/a'.", ASK_AGAIN),
        (members("xl/a.xml", "xl\\A.xml"), "The file holds the part 'xl/a.xml' twice: it is damaged.", ASK_AGAIN),
        (members("a", method=zipfile.ZIP_LZMA), "The file is packed in a way that spreadsheet programs do not use.", SAVE_A_COPY),
        (members(*map(str, range(2001))), "The file holds more than 2,000 parts and is no filled workbook.", ASK_FOR_WORKBOOK),
        (encrypted(), "The file is protected by a password.", NO_PASSWORD),
        (by_hand(workbook=f'<workbook xmlns="{MAIN}"/>'), "The workbook has no sheets.", ASK_FOR_OURS),
        (by_hand(workbook=many_sheets(201)), "The workbook has more than 200 sheets.", ASK_FOR_OURS),
        (by_hand(DEEP), "Sheet 'Subnets' is nested deeper than a spreadsheet program writes it.", ASK_AGAIN),
        (by_hand("<x/>" * 2_000_000), "Sheet 'Subnets' is larger than a spreadsheet program writes it.", ASK_AGAIN),
        (by_hand("<row><c><v>1</v></c></row>" * 60_001), "The workbook has more than 60,000 filled cells.", ASK_FOR_OURS),
        (by_hand(WIDE), "Sheet 'Subnets' holds a text or tag that no spreadsheet program writes.", ASK_AGAIN),
        (by_hand(LONG), "Sheet 'Subnets' holds a text or tag that no spreadsheet program writes.", ASK_AGAIN),
    ],
)  # fmt: skip
def test_error_beyond_the_limits_is_refused_in_words(data: bytes, what: str, advice: str) -> None:
    assert refusal(data) == f"{what} {advice}"


def test_error_file_larger_than_the_limit_is_not_even_opened() -> None:
    data = b"PK" + bytes(package.MAX_FILE_BYTES)
    assert refusal(data) == f"The file is larger than 20 MB, more than any filled workbook. {ASK_FOR_WORKBOOK}"


def test_error_zip_bomb_is_refused_by_its_declared_size() -> None:
    bomb = " " * (17 << 20)
    message = f"Sheet 'Subnets' unpacks to more than 16 MB, more than any filled workbook. {ASK_AGAIN}"
    assert refusal(by_hand(sheet1=bomb)) == message
    message = f"The file unpacks to more than 100 MB, more than any filled workbook. {ASK_AGAIN}"
    assert refusal(zipped(parts_by_hand() | {f"xl/media/{n}": bomb for n in range(6)})) == message


def test_error_zip_bomb_that_lies_about_its_size_is_not_unpacked() -> None:
    data = bytearray(by_hand(sheet1=" " * (60 << 20)))
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        for found in re.finditer(re.escape(signature), bytes(data)):
            if struct.unpack_from("<I", data, found.start() + offset)[0] == 60 << 20:
                struct.pack_into("<I", data, found.start() + offset, 1000)
    tracemalloc.start()
    message = refusal(bytes(data))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert message == f"Sheet 'Subnets' cannot be read: the file is damaged. {SAVE_A_COPY}"
    assert peak < 10 << 20


def test_whole_sheet_merge_and_endless_format_cost_no_time() -> None:
    code = "[" * 75_000 + "&quot;" * 30_000
    styles = f'<styleSheet xmlns="{MAIN}"><numFmts><numFmt numFmtId="170" formatCode="{code}"/></numFmts></styleSheet>'
    merges = '<mergeCells><mergeCell ref="A20:XFD1048576"/></mergeCells>'
    data = by_hand('<row><c r="A1"><v>1</v></c></row>', merges, styles=styles)
    began = time.perf_counter()
    assert read_book(data).sheets[0].cells == {(1, 1): ReturnedCell(text="1")}
    assert time.perf_counter() - began < 1  # 0.005 s as a rule; a hang is minutes


def test_external_parts_are_not_followed() -> None:
    parts = parts_by_hand()
    parts["xl/_rels/workbook.xml.rels"] = str(parts["xl/_rels/workbook.xml.rels"]).replace(
        'Target="sharedStrings.xml"', 'Target="http://10.0.0.1/x" TargetMode="External"'
    )
    assert read_book(zipped(parts)).sheets[0].cells == {}


# --- Whatever the bytes -----------------------------------------------------------------------------------------------


def read_or_refuse(data: bytes) -> ReturnedBook | None:
    """Reads; a refusal must be one that somebody thought of."""
    book, message = None, ""
    try:
        book = read_book(data)
    except UnreadableFile as refused:
        message = str(refused)
    assert "in a way that was not foreseen" not in message
    return book


def changed(data: bytes, changes: Iterable[tuple[int, int]]) -> bytes:
    spoilt = bytearray(data)
    for place, byte in changes:
        spoilt[place % len(spoilt)] = byte
    return bytes(spoilt)


ROWS = '<row r="5"><c r="B5" t="s"><v>1</v></c><c r="C5" s="1"><v>46046</v></c><c r="D5" t="b"><v>1</v></c></row>'
PACKED = by_hand(ROWS, '<mergeCells><mergeCell ref="B5:C6"/></mergeCells>')
STORED = zipped(parts_by_hand(ROWS), zipfile.ZIP_STORED)
CHANGES = st.lists(st.tuples(st.integers(0, 2**20), st.integers(0, 255)), min_size=1, max_size=8)


@given(changes=CHANGES, end=st.integers(0, 200))
@settings(max_examples=400)
def test_error_changed_bytes_of_an_archive_never_crash_the_reader(changes: list[tuple[int, int]], end: int) -> None:
    read_or_refuse(changed(PACKED, changes))
    read_or_refuse(changed(STORED, changes))
    read_or_refuse(PACKED[: len(PACKED) - end])


@given(part=st.sampled_from(sorted(parts_by_hand())), changes=CHANGES)
@settings(max_examples=400)
def test_error_changed_bytes_of_a_part_never_crash_the_reader(part: str, changes: list[tuple[int, int]]) -> None:
    parts = parts_by_hand(ROWS)
    parts[part] = changed(str(parts[part]).encode(), changes)
    read_or_refuse(zipped(parts))


@given(
    kind=st.sampled_from(["n", "s", "b", "e", "d", "str", "inlineStr", ""]),
    style=st.sampled_from(["0", "1", "2", "3", "4", "-1", "99999999999"]),
    value=st.one_of(
        st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"], exclude_characters="<&\ufffe\uffff")),
        st.floats().map(repr),
        st.integers().map(str),
    ),
    has_formula=st.booleans(),
)
@example(kind="n", style="1", value="2958465.9999999999", has_formula=False)
@example(kind="n", style="3", value="1.7e308", has_formula=False)
@settings(max_examples=400)
def test_any_value_in_any_kind_of_cell_gives_a_cell(kind: str, style: str, value: str, has_formula: bool) -> None:
    formula = "<f>A1</f>" if has_formula else ""
    cell = cell_by_hand(f'<c r="B5" t="{kind}" s="{style}">{formula}<v>{value.replace("]]>", "")}</v></c>')
    assert cell is None or cell.is_formula == has_formula


@given(st.binary(max_size=300), st.sampled_from([b"", b"PK", b"PK\x03\x04", b"PK\x05\x06", b"\xff\xfe", b"<"]))
@settings(max_examples=400)
def test_error_any_bytes_are_refused_in_words(data: bytes, beginning: bytes) -> None:
    assert read_or_refuse(beginning + data) is None


def test_error_what_nobody_foresaw_is_refused_too(monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(_package: object) -> None:
        raise KeyError("something else")

    monkeypatch.setattr(intake, "_read_package", crash)
    assert refusal(by_hand()) == f"The file is damaged in a way that was not foreseen. {SAVE_A_COPY}"
