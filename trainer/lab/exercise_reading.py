"""The exercise that stands in a workbook's cells, or everything that is wrong with it."""

from dataclasses import fields
from typing import Any

from trainer.lab.exercise import Exercise, ListedNetwork, ListedSwitch, Numbers
from trainer.lab.exercise_cells import WrongText
from trainer.lab.exercise_form import SETTINGS, TABLES, Field, RawExercise, Table
from trainer.lab.faults import Fault, FieldRef, find_faults
from trainer.lab.kinds import tidy
from trainer.lab.layout import MOST_PORTS, free_ports
from trainer.lab.scenario import Rules, SectionShare, Trainee
from trainer.lab.unread import UNREAD, made

__all__ = ["read_exercise"]


def read_exercise(raw: RawExercise) -> Exercise | tuple[Fault, ...]:
    """The exercise, or everything that is wrong with it: what cannot be read, and what cannot be set as it stands."""
    faults: list[Fault] = []
    settings = {
        field.id: _read(field, raw.settings.get(field.id, ""), FieldRef("exercise", None, field.id), faults)
        for group in SETTINGS
        for field in group.fields
    }
    rows = {table.id: _rows(table, raw, faults) for table in TABLES}
    ruled = {each.name for each in fields(Rules)}
    exercise = made(
        Exercise,
        **{name: value for name, value in settings.items() if name not in ruled},
        rules=made(Rules, **{name: value for name, value in settings.items() if name in ruled}),
        switches=tuple(_switch_row(place, row) for place, row in enumerate(rows["switches"])),
        networks=tuple(made(ListedNetwork, **row, source=place) for place, row in enumerate(rows["networks"])),
        sections=tuple(made(SectionShare, **row) for row in rows["sections"]),
        trainees=tuple(made(Trainee, **row) for row in rows["trainees"]),
    )
    faults += find_faults(exercise)
    order = ["exercise", *(table.id for table in TABLES)]
    return tuple(sorted(faults, key=lambda fault: (order.index(fault.at.table), fault.at.row or 0))) or exercise


def _rows(table: Table, raw: RawExercise, faults: list[Fault]) -> list[dict[str, Any]]:
    return [
        {
            field.id: _read(field, row.get(field.id, ""), FieldRef(table.id, place, field.id), faults)
            for field in table.fields
        }
        for place, row in enumerate(raw.tables.get(table.id, ()))
    ]


def _switch_row(place: int, row: dict[str, Any]) -> ListedSwitch:
    """A row of table Switches, with what any stands for under its ports."""
    stations, links = row["station_ports"], row["link_ports"]
    row = {
        **row,
        "station_ports": _ports(stations, links, (1, 40)),
        "link_ports": _ports(links, stations, (41, MOST_PORTS)),
    }
    return made(ListedSwitch, **row, source=place)


def _ports(wanted: Any, others: Any, share: tuple[int, int]) -> Numbers | Any:
    """As free_ports; UNREAD where they are, and where they are those that another unread cell leaves."""
    return UNREAD if wanted is UNREAD or (wanted is None and others is UNREAD) else free_ports(wanted, others, share)


def _read(field: Field, text: str, at: FieldRef, faults: list[Fault]) -> Any:
    tidied = tidy(text)
    try:
        return field.read(tidied)
    except WrongText as wrong:
        found = repr(tidied) if tidied else "nothing"
        faults.append(Fault(at=at, found=found, wanted=wrong.wanted, fix=wrong.fix))
        return UNREAD
