"""Why a stance cannot be measured under the conditions of its film."""

from __future__ import annotations

import math

from posecheck.filming.conditions import Conditions
from posecheck.filming.tuning import (
    MAX_BLUR,
    MAX_BURNT,
    MIN_HEIGHT_PX,
    MIN_LIGHT,
    MIN_SCORE,
    MIN_SEEN_BESIDE_HIDDEN,
    MIN_SEEN_SHARE,
)


def seen_enough(conditions: Conditions) -> bool:
    """Whether a stance is seen in enough of its frames, or known by a hidden step."""
    c = conditions
    least = MIN_SEEN_BESIDE_HIDDEN if c.hidden else MIN_SEEN_SHARE
    return c.seen > 0 and c.seen >= least * c.of and c.seen + c.hidden >= MIN_SEEN_SHARE * c.of


def unfit(conditions: Conditions) -> str | None:
    """Why a stance cannot be measured under these conditions, None when it can."""
    c = conditions
    if not seen_enough(c):
        return f"the defender is seen in only {c.seen} of the {c.of} frames around it"
    if c.height_px < MIN_HEIGHT_PX:
        return f"the defender is too small in the picture, {c.height_px:.0f} px tall"
    if not c.score >= MIN_SCORE or math.isnan(c.view_deg):
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
