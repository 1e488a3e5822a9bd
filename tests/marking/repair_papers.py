"""Forms of fault-finding labs, filled in as the key does and otherwise."""

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache

from repair_labs import kept_lab

from trainer.lab.answers import CellText, FilledForm
from trainer.lab.form import RowKey
from trainer.lab.key import derive_key
from trainer.lab.questions import REPAIR_FORM, cell_called
from trainer.lab.repair.found import lines_of, with_edits
from trainer.lab.repair.slips import all_slips
from trainer.lab.scenario import Scenario
from trainer.marking.marker import mark
from trainer.sheets.placement import shown_answers

ONE, TWO = "faults-harmless", "faults-two"
Texts = dict[tuple[str, str], str]


@cache
def key_texts(name: str) -> Texts:
    """The key's answers of a kept lab by question and row, as they stand on the sheets."""
    return texts_of(kept_lab(name))


def texts_of(lab: Scenario) -> Texts:
    """The key's answers by question and row, as they stand on the sheets."""
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


# --- Whoever knows nothing --------------------------------------------------------------------------------------------


def places_of(lab: Scenario) -> list[tuple[str, str]]:
    """Every line and its first column."""
    assert lab.repair is not None
    found = with_edits(derive_key(lab), (*lab.repair.faults, *lab.repair.decoys))
    return [(line.id, line.columns[0] if line.row is not None else "row") for line in lines_of(lab, found).values()]


def accusing(lab: Scenario, picked: Sequence[tuple[str, str]]) -> Texts:
    """A form that accuses these lines, each by its first column, sees the first fault everywhere, and lets every test fail."""
    return _filled(lab, picked, "1", "no answer", "answered")


def _filled(lab: Scenario, picked: Sequence[tuple[str, str]], symptom: str, found: str, mended: str) -> Texts:
    assert lab.repair is not None
    texts: Texts = {}
    for number, (line, column) in enumerate(picked, 1):
        texts |= fault_row(number, line, column, "10.0.0.1", test="T1")
    texts |= {("symptoms.fault", each.id): symptom for each in lab.repair.symptoms}
    texts |= {("tests.found", each.id): found for each in lab.repair.tests}
    return texts | {("tests.mended", each.id): mended for each in lab.repair.tests}


def _every_line(lab: Scenario, _rng: random.Random) -> Texts:
    return accusing(lab, places_of(lab))


def _first_line(lab: Scenario, _rng: random.Random) -> Texts:
    assert lab.repair is not None
    return accusing(lab, places_of(lab)[:1] * lab.repair.printed_faults)


def _first_lines(lab: Scenario, _rng: random.Random) -> Texts:
    assert lab.repair is not None
    return _filled(lab, places_of(lab)[: lab.repair.printed_faults], "none", "answered", "answered")


def _one_line(lab: Scenario, rng: random.Random) -> Texts:
    return accusing(lab, [rng.choice(places_of(lab))])


def _at_random(lab: Scenario, rng: random.Random) -> Texts:
    """Every cell for itself."""
    assert lab.repair is not None
    many = lab.repair.printed_faults
    texts = _filled(lab, rng.sample(places_of(lab), many), "", "", "")
    for question, row in list(texts):
        match question:
            case "symptoms.fault":
                texts[question, row] = rng.choice(["none", *map(str, range(1, many + 1))])
            case "tests.found" | "tests.mended":
                texts[question, row] = rng.choice(["answered", "no answer"])
            case "faults.kind":
                texts[question, row] = rng.choice(["cause", "harmless"])
            case "faults.test":
                texts[question, row] = f"T{rng.randint(1, 8)}"
    return texts


def _every_line_harmless(lab: Scenario, _rng: random.Random) -> Texts:
    texts = accusing(lab, places_of(lab))
    return {place: "harmless" if place[0] == "faults.kind" else text for place, text in texts.items()}


def _none_everywhere(lab: Scenario, _rng: random.Random) -> Texts:
    return {**_filled(lab, [], "none", "answered", "answered"), ("faults.line", "Fault 1"): "none"}


KNOWING_NOTHING: Mapping[str, Callable[[Scenario, random.Random], Texts]] = {
    "every line accused": _every_line,
    "every line harmless": _every_line_harmless,
    "the first line everywhere": _first_line,
    "the first lines": _first_lines,
    "one line at random": _one_line,
    "random": _at_random,
    "none everywhere": _none_everywhere,
}
_TRIES = 4
"""Papers that rest on chance are written so often."""


def mean_of(lab: Scenario, paper: str) -> float:
    """What such papers earn in a lab on the average, of 100."""
    rng = random.Random(lab.lab_number)
    write = KNOWING_NOTHING[paper]
    first = write(lab, rng)
    papers = [first, *(write(lab, rng) for _ in range(_TRIES - 1))] if "random" in paper else [first]
    return sum(float(mark(lab, form(each)).marks) for each in papers) / len(papers)


def slips_as_answers(lab: Scenario, number: int) -> Iterator[Texts]:
    """Every slip that people make as what is accused in that row of sheet Faults, with the value that it has."""
    assert lab.repair is not None
    key = derive_key(lab)
    lines = lines_of(lab, with_edits(key, (*lab.repair.faults, *lab.repair.decoys))).values()
    for slip in all_slips(lab, key):
        here = [each for each in lines if (each.section.id, each.row) == slip.line]
        for line in here:
            question = next((each for each in line.questions if each.id == slip.cell.question), None)
            if question is not None:
                yield fault_row(number, line.id, line.column_of(question), question.kind.show(slip.value), test="T1")
