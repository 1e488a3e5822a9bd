"""Makes the helper modules that stand beside the tests importable, wherever pytest is started."""

import os
import sys
from collections.abc import Generator
from pathlib import Path

import pytest

for folder in ("lab", "network", "marking"):
    sys.path.insert(0, str(Path(__file__).parent / folder))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where everything is installed (TRAINER_NO_SKIPS is set), a skipped test is a failed one."""
    report = yield
    if report.skipped and os.environ.get("TRAINER_NO_SKIPS") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped where nothing should be: {report.longrepr}"
    return report
