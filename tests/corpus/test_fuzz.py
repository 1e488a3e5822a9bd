"""Damaged files: whatever became of a workbook on its way, it is graded or refused in a sentence, and never stops anything.

240 files in a plain run, 20,000 with TRAINER_NIGHTLY=1; the seed is fixed, so that a finding can be had again. A failing
test says which files; `damaged(seed)` makes one again.
"""

import io
import os
import random
import re
import struct
import zipfile
from collections.abc import Callable
from functools import cache

import pytest
from drawn_labs import changed, draw
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workbooks import of_returned, parts_of, zipped

from trainer.errors import UnreadableFile
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.key import derive_key
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.sheets.answer_book import write_key_book
from trainer.sheets.intake import read_book
from trainer.sheets.paper import paper_of
from trainer.sheets.returned_book import read_form

IS_NIGHT = bool(os.environ.get("TRAINER_NIGHTLY"))
FILES = 20_000 if IS_NIGHT else 240
BATCHES = 20
MARKED_EVERY = 5
"""Of the files that can be read so many are marked too; marking is 20 times as dear as reading."""

WORDS = (
    *(
        "<",
        ">",
        "&",
        "/>",
        "</c>",
        '<c r="D6">',
        "<f>1+1</f>",
        "<v>",
        "</v>",
        "]]>",
        "<![CDATA[",
        "<!--",
        "&#0;",
        "&amp;",
    ),
    *("_x0000_", "_xD800_", "\0", "\ufeff", "\u202e", "é", "１", "=1+1", "1E999", "-1", "99999999999999999999", "NaN"),
    *(
        't="s"',
        't="e"',
        't="b"',
        't="d"',
        's="99"',
        'r="A1"',
        'r="XFE1"',
        'ref="A1:XFD1048576"',
        "xmlns=''",
        "Route 9999",
    ),
    *(
        "Subnets",
        "Gateway",
        "VLAN",
        "Lab number",
        "ANSWER KEY - ",
        "\n" * 50,
        "x" * 40_000,
        "<!DOCTYPE x>",
        "Binding 1",
    ),
)


@cache
def lab() -> Scenario:
    exercise = read_exercise(changed(tables={"networks": HARBOUR.tables["networks"][:3]}))
    assert isinstance(exercise, Exercise)
    return draw(exercise, 1)[0]


@cache
def originals() -> tuple[bytes, ...]:
    """The workbook as we write it, and as two other programs may."""
    book = write_key_book(lab(), derive_key(lab()))
    model = of_returned(read_book(book))
    return book, zipped(parts_of(model)), zipped(parts_of(model, shared=False, references=False))


def treat(data: bytes, *, is_marked: bool) -> str:
    """What becomes of a file: "refused" or "graded". Whatever else it raises is a finding."""
    try:
        book = read_book(data)
    except UnreadableFile as fault:
        words = str(fault)
        is_worded = re.fullmatch(r"[A-Z].*\.", words, re.DOTALL) and len(words) < 400
        if "not foreseen" in words or not is_worded:
            raise AssertionError(words) from fault
        return "refused"
    paper_of(book)
    form = read_form(book, lab())
    assert all(notice.endswith(".") for notice in form.notices)
    if is_marked:
        marked = mark(lab(), form.filled)
        assert 0 <= marked.marks <= marked.out_of
    return "graded"


# --- Ways to damage a file --------------------------------------------------------------------------------------------


def bytes_changed(rng: random.Random, data: bytes) -> bytes:
    spoilt = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 10, 200))):
        spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
    return bytes(spoilt)


def bits_turned(rng: random.Random, data: bytes) -> bytes:
    spoilt = bytearray(data)
    for _ in range(rng.choice((1, 1, 3))):
        spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
    return bytes(spoilt)


def cut_off(rng: random.Random, data: bytes) -> bytes:
    return data[: rng.randrange(len(data))]


def piece_moved(rng: random.Random, data: bytes) -> bytes:
    start, length, target = rng.randrange(len(data)), rng.randrange(1, 2000), rng.randrange(len(data))
    piece = data[start : start + length]
    rest = data if rng.random() < 0.5 else data[:start] + data[start + length :]
    return rest[:target] + piece + rest[target:]


def directory_changed(rng: random.Random, data: bytes) -> bytes:
    """In the list of the archive's members: sizes, offsets, names, flags."""
    spoilt = bytearray(data)
    start = data.find(b"PK\x01\x02")
    for _ in range(rng.randrange(1, 6)):
        place = rng.randrange(start, len(data) - 4)
        spoilt[place : place + 4] = rng.choice(
            (struct.pack("<L", rng.getrandbits(32)), b"\0\0\0\0", b"\xff\xff\xff\xff", b"../.", b"PK\x05\x06")
        )
    return bytes(spoilt)


