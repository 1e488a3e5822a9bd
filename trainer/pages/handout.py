"""The handout: what a trainee needs on paper to do the lab by hand. It is written from what is given, never from the key.

One to practise by may show how such a lab is done, on another one.
"""

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from typing import Any

from trainer.lab.brief import GLOSSARY_TITLE, PRACTISED_RULES_TITLE, RULES_TITLE, BriefPart, brief, given_tables
from trainer.lab.form import Answers, CellRef, Section
from trainer.lab.questions import SECTIONS
from trainer.lab.questions.faults import FAULTS
from trainer.lab.scenario import Asked, Scenario
from trainer.pages import blocks
from trainer.pages.block_picture import draw_block
from trainer.pages.blocks import Beside, Block, Document, Figure, Paragraph, Table, plain
from trainer.pages.brief_text import brief_blocks
from trainer.pages.drawing import draw_topology
from trainer.pages.given import as_table, found_sections
from trainer.study.steps import STEP_HEADINGS, Worked

__all__ = ["handout_document", "worked_examples"]


_TO_WRITE_ON = "_" * 20
"""Where names are not printed, a sheet that is left behind tells nothing; whoever gets it writes one."""


def handout_document(
    scenario: Scenario,
    text: str,
    given: Answers,
    rules: Sequence[BriefPart] | None = None,
    examples: Sequence[Block] = (),
    *,
    named: bool = False,
) -> Document:
    """The handout of a lab.

    text: the exercise's own brief, in Markdown. given: the right answers, of which those are looked at that are printed filled
    in, and in a fault-finding lab what is found beside its faults. rules: the parts of the Brief, where they are not those of a
    class. examples: what shows how it is done. named: whether the trainee's name is printed.

    Raises TrainerError where the brief cannot be understood.
    """
    trainee = scenario.trainee
    parts = brief(scenario) if rules is None else rules
    time = ((("Time", f"{scenario.minutes} minutes"),) if scenario.minutes else ()) + (
        (("Date", scenario.date),) if scenario.date else ()
    )
    return Document(
        title=f"Handout {scenario.exercise_code} {scenario.lab_number}",
        heading=scenario.title,
        over=f"{scenario.exercise_code} - handout",
        facts=(
            ("Lab number", scenario.lab_number),
            ("Trainee", trainee.id),
            ("Name", (named and trainee.name) or _TO_WRITE_ON),
            ("Block", str(scenario.block)),
            *time,
        ),
        blocks=(
            *brief_blocks(text, scenario),
            *_parts([part for part in parts if part.title in _FIRST and scenario.repair is not None]),
            blocks.Section(title="The network", blocks=(Figure(draw_topology(scenario)),)),
            blocks.Section(title="Given", blocks=tuple(_given(scenario))),
            *_parts(_in_between(scenario, parts)),
            *_found(scenario, given),
            *_rule_card([part for part in parts if part.title in _ON_THE_CARD]),
            *examples,
            blocks.Section(title="To fill in", blocks=tuple(_answer_tables(scenario, given)), is_landscape=True),
        ),
        foot="Isolated lab only. Mains and racks: local rules, licensed persons.",
        running=f"{scenario.lab_number}   {trainee.id}   {scenario.exercise_code}",
    )


def _in_between(scenario: Scenario, parts: Sequence[BriefPart]) -> list[BriefPart]:
    """The parts of the Brief that stand neither in front of the drawing nor on the rule card."""
    elsewhere = _ON_THE_CARD if scenario.repair is None else (*_FIRST, *_ON_THE_CARD)
    return [part for part in parts if part.title not in elsewhere]


def _given(scenario: Scenario) -> Iterator[Block]:
    """The tables of sheet Given; where much more is printed, narrow ones beside each other."""
    tables = {table.title: as_table(table) for table in given_tables(scenario)}
    if scenario.repair is None:
        yield from tables.values()
    else:
        yield tables["Networks"]
        yield Beside((tables["Values"], tables["Links"]), (tables["Stations"],), is_whole=True)


def _found(scenario: Scenario, given: Answers) -> Iterator[Block]:
    """What was found, on a page to lay beside: of the switches two and two beside each other, then what hosts have."""
    sections = list(found_sections(scenario, given))
    if sections:
        *switches, hosts = sections
        pairs = zip_longest(switches[::2], switches[1::2])
        inside = (one if other is None else Beside((one,), (other,)) for one, other in pairs)
        yield blocks.Section(title="The network as found", blocks=(*inside, hosts), on_new_page=True)


