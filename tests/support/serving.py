"""A local server that runs beside a test, and requests to it by hand."""

from __future__ import annotations

import http.client
import json
import threading
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Any

from posecheck.web.app import ADDRESS, LocalServer


@contextmanager
def running(server: LocalServer) -> Iterator[LocalServer]:
    """Serve in a thread of its own until the block ends."""
    with server:
        thread = threading.Thread(target=server.serve)
        thread.start()
        try:
            yield server
        finally:
            server.stop()
            thread.join(timeout=20)
        assert not thread.is_alive()


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: http.client.HTTPMessage
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)


def ask(server: LocalServer, path: str, body: bytes | None = None, **headers: str) -> Answer:
    """What a server answers; with a body, to what its own page would send."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    if body is not None:
        own = {"Content-Type": "application/json", "Origin": f"http://{ADDRESS}:{server.port}"}
        named = {**own, **named}
    return request(server, "GET" if body is None else "POST", path, body, named)


def request(
    server: LocalServer,
    method: str,
    path: str,
    body: bytes | None = None,
    headers: Mapping[str, str] | None = None,
) -> Answer:
    """What a server answers to exactly this."""
    with closing(http.client.HTTPConnection(ADDRESS, server.port, timeout=10)) as connection:
        connection.request(method, path, body, dict(headers or {}))
        answer = connection.getresponse()
        return Answer(answer.status, answer.headers, answer.read())
