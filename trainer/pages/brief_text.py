"""The instructor's own words about an exercise: Markdown with a few values of the lab in it, turned into blocks.

A Markdown file can do no harm: its expressions are worked out by `brief_template.py`, its HTML is text, of its pictures
only the texts are shown, and whatever it does, its result is short.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib import resources
from itertools import pairwise
from urllib.parse import unquote

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markdown_it.tree import SyntaxTreeNode

from trainer.lab.brief import BriefPart
from trainer.lab.scenario import Scenario
from trainer.pages.blocks import (
    Bar,
    Block,
    Code,
    Emphasis,
    Inline,
    Listing,
    Notice,
    Paragraph,
    Section,
    Strong,
    Table,
    Typed,
    Words,
    plain,
    texts_of,
)
from trainer.pages.brief_template import BRIEF_WORDS, filled, refuse_unknown, unmarked

__all__ = ["BRIEF_WORDS", "brief_blocks", "brief_parts", "general_brief", "left_out", "own_blocks", "refuse_unknown"]


@cache
def general_brief() -> str:
    """The brief of exercises that have none of their own."""
    return resources.files("trainer.pages").joinpath("templates/brief.md").read_text(encoding="utf-8")


def brief_blocks(text: str, scenario: Scenario) -> tuple[Block, ...]:
    """The blocks of a brief for one lab.

    Raises TrainerError, without the file's name, where a line cannot be understood: which one, and what may stand there.
    """
    marked, values = filled(text, scenario)
    return tuple(_blocks(_parsed(marked), values, scenario.title))


def own_blocks(text: str) -> tuple[Block, ...]:
    """The blocks of Markdown that we wrote ourselves, with its values filled in."""
    return tuple(_blocks(_markdown().parse(text), (), ""))


def left_out(text: str, scenario: Scenario) -> tuple[str, ...]:
    """What of a brief a handout cannot show as it is meant, a line each: pictures and HTML.

    Raises TrainerError as brief_blocks does.
    """
    return _left_out_in(*filled(text, scenario))


def left_out_as_written(text: str) -> tuple[str, ...]:
    """The same of a brief whose values cannot be filled in."""
    return _left_out_in(text, [])


def _left_out_in(markdown: str, values: Sequence[str]) -> tuple[str, ...]:
    found = []
    for token in _with_html().parse(markdown):
        for each in (token, *(token.children or ())):
            words = unmarked(each.content, values).strip()
            if each.type == "image":
                found.append(f"the picture {each.attrs['src']} is not printed, only its text: {words or '(none)'}")
            elif each.type in ("html_block", "html_inline") and not words.startswith("</"):
                found.append(f"HTML is printed as it is written: {words.splitlines()[0]}")
    return tuple(dict.fromkeys(found))


def brief_parts(text: str, scenario: Scenario) -> tuple[BriefPart, ...]:
    """The same as headed lines, for a sheet of the lab's workbook: a paragraph, an item, a row of a table each.

    Raises TrainerError as brief_blocks does.
    """
    found: list[tuple[str, list[str]]] = [(scenario.title, [])]
    for block in brief_blocks(text, scenario):
        _add_lines(block, found)
    return tuple(BriefPart(title, tuple(("", line) for line in lines)) for title, lines in found if lines)


def _add_lines(block: Block, found: list[tuple[str, list[str]]]) -> None:
    """Adds what a block says to the last part; a section begins another."""
    lines = found[-1][1]
    match block:
        case Section():
            found.append((block.title, []))
            for each in block.blocks:
                _add_lines(each, found)
        case Paragraph() | Notice():
            lines.append(plain(block.words))
        case Listing():
            for number, item in enumerate(block.items, block.first or 0):
                label = "-" if block.first is None else f"{number}."
                lines.append(f"{label} {' '.join(texts_of(item))}")
        case Typed():
            lines.append(block.text)
        case Table():
            for row in (tuple((heading,) for heading in block.headings), *block.rows):
                lines.append(" | ".join("" if isinstance(cell, Bar) else plain(cell) for cell in row))
        case _:
            lines += texts_of((block,))


@lru_cache(maxsize=8)
def _parsed(marked: str) -> Sequence[Token]:
    """The brief's own parts; with marks for their values most labs of a class have the same."""
    return _markdown().parse(marked)


