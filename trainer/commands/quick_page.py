"""`trainer quick --page`: the same short questions in a browser, for small screens and screen readers.

werkzeug reads requests and serves them: kept since 2007 by a team, one small dependency that jinja2 brings anyway, and its
parser has limits of its own; the standard library has none for forms since cgi went. The page is on 127.0.0.1 alone. Its
path begins with a token that nobody can guess, and each form holds it as well; another Host, another Origin, another
method and anything large is refused. No script runs, and nothing outside is asked for.
"""

import secrets
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from werkzeug.exceptions import HTTPException
from werkzeug.serving import WSGIRequestHandler, make_server
from werkzeug.wrappers import Request, Response

from trainer.commands.quick import comes_back, new_round
from trainer.commands.study_world import StudyWorld
from trainer.commands.terminal import say
from trainer.errors import TrainerError
from trainer.pages.quick_page import QuickView, quick_html, quick_style
from trainer.study.asks import concept_of
from trainer.study.events import Event, Session
from trainer.study.replay import Study, replayed
from trainer.study.round import Round
from trainer.study_files import StudyLog

__all__ = ["QuickApp", "serve"]

LARGEST_FORM = 4096
"""Bytes of what a page may send; a form has some 100."""
LONGEST_ANSWER = 200
_WORDS = ("hint", "why", "steps", "answer", "skip")
_POLICY = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
}

StartResponse = Callable[..., Any]


class _Limited(Request):
    max_content_length = LARGEST_FORM
    max_form_memory_size = LARGEST_FORM
    max_form_parts = 10


@dataclass
class QuickApp:
    """A round of questions as a web application (PEP 3333). Requests are answered one at a time."""

    log: StudyLog
    asked: Round
    world: StudyWorld
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    port: int = 0
    """Set when the server is there; a request for another host or port is refused."""
    ended: threading.Event = field(default_factory=threading.Event)
    _view: QuickView = field(init=False)
    _noted: int = 0
    """How many questions of the round are in the log."""
    _turn: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        """The first question stands there at once."""
        self.log.add([Session(session=self.asked.session, what="quick")], self.world.moment)
        self._view = self._next()

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/{self.token}/"

    def __call__(self, environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
        """Answers a request, whatever it is."""
        with self._turn:
            try:
                response = self._answered(_Limited(environ))
            except HTTPException as error:
                response = _refused(error.code or 400)
        response.headers.update(_HEADERS)
        return response(environ, start_response)

    def _answered(self, request: Request) -> Response:
        hosts = (f"127.0.0.1:{self.port}", f"localhost:{self.port}")
        if request.headers.get("Host") not in hosts:
            return _refused(400)
        path = request.path
        if not any(secrets.compare_digest(path.encode(), f"/{self.token}/{end}".encode()) for end in ("", "style.css")):
            return _refused(404)
        if path.endswith("style.css"):
            return Response(quick_style(), mimetype="text/css") if request.method == "GET" else _refused(405)
        if request.method == "GET":
            return Response(quick_html(self._view), mimetype="text/html")
        if request.method != "POST":
            return _refused(405)
        origin = request.headers.get("Origin", "null")
        if origin not in ("null", *(f"http://{each}" for each in hosts)):
            return _refused(403)
        form = request.form
        if not secrets.compare_digest(form.get("token", "").encode(), self.token.encode()):
            return _refused(403)
        self._take(form.get("do", "check"), form.get("answer", "")[:LONGEST_ANSWER], form.get("number", ""))
        if self.ended.is_set():
            return Response(quick_html(self._view), mimetype="text/html")
        return Response("", status=303, headers={"Location": self.url if request.host == hosts[0] else "./"})

    def _take(self, do: str, typed: str, number: str) -> None:
        """Does what a form asks for; a form of a question that is done does nothing."""
        if do == "quit":
            self._quit()
        elif number != str(self._view.number):
            self._view = replace(self._view, said=("That question is done; this is the one that waits.",))
        elif self.asked.asking is None:
            if do == "next" and self._view.state == "between":
                self._view = self._next()
        else:
            self._obey(do if do in _WORDS else typed, typed)

    def _obey(self, line: str, typed: str) -> None:
        said = (*self.asked.obey(line), *self._note())
        if self.asked.asking is not None:
            self._view = replace(self._view, said=said, typed=typed)
        elif self.asked.waiting:
            self._view = replace(self._view, state="between", said=said, typed="")
        else:
            self._view = replace(self._view, state="done", said=(*said, *self._end()), typed="")

    def _note(self, *more: Event) -> tuple[str, ...]:
        """Writes down what is done and not noted yet; says what is wrong where that cannot be done, and tries again next time."""
        new = self.asked.done[self._noted :]
        if not new and not more:
            return ()
        try:
            self.log.add([*new, *more], self.world.moment)
        except TrainerError as error:
            return (str(error),)
        self._noted += len(new)
        return ()

    def _next(self) -> QuickView:
        lines = self.asked.ask_next()
        if not lines:
            return QuickView(state="done", head="Done", said=self._end(), number=self.asked.asked, token=self.token)
        head, *prompt = lines
        return QuickView(state="asking", head=head, prompt=tuple(prompt), number=self.asked.asked, token=self.token)

    def _end(self) -> tuple[str, ...]:
        try:
            study = replayed(self.log.read(), concept_of)
        except TrainerError as error:
            return (*self.asked.summary(), str(error))
        asks = [each.ask for each in self.asked.done]
        return (*self.asked.summary(), *comes_back(asks, study, self.world.moment.day))

    def _quit(self) -> None:
        self.asked.leave()
        troubles = self._note(Session(session=self.asked.session, what="quick", ends=True))
        said = (*troubles, *self._end())
        self._view = replace(self._view, state="over", head="Done", prompt=(), said=said, typed="")
        self.ended.set()


def _refused(status: int) -> Response:
    words = {403: "This form is not of this page.", 404: "There is nothing here.", 405: "That cannot be done here."}
    return Response(words.get(status, "That request is refused."), status=status, mimetype="text/plain")


class _Quiet(WSGIRequestHandler):
    """Says nothing of each request, and gives up on a connection over which nothing comes."""

    timeout = 20

    def log(self, type: str, message: str, *args: Any) -> None:  # noqa: A002  # it is called so there
        """Nothing: the token would stand in it."""


def serve(log: StudyLog, study: Study, kinds: Sequence[str], world: StudyWorld, told: Callable[[str], None]) -> None:
    """Serves a round until somebody quits there. told: gets the address of the page once it is there."""
    app = QuickApp(log=log, asked=new_round(study, kinds, world), world=world)
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Quiet)
    app.port = server.server_port
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        told(app.url)
        app.ended.wait()
    finally:
        server.shutdown()
        thread.join(timeout=5)
    say("Done.")
