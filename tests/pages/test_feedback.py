"""The feedback page: as much as may be seen, headings in order, nothing from elsewhere, and typed text stays text."""

import html
import re
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser
from itertools import pairwise

import pytest
import repair_papers
from drawn_labs import draw
from filled_forms import filled
from hypothesis import given
from hypothesis import strategies as st
from marked_by_hand import LAB, SAID, WRONG, marked
from repair_labs import kept_lab

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.commands.exercises import ready_made
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import Answers, CellRef, RowKey, SoFar
from trainer.lab.questions import FORM, SECTIONS, routes, subnets
from trainer.lab.rows import VlanRow
from trainer.lab.scenario import Reveal, Scenario, Trainee
from trainer.lab.works import Count, MustWork, ToPass, Works
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, Verdict
from trainer.marking.mistakes.catalogue import MISTAKES, source_of
from trainer.pages.blocks import Card, Section, texts_of
from trainer.pages.feedback import feedback_document
from trainer.pages.html import as_html
from trainer.sheets.exercise_book import read_exercise_book


class Page(HTMLParser):
    """The elements and the text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.mismatched: list[str] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br", "link", "img", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.mismatched.append(tag)

    def handle_data(self, data: str) -> None:
        if data.strip() and self.open and self.open[-1] != "style":
            self.texts.append(data.strip())

    @property
    def headings(self) -> list[str]:
        return [tag for tag, _ in self.tags if re.fullmatch(r"h\d", tag)]


def html_of(lab: Scenario, graded: Marked, notices: tuple[str, ...] = (), *, reveal: Reveal = Reveal.ANSWERS) -> str:
    return as_html([feedback_document(lab, graded, notices, reveal=reveal)]).decode("utf-8")


def page_of(
    *cells: CellMark, lab: Scenario = LAB, notices: tuple[str, ...] = (), reveal: Reveal = Reveal.ANSWERS
) -> str:
    return html_of(lab, marked(*cells), notices, reveal=reveal)


def marked_way(way) -> Marked:
    texts = {cell: CellText(text) for cell, text in way.fill(LAB, key_texts(LAB)).items() if text}
    rows: dict[str, dict[RowKey, None]] = {}
    for cell in texts:
        rows.setdefault(cell.question.split(".", maxsplit=1)[0], {})[cell.row] = None
    open_rows = {name: tuple(keys) for name, keys in rows.items() if SECTIONS[name].open is not None}
    return mark(LAB, FilledForm(texts=texts, rows=open_rows))


# --- What stands on it ------------------------------------------------------------------------------------------------


def test_the_page_names_the_trainee_the_lab_and_the_marks():
    text = " ".join(Page(page_of()).texts)
    assert "Feedback for Zoë Ankersø" in text
    assert "Lab number BUN-TEST" in text
    assert "Marks 13.5 of 100 (13.5 %)" in text


def test_a_trainee_without_a_name_is_called_by_the_id():
    assert "Feedback for b01" in page_of(lab=replace(LAB, trainee=Trainee(id="b01")))


def test_every_section_has_a_line_with_its_marks_and_a_part_of_its_own():
    page = Page(page_of(WRONG))
    for section in FORM:
        assert [tag for tag, attributes in page.tags if attributes.get("id") == f"BUN-TEST-{section.id}"] == ["section"]
        assert page.texts.count(section.title) >= 2
    assert "1.5 of 20.0" in page.texts


def test_a_wrong_cell_has_sign_word_place_and_everything_that_is_said():
    texts = Page(page_of(WRONG)).texts
    start = texts.index("\u2717 wrong")
    assert texts[start : start + 13] == [
        "\u2717 wrong",
        "20: Gateway",
        "You wrote",
        *("10.20", ".2.2"),
        "; right:",
        *("10.20", ".9.9"),
        ". Here is why.",
        "Hint:",
        "Where would you look?",
        "Why, and what was tried",
        "What the network does:",
    ]


def test_octets_that_differ_from_the_right_ones_are_marked():
    """F8: own and expected answer side by side, where answers may be seen."""
    (box,) = re.findall(r"<article class=.card.*?</article>", page_of(WRONG), flags=re.DOTALL)
    assert "<code>10.20</code><b>.2.2</b>; right: <code>10.20</code><b>.9.9</b>" in box
    hidden = page_of(WRONG, reveal=Reveal.EXPLANATIONS)
    assert "You wrote <code>10.20.2.2</code>." in hidden


def test_a_section_without_a_remark_says_that_all_is_right():
    right = replace(WRONG, verdict=Verdict.RIGHT, explanation=None)
    assert "The cell is right." in Page(page_of(right)).texts


def test_notices_stand_at_the_top():
    texts = Page(page_of(notices=("There is no sheet Routes; it counts as not answered.",))).texts
    assert texts.index("There is no sheet Routes; it counts as not answered.") < texts.index("Sheet by sheet")


@pytest.mark.parametrize("reveal", Reveal)
def test_a_trainee_sees_as_much_as_the_exercise_says_and_no_more(reveal: Reveal):
    pieces = {
        "hint": SAID.hint,
        "explanation": SAID.explanation,
        "consequence": SAID.consequence,
        "answer": "10.20.9.9",
    }
    may_see = {
        Reveal.MARKS: set(),
        Reveal.HINTS: {"hint"},
        Reveal.EXPLANATIONS: {"hint", "explanation", "consequence"},
        Reveal.ANSWERS: set(pieces),
    }
    text = re.sub(r"<[^>]*>", "", page_of(WRONG, reveal=reveal))
    assert {name for name, piece in pieces.items() if piece in text} == may_see[reveal]
    assert ("Hint:" in text) is ("hint" in may_see[reveal])
    assert ("; right: " in text) is ("answer" in may_see[reveal])


@pytest.mark.parametrize("reveal", [Reveal.MARKS, Reveal.HINTS, Reveal.EXPLANATIONS])
@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_no_right_address_is_on_the_page_unless_answers_may_be_seen(way, reveal: Reveal):
    key = key_texts(LAB)
    text = html_of(LAB, marked_way(way), reveal=reveal)
    found = set(re.findall(r"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", text))
    typed = set(re.findall(r"\d+\.\d+\.\d+\.\d+", " ".join(way.fill(LAB, dict(key)).values())))
    assert not (found - typed) & set(key.values())


# --- Said once, the wrong ones first ----------------------------------------------------------------------------------

CIRCLES = replace(SAID, mistake="circles", explanation="Route 1 sends packets back and forth.")
FOLLOWS = "Right: it follows from your own earlier answers."


def row_of_routes(row: str, texts: tuple[str, ...], verdict: Verdict = Verdict.PARTLY) -> list[CellMark]:
    """The four cells of a row, about all of which the same is said."""
    return [
        replace(
            WRONG,
            section="routes",
            question=question.id,
            row=RowKey(row),
            given=text,
            verdict=verdict,
            explanation=CIRCLES,
        )
        for question, text in zip(SECTIONS["routes"].questions, texts, strict=True)
    ]


def follows(question: str, row: str = "20") -> CellMark:
    return replace(WRONG, question=question, row=RowKey(row), verdict=Verdict.FOLLOWS, explanation=None, remark=FOLLOWS)


def boxes(page_text: str) -> list[str]:
    """The text of every box, in order, its blanks as they are seen."""
    found = re.findall(r"<article class=.card.*?</article>", page_text, flags=re.DOTALL)
    return [" ".join(html.unescape(re.sub(r"<[^>]*>", "", each)).split()) for each in found]


def test_what_is_true_of_several_rows_is_said_once_with_all_that_was_written():
    """A summary route that carries other rows' packets: one box, not one for each cell and row."""
    written = row_of_routes("Route 1", ("A", "10.20.0.0", "/22", "10.20.9.1"))
    carried = [cell for row in ("A to 30", "A to 40") for cell in row_of_routes(row, ("",) * 4)]
    assert boxes(page_of(*written, *carried, reveal=Reveal.EXPLANATIONS)) == [
        "\u00bd partly 12 cells "
        "Route 1: Switch A, Destination network 10.20.0.0, Mask or prefix length /22, Next hop 10.20.9.1. "
        "Route 1 sends packets back and forth. Hint: Where would you look? "
        "Why, and what was tried What the network does: Here is what happens."
    ]


