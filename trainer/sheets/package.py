"""The container of a returned workbook: a zip archive of XML parts (ECMA-376 part 2), opened without trusting it.

Rules of this file: a size is checked before anything of that size is unpacked or parsed; nothing is written to a disk,
so the name of a part can do no harm; no document type declaration, hence no entity, gets past the parser; whatever is
wrong leaves as an UnreadableFile, in words for the instructor who holds the file. Sections of the standard are quoted
from memory.
"""

import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from typing import TypeVar
from xml.parsers import expat

from trainer.errors import UnreadableFile

__all__ = ["SAVE_A_COPY", "Attributes", "DamagedPart", "Package", "Relationship", "Visitor", "relationship_id"]

MAX_FILE_BYTES = 20 * 2**20
"""A filled workbook has 0.1 MB; one with ten screenshots pasted into it still passes."""
MAX_PARTS = 2_000
"""A workbook of 200 sheets, each with its relationships, a drawing and comments, has about 1,000."""
MAX_UNPACKED_BYTES = 100 * 2**20
"""All parts together; pictures hardly shrink in a zip, so a file of the greatest size unpacks to a few times that."""
MAX_PART_BYTES = 16 * 2**20
"""A sheet of 100,000 filled cells has about 5 MB."""
MAX_DEPTH = 64
"""A worksheet nests 8 deep."""
MAX_ELEMENTS = 1_000_000
"""In all parts read; a filled workbook has 20,000. Bounds the time for one file to about a second."""
MAX_MARKUP_BYTES = 300_000
"""From one "<" to the next. The longest text of a cell, 32,767 characters of 9 bytes each, still fits; a tag with
millions of attributes, which the parser would hold in memory all at once, does not."""

SAVE_A_COPY = "Open it in a spreadsheet program, choose Save as with the type .xlsx, and use that copy."
ASK_FOR_WORKBOOK = "Ask for the workbook itself, saved as .xlsx."
ASK_AGAIN = "Ask for the file again."

_CENTRAL_ENTRY = b"PK\x01\x02"
_COMPOUND_FILE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_NAMESPACES = frozenset(
    {
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        "http://purl.oclc.org/ooxml/spreadsheetml/main",  # the same in Strict files (ECMA-376 part 1, annex A)
        "http://schemas.openxmlformats.org/package/2006/relationships",
        "http://schemas.openxmlformats.org/package/2006/metadata/core-properties",
        "http://purl.org/dc/elements/1.1/",
        "http://purl.org/dc/terms/",
    }
)
_RELATIONSHIP_IDS = (
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships id",
    "http://purl.oclc.org/ooxml/officeDocument/relationships id",
)
_ENCODINGS = frozenset({"utf-8", "utf-16", "us-ascii", "iso-8859-1"})
_LONG_MARKUP = re.compile(rb"<[^<]{%d}" % MAX_MARKUP_BYTES)
_UNPACKING_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,
    OverflowError,
    RuntimeError,
    ValueError,
)
"""What `zipfile` was seen to raise for archives that are cut, changed or made up."""

Attributes = Mapping[str, str]
H = TypeVar("H")
"""What is done at an element."""


class DamagedPart(UnreadableFile):
    """A part that is missing or broken, in a file that may otherwise be read; nothing in it was unsafe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """What to do at each element of a part.

    Elements are named without their namespace. Those not named here, and those of foreign namespaces, are passed over.
    """

    root: str
    """Name of the outermost element; a part with another one is damaged."""
    opening: Mapping[str, Callable[[Attributes], None]]
    closing: Mapping[str, Callable[[], None]] = field(default_factory=dict)
    text: Callable[[str], None] | None = None
    """Takes character data wherever it stands, in pieces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relationship:
    """An arrow from one part to another (ECMA-376 part 2, "Relationships")."""

    kind: str
    """Last step of the type's address, which is the same in Strict files: "worksheet", "styles"."""
    target: str
    """Name of the part it points to; for an external one, an address that is never followed."""
    is_external: bool


