"""One browser for the tests of a module."""

from collections.abc import Iterator

import pytest
from browsing import Browser, browser


@pytest.fixture(scope="module")
def opened() -> Iterator[Browser]:
    with browser() as found:
        yield found
