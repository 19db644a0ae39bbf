"""Reading a clip: what decides who is read, and what is kept from run to run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from actors import BLUE, HEIGHT, RED, WIDTH, Actor, SeesJerseys, runs, standing_pose, stands
from actors import write_film as film_actors
from runner import camera_at

from posecheck.camera.lens import Lens, stated_lens
from posecheck.camera.phone import PHONE
from posecheck.errors import NothingToMeasure
from posecheck.ground.find.points import PointsNotFound
from posecheck.keypoints.landmark_tracks import Wanted
from posecheck.pipeline import known_ground, read
from posecheck.pipeline.read import read_clip
from posecheck.pipeline.settings import Settings
from posecheck.players.roles import choose_roles
from posecheck.players.roles_on_ground import NotPlaced
from posecheck.players.track import Roles, RunThroughZoom
from posecheck.pose.track import PoseTrack
from posecheck.practice.field import closeout_layout, waiting_at
from posecheck.practice.layout import Layout
from posecheck.practice.notes import ClipNotes, PointedOut, View
from posecheck.practice.practice import Practice
from posecheck.video.clip import Clip, open_clip
from posecheck.video.kept_frames import KeptFrames

LAYOUT = closeout_layout()


class Sees(SeesJerseys):
    """Finds people by their jerseys; nobody's landmarks are read by a model."""

    def player(self, model: Path) -> object:
        raise AssertionError(f"a player is read with {model}")


READER = Sees(RED, BLUE)


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Clip:
    """One player runs out at another who stands."""
    path = tmp_path_factory.mktemp("film") / "a.mp4"
    defender = Actor(RED, runs((100, 300), (470, 290), 0.5, 1.9), lambda t: 100)
    film_actors(path, [Actor(BLUE, stands(520, 290)), defender], 2.5)
    return open_clip(path)


