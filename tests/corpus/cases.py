"""The corpus: what comes back, class by class, each file with how it is made and what should become of it.

A file is made from the right answers of somebody's lab, changed in one respect. What exactly is said of it stands in
`treatments.txt`; here stands what kind of treatment it is, so that the words cannot make a wrong one right.
"""

import io
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import workbooks
from growing import DIMENSIONS, grown
from workbooks import DATE, ELAPSED, PERCENT, TEXT, TIME, Book, Parts, Raw, Sheet, parts_of, zipped

__all__ = ["CLASSES", "Case", "Lab", "Treatment"]

NETWORK, PREFIX, GATEWAY, MASK = "D6", "E6", "I6", "J6"
SUBNETS_ROWS = range(6, 9)


@dataclass(frozen=True)
class Lab:
    """Somebody's lab, and the others of the class."""

    number: str
    trainee: str
    book: Book
    """Filled in with the right answers."""
    neighbour: "Lab | None" = None


@dataclass(frozen=True)
class Treatment:
    """What kind of treatment a file gets."""

    right: bool = True
    """Whether every mark is earned, but for what is named here."""
    wrong: tuple[str, ...] = ()
    """Cells such as "Subnets!D6" that are not right."""
    lost: tuple[str, ...] = ()
    """Sections or questions that count as not answered."""
    is_refused: bool = False
    is_alone: bool = False
    """It has its lab for itself, beside which nothing else comes back."""
    is_passed_over: bool = False
    """Nobody handed it in: it is neither graded nor listed."""
    for_neighbour: bool = False
    """It counts for another trainee than the one it was made from."""


SAME = Treatment()
REFUSED = Treatment(is_refused=True)
REFUSED_ALONE = Treatment(is_refused=True, is_alone=True)
PASSED_OVER = Treatment(is_passed_over=True)
NOT_ALL = Treatment(right=False)
FOR_NEIGHBOUR = Treatment(for_neighbour=True)


_SPOILT_WHEN_GROWN = (
    "rows_of_open_sections",
    "long_answers",
    "long_foreign_answers",
    "long_lists",
    "long_ranges",
    "merges",
    "lab_numbers",
)


def wrong(*cells: str) -> Treatment:
    return Treatment(wrong=cells)


def lost(*names: str) -> Treatment:
    return Treatment(lost=names)


@dataclass(frozen=True)
class Case:
    """One file that comes back."""

    name: str
    treatment: Treatment
    make: Callable[[Lab], bytes]


def book_case(name: str, treatment: Treatment, change: Callable[[Book], None]) -> Case:
    """A workbook in which something was changed."""

    def make(lab: Lab) -> bytes:
        book = lab.book.copied()
        change(book)
        return zipped(parts_of(book))

    return Case(f"{name}.xlsx", treatment, make)


def parts_case(name: str, treatment: Treatment, change: Callable[[Parts], None]) -> Case:
    """A workbook whose parts were tampered with."""

    def make(lab: Lab) -> bytes:
        parts = parts_of(lab.book)
        change(parts)
        return zipped(parts)

    return Case(f"{name}.xlsx", treatment, make)


def bytes_case(name: str, treatment: Treatment, change: Callable[[bytes], bytes]) -> Case:
    """A file whose bytes were changed."""
    return Case(name, treatment, lambda lab: change(zipped(parts_of(lab.book))))


def other_file(name: str, data: bytes) -> Case:
    """Something that is no workbook at all."""
    return Case(name, REFUSED, lambda _lab: data)


# --- Values -----------------------------------------------------------------------------------------------------------

Typed = Callable[[str], str | Raw]


def typed(name: str, sheet: str, cell: str, change: Typed, treatment: Treatment = SAME) -> Case:
    """One answer written otherwise."""

    def write(book: Book) -> None:
        book[sheet][cell] = change(book[sheet].text(cell))

    return book_case(name, treatment, write)


def spoilt(name: str, sheet: str, cell: str, value: str | Raw) -> Case:
    """One answer that is no right one."""
    return typed(name, sheet, cell, lambda _text: value, wrong(f"{sheet}!{cell}"))


def of_digits(zero: str) -> Typed:
    """The same in digits of another script."""
    return lambda text: "".join(chr(ord(zero) + int(each)) if each.isdigit() else each for each in text)


def number(text: str, style: str = "0") -> Raw:
    return Raw(f"<v>{text}</v>", style=style)


def shown(value: str, *, formula: str = "14*2", kind: str = "str") -> Raw:
    return Raw(f"<f>{formula}</f><v>{value}</v>", kind=kind)


