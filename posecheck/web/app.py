"""Pages served on this machine, to this machine's own browser, and to nobody else.

A feature is a module that gives a list of Starlette routes; :class:`LocalServer` puts them together
and has uvicorn serve them. Only the loopback address is listened on; every address holds a random
token, so that no other user or site can guess it; and the Host header must name this server, so
that a site whose name is made to point here gets nothing (DNS rebinding). Nothing is logged:
addresses hold the token.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import secrets
import socket
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from http import HTTPStatus
from importlib import resources
from types import TracebackType
from typing import Any, Self

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from posecheck.errors import PosecheckError, UsageError
from posecheck.web.tuning import LINGER_S, MAX_BODY_BYTES, SHUTDOWN_S

ADDRESS = "127.0.0.1"

HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""Sent with every answer that does not set its own."""

NOT_HERE = "There is nothing at this address; open the one that posecheck printed last."
NOT_ALLOWED = "This was not sent by a page of this server; reload the page."
UNREADABLE = "The page sent something unreadable; reload it."
TOO_LONG = "The page sent more than is allowed at once."
UNKNOWN = "The page asked for something unknown; reload it."
FAILED = "posecheck failed at this; see the window it runs in."

_SENTENCES = {HTTPStatus.BAD_REQUEST: UNREADABLE, HTTPStatus.METHOD_NOT_ALLOWED: UNKNOWN}

Query = dict[str, str]


# -- what features are made of -------------------------------------------------------------------


def reads(path: str, make: Callable[[Query], Any]) -> Route:
    """A route that answers a GET.

    Args:
        path: with a leading slash.
        make: called in a thread of its own with the query; a Response goes out as it is, anything
            else as JSON. What it raises becomes a sentence, see :func:`make_app`.
    """

    def answer(request: Request) -> Response:
        made = make(dict(request.query_params))
        return made if isinstance(made, Response) else JSONResponse(made)

    return Route(path, answer, methods=["GET"])


def writes(path: str, do: Callable[[Any], Any]) -> Route:
    """A route that answers a POST: the JSON in it goes to ``do``, whose answer goes out as JSON.

    Only pages of this server can send one, see :class:`Guard`.
    """

    async def answer(request: Request) -> Response:
        try:
            given = json.loads(await request.body())
        except ValueError:
            raise HTTPException(HTTPStatus.BAD_REQUEST) from None
        return JSONResponse(await run_in_threadpool(do, given))

    return Route(path, answer, methods=["POST"])


def own_file(name: str) -> Response:
    """One of the files in ``web/templates``."""
    kinds = {"html": "text/html", "css": "text/css", "js": "text/javascript"}
    place = resources.files("posecheck.web") / "templates" / name
    return Response(place.read_bytes(), media_type=kinds[name.rpartition(".")[2]])


def own_files(*names: str) -> list[BaseRoute]:
    """A route for each of the files; the first is also what the folder's own address shows."""
    paths = {"/": names[0], **{f"/{name}": name for name in names}}
    return [reads(path, partial(_own_file, name)) for path, name in paths.items()]


def _own_file(name: str, query: Query) -> Response:
    return own_file(name)


# -- who is answered -----------------------------------------------------------------------------


