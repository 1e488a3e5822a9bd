"""The marked workbook: written fresh from what was read. Each sheet shows the answers in the cells where they were asked
for, with sign and colour, and at the end of the row what is to be said about them.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trainer.lab.form import CellRef, Question, RowKey, Section
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Reveal, Scenario
from trainer.lab.works import IN_NETWORK, NOT_ENOUGH, PASS_MARK, ToPass
from trainer.listing import how_many
from trainer.marking.feedback import BY_HAND, SIGNS, Message, Remark, answers_in, messages, sign, together
from trainer.marking.marks import CellMark, Marked, Verdict, in_tenths
from trainer.marking.said import EVERY_LABEL, IN_A_LINE, Label, in_words
from trainer.sheets.book import Book, Cell, Layout, Row, Sheet, Style, cells_of
from trainer.sheets.cells import LONGEST, text_height
from trainer.sheets.identity import identity_rows
from trainer.sheets.paging import print_setup, room_beside
from trainer.sheets.placement import HEAD_ROW, MARKED_WORDS, given_widths, printed_labels, width_of
from trainer.sheets.saving import to_bytes

__all__ = ["marked_book", "write_marked_book"]

_STYLES = {
    Verdict.RIGHT: Style.RIGHT,
    Verdict.FOLLOWS: Style.RIGHT,
    Verdict.PARTLY: Style.PARTLY,
    Verdict.AGAIN: Style.PARTLY,
    Verdict.WRONG: Style.WRONG,
    Verdict.UNREADABLE: Style.WRONG,
    Verdict.EXTRA: Style.WRONG,
    Verdict.MISSING: Style.WRONG,
    Verdict.STRUCK: Style.NEUTRAL,
    Verdict.BLANK: Style.NEUTRAL,
}
_SUMMARY_WIDTHS = (26, 16, 12, 46)
_SAID_WIDTH, _LEAST_SAID = 60, 26
"""Of column Comment: as broad as the page has room for beside the answers, within these; where there is less, it has a page."""
_NO_ROOM_FOR = EVERY_LABEL - IN_A_LINE - {Label.RIGHT, Label.RIGHT_BY_PLAN}
"""What is said on the feedback page alone: here each remark is a line."""
_TOLD_AGAIN = frozenset({Label.RIGHT, Label.RIGHT_BY_PLAN})
"""What is told on each row, where the rest stands on another."""
_MOST_HEADINGS = 4
"""So many blank cells of a row are named; more are counted."""
_HIGHEST_ROW = 390
"""Points; spreadsheet programs make no row much higher than 400 (common practice, no source)."""


def write_marked_book(
    scenario: Scenario, marked: Marked, notices: Sequence[str], *, reveal: Reveal, to_pass: ToPass | None = None
) -> bytes:
    """The file of marked_book."""
    return to_bytes(marked_book(scenario, marked, notices, reveal=reveal, to_pass=to_pass))


def marked_book(
    scenario: Scenario, marked: Marked, notices: Sequence[str], *, reveal: Reveal, to_pass: ToPass | None = None
) -> Book:
    """The workbook a trainee gets back.

    notices: what was odd about the returned file; reveal: how much may be seen; to_pass: what a pass takes.
    """
    sheets = [_summary_sheet(scenario, marked, notices, to_pass)]
    for section_id in scenario.asked:
        cells = [cell for cell in marked.cells if cell.section == section_id]
        said = _said_by_row(messages(cells, reveal, _NO_ROOM_FOR))
        sheets.append(_section_sheet(scenario, SECTIONS[section_id], cells, said))
    title = f"Marked {scenario.exercise_code} {scenario.lab_number}"
    return Book(title=title, identifier=scenario.lab_number, sheets=tuple(sheets))


def _summary_sheet(scenario: Scenario, marked: Marked, notices: Sequence[str], to_pass: ToPass | None) -> Sheet:
    rows = (
        *identity_rows(scenario, "Summary", kind=MARKED_WORDS),
        *_works_rows(marked, to_pass),
        Row(),
        Row((Cell("Sheet", Style.COLUMN), *cells_of(("Marks", "Out of"), Style.NUMBER_COLUMN))),
        *_marks_rows(marked),
        Row(),
        Row((Cell("What the signs mean", Style.HEADING),)),
        *(Row((Cell(sign(each), _STYLES[each]), Cell(_MEANINGS[each], Style.PLAIN))) for each in Verdict),
        *_notice_rows(notices),
    )
    layout = Layout(widths=_SUMMARY_WIDTHS, printing=print_setup(rows, _SUMMARY_WIDTHS, landscape=False))
    footer = f"Marked {scenario.exercise_code}   {scenario.lab_number}"
    return Sheet(name="Summary", layout=layout, rows=rows, footer=footer)


def _works_rows(marked: Marked, to_pass: ToPass | None) -> Iterator[Row]:
    """The pass mark, what works in the trainee's own network, and what it lacks for a pass."""
    if to_pass is not None and (told := to_pass.told(marked.marks, marked.out_of)):
        yield Row((Cell(PASS_MARK, Style.HEADING), Cell(told, Style.PLAIN)))
    if marked.works is not None:
        yield Row((Cell(IN_NETWORK, Style.HEADING), Cell(marked.works.line, Style.PLAIN)))
    if to_pass is not None and (missing := to_pass.missing(marked.works, marked.marks, marked.out_of)):
        yield Row((Cell(NOT_ENOUGH, Style.HEADING), Cell(missing, Style.PLAIN)))


