"""Films encoded again show the same pictures at the same times; verdicts that turn are listed."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from films import write_film

from models.data.reencoded import AS_FILMED, KINDS, Outcome, outside, reencode, table
from posecheck.video.clip import open_clip


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Half a second at 30 a second; red top left, blue bottom right."""
    times = [round(1000 * number / 30) for number in range(15)]
    return write_film(tmp_path_factory.mktemp("film") / "a.mp4", times, size=(192, 108))


@pytest.mark.parametrize("name", KINDS)
def test_every_encoding_shows_the_film(tmp_path: Path, source: Path, name: str) -> None:
    kind = KINDS[name]
    path = tmp_path / f"a.{kind.ending}"
    reencode(source, path, kind)
    clip = open_clip(path)
    # Whatever is stored, the picture delivered is upright, 16:9 and as wide as it should be.
    assert clip.width_px / clip.height_px == pytest.approx(16 / 9, rel=0.002)
    assert clip.rotation_deg == kind.turned_deg
    lasts_s = 14 / 30 - kind.off_start_s - kind.off_end_s
    assert clip.t_s[-1] == pytest.approx(lasts_s, abs=0.08 if kind.uneven or kind.rate_hz else 0.01)
    if kind.rate_hz is not None:
        assert np.diff(clip.t_s) == pytest.approx(1 / kind.rate_hz, abs=0.002)
    if kind.uneven:
        assert len(set(np.diff(clip.t_s).round(3).tolist())) > 1
    frame = next(clip.frames())
    height, width = frame.rgb.shape[:2]
    red, blue = frame.rgb[height // 4, width // 4], frame.rgb[3 * height // 4, 3 * width // 4]
    assert int(red[0]) - int(red[2]) > 80
    assert int(blue[2]) - int(blue[0]) > 80
    # Brightness is what it was: grey 40, and lighter where the start is missing.
    grey = frame.rgb[height // 8, -width // 8].astype(float)
    assert grey == pytest.approx(40 + 4 * round(30 * kind.off_start_s), abs=6)
    assert clip.lost_at_end_s < 0.5


@pytest.mark.skipif(not hasattr(os, "sched_getscheduler"), reason="no such scheduling here")
def test_no_encoder_puts_itself_before_all_other_processes(tmp_path: Path, source: Path) -> None:
    before = os.sched_getscheduler(0)
    reencode(source, tmp_path / "a.mp4", KINDS["AV1"])
    assert os.sched_getscheduler(0) == before


BEFORE = Outcome(
    AS_FILMED, "a", "clear", "", {"x": "clear", "y": "flagged", "z": "can't tell"}, {},
    {"knee": [60, 50, 70], "lean": None},
)  # fmt: skip


def again(**changes: object) -> Outcome:
    same = {"kind": "720p", "clip": "a", "call": "clear", "headline": "", "calls": BEFORE.calls,
            "figures": {"knee": [61, 50, 70], "lean": [1, 0, 2]}}  # fmt: skip
    return Outcome(**(same | changes))  # type: ignore[arg-type]


def test_what_turns_is_counted_and_what_is_lost_is_told() -> None:
    assert "back: **0**." in table([BEFORE, again()])
    turned = again(calls=dict(BEFORE.calls) | {"x": "flagged", "z": "clear"})
    assert "back: **1**. 720p, a: x." in table([BEFORE, turned])
    assert "back: **1**. 720p, a: the rep." in table([BEFORE, again(call="flagged")])
    lost = again(
        call="can't tell",
        calls=dict(BEFORE.calls) | {"x": "can't tell"},
        reasons={"x": "too small", "z": "ever so"},
    )
    written = table([BEFORE, lost])
    assert "another call is made: 1" in written
    assert "| 720p | a | clear | can't tell | 1 of 2 | x: too small |" in written
    gone = again(call="not measured", headline="a.mp4: nobody runs; film again.", calls={})
    assert "| 0 of 2 | a.mp4: nobody runs; film again. |" in table([BEFORE, gone])


def test_figures_outside_their_error_bar() -> None:
    assert outside([BEFORE, again()]) == {}
    assert outside([BEFORE, again(figures={"knee": [49, 40, 60], "lean": [1, 0, 2]})]) == {
        ("720p", "a"): ["knee"]
    }