@cache
def _markdown() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False}).enable("table")


@cache
def _with_html() -> MarkdownIt:
    return MarkdownIt("commonmark").enable("table")


# --- From Markdown to blocks ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Headed:
    """A heading, and what stands below it up to the next one."""

    level: int
    title: str
    blocks: tuple[Block, ...]


def _blocks(tokens: Sequence[Token], values: Sequence[str], title: str) -> Iterator[Block]:
    """Headings make sections, lower ones inside higher ones; a first one that is the page's own title is left out."""
    parts = [_Headed(0, "", ())]
    for node in SyntaxTreeNode(tokens).children:
        if node.type == "heading":
            parts.append(_Headed(int(node.tag[1]), plain(_words_in(node, values)), ()))
        else:
            last = parts[-1]
            parts[-1] = replace(last, blocks=(*last.blocks, *_block(node, values)))
    if len(parts) > 1 and not parts[0].blocks and parts[1].title == " ".join(title.split()):
        parts[:2] = [_Headed(0, "", parts[1].blocks)]
    yield from parts[0].blocks
    yield from _sections(parts[1:])


def _sections(parts: Sequence[_Headed]) -> Iterator[Section]:
    starts = [place for place, part in enumerate(parts) if part.level <= min(each.level for each in parts[: place + 1])]
    for start, end in pairwise([*starts, len(parts)]):
        part = parts[start]
        yield Section(title=part.title, blocks=(*part.blocks, *_sections(parts[start + 1 : end])))


def _block(node: SyntaxTreeNode, values: Sequence[str]) -> Iterator[Block]:
    """What stands between two headings, or in an item of a list. A quotation is what is not to be overlooked."""
    match node.type:
        case "bullet_list" | "ordered_list":
            items = (tuple(block for each in item.children for block in _block(each, values)) for item in node.children)
            first = None if node.type == "bullet_list" else int(node.attrs.get("start", 1))
            yield Listing(tuple(items), first)
        case "table":
            yield _table(node, values)
        case "blockquote":
            for block in (each for child in node.children for each in _block(child, values)):
                yield Notice(block.words) if isinstance(block, Paragraph) else block
        case "fence" | "code_block":
            yield Typed(unmarked(node.content.rstrip("\n"), values))
        case "paragraph":
            yield Paragraph(_words_in(node, values))
        case "heading":
            yield Paragraph((Strong(plain(_words_in(node, values))),))


def _table(node: SyntaxTreeNode, values: Sequence[str]) -> Table:
    head, *body = (row for part in node.children for row in part.children)
    numbers = {column for column, cell in enumerate(head.children) if "right" in str(cell.attrs.get("style", ""))}
    return Table(
        title="Table of the brief",
        headings=tuple(plain(_words_in(cell, values)) for cell in head.children),
        rows=tuple(tuple(_words_in(cell, values) for cell in row.children) for row in body),
        numbers=frozenset(numbers),
        names_rows=False,
        shows_title=False,
    )


def _words_in(node: SyntaxTreeNode, values: Sequence[str]) -> Words:
    return tuple(word for line in node.children for child in line.children for word in _inline(child, values, str))


def _inline(node: SyntaxTreeNode, values: Sequence[str], looks: Callable[[str], Inline]) -> Iterator[Inline]:
    """A link is its text with its address behind it, since handouts are paper; a picture is the text that describes it."""
    match node.type:
        case "strong":
            yield from _inside(node, values, Strong)
        case "em":
            yield from _inside(node, values, Emphasis if looks is str else looks)
        case "code_inline":
            yield Code(unmarked(node.content, values))
        case "softbreak" | "hardbreak":
            yield " "
        case "link":
            words, to = tuple(_inside(node, values, looks)), unmarked(unquote(str(node.attrs["href"])), values)
            yield from words
            if plain(words) != to:
                yield f" ({to})"
        case "image":
            yield from _inside(node, values, looks)
        case _:
            if text := unmarked(node.content, values):
                yield looks(text)


def _inside(node: SyntaxTreeNode, values: Sequence[str], looks: Callable[[str], Inline]) -> Iterator[Inline]:
    for child in node.children:
        yield from _inline(child, values, looks)
