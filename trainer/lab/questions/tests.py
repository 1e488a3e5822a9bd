"""Sheet Tests of a fault-finding lab: what was not tried yet, and how it comes out before and after the repair."""

from trainer.lab.concepts import FaultConcept
from trainer.lab.form import Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.repair.kinds import OUTCOME
from trainer.lab.repair.sheet import OutcomeOfTest, PrintedTest
from trainer.lab.rows import About, TryRow
from trainer.lab.scenario import Scenario

__all__ = ["AS_FOUND", "MENDED", "TESTS"]


def _rows(scenario: Scenario) -> tuple[Row[TryRow], ...]:
    tests = () if scenario.repair is None else scenario.repair.tests
    return tuple(Row(TryRow(number), (each.id, each.what)) for number, each in enumerate(tests, 1))


def _test(scenario: Scenario, row: TryRow) -> PrintedTest:
    assert scenario.repair is not None
    return scenario.repair.tests[row.number - 1]


def _found(scenario: Scenario, _so_far: SoFar, row: TryRow) -> OutcomeOfTest:
    return _test(scenario, row).found


def _mended(scenario: Scenario, _so_far: SoFar, row: TryRow) -> OutcomeOfTest:
    return _test(scenario, row).mended


def _why_found(scenario: Scenario, _so_far: SoFar, row: TryRow) -> str:
    return "the fault is in its way" if _test(scenario, row).separates else "no fault is in its way"


def _why_mended(scenario: Scenario, _so_far: SoFar, row: TryRow) -> str:
    return "as planned" if _test(scenario, row).separates else "as before: it shows nothing about the repair"


AS_FOUND = Question(
    id="tests.found",
    heading="As found",
    kind=OUTCOME,
    role=Role.PREDICTS,
    answer=_found,
    reason=_why_found,
    how=lambda _: "Follow the packet there and back through the sheets Found. A line that is wrong stops or turns it.",
    concept=FaultConcept.TESTING,
    may_follow=False,
)
MENDED = Question(
    id="tests.mended",
    heading="After mending",
    kind=OUTCOME,
    role=Role.PREDICTS,
    answer=_mended,
    reason=_why_mended,
    how=lambda _: "Follow it again with your lines put right.",
    concept=FaultConcept.TESTING,
    may_follow=False,
)

TESTS = Section(
    id="tests",
    title="Tests",
    asks="how tests that were not made yet come out, as found and after mending",
    about=About.TEST,
    decided_by=tuple(HouseRule),
    how_to_write="A ping: answered, or no answer. A forged packet: arrives, or stopped.",
    given=("Test", "What to do"),
    questions=(AS_FOUND, MENDED),
    rows=_rows,
)
