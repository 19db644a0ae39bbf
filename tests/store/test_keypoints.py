"""Keypoints written and read back, and a damaged file named in one sentence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from posecheck.camera.motion import CameraMotion
from posecheck.errors import RecordError
from posecheck.keypoints.clip_keypoints import ClipKeypoints, MaybeWalk
from posecheck.pose.track import PoseTrack
from posecheck.store.keypoints import read_keypoints, write_keypoints


def made_up(n: int = 7, attacker: bool = True) -> ClipKeypoints:
    rng = np.random.default_rng(4)
    t_s = np.cumsum(rng.uniform(0.02, 0.05, n))

    def track() -> PoseTrack:
        found = PoseTrack(
            t_s,
            rng.normal(size=(n, 33, 2)),
            rng.normal(size=(n, 33, 3)),
            rng.uniform(size=(n, 33)),
        )
        found.xy_px[2] = found.world_m[2] = np.nan
        return found

    motion = CameraMotion(rng.normal(size=(n, 3, 3)), np.arange(n) != 3)
    both = (track(), track()) if attacker else (None, None)
    walk = MaybeWalk((0.5, 2.25), "er läuft nicht", "leave it out") if attacker else None
    runs_s = ((0.5, 2.25),)
    return ClipKeypoints(track(), both[0], motion, "Zoë läuft heraus", both[1], runs_s, walk)


@pytest.mark.parametrize("attacker", [True, False])
def test_what_is_written_comes_back(tmp_path: Path, attacker: bool) -> None:
    keypoints = made_up(attacker=attacker)
    write_keypoints(tmp_path / "k.parquet", keypoints)
    back = read_keypoints(tmp_path / "k.parquet")
    assert back.roles == keypoints.roles
    assert back.closeouts_s == keypoints.closeouts_s
    assert back.maybe_walk == keypoints.maybe_walk
    np.testing.assert_array_equal(back.camera_motion.tracked, keypoints.camera_motion.tracked)
    np.testing.assert_array_equal(
        back.camera_motion.to_reference, keypoints.camera_motion.to_reference
    )
    for one, other in (
        (back.defender, keypoints.defender),
        (back.attacker, keypoints.attacker),
        (back.defender_close, keypoints.defender_close),
    ):
        assert (one is None) == (other is None)
        if one is not None and other is not None:
            for name in ("t_s", "xy_px", "world_m", "score"):
                np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_a_damaged_file_is_named(tmp_path: Path) -> None:
    file = tmp_path / "k.parquet"
    write_keypoints(file, made_up())
    file.write_bytes(file.read_bytes()[:-200])
    with pytest.raises(RecordError) as caught:
        read_keypoints(file)
    assert str(caught.value) == (
        f"{file}: this keypoint file is damaged; delete it and check the clip again."
    )
