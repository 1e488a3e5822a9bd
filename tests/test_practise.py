"""Practising at the keyboard on real files: every save is looked at, every word obeyed, and it can be left at any point."""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from io import BytesIO
from ipaddress import IPv4Address
from pathlib import Path

import pytest
from drawn_labs import changed
from openpyxl import load_workbook

from trainer import cli
from trainer.commands import practice_session, practise, watched_reader
from trainer.commands.demo_class import key_texts
from trainer.commands.practice_session import WORDS
from trainer.commands.study_world import StudyWorld
from trainer.errors import TrainerError
from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef, RowKey
from trainer.lab.rows import WrittenRow
from trainer.lab.scenario import Reveal, Scenario
from trainer.marking.practice import EXPLANATION
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.store import Sitting
from trainer.study.asks import concept_of
from trainer.study.events import Begun, Tried
from trainer.study.labs import Wanted
from trainer.study.replay import replayed
from trainer.study.support import ONLY_GIVEN
from trainer.study_files import StudyLog, log_of

NOTHING_FILLED_IN = Wanted(support=ONLY_GIVEN)
OFFICE = shutil.which("soffice")
FOLDER = "practice-HARBOUR-2"


class Desk:
    """Somebody who works with the lab of a folder: saves, types, goes away. No second is really waited for."""

    def __init__(self, out: Path, folder: str = FOLDER) -> None:
        self.out = out
        self.sitting = Sitting(out / folder)
        self.now = 0.0
        self.saves = 0

    def practise(
        self,
        *steps: str | Callable[[], object],
        name: str | None = None,
        new: bool = False,
        wanted: Wanted = NOTHING_FILLED_IN,
        learner: str | None = None,
    ) -> None:
        """Does a step every five seconds: a word is typed, anything else is done."""
        todo = list(steps)
        last = self.now

        def typed() -> str | None:
            nonlocal last
            if self.now < last + 5:
                return None
            last = self.now
            step = todo.pop(0) if todo else "quit"
            if isinstance(step, str):
                return step + "\n"
            step()
            return None

        def sleep(seconds: float) -> None:
            assert seconds == 0.2
            self.now += seconds

        around = practise.Surroundings(typed=typed, clock=lambda: self.now, sleep=sleep, time_of_day=lambda: "14:03")
        assert practise.run(name, self.out, once=None, new=new, wanted=wanted, around=around, learner=learner) == 0
        assert not todo

    @property
    def scenario(self) -> Scenario:
        return self.sitting.scenario(self.sitting.register().labs[-1].lab)

    @property
    def workbook(self) -> Path:
        return self.sitting.handout_file(self.scenario)

    @property
    def memory(self) -> Path:
        return self.sitting.instructor / f"practice-{self.scenario.lab_number}.json"

    def filled(self, **changes: str) -> bytes:
        """The key's answers in the workbook, but for some: subnets_mask="/9" is the first row's."""
        texts = dict(key_texts(self.scenario))
        for question, text in changes.items():
            texts[self.first(question.replace("_", ".", 1))] = text
        return fill_in(self.workbook.read_bytes(), self.scenario, texts)

    def first(self, question: str) -> CellRef:
        return next(cell for cell in key_texts(self.scenario) if cell.question == question)

    def put(self, data: bytes) -> None:
        """Writes into the file itself."""
        self.saves += 1
        self.workbook.write_bytes(data)
        os.utime(self.workbook, (1_900_000_000 + self.saves,) * 2)

    def save(self, **changes: str) -> Callable[[], None]:
        return lambda: self.put(self.filled(**changes))

    def blank(self) -> None:
        """Saves it as it was handed out."""
        self.put(self.workbook.read_bytes())


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


@pytest.fixture
def begun(desk: Desk, capsys: pytest.CaptureFixture[str]) -> Desk:
    """A lab that was drawn and left at once."""
    desk.practise()
    capsys.readouterr()
    return desk


def reports(out: str) -> list[str]:
    """What was printed after each save."""
    return out.split("\n\n")[1:]


# --- Saving -----------------------------------------------------------------------------------------------------------


def test_a_lab_is_drawn_into_a_sitting_of_its_own_and_its_workbook_named(
    desk: Desk, capsys: pytest.CaptureFixture[str]
):
    desk.practise()
    out = capsys.readouterr().out
    lab = desk.scenario.lab_number
    assert re.fullmatch(
        rf"A lab {lab} of HARBOUR-2 \(Two quays, one network\) was drawn for you\. "
        r"Its solution was tried out: \d+ trials went as they should\.\n"
        r"  Asked:   Subnets, Links, Ports, Stations, Routes, Pools, Relays, Protection and Bindings\n"
        rf"  Read:    {re.escape(str(desk.sitting.handout_page(desk.scenario)))}\n"
        rf"  Fill in: {re.escape(str(desk.workbook))}\n"
        r"Every time you save it, it is looked at here\. Type steps, hint, why, answer, list, bars, new or quit\.\n"
        r"Left\. To go on with this lab: trainer practise two-switches\n",
        out,
    )
    assert desk.workbook.parent == desk.out / FOLDER / "hand-out"
    assert desk.scenario.trainee.id == "practice"
    assert (desk.sitting.instructor / "secret").is_file()
    assert not list(desk.out.rglob("KEY*")), "no key lies beside whoever practises"


