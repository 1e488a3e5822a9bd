"""Pages as PDF, for whoever wants files to print: tagged, checked against PDF/UA-1 (ISO 14289-1) while they are made.

The typesetter is an optional package. What is printed is handed to it as data and never as markup, so nothing in it can
be read as a command; it looks for no file and no font of the machine, so the same page gives the same bytes everywhere.
"""

import importlib
import importlib.util
import json
import unicodedata
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib import resources
from typing import Any

from trainer.errors import TrainerError
from trainer.pages.blocks import Bar, Document, Paper, Section, Table, Words

__all__ = ["HOW_TO_GET_IT", "as_pdf", "can_make_pdf"]

HOW_TO_GET_IT = (
    "PDF needs one more package: pip install 'hopsheet[pdf]' (in a clone: pip install -e '.[pdf]'). The HTML pages print "
    "from any browser."
)
_PAPERS = {Paper.A4: "a4", Paper.LETTER: "us-letter"}
_NOT_PRINTED = "\ufffd"


@cache
def can_make_pdf() -> bool:
    """Whether the typesetter is installed."""
    return importlib.util.find_spec("typst") is not None


def as_pdf(documents: Sequence[Document], paper: Paper = Paper.A4, *, title: str = "") -> bytes:
    """One PDF of one document, or of several in a row, each on a new sheet.

    Raises TrainerError where the typesetter is not installed, or where no font has a character that is needed; its text
    names the character's text.
    """
    if not can_make_pdf():
        raise TrainerError(HOW_TO_GET_IT)
    typst = importlib.import_module("typst")
    data = {"title": _printed(title or documents[0].title), "documents": [_as_data(each) for each in documents]}
    try:
        made: bytes = typst.compile(
            _template(),
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": json.dumps(data), "paper": _PAPERS[paper]},
            pdf_standards=["ua-1"],
        )
    except typst.TypstError as fault:
        raise TrainerError(
            f"No PDF of {title or documents[0].title}: {_why(fault)} The HTML page has everything."
        ) from fault
    return made


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
        return _printed(value)
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Table):
        rows = [[_cell_as_data(cell) for cell in row] for row in value.rows]
        return {"kind": value.kind, **_fields(value, but="rows"), "rows": rows}
    if isinstance(value, (tuple, list)):
        return [_as_data(each) for each in value if not (isinstance(each, Section) and each.is_for_screen)]
    if isinstance(value, frozenset):
        return sorted(value)
    if is_dataclass(value) and not isinstance(value, type):
        return ({"kind": value.kind} if hasattr(value, "kind") else {}) | _fields(value)
    return value


def _fields(value: Any, *, but: str = "") -> dict[str, Any]:
    return {field.name: _as_data(getattr(value, field.name)) for field in fields(value) if field.name != but}


def _cell_as_data(cell: Words | Bar) -> Any:
    """A cell; one of plain text, as nearly all are, as that text, which is set faster than parts are."""
    if isinstance(cell, Bar) or not all(isinstance(part, str) for part in cell):
        return _as_data(cell)
    return _printed("".join(map(str, cell)))


def _printed(text: str) -> str:
    """The text with a sign in place of characters that nobody can print: controls, also of direction, and unassigned ones."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        _NOT_PRINTED if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn") and letter != "\n" else letter
        for letter in text
    )
