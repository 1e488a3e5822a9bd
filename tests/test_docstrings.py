"""What docstrings and documents say: examples are run, and what they point at is there."""

import doctest
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TRAINER = ROOT / "trainer"
WITH_EXAMPLES = [
    ".".join(file.relative_to(TRAINER.parent).with_suffix("").parts)
    for file in sorted(TRAINER.rglob("*.py"))
    if ">>>" in file.read_text(encoding="utf-8")
]
DOCUMENTS = {
    name: (ROOT / name).read_text(encoding="utf-8") for name in ("DEVELOPERS.md", "README.md", "tests/README.md")
}
SOURCES = {
    str(file.relative_to(ROOT)): file.read_text(encoding="utf-8")
    for folder in (TRAINER, ROOT / "tests")
    for file in sorted(folder.rglob("*.py"))
    if file != Path(__file__)
}


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_examples_in_docstrings_hold(module: str) -> None:
    found = doctest.testmod(importlib.import_module(module))
    assert found.attempted > 0
    assert found.failed == 0


def test_every_heading_that_is_named_is_there() -> None:
    """In a docstring, and worse in a message, a heading that is not there sends somebody looking for nothing."""
    headings = {name: set(re.findall(r"^#+ (.*)$", text, re.MULTILINE)) for name, text in DOCUMENTS.items()}
    named = [
        (where, document, heading)
        for where, text in SOURCES.items()
        for document, heading in re.findall(r"""\b(DEVELOPERS|README)(?:\.md)?, ['"]([^'"]+)['"]""", text)
    ]
    assert named
    assert [each for each in named if each[2] not in headings[f"{each[1]}.md"]] == []


def test_every_file_that_is_named_is_there() -> None:
    missing = [(where, name) for where, name in _named_files() if not _is_there(where, name)]
    assert missing == []


def test_no_document_is_named_that_is_not_in_the_project() -> None:
    elsewhere = r"\bDESIGN\b|\b(PEDAGOGY|STUDY|FAULTS|KERNEL|TEXTS|STYLE|ANCHORS)(\.md| ?[0-9])"
    assert [where for where, text in SOURCES.items() if re.search(elsewhere, text)] == []


def _named_files() -> Iterator[tuple[str, str]]:
    """Names of Python files in backquotes, with the file that names them."""
    for where, text in {**DOCUMENTS, **SOURCES}.items():
        for name in re.findall(r"`((?:\w+/)*\w+\.py)\b", text):
            yield where, name


def _is_there(where: str, name: str) -> bool:
    """As seen from the root, the two folders of code, or the folder that names it; a document may name the end of a path."""
    folders = (ROOT, TRAINER, ROOT / "tests", (ROOT / where).parent)
    ends = where in DOCUMENTS and any(f"/{each}".endswith(f"/{name}") for each in SOURCES)
    return ends or any((folder / name).exists() for folder in folders)
