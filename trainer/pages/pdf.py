"""Pages as PDF, for whoever wants files to print: tagged, checked against PDF/UA-1 (ISO 14289-1) while they are made.

The typesetter is an optional package. What is printed is handed to it as data and never as markup, so nothing in it can
be read as a command; it looks for no file and no font of the machine, so the same page gives the same bytes everywhere.
"""

import importlib
import importlib.util
import json
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib import resources
from typing import Any, NamedTuple

from trainer.errors import TrainerError
from trainer.pages.blocks import Bar, Code, Document, Fold, Labels, Paper, Paragraph, Section, Table, Typed, Words
from trainer.pages.drawing import Drawing

__all__ = ["HOW_TO_GET_IT", "Pdf", "as_pdf", "can_make_pdf"]

HOW_TO_GET_IT = (
    "PDF needs one more package: pip install 'hopsheet[pdf]' (in a clone: pip install -e '.[pdf]'). The HTML pages print "
    "from any browser."
)
_PAPERS = {Paper.A4: "a4", Paper.LETTER: "us-letter"}
_NOT_PRINTED = "\ufffd"
_MAY_BREAK = "\u00ad"
_LONGEST_WORD, _LONGEST_IN_A_CELL = 30, 18
"""Letters of a word that is never broken at any letter, in a line and in a narrow column."""


@cache
def can_make_pdf() -> bool:
    """Whether the typesetter is installed."""
    return importlib.util.find_spec("typst") is not None


class Pdf(NamedTuple):
    """A file, and the characters that no font here has; a sign stands in their place."""

    data: bytes
    not_shown: frozenset[str]


def as_pdf(documents: Sequence[Document], paper: Paper = Paper.A4, *, title: str = "", is_large: bool = False) -> Pdf:
    """One PDF of one document, or of several in a row, each on a new sheet. is_large: in letters of 18 points.

    Raises TrainerError where the typesetter is not installed, or refuses what it is handed.
    """
    if not can_make_pdf():
        raise TrainerError(HOW_TO_GET_IT)
    data = {"title": _printed(title or documents[0].title), "documents": [_as_data(each) for each in documents]}
    text = json.dumps(data, ensure_ascii=False)
    made = _typeset(text, paper, is_large=is_large)
    not_shown: frozenset[str] = frozenset()
    if isinstance(made, str):
        not_shown = frozenset(each for each in set(text) if not each.isascii() and not _has_glyph(each))
    if not_shown:
        made = _typeset(text.translate(dict.fromkeys(map(ord, not_shown), _NOT_PRINTED)), paper, is_large=is_large)
    if isinstance(made, str):
        raise TrainerError(f"No PDF of {title or documents[0].title}: {made} The HTML page has everything.")
    return Pdf(made, not_shown)


def _typeset(data: str, paper: Paper, *, is_large: bool = False) -> bytes | str:
    """The file, or in a sentence why there is none."""
    typst = importlib.import_module("typst")
    try:
        made: bytes = typst.compile(
            _template(),
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": data, "paper": _PAPERS[paper], "large": "yes" if is_large else "no"},
            pdf_standards=["ua-1"],
        )
    except typst.TypstError as error:
        return _why(error)
    return made


@cache
def _has_glyph(letter: str) -> bool:
    """Whether the typesetter's own fonts have the character, as text and as what is typed; asked once for each."""
    words = Paragraph((letter, Code(letter)))
    page = Document(title="x", heading="x", over="", facts=(), blocks=(words,), foot="", running="")
    return isinstance(_typeset(json.dumps({"title": "x", "documents": [_as_data(page)]}), Paper.A4), bytes)


def _why(fault: Any) -> str:
    """The typesetter's complaint in a sentence."""
    message = str(getattr(fault, "message", fault)).strip().rstrip(".")
    return f"{message}."


@cache
def _template() -> bytes:
    return resources.files("trainer.pages").joinpath("templates/page.typ").read_bytes()


def _as_data(value: Any) -> Any:
    """Blocks and all that is in them as JSON, but what is for the screen only; each says which kind it is."""
    if isinstance(value, str):
        return _breakable(_printed(value), _LONGEST_WORD)
    if isinstance(value, Labels):
        return {"kind": value.kind, "labels": [[_printed(text) for text in label] for label in value.labels]}
    if isinstance(value, (Drawing, Code, Typed)):
        kind = {} if isinstance(value, Drawing) else {"kind": value.kind}
        texts = {each.name: getattr(value, each.name) for each in fields(value)}
        return kind | {name: _printed(text) if isinstance(text, str) else text for name, text in texts.items()}
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Table):
        narrow = set(range(len(value.headings))) - value.codes - value.numbers - value.unbroken
        halves = [
            {
                "rows": [
                    [_cell_as_data(cell, is_narrow=column in narrow) for column, cell in enumerate(row)]
                    for row in half.rows
                ],
                "groups": [len(each) for each in half.groups],
                "bodies": [len(each) for each in half.bodies],
            }
            for half in value.halves
        ]
        return {"kind": value.kind, **_fields(value, but="rows"), "halves": halves}
    if isinstance(value, (tuple, list)):
        return [_as_data(each) for each in value if not (isinstance(each, (Section, Fold)) and each.is_for_screen)]
    if isinstance(value, frozenset):
        return sorted(value)
    if is_dataclass(value) and not isinstance(value, type):
        return ({"kind": value.kind} if hasattr(value, "kind") else {}) | _fields(value)
    return value


def _fields(value: Any, *, but: str = "") -> dict[str, Any]:
    return {field.name: _as_data(getattr(value, field.name)) for field in fields(value) if field.name != but}


def _cell_as_data(cell: Words | Bar, *, is_narrow: bool) -> Any:
    """A cell; one of plain text, as nearly all are, as that text, which is set faster than parts are.

    is_narrow: whether its column gives way to others, so that a long word has to be broken.
    """
    if isinstance(cell, Bar) or not all(isinstance(part, str) for part in cell):
        return _as_data(cell)
    return _breakable(_printed("".join(map(str, cell))), _LONGEST_IN_A_CELL if is_narrow else _LONGEST_WORD)


def _breakable(text: str, longest: int) -> str:
    """The text with places in its long words at which a line may end."""
    if len(text) <= longest:
        return text
    return re.sub(rf"\S{{{longest + 1},}}", lambda found: _MAY_BREAK.join(found[0]), text)


def _printed(text: str) -> str:
    """The text with a sign in place of characters that nobody can print: controls, also of direction, and unassigned ones."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        _NOT_PRINTED if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn") and letter != "\n" else letter
        for letter in text
    )
