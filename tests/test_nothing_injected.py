"""What others wrote (answers, names, names of files) is data in every file that the commands write, and on the terminal."""

import csv
import html.parser
import io
import json
import os
import re
import sys
import unicodedata
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import openpyxl
import pytest
from drawn_labs import changed

from trainer import cli
from trainer.commands.terminal import in_one_line, readable_output
from trainer.lab.questions import SECTIONS
from trainer.results.csv_text import harmless
from trainer.sheets.exercise_book import write_exercise_book
from trainer.sheets.filling import fill_in
from trainer.sheets.placement import cell_places
from trainer.store import Sitting

HOSTILE = (
    '=HYPERLINK("http://192.168.0.1/","x")',
    "<img src=x onerror=alert(1)>",
    '"><script>alert(1)</script>',
    "＝1+1",
    "@SUM(A1)",
    "-1+1",
    "Ann;=1+1",
    "](javascript:alert(1))",
    "{{ 7*7 }}{% raw %}",
    "\u202efdp.exe",
    "&lt;b&gt;",
    "]]><!--",
    "#panic()",
    "$(reboot)",
    "%s%n{0}",
)
"""Control codes are not among them: no workbook can hold them. Names of files can, below."""
NAMES_OF_FILES = (
    "\x1b[2J\x1b]0;x\x07",
    "a\nh99  Nobody  100",
    "\r100",
    "\u009b31m",
    '<img src=x onerror="x">',
    "\u202ex",
)
SECTIONS_FILLED = ("subnets", "links", "routes", "bindings")


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sitting, str]:
    """A sitting whose class has such names and hands such answers in; with it, all that the commands printed."""
    folder = tmp_path_factory.mktemp("attacked")
    people = tuple(
        {"id": f"h{number:02}", "name": name, "group": group, "attempt": "", "is_excused": ""}
        for number, (name, group) in enumerate(zip(HOSTILE[:3], HOSTILE[3:6], strict=True), 1)
    )
    book = folder / "harbour.xlsx"
    book.write_bytes(write_exercise_book(changed(tables={"trainees": people})))
    printed = io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdout", printed)
        patch.setattr(sys, "stderr", printed)
        assert cli.main(["set", str(book), "--out", str(folder), "--sitting", "s"]) == 0
        sitting = Sitting(folder / "s")
        hand_in(sitting)
        assert cli.main(["grade", str(sitting.folder)]) == 1
        for words in (["grade", str(sitting.folder), "--json"], ["key", str(sitting.folder)]):
            cli.main(words)
        cli.main(["results", str(sitting.folder), "--decimal", "comma"])
    return sitting, printed.getvalue()


def hand_in(sitting: Sitting) -> None:
    labs = [sitting.scenario(each.lab) for each in sitting.register().labs]
    for start, lab in enumerate(labs[:2]):
        cells = [cell for section in SECTIONS_FILLED for cell in cell_places(SECTIONS[section], lab)]
        texts = {cell: HOSTILE[(start + number) % len(HOSTILE)] for number, cell in enumerate(cells)}
        filled = fill_in(sitting.handout_file(lab).read_bytes(), lab, texts)
        for name in NAMES_OF_FILES[start::2]:
            (sitting.returned / f"{name}.xlsx".replace("/", "")).write_bytes(filled)
    for name in (*NAMES_OF_FILES, os.fsdecode(b"\xff\xfe")):
        (sitting.returned / f"{name}.txt").write_bytes(b"notes")


def written(sitting: Sitting) -> Iterator[Path]:
    """Every file that the commands wrote."""
    for path in sorted(sitting.folder.rglob("*")):
        if path.is_file() and sitting.returned not in path.parents:
            yield path


def is_live(text: str) -> bool:
    return unicodedata.normalize("NFKC", text).lstrip().startswith(("=", "+", "-", "@"))


def check_workbook(file: Path) -> None:
    with zipfile.ZipFile(file) as archive:
        for name in archive.namelist():
            tags = {each.tag.rpartition("}")[2] for each in ET.fromstring(archive.read(name)).iter()}
            assert not tags & {"f", "hyperlink", "externalLink", "oleObject", "ddeLink", "externalReference"}, name
            assert not re.search(r"(?i)vba|embeddings|customXml|activeX", name)
    for sheet in openpyxl.load_workbook(file):
        for row in sheet.values:
            assert not [text for text in row if isinstance(text, str) and is_live(text)], sheet.title


def check_csv(file: Path) -> None:
    text = file.read_text(encoding="utf-8-sig")
    assert text.count("\n") == 4, "a line a trainee"
    for piece in re.split(r'[,;\t"\r\n]', text):
        assert not is_live(piece)
    assert len({len(row) for row in csv.reader(io.StringIO(text), delimiter=";")}) == 1