def test_a_short_lab_asks_the_sheets_that_are_named(desk: Desk, capsys: pytest.CaptureFixture[str]):
    desk.practise(wanted=Wanted(sheets=("links",)))
    first = desk.scenario
    assert first.asked == ("links",)
    assert "\n  Asked:   Links\n" in capsys.readouterr().out
    desk.practise("new Kettles", "new Stations, Subnets", "new")
    said = capsys.readouterr().out
    assert f"You go on with lab {first.lab_number} " in said
    assert "There is no sheet 'Kettles'. There are Subnets, Links, " in said
    drawn = [desk.sitting.scenario(each.lab) for each in desk.sitting.register().labs]
    assert [each.asked for each in drawn] == [("links",), ("subnets", "stations"), ("subnets", "stations")]
    desk.practise(wanted=Wanted(sheets=("links",)))
    assert desk.scenario.asked == ("links",), "another sheet than the lab that was begun is another lab"


def test_error_an_exercise_has_nothing_to_ask_on_a_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run("practise", "addressing", "--sheets", "Pools,Links", "--out", tmp_path) == 1
    assert capsys.readouterr().err == ("ORCHARD-1 asks nothing on sheet Pools. It has Subnets, Links and Stations.\n")
    assert run("practise", "addressing", "--sheets", "Link", "--out", tmp_path) == 1
    assert capsys.readouterr().err == "There is no sheet 'Link'. Did you mean Links?\n"


def test_what_is_read_first_is_short_and_says_nothing_of_marks(desk: Desk):
    """A class's Brief has some thousand words; whoever begins with one sheet needs some hundred."""
    desk.practise(name="addressing", wanted=Wanted(sheets=("subnets",)))
    desk = Desk(desk.out, "practice-ORCHARD-1")
    form = load_workbook(BytesIO(desk.workbook.read_bytes()))
    words = " ".join(str(cell) for row in form["Brief"].iter_rows(values_only=True) for cell in row if cell)
    assert form.sheetnames == ["Brief", "Given", "Steps", "Subnets", "Notes"]
    assert "an orchard co-operative with a packing house" in words, "the exercise's own brief"
    assert "56 cells" not in words, "which is told of a whole lab"
    assert not re.search(r"\bmarks?\b|\bcounts? \d|of 100", words)
    assert len(words.split()) < 400
    assert not form["Notes"].protection.sheet
    page = desk.sitting.handout_page(desk.scenario).read_text(encoding="utf-8")
    assert "<svg" in page
    assert "Half marks" not in page


def test_save_see_fix_one_cell_save_and_see_it_turn_right(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), begun.save())
    first, second = reports(capsys.readouterr().out)
    lease = RowKey(begun.first("pools.lease").row)
    assert first.startswith("Looked at 14:03. 156 right: all of Subnets; ")
    assert first.splitlines()[-1] == f"1. Pools G6 ({lease}, Lease), '1 h': not yet."
    assert second.splitlines() == [
        "Looked at 14:03. 1 more right: Pools G6. 15 of 15 on sheet Pools.",
        "Every cell is right.",
        "Right the first time: all of Subnets; all of Links; all of Ports; all of Stations; all of Routes; Pools First address, "
        "Last address, Mask, Router; all of Relays; all of Protection; all of Bindings.",
        "With a second try or a hint: Pools G6.",
        "'new' draws another lab.",
        "Left. To go on with this lab: trainer practise two-switches",
    ]


def test_an_untouched_save_says_where_to_begin_and_calls_nothing_wrong(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.blank, "hint")
    (said,) = reports(capsys.readouterr().out)
    row = begun.first("subnets.network").row
    assert said.splitlines()[:2] == [
        "Looked at 14:03. Nothing is right yet.",
        f"Next: Subnets D6-J6 ({row}). 'steps D6' shows the way, with another lab's numbers.",
    ]
    assert "  1. Prefix length. Addresses needed + 2, " in said, "a blank row gets its steps"
    assert "empty" not in said
    assert "not yet" not in said


def test_a_save_is_looked_at_within_a_second(begun: Desk, monkeypatch: pytest.MonkeyPatch):
    saved: list[float] = []
    looked: list[float] = []
    monkeypatch.setattr(practise.PracticeSession, "take_save", lambda *_: looked.append(begun.now) or [])
    begun.practise(lambda: (begun.save()(), saved.append(begun.now)))
    assert looked[0] - saved[0] <= 0.8


