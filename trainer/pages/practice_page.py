"""A sheet of a practice lab as a page with a form that works without JavaScript: a table of labelled inputs."""

from collections.abc import Mapping
from dataclasses import dataclass

from trainer.pages.blocks import Block
from trainer.pages.html import filled_in

__all__ = ["CellView", "OverView", "RemarkView", "RowView", "SheetView", "Tab", "over_html", "sheet_html"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellView:
    """A cell to fill in."""

    id: str
    """As on the sheet: "D7"."""
    field: str
    """What it is called when it is sent."""
    heading: str
    row: str
    value: str
    width: int
    """Characters that its values have at most, usually."""
    is_fixed: bool
    """Whether it stands there filled in."""
    verdict: str
    """What was found of the value that stands there: "right", "not yet", "near, not yet right"; "" where it was not looked at."""
    in_file: str | None
    """What the workbook holds by now, where that is neither what was shown nor what was typed; else None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowView:
    """A row of the sheet."""

    given: tuple[str, ...]
    """The printed cells, the row's label first."""
    cells: tuple[CellView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RemarkView:
    """What is said of some cells."""

    text: str
    cells: tuple[str, ...]
    """Their names on this sheet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """A sheet, as it is called in the list of all."""

    place: str
    title: str
    done: str
    """Such as "12 of 28"; "" where nothing was looked at yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetView:
    """What stands on the page."""

    token: str
    place: str
    """The sheet's id."""
    base: str
    """What the values that are shown are known by, so that it is noticed when the workbook was changed meanwhile."""
    lab: str
    title: str
    asks: str
    note: str
    tabs: tuple[Tab, ...]
    given_headings: tuple[str, ...]
    headings: tuple[str, ...]
    rows: tuple[RowView, ...]
    choices: Mapping[str, tuple[str, ...]]
    """By heading all that can be written, where that is a short list; else nothing."""
    given: tuple[Block, ...]
    """What is given, on every sheet."""
    asks_network: bool
    """Whether tables and what was seen are asked for one by one."""
    troubles: tuple[str, ...] = ()
    """What could not be done."""
    news: tuple[str, ...] = ()
    remarks: tuple[RemarkView, ...] = ()
    ending: tuple[str, ...] = ()
    next: RemarkView | None = None
    said: tuple[str, ...] = ()
    """What was asked for: a hint, a reason, steps, an answer."""
    about: str = ""
    """The cell that it was asked for."""
    number: str
    """Of the lab."""
    others: tuple[tuple[str, str], ...]
    """Ids and titles of the sheets that another lab may ask alone."""
    another: str | None = None
    """The sheet of which another lab is wanted, "" for all, where that is to be confirmed."""
    written: int = 0
    """So many cells the learner has written, where that is to be confirmed."""

    @property
    def is_changed_meanwhile(self) -> bool:
        """Whether the workbook holds other values than those that are shown."""
        return any(cell.in_file is not None for row in self.rows for cell in row.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class OverView:
    """The last page."""

    lab: str
    said: tuple[str, ...]


def sheet_html(view: SheetView) -> bytes:
    """The page of a sheet. Everything that is filled in is escaped."""
    return filled_in("practice.html.j2", view=view)


def over_html(view: OverView) -> bytes:
    """The page that says that the program has ended."""
    return filled_in("over.html.j2", view=view)
