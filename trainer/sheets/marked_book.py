"""The marked workbook: written fresh from what was read. Each sheet shows the answers in the cells where they were asked
for, with sign and colour, and at the end of the row what is to be said about them.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from trainer.lab.form import CellRef, RowKey, Section
from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Scenario
from trainer.marking.feedback import SIGNS, Message, Remark, messages, right_word, sign
from trainer.marking.marks import CellMark, Marked, Verdict, shown
from trainer.sheets.cells import LONGEST, put, put_row, set_up_page, set_widths, text_height
from trainer.sheets.identity import add_sheet
from trainer.sheets.placement import HEAD_ROW, MARKED_WORDS, given_widths, place, width_of
from trainer.sheets.saving import new_workbook, to_bytes

__all__ = ["write_marked_book"]

_STYLES = {
    Verdict.RIGHT: "right",
    Verdict.FOLLOWS: "right",
    Verdict.PARTLY: "partly",
    Verdict.WRONG: "wrong",
    Verdict.UNREADABLE: "wrong",
    Verdict.EXTRA: "wrong",
    Verdict.MISSING: "wrong",
    Verdict.BLANK: "neutral",
}
_SUMMARY_WIDTHS = (26, 16, 12, 70)
_SAID_WIDTH = 70
_HIGHEST_ROW = 390
"""Points; spreadsheet programs make no row much higher than 400 (common practice, no source)."""


def write_marked_book(scenario: Scenario, marked: Marked, notices: Sequence[str]) -> bytes:
    """The workbook a trainee gets back. It shows as much as the exercise lets trainees see.

    notices: what was odd about the returned file.
    """
    workbook = new_workbook(f"Marked {scenario.exercise_code} {scenario.lab_number}", scenario.lab_number)
    _write_summary(workbook, scenario, marked, notices)
    for section_id in scenario.asked:
        cells = [cell for cell in marked.cells if cell.section == section_id]
        _write_section(workbook, scenario, SECTIONS[section_id], cells)
    return to_bytes(workbook)


def _write_summary(workbook: Workbook, scenario: Scenario, marked: Marked, notices: Sequence[str]) -> None:
    sheet = add_sheet(workbook, scenario, "Summary", kind=MARKED_WORDS)
    set_widths(sheet, _SUMMARY_WIDTHS)
    put(sheet, HEAD_ROW, 1, "Section", "column")
    put_row(sheet, HEAD_ROW, ("Marks", "Out of"), "number column", column=2)
    row = HEAD_ROW
    for section in marked.sections:
        row += 1
        put(sheet, row, 1, SECTIONS[section.section].title, "given")
        put_row(sheet, row, (shown(section.marks), shown(section.out_of)), "number", column=2)
    row += 1
    put(sheet, row, 1, "Total", "column")
    put_row(sheet, row, (shown(marked.marks), shown(marked.out_of)), "number column", column=2)
    row += 2
    put(sheet, row, 1, "What the signs mean", "heading")
    for verdict in Verdict:
        row += 1
        put(sheet, row, 1, sign(verdict), _STYLES[verdict])
        put(sheet, row, 2, _MEANINGS[verdict], "plain")
    if notices:
        row += 2
        put(sheet, row, 1, "About the file", "heading")
        for notice in notices:
            row += 1
            put(sheet, row, 1, notice, "plain")
    set_up_page(sheet, f"Marked {scenario.exercise_code}   {scenario.lab_number}", landscape=False)


_MEANINGS = {
    Verdict.RIGHT: "right",
    Verdict.FOLLOWS: "right: it follows from your own earlier answers",
    Verdict.PARTLY: "partly right: a part of the marks",
    Verdict.WRONG: "wrong",
    Verdict.BLANK: "nothing written",
    Verdict.UNREADABLE: "not a value of the kind asked for",
    Verdict.EXTRA: "a row that no rule asks for; a wrong one cancels a right one",
    Verdict.MISSING: "a row that should be there",
}


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a marked sheet."""

    key: RowKey
    texts: tuple[str, ...]
    """Its printed cells."""
    style: str


def _write_section(workbook: Workbook, scenario: Scenario, section: Section, cells: Sequence[CellMark]) -> None:
    sheet = add_sheet(workbook, scenario, section.title, kind=MARKED_WORDS)
    headings = (*section.given, *(question.heading for question in section.questions), "What is to be said")
    put_row(sheet, HEAD_ROW, headings, "column")
    sheet.row_dimensions[HEAD_ROW].height = 30
    said = _said_by_row(messages(cells, scenario.reveal))
    rows = _rows(section, scenario, cells, said)
    widths = [
        *given_widths(section, [row.texts for row in rows]),
        *(width_of(question) + 3 for question in section.questions),
        _SAID_WIDTH,
    ]
    set_widths(sheet, widths)
    marks = {CellRef(cell.question, cell.row): cell for cell in cells if cell.verdict is not Verdict.MISSING}
    for place_on_sheet, row in enumerate(rows, HEAD_ROW + 1):
        put_row(sheet, place_on_sheet, row.texts, row.style)
        texts = list(row.texts)
        for column, question in enumerate(section.questions, len(section.given) + 1):
            cell = marks.get(CellRef(question.id, row.key))
            texts.append("" if cell is None else f"{SIGNS[cell.verdict]} {cell.given}".strip())
            put(sheet, place_on_sheet, column, texts[-1], "neutral" if cell is None else _STYLES[cell.verdict])
        words = _in_columns(said.get(row.key, []))
        _put_said(sheet, place_on_sheet, len(headings), words)
        heights = [text_height(text, width) for text, width in zip(texts, widths[:-1], strict=True)]
        heights += [text_height(text, _SAID_WIDTH) for text in words]
        sheet.row_dimensions[place_on_sheet].height = min(max(17, *heights), _HIGHEST_ROW)
    sheet.freeze_panes = f"B{HEAD_ROW + 1}"
    footer = f"Marked {scenario.exercise_code}   {scenario.lab_number}   {section.title}"
    set_up_page(sheet, footer, landscape=True, head_rows=(1, HEAD_ROW))


