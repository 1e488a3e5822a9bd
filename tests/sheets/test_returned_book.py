"""Finding answers in what comes back: by sheet name, heading and label, whatever was moved; and through an office program."""

import html
import io
import re
import shutil
import subprocess
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from drawn_labs import bakery, draw, exercise_of
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.worksheet.worksheet import Worksheet

from trainer.commands.demo_class import key_texts
from trainer.lab.answers import read_answers
from trainer.lab.form import CellRef, RowKey
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.rows import VlanRow, WrittenRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Scenario, Trainee
from trainer.sheets.answer_book import write_answer_book, write_key_book
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.paper import lab_numbers_in
from trainer.sheets.placement import HEAD_ROW, cell_places, printed_labels
from trainer.sheets.returned_book import ReturnedForm, read_form

LAB = replace(
    bakery(),
    lab_number="BUN-TEST",
    trainee=Trainee(id="b01", name="Zoë Ankersø"),
    sections=exercise_of(HARBOUR).sections,
)
KEY = derive_key(LAB)
HANDED_OUT = write_answer_book(LAB, KEY)
KEY_BOOK = write_key_book(LAB, KEY)
KEY_TEXTS = {cell: text for cell, text in key_texts(LAB).items() if text}
Change = Callable[[openpyxl.Workbook], None]


def form_of(data: bytes, lab: Scenario = LAB) -> ReturnedForm:
    return read_form(read_book(data), lab)


def texts_of(form: ReturnedForm) -> dict[CellRef, str]:
    return {cell: typed.text for cell, typed in form.filled.texts.items()}


