"""Single files on disk: written whole or not at all, read only where they are files, and found in folders without a loss.

It knows no sitting and no workbook.
"""

import errno
import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from trainer.archives import archive_of, is_archive, members, read_member
from trainer.errors import TrainerError

__all__ = [
    "NEW",
    "Found",
    "digest_of",
    "found_at",
    "found_in",
    "is_broken_link",
    "is_there",
    "make_folder",
    "read_returned",
    "time_saved",
    "write_file",
]

NEW = ".new-"
"""What a file that is being written is called, before the number of the process that writes it."""
_MADE_ANEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
"""How it is opened: never one that is there; and not as text, on systems that know the difference."""
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
    """What lies in a folder, the folders in it and the archives there, in order of name."""

    files: tuple[Path, ...]
    """What somebody may have handed in; links that lead nowhere and things that are no files are among them. What is in an
    archive is called as if that were a folder.
    """
    left_aside: tuple[Path, ...]
    """Files and folders that programs and systems leave there: hidden ones, locks, thumbnails, copies they keep."""
    unread: tuple[tuple[Path, str], ...]
    """Folders that cannot be looked into, and what only stands for a file, with the reasons: somebody's file may be lost."""
    archives: tuple[Path, ...] = ()
    """The archives whose members are among the files."""


class _Finding:
    """What was found so far."""

    def __init__(self) -> None:
        self.files: list[Path] = []
        self.left_aside: list[Path] = []
        self.unread: list[tuple[Path, str]] = []
        self.archives: list[Path] = []

    def note(self, fault: OSError) -> None:
        reason = (
            f"The folder cannot be looked into ({fault.strerror}). See that you may read it, or move its files here."
        )
        self.unread.append((Path(fault.filename), reason))

    def take(self, file: Path) -> None:
        """One file, or what is in one archive."""
        if _is_placeholder(file.name):
            reason = "It only stands for a file that is kept elsewhere. Fetch that file, and put it in its place."
            self.unread.append((file, reason))
        elif _is_left_behind(file.name):
            self.left_aside.append(file)
        elif is_archive(file):
            self._take_members(file)
        else:
            self.files.append(file)

    def _take_members(self, archive: Path) -> None:
        try:
            inside = members(archive)
        except TrainerError as error:
            self.unread.append((archive, str(error)))
            return
        if not inside:  # what an empty one is, is said where it is read
            self.files.append(archive)
            return
        self.archives.append(archive)
        for member in inside:
            *folders, name = member.path.relative_to(archive).parts
            if any(map(_is_folder_of_systems, folders)) or _is_left_behind(name):
                self.left_aside.append(member.path)
            elif member.trouble:
                self.unread.append((member.path, member.trouble))
            else:
                self.files.append(member.path)

    def found(self) -> Found:
        return Found(
            files=tuple(sorted(set(self.files))),
            left_aside=tuple(sorted(self.left_aside)),
            unread=tuple(sorted(self.unread)),
            archives=tuple(sorted(self.archives)),
        )


def found_in(folder: Path) -> Found:
    """Everything in a folder; nothing is left out in silence. Links to folders are not followed."""
    found = _Finding()
    _look_into(folder, found)
    return found.found()


def found_at(places: Iterable[Path]) -> Found:
    """Everything in the folders that are named, and the files that are, whatever they are called."""
    found = _Finding()
    for place in dict.fromkeys(places):
        if place.is_dir():
            _look_into(place, found)
        elif is_archive(place):
            found.take(place)
        else:
            found.files.append(place)
    return found.found()


def _look_into(folder: Path, found: _Finding) -> None:
    for place, folders, names in os.walk(folder, onerror=found.note):
        inside = Path(place)
        for name in sorted(folders):
            if _is_folder_of_systems(name):
                found.left_aside.append(inside / name)
                folders.remove(name)
            elif (inside / name).is_symlink():
                reason = "It is a link to a folder. Put the files themselves in its place."
                found.unread.append((inside / name, reason))
        folders.sort()
        for name in sorted(names):
            found.take(inside / name)


def _is_folder_of_systems(name: str) -> bool:
    return name.startswith(".") or name.casefold() in _FOLDERS_OF_SYSTEMS


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
        beside = file.parent / f"{NEW}{os.getpid()}-{os.urandom(8).hex()}"
        handle = os.open(beside, _MADE_ANEW, 0o600 if private else 0o666)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(data)
                out.flush()
                os.fsync(handle)
            beside.replace(file)
        except BaseException:
            beside.unlink(missing_ok=True)
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


def make_folder(folder: Path, *, private: bool = True) -> None:
    """Makes the folder and those above it, if they are not there; private: nobody but its owner may look into it.

    Raises TrainerError where it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700 if private else 0o777)
    except OSError as error:
        raise TrainerError(
            f"{folder} cannot be made a folder ({error.strerror}). Choose another place with --out."
        ) from error


def _refuse_protected(file: Path) -> None:
    """Renaming asks for no right to the file itself, so a write protection would go unnoticed on some systems."""
    if file.is_file() and not file.stat().st_mode & 0o222:
        raise PermissionError(errno.EACCES, "it is write-protected")


def read_returned(file: Path) -> bytes:
    """The bytes of a returned file, be it in an archive. Raises TrainerError where it cannot be read, or is none, or is far too
    large.
    """
    archive = archive_of(file)
    if archive is not None:
        return read_member(archive, file, LARGEST_RETURNED)
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
    archive = archive_of(file)
    try:
        if archive is not None:
            return next((each.saved_at for each in members(archive) if each.path == file), 0)
        return file.stat().st_mtime
    except (OSError, TrainerError):
        return 0


def is_there(file: Path) -> bool:
    """Whether there is such a file, be it in an archive."""
    archive = archive_of(file)
    try:
        return file.is_file() if archive is None else any(each.path == file for each in members(archive))
    except TrainerError:
        return False


def is_broken_link(file: Path) -> bool:
    """Whether a link leads nowhere."""
    return file.is_symlink() and not file.exists()