class Package:
    """The parts of one returned file; they are found whatever the case of their names (ECMA-376 part 2)."""

    def __init__(self, data: bytes) -> None:
        """Raises UnreadableFile where `data` is no zip archive of XML parts, or one beyond the limits above."""
        self._archive = _open_archive(data)
        self._parts = _checked_parts(self._archive.infolist())
        self._elements_left = MAX_ELEMENTS
        if "[content_types].xml" not in self._parts:
            raise UnreadableFile(_name_the_archive(self._parts))

    def __contains__(self, name: str) -> bool:
        return name.lower() in self._parts

    def workbook_part(self) -> str:
        """Name of the part with the list of sheets; raises UnreadableFile where this is another kind of document."""
        arrows = self.relationships("").values()
        targets = [arrow.target for arrow in arrows if arrow.kind == "officeDocument" and not arrow.is_external]
        name = targets[0] if targets else "xl/workbook.xml"
        if name not in self or name.endswith(".bin"):
            raise UnreadableFile(_name_the_document(self._parts))
        return name

    def relationships(self, owner: str) -> Mapping[str, Relationship]:
        """The arrows that start at the part `owner` ("" for the package itself), by id; none where it has none."""
        folder, file = posixpath.split(owner)
        name = posixpath.join(folder, "_rels", f"{file}.rels")
        found: dict[str, Relationship] = {}

        def note(attributes: Attributes) -> None:
            is_external = attributes.get("TargetMode") == "External"
            target = attributes.get("Target", "")
            found[attributes.get("Id", "")] = Relationship(
                kind=attributes.get("Type", "").rpartition("/")[2],
                target=target if is_external else _resolve(folder, target),
                is_external=is_external,
            )

        if name in self:
            visitor = Visitor(root="Relationships", opening={"Relationship": note})
            self.walk(name, visitor, called="The list of the file's parts")
        return found

    def walk(self, name: str, visitor: Visitor, *, called: str) -> None:
        """Parses a part and calls the visitor for its elements, in their order.

        `called` begins the sentence in which a fault is reported. Raises DamagedPart where the part is missing or
        broken, UnreadableFile where it is unsafe, and whatever the visitor raises.
        """
        walk = _Walk(visitor, called, self._elements_left)
        walk.run(self._unpack(name, called))
        self._elements_left = walk.elements_left

    def _unpack(self, name: str, called: str) -> bytes:
        part = self._parts.get(name.lower())
        if part is None:
            raise DamagedPart(f"{called} is missing from the file. {SAVE_A_COPY}")
        if part.file_size > MAX_PART_BYTES:
            raise UnreadableFile(
                f"{called} unpacks to more than {MAX_PART_BYTES >> 20} MB, more than any filled workbook. {ASK_AGAIN}"
            )
        try:
            with self._archive.open(part) as stream:
                # With a size, so that no more than that is ever unpacked, whatever the archive says of itself.
                return stream.read(part.file_size + 1)
        except _UNPACKING_FAULTS as error:
            raise _damaged(called) from error


class _Walk:
    """One run of the XML parser over one part, with its guards."""

    __slots__ = ("_called", "_closing", "_depth", "_opening", "_visitor", "elements_left")

    def __init__(self, visitor: Visitor, called: str, elements_left: int) -> None:
        self._visitor = visitor
        self._opening = _by_full_name(visitor.opening)
        self._closing = _by_full_name(visitor.closing)
        self._called = called
        self._depth = 0
        self.elements_left = elements_left

    def run(self, xml: bytes) -> None:
        if len(xml) > MAX_MARKUP_BYTES and _LONG_MARKUP.search(xml):
            raise UnreadableFile(f"{self._called} holds a text or tag that no spreadsheet program writes. {ASK_AGAIN}")
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.XmlDeclHandler = self._check_encoding
        parser.StartDoctypeDeclHandler = self._refuse_document_type
        parser.StartElementHandler = self._open
        parser.EndElementHandler = self._close
        if self._visitor.text is not None:
            parser.CharacterDataHandler = self._visitor.text
        try:
            parser.Parse(xml, True)
        except expat.ExpatError as error:
            raise _damaged(self._called) from error

    def _open(self, full_name: str, attributes: dict[str, str]) -> None:
        if self._depth == 0 and full_name not in _full_names(self._visitor.root):
            raise _damaged(self._called)
        self._depth += 1
        self.elements_left -= 1
        if self._depth > MAX_DEPTH or self.elements_left < 0:
            how = "nested deeper" if self._depth > MAX_DEPTH else "larger"
            raise UnreadableFile(f"{self._called} is {how} than a spreadsheet program writes it. {ASK_AGAIN}")
        handler = self._opening.get(full_name)
        if handler is not None:
            handler(attributes)

    def _close(self, full_name: str) -> None:
        self._depth -= 1
        handler = self._closing.get(full_name)
        if handler is not None:
            handler()

    def _check_encoding(self, _version: str, encoding: str | None, _standalone: int) -> None:
        # The parser would load a codec of any other name (ECMA-376 part 2 allows UTF-8 and UTF-16 only).
        if encoding is not None and encoding.lower() not in _ENCODINGS:
            raise _damaged(self._called)

    def _refuse_document_type(self, *_declaration: object) -> None:
        raise UnreadableFile(f"{self._called} holds a document type declaration, which no workbook has. {ASK_AGAIN}")


