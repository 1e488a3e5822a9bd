"""A practice lab in a browser: what is typed goes into the workbook, what changed meanwhile is shown, and nothing is lost."""

import random
import re
import shutil
import subprocess
import urllib.request
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from learners import moment
from on_request import many
from openpyxl import load_workbook
from served import serving
from werkzeug.test import Client, TestResponse

from trainer.commands import practise
from trainer.commands.demo_class import key_texts
from trainer.commands.practice_labs import exercise_called, practice_folder, take_up
from trainer.commands.practice_page import PracticeSite, practice_app
from trainer.commands.practice_session import PracticeSession
from trainer.commands.practice_workbook import field_of
from trainer.lab.form import CellRef
from trainer.sheets.filling import fill_in
from trainer.sheets.intake import read_book
from trainer.sheets.returned_book import read_form
from trainer.store import Sitting, read_returned
from trainer.study.events import Begun, Session, Tried
from trainer.study.labs import Wanted
from trainer.study_files import log_of

HOST = "127.0.0.1:8123"


class Page:
    """A lab's page that is open, and what can be done on it."""

    def __init__(self, out: Path, *sheets: str, support: int = 4) -> None:
        """The lab that was drawn into a folder, or a new one."""
        practised = exercise_called("addressing")
        sitting = practice_folder(practised.exercise, out)
        scenario = take_up(practised, sitting, Wanted(sheets=sheets, support=support), new=False).scenario
        self.practice = practise._session(sitting, practised.exercise, scenario, None, practise.StudyWorld())
        self.practice.read(self.practice.workbook)
        self.site = PracticeSite(self.practice, draws=self._drawn, clock=lambda: 0.0, time_of_day=lambda: "14:03")
        app = practice_app(self.site)
        app.port = 8123
        self.client = Client(app)
        self._read: dict[bytes, dict[str, str]] = {}
        self.key = {cell: text for cell, text in key_texts(scenario).items() if cell.section in scenario.asked}

    def _drawn(self, sheets: tuple[str, ...]) -> PracticeSession:
        """Another lab, as the command draws one."""
        practised = exercise_called("addressing")
        wanted = Wanted(sheets=sheets, support=4)
        scenario = take_up(practised, self.sitting, wanted, new=True).scenario
        found = practise._session(self.sitting, practised.exercise, scenario, None, practise.StudyWorld())
        found.read(found.workbook)
        return found

    @property
    def sitting(self) -> Sitting:
        return self.practice.sitting

    def ask(self, method: str = "GET", place: str = "", **options: Any) -> TestResponse:
        headers = {"Host": HOST, **options.pop("headers", {})}
        return self.client.open(f"/{self.site.token}/{place}", method=method, headers=headers, **options)

    def fields(self, text: str) -> dict[str, str]:
        """What a browser would send from a page: hidden fields and inputs as they stand there."""
        found = {}
        for each in re.findall(r"<input[^>]+>", text):
            found[re.findall(r'name="([^"]*)"', each)[0]] = re.findall(r'value="([^"]*)"', each)[0]
        return found

    def send(self, do: str, opened: str | None = None, **typed: str) -> str:
        """Types into the page that is opened, and presses a button; gives the page that comes.

        subnets_mask is the first row's.
        """
        cells = {name if name == "sheets" else field_of(self.cell(name)): text for name, text in typed.items()}
        data = {**self.fields(self.ask().text if opened is None else opened), **cells, "do": do}
        answer = self.ask("POST", data=data)
        if answer.status_code != 303:
            return answer.text
        return self.ask(place=answer.headers["Location"].rpartition("/")[2]).text

    def cell(self, question: str) -> CellRef:
        return next(cell for cell in self.key if cell.question == question.replace("_", ".", 1))

    def saved(self) -> dict[str, str]:
        """What the workbook holds."""
        data = read_returned(self.practice.workbook)
        if data not in self._read:
            form = read_form(read_book(data), self.practice.scenario)
            self._read[data] = {field_of(ref): each.text for ref, each in form.filled.texts.items() if each.text}
        return self._read[data]

    def put(self, **typed: str) -> None:
        """Another program saves the workbook."""
        cells = {self.cell(name): text for name, text in typed.items()}
        file = self.practice.workbook
        file.write_bytes(fill_in(file.read_bytes(), self.practice.scenario, cells))


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a lab that asks one sheet and has nothing filled in."""
    out = tmp_path_factory.mktemp("drawn")
    Page(out, "subnets")
    return out


@pytest.fixture
def page(drawn: Path, tmp_path: Path) -> Page:
    copy = tmp_path / "out"
    shutil.copytree(drawn, copy)
    return Page(copy, "subnets")


def test_a_sheet_is_a_table_of_labelled_inputs_that_are_checked_and_kept_in_the_workbook(page: Page):
    first = page.ask().text
    assert "<script" not in first
    labels = re.findall(r'<label for="([^"]+)">', first)
    inputs = re.findall(r'<input id="([^"]+)"', first)
    assert [each for each in labels if each not in ("cell", "sheets")] == inputs
    assert len(inputs) == len(page.key)
    right = page.key[page.cell("subnets.prefix")]
    text = page.send("check", subnets_prefix=right, subnets_mask="255.0.0.255")
    assert "Looked at 14:03. 1 right: Subnets E6. 1 of " in text
    assert re.search(
        r'<li tabindex="-1" id="first" autofocus>Subnets J6 \(\d+, Mask\), &#39;255.0.0.255&#39;: not yet.', text
    )
    assert '<a href="#J6">J6</a>' in text
    assert 'aria-invalid="true" aria-describedby="J6-is"' in text
    row = page.cell("subnets.mask").row
    assert page.saved() == {f"subnets.prefix/{row}": right, f"subnets.mask/{row}": "255.0.0.255"}
    assert page.practice.progress.seen, "a check is a look as at any save"


@pytest.mark.parametrize(
    ("word", "said"), [("hint", "?"), ("why", "mask"), ("steps", "How it is done"), ("answer", "Write it")]
)
def test_help_about_a_cell_comes_by_its_buttons_and_what_was_typed_beside_is_kept(page: Page, word: str, said: str):
    page.send("check", subnets_mask="255.0.0.255")
    text = page.send(f"{word} J6", subnets_prefix="9")
    told = re.findall(r'<div id="said" tabindex="-1" autofocus>(.*?)</div>', text, re.DOTALL)
    assert said in told[0]
    assert 'Back to <a href="#J6">J6</a>' in told[0]
    assert page.saved()[f"subnets.prefix/{page.cell('subnets.mask').row}"] == "9"
    assert "9" not in [each.given for each in page.practice.progress.seen], "it is looked at when Check is pressed"


def test_nothing_that_is_told_on_a_page_speaks_of_typing_or_saving(page: Page):
    """The words of the terminal: what is typed, and that a workbook is saved."""
    told = [page.ask().text, page.send("answer J6"), page.send("check", subnets_mask="255.0.0.255")]
    told += [page.send(f"{word} J6") for word in ("hint", "hint", "why", "why", "steps", "answer")]
    told.append(page.send("check", **{cell.question.replace(".", "_", 1): text for cell, text in page.key.items()}))
    told += [page.send("new"), page.send("stay"), page.send("quit")]
    for text in told:
        said = re.sub(r"<[^>]+>", " ", text)
        assert not re.search(r"\b[Tt]ype[ds]?\b|\bsaved?\b|&#39;(steps|new|list|hint)\b", said), said


def test_no_element_is_dressed_by_itself_which_the_content_policy_forbids(page: Page):
    """Content Security Policy 3, 6.7.3: style attributes are inline styles."""
    assert " style=" not in page.ask().text


def test_what_stands_there_filled_in_is_no_input(page: Page):
    mask = page.cell("subnets.mask")
    page.practice.progress = replace(page.practice.progress, filled_in=(mask,))
    text = page.ask().text
    assert '<span id="J6" class="stands" tabindex="-1"></span>' in text
    page.send("check", text, subnets_mask="255.0.0.0")
    assert page.saved() == {}


def test_a_workbook_that_was_changed_meanwhile_is_shown_with_both_values_and_not_overwritten(page: Page):
    opened = page.ask().text
    page.put(subnets_mask="255.255.255.0", subnets_prefix="24")
    text = page.send("check", opened, subnets_mask="255.255.0.0")
    row = page.cell("subnets.mask").row
    assert page.saved() == {f"subnets.mask/{row}": "255.255.255.0", f"subnets.prefix/{row}": "24"}
    assert "nothing was written" in text
    assert 'value="255.255.0.0"' in text
    assert "The workbook holds: 255.255.255.0" in text
    assert 'value="24"' in text, "what was not touched here follows the workbook"
    assert "Take what the workbook holds" in text
    taken = page.send("file", text)
    assert ('value="255.255.255.0"' in taken, "The workbook holds" in taken) == (True, False)
    opened = page.ask().text
    page.put(subnets_mask="255.255.255.128")
    text = page.send("check", opened, subnets_mask="255.255.0.0")
    assert "Looked at 14:03." in page.send("check", text), "who saw both may write"
    assert page.saved()[f"subnets.mask/{row}"] == "255.255.0.0"


def test_another_cell_that_was_changed_meanwhile_is_no_conflict(page: Page):
    opened = page.ask().text
    page.put(subnets_prefix="24")
    assert "Looked at 14:03." in page.send("check", opened, subnets_mask="255.255.0.0")
    assert sorted(page.saved().values()) == ["24", "255.255.0.0"]


def test_what_cannot_be_written_stays_on_the_page(page: Page):
    away = page.practice.workbook.with_suffix(".away")
    opened = page.ask().text
    page.practice.workbook.rename(away)
    text = page.send("check", opened, subnets_mask="255.255.0.0")
    assert "is not there. Put it back" in text
    assert 'value="255.255.0.0"' in text
    away.rename(page.practice.workbook)
    assert "Looked at 14:03." in page.send("check")
    assert list(page.saved().values()) == ["255.255.0.0"]


def test_another_lab_takes_the_place_of_one_in_which_nothing_was_written(page: Page):
    before, data = page.practice.scenario.lab_number, page.practice.workbook.read_bytes()
    text = page.send("new", sheets="links")
    now = page.site.practice.scenario
    assert now.lab_number != before
    assert now.asked == ("links",)
    assert f"This is lab {now.lab_number}. The one before, {before}, stays in {page.practice.workbook}." in text
    assert f"Lab {now.lab_number} of ORCHARD-1" in text
    assert page.practice.workbook.read_bytes() == data


def test_another_lab_is_confirmed_where_something_was_written(page: Page):
    text = page.send("new", subnets_prefix="9")
    assert "In this lab 1 cell is filled in, and not all of it is right yet." in text
    assert text.index('value="check">') < text.index('value="new yes">'), "Enter in a cell checks"
    assert page.site.practice is page.practice
    assert "is filled in, and not all" not in page.send("stay")
    page.send("new")
    page.send("new yes", sheets="")
    assert page.site.practice.scenario.asked == ("subnets", "links", "stations")
    assert [*page.saved().values()] == ["9"], "it stays where it is"


def test_what_is_sent_from_a_page_of_the_lab_before_is_written_nowhere(page: Page):
    opened = page.ask().text
    page.send("new", sheets="subnets")
    now = page.site.practice.workbook
    data = now.read_bytes()
    text = page.send("check", opened, subnets_prefix="9")
    assert "What was sent is of another lab than the one that stands here now." in text
    assert (now.read_bytes(), page.saved()) == (data, {})


def test_quit_keeps_what_was_typed_and_ends(page: Page):
    text = page.send("quit", subnets_mask="255.255.0.0")
    assert "this page can be closed" in text
    assert page.site.is_over
    assert list(page.saved().values()) == ["255.255.0.0"]


def test_the_page_to_read_runs_nothing_either(page: Page):
    answer = page.ask(place="read")
    assert answer.data == page.sitting.handout_page(page.practice.scenario).read_bytes()
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'; ")
    assert "script-src" not in answer.headers["Content-Security-Policy"]
    assert page.ask(place="links").status_code == 404, "a sheet that is not asked"


def test_another_host_token_or_method_is_refused_and_nothing_is_written(page: Page):
    data = {**page.fields(page.ask().text), field_of(page.cell("subnets.mask")): "255.0.0.0", "do": "check"}
    assert page.ask("POST", data=data, headers={"Host": "example.org:8123"}).status_code == 400
    assert page.ask("POST", data=data, headers={"Origin": "http://example.org"}).status_code == 403
    assert page.ask("POST", data={**data, "token": "x"}).status_code == 403
    assert page.ask("POST", data=data, place="subnets").status_code == 405
    assert page.ask("PUT", data=data).status_code == 405
    assert page.client.post(f"/x{page.site.token}/", data=data, headers={"Host": HOST}).status_code == 404
    assert page.ask("POST", data={**data, "x": "1" * 600_000}).status_code == 413
    assert (page.saved(), page.site.is_over) == ({}, False)


def test_whoever_leaves_is_told_once_what_is_not_in_the_workbook(page: Page):
    page.site._workbook.drafts[page.cell("subnets.mask")] = "255.0.0.0"
    page.site._workbook.drafts[CellRef("links.network", page.cell("subnets.mask").row)] = "10.0.0.0"
    assert "What was typed on sheet Links is not in the workbook. Go there, or press Quit once more." in page.send(
        "quit"
    )
    assert not page.site.is_over
    assert "this page can be closed" in page.send("quit")


def check_fuzzed_posts(page: Page, count: int) -> None:
    """Whatever is sent, the answer is one of ours, and no cell changes but by a form that names it and saw what it held."""
    rng = random.Random(1)
    names = list(map(field_of, page.key))
    texts = (
        "",
        "\0",
        "٣",
        "10.0.0.1",
        "a" * 500,
        "=1+1",
        "'x",
        "_x0041_",
        "\u202e1",
        "/26",
        "{{7*7}}",
        "\ud800",
        "1\n2",
    )
    words = ("check", "hint", "why J6", "steps", "answer J6", "file", "", "x" * 300, "hint A1", "answer Z99")
    for _ in range(count):
        before = page.saved()
        data: dict[str, Any] = {rng.choice(names): rng.choice(texts) for _ in range(rng.randrange(3))}
        data |= {"do": rng.choice(words), "cell": rng.choice(("J6", "", "D6", "ZZ99999", "x" * 300))}
        is_ours, knows = rng.random() < 0.8, rng.random() < 0.6
        if is_ours:
            data |= {"token": page.site.token, "sheet": rng.choice(("subnets", "subnets", "subnets", "links", ""))}
        if knows:
            data["base"] = page.fields(page.ask().text)["base"]
        options: dict[str, Any] = {"data": {name: text.encode("utf-8", "surrogatepass") for name, text in data.items()}}
        if rng.random() < 0.1:
            options = {"data": rng.randbytes(400), "content_type": rng.choice(("multipart/form-data; boundary=x", "x"))}
        answer = page.ask("POST", **options)
        assert answer.status_code in (303, 400, 403, 413), answer.text
        after = page.saved()
        changed = {name for name in {*before, *after} if before.get(name) != after.get(name)}
        assert changed <= set(data), "a cell that was not sent"
        assert not changed or (is_ours and (knows or not changed & set(before))), "a value that the form did not know"
        page.site.take({"sheet": "subnets", "do": "file"})
    assert page.ask().status_code == 200
    page.send("check", subnets_mask='"><script>')
    assert "<script" not in page.ask().text


@pytest.mark.parametrize("count", many((100, 1000), (100,)))
def test_fuzzed_posts_break_nothing_and_lose_nothing(page: Page, count: int):
    check_fuzzed_posts(page, count)


def test_a_lab_on_a_page_is_noted_and_ends_with_quit(drawn: Path, tmp_path: Path):
    out = tmp_path / "out"
    shutil.copytree(drawn, out)
    page, log = Page(out, "subnets"), log_of(out, None)
    log.add([Begun(start=1)], moment())
    wanted = Wanted(sheets=("subnets",))
    url, thread = serving(lambda told: practise.run("addressing", out, once=None, new=False, wanted=wanted, page=told))
    with urllib.request.urlopen(url, timeout=20) as answer:
        data = page.fields(answer.read().decode())
    data |= {field_of(page.cell("subnets.prefix")): "9", "do": "check"}
    with urllib.request.urlopen(url, data=urlencode(data).encode(), timeout=20) as answer:
        text = answer.read().decode()
    assert "not yet" in text
    lock = page.sitting.practice_lock(page.practice.scenario.lab_number)
    assert lock.exists(), "another window is told that somebody is at work here"
    data = urlencode({**page.fields(text), "do": "quit"}).encode()
    with urllib.request.urlopen(url, data=data, timeout=20) as answer:
        assert "Comes back at the latest: tomorrow Size." in answer.read().decode()
    thread.join(20)
    assert (thread.is_alive(), lock.exists()) == (False, False)
    events = [event for _, event in log.read().events]
    assert [(each.what, each.ends) for each in events if isinstance(each, Session)] == [("lab", False), ("lab", True)]
    assert [(each.ask, each.first) for each in events if isinstance(each, Tried)] == [("subnets.prefix", "wrong")]


def test_another_lab_on_a_served_page_is_a_session_of_its_own_at_the_same_address(
    drawn: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    out = tmp_path / "out"
    shutil.copytree(drawn, out)
    page, log = Page(out, "subnets"), log_of(out, None)
    log.add([Begun(start=1)], moment())
    wanted = Wanted(sheets=("subnets",))
    url, thread = serving(lambda told: practise.run("addressing", out, once=None, new=False, wanted=wanted, page=told))

    def send(text: str, **more: str) -> str:
        data = urlencode({**page.fields(text), **more}).encode()
        with urllib.request.urlopen(url, data=data, timeout=60) as answer:
            return answer.read().decode()

    with urllib.request.urlopen(url, timeout=20) as answer:
        text = send(answer.read().decode(), do="new", sheets="links")
    labs = [each.lab for each in page.sitting.register().labs]
    assert f"This is lab {labs[-1]}." in text
    locks = [page.sitting.practice_lock(lab).exists() for lab in labs]
    assert locks == [False, True], "the first lab is free for another window"
    send(text, do="quit")
    thread.join(20)
    assert not page.sitting.practice_lock(labs[-1]).exists()
    events = [event for _, event in log.read().events]
    assert [each.ends for each in events if isinstance(each, Session)] == [False, True, False, True]
    assert "Left. To go on with this lab: trainer practise addressing --sheets Links --page" in capsys.readouterr().out


@pytest.mark.desktop
@pytest.mark.parametrize("program", ["soffice", "ssconvert"])
def test_a_page_and_an_office_program_write_in_turn(page: Page, program: str):
    if not shutil.which(program):
        pytest.skip(f"there is no {program}")
    file = page.practice.workbook
    folder = file.parent / "saved"
    folder.mkdir()
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    commands = {
        "soffice": ["soffice", profile, "--headless", "--convert-to", "xlsx", "--outdir", str(folder), str(file)],
        "ssconvert": ["ssconvert", str(file), str(folder / file.name)],
    }
    page.put(subnets_prefix="24")
    for mask in ("255.255.0.0", "255.255.255.0"):
        subprocess.run(commands[program], check=True, capture_output=True, timeout=100)
        (folder / file.name).replace(file)
        assert "Looked at 14:03." in page.send("check", subnets_mask=mask)
        assert sorted(page.saved().values()) == ["24", mask]


def test_rows_that_were_sorted_and_columns_that_were_moved_are_written_where_they_stand(page: Page):
    """As a spreadsheet program leaves them: a cell is found by its row's label and its column's heading."""
    form = load_workbook(BytesIO(page.practice.workbook.read_bytes()))
    sheet = form["Subnets"]
    first, last = [[cell.value for cell in sheet[number]] for number in (6, 7)], (6, 7)
    for number, values in zip(reversed(last), first, strict=True):
        for column, value in enumerate(values, 1):
            sheet.cell(number, column).value = value
    form.save(page.practice.workbook)
    page.send("check", subnets_mask="255.255.0.0")
    form = load_workbook(BytesIO(page.practice.workbook.read_bytes()))
    assert form["Subnets"]["J7"].value == "255.255.0.0"
