"""Finding faults by asking for one thing at a time: what can be asked, what is answered, and how it compares with the
half-split way.

A look shows a table of a device as it was found, a try what was seen; both count. What is seen once the learner's own lines are
put right is told too. Tests stay for the learner to predict. How many explanations were left after each question is worked
out when all faults are found, since it tells where they are.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from trainer.errors import did_you_mean
from trainer.lab.answers import FilledForm, read_answers
from trainer.lab.form import Answers
from trainer.lab.key import derive_key
from trainer.lab.questions.faults import FAULT_LINE
from trainer.lab.repair.cases import Case, Slips, Workshop
from trainer.lab.repair.found import FoundTable, Line, found_tables, lines_of, with_edits
from trainer.lab.repair.observing import Seen, to_observe
from trainer.lab.repair.reasoning import shortest_way
from trainer.lab.repair.sheet import HOSTS, NO_FAULT, Repair, RepairRules, Symptom, SymptomSort
from trainer.lab.repair.slips import Slip
from trainer.lab.scenario import Scenario
from trainer.listing import how_many, listed
from trainer.marking.marker import mark
from trainer.marking.marks import Marked
from trainer.marking.repair.diagnosis import Diagnosis

__all__ = ["ASKING", "Inquiry", "Question"]

_HOSTS_WORD = "hosts"
_SORT_WORDS = {
    SymptomSort.LEASE: "lease",
    SymptomSort.PING: "ping",
    SymptomSort.TABLE: "table",
    SymptomSort.ATTACK: "attacks",
    SymptomSort.COUNTER: "counter",
}


ASKING = ("look", "try", "retry", "asked")
"""The words that can be typed."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something that was asked for, in words that hold from one run to the next, and what is told."""

    name: str
    """As it is remembered: "S4", or "A routes"; "" for what does not count."""
    lines: tuple[str, ...]


