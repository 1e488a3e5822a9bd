"""The zip archive around a workbook's parts. Its times are fixed, so that they tell nothing and runs can be compared; the
bytes are those that zipfile writes of the same parts (tests/sheets/test_packing.py).

A part is packed by itself, so one that stands in many files is packed once. The layout is that of the format's own
description, APPNOTE 4.3.7, 4.3.12 and 4.3.16, from memory.
"""

import struct
import sys
import zlib
from collections.abc import Iterable
from typing import NamedTuple

__all__ = ["MODE", "WHEN", "PackedPart", "archive", "packed_part"]

WHEN = (2020, 1, 1, 0, 0, 0)
"""The time of every part."""
MODE = 0o600 << 16
"""Of a part that is unpacked: its owner may read and write it. In the upper half, where archives keep modes."""

_MADE_BY = bytes([20, 0 if sys.platform == "win32" else 3])
"""Version 2.0 of the format, and the kind of system, as zipfile says it."""
_DEFLATED = 8
_DATE = (WHEN[0] - 1980) << 9 | WHEN[1] << 5 | WHEN[2]
_ABOUT = struct.Struct("<5H3L2H")
"""What both headers say: version, flags, method, time, date; check sum and sizes, packed and not; lengths of name and extra."""
_PLACE = struct.Struct("<3H2L")
"""What the directory says besides: comment, disk, kind of content; mode, and where the part begins."""
_END = struct.Struct("<4s4H2LH")


class PackedPart(NamedTuple):
    """A part as it stands in an archive, whichever."""

    name: bytes
    about: bytes
    data: bytes


def packed_part(name: str, data: bytes) -> PackedPart:
    """name: in ASCII."""
    squeezer = zlib.compressobj(zlib.Z_DEFAULT_COMPRESSION, zlib.DEFLATED, -zlib.MAX_WBITS)
    packed = squeezer.compress(data) + squeezer.flush()
    about = _ABOUT.pack(20, 0, _DEFLATED, 0, _DATE, zlib.crc32(data), len(packed), len(data), len(name), 0)
    return PackedPart(name.encode("ascii"), about, packed)


def archive(parts: Iterable[PackedPart]) -> bytes:
    """The archive of these parts, in their order."""
    pieces: list[bytes] = []
    directory: list[bytes] = []
    begin = 0
    for name, about, data in parts:
        pieces += (b"PK\3\4", about, name, data)
        directory += (b"PK\1\2", _MADE_BY, about, _PLACE.pack(0, 0, 0, MODE, begin), name)
        begin += 4 + len(about) + len(name) + len(data)
    entries = b"".join(directory)
    count = len(directory) // 5
    return b"".join((*pieces, entries, _END.pack(b"PK\5\6", 0, 0, count, count, len(entries), begin, 0)))
