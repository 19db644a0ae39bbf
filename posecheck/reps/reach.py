"""Whether a defender ever comes within reach of the player taken for the attacker."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posecheck.ground.ground import Ground
from posecheck.ground.tracks import GroundTrack
from posecheck.maths.arrays import FloatArray, IntArray
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
    direction that brings them together, and had each of them, while he is not seen, gone on at the
    speed he had and a walk faster. Before he is first seen the defender has not come to anybody.

    Args:
        defender, attacker: over the same frames.
        ground: where metres come from.
        reach_m: ground distance that counts as arrival.
        from_s, to_s: stretch of time that is looked at.

    Returns:
        None when they are, or may be, or are never both seen.
    """
    here, there = _held(defender), _held(attacker)
    if here is None or there is None:
        return None
    t_s = defender.t_s
    looked_at = in_window(t_s, from_s, to_s) & (t_s >= t_s[here.frame[0]])
    between = there.xy_m - here.xy_m
    apart_m = np.linalg.norm(between, axis=1)
    with np.errstate(invalid="ignore"):  # two in one place have no direction, and are in reach
        by_scale_m = np.nan_to_num(ground.relative_sd(here.xy_m, between) * apart_m)
    sd_m = np.sqrt(here.sd_m**2 + there.sd_m**2 + by_scale_m**2)
    least_m = apart_m - SURELY_SDS * sd_m - here.may_have_gone_m - there.may_have_gone_m
    if not looked_at.any() or np.any(least_m[looked_at] <= reach_m):
        return None
    return OutOfReach(float(apart_m[looked_at].min()), reach_m)


@dataclass(frozen=True)
class _Held:
    """A player in every frame: while he is not seen, as he was when last or next seen.

    Attributes:
        frame: ``(n,)`` in which he was seen so; the first is that of his first sighting.
        xy_m: ``(n, 2)``.
        sd_m: ``(n,)`` standard deviation of his place then.
        may_have_gone_m: ``(n,)`` how far he may have gone since, or until then.
    """

    frame: IntArray
    xy_m: FloatArray
    sd_m: FloatArray
    may_have_gone_m: FloatArray


def _held(track: GroundTrack) -> _Held | None:
    """None for a player who is never seen."""
    seen = np.flatnonzero(np.isfinite(track.xy_m).all(axis=1) & np.isfinite(track.speed_mps))
    if not len(seen):
        return None
    after = np.searchsorted(seen, np.arange(len(track.t_s)))
    around = seen[np.clip(np.stack([after - 1, after]), 0, len(seen) - 1)]
    away_s = np.abs(track.t_s - track.t_s[around])
    frame = np.take_along_axis(around, np.argmin(away_s, axis=0)[None], axis=0)[0]
    gone_m = (track.speed_mps[frame] + DRIFT_MPS) * away_s.min(axis=0)
    return _Held(frame, track.xy_m[frame], track.sd_m[frame], gone_m)
