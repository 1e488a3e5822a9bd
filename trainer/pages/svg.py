"""A sheet to draw on: plain SVG 1.1 shapes and lines of text with presentation attributes only.

Every text is escaped where it becomes part of an element, so nothing that others wrote can become markup; all else in an
element is ours. Nothing outside is referred to, and only what both browsers and typesetters draw is used; text stands on
its baseline, without a baseline attribute.
"""

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from html import escape

from trainer.pages.lettering import clean

__all__ = ["DARK", "FILL", "INK", "MUTED", "PAPER", "RULE", "WIDTH", "Drawing", "Sheet"]

INK, DARK, MUTED, RULE, FILL, PAPER = "#16232e", "#234152", "#4a5a66", "#6b7b85", "#eef2f4", "#ffffff"
"""Every one keeps its place between black and white without its hue; text is INK, DARK or MUTED on PAPER or FILL, or
PAPER on DARK, which is 4.5:1 at least (WCAG 2.2, 1.4.3)."""

FONTS = "DejaVu Sans, Liberation Sans, Noto Sans, sans-serif"
"""The widest first, which lettering measures by; none of them has to be there."""

WIDTH = 680
"""Of every picture in CSS pixels, 96 an inch: 180 mm, what an A4 page upright holds between its margins."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A picture."""

    svg: str
    """One svg element that refers to nothing outside; its own title and description are what a screen reader tells."""
    title: str
    description: str
    """What it shows, in sentences."""
    width: int
    """In CSS pixels: always 680, which is 180 mm."""
    height: int


class Sheet:
    """A white sheet. Lengths are in user units; y grows downwards."""

    def __init__(self, width: float, height: float) -> None:
        self.width = width
        self.height = height
        self._drawn: list[str] = []
        """Elements, and the tags of parts around them."""
        self.rect(0.5, 0.5, width - 1, height - 1, fill=PAPER, stroke=RULE, corner=4)

    @contextmanager
    def part(self, part: str, name: str, title: str = "") -> Iterator[None]:
        """What is drawn inside belongs to this part of the picture; the title is shown where a mouse rests on it."""
        self._drawn.append(_tag("g", {"data-part": part, "data-name": clean(name)}) + ">")
        if title:
            self._drawn.append(_element("title", {}, clean(title)))
        yield
        self._drawn.append("</g>")

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = "none",
        stroke: str = "none",
        thickness: float = 1,
        corner: float = 0,
    ) -> None:
        """A rectangle; x and y are its upper left corner."""
        self._drawn.append(
            f'<rect x="{_number(x)}" y="{_number(y)}" width="{_number(width)}" height="{_number(height)}" '
            f'rx="{_number(corner)}" stroke-width="{_number(thickness)}" fill="{fill}" stroke="{stroke}" />'
        )

    def line(self, *points: Point, stroke: str = INK, thickness: float = 1) -> None:
        """A line through points."""
        path = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
        self._drawn.append(
            f'<polyline points="{path}" fill="none" stroke="{stroke}" stroke-width="{_number(thickness)}" '
            'stroke-linejoin="round" />'
        )

    def circle(self, x: float, y: float, radius: float, *, fill: str, stroke: str) -> None:
        """A circle round x, y."""
        self._drawn.append(
            f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" fill="{fill}" stroke="{stroke}" />'
        )

    def text(
        self,
        x: float,
        baseline: float,
        text: str,
        size: float,
        *,
        fill: str = INK,
        is_bold: bool = False,
        anchor: str = "start",
    ) -> None:
        """A line of text; anchor: which part of it stands at x, start, middle or end."""
        weight = ' font-weight="bold"' if is_bold else ""
        place = f' text-anchor="{anchor}"' if anchor != "start" else ""
        begin = (
            f'<text x="{_number(x)}" y="{_number(baseline)}" font-size="{_number(size)}" fill="{fill}"{weight}{place}'
        )
        self._drawn.append(_with_text(begin, "text", clean(text)))

    def drawing(self, title: str, description: str) -> Drawing:
        """The finished picture, 180 mm wide on paper."""
        title, description = clean(title), clean(description)
        height = round(self.height * WIDTH / self.width)
        inside = f"{_tag('g', {'font-family': FONTS})}>{''.join(self._drawn)}</g>"
        mark = hashlib.sha256(f"{title}\n{description}\n{inside}".encode()).hexdigest()[:10]
        head = _tag(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "width": str(WIDTH),
                "height": str(height),
                "viewBox": f"0 0 {_number(self.width)} {_number(self.height)}",
                "role": "img",
                "aria-labelledby": f"t{mark} d{mark}",
            },
        )
        told = _element("title", {"id": f"t{mark}"}, title) + _element("desc", {"id": f"d{mark}"}, description)
        svg = f"{head}>{told}{inside}</svg>"
        return Drawing(svg=svg, title=title, description=description, width=WIDTH, height=height)


def _element(tag: str, attributes: Mapping[str, str], text: str = "") -> str:
    return _with_text(_tag(tag, attributes), tag, text)


def _with_text(begin: str, tag: str, text: str) -> str:
    """An element, from its tag that is not closed yet."""
    return f"{begin}>{escape(text, quote=False)}</{tag}>" if text else f"{begin} />"


def _tag(tag: str, attributes: Mapping[str, str]) -> str:
    """A tag that is not closed yet. An attribute's text is escaped for quotation marks around it (XML 1.0, 2.3)."""
    return f"<{tag}" + "".join([f' {name}="{_quoted(text)}"' for name, text in attributes.items()])


@lru_cache(maxsize=4096)
def _quoted(text: str) -> str:
    return escape(text, quote=False).replace('"', "&quot;")


@lru_cache(maxsize=4096)
def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
