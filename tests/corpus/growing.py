"""Workbooks that grow in one dimension at a time: far more columns, labels, marks, sheets, names
or formats than anybody needs.
"""

from collections.abc import Callable, Mapping

from workbooks import Book, Raw, Sheet, parts_of, zipped

__all__ = ["DIMENSIONS", "LARGEST", "grown"]

LARGEST = 300_000
"""Bytes of a file, packed. What grows further is refused by its size, or as easily as this."""

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
MARK, LIGATURE = "\u0301", "\ufdfa"
MOST_CELLS = 59_000


def head_of(sheet: Sheet) -> int:
    """The row with the column headings: the one in which most texts stand, of several the first."""
    rows: dict[int, int] = {}
    for row, _ in sheet.cells:
        rows[row] = rows.get(row, 0) + 1
    return max(rows, key=lambda row: (rows[row], -row))


def in_cells(book: Book, count: int, text: str | Raw, *, column: int = 30) -> Book:
    """The text in so many cells beside the form, on its last sheet."""
    sheet = book.sheets[-1]
    for place in range(count):
        sheet.cells[1 + place // 100, column + place % 100] = text
    return book


def columns_headed_alike(book: Book, size: float) -> Book:
    for sheet in book.sheets[2:]:
        head = head_of(sheet)
        texts = [(column, text) for (row, column), text in sheet.cells.items() if row == head]
        for place in range(int(16_000 * size) // len(book.sheets[2:]) * 2):
            sheet.cells[head, 30 + place] = texts[-1 if place % 2 else 0][1]
    return book


def columns_of_labels(book: Book, size: float) -> Book:
    """Every column is headed like the labels, and all labels stand in it."""
    sheet = book.sheets[2]
    head = head_of(sheet)
    first = min(column for row, column in sheet.cells if row == head)
    labels = [(row, text) for (row, column), text in sheet.cells.items() if column == first and row >= head]
    for column in range(30, 30 + int(56_000 * size) // len(labels)):
        for row, text in labels:
            sheet.cells[row, column] = text
    return book


def rows_labelled_alike(book: Book, size: float) -> Book:
    sheet = book.sheets[2]
    head = head_of(sheet)
    first = min(column for row, column in sheet.cells if row == head)
    label = sheet.cells[head + 1, first]
    for place in range(int(MOST_CELLS * size) // 2):
        sheet.cells[1000 + place, first] = label
        sheet.cells[1000 + place, first + 5] = str(place)
    return book


def rows_of_open_sections(book: Book, size: float) -> Book:
    """Routes and bindings without end, each another one."""
    for sheet in book.sheets:
        if sheet.name in ("Routes", "Bindings"):
            word = sheet.name.removesuffix("s")
            values = [[text for (at, _), text in sorted(sheet.cells.items()) if at == row] for row in range(6, 12)]
            for place in range(int(4_000 * size)):
                row = values[place % len(values)]
                sheet.cells[100 + place, 1] = f"{word} {100 + place}"
                for column, text in enumerate(row[1:], 2):
                    sheet.cells[100 + place, column] = text if column % 2 else f"10.{place % 250}.{place // 250}.0"
    return book


def marks_on_a_letter(book: Book, size: float) -> Book:
    return in_cells(book, int(MOST_CELLS * size), "a" + MARK * 1_999)


def marks_in_short_texts(book: Book, size: float) -> Book:
    return in_cells(book, int(MOST_CELLS * size), "a" + MARK * 30 + LIGATURE * 28)


def marks_in_one_text(book: Book, size: float) -> Book:
    return in_cells(book, 10, "a" + MARK * int(32_000 * size))


def ligatures(book: Book, size: float) -> Book:
    return in_cells(book, int(MOST_CELLS * size), LIGATURE * 2_000)


def ligatures_in_one_text(book: Book, size: float) -> Book:
    return in_cells(book, 100, LIGATURE * int(32_000 * size))


def every_answer(book: Book, text: str) -> Book:
    """The text in every answer, and in as many rows more of the open sections as are read."""
    for sheet in book.sheets[2:]:
        head = head_of(sheet)
        for row, column in list(sheet.cells):
            if row > head and column > 1:
                sheet.cells[row, column] = text
        if sheet.name in ("Routes", "Bindings"):
            for place in range(300):
                sheet.cells[100 + place, 1] = f"{sheet.name.removesuffix('s')} {100 + place}"
                for column in range(2, 9):
                    sheet.cells[100 + place, column] = text
    return book


def long_answers(book: Book, size: float) -> Book:
    return every_answer(book, "x1 " * int(660 * size))


def long_foreign_answers(book: Book, size: float) -> Book:
    return every_answer(book, ("é" + MARK * 29) * int(66 * size))


def long_lists(book: Book, size: float) -> Book:
    return every_answer(book, ",".join(map(str, range(1, 2 + int(400 * size)))))


def long_ranges(book: Book, size: float) -> Book:
    return every_answer(book, ",".join(["1-4095"] * (1 + int(280 * size))))


def sheets(book: Book, size: float) -> Book:
    for place in range(int(185 * size)):
        book.copy_sheet(book.sheets[2 + place % 5].name, f"Sheet {place}")
    return book


def sheets_called_alike(book: Book, size: float) -> Book:
    for place in range(int(185 * size)):
        book.copy_sheet(book.sheets[2].name, book.sheets[2].name + "\u200b" * (1 + place))
    return book


def lab_numbers(book: Book, size: float) -> Book:
    sheet = book.sheets[-1]
    for place in range(int(MOST_CELLS * size) // 2):
        sheet.cells[1 + place // 50, 30 + place % 50 * 2] = "Lab number" if place % 2 else "Trainee"
        sheet.cells[1 + place // 50, 31 + place % 50 * 2] = f"ABC-{2222 + place % 7777}"
    return book


def names(book: Book, size: float) -> Book:
    many = "".join(f'<definedName name="n{place}">Brief!$A$1</definedName>' for place in range(int(40_000 * size)))
    text = str(parts_of(book)["xl/workbook.xml"])
    book.extra["xl/workbook.xml"] = text.replace("<definedNames>", f"<definedNames>{many}")
    return book


def formats(book: Book, size: float) -> Book:
    codes = "".join(
        f'<numFmt numFmtId="{200 + place}" formatCode="{"[h;" * 60}{place}d"/>' for place in range(int(40_000 * size))
    )
    cells = "".join(f'<xf numFmtId="{200 + place}"/>' for place in range(int(100_000 * size)))
    book.extra["xl/styles.xml"] = (
        f'<styleSheet xmlns="{MAIN}"><numFmts>{codes}</numFmts><cellXfs><xf numFmtId="0"/>{cells}</cellXfs></styleSheet>'
    )
    return book


def merges(book: Book, size: float) -> Book:
    for sheet in book.sheets:
        sheet.merges = [f"A{1 + place}:T{20 + place}" for place in range(int(20_000 * size))]
    return book


def formulas(book: Book, size: float) -> Book:
    return in_cells(book, int(MOST_CELLS * size), Raw("<f>1+1</f><v>2</v>"))


def numbers(book: Book, size: float) -> Book:
    """Half as many as there may be cells, for no part may be larger than 16 MB unpacked."""
    return in_cells(book, int(MOST_CELLS * size) // 2, Raw(f"<v>{'9' * 390}.5</v>"))


def texts_nobody_shows(book: Book, size: float) -> Book:
    table = f'<sst xmlns="{MAIN}">{"<si><t>a&#769;</t></si>" * int(300_000 * size)}</sst>'
    book.extra["xl/sharedStrings.xml"] = table
    return book


def cells_everywhere(book: Book, size: float) -> Book:
    sheet = book.sheets[2]
    for place in range(int(MOST_CELLS * size)):
        sheet.cells[1 + place % 16_000, 30 + place % 150] = str(place)
    return book


DIMENSIONS: Mapping[str, Callable[[Book, float], Book]] = {
    each.__name__: each
    for each in (
        *(columns_headed_alike, columns_of_labels, rows_labelled_alike, rows_of_open_sections, cells_everywhere),
        *(marks_on_a_letter, marks_in_short_texts, marks_in_one_text, ligatures, ligatures_in_one_text),
        *(long_answers, long_foreign_answers, long_lists, long_ranges, sheets, sheets_called_alike, lab_numbers),
        *(names, formats, merges, formulas, numbers, texts_nobody_shows),
    )
}


def grown(book: Book, dimension: str) -> bytes:
    """The book grown as far in one dimension as a file of LARGEST bytes holds, halved until it fits."""
    size = 1.0
    while True:
        data = zipped(_with_tables(DIMENSIONS[dimension](book.copied(), size)))
        if len(data) <= LARGEST:
            return data
        size /= 2


def _with_tables(book: Book) -> dict[str, str | bytes]:
    parts = parts_of(book)
    if "xl/sharedStrings.xml" in book.extra:  # the table of the book in front of what nobody shows
        own = str(parts["xl/sharedStrings.xml"]).removesuffix("</sst>")
        parts["xl/sharedStrings.xml"] = own + str(book.extra["xl/sharedStrings.xml"]).partition(">")[2]
    return parts
