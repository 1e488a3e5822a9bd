"""Writing pages: as HTML always, as PDF beside it where that was asked for."""

import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from glob import escape
from pathlib import Path
from typing import NamedTuple

from trainer.commands.helper_process import Worker
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.pages.blocks import Document, Paper
from trainer.pages.html import Article, article, as_html
from trainer.pages.large import enlarged
from trainer.pages.pdf import HOW_TO_GET_IT, Pdf, as_pdf, can_make_pdf
from trainer.store import write_file

__all__ = [
    "MOST_IN_A_FILE",
    "MOST_IN_A_PDF",
    "ON_SCREEN",
    "LabPage",
    "Printing",
    "in_large_letters",
    "pdfs_of",
    "printing_asked_for",
    "take_away",
    "write_class_file",
    "write_lab_page",
    "write_page",
    "write_pages",
]

MOST_IN_A_FILE = 500
"""Documents of a class file; what is more is printed group by group."""
MOST_IN_A_PDF = 50
"""Documents of one PDF; what is more stands in a next one."""


_MOST_NAMED = 12
"""Of the characters that cannot be shown so many are named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """How pages are written."""

    paper: Paper = Paper.A4
    pdf: bool = False
    full: bool = False
    """Whether feedback says on paper all that it says on a screen, not one line a cause."""
    large: bool = False
    """Whether handouts and keys are written in large letters as well."""
    is_short: bool = False
    """Whether PDF was asked for and cannot be made here."""
    not_shown: set[str] = field(default_factory=set)
    """Characters that no font of the typesetter has, gathered from all PDFs of the run."""

    def tell(self) -> None:
        """Says, once for all files, what stands in none of the PDFs as it was written."""
        if self.not_shown:
            letters = " ".join(sorted(self.not_shown)[:_MOST_NAMED])
            more = f" and {len(self.not_shown) - _MOST_NAMED} more" if len(self.not_shown) > _MOST_NAMED else ""
            say(
                f"In the PDFs \ufffd stands for characters that no font here has: {letters}{more}. The HTML pages show them.",
                style="yellow",
                to=sys.stderr,
            )


ON_SCREEN = Printing()
"""Pages alone, on A4."""


def printing_asked_for(*, paper: str, pdf: bool, full: bool = False, large: bool = False) -> Printing:
    """The options as a value; where PDF cannot be made it is said once, and the HTML pages are written all the same."""
    is_short = pdf and not can_make_pdf()
    if is_short:
        say(HOW_TO_GET_IT, to=sys.stderr)
    return Printing(paper=Paper(paper), pdf=pdf and not is_short, full=full, large=large, is_short=is_short)


class LabPage(NamedTuple):
    """A document of one lab, which stands in a file of its own and in the class's."""

    article: Article
    make: Callable[[], Document]
    """Makes the document, for what needs more of it than HTML: a class's documents take more room than its pages."""

    @classmethod
    def of(cls, document: Document) -> "LabPage":
        return cls(article(document), lambda: document)


def write_page(target: Path, page: LabPage, printing: Printing, *, private: bool = True) -> list[str]:
    """Writes the page of one lab. Gives what could not be written, and why."""
    return _write_pages(target, [page], printing, title="", private=private, is_large=False)


def write_lab_page(target: Path, page: LabPage, printing: Printing, *, private: bool = False) -> list[str]:
    """Writes the page of one lab, and in large letters beside it where that was asked for or has been before.

    Gives what could not be written, and why.
    """
    troubles = write_page(target, page, printing, private=private)
    large = in_large_letters(target)
    if printing.large or large.is_file():
        troubles += write_pages(large, [enlarged(page.make())], printing, private=private, is_large=True)
    return troubles


def in_large_letters(page: Path) -> Path:
    """What the same page in large letters is called."""
    return page.with_stem(f"{page.stem}-large")


def write_pages(
    target: Path,
    documents: Sequence[Document],
    printing: Printing,
    *,
    title: str = "",
    private: bool = False,
    is_large: bool = False,
) -> list[str]:
    """Writes documents into one file (target ends in .html), and as PDF beside it; a file that is the same is left alone.

    A PDF of an earlier run that is not true any more is written anew, whatever was asked for, or taken away where PDF
    cannot be made; that is said.

    title: of the file, where it holds several. Gives what could not be written, and why.
    """
    pages = list(map(LabPage.of, documents))
    return _write_pages(target, pages, printing, title=title, private=private, is_large=is_large)


