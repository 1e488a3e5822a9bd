"""A page for whoever needs large letters: the same texts, with drawings told in words as well, tables to fill in on turned pages
where those have room for them, and other broad tables told row by row.
"""

from collections.abc import Iterator
from dataclasses import replace

from trainer.pages.blocks import (
    Beside,
    Block,
    Card,
    Document,
    Figure,
    Fold,
    Paragraph,
    Section,
    Strong,
    Table,
    Words,
    plain,
)

__all__ = ["enlarged"]

_MOST_COLUMNS = 3
"""Of a table that has room for letters of 18 points on an upright page."""
_TURNED, _LETTER, _LEAST = 255, 3.6, 30
"""Millimetres: the room across a turned page, about what a letter of 18 points takes, and a column to write in."""
_LONG = 8
"""So many rows, and more, stand in two halves beside each other where there is room."""


def enlarged(document: Document) -> Document:
    """The document as it is printed in large letters; nothing that is folded on a screen or left to it is lost."""
    return replace(document, blocks=tuple(_each(document.blocks)), is_wide=False)


def _each(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        match block:
            case Section() if any(map(_has_room, block.blocks)):
                yield from _to_fill_in(block)
            case Section():
                yield replace(block, blocks=tuple(_each(block.blocks)), is_landscape=False, on_new_page=False)
            case Beside():
                yield from _each((*block.left, *block.right))
            case Card() | Fold():
                yield replace(block, blocks=tuple(_each(block.blocks)))
            case Figure():
                yield block
                yield Paragraph((Strong("In words: "), block.drawing.description))
            case Table() if len(block.headings) > _MOST_COLUMNS:
                yield _row_by_row(block)
            case Table():
                narrow = block.unbroken if len(block.headings) < _MOST_COLUMNS else frozenset[int]()
                yield replace(block, in_two=False, codes=frozenset(), unbroken=narrow)
            case _:
                yield block


def _to_fill_in(section: Section) -> Iterator[Section]:
    """Its tables in their order: those that a turned page has room for on turned pages, the others row by row on upright ones."""
    runs: list[tuple[bool, list[Block]]] = []
    for block in section.blocks:
        has_room = _has_room(block)
        if not runs or runs[-1][0] != has_room:
            runs.append((has_room, []))
        runs[-1][1].append(block)
    for number, (has_room, some) in enumerate(runs):
        inside = tuple(map(_turned, some)) if has_room else tuple(_each(tuple(some)))
        title = f"{section.title}, continued" if number else section.title
        yield replace(section, title=title, blocks=inside, is_landscape=has_room, on_new_page=not has_room)


def _has_room(block: Block) -> bool:
    """Whether it is a table to fill in that a turned page holds as it is."""
    return isinstance(block, Table) and block.is_form and _breadth(block) <= _TURNED


def _turned(block: Block) -> Block:
    assert isinstance(block, Table), "what has room on a turned page is a table"
    in_two = len(block.rows) >= _LONG and 2 * _breadth(block) <= _TURNED
    return replace(block, in_two=in_two, codes=frozenset(), unbroken=frozenset())


def _breadth(table: Table) -> float:
    """What its columns need at least, in millimetres: the longest word, and room to write where nothing is printed."""
    needed = 0.0
    for column, heading in enumerate(table.headings):
        cells = [row[column] for row in table.rows]
        texts = [heading, *(plain(cell) for cell in cells if isinstance(cell, tuple))]
        longest = max(len(word) for text in texts for word in text.split() or [""])
        is_written = not any(texts[1:])
        needed += max(longest * _LETTER + 4, _LEAST if is_written else 0)
    return needed


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
