"""What is printed beside handouts and keys: labels, the roll, and pages in large letters."""

import io
import re
from dataclasses import replace

import pytest
from drawn_labs import bakery, draw
from pypdf import PdfReader

from trainer.commands.exercises import ready_made
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.proof import prove
from trainer.lab.scenario import Trainee
from trainer.pages.blocks import Labels, Section, Table, texts_of
from trainer.pages.brief_text import general_brief
from trainer.pages.handout import handout_document
from trainer.pages.key import key_document
from trainer.pages.labels import labels_document
from trainer.pages.large import enlarged
from trainer.pages.pdf import as_pdf, can_make_pdf
from trainer.pages.roll import roll_document
from trainer.sheets.exercise_book import read_exercise_book

LAB = replace(bakery(), trainee=Trainee(id="b01", name="Zoë Ankersø"))
needs_typesetter = pytest.mark.skipif(not can_make_pdf(), reason="typst is not installed: pip install -e '.[pdf]'")


def test_every_used_port_has_a_label_and_every_cable_two():
    ports, cables = (
        [label for block in section.blocks if isinstance(block, Labels) for label in block.labels]
        for section in labels_document(LAB).blocks
        if isinstance(section, Section)
    )
    ends = [end for link in LAB.links for end in (link.first, link.second)]
    assert [large for large, _, _ in ports] == sorted(
        [*(str(station.at) for station in LAB.stations), *map(str, ends)],
        key=lambda port: (port[0], int(port[2:])),
    )
    assert len(cables) == 2 * (len(LAB.stations) + len(LAB.links))
    assert all(lab == LAB.lab_number for _, _, lab in (*ports, *cables)), "in a line of its own, where it is not broken"
    told = " ".join(texts_of(labels_document(LAB).blocks))
    assert "10.20." not in told, "no address"
    assert "Zoë" not in told


def test_the_roll_has_a_row_to_sign_for_each_lab():
    (table,) = roll_document(
        "BUN - Bread", "Friday", [(LAB.trainee, LAB.lab_number), (Trainee(id="b02"), "BUN-2")]
    ).blocks
    assert table.headings == ("Id", "Name", "Group", "Lab number", "Out", "In", "Signature")
    assert table.rows == (
        (("b01",), ("Zoë Ankersø",), ("",), (LAB.lab_number,), (), (), ()),
        (("b02",), ("",), ("",), ("BUN-2",), (), (), ()),
    )
    assert table.is_form


def test_a_name_is_printed_where_that_is_wanted():
    plain, named = (
        dict(handout_document(LAB, general_brief(), Answers(values={}, rows={}), named=named).facts)
        for named in (False, True)
    )
    assert plain["Name"].strip("_") == ""
    assert named["Name"] == "Zoë Ankersø"


def test_in_large_letters_nothing_is_lost():
    for document in (handout_document(LAB, general_brief(), derive_key(LAB)), labels_document(LAB)):
        said = texts_of(enlarged(document).blocks)
        assert set(texts_of(document.blocks)) <= set(said)


@needs_typesetter
def test_all_letters_of_a_large_page_are_large():
    key = derive_key(LAB)
    for document in (handout_document(LAB, general_brief(), key), key_document(LAB, key, prove(LAB, key))):
        data, _ = as_pdf([enlarged(document)], is_large=True)
        sizes: dict[float, str] = {}

        def look(text: str, matrix: list[float], at: list[float], _font: object, size: float, sizes=sizes) -> None:
            if text.strip():
                sizes.setdefault(round(size * at[3] * matrix[3], 1), text.strip())

        for page in PdfReader(io.BytesIO(data)).pages[2:]:
            page.extract_text(visitor_text=look)
        small = {size: text for size, text in sizes.items() if abs(size) < 17.9}
        assert any(abs(size) >= 17.9 for size in sizes)
        running = re.compile(r"page|\d|of|BUN|ANSWER|KEY|b01|BAKERY")
        assert all(running.search(text) for text in small.values()), small


def test_in_large_letters_the_drawing_is_told_in_words_too():
    """Its own letters are as small as on the plain page."""
    said = texts_of(enlarged(handout_document(LAB, general_brief(), derive_key(LAB))).blocks)
    assert any(text.startswith("In words: ") and LAB.stations[0].name in text for text in said)


def test_in_large_letters_tables_to_fill_in_stay_tables_on_turned_pages():
    """Row by row 28 routes of four lines each would be ten pages."""
    document = enlarged(handout_document(LAB, general_brief(), derive_key(LAB)))
    turned = [each for each in document.blocks if isinstance(each, Section) and each.is_landscape]
    forms = [table.title.split(":")[0] for section in turned for table in section.blocks if isinstance(table, Table)]
    assert set(forms) >= {"Links", "Stations", "Routes", "Pools", "Relays", "Protection", "Bindings"}
    titles = [
        each.title for each in document.blocks if isinstance(each, Section) and each.title.startswith("To fill in")
    ]
    assert titles == ["To fill in", "To fill in, continued"]


@needs_typesetter
def test_a_handout_of_four_switches_in_large_letters_has_thirty_pages_at_most_and_breaks_no_address():
    (file,) = (each.file for each in ready_made() if each.file.stem == "star-of-four")
    (lab,) = draw(read_exercise_book(file.read_bytes()), 1)
    key = derive_key(lab)
    data, _ = as_pdf([enlarged(handout_document(lab, general_brief(), key))], is_large=True)
    assert len(PdfReader(io.BytesIO(data)).pages) <= 30
    data, _ = as_pdf([enlarged(key_document(lab, key, prove(lab, key)))], is_large=True)
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    assert not re.findall(r"\d+\.\d+\.(?:\d+\.)?\n\d+\b(?!\.)", text)
