"""The instructor's own words about an exercise: Markdown with a few values of the lab in it, turned into blocks.

A Markdown file can do no harm: its expressions run in a sandbox that knows the lab's given values and nothing else, its
HTML is text, of its pictures only the texts are shown, and whatever it does, its result is short.
"""

import re
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Any
from urllib.parse import unquote

from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, nodes
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markdown_it.tree import SyntaxTreeNode

from trainer.errors import TrainerError, did_you_mean
from trainer.lab.scenario import Scenario
from trainer.pages.blocks import (
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
)

__all__ = ["BRIEF_WORDS", "brief_blocks", "general_brief", "left_out", "refuse_unknown"]

_MARK = "\ue000"
"""A character for private use; what a brief itself holds of it is a blank."""
_ALONE = re.compile(
    r"^[ \t]*(\{%-?[ \t]*(?:(?:for|if|elif|else|endif|set)\b(?:(?!%\}).)*?"
    r"|endfor[ \t]*(?=-?%\}[ \t]*\n[ \t]*\{%)))(-?%\})[ \t]*\n",
    re.MULTILINE,
)
"""A line that only steers, in two parts; the end of a loop only where another such line follows."""
LONGEST = 20_000
"""Characters of a brief with its values; three printed pages have some 9,000."""
BRIEF_WORDS = {
    "lab": "the lab number",
    "trainee": "the trainee's id",
    "title": "the title of the exercise",
    "date": "the date, or nothing",
    "minutes": "the minutes, or nothing",
    "block": "the block of this lab",
    "lease_hours": "the lease of every pool, in hours",
    "server": "the name of the DHCP server",
    "switches": "the switches: each has .name and .place",
    "networks": "the networks: each has .vlan, .name, .switch and .needed",
    "stations": "the stations: each has .name, .vlan and .port",
}
"""What a brief may speak of: nothing that is asked."""


class _Sandbox(ImmutableSandboxedEnvironment):
    """Expressions that cannot reach anything, nor make anything big."""

    intercepted_binops = frozenset({"*", "**", "%"})

    def call_binop(self, _context: Any, operator: str, _left: Any, _right: Any) -> Any:
        raise SecurityError(f"{operator} is not for briefs")


@cache
def general_brief() -> str:
    """The brief of exercises that have none of their own."""
    return resources.files("trainer.pages").joinpath("templates/brief.md").read_text(encoding="utf-8")


def brief_blocks(text: str, scenario: Scenario) -> tuple[Block, ...]:
    """The blocks of a brief for one lab.

    Raises TrainerError, without the file's name, where a line cannot be understood: which one, and what may stand there.
    """
    values: list[str] = []
    marked = _filled(text, scenario, values)
    return tuple(_blocks(_markdown().parse(marked), values, scenario.title))


def left_out(text: str, scenario: Scenario) -> tuple[str, ...]:
    """What of a brief a handout cannot show as it is meant, a line each: pictures and HTML.

    Raises TrainerError as brief_blocks does.
    """
    values: list[str] = []
    found = []
    for token in _with_html().parse(_filled(text, scenario, values)):
        for each in (token, *(token.children or ())):
            words = _unmarked(each.content, values).strip()
            if each.type == "image":
                found.append(f"the picture {each.attrs['src']} is not printed, only its text: {words or '(none)'}")
            elif each.type in ("html_block", "html_inline") and not words.startswith("</"):
                found.append(f"HTML is printed as it is written: {words.splitlines()[0]}")
    return tuple(dict.fromkeys(found))


def _filled(text: str, scenario: Scenario, values: list[str]) -> str:
    """The text with a mark for every value, so that no value can mean anything to Markdown; the values are appended."""

    def mark(value: Any) -> str:
        values.append("" if value is None else re.sub(r"\s+", " ", str(value)))
        return f"{_MARK}{len(values) - 1}{_MARK}"

    refuse_unknown(text)
    try:
        pieces: list[str] = []
        length = 0
        environment = _environment().overlay(finalize=mark)
        for piece in environment.from_string(_source(text)).generate(_values(scenario)):
            pieces.append(piece)
            length += len(piece)
            if length > LONGEST:
                raise TrainerError(f"it gets longer than {LONGEST} characters. Shorten it.")
        return "".join(pieces)
    except SecurityError as fault:
        raise TrainerError(f"{_line(fault)} does something that briefs may not do ({fault}). {_words()}.") from fault
    except (TemplateError, ArithmeticError, TypeError, ValueError, RecursionError) as fault:
        raise TrainerError(f"{_line(fault)} cannot be filled in ({fault}). {_words()}.") from fault


