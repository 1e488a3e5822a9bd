"""The look of our workbooks: few colours, readable in black and white, state never by colour alone.

Named styles are made once for a workbook: that is what makes writing cheap.
"""

from collections.abc import Callable
from copy import copy
from typing import Literal
from weakref import WeakKeyDictionary

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side
from openpyxl.styles.cell_style import StyleArray
from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["FONT", "THEME", "dress", "set_default_font"]

FONT = "DejaVu Sans"
"""A free font; a program that lacks it takes its own."""

_INK, _MUTED, _DEEP, _LINE = "FF16232E", "FF4A5A66", "FF234152", "FF9FAFB8"
_STRAW, _MIST, _WHITE = "FFFFF9E3", "FFE3EAEE", "FFFFFFFF"
_GOOD, _HALF, _BAD = "FFE4F1E6", "FFFDF0CF", "FFF9E0DC"


def _fill(colour: str) -> PatternFill:
    return PatternFill("solid", start_color=colour, end_color=colour)


def _border(weight: Literal["thin", "medium"], colour: str) -> Border:
    side = Side(style=weight, color=colour)
    return Border(left=side, right=side, top=side, bottom=side)


def _style(
    name: str,
    *,
    size: float = 10,
    bold: bool = False,
    colour: str = _INK,
    fill: str | None = None,
    border: Border | None = None,
    asked: bool = False,
    wrap: bool = True,
    across: str = "left",
    up: str = "center",
) -> NamedStyle:
    return NamedStyle(
        name=name,
        font=Font(name=FONT, size=size, bold=bold, color=colour),
        fill=_fill(fill) if fill else PatternFill(),
        border=border or Border(),
        alignment=Alignment(wrap_text=wrap, horizontal=across, vertical=up, indent=1 if border else 0),
        number_format="@",
        protection=Protection(locked=not asked),
    )


_THIN, _FRAME = _border("thin", _LINE), _border("medium", _DEEP)
_STYLES: dict[str, Callable[[], NamedStyle]] = {
    "title": lambda: _style("title", size=14, bold=True, colour=_DEEP, wrap=False),
    "identity": lambda: _style("identity", bold=True, wrap=False),
    "plain": lambda: _style("plain", wrap=False),
    "note": lambda: _style("note", size=9, colour=_MUTED, wrap=False),
    "heading": lambda: _style("heading", size=11, bold=True, colour=_DEEP, wrap=False),
    "label": lambda: _style("label", bold=True, up="top", wrap=False),
    "text": lambda: _style("text", up="top"),
    "column": lambda: _style("column", bold=True, colour=_WHITE, fill=_DEEP, border=_border("thin", _DEEP)),
    "number column": lambda: _style(
        "number column", bold=True, colour=_WHITE, fill=_DEEP, border=_border("thin", _DEEP), across="right"
    ),
    "small": lambda: _style("small", size=9, colour=_MUTED, border=_THIN, up="top"),
    "given": lambda: _style("given", fill=_MIST, border=_THIN),
    "asked": lambda: _style("asked", fill=_STRAW, border=_FRAME, asked=True),
    "key": lambda: _style("key", bold=True, fill=_STRAW, border=_FRAME),
    "right": lambda: _style("right", fill=_GOOD, border=_THIN),
    "partly": lambda: _style("partly", fill=_HALF, border=_THIN),
    "wrong": lambda: _style("wrong", fill=_BAD, border=_THIN),
    "neutral": lambda: _style("neutral", border=_THIN),
    "number": lambda: _style("number", border=_THIN, across="right"),
}
_WORN: WeakKeyDictionary[Workbook, dict[str, StyleArray]] = WeakKeyDictionary()
"""For each workbook the styles it has so far, in the form in which openpyxl keeps them with a cell."""


def dress(cell: Cell, name: str) -> None:
    """Gives a cell one of our named styles.

    The first cell of a workbook that wears a style gets it the public way; the others get a copy of what that left
    in the cell, which is a good deal cheaper (see tests/bench).
    """
    sheet = cell.parent
    assert isinstance(sheet, Worksheet)
    workbook = sheet.parent
    assert workbook is not None
    worn = _WORN.setdefault(workbook, {})
    if name in worn:
        cell._style = copy(worn[name])  # type: ignore[attr-defined]  # noqa: SLF001
    else:
        cell.style = _STYLES[name]()
        worn[name] = copy(cell._style)  # type: ignore[attr-defined]  # noqa: SLF001


def set_default_font(workbook: Workbook) -> None:
    """Makes our font the one of cells without a style, in place of the library's."""
    normal = workbook._named_styles["Normal"]  # type: ignore[attr-defined]  # noqa: SLF001
    normal.font = Font(name=FONT, size=10, color=_INK)
    workbook._fonts[0] = normal.font  # type: ignore[attr-defined]  # noqa: SLF001


def _theme() -> bytes:
    """A theme of our own colours and one font, so that nothing of the library's stands in our files."""
    names = ("dk1", "lt1", "dk2", "lt2", *(f"accent{n}" for n in range(1, 7)), "hlink", "folHlink")
    colours = (
        *(_INK, _WHITE, _DEEP, _MIST, _DEEP, "FF3E6C7F", "FF7A8F3C", "FFB5843A", "FF8C4A3F", "FF5B5F73"),
        *(_DEEP, _MUTED),
    )
    scheme = "".join(
        f'<a:{name}><a:srgbClr val="{colour[2:]}"/></a:{name}>' for name, colour in zip(names, colours, strict=True)
    )
    font = f'<a:latin typeface="{FONT}"/><a:ea typeface=""/><a:cs typeface=""/>'
    fill = '<a:solidFill><a:schemeClr val="phClr"/></a:solidFill>'
    line = f"<a:ln>{fill}</a:ln>"
    effect = "<a:effectStyle><a:effectLst/></a:effectStyle>"
    return (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
        '<a:theme xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" name="hopsheet"><a:themeElements>'
        f'<a:clrScheme name="hopsheet">{scheme}</a:clrScheme>'
        f'<a:fontScheme name="hopsheet"><a:majorFont>{font}</a:majorFont><a:minorFont>{font}</a:minorFont></a:fontScheme>'
        f'<a:fmtScheme name="hopsheet"><a:fillStyleLst>{fill * 3}</a:fillStyleLst><a:lnStyleLst>{line * 3}</a:lnStyleLst>'
        f"<a:effectStyleLst>{effect * 3}</a:effectStyleLst><a:bgFillStyleLst>{fill * 3}</a:bgFillStyleLst></a:fmtScheme>"
        "</a:themeElements></a:theme>"
    ).encode()


THEME = _theme()
