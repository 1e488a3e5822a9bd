"""The workbook with the instructor's decisions: made once by us, from then on the instructor's alone and only read."""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from trainer.errors import OverrideProblems, Problem, did_you_mean
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.marks import exact
from trainer.marking.overrides import Decision, Override, marks_of_part, most_marks, row_called, rows_of
from trainer.sheets.book import Book, Cell, DropDown, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cell_names import cell_name
from trainer.sheets.cells import text_height
from trainer.sheets.headings import find_head_row
from trainer.sheets.intake import ReturnedSheet, Trouble, read_book
from trainer.sheets.paging import print_setup
from trainer.sheets.saving import to_bytes

__all__ = ["overrides_book", "read_overrides_book", "write_overrides_book"]

T = TypeVar("T")
LabsOf = Callable[[str], Sequence[Scenario]]
"""The labs of a trainee, by id, that can be read; for "" those of everybody."""

_SHEET = "Overrides"
_NEEDED = ("Trainee", "Sheet", "Row", "Question", "Decision", "Value", "Reason")
_ATTEMPT = "Attempt"
"""The heading of a column that workbooks of before do not have."""
_HEADINGS = (*_NEEDED, _ATTEMPT)
_WIDTHS = (14, 16, 18, 26, 20, 22, 60, 12)
_MAY_WRITE = (
    "an id, or all",
    "a sheet of the form, or a part of yours",
    "as on the sheet, or all",
    "the column's heading, or all",
    "choose one",
    "the value; or full, half, none, a number; blank to strike; 17 of 20",
    "printed on the feedback",
    "2 for a re-sit; blank: the first",
)
_FORMERLY = (_MAY_WRITE[0], "a sheet of the form", _MAY_WRITE[2])
_HINTS = (
    _MAY_WRITE[: len(_NEEDED)],
    (*_FORMERLY, "the column's heading", "choose one", "the value; or full, half, none, a number", _MAY_WRITE[6]),
    (*_FORMERLY, *_MAY_WRITE[3:5], "the value; or full, half, none, a number; blank to strike", _MAY_WRITE[6]),
)
"""That row, but for Attempt, as it is and as workbooks have it that were made earlier."""
_LONGEST_PART = 40
"""Characters of the name of a part that is marked by hand."""
_NOTES = (
    "Read at every grade, and never written again by the program. Of several rows about one cell the last counts; taking a row "
    "away undoes it. Row and Question may be all. A row about one trainee is about one attempt; a row about all is about every "
    "attempt, unless it names one.",
    "accept this value, marks, strike, use this file, marked by hand: what each does stands on sheet How, with an example.",
)
_HOW = (
    (
        "accept this value",
        "Wherever the cell holds that value, however it is written, it is right. Row may be all: every row of the sheet.",
        "all, Subnets, all, Gateway, Value 172.16.0.9",
    ),
    (
        "marks",
        "The cell gets full, half or none of its marks, or a number of them. With all under Row, Question or both the column, "
        "the row or the whole sheet gets them; a number is for all of it together. A row that is missing is called as on the key "
        "page and on sheet Missing rows of results.xlsx, such as A to 30.",
        "h02, Routes, Route 3, Next hop, Value half",
    ),
    (
        "strike",
        "A spoilt question counts for nobody; the total is less by it. Trainee is all, Value stays blank.",
        "all, Pools, all, Lease",
    ),
    (
        "use this file",
        "Of several files of the trainee the one that Value names counts; Sheet, Row and Question stay blank.",
        "h02, Value late copy.xlsx",
    ),
    (
        "marked by hand",
        "A part that is no sheet, such as work at the bench. Write its name under Sheet and 17 of 20 under Value: 20 is what it "
        "counts beside the 100 of the sheets, alike in every row of the part. Row and Question stay blank, Reason may. A row "
        "about one trainee goes before one about all; who has no row has no such part.",
        "h02, Bench work, Value 17 of 20",
    ),
)
"""Decision, what it does, an example without its reason."""
_HOW_WIDTHS = (20, 90, 44)
_HEAD_ROW, _SPARE_ROWS = 6, 20
_NAMED = 8
"""Names that a message lists at most."""