SAME_ADDRESS: dict[str, Typed] = {
    "a non-breaking blank before and a line break behind": lambda text: f"\u00a0{text}\n",
    "tabs around": lambda text: f"\t{text}\t",
    "a zero-width space inside": lambda text: text.replace(".", ".\u200b", 1),
    "a byte order mark before": lambda text: f"\ufeff{text}",
    "a soft hyphen inside": lambda text: text.replace(".", "\u00ad.", 1),
    "a mark for the writing direction": lambda text: f"\u200e{text}\u202c",
    "full-width digits": of_digits("０"),
    "full-width dots": lambda text: text.replace(".", "．"),
    "Arabic digits": of_digits("٠"),
    "Persian digits": of_digits("۰"),
    "Devanagari digits": of_digits("०"),
    "an apostrophe before": lambda text: f"'{text}",
    "blanks beside the dots": lambda text: text.replace(".", " . "),
    "commas for dots": lambda text: text.replace(".", ","),
    "the prefix length behind": lambda text: f"{text}/28",
    "an escaped carriage return": lambda text: f"{text}_x000D_",
    "an escaped control character": lambda text: f"_x0007_{text}_x001B_",
    "an escaped digit": lambda text: f"_x003{text[0]}_{text[1:]}",
    "text in two fonts": lambda text: Raw(
        f"<is><r><t>{text[:4]}</t></r><r><t>{text[4:]}</t></r></is>", kind="inlineStr"
    ),
    "a reading aid": lambda text: Raw(f"<is><t>{text}</t><rPh><t>1</t></rPh></is>", kind="inlineStr"),
    "a formula with its result": shown,
    "a text without a table": lambda text: Raw(f"<v>{text}</v>", kind="str"),
    "marked-up text": lambda text: Raw(f"<is><t><![CDATA[{text}]]></t></is>", kind="inlineStr"),
    "characters by number": lambda text: Raw(f"<v>{''.join(f'&#{ord(each)};' for each in text)}</v>", kind="str"),
}
SAME_PREFIX: dict[str, Typed] = {
    "a number": number,
    "a number with a point": lambda text: number(f"{text}.0"),
    "a number with a small error": lambda text: number(f"{text}.00000000000004"),
    "a number with an exponent": lambda text: number(f"{int(text) / 10}E1"),
    "a number in a Text cell": lambda text: number(text, TEXT),
    "a number in a format that is not there": lambda text: number(text, "999"),
    "a slash before": lambda text: f"/{text}",
    "a plus before": lambda text: f"+{text}",
    "superscript digits": lambda text: "".join("⁰¹²³⁴⁵⁶⁷⁸⁹"[int(each)] for each in text),
    "a formula with a number": lambda text: shown(text, kind="n"),
}
SAME_MAC: dict[str, Typed] = {
    "colons": lambda text: text.replace("-", ":"),
    "small letters": str.lower,
    "no separators": lambda text: text.replace("-", ""),
    "blanks": lambda text: text.replace("-", " "),
    "dots": lambda text: ".".join(text.replace("-", "")[place : place + 4] for place in (0, 4, 8)),
    "non-breaking hyphens": lambda text: text.replace("-", "\u2011"),
    "en dashes": lambda text: text.replace("-", "–"),
    "minus signs": lambda text: text.replace("-", "−"),
    "full-width letters": lambda text: "".join(chr(ord(each) + 0xFEE0) if each.isalnum() else each for each in text),
}
SAME_SET: dict[str, Typed] = {
    "turned": lambda text: ", ".join(reversed(text.split(", "))),
    "semicolons": lambda text: text.replace(",", ";"),
    "lines": lambda text: text.replace(", ", "\n"),
    "one twice": lambda text: f"{text}, {text.split(',')[0]}",
    "a comma too many": lambda text: f"{text},",
    "full-width commas": lambda text: text.replace(",", "，"),
}
SAME_LEASE: dict[str, Typed] = {
    "minutes": lambda text: f"{int(text.split()[0]) * 60} min",
    "seconds": lambda text: str(int(text.split()[0]) * 3600),
    "no blank": lambda text: text.replace(" ", ""),
    "a whole word": lambda text: text.replace("h", "hours"),
}
SPOILT_ADDRESS: dict[str, str | Raw] = {
    "a date": number("46046", DATE),
    "a date before 1900": number("-3", DATE),
    "a date past 9999": number("9999999", DATE),
    "a time": number("0.0071875", TIME),
    "a duration": number("1.5", ELAPSED),
    "a percentage": number("0.24", PERCENT),
    "a date by its name": Raw("<v>2026-01-24</v>", kind="d"),
    "a time by its name": Raw("<v>T08:00:00</v>", kind="d"),
    "no such date": Raw("<v>2026-13-77T</v>", kind="d"),
    "TRUE": Raw("<v>1</v>", kind="b"),
    "a truth value that is none": Raw("<v>7</v>", kind="b"),
    "an error": Raw("<v>#N/A</v>", kind="e"),
    "an error of a formula": shown("#DIV/0!", kind="e"),
    "an unknown error": Raw("<v>#OOPS!</v>", kind="e"),
    "a formula without a result": Raw("<f>10.10.10.1</f>"),
    "an array formula": Raw('<f t="array" ref="D6:D9">ROW(1:4)</f>'),
    "a formula that calls": Raw("<f>cmd|' /C calc'!A0</f>"),
    "a text that is not in the table": Raw("<v>99999</v>", kind="s"),
    "the text before the first": Raw("<v>-1</v>", kind="s"),
    "a kind that is not there": Raw("<v>1</v>", kind="zz"),
    "no number": number("abc"),
    "a number that is none": number("NaN"),
    "infinity": number("1E400"),
    "the largest number": number("1.7976931348623157E+308"),
    "a number in two scripts": number("1_0"),
    "five thousand digits": number("7" * 5000),
    "five thousand digits as text": "7" * 5000,
    "the longest text": "x" * 32_767,
    "more than the longest text": Raw(f"<is><t>{'x' * 70_000}</t></is>", kind="inlineStr"),
    "a formula as text": "=A1",
    "a formula that adds": "+SW1",
    "a web address": "http://10.0.0.1/",
    "markup": "<script>alert(1)</script>",
    "an emoji": "\U0001f600",
    "three numbers": "10.10.10",
    "five numbers": "10.10.10.10.10",
    "a number too large": "10.10.10.256",
    "a 0 in front": "010.010.010.001",
    "two addresses": "10.0.0.1, 10.0.0.2",
    "no address": "?",
    "half a pair": "10.0.0.1_xD800_",
    "a number with commas": "110,120",
    "a row of dots": "....",
    "all blanks but one": f"{' ' * 3000}x",
}
LOOK_ALIKES: dict[str, tuple[str, str, Typed]] = {
    "the letter O in an address": ("Subnets", NETWORK, lambda _text: "1O.0.0.1"),
    "a small l in an address": ("Subnets", NETWORK, lambda text: text.replace("1", "l", 1)),
    "a capital I in an address": ("Subnets", NETWORK, lambda text: text.replace("1", "I", 1)),
    "a Cyrillic letter in a MAC": ("Bindings", "D6", lambda text: f"{text[:-2]}\u0410\u0410"),
    "a Greek letter in a MAC": ("Bindings", "D6", lambda text: f"{text[:-2]}\u0395\u0395"),
    "the letter O in a MAC": ("Bindings", "D6", lambda text: text.replace("0", "O", 1)),
    "a Cyrillic switch": ("Bindings", "B6", lambda text: text.replace("A", "\u0410")),
    "a Cyrillic word": ("Bindings", "F6", lambda text: text.replace("a", "\u0430")),
}
SPOILT_PREFIX: dict[str, str | Raw] = {
    "past 32": "33",
    "a percentage": number("0.28", PERCENT),
    "the percent sign": "28%",
    "FALSE": Raw("<v>0</v>", kind="b"),
    "hours": "28 h",
    "half a bit": number("27.5"),
    "minus": number("-28"),
    "a fraction": "½",
}


