"""Looking into a Book: its sheets by name, its cells by row and column."""

from collections.abc import Iterator
from decimal import Decimal

from trainer.sheets.book import Book, Cell, Row, Sheet


def sheet_named(book: Book, name: str) -> Sheet:
    return next(sheet for sheet in book.sheets if sheet.name == name)


def names(book: Book) -> list[str]:
    return [sheet.name for sheet in book.sheets]


def row_at(sheet: Sheet, row: int) -> Row:
    return sheet.rows[row - 1]


def cell_at(sheet: Sheet, row: int, column: int) -> Cell:
    return sheet.rows[row - 1].cells[column - 1]


def value_at(sheet: Sheet, row: int, column: int) -> str | Decimal:
    return cell_at(sheet, row, column).value


def values(sheet: Sheet, first: int = 1, last: int | None = None) -> list[list[str | Decimal]]:
    """What stands in these rows."""
    return [[cell.value for cell in row.cells] for row in sheet.rows[first - 1 : last]]


def cells_with_places(sheet: Sheet) -> Iterator[tuple[tuple[int, int], Cell]]:
    """Every cell with its row and column."""
    for number, row in enumerate(sheet.rows, 1):
        for column, cell in enumerate(row.cells, 1):
            yield (number, column), cell
