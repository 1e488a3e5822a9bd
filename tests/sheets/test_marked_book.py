"""The marked workbook: told by sign and word beside the cell, as much as may be seen, and what was typed stays what it was."""

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from book_values import cell_at, cells_with_places, names, row_at, sheet_named, value_at, values
from drawn_labs import bakery, exercise_of
from filled_forms import filled
from hypothesis import given, settings
from hypothesis import strategies as st
from on_request import many
from opened_books import loaded, parts, words_of_the_library_in

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.lab.form import CellRef, RowKey
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.rows import VlanRow, WrittenRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Reveal, Trainee
from trainer.lab.works import Count, MustWork, ToPass, Works
from trainer.marking.explanation import Explanation
from trainer.marking.feedback import SIGNS
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict
from trainer.sheets.answer_book import write_answer_book
from trainer.sheets.book import Cell, Sheet, Style
from trainer.sheets.cells import LONGEST, text_height
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.marked_book import marked_book, write_marked_book
from trainer.sheets.placement import HEAD_ROW, cell_places, printed_labels
from trainer.sheets.returned_book import read_form
from trainer.sheets.style import LOOKS

LAB = replace(
    bakery(),
    trainee=Trainee(id="b01", name="Zoë Ankersø"),
    sections=exercise_of(HARBOUR).sections,
    rules=replace(bakery().rules, reveal=Reveal.ANSWERS),
)
SAID = Explanation(
    mistake="invented", explanation="Here is why.", consequence="Here is what happens.", hint="Where would you look?"
)
SAYS = "Comment"


def cell(
    question: str,
    row: str,
    given: str,
    verdict: Verdict,
    *,
    expected: str = "10.20.9.9",
    said: Explanation | None = SAID,
    remark: str = "",
) -> CellMark:
    return CellMark(
        section=question.split(".", maxsplit=1)[0],
        question=question,
        row=RowKey(row),
        given=given,
        expected=expected,
        verdict=verdict,
        marks=Fraction(0),
        out_of=Fraction("0.571"),
        explanation=said,
        remark=remark,
    )


def marked(*cells: CellMark) -> Marked:
    sections = tuple(
        SectionMark(section=name, marks=Decimal("1.500"), out_of=Decimal(share.share))
        for name in LAB.asked
        for share in LAB.sections
        if share.section == name
    )
    return Marked(cells=cells, sections=sections)


def sheet_of(title: str, *cells: CellMark, reveal: Reveal = Reveal.ANSWERS) -> Sheet:
    return sheet_named(marked_book(LAB, marked(*cells), (), reveal=reveal), title)


def said_in(sheet: Sheet, row: int) -> str:
    headings = values(sheet, HEAD_ROW, HEAD_ROW)[0]
    return str(value_at(sheet, row, headings.index(SAYS) + 1))


def height_of(sheet: Sheet, row: int) -> float:
    height = row_at(sheet, row).height
    assert height is not None
    return height


# --- Sign, word and place ---------------------------------------------------------------------------------------------

GIVEN = {
    Verdict.RIGHT: ("10.20.2.1", "\u2713 10.20.2.1", Style.RIGHT),
    Verdict.FOLLOWS: ("10.20.2.1", "\u2713 10.20.2.1", Style.RIGHT),
    Verdict.PARTLY: ("3, 5", "\u00bd 3, 5", Style.PARTLY),
    Verdict.WRONG: ("10.20.2.2", "\u2717 10.20.2.2", Style.WRONG),
    Verdict.BLANK: ("", "\u2013", Style.NEUTRAL),
    Verdict.UNREADABLE: ("10.20.2", "? 10.20.2", Style.WRONG),
}


@pytest.mark.parametrize("verdict", GIVEN)
def test_a_cell_shows_its_sign_and_what_was_written(verdict: Verdict):
    given_text, shown, style = GIVEN[verdict]
    sheet = sheet_of("Subnets", cell("subnets.gateway", "20", given_text, verdict))
    row, column = cell_places(SECTIONS["subnets"], LAB)[CellRef("subnets.gateway", VlanRow(20))]
    assert cell_at(sheet, row, column) == Cell(shown, style)


