"""Sheet Symptoms of a fault-finding lab: what was seen, and from which fault each of it comes."""

from trainer.lab.concepts import FaultConcept
from trainer.lab.form import Question, Role, Row, Section, SoFar
from trainer.lab.house_rules import HouseRule
from trainer.lab.repair.kinds import FAULT_NUMBERS
from trainer.lab.repair.sheet import Symptom, SymptomSort
from trainer.lab.rows import About, SymptomRow
from trainer.lab.scenario import Scenario

__all__ = ["SYMPTOMS", "SYMPTOM_FAULT"]


def _rows(scenario: Scenario) -> tuple[Row[SymptomRow], ...]:
    symptoms = () if scenario.repair is None else scenario.repair.symptoms
    return tuple(
        Row(SymptomRow(number), (each.id, each.tried, _printed(scenario, each)))
        for number, each in enumerate(symptoms, 1)
    )


def _printed(scenario: Scenario, symptom: Symptom) -> str:
    """What was seen, or how it is asked for."""
    assert scenario.repair is not None
    is_told = not scenario.repair.is_one_by_one or symptom.sort is SymptomSort.COMPLAINT
    return symptom.seen if is_told else f"(type: try {symptom.id})"


def _symptom(scenario: Scenario, row: SymptomRow) -> Symptom:
    assert scenario.repair is not None
    return scenario.repair.symptoms[row.number - 1]


def _fault(scenario: Scenario, _so_far: SoFar, row: SymptomRow) -> frozenset[int]:
    return frozenset(_symptom(scenario, row).faults)


def _why(scenario: Scenario, _so_far: SoFar, row: SymptomRow) -> str:
    faults = _symptom(scenario, row).faults
    if not faults:
        return "as it should be, so no fault is behind it"
    return f"it comes back when fault {' and '.join(map(str, faults))} is mended"


SYMPTOM_FAULT = Question(
    id="symptoms.fault",
    heading="Fault",
    kind=FAULT_NUMBERS,
    role=Role.DESCRIBES,
    answer=_fault,
    reason=_why,
    how=lambda _: "Ask of each line you accuse: would this come back if it alone were put right?",
    word="symptom: what users or tests show of a fault",
    concept=FaultConcept.SYMPTOMS,
    may_follow=False,
)

SYMPTOMS = Section(
    id="symptoms",
    title="Symptoms",
    asks="from which fault each symptom comes",
    about=About.SYMPTOM,
    decided_by=tuple(HouseRule),
    how_to_write="The number of the fault on sheet Faults that it comes from, all of them if several, or none.",
    given=("Symptom", "What was tried", "What was seen"),
    questions=(SYMPTOM_FAULT,),
    rows=_rows,
)
