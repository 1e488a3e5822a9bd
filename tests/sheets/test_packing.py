"""Archives written by hand are those of the library."""

import io
import zipfile
from collections.abc import Mapping

from hypothesis import given
from hypothesis import strategies as st

from trainer.sheets.packing import WHEN, archive, packed_part

NAMES = st.text("abc/._-[]", min_size=1, max_size=9)


def by_the_library(parts: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as written:
        for name, data in parts.items():
            info = zipfile.ZipInfo(name, WHEN)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o600 << 16
            written.writestr(info, data)
    return out.getvalue()


@given(st.dictionaries(NAMES, st.binary(max_size=300)))
def test_the_bytes_are_those_that_the_library_writes(parts: dict[str, bytes]):
    assert archive(packed_part(name, data) for name, data in parts.items()) == by_the_library(parts)


def test_a_long_part_is_packed_as_the_library_packs_it():
    parts = {"xl/long.xml": b"".join(b"<v>%d</v>" % number for number in range(50_000))}
    assert archive(packed_part(name, data) for name, data in parts.items()) == by_the_library(parts)


def test_a_part_that_was_packed_once_may_stand_in_several_archives():
    kept = packed_part("kept.xml", b"<kept/>" * 9)
    for other in (b"one", b"another"):
        parts = {"other.xml": other, "kept.xml": b"<kept/>" * 9}
        assert archive((packed_part("other.xml", other), kept)) == by_the_library(parts)
