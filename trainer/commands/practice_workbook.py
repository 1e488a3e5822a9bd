"""A practice lab's workbook while a page is open on which it is filled in.

What is typed is written into it, beside itself and renamed. Each page knows what the sheet held when it was shown: where the
workbook holds something else by now that nobody saw, nothing is written. What could not be written is remembered.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field

from trainer.commands.practice_session import PracticeSession, answers_in, stamp_of
from trainer.errors import TrainerError
from trainer.lab.form import CellRef
from trainer.lab.kinds import tidy
from trainer.lab.questions import SECTIONS
from trainer.marking.practice import CellNames
from trainer.sheets.cells import writable
from trainer.sheets.filling import type_into
from trainer.sheets.returned_book import LONGEST_ANSWER, ReturnedForm
from trainer.store import read_returned, write_file

__all__ = ["OpenWorkbook", "Saved", "field_of"]

_REMEMBERED = 50
"""So many states of sheets that were shown are remembered."""
_WRITES = 5
"""So often it is tried to write while another program writes, too."""
Values = Mapping[CellRef, str]


@dataclass(frozen=True, slots=True)
class Saved:
    """The workbook as it lies there."""

    data: bytes
    stamp: tuple[int, ...]
    form: ReturnedForm

    def value(self, cell: CellRef) -> str:
        """What stands in a cell, as a reader takes it."""
        text = self.form.filled.texts.get(cell)
        return "" if text is None else tidy(text.text)


@dataclass
class OpenWorkbook:
    """The workbook of a lab, what was shown of it, and what was typed."""

    practice: PracticeSession
    drafts: dict[CellRef, str] = field(default_factory=dict)
    """What was typed and is not in the workbook."""
    _shown: OrderedDict[str, Values] = field(default_factory=OrderedDict)
    """The values of sheets as they were shown, by what they are known by."""
    _last: Saved | None = None
    """As it was read last."""

    def read(self) -> Saved:
        """The workbook as it lies there; read anew where it was saved since. Raises TrainerError where it cannot be read, or is
        another lab's.
        """
        file = self.practice.workbook
        stamp = stamp_of(file)
        if stamp is None:
            raise TrainerError(f"{file} is not there. Put it back; nothing that was typed here is lost.")
        if self._last is None or self._last.stamp != stamp:
            data = read_returned(file)
            self._last = Saved(data, stamp, answers_in(data, self.practice.scenario))
        return self._last

    def put(self, section: str, form: Mapping[str, str]) -> tuple[str, ...]:
        """Writes what was typed; what to say where not all of it could be written."""
        sent = self._sent(section, form, self.practice.names)
        self.drafts |= sent
        try:
            for _ in range(_WRITES):
                saved = self.read()
                sent = self._sent(section, form, saved.form.where)
                self.drafts |= sent
                if self._was_changed(section, sent, saved, form.get("base", "")):
                    return (
                        "The workbook was changed since this page was shown, by another program or on another page, so nothing "
                        "was written. Both values stand below. One button takes the workbook's; every other writes yours.",
                    )
                if self._written(sent, saved):
                    break
            else:
                return ("Another program writes into the workbook all the time. Close it there, then press Check.",)
        except TrainerError as error:
            return (f"Nothing was written: {error}",)
        lost = [cell for cell in sent if self.drafts.get(cell)]
        if lost:
            return ("The workbook has no place any more for some of these cells: its rows or headings were changed.",)
        return ()

    def _sent(self, section: str, form: Mapping[str, str], names: CellNames) -> dict[CellRef, str]:
        """What was typed, as a reader takes it, in cells that can be filled in."""
        cells = self.cells(section, names)
        return {cells[name]: tidy(writable(text[:LONGEST_ANSWER])) for name, text in form.items() if name in cells}

    def _was_changed(self, section: str, sent: Values, saved: Saved, base: str) -> bool:
        """Whether a cell would be overwritten whose value nobody saw. What was left as it was shown follows the workbook."""
        shown = self._shown.get(base)
        if base == self.known_by(section, saved):
            return False
        for cell, text in sent.items():
            if text != saved.value(cell) and shown is not None and text == shown.get(cell):
                self.drafts.pop(cell, None)
        differ = [cell for cell in sent if cell in self.drafts and sent[cell] != saved.value(cell)]
        return any(shown is None or shown.get(cell) != saved.value(cell) for cell in differ)

    def _written(self, sent: Values, saved: Saved) -> bool:
        """False where the workbook was changed in the meantime."""
        where = saved.form.where
        new = {cell: self.drafts[cell] for cell in sent if cell in self.drafts and cell in where}
        changed = {where[cell]: text for cell, text in new.items() if text != saved.value(cell)}
        if changed:
            data = type_into(saved.data, changed)
            if stamp_of(self.practice.workbook) != saved.stamp:
                return False
            write_file(self.practice.workbook, data)
        for cell in new:
            del self.drafts[cell]
        return True

    def forget(self, section: str) -> None:
        """What was typed on a sheet and is not in the workbook."""
        self.drafts = {cell: text for cell, text in self.drafts.items() if cell.section != section}

    def cells(self, section_id: str, names: CellNames) -> dict[str, CellRef]:
        """The cells of a sheet that can be filled in, by what they are called when they are sent. names: of the workbook."""
        section, scenario = SECTIONS[section_id], self.practice.scenario
        rows = [row.key for row in section.printed_rows(scenario)]
        rows += [ref.row for ref in names if ref.section == section_id]
        cells = [
            CellRef(question.id, row) for row in dict.fromkeys(rows) for question in section.questions_in(scenario)
        ]
        return {field_of(ref): ref for ref in cells if ref not in self.practice.progress.filled_in}

    def known_by(self, section: str, saved: Saved) -> str:
        """What the values of a sheet are known by."""
        values = sorted((name, saved.value(ref)) for name, ref in self.cells(section, saved.form.where).items())
        return hashlib.sha256(repr(values).encode("utf-8", errors="backslashreplace")).hexdigest()[:16]

    def show(self, section: str, saved: Saved) -> str:
        """Remembers that a sheet is shown as it was saved; gives what its values are known by."""
        base = self.known_by(section, saved)
        self._shown[base] = {ref: saved.value(ref) for ref in self.cells(section, saved.form.where).values()}
        self._shown.move_to_end(base)
        while len(self._shown) > _REMEMBERED:
            self._shown.popitem(last=False)
        return base


def field_of(ref: CellRef) -> str:
    """What a cell is called when it is sent."""
    return f"{ref.question}/{ref.row}"
