"""The handout: everything a trainee needs on paper, written without looking at what is asked."""

import re
from dataclasses import replace

import pytest
from drawn_labs import bakery, changed, draw, exercise_of
from repair_labs import kept_lab

from trainer.lab.brief import RULES_TITLE, brief, given_tables
from trainer.lab.exercise import Exercise
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.questions import FORM, SECTIONS
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Asked, Scenario
from trainer.pages.blocks import Beside, Section, Table, texts_of
from trainer.pages.handout import handout_document
from trainer.pages.html import as_html
from trainer.pages.large import enlarged

TEXT = "# Bread\n\nLab {{ lab }}, block {{ block }}.\n"
LAB = replace(bakery(), sections=exercise_of(HARBOUR).sections)
NOTHING = Answers(values={}, rows={})


def tables(lab: Scenario, given: Answers = NOTHING) -> dict[str, Table]:
    document = handout_document(lab, TEXT, given)
    sections = [block for block in document.blocks if isinstance(block, Section)]
    return {each.title: each for section in sections for each in section.blocks if isinstance(each, Table)}


def test_it_is_written_without_a_single_answer():
    """Where no sheet is printed filled in, the key is not even looked at: nothing of it can be in the handout."""
    without = as_html([handout_document(LAB, TEXT, NOTHING)])
    assert without == as_html([handout_document(LAB, TEXT, derive_key(LAB))])


def test_no_seed_and_no_name_is_in_it():
    lab = replace(LAB, trainee=replace(LAB.trainee, name="Zoë Ankersø"))
    page = as_html([handout_document(lab, TEXT, NOTHING)]).decode()
    assert "Zoë" not in page
    assert "secret" not in page.casefold()


def test_every_given_table_and_every_rule_stands_in_it():
    said = texts_of(handout_document(LAB, TEXT, NOTHING).blocks)
    assert "Lab BUN-TEST, block 10.20.0.0/22." in said
    for table in given_tables(LAB):
        assert table.title in said
        assert {text for row in table.rows for text in row} <= set(said)
    for part in brief(LAB):
        assert {text for _, text in part.lines} <= set(said)


@pytest.mark.parametrize("section", FORM, ids=lambda section: section.id)
def test_every_sheet_has_an_empty_table_with_as_many_rows_as_the_workbook(section):
    table = tables(LAB)[f"{section.title}: {section.asks}"]
    assert table.headings == (*section.given, *(question.heading for question in section.questions_in(LAB)))
    rows = len(section.rows(LAB)) if section.open is None else section.open.printed(LAB)
    assert len(table.rows) == rows
    assert all(row[len(section.given) :] == ((),) * len(section.questions_in(LAB)) for row in table.rows)
    assert table.is_form


def test_a_sheet_that_is_given_is_printed_with_its_right_answers():
    shares = tuple(
        replace(share, asked=Asked.GIVEN if share.section == "links" else share.asked) for share in LAB.sections
    )
    lab = replace(LAB, sections=shares)
    table = tables(lab, derive_key(lab))["Links: filled in for you"]
    assert table.rows == ((("A-B",), ("10.20.2.240",), ("255.255.255.252",), ("10.20.2.241",), ("10.20.2.242",)),)


def test_a_sheet_that_is_left_out_is_not_in_it():
    shares = tuple(
        replace(share, asked=Asked.NO if share.section == "pools" else share.asked) for share in LAB.sections
    )
    assert not [title for title in tables(replace(LAB, sections=shares)) if title.startswith(SECTIONS["pools"].title)]


def test_the_lab_number_stands_on_every_sheet_of_paper():
    page = as_html([handout_document(LAB, TEXT, NOTHING)]).decode()
    foot = re.search(r"@page d1 \{ @bottom-left \{ content: (.*?); \} \}", page)
    assert foot is not None
    assert foot[1].startswith('"BUN-TEST')