def write_overrides_book() -> bytes:
    """The file of overrides_book."""
    return to_bytes(overrides_book())


def overrides_book() -> Book:
    """An empty one."""
    heights = (text_height(text, width) for text, width in zip(_MAY_WRITE, _WIDTHS, strict=True))
    rows = (
        Row((Cell("The instructor's decisions", Style.TITLE),)),
        *(Row((Cell(note, Style.NOTE),)) for note in _NOTES),
        Row(),
        Row(),
        Row(cells_of(_HEADINGS, Style.COLUMN)),
        Row(cells_of(_MAY_WRITE, Style.SMALL), height=max(heights)),
        *[Row(cells_of([""] * len(_HEADINGS), Style.ASKED))] * _SPARE_ROWS,
    )
    first, last = _HEAD_ROW + 2, _HEAD_ROW + 1 + _SPARE_ROWS
    layout = Layout(
        widths=_WIDTHS,
        printing=print_setup(rows, _WIDTHS, landscape=True, head_rows=(1, _HEAD_ROW)),
        drop_downs=(
            DropDown(tuple(section.title for section in SECTIONS.values()), f"B{first}:B{last}"),
            DropDown(tuple(each.value for each in Decision), f"E{first}:E{last}"),
        ),
        frozen_at=f"A{first}",
    )
    return Book(title=_SHEET, sheets=(Sheet(name=_SHEET, layout=layout, rows=rows, footer=_SHEET), _how_sheet()))


def _how_sheet() -> Sheet:
    """What each decision does; nothing is read from it."""
    lines = (Row(cells_of(texts, Style.STEP), height=max(map(text_height, texts, _HOW_WIDTHS)) + 2) for texts in _HOW)
    rows = (
        Row((Cell("What the decisions do", Style.TITLE),)),
        Row(),
        Row(cells_of(("Decision", "What it does", "For instance, with a reason"), Style.COLUMN)),
        *lines,
    )
    layout = Layout(widths=_HOW_WIDTHS, printing=print_setup(rows, _HOW_WIDTHS, landscape=True))
    return Sheet(name="How", layout=layout, rows=rows, footer="How")


def read_overrides_book(data: bytes, trainees: Mapping[str, Collection[int]], labs_of: LabsOf) -> tuple[Override, ...]:
    """The decisions in a workbook, in order. trainees: by the ids of the sitting the attempts of each.

    labs_of: asked only for whom a decision is about. Who has no lab that can be read is believed in rows and marks.

    Raises OverrideProblems with everything that is wrong, each with its cell; UnreadableFile for no workbook.
    """
    sheet = next((each for each in read_book(data).sheets if tidy(each.name).casefold() == _SHEET.casefold()), None)
    if sheet is None:
        raise OverrideProblems(
            (_problem("", "no sheet Overrides", "decisions stand on a sheet of that name", "Name it so."),)
        )
    reader = _Reader(sheet, trainees, labs_of)
    overrides = tuple(reader.rows())
    if reader.problems:
        raise OverrideProblems(tuple(reader.problems))
    return overrides


def _problem(cell: str, found: str, wanted: str, fix: str) -> Problem:
    return Problem(sheet=_SHEET, cell=cell, found=found, wanted=wanted, fix=fix)


