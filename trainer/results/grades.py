"""Many marks: who has how many, which questions were hard, which mistakes were common."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from trainer.lab.questions import SECTIONS
from trainer.lab.scenario import Resits, Trainee
from trainer.lab.works import MustWork, Works
from trainer.marking.explanation import BLANK, EASIER, NEUTRAL
from trainer.marking.marks import CellMark, HandMark, Marked, shown

__all__ = [
    "EXCUSED",
    "NOT_HANDED_IN",
    "Facility",
    "MistakeCount",
    "TraineeGrade",
    "cap_note",
    "cap_of",
    "common_mistakes",
    "counting",
    "facilities",
    "likely_range",
    "standing",
]

EXCUSED, NOT_HANDED_IN = "excused", "not handed in"
"""How trainees without marks stand in the results; neither counts as 0."""


_TWO_SIDED_95 = Decimal("1.959964")
"""Within so many standard deviations lie 95 per cent of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TraineeGrade:
    """A trainee's line in the results; without marks where nothing was handed in."""

    trainee: Trainee
    lab: str
    marked: Marked | None
    notices: tuple[str, ...] = ()
    most_per_cent: int = 100
    """What a capped re-sit earns at most."""
    parts: tuple[HandMark, ...] = ()
    """What was marked by hand of somebody who handed no workbook in: it is shown, and makes no total."""

    @property
    def absence(self) -> str:
        """Why there are no marks; "" where there are."""
        if self.marked is not None:
            return ""
        return EXCUSED if self.trainee.is_excused else NOT_HANDED_IN

    @property
    def percent(self) -> Decimal:
        """0 to 100, the cap applied; 0 without marks. To be shown: who has passed is decided on the sum, `has_passed`."""
        return min(self.marked.percent, Decimal(self.most_per_cent)) if self.marked else Decimal(0)

    def has_passed(self, pass_mark: int, must_work: MustWork | None = None) -> bool:
        """Whether the marks are at least so many per cent of those to be had, decided on their sum, however it is shown; and
        whether so much works as has to.
        """
        has_marks = self.marked is not None and self.marks * 100 >= self.marked.out_of * pass_mark
        return has_marks and self.network_works(must_work)

    def by_hand(self, part: str) -> HandMark | None:
        """The marks of a part that is marked by hand; None where there are none."""
        given = self.marked.by_hand if self.marked else self.parts
        return next((each for each in given if each.part.casefold() == part.casefold()), None)

    @property
    def works(self) -> Works | None:
        """What of the trainee's own network works; None without marks, and where it was not tried."""
        return self.marked.works if self.marked else None

    def network_works(self, must_work: MustWork | None) -> bool:
        """Whether so much works as has to. What was not tried works only where nothing has to."""
        return must_work is None or (self.works is not None and not must_work.short(self.works))

    @property
    def marks(self) -> Decimal:
        """The marks, the cap applied."""
        if self.marked is None:
            return Decimal(0)
        return min(self.marked.marks, self.marked.out_of * self.most_per_cent / 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class MistakeCount:
    """How often a mistake was made, and by how many trainees."""

    mistake: str
    sheets: tuple[str, ...]
    """Titles of the sheets on which it was made."""
    explanation: str
    """One of the explanations given for it."""
    cells: int
    made_by: tuple[tuple[str, Trainee], ...]
    """Lab and trainee of each paper in which it was made, in the order of the papers."""

    @property
    def trainees(self) -> int:
        return len(self.made_by)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facility:
    """How well a question went: the marks earned, of those to be had, by all who handed in."""

    question: str
    section: str
    heading: str
    per_cent: Decimal
    """0 to 100, rounded half up to whole numbers."""
    lowest: Decimal
    highest: Decimal
    """Ends of the range in which the true share lies with 95 per cent, for as many as were asked; rounded as above."""


def counting(
    grades: Sequence[TraineeGrade], rule: Resits, pass_mark: int, must_work: MustWork | None = None
) -> tuple[TraineeGrade, ...]:
    """One grade for each trainee, by the rule for re-sits, in the order of their first attempts.

    The best is the one with most marks, not with most per cent as rounded; of equal ones the first. One whose network
    works as it must goes before one whose does not.
    Attempts that were not handed in count for nothing, unless there are no others.
    """
    attempts: dict[str, list[TraineeGrade]] = {}
    for grade in grades:
        attempts.setdefault(grade.trainee.id, []).append(grade)
    return tuple(_counting(each, rule, pass_mark, must_work) for each in attempts.values())


def standing(grades: Sequence[TraineeGrade]) -> str:
    """How many of a class are not there, in words; the excused are named only where there are any.

    >>> standing([])
    '0 of the class not handed in'
    """
    reasons = [grade.absence for grade in grades]
    counts = f"{reasons.count(NOT_HANDED_IN)} of the class {NOT_HANDED_IN}"
    return f"{counts}, {reasons.count(EXCUSED)} {EXCUSED}" if EXCUSED in reasons else counts


def _counting(
    attempts: Sequence[TraineeGrade], rule: Resits, pass_mark: int, must_work: MustWork | None
) -> TraineeGrade:
    in_order = sorted(attempts, key=lambda grade: grade.trainee.attempt)
    in_order = [_capped(each, cap_of(each.trainee.attempt, rule, pass_mark)) for each in in_order]
    handed_in = [grade for grade in in_order if grade.marked is not None]
    if not handed_in:
        return in_order[-1]
    if rule is Resits.LAST:
        return handed_in[-1]
    return max(handed_in, key=lambda grade: (grade.network_works(must_work), grade.marks))


def cap_of(attempt: int, rule: Resits, pass_mark: int) -> int:
    """What an attempt earns at most, in per cent."""
    return pass_mark if rule is Resits.CAPPED and attempt > 1 else 100


def cap_note(attempt: int, marked: Marked, most_per_cent: int) -> str:
    """What a capped re-sit earned and what it counts; "" where nothing is cut."""
    if marked.marks * 100 <= marked.out_of * most_per_cent:
        return ""
    return (
        f"Attempt {attempt}: {shown(marked.percent)} per cent, counts {most_per_cent}; a re-sit earns no more. The sheets keep "
        "what they earned."
    )


def _capped(grade: TraineeGrade, most_per_cent: int) -> TraineeGrade:
    note = cap_note(grade.trainee.attempt, grade.marked, most_per_cent) if grade.marked else ""
    return replace(grade, most_per_cent=most_per_cent, notices=(*grade.notices, *filter(None, [note])))


def common_mistakes(grades: Sequence[TraineeGrade]) -> tuple[MistakeCount, ...]:
    """Mistakes, those made by most trainees first. Missing rows count too; a cell that is merely empty is no mistake to
    count, nor is what follows from one, nor a sheet on which nothing stands.
    """
    cells: dict[str, list[CellMark]] = {}
    makers: dict[str, dict[str, Trainee]] = {}
    for grade in grades:
        marked = grade.marked.cells if grade.marked else ()
        begun = {cell.section for cell in marked if cell.given}
        for cell in marked:
            if cell.explanation is None or cell.section not in begun:
                continue
            if cell.explanation.mistake in (BLANK, EASIER):
                continue
            mistake = cell.explanation.mistake
            made = f"{mistake} {cell.section}" if mistake in NEUTRAL else mistake  # its text is about that sheet alone
            cells.setdefault(made, []).append(cell)
            makers.setdefault(made, {})[grade.lab] = grade.trainee
    counts = (
        MistakeCount(
            mistake=mistake.split(" ")[0],
            sheets=tuple(
                section.title for section in SECTIONS.values() if section.id in {cell.section for cell in made}
            ),
            explanation=next(cell.explanation.explanation for cell in made if cell.explanation),
            cells=len(made),
            made_by=tuple(makers[mistake].items()),
        )
        for mistake, made in cells.items()
    )
    return tuple(sorted(counts, key=lambda each: (-each.trainees, -each.cells, each.mistake)))


def facilities(grades: Sequence[TraineeGrade]) -> tuple[Facility, ...]:
    """Every question that was asked of anybody, in the order of the form."""
    marks: dict[str, Counter[_Ratio]] = {}
    out_of: dict[str, Counter[_Ratio]] = {}
    asked: dict[str, set[str]] = {}
    for grade in grades:
        for cell in grade.marked.cells if grade.marked else ():
            asked.setdefault(cell.question, set()).add(grade.lab)
            marks.setdefault(cell.question, Counter())[cell.marks.as_integer_ratio()] += 1
            out_of.setdefault(cell.question, Counter())[cell.out_of.as_integer_ratio()] += 1
    found = []
    for section in SECTIONS.values():
        for question in section.questions:
            if whole := _sum(out_of.get(question.id, Counter())):
                exact = _sum(marks[question.id]) / whole
                share = Decimal(exact.numerator) / exact.denominator
                lowest, highest = likely_range(share, len(asked[question.id]))
                found.append(
                    Facility(
                        question=question.id,
                        section=section.title,
                        heading=question.heading,
                        per_cent=_per_cent(share),
                        lowest=_per_cent(lowest),
                        highest=_per_cent(highest),
                    )
                )
    return tuple(found)


_Ratio = tuple[int, int]


def _sum(ratios: Counter[_Ratio]) -> Fraction:
    """Of fractions that are not negative; a class has few different ones, and adding them one by one takes long."""
    return sum((Fraction(max(top, 0) * count, bottom) for (top, bottom), count in ratios.items()), Fraction(0))


def _per_cent(share: Decimal) -> Decimal:
    return (share * 100).quantize(Decimal(1), ROUND_HALF_UP)


def likely_range(share: Decimal, count: int) -> tuple[Decimal, Decimal]:
    """Where the true share lies with 95 per cent, when so many show this one (Wilson 1927, score interval).

    share: 0 to 1; count: 1 or more. For marks it is a little too wide, as they vary less than right and wrong do.

    >>> [f"{end:.2f}" for end in likely_range(Decimal("0.7"), 20)]
    ['0.48', '0.85']
    """
    square = _TWO_SIDED_95**2
    middle = share + square / (2 * count)
    spread = _TWO_SIDED_95 * (share * (1 - share) / count + square / (4 * count * count)).sqrt()
    whole = 1 + square / count
    return max((middle - spread) / whole, Decimal(0)), min((middle + spread) / whole, Decimal(1))
