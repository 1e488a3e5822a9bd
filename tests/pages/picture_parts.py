"""Takes a picture apart: its shapes and texts, the room each takes, and what meets that should not."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as ET

from trainer.pages.lettering import width_of
from trainer.pages.svg import Drawing

SVG = "{http://www.w3.org/2000/svg}"
ASCENT, DESCENT = 0.93, 0.24
"""Of the tallest font the pictures ask for, in parts of its size."""


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def holds(self, other: "Box") -> bool:
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True)
class Drawn:
    """A shape or a text in the picture, and the part it belongs to."""

    element: ET.Element
    part: ET.Element
    boxes: tuple[Box, ...]


def drawn(element: ET.Element, part: ET.Element) -> Iterator[Drawn]:
    for child in element:
        if child.tag == f"{SVG}g":
            yield from drawn(child, child)
        elif child.tag not in (f"{SVG}title", f"{SVG}desc"):
            yield Drawn(child, part, tuple(boxes_of(child)))


def boxes_of(element: ET.Element) -> Iterator[Box]:
    if element.tag == f"{SVG}rect":
        x, y, width, height = (float(element.attrib[name]) for name in ("x", "y", "width", "height"))
        yield Box(x, y, x + width, y + height)
    elif element.tag == f"{SVG}circle":
        x, y, radius = (float(element.attrib[name]) for name in ("cx", "cy", "r"))
        yield Box(x - radius, y - radius, x + radius, y + radius)
    elif element.tag == f"{SVG}polyline":
        points = [tuple(map(float, point.split(","))) for point in element.attrib["points"].split()]
        half = float(element.attrib["stroke-width"]) / 2
        for (x1, y1), (x2, y2) in pairwise(points):
            assert x1 == x2 or y1 == y2, "lines run along the axes"
            across, down = (half, 0) if x1 == x2 else (0, half)
            yield Box(min(x1, x2) - across, min(y1, y2) - down, max(x1, x2) + across, max(y1, y2) + down)
    else:
        assert element.tag == f"{SVG}text", element.tag
        size, x, y = (float(element.attrib[name]) for name in ("font-size", "x", "y"))
        width = width_of(element.text or "", size, is_bold=element.get("font-weight") == "bold")
        left = x - {"start": 0, "middle": width / 2, "end": width}[element.get("text-anchor", "start")]
        yield Box(left, y - ASCENT * size, left + width, y + DESCENT * size)


def parts(picture: Drawing) -> tuple[ET.Element, list[Drawn], list[Drawn]]:
    """The svg element, its shapes and its texts."""
    svg = ET.fromstring(picture.svg)
    everything = list(drawn(svg, svg))
    texts = [each for each in everything if each.element.tag == f"{SVG}text"]
    return svg, [each for each in everything if each not in texts], texts


def view_box(svg: ET.Element) -> Box:
    left, top, width, height = map(float, svg.attrib["viewBox"].split())
    return Box(left, top, left + width, top + height)


def faults(picture: Drawing) -> list[str]:
    """Texts that meet another text, leave the picture, stand half in a shape, or on a line."""
    svg, shapes, texts = parts(picture)
    paper = view_box(svg)
    found = [f"{each.element.attrib} leaves" for each in (*shapes, *texts) if not all(map(paper.holds, each.boxes))]
    areas = [(area, shape) for shape in shapes for area in shape.boxes]
    for place, text in enumerate(texts):
        (box,) = text.boxes
        top, bottom = box.top, box.bottom
        others = [each for each in texts[:place] if each.boxes[0].top < bottom and top < each.boxes[0].bottom]
        found += [f"{text.element.text} meets {each.element.text}" for each in others if box.meets(each.boxes[0])]
        near = [each for each in areas if each[0].top < bottom and top < each[0].bottom]
        found += [
            f"{text.element.text} crosses a {shape.element.tag} of {shape.part.attrib}"
            for area, shape in near
            if crosses(box, area, shape) and not is_sign_of(text, shape)
        ]
    return found


def is_sign_of(text: Drawn, shape: Drawn) -> bool:
    """Whether the text is a letter or a number inside a sign that consists of the shape."""
    return shape.part is text.part and text.part.get("data-part") in ("port", "mark", "legend")


def crosses(label: Box, area: Box, shape: Drawn) -> bool:
    is_line = shape.element.tag == f"{SVG}polyline"
    return label.meets(area) and (is_line or not area.holds(label))
