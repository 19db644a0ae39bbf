"""A headless browser for checks that only a browser can make."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

_BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)

STORE_ATTEMPTS = 20
STORED_WITHIN_MS = 1500

needs_browser = pytest.mark.skipif(_BROWSER is None, reason="no Chromium here")


def dump_dom(page: Path | str, profile: Path) -> str:
    """The document as it stands after its scripts have run for four seconds of its own time."""
    assert _BROWSER is not None
    done = subprocess.run(
        [
            _BROWSER,
            *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
            *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
            f"--user-data-dir={profile}",
            "--window-size=1200,900",
            "--hide-scrollbars",
            "--virtual-time-budget=4000",
            "--dump-dom",
            page.as_uri() if isinstance(page, Path) else page,
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return done.stdout


@contextmanager
def launched() -> Iterator[Browser]:
    """Chromium driven from here; nothing it does reaches beyond this machine."""
    assert _BROWSER is not None
    flags = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_BROWSER, args=flags)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def watched(browser: Browser, width: int, height: int = 900) -> Iterator[Callable[[str], Page]]:
    """What opens a page at its address, in a window so wide; any error in it fails the test."""
    errors: list[str] = []
    context: BrowserContext = browser.new_context(viewport={"width": width, "height": height})
    context.set_default_timeout(20_000)

    def open_page(address: Path | str) -> Page:
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on(
            "console",
            lambda said: errors.append(said.text) if said.type == "error" else None,
        )
        page.goto(address.as_uri() if isinstance(address, Path) else address)
        return page

    try:
        yield open_page
    finally:
        context.close()
    assert not errors, errors


def make_the_store_last(open_page: Callable[[Path | str], Page], folder: Path) -> None:
    """Store something with pages of this browser until another one of its pages reads it.

    On a busy machine Chromium at times loses what the first page of a new window stores, for good:
    the page itself still reads it, a page beside it never does. What pages opened later store is
    kept. So tests of what is stored begin here.
    """
    empty = folder / "empty.html"
    empty.write_text("<!doctype html><title>Nothing</title>", encoding="utf-8")
    for attempt in range(STORE_ATTEMPTS):
        writer, reader = open_page(empty), open_page(empty)
        writer.evaluate("(value) => localStorage.setItem('attempt', value)", str(attempt))
        try:
            reader.wait_for_function(
                "(value) => localStorage.getItem('attempt') === value",
                arg=str(attempt),
                timeout=STORED_WITHIN_MS,
            )
        except PlaywrightTimeoutError:
            continue
        finally:
            writer.close()
            reader.close()
        return
    raise AssertionError("this browser keeps nothing that a page stores")


def wait_until_stored(page: Page) -> None:
    """Wait until another page of this browser reads what this one has stored."""
    stored = page.evaluate("({...localStorage})")
    reader = page.context.new_page()
    reader.goto(page.url)
    reader.wait_for_function(
        "(stored) => Object.entries(stored).every(([name, value]) => localStorage[name] === value)",
        arg=stored,
    )
    reader.close()
