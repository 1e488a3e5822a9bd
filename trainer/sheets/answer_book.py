"""The trainee's workbook, and the key workbook, which is the same filled in."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any

from trainer.lab.brief import BriefPart, GivenTable, brief, found_sheets, given_tables, practice_brief
from trainer.lab.form import Answers, CellRef, Question, Section
from trainer.lab.form import Row as PrintedRow
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Asked, Scenario, SectionShare
from trainer.sheets.book import Book, Cell, DropDown, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cell_names import cell_name
from trainer.sheets.cells import text_height, text_width
from trainer.sheets.identity import identity_rows
from trainer.sheets.paging import print_setup
from trainer.sheets.placement import (
    BRIEF_SHEET,
    GIVEN_SHEET,
    HEAD_ROW,
    KEY_WORDS,
    LAB_LABEL,
    LAB_NUMBER_NAME,
    NOTES_SHEET,
    STEPS_SHEET,
    given_widths,
    shown_answers,
    width_of,
)
from trainer.sheets.saving import to_bytes
from trainer.study.steps import STEP_HEADINGS, Worked, worked_row

__all__ = ["answer_book", "key_book", "practice_book", "write_answer_book", "write_key_book", "write_practice_book"]

_BRIEF_WIDTHS = (21, 76)
_NOTES_WIDTHS = (24,) * 5
_STEPS_WIDTHS = (30, 52, 60, 34)
_BESIDE, _BESIDE_WIDTH = "How row 1 was worked out", 78
_BROADEST = 34.0
"""How broad a column with tables to read gets at most."""
_BOLD = 1.15
"""What a bold text is broader."""


def write_answer_book(scenario: Scenario, key: Answers, own: Sequence[BriefPart] = ()) -> bytes:
    """The file of answer_book."""
    return to_bytes(answer_book(scenario, key, own))


def write_key_book(scenario: Scenario, key: Answers) -> bytes:
    """The file of key_book."""
    return to_bytes(key_book(scenario, key))


def write_practice_book(
    scenario: Scenario,
    key: Answers,
    own: Sequence[BriefPart] = (),
    filled_in: Collection[CellRef] = (),
    examples: Sequence[Worked] = (),
) -> bytes:
    """The file of practice_book."""
    return to_bytes(practice_book(scenario, key, own, filled_in, examples))


def answer_book(scenario: Scenario, key: Answers, own: Sequence[BriefPart] = ()) -> Book:
    """The workbook that is handed out. Of the key only the sections that are given are in it, and what was found of a network
    with faults.

    own: the exercise's own brief, which stands before the house rules.
    """
    return _book(scenario, key, own, words="")


def key_book(scenario: Scenario, key: Answers) -> Book:
    """The same workbook with every answer in its cell and the words ANSWER KEY in every title."""
    return _book(scenario, key, (), words=KEY_WORDS)


def practice_book(
    scenario: Scenario,
    key: Answers,
    own: Sequence[BriefPart] = (),
    filled_in: Collection[CellRef] = (),
    examples: Sequence[Worked] = (),
) -> Book:
    """The workbook of somebody who practises alone: no word about marks, and a sheet for sums.

    own: the exercise's own brief. filled_in: cells of the asked sheets that stand there filled in; beside the
    first row of these stands how it was worked out. examples: rows of another lab, for sheet Steps; without any there is none.
    """
    task, *rules = practice_brief(scenario)
    asked = [share for share in scenario.sections if share.asked is not Asked.NO]
    return Book(
        title=f"{scenario.exercise_code} {scenario.lab_number}",
        identifier=scenario.lab_number,
        sheets=(
            _brief_sheet(scenario, (task, *own, *rules), ""),
            *_given_sheets(scenario, key, ""),
            *((_steps_sheet(scenario, examples),) if examples else ()),
            *(_section_sheet(scenario, key, share, "", filled_in=filled_in) for share in asked),
            _notes(scenario),
        ),
        defined_names=((LAB_NUMBER_NAME, f"{BRIEF_SHEET}!$B$2"),),
    )


def _steps_sheet(scenario: Scenario, examples: Sequence[Worked]) -> Sheet:
    return _sheet(scenario, STEPS_SHEET, _steps_rows(examples), _STEPS_WIDTHS, landscape=True)


def _steps_rows(examples: Sequence[Worked]) -> Iterator[Row]:
    """How a row of each sheet is worked out, with the numbers of another lab."""
    for worked in examples:
        yield Row((Cell(f"How it is done, in another lab. {worked.title}", Style.HEADING),))
        yield Row(cells_of(STEP_HEADINGS, Style.COLUMN))
        for texts in worked.lines:
            height = max(text_height(text, width) for text, width in zip(texts, _STEPS_WIDTHS, strict=True))
            yield Row(cells_of(texts, Style.STEP), height + 2)
        yield Row(height=8)


def _notes(scenario: Scenario) -> Sheet:
    """A sheet on which nothing is locked and nothing is read."""
    rows = (Row((Cell("Yours for sums: nobody looks at it.", Style.NOTE),)),)
    return _sheet(scenario, NOTES_SHEET, rows, _NOTES_WIDTHS, is_protected=False)


def _book(scenario: Scenario, key: Answers, own: Sequence[BriefPart], *, words: str) -> Book:
    """words: what every title begins with; "" for the workbook that is handed out, which holds no answers."""
    return Book(
        title=f"{words}{scenario.exercise_code} {scenario.lab_number}",
        identifier=scenario.lab_number,
        sheets=(
            _brief_sheet(scenario, (*own, *brief(scenario)), words),
            *_given_sheets(scenario, key, words),
            *(
                _section_sheet(scenario, key, share, words)
                for share in scenario.sections
                if share.asked is not Asked.NO
            ),
        ),
        defined_names=((LAB_NUMBER_NAME, f"{BRIEF_SHEET}!$B$2"),),
    )


def _brief_sheet(scenario: Scenario, parts: Sequence[BriefPart], words: str) -> Sheet:
    return _sheet(scenario, BRIEF_SHEET, _brief_rows(parts), _BRIEF_WIDTHS, words=words)


def _given_sheets(scenario: Scenario, key: Answers, words: str) -> Iterator[Sheet]:
    """What is given, and what was found on each device of a fault-finding lab."""
    for name, tables in {GIVEN_SHEET: given_tables(scenario), **found_sheets(scenario, key)}.items():
        yield _sheet(scenario, name, _given_rows(tables), _widths_of(tables), words=words, is_to_read=True)


def _widths_of(tables: Sequence[GivenTable]) -> tuple[float, ...]:
    """Columns as broad as what stands in them, so that the sheet is not printed smaller than it has to be; headings and what
    stands above the tables is bold.
    """
    broadest: dict[int, float] = {0: _in_bold(text_width(LAB_LABEL))}
    for table in tables:
        for texts in table.rows:
            for column, text in enumerate(texts):
                broadest[column] = max(broadest.get(column, 0), text_width(text))
        for column, heading in enumerate(table.headings):
            broadest[column] = max(broadest.get(column, 0), _in_bold(text_width(heading)))
    return tuple(min(width, _BROADEST) for _, width in sorted(broadest.items()))


def _sheet(
    scenario: Scenario,
    name: str,
    lines: Iterable[Row],
    widths: tuple[float, ...],
    *,
    words: str = "",
    landscape: bool = False,
    is_to_read: bool = False,
    head_rows: tuple[int, int] | None = None,
    drop_downs: tuple[DropDown, ...] = (),
    frozen_at: str = "",
    is_protected: bool = True,
) -> Sheet:
    """A sheet with the lab's identity in its first rows and on every printed page."""
    rows = (*identity_rows(scenario, name, kind=words), *lines)
    layout = Layout(
        widths=widths,
        printing=print_setup(rows, widths, landscape=landscape, is_to_read=is_to_read, head_rows=head_rows),
        drop_downs=drop_downs,
        frozen_at=frozen_at,
        is_protected=is_protected,
    )
    footer = f"{words}{scenario.exercise_code}   {scenario.lab_number}   {scenario.trainee.id}   {name}"
    return Sheet(name=name, layout=layout, rows=rows, footer=footer)