class Inquiry:
    """One lab whose tables and symptoms are asked for one by one."""

    def __init__(self, scenario: Scenario) -> None:
        assert scenario.repair is not None
        self.scenario = scenario
        self.repair: Repair = scenario.repair
        self._is_compared = False
        self._key: Answers = derive_key(scenario)
        self._found = with_edits(self._key, (*self.repair.faults, *self.repair.decoys))
        self._tables: Mapping[str, FoundTable] = {
            _name_of(table): table for table in found_tables(scenario, self._found)
        }
        self._symptoms: Mapping[str, Symptom] = {
            each.id: each for each in self.repair.symptoms if each.sort is not SymptomSort.COMPLAINT
        }

    def told(
        self, word: str, request: str, asked: Sequence[str], filled: FilledForm | None, marked: Marked
    ) -> Question:
        """What is told when a word is typed, and what comes behind it.

        asked: what counted so far; filled, marked: the last save.
        """
        if word == "asked":
            return Question("", self.compared(asked) if self.is_solved(marked) else self.listed(asked))
        if word == "retry":
            answer: Question | str = self.try_again(request, filled)
        else:
            answer = self.look(request) if word == "look" else self.try_out(request)
        return answer if isinstance(answer, Question) else Question("", (answer,))

    # --- Asking -------------------------------------------------------------------------------------------------------

    def look(self, request: str) -> Question | str:
        """A table of a device; what can be looked at where none is named, or why it is not known which."""
        device, _, title = request.strip().partition(" ")
        devices = list(dict.fromkeys(table.device for table in self._tables.values()))
        words = {_HOSTS_WORD if each == HOSTS else each: each for each in devices}
        called = next(
            (name for word, name in words.items() if device.casefold() in (word.casefold(), name.casefold())), None
        )
        if not device:
            return "\n".join(
                ("What can be looked at:", *(f"  look {word}: {self._titles(name)}" for word, name in words.items()))
            )
        if called is None:
            near = did_you_mean(device, words)
            return f"There is no device {device!r}. {near or 'look alone lists all.'}"
        here = [table for table in self._tables.values() if table.device == called]
        meant = [table for table in here if _is_called(table, title)]
        if not title.strip() or len(meant) != 1:
            near = did_you_mean(title, [table.title for table in here]) if title.strip() else ""
            unknown = f"{device} has no table {title.strip()!r}. {near} " if title.strip() else ""
            return f"{unknown}On {device}: {self._titles(called)}.".strip()
        return Question(_name_of(meant[0]), tuple(_printed(meant[0])))

    def try_out(self, request: str) -> Question | str:
        """What was seen of one thing that was tried; what can be tried where none is named, or why it is not known which."""
        symptom = self._symptom_called(request, "try")
        return (
            symptom
            if isinstance(symptom, str)
            else Question(symptom.id, (f"{symptom.id}  {symptom.tried}: {symptom.seen}",))
        )

    def try_again(self, request: str, filled: FilledForm | None) -> str:
        """What would be seen of it with the lines put right that the saved workbook calls causes."""
        symptom = self._symptom_called(request, "retry")
        if isinstance(symptom, str):
            return symptom
        diagnosis = None if filled is None else Diagnosis(self.scenario, read_answers(filled), mark)
        if diagnosis is None or not diagnosis.causes:
            return (
                "Nothing is named yet that can be put right. Write a line, its column and what should be there on sheet Faults, "
                "and save."
            )
        view = diagnosis.after_repairs
        seen = view[diagnosis.looks[self.repair.symptoms.index(symptom) - 1]]
        with_lines = ", ".join(dict.fromkeys(each.line_name or "" for each in diagnosis.causes))
        change = "as it was" if seen == symptom.seen else f"before: {symptom.seen}"
        return f"{symptom.id}  with {with_lines} put right, {symptom.tried}: {seen} ({change})"

    def _symptom_called(self, request: str, word: str) -> Symptom | str:
        wanted = " ".join(request.split())
        if not wanted:
            return "\n".join(
                (
                    "What can be tried:",
                    *(f"  {word} {each.id}   or {word} {_phrase(each)}" for each in self._symptoms.values()),
                )
            )
        if re.fullmatch(r"(?i)(test )?T ?\d+", wanted):
            return "Tests are not made yet: how they come out is for you to predict on sheet Tests."
        number = re.fullmatch(r"(?i)(?:symptom )?S? ?0*(\d{1,3})", wanted)
        if number is not None:
            named = self._symptoms.get(f"S{number[1]}")
            if named is not None:
                return named
            return "S1 is what users say." if number[1] == "1" else f"There is no S{number[1]}. {word} alone lists all."
        exact = [each for each in self._symptoms.values() if _phrase(each).casefold() == wanted.casefold()]
        meant = exact or [each for each in self._symptoms.values() if _is_meant(each, wanted)]
        if len(meant) == 1:
            return meant[0]
        if meant:
            return f"Which one? {'; '.join(f'{word} {_phrase(each)}' for each in meant[:4])}"
        near = did_you_mean(wanted, map(_phrase, self._symptoms.values()))
        return f"Nobody tried {wanted!r}. {near} {word} alone lists all that was tried.".replace("  ", " ")

    def _titles(self, device: str) -> str:
        return ", ".join(table.title for table in self._tables.values() if table.device == device)

    def listed(self, asked: Sequence[str]) -> tuple[str, ...]:
        """What was asked for, while a fault is still to be found."""
        so_far = (
            f"You asked for {listed([self._called(name) for name in asked])}."
            if asked
            else "You asked for nothing yet."
        )
        return so_far, "How that compares with the half-split way is told once every fault is found."

    def compared_once(self, asked: Sequence[str], marked: Marked) -> tuple[str, ...]:
        """The comparison, the first time that every fault is found."""
        if self._is_compared or not self.is_solved(marked):
            return ()
        self._is_compared = True
        return self.compared(asked)

    def is_solved(self, marked: Marked) -> bool:
        """Whether every fault is found, in its line or in another way that mends it."""
        right = {cell.expected for cell in marked.cells if cell.question == FAULT_LINE.id and cell.verdict.is_full}
        return right.issuperset([fault.line for fault in self.repair.faults] or [NO_FAULT])

    # --- How it compares ----------------------------------------------------------------------------------------------

    def compared(self, asked: Sequence[str]) -> tuple[str, ...]:
        """What was asked beside the half-split way, with the explanations left after each. It tells where the faults are."""
        case = self._case
        if case is None:
            return (f"You asked for {how_many(len(asked), 'thing')}.",)
        left = list(case.after_complaint)
        needed, steps = 0, []
        for name in asked:
            is_done = self._is_found(left)
            left = [each for each in left if self._shows(each, name) == self._seen(name)]
            needed += not is_done
            steps.append(f"{self._called(name)} {len(left)}")
        way = shortest_way(case.after_complaint, self._every, self._shows, self._seen)
        best = []
        for name, still in way:
            best.append(f"{self._called(name)} {len(still)}")
            if self._is_found(still):
                break
        what = "slips" if len(case.faults) == 1 else "sets of slips that fail alike"
        hidden = ("Of the second fault nothing was seen yet.",) if self.repair.hides_second else ()
        own = f"You asked for {how_many(len(asked), 'thing')}"
        end = f", and {needed} would have led you there" if self._is_found(left) and needed < len(asked) else ""
        if not self._is_found(left):
            end = f", and {how_many(len(left), 'explanation')} would have been left"
        return (
            f"{own}{end}; the half-split way asks for {len(best)}. S1 alone leaves {len(case.after_complaint)} {what}.",
            f"  You:        {', '.join(steps) or 'nothing'}",
            f"  Half-split: {', '.join(best)}",
            *hidden,
        )

    @cached_property
    def _case(self) -> Case | None:
        """None where there is no fault, or not every one of them is a slip that is known; of a hidden one it is not."""
        faults = self.repair.faults[: self.repair.of_one_explanation]
        plain = replace(self.scenario, repair=None)
        counters, tables = self.repair.has_counters, self.repair.has_tables
        rules = RepairRules(faults=len(faults), decoys=0, has_counters=counters, has_tables=tables)
        workshop = Workshop(plain, rules)
        slips = [next((each for each in workshop.slips if each.makes(edit)), None) for edit in faults]
        known = tuple(each for each in slips if each is not None)
        return workshop.case(known) if known and len(known) == len(faults) else None

    @cached_property
    def _every(self) -> list[str]:
        return [*self._symptoms, *self._tables]

    @cached_property
    def _looks(self) -> Mapping[str, Seen]:
        looks = to_observe(self.scenario, tables=self.repair.has_tables, counters=self.repair.has_counters)
        return dict(zip(self._symptoms, looks, strict=True))

    @cached_property
    def _table_of(self) -> Callable[[Slip], str]:
        lines: dict[tuple[str, Any], list[Line]] = {}
        tables = found_tables(self.scenario, self._key)
        by_line = {line.id: _name_of(table) for table in tables for line in table.lines}
        for line in lines_of(self.scenario, self._key).values():
            lines.setdefault((line.section.id, line.row), []).append(line)

        def table_of(slip: Slip) -> str:
            here = lines.get(slip.line, [])
            own = [
                each for each in here if slip.is_missing_row or any(q.id == slip.cell.question for q in each.questions)
            ]
            return by_line[own[0].id] if own else ""

        return table_of

    def _shows(self, explanation: Slips, name: str) -> object:
        """What a question would show with that explanation: of a table which of its lines are wrong, and how."""
        assert self._case is not None
        if name in self._symptoms:
            return self._case.views[explanation][self._looks[name]]
        return self._wrong_in(explanation, name)

    def _seen(self, name: str) -> object:
        assert self._case is not None
        if name in self._symptoms:
            return self._case.view[self._looks[name]]
        return self._wrong_in(self._case.faults, name)

    def _wrong_in(self, slips: Slips, table: str) -> object:
        return frozenset((each.cell, each.value) for each in slips if self._table_of(each) == table)

    def _is_found(self, left: Sequence[Slips]) -> bool:
        assert self._case is not None
        return {each.line for slips in left for each in slips} == {each.line for each in self._case.faults}

    def _called(self, name: str) -> str:
        return name if name in self._symptoms else f"look {name}"


