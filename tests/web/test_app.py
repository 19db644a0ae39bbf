"""The local server: who is answered, who is not, and what is said."""

from __future__ import annotations

import http.client
import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from typing import NoReturn

import pytest
from serving import ask, request, running
from starlette.responses import PlainTextResponse
from starlette.routing import Mount

from posecheck.errors import UsageError
from posecheck.web.app import LocalServer, own_files, reads, writes
from posecheck.web.tuning import MAX_BODY_BYTES


def complain(given: object) -> NoReturn:
    raise UsageError("a.mp4: there is no such clip; reload the page.")


def fail(given: object) -> NoReturn:
    raise OSError("the disk is on fire")


ROUTES = [
    reads("/", lambda query: PlainTextResponse("the page")),
    reads("/say", lambda query: query["it"]),
    writes("/twice", lambda given: given * 2),
    writes("/complain", complain),
    writes("/fail", fail),
    writes("/slip", lambda given: given["it"]),
    Mount("/points", routes=own_files("points.html", "points.css")),
]


@pytest.fixture(scope="module")
def server() -> Iterator[LocalServer]:
    with running(LocalServer(ROUTES)) as server:
        yield server


def test_the_page_is_behind_a_token(server: LocalServer) -> None:
    token = server.token
    assert ask(server, f"/{token}/").body == b"the page"
    assert ask(server, f"/{token}/say?it=a%20b").json() == "a b"
    for path in (
        "/",
        "//",
        "/wrong/",
        f"/{token[:-1]}/",
        f"/x/{token}/",
        f"//{token}/",
        "/caf%C3%A9/",
    ):
        assert ask(server, path).status == 403, path
    assert ask(server, "/wrong/twice", b"2").status == 403
    assert ask(server, f"/{token}/other").status == 404
    assert len(token) >= 20


def test_a_page_s_own_files(server: LocalServer) -> None:
    page = ask(server, f"/{server.token}/points/")
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    assert b"<title>Known points</title>" in page.body
    style = ask(server, f"/{server.token}/points/points.css")
    assert style.headers["Content-Type"] == "text/css; charset=utf-8"
    assert ask(server, f"/{server.token}/points/points.js").status == 404


def test_every_start_has_a_token_of_its_own(server: LocalServer) -> None:
    with LocalServer(ROUTES) as other:
        assert other.token != server.token


def test_only_this_machine_is_listened_to(server: LocalServer) -> None:
    assert server.root == f"http://127.0.0.1:{server.port}/{server.token}/"
    with socket.socket() as elsewhere, pytest.raises(OSError):
        elsewhere.settimeout(5)
        elsewhere.connect(("127.0.0.2", server.port))


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "", "127.0.0.1:1"]
)
def test_a_site_whose_name_points_here_gets_nothing(server: LocalServer, host: str) -> None:
    host = host.format(port=server.port)
    assert ask(server, f"/{server.token}/", Host=host).status == 403
    assert ask(server, f"/{server.token}/twice", b"2", Host=host).status == 403


def test_two_hosts_at_once_are_refused(server: LocalServer) -> None:
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)) as connection:
        connection.putrequest("GET", f"/{server.token}/", skip_host=True)
        connection.putheader("Host", f"127.0.0.1:{server.port}")
        connection.putheader("Host", "evil.example")
        connection.endheaders()
        assert connection.getresponse().status in {400, 403}


def test_the_other_name_of_this_machine_is_fine(server: LocalServer) -> None:
    assert ask(server, f"/{server.token}/", Host=f"localhost:{server.port}").status == 200


def test_only_a_page_of_this_server_can_send(server: LocalServer) -> None:
    path = f"/{server.token}/twice"
    assert ask(server, path, b"2").json() == 4
    assert ask(server, path, b"2", Sec_Fetch_Site="same-origin").json() == 4
    for origin in ("http://evil.example", "null", f"https://127.0.0.1:{server.port}", ""):
        assert ask(server, path, b"2", Origin=origin).status == 403, origin
    assert ask(server, path, b"2", Sec_Fetch_Site="same-site").status == 403
    without_origin = {"Content-Type": "application/json"}
    assert request(server, "POST", path, b"2", without_origin).status == 403
    # What a form of another site can send without asking first.
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        assert ask(server, path, b"2", Content_Type=kind).status == 400, kind


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_do_nothing(server: LocalServer, method: str) -> None:
    answer = request(server, method, f"/{server.token}/twice")
    assert answer.status == 403
    assert "Access-Control-Allow-Origin" not in answer.headers


