"""Short questions in a browser: what is refused, what is noted, and that nothing sent can break it or be lost."""

import random
import re
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from learners import Desk, logged
from on_request import many
from served import serving
from werkzeug.test import Client, TestResponse

from trainer.commands.quick import new_round
from trainer.commands.quick_page import QuickSite, quick_app, run_round_on_page
from trainer.study.asks import concept_of
from trainer.study.events import Session, Tried
from trainer.study.replay import replayed
from trainer.study_files import StudyLog

HOST = "127.0.0.1:8123"


class Page:
    """A page that is open, and what can be done on it."""

    def __init__(self, folder: Path, *kinds: str, seed: int = 1) -> None:
        file = folder / "practice" / "log.jsonl"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(logged(start=1))
        self.log = StudyLog(file)
        desk = Desk(seed=seed)
        study = replayed(self.log.read(), concept_of)
        kinds = kinds or ("subnets.prefix", "subnets.mask")
        self.site = QuickSite(log=self.log, asked=new_round(study, kinds, desk.world), world=desk.world)
        self.app = quick_app(self.site)
        self.app.port = 8123
        self.client = Client(self.app)

    @property
    def path(self) -> str:
        return f"/{self.site.token}/"

    def ask(self, method: str = "GET", path: str | None = None, **options: Any) -> TestResponse:
        headers = {"Host": HOST, **options.pop("headers", {})}
        return self.client.open(path or self.path, method=method, headers=headers, **options)

    def send(self, do: str, answer: str = "", **fields: str) -> TestResponse:
        number = str(self.site.asked.asked)
        data = {"token": self.site.token, "number": number, "do": do, "answer": answer, **fields}
        return self.ask("POST", data=data)

    def right(self) -> str:
        assert self.site.asked.asking is not None
        return self.site.asked.asking.question.answer

    def tries(self) -> list[Tried]:
        return [event for _, event in self.log.read().events if isinstance(event, Tried)]


@pytest.fixture
def page(tmp_path: Path) -> Page:
    return Page(tmp_path)


def test_a_round_is_answered_with_forms_alone_and_noted(page: Page):
    first = page.ask()
    assert first.status_code == 200
    assert "1 of 2, Size, Prefix length" in first.text
    assert '<label for="answer">' in first.text
    assert "autofocus" in first.text
    assert "<script" not in first.text
    assert page.send("check", "/2").status_code == 303
    again = page.ask().text
    assert "Not yet. Try once more, or type hint." in again
    assert 'aria-describedby="said"' in again
    assert 'value="/2"' in again, "what was typed is there to be changed"
    page.send("check", page.right())
    assert "Next question" in page.ask().text
    page.send("next")
    page.send("check", page.right())
    assert [(each.ask, each.first, each.right) for each in page.tries()][:2] == [
        ("subnets.prefix", "wrong", True),
        ("subnets.mask", "right", True),
    ]
    over = page.send("quit")
    assert over.status_code == 200
    assert "this page can be closed" in over.text
    assert page.app.ended.is_set()
    assert [event.ends for _, event in page.log.read().events if isinstance(event, Session)] == [False, True]


@pytest.mark.parametrize("word", ["hint", "why", "steps", "answer", "skip"])
def test_every_button_does_what_the_word_does(page: Page, word: str):
    page.send("check", "/2")
    page.send(word)
    said = page.ask().text
    assert 'id="said"' in said
    if word in ("answer", "skip"):
        assert len(page.tries()) == 1


def test_a_form_that_is_sent_twice_does_nothing(page: Page):
    number = str(page.site.asked.asked)
    page.send("check", page.right())
    page.send("next")
    page.send("check", "/2", number=number)
    assert "That question is done; this is the one that waits." in page.ask().text
    assert page.site.asked.asking is not None
    assert page.site.asked.asking.tries == 0


def test_a_log_that_cannot_be_written_is_said_and_what_was_done_is_noted_later(page: Page):
    away = page.log.file.with_suffix(".away")
    page.log.file.rename(away)
    page.log.file.mkdir()
    page.send("check", page.right())
    text = page.ask().text
    assert f"{page.log.file} is no file." in text
    assert "Next question" in text
    page.log.file.rmdir()
    away.rename(page.log.file)
    page.send("next")
    page.send("check", page.right())
    assert "is no file" not in page.ask().text
    assert [each.ask for each in page.tries()] == ["subnets.prefix", "subnets.mask"]


