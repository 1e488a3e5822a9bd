"""Which folder may know which (DEVELOPERS.md, "Layers"), read off the source; nothing is imported."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

TRAINER = Path(__file__).parents[1] / "trainer"
MODULES = sorted(TRAINER.rglob("*.py"))

PURE = ("network", "lab", "marking", "results", "study")
MAY_IMPORT = {
    "network": {"network"},
    "lab": {"network", "lab"},
    "marking": {"network", "lab", "marking"},
    "results": {"network", "lab", "marking", "results"},
    "study": {"network", "lab", "marking", "study", "records"},
    "sheets": {*PURE, "sheets"},
    "pages": {*PURE, "pages"},
    "store": {*PURE, "store", "kept_marks", "record_files", "files", "lock", "records"},
    "study_files": {*PURE, "files", "lock"},
    "kept_marks": {*PURE, "record_files"},
    "record_files": {"files", "records"},
    "files": {"archives"},
    "archives": set(),
    "records": set(),
    "lock": set(),
    "errors": set(),
    "listing": set(),
    "__init__": set(),
}
"""What each folder or module of trainer/ may import of trainer/; errors and listing are free to all. Those not listed know all.
study_files keeps learners' logs; records turns any value into JSON and back, files writes and finds single files, lock
says which run is at work; the last three know nobody."""
FREE_TO_ALL = {"errors", "listing", "__version__"}
KNOW_ALL = {"commands", "cli", "options", "__main__"}

ONLY_IN = {"openpyxl": "sheets", "jinja2": "pages", "markdown_it": "pages", "fsrs": "study", "werkzeug": "commands"}
"""Libraries that one folder alone may import."""

FORBIDDEN_MODULES = {
    "time",
    "os",
    "sys",
    "io",
    "pathlib",
    "shutil",
    "tempfile",
    "subprocess",
    "socket",
    "secrets",
    "logging",
}
FORBIDDEN_CALLS = {"open", "print", "input", "exec", "eval", "breakpoint"}
CLOCKS = {"now", "today", "utcnow"}

MOST_LINES, MOST_LINES_OF_A_CLASS = 500, 250
DECLARATIONS = {
    "lab/exercise_form.py",
    *(f"marking/mistakes/{topic}.py" for topic in ("addressing", "bindings", "protection", "routes")),
}
"""Modules that hold nothing but declarations: a list may be as long as it is."""


def layer(module: Path) -> str:
    """The folder of trainer/ that a module is in, or its own name where it is in none."""
    inside = module.relative_to(TRAINER)
    return inside.parts[0] if len(inside.parts) > 1 else inside.stem


def imported(tree: ast.AST) -> Iterator[str]:
    """Dotted names of all that is imported, wherever the import stands; a name taken from a package counts as its part."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports say where from, not how far up"
            assert node.module is not None
            if node.module == "trainer":
                yield from (f"trainer.{name.name}" for name in node.names)
            else:
                yield node.module


@cache
def parsed(module: Path) -> ast.Module:
    return ast.parse(module.read_text(encoding="utf-8"))


def name(module: Path) -> str:
    return module.relative_to(TRAINER).as_posix()


def test_every_folder_has_its_place_in_the_order():
    assert {layer(module) for module in MODULES} <= {*MAY_IMPORT, *KNOW_ALL}
    assert {*PURE, "sheets", "pages"} <= {layer(module) for module in MODULES}


def test_a_module_imports_only_what_its_folder_may_know():
    """One test for all modules: they are rows of a check, not tests of their own. So it is with those below."""
    wrong = []
    for module in MODULES:
        may = MAY_IMPORT.get(layer(module))
        parts = [name.split(".") for name in imported(parsed(module))]
        known = {part[1] for part in parts if part[0] == "trainer" and len(part) > 1} - FREE_TO_ALL
        wrong += [f"{name(module)} imports {each}" for each in sorted(known - may if may is not None else ())]
    assert wrong == []


def test_a_library_for_one_folder_is_imported_there_alone():
    wrong = []
    for module in MODULES:
        libraries = {each.split(".")[0] for each in imported(parsed(module))} & set(ONLY_IN)
        wrong += [f"{name(module)} imports {each}" for each in sorted(libraries) if ONLY_IN[each] != layer(module)]
    assert wrong == []


def test_one_module_alone_knows_how_a_workbook_is_written():
    asked = {
        name(module) for module in MODULES if any(each.split(".")[0] == "openpyxl" for each in imported(parsed(module)))
    }
    assert asked == {"sheets/openpyxl_file.py"}


def test_a_pure_module_opens_prints_and_times_nothing_and_draws_only_what_it_is_handed():
    """STYLE, 'Shape' and 'Chance': every draw comes from a random.Random passed in."""
    pure = [module for module in MODULES if layer(module) in PURE]
    assert [offence for module in pure for offence in impure(module, parsed(module))] == []


def impure(module: Path, tree: ast.Module) -> Iterator[str]:
    """What a pure module must not do, with the line."""
    for each in imported(tree):
        if each.split(".")[0] in FORBIDDEN_MODULES:
            yield f"{name(module)} imports {each}"
    for node in ast.walk(tree):
        match node:
            case ast.ImportFrom(module="random"):
                yield f"{name(module)}:{node.lineno} takes a name out of random"
            case ast.Call(func=ast.Name(id=called)) if called in FORBIDDEN_CALLS:
                yield f"{name(module)}:{node.lineno} calls {called}"
            case ast.Attribute(value=ast.Name(id="random"), attr=used) if used != "Random":
                yield f"{name(module)}:{node.lineno} uses random.{used}"
            case ast.Attribute(value=ast.Name(id="datetime" | "date"), attr=used) if used in CLOCKS:
                yield f"{name(module)}:{node.lineno} reads the clock"
            case ast.Call(func=function) if ast.unparse(function).endswith("random.Random"):
                yield f"{name(module)}:{node.lineno} makes a generator, which has to be handed in"


@pytest.mark.parametrize(
    ("source", "offence"),
    [
        ("import os", "imports os"),
        ("from random import choice", "takes a name out of random"),
        ("print(1)", "calls print"),
        ("import random\nrandom.choice([1])", "uses random.choice"),
        ("from datetime import datetime\ndatetime.now()", "reads the clock"),
        ("import random\nrandom.Random(1)", "makes a generator"),
    ],
)
def test_what_a_pure_module_must_not_do_is_seen(source: str, offence: str):
    module = TRAINER / "lab" / "made_up.py"
    assert any(offence in each for each in impure(module, ast.parse(source)))


def test_no_test_module_imports_another():
    """What tests share stands in modules of its own: else a test runs where it is not looked for."""
    tests = sorted(Path(__file__).parent.rglob("*.py"))
    found = {file.name: [each for each in imported(parsed(file)) if each.startswith("test_")] for file in tests}
    assert {file: names for file, names in found.items() if names} == {}


def test_modules_and_classes_keep_a_size_that_can_be_read():
    """At most 500 lines a module, but for such as hold declarations alone, and 250 a class."""
    long = []
    for module in MODULES:
        lines = len(module.read_text(encoding="utf-8").splitlines())
        if lines > MOST_LINES and name(module) not in DECLARATIONS:
            long.append(f"{name(module)}: {lines} lines")
        long += [
            f"{name(module)}: class {node.name}"
            for node in ast.walk(parsed(module))
            if isinstance(node, ast.ClassDef) and (node.end_lineno or 0) - node.lineno >= MOST_LINES_OF_A_CLASS
        ]
    assert long == []
