"""What a workbook is made of. Every workbook is a Book of sheets; saving.py and
openpyxl_file.py know how a file of it looks, nothing else does.

What a sheet is like whatever stands in its cells is a Layout: sheets of one kind have equal ones, which can be told by
their hash.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

__all__ = ["Book", "Cell", "DropDown", "Layout", "PrintSetup", "Row", "Sheet", "Style", "cells_of"]


class Style(StrEnum):
    """What a cell is for. How that looks stands in style.py; the word is the style's name in the file."""

    TITLE = "title"
    IDENTITY = "identity"
    """Which lab it is, and whose."""
    PLAIN = "plain"
    """A line that may run on over the cells to its right."""
    NOTE = "note"
    HEADING = "heading"
    """Of a part of a sheet."""
    LABEL = "label"
    TEXT = "text"
    """As many lines as it needs, beside a label."""
    COLUMN = "column"
    """Heading of a column, and the total below it."""
    NUMBER_COLUMN = "number column"
    SMALL = "small"
    """What may be written in a column, and what it does."""
    STEP = "step"
    """What is done, in a framed table to read."""
    GIVEN = "given"
    ASKED = "asked"
    """To be written in: the only cells that are not locked."""
    KEY = "key"
    RIGHT = "right"
    PARTLY = "partly"
    WRONG = "wrong"
    NEUTRAL = "neutral"
    NUMBER = "number"


class Cell(NamedTuple):
    """One cell. Text is text whatever it looks like: nothing becomes a formula, a date or a number."""

    value: str | Decimal
    """A number is one that can be reckoned with, shown with three decimals at most; "" leaves the cell blank."""
    style: Style


class Row(NamedTuple):
    """A row of a sheet; Row() is one in which nothing stands."""

    cells: tuple[Cell, ...] = ()
    """From column A on, without a gap."""
    height: float | None = None
    """Points; None for that of a line."""


@dataclass(frozen=True, slots=True)
class DropDown:
    """A list to choose from; other text is allowed after a warning, so that nobody is locked out of a cell."""

    choices: tuple[str, ...]
    """Without commas and quotation marks; 255 characters in all."""
    cells: str
    """A cell or a range, such as "B6:B14"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintSetup:
    """How a sheet comes on A4; paging.py works it out."""

    is_landscape: bool
    pages_wide: int = 1
    """1, or 2: then the first column stands on both pages."""
    pages_high: int
    """Pages that the sheet is made to fit into; 0 for as many as it needs."""
    head_rows: tuple[int, int] | None
    """The first and the last of the rows that are repeated on every page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What a sheet is like whatever stands in its cells."""

    widths: tuple[float, ...]
    """Of the columns from A on, in digits of our font."""
    printing: PrintSetup
    drop_downs: tuple[DropDown, ...] = ()
    frozen_at: str = ""
    """The rows above this cell and the columns to its left stay in sight; "" for none."""
    is_protected: bool = False
    """Whether cells can only be written in where their style says so. No password; looks may be changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet."""

    name: str
    layout: Layout
    rows: tuple[Row, ...]
    """From row 1 on, without a gap."""
    footer: str
    """On the left of every printed page, beside the page number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A workbook."""

    title: str
    sheets: tuple[Sheet, ...]
    identifier: str = ""
    """A core property: a spare for the lab number."""
    defined_names: tuple[tuple[str, str], ...] = ()
    """Names and the cells they stand for, such as ("lab_number", "Brief!$B$2")."""


def cells_of(values: Iterable[str | Decimal], style: Style) -> tuple[Cell, ...]:
    """Cells that look alike."""
    return tuple([Cell(value, style) for value in values])