def _marks_rows(marked: Marked) -> Iterator[Row]:
    for section in marked.sections:
        figures = cells_of((in_tenths(section.marks), in_tenths(section.out_of)), Style.NUMBER)
        yield Row((Cell(SECTIONS[section.section].title, Style.GIVEN), *figures))
    for each in marked.by_hand:
        figures = cells_of((in_tenths(each.marks), in_tenths(each.out_of)), Style.NUMBER)
        told = f"{BY_HAND}. {each.comment}".strip()
        height = max(text_height(told, _SUMMARY_WIDTHS[3]), text_height(each.part, _SUMMARY_WIDTHS[0]))
        yield Row((Cell(each.part, Style.GIVEN), *figures, Cell(told, Style.TEXT)), height=height + 2)
    figures = cells_of((in_tenths(marked.marks), in_tenths(marked.out_of)), Style.NUMBER_COLUMN)
    yield Row((Cell("Total", Style.COLUMN), *figures))


def _notice_rows(notices: Sequence[str]) -> Iterator[Row]:
    if notices:
        yield Row()
        yield Row((Cell("About the file", Style.HEADING),))
        for notice in notices:
            yield Row((Cell(notice, Style.PLAIN),))


_MEANINGS = {
    Verdict.RIGHT: "right",
    Verdict.FOLLOWS: "right: it follows from your own earlier answers",
    Verdict.PARTLY: "partly right: a part of the marks",
    Verdict.AGAIN: "the same slip of form as in another cell of the sheet, where it is charged",
    Verdict.WRONG: "wrong",
    Verdict.BLANK: "nothing written",
    Verdict.UNREADABLE: "not a value of the kind asked for",
    Verdict.EXTRA: "a row that no rule asks for; a wrong one cancels a right one",
    Verdict.MISSING: "a row that should be there",
    Verdict.STRUCK: "struck out by the instructor, for everybody",
}


@dataclass(frozen=True, slots=True)
class _Label:
    """What a row of a marked sheet is about."""

    key: RowKey
    texts: tuple[str, ...]
    """Its printed cells."""
    style: Style


def _section_sheet(
    scenario: Scenario, section: Section[Any], cells: Sequence[CellMark], said: Mapping[RowKey, Sequence[str]]
) -> Sheet:
    """said: the remarks on each row that something is said of."""
    questions = section.questions_in(scenario)
    longest: dict[str, int] = {}
    for cell in cells:
        longest[cell.question] = max(longest.get(cell.question, 0), len(cell.given))
    labels = _labels(section, scenario, cells, said)
    answers = (
        *given_widths(section, [label.texts for label in labels]),
        *(_width(question, longest.get(question.id, 0)) for question in questions),
    )
    beside = int(room_beside(answers))
    room = min(beside, _SAID_WIDTH) if beside >= _LEAST_SAID else _SAID_WIDTH
    remarks = [_in_columns(said.get(label.key, []), room) for label in labels]
    further = max(map(len, remarks), default=1) - 1
    widths = (*answers, *[room] * (1 + further))
    headings = _headings(section, questions, further)
    high = max(map(text_height, headings, widths))
    marks = {CellRef(cell.question, cell.row): cell for cell in cells if cell.verdict is not Verdict.MISSING}
    rows = (
        *identity_rows(scenario, section.title, kind=MARKED_WORDS),
        Row(),
        Row(cells_of(headings, Style.COLUMN), height=max(30, high + 2)),
        *(
            _marked_row(questions, label, marks, said_of_it, widths)
            for label, said_of_it in zip(labels, remarks, strict=True)
        ),
    )
    printing = print_setup(rows, widths, landscape=True, head_rows=(1, HEAD_ROW), may_be_two_wide=True)
    layout = Layout(widths=widths, printing=printing, frozen_at=f"B{HEAD_ROW + 1}")
    footer = f"Marked {scenario.exercise_code}   {scenario.lab_number}   {section.title}"
    return Sheet(name=section.title, layout=layout, rows=rows, footer=footer)


def _width(question: Question[Any, Any], written: int) -> int:
    """Wide enough for the words of the heading and for what was written with its sign, up to what the form has room for.

    written: characters of the longest answer.
    """
    words = max(len(word) for word in question.heading.split())
    return min(max(words + 4, written + 6), width_of(question) + 3)


def _headings(section: Section[Any], questions: Sequence[Question[Any, Any]], further: int) -> tuple[str, ...]:
    """further: columns that the remarks take beside their first."""
    said = ("Comment", *["Comment, continued"] * further)
    return (*section.given, *(question.heading for question in questions), *said)


