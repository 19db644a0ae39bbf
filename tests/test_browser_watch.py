"""The watch over pages itself: a page with an error must fail its test."""

from __future__ import annotations

from pathlib import Path

import pytest
from browser import Chromium, needs_browser, watched
from playwright.sync_api import Browser, Error


@needs_browser
@pytest.mark.parametrize("script", ["throw new Error('broken')", "console.error('broken')"])
def test_an_error_in_a_page_is_not_overlooked(
    browser: Browser, tmp_path: Path, script: str
) -> None:
    page = tmp_path / "page.html"
    page.write_text(f"<p>text</p><script>{script}</script>")
    with pytest.raises(AssertionError, match="broken"), watched(browser, 400) as open_page:
        open_page(page)


@needs_browser
def test_a_sound_page_passes(browser: Browser, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("<p>text</p>")
    with watched(browser, 400) as open_page:
        assert open_page(page).inner_text("p") == "text"


@needs_browser
def test_a_page_that_hangs_fails_its_test_alone(chromium: Chromium, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("<p>text</p>")
    with (
        pytest.raises(Error, match="closed"),
        chromium.lent(hangs_after_s=2.0) as browser,
        watched(browser, 400) as open_page,
    ):
        open_page(page).evaluate("() => { for (;;) {} }")
    with chromium.lent() as browser, watched(browser, 400) as open_page:
        assert open_page(page).inner_text("p") == "text"
