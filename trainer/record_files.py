"""Records in files of a sitting: written whole, and read with words for whoever finds one damaged."""

import json
from pathlib import Path
from typing import Any

from trainer.errors import TrainerError
from trainer.files import write_file
from trainer.records import RecordError, from_record, to_record

__all__ = ["FORMAT", "RESTORE", "as_value", "read_value", "record_bytes", "versioned", "write_record", "write_value"]

FORMAT = 1
"""Version of the scenario file and of the register."""
RESTORE = (
    "Put a copy of it back. Without one, move it away and run 'trainer set' again with the same exercise workbook: by the "
    "secret everything comes out as it was."
)
"""True as long as the secret, the exercise and this version of the program are those that it was set with."""


def read_value(wanted: Any, file: Path) -> Any:
    """The value in a file. Raises TrainerError where it is damaged."""
    return as_value(wanted, _json(file), file)


def versioned(file: Path) -> dict[str, Any]:
    """The record in a file that says its version. Raises TrainerError where that is another one."""
    record = _json(file)
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise TrainerError(f"{file} was written by another version of this program; use that one for this sitting.")
    return record


def as_value(wanted: Any, record: Any, file: Path) -> Any:
    """A record as a value. Raises TrainerError where it is of another form."""
    try:
        return from_record(wanted, record)
    except RecordError as error:
        raise TrainerError(f"{file} is damaged or of another version ({error}). {RESTORE}") from error


def write_value(file: Path, value: Any) -> None:
    write_record(file, to_record(value))


def write_record(file: Path, record: Any) -> None:
    """Raises TrainerError where the file cannot be written."""
    write_file(file, record_bytes(record), private=True)


def record_bytes(record: Any) -> bytes:
    """What a record's file holds: one line, which is written in a tenth of the time."""
    text = json.dumps(record, ensure_ascii=False)
    # a file name that is no text, as some systems allow, has lone surrogates: JSON holds them escaped
    return text.encode(errors="backslashreplace")


def _json(file: Path) -> Any:
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise TrainerError(f"{file} cannot be read. {RESTORE}") from error
