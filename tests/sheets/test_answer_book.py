"""The workbook that is handed out and its key: what stands where, what can be written in, and what is nowhere in them."""

import io
import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from ipaddress import IPv4Address
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from book_values import cell_at, cells_with_places, names, sheet_named, value_at, values
from drawn_labs import bakery, draw, exercise_of
from opened_books import loaded, parts, words_of_the_library_in
from openpyxl.worksheet.worksheet import Worksheet
from repair_labs import kept_lab

from trainer.commands.exercises import ready_made
from trainer.lab.brief import BriefPart
from trainer.lab.form import Answers, CellRef
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Scenario, SectionShare, Trainee, Vlan
from trainer.lab.vlan_id import VlanId
from trainer.sheets.answer_book import answer_book, key_book, write_answer_book, write_key_book
from trainer.sheets.book import Book, DropDown, Style
from trainer.sheets.cells import text_height, text_width
from trainer.sheets.exercise_book import read_exercise_book, write_exercise_book
from trainer.sheets.intake import read_book
from trainer.sheets.placement import HEAD_ROW, cell_places, printed_labels

GOLDEN = Path(__file__).parents[1] / "golden"
"""Text dumps of both workbooks. GOLDEN=write in the environment writes them anew; read the difference before it is kept."""
LAB = replace(
    bakery(),
    date="Thursday 12 March",
    minutes=75,
    trainee=Trainee(id="b01", name="Zoë Ankersø"),
    sections=exercise_of(HARBOUR).sections,
)
KEY = derive_key(LAB)
BOOK, BOOK_OF_KEY = answer_book(LAB, KEY), key_book(LAB, KEY)
HANDED_OUT, KEY_BOOK = write_answer_book(LAB, KEY), write_key_book(LAB, KEY)
"""The same as files."""
SHEETS = ["Brief", "Given", *(section.title for section in FORM)]


def with_asked(lab: Scenario, **asked: Asked) -> Scenario:
    sections = (replace(share, asked=asked.get(share.section, share.asked)) for share in lab.sections)
    return replace(lab, sections=tuple(sections))


def answer_cells(lab: Scenario, section_id: str) -> dict[CellRef, tuple[int, int]]:
    return cell_places(SECTIONS[section_id], lab)


# --- Golden dumps -----------------------------------------------------------------------------------------------------


def dump(data: bytes) -> str:
    """Sheet, cell, locked or not, style and number format, and the value behind; what a sheet as a whole says above them."""
    lines: list[str] = []
    for sheet in loaded(data).worksheets:
        lines += [f"# {sheet.title}", *_about(sheet)]
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is not None or cell.style != "Normal":
                    lock = "locked" if cell.protection.locked else "unlocked"
                    text = "" if cell.value is None else repr(cell.value)
                    lines.append(f"{cell.coordinate} {lock} {cell.style} {cell.number_format} {text}".rstrip())
    return "\n".join(lines) + "\n"


def _about(sheet: Worksheet) -> Iterator[str]:
    setup = sheet.page_setup
    yield f"  frozen at {sheet.freeze_panes}; {setup.orientation}; {setup.fitToWidth} wide, {setup.fitToHeight or 'any'} high"
    yield f"  repeated rows {sheet.print_title_rows}; footer {sheet.oddFooter.left.text!r} {sheet.oddFooter.right.text!r}"
    for each in sheet.data_validations.dataValidation:
        yield f"  choices {each.formula1} in {each.sqref}"


@pytest.mark.parametrize(("file", "data"), [("answer_book.txt", HANDED_OUT), ("key_book.txt", KEY_BOOK)])
def test_the_workbook_is_as_it_was_looked_at_and_kept(file: str, data: bytes):
    if os.environ.get("GOLDEN") == "write":
        (GOLDEN / file).write_text(dump(data), encoding="utf-8")
    assert dump(data) == (GOLDEN / file).read_text(encoding="utf-8")


# --- Who and what -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("book", [BOOK, BOOK_OF_KEY], ids=["handed out", "key"])
def test_there_is_a_sheet_for_brief_given_and_every_section(book: Book):
    assert names(book) == SHEETS


