"""A page on this computer, as a web application: who is let in, and what a site is told of it.

werkzeug reads requests and serves them: kept since 2007 by a team, one small dependency that jinja2 brings anyway, and its
parser has limits of its own; the standard library has none for forms since cgi went. The page is on 127.0.0.1 alone. Its
path begins with a token that nobody can guess, and each form holds it as well; another Host, another Origin, another
method and anything large is refused. No script runs, and nothing outside is asked for.
"""

import secrets
import threading
import traceback
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from werkzeug.exceptions import HTTPException
from werkzeug.serving import WSGIRequestHandler, make_server
from werkzeug.wrappers import Request, Response

from trainer.commands.crash_log import write_log
from trainer.commands.terminal import say
from trainer.pages.local_page import local_style

__all__ = ["LocalApp", "Site", "new_token", "serve", "tell_address"]

_STYLE = "style.css"
_POLICY = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
_POLICY_OF_A_FILE = _POLICY.replace("'self'; form-action 'self'", "'unsafe-inline'; form-action 'none'")
"""Of a page that is a file, too, and so holds its own style."""
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
}

_KEPT = "private, max-age=86400"
"""The style is kept by the browser: when the last page comes, nobody may be there any more to ask for it."""

StartResponse = Callable[..., Any]


class Site(Protocol):
    """What is shown, and what is done with the forms that are sent."""

    @property
    def token(self) -> str:
        """The secret word in its path and in each of its forms."""

    @property
    def is_over(self) -> bool:
        """Whether nothing more is to come."""

    def shown(self, place: str) -> bytes | None:
        """The page at a place, "" for the first; None where there is none."""

    def file(self, place: str) -> bytes | None:
        """A page that is a file, too; None where there is none."""

    def take(self, form: Mapping[str, str]) -> str:
        """Does what a form asks for, whatever it holds; gives the place to go to. Forms without the token do not get here."""


def new_token() -> str:
    """A word that nobody can guess."""
    return secrets.token_urlsafe(24)


@dataclass
class LocalApp:
    """A site as a web application (PEP 3333). Requests are answered one at a time."""

    site: Site
    largest_form: int
    """Bytes of what a page may send."""
    most_fields: int
    port: int = 0
    """Set when the server is there; a request for another host or port is refused."""
    ended: threading.Event = field(default_factory=threading.Event)
    _turn: threading.Lock = field(default_factory=threading.Lock)

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/{self.site.token}/"

    def __call__(self, environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
        """Answers a request, whatever it is."""
        with self._turn:
            try:
                response = self._answered(self._request(environ))
            except HTTPException as error:
                response = _refused(error.code or 400)
            except Exception:  # noqa: BLE001  # the page goes on, as the command line would end
                log = write_log(traceback.format_exc())
                words = f"Something went wrong that should not have. Please send us this file: {log}"
                response = Response(words, status=500, mimetype="text/plain")
            if self.site.is_over:
                self.ended.set()
        for name, value in _HEADERS.items():
            response.headers.setdefault(name, value)
        return response(environ, start_response)

    def _request(self, environ: dict[str, Any]) -> Request:
        request = Request(environ)
        request.max_content_length = request.max_form_memory_size = self.largest_form
        request.max_form_parts = self.most_fields
        return request

    def _answered(self, request: Request) -> Response:
        hosts = (f"127.0.0.1:{self.port}", f"localhost:{self.port}")
        if request.headers.get("Host") not in hosts:
            return _refused(400)
        token = self.site.token
        before, place = f"/{token}/", request.path[len(token) + 2 :]
        if not secrets.compare_digest(request.path[: len(before)].encode(), before.encode()):
            return _refused(404)
        if request.method == "GET":
            return self._shown(place)
        if request.method != "POST" or place:
            return _refused(405)
        origin = request.headers.get("Origin", "null")
        if origin not in ("null", *(f"http://{each}" for each in hosts)):
            return _refused(403)
        form = request.form
        if not secrets.compare_digest(form.get("token", "").encode(), token.encode()):
            return _refused(403)
        place = self.site.take(form.to_dict())
        if self.site.is_over:
            return self._shown(place)
        return Response("", status=303, headers={"Location": f"http://{request.headers['Host']}{before}{place}"})

    def _shown(self, place: str) -> Response:
        if place == _STYLE:
            return Response(local_style(), mimetype="text/css", headers={"Cache-Control": _KEPT})
        page = self.site.shown(place)
        if page is not None:
            return Response(page, mimetype="text/html")
        page = self.site.file(place)
        if page is None:
            return _refused(404)
        return Response(page, mimetype="text/html", headers={"Content-Security-Policy": _POLICY_OF_A_FILE})


def _refused(status: int) -> Response:
    words = {403: "This form is not of this page.", 404: "There is nothing here.", 405: "That cannot be done here."}
    return Response(words.get(status, "That request is refused."), status=status, mimetype="text/plain")


class _Quiet(WSGIRequestHandler):
    """Says nothing of each request, and gives up on a connection over which nothing comes."""

    timeout = 20

    def log(self, type: str, message: str, *args: Any) -> None:  # noqa: A002  # it is called so there
        """Nothing: the token would stand in it."""


def serve(app: LocalApp, told: Callable[[str], None]) -> None:
    """Serves a site until somebody quits there. told: gets the address of the page once it is there."""
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


def tell_address(url: str) -> None:
    """Says where the page is."""
    say(f"Open this in a browser on this computer: {url}", "It ends with Quit there, or with Ctrl-C here.")
