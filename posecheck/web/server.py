"""A page served on this machine, to this machine's own browser, and to nobody else.

Only the loopback address is listened on; every address holds a random token, so that no other
user or site can guess it; and the Host header must name this server, so that a site whose name is
made to point here gets nothing (DNS rebinding).
"""

from __future__ import annotations

import hmac
import json
import secrets
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import resources
from typing import Any
from urllib.parse import parse_qs, urlsplit

from posecheck.errors import PosecheckError, UsageError
from posecheck.web.tuning import MAX_BODY_BYTES

ADDRESS = "127.0.0.1"

HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}

Query = dict[str, str]


@dataclass(frozen=True)
class Answer:
    """What goes back to the browser."""

    kind: str
    body: bytes


@dataclass(frozen=True)
class Routes:
    """What a page can ask for.

    Attributes:
        get: by path below the token, from the query to the answer.
        post: the same, from the JSON in the request to what becomes JSON.
    """

    get: dict[str, Callable[[Query], Answer]]
    post: dict[str, Callable[[Any], Any]]


def json_answer(value: Any) -> Answer:
    """A value as JSON."""
    return Answer("application/json", json.dumps(value).encode())


def file_answer(name: str) -> Answer:
    """One of the page's own files."""
    kinds = {"html": "text/html", "css": "text/css", "js": "text/javascript"}
    kind = kinds[name.rpartition(".")[2]] + "; charset=utf-8"
    place = resources.files("posecheck.web") / "templates" / name
    return Answer(kind, place.read_bytes())


class LocalServer(ThreadingHTTPServer):
    """Serves routes below a random token.

    Args:
        routes: what there is.
        port: to listen on, 0 for any that is free.

    Raises:
        UsageError: the port is taken or may not be used.
    """

    daemon_threads = True
    allow_reuse_address = sys.platform != "win32"

    def __init__(self, routes: Routes, port: int = 0) -> None:
        self.routes = routes
        self.token = secrets.token_urlsafe(16)
        try:
            super().__init__((ADDRESS, port), _Handler)
        except OSError as error:
            raise UsageError(
                f"port {port}: it cannot be used ({error.strerror}); name another with --port, or "
                "leave --port out."
            ) from None

    @property
    def address(self) -> str:
        """What to open in a browser."""
        return f"http://{ADDRESS}:{self.server_port}/{self.token}/"

    @property
    def hosts(self) -> tuple[str, str]:
        """What a browser that was sent here by :attr:`address` calls this server."""
        return f"{ADDRESS}:{self.server_port}", f"localhost:{self.server_port}"


class _Handler(BaseHTTPRequestHandler):
    server: LocalServer
    server_version = "posecheck"
    sys_version = ""

    def do_GET(self) -> None:
        path = self._allowed_path()
        if path is None:
            return
        route = self.server.routes.get.get(path)
        query = {key: values[0] for key, values in parse_qs(urlsplit(self.path).query).items()}
        self._answer(None if route is None else lambda: route(query))

    def do_POST(self) -> None:
        path = self._allowed_path()
        if path is None:
            return
        origin = self.headers.get("Origin")
        if origin is not None and origin not in {f"http://{host}" for host in self.server.hosts}:
            self._refuse(HTTPStatus.FORBIDDEN)
            return
        length = self.headers.get("Content-Length", "")
        if self.headers.get_content_type() != "application/json" or not length.isdecimal():
            self._refuse(HTTPStatus.BAD_REQUEST)
            return
        if int(length) > MAX_BODY_BYTES:
            self._refuse(HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
            return
        try:
            given = json.loads(self.rfile.read(int(length)))
        except ValueError:
            self._refuse(HTTPStatus.BAD_REQUEST)
            return
        route = self.server.routes.post.get(path)
        self._answer(None if route is None else lambda: json_answer(route(given)))

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing: addresses hold the token."""

    def _allowed_path(self) -> str | None:
        """The path below the token, None when this request has been refused."""
        token, _, path = urlsplit(self.path).path.lstrip("/").partition("/")
        right_host = self.headers.get("Host") in self.server.hosts
        if right_host and hmac.compare_digest(token.encode(), self.server.token.encode()):
            return path
        self._refuse(HTTPStatus.FORBIDDEN)
        return None

    def _answer(self, make: Callable[[], Answer] | None) -> None:
        if make is None:
            self._refuse(HTTPStatus.NOT_FOUND)
            return
        try:
            answer, status = make(), HTTPStatus.OK
        except PosecheckError as error:
            answer, status = json_answer({"error": str(error)}), HTTPStatus.UNPROCESSABLE_ENTITY
        except (KeyError, TypeError, ValueError):
            traceback.print_exc()
            answer = json_answer({"error": "The page asked for something unknown; reload it."})
            status = HTTPStatus.BAD_REQUEST
        self._send(status, answer)

    def _refuse(self, status: HTTPStatus) -> None:
        self.close_connection = True
        self._send(status, Answer("text/plain; charset=utf-8", status.phrase.encode()))

    def _send(self, status: HTTPStatus, answer: Answer) -> None:
        try:
            self.send_response(status)
            for name, value in HEADERS.items():
                self.send_header(name, value)
            self.send_header("Content-Type", answer.kind)
            self.send_header("Content-Length", str(len(answer.body)))
            self.end_headers()
            self.wfile.write(answer.body)
        except ConnectionError:
            self.close_connection = True  # the browser has moved on
