"""A page for whoever needs large letters: the same texts, with broad tables told row by row."""

from collections.abc import Iterator
from dataclasses import replace

from trainer.pages.blocks import Block, Card, Document, Fold, Section, Table, Words, plain

__all__ = ["enlarged"]

_MOST_COLUMNS = 3
"""Of a table that has room for letters of 18 points."""


def enlarged(document: Document) -> Document:
    """The document as it is printed in large letters; nothing that is folded on a screen or left to it is lost."""
    return replace(document, blocks=tuple(_each(document.blocks)), is_wide=False)


def _each(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        match block:
            case Section():
                yield replace(block, blocks=tuple(_each(block.blocks)), is_landscape=False, on_new_page=False)
            case Card() | Fold():
                yield replace(block, blocks=tuple(_each(block.blocks)))
            case Table() if len(block.headings) > _MOST_COLUMNS:
                yield _row_by_row(block)
            case Table():
                narrow = block.unbroken if len(block.headings) < _MOST_COLUMNS else frozenset[int]()
                yield replace(block, in_two=False, codes=frozenset(), unbroken=narrow)
            case _:
                yield block


def _row_by_row(table: Table) -> Section:
    """A small table for each group of rows, called by what its first cell says."""
    tables = []
    for number, group in enumerate(table.groups, 1):
        first = group[0][0]
        name = plain(first) if table.names_rows and isinstance(first, tuple) else f"Row {number}"
        from_column = 1 if table.names_rows else 0
        if len(group) > 1:
            headings = table.headings[from_column:]
            rows = tuple(row[from_column:] for row in group)
        else:
            headings = (table.headings[0], name) if table.names_rows else ("Column", "Value")
            heads: tuple[Words, ...] = tuple((heading,) for heading in table.headings[from_column:])
            rows = tuple(zip(heads, group[0][from_column:], strict=True))
        tables.append(
            Table(title=name, headings=headings, rows=rows, is_form=table.is_form, shows_title=len(group) > 1)
        )
    return Section(title=table.title, blocks=tuple(tables))