def test_cells_of_a_row_that_are_spoken_of_together_show_what_was_written_in_each():
    extra = row_of_routes("Route 9", ("A", "10.99.0.0", "/24", "10.99.0.1"), Verdict.EXTRA)
    (box,) = boxes(page_of(*(replace(cell, expected="") for cell in extra)))
    assert box.startswith(
        "\u271a extra Route 9 "
        "Switch A, Destination network 10.99.0.0, Mask or prefix length /24, Next hop 10.99.0.1. Route 1 sends"
    )


def test_a_sheet_on_which_too_much_takes_the_marks_away_is_not_called_right():
    """Every symptom is said to come from the fault: those that do are right, and the others cancel them."""
    lab = kept_lab("faults-harmless")
    assert lab.repair is not None
    texts = repair_papers.key_texts("faults-harmless")
    texts = texts | {("symptoms.fault", each.id): "1" for each in lab.repair.symptoms}
    right = sum(bool(each.faults) for each in lab.repair.symptoms)
    others = len(lab.repair.symptoms) - right
    text = " ".join(Page(html_of(lab, mark(lab, repair_papers.form(texts)))).texts)
    assert f"{right} of {right}, {others} too many" in text
    assert (
        f"{right} of {right} cells that count are right, {others} too many. What is too many takes marks away." in text
    )
    assert f"All {right} cells are right" not in text