def worked_examples(examples: Sequence[Worked], other: Scenario) -> tuple[Block, ...]:
    """How rows are worked out, on rows of another lab, and how its block is cut up."""
    tables = (
        Table(
            title=worked.title,
            headings=STEP_HEADINGS,
            rows=tuple(tuple((text,) for text in line) for line in worked.lines),
        )
        for worked in examples
    )
    is_about_places = any(worked.section.id in ("subnets", "links") for worked in examples)
    picture = (Figure(draw_block(other)),) if is_about_places else ()
    return (blocks.Section(title="How it is done: another lab", blocks=(*picture, *tables), on_new_page=True),)


def _answer_tables(scenario: Scenario, given: Answers) -> Iterator[Block]:
    """A table for each sheet: empty cells where it is asked, right answers where it is printed filled in."""
    for share in scenario.sections:
        section = SECTIONS[share.section]
        if share.asked is Asked.YES:
            yield _empty_table(scenario, section)
        elif share.asked is Asked.GIVEN:
            yield _filled_table(scenario, section, given)


_ROOM, _BROAD, _NARROW = 260, 25, 22
"""Millimetres: of a turned page, of a column that is printed, and of one to write in."""
_LETTER = 1.6
"""Millimetres: of a letter in a table on paper."""
_LONG = 8
"""So many rows, and more, stand in two halves beside each other where there is room."""


def _empty_table(scenario: Scenario, section: Section[Any]) -> Table:
    headings = (*section.given, *(question.heading for question in section.questions_in(scenario)))
    empty: tuple[blocks.Words, ...] = ((),) * len(section.questions_in(scenario))
    rows = tuple((*((text,) for text in row.given), *empty) for row in section.printed_rows(scenario))
    columns = zip(*rows, strict=True)
    breadth = sum(
        max(_BROAD, *(_LETTER * len(plain(cell)) for cell in column)) if column[0] else _NARROW for column in columns
    )
    in_two = len(rows) >= _LONG and 2 * breadth <= _ROOM
    return Table(
        title=f"{section.title}: {section.asks}",
        headings=headings,
        rows=rows,
        is_form=True,
        in_two=in_two,
        is_whole=section is FAULTS,
    )


def _filled_table(scenario: Scenario, section: Section[Any], given: Answers) -> Table:
    is_fixed = section.open is None
    headings = (
        *(section.given if is_fixed else ()),
        *(question.heading for question in section.questions_in(scenario)),
    )
    rows = tuple(
        (
            *((text,) for text in (row.given if is_fixed else ())),
            *(
                (question.kind.show(given.values[CellRef(question.id, row.key)]),)
                for question in section.questions_in(scenario)
            ),
        )
        for row in (*section.rows(scenario), *section.set_already(scenario))
    )
    return Table(title=f"{section.title}: filled in for you", headings=headings, rows=rows, names_rows=is_fixed)


_FIRST = ("What to do",)
"""Where much is printed that was found, what to do with it comes first."""
_ON_THE_CARD = (RULES_TITLE, PRACTISED_RULES_TITLE, "How to write")
"""Parts of the Brief that are looked at while the lab is done: one page by itself, to lay beside."""


_HEADINGS = {
    RULES_TITLE: ("Rule", "What it says"),
    PRACTISED_RULES_TITLE: ("Rule", "What it says"),
    GLOSSARY_TITLE: ("Word", "What it means"),
    "How to write": ("What", "How it is written"),
}


def _rule_card(parts: Sequence[BriefPart]) -> Iterator[Block]:
    if parts:
        yield blocks.Section(title="Rule card", blocks=tuple(_parts(parts)), on_new_page=True)


def _parts(parts: Sequence[BriefPart]) -> Iterator[Block]:
    for part in parts:
        if not any(label for label, _ in part.lines):
            inside: tuple[Block, ...] = tuple(Paragraph((text,)) for _, text in part.lines)
        else:
            inside = (
                Table(
                    title=part.title,
                    headings=_HEADINGS.get(part.title, ("About", "What to know")),
                    rows=tuple(((label.strip(),), (text,)) for label, text in part.lines),
                    unbroken=frozenset({0}),
                    shows_title=False,
                ),
            )
        yield blocks.Section(title=part.title, blocks=inside)