def test_no_marks_no_grade_and_no_answer_are_told_unasked(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(
        begun.save(subnets_network="10.1.1.0"), begun.save(subnets_network="10.1.1.0"), "hint", "why", "list"
    )
    out = capsys.readouterr().out
    right = key_texts(begun.scenario)[begun.first("subnets.network")]
    assert right not in out
    assert "%" not in out
    assert not re.search(r"\bmarks?\b|\bgrade", out)


def test_the_hint_comes_with_the_second_save_on_which_a_cell_is_not_right(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    begun.practise(*[begun.save(pools_lease="1 h")] * 2)
    first, second = reports(capsys.readouterr().out)
    assert first.splitlines()[-1].endswith("'1 h': not yet.")
    assert " right: all of Subnets; Links B6-E6; all of Ports; " in first
    assert "No answer has changed since the last save." in second
    assert re.search(r"'1 h': not yet\. \S.*\?", second)


def test_what_turns_wrong_is_said(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(), begun.save(pools_lease="1 h"))
    assert "No longer right: Pools G6.\n" in reports(capsys.readouterr().out)[1]


def test_rows_may_stand_in_any_order_and_a_missing_row_is_not_named(begun: Desk, capsys: pytest.CaptureFixture[str]):
    texts = dict(key_texts(begun.scenario))
    for question in ("switch", "destination", "mask", "next_hop"):
        texts.pop(CellRef(f"routes.{question}", WrittenRow("Route", 2)))
    data = fill_in(begun.workbook.read_bytes(), begun.scenario, texts)
    begun.practise(lambda: begun.put(data), "list")
    (said,) = reports(capsys.readouterr().out)
    assert "Next: Routes, 1 row not yet written. 'steps Routes' shows the way.\n" in said
    assert "\nRoutes: 1 row not yet written.\n" in said


# --- How programs save ------------------------------------------------------------------------------------------------


def test_a_file_that_is_replaced_is_looked_at_and_its_lock_file_passed_over(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    lock = begun.workbook.with_name(f".~lock.{begun.workbook.name}#")
    beside = begun.workbook.with_name("new.tmp")

    def take_away() -> None:
        beside.write_bytes(begun.filled())
        lock.write_text("somebody")
        begun.workbook.unlink()

    def put_back() -> None:
        beside.rename(begun.workbook)

    old = begun.workbook.stat().st_ino
    path = begun.workbook
    begun.practise(take_away, put_back)
    out = capsys.readouterr().out
    assert path.stat().st_ino != old
    assert len(reports(out)) == 1
    assert "Every cell is right." in out


def test_error_a_lab_that_somebody_practises_on_in_another_window_is_left_to_them(begun: Desk):
    lock = begun.sitting.practice_lock(begun.scenario.lab_number)
    assert not lock.exists(), "whoever leaves gives it free"
    other = {"process": os.getppid(), "host": socket.gethostname(), "since": "25 Nov 2026 20:00:00"}
    lock.write_text(json.dumps(other), encoding="utf-8")
    with pytest.raises(TrainerError, match=f"Another run is at work on .*: process {os.getppid()}, since 25 Nov"):
        begun.practise()
    assert json.loads(lock.read_text(encoding="utf-8")) == other


def test_a_half_written_file_is_tried_again_when_it_changes(begun: Desk, capsys: pytest.CaptureFixture[str]):
    whole = begun.filled()
    begun.practise(lambda: begun.put(whole[: len(whole) // 2]), lambda: begun.put(whole))
    out = capsys.readouterr().out
    assert out.count("Every cell is right.") == 1
    assert out.count(str(begun.workbook)) == 2, "named at the start, and once when it could not be read for long"


def test_a_file_that_is_still_being_written_is_not_read(begun: Desk, monkeypatch: pytest.MonkeyPatch):
    """Its size changes at every look, until it stays for 0.3 s."""
    sizes = iter([(1,), (2,), (3,), (4,), (4,), (4,)])
    watch = practise._Watch((0,))
    assert [watch.is_due(0.2 * place, size) for place, size in enumerate(sizes)] == [False] * 5 + [True]


def test_a_file_that_is_gone_for_long_is_missed_once(begun: Desk, capsys: pytest.CaptureFixture[str]):
    path = begun.workbook
    begun.practise(path.unlink, lambda: None, lambda: None)
    out = capsys.readouterr().out
    assert out.count("The file is not there. Save it under its old name, or type 'new' for another lab.") == 1


def test_error_the_workbook_of_another_lab_is_saved_in_its_place(begun: Desk, capsys: pytest.CaptureFixture[str]):
    first, other = begun.scenario.lab_number, begun.workbook.read_bytes()
    begun.practise(new=True)
    capsys.readouterr()
    begun.practise(lambda: begun.put(other), lambda: None)
    second = begun.scenario.lab_number
    said = f"{begun.workbook}: It is the workbook of lab {first}, not of {second}. Save the right one there.\n"
    assert said in capsys.readouterr().out


@pytest.mark.desktop
@pytest.mark.skipif(OFFICE is None, reason="there is no office program that runs without a screen")
def test_what_an_office_program_saves_in_its_place_is_looked_at(begun: Desk, capsys: pytest.CaptureFixture[str]):
    assert OFFICE is not None
    mine, saved = begun.out / "mine", begun.out / "saved"
    mine.mkdir()
    copy = mine / begun.workbook.name
    copy.write_bytes(begun.filled(pools_lease="1 h"))
    profile = f"-env:UserInstallation={(begun.out / 'profile').as_uri()}"
    command = [OFFICE, profile, "--headless", "--norestore", "--convert-to", "xlsx", "--outdir", str(saved), str(copy)]
    subprocess.run(command, check=True, capture_output=True, timeout=100)
    path = begun.workbook
    begun.practise(lambda: (saved / path.name).replace(path), begun.save())
    first, second = reports(capsys.readouterr().out)
    assert re.search(r"^1\. Pools G6 \(\d+, Lease\), '1 h': not yet\.$", first, re.MULTILINE)
    assert "1 more right: Pools G6. " in second


# --- Words ------------------------------------------------------------------------------------------------------------


def test_hint_gives_the_hints_of_what_is_shown(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "hint")
    out = capsys.readouterr().out
    assert re.search(r"^1\. Pools G6 \(\d+, Lease\), '1 h': [^\n]+\?$", out, re.MULTILINE)


def hint_lines(out: str) -> list[str]:
    """What was said to each word typed, of the lease in Pools G6."""
    return re.findall(r"^1\. Pools G6 \(\d+, Lease\), '1 h': (.+)$", out, re.MULTILINE)


def test_the_next_hint_comes_after_a_save_and_climbs_to_the_steps_but_never_to_the_answer(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    wrong = begun.save(pools_lease="1 h")
    begun.practise(wrong, "hint", wrong, "why", wrong, "hint")
    out = capsys.readouterr().out
    _, hint, _, explanation, _ = hint_lines(out)
    assert hint.endswith("?")
    assert len(explanation.split()) <= 40
    steps = out[out.rindex("How it is done, with another lab's numbers (Pools: VLAN ") :]
    assert "\n  Copy it from sheet Given, with its unit.\n     Lease " in steps
    assert "Pools G6: " not in out, "which is how an answer is told"


def test_why_asked_again_tells_what_was_not_told_yet(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_mask="255.255.0.0"), "why", "why", "why")
    _, *told = re.findall(r"^1\. Pools E6 .+?': (.+)$", capsys.readouterr().out, re.MULTILINE)
    assert len(told) == 3
    assert told[0] != told[1]


def test_a_hint_nobody_had_time_to_try_is_said_again(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "hint", "hint")
    out = capsys.readouterr().out
    _, first, second = hint_lines(out)
    assert first == second
    assert (
        out.count("\nTry that first. The next hint comes once you have changed something, or in half a minute.\n") == 1
    )


def test_half_a_minute_after_a_hint_the_next_one_comes_without_a_save(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "hint", *[lambda: None] * 6, "hint")
    out = capsys.readouterr().out
    _, first, second = hint_lines(out)
    assert first != second
    assert "Try that first." not in out


def test_hints_that_were_asked_for_are_known_when_the_lab_is_taken_up(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "hint")
    _, hint = hint_lines(capsys.readouterr().out)
    begun.practise("hint")
    standing, explanation, *_ = hint_lines(capsys.readouterr().out)
    assert standing == f"not yet. {hint}"
    assert explanation not in (hint, standing)
    begun.practise(begun.save(), begun.save(pools_lease="1 h"))
    assert json.loads(begun.memory.read_text())["climbed"] == []


def test_a_lab_that_was_begun_before_hints_were_counted_keeps_its_memory(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    begun.practise(begun.save(pools_lease="1 h"), "answer Pools G6")
    record = json.loads(begun.memory.read_text())
    del record["climbed"]
    begun.memory.write_text(json.dumps(record))
    begun.practise("list")
    assert "\nShown: Pools G6.\n" in capsys.readouterr().out


def test_hint_and_why_of_a_sheet_that_is_named(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(
        begun.save(subnets_network="10.1.1.0", pools_lease="1 h"),
        "why",
        "hint Pools",
        "why pools",
        "why Puls",
        "hint Ports",
    )
    *_, why, hint, of_pools = capsys.readouterr().out.split("\n1. ")
    assert why.startswith("Subnets ")
    assert hint.startswith("Pools ")
    assert of_pools.startswith("Pools ")
    assert "There is no sheet 'Puls' to fill in. Did you mean Pools?" in of_pools
    assert "Every cell of Ports is right: there is nothing to explain." in of_pools


def test_why_gives_explanation_and_consequence(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "WHY")
    out = capsys.readouterr().out
    assert re.search(r"^1\. Pools G6 \(\d+, Lease\), '1 h': [^\n?]+\.$", out, re.MULTILINE)


def test_there_is_nothing_to_explain_when_all_is_right(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(), "hint", "why", "list")
    out = capsys.readouterr().out
    assert out.count("Every cell is right: there is nothing to explain.\n") == 2
    assert "\nEvery cell is right.\n" in out


def test_an_answer_is_shown_when_asked_for_and_counted_apart(begun: Desk, capsys: pytest.CaptureFixture[str]):
    lease = key_texts(begun.scenario)[begun.first("pools.lease")]
    begun.practise(begun.save(pools_lease="1 h"), "answer pools g6", begun.save(), "list", "bars")
    out = capsys.readouterr().out
    hours = lease.split()[0]
    assert f"\nPools G6: {lease} (sheet Given: {hours} h for every pool). Write it, and do the next row alone.\n" in out
    assert re.search(r"^Pools +14 of 15 +\[##################==\]  1 shown$", out, re.MULTILINE)
    assert "1 more right: Pools G6 (shown). " in out
    assert "\nShown: Pools G6.\n" in out
    assert json.loads(begun.memory.read_text())["shown"] == [
        {"question": "pools.lease", "row": begun.first("pools.lease").row}
    ]


def test_answer_alone_asks_which_cell_and_takes_the_next_line_for_it(begun: Desk, capsys: pytest.CaptureFixture[str]):
    lease = key_texts(begun.scenario)[begun.first("pools.lease")]
    begun.practise(begun.save(pools_lease="1 h"), "answer", "Pools G6", "Pools G6")
    said = capsys.readouterr().out
    assert f"\nOf which cell? Type its name, such as G7, or with its sheet: Subnets G7.\nPools G6: {lease} (" in said
    assert f" alone.\n{WORDS}\n" in said


@pytest.mark.parametrize("word", ["list", ""])
def test_another_word_or_none_takes_back_the_wish_for_an_answer(
    begun: Desk, capsys: pytest.CaptureFixture[str], word: str
):
    begun.practise(begun.save(pools_lease="1 h"), "answer", word, "Pools G6")
    assert capsys.readouterr().out.count(WORDS) == (1 if word else 2)
    assert json.loads(begun.memory.read_text())["shown"] == []


def test_the_memory_is_no_record_at_all_and_begun_anew(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.save()()
    begun.memory.write_text("7")
    begun.practise()
    assert "Every cell is right." in capsys.readouterr().out


def test_any_cell_can_be_asked_about_by_its_name_alone(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(pools_lease="1 h"), "hint g6", "why G6", "why J7", "why F6", "answer G6")
    out = capsys.readouterr().out
    assert len(hint_lines(out)) == 3, "of all sheets with a cell G6 Pools alone has it open"
    assert "\nSubnets J7 is right.\n" in out
    assert "\nF6 of which sheet: " not in out, "the sheet that is worked on has such a cell"
    assert "\nPools F6 is right.\n" in out
    assert re.search(r"^Pools G6: .+ Write it, and do the next row alone\.$", out, re.MULTILINE)


def test_a_blank_cell_has_a_hint_and_its_row_the_steps(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.blank, "hint D8", "why D8", "answer D8", "steps Ports C6", "steps Routes")
    out = capsys.readouterr().out
    assert "\nSubnets D8 (Network address): Put the networks in order, shortest prefix length first." in out
    assert (
        "\nSubnets D8: nothing stands there yet, so nothing is wrong.\nHow it is done, with another lab's numbers"
        in out
    )
    assert "\nSubnets D8: try it first: write what you come to. If you do not know how, ask for its steps.\n" in out
    assert "\n  Look what is plugged in: of a station write its VLAN, of a link the word routed.\n" in out
    assert "\n  4. Next hop. See over which link the way goes on" in out
    assert json.loads(begun.memory.read_text())["shown"] == []


def test_the_steps_are_another_labs(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(
        begun.blank, *[f"steps {name}" for name in ("D6", "Links B6", "Pools C6", "Routes B6", "Bindings B6")]
    )
    out = capsys.readouterr().out
    steps = out[out.index("How it is done") :]
    given = {str(vlan.number) for vlan in begun.scenario.vlans}
    addresses = re.findall(r"\d+\.\d+\.\d+\.\d+", steps)
    assert len(addresses) > 10
    assert not [each for each in addresses if IPv4Address(each) in begun.scenario.block and "255" not in each[:3]]
    assert not given & set(re.findall(r"VLAN (\d+)", steps))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("answer", "Of which cell? Type its name, such as G7, or with its sheet: Subnets G7."),
        ("answer Subnets", "Say which cell: answer G7, or with its sheet: answer Subnets G7"),
        ("answer subnet D6", "There is no sheet 'subnet' to fill in. Did you mean Subnets?"),
        ("answer Kettles D6", "There is no sheet 'Kettles' to fill in."),
        ("answer Subnets A6", "Subnets A6 is no cell to fill in."),
        ("answer Subnets!D6", "Subnets D6 is right as it stands."),
        ("answer Routes B30", "Routes B30 is no cell to fill in."),
    ],
)
def test_error_an_answer_is_asked_for_of_no_cell(
    begun: Desk, capsys: pytest.CaptureFixture[str], typed: str, said: str
):
    begun.practise(begun.save(), typed)
    assert capsys.readouterr().out.splitlines()[-2] == said
    assert json.loads(begun.memory.read_text())["shown"] == []


def test_anything_else_lists_the_words(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise("help me")
    assert capsys.readouterr().out.count(WORDS) == 1
    assert max(map(len, WORDS.splitlines())) < 80


def test_new_draws_another_lab_and_goes_on_with_that(begun: Desk, capsys: pytest.CaptureFixture[str]):
    first = begun.scenario

    def save() -> None:
        begun.save()()

    begun.practise("new", save)
    second = begun.scenario
    out = capsys.readouterr().out
    assert (first.trainee.attempt, second.trainee.attempt) == (1, 2)
    assert first.block != second.block
    assert f"A lab {second.lab_number} of HARBOUR-2" in out
    assert "Every cell is right." in out


# --- Left and taken up again ------------------------------------------------------------------------------------------


def test_the_same_command_goes_on_with_the_same_lab_and_says_how_it_stands(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    lab = begun.scenario.lab_number
    begun.practise(begun.save(pools_lease="1 h"))
    capsys.readouterr()
    begun.practise(begun.save(pools_lease="1 h"))
    out = capsys.readouterr().out
    assert out.startswith(f"You go on with lab {lab} of HARBOUR-2 (Two quays, one network); --new draws another.\n")
    assert begun.scenario.lab_number == lab
    before = out.split("\n\n")[0]
    assert before.splitlines()[-1].endswith("'1 h': not yet."), "taking it up is no save, so there is no hint yet"
    assert "\nSubnets 35 of 35, Links 4 of 4, " in before
    assert "?" in reports(out)[0]


def test_a_save_that_nobody_watched_is_looked_at_when_it_is_taken_up(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.save()()
    begun.practise()
    assert len(reports(capsys.readouterr().out)) == 1


def test_new_on_the_command_line_draws_another(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(new=True)
    begun.practise(new=True)
    assert [each.attempt for each in begun.sitting.register().labs] == [1, 2, 3]
    assert begun.workbook.name == f"practice-3-{begun.scenario.lab_number}.xlsx"


def test_a_damaged_memory_is_begun_anew(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.practise(begun.save(subnets_network="10.1.1.0"), "answer Subnets D6", begun.save())
    begun.memory.write_text("{")
    capsys.readouterr()
    begun.practise()
    assert "Every cell is right." in reports(capsys.readouterr().out)[0]


def test_a_workbook_that_was_thrown_away_is_written_again(begun: Desk):
    path = begun.workbook
    path.unlink()
    begun.practise()
    assert path.is_file()


def test_a_lab_goes_on_although_its_exercise_was_changed(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file, desk = tmp_path / "mine.xlsx", Desk(tmp_path, "practice-MINE")
    file.write_bytes(write_exercise_book(changed(code="MINE")))
    desk.practise(name=str(file))
    first = desk.scenario
    file.write_bytes(write_exercise_book(changed(code="MINE", title="Another quay")))
    capsys.readouterr()
    desk.practise("new", name=str(file))
    out = capsys.readouterr().out
    assert "The exercise workbook was changed since it was drawn: --new draws from it as it is now.\n" in out
    assert desk.sitting.scenario(first.lab_number) == first
    assert desk.scenario.title == "Another quay"


def test_a_lab_goes_on_with_the_present_settings_that_no_lab_rests_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file, desk = tmp_path / "mine.xlsx", Desk(tmp_path, "practice-MINE")
    file.write_bytes(write_exercise_book(changed(code="MINE", reveal="marks")))
    desk.practise(name=str(file))
    first = desk.scenario
    file.write_bytes(write_exercise_book(changed(code="MINE", reveal="answers", pass_mark="70")))
    capsys.readouterr()
    desk.practise(name=str(file))
    assert "was changed" not in capsys.readouterr().out
    exercise = desk.sitting.register().exercise
    assert (exercise.rules.reveal, exercise.pass_mark) == (Reveal.ANSWERS, 70)
    assert desk.scenario == first


def started(out: Path, stderr: int | None = None) -> "subprocess.Popen[str]":
    command = [sys.executable, "-m", "trainer", "practise", "two-switches", "--out", str(out)]
    folder = Path(cli.__file__).parents[1]
    return subprocess.Popen(
        command, cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=stderr, text=True
    )


def lines_until(process: "subprocess.Popen[str]", start: str) -> list[str]:
    assert process.stdout is not None
    found = []
    for line in process.stdout:
        found.append(line)
        if line.startswith(start):
            return found
    raise AssertionError(found)


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed in another way there")
def test_killed_while_it_waits_it_is_taken_up_again_with_all_it_knew(begun: Desk):
    with started(begun.out) as first:
        lines_until(first, "Every time")
        begun.save(pools_lease="1 h")()
        saved = time.monotonic()
        lines_until(first, "1. Pools G6")
        assert time.monotonic() - saved < 5, "a second, and some for a machine that does other things"
        assert first.stdin is not None
        first.stdin.write("answer Pools G6\n")
        first.stdin.flush()
        lines_until(first, "Pools G6: ")
        first.send_signal(signal.SIGKILL)
    with started(begun.out) as second:
        assert lines_until(second, "You go on with")[-1].split()[5] == begun.scenario.lab_number
        lines_until(second, "1. Pools G6")
        begun.save()()
        assert "1 more right: Pools G6 (shown)." in "".join(lines_until(second, "Shown: Pools G6."))
        assert second.stdin is not None
        second.stdin.write("quit\n")
        second.stdin.close()
        assert lines_until(second, "Left.")
        assert second.wait(20) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="processes are interrupted in another way there")
def test_interrupted_at_the_keyboard_it_says_how_to_go_on(begun: Desk):
    with started(begun.out, stderr=subprocess.PIPE) as process:
        lines_until(process, "Every time")
        process.send_signal(signal.SIGINT)
        assert process.stderr is not None
        said = process.stderr.read()
        assert process.wait(20) == 130
    assert said == "Stopped. What was written is complete; run the same command again to go on.\n"


def test_killed_while_it_was_being_drawn_the_lab_is_drawn_when_it_is_taken_up(
    begun: Desk, capsys: pytest.CaptureFixture[str]
):
    """Killed before its files were written, and before it stood in the register."""
    scenario, memory = begun.scenario, begun.memory
    for file in (begun.sitting.labs / f"{scenario.lab_number}.json", begun.workbook, memory):
        file.unlink()
    begun.practise()
    assert begun.scenario == scenario
    assert capsys.readouterr().out.startswith(f"A lab {scenario.lab_number} of HARBOUR-2")
    begun.sitting.write_register(replace(begun.sitting.register(), labs=()))
    begun.practise()
    assert begun.scenario == scenario
    assert [each.attempt for each in begun.sitting.register().labs] == [1]


def test_without_a_keyboard_every_save_is_looked_at_all_the_same(begun: Desk):
    with started(begun.out) as process:
        lines_until(process, "Every time")
        assert process.stdin is not None
        process.stdin.close()
        begun.save()()
        lines_until(process, "Every cell is right.")
        process.kill()


# --- Which exercise ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["addressing", "Free-Plan"])
def test_a_ready_made_exercise_is_called_by_its_name(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str):
    desk = Desk(tmp_path)
    desk.practise(name=name)
    (folder,) = tmp_path.iterdir()
    Desk(tmp_path, folder.name).practise(name=name)
    assert "You go on with lab" in capsys.readouterr().out


def test_an_exercise_of_ones_own_is_called_by_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "mine.xlsx"
    file.write_bytes(write_exercise_book(changed(code="MINE")))
    Desk(tmp_path / "out").practise(name=str(file))
    assert (tmp_path / "out" / "practice-MINE" / "hand-out").is_dir()


def test_labs_differ_even_where_a_class_would_have_one_lab_for_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file, desk = tmp_path / "mine.xlsx", Desk(tmp_path, "practice-MINE")
    file.write_bytes(write_exercise_book(changed(code="MINE", one_lab_for_all="one for all")))
    desk.practise("new", name=str(file))
    first, second = (desk.sitting.scenario(each.lab) for each in desk.sitting.register().labs)
    assert first.block != second.block
    assert first.date == ""


def run(*arguments: object) -> int:
    return cli.main([str(each) for each in arguments])


@pytest.mark.parametrize(
    ("name", "meant"),
    [("two-swiches", "Did you mean two-switches? "), ("addresing", "Did you mean addressing? "), ("q", "")],
)
def test_error_there_is_no_such_exercise(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, meant: str):
    assert run("practise", name, "--out", tmp_path) == 1
    assert capsys.readouterr().err == (
        f"There is no ready-made exercise {name!r}. {meant}They are: addressing, links-and-routes, two-switches, "
        "relays-and-pools, star-of-four, tree-of-five, free-plan, faults-one, faults-harmless, faults-no-counters, faults-two. "
        "An exercise of your own is named by its file.\n"
    )
    assert not list(tmp_path.iterdir())


def test_error_there_is_no_such_exercise_workbook(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "none.xlsx"
    assert run("practise", file, "--out", tmp_path) == 1
    assert capsys.readouterr().err == f"There is no file {file}. 'trainer template {file}' writes one to begin with.\n"


# --- Once -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [(), ("two-switches",)], ids=["any practice folder", "the exercise's"])
def test_once_reports_a_file_wherever_it_lies_and_does_not_wait(
    begun: Desk, capsys: pytest.CaptureFixture[str], tmp_path: Path, words: Sequence[str]
):
    copy = tmp_path / "copy of mine.xlsx"
    copy.write_bytes(begun.filled(pools_lease="1 h"))
    assert run("practise", *words, "--once", copy, "--out", tmp_path) == 0
    out = capsys.readouterr().out
    assert re.search(r"^1\. Pools G6 \(\d+, Lease\), '1 h': not yet\.$", out, re.MULTILINE)
    copy.write_bytes(begun.filled())
    assert run("practise", *words, "--once", copy, "--out", tmp_path) == 0
    assert "1 more right: Pools G6. " in capsys.readouterr().out


def test_what_was_looked_at_once_is_not_looked_at_again(begun: Desk, capsys: pytest.CaptureFixture[str]):
    begun.save()()
    assert run("practise", "--once", begun.workbook, "--out", begun.out) == 0
    capsys.readouterr()
    begun.practise()
    assert reports(capsys.readouterr().out) == []


@pytest.fixture
def fault_in_marking(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[int]:
    """Marking goes wrong from now on, and logs are written below tmp_path; gives how often it has gone wrong."""
    times = []

    def mark(*_: object) -> None:
        times.append(1)
        raise KeyError("no such row")

    reader = watched_reader.WatchedReader()
    reader._has_failed = True  # in this process, so that the fault can be put in
    monkeypatch.setattr(watched_reader, "mark", mark)
    monkeypatch.setattr(practice_session, "watched_reader", reader)
    monkeypatch.setattr(practise, "watched_reader", reader)
    monkeypatch.chdir(tmp_path)
    return times


OUR_FAULT = (
    "Marking it went wrong, which is our fault and not that of whoever filled it in. Please send us this file: {log}\n"
)


def test_error_a_save_that_crashes_in_marking_is_told_once_and_the_next_one_looked_at(
    begun: Desk, capsys: pytest.CaptureFixture[str], fault_in_marking: list[int], monkeypatch: pytest.MonkeyPatch
):
    log = (begun.out / "output" / "trainer-error.log").resolve()
    begun.practise(begun.save(), *[lambda: None] * 5, monkeypatch.undo, begun.save(pools_lease="1 h"))
    out = capsys.readouterr().out
    assert out.count(f"{begun.workbook}: {OUR_FAULT.format(log=log)}") == 1
    assert len(fault_in_marking) == 2, "what lay there at the beginning, and the save"
    assert "KeyError: 'no such row'" in log.read_text(encoding="utf-8")
    assert "Pools G6" in out


def test_error_once_with_a_file_that_crashes_in_marking(
    begun: Desk, capsys: pytest.CaptureFixture[str], fault_in_marking: list[int]
):
    assert run("practise", "--once", begun.workbook, "--out", begun.out) == 3
    log = (begun.out / "output" / "trainer-error.log").resolve()
    assert capsys.readouterr().err == f"{begun.workbook}: {OUR_FAULT.format(log=log)}"
    assert len(fault_in_marking) == 1


def test_error_once_and_new_exclude_each_other(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as stopped:
        run("practise", "--new", "--once", tmp_path / "mine.xlsx")
    assert stopped.value.code == 2
    assert capsys.readouterr().err.endswith("error: argument --once: not allowed with argument --new\n")


def test_error_once_with_a_file_that_is_no_workbook(begun: Desk, capsys: pytest.CaptureFixture[str]):
    file = begun.out / "notes.xlsx"
    assert run("practise", "--once", file, "--out", begun.out) == 1
    assert capsys.readouterr().err == (
        f"{file}: The file cannot be read (No such file or directory). See that it is there and that you may read it, or copy "
        "it here again.\n"
    )
    file.write_text("no workbook")
    assert run("practise", "--once", file, "--out", begun.out) == 1
    assert capsys.readouterr().err.startswith(f"{file}: ")


def test_error_once_with_the_workbook_of_no_practice_lab(
    begun: Desk, capsys: pytest.CaptureFixture[str], tmp_path: Path
):
    lab, file = begun.scenario.lab_number, begun.workbook
    assert run("practise", "addressing", "--once", file, "--out", tmp_path) == 1
    err = capsys.readouterr().err
    assert re.fullmatch(
        rf"{re.escape(str(file))}: it holds lab {lab}, which is no practice lab in \S+practice-\S+\. "
        r"Give the workbook that was filled in\.\n",
        err,
    )
    assert run("practise", "--once", file, "--out", tmp_path / "empty") == 1
    assert capsys.readouterr().err == (
        f"{file}: it holds lab {lab}, which is no practice lab in the output folder. Give the workbook that was filled in.\n"
    )


# --- With a learner's log ---------------------------------------------------------------------------------------------


def begin_a_log(out: Path, learner: str | None = None) -> StudyLog:
    log = log_of(out, learner)
    log.add([Begun(learner=learner or "", start=0)], StudyWorld().moment)
    return log


def of_size(log: StudyLog) -> list[tuple[str, int, bool]]:
    """First verdict, rung and whether it was right in the end, of the lines about lengths that were not right at once."""
    tries = [event for _, event in log.read().events if isinstance(event, Tried)]
    return [
        (each.first, each.rung, each.right) for each in tries if each.ask == "subnets.prefix" and each.first != "right"
    ]


def test_every_check_is_noted_in_the_log_of_whoever_keeps_one(begun: Desk, capsys: pytest.CaptureFixture[str]):
    log = begin_a_log(begun.out)
    begun.practise(begun.save(subnets_prefix="/9"), "why E6", begun.save(subnets_prefix="/9"))
    assert of_size(log) == [("wrong", 0, False), ("wrong", EXPLANATION, False)]
    out = capsys.readouterr().out
    assert re.search(r"^Comes back at the latest: tomorrow Size\. In 2 days Ports\.$", out, re.MULTILINE)
    study = replayed(log.read(), concept_of)
    assert study.concepts[Concept.SIZE].last == StudyWorld().moment.day
    assert study.open_sessions == {}
    asked = {event.ask for _, event in log.read().events if isinstance(event, Tried)}
    assert {"subnets.network", "routes.next_hop", "bindings.address"} <= asked
    assert not asked & {"pools.lease", "bindings.mac"}, "copies say nothing of a concept"
    begun.practise(begun.save())
    assert of_size(log)[2:] == [("wrong", EXPLANATION, True)], "what was known before is not noted again"


def test_without_a_log_none_is_begun(begun: Desk):
    begun.practise(begun.save())
    assert not (begun.out / "practice").exists()


def test_a_run_that_is_killed_while_it_notes_leaves_whole_lines_and_the_rest_is_noted_later(
    begun: Desk, monkeypatch: pytest.MonkeyPatch
):
    log = begin_a_log(begun.out)
    write, left = os.write, 20

    def killed(handle: int, data: bytes) -> int:
        nonlocal left
        left -= 1
        if left < 0:
            raise KeyboardInterrupt
        return write(handle, data)

    monkeypatch.setattr(os, "write", killed)
    with pytest.raises(KeyboardInterrupt):
        begun.practise(begun.save())
    monkeypatch.undo()
    found = log.read()
    assert (len(found.events), found.torn, found.edited) == (21, 0, 0)
    assert list(replayed(found, concept_of).open_sessions.values()) == [StudyWorld().moment.day]
    begun.practise()
    found = log.read()
    cells = [(event.ask, event.row) for _, event in found.events if isinstance(event, Tried)]
    assert len(cells) == len(set(cells))
    assert (len(cells), found.torn, found.edited) == (120, 0, 0)


def test_a_log_that_cannot_be_written_stops_nobody(begun: Desk, capsys: pytest.CaptureFixture[str]):
    log = begin_a_log(begun.out)
    away = log.file.with_suffix(".away")

    def refuse() -> None:
        log.file.rename(away)
        log.file.mkdir()
        begun.save()()

    def allow() -> None:
        log.file.rmdir()
        away.rename(log.file)
        begun.save()()

    begun.practise(refuse, allow)
    first, second = reports(capsys.readouterr().out)
    assert "Every cell is right." in first
    assert f"{log.file} is no file." in first
    assert str(log.file) not in second
    assert replayed(log.read(), concept_of).tried == 120, "it was noted with the next save"


def test_learners_have_labs_of_their_own(desk: Desk, capsys: pytest.CaptureFixture[str]):
    for name in ("Ana", "Bram"):
        begin_a_log(desk.out, name)
    with pytest.raises(TrainerError, match=r"2 people practise in .*: Ana, Bram"):
        desk.practise()
    with pytest.raises(TrainerError, match=r"There is no log of 'Anna' yet\. Did you mean Ana\?"):
        desk.practise(learner="Anna")
    ana = Desk(desk.out, f"{FOLDER}.ana")
    ana.practise(wanted=Wanted(sheets=("links",)), learner="Ana")
    assert ana.sitting.progress(ana.scenario.lab_number).support == 3, "as much as the log asks for"
    once = ["practise", "--once", str(ana.workbook), "--out", str(desk.out), "--learner"]
    capsys.readouterr()
    assert [cli.main([*once, name]) for name in ("Ana", "Bram")] == [0, 1]
    assert "which is no practice lab in the output folder" in capsys.readouterr().err


# --- A network with faults ---------------------------------------------------------------------------------------------


def test_error_a_level_of_an_exercise_without_faults(desk: Desk):
    with pytest.raises(
        TrainerError, match=r"^HARBOUR-2 has no faults to find: leave --level out, or take one of faults-one, "
    ):
        desk.practise(name="two-switches", wanted=Wanted(level=5))


@pytest.mark.many
def test_a_level_draws_another_lab_and_the_hidden_fault_shows_once_the_first_is_mended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    desk = Desk(tmp_path, "practice-MILL-F1")
    desk.practise(name="faults-one", wanted=Wanted(level=5))
    lab = desk.scenario
    assert lab.repair is not None
    assert lab.repair.hides_second
    desk.practise(name="faults-one", wanted=Wanted(level=5))
    assert desk.scenario == lab, "the lab that was begun goes on"
    first, second = lab.repair.faults
    texts = {cell: text for cell, text in key_texts(lab).items() if cell.row != "Fault 2"}
    hidden = next(each.id for each in lab.repair.symptoms[1:] if 2 in each.faults)
    capsys.readouterr()
    desk.practise(
        lambda: desk.put(fill_in(desk.workbook.read_bytes(), lab, texts)), f"retry {hidden}", name="faults-one"
    )
    told = next(line for line in capsys.readouterr().out.splitlines() if f"with {first.line} put right" in line)
    desk.practise(desk.save(), f"retry {hidden}", name="faults-one")
    mended = next(line for line in capsys.readouterr().out.splitlines() if f"{second.line} put right" in line)
    assert told.partition(" put right")[2] != mended.partition(" put right")[2]
    desk.practise(name="faults-one")
    assert desk.scenario == lab


@pytest.mark.many
def test_tables_and_symptoms_are_asked_for_one_by_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    desk = Desk(tmp_path, "practice-MILL-F1")
    words = ("look A routes", "try S2", "try lease", "asked", desk.save(), "asked", "what?")
    desk.practise(name="faults-one")
    capsys.readouterr()
    desk.practise(*words, name="faults-one")
    out = capsys.readouterr().out
    assert "Line  Destination network" in out
    assert "You asked for look A routes and S2." in out
    assert out.count("Half-split: ") == 2
    assert out.index("You asked for look") < out.index("Half-split: ")
    assert "look A routes       a table of a device" in out
    desk.practise("try S3", "asked", name="faults-one")
    assert "You asked for 3 things" in capsys.readouterr().out, "what was asked is kept"