@pytest.mark.parametrize(
    ("verdict", "start"),
    [
        (Verdict.PARTLY, "\u00bd partly - Gateway: "),
        (Verdict.WRONG, "\u2717 wrong - Gateway: "),
        (Verdict.BLANK, "\u2013 blank - Gateway: "),
        (Verdict.UNREADABLE, "? unreadable - Gateway: "),
    ],
)
def test_the_explanation_starts_with_sign_and_word_in_the_row_of_its_cell(verdict: Verdict, start: str):
    sheet = sheet_of("Subnets", cell("subnets.gateway", "20", GIVEN[verdict][0], verdict))
    assert said_in(sheet, HEAD_ROW + 2) == (f"{start}Here is why. Hint: Where would you look? Right: 10.20.9.9")
    assert not any(said_in(sheet, row) for row in range(HEAD_ROW + 1, len(sheet.rows) + 1) if row != HEAD_ROW + 2)


def test_every_sign_is_explained_on_the_summary():
    sheet = sheet_of("Summary")
    words = {row[0]: row[1] for row in values(sheet, HEAD_ROW) if len(row) == 2}
    for verdict in Verdict:
        assert words[f"{SIGNS[verdict]} {verdict.word}"]


def test_no_two_things_are_told_by_colour_alone():
    signs = {verdict: f"{SIGNS[verdict]} {verdict.word}" for verdict in Verdict}
    assert len(set(signs.values())) == len(Verdict)


def test_the_summary_has_the_marks_of_every_sheet_and_the_total():
    sheet = sheet_of("Summary")
    assert values(sheet, HEAD_ROW + 1, HEAD_ROW + 10) == [
        *([section.title, "1.5", f"{share.share}.0"] for section, share in zip(FORM, LAB.sections, strict=True)),
        ["Total", "13.5", "100.0"],
    ]


def test_what_works_and_what_it_lacks_for_a_pass_stand_at_the_top_of_the_summary():
    seen = Works(leases=None, pings=Count(shown=60, of=72), attacks=Count(shown=0, of=24))
    rule = ToPass(pass_mark=10, must_work=MustWork(attacks=90))
    book = marked_book(LAB, replace(marked(), works=seen), (), reveal=Reveal.MARKS, to_pass=rule)
    assert values(sheet_named(book, "Summary"), 4, 6) == [
        ["Pass mark", "10 %, reached"],
        ["In your network", "pings 60 of 72, attacks stopped 0 of 24"],
        ["Not enough to pass", "10 reached, but 0 of 24 attacks are stopped; 22 are needed."],
    ]


def test_notices_stand_on_the_summary():
    notice = "There is no sheet Routes; it counts as not answered."
    summary = sheet_named(marked_book(LAB, marked(), [notice], reveal=Reveal.ANSWERS), "Summary")
    assert values(summary)[-2:] == [["About the file"], [notice]]


def test_the_identity_stands_on_every_sheet():
    for sheet in marked_book(LAB, marked(), (), reveal=Reveal.ANSWERS).sheets:
        assert values(sheet, 1, 3) == [
            [f"Marked - {sheet.name}   (BAKERY, Bread by six)"],
            ["Lab number", "BUN-TEST"],
            ["Trainee", "b01 Zoë Ankersø"],
        ]


def test_only_sections_that_were_asked_have_a_sheet():
    sections = tuple(share for share in LAB.sections if share.section != "ports")
    book = marked_book(replace(LAB, sections=sections), marked(), (), reveal=Reveal.ANSWERS)
    assert names(book) == ["Summary", *(section.title for section in FORM if section.id != "ports")]


