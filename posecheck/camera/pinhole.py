"""A pinhole camera over the ground: pixels to metres and back.

Ground frame, metres: z up; x to the right and y upfield as seen from the middle of the goal line
(or, when no field point is known, origin below the camera, x to its right, y away from it).
Image: pixels, x right, y down, (0, 0) the centre of the top-left pixel. Phones straighten their
film before they write it; what is left, and action cameras, bend straight lines a little.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import rq

from posecheck.camera.tuning import LEAST_STRAIGHTENING
from posecheck.maths.arrays import FloatArray, check_shapes
from posecheck.maths.vectors import unit


@dataclass(frozen=True)
class Camera:
    """A calibrated camera.

    Attributes:
        matrix: ``(3, 3)`` intrinsics in pixels, upper triangular, last element 1.
        rotation: ``(3, 3)`` turns ground axes into camera axes (x right, y down, z forward).
        centre_m: ``(3,)`` optical centre in the ground frame.
        bend: radial distortion by the division model (Fitzgibbon, Simultaneous linear estimation of
            multiple view geometry and lens distortion, CVPR 2001; from memory): a point seen r
            focal lengths from the middle would be seen at ``r / (1 + bend r^2)`` without it.
            Negative for a barrel.
    """

    matrix: FloatArray
    rotation: FloatArray
    centre_m: FloatArray
    bend: float = 0.0

    def __post_init__(self) -> None:
        check_shapes(self, matrix=(3, 3), rotation=(3, 3), centre_m=(3,))

    @property
    def focal_px(self) -> float:
        """Focal length in pixels, the mean of the two axes."""
        return float(self.matrix[0, 0] + self.matrix[1, 1]) / 2

    @cached_property
    def _ray_from_pixel(self) -> FloatArray:
        return np.asarray(self.rotation.T @ np.linalg.inv(self.matrix))

    def straightened(self, xy_px: FloatArray) -> FloatArray:
        """``(..., 2)`` where a lens without distortion would show what is seen at pixels."""
        if not self.bend:
            return xy_px
        middle = self.matrix[:2, 2]
        off = xy_px - middle
        r2 = np.sum((off / self.focal_px) ** 2, axis=-1, keepdims=True)
        return np.asarray(middle + off / np.maximum(1 + self.bend * r2, LEAST_STRAIGHTENING))

    def bent(self, xy_px: FloatArray) -> FloatArray:
        """``(..., 2)`` where this lens shows what one without distortion would; the inverse."""
        if not self.bend:
            return xy_px
        middle = self.matrix[:2, 2]
        off = xy_px - middle
        r2 = np.sum((off / self.focal_px) ** 2, axis=-1, keepdims=True)
        root = np.sqrt(np.maximum(1 - 4 * self.bend * r2, 0.0))
        return np.asarray(middle + off * 2 / (1 + root))

    def rays(self, xy_px: FloatArray) -> FloatArray:
        """Viewing rays of pixels.

        Args:
            xy_px: ``(..., 2)``.

        Returns:
            ``(..., 3)`` unit vectors in the ground frame, NaN where the pixel is NaN.
        """
        xy_px = self.straightened(np.asarray(xy_px, dtype=np.float64))
        homogeneous = np.concatenate([xy_px, np.ones((*xy_px.shape[:-1], 1))], axis=-1)
        return unit(homogeneous @ self._ray_from_pixel.T)

    def to_ground(self, xy_px: FloatArray, height_m: float | FloatArray = 0.0) -> FloatArray:
        """Back-project pixels onto a horizontal plane.

        Args:
            xy_px: ``(..., 2)``.
            height_m: of the plane above the ground, one number or ``(...)``.

        Returns:
            ``(..., 2)`` metres, NaN for rays that never meet the plane (for a plane below the
            camera: at or above the horizon).

        See Also:
            to_image: the inverse.
        """
        ray = self.rays(np.asarray(xy_px, dtype=np.float64))
        drop = np.asarray(height_m - self.centre_m[2])
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = drop / ray[..., 2]
            reach = np.where(np.isfinite(reach) & (reach > 0), reach, np.nan)
        return np.asarray(self.centre_m[:2] + reach[..., None] * ray[..., :2])

    def to_image(self, xyz_m: FloatArray) -> FloatArray:
        """Project points into the picture.

        Args:
            xyz_m: ``(..., 3)`` metres in the ground frame.

        Returns:
            ``(..., 2)`` pixels (possibly outside the picture), NaN for points not in front of
            the camera.

        See Also:
            to_ground: the inverse, for points of a horizontal plane.
        """
        seen = (xyz_m - self.centre_m) @ (self.matrix @ self.rotation).T
        depth = np.where(seen[..., 2:] > 0, seen[..., 2:], np.nan)
        return self.bent(np.asarray(seen[..., :2] / depth))

    def turned(self, to_reference: FloatArray) -> Camera:
        """The camera of another frame, taken from the same optical centre.

        For a camera that only turns and zooms, the pixels of the two frames are related by
        ``to_reference = K0 R0 R^T K^-1`` (Hartley and Zisserman, Multiple View Geometry, 2nd ed.,
        section 8.4.2), with ``K0, R0`` this camera. A lens that bends lines keeps doing so; that
        the homography is then only nearly one is left out.

        Args:
            to_reference: ``(3, 3)`` homography from the other frame's pixels to this camera's.

        Raises:
            ValueError: the homography cannot be inverted.
        """
        try:
            product = np.linalg.solve(to_reference, self.matrix @ self.rotation)
        except np.linalg.LinAlgError:
            raise ValueError("to_reference: this homography cannot be inverted") from None
        product /= np.cbrt(np.linalg.det(product))  # a rotation has determinant 1, so its K > 0
        matrix, rotation = rq(product)
        sign = np.sign(np.diag(matrix))
        matrix, rotation = matrix * sign, sign[:, None] * rotation
        return Camera(matrix / matrix[2, 2], rotation, self.centre_m, self.bend)
