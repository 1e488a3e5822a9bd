"""How sheets come on paper: one page wide, or two where one would be too small to read, and no page for a few rows alone."""

from collections.abc import Sequence

from trainer.sheets.book import PrintSetup, Row

__all__ = ["print_setup", "room_beside"]

_DEFAULT_HEIGHT = 12.8
"""Of a row that has none of its own, in points."""
_A4 = (595, 842)
"""Points."""
_MARGINS = 72
"""Left and right together, in points."""
_READABLE = 0.82
"""Text of 10 points scaled down so far is still a little larger than 8."""
_SMALLER = 0.8
"""What a sheet may be scaled down by to save it a page with a few rows."""


def print_setup(
    rows: Sequence[Row],
    widths: Sequence[float],
    *,
    landscape: bool,
    is_to_read: bool = False,
    may_be_two_wide: bool = False,
    head_rows: tuple[int, int] | None = None,
) -> PrintSetup:
    """One page wide. A sheet whose last page would hold a few rows only is made a little smaller.

    is_to_read: where that leaves 8 points, one page as high, too; a sheet that is too broad for it is turned.

    may_be_two_wide: whether a sheet that would come out in less than 8 points may take two pages side by side.
    """
    if is_to_read:
        landscape = (_A4[0] - _MARGINS) / _breadth(widths) < _READABLE
    across = _A4[1] if landscape else _A4[0]
    if may_be_two_wide and (across - _MARGINS) / _breadth(widths) < _READABLE:
        return PrintSetup(is_landscape=landscape, pages_wide=2, pages_high=0, head_rows=head_rows)
    if is_to_read:
        high = 1 if _fits(rows, widths, landscape) else 0
    else:
        high = _pages_to_fit(rows, widths, landscape, head_rows or (1, 0))
    return PrintSetup(is_landscape=landscape, pages_high=high, head_rows=head_rows)


def room_beside(widths: Sequence[float]) -> float:
    """How broad another column may be beside these, so that a turned page has letters of 8 points; less than 0 where none."""
    return ((_A4[1] - _MARGINS) / _READABLE - _breadth(widths) - 4) / 6


def _pages_to_fit(rows: Sequence[Row], widths: Sequence[float], landscape: bool, head_rows: tuple[int, int]) -> int:
    """The pages a sheet shall fit into: one less than it needs, where that makes it only a little smaller; 0 for any."""
    short, long = _A4
    across, down = (long, short) if landscape else (short, long)
    scale = min(1.0, (across - _MARGINS) / _breadth(widths))
    last = max((number for number, row in enumerate(rows, 1) if row.cells), default=0)
    heights = [row.height or _DEFAULT_HEIGHT for row in rows[:last]]
    needed, fewer = (_pages(heights, (down - 87) / (scale * smaller), head_rows) for smaller in (1, _SMALLER))
    return fewer if fewer < needed else 0


def _fits(rows: Sequence[Row], widths: Sequence[float], landscape: bool) -> bool:
    """Whether all rows come on one page in letters of 8 points or more."""
    across, down = (_A4[1], _A4[0]) if landscape else _A4
    height = sum(row.height or _DEFAULT_HEIGHT for row in rows)
    return min(1.0, (across - _MARGINS) / _breadth(widths), (down - 87) / height) >= _READABLE


def _breadth(widths: Sequence[float]) -> float:
    """Of the columns together, in points."""
    return sum(6 * width + 4 for width in widths)


def _pages(heights: Sequence[float], room: float, head_rows: tuple[int, int]) -> int:
    """How many pages of so many points the rows fill when the head is repeated on each."""
    head = sum(heights[head_rows[0] - 1 : head_rows[1]])
    pages, used = 1, 0.0
    for each in heights:
        if used and used + each > room:
            pages, used = pages + 1, head
        used += each
    return pages
