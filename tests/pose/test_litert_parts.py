"""Detector and landmark model around their networks: anchors, merging, heatmaps, following."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from posecheck.errors import ModelError
from posecheck.maths.arrays import Image
from posecheck.pose import litert
from posecheck.pose.detector import anchor_centres, merged
from posecheck.pose.landmark_model import Body, refined
from posecheck.pose.litert import LiteRtLandmarker
from posecheck.pose.reader_choice import Reader
from posecheck.pose.region import Region
from posecheck.pose.square import Square

PICTURE = np.zeros((320, 320, 3), np.uint8)
SQUARE = Square(0, 0, 320)


def test_anchors_are_those_of_the_network() -> None:
    anchors = anchor_centres()
    # 28 x 28 places twice, 14 x 14 twice, 7 x 7 six times: as many as the network has outputs.
    assert anchors.shape == (2254, 2)
    np.testing.assert_allclose(anchors[:3], [(4 / 224, 4 / 224)] * 2 + [(12 / 224, 4 / 224)])
    np.testing.assert_allclose(anchors[2 * 28 * 28], (8 / 224, 8 / 224))
    np.testing.assert_allclose(anchors[-1], (208 / 224, 208 / 224))


def detection(left: float, score: float) -> np.ndarray:
    return np.array([left, 0.2, left + 0.4, 0.6, left, 0.5, left, 0.1, score])


def test_detections_that_overlap_are_a_mean_by_their_scores() -> None:
    found = np.stack([detection(0.10, 0.6), detection(0.5, 0.7), detection(0.14, 0.9)])
    one, other = merged(found)
    np.testing.assert_allclose(one[0], (0.14 * 0.9 + 0.10 * 0.6) / 1.5)
    np.testing.assert_allclose(one[4:], [one[0], 0.5, one[0], 0.1])
    np.testing.assert_allclose(other, found[1, :8])
    assert merged(np.empty((0, 9))) == []


def test_a_box_inside_out_is_none() -> None:
    inside_out = detection(0.1, 0.9)
    inside_out[2] = 0.0
    assert len(merged(np.stack([inside_out, detection(0.5, 0.7)]))) == 1
    flat = detection(0.1, 0.9)
    flat[2] = flat[0]
    assert len(merged(flat[None])) == 1


def heat_at(*pixels: tuple[int, int, float]) -> np.ndarray:
    """A map for one point, cold but in some pixels: column, row, heat."""
    heat = np.full((64, 64, 1), -50.0, np.float32)
    for column, row, share in pixels:
        heat[row, column, 0] = np.log(share / (1 - share))
    return heat


@pytest.mark.parametrize(
    ("at", "heat", "expected"),
    [
        # the middle of the heat around the point, 3 pixels on every side
        ((32.5, 20.5), [(33, 21, 0.8)], (33, 21)),
        ((32.5, 20.5), [(33, 21, 0.6), (35, 21, 0.3)], (33 + 2 / 3, 21)),
        ((32.5, 20.5), [(33, 21, 0.8), (36, 21, 0.8)], (33, 21)),
        # too little of it
        ((32.5, 20.5), [(33, 21, 0.4)], (32.5, 20.5)),
        # beyond the map, a pixel of which ends at the whole number
        ((-1.5, 20.5), [(0, 21, 0.8)], (-1.5, 20.5)),
        ((-0.5, 20.5), [(0, 21, 0.8)], (0, 21)),
        ((64.5, 20.5), [(63, 21, 0.8)], (64.5, 20.5)),
        ((20.5, 64.5), [(20, 63, 0.8)], (20, 63)),
        ((20.5, 90.5), [(20, 63, 0.8)], (20.5, 90.5)),
    ],
)
def test_points_move_to_the_heat_around_them(
    at: tuple[float, float], heat: list[tuple[int, int, float]], expected: tuple[float, float]
) -> None:
    moved = refined(np.array([at]) / 64, heat_at(*heat)) * 64
    np.testing.assert_allclose(moved, [expected], atol=1e-6)


class Scripted:
    """Stands in for both networks: regions found, and whether somebody is in them."""

    def __init__(self, *_: Any) -> None:
        self.found: list[Region] = []
        self.looked: list[Region] = []
        self.searches = 0
        self.visibility = 0.0

    def people(self, picture: Image) -> list[Region]:
        self.searches += 1
        return self.found

    def body(self, picture: Image, region: Region) -> Body | None:
        self.looked.append(region)
        if region.angle > 1:
            return None
        visible = np.full(33, self.visibility)
        moved = replace(region, centre=region.centre + 0.01)
        return Body(np.zeros((33, 2)), np.zeros((33, 3)), visible, moved)


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Scripted:
    model = Scripted()
    (tmp_path / "m").touch()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(litert, "_networks", lambda *_: (model, model))
    return model


def region(x: float, side: float = 0.3, angle: float = 0.0) -> Region:
    return Region(np.array([x, 0.5]), side, angle)


def test_a_body_is_followed_until_it_is_lost(scripted: Scripted) -> None:
    reader = LiteRtLandmarker(Path("m"), follow=True, num_poses=1)
    scripted.found = [region(0.3)]
    assert len(reader.poses(PICTURE, SQUARE)) == 1
    assert len(reader.poses(PICTURE, SQUARE)) == 1
    assert scripted.searches == 1
    np.testing.assert_allclose([each.centre[0] for each in scripted.looked], [0.3, 0.31])
    reader.forget()
    scripted.found = [region(0.6, angle=2.0)]  # nobody after all
    assert reader.poses(PICTURE, SQUARE) == []
    scripted.found = []
    assert reader.poses(PICTURE, SQUARE) == []
    assert scripted.searches == 3


def test_a_body_read_where_it_was_pointed_at_is_followed(scripted: Scripted) -> None:
    reader = LiteRtLandmarker(Path("m"), follow=True, num_poses=1)
    assert reader.filling(PICTURE, SQUARE, np.array([2.0, 1, 8, 9])) is not None
    assert len(reader.poses(PICTURE, SQUARE)) == 1
    assert scripted.searches == 0


def test_of_regions_that_overlap_the_less_sure_one_is_followed(scripted: Scripted) -> None:
    """As in the library, which takes it for the same person seen again."""
    reader = LiteRtLandmarker(Path("m"), follow=True, num_poses=1)
    scripted.found = [region(0.3), region(0.32)]
    reader.poses(PICTURE, SQUARE)
    scripted.found = [region(0.3), region(0.7)]
    reader.forget()
    reader.poses(PICTURE, SQUARE)
    np.testing.assert_allclose([each.centre[0] for each in scripted.looked], [0.32, 0.3])


def test_everybody_is_read_in_a_single_picture_up_to_the_limit(scripted: Scripted) -> None:
    reader = LiteRtLandmarker(Path("m"), follow=False, num_poses=2)
    scripted.found = [region(0.2), region(0.5, angle=2.0), region(0.8)]
    assert len(reader.poses(PICTURE, SQUARE)) == 1
    assert [each.centre[0] for each in scripted.looked] == [0.2, 0.5]
    assert len(reader.poses(PICTURE, SQUARE)) == 1
    assert scripted.searches == 2


def test_visibility_of_a_followed_body_rises_and_falls_slowly(scripted: Scripted) -> None:
    """Through a loss, too, as in the library."""
    reader = LiteRtLandmarker(Path("m"), follow=True, num_poses=1)
    scripted.found = [region(0.3)]
    seen = []
    for scripted.visibility in (1.0, 0.0, 0.0):
        (pose,) = reader.poses(PICTURE, SQUARE)
        seen.append(pose.visibility[0])
        reader.forget()
    np.testing.assert_allclose(seen, [1.0, 0.9, 0.81])


@pytest.mark.film
def test_readers_of_one_process_run_the_same_networks(
    pose_models: Callable[..., Path], tmp_path: Path
) -> None:
    """Also those of another size, as far as they are the same; another file is another model."""
    full, heavy = pose_models(Reader.LITERT), pose_models(Reader.LITERT, "heavy")
    one, again, large = (
        LiteRtLandmarker(path, follow=True, num_poses=1) for path in (full, full, heavy)
    )
    assert one._landmarks is again._landmarks is not large._landmarks
    assert one._detector is again._detector is large._detector
    replaced = tmp_path / "model.litert"
    replaced.write_bytes(full.read_bytes())
    LiteRtLandmarker(replaced, follow=True, num_poses=1)
    replaced.write_bytes(b"not a model")
    with pytest.raises(ModelError):
        LiteRtLandmarker(replaced, follow=True, num_poses=1)