def test_two_remarks_of_a_row_stand_below_each_other():
    sheet = sheet_of(
        "Subnets",
        cell("subnets.prefix", "20", "24", Verdict.WRONG),
        cell("subnets.gateway", "20", "10.20.2.2", Verdict.WRONG, said=replace(SAID, explanation="Another reason.")),
    )
    first, second = said_in(sheet, HEAD_ROW + 2).split("\n")
    assert first.startswith("\u2717 wrong - Prefix length: ")
    assert second.startswith("\u2717 wrong - Gateway: ")
    assert height_of(sheet, HEAD_ROW + 2) > 50, "the row is high enough for its text"


def test_what_is_true_of_several_cells_of_a_row_is_said_once_with_each_right_value():
    sheet = sheet_of(
        "Subnets",
        cell("subnets.prefix", "20", "24", Verdict.WRONG, expected="25"),
        cell("subnets.gateway", "20", "10.20.2.2", Verdict.WRONG, expected="10.20.2.1"),
    )
    words = said_in(sheet, HEAD_ROW + 2)
    assert words.startswith("\u2717 wrong - Prefix length, Gateway: ")
    assert words.count(SAID.explanation) == words.count(SAID.hint) == 1
    assert words.endswith("Right: Prefix length 25, Gateway 10.20.2.1")


def test_what_is_true_of_several_rows_is_said_in_full_once():
    tried = replace(SAID, seen="With this right, 1 lease (Tills 1) comes back in your network.")
    sheet = sheet_of(
        "Subnets",
        cell("subnets.gateway", "30", "10.20.0.2", Verdict.WRONG, expected="10.20.0.1"),
        cell("subnets.gateway", "20", "10.20.2.2", Verdict.WRONG, expected="10.20.2.1", said=tried),
    )
    first, second = (said_in(sheet, HEAD_ROW + row) for row in (3, 2))
    assert "Here is why." in first
    assert first.endswith("Right: 10.20.0.1")
    assert second == "\u2717 wrong - Gateway: as in row 30. Right: 10.20.2.1"


def test_a_remark_is_a_line_and_what_was_tried_stands_on_the_page_alone():
    tried = replace(
        SAID, seen="With this right, 1 lease comes back.", rests_on="Subnets 20: Mask", example="Elsewhere 1."
    )
    cells = [cell(f"subnets.{name}", "20", "10.20.2.2", Verdict.WRONG, said=tried) for name in ("gateway", "first")]
    lines = said_in(sheet_of("Subnets", cells[0], replace(cells[1], explanation=SAID)), HEAD_ROW + 2).split("\n")
    assert all(len(line.split()) < 30 for line in lines)
    text = " ".join(lines)
    for left_out in (SAID.consequence, "comes back", "It depends on", "Elsewhere 1."):
        assert left_out not in text


def test_a_missing_row_and_empty_cells_have_their_right_answers_in_their_rows():
    missing = [
        cell(f"routes.{name}", "A to 30", "", Verdict.MISSING, expected=right)
        for name, right in (("switch", "A"), ("next_hop", "10.20.2.242"))
    ]
    sheet = sheet_of("Routes", *missing)
    assert said_in(sheet, len(sheet.rows)).endswith("Right: Switch A, Next hop 10.20.2.242")
    blank = [cell("subnets.gateway", row, "", Verdict.BLANK, expected=f"10.20.{row}.1") for row in ("30", "20")]
    sheet = sheet_of("Subnets", *blank)
    assert said_in(sheet, HEAD_ROW + 3).endswith("Right: 10.20.30.1")
    assert said_in(sheet, HEAD_ROW + 2) == "As in row 30. Right: 10.20.20.1"


def test_a_right_cell_with_a_remark_has_it_said():
    words = "Right: it follows from your own earlier answers."
    sheet = sheet_of("Subnets", cell("subnets.gateway", "20", "10.20.2.1", Verdict.FOLLOWS, said=None, remark=words))
    assert said_in(sheet, HEAD_ROW + 2).startswith(f"\u2713 follows - Gateway: {words}")


# --- Open rows --------------------------------------------------------------------------------------------------------