def changed(change: Change, data: bytes = KEY_BOOK) -> ReturnedForm:
    """What is read after somebody has changed the filled workbook."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    change(book)
    stream = io.BytesIO()
    book.save(stream)
    return form_of(stream.getvalue())


def without(*sections: str, question: str = "", row: str = "") -> dict[CellRef, str]:
    """The texts of the key but those of some sections, of a question or of a row."""
    return {
        cell: text
        for cell, text in KEY_TEXTS.items()
        if cell.question.split(".")[0] not in sections
        and cell.question != question
        and (not row or cell.row != row or not cell.question.startswith("subnets."))
    }


# --- Written and read -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("lab", [LAB, *draw(exercise_of(HARBOUR), 3)], ids=lambda lab: lab.lab_number)
def test_a_key_written_and_read_back_gives_every_value(lab: Scenario):
    key = derive_key(lab)
    form = form_of(write_key_book(lab, key), lab)
    assert form.notices == ()
    assert texts_of(form) == key_texts(lab)
    read = read_answers(form.filled)
    assert read.unreadable == {}
    for section in FORM:
        written = [row.key for row in section.rows(lab)]
        found = written if section.open is None else list(read.answers.rows[section.id])
        for row_of_key, row in zip(written, found, strict=True):
            for question in section.questions_in(lab):
                assert read.answers.get(question, row) == key.values[CellRef(question.id, row_of_key)]


def test_an_untouched_workbook_holds_nothing():
    form = form_of(HANDED_OUT)
    assert form.notices == ()
    read = read_answers(form.filled)
    assert (read.texts, read.unreadable, dict(read.answers.values)) == ({}, {}, {})
    assert set(read.answers.rows.values()) == {()}


def test_every_cell_that_is_found_is_told_with_its_place():
    form = form_of(HANDED_OUT)
    for section in FORM:
        for cell, (row, column) in cell_places(section, LAB).items():
            assert form.where[cell] == (section.title, f"{chr(64 + column)}{row}")


def test_only_sections_that_are_asked_are_read():
    sections = tuple(
        replace(share, asked=Asked.GIVEN if share.section == "subnets" else share.asked) for share in LAB.sections
    )
    lab = replace(LAB, sections=sections)
    form = form_of(write_answer_book(lab, KEY), lab)
    assert not [cell for cell in form.where if cell.question.startswith("subnets.")]
    assert form.filled.texts == {}


TYPED = st.text(alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\ufffe\uffff"), max_size=30)


@settings(max_examples=30)
@given(st.dictionaries(st.sampled_from(sorted(KEY_TEXTS, key=str)), TYPED, max_size=20))
def test_any_text_typed_into_any_cells_is_read_or_called_unreadable(texts: Mapping[CellRef, str]):
    form = form_of(fill_in(HANDED_OUT, LAB, texts))
    read = read_answers(form.filled)
    assert set(read.texts) <= set(texts)
    assert set(read.answers.values) | set(read.unreadable) == set(read.texts)


# --- The lab number ---------------------------------------------------------------------------------------------------


def numbers_after(change: Change) -> tuple[str, ...]:
    book = openpyxl.load_workbook(io.BytesIO(HANDED_OUT))
    change(book)
    stream = io.BytesIO()
    book.save(stream)
    return lab_numbers_in(read_book(stream.getvalue()))


def test_the_lab_number_is_found_once():
    assert lab_numbers_in(read_book(HANDED_OUT)) == ("BUN-TEST",)


def test_the_lab_number_is_found_on_any_sheet_that_is_left():
    def keep_one(book: openpyxl.Workbook) -> None:
        for title in book.sheetnames:
            if title != "Routes":
                del book[title]
        book.properties.identifier = None
        book["Routes"].move_range("A2:B3", rows=30, cols=4)

    assert numbers_after(keep_one) == ("BUN-TEST",)


@pytest.mark.parametrize("typed", ["bun-test", " BUN-TEST ", "BUN\u2013TEST", "ＢＵＮ-TEST"])
def test_a_lab_number_that_was_typed_again_is_read_generously(typed: str):
    def retype(book: openpyxl.Workbook) -> None:
        for sheet in book.worksheets:
            sheet["B2"] = typed
        book.properties.identifier = None

    assert numbers_after(retype) == ("BUN-TEST",)


def test_the_file_property_is_the_spare_lab_number():
    def wipe(book: openpyxl.Workbook) -> None:
        for sheet in book.worksheets:
            sheet["B2"] = None

    assert numbers_after(wipe) == ("BUN-TEST",)


def test_sheets_of_two_labs_show_both_numbers():
    def mix(book: openpyxl.Workbook) -> None:
        book["Ports"]["B2"] = "ABC-2345"

    assert numbers_after(mix) == ("BUN-TEST", "ABC-2345")


def test_error_a_workbook_without_any_lab_number_has_none():
    def wipe(book: openpyxl.Workbook) -> None:
        for sheet in book.worksheets:
            sheet["B2"] = "?"
        book.properties.identifier = None

    assert numbers_after(wipe) == ()


# --- Moved, and found all the same ------------------------------------------------------------------------------------


def swap_columns(book: openpyxl.Workbook) -> None:
    sheet = book["Subnets"]
    for row in range(HEAD_ROW, sheet.max_row + 1):
        first, last = sheet.cell(row, 4), sheet.cell(row, 9)
        first.value, last.value = last.value, first.value


def label_to_the_right(book: openpyxl.Workbook) -> None:
    sheet = book["Links"]
    for row in range(HEAD_ROW, sheet.max_row + 1):
        sheet.cell(row, 9).value, sheet.cell(row, 1).value = sheet.cell(row, 1).value, None


def turn_rows(book: openpyxl.Workbook) -> None:
    for title in ("Subnets", "Ports", "Protection"):
        _turn(book[title])


def _turn(sheet: Worksheet) -> None:
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=HEAD_ROW + 1)]
    for row, values in zip(sheet.iter_rows(min_row=HEAD_ROW + 1), reversed(rows), strict=True):
        for cell, value in zip(row, values, strict=True):
            cell.value = value


def shout_headings(book: openpyxl.Workbook) -> None:
    for section in FORM:
        for cell in book[section.title][HEAD_ROW]:
            cell.value = f" {str(cell.value).upper()}\u00a0"


def rename_sheets(book: openpyxl.Workbook) -> None:
    for number, section in enumerate(FORM):
        sheet = book[section.title]
        sheet.title = "x"
        sheet.title = section.title.upper() if number % 2 else f" {section.title.lower()} "


def insert_rows(book: openpyxl.Workbook) -> None:
    for section in FORM:
        sheet = book[section.title]
        sheet.insert_rows(HEAD_ROW + 2)
        sheet.insert_rows(1, 3)
        sheet.insert_cols(1)
        sheet["A1"] = "my notes"


def sort_sheets(book: openpyxl.Workbook) -> None:
    book._sheets.sort(key=lambda sheet: sheet.title)


def add_words(book: openpyxl.Workbook) -> None:
    sheet = book["Subnets"]
    sheet.cell(sheet.max_row + 3, 1, "Is this right?")
    sheet.cell(sheet.max_row + 1, 4, "10.9.9.9")
    book.create_sheet("Scratch")["A1"] = "10.9.9.9"


def unprotect(book: openpyxl.Workbook) -> None:
    for sheet in book.worksheets:
        sheet.protection.disable()
        sheet.data_validations.dataValidation.clear()
        for row in sheet.iter_rows():
            for cell in row:
                cell.style = "Normal"
    del book.defined_names["lab_number"]


@pytest.mark.parametrize(
    "change",
    [
        *(swap_columns, label_to_the_right, turn_rows, shout_headings, rename_sheets, insert_rows, sort_sheets),
        *(add_words, unprotect),
    ],
    ids=lambda change: change.__name__,
)
def test_what_was_moved_is_found_without_a_word(change: Change):
    form = changed(change)
    assert texts_of(form) == KEY_TEXTS
    assert form.notices == ()


def test_places_are_those_in_the_returned_file():
    form = changed(insert_rows)
    assert form.where[CellRef("subnets.network", VlanRow(10))] == ("Subnets", "E9")
    assert form.where[CellRef("subnets.network", VlanRow(20))] == ("Subnets", "E11")


def test_a_renamed_sheet_is_called_by_its_own_name():
    form = changed(rename_sheets)
    assert form.where[CellRef("subnets.network", VlanRow(10))][0] == " subnets "


# --- Lost or added, and said ------------------------------------------------------------------------------------------


def test_a_missing_sheet_counts_as_not_answered_and_is_said():
    def drop(book: openpyxl.Workbook) -> None:
        del book["Routes"]

    form = changed(drop)
    assert form.notices == (
        "There is no sheet Routes; it counts as not answered. If its answers stand on another sheet, call that one Routes.",
    )
    assert texts_of(form) == without("routes")


def test_what_holds_for_several_sheets_is_said_once():
    def change(book: openpyxl.Workbook) -> None:
        del book["Routes"], book["Relays"]
        book["Subnets"].title, book["Pools"].title = "My plan", "My pools"

    assert changed(change).notices == (
        "There is no sheet Routes or Relays; they count as not answered. If their answers stand on other sheets, give "
        "those these names.",
        "There is no sheet Subnets or Pools; sheets with the same headings are graded in their place: 'My plan' as Subnets, "
        "'My pools' as Pools.",
    )


def test_a_deleted_label_counts_as_not_answered_and_is_said():
    def wipe(book: openpyxl.Workbook) -> None:
        book["Subnets"].cell(HEAD_ROW + 2, 1).value = None

    form = changed(wipe)
    assert form.notices == (
        "Subnets: no row is labelled 20; counts as not answered. Write the label into column A, beside its answers.",
    )
    assert texts_of(form) == without(row="20")


def test_several_deleted_rows_are_said_in_one_notice():
    def drop(book: openpyxl.Workbook) -> None:
        book["Subnets"].delete_rows(HEAD_ROW + 1, 2)

    assert changed(drop).notices == (
        "Subnets: no row is labelled 10, 20; counts as not answered. Write the label into column A, beside its answers.",
    )


def test_a_missing_column_counts_as_not_answered_and_is_said():
    def drop(book: openpyxl.Workbook) -> None:
        book["Subnets"].delete_cols(9)

    form = changed(drop)
    assert form.notices == (
        "Subnets: no column is headed Gateway; counts as not answered. Write the heading into row 5, above its answers.",
    )
    assert texts_of(form) == without(question="subnets.gateway")


NO_LABELS = (
    "Subnets: no column is headed 'VLAN'; it is not graded. Write the heading into row 5, above the labels of the rows."
)


def test_a_sheet_without_its_labels_is_not_graded_and_is_said():
    def drop(book: openpyxl.Workbook) -> None:
        book["Subnets"].delete_cols(1)

    form = changed(drop)
    assert form.notices[-1] == NO_LABELS
    assert texts_of(form) == without("subnets")


def test_a_sheet_without_its_labels_is_said_once():
    def drop(book: openpyxl.Workbook) -> None:
        book["Subnets"].delete_cols(1)

    assert changed(drop).notices == (NO_LABELS,)


def test_a_sheet_without_its_headings_is_not_graded_and_is_said():
    def drop(book: openpyxl.Workbook) -> None:
        book["Protection"].delete_rows(HEAD_ROW)

    form = changed(drop)
    assert form.notices == (
        "Protection: the row with the headings was not found; the sheet is not graded. Write the headings back above the "
        "answers: Switch, Snooped VLANs, Trusted ports, Guarded ports.",
    )
    assert texts_of(form) == without("protection")


def test_of_two_rows_with_one_label_the_first_counts_and_it_is_said():
    def double(book: openpyxl.Workbook) -> None:
        sheet = book["Subnets"]
        row = sheet.max_row + 1
        sheet.cell(row, 1, "20")
        sheet.cell(row, 4, "10.9.9.9")

    form = changed(double)
    assert form.notices == (
        "Subnets: A7 and A11 are both labelled '20', with different answers; A7 counts. Mend the label that is wrong, or "
        "delete the row that does not count.",
    )
    assert texts_of(form) == KEY_TEXTS


def test_an_open_row_that_was_added_is_read():
    def add(book: openpyxl.Workbook) -> None:
        sheet = book["Routes"]
        for column, text in enumerate(("Route 11", "A", "10.9.9.0", "/24", "10.20.2.242"), 1):
            sheet.cell(sheet.max_row + (column == 1), column, text)

    form = changed(add)
    assert form.notices == ()
    assert texts_of(form)[CellRef("routes.destination", WrittenRow("Route", 11))] == "10.9.9.0"
    assert form.filled.rows["routes"][-1] == "Route 11"


def add_row(label: str) -> Change:
    def add(book: openpyxl.Workbook) -> None:
        sheet = book["Routes"]
        row = sheet.max_row + 1
        sheet.cell(row, 1, label)
        sheet.cell(row, 3, "10.9.9.0")

    return add


@pytest.mark.parametrize("label", ["my route", "Route", "Route x", "Route 123456", "Relay 3", "11"])
def test_a_row_without_a_label_of_the_section_is_no_answer(label: str):
    assert texts_of(changed(add_row(label))) == KEY_TEXTS


def test_an_open_row_may_lose_its_case():
    def lower(book: openpyxl.Workbook) -> None:
        for (cell,) in book["Routes"].iter_rows(min_row=HEAD_ROW + 1, max_col=1):
            cell.value = str(cell.value).lower()

    assert texts_of(changed(lower)) == KEY_TEXTS


@pytest.mark.parametrize("label", ["route 11", "ROUTE 11", "Route 011"])
def test_the_label_of_an_added_row_is_written_as_ours_are(label: str):
    assert CellRef("routes.destination", WrittenRow("Route", 11)) in texts_of(changed(add_row(label)))


def test_open_rows_that_are_left_blank_are_no_rows():
    form = form_of(fill_in(HANDED_OUT, LAB, {CellRef("routes.switch", WrittenRow("Route", 4)): "A"}))
    assert read_answers(form.filled).answers.rows["routes"] == ("Route 4",)


# --- Twice, and said which counts -------------------------------------------------------------------------------------


def copy_sheet(book: openpyxl.Workbook, name: str = "Subnets", title: str = "Subnets (2)") -> Worksheet:
    sheet = book.copy_worksheet(book[name])
    sheet.title = title
    return sheet


def clear(sheet: Worksheet) -> None:
    """Takes the answers off the sheet of section Subnets."""
    for row in sheet.iter_rows(min_row=HEAD_ROW + 1, min_col=4):
        for cell in row:
            cell.value = None


def test_a_sheet_with_a_name_of_its_own_is_found_by_its_headings_and_said():
    def rename(book: openpyxl.Workbook) -> None:
        book["Subnets"].title = "My plan"

    form = changed(rename)
    assert texts_of(form) == KEY_TEXTS
    assert form.notices == ("There is no sheet Subnets; 'My plan' has its headings and is graded in its place.",)
    assert form.where[GATEWAY] == ("My plan", "I6")


@pytest.mark.parametrize("is_blank", [True, False])
def test_a_copy_that_is_blank_or_the_same_is_no_matter(is_blank: bool):
    def copy(book: openpyxl.Workbook) -> None:
        sheet = copy_sheet(book)
        if is_blank:
            clear(sheet)

    form = changed(copy)
    assert (texts_of(form), form.notices) == (KEY_TEXTS, ())


def test_the_copy_is_read_where_the_sheet_itself_is_blank():
    def fill_the_copy(book: openpyxl.Workbook) -> None:
        copy_sheet(book)
        clear(book["Subnets"])

    form = changed(fill_the_copy)
    assert texts_of(form) == KEY_TEXTS
    assert form.notices == ("Sheet Subnets is blank; 'Subnets (2)' has its headings and is graded in its place.",)


def test_of_two_sheets_with_other_answers_the_one_with_the_name_counts_and_it_is_said():
    def differ(book: openpyxl.Workbook) -> None:
        copy_sheet(book)["E7"] = "31"

    form = changed(differ)
    assert texts_of(form) == KEY_TEXTS
    assert form.notices == (
        "Sheets 'Subnets' and 'Subnets (2)' hold different answers, first in Subnets!E7 and Subnets (2)!E7; 'Subnets' counts. "
        "If the other is meant, delete 'Subnets' and call the other Subnets.",
    )


def test_of_two_sheets_without_the_name_none_counts_and_it_is_said():
    def differ(book: openpyxl.Workbook) -> None:
        copy_sheet(book)["E7"] = "31"
        book["Subnets"].title = "Old"

    form = changed(differ)
    assert texts_of(form) == without("subnets")
    assert form.notices == (
        "There is no sheet Subnets; 'Old' and 'Subnets (2)' both have its headings and hold different answers, first in "
        "Old!E7 and Subnets (2)!E7, so neither counts. Call the right one Subnets.",
    )


def head_twice(book: openpyxl.Workbook, text: str) -> None:
    sheet = book["Subnets"]
    sheet.cell(HEAD_ROW, 12, "gateway")
    sheet.cell(HEAD_ROW + 1, 12, text)


def test_of_two_columns_with_one_heading_the_first_counts_and_it_is_said():
    form = changed(lambda book: head_twice(book, "10.9.9.9"))
    assert texts_of(form) == KEY_TEXTS
    assert form.notices == (
        "Subnets: I5 and L5 are both headed 'Gateway', with different answers below; I5 counts. Delete the other heading, or "
        "this one if the other is meant.",
    )


def test_of_two_columns_with_one_heading_the_one_with_answers_is_read():
    form = changed(lambda book: head_twice(book, "10.9.9.9"), HANDED_OUT)
    assert (texts_of(form), form.notices) == ({GATEWAY: "10.9.9.9"}, ())
    assert form.where[GATEWAY] == ("Subnets", "L6")


def test_a_note_under_the_labels_heading_does_not_take_the_labels_place():
    def note(book: openpyxl.Workbook) -> None:
        sheet = book["Subnets"]
        sheet.insert_cols(1)
        sheet.cell(HEAD_ROW, 1, "VLAN")
        sheet.cell(HEAD_ROW + 1, 1, "check this one")

    form = changed(note)
    assert (texts_of(form), form.notices) == (KEY_TEXTS, ())


def test_of_two_rows_with_one_label_the_one_with_answers_is_read():
    def double(book: openpyxl.Workbook) -> None:
        sheet = book["Subnets"]
        sheet.insert_rows(HEAD_ROW + 1)
        sheet.cell(HEAD_ROW + 1, 1, "20")

    form = changed(double)
    assert (texts_of(form), form.notices) == (KEY_TEXTS, ())


def test_rows_past_the_limit_are_not_read_and_it_is_said():
    def add(book: openpyxl.Workbook) -> None:
        for number in range(100, 1100):
            book["Routes"].append([f"Route {number}", "A", "10.9.9.0", "/24", "10.20.2.242"])

    form = changed(add)
    rows = len(form.filled.rows["routes"])
    assert rows == 60 + 2 * len(printed_labels(SECTIONS["routes"], LAB))
    assert form.notices == (
        f"Routes: more than {rows} rows are filled in; those from A{rows + HEAD_ROW + 1} on are not read. Delete what is not "
        "needed.",
    )


def test_error_a_text_far_longer_than_an_answer_is_not_looked_at_further():
    read = read_answers(with_value(GATEWAY, "1" * 2001, "@").filled)
    assert dict(read.unreadable) == {GATEWAY: "The cell holds far more text than an answer has. Type the answer alone."}
    assert len(read.texts[GATEWAY]) == 200


# --- What a spreadsheet program makes of what was typed ---------------------------------------------------------------

GATEWAY = CellRef("subnets.gateway", VlanRow(10))
PREFIX = CellRef("subnets.prefix", VlanRow(10))
VALUES: list[tuple[CellRef, object, str, object]] = [
    (PREFIX, 28, "General", 28),
    (PREFIX, 28.0, "General", 28),
    (PREFIX, "'28", "@", 28),
    (PREFIX, "\u00a0/28 ", "@", 28),
    (GATEWAY, "10.20.2.225", "General", "10.20.2.225"),
    (GATEWAY, "10.20.2.225_x000D_", "@", "10.20.2.225"),
]
TROUBLES: list[tuple[object, str, str]] = [
    (46_046, "dd/mm/yyyy", "The spreadsheet program turned what you typed into a date."),
    (0.0071875, "hh:mm:ss", "The spreadsheet program turned what you typed into a time."),
    (True, "General", "The spreadsheet program turned what you typed into TRUE or FALSE."),
    (0.24, "0%", "The spreadsheet program turned what you typed into a percentage."),
    ("#N/A", "General", "The cell shows an error. Type the value itself."),
    ("=1+1", "General", "The cell holds a formula without a result. Type the value itself."),
]


def with_value(cell: CellRef, value: object, number_format: str) -> ReturnedForm:
    def change(book: openpyxl.Workbook) -> None:
        row, column = cell_places(SECTIONS["subnets"], LAB)[cell]
        target = book["Subnets"].cell(row, column)
        target.value, target.number_format = value, number_format

    return changed(change, HANDED_OUT)


@pytest.mark.parametrize(("cell", "value", "number_format", "meant"), VALUES)
def test_numbers_and_odd_blanks_come_back_as_they_were_meant(
    cell: CellRef, value: object, number_format: str, meant: object
):
    read = read_answers(with_value(cell, value, number_format).filled)
    assert read.unreadable == {}
    assert str(read.answers.values[cell]) == str(meant)


@pytest.mark.parametrize(("value", "number_format", "words"), TROUBLES)
def test_error_what_a_program_made_of_a_text_is_said_in_full(value: object, number_format: str, words: str):
    read = read_answers(with_value(GATEWAY, value, number_format).filled)
    again = "" if words.endswith("itself.") else " Format the cell as Text and type it again."
    assert dict(read.unreadable) == {GATEWAY: words + again}


def test_merged_cells_are_told_from_blank_ones():
    def merge(book: openpyxl.Workbook) -> None:
        book["Subnets"].merge_cells("D6:E6")

    read = read_answers(changed(merge).filled)
    assert dict(read.unreadable) == {
        CellRef(
            "subnets.prefix", VlanRow(10)
        ): "The cell is merged with its neighbour. Undo the merging and type the value."
    }


def test_the_saved_result_of_a_formula_is_read_and_said():
    data = fill_in(HANDED_OUT, LAB, {PREFIX: "28"})
    part = "xl/worksheets/sheet3.xml"
    form = form_of(_with_formula(data, part, "E6"))
    assert form.notices == ("Subnets: E6 holds a formula; its saved result is marked.",)
    assert texts_of(form) == {PREFIX: "28"}


def _with_formula(data: bytes, part: str, cell: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == part:
                text = re.sub(
                    rf'<c r="{cell}"([^>]*?) t="[^"]*"[^>]*>.*?</c>',
                    rf'<c r="{cell}"\1 t="str"><f>14*2</f><v>28</v></c>',
                    content.decode(),
                )
                assert "<f>" in text
                content = text.encode()
            new.writestr(name, content)
    return stream.getvalue()


# --- Through an office program ----------------------------------------------------------------------------------------

OFFICE = shutil.which("soffice")
needs_office = pytest.mark.skipif(OFFICE is None, reason="there is no office program that runs without a screen")


def office(profile: Path, *arguments: str) -> None:
    """Runs the program without a screen, with a profile of its own, so that runs beside this one do no harm."""
    assert OFFICE is not None
    command = [OFFICE, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore", *arguments]
    subprocess.run(command, check=True, capture_output=True, timeout=100)


@pytest.fixture(scope="module")
def profile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh profile, with the empty program of its own that the office program puts there."""
    folder = tmp_path_factory.mktemp("office")
    office(folder, "--terminate_after_init")
    return folder


