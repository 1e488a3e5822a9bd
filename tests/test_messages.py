"""Every error message and notice, read off the source into one list, so that a new one is read before it is kept.

tests/golden/messages.txt has a line for each: the module, then the text with its placeholders. GOLDEN=write in the environment
writes it anew. Read the difference as an instructor would: does it say where, what was found, what would be right, and what
to do?
"""

import ast
import os
from collections.abc import Iterator
from functools import cache
from pathlib import Path

TRAINER = Path(__file__).parents[1] / "trainer"
GOLDEN = Path(__file__).parent / "golden" / "messages.txt"

TOLD = {
    *("Problem", "Fault", "fault_in_row", "_problem", "_not_its_own"),
    *("_refuse", "_missing", "_impossible", "_damaged", "NotGraded", "WrongText"),
}
"""Calls that make a message, besides raising one of our errors."""
COLLECTED = {"notices", "troubles", "unwritten", "problems"}
"""Lists that messages are added to."""
LISTED = {"_TROUBLES", "UNREADABLE_TEXTS"}
"""Constants that hold messages by what they are about."""
ROOTS = {"TrainerError", "WrongText", "RecordError", "MaskError"}
"""What our errors are made from. Any other ValueError is for developers."""


def modules() -> dict[str, ast.Module]:
    return {
        path.relative_to(TRAINER).as_posix(): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(TRAINER.rglob("*.py"))
    }


def name_of(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def errors(trees: dict[str, ast.Module]) -> set[str]:
    """Our errors: the roots and whatever is made from them."""
    found = set(ROOTS)
    classes = [node for tree in trees.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    while kin := {each.name for each in classes if any(name_of(base) in found for base in each.bases)} - found:
        found |= kin
    return found


def placeholder(node: ast.expr) -> str:
    return f"{{{ast.unparse(node)}}}" if isinstance(node, ast.Name | ast.Attribute) else "{...}"


def text_of(node: ast.expr) -> str | None:
    """The text of a string or f-string; None for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if not isinstance(node, ast.JoinedStr):
        return None
    parts = (
        placeholder(part.value) if isinstance(part, ast.FormattedValue) else str(getattr(part, "value", ""))
        for part in node.values
    )
    return "".join(parts)


def texts_in(node: ast.AST, functions: dict[str, ast.FunctionDef], seen: frozenset[str] = frozenset()) -> Iterator[str]:
    """The texts of an expression, of the functions of its module that it calls, and of choices inside placeholders."""
    text = text_of(node) if isinstance(node, ast.expr) else None
    if text is not None and " " in text and any(each.isalpha() for each in text):
        yield text
    if isinstance(node, ast.Constant):
        return
    if isinstance(node, ast.Call) and name_of(node.func) in functions and name_of(node.func) not in seen:
        function = functions[name_of(node.func)]
        for statement in function.body:
            if not (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)):
                yield from texts_in(statement, functions, seen | {function.name})
    is_joined = isinstance(node, ast.JoinedStr)
    for child in ast.iter_child_nodes(node):
        if not (is_joined and isinstance(child, ast.Constant)):
            yield from texts_in(child, functions, seen)


def sayings(tree: ast.Module, kin: set[str]) -> Iterator[ast.AST]:
    """Whatever says something to the user: errors that are raised, problems, notices, what goes to standard error."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and name_of(node.exc.func) in kin:
            yield node.exc
        elif isinstance(node, ast.Call):
            is_error_line = name_of(node.func) in ("print", "say") and any(
                "stderr" in ast.unparse(each) for each in node.keywords
            )
            is_added = (
                isinstance(node.func, ast.Attribute)
                and node.func.attr in ("append", "extend")
                and name_of(node.func.value) in COLLECTED
            )
            if name_of(node.func) in TOLD or is_error_line or is_added:
                yield node
        elif (isinstance(node, ast.AugAssign) and name_of(node.target) in COLLECTED) or (
            isinstance(node, ast.Assign)
            and any(name_of(target) in {"trouble", "wanted", "fix", "reason"} for target in node.targets)
        ):
            yield node.value


def constants(tree: ast.Module, names: set[str]) -> Iterator[str]:
    """Texts that stand by themselves and are put into messages by their name."""
    for node in tree.body:
        if isinstance(node, ast.Assign) and name_of(node.targets[0]) in names:
            for text in texts_in(node.value, {}):
                yield f"{name_of(node.targets[0])} = {text}"


@cache
def messages() -> tuple[str, ...]:
    trees = modules()
    kin = errors(trees)
    found: dict[str, dict[str, None]] = {}
    for module, tree in trees.items():
        functions = {node.name: node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
        for node in sayings(tree, kin):
            line = " | ".join(dict.fromkeys(" ".join(text.split()) for text in texts_in(node, functions)))
            if line:
                found.setdefault(module, {})[line] = None
    said = "\n".join(line for lines in found.values() for line in lines)
    for module, tree in trees.items():
        names = {name_of(node.targets[0]) for node in tree.body if isinstance(node, ast.Assign)}
        for text in constants(tree, {name for name in names if name and f"{{{name}}}" in said} | LISTED):
            found.setdefault(module, {})[text] = None
    return tuple(f"{module}: {line}" for module, lines in sorted(found.items()) for line in lines)


def test_every_message_was_read_as_an_instructor_would():
    found = "\n".join(messages()) + "\n"
    if os.environ.get("GOLDEN") == "write":
        GOLDEN.write_text(found, encoding="utf-8")
    assert found == GOLDEN.read_text(encoding="utf-8")


def test_the_list_has_what_it_is_meant_to_have():
    """Some of every kind, so that a change of names in the source does not empty it unnoticed."""
    found = "\n".join(messages())
    for text in (
        "cannot be written ({error.strerror}).",
        "Another run is at work on {place}",
        "a port is for a station or for a link, not for both",
        "No lab number was found in it.",
        "{holds} {what} marked.",
        "is not a port: write it like B/7.",
        "Several files for this lab",
        "was set with another exercise",
    ):
        assert text in found, text
    assert len(found.splitlines()) > 150