class Tags(html.parser.HTMLParser):
    """Refuses what acts or leads out of a page."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in {"script", "iframe", "object", "embed", "base", "form", "foreignobject", "img"}, tag
        for name, value in attrs:
            assert not name.startswith("on"), (tag, name)
            if name in {"href", "src", "xlink:href", "action", "srcset"}:
                is_ours = re.fullmatch(r"marked/[A-Za-z0-9-]+\.html", value or "")
                assert is_ours or (value or "").startswith(("#", "data:image/")), (tag, value)


def check_page(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    Tags(convert_charrefs=True).feed(text)
    assert "<img src=x" not in text
    assert "<script" not in text


def check_pdf(file: Path) -> None:
    assert not re.search(rb"/(JavaScript|JS|Launch|OpenAction|AA|EmbeddedFile|URI)\b", file.read_bytes())


def check_record(file: Path) -> None:
    json.loads(file.read_text(encoding="utf-8"))


CHECKS = {
    ".xlsx": check_workbook,
    ".csv": check_csv,
    **dict.fromkeys((".html", ".svg", ".md"), check_page),
    ".pdf": check_pdf,
    ".json": check_record,
}


def test_every_file_that_is_written_holds_what_others_wrote_as_text(attacked: tuple[Sitting, str]):
    """A kind of file that is not known here fails: think about what could be injected into it."""
    kinds = set()
    for file in written(attacked[0]):
        if file.name != "secret":
            CHECKS[file.suffix](file)
            kinds.add(file.suffix)
    assert kinds >= {".xlsx", ".csv", ".html", ".json"}


def test_every_name_of_a_file_that_is_written_is_plain(attacked: tuple[Sitting, str]):
    for file in written(attacked[0]):
        assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", file.name)


def test_the_attack_comes_as_far_as_the_files(attacked: tuple[Sitting, str]):
    """The checks above look at something: names and answers are in there."""
    sitting = attacked[0]
    text = sitting.results_text.read_text(encoding="utf-8-sig")
    assert """h01,"'=HYPERLINK(""".replace(",", ";") in text
    assert ";'=1+1;" in text, "the roll is read with look-alikes made plain"
    pages = "".join(file.read_text(encoding="utf-8") for file in sitting.marked.glob("*.html"))
    assert "&lt;img src=x onerror=alert(1)&gt;" in pages
    notices = [row[-1] for row in openpyxl.load_workbook(sitting.results_book)["Results"].iter_rows(values_only=True)]
    assert "\\u001b[2J" in str(notices)


def test_nothing_that_is_printed_steers_the_terminal(attacked: tuple[Sitting, str]):
    printed = attacked[1]
    assert "\\u001b[2J" in printed
    assert "\\udcff\\udcfe.txt" in printed
    assert not [each for each in printed if not each.isprintable() and each != "\n"]
    assert "\u202e" not in printed
    assert not re.search(r"^h99", printed, re.MULTILINE)


def test_what_other_programs_read_is_not_changed(attacked: tuple[Sitting, str], capsys: pytest.CaptureFixture[str]):
    assert cli.main(["grade", str(attacked[0].folder), "--json"]) == 1
    told = {each["file"] for each in json.loads(capsys.readouterr().out)["not_graded"]}
    assert told == {f"returned/{name}.txt" for name in (*NAMES_OF_FILES, os.fsdecode(b"\xff\xfe"))}


@pytest.mark.parametrize(
    ("text", "written_as"),
    [
        ("=1", "'=1"),
        (" =1", "' =1"),
        ("＝1", "'＝1"),
        ("\t=1", "'\t'=1"),
        ("\r", "'\r"),
        ("Ann;=1", "Ann;'=1"),
        ('Ann",-1', "Ann\",'-1"),
        ("Ann\n@x", "Ann\n'@x"),
        ("Ann-Marie + 1", "Ann-Marie + 1"),
        ("", ""),
    ],
)
def test_text_is_made_harmless_wherever_a_cell_may_begin(text: str, written_as: str):
    assert harmless(text) == written_as


def test_a_terminal_that_lacks_a_character_is_told_it_by_number(monkeypatch: pytest.MonkeyPatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="cp1252"))
    with readable_output():
        sys.stdout.write("Zoë, Łukasz, \U0001f600, \udcff")
        sys.stdout.flush()
    assert raw.getvalue() == "Zoë, \\u0141ukasz, \\ud83d\\ude00, \\udcff".encode("cp1252")


def test_a_name_in_a_line_has_no_line_break():
    assert in_one_line("a\nb\u2028c") == "a\\u000ab\\u2028c"
