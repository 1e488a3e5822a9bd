"""Pages as HTML: one file without script, that needs no network, prints from any browser, and reads in the dark too."""

import re
from collections.abc import Sequence

from markupsafe import Markup

from trainer.pages.blocks import Document, Paper
from trainer.pages.template import template

__all__ = ["as_html"]


def as_html(documents: Sequence[Document], paper: Paper = Paper.A4, *, title: str = "") -> bytes:
    """The file of one document, or of several in a row, each on a new sheet of paper.

    title: of the file, where it holds several.
    """
    page = template("page.html.j2").render(
        documents=documents, title=title or documents[0].title, paper=paper.value, css_text=_css_text
    )
    return page.encode("utf-8", errors="backslashreplace")  # a name of a file may hold bytes that are no text


def _css_text(text: str) -> Markup:
    """A text as a string of CSS: all but plain letters, figures and blanks is escaped (CSS Syntax 3, 4.3.7)."""
    escaped = re.sub(r"[^A-Za-z0-9 .,-]", lambda found: f"\\{ord(found[0]):06x}", text)
    return Markup(f'"{escaped}"')  # noqa: S704  # nothing is left in it that CSS or HTML could read as its own
