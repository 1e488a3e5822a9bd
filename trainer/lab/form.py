"""The answer form: sections, rows, questions. Sheet writer, reader, key, marker and pages all walk this declaration."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from typing import Any, Generic, NamedTuple, TypeVar

from trainer.lab.concepts import Concept, FaultConcept
from trainer.lab.house_rules import HouseRule, numbered
from trainer.lab.kinds import Kind
from trainer.lab.rows import About, RowKey, WrittenRow
from trainer.lab.scenario import Scenario
from trainer.lab.vlan_id import VlanId

__all__ = [
    "Answers",
    "CellRef",
    "Choice",
    "OpenRows",
    "Question",
    "Role",
    "Row",
    "RowKey",
    "Section",
    "SoFar",
    "Unique",
    "section_of",
]

T = TypeVar("T")

R = TypeVar("R", bound=RowKey)
"""The type of a section's rows."""


_READ_OFF_COUNTS, _OTHERS_COUNT = 1, 5
"""What is only read off counts a fifth: a clean copy shows no understanding (common practice, no source)."""


class Role(Enum):
    """What a question's answer does."""

    CONFIGURES = "configures"
    """It is a setting; the trainee's network is built from it."""
    PREDICTS = "predicts"
    """It says what the network will do, and is compared with that."""
    DESCRIBES = "describes"
    """It is a value of the plan that no device is given."""


class Unique(Enum):
    """What no two cells may share, whichever questions ask for it."""

    NETWORK = "network"
    """Where a network begins."""
    DEVICE_ADDRESS = "device address"
    """An address that a device is given by hand."""
    POOL_ADDRESS = "pool address"
    """An end of a pool."""


def section_of(question: str) -> str:
    """The id of the section that a question belongs to, by its own id.

    >>> section_of("routes.next_hop"), section_of("routes")
    ('routes', 'routes')
    """
    return question.partition(".")[0]


class CellRef(NamedTuple):
    """A cell: a question in a row. Of a whole row the section's id stands for the question.

    A tuple, because every value of a form is looked up by one, a hundred thousand times a paper.
    """

    question: str
    row: RowKey

    @property
    def section(self) -> str:
        """The id of the section that it belongs to."""
        return section_of(self.question)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Generic[T, R]):
    """A value that the Brief leaves to the trainee, in some scenarios."""

    accepts: Callable[[Scenario, Answers, SoFar, R, T], bool | None]
    """Whether a value keeps the rules of the Brief; None where this scenario leaves no choice."""
    rests_on: str
    """What decides whether it does, as it is said to the trainee: "this value depends on ..."."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question(Generic[T, R]):
    """A column of a section: what is asked of each of its rows.

    T: the type of its values; R: of its section's rows. Functions about rows of two types make a question that no section
    takes, which the type checker says.
    """

    id: str
    """`section.question`, stable for ever: it travels in returned workbooks and in JSON."""
    heading: str
    kind: Kind[T]
    role: Role
    answer: Callable[[Scenario, SoFar, R], T]
    """The right value, worked out from the scenario and the values so far; never typed in."""
    reason: Callable[[Scenario, SoFar, R], str]
    """Why the right value is what it is, in one line, worked out as the value is. It names a rule of the Brief by its title.
    For whoever holds the key at the bench, and for worked examples. row: as the key calls it.
    """
    concept: Concept | FaultConcept
    """What has to be understood in order to answer it."""
    how: Callable[[Scenario], str]
    """What to do in order to come to the value, in a line or two, for somebody who does it for the first time; by the lab's own
    rules, and with none of its numbers that are asked."""
    word: str = ""
    """A word of the trade that is met here, and what it means: "mask: the length as four numbers"."""
    is_usable: Callable[[Scenario, T], bool] = field(default=lambda _scenario, _value: True)
    """Whether later answers may follow from this value although it is wrong (marking rule R4)."""
    choice: Choice[T, R] | None = None
    """What the Brief leaves to the trainee; None where it never does."""
    may_follow: bool = True
    """False: a copy of what is given, or safety-relevant; only the key's own value is right (R6)."""
    worked_out_from: Callable[[Scenario, R], VlanId] | None = None
    """The VLAN whose network the value is worked out from, bit by bit. None: it is copied, or rests on no VLAN's network.
    Where the trainee's own network makes that easier than the key's does, what follows counts half (R5)."""
    given_to_copy: Callable[[Scenario], T] | None = None
    """What the Brief gives that could merely be copied here. Where several rows hold it, nothing follows from it (R4)."""
    contradiction: Callable[[Scenario, SoFar, R, T], str] | None = None
    """A sentence where a value that follows from earlier answers cannot be because of another one that follows; "" where
    it can. None: no value that follows contradicts another."""
    must_differ: Unique | None = None
    """What no two cells may share, under whichever question."""
    differs_in_row: bool = False
    """Whether it is one of the addresses that a network, link or pool has one of each: no two such cells of a row are equal."""
    match_weight: int = 1
    """In open rows: how much an equal value says about which row is meant. Rows are matched by the sum."""
    said_beside: Callable[[Mapping[str, str]], T | None] = field(default=lambda _texts: None)
    """The value of a blank cell that another cell of its row has said already; texts: of the row, by question."""
    is_read_off: bool = False
    """What stands there is printed on sheet Given, is a list read off its tables, one of a few words, or a mask whose length is
    known.
    """
    asked_where: Callable[[Scenario], bool] | None = None
    """Whether a lab asks it; None where every lab does. Where it is not asked, the sheet has no such column."""
    chosen_from: Callable[[Scenario], tuple[str, ...]] | None = None
    """All that can be written where that is a short list of the lab's own."""

    @property
    def section(self) -> str:
        """The id of the section that it belongs to."""
        return section_of(self.id)

    @property
    def counts(self) -> int:
        """What its cells count beside others of their section."""
        return _READ_OFF_COUNTS if self.is_read_off else _OTHERS_COUNT

    def accepts(self, scenario: Scenario, answers: Answers, so_far: SoFar, row: R, value: T) -> bool | None:
        """Whether a value keeps the rules of the Brief where those leave a choice; None where they leave none here."""
        return None if self.choice is None else self.choice.accepts(scenario, answers, so_far, row, value)

    def choices(self, scenario: Scenario) -> tuple[str, ...]:
        """All that can be written, where that is a short list, of the lab or of the kind; else nothing."""
        return self.kind.choices if self.chosen_from is None else self.chosen_from(scenario)


