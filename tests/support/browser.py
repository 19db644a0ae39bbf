"""A headless browser for checks that only a browser can make."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Timer

import psutil
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright

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


HANGS_AFTER_S = 240.0
"""The longest test of pages takes a tenth of it; what Chromium is asked has no limit of its own."""


class Chromium:
    """Chromium driven from here; nothing it does reaches beyond this machine.

    It is started once, and again after it has died. A browser that hangs is killed after
    :data:`HANGS_AFTER_S`: the test waiting for it fails, and the rest of the run goes on.
    """

    def __init__(self, playwright: Playwright) -> None:
        self._playwright = playwright
        self._browser: Browser | None = None

    @contextmanager
    def lent(self, hangs_after_s: float = HANGS_AFTER_S) -> Iterator[Browser]:
        """A running browser, killed if it is not given back in time."""
        watchdog = Timer(hangs_after_s, self._kill)
        watchdog.daemon = True
        watchdog.start()
        try:
            yield self._running()
        finally:
            watchdog.cancel()

    def close(self) -> None:
        """Have it end."""
        if self._browser is not None:
            self._browser.close()

    def _running(self) -> Browser:
        assert _BROWSER is not None
        if self._browser is None or not self._browser.is_connected():
            flags = ["--no-sandbox", "--disable-quic", "--disable-background-networking"]
            self._browser = self._playwright.chromium.launch(executable_path=_BROWSER, args=flags)
        return self._browser

    @staticmethod
    def _kill() -> None:
        for child in psutil.Process().children(recursive=True):
            with suppress(psutil.Error):
                if child.name().startswith("chrom"):
                    child.kill()


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