def test_a_missing_row_stands_below_with_its_sign():
    missing = (cell(question.id, "A to 30", "", Verdict.MISSING) for question in SECTIONS["routes"].questions)
    sheet = sheet_of("Routes", cell("routes.switch", "Route 1", "A", Verdict.RIGHT, said=None), *missing)
    printed = len(printed_labels(SECTIONS["routes"], LAB))
    row = HEAD_ROW + printed + 1
    assert value_at(sheet, row, 1) == "\u2026 A to 30"
    assert said_in(sheet, row).startswith(
        "\u2026 missing - Switch, Destination network, Mask or prefix length, Next hop: Here is why."
    )


def test_a_row_that_was_added_stands_behind_the_printed_ones():
    sheet = sheet_of("Routes", cell("routes.switch", "Route 14", "A", Verdict.EXTRA, expected=""))
    row = HEAD_ROW + len(printed_labels(SECTIONS["routes"], LAB)) + 1
    assert values(sheet, row)[0][:2] == ["Route 14", "\u271a A"]
    assert said_in(sheet, row).startswith("\u271a extra - Switch: Here is why.")


@pytest.mark.parametrize(
    ("decided", "label", "style"),
    [
        (4, "\u2713 A to 30", Style.RIGHT),
        (1, "\u2026 A to 30", Style.WRONG),
        (0, "\u2026 A to 30", Style.WRONG),
    ],
)
def test_a_missing_row_that_the_instructor_decided_looks_as_it_was_decided(decided: int, label: str, style: Style):
    cells = [cell(question.id, "A to 30", "", Verdict.MISSING) for question in SECTIONS["routes"].questions]
    for place_in_row, each in enumerate(cells[:decided]):
        cells[place_in_row] = replace(each, verdict=Verdict.RIGHT, explanation=None, decision="Told so in class.")
    sheet = sheet_of("Routes", *cells)
    row = HEAD_ROW + len(printed_labels(SECTIONS["routes"], LAB)) + 1
    assert cell_at(sheet, row, 1) == Cell(label, style)
    assert list(row_at(sheet, row).cells[1:5]) == (
        [Cell("\u2713", Style.RIGHT)] * decided + [Cell("", Style.NEUTRAL)] * (4 - decided)
    )


@pytest.mark.parametrize(
    ("verdicts", "label", "style"),
    [
        ([Verdict.PARTLY] * 4, "\u00bd A to 30", Style.PARTLY),
        ([Verdict.RIGHT] * 3 + [Verdict.PARTLY], "\u00bd A to 30", Style.PARTLY),
    ],
)
def test_a_route_that_another_row_carries_is_not_shown_as_missing(verdicts: list[Verdict], label: str, style: Style):
    questions = SECTIONS["routes"].questions
    cells = [cell(each.id, "A to 30", "", verdict) for each, verdict in zip(questions, verdicts, strict=True)]
    sheet = sheet_of("Routes", *cells)
    row = HEAD_ROW + len(printed_labels(SECTIONS["routes"], LAB)) + 1
    assert cell_at(sheet, row, 1) == Cell(label, style)


# --- How it looks -----------------------------------------------------------------------------------------------------


def test_a_station_with_a_long_name_is_not_cut():
    """A row is one line high, so its column has to be as wide as the name."""
    stations = tuple(
        replace(each, name=f"Reading rooms, upper floor {place_in_lab}")
        for place_in_lab, each in enumerate(LAB.stations)
    )
    sheet = sheet_named(marked_book(replace(LAB, stations=stations), marked(), (), reveal=Reveal.ANSWERS), "Ports")
    assert max(len(str(row[1])) for row in values(sheet, HEAD_ROW + 1)) == 28
    assert sheet.layout.widths[1] >= 28 + 3
    assert {row.height for row in sheet.rows[HEAD_ROW:]} == {17}


def test_an_answer_that_takes_two_lines_gets_a_row_of_two_lines():
    sheet = sheet_of(
        "Protection", cell("protection.guarded", "A", "10, 11, 12, 13, 14, 15, 16, 17", Verdict.RIGHT, said=None)
    )
    assert height_of(sheet, HEAD_ROW + 1) > 2 * LINE