def merged(cells: str) -> Callable[[Book], None]:
    """As a spreadsheet program merges: only the first cell keeps what stands in it."""

    def merge(book: Book) -> None:
        sheet = book["Subnets"]
        sheet.merges.append(cells)
        for cell in ("E6", "D7"):
            if cell in cells:
                del sheet[cell]

    return merge


def values() -> Iterator[Case]:
    for table, sheet, cell in (
        (SAME_ADDRESS, "Subnets", NETWORK),
        (SAME_PREFIX, "Subnets", PREFIX),
        (SAME_MAC, "Bindings", "D6"),
        (SAME_SET, "Protection", "E6"),
        (SAME_LEASE, "Bindings", "G6"),
    ):
        for name, change in table.items():
            yield typed(f"{sheet} {cell} with {name}", sheet, cell, change)
    for name, value in SPOILT_ADDRESS.items():
        yield spoilt(f"Subnets {NETWORK} is {name}", "Subnets", NETWORK, value)
    for name, value in SPOILT_PREFIX.items():
        yield spoilt(f"Subnets {PREFIX} is {name}", "Subnets", PREFIX, value)
    for name, (sheet, cell, change) in LOOK_ALIKES.items():
        yield typed(name, sheet, cell, change, wrong(f"{sheet}!{cell}"))
    yield book_case("merged along the row", wrong("Subnets!E6"), merged("D6:E6"))
    yield book_case("merged down the column", wrong("Subnets!D7"), merged("D6:D7"))


# --- Structure --------------------------------------------------------------------------------------------------------

Change = Callable[[Book], None]


def renamed(old: str, new: str) -> Change:
    def rename(book: Book) -> None:
        book[old].name = new

    return rename


def copied(new: str, *, change: str = "", old: str = "", old_name: str = "") -> Change:
    """Sheet Subnets copied. change: what becomes of the copy; old: of the sheet itself; old_name: its new name."""

    def copy(book: Book) -> None:
        sheet = book["Subnets"]
        twin = book.copy_sheet("Subnets", new)
        for each, what in ((twin, change), (sheet, old)):
            if what == "blank":
                blank(each)
            elif what == "other":
                each[PREFIX] = "19"
        sheet.name = old_name or sheet.name

    return copy


def blank(sheet: Sheet) -> None:
    """Takes the answers off sheet Subnets."""
    sheet.cells = {(row, column): text for (row, column), text in sheet.cells.items() if row < 6 or column < 4}


def moved(name: str, where: Callable[[int, int], tuple[int, int] | None]) -> Change:
    return lambda book: book[name].move(where)


def written(name: str, **cells: str | Raw) -> Change:
    def write(book: Book) -> None:
        for cell, value in cells.items():
            book[name][cell] = value

    return write


def all_of(*changes: Change) -> Change:
    def change(book: Book) -> None:
        for each in changes:
            each(book)

    return change


def each_heading(how: Callable[[str], str]) -> Change:
    def write(book: Book) -> None:
        for sheet in book.sheets[2:]:
            for place, text in sheet.cells.items():
                if place[0] == 5:
                    assert isinstance(text, str)
                    sheet.cells[place] = how(text)

    return write


def each_label(how: Callable[[str], str]) -> Change:
    def write(book: Book) -> None:
        for name in ("Subnets", "Routes", "Protection", "Bindings"):
            sheet = book[name]
            for (row, column), text in sheet.cells.items():
                if row > 5 and column == 1:
                    assert isinstance(text, str)
                    sheet.cells[row, column] = how(text)

    return write


def row_copied(source: int, target: int, **cells: str) -> Change:
    """A row of sheet Subnets copied, with other answers in some cells."""

    def copy(book: Book) -> None:
        sheet = book["Subnets"]
        for (row, column), value in list(sheet.cells.items()):
            if row == source:
                sheet.cells[target, column] = value
        for cell, value in cells.items():
            sheet[cell] = value

    return copy


def twin_column(heading: str, **cells: str) -> Change:
    return written("Subnets", L5=heading, **cells)


def more_rows(count: int) -> Change:
    def add(book: Book) -> None:
        for number_ in range(100, 100 + count):
            book["Routes"].cells[number_, 1] = f"Route {number_}"
            book["Routes"].cells[number_, 2] = "A"

    return add


def routes_in_other_rows(book: Book) -> None:
    """Written into the last printed rows instead of the first."""
    book["Routes"].move(lambda row, column: (row + 3 if row in (6, 7, 8) else row - 3 if row > 8 else row, column))
    for row in range(6, 12):
        book["Routes"].cells[row, 1] = f"Route {row - 5}"


def hidden(state: str) -> Change:
    def hide(book: Book) -> None:
        for sheet in book.sheets[3:]:
            sheet.state = state

    return hide


def sheets_turned(book: Book) -> None:
    book.sheets.reverse()


def without_sheet(*names: str) -> Change:
    def drop(book: Book) -> None:
        book.sheets = [sheet for sheet in book.sheets if sheet.name not in names]

    return drop


def many_sheets(count: int) -> Change:
    def add(book: Book) -> None:
        book.sheets += [Sheet(name=f"Notes {place}", cells={(1, 1): "10.0.0.1"}) for place in range(count)]

    return add


def table_pasted_below(**cells: str) -> Change:
    """The whole table of sheet Subnets a second time under the first."""

    def paste(book: Book) -> None:
        sheet = book["Subnets"]
        below = {(row + 20, column): text for (row, column), text in sheet.cells.items() if row >= 5}
        sheet.cells.update(below)
        for cell, value in cells.items():
            sheet[cell] = value

    return paste


