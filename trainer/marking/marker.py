"""Marking a filled form: every cell gets a verdict, every cell that is not right an explanation.

The rules R1 to R12 are the marking rules of the project (DEVELOPERS.md lists them with their sources).
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any

from trainer.lab.answers import FilledForm, ReadForm, read_answers
from trainer.lab.form import Answers, CellRef, Question, RowKey, Section, SoFar
from trainer.lab.questions import QUESTIONS, SECTIONS, pools, routes, stations, subnets
from trainer.lab.reasons import reason
from trainer.lab.scenario import Asked, Reveal, Scenario, UnknownAddresses
from trainer.marking.easing import is_eased
from trainer.marking.equivalence import Circle, Delivery, Ways, deliveries, is_harmless
from trainer.marking.findings import Finding, findings
from trainer.marking.marks import CellMark, Marked, Verdict, earned, section_mark, shared_out
from trainer.marking.matching import best_pairs
from trainer.marking.mistakes import credit_of, explain
from trainer.marking.mistakes.mistake import Explanation, Lapse, WrongCell
from trainer.marking.parallel import Parallel
from trainer.marking.roots import followers, named, rests_on

__all__ = ["mark"]

_LAPSES = {
    Verdict.WRONG: Lapse.WRONG,
    Verdict.PARTLY: Lapse.WRONG,
    Verdict.BLANK: Lapse.BLANK,
    Verdict.UNREADABLE: Lapse.UNREADABLE,
    Verdict.MISSING: Lapse.MISSING,
    Verdict.EXTRA: Lapse.EXTRA,
}

_CIRCLES = "route-circles-for-unused"
"""The mistake that is said of routes that deliver, but send packets for unused addresses back and forth. It was found by
trying them, so it is not tried again."""
_LENGTHS = {each.id for each in (subnets.PREFIX_LENGTH_OF, subnets.MASK, stations.STATION_MASK, pools.POOL_MASK)}
_COPIES = 3
"""So many times the same value is no plan but a copy, and nothing follows from it (R5). Twice may be a slip, and is charged
as one."""


def mark(scenario: Scenario, filled: FilledForm) -> Marked:
    """Marks a form against the scenario. Whatever stands in it, it is marked."""
    marker = _Marker(scenario, read_answers(filled))
    cells: list[CellMark] = []
    sections = []
    for share in scenario.sections:
        if share.asked is not Asked.YES:
            continue
        marked = marker.section(SECTIONS[share.section], share.share)
        cells += marked
        sections.append(section_mark(share.section, marked, share.share))
    return Marked(cells=tuple(marker.tried(cells)), sections=tuple(sections))


def _without_copies(given: Mapping[CellRef, Any], many: int) -> dict[CellRef, Any]:
    """Without values that are written so many times or more where each device or network has its own."""
    counts = Counter((QUESTIONS[cell.question].must_differ, value) for cell, value in given.items())
    return {
        cell: value
        for cell, value in given.items()
        if not (what := QUESTIONS[cell.question].must_differ) or counts[what, value] < many
    }


def _without_whole_blocks(given: Mapping[CellRef, Any], length: int) -> dict[CellRef, Any]:
    """Without the block's own length where it is written for several networks: that is copied from what is given, while one
    may be taken for the whole block by mistake (R4).
    """
    whole = {cell for cell, value in given.items() if cell.question in _LENGTHS and value == length}
    counts = Counter(cell.question for cell in whole)
    return {cell: value for cell, value in given.items() if cell not in whole or counts[cell.question] < 2}


class _Marker:
    """Marks one form, section by section."""

    def __init__(self, scenario: Scenario, read: ReadForm) -> None:
        self._scenario = scenario
        self._read = read
        self._key = SoFar(scenario)
        asked = {question.id for section in scenario.asked for question in SECTIONS[section].questions}
        written = {cell: value for cell, value in read.answers.values.items() if cell.question in asked}
        given = _without_copies(_without_whole_blocks(written, scenario.block.prefixlen), _COPIES)
        self._copied = written.keys() - _without_copies(written, 2).keys()
        """Cells that hold what another one holds although they must differ: no right idea is seen in them."""
        self._given = given if scenario.rules.follow_through else {}
        self._so_far = SoFar(scenario, given, self._key) if scenario.rules.follow_through else self._key
        self._as_written = SoFar(scenario, written, self._key, takes_all=True)
        self._ways = Ways(scenario, read.answers, self._so_far)
        self._known_right: dict[tuple[str, RowKey, Any], Verdict | None] = {}
        self._wrong: dict[CellRef, WrongCell] = {}
        self._following: list[tuple[CellRef, RowKey]] = []

    @property
    def _answers(self) -> Answers:
        return self._read.answers

    def section(self, section: Section, share: int) -> list[CellMark]:
        keys = [row.key for row in section.rows(self._scenario)]
        parts = iter(shared_out(share, len(keys) * len(section.questions)))
        if section.open is None:
            return [
                self._cell(section, question, row, row, next(parts)) for row in keys for question in section.questions
            ]
        return list(self._open_section(section, keys, parts))

    def tried(self, cells: Sequence[CellMark]) -> Iterator[CellMark]:
        """The cells; those that are not right with what was found when they were tried, and with what follows from them."""
        said = {CellRef(cell.question, cell.row): cell.explanation for cell in cells if not cell.verdict.is_full}
        to_try = {
            ref: (self._wrong[ref], each.mistake)
            for ref, each in said.items()
            if each is not None and ref in self._wrong and each.mistake != _CIRCLES
        }
        found = findings(self._scenario, self._answers, self._so_far, to_try)
        followed = self._followed()
        for cell in cells:
            ref = CellRef(cell.question, cell.row)
            explanation = said.get(ref)
            if explanation is None:
                yield cell
                continue
            explanation = replace(explanation, followed=followed.get(ref, ()))
            yield replace(cell, explanation=_with_finding(explanation, found.get(ref)))

    def _followed(self) -> dict[CellRef, tuple[str, ...]]:
        """For each wrong cell the cells that are right because they follow from it."""
        wrong: dict[CellRef, WrongCell] = {}
        for cell in self._wrong.values():
            usable = cell.value is not None and cell.question.is_usable(self._scenario, cell.value)
            if usable and cell.lapse is Lapse.WRONG and cell.key_row is not None:
                wrong[CellRef(cell.question.id, cell.key_row)] = cell
        if not wrong or not self._following:
            return {}
        values = {ref: cell.value for ref, cell in wrong.items()}
        rows = {CellRef(ref.question, key_row): ref.row for ref, key_row in self._following}
        return {
            CellRef(root.question, wrong[root].row): tuple(
                named([CellRef(each.question, rows[each])]) for each in cells
            )
            for root, cells in followers(self._scenario, values, rows).items()
        }

    def _open_section(self, section: Section, keys: Sequence[RowKey], parts: Iterator[Decimal]) -> Iterator[CellMark]:
        written = self._answers.rows.get(section.id, ())
        row_for, extras, alike = self._match(section, keys, written)
        is_routes = section.id == routes.ROUTES.id
        delivered = deliveries(self._scenario, self._ways) if is_routes else {}
        for key in delivered:
            row = row_for.get(key)
            if row is not None and row not in delivered[key].carriers and not self._has_all_right(section, row, key):
                extras.append(row_for.pop(key))  # others do its job, so it has none
        carriers = {row for key, delivery in delivered.items() if row_for.get(key) is None for row in delivery.carriers}
        circling = self._circling(delivered, row_for, extras)
        out_of_a_row = Decimal(0)
        for key in keys:
            row_parts = [next(parts) for _ in section.questions]
            out_of_a_row = out_of_a_row or sum(row_parts, Decimal(0))
            row = row_for.get(key)
            cells = [
                self._missing(section, question, key, part)
                if row is None
                else self._cell(section, question, row, key, part)
                for question, part in zip(section.questions, row_parts, strict=True)
            ]
            if key in delivered and not all(cell.verdict.is_full for cell in cells):
                cells = [self._carried(cell, delivered[key], row, circling.get(key, ())) for cell in cells]
            yield from cells
        missing = [key for key in keys if key not in row_for and key not in delivered]
        harm = self._harms(section, [row for row in extras if row not in carriers], circling)
        free = Fraction(len(missing))
        for row in harm:
            # One that resembles a row that is there, and none that is missing, was not meant for a missing one.
            if not alike[row] or alike[row].intersection(missing):
                paid = min(harm[row], free)
                free, harm[row] = free - paid, harm[row] - paid
        yield from self._extras(section, harm, out_of_a_row)
        for row in extras:
            if row in carriers:
                yield from self._carrier(section, row)

    def _has_all_right(self, section: Section, row: RowKey, key: RowKey) -> bool:
        return all(self._is_right(each, self._answers.get(each, row), key) for each in section.questions)

    def _circling(
        self, delivered: Mapping[RowKey, Delivery], row_for: Mapping[RowKey, RowKey], extras: Sequence[RowKey]
    ) -> Mapping[RowKey, Sequence[Circle]]:
        """Where a circle is charged or told, once for each of its routes: by the row of the key that the route stands for,
        else the first that it delivers, else by the route itself. A circle with a route that is wrong anyway, or that loses
        packets for networks too, is not (R2).
        """
        right = {row for delivery in delivered.values() for row in delivery.carriers}
        right |= {row for row in extras if is_harmless(self._scenario, self._answers, self._so_far, row)}
        found: dict[RowKey, list[Circle]] = defaultdict(list)
        for circle in self._ways.circles:
            is_told = right.issuperset(circle.rows) and circle.rows not in self._ways.losing
            for row in circle.rows if is_told else ():
                by_it = [key for key, delivery in delivered.items() if row in delivery.carriers]
                own = [key for key in by_it if row_for.get(key) == row]
                found[next(iter(own or by_it), row)].append(circle)
        return found

    def _match(
        self, section: Section, keys: Sequence[RowKey], written: Sequence[RowKey]
    ) -> tuple[dict[RowKey, RowKey], list[RowKey], dict[RowKey, set[RowKey]]]:
        """For each row of the key the written row that is meant for it, the rows that are meant for none, and for each written
        row those of the key that it resembles.
        """
        assert section.open is not None
        perfect = sum(each.weight for each in section.questions)
        likeness = self._likeness(section, keys, written, perfect)
        pairs = best_pairs(likeness, perfect)
        row_for = {keys[column]: written[row] for row, column in pairs.items()}
        extras = [row for place, row in enumerate(written) if place not in pairs]
        alike: dict[RowKey, set[RowKey]] = {row: set() for row in written}
        for row, column in likeness:
            alike[written[row]].add(keys[column])
        return row_for, extras, alike

    def _likeness(
        self, section: Section, keys: Sequence[RowKey], written: Sequence[RowKey], perfect: int
    ) -> dict[tuple[int, int], int]:
        """How much written rows agree with rows of the key, by their places; pairs that agree too little are absent.

        perfect: the sum of all weights. A row that agrees in everything with a row of the key needs no other pair.
        """
        assert section.open is not None
        holders: dict[str, dict[object, list[int]]] = {question.id: {} for question in section.questions}
        for question in section.questions:
            for column, key in enumerate(keys):
                for value in dict.fromkeys((self._key.value(question, key), self._expected(question, key))):
                    holders[question.id].setdefault(value, []).append(column)
        likeness: dict[tuple[int, int], int] = {}
        taken: set[int] = set()
        for row, name in enumerate(written):
            sums: dict[int, int] = {}
            for question in section.questions:
                for column in holders[question.id].get(self._answers.get(question, name), ()):
                    sums[column] = sums.get(column, 0) + question.weight
            own = next((column for column, weight in sums.items() if weight == perfect and column not in taken), None)
            if own is not None:
                taken.add(own)
                likeness[row, own] = perfect
            else:
                enough = {column: weight for column, weight in sums.items() if weight >= section.open.least}
                likeness |= {(row, column): weight for column, weight in enough.items()}
        return likeness

    def _is_right(self, question: Question[Any], value: Any, key: RowKey) -> Verdict | None:
        known = (question.id, key, value)
        if known not in self._known_right:
            self._known_right[known] = self._found_right(question, value, key)
        return self._known_right[known]

    def _found_right(self, question: Question[Any], value: Any, key: RowKey) -> Verdict | None:
        """RIGHT by the key or by a choice that the Brief leaves, FOLLOWS by the trainee's own earlier answers (R3), or None.

        Where a choice is left, what rests on it is right only if it follows from the trainee's own.
        """
        if value is None:
            return None
        if question.accepts is not None:
            accepted = question.accepts(self._scenario, self._answers, self._so_far, key, value)
            if accepted:
                return Verdict.RIGHT
            if accepted is not None:
                fits = question.accepts(self._scenario, self._answers, self._with_right_sizes, key, value)
                return Verdict.FOLLOWS if fits and self._scenario.rules.follow_through else None
        if question.may_follow and self._scenario.rules.has_choices:
            if value == self._expected(question, key):
                return Verdict.RIGHT
            return Verdict.FOLLOWS if value == self._with_what_it_rests_on_right(question, key) else None
        if value == self._key.value(question, key):
            return Verdict.RIGHT
        if question.may_follow:
            follows = question.answer(self._scenario, self._so_far, key)
            if value == follows and question.is_usable(self._scenario, follows):
                return Verdict.FOLLOWS
            if value == self._with_what_it_rests_on_right(question, key):
                return Verdict.FOLLOWS
        return None

    @cached_property
    def _with_right_sizes(self) -> SoFar:
        """The trainee's own plan with networks of the right sizes: a wrong size is charged there and not in every place."""
        given = {cell: value for cell, value in self._given.items() if cell.question != subnets.PREFIX_LENGTH_OF.id}
        return SoFar(self._scenario, given, self._key)

    def _with_what_it_rests_on_right(self, question: Question[Any], key: RowKey) -> Any:
        """What would be right if the cells it rests on were, in the trainee's own plan: right as well, for their error has
        been charged (R2). None where they are right, or nothing follows.
        """
        wrong = {
            cell: self._expected(asked, cell.row)
            for cell in rests_on(self._scenario, self._so_far, question, key)
            if not self._is_right(asked := QUESTIONS[cell.question], self._so_far.value(asked, cell.row), cell.row)
        }
        if not wrong or not self._scenario.rules.follow_through:
            return None
        value = question.answer(self._scenario, SoFar(self._scenario, {**self._given, **wrong}, self._key), key)
        return value if question.is_usable(self._scenario, value) else None

    def _expected(self, question: Question[Any], key: RowKey) -> Any:
        """What is right here, given the trainee's earlier answers."""
        if question.may_follow:
            follows = question.answer(self._scenario, self._so_far, key)
            if question.is_usable(self._scenario, follows):
                return follows
        return self._key.value(question, key)

    def _cell(self, section: Section, question: Question[Any], row: RowKey, key: RowKey, out_of: Decimal) -> CellMark:
        cell = CellRef(question.id, row)
        value = self._answers.values.get(cell)
        right = self._is_right(question, value, key)
        credit = Fraction(0)
        if right is not None and self._is_eased(question, value, key):
            return self._eased(section, question, row, key, out_of)
        if right is not None:
            verdict, credit = right, Fraction(1)
        elif cell in self._read.unreadable:
            verdict = Verdict.UNREADABLE
        elif value is None:
            verdict = Verdict.BLANK
        else:
            credit = self._part_of_set(question, value, key) if question.kind.is_set else Fraction(0)
            verdict = Verdict.PARTLY if credit else Verdict.WRONG
        by_key = verdict is Verdict.RIGHT and not self._scenario.rules.has_choices
        expected = self._key.value(question, key) if by_key else self._expected(question, key)
        if verdict is Verdict.FOLLOWS:
            self._following.append((cell, key))
        explanation = None if verdict.is_full else self._explain(section, question, verdict, row, key, expected)
        if verdict is Verdict.WRONG and explanation is not None and cell not in self._copied:
            credit = credit_of(explanation.mistake)
            verdict = Verdict.PARTLY if credit else Verdict.WRONG
        return CellMark(
            section=section.id,
            question=question.id,
            row=row,
            given=self._read.texts.get(cell, ""),
            expected=question.kind.show(expected),
            verdict=verdict,
            marks=earned(out_of, credit),
            out_of=out_of,
            explanation=explanation,
            by_plan=expected != self._key.value(question, key),
            remark=self._why_it_follows(question, key, value) if verdict is Verdict.FOLLOWS else "",
        )

    def _is_eased(self, question: Question[Any], value: Any, key: RowKey) -> bool:
        """Whether a value that follows from an error was easier to come by than the key's (R5)."""
        if question.worked_out_from is None or value == self._key.value(question, key):
            return False
        vlan = question.worked_out_from(self._scenario, key)
        return is_eased(self._scenario, self._so_far, self._key, vlan)

    def _eased(self, section: Section, question: Question[Any], row: RowKey, key: RowKey, out_of: Decimal) -> CellMark:
        return CellMark(
            section=section.id,
            question=question.id,
            row=row,
            given=self._read.texts[CellRef(question.id, row)],
            expected=question.kind.show(self._key.value(question, key)),
            verdict=Verdict.PARTLY,
            marks=earned(out_of, Fraction(1, 2)),
            out_of=out_of,
            explanation=Explanation(
                mistake="easier-by-own-error",
                explanation="It follows from your own plan, but the network there is easier to work with than the right one: "
                "half the marks.",
                consequence="It fits your own plan, so what is wrong is that plan.",
                hint=f"Put {self._roots_of(question, key) or 'the plan'} right first. What is this value then?",
            ),
        )

    def _roots_of(self, question: Question[Any], key: RowKey) -> str:
        """Which cells of sheet Subnets that are not right make the VLAN's network another one."""
        assert question.worked_out_from is not None
        vlan = question.worked_out_from(self._scenario, key)
        wrong = {
            cell: value
            for cell, value in self._given.items()
            if QUESTIONS[cell.question] in (subnets.PREFIX_LENGTH_OF, subnets.NETWORK_ADDRESS)
            and not self._has_right(cell)
        }
        network = subnets.network_of(SoFar(self._scenario, wrong), vlan)
        without = (({each: wrong[each] for each in wrong if each != cell}, cell) for cell in wrong)
        return named(
            [cell for others, cell in without if subnets.network_of(SoFar(self._scenario, others), vlan) != network]
        )

    def _why_it_follows(self, question: Question[Any], key: RowKey, value: Any) -> str:
        """What is said of a value that follows from earlier answers; a conflict that follows too is not kept silent."""
        remark = "Right: it follows from your own earlier answers."
        if value != question.answer(self._scenario, self._so_far, key):
            remark = "Right: it fits your own plan, although a cell that it rests on is not right."
        if question is stations.STATION_GATEWAY and value == self._so_far.value(stations.STATION_ADDRESS, key):
            remark += " By those, station and gateway have one address, which cannot be: see sheet Subnets."
        return remark

    def _part_of_set(self, question: Question[Any], value: frozenset[Any], key: RowKey) -> Fraction:
        """A needed member earns its part, a wrong one cancels one, never below zero (R9)."""
        needed: frozenset[Any] = self._key.value(question, key)
        if not needed:
            return Fraction(0)
        return Fraction(max(0, len(value & needed) - len(value - needed)), len(needed))

    def _missing(self, section: Section, question: Question[Any], key: RowKey, out_of: Decimal) -> CellMark:
        """A cell of a row that was not written; half right where it was, but in exchanged columns."""
        expected = self._expected(question, key)
        explanation = self._explain(section, question, Verdict.MISSING, key, key, expected)
        credit = credit_of(explanation.mistake)
        return CellMark(
            section=section.id,
            question=question.id,
            row=key,
            given="",
            expected=question.kind.show(expected),
            verdict=Verdict.PARTLY if credit else Verdict.MISSING,
            marks=earned(out_of, credit),
            out_of=out_of,
            explanation=explanation,
            by_plan=expected != self._key.value(question, key),
        )

    def _carried(self, cell: CellMark, delivery: Delivery, own: RowKey | None, circles: Sequence[Circle]) -> CellMark:
        """A cell of a required route that is delivered by rows that differ from the key's (rule 8, R11).

        own: the written row that is meant for it; circles: those that are told here.
        """
        if circles and self._is_circling_forbidden:
            does = "It delivers" if delivery.arrives else "On this switch it leads the right way"
            return _replaced(cell, Verdict.PARTLY, Fraction(1, 2), _told_of(circles, does), "")
        what = "a wider route than the key's" if own in delivery.carriers else f"delivered by {_and(delivery.carriers)}"
        remark = f"Right: {what}; every packet arrives."
        if not delivery.arrives:
            remark = f"Right on this switch: {what}. The packets do not arrive, because of another switch's routes."
        for circle in circles:
            remark += (
                f" With {_and(circle.rows)} packets for unused addresses go back and forth, which rule Routes allows."
            )
        return _replaced(cell, Verdict.RIGHT, Fraction(1), None, remark)

    def _harms(
        self, section: Section, extras: Sequence[RowKey], circling: Collection[RowKey]
    ) -> dict[RowKey, Fraction]:
        """How much of a right row each extra one cancels (R9): what is filled in of a wrong one, half of one that only
        circles, nothing of a second copy of another row.
        """
        written = self._answers.rows.get(section.id, ())
        known = [self._content(section, row) for row in written if row not in extras]
        harm = {}
        for row in extras:
            content = self._content(section, row)
            harm[row] = Fraction(0)
            if content not in known:
                known.append(content)
                if self._is_wrong_extra(section, row):
                    harm[row] = self._part_filled(section, content)
                elif row in circling and self._is_circling_forbidden:
                    harm[row] = Fraction(1, 2)
        return harm

    def _content(self, section: Section, row: RowKey) -> tuple[Any, ...]:
        return tuple(self._answers.get(question, row) for question in section.questions)

    def _part_filled(self, section: Section, content: Sequence[Any]) -> Fraction:
        """Of a row that says too little to be meant for anything, nothing: a stray word is no answer."""
        assert section.open is not None
        filled = [each for each, value in zip(section.questions, content, strict=True) if value is not None]
        if sum(each.weight for each in filled) < section.open.least:
            return Fraction(0)
        return Fraction(len(filled), len(content))

    @property
    def _is_circling_forbidden(self) -> bool:
        return self._scenario.rules.unknown_addresses is UnknownAddresses.DROPPED

    def _extras(self, section: Section, harm: Mapping[RowKey, Fraction], out_of_a_row: Decimal) -> Iterator[CellMark]:
        """Rows that belong to no row of the key, and what each cancels of a right one (R9)."""
        for row, part in harm.items():
            for place, question in enumerate(self._filled(section, row)):
                yield CellMark(
                    section=section.id,
                    question=question.id,
                    row=row,
                    given=self._read.texts[CellRef(question.id, row)],
                    expected="",
                    verdict=Verdict.EXTRA,
                    marks=Decimal(0) if place else -earned(out_of_a_row, part),
                    out_of=Decimal(0),
                    explanation=self._explain(section, question, Verdict.EXTRA, row, None, None),
                )

    def _filled(self, section: Section, row: RowKey) -> list[Question[Any]]:
        """The questions of a row that hold anything."""
        return [question for question in section.questions if CellRef(question.id, row) in self._read.texts]

    def _is_wrong_extra(self, section: Section, row: RowKey) -> bool:
        """Whether the row would do harm, or could have been right by luck; harmless routes are told apart."""
        return section.id != routes.ROUTES.id or not is_harmless(self._scenario, self._answers, self._so_far, row)

    def _carrier(self, section: Section, row: RowKey) -> Iterator[CellMark]:
        """A written row that is no row of the key but carries packets of several: nothing to mark, but worth a word."""
        for question in self._filled(section, row):
            yield CellMark(
                section=section.id,
                question=question.id,
                row=row,
                given=self._read.texts[CellRef(question.id, row)],
                expected="",
                verdict=Verdict.RIGHT,
                marks=Decimal(0),
                out_of=Decimal(0),
                remark="This route carries packets for several networks; their marks stand with those networks.",
            )

    def _explain(
        self,
        section: Section,
        question: Question[Any],
        verdict: Verdict,
        row: RowKey,
        key: RowKey | None,
        expected: Any,
    ) -> Explanation:
        cell = CellRef(question.id, row)
        wrong = WrongCell(
            scenario=self._scenario,
            section=section,
            question=question,
            lapse=_LAPSES[verdict],
            row=row,
            key_row=key,
            text=self._read.texts.get(cell, ""),
            value=self._answers.values.get(cell),
            expected=expected,
            texts=self._read.texts,
            answers=self._answers,
            so_far=self._so_far,
            as_written=self._as_written,
            key=self._key,
            ways=self._ways,
        )
        self._wrong[cell] = wrong
        said = explain(wrong, self._read.unreadable.get(cell, ""), is_spoilt=cell in self._read.spoilt)
        if key is None or verdict is Verdict.MISSING:
            return said  # what a row that was not written is about is not to be given away
        return replace(
            said,
            rests_on=self._rests_on(wrong, key),
            example=self._parallel.example(question, key, expected),
            derivation=self._derivation(question, key, expected),
        )

    @cached_property
    def _parallel(self) -> Parallel:
        return Parallel(self._scenario)

    def _derivation(self, question: Question[Any], key: RowKey, expected: Any) -> str:
        """How the right value is come by: with it in its own cell, and around it the values that it follows from."""
        if self._scenario.rules.reveal is not Reveal.ANSWERS:
            return ""
        follows = question.may_follow and expected == question.answer(self._scenario, self._so_far, key)
        around = self._given if follows else {}
        right = {**around, CellRef(question.id, key): expected}
        return reason(self._scenario, SoFar(self._scenario, right, self._key), question, key)

    def _rests_on(self, cell: WrongCell, key: RowKey) -> str:
        """What a written value should have been worked out from, and whether that is right."""
        if cell.lapse is Lapse.BLANK or not cell.question.may_follow:
            return ""
        used = [
            each
            for each in rests_on(self._scenario, self._so_far, cell.question, key)
            if each.question.partition(".")[0] in self._scenario.asked
        ]
        wrong = [each for each in used if not self._has_right(each)]
        if not used or not wrong:
            return f"{named(used)}, right as written" if used else ""
        return named(used) if wrong == used else f"{named(used)}; look at {named(wrong)} first"

    def _has_right(self, cell: CellRef) -> bool:
        question = QUESTIONS[cell.question]
        return self._is_right(question, self._answers.get(question, cell.row), cell.row) is not None


