"""Bodies that move as people in a motion database were captured moving, hands empty.

The file is not part of this repository: the environment variable POSECHECK_MOTION says where it
is, recipe.toml which it is. Every piece shares one skeleton of 38 joints; our bodies take over its
directions, not its lengths: of trunk, head and feet the turns, of a leg the line from hip to ankle
and the bend of the knee, of an arm the directions of its bones.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from models.files import digest
from models.render.body import BodySpec, Floats
from models.render.gait import knee_flexion
from models.render.limbs import Arms, leg_turns, unit
from models.render.motion import SOLE_M, PlayerMotion, film, rig_of
from models.render.rig import SIDES, Followed, Pose, Rig

VARIABLE = "POSECHECK_MOTION"
SOURCE_FPS = 120
STEP = 4
"""Frames of the capture from one film frame, at 30 a second, to the next."""

KINDS = {
    "basketball_signal": "signal", "directing_traffic": "signal", "basketball": "basketball",
    "jumping": "jump", "running": "run", "soccer": "soccer", "walking": "walk",
}  # fmt: skip
"""What pieces whose names begin so show; the first that fits."""

MOST_OFFSET_DEG = 9.5
"""The skeleton's knees read at most this much when they are straight. Source: where the knees of
standing and walking people end in most pieces (8 to 12 degrees); in others they reach 0."""
_HEAD_UP_DEG = 12.0  # Source: heads of people who walk look this far down, as captured
_FLYING = ("run", "jump", "basketball", "soccer")  # others step on things that are not there
_HOVER_M = 0.05
_MOST_FLIGHT_M = 0.5

_HIPS, _KNEES, _ANKLES = (2, 8), (3, 9), (4, 10)
_SHOULDERS, _ELBOWS, _WRISTS = (21, 30), (22, 31), (23, 32)
_FINGERS, _THUMBS = (24, 33), (28, 37)
_ROOT, _CHEST, _HEAD = 0, 15, 18
_FOOT_JOINTS = (4, 5, 6, 10, 11, 12)
# The capture's rest axes (x left, y up, z forward), and its places (x forward, y left, z up), to
# ours (x right, y forward, z up).
_OF_REST = np.array([[-1.0, 0, 0], [0, 0, 1], [0, 1, 0]])
_OF_PLACES = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])


@dataclass(frozen=True, eq=False)
class Piece:
    """A captured movement in our axes: ``n`` frames at 120 a second.

    Attributes:
        name, kind: as the file has it; what it shows, a value of ``KINDS``.
        joints_m: ``(n, 38, 3)``.
        turns: ``(n, 38, 3, 3)`` of every joint from the rest pose.
        knee_hinges: ``(2, 3)`` what knees turn about, in the rest pose, to the right.
        elbow_hinges: ``(2, 3)``.
    """

    name: str
    kind: str
    joints_m: Floats
    turns: Floats
    knee_hinges: Floats
    elbow_hinges: Floats

    def __len__(self) -> int:
        return len(self.joints_m)

    @cached_property
    def knee_flexion_rad(self) -> Floats:
        """(n, 2) as captured, less what the skeleton reads when a knee is straight."""
        raw = self.raw_knee_flexion_rad
        offset = np.minimum(np.percentile(raw, 1), np.radians(MOST_OFFSET_DEG))
        return np.asarray(np.maximum(raw - offset, 0.0))

    @property
    def raw_knee_flexion_rad(self) -> Floats:
        """(n, 2) pi minus the angle at the knee."""
        j = self.joints_m
        return np.stack(
            [
                knee_flexion(j[:, hip], j[:, knee], j[:, ankle])
                for hip, knee, ankle in zip(_HIPS, _KNEES, _ANKLES, strict=True)
            ],
            axis=1,
        )

    @cached_property
    def flight_m(self) -> Floats:
        """(n,) how high the lower foot is over where it stands, zero for who does not fly."""
        if self.kind not in _FLYING:
            return np.zeros(len(self))
        low = self.joints_m[:, _FOOT_JOINTS, 2].min(axis=1)
        flight = low - np.percentile(low, 5) - _HOVER_M
        return np.asarray(np.clip(flight, 0.0, _MOST_FLIGHT_M))


def motion_file() -> Path:
    """The file that the environment variable names.

    Raises:
        ValueError: it names none.
    """
    path = os.environ.get(VARIABLE)
    if not path:
        raise ValueError(
            f"{VARIABLE}: set it to the file of captured motion that recipe.toml names"
        )
    return Path(path)


@cache
def read_pieces(path: Path, sha256: str | None) -> tuple[Piece, ...]:
    """Every piece of the file, in order of their names.

    Raises:
        ValueError: the file is not the one with this digest (None: any will do).
    """
    if sha256 is not None and digest(path) != sha256:
        raise ValueError(f"{path.name} is not the file of captured motion that recipe.toml names")
    with np.load(path, allow_pickle=False) as file:
        names = sorted(name.partition("/")[2] for name in file.files if name.startswith("joints_"))
        parents, offsets = file["parents"], file["rest_offsets_m"].astype(float)
        return tuple(
            _piece(
                name, parents, offsets, file[f"joints_mm/{name}"].astype(float) / 1000,
                file[f"rotation_vectors/{name}"].astype(float),
            )
            for name in names
        )  # fmt: skip


def _piece(
    name: str, parents: Sequence[int], offsets: Floats, joints_m: Floats, vectors: Floats
) -> Piece:
    # The file's matrices act on rows; ours on columns, hence the sign.
    local = Rotation.from_rotvec(-vectors.reshape(-1, 3)).as_matrix()
    turns = local.reshape(*vectors.shape[:2], 3, 3)
    for joint, parent in enumerate(parents):
        if parent >= 0:
            turns[:, joint] = turns[:, parent] @ turns[:, joint]
    kind = next((kind for start, kind in KINDS.items() if name.startswith(start)), name)
    rest = offsets @ _OF_REST.T
    ahead, across = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])
    legs = [rest[knee] for knee in _KNEES]
    hinges = np.array([unit(np.cross(leg, ahead)) for leg in legs])
    hinges *= np.sign(hinges @ across)[:, None]
    # Elbows bend forward and up from arms held out, palms down: about an axis between.
    elbows = np.array([[0.0, 0.5, -0.87], [0.0, -0.5, 0.87]])
    return Piece(name, kind, joints_m @ _OF_PLACES.T, _OF_REST @ turns @ _OF_REST.T, hinges, elbows)


@dataclass(frozen=True)
class Moment:
    """A frame of a piece."""

    piece: Piece
    frame: int


def drawn_moments(
    rng: np.random.Generator, pieces: Sequence[Piece], kinds: Sequence[str]
) -> list[Moment]:
    """For every kind in the list a piece of it and a frame, not the first or last ones.

    Raises:
        ValueError: no piece is of that kind.
    """
    moments = []
    for kind in kinds:
        having = [piece for piece in pieces if piece.kind == kind]
        if not having:
            raise ValueError(f"no captured motion shows {kind!r}")
        piece = having[int(rng.integers(len(having)))]
        moments.append(Moment(piece, int(rng.integers(STEP, len(piece) - STEP))))
    return moments


def plan_moments(rig: Rig, moments: Sequence[Moment], heading_rad: Floats | float = 0.0) -> Pose:
    """The body in every one of these frames, hips in one place, turned left by a heading."""
    turn = Rotation.from_euler("z", np.broadcast_to(heading_rad, len(moments))[:, None]).as_matrix()

    def frames(pick: Floats) -> Floats:
        return np.asarray(np.einsum("nij,n...j->n...i", turn, pick))

    joints = frames(np.array([m.piece.joints_m[m.frame] for m in moments]))
    turns = np.einsum("nij,nkjl->nkil", turn, np.array([m.piece.turns[m.frame] for m in moments]))
    flexion = np.array([m.piece.knee_flexion_rad[m.frame] for m in moments])
    thighs, shanks = [], []
    for i, side in enumerate(SIDES):
        line = joints[:, _ANKLES[i]] - joints[:, _HIPS[i]]
        hinges = np.array([m.piece.knee_hinges[i] for m in moments])
        hinge = np.einsum("nij,nj->ni", turns[:, _HIPS[i]], hinges)
        thigh, shank = leg_turns(rig, side, line, hinge, flexion[:, i])
        thighs.append(thigh)
        shanks.append(shank)
    up = Rotation.from_euler("x", np.radians(_HEAD_UP_DEG)).as_matrix()
    return rig.follow(
        Followed(
            pelvis=turns[:, _ROOT],
            chest=turns[:, _CHEST],
            head=turns[:, _HEAD] @ up,
            thigh=np.stack(thighs, axis=1),
            shank=np.stack(shanks, axis=1),
            foot=turns[:, list(_ANKLES)],
            arms=_arms(moments, joints, turns),
        )
    )


def _arms(moments: Sequence[Moment], joints: Floats, turns: Floats) -> Arms:
    def between(a: Sequence[int], b: Sequence[int]) -> Floats:
        return unit(joints[:, list(b)] - joints[:, list(a)])

    hinges = np.array([m.piece.elbow_hinges for m in moments])
    hinge = np.einsum("nsij,nsj->nsi", turns[:, list(_SHOULDERS)], hinges)
    return Arms(
        upper=between(_SHOULDERS, _ELBOWS),
        fore=between(_ELBOWS, _WRISTS),
        hinge=hinge,
        fingers=turns[:, list(_WRISTS)]
        @ np.array([1.0, 0.0, 0.0])
        * np.array([-1.0, 1.0])[:, None],
        thumb=turns[:, list(_WRISTS)] @ np.array([0.0, 1.0, 0.0]),
    )


def grounded(rig: Rig, pose: Pose, flight_m: Floats, place_m: Floats | None = None) -> None:
    """Move every frame's body so that its lowest point is as high over its soles as it flies."""
    low = rig.body.skin(pose.turns, pose.places)[..., 2].min(axis=1)
    move = np.zeros((len(low), 3))
    if place_m is not None:
        move[:, :2] = place_m
    move[:, 2] = SOLE_M - low + flight_m
    pose.places[...] += move[:, None]
    pose.palms[..., :3, 3] += move[:, None]


