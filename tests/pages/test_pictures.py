"""A class's results as pictures: the right bars, as long as they should be, and told in words."""

import re
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest
from picture_parts import SVG, faults, parts, view_box

from trainer.pages.pictures import draw_marks
from trainer.pages.svg import DARK, Drawing

CLASS = tuple(map(Decimal, ("0", "9.999", "10", "55", "59.5", "60", "89.9", "90", "99.428", "100")))


def bars(picture: Drawing) -> list[tuple[list[str], list[ET.Element]]]:
    """The texts and the dark rectangles of each bar."""
    svg, _, _ = parts(picture)
    groups = [group for group in svg.iter(f"{SVG}g") if group.get("data-part") == "bar"]
    return [
        (
            [text.text for text in group.iter(f"{SVG}text")],
            [rect for rect in group.iter(f"{SVG}rect") if rect.attrib["fill"] == DARK],
        )
        for group in groups
    ]


def test_marks_are_counted_in_steps_of_ten_and_a_hundred_is_in_the_last():
    counts = [int(texts[0]) for texts, _ in bars(draw_marks(CLASS))]
    assert counts == [2, 1, 0, 0, 0, 2, 1, 0, 1, 3]


def test_a_step_without_marks_has_a_nought_and_no_bar_and_others_are_as_high_as_their_count():
    heights = [sum(float(rect.attrib["height"]) for rect in rects) for _, rects in bars(draw_marks(CLASS))]
    assert heights == pytest.approx([count * max(heights) / 3 for count in (2, 1, 0, 0, 0, 2, 1, 0, 1, 3)], abs=0.02)


def test_the_marks_are_told_in_words():
    picture = draw_marks(CLASS)
    assert picture.title == "Marks of 10 trainees"
    assert picture.description == (
        "2 from 0 to under 10 per cent, 1 from 10 to under 20 per cent, 2 from 50 to under 60 per cent, 1 from 60 to under "
        "70 per cent, 1 from 80 to under 90 per cent, 3 from 90 to 100 per cent."
    )
    assert draw_marks(()).description == "Nobody has marks yet."
    assert draw_marks(CLASS[:1]).title == "Marks of 1 trainee"


@pytest.mark.parametrize(
    "picture",
    [
        draw_marks(CLASS),
        draw_marks(()),
        draw_marks((Decimal(50),) * 1000),
    ],
    ids=["marks", "no marks", "many marks"],
)
def test_no_label_meets_another_or_crosses_a_shape(picture):
    svg, _, texts = parts(picture)
    assert faults(picture) == []
    assert svg.attrib["role"] == "img"
    assert svg.attrib["aria-labelledby"].split() == re.findall(r' id="(\w+)"', picture.svg)
    assert min(float(text.element.attrib["font-size"]) for text in texts) * 180 / 25.4 * 72 / view_box(svg).right >= 7