class _Reader:
    """Reads the rows below the headings."""

    def __init__(self, sheet: ReturnedSheet, trainees: Mapping[str, Collection[int]], labs_of: LabsOf) -> None:
        self._sheet = sheet
        self._trainees = trainees
        self._labs_of = labs_of
        self._counts: dict[str, tuple[str, Decimal]] = {}
        """Of each part that is marked by hand, in small letters, what it counts, and the cell that says so."""
        self.problems: list[Problem] = []

    def rows(self) -> list[Override]:
        head = find_head_row(self._sheet, _HEADINGS)
        columns = {} if head is None else head.columns(_HEADINGS)
        missing = [heading for heading in _NEEDED if heading not in columns]
        if head is None or missing:
            wanted = "decisions are read by their headings"
            self.problems.append(_problem("", f"no column headed {', '.join(missing)}", wanted, "Write it as it was."))
            return []
        found = []
        for row in sorted({row for row, _ in self._sheet.cells if row > head.row}):
            texts = {heading: self._text(row, columns.get(heading)) for heading in _HEADINGS}
            if any(texts.values()) and tuple(map(texts.get, _NEEDED)) not in _HINTS:
                cells = {heading: cell_name(row, column) for heading, column in columns.items()}
                before = len(self.problems)
                for column in columns.values():
                    self._refuse_trouble(row, column)
                override = self._override(texts, cells) if len(self.problems) == before else None
                if override is not None:
                    found.append(override)
                self.problems[before:] = sorted(self.problems[before:], key=lambda problem: problem.cell)
        return found

    def _text(self, row: int, column: int | None) -> str:
        cell = None if column is None else self._sheet.cells.get((row, column))
        return "" if cell is None else tidy(cell.text)

    def _refuse_trouble(self, row: int, column: int) -> None:
        cell = self._sheet.cells.get((row, column))
        if cell is not None and cell.trouble is not None:
            wanted = f"what stands here is taken as it was typed, and this is no typed text ({cell.trouble.value})"
            is_merged = cell.trouble is Trouble.MERGED
            fix = "Undo the merging and fill every cell." if is_merged else "Format the cell as Text and type it again."
            self._refuse(cell_name(row, column), cell.text, wanted, fix)

    def _attempt(
        self, trainee: str | None, texts: Mapping[str, str], cells: Mapping[str, str]
    ) -> tuple[int | None, bool]:
        """Which attempt a decision is about, None for every one, and whether its row says so or there is one alone. About one
        trainee it is the first where none is named.
        """
        had = sorted({each for name in self._trainees if trainee in ("", name) for each in self._trainees[name]})
        text, named = texts[_ATTEMPT], {str(each): each for each in had}
        if text and had and text not in named:
            wanted = f"an attempt that was set stands here ({', '.join(named)}), or nothing"
            self._refuse(cells[_ATTEMPT], text, wanted, "Write such a number, or set the re-sit first.")
        if text or not trainee:
            return named.get(text), True
        return had[0], len(had) == 1

    def _override(self, texts: Mapping[str, str], cells: Mapping[str, str]) -> Override | None:
        if texts["Decision"].casefold() == Decision.USE_FILE.value:
            return self._file_to_use(texts, cells)
        if texts["Decision"].casefold() == Decision.BY_HAND.value:
            return self._by_hand(texts, cells)
        before = len(self.problems)
        trainee = self._trainee_or_all(texts, cells)
        attempt, is_named = self._attempt(trainee, texts, cells)
        labs = () if trainee is None else self._labs_of(trainee)
        labs = tuple(lab for lab in labs if attempt in (None, lab.trainee.attempt))
        asked = {section for lab in labs or self._labs_of("") for section in lab.asked} or set(SECTIONS)
        titles = {section.title: section.id for section in SECTIONS.values() if section.id in asked}
        section = self._one_of(texts, cells, "Sheet", titles, "a sheet that is asked")
        question = None
        if section is not None:
            headings = {each.heading: each.id for each in SECTIONS[section].questions} | {"all": ""}
            what = f"a heading of sheet {SECTIONS[section].title}"
            question = self._one_of(texts, cells, "Question", headings, what)
        decision = self._one_of(texts, cells, "Decision", {each.value: each for each in Decision}, "a decision")
        is_struck = decision is Decision.STRIKE
        if is_struck and trainee:
            wanted = "a question is struck for everybody, or one would be marked by another measure than the others"
            self._refuse(cells["Trainee"], texts["Trainee"], wanted, "Write all; for one trainee set marks.")
        if decision is Decision.ACCEPT and question == "":
            wanted = "a value is accepted under one heading; all goes with the decisions marks and strike"
            self._refuse(cells["Question"], texts["Question"], wanted, "Write the column's heading.")
        if is_struck and texts["Value"]:
            self._refuse(cells["Value"], texts["Value"], "what is struck has no value", "Leave this blank.")
        for heading in ("Row", "Reason") if is_struck else ("Row", "Value", "Reason"):
            if not texts[heading]:
                self._refuse(cells[heading], "", f"a decision has a {heading.casefold()}", "Write one.")
        row = texts["Row"]
        if section is not None and row:
            row = self._row(row, cells["Row"], section, labs)
        if decision is Decision.MARKS and texts["Value"]:
            self._check_marks(texts["Value"], cells["Value"], section, question, row, labs)
        if len(self.problems) > before or trainee is None or section is None or question is None or decision is None:
            return None
        return Override(
            trainee=trainee,
            section=section,
            row=row,
            question=question,
            decision=decision,
            value=texts["Value"],
            reason=texts["Reason"],
            attempt=attempt,
            is_attempt_named=is_named,
        )

    def _file_to_use(self, texts: Mapping[str, str], cells: Mapping[str, str]) -> Override | None:
        """The decision which of a trainee's files counts."""
        before = len(self.problems)
        known = {each: each for each in self._trainees}
        trainee = self._one_of(texts, cells, "Trainee", known, "a trainee of this sitting")
        self._refuse_cells(texts, cells, ("Sheet", "Row", "Question"), "a decision about a file is about no cell")
        self._refuse_cells(texts, cells, (_ATTEMPT,), "a file is of one attempt anyway")
        for heading in ("Value", "Reason"):
            if not texts[heading]:
                self._refuse(cells[heading], "", f"a decision has a {heading.casefold()}", "Write one.")
        if len(self.problems) > before or trainee is None:
            return None
        return _about_no_cell(trainee, Decision.USE_FILE, texts)

    def _by_hand(self, texts: Mapping[str, str], cells: Mapping[str, str]) -> Override | None:
        """The marks of a part that is no sheet."""
        before = len(self.problems)
        trainee = self._trainee_or_all(texts, cells)
        attempt, is_named = self._attempt(trainee, texts, cells)
        name = texts["Sheet"]
        titles = {section.title.casefold() for section in SECTIONS.values()}
        if not name or len(name) > _LONGEST_PART or name.casefold() in titles:
            wanted = (
                f"a part that is marked by hand has a name of its own, of {_LONGEST_PART} characters at most, and is no sheet "
                "of the form"
            )
            self._refuse(cells["Sheet"], name, wanted, "Write one, such as Bench work; for a sheet set marks.")
        self._refuse_cells(texts, cells, ("Row", "Question"), "a part that is marked by hand has no cells")
        counts = marks_of_part(texts["Value"])
        if counts is None:
            wanted = "marks of a part are written with what it counts (1000 at most), such as 17 of 20, and are no more than that"
            self._refuse(cells["Value"], texts["Value"], wanted, "Write it so.")
        elif name:
            where, out_of = self._counts.setdefault(name.casefold(), (cells["Value"], counts[1]))
            if out_of != counts[1]:
                wanted = f"{name} counts {exact(out_of)} in {where}, and a part counts the same for everybody"
                fix = f"Write the marks of {exact(out_of)}, or change the other rows."
                self._refuse(cells["Value"], texts["Value"], wanted, fix)
        if len(self.problems) > before or trainee is None:
            return None
        decided = _about_no_cell(trainee, Decision.BY_HAND, texts, part=name)
        return replace(decided, attempt=attempt, is_attempt_named=is_named)

    def _trainee_or_all(self, texts: Mapping[str, str], cells: Mapping[str, str]) -> str | None:
        known = {**{each: each for each in self._trainees}, "all": ""}
        return self._one_of(texts, cells, "Trainee", known, "a trainee of this sitting")

    def _refuse_cells(
        self, texts: Mapping[str, str], cells: Mapping[str, str], headings: Iterable[str], wanted: str
    ) -> None:
        """Refuses what names a cell where the decision is about none."""
        for heading in headings:
            if texts[heading]:
                self._refuse(cells[heading], texts[heading], wanted, "Leave this blank.")

    def _row(self, text: str, cell: str, section: str, labs: Sequence[Scenario]) -> str:
        """The row as the form calls it, "" for every row; what is no row is refused."""
        if text.casefold() == "all":
            return ""
        labs = [lab for lab in labs if section in lab.asked]
        found = next(filter(None, (row_called(lab, section, text) for lab in labs)), None)
        if found is None and labs:
            names = list(dict.fromkeys(name for lab in labs for name in rows_of(lab, section)))
            wanted = f"a row of sheet {SECTIONS[section].title} stands here: {_listed([*names, 'all'])}"
            self._refuse(cell, text, wanted, did_you_mean(text, names) or "Write it as it stands on the sheet.")
        return found or text

    def _check_marks(
        self,
        text: str,
        cell: str,
        section: str | None,
        question: str | None,
        row: str,
        labs: Sequence[Scenario],
    ) -> None:
        most = None
        if section is not None and question is not None:
            most = max((most_marks(lab, section, question, row) for lab in labs), default=None)
        if _is_marks(text, most):
            return
        wanted = "marks are full, half, none, or a number from 0 on, with three decimals at most"
        if section is not None and question is not None and most is not None:
            of = SECTIONS[section]
            what = "a cell counts" if row and question else "the cells count together"
            where = f"under {of.question(question).heading} " if question else ""
            wanted = (
                f"marks are full, half, none, or a number from 0 to {exact(most)}, with three decimals at most; "
                f"that is what {what} {where}on sheet {of.title}"
            )
        self._refuse(cell, text, wanted, "Write one of these.")

    def _one_of(
        self, texts: Mapping[str, str], cells: Mapping[str, str], heading: str, known: Mapping[str, T], what: str
    ) -> T | None:
        """The value that the text stands for, whatever case it is written in."""
        text = texts[heading]
        for name, value in known.items():
            if tidy(name).casefold() == text.casefold():
                return value
        wanted = f"{what} stands here: {_listed(list(known))}"
        self._refuse(cells[heading], text, wanted, did_you_mean(text, known) or "Write one of these.")
        return None

    def _refuse(self, cell: str, text: str, wanted: str, fix: str) -> None:
        self.problems.append(_problem(cell, repr(text) if text else "nothing", wanted, fix))


def _about_no_cell(trainee: str, decision: Decision, texts: Mapping[str, str], *, part: str = "") -> Override:
    return Override(
        trainee=trainee,
        section="",
        row="",
        question="",
        decision=decision,
        value=texts["Value"],
        reason=texts["Reason"],
        part=part,
    )


def _listed(names: Sequence[str]) -> str:
    """The names in a line; of many the first and the last."""
    if len(names) <= _NAMED + 1:
        return ", ".join(names)
    return f"{', '.join(names[:_NAMED])}, ... or {names[-1]}"


def _is_marks(text: str, most: Fraction | None) -> bool:
    """Whether it is a word for marks or a number of them, with a decimal point or comma. most: None for no limit."""
    if text.casefold() in ("full", "half", "none"):
        return True
    if not re.fullmatch(r"\d{1,3}([.,]\d{1,3})?", text, flags=re.ASCII):
        return False
    return most is None or Fraction(text.replace(",", ".")) <= Fraction(exact(most))
