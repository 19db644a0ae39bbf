"""What the scripts of the pages are given to know of each rep."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
from rep_views import views

from posecheck.pages.annotated import ClipTimes
from posecheck.pages.rep_data import film_times_ms, rep_data


def test_every_rep_has_an_entry_that_json_can_hold(tmp_path: Path) -> None:
    made = views(tmp_path, "breakdown", "upright", "unclear")
    clear, flagged, open_one = json.loads(json.dumps(rep_data(made)))
    assert [each["number"] for each in (clear, flagged, open_one)] == [1, 2, 3]
    assert [each["call"] for each in (clear, flagged, open_one)] == [
        "clear", "flagged", "can't tell",
    ]  # fmt: skip
    assert flagged["player"] == "Bo Lind (4)" and flagged["spot"] == "top-left"
    assert flagged["page"] == "reps/rep-002.html"
    assert flagged["fault"] and flagged["cue"]
    assert clear["fault"] is None and clear["cue"] == ""
    assert flagged["key"] == f"{made[1].result.clip_digest}/1"


def test_the_most_serious_come_first_then_what_cant_be_told(tmp_path: Path) -> None:
    data = rep_data(views(tmp_path, "breakdown", "unclear", "upright", "upright"))
    assert [each["seriousness"] for each in data] == [3, 2, 0, 1]


def test_a_clip_is_named_only_when_it_was_drawn(tmp_path: Path) -> None:
    (before,) = rep_data(views(tmp_path, "upright"))
    assert before["clip"] is None
    (tmp_path / "clips").mkdir()
    digest = str(before["key"]).split("/")[0]
    (tmp_path / "clips" / f"rep-01-1-{digest[:8]}.mp4").write_bytes(b"film")
    (after,) = rep_data(views(tmp_path, "upright"))
    assert after["clip"] == f"clips/rep-01-1-{digest[:8]}.mp4"


def test_a_rep_is_compared_with_a_clean_one_a_clean_one_with_none(tmp_path: Path) -> None:
    data = rep_data(views(tmp_path, "upright", "breakdown", "unclear"))
    assert [each["like"] for each in data] == [2, None, 2]


def test_times_of_a_clip_come_out_within_half_a_millisecond(tmp_path: Path) -> None:
    (view,) = views(tmp_path, "upright")
    frames_s = tuple((np.arange(90) / 29.97).tolist())
    times = ClipTimes(0.5, 1.72061, 2.4, 3.1, frames_s, tuple(7.0 + t for t in frames_s))
    (data,) = rep_data([replace(view, times=times)])
    assert data["arrival_s"] == 1.721 and data["slow_from_s"] == 2.4
    starts_ms = np.cumsum(data["frames_ms"])  # type: ignore[arg-type]
    assert np.max(np.abs(starts_ms - 1000 * np.array(frames_s))) <= 0.5
    assert film_times_ms(replace(view, times=times))[:2] == [7000, 7033]  # type: ignore[index]
    (unknown,) = rep_data([view])
    assert unknown["arrival_s"] is None and unknown["frames_ms"] is None
