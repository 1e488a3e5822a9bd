"""The exercise workbook: written from a declaration with an exercise in it, read back into one, problems with their cells."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from trainer.errors import ExerciseProblems, Problem, UnreadableFile
from trainer.lab.exercise import Exercise
from trainer.lab.exercise_form import SETTINGS, TABLES, Field, RawExercise, Table
from trainer.lab.exercise_reading import read_exercise
from trainer.lab.faults import Fault, FieldRef
from trainer.lab.kinds import tidy
from trainer.lab.questions import FORM
from trainer.sheets.book import Book, Cell, DropDown, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cell_names import cell_name, column_name
from trainer.sheets.cells import text_height
from trainer.sheets.headings import find_head_row
from trainer.sheets.intake import ReturnedSheet, read_book
from trainer.sheets.paging import print_setup
from trainer.sheets.paper import lab_numbers_in
from trainer.sheets.saving import to_bytes

__all__ = ["exercise_book", "read_exercise_book", "read_raw_exercise", "write_exercise_book"]

_SETTINGS_SHEET = "Exercise"
_START_WIDTHS = (14, 120)
_SETTING_WIDTHS = (22, 30, 40, 62, 12)
_ASKS_WIDTH = 80
"""Of the column that says what a section asks."""
_TABLE_HEAD = 3
"""Row of the column headings of a table sheet; what may be written and what it does stand in the two rows below."""

_START = (
    (
        "For a new exercise",
        (
            ("1", "Sheet Exercise: change Code, Title and Date. That is all: it works as it stands, a new code gives new labs."),
            ("2", "Sheet Trainees: paste your class (id and name). Someone joins late: add a row. Nobody else's lab changes."),
            ("3", "For another network: sheets Switches and Networks. For other questions: sheet Marks."),
            ("4", "Save. 'trainer check FILE' lists every problem with its cell. 'trainer set FILE' writes labs and keys."),
        ),
    ),
    (
        "Which cells are yours",
        (("Frame", "Thick frame, straw colour: yours. The rest explains. Rows may be added or left blank; columns stay."),),
    ),
    (
        "How to write what shall be drawn",
        (
            ("one value", "24"),
            ("a range", "20-60   (both ends count)"),
            ("a list", "10, 20, 30"),
            ("any", "any   (everything that is allowed there)"),
        ),
    ),
    (
        "For whom it is drawn",
        (
            ("class", "Drawn once, the same for all: sizes of networks, length of links. So all labs are equally hard."),
            ("trainee", "Drawn for each one: addresses, VLAN numbers, ports, MAC addresses, names. So nobody can copy."),
        ),
    ),
    (
        "Fair ranges of 'Addresses needed'",
        (
            (
                "",
                "It decides the size of a network, which is drawn once for the class. Within one size: 7-14, 15-30, 31-62, "
                "63-126, 127-254, 255-510.",
            ),
         ("", "With DHCP stations only numbers are drawn that the pool serves: with 10 reserved 31-53, 63-117, 255-501.")),
    ),
)  # fmt: skip


def write_exercise_book(raw: RawExercise) -> bytes:
    """The file of exercise_book."""
    return to_bytes(exercise_book(raw))


def exercise_book(raw: RawExercise) -> Book:
    """The exercise workbook, filled in."""
    sheets = (_start_sheet(), _settings_sheet(raw), *(_table_sheet(table, raw) for table in TABLES))
    return Book(title=f"Exercise {raw.settings['code']}", sheets=sheets)


def _start_sheet() -> Sheet:
    rows = (Row((Cell("How to fill in this workbook", Style.TITLE),)), Row(), *_start_rows())
    layout = Layout(widths=_START_WIDTHS, printing=print_setup(rows, _START_WIDTHS, landscape=True))
    return Sheet(name="Start", layout=layout, rows=rows, footer="Start")


def _start_rows() -> Iterator[Row]:
    for title, lines in _START:
        yield Row((Cell(title, Style.HEADING),))
        for label, text in lines:
            yield Row((Cell(label, Style.ASKED if label == "Frame" else Style.LABEL), Cell(text, Style.TEXT)))
        yield Row()


def _settings_sheet(raw: RawExercise) -> Sheet:
    rows = [
        Row((Cell("Exercise", Style.TITLE),)),
        Row(cells_of(("Setting", "Value", "You may write", "What it does", "Drawn for"), Style.COLUMN)),
    ]
    drop_downs = []
    for group in SETTINGS:
        rows.append(Row((Cell(group.title, Style.HEADING),)))
        for field in group.fields:
            explained = cells_of((field.may_write, field.explains, field.drawn_for), Style.SMALL)
            value = Cell(raw.settings.get(field.id, ""), Style.ASKED)
            high = max(map(text_height, (field.may_write, field.explains, field.drawn_for), _SETTING_WIDTHS[2:]))
            rows.append(Row((Cell(field.heading, Style.GIVEN), value, *explained), height=high))
            if field.choices:
                drop_downs.append(DropDown(field.choices, cell_name(len(rows), 2)))
    layout = Layout(
        widths=_SETTING_WIDTHS,
        printing=print_setup(rows, _SETTING_WIDTHS, landscape=True, head_rows=(1, 2)),
        drop_downs=tuple(drop_downs),
        frozen_at="C3",
    )
    return Sheet(name=_SETTINGS_SHEET, layout=layout, rows=tuple(rows), footer="Exercise")


def _table_sheet(table: Table, raw: RawExercise) -> Sheet:
    filled = list(raw.tables.get(table.id, ())) + [{} for _ in range(table.spare_rows)]
    extra = ["What it asks"] if table.labelled else []
    widths = (*(field.width for field in table.fields), *[_ASKS_WIDTH] * len(extra))
    headings = (*(field.heading for field in table.fields), *extra)
    rows = (
        Row((Cell(table.title, Style.TITLE),)),
        *[Row()] * (_TABLE_HEAD - 2),
        Row(cells_of(headings, Style.COLUMN), height=30),
        _explaining_row([field.may_write for field in table.fields], widths),
        _explaining_row([_explains(field) for field in table.fields], widths),
        *(_filled_row(table, texts_by_id) for texts_by_id in filled),
    )
    first, last = _TABLE_HEAD + 3, _TABLE_HEAD + 2 + len(filled)
    layout = Layout(
        widths=widths,
        printing=print_setup(rows, widths, landscape=True, head_rows=(1, _TABLE_HEAD)),
        drop_downs=tuple(
            DropDown(field.choices, f"{cell_name(first, column)}:{cell_name(last, column)}")
            for column, field in enumerate(table.fields, 1)
            if field.choices
        ),
        frozen_at=f"B{first}",
    )
    return Sheet(name=table.sheet, layout=layout, rows=rows, footer=table.sheet)


def _explaining_row(texts: Sequence[str], widths: Sequence[float]) -> Row:
    """A text to each field, as high as the highest needs; cells without one beside them."""
    heights = (text_height(text, width) for text, width in zip(texts, widths, strict=False))
    return Row(cells_of((*texts, *[""] * (len(widths) - len(texts))), Style.SMALL), height=max(heights))


def _filled_row(table: Table, texts_by_id: Mapping[str, str]) -> Row:
    cells = cells_of((texts_by_id.get(field.id, "") for field in table.fields), Style.ASKED)
    if not table.labelled:
        return Row(cells)
    label = texts_by_id.get(table.fields[0].id, "")
    asks = next((section.asks for section in FORM if section.title == label), "")
    return Row((Cell(label, Style.GIVEN), *cells[1:], Cell(asks, Style.SMALL)))


def _explains(field: Field) -> str:
    drawn = f" Drawn for each {field.drawn_for}." if field.drawn_for == "trainee" else ""
    return field.explains + (" Drawn once for the class." if field.drawn_for == "class" else drawn)


def read_exercise_book(data: bytes) -> Exercise:
    """The exercise in a workbook.

    Raises ExerciseProblems with everything that is wrong, each with its sheet and cell; UnreadableFile where the bytes
    are no workbook, or the workbook of a lab.
    """
    book = read_book(data)
    sheets = {sheet.name.strip().casefold(): sheet for sheet in book.sheets}
    labs = lab_numbers_in(book)
    if labs and _SETTINGS_SHEET.casefold() not in sheets:
        raise UnreadableFile(
            f"This is a workbook of lab {labs[0]}, not an exercise workbook. What trainees hand in goes into the folder "
            "returned/ of its sitting; then: trainer grade SITTING."
        )
    reader = _Reader(sheets)
    exercise = read_exercise(reader.raw())
    if not isinstance(exercise, Exercise):
        raise ExerciseProblems(tuple(reader.problem(fault) for fault in exercise))
    return exercise


def read_raw_exercise(data: bytes) -> RawExercise:
    """What stands in an exercise workbook, as text, whether the exercise is possible or not.

    Raises ExerciseProblems where a sheet, a label or a heading of the form is not there, UnreadableFile where the bytes are no
    workbook.
    """
    return _Reader({sheet.name.strip().casefold(): sheet for sheet in read_book(data).sheets}).raw()


def _is_left_out(field: Field, labels: Collection[str], form: Collection[Field]) -> bool:
    """Whether a label that is not there may be missing. One that is only written a little otherwise is not left out.

    form: the fields that stand beside it, whose labels are none of its, however much alike.
    """
    others = {each.heading.casefold() for each in form}
    unknown = [each for each in labels if each not in others]
    return field.may_be_missing and not get_close_matches(field.heading.casefold(), unknown, n=1, cutoff=0.65)


@dataclass(slots=True)
class _Columns:
    sheet: str
    letters: Mapping[str, str]
    first: int


class _Reader:
    """Reads the sheets by their headings and labels, and remembers where everything stood."""

    def __init__(self, sheets: Mapping[str, ReturnedSheet]) -> None:
        self._sheets = sheets
        self._settings_at: dict[str, str] = {}
        self._columns: dict[str, _Columns] = {}
        self._rows_at: dict[str, list[int]] = {}
        self.problems: list[Problem] = []

    def raw(self) -> RawExercise:
        """All of it. Raises ExerciseProblems where something of the form is not there."""
        settings = self.settings()
        tables = {table.id: tuple(self.rows(table)) for table in TABLES}
        if self.problems:
            raise ExerciseProblems(tuple(self.problems))
        return RawExercise(settings=settings, tables=tables)

    def settings(self) -> dict[str, str]:
        """Settings by id: the label in one cell, the value in the cell to its right."""
        sheet = self._sheet(_SETTINGS_SHEET)
        if sheet is None:
            return {}
        labels = {tidy(cell.text).casefold(): at for at, cell in sorted(sheet.cells.items()) if at[1] == 1}
        texts = {}
        fields = [field for group in SETTINGS for field in group.fields]
        for field in fields:
            named = [each.casefold() for each in (field.heading, field.formerly) if each]
            at = next((labels[each] for each in named if each in labels), None)
            if at is None:
                if not _is_left_out(field, labels, fields):
                    self._missing(_SETTINGS_SHEET, f"row labelled {field.heading}")
                continue
            row, column = at[0], at[1] + 1
            self._settings_at[field.id] = cell_name(row, column)
            texts[field.id] = self._text(sheet, row, column)
        return texts

    def rows(self, table: Table) -> list[dict[str, str]]:
        """The rows of a table that hold anything, below the row with its headings."""
        sheet = self._sheet(table.sheet)
        if sheet is None:
            return []
        headings = [field.heading for field in table.fields]
        head = find_head_row(sheet, headings)
        if head is None:
            self._missing(table.sheet, f"row with the headings {', '.join(headings)}")
            return []
        columns = head.columns(headings)
        places = {}
        complete = True
        for field in table.fields:
            column = columns.get(field.heading)
            if column is not None:
                places[field.id] = column
            elif not _is_left_out(field, head.texts, table.fields):
                self._missing(table.sheet, f"column headed {field.heading}")
                complete = False
        if not complete:
            return []
        explained = self._explained_rows(sheet, head.row, table, places)
        found: list[dict[str, str]] = []
        self._rows_at[table.id] = []
        for row in sorted({row for row, _ in sheet.cells if row > head.row}):
            if row in explained:
                continue
            texts = {field_id: self._text(sheet, row, column) for field_id, column in places.items()}
            if any(tidy(text) for text in texts.values()):
                found.append(texts)
                self._rows_at[table.id].append(row)
        first = self._rows_at[table.id][0] if found else head.row + 1
        letters = {field_id: column_name(column) for field_id, column in places.items()}
        self._columns[table.id] = _Columns(sheet.name, letters, first)
        return found

    def problem(self, fault: Fault) -> Problem:
        """A fault with the sheet and cell it stands in."""
        sheet, cell = self._cell(fault.at)
        return Problem(sheet=sheet, cell=cell, found=fault.found, wanted=fault.wanted, fix=fault.fix)

    def _cell(self, at: FieldRef) -> tuple[str, str]:
        if at.table == "exercise":
            return _SETTINGS_SHEET, self._settings_at.get(at.field, "")
        columns = self._columns[at.table]
        rows = self._rows_at[at.table]
        row = columns.first if at.row is None else rows[at.row]
        return columns.sheet, f"{columns.letters[at.field]}{row}"

    def _sheet(self, title: str) -> ReturnedSheet | None:
        sheet = self._sheets.get(title.casefold())
        if sheet is None:
            self.problems.append(
                Problem(
                    sheet=title,
                    cell="",
                    found="no sheet of that name",
                    wanted="an exercise workbook has the sheets that 'trainer template' writes",
                    fix="Name the sheet as it was, or start from a new template.",
                )
            )
        return sheet

    def _missing(self, sheet: str, what: str) -> None:
        self.problems.append(
            Problem(
                sheet=sheet,
                cell="",
                found=f"no {what}",
                wanted="sheets are read by their headings and labels",
                fix="Write it as the template has it, or start from a new template.",
            )
        )

    def _explained_rows(
        self, sheet: ReturnedSheet, head: int, table: Table, places: Mapping[str, int]
    ) -> frozenset[int]:
        """The rows below the headings that still hold the template's own explanations."""
        field = table.fields[1]
        own = {tidy(field.may_write), tidy(_explains(field))}
        rows = range(head + 1, head + 9)
        return frozenset(row for row in rows if tidy(self._text(sheet, row, places[field.id])) in own)

    def _text(self, sheet: ReturnedSheet, row: int, column: int) -> str:
        cell = sheet.cells.get((row, column))
        return "" if cell is None else cell.text
