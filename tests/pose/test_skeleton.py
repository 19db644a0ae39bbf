"""Outside source: the landmark list and the limbs that the pose model's own library publishes."""

from __future__ import annotations

import numpy as np
import pytest

from posecheck.pose.skeleton import SKELETON, Skeleton, UnknownKeypoint


def test_names_follow_the_model_library() -> None:
    from mediapipe.tasks.python.vision.pose_landmarker import PoseLandmark

    published = [landmark.name.lower() for landmark in PoseLandmark]
    # The library alone puts the side behind the part here: mouth_left.
    published = [name.replace("mouth_left", "left_mouth") for name in published]
    published = [name.replace("mouth_right", "right_mouth") for name in published]
    assert list(SKELETON.names) == published


def test_limbs_follow_the_model_library() -> None:
    from mediapipe.tasks.python.vision.pose_landmarker import PoseLandmarksConnections

    published = {
        frozenset((limb.start, limb.end)) for limb in PoseLandmarksConnections.POSE_LANDMARKS
    }
    assert {frozenset(edge) for edge in SKELETON.edges} == published
    assert len(SKELETON.edges) == len(published)


def test_index_by_name() -> None:
    assert SKELETON.names[SKELETON.index("left_knee")] == "left_knee"
    assert SKELETON.indices("nose", "right_foot_index") == [0, 32]


@pytest.mark.parametrize(
    ("name", "complaint"),
    [
        ("lft_knee", "unknown keypoint 'lft_knee', did you mean 'left_knee'?"),
        ("zzzzzzzz", "unknown keypoint 'zzzzzzzz'"),  # nothing is near: no guess is offered
    ],
)
def test_unknown_name(name: str, complaint: str) -> None:
    with pytest.raises(UnknownKeypoint) as caught:
        SKELETON.index(name)
    assert str(caught.value) == complaint


def test_every_keypoint_but_the_nose_has_a_twin() -> None:
    paired = {number for pair in SKELETON.pairs for number in pair}
    assert paired == set(range(len(SKELETON))) - {SKELETON.index("nose")}


def test_mirror_swaps_sides_and_undoes_itself() -> None:
    assert SKELETON.names[SKELETON.mirror[SKELETON.index("left_wrist")]] == "right_wrist"
    assert SKELETON.mirror[SKELETON.index("nose")] == SKELETON.index("nose")
    np.testing.assert_array_equal(SKELETON.mirror[SKELETON.mirror], np.arange(len(SKELETON)))


@pytest.mark.parametrize(
    ("names", "edges", "complaint"),
    [
        (("nose", "nose"), (), "names: a keypoint is named twice"),
        (("left_hip",), (), "names: 'left_hip' has no twin 'right_hip'"),
        (("nose",), ((0, 1),), "edges: (0, 1) is not a pair of the 1 keypoints"),
    ],
)
def test_nonsense_is_refused(
    names: tuple[str, ...], edges: tuple[tuple[int, int], ...], complaint: str
) -> None:
    with pytest.raises(ValueError) as caught:
        Skeleton(names, edges)
    assert str(caught.value) == complaint