def type_in(file: Path, texts: Mapping[CellRef, str], profile: Path) -> None:
    """Opens the file in the program, types the texts into its cells and saves it as what it was."""
    lines = [
        f'book = StarDesktop.loadComponentFromURL("{file.as_uri()}", "_blank", 0, Array())',
        *(
            f'book.Sheets.getByName("{section.title}").getCellByPosition({column - 1}, {row - 1}).FormulaLocal = "{texts[cell]}"'
            for section in FORM
            for cell, (row, column) in cell_places(section, LAB).items()
            if cell in texts
        ),
        "book.store()",
        "book.close(True)",
    ]
    module = profile / "user" / "basic" / "Standard" / "Module1.xba"
    code = html.escape("\n".join(lines))
    text = module.read_text(encoding="utf-8")
    module.write_text(re.sub(r"(?s)Sub Main.*End Sub", f"Sub Main\n{code}\nEnd Sub", text), encoding="utf-8")
    office(profile, "macro:///Standard.Module1.Main")


@pytest.mark.desktop
@needs_office
def test_a_workbook_filled_in_by_an_office_program_reads_as_the_key(tmp_path: Path, profile: Path):
    file = tmp_path / "b01.xlsx"
    file.write_bytes(HANDED_OUT)
    type_in(file, KEY_TEXTS, profile)
    assert file.read_bytes() != HANDED_OUT
    book = read_book(file.read_bytes())
    assert lab_numbers_in(book) == ("BUN-TEST",)
    form = read_form(book, LAB)
    assert form.notices == ()
    assert texts_of(form) == KEY_TEXTS


