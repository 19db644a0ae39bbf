"""The lens from how the picture moves when the camera turns.

A turning camera moves what it shows at the edge of its picture further than what it shows in the
middle, and the more so the wider its lens: the homographies of the background determine the focal
length (Hartley, Self-calibration of stationary cameras, IJCV 22(1), 1997; from memory).
"""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from posecheck.camera.motion import CameraMotion
from posecheck.camera.tuning import (
    LEAST_COSINE,
    TURNING_FARTHEST_SHARE,
    TURNING_FRAMES,
    TURNING_GRID,
    TURNING_READINGS,
    TURNING_SD_SHARE,
    TURNING_SLIP,
    TURNING_STEPS,
)
from posecheck.maths.arrays import FloatArray
from posecheck.maths.homography import mapped


def log_likelihood_of_turning(
    motion: CameraMotion, size_px: tuple[int, int], log_focals: FloatArray
) -> FloatArray:
    """How well focal lengths explain the background's homographies.

    Every frame may have a zoom of its own. A camera that stands still, or only zooms, says nothing:
    then all are alike.

    Args:
        motion: of the camera.
        size_px: width and height of the clip.
        log_focals: ``(k,)`` logarithms of the reference frame's focal length over the longer side.

    Returns:
        ``(k,)`` logarithms of the likelihood, up to a constant.
    """
    longer = max(size_px)
    across, down = np.meshgrid(
        *(np.linspace(-(side - 1) / 2, (side - 1) / 2, TURNING_GRID) for side in size_px)
    )
    grid = np.stack([across.ravel(), down.ravel()], axis=1)  # pixels from the picture's middle
    middle = (np.array(size_px) - 1) / 2
    there = mapped(
        motion.to_reference[motion.tracked],
        np.broadcast_to(grid + middle, (int(motion.tracked.sum()), *grid.shape)),
    )
    there = there - middle
    moved = np.sqrt(np.mean(np.sum((there - grid) ** 2, axis=2), axis=1))
    # Far from the reference frame its plane is seen at a grazing angle, where errors explode.
    moving = np.flatnonzero(
        (moved > TURNING_SD_SHARE * longer) & (moved < TURNING_FARTHEST_SHARE * longer)
    )
    if not len(moving):
        return np.zeros(len(log_focals))
    # Neighbouring frames show much the same.
    moving = moving[:: len(moving) // TURNING_FRAMES + 1]
    there, moved = there[moving], moved[moving]
    sd = np.hypot(TURNING_SD_SHARE * longer, TURNING_SLIP * moved)
    likelihood = []
    for focal_px in longer * np.exp(log_focals):
        apart = _as_turned(grid, there, float(focal_px)) - there
        off = np.sqrt(np.mean(np.sum(apart**2, axis=2), axis=1))
        likelihood.append(-0.5 * TURNING_READINGS * np.mean((off / sd) ** 2))
    return np.asarray(likelihood)


def _as_turned(grid_px: FloatArray, there_px: FloatArray, focal_px: float) -> FloatArray:
    """Where a camera that only turned and zoomed would have moved points, nearest to where they
    are.

    Args:
        grid_px: ``(k, 2)`` points of a frame, from the picture's middle.
        there_px: ``(n, k, 2)`` where they are in the reference frame.
        focal_px: of the reference frame.

    Returns:
        ``(n, k, 2)`` by Gauss-Newton on turn and zoom.
    """
    n = len(there_px)
    turn, log_zoom = np.tile(np.eye(3), (n, 1, 1)), np.zeros(n)

    def moved(turn: FloatArray, log_zoom: FloatArray) -> FloatArray:
        away = np.empty((n, len(grid_px), 3))
        away[..., :2] = grid_px / focal_px * np.exp(-log_zoom)[:, None, None]
        away[..., 2] = 1.0
        seen = away @ turn.transpose(0, 2, 1)
        return np.asarray(focal_px * seen[..., :2] / np.maximum(seen[..., 2:], LEAST_COSINE))

    step = 1e-5
    for _ in range(TURNING_STEPS):
        now = moved(turn, log_zoom)
        change = []
        for axis in range(4):
            turned, zoomed = turn, log_zoom
            if axis < 3:
                turned = Rotation.from_rotvec(step * np.eye(3)[axis]).as_matrix() @ turn
            else:
                zoomed = log_zoom + step
            change.append((moved(turned, zoomed) - now) / step)
        jacobian = np.stack(change, axis=-1).reshape(n, -1, 4)
        normal = np.einsum("nmi,nmj->nij", jacobian, jacobian)
        slope = np.einsum("nmi,nm->ni", jacobian, (there_px - now).reshape(n, -1))
        by = np.linalg.solve(normal, slope[..., None])[..., 0]
        turn = Rotation.from_rotvec(by[:, :3]).as_matrix() @ turn
        log_zoom = log_zoom + by[:, 3]
    return moved(turn, log_zoom)
