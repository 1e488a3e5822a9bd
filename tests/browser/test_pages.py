"""Every kind of page that a sitting writes, in a real browser: quiet, self-contained, accessible, printable."""

from pathlib import Path

import pytest
from browsing import Browser, what_is_missing

from trainer import cli

MISSING = what_is_missing()
pytestmark = [pytest.mark.browser, pytest.mark.skipif(bool(MISSING), reason=MISSING)]

WIDTHS = (360, 1280)
"""A telephone held upright, and a common laptop."""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """All the pages of the demo's class: whatever is written as HTML is looked at."""
    out = tmp_path_factory.mktemp("demo")
    assert cli.main(["demo", "--out", str(out)]) == 0
    assert cli.main(["key", str(out / "demo")]) == 0
    found = sorted(out.rglob("*.html"))
    assert {page.parent.name for page in found} >= {"keys", "marked", "demo"}
    return found


def test_no_page_asks_for_anything_or_complains(opened: Browser, pages: list[Path]):
    opened.requests()
    for page in pages:
        opened.open(page)
    assert opened.complaints() == []
    assert opened.requests() == {page.as_uri() for page in pages}


def test_a_page_that_asks_or_complains_is_noticed(opened: Browser, tmp_path: Path):
    page = tmp_path / "bad.html"
    page.write_text('<!doctype html><title>x</title><img src="gone.png"><script>console.error("oh")</script>')
    opened.requests()
    opened.open(page)
    assert any("oh" in each for each in opened.complaints())
    assert (tmp_path / "gone.png").as_uri() in opened.requests()


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_scrolls_sideways(opened: Browser, pages: list[Path], width: int):
    found = {}
    for page in pages:
        opened.open(page, width=width)
        opened.driver.execute_script("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        found[page.name] = opened.too_wide()
    assert {name: wide for name, wide in found.items() if wide} == {}


@pytest.mark.parametrize("width", WIDTHS)
def test_no_word_of_a_heading_is_broken_and_no_bar_leaves_the_page(opened: Browser, pages: list[Path], width: int):
    found = {}
    for page in pages:
        opened.open(page, width=width)
        wide = opened.bars_outside() if page.parent.name == "marked" else 0
        found[page.name] = (opened.broken_headings(), wide)
    assert {name: wrong for name, wrong in found.items() if wrong != ([], 0)} == {}


def test_a_broken_heading_and_a_bar_outside_are_noticed(opened: Browser, tmp_path: Path):
    page = tmp_path / "bad.html"
    bar = '<span class="bar" style="display:block;width:2000px">x</span>'
    page.write_text(f'<!doctype html><h1 style="width:2em;overflow-wrap:anywhere">Subnets</h1>{bar}')
    opened.open(page, width=360)
    assert (opened.broken_headings(), opened.bars_outside()) == (["Subnets"], 1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_accessibility_checker_finds_nothing(opened: Browser, pages: list[Path], scheme: str):
    found = {}
    for page in pages:
        opened.open(page, scheme=scheme)
        found[page.name] = opened.violations()
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_what_is_too_wide_or_not_accessible_is_noticed(opened: Browser, tmp_path: Path):
    page = tmp_path / "bad.html"
    page.write_text('<!doctype html><div style="width:400px">wide</div>')
    opened.open(page, width=360)
    assert opened.too_wide() > 0
    assert any(each.startswith("html-has-lang") for each in opened.violations())


def test_every_sheet_of_paper_is_numbered_and_has_the_heads_of_its_tables(opened: Browser, pages: list[Path]):
    broken = 0
    for page in pages:
        opened.open(page)
        tables = opened.tables()
        sheets = ["".join(sheet.split()) for sheet in opened.printed()]
        for number, sheet in enumerate(sheets, 1):
            assert f"page{number}of{len(sheets)}" in sheet, (page.name, number)
        for head, rows in tables:
            alone = [row for row in rows if "".join(sheets).count(row) == 1]
            on = [sheet for sheet in sheets if any(row in sheet for row in alone)]
            assert all(head in sheet for sheet in on), (page.name, head)
            broken += len(on) > 1
    assert broken, "no table runs over two sheets: nothing was tried"
