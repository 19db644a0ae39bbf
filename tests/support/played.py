"""A page with films that play, for checks of what its scripts do with them."""

from __future__ import annotations

import json
import time
from itertools import pairwise
from pathlib import Path

from films import write_film
from playwright.sync_api import Page

from posecheck.pages.inline import inlined

ARRIVAL_S = 0.8
TIMES_MS = [*range(0, 1200, 40), *range(1200, 2400, 160)]
"""Of the frames: at full speed, then the moments about arrival again at a quarter of it."""
SLOW_FROM_S = 1.2


def write_clip(path: Path) -> Path:
    """A clip of 38 frames at :data:`TIMES_MS`."""
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_film(path, TIMES_MS, size=(320, 180))


def rep_entry(number: int, call: str, **more: object) -> dict[str, object]:
    """A rep as the pages' scripts are given it."""
    return {
        "number": number,
        "player": "Bo Lind (4)",
        "spot": "top",
        "call": call,
        "fault": "Stayed high" if call == "flagged" else None,
        "sentence": f"What rep {number} looks like.",
        "cue": "",
        "clip": f"clips/{number}.mp4",
        "page": f"reps/rep-{number:03}.html",
        "key": f"{number:064x}/1",
        "seriousness": number,
        "like": None,
        "arrival_s": ARRIVAL_S,
        "slow_from_s": SLOW_FROM_S,
        "frames_ms": [TIMES_MS[0], *(b - a for a, b in pairwise(TIMES_MS))],
    } | more


def write_player_page(folder: Path, reps: list[dict[str, object]]) -> Path:
    """A page with a link to play each rep and a button for the film room, and its clips."""
    for rep in reps:
        if rep["clip"]:
            write_clip(folder / str(rep["clip"]))
    head = inlined(
        ("style.css", "viewer.css"), ("viewer.js", "stars.js", "film_room.js", "rulings.js")
    )
    links = "".join(
        f'<figure class="shot"><p class="blank">picture</p>'
        f'<a class="play" data-rep="{rep["number"]}" href="{rep["clip"]}">Play the rep</a></figure>'
        for rep in reps
    )
    path = folder / "page.html"
    path.write_text(
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        f"media-src 'self' file:; img-src data:; style-src {head.style_digest}; "
        f'script-src {head.script_digests}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Tuesday</title><style>{head.style}</style></head><body><main>"
        f'<button type="button" id="open-film-room">Film room</button>{links}</main>'
        '<script type="application/json" id="reps" data-practice="Tuesday">'
        f"{json.dumps(reps)}</script>"
        + "".join(f"<script>{script}</script>" for script in head.scripts)
        + "</body></html>",
        encoding="utf-8",
    )
    return path


def until(page: Page, true_of: str, within_s: float = 15.0) -> None:
    """Wait for something to be true of the film on show; pages forbid what Playwright waits with.

    Args:
        page: with a video.
        true_of: a function of the video, as JavaScript.
        within_s: then it has failed.
    """
    end = time.monotonic() + within_s
    while not page.locator("video").first.evaluate(true_of):
        assert time.monotonic() < end, f"not true within {within_s} s: {true_of}"
        page.wait_for_timeout(30)


def seconds(page: Page) -> float:
    """Where the film on show stands."""
    return float(page.locator("video").first.evaluate("video => video.currentTime"))


def frame(page: Page) -> int:
    """Number of the frame on show, as the slider has it."""
    return int(page.locator("input.place").input_value())
