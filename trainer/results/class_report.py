"""What is to be said of a class that did an exercise: worked out once, told by the results workbook and the results page."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from trainer.lab.exercise import Exercise, ExerciseKind
from trainer.lab.questions import repair_shares
from trainer.lab.scenario import Asked
from trainer.lab.works import MustWork
from trainer.listing import listed
from trainer.marking.marks import Verdict, shown
from trainer.results.grades import Facility, MistakeCount, TraineeGrade, common_mistakes, counting, facilities

__all__ = ["FEWEST", "ClassReport", "MissingRow", "SectionAverage", "class_report", "lines_of", "parts_by_hand"]

FEWEST = 5
"""Of fewer hand-ins no average, no spread and no order of questions is told (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionAverage:
    """How a sheet went, over all lines of the results that have marks."""

    section: str
    per_cent: Decimal
    """Of the marks to be had, 0 to 100, rounded half up to whole numbers."""
    full: int
    """How many have all its marks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingRow:
    """A row of an open sheet that a trainee did not write."""

    trainee: str
    name: str
    section: str
    row: str
    """As the key and the decisions call it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassReport:
    """The class, its questions and its mistakes."""

    title: str
    pass_mark: int
    must_work: MustWork | None = None
    """What has to work for a pass beside the marks."""
    sections: tuple[str, ...]
    """Ids of the sections that are asked."""
    parts: tuple[str, ...] = ()
    """Names of the parts that the instructor marks by hand, beside the sheets."""
    lines: tuple[TraineeGrade, ...]
    """The attempt of each trainee that counts, by group."""
    averages: tuple[SectionAverage, ...]
    questions: tuple[Facility, ...]
    """The hardest first; in the order of the form where too few have handed in to tell."""
    mistakes: tuple[MistakeCount, ...]
    """The commonest first."""
    missing: tuple[MissingRow, ...]
    """Rows that should have been written and were not, for decisions on them: trainees may not see their names."""
    not_graded: tuple[tuple[str, str], ...]
    """Files without marks, as the sitting calls them, and the reasons."""

    @property
    def handed_in(self) -> tuple[TraineeGrade, ...]:
        return tuple(line for line in self.lines if line.marked is not None)

    @property
    def absent(self) -> tuple[TraineeGrade, ...]:
        """Who has no marks, excused or not."""
        return tuple(line for line in self.lines if line.marked is None)

    @property
    def passed(self) -> int:
        return sum(map(self.has_passed, self.handed_in))

    def has_passed(self, line: TraineeGrade) -> bool:
        return line.has_passed(self.pass_mark, self.must_work)

    @property
    def tells_of_class(self) -> bool:
        """Whether enough have handed in for averages, spread and an order of questions."""
        return len(self.handed_in) >= FEWEST


def class_report(
    exercise: Exercise, attempts: Sequence[TraineeGrade], not_graded: Sequence[tuple[str, str]]
) -> ClassReport:
    """The report of a class. attempts: one for every lab of the sitting, handed in or not, in the order of the register."""
    shares = exercise.sections if exercise.kind is ExerciseKind.PLAN else repair_shares()
    sections = tuple(share.section for share in shares if share.asked is Asked.YES)
    lines = lines_of(exercise, attempts)
    parts = parts_by_hand(lines)
    lines = tuple(_told_of_parts(line, parts) for line in lines)
    report = ClassReport(
        title=f"{exercise.code}, {exercise.title}",
        pass_mark=exercise.pass_mark,
        must_work=exercise.must_work,
        sections=sections,
        parts=parts,
        lines=lines,
        averages=tuple(_averages(sections, lines)),
        questions=facilities(attempts),
        mistakes=common_mistakes(attempts),
        missing=tuple(_missing(lines)),
        not_graded=tuple(not_graded),
    )
    if not report.tells_of_class:
        return report
    return replace(report, questions=tuple(sorted(report.questions, key=lambda each: each.per_cent)))


def lines_of(exercise: Exercise, attempts: Sequence[TraineeGrade]) -> tuple[TraineeGrade, ...]:
    """The attempt of each trainee that counts, in the order of the attempts; groups that stand among each other there, group
    by group in the order of their first.
    """
    counted = counting(attempts, exercise.resits, exercise.pass_mark, exercise.must_work)
    groups = list(dict.fromkeys(grade.trainee.group for grade in counted))
    return tuple(sorted(counted, key=lambda grade: groups.index(grade.trainee.group)))


def parts_by_hand(lines: Sequence[TraineeGrade]) -> tuple[str, ...]:
    """The names of the parts that the instructor has marked, in order."""
    names: dict[str, str] = {}
    for line in lines:
        for each in line.marked.by_hand if line.marked else line.parts:
            names.setdefault(each.part.casefold(), each.part)
    return tuple(names.values())


def _told_of_parts(line: TraineeGrade, parts: Sequence[str]) -> TraineeGrade:
    """The line, with a notice of the parts that others have marks for."""
    if line.marked is None:
        given = listed([f"{each.part} {shown(each.marks)} of {shown(each.out_of)}" for each in line.parts])
        note = f"{given}; without a workbook this makes no total." if given else ""
        return replace(line, notices=(*line.notices, *filter(None, [note])))
    lacking = [part for part in parts if line.by_hand(part) is None]
    note = f"No marks yet for {listed(lacking)}; the total is without." if lacking else ""
    return replace(line, notices=(*line.notices, *filter(None, [note])))


def _missing(lines: Sequence[TraineeGrade]) -> Iterator[MissingRow]:
    for line in lines:
        cells = line.marked.cells if line.marked else ()
        rows = dict.fromkeys((cell.section, cell.row) for cell in cells if cell.verdict is Verdict.MISSING)
        yield from (
            MissingRow(trainee=line.trainee.id, name=line.trainee.name, section=section, row=row)
            for section, row in rows
        )


def _averages(sections: Sequence[str], lines: Sequence[TraineeGrade]) -> list[SectionAverage]:
    found = []
    for section in sections:
        marks = [each for line in lines if line.marked for each in line.marked.sections if each.section == section]
        out_of = sum((each.out_of for each in marks), Decimal(0))
        if out_of:
            share = sum((each.marks for each in marks), Decimal(0)) * 100 / out_of
            full = sum(each.marks == each.out_of for each in marks)
            found.append(SectionAverage(section=section, per_cent=share.quantize(Decimal(1), ROUND_HALF_UP), full=full))
    return found
