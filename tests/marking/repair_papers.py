"""Forms of fault-finding labs, filled in as the key does and otherwise."""

from functools import cache

from repair_labs import kept_lab

from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import RowKey
from trainer.lab.key import derive_key
from trainer.lab.questions import REPAIR_FORM, cell_called
from trainer.sheets.placement import shown_answers

ONE, TWO = "faults-harmless", "faults-two"
Texts = dict[tuple[str, str], str]


@cache
def key_texts(name: str) -> Texts:
    """The key's answers by question and row, as they stand on the sheets."""
    lab = kept_lab(name)
    key = derive_key(lab)
    found: Texts = {}
    for section in REPAIR_FORM:
        found |= {(cell.question, str(cell.row)): text for cell, text in shown_answers(section, lab, key).items()}
    return found


def form(texts: Texts) -> FilledForm:
    cells = {}
    rows: dict[str, RowKey] = {}
    for (question, row), text in texts.items():
        if text:
            cell = cell_called(question, row)
            cells[cell] = CellText(text)
            if question.startswith("faults."):
                rows[row] = cell.row
    return FilledForm(texts=cells, rows={"faults": tuple(rows[each] for each in sorted(rows))})


def fault_row(number: int, line: str, column: str, value: str, kind: str = "cause", test: str = "") -> Texts:
    row = f"Fault {number}"
    values = {"line": line, "column": column, "should_be": value, "kind": kind, "test": test}
    return {(f"faults.{each}", row): text for each, text in values.items()}
