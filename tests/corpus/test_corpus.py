"""Every file of the corpus is treated as it should be: `grade` on real folders, file by file.

`python tests/corpus/test_corpus.py` writes treatments.txt anew; read what has changed there.
"""

import json
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import redirect_stdout, suppress
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

sys.path += [str(Path(__file__).parents[1] / "lab"), str(Path(__file__).parent)]

import pytest
from cases import CLASSES, Case, Lab
from drawn_labs import changed
from on_request import many
from workbooks import of_returned

from trainer import cli
from trainer.commands import watched_reader
from trainer.commands.watched_reader import MAX_SECONDS
from trainer.errors import UnreadableFile
from trainer.lab.sample import HARBOUR
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.intake import read_book
from trainer.store import Sitting

TREATMENTS = Path(__file__).with_name("treatments.txt")
SHARES = {"Subnets": "40", "Routes": "20", "Protection": "10", "Bindings": "30"}
FULL = ("right", "follows")


@dataclass(frozen=True)
class Corpus:
    """A sitting, and the labs that files are made for; the last one is everybody's neighbour."""

    sitting: Sitting
    labs: Sequence[Lab]


def set_class(folder: Path) -> Corpus:
    """A class of 24 with a small lab each, always the same."""
    sections = tuple(
        {**each, "asked": "yes" if each["section"] in SHARES else "given", "share": SHARES.get(each["section"], "0")}
        for each in HARBOUR.tables["sections"]
    )
    raw = changed(code="CORPUS", tables={"networks": HARBOUR.tables["networks"][:3], "sections": sections})
    book = folder / "corpus.xlsx"
    book.write_bytes(write_exercise_book(raw))
    sitting = Sitting(folder / "corpus")
    sitting.create()
    (sitting.instructor / "secret").write_text("5e" * 32)
    with redirect_stdout(StringIO()):
        assert cli.main(["set", str(book), "--out", str(folder), "--sitting", "corpus"]) == 0
    labs: list[Lab] = []
    for file in sorted(sitting.keys.glob("*.xlsx"), reverse=True):
        filled = of_returned(read_book(file.read_bytes()))
        for sheet in filled.sheets:
            sheet["A1"] = sheet.text("A1").removeprefix("ANSWER KEY - ")
        number = sitting.scenario(file.stem.split("-", 2)[2])
        labs.append(
            Lab(
                number=number.lab_number,
                trainee=number.trainee.id,
                book=filled,
                neighbour=labs[0] if labs else None,
            )
        )
    return Corpus(sitting, labs)


# --- What becomes of the files ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Outcome:
    """What `grade` said about a file."""

    case: Case
    lab: Lab
    graded: Mapping[str, Any] | None
    reason: str
    """Why it was not graded, or ""."""

    def lines(self) -> list[str]:
        """The treatment in words; what is the lab's own is put in braces."""
        if self.graded is not None:
            said = [*self._cells(self.graded), *(f"notice: {each}" for each in self.graded["notices"])]
            who = "" if self.graded["lab"] == self.lab.number else " for the neighbour"
            lines = [f"graded{who}", *said]
        else:
            lines = [f"not graded: {self.reason}" if self.reason else "passed over"]
        return [self._neutral(line) for line in lines]

    def _cells(self, graded: Mapping[str, Any]) -> Iterator[str]:
        empty: dict[str, int] = {}
        extra = 0
        for cell in graded["cells"]:
            if cell["verdict"] in FULL:
                continue
            if cell["verdict"] in ("blank", "missing"):
                empty[cell["sheet"]] = empty.get(cell["sheet"], 0) + 1
            elif cell["verdict"] == "extra":
                extra += 1
            else:
                words = (cell["explanation"] or "").replace(repr(cell["given"]), "{given}")
                words = words.replace(cell["given"], "{given}") if len(cell["given"]) > 3 else words
                yield f"{cell['sheet']}!{cell['cell']} {cell['verdict']}: {words}"
        yield from (f"{sheet}: {count} not answered" for sheet, count in empty.items())
        if extra:
            yield f"{extra} cells in rows too many"

    def _neutral(self, line: str) -> str:
        neighbour = self.lab.neighbour
        assert neighbour is not None
        subnets = self.lab.book["Subnets"]
        own = {
            self.lab.number: "{lab}",
            neighbour.number: "{neighbour}",
            **{subnets.text(f"A{row}"): f"{{A{row}}}" for row in (6, 7, 8)},
        }
        for text, name in own.items():
            line = re.sub(rf"(?<![\w.]){re.escape(text)}(?!\w|\.\w)", name, line)
        line = re.sub(rf"(?<=of |ee ){self.lab.trainee}\b", "{trainee}", line)
        return re.sub(rf"(?<=of |ee ){neighbour.trainee}\b", "{other}", line).replace("\n", " ")

    def faults(self) -> Iterator[str]:
        """What is not as the case wants it, whatever the words are."""
        wanted = self.case.treatment
        if wanted.is_refused or wanted.is_passed_over:
            if self.graded is not None or bool(self.reason) != wanted.is_refused:
                yield "should not be graded" if wanted.is_refused else "should not be spoken of"
            return
        if self.graded is None:
            yield f"should be graded, but: {self.reason or 'passed over'}"
            return
        if (self.graded["lab"] != self.lab.number) != wanted.for_neighbour:
            yield f"was graded for {self.graded['lab']}"
        not_right = [cell for cell in self.graded["cells"] if cell["verdict"] not in FULL]
        yield from (
            f"{cell['sheet']}!{cell['cell']} should be right, is {cell['verdict']}"
            for cell in not_right
            if wanted.right and not self._may_be_wrong(cell)
        )
        spoilt = {f"{cell['sheet']}!{cell['cell']}" for cell in not_right}
        yield from (f"{cell} should not be right" for cell in wanted.wrong if cell not in spoilt)
        if wanted.lost and not not_right:
            yield f"{wanted.lost} should not be answered"
        if wanted.right and not (wanted.wrong or wanted.lost) and self.graded["percent"] != "100":
            yield f"should have every mark, has {self.graded['percent']} per cent"

    def _may_be_wrong(self, cell: Mapping[str, Any]) -> bool:
        """Whether a cell is one of those that are meant to be lost or wrong."""
        wanted = self.case.treatment
        row = {f"Subnets!{each}": self.lab.book["Subnets"].text(f"A{each}") for each in (6, 7, 8)}
        in_lost = {cell["section"], cell["question"]} & set(wanted.lost)
        in_lost_row = any(cell["section"] == "subnets" and cell["row"] == row.get(each) for each in wanted.lost)
        is_lost = (in_lost or in_lost_row) and cell["verdict"] in ("blank", "missing")
        return bool(is_lost) or f"{cell['sheet']}!{cell['cell']}" in wanted.wrong