LINE = 11.64
"""Points of a line of DejaVu Sans at 10 points: ascent 1901 and descent 483 of 2048, as its hhea table says."""


def test_a_row_is_hardly_higher_than_its_text():
    """Two remarks that a spreadsheet program broke into four lines each, in a column as wide as ours (measured)."""
    first = Explanation(
        mistake="a",
        explanation="These ports would be right in the column for source guard. Trust means: server messages may come in here.",
        consequence="Every client may play the server, while the true one is dropped.",
        hint="Which of the two columns is about the server, and which about stations?",
    )
    second = Explanation(
        mistake="b",
        explanation="A link to another switch is guarded. Packets with all kinds of source addresses come in there, and "
        "not one has a row.",
        consequence="Everything from the rest of the network is dropped, perhaps your own session, too.",
        hint="How many different source addresses come in on this port?",
    )
    sheet = sheet_of(
        "Protection",
        cell("protection.trusted", "A", "13, 17", Verdict.WRONG, said=first),
        cell("protection.guarded", "A", "22", Verdict.WRONG, said=second),
        reveal=Reveal.EXPLANATIONS,
    )
    assert 8 * LINE < height_of(sheet, HEAD_ROW + 1) < 8 * LINE * 1.25


@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_all_cells_of_a_row_stand_at_one_height(way):
    book = marked_book(LAB, mark_of(way.fill(LAB, dict(key_texts(LAB)))), (), reveal=Reveal.ANSWERS)
    for sheet in book.sheets[1:]:
        for row in sheet.rows[HEAD_ROW:]:
            assert {LOOKS[each.style].vertical for each in row.cells} == {"center"}


def test_figures_of_the_summary_and_their_total_stand_below_each_other():
    sheet = sheet_of("Summary")
    total = HEAD_ROW + len(LAB.sections) + 1
    for row in sheet.rows[HEAD_ROW - 1 : total]:
        assert {LOOKS[each.style].horizontal for each in row.cells[1:]} == {"right"}
    assert value_at(sheet, total, 1) == "Total"


# --- How much may be seen ---------------------------------------------------------------------------------------------

PIECES = {"hint": SAID.hint, "explanation": SAID.explanation, "answer": "10.20.9.9"}
MAY_SEE = {
    Reveal.MARKS: set(),
    Reveal.HINTS: {"hint"},
    Reveal.EXPLANATIONS: {"hint", "explanation"},
    Reveal.ANSWERS: set(PIECES),
}


@pytest.mark.parametrize("reveal", Reveal)
@pytest.mark.parametrize("verdict", [Verdict.WRONG, Verdict.UNREADABLE, Verdict.PARTLY, Verdict.BLANK])
def test_a_trainee_sees_as_much_as_the_exercise_says_and_no_more(reveal: Reveal, verdict: Verdict):
    cells = marked(cell("subnets.gateway", "20", "10.20.2.2" if verdict is not Verdict.BLANK else "", verdict))
    text = "".join(parts(write_marked_book(LAB, cells, (), reveal=reveal)).values())
    assert {name for name, piece in PIECES.items() if piece in text} == MAY_SEE[reveal]


@pytest.mark.parametrize("reveal", many([Reveal.MARKS, Reveal.HINTS, Reveal.EXPLANATIONS], [Reveal.EXPLANATIONS]))
@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_no_right_address_is_in_the_file_unless_answers_may_be_seen(reveal: Reveal, way):
    key = key_texts(LAB)
    written = way.fill(LAB, dict(key))
    text = "".join(parts(write_marked_book(LAB, mark_of(written), (), reveal=reveal)).values())
    found = set(re.findall(r"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", text))
    typed = set(re.findall(r"\d+\.\d+\.\d+\.\d+", " ".join(written.values())))
    assert not (found - typed) & set(key.values())