def test_what_cannot_be_used_is_refused(server: LocalServer) -> None:
    path = f"/{server.token}/twice"
    assert ask(server, path, b"{").status == 400
    assert ask(server, path, b"\xff").status == 400
    assert ask(server, path, b"2", Content_Length=str(MAX_BODY_BYTES + 1)).status == 413
    # This never reaches the app: uvicorn refuses it and hangs up, so nothing is sent after it.
    headers = {
        "Content-Type": "application/json",
        "Origin": f"http://127.0.0.1:{server.port}",
        "Content-Length": "-1",
    }
    assert request(server, "POST", path, None, headers).status == 400
    assert ask(server, f"/{server.token}/twice").status == 405


def test_a_body_of_unknown_length_is_refused(server: LocalServer) -> None:
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)) as connection:
        connection.putrequest("POST", f"/{server.token}/twice")
        connection.putheader("Origin", f"http://127.0.0.1:{server.port}")
        connection.putheader("Content-Type", "application/json")
        connection.putheader("Transfer-Encoding", "chunked")
        connection.endheaders()
        # Refused before any of it has been sent.
        assert connection.getresponse().status == 400


def test_an_answer_is_not_lost_where_more_is_sent_than_is_allowed(server: LocalServer) -> None:
    head = (
        f"POST /{server.token}/twice HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        f"Origin: http://127.0.0.1:{server.port}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {2 * MAX_BODY_BYTES}\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as connection:
        connection.sendall(head.encode())
        said = connection.recv(65536)  # before any of the rest is sent
        assert said.startswith(b"HTTP/1.1 413 ")
        # A server that had hung up by now would reset the connection.
        for _ in range(20):
            connection.sendall(b"2" * (MAX_BODY_BYTES // 10))
        while more := connection.recv(65536):
            said += more
    assert b"more than is allowed" in said


def test_what_is_announced_and_never_sent_is_not_waited_for(server: LocalServer) -> None:
    answer = ask(server, f"/{server.token}/twice", b"2", Content_Length=str(MAX_BODY_BYTES + 1))
    assert answer.status == 413
    assert answer.headers["Connection"] == "close"


def test_complaints_come_as_one_sentence(
    server: LocalServer, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = ask(server, f"/{server.token}/complain", b"1")
    assert answer.status == 422
    assert answer.json() == {"error": "a.mp4: there is no such clip; reload the page."}
    answer = ask(server, f"/{server.token}/slip", b"{}")
    assert answer.status == 400
    assert answer.json() == {"error": "The page asked for something unknown; reload it."}
    assert "KeyError" in capsys.readouterr().err
    answer = ask(server, f"/{server.token}/fail", b"1")
    assert answer.status == 500
    assert answer.json() == {"error": "posecheck failed at this; see the window it runs in."}
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "the disk is on fire" in capsys.readouterr().err
    for path in ("/wrong/", f"/{server.token}/other"):
        assert ask(server, path).json() == {
            "error": "There is nothing at this address; open the one that posecheck printed last."
        }


def test_nothing_from_outside_may_be_loaded(server: LocalServer) -> None:
    for path in (f"/{server.token}/", "/wrong/", f"/{server.token}/other"):
        headers = ask(server, path).headers
        policy = headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "http" not in policy
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert "Server" not in headers


def test_nothing_is_logged(server: LocalServer, capfd: pytest.CaptureFixture[str]) -> None:
    ask(server, f"/{server.token}/")
    ask(server, f"/{server.token}/other")
    assert capfd.readouterr() == ("", "")


def test_a_port_in_use(server: LocalServer) -> None:
    with pytest.raises(UsageError) as caught:
        LocalServer(ROUTES, server.port)
    assert str(caught.value) == (
        f"port {server.port}: it cannot be used (Address already in use); name another "
        "with --port, or leave --port out."
    )


SERVE = """
from posecheck.web.app import LocalServer, reads

with LocalServer([reads("/", lambda query: "here")]) as server:
    print(server.address, flush=True)
    try:
        server.serve()
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


def test_ctrl_c_ends_it() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", SERVE], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        address = process.stdout.readline().strip()
        host, _, path = address.removeprefix("http://").partition("/")
        # A connection that is kept open does not keep the server.
        with closing(http.client.HTTPConnection(host, timeout=20)) as connection:
            connection.request("GET", f"/{path}")
            assert json.load(connection.getresponse()) == "here"
            process.send_signal(signal.SIGINT)
            said, errors = process.communicate(timeout=20)
    assert (said, errors, process.returncode) == ("stopped\n", "", 0)
