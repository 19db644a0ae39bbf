"""What limits a film, in words a coach can act on."""

from __future__ import annotations

import numpy as np

from posecheck.clip import Clip
from posecheck.measures.stance_track import StanceTrack
from posecheck.players.track import CameraMotion
from posecheck.rep import Rep

GOOD_HEIGHT_PX = 200
"""The pose model measures well from here up; below 130 hardly at all."""
GOOD_RATE_HZ = 25.0
"""At a closing speed of 6 m/s a slower film moves 25 cm and more between frames."""
SEEN_SHARE = 0.8
"""Of the frames between start and end in which the defender should be seen."""


def film_remarks(
    clip: Clip, rep: Rep, stance: StanceTrack, motion: CameraMotion
) -> tuple[str, ...]:
    """Say what in this film widens the error bars of a rep, and what would help.

    Empty when nothing does.
    """
    during = (stance.t_s >= rep.start_s) & (stance.t_s <= rep.end_s)
    remarks: list[str] = []
    heights = stance.height_px[during & np.isfinite(stance.height_px)]
    if len(heights) and (height := float(np.median(heights))) < GOOD_HEIGHT_PX:
        remarks.append(
            f"The defender is only {height:.0f} pixels tall; film from nearer, "
            f"so that he is {GOOD_HEIGHT_PX} or more."
        )
    if clip.rate_hz < GOOD_RATE_HZ:
        remarks.append(
            f"The film has only {clip.rate_hz:.0f} frames a second; set the phone to 30 or 60."
        )
    seen = float(np.mean(np.isfinite(stance.knee_bend_deg[during]))) if during.any() else 0.0
    if seen < SEEN_SHARE:
        remarks.append(
            f"The defender's legs are read in only {seen:.0%} of the rep; "
            "film from where nobody stands in front of him."
        )
    if not motion.tracked[during].all():
        remarks.append(
            "The background could not be followed all through; hold the phone still or use a "
            "tripod."
        )
    return tuple(remarks)
