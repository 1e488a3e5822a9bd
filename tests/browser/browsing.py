"""A browser without a screen, driven through its own test interface, and what is looked for in a page."""

import base64
import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

AXE = Path(sys.prefix) / "node_modules" / "axe-core" / "axe.min.js"
"""The accessibility checker, put there by `npm install --prefix .venv axe-core`."""

TAB, ENTER, CONTROL = "\ue004", "\ue007", "\ue009"
"""Keys as they are sent (W3C WebDriver, Keyboard Actions)."""
_LOOKS, _BETWEEN = 10, 0.1
"""So often, and so many seconds apart, it is looked where the keyboard is while that is nowhere."""


_BROKEN_HEADINGS = """
const found = new Set();
document.querySelectorAll('details').forEach(each => { each.open = true; });
for (const head of document.querySelectorAll('h1, h2, h3, h4, th, dt, summary')) {
  const texts = document.createTreeWalker(head, NodeFilter.SHOW_TEXT);
  for (let node = texts.nextNode(); node; node = texts.nextNode()) {
    for (const word of node.data.matchAll(/[A-Za-z]{2,22}/g)) {
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const tops = [...range.getClientRects()].filter(box => box.width > 0).map(box => Math.round(box.top));
      if (new Set(tops).size > 1) found.add(word[0]);
    }
  }
}
return [...found];
"""
_BARS_OUTSIDE = """
const edge = document.documentElement.clientWidth;
return [...document.querySelectorAll('.bar')].map(bar => bar.getBoundingClientRect())
  .filter(box => box.width === 0 || box.left < 0 || box.right > edge + 1).length;
"""


def what_is_missing() -> str:
    """What these tests need and this machine lacks; "" where all is there."""
    try:
        import selenium  # noqa: F401
    except ImportError:
        return "selenium is not installed"
    for program in ("chromium", "chromedriver", "pdftotext"):
        if not shutil.which(program):
            return f"there is no {program}"
    return "" if AXE.is_file() else "axe-core is not installed: npm install --prefix .venv axe-core"


@dataclass(frozen=True, slots=True)
class Browser:
    """An open browser. driver: selenium's, which has no types of its own that hold here."""

    driver: Any

    def open(self, page: Path | str, *, width: int = 1280, scheme: str = "light") -> None:
        """page: a file, or an address."""
        self.look(width=width, scheme=scheme)
        self.driver.get(page if isinstance(page, str) else page.as_uri())

    def look(self, *, width: int, scheme: str) -> None:
        """The page that is open, as wide as that, and light or dark."""
        metrics = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})

    def press(self, *keys: str) -> None:
        """Keys, one after the other, wherever the keyboard is."""
        for each in keys:
            self.driver.switch_to.active_element.send_keys(each)

    def at(self) -> tuple[str, str]:
        """Where the keyboard is: the id of that place, and its text. A page that has just come may still put it somewhere."""
        found = self.driver.switch_to.active_element
        for _ in range(_LOOKS):
            if found.tag_name != "body":
                break
            time.sleep(_BETWEEN)
            found = self.driver.switch_to.active_element
        return found.get_attribute("id") or found.tag_name, found.text

    def complaints(self) -> list[str]:
        """What the browser wrote on its console since it was asked last."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> set[str]:
        """What was asked for since it was asked last, the pages themselves among it."""
        messages = [json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance")]
        return {each["params"]["request"]["url"] for each in messages if each["method"] == "Network.requestWillBeSent"}

    def too_wide(self) -> int:
        """By how many pixels the page is wider than the window."""
        wide = self.driver.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        return int(wide)

    def broken_headings(self) -> list[str]:
        """Words in headings, of tables too, that stand on two lines, with folded parts open."""
        return list(self.driver.execute_script(_BROKEN_HEADINGS))

    def bars_outside(self) -> int:
        """Bars of which a part is beyond the edge of the window."""
        return int(self.driver.execute_script(_BARS_OUTSIDE))

    def violations(self) -> list[str]:
        """What the accessibility checker finds, with folded parts open: rule, and the first element it is about."""
        self.driver.execute_script("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        self.driver.execute_script(AXE.read_text(encoding="utf-8"))
        found = self.driver.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, {resultTypes: ['violations']}).then(done, fault => done({violations: [{id: String(fault)}]}));"
        )
        return [f"{each['id']}: {each.get('nodes', [{}])[0].get('html', '')}" for each in found["violations"]]

    def tables(self) -> list[tuple[str, list[str]]]:
        """The tables of the page: the texts of the head and of each row, without any blanks."""
        found: list[tuple[str, list[str]]] = self.driver.execute_script(
            "const bare = each => each.textContent.replace(/\\s/g, '');"
            "return [...document.querySelectorAll('table')].map(table =>"
            " [bare(table.tHead), [...table.tBodies].flatMap(body => [...body.rows].map(bare))]);"
        )
        return found

    def printed(self) -> list[str]:
        """The text of each sheet of paper."""
        options = {"preferCSSPageSize": True, "printBackground": True}
        data = base64.b64decode(self.driver.execute_cdp_cmd("Page.printToPDF", options)["data"])
        text = subprocess.run(["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True).stdout
        return text.decode("utf-8").split("\f")[:-1]


@contextmanager
def browser() -> Iterator[Browser]:
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    options.binary_location = str(shutil.which("chromium"))
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver")))
    driver.set_script_timeout(120)  # of the accessibility checker, on a machine that is busy
    try:
        yield Browser(driver)
    finally:
        driver.quit()
