"""What is fitted to what: things in a picture, points of a layout, and a camera's parameters.

Parameters are seven numbers: log focal length over the picture's longer side, rotation vector,
and centre in metres, as in ``from_marks``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.camera.pinhole import Camera
from posecheck.ground.find.blobs import Spots
from posecheck.ground.from_points import CONE_SD_M, FOCAL_PRIOR, FOCAL_PRIOR_SD
from posecheck.maths.arrays import FloatArray
from posecheck.practice.layout import Layout

POSTS = ("goal-left", "goal-right")

MAX_SPOTS = 10
"""More coloured things than this, and only the widest are tried."""

ROLL_SD = np.radians(2.5)
"""People notice a horizon more crooked than this."""

HEIGHT_M, HEIGHT_SD_LOG = 2.0, 0.6
"""Of the lens; with the range below, the beliefs about where a phone is held."""


class Things:
    """Spots and posts in one row, and the layout's points they may be."""

    def __init__(self, spots: Spots, layout: Layout) -> None:
        widest = np.argsort(-spots.width_px, kind="stable")[:MAX_SPOTS]
        self.number = np.concatenate(
            [widest, len(spots.width_px) + np.arange(len(spots.post_px))]
        ).astype(np.int64)
        self.n_spots, n_posts = len(widest), len(spots.post_px)
        self.xy_px = np.concatenate([spots.foot_px[widest], spots.post_px])
        self.width_px = np.concatenate([spots.width_px[widest], np.full(n_posts, np.nan)])
        self.height_px = np.concatenate([np.full(len(widest), np.nan), spots.post_height_px])
        self.sd_px = np.concatenate([spots.base_sd_px[widest], np.full(n_posts, 1.5)])
        self.whole = np.concatenate([spots.whole[widest], np.zeros(n_posts, dtype=bool)])
        cones = sorted(layout.cones)
        posts = [name for name in POSTS if name in layout.points]
        self.names = [*cones, *posts]
        self.n_cones = len(cones)
        self.xyz_m = np.array([[*layout.points[name], 0.0] for name in self.names]).reshape(-1, 3)
        is_spot = np.arange(len(self.xy_px)) < self.n_spots
        is_cone = np.arange(len(self.names)) < self.n_cones
        self.may_be = is_cone[:, None] == is_spot[None, :]  # (names, things)


@dataclass(frozen=True)
class Optics:
    """What parameters mean in a picture.

    Attributes:
        longer_px: longer side of the film's frame.
        middle_px: ``(2,)`` the frame's middle in the picture.
    """

    longer_px: int
    middle_px: FloatArray

    def camera(self, parameters: FloatArray) -> Camera:
        """The camera that ``(7,)`` parameters stand for."""
        focal = np.exp(parameters[0]) * self.longer_px
        matrix = np.array([[focal, 0, self.middle_px[0]], [0, focal, self.middle_px[1]], [0, 0, 1]])
        return Camera(matrix, Rotation.from_rotvec(parameters[1:4]).as_matrix(), parameters[4:7])

    def project(self, parameters: FloatArray, xyz_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """``(n, 7)`` cameras and ``(n, k, 3)`` points to ``(n, k, 2)`` pixels and depths."""
        turn = Rotation.from_rotvec(parameters[:, 1:4]).as_matrix()
        seen = np.einsum("nij,nkj->nki", turn, xyz_m - parameters[:, None, 4:7])
        depth = np.maximum(seen[..., 2], 0.05)
        focal = np.exp(parameters[:, 0]) * self.longer_px
        return seen[..., :2] / depth[..., None] * focal[:, None, None] + self.middle_px, depth


def roll_tilt(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    """``(n,)`` roll and downward tilt of ``(n, 7)`` cameras."""
    up = Rotation.from_rotvec(parameters[:, 1:4]).as_matrix()[:, :, 2]
    return np.arctan2(up[:, 0], -up[:, 1]), np.arcsin(np.clip(-up[:, 2], -1, 1))


def beliefs(parameters: FloatArray) -> FloatArray:
    """``(n, 3)`` how far focal length, roll and height are from a phone's, in its sd."""
    roll, _ = roll_tilt(parameters)
    log_height = np.log(np.maximum(parameters[:, 6], 0.05))
    return np.column_stack(
        [
            (parameters[:, 0] - np.log(FOCAL_PRIOR)) / FOCAL_PRIOR_SD,
            roll / ROLL_SD,
            (log_height - np.log(HEIGHT_M)) / HEIGHT_SD_LOG,
        ]
    )


def expected_px(parameters: FloatArray, things: Things, optics: Optics) -> FloatArray:
    """``(n, names, things, 2)`` where a thing's foot is seen when it is what a name says.

    The lower edge of a cone is its foot's near side, half a width nearer than its middle.
    """
    n, k = len(parameters), len(things.names)
    xyz = np.broadcast_to(things.xyz_m, (n, k, 3))
    middle, depth = optics.project(parameters, xyz)
    drop = parameters[:, 6:7] / np.linalg.norm(xyz - parameters[:, None, 4:7], axis=2)
    lower = 0.5 * drop[..., None] * np.nan_to_num(things.width_px)
    expected = np.repeat(middle[:, :, None], len(things.xy_px), axis=2)
    expected[..., 1] += lower
    expected[depth <= 0.1] = -1e6
    return expected


def expected_sd_px(parameters: FloatArray, things: Things, optics: Optics) -> FloatArray:
    """``(n, names, things)`` how far a thing may be from where it is expected."""
    xyz = np.broadcast_to(things.xyz_m, (len(parameters), len(things.names), 3))
    _, depth = optics.project(parameters, xyz)
    focal = np.exp(parameters[:, 0]) * optics.longer_px
    place = CONE_SD_M * focal[:, None] / depth
    return np.hypot(place[..., None], things.sd_px + 1.0)
