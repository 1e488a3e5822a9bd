"""What docstrings and documents say: examples are run, and what they point at is there."""

import ast
import doctest
import importlib
import re
from collections.abc import Iterable, Iterator
from functools import cache
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


def test_every_function_that_is_named_with_its_file_is_there() -> None:
    """As `marking/cells.py: CellMarker.written`: what somebody looks for who has never seen the code."""
    named = list(_named_places())
    assert len(named) > 30
    assert [each for each in named if not _has_name(*each)] == []


def test_a_name_that_is_not_in_its_file_is_noticed() -> None:
    here = "DEVELOPERS.md"
    assert _has_name(here, "marking/cells.py", "CellMarker.written")
    assert _has_name(here, "lab/questions/pools.py", "POOL_LAST")
    assert not _has_name(here, "marking/cells.py", "CellMarker.wrote")
    assert not _has_name(here, "marking/cells.py", "written")
    assert not _has_name(here, "routes.py", "count_routes")  # which of them?


def test_developers_can_be_read_in_a_quarter_of_an_hour() -> None:
    assert len(DOCUMENTS["DEVELOPERS.md"].split()) <= 3000


def _named_places() -> Iterator[tuple[str, str, str]]:
    """Each `file.py: name` in backquotes: what names it, the file, the name."""
    for where, text in {**DOCUMENTS, **SOURCES}.items():
        for file, name in re.findall(r"`((?:\w+/)*\w+\.py):\s([\w.]+)[^`]*`", text):
            yield where, file, name


def _has_name(where: str, file: str, name: str) -> bool:
    """Whether the one file that is meant has a function, class, method or value of that name."""
    folders = (ROOT, TRAINER, ROOT / "tests", (ROOT / where).parent)
    here = {path.resolve() for folder in folders if (path := folder / file).exists()}
    return len(here) == 1 and name in _names_in(here.pop())


@cache
def _names_in(file: Path) -> frozenset[str]:
    """All names that a file gives on its first level, and those of its classes as "Class.name"."""
    return frozenset(_given(ast.parse(file.read_text(encoding="utf-8")).body, ""))


def _given(body: Iterable[ast.stmt], before: str) -> Iterator[str]:
    for each in body:
        match each:
            case ast.ClassDef(name=name, body=inner):
                yield before + name
                yield from _given(inner, f"{before}{name}.")
            case ast.FunctionDef(name=name) | ast.AnnAssign(target=ast.Name(id=name)):
                yield before + name
            case ast.Assign(targets=targets):
                yield from (before + target.id for target in targets if isinstance(target, ast.Name))


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