@dataclass(frozen=True, slots=True)
class Row(Generic[R]):
    """A fixed row as printed, or a row that the key of an open section holds."""

    key: R
    given: tuple[str, ...] = ()
    """The printed cells, the row's label first. Empty for open rows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRows:
    """Rows that the trainee writes, in any order."""

    label: str
    """Printed with a number at the start of each row: "Route 1"."""
    least: int
    """The sum of weights below which a written row has nothing to do with a row of the key."""
    printed: Callable[[Scenario], int]
    """How many rows are printed; worked out from what is given, so that it does not tell how many are needed."""

    def named(self, number: int) -> WrittenRow:
        """The row with that number, as it is printed: "Route 1"."""
        return WrittenRow(self.label, number)

    def called(self, text: str) -> WrittenRow | None:
        """The row that is meant by what somebody typed; None where it is the name of none.

        >>> OpenRows(label="Route", least=4, printed=lambda scenario: 9).called("route 011")
        'Route 11'
        """
        match = _row_name(self.label).fullmatch(text)
        return self.named(int(match[1])) if match else None


@cache
def _row_name(label: str) -> re.Pattern[str]:
    """What people type for a row of that label. Made once a section: every cell of such rows is looked up by it."""
    return re.compile(rf"{re.escape(label)} 0*(\d{{1,4}})", flags=re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section(Generic[R]):
    """A sheet of the form."""

    id: str
    title: str
    asks: str
    """What it asks, in a line, for the instructor."""
    about: About
    decided_by: tuple[HouseRule, ...]
    """The rules of the Brief that decide it; at least one."""
    decides: str = ""
    """What they decide here, where that is not plain: "the stations with a fixed address"."""
    how_to_write: str = ""
    """Sentences."""
    given: tuple[str, ...]
    """Headings of the printed columns, the row label's first."""
    questions: tuple[Question[Any, R], ...]
    rows: Callable[[Scenario], tuple[Row[R], ...]]
    """The fixed rows, or the rows that the key of an open section holds."""
    open: OpenRows | None = None
    set_already: Callable[[Scenario], tuple[Row[R], ...]] = field(default=lambda _scenario: ())
    """Rows of the key that are not asked for: they are taken as configured."""

    def __post_init__(self) -> None:
        """Raises ValueError where no rule decides it, it asks nothing, or a question's id is not one of this section."""
        if not self.decided_by:
            raise ValueError(f"no rule of the Brief decides section {self.id}")
        if not self.questions:
            raise ValueError(f"section {self.id} asks nothing")
        for question in self.questions:
            if question.section != self.id or question.id == self.id:
                raise ValueError(f"the id of question {question.id} does not begin with {self.id}.")

    def counts_in(self, scenario: Scenario) -> int:
        """What a whole row counts: the sum of its cells."""
        return sum(question.counts for question in self.questions_in(scenario))

    @property
    def rules(self) -> str:
        """Which rules of the Brief decide it, by their printed numbers: "rules 1 to 4"."""
        return numbered(self.decided_by) + (f": {self.decides}" if self.decides else "")

    @property
    def note(self) -> str:
        """What is printed above its columns: which rules of the Brief decide it, and how to write."""
        return f"{self.rules[0].upper()}{self.rules[1:]}. {self.how_to_write}".rstrip()

    def printed_rows(self, scenario: Scenario) -> tuple[Row[R] | Row[WrittenRow], ...]:
        """The rows of the sheet: fixed ones in their order; open ones as many as are printed, called "Route 1", "Route 2", ..."""
        if self.open is None:
            return self.rows(scenario)
        names = map(self.open.named, range(1, self.open.printed(scenario) + 1))
        return tuple(Row(name, (str(name),)) for name in names)

    def row(self, text: str) -> RowKey:
        """The row that is called so, fixed, of the key, or written; whether the lab has it is not asked.

        Raises ValueError where none can be called so: a fault of the program, for what people type is looked up in the rows
        that there are (`printed_rows`, `OpenRows.called`).
        """
        written = None if self.open is None else self.open.called(text)
        return self.about.row_type.read(text) if written is None else written

    def questions_in(self, scenario: Scenario) -> tuple[Question[Any, R], ...]:
        """Those that a lab asks, in order: the columns of its sheet."""
        return tuple(each for each in self.questions if each.asked_where is None or each.asked_where(scenario))

    def question(self, question_id: str) -> Question[Any, R]:
        return next(each for each in self.questions if each.id == question_id)


