"""A headless browser for checks that only a browser can make."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

_BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)

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


def keeps_what_it_stored(page: Page) -> None:
    """Have pages that are opened next in this window find what this one has stored.

    That a store outlives its page is the browser's own affair, and Chromium, driven on a busy
    machine, loses one now and then. What the page stores and what the next makes of it is ours.
    """
    stored = page.evaluate("({...localStorage})")
    assert stored
    page.add_init_script(f"Object.assign(localStorage, {json.dumps(stored)});")