def test_each_of_several_cells_has_its_own_right_answer_where_answers_may_be_seen():
    (box,) = boxes(page_of(WRONG, replace(WRONG, row=VlanRow(30), given="10.20.3.3", expected="10.20.8.8")))
    assert box.startswith(
        "\u2717 wrong 20, 30: Gateway 20: 10.20.2.2 (right: 10.20.9.9). 30: 10.20.3.3 (right: 10.20.8.8). Here is why."
    )
    assert "Right:" not in box


def test_a_missing_row_has_its_right_answers_where_answers_may_be_seen():
    written = replace(row_of_routes("Route 1", ("A",) * 4)[0], verdict=Verdict.RIGHT, explanation=None)
    cells = [written, *row_of_routes("A to 30", ("",) * 4, Verdict.MISSING)]
    (box,) = boxes(page_of(*cells))
    assert "A to 30 Switch (right: 10.20.9.9), Destination network (right: 10.20.9.9)" in box
    (box,) = boxes(page_of(*cells, reveal=Reveal.EXPLANATIONS))
    assert "right:" not in box


def test_beside_a_right_value_that_a_decision_made_wrong_stands_no_other():
    decided = replace(WRONG, given="10.20.9.9", decision="Copied from a neighbour.")
    (box,) = boxes(page_of(decided))
    assert "right:" not in box


def test_causes_that_another_one_hides_come_behind_it():
    hidden = replace(SAID, masked_by="ports A/1", seen="In yours that stays so.")
    rows = [RowKey(str(number)) for number in (10, 20, 30, 40, 50)]
    said = [hidden, hidden, hidden, SAID, SAID]
    cells = [
        replace(WRONG, row=row, explanation=replace(each, explanation=f"Reason {row}."), out_of=Fraction(10))
        for row, each in zip(rows, said, strict=True)
    ]
    titles = [text.split(",")[1].split(":")[0] for text in boxes(page_of(*cells))[:3]]
    assert titles == [" 40", " 50", " 10"]
    cells = [replace(each, explanation=replace(hidden, masked_by="subnets 50", explanation="x")) for each in cells[:3]]
    last = replace(WRONG, row=VlanRow(50), explanation=replace(SAID, explanation="y"), out_of=Fraction(0))
    others = [replace(last, row=RowKey(row), explanation=replace(SAID, explanation=row)) for row in ("60", "70")]
    assert boxes(page_of(*cells, *others, last))[0].startswith("\u2717 wrong Subnets, 50: ")


def test_what_is_right_by_the_trainees_own_plan_is_called_that():
    (box,) = boxes(page_of(replace(WRONG, by_plan=True)))
    assert box.startswith("\u2717 wrong 20: Gateway You wrote 10.20.2.2; right by your own plan: 10.20.9.9. ")
    two = (replace(WRONG, by_plan=True), replace(WRONG, row=VlanRow(30)))
    (box,) = boxes(page_of(*two))
    assert "20: 10.20.2.2 (right by your own plan: 10.20.9.9). 30: 10.20.2.2 (right: 10.20.9.9)." in box


def test_cells_that_are_right_in_part_are_counted():
    text = page_of(WRONG, replace(WRONG, row=VlanRow(30), verdict=Verdict.PARTLY))
    assert "0 of 2 cells are right, 1 in part." in text
    assert ">0 of 2, 1 in part<" in text


def test_standards_to_read_on_in_stand_once_with_their_sections():
    said = [replace(SAID, mistake=each.id) for each in MISTAKES if "RFC 7513" in each.source][:8]
    cells = [replace(WRONG, row=RowKey(str(row)), explanation=each) for row, each in enumerate(said)]
    (line,) = [text for text in Page(page_of(*cells)).texts if "RFC 7513" in text]
    assert line.count("RFC 7513 section ") == 1
    assert "practice" not in line


def test_cells_of_which_different_things_are_said_stay_apart():
    other = replace(WRONG, row=VlanRow(30), explanation=replace(SAID, hint="Elsewhere?"))
    assert len(boxes(page_of(WRONG, other))) == 2


