"""Zip archives in which files come back: a class as learning platforms and cloud folders export it, opened without trusting it.

Rules of this file: nothing of an archive is ever written to a disk, its members are read in memory alone; a member is
called by a path below the archive's own, as if that were a folder, and no name in it leads out of it; what is larger than
it may be is not unpacked; an archive in an archive stays closed. It knows no sitting and no workbook's cells.
"""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from trainer.errors import TrainerError

__all__ = ["Member", "archive_of", "is_archive", "members", "read_member"]

MOST_BYTES = 2 * 2**30
"""Of an archive, as it is and unpacked; thirty filled workbooks have less than one MB."""
MOST_MEMBERS = 2_000
_LARGEST_DIRECTORY = 4 * 2**20
"""Bytes of the list of members, 2,000 for each of the most; also what is read at once before that list is known."""
_LONGEST_STEP, _MOST_STEPS = 120, 12
"""Characters of a folder's or member's name, and how many folders deep: what is longer is cut, and still another's name."""
_EXTENDED_TIME = 0x5455
"""Extra field with a time in seconds of Universal Time, as many archivers write it (common practice, no source)."""
_FAULTS = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, OverflowError, RuntimeError, ValueError,
)  # fmt: skip
_UNPACK = "Unpack it, and put the files here in its place."
_AGAIN = "Fetch it again, or put the files themselves in its place."


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A file in an archive."""

    path: Path
    """The archive's own path with the member's below it; no two members have the same."""
    saved_at: float
    """Seconds of the system's clock, by the archive; 0 where it does not say."""
    place: int
    """Its place in the archive's list, from 0."""
    trouble: str
    """Why it cannot be read, and what to do; "" where it can."""


def is_archive(file: Path) -> bool:
    """Whether it is called a zip archive and is one, and no workbook that is only called so."""
    if file.suffix.casefold() != ".zip" or not file.is_file():
        return False
    state = file.stat()
    return _is_archive(file, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=64)
def _is_archive(file: Path, size: int, _changed: int) -> bool:
    """Of a file as it is: size and time of the last change tell whether it still is."""
    try:
        with file.open("rb") as handle:
            if handle.read(2) != b"PK":
                return False
        with _opened(file) as archive:
            return not _is_document(archive)
    except (OSError, *_FAULTS):
        return size > _LARGEST_DIRECTORY  # a smaller one is told of as a workbook that is cut off would be


def members(file: Path) -> tuple[Member, ...]:
    """What is in an archive, in its order; folders are none. Raises TrainerError where it cannot be read or is too large."""
    try:
        state = file.stat()
        if state.st_size > MOST_BYTES:
            raise TrainerError(f"The archive is larger than {MOST_BYTES >> 30} GB. {_UNPACK}")
        return _members(file, state.st_size, state.st_mtime_ns)
    except OSError as error:
        raise TrainerError(f"The archive cannot be read ({error.strerror}). {_AGAIN}") from error
    except _FAULTS as error:
        raise TrainerError(f"The archive is damaged, or was not fetched to its end. {_AGAIN}") from error


def archive_of(path: Path) -> Path | None:
    """The archive that a path leads into; None for a path of its own."""
    if _is_there(path):
        return None
    there = next((parent for parent in path.parents if _is_there(parent)), None)
    return there if there is not None and there.is_file() and is_archive(there) else None


def _is_there(path: Path) -> bool:
    """Whether it is; a name that is longer than the system takes is not."""
    try:
        return path.exists()
    except OSError:
        return False


def read_member(archive: Path, path: Path, most: int) -> bytes:
    """The bytes of a member. Raises TrainerError where it is not there, has more than so many bytes, or is damaged."""
    member = next((each for each in members(archive) if each.path == path), None)
    if member is None:
        raise TrainerError("It is not in the archive any more. Grade again.")
    if member.trouble:
        raise TrainerError(member.trouble)
    try:
        with _opened(archive) as opened:
            info = opened.infolist()[member.place]
            if info.file_size > most:
                raise TrainerError(
                    f"The file is larger than {most >> 20} MB, so it is no filled workbook of ours. Ask for the workbook "
                    "that was handed out."
                )
            with opened.open(info) as handle:
                return handle.read(most)
    except OSError as error:
        raise TrainerError(f"The archive cannot be read ({error.strerror}). {_AGAIN}") from error
    except _FAULTS as error:
        raise TrainerError(f"It is damaged in the archive, or was not fetched to its end. {_AGAIN}") from error