def test_every_drawn_exercise_has_a_handout():
    for choices in ({}, {"order": "free", "gateway": "free"}, {"link_lengths": "/31"}):
        exercise = exercise_of(changed(**choices))
        assert isinstance(exercise, Exercise)
        for lab in draw(exercise, 2):
            assert as_html([handout_document(lab, TEXT, derive_key(lab))])


def test_what_to_do_and_the_rules_stand_before_the_tables_to_fill_in():
    """The brief's words are "the sheets that follow", and a trainee reads the rules before writing; they stand on a card."""
    sections = [each for each in handout_document(LAB, TEXT, NOTHING).blocks if isinstance(each, Section)]
    titles = [each.title for each in sections]
    assert titles[-2:] == ["Rule card", "To fill in"]
    on_card = [each.title for each in sections[-2].blocks if isinstance(each, Section)]
    assert on_card == [RULES_TITLE, "How to write"]
    parts = [part.title for part in brief(LAB)]
    assert [each for each in parts if each not in on_card] == titles[titles.index("Given") + 1 : -2]
    assert sections[-2].on_new_page
    assert sections[-1].is_landscape


def test_rules_have_the_width_and_their_names_stay_in_one_line():
    """With columns of one width the rules of two switches ran over two pages."""
    sections = [each for each in handout_document(LAB, TEXT, NOTHING).blocks if isinstance(each, Section)]
    rules = [
        each for section in sections for each in section.blocks if isinstance(each, Table) and not each.shows_title
    ]
    assert rules
    assert all(0 in table.unbroken for table in rules)


def test_on_a_telephone_a_broad_table_is_told_row_by_row_each_value_with_its_heading():
    """A value that is cut off at the edge of the screen reads like another one."""
    lab = bakery()
    page = as_html([handout_document(lab, "", derive_key(lab))]).decode()
    assert """<table class="values stack" style='--h1:"VLAN";--h2:"Network";--h3:"Switch";""" in page
    phone = page[page.index("@media screen and (max-width: 30rem)") : page.index("@page {")]
    assert ".stack td { display: block;" in phone
    broadest = max(len(each.headings) for each in tables_of(handout_document(lab, "", derive_key(lab)).blocks))
    assert broadest <= 12
    assert all(f".stack td:nth-child({n})::before {{ content: var(--h{n})" in phone for n in range(1, broadest + 1))
    assert "figure svg { width: 44rem;" in phone, "the drawing keeps letters that can be read"


def tables_of(blocks) -> list[Table]:
    inside = [found for each in blocks if hasattr(each, "blocks") for found in tables_of(each.blocks)]
    return [each for each in blocks if isinstance(each, Table)] + inside


# --- Faults to find ---------------------------------------------------------------------------------------------------


def test_of_a_network_with_faults_what_to_do_comes_first_and_what_was_found_stands_on_one_page():
    """Behind it the rule card and the pages to fill in; a large page has the same texts, one below the other."""
    lab = kept_lab("faults-two")
    page = handout_document(lab, "", derive_key(lab))
    titles = [block.title for block in page.blocks if isinstance(block, Section)]
    assert titles[:3] == ["What to do", "The network", "Given"]
    assert titles[-3:] == ["The network as found", "Rule card", "To fill in"]
    found = page.blocks[titles.index("The network as found")]
    assert isinstance(found, Section)
    assert found.on_new_page
    both, hosts = found.blocks
    assert isinstance(both, Beside)
    assert [each.title for each in (*both.left, *both.right, hosts)] == ["Found A", "Found B", "Found hosts"]
    assert texts_of(enlarged(page).blocks)
    assert not any(isinstance(block, Beside) for block in enlarged(page).blocks)


def test_cautions_of_a_repair_speak_of_mending():
    told = {label: text for part in brief(kept_lab("faults-two")) for label, text in part.lines}
    assert "erased configuration" not in told["Begin"]
    for words in ("one thing at a time", "console", "static rows come before snooping, snooping before source guard"):
        assert words in told["Begin"]
    assert {"Lab", "Stop", "Attacks", "Mains"} <= told.keys()
