"""Which attempt counts, who is excused, and results as text for a gradebook."""

import csv
import io
from decimal import Decimal

import pytest

from trainer.lab.scenario import Resits, Trainee
from trainer.lab.works import Count, MustWork, Works
from trainer.marking.marks import Marked, SectionMark
from trainer.results.csv_text import csv_text
from trainer.results.grades import TraineeGrade, counting, standing


def grade(
    trainee: str,
    attempt: int,
    marks: str | None,
    *,
    name: str = "",
    excused: bool = False,
    works: tuple[int, int] | None = None,
) -> TraineeGrade:
    """works: leases of 6 and stopped attacks of 24."""
    marked = None
    if marks is not None:
        section = SectionMark(section="subnets", marks=Decimal(marks), out_of=Decimal(100))
        seen = works and Works(leases=Count(shown=works[0], of=6), pings=None, attacks=Count(shown=works[1], of=24))
        marked = Marked(cells=(), sections=(section,), works=seen or None)
    who = Trainee(id=trainee, name=name, group="Mon", attempt=attempt, is_excused=excused)
    return TraineeGrade(trainee=who, lab=f"LAB-{trainee}{attempt}", marked=marked)


@pytest.mark.parametrize(
    ("rule", "attempts", "counts", "percent"),
    [
        (Resits.LAST, ["80", "40"], 2, "40.0"),
        (Resits.BEST, ["80", "40"], 1, "80.0"),
        (Resits.BEST, ["30", "90"], 2, "90.0"),
        (Resits.CAPPED, ["30", "90"], 2, "60"),  # a re-sit earns the pass mark at most
        (Resits.CAPPED, ["70", "90"], 1, "70.0"),
        (Resits.LAST, ["80", None], 1, "80.0"),  # a re-sit that was not handed in takes nothing away
        (Resits.BEST, [None, None], 2, "0"),
        (Resits.BEST, ["80.01", "80.04"], 2, "80.0"),  # by the marks, not by per cent as rounded
        (Resits.CAPPED, ["59.97", "90"], 2, "60"),
        (Resits.CAPPED, ["60", "90"], 1, "60.0"),
    ],
)
def test_of_several_attempts_one_counts(rule: Resits, attempts: list[str | None], counts: int, percent: str) -> None:
    grades = [grade("a", number, marks) for number, marks in enumerate(attempts, 1)]
    (counted,) = counting(grades, rule, 60)
    assert (counted.trainee.attempt, str(counted.percent)) == (counts, percent)


def test_the_excused_are_counted_apart_and_only_where_there_are_any() -> None:
    absent, excused = grade("a", 1, None), grade("b", 1, None, excused=True)
    assert standing([absent, grade("c", 1, "0")]) == "1 of the class not handed in"
    assert standing([absent, excused]) == "1 of the class not handed in, 1 excused"
    assert standing([grade("d", 1, "0", excused=True)]) == "0 of the class not handed in"


def test_everybody_has_one_line_in_the_order_of_the_first_attempts() -> None:
    grades = [grade("b", 1, "10"), grade("a", 1, "20"), grade("b", 2, "30")]
    assert [each.trainee.id for each in counting(grades, Resits.LAST, 60)] == ["b", "a"]


def test_the_text_has_a_line_a_trainee_and_nothing_where_nothing_was_handed_in() -> None:
    text = csv_text(["subnets"], [], [grade("a", 1, "99.5", name="Ada, B"), grade("b", 1, None)], decimal_comma=False)
    assert text.split("\r\n") == [
        "id,name,group,percent,marks,out of,Subnets,leases,leases of,pings,pings of,attacks stopped,attacks of",
        'a,"Ada, B",Mon,99.5,99.5,100,99.5,,,,,,',
        "b,,Mon,,,,,,,,,,",
        "",
    ]


def test_with_a_decimal_comma_semicolons_separate() -> None:
    text = csv_text(["subnets"], [], [grade("a", 1, "99.5")], decimal_comma=True)
    assert text.split("\r\n")[1] == "a;;Mon;99,5;99,5;100;99,5;;;;;;"


def test_what_works_stands_behind_the_marks_in_numbers() -> None:
    text = csv_text([], [], [grade("a", 1, "99.5", works=(4, 20))], decimal_comma=True)
    assert text.split("\r\n")[1] == "a;;Mon;99,5;99,5;100;4;6;;;20;24"


MUST = MustWork(leases=50, attacks=90)


@pytest.mark.parametrize(
    ("rule", "attempts", "counts"),
    [
        (Resits.BEST, [("90", (6, 0)), ("70", (3, 22))], 2),  # one that works goes before one that does not
        (Resits.BEST, [("90", (3, 22)), ("70", (6, 24))], 1),
        (Resits.CAPPED, [("90", (6, 21)), ("40", (6, 24))], 2),
        (Resits.LAST, [("90", (6, 24)), ("70", (6, 0))], 2),
        (Resits.BEST, [("90", None), ("70", (3, 22))], 2),  # what was not tried does not count as working
    ],
)
def test_of_several_attempts_one_that_works_goes_before_one_that_does_not(
    rule: Resits, attempts: list[tuple[str, tuple[int, int] | None]], counts: int
) -> None:
    grades = [grade("a", number, marks, works=works) for number, (marks, works) in enumerate(attempts, 1)]
    (counted,) = counting(grades, rule, 60, MUST)
    assert counted.trainee.attempt == counts


@pytest.mark.parametrize(
    ("marks", "works", "passes"),
    [
        ("60", (3, 22), True),
        ("60", (2, 22), False),
        ("60", (3, 21), False),
        ("59", (6, 24), False),
        ("60", None, False),
    ],
)
def test_a_paper_passes_only_with_marks_and_network(marks: str, works: tuple[int, int] | None, passes: bool) -> None:
    each = grade("a", 1, marks, works=works)
    assert each.has_passed(60, MUST) is passes
    assert each.has_passed(60) is (marks == "60")


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", "\ufe6231", "\uff20x", "\uff1d1+1"])
def test_a_name_that_a_program_would_reckon_with_gets_an_apostrophe(name: str) -> None:
    text = csv_text([], [], [grade("a", 1, None, name=name)], decimal_comma=False)
    assert next(csv.reader(io.StringIO(text, newline=""), strict=True)) == [
        "id",
        "name",
        "group",
        "percent",
        "marks",
        "out of",
        *("leases", "leases of", "pings", "pings of", "attacks stopped", "attacks of"),
    ]
    assert list(csv.reader(io.StringIO(text, newline="")))[1][1] == f"'{name}"


@pytest.mark.parametrize(("marks", "has_passed"), [("59.96", False), ("59.999", False), ("60", True), ("60.001", True)])
def test_passing_is_decided_on_the_sum_and_not_on_what_is_shown(marks: str, has_passed: bool) -> None:
    assert grade("a", 1, marks).has_passed(60) is has_passed
    assert str(grade("a", 1, marks).percent) == "60.0"
