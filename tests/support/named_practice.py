"""A practice that has been checked and of whose clips nobody has said who is in them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from factories import make_clip_result, make_provenance
from films import write_film

from posecheck.files.digest import file_digest
from posecheck.judging.thresholds import DEFAULT_THRESHOLDS
from posecheck.pages.publish import write_page
from posecheck.pipeline.judge import judge_clip
from posecheck.pipeline.keys import measures_key_by
from posecheck.practice.reading import read_practice
from posecheck.reps.tuning import REACH_M
from posecheck.store.record import Record

PRACTICE = """
name = "Tuesday one-on-ones"
club = "Harbor Point Herons"

[layout]
preset = "five-spots"

[plan]
side-left = "down the alley"
side-right = "down the alley"

[[players]]
number = 14
name = "Theo Marsh"

[[players]]
number = 22
name = "Ellis Rowan"

[[players]]
number = 7
name = "Jonah Pell"
strong_hand = "right"

[[clips]]
file = "clips/a.mp4"
spot = "side-left"
attacker = 7
"""

KINDS = {"a": "breakdown", "b": "upright", "c": "breakdown", "d": "unclear", "e": "upright"}
"""By clip, what its rep reads like."""


def make_practice(folder: Path) -> Path:
    """Write it: five clips of 128 x 96 pixels and a second, checked; returns the folder."""
    (folder / "clips").mkdir(parents=True)
    (folder / "practice.toml").write_text(PRACTICE, "utf-8")
    practice = read_practice(folder)
    with Record(folder / "checked" / "record.sqlite", make=True) as record:
        for number, (name, kind) in enumerate(KINDS.items()):
            path = folder / "clips" / f"{name}.mp4"
            # One frame more each time: the same film would be one clip.
            write_film(path, range(0, 1000 + 40 * number, 40))
            made = make_provenance(settings_digest=measures_key_by("full", REACH_M, practice, path))
            result = make_clip_result(
                path,
                kind,
                clip_digest=file_digest(path),
                provenance=made,
            )
            record.save(practice, replace(result, path=practice.folder / "clips" / path.name))
            judge_clip(record, practice, result, DEFAULT_THRESHOLDS)
        write_page(record, practice, DEFAULT_THRESHOLDS)
    return folder