@pytest.mark.parametrize("host", ["127.0.0.1", "example.org", "127.0.0.1:8124", "127.0.0.1:8123.example.org", ""])
def test_another_host_is_refused(page: Page, host: str):
    assert page.ask(headers={"Host": host}).status_code == 400
    assert page.ask(headers={"Host": "localhost:8123"}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/x/", "/{token}", "/{token}x/", "/{token}/../", "/{token}/style.css.map"])
def test_another_path_is_refused(page: Page, path: str):
    assert page.ask(path=path.format(token=page.site.token)).status_code == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "PATCH", "TRACE"])
def test_another_method_is_refused(page: Page, method: str):
    assert page.ask(method).status_code == 405
    assert page.ask("POST", f"{page.path}style.css").status_code == 405


def test_a_form_without_the_token_or_of_another_place_is_refused(page: Page):
    before = page.ask().text
    assert page.send("check", page.right(), token="x").status_code == 403
    data = {"token": page.site.token, "number": "1", "do": "check", "answer": page.right()}
    assert page.ask("POST", data=data, headers={"Origin": "http://example.org"}).status_code == 403
    assert (page.ask().text, page.tries()) == (before, [])
    assert page.ask("POST", data=data, headers={"Origin": f"http://{HOST}"}).status_code == 303


def test_the_policy_allows_no_script_and_nothing_from_outside(page: Page):
    for answer in (page.ask(), page.ask(path="/")):
        policy = answer.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; style-src 'self'; form-action 'self'")
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert answer.headers["Cache-Control"] == "no-store"
    assert re.findall(r"https?://", page.ask().text) == []
    style = page.ask(path=f"{page.path}style.css").headers
    assert style["Content-Type"].startswith("text/css")
    assert style["Cache-Control"] == "private, max-age=86400", "the last page needs it when nobody is there to send it"


def test_what_is_typed_is_shown_as_text(page: Page):
    page.send("check", '1"><script>alert(1)</script>')
    assert "<script" not in page.ask().text


def test_what_is_far_too_large_is_refused(page: Page):
    assert page.send("check", "1" * 10_000).status_code == 413
    page.send("check", "1" * 3000)
    assert page.site.asked.asking is not None


def check_fuzzed_posts(page: Page, count: int) -> None:
    """Whatever is sent, the answer is one of ours, and what was done before stays in the log."""
    rng = random.Random(1)
    page.send("check", "/2")
    page.send("skip")
    known = page.tries()
    assert known
    fields = ("token", "number", "do", "answer", "x", "token\0", "dö")
    texts = ("", "\0", "٣", "quit\n", "a" * 500, "1", "check", "next", "hint", "../", "%00", "{{7*7}}")
    kinds = (
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "application/json",
        "text/plain",
        "",
    )
    for _ in range(count):
        data: Any = {rng.choice(fields): rng.choice(texts) for _ in range(rng.randrange(5))}
        if rng.random() < 0.6:
            data |= {"token": page.site.token, "number": str(page.site.asked.asked)}
        if data.get("do") == "quit":
            continue
        options: dict[str, Any] = {"data": data}
        if rng.random() < 0.3:
            options = {"data": rng.randbytes(rng.randrange(400)), "content_type": rng.choice(kinds)}
        answer = page.ask("POST", **options)
        assert answer.status_code in (303, 400, 403, 405, 413), answer.text
        assert page.tries()[: len(known)] == known
        known = page.tries()
        if page.site.asked.asking is None:
            page.send("next")
        if not page.site.asked.waiting:
            page.site.asked.waiting += ["subnets.last", "subnets.first"]
    assert page.ask().status_code == 200


@pytest.mark.parametrize("count", many((200, 1000), (200,)))
def test_fuzzed_posts_break_nothing_and_lose_nothing(page: Page, count: int):
    check_fuzzed_posts(page, count)


def test_it_is_served_on_this_computer_alone_until_quit(tmp_path: Path):
    page = Page(tmp_path)
    study = replayed(page.log.read(), concept_of)
    url, thread = serving(lambda told: run_round_on_page(page.log, study, ("subnets.mask",), Desk().world, told=told))
    assert re.match(r"http://127\.0\.0\.1:\d+/[\w-]{32}/$", url)
    with urllib.request.urlopen(url, timeout=20) as answer:
        text = answer.read().decode()
    assert "1 of 1, Size, Mask" in text
    token = re.findall(r'name="token" value="([^"]+)"', text)[0]
    with urllib.request.urlopen(url, data=f"token={token}&do=quit&number=1".encode(), timeout=20) as answer:
        assert "can be closed" in answer.read().decode()
    thread.join(20)
    assert not thread.is_alive()
