"""Commands that are broken off at a write, as a kill or a power cut does."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from trainer import cli

__all__ = ["killed_at", "writes"]


class Killed(BaseException):
    """Stands for a kill: nothing of the program runs on."""


@contextmanager
def killed_at(write: int) -> Iterator[None]:
    """Breaks off before a file takes its place for the so-manieth time; after that nothing on disk changes any more."""
    done = 0
    replace, unlink = Path.replace, Path.unlink

    def count(self: Path, target: Path) -> Path:
        nonlocal done
        done += 1
        if done >= write:
            raise Killed
        return replace(self, target)

    def unless_dead(self: Path, *, missing_ok: bool = False) -> None:
        if done < write:
            unlink(self, missing_ok=missing_ok)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "replace", count)
        patch.setattr(Path, "unlink", unless_dead)
        try:
            yield
        except Killed:
            return
    raise AssertionError(f"there is no write {write}")


def writes(words: list[str]) -> int:
    """How many files take their place when the command is not disturbed."""
    done: list[Path] = []
    replace = Path.replace
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "replace", lambda self, target: done.append(target) or replace(self, target))
        cli.main(words)
    return len(done)
