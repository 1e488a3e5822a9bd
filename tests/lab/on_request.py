"""Which of many like cases the plain test command tries; the others run where `-m many` asks for them, as in .ci/run."""

from collections.abc import Collection, Iterable
from typing import Any, TypeVar

import pytest

Case = TypeVar("Case")


def many(cases: Iterable[Case], plain: Collection[Case]) -> list[Any]:
    """The cases as parameters of a test; those that are not `plain` have the marker `many`."""
    cases = list(cases)
    assert set(plain) < set(cases), "a plain case is one of the cases"
    return [case if case in plain else pytest.param(case, marks=pytest.mark.many) for case in cases]