def relationship_id(attributes: Attributes) -> str:
    """The id of the relationship that an element names, or ""."""
    return next((attributes[name] for name in _RELATIONSHIP_IDS if name in attributes), "")


def _by_full_name(handlers: Mapping[str, H]) -> dict[str, H]:
    """The same by all names under which the parser may tell of such an element."""
    return {full_name: handler for name, handler in handlers.items() for full_name in _full_names(name)}


@lru_cache(maxsize=128)
def _full_names(name: str) -> tuple[str, ...]:
    """The name in each of our namespaces, as the parser writes it."""
    return tuple(f"{namespace} {name}" for namespace in sorted(_NAMESPACES))


def _damaged(called: str) -> DamagedPart:
    return DamagedPart(f"{called} cannot be read: the file is damaged. {SAVE_A_COPY}")


def _resolve(folder: str, target: str) -> str:
    """The part that a target means, seen from a part in `folder`; "../" at the top stays at the top."""
    path = posixpath.join("/", folder, target.replace("\\", "/"))
    return posixpath.normpath(path).lstrip("/")


def _open_archive(data: bytes) -> zipfile.ZipFile:
    if len(data) > MAX_FILE_BYTES:
        raise UnreadableFile(
            f"The file is larger than {MAX_FILE_BYTES >> 20} MB, more than any filled workbook. {ASK_FOR_WORKBOOK}"
        )
    if not data.startswith(b"PK"):
        raise UnreadableFile(_name_the_file(data))
    if data.count(_CENTRAL_ENTRY) > MAX_PARTS:  # counted before `zipfile` makes an object of each
        raise UnreadableFile(
            f"The file holds more than {MAX_PARTS:,} parts and is no filled workbook. {ASK_FOR_WORKBOOK}"
        )
    try:
        return zipfile.ZipFile(BytesIO(data))
    except _UNPACKING_FAULTS as error:
        raise UnreadableFile(f"The file is incomplete; perhaps its upload was cut off. {ASK_AGAIN}") from error


def _checked_parts(members: list[zipfile.ZipInfo]) -> Mapping[str, zipfile.ZipInfo]:
    """The members by their name in lower case; raises UnreadableFile for what a spreadsheet program never writes."""
    if sum(member.file_size for member in members) > MAX_UNPACKED_BYTES:
        raise UnreadableFile(
            f"The file unpacks to more than {MAX_UNPACKED_BYTES >> 20} MB, more than any filled workbook. {ASK_AGAIN}"
        )
    parts: dict[str, zipfile.ZipInfo] = {}
    for member in members:
        name = member.filename.replace("\\", "/").lower()
        if name.startswith("/") or ".." in name.split("/"):
            raise UnreadableFile(f"The file holds a part with an unsafe name, {name[:60]!r}. {ASK_AGAIN}")
        if member.flag_bits & 1:
            raise UnreadableFile("The file is protected by a password. Ask for it again, saved without one.")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise UnreadableFile(f"The file is packed in a way that spreadsheet programs do not use. {SAVE_A_COPY}")
        if name in parts:
            raise UnreadableFile(f"The file holds the part {name[:60]!r} twice: it is damaged. {ASK_AGAIN}")
        parts[name] = member
    return parts


