"""The ground as known in one clip."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from posecheck.camera.lens import LensReading
from posecheck.camera.pinhole import Camera
from posecheck.maths.arrays import FloatArray

FROM_PLAYERS = "the height of"
"""How ``described`` begins where metres come from the players alone."""


@dataclass(frozen=True)
class Ground:
    """A calibrated camera over the ground, its source, and how well it is known.

    Attributes:
        camera: of the frame the ground was found in.
        source: ``"marks"`` or ``"players"``.
        described: for the page, such as "6 marked points, fit to 4 cm".
        scale_sd: relative standard deviation of distances and speeds across the view that comes
            from the calibration; the same error all through a clip.
        depth_sd: the same along the view, where it is larger.
        on_field: True when axes are the field's, False when they are the camera's own.
        lens: as found, of the camera.
    """

    camera: Camera
    source: Literal["marks", "players"]
    described: str
    scale_sd: float
    depth_sd: float
    on_field: bool
    lens: LensReading | None = None

    def relative_sd(self, xy_m: FloatArray, direction: FloatArray) -> FloatArray:
        """Relative standard deviation of lengths on the ground, and so of speeds.

        Args:
            xy_m: ``(..., 2)`` places.
            direction: ``(..., 2)`` of the lengths; any length but zero.

        Returns:
            ``(...)`` between ``scale_sd`` and ``depth_sd``.
        """
        away = xy_m - self.camera.centre_m[:2]
        lengths = np.linalg.norm(away, axis=-1) * np.linalg.norm(direction, axis=-1)
        along = np.sum(away * direction, axis=-1) / lengths
        return np.asarray(np.sqrt(self.scale_sd**2 * (1 - along**2) + self.depth_sd**2 * along**2))

    def carried(self, to_reference: FloatArray) -> Ground:
        """The same ground, seen in the clip's reference frame.

        Needed when the marks were read from a later frame of a clip whose camera moves.

        Args:
            to_reference: ``(3, 3)`` homography from the pixels of the frame the marks were read
                from to those of the reference frame.
        """
        camera = self.camera.turned(np.asarray(np.linalg.inv(to_reference), dtype=np.float64))
        lens = self.lens and replace(
            self.lens, focal=self.lens.focal * camera.focal_px / self.camera.focal_px
        )
        return replace(self, camera=camera, lens=lens)
