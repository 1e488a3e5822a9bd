"""Examples in docstrings are run, in whatever module they stand."""

import doctest
import importlib
from pathlib import Path

import pytest

TRAINER = Path(__file__).parents[1] / "trainer"
WITH_EXAMPLES = [
    ".".join(file.relative_to(TRAINER.parent).with_suffix("").parts)
    for file in sorted(TRAINER.rglob("*.py"))
    if ">>>" in file.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_examples_in_docstrings_hold(module: str) -> None:
    found = doctest.testmod(importlib.import_module(module))
    assert found.attempted > 0
    assert found.failed == 0
