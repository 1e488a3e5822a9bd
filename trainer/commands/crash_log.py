"""Where the trace of a fault of ours is written, for whoever sends it to us."""

import sys
import tempfile
from pathlib import Path

__all__ = ["OUT", "write_log"]

OUT = Path("output")


def write_log(text: str, *, more: bool = False) -> Path:
    """Writes a log under output/, or where temporary files go if that cannot be written; gives where it is.

    more: behind what an earlier fault of the same run has left there.
    """
    for folder in (OUT, Path(tempfile.gettempdir())):
        file = folder / "trainer-error.log"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with file.open("a" if more else "w", encoding="utf-8", errors="backslashreplace") as out:
                out.write(text)
        except OSError:
            continue
        return file.resolve()
    print(text, file=sys.stderr)
    return Path("(nowhere: no folder could be written)")