class SoFar:
    """The values so far: the trainee's where they are usable, the key's where not. Values only, never which rows exist.

    Without a trainee's values it is the key itself: each value is worked out when it is first asked for, so that a
    question may rest on any other as long as no two rest on each other.
    """

    def __init__(
        self,
        scenario: Scenario,
        given: Mapping[CellRef, Any] | None = None,
        key: SoFar | None = None,
        *,
        takes_all: bool = False,
    ) -> None:
        """takes_all: whether given values count too from which nothing later may follow (marking rule R4)."""
        self._scenario = scenario
        self._takes_all = takes_all
        self._given = given or {}
        self._key = key
        self._known: dict[CellRef, Any] = {}
        self._worked_out: dict[Hashable, Any] = {}

    def value(self, question: Question[T, R], row: R) -> T:
        cell = CellRef(question.id, row)
        if cell in self._known:
            known: T = self._known[cell]
            return known
        value = self._usable(question, cell)
        if value is None:
            key = self._key
            value = question.answer(self._scenario, self, row) if key is None else key.value(question, row)
        self._known[cell] = value
        return value

    def once(self, what: Hashable, work: Callable[[], T]) -> T:
        """Something that is worked out from these values, and once only. what: tells it apart from all else."""
        if what not in self._worked_out:
            self._worked_out[what] = work()
        found: T = self._worked_out[what]
        return found

    def _usable(self, question: Question[T, Any], cell: CellRef) -> T | None:
        value: T | None = self._given.get(cell)
        if value is None or self._takes_all or question.is_usable(self._scenario, value):
            return value
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What stands in a filled form, as values: readable cells only. A blank or unreadable cell is absent."""

    values: Mapping[CellRef, Any]
    rows: Mapping[str, tuple[RowKey, ...]]
    """For each open section the rows that hold anything, in order of the sheet."""

    def get(self, question: Question[T, Any], row: RowKey) -> T | None:
        value: T | None = self.values.get(CellRef(question.id, row))
        return value

    def changed(
        self,
        values: Mapping[CellRef, Any] | None = None,
        *,
        without: Collection[tuple[str, RowKey]] = (),
        added: Iterable[tuple[str, RowKey]] = (),
    ) -> Answers:
        """These answers, with other values in some cells, None where a cell is to be blank.

        without: rows that are gone with all their cells, by section; added: open rows that stand behind the others, unless
        they are there. Values of rows that are gone are not written.
        """
        gone = frozenset(without)
        kept = {**self.values, **(values or {})}
        for cell, value in (values or {}).items():
            if value is None:
                del kept[cell]
        for cell in [each for each in kept if (each.section, each.row) in gone] if gone else ():
            del kept[cell]
        rows = {
            section: tuple(row for row in keys if (section, row) not in gone) for section, keys in self.rows.items()
        }
        for section, row in added:
            if row not in rows[section]:
                rows[section] = (*rows[section], row)
        return Answers(values=kept, rows=rows)
