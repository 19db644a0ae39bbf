"""A headless browser for checks that only a browser can make."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

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
