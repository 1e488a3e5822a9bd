"""The network as found: the key's with some wrong settings, and the lines in which it is printed, device by device.

A line is a row of one device: of a table that stands on several devices the rows that are its own. Lines are numbered through
all tables of a device, A1, A2, ..., in every lab from another number, so that a name tells nothing to a neighbour. The last line
of a table that can lack a row is the one to name if one is missing.
"""

import hashlib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from trainer.lab.form import Answers, CellRef, Question, RowKey, Section
from trainer.lab.kinds import BindingType
from trainer.lab.questions import (
    QUESTIONS,
    SECTIONS,
    bindings,
    cell_called,
    links,
    pools,
    ports,
    protection,
    relays,
    routes,
    stations,
    subnets,
)
from trainer.lab.repair.sheet import HOSTS, Edit
from trainer.lab.repair.slips import Slip
from trainer.lab.rows import LinkRow
from trainer.lab.scenario import Scenario

__all__ = [
    "WHOLE_ROW",
    "FoundTable",
    "Line",
    "edit_of",
    "first_line_of",
    "found_tables",
    "lines_of",
    "with_edits",
    "with_slips",
]

WHOLE_ROW = "row"
"""What stands under Column where a row is missing."""
_MISSING_WORDS = "(missing?)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One printed line."""

    id: str
    section: Section[Any]
    row: RowKey | None
    """As the key calls it; None for the line that stands for a missing row."""
    device: str
    """The switch's letter, or HOSTS."""
    questions: tuple[Question[Any, Any], ...]
    """Of its columns, in order; of the line for a missing row those that the row would have."""
    columns: tuple[str, ...]
    """The headings that they are printed under."""
    texts: tuple[str, ...]
    """What is printed in it, its name first."""

    def question(self, column: str) -> Question[Any, Any] | None:
        """The one under that heading; None where there is none."""
        wanted = column.casefold()
        named = zip(self.columns, self.questions, strict=True)
        return next((question for heading, question in named if heading.casefold() == wanted), None)

    def column_of(self, question: Question[Any, Any]) -> str:
        """The heading that it is printed under."""
        return self.columns[self.questions.index(question)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTable:
    """The lines of one device that belong to one section."""

    device: str
    title: str
    headings: tuple[str, ...]
    lines: tuple[Line, ...]


# --- Answers ----------------------------------------------------------------------------------------------------------


def with_slips(key: Answers, slips: Collection[Slip]) -> Answers:
    """The key with these slips made in it."""
    return key.changed(
        {slip.cell: slip.value for slip in slips if not slip.is_missing_row},
        without=[(slip.cell.question, slip.cell.row) for slip in slips if slip.is_missing_row],
    )


def with_edits(key: Answers, edits: Iterable[Edit]) -> Answers:
    """The key with what was found otherwise."""
    values: dict[CellRef, Any] = {}
    gone: list[tuple[str, RowKey]] = []
    for edit in edits:
        cell = cell_called(edit.question, edit.row)
        if edit.is_missing_row:
            gone.append((edit.question, cell.row))
        else:
            values[cell] = QUESTIONS[edit.question].kind.read(edit.value)
    return key.changed(values, without=gone)


def edit_of(scenario: Scenario, key: Answers, found: Answers, slip: Slip, first_line: int = 1) -> Edit:
    """A slip as it is kept with the lab: where it is printed, and what should be there.

    found: all that is found, by which lines are numbered, from first_line on.
    """
    section_id, row = slip.line
    section = SECTIONS[section_id]
    tables = _tables(scenario, found, first_line)
    lines = [line for table in tables for line in table.lines if line.section is section]
    if slip.is_missing_row:
        device = _device_of_missing(scenario, key, section, row)
        line = next(each for each in lines if each.row is None and each.device == device)
        shown = (each.kind.show(key.values[CellRef(each.id, row)]) for each in line.questions)
        place, column, value, right = section.id, WHOLE_ROW, "", " ".join(shown)
    else:
        question = section.question(slip.cell.question)
        line = next(each for each in lines if each.row == row and question in each.questions)
        place, column, value = question.id, line.column_of(question), question.kind.show(slip.value)
        right = question.kind.show(key.values[CellRef(question.id, row)])
    return Edit(question=place, row=str(row), value=value, line=line.id, column=column, right=right, slip=slip.sort)


def _device_of_missing(scenario: Scenario, key: Answers, section: Section[Any], row: RowKey) -> str:
    return next(device for device in _devices(scenario) if row in _rows_on(scenario, key, section, device))


# --- Lines ------------------------------------------------------------------------------------------------------------

_CAN_LACK_ROWS = (routes.ROUTES.id, relays.RELAYS.id, bindings.BINDINGS.id)
_COLUMNS: Mapping[str, tuple[Question[Any, Any], ...]] = {
    subnets.SUBNETS.id: (subnets.GATEWAY, subnets.MASK),
    ports.PORTS.id: (ports.PORT_VLAN,),
    stations.STATIONS.id: stations.STATIONS.questions,
    routes.ROUTES.id: (routes.DESTINATION, routes.ROUTE_MASK_OF, routes.NEXT_HOP),
    pools.POOLS.id: pools.POOLS.questions,
    relays.RELAYS.id: (relays.RELAY_VLAN, relays.RELAY_TARGET),
    protection.PROTECTION.id: (protection.SNOOPED, protection.TRUSTED, protection.GUARDED),
    bindings.BINDINGS.id: (
        bindings.BINDING_PORT,
        bindings.BINDING_VLAN,
        bindings.BINDING_MAC,
        bindings.BINDING_ADDRESS,
    ),
}
"""What a device shows of a section: what configures it. Of a link it shows its own end."""
_LINK_COLUMNS = ("Address", "Mask")
_ON_SWITCHES = (
    subnets.SUBNETS,
    links.LINKS,
    ports.PORTS,
    routes.ROUTES,
    relays.RELAYS,
    protection.PROTECTION,
    bindings.BINDINGS,
)
_ON_HOSTS = (pools.POOLS, stations.STATIONS)
_TITLES = {
    subnets.SUBNETS.id: "VLAN interfaces",
    links.LINKS.id: "Link ports",
    bindings.BINDINGS.id: "Static binding rows",
}
_ROW_HEADINGS = {
    subnets.SUBNETS.id: "VLAN",
    links.LINKS.id: "Link",
    ports.PORTS.id: "Port",
    stations.STATIONS.id: "Station",
    pools.POOLS.id: "VLAN",
    protection.PROTECTION.id: "Switch",
}
"""What the rows of a table are called by; those of an open table by their line alone."""


def found_tables(scenario: Scenario, found: Answers) -> tuple[FoundTable, ...]:
    """Everything that is set, device by device, as it was collected."""
    return _tables(scenario, found, 1 if scenario.repair is None else scenario.repair.first_line)


def first_line_of(lab_number: str) -> int:
    """From which number the lines of each device of a lab are numbered: 1 to 60."""
    return 1 + int.from_bytes(hashlib.sha256(f"{lab_number} lines".encode()).digest()) % _STARTS


_STARTS = 60


def _tables(scenario: Scenario, found: Answers, first_line: int) -> tuple[FoundTable, ...]:
    tables = []
    for device in _devices(scenario):
        number = first_line - 1
        for section in _ON_HOSTS if device == HOSTS else _ON_SWITCHES:
            table = _table(scenario, found, section, device, number)
            number += len(table.lines)
            if table.lines:
                tables.append(table)
    return tuple(tables)


def lines_of(scenario: Scenario, found: Answers) -> dict[str, Line]:
    """Every line by its name."""
    return {line.id: line for table in found_tables(scenario, found) for line in table.lines}


def _devices(scenario: Scenario) -> tuple[str, ...]:
    return (*(switch.name for switch in scenario.switches), HOSTS)


def _table(scenario: Scenario, found: Answers, section: Section[Any], device: str, number: int) -> FoundTable:
    """number: of the line before."""
    label = _ROW_HEADINGS.get(section.id)
    rows: list[RowKey | None] = list(_rows_on(scenario, found, section, device))
    if section.id in _CAN_LACK_ROWS:
        rows.append(None)
    columns: tuple[str, ...] = ()
    lines = []
    for row in rows:
        number += 1
        questions = _questions(scenario, section, row, device)
        columns = _LINK_COLUMNS if section is links.LINKS else tuple(each.heading for each in questions)
        name = f"{device}{number}"
        if row is None:
            texts = (name, _MISSING_WORDS, *[""] * (len(questions) - 1))
        else:
            values = (each.kind.show(found.values[CellRef(each.id, row)]) for each in questions)
            texts = (name, *([str(row)] if label else []), *values)
        lines.append(
            Line(
                id=name,
                section=section,
                row=row,
                device=device,
                questions=questions,
                columns=columns,
                texts=texts,
            )
        )
    return FoundTable(
        device=device,
        title=_TITLES.get(section.id, section.title),
        headings=("Line", *([label] if label else []), *columns),
        lines=tuple(lines),
    )


def _questions(
    scenario: Scenario, section: Section[Any], row: RowKey | None, device: str
) -> tuple[Question[Any, Any], ...]:
    if isinstance(row, LinkRow):
        link = scenario.link_by_name[row.link]
        own = next(each.switch for each in (link.first, link.second) if each.switch == device)
        return links.address_question(link, own), links.LINK_MASK
    asked = section.questions_in(scenario)
    return tuple(each for each in _COLUMNS[section.id] if each in asked)


def _rows_on(scenario: Scenario, found: Answers, section: Section[Any], device: str) -> Iterator[RowKey]:
    """The rows of a section that stand on a device."""
    for row in _rows(scenario, found, section):
        is_far_end = isinstance(row, LinkRow) and scenario.link_by_name[row.link].second.switch == device
        if is_far_end or _stands_on(scenario, found, section, row) == device:
            yield row


def _rows(scenario: Scenario, found: Answers, section: Section[Any]) -> tuple[RowKey, ...]:
    rows = found.rows[section.id] if section.open is not None else (row.key for row in section.rows(scenario))
    return tuple(sorted(rows, key=lambda row: _place(scenario, row)))


def _place(scenario: Scenario, row: RowKey) -> bytes:
    """Orders the rows of a table in every lab in another way, so that the line of a fault tells nothing to a neighbour."""
    return hashlib.sha256(f"{scenario.lab_number} {row}".encode()).digest()


def _stands_on(scenario: Scenario, found: Answers, section: Section[Any], row: Any) -> str:
    """The device a row is set on; "" for a binding row that no device was given."""
    if section in _ON_HOSTS:
        return HOSTS
    if section is subnets.SUBNETS or section is relays.RELAYS:
        return scenario.vlan_by_id[row.vlan].switch
    if section is links.LINKS:
        return scenario.link_by_name[row.link].first.switch
    if section is ports.PORTS:
        switch: str = row.port.switch
        return switch
    if section is routes.ROUTES:
        return str(found.values[CellRef(routes.ROUTE_SWITCH.id, row)])
    if section is protection.PROTECTION:
        return str(row)
    is_static = found.values[CellRef(bindings.BINDING_TYPE_OF.id, row)] is BindingType.STATIC
    return str(found.values[CellRef(bindings.BINDING_PORT.id, row)].switch) if is_static else ""