def _marked_row(
    questions: Sequence[Question[Any, Any]],
    label: _Label,
    marks: Mapping[CellRef, CellMark],
    remarks: Sequence[str],
    widths: Sequence[float],
) -> Row:
    """A row as high as its highest text. marks: of all cells in which something could be written."""
    cells = cells_of(label.texts, label.style)
    for question in questions:
        mark = marks.get(CellRef(question.id, label.key))
        if mark is None:
            cells += (Cell("", Style.NEUTRAL),)
        else:
            cells += (Cell(f"{SIGNS[mark.verdict]} {mark.given}".strip(), _STYLES[mark.verdict]),)
    cells += cells_of(remarks, Style.NEUTRAL)
    heights = (text_height(str(cell.value), width) for cell, width in zip(cells, widths, strict=False))
    return Row(cells, height=min(max(17, *heights), _HIGHEST_ROW))


def _labels(
    section: Section[Any], scenario: Scenario, cells: Sequence[CellMark], said: Iterable[RowKey]
) -> list[_Label]:
    """The rows as they were printed and added, then those that should have been written and are spoken of."""
    rows = [_Label(RowKey(texts[0]), texts, Style.GIVEN) for texts in _printed(section, scenario, cells)]
    known = {row.key for row in rows}
    for key in said:
        if key not in known:
            verdict = _verdict_on_row([cell.verdict for cell in cells if cell.row == key] or [Verdict.MISSING])
            rest = [""] * (len(section.given) - 1)
            rows.append(_Label(key, (f"{SIGNS[verdict]} {key}", *rest), _STYLES[verdict]))
    return rows


def _verdict_on_row(verdicts: Collection[Verdict]) -> Verdict:
    """What is found of a row that was not written: that it is missing, unless no cell of it is."""
    if Verdict.MISSING in verdicts:
        return Verdict.MISSING
    return next(iter(verdicts)) if len(set(verdicts)) == 1 else Verdict.PARTLY


def _printed(section: Section[Any], scenario: Scenario, cells: Sequence[CellMark]) -> list[tuple[str, ...]]:
    """The printed cells of each row; open rows that the trainee added stand behind the printed ones."""
    labels = list(printed_labels(section, scenario))
    if section.open is not None:
        known = {texts[0] for texts in labels}
        written = dict.fromkeys(cell.row for cell in cells if section.open.called(cell.row))
        labels += [(str(row),) for row in written if row not in known]
    return labels


def _in_columns(remarks_of_row: Iterable[str], width: int) -> list[str]:
    """The remarks on a row in one cell; what would make the row too high or the text too long stands in further ones."""
    cells = [""]
    for words in remarks_of_row:
        longer = f"{cells[-1]}\n{words}".strip()
        if cells[-1] and (len(longer) > LONGEST or text_height(longer, width) > _HIGHEST_ROW):
            cells.append(words)
        else:
            cells[-1] = longer
    return cells


def _said_by_row(said: Iterable[Message]) -> dict[RowKey, list[str]]:
    """The words on each row; blank cells that are spoken of together stand with the first of them.

    What is true of several cells of a row is said once; of several rows in full on the first, to which the others refer.
    """
    words: dict[RowKey, list[str]] = {}
    for message in said:
        first_row = message.remarks[0].cells[0].row
        of_rows: dict[RowKey, list[Remark]] = {}
        for remark in message.remarks:
            of_rows.setdefault(remark.cells[0].row, []).append(remark)
        for row, alike in of_rows.items():
            told = _words(alike, row) if row == first_row else _words_again(alike, row, message)
            words.setdefault(row, []).append(told)
            for other in dict.fromkeys(cell.row for remark in alike for cell in remark.cells if cell.row != row):
                if answers := answers_in(alike, other):
                    words.setdefault(other, []).append(f"As in row {row}. {in_words(answers)}")
    return words


def _words(alike: Sequence[Remark], row: RowKey) -> str:
    """What is said of cells of a row that have one cause."""
    return f"{_about(alike, row)}: {in_words(together(alike, row))}".rstrip()


def _words_again(alike: Sequence[Remark], row: RowKey, message: Message) -> str:
    """Remarks on a row that say what was said on another: only what differs."""
    parts = (part for part in together(alike, row) if part.label in _TOLD_AGAIN and part not in message.parts)
    return f"{_about(alike, row)}: as in row {message.remarks[0].cells[0].row}. {in_words(parts)}".rstrip()


def _about(alike: Sequence[Remark], row: RowKey) -> str:
    """The cells in this row; remarks on blank ones are about several rows at once."""
    if alike[0].verdict is not Verdict.BLANK:
        return f"{sign(alike[0].verdict)} - {', '.join(remark.questions for remark in alike)}"
    here = [cell.question for remark in alike for cell in remark.cells if cell.row == row]
    section = SECTIONS[alike[0].cells[0].section]
    headings = [section.question(each).heading for each in dict.fromkeys(here)]
    told = ", ".join(headings) if len(headings) <= _MOST_HEADINGS else how_many(len(headings), "cell")
    return f"{sign(Verdict.BLANK)} - {told}"