def _write_pages(
    target: Path, pages: Sequence[LabPage], printing: Printing, *, title: str, private: bool, is_large: bool
) -> list[str]:
    try:
        page = as_html([each.article for each in pages], printing.paper, title=title, is_large=is_large)
        is_same = target.is_file() and target.read_bytes() == page
        if printing.pdf or (not is_same and pdfs_of(target, of_class=bool(title)) and can_make_pdf()):
            _write_pdfs(target, pages, printing, title=title, private=private, is_large=is_large)
        elif not is_same:
            for pdf in pdfs_of(target, of_class=bool(title)):
                take_away(pdf, "PDF cannot be made here")
        if not is_same:  # last, so that a PDF that could not be written is not taken for a true one by the next run
            write_file(target, page, private=private)
    except TrainerError as error:
        return [str(error)]
    except OSError as error:
        return [f"{error.filename or target} cannot be written ({error.strerror})."]
    return []


class _Typesetter(Worker):
    """Makes PDFs in a process of its own, begun anew after as many documents as a part has: the typesetter keeps some 20 MB of
    each as long as its process lasts.
    """

    def __init__(self) -> None:
        super().__init__()
        self._made = 0
        self._one_at_a_time = threading.Lock()
        """Labs are written in several threads."""

    def pdf(self, documents: Sequence[Document], paper: Paper, *, title: str, is_large: bool) -> Pdf:
        """What as_pdf gives."""
        with self._one_at_a_time:
            if self._made + len(documents) > MOST_IN_A_PDF:
                self.stop()
                self._made = 0
            self._made += len(documents)
            return self.call(as_pdf, documents, paper, title=title, is_large=is_large)


_typesetter = _Typesetter()
"""The one that all pages of a run share."""


def pdfs_of(page: Path, *, of_class: bool) -> list[Path]:
    """The PDFs that stand beside a page: one, or numbered ones of a large class, behind a dot, which no group's file has. Those
    are looked for beside a class's file only: a lab's page may stand among thousands of files.
    """
    parts = sorted(page.parent.glob(f"{escape(page.stem)}.part-*.pdf")) if of_class else []
    return [each for each in (page.with_suffix(".pdf"), *parts) if each.is_file()]


def _write_pdfs(
    page: Path, pages: Sequence[LabPage], printing: Printing, *, title: str, private: bool, is_large: bool
) -> None:
    """The PDF of a page; of many documents several, for all of a file are in memory at once."""
    parts = [pages[first : first + MOST_IN_A_PDF] for first in range(0, len(pages), MOST_IN_A_PDF)]
    names = [page.with_suffix(".pdf")]
    if len(parts) > 1:
        names = [page.with_name(f"{page.stem}.part-{number}.pdf") for number in range(1, len(parts) + 1)]
    for target, part in zip(names, parts, strict=True):
        data, not_shown = _typesetter.pdf(
            [each.make() for each in part], printing.paper, title=title, is_large=is_large
        )
        printing.not_shown.update(not_shown)
        if not (target.is_file() and target.read_bytes() == data):
            write_file(target, data, private=private)
    for left in pdfs_of(page, of_class=bool(title)):
        if left not in names:
            take_away(left, "the class has another size now")


def take_away(file: Path, why: str) -> None:
    """Takes away a page of an earlier run that is not true any more, if it is there, and says so. Raises OSError."""
    if file.is_file():
        file.unlink()
        say(f"{file} was not true any more and was taken away: {why}.", style="yellow", to=sys.stderr)


def write_class_file(
    target: Path, pages: Iterable[LabPage], count: int, printing: Printing, *, title: str
) -> list[str]:
    """Writes the pages of a class into one file for the instructor, unless they are too many: that is said then, and one
    of an earlier run is taken away.

    count: of the pages, which are made only if they are written. Gives what could not be written, and why.
    """
    if 0 < count <= MOST_IN_A_FILE:
        return _write_pages(target, list(pages), printing, title=title, private=True, is_large=False)
    if count:
        say(
            f"{count} documents are too many for {target.name}: print them group by group, with --group G.",
            to=sys.stderr,
        )
    try:
        for file in (target, *pdfs_of(target, of_class=True)):
            take_away(file, "there are too many pages for it now" if count else "there is no page for it now")
    except OSError as error:
        return [f"{target} cannot be taken away ({error.strerror})."]
    return []
