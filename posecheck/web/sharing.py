"""Players' files on the pitch's network: each by his own link, nothing else without the passphrase.

What is served is exactly this: a player's own file, to whoever has his link; and, to whoever knows
the passphrase, one page on which the coach makes and revokes links. The practice's page, clips and
record are not served here at all: over a plain network they would go through the air unblurred.

Addresses never come from a request: a link gives a number, and the number the file.
"""

from __future__ import annotations

import asyncio
import secrets
import socket
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import jinja2
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from posecheck.errors import UsageError
from posecheck.pages.player_page import player_file
from posecheck.practice.roster import Player
from posecheck.web.app import HEADERS, Server, own_file, refuse
from posecheck.web.links import Links
from posecheck.web.results import carried_policy
from posecheck.web.tuning import (
    LINK_DAYS,
    LINK_TRIES,
    MAX_FORM_BYTES,
    SESSION_S,
    TRIES,
    TRIES_IN_ALL,
    TRIES_WITHIN_S,
)

COOKIE = "posecheck"

CLOSED = "This link opens nothing. It may have run out: ask your coach for a new one."
NOT_HERE = "There is nothing at this address."
TOO_OFTEN = "Too many tries. Wait ten minutes."
NOT_OURS = "This was not sent by a page of this server."

_COACH_POLICY = (
    "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)


@dataclass
class Tries:
    """Wrong tries of late, by who made them; nobody gets to try for long.

    Attributes:
        each: so many one address may make.
        in_all: so many all together may make, None for any number.
        clock: seconds.
    """

    each: int
    in_all: int | None = None
    clock: Callable[[], float] = time.monotonic
    _at: dict[str, list[float]] = field(default_factory=dict)

    def too_often(self, who: str) -> bool:
        """True when somebody, or all together, were wrong too often of late."""
        self._forget()
        everybody = sum(len(times) for times in self._at.values())
        closed = self.in_all is not None and everybody >= self.in_all
        return closed or len(self._at.get(who, ())) >= self.each

    def wrong(self, who: str) -> None:
        """Count a wrong try."""
        self._at.setdefault(who, []).append(self.clock())

    def _forget(self) -> None:
        since = self.clock() - TRIES_WITHIN_S
        kept = {who: [at for at in times if at > since] for who, times in self._at.items()}
        self._at = {who: times for who, times in kept.items() if times}


class Door:
    """Lets in requests that name this server and, if they change something, come from its pages.

    Args:
        app: behind it.
        host: by which this server is called, with its port.
    """

    def __init__(self, app: ASGIApp, host: str) -> None:
        self.app = app
        self.host = host

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request; anything but HTTP gets no answer."""
        if scope["type"] != "http":
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in {**HEADERS, "X-Robots-Tag": "noindex"}.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope)
        if refused is None:
            await self.app(scope, receive, send_safely)
        else:
            answer = PlainTextResponse(*refused, {"Connection": "close"})
            await refuse(answer, scope, receive, send_safely)

    def _refused(self, scope: Scope) -> tuple[str, int] | None:
        headers = Headers(scope=scope)
        if headers.getlist("host") != [self.host]:
            return NOT_HERE, HTTPStatus.FORBIDDEN
        if scope["method"] in {"GET", "HEAD"}:
            return None
        if headers.getlist("origin") != [f"http://{self.host}"]:
            return NOT_OURS, HTTPStatus.FORBIDDEN
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return NOT_OURS, HTTPStatus.FORBIDDEN
        length = headers.get("content-length", "")
        if not (length.isascii() and length.isdecimal() and int(length) <= MAX_FORM_BYTES):
            return NOT_OURS, HTTPStatus.REQUEST_ENTITY_TOO_LARGE
        return None


@dataclass
class Sharing:
    """The routes, and what they remember while the server runs.

    Attributes:
        folder: the output folder.
        players: by number, those who have a file.
        links: and the passphrase.
        root: address of the server, without a slash at its end.
        passphrases, tokens: wrong ones of late. Links are counted for each address alone: nobody
            can shut out the players by guessing.
        clock: seconds.
    """

    folder: Path
    players: Mapping[int, Player]
    links: Links
    root: str
    passphrases: Tries = field(default_factory=lambda: Tries(TRIES, TRIES_IN_ALL))
    tokens: Tries = field(default_factory=lambda: Tries(LINK_TRIES))
    clock: Callable[[], float] = time.monotonic
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock)
    _sessions: dict[str, float] = field(default_factory=dict)
    _made: dict[int, str] = field(default_factory=dict)

    def app(self) -> ASGIApp:
        """Everything there is, behind its door."""
        routes = [
            Route("/", self._coach, methods=["GET"]),
            Route("/", self._enter, methods=["POST"]),
            Route("/links", self._change, methods=["POST"]),
            Route("/sharing.css", lambda request: own_file("sharing.css"), methods=["GET"]),
            Route("/own/{token}", self._own, methods=["GET"]),
        ]
        app = Starlette(routes=routes, exception_handlers={404: _nothing, 405: _nothing})
        return Door(app, self.root.removeprefix("http://"))

    # -- a player ----------------------------------------------------------------------------------

    def _own(self, request: Request) -> Response:
        who = _who(request)
        if self.tokens.too_often(who):
            return PlainTextResponse(TOO_OFTEN, HTTPStatus.TOO_MANY_REQUESTS)
        player = self.players.get(self._opened(request.path_params["token"], who))
        path = None if player is None else player_file(self.folder, player)
        if path is None or not path.is_file():
            return PlainTextResponse(CLOSED, HTTPStatus.NOT_FOUND)
        text = path.read_text("utf-8")
        policy = f"{carried_policy(text) or HEADERS['Content-Security-Policy']}; "
        return HTMLResponse(
            text, headers={"Content-Security-Policy": f"{policy}frame-ancestors 'none'"}
        )

    def _opened(self, token: str, who: str) -> int:
        number = self.links.opens(token)
        if number is None:
            self.tokens.wrong(who)
        return -1 if number is None else number

    # -- the coach ---------------------------------------------------------------------------------

    def _coach(self, request: Request) -> Response:
        if not self._known(request):
            return self._page("")
        shared = self.links.shared()
        rows = [
            {
                "player": player,
                "shared": number in shared,
                "link": self._made.get(number) if number in shared else None,
            }
            for number, player in sorted(self.players.items())
        ]
        return self._page("", rows)

    async def _enter(self, request: Request) -> Response:
        who = _who(request)
        # One hash at a time: each takes its memory, and many tries at once are still many tries.
        async with self._one_at_a_time:
            if self.passphrases.too_often(who):
                return self._page(TOO_OFTEN, status=HTTPStatus.TOO_MANY_REQUESTS)
            words = (await _form(request)).get("passphrase", "")
            passphrase = self.links.passphrase
            if passphrase is None or not await run_in_threadpool(passphrase.fits, words):
                self.passphrases.wrong(who)
                return self._page("That is not the passphrase.", status=HTTPStatus.FORBIDDEN)
        session = secrets.token_urlsafe(32)
        self._sessions[session] = self.clock() + SESSION_S
        answer = RedirectResponse("/", HTTPStatus.SEE_OTHER)
        answer.set_cookie(COOKIE, session, max_age=SESSION_S, httponly=True, samesite="strict")
        return answer

    async def _change(self, request: Request) -> Response:
        if not self._known(request):
            return self._page("", status=HTTPStatus.FORBIDDEN)
        form = await _form(request)
        number = int(form["player"]) if form.get("player", "").isdecimal() else -1
        if number in self.players and form.get("do") == "renew":
            self._made[number] = self.link(number)
        elif number in self.players and form.get("do") == "revoke":
            self.links.revoke(number)
            self._made.pop(number, None)
        return RedirectResponse("/", HTTPStatus.SEE_OTHER)

    def link(self, number: int) -> str:
        """A new link to a player's file, in place of his earlier one."""
        return f"{self.root}/own/{self.links.renew(number)}"

    def _known(self, request: Request) -> bool:
        until = self._sessions.get(request.cookies.get(COOKIE, ""), 0.0)
        return self.clock() < until

    def _page(
        self,
        fault: str,
        rows: list[dict[str, Any]] | None = None,
        status: HTTPStatus = HTTPStatus.OK,
    ) -> Response:
        environment = jinja2.Environment(
            loader=jinja2.PackageLoader("posecheck.web"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
        )
        page = environment.get_template("sharing.html").render(
            fault=fault, rows=rows, days=LINK_DAYS
        )
        # Without a referrer a browser would not say where a form comes from either.
        headers = {"Content-Security-Policy": _COACH_POLICY, "Referrer-Policy": "same-origin"}
        return HTMLResponse(page, status, headers)


def sharing_server(
    folder: Path, players: Mapping[int, Player], links: Links, address: str, port: int = 0
) -> tuple[Server, Sharing]:
    """Put the server together.

    Args:
        folder: the output folder.
        players: by number, those who may have a link; who has no file is left out.
        links: with a passphrase set.
        address: of this machine on the network.
        port: to listen on, 0 for any that is free.

    Raises:
        UsageError: no player has a file, no passphrase is set, or the port cannot be used.
    """
    there = {n: player for n, player in players.items() if player_file(folder, player).is_file()}
    if not there:
        raise UsageError(
            f"{folder}: there are no players' files to share; run posecheck player FOLDER --all "
            "first."
        )
    if links.passphrase is None:
        raise UsageError("Set a passphrase first.")
    made: list[Sharing] = []

    def make(heard: int) -> ASGIApp:
        made.append(Sharing(folder, there, links, f"http://{address}:{heard}"))
        return made[0].app()

    server = Server(make, port, address)
    return server, made[0]


def own_address() -> str:
    """This machine's address on the network it is on; nothing is sent to find it.

    Raises:
        UsageError: it is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Connecting a datagram socket only looks up which way it would go (192.0.2.0/24 is
            # set aside for examples, RFC 5737).
            probe.connect(("192.0.2.1", 9))
        except OSError:
            raise UsageError(
                "This machine is on no network; join the pitch's, or name an address with "
                "--address."
            ) from None
        return str(probe.getsockname()[0])


async def _form(request: Request) -> dict[str, str]:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/x-www-form-urlencoded":
        return {}
    try:
        fields = parse_qs((await request.body()).decode(), max_num_fields=4)
    except ValueError:
        return {}
    return {name: values[0] for name, values in fields.items()}


def _who(request: Request) -> str:
    return "" if request.client is None else request.client.host


async def _nothing(request: Request, error: Exception) -> Response:
    return PlainTextResponse(NOT_HERE, HTTPStatus.NOT_FOUND)