class _Careful(io.FileIO):
    """A file of which no piece is read that is larger than a list of members may be, until that list is known to be small."""

    is_known = False

    def read(self, size: int | None = -1, /) -> bytes:
        if size is None or size < 0:
            size = self._rest()
        if not self.is_known and size > _LARGEST_DIRECTORY:
            raise zipfile.BadZipFile("its list of members is too large")
        return super().read(size) or b""

    def _rest(self) -> int:
        here = self.tell()
        end = self.seek(0, io.SEEK_END)
        self.seek(here)
        return end - here


@contextmanager
def _opened(file: Path) -> Iterator[zipfile.ZipFile]:
    with _Careful(str(file)) as handle, zipfile.ZipFile(handle) as archive:
        handle.is_known = True
        yield archive


def _is_document(archive: zipfile.ZipFile) -> bool:
    """Whether it is a document of an office program, which all are zip archives; what it is is said elsewhere."""
    names = {info.filename.casefold() for info in archive.infolist()}
    return not names.isdisjoint({"[content_types].xml", "mimetype"}) or any(name.endswith(".iwa") for name in names)


@lru_cache(maxsize=4)
def _members(file: Path, _size: int, changed: int) -> tuple[Member, ...]:
    """The members of an archive as it is (_is_archive)."""
    found: list[Member] = []
    taken: set[Path] = set()
    with _opened(file) as archive:
        infos = archive.infolist()
        if len(infos) > MOST_MEMBERS:
            raise TrainerError(
                f"The archive holds {len(infos):,} files, and at most {MOST_MEMBERS:,} are read. {_UNPACK}"
            )
        if sum(info.file_size for info in infos) > MOST_BYTES:
            raise TrainerError(f"The archive unpacks to more than {MOST_BYTES >> 30} GB. {_UNPACK}")
        for place, info in enumerate(infos):
            if info.is_dir():
                continue
            path = _of_its_own(file.joinpath(*_steps(info)), taken)
            taken.add(path)
            saved_at = _saved_at(info) or changed / 1e9
            found.append(Member(path=path, saved_at=saved_at, place=place, trouble=_trouble(archive, info)))
    return tuple(found)


def _steps(info: zipfile.ZipInfo) -> list[str]:
    """A member's name, step by step; none leads up, to a root or to a drive."""
    name = info.filename
    if not info.flag_bits & 0x800:  # names in no declared letters are often UTF-8 all the same
        with suppress(ValueError):
            name = name.encode("cp437").decode("utf-8")
    steps = [step[:_LONGEST_STEP] for step in re.split(r"[\\/\0]+", name) if step.strip(" .")]
    if steps and len(steps[-1]) == _LONGEST_STEP:
        steps[-1] = steps[-1][:-8] + Path(name).suffix[:8]
    return [*steps[: _MOST_STEPS - 1], *steps[-1:]] if len(steps) > _MOST_STEPS else steps or ["nameless"]


def _of_its_own(path: Path, taken: set[Path]) -> Path:
    """The path, with a number where another member has it."""
    number, found = 1, path
    while found in taken:
        number += 1
        found = path.with_name(f"{path.stem} ({number}){path.suffix}")
    return found


def _saved_at(info: zipfile.ZipInfo) -> float:
    """When a member was saved: by its time in seconds if it has one, else by the clock of whoever packed it; 0 for neither."""
    extra = info.extra
    while len(extra) >= 4:
        kind, length = struct.unpack_from("<HH", extra)
        if kind == _EXTENDED_TIME and length >= 5 and len(extra) >= 9 and extra[4] & 1:
            return float(struct.unpack_from("<i", extra, 5)[0])
        extra = extra[4 + length :]
    try:
        return datetime(*info.date_time).astimezone().timestamp()  # the format knows no zone
    except (ValueError, OverflowError, OSError):
        return 0


def _trouble(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> str:
    """Why a member cannot be read; "" where it can."""
    if info.flag_bits & 1:
        return f"It is protected by a password in the archive. {_UNPACK}"
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        return f"It is packed in a way that is not read here. {_UNPACK}"
    if info.filename.casefold().endswith(".zip") and not _is_workbook_within(archive, info):
        return "It is an archive in an archive, which is not opened. Unpack the outer one, and put the files here in its place."
    return ""


def _is_workbook_within(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bool:
    """Whether a member that is called an archive is a document with an ending too many."""
    if info.file_size > _LARGEST_DIRECTORY:
        return False
    try:
        with archive.open(info) as handle, zipfile.ZipFile(io.BytesIO(handle.read())) as inner:
            return _is_document(inner)
    except (OSError, *_FAULTS):
        return False