def _name_of(table: FoundTable) -> str:
    return f"{_HOSTS_WORD if table.device == HOSTS else table.device} {table.title.casefold()}"


def _is_called(table: FoundTable, title: str) -> bool:
    """By its title, the begin of it, or the sheet that plans it."""
    wanted = title.strip().casefold()
    section = table.lines[0].section
    names = (table.title.casefold(), section.title.casefold(), section.id)
    return wanted in names or (len(wanted) > 2 and any(name.startswith(wanted) for name in names))


def _printed(table: FoundTable) -> Sequence[str]:
    """The table's lines, in columns."""
    rows = [table.headings, *(line.texts for line in table.lines)]
    widths = [max(len(row[column]) for row in rows if column < len(row)) for column in range(len(table.headings))]
    return ["  ".join(text.ljust(width) for text, width in zip(row, widths, strict=False)).rstrip() for row in rows]


def _phrase(symptom: Symptom) -> str:
    """How it is typed."""
    word = _SORT_WORDS[symptom.sort]
    if symptom.sort is SymptomSort.PING:
        return f"{word} {symptom.source}, {symptom.target}"
    return f"{word} {symptom.tried if symptom.sort is SymptomSort.COUNTER else symptom.source}"


def _is_meant(symptom: Symptom, wanted: str) -> bool:
    """Whether what was typed has its word, and all names that it is about, in any order; the word alone means all of its sort."""
    word, _, rest = wanted.casefold().partition(" ")
    if not _SORT_WORDS[symptom.sort].startswith(word.removesuffix("s")) or len(word) < 3:
        return False
    if symptom.sort is SymptomSort.COUNTER:
        return all(part in symptom.tried.casefold().split() for part in rest.split())
    names = [name for name in (symptom.source, symptom.target) if name]
    return not rest or all(re.search(rf"(?<!\w){re.escape(name.casefold())}(?!\w)", rest) for name in names)
