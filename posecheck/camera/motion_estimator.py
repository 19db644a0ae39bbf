"""How the picture moved: the camera's pan, shake and zoom, read from the background.

Each frame is registered straight to a key frame rather than to the frame before it, so that
errors do not add up; a new key frame is taken only when the old one has gone out of view, and an
old one is used again as soon as it comes back. A camera that only turns and zooms maps every
frame to every other by one homography (Hartley and Zisserman, Multiple View Geometry, 2nd ed.,
section 8.4), whatever the depth of the scene.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from posecheck.camera.motion import CameraMotion
from posecheck.camera.tuning import (
    CELL_COLUMNS,
    CELL_ROWS,
    CORNER_QUALITY,
    CORNER_SPACING_PX,
    FLOW_LEVELS,
    FLOW_STEP_PX,
    FLOW_STEPS,
    FLOW_WINDOW_PX,
    INLIER_PX,
    KEYS_TRIED,
    MAX_KEYS,
    MAX_ZOOM,
    MIN_CORNER,
    MIN_FLOW_TEXTURE,
    MIN_INLIER_SHARE,
    MIN_POINTS,
    MIN_SPREAD_SHARE,
    POINTS_IN_A_GLANCE,
    POINTS_PER_CELL,
    REPLACE_SHARE,
    STILL_CORNER_PX,
    STILL_PX,
    STILL_SHARE,
)
from posecheck.maths.arrays import BoolArray, FloatArray, Image
from posecheck.maths.homography import mapped


@dataclass
class _Key:
    """A frame that others are registered to."""

    grey: Image
    points: npt.NDArray[np.float32]
    to_reference: FloatArray


class CameraMotionEstimator:
    """Estimates the camera's motion frame by frame, in order.

    Args:
        width_px, height_px: size of the clip's own pictures.
    """

    def __init__(self, width_px: int, height_px: int) -> None:
        self._size = (width_px, height_px)
        self._keys: list[_Key] = []
        self._key: _Key | None = None
        self._to_reference = np.eye(3)
        self._history: list[FloatArray] = []
        self._tracked: list[bool] = []
        self._lost = False
        self._held = False  # whether any frame has been registered to the one before
        self._before: tuple[Image, list[FloatArray]] | None = None

    def add(self, grey: Image, boxes_xyxy: Sequence[FloatArray] = ()) -> FloatArray:
        """Register the next frame.

        Args:
            grey: the frame made small, ``(small_height, small_width)`` uint8; always the same size.
            boxes_xyxy: ``(4,)`` each, where players are in this frame, in the clip's own pixels;
                their insides are left out, since players move by themselves.

        Returns:
            ``(3, 3)`` homography from this frame's pixels to those of the first frame, both in
            the clip's own pixels.
        """
        to_small = _to_small(self._size, grey)
        small_boxes = [_shrunk(box, to_small) for box in boxes_xyxy]
        if self._key is None:
            self._take_key(grey, small_boxes)
        else:
            self._register(grey, small_boxes)
        self._before = (grey, small_boxes)
        to_reference = np.linalg.inv(to_small) @ self._to_reference @ to_small
        if np.array_equal(self._to_reference, np.eye(3)):
            to_reference = np.eye(3)
        self._history.append(to_reference)
        self._tracked.append(not self._lost)
        return to_reference

    @property
    def is_lost(self) -> bool:
        """Whether the last frame shows nothing of the scene known so far."""
        return self._lost

    def motion(self) -> CameraMotion:
        """The motion in all frames so far."""
        return CameraMotion(
            np.array(self._history).reshape(-1, 3, 3), np.array(self._tracked, dtype=bool)
        )

    def _register(self, grey: Image, boxes: list[FloatArray]) -> None:
        assert self._key is not None
        if not self._lost and _still(self._key, grey, self._to_reference, boxes):
            self._held = True
            return
        fit = _fit(self._key, grey, self._to_reference, boxes)
        if fit is None:
            fit = self._fit_to_another(grey, boxes)
        if fit is None and self._before is not None and not self._lost:
            # Players may have come to hide most of the key frame's points.
            self._take_key(*self._before)
            fit = _fit(self._key, grey, self._to_reference, boxes)
        if fit is None and not self._held and len(_background_points(grey, boxes)) >= MIN_POINTS:
            # The film began black, blurred or with the lens covered: nobody can hold on to that.
            self._begin_anew(grey, boxes)
            return
        if fit is None:
            # Nothing of the known scene is in view: frames cannot be registered until it is.
            self._lost = True
            return
        self._lost, self._held = False, True
        self._to_reference, share = fit
        if share < REPLACE_SHARE or not 1 / MAX_ZOOM < _zoom(self._to_key()) < MAX_ZOOM:
            better = self._fit_to_another(grey, boxes)
            if better is not None and better[1] > share:
                self._to_reference = better[0]
            else:
                self._take_key(grey, boxes)

    def _begin_anew(self, grey: Image, boxes: list[FloatArray]) -> None:
        self._keys.clear()
        self._tracked = [False] * len(self._tracked)
        self._lost = False
        self._take_key(grey, boxes)

    def _to_key(self) -> FloatArray:
        assert self._key is not None
        return np.asarray(np.linalg.inv(self._key.to_reference) @ self._to_reference)

    def _fit_to_another(
        self, grey: Image, boxes: list[FloatArray]
    ) -> tuple[FloatArray, float] | None:
        """Register to another key frame than the present one, those nearest in view first."""

        def apart(key: _Key) -> float:
            middle = np.array([grey.shape[1] / 2, grey.shape[0] / 2])
            here = mapped(self._to_reference, middle[None])
            return float(np.linalg.norm(mapped(key.to_reference, middle[None]) - here))

        others = sorted((key for key in self._keys if key is not self._key), key=apart)
        for key in others[:KEYS_TRIED]:
            fit = _fit(key, grey, self._to_reference, boxes)
            if fit is not None:
                self._key = key
                return fit
        return None

    def _take_key(self, grey: Image, boxes: list[FloatArray]) -> None:
        points = _background_points(grey, boxes)
        self._key = _Key(grey, points, self._to_reference)
        self._keys.append(self._key)
        if len(self._keys) > MAX_KEYS:
            # The first is the reference itself and is kept.
            del self._keys[1]


def _still(key: _Key, grey: Image, last: FloatArray, boxes: list[FloatArray]) -> bool:
    """Whether a camera that stood still since the key frame clearly still does; a cheap test."""
    import cv2

    points = key.points[:: max(len(key.points) // POINTS_IN_A_GLANCE, 1)].copy()
    if not np.array_equal(last, key.to_reference) or len(points) < MIN_POINTS:
        return False
    found, status, _ = cv2.calcOpticalFlowPyrLK(
        key.grey,
        grey,
        points,
        points.copy(),
        winSize=FLOW_WINDOW_PX,
        maxLevel=0,
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        minEigThreshold=MIN_FLOW_TEXTURE,
    )
    good = (status.ravel() == 1) & ~_covered(points, boxes)
    if good.sum() < MIN_POINTS:
        return False
    moved = np.linalg.norm(found - points, axis=1)
    return bool(np.mean(moved[good] < STILL_PX) >= STILL_SHARE)


def _fit(
    key: _Key, grey: Image, near: FloatArray, boxes: list[FloatArray]
) -> tuple[FloatArray, float] | None:
    """Register a picture to a key frame.

    Args:
        key: the key frame.
        grey: the picture.
        near: ``(3, 3)`` a first guess of the picture's homography to the reference.
        boxes: of the players in the picture.

    Returns:
        The picture's homography to the reference, and the share of the key frame's points that
        agree with it; None when too few do.
    """
    import cv2

    if len(key.points) < MIN_POINTS:
        return None
    guess = mapped(np.linalg.inv(near) @ key.to_reference, key.points).astype(np.float32)
    found, status, _ = cv2.calcOpticalFlowPyrLK(
        key.grey,
        grey,
        key.points,
        guess.copy(),
        winSize=FLOW_WINDOW_PX,
        maxLevel=FLOW_LEVELS,
        criteria=(cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, FLOW_STEPS, FLOW_STEP_PX),
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        minEigThreshold=MIN_FLOW_TEXTURE,
    )
    height, width = grey.shape
    inside = np.all((found > 1) & (found < (width - 2, height - 2)), axis=1)
    good = (status.ravel() == 1) & inside & ~_covered(np.asarray(found), boxes)
    if good.sum() < MIN_POINTS:
        return None
    source, target = found[good].astype(np.float64), key.points[good].astype(np.float64)
    moved = np.linalg.norm(source - target, axis=1)
    if np.mean(moved < STILL_PX) >= STILL_SHARE:
        return key.to_reference, 1.0
    fitted = _robust_homography(source, target, (width, height))
    if fitted is None:
        return None
    homography, inliers = fitted
    share = inliers.sum() / len(key.points)
    if inliers.sum() < max(MIN_POINTS, MIN_INLIER_SHARE * good.sum()):
        return None
    corners = np.array([(0, 0), (width, 0), (0, height), (width, height)], dtype=np.float64)
    if np.linalg.norm(mapped(homography, corners) - corners, axis=1).max() < STILL_CORNER_PX:
        return key.to_reference, float(share)
    return key.to_reference @ homography, float(share)


def _robust_homography(
    source: FloatArray, target: FloatArray, size: tuple[int, int]
) -> tuple[FloatArray, BoolArray] | None:
    import cv2

    homography, mask = cv2.findHomography(source, target, cv2.USAC_MAGSAC, INLIER_PX)
    if homography is None:
        return None
    inliers = mask.ravel().astype(bool)
    if inliers.sum() < MIN_POINTS:
        return None
    hull = cv2.convexHull(source[inliers].astype(np.float32))
    if cv2.contourArea(hull) >= MIN_SPREAD_SHARE * size[0] * size[1]:
        # Least squares over all inliers: the search itself keeps its best small sample.
        refined, _ = cv2.findHomography(source[inliers], target[inliers], 0)
        return np.asarray(homography if refined is None else refined), inliers
    similarity, mask = cv2.estimateAffinePartial2D(source, target, ransacReprojThreshold=INLIER_PX)
    if similarity is None:
        return None
    return np.vstack([similarity, [0.0, 0.0, 1.0]]), mask.ravel().astype(bool)


def _background_points(grey: Image, boxes: list[FloatArray]) -> npt.NDArray[np.float32]:
    """``(k, 2)`` corners spread over the picture, none on a player."""
    import cv2

    height, width = grey.shape
    mask = np.full(grey.shape, 255, np.uint8)
    for left, top, right, bottom in boxes:
        mask[
            max(int(top), 0) : max(int(bottom) + 1, 0), max(int(left), 0) : max(int(right) + 1, 0)
        ] = 0
    strength = cv2.cornerMinEigenVal(grey, 3)
    mask[strength < MIN_CORNER] = 0
    points = []
    for rows in np.array_split(np.arange(height), CELL_ROWS):
        for columns in np.array_split(np.arange(width), CELL_COLUMNS):
            cell = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
            corners = cv2.goodFeaturesToTrack(
                np.ascontiguousarray(grey[cell]),
                POINTS_PER_CELL,
                qualityLevel=CORNER_QUALITY,
                minDistance=CORNER_SPACING_PX,
                mask=np.ascontiguousarray(mask[cell]),
            )
            if corners is not None:
                points.append(corners.reshape(-1, 2) + np.array([columns[0], rows[0]]))
    if not points:
        return np.empty((0, 2), np.float32)
    return np.concatenate(points).astype(np.float32)


def _covered(points: npt.NDArray[Any], boxes: list[FloatArray]) -> BoolArray:
    """``(k,)`` True for points inside a box."""
    covered = np.zeros(len(points), dtype=bool)
    for box in boxes:
        covered |= np.all((points >= box[:2]) & (points <= box[2:]), axis=1)
    return covered


def _to_small(size: tuple[int, int], grey: Image) -> FloatArray:
    """Homography from the clip's own pixels to the small picture's.

    In both, (0, 0) is the centre of the top-left pixel.
    """
    sx, sy = grey.shape[1] / size[0], grey.shape[0] / size[1]
    return np.array([[sx, 0, sx / 2 - 0.5], [0, sy, sy / 2 - 0.5], [0, 0, 1]])


def _shrunk(box: FloatArray, to_small: FloatArray) -> FloatArray:
    return mapped(to_small, np.asarray(box, dtype=np.float64).reshape(2, 2)).ravel()


def _zoom(homography: FloatArray) -> float:
    return float(np.sqrt(abs(np.linalg.det(homography[:2, :2] / homography[2, 2]))))
