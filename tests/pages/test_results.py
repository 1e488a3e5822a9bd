"""The results page: who, how many, what was hard; links that lead somewhere; nothing of a class that is none."""

import re
from dataclasses import replace
from decimal import Decimal

from trainer.lab.scenario import Trainee
from trainer.marking.marks import Marked, SectionMark
from trainer.pages.blocks import Section, texts_of
from trainer.pages.html import as_html
from trainer.pages.results import results_document
from trainer.results.class_report import ClassReport, SectionAverage
from trainer.results.grades import Facility, MistakeCount, TraineeGrade

HOSTILE = '<b>Ann</b> & "Co"'


def grade(number: int, marks: str | None, *notices: str, name: str = "", excused: bool = False) -> TraineeGrade:
    section = SectionMark(section="subnets", marks=Decimal(marks or 0), out_of=Decimal(100))
    return TraineeGrade(
        trainee=Trainee(id=f"h{number:02}", name=name, group="Mon", is_excused=excused),
        lab=f"LAB-{number}",
        marked=None if marks is None else Marked(cells=(), sections=(section,)),
        notices=notices,
    )


MAKERS = tuple((f"LAB-{number}", Trainee(id=f"h{number:02}", name="Ann")) for number in (1, 2, 4))
REPORT = ClassReport(
    title="BAKERY, Bread by six",
    pass_mark=60,
    sections=("subnets",),
    parts=(),
    lines=(*(grade(number, str(20 * number)) for number in range(1, 6)), grade(6, None), grade(7, None, excused=True)),
    averages=(SectionAverage(section="subnets", per_cent=Decimal(60), full=1),),
    questions=(
        Facility(
            question="subnets.gateway",
            section="Subnets",
            heading="Gateway",
            per_cent=Decimal(40),
            lowest=Decimal(12),
            highest=Decimal(77),
        ),
    ),
    mistakes=(
        MistakeCount(
            mistake="x", sheets=("Subnets", "Links"), explanation="The mask is one bit short.", cells=4, made_by=MAKERS
        ),
    ),
    missing=(),
    not_graded=(("returned/x.pdf", "This is a PDF, not a workbook."),),
)
FEEDBACK = {"LAB-1": "marked/h01-LAB-1.html"}


def texts(report: ClassReport) -> list[str]:
    return texts_of(results_document(report, FEEDBACK).blocks)


def test_the_class_is_told_in_numbers_and_words():
    facts = dict(results_document(REPORT, FEEDBACK).facts)
    assert facts == {
        "Handed in": "5 of 7",
        "Passed": "3 of 5, from 60 per cent on",
        "Median": "60.0 per cent",
    }
    told = texts(REPORT)
    for words in (
        ["Subnets", "60 %", "1 of 5"],
        ["Subnets: Gateway", "40 %", "12 to 77 %"],
        ["3", "4", "Subnets, Links", "The mask is one bit short.", "h01 Ann, h02 Ann, h04 Ann"],
        ["h05", "-", "100.0"],
        ["returned/x.pdf", "This is a PDF, not a workbook."],
        ["h06", "Mon", "not handed in", "h07", "Mon", "excused"],
        ["h02", "-", "40.0 %", "\u2717 not passed", "not tried", "-", "Mon", "1"],
        ["h03", "-", "60.0 %", "\u2713 passed", "not tried", "-", "Mon", "1"],
    ):
        assert any(told[place : place + len(words)] == words for place in range(len(told))), words


def test_of_too_few_nothing_is_told_but_what_they_did():
    few = replace(REPORT, lines=(*REPORT.lines[:4], *REPORT.lines[5:]))
    told = " ".join(texts(few))
    assert "4 handed in: too few to speak of a class" in told
    assert "Half of the class" not in dict(results_document(few, FEEDBACK).facts)
    for words in ("Hardest questions", "Marks of 5 trainees", "12 to 77"):
        assert words in " ".join(texts(REPORT))
        assert words not in told
    assert "The mask is one bit short." in told


def test_a_feedback_page_is_linked_where_there_is_one():
    page = as_html([results_document(REPORT, FEEDBACK)]).decode()
    assert re.findall(r'href="([^"]+)">([^<]+)', page) == [
        ("marked/h01-LAB-1.html", "feedback h01"),
        ("marked/h01-LAB-1.html", "h01 Ann"),
    ], "in the list, and beside the mistake"


def test_the_list_comes_first_and_what_needs_attention_before_pictures():
    titles = [each.title for each in results_document(REPORT, FEEDBACK).blocks if isinstance(each, Section)]
    assert titles == [
        *("Trainees", "Needs attention", "The class", "Marks by sheet", "Hardest questions", "Commonest mistakes"),
    ]


def test_of_many_who_made_a_mistake_the_first_are_named_and_the_others_counted():
    many = tuple((f"LAB-{number}", Trainee(id=f"k{number}")) for number in range(20))
    told = texts(replace(REPORT, mistakes=(replace(REPORT.mistakes[0], made_by=many),)))
    assert [text for text in told if text.startswith("k0, k1, ") and text.endswith("k11 and 8 more")]


def test_notices_stand_with_whom_they_are_about():
    report = replace(REPORT, lines=(grade(1, "50", "Sheet Routes is missing.", name="Ann"), *REPORT.lines[1:]))
    told = texts(report)
    assert told[told.index("h01 Ann") + 1] == "Sheet Routes is missing."


def test_what_others_wrote_is_text():
    report = replace(
        REPORT,
        title=HOSTILE,
        lines=tuple(grade(number, "50", HOSTILE, name=HOSTILE) for number in range(1, 7)),
        not_graded=((HOSTILE, HOSTILE),),
        mistakes=(
            MistakeCount(
                mistake="x",
                sheets=(HOSTILE,),
                explanation=HOSTILE,
                cells=1,
                made_by=(("LAB-1", Trainee(id="h01", name=HOSTILE)),),
            ),
        ),
    )
    page = as_html([results_document(report, {})]).decode()
    assert "<b>Ann" not in page
    assert page.count("&lt;b&gt;Ann") > 10


def test_a_name_of_a_file_that_is_no_text_is_shown_by_number():
    page = as_html([results_document(replace(REPORT, not_graded=(("returned/\udcff.txt", "Notes."),)), {})]).decode()
    assert r"returned/\udcff.txt" in page


def test_a_very_long_name_leaves_the_marks_on_the_screen():
    lines = (grade(1, "50", name="N" * 150), *REPORT.lines[1:])
    page = as_html([results_document(replace(REPORT, lines=lines), {})]).decode()
    assert f'<td class="long">{"N" * 150}</td>' in page
    assert ".long { overflow-wrap: anywhere; }" in page
