"""PDF: the same texts as the HTML page, tagged, the same bytes each time, and no text is ever a command."""

import html
import io
import random
import re
from itertools import pairwise
from typing import Any

import pytest
from drawn_labs import bakery, draw
from filled_forms import filled
from marked_by_hand import LAB, WRONG, marked
from repair_labs import kept_lab

from trainer.commands.demo_class import FILLINGS, key_texts
from trainer.commands.exercises import ready_made
from trainer.errors import TrainerError
from trainer.lab.answers import FilledForm
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.scenario import Reveal, Scenario
from trainer.marking.marker import mark
from trainer.pages import pdf
from trainer.pages.blocks import Document, Figure, Paper, Paragraph, Table, texts_of
from trainer.pages.brief_text import general_brief
from trainer.pages.drawing import Drawing
from trainer.pages.feedback import feedback_document
from trainer.pages.handout import handout_document
from trainer.pages.html import as_html
from trainer.pages.key import key_document
from trainer.pages.pdf import HOW_TO_GET_IT, as_pdf, can_make_pdf
from trainer.sheets.exercise_book import read_exercise_book

pypdf = pytest.importorskip("pypdf")
needs_typesetter = pytest.mark.skipif(not can_make_pdf(), reason="typst is not installed: pip install -e '.[pdf]'")


def key_of_the_bakery() -> Document:
    key = derive_key(bakery())
    return key_document(bakery(), key, prove(bakery(), key))


BRIEF = """# Bread

Lab **{{ lab }}**, `{{ block }}`, *before six*; see [RFC 2131](https://www.rfc-editor.org/rfc/rfc2131).

1. plan
   - subnets
   - links

   then draw
2. prove

| Switch | Place |
|---|---|
{% for each in switches %}| {{ each.name }} | {{ each.place }} |
{% endfor %}

> Mind the mains.

```
one  two
three
```

## Below

###### Far below

- one
- two
"""
DOCUMENTS = {
    "key": key_of_the_bakery,
    "handout": lambda: handout_document(LAB, BRIEF, Answers(values={}, rows={})),
    "feedback": lambda: feedback_document(LAB, marked(WRONG), ("A notice.",), reveal=Reveal.ANSWERS),
}


def document(*blocks, title: str = "A page") -> Document:
    return Document(
        title=title, heading=title, over="over", facts=(("Lab", "L"),), blocks=blocks, foot="foot", running="run"
    )


def read(data: bytes):
    return pypdf.PdfReader(io.BytesIO(data))


def pdf_of(documents: list[Document], *arguments: Paper, **options: str) -> bytes:
    return as_pdf(documents, *arguments, **options).data


def squeezed(text: str) -> str:
    """Without blanks, hyphens and line ends, which typesetting moves about."""
    return re.sub(r"[\s\u00ad\u2010-]", "", text)


def text_of(data: bytes) -> str:
    return squeezed("".join(page.extract_text() for page in read(data).pages))


@needs_typesetter
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_pdf_and_html_say_the_same(kind: str):
    """What is for the screen only is left out on paper."""
    made = DOCUMENTS[kind]()
    page = squeezed(html.unescape(re.sub(r"<[^>]*>", "", as_html([made]).decode())))
    paper = text_of(pdf_of([made]))
    for text in texts_of(made.blocks, on_paper=True):
        assert squeezed(text) in page, text
        assert squeezed(text) in paper, text


@needs_typesetter
def test_the_pdf_is_tagged_and_says_title_language_and_standard():
    catalog = read(pdf_of([key_of_the_bakery()])).trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"] == "en"
    assert "/StructTreeRoot" in catalog
    metadata = catalog["/Metadata"].get_data().decode()
    assert "pdfuaid:part" in metadata
    assert "ANSWER KEY BAKERY BUN-TEST" in metadata


@needs_typesetter
def test_table_heads_are_repeated_and_every_page_has_its_number():
    rows = tuple(((f"row {number}",), (f"value {number}",)) for number in range(150))
    pages = read(pdf_of([document(Table(title="Long", headings=("First head", "Second head"), rows=rows))])).pages
    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        text = " ".join(page.extract_text().split())
        assert "First head" in text
        assert f"page {number} of {len(pages)}" in text
        assert "run" in text