def outcomes(corpus: Corpus, cases: Sequence[Case]) -> Iterator[Outcome]:
    """Grades the files, as many at a time as there are labs; of those that are not graded any number."""
    *_, labs = corpus.labs[0], corpus.labs[1:]
    batch: list[tuple[Case, Lab]] = []
    used = 0
    for case in cases:
        graded = case.treatment.is_alone or not (case.treatment.is_refused or case.treatment.is_passed_over)
        if graded and used == len(labs):
            yield from _graded(corpus.sitting, batch)
            batch, used = [], 0
        batch.append((case, labs[used if graded else 0]))
        used += graded
    yield from _graded(corpus.sitting, batch)


def _graded(sitting: Sitting, batch: Sequence[tuple[Case, Lab]]) -> Iterator[Outcome]:
    shutil.rmtree(sitting.returned)
    sitting.returned.mkdir()
    names: dict[str, tuple[Case, Lab]] = {}
    for case, lab in batch:
        assert lab.neighbour is not None
        own = {"{lab}": lab.number, "{lab_small}": lab.number.lower(), "{neighbour}": lab.neighbour.number}
        name = re.sub(r"\{\w+\}", lambda found, own=own: own[found[0]], case.name)  # type: ignore[misc]
        file = sitting.returned / name
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            if file.exists():
                continue  # this file system does not tell the two names apart
            file.write_bytes(case.make(lab))
        except (OSError, UnicodeError):
            continue  # a name that this file system does not allow
        if not file.is_file():
            continue  # a name that this system keeps for a device
        names[sitting.relative(file)] = case, lab
    assert len(names) > len(batch) // 2
    printed = StringIO()
    with redirect_stdout(printed):
        status = cli.main(["grade", str(sitting.folder), "--json"])
    found = json.loads(printed.getvalue())
    graded = {_file_of(lab["file"]): lab for lab in found["graded"]}
    reasons = {_file_of(each["file"]): each["reason"] for each in found["not_graded"]}
    assert status == bool(reasons)
    assert set(graded) | set(reasons) <= set(names)
    for name, (case, lab) in names.items():
        yield Outcome(case, lab, graded.get(name), reasons.get(name, ""))


def _file_of(name: str) -> str:
    """The file that was put there: that what was found in an archive is in."""
    return re.sub(r"(?i)(\.zip)/.*", r"\1", name)


# --- The tests --------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Corpus:
    return set_class(tmp_path_factory.mktemp("corpus"))


def known_treatments() -> dict[str, list[str]]:
    treatments: dict[str, list[str]] = {}
    for line in TREATMENTS.read_text(encoding="utf-8").splitlines():
        if line.startswith("== "):
            treatments[line[3:]] = []
        elif line:
            treatments[list(treatments)[-1]].append(line)
    return treatments


def called(group: str, case: Case) -> str:
    return f"{group}/{case.name.encode('unicode_escape').decode()}"


@pytest.mark.parametrize("case", CLASSES["hostile"], ids=lambda case: case.name)
def test_no_file_takes_longer_than_it_may(case: Case, corpus: Corpus):
    data = case.make(corpus.labs[1])
    begun = time.process_time()
    with suppress(UnreadableFile):
        read_book(data)
    assert time.process_time() - begun < MAX_SECONDS


@pytest.mark.parametrize("group", many(CLASSES, ("identity", "container")))
def test_every_file_is_treated_as_it_should_be(group: str, corpus: Corpus, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(watched_reader, "MAX_SECONDS", 60)  # how busy this machine is decides nothing
    found = list(outcomes(corpus, CLASSES[group]))
    assert {outcome.case.name: list(outcome.faults()) for outcome in found if list(outcome.faults())} == {}
    known = known_treatments()
    for outcome in found:
        assert (outcome.case.name, outcome.lines()) == (outcome.case.name, known[called(group, outcome.case)])


def test_the_corpus_is_large_and_every_file_has_a_name_of_its_own():
    names = [called(group, case) for group, cases in CLASSES.items() for case in cases]
    assert len(names) >= 200
    assert len(set(names)) == len(names)
    assert set(known_treatments()) == set(names)


def _write_treatments() -> None:
    watched_reader.MAX_SECONDS = 60
    with tempfile.TemporaryDirectory() as folder:
        corpus = set_class(Path(folder))
        lines = []
        for group, cases in CLASSES.items():
            for outcome in outcomes(corpus, cases):
                lines += [f"== {called(group, outcome.case)}", *outcome.lines(), ""]
                for fault in outcome.faults():
                    sys.stderr.write(f"{called(group, outcome.case)}: {fault}\n")
        TREATMENTS.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    _write_treatments()
