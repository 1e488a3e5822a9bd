"""The look of our workbooks: few colours, readable in black and white, state never by colour alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from trainer.sheets.book import Style

__all__ = ["FONT", "INK", "LOOKS", "THEME", "Frame", "Look"]

FONT = "DejaVu Sans"
"""A free font; a program that lacks it takes its own."""

INK = "FF16232E"
_MUTED, _DEEP, _LINE = "FF4A5A66", "FF234152", "FF9FAFB8"
_STRAW, _MIST, _WHITE = "FFFFF9E3", "FFE3EAEE", "FFFFFFFF"
_GOOD, _HALF, _BAD = "FFE4F1E6", "FFFDF0CF", "FFF9E0DC"


@dataclass(frozen=True, slots=True)
class Frame:
    """The lines around a cell."""

    weight: Literal["thin", "medium"]
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How cells of a style look. Colours are ARGB, eight hexadecimal digits."""

    size: float = 10
    """Of the lettering, in points."""
    is_bold: bool = False
    colour: str = INK
    """Of the lettering."""
    fill: str | None = None
    """The colour behind it."""
    frame: Frame | None = None
    """With one, the text stands a little away from it."""
    is_locked: bool = True
    """Whether nothing can be typed here while the sheet is protected."""
    wraps: bool = True
    """Whether text goes on in a further line at the end of the column."""
    horizontal: Literal["left", "right"] = "left"
    vertical: Literal["top", "center"] = "center"


_THIN, _THICK, _DARK = Frame("thin", _LINE), Frame("medium", _DEEP), Frame("thin", _DEEP)

LOOKS: Mapping[Style, Look] = {
    Style.TITLE: Look(size=14, is_bold=True, colour=_DEEP, wraps=False),
    Style.IDENTITY: Look(is_bold=True, wraps=False),
    Style.PLAIN: Look(wraps=False),
    Style.NOTE: Look(size=9, colour=_MUTED, wraps=False),
    Style.HEADING: Look(size=11, is_bold=True, colour=_DEEP, wraps=False),
    Style.LABEL: Look(is_bold=True, vertical="top", wraps=False),
    Style.TEXT: Look(vertical="top"),
    Style.COLUMN: Look(is_bold=True, colour=_WHITE, fill=_DEEP, frame=_DARK),
    Style.NUMBER_COLUMN: Look(is_bold=True, colour=_WHITE, fill=_DEEP, frame=_DARK, horizontal="right"),
    Style.SMALL: Look(size=9, colour=_MUTED, frame=_THIN, vertical="top"),
    Style.STEP: Look(frame=_THIN, vertical="top"),
    Style.GIVEN: Look(fill=_MIST, frame=_THIN),
    Style.ASKED: Look(fill=_STRAW, frame=_THICK, is_locked=False),
    Style.KEY: Look(is_bold=True, fill=_STRAW, frame=_THICK),
    Style.RIGHT: Look(fill=_GOOD, frame=_THIN),
    Style.PARTLY: Look(fill=_HALF, frame=_THIN),
    Style.WRONG: Look(fill=_BAD, frame=_THIN),
    Style.NEUTRAL: Look(frame=_THIN),
    Style.NUMBER: Look(frame=_THIN, horizontal="right"),
}


def _theme() -> bytes:
    """A theme of our own colours and one font, so that nothing of the library's stands in our files."""
    names = ("dk1", "lt1", "dk2", "lt2", *(f"accent{n}" for n in range(1, 7)), "hlink", "folHlink")
    colours = (
        *(INK, _WHITE, _DEEP, _MIST, _DEEP, "FF3E6C7F", "FF7A8F3C", "FFB5843A", "FF8C4A3F", "FF5B5F73"),
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
