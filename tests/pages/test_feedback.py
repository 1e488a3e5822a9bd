"""The feedback page: as much as may be seen, headings in order, nothing from elsewhere, and typed text stays text."""

import html
import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from drawn_labs import bakery, exercise_of
from hypothesis import given
from hypothesis import strategies as st

from trainer.commands.demo_class import WAYS, key_texts
from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import RowKey
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Reveal, Scenario, Trainee
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict
from trainer.marking.mistakes.mistake import Explanation
from trainer.pages.feedback import write_feedback_page

LAB = replace(
    bakery(),
    trainee=Trainee(id="b01", name="Zoë Ankersø"),
    sections=exercise_of(HARBOUR).sections,
    reveal=Reveal.ANSWERS,
)
SAID = Explanation(
    mistake="invented", explanation="Here is why.", consequence="Here is what happens.", hint="Where would you look?"
)
WRONG = CellMark(
    section="subnets",
    question="subnets.gateway",
    row=RowKey("20"),
    given="10.20.2.2",
    expected="10.20.9.9",
    verdict=Verdict.WRONG,
    marks=Decimal(0),
    out_of=Decimal("0.571"),
    explanation=SAID,
)


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


def marked(*cells: CellMark, marks: str = "1.5") -> Marked:
    return Marked(
        cells=cells,
        sections=tuple(
            SectionMark(section=share.section, marks=Decimal(marks), out_of=Decimal(share.share))
            for share in LAB.sections
        ),
    )


def page_of(*cells: CellMark, lab: Scenario = LAB, notices: tuple[str, ...] = ()) -> str:
    return write_feedback_page(lab, marked(*cells), notices).decode("utf-8")


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
    for number, section in enumerate(FORM, 1):
        assert ("section", {"id": f"s{number}"}) in page.tags
        assert page.texts.count(section.title) >= 2
    assert "1.5 of 20" in page.texts


def test_a_wrong_cell_has_sign_word_place_and_everything_that_is_said():
    texts = Page(page_of(WRONG)).texts
    start = texts.index("\u2717 wrong")
    assert texts[start : start + 11] == [
        "\u2717 wrong",
        "20: Gateway",
        "You wrote",
        "10.20.2.2",
        ".",
        "Here is why.",
        "What the network does:",
        "Here is what happens.",
        "Hint:",
        "Where would you look?",
        "Right:",
    ]


def test_a_section_without_a_remark_says_that_all_is_right():
    right = replace(WRONG, verdict=Verdict.RIGHT, explanation=None)
    assert "All 1 cells are right." in Page(page_of(right)).texts


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
    text = page_of(WRONG, lab=replace(LAB, reveal=reveal))
    assert {name for name, piece in pieces.items() if piece in text} == may_see[reveal]
    assert ("Hint:" in text) is ("hint" in may_see[reveal])
    assert ("Right:" in text) is ("answer" in may_see[reveal])


@pytest.mark.parametrize("reveal", [Reveal.MARKS, Reveal.HINTS, Reveal.EXPLANATIONS])
@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.shows)
def test_no_right_address_is_on_the_page_unless_answers_may_be_seen(way, reveal: Reveal):
    key = key_texts(LAB)
    text = write_feedback_page(replace(LAB, reveal=reveal), marked_way(way), ()).decode()
    found = set(re.findall(r"(?<![\d.])\d+\.\d+\.\d+\.\d+(?![\d.])", text))
    typed = set(re.findall(r"\d+\.\d+\.\d+\.\d+", " ".join(way.fill(LAB, dict(key)).values())))
    assert not (found - typed) & set(key.values())


# --- How it is made ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.shows)
def test_the_page_is_well_formed_and_needs_nothing_from_elsewhere(way):
    text = write_feedback_page(LAB, marked_way(way), ("A notice.",)).decode()
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


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.shows)
def test_headings_are_in_order_and_none_is_left_out(way):
    headings = Page(write_feedback_page(LAB, marked_way(way), ()).decode()).headings
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
    assert len(bars) == len(FORM)
    assert all(attributes["aria-hidden"] == "true" for attributes in bars)


def test_the_columns_of_the_table_have_headings():
    heads = [attributes.get("scope") for tag, attributes in Page(page_of()).tags if tag == "th"]
    assert heads.count("col") == 4
    assert heads.count("row") == len(FORM)


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
    assert page.texts.count(text) >= 5, "given, explanation, consequence, hint, answer and notice"


@given(st.text(max_size=60))
def test_any_text_gives_a_page_that_is_well_formed(text: str):
    clean = text.encode("utf-8", "ignore").decode()
    page = Page(page_of(replace(WRONG, given=clean, explanation=replace(SAID, explanation=clean)), notices=(clean,)))
    assert (page.open, page.mismatched) == ([], [])


@pytest.mark.parametrize(("marks", "width"), [("0", "0.0%"), ("5", "25.0%"), ("20", "100.0%")])
def test_the_bar_is_as_long_as_the_part_of_the_marks(marks: str, width: str):
    text = write_feedback_page(LAB, marked(marks=marks), ()).decode()
    assert f'style="width:{width}"' in text