STRUCTURE: tuple[tuple[str, Treatment, Change], ...] = (
    ("sheet in capitals", SAME, renamed("Subnets", "SUBNETS")),
    ("sheet with blanks around its name", SAME, renamed("Subnets", " Subnets ")),
    ("sheet with a full-width name", SAME, renamed("Subnets", "Ｓｕｂｎｅｔｓ")),
    ("sheet with another name", SAME, renamed("Subnets", "My plan")),
    ("sheet in another language", SAME, renamed("Routes", "Wege")),
    (
        "all sheets with other names",
        SAME,
        all_of(*(renamed(each, f"{each} of mine") for each in ("Subnets", "Routes", "Protection", "Bindings"))),
    ),
    ("copy that is blank", SAME, copied("Subnets (2)", change="blank")),
    ("copy that is the same", SAME, copied("Subnets (2)")),
    ("copy that is filled in instead", SAME, copied("Subnets (2)", old="blank")),
    ("copy that is filled in as well", SAME, copied("Subnets (2)", change="other")),
    ("copy in front of the sheet", SAME, all_of(copied("Subnets (2)", change="other"), sheets_turned)),
    ("two copies without the sheet", SAME, copied("Subnets (2)", old_name="Subnets (1)")),
    (
        "two copies without the sheet that differ",
        lost("subnets"),
        copied("Subnets (2)", change="other", old_name="Subnets (1)"),
    ),
    ("sheets turned", SAME, sheets_turned),
    ("sheets hidden", SAME, hidden("hidden")),
    ("sheets very hidden", SAME, hidden("veryHidden")),
    ("sheets added", SAME, many_sheets(30)),
    ("sheet deleted", lost("routes"), without_sheet("Routes")),
    ("two sheets deleted", lost("routes", "protection"), without_sheet("Routes", "Protection")),
    ("sheets that are not asked deleted", SAME, without_sheet("Brief", "Given", "Links", "Pools")),
    ("sheet emptied", lost("routes"), moved("Routes", lambda _row, _column: None)),
    ("rows turned", SAME, moved("Subnets", lambda row, column: (14 - row if row > 5 else row, column))),
    ("rows inserted above", SAME, moved("Subnets", lambda row, column: (row + 7, column))),
    ("rows inserted between", SAME, moved("Subnets", lambda row, column: (row if row < 7 else row + 2, column))),
    ("row under the headings", SAME, moved("Subnets", lambda row, column: (row if row < 6 else row + 1, column))),
    ("columns inserted before", SAME, moved("Subnets", lambda row, column: (row, column + 3))),
    (
        "columns inserted between",
        SAME,
        moved("Subnets", lambda row, column: (row, column if column < 5 else column + 2)),
    ),
    ("columns turned", SAME, moved("Subnets", lambda row, column: (row, 11 - column if row > 4 else column))),
    (
        "columns swapped",
        SAME,
        moved("Subnets", lambda row, column: (row, {4: 9, 9: 4}.get(column, column) if row > 4 else column)),
    ),
    (
        "table far away",
        SAME,
        moved("Subnets", lambda row, column: (row + 1000, column + 100) if row > 4 else (row, column)),
    ),
    ("row deleted", lost("Subnets!6"), moved("Subnets", lambda row, column: None if row == 6 else (row, column))),
    ("all rows deleted", lost("subnets"), moved("Subnets", lambda row, column: None if row > 5 else (row, column))),
    (
        "column deleted",
        lost("subnets.gateway"),
        moved("Subnets", lambda row, column: None if column == 9 else (row, column)),
    ),
    ("headings deleted", lost("subnets"), moved("Subnets", lambda row, column: None if row == 5 else (row, column))),
    (
        "labels deleted",
        lost("subnets"),
        moved("Subnets", lambda row, column: None if row > 4 and column == 1 else (row, column)),
    ),
    ("title and note deleted", SAME, moved("Subnets", lambda row, column: None if row in (1, 4) else (row, column))),
    ("headings in capitals", SAME, each_heading(str.upper)),
    ("headings in small letters", SAME, each_heading(str.lower)),
    ("headings with line breaks", SAME, each_heading(lambda text: text.replace(" ", "\n"))),
    ("headings with non-breaking blanks", SAME, each_heading(lambda text: text.replace(" ", "\u00a0"))),
    ("heading renamed", lost("subnets.gateway"), written("Subnets", I5="Router")),
    ("heading of the labels renamed", lost("subnets"), written("Subnets", A5="No.")),
    ("labels in capitals", SAME, each_label(str.upper)),
    ("labels with blanks", SAME, each_label(lambda text: f" {text} ")),
    ("labels as numbers", SAME, written("Subnets")),
    ("label renamed", lost("Subnets!6"), written("Subnets", A6="Servers")),
    ("notes beside", SAME, written("Subnets", L6="is this right?", M2="10.0.0.1", N5="mine")),
    ("notes below", SAME, written("Subnets", A15="Gateway", D15="10.0.0.1", A16="Router?")),
    ("notes above", SAME, written("Subnets", C3="Gateway", D2="Mask")),
    ("a line under the table", SAME, written("Subnets", A9="Total", D9="3")),
    ("row twice and the same", SAME, row_copied(6, 9)),
    ("row twice with other answers", SAME, row_copied(6, 9, D9="10.0.0.0")),
    (
        "row twice, first one blank",
        SAME,
        all_of(
            row_copied(6, 9), moved("Subnets", lambda row, column: None if row == 6 and column > 3 else (row, column))
        ),
    ),
    ("column twice and blank", SAME, twin_column("Gateway")),
    ("column twice with other answers", SAME, twin_column("Gateway", L6="10.0.0.1")),
    ("column twice in other case", SAME, twin_column("GATEWAY", L6="10.0.0.1", L7="10.0.0.2")),
    ("table twice and the same", SAME, table_pasted_below()),
    ("table twice with other answers", SAME, table_pasted_below(E26="19")),
    ("routes in the last rows", SAME, routes_in_other_rows),
    ("routes in small letters", SAME, moved("Routes", lambda row, column: (row, column))),
    (
        "a route too many",
        Treatment(right=False),
        written("Routes", B9="A", C9="192.168.7.0", D9="/24", E9="192.168.7.1"),
    ),
    ("a label of a row alone", SAME, written("Routes", A20="Route 20")),
    ("rows without end", Treatment(right=False), more_rows(3000)),
)


def structure() -> Iterator[Case]:
    for name, treatment, change in STRUCTURE:
        yield book_case(name, treatment, change)


# --- Whose it is ------------------------------------------------------------------------------------------------------


