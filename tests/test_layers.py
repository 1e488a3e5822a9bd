"""Which folder may know which (DESIGN section 4), read off the source; nothing is imported."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

TRAINER = Path(__file__).parents[1] / "trainer"
MODULES = sorted(TRAINER.rglob("*.py"))

PURE = ("network", "lab", "marking", "results")
MAY_IMPORT = {
    "network": {"network"},
    "lab": {"network", "lab"},
    "marking": {"network", "lab", "marking"},
    "results": {"network", "lab", "marking", "results"},
    "sheets": {*PURE, "sheets"},
    "pages": {*PURE, "pages"},
    "store": {*PURE, "store", "kept_marks", "record_files", "files", "lock", "records"},
    "kept_marks": {*PURE, "record_files"},
    "record_files": {"files", "records"},
    "files": set(),
    "records": set(),
    "lock": set(),
    "errors": set(),
    "__init__": set(),
}
"""What each folder or module of trainer/ may import of trainer/; errors is free to all. Those not listed know all.
records turns any value into JSON and back, files writes and finds single files, lock says which run is
at work; they know nobody."""
KNOW_ALL = {"commands", "cli", "__main__"}

ONLY_IN = {"openpyxl": "sheets", "jinja2": "pages", "markdown_it": "pages"}
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


def parsed(module: Path) -> ast.Module:
    return ast.parse(module.read_text(encoding="utf-8"))


def names(modules: list[Path]) -> list[str]:
    return [str(module.relative_to(TRAINER)) for module in modules]


def test_every_folder_has_its_place_in_the_order():
    assert {layer(module) for module in MODULES} <= {*MAY_IMPORT, *KNOW_ALL}
    assert {*PURE, "sheets", "pages"} <= {layer(module) for module in MODULES}


@pytest.mark.parametrize("module", MODULES, ids=names(MODULES))
def test_a_module_imports_only_what_its_folder_may_know(module):
    may = MAY_IMPORT.get(layer(module))
    parts = [name.split(".") for name in imported(parsed(module))]
    known = {part[1] for part in parts if part[0] == "trainer" and len(part) > 1} - {"errors", "__version__"}
    assert may is None or known <= may


@pytest.mark.parametrize("module", MODULES, ids=names(MODULES))
def test_a_library_for_one_folder_is_imported_there_alone(module):
    libraries = {name.split(".")[0] for name in imported(parsed(module))} & set(ONLY_IN)
    assert all(ONLY_IN[library] == layer(module) for library in libraries)


PURE_MODULES = [module for module in MODULES if layer(module) in PURE]


@pytest.mark.parametrize("module", PURE_MODULES, ids=names(PURE_MODULES))
def test_a_pure_module_opens_prints_and_times_nothing_and_draws_only_what_it_is_handed(module):
    """STYLE, 'Shape' and 'Chance': every draw comes from a random.Random passed in."""
    tree = parsed(module)
    assert not {name.split(".")[0] for name in imported(tree)} & FORBIDDEN_MODULES
    assert "random" not in {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in FORBIDDEN_CALLS, f"line {node.lineno}"
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            assert node.value.id != "random" or node.attr == "Random", f"line {node.lineno}: random.{node.attr}"
            assert node.value.id not in {"datetime", "date"} or node.attr not in CLOCKS, f"line {node.lineno}"
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("random.Random"):
            raise AssertionError(f"line {node.lineno}: a generator is handed in, not made here")
