"""What a trainee takes to be wrong, as edits of the network as found; and what that network does when it is mended so."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from trainer.lab.answers import CellText, FilledForm, ReadForm
from trainer.lab.build import build
from trainer.lab.form import Answers, CellRef, RowKey
from trainer.lab.key import derive_key
from trainer.lab.kinds import INFINITE, BindingType, tidy
from trainer.lab.questions import FORM, SECTIONS, bindings, faults, relays, routes, subnets
from trainer.lab.repair.found import Line, lines_of, with_edits
from trainer.lab.repair.observing import Seen, View, complaint_of, observe, to_observe
from trainer.lab.repair.sheet import NO_FAULT, Edit, FaultKind, OutcomeOfTest, PrintedTest, Repair, SymptomSort
from trainer.lab.repair.trying import Bench, comes_out
from trainer.lab.rows import WrittenRow
from trainer.lab.scenario import Asked, Scenario, SectionShare
from trainer.lab.trials import TrialKind, trials_on, try_network
from trainer.lab.unreadable import NotReadable
from trainer.lab.works import Works
from trainer.marking.marks import CellMark, Marked
from trainer.marking.working import works_of

__all__ = ["Diagnosis", "MarkPlan", "WrittenFault", "as_plan", "filled_plan"]

MarkPlan = Callable[[Scenario, FilledForm], Marked]
"""Marks a plan (marker.mark)."""

Change = Mapping[CellRef, Any]
"""Values that a repair sets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenFault:
    """A row of sheet Faults."""

    row: WrittenRow
    line_name: str | None
    line: Line | None
    """None where there is no such line, or none is written."""
    column: str
    should_be: str
    kind: FaultKind | None
    test: str | None
    new_row: WrittenRow | None
    """The row that the repair adds, where it adds one."""
    change: Change | None
    """What it sets; None where that cannot be read as a value of that place."""

    @property
    def is_cause(self) -> bool:
        """A row that does not say it is harmless is taken for a cause."""
        return self.kind is not FaultKind.HARMLESS

    @property
    def says_none(self) -> bool:
        """Whether it says that nothing is wrong."""
        return self.line_name == NO_FAULT

    def is_at(self, edit: Edit) -> bool:
        return self.line_name == edit.line

    def says_the_same(self, other: "WrittenFault") -> bool:
        """Whether it sets the same values in the same line."""
        return self.line_name == other.line_name and self.values == other.values

    def contradicts(self, other: "WrittenFault") -> bool:
        """Whether it sets another value than the other row does in the same cell."""
        mine, theirs = self.change or {}, other.change or {}
        return any(theirs.get(cell, value) != value for cell, value in mine.items())

    @property
    def values(self) -> Mapping[str, Any]:
        """What it sets, by question, whichever row of a table it would add."""
        return {cell.question: value for cell, value in (self.change or {}).items()}


_CLEARS = (SymptomSort.LEASE, SymptomSort.PING)
"""What shows that a part of a way is whole, where it is as it should be."""


