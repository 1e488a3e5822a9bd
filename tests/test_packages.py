"""Which versions of packages are asked for."""

import importlib.metadata
import tomllib
from pathlib import Path

import pytest

NEEDED = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"][
    "dependencies"
]


def test_no_version_is_asked_for_in_which_a_template_gets_out_of_its_sandbox():
    """Up to 3.1.5 a brief could write the environment into every handout."""
    assert [each for each in NEEDED if each.startswith("jinja2")] == ["jinja2>=3.1.6,<4"]
    version = importlib.metadata.version("jinja2")
    assert tuple(map(int, version.split("."))) >= (3, 1, 6)


@pytest.mark.parametrize("needed", NEEDED)
def test_a_package_that_may_break_at_its_next_version_has_an_upper_bound(needed: str):
    assert "<" in needed