class Guard:
    """Lets through what this machine's own browser asks for; everything else is refused.

    Args:
        app: to guard.
        token: first part of every address.
        hosts: by which this server is called.
    """

    def __init__(self, app: ASGIApp, token: str, hosts: Sequence[str]) -> None:
        self.app = app
        self.token = token
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request; anything but HTTP gets no answer."""
        if scope["type"] != "http":
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refuse(_sentence(*refused, close=True), scope, receive, send_safely)
            return
        scope["root_path"] = f"/{self.token}"
        await self.app(scope, receive, send_safely)

    def _refused(self, scope: Scope) -> tuple[HTTPStatus, str] | None:
        """Why a request is not answered, None when it is."""
        headers = Headers(scope=scope)
        token = scope["path"].lstrip("/").partition("/")[0]
        right_token = hmac.compare_digest(token.encode(), self.token.encode())
        # Only one slash before the token: routes are looked for behind it.
        if not right_token or not scope["path"].startswith(f"/{token}/"):
            return HTTPStatus.FORBIDDEN, NOT_HERE
        if headers.getlist("host") not in [[host] for host in self.hosts]:
            return HTTPStatus.FORBIDDEN, NOT_HERE
        if scope["method"] in {"GET", "HEAD"}:
            return None
        # A browser says where a page that sends comes from; another site's page cannot change that.
        if headers.getlist("origin") not in [[f"http://{host}"] for host in self.hosts]:
            return HTTPStatus.FORBIDDEN, NOT_ALLOWED
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return HTTPStatus.FORBIDDEN, NOT_ALLOWED
        # What a form can send is never JSON, nor can another site send that without asking first.
        kind = headers.get("content-type", "").partition(";")[0].strip().lower()
        length = headers.get("content-length", "")
        if kind != "application/json" or not (length.isascii() and length.isdecimal()):
            return HTTPStatus.BAD_REQUEST, UNREADABLE
        if int(length) > MAX_BODY_BYTES:
            return HTTPStatus.REQUEST_ENTITY_TOO_LARGE, TOO_LONG
        return None


async def refuse(answer: Response, scope: Scope, receive: Receive, send: Send) -> None:
    """Answer a request without using what it sends, and let that arrive all the same.

    A connection that is closed with something unread on it is reset, and the answer may be lost on
    its way (RFC 9112, section 9.6). So the rest is read and thrown away, for :data:`LINGER_S` at
    most, before the answer is said to be complete.
    """

    async def send_and_linger(message: Message) -> None:
        if message["type"] != "http.response.body":
            await send(message)
            return
        await send({**message, "more_body": True})
        with suppress(TimeoutError):
            async with asyncio.timeout(LINGER_S):
                while (await receive()).get("more_body", False):
                    pass
        await send({"type": "http.response.body", "body": b""})

    await answer(scope, receive, send_and_linger)


def make_app(routes: Sequence[BaseRoute], token: str, hosts: Sequence[str]) -> ASGIApp:
    """The routes behind their guard; every complaint goes out as ``{"error": sentence}``."""
    app = Starlette(
        routes=routes,
        exception_handlers={
            PosecheckError: _on_complaint,
            HTTPException: _on_refusal,
            KeyError: _on_slip,
            TypeError: _on_slip,
            ValueError: _on_slip,
            Exception: _on_failure,
        },
    )
    return Guard(app, token, hosts)


def _sentence(status: HTTPStatus, sentence: str, close: bool = False) -> Response:
    headers = {"Connection": "close"} if close else None
    return JSONResponse({"error": sentence}, status, headers)


def _on_complaint(request: Request, error: Exception) -> Response:
    return _sentence(HTTPStatus.UNPROCESSABLE_ENTITY, str(error))


def _on_refusal(request: Request, error: Exception) -> Response:
    status = HTTPStatus(error.status_code if isinstance(error, HTTPException) else 404)
    return _sentence(status, _SENTENCES.get(status, NOT_HERE))


def _on_slip(request: Request, error: Exception) -> Response:
    traceback.print_exception(error)
    return _sentence(HTTPStatus.BAD_REQUEST, UNKNOWN)


def _on_failure(request: Request, error: Exception) -> Response:
    traceback.print_exception(error)
    return _sentence(HTTPStatus.INTERNAL_SERVER_ERROR, FAILED)


# -- serving -------------------------------------------------------------------------------------


class Server:
    """Serves an app on one address of this machine.

    Args:
        make: makes the app for the port that is listened on.
        port: to listen on, 0 for any that is free.
        address: of this machine; the default is heard by this machine alone.

    Raises:
        UsageError: the port is taken or may not be used.
    """

    def __init__(
        self, make: Callable[[int], ASGIApp], port: int = 0, address: str = ADDRESS
    ) -> None:
        self._socket = _listening(port, address)
        self.port: int = self._socket.getsockname()[1]
        config = uvicorn.Config(
            make(self.port),
            loop="asyncio",
            http="h11",
            ws="none",
            lifespan="off",
            log_config=None,
            log_level="critical",
            access_log=False,
            proxy_headers=False,
            server_header=False,
            timeout_graceful_shutdown=SHUTDOWN_S,
        )
        self._server = uvicorn.Server(config)

    def serve(self) -> None:
        """Serve until :meth:`stop` is called.

        Raises:
            KeyboardInterrupt: Ctrl-C has stopped it.
        """
        self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """Let :meth:`serve`, which runs in another thread, come to its end."""
        self._server.should_exit = True

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._socket.close()


class LocalServer(Server):
    """Serves routes below a random token, on this machine only.

    Args:
        routes: what there is, with leading slashes.
        port: to listen on, 0 for any that is free.
        opens: where :attr:`address` leads, below the token and without a leading slash.

    Raises:
        UsageError: the port is taken or may not be used.
    """

    def __init__(self, routes: Sequence[BaseRoute], port: int = 0, opens: str = "") -> None:
        self.token = secrets.token_urlsafe(16)
        self.opens = opens
        super().__init__(lambda heard: make_app(routes, self.token, _hosts(heard)), port)

    @property
    def root(self) -> str:
        """The address below which everything lies."""
        return f"http://{ADDRESS}:{self.port}/{self.token}/"

    @property
    def address(self) -> str:
        """What to open in a browser."""
        return self.root + self.opens

    @property
    def hosts(self) -> tuple[str, str]:
        """What a browser that was sent here by :attr:`address` calls this server."""
        return _hosts(self.port)


def _hosts(port: int) -> tuple[str, str]:
    return f"{ADDRESS}:{port}", f"localhost:{port}"


def _listening(port: int, address: str) -> socket.socket:
    """A socket that a browser can be sent to already: what it asks waits until it is served."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen()
    except OSError as error:
        listening.close()
        raise UsageError(
            f"port {port}: it cannot be used ({error.strerror}); name another with --port, or "
            "leave --port out."
        ) from None
    return listening