class Diagnosis:
    """One form, and what its repairs do."""

    def __init__(self, scenario: Scenario, read: ReadForm, mark_plan: MarkPlan) -> None:
        assert scenario.repair is not None
        self.scenario = scenario
        self.repair: Repair = scenario.repair
        self.read = read
        self._mark_plan = mark_plan
        self.key = derive_key(scenario)
        self.found = with_edits(self.key, (*self.repair.faults, *self.repair.decoys))
        self.lines = lines_of(scenario, self.found)
        self.looks = to_observe(scenario, tables=self.repair.has_tables, counters=self.repair.has_counters)
        self.written = tuple(self._written(row) for row in read.answers.rows.get(faults.FAULTS.id, ()))

    # --- Reading ---

    def _written(self, row: Any) -> WrittenFault:
        def value(question: Any) -> Any:
            return self.read.answers.get(question, row)

        def text(question: Any) -> str:
            return self.read.texts.get(CellRef(question.id, row), "")

        name = value(faults.FAULT_LINE)
        line = None if name is None else self.lines.get(name)
        column, should_be = text(faults.FAULT_COLUMN), text(faults.SHOULD_BE)
        meant = column or (self._column_meant(line, should_be) if line is not None else "")
        new_row = WrittenRow("Repair", row.number) if line is not None and line.row is None else None
        return WrittenFault(
            row=row,
            line_name=name,
            line=line,
            column=column,
            should_be=should_be,
            kind=value(faults.FAULT_KIND_OF),
            test=value(faults.FAULT_TEST),
            new_row=new_row,
            change=None if line is None else _change(line, new_row, meant, should_be),
        )

    def _column_meant(self, line: Line, should_be: str) -> str:
        """The column of a deviation in this line whose right value is written, where no column is: that it is not said is
        charged there alone.
        """
        for edit in (*self.repair.faults, *self.repair.decoys):
            change = _change(line, None, edit.column, should_be) if edit.line == line.id else None
            if change and all(self.key.values.get(cell) == value for cell, value in change.items()):
                return edit.column
        return ""

    # --- Trying ---

    @cached_property
    def bench(self) -> Bench:
        return Bench(self.scenario, self.key)

    @cached_property
    def healthy(self) -> View:
        return self._view(self.key)

    @cached_property
    def as_found(self) -> View:
        return self._view(self.found)

    @cached_property
    def complaint(self) -> Seen | None:
        """What symptom S1 is about."""
        return complaint_of(self.as_found)

    def mended(self, rows: Sequence[WrittenFault]) -> Answers:
        """The network as found with these repairs made in it."""
        return _with_changes(self.found, rows)

    def comes_back(self, rows: Sequence[WrittenFault]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The symptoms that come back with these repairs, and those that do not, by their names."""
        view = self._view(self.mended(rows))
        back: list[str] = []
        away: list[str] = []
        for symptom, look in zip(self.repair.symptoms, (self.complaint, *self.looks), strict=True):
            if look is not None and symptom.faults:
                (back if view[look] == self.healthy[look] else away).append(symptom.id)
        return tuple(back), tuple(away)

    def not_explained(self, rows: Sequence[WrittenFault]) -> tuple[str, str]:
        """A symptom that these repairs do not bring back, and one that is as it should be and shares a station with it, or its
        switch; "" for none.
        """
        _, away = self.comes_back(rows)
        stays = [each for each in self.repair.symptoms if each.id in away]
        fine = [each for each in self.repair.symptoms if not each.faults and each.sort in _CLEARS]
        for one in stays:
            for other in fine:
                if one.sort in _CLEARS and {one.source, one.target} & {other.source, other.target} - {""}:
                    return one.id, other.id
        return (stays[-1].id if stays else ""), ""

    @cached_property
    def causes(self) -> tuple[WrittenFault, ...]:
        """The rows that are called causes and can be tried."""
        return tuple(each for each in self.written if each.is_cause and each.change is not None)

    @cached_property
    def after_repairs(self) -> View:
        """What is seen with everything mended that is called a cause."""
        return self._view(self.mended(self.causes))

    @cached_property
    def mends_everything(self) -> bool:
        """Whether the repairs together make a network that would be right as a plan, whichever lines they are in. Harmless
        deviations are left aside.
        """
        if not self.causes or self.after_repairs != self.healthy:
            return False
        repaired = _with_changes(with_edits(self.key, self.repair.faults), self.causes)
        plan = as_plan(self.scenario)
        marked = self._mark_plan(plan, filled_plan(plan, repaired))
        return all(cell.marks == cell.out_of for cell in marked.cells)

    def in_a_plan(self, written: WrittenFault, fault: Edit) -> CellMark | None:
        """What the value of a row would earn in a plan that is right but for it; None of a row that is missing there, and of the
        value that is found.
        """
        if written.change is None or fault.is_missing_row:
            return None
        plan = as_plan(self.scenario)
        [cell] = written.change
        if written.change[cell] == self.found.values.get(cell):
            return None
        section = SECTIONS[cell.section]
        row = cell.row
        if section.open is not None:
            row = section.open.named(self.key.rows[section.id].index(row) + 1)
        marked = self._mark_plan(plan, filled_plan(plan, self.key.changed(written.change)))
        return next((each for each in marked.cells if (each.question, each.row) == (cell.question, row)), None)

    @cached_property
    def does_something(self) -> bool:
        """Whether anything that was seen or is to be tested changes with the repairs."""
        return bool(self.causes) and (
            self.after_repairs != self.as_found
            or any(self.own_outcome(each) is not each.found for each in self.repair.tests)
        )

    def own_outcome(self, test: PrintedTest) -> OutcomeOfTest:
        """How a test comes out after the trainee's own repairs."""
        trial = self.bench.trials[TrialKind[test.kind], test.source, test.target]
        return comes_out(trial, self._own_running)

    @cached_property
    def _own_running(self) -> Any:
        return self.bench.running(self.mended(self.causes))

    @cached_property
    def works(self) -> Works:
        """What of the network works after the trainee's own repairs."""
        network, guests = build(self.scenario, self.mended(self.causes)).network, self.bench.guests
        running, tried = try_network(self.scenario, network, guests, with_controls=True)
        trials = trials_on(self.scenario, guests)
        return works_of(self.scenario, running, tried, guests=guests, guests_of_key=guests, trials_of_key=trials)

    def _view(self, answers: Answers) -> View:
        return observe(self.scenario, build(self.scenario, answers).network, self.looks)


# --- Repairs ----------------------------------------------------------------------------------------------------------


def _change(line: Line, new_row: WrittenRow | None, column: str, text: str) -> Change | None:
    """What a repair sets in a line; None where it cannot be read so."""
    if new_row is not None:
        return _new_row(line, new_row, text)
    question = line.question(column)
    if question is None or line.row is None or not text:
        return None
    try:
        return {CellRef(question.id, line.row): question.kind.read(text)}
    except NotReadable:
        return None


def _new_row(line: Line, row: WrittenRow, text: str) -> Change | None:
    """The values of a missing row, with blanks between them."""
    parts = tidy(text.replace(",", " ").replace(";", " ")).split(" ")
    if len(parts) != len(line.questions):
        return None
    try:
        values = {
            CellRef(question.id, row): question.kind.read(part)
            for question, part in zip(line.questions, parts, strict=True)
        }
    except NotReadable:
        return None
    if line.section is routes.ROUTES:
        values[CellRef(routes.ROUTE_SWITCH.id, row)] = routes.ROUTE_SWITCH.kind.read(line.device)
    elif line.section is bindings.BINDINGS:
        values[CellRef(bindings.BINDING_TYPE_OF.id, row)] = BindingType.STATIC
        values[CellRef(bindings.BINDING_LEASE.id, row)] = INFINITE
    return values


def _with_changes(answers: Answers, repairs: Sequence[WrittenFault]) -> Answers:
    changes = [repair.change or {} for repair in repairs]
    return answers.changed(
        {cell: value for change in changes for cell, value in change.items()},
        added=[
            (repair.line.section.id, repair.new_row)
            for repair in repairs
            if repair.new_row is not None and repair.line is not None
        ],
    )


# --- As a plan --------------------------------------------------------------------------------------------------------


def as_plan(scenario: Scenario) -> Scenario:
    """The lab as one that asks for its whole plan."""
    return replace(
        scenario,
        repair=None,
        sections=tuple(SectionShare(section=section.id, asked=Asked.YES, share=1) for section in FORM),
        switches=tuple(replace(switch, asks_routes=True) for switch in scenario.switches),
    )


def filled_plan(scenario: Scenario, answers: Answers) -> FilledForm:
    """The answers as a filled form; what a relay agent writes into a request is no setting, so it is filled in as it would."""
    texts: dict[CellRef, CellText] = {}
    rows: dict[str, tuple[RowKey, ...]] = {}
    for section in FORM:
        written = answers.rows.get(section.id, ())
        names: dict[RowKey, RowKey] = {}
        if section.open is not None:
            names = {row: section.open.named(number) for number, row in enumerate(written, 1)}
            rows[section.id] = tuple(names.values())
        for question in section.questions:
            for cell, value in answers.values.items():
                if cell.question == question.id and (section.open is None or cell.row in names):
                    name = names.get(cell.row, cell.row)
                    texts[CellRef(question.id, name)] = CellText(question.kind.show(value))
    _fill_giaddr(scenario, answers, texts)
    return FilledForm(texts=texts, rows=rows)


def _fill_giaddr(scenario: Scenario, answers: Answers, texts: dict[CellRef, CellText]) -> None:
    """Of relay agents that a repair adds: the gateway of their VLAN."""
    for number, row in enumerate(answers.rows.get(relays.RELAYS.id, ()), 1):
        vlan = answers.get(relays.RELAY_VLAN, row)
        assert relays.RELAYS.open is not None
        name = relays.RELAYS.open.named(number)
        cell = CellRef(relays.RELAY_ADDRESS.id, name)
        if vlan is not None and cell not in texts:
            gateways = (answers.get(subnets.GATEWAY, subnets.row_of(each.id)) for each in scenario.vlans_numbered(vlan))
            for gateway in filter(None, gateways):
                texts[cell] = CellText(str(gateway))
