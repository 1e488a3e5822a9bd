"""The results page for the instructor: how the class did, what was hard, what went wrong, and whom to look after."""

from collections.abc import Iterator, Mapping
from decimal import Decimal

from trainer.lab.questions import SECTIONS
from trainer.listing import first_few
from trainer.marking.marks import in_tenths
from trainer.pages import blocks
from trainer.pages.blocks import Bar, Block, Cell, Document, Figure, Inline, Link, Paragraph, Table, Words
from trainer.pages.pictures import draw_marks
from trainer.results.class_report import FEWEST, ClassReport
from trainer.results.grades import MistakeCount

__all__ = ["results_document"]

_MOST_MAKERS = 12
"""Of those who made a mistake, or of whom the same is noticed, so many are named."""
_MOST = 10
"""So many of the hardest questions and of the commonest mistakes are shown; the workbook has all."""


def results_document(report: ClassReport, feedback: Mapping[str, str]) -> Document:
    """The page of a class. feedback: the feedback pages that are there, by lab, as links from where this page lies."""
    handed_in = len(report.handed_in)
    return Document(
        title=f"Results {report.title}",
        heading="Results",
        over=report.title,
        facts=(
            ("Handed in", f"{handed_in} of {len(report.lines)}"),
            ("Passed", f"{report.passed} of {handed_in}, from {report.pass_mark} per cent on{_must(report)}"),
            *_averages_fact(report),
        ),
        blocks=(
            blocks.Section(title="Trainees", blocks=(_roll(report, feedback),)),
            *_needs_attention(report),
            *_class(report),
            *_by_sheet(report),
            *_questions(report),
            *_mistakes(report, feedback),
        ),
        foot="All lines, questions and mistakes stand in the workbook of the same name. For the instructor only.",
        running=f"Results   {report.title}",
        is_wide=True,
    )


def _must(report: ClassReport) -> str:
    return f" where so much works: {report.must_work.words}" if report.must_work else ""