def numbers_changed(change: Callable[[str], str], *, first: int = 0) -> Change:
    """The lab number on the sheets, from the n-th on."""

    def write(book: Book) -> None:
        for sheet in book.sheets[first:]:
            sheet["B2"] = change(sheet.text("B2"))

    return write


def labels_lost(*, numbers_too: bool = False, name: bool = False, identifier: bool = False) -> Change:
    """The lines with lab number and trainee deleted; with them the spares that are named."""

    def drop(book: Book) -> None:
        for sheet in book.sheets:
            sheet.move(lambda row, column: None if row in (2, 3) and (numbers_too or column == 1) else (row, column))
        book.named_cell = "" if name else book.named_cell
        book.identifier = "" if identifier else book.identifier

    return drop


def titled_as(words: str) -> Change:
    """The words in front of every title."""

    def write(book: Book) -> None:
        for sheet in book.sheets:
            sheet["A1"] = f"{words}{sheet.text('A1')}"

    return write


def for_neighbour(*, spares: bool, trainee: bool = False) -> Callable[[Lab], bytes]:
    """The neighbour's number written on every sheet; the spares, and the trainee's line, too."""

    def make(lab: Lab) -> bytes:
        assert lab.neighbour is not None
        book = lab.neighbour.book.copied()
        if not spares:
            book.identifier = lab.number
        if trainee:
            for sheet in book.sheets:
                sheet["B3"] = lab.book[sheet.name].text("B3")
        return zipped(parts_of(book))

    return make


def of_two_labs(lab: Lab) -> bytes:
    assert lab.neighbour is not None
    book = lab.book.copied()
    book["Ports"]["B2"] = lab.neighbour.number
    return zipped(parts_of(book))


def untouched(lab: Lab) -> bytes:
    return zipped(parts_of(lab.book))


def identity() -> Iterator[Case]:
    for name, treatment, change in (
        ("number in small letters", SAME, numbers_changed(str.lower)),
        ("number with blanks", SAME, numbers_changed(lambda text: f"\u00a0{text} ")),
        ("number in full-width letters", SAME, numbers_changed(lambda text: text.replace("-", "－"))),
        ("number with an en dash", SAME, numbers_changed(lambda text: text.replace("-", "–"))),
        ("number on the first sheet only", SAME, numbers_changed(lambda _text: "", first=1)),
        (
            "number of nobody",
            REFUSED,
            all_of(numbers_changed(lambda _text: "ZZZ-ZZZZ"), lambda book: setattr(book, "identifier", "")),
        ),
        ("number of nobody on one sheet", SAME, lambda book: book["Ports"].__setitem__("B2", "ZZZ-ZZZZ")),
        ("number that is none", SAME, numbers_changed(lambda _text: "my lab")),
        ("lines of the head deleted", SAME, labels_lost()),
        ("lines of the head and the name deleted", SAME, labels_lost(numbers_too=True, name=True)),
        ("everything that tells deleted", REFUSED, labels_lost(numbers_too=True, name=True, identifier=True)),
        (
            "name that points nowhere",
            SAME,
            all_of(labels_lost(numbers_too=True), lambda book: setattr(book, "named_cell", "#REF!")),
        ),
        ("titles of the key", REFUSED_ALONE, titled_as("ANSWER KEY - ")),
        ("titles of a marked workbook", REFUSED_ALONE, titled_as("Marked - ")),
        ("exercise code of nobody", SAME, lambda book: book["Brief"].__setitem__("A1", "Something else")),
    ):
        yield book_case(name, treatment, change)
    lost_head = labels_lost(numbers_too=True, name=True, identifier=True)

    def headless(lab: Lab) -> bytes:
        book = lab.book.copied()
        lost_head(book)
        return zipped(parts_of(book))

    yield Case("only the name tells {lab} (1).xlsx", SAME, headless)
    yield Case("{lab_small}.XLSX", SAME, headless)
    yield Case("called {neighbour}.xlsx", SAME, untouched)
    yield Case("everything from the neighbour.xlsx", FOR_NEIGHBOUR, for_neighbour(spares=True, trainee=True))
    yield Case("only the number from the neighbour.xlsx", REFUSED, for_neighbour(spares=False))
    yield Case("two labs.xlsx", REFUSED, of_two_labs)
    for name in (
        *("CON.xlsx", "aux.XLSX", "nul.xlsx", "LPT1.xlsx", "no ending", "picture.png", "wrong.csv", "macros.xlsm"),
        *(
            "x" * 240 + ".xlsx",
            "ж" * 120 + ".xlsx",
            " blanks .xlsx",
            "dots...xlsx",
            "100%.xlsx",
            "-rf.xlsx",
            "=1+1.xlsx",
        ),
        *(
            "quotes'\".xlsx",
            "back\\slash.xlsx",
            "star*.xlsx",
            "de\u0301compose\u0301.xlsx",
            "\U0001f600.xlsx",
            "@SUM(A1).xlsx",
        ),
        *("h01.xlsx", "H01.XLSX", "Copy of Copy of h01 (3).xlsx", "<b>bold</b>.xlsx", "$HOME.xlsx", "`ls`.xlsx"),
        *(
            "folder/in a folder.xlsx",
            "folder/deeper/in a folder.xlsx",
            "other/in a folder.xlsx",
            "a folder.xlsx/in it.xlsx",
        ),
    ):
        yield Case(name, SAME, untouched)
    for name in (
        *("a copy of it.xlsx.bak", "the same.xlsx~", "@eaDir/a thumbnail.xlsx", "half fetched.xlsx.part"),
        *(
            ".hidden.xlsx",
            "~$lock.xlsx",
            ".~lock.h01.xlsx#",
            "Thumbs.db",
            "desktop.ini",
            ".DS_Store",
            "folder/Thumbs.db",
        ),
        *("__MACOSX/._h01.xlsx", "__MACOSX/h01.xlsx", ".hidden/h01.xlsx"),
    ):
        yield Case(name, PASSED_OVER, untouched)
    for name in ("line\nbreak.xlsx", "bell\a.xlsx", "\x1b[31mred.xlsx", "no text \udcff.xlsx"):
        yield Case(name, SAME, untouched)


# --- The container ----------------------------------------------------------------------------------------------------


