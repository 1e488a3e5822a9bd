"""Pictures of a class's results: how the marks are spread, and shares as bars."""

from collections.abc import Sequence
from decimal import Decimal

from trainer.listing import how_many
from trainer.pages.lettering import clean, fitted
from trainer.pages.svg import DARK, INK, MUTED, RULE, Drawing, Sheet

__all__ = ["draw_marks"]

_WIDTH, _MARGIN = 600.0, 14.0
_TEXT, _LINE, _DROP = 10.5, 14.0, 3.8
_HEAD = 36.0
"""Height of the title with the line below it."""
_TALLEST_BAR = 130.0
_STEPS = 10


def draw_marks(percents: Sequence[Decimal]) -> Drawing:
    """How many of a class have how many marks, in ten steps of ten per cent; 100 belongs to the last.

    percents: 0 to 100, those alone who handed something in.
    """
    counts = [0] * _STEPS
    for percent in percents:
        counts[min(int(percent // _STEPS), _STEPS - 1)] += 1
    title = f"Marks of {how_many(len(percents), 'trainee')}"
    sheet = Sheet(_WIDTH, _HEAD + 2 * _MARGIN + _TALLEST_BAR + 3 * _LINE)
    _heading(sheet, title)
    floor = _HEAD + _MARGIN + _LINE + _TALLEST_BAR
    step = (_WIDTH - 4 * _MARGIN) / _STEPS
    most = max(1, *counts)
    for place, count in enumerate(counts):
        x = 2 * _MARGIN + place * step
        with sheet.part("bar", f"{place * _STEPS}"):
            height = _TALLEST_BAR * count / most
            if count:
                sheet.rect(x + 4, floor - height, step - 8, height, fill=DARK, stroke=INK)
            fill = INK if count else MUTED
            sheet.text(
                x + step / 2, floor - height - 5, str(count), _TEXT, fill=fill, is_bold=count > 0, anchor="middle"
            )
    sheet.line((2 * _MARGIN, floor), (_WIDTH - 2 * _MARGIN, floor))
    for edge in range(_STEPS + 1):
        x = 2 * _MARGIN + edge * step
        sheet.line((x, floor), (x, floor + 4))
        sheet.text(x, floor + 4 + _LINE - 2, str(edge * _STEPS), _TEXT, anchor="middle")
    sheet.text(_WIDTH / 2, floor + 4 + 2 * _LINE, "per cent", _TEXT, fill=MUTED, anchor="middle")
    return sheet.drawing(title, _told(counts))


def _told(counts: Sequence[int]) -> str:
    steps = [
        f"{count} from {place * _STEPS} to {'100' if place == _STEPS - 1 else f'under {(place + 1) * _STEPS}'} per cent"
        for place, count in enumerate(counts)
        if count
    ]
    return f"{', '.join(steps)}." if steps else "Nobody has marks yet."


def _heading(sheet: Sheet, title: str) -> None:
    (line,) = fitted(clean(title), _WIDTH - 2 * _MARGIN, 12, most_lines=1, is_bold=True).lines
    sheet.text(_MARGIN, _MARGIN + 11, line, 12, fill=DARK, is_bold=True)
    sheet.line((_MARGIN, _HEAD - 3), (_WIDTH - _MARGIN, _HEAD - 3), stroke=RULE)