@pytest.mark.parametrize("book", [BOOK, BOOK_OF_KEY], ids=["handed out", "key"])
@pytest.mark.parametrize("title", SHEETS)
def test_the_identity_is_visible_on_every_sheet(book: Book, title: str):
    (head,), *rows = values(sheet_named(book, title), 1, 3)
    assert rows == [["Lab number", LAB.lab_number], ["Trainee", "b01 Zoë Ankersø"]]
    assert title in str(head)
    assert LAB.exercise_code in str(head)


def test_the_lab_number_is_kept_in_two_spare_places():
    assert BOOK.identifier == LAB.lab_number
    assert BOOK.defined_names == (("lab_number", "Brief!$B$2"),)
    assert value_at(sheet_named(BOOK, "Brief"), 2, 2) == LAB.lab_number


def test_a_trainee_without_a_name_is_called_by_the_id():
    book = answer_book(replace(LAB, trainee=Trainee(id="b02")), KEY)
    assert value_at(sheet_named(book, "Subnets"), 3, 2) == "b02"


def test_the_key_workbook_says_so_in_every_title_and_footer():
    for sheet in BOOK_OF_KEY.sheets:
        assert str(value_at(sheet, 1, 1)).startswith("ANSWER KEY - ")
        assert sheet.footer.startswith("ANSWER KEY - ")
    assert BOOK_OF_KEY.title.startswith("ANSWER KEY - ")


def test_the_workbook_that_is_handed_out_nowhere_calls_itself_a_key():
    assert not [name for name, text in parts(HANDED_OUT).items() if "ANSWER KEY" in text]


# --- What can be written in -------------------------------------------------------------------------------------------


def test_asked_cells_are_blank_and_no_other_cell_looks_like_them():
    for sheet in BOOK.sheets:
        section = next((each for each in FORM if each.title == sheet.name), None)
        asked = set() if section is None else set(answer_cells(LAB, section.id).values())
        found = {at: cell.value for at, cell in cells_with_places(sheet) if cell.style is Style.ASKED}
        assert found == dict.fromkeys(asked, "")


def test_no_cell_of_the_key_workbook_can_be_written_in():
    styles = {cell.style for sheet in BOOK_OF_KEY.sheets for _, cell in cells_with_places(sheet)}
    assert styles >= {Style.KEY, Style.GIVEN}
    assert Style.ASKED not in styles


def test_every_sheet_is_protected():
    assert all(sheet.layout.is_protected for book in (BOOK, BOOK_OF_KEY) for sheet in book.sheets)


def test_every_cell_holds_text():
    for book in (BOOK, BOOK_OF_KEY):
        assert {type(cell.value) for sheet in book.sheets for _, cell in cells_with_places(sheet)} == {str}


def test_the_exercises_own_brief_stands_in_the_workbook_once_before_the_house_rules():
    own = (BriefPart("Bread by six", (("", "Your block is yours alone."), ("", "- Two switches"))),)
    book = answer_book(LAB, KEY, own)
    rows = [str(cell.value) for row in book.sheets[0].rows for cell in row.cells]
    assert rows.index("Bread by six") < rows.index("Your block is yours alone.") < rows.index("What to do")
    every = [str(cell.value) for sheet in book.sheets for row in sheet.rows for cell in row.cells]
    assert every.count("Your block is yours alone.") == 1
    assert [sheet.rows for sheet in book.sheets[1:]] == [sheet.rows for sheet in BOOK.sheets[1:]]


def test_the_brief_is_printed_in_at_least_8_points():
    """Columns are counted in digits of 10 points; a sheet is scaled to the width of A4 with margins of half an inch."""
    widths = sheet_named(BOOK, "Brief").layout.widths
    assert 10 * (595 - 72) / sum(6 * width + 4 for width in widths) * 0.95 > 8


def test_closed_choices_have_a_list_to_choose_from():
    lists = {(sheet.name, each) for sheet in BOOK.sheets for each in sheet.layout.drop_downs}
    routes, bindings = printed_labels(SECTIONS["routes"], LAB), printed_labels(SECTIONS["bindings"], LAB)
    assert lists == {
        ("Routes", DropDown(("A", "B"), f"B6:B{HEAD_ROW + len(routes)}")),
        ("Bindings", DropDown(("dynamic", "static"), f"F6:F{HEAD_ROW + len(bindings)}")),
    }


