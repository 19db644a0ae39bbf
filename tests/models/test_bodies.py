"""Bodies posed limb by limb and as somebody was captured, against a skeleton posed by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from extra import needs_models_extra
from scipy.spatial.transform import Rotation

from models.recipe import recipe
from models.render import truth
from models.render.body import BodySpec
from models.render.database import motion_file, plan_piece, plan_stills, read_pieces
from models.render.gait import knee_flexion
from models.render.limbs import bent_toward, cleared_of_capsule, leg_turns
from models.render.motion import REGIONS, SOLE_M, PlayerMotion, film, rig_of
from models.render.outfit import Outfit, Street
from models.render.perturbed import plan_perturbed
from models.render.poses import shown
from models.render.rig import Followed
from models.render.who import random_body_wide, random_dress

pytestmark = [
    needs_models_extra("anny", "torch"),
    pytest.mark.filterwarnings("ignore"),  # torch and anny warn about themselves
]

CHILD = BodySpec("female", 8, 1.22, 0.4, 0.7)
TALL = BodySpec("male", 30, 2.03, 0.6, 0.4)


@pytest.fixture(scope="module")
def perturbed() -> PlayerMotion:
    return plan_perturbed(BodySpec(), 120, np.random.default_rng(0), on_stick=False)


@pytest.mark.parametrize("spec", [CHILD, TALL])
def test_knees_bend_as_asked_each_by_itself(spec: BodySpec) -> None:
    rng = np.random.default_rng(1)
    rig, n = rig_of(spec), 60
    asked = np.radians(rng.uniform(0, 130, (n, 2)))
    asked[:20] = np.radians(rng.uniform(0, 10, (20, 2)))
    line = rng.normal((0, 0, -1), 0.3, (n, 3))
    legs = [
        leg_turns(rig, s, line, np.tile([1.0, 0, 0], (n, 1)), asked[:, i])
        for i, s in enumerate((".L", ".R"))
    ]
    thigh, shank = (np.stack([leg[k] for leg in legs], axis=1) for k in range(2))
    still = np.tile(np.eye(3), (n, 1, 1))
    both = np.tile(np.eye(3), (n, 2, 1, 1))
    some, shaft = np.full(n, 0.4), np.tile([1.0, 0, 0], (n, 1))
    pose = rig.follow(
        Followed(still, still, still, thigh, shank, both, some, some, shaft, grip_m=some)
    )
    motion = film((np.arange(n) / 30, rig, pose))
    got = truth.knee_flexion_deg(motion)
    assert got == pytest.approx(np.degrees(asked), abs=0.5)
    way = truth.joint(motion.joints_m, "left_ankle") - truth.joint(motion.joints_m, "left_thigh")
    along = (way * line).sum(axis=1) / np.linalg.norm(way, axis=1) / np.linalg.norm(line, axis=1)
    assert along.min() > 0.9999


def test_limbs_are_independent_and_reach_down_to_straight(perturbed: PlayerMotion) -> None:
    knees = truth.knee_flexion_deg(perturbed)[1::3]
    lean = truth.trunk_lean_deg(perturbed.joints_m)[1::3]
    assert (knees < 5).mean() > 0.12
    assert (knees > 90).mean() > 0.08
    assert abs(np.corrcoef(knees.T).min()) < 0.65
    assert abs(np.corrcoef([knees.min(axis=1), lean]).min()) < 0.35
    assert lean.min() < 4
    assert lean.max() > 50


def test_perturbed_bodies_stand_on_the_ground(perturbed: PlayerMotion) -> None:
    low = perturbed.vertices_m[..., 2].min(axis=1)
    assert low == pytest.approx(np.full(len(low), SOLE_M), abs=1e-4)
    foot = perturbed.region == REGIONS.index("foot")
    on_foot = perturbed.vertices_m[:, foot, 2].min(axis=1) < SOLE_M + 0.03
    assert on_foot.mean() > 0.97  # a hand may be lower


def test_bones_keep_their_length_with_free_arms(perturbed: PlayerMotion) -> None:
    for a, b in (("shoulder", "elbow"), ("elbow", "wrist"), ("thigh", "knee"), ("knee", "ankle")):
        for side in ("left", "right"):
            bone = truth.joint(perturbed.joints_m, f"{side}_{a}") - truth.joint(
                perturbed.joints_m, f"{side}_{b}"
            )
            assert np.ptp(np.linalg.norm(bone, axis=1)) < 1e-4


def test_a_limb_bends_by_the_angle_and_toward_the_hint() -> None:
    """By hand: an arm that hangs and bends forward by 90 degrees points forward."""
    upper, hint = np.array([[0.0, 0, -1]]), np.array([[0.0, 1, -5]])
    fore, hinge = bent_toward(upper, hint, np.array([np.pi / 2]))
    assert fore[0] == pytest.approx([0, 1, 0], abs=1e-12)
    assert hinge[0] == pytest.approx([1, 0, 0], abs=1e-12)


def test_a_hand_inside_a_thigh_comes_out_at_its_surface() -> None:
    start, end = np.array([[0.0, 0, 1]]), np.array([[0.0, 0, 0]])
    points = np.array([[0.03, 0.04, 0.5]])
    assert cleared_of_capsule(points, start, end, 0.1)[0] == pytest.approx([0.06, 0.08, 0.5])
    assert cleared_of_capsule(points, start, end, 0.04)[0] == pytest.approx([0.03, 0.04, 0.5])


# -- a capture made up: a skeleton posed by hand -------------------------------------------------

PARENTS = [-1, 0, 1, 2, 3, 4, 5, 0, 7, 8, 9, 10, 11, 0, 13, 14, 15, 16, 17, 18, 15, 20, 21, 22, 23,
           24, 25, 23, 27, 15, 29, 30, 31, 32, 33, 34, 32, 36]  # fmt: skip
LEG_M = 0.42


def _skeleton() -> np.ndarray:
    """(38, 3) offsets from the parent: x left, y up, z forward; legs straight down, arms out."""
    offsets = np.zeros((38, 3))
    for first, side in ((1, 1.0), (7, -1.0)):
        offsets[first + 1] = (0.1 * side, -0.1, 0.0)
        offsets[first + 2] = offsets[first + 3] = (0, -LEG_M, 0)
        offsets[first + 4] = (0, -0.05, 0.12)
        offsets[first + 5] = (0, 0, 0.06)
    offsets[14] = offsets[15] = (0, 0.12, 0)
    offsets[17] = offsets[18] = offsets[19] = (0, 0.09, 0)
    for first, side in ((20, 1.0), (29, -1.0)):
        offsets[first + 1] = (0.2 * side, 0.15, 0)
        offsets[first + 2] = (0.28 * side, 0, 0)
        offsets[first + 3] = (0.25 * side, 0, 0)
        offsets[first + 5] = (0.05 * side, 0, 0)
        offsets[first + 8] = (0.03 * side, 0, 0.03)
    return offsets


def _made_up(path: Path) -> tuple[np.ndarray, np.ndarray]:
    """A piece in which knees bend from 0 to 90 and 40 degrees while the trunk bows by up to 30.

    The file's matrices act on rows, so a turn's vector is minus that of the turn. He walks 1.2 m
    forward with level thighs' turns and the shanks turned back.
    """
    n = 121
    share = np.linspace(0, 1, n)
    bend = np.stack([90 * share, 40 * share], axis=1)
    lean = 30 * share
    turns = np.zeros((n, 38, 3))  # by the right hand, degrees: x is to the left
    turns[:, 14, 0] = lean
    for i, (hip, knee, ankle) in enumerate(((2, 3, 4), (8, 9, 10))):
        turns[:, hip, 0] = -bend[:, i] / 2
        turns[:, knee, 0] = bend[:, i]
        turns[:, ankle, 0] = -bend[:, i] / 2
    turns[:, 22, 1] = -50.0  # the left elbow bends forward
    offsets = _skeleton()
    local = Rotation.from_euler("xyz", turns.reshape(-1, 3), degrees=True)
    matrices = local.as_matrix().reshape(n, 38, 3, 3)
    places = np.zeros((n, 38, 3))
    whole = matrices.copy()
    for joint, parent in enumerate(PARENTS):
        if parent >= 0:
            whole[:, joint] = whole[:, parent] @ matrices[:, joint]
            places[:, joint] = places[:, parent] + whole[:, parent] @ offsets[joint]
    places[..., 1] -= places[:, [6, 12], 1].min(axis=1)[:, None]
    places[..., 2] += 1.2 * share[:, None]
    forward_left_up = places[..., [2, 0, 1]]
    np.savez(
        path,
        parents=np.array(PARENTS),
        rest_offsets_m=offsets,
        **{
            "joints_mm/walking_7": np.rint(1000 * forward_left_up).astype(np.int16),
            "rotation_vectors/walking_7": -local.as_rotvec().reshape(n, 38, 3),
        },
    )
    return bend, lean


@pytest.fixture(scope="module")
def capture(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray, np.ndarray]:
    path = tmp_path_factory.mktemp("capture") / "captured.npz"
    return path, *_made_up(path)


@pytest.mark.parametrize("spec", [CHILD, TALL])
def test_a_captured_body_bends_as_the_capture(
    capture: tuple[Path, np.ndarray, np.ndarray], spec: BodySpec
) -> None:
    path, bend, lean = capture
    (piece,) = read_pieces(path, None)
    assert piece.kind == "walk"
    assert np.degrees(piece.raw_knee_flexion_rad) == pytest.approx(bend, abs=0.5)
    j = piece.joints_m
    assert knee_flexion(j[:, 2], j[:, 3], j[:, 4])[-1] == pytest.approx(np.pi / 2, abs=0.01)
    motion = plan_piece(spec, piece, 0, 1.0, (1.0, 9.0), np.radians(90))
    asked = bend[::4][: len(motion.t_s)]
    got = truth.knee_flexion_deg(motion)
    # The first hundredth of what the knees read is taken for a straight one.
    assert got == pytest.approx(asked, abs=1.5)
    # By hand: the capture bends 0.22 m above its hips and 0.27 m below its shoulders; our spines
    # bend along their length.
    turned = np.radians(lean[-1])
    by_hand = np.degrees(np.arctan2(0.27 * np.sin(turned), 0.22 + 0.27 * np.cos(turned)))
    leaned = truth.trunk_lean_deg(motion.joints_m)
    assert leaned[-1] - leaned[0] == pytest.approx(by_hand, abs=5.0)
    # To the left, as far as 1.2 m of a skeleton with 0.84 m of legs.
    way = truth.ground_track(motion.joints_m)
    gone = way[-1] - way[0]
    assert gone[0] == pytest.approx(-1.2 * rig_of(spec).leg / (2 * LEG_M), rel=0.12)
    assert abs(gone[1]) < 0.03
    assert (way.max(axis=0) + way.min(axis=0)) / 2 == pytest.approx([1.0, 9.0], abs=0.2)
    assert motion.vertices_m[..., 2].min(axis=1) == pytest.approx(
        np.full(len(way), SOLE_M), abs=1e-3
    )


def test_captured_arms_are_free(capture: tuple[Path, np.ndarray, np.ndarray]) -> None:
    """By hand: upright arms are held out, the left one bent forward by 50 degrees."""
    (piece,) = read_pieces(capture[0], None)
    motion = plan_piece(BodySpec(), piece, 0, 1.0, (0.0, 9.0), 0.0)
    at = {name: truth.joint(motion.joints_m, name)[0] for name in (
        "left_shoulder", "left_elbow", "left_wrist", "right_shoulder", "right_elbow", "right_wrist",
    )}  # fmt: skip

    def way(a: str, b: str) -> np.ndarray:
        return np.asarray((at[b] - at[a]) / np.linalg.norm(at[b] - at[a]))

    assert way("right_shoulder", "right_elbow") == pytest.approx([1, 0, 0], abs=0.01)
    assert way("right_elbow", "right_wrist") == pytest.approx([1, 0, 0], abs=0.01)
    assert way("left_shoulder", "left_elbow") == pytest.approx([-1, 0, 0], abs=0.01)
    bent = np.radians(50)
    assert way("left_elbow", "left_wrist") == pytest.approx(
        [-np.cos(bent), np.sin(bent), 0], abs=0.01
    )
    assert motion.free_hands


def test_captured_poses_come_three_frames_each(
    capture: tuple[Path, np.ndarray, np.ndarray],
) -> None:
    pieces = read_pieces(capture[0], None)
    motion = plan_stills(BodySpec(), pieces, ["walk"] * 4, np.random.default_rng(0))
    knees = truth.knee_flexion_deg(motion)[:, 0].reshape(4, 3)
    assert np.diff(knees, axis=1) == pytest.approx(np.full((4, 2), 3.0), abs=0.4)  # 90 a second
    with pytest.raises(ValueError, match="no captured motion shows 'jump'"):
        plan_stills(BodySpec(), pieces, ["jump"], np.random.default_rng(0))


def test_a_file_that_is_not_the_recipes_is_refused(
    capture: tuple[Path, np.ndarray, np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(ValueError, match=r"captured\.npz is not the file"):
        read_pieces(capture[0], recipe().stills.poses.database_sha256)
    monkeypatch.delenv("POSECHECK_MOTION", raising=False)
    with pytest.raises(ValueError, match="POSECHECK_MOTION: set it to"):
        motion_file()


def test_poses_are_named_by_what_they_show() -> None:
    poses = recipe().stills.poses
    names = shown("database", 60, poses)
    assert {name: int((names == name).sum()) for name in poses.database} == dict.fromkeys(
        poses.database, 10
    )
    assert set(shown("perturbed", 5, poses)) == {"perturbed"}
    assert list(shown("captured", 6, poses)) == list(np.repeat(poses.captured, 2))


# -- who and in what -----------------------------------------------------------------------------


def test_bodies_are_children_and_two_metre_men() -> None:
    rng = np.random.default_rng(0)
    drawn = [random_body_wide(rng) for _ in range(400)]
    heights = np.array([each.height_m for each in drawn])
    assert heights.min() < 1.3
    assert heights.max() > 1.95
    assert 0.4 < np.mean([each.sex == "female" for each in drawn]) < 0.6
    motion = plan_perturbed(CHILD, 1, rng, on_stick=False)
    rest = motion.body.vertices_m
    assert np.ptp(rest[:, 2]) == pytest.approx(1.22, abs=1e-4)


def test_loose_clothes_stand_off_the_body_and_nobody_carries_a_stick(
    perturbed: PlayerMotion,
) -> None:
    rng = np.random.default_rng(5)
    dresses = [random_dress(rng, street=True) for _ in range(300)]
    tops = [each.street.top for each in dresses if each.street is not None]
    assert len(tops) == 300
    assert min(tops) < 0.5
    assert max(tops) > 2.0
    wide = {}
    for name, top in (("tight", 0.4), ("loose", 2.4)):
        chosen = replace(dresses[0], street=Street(top=top))
        jersey = Outfit(perturbed, chosen, 1).meshes(1)[1]
        wide[name] = np.ptp(jersey.points, axis=0)[:2].min()
    assert 0.02 < wide["loose"] - wide["tight"] < 0.3
    uniform = random_dress(rng, street=False)
    plain = Outfit(perturbed, uniform, 1)
    points = len(plain.meshes(1)[0].points)
    held = plan_perturbed(BodySpec(), 1, rng, on_stick=True)
    with_stick = Outfit(held, uniform, 1)
    assert len(with_stick.meshes(1)[0].points) - points == len(plain.stick.points)
