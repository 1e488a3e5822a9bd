"""From a Book to the bytes of a file, the quick way: the same bytes as written_cell_by_cell, at a tenth of the time.

What rests on layouts and styles alone is a frame: of a book and of each of its sheets, written once for all that are laid
out alike. The labs of a class differ in their texts, which are filled in here. Text is escaped as XML 1.0, 2.4 asks for.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, lru_cache

from trainer.sheets.book import Book, Cell, Layout, PrintSetup, Row, Sheet, Style
from trainer.sheets.cell_names import column_name
from trainer.sheets.cells import printable, writable
from trainer.sheets.openpyxl_file import (
    core_part,
    footer_code,
    number_code,
    number_format,
    unpacked,
    written_cell_by_cell,
)
from trainer.sheets.packing import PackedPart, archive, packed_part

__all__ = ["to_bytes"]

_Look = Style | tuple[Style, str]
"""Of text its style; of a number its style and the number format in the place of the style's own."""
_CORE = "docProps/core.xml"
_NUMBERS: Mapping[str, Decimal] = {"0": Decimal(1), "0.0": Decimal("1.5")}
"""A value that is shown in each format of a number."""


class _Numbers(dict[_Look, str]):
    """The number that the file has for each look: from 1 in the order in which they are met, as openpyxl counts."""

    def __missing__(self, look: _Look) -> str:
        number = self[look] = str(len(self) + 1)
        return number


@dataclass(frozen=True, slots=True)
class _Bound:
    """All of a book that its frame rests on, but for its sheets' own frames. Equal ones have one frame."""

    sheets: tuple[tuple[str, Layout], ...]
    """Names, and of the layouts what the book's own parts say."""
    looks: tuple[_Look, ...]
    """In the order in which they are met."""
    defined_names: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _SheetFrame:
    """A sheet's part of the file, in pieces. Between them stand extent, rows and footer."""

    head: str
    setup: str
    after: str
    end: str


def to_bytes(book: Book) -> bytes:
    """The finished file."""
    numbers = _Numbers()
    filled = {_CORE: _core(book)}
    for number, sheet in enumerate(book.sheets, 1):
        pieces = _sheet_frame(sheet.layout, is_first=number == 1)
        rows = "".join(_rows(sheet, numbers))
        footer = _escaped(footer_code(sheet.footer))
        text = f"{pieces.head}{_extent(sheet)}{pieces.setup}{rows}{pieces.after}{footer}{pieces.end}"
        filled[_part(number)] = text.encode()
    bound = _Bound(
        sheets=tuple((sheet.name, _as_the_book_has_it(sheet.layout)) for sheet in book.sheets),
        looks=tuple(numbers),
        defined_names=book.defined_names,
    )
    parts = {name: packed_part(name, data) for name, data in filled.items()}
    return archive({**_book_frame(bound), **parts}.values())


# --- Frames -----------------------------------------------------------------------------------------------------------


def _part(number: int) -> str:
    """What a sheet's part is called, by its number from 1."""
    return f"xl/worksheets/sheet{number}.xml"


def _as_the_book_has_it(layout: Layout) -> Layout:
    """With what stands of it outside the sheet's own part: rows and columns that are repeated on each page."""
    printing = PrintSetup(
        is_landscape=False,
        pages_wide=layout.printing.pages_wide,
        pages_high=0,
        head_rows=layout.printing.head_rows,
    )
    return Layout(widths=(), printing=printing)


@lru_cache(maxsize=256)
def _book_frame(bound: _Bound) -> Mapping[str, PackedPart]:
    """The parts of a file without what is in its sheets: written cell by cell with one cell of every look, and taken apart."""
    book = Book(
        title="",
        sheets=tuple(
            Sheet(name=name, layout=layout, rows=(() if number else (Row(tuple(map(_seen, bound.looks))),)), footer="")
            for number, (name, layout) in enumerate(bound.sheets)
        ),
        defined_names=bound.defined_names,
    )
    parts = unpacked(written_cell_by_cell(book))
    numbers = re.findall(r'<c r="[A-Z]+1" s="(\d+)"', parts[_part(1)].decode())
    assert numbers == [str(number) for number, _ in enumerate(bound.looks, 1)], "looks are counted as they are met"
    return {name: packed_part(name, data) for name, data in parts.items()}


