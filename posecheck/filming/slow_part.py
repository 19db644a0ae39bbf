"""Whether a part of a rep plays slower than life, as phones write slow motion into a film.

Such a film shows a run at the speed of life, slowed around its middle, and at the speed of life
again. A player who slows down does not move like that: his steps become shorter more than fewer.
The length of a step over steps a second is about the same at any pace of a walk (0.25 m s: Sekiya
and Nagasaki, Reproducibility of the walking patterns of normal young adults, Gait and Posture 7,
1998; from memory), at most twice as large in a run, and as many times larger as a film is slower.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.body.step_rate import swing_rate
from posecheck.filming.tuning import (
    PART_EVEN,
    PART_MOVES_MPS,
    PART_OVER_S,
    PART_SEEN_SHARE,
    PART_SPEED_SHARE,
    PART_STEP_S,
    PART_TOP_SHARE,
    SLOW_STEP_S_M,
)
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.pose.track import PoseTrack

PLAYS_SLOW = "a part of the film plays in slow motion"
"""Why what hangs on time is missing from such a film."""


@dataclass(frozen=True)
class SlowPart:
    """A part of a rep that plays slower than life.

    Attributes:
        from_s, to_s: the part that shows it, seconds of clip time.
        speed_mps: his, in it.
        steps_hz: about how many steps a second he takes in it.
        fastest_mps: his greatest speed in the rep.
    """

    from_s: float
    to_s: float
    speed_mps: float
    steps_hz: float
    fastest_mps: float

    @property
    def described(self) -> str:
        """What was seen, as part of a sentence."""
        return (
            f"after {self.fastest_mps:.1f} m/s he goes on at {self.speed_mps:.1f} m/s around "
            f"{(self.from_s + self.to_s) / 2:.1f} s, with {self.steps_hz:.1f} steps a second"
        )


def slow_part(
    pose: PoseTrack, place: GroundTrack, during_s: tuple[float, float]
) -> SlowPart | None:
    """The part of a rep that plays slowly, where a player's steps give it away; else None.

    Args:
        pose: the defender's landmarks, smoothed.
        place: where he is, over the same frames.
        during_s: start and end of the rep.
    """
    t_s, speed = place.t_s, np.where(in_window(place.t_s, *during_s), place.speed_mps, np.nan)
    known = np.isfinite(speed)
    if not known.any():
        return None
    fastest = float(np.nanmax(speed))
    found: list[tuple[float, SlowPart]] = []
    for over_s in PART_OVER_S:
        for from_s in np.arange(during_s[0], during_s[1] - over_s + PART_STEP_S / 2, PART_STEP_S):
            part = in_window(t_s, from_s, from_s + over_s)
            if known[part].sum() < max(PART_SEEN_SHARE * part.sum(), 1):
                continue
            if not _goes_on(speed[part & known], fastest):
                continue
            hz = swing_rate(t_s[part], pose.xy_px[part])
            mps = float(np.mean(speed[part & known]))
            # What the ground leaves open of his speed may be what makes his steps too long.
            surely_mps = mps - float(np.mean(place.speed_sd_mps[part & known]))
            if hz is not None and surely_mps / hz**2 > SLOW_STEP_S_M:
                each = SlowPart(float(from_s), float(from_s) + over_s, mps, hz, fastest)
                found.append((surely_mps / hz**2, each))
    return max(found, key=lambda one: one[0])[1] if found else None


def _goes_on(speed_mps: FloatArray, fastest_mps: float) -> bool:
    """Whether he moves all through a part, far slower than before or after, and hardly brakes."""
    mean, spread = float(speed_mps.mean()), float(np.ptp(speed_mps))
    return (
        float(speed_mps.min()) >= PART_MOVES_MPS
        and mean <= PART_SPEED_SHARE * fastest_mps
        and float(speed_mps.max()) <= PART_TOP_SHARE * fastest_mps
        and any(mean <= most and spread <= share * mean for most, share in PART_EVEN)
    )