def _brief_rows(parts: Iterable[BriefPart]) -> Iterator[Row]:
    for part in parts:
        yield Row((Cell(part.title, Style.HEADING),))
        for label, text in part.lines:
            yield Row((Cell(label, Style.LABEL), Cell(text, Style.TEXT)), text_height(text, _BRIEF_WIDTHS[1]) + 2)
        yield Row(height=6)


def _given_rows(tables: Sequence[GivenTable]) -> Iterator[Row]:
    for table in tables:
        yield Row((Cell(table.title, Style.HEADING),))
        yield Row(cells_of(table.headings, Style.COLUMN))
        for texts in table.rows:
            yield Row(cells_of(texts, Style.GIVEN))
        yield Row()


def _section_sheet(
    scenario: Scenario, key: Answers, share: SectionShare, words: str, *, filled_in: Collection[CellRef] | None = None
) -> Sheet:
    """filled_in: of a sheet to practise on, which does not tell what it counts, the cells that stand there filled in."""
    section = SECTIONS[share.section]
    printed, questions = section.printed_rows(scenario), section.questions_in(scenario)
    headings = (*section.given, *(question.heading for question in questions))
    head = (f"{_counts(share) if filled_in is None else _stands(share)} {section.note}").lstrip()
    shows_answers = words or share.asked is Asked.GIVEN or filled_in
    right = shown_answers(section, scenario, key) if shows_answers else {}
    lines = list(_rows_to_fill(right, share, printed, questions, is_key=bool(words), filled_in=filled_in or ()))
    beside = () if filled_in is None or share.asked is not Asked.YES else _beside(scenario, section, filled_in)
    if beside:
        told = "\n".join(beside)
        lines[0] = Row((*lines[0].cells, Cell(told, Style.STEP)), max(17, text_height(told, _BESIDE_WIDTH) + 2))
    rows = (
        Row((Cell(head, Style.NOTE),)),
        Row(cells_of((*headings, *((_BESIDE,) if beside else ())), Style.COLUMN), height=30),
        *lines,
    )
    widths = (
        *given_widths(section, [row.given for row in printed]),
        *(_answer_widths(questions, right) if words else map(width_of, questions)),
        *((_BESIDE_WIDTH,) if beside else ()),
    )
    return _sheet(
        scenario,
        section.title,
        rows,
        widths,
        words=words,
        landscape=True,
        head_rows=(1, HEAD_ROW),
        drop_downs=tuple(_drop_downs(scenario, section, len(printed))),
        frozen_at=f"B{HEAD_ROW + 1}",
    )


