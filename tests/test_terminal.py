"""What commands print: aligned, plain in a file, coloured on a terminal unless NO_COLOR is set, and the bar."""

import io
import re
import sys
import unicodedata
from contextlib import redirect_stdout
from types import SimpleNamespace

import pytest

from trainer.commands import terminal
from trainer.commands.terminal import counted, readable_output, say, say_table

HOSTILE = "\x1b[2Jgone\u202egnp\x07\x9b31m\r\ud800\u2066"
SHOWN = r"\u001b[2Jgone\u202egnp\u0007\u009b31m\u000d\ud800\u2066"


class Screen(io.StringIO):
    """A terminal that remembers what was printed."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Screen:
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "80")
    screen = Screen()
    monkeypatch.setattr(terminal, "sys", SimpleNamespace(stdout=screen, stderr=screen))
    return screen


def columns(text: str) -> int:
    """How many columns a text takes: two for wide letters, none for marks that stand on another."""
    wide = sum(unicodedata.east_asian_width(each) in "WF" for each in text)
    return len(text) + wide - sum(unicodedata.combining(each) > 0 for each in text)


def test_lines_and_tables_are_readable_on_a_terminal_too(screen: Screen):
    say(f"Nobody is {HOSTILE}.")
    say_table(("Id", "Name"), [("h01", HOSTILE)])
    said, heading, row = screen.getvalue().splitlines()
    assert said == f"Nobody is {SHOWN}."
    assert re.sub(r"\x1b\[[01]m", "", heading).rstrip() == "Id   Name"
    assert row == f"h01  {SHOWN}"


def test_colours_pass_the_stream_that_escapes(screen: Screen):
    with redirect_stdout(screen), readable_output():
        say("Not graded", style="red", to=sys.stdout)
        say("Not\x1b[2J graded", to=sys.stdout)
    assert screen.getvalue() == "\x1b[31mNot graded\x1b[0m\nNot\\u001b[2J graded\n"


def test_lines_in_a_file_are_plain_and_as_long_as_they_are(capsys: pytest.CaptureFixture[str]):
    long = " ".join(["words"] * 40)
    say(long, "  second", style="red")
    say()
    assert capsys.readouterr().out == f"{long}\n  second\n\n"


def test_lines_on_a_terminal_break_between_words_and_keep_their_indent(screen: Screen):
    say("  " + " ".join(["words"] * 30))
    lines = screen.getvalue().splitlines()
    assert len(lines) == 3
    assert all(re.fullmatch(r"  words( words)*", line) and len(line) <= 80 for line in lines)


def test_blanks_that_keep_columns_in_line_stay(screen: Screen):
    say("Subnets       34 of 35   [####]")
    assert screen.getvalue() == "Subnets       34 of 35   [####]\n"


def test_a_path_on_a_terminal_is_not_broken(screen: Screen):
    path = "/a/" + "very-long-folder/" * 8
    say(f"Results: {path}")
    assert path in screen.getvalue().splitlines()


def test_a_table_in_a_file_fits_80_columns_and_stays_in_line_with_wide_letters(capsys: pytest.CaptureFixture[str]):
    rows = [
        ("h01", "山田 太郎", "100", "one"),
        ("h02", "Ne\u0301e Zoe\u0308", "7.5", "two"),
        ("h03", "A name that goes on and on " * 3, "50", "three"),
    ]
    say_table(("Id", "Name", "Per cent", "Weakest sheet"), rows, numbers=("Per cent",))
    out = capsys.readouterr().out
    lines = out.splitlines()
    assert all(columns(line) <= 80 for line in lines)
    at = columns(lines[0][: lines[0].index("Weakest")])
    for word in ("one", "two", "three"):
        (line,) = [each for each in lines if each.endswith(f"  {word}")]
        assert columns(line[: line.index(f"  {word}") + 2]) == at
    assert "\x1b" not in out


def test_colour_is_for_terminals_and_not_where_no_color_is_set(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    say("Not graded", style="red")
    assert screen.getvalue() == "\x1b[31mNot graded\x1b[0m\n"
    monkeypatch.setenv("NO_COLOR", "1")
    say("Not graded", style="red")
    say("1  addressing", style="bold")
    say_table(("Id",), [("h01",)])
    assert screen.getvalue().endswith("\x1b[0m\nNot graded\n1  addressing\nId\nh01\n")


def test_a_letter_that_the_terminal_does_not_know_is_told_by_number(monkeypatch: pytest.MonkeyPatch):
    latin = io.TextIOWrapper(io.BytesIO(), encoding="latin-1")
    monkeypatch.setattr(sys, "stdout", latin)
    say("Zoë 山")
    say_table(("Name",), [("山 Zoë",)])
    latin.flush()
    assert latin.buffer.getvalue().decode("latin-1") == "Zoë \\u5c71\nName\n\\u5c71 Zoë\n"  # type: ignore[attr-defined]


def test_the_bar_waits_for_a_second_and_leaves_nothing_behind(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    now = iter([0.0, 0.4, 0.9, 1.2, 1.6])
    monkeypatch.setattr(terminal, "monotonic", lambda: next(now))
    with counted(["a", "b", "c", "d"], "Marking", of=4) as each:
        printed = [screen.getvalue() for _ in each]
    assert printed == ["", "", "", printed[3]]
    assert re.search(r"Marking .*3/4", printed[3])
    assert screen.getvalue().endswith("\x1b[1A\x1b[2K")


def test_the_bar_is_drawn_ten_times_a_second_at_most_and_ends_with_all(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    times = [0.0, *(2 + each / 100 for each in range(100))]
    monkeypatch.setattr(terminal, "monotonic", iter(times).__next__)
    with counted(range(100), "Marking", of=100) as each:
        printed = [screen.getvalue() for _ in each]
        assert re.search(r"100/100", screen.getvalue())
    assert 9 <= len(set(printed)) <= 12


def test_the_bar_is_gone_before_what_stopped_the_work_is_told(screen: Screen, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(terminal, "monotonic", iter([0.0, 2.0, 2.0]).__next__)

    def stopped() -> None:
        with counted(["a", "b", "c"], "Marking", of=3) as each:
            for thing in each:
                if thing == "b":
                    raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert screen.getvalue().endswith("\x1b[?25h\r\x1b[1A\x1b[2K")


def test_no_bar_where_nobody_looks(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(terminal, "monotonic", iter([0.0, 5.0, 9.0]).__next__)
    with counted(["a", "b"], "Marking", of=2) as each:
        assert list(each) == ["a", "b"]
    assert capsys.readouterr().err == ""
