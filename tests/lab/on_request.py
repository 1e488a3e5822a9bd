"""Which of many like cases the plain test command tries; the others run where `-m many` asks for them, as in .ci/run."""

from collections.abc import Collection, Iterable
from typing import Any, TypeVar

import pytest

Case = TypeVar("Case")


def many(cases: Iterable[Case], plain: Collection[Case]) -> list[Any]:
    """The cases as parameters of a test; those that are not `plain` have the marker `many`."""
    cases = list(cases)
    assert set(plain) < set(cases), "a plain case is one of the cases"
    return [each if each in plain else _left_for_later(each) for each in cases]


def _left_for_later(case: Any) -> Any:
    values = case if isinstance(case, tuple) else (case,)
    return pytest.param(*values, marks=pytest.mark.many)
