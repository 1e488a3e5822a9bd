"""Pages as HTML: one file without script, that needs no network, prints from any browser, and reads in the dark too."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Literal, NamedTuple

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
    looks = ("form" if table.is_form else "values") + " stack" * is_stacked
    style = _names_of_columns(table.headings) if is_stacked else ""
    columns = [_column(table, number) for number in range(len(table.headings))]
    head = "".join([_heading(text, column) for text, column in zip(table.headings, columns, strict=True)])
    bodies = [f"<tbody>\n{''.join([_row(columns, cells) for cells in group])}</tbody>\n" for group in table.bodies]
    return f'<table class="{looks}"{style}>\n<thead><tr>{head}</tr></thead>\n{"".join(bodies)}</table>\n'


@lru_cache(maxsize=256)
def _names_of_columns(headings: tuple[str, ...]) -> str:
    """For a narrow screen, which shows them beside each cell."""
    names = [f"--h{number}:{_css_text(heading)};" for number, heading in enumerate(headings, 1)]
    return f" style='{''.join(names)}'"


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


class _Column(NamedTuple):
    """What all cells of a column have in common."""

    role: Role
    names_rows: bool


def _column(table: Table, number: int) -> _Column:
    names_rows = table.names_rows and number == 0
    if number in table.codes:
        return _Column("code", names_rows)
    if number in table.numbers:
        return _Column("number", names_rows)
    return _Column("unbroken" if number in table.unbroken else "", names_rows)


@lru_cache(maxsize=256)
def _heading(text: str, column: _Column) -> str:
    looks = ' class="number"' if column.role == "number" else ""
    return f'<th scope="col"{looks}>{Markup.escape(text)}</th>'


def _row(columns: Sequence[_Column], cells: Sequence[Words | Bar]) -> str:
    row = "".join([_cell(parts, column) for parts, column in zip(cells, columns, strict=True)])
    return f"<tr>{row}</tr>\n"


@lru_cache(maxsize=4096)
def _cell(parts: Words | Bar, column: _Column) -> str:
    """A cell; many stand in all labs of a class."""
    if isinstance(parts, Bar):
        inside = f'<span style="width:{parts.percent:.1f}%"></span>'
        return f'<td class="wide"><span class="bar" aria-hidden="true">{inside}</span></td>'
    words = "".join(map(_inline, parts))
    role = _role(plain(parts), column)
    looks = f' class="{role}"' if role else ""
    if column.names_rows and words:  # a heading without words names nothing
        return f'<th scope="row"{looks}>{words}</th>'
    return f"<td{looks}>{words}</td>"


def _role(text: str, column: _Column) -> Role:
    if column.role == "unbroken":
        return "phrase" if " " in text else "unbroken"
    if column.role:
        return column.role
    if len(text) > _LONG and max(map(len, text.split()), default=0) > _LONG:
        return "long"
    return "wordy" if len(text) > _WORDY else ""
