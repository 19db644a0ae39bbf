"""Whether a defender ever comes within reach of the player taken for the attacker."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import FloatArray
from posecheck.maths.timeline import in_window
from posecheck.reps.tuning import DRIFT_MPS, SURELY_SDS


@dataclass(frozen=True)
class OutOfReach:
    """A player whom the defender never comes within reach of.

    Attributes:
        nearest_m: least distance between the two.
        reach_m: that would have counted as arrival.
    """

    nearest_m: float
    reach_m: float

    @property
    def because(self) -> str:
        """Why nothing is measured against him, for the page."""
        return (
            f"the player taken for the attacker is never within {self.reach_m:.1f} m of the "
            f"defender, at the nearest {self.nearest_m:.1f} m"
        )


def out_of_reach(
    defender: GroundTrack,
    attacker: GroundTrack,
    ground: Ground,
    reach_m: float,
    from_s: float = -np.inf,
    to_s: float = np.inf,
) -> OutOfReach | None:
    """Whether two players are surely never within reach of each other.

    Surely: even were each of their places off by as much as nine in ten are at most, all in the
    direction that brings them together. While the attacker is not seen he is where he was last or
    next seen, the less surely the longer ago.

    Args:
        defender, attacker: over the same frames.
        ground: where metres come from.
        reach_m: ground distance that counts as arrival.
        from_s, to_s: stretch of time that is looked at.

    Returns:
        None when they are, or may be, or are never both seen.
    """
    there_m, vague_m = _held(attacker)
    between = there_m - defender.xy_m
    apart_m = np.linalg.norm(between, axis=1)
    looked_at = in_window(defender.t_s, from_s, to_s) & (apart_m > 0)
    if not looked_at.any():
        return None
    between, apart_m = between[looked_at], apart_m[looked_at]
    by_scale_m = ground.relative_sd(defender.xy_m[looked_at], between) * apart_m
    sd_m = np.sqrt(defender.sd_m[looked_at] ** 2 + vague_m[looked_at] ** 2 + by_scale_m**2)
    if np.any(apart_m - SURELY_SDS * sd_m <= reach_m):
        return None
    return OutOfReach(float(apart_m.min()), reach_m)


def _held(track: GroundTrack) -> tuple[FloatArray, FloatArray]:
    """Places ``(n, 2)`` and standard deviations ``(n,)``, held where he is not seen."""
    seen = np.flatnonzero(np.isfinite(track.xy_m).all(axis=1))
    if not len(seen):
        return track.xy_m, track.sd_m
    away_s = np.abs(track.t_s[:, None] - track.t_s[seen])
    nearest = seen[np.argmin(away_s, axis=1)]
    moved_m = DRIFT_MPS * away_s.min(axis=1)
    return track.xy_m[nearest], np.hypot(track.sd_m[nearest], moved_m)
