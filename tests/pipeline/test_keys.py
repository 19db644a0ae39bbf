"""What makes a clip's film be read again, or its measures be made again, and what does not."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from posecheck.camera.lens import stated_lens
from posecheck.pipeline import keys
from posecheck.pipeline.keys import keypoints_key, measures_key, models_used
from posecheck.pipeline.settings import Settings
from posecheck.pose.reader_choice import Reader
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, PointedOut, View
from posecheck.practice.plan import Plan
from posecheck.practice.practice import Practice
from posecheck.practice.roster import Player
from posecheck.practice.stature import AGE_GROUPS

SETTINGS = Settings()
CLIP = Path("/p/a.mp4")
ROBIN = Player(12, "Robin Vale", height_m=1.83)
MARKED = View("side", (1920, 1080), 0.0, {"top": (10.0, 20.0)})
PRACTICE = Practice(
    Path("/p"),
    "practice",
    layout=Layout({"top": (0.0, 15.0)}, cones=frozenset({"top"})),
    plan={"top": Plan.ALLEY},
    notes={"a.mp4": ClipNotes(MARKED, "top", ROBIN, None)},
)


@pytest.fixture(autouse=True)
def no_heavy_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever this machine has."""
    monkeypatch.setattr(keys, "close_model_location", lambda variant, folder: None)


def noted(**changes: object) -> Practice:
    notes = dataclasses.replace(PRACTICE.notes["a.mp4"], **changes)
    return dataclasses.replace(PRACTICE, notes={"a.mp4": notes})


@pytest.mark.parametrize(
    ("practice", "reads_again", "measures_again"),
    [
        # judging and pages only
        (dataclasses.replace(PRACTICE, name="x", club="y"), False, False),
        (dataclasses.replace(PRACTICE, plan={"top": Plan.MIDDLE}), False, False),
        (dataclasses.replace(PRACTICE, players={12: ROBIN}), False, False),
        (
            noted(defender=dataclasses.replace(ROBIN, name="R. Vale", strong_hand="left")),
            False,
            False,
        ),
        # measuring from the same landmarks
        (noted(defender=dataclasses.replace(ROBIN, height_m=1.9)), False, True),
        (noted(defender=None, attacker=ROBIN), False, True),
        (noted(slow_in_part=True), False, True),
        (dataclasses.replace(PRACTICE, stature=AGE_GROUPS["under-12"]), False, True),
        # who is who, too
        (noted(arrival_s=2.5), True, True),
        (noted(defender_at=PointedOut(1.0, 20.0, 30.0)), True, True),
        (dataclasses.replace(PRACTICE, slow_motion=8.0), True, True),
        (noted(slow_motion=2.0), True, True),
        (dataclasses.replace(PRACTICE, layout=Layout({"top": (0.0, 16.0)})), True, True),
        (dataclasses.replace(PRACTICE, layout=Layout({"top": (0.0, 15.0)})), True, True),
        (noted(view=dataclasses.replace(MARKED, marks={"top": (11.0, 20.0)})), True, True),
        (noted(view=dataclasses.replace(MARKED, size=(1280, 720))), True, True),
        (noted(view=None), True, True),
        (noted(spot=None), True, True),
        (dataclasses.replace(PRACTICE, lens=stated_lens(2.0)), True, True),
        (noted(lens=stated_lens(0.5)), True, True),
    ],
)
def test_what_a_practice_says(practice: Practice, reads_again: bool, measures_again: bool) -> None:
    keypoints, measures = (key(SETTINGS, practice, CLIP) for key in (keypoints_key, measures_key))
    assert (keypoints != keypoints_key(SETTINGS, PRACTICE, CLIP)) == reads_again
    assert (measures != measures_key(SETTINGS, PRACTICE, CLIP)) == measures_again


@pytest.mark.parametrize(
    ("settings", "reads_again", "measures_again"),
    [
        (Settings(models_folder=Path("a"), keypoints_folder=Path("b")), False, False),
        (Settings(reach_m=2.0), False, True),
        (Settings("lite"), True, True),
        (Settings(reader=next(each for each in Reader if each != SETTINGS.reader)), True, True),
    ],
)
def test_what_a_run_chooses(settings: Settings, reads_again: bool, measures_again: bool) -> None:
    keypoints, measures = (key(settings, PRACTICE, CLIP) for key in (keypoints_key, measures_key))
    assert (keypoints != keypoints_key(SETTINGS, PRACTICE, CLIP)) == reads_again
    assert (measures != measures_key(SETTINGS, PRACTICE, CLIP)) == measures_again


def test_with_the_heavy_model_a_clip_is_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    made = (keypoints_key, measures_key)
    before = [key(SETTINGS, PRACTICE, CLIP) for key in made]
    assert models_used(SETTINGS) == f"full, read with {SETTINGS.reader.in_words}"
    monkeypatch.setattr(keys, "close_model_location", lambda variant, folder: Path("pose_heavy"))
    assert all(key(SETTINGS, PRACTICE, CLIP) != old for key, old in zip(made, before, strict=True))
    read_with = SETTINGS.reader.in_words
    assert models_used(SETTINGS) == f"full, and heavy around the arrival, read with {read_with}"


def test_other_code_reads_and_measures_again(monkeypatch: pytest.MonkeyPatch) -> None:
    before = [key(SETTINGS, PRACTICE, CLIP) for key in (keypoints_key, measures_key)]
    monkeypatch.setattr(keys, "measures_fingerprint", lambda: "other code")
    assert keypoints_key(SETTINGS, PRACTICE, CLIP) == before[0]
    assert measures_key(SETTINGS, PRACTICE, CLIP) != before[1]
    monkeypatch.setattr(keys, "keypoints_fingerprint", lambda: "other code")
    assert keypoints_key(SETTINGS, PRACTICE, CLIP) != before[0]


def test_another_version_of_the_same_code_does_neither(monkeypatch: pytest.MonkeyPatch) -> None:
    before = [key(SETTINGS, PRACTICE, CLIP) for key in (keypoints_key, measures_key)]
    monkeypatch.setattr("posecheck.files.version.installed_version", lambda: "99.0")
    monkeypatch.setattr("posecheck.pipeline.provenance.installed_version", lambda: "99.0")
    assert before == [key(SETTINGS, PRACTICE, CLIP) for key in (keypoints_key, measures_key)]