def part_changed(rng: random.Random, data: bytes) -> bytes:
    """In the XML of a part; the archive around it stays sound."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts: dict[str, str | bytes] = {name: archive.read(name) for name in archive.namelist()}
    for _ in range(rng.choice((1, 1, 1, 3))):
        name = rng.choice([each for each in parts if parts[each]])
        text = bytes(parts[name]).decode("utf-8", "replace") if isinstance(parts[name], bytes) else str(parts[name])
        parts[name] = rng.choice(_IN_TEXTS)(rng, text).encode("utf-8", "replace")
    if rng.random() < 0.1:
        del parts[rng.choice(list(parts))]
    return zipped(parts, zipfile.ZIP_STORED)


def word_put_in(rng: random.Random, text: str) -> str:
    place = rng.randrange(len(text) + 1)
    return text[:place] + rng.choice(WORDS) + text[place:]


def number_changed(rng: random.Random, text: str) -> str:
    """A reference, an index, a style: any number in the part."""
    numbers = list(re.finditer(r"\d+", text))
    if not numbers:
        return text
    found = rng.choice(numbers)
    new = rng.choice(("0", "-1", "1", "7", "999999", "1048577", "1" * 30, "", "１", str(rng.randrange(200))))
    return text[: found.start()] + new + text[found.end() :]


def element_moved(rng: random.Random, text: str) -> str:
    """An element taken out, put in twice, or put elsewhere."""
    elements = list(re.finditer(r"<(\w+)[^<>]*/>|<(\w+)[^<>]*>[^<]*</\2>", text))
    if not elements:
        return text
    found = rng.choice(elements)
    place = rng.choice(elements).start()
    rest = text if rng.random() < 0.5 else text[: found.start()] + " " * len(found[0]) + text[found.end() :]
    return rest[:place] + found[0] + rest[place:]


def attribute_changed(rng: random.Random, text: str) -> str:
    attributes = list(re.finditer(r'"[^"<>]*"', text))
    if not attributes:
        return text
    one, other = rng.choice(attributes), rng.choice(attributes)
    return text[: one.start()] + other[0] + text[one.end() :]


_IN_TEXTS: tuple[Callable[[random.Random, str], str], ...] = (
    *(word_put_in, number_changed, number_changed, element_moved, attribute_changed),
)
_WAYS: tuple[Callable[[random.Random, bytes], bytes], ...] = (
    *(bytes_changed, bits_turned, cut_off, piece_moved, directory_changed),
    *(part_changed, part_changed, part_changed, part_changed, part_changed),
)


def damaged(seed: int) -> bytes:
    rng = random.Random(seed)
    data = rng.choice(originals())
    return rng.choice(_WAYS)(rng, data)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_a_damaged_file_is_graded_or_refused_in_words(batch: int):
    seen = {"graded": 0, "refused": 0}
    for place, seed in enumerate(range(batch, FILES, BATCHES)):
        try:
            seen[treat(damaged(seed), is_marked=place % MARKED_EVERY == 0)] += 1
        except Exception as fault:
            raise AssertionError(f"damaged({seed}) came to a bad end: {fault!r}") from fault
    assert min(seen.values()) > 0


CELLS = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=20) | st.sampled_from(WORDS)


@settings(max_examples=2_000 if IS_NIGHT else 25, suppress_health_check=list(HealthCheck))
@given(
    st.dictionaries(st.tuples(st.integers(2, 9), st.integers(1, 14), st.integers(1, 12)), CELLS, max_size=12),
    st.lists(st.tuples(st.integers(0, 10), CELLS), max_size=3),
)
def test_any_texts_anywhere_on_the_sheets_are_graded(
    texts: dict[tuple[int, int, int], str], names: list[tuple[int, str]]
):
    """Labels, headings, notes and answers written over with anything, sheets called anything."""
    book = of_returned(read_book(originals()[0]))
    for (sheet, row, column), text in texts.items():
        book.sheets[sheet].cells[row, column] = text
    for sheet, name in names:
        book.sheets[sheet].name = f"{name[:50]}{sheet}"
    printable = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
    for each in book.sheets:
        each.name = printable.sub("", each.name)
        each.cells = {place: printable.sub("", str(text)) for place, text in each.cells.items()}
    assert treat(zipped(parts_of(book)), is_marked=True) == "graded"