@needs_typesetter
@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_it_is_as_large_as_the_paper(paper: Paper, size: tuple[int, int]):
    box = read(pdf_of([document()], paper)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


@needs_typesetter
def test_the_same_page_gives_the_same_bytes():
    assert pdf_of([document(Paragraph(("same",)))]) == pdf_of([document(Paragraph(("same",)))])


HOSTILE = [
    '#read("/etc/passwd")',
    "$x^2$ *b* _i_ `r` = h",
    "#{while true {}}",
    "\\u{41} \\ // /* */ @ref <label>",
    "<script>alert(1)</script>",
    "]]] }}} )))",
    "{{ lab }} {% x %}",
]


@needs_typesetter
@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_others_is_never_a_command(text: str):
    rows = (((text,), (text,)),)
    made = document(Paragraph((text,)), Table(title=text, headings=(text, "b"), rows=rows), title=text)
    assert text_of(pdf_of([made])).count(squeezed(text)) >= 5


@needs_typesetter
def test_characters_that_nobody_can_print_are_shown_by_a_sign():
    assert "a\ufffdb\ufffdc" in text_of(pdf_of([document(Paragraph(("a\x1bb\u202ec",)))]))


@needs_typesetter
def test_characters_that_no_font_has_are_named_and_a_sign_stands_in_their_place():
    """The rest of the page, and of a class, is printed."""
    made = as_pdf([document(Paragraph(("Tea in \u6771\u4eac \U0001f642",)), title="Handout T07")])
    assert made.not_shown == {"\u6771", "\u4eac", "\U0001f642"}
    assert "Teain\ufffd\ufffd\ufffd" in text_of(made.data)
    assert as_pdf([document(Paragraph(("Zo\u00eb \u0414",)))]).not_shown == frozenset()


@needs_typesetter
def test_a_long_word_is_broken_and_does_not_run_into_the_next_column():
    """It is as wide as three of the eight columns."""
    word = "Hafenverwaltungsgesellschaftsvertretung"
    headings = tuple(f"Column {number}" for number in range(8))
    table = Table(title="t", headings=headings, rows=(((word,), ("next",), *((("x",),) * 6)),), names_rows=False)
    text = read(pdf_of([document(table)])).pages[0].extract_text()
    assert word not in text, "it stands on several lines"
    assert squeezed(word) in squeezed(text.replace("next", ""))


@needs_typesetter
def test_a_drawing_is_told_in_words_to_those_who_do_not_see_it():
    svg = '<svg xmlns="http://www.w3.org/2000/svg" width="10" height="10"><rect width="10" height="10"/></svg>'
    drawing = Drawing(svg=svg, title="Two switches", description="A and B.", width=10, height=10)
    catalog = read(pdf_of([document(Figure(drawing))])).trailer["/Root"]
    assert "Two switches. A and B." in told(catalog["/StructTreeRoot"])


def told(element) -> list[str]:
    """The words for what cannot be seen, of an element of the structure tree and of all in it."""
    element = element.get_object()
    if isinstance(element, list):
        return [words for each in element for words in told(each)]
    if not isinstance(element, dict):
        return []
    own = [str(element["/Alt"])] if "/Alt" in element else []
    return own + (told(element["/K"]) if "/K" in element else [])


def test_error_without_the_typesetter_it_is_said_how_to_get_it(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(pdf, "can_make_pdf", lambda: False)
    with pytest.raises(TrainerError) as fault:
        pdf_of([document()])
    assert str(fault.value) == HOW_TO_GET_IT
    assert "pip install 'hopsheet[pdf]'" in HOW_TO_GET_IT
    assert "any browser" in HOW_TO_GET_IT


@needs_typesetter
def test_each_document_of_a_class_is_numbered_by_itself():
    long = Table(title="Long", headings=("Head",), rows=tuple(((str(number),),) for number in range(90)))
    pages = [page.extract_text() for page in read(pdf_of([document(long), document(), document(long)])).pages]
    numbers = [re.findall(r"page (\d+) of (\d+)", page)[-1] for page in pages]
    assert numbers == [("1", "2"), ("2", "2"), ("1", "1"), ("1", "2"), ("2", "2")]


# --- How many pages ---------------------------------------------------------------------------------------------------


def middling(lab: Scenario) -> FilledForm:
    """A paper of somebody who has not understood protection, is in a hurry, and slips in one cell of fourteen."""
    texts = key_texts(lab)
    for way in FILLINGS[4:7]:
        texts = way.fill(lab, dict(texts))
    written = [cell for cell in texts if texts[cell]]
    for cell in random.Random(5).sample(written, len(written) // 14):
        octets = texts[cell].split(".")
        texts[cell] = ".".join((*octets[:3], str((int(octets[3]) + 16) % 256))) if len(octets) == 4 else ""
    return filled({cell: text for cell, text in texts.items() if text})


MM = 72 / 25.4


def four_switches() -> Scenario:
    file = next(each.file for each in ready_made() if each.file.stem == "star-of-four")
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    return lab


def page_of(title: str, texts: list[str]) -> int:
    """The first page with that heading, from 0."""
    return next(place for place, text in enumerate(texts) if title in text.splitlines())


def edges(page: Any) -> set[tuple[float, float, float]]:
    """The horizontal lines of a page: height, from, to, in points."""
    found, at = set(), (0.0, 0.0)

    def look(operator: bytes, operands: list[Any], matrix: list[float], _text: Any) -> None:
        nonlocal at
        if operator in (b"m", b"l"):
            x, y = map(float, operands)
            to = (matrix[0] * x + matrix[2] * y + matrix[4], matrix[1] * x + matrix[3] * y + matrix[5])
            if operator == b"l" and abs(at[1] - to[1]) < 0.1:
                found.add((round(to[1], 1), round(min(at[0], to[0]), 1), round(max(at[0], to[0]), 1)))
            at = to

    page.extract_text(visitor_operand_before=look)
    return found


@needs_typesetter
def test_a_handout_has_four_pages_to_read_the_rules_on_one_and_turned_ones_to_write_on():
    lab = four_switches()
    pages = read(pdf_of([handout_document(lab, general_brief(), derive_key(lab))])).pages
    texts = [page.extract_text() for page in pages]
    card, form = page_of("Rule card", texts), page_of("To fill in", texts)
    assert form == card + 1, "the rules fill one page and no more"
    assert form <= 4
    assert [page.mediabox.width > page.mediabox.height for page in pages] == [False] * form + [True] * (
        len(pages) - form
    )
    lines = edges(pages[form])
    top = max(height for height, _, _ in lines)
    columns = sorted({(left, right) for height, left, right in lines if height == top and right - left < 200})
    assert len(columns) == 10, "sheet Subnets comes first"
    assert all(right - left >= 22 * MM for left, right in columns[3:]), "three columns are printed"
    for page in pages[form:]:
        heights = sorted({height for height, _, _ in edges(page)}, reverse=True)
        gaps = [upper - lower for upper, lower in pairwise(heights) if upper - lower > 1]
        low = [gap for gap in gaps if gap < 8.9 * MM]
        assert len(low) <= page.extract_text().count(":") + 1, "none but those of heads"
        assert len(gaps) > 2 * len(low)
    for text in texts:
        words = [line for line in text.splitlines() if line.strip()]
        assert not any(line.endswith("-") for line in words[:-1]), "no word is broken"


@needs_typesetter
def test_the_key_of_the_bench_has_two_pages():
    lab = four_switches()
    key = derive_key(lab)
    texts = [page.extract_text() for page in read(pdf_of([key_document(lab, key, prove(lab, key))])).pages]
    assert page_of("Right answers, and why", texts) == 2
    assert page_of("Drawing", texts) == 0
    assert texts[0].index("Isolated lab only") < texts[0].index("Safe order") < texts[0].index("Drawing")


@pytest.mark.many
@needs_typesetter
@pytest.mark.parametrize("name", [each.file.stem for each in ready_made() if not each.file.stem.startswith("faults")])
def test_no_plan_needs_more_pages_to_read_than_four_nor_its_bench_more_than_two(name: str):
    file = next(each.file for each in ready_made() if each.file.stem == name)
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    key = derive_key(lab)
    texts = [page.extract_text() for page in read(pdf_of([handout_document(lab, general_brief(), key)])).pages]
    assert page_of("To fill in", texts) == page_of("Rule card", texts) + 1 <= 4
    texts = [page.extract_text() for page in read(pdf_of([key_document(lab, key, prove(lab, key))])).pages]
    assert page_of("Right answers, and why", texts) <= 2 or len(lab.switches) > 4


@needs_typesetter
def test_no_row_of_a_table_stands_on_a_page_alone():
    table = Table(title="Rows", headings=("Row", "Text"), rows=tuple(((f"row {n}",), ("x",)) for n in range(12)))
    for lines in range(44, 60, 3):
        above = Paragraph((" ".join(["word"] * 16 * lines),))
        page = Document(title="x", heading="x", over="", facts=(), blocks=(above, table), foot="", running="")
        rows = [len(re.findall(r"row \d+", each.extract_text())) for each in read(pdf_of([page])).pages]
        assert 1 not in rows, lines


@needs_typesetter
def test_feedback_on_a_paper_of_four_switches_and_some_72_per_cent_is_three_pages_at_most():
    lab = four_switches()
    found = mark(lab, middling(lab))
    assert 70 <= found.percent <= 75
    for reveal in (Reveal.EXPLANATIONS, Reveal.ANSWERS):
        short = feedback_document(lab, found, (), reveal=reveal)
        assert len(read(pdf_of([short])).pages) <= 3
    full = feedback_document(lab, found, (), reveal=Reveal.ANSWERS, full=True)
    assert len(read(pdf_of([full])).pages) > 3, "what is folded on a screen"


@needs_typesetter
def test_beside_long_printed_texts_of_a_form_there_is_room_to_write():
    """Symptoms of a fault-finding lab: what was tried and seen is broken into lines, and tables with long texts are not set in
    two halves; every column to write in has 22 mm.
    """
    lab = kept_lab("faults-two")
    made = handout_document(lab, "", derive_key(lab))
    forms = [each for each in tables(made.blocks) if each.is_form]
    assert not [each.title for each in forms if each.in_two and "Symptoms" in each.title]
    places: dict[str, float] = {}

    def note(text, where, *_others):
        if text.strip() in ("Fault", "Symptom", "What was seen"):
            places.setdefault(text.strip(), where[4])

    for page in read(pdf_of([made])).pages:
        if page.mediabox.width > page.mediabox.height and not places:
            page.extract_text(visitor_text=note)
    room = 297 / 25.4 * 72 - 15 / 25.4 * 72 - places["Fault"]
    assert room >= 22 / 25.4 * 72
    assert places["Symptom"] < places["What was seen"] < places["Fault"]


def tables(found) -> list[Table]:
    inside = [block for each in found if hasattr(each, "blocks") for block in tables(each.blocks)]
    return [each for each in found if isinstance(each, Table)] + inside


@needs_typesetter
def test_the_bench_of_five_switches_has_three_pages_at_most():
    (file,) = (each.file for each in ready_made() if each.file.stem == "tree-of-five")
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    key = derive_key(lab)
    texts = [page.extract_text() for page in read(pdf_of([key_document(lab, key, prove(lab, key))])).pages]
    assert page_of("Right answers, and why", texts) <= 3


@needs_typesetter
@pytest.mark.parametrize(
    ("name", "pages"), [("faults-harmless", 6), ("no-fault", 6), ("faults-two", 7), ("same-address", 7)]
)
def test_a_network_with_faults_takes_six_pages_and_with_two_of_them_seven(name: str, pages: int):
    lab = kept_lab(name)
    page = handout_document(lab, "A network of two switches.", derive_key(lab))
    assert len(read(pdf_of([page])).pages) == pages
