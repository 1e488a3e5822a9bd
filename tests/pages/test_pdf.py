"""PDF: the same texts as the HTML page, tagged, the same bytes each time, and no text is ever a command."""

import html
import io
import random
import re

import pytest
from drawn_labs import bakery, draw
from filled_forms import filled
from marked_by_hand import LAB, WRONG, marked

from trainer.commands.demo_class import WAYS, key_texts
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
    for way in WAYS[4:7]:
        texts = way.fill(lab, dict(texts))
    written = [cell for cell in texts if texts[cell]]
    for cell in random.Random(5).sample(written, len(written) // 14):
        octets = texts[cell].split(".")
        texts[cell] = ".".join((*octets[:3], str((int(octets[3]) + 16) % 256))) if len(octets) == 4 else ""
    return filled({cell: text for cell, text in texts.items() if text})


@needs_typesetter
def test_feedback_on_a_paper_of_four_switches_and_some_72_per_cent_is_three_pages_at_most():
    file = next(each.file for each in ready_made() if each.file.stem == "star-of-four")
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    found = mark(lab, middling(lab))
    assert 70 <= found.percent <= 75
    for reveal in (Reveal.EXPLANATIONS, Reveal.ANSWERS):
        short = feedback_document(lab, found, (), reveal=reveal)
        assert len(read(pdf_of([short])).pages) <= 3
    full = feedback_document(lab, found, (), reveal=Reveal.ANSWERS, full=True)
    assert len(read(pdf_of([full])).pages) > 3, "what is folded on a screen"