def refuse_unknown(text: str) -> None:
    """Raises TrainerError, without the file's name, for what cannot be understood in a brief, whichever lab it is for: every
    word that it does not know, each with its line.
    """
    try:
        parsed = _environment().parse(_source(text))
    except TemplateSyntaxError as fault:
        why = fault.message or ""
        if why.startswith("Unexpected end of template"):
            why = "a {% for ... %} or {% if ... %} has no end: {% endfor %}, {% endif %}"
        raise TrainerError(
            f"line {fault.lineno} cannot be understood ({why}). Write values like {{{{ block }}}}. {_words()}."
        ) from fault
    except RecursionError as fault:
        raise TrainerError("it holds too much inside one another. Write it more simply.") from fault
    unknown = dict.fromkeys(_unknown(parsed, BRIEF_WORDS.keys() | {each.name for each in _names_set(parsed)}))
    if unknown:
        faults = [
            f"line {line} cannot be filled in ({name!r} is undefined). {did_you_mean(name, BRIEF_WORDS)}".strip()
            for line, name in sorted(unknown)
        ]
        raise TrainerError(f"{' '.join(faults)} {_words()}.")


def _names_set(parsed: nodes.Template) -> Iterator[nodes.Name]:
    """What is set by {% set ... %} and {% macro ... %}."""
    for node in parsed.find_all((nodes.Assign, nodes.AssignBlock)):
        yield from (each for each in node.find_all(nodes.Name) if each.ctx == "store")
    for macro in parsed.find_all(nodes.Macro):
        yield nodes.Name(macro.name, "store")
        yield from (argument for argument in macro.args if isinstance(argument, nodes.Name))


def _unknown(node: nodes.Node, known: AbstractSet[str]) -> Iterator[tuple[int, str]]:
    """Lines and names of what is neither known nor, where it stands, the name of a loop."""
    if isinstance(node, nodes.Name) and node.ctx == "load" and node.name not in known:
        yield node.lineno, node.name
    if isinstance(node, nodes.For):
        targets = (*node.target.find_all(nodes.Name), *([node.target] if isinstance(node.target, nodes.Name) else []))
        inside = known | {"loop", *(each.name for each in targets)}
        yield from _unknown(node.iter, known)
        for each in (*node.body, *node.else_, *([node.test] if node.test else [])):
            yield from _unknown(each, inside)
        return
    for child in node.iter_child_nodes():
        yield from _unknown(child, known)


def _source(text: str) -> str:
    """The text as the sandbox takes it. A line that holds nothing but {% for ... %} or the like leaves no blank line behind,
    which would end a table or a list; lines keep their numbers.
    """
    return _ALONE.sub(lambda found: f"{found[1]}\n{found[2]}", text.replace(_MARK, " "))


def _line(fault: Exception) -> str:
    """The line of the brief that was filled in when it happened."""
    lines = [frame.lineno for frame in traceback.extract_tb(fault.__traceback__) if frame.filename == "<template>"]
    return f"line {lines[-1]}" if lines else "a value"


def _words() -> str:
    return f"Known are {', '.join(BRIEF_WORDS)}"


@cache
def _environment() -> _Sandbox:
    environment = _Sandbox(undefined=StrictUndefined, autoescape=False, keep_trailing_newline=True)
    environment.globals.clear()
    return environment


@cache
def _markdown() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False}).enable("table")


@cache
def _with_html() -> MarkdownIt:
    return MarkdownIt("commonmark").enable("table")


def _unmarked(text: str, values: Sequence[str]) -> str:
    """The text with its values in place of their marks."""
    return re.sub(f"{_MARK}([0-9]+){_MARK}", lambda found: values[int(found[1])], text)


def _values(scenario: Scenario) -> Mapping[str, Any]:
    return {
        "lab": scenario.lab_number,
        "trainee": scenario.trainee.id,
        "title": scenario.title,
        "date": scenario.date,
        "minutes": scenario.minutes,
        "block": scenario.block.with_prefixlen,
        "lease_hours": scenario.lease_hours,
        "server": scenario.server.name,
        "switches": [{"name": each.name, "place": each.place} for each in scenario.switches],
        "networks": [
            {"vlan": each.number, "name": each.name, "switch": each.switch, "needed": each.addresses_needed}
            for each in scenario.vlans
        ],
        "stations": [{"name": each.name, "vlan": each.vlan, "port": str(each.at)} for each in scenario.stations],
    }


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
            yield Typed(_unmarked(node.content.rstrip("\n"), values))
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
            yield Code(_unmarked(node.content, values))
        case "softbreak" | "hardbreak":
            yield " "
        case "link":
            words, to = tuple(_inside(node, values, looks)), _unmarked(unquote(str(node.attrs["href"])), values)
            yield from words
            if plain(words) != to:
                yield f" ({to})"
        case "image":
            yield from _inside(node, values, looks)
        case _:
            if text := _unmarked(node.content, values):
                yield looks(text)


def _inside(node: SyntaxTreeNode, values: Sequence[str], looks: Callable[[str], Inline]) -> Iterator[Inline]:
    for child in node.children:
        yield from _inline(child, values, looks)
