"""The forms themselves, one file a section. New sections come behind, never in place: their ids travel."""

from typing import Any

from trainer.lab.form import CellRef, Question, Section, section_of
from trainer.lab.questions.bindings import BINDINGS
from trainer.lab.questions.faults import FAULTS
from trainer.lab.questions.links import LINKS
from trainer.lab.questions.pools import POOLS
from trainer.lab.questions.ports import PORTS
from trainer.lab.questions.protection import PROTECTION
from trainer.lab.questions.relays import RELAYS
from trainer.lab.questions.routes import ROUTES
from trainer.lab.questions.stations import STATIONS
from trainer.lab.questions.subnets import SUBNETS
from trainer.lab.questions.symptoms import SYMPTOMS
from trainer.lab.questions.tests import TESTS
from trainer.lab.scenario import Asked, Scenario, SectionShare

__all__ = ["FORM", "QUESTIONS", "REPAIR_FORM", "SECTIONS", "cell_called", "form_of", "repair_shares"]

FORM: tuple[Section[Any], ...] = (SUBNETS, LINKS, PORTS, STATIONS, ROUTES, POOLS, RELAYS, PROTECTION, BINDINGS)
"""The plan of a network. Its answers make the network, whether a lab asks for them or they are found with faults in them."""
REPAIR_FORM: tuple[Section[Any], ...] = (SYMPTOMS, FAULTS, TESTS)
"""What a fault-finding lab asks instead."""
_EVERY = (*FORM, *REPAIR_FORM)
SECTIONS = {section.id: section for section in _EVERY}
QUESTIONS: dict[str, Question[Any, Any]] = {
    question.id: question for section in _EVERY for question in section.questions
}
_SHARES = {SYMPTOMS.id: 20, FAULTS.id: 50, TESTS.id: 30}


def cell_called(question: str, row: str) -> CellRef:
    """The cell of that question, by its id, in the row that is called so; its row says what it is about.

    Raises ValueError where no row of the section can be called so (`Section.row`).
    """
    return CellRef(question, SECTIONS[section_of(question)].row(row))


def form_of(scenario: Scenario) -> tuple[Section[Any], ...]:
    """Every section that a lab's key answers: the plan, and what is asked about faults where the lab has some."""
    return FORM if scenario.repair is None else _EVERY


def repair_shares() -> tuple[SectionShare, ...]:
    """What a fault-finding lab asks, and what each sheet counts."""
    return tuple(SectionShare(section=section, asked=Asked.YES, share=share) for section, share in _SHARES.items())
