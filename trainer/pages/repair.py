"""What a key page says of a fault-finding lab: what is wrong, how it is found, what proves the repair."""

from collections.abc import Iterator

from trainer.lab.repair.sheet import Edit, PrintedTest, Repair, Symptom
from trainer.lab.scenario import Scenario
from trainer.pages import blocks
from trainer.pages.blocks import Paragraph, Table

__all__ = ["repair_sections"]


def repair_sections(scenario: Scenario) -> Iterator[blocks.Section]:
    """Nothing where the lab has no faults."""
    repair = scenario.repair
    if repair is None:
        return
    yield blocks.Section(title="What is wrong", blocks=(_deviations(repair), Paragraph((_repair_in_words(repair),))))
    way: tuple[blocks.Block, ...] = (*_reasoning(repair), _way(repair)) if repair.faults else ()
    yield blocks.Section(title="How it is found", blocks=(*way, _tests(repair)))


def _deviations(repair: Repair) -> Table:
    rows = []
    for number, edit in enumerate((*repair.faults, *repair.decoys), 1):
        is_fault = number <= len(repair.faults)
        explains = ", ".join(each.id for each in repair.symptoms if number in each.faults) if is_fault else "nothing"
        found = edit.value or "a row is missing"
        texts = (str(number), edit.line, edit.column, found, edit.right, "cause" if is_fault else "harmless", explains)
        rows.append(tuple((text,) for text in texts))
    return Table(
        title="Deviations from the plan",
        headings=("No.", "Line", "Column", "Found", "Should be", "Kind", "Explains"),
        rows=tuple(rows),
        codes=frozenset({3, 4}),
        unbroken=frozenset({0, 1}),
    )


def _repair_in_words(repair: Repair) -> str:
    if not repair.faults:
        return "Nothing is wrong: all that was seen is as planned, and so is what the user spoke of. Leave the network as it is."
    told = [_mend(edit) for edit in repair.faults]
    return f"{' Then: '.join(told)} Every trial of the proof below goes as it should then."


def _mend(edit: Edit) -> str:
    if edit.is_missing_row:
        return f"Write the row that is missing at line {edit.line}: {edit.right}."
    return f"In line {edit.line} set {edit.column} to {edit.right}."


def _reasoning(repair: Repair) -> Iterator[Paragraph]:
    """What each sort of symptom leaves, as the sheet tells them."""
    sorts = list(dict.fromkeys(each.sort for each in repair.symptoms))
    named = {sort: [each for each in repair.symptoms if each.sort is sort] for sort in sorts}
    parts = [
        f"{_names(named[sort])} ({sort.word}{'s' if len(named[sort]) > 1 else ''}): {left}"
        for sort, left in zip(sorts, repair.vector, strict=True)
    ]
    what = {1: "single slips", 2: "pairs of slips"}.get(repair.of_one_explanation, "sets of three slips")
    yield Paragraph(
        (
            f"{repair.explanations} {what} can be made in this network. So many explain all that was seen up to there: "
            f"{'; '.join(parts)}. Those that are left are all in the {_rows(repair)} above; "
            "what stands in the line decides.",
        )
    )


def _rows(repair: Repair) -> str:
    if repair.hides_second:
        return "row of the first fault"
    return "row" if len(repair.faults) == 1 else "rows"


def _names(symptoms: list[Symptom]) -> str:
    return symptoms[0].id if len(symptoms) == 1 else f"{symptoms[0].id} to {symptoms[-1].id}"


def _way(repair: Repair) -> Table:
    by_id = {each.id: each for each in repair.symptoms}
    rows = []
    for step in repair.way:
        symptom = by_id.get(step.symptom)
        what = "what else fails, and what does not" if symptom is None else f"{symptom.tried}: {symptom.seen}"
        rows.append(((step.symptom or "all",), (what,), (str(step.left),)))
    return Table(
        title="The shortest way: the symptom that tells most, each time",
        headings=("Symptom", "What it shows", "Explanations left"),
        rows=tuple(rows),
        numbers=frozenset({2}),
        unbroken=frozenset({0}),
    )


def _proven(repair: Repair, test: PrintedTest) -> str:
    """Of several faults which of them it shows."""
    if not test.separates:
        return "no"
    shown = [str(number) for number in range(1, len(repair.faults) + 1) if test.proves(number)]
    return f"fault {' and '.join(shown)}" if len(repair.faults) > 1 and shown else "yes"


def _tests(repair: Repair) -> Table:
    rows = tuple(
        ((each.id,), (each.what,), (each.found.word,), (each.mended.word,), (_proven(repair, each),))
        for each in repair.tests
    )
    return Table(
        title="What the tests show",
        headings=("Test", "What to do", "As found", "After mending", "Proves the repair"),
        rows=rows,
        unbroken=frozenset({0}),
    )
