"""What the scripts of the pages are given to know of each rep."""

from __future__ import annotations

import json
from pathlib import Path

from rep_views import views

from posecheck.pages.rep_data import rep_data


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