@pytest.mark.desktop
@needs_office
def test_a_key_survives_a_round_trip_through_another_format(tmp_path: Path, profile: Path):
    for step in ("there", "back"):
        (tmp_path / step).mkdir()
    file = tmp_path / "key.xlsx"
    file.write_bytes(fill_in(HANDED_OUT, LAB, KEY_TEXTS))
    office(profile, "--convert-to", "ods", "--outdir", str(tmp_path / "there"), str(file))
    office(profile, "--convert-to", "xlsx", "--outdir", str(tmp_path / "back"), str(tmp_path / "there" / "key.ods"))
    book = read_book((tmp_path / "back" / "key.xlsx").read_bytes())
    assert lab_numbers_in(book) == ("BUN-TEST",)
    form = read_form(book, LAB)
    assert form.notices == ()
    assert texts_of(form) == KEY_TEXTS


TEMPTING = {
    PREFIX: "/28",
    CellRef("subnets.mask", VlanRow(10)): "=1+1",
    CellRef("subnets.first", VlanRow(10)): "1/24",
    CellRef("subnets.last", VlanRow(10)): "10-12",
    CellRef("subnets.gateway", VlanRow(10)): "1E5",
    CellRef("subnets.network", VlanRow(20)): "10.10",
    CellRef("ports.vlan", RowKey("A/1")): "010",
    CellRef("protection.trusted", RowKey("A")): "3,5",
    CellRef("pools.lease", VlanRow(20)): "08:00",
    CellRef("bindings.mac", WrittenRow("Binding", 1)): "020000000002",
}


@pytest.mark.desktop
@needs_office
def test_what_is_typed_into_our_cells_is_not_made_a_date_or_a_number(tmp_path: Path, profile: Path):
    file = tmp_path / "b01.xlsx"
    file.write_bytes(HANDED_OUT)
    type_in(file, TEMPTING, profile)
    form = form_of(file.read_bytes())
    assert texts_of(form) == TEMPTING
    assert not any(typed.trouble for typed in form.filled.texts.values())