def replaced(old: str, new: str, *, within: str = "") -> Callable[[Parts], None]:
    """A text in all parts, or in those whose name holds `within`."""

    def replace_(parts: Parts) -> None:
        for name, content in parts.items():
            if within in name and isinstance(content, str):
                parts[name] = content.replace(old, new)

    return replace_


def strict(parts: Parts) -> None:
    replaced(workbooks.MAIN, workbooks.STRICT_MAIN)(parts)
    replaced(workbooks.OFFICE, workbooks.STRICT_OFFICE)(parts)


def renamed_parts(how: Callable[[str], str]) -> Callable[[Parts], None]:
    def rename(parts: Parts) -> None:
        contents = dict(parts)
        parts.clear()
        parts.update({how(name): content for name, content in contents.items()})

    return rename


def prefixed(parts: Parts) -> None:
    """Every element of a sheet with a prefix, as some libraries write it."""
    for name, content in parts.items():
        if name.startswith("xl/worksheets/") and isinstance(content, str):
            parts[name] = re.sub(r"<(/?)(?=\w)", r"<\1x:", content).replace("xmlns=", "xmlns:x=")


def encoded(encoding: str) -> Callable[[Parts], None]:
    def encode(parts: Parts) -> None:
        for name, content in parts.items():
            if name.startswith("xl/") and isinstance(content, str):
                parts[name] = f'<?xml version="1.0" encoding="{encoding}"?>{content}'.encode(encoding)

    return encode


def with_part(name: str, content: str | bytes, kind: str = "") -> Callable[[Parts], None]:
    """A further part; kind: with a relationship of the workbook to it."""

    def add(parts: Parts) -> None:
        parts[name] = content
        if kind:
            arrows = parts["xl/_rels/workbook.xml.rels"]
            assert isinstance(arrows, str)
            arrow = f'<Relationship Id="k" Type="{workbooks.OFFICE}/{kind}" Target="{name.removeprefix("xl/")}"/>'
            parts["xl/_rels/workbook.xml.rels"] = arrows.replace("</Rel", f"{arrow}</Rel")

    return add


def without_part(name: str) -> Callable[[Parts], None]:
    def drop(parts: Parts) -> None:
        del parts[name]

    return drop


def part_is(name: str, content: str | bytes) -> Callable[[Parts], None]:
    def write(parts: Parts) -> None:
        assert name in parts
        parts[name] = content

    return write


def in_sheet(old: str, new: str) -> Callable[[Parts], None]:
    """In the part of sheet Subnets, the third."""
    return replaced(old, new, within="sheet3.xml")


COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504
DOCUMENT = {"[Content_Types].xml": "<Types/>", "_rels/.rels": workbooks._relationships()}


