"""The key as a page to print: what is given, what is right, and what the proof tried."""

from dataclasses import dataclass

from trainer.lab.brief import GivenTable, given_tables
from trainer.lab.form import Answers, CellRef
from trainer.lab.proof import Proof
from trainer.lab.questions import FORM
from trainer.lab.scenario import Scenario
from trainer.lab.trials import TrialKind
from trainer.pages.template import template

__all__ = ["write_key_page"]


@dataclass(frozen=True, slots=True)
class _Tried:
    kind: str
    count: int
    has_control: bool


def write_key_page(scenario: Scenario, key: Answers, proof: Proof) -> bytes:
    """One HTML file without script or network: all sections, asked or not, because the bench needs them all."""
    tried = [
        _Tried(kind.value, proof.count(kind), any(trial.control for trial in proof.trials if trial.kind is kind))
        for kind in TrialKind
        if proof.count(kind)
    ]
    page = template("key.html.j2").render(
        scenario=scenario, given=given_tables(scenario), answers=_tables(scenario, key), tried=tried
    )
    return page.encode("utf-8")


def _tables(scenario: Scenario, key: Answers) -> list[GivenTable]:
    """The key's sections as tables; rows that are set already stand behind those that are asked."""
    tables = []
    for section in FORM:
        given = section.given if section.open is None else ()
        rows = [
            (
                *row.given,
                *(question.kind.show(key.values[CellRef(question.id, row.key)]) for question in section.questions),
            )
            for row in (*section.rows(scenario), *section.set_already(scenario))
        ]
        if rows:
            headings = (*given, *(question.heading for question in section.questions))
            tables.append(GivenTable(section.title, headings, tuple(rows)))
    return tables
