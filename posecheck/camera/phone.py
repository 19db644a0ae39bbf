"""What is known of a phone's lens before any film is seen."""

from __future__ import annotations

import numpy as np

from posecheck.camera.tuning import HFOV_DEG


def usual_focal_px(size_px: tuple[int, int]) -> float:
    """Focal length of a phone's usual field of view, in pixels of a film of this size."""
    return float(np.exp(log_focal(HFOV_DEG)) * max(size_px))


def log_focal(hfov_deg: float) -> float:
    """Logarithm of the focal length over the picture's longer side.

    Args:
        hfov_deg: field of view across that side, degrees.
    """
    return float(-np.log(2 * np.tan(np.radians(hfov_deg / 2))))
