"""Single files on disk: written whole or not at all, read only where they are files, and found in folders without a loss.

It knows no sitting and no workbook.
"""

import errno
import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import TrainerError

__all__ = ["NEW", "Found", "digest_of", "found_in", "is_broken_link", "read_returned", "time_saved", "write_file"]

NEW = ".new-"
"""What a file that is being written is called, before the number of the process that writes it."""
LARGEST_RETURNED = 20 * 2**20
"""Bytes of a returned file; a filled workbook has some 25,000."""

_LEFT_BY_SYSTEMS = frozenset({"thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r"})
"""Names of files that desktop systems put into folders, in small letters."""
_FOLDERS_OF_SYSTEMS = frozenset({"__macosx", "@eadir", "$recycle.bin", "system volume information", "lost+found"})
"""Likewise of folders."""
_COPIES = (".bak", ".old", ".orig", ".tmp", ".temp", ".part", ".partial", ".download", ".wbk", ".xlk", "~")
"""How the names of copies end that programs keep, or of what was not fetched to its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What lies in a folder and the folders in it, in order of name."""

    files: tuple[Path, ...]
    """What somebody may have handed in; links that lead nowhere and things that are no files are among them."""
    left_aside: tuple[Path, ...]
    """Files and folders that programs and systems leave there: hidden ones, locks, thumbnails, copies they keep."""
    unread: tuple[tuple[Path, str], ...]
    """Folders that cannot be looked into, and what only stands for a file, with the reasons: somebody's file may be lost."""


def found_in(folder: Path) -> Found:
    """Everything in a folder; nothing is left out in silence. Links to folders are not followed."""
    files: list[Path] = []
    left_aside: list[Path] = []
    unread: list[tuple[Path, str]] = []

    def note(fault: OSError) -> None:
        reason = (
            f"The folder cannot be looked into ({fault.strerror}). See that you may read it, or move its files here."
        )
        unread.append((Path(fault.filename or folder), reason))

    for place, folders, names in os.walk(folder, onerror=note):
        inside = Path(place)
        for name in sorted(folders):
            if name.startswith(".") or name.casefold() in _FOLDERS_OF_SYSTEMS:
                left_aside.append(inside / name)
                folders.remove(name)
            elif (inside / name).is_symlink():
                reason = "It is a link to a folder. Put the files themselves in its place."
                unread.append((inside / name, reason))
        folders.sort()
        for file in (inside / name for name in sorted(names)):
            if _is_placeholder(file.name):
                reason = "It only stands for a file that is kept elsewhere. Fetch that file, and put it in its place."
                unread.append((file, reason))
            elif _is_left_behind(file.name):
                left_aside.append(file)
            else:
                files.append(file)
    return Found(files=tuple(sorted(files)), left_aside=tuple(sorted(left_aside)), unread=tuple(sorted(unread)))


def _is_left_behind(name: str) -> bool:
    small = name.casefold()
    return small in _LEFT_BY_SYSTEMS or small.startswith((".", "~$")) or small.endswith(_COPIES)


def _is_placeholder(name: str) -> bool:
    """Whether a hidden file is called like a workbook with an ending of its own, as clients of file stores leave them."""
    return name.startswith(".") and not name.startswith((".~", "._", NEW)) and ".xlsx." in name.casefold()


def write_file(file: Path, data: bytes, *, private: bool = False) -> None:
    """Writes the file beside itself and renames it, so that there is always the old file or the new one.

    private: nobody but its owner may read it.

    Raises TrainerError, and leaves the old file, where it cannot be written or nobody may write into it.
    """
    try:
        _refuse_protected(file)
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=f"{NEW}{os.getpid()}-")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(data)
                out.flush()
                os.fsync(handle)
            if not private:
                Path(name).chmod(0o666 & ~_umask())
            Path(name).replace(file)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        if file.is_dir():
            raise TrainerError(
                f"{file} cannot be written: it is a folder. Move that away, or give it another name; then run the command again."
            ) from error
        raise TrainerError(
            f"{file} cannot be written ({error.strerror}). Close it if another program has it open, make room if the disk is "
            "full, or take its write protection away; then run the command again."
        ) from error


def _refuse_protected(file: Path) -> None:
    """Renaming asks for no right to the file itself, so a write protection would go unnoticed on some systems."""
    if file.is_file() and not file.stat().st_mode & 0o222:
        raise PermissionError(errno.EACCES, "it is write-protected")


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def read_returned(file: Path) -> bytes:
    """The bytes of a returned file. Raises TrainerError where it cannot be read, or is none, or is far too large."""
    try:
        if is_broken_link(file):
            raise TrainerError(
                "It is a link, and the file it leads to is not there. Put that file itself in its place."
            )
        if not file.is_file() and file.exists():  # a pipe would never end, a device may do anything
            raise TrainerError("It is not a file. Put the workbook itself in its place.")
        if file.stat().st_size > LARGEST_RETURNED:
            raise TrainerError(
                f"The file is larger than {LARGEST_RETURNED >> 20} MB, so it is no filled workbook of ours. Ask for the "
                "workbook that was handed out."
            )
        return file.read_bytes()
    except OSError as error:
        raise TrainerError(
            f"The file cannot be read ({error.strerror}). See that it is there and that you may read it, or copy it here again."
        ) from error


def digest_of(data: bytes) -> str:
    """What a file is recognised by wherever it lies: SHA-256 of its bytes, in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def time_saved(file: Path) -> float:
    """When a file was written, in seconds of the system's clock; 0 where it is gone."""
    try:
        return file.stat().st_mtime
    except OSError:
        return 0


def is_broken_link(file: Path) -> bool:
    """Whether a link leads nowhere."""
    return file.is_symlink() and not file.exists()
