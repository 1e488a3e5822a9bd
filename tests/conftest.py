"""Makes the helper modules that stand beside the tests importable, wherever pytest is started."""

import gc
import os
import signal
import sys
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import settings

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # begun in the background, where Ctrl-C means nothing: what is interrupted in tests would go on
    signal.signal(signal.SIGINT, signal.default_int_handler)
gc.set_threshold(100_000, 50, 100)  # looked for as often as usual, garbage takes a tenth of the time
for folder in ("lab", "network", "marking", "kernel", "pages", "browser", "corpus", "study", "sheets"):
    sys.path.insert(0, str(Path(__file__).parent / folder))


# no deadlines: how long a value takes depends on what else the machine does
settings.register_profile("the same each time", derandomize=True, database=None, deadline=None)
settings.register_profile("others each time", deadline=None)
# the same, so that a commit passes or does not
settings.load_profile("others each time" if os.environ.get("TRAINER_NIGHTLY") else "the same each time")

ON_REQUEST = ("kernel", "killed", "browser", "desktop", "many")
"""Markers of tests that take minutes or need other programs, and that run only where `-m` or a path asks for them."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for marker in ON_REQUEST:
        if any(marker in asked for asked in (config.option.markexpr, *config.args)):
            continue
        left_out = [item for item in items if item.get_closest_marker(marker)]
        if left_out:
            config.hook.pytest_deselected(items=left_out)
            items[:] = [item for item in items if item not in set(left_out)]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where everything is installed (TRAINER_NO_SKIPS is set), a skipped test is a failed one."""
    report = yield
    if report.skipped and os.environ.get("TRAINER_NO_SKIPS") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped where nothing should be: {report.longrepr}"
    return report