def plan_stills(
    spec: BodySpec, pieces: Sequence[Piece], kinds: Sequence[str], rng: np.random.Generator
) -> PlayerMotion:
    """A pose of every kind in the list, three film frames for each, the middle one meant."""
    moments = [
        Moment(each.piece, each.frame + step)
        for each in drawn_moments(rng, pieces, kinds)
        for step in (-STEP, 0, STEP)
    ]
    rig = rig_of(spec)
    pose = plan_moments(rig, moments)
    grounded(rig, pose, _scaled(rig, moments, [m.piece.flight_m[m.frame] for m in moments]))
    t_s = np.arange(len(moments)) * STEP / SOURCE_FPS
    return film((t_s, rig, pose), free_hands=True)


def plan_piece(
    spec: BodySpec,
    piece: Piece,
    first: int,
    seconds: float,
    middle_m: tuple[float, float],
    heading_rad: float,
) -> PlayerMotion:
    """So long a part of a piece, 30 frames a second, over the field, flight and all.

    The path lies about middle_m, and its first frame faces heading_rad to the left of what it
    faced as captured.
    """
    count = min(round(seconds * SOURCE_FPS / STEP), (len(piece) - first - 1) // STEP + 1)
    moments = [Moment(piece, first + STEP * k) for k in range(count)]
    rig = rig_of(spec)
    pose = plan_moments(rig, moments, heading_rad)
    path = np.array([piece.joints_m[m.frame, _ROOT] for m in moments])
    path = Rotation.from_euler("z", heading_rad).apply(path)[:, :2]
    place = np.column_stack([_scaled(rig, moments, axis) for axis in path.T])
    place += np.array(middle_m) - (place.max(axis=0) + place.min(axis=0)) / 2
    flight = _scaled(rig, moments, [piece.flight_m[m.frame] for m in moments])
    grounded(rig, pose, flight, place)
    return film((np.arange(count) * STEP / SOURCE_FPS, rig, pose), free_hands=True)


def _scaled(rig: Rig, moments: Sequence[Moment], lengths_m: Sequence[float] | Floats) -> Floats:
    """Lengths (n,) of the captured skeleton, as much longer as our legs are."""
    j = moments[0].piece.joints_m[0]
    legs = [
        np.linalg.norm(j[a] - j[b]) for a, b in ((_HIPS[0], _KNEES[0]), (_KNEES[0], _ANKLES[0]))
    ]
    return np.asarray(lengths_m) * rig.leg / float(np.sum(legs))
