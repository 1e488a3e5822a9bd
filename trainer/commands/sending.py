"""What goes to the trainees, packed: a folder a trainee with nothing of anybody else, and one zip archive of what is new.

Rules of this file: a folder bears the lab number, and the trainee's id if that was asked for, never a name; an archive
holds what has changed since the one before, and has a number of its own, so that none is lost that was not sent yet; what
was packed is kept as digests, and no clock is asked, so that the same files give the same archive.
"""

import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from trainer.errors import TrainerError
from trainer.files import digest_of, write_file
from trainer.lab.scenario import Trainee
from trainer.listing import how_many
from trainer.record_files import read_value, write_value
from trainer.store import Sitting, stem

__all__ = ["Packed", "Parcel", "in_words", "pack", "packed_as_json", "renew"]

_WHEN = (2020, 1, 1, 0, 0, 0)
"""The time of everything in an archive, so that it tells nothing and runs can be compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What one trainee gets."""

    trainee: Trainee
    lab: str
    files: Mapping[str, Path]
    """By the name in the trainee's folder; those that are not there are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What was packed."""

    folder: Path
    archive: Path | None
    """None where nothing has changed."""
    last: Path | None
    """The archive before it."""
    changed: tuple[str, ...]
    """The labs of which something is in the archive."""
    labs: int
    """How many have a folder."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sent:
    """What the archives of one kind held so far."""

    archives: int = 0
    digests: tuple[tuple[str, str, str], ...] = field(default=())
    """Lab, file, digest: as packed last."""


def pack(sitting: Sitting, what: str, parcels: Sequence[Parcel], *, named: bool) -> Packed:
    """Writes the folders and, where something has changed, the next archive.

    what: "hand-out" or "hand-back". named: whether folders bear the ids of trainees too. Raises TrainerError where
    something cannot be read or written; what was packed counts only once the archive is there.
    """
    folder = sitting.to_send / what
    sent = _sent(sitting, what)
    known = {(lab, name): digest for lab, name, digest in sent.digests}
    new: dict[str, bytes] = {}
    changed: list[str] = []
    for parcel in parcels:
        name = stem(parcel.trainee, parcel.lab) if named else parcel.lab
        data = {file: _bytes(path) for file, path in parcel.files.items() if path.is_file()}
        _write_folder(folder, name, data, other_names={stem(parcel.trainee, parcel.lab), parcel.lab} - {name})
        for file, content in data.items():
            digest = digest_of(content)
            if known.get((parcel.lab, file)) != digest:
                known[parcel.lab, file] = digest
                new[f"{name}/{file}"] = content
                changed.append(parcel.lab)
    archive = None
    if new:
        archive = sitting.to_send / f"{what}-{sent.archives + 1}.zip"
        write_file(archive, _zipped(new), private=True)
        digests = tuple(sorted((lab, file, digest) for (lab, file), digest in known.items()))
        write_value(_record(sitting, what), _Sent(archives=sent.archives + 1, digests=digests))
    return Packed(
        folder=folder,
        archive=archive,
        last=sitting.to_send / f"{what}-{sent.archives}.zip" if sent.digests else None,
        changed=tuple(dict.fromkeys(changed)),
        labs=len(parcels),
    )


def renew(sitting: Sitting, what: str, parcels: Sequence[Parcel]) -> tuple[str, ...]:
    """Writes folders anew that were packed before and hold something else now; no archive. Gives their labs.

    what: as in pack. Raises TrainerError where something cannot be read or written.
    """
    folder = sitting.to_send / what
    renewed = []
    for parcel in parcels:
        for name in (parcel.lab, stem(parcel.trainee, parcel.lab)):
            if (folder / name).is_dir():
                data = {file: _bytes(path) for file, path in parcel.files.items() if path.is_file()}
                if any(_bytes(each) != data.get(each.name) for each in (folder / name).iterdir() if each.is_file()):
                    _write_folder(folder, name, data, other_names=set())
                    renewed.append(parcel.lab)
    return tuple(renewed)


def in_words(sitting: Sitting, packed: Packed) -> Iterator[str]:
    """What was packed, in lines."""
    if packed.archive is not None:
        what = "everything" if packed.last is None else f"what has changed since {packed.last.name}"
        yield f"  To send:            {packed.archive} ({what}, {len(packed.changed)} of {how_many(packed.labs, 'lab')})"
    elif packed.last is not None:
        yield f"  To send:            nothing has changed since {packed.last}"
        record = sitting.relative(_record(sitting, packed.folder.name))
        yield f"                      (to have everything in the next archive delete {record})"
    if packed.labs:
        yield f"  A folder a trainee: {packed.folder}"


def packed_as_json(sitting: Sitting, packed: Packed | None) -> dict[str, object]:
    """What other programs are told of it; nothing where nothing was to be packed."""
    if packed is None:
        return {}
    return {
        "folders": sitting.relative(packed.folder),
        "archive": sitting.relative(packed.archive) if packed.archive else None,
        "changed": list(packed.changed),
    }


def _record(sitting: Sitting, what: str) -> Path:
    return sitting.instructor / f"sent-{what}.json"


def _sent(sitting: Sitting, what: str) -> _Sent:
    """What was sent; nothing where that is not known, so that all of it is sent again, in an archive of the next number."""
    try:
        sent: _Sent = read_value(_Sent, _record(sitting, what))
    except TrainerError:
        numbers = [file.stem.rpartition("-")[2] for file in sitting.to_send.glob(f"{what}-*.zip")]
        return _Sent(archives=max((int(number) for number in numbers if number.isdecimal()), default=0))
    return sent


def _bytes(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise TrainerError(f"{file} cannot be read ({error.strerror}). See that you may, and run it again.") from error


def _write_folder(folder: Path, name: str, data: Mapping[str, bytes], *, other_names: set[str]) -> None:
    """Writes a trainee's folder; what is not in it any more, and the folder of another name, is taken away."""
    own = folder / name
    try:
        own.mkdir(parents=True, exist_ok=True, mode=0o700)
        for other in other_names:
            _clear(folder / other, keep=())
        _clear(own, keep=data)
    except OSError as error:
        raise TrainerError(
            f"{error.filename or own} cannot be made or cleared ({error.strerror}). See that you may write there, and run it "
            "again."
        ) from error
    for file, content in data.items():
        target = own / file
        if not (target.is_file() and target.read_bytes() == content):
            write_file(target, content, private=True)


def _clear(folder: Path, keep: Mapping[str, bytes] | tuple[()]) -> None:
    """Takes files of ours away that are not to be kept, and the folder if nothing is left in it."""
    if folder.is_dir():
        for file in folder.iterdir():
            if file.name not in keep and file.is_file() and file.suffix in (".xlsx", ".html", ".pdf"):
                file.unlink()
        if not keep:
            with suppress(OSError):  # somebody else's files are in it
                folder.rmdir()


def _zipped(files: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in sorted(files.items()):
            info = zipfile.ZipInfo(name, _WHEN)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(info, data)
    return stream.getvalue()