_BEGINNINGS = (
    (b"%pdf", "a PDF"),
    (b"\xff\xd8\xff", "a picture"),
    (b"\x89png", "a picture"),
    (b"gif8", "a picture"),
    (b"\x1f\x8b", "a packed archive"),
    (b"7z\xbc\xaf", "a packed archive"),
    (b"rar!", "a packed archive"),
    (b"{\\rtf", "a text document"),
    (b"<!doctype html", "a web page, perhaps that of a sign-in"),
    (b"<html", "a web page, perhaps that of a sign-in"),
    (b"[internetshortcut]", "a shortcut to a file that is kept elsewhere"),
    (b"[desktop entry]", "a shortcut to a file that is kept elsewhere"),
    (b"l\0\0\0\x01\x14\x02\0", "a shortcut to a file that is kept elsewhere"),
)
"""How files begin, in lower case, that get handed in instead of a workbook."""


def _name_the_file(data: bytes) -> str:
    """What a file is that is not a zip archive, and what to do."""
    if not data.strip(b"\0 \t\r\n"):
        return f"The file is empty. {ASK_AGAIN}"
    if data.startswith(_COMPOUND_FILE):
        return _name_the_compound_file(data)
    head = data[:1024]
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    for beginning, what in _BEGINNINGS:
        if start.startswith(beginning):
            return f"This is {what}, not a workbook. {ASK_FOR_WORKBOOK}"
    if re.match(rb"\{.*\"(?:url|doc_id|resource_id)\"", start, re.DOTALL) or b"<key>url</key>" in start:
        return f"This is a shortcut to a file that is kept elsewhere, not a workbook. {ASK_FOR_WORKBOOK}"
    if start.startswith(b"<?xml"):
        return f"This is an XML file, not an .xlsx workbook. {SAVE_A_COPY}"
    if head.startswith((b"\xff\xfe", b"\xfe\xff")) or not re.search(rb"[\x00-\x08\x0e-\x1f]", head):
        return f"This is a text file, perhaps CSV with one sheet only, not a workbook. {ASK_FOR_WORKBOOK}"
    return f"This is not an .xlsx workbook. {ASK_FOR_WORKBOOK}"


def _name_the_compound_file(data: bytes) -> str:
    """Names what older office programs wrote; an encrypted .xlsx comes in such a file too."""
    if "EncryptedPackage".encode("utf-16-le") in data:
        return "The file is protected by a password. Ask for it again, saved without one."
    if "Workbook".encode("utf-16-le") in data or "Book\0".encode("utf-16-le") in data:
        return f"This is a workbook in the old .xls format. {SAVE_A_COPY}"
    return f"This is a document of another kind, not a workbook. {ASK_FOR_WORKBOOK}"


def _name_the_archive(names: Iterable[str]) -> str:
    """What a zip archive is that has no list of content types, and what to do."""
    names = list(names)
    inner = [name for name in names if name.endswith((".xlsx", ".xlsm"))]
    if not names:
        return f"This is an empty archive, not a workbook. {ASK_AGAIN}"
    if "mimetype" in names and "content.xml" in names:
        return f"This is an OpenDocument file, not an .xlsx workbook. {SAVE_A_COPY}"
    if inner:
        return f"This is an archive with {inner[0][:60]!r} in it. Unpack it and use the workbook itself."
    if any(name.endswith(".iwa") for name in names):
        return "This is a document in a format of its own program, not .xlsx. Ask for it again, exported as .xlsx."
    return f"This is an archive of other files, or a damaged workbook. {ASK_FOR_WORKBOOK}"


def _name_the_document(names: Iterable[str]) -> str:
    """What a package is that has no workbook part we can read, and what to do."""
    names = list(names)
    if any(name.endswith("workbook.bin") for name in names):
        return f"This is a workbook in the binary .xlsb format. {SAVE_A_COPY}"
    if any(name.startswith("word/") for name in names):
        return f"This is a text document, not a workbook. {ASK_FOR_WORKBOOK}"
    if any(name.startswith("ppt/") for name in names):
        return f"These are slides, not a workbook. {ASK_FOR_WORKBOOK}"
    return f"The workbook is incomplete: its list of sheets is missing. {ASK_AGAIN}"
