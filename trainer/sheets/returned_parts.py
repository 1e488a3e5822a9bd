"""The parts of a returned workbook beside its sheets: the list of sheets, the texts, the number formats, the identifier."""

from dataclasses import dataclass

from trainer.errors import UnreadableFile
from trainer.sheets.number_formats import BUILT_IN_FORMATS, NumberFormat, read_format
from trainer.sheets.package import Attributes, Package, Visitor, relationship_id
from trainer.sheets.returned_cells import MAX_TEXT, cut, plain_text, small_number

__all__ = [
    "ASK_FOR_OURS",
    "Index",
    "Properties",
    "SheetEntry",
    "read_formats",
    "read_index",
    "read_properties",
    "read_strings",
]

MAX_SHEETS = 200
"""A lab has a dozen."""
MAX_NAMES = 5_000
"""Defined names that are kept; ours has a handful, a program may add one a sheet."""

ASK_FOR_OURS = "Ask for the workbook that was handed out."


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetEntry:
    """A sheet as the list of sheets tells of it."""

    name: str
    is_hidden: bool
    relationship: str


class Index:
    """Takes the workbook part apart: which sheets there are, and the defined names."""

    def __init__(self) -> None:
        self.entries: list[SheetEntry] = []
        self.defined_names: dict[str, str] = {}
        self.counts_from_1904 = False
        self._name: str | None = None
        self._pieces: list[str] = []

    def visitor(self) -> Visitor:
        return Visitor(
            root="workbook",
            opening={
                "workbookPr": self._open_properties,
                "sheet": self._open_sheet,
                "definedName": self._open_name,
            },
            closing={"definedName": self._close_name},
            text=self._take_text,
        )

    def _open_properties(self, attributes: Attributes) -> None:
        self.counts_from_1904 = attributes.get("date1904") in ("1", "true")

    def _open_sheet(self, attributes: Attributes) -> None:
        if len(self.entries) >= MAX_SHEETS:
            raise UnreadableFile(f"The workbook has more than {MAX_SHEETS} sheets. {ASK_FOR_OURS}")
        self.entries.append(
            SheetEntry(
                name=plain_text(attributes.get("name", "")),
                is_hidden=attributes.get("state", "visible") != "visible",
                relationship=relationship_id(attributes),
            )
        )

    def _open_name(self, attributes: Attributes) -> None:
        # A name that holds for one sheet only is a print area or the like, repeated from sheet to sheet: not ours.
        if "localSheetId" not in attributes and len(self.defined_names) < MAX_NAMES:
            self._name = plain_text(attributes.get("name", ""))
            self._pieces = []

    def _close_name(self) -> None:
        if self._name is not None:
            self.defined_names[self._name] = cut("".join(self._pieces))
            self._name = None

    def _take_text(self, piece: str) -> None:
        if self._name is not None:
            self._pieces.append(piece)


def read_index(package: Package, part: str) -> Index:
    """The list of sheets. Raises UnreadableFile where there is none."""
    reader = Index()
    package.walk(part, reader.visitor(), called="The list of sheets")
    if not reader.entries:
        raise UnreadableFile(f"The workbook has no sheets. {ASK_FOR_OURS}")
    return reader


class _StringsReader:
    """Takes the shared strings apart; the reading aids of East Asian texts (`rPh`) are no part of a text."""

    def __init__(self) -> None:
        self.strings: list[str] = []
        self._pieces: list[str] = []
        self._reading_aids = 0
        self._is_in_text = False

    def visitor(self) -> Visitor:
        return Visitor(
            root="sst",
            opening={"si": self._open_string, "t": self._open_text, "rPh": self._open_reading_aid},
            closing={"si": self._close_string, "t": self._close_text, "rPh": self._close_reading_aid},
            text=self._take_text,
        )

    def _open_string(self, _attributes: Attributes) -> None:
        self._pieces = []

    def _close_string(self) -> None:
        self.strings.append("".join(self._pieces)[: MAX_TEXT + 1])

    def _open_text(self, _attributes: Attributes) -> None:
        self._is_in_text = self._reading_aids == 0

    def _close_text(self) -> None:
        self._is_in_text = False

    def _open_reading_aid(self, _attributes: Attributes) -> None:
        self._reading_aids += 1

    def _close_reading_aid(self) -> None:
        self._reading_aids -= 1

    def _take_text(self, piece: str) -> None:
        if self._is_in_text:
            self._pieces.append(piece)


def read_strings(package: Package, part: str | None) -> tuple[str, ...]:
    """The shared texts, in their order."""
    reader = _StringsReader()
    if part is not None:
        package.walk(part, reader.visitor(), called="The table of texts")
    return tuple(reader.strings)


class _FormatsReader:
    """Takes from the styles the number format of each cell format."""

    def __init__(self) -> None:
        self.formats: list[NumberFormat] = []
        self._codes: dict[str, NumberFormat] = {}
        self._section = ""

    def visitor(self) -> Visitor:
        # `numFmt` and `xf` stand elsewhere in the part too, where they mean something else; hence the section.
        return Visitor(
            root="styleSheet",
            opening={
                "numFmts": lambda _attributes: self._enter("numFmts"),
                "numFmt": self._open_code,
                "cellXfs": lambda _attributes: self._enter("cellXfs"),
                "xf": self._open_cell_format,
            },
            closing={"numFmts": lambda: self._enter(""), "cellXfs": lambda: self._enter("")},
        )

    def _enter(self, section: str) -> None:
        self._section = section

    def _open_code(self, attributes: Attributes) -> None:
        if self._section == "numFmts":
            self._codes[attributes.get("numFmtId", "")] = read_format(attributes.get("formatCode", ""))

    def _open_cell_format(self, attributes: Attributes) -> None:
        if self._section == "cellXfs":
            number = attributes.get("numFmtId", "")
            built_in = BUILT_IN_FORMATS.get(small_number(number) or 0, NumberFormat.PLAIN)
            self.formats.append(self._codes.get(number, built_in))


def read_formats(package: Package, part: str | None) -> tuple[NumberFormat, ...]:
    """The number format of each cell format."""
    reader = _FormatsReader()
    if part is not None:
        package.walk(part, reader.visitor(), called="The table of styles")
    return tuple(reader.formats)


@dataclass(frozen=True, slots=True)
class Properties:
    """What the file's properties say that is of use here (ECMA-376 part 2, core properties)."""

    identifier: str = ""
    """`dc:identifier`, or ""."""
    modified: str = ""
    """`dcterms:modified`: when the program that wrote the file saved it, as it says; "" where it does not."""


def read_properties(package: Package, part: str | None) -> Properties:
    """The properties of the file; none where there are none."""
    pieces: dict[str, list[str]] = {"identifier": [], "modified": []}
    inside = ""

    def enter(name: str) -> None:
        nonlocal inside
        inside = name

    def take(piece: str) -> None:
        if inside:
            pieces[inside].append(piece)

    if part is not None:
        visitor = Visitor(
            root="coreProperties",
            opening={
                "identifier": lambda _attributes: enter("identifier"),
                "modified": lambda _attributes: enter("modified"),
            },
            closing={"identifier": lambda: enter(""), "modified": lambda: enter("")},
            text=take,
        )
        package.walk(part, visitor, called="The list of the file's properties")
    return Properties(**{name: cut("".join(texts)).strip() for name, texts in pieces.items()})