@pytest.mark.parametrize("title", SHEETS)
def test_a_sheet_has_its_lab_in_the_footer_and_what_is_only_read_is_on_one_page_or_two(title: str):
    sheet = sheet_named(BOOK, title)
    assert sheet.layout.printing.pages_high == {"Brief": 2, "Given": 1}.get(title, 0)
    assert sheet.footer == f"BAKERY   {LAB.lab_number}   b01   {title}"


@pytest.mark.parametrize("title", SHEETS[2:])
def test_headings_and_row_labels_stay_in_sight(title: str):
    layout = sheet_named(BOOK, title).layout
    assert layout.frozen_at == f"B{HEAD_ROW + 1}"
    assert layout.printing.head_rows == (1, HEAD_ROW)


def test_sheets_of_labs_that_differ_in_their_texts_alone_have_the_same_layout():
    other = answer_book(replace(LAB, lab_number="BUN-LESS", trainee=Trainee(id="b02")), KEY)
    assert [hash(sheet.layout) for sheet in other.sheets] == [hash(sheet.layout) for sheet in BOOK.sheets]
    assert [sheet.layout for sheet in other.sheets] == [sheet.layout for sheet in BOOK.sheets]


# --- Given sections, left out sections, open rows ---------------------------------------------------------------------


def test_a_given_section_is_printed_with_the_right_answers():
    lab = with_asked(LAB, subnets=Asked.GIVEN, relays=Asked.GIVEN)
    book = answer_book(lab, KEY)
    subnets = sheet_named(book, "Subnets")
    assert str(value_at(subnets, 4, 1)).startswith("Given: the right answers are printed.")
    for cell, (row, column) in answer_cells(lab, "subnets").items():
        question = SECTIONS["subnets"].question(cell.question)
        printed = cell_at(subnets, row, column)
        assert (printed.value, printed.style) == (question.kind.show(KEY.values[cell]), Style.GIVEN)
    rows = values(sheet_named(book, "Relays"), HEAD_ROW + 1)
    assert rows[:2] == [
        ["Relay 1", "20", "10.20.2.229", "10.20.2.1"],
        ["Relay 2", "30", "10.20.2.229", "10.20.0.1"],
    ]
    assert rows[3] == ["Relay 4", "", "", ""]


def test_a_section_that_is_left_out_has_no_sheet():
    book = answer_book(with_asked(LAB, ports=Asked.NO, bindings=Asked.NO), KEY)
    assert names(book) == [title for title in SHEETS if title not in ("Ports", "Bindings")]


def test_an_asked_section_says_what_it_counts():
    words = "Counts 22 of 100. Rule 8. There are more rows than you need."
    assert value_at(sheet_named(BOOK, "Routes"), 4, 1) == words


def vlans(lab: Scenario, change: Callable[[Vlan], Vlan]) -> Scenario:
    return replace(lab, vlans=tuple(map(change, lab.vlans)))


def all_in_one_network(lab: Scenario) -> Scenario:
    """The same stations and networks, but all DHCP stations in one network: fewer pools and relays."""
    stations = (
        replace(each, vlan=VlanId(20)) if each.fixed_number is None and each.at.switch == "A" else each
        for each in lab.stations
    )
    moved = (
        replace(each, vlan=VlanId(30)) if each.fixed_number is None and each.at.switch == "B" else each
        for each in stations
    )
    return replace(lab, stations=tuple(moved))


def unguarded(lab: Scenario) -> Scenario:
    """The same stations and networks without protection: no binding row."""
    return vlans(lab, lambda vlan: replace(vlan, is_snooped=False, is_guarded=False))


@pytest.mark.parametrize(
    ("section", "change"), [("relays", all_in_one_network), ("bindings", unguarded)], ids=["relays", "bindings"]
)
def test_the_number_of_printed_rows_does_not_tell_how_many_are_needed(
    section: str, change: Callable[[Scenario], Scenario]
):
    other = change(LAB)
    needed = [len(SECTIONS[section].rows(lab)) for lab in (LAB, other)]
    assert needed[0] != needed[1], "the pair differs in its key"
    sheets = [sheet_named(answer_book(lab, derive_key(lab)), SECTIONS[section].title) for lab in (LAB, other)]
    assert len(sheets[0].rows) == len(sheets[1].rows)


def test_there_are_spare_rows_for_every_open_section():
    for lab in (LAB, all_in_one_network(LAB), *draw(exercise_of(HARBOUR), 3)):
        for section in FORM:
            if section.open is not None:
                assert section.open.printed(lab) > len(section.rows(lab))


