"""The head of a sheet: what it is, of which lab, and whose. It stands on every sheet, because every other place gets lost."""

from trainer.lab.scenario import Scenario
from trainer.sheets.book import Cell, Row, Style
from trainer.sheets.placement import LAB_LABEL, TRAINEE_LABEL

__all__ = ["identity_rows"]


def identity_rows(scenario: Scenario, name: str, *, kind: str) -> tuple[Row, Row, Row]:
    """Rows 1 to 3 of the sheet of that name. kind: words in front of the name, such as "Marked - "; "" for none."""
    return (
        Row((Cell(f"{kind}{name}   ({scenario.exercise_code}, {scenario.title})", Style.TITLE),), height=22),
        Row((Cell(LAB_LABEL, Style.IDENTITY), Cell(scenario.lab_number, Style.IDENTITY))),
        Row((Cell(TRAINEE_LABEL, Style.IDENTITY), Cell(scenario.trainee.called, Style.PLAIN))),
    )
