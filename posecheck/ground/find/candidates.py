"""What is assigned to what: blobs in a picture, points of a layout, and a camera's parameters.

Parameters are seven numbers: log focal length over the picture's longer side, rotation vector,
and centre in metres, as in ``from_points``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.camera.phone import PHONE
from posecheck.camera.pinhole import Camera
from posecheck.ground.find.blobs import Blobs
from posecheck.ground.find.tuning import (
    LEAST_HEIGHT_M,
    MAX_BLOBS,
    MORE_FOOT_SD_PX,
    POST_FOOT_SD_PX,
)
from posecheck.ground.tuning import CONE_SD_M, LEAST_DEPTH_M
from posecheck.maths.arrays import FloatArray
from posecheck.practice.layout import Layout

POSTS = ("goal-left", "goal-right")
"""Names of the goal posts in a layout."""


class Candidates:
    """Blobs and posts in one row, and the layout's points that they may be.

    Attributes:
        number: ``(k,)`` of each candidate among the picture's blobs, or among its posts after all
            blobs.
        n_blobs: how many of the candidates are blobs; they come first.
        xy_px, width_px, height_px, sd_px, whole: ``(k, 2)`` or ``(k,)`` foot, width (NaN for a
            post), height (NaN for a blob), standard deviation of the foot, and whether no edge of
            the picture cuts it.
        names: the layout's points, cones first.
        n_cones: how many of them are cones.
        xyz_m: ``(names, 3)`` where they are.
        may_be: ``(names, k)`` True where the kinds agree.
    """

    def __init__(self, blobs: Blobs, layout: Layout) -> None:
        widest = np.argsort(-blobs.width_px, kind="stable")[:MAX_BLOBS]
        self.number = np.concatenate(
            [widest, len(blobs.width_px) + np.arange(len(blobs.post_px))]
        ).astype(np.int64)
        self.n_blobs, n_posts = len(widest), len(blobs.post_px)
        self.xy_px = np.concatenate([blobs.foot_px[widest], blobs.post_px])
        self.width_px = np.concatenate([blobs.width_px[widest], np.full(n_posts, np.nan)])
        self.height_px = np.concatenate([np.full(len(widest), np.nan), blobs.post_height_px])
        self.sd_px = np.concatenate([blobs.base_sd_px[widest], np.full(n_posts, POST_FOOT_SD_PX)])
        self.whole = np.concatenate([blobs.whole[widest], np.zeros(n_posts, dtype=bool)])
        cones = sorted(layout.cones)
        posts = [name for name in POSTS if name in layout.points]
        self.names = [*cones, *posts]
        self.n_cones = len(cones)
        self.xyz_m = np.array([[*layout.points[name], 0.0] for name in self.names]).reshape(-1, 3)
        is_blob = np.arange(len(self.xy_px)) < self.n_blobs
        is_cone = np.arange(len(self.names)) < self.n_cones
        self.may_be = is_cone[:, None] == is_blob[None, :]  # (names, candidates)


@dataclass(frozen=True)
class Optics:
    """The picture that a camera's parameters refer to.

    Attributes:
        longer_px: longer side of the film's frame.
        middle_px: ``(2,)`` the frame's middle, in pixels of the picture.
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
        depth = np.maximum(seen[..., 2], LEAST_DEPTH_M)
        focal = np.exp(parameters[:, 0]) * self.longer_px
        return seen[..., :2] / depth[..., None] * focal[:, None, None] + self.middle_px, depth


def roll_tilt(parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    """``(n,)`` roll and downward tilt, radians, of ``(n, 7)`` cameras."""
    up = Rotation.from_rotvec(parameters[:, 1:4]).as_matrix()[:, :, 2]
    return np.arctan2(up[:, 0], -up[:, 1]), np.arcsin(np.clip(-up[:, 2], -1, 1))


def prior_misses(parameters: FloatArray) -> FloatArray:
    """``(n, 4)`` focal length, roll, tilt and height against the prior of a phone, in its sd."""
    roll, tilt = roll_tilt(parameters)
    return np.column_stack(
        [
            PHONE.lens.misses(parameters[:, 0]),
            PHONE.roll.misses(roll),
            PHONE.tilt.misses(tilt),
            PHONE.log_height.misses(np.log(np.maximum(parameters[:, 6], LEAST_HEIGHT_M))),
        ]
    )


def expected_px(parameters: FloatArray, candidates: Candidates, optics: Optics) -> FloatArray:
    """``(n, names, k, 2)`` where a candidate's foot is seen when it is the point of that name.

    The lower edge of a cone is the near side of its foot, half a width nearer than its middle.
    """
    n, k = len(parameters), len(candidates.names)
    xyz = np.broadcast_to(candidates.xyz_m, (n, k, 3))
    middle, depth = optics.project(parameters, xyz)
    drop = parameters[:, 6:7] / np.linalg.norm(xyz - parameters[:, None, 4:7], axis=2)
    lower = 0.5 * drop[..., None] * np.nan_to_num(candidates.width_px)
    expected = np.repeat(middle[:, :, None], len(candidates.xy_px), axis=2)
    expected[..., 1] += lower
    expected[depth <= 0.1] = -1e6
    return expected


def expected_sd_px(parameters: FloatArray, candidates: Candidates, optics: Optics) -> FloatArray:
    """``(n, names, k)`` standard deviation of a candidate from where it is expected."""
    xyz = np.broadcast_to(candidates.xyz_m, (len(parameters), len(candidates.names), 3))
    _, depth = optics.project(parameters, xyz)
    focal = np.exp(parameters[:, 0]) * optics.longer_px
    place = CONE_SD_M * focal[:, None] / depth
    return np.hypot(place[..., None], candidates.sd_px + MORE_FOOT_SD_PX)
