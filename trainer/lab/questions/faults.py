"""Sheet Faults of a fault-finding lab: which line is not as planned, what should stand there, and whether it does harm."""

from trainer.lab.concepts import FaultConcept
from trainer.lab.form import OpenRows, Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.repair.kinds import COLUMN, FAULT_KIND, FREE_TEXT, LINE, TEST_NAME
from trainer.lab.repair.sheet import NO_FAULT, Edit, FaultKind
from trainer.lab.rows import About, LineRow
from trainer.lab.scenario import Scenario

__all__ = ["FAULTS", "FAULT_COLUMN", "FAULT_KIND_OF", "FAULT_LINE", "FAULT_TEST", "SHOULD_BE"]


def _rows(scenario: Scenario) -> tuple[Row[LineRow], ...]:
    """The faults first, so that they have the numbers that sheet Symptoms names; where there is none, the row that says so."""
    has_none = scenario.repair is not None and not scenario.repair.faults
    lines = (NO_FAULT,) if has_none else ()
    return tuple(Row(LineRow(line)) for line in (*lines, *(each.line for each in _edits(scenario))))


def _edits(scenario: Scenario) -> tuple[Edit, ...]:
    return () if scenario.repair is None else (*scenario.repair.faults, *scenario.repair.decoys)


def _edit(scenario: Scenario, row: LineRow) -> Edit:
    return next(each for each in _edits(scenario) if each.line == row.line)


def _is_cause(scenario: Scenario, row: LineRow) -> bool:
    return scenario.repair is not None and any(each.line == row.line for each in scenario.repair.faults)


def _line(_scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    return row.line


def _column(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    """Beside "none" all cells stay empty."""
    return "" if row.line == NO_FAULT else _edit(scenario, row).column


def _should_be(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    return "" if row.line == NO_FAULT else _edit(scenario, row).right


def _kind(scenario: Scenario, _so_far: SoFar, row: LineRow) -> FaultKind | None:
    if row.line == NO_FAULT:
        return None
    return FaultKind.CAUSE if _is_cause(scenario, row) else FaultKind.HARMLESS


def _test(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    """The first that shows whether the fault is mended; none shows anything of a harmless deviation."""
    assert scenario.repair is not None
    number = next((place for place, each in enumerate(scenario.repair.faults, 1) if each.line == row.line), None)
    return "" if number is None else next(each.id for each in scenario.repair.tests if each.proves(number))


def _why_line(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    if row.line == NO_FAULT:
        return "all that was seen is as planned"
    return "the row that explains all that was seen" if _is_cause(scenario, row) else "not as planned, and harmless"


def _why_column(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    if row.line == NO_FAULT:
        return ""
    edit = _edit(scenario, row)
    return "the plan has a row that is not there" if edit.is_missing_row else f"{edit.value} stands there"


def _why_value(_scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    return "" if row.line == NO_FAULT else "by the rules of the Brief"


def _why_kind(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    if row.line == NO_FAULT:
        return ""
    return "mending it brings symptoms back" if _is_cause(scenario, row) else "with it or without it all goes the same"


def _why_test(scenario: Scenario, _so_far: SoFar, row: LineRow) -> str:
    return "it comes out otherwise while this fault is left" if _is_cause(scenario, row) else ""


FAULT_LINE = Question(
    id="faults.line",
    heading="Line",
    kind=LINE,
    role=Role.DESCRIBES,
    answer=_line,
    reason=_why_line,
    how=lambda _: (
        "Work out from Given what each line should say, and look first where what works and what does not part."
    ),
    word="line: one row of a sheet Found, such as A7",
    concept=FaultConcept.LOCATING,
    may_follow=False,
    match_weight=4,
)
FAULT_COLUMN = Question(
    id="faults.column",
    heading="Column",
    kind=COLUMN,
    role=Role.DESCRIBES,
    answer=_column,
    reason=_why_column,
    how=lambda _: "Take the heading above the value that is not as planned.",
    concept=FaultConcept.LOCATING,
    may_follow=False,
)
SHOULD_BE = Question(
    id="faults.should_be",
    heading="Should be",
    kind=FREE_TEXT,
    role=Role.DESCRIBES,
    answer=_should_be,
    reason=_why_value,
    how=lambda _: "Work the value out by the rules of the Brief, as in a plan.",
    concept=FaultConcept.LOCATING,
    may_follow=False,
)
FAULT_KIND_OF = Question(
    id="faults.kind",
    heading="Cause or harmless",
    kind=FAULT_KIND,
    role=Role.DESCRIBES,
    answer=_kind,
    reason=_why_kind,
    how=lambda _: (
        "Put the line right in your mind. If a symptom comes back, it is a cause; if nothing changes, it is harmless."
    ),
    word="harmless: not as planned, and nothing fails from it",
    concept=FaultConcept.LOCATING,
    may_follow=False,
)
FAULT_TEST = Question(
    id="faults.test",
    heading="Test",
    kind=TEST_NAME,
    role=Role.DESCRIBES,
    answer=_test,
    reason=_why_test,
    how=lambda _: (
        "Take a test that comes out one way with the fault and another way without it. Of a harmless line none does."
    ),
    concept=FaultConcept.TESTING,
    may_follow=False,
)

FAULTS = Section(
    id="faults",
    title="Faults",
    asks="every line that is not as planned: what should stand there, whether it does harm, which test shows it",
    about=About.LINE,
    decided_by=tuple(HouseRule),
    how_to_write="As on the sheets Found; the Brief says how to write a missing row. There are more rows than you need.",
    given=("Row",),
    questions=(FAULT_LINE, FAULT_COLUMN, SHOULD_BE, FAULT_KIND_OF, FAULT_TEST),
    rows=_rows,
    open=OpenRows(
        label="Fault",
        least=1,
        printed=lambda scenario: 0 if scenario.repair is None else scenario.repair.printed_faults,
    ),
)
