"""A sheet that holds one table, for the instructor to read and to reckon with."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from trainer.marking.marks import exact
from trainer.results.csv_text import harmless
from trainer.sheets.book import Cell, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cells import text_height
from trainer.sheets.paging import print_setup

__all__ = ["marks_cells", "number_cells", "table_sheet"]


def number_cells(numbers: Iterable[Decimal]) -> tuple[Cell, ...]:
    """Numbers as numbers, to a thousandth, so that the instructor can reckon with them; one decimal of them is shown."""
    return cells_of((Decimal(exact(number)) for number in numbers), Style.NUMBER)


def marks_cells(marks: Iterable[Decimal]) -> tuple[Cell, ...]:
    """The same for a column in which some have decimals: one is shown of all, so that they stand below each other."""
    told = (exact(each) for each in marks)
    return cells_of((Decimal(text if "." in text else f"{text}.0") for text in told), Style.NUMBER)


def table_sheet(
    name: str,
    title: str,
    headings: Sequence[str],
    widths: tuple[float, ...],
    lines: Sequence[Sequence[str | Decimal]],
    *,
    frozen_at: str = "A4",
) -> Sheet:
    """A sheet with one table: a title, headings, a row for each line. Texts are made harmless.

    widths: of the columns, in digits; frozen_at: the rows above this cell and the columns to its left stay in sight.
    """
    rows = (
        Row((Cell(title, Style.TITLE),)),
        Row(),
        Row(cells_of(headings, Style.COLUMN)),
        *(_table_rows(widths, lines) if lines else [Row((Cell("none", Style.PLAIN),))]),
    )
    layout = Layout(
        widths=widths, printing=print_setup(rows, widths, landscape=True, head_rows=(1, 3)), frozen_at=frozen_at
    )
    return Sheet(name=name, layout=layout, rows=rows, footer=name)


def _table_rows(widths: Sequence[float], lines: Sequence[Sequence[str | Decimal]]) -> Iterator[Row]:
    for values in lines:
        cells: list[Cell] = []
        for value in values:
            if isinstance(value, Decimal):
                cells += number_cells((value,))
            else:
                cells.append(Cell(harmless(value), Style.NEUTRAL))
        heights = (text_height(str(value), width) for value, width in zip(values, widths, strict=True))
        yield Row(tuple(cells), height=max(17, *heights))