def _rows(section: Section, scenario: Scenario, cells: Sequence[CellMark], said: Iterable[RowKey]) -> list[_Row]:
    """The rows as they were printed and added, then those that should have been written and are spoken of."""
    rows = [_Row(RowKey(texts[0]), texts, "given") for texts in _labels(section, scenario, cells)]
    known = {row.key for row in rows}
    for key in said:
        if key not in known:
            verdict = _verdict_on_row([cell.verdict for cell in cells if cell.row == key])
            rest = [""] * (len(section.given) - 1)
            rows.append(_Row(key, (f"{SIGNS[verdict]} {key}", *rest), _STYLES[verdict]))
    return rows


def _verdict_on_row(verdicts: Collection[Verdict]) -> Verdict:
    """What is found of a row that was not written: that it is missing, unless no cell of it is."""
    if Verdict.MISSING in verdicts:
        return Verdict.MISSING
    return next(iter(verdicts)) if len(set(verdicts)) == 1 else Verdict.PARTLY


def _labels(section: Section, scenario: Scenario, cells: Sequence[CellMark]) -> list[tuple[str, ...]]:
    """The printed cells of each row; open rows that the trainee added stand behind the printed ones."""
    labels = list(place(section, scenario).labels)
    if section.open is not None:
        known = {texts[0] for texts in labels}
        written = dict.fromkeys(cell.row for cell in cells if cell.row.startswith(f"{section.open.label} "))
        labels += [(row,) for row in written if row not in known]
    return labels


def _in_columns(remarks_of_row: Iterable[str]) -> list[str]:
    """The remarks on a row in one cell; what would make the row too high or the text too long stands in further ones."""
    cells = [""]
    for words in remarks_of_row:
        longer = f"{cells[-1]}\n{words}".strip()
        if cells[-1] and (len(longer) > LONGEST or text_height(longer, _SAID_WIDTH) > _HIGHEST_ROW):
            cells.append(words)
        else:
            cells[-1] = longer
    return cells


def _put_said(sheet: Worksheet, row: int, column: int, cells: Sequence[str]) -> None:
    for here, words in enumerate(cells, column):
        put(sheet, row, here, words, "neutral")
        if here > column:
            put(sheet, HEAD_ROW, here, "What is to be said, continued", "column")
            sheet.column_dimensions[get_column_letter(here)].width = _SAID_WIDTH


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
            told = _words(alike) if row == first_row else _words_again(alike, message)
            words.setdefault(row, []).append(told)
            for other in dict.fromkeys(cell.row for remark in alike for cell in remark.cells if cell.row != row):
                if answers := _answers(alike, other):
                    words.setdefault(other, []).append(f"As in row {row}. {answers[0]}")
    return words


def _words_again(alike: Sequence[Remark], message: Message) -> str:
    """Remarks on a row that say what was said on another: only what differs."""
    parts = [f"{_about(alike)}: as in row {message.remarks[0].cells[0].row}."]
    parts += [f"Tried: {seen}" for seen in _each(remark.seen for remark in alike) if seen != message.seen]
    parts += [*_each(remark.followed for remark in alike), *_answers(alike, alike[0].cells[0].row)]
    return " ".join(parts)


def _words(alike: Sequence[Remark]) -> str:
    """What is said of cells of a row that have one cause."""
    first = alike[0]
    parts = [f"{_about(alike)}: {first.explanation}".rstrip()]
    if first.decision:
        parts.append(f"The instructor's decision: {first.decision}")
    if first.consequence:
        parts.append(f"What the network does: {first.consequence}")
    parts += [f"Tried: {seen}" for seen in _each(remark.seen for remark in alike)]
    parts += _each(remark.rests_on for remark in alike)
    parts += _each(remark.followed for remark in alike)
    if first.hint:
        parts.append(f"Hint: {first.hint}")
    parts += _answers(alike, first.cells[0].row)
    parts += [f"Why that: {reason}." for reason in _each(remark.derivation for remark in alike)]
    parts += _each(remark.example for remark in alike)
    return " ".join(parts)


def _about(alike: Sequence[Remark]) -> str:
    return f"{sign(alike[0].verdict)} - {', '.join(remark.questions for remark in alike)}"


def _answers(alike: Sequence[Remark], row: RowKey) -> list[str]:
    """What is right in a row, where that may be seen; of several cells with their headings."""
    cells = [pair for remark in alike for pair in zip(remark.cells, remark.answers, strict=True) if pair[0].row == row]
    told = [(cell, f"{_heading(cell)} {answer}" if len(cells) > 1 else answer) for cell, answer in cells if answer]
    by_word: dict[str, list[str]] = {}
    for cell, answer in told:
        by_word.setdefault(right_word(cell), []).append(answer)
    return (
        [". ".join(f"{word.capitalize()}: {', '.join(answers)}" for word, answers in by_word.items())] if told else []
    )


def _heading(cell: CellMark) -> str:
    return SECTIONS[cell.section].question(cell.question).heading


def _each(texts: Iterable[str]) -> list[str]:
    """Each text once, in order, without empty ones."""
    return [text for text in dict.fromkeys(texts) if text]