def test_what_is_wrong_stands_before_what_is_right_and_that_in_one_short_list():
    cells = (
        follows("subnets.first"),
        follows("subnets.last"),
        WRONG,
        follows("subnets.last", "30"),
        replace(follows("subnets.gateway", "30"), verdict=Verdict.RIGHT, remark="Right: another way."),
    )
    (wrong,) = boxes(page_of(*cells))
    assert wrong.startswith("\u2717 wrong 20: Gateway")
    text = page_of(*cells)
    fold = text[text.index("4 cells right, though not as in the key</summary>") :]
    assert text.index("wrong</span> 20: Gateway") < text.index(fold)
    assert re.findall(r"<li>(.*)</li>", fold)[:2] == [
        f"20: First usable, Last usable; 30: Last usable. {FOLLOWS}",
        "30: Gateway. Right: another way.",
    ]


def test_a_section_that_is_right_throughout_has_nothing_to_look_at_again():
    texts = Page(page_of(follows("subnets.first"), WRONG, follows("subnets.last"))).texts
    assert "2 of 3 cells are right. To look at again:" in texts
    texts = Page(page_of(follows("subnets.first"), follows("subnets.last"))).texts
    assert "All 2 cells are right." in texts
    assert not [text for text in texts if "To look at again" in text]


def test_a_right_cell_by_the_instructors_decision_has_its_reason_in_the_list():
    decided = replace(WRONG, verdict=Verdict.RIGHT, explanation=None, decision="The slide said so.")
    assert boxes(page_of(decided)) == [
        "\u2713 Right, though not as in the key 20: Gateway. The instructor's decision: The slide said so."
    ]


# --- How it is made ---------------------------------------------------------------------------------------------------


def test_paper_shows_only_sections_of_which_something_is_said():
    text = page_of(WRONG)
    printed = text[text.index("@media print") :]
    assert ".for-screen { display: none; }" in printed
    classes = {
        attributes["id"]: attributes.get("class")
        for tag, attributes in Page(text).tags
        if tag == "section" and "id" in attributes
    }
    assert classes == {
        "BUN-TEST-subnets": None,
        **{f"BUN-TEST-{section.id}": "for-screen" for section in FORM[1:]},
    }


@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_the_page_is_well_formed_and_needs_nothing_from_elsewhere(way):
    text = html_of(LAB, marked_way(way), ("A notice.",))
    page = Page(text)
    assert (page.open, page.mismatched) == ([], [])
    assert "http" not in text
    assert "@import" not in text
    assert "url(" not in text
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "form", "base", "svg"}
    names = {name for _, attributes in page.tags for name in attributes}
    assert not [name for name in names if name.startswith("on") or name in ("src", "action")]
    assert all(str(attributes["href"]).startswith("#") for _, attributes in page.tags if "href" in attributes)


@pytest.mark.parametrize("way", FILLINGS, ids=lambda way: way.shows)
def test_headings_are_in_order_and_none_is_left_out(way):
    headings = Page(html_of(LAB, marked_way(way))).headings
    assert headings[0] == "h1"
    assert headings.count("h1") == 1
    levels = [int(heading[1]) for heading in headings]
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_every_link_leads_to_a_place_on_the_page():
    page = Page(page_of(WRONG))
    ids = {attributes["id"] for _, attributes in page.tags if "id" in attributes}
    assert {str(attributes["href"])[1:] for _, attributes in page.tags if "href" in attributes} <= ids


def test_the_page_says_its_language_title_and_encoding():
    page = Page(page_of())
    assert ("html", {"lang": "en"}) in page.tags
    assert ("meta", {"charset": "utf-8"}) in page.tags
    assert "Feedback b01 - BAKERY" in page.texts


def test_bars_are_said_in_words_too():
    page = Page(page_of())
    bars = [attributes for tag, attributes in page.tags if attributes.get("class") == "bar"]
    assert len(bars) == len(FORM), "no cell was asked, so there is nothing to say by concept"
    assert all(attributes["aria-hidden"] == "true" for attributes in bars)


def test_the_columns_of_the_table_have_headings():
    heads = [attributes.get("scope") for tag, attributes in Page(page_of()).tags if tag == "th"]
    assert heads.count("col") == 4 + 3
    assert heads.count("row") == len(FORM)


def test_the_concepts_have_the_right_cells_of_their_sheets():
    cells = (WRONG, replace(WRONG, question="links.mask", section="links", row=RowKey("A-B"), verdict=Verdict.RIGHT))
    texts = Page(page_of(*cells)).texts
    assert texts[texts.index("Addressing") + 1] == "1 of 2"
    assert "Routing" not in texts


# --- Causes first -----------------------------------------------------------------------------------------------------


def wrong_gateways(count: int) -> list[CellMark]:
    """As many cells of which different things are said."""
    return [
        replace(WRONG, row=RowKey(str(number)), explanation=replace(SAID, hint=f"Hint {number}?"))
        for number in range(count)
    ]


