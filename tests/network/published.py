"""The published check values in tests/cases/facts, read as they stand there."""

import csv
from pathlib import Path

FACTS = Path(__file__).parents[1] / "cases" / "facts"


def rows_of(table: str) -> list[dict[str, str]]:
    """The rows of a table, one dict for each, by heading."""
    with (FACTS / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
