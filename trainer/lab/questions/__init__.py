"""The form itself, one file a section. New sections come behind, never in place: their ids travel."""

from typing import Any

from trainer.lab.form import Question, Section
from trainer.lab.questions.bindings import BINDINGS
from trainer.lab.questions.links import LINKS
from trainer.lab.questions.pools import POOLS
from trainer.lab.questions.ports import PORTS
from trainer.lab.questions.protection import PROTECTION
from trainer.lab.questions.relays import RELAYS
from trainer.lab.questions.routes import ROUTES
from trainer.lab.questions.stations import STATIONS
from trainer.lab.questions.subnets import SUBNETS

__all__ = ["FORM", "QUESTIONS", "SECTIONS"]

FORM: tuple[Section[Any], ...] = (SUBNETS, LINKS, PORTS, STATIONS, ROUTES, POOLS, RELAYS, PROTECTION, BINDINGS)
SECTIONS = {section.id: section for section in FORM}
QUESTIONS: dict[str, Question[Any, Any]] = {question.id: question for section in FORM for question in section.questions}