# --- What is nowhere in them ------------------------------------------------------------------------------------------


def shown_in_key(key: Answers) -> set[str]:
    return {str(value) for value in key.values.values() if isinstance(value, IPv4Address)}


@pytest.mark.parametrize("lab", [LAB, *draw(exercise_of(HARBOUR), 3)], ids=lambda lab: lab.lab_number)
def test_no_address_of_the_key_stands_in_any_part_of_the_file(lab: Scenario):
    key = derive_key(lab)
    data = write_answer_book(lab, key)
    addresses = shown_in_key(key) - {str(lab.block.network_address)}
    for name, text in parts(data).items():
        assert not addresses & set(re.findall(r"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", text)), name
    assert addresses <= {
        found for text in parts(write_key_book(lab, key)).values() for found in re.findall(r"\d+\.\d+\.\d+\.\d+", text)
    }, "the same search finds all of them in the key workbook"


def test_answers_of_a_section_that_is_not_given_are_not_in_the_file_where_another_is_given():
    lab = with_asked(LAB, subnets=Asked.GIVEN)
    text = "".join(parts(write_answer_book(lab, KEY)).values())
    told = {str(KEY.values[cell]) for cell in KEY.values if cell.question.startswith("subnets.")}
    for address in shown_in_key(KEY) - told:
        assert not re.search(rf"(?<![\d.]){re.escape(address)}(?![\d.])", text), address


@pytest.mark.parametrize("data", [HANDED_OUT, KEY_BOOK], ids=["handed out", "key"])
def test_nothing_is_hidden_commented_or_worked_out(data: bytes):
    book = loaded(data)
    for sheet in book.worksheets:
        assert sheet.sheet_state == "visible"
        assert not any(each.hidden for each in sheet.row_dimensions.values())
        assert not any(each.hidden for each in sheet.column_dimensions.values())
        assert not sheet.merged_cells.ranges
        assert not sheet.conditional_formatting
    for name, text in parts(data).items():
        assert "comment" not in name.casefold()
        assert "vml" not in name.casefold()
        assert "customXml" not in name
        assert "docProps/custom" not in name
        if name.startswith("xl/worksheets/"):
            assert not list(ET.fromstring(text).iter("{http://schemas.openxmlformats.org/spreadsheetml/2006/main}f"))
    assert set(book.defined_names) == {"lab_number"}


def test_no_seed_and_no_word_of_a_secret_stands_in_the_file():
    for name, text in parts(HANDED_OUT).items():
        assert not re.search(r"(?i)\bseed|secret|password|hmac", text), name


@pytest.mark.parametrize(
    "data", [HANDED_OUT, KEY_BOOK, write_exercise_book(HARBOUR)], ids=["handed out", "key", "exercise"]
)
def test_no_word_that_the_library_writes_by_itself_is_in_the_file(data: bytes):
    assert words_of_the_library_in(data) == []