def test_of_many_causes_the_three_on_which_most_rests_come_first_and_only_there():
    """F6: at most three causes in full in one view."""
    cells = wrong_gateways(5)
    root = replace(SAID, hint="Root?", followed=("Subnets 20: Mask", "Subnets 20: Broadcast address"))
    page = page_of(*cells, replace(WRONG, row=RowKey("root"), explanation=root))
    first = page[page.index('id="BUN-TEST-first"') : page.index("Sheet by sheet")]
    assert [box.split(":")[0] for box in boxes(first)] == [
        "\u2717 wrong Subnets, root",
        "\u2717 wrong Subnets, 0",
        "\u2717 wrong Subnets, 1",
    ]
    assert page.count("Root?") == 1
    assert "What follows from it counts: Subnets 20: Mask, Subnets 20: Broadcast address." in first


def test_what_fits_into_one_view_has_no_part_of_its_own():
    assert 'id="BUN-TEST-first"' not in page_of(*wrong_gateways(3))


def test_more_than_three_causes_of_a_sheet_are_folded():
    page = page_of(*wrong_gateways(9))
    section = page[page.index('<section id="BUN-TEST-subnets"') :]
    shown, folded = section.split('<details class="fold"><summary>3 more on sheet Subnets</summary>')
    assert (len(boxes(shown)), len(boxes(folded))) == (3, 3)


def test_rules_and_standards_to_read_on_in_are_named_once():
    said = replace(SAID, mistake="gateway-is-network")
    page = page_of(replace(WRONG, explanation=said), replace(WRONG, row=VlanRow(30), explanation=said))
    section = page[page.index("Where to read on") :]
    assert section.count("RFC") == source_of("gateway-is-network").count("RFC") > 0
    assert "Subnets: </b>Brief, rules 1 to 4; " in section
    assert "Where to read on" not in page_of(replace(WRONG, verdict=Verdict.RIGHT, explanation=None))


# --- Hostile text -----------------------------------------------------------------------------------------------------

