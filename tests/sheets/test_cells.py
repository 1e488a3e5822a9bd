"""How high text is in a cell."""

import pytest

from trainer.sheets.cells import text_height

ONE, TWO, THREE = (round(lines * 12.2 + 3, 1) for lines in (1, 2, 3))


@pytest.mark.parametrize(
    ("text", "height"),
    [
        ("", ONE),
        ("ten digits", ONE),
        ("1234567890", ONE),
        ("12345678901", TWO),
        ("12345 678901", TWO),
        ("1234567 1234567 1234567", THREE),
        ("1\n2\n3", THREE),
        ("iiiiiiiiiiiiiii", ONE),
        ("mmmmmmmmmmm", TWO),
        ("\u65e5\u672c\u8a9e\u65e5\u672c\u8a9e\u65e5", TWO),
    ],
)
def test_text_is_as_high_as_its_lines(text: str, height: float):
    """In a column of 13, ten digits wide without its inset."""
    assert text_height(text, 13) == height
