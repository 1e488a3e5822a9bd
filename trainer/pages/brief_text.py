"""The instructor's own words about an exercise: Markdown with a few values of the lab in it, turned into blocks.

A Markdown file can do no harm: its expressions run in a sandbox that knows the lab's given values and nothing else, its
HTML is text, its pictures are left out, and whatever it does, its result is short.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError, UndefinedError
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markdown_it import MarkdownIt
from markdown_it.token import Token

from trainer.errors import TrainerError, did_you_mean
from trainer.lab.scenario import Scenario
from trainer.pages.blocks import Block, Bullets, Code, Inline, Paragraph, Section, Strong, Words

__all__ = ["BRIEF_WORDS", "brief_blocks", "general_brief"]

_MARK = "\ue000"
"""A character for private use; what a brief itself holds of it is a blank."""
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
    return tuple(_blocks(_markdown().parse(marked), values))


def _filled(text: str, scenario: Scenario, values: list[str]) -> str:
    """The text with a mark for every value, so that no value can mean anything to Markdown; the values are appended."""

    def mark(value: Any) -> str:
        values.append("" if value is None else re.sub(r"\s+", " ", str(value)))
        return f"{_MARK}{len(values) - 1}{_MARK}"

    try:
        pieces: list[str] = []
        length = 0
        environment = _environment().overlay(finalize=mark)
        for piece in environment.from_string(text.replace(_MARK, " ")).generate(_values(scenario)):
            pieces.append(piece)
            length += len(piece)
            if length > LONGEST:
                raise TrainerError(f"it gets longer than {LONGEST} characters. Shorten it.")
        return "".join(pieces)
    except TemplateSyntaxError as fault:
        raise TrainerError(
            f"line {fault.lineno} cannot be understood ({fault.message}). Write values like {{{{ block }}}}; {_words()}."
        ) from fault
    except SecurityError as fault:
        raise TrainerError(f"it does something that briefs may not do ({fault}). {_words().capitalize()}.") from fault
    except UndefinedError as fault:
        unknown = re.search(r"'(\w+)' is undefined", str(fault))
        meant = f" {did_you_mean(unknown[1], BRIEF_WORDS)}".rstrip() if unknown else ""
        raise TrainerError(f"a value cannot be filled in ({fault}).{meant} {_words().capitalize()}.") from fault
    except (TemplateError, ArithmeticError, TypeError, ValueError, RecursionError) as fault:
        raise TrainerError(f"a value cannot be filled in ({fault}). {_words().capitalize()}.") from fault


def _words() -> str:
    return f"known are {', '.join(BRIEF_WORDS)}"


@cache
def _environment() -> _Sandbox:
    environment = _Sandbox(undefined=StrictUndefined, autoescape=False, keep_trailing_newline=True)
    environment.globals.clear()
    return environment


@cache
def _markdown() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False}).disable(["image", "html_block", "html_inline", "autolink", "link"])


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


def _blocks(tokens: Sequence[Token], values: Sequence[str]) -> Iterator[Block]:
    """Headings make sections; the first one of level 1 is the page's own title and is left out."""
    title, inside = "", list[Block]()
    for heading, block in _flat(tokens, values):
        if block is not None:
            inside.append(block)
            continue
        yield from _section(title, inside)
        title, inside = heading, []
    yield from _section(title, inside)


def _section(title: str, inside: Sequence[Block]) -> Iterator[Block]:
    if title:
        yield Section(title=title, blocks=tuple(inside))
    else:
        yield from inside


def _flat(tokens: Sequence[Token], values: Sequence[str]) -> Iterator[tuple[str, Block | None]]:
    """Headings as (text, None), all else as ("", block), in order."""
    items: list[Words] = []
    depth = 0
    is_heading, is_title = False, False
    for token in tokens:
        if token.type in ("bullet_list_open", "ordered_list_open"):
            depth += 1
        elif token.type in ("bullet_list_close", "ordered_list_close"):
            depth -= 1
            if not depth:
                yield "", Bullets(tuple(items))
                items = []
        elif token.type == "heading_open":
            is_heading, is_title = True, token.tag == "h1"
        elif token.type == "heading_close":
            is_heading = False
        elif token.type in ("code_block", "fence"):
            yield "", Paragraph((Code(_unmarked(token.content.rstrip("\n"), values)),))
        elif token.type == "inline":
            words = tuple(_inline(token.children or (), values))
            if is_heading:
                if not is_title:
                    yield "".join(part if isinstance(part, str) else part.text for part in words), None
            elif depth:
                items.append(words)
            else:
                yield "", Paragraph(words)


def _inline(tokens: Sequence[Token], values: Sequence[str]) -> Iterator[Inline]:
    strong = 0
    for token in tokens:
        if token.type == "strong_open":
            strong += 1
        elif token.type == "strong_close":
            strong -= 1
        elif token.type == "code_inline":
            yield Code(_unmarked(token.content, values))
        elif token.type in ("softbreak", "hardbreak"):
            yield " "
        elif token.content:
            text = _unmarked(token.content, values)
            yield Strong(text) if strong else text