def _seen(look: _Look) -> Cell:
    """A cell that looks so."""
    return Cell("", look) if isinstance(look, Style) else Cell(_NUMBERS[look[1]], look[0])


@lru_cache(maxsize=256)
def _sheet_frame(layout: Layout, *, is_first: bool) -> _SheetFrame:
    """Of a sheet without cells, in a book of its own, or behind another one."""
    before = () if is_first else (Sheet(name="before", layout=_as_the_book_has_it(layout), rows=(), footer=""),)
    book = Book(title="", sheets=(*before, Sheet(name="sheet", layout=layout, rows=(), footer="")))
    text = unpacked(written_cell_by_cell(book))[_part(len(book.sheets))].decode()
    pieces = re.fullmatch(
        r'(.*<dimension ref=")[^"]*(".*)<sheetData(?: />|>.*</sheetData>)(.*<oddFooter>)[^<]*(</oddFooter>.*)',
        text,
        re.DOTALL,
    )
    assert pieces, "every sheet of ours has an extent, rows and a footer"
    return _SheetFrame(*pieces.groups())


@cache
def _core_frame(*, has_title: bool, has_identifier: bool) -> str:
    """The part with the book's title and identifier, {title} and {identifier} in their places."""
    book = Book(title="{title}" * has_title, identifier="{identifier}" * has_identifier, sheets=())
    return core_part(book).decode()


# --- What is filled in ------------------------------------------------------------------------------------------------


def _core(book: Book) -> bytes:
    title, identifier = writable(book.title), book.identifier
    if (title.strip(), identifier.strip()) != (title, identifier):  # of blanks at an end the part has more to say
        return core_part(book)
    frame = _core_frame(has_title=bool(title), has_identifier=bool(identifier))
    return frame.format(title=_escaped(title), identifier=_escaped(identifier)).encode()


def _extent(sheet: Sheet) -> str:
    """From the first row in which something stands to the last, and the broadest: "A1:J10"."""
    filled = [number for number, row in enumerate(sheet.rows, 1) if row.cells]
    if not filled:
        return "A1:A1"
    return f"A{filled[0]}:{column_name(max(len(row.cells) for row in sheet.rows))}{filled[-1]}"


def _rows(sheet: Sheet, numbers: _Numbers) -> Iterator[str]:
    yield "<sheetData>"
    for number, row in enumerate(sheet.rows, 1):
        if not row.cells and row.height is None:
            continue
        height = "" if row.height is None else f' ht="{_number_code(row.height)}" customHeight="1"'
        cells = "".join(
            [
                f'<c r="{column}{number}" s="{numbers[style]}"{_text_code(value)}'
                if isinstance(value, str)
                else f'<c r="{column}{number}" s="{numbers[style, number_format(value)]}" t="n"><v>{_number_code(value)}</v></c>'
                for column, (value, style) in zip(_columns(len(row.cells)), row.cells, strict=True)
            ]
        )
        yield f'<row r="{number}"{height}>{cells}</row>'
    yield "</sheetData>"


@lru_cache(maxsize=512)
def _columns(count: int) -> tuple[str, ...]:
    """The names of so many columns from A on."""
    return tuple(map(column_name, range(1, count + 1)))


@lru_cache(maxsize=4096)
def _text_code(text: str) -> str:
    """A cell from its kind on; most texts of a lab stand in several places, or in other labs of the class too."""
    if not text:
        return ' t="n" />'
    text = printable(text)
    bare = text.strip()
    space = ' xml:space="preserve"' if bare and bare != text else ""
    return f' t="inlineStr"><is><t{space}>{_escaped(text)}</t></is></c>'


_number_code = lru_cache(maxsize=1024)(number_code)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
