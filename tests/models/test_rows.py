"""Rows of pictures: what goes in comes out within half a step of the last place."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.data.gather import gather
from models.data.quantised import Quantised
from models.data.stills import QUANTISED, read_casts
from models.files import HELD_OUT
from models.fit.feet import feet_truth
from models.recipe import recipe
from models.render.body import JOINTS
from posecheck.camera.pinhole import Camera

STEPS = {each.name: each.step for each in QUANTISED}


def cast_arrays(n=7, seed=0, movement="closeout"):
    """What the renderer writes of a cast, made up."""
    from bodies import camera_at

    rng = np.random.default_rng(seed)
    cameras = [camera_at((0.0, -8.0, 2.0), (x, 0.0, 0.9), 1000.0, (600, 600)) for x in range(n)]
    return {
        "xy_px": rng.uniform(-50, 650, (n, 33, 2)),
        "world_m": rng.uniform(-1.2, 1.2, (n, 33, 3)),
        "score": rng.uniform(0, 1, (n, 33)),
        "blur": np.where(np.arange(n) == 3, np.nan, rng.uniform(0, 0.1, n)),
        "occluded": rng.uniform(size=n) < 0.5,
        "degraded": rng.uniform(size=n) < 0.5,
        "camera_matrix": cameras[0].matrix,
        "camera_rotation": np.array([each.rotation for each in cameras]),
        "camera_centre_m": cameras[0].centre_m,
        "ground_m": rng.uniform(-12, 12, (n, 2)),
        "joints_m": rng.uniform(0, 2, (n, len(JOINTS), 3)),
        "knee_flexion_deg": rng.uniform(0, 130, (n, 2)),
        "trunk_lean_deg": rng.uniform(0, 90, n),
        "hip_drop": rng.uniform(-0.1, 0.6, n),
        "hand_reach": rng.uniform(-0.5, 1, n),
        "hand_height": np.where(np.arange(n) == 2, -27.0, rng.uniform(-0.5, 1.5, n)),
        "base_width": rng.uniform(0, 6, n),
        "stature_m": 1.75,
        "sex": "female",
        "age_years": 16.5,
        "skin_rgb": (0.4, 0.3, 0.2),
        "muscle": 0.6,
        "weight": 0.45,
        "trousers": True,
        "poses": n + 1,
        "movement": np.repeat(movement, n),
    }


def kept(folder: Path, number: int, **arrays) -> dict:
    arrays = cast_arrays(seed=number) | arrays
    np.savez_compressed(folder / f"cast-{number:04d}.npz", **arrays)
    return arrays


def test_a_cast_comes_back_within_half_a_step(tmp_path):
    given_arrays = kept(tmp_path, 500)
    (path,) = gather([tmp_path], recipe().stills, tmp_path / "rows")
    assert path.name == "stills-closeout-1.parquet"
    (cast,) = read_casts([path])
    for name in ("xy_px", "world_m", "score", "ground_m"):
        assert np.abs(getattr(cast, name) - given_arrays[name]).max() <= STEPS[name] / 2 + 1e-12
    for name, values in cast.truth.items():
        wanted = given_arrays[name]
        if name == "hand_height":  # of a level trunk, which gives it no scale
            assert values[2] == -3.0
            wanted = np.clip(wanted, -3, 3)
        assert np.abs(values - wanted).max() <= STEPS[name] / 2 + 1e-12
    feet = given_arrays["joints_m"][:, :, 2]
    left = feet[:, [JOINTS.index("left_heel"), JOINTS.index("left_foot_index")]].mean(axis=1)
    assert cast.foot_lift_m[:, 0] == pytest.approx(left, abs=STEPS["foot_lift_m"] / 2 + 1e-12)
    for camera, rotation in zip(cast.cameras, given_arrays["camera_rotation"], strict=True):
        # A rotation vector in single precision: 1e-7 radians, a ten-thousandth of a pixel.
        assert camera.rotation == pytest.approx(rotation, abs=1e-6)
        assert camera.matrix == pytest.approx(given_arrays["camera_matrix"])
    assert cast.occluded.tolist() == given_arrays["occluded"].tolist()
    assert (cast.number, cast.album, cast.sex, cast.poses) == (500, "closeout", "female", 8)
    assert (cast.age_years, cast.trousers) == (16.5, True)
    assert cast.skin == pytest.approx(0.2126 * 0.4 + 0.7152 * 0.3 + 0.0722 * 0.2)


def test_the_same_casts_give_the_same_bytes(tmp_path):
    kept(tmp_path, 501)
    kept(tmp_path, 500)
    once, again = (gather([tmp_path], recipe().stills, tmp_path / n)[0] for n in "ab")
    assert once.read_bytes() == again.read_bytes()
    assert [cast.number for cast in read_casts([once])] == [500, 501]


def test_wide_casts_keep_each_pictures_camera_and_both_models_readings(tmp_path):
    rng = np.random.default_rng(3)
    matrices = np.tile(np.diag([2000.0, 2000.0, 1.0]), (7, 1, 1))
    matrices[:, :2, 2] = rng.uniform(-900, 900, (7, 2))
    heavy = rng.uniform(-50, 650, (7, 33, 2))
    heavy[2] = np.nan  # it read somebody else
    heavy_score = np.where(np.arange(7)[:, None] == 2, np.nan, rng.uniform(0, 1, (7, 33)))
    world = np.where(np.arange(7)[:, None, None] == 2, np.nan, rng.uniform(-1, 1, (7, 33, 3)))
    kept(
        tmp_path, 3000, movement=np.repeat("perturbed", 7), album="perturbed",
        camera_matrix=matrices, camera="wide", look="second", dress="street",
        k1=np.linspace(-0.2, 0.1, 7), frame_px=(1920, 1080), heavy_xy_px=heavy,
        heavy_world_m=world, heavy_score=heavy_score,
    )  # fmt: skip
    kept(tmp_path, 3400, movement=np.repeat("perturbed", 7), heavy_xy_px=heavy,
         heavy_world_m=world, heavy_score=heavy_score, album="perturbed", camera="wide",
         look="first", dress="uniform", k1=0.0, frame_px=(1280, 720))  # fmt: skip
    kept(tmp_path, 500)
    paths = gather([tmp_path], recipe().stills, tmp_path / "rows")
    names = [path.name for path in paths]
    assert names == [
        "stills-closeout-1.parquet", "stills-wide-perturbed-1.parquet", "held-out-wide.parquet",
    ]  # fmt: skip
    old, cast = read_casts(paths[:2])
    assert (old.family, old.dress, old.heavy) == ("closeout/phone/first", "uniform", None)
    assert (cast.family, cast.dress) == ("perturbed/wide/second", "street")
    assert cast.frame_px.tolist() == [1920, 1080]
    assert cast.k1 == pytest.approx(np.linspace(-0.2, 0.1, 7))
    for camera, matrix in zip(cast.cameras, matrices, strict=True):
        assert camera.matrix == pytest.approx(matrix, abs=1e-3)
    read = [0, 1, 3, 4, 5, 6]
    (by_heavy,) = read_casts(paths[:2], model="heavy")
    assert len(by_heavy) == 6 and len(cast) == 7
    assert by_heavy.xy_px == pytest.approx(heavy[read], abs=1 / 64)
    assert by_heavy.score == pytest.approx(heavy_score[read], abs=1 / 500)
    assert by_heavy.truth["knee_flexion_deg"].tolist() == (
        cast.truth["knee_flexion_deg"][read].tolist()
    )
    assert [camera.matrix[0, 2] for camera in by_heavy.cameras] == [
        cast.cameras[i].matrix[0, 2] for i in read
    ]


def test_casts_go_where_their_purpose_and_movement_say(tmp_path):
    kept(tmp_path, 500)
    kept(tmp_path, 420, movement=np.repeat("varied", 7))
    kept(tmp_path, 1000)
    kept(tmp_path, 2000, movement=np.array(["run"] * 3 + ["jump"] * 4))
    paths = gather([tmp_path], recipe().stills, tmp_path / "rows")
    assert sorted(path.name for path in paths) == [
        "captured.parquet",
        "held-out.parquet",
        "stills-closeout-1.parquet",
        "stills-varied-1.parquet",
    ]
    (captured,) = read_casts([tmp_path / "rows" / "captured.parquet"])
    assert captured.album == "captured"
    assert captured.movement.tolist() == ["run"] * 3 + ["jump"] * 4
    assert read_casts(paths, ["varied"])[0].number == 420


def test_what_cannot_be_kept_is_said(tmp_path):
    kept(tmp_path, 500, base_width=np.full(7, 40.0))
    with pytest.raises(ValueError, match=r"cast-0500\.npz: base_width: 40 cannot be kept as int16"):
        gather([tmp_path], recipe().stills, tmp_path / "rows")
    with pytest.raises(ValueError, match=r"no cast-NNNN\.npz in"):
        gather([tmp_path / "rows"], recipe().stills, tmp_path / "rows")


@given(
    st.lists(st.floats(-30, 30) | st.just(float("nan")), min_size=1, max_size=20),
    st.sampled_from([1e-3, 0.01, 1 / 32]),
)
def test_any_number_comes_back_within_half_a_step(values, step):
    column = Quantised("x", step)
    back = column.decoded(_chunked(column.encoded(values)))
    np.testing.assert_allclose(back, values, atol=step / 2 * (1 + 1e-9))


def test_unsigned_columns_have_no_room_for_what_is_not_known():
    with pytest.raises(ValueError, match="score: nan cannot be kept as uint8"):
        Quantised("score", 1 / 255, (), "uint8").encoded([0.5, np.nan])


def test_feet_truth_is_the_range_by_pinhole_arithmetic():
    """Of rows in the tree: from a camera 2 m up, 8 m off, a foot seen right below the hips at
    ground level is at height 0."""
    cast = read_casts([HELD_OUT])[0]
    height_m, range_m = feet_truth(cast)
    for i, camera in enumerate(cast.cameras):
        assert range_m[i] == pytest.approx(_level_range(camera, cast.ground_m[i]), abs=0.2)
    # Lines of sight to standing feet pass near the ground; to running ones a little above or below.
    assert np.abs(np.median(height_m)) < 0.1


def _level_range(camera: Camera, xy_m) -> float:
    return float(np.linalg.norm(xy_m - camera.centre_m[:2]))


def _chunked(array):
    import pyarrow as pa

    return pa.chunked_array([array])