HOSTILE = [
    "<script>alert(1)</script>",
    "<b>bold</b>",
    '"><img src=x onerror=alert(1)>',
    "</code></p></article>",
    "&lt;b&gt;",
    "{{ scenario }}",
    "{% include 'x' %}",
    "</style>",
    "<!--",
    "' onclick='x",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_others_is_shown_as_it_was_typed(text: str):
    lab = replace(LAB, title=text, trainee=Trainee(id="b01", name=text))
    said = replace(SAID, explanation=text, consequence=text, hint=text)
    cell = replace(WRONG, given=text, expected=text, row=RowKey(text), explanation=said)
    page_text = page_of(cell, lab=lab, notices=(text,))
    page = Page(page_text)
    assert (page.open, page.mismatched) == ([], [])
    assert not {tag for tag, _ in page.tags} & {"script", "img"}
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    assert text in html.unescape(page_text)
    assert page.texts.count(text) >= 4, "title, given, consequence, answer and notice"
    assert " ".join(page.texts).count(text) >= 7, "explanation and hint beside other words"


@given(st.text(max_size=60))
def test_any_text_gives_a_page_that_is_well_formed(text: str):
    clean = text.encode("utf-8", "ignore").decode()
    page = Page(page_of(replace(WRONG, given=clean, explanation=replace(SAID, explanation=clean)), notices=(clean,)))
    assert (page.open, page.mismatched) == ([], [])


@pytest.mark.parametrize(("marks", "width"), [("0", "0.0%"), ("5", "25.0%"), ("20", "100.0%")])
def test_the_bar_is_as_long_as_the_part_of_the_marks(marks: str, width: str):
    text = html_of(LAB, marked(marks=marks))
    assert f'style="width:{width}"' in text


# --- Begin here -------------------------------------------------------------------------------------------------------


def addressing() -> Scenario:
    (file,) = (each.file for each in ready_made() if each.file.stem == "addressing")
    exercise = replace(read_exercise_book(file.read_bytes()), trainees=(Trainee(id="c00"),))
    return draw(exercise, 1)[0]


def worked_out_from(lab: Scenario, cell: CellRef, value: object) -> FilledForm:
    """The whole form, rightly worked out from one error, even where that leads out of the block."""
    so_far = SoFar(lab, {cell: value}, takes_all=True)
    values = {
        CellRef(question.id, row.key): so_far.value(question, row.key)
        for section in FORM
        for row in section.rows(lab)
        for question in section.questions_in(lab)
    }
    texts = key_texts(lab, Answers(values=values, rows={}))
    return filled({cell: text for cell, text in texts.items() if cell.question.partition(".")[0] in lab.asked})


def begun_with(lab: Scenario, marked: Marked) -> list[str]:
    document = feedback_document(lab, marked, (), reveal=Reveal.EXPLANATIONS)
    (section,) = (each for each in document.blocks if isinstance(each, Section) and each.title == "Begin here")
    return [each.title for each in section.blocks if isinstance(each, Card)]


def test_the_page_begins_with_the_root_of_a_chain_and_not_with_what_follows_from_it():
    """The first prefix one bit short moves all networks behind it, the last ones out of a block that was just large enough."""
    lab = addressing()
    lab = replace(lab, block=next(iter(lab.block.subnets(new_prefix=tightest(lab)))))
    row = subnets.row_of(first_of(lab))
    short = SoFar(lab).value(subnets.PREFIX_LENGTH_OF, row) - 1
    marked = mark(lab, worked_out_from(lab, CellRef(subnets.PREFIX_LENGTH_OF.id, row), short))
    assert (
        sum("lies outside the block" in each.explanation.explanation for each in marked.cells if each.explanation) > 5
    )
    assert begun_with(lab, marked) == [f"Subnets, {row}: Prefix length"]


def tightest(lab: Scenario) -> int:
    """The length of the smallest block at the same start that holds all networks of the key."""
    key = SoFar(lab)
    last = max(int(subnets.network_of(key, vlan.id).broadcast_address) for vlan in lab.vlans)
    return 32 - (last - int(lab.block.network_address)).bit_length()


def first_of(lab: Scenario) -> int:
    """The VLAN whose network comes first."""
    key = SoFar(lab)
    return min(lab.vlans, key=lambda vlan: int(subnets.network_of(key, vlan.id).network_address)).number


# --- One line a cause --------------------------------------------------------------------------------------------------


def on_paper(*cells: CellMark, full: bool = False, reveal: Reveal = Reveal.EXPLANATIONS) -> str:
    document = feedback_document(LAB, marked(*cells), (), reveal=reveal, full=full)
    return " ".join(texts_of(document.blocks, on_paper=True))


def test_paper_has_what_where_and_what_to_do_and_the_rest_only_where_it_is_asked_for():
    tried = replace(WRONG, explanation=replace(SAID, seen="With this right, 1 ping comes back."))
    for text in ("20: Gateway", "10.20.2.2", "Here is why.", "Where would you look?"):
        assert text in on_paper(tried)
        assert text in on_paper(tried, full=True)
    for text in ("Here is what happens.", "1 ping comes back", "By concept", "Where to read on"):
        assert text not in on_paper(tried)
        assert text in on_paper(tried, full=True)
    assert '<details class="fold for-screen"><summary>Why, and what was tried</summary>' in page_of(tried)


def test_the_instructors_reason_stands_on_paper_also_beside_right_cells():
    decided = replace(WRONG, verdict=Verdict.RIGHT, explanation=None, decision="The slide said so.")
    assert "The slide said so." in on_paper(decided, reveal=Reveal.MARKS)
    assert "The slide said so." in on_paper(replace(WRONG, decision="The slide said so."), reveal=Reveal.MARKS)
    assert FOLLOWS not in on_paper(follows("subnets.first"), WRONG)


def blank(section: str, loses: int = 0) -> list[CellMark]:
    """All cells of a row of a sheet on which nothing stands."""
    said = replace(SAID, explanation="This cell is empty.", loses=loses, seen=f"seen {section}")
    return [
        replace(
            WRONG,
            section=section,
            question=question.id,
            row=RowKey("30"),
            given="",
            verdict=Verdict.BLANK,
            explanation=said,
        )
        for question in SECTIONS[section].questions
    ]


def test_of_a_blank_sheet_nothing_but_a_count_is_said():
    text = on_paper(WRONG, *blank("pools"))
    assert "Then fill in what is empty, in this order: Pools (6 cells)." in text
    assert "This cell is empty." not in text


def test_on_a_nearly_blank_paper_what_was_written_wrong_comes_first_and_what_is_empty_in_the_order_of_the_form():
    """However much more the network loses by the blank sheets: they are no error, and a line names them all."""
    empty = [cell for sheet in ("relays", "pools", "links") for cell in blank(sheet, loses=40)]
    cells = [*empty, *wrong_gateways(1)]
    document = feedback_document(LAB, marked(*cells), (), reveal=Reveal.EXPLANATIONS)
    (section,) = (each for each in document.blocks if isinstance(each, Section) and each.title == "Begin here")
    assert [each.title for each in section.blocks if isinstance(each, Card)] == ["Subnets, 0: Gateway"]
    assert (
        texts_of(section.blocks)[0]
        == "Put this right first: it costs your network most, and hides or causes other errors."
    )
    assert texts_of(section.blocks)[-1] == (
        "Then fill in what is empty, in this order: Links (4 cells), Pools (6 cells) and Relays (4 cells)."
    )


def test_where_nothing_but_blank_sheets_is_left_the_page_says_in_which_order_to_go_on():
    right = replace(WRONG, verdict=Verdict.RIGHT, explanation=None)
    assert "Begin here Fill in what is empty, in this order: Pools (6 cells)." in on_paper(right, *blank("pools"))


def test_what_a_remark_names_itself_is_not_told_before_it():
    named = replace(WRONG, explanation=replace(SAID, explanation="10.20.2.2 is the broadcast address."))
    (box,) = boxes(page_of(named, reveal=Reveal.EXPLANATIONS))
    assert box.startswith("\u2717 wrong 20: Gateway 10.20.2.2 is the broadcast address. Hint:")
    longer = replace(WRONG, explanation=replace(SAID, explanation="10.20.2.20 is the broadcast address."))
    (box,) = boxes(page_of(longer, reveal=Reveal.EXPLANATIONS))
    assert "You wrote 10.20.2.2. 10.20.2.20 is" in box
    (box,) = boxes(page_of(named, reveal=Reveal.ANSWERS))
    assert "You wrote 10.20.2.2; right: 10.20.9.9. 10.20.2.2 is" in box


def test_what_the_network_loses_decides_what_to_begin_with_and_not_the_marks():
    dear = [replace(each, out_of=Fraction(9)) for each in wrong_gateways(4)]
    cheap = replace(WRONG, row=RowKey("90"), out_of=Fraction(1), explanation=replace(SAID, hint="90?", loses=3))
    assert boxes(page_of(*dear, cheap))[0].startswith("\u2717 wrong Subnets, 90: Gateway")


def test_an_error_that_hides_many_comes_first_and_those_name_it():
    """By itself it stops one ping; what nobody sees for it stops thirty."""
    root = replace(WRONG, row=RowKey("50"), explanation=replace(SAID, hint="root?", loses=1, seen="one"))
    hidden = [
        replace(each, explanation=replace(SAID, hint=each.row, loses=10, seen="ten", masked_by="subnets 50"))
        for each in wrong_gateways(3)
    ]
    open_ones = [
        replace(
            each, row=RowKey(f"6{each.row}"), explanation=replace(SAID, hint=f"6{each.row}", loses=20, seen="twenty")
        )
        for each in wrong_gateways(3)
    ]
    found = boxes(page_of(*open_ones, *hidden, root))
    assert found[0].startswith("\u2717 wrong Subnets, 50: Gateway")
    assert [box.split(":")[0][-2:] for box in found[:3]] == ["50", "60", "61"]
    behind = on_paper(*open_ones, *hidden, root).partition(
        "Seen in your network only once Subnets, 50: Gateway is right: "
    )[2]
    assert [each in behind for each in ("0: Gateway", "1: Gateway", "2: Gateway")] == [True] * 3
    assert "62: Gateway" not in behind, "what is hidden by nothing stands before it"


def test_errors_that_hide_each_other_have_one_beginning():
    ring = [
        replace(
            each, explanation=replace(SAID, hint=each.row, loses=int(each.row), seen="x", masked_by=f"subnets {other}")
        )
        for each, other in zip(wrong_gateways(4), "1230", strict=True)
    ]
    found = boxes(page_of(*ring))
    assert found[0].startswith("\u2717 wrong Subnets, 3: Gateway")
    assert on_paper(*ring).count("Seen in your network only once Subnets, 3: Gateway is right:") == 1


# --- What works -------------------------------------------------------------------------------------------------------

WORKING = Works(leases=Count(shown=6, of=6), pings=Count(shown=60, of=72), attacks=Count(shown=0, of=24))
RULE = ToPass(pass_mark=10, must_work=MustWork(leases=100, pings=80, attacks=90))


@pytest.mark.parametrize("reveal", Reveal)
def test_what_works_stands_at_the_top_whatever_may_be_seen(reveal: Reveal):
    facts = feedback_document(LAB, replace(marked(WRONG), works=WORKING), (), reveal=reveal).facts
    assert facts[-1] == ("In your network", "leases 6 of 6, pings 60 of 72, attacks stopped 0 of 24")


def test_what_the_network_lacks_for_a_pass_is_said_in_a_sentence_before_all_else():
    seen = replace(marked(WRONG), works=WORKING)
    texts = texts_of(feedback_document(LAB, seen, (), reveal=Reveal.MARKS, to_pass=RULE).blocks)
    assert texts[0] == "Not enough to pass: 10 reached, but 0 of 24 attacks are stopped; 22 are needed."


def test_nothing_is_said_of_a_pass_where_nothing_must_work():
    seen = replace(marked(WRONG), works=WORKING)
    assert "pass" not in " ".join(texts_of(feedback_document(LAB, seen, (), reveal=Reveal.MARKS).blocks))


def test_the_page_says_whether_the_pass_mark_is_reached():
    for pass_mark, told in ((13, "13 %, reached"), (14, "14 %, not reached")):
        rule = ToPass(pass_mark=pass_mark, must_work=None)
        facts = dict(feedback_document(LAB, marked(), (), reveal=Reveal.MARKS, to_pass=rule).facts)
        assert facts["Pass mark"] == told
    none = ToPass(pass_mark=0, must_work=None)
    assert "Pass mark" not in dict(feedback_document(LAB, marked(), (), reveal=Reveal.MARKS, to_pass=none).facts)


# --- One line for many cells ------------------------------------------------------------------------------------------


def test_what_is_said_alike_of_different_values_is_said_once():
    """One misread rule in six rows is one cause."""
    cells = [
        replace(
            WRONG,
            row=RowKey(str(number)),
            given=f"10.20.{number}.1",
            explanation=replace(SAID, explanation=f"10.20.{number}.1 is at the wrong end of the network."),
        )
        for number in range(6)
    ]
    (box,) = boxes(page_of(*cells, reveal=Reveal.EXPLANATIONS))
    assert box.startswith(
        "\u2717 wrong 0, 1, 2, 3, 4, 5: Gateway 0: 10.20.0.1. 1: 10.20.1.1. 2: 10.20.2.1. 3: 10.20.3.1. And 2 more cells. "
        "Each of these is at the wrong end of the network. Hint:"
    )
    same = [replace(cell, given="10.20.0.1", explanation=cells[0].explanation) for cell in cells]
    (box,) = boxes(page_of(*same, reveal=Reveal.EXPLANATIONS))
    assert box.startswith("\u2717 wrong 0, 1, 2, 3, 4, 5: Gateway 10.20.0.1 is at the wrong end of the network. Hint:")


def test_exchanged_columns_of_a_row_are_one_cause_and_no_row_too_many():
    """What the row is meant for is marked in the written row, not in one that the trainee has never seen."""
    lab = LAB
    row = routes.ROUTES.row("Route 2")
    texts = key_texts(lab)
    there, by = CellRef(routes.DESTINATION.id, row), CellRef(routes.NEXT_HOP.id, row)
    texts[there], texts[by] = texts[by], texts[there]
    found = boxes(html_of(lab, mark(lab, filled(texts)), reveal=Reveal.EXPLANATIONS))
    (box,) = [each for each in found if "exchanged" in each]
    assert box.startswith("\u00bd partly Route 2 Destination network ")


@pytest.mark.parametrize("reveal", [Reveal.HINTS, Reveal.EXPLANATIONS])
def test_rows_that_are_not_written_are_named_only_where_answers_may_be_seen(reveal: Reveal):
    """A default route carries many: their names would say which rows the key has."""
    way = next(each for each in FILLINGS if "default route" in each.shows)
    found = marked_way(way)
    names = {cell.row for cell in found.cells if cell.section == "routes" and not cell.row.startswith("Route ")}
    assert names
    assert not [name for name in names if name in html_of(LAB, found, reveal=reveal)]
    assert all(name in html_of(LAB, found, reveal=Reveal.ANSWERS) for name in names)


def test_what_only_blank_sheets_hide_may_be_begun_with_and_says_what_it_waits_for():
    hidden = [
        replace(each, explanation=replace(SAID, hint=each.row, seen="x", masked_by="bindings Binding 1"))
        for each in wrong_gateways(5)
    ]
    text = on_paper(*hidden, *blank("bindings", loses=9))
    assert text.index("Subnets, 0: Gateway") < text.index(
        "Then fill in what is empty, in this order: Bindings (6 cells)."
    )
    assert "Seen in your network only once the empty sheets are filled in: 3: Gateway" in text
    assert "sheet Bindings" not in text


def test_of_a_blank_workbook_one_sentence_says_all():
    text = page_of(*(cell for section in FORM for cell in blank(section.id)))
    assert "Nothing is written in this workbook." in text
    assert text.count("Bindings") == 3, "in the list of what to do, in the table of marks, and where to read on"


def test_several_empty_cells_are_called_so_and_nobody_prints_a_command():
    said = replace(SAID, explanation="This cell is empty.")
    cells = [replace(each, given="", verdict=Verdict.BLANK, explanation=said) for each in wrong_gateways(2)]
    text = on_paper(replace(WRONG, row=RowKey("9")), *cells)
    assert "These cells are empty." in text
    assert "trainer practise" not in text
    assert "trainer practise --after marked-BUN-TEST.xlsx" in page_of(WRONG)
