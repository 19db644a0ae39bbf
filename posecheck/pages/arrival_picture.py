"""The picture of the arrival moment: cut to the two players, with the body drawn on."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from posecheck.judging.verdict import Call
from posecheck.maths.timeline import nearest_frame
from posecheck.maths.tuning import ROUNDING_S
from posecheck.maths.units import Units
from posecheck.measures.figures import interval_in_words
from posecheck.measures.result import RepResult
from posecheck.pages import overlay
from posecheck.pages.cut import cut_around
from posecheck.pages.tuning import JPEG_QUALITY


@dataclass(frozen=True)
class ArrivalPicture:
    """A finished picture: JPEG bytes and its size in pixels."""

    jpeg: bytes
    width_px: int
    height_px: int


def arrival_picture(
    rep: RepResult, knee_call: Call | None, width_px: int, units: Units = Units.METRES
) -> ArrivalPicture | None:
    """Draw the arrival picture of a rep; None when there is none.

    Args:
        rep: holds the picture as filmed.
        knee_call: gives the shape beside the knee's figure.
        width_px: at most so wide.
        units: in which figures are written.
    """
    if rep.picture is None or rep.picture_t_s is None:
        return None
    decoded = cv2.imdecode(np.frombuffer(rep.picture, np.uint8), cv2.IMREAD_COLOR)
    if decoded is None:
        return None
    frame = np.asarray(cv2.cvtColor(decoded, cv2.COLOR_BGR2RGB), dtype=np.uint8)
    defender = attacker = np.full((33, 2), np.nan)
    if len(rep.series.t_s):
        moment = nearest_frame(rep.series.t_s, rep.picture_t_s)
        defender = (rep.series.defender_xy_px[moment] + 0.5) * rep.picture_scale - 0.5
        attacker = (rep.series.attacker_xy_px[moment] + 0.5) * rep.picture_scale - 0.5
    cut = cut_around(np.concatenate([defender, attacker]), frame.shape[1], frame.shape[0], width_px)
    # The rep's own error bars, those of the page's strips, not the single frame's figures.
    figures = overlay.Figures(
        knee=_span(rep, "knee_bend_deg", units),
        trunk=_span(rep, "trunk_lean_deg", units),
        knee_call=knee_call,
    )
    own, other = cut.points(defender), cut.points(attacker)
    picture = overlay.draw_body(cut.picture(frame), other, overlay.ATTACKER)
    picture = overlay.draw_body(picture, own)
    if figures.trunk:
        picture = overlay.draw_trunk(picture, own)
    if figures.knee:
        picture = overlay.draw_knee(picture, own, knee_call)
    picture = overlay.draw_figures(picture, figures, np.concatenate([own, other]))
    speed = _span(rep, "arrival_speed_mps", units)
    picture = overlay.draw_caption(picture, moment_shown(rep), speed)
    bgr = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return ArrivalPicture(data.tobytes(), cut.width_px, cut.height_px) if done else None


def moment_shown(rep: RepResult) -> str:
    """Which moment a rep's picture shows, in words: it need not be the frame of the arrival."""
    if rep.rep.arrival_s is None or rep.picture_t_s is None or len(rep.series.t_s) < 2:
        return "arrival"
    after_s = rep.picture_t_s - rep.rep.arrival_s
    if abs(after_s) <= np.diff(rep.series.t_s).max() / 2 + ROUNDING_S:
        return "arrival"
    return f"{abs(after_s):.2f} s {'before' if after_s < 0 else 'after'} arrival"


def _span(rep: RepResult, key: str, units: Units) -> str:
    measure = rep.measures.get(key)
    if measure is None or measure.value is None:
        return ""
    return interval_in_words(measure, units)  # the pictures' font has no dash