def _averages_fact(report: ClassReport) -> Iterator[tuple[str, str]]:
    if report.tells_of_class:
        percents = sorted(line.percent for line in report.handed_in)
        middle = (percents[(len(percents) - 1) // 2] + percents[len(percents) // 2]) / 2
        yield "Median", f"{in_tenths(middle)} per cent"


# --- What needs attention -------------------------------------------------------------------------------------------


def _needs_attention(report: ClassReport) -> Iterator[Block]:
    """Files that were not graded, notices, and who has not handed in; nothing where there is nothing."""
    inside: list[Block] = []
    if report.not_graded:
        files = tuple(((file,), (reason,)) for file, reason in report.not_graded)
        inside.append(Table(title="Not graded", headings=("File", "Why, and what to do"), rows=files))
    by_notice: dict[str, list[str]] = {}
    for line in report.lines:
        for notice in line.notices:
            by_notice.setdefault(notice, []).append(line.trainee.called)
    noticed = tuple(((first_few(names, _MOST_MAKERS),), (notice,)) for notice, names in by_notice.items())
    if noticed:
        inside.append(Table(title="Notices", headings=("Trainee", "What to know of the file"), rows=noticed))
    if report.absent:
        absent = tuple(
            ((line.trainee.called,), (line.trainee.group or "-",), (line.absence,)) for line in report.absent
        )
        inside.append(Table(title="Without marks", headings=("Trainee", "Group", "Why"), rows=absent))
    if inside:
        yield blocks.Section(title="Needs attention", blocks=tuple(inside))


# --- The class --------------------------------------------------------------------------------------------------------


def _class(report: ClassReport) -> Iterator[Block]:
    if not report.tells_of_class:
        few = f"{len(report.handed_in)} handed in: too few to speak of a class. From {FEWEST} on the spread of marks, the "
        yield Paragraph((f"{few}averages and the hardest questions stand here.",))
        return
    picture = draw_marks([line.percent for line in report.handed_in])
    rows = tuple(
        (
            (SECTIONS[each.section].title,),
            (f"{each.per_cent} %",),
            (f"{each.full} of {len(report.handed_in)}",),
            Bar(each.per_cent),
        )
        for each in report.averages
    )
    headings = ("Sheet", "Marks earned", "All marks", "Share")
    sheets = Table(title="Sheets", headings=headings, rows=rows, numbers=frozenset({1, 2}))
    yield blocks.Section(title="The class", blocks=(Figure(picture), sheets))


def _questions(report: ClassReport) -> Iterator[Block]:
    hard = [each for each in report.questions if each.per_cent < 100][:_MOST]
    if not report.tells_of_class or not hard:
        return
    lead = (
        f"Marks earned of those to be had, with the range in which a class of {len(report.handed_in)} leaves the true "
        "share (95 per cent, Wilson 1927). Where ranges overlap, do not rank."
    )
    rows = tuple(
        (
            (f"{each.section}: {each.heading}",),
            (f"{each.per_cent} %",),
            (f"{each.lowest} to {each.highest} %",),
            Bar(each.per_cent),
        )
        for each in hard
    )
    table = Table(
        title="Hardest questions",
        headings=("Question", "Marks earned", "Range", "Share"),
        rows=rows,
        numbers=frozenset({1, 2}),
        shows_title=False,
    )
    yield blocks.Section(title="Hardest questions", blocks=(Paragraph((lead,), is_lead=True), table))


def _makers(mistake: MistakeCount, feedback: Mapping[str, str]) -> Iterator[Inline]:
    """Who made it, the first few by name, each with a link to the feedback page where there is one."""
    for number, (lab, who) in enumerate(mistake.made_by[:_MOST_MAKERS]):
        yield ", " if number else ""
        name = " ".join(filter(None, (who.id, who.name)))
        yield Link(name, feedback[lab]) if lab in feedback else name
    if mistake.trainees > _MOST_MAKERS:
        yield f" and {mistake.trainees - _MOST_MAKERS} more"


def _mistakes(report: ClassReport, feedback: Mapping[str, str]) -> Iterator[Block]:
    if report.mistakes:
        rows: tuple[tuple[Cell, ...], ...] = tuple(
            (
                (str(each.trainees),),
                (str(each.cells),),
                (", ".join(each.sheets),),
                (each.explanation,),
                tuple(_makers(each, feedback)),
            )
            for each in report.mistakes[:_MOST]
        )
        table = Table(
            title="Commonest mistakes",
            headings=("Trainees", "Cells", "Sheet", "What was said, for instance", "Who"),
            rows=rows,
            numbers=frozenset({0, 1}),
            names_rows=False,
            shows_title=False,
        )
        lead = Paragraph(
            ("Sheets that somebody left empty are not counted, nor cells that are merely empty.",), is_lead=True
        )
        yield blocks.Section(title="Commonest mistakes", blocks=(lead, table))


# --- The trainees -----------------------------------------------------------------------------------------------------


def _roll(report: ClassReport, feedback: Mapping[str, str]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for line in report.lines:
        who, page = line.trainee, feedback.get(line.lab)
        names: tuple[Cell, ...] = ((who.id,), (who.name or "-",))
        group: tuple[Cell, ...] = ((who.group or "-",), (str(who.attempt),))
        if line.marked is None:
            rows.append((*names, (line.absence,), ("-",), ("-",), ("-",), *group))
            continue
        passed = "\u2713 passed" if report.has_passed(line) else "\u2717 not passed"
        works = line.works.line if line.works else "not tried"
        marks = f"{in_tenths(line.percent)} %"
        link: Words = (Link(f"feedback {who.id}", page),) if page else ("-",)
        rows.append((*names, (marks,), (passed,), (works,), link, *group))
    return Table(
        title="Per cent of the marks",
        headings=("Id", "Name", "Per cent", "Passed", "What works", "Page", "Group", "Attempt"),
        rows=tuple(rows),
        numbers=frozenset({2}),
        unbroken=frozenset({0, 3, 5}),
    )


def _by_sheet(report: ClassReport) -> Iterator[Block]:
    told = [line for line in report.lines if line.marked is not None or line.parts]
    if not told:
        return
    rows = []
    for line in told:
        marks = {each.section: each.marks for each in line.marked.sections} if line.marked else None
        who = line.trainee
        rows.append(
            (
                (who.id,),
                (who.name or "-",),
                *(("-" if marks is None else in_tenths(marks.get(each, Decimal(0))),) for each in report.sections),
                *((in_tenths(each.marks) if each else "-",) for each in map(line.by_hand, report.parts)),
            )
        )
    table = Table(
        title="Marks by sheet",
        headings=("Id", "Name", *(SECTIONS[each].title for each in report.sections), *report.parts),
        rows=tuple(rows),
        numbers=frozenset(range(2, len(report.sections) + len(report.parts) + 2)),
        unbroken=frozenset({0}),
        shows_title=False,
    )
    yield blocks.Section(title="Marks by sheet", blocks=(table,))