@pytest.fixture(autouse=True)
def calls(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """The costly steps in the order of their calls; landmarks fill the players' boxes."""
    made: list[str] = []
    follow = read.follow_players

    def follow_players(clip: Clip, reader: SeesJerseys, kept: KeptFrames | None) -> object:
        made.append("follow")
        return follow(clip, reader, kept)

    def find_points(*_: object) -> None:
        made.append("find points")
        raise PointsNotFound("no cone could be seen")

    def read_keypoints(clip: Clip, wanted: Sequence[Wanted], *_: object) -> list[PoseTrack]:
        made.append("read")
        return [
            PoseTrack.from_poses(
                clip.t_s,
                [
                    standing_pose(box) if due and np.isfinite(box).all() else None
                    for box, due in zip(each.track.box_xyxy, each.due, strict=True)
                ],
            )
            for each in wanted
        ]

    monkeypatch.setattr(read, "follow_players", follow_players)
    monkeypatch.setattr(read, "read_keypoints", read_keypoints)
    monkeypatch.setattr(read, "pose_model_path", lambda *_: tmp_path / "pose.task")
    monkeypatch.setattr(known_ground, "find_points", find_points)
    return made


def practice_of(clip: Clip, layout: Layout = LAYOUT, **notes: object) -> Practice:
    return Practice(clip.path.parent, "p", layout=layout, notes={"a.mp4": ClipNotes(**notes)})


def test_every_step_is_taken_once(clip: Clip, calls: list[str]) -> None:
    keypoints, known = read_clip(clip, practice_of(clip), Settings(), READER)
    assert calls == ["follow", "find points", "read"]
    assert known.ground is None
    assert len(known.faults) == 1
    assert keypoints.attacker is not None
    # The runner is the defender: his landmarks go from left to right, the other's stay.
    gone = [np.ptp(track.xy_px[:, 0, 0][np.isfinite(track.xy_px[:, 0, 0])]) for track in
            (keypoints.defender, keypoints.attacker)]  # fmt: skip
    assert gone[0] > 300
    assert gone[1] < 10


def test_what_is_kept_is_read_back(clip: Clip, calls: list[str], tmp_path: Path) -> None:
    settings = Settings(keypoints_folder=tmp_path / "kept")
    first, known = read_clip(clip, practice_of(clip), settings, READER)
    calls.clear()
    again, known_again = read_clip(clip, practice_of(clip), settings, READER)
    # Where the points are is not kept: another practice may say something else of them.
    assert calls == ["find points"]
    assert known_again == known
    assert again.roles == first.roles
    for one, other in ((first.defender, again.defender), (first.attacker, again.attacker)):
        assert one is not None and other is not None
        np.testing.assert_array_equal(one.xy_px, other.xy_px)
    np.testing.assert_array_equal(
        first.camera_motion.to_reference, again.camera_motion.to_reference
    )


def test_nothing_is_kept_without_a_folder(clip: Clip, calls: list[str], tmp_path: Path) -> None:
    for _ in range(2):
        read_clip(clip, practice_of(clip, Layout()), Settings(), READER)
    assert calls == ["follow", "read"] * 2
    assert list(tmp_path.iterdir()) == []


def test_another_key_takes_the_place_of_the_one_before(
    clip: Clip, calls: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = Settings(keypoints_folder=tmp_path / "kept")
    (tmp_path / "kept").mkdir()
    other_clip = tmp_path / "kept" / "0123456789abcdef-0123456789abcdef.parquet"
    other_clip.touch()
    read_clip(clip, practice_of(clip, Layout()), settings, READER)
    first = set((tmp_path / "kept").iterdir())
    monkeypatch.setattr("posecheck.pipeline.keys.keypoints_fingerprint", lambda: "other code")
    calls.clear()
    read_clip(clip, practice_of(clip, Layout()), settings, READER)
    assert calls == ["follow", "read"]
    second = set((tmp_path / "kept").iterdir())
    assert first & second == {other_clip}
    assert len(second) == 2


def test_known_points_help_to_choose(clip: Clip, monkeypatch: pytest.MonkeyPatch) -> None:
    camera = camera_at((20.0, 8.0, 4.0), (0.0, 8.0, 0.0), size_px=(WIDTH, HEIGHT))
    seen = {name: camera.to_image(np.array([*LAYOUT.points[name], 0.0])) for name in LAYOUT.cones}
    marks = {name: (float(x), float(y)) for name, (x, y) in seen.items()}
    given: dict[str, np.ndarray] = {}

    def choose_on_ground(*_: object, **hints: np.ndarray) -> object:
        given.update(hints)
        raise NotPlaced("for this test")

    def choose(*args: object, **hints: np.ndarray) -> object:
        given.update(hints)
        return choose_roles(*args, focal_px=hints["focal_px"])

    monkeypatch.setattr(read, "choose_roles_on_ground", choose_on_ground)
    monkeypatch.setattr(read, "choose_roles", choose)
    view = View("side", (WIDTH, HEIGHT), 0.0, marks)
    _, known = read_clip(clip, practice_of(clip, view=view, spot="top-left"), Settings(), READER)
    assert known.ground is not None
    assert given["start_xy_m"] == pytest.approx(LAYOUT.points["inside"])
    cone = np.array(LAYOUT.points["top-left"])
    assert given["waits_xy_m"] == pytest.approx(waiting_at(cone))
    assert given["start_px"] == pytest.approx(seen["inside"], abs=0.5)
    assert given["spot_px"] == pytest.approx(seen["top-left"], abs=0.5)
    usual_px = PHONE.focal_px((WIDTH, HEIGHT))
    # The lens they give comes first; held low, the phone shows little of a run away from it.
    first, *longer = given["zooms"]
    assert first == pytest.approx(known.ground.camera.focal_px / usual_px)
    assert longer == [zoom for zoom in PHONE.zooms if zoom > first]


@pytest.mark.parametrize(
    ("lens", "least", "most"), [(None, 0.5, 5.0), (stated_lens(3.0), 3.0, 5.0)]
)
def test_a_lens_that_is_not_known_may_be_any_and_one_that_is_may_look_shorter(
    clip: Clip,
    calls: list[str],
    monkeypatch: pytest.MonkeyPatch,
    lens: Lens | None,
    least: float,
    most: float,
) -> None:
    given: dict[str, list[float]] = {}

    def choose(*args: object, **hints: list[float]) -> object:
        given.update(hints)
        return choose_roles(*args, focal_px=hints["focal_px"])

    monkeypatch.setattr(read, "choose_roles", choose)
    read_clip(clip, practice_of(clip, Layout(), lens=lens), Settings(), READER)
    assert (min(given["zooms"]), max(given["zooms"])) == pytest.approx((least, most), rel=0.05)


def test_a_run_through_an_unknown_zoom_may_be_a_walk(
    clip: Clip, calls: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def choose(*args: object, **hints: float) -> Roles:
        roles = choose_roles(*args, focal_px=hints["focal_px"])
        return replace(roles, through_zoom=RunThroughZoom((0.5, 1.9), "nobody runs", 2.5))

    monkeypatch.setattr(read, "choose_roles", choose)
    settings = Settings(keypoints_folder=tmp_path / "kept")
    first, _ = read_clip(clip, practice_of(clip, Layout()), settings, READER)
    assert first.maybe_walk is not None
    assert first.maybe_walk.run_s == (0.5, 1.9)
    assert first.maybe_walk.fault.startswith("nobody runs")
    again, _ = read_clip(clip, practice_of(clip, Layout()), settings, READER)
    assert again.maybe_walk == first.maybe_walk
    through_longer, _ = read_clip(
        clip, practice_of(clip, Layout(), lens=stated_lens(2.0)), Settings(), READER
    )
    assert through_longer.maybe_walk is not None
    # Who states that lens, or who runs, is not contradicted.
    for known in ({"lens": stated_lens(3.0)}, {"defender_at": PointedOut(0.2, 100.0, 250.0)}):
        sure, _ = read_clip(clip, practice_of(clip, Layout(), **known), Settings(), READER)
        assert sure.maybe_walk is None


def test_a_film_in_which_nobody_runs_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.mp4"
    film_actors(path, [Actor(BLUE, stands(520, 290)), Actor(RED, stands(100, 290))], 1.0)
    still = open_clip(path)
    with pytest.raises(NothingToMeasure) as caught:
        read_clip(still, practice_of(still), Settings(), READER)
    assert str(caught.value) == (
        "a.mp4: nobody runs out at anybody: the players in it stay in place, and the tallest is "
        "only 92 px tall in the picture; film from nearer."
    )