def _answer_widths(questions: Iterable[Question[Any, Any]], bold: Mapping[CellRef, str]) -> Iterator[float]:
    """Of columns to fill in, broad enough for the answers that stand there in bold letters, as in the key."""
    broadest: dict[str, float] = {}
    for (question, _), text in bold.items():
        broadest[question] = max(broadest.get(question, 0), text_width(text))
    for each in questions:
        yield max(width_of(each), _in_bold(broadest.get(each.id, 0)))


def _in_bold(width: float) -> float:
    """What a text of that width takes in bold letters."""
    return round(width * _BOLD + 0.1, 1)


def _beside(scenario: Scenario, section: Section[Any], filled_in: Collection[CellRef]) -> tuple[str, ...]:
    """How what stands filled in in the first row was worked out, a line each."""
    first, printed = section.rows(scenario)[0], section.printed_rows(scenario)[0]
    return tuple(
        step.in_numbers
        for step in worked_row(scenario, section.id, first).steps
        if CellRef(step.question.id, printed.key) in filled_in
    )


def _counts(share: SectionShare) -> str:
    if share.asked is Asked.YES:
        return f"Counts {share.share} of 100."
    return _stands(share)


def _stands(share: SectionShare) -> str:
    return "Given: the right answers are printed." if share.asked is Asked.GIVEN else ""


def _rows_to_fill(
    right: Mapping[CellRef, str],
    share: SectionShare,
    printed: Iterable[PrintedRow[Any]],
    questions: Sequence[Question[Any, Any]],
    *,
    is_key: bool,
    filled_in: Collection[CellRef],
) -> Iterator[Row]:
    """The rows of a section: what is printed in them, then the cells for answers, which stand filled in where given.

    right: the answers, as far as any stand there.
    """
    is_given = share.asked is Asked.GIVEN
    style = Style.KEY if is_key else Style.GIVEN if is_given else Style.ASKED
    blank = (Cell("", style),) * len(questions)
    for row in printed:
        answers: Sequence[Cell] = blank
        if is_key or is_given:
            answers = [Cell(right.get(CellRef(each.id, row.key), ""), style) for each in questions]
        elif filled_in:
            cells = [CellRef(each.id, row.key) for each in questions]
            answers = [Cell(right[cell], Style.GIVEN) if cell in filled_in else blank[0] for cell in cells]
        yield Row((*cells_of(row.given, Style.GIVEN), *answers), height=17)


def _drop_downs(scenario: Scenario, section: Section[Any], rows: int) -> Iterator[DropDown]:
    for column, question in enumerate(section.questions_in(scenario), len(section.given) + 1):
        choices = question.choices(scenario)
        if choices and rows:
            yield DropDown(choices, f"{cell_name(HEAD_ROW + 1, column)}:{cell_name(HEAD_ROW + rows, column)}")
