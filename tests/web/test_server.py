"""The local server: who is answered, who is not, and what is said."""

from __future__ import annotations

import http.client
import json
import threading
from collections.abc import Iterator

import pytest

from posecheck.errors import UsageError
from posecheck.web.server import Answer, LocalServer, Routes
from posecheck.web.tuning import MAX_BODY_BYTES


def complain(given: object) -> object:
    raise UsageError("a.mp4: there is no such clip; reload the page.")


ROUTES = Routes(
    get={
        "": lambda query: Answer("text/plain", b"the page"),
        "say": lambda q: Answer("a/b", q["it"].encode()),
    },
    post={
        "twice": lambda given: given * 2,
        "complain": complain,
        "slip": lambda given: given["it"],
    },
)


@pytest.fixture
def server() -> Iterator[LocalServer]:
    with LocalServer(ROUTES) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield server
        server.shutdown()
        thread.join()


def ask(
    server: LocalServer, path: str, body: bytes | None = None, **headers: str
) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=10)
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    if body is not None:
        named = {"Content-Type": "application/json", **named}
    connection.request("GET" if body is None else "POST", path, body, named)
    return connection.getresponse()


def test_the_page_is_behind_a_token(server: LocalServer) -> None:
    assert ask(server, f"/{server.token}/").read() == b"the page"
    assert ask(server, f"/{server.token}/say?it=a%20b").read() == b"a b"
    for path in ("/", "//", "/wrong/", f"/{server.token[:-1]}/", f"/x/{server.token}/"):
        assert ask(server, path).status == 403, path
    assert ask(server, "/wrong/twice", b"2").status == 403
    assert ask(server, f"/{server.token}/other").status == 404
    assert len(server.token) >= 20


def test_every_start_has_a_token_of_its_own(server: LocalServer) -> None:
    with LocalServer(ROUTES) as other:
        assert other.token != server.token


def test_only_this_machine_is_listened_to(server: LocalServer) -> None:
    assert server.server_address[0] == "127.0.0.1"
    assert server.address == f"http://127.0.0.1:{server.server_port}/{server.token}/"


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "", "127.0.0.1:1"]
)
def test_a_site_whose_name_points_here_gets_nothing(server: LocalServer, host: str) -> None:
    host = host.format(port=server.server_port)
    assert ask(server, f"/{server.token}/", Host=host).status == 403
    assert ask(server, f"/{server.token}/twice", b"2", Host=host).status == 403


def test_the_other_name_of_this_machine_is_fine(server: LocalServer) -> None:
    assert ask(server, f"/{server.token}/", Host=f"localhost:{server.server_port}").status == 200


def test_another_site_s_page_cannot_send(server: LocalServer) -> None:
    path = f"/{server.token}/twice"
    own = f"http://127.0.0.1:{server.server_port}"
    assert json.load(ask(server, path, b"2", Origin=own)) == 4
    assert ask(server, path, b"2", Origin="http://evil.example").status == 403
    assert ask(server, path, b"2", Origin="null").status == 403
    # What a form of another site can send without asking first.
    assert ask(server, path, b"2", Content_Type="text/plain").status == 400


def test_what_cannot_be_used_is_refused(server: LocalServer) -> None:
    path = f"/{server.token}/twice"
    assert ask(server, path, b"{").status == 400
    assert ask(server, path, b"2", Content_Length=str(MAX_BODY_BYTES + 1)).status == 413
    assert ask(server, path, b"2", Content_Length="-1").status == 400


def test_complaints_come_as_one_sentence(
    server: LocalServer, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = ask(server, f"/{server.token}/complain", b"1")
    assert answer.status == 422
    assert json.load(answer) == {"error": "a.mp4: there is no such clip; reload the page."}
    answer = ask(server, f"/{server.token}/slip", b"{}")
    assert answer.status == 400
    assert json.load(answer) == {"error": "The page asked for something unknown; reload it."}
    assert "KeyError" in capsys.readouterr().err


def test_nothing_from_outside_may_be_loaded(server: LocalServer) -> None:
    headers = ask(server, f"/{server.token}/").headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "http" not in policy
    assert headers["Cache-Control"] == "no-store"
    assert headers["Referrer-Policy"] == "no-referrer"


def test_a_port_in_use(server: LocalServer) -> None:
    with pytest.raises(UsageError) as caught:
        LocalServer(ROUTES, server.server_port)
    assert str(caught.value) == (
        f"port {server.server_port}: it cannot be used (Address already in use); name another "
        "with --port, or leave --port out."
    )
