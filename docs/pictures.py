"""Make the pictures of README.md again, from the sample practice.

    posecheck demo --out CHECKED && python docs/pictures.py CHECKED

Needs Chromium and playwright, as the tests do.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import cv2
import numpy as np
from playwright.sync_api import Page, sync_playwright

from posecheck.files.names import PAGE_FILE
from posecheck.practice.reading import read_practice
from posecheck.store.finding import find_record
from posecheck.store.record import Record

HERE = Path(__file__).parent
PAGE_PX, STRIP_PX, FILM_PX = 900, 1000, 480
QUALITY = 82
NEAR_ENOUGH, TOO_FAR = "rep-03.mp4", "rep-13.mp4"


def main(checked: Path) -> None:
    """Write ``page.webp``, ``strip.webp``, ``near-enough.webp`` and ``too-far.webp``."""
    with _page(checked) as page:
        _write("page", page.screenshot(), PAGE_PX)
        _write("strip", page.locator("#first .proof table").first.screenshot(), STRIP_PX)
    with Record(find_record(checked)) as record:
        (practice,) = map(read_practice, record.practice_folders())
        arrivals = {
            result.path.name: rep.picture
            for result in record.results(practice)
            for rep in result.reps
            if rep.picture is not None
        }
    _write("near-enough", arrivals[NEAR_ENOUGH], FILM_PX)
    _write("too-far", arrivals[TOO_FAR], FILM_PX)


@contextmanager
def _page(checked: Path) -> Iterator[Page]:
    with sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1200, "height": 1040})
        page.goto((checked / PAGE_FILE).resolve().as_uri(), wait_until="load")
        page.wait_for_function("[...document.images].slice(0, 10).every(image => image.complete)")
        yield page
        browser.close()


def _write(name: str, picture: bytes, width_px: int) -> None:
    image = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR)
    assert image is not None  # just taken, or drawn by posecheck
    height_px = round(image.shape[0] * width_px / image.shape[1])
    small = cv2.resize(image, (width_px, height_px), interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(HERE / f"{name}.webp"), small, [cv2.IMWRITE_WEBP_QUALITY, QUALITY])


if __name__ == "__main__":
    main(Path(sys.argv[1]))
