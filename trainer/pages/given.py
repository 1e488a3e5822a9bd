"""Tables of what is given, and of what was found of a network with faults."""

from collections.abc import Iterator

from trainer.lab.brief import GivenTable, found_sheets
from trainer.lab.form import Answers
from trainer.lab.scenario import Scenario
from trainer.pages import blocks
from trainer.pages.blocks import Table

__all__ = ["as_table", "found_sections"]

_SHORT = 17
"""Characters of a MAC address; a column of such words is not broken."""


def as_table(table: GivenTable) -> Table:
    """A table of sheet Given."""
    short = (
        column
        for column in range(len(table.headings))
        if all(len(row[column]) <= _SHORT and " " not in row[column] for row in table.rows)
    )
    return Table(
        title=table.title,
        headings=table.headings,
        rows=tuple(tuple((text,) for text in row) for row in table.rows),
        unbroken=frozenset(short),
    )


def found_sections(scenario: Scenario, key: Answers, *, is_for_screen: bool = False) -> Iterator[blocks.Section]:
    """What was found on every device of a fault-finding lab; nothing of another."""
    for name, tables in found_sheets(scenario, key).items():
        inside = tuple(as_table(table) for table in tables)
        yield blocks.Section(title=name, blocks=inside, is_for_screen=is_for_screen)
