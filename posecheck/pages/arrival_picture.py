"""The picture of the arrival moment: cut to the two players, with the body drawn on."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from posecheck.pages import overlay
from posecheck.result import RepResult
from posecheck.verdict import Call

FloatArray = npt.NDArray[np.float64]

JPEG_QUALITY = 80
MAX_ENLARGEMENT = 2.0
"""A player far away is brought nearer up to this, beyond it the picture only gets soft."""


@dataclass(frozen=True)
class ArrivalPicture:
    """A finished picture: JPEG bytes and its size in pixels."""

    jpeg: bytes
    width_px: int
    height_px: int


def arrival_picture(rep: RepResult, knee_call: Call | None, width_px: int) -> ArrivalPicture | None:
    """Draw the arrival picture of a rep; None when there is none.

    Args:
        rep: holds the picture as filmed.
        knee_call: gives the shape beside the knee's figure.
        width_px: at most so wide.
    """
    if rep.picture is None or rep.picture_t_s is None:
        return None
    decoded = cv2.imdecode(np.frombuffer(rep.picture, np.uint8), cv2.IMREAD_COLOR)
    if decoded is None:
        return None
    frame = np.asarray(cv2.cvtColor(decoded, cv2.COLOR_BGR2RGB), dtype=np.uint8)
    series = rep.series
    defender = attacker = np.full((33, 2), np.nan)
    if len(series.t_s):
        moment = int(np.argmin(abs(series.t_s - rep.picture_t_s)))
        defender = scaled(series.defender_xy_px[moment], rep.picture_scale)
        attacker = scaled(series.attacker_xy_px[moment], rep.picture_scale)
    # The rep's own figures, those of the page's strips, not the single frame's.
    knee, trunk = _value(rep, "knee_bend_deg"), _value(rep, "trunk_lean_deg")
    speed = _value(rep, "arrival_speed_mps")

    left, top, right, bottom = _around(defender, attacker, frame.shape[1], frame.shape[0])
    cut = frame[top:bottom, left:right]
    scale = min(width_px / (right - left), MAX_ENLARGEMENT)
    size = (max(1, round((right - left) * scale)), max(1, round((bottom - top) * scale)))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    picture = np.asarray(cv2.resize(cut, size, interpolation=how), dtype=np.uint8)
    defender, attacker = (
        scaled(defender - (left, top), scale),
        scaled(attacker - (left, top), scale),
    )

    picture = overlay.draw_body(picture, attacker, overlay.ATTACKER)
    picture = overlay.draw_body(picture, defender)
    picture = overlay.draw_trunk(picture, defender, trunk)
    picture = overlay.draw_knee(picture, defender, knee, knee_call)
    picture = overlay.draw_caption(
        picture, "arrival", f"{speed:.1f} m/s" if np.isfinite(speed) else ""
    )
    bgr = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return ArrivalPicture(data.tobytes(), *size) if done else None


def _value(rep: RepResult, key: str) -> float:
    measure = rep.measures.get(key)
    return float("nan") if measure is None or measure.value is None else measure.value


def scaled(xy_px: FloatArray, scale: float) -> FloatArray:
    """Pixels of a picture to pixels of the same picture resized, (0, 0) a pixel's centre."""
    return (xy_px + 0.5) * scale - 0.5


def _around(
    defender: FloatArray, attacker: FloatArray, width: int, height: int
) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of a cut that holds both players and a little ground."""
    points = np.concatenate([defender, attacker])
    points = points[np.isfinite(points).all(axis=1)]
    inside = (points >= 0).all(axis=1) & (points < (width, height)).all(axis=1)
    points = points[inside]
    if not np.isfinite(defender).all(axis=1).any() or len(points) == 0:
        return 0, 0, width, height
    low, high = points.min(axis=0), points.max(axis=0)
    tall = high[1] - low[1]
    # Room for the head above the eyes' landmarks, for labels beside, for the caption below.
    low = low - np.array([0.35, 0.25]) * tall
    high = high + np.array([0.35, 0.3]) * tall
    wide = max(high[0] - low[0], 1.25 * (high[1] - low[1]))
    middle = (low[0] + high[0]) / 2
    left, right = middle - wide / 2, middle + wide / 2
    shift = max(0.0, -left) - max(0.0, right - width)
    left, right = max(0, round(left + shift)), min(width, round(right + shift))
    top, bottom = max(0, round(low[1])), min(height, round(high[1]))
    return left, top, max(right, left + 1), max(bottom, top + 1)