def container() -> Iterator[Case]:
    for name, treatment, change in (
        ("Strict", SAME, strict),
        ("UTF-16", SAME, encoded("utf-16")),
        (
            "with a byte order mark",
            SAME,
            lambda parts: parts.update({"xl/workbook.xml": b"\xef\xbb\xbf" + str(parts["xl/workbook.xml"]).encode()}),
        ),
        ("part names in capitals", SAME, renamed_parts(str.upper)),
        ("part names with backslashes", SAME, renamed_parts(lambda name: name.replace("/", "\\"))),
        ("targets from the top", SAME, replaced('Target="worksheets', 'Target="/xl/worksheets')),
        ("prefixes", SAME, prefixed),
        ("a wrong size of the sheet", SAME, in_sheet("<sheetData>", '<dimension ref="A1"/><sheetData>')),
        ("macros", SAME, with_part("xl/vbaProject.bin", b"Attribute VB_Name", "vbaProject")),
        (
            "links to other files",
            SAME,
            with_part("xl/externalLinks/externalLink1.xml", "<externalLink/>", "externalLink"),
        ),
        ("comments", SAME, with_part("xl/comments1.xml", "<comments/>", "comments")),
        ("a picture", SAME, with_part("xl/media/image1.png", b"\x89PNG" + b"\0" * 50_000, "image")),
        ("a signature", SAME, with_part("_xmlsignatures/sig1.xml", "<Signature/>")),
        ("parts of another program", SAME, with_part("customXml/item1.xml", "<b:Sources xmlns:b='x'/>")),
        ("no styles", SAME, without_part("xl/styles.xml")),
        ("broken styles", SAME, part_is("xl/styles.xml", "<styleSheet")),
        ("no properties", SAME, without_part("docProps/core.xml")),
        ("broken properties", SAME, part_is("docProps/core.xml", "<coreProperties><dc:created>never")),
        (
            "elements of the future",
            SAME,
            in_sheet("<sheetData>", '<future xmlns="urn:later"><c r="D6"/></future><sheetData>'),
        ),
        ("remarks", SAME, in_sheet("<sheetData>", "<!-- Gateway --><?program stop?><sheetData>")),
        ("blank cells in formats", SAME, in_sheet("</row>", '<c r="Z99" s="1"/></row>')),
        ("no table of texts", REFUSED, without_part("xl/sharedStrings.xml")),
        ("broken table of texts", REFUSED, part_is("xl/sharedStrings.xml", "<sst><si>")),
        ("no list of sheets", REFUSED, without_part("xl/workbook.xml")),
        ("broken list of sheets", REFUSED, part_is("xl/workbook.xml", "<workbook><sheets>")),
        ("no list of parts", REFUSED, without_part("xl/_rels/workbook.xml.rels")),
        ("a sheet is missing", REFUSED, without_part("xl/worksheets/sheet3.xml")),
        ("a broken sheet", REFUSED, in_sheet("</sheetData>", "")),
        ("a sheet that is a web page", REFUSED, part_is("xl/worksheets/sheet3.xml", "<html><body/></html>")),
        ("an empty sheet part", REFUSED, part_is("xl/worksheets/sheet3.xml", "")),
        ("no list of content types", REFUSED, without_part("[Content_Types].xml")),
    ):
        yield parts_case(name, treatment, change)
    yield Case("texts in the cells.xlsx", SAME, lambda lab: zipped(parts_of(lab.book, shared=False)))
    yield Case("cells without places.xlsx", SAME, lambda lab: zipped(parts_of(lab.book, references=False)))
    yield Case("not packed.xlsx", SAME, lambda lab: zipped(parts_of(lab.book), zipfile.ZIP_STORED))
    yield bytes_case("bytes behind.xlsx", SAME, lambda data: data + b"\0" * 100)
    yield bytes_case("bytes before.xlsx", REFUSED, lambda data: b"\0" * 100 + data)
    yield bytes_case("half of it.xlsx", REFUSED, lambda data: data[: len(data) // 2])
    yield bytes_case("one byte short.xlsx", REFUSED, lambda data: data[:-1])
    yield bytes_case("its first bytes.xlsx", REFUSED, lambda data: data[:100])
    yield bytes_case("zeros for its middle.xlsx", REFUSED, lambda data: data[:2000] + b"\0" * 2000 + data[4000:])
    yield bytes_case("in an archive.zip", SAME, lambda data: zipped({"work.xlsx": data}))
    yield bytes_case("in capitals in an archive.ZIP", SAME, lambda data: zipped({"mine/WORK.XLSX": data}))
    yield other_file("empty.xlsx", b"")
    yield other_file("zeros.xlsx", b"\0" * 5000)
    yield other_file("old.xls", COMPOUND + "Workbook".encode("utf-16-le"))
    yield other_file("old called new.xlsx", COMPOUND + "Workbook".encode("utf-16-le"))
    yield other_file("with a password.xlsx", COMPOUND + "EncryptedPackage".encode("utf-16-le"))
    yield other_file("old text.doc", COMPOUND + "WordDocument".encode("utf-16-le"))
    yield other_file("binary.xlsb", zipped({**DOCUMENT, "xl/workbook.bin": b"\x83"}))
    yield other_file("text.docx", zipped({**DOCUMENT, "word/document.xml": "<document/>"}))
    yield other_file("slides.pptx", zipped({**DOCUMENT, "ppt/presentation.xml": "<p/>"}))
    yield other_file("open document.ods", zipped({"mimetype": "application/vnd.oasis", "content.xml": "<x/>"}))
    yield other_file("own format.numbers", zipped({"Index/Document.iwa": b"\0"}))
    yield other_file("empty archive.zip", zipped({}))
    yield other_file("archive.zip", zipped({"a.txt": "a"}))
    yield other_file("list.csv", b"VLAN;Network\n10;10.0.0.0\n")
    yield other_file("list.tsv", b"VLAN\tNetwork\n")
    yield other_file("list in UTF-16.csv", "VLAN;Network\n".encode("utf-16"))
    yield other_file("paper.pdf", b"%PDF-1.7\n")
    yield other_file("paper.xlsx", b"%PDF-1.7\n")
    yield other_file("photo.jpg", b"\xff\xd8\xff\xe0")
    yield other_file("photo.heic", b"\0\0\0\x18ftypheic\0\0")
    yield other_file("shot.png", b"\x89PNG\r\n")
    yield other_file("signed in.html", b"<!DOCTYPE html><html>")
    yield other_file("signed in.xlsx", b"\n <html><title>Sign in</title>")
    yield other_file("old xml.xml", b'<?xml version="1.0"?><Workbook/>')
    yield other_file("packed.7z", b"7z\xbc\xaf\x27\x1c")
    yield other_file("packed.rar", b"Rar!\x1a\x07")
    yield other_file("packed.gz", b"\x1f\x8b\x08")
    yield other_file("letter.rtf", b"{\\rtf1")
    yield other_file("answers.json", b'{"answers": []}')
    yield other_file("shortcut.lnk", b"L\0\0\0\x01\x14\x02\0")
    yield other_file("program.exe", b"MZ\x90\0\x03")


# --- Hostile ----------------------------------------------------------------------------------------------------------

LAUGHS = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>'
OUTSIDE = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'


def before(part: str, what: str) -> Callable[[Parts], None]:
    def write(parts: Parts) -> None:
        parts[part] = what + str(parts[part])

    return write


def with_member(name: str, data: bytes = b"", **settings: object) -> Callable[[bytes], bytes]:
    """A further member of the archive, with settings of its entry."""

    def add(file: bytes) -> bytes:
        stream = io.BytesIO(file)
        with zipfile.ZipFile(stream, "a") as archive:
            entry = zipfile.ZipInfo(name)
            for setting, value in settings.items():
                setattr(entry, setting, value)
            archive.writestr(entry, data)
        return stream.getvalue()

    return add


def flagged(file: bytes) -> bytes:
    """Every member says that it is encrypted."""
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        pieces = file.split(mark)
        file = mark.join(
            [pieces[0], *(each[: place - 4] + bytes([each[place - 4] | 1]) + each[place - 3 :] for each in pieces[1:])]
        )
    return file


def lying(file: bytes) -> bytes:
    """A part that unpacks to far more than the archive says, in a file that is fine but for that."""
    size = 30_000_000
    file = with_member("xl/styles2.xml", b" " * size, compress_type=zipfile.ZIP_DEFLATED)(file)
    return (
        file.replace(struct.pack("<L", size), struct.pack("<L", 1000))
        .replace(b"xl/styles.xml", b"xl/stylez.xml")
        .replace(b"xl/styles2.xml", b"xl/styles.xml/"[:14])
    )


def bomb(file: bytes) -> bytes:
    data = b" " * 15_000_000
    for place in range(8):
        file = with_member(f"xl/bomb{place}.xml", data, compress_type=zipfile.ZIP_DEFLATED)(file)
    return file


def cells_of(count: int, text: str = "<v>1</v>", *, kind: str = "n") -> str:
    return "".join(
        f'<row r="{row}">' + "".join(f'<c t="{kind}">{text}</c>' for _ in range(100)) + "</row>"
        for row in range(20, 20 + count // 100)
    )


def longest_text_everywhere(parts: Parts) -> None:
    """One text of the table in very many cells: small as a file, endless for whoever looks at every cell."""
    part_is(
        "xl/sharedStrings.xml",
        str(parts["xl/sharedStrings.xml"]).replace("</sst>", f"<si><t>{'é' * 32_000}</t></si></sst>"),
    )(parts)
    last = str(parts["xl/sharedStrings.xml"]).count("<si>") - 1
    in_sheet("</sheetData>", cells_of(50_000, f"<v>{last}</v>", kind="s") + "</sheetData>")(parts)


def hostile() -> Iterator[Case]:
    for part in ("xl/workbook.xml", "xl/worksheets/sheet3.xml", "xl/sharedStrings.xml", "xl/styles.xml", "_rels/.rels"):
        yield parts_case(f"entities in {part.rsplit('/', 1)[1]}", REFUSED, before(part, LAUGHS))
    yield parts_case("an entity from outside", REFUSED, before("xl/sharedStrings.xml", OUTSIDE))
    for name, treatment, change in (
        ("nested deep", REFUSED, in_sheet("<sheetData>", "<extLst>" * 200 + "</extLst>" * 200 + "<sheetData>")),
        ("a cell twice", REFUSED, in_sheet("</row>", '<c r="D6"><v>1</v></c></row>')),
        ("a cell that is nowhere", REFUSED, in_sheet('r="D6"', 'r="ZZZ6"')),
        ("a cell in row 0", REFUSED, in_sheet('r="D6"', 'r="D0"')),
        ("a row past the last", REFUSED, in_sheet('<row r="6">', '<row r="9999999">')),
        ("a sheet twice", REFUSED, replaced('name="Links"', 'name="Subnets"')),
        (
            "two sheets with one part",
            REFUSED,
            replaced("worksheets/sheet4.xml", "worksheets/sheet3.xml", within="workbook.xml.rels"),
        ),
        (
            "a sheet that is the workbook",
            REFUSED,
            replaced("worksheets/sheet3.xml", "workbook.xml", within="workbook.xml.rels"),
        ),
        (
            "a sheet from outside",
            REFUSED,
            replaced('Target="worksheets/sheet3.xml"', 'Target="http://10.0.0.1/" TargetMode="External"'),
        ),
        (
            "a sheet from above",
            REFUSED,
            replaced("worksheets/sheet3.xml", "../../../../etc/passwd", within="workbook.xml.rels"),
        ),
        ("a merge over the sheet", SAME, in_sheet("<mergeCells>", '<mergeCells><mergeCell ref="A20:XFD1048576"/>')),
        ("many merges", SAME, in_sheet("<mergeCells>", "<mergeCells>" + '<mergeCell ref="L1:AE20"/>' * 20_000)),
        (
            "a link over the sheet",
            SAME,
            in_sheet("</worksheet>", '<hyperlinks><hyperlink ref="A1:XFD1048576"/></hyperlinks></worksheet>'),
        ),
        (
            "rows without cells",
            SAME,
            in_sheet("</sheetData>", "".join(f'<row r="{row}"/>' for row in range(20, 100_020)) + "</sheetData>"),
        ),
        (
            "an endless format",
            SAME,
            replaced("dd/mm/yyyy", "[" * 75_000, within="styles.xml"),
        ),
        ("a long attribute", REFUSED, in_sheet("<sheetData>", f'<sheetData x="{"x" * 400_000}">')),
        (
            "many attributes",
            REFUSED,
            in_sheet("<sheetData>", "<sheetData " + " ".join(f'a{n}="1"' for n in range(60_000)) + ">"),
        ),
        ("a remark of megabytes", REFUSED, in_sheet("<sheetData>", f"<!--{'x' * 2_000_000}--><sheetData>")),
        ("more cells than there may be", REFUSED, in_sheet("</sheetData>", cells_of(61_000) + "</sheetData>")),
        ("very many cells", SAME, in_sheet("</sheetData>", cells_of(40_000) + "</sheetData>")),
        ("the longest text everywhere", SAME, longest_text_everywhere),
        ("a character of half a pair", REFUSED, in_sheet("<sheetData>", "<sheetData>&#xD800;")),
        (
            "an encoding nobody has",
            REFUSED,
            before("xl/worksheets/sheet3.xml", '<?xml version="1.0" encoding="utf-7"?>'),
        ),
        ("a zero byte", REFUSED, in_sheet("<sheetData>", "<sheetData>\0")),
        (
            "many names",
            SAME,
            replaced(
                "<definedNames>",
                "<definedNames>" + "".join(f'<definedName name="n{n}">A1</definedName>' for n in range(20_000)),
            ),
        ),
        (
            "more sheets than there may be",
            REFUSED,
            replaced("<sheets>", "<sheets>" + "".join(f'<sheet name="n{n}" r:id="s1"/>' for n in range(300))),
        ),
        ("a sheet with an endless name", SAME, replaced('name="Links"', f'name="{"L" * 50_000}"')),
        ("markup for a name", SAME, replaced('name="Links"', 'name="&lt;script&gt;_x0007_"')),
        ("elements without end", REFUSED, in_sheet("</sheetData>", "<x/>" * 1_050_000 + "</sheetData>")),
    ):
        yield parts_case(name, treatment, change)
    for name, treatment, spoil in (
        ("a bomb that tells its size", REFUSED, bomb),
        ("a bomb that lies about its size", SAME, lying),
        ("a part with a way out", REFUSED, with_member("../../evil.xml")),
        ("a part from the top", REFUSED, with_member("/etc/evil.xml")),
        ("a part twice", REFUSED, with_member("xl/STYLES.xml")),
        ("a part packed otherwise", REFUSED, with_member("xl/x.xml", b"x", compress_type=zipfile.ZIP_BZIP2)),
        ("parts without end", REFUSED, lambda data: data + b"PK\x01\x02" * 3000),
        ("encrypted parts", REFUSED, flagged),
        ("larger than any", REFUSED, lambda data: data + bytes(21 * 2**20)),
    ):
        yield bytes_case(f"{name}.xlsx", treatment, spoil)


def growth() -> Iterator[Case]:
    for dimension in DIMENSIONS:
        treatment = NOT_ALL if dimension in _SPOILT_WHEN_GROWN else SAME
        yield Case(f"{dimension}.xlsx", treatment, lambda lab, dimension=dimension: grown(lab.book, dimension))  # type: ignore[misc]


CLASSES: dict[str, tuple[Case, ...]] = {
    make.__name__: tuple(make()) for make in (values, structure, identity, container, hostile, growth)
}
"""The corpus by class."""
