"""Limits of film beyond which a stance or a rep is not measured at all."""

from __future__ import annotations

from posecheck.filming.conditions import Conditions

MIN_HEIGHT_PX = 130
"""A knee of a smaller player is two or three pixels wide."""
MIN_SEEN_SHARE = 0.5
"""Of the window's frames."""
MIN_SCORE = 0.5
"""Mean chance that hips, knees and ankles are seen."""

MAX_BLUR = 0.05
"""Wider edges than this, in heights of the player, and nothing is said of his stance.

Found on sample clips blurred by known kernels (models/FILM_CARD.md): as filmed edges are 0.01 wide;
at 0.04 knees come out 4 degrees too straight; beyond 0.05 single reps shift by as much as their
error bar, and some are read wrong by far with legs the pose model is sure of.
"""


MAX_BURNT = 0.3
"""More of the player burnt out than this, and nothing is said of his stance.

Found likewise: up to 0.1 knee bend is off as before, from 0.25 on by twice as much.
"""


MIN_LIGHT = 0.02
"""A player darker than this, of 1, and nothing is said of his stance.

Found likewise: down to 0.03 knee bend is off as before, at 0.02 half of all frames are lost.
"""


MIN_RATE_HZ = 10.0
"""Fewer frames a second than this, and nothing is said of a rep.

Found on the sample clips with frames left out: down to 10 a second every error bar holds as with
30, at 7.5 that of the braking distance holds the truth in 7 reps of 13.
"""


def unfit(conditions: Conditions) -> str | None:
    """Why nothing can be said of a stance under these conditions, None when something can."""
    c = conditions
    if c.seen < MIN_SEEN_SHARE * c.of or not c.seen:
        return f"the defender is seen in only {c.seen} of the {c.of} frames around it"
    if c.height_px < MIN_HEIGHT_PX:
        return (
            f"the defender is only {c.height_px:.0f} px tall in the picture, "
            f"{MIN_HEIGHT_PX:.0f} are needed"
        )
    if not c.score >= MIN_SCORE:
        return "hips, knees and ankles are too hidden or blurred"
    if c.look.blur > MAX_BLUR:
        return (
            f"the defender is blurred: his edges are {c.look.blur:.0%} of his height wide, "
            f"{MAX_BLUR:.0%} is the most"
        )
    if c.look.burnt > MAX_BURNT:
        return f"{c.look.burnt:.0%} of the defender is burnt out, {MAX_BURNT:.0%} is the most"
    if c.look.light < MIN_LIGHT:
        return "the defender is too dark in the picture"
    return None