def test_the_file_says_which_program_it_is_from_and_no_real_time():
    found = parts(HANDED_OUT)
    assert "<Application>hopsheet</Application>" in found["docProps/app.xml"]
    assert ">hopsheet</dc:creator>" in found["docProps/core.xml"]
    assert set(re.findall(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", found["docProps/core.xml"])) == {"2020-01-01T00:00:00Z"}
    with zipfile.ZipFile(io.BytesIO(HANDED_OUT)) as archive:
        assert {member.date_time for member in archive.infolist()} == {(2020, 1, 1, 0, 0, 0)}


# --- Same input, same bytes -------------------------------------------------------------------------------------------


def test_the_same_lab_gives_the_same_bytes():
    assert write_answer_book(LAB, KEY) == HANDED_OUT
    assert write_key_book(LAB, derive_key(LAB)) == KEY_BOOK


PROGRAM = """
import hashlib, sys
sys.path[:0] = {path!r}
from drawn_labs import bakery
from trainer.lab.brief import BriefPart
from trainer.lab.key import derive_key
from trainer.sheets.answer_book import write_answer_book, write_key_book
lab = bakery()
for write in (write_answer_book, write_key_book):
    print(hashlib.sha256(write(lab, derive_key(lab))).hexdigest())
"""


def test_the_same_lab_gives_the_same_bytes_in_another_process():
    program = PROGRAM.format(path=[str(Path(__file__).parents[1] / "lab")])
    printed = [
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert printed[0] == printed[1]
    assert len(printed[0].split()) == 2


# --- Text stays text --------------------------------------------------------------------------------------------------

HOSTILE = ["=1+1", "+1+1", "-1", "@SUM(A1)", "#N/A", "<b>bold</b>", "&amp;", "1e3", "10-12", "TRUE", '"; x', "a, b"]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_the_exercise_stays_text_whatever_it_looks_like(text: str):
    lab = replace(LAB, title=text, trainee=Trainee(id="b01", name=text), date=text)
    lab = replace(lab, switches=tuple(replace(each, place=text) for each in lab.switches))
    book = loaded(write_answer_book(lab, KEY))
    place_cell = book["Protection"].cell(HEAD_ROW + 1, 2)
    assert (place_cell.value, place_cell.data_type) == (text, "s")
    assert book["Brief"]["B3"].value == f"b01 {text}"
    assert text in book["Brief"]["A1"].value
    assert all(sheet["A1"].data_type == "s" for sheet in book.worksheets)


@pytest.mark.parametrize("character", ["\ufffe", "\uffff"])
def test_a_name_with_a_character_that_no_document_may_hold_gives_a_file_that_opens(character: str):
    lab = replace(LAB, trainee=Trainee(id="b01", name=f"Zo\u00eb{character}"))
    assert read_book(write_answer_book(lab, KEY)).sheets


def test_a_share_of_the_marks_is_that_of_the_exercise():
    sections = tuple(
        SectionShare(section=share.section, asked=share.asked, share=7 if share.section == "links" else share.share)
        for share in LAB.sections
    )
    book = answer_book(replace(LAB, sections=sections), KEY)
    assert value_at(sheet_named(book, "Links"), 4, 1) == "Counts 7 of 100. Rules 3 and 6."


# --- Room -------------------------------------------------------------------------------------------------------------


def test_every_right_answer_has_room_in_its_cell_of_the_key():
    """A mask of 15 characters was cut off."""
    key = derive_key(LAB)
    for sheet in key_book(LAB, key).sheets:
        for row in sheet.rows:
            for cell, width in zip(row.cells, sheet.layout.widths, strict=False):
                if cell.style is Style.KEY:
                    assert text_height(str(cell.value), width / 1.15) == text_height("", width), (
                        sheet.name,
                        cell.value,
                    )


def test_sheet_given_is_printed_in_8_points_or_more():
    sheet = next(each for each in answer_book(LAB, derive_key(LAB)).sheets if each.name == "Given")
    setup, across = sheet.layout.printing, 842 if sheet.layout.printing.is_landscape else 595
    assert (across - 72) / sum(6 * width + 4 for width in sheet.layout.widths) >= 0.8
    height = sum(row.height or 12.8 for row in sheet.rows)
    assert setup.pages_high == 0 or ((595 if setup.is_landscape else 842) - 87) / height >= 0.8


@pytest.mark.parametrize("name", ["faults-two", "no-fault"])
def test_no_heading_of_what_was_found_is_cut(name: str):
    """What is bold takes a seventh more; the lab's number stands above narrow tables."""
    lab = kept_lab(name)
    for sheet in answer_book(lab, derive_key(lab)).sheets:
        if sheet.name.startswith("Found"):
            for row in sheet.rows[1:]:
                for cell, width in zip(row.cells, sheet.layout.widths, strict=False):
                    if cell.style in (Style.COLUMN, Style.IDENTITY) and cell.value != lab.lab_number:
                        assert text_width(str(cell.value)) * 1.14 < width


@pytest.mark.parametrize("name", ["two-switches", "star-of-four", "tree-of-five"])
def test_every_sheet_is_printed_in_letters_of_eight_points_or_more(name: str):
    """On A4, of the 10 points of the workbook; spare columns of the frame are no reason for less."""
    (file,) = (each.file for each in ready_made() if each.file.stem == name)
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    for sheet in answer_book(lab, derive_key(lab)).sheets:
        printing = sheet.layout.printing
        across = (842 if printing is not None and printing.is_landscape else 595) - 72
        breadth = sum(6 * width + 4 for width in sheet.layout.widths)
        assert 10 * min(1, across / breadth) >= 8, sheet.name
