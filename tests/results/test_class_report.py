"""What is told of a class, and that nothing is told of too few."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from drawn_labs import exercise_of
from repair_labs import faulty_exercise, kept_lab

from trainer.lab.answers import FilledForm
from trainer.lab.rows import VlanRow
from trainer.lab.sample import HARBOUR
from trainer.lab.scenario import Trainee
from trainer.marking.marker import mark
from trainer.marking.marks import CellMark, Marked, SectionMark, Verdict
from trainer.results.class_report import FEWEST, ClassReport, class_report
from trainer.results.grades import TraineeGrade, likely_range


def grade(number: int, gateways: str | None, **trainee: object) -> TraineeGrade:
    """A trainee with one cell in sheet Subnets, of 20 marks."""
    marked = None
    if gateways is not None:
        cell = CellMark(
            section="subnets",
            question="subnets.gateway",
            row=VlanRow(20),
            given="x",
            expected="y",
            verdict=Verdict.WRONG,
            marks=Fraction(gateways),
            out_of=Fraction(20),
        )
        section = SectionMark(section="subnets", marks=Decimal(gateways), out_of=Decimal(20))
        marked = Marked(cells=(cell,), sections=(section,))
    who = Trainee(id=f"h{number:02}", **trainee)  # type: ignore[arg-type]
    return TraineeGrade(trainee=who, lab=f"LAB-{number}", marked=marked)


def report(*marks: str | None) -> ClassReport:
    attempts = [grade(number, mark) for number, mark in enumerate(marks, 1)]
    return class_report(exercise_of(HARBOUR), attempts, [("returned/x.pdf", "This is a PDF.")])


def test_averages_are_of_those_who_handed_in():
    found = report("20", "20", "5", None)
    (average,) = found.averages
    assert (average.section, average.per_cent, average.full) == ("subnets", 75, 2)
    assert [line.trainee.id for line in found.handed_in] == ["h01", "h02", "h03"]
    assert [line.trainee.id for line in found.absent] == ["h04"]
    assert found.passed == 2


def test_lines_stand_in_the_order_of_the_class_list_and_groups_in_that_of_their_first():
    groups = ("Tue", "Fri", "Tue", "", "Fri")
    attempts = [grade(number, "20", group=group) for number, group in enumerate(groups, 1)]
    found = class_report(exercise_of(HARBOUR), attempts, [])
    assert [line.trainee.id for line in found.lines] == ["h01", "h03", "h02", "h05", "h04"]


def test_sheets_of_a_class_that_looks_for_faults_are_those_of_its_labs():
    lab = kept_lab("faults-harmless")
    line = TraineeGrade(trainee=lab.trainee, lab=lab.lab_number, marked=mark(lab, FilledForm(texts={}, rows={})))
    found = class_report(faulty_exercise("faults-harmless"), [line], [])
    assert found.sections == ("symptoms", "faults", "tests") == lab.asked
    assert [each.section for each in found.averages] == list(lab.asked)


def test_a_few_are_no_class():
    assert not report(*["20"] * (FEWEST - 1), None, None).tells_of_class
    assert report(*["20"] * FEWEST).tells_of_class


def test_questions_are_ranked_only_where_enough_have_handed_in():
    def prefix_right_gateway_wrong(number: int) -> TraineeGrade:
        line = grade(number, "0")
        assert line.marked is not None
        (gateway,) = line.marked.cells
        right = replace(gateway, question="subnets.prefix", marks=Fraction(20))
        return replace(line, marked=replace(line.marked, cells=(right, gateway)))

    for count, order in ((FEWEST - 1, ["prefix", "gateway"]), (FEWEST, ["gateway", "prefix"])):
        lines = [prefix_right_gateway_wrong(number) for number in range(count)]
        found = class_report(exercise_of(HARBOUR), lines, []).questions
        assert [each.question for each in found] == [f"subnets.{name}" for name in order]


def test_the_range_of_a_question_narrows_with_the_class():
    small, large = report("20", "10").questions[0], report(*["20", "10"] * 20).questions[0]
    assert (small.per_cent, large.per_cent) == (75, 75)
    assert small.highest - small.lowest > 2 * (large.highest - large.lowest)


def test_the_range_counts_trainees_and_not_cells():
    one, three = grade(1, "10"), grade(1, "10")
    assert one.marked is not None
    more = Marked(cells=one.marked.cells * 3, sections=one.marked.sections)
    once = class_report(exercise_of(HARBOUR), [one], []).questions
    thrice = class_report(exercise_of(HARBOUR), [TraineeGrade(trainee=three.trainee, lab=three.lab, marked=more)], [])
    assert once == thrice.questions


@pytest.mark.parametrize(
    ("count", "lowest", "highest"),
    [(8, "0.37", "0.90"), (12, "0.42", "0.88"), (20, "0.48", "0.85"), (50, "0.56", "0.81"), (100, "0.60", "0.78")],
)
def test_ranges_round_seven_tenths(count: int, lowest: str, highest: str):
    """Worked out by hand from the formula of Wilson 1927 (score interval, without continuity correction)."""
    found = likely_range(Decimal("0.7"), count)
    assert tuple(f"{end:.2f}" for end in found) == (lowest, highest)


@pytest.mark.parametrize("share", ["0", "1"])
def test_a_range_ends_at_none_and_all(share: str):
    lowest, highest = likely_range(Decimal(share), 4)
    assert 0 <= lowest < highest <= 1
    assert Decimal(share) in (lowest, highest)
