"""Pages as HTML: one file without script, that needs no network, prints from any browser, and reads in the dark too."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Literal

from markupsafe import Markup

from trainer.pages.blocks import Bar, Code, Document, Emphasis, Inline, Link, Paper, Strong, Table, Words, plain
from trainer.pages.template import template

__all__ = ["Article", "article", "as_html", "filled_in"]


Role = Literal["", "code", "long", "number", "phrase", "unbroken", "wordy"]
_WORDY = 30
"""A text of more letters keeps room for some words in a line, also where the table is broader than the screen."""
_LONG = 24
"""A word of more letters is broken, so that it does not push the other columns off the screen."""


_MOST_BESIDE = 3
"""Columns that a narrow screen has room for beside each other."""
_NUMBER = "\0"
"""Stands for the number that a document has in its file. No text holds it, for no page may."""


@dataclass(frozen=True, slots=True)
class Article:
    """A document as HTML, made once for its own file and for one that it stands in with others."""

    title: str
    running: str
    ends_in_landscape: bool
    text: str

    def numbered(self, number: int) -> Markup:
        """It as the document of that number in its file."""
        return Markup(self.text.replace(_NUMBER, str(number)))  # noqa: S704  # it comes out of a template that escapes


def article(document: Document) -> Article:
    """The document as HTML."""
    text = _rendered("article.html.j2", document=document, number=_NUMBER).rstrip("\n")
    return Article(document.title, document.running, document.ends_in_landscape, text)


def as_html(
    documents: Sequence[Document | Article], paper: Paper = Paper.A4, *, title: str = "", is_large: bool = False
) -> bytes:
    """The file of one document, or of several in a row, each on a new sheet of paper.

    title: of the file, where it holds several. is_large: in letters of 18 points.
    """
    articles = [article(each) if isinstance(each, Document) else each for each in documents]
    return filled_in(
        "page.html.j2",
        documents=articles,
        title=title or articles[0].title,
        paper=paper.value,
        is_large=is_large,
    )


def filled_in(name: str, **values: object) -> bytes:
    """A template that may show blocks, by its file's name, filled in with these values."""
    page = _rendered(name, **values)
    return page.encode("utf-8", errors="backslashreplace")  # a name of a file may hold bytes that are no text


def _rendered(name: str, **values: object) -> str:
    return template(name).render(words=_words, table=_table, css_text=_css_text, **values)


@lru_cache(maxsize=256)
def _table(table: Table, level: int, *, is_stacked: bool) -> Markup:
    """A table, made once where the pages of a class have the same. level: of its heading; is_stacked: whether a narrow screen
    shows it row by row.

    Tables are written here and not in a template, because a class has seven thousand.
    """
    title, rank = Markup.escape(table.title), min(level, 6)
    above = f"<h{rank}>{title}</h{rank}>\n" if table.shows_title else ""
    looks = "scroll" + " in-two" * table.in_two + " whole" * table.is_whole
    inside = "".join(
        [_half(part, is_stacked=is_stacked and len(table.headings) > _MOST_BESIDE) for part in table.halves]
    )
    text = f'{above}<div class="{looks}" role="group" aria-label="{title}" tabindex="0">\n{inside}</div>'
    return Markup(text)  # noqa: S704  # each part has been escaped


def _half(table: Table, *, is_stacked: bool) -> str:
    """A table, or what paper has of it on one side."""
    looks, style = "form" if table.is_form else "values", ""
    if is_stacked:
        looks += " stack"
        names = [f"--h{number}:{_css_text(heading)};" for number, heading in enumerate(table.headings, 1)]
        style = f" style='{''.join(names)}'"
    head = "".join([_heading(table, column, text) for column, text in enumerate(table.headings)])
    bodies = [f"<tbody>\n{''.join([_row(table, cells) for cells in group])}</tbody>\n" for group in table.bodies]
    return f'<table class="{looks}"{style}>\n<thead><tr>{head}</tr></thead>\n{"".join(bodies)}</table>\n'


def _css_text(text: str) -> Markup:
    """A text as a string of CSS: all but plain letters, figures and blanks is escaped (CSS Syntax 3, 4.3.7)."""
    escaped = re.sub(r"[^A-Za-z0-9 .,-]", lambda found: f"\\{ord(found[0]):06x}", text)
    return Markup(f'"{escaped}"')  # noqa: S704  # nothing is left in it that CSS or HTML could read as its own


def _words(parts: Words) -> Markup:
    """What stands inside a line."""
    return Markup("".join(map(_inline, parts)))  # noqa: S704  # each part has been escaped


def _inline(part: Inline) -> str:
    match part:
        case str():
            return escape(part)
        case Code(text):
            return f"<code>{escape(text)}</code>"
        case Strong(text):
            return f"<b>{escape(text)}</b>"
        case Emphasis(text):
            return f"<em>{escape(text)}</em>"
        case Link(text, to):
            return f'<a href="{escape(to)}">{escape(text)}</a>'


def _heading(table: Table, column: int, text: str) -> str:
    looks = ' class="number"' if column in table.numbers else ""
    return f'<th scope="col"{looks}>{Markup.escape(text)}</th>'


def _row(table: Table, cells: Sequence[Words | Bar]) -> str:
    row = "".join([_cell(table, column, parts) for column, parts in enumerate(cells)])
    return f"<tr>{row}</tr>\n"


def _cell(table: Table, column: int, parts: Words | Bar) -> str:
    if isinstance(parts, Bar):
        inside = f'<span style="width:{parts.percent:.1f}%"></span>'
        return f'<td class="wide"><span class="bar" aria-hidden="true">{inside}</span></td>'
    words = "".join(map(_inline, parts))
    role = _role(table, column, plain(parts))
    looks = f' class="{role}"' if role else ""
    if column == 0 and table.names_rows and words:  # a heading without words names nothing
        return f'<th scope="row"{looks}>{words}</th>'
    return f"<td{looks}>{words}</td>"


def _role(table: Table, column: int, text: str) -> Role:
    if column in table.codes:
        return "code"
    if column in table.numbers:
        return "number"
    if column in table.unbroken:
        return "phrase" if " " in text else "unbroken"
    if len(text) > _LONG and max(map(len, text.split()), default=0) > _LONG:
        return "long"
    return "wordy" if len(text) > _WORDY else ""
