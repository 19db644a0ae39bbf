"""Sharing on a network: a link opens one player's file and nothing else does."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest
from browser import needs_browser
from factories import make_clip_result
from httpx import ASGITransport, AsyncClient, Cookies, Response
from playwright.sync_api import Page

from posecheck.cli.share import share
from posecheck.errors import RecordError, UsageError
from posecheck.files.names import OUTPUT_FOLDER, PAGE_FILE, RECORD_FILE
from posecheck.pages.player_page import player_file
from posecheck.practice.reading import read_practice
from posecheck.practice.roster import Player
from posecheck.store.record import Record
from posecheck.web import links as links_module
from posecheck.web.links import Links
from posecheck.web.sharing import CLOSED, Sharing, Tries, sharing_server
from posecheck.web.tuning import LINK_DAYS, LINK_TRIES, TRIES, TRIES_IN_ALL, TRIES_WITHIN_S

THEO, ELLIS = Player(14, "Theo Marsh"), Player(22, "Ellis Rowan")
WORDS = "four short plain words"
ROOT = "http://10.0.0.7:8465"
FORM = {"Origin": ROOT, "Content-Type": "application/x-www-form-urlencoded"}


class Phone:
    """A browser on the network with an address and cookies of its own, talking to the app itself.

    Args:
        sharing: that answers.
        number: last part of its address.
    """

    def __init__(self, sharing: Sharing, number: int = 1) -> None:
        self.transport = ASGITransport(sharing.app(), client=(f"10.0.0.{number}", 4000))
        self.cookies = Cookies()

    def ask(
        self,
        method: str,
        path: str,
        headers: dict[str, str] | None = None,
        data: dict[str, str] | None = None,
    ) -> Response:
        async def asked() -> Response:
            async with AsyncClient(
                transport=self.transport, base_url=ROOT, cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, headers=headers, data=data)
                self.cookies = client.cookies
                return answer

        # In a thread of its own: a browser that other tests drive keeps a loop running in this one.
        with ThreadPoolExecutor(1) as thread:
            return thread.submit(asyncio.run, asked()).result()

    def get(self, path: str, headers: dict[str, str] | None = None) -> Response:
        return self.ask("GET", path, headers)

    def post(self, path: str, data: dict[str, str], headers: dict[str, str]) -> Response:
        return self.ask("POST", path, headers, data)


@pytest.fixture(autouse=True)
def cheap_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashing that takes half a second each time would make these tests slow."""
    monkeypatch.setattr(links_module, "SCRYPT_COST", 2**10)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An output folder with two players' files, the practice's page, and a record."""
    for player in (THEO, ELLIS):
        file = player_file(tmp_path, player)
        file.parent.mkdir(exist_ok=True)
        file.write_text(
            '<!doctype html><meta charset="utf-8">'
            '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'">\n'
            f"<title>{player.name}</title><h1>{player.name}, your reps</h1>",
            "utf-8",
        )
    (tmp_path / PAGE_FILE).write_text("everybody")
    (tmp_path / RECORD_FILE).write_text("record")
    return tmp_path


@pytest.fixture
def sharing(folder: Path) -> Sharing:
    links = Links.read(folder)
    links.set_passphrase(WORDS)
    return Sharing(folder, {14: THEO, 22: ELLIS}, links, ROOT)


@pytest.fixture
def phone(sharing: Sharing) -> Phone:
    return Phone(sharing)


def path_of(link: str) -> str:
    return link.removeprefix(ROOT)


def enter(client: Phone, words: str = WORDS) -> int:
    return client.post("/", data={"passphrase": words}, headers=FORM).status_code


# -- links ---------------------------------------------------------------------------------------


def test_a_link_opens_its_own_player_s_file_and_no_other(phone: Phone, sharing: Sharing) -> None:
    theo, ellis = sharing.link(14), sharing.link(22)
    answer = phone.get(path_of(theo))
    assert answer.status_code == 200
    assert "Theo Marsh" in answer.text and "Ellis" not in answer.text
    assert "Ellis Rowan" in phone.get(path_of(ellis)).text
    # Neither half of one link with the other half of the other opens anything.
    token_a, token_b = (link.rsplit("/", 1)[1].split(".") for link in (theo, ellis))
    for mixed in ([token_a[0], *token_b[1:]], [*token_a[:-1], token_b[-1]]):
        assert phone.get(f"/own/{'.'.join(mixed)}").status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        "/practice.html", "/record.sqlite", "/sharing.json", "/players/player-22.html",
        "/own/", "/own/22", "/own/player-22.html", "/own/../players/player-22.html",
        "/own/..%2fplayers%2fplayer-22.html", "/own/%2e%2e/%2e%2e/record.sqlite", "//etc/passwd",
        "/own/..%5c..%5crecord.sqlite", "/own/\x00", "/reps/rep-001.html", "/api/rulings",
    ],
)  # fmt: skip
def test_nothing_else_is_there_with_a_link_or_without(
    phone: Phone, sharing: Sharing, path: str
) -> None:
    token = sharing.link(14).rsplit("/", 1)[1]
    for address in (path, f"{path}?token={token}", path.replace("/own/", f"/own/{token}/", 1)):
        answer = phone.get(address.replace("\x00", "%00"))
        if answer.status_code == 200:  # the player's own link, spelled otherwise
            assert "Theo Marsh" in answer.text
        assert not re.search("Ellis|everybody|record", answer.text)


def test_a_revoked_link_opens_nothing_and_a_new_one_ends_the_old(
    phone: Phone, sharing: Sharing, folder: Path
) -> None:
    first = sharing.link(14)
    second = sharing.link(14)
    assert phone.get(path_of(first)).status_code == 404
    assert phone.get(path_of(second)).status_code == 200
    sharing.links.revoke(14)
    answer = phone.get(path_of(second))
    assert (answer.status_code, answer.text) == (404, CLOSED)
    assert Links.read(folder).shared() == frozenset()


def test_a_link_runs_out(phone: Phone, sharing: Sharing, monkeypatch: pytest.MonkeyPatch) -> None:
    link = sharing.link(14)
    import itsdangerous.timed

    now = itsdangerous.timed.time.time()
    later = now + (LINK_DAYS - 1) * 86_400
    monkeypatch.setattr(itsdangerous.timed.time, "time", lambda: later)
    assert phone.get(path_of(link)).status_code == 200
    later = now + LINK_DAYS * 86_400 + 60
    assert phone.get(path_of(link)).status_code == 404


def test_links_hold_over_a_restart_and_not_for_another_key(sharing: Sharing, folder: Path) -> None:
    token = sharing.link(14).rsplit("/", 1)[1]
    again = Links.read(folder)
    assert again.opens(token) == 14
    again.key = "0" * 64
    assert again.opens(token) is None


def test_links_that_open_nothing_are_not_tried_for_long(phone: Phone, sharing: Sharing) -> None:
    good = path_of(sharing.link(14))
    for _ in range(LINK_TRIES):
        assert phone.get("/own/guess").status_code == 404
    assert phone.get("/own/guess").status_code == 429
    other = Phone(sharing, 9)
    assert other.get(good).status_code == 200  # nobody else is shut out


# -- the coach -------------------------------------------------------------------------------------


def test_the_coach_s_page_wants_the_passphrase(phone: Phone, sharing: Sharing) -> None:
    shut = phone.get("/")
    assert "Passphrase" in shut.text and "Marsh" not in shut.text
    assert enter(phone, "four short plain word") == 403
    assert (
        phone.post("/links", data={"player": "14", "do": "renew"}, headers=FORM).status_code == 403
    )
    assert sharing.links.shared() == frozenset()
    answer = phone.post("/", data={"passphrase": WORDS}, headers=FORM)
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie
    assert "Theo Marsh (14)" in phone.get("/").text


def test_the_coach_makes_and_revokes_a_link(phone: Phone, sharing: Sharing) -> None:
    enter(phone)
    phone.post("/links", data={"player": "14", "do": "renew"}, headers=FORM)
    (link,) = re.findall(rf'href="({ROOT}/own/[^"]+)"', phone.get("/").text)
    stranger = Phone(sharing, 2)
    assert "Theo Marsh" in stranger.get(path_of(link)).text
    phone.post("/links", data={"player": "14", "do": "revoke"}, headers=FORM)
    assert stranger.get(path_of(link)).status_code == 404
    for nonsense in ({"player": "99", "do": "renew"}, {"player": "x"}, {}):
        assert phone.post("/links", data=nonsense, headers=FORM).status_code == 303
    assert sharing.links.shared() == frozenset()


def test_a_session_ends(folder: Path, sharing: Sharing) -> None:
    now = 0.0
    timed = Sharing(folder, sharing.players, sharing.links, ROOT, clock=lambda: now)
    client = Phone(timed)
    enter(client)
    assert "Theo Marsh" in client.get("/").text
    now = 5 * 3600.0
    assert "Theo Marsh" not in client.get("/").text


def test_passphrases_are_not_tried_for_long(sharing: Sharing) -> None:
    now = 0.0
    sharing.passphrases = Tries(TRIES, TRIES_IN_ALL, clock=lambda: now)

    def client(number: int) -> Phone:
        return Phone(sharing, number)

    first = client(1)
    assert [enter(first, "wrong wrong wrong") for _ in range(TRIES)] == [403] * TRIES
    assert enter(first, WORDS) == 429  # not even the right one
    assert enter(client(2), WORDS) == 303
    for number in range(3, 3 + (TRIES_IN_ALL - TRIES) // TRIES):
        for _ in range(TRIES):
            enter(client(number), "wrong wrong wrong")
    assert enter(client(99), WORDS) == 429  # all addresses together
    now = TRIES_WITHIN_S + 1.0
    assert enter(client(99), WORDS) == 303


def test_the_passphrase_is_kept_salted_and_hashed(sharing: Sharing, folder: Path) -> None:
    file = folder / "sharing.json"
    text = file.read_text()
    assert WORDS not in text and not any(word in text for word in WORDS.split())
    assert file.stat().st_mode & 0o077 == 0
    one = json.loads(text)["passphrase"]
    sharing.links.set_passphrase(WORDS)
    other = json.loads(file.read_text())["passphrase"]
    assert one["salt"] != other["salt"] and one["hashed"] != other["hashed"]
    with pytest.raises(UsageError, match="take 12 or more"):
        sharing.links.set_passphrase("short")


def test_a_damaged_file_is_said_and_opens_nothing(sharing: Sharing, folder: Path) -> None:
    (folder / "sharing.json").write_text('{"key": "a"')
    with pytest.raises(RecordError, match="delete it, which revokes every link"):
        Links.read(folder)


# -- who is answered -------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["evil.example", "10.0.0.7", "localhost:8465", ""])
def test_another_host_gets_nothing(phone: Phone, sharing: Sharing, host: str) -> None:
    link = path_of(sharing.link(14))
    for path in ("/", link):
        answer = phone.get(path, headers={"Host": host})
        assert answer.status_code == 403 and "Marsh" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ROOT, "Sec-Fetch-Site": "cross-site"},
        {},
    ],
)
def test_another_site_s_form_changes_nothing(
    phone: Phone, sharing: Sharing, headers: dict[str, str]
) -> None:
    enter(phone)
    answer = phone.post("/links", data={"player": "14", "do": "renew"}, headers=headers)
    assert answer.status_code == 403
    assert sharing.links.shared() == frozenset()


def test_a_long_form_is_refused(phone: Phone) -> None:
    assert enter(phone, "x" * 10_000) == 413


def test_every_answer_has_safe_headers(phone: Phone, sharing: Sharing) -> None:
    for path in ("/", path_of(sharing.link(14)), "/own/none", "/sharing.css", "/nothing"):
        headers = phone.get(path).headers
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Cache-Control"] == "no-store"
        assert "default-src 'none'" in headers["Content-Security-Policy"]
        assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
        assert "access-control-allow-origin" not in headers
        assert "server" not in headers


def test_without_files_there_is_nothing_to_share(tmp_path: Path) -> None:
    links = Links.read(tmp_path)
    links.set_passphrase(WORDS)
    with pytest.raises(UsageError, match="run posecheck player FOLDER --all first"):
        sharing_server(tmp_path, {14: THEO}, links, "127.0.0.1")


# -- as served -------------------------------------------------------------------------------------


@contextmanager
def served(folder: Path) -> Iterator[Sharing]:
    links = Links.read(folder)
    links.set_passphrase(WORDS)
    server, sharing = sharing_server(folder, {14: THEO, 22: ELLIS}, links, "127.0.0.1")
    with server:
        thread = threading.Thread(target=server.serve)
        thread.start()
        try:
            yield sharing
        finally:
            server.stop()
            thread.join(timeout=20)
        assert not thread.is_alive()


@needs_browser
@pytest.mark.parametrize("open_page", [390], indirect=True)
def test_in_a_browser_the_coach_makes_a_link_that_opens_one_file(
    folder: Path, open_page: Callable[..., Page]
) -> None:
    with served(folder) as sharing:
        page = open_page(f"{sharing.root}/")
        page.get_by_label("Passphrase").fill(WORDS)
        page.get_by_role("button", name="Open").click()
        rows = page.get_by_role("listitem")
        rows.filter(has_text="Theo Marsh").get_by_role("button", name="New link").click()
        page.get_by_role("link").wait_for()
        page.wait_for_load_state()  # the style too
        assert page.evaluate("document.documentElement.scrollWidth") == 390
        for button in page.get_by_role("button").all():
            box = button.bounding_box()
            assert box is not None and box["height"] >= 44
        link = page.get_by_role("link").get_attribute("href")
        assert link is not None

        player = page.context.browser.new_page()  # another phone: no cookie
        player.goto(link)
        assert player.get_by_role("heading").inner_text() == "Theo Marsh, your reps"
        player.goto(f"{sharing.root}/")
        assert "Ellis" not in player.content() and "Passphrase" in player.content()
        for path in ("/players/player-22.html", "/own/22", "/practice.html"):
            answer = player.goto(sharing.root + path)
            assert answer is not None and answer.status == 404
            assert "Ellis" not in player.content()
        player.close()

        rows.filter(has_text="Theo Marsh").get_by_role("button", name="Revoke").click()
        page.get_by_role("link").wait_for(state="detached")
        assert "Has no link." in rows.filter(has_text="Theo Marsh").inner_text()


def test_off_unless_asked_for_and_then_on_one_address_only(folder: Path) -> None:
    with served(folder) as sharing:
        host, port = sharing.root.removeprefix("http://").split(":")
        assert host == "127.0.0.1"
        with socket.socket() as other, pytest.raises(OSError):
            other.settimeout(2)
            other.connect(("127.0.0.2", int(port)))


def test_the_command_prints_a_link_for_each_player_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "practice.toml").write_text(
        'name = "Tuesday"\n[[players]]\nnumber = 14\nname = "Theo Marsh"\n'
        '[[players]]\nnumber = 22\nname = "Ellis Rowan"\n'
    )
    practice = read_practice(tmp_path)
    out = tmp_path / OUTPUT_FOLDER
    with Record(out / RECORD_FILE, make=True) as record:
        record.save(practice, make_clip_result(practice.folder / "a.mp4"))
    file = player_file(out, THEO)
    file.parent.mkdir()
    file.write_text("his")
    monkeypatch.setattr("posecheck.web.app.Server.serve", lambda self: None)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    asked = []

    def ask() -> str:
        asked.append(1)
        return WORDS

    share(tmp_path, free, "127.0.0.1", False, ask)
    first = capsys.readouterr().out
    assert "what is sent is not encrypted" in first
    assert re.search(
        rf"Theo Marsh \(14\), for {LINK_DAYS} days: http://127.0.0.1:{free}/own/\S+", first
    )
    assert "Ellis" not in first  # he has no file
    share(tmp_path, free, "127.0.0.1", False, ask)
    assert "Theo Marsh (14): has a link already" in capsys.readouterr().out
    assert len(asked) == 1