def mark_of(texts: Mapping[CellRef, str]) -> Marked:
    form = read_form(read_book(fill_in(write_answer_book(LAB, derive_key(LAB)), LAB, texts)), LAB)
    return mark(LAB, form.filled)


# --- What was typed stays what it was ---------------------------------------------------------------------------------

HOSTILE = ["=1+1", "+1", "-1+1", "@SUM(A1)", "#N/A", "<b>bold</b>", "&lt;", "'24", "TRUE", '"', "a\nb", "=HYPERLINK(1)"]


@pytest.mark.parametrize("text", HOSTILE)
def test_a_typed_text_stays_literal(text: str):
    said = replace(SAID, explanation=f"{text} is no address.")
    sheet = sheet_of("Subnets", cell("subnets.gateway", "20", text, Verdict.UNREADABLE, said=said))
    assert value_at(sheet, HEAD_ROW + 2, 9) == f"? {text}"
    assert f"{text} is no address." in said_in(sheet, HEAD_ROW + 2)


@pytest.mark.parametrize("text", ["=1+1", "@x", "#N/A"])
def test_a_label_or_notice_that_looks_like_a_formula_stays_literal(text: str):
    book = loaded(
        write_marked_book(LAB, marked(cell("routes.switch", text, "", Verdict.MISSING)), [text], reveal=Reveal.ANSWERS)
    )
    for title in ("Summary", "Routes"):
        for row in book[title].iter_rows():
            assert all(each.data_type == "s" for each in row if each.value is not None)


def test_a_typed_text_that_looks_like_an_escape_stays_literal():
    data = write_marked_book(
        LAB, marked(cell("subnets.gateway", "20", "_x0041_", Verdict.UNREADABLE)), (), reveal=Reveal.ANSWERS
    )
    sheet = next(each for each in read_book(data).sheets if each.name == "Subnets")
    assert sheet.cells[HEAD_ROW + 2, 9].text == "? _x0041_"


HIGHEST_ROW = 409
"""Points; spreadsheet programs make no row higher (common practice, no source)."""


@pytest.mark.parametrize(
    "text",
    [
        "zzz",
        "255.255.255.0",
        "10.0.0.1 10.0.0.2",
        "0.0.0.0",
    ],
)
def test_all_that_is_said_of_a_row_of_wrong_cells_can_be_read(text: str):
    book = marked_book(LAB, mark_of(dict.fromkeys(key_texts(LAB), text)), (), reveal=Reveal.ANSWERS)
    for sheet in book.sheets[1:]:
        assert all(height_of(sheet, row) <= HIGHEST_ROW for row in range(HEAD_ROW + 1, len(sheet.rows) + 1))
        assert all(len(str(each.value)) <= LONGEST for _, each in cells_with_places(sheet)), "no text is cut"


def test_what_is_too_long_for_a_cell_stands_in_further_columns_with_a_heading():
    long = Explanation(mistake="a", explanation="Why. " * 300, consequence="", hint="")
    cells = [
        cell(question, "20", "9", Verdict.WRONG, said=replace(long, explanation=f"{long.explanation}{question}"))
        for question in ("subnets.prefix", "subnets.gateway")
    ]
    sheet = sheet_of("Subnets", *cells)
    assert values(sheet, HEAD_ROW, HEAD_ROW)[0][-2:] == [SAYS, f"{SAYS}, continued"]
    assert sheet.layout.widths[-1] == sheet.layout.widths[-2]
    lengths = [len(row.cells) for row in sheet.rows[HEAD_ROW:]]
    assert lengths[1] == max(lengths) == len(sheet.layout.widths)
    assert all("Why." in str(value) for value in values(sheet, HEAD_ROW + 2)[0][-2:])


@settings(max_examples=40)
@given(st.text(max_size=50), st.text(max_size=50))
def test_any_text_gives_a_workbook_that_opens(text: str, words: str):
    cells = marked(cell("subnets.gateway", "20", text, Verdict.UNREADABLE, said=replace(SAID, explanation=words)))
    assert len(read_book(write_marked_book(LAB, cells, [words], reveal=Reveal.ANSWERS)).sheets) == 1 + len(FORM)


