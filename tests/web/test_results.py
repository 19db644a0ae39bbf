"""An output folder, served: what goes out, what does not, and what a page is given."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser import needs_browser
from playwright.sync_api import Page, expect
from serving import ask, running
from typer.testing import CliRunner

from posecheck.cli.commands import app
from posecheck.errors import UsageError
from posecheck.store.record import Record
from posecheck.web.app import LocalServer
from posecheck.web.results import served_page
from posecheck.web.site import RESULTS, site

SCRIPT = """addEventListener("DOMContentLoaded", async () => {
  const api = document.querySelector("meta[name=posecheck-api]").content;
  const answer = await fetch(`${api}../reps/rep-001.html`);
  document.querySelector("p").textContent = `${answer.status}`;
});"""


def page_with(script: str) -> str:
    """A page of the kind that is written: it may load nothing but its own script."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; \
script-src 'sha256-{digest}'; base-uri 'none'">
<title>Tuesday</title>
<link rel="icon" href="data:,">
<p>none</p>
<script>{script}</script>
"""


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    """A practice that has been checked, as far as its files go."""
    folder = tmp_path / "practice"
    checked = folder / "checked"
    for name in ("clips", "reps", "keypoints"):
        (checked / name).mkdir(parents=True)
    Record(checked / "record.sqlite", make=True).close()
    (checked / "practice.html").write_text(page_with(SCRIPT), "utf-8")
    (checked / "reps" / "rep-001.html").write_text('<meta charset="utf-8">one', "utf-8")
    (checked / "clips" / "a b.mp4").write_bytes(bytes(range(256)))
    (checked / "clips" / ".hidden.jpg").write_bytes(b"part")
    (checked / "keypoints" / "a.parquet").write_bytes(b"landmarks")
    (checked / "posecheck.log").write_text("what happened")
    (folder / "secret.html").write_text("not for you")
    (checked / "link.html").symlink_to(folder / "secret.html")
    (checked / "out").symlink_to(folder)
    return folder


@pytest.fixture
def server(practice: Path) -> Iterator[LocalServer]:
    with running(site(practice, RESULTS)) as server:
        yield server


def test_the_page_knows_where_to_save(server: LocalServer) -> None:
    assert server.address == f"{server.root}practice.html"
    answer = ask(server, f"/{server.token}/practice.html")
    assert answer.headers["Content-Type"] == "text/html; charset=utf-8"
    text = answer.body.decode()
    assert f'<meta name="posecheck-api" content="/{server.token}/api/">' in text
    rep = ask(server, f"/{server.token}/reps/rep-001.html").body.decode()
    assert (
        rep == f'<meta charset="utf-8"><meta name="posecheck-api" content="/{server.token}/api/">\n'
        '<link rel="icon" href="data:,">\none'
    )
    policy = answer.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; img-src data:; ")
    assert policy.endswith("; base-uri 'none'; connect-src 'self'; frame-ancestors 'none'")
    assert "http-equiv" not in text
    front = ask(server, f"/{server.token}/")
    assert (front.status, front.headers["Location"]) == (307, "practice.html")


def test_a_page_without_a_policy_gets_none_of_its_own() -> None:
    assert served_page('<meta charset="utf-8">\n<p>', "/x/api/") == (
        '<meta charset="utf-8">\n<meta name="posecheck-api" content="/x/api/">\n'
        '<link rel="icon" href="data:,">\n<p>',
        None,
    )  # fmt: skip


def test_nothing_in_a_page_s_policy_is_said_twice() -> None:
    line = '<meta http-equiv="Content-Security-Policy" content="%s">'
    _, policy = served_page(line % "default-src 'none'; connect-src https://x.example", "/x/api/")
    assert policy == "default-src 'none'; connect-src 'self'; frame-ancestors 'none'"


def test_part_of_a_clip(server: LocalServer) -> None:
    path = f"/{server.token}/clips/a%20b.mp4"
    whole = ask(server, path)
    assert (whole.status, whole.headers["Content-Type"]) == (200, "video/mp4")
    assert whole.headers["Accept-Ranges"] == "bytes"
    assert whole.body == bytes(range(256))
    part = ask(server, path, Range="bytes=100-109")
    assert (part.status, part.headers["Content-Range"]) == (206, "bytes 100-109/256")
    assert part.body == bytes(range(100, 110))
    rest = ask(server, path, Range="bytes=250-")
    assert rest.body == bytes(range(250, 256))
    assert ask(server, path, Range="bytes=300-").status == 416


@pytest.mark.parametrize(
    "path",
    [
        "../secret.html",
        "..%2fsecret.html",
        "%2e%2e/secret.html",
        "clips/../../secret.html",
        "clips/..%2f..%2fsecret.html",
        "..%5csecret.html",
        "/etc/hostname.html",
        "%2fetc%2fhostname.html",
        "link.html",
        "out/secret.html",
        "record.sqlite",
        "keypoints/a.parquet",
        "posecheck.log",
        "clips/.hidden.jpg",
        "clips",
        "clips/",
        "practice.html%00.jpg",
        "practice.html/",
        "",
    ],
)
def test_nothing_else_goes_out(server: LocalServer, path: str) -> None:
    answer = ask(server, f"/{server.token}/{path}")
    assert answer.status == (404 if path else 307)
    assert b"not for you" not in answer.body


def test_nothing_is_written(server: LocalServer) -> None:
    assert ask(server, f"/{server.token}/practice.html", b"1").status == 405


@needs_browser
def test_a_page_that_may_load_nothing_can_still_ask_this_server(
    server: LocalServer, open_page: Callable[..., Page]
) -> None:
    page = open_page(server.address)
    expect(page.locator("p")).to_have_text("200")


def test_a_folder_that_was_never_checked(tmp_path: Path) -> None:
    with pytest.raises(UsageError) as caught:
        site(tmp_path, RESULTS)
    assert str(caught.value) == (
        f"{tmp_path}: nothing has been checked here; run posecheck check first, or name the folder "
        "given to --out."
    )
    result = CliRunner().invoke(app, ["serve", str(tmp_path / "nowhere")])
    assert (
        str(result.exception) == f"{tmp_path / 'nowhere'}: there is no such folder; check the name."
    )


def test_a_record_without_its_page(practice: Path) -> None:
    (practice / "checked" / "practice.html").unlink()
    with pytest.raises(UsageError, match=r"practice\.html is not there; run posecheck check again"):
        site(practice, RESULTS)