def _with_finding(said: Explanation, found: Finding | None) -> Explanation:
    """What is said, with what was seen. Where another error masks it, its consequence holds for the cell by itself."""
    if found is None:
        return said
    consequence = f"By itself: {said.consequence}" if found.masked_by else said.consequence
    return replace(said, consequence=consequence, seen=found.seen, steps=found.steps, masked_by=found.masked_by)


def _told_of(circles: Sequence[Circle], does: str) -> Explanation:
    rows = _and(list(dict.fromkeys(row for circle in circles for row in circle.rows)))
    switches = _and(list(dict.fromkeys(switch for circle in circles for switch in circle.switches)))
    return Explanation(
        mistake=_CIRCLES,
        explanation=f"{does}, but {rows} send packets for unused addresses back and forth between {switches}.",
        consequence="A packet to an address that nobody has circles until its time to live is used up.",
        hint="Which addresses does each of these routes take, besides the networks it is there for?",
    )


def _and(names: Sequence[str]) -> str:
    """Such as: Route 1, Route 4 and Route 5."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _replaced(
    cell: CellMark, verdict: Verdict, credit: Fraction, explanation: Explanation | None, remark: str
) -> CellMark:
    """The cell marked otherwise than by the key, whose value is then not what it ought to hold."""
    marks = earned(cell.out_of, credit)
    return replace(cell, verdict=verdict, marks=marks, explanation=explanation, remark=remark, expected="")