@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_everything_that_was_written_is_shown_in_its_row_and_column(way):
    written = {each: text for each, text in way.fill(LAB, dict(key_texts(LAB))).items() if text}
    book = marked_book(LAB, mark_of(written), (), reveal=Reveal.ANSWERS)
    for section in FORM:
        sheet = sheet_named(book, section.title)
        for each, (row, column) in cell_places(section, LAB).items():
            if each in written:
                assert str(value_at(sheet, row, column))[2:] == written[each], f"{section.title} {each.row}"


def test_everything_that_was_written_in_an_extra_row_is_shown():
    written = {CellRef(f"routes.{name}", WrittenRow("Route", 9)): text for name, text in (
        ("switch", "A"), ("destination", "10.99.0.0"), ("mask", "/24"), ("next_hop", "10.99.0.1"))}  # fmt: skip
    sheet = sheet_named(marked_book(LAB, mark_of({**key_texts(LAB), **written}), (), reveal=Reveal.ANSWERS), "Routes")
    assert [str(value)[2:] for value in values(sheet, HEAD_ROW + 9)[0][1:5]] == list(written.values())


# --- The file ---------------------------------------------------------------------------------------------------------


def test_the_file_is_ours_throughout():
    data = write_marked_book(
        LAB, marked(cell("subnets.gateway", "20", "x", Verdict.WRONG)), ["A notice."], reveal=Reveal.ANSWERS
    )
    assert words_of_the_library_in(data) == []
    for name, text in parts(data).items():
        assert "comment" not in name.casefold()
        if name.startswith("xl/worksheets/"):
            assert "<f>" not in text


def test_the_same_marks_give_the_same_bytes():
    cells = marked(cell("subnets.gateway", "20", "x", Verdict.WRONG))
    assert write_marked_book(LAB, cells, (), reveal=Reveal.ANSWERS) == write_marked_book(
        LAB, cells, (), reveal=Reveal.ANSWERS
    )


def test_headings_stay_in_sight_on_the_sheets_of_the_form():
    for sheet in marked_book(LAB, marked(), (), reveal=Reveal.ANSWERS).sheets[1:]:
        assert sheet.layout.printing.head_rows == (1, HEAD_ROW)
        assert sheet.layout.frozen_at == f"B{HEAD_ROW + 1}"


def test_every_sheet_with_room_for_its_comments_is_one_page_wide():
    """Of the sheets with many columns Subnets alone has a page of its own for them."""
    way = next(each for each in FILLINGS if "hurry" in each.shows)
    texts = way.fill(LAB, dict(key_texts(LAB)))
    book = marked_book(LAB, mark(LAB, filled(texts)), (), reveal=Reveal.EXPLANATIONS)
    two_wide = [sheet.name for sheet in book.sheets if sheet.layout.printing and sheet.layout.printing.pages_wide > 1]
    assert two_wide in ([], ["Subnets"])
    routes = sheet_named(book, "Routes")
    assert routes.rows[HEAD_ROW - 1].height >= text_height("Mask or prefix length", routes.layout.widths[3])


def test_of_blank_cells_in_several_rows_each_row_names_its_own():
    key = key_texts(LAB)
    emptied = {("protection.trusted", "A"), ("protection.guarded", "A"), ("protection.snooped", "B")}
    texts = {cell: "" if (cell.question, str(cell.row)) in emptied else text for cell, text in key.items()}
    book = marked_book(
        LAB, mark(LAB, filled({cell: text for cell, text in texts.items() if text})), (), reveal=Reveal.HINTS
    )
    comments = [str(cell.value) for cell in sheet_named(book, "Protection").rows[HEAD_ROW].cells]
    assert "\u2013 blank - Trusted ports, Guarded ports: Hint" in comments[-1]
    assert "Snooped VLANs" not in comments[-1]
