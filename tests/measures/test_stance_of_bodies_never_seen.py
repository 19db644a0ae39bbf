"""The stance of bodies that no fit has seen, in single pictures whose truth is exact.

Limits are what the net in use measures and a tenth. Four of the ten bodies are filmed badly and
hidden on purpose in part of their pictures, as in ``models/STANCE_CARD.md``.

``models/stills_held_out.parquet`` holds what the pose model read in rendered pictures, and the
truth; no figure of posecheck's own goes into that truth. That these bodies took part in no fit is
kept by their numbers, which are above all that are fitted on.
"""

from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from posecheck.ground.camera import Camera
from posecheck.keypoints.skeleton import SKELETON
from posecheck.measures import stance
from posecheck.measures.body_view import BodyView, along_sight
from posecheck.measures.stance_net import default_net

SLICE = Path(__file__).parents[2] / "models" / "stills_held_out.parquet"


@pytest.fixture(scope="module")
def pictures():
    table = pq.read_table(SLICE)
    return {name: np.array(table[name].to_pylist(), dtype=float) for name in table.column_names}


@pytest.fixture(scope="module")
def view(pictures):
    n = len(pictures["cast"])
    seen = [
        along_sight(
            Camera(
                pictures["camera_matrix"][i].reshape(3, 3),
                pictures["camera_rotation"][i].reshape(3, 3),
                pictures["camera_centre_m"][i],
            ),
            pictures["xy_px"][i].reshape(33, 2),
            pictures["world_m"][i].reshape(33, 3),
        )
        for i in range(n)
    ]
    return BodyView(
        *(np.array(part) for part in zip(*seen, strict=True)),
        score=pictures["score"],
        height_px=np.ptp(pictures["xy_px"].reshape(n, 33, 2)[..., 1], axis=1),
    )


@pytest.fixture(scope="module")
def knees(pictures):
    return pictures["knee_flexion_deg"].min(axis=1)


def by_formulas(body_m):
    at = {name: body_m[:, SKELETON.index(name)] for name in SKELETON.names}
    return np.degrees(
        stance.straighter_leg(
            *(
                stance.knee_flexion(*(at[f"{side}_{part}"] for part in ("hip", "knee", "ankle")))
                for side in ("left", "right")
            )
        )
    )


def test_bodies_are_of_those_kept_out_of_every_fit(pictures):
    assert pictures["cast"].min() >= 1000
    assert len(set(pictures["cast"])) >= 5
    assert len(pictures["cast"]) >= 200


@pytest.mark.parametrize(
    ("name", "within"),
    [
        ("knee_bend_deg", 6.0),  # 5.4 measured
        ("trunk_lean_deg", 3.8),  # 3.5
        ("hip_drop", 0.024),  # 0.022
        ("hand_reach", 0.061),  # 0.056
        ("base_width", 0.29),  # 0.26
    ],
)
def test_a_single_picture_is_read_this_well(pictures, view, knees, name, within):
    truth = knees if name == "knee_bend_deg" else pictures[name]
    off = default_net().read(view)[name].value - truth
    assert np.abs(off).mean() <= within


def test_better_than_the_pose_model_s_own_body(view, knees):
    ours = np.abs(default_net().read(view)["knee_bend_deg"].value - knees).mean()
    plain = np.abs(by_formulas(view.body_m) - knees).mean()
    assert ours <= 0.46 * plain  # 0.42 measured


def test_deeper_knees_read_deeper_from_every_side(view, knees):
    read = default_net().read(view)["knee_bend_deg"].value
    for low, high in ((0, 60), (60, 120), (120, 181)):
        seen = (view.view_deg >= low) & (view.view_deg < high)
        assert np.corrcoef(read[seen], knees[seen])[0, 1] >= 0.93  # 0.95 measured


def test_nine_truths_in_ten_lie_in_the_room_left(view, knees):
    told = default_net().read(view)["knee_bend_deg"]
    inside = (knees >= told.value - told.below) & (knees <= told.value + told.above)
    assert 0.85 <= inside.mean() <= 0.95
    for tall in (view.height_px < 200, view.height_px >= 200):
        assert inside[tall].mean() >= 0.8


def test_the_room_is_wider_where_readings_are_worse(view, knees):
    """A fifth of the pictures with the widest room against the fifth with the narrowest."""
    told = default_net().read(view)["knee_bend_deg"]
    off, room = np.abs(told.value - knees), told.below + told.above
    narrow, wide = np.quantile(room, [0.2, 0.8])
    assert off[room >= wide].mean() >= 4 * off[room <= narrow].mean()  # 5.7 measured
