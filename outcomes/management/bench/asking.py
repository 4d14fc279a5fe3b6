"""A signed-in person's requests: straight into the application, or over HTTP on loopback."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from io import BytesIO
from threading import Thread
from typing import Any, Final
from urllib.parse import urlencode
from wsgiref.util import setup_testing_defaults

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.handlers.wsgi import WSGIHandler
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.utils.crypto import get_random_string

from clinic import clock
from clinic.models.places import StaffMember

FORM: Final = "application/x-www-form-urlencoded"
LOOPBACK: Final = "127.0.0.1"
Fields = Mapping[str, str | Sequence[str]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ask:
    """One request, ready to be sent: a form when there is a body."""

    path: str
    headers: Mapping[str, str]
    body: bytes | None = None


def posted(path: str, fields: Fields) -> Ask:
    """Send a form as nobody: without a cookie."""
    body = urlencode(fields, doseq=True).encode()
    return Ask(path=path, headers={"Cookie": "", "Content-Type": FORM}, body=body)


class Person:
    """Somebody who signed in just now: what their browser sends."""

    def __init__(self, staff: StaffMember) -> None:
        session = SessionStore()
        session[SESSION_KEY] = str(staff.pk)
        session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[-1]
        session[HASH_SESSION_KEY] = staff.get_session_auth_hash()
        session["signed_in_at"] = session["last_activity"] = clock.now().timestamp()
        session.save()
        self.session = session.session_key or ""
        self.token = get_random_string(32)
        cookies = {
            settings.SESSION_COOKIE_NAME: self.session,
            settings.CSRF_COOKIE_NAME: self.token,
        }
        self.cookie = "; ".join(f"{name}={value}" for name, value in cookies.items())

    def get(self, path: str) -> Ask:
        """Load a page."""
        return Ask(path=path, headers={"Cookie": self.cookie})

    def post(self, path: str, fields: Fields) -> Ask:
        """Send a form."""
        data = {**fields, "csrfmiddlewaretoken": self.token}
        body = urlencode(data, doseq=True).encode()
        return Ask(path=path, headers={"Cookie": self.cookie, "Content-Type": FORM}, body=body)


class Straight:
    """The application called in this thread, as a server's worker calls it."""

    def __init__(self) -> None:
        self.application = WSGIHandler()

    def send(self, ask: Ask, *, status: int = 200) -> bytes:
        """The answer's body, read whole. Raises ``RuntimeError`` for another status."""
        said: list[str] = []

        def start(line: str, headers: Any, trace: Any = None, /) -> Callable[[bytes], object]:
            said.append(line)
            return BytesIO().write

        with closing(self.application(self._environ(ask), start)) as response:
            body = b"".join(response)
        return _checked(ask, int(said[0][:3]), status, body)

    @staticmethod
    def _environ(ask: Ask) -> dict[str, Any]:
        environ: dict[str, Any] = {
            "REQUEST_METHOD": "GET" if ask.body is None else "POST",
            "PATH_INFO": ask.path,
            "HTTP_HOST": LOOPBACK,
            "HTTP_COOKIE": ask.headers["Cookie"],
            "CONTENT_TYPE": ask.headers.get("Content-Type", ""),
            "CONTENT_LENGTH": str(len(ask.body or b"")),
            "wsgi.input": BytesIO(ask.body or b""),
        }
        setup_testing_defaults(environ)
        return environ


class OverHttp:
    """The application behind a threaded server, through one connection that is kept open."""

    def __init__(self, port: int) -> None:
        self.connection = HTTPConnection(LOOPBACK, port, timeout=60)

    def send(self, ask: Ask, *, status: int = 200) -> bytes:
        """The answer's body, read whole. Raises ``RuntimeError`` for another status."""
        method = "GET" if ask.body is None else "POST"
        self.connection.request(method, ask.path, body=ask.body, headers=dict(ask.headers))
        response = self.connection.getresponse()
        return _checked(ask, response.status, status, response.read())


def _checked(ask: Ask, found: int, wanted: int, body: bytes) -> bytes:
    if found != wanted:
        raise RuntimeError(f"{ask.path} answered {found}, not {wanted}")
    return body


class _Quiet(WSGIRequestHandler):
    """No line for each request, and no wait for a fuller packet."""

    disable_nagle_algorithm = True

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""


@contextmanager
def served() -> Iterator[Callable[[], OverHttp]]:
    """A threaded server on a free port of loopback; answers with a way to connect."""
    server = ThreadedWSGIServer((LOOPBACK, 0), _Quiet)
    server.set_app(WSGIHandler())
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield lambda: OverHttp(server.server_port)
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
