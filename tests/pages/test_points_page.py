"""The page for setting points, in a browser."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from browser import dump_dom, needs_browser
from places import SAMPLES
from serving import running

from posecheck.web.app import LocalServer
from posecheck.web.points_page import OWN_FILES
from posecheck.web.site import POINTS, site


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LocalServer]:
    """The sample practice, of whose film only one clip is there."""
    (tmp_path / "clips").mkdir()
    (tmp_path / "clips" / "rep-13.mp4").symlink_to(SAMPLES / "clips" / "rep-13.mp4")
    shutil.copy(SAMPLES / "practice.toml", tmp_path)
    with running(site(tmp_path, POINTS)) as server:
        yield server


@needs_browser
def test_marks_and_the_fitted_field_are_shown(server: LocalServer, tmp_path: Path) -> None:
    dom = dump_dom(server.address, tmp_path / "profile")
    marks = re.findall(r'<button class="mark[^"]*" data-mark="([^"]+)"', dom)
    assert sorted(marks) == sorted(
        [
            *("inside", "top", "top-left", "top-right", "side-left", "side-right"),
            *("crease-left", "crease-right", "crease-top", "goal-left", "goal-right"),
        ]
    )
    # 653.5 and 595.4 of 1920 x 1080 pixels, whose centres lie half a pixel in.
    assert re.search(r'data-mark="inside"[^>]*style="left: 34.06\d*%; top: 55.17\d*%;"', dom)
    said = "11 marked points, fit to 6 cm, lens 1.0x from these points; "
    assert f"{said}the phone is 2.2 m above the ground." in dom
    assert dom.count('<polyline class="grid"') > 10
    assert '<polyline class="crease"' in dom
    assert re.search(r"inside<span>\d+(\.\d)? cm off</span>", dom)


def test_the_page_s_files_name_no_outside_place() -> None:
    for name in OWN_FILES:
        text = (files("posecheck.web") / "templates" / name).read_text("utf-8")
        addresses = re.findall(r"https?://[^\s\"']+|url\((?!\"\$)[^)]*\)", text)
        assert set(addresses) <= {"http://www.w3.org/2000/svg"}, name
