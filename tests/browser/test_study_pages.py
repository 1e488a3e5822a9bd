"""The pages of self-study in a real browser: by keyboard alone, accessible at every width, light and dark."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from browsing import CONTROL, ENTER, TAB, Browser, what_is_missing
from learners import Desk, logged
from served import serving

from trainer import cli
from trainer.commands import practise, quick_page
from trainer.commands.demo_class import key_texts
from trainer.commands.local_app import LocalApp, serve
from trainer.commands.practice_labs import exercise_called, practice_folder, take_up
from trainer.commands.practice_page import PracticeSite, practice_app
from trainer.commands.practice_session import PracticeSession
from trainer.commands.quick import new_round
from trainer.lab.concepts import Concept
from trainer.lab.form import CellRef
from trainer.sheets.filling import fill_in
from trainer.study.asks import concept_of
from trainer.study.labs import Wanted
from trainer.study.replay import replayed
from trainer.study_files import StudyLog

MISSING = what_is_missing()
pytestmark = [pytest.mark.browser, pytest.mark.skipif(bool(MISSING), reason=MISSING)]

LOOKS = [(width, scheme) for width in (360, 1280) for scheme in ("light", "dark")]


@contextmanager
def served(app: LocalApp) -> Iterator[str]:
    """The address of a site that is there as long as the block runs."""
    url, thread = serving(lambda told: serve(app, told))
    yield url
    app.ended.set()
    thread.join(20)
    assert not thread.is_alive()


@pytest.fixture
def quick(tmp_path: Path) -> quick_page.QuickSite:
    file = tmp_path / "practice" / "log.jsonl"
    file.parent.mkdir()
    file.write_bytes(logged(start=1))
    log, desk = StudyLog(file), Desk()
    asked = new_round(replayed(log.read(), concept_of), ("subnets.prefix", "subnets.mask"), desk.world)
    return quick_page.QuickSite(log=log, asked=asked, world=desk.world)


@pytest.fixture
def practice(tmp_path: Path) -> PracticeSite:
    practised = exercise_called("addressing")
    sitting = practice_folder(practised.exercise, tmp_path)

    def drawn(sheets: tuple[str, ...]) -> PracticeSession:
        scenario = take_up(practised, sitting, Wanted(sheets=sheets, support=4), new=True).scenario
        found = practise._session(sitting, practised.exercise, scenario, None, practise.StudyWorld())
        found.read(found.workbook)
        return found

    return PracticeSite(drawn(("links",)), draws=drawn)


def troubles(opened: Browser) -> dict[tuple[int, str], list[str]]:
    """What is wrong with the page that is open, at every width, light and dark."""
    found = {}
    for width, scheme in LOOKS:
        opened.look(width=width, scheme=scheme)
        wide = opened.too_wide()
        wrong = [*opened.violations(), *([f"{wide} pixels too wide"] if wide else [])]
        if wrong:
            found[width, scheme] = wrong
    return found


def tab_to(opened: Browser, is_there: Callable[[str, str], bool]) -> None:
    """Goes on by the tabulator until the keyboard is there."""
    for _ in range(60):
        if is_there(*opened.at()):
            return
        opened.press(TAB)
    pytest.fail("the keyboard does not get there")


def test_a_round_by_keyboard_alone(opened: Browser, quick: quick_page.QuickSite):
    with served(quick_page.quick_app(quick)) as url:
        opened.open(url)
        opened.complaints()
        assert opened.at()[0] == "answer", "one may type at once"
        assert troubles(opened) == {}
        opened.press("/2", ENTER)
        assert "Not yet. Try once more, or type hint." in opened.driver.page_source
        assert (opened.at()[0], troubles(opened)) == ("answer", {})
        tab_to(opened, lambda _, text: text == "Hint")
        opened.press(ENTER)
        assert "?" in opened.driver.find_element("id", "said").text
        assert quick.asked.asking is not None
        opened.press(CONTROL + "a", quick.asked.asking.question.answer, ENTER)
        assert (opened.at()[1], troubles(opened)) == ("Next question", {})
        opened.press(ENTER)
        assert quick.asked.asked == 2
        tab_to(opened, lambda _, text: text == "Quit")
        opened.press(ENTER)
        assert "this page can be closed" in opened.driver.page_source
        assert troubles(opened) == {}
        assert opened.complaints() == []
    assert [each.right for each in quick.asked.done] == [True]


def test_a_lab_by_keyboard_alone(opened: Browser, practice: PracticeSite):
    right = key_texts(practice.practice.scenario)
    cell = next(each for each in right if each.question == "links.network")
    with served(practice_app(practice)) as url:
        opened.open(url)
        opened.complaints()
        assert troubles(opened) == {}
        tab_to(opened, lambda place, _: place == "B6")
        opened.press("10.0.0.1", ENTER)
        assert opened.at()[0] == "first", "the keyboard is at the first remark"
        assert "not yet" in opened.at()[1]
        assert troubles(opened) == {}
        tab_to(opened, lambda _, text: text == "Hint")
        opened.press(ENTER)
        assert opened.at()[0] == "said"
        assert troubles(opened) == {}
        opened.press(TAB)
        assert opened.at()[1] == "B6"
        opened.press(ENTER)
        assert opened.at()[0] == "B6", "a link leads into its cell"
        opened.press(CONTROL + "a", right[cell], ENTER)
        assert "1 more right: Links B6." in opened.driver.page_source
        changed_meanwhile(practice, CellRef("links.mask", cell.row))
        tab_to(opened, lambda place, _: place == "C6")
        opened.press("/20", ENTER)
        assert "The workbook holds: /9" in opened.driver.page_source
        assert (opened.at()[0], troubles(opened)) == ("trouble", {})
        tab_to(opened, lambda _, text: text == "Take what the workbook holds")
        opened.press(ENTER)
        before = practice.practice.scenario.lab_number
        tab_to(opened, lambda _, text: text == "Draw another lab")
        opened.press(ENTER)
        assert (opened.at()[0], troubles(opened)) == ("sure", {})
        tab_to(opened, lambda _, text: text == "Draw another lab all the same")
        opened.press(ENTER)
        assert practice.practice.scenario.lab_number != before
        assert (opened.at()[0], troubles(opened)) == ("said", {})
        tab_to(opened, lambda _, text: text == "Quit")
        opened.press(ENTER)
        assert "this page can be closed" in opened.driver.page_source
        assert troubles(opened) == {}
        assert opened.complaints() == []


def changed_meanwhile(practice: PracticeSite, cell: CellRef) -> None:
    """Another program saves another value."""
    file = practice.practice.workbook
    file.write_bytes(fill_in(file.read_bytes(), practice.practice.scenario, {cell: "/9"}))


def test_every_lesson_can_be_read_by_all(opened: Browser, tmp_path: Path):
    found = {}
    for concept in Concept:
        assert cli.main(["learn", concept.slug, "--out", str(tmp_path)]) == 0
    pages = sorted(tmp_path.rglob("*.html"))
    assert len(pages) == len(Concept)
    for page in pages:
        opened.open(page)
        if wrong := troubles(opened):
            found[page.name] = wrong
    assert found == {}
