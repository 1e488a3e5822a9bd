"""Commands begin with what they need alone: loading takes longer than a small class."""

import subprocess
import sys

import pytest

CATALOGUE = "trainer.marking.mistakes.catalogue"


def loaded(module: str) -> set[str]:
    asked = f"import sys, trainer.commands.{module}; print(*sys.modules)"
    return set(subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout.split())


@pytest.mark.parametrize("module", ["check", "lab_making", "key", "sample"])
def test_what_marks_nothing_loads_no_mistakes(module: str):
    assert CATALOGUE not in loaded(module)


def test_what_marks_loads_them():
    assert CATALOGUE in loaded("watched_reader")
